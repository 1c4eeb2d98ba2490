//! Faults of fed conductors: what flows, through which devices, and when they open.
//!
//! A fault joins a fed wire to its own return or to structure. What each end of each wire would see in each phase is found by two sparse
//! solutions on the factor of the settled state ([`crate::Near::prospective`]); of that the worst phases are settled, loads held as resistances
//! (`held`). The largest current is that of the high corner, the smallest that of the low corner with one source alone. What flows then is
//! followed device by device until nothing feeds the fault: once with every device at its shortest time in its hottest ambient, once with the
//! longest in the coldest. Parts of a trip time already used are kept.
//!
//! Structure is taken as one body: its reference ground, or where that lies in another part of the network the first ground of this part. Outputs
//! of converters limit themselves and are no source of a fault. Conductors stay as warm as they run.
//!
//! Cost: wires × phases × 4 prospective currents; per wire some four states near a settled one, each a solution on what
//! devices of the core, sources and diodes lie at.

mod feeds;
mod follow;
mod held;
mod respond;
mod sequence;
mod ways;

use crate::{Prepared, Watch};
use feeds::{Feeds, Subject, subjects};
use follow::{Bases, Follow, Rooms, Solved};
pub(crate) use held::without_let_go;
use held::{held, hold};
use model::*;
use physics::*;
use rayon::prelude::*;
pub use respond::Response;
pub use sequence::{Flow, Flows, Time, device_ambient, sequence, trip_time};
use std::sync::{Mutex, PoisonError};

/// Resistance of a bolted fault.
///
/// # Source  Common practice, no source; the same as that of `whatif --short`.
const BOLTED: f64 = 1e-3;
/// Current below which a fault is not fed: receivers and sensors leak, A.
const NOTHING: f64 = 0.1;
/// What may still leak through receivers and other loads when a fault counts as cleared: A, and as a share of what flowed.
const LEAKS: (f64, f64) = (0.02, 1e-3);
/// Share of a fault's current from which on a device counts as carrying it.
const CARRIES: f64 = 0.02;
/// Share of a fault's current from which on the end that brings less counts as feeding it.
const BOTH: f64 = 0.05;
/// Share of a fault's current from which on a source counts as feeding it.
const FEEDS: f64 = 0.1;

/// What a fault joins a wire to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Against {
    /// The wire that its current comes back by.
    Return(Id<Wire>),
    /// Structure, at one of its ground points.
    Structure(Id<Ground>),
}

/// A fault of a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// The wire.
    pub wire: Id<Wire>,
    /// Where along it, 0 at `from` and 1 at `to`.
    pub at: f64,
    /// What it is joined to.
    pub against: Against,
    /// Phase.
    pub phase: Id<Phase>,
    /// Corner.
    pub corner: Corner,
    /// The only source that feeds it, where the others are taken away.
    pub alone: Option<Id<Source>>,
}

/// A fault while it burns.
#[derive(Clone, Debug, PartialEq)]
pub struct Burning {
    /// The fault.
    pub fault: Fault,
    /// Through the fault.
    pub current: Ampere,
    /// In the wire, from its `from` end and from its `to` end towards the fault.
    pub sides: [Ampere; 2],
    /// Devices that carry it.
    pub devices: Vec<Carries>,
    /// What opens, with every device at its shortest time.
    pub earliest: Clearing,
    /// What opens, with every device at its longest time.
    pub latest: Clearing,
}

impl Burning {
    /// Greatest current in the wire itself.
    pub fn in_wire(&self) -> Ampere {
        Ampere(self.sides[0].0.max(self.sides[1].0))
    }
}

/// What can happen to a fed wire.
#[derive(Clone, Debug)]
pub struct FedWire {
    /// The wire.
    pub wire: Id<Wire>,
    /// Whether no device stands between it and a source, whatever is switched.
    pub unprotected_from: Option<Id<Source>>,
    /// The devices that have to open for a fault in it: the one of the lowest rating in line with it, or where several ways feed it all of them.
    pub guards: Vec<Id<Protector>>,
    /// The largest current that can occur.
    pub largest: Option<Burning>,
    /// The smallest.
    pub smallest: Option<Burning>,
    /// Half-way in the low corner with all its sources, where the far end is fed as well as the near one.
    pub middle: Option<Burning>,
}

