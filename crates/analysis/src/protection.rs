//! Faults of fed conductors: what flows, through which devices, and when they open.
//!
//! A fault joins a fed wire to its own return or to structure. What each end of each wire would see in each phase is found by two sparse
//! solutions on the factor of the settled state ([`Near::prospective`]); of that the worst phases are settled in full, with loads that let go. The largest
//! current is that of the high corner, the smallest that of the low corner with one source alone. What flows then is followed device by
//! device until nothing feeds the fault: once with every device at its shortest time in its hottest ambient, once with the longest in
//! the coldest. Parts of a trip time already used are kept.
//!
//! Structure is taken as one body: its reference ground, or where that lies in another part of the network the first ground of this part. Outputs
//! of converters limit themselves and are no source of a fault. Conductors stay as warm as they run.
//!
//! Cost: wires × phases × 4 prospective currents; per wire some five states near a settled one.

use crate::law::Law;
use crate::network::Sets;
use crate::{Change, Near, Prepared, Room, Watch};
use model::*;
use physics::trip::{Edge, Side};
use physics::*;
use rayon::prelude::*;

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
/// States of a wire settled afresh to find one that feeds it from both ends.
const FRESH: usize = 4;
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

/// What conducts together whatever is switched: where sources feed, and where their currents come back.
struct Feeds {
    part: Vec<u32>,
    fed: Vec<bool>,
    back: Vec<bool>,
    /// The same without protectors, with the source that feeds it.
    bare: Vec<Option<Id<Source>>>,
}

impl Feeds {
    fn new(prepared: &Prepared) -> Feeds {
        let (design, nodes) = (prepared.design, prepared.nodes());
        let (mut all, mut bare) = (Sets::new(nodes), Sets::new(nodes));
        for branch in prepared.branches() {
            use ElementId::*;
            let passes = matches!(branch.element, Wire(_) | Strap(_) | StructurePath(_) | Contact(_) | Link(_) | Switch(_) | Diode(_));
            // A safe or shorting plug joins what flight keeps apart.
            let plugged = matches!(branch.element, FittedLink(id) if matches!(design.fitted[design.fitted_links[id].fitted].kind, FittedKind::FlightPlug | FittedKind::Saver));
            if passes || plugged {
                bare.unite(branch.from.0, branch.to.0);
            }
            if passes || plugged || matches!(branch.element, Protector(_)) {
                all.unite(branch.from.0, branch.to.0);
            }
        }
        let part: Vec<u32> = (0..nodes as u32).map(|node| all.find(node)).collect();
        let (mut fed, mut back) = (vec![false; nodes], vec![false; nodes]);
        let mut sources = vec![None; nodes];
        for (id, source) in design.batteries.iter() {
            if let Some(node) = prepared.node(source.positive.value) {
                fed[part[node.row()] as usize] = true;
                sources[bare.find(node.0) as usize].get_or_insert(id);
            }
            if let Some(node) = prepared.node(source.negative.value) {
                back[part[node.row()] as usize] = true;
            }
        }
        let bare = (0..nodes as u32).map(|node| sources[bare.find(node) as usize]).collect();
        Feeds { part, fed, back, bare }
    }

    fn is_fed(&self, node: NodeId) -> bool {
        let part = self.part[node.row()] as usize;
        self.fed[part] && !self.back[part]
    }

    fn is_back(&self, node: NodeId) -> bool {
        let part = self.part[node.row()] as usize;
        self.back[part] && !self.fed[part]
    }
}

/// A fed wire with what a fault can join it to.
struct Subject {
    wire: Id<Wire>,
    /// Nodes of its ends.
    ends: [NodeId; 2],
    returns: Option<Beside>,
}

/// The return of a wire: its core, its nodes beside the wire's ends.
#[derive(Clone, Copy)]
struct Beside {
    wire: Id<Wire>,
    ends: [NodeId; 2],
}

