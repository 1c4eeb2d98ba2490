//! Heat of a bundle's section: one temperature per conductor, heat from conductor to conductor and to what is around, per metre of length.
//!
//! ```text
//! places ─ hull, views, kinds of pairs (Network, once) ─ gas between (Filled, once per pressure) ─ currents and surroundings ─ temperatures
//! ```
//!
//! * Between neighbours: contact and gas through both jackets ([`contact`](crate::contact)), and grey radiation in the voids.
//! * To the outside: the film acts on the convex hull, with still gas between hull and jackets; radiation leaves arcs as far as they see out
//!   of the hull, and arcs see each other. A wrap is a ring of one temperature around the packing, outside of still gas or vacuum.
//! * A conductor has one temperature; the jacket's drop to the outside is counted on the length that sees the outside.
//!
//! Solved by Newton's method with the exact slope of radiation and resistance, on a fixed pattern; cost is n √n for each step.

use crate::contact::{Pair, Panels, Ring, TOUCHING};
use crate::film::Film;
use crate::gas::{conductivity, temperature_jump};
use crate::hull::{Behind, Disc, Hull, behind_edges, behind_ring, hull};
use crate::profile_matrix::{Coupling, Matrix, Profile};
use crate::radiation::{emitted, emitted_slope};
use crate::single_wire::{CEILING, joule_heat, root_within};
use crate::surroundings::Surroundings;
use crate::view::Views;
use crate::{
    Ampere, JoulePerMetreKelvin, Kelvin, Metre, OhmPerMetre, Pascal, PerKelvin, Second, TemperatureRise, WattPerMetre, WattPerMetreKelvin,
};
use core::f64::consts::PI;
use std::collections::HashMap;
use std::sync::Arc;

/// An insulated conductor in the section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Place of the centre, from the middle of the packing to the right.
    pub x: Metre,
    /// And upwards.
    pub y: Metre,
    /// Radius of the conductor.
    pub conductor: Metre,
    /// Radius over the jacket.
    pub jacket: Metre,
    /// Conductivity of the jacket.
    pub jacket_k: WattPerMetreKelvin,
    /// Emittance of the jacket's surface.
    pub emittance: f64,
}

/// A sleeve, braid or tape around all circles, about the origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wrap {
    /// Radius inside.
    pub inner: Metre,
    /// Radius outside.
    pub outer: Metre,
    /// Conductivity.
    pub k: WattPerMetreKelvin,
    /// Emittance inside.
    pub inner_emittance: f64,
    /// Emittance outside.
    pub outer_emittance: f64,
    /// Heat capacity per length.
    pub capacity: JoulePerMetreKelvin,
}

/// A packed section.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its wires.
    pub circles: Vec<Circle>,
    /// Conductance of one contact between two jackets, per metre of length, jacket surface to jacket surface.
    pub contact: WattPerMetreKelvin,
    /// What is around them.
    pub wrap: Option<Wrap>,
}

/// What fills the section between the wires.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fill {
    /// Nothing.
    Vacuum,
    /// Still air at a pressure.
    Air(Pascal),
    /// Still gas of one conductivity, without a temperature jump.
    Fixed(WattPerMetreKelvin),
}

/// What heats a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heating {
    /// Current.
    pub current: Ampere,
    /// Resistance per length at 20 °C.
    pub r20: OhmPerMetre,
    /// Temperature coefficient at 20 °C.
    pub alpha20: PerKelvin,
    /// Heat that does not depend on the temperature.
    pub extra: WattPerMetre,
}

impl Heating {
    /// No current.
    pub const IDLE: Heating = Heating { current: Ampere(0.0), r20: OhmPerMetre(0.0), alpha20: PerKelvin(0.0), extra: WattPerMetre(0.0) };

    fn at(&self, t: f64) -> f64 {
        joule_heat(self.current, self.r20, self.alpha20, Kelvin(t)).0 + self.extra.0
    }

    fn slope(&self, t: f64) -> f64 {
        let ohms = self.current.0 * self.current.0 * self.r20.0;
        if joule_heat(Ampere(1.0), OhmPerMetre(1.0), self.alpha20, Kelvin(t)).0 > 0.0 { ohms * self.alpha20.0 } else { 0.0 }
    }
}

/// Steady temperatures of a section.
#[derive(Clone, Debug)]
pub struct Settled {
    /// Of each conductor.
    pub conductor: Vec<Kelvin>,
    /// Of each jacket's surface where it sees the outside; of the conductor where it does not.
    pub jacket: Vec<Kelvin>,
    /// Mean of the jackets over the arcs that lie on the hull; with a wrap its outside.
    pub skin: Kelvin,
    /// Inside of the wrap.
    pub wrap: Option<Kelvin>,
    /// Film of the gas around; `None` in vacuum.
    pub film: Option<Film>,
    /// Newton steps.
    pub iterations: u32,
    /// Heat in less heat out, as a share of the heat in (of the heat that passes, where nothing heats).
    pub balance: f64,
    /// Where a solution of nearly the same may begin.
    pub start: Start,
}

/// Temperatures that a solution may begin at: those of a settled section.
#[derive(Clone, Debug)]
pub struct Start {
    t: Vec<f64>,
    /// The hull, where more is known of it than that it is as warm as the wires in the mean.
    hull: Option<f64>,
    /// The balance made straight, where these surroundings settled.
    known: Option<Arc<Straight>>,
}

impl Start {
    /// All unknowns of a section.
    pub(crate) fn at(t: Vec<f64>) -> Start {
        Start { t, hull: None, known: None }
    }

    /// The same where the hull is known.
    pub(crate) fn with_hull(t: Vec<f64>, hull: f64) -> Start {
        Start { t, hull: Some(hull), known: None }
    }

    /// For other surroundings, warmer by so much.
    pub fn warmer(&self, by: TemperatureRise) -> Start {
        Start { t: self.t.iter().map(|t| t + by.0).collect(), hull: self.hull.map(|hull| hull + by.0), known: None }
    }
}

/// No steady temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unsettled {
    /// The wire has none below [`CEILING`], or small rises grow.
    Runaway {
        /// Which wire.
        row: usize,
        /// Current of that wire at which it sets in, neighbours as they are; `None` where they alone suffice.
        current: Option<Ampere>,
    },
    /// The steps did not end. Not met with; named rather than left out.
    NotSettled {
        /// The wire that is least in balance.
        row: usize,
        /// By how much.
        imbalance: WattPerMetre,
    },
}

/// Steps of Newton's method at most.
const STEPS: u32 = 80;
/// How well the start is known, all at one temperature (K).
const START: f64 = 10.0;
/// Imbalance of a wire that counts as none, as a share of all heat that passes.
const BALANCED: f64 = 1e-10;
/// A step that changes no temperature by more than this is the last (K): the next would be its square times some 1e-2 per kelvin.
const LAST_STEP: f64 = 1e-3;
/// So is one of at most this (K), where it is no more than [`LAST_SHARE`] of the rise: what it leaves is below 1e-4 K (in vacuum some 1e-6 K; in gas the
/// conductivity behind the hull follows the hull, and the slope of that is left out), and a hundred-thousandth of the rise or 3e-5 K.
const LAST_OF_MANY: f64 = 0.02;
/// See [`LAST_OF_MANY`].
const LAST_SHARE: f64 = 1e-3;
/// A step of at most this (K) and this share of the rise is followed by some on the same factor,
const CHORD: f64 = 1.0;
const CHORD_SHARE: f64 = 0.1;
/// each at most this share of the one before, so that it leaves no more than that share of itself;
const QUICK: f64 = 0.05;
const CHORDS: usize = 3;
/// the last at most this (K), or that share of the rise up to a greatest value (K).
const SECOND: f64 = 2e-5;
const SECOND_SHARE: f64 = 2e-5;
const SECOND_OF_MANY: f64 = 2e-4;
/// A step changes no temperature by more than this (K).
const LARGEST_STEP: f64 = 200.0;
/// Jackets further apart than this share of the smaller radius exchange no heat through gas directly.
const GAS_REACH: f64 = 1.0;
/// Temperatures at which conductances of gas are taken; between and beyond them they run straight (K).
const GAS_AT: [f64; 2] = [300.0, 450.0];
/// Temperature at which the jacket's drop in closed voids is compared to radiation, a small correction (K).
const VOID_AT: Kelvin = Kelvin(350.0);

/// Where the circles of a section lie, and what they see of each other: the costly part of a [`Network`], the same wherever the same wires lie packed
/// alike.
#[derive(Clone, Debug)]
pub struct Places(Arc<Geometry>);

/// All that depends on places alone.
#[derive(Debug)]
struct Geometry {
    circles: Vec<Circle>,
    /// [`layer`] of each circle.
    layers: Vec<f64>,
    hull: Hull,
    views: Views,
    /// Length with which each circle sees the outside.
    exposed: Vec<f64>,
    /// Their sum.
    all_exposed: f64,
    /// What lies behind the straight edges of the hull or the wrap, by circle.
    behind: Vec<Behind>,
    /// Where each circle begins there; one more at the end.
    behind_from: Vec<u32>,
    kinds: Vec<Pair>,
    /// Circle, later circle, kind.
    pairs: Vec<(u32, u32, u32)>,
}

/// Two wires that exchange heat.
#[derive(Clone, Copy, Debug)]
struct Link {
    a: u32,
    b: u32,
    /// Grey exchange length (m).
    grey: f64,
    kind: Option<u32>,
    /// Where it stands in the matrix.
    place: Coupling,
}

/// A section made ready: geometry, radiation and contacts. To be kept over phases, corners and pressures.
#[derive(Clone, Debug)]
pub struct Network {
    geometry: Arc<Geometry>,
    wrap: Option<Wrap>,
    contact: f64,
    links: Vec<Link>,
    /// Grey exchange length with the outside.
    open: Vec<f64>,
    profile: Arc<Profile>,
}

impl Places {
    /// Of a section. Cost: a few µs for each wire, and n² of them in comparing places.
    pub fn new(section: &Section) -> Places {
        let circles = section.circles.clone();
        let discs: Vec<Disc> = circles.iter().map(|c| [c.x.0, c.y.0, c.jacket.0]).collect();
        let hull = hull(&discs);
        let views = Views::new(&discs, &hull);
        let least = discs.iter().map(|d| d[2]).fold(f64::INFINITY, f64::min);
        let mut behind = match &section.wrap {
            Some(wrap) => behind_ring(&discs, wrap.inner.0, least / 16.0),
            None => behind_edges(&discs, &hull, least / 8.0),
        };
        behind.sort_by_key(|b| b.circle);
        let (kinds, pairs) = kinds(&circles, &views);
        let exposed = views.exposed();
        let all_exposed = exposed.iter().sum();
        let behind_from = (0..=circles.len()).map(|i| behind.partition_point(|b| (b.circle as usize) < i) as u32).collect();
        let layers = circles.iter().map(layer).collect();
        let geometry = Geometry { circles, layers, hull, views, exposed, all_exposed, behind, behind_from, kinds, pairs };
        Places(Arc::new(geometry))
    }