impl FedWire {
    /// Share of the current of its guards that flows in the wire itself, half-way along where it has others beside it.
    pub fn share(&self) -> f64 {
        let Some(burning) = self.middle.as_ref().or(self.smallest.as_ref()) else { return 1.0 };
        let carried = burning.devices.iter().filter(|carries| self.guards.contains(&carries.device));
        let carried: f64 = carried.map(|carries| carries.now.0 - carries.before.0).sum();
        if carried > 0.0 { (burning.in_wire().0 / carried).clamp(0.0, 1.0) } else { 1.0 }
    }
}

/// Faults of all fed wires.
#[derive(Clone, Debug, Default)]
pub struct Protection {
    /// In the order of the wire list.
    pub wires: Vec<FedWire>,
}

impl Protection {
    /// The row of a wire; `None` if no source feeds it whatever is switched.
    pub fn of(&self, wire: Id<Wire>) -> Option<&FedWire> {
        self.wires.binary_search_by_key(&wire, |row| row.wire).ok().map(|at| &self.wires[at])
    }
}

/// What each end of a wire would see: by base, by what it is joined to (return, structure), by end.
type Seen = Vec<[[Option<f64>; 2]; 2]>;

/// Faults of all fed wires, from settled points of every phase in the low and the high corner. `None` if the watch cancelled.
pub fn protection(prepared: &Prepared, points: &[Point], watch: &dyn Watch) -> Option<Protection> {
    let feeds = Feeds::new(prepared);
    let subjects = subjects(prepared, &feeds);
    let judged: Vec<&Point> = points.iter().filter(|point| point.scenario.corner != Corner::Typical).collect();
    let held: Vec<Point> = judged.par_iter().map(|point| held(prepared, point)).collect();
    let bases = Bases::new(prepared, held.iter().collect());
    // What every end sees in every phase.
    let seen: Vec<Seen> = (0..bases.points.len())
        .into_par_iter()
        .map(|base| {
            let mut room = bases.near[base].room();
            if watch.cancelled() {
                return Vec::new();
            }
            // Where the state itself has no operating point nothing is said of its faults.
            let settled = |node: NodeId| {
                judged[base].island_of[node.row()].is_none_or(|island| judged[base].islands[island as usize].outcome.is_settled())
            };
            subjects
                .iter()
                .map(|subject| {
                    if !settled(subject.ends[0]) {
                        return [[None; 2]; 2];
                    }
                    let mut at =
                        |a: NodeId, b: NodeId| bases.near[base].prospective(&mut room, a, b).map(f64::abs).filter(|i| *i > NOTHING);
                    let back = subject.returns.map_or([None; 2], |beside| [0, 1].map(|end| at(subject.ends[end], beside.ends[end])));
                    let ground = bases.ground(base, subject.ends[0]);
                    let structure = ground.map_or([None; 2], |(_, ground)| [0, 1].map(|end| at(subject.ends[end], ground)));
                    [back, structure]
                })
                .collect()
        })
        .collect();
    if watch.cancelled() {
        return None;
    }
    let sweep = Sweep { feeds: &feeds, bases: &bases, seen: &seen };
    // One set of rooms for each thread: work is parted in more pieces than there are threads.
    let idle: Mutex<Vec<Rooms>> = Mutex::default();
    let shelf = || idle.lock().unwrap_or_else(PoisonError::into_inner);
    let one = |(row, subject): (usize, &Subject)| {
        if watch.cancelled() {
            return None;
        }
        let taken = shelf().pop();
        let mut rooms = taken.unwrap_or_else(|| Rooms::new(&bases));
        let found = sweep.wire(row, subject, &mut rooms);
        shelf().push(rooms);
        Some(found)
    };
    let wires: Option<Vec<FedWire>> = subjects.par_iter().enumerate().map(one).collect();
    Some(Protection { wires: wires? })
}

/// What the faults of every wire are looked at with.
struct Sweep<'s, 'a, 'd> {
    feeds: &'s Feeds,
    bases: &'s Bases<'a, 'd>,
    seen: &'s [Seen],
}

