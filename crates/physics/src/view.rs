//! How the jackets of a section see each other and the outside: lengths of exchange between arcs, and what of it survives reflection.
//!
//! Parallel lines are laid over the section in many directions. Where a line leaves one circle and meets the next, the two arcs see each other
//! along it, and the share of lines is the exchange length A F of radiation (Cauchy and Crofton: lines that meet a convex body measure its
//! perimeter). Symmetric by its nature; afterwards scaled so that each circle has its own circumference and the outside the perimeter of the
//! hull, less what passes between the circles.

use crate::hull::{Disc, Hull};
use core::f64::consts::PI;

/// Directions of lines over a half turn.
const DIRECTIONS: usize = 36;
/// Lines across the mean circle in each direction.
const LINES: f64 = 12.0;
/// Two circles split each other's circumference where the gap is at most this share of the smaller radius.
const NEAR: f64 = 0.3;
/// Widest arc (rad).
const WIDEST: f64 = PI / 6.0 + 1e-9;
/// Arcs that see each other by at least this share belong to one void.
const SAME_VOID: f64 = 0.12;
/// Arcs of one void; larger ones are cut, where exchange is then as between two plates.
const MOST_ARCS: usize = 32;

/// A stretch of a jacket: on the hull, or between two neighbours.
#[derive(Clone, Debug, PartialEq)]
struct Arc {
    circle: u32,
    /// Exchange length with other arcs, by rising arc.
    sees: Vec<(u32, f64)>,
    /// Exchange length with the outside.
    outside: f64,
}

/// What sees what: geometry alone.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Views {
    circles: usize,
    arcs: Vec<Arc>,
    /// Arcs of each void.
    voids: Vec<Vec<u32>>,
    /// Which void each arc belongs to.
    void_of: Vec<u32>,
}

/// Grey exchange of a section: heat per length is `length` × (σ Tᵢ⁴ − σ Tⱼ⁴).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Exchange {
    /// Circle, later circle, length.
    pub(crate) between: Vec<(u32, u32, f64)>,
    /// Length to the outside, by circle.
    pub(crate) outside: Vec<f64>,
}

impl Views {
    /// Views of a section with its hull.
    pub(crate) fn new(discs: &[Disc], hull: &Hull) -> Views {
        let n = discs.len();
        if n == 0 {
            return Views { circles: 0, arcs: Vec::new(), voids: Vec::new(), void_of: Vec::new() };
        }
        let bounds = bounds(discs, hull);
        let first: Vec<u32> = std::iter::once(0)
            .chain(bounds.iter().scan(0u32, |sum, of| {
                *sum += of.len().max(1) as u32;
                Some(*sum)
            }))
            .collect();
        let mut arcs: Vec<Arc> = Vec::new();
        for (circle, of) in bounds.iter().enumerate() {
            arcs.extend((0..of.len().max(1)).map(|_| Arc { circle: circle as u32, sees: Vec::new(), outside: 0.0 }));
        }
        let spacing = discs.iter().map(|d| 2.0 * d[2]).sum::<f64>() / (LINES * n as f64);
        let weight = 0.5 * spacing * PI / DIRECTIONS as f64;
        let mut along: Vec<(f64, u32)> = Vec::with_capacity(n);
        let mut last: Vec<u32> = Vec::new();
        let mut passing = 0.0;
        for direction in 0..DIRECTIONS {
            // Both fractions are irrational steps, so that no direction or line falls on a symmetry of the section.
            let (s, c) = (PI * (direction as f64 + 0.381_966) / DIRECTIONS as f64).sin_cos();
            let shift = (direction as f64 * 0.618_034).fract();
            along.clear();
            along.extend(discs.iter().enumerate().map(|(i, d)| (c * d[0] + s * d[1], i as u32)));
            along.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let across = |d: &Disc| c * d[1] - s * d[0];
            let low = discs.iter().map(|d| across(d) - d[2]).fold(f64::INFINITY, f64::min);
            let high = discs.iter().map(|d| across(d) + d[2]).fold(f64::NEG_INFINITY, f64::max);
            last.clear();
            last.resize(((high - low) / spacing).ceil().max(0.0) as usize + 1, u32::MAX);
            for &(_, circle) in &along {
                let disc = &discs[circle as usize];
                let middle = across(disc);
                let from = ((middle - disc[2] - low) / spacing - shift).ceil().max(0.0) as usize;
                let own = first[circle as usize];
                let mut chord = Chord::new(&bounds[circle as usize], [c, s]);
                for (line, before) in last.iter_mut().enumerate().skip(from) {
                    let off = low + (line as f64 + shift) * spacing - middle;
                    if off >= disc[2] {
                        break;
                    }
                    chord.move_to(off / disc[2]);
                    let entry = own + chord.enters as u32;
                    if *before == u32::MAX {
                        arcs[entry as usize].outside += weight;
                    } else {
                        see(&mut arcs, (*before).min(entry), (*before).max(entry), weight);
                    }
                    *before = own + chord.leaves as u32;
                }
            }
            for (line, &arc) in last.iter().enumerate() {
                match arcs.get_mut(arc as usize) {
                    Some(arc) => arc.outside += weight,
                    None if low + (line as f64 + shift) * spacing < high => passing += 2.0 * weight,
                    None => {}
                }
            }
        }
        // So far each pair is with its earlier arc.
        for a in 0..arcs.len() {
            for at in 0..arcs[a].sees.len() {
                let (b, length) = arcs[a].sees[at];
                if b as usize > a {
                    arcs[b as usize].sees.push((a as u32, length));
                }
            }
        }
        for arc in &mut arcs {
            arc.sees.sort_unstable_by_key(|(other, _)| *other);
        }
        scale(&mut arcs, discs, hull.perimeter - passing);
        let (voids, void_of) = voids(&arcs);
        Views { circles: n, arcs, voids, void_of }
    }

