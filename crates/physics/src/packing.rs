//! Packing of unlike circles in a circle: the cross-section of a bundle. One set of places serves heat, coupling and drawings.
//!
//! ```text
//! sort by size ─ a start ─ press together ─ draw apart until nothing overlaps ─ smallest outline ─ keep the tightest
//! ```
//!
//! The first start is a heap (largest first, each at the free tangent place nearest to the middle); for few circles a ring and some
//! scattered places follow. Pressing minimises the outline's radius plus a growing penalty on overlaps. No step knows the order of the
//! input: circles are sorted by diameter first and equal ones are interchangeable.

use crate::{Metre, Ratio};
use core::cmp::Ordering;
use core::f64::consts::PI;

/// Where one circle lies, from the centre of the outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// To the right.
    pub x: Metre,
    /// Upwards.
    pub y: Metre,
}

/// A packed cross-section.
#[derive(Clone, Debug, PartialEq)]
pub struct Packing {
    /// Centre of each circle, in the order of the input.
    pub places: Vec<Place>,
    /// Diameter of the smallest circle around them all.
    pub outline: Metre,
}

/// Why circles cannot be packed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NotACircle {
    /// Place in the input.
    pub index: usize,
    /// Its diameter: zero, negative or not a number.
    pub diameter: Metre,
}

/// Packs circles: no two overlap by more than 1e-9 of the largest diameter and all lie inside the outline.
///
/// The result depends on the set of diameters alone: another order of the input permutes `places` and changes no digit of them.
/// Among circles of equal diameter the earlier one of the input gets the place nearer to the centre. Real bundles have crossings and are
/// looser (see [`rule_of_thumb`](crate::bundle::rule_of_thumb)).
///
/// # Units     `diameters` (m), finished outside diameters → places and outline (m)
/// # Validity  Round, rigid circles. A heuristic: the outline is an upper bound of the least possible one.
/// # Errors    [`NotACircle`] for the first diameter that is not a positive, finite number. No circles: an outline of 0.
/// # Source    Computed: geometry. Cost: quadratic in the number of circles, with a number of steps that does not grow.
pub fn pack(diameters: &[Metre]) -> Result<Packing, NotACircle> {
    if let Some(index) = diameters.iter().position(|d| !(d.0 > 0.0 && d.0.is_finite())) {
        return Err(NotACircle { index, diameter: diameters[index] });
    }
    let mut order: Vec<usize> = (0..diameters.len()).collect();
    order.sort_by(|&a, &b| diameters[b].0.total_cmp(&diameters[a].0).then(a.cmp(&b)));
    let Some(&first) = order.first() else { return Ok(Packing { places: Vec::new(), outline: Metre(0.0) }) };
    // In units of the largest circle, so that no step depends on the scale.
    let unit = diameters[first].0;
    let radii: Vec<f64> = order.iter().map(|&i| (0.5 * diameters[i].0 / unit).max(LEAST)).collect();
    let (mut centres, radius) = tightest(&radii);
    nearer_first(&radii, &mut centres);
    let mut places = vec![Place { x: Metre(0.0), y: Metre(0.0) }; diameters.len()];
    for (at, &index) in centres.iter().zip(&order) {
        places[index] = Place { x: Metre(at[0] * unit), y: Metre(at[1] * unit) };
    }
    Ok(Packing { places, outline: Metre(2.0 * radius * unit) })
}

/// Share of the outline that the circles cover.
pub fn packing_fraction(diameters: &[Metre], outline: Metre) -> Ratio {
    Ratio(diameters.iter().map(|d| d.0 * d.0).sum::<f64>() / (outline.0 * outline.0))
}

/// A lower bound that no arrangement can beat: the area, and the two largest side by side.
///
/// # Source  Computed: D² ≥ Σ d², D ≥ d₁ + d₂.
pub fn least_outline(diameters: &[Metre]) -> Metre {
    let area = diameters.iter().map(|d| d.0 * d.0).sum::<f64>().sqrt();
    let (mut first, mut second) = (0.0f64, 0.0f64);
    for d in diameters {
        if d.0 > first {
            (first, second) = (d.0, first);
        } else if d.0 > second {
            second = d.0;
        }
    }
    Metre(area.max(first + second))
}

type Point = [f64; 2];