    /// What of a section they hang on, bit by bit: sections with equal keys have equal places.
    pub fn key(section: &Section) -> Vec<u64> {
        let of_circle = |c: &Circle| [c.x.0, c.y.0, c.conductor.0, c.jacket.0, c.jacket_k.0];
        let numbers = section.circles.iter().flat_map(of_circle).chain(section.wrap.map(|wrap| wrap.inner.0));
        numbers.map(f64::to_bits).collect()
    }
}

impl Network {
    /// Makes a section ready.
    pub fn new(section: &Section) -> Network {
        Network::at(&Places::new(section), section)
    }

    /// The same where the places are known: those of a section with an equal [`Places::key`].
    pub fn at(places: &Places, section: &Section) -> Network {
        let emittance: Vec<f64> = section.circles.iter().map(|c| c.emittance).collect();
        Network::of(Arc::clone(&places.0), section.wrap, section.contact, &emittance)
    }

    /// The same places with another contact conductance, emittance of each row, and of the wrap: the ends of a range. The views are kept, and
    /// the radii of the wrap.
    pub fn with(&self, contact: WattPerMetreKelvin, wrap: Option<Wrap>, emittance: impl Fn(usize) -> f64) -> Network {
        let emittance: Vec<f64> = (0..self.geometry.circles.len()).map(emittance).collect();
        let sized = |new: Wrap| self.wrap.map(|old| Wrap { inner: old.inner, outer: old.outer, ..new });
        Network::of(Arc::clone(&self.geometry), wrap.and_then(sized).or(self.wrap), contact, &emittance)
    }

    fn of(geometry: Arc<Geometry>, wrap: Option<Wrap>, contact: WattPerMetreKelvin, emittance: &[f64]) -> Network {
        let n = geometry.circles.len();
        let behind_jacket = |(layer, e): (&f64, &f64)| if *e > 0.0 { 1.0 / (1.0 / e + emitted_slope(VOID_AT) * layer) } else { 0.0 };
        let hidden: Vec<f64> = geometry.layers.iter().zip(emittance).map(behind_jacket).collect();
        let exchange = geometry.views.exchange(emittance, &hidden);
        let mut links: Vec<Link> =
            exchange.between.iter().map(|&(a, b, grey)| Link { a, b, grey, kind: None, place: Coupling::default() }).collect();
        links.extend(geometry.pairs.iter().map(|&(a, b, kind)| Link { a, b, grey: 0.0, kind: Some(kind), place: Coupling::default() }));
        links.sort_by_key(|link| (link.a, link.b, link.kind));
        links.dedup_by(|later, kept| {
            let same = (later.a, later.b) == (kept.a, kept.b);
            if same {
                kept.grey += later.grey;
                kept.kind = kept.kind.or(later.kind);
            }
            same
        });
        // What is in contact does not radiate as well: as between two plates, the width of the patch.
        for link in &mut links {
            let patch = link.kind.map_or(0.0, |kind| geometry.kinds[kind as usize].patch());
            let (one, other) = (hidden[link.a as usize], hidden[link.b as usize]);
            if patch > 0.0 && one > 0.0 && other > 0.0 {
                link.grey = (link.grey - patch / (1.0 / one + 1.0 / other - 1.0)).max(0.0);
            }
        }
        let last = if wrap.is_some() { 2 } else { 0 };
        let mut pattern: Vec<(u32, u32)> = links.iter().map(|link| (link.a, link.b)).collect();
        if last > 0 {
            let (void, wrap) = (n as u32, n as u32 + 1);
            pattern.extend((0..n as u32).flat_map(|wire| [(wire, void), (wire, wrap)]));
            pattern.push((void, wrap));
        }
        let profile = Arc::new(Profile::new(n + last, &pattern, last));
        for link in &mut links {
            link.place = profile.coupling(link.a as usize, link.b as usize);
        }
        Network { geometry, wrap, contact: contact.0, links, open: exchange.outside, profile }
    }

    /// Wires.
    pub fn len(&self) -> usize {
        self.geometry.circles.len()
    }

    /// No wires.
    pub fn is_empty(&self) -> bool {
        self.geometry.circles.is_empty()
    }

    /// Perimeter of the convex hull, or of the wrap's outside: what the film acts on.
    pub fn perimeter(&self) -> Metre {
        Metre(self.wrap.map_or(self.geometry.hull.perimeter, |wrap| 2.0 * PI * wrap.outer.0))
    }

    /// With what lies between the wires.
    pub fn filled(&self, fill: Fill) -> Filled<'_> {
        self.filled_with(Arc::new(self.gaps(fill)))
    }

    /// With gaps of this network, or of one that differs from it in emittance alone.
    pub fn filled_with(&self, gaps: Arc<Gaps>) -> Filled<'_> {
        Filled { network: self, gaps }
    }

    /// What lies between the wires. Cost: some µs for each kind of pair.
    pub fn gaps(&self, fill: Fill) -> Gaps {
        let gas = |t: f64| match fill {
            Fill::Vacuum => None,
            Fill::Air(pressure) if pressure.0 <= 0.0 => None,
            Fill::Air(pressure) => Some((conductivity(Kelvin(t)).0, 2.0 * temperature_jump(Kelvin(t), pressure).0)),
            Fill::Fixed(k) => (k.0 > 0.0).then_some((k.0, 0.0)),
        };
        let geometry = &self.geometry;
        let pair = |kind: &Pair| GAS_AT.map(|t| kind.conductance(self.contact, gas(t)));
        let mut to_wrap = vec![[0.0; 2]; self.len()];
        if let Some(wrap) = self.wrap {
            // Towards the middle, in a sector of the wrap: gas, its jump at both faces, and the jacket on its own width.
            let ring = wrap.inner.0;
            for piece in &geometry.behind {
                let (layer, reach) = (geometry.layers[piece.circle as usize], (ring - piece.depth).max(1e-3 * ring));
                for (sum, t) in to_wrap[piece.circle as usize].iter_mut().zip(GAS_AT) {
                    *sum += gas(t).map_or(0.0, |(k, jump)| {
                        let thin = 0.5 * jump * (1.0 / ring + 1.0 / reach);
                        piece.width / ring / (((ring / reach).ln() + thin) / k + layer / reach)
                    });
                }
            }
        }
        Gaps { fill, pairs: geometry.kinds.iter().map(pair).collect(), to_wrap }
    }
}

/// Resistance of a jacket to heat that goes out on a length, times that length: b ln(b/a)/k (m² K/W).
fn layer(circle: &Circle) -> f64 {
    circle.jacket.0 * (circle.jacket.0 / circle.conductor.0).ln().max(0.0) / circle.jacket_k.0
}

/// Kinds of pairs, and which wires are one: those that touch, and those that see each other over a small gap.
fn kinds(circles: &[Circle], views: &Views) -> (Vec<Pair>, Vec<(u32, u32, u32)>) {
    let (mut kinds, mut pairs) = (Vec::new(), Vec::new());
    let mut known: HashMap<[u64; 7], u32> = HashMap::new();
    let mut laid: HashMap<(u64, bool), Arc<Panels>> = HashMap::new();
    let mut crowded: HashMap<([u64; 3], u64, bool), Arc<Vec<f64>>> = HashMap::new();
    let ring = |c: &Circle| Ring { inner: c.conductor.0, outer: c.jacket.0, k: c.jacket_k.0 };
    let bits = |ring: &Ring| [ring.inner.to_bits(), ring.outer.to_bits(), ring.k.to_bits()];
    let seeing = views.seeing();
    for (i, a) in circles.iter().enumerate() {
        for (j, b) in circles.iter().enumerate().skip(i + 1) {
            let (x, y, reach) = (b.x.0 - a.x.0, b.y.0 - a.y.0, a.jacket.0 + b.jacket.0);
            let small = a.jacket.0.min(b.jacket.0);
            let most = reach + GAS_REACH * small;
            if x * x + y * y > most * most {
                continue;
            }
            let gap = x.hypot(y) - reach;
            if gap > TOUCHING * small && seeing.binary_search(&(i as u32, j as u32)).is_err() {
                continue;
            }
            // Gaps are told apart in steps of 1 %, touching ones not below 1e-4 of the radius: there jackets decide.
            let share = (gap / small).max(1e-4);
            let share = if share <= 1e-4 { 0.0 } else { 10f64.powf((share.log10() * 200.0).round() / 200.0) };
            let share = if gap > TOUCHING * small { share.max(TOUCHING * 1.000_001) } else { share.min(TOUCHING) };
            let mut rings = [ring(a), ring(b)];
            if bits(&rings[0]) > bits(&rings[1]) {
                rings.swap(0, 1);
            }
            let ([p, q, r], [s, t, u]) = (bits(&rings[0]), bits(&rings[1]));
            let kind = *known.entry([p, q, r, s, t, u, share.to_bits()]).or_insert_with(|| {
                let touching = share <= TOUCHING;
                let panels = laid.entry((small.to_bits(), touching)).or_insert_with(|| Arc::new(Panels::new(small, touching)));
                let crowding = rings.map(|ring| {
                    let of = crowded.entry((bits(&ring), small.to_bits(), touching)).or_insert_with(|| Arc::new(panels.crowding(ring)));
                    Arc::clone(of)
                });
                kinds.push(Pair::new(rings.map(|ring| ring.outer), Arc::clone(panels), crowding, share * small));
                kinds.len() as u32 - 1
            });
            pairs.push((i as u32, j as u32, kind));
        }
    }
    (kinds, pairs)
}

/// What lies between the wires of a section. To be kept over states of one fill.
#[derive(Clone, Debug)]
pub struct Gaps {
    fill: Fill,
    /// Conductance of each kind of pair at [`GAS_AT`].
    pairs: Vec<[f64; 2]>,
    /// Conductance of gas from each wire to the wrap, at [`GAS_AT`].
    to_wrap: Vec<[f64; 2]>,
}

impl Gaps {
    /// What fills them.
    pub fn fill(&self) -> Fill {
        self.fill
    }
}

/// A network with what lies between its wires.
#[derive(Clone, Debug)]
pub struct Filled<'a> {
    network: &'a Network,
    gaps: Arc<Gaps>,
}

/// A conductance at a temperature, and its slope.
fn at(of: [f64; 2], t: f64) -> (f64, f64) {
    let slope = (of[1] - of[0]) / (GAS_AT[1] - GAS_AT[0]);
    let bounded = t.clamp(120.0, 1500.0);
    (of[0] + slope * (bounded - GAS_AT[0]), if bounded == t { slope } else { 0.0 })
}

