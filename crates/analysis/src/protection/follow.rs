//! One fault: what flows while it burns, which devices carry it, and what is left when they open.

use super::feeds::Subject;
use super::sequence::{Flow, Flows, sequence};
use super::ways::Ways;
use super::{Against, BOLTED, Burning, CARRIES, FEEDS, Fault, LEAKS};
use crate::law::Law;
use crate::near::Sight;
use crate::{Change, Near, Prepared, Room};
use model::*;
use physics::trip::Side;
use physics::*;
use rayon::prelude::*;
use std::sync::OnceLock;

/// Settled states that faults are looked at in.
pub(super) struct Bases<'a, 'd> {
    pub(super) prepared: &'a Prepared<'d>,
    pub(super) points: Vec<&'a Point>,
    pub(super) near: Vec<Near<'a, 'd>>,
    /// Grounds with their nodes, those that are a reference first.
    grounds: Vec<(Id<Ground>, NodeId)>,
    /// Rows of the branches of protectors and of sources.
    protectors: Vec<usize>,
    sources: Vec<usize>,
    ways: Vec<Ways>,
    sights: Vec<OnceLock<Option<Sight>>>,
}

impl<'a, 'd> Bases<'a, 'd> {
    pub(super) fn new(prepared: &'a Prepared<'d>, points: Vec<&'a Point>) -> Bases<'a, 'd> {
        let design = prepared.design;
        let mut grounds: Vec<(Id<Ground>, NodeId)> =
            design.grounds.ids().filter_map(|id| Some((id, prepared.node(End::Ground(id))?))).collect();
        grounds.sort_by_key(|(id, _)| !design.grounds[*id].reference);
        Bases {
            prepared,
            near: points.iter().map(|point| prepared.near(point)).collect(),
            ways: points.par_iter().map(|point| Ways::new(prepared, point)).collect(),
            sights: points.iter().map(|_| OnceLock::new()).collect(),
            points,
            grounds,
            protectors: design.protectors.ids().map(|id| row_of(prepared, ElementId::Protector(id))).collect(),
            sources: design.batteries.ids().map(|id| row_of(prepared, ElementId::Source(id))).collect(),
        }
    }

    /// What the cases of a base look at, worked out when the first asks for it: devices of its core and sources.
    fn sight(&self, base: usize) -> Option<&Sight> {
        let core = self.ways[base].core().iter().map(|id| self.protectors[id.row()]);
        let make = || self.near[base].sight(core.chain(self.sources.iter().copied()));
        self.sights[base].get_or_init(make).as_ref()
    }

    /// Whether a wire is the only way between two parts of a base.
    pub(super) fn is_bridge(&self, base: usize, wire: Id<Wire>) -> bool {
        self.ways[base].is_bridge(row_of(self.prepared, ElementId::Wire(wire)))
    }

    /// What stands for structure where a node lies; `None` where no ground is joined to it.
    pub(super) fn ground(&self, base: usize, node: NodeId) -> Option<(Id<Ground>, NodeId)> {
        let part = &self.points[base].island_of;
        let here = part[node.row()]?;
        self.grounds.iter().copied().find(|(_, ground)| part[ground.row()] == Some(here))
    }
}

fn row_of(prepared: &Prepared, element: ElementId) -> usize {
    prepared.branch_of(element).expect("topology: every element of the design has a branch")
}

/// Rooms for cases of the bases, each made when it is first asked for.
pub(super) struct Rooms(Vec<Option<Room>>);

impl Rooms {
    pub(super) fn new(bases: &Bases) -> Rooms {
        Rooms(bases.points.iter().map(|_| None).collect())
    }

    pub(super) fn of(&mut self, bases: &Bases, base: usize) -> &mut Room {
        self.0[base].get_or_insert_with(|| bases.near[base].room())
    }
}

/// A state in which a fault burns.
pub(super) struct Solved {
    pub(super) fault: f64,
    pub(super) sides: [f64; 2],
    /// Protectors that carry more than leaks, in order, without sign.
    devices: Flow,
    /// Current that each source gives.
    sources: Vec<f64>,
}

/// What has been solved of a fault, by what is open.
type Known = Vec<(Vec<Id<Protector>>, Option<Flows>)>;

/// One fault, to be followed.
#[derive(Clone)]
pub(super) struct Follow<'b, 'a, 'd> {
    pub(super) bases: &'b Bases<'a, 'd>,
    pub(super) base: usize,
    pub(super) subject: &'b Subject,
    pub(super) fault: Fault,
    /// Sources that are taken away, where one alone is to feed it.
    pub(super) gone: Vec<Id<Source>>,
}