/// Circles below a millionth of the largest are packed as if they had it: rounding must not put two in one place.
const LEAST: f64 = 0.5e-6;
/// Up to this many circles other starts are tried too: the best layout of a few is often a ring or irregular, and costs little.
const FEW: usize = 12;
/// Overlaps that rounding leaves are drawn apart by this much, relative.
const CLEAR: f64 = 1e-13;

/// The tightest of several packings of radii in falling order; centres are relative to the outline's centre.
fn tightest(radii: &[f64]) -> (Vec<Point>, f64) {
    // The heap itself stands for what pressing would spoil: it leaves overlaps that are small against the large circles only.
    let mut best = if radii.len() <= 2 { outlined(radii, side_by_side(radii)) } else { outlined(radii, heap(radii)) };
    let mut starts = if radii.len() <= 2 { Vec::new() } else { vec![best.0.clone()] };
    if (3..=FEW).contains(&radii.len()) {
        starts.push(ring(radii));
        let mut dice = Dice(1);
        starts.extend((0..SCATTERED).map(|_| scattered(radii, &mut dice)));
    }
    for mut centres in starts {
        press(radii, &mut centres);
        let pressed = outlined(radii, centres);
        // A later start must win by more than rounding, else equal layouts would compete by their last digit.
        if pressed.1 < best.1 * (1.0 - 1e-9) {
            best = pressed;
        }
    }
    best
}

/// Draws circles apart until none overlaps; their centres then are relative to that of their outline, whose radius goes with them.
fn outlined(radii: &[f64], mut centres: Vec<Point>) -> (Vec<Point>, f64) {
    draw_apart(radii, &mut centres);
    let (middle, radius) = enclosing(radii, &centres);
    for c in &mut centres {
        *c = [c[0] - middle[0], c[1] - middle[1]];
    }
    (centres, radius)
}

/// Scattered starts of a small bundle.
const SCATTERED: usize = 3;

fn side_by_side(radii: &[f64]) -> Vec<Point> {
    let mut x = 0.0;
    radii
        .iter()
        .enumerate()
        .map(|(i, r)| {
            x += if i == 0 { 0.0 } else { radii[i - 1] + r };
            [x, 0.0]
        })
        .collect()
}

/// All on one ring, the largest next to the smallest in turn.
fn ring(radii: &[f64]) -> Vec<Point> {
    let n = radii.len();
    let mut turn = Vec::with_capacity(n);
    for i in 0..n.div_ceil(2) {
        turn.push(i);
        if n - 1 - i != i {
            turn.push(n - 1 - i);
        }
    }
    let around: f64 = radii.iter().map(|r| 2.0 * r).sum();
    let mut centres = vec![[0.0, 0.0]; n];
    let mut along = 0.0;
    for &i in &turn {
        let angle = 2.0 * PI * (along + radii[i]) / around;
        centres[i] = [around / (2.0 * PI) * angle.cos(), around / (2.0 * PI) * angle.sin()];
        along += 2.0 * radii[i];
    }
    centres
}

/// Places in a disc of twice the area that the circles need.
fn scattered(radii: &[f64], dice: &mut Dice) -> Vec<Point> {
    let area: f64 = radii.iter().map(|r| r * r).sum();
    radii
        .iter()
        .map(|_| {
            let (reach, angle) = ((2.0 * area * dice.next()).sqrt(), 2.0 * PI * dice.next());
            [reach * angle.cos(), reach * angle.sin()]
        })
        .collect()
}

