//! Convex hull of circles: arcs and straight edges, and how deep the circles lie behind the edges.

use core::f64::consts::PI;

/// A circle: centre and radius (m).
pub(crate) type Disc = [f64; 3];

/// A straight edge, run through with the inside to the left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Edge {
    /// Circles at its ends.
    pub(crate) circles: [u32; 2],
    /// Where it starts.
    pub(crate) from: [f64; 2],
    /// Its direction, of length 1.
    pub(crate) along: [f64; 2],
    /// Its length.
    pub(crate) length: f64,
}

/// A convex hull.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Hull {
    /// Length of the hull that lies on each circle.
    pub(crate) arcs: Vec<f64>,
    /// Straight edges in their order.
    pub(crate) edges: Vec<Edge>,
    /// Its whole length.
    pub(crate) perimeter: f64,
}

/// Hull of circles, by the direction in which each reaches furthest: the outward normal turns once round, and another circle takes over
/// where it begins to reach as far.
pub(crate) fn hull(discs: &[Disc]) -> Hull {
    let mut arcs = vec![0.0; discs.len()];
    let mut edges = Vec::new();
    let reach = |i: usize, angle: f64| discs[i][0] * angle.cos() + discs[i][1] * angle.sin() + discs[i][2];
    let Some(start) = (0..discs.len()).reduce(|best, i| if reach(i, 0.0) > reach(best, 0.0) { i } else { best }) else {
        return Hull { arcs, edges, perimeter: 0.0 };
    };
    let (mut at, mut angle) = (start, 0.0);
    // Each turn ends one arc; rounding could only add turns of no length, which the bound ends.
    for _ in 0..4 * discs.len() {
        let mut next: Option<(f64, usize)> = None;
        for (j, disc) in discs.iter().enumerate() {
            let (x, y, less) = (disc[0] - discs[at][0], disc[1] - discs[at][1], discs[at][2] - disc[2]);
            let away = x.hypot(y);
            if j == at || away <= less.abs() {
                continue;
            }
            // j reaches as far where away · cos(angle − ψ) = less, and further beyond.
            let turn = (y.atan2(x) - (less / away).acos() - angle).rem_euclid(2.0 * PI);
            let turn = if turn > 2.0 * PI - 1e-9 { 0.0 } else { turn };
            let nearer = next.is_none_or(|(least, _)| turn < least);
            if nearer {
                next = Some((turn, j));
            }
        }
        let Some((turn, j)) = next.filter(|(turn, _)| angle + turn < 2.0 * PI) else { break };
        arcs[at] += discs[at][2] * turn;
        angle += turn;
        let (c, s) = (angle.cos(), angle.sin());
        let point = |i: usize| [discs[i][0] + discs[i][2] * c, discs[i][1] + discs[i][2] * s];
        let (from, to) = (point(at), point(j));
        let length = (to[0] - from[0]) * -s + (to[1] - from[1]) * c;
        if length > 0.0 {
            edges.push(Edge { circles: [at as u32, j as u32], from, along: [-s, c], length });
        }
        at = j;
    }
    arcs[at] += discs[at][2] * (2.0 * PI - angle);
    let perimeter = arcs.iter().sum::<f64>() + edges.iter().map(|edge| edge.length).sum::<f64>();
    Hull { arcs, edges, perimeter }
}

/// A piece of a line and what lies straight behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Behind {
    /// Which circle.
    pub(crate) circle: u32,
    /// Length of the piece.
    pub(crate) width: f64,
    /// Depth to the circle.
    pub(crate) depth: f64,
}

/// Circles behind each edge of their hull, in pieces of about `step`.
pub(crate) fn behind_edges(discs: &[Disc], hull: &Hull, step: f64) -> Vec<Behind> {
    let mut out = Vec::new();
    for edge in &hull.edges {
        let pieces = (edge.length / step).ceil().clamp(4.0, 200.0) as usize;
        let width = edge.length / pieces as f64;
        let mut nearest = vec![(f64::INFINITY, 0u32); pieces];
        for (i, disc) in discs.iter().enumerate() {
            let (x, y) = (disc[0] - edge.from[0], disc[1] - edge.from[1]);
            let (u, v) = (x * edge.along[0] + y * edge.along[1], -x * edge.along[1] + y * edge.along[0]);
            offer(&mut nearest, width, i, u - disc[2], u + disc[2], |at| {
                let half = (disc[2] * disc[2] - (at - u) * (at - u)).max(0.0).sqrt();
                v - half
            });
        }
        collect(&nearest, width, &mut out);
    }
    out
}

/// Circles behind the inside of a ring of `radius` about the origin, in pieces of about `step`.
pub(crate) fn behind_ring(discs: &[Disc], radius: f64, step: f64) -> Vec<Behind> {
    let around = 2.0 * PI * radius;
    let pieces = (around / step).ceil().clamp(64.0, 4000.0) as usize;
    let width = around / pieces as f64;
    let mut nearest = vec![(f64::INFINITY, 0u32); pieces];
    for (i, disc) in discs.iter().enumerate() {
        let (away, towards) = (disc[0].hypot(disc[1]), disc[1].atan2(disc[0]));
        let half = if away > disc[2] { (disc[2] / away).asin() } else { PI };
        // Both ways over the end of the ring.
        for shift in [-1.0, 0.0, 1.0] {
            let centre = towards.rem_euclid(2.0 * PI) + 2.0 * PI * shift;
            offer(&mut nearest, width, i, radius * (centre - half), radius * (centre + half), |at| {
                let (s, c) = (at / radius - centre).sin_cos();
                radius - (away * c + (disc[2] * disc[2] - away * away * s * s).max(0.0).sqrt())
            });
        }
    }
    let mut out = Vec::new();
    collect(&nearest, width, &mut out);
    out
}