/// Finds the fed wires and their returns.
fn subjects(prepared: &Prepared, feeds: &Feeds) -> Vec<Subject> {
    let design = prepared.design;
    let nodes = |wire: Id<Wire>| -> Option<[NodeId; 2]> {
        let row = &design.wires[wire];
        Some([prepared.node(row.from.value)?, prepared.node(row.to.value)?])
    };
    let mut cores: Vec<Vec<Id<Wire>>> = vec![Vec::new(); design.cables.len()];
    for (id, wire) in design.wires.iter() {
        if let Some(cable) = wire.cable {
            cores[cable.value.row()].push(id);
        }
    }
    let connector = |end: End| match end {
        End::Pin(pin) => Some(design.pins[pin].connector),
        _ => None,
    };
    let beside = |id: Id<Wire>| -> Option<Beside> {
        let row = &design.wires[id];
        // A pair's other core; of a wire of its own the one of the same circuit that comes back between the same connectors.
        let in_cable: Vec<Id<Wire>> = row.cable.map_or_else(Vec::new, |cable| cores[cable.value.row()].clone());
        in_cable.into_iter().filter(|other| *other != id).find_map(|other| {
            let [a, b] = nodes(other)?;
            if !feeds.is_back(a) {
                return None;
            }
            let of = &design.wires[other];
            let swapped = connector(row.from.value).is_some_and(|c| connector(of.to.value) == Some(c))
                || connector(row.to.value).is_some_and(|c| connector(of.from.value) == Some(c));
            let straight = connector(row.from.value).is_some_and(|c| connector(of.from.value) == Some(c))
                || connector(row.to.value).is_some_and(|c| connector(of.to.value) == Some(c));
            Some(Beside { wire: other, ends: if swapped && !straight { [b, a] } else { [a, b] } })
        })
    };
    let fed = |(id, _): (Id<Wire>, &Wire)| -> Option<Subject> {
        let ends = nodes(id)?;
        (ends[0] != ends[1] && feeds.is_fed(ends[0])).then(|| Subject { wire: id, ends, returns: beside(id) })
    };
    design.wires.iter().filter_map(fed).collect()
}

/// Settled states that faults are looked at in.
struct Bases<'a, 'd> {
    prepared: &'a Prepared<'d>,
    points: Vec<&'a Point>,
    near: Vec<Near<'a, 'd>>,
    /// The ground that stands for structure, by part of the network.
    grounds: Vec<Vec<(Id<Ground>, NodeId)>>,
}

impl<'a, 'd> Bases<'a, 'd> {
    fn new(prepared: &'a Prepared<'d>, points: Vec<&'a Point>) -> Bases<'a, 'd> {
        let design = prepared.design;
        let mut known: Vec<(Id<Ground>, NodeId)> =
            design.grounds.ids().filter_map(|id| Some((id, prepared.node(End::Ground(id))?))).collect();
        known.sort_by_key(|(id, _)| !design.grounds[*id].reference);
        let grounds = points.iter().map(|_| known.clone()).collect();
        let near = points.iter().map(|point| prepared.near(point)).collect();
        Bases { prepared, points, near, grounds }
    }

    /// What stands for structure where a node lies; `None` where no ground is joined to it.
    fn ground(&self, base: usize, node: NodeId) -> Option<(Id<Ground>, NodeId)> {
        let part = &self.points[base].island_of;
        let here = part[node.row()]?;
        self.grounds[base].iter().copied().find(|(_, ground)| part[ground.row()] == Some(here))
    }
}

/// A state in which a fault burns.
struct Solved {
    fault: f64,
    sides: [f64; 2],
    /// Current of each protector, without sign.
    devices: Vec<f64>,
    /// Current that each source gives.
    sources: Vec<f64>,
}

/// One fault, to be followed.
struct Follow<'b, 'a, 'd> {
    bases: &'b Bases<'a, 'd>,
    base: usize,
    subject: &'b Subject,
    fault: Fault,
}