/// A fixed sequence of numbers from 0 to 1 (splitmix64), the same in every run.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// Largest first, each at the free place that touches two others and reaches least far from the centre of what lies already.
///
/// Small circles fill the holes between large ones, which pressing alone would not find.
fn heap(radii: &[f64]) -> Vec<Point> {
    let mut centres: Vec<Point> = Vec::with_capacity(radii.len());
    // Pairs near enough that some circle could touch both. A smaller circle bridges less, so a pair once too far stays so.
    // With each of its two places goes the circle that was last seen in the way: it nearly always still is.
    let mut pairs: Vec<(u32, u32, [u32; 2])> = Vec::new();
    let (mut moment, mut weight) = ([0.0, 0.0], 0.0);
    for (i, &r) in radii.iter().enumerate() {
        let at = match i {
            0 => [0.0, 0.0],
            1 => [radii[0] + r, 0.0],
            _ => {
                let middle = [moment[0] / weight, moment[1] / weight];
                let mut best: (f64, Point) = (f64::INFINITY, [0.0, 0.0]);
                pairs.retain_mut(|(a, b, in_the_way)| {
                    let (a, b) = (*a as usize, *b as usize);
                    let Some(both) = touching(centres[a], radii[a] + r, centres[b], radii[b] + r) else { return false };
                    for (at, last) in both.into_iter().zip(in_the_way) {
                        let reach = away(at, middle);
                        let blocked = |j: usize| {
                            let (x, y, gap) = (centres[j][0] - at[0], centres[j][1] - at[1], (radii[j] + r) * (1.0 - 1e-9));
                            x * x + y * y < gap * gap
                        };
                        if reach >= best.0 || blocked(*last as usize) {
                            continue;
                        }
                        match (0..centres.len()).find(|&j| blocked(j)) {
                            Some(j) => *last = j as u32,
                            None => best = (reach, at),
                        }
                    }
                    true
                });
                best.1
            }
        };
        for (j, other) in centres.iter().enumerate() {
            if away(*other, at) < radii[j] + r + 2.0 * r {
                pairs.push((j as u32, i as u32, [0, 0]));
            }
        }
        centres.push(at);
        moment = [moment[0] + r * r * at[0], moment[1] + r * r * at[1]];
        weight += r * r;
    }
    centres
}

fn away(a: Point, b: Point) -> f64 {
    let (x, y) = (a[0] - b[0], a[1] - b[1]);
    (x * x + y * y).sqrt()
}

/// The two points at distance `to_a` from `a` and `to_b` from `b`.
fn touching(a: Point, to_a: f64, b: Point, to_b: f64) -> Option<[Point; 2]> {
    let (x, y) = (b[0] - a[0], b[1] - a[1]);
    let between = (x * x + y * y).sqrt();
    if between > to_a + to_b || between == 0.0 {
        return None;
    }
    let along = (between * between + to_a * to_a - to_b * to_b) / (2.0 * between);
    let across = (to_a * to_a - along * along).max(0.0).sqrt();
    let (x, y) = (x / between, y / between);
    Some([[a[0] + along * x - across * y, a[1] + along * y + across * x], [a[0] + along * x + across * y, a[1] + along * y - across * x]])
}

/// Presses circles together: minimises R + w (Σ overlap² + Σ stick-out²) over the centres and the outline's radius R, with w
/// growing from stage to stage.
fn press(radii: &[f64], centres: &mut [Point]) {
    let n = radii.len();
    let (middle, radius) = enclosing(radii, centres);
    let mut x: Vec<f64> = Vec::with_capacity(2 * n + 1);
    for c in centres.iter() {
        x.extend([c[0] - middle[0], c[1] - middle[1]]);
    }
    x.push(radius);
    for weight in STAGES {
        Press { radii, weight, near: Vec::new(), seen_from: Vec::new() }.descend(&mut x);
    }
    for (c, at) in centres.iter_mut().zip(x.chunks_exact(2)) {
        *c = [at[0], at[1]];
    }
}

/// Weights of the stages of pressing. The forces on the outline sum to 1, so the last leaves overlaps of about 1e-5.
const STAGES: [f64; 5] = [2.0, 16.0, 128.0, 1024.0, 8192.0];
/// Steps of one stage.
const STEPS: usize = 60;
/// Pairs whose gap is below this are looked at; the list is made anew when a circle has moved by half of it.
const SKIN: f64 = 0.25;
/// Earlier steps that the quasi-Newton direction remembers.
const MEMORY: usize = 6;

struct Press<'a> {
    radii: &'a [f64],
    weight: f64,
    near: Vec<(u32, u32)>,
    /// Centres when `near` was listed.
    seen_from: Vec<f64>,
}