    /// Length with which each circle sees the outside.
    pub(crate) fn exposed(&self) -> Vec<f64> {
        let mut exposed = vec![0.0; self.circles];
        for arc in &self.arcs {
            exposed[arc.circle as usize] += arc.outside;
        }
        exposed
    }

    /// Circles that see each other, the earlier first, in order.
    pub(crate) fn seeing(&self) -> Vec<(u32, u32)> {
        let pairs = |arc: &Arc| arc.sees.iter().map(|(other, _)| (arc.circle, self.arcs[*other as usize].circle)).collect::<Vec<_>>();
        let mut out: Vec<(u32, u32)> = self.arcs.iter().flat_map(pairs).filter(|(a, b)| a < b).collect();
        out.sort_unstable();
        out.dedup();
        out
    }

    /// Exchange with an emittance for each circle: `open` for arcs that see the outside, `hidden` for others.
    ///
    /// Within a void reflections are followed without end; between voids, which see each other through gaps alone, exchange is as between two plates,
    /// A F/(1/ε₁ + 1/ε₂ − 1). The outside is black.
    pub(crate) fn exchange(&self, open: &[f64], hidden: &[f64]) -> Exchange {
        let mut near: Vec<Vec<(u32, f64)>> = vec![Vec::new(); self.circles];
        let mut outside = vec![0.0; self.circles];
        let emittance = |arc: &Arc| if arc.outside > 0.0 { open[arc.circle as usize] } else { hidden[arc.circle as usize] };
        let mut put = |a: u32, b: u32, length: f64| {
            if a != b && length > 0.0 {
                let (low, high) = (a.min(b), a.max(b));
                match near[low as usize].iter_mut().find(|(other, _)| *other == high) {
                    Some((_, sum)) => *sum += length,
                    None => near[low as usize].push((high, length)),
                }
            }
        };
        for (a, arc) in self.arcs.iter().enumerate() {
            for &(b, length) in arc.sees.iter().filter(|(b, _)| (*b as usize) > a && self.void_of[*b as usize] != self.void_of[a]) {
                let (one, other) = (emittance(arc), emittance(&self.arcs[b as usize]));
                if one > 0.0 && other > 0.0 {
                    put(arc.circle, self.arcs[b as usize].circle, length / (1.0 / one + 1.0 / other - 1.0));
                }
            }
        }
        for void in &self.voids {
            let m = void.len();
            let emits: Vec<f64> = void.iter().map(|arc| emittance(&self.arcs[*arc as usize])).collect();
            // Radiosity: A J − ρ Σ K J = ε A E + ρ K₀ E₀, with A all that the arc sees within the void and outside.
            let mut sees = vec![0.0; m * m];
            for (i, arc) in void.iter().enumerate() {
                for &(other, length) in &self.arcs[*arc as usize].sees {
                    if let Some(j) = void.iter().position(|at| *at == other) {
                        sees[i * m + j] = length;
                    }
                }
            }
            let out: Vec<f64> = void.iter().map(|arc| self.arcs[*arc as usize].outside).collect();
            let area: Vec<f64> = (0..m).map(|i| out[i] + sees[i * m..][..m].iter().sum::<f64>()).collect();
            let width = 2 * m + 1;
            let mut rows = vec![0.0; m * width];
            for i in 0..m {
                for j in 0..m {
                    rows[i * width + j] = -(1.0 - emits[i]) * sees[i * m + j];
                }
                rows[i * width + i] += area[i];
                rows[i * width + m + i] = emits[i] * area[i];
                rows[i * width + 2 * m] = (1.0 - emits[i]) * out[i];
            }
            eliminate(&mut rows, m);
            for i in 0..m {
                let absorbed = |column: usize| emits[i] * (0..m).map(|k| sees[i * m + k] * rows[k * width + column]).sum::<f64>();
                let circle = self.arcs[void[i] as usize].circle;
                for (j, other) in void.iter().enumerate() {
                    // Each pair comes twice, as i, j and j, i: half of each.
                    put(circle, self.arcs[*other as usize].circle, 0.5 * absorbed(m + j));
                }
                outside[circle as usize] += emits[i] * out[i] + absorbed(2 * m);
            }
        }
        let mut between = Vec::new();
        for (a, mut others) in near.into_iter().enumerate() {
            others.sort_unstable_by_key(|(b, _)| *b);
            between.extend(others.into_iter().map(|(b, length)| (a as u32, b, length)));
        }
        Exchange { between, outside }
    }
}