/// Heat that goes out through a resistance: temperature behind it, heat, slope of the heat against the temperature before it, and by how much it
/// lessens any other slope.
fn through(t: f64, resistance: f64, heat: impl Fn(f64) -> (f64, f64)) -> (f64, f64, f64, f64) {
    let mut behind = t;
    for _ in 0..30 {
        let (q, slope) = heat(behind);
        let lessened = 1.0 / (1.0 + resistance * slope);
        let step = (behind + resistance * q - t) * lessened;
        // Heat bends by some 1e-2 of its slope per kelvin: along its tangent such a step (1 mK) errs by 1e-8 K.
        if step.abs() <= 3e-6 * t.abs() {
            return (behind - step, q - slope * step, slope * lessened, lessened);
        }
        behind = (behind - step).max(1.0);
    }
    let (q, slope) = heat(behind);
    let lessened = 1.0 / (1.0 + resistance * slope);
    (behind, q, slope * lessened, lessened)
}

/// What is around the hull at one of its temperatures.
struct Outside {
    film: Option<Film>,
    gas: f64,
    /// dh/dT of the film.
    slope: f64,
    /// Conductivity of the still gas behind the hull.
    k: f64,
}

/// Heat that leaves a wire for the surroundings.
struct Leaves {
    /// Temperature of its jacket.
    skin: f64,
    q: f64,
    /// Against the conductor's temperature, with the film as it is.
    slope: f64,
    /// Against the film's coefficient.
    q_by_h: f64,
    /// What the film takes of it, and the same slopes of that.
    film: f64,
    film_slope: f64,
    film_by_h: f64,
}

impl Leaves {
    /// Of a wire in the midst of others.
    fn nothing(t: f64) -> Leaves {
        Leaves { skin: t, q: 0.0, slope: 0.0, q_by_h: 0.0, film: 0.0, film_slope: 0.0, film_by_h: 0.0 }
    }
}

/// The hull's temperature as one more unknown: the film depends on it, and it on what the film takes.
#[derive(Clone, Debug, Default)]
struct Border {
    /// Slope of each wire's loss against the hull's temperature.
    by_hull: Vec<f64>,
    /// Slope of the hull's temperature against each wire's.
    by_wire: Vec<f64>,
    /// What the hull's temperature is off what the film takes, and the slope of that.
    off: f64,
    slope: f64,
}

/// A step in time, for the transient: heat capacity over the step, and the temperatures it starts from.
pub(crate) struct Step<'a> {
    pub(crate) capacity: &'a [f64],
    pub(crate) from: &'a [f64],
    pub(crate) lasts: f64,
}

/// Temperatures found.
#[derive(Clone, Debug)]
pub(crate) struct State {
    /// Wires; with a wrap also what the voids radiate as, and the wrap.
    pub(crate) t: Vec<f64>,
    /// Mean of the hull.
    pub(crate) hull: f64,
    pub(crate) iterations: u32,
    /// The balance made straight near them.
    straight: Option<Arc<Straight>>,
}

/// The balance of a section made straight at a state: J dT + u dh = −F and −w dT + g dh = −G, with one factor for both.
#[derive(Clone, Debug)]
struct Straight {
    matrix: Matrix,
    /// J⁻¹ u, and whether anything depends on the hull.
    by_hull: Vec<f64>,
    follows: bool,
    by_wire: Vec<f64>,
    /// Slope of what the hull is off, with the wires following it.
    slope: f64,
}

impl Straight {
    /// Of a factored matrix.
    fn new(matrix: Matrix, border: &mut Border) -> Straight {
        let (mut by_hull, by_wire) = (std::mem::take(&mut border.by_hull), std::mem::take(&mut border.by_wire));
        let follows = by_hull.iter().any(|slope| *slope != 0.0);
        if follows {
            matrix.solve(&mut by_hull);
        }
        let slope = border.slope + product(&by_wire, &by_hull);
        Straight { matrix, by_hull, follows, by_wire, slope }
    }

    /// What each unknown is to fall by, in the place of its residual; gives what the hull, off by so much, is to rise by.
    fn step(&self, residual: &mut [f64], off: f64) -> f64 {
        self.matrix.solve(residual);
        if !self.follows {
            // Nothing depends on the hull: it follows.
            return -(off + product(&self.by_wire, residual));
        }
        let rise = -(off + product(&self.by_wire, residual)) / self.slope;
        residual.iter_mut().zip(&self.by_hull).for_each(|(step, by_hull)| *step += rise * by_hull);
        rise
    }
}