impl Follow<'_, '_, '_> {
    /// The other node at each end of the wire, and half-way the one that is nearer.
    fn other(&self, side: usize) -> Option<NodeId> {
        match self.fault.against {
            Against::Return(_) => self.subject.returns.map(|beside| beside.ends[side]),
            Against::Structure(ground) => self.bases.prepared.node(End::Ground(ground)),
        }
    }

    /// The state with some devices open; `None` where it does not settle.
    fn solve(&self, opened: &[Id<Protector>], room: &mut Room) -> Option<Solved> {
        self.solve_in(opened, room, true)
    }

    /// The same; without `afresh` only where the factor of the base state suffices.
    fn solve_in(&self, opened: &[Id<Protector>], room: &mut Room, afresh: bool) -> Option<Solved> {
        let (prepared, near) = (self.bases.prepared, &self.bases.near[self.base]);
        let design = prepared.design;
        let row_of = |element| prepared.branch_of(element).expect("topology: every element of the design has a branch");
        let mut change = Change::default();
        let mut scenario = self.bases.points[self.base].scenario.clone();
        for &device in opened {
            change.laws.push((row_of(ElementId::Protector(device)), Law::Open));
            scenario.opened.push((ElementId::Protector(device), None));
        }
        if let Some(only) = self.fault.alone {
            for other in design.batteries.ids().filter(|other| *other != only) {
                change.laws.push((row_of(ElementId::Source(other)), Law::Open));
                scenario.opened.push((ElementId::Source(other), None));
            }
        }
        let wire_row = row_of(ElementId::Wire(self.subject.wire));
        let [from, to] = self.subject.ends;
        let at = self.fault.at;
        let ohms = prepared.ohms(&self.bases.points[self.base].scenario, ElementId::Wire(self.subject.wire)).map_or(1e-3, |ohms| ohms.0);
        // An end of the wire, or a middle of its own that is eliminated: a star of three legs becomes a triangle.
        let legs: Option<[(NodeId, f64); 3]> = (at > 0.0 && at < 1.0)
            .then(|| {
                Some([(from, 1.0 / (ohms * at)), (to, 1.0 / (ohms * (1.0 - at))), (self.other(usize::from(at >= 0.5))?, 1.0 / BOLTED)])
            })
            .flatten();
        let joined: (NodeId, NodeId) = match at {
            at if at <= 0.0 => (from, self.other(0)?),
            _ => (to, self.other(1)?),
        };
        match &legs {
            None => change.joined.push((joined.0, joined.1, 1.0 / BOLTED)),
            Some(legs) => {
                let sum: f64 = legs.iter().map(|(_, g)| g).sum();
                for (k, &(a, ga)) in legs.iter().enumerate() {
                    change.joined.extend(legs[k + 1..].iter().map(|&(b, gb)| (a, b, ga * gb / sum)));
                }
                change.laws.push((wire_row, Law::Open));
            }
        }
        let fault_of = |volts: &dyn Fn(NodeId, NodeId) -> f64, along: &dyn Fn() -> f64| -> (f64, [f64; 2]) {
            match &legs {
                None => {
                    let fault = volts(joined.0, joined.1) / BOLTED;
                    let through = along();
                    // What the wire itself brings, and what comes from beyond the end.
                    if at <= 0.0 { (fault, [fault + through, -through]) } else { (fault, [through, fault - through]) }
                }
                Some(legs) => {
                    let sum: f64 = legs.iter().map(|(_, g)| g).sum();
                    let other = legs[2].0;
                    let middle = legs.iter().map(|&(node, g)| g * volts(node, other)).sum::<f64>() / sum;
                    let [a, b] = [0, 1].map(|k| legs[k].1 * (volts(legs[k].0, other) - middle));
                    (a + b, [a, b])
                }
            }
        };
        let conductance = |element: ElementId, laws: &[Law]| match laws[row_of(element)] {
            Law::Conductance { g } => g,
            _ => 0.0,
        };
        if near.settle_everywhere(&change, room).is_ok() {
            let laws = near.laws().expect("near: a case has settled on them");
            let volts = |a: NodeId, b: NodeId| near.between(room, a, b).unwrap_or(0.0);
            let ends = |element| {
                let branch = &prepared.branches()[row_of(element)];
                volts(branch.from, branch.to)
            };
            let wire = ElementId::Wire(self.subject.wire);
            let (fault, sides) = fault_of(&volts, &|| conductance(wire, laws) * ends(wire));
            let device = |id| {
                let element = ElementId::Protector(id);
                if opened.contains(&id) { 0.0 } else { (conductance(element, laws) * ends(element)).abs() }
            };
            let source = |id| match laws[row_of(ElementId::Source(id))] {
                Law::Emf { volts, g } if self.fault.alone.is_none_or(|only| only == id) => g * (volts - ends(ElementId::Source(id))),
                _ => 0.0,
            };
            return Some(Solved {
                fault: fault.abs(),
                sides: sides.map(f64::abs),
                devices: design.protectors.ids().map(device).collect(),
                sources: design.batteries.ids().map(source).collect(),
            });
        }
        let end = |side: usize| {
            Place::End(if side == 0 { design.wires[self.subject.wire].from.value } else { design.wires[self.subject.wire].to.value })
        };
        let other = |side: usize| self.other(side).map(|node| Place::End(prepared.node_end(node)));
        let place = match at {
            at if at <= 0.0 => (end(0), other(0)?),
            at if at >= 1.0 => (end(1), other(1)?),
            at => (Place::Along(ElementId::Wire(self.subject.wire), at), other(usize::from(at >= 0.5))?),
        };
        if !afresh {
            return None;
        }
        scenario.shorts.push((place.0, place.1, Ohm(BOLTED)));
        let point = near.afresh(&scenario);
        let settled = |node: NodeId| point.island_of[node.row()].is_none_or(|island| point.islands[island as usize].outcome.is_settled());
        if !settled(from) || !settled(joined.1) {
            return None;
        }
        let apart = |a: NodeId, b: NodeId| point.island_of[a.row()].is_none() || point.island_of[a.row()] != point.island_of[b.row()];
        let volts = |a: NodeId, b: NodeId| if apart(a, b) { 0.0 } else { point.voltage[a.row()] - point.voltage[b.row()] };
        let (fault, sides) = fault_of(&volts, &|| point.current[wire_row]);
        Some(Solved {
            fault: fault.abs(),
            sides: sides.map(f64::abs),
            devices: design.protectors.ids().map(|id| point.current[row_of(ElementId::Protector(id))].abs()).collect(),
            sources: design.batteries.ids().map(|id| -point.current[row_of(ElementId::Source(id))]).collect(),
        })
    }

    /// Devices one after the other until nothing feeds the fault.
    fn clear(&self, first: &Solved, side: Side, known: &mut Vec<(Vec<Id<Protector>>, Option<Flows>)>, room: &mut Room) -> Clearing {
        let design = self.bases.prepared.design;
        sequence(design, self.fault.phase, side, (first.fault, &first.devices), &mut |opened| {
            if let Some((_, flows)) = known.iter().find(|(of, _)| of == opened) {
                return flows.clone();
            }
            let flows = self.solve(opened, room).map(|solved| (solved.fault, solved.devices));
            known.push((opened.to_vec(), flows.clone()));
            flows
        })
    }

    /// The devices that have to open: one in line with the fault, the lowest rated of several, or all that carry it.
    fn guards(&self, burning: &Burning, room: &mut Room) -> Vec<Id<Protector>> {
        let design = self.bases.prepared.design;
        if let (Ends::Cleared(_), [(_, only)]) = (&burning.latest.end, &burning.latest.opens[..]) {
            return vec![*only];
        }
        let Some(solved) = self.solve(&[], room) else { return Vec::new() };
        let mut in_line: Vec<Id<Protector>> = design.protectors.ids().filter(|id| solved.devices[id.row()] >= 0.5 * solved.fault).collect();
        let rating = |id: &Id<Protector>| design.protectors[*id].rating.map_or(f64::INFINITY, |rating| rating.value.0);
        in_line.sort_by(|a, b| rating(a).total_cmp(&rating(b)).then(a.cmp(b)));
        let left = f64::max(LEAKS.0, LEAKS.1 * solved.fault);
        match in_line.into_iter().find(|id| self.solve(&[*id], room).is_some_and(|state| state.fault <= left)) {
            Some(nearest) => vec![nearest],
            None => burning.devices.iter().map(|carries| carries.device).collect(),
        }
    }

    fn burning(&self, room: &mut Room) -> Option<Burning> {
        let solved = self.solve(&[], room)?;
        self.burning_from(&solved, room)
    }

    fn burning_from(&self, solved: &Solved, room: &mut Room) -> Option<Burning> {
        let (prepared, design) = (self.bases.prepared, self.bases.prepared.design);
        let before = |id: Id<Protector>| {
            let row = prepared.branch_of(ElementId::Protector(id))?;
            Some(self.bases.points[self.base].current[row].abs())
        };
        let carries = design.protectors.ids().filter(|id| solved.devices[id.row()] >= CARRIES * solved.fault);
        let devices = carries
            .map(|device| Carries { device, before: Ampere(before(device).unwrap_or(0.0)), now: Ampere(solved.devices[device.row()]) })
            .filter(|carries| (carries.now.0 - carries.before.0).abs() >= CARRIES * solved.fault)
            .collect();
        // Mostly the same device opens first at its shortest and at its longest time.
        let mut known: Vec<(Vec<Id<Protector>>, Option<Flows>)> = Vec::new();
        let [earliest, latest] = [Side::Shortest, Side::Longest].map(|side| self.clear(solved, side, &mut known, room));
        Some(Burning { fault: self.fault, current: Ampere(solved.fault), sides: solved.sides.map(Ampere), devices, earliest, latest })
    }
}

