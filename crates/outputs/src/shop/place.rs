//! Finds room for boxes of text on a drawing: no box on a line, a circle or another box, near to what it is of.

use super::drawing::Point;
use std::collections::HashMap;

/// Side of a cell of the look-up.
const CELL: f64 = 60.0;
/// Clear space around a box.
const GAP: f64 = 1.0;

/// Lines and boxes so far.
#[derive(Default)]
pub(crate) struct Room {
    lines: Vec<(Point, Point, f64)>,
    boxes: Vec<(Point, Point)>,
    lines_in: HashMap<(i64, i64), Vec<usize>>,
    boxes_in: HashMap<(i64, i64), Vec<usize>>,
}

/// Where a box went, and the line that leads to it.
pub(crate) struct Placed {
    pub(crate) low: Point,
    pub(crate) leader: Option<(Point, Point)>,
}

fn cells(low: Point, high: Point) -> impl Iterator<Item = (i64, i64)> {
    let of = |v: f64| (v / CELL).floor() as i64;
    let (x, y) = (of(low.0)..=of(high.0), of(low.1)..=of(high.1));
    x.flat_map(move |x| y.clone().map(move |y| (x, y)))
}

impl Room {
    /// Keeps clear of a line by half of its width.
    pub(crate) fn add_line(&mut self, a: Point, b: Point, width: f64) {
        self.lines.push((a, b, 0.5 * width));
        let at = self.lines.len() - 1;
        // Along the line, so that a long oblique one is not in every cell of its rectangle.
        let steps = ((b.0 - a.0).hypot(b.1 - a.1) / (0.5 * CELL)).ceil().max(1.0) as usize;
        for k in 0..=steps {
            let t = k as f64 / steps as f64;
            let p = (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
            let r = 0.5 * CELL + width;
            for cell in cells((p.0 - r, p.1 - r), (p.0 + r, p.1 + r)) {
                let list = self.lines_in.entry(cell).or_default();
                if list.last() != Some(&at) {
                    list.push(at);
                }
            }
        }
    }

    pub(crate) fn add_box(&mut self, low: Point, high: Point) {
        self.boxes.push((low, high));
        for cell in cells(low, high) {
            self.boxes_in.entry(cell).or_default().push(self.boxes.len() - 1);
        }
    }

    fn is_free(&self, low: Point, high: Point) -> bool {
        let (l, h) = ((low.0 - GAP, low.1 - GAP), (high.0 + GAP, high.1 + GAP));
        cells(l, h).all(|cell| {
            let boxes = self.boxes_in.get(&cell).map_or(&[][..], Vec::as_slice);
            let lines = self.lines_in.get(&cell).map_or(&[][..], Vec::as_slice);
            boxes.iter().all(|&at| !meet((l, h), self.boxes[at]))
                && lines.iter().all(|&at| {
                    let (a, b, half) = self.lines[at];
                    !crosses_box(a, b, (l.0 - half, l.1 - half), (h.0 + half, h.1 + half))
                })
        })
    }

    /// Whether a leader crosses no box, and how many lines it crosses away from where it begins.
    fn leads(&self, from: Point, to: Point) -> Option<usize> {
        let low = (from.0.min(to.0), from.1.min(to.1));
        let high = (from.0.max(to.0), from.1.max(to.1));
        let mut crossed = 0;
        let mut seen: Vec<usize> = Vec::new();
        for cell in cells(low, high) {
            let own = |at: usize| meet((from, from), self.boxes[at]);
            let boxes = self.boxes_in.get(&cell).into_iter().flatten();
            if boxes.copied().any(|at| !own(at) && crosses_box(from, to, self.boxes[at].0, self.boxes[at].1)) {
                return None;
            }
            for &at in self.lines_in.get(&cell).into_iter().flatten() {
                let (a, b, _) = self.lines[at];
                if !seen.contains(&at) && cross(from, to, a, b) {
                    seen.push(at);
                    crossed += 1;
                }
            }
        }
        Some(crossed)
    }

    /// Puts a box of a size near a point: on the nearest ring around it on which one fits, with a leader where it lies apart. Rings grow until one does,
    /// so there always is one; farther on leaders may cross lines, and very far out another box.
    pub(crate) fn place(&mut self, near: Point, size: (f64, f64)) -> Placed {
        const TURNS: usize = 24;
        let mut ring: f64 = 3.0;
        loop {
            let mut best: Option<(usize, Point, Point)> = None;
            for turn in 0..TURNS {
                let angle = (turn as f64 + 0.5) / TURNS as f64 * std::f64::consts::TAU;
                let at = (near.0 + ring * angle.cos(), near.1 + ring * angle.sin());
                // The box lies outside of the ring: its corner or side nearest to the point is on it.
                let low = (
                    at.0 - size.0 * (0.5 - 0.5 * angle.cos().clamp(-1.0, 1.0)),
                    at.1 - size.1 * (0.5 - 0.5 * angle.sin().clamp(-1.0, 1.0)),
                );
                let high = (low.0 + size.0, low.1 + size.1);
                if !self.is_free(low, high) {
                    continue;
                }
                let end = (near.0.clamp(low.0, high.0), near.1.clamp(low.1, high.1));
                // A point that is shut in by boxes all around has to be led out over one of them in the end.
                let shut_in = (ring > 2000.0).then_some(usize::MAX);
                let Some(crossed) = self.leads(near, end).or(shut_in) else { continue };
                if best.is_none_or(|(least, ..)| crossed < least) {
                    best = Some((crossed, low, end));
                }
            }
            // Near by no leader crosses anything; it has to be allowed when nothing else is left.
            let allowed = if ring < 400.0 { 0 } else { usize::MAX };
            if let Some((_, low, end)) = best.filter(|(crossed, ..)| *crossed <= allowed) {
                self.add_box(low, (low.0 + size.0, low.1 + size.1));
                let apart = (end.0 - near.0).hypot(end.1 - near.1);
                let leader = (apart > 4.0).then_some((near, end));
                if let Some((a, b)) = leader {
                    self.add_line(a, b, 0.2);
                }
                return Placed { low, leader };
            }
            ring *= 1.15;
        }
    }
}

fn meet(a: (Point, Point), b: (Point, Point)) -> bool {
    a.0.0 < b.1.0 && b.0.0 < a.1.0 && a.0.1 < b.1.1 && b.0.1 < a.1.1
}

/// Whether two lines cross inside of both.
fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, r: Point| (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0);
    let (s1, s2, s3, s4) = (side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b));
    const LEAST: f64 = 1e-6;
    s1 * s2 < -LEAST && s3 * s4 < -LEAST
}