impl<'b, 'a, 'd> Follow<'b, 'a, 'd> {
    /// A fault with the sources taken away that have to be where one alone feeds it; `None` where it does not settle.
    pub(super) fn new(
        bases: &'b Bases<'a, 'd>,
        base: usize,
        subject: &'b Subject,
        fault: Fault,
        room: &mut Room,
    ) -> Option<Follow<'b, 'a, 'd>> {
        let follow = Follow { bases, base, subject, fault, gone: Vec::new() };
        let Some(only) = fault.alone else { return Some(follow) };
        let whole = follow.solve(&[], room)?;
        let (gone, _) = follow.alone(only, &whole, room, 0.0)?;
        Some(Follow { gone, ..follow })
    }

    /// Sources that feed the fault: what they give for it, beside what they gave before, is a good share of it.
    pub(super) fn gives(&self, solved: &Solved) -> Vec<Id<Source>> {
        let before = |id: Id<Source>| -self.bases.points[self.base].current[self.bases.sources[id.row()]];
        let more = |id: &Id<Source>| solved.sources[id.row()] - before(*id) > FEEDS * solved.fault;
        self.bases.prepared.design.batteries.ids().filter(more).collect()
    }

    /// The state with one source alone: the others that feed it are taken away, and those that do so in their place, until none is left.
    /// `whole`: the state with all; what devices carry is told of a fault below a current.
    pub(super) fn alone(&self, only: Id<Source>, whole: &Solved, room: &mut Room, below: f64) -> Option<(Vec<Id<Source>>, Solved)> {
        let mut gone: Vec<Id<Source>> = self.gives(whole).into_iter().filter(|id| *id != only).collect();
        loop {
            let follow = Follow { gone: gone.clone(), ..*self };
            let solved = follow.solve_for(&[], room, |fault| fault < below)?;
            let known = gone.len();
            gone.extend(self.gives(&solved).into_iter().filter(|id| *id != only && !follow.gone.contains(id)));
            if gone.len() == known {
                return Some((gone, solved));
            }
        }
    }

    /// The other node at each end of the wire, and half-way the one that is nearer.
    fn other(&self, side: usize) -> Option<NodeId> {
        match self.fault.against {
            Against::Return(_) => self.subject.returns.map(|beside| beside.ends[side]),
            Against::Structure(ground) => self.bases.prepared.node(End::Ground(ground)),
        }
    }

    /// The state with some devices open; `None` where it does not settle.
    pub(super) fn solve(&self, opened: &[Id<Protector>], room: &mut Room) -> Option<Solved> {
        self.solve_for(opened, room, |_| true)
    }

    /// The same, with what devices carry only where the current of the fault is of interest: the devices of a core take as long as the state.
    pub(super) fn solve_for(&self, opened: &[Id<Protector>], room: &mut Room, wanted: impl Fn(f64) -> bool) -> Option<Solved> {
        let (prepared, near) = (self.bases.prepared, &self.bases.near[self.base]);
        let wire = row_of(prepared, ElementId::Wire(self.subject.wire));
        let ohms = match near.laws().map(|laws| laws[wire]) {
            Some(Law::Conductance { g }) => 1.0 / g,
            _ => prepared.ohms(&self.bases.points[self.base].scenario, ElementId::Wire(self.subject.wire)).map_or(1e-3, |ohms| ohms.0),
        };
        let burns = Burns::new(self, ohms)?;
        let mut change = Change::default();
        change.laws.extend(opened.iter().map(|id| (self.bases.protectors[id.row()], Law::Open)));
        change.laws.extend(self.gone.iter().map(|id| (self.bases.sources[id.row()], Law::Open)));
        if matches!(burns, Burns::Along { .. }) {
            change.laws.push((wire, Law::Open));
        }
        change.joined = burns.joined();
        let ways = &self.bases.ways[self.base];
        let feeding = ways.feeding(&burns.nodes());
        let mut also: Vec<usize> = feeding.iter().map(|id| self.bases.protectors[id.row()]).collect();
        also.push(wire);
        let Some(sight) = self.bases.sight(self.base) else { return self.solve_afresh(opened, &burns) };
        if near.settle_in_sight(&change, sight, &also, room).is_err() {
            return self.solve_afresh(opened, &burns);
        }
        let laws = near.laws().expect("near: a case has settled on them");
        let across = near.across(room);
        let current = |row: usize| match laws[row] {
            Law::Conductance { g } => g * across(row),
            Law::Emf { volts, g } => g * (across(row) - volts),
            _ => 0.0,
        };
        let (fault, sides) = burns.currents(&|a, b| near.between(room, a, b).unwrap_or(0.0), &|| current(wire));
        let carried = |id: Id<Protector>| (id, if opened.contains(&id) { 0.0 } else { current(self.bases.protectors[id.row()]).abs() });
        let given = |(id, &row): (Id<Source>, &usize)| if self.gone.contains(&id) { 0.0 } else { -current(row) };
        Some(Solved {
            fault: fault.abs(),
            sides: sides.map(f64::abs),
            devices: match wanted(fault.abs()) {
                true => ways.with_core(feeding).map(carried).filter(|&(_, current)| current > LEAKS.0).collect(),
                false => Flow::new(),
            },
            sources: prepared.design.batteries.ids().zip(&self.bases.sources).map(given).collect(),
        })
    }

    /// The same by a solution of its own: a diode turns where the factor of the base state does not allow it, or too much changes.
    fn solve_afresh(&self, opened: &[Id<Protector>], burns: &Burns) -> Option<Solved> {
        let (prepared, near) = (self.bases.prepared, &self.bases.near[self.base]);
        let mut scenario = self.bases.points[self.base].scenario.clone();
        scenario.opened.extend(opened.iter().map(|&device| (ElementId::Protector(device), None)));
        scenario.opened.extend(self.gone.iter().map(|&source| (ElementId::Source(source), None)));
        scenario.shorts.push(self.short()?);
        let point = near.afresh(&scenario);
        let island = |node: NodeId| point.island_of[node.row()];
        let settled = |node: NodeId| island(node).is_none_or(|at| point.islands[at as usize].outcome.is_settled());
        if !burns.nodes().into_iter().all(settled) {
            return None;
        }
        let volts = |a: NodeId, b: NodeId| match island(a).is_some() && island(a) == island(b) {
            true => point.voltage[a.row()] - point.voltage[b.row()],
            false => 0.0,
        };
        let (fault, sides) = burns.currents(&volts, &|| point.current[row_of(prepared, ElementId::Wire(self.subject.wire))]);
        let ways = &self.bases.ways[self.base];
        let devices = ways.with_core(ways.feeding(&burns.nodes()));
        let devices = devices.map(|id| (id, point.current[self.bases.protectors[id.row()]].abs()));
        Some(Solved {
            fault: fault.abs(),
            sides: sides.map(f64::abs),
            devices: devices.filter(|&(_, current)| current > LEAKS.0).collect(),
            sources: self.bases.sources.iter().map(|&row| -point.current[row]).collect(),
        })
    }

    /// The short circuit as a scenario has it; `None` where there is nothing to join the wire to.
    pub(super) fn short(&self) -> Option<(Place, Place, Ohm)> {
        let prepared = self.bases.prepared;
        let wire = &prepared.design.wires[self.fault.wire];
        let (place, side) = match self.fault.at {
            at if at <= 0.0 => (Place::End(wire.from.value), 0),
            at if at >= 1.0 => (Place::End(wire.to.value), 1),
            at => (Place::Along(ElementId::Wire(self.fault.wire), at), usize::from(at >= 0.5)),
        };
        Some((place, Place::End(prepared.node_end(self.other(side)?)), Ohm(BOLTED)))
    }

    /// Devices one after the other until nothing feeds the fault.
    fn clear(&self, first: &Solved, side: Side, known: &mut Known, room: &mut Room) -> Clearing {
        let design = self.bases.prepared.design;
        sequence(design, self.fault.phase, &|_| side, (first.fault, &first.devices), &mut |opened| {
            if let Some((_, flows)) = known.iter().find(|(of, _)| of == opened) {
                return flows.clone();
            }
            let cleared = f64::max(LEAKS.0, LEAKS.1 * first.fault);
            let flows = self.solve_for(opened, room, |fault| fault > cleared).map(|solved| (solved.fault, solved.devices));
            known.push((opened.to_vec(), flows.clone()));
            flows
        })
    }

    /// The devices that have to open: one in line with the fault, the lowest rated of several, or all that carry it.
    /// `solved`: the state in which the fault burns, with what devices carry.
    pub(super) fn guards(&self, burning: &Burning, solved: &Solved, room: &mut Room) -> Vec<Id<Protector>> {
        let design = self.bases.prepared.design;
        if let (Ends::Cleared(_), [(_, only)]) = (&burning.latest.end, &burning.latest.opens[..]) {
            return vec![*only];
        }
        let in_line = solved.devices.iter().filter(|&&(_, current)| current >= 0.5 * solved.fault);
        let mut in_line: Vec<Id<Protector>> = in_line.map(|&(id, _)| id).collect();
        let rating = |id: &Id<Protector>| design.protectors[*id].rating.map_or(f64::INFINITY, |rating| rating.value.0);
        in_line.sort_by(|a, b| rating(a).total_cmp(&rating(b)).then(a.cmp(b)));
        let left = f64::max(LEAKS.0, LEAKS.1 * solved.fault);
        match in_line.into_iter().find(|id| self.solve_for(&[*id], room, |_| false).is_some_and(|state| state.fault <= left)) {
            Some(nearest) => vec![nearest],
            None => burning.devices.iter().map(|carries| carries.device).collect(),
        }
    }

    pub(super) fn burning(&self, room: &mut Room) -> Option<Burning> {
        let solved = self.solve(&[], room)?;
        self.burning_from(&solved, room)
    }

    pub(super) fn burning_from(&self, solved: &Solved, room: &mut Room) -> Option<Burning> {
        let carries = |&(device, now): &(Id<Protector>, f64)| {
            let before = self.bases.points[self.base].current[self.bases.protectors[device.row()]].abs();
            let least = CARRIES * solved.fault;
            (now >= least && (now - before).abs() >= least).then_some(Carries { device, before: Ampere(before), now: Ampere(now) })
        };
        let devices = solved.devices.iter().filter_map(carries).collect();
        // Mostly the same device opens first at its shortest and at its longest time.
        let mut known: Known = Vec::new();
        let [earliest, latest] = [Side::Shortest, Side::Longest].map(|side| self.clear(solved, side, &mut known, room));
        Some(Burning { fault: self.fault, current: Ampere(solved.fault), sides: solved.sides.map(Ampere), devices, earliest, latest })
    }
}

