//! When a protective device opens: a band of times over current for each ambient, its ultimate trip, and whether two devices in line are selective.
//!
//! A band has a shortest and a longest time at each multiple of the rating; between its points log t runs straight over log I, and it is never
//! carried on beyond its last point. Nothing is said where nothing is known: a device without a band has no times.

use crate::single_wire::root_within;
use crate::{Ampere, Kelvin, Second};

/// Temperature at which the default law of ambient lets a thermal device open at any current.
///
/// # Source  Common practice, no source: the element opens when it reaches a fixed temperature, some 130 K above a 25 °C ambient.
pub const OPENS_AT: Kelvin = Kelvin(155.0 + 273.15);

/// Ambient at which ratings are stated.
///
/// # Source  Common practice, no source: makers' sheets state ratings at 25 °C or at room temperature.
pub const RATED_AT: Kelvin = Kelvin(25.0 + 273.15);

/// One point of a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Current in multiples of the rating.
    pub multiple: f64,
    /// It holds for at least so long; `None` where the maker states none.
    pub shortest: Option<Second>,
    /// It has opened by then; `None` where the maker states none.
    pub longest: Option<Second>,
}

/// What a maker states at one ambient. Points by rising multiple, times above zero and not rising.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Ambient of the device.
    pub ambient: Kelvin,
    /// Points, by rising multiple.
    pub points: Vec<Point>,
}

/// A thermal breaker or fuse.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// Rated current.
    pub rating: Ampere,
    /// Multiple of the rating that it holds for good, at the ambient of its bands.
    pub holds: Option<f64>,
    /// Multiple of the rating at which it has to open in the end (its ultimate trip), at the ambient of its bands.
    pub ultimate: Option<f64>,
    /// Bands by rising ambient.
    pub bands: Vec<Band>,
    /// The maker's own shift: by rising ambient, the factor of every current against that at the rating's ambient. Empty: [`ambient_factor`] counts.
    pub ambients: Vec<(Kelvin, f64)>,
}

/// How an ambient was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Met {
    /// The maker has a band at this ambient.
    Stated,
    /// Between two of the maker's bands, or moved by the maker's own shift within its rows.
    Between,
    /// Moved from the nearest band by the default law, or by the maker's shift held beyond its last row: assumed, and a verdict on it is provisional.
    Shifted,
}

/// One edge of a band at a current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edge {
    /// So long.
    Time(Second),
    /// The current is beyond the last point: the time there, which is an upper bound and no lower one.
    Beyond(Second),
    /// The current is under the first point. A longest time is then not known; a shortest one is at least this.
    Under(Second),
    /// It may carry this current for good.
    Never,
}

/// Which edge of a band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The time that it holds at least; shortest where the device is hottest.
    Shortest,
    /// The time by which it has opened; longest where the device is coldest.
    Longest,
}

/// Factor by which the currents of a thermal device move from one ambient to another: √((155 °C − T)/(155 °C − T₀)).
///
/// # Units     (K) → (1); 0 at and above 155 °C
/// # Validity  Bimetal elements heated by I²R, about −55 to 120 °C. Assumed wherever the maker has no band at the ambient.
/// # Source    Common practice, no source: the rise at which the element opens is what its temperature leaves, and rises as I².
pub fn ambient_factor(at: Kelvin, stated: Kelvin) -> f64 {
    ((OPENS_AT.0 - at.0).max(0.0) / (OPENS_AT.0 - stated.0)).sqrt()
}

impl Device {
    /// How an ambient is met by the bands; `None` without a band.
    pub fn met(&self, ambient: Kelvin) -> Option<Met> {
        let within = |first: Kelvin, last: Kelvin| ambient.0 >= first.0 && ambient.0 <= last.0;
        let (first, last) = (self.bands.first()?, self.bands.last()?);
        Some(match self.bands.iter().any(|band| band.ambient == ambient) {
            true => Met::Stated,
            false if within(first.ambient, last.ambient) => Met::Between,
            false => match (self.ambients.first(), self.ambients.last()) {
                (Some(first), Some(last)) if within(first.0, last.0) => Met::Between,
                _ => Met::Shifted,
            },
        })
    }