fn product(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Flows of a state.
struct Flows {
    heat: f64,
    passing: f64,
    film: Option<Film>,
    skin: f64,
}

/// Which derivatives go into the matrix.
#[derive(Clone, Copy, PartialEq)]
enum Slopes {
    All,
    /// Without that of resistance, so that every pivot is positive.
    Cooling,
}

impl Filled<'_> {
    /// Steady temperatures with a current in each wire.
    ///
    /// # Units     one [`Heating`] for each circle, in their order
    /// # Validity  Long straight wires side by side; gas between the wires does not move; sun and sink act on what sees the outside, in proportion.
    /// # Errors    [`Unsettled`], with the wire.
    /// # Source    Computed: heat in = heat out of every wire.
    pub fn settle(&self, heating: &[Heating], around: &Surroundings) -> Result<Settled, Unsettled> {
        self.settle_from(None, heating, around)
    }

    /// Where a solution may begin whose conductors, in the order of the circles, and outside will be near these temperatures.
    pub fn start(&self, conductors: impl Iterator<Item = Kelvin>, skin: Kelvin) -> Start {
        let mut t: Vec<f64> = conductors.map(|t| t.0).collect();
        let mean = t.iter().sum::<f64>() / t.len().max(1) as f64;
        t.resize(self.unknowns(), mean);
        Start::with_hull(t, skin.0)
    }

    /// As [`Filled::settle`], beginning at what settled with nearly the same heat and surroundings; where that leads nowhere, from nothing.
    pub fn settle_from(&self, start: Option<&Start>, heating: &[Heating], around: &Surroundings) -> Result<Settled, Unsettled> {
        let n = self.network.len();
        let near = start.and_then(|start| self.solve(start, heating, around, None, None).ok());
        if let Some(state) = near.filter(|state| state.t[..n].iter().all(|t| *t < CEILING.0)) {
            return Ok(self.settled(state, heating, around));
        }
        // The first of those that rounding alone tells apart.
        let hottest = |by: &[f64]| (0..n).reduce(|a, b| if by[b] > by[a] + 1e-6 * by[a].abs() { b } else { a }).unwrap_or(0);
        let runaway = |row: usize| Unsettled::Runaway { row, current: self.allowed(row, CEILING, heating, around).ok().flatten() };
        let start = self.isothermal_within(heating, around, START);
        if start >= CEILING.0 {
            let heats: Vec<f64> = heating.iter().map(|h| h.at(CEILING.0)).collect();
            return Err(runaway(hottest(&heats)));
        }
        let state = match self.solve(&self.level(start), heating, around, None, None) {
            Ok(state) if state.t[..n].iter().all(|t| *t < CEILING.0) => state,
            Ok(state) => return Err(runaway(hottest(&state.t))),
            Err(Stuck { state, unstable: true, .. }) => return Err(runaway(hottest(&state))),
            Err(Stuck { row, imbalance, .. }) => return Err(Unsettled::NotSettled { row, imbalance: WattPerMetre(imbalance) }),
        };
        Ok(self.settled(state, heating, around))
    }

    /// What a solution says.
    fn settled(&self, state: State, heating: &[Heating], around: &Surroundings) -> Settled {
        let n = self.network.len();
        let mut residual = vec![0.0; state.t.len()];
        let mut jacket = vec![0.0; n];
        let flows = self.assemble(&state.t, state.hull, heating, around, None, &mut residual, &mut jacket, &mut Border::default());
        let net: f64 = residual.iter().sum();
        let whole = if flows.heat > 0.0 { flows.heat } else { flows.passing.max(f64::MIN_POSITIVE) };
        Settled {
            conductor: state.t[..n].iter().map(|t| Kelvin(*t)).collect(),
            jacket: jacket.into_iter().map(Kelvin).collect(),
            skin: Kelvin(flows.skin),
            wrap: state.t.get(n + 1).map(|t| Kelvin(*t)),
            film: flows.film,
            iterations: state.iterations,
            balance: net.abs() / whole,
            start: Start { t: state.t, hull: Some(state.hull), known: state.straight },
        }
    }

    /// Time in which each wire follows a change of its own heat, all else as it is: its capacity over what it loses per kelvin.
    ///
    /// # Units     `capacity` of each conductor (J/(m K)) → (s)
    /// # Validity  The shortest that there is: neighbours that warm with it make it longer.
    pub fn time_constants(
        &self,
        start: &Start,
        capacity: &[JoulePerMetreKelvin],
        heating: &[Heating],
        around: &Surroundings,
    ) -> Vec<Second> {
        let n = self.network.len();
        let (mut residual, mut jacket) = (vec![0.0; start.t.len()], vec![0.0; n]);
        let mut matrix = Matrix::new(&self.network.profile);
        let hull = start.t.iter().take(n).sum::<f64>() / n.max(1) as f64;
        let into = Some((&mut matrix, Slopes::Cooling));
        self.assemble(&start.t, hull, heating, around, into, &mut residual, &mut jacket, &mut Border::default());
        capacity.iter().enumerate().map(|(wire, capacity)| Second(capacity.0 / matrix.own(wire))).collect()
    }

    /// Current of a wire that brings it to a limit, its neighbours carrying what they do; `None` where they and the surroundings alone bring it beyond.
    ///
    /// # Errors  [`Unsettled`] where the neighbours find no steady state.
    pub fn allowed(&self, row: usize, limit: Kelvin, heating: &[Heating], around: &Surroundings) -> Result<Option<Ampere>, Unsettled> {
        let start = self.isothermal_within(heating, around, START).min(limit.0);
        let state = self.solve(&self.level(start), heating, around, Some((row, limit.0)), None).map_err(|stuck| {
            let imbalance = WattPerMetre(stuck.imbalance);
            if stuck.unstable {
                Unsettled::Runaway { row: stuck.row, current: None }
            } else {
                Unsettled::NotSettled { row: stuck.row, imbalance }
            }
        })?;
        let mut idle = heating.to_vec();
        idle[row].current = Ampere(0.0);
        let mut residual = vec![0.0; state.t.len()];
        let mut jacket = vec![0.0; self.network.len()];
        self.assemble(&state.t, state.hull, &idle, around, None, &mut residual, &mut jacket, &mut Border::default());
        // What the wire loses beyond its constant heat is for the current to make up.
        let ohms = joule_heat(Ampere(1.0), heating[row].r20, heating[row].alpha20, limit).0;
        Ok((residual[row] >= 0.0 && ohms > 0.0).then(|| Ampere((residual[row] / ohms).sqrt())))
    }

    /// The temperature of all wires together if nothing separated them: no wire that is hottest is colder.
    pub fn isothermal(&self, heating: &[Heating], around: &Surroundings) -> Kelvin {
        Kelvin(self.isothermal_within(heating, around, 0.0))
    }

    fn isothermal_within(&self, heating: &[Heating], around: &Surroundings, width: f64) -> f64 {
        let n = self.network.len();
        let total = |t: f64| {
            let outside = self.outside(t, around);
            let out = match self.network.wrap {
                Some(wrap) => self.leaves_wrap(&wrap, t, around).1,
                None => (0..n).map(|i| self.leaves_wire(i, t, &outside, around).q).sum(),
            };
            out - heating.iter().map(|h| h.at(t)).sum::<f64>()
        };
        root_within(around.coldest().0, CEILING.0, width, total)
    }

    /// Wires; with a wrap also what the voids radiate as, and the wrap.
    fn unknowns(&self) -> usize {
        self.network.len() + if self.network.wrap.is_some() { 2 } else { 0 }
    }

    /// All unknowns at one temperature.
    pub(crate) fn level(&self, t: f64) -> Start {
        Start::at(vec![t; self.unknowns()])
    }

    /// Heat capacity of each unknown.
    pub(crate) fn capacities(&self, of_wires: &[JoulePerMetreKelvin]) -> Vec<f64> {
        let mut out: Vec<f64> = of_wires.iter().map(|c| c.0).collect();
        out.extend(self.network.wrap.iter().flat_map(|wrap| [0.0, wrap.capacity.0]));
        out
    }

    /// Film at a temperature of the hull.
    fn outside(&self, hull: f64, around: &Surroundings) -> Outside {
        let diameter = self.network.perimeter() / PI;
        let Some(gas) = &around.gas else { return Outside { film: None, gas: 0.0, slope: 0.0, k: 0.0 } };
        let at = |t: f64| around.film(diameter, Kelvin(t));
        let k = match self.gaps.fill {
            Fill::Fixed(k) => k.0,
            Fill::Air(_) | Fill::Vacuum => conductivity(Kelvin(0.5 * (hull + gas.temperature.0))).0,
        };
        let film = at(hull);
        // A film of free convection grows by a power of the rise, so that its slope changes as fast as the rise does.
        let aside = 1e-4 * (hull - gas.temperature.0).abs() + 1e-7;
        let slope = film.zip(at(hull + aside)).map_or(0.0, |(here, there)| (there.h.0 - here.h.0) / aside);
        Outside { film, gas: gas.temperature.0, slope, k }
    }

    /// Film of the hull in front of a wire: conductance through the still gas behind it, and its slope against h.
    fn hull_film(&self, wire: usize, h: f64, k: f64) -> (f64, f64) {
        let geometry = &self.network.geometry;
        let arc = geometry.hull.arcs[wire];
        let (mut sum, mut slope) = (arc * h, arc);
        if h > 0.0 {
            let own = geometry.behind_from[wire] as usize..geometry.behind_from[wire + 1] as usize;
            for piece in &geometry.behind[own] {
                let share = 1.0 / (1.0 + h * piece.depth / k);
                sum += piece.width * h * share;
                slope += piece.width * share * share;
            }
        }
        (sum, slope)
    }

    /// From a wire to the surroundings, without a wrap.
    fn leaves_wire(&self, wire: usize, t: f64, outside: &Outside, around: &Surroundings) -> Leaves {
        let geometry = &self.network.geometry;
        let exposed = geometry.exposed[wire];
        let (film, by_h) = outside.film.map_or((0.0, 0.0), |film| self.hull_film(wire, film.h.0, outside.k));
        let grey = self.network.open[wire];
        if film == 0.0 && by_h == 0.0 && grey == 0.0 && exposed <= 0.0 {
            return Leaves::nothing(t);
        }
        // A wire that lies behind the hull and sees nothing of it has no jacket to count.
        let (share, layer) = if exposed > 0.0 { (exposed / geometry.all_exposed, geometry.layers[wire] / exposed) } else { (0.0, 0.0) };
        let sink = around.sink.map_or((0.0, 0.0), |sink| (share * sink.conductance.0, sink.temperature.0));
        let walls = emitted(around.walls);
        let heat = |s: f64| {
            let q = grey * (emitted(Kelvin(s)) - walls) + film * (s - outside.gas) + sink.0 * (s - sink.1) - share * around.absorbed.0;
            (q, grey * emitted_slope(Kelvin(s)) + film + sink.0)
        };
        let (skin, q, slope, lessened) = through(t, layer, heat);
        let rise = skin - outside.gas;
        let q_by_h = by_h * rise * lessened;
        Leaves { skin, q, slope, q_by_h, film: film * rise, film_slope: film * lessened, film_by_h: by_h * rise - film * layer * q_by_h }
    }

    /// From the wrap to the surroundings: temperature of its outside, heat, slope. The film is that of the outside's own temperature.
    fn leaves_wrap(&self, wrap: &Wrap, t: f64, around: &Surroundings) -> (f64, f64, f64) {
        let surface = 2.0 * PI * wrap.outer.0;
        let sink = around.sink.map_or((0.0, 0.0), |sink| (sink.conductance.0, sink.temperature.0));
        let walls = emitted(around.walls);
        let heat = |s: f64| {
            let outside = self.outside(s, around);
            let (h, rise) = (outside.film.map_or(0.0, |film| film.h.0), s - outside.gas);
            let radiated = wrap.outer_emittance * (emitted(Kelvin(s)) - walls);
            let q = surface * (radiated + h * rise) + sink.0 * (s - sink.1) - around.absorbed.0;
            (q, surface * (wrap.outer_emittance * emitted_slope(Kelvin(s)) + h + outside.slope * rise) + sink.0)
        };
        let resistance = (wrap.outer.0 / wrap.inner.0).ln().max(0.0) / (2.0 * PI * wrap.k.0);
        let (skin, q, slope, _) = through(t, resistance, heat);
        (skin, q, slope)
    }

    /// What each unknown loses less what heats it, and the slopes of that.
    #[expect(clippy::too_many_arguments, reason = "the one place where state, heat and surroundings meet")]
    fn assemble(
        &self,
        t: &[f64],
        hull: f64,
        heating: &[Heating],
        around: &Surroundings,
        mut matrix: Option<(&mut Matrix, Slopes)>,
        residual: &mut [f64],
        jacket: &mut [f64],
        border: &mut Border,
    ) -> Flows {
        let (n, geometry) = (self.network.len(), &self.network.geometry);
        residual.fill(0.0);
        let radiates: Vec<(f64, f64)> = t.iter().map(|t| (emitted(Kelvin(*t)), emitted_slope(Kelvin(*t)))).collect();
        for link in &self.network.links {
            let (a, b) = (link.a as usize, link.b as usize);
            let difference = t[a] - t[b];
            let (through, slope) = link.kind.map_or((0.0, 0.0), |kind| at(self.gaps.pairs[kind as usize], 0.5 * (t[a] + t[b])));
            let q = through * difference + link.grey * (radiates[a].0 - radiates[b].0);
            residual[a] += q;
            residual[b] -= q;
            if let Some((matrix, _)) = &mut matrix {
                let by_a = through + 0.5 * slope * difference + link.grey * radiates[a].1;
                let by_b = through - 0.5 * slope * difference + link.grey * radiates[b].1;
                matrix.couple(link.place, by_a, by_b);
            }
        }
        let mut add = |row: usize, column: usize, value: f64| {
            if let Some((matrix, _)) = &mut matrix {
                matrix.add(row, column, value);
            }
        };
        let mut flows = Flows { heat: 0.0, passing: around.absorbed.0.abs(), film: None, skin: 0.0 };
        *border = Border { by_hull: vec![0.0; t.len()], by_wire: vec![0.0; t.len()], off: 0.0, slope: 1.0 };
        if let Some(wrap) = self.network.wrap {
            let (void, ring) = (n, n + 1);
            for i in 0..n {
                let exposed = geometry.exposed[i];
                jacket[i] = t[i];
                if exposed > 0.0 && self.network.open[i] > 0.0 {
                    let (grey, back) = (self.network.open[i], emitted(Kelvin(t[void])));
                    let heat = |s: f64| (grey * (emitted(Kelvin(s)) - back), grey * emitted_slope(Kelvin(s)));
                    let (skin, q, slope, lessened) = through(t[i], geometry.layers[i] / exposed, heat);
                    jacket[i] = skin;
                    let by_void = grey * emitted_slope(Kelvin(t[void])) * lessened;
                    residual[i] += q;
                    residual[void] -= q;
                    add(i, i, slope);
                    add(i, void, -by_void);
                    add(void, void, by_void);
                    add(void, i, -slope);
                }
                let (through, slope) = at(self.gaps.to_wrap[i], 0.5 * (t[i] + t[ring]));
                let difference = t[i] - t[ring];
                residual[i] += through * difference;
                residual[ring] -= through * difference;
                let (by_wire, by_ring) = (through + 0.5 * slope * difference, through - 0.5 * slope * difference);
                add(i, i, by_wire);
                add(i, ring, -by_ring);
                add(ring, ring, by_ring);
                add(ring, i, -by_wire);
            }
            // Between what the voids radiate as and the inside of the wrap stands the wrap's own greyness.
            let grey = wrap.inner_emittance.clamp(1e-6, 1.0 - 1e-6);
            let grey = 2.0 * PI * wrap.inner.0 * grey / (1.0 - grey);
            let q = grey * (emitted(Kelvin(t[void])) - emitted(Kelvin(t[ring])));
            let (by_void, by_ring) = (grey * emitted_slope(Kelvin(t[void])), grey * emitted_slope(Kelvin(t[ring])));
            residual[void] += q;
            residual[ring] -= q;
            add(void, void, by_void);
            add(void, ring, -by_ring);
            add(ring, ring, by_ring);
            add(ring, void, -by_void);
            let (skin, out, slope) = self.leaves_wrap(&wrap, t[ring], around);
            residual[ring] += out;
            add(ring, ring, slope);
            flows.passing += out.abs();
            flows.skin = skin;
            flows.film = self.outside(skin, around).film;
        } else {
            let outside = self.outside(hull, around);
            let (mut film, mut film_by_h, mut skin) = (0.0, 0.0, 0.0);
            let whole = outside.film.map_or(0.0, |film| film.h.0 * geometry.hull.perimeter);
            for i in 0..n {
                let leaves = self.leaves_wire(i, t[i], &outside, around);
                jacket[i] = leaves.skin;
                residual[i] += leaves.q;
                add(i, i, leaves.slope);
                film += leaves.film;
                film_by_h += leaves.film_by_h;
                skin += geometry.hull.arcs[i] * leaves.skin;
                flows.passing += leaves.q.abs();
                border.by_hull[i] = leaves.q_by_h * outside.slope;
                border.by_wire[i] = if whole > 0.0 { leaves.film_slope / whole } else { 0.0 };
            }
            flows.skin = skin / geometry.hull.arcs.iter().sum::<f64>();
            flows.film = outside.film;
            if let (Some(of), true) = (outside.film, whole > 0.0) {
                border.off = hull - outside.gas - film / whole;
                border.slope = 1.0 + outside.slope / whole * (film / of.h.0 - film_by_h);
            }
        }
        let slopes = matrix.as_ref().map(|(_, slopes)| *slopes);
        for (i, heating) in heating.iter().enumerate() {
            let heat = heating.at(t[i]);
            residual[i] -= heat;
            flows.heat += heat;
            if let (Some((matrix, _)), Some(Slopes::All)) = (&mut matrix, slopes) {
                matrix.add(i, i, -heating.slope(t[i]));
            }
        }
        flows.passing += flows.heat;
        flows
    }

    /// Newton's method from a start; one row may be held at a temperature, or all may step in time.
    pub(crate) fn solve(
        &self,
        start: &Start,
        heating: &[Heating],
        around: &Surroundings,
        held: Option<(usize, f64)>,
        step: Option<&Step<'_>>,
    ) -> Result<State, Stuck> {
        let n = self.network.len();
        let mut t = start.t.clone();
        if let Some((row, limit)) = held {
            t[row] = limit;
        }
        let mut hull = start.hull.unwrap_or_else(|| t.iter().take(n).sum::<f64>() / n.max(1) as f64);
        let mut residual = vec![0.0; t.len()];
        let mut jacket = vec![0.0; n];
        let mut border = Border::default();
        let cold = around.coldest().0;
        let warmest = |t: &[f64]| t.iter().take(n).copied().fold(0.0, f64::max) - cold;
        let moved = |t: &mut [f64], hull: &mut f64, steps: &[f64], rise: f64, share: f64| {
            t.iter_mut().zip(steps).for_each(|(t, step)| *t = (*t - share * step).clamp(1.0, 4.0 * CEILING.0));
            *hull = (*hull + share * rise).clamp(1.0, 4.0 * CEILING.0);
        };
        let most = |steps: &[f64]| steps.iter().fold(0.0f64, |most, step| most.max(step.abs()));
        // One step on a factor that is there; how far it goes.
        let mut again = |straight: &Straight, t: &mut [f64], hull: &mut f64, residual: &mut [f64], jacket: &mut [f64]| {
            self.assemble(t, *hull, heating, around, None, residual, jacket, &mut border);
            if let Some(step) = step {
                for (i, residual) in residual.iter_mut().enumerate() {
                    *residual += step.capacity[i] / step.lasts * (t[i] - step.from[i]);
                }
            }
            if let Some((row, _)) = held {
                residual[row] = 0.0;
            }
            let rise = straight.step(residual, border.off);
            moved(t, hull, residual, rise, 1.0);
            most(residual).max(rise.abs())
        };
        let small = |t: &[f64]| SECOND.max((SECOND_SHARE * warmest(t)).min(SECOND_OF_MANY));
        let reach = |t: &[f64]| CHORD.min(CHORD_SHARE * warmest(t));
        // Steps on a factor that is there, after one of that size, while they shrink quickly; whether the last of them is small.
        let mut follow = |straight: &Straight, mut last: f64, t: &mut [f64], hull: &mut f64, residual: &mut [f64], jacket: &mut [f64]| {
            for _ in 0..CHORDS {
                let next = again(straight, t, hull, residual, jacket);
                if next <= small(t) && next <= QUICK * last.max(SECOND) {
                    return true;
                }
                if next.is_nan() || next > QUICK * last {
                    return false;
                }
                last = next;
            }
            false
        };
        if let (Some(straight), None, None) = (&start.known, held, step) {
            // As if a step had led here that goes as far as may be.
            let before = reach(&t) / QUICK;
            if follow(straight, before, &mut t, &mut hull, &mut residual, &mut jacket) {
                return Ok(State { t, hull, iterations: 0, straight: Some(Arc::clone(straight)) });
            }
        }
        let mut matrix = Matrix::new(&self.network.profile);
        let mut unstable = false;
        let mut worst = (0, f64::INFINITY);
        let stuck = |worst: (usize, f64), unstable: bool, state: Vec<f64>| Stuck {
            row: worst.0.min(n.saturating_sub(1)),
            imbalance: worst.1,
            unstable,
            state,
        };
        for iterations in 0..STEPS {
            let mut border = Border::default();
            for slopes in [Slopes::All, Slopes::Cooling] {
                matrix.clear();
                let into = Some((&mut matrix, slopes));
                let flows = self.assemble(&t, hull, heating, around, into, &mut residual, &mut jacket, &mut border);
                if let Some(step) = step {
                    for (i, residual) in residual.iter_mut().enumerate() {
                        let rate = step.capacity[i] / step.lasts;
                        *residual += rate * (t[i] - step.from[i]);
                        matrix.add(i, i, rate);
                    }
                }
                if let Some((row, _)) = held {
                    residual[row] = 0.0;
                    border.by_hull[row] = 0.0;
                    matrix.hold(row);
                }
                worst = residual.iter().enumerate().fold((0, 0.0), |worst, (i, r)| if r.abs() > worst.1 { (i, r.abs()) } else { worst });
                // What rounding of the temperatures alone leaves is no imbalance.
                let rounding = 1e-14 * matrix.largest() * t.iter().copied().fold(0.0, f64::max);
                let balanced = worst.1 <= BALANCED * flows.passing + rounding && border.off.abs() <= 1e-6;
                let stable = matrix.factor().is_ok();
                match (balanced, stable, slopes) {
                    (true, true, Slopes::All) => return Ok(State { t, hull, iterations, straight: None }),
                    (true, ..) | (_, false, Slopes::Cooling) => return Err(stuck(worst, true, t)),
                    (_, false, Slopes::All) => unstable = true,
                    (_, true, _) => break,
                }
            }
            let straight = Straight::new(matrix, &mut border);
            let rise = straight.step(&mut residual, border.off);
            let largest = most(&residual);
            let share = if largest > LARGEST_STEP { LARGEST_STEP / largest } else { 1.0 };
            moved(&mut t, &mut hull, &residual, rise, share);
            let first = largest.max(rise.abs());
            let mut done = first <= LAST_STEP.max((LAST_SHARE * warmest(&t)).min(LAST_OF_MANY)) && !unstable;
            if !done && !unstable && first <= reach(&t) {
                done = follow(&straight, first, &mut t, &mut hull, &mut residual, &mut jacket);
            }
            if done {
                let straight = (held.is_none() && step.is_none()).then(|| Arc::new(straight));
                return Ok(State { t, hull, iterations: iterations + 1, straight });
            }
            matrix = straight.matrix;
        }
        Err(stuck(worst, unstable, t))
    }
}