/// Current of a fault, and of each protector.
type Flows = (f64, Vec<f64>);

/// Devices one after the other until nothing feeds a fault. `first`: its current and that of each protector; `solve`: the same with some opened,
/// `None` where that does not settle.
fn sequence(
    design: &Design,
    phase: Id<Phase>,
    side: Side,
    (fault, devices): (f64, &[f64]),
    solve: &mut dyn FnMut(&[Id<Protector>]) -> Option<Flows>,
) -> Clearing {
    let ambient = device_ambient(design, phase, side);
    let mut used = vec![0.0; design.protectors.len()];
    let (mut opens, mut opened, mut now) = (Vec::new(), Vec::new(), 0.0);
    let (mut fault, mut devices) = (fault, devices.to_vec());
    let cleared = f64::max(LEAKS.0, LEAKS.1 * fault);
    // Each round opens one device.
    for _ in 0..=design.protectors.len() {
        if fault <= cleared {
            return Clearing { opens, end: Ends::Cleared(Second(now)) };
        }
        let carries = |id: &Id<Protector>| devices[id.row()] >= CARRIES * fault && devices[id.row()] > LEAKS.0;
        let carrying: Vec<Id<Protector>> = design.protectors.ids().filter(carries).collect();
        if carrying.is_empty() {
            return Clearing { opens, end: Ends::Unprotected(Ampere(fault)) };
        }
        let mut next: Option<(f64, Id<Protector>)> = None;
        let mut unknown: Option<Id<Protector>> = None;
        let times: Vec<(Id<Protector>, Time)> =
            carrying.into_iter().map(|id| (id, trip_time(design, id, side, Ampere(devices[id.row()]), ambient))).collect();
        for &(id, time) in &times {
            match time {
                Time::Opens(Second(t)) => {
                    let left = t * (1.0 - used[id.row()]);
                    if next.is_none_or(|(least, _)| left < least) {
                        next = Some((left, id));
                    }
                }
                Time::Holds => {}
                Time::NotKnown => unknown = unknown.or(Some(id)),
            }
        }
        let Some((lasts, device)) = next else {
            return Clearing { opens, end: unknown.map_or(Ends::Burns(Ampere(fault)), Ends::NotKnown) };
        };
        for (id, time) in times {
            if let Time::Opens(Second(t)) = time
                && t > 0.0
            {
                used[id.row()] = f64::min(used[id.row()] + lasts / t, 1.0);
            }
        }
        now += lasts;
        opened.push(device);
        opens.push((Second(now), device));
        match solve(&opened) {
            Some(next) => (fault, devices) = next,
            None => return Clearing { opens, end: Ends::Unsettled },
        }
    }
    Clearing { opens, end: Ends::Unsettled }
}