/// Solves rows of m unknowns, each row with its right-hand sides behind: the unknowns take the place of those. An arc that sees nothing is left
/// at zero.
fn eliminate(rows: &mut [f64], m: usize) {
    let width = 2 * m + 1;
    for i in 0..m {
        let pivot = rows[i * width + i];
        if pivot <= 0.0 {
            rows[i * width..(i + 1) * width].fill(0.0);
            continue;
        }
        for value in &mut rows[i * width..(i + 1) * width] {
            *value /= pivot;
        }
        let done = rows[i * width..(i + 1) * width].to_vec();
        for (k, row) in rows.chunks_exact_mut(width).enumerate() {
            let share = row[i];
            if k != i && share != 0.0 {
                for (value, other) in row.iter_mut().zip(&done) {
                    *value -= share * other;
                }
            }
        }
    }
}

/// Where an arc of a circle begins.
#[derive(Clone, Copy)]
struct Bound {
    /// The measure of its direction; the bounds of a circle rise by it.
    turn: f64,
    /// Its direction from the middle.
    x: f64,
    y: f64,
}

/// The arcs by which lines of one direction enter and leave a circle; one arc without bounds.
///
/// Seen along the lines, one that is further to the left enters by an arc that lies further back along the circumference, and leaves by one further on:
/// both ends walk from the right of the circle to its left, past bounds that show where they stand without any angle. A circle with bounds has a dozen of
/// them ([`WIDEST`]), so that either walk soon comes to one on the other side, and ends.
struct Chord<'b> {
    bounds: &'b [Bound],
    along: [f64; 2],
    enters: usize,
    leaves: usize,
    /// How far to the left of the middle, in radii, lines enter or leave by the next arc.
    enters_until: f64,
    leaves_until: f64,
}