impl Press<'_> {
    fn look_around(&mut self, x: &[f64]) {
        let n = self.radii.len();
        let moved = |i: usize| {
            let (dx, dy) = (x[2 * i] - self.seen_from[2 * i], x[2 * i + 1] - self.seen_from[2 * i + 1]);
            dx * dx + dy * dy > 0.25 * SKIN * SKIN
        };
        if !self.seen_from.is_empty() && !(0..n).any(moved) {
            return;
        }
        self.near.clear();
        for a in 0..n {
            for b in a + 1..n {
                let (dx, dy, reach) = (x[2 * a] - x[2 * b], x[2 * a + 1] - x[2 * b + 1], self.radii[a] + self.radii[b] + SKIN);
                if dx * dx + dy * dy < reach * reach {
                    self.near.push((a as u32, b as u32));
                }
            }
        }
        self.seen_from.clear();
        self.seen_from.extend_from_slice(&x[..2 * n]);
    }

    /// Value and slope.
    fn value(&mut self, x: &[f64], slope: &mut [f64]) -> f64 {
        self.look_around(x);
        let n = self.radii.len();
        slope.fill(0.0);
        let mut sum = 0.0;
        for &(a, b) in &self.near {
            let (a, b) = (a as usize, b as usize);
            let (dx, dy, reach) = (x[2 * a] - x[2 * b], x[2 * a + 1] - x[2 * b + 1], self.radii[a] + self.radii[b]);
            let square = dx * dx + dy * dy;
            if square < reach * reach {
                let between = square.sqrt().max(1e-12);
                let overlap = reach - between;
                sum += overlap * overlap;
                let (fx, fy) = (2.0 * overlap * dx / between, 2.0 * overlap * dy / between);
                slope[2 * a] -= fx;
                slope[2 * a + 1] -= fy;
                slope[2 * b] += fx;
                slope[2 * b + 1] += fy;
            }
        }
        for i in 0..n {
            let (dx, dy) = (x[2 * i], x[2 * i + 1]);
            let from_centre = (dx * dx + dy * dy).sqrt();
            let out = from_centre + self.radii[i] - x[2 * n];
            if out > 0.0 {
                sum += out * out;
                let from_centre = from_centre.max(1e-12);
                slope[2 * i] += 2.0 * out * dx / from_centre;
                slope[2 * i + 1] += 2.0 * out * dy / from_centre;
                slope[2 * n] -= 2.0 * out;
            }
        }
        for s in slope.iter_mut() {
            *s *= self.weight;
        }
        slope[2 * n] += 1.0;
        x[2 * n] + self.weight * sum
    }

    /// Quasi-Newton descent with a remembered curvature (limited-memory BFGS) and a step that must descend.
    fn descend(&mut self, x: &mut [f64]) {
        let size = x.len();
        let mut slope = vec![0.0; size];
        let mut value = self.value(x, &mut slope);
        let mut memory: Vec<(Vec<f64>, Vec<f64>, f64)> = Vec::with_capacity(MEMORY);
        let (mut trial, mut trial_slope) = (vec![0.0; size], vec![0.0; size]);
        for _ in 0..STEPS {
            let mut direction: Vec<f64> = slope.iter().map(|s| -s).collect();
            let mut shares = [0.0; MEMORY];
            for (k, (step, change, curvature)) in memory.iter().enumerate().rev() {
                shares[k] = dot(step, &direction) / curvature;
                add(&mut direction, -shares[k], change);
            }
            let scale = memory.last().map_or(0.25 / self.weight, |(_, change, curvature)| curvature / dot(change, change));
            direction.iter_mut().for_each(|d| *d *= scale);
            for (k, (step, change, curvature)) in memory.iter().enumerate() {
                let share = shares[k] - dot(change, &direction) / curvature;
                add(&mut direction, share, step);
            }
            let mut descent = dot(&direction, &slope);
            if descent >= 0.0 {
                memory.clear();
                direction.iter_mut().zip(&slope).for_each(|(d, s)| *d = -s * 0.25 / self.weight);
                descent = dot(&direction, &slope);
            }
            // No circle may jump over another.
            let longest = direction.iter().fold(0.0f64, |m, d| m.max(d.abs()));
            let mut length = (0.2 / longest).min(1.0);
            let mut reached = None;
            for _ in 0..12 {
                trial.iter_mut().zip(x.iter().zip(&direction)).for_each(|(t, (x, d))| *t = x + length * d);
                let found = self.value(&trial, &mut trial_slope);
                if found <= value + 1e-4 * length * descent {
                    reached = Some(found);
                    break;
                }
                length *= 0.4;
            }
            let Some(found) = reached else { break };
            let step: Vec<f64> = trial.iter().zip(x.iter()).map(|(t, x)| t - x).collect();
            let change: Vec<f64> = trial_slope.iter().zip(&slope).map(|(t, s)| t - s).collect();
            let curvature = dot(&step, &change);
            if curvature > 1e-12 * dot(&change, &change) {
                if memory.len() == MEMORY {
                    memory.remove(0);
                }
                memory.push((step, change, curvature));
            }
            let gained = value - found;
            x.copy_from_slice(&trial);
            core::mem::swap(&mut slope, &mut trial_slope);
            value = found;
            if gained < 1e-7 * value {
                break;
            }
        }
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn add(to: &mut [f64], factor: f64, what: &[f64]) {
    to.iter_mut().zip(what).for_each(|(t, w)| *t += factor * w);
}

/// Scales all distances so that the tightest pair just touches.
fn draw_apart(radii: &[f64], centres: &mut [Point]) {
    let mut scale = 0.0f64;
    for a in 0..radii.len() {
        for b in a + 1..radii.len() {
            scale = scale.max((radii[a] + radii[b]) / away(centres[a], centres[b]));
        }
    }
    for c in centres {
        *c = [c[0] * scale * (1.0 + CLEAR), c[1] * scale * (1.0 + CLEAR)];
    }
}

/// Smallest circle around circles: its centre and radius, which encloses them whatever rounding did to the centre.
///
/// Grows from the largest circle: the circle that sticks out farthest joins, and the smallest circle around it and at most three
/// others is taken. The radius grows with each turn, so no set comes twice.
fn enclosing(radii: &[f64], centres: &[Point]) -> (Point, f64) {
    let reach = |middle: Point| -> (usize, f64) {
        let mut far = (0, f64::NEG_INFINITY);
        for (i, c) in centres.iter().enumerate() {
            let out = away(*c, middle) + radii[i];
            if out > far.1 {
                far = (i, out);
            }
        }
        far
    };
    let mut held: Vec<usize> = vec![0];
    let (mut middle, mut radius) = (centres[0], radii[0]);
    for _ in 0..4 * radii.len() + 16 {
        let (farthest, out) = reach(middle);
        if out <= radius * (1.0 + 1e-13) || held.contains(&farthest) {
            break;
        }
        held.push(farthest);
        let Some(grown) = around_few(radii, centres, &held) else { break };
        (held, middle, radius) = grown;
    }
    (middle, reach(middle).1)
}

/// Smallest circle around at most four circles, and those that hold it.
fn around_few(radii: &[f64], centres: &[Point], few: &[usize]) -> Option<(Vec<usize>, Point, f64)> {
    let mut best: Option<(Vec<usize>, Point, f64)> = None;
    for set in 1u32..1 << few.len() {
        let held: Vec<usize> = few.iter().enumerate().filter(|(k, _)| set >> k & 1 == 1).map(|(_, &i)| i).collect();
        let circle = match *held.as_slice() {
            [a] => Some((centres[a], radii[a])),
            [a, b] => around_two(centres[a], radii[a], centres[b], radii[b]),
            [a, b, c] => around_three([a, b, c].map(|i| (centres[i], radii[i]))),
            _ => None,
        };
        let Some((middle, radius)) = circle else { continue };
        let holds_all = few.iter().all(|&i| away(centres[i], middle) + radii[i] <= radius * (1.0 + 1e-12));
        if holds_all && best.as_ref().is_none_or(|(_, _, r)| radius < *r) {
            best = Some((held, middle, radius));
        }
    }
    best
}

fn around_two(a: Point, ra: f64, b: Point, rb: f64) -> Option<(Point, f64)> {
    let between = away(a, b);
    if between <= (ra - rb).abs() {
        return None;
    }
    let radius = 0.5 * (between + ra + rb);
    let share = (radius - ra) / between;
    Some(([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])], radius))
}