    /// Factor by which every current of the device moves from one ambient to another: the maker's own, straight between its rows and held beyond
    /// them, or else [`ambient_factor`].
    ///
    /// # Units  (K) → (1)
    pub fn factor(&self, at: Kelvin, stated: Kelvin) -> f64 {
        match (self.own_factor(at), self.own_factor(stated)) {
            (Some(at), Some(stated)) => at / stated,
            _ => ambient_factor(at, stated),
        }
    }

    fn own_factor(&self, at: Kelvin) -> Option<f64> {
        let (first, last) = (self.ambients.first()?, self.ambients.last()?);
        if at.0 <= first.0.0 {
            return Some(first.1);
        }
        let Some(pair) = self.ambients.windows(2).find(|pair| at.0 <= pair[1].0.0) else { return Some(last.1) };
        let [(t0, f0), (t1, f1)] = [pair[0], pair[1]];
        Some(f0 + (f1 - f0) * (at.0 - t0.0) / (t1.0 - t0.0))
    }

    /// The ambient at which `holds` and `ultimate` are stated: that of the band nearest to 25 °C.
    fn stated_at(&self) -> Option<Kelvin> {
        let of = |band: &Band| (band.ambient.0 - RATED_AT.0).abs();
        self.bands.iter().min_by(|a, b| of(a).total_cmp(&of(b))).map(|band| band.ambient)
    }

    /// An edge at a current and an ambient; `None` without a band, or where no point states that edge.
    ///
    /// # Units     (A), (K) → (s)
    /// # Source    Computed: log t straight over log I between points, and straight over the ambient between two bands at currents that [`Device::factor`] moves
    /// to them; beyond the bands that factor alone.
    pub fn edge(&self, side: Side, current: Ampere, ambient: Kelvin) -> Option<Edge> {
        Some(self.edge_at(side, ambient)?.at(current))
    }

    /// That edge made ready for many currents at one ambient.
    fn edge_at(&self, side: Side, ambient: Kelvin) -> Option<EdgeAt> {
        let (first, last) = (self.bands.first()?, self.bands.last()?);
        // Each band is asked for the current that stands to it as this one does to the ambient: what holds for good then agrees.
        let moved = |band: &Band| Some((self.stated(band, side)?, self.factor(ambient, band.ambient)));
        let upper = self.bands.iter().position(|band| band.ambient.0 >= ambient.0);
        let lies = match upper.map(|upper| (&self.bands[upper], upper.checked_sub(1))) {
            Some((band, _)) if band.ambient == ambient => Lies::On(self.stated(band, side)?, 1.0),
            Some((band, Some(below))) => {
                let below = &self.bands[below];
                let share = (ambient.0 - below.ambient.0) / (band.ambient.0 - below.ambient.0);
                Lies::Between([moved(below)?, moved(band)?], share)
            }
            _ => {
                let nearest = if ambient.0 < first.ambient.0 { first } else { last };
                match self.factor(ambient, nearest.ambient) {
                    factor if factor > 0.0 => Lies::On(self.stated(nearest, side)?, factor),
                    _ => Lies::TooHot,
                }
            }
        };
        Some(EdgeAt { side, rating: self.rating, lies })
    }

    /// Current that it has to open in the end, the least at an ambient; `None` where the ultimate trip or its ambient is not known.
    ///
    /// # Units  (K) → (A)
    pub fn ultimate(&self, ambient: Kelvin) -> Option<Ampere> {
        self.moved(self.ultimate?, ambient)
    }

    /// Current that it holds for good at an ambient; `None` where that is not known.
    ///
    /// # Units  (K) → (A)
    pub fn holds(&self, ambient: Kelvin) -> Option<Ampere> {
        self.moved(self.holds?, ambient)
    }

    fn moved(&self, multiple: f64, ambient: Kelvin) -> Option<Ampere> {
        Some(self.rating * multiple * self.factor(ambient, self.stated_at()?))
    }

    /// An edge of a band; `None` where no point states it.
    fn stated(&self, band: &Band, side: Side) -> Option<Stated> {
        let time = |point: &Point| match side {
            Side::Shortest => point.shortest,
            Side::Longest => point.longest,
        };
        let points: Vec<(f64, f64)> = band.points.iter().filter_map(|point| Some((point.multiple, time(point)?.0))).collect();
        points.first()?;
        // Both are stated at one ambient and move with it: a hot device holds less.
        let moved = self.factor(band.ambient, self.stated_at()?);
        let never = match side {
            Side::Shortest => self.holds,
            Side::Longest => self.ultimate,
        };
        Some(Stated { points, never: never.map(|multiple| multiple * moved) })
    }
}