impl Chord<'_> {
    /// The line that touches the circle on its right.
    fn new(bounds: &[Bound], along: [f64; 2]) -> Chord<'_> {
        let first = arc_at(bounds, along[1], -along[0]);
        let mut chord = Chord { bounds, along, enters: first, leaves: first, enters_until: f64::INFINITY, leaves_until: f64::INFINITY };
        chord.look_back();
        chord.look_on();
        chord
    }

    /// A line further to the left, by its distance from the middle in radii.
    fn move_to(&mut self, off: f64) {
        while off > self.enters_until {
            self.enters = self.enters.checked_sub(1).unwrap_or(self.bounds.len() - 1);
            self.look_back();
        }
        while off >= self.leaves_until {
            self.leaves = if self.leaves + 1 < self.bounds.len() { self.leaves + 1 } else { 0 };
            self.look_on();
        }
    }

    /// Where the present arc of entry begins, if that is on the side where lines enter.
    fn look_back(&mut self) {
        let bound = self.bounds.get(self.enters);
        self.enters_until = bound.map(|bound| self.seen(bound)).filter(|seen| seen[0] <= 0.0).map_or(f64::INFINITY, |seen| seen[1]);
    }

    /// Where the arc after the present one begins, if that is on the side where lines leave.
    fn look_on(&mut self) {
        let bound = self.bounds.get(self.leaves + 1).or(self.bounds.first());
        self.leaves_until = bound.map(|bound| self.seen(bound)).filter(|seen| seen[0] > 0.0).map_or(f64::INFINITY, |seen| seen[1]);
    }

    /// How far along the lines, and to their left, a bound lies of the middle, in radii.
    fn seen(&self, bound: &Bound) -> [f64; 2] {
        let [c, s] = self.along;
        [c * bound.x + s * bound.y, c * bound.y - s * bound.x]
    }
}

/// The arc that a direction from the middle falls on; the last goes over the end of the half turns.
fn arc_at(bounds: &[Bound], x: f64, y: f64) -> usize {
    let at = turn(x, y);
    let after = bounds.partition_point(|bound| bound.turn <= at);
    after.checked_sub(1).unwrap_or(bounds.len().saturating_sub(1))
}

/// A measure of direction that grows with the angle, from −2 to 2.
fn turn(x: f64, y: f64) -> f64 {
    let p = x / (x.abs() + y.abs());
    if y < 0.0 { p - 1.0 } else { 1.0 - p }
}

/// Directions in which the circumference of each circle is split, rising: those of near neighbours, those where the hull leaves it, and between
/// them so many that no arc is wider than [`WIDEST`]: what lies deep in a void gets less light than its mouth.
fn bounds(discs: &[Disc], hull: &Hull) -> Vec<Vec<Bound>> {
    let mut out: Vec<Vec<f64>> = vec![Vec::new(); discs.len()];
    for edge in &hull.edges {
        for circle in edge.circles {
            out[circle as usize].push((-edge.along[0]).atan2(edge.along[1]));
        }
    }
    for (i, a) in discs.iter().enumerate() {
        for (j, b) in discs.iter().enumerate().skip(i + 1) {
            let (x, y) = (b[0] - a[0], b[1] - a[1]);
            let near = a[2] + b[2] + NEAR * a[2].min(b[2]);
            if x * x + y * y <= near * near {
                out[i].push(y.atan2(x));
                out[j].push((-y).atan2(-x));
            }
        }
    }
    out.into_iter().map(arcs_between).collect()
}

/// The directions in which neighbours split a circumference, with those that split what is still too wide.
fn arcs_between(mut of: Vec<f64>) -> Vec<Bound> {
    of.sort_unstable_by(f64::total_cmp);
    of.dedup_by(|a, b| *a - *b < 1e-6);
    let Some(first) = of.first().copied() else { return Vec::new() };
    let mut all = Vec::with_capacity(4 * of.len() + 12);
    for (k, &from) in of.iter().enumerate() {
        let to = of.get(k + 1).copied().unwrap_or(first + 2.0 * PI);
        let pieces = ((to - from) / WIDEST).ceil().max(1.0);
        all.extend((0..pieces as usize).map(|piece| {
            let (y, x) = (from + (to - from) * piece as f64 / pieces).sin_cos();
            Bound { turn: turn(x, y), x, y }
        }));
    }
    all.sort_unstable_by(|a, b| a.turn.total_cmp(&b.turn));
    all
}

fn see(arcs: &mut [Arc], a: u32, b: u32, weight: f64) {
    let sees = &mut arcs[a as usize].sees;
    match sees.iter_mut().find(|(at, _)| *at == b) {
        Some((_, sum)) => *sum += weight,
        None => sees.push((b, weight)),
    }
}