/// The circle that three circles touch from inside: |c − pᵢ| = R − rᵢ. Differences of the three squares give c as a linear
/// function of R, the first square then R.
fn around_three([(p1, r1), (p2, r2), (p3, r3)]: [(Point, f64); 3]) -> Option<(Point, f64)> {
    let (x2, y2, x3, y3) = (p2[0] - p1[0], p2[1] - p1[1], p3[0] - p1[0], p3[1] - p1[1]);
    let determinant = x2 * y3 - x3 * y2;
    if determinant.abs() < 1e-12 {
        return None;
    }
    // 2 (c − p1)·(pk − p1) = |pk − p1|² + (R − r1)² − (R − rk)², with q = R − r1 and rk = r1 + ek: = |pk − p1|² + 2 q ek − ek².
    let (e2, e3) = (r2 - r1, r3 - r1);
    let (c2, c3) = (0.5 * (x2 * x2 + y2 * y2 - e2 * e2), 0.5 * (x3 * x3 + y3 * y3 - e3 * e3));
    let fixed = [(c2 * y3 - c3 * y2) / determinant, (x2 * c3 - x3 * c2) / determinant];
    let per_q = [(e2 * y3 - e3 * y2) / determinant, (x2 * e3 - x3 * e2) / determinant];
    let a = per_q[0] * per_q[0] + per_q[1] * per_q[1] - 1.0;
    let b = fixed[0] * per_q[0] + fixed[1] * per_q[1];
    let c = fixed[0] * fixed[0] + fixed[1] * fixed[1];
    // a q² + 2 b q + c = 0; the least q that leaves every R − rᵢ positive.
    let roots = if a.abs() < 1e-14 {
        [-c / (2.0 * b), f64::NAN]
    } else {
        let root = (b * b - a * c).sqrt();
        [(-b - root) / a, (-b + root) / a]
    };
    let q = roots.into_iter().filter(|q| *q >= 0.0 && *q >= e2 && *q >= e3).min_by(|a, b| a.partial_cmp(b).unwrap_or(Ordering::Equal))?;
    Some(([p1[0] + fixed[0] + per_q[0] * q, p1[1] + fixed[1] + per_q[1] * q], q + r1))
}