/// An edge of a device at one ambient.
struct EdgeAt {
    side: Side,
    rating: Ampere,
    lies: Lies,
}

/// How an ambient lies to the bands, with the factor that moves currents from each of them to it.
enum Lies {
    On(Stated, f64),
    /// Share of the way from the colder to the hotter.
    Between([(Stated, f64); 2], f64),
    /// It opens by itself.
    TooHot,
}

/// An edge of a band.
struct Stated {
    /// Multiples of the rating with their times, one or more.
    points: Vec<(f64, f64)>,
    /// Up to this multiple it holds for good; below it, it need not open.
    never: Option<f64>,
}

impl EdgeAt {
    fn at(&self, current: Ampere) -> Edge {
        let multiple = current.0.abs() / self.rating.0;
        match &self.lies {
            Lies::On(stated, factor) => stated.at(self.side, multiple / factor),
            Lies::Between(bands, share) => {
                let [cold, hot] = bands.each_ref().map(|(stated, factor)| stated.at(self.side, multiple / factor));
                between(cold, hot, *share, self.side)
            }
            Lies::TooHot => Edge::Time(Second(0.0)),
        }
    }
}

impl Stated {
    fn at(&self, side: Side, multiple: f64) -> Edge {
        let never = self.never.is_some_and(|never| match side {
            Side::Shortest => multiple <= never,
            Side::Longest => multiple < never,
        });
        if never {
            return Edge::Never;
        }
        let (first, last) = (self.points[0], self.points[self.points.len() - 1]);
        if multiple < first.0 {
            return Edge::Under(Second(first.1));
        }
        if multiple > last.0 {
            return Edge::Beyond(Second(last.1));
        }
        let upper = self.points.iter().position(|point| point.0 >= multiple).unwrap_or(self.points.len() - 1);
        let (x1, t1) = self.points[upper];
        if x1 == multiple || upper == 0 {
            return Edge::Time(Second(t1));
        }
        let (x0, t0) = self.points[upper - 1];
        let share = (multiple / x0).ln() / (x1 / x0).ln();
        Edge::Time(Second(t0 * (t1 / t0).powf(share)))
    }
}

/// Between two ambients; where their kinds differ, what says less holds.
fn between(cold: Edge, hot: Edge, share: f64, side: Side) -> Edge {
    let mix = |a: Second, b: Second| Second(a.0 * (b.0 / a.0).powf(share));
    match (cold, hot) {
        (Edge::Time(a), Edge::Time(b)) => Edge::Time(mix(a, b)),
        (Edge::Never, Edge::Never) => Edge::Never,
        (Edge::Beyond(a) | Edge::Time(a), Edge::Beyond(b) | Edge::Time(b)) => Edge::Beyond(mix(a, b)),
        // It may hold for good at the one: of a longest time nothing shorter is sure, of a shortest one what the other says.
        (Edge::Never, other) | (other, Edge::Never) => match side {
            Side::Longest => Edge::Never,
            Side::Shortest => other,
        },
        (Edge::Under(a) | Edge::Time(a) | Edge::Beyond(a), Edge::Under(b) | Edge::Time(b) | Edge::Beyond(b)) => Edge::Under(mix(a, b)),
    }
}

/// Currents at which one thing is known of two devices in line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Least current through the lower device.
    pub from: Ampere,
    /// Greatest.
    pub to: Ampere,
    /// What is known.
    pub first: First,
}

/// Which of two devices in line opens first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum First {
    /// The one nearer to the load, or the upper one holds for good.
    Lower,
    /// The upper one may: their bands overlap.
    PerhapsUpper,
    /// A band begins only above these currents.
    NoDataBelow,
    /// A band ends below these currents.
    NoDataAbove,
}