/// Whether a line passes through the inside of a box (Liang and Barsky's clipping).
fn crosses_box(a: Point, b: Point, low: Point, high: Point) -> bool {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (p, q) in [(-dx, a.0 - low.0), (dx, high.0 - a.0), (-dy, a.1 - low.1), (dy, high.1 - a.1)] {
        if p.abs() < 1e-12 {
            if q <= 1e-9 {
                return false;
            }
        } else if p < 0.0 {
            from = from.max(q / p);
        } else {
            to = to.min(q / p);
        }
    }
    to - from > 1e-9
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_find_room() {
        let mut room = Room::default();
        room.add_line((-100.0, 0.0), (100.0, 0.0), 10.0);
        let mut placed: Vec<(Point, Point)> = Vec::new();
        for _ in 0..40 {
            let found = room.place((0.0, 0.0), (30.0, 6.0));
            let own = (found.low, (found.low.0 + 30.0, found.low.1 + 6.0));
            assert!(placed.iter().all(|other| !meet(own, *other)), "{own:?}");
            assert!(!crosses_box((-100.0, 0.0), (100.0, 0.0), own.0, own.1));
            placed.push(own);
        }
    }

    #[test]
    fn lines_and_boxes() {
        assert!(crosses_box((0.0, 0.0), (10.0, 10.0), (4.0, 4.0), (6.0, 6.0)));
        assert!(!crosses_box((0.0, 0.0), (10.0, 0.0), (4.0, 0.0), (6.0, 6.0)));
        assert!(cross((0.0, 0.0), (2.0, 2.0), (0.0, 2.0), (2.0, 0.0)));
        assert!(!cross((0.0, 0.0), (2.0, 2.0), (2.0, 2.0), (4.0, 0.0)));
    }
}