/// Puts a circle before those that lie deeper, at the middles of the pieces from `low` to `high`.
fn offer(nearest: &mut [(f64, u32)], width: f64, circle: usize, low: f64, high: f64, depth: impl Fn(f64) -> f64) {
    let first = (low / width - 0.5).ceil().max(0.0) as usize;
    let last = (high / width - 0.5).floor();
    if last < 0.0 {
        return;
    }
    for (k, slot) in nearest.iter_mut().enumerate().take(last as usize + 1).skip(first) {
        let depth = depth((k as f64 + 0.5) * width).max(0.0);
        if depth < slot.0 {
            *slot = (depth, circle as u32);
        }
    }
}

fn collect(nearest: &[(f64, u32)], width: f64, out: &mut Vec<Behind>) {
    out.extend(nearest.iter().filter(|slot| slot.0.is_finite()).map(|&(depth, circle)| Behind { circle, width, depth }));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64) {
        assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
    }

    /// One circle, two, three in a row, seven: 2πr, 2πr + 4r, 2πr + 8r, 2πr + 12r (by hand).
    #[test]
    fn equal_circles() {
        let seven: Vec<Disc> = std::iter::once([0.0, 0.0, 1.0])
            .chain((0..6).map(|k| {
                let angle = PI / 3.0 * f64::from(k) + 0.1;
                [2.0 * angle.cos(), 2.0 * angle.sin(), 1.0]
            }))
            .collect();
        for (discs, straight) in [
            (vec![[3.0, -2.0, 1.0]], 0.0),
            (vec![[0.0, 0.0, 1.0], [1.2, 1.6, 1.0]], 4.0),
            (vec![[0.0, 0.0, 1.0], [2.0, 0.0, 1.0], [4.0, 0.0, 1.0]], 8.0),
            (seven, 12.0),
        ] {
            let hull = hull(&discs);
            near(hull.perimeter, 2.0 * PI + straight);
            near(hull.arcs.iter().sum::<f64>(), 2.0 * PI);
        }
    }

    /// A wheel and a small one beside it: the belt around radii 3 and 1 at distance 5 (by hand: 2√(25 − 4), angles acos(2/5)); one inside another.
    #[test]
    fn unlike_circles() {
        let belt = hull(&[[0.0, 0.0, 3.0], [5.0, 0.0, 1.0]]);
        let angle = (2.0f64 / 5.0).acos();
        near(belt.arcs[1], 2.0 * angle);
        near(belt.perimeter, 2.0 * 21f64.sqrt() + 2.0 * angle + 3.0 * (2.0 * PI - 2.0 * angle));
        near(hull(&[[0.0, 0.0, 3.0], [1.0, 0.0, 1.0]]).perimeter, 6.0 * PI);
    }

    /// Behind the edge of two touching circles of radius 1 the mean depth is 1 − π/4; a third that is small lies in front of neither.
    #[test]
    fn pockets() {
        let discs = [[0.0, 0.0, 1.0], [2.0, 0.0, 1.0], [1.0, -1.0, 0.2]];
        let found = behind_edges(&discs, &hull(&discs), 0.01);
        let mean = found.iter().map(|b| b.width * b.depth).sum::<f64>() / found.iter().map(|b| b.width).sum::<f64>();
        assert!(found.iter().any(|b| b.circle == 2), "the small one lies behind the lower edge");
        let upper = 1.0 - PI / 4.0;
        assert!(mean < upper && mean > 0.7 * upper, "{mean}");
        let only = behind_edges(&discs[..2], &hull(&discs[..2]), 0.01);
        let mean = only.iter().map(|b| b.width * b.depth).sum::<f64>() / 4.0;
        assert!((mean - upper).abs() < 1e-4, "{mean}");
    }

    /// Inside of a ring of radius 2: one circle of radius 1 in the middle leaves 1 all round; beside the middle what is left is 2 − the far side.
    #[test]
    fn ring() {
        let found = behind_ring(&[[0.0, 0.0, 1.0]], 2.0, 0.05);
        near(found.iter().map(|b| b.width).sum::<f64>(), 4.0 * PI);
        assert!(found.iter().all(|b| (b.depth - 1.0).abs() < 1e-12));
        let found = behind_ring(&[[1.0, 0.0, 1.0 - 1e-9]], 2.0, 0.01);
        let least = found.iter().map(|b| b.depth).fold(f64::INFINITY, f64::min);
        assert!(least < 1e-4, "{least}");
        assert!((found.iter().map(|b| b.width).sum::<f64>() / PI - 2.0).abs() < 0.01);
    }
}