/// Which of two devices in line opens first, from the current at which `lower` has to open in the end up to the `largest`.
///
/// The longest time of `lower`, nearer to the load, is held against the shortest of `upper`; `also` is what flows through the upper device beside
/// the fault. Ranges follow each other without a gap. `None` where one of them has no band, or the lower one no ultimate trip.
///
/// # Units     currents (A) through the lower device, ambients (K): the lower one at its coldest, the upper one at its hottest
/// # Cost      n log n in the points of both bands
/// # Source    Computed: on log scales both edges are straight between the points, so an interval is settled by what happens at its ends.
pub fn selectivity(lower: (&Device, Kelvin), upper: (&Device, Kelvin), also: Ampere, largest: Ampere) -> Option<Vec<Range>> {
    let edges = (lower.0.edge_at(Side::Longest, lower.1), upper.0.edge_at(Side::Shortest, upper.1));
    let longest = |current: f64| Some(edges.0.as_ref()?.at(Ampere(current)));
    let shortest = |current: f64| Some(edges.1.as_ref()?.at(Ampere(current) + also));
    let first = |current: f64| -> Option<First> {
        Some(match (longest(current)?, shortest(current)?) {
            (_, Edge::Never) => First::Lower,
            (Edge::Never, Edge::Time(_) | Edge::Under(_) | Edge::Beyond(_)) => First::PerhapsUpper,
            (Edge::Under(_), _) => First::NoDataBelow,
            (_, Edge::Beyond(_)) => First::NoDataAbove,
            (Edge::Time(a) | Edge::Beyond(a), Edge::Time(b) | Edge::Under(b)) if a.0 < b.0 => First::Lower,
            (Edge::Time(_) | Edge::Beyond(_), Edge::Under(_)) => First::NoDataBelow,
            (Edge::Time(_) | Edge::Beyond(_), Edge::Time(_)) => First::PerhapsUpper,
        })
    };
    let start = lower.0.ultimate(lower.1)?.0;
    let mut knees = vec![start, largest.0];
    for (device, ambient, beside) in [(lower.0, lower.1, 0.0), (upper.0, upper.1, also.0)] {
        for band in &device.bands {
            let factor = device.factor(ambient, band.ambient);
            let moved = device.factor(band.ambient, device.stated_at()?);
            let kept = [device.holds, device.ultimate].into_iter().flatten().map(|multiple| multiple * moved);
            let multiples = band.points.iter().map(|point| point.multiple).chain(kept);
            knees.extend(multiples.map(|multiple| multiple * device.rating.0 * factor - beside));
        }
    }
    knees.retain(|current| *current >= start && *current <= largest.0);
    knees.sort_by(f64::total_cmp);
    if also.0 > 0.0 {
        // With a current beside the fault the upper edge is bent in log I: the distance of the edges has one extreme at most between two knees.
        let turns: Vec<f64> = knees.windows(2).filter_map(|pair| turn(pair[0], pair[1], also.0, &longest, &shortest)).collect();
        knees.extend(turns);
        knees.sort_by(f64::total_cmp);
    }
    // Knees that differ in their last digits only are one; the end of the range stays what was asked.
    knees.dedup_by(|next, knee| *next <= *knee * (1.0 + 1e-11));
    if let (Some(last), true) = (knees.last_mut(), largest.0 > start) {
        *last = largest.0;
    }
    let mut ranges: Vec<Range> = Vec::new();
    let mut add = |from: f64, to: f64, first: First| match ranges.last_mut() {
        Some(last) if last.first == first => last.to = Ampere(to),
        _ => ranges.push(Range { from: Ampere(from), to: Ampere(to), first }),
    };
    for pair in knees.windows(2) {
        // A device may change its kind at a knee: what holds in between is asked just inside.
        let (from, to) = (pair[0] * (1.0 + 1e-12), pair[1] * (1.0 - 1e-12));
        match (first(from)?, first(to)?) {
            (a, b) if a == b => add(pair[0], pair[1], a),
            (a, b) => {
                let over = |current: f64| distance(longest(current)?, shortest(current)?);
                let at = match (over(from), over(to)) {
                    // Times that cross: ln of their ratio goes through zero.
                    (Some(start), Some(end)) if start * end < 0.0 => {
                        root_within(from, to, 1e-9 * from, |current| over(current).map_or(f64::NAN, |gap| gap * end.signum()))
                    }
                    _ => crossing(from, to, &|current| first(current) == Some(a)),
                };
                add(pair[0], at, a);
                add(at, pair[1], b);
            }
        }
    }
    Some(ranges)
}