/// Scales both sides of each exchange alike until each circle's sum is its circumference and that of the outside is `open`.
fn scale(arcs: &mut [Arc], discs: &[Disc], open: f64) {
    let n = discs.len();
    // Of circles, which is all that the sums need: other circle (n: the outside), length.
    let circle: Vec<usize> = arcs.iter().map(|arc| arc.circle as usize).collect();
    let mut with: Vec<Vec<(usize, f64)>> = vec![Vec::new(); n];
    for arc in arcs.iter() {
        let own = &mut with[arc.circle as usize];
        let mut add = |other: usize, length: f64| match own.iter_mut().find(|(at, _)| *at == other) {
            Some((_, sum)) => *sum += length,
            None => own.push((other, length)),
        };
        arc.sees.iter().for_each(|(other, length)| add(circle[*other as usize], *length));
        add(n, arc.outside);
    }
    let mut factor = vec![1.0f64; n + 1];
    for _ in 0..200 {
        let (mut most, mut out) = (0.0f64, 0.0);
        let before = factor.clone();
        for (i, (with, disc)) in with.iter().zip(discs).enumerate() {
            let mut sum = 0.0;
            for (other, length) in with {
                let scaled = before[i] * before[*other] * length;
                sum += scaled;
                out += if *other == n { scaled } else { 0.0 };
            }
            let whole = 2.0 * PI * disc[2];
            most = most.max((sum / whole - 1.0).abs());
            if sum > 0.0 {
                factor[i] *= (whole / sum).sqrt();
            }
        }
        if out > 0.0 {
            factor[n] *= (open / out).sqrt();
        }
        if most < 1e-8 && (out / open - 1.0).abs() < 1e-8 {
            break;
        }
    }
    for arc in arcs.iter_mut() {
        let own = factor[arc.circle as usize];
        for (other, length) in &mut arc.sees {
            *length *= own * factor[circle[*other as usize]];
        }
        arc.outside *= own * factor[n];
    }
}