/// What a short circuit of a scenario comes to.
#[derive(Clone, Debug)]
pub struct Response {
    /// Current of each short.
    pub currents: Vec<Ampere>,
    /// The state while it burns.
    pub burning: Point,
    /// Devices that carry more than before.
    pub devices: Vec<Carries>,
    /// What opens, with every device at its shortest time.
    pub earliest: Clearing,
    /// What opens, with every device at its longest time.
    pub latest: Clearing,
    /// The state once the devices of the longest case have opened; `None` where none does.
    pub after: Option<Point>,
}

impl Prepared<'_> {
    /// Follows the short circuits of a scenario near a settled state until devices end them. Conductors stay as warm as they ran.
    ///
    /// Cost: a state near the settled one for each device that opens, twice.
    pub fn respond(&self, base: &Point, scenario: &Scenario) -> Response {
        let (design, near) = (self.design, self.near(base));
        let settles = |point: &Point| point.islands.iter().all(|island| island.outcome.is_settled());
        let mut held = scenario.clone();
        let mut burning = near.point(scenario);
        if !settles(&burning) && hold(self, base, &mut held) {
            burning = near.point(&held);
        }
        let scenario = &held;
        let row = |id: Id<Protector>| self.branch_of(ElementId::Protector(id));
        let carried =
            |point: &Point| -> Vec<f64> { design.protectors.ids().map(|id| row(id).map_or(0.0, |row| point.current[row].abs())).collect() };
        let whole = |point: &Point| -> f64 { crate::point::short_currents(self, &point.scenario, point).iter().map(|a| a.abs()).sum() };
        let with = |opened: &[Id<Protector>]| {
            let mut scenario = scenario.clone();
            scenario.opened.extend(opened.iter().map(|&device| (ElementId::Protector(device), None)));
            near.point(&scenario)
        };
        let follow = |side: Side| {
            sequence(design, scenario.phase, side, (whole(&burning), &carried(&burning)), &mut |opened| {
                let point = with(opened);
                settles(&point).then(|| (whole(&point), carried(&point)))
            })
        };
        let [earliest, latest] = [Side::Shortest, Side::Longest].map(follow);
        let opened: Vec<Id<Protector>> = latest.opens.iter().map(|(_, device)| *device).collect();
        let before = carried(base);
        let now = carried(&burning);
        let least = CARRIES * whole(&burning);
        let more = |id: &Id<Protector>| now[id.row()] - before[id.row()] >= least.max(LEAKS.0);
        let devices = design.protectors.ids().filter(more);
        let devices =
            devices.map(|device| Carries { device, before: Ampere(before[device.row()]), now: Ampere(now[device.row()]) }).collect();
        Response {
            currents: crate::point::short_currents(self, scenario, &burning).into_iter().map(Ampere).collect(),
            devices,
            after: (!opened.is_empty()).then(|| with(&opened)),
            burning,
            earliest,
            latest,
        }
    }
}