/// Where ln t₁ − ln t₂ turns between two currents, for t₁ ∝ Iᵖ and t₂ ∝ (I + J)^q: p (I + J) = q I.
fn turn(from: f64, to: f64, also: f64, lower: &dyn Fn(f64) -> Option<Edge>, upper: &dyn Fn(f64) -> Option<Edge>) -> Option<f64> {
    let (a, b) = (from + 0.25 * (to - from), from + 0.75 * (to - from));
    let time = |edge: Option<Edge>| match edge {
        Some(Edge::Time(t)) => Some(t.0),
        _ => None,
    };
    let p = (time(lower(b))? / time(lower(a))?).ln() / (b / a).ln();
    let q = (time(upper(b))? / time(upper(a))?).ln() / ((b + also) / (a + also)).ln();
    Some(p * also / (q - p)).filter(|at| *at > from && *at < to)
}

/// ln of the lower device's longest time over the upper one's shortest; `None` where one of them is no time above zero.
fn distance(longest: Edge, shortest: Edge) -> Option<f64> {
    match (longest, shortest) {
        (Edge::Time(a) | Edge::Beyond(a), Edge::Time(b) | Edge::Under(b)) => Some((a.0 / b.0).ln()).filter(|gap| gap.is_finite()),
        _ => None,
    }
}