/// Arcs grouped by what they see.
fn voids(arcs: &[Arc]) -> (Vec<Vec<u32>>, Vec<u32>) {
    let whole: Vec<f64> = arcs.iter().map(|arc| arc.outside + arc.sees.iter().map(|(_, length)| length).sum::<f64>()).collect();
    let mut void_of: Vec<u32> = (0..arcs.len() as u32).collect();
    let mut voids: Vec<Vec<u32>> = void_of.iter().map(|arc| vec![*arc]).collect();
    for (a, arc) in arcs.iter().enumerate() {
        for &(b, length) in &arc.sees {
            let (one, other) = (void_of[a] as usize, void_of[b as usize] as usize);
            let together = length >= SAME_VOID * whole[a].min(whole[b as usize]);
            if one != other && together && voids[one].len() + voids[other].len() <= MOST_ARCS {
                let (keep, gone) = (one.min(other), one.max(other));
                let moved = std::mem::take(&mut voids[gone]);
                for arc in &moved {
                    void_of[*arc as usize] = keep as u32;
                }
                voids[keep].extend(moved);
            }
        }
    }
    voids.iter_mut().for_each(|void| void.sort_unstable());
    voids.retain(|void| !void.is_empty());
    for (at, void) in voids.iter().enumerate() {
        for arc in void {
            void_of[*arc as usize] = at as u32;
        }
    }
    (voids, void_of)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hull::hull;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    fn views(discs: &[Disc]) -> Views {
        Views::new(discs, &hull(discs))
    }

    fn seven() -> Vec<Disc> {
        std::iter::once([0.0, 0.0, 1.0])
            .chain((0..6).map(|k| {
                let angle = PI / 3.0 * f64::from(k);
                [2.0 * angle.cos(), 2.0 * angle.sin(), 1.0]
            }))
            .collect()
    }

    /// Two parallel cylinders: A F = 2r [√(X² − 1) + asin(1/X) − X] with X = 1 + gap/(2r) (crossed strings; catalogue of view factors, from memory).
    #[test]
    fn two_cylinders() {
        for gap in [0.0, 0.5, 2.0] {
            let x = 1.0 + gap / 2.0;
            let length = 2.0 * ((x * x - 1.0f64).sqrt() + (1.0f64 / x).asin() - x);
            let exchange = views(&[[0.0, 0.0, 1.0], [2.0 + gap, 0.0, 1.0]]).exchange(&[1.0; 2], &[1.0; 2]);
            near(exchange.between[0].2, length, 0.04);
            near(exchange.outside[0], 2.0 * PI - length, 0.01);
            if gap == 0.0 {
                near(exchange.outside[0] + exchange.outside[1], 2.0 * PI + 4.0, 1e-6);
            }
        }
    }

    /// Three touching arcs of π/3 close a void: each sees each other one by half. Seven circles: the middle one sees six by π/3 each.
    #[test]
    fn closed_voids() {
        let exchange = views(&seven()).exchange(&[1.0; 7], &[1.0; 7]);
        assert_eq!(exchange.outside[0], 0.0);
        for (a, b, length) in &exchange.between {
            if *a == 0 {
                near(*length, PI / 3.0, 0.04);
            }
            assert!(*a < *b);
        }
        let of_the_middle: f64 = exchange.between.iter().filter(|(a, ..)| *a == 0).map(|(.., length)| length).sum();
        near(of_the_middle, 2.0 * PI, 1e-6);
        near(exchange.outside.iter().sum::<f64>(), 2.0 * PI + 12.0, 1e-6);
    }

    /// A grey void of three equal arcs, one against two: 1/[(1 − ε)/(ε A) + 1/A + (1 − ε)/(2 ε A)] by hand if each arc were lit evenly, and a little
    /// less because what lies deep is lit less. Six voids round the middle.
    #[test]
    fn grey_voids() {
        for grey in [0.9, 0.5, 0.05] {
            let exchange = views(&seven()).exchange(&[grey; 7], &[grey; 7]);
            let of_the_middle: f64 = exchange.between.iter().filter(|(a, ..)| *a == 0).map(|(.., length)| length).sum();
            let surface = (1.0 - grey) / grey;
            // The outer arcs of a void belong to circles of which each sees two voids.
            let even = 2.0 * PI / (surface + 1.0 + 0.5 * surface);
            assert!(of_the_middle < even && of_the_middle > 0.95 * even, "{of_the_middle} of {even}");
        }
    }

    /// Line by line both ends are on the arcs that are found among all by the points where the line meets the circle.
    #[test]
    fn arcs_along_the_circumference() {
        for of in [vec![-2.9, -1.2, -0.3, 0.4, 0.41, 1.1, 3.0], vec![0.7], vec![PI, 0.5 * PI, 0.0, -0.5 * PI], Vec::new()] {
            let bounds = arcs_between(of);
            for direction in 0..180 {
                let (s, c) = (f64::from(direction) * PI / 90.0 + 1e-3).sin_cos();
                let mut chord = Chord::new(&bounds, [c, s]);
                for line in 0..40 {
                    let off = (f64::from(line) + 0.37) / 20.0 - 1.0;
                    let half = (1.0 - off * off).sqrt();
                    chord.move_to(off);
                    let meets = [-half, half].map(|along| arc_at(&bounds, along * c - off * s, along * s + off * c));
                    assert_eq!([chord.enters, chord.leaves], meets, "{direction} {line}");
                }
            }
        }
    }

    /// One circle: its circumference times its emittance; nothing between.
    #[test]
    fn one_circle() {
        let exchange = views(&[[5.0, 1.0, 2.0]]).exchange(&[0.8], &[0.8]);
        assert!(exchange.between.is_empty());
        near(exchange.outside[0], 0.8 * 4.0 * PI, 1e-6);
    }

    /// Two grey circles far apart in black surroundings: nearly ε times black; touching, each loses less than ε 2π r and more than ε times what it sees.
    #[test]
    fn grey_in_the_open() {
        let far = views(&[[0.0, 0.0, 1.0], [60.0, 0.0, 1.0]]).exchange(&[0.5; 2], &[0.5; 2]);
        near(far.outside[0], PI, 0.02);
        let close = views(&[[0.0, 0.0, 1.0], [2.0, 0.0, 1.0]]).exchange(&[0.5; 2], &[0.5; 2]);
        let black = views(&[[0.0, 0.0, 1.0], [2.0, 0.0, 1.0]]).exchange(&[1.0; 2], &[1.0; 2]);
        assert!(close.outside[0] > 0.5 * black.outside[0] && close.outside[0] < PI);
    }

    #[test]
    fn no_emittance_no_exchange() {
        let exchange = views(&seven()).exchange(&[0.0; 7], &[0.0; 7]);
        assert!(exchange.between.is_empty() && exchange.outside.iter().all(|length| *length == 0.0));
    }
}