/// Temperature of devices in a phase: the hottest where they open soonest, the coldest where they open last.
pub fn device_ambient(design: &Design, phase: Id<Phase>, side: Side) -> Kelvin {
    let [coldest, hottest] = design.device_ambient(phase);
    match side {
        Side::Shortest => hottest.value,
        Side::Longest => coldest.value,
    }
}

/// What a device does at a current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Time {
    /// It opens after this: at least, or at most.
    Opens(Second),
    /// It may carry the current for good, and where the shortest time is asked for it does.
    Holds,
    /// Nothing is known of it at this current.
    NotKnown,
}

/// The shortest or longest time in which a device opens.
///
/// Beyond the last point of its band: the time there, which bounds the longest one; the shortest one may be nothing. Under the first point the
/// longest time is not known, the shortest at least that of the first point.
pub fn trip_time(design: &Design, device: Id<Protector>, side: Side, current: Ampere, ambient: Kelvin) -> Time {
    let row = &design.protectors[device];
    let Some(kind) = row.device.map(|kind| &design.device_types[kind.value]) else { return Time::NotKnown };
    let current = kind.limits.map_or(current, |limit| Ampere(current.0.min(limit.value.0)));
    match (kind.trip.edge(side, current, ambient), side) {
        (None, _) => Time::NotKnown,
        (Some(Edge::Never), _) => Time::Holds,
        (Some(Edge::Time(t)), _) | (Some(Edge::Beyond(t)), Side::Longest) | (Some(Edge::Under(t)), Side::Shortest) => Time::Opens(t),
        (Some(Edge::Beyond(_)), Side::Shortest) => Time::Opens(Second(0.0)),
        (Some(Edge::Under(_)), Side::Longest) => Time::NotKnown,
    }
}

/// The room of a thread for a base state.
fn room_of<'r>(rooms: &'r mut [Option<Room>], bases: &Bases, base: usize) -> &'r mut Room {
    rooms[base].get_or_insert_with(|| bases.near[base].room())
}

/// Makes each load that never lets go the resistance it is at a settled state, and takes current loops away: constant power, or a current that nothing
/// ends, has no state at a volt or two.
fn hold(prepared: &Prepared, point: &Point, scenario: &mut Scenario) -> bool {
    let design = prepared.design;
    let endless = |(id, load): (Id<Load>, &Load)| {
        let row = prepared.branch_of(ElementId::Load(id))?;
        let holds = load.drop_out.is_none() && matches!(load.demand, Some(Demand::Power(_) | Demand::Current(_)));
        let (volts, amperes) = (point.load_voltage[id]?.0, point.current[row]);
        let draws = holds && point.load_state[id] == LoadState::On && volts > 0.0 && amperes > 0.0;
        draws.then(|| (id, LoadChange::Resistance(Ohm(volts / amperes))))
    };
    let loads: Vec<(Id<Load>, LoadChange)> = design.loads.iter().filter_map(endless).collect();
    let loops = design.sensors.iter().filter(|(_, sensor)| matches!(sensor.law, SensorLaw::CurrentLoop { .. }));
    let loops: Vec<(ElementId, Option<End>)> = loops.map(|(id, _)| (ElementId::Sensor(id), None)).collect();
    let any = !loads.is_empty() || !loops.is_empty();
    scenario.loads.extend(loads);
    scenario.opened.extend(loops);
    any
}

/// A settled state so held; `None` where nothing has to be.
fn held(prepared: &Prepared, point: &Point) -> Option<Point> {
    let mut scenario = point.scenario.clone();
    hold(prepared, point, &mut scenario).then(|| prepared.near(point).afresh(&scenario))
}

/// What each end of a wire would see: by base, by what it is joined to (return, structure), by end.
type Seen = Vec<[[Option<f64>; 2]; 2]>;