/// Where a fault burns.
enum Burns {
    /// At an end of the wire: its node, the node it is joined to, and whether it is the first end.
    End { node: NodeId, other: NodeId, first: bool },
    /// Along it, at a middle of its own that is eliminated: a star of three legs, of which the last leads away.
    Along { legs: [(NodeId, f64); 3] },
}

impl Burns {
    /// `None` where there is nothing to join the wire to.
    fn new(follow: &Follow, ohms: f64) -> Option<Burns> {
        let [from, to] = follow.subject.ends;
        Some(match follow.fault.at {
            at if at <= 0.0 => Burns::End { node: from, other: follow.other(0)?, first: true },
            at if at >= 1.0 => Burns::End { node: to, other: follow.other(1)?, first: false },
            at => {
                let other = follow.other(usize::from(at >= 0.5))?;
                Burns::Along { legs: [(from, 1.0 / (ohms * at)), (to, 1.0 / (ohms * (1.0 - at))), (other, 1.0 / BOLTED)] }
            }
        })
    }

    fn nodes(&self) -> Vec<NodeId> {
        match self {
            Burns::End { node, other, .. } => vec![*node, *other],
            Burns::Along { legs } => legs.iter().map(|&(node, _)| node).collect(),
        }
    }

    /// Branches that the fault adds: of a star its triangle.
    fn joined(&self) -> Vec<(NodeId, NodeId, f64)> {
        match self {
            Burns::End { node, other, .. } => vec![(*node, *other, 1.0 / BOLTED)],
            Burns::Along { legs: [a, b, c] } => {
                let sum = a.1 + b.1 + c.1;
                [(a, b), (a, c), (b, c)].map(|(x, y)| (x.0, y.0, x.1 * y.1 / sum)).to_vec()
            }
        }
    }

    /// Current of the fault, and in the wire from either side towards it. `volts`: between two nodes; `through`: the wire's own, from its `from` on.
    fn currents(&self, volts: &dyn Fn(NodeId, NodeId) -> f64, through: &dyn Fn() -> f64) -> (f64, [f64; 2]) {
        match self {
            Burns::End { node, other, first } => {
                let (fault, through) = (volts(*node, *other) / BOLTED, through());
                // What the wire itself brings, and what comes from beyond the end.
                (fault, if *first { [fault + through, -through] } else { [through, fault - through] })
            }
            Burns::Along { legs } => {
                let (sum, other) = (legs.iter().map(|(_, g)| g).sum::<f64>(), legs[2].0);
                let middle = legs.iter().map(|&(node, g)| g * volts(node, other)).sum::<f64>() / sum;
                let [a, b] = [0, 1].map(|k| legs[k].1 * (volts(legs[k].0, other) - middle));
                (a + b, [a, b])
            }
        }
    }
}