impl<'s, 'a, 'd> Sweep<'s, 'a, 'd> {
    /// The faults of one wire; `row`: its place among the subjects.
    fn wire(&self, row: usize, subject: &'s Subject, rooms: &mut Rooms) -> FedWire {
        let largest =
            self.largest(row, subject, rooms).and_then(|(follow, solved)| follow.burning_from(&solved, rooms.of(self.bases, follow.base)));
        let least = self.smallest(row, subject, rooms);
        let smallest = least.as_ref().and_then(|(follow, solved)| follow.burning_from(solved, rooms.of(self.bases, follow.base)));
        let middle = self.middle(row, subject, rooms).and_then(|follow| follow.burning(rooms.of(self.bases, follow.base)));
        let guards = match (&smallest, &least) {
            (Some(burning), Some((follow, solved))) => follow.guards(burning, solved, rooms.of(self.bases, follow.base)),
            _ => Vec::new(),
        };
        let bare = |end: usize| self.feeds.bare[subject.ends[end].row()];
        FedWire { wire: subject.wire, unprotected_from: bare(0).or(bare(1)), guards, largest, smallest, middle }
    }

    fn follow(&self, base: usize, subject: &'s Subject, fault: Fault) -> Follow<'s, 'a, 'd> {
        Follow { bases: self.bases, base, subject, fault, gone: Vec::new() }
    }

    /// The base, end and target with the best prospective current of a corner: to the return, and to structure; the best first.
    fn worst(&self, row: usize, subject: &Subject, corner: Corner, better: fn(f64, f64) -> bool) -> Vec<(f64, usize, Fault)> {
        let mut found: Vec<(f64, usize, Fault)> = Vec::new();
        for target in 0..2 {
            let mut best: Option<(f64, usize, usize)> = None;
            for (base, seen) in self.of_corner(corner).map(|base| (base, &self.seen[base])) {
                for (end, current) in seen[row][target].iter().enumerate() {
                    if let Some(current) = *current
                        && best.is_none_or(|(known, ..)| better(current, known))
                    {
                        best = Some((current, base, end));
                    }
                }
            }
            let Some((current, base, end)) = best else { continue };
            let against = match (target, subject.returns) {
                (0, Some(beside)) => Against::Return(beside.wire),
                _ => match self.bases.ground(base, subject.ends[end]) {
                    Some((ground, _)) => Against::Structure(ground),
                    None => continue,
                },
            };
            let phase = self.bases.points[base].scenario.phase;
            found.push((current, base, Fault { wire: subject.wire, at: end as f64, against, phase, corner, alone: None }));
        }
        if let [first, second] = &found[..]
            && better(second.0, first.0)
        {
            found.swap(0, 1);
        }
        found
    }

    fn of_corner(&self, corner: Corner) -> impl Iterator<Item = usize> + '_ {
        (0..self.bases.points.len()).filter(move |&base| self.bases.points[base].scenario.corner == corner)
    }

    fn largest(&self, row: usize, subject: &'s Subject, rooms: &mut Rooms) -> Option<(Follow<'s, 'a, 'd>, Solved)> {
        let mut greatest: Option<(Follow, Solved)> = None;
        for (seen, base, fault) in self.worst(row, subject, Corner::High, |a, b| a > b) {
            let known = greatest.as_ref().map_or(0.0, |(_, known)| known.fault);
            if seen < known {
                continue;
            }
            let follow = self.follow(base, subject, fault);
            if let Some(solved) = follow.solve_for(&[], rooms.of(self.bases, base), |fault| fault > known)
                && solved.fault > known
            {
                greatest = Some((follow, solved));
            }
        }
        greatest
    }

    fn smallest(&self, row: usize, subject: &'s Subject, rooms: &mut Rooms) -> Option<(Follow<'s, 'a, 'd>, Solved)> {
        let mut least: Option<(Follow, Solved)> = None;
        for (_, base, fault) in self.worst(row, subject, Corner::Low, |a, b| a < b) {
            let below = |least: &Option<(Follow, Solved)>| least.as_ref().map_or(f64::INFINITY, |(_, known)| known.fault);
            let room = rooms.of(self.bases, base);
            let follow = self.follow(base, subject, fault);
            let known = below(&least);
            let Some(solved) = follow.solve_for(&[], room, |fault| fault < known) else { continue };
            let gives = follow.gives(&solved);
            for &only in gives.iter().filter(|_| gives.len() > 1) {
                let known = below(&least);
                let alone = follow.alone(only, &solved, room, known);
                // What it gives alone may not reach the fault at all.
                if let Some((gone, alone)) = alone.filter(|(_, alone)| alone.fault > FEEDS * solved.fault && alone.fault < known) {
                    least = Some((Follow { gone, fault: Fault { alone: Some(only), ..fault }, ..follow.clone() }, alone));
                }
            }
            if solved.fault > NOTHING && solved.fault < below(&least) {
                least = Some((follow, solved));
            }
        }
        least.filter(|(_, solved)| solved.fault > NOTHING)
    }