/// Newton's method did not end in a stable state.
pub(crate) struct Stuck {
    pub(crate) row: usize,
    pub(crate) imbalance: f64,
    pub(crate) unstable: bool,
    pub(crate) state: Vec<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::Gas;
    use crate::packing::pack;
    use crate::single_wire::{Wire, settle};
    use crate::surroundings::Sink;
    use crate::{MetrePerSecond, WattPerSquareMetreKelvin};

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    fn circle(x: f64, y: f64, jacket: f64) -> Circle {
        Circle {
            x: Metre(x),
            y: Metre(y),
            conductor: Metre(0.78 * jacket),
            jacket: Metre(jacket),
            jacket_k: WattPerMetreKelvin(0.24),
            emittance: 0.85,
        }
    }

    /// A packed bundle of wires of these radii in mm.
    fn bundle(radii: &[f64], contact: f64) -> Section {
        let diameters: Vec<Metre> = radii.iter().map(|r| Metre(2e-3 * r)).collect();
        let packing = pack(&diameters).expect("they are circles");
        let circles = packing.places.iter().zip(radii).map(|(at, r)| circle(at.x.0, at.y.0, 1e-3 * r)).collect();
        Section { circles, contact: WattPerMetreKelvin(contact), wrap: None }
    }

    const MIXED: [f64; 12] = [1.4, 0.6, 0.6, 0.5, 0.9, 0.35, 0.35, 0.6, 0.6, 0.7, 0.45, 1.0];

    const WALLS: Kelvin = Kelvin(293.15);

    fn vacuum() -> Surroundings {
        Surroundings::vacuum(WALLS)
    }

    fn gas() -> Gas {
        Gas {
            temperature: Kelvin(303.15),
            pressure: Pascal(101_325.0),
            gravity: 1.0,
            speed: MetrePerSecond(0.0),
            wall_distance: Some(Metre(0.1)),
        }
    }

    fn air() -> Surroundings {
        Surroundings::in_gas(gas(), WALLS)
    }

    fn fixed(h: f64) -> Surroundings {
        Surroundings { film: Some(WattPerSquareMetreKelvin(h)), ..air() }
    }

    fn heat(watts: f64) -> Heating {
        Heating { extra: WattPerMetre(watts), ..Heating::IDLE }
    }

    /// A current in copper of the area that 0.78 r leaves.
    fn current(amperes: f64, radius_mm: f64) -> Heating {
        let area = PI * (0.78e-3 * radius_mm).powi(2) * 0.75;
        Heating { current: Ampere(amperes), r20: OhmPerMetre(1.7241e-8 / area), alpha20: PerKelvin(0.00393), extra: WattPerMetre(0.0) }
    }

    fn temperatures(section: &Section, fill: Fill, heating: &[Heating], around: &Surroundings) -> Vec<f64> {
        let network = Network::new(section);
        let settled = network.filled(fill).settle(heating, around).expect("settles");
        assert!(settled.balance <= 1e-6, "{}", settled.balance);
        settled.conductor.iter().map(|t| t.0).collect()
    }

    fn hottest(t: &[f64]) -> f64 {
        t.iter().copied().fold(0.0, f64::max)
    }

    const AIR: Fill = Fill::Air(Pascal(101_325.0));