/// Faults of all fed wires, from settled points of every phase in the low and the high corner. `None` if the watch cancelled.
pub fn protection(prepared: &Prepared, points: &[Point], watch: &dyn Watch) -> Option<Protection> {
    let feeds = Feeds::new(prepared);
    let subjects = subjects(prepared, &feeds);
    let judged: Vec<&Point> = points.iter().filter(|point| point.scenario.corner != Corner::Typical).collect();
    let held: Vec<Option<Point>> = judged.par_iter().map(|point| held(prepared, point)).collect();
    let bases = Bases::new(prepared, judged.iter().zip(&held).map(|(point, held)| held.as_ref().unwrap_or(point)).collect());
    // What every end sees in every phase.
    let seen: Vec<Seen> = (0..bases.points.len())
        .into_par_iter()
        .map(|base| {
            let mut room = bases.near[base].room();
            if watch.cancelled() {
                return Vec::new();
            }
            subjects
                .iter()
                .map(|subject| {
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
    let rooms = || -> Vec<Option<Room>> { bases.points.iter().map(|_| None).collect() };
    let wires: Vec<FedWire> = subjects
        .par_iter()
        .enumerate()
        .map_init(rooms, |rooms, (row, subject)| {
            let worst = |corner: Corner, better: fn(f64, f64) -> bool| -> Vec<(usize, Fault)> {
                let mut found: Vec<(usize, Fault)> = Vec::new();
                for target in 0..2 {
                    let mut best: Option<(f64, usize, usize)> = None;
                    for (base, seen) in seen.iter().enumerate().filter(|(base, _)| bases.points[*base].scenario.corner == corner) {
                        for (end, current) in seen[row][target].iter().enumerate() {
                            if let Some(current) = *current
                                && best.is_none_or(|(known, ..)| better(current, known))
                            {
                                best = Some((current, base, end));
                            }
                        }
                    }
                    let Some((_, base, end)) = best else { continue };
                    let against = match (target, subject.returns) {
                        (0, Some(beside)) => Against::Return(beside.wire),
                        _ => match bases.ground(base, subject.ends[end]) {
                            Some((ground, _)) => Against::Structure(ground),
                            None => continue,
                        },
                    };
                    let phase = bases.points[base].scenario.phase;
                    found.push((base, Fault { wire: subject.wire, at: end as f64, against, phase, corner, alone: None }));
                }
                found
            };
            let largest = worst(Corner::High, |a, b| a > b);
            let smallest = worst(Corner::Low, |a, b| a < b);
            let mut greatest: Option<(usize, Fault, Solved)> = None;
            for (base, fault) in largest {
                let here = room_of(rooms, &bases, base);
                let follow = Follow { bases: &bases, base, subject, fault };
                if let Some(solved) = follow.solve(&[], here)
                    && greatest.as_ref().is_none_or(|(.., known)| solved.fault > known.fault)
                {
                    greatest = Some((base, fault, solved));
                }
            }
            let mut least: Option<(usize, Fault, Solved)> = None;
            // A wire beside others, or between two sources, carries only its share to a fault at its end.
            let mut shares: Option<(f64, usize, Fault)> = None;
            let mut asked = 0;
            let row_of_wire = prepared.branch_of(ElementId::Wire(subject.wire));
            let far = smallest.first().map(|(_, fault)| *fault);
            for (base, point) in bases.points.iter().enumerate().filter(|(_, point)| point.scenario.corner == Corner::Low) {
                let Some(fault) = far else { break };
                let fault = Fault { phase: point.scenario.phase, ..fault };
                // Beyond a bridge nothing else can feed it.
                if row_of_wire.is_none_or(|branch| bases.near[base].is_bridge(branch))
                    || seen[base][row].iter().flatten().all(Option::is_none)
                {
                    continue;
                }
                let against = match (fault.against, bases.ground(base, subject.ends[0])) {
                    (Against::Structure(_), Some((ground, _))) => Against::Structure(ground),
                    (Against::Structure(_), None) => continue,
                    (back, _) => back,
                };
                let fault = Fault { against, ..fault };
                let here = room_of(rooms, &bases, base);
                let follow = Follow { bases: &bases, base, subject, fault };
                // Where no state nearby will do, few are settled afresh.
                let Some(solved) = follow.solve_in(&[], here, shares.is_none() && asked < FRESH) else {
                    asked += 1;
                    continue;
                };

                let other = solved.sides[0].min(solved.sides[1]) / solved.fault;
                if solved.fault > NOTHING && other > 0.05 && shares.is_none_or(|(most, ..)| other > most) {
                    shares = Some((other, base, fault));
                }
            }
            for (base, fault) in smallest {
                let here = room_of(rooms, &bases, base);
                let follow = Follow { bases: &bases, base, subject, fault };
                let Some(solved) = follow.solve(&[], here) else { continue };
                // What it gives for the fault, beside what it gave before.
                let more = |id: Id<Source>| {
                    let before = prepared.branch_of(ElementId::Source(id)).map_or(0.0, |row| -bases.points[base].current[row]);
                    solved.sources[id.row()] - before
                };
                let gives: Vec<Id<Source>> = prepared.design.batteries.ids().filter(|id| more(*id) > FEEDS * solved.fault).collect();
                let whole = solved.fault;
                let mut keep = |fault: Fault, solved: Solved| {
                    if solved.fault > NOTHING && least.as_ref().is_none_or(|(.., known)| solved.fault < known.fault) {
                        least = Some((base, fault, solved));
                    }
                };
                if gives.len() > 1 {
                    for only in gives {
                        let fault = Fault { alone: Some(only), ..fault };
                        let alone = (Follow { bases: &bases, base, subject, fault }).solve(&[], here);
                        // What it gives alone may not reach the fault at all.
                        if let Some(solved) = alone.filter(|alone| alone.fault > FEEDS * whole) {
                            keep(fault, solved);
                        }
                    }
                }
                keep(fault, solved);
            }
            let mut burning = |found: Option<(usize, Fault, Solved)>| {
                let (base, fault, solved) = found?;
                Follow { bases: &bases, base, subject, fault }.burning_from(&solved, room_of(rooms, &bases, base))
            };
            let largest = burning(greatest);
            let far = least.as_ref().map(|(base, fault, _)| (*base, *fault));
            let smallest = burning(least);
            let middle = shares.and_then(|(_, base, fault)| {
                let fault = Fault { at: 0.5, ..fault };
                Follow { bases: &bases, base, subject, fault }.burning(room_of(rooms, &bases, base))
            });
            let unprotected_from = feeds.bare[subject.ends[0].row()].or(feeds.bare[subject.ends[1].row()]);
            let guards = match (&smallest, far) {
                (Some(burning), Some((base, fault))) => {
                    Follow { bases: &bases, base, subject, fault }.guards(burning, room_of(rooms, &bases, base))
                }
                _ => Vec::new(),
            };
            FedWire { wire: subject.wire, unprotected_from, guards, largest, smallest, middle }
        })
        .collect();
    (!watch.cancelled()).then_some(Protection { wires })
}

impl Prepared<'_> {
    /// The state that a fault burns in, as a scenario: loads that never let go as the resistances that they are at the base state, other sources taken away where one
    /// alone feeds it. `None` where the wire has no such fault.
    pub fn fault_scenario(&self, base: &Point, fault: &Fault) -> Option<Scenario> {
        let design = self.design;
        let mut scenario = base.scenario.clone();
        hold(self, base, &mut scenario);
        if let Some(only) = fault.alone {
            scenario.opened.extend(design.batteries.ids().filter(|id| *id != only).map(|id| (ElementId::Source(id), None)));
        }
        let feeds = Feeds::new(self);
        let subject = subjects(self, &feeds).into_iter().find(|subject| subject.wire == fault.wire)?;
        let other = |side: usize| match fault.against {
            Against::Return(_) => subject.returns.map(|beside| self.node_end(beside.ends[side])),
            Against::Structure(ground) => Some(End::Ground(ground)),
        };
        let wire = &design.wires[fault.wire];
        let (place, against) = match fault.at {
            at if at <= 0.0 => (Place::End(wire.from.value), other(0)?),
            at if at >= 1.0 => (Place::End(wire.to.value), other(1)?),
            at => (Place::Along(ElementId::Wire(fault.wire), at), other(usize::from(at >= 0.5))?),
        };
        scenario.shorts.push((place, Place::End(against), Ohm(BOLTED)));
        Some(scenario)
    }

    /// A fault of a wire near a settled state, followed until it clears; `None` where nothing feeds it or the state does not settle.
    pub fn fault(&self, point: &Point, fault: Fault) -> Option<Burning> {
        let feeds = Feeds::new(self);
        let subject = subjects(self, &feeds).into_iter().find(|subject| subject.wire == fault.wire)?;
        let held = held(self, point);
        let bases = Bases::new(self, vec![held.as_ref().unwrap_or(point)]);
        let mut room = bases.near[0].room();
        Follow { bases: &bases, base: 0, subject: &subject, fault }.burning(&mut room)
    }
}