/// The last current at which it holds, to a part in 10⁹: it holds at `low` and not at `high`.
fn crossing(mut low: f64, mut high: f64, holds: &dyn Fn(f64) -> bool) -> f64 {
    while high - low > 1e-9 * high {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Kelvin = Kelvin(298.15);

    fn point(multiple: f64, shortest: f64, longest: f64) -> Point {
        Point { multiple, shortest: (shortest > 0.0).then_some(Second(shortest)), longest: Some(Second(longest)) }
    }

    /// The 5 A fast thermal push-pull breaker of the federal supply catalogue, NSN 5925-00-226-0377, at 25 °C (read); held multiple: MIL-C-5809
    /// family (from memory); the ultimate trip within an hour (from memory).
    fn fast(rating: f64) -> Device {
        let points =
            vec![point(1.38, 0.0, 3600.0), point(2.0, 0.38, 2.5), point(4.0, 0.10, 0.54), point(6.0, 0.05, 0.27), point(10.0, 0.02, 0.12)];
        Device {
            rating: Ampere(rating),
            holds: Some(1.15),
            ultimate: Some(1.38),
            bands: vec![Band { ambient: ROOM, points }],
            ambients: Vec::new(),
        }
    }

    fn time(edge: Option<Edge>) -> f64 {
        match edge {
            Some(Edge::Time(t)) => t.0,
            other => panic!("{other:?}"),
        }
    }

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected} within {relative}");
    }

    /// 5 A breaker at 15 A: log t over log I between 200 and 400 % gives 0.1740 s and 1.020 s (band read, arithmetic computed).
    #[test]
    fn between_points() {
        let device = fast(5.0);
        near(time(device.edge(Side::Shortest, Ampere(15.0), ROOM)), 0.1740, 1e-3);
        near(time(device.edge(Side::Longest, Ampere(15.0), ROOM)), 1.020, 1e-3);
        near(time(device.edge(Side::Longest, Ampere(10.0), ROOM)), 2.5, 1e-12);
        near(time(device.edge(Side::Shortest, Ampere(-50.0), ROOM)), 0.02, 1e-12);
    }

    /// Nothing is carried on beyond what is stated: above the last point, under the first, below the ultimate trip, without a band.
    #[test]
    fn ends_of_a_band() {
        let device = fast(5.0);
        assert_eq!(device.edge(Side::Longest, Ampere(51.0), ROOM), Some(Edge::Beyond(Second(0.12))));
        assert_eq!(device.edge(Side::Shortest, Ampere(51.0), ROOM), Some(Edge::Beyond(Second(0.02))));
        assert_eq!(device.edge(Side::Longest, Ampere(6.89), ROOM), Some(Edge::Never));
        near(time(device.edge(Side::Longest, Ampere(6.9), ROOM)), 3600.0, 1e-9);
        assert_eq!(device.edge(Side::Shortest, Ampere(5.75), ROOM), Some(Edge::Never));
        assert_eq!(device.edge(Side::Shortest, Ampere(5.76), ROOM), Some(Edge::Under(Second(0.38))));
        assert_eq!(Device { bands: Vec::new(), ..device.clone() }.edge(Side::Longest, Ampere(20.0), ROOM), None);
        assert_eq!(Device { bands: Vec::new(), ..device }.ultimate(ROOM), None);
    }

    /// √((155 − T)/130) by hand: 1.2710 at −55 °C, 0.8038 at 71 °C; the cold breaker is slower and lets more through for good, the hot one is faster.
    #[test]
    fn ambient_moves_both_edges() {
        let (cold, hot) = (Kelvin::from_celsius(-55.0), Kelvin::from_celsius(71.0));
        near(ambient_factor(cold, ROOM), 1.2710, 1e-4);
        near(ambient_factor(hot, ROOM), 0.8038, 1e-4);
        let device = fast(5.0);
        assert_eq!((device.met(ROOM), device.met(cold), device.met(hot)), (Some(Met::Stated), Some(Met::Shifted), Some(Met::Shifted)));
        near(device.ultimate(cold).unwrap_or_default().0, 1.38 * 5.0 * 1.2710, 1e-4);
        near(device.holds(hot).unwrap_or_default().0, 1.15 * 5.0 * 0.8038, 1e-4);
        near(time(device.edge(Side::Longest, Ampere(20.0 * ambient_factor(cold, ROOM)), cold)), 0.54, 1e-9);
        near(time(device.edge(Side::Shortest, Ampere(20.0 * ambient_factor(hot, ROOM)), hot)), 0.10, 1e-9);
        assert_eq!(device.edge(Side::Longest, Ampere(1.0), Kelvin::from_celsius(155.0)), Some(Edge::Time(Second(0.0))));
    }

    /// Between two bands: at −15 °C, halfway from −55 to 25 °C, a device carries √(170/130) = 1.1435 times what it does at 25 °C. At 4 times that, 4.5742 A, the
    /// band of 25 °C gives 2 s × 2⁻² = 0.5 s, and the other, at 4 × 1.2710 = 5.0839 A, 8 s × (5.0839/2)⁻² = 1.2382 s: √(0.5 × 1.2382) = 0.7869 s (computed).
    /// Beyond the outer one the default law goes on from it.
    #[test]
    fn between_ambients() {
        let band = |celsius: f64, t: f64| Band {
            ambient: Kelvin::from_celsius(celsius),
            points: vec![point(2.0, t / 4.0, t), point(10.0, t / 100.0, t / 25.0)],
        };
        let bands = vec![band(-55.0, 8.0), band(25.0, 2.0)];
        let device = Device { rating: Ampere(1.0), holds: None, ultimate: None, bands, ambients: Vec::new() };
        let middle = Kelvin::from_celsius(-15.0);
        assert_eq!(device.met(middle), Some(Met::Between));
        near(time(device.edge(Side::Longest, Ampere(4.5742), middle)), 0.7869, 1e-3);
        let hot = Kelvin::from_celsius(71.0);
        near(time(device.edge(Side::Longest, Ampere(2.0), hot)), 2.0 * (1.0 / ambient_factor(hot, ROOM)).powf(-2.0), 1e-9);
    }

    /// A hair below an ambient with a band nothing leaps, what is held for good included, and more current never takes longer.
    #[test]
    fn nothing_leaps_between_ambients() {
        let device = three_bands(10.0);
        for multiple in [1.0, 1.2, 1.5, 2.1, 3.0, 7.0, 12.0] {
            for side in [Side::Shortest, Side::Longest] {
                let [just, at] = [24.999_999, 25.0].map(|t| device.edge(side, Ampere(10.0 * multiple), Kelvin::from_celsius(t)));
                match (just, at) {
                    (Some(Edge::Time(a)), Some(Edge::Time(b))) => near(a.0, b.0, 1e-6),
                    (Some(Edge::Under(a)), Some(Edge::Under(b))) | (Some(Edge::Beyond(a)), Some(Edge::Beyond(b))) => near(a.0, b.0, 1e-6),
                    (a, b) => assert_eq!(a, b, "{multiple}"),
                }
            }
        }
        let times: Vec<f64> = (0..200)
            .filter_map(|n| match device.edge(Side::Longest, Ampere(20.0 * 1.01_f64.powi(n)), Kelvin::from_celsius(0.0)) {
                Some(Edge::Time(t)) => Some(t.0),
                _ => None,
            })
            .collect();
        assert!(times.len() > 100 && times.windows(2).all(|pair| pair[1] <= pair[0]));
    }

    /// A fuse whose maker says that it carries 95 % of its rating at 60 °C and 107 % at −20 °C (MIL-PRF-23419/9D, fuse selection, step 3, read): at 20 °C,
    /// halfway, 101 % of what it carries there (computed), beyond the rows what the last row says, and that is marked.
    #[test]
    fn a_makers_own_shift() {
        let celsius = Kelvin::from_celsius;
        let bands = vec![Band { ambient: celsius(20.0), points: vec![point(2.0, 0.1, 5.0), point(3.0, 0.01, 0.3)] }];
        let ambients = vec![(celsius(-20.0), 1.07), (celsius(60.0), 0.95)];
        let fuse = Device { rating: Ampere(4.0), holds: Some(1.0), ultimate: Some(1.35), bands, ambients };
        near(fuse.factor(celsius(60.0), celsius(20.0)), 0.95 / 1.01, 1e-12);
        near(fuse.factor(celsius(0.0), celsius(20.0)), 1.04 / 1.01, 1e-12);
        near(fuse.factor(celsius(100.0), celsius(20.0)), 0.95 / 1.01, 1e-12);
        near(fuse.factor(celsius(-60.0), celsius(20.0)), 1.07 / 1.01, 1e-12);
        near(fuse.holds(celsius(60.0)).unwrap_or_default().0, 4.0 * 0.95 / 1.01, 1e-12);
        near(time(fuse.edge(Side::Longest, Ampere(8.0 * 0.95 / 1.01), celsius(60.0))), 5.0, 1e-9);
        let met = [20.0, 60.0, -20.0, 61.0, -21.0].map(|t| fuse.met(celsius(t)));
        assert_eq!(met, [Some(Met::Stated), Some(Met::Between), Some(Met::Between), Some(Met::Shifted), Some(Met::Shifted)]);
    }

    /// What holds for good at 25 °C does not at 71 °C, where the maker has a band too: 1.15 · 0.8038 = 0.924 and 1.38 · 0.8038 = 1.109 times the rating;
    /// at −55 °C they are 1.15 · 1.2710 = 1.462 and 1.754 (computed).
    #[test]
    fn what_is_held_moves_with_the_ambient() {
        let device = three_bands(10.0);
        let (cold, hot) = (Kelvin::from_celsius(-55.0), Kelvin::from_celsius(71.0));
        assert_eq!(device.edge(Side::Shortest, Ampere(9.2), hot), Some(Edge::Never));
        assert!(matches!(device.edge(Side::Shortest, Ampere(9.3), hot), Some(Edge::Under(_))));
        assert_eq!(device.edge(Side::Longest, Ampere(11.0), hot), Some(Edge::Never));
        assert!(matches!(device.edge(Side::Longest, Ampere(11.2), hot), Some(Edge::Under(_))));
        assert_eq!(device.edge(Side::Longest, Ampere(17.5), cold), Some(Edge::Never));
        assert!(matches!(device.edge(Side::Longest, Ampere(17.6), cold), Some(Edge::Under(_))));
        assert_eq!(device.edge(Side::Shortest, Ampere(14.6), cold), Some(Edge::Never));
    }

    /// That band at 25 °C, and two invented ones beside it.
    fn three_bands(rating: f64) -> Device {
        let mut device = fast(rating);
        device.bands[0].points.remove(0);
        let room = device.bands[0].clone();
        let other = |celsius: f64, times: f64| Band {
            ambient: Kelvin::from_celsius(celsius),
            points: room
                .points
                .iter()
                .map(|p| point(p.multiple, times * p.shortest.map_or(0.0, |t| t.0), times * p.longest.map_or(0.0, |t| t.0)))
                .collect(),
        };
        device.bands = vec![other(-55.0, 1.8), room.clone(), other(71.0, 0.6)];
        device
    }

    /// 40 A through a 20 A and a 5 A breaker of that band: the lower opens by 0.171 s, the upper holds 0.38 s. Further up they meet where the upper
    /// edge falls to the lower's last 0.12 s: 20 A · 2 · (0.38/0.12)^(ln 2/ln 3.8) = 72.8 A (computed). From 23 A, which the upper one holds for good,
    /// to 25.1 A nothing says that it holds longer than at 200 %, 0.38 s, which the lower one takes at 5 A · 4 · (0.54/0.38)^(ln 1.5/ln 2) = 24.57 A.
    #[test]
    fn selective_ranges_by_hand() {
        let (lower, upper) = (fast(5.0), fast(20.0));
        near(time(lower.edge(Side::Longest, Ampere(40.0), ROOM)), 0.1710, 1e-3);
        near(time(upper.edge(Side::Shortest, Ampere(40.0), ROOM)), 0.38, 1e-9);
        let ranges = selectivity((&lower, ROOM), (&upper, ROOM), Ampere(0.0), Ampere(300.0)).unwrap_or_default();
        let kinds: Vec<First> = ranges.iter().map(|range| range.first).collect();
        assert_eq!(kinds, [First::Lower, First::NoDataBelow, First::Lower, First::PerhapsUpper, First::NoDataAbove], "{ranges:?}");
        for (range, [from, to]) in ranges.iter().zip([
            [6.9, 23.0],
            [23.0, 20.0 * (0.54_f64 / 0.38).powf(1.5_f64.ln() / 2.0_f64.ln())],
            [20.0 * (0.54_f64 / 0.38).powf(1.5_f64.ln() / 2.0_f64.ln()), 40.0 * (0.38_f64 / 0.12).powf(2.0_f64.ln() / 3.8_f64.ln())],
            [40.0 * (0.38_f64 / 0.12).powf(2.0_f64.ln() / 3.8_f64.ln()), 200.0],
            [200.0, 300.0],
        ]) {
            near(range.from.0, from, 1e-6);
            near(range.to.0, to, 1e-6);
        }
        // Two of one rating are not selective where both have to open.
        let alike = selectivity((&lower, ROOM), (&lower, ROOM), Ampere(0.0), Ampere(40.0)).unwrap_or_default();
        assert!(alike.iter().all(|range| range.first != First::Lower), "{alike:?}");
        assert_eq!(selectivity((&Device { ultimate: None, ..lower.clone() }, ROOM), (&upper, ROOM), Ampere(0.0), Ampere(40.0)), None);
    }

    /// 100,000 random currents agree with the range they fall into, with and without a current beside the fault.
    #[test]
    fn no_counter_example() {
        let mut state = 7_u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut met = [0; 4];
        for _ in 0..100 {
            let made = if random() < 0.5 { fast } else { three_bands };
            let (lower, mut upper) = (made(1.0 + 9.0 * random()), made(5.0 + 45.0 * random()));
            if random() < 0.3 {
                upper.ambients = vec![(Kelvin::from_celsius(-20.0), 1.07), (Kelvin::from_celsius(60.0), 0.95)];
            }
            let ambient = Kelvin::from_celsius(-70.0 + 160.0 * random());
            let above = Kelvin::from_celsius(-70.0 + 160.0 * random());
            let also = Ampere(if random() < 0.5 { 0.0 } else { 0.5 * upper.rating.0 * random() });
            let ranges = selectivity((&lower, ambient), (&upper, above), also, Ampere(400.0)).unwrap_or_default();
            let start = lower.ultimate(ambient).unwrap_or_default().0;
            assert!(ranges.first().is_some_and(|range| range.from.0 == start) && ranges.last().is_some_and(|range| range.to.0 == 400.0));
            assert!(ranges.windows(2).all(|pair| pair[0].to == pair[1].from && pair[0].first != pair[1].first), "{ranges:?}");
            for _ in 0..1000 {
                let current = start * (400.0 / start).powf(random());
                let Some(range) = ranges.iter().find(|range| current < range.to.0) else { continue };
                if [range.from.0, range.to.0].iter().any(|end| (current - end).abs() < 1e-7 * end) {
                    continue;
                }
                let longest = lower.edge(Side::Longest, Ampere(current), ambient);
                let shortest = upper.edge(Side::Shortest, Ampere(current) + also, above);
                let opens_first = match (longest, shortest) {
                    (_, Some(Edge::Never)) => true,
                    (Some(Edge::Time(a) | Edge::Beyond(a)), Some(Edge::Time(b) | Edge::Under(b))) => a.0 < b.0,
                    _ => false,
                };
                met[range.first as usize] += 1;
                assert_eq!(opens_first, range.first == First::Lower, "{current} A, {range:?}, {longest:?} {shortest:?}, also {also:?}");
            }
        }
        assert!(met.iter().all(|count| *count > 1000) && met.iter().sum::<i32>() > 99_000, "{met:?}");
    }
}