    /// Half-way in the phase where the end that brings less brings most: a wire beside others, or between two sources, carries only its share to a
    /// fault at its end.
    fn middle(&self, row: usize, subject: &'s Subject, rooms: &mut Rooms) -> Option<Follow<'s, 'a, 'd>> {
        let far = self.worst(row, subject, Corner::Low, |a, b| a < b).first().map(|(.., fault)| *fault)?;
        let mut shares: Option<(f64, Follow)> = None;
        for base in self.of_corner(Corner::Low) {
            // Beyond a bridge nothing else can feed it.
            if self.bases.is_bridge(base, subject.wire) || self.seen[base][row].iter().flatten().all(Option::is_none) {
                continue;
            }
            let against = match (far.against, self.bases.ground(base, subject.ends[0])) {
                (Against::Structure(_), Some((ground, _))) => Against::Structure(ground),
                (Against::Structure(_), None) => continue,
                (back, _) => back,
            };
            let fault = Fault { phase: self.bases.points[base].scenario.phase, against, ..far };
            let follow = self.follow(base, subject, fault);
            let Some(solved) = follow.solve_for(&[], rooms.of(self.bases, base), |_| false) else { continue };
            let other = solved.sides[0].min(solved.sides[1]) / solved.fault;
            if solved.fault > NOTHING && other > BOTH && shares.as_ref().is_none_or(|(most, _)| other > *most) {
                shares = Some((other, Follow { fault: Fault { at: 0.5, ..fault }, ..follow }));
            }
        }
        shares.map(|(_, follow)| follow)
    }
}

/// Faults of one settled state.
pub struct Faults<'a, 'd> {
    bases: Bases<'a, 'd>,
    subjects: Vec<Subject>,
}

impl Faults<'_, '_> {
    fn subject(&self, wire: Id<Wire>) -> Option<&Subject> {
        self.subjects.iter().find(|subject| subject.wire == wire)
    }

    /// A fault followed until it clears; `None` where nothing feeds it or the state does not settle.
    pub fn burning(&self, fault: Fault) -> Option<Burning> {
        let room = &mut self.bases.near[0].room();
        Follow::new(&self.bases, 0, self.subject(fault.wire)?, fault, room)?.burning(room)
    }

    /// The state that a fault burns in, as a scenario: that of the loads held, with sources taken away where one alone feeds it. `None` where the wire has no
    /// such fault.
    pub fn scenario(&self, fault: Fault) -> Option<Scenario> {
        let room = &mut self.bases.near[0].room();
        let follow = Follow::new(&self.bases, 0, self.subject(fault.wire)?, fault, room)?;
        let mut scenario = self.bases.points[0].scenario.clone();
        scenario.opened.extend(follow.gone.iter().map(|&id| (ElementId::Source(id), None)));
        scenario.shorts.push(follow.short()?);
        Some(scenario)
    }
}

impl Prepared<'_> {
    /// A settled state with its loads held as resistances, which faults are followed on.
    pub fn with_loads_held(&self, point: &Point) -> Point {
        held(self, point)
    }
}

impl Prepared<'_> {
    /// The node that stands for structure: that of the first reference ground.
    pub fn structure(&self) -> Option<NodeId> {
        self.grounds.first().map(|&node| NodeId(node))
    }

    /// Current of each short circuit of a settled state, in the order of its scenario, A.
    pub fn short_currents(&self, point: &Point) -> Vec<f64> {
        crate::point::short_currents(self, &point.scenario, point)
    }

    /// Fed wires that have a return beside them: the nodes of their ends, and those of the return beside each.
    pub fn returns(&self) -> Vec<(Id<Wire>, [NodeId; 2], [NodeId; 2])> {
        let fed = subjects(self, &Feeds::new(self));
        fed.into_iter().filter_map(|subject| Some((subject.wire, subject.ends, subject.returns?.ends))).collect()
    }
}

impl<'d> Prepared<'d> {
    /// Faults in one state that [`Prepared::with_loads_held`] gave.
    pub fn faults<'a>(&'a self, held: &'a Point) -> Faults<'a, 'd> {
        Faults { bases: Bases::new(self, vec![held]), subjects: subjects(self, &Feeds::new(self)) }
    }
}