    /// A fixed sequence of numbers from 0 to 1.
    fn dice(seed: &mut u64) -> f64 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (*seed >> 11) as f64 / (1u64 << 53) as f64
    }

    fn loads(seed: &mut u64) -> Vec<Heating> {
        MIXED.iter().map(|r| if dice(seed) < 0.4 { Heating::IDLE } else { current(25.0 * r * dice(seed), *r) }).collect()
    }

    /// The surroundings that laws are tried in, with what lies between the wires.
    fn everywhere() -> Vec<(Fill, Surroundings)> {
        let panel = Surroundings {
            absorbed: WattPerMetre(2.0),
            sink: Some(Sink { conductance: WattPerMetreKelvin(0.05), temperature: Kelvin(280.0) }),
            ..vacuum()
        };
        let still = Surroundings::in_gas(Gas { gravity: 0.0, ..gas() }, WALLS);
        let thin = Surroundings::in_gas(Gas { pressure: Pascal(30.0), ..gas() }, WALLS);
        vec![
            (Fill::Vacuum, vacuum()),
            (AIR, air()),
            (AIR, fixed(12.0)),
            (AIR, still),
            (Fill::Air(Pascal(30.0)), thin),
            (Fill::Vacuum, panel),
        ]
    }

    /// One circle is one wire: the same temperatures as the balance of a single wire, in vacuum, air, still gas and thin gas, with sun and panel.
    #[test]
    fn one_circle_is_a_single_wire() {
        let section = Section { circles: vec![circle(0.0, 0.0, 0.6e-3)], contact: WattPerMetreKelvin(0.0), wrap: None };
        let heating = current(12.0, 0.6);
        let wire = Wire {
            conductor: Metre(2.0 * 0.468e-3),
            outside: Metre(1.2e-3),
            jacket_k: WattPerMetreKelvin(0.24),
            emittance: 0.85,
            r20: heating.r20,
            alpha20: heating.alpha20,
        };
        for (fill, around) in everywhere() {
            let single = settle(&wire, heating.current, &around).expect("settles");
            let network = Network::new(&section);
            let filled = network.filled(fill);
            let settled = filled.settle(&[heating], &around).expect("settles");
            near(settled.conductor[0].0, single.conductor.0, 1e-7);
            near(settled.skin.0, single.skin.0, 1e-7);
            let allowed = filled.allowed(0, single.conductor, &[Heating { current: Ampere(3.0), ..heating }], &around).expect("settles");
            near(allowed.expect("cooler").0, 12.0, 1e-6);
        }
    }

    /// Seven in vacuum with perfect contact: all of one temperature; 6 W/m leave by the hull's arcs with ε and by six pockets with 1/(1 + (L/A)(1/ε − 1)), L 2r,
    /// A π r, if those were lit evenly (by hand): within 2.5 %, and hotter.
    #[test]
    fn seven_as_one() {
        let mut section = bundle(&[0.6; 7], 1e5);
        for circle in &mut section.circles {
            circle.jacket_k = WattPerMetreKelvin(1e5);
        }
        let t = temperatures(&section, Fill::Vacuum, &[heat(6.0 / 7.0); 7], &vacuum());
        let even = 2.0 * PI * 0.6e-3 * 0.85 + 6.0 * 1.2e-3 / (1.0 + 2.0 / PI * (1.0 / 0.85 - 1.0));
        let by_hand = ((6.0 / even) / 5.670374419e-8 + 293.15f64.powi(4)).powf(0.25);
        assert!(hottest(&t) - t.iter().copied().fold(f64::INFINITY, f64::min) < 0.01);
        assert!(t[0] > by_hand && t[0] - 293.15 < 1.025 * (by_hand - 293.15), "{} and {by_hand}", t[0]);
    }

    /// A wrap by hand: one wire of emittance ε₁ in a ring of ε₂, concentric: q = σ(T₁⁴ − T₂⁴) 2π r₁/[1/ε₁ + (r₁/r₂)(1/ε₂ − 1)]; through still gas 2π k/ln(r₂/r₁).
    #[test]
    fn a_wrap_by_hand() {
        let mut section = Section { circles: vec![circle(0.0, 0.0, 0.6e-3)], contact: WattPerMetreKelvin(0.0), wrap: None };
        section.circles[0].jacket_k = WattPerMetreKelvin(1e6);
        section.wrap = Some(Wrap {
            inner: Metre(1e-3),
            outer: Metre(1.5e-3),
            k: WattPerMetreKelvin(0.2),
            inner_emittance: 0.7,
            outer_emittance: 0.9,
            capacity: JoulePerMetreKelvin(1.0),
        });
        let outer = |t: f64| ((2.0 / (0.9 * 2.0 * PI * 1.5e-3)) / 5.670374419e-8 + t.powi(4)).powf(0.25);
        let inner = outer(293.15) + 2.0 * 1.5f64.ln() / (2.0 * PI * 0.2);
        let grey = 2.0 * PI * 0.6e-3 / (1.0 / 0.85 + 0.6 * (1.0 / 0.7 - 1.0));
        let network = Network::new(&section);
        let settled = network.filled(Fill::Vacuum).settle(&[heat(2.0)], &vacuum()).expect("settles");
        near(settled.skin.0, outer(293.15), 1e-6);
        near(settled.wrap.expect("a wrap").0, inner, 1e-6);
        near(settled.conductor[0].0, ((2.0 / grey) / 5.670374419e-8 + inner.powi(4)).powf(0.25), 1e-6);
        // Without radiation, gas and jacket alone; at 1 Pa with the jump at both faces.
        section.circles[0].emittance = 0.0;
        section.circles[0].jacket_k = WattPerMetreKelvin(0.24);
        let network = Network::new(&section);
        let drop = |fill| {
            let settled = network.filled(fill).settle(&[heat(2.0)], &vacuum()).expect("settles");
            settled.conductor[0].0 - settled.wrap.expect("a wrap").0
        };
        let jacket = (1.0f64 / 0.78).ln() / 0.24;
        let (gas, at) = ((1.0f64 / 0.6).ln(), Kelvin(450.0));
        near(drop(Fill::Fixed(WattPerMetreKelvin(0.03))), 2.0 / (2.0 * PI) * (gas / 0.03 + jacket), 1e-6);
        let filled = network.filled(Fill::Air(Pascal(1.0)));
        let (k, jump) = (conductivity(at).0, temperature_jump(at, Pascal(1.0)).0);
        near(filled.gaps.to_wrap[0][1], 2.0 * PI / ((gas + jump * (1.0 / 1e-3 + 1.0 / 0.6e-3)) / k + jacket), 1e-6);
    }

    /// Two bare wires as one in a film of 10 W/(m² K), no radiation: all round by their arcs, and twice over the edge with the gas behind it in series,
    /// h 2π r + 2 ∫ dx/(1/h + (r − √(r² − x²))/k), summed here by 4000 strips.
    #[test]
    fn a_film_in_front_of_still_gas() {
        let bare = |x: f64| Circle { conductor: Metre(0.6e-3), emittance: 0.0, ..circle(x, 0.0, 0.6e-3) };
        let section = Section { circles: vec![bare(-0.6e-3), bare(0.6e-3)], contact: WattPerMetreKelvin(1e4), wrap: None };
        let around = Surroundings { gas: Some(Gas { temperature: WALLS, ..gas() }), ..fixed(10.0) };
        let network = Network::new(&section);
        let settled = network.filled(Fill::Fixed(WattPerMetreKelvin(0.028))).settle(&[heat(0.5); 2], &around).expect("settles");
        let (r, strips) = (0.6e-3, 4000);
        let strip = |i: i32| {
            let x = r * (f64::from(i) + 0.5) / f64::from(strips);
            r / f64::from(strips) / (0.1 + (r - (r * r - x * x).sqrt()) / 0.028)
        };
        let pocket: f64 = (0..strips).map(strip).sum();
        near(settled.conductor[0].0 - WALLS.0, 1.0 / (10.0 * 2.0 * PI * r + 4.0 * pocket), 2e-3);
    }

    /// Behind a jacket that holds heat back a void exchanges less: black arcs with 4σT³ layer = 0.4 in series are like grey ones of 1/(1 + 0.4), of which
    /// one against two of three is A/(1 + 1.5 · 0.4) where they are lit evenly; the six patches, each a tenth of the radius, less as plates, 1/(2 · 1.4 − 1) (by hand).
    #[test]
    fn a_void_between_thick_jackets() {
        let mut section = bundle(&[0.6; 7], 0.0);
        for circle in &mut section.circles {
            circle.emittance = 1.0;
            circle.jacket_k = WattPerMetreKelvin(emitted_slope(VOID_AT) * 0.6e-3 * (1.0f64 / 0.78).ln() / 0.4);
        }
        let network = Network::new(&section);
        let middle = (0..7).find(|i| section.circles[*i].x.0.hypot(section.circles[*i].y.0) < 1e-4).expect("one in the middle");
        let grey: f64 = network.links.iter().filter(|l| l.a as usize == middle || l.b as usize == middle).map(|l| l.grey).sum();
        near(grey, 2.0 * PI * 0.6e-3 / 1.6 - 6.0 * 0.06e-3 / 1.8, 0.05);
    }

    /// The still gas behind the hull is air of its own temperature: as with that conductivity given.
    #[test]
    fn air_behind_the_hull() {
        let section = bundle(&[0.6; 7], 0.5);
        let network = Network::new(&section);
        let around = Surroundings { gas: Some(Gas { temperature: WALLS, ..gas() }), ..fixed(10.0) };
        let heating = [heat(0.5); 7];
        let air = network.filled(AIR).settle(&heating, &around).expect("settles");
        // Film and hull take the mean of hull and gas, between skin and walls; conduction in the pockets decides 1 % of the rise.
        let of = |k| network.filled(Fill::Fixed(WattPerMetreKelvin(k))).settle(&heating, &around).expect("settles").skin.0 - WALLS.0;
        let mean = conductivity(Kelvin(0.5 * (air.skin.0 + WALLS.0))).0;
        near(air.skin.0 - WALLS.0, of(mean), 2e-3);
        assert!(of(3.0 * mean) < of(mean) * 0.99);
    }

    /// Heat in is heat out, everywhere, loaded at random; what the wires lose to each other cancels.
    #[test]
    fn law_heat_in_is_heat_out() {
        let mut seed = 5;
        for (fill, around) in everywhere() {
            for contact in [0.0, 0.02, 0.5] {
                let section = bundle(&MIXED, contact);
                let network = Network::new(&section);
                let heating = loads(&mut seed);
                let settled = network.filled(fill).settle(&heating, &around).expect("settles");
                assert!(settled.balance < 1e-6, "{}", settled.balance);
                // Every slope is in the matrix: few steps.
                assert!(settled.iterations <= 6, "{}", settled.iterations);
                // Once more by another way: what leaves, from the temperatures of the jackets, in vacuum.
                if around == vacuum() {
                    let out: f64 = settled.jacket.iter().zip(&network.open).map(|(t, grey)| grey * (emitted(*t) - emitted(WALLS))).sum();
                    let inside: f64 = settled.conductor.iter().zip(&heating).map(|(t, h)| h.at(t.0)).sum();
                    near(out, inside, 1e-6);
                }
            }
        }
    }

    /// Begun at what another heat came to, or at nonsense, a section settles where it does from nothing.
    #[test]
    fn another_start_comes_to_the_same() {
        for (fill, around) in everywhere() {
            let network = Network::new(&bundle(&MIXED, 0.1));
            let filled = network.filled(fill);
            let heating: Vec<Heating> = (0..MIXED.len()).map(|at| current(2.0 + 0.3 * at as f64, 0.6)).collect();
            let fresh = filled.settle(&heating, &around).expect("settles");
            let other: Vec<Heating> = heating.iter().map(|h| Heating { current: h.current * 0.4, ..*h }).collect();
            let near = filled.settle(&other, &around).expect("settles").start;
            let far = Start::at(vec![CEILING.0 + 500.0; fresh.start.t.len()]);
            for start in [near, far] {
                let again = filled.settle_from(Some(&start), &heating, &around).expect("settles");
                for (a, b) in again.conductor.iter().zip(&fresh.conductor) {
                    assert!((a.0 - b.0).abs() < 1e-3, "{a:?} {b:?}");
                }
            }
        }
    }

    /// What the last step leaves: begun again where it ended, no temperature moves by more than a hundred-thousandth of the rise, nor 1e-4 K; what is
    /// below 3e-5 K is nothing.
    #[test]
    fn what_the_last_step_leaves() {
        let mut seed = 5;
        // Where all around is at one temperature a rise may be as small as its heat.
        let even = (AIR, Surroundings::in_gas(Gas { temperature: WALLS, ..gas() }, WALLS));
        for (fill, around) in everywhere().into_iter().chain([even]) {
            let network = Network::new(&bundle(&MIXED, 0.05));
            let filled = network.filled(fill);
            for share in [1.0, 0.3, 0.1, 0.03, 0.01].repeat(20) {
                let heating: Vec<Heating> = loads(&mut seed).into_iter().map(|h| Heating { current: h.current * share, ..h }).collect();
                let found = filled.settle(&heating, &around).expect("settles");
                assert!(found.balance < 2e-5, "{share}: {}", found.balance);
                let again = filled.settle_from(Some(&Start::at(found.start.t.clone())), &heating, &around).expect("settles");
                let rise = found.conductor.iter().map(|t| t.0).fold(0.0, f64::max) - around.coldest().0;
                for (a, b) in again.conductor.iter().zip(&found.conductor) {
                    assert!((a.0 - b.0).abs() < (1e-5 * rise).clamp(3e-5, 1e-4), "{a:?} {b:?}");
                }
            }
        }
    }

    /// With a little more or less heat a section settles on the factor that it has, where it does from nothing.
    #[test]
    fn on_the_factor_of_nearly_the_same_heat() {
        let mut seed = 9;
        for (fill, around) in everywhere() {
            let network = Network::new(&bundle(&MIXED, 0.05));
            let filled = network.filled(fill);
            let (mut tried, mut without) = (0, 0);
            for share in [1.03, 0.97, 1.003, 1.0].repeat(20) {
                let heating = loads(&mut seed);
                let start = filled.settle(&heating, &around).expect("settles").start;
                let other: Vec<Heating> = heating.into_iter().map(|h| Heating { current: h.current * share, ..h }).collect();
                let near = filled.settle_from(Some(&start), &other, &around).expect("settles");
                let fresh = filled.settle(&other, &around).expect("settles");
                tried += 1;
                without += u32::from(near.iterations == 0);
                let rise = fresh.conductor.iter().map(|t| t.0).fold(0.0, f64::max) - around.coldest().0;
                for (a, b) in near.conductor.iter().zip(&fresh.conductor) {
                    assert!((a.0 - b.0).abs() < 2.0 * (1e-5 * rise).clamp(3e-5, 1e-4), "{share}: {a:?} {b:?}");
                }
                assert!(near.balance < 2e-5, "{share}: {}", near.balance);
            }
            assert!(4 * without > tried, "{without} of {tried} without a factor of their own");
        }
    }

    /// Raising any current never cools any wire, where the film does not depend on it. With free convection it can: the hull is warmer on the whole, air
    /// rises faster, and a wire to which none of that heat is led is cooled (two shiny ones that stand apart in one hull).
    #[test]
    fn law_more_current_never_cools() {
        let mut seed = 11;
        for (fill, around) in everywhere().into_iter().filter(|(_, around)| around.gas.is_none() || around.film.is_some()) {
            for contact in [0.0, 0.05] {
                let section = bundle(&MIXED, contact);
                let heating = loads(&mut seed);
                let before = temperatures(&section, fill, &heating, &around);
                for row in 0..MIXED.len() {
                    let mut more = heating.clone();
                    more[row].current = more[row].current * 1.2 + Ampere(0.5);
                    more[row].r20 = current(1.0, MIXED[row]).r20;
                    more[row].alpha20 = PerKelvin(0.00393);
                    let after = temperatures(&section, fill, &more, &around);
                    for (a, b) in after.iter().zip(&before) {
                        assert!(*a >= b - 1e-7, "{row}: {b} to {a}");
                    }
                    assert!(after[row] > before[row]);
                }
            }
        }
        let apart =
            Section { circles: vec![circle(-6e-3, 0.0, 0.6e-3), circle(6e-3, 0.0, 0.6e-3)], contact: WattPerMetreKelvin(0.0), wrap: None };
        let of_the_first = |amperes| temperatures(&apart, AIR, &[heat(2.0), current(amperes, 0.6)], &air())[0];
        let (idle, loaded) = (of_the_first(0.0), of_the_first(12.0));
        assert!(loaded < idle - 0.5, "moved air cools: {idle} to {loaded}");
    }

    /// With walls not hotter than the wires, a greater outer emittance or film, or colder walls, never heat any wire. With hotter walls a greater emittance does.
    #[test]
    fn law_a_better_outside_never_heats() {
        let mut seed = 3;
        let wrap = |outer_emittance| Wrap {
            inner: Metre(3.6e-3),
            outer: Metre(4e-3),
            k: WattPerMetreKelvin(0.2),
            inner_emittance: 0.6,
            outer_emittance,
            capacity: JoulePerMetreKelvin(1.0),
        };
        let wrapped = |emittance| Section { wrap: Some(wrap(emittance)), ..bundle(&MIXED, 0.05) };
        let bare = bundle(&MIXED, 0.05);
        for _ in 0..4 {
            let heating = loads(&mut seed);
            let never_heats = |worse: &[f64], better: &[f64]| {
                for (a, b) in better.iter().zip(worse) {
                    assert!(*a <= b + 1e-7, "{b} to {a}");
                }
                assert!(hottest(better) < hottest(worse) - 1e-3);
            };
            let gas_at_walls = |h| Surroundings { gas: Some(Gas { temperature: WALLS, ..gas() }), ..fixed(h) };
            for fill in [Fill::Vacuum, AIR] {
                let around = if fill == Fill::Vacuum { vacuum() } else { gas_at_walls(8.0) };
                let t = |emittance| temperatures(&wrapped(emittance), fill, &heating, &around);
                never_heats(&t(0.1), &t(0.3));
                never_heats(&t(0.3), &t(0.9));
                let walls = |t| temperatures(&bare, fill, &heating, &Surroundings { walls: Kelvin(t), ..around });
                never_heats(&walls(290.0), &walls(250.0));
            }
            let film = |h| temperatures(&bare, AIR, &heating, &gas_at_walls(h));
            never_heats(&film(5.0), &film(8.0));
            never_heats(&film(8.0), &film(80.0));
        }
        let small = vec![heat(0.01); MIXED.len()];
        let hot = Surroundings {
            sink: Some(Sink { conductance: WattPerMetreKelvin(0.1), temperature: Kelvin(280.0) }),
            ..Surroundings::vacuum(Kelvin(400.0))
        };
        let t = |emittance| hottest(&temperatures(&wrapped(emittance), Fill::Vacuum, &small, &hot));
        assert!(t(0.9) > t(0.1) + 10.0, "hotter walls: {} to {}", t(0.1), t(0.9));
    }

    /// With perfect contact an idle wire laid beside others never heats them: it adds hull. With none it does: it stands in the view.
    #[test]
    fn law_an_idle_neighbour() {
        let perfect = |circles: &[Circle]| Section {
            circles: circles.iter().map(|c| Circle { jacket_k: WattPerMetreKelvin(1e5), ..*c }).collect(),
            contact: WattPerMetreKelvin(1e5),
            wrap: None,
        };
        // Each touches one before it.
        let places =
            [(0.0, 0.0), (2.0, 0.0), (1.0, 1.0), (-1.0, 1.0), (-2.0, 0.0), (-1.0, -1.0), (1.0, -1.0), (3.0, 1.0), (0.0, 2.0), (-3.0, -1.0)];
        let all = places.map(|(x, y)| circle(0.6e-3 * x, 0.6e-3 * 3f64.sqrt() * y, 0.6e-3));
        let mut seed = 8;
        for fill in [Fill::Vacuum, AIR] {
            let around = if fill == Fill::Vacuum {
                vacuum()
            } else {
                Surroundings { gas: Some(Gas { temperature: WALLS, ..gas() }), ..fixed(10.0) }
            };
            for count in 1..all.len() {
                let mut heating: Vec<Heating> = (0..count).map(|_| current(14.0 * dice(&mut seed), 0.6)).collect();
                let without = hottest(&temperatures(&perfect(&all[..count]), fill, &heating, &around));
                heating.push(Heating::IDLE);
                let with = hottest(&temperatures(&perfect(&all[..=count]), fill, &heating, &around));
                assert!(with <= without * (1.0 + 2e-5), "{count}: {without} to {with}");
            }
        }
        let touching =
            Section { circles: vec![circle(0.0, 0.0, 0.6e-3), circle(1.2e-3, 0.0, 0.6e-3)], contact: WattPerMetreKelvin(0.0), wrap: None };
        let alone = Section { circles: touching.circles[..1].to_vec(), ..touching.clone() };
        let [one, two] = [(&alone, vec![heat(3.0)]), (&touching, vec![heat(3.0), Heating::IDLE])]
            .map(|(section, heating)| temperatures(section, Fill::Vacuum, &heating, &vacuum())[0]);
        assert!(two > one + 1.0, "a cold neighbour heats where nothing is led to it: {one} to {two}");
    }

    /// In vacuum a cover of the same outside diameter, no higher emittance and added resistance never cools. A thicker one does, and so does one of
    /// higher emittance.
    #[test]
    fn law_a_cover_of_the_same_size() {
        let bare = Section { circles: vec![circle(0.0, 0.0, 0.6e-3)], contact: WattPerMetreKelvin(0.0), wrap: None };
        let t = |section: &Section| temperatures(section, Fill::Vacuum, &[heat(3.0)], &vacuum())[0];
        let cover = |outer_emittance, k| {
            let (inner, outer) = (Metre(0.6e-3), Metre(0.6e-3));
            let capacity = JoulePerMetreKelvin(1.0);
            Section {
                wrap: Some(Wrap { inner, outer, k: WattPerMetreKelvin(k), inner_emittance: 0.9, outer_emittance, capacity }),
                ..bare.clone()
            }
        };
        for emittance in [0.85, 0.5, 0.05] {
            assert!(t(&cover(emittance, 0.2)) > t(&bare) + 0.1);
        }
        // A jacket of less conductivity on the same diameter is a cover too.
        let mut tighter = bare.clone();
        tighter.circles[0].jacket_k = WattPerMetreKelvin(0.1);
        assert!(t(&tighter) > t(&bare));
        // A sleeve that cools: the same conductor in a jacket three times as wide; and a shiny wire that gets a dark one.
        let mut wide = bare.clone();
        wide.circles[0].jacket = Metre(1.8e-3);
        assert!(t(&wide) < t(&bare) - 10.0, "{} to {}", t(&bare), t(&wide));
        let mut shiny = bare.clone();
        shiny.circles[0].emittance = 0.2;
        assert!(t(&bare) < t(&shiny) - 10.0);
    }

    /// The hottest wire lies between all at one temperature and no contact at all.
    #[test]
    fn bounds() {
        let mut seed = 21;
        for (fill, around) in everywhere() {
            for radii in [&[0.6; 1][..], &[0.6; 7], &[0.6; 19], &MIXED] {
                let heating: Vec<Heating> = radii.iter().map(|r| current(18.0 * r * dice(&mut seed), *r)).collect();
                let network = Network::new(&bundle(radii, 0.05));
                let filled = network.filled(fill);
                let t = |network: &Network| {
                    let settled = network.filled(fill).settle(&heating, &around).expect("settles");
                    settled.conductor.iter().map(|t| t.0).fold(0.0, f64::max)
                };
                let (low, here) = (filled.isothermal(&heating, &around).0, t(&network));
                let high = t(&network.with(WattPerMetreKelvin(0.0), None, |_| 0.85));
                assert!(low <= here + 1e-6 && here <= high + 1e-6, "{low} {here} {high}");
                assert!(radii.len() == 1 || low < here, "{low} {here} {high}");
            }
        }
    }

    /// A neighbour's heat takes from what a wire may carry; a limit below the surroundings leaves nothing; what is allowed settles at the limit.
    #[test]
    fn allowed_with_neighbours_as_they_are() {
        let section = bundle(&[0.6; 7], 0.1);
        let network = Network::new(&section);
        for (fill, around) in everywhere() {
            let filled = network.filled(fill);
            let limit = Kelvin(423.15);
            let of = |others: f64| filled.allowed(0, limit, &[current(others, 0.6); 7], &around).expect("settles");
            let (idle, loaded) = (of(0.0).expect("cooler"), of(6.0).expect("cooler"));
            assert!(loaded < idle);
            let mut heating = [current(6.0, 0.6); 7];
            heating[0].current = loaded;
            let settled = filled.settle(&heating, &around).expect("settles");
            near(settled.conductor[0].0, 423.15, 1e-7);
        }
        let filled = network.filled(Fill::Vacuum);
        assert_eq!(filled.allowed(0, Kelvin(280.0), &[Heating::IDLE; 7], &vacuum()), Ok(None));
    }

    /// Runaway names the wire and the current at which it sets in: a little less settles below the ceiling.
    #[test]
    fn runaway_has_a_wire_and_a_current() {
        let section = bundle(&[0.6; 7], 0.1);
        let network = Network::new(&section);
        let filled = network.filled(Fill::Vacuum);
        let mut heating = [current(5.0, 0.6); 7];
        heating[3].current = Ampere(400.0);
        let Err(Unsettled::Runaway { row, current: Some(sets_in) }) = filled.settle(&heating, &vacuum()) else { panic!("melts") };
        assert_eq!(row, 3);
        heating[3].current = sets_in * 0.999;
        let settled = filled.settle(&heating, &vacuum()).expect("settles");
        assert!(settled.conductor[3].0 > CEILING.0 - 5.0);
        heating[3].current = sets_in * 1.001;
        assert!(filled.settle(&heating, &vacuum()).is_err());
        // A wire that nothing cools: no start below the ceiling helps.
        let mut cut_off = bundle(&[0.6], 0.0);
        cut_off.circles[0].emittance = 0.0;
        let outcome = Network::new(&cut_off).filled(Fill::Vacuum).settle(&[current(1.0, 0.6)], &vacuum());
        assert!(matches!(outcome, Err(Unsettled::Runaway { row: 0, .. })), "{outcome:?}");
    }

    /// From one bar to none, the hottest wire never cools and never jumps: no step of a tenth of a decade changes a rise by more than 12 %; the end is vacuum.
    #[test]
    fn from_air_to_vacuum_without_a_step() {
        let network = Network::new(&bundle(&[0.6; 19], 0.05));
        let heating = [current(6.0, 0.6); 19];
        let rise = |pressure: f64| {
            let around = Surroundings::in_gas(Gas { temperature: WALLS, pressure: Pascal(pressure), ..gas() }, WALLS);
            let settled = network.filled(Fill::Air(Pascal(pressure))).settle(&heating, &around).expect("settles");
            settled.conductor.iter().map(|t| t.0).fold(0.0, f64::max) - WALLS.0
        };
        let mut before = rise(101_325.0);
        for step in 1..=100 {
            let here = rise(101_325.0 * 10f64.powf(-0.1 * f64::from(step)));
            assert!(here >= before - 1e-6 && here < before * 1.12, "{step}: {before} to {here}");
            before = here;
        }
        let settled = network.filled(Fill::Vacuum).settle(&heating, &vacuum()).expect("settles");
        near(before, settled.conductor.iter().map(|t| t.0).fold(0.0, f64::max) - WALLS.0, 1e-3);
    }

    /// The order of the wires changes nothing but the order of the answer, and the same input gives the same bits.
    #[test]
    fn order_changes_nothing() {
        let section = bundle(&MIXED, 0.05);
        let mut seed = 2;
        let heating = loads(&mut seed);
        let t = temperatures(&section, AIR, &heating, &air());
        assert_eq!(t, temperatures(&section, AIR, &heating, &air()));
        let turned = Section { circles: section.circles.iter().rev().copied().collect(), ..section.clone() };
        let back: Vec<Heating> = heating.iter().rev().copied().collect();
        for (a, b) in temperatures(&turned, AIR, &back, &air()).iter().rev().zip(&t) {
            near(*a, *b, 1e-4);
        }
    }

    /// Places serve every section of the same key, to the last bit; each thing that moves heat between places has its part in the key.
    #[test]
    fn places_of_one_key() {
        let ring = |inner: f64, k: f64| Wrap {
            inner: Metre(inner),
            outer: Metre(inner + 0.5e-3),
            k: WattPerMetreKelvin(k),
            inner_emittance: 0.6,
            outer_emittance: 0.8,
            capacity: JoulePerMetreKelvin(0.0),
        };
        let section = Section { wrap: Some(ring(6e-3, 0.2)), ..bundle(&MIXED, 0.05) };
        let (key, places) = (Places::key(&section), Places::new(&section));
        let dull = section.circles.iter().map(|circle| Circle { emittance: 0.3, ..*circle }).collect();
        let other = Section { circles: dull, contact: WattPerMetreKelvin(0.2), wrap: Some(ring(6e-3, 0.4)) };
        assert_eq!(Places::key(&other), key);
        let mut seed = 7;
        let heating = loads(&mut seed);
        for (fill, around) in everywhere() {
            let [shared, own] = [Network::at(&places, &other), Network::new(&other)]
                .map(|network| network.filled(fill).settle(&heating, &around).expect("settles").conductor);
            assert_eq!(shared, own);
        }
        let moved = |change: fn(&mut Circle)| {
            let mut section = section.clone();
            change(&mut section.circles[3]);
            section
        };
        for other in [
            moved(|circle| circle.x.0 += 1e-6),
            moved(|circle| circle.y.0 += 1e-6),
            moved(|circle| circle.conductor.0 *= 0.9),
            moved(|circle| circle.jacket.0 *= 0.9),
            moved(|circle| circle.jacket_k.0 *= 0.9),
            Section { wrap: Some(ring(6.1e-3, 0.2)), ..section.clone() },
            Section { wrap: None, ..section.clone() },
        ] {
            assert_ne!(Places::key(&other), key);
        }
    }

    /// The ends of a range are what a network of them would be, to the last bit.
    #[test]
    fn ends_of_a_range() {
        let wrap = |outer_emittance| Wrap {
            inner: Metre(3.6e-3),
            outer: Metre(4e-3),
            k: WattPerMetreKelvin(0.2),
            inner_emittance: 0.6,
            outer_emittance,
            capacity: JoulePerMetreKelvin(1.0),
        };
        let section = |contact, emittance, outer| {
            let mut section = Section { wrap: Some(wrap(outer)), ..bundle(&MIXED, contact) };
            section.circles.iter_mut().for_each(|c| c.emittance = emittance);
            Network::new(&section)
        };
        let heating: Vec<Heating> = MIXED.iter().map(|r| current(10.0 * r, *r)).collect();
        let t = |network: &Network| network.filled(AIR).settle(&heating, &air()).expect("settles").conductor;
        let range = section(0.05, 0.85, 0.9).with(WattPerMetreKelvin(0.3), Some(wrap(0.2)), |_| 0.5);
        assert_eq!(t(&range), t(&section(0.3, 0.5, 0.2)));
        assert_ne!(t(&range), t(&section(0.05, 0.85, 0.9)));
    }

    #[test]
    fn nothing_to_settle() {
        let network = Network::new(&Section { circles: Vec::new(), contact: WattPerMetreKelvin(0.1), wrap: None });
        let settled = network.filled(Fill::Vacuum).settle(&[], &vacuum()).expect("settles");
        assert!(network.is_empty() && settled.conductor.is_empty());
        let idle = temperatures(
            &bundle(&MIXED, 0.1),
            AIR,
            &[Heating::IDLE; 12],
            &Surroundings::in_gas(Gas { temperature: WALLS, ..gas() }, WALLS),
        );
        assert!(idle.iter().all(|t| (t - WALLS.0).abs() < 1e-6));
    }
}