/// Among circles of equal size, the one that comes first in the order gets the place nearest to the centre.
fn nearer_first(radii: &[f64], centres: &mut [Point]) {
    let mut start = 0;
    while start < radii.len() {
        let length = radii[start..].iter().take_while(|r| **r == radii[start]).count();
        centres[start..start + length].sort_by(|a, b| {
            let reach = |p: &Point| p[0] * p[0] + p[1] * p[1];
            reach(a).total_cmp(&reach(b)).then(a[0].total_cmp(&b[0])).then(a[1].total_cmp(&b[1]))
        });
        start += length;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outline(diameters: &[f64]) -> f64 {
        packed(diameters).outline.0
    }

    fn packed(diameters: &[f64]) -> Packing {
        pack(&diameters.iter().map(|d| Metre(*d)).collect::<Vec<_>>()).expect("positive diameters")
    }

    /// Largest overlap of two circles or of one with the outside, in units of the largest circle.
    fn worst_overlap(diameters: &[f64], packing: &Packing) -> f64 {
        let at = |i: usize| [packing.places[i].x.0, packing.places[i].y.0];
        let mut worst = f64::NEG_INFINITY;
        for a in 0..diameters.len() {
            for b in 0..a {
                worst = worst.max(0.5 * (diameters[a] + diameters[b]) - away(at(a), at(b)));
            }
            worst = worst.max(away(at(a), [0.0, 0.0]) + 0.5 * diameters[a] - 0.5 * packing.outline.0);
        }
        worst / diameters.iter().fold(0.0f64, |m, d| m.max(*d))
    }

    /// Optimum ratio of outline to circle: proved up to 13 and for 19, else best known. Three decimals read in an encyclopedia's table
    /// of circle packing in a circle for counts up to 20, more digits by constrained minimisation; beyond 20 from memory (best-known
    /// packings), reproduced by constrained minimisation.
    const OPTIMUM: [(usize, f64); 20] = [
        (1, 1.0),
        (2, 2.0),
        (3, 2.154701),
        (4, 2.414214),
        (7, 3.0),
        (9, 3.613126),
        (11, 3.923804),
        (13, 4.236068),
        (15, 4.521357),
        (17, 4.792034),
        (19, 4.863703),
        (21, 5.252317),
        (23, 5.545204),
        (25, 5.752824),
        (27, 5.906398),
        (29, 6.138598),
        (31, 6.291503),
        (33, 6.486703),
        (35, 6.697171),
        (37, 6.75877),
    ];

    #[test]
    fn equal_circles_against_the_best_known() {
        for (count, optimum) in OPTIMUM {
            let found = outline(&vec![1.0; count]);
            // The table has six decimals.
            assert!(found >= optimum - 1e-6, "{count}: {found} beats the optimum {optimum}");
            assert!(found <= 1.04 * optimum, "{count}: {found} is {:.1} % above {optimum}", 100.0 * (found / optimum - 1.0));
        }
    }

    /// Core over n equal wires: 2.000 d (2), 2.155 d (3), 2.414 d (4), 2.701 d (5), 3.000 d (6 or 7): geometry of the regular polygon,
    /// 1 + 1/sin(π/n), and of the ring around one.
    #[test]
    fn cores_of_a_few_equal_wires() {
        for n in 2..=6 {
            let polygon = 1.0 + 1.0 / (PI / n as f64).sin();
            assert!((outline(&vec![1.3e-3; n]) / 1.3e-3 - polygon).abs() < 2e-4, "{n}");
        }
        assert!((outline(&[1.0; 7]) - 3.0).abs() < 2e-4);
    }

    /// Two circles: d₁ + d₂ exactly. One: itself. A third beside two of 1 fits into their circle of 2 up to d = 2/3 (Descartes: curvatures
    /// 2, 2 and −1 give 3). At d = 0.8 it stands h = √(0.9² − 0.5²) = 0.748331 off the line of the two; the outline's centre is y off it
    /// with 0.5 + √(0.25 + y²) = 0.4 + h − y, so y = 0.131363 and the diameter 2.033936.
    #[test]
    fn worked_by_hand() {
        assert!((outline(&[3.0, 1.25]) - 4.25).abs() < 1e-12);
        assert!((outline(&[0.8e-3]) - 0.8e-3).abs() < 1e-18);
        assert!((outline(&[1.0, 1.0, 0.66]) - 2.0).abs() < 2e-4, "{}", outline(&[1.0, 1.0, 0.66]));
        assert!((outline(&[1.0, 1.0, 0.8]) - 2.033936).abs() < 2e-4, "{}", outline(&[1.0, 1.0, 0.8]));
        assert_eq!(packed(&[]).outline, Metre(0.0));
        assert_eq!(pack(&[Metre(1.0), Metre(0.0)]), Err(NotACircle { index: 1, diameter: Metre(0.0) }));
        assert!(pack(&[Metre(f64::NAN)]).is_err());
        assert!(pack(&[Metre(f64::INFINITY)]).is_err());
    }

    /// Descartes: circles of radius 1, 2, 3 that touch each other lie in a circle of radius 6, for 1 + 1/2 + 1/3 − 2 √(1/2 + 1/3 + 1/6) = −1/6.
    /// Their centres are the corners (0, 0), (3, 0), (0, 4) of a right-angled triangle, that of the outer circle is (3, 4): 5, 4 and 3 away.
    /// It is not the smallest around them: the two larger ones need 2 + 3 + 5 = 10 of diameter and hold the third.
    #[test]
    fn circles_around_three() {
        let (radii, centres) = ([3.0, 2.0, 1.0], [[0.0, 4.0], [3.0, 0.0], [0.0, 0.0]]);
        let near = |value: f64, expected: f64| assert!((value - expected).abs() < 1e-12, "{value} is not {expected}");
        let (middle, radius) = around_three([0, 1, 2].map(|i| (centres[i], radii[i]))).expect("a triangle");
        near(middle[0], 3.0);
        near(middle[1], 4.0);
        near(radius, 6.0);
        let (middle, radius) = enclosing(&radii, &centres);
        near(middle[0], 1.2);
        near(middle[1], 2.4);
        near(radius, 5.0);
        // Equal ones around (0, 0), (4, 0), (2, 3): the centres' circle has its middle at (2, 5/6) and the radius 13/6.
        let (middle, radius) = enclosing(&[1.0; 3], &[[0.0, 0.0], [4.0, 0.0], [2.0, 3.0]]);
        near(middle[0], 2.0);
        near(middle[1], 5.0 / 6.0);
        near(radius, 1.0 + 13.0 / 6.0);
    }

    /// Demands on random mixes, from 2 to 200 circles and diameters from 1 to 20: even, even in the logarithm, and few large among many small.
    #[test]
    fn two_thousand_random_mixes() {
        let mut dice = Dice(5);
        for mix in 0..2000 {
            let count = match mix % 4 {
                0 => 2 + (dice.next() * 19.0) as usize,
                _ => 2 + (dice.next() * 199.0) as usize,
            };
            let diameters: Vec<f64> = (0..count)
                .map(|_| match (mix % 3, dice.next()) {
                    (0, u) => 1.0 + 19.0 * u,
                    (1, u) => 20f64.powf(u),
                    (_, u) if u < 0.1 => 20.0,
                    (_, u) => 1.0 + u,
                })
                .collect();
            let packing = packed(&diameters);
            let overlap = worst_overlap(&diameters, &packing);
            assert!(overlap <= 1e-9, "mix {mix}: overlap of {overlap}");
            let metres: Vec<Metre> = diameters.iter().map(|d| Metre(*d)).collect();
            let least = least_outline(&metres).0;
            assert!(packing.outline.0 >= least * (1.0 - 1e-9), "mix {mix}: {} is below {least}", packing.outline.0);
            let mut sorted = diameters.clone();
            sorted.sort_by(|a, b| b.total_cmp(a));
            let area = diameters.iter().map(|d| d * d).sum::<f64>().sqrt();
            let most = (1.30 * area).max(1.08 * (sorted[0] + sorted[1]));
            assert!(count < 7 || packing.outline.0 <= most, "mix {mix} of {count}: {} is above {most}", packing.outline.0);
        }
    }

    /// A hair beside a pipe: nothing in the trade, but the answer stays a packing, no worse than the heap.
    #[test]
    fn very_unlike_circles() {
        let mut diameters: Vec<f64> = (0..60).map(|i| 10f64.powf(-f64::from(i % 20))).collect();
        let packing = packed(&diameters);
        assert!(worst_overlap(&diameters, &packing) <= 1e-9);
        // Three of 1 and many that are far smaller, most in the holes.
        assert!((2.154..2.3).contains(&packing.outline.0), "{:?}", packing.outline);
        diameters.truncate(2);
        assert!((outline(&diameters) - 1.1).abs() < 1e-12);
    }

    #[test]
    fn order_and_scale_of_the_input_change_nothing() {
        let mut dice = Dice(9);
        for count in [2, 3, 8, 12, 13, 40, 90] {
            // Few sizes, so that many circles are equal.
            let diameters: Vec<f64> = (0..count).map(|_| [1.0, 1.24, 1.55, 2.0, 7.0][(dice.next() * 5.0) as usize]).collect();
            let mut order: Vec<usize> = (0..count).collect();
            for i in (1..count).rev() {
                order.swap(i, (dice.next() * (i + 1) as f64) as usize);
            }
            let shuffled: Vec<f64> = order.iter().map(|&i| diameters[i]).collect();
            let (one, other) = (packed(&diameters), packed(&shuffled));
            assert_eq!(one.outline, other.outline);
            let key = |d: f64, at: Place| [d, at.x.0, at.y.0].map(f64::to_bits);
            let mut places: Vec<_> = diameters.iter().zip(&one.places).map(|(d, at)| key(*d, *at)).collect();
            let mut of_shuffled: Vec<_> = shuffled.iter().zip(&other.places).map(|(d, at)| key(*d, *at)).collect();
            places.sort();
            of_shuffled.sort();
            assert_eq!(places, of_shuffled, "{count} circles");
            // Powers of two are exact, so even the digits stay.
            let scaled = packed(&diameters.iter().map(|d| d / 1024.0).collect::<Vec<_>>());
            assert_eq!(scaled.outline.0 * 1024.0, one.outline.0);
        }
    }

    /// Among equals the first in the input lies nearest to the centre.
    #[test]
    fn the_first_of_equals_is_innermost() {
        let packing = packed(&[1.0; 7]);
        let reach = |at: &Place| at.x.0.hypot(at.y.0);
        assert!(reach(&packing.places[0]) < 1e-3);
        assert!(packing.places.iter().zip(&packing.places[1..]).all(|(a, b)| reach(a) <= reach(b)));
    }
}
