//! What happens at a separation: every state in which some contacts have parted and others have not, and what is left.
//!
//! ```text
//! phase, steps done or not (planned · late · a device stuck) ─ contacts on loops ─ partial states, worst of each quantity
//!    ─ other orders of contacts ─ all parted: stubs, halves, loads ─ who commands what ─ under the blade
//! ```
//!
//! Up to [`Limits::settled`] contacts on loops every partial state is settled, with every load by its own law. Up to [`Limits::linear`] every one is a
//! solution of a reduced network with loads as resistances and diodes as they stand, and the worst of each quantity are settled then. Above that branch
//! and bound: a branch is left where no contact can carry more than what is known of it. The bound of a contact's current is the sum of all EMFs over its
//! own way and the least resistance that the rest can show, all undecided contacts mated (resistance between two nodes falls with all that is added). It
//! stops after [`Limits::nodes`] branches and says then what a quantity may be at most.
//!
//! Cost: per variant and corner 2ⁿ states of n contacts on loops.

mod functions;
mod ordnance;
mod partial;

use analysis::{Near, Prepared, Watch};
use functions::Functions;
use model::*;
pub use partial::{Limits, Partial, Worst as WorstStates, search};
use physics::*;
use std::collections::{BTreeMap, BTreeSet};

/// Follows every separation, and what stands between initiators and sources. `points`: the settled states of all phases and corners.
pub fn separate(prepared: &Prepared, points: &[Point], limits: Limits, watch: &dyn Watch) -> SeparationTable {
    let mut table = part(prepared, points, limits, watch);
    ordnance::ordnance(prepared, points, &mut table, watch);
    table
}

/// Follows every separation alone.
pub fn part(prepared: &Prepared, points: &[Point], limits: Limits, watch: &dyn Watch) -> SeparationTable {
    let mut table = SeparationTable::default();
    for (id, _) in prepared.design().separations.iter() {
        if watch.cancelled() {
            table.partial = true;
            break;
        }
        table.events.push(Event::new(prepared, points, id).follow(limits));
    }
    table
}

/// A separation that is followed.
struct Event<'s, 'd> {
    prepared: &'s Prepared<'d>,
    design: &'s Design,
    points: &'s [Point],
    id: Id<Separation>,
    row: &'s Separation,
    /// Contacts and structure paths that part, by row, with the earliest and latest time and the turn.
    elements: Vec<Parts>,
    roles: BTreeMap<Id<Contact>, ContactRole>,
    /// Contacts part between these times, s.
    window: (f64, f64),
}

/// Something that parts.
#[derive(Clone, Copy)]
struct Parts {
    element: ElementId,
    row: usize,
    /// Its connector, by the step and the half, and its turn; `None` of a structure path.
    turn: Option<(usize, Id<Connector>, Turn)>,
    window: (f64, f64),
}

/// Which steps are done, and what is stuck.
struct Standing {
    done: Vec<bool>,
    /// What stands otherwise than commanded.
    otherwise: Vec<(ElementId, Commanded)>,
}

impl<'s, 'd> Event<'s, 'd> {
    fn new(prepared: &'s Prepared<'d>, points: &'s [Point], id: Id<Separation>) -> Event<'s, 'd> {
        let design = prepared.design();
        let row = &design.separations[id];
        let mut elements = Vec::new();
        for (at, step) in row.steps.iter().enumerate() {
            let Act::Release(released) = &step.act else { continue };
            let window = (step.time.low.value.0, step.time.high.value.0);
            for part in released {
                let element = ElementId::Contact(part.contact);
                let half = design.pins[design.contacts[part.contact].a].connector;
                if let Some(row) = prepared.branch_of(element) {
                    elements.push(Parts { element, row, turn: Some((at, half, part.turn)), window });
                }
            }
        }
        let bounds = elements.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), part| (part.window.0.min(a), part.window.1.max(b)));
        let window = if elements.is_empty() { (f64::INFINITY, f64::INFINITY) } else { bounds };
        for path in &row.structure {
            let element = ElementId::StructurePath(path.value);
            if let Some(row) = prepared.branch_of(element) {
                elements.push(Parts { element, row, turn: None, window });
            }
        }
        let mut event = Event { prepared, design, points, id, row, elements, roles: BTreeMap::new(), window };
        event.roles = event.find_roles();
        event
    }

    /// A state of the phase: these steps done, this stuck, these elements parted.
    fn scenario(&self, corner: Corner, standing: &Standing, parted: &[ElementId]) -> Scenario {
        let mut scenario = self.base(corner).map_or_else(|| Scenario::new(self.row.phase.value, corner), |point| point.scenario.clone());
        // What several steps command stands as the last one done left it; before the first the other way.
        let mut stands: BTreeMap<ElementId, (f64, Commanded)> = BTreeMap::new();
        for (step, done) in self.row.steps.iter().zip(&standing.done) {
            let Act::Command(states) = &step.act else { continue };
            for &(element, commanded) in states.iter().map(|given| &given.value) {
                let (time, state) = match (done, commanded) {
                    (true, state) => (step.time.typical.value.0, state),
                    (false, Commanded::On) => (f64::NEG_INFINITY, Commanded::Off),
                    (false, Commanded::Off) => (f64::NEG_INFINITY, Commanded::On),
                };
                let known = stands.entry(element).or_insert((time, state));
                if time > known.0 || time.is_finite() && time == known.0 {
                    *known = (time, state);
                }
            }
        }
        for (element, (_, state)) in stands {
            match element {
                ElementId::Load(load) => {
                    scenario.loads.push((load, if state == Commanded::On { LoadChange::On } else { LoadChange::Off }));
                }
                _ => scenario.switches.push((element, state)),
            }
        }
        for &(element, state) in &standing.otherwise {
            match element {
                ElementId::Load(load) => scenario.loads.push((load, if state == Commanded::On { LoadChange::On } else { LoadChange::Off })),
                ElementId::Switch(_) | ElementId::Protector(_) => {
                    scenario.stuck.push((element, if state == Commanded::On { Stuck::Closed } else { Stuck::Open }));
                }
                _ => {
                    scenario.switches.retain(|(other, _)| *other != element);
                    scenario.switches.push((element, state));
                }
            }
        }
        scenario.opened.extend(parted.iter().map(|&element| (element, None)));
        scenario
    }

    fn base(&self, corner: Corner) -> Option<&'s Point> {
        self.points.iter().find(|point| point.scenario.phase == self.row.phase.value && point.scenario.corner == corner)
    }

    /// Settles a state of the phase, its copper as warm as in the phase.
    fn settle(&self, corner: Corner, standing: &Standing, parted: &[ElementId]) -> Point {
        let scenario = self.scenario(corner, standing, parted);
        match self.base(corner) {
            Some(point) => self.prepared.near(point).afresh(&scenario),
            None => self.prepared.point(&scenario),
        }
    }

    fn steps(&self, done: impl Fn(&Step) -> bool) -> Standing {
        Standing { done: self.row.steps.iter().map(done).collect(), otherwise: Vec::new() }
    }

    /// What contacts are for: by the interface sheets of what their wires lead to, and whether they are live while nothing is dead yet.
    fn find_roles(&self) -> BTreeMap<Id<Contact>, ContactRole> {
        let design = self.design;
        let mut port: BTreeMap<Id<Pin>, PinMeaning> = BTreeMap::new();
        port.extend(design.ports.iter().map(|(_, row)| (row.pin, row.meaning.value)));
        let own: BTreeSet<usize> = self.elements.iter().map(|part| part.row).collect();
        let meanings = |from: End| -> BTreeSet<PinMeaning> {
            let mut found = BTreeSet::new();
            let mut ends = vec![from];
            let mut seen: BTreeSet<End> = BTreeSet::from([from]);
            while let Some(end) = ends.pop() {
                if let End::Pin(pin) = end {
                    found.extend(port.get(&pin).copied());
                }
                let Some(node) = self.prepared.node(end) else { continue };
                for &row in self.prepared.meeting(node) {
                    let row = row as usize;
                    let passive = matches!(self.prepared.branches()[row].element, ElementId::Wire(_) | ElementId::Contact(_));
                    if passive && !own.contains(&row) {
                        let (a, b) = self.prepared.branch_ends(row);
                        ends.extend([a, b].into_iter().filter(|end| seen.insert(*end)));
                    }
                }
            }
            found
        };
        let before = self.settle(Corner::High, &self.steps(|_| false), &[]);
        let mut roles = BTreeMap::new();
        for part in &self.elements {
            let ElementId::Contact(id) = part.element else { continue };
            let contact = &design.contacts[id];
            let all: BTreeSet<PinMeaning> = [contact.a, contact.b].into_iter().flat_map(|pin| meanings(End::Pin(pin))).collect();
            let is_power = |meaning: &PinMeaning| matches!(meaning, PinMeaning::PowerIn | PinMeaning::PowerOut | PinMeaning::Return);
            let unused = |meaning: &PinMeaning| matches!(meaning, PinMeaning::Spare | PinMeaning::NoConnect);
            let role = match () {
                () if all.iter().any(|meaning| !is_power(meaning) && !unused(meaning)) => ContactRole::Signal,
                () if !all.iter().any(is_power) => ContactRole::NotKnown,
                () => {
                    let node = self.prepared.branches()[part.row].from;
                    let live = self.against_ground(&before, node, &[]).is_some_and(|volts| volts.abs() > rules::LIVE);
                    if live { ContactRole::Feed } else { ContactRole::Return }
                }
            };
            roles.insert(id, role);
        }
        roles
    }

    /// Voltage of a node against a ground of its part with these branches open, else against the negative terminal of a source of its island; `None` where
    /// nothing drives it.
    fn against_ground(&self, point: &Point, node: NodeId, without: &[usize]) -> Option<f64> {
        let island = point.island_of[node.row()]?;
        if !point.islands[island as usize].driven || !point.islands[island as usize].outcome.is_settled() {
            return None;
        }
        let ground = self.ground_of(point, node, without)?;
        Some(point.voltage[node.row()] - point.voltage[ground.row()])
    }

    /// The zero that a node's voltage counts against.
    fn ground_of(&self, point: &Point, node: NodeId, without: &[usize]) -> Option<NodeId> {
        let island = point.island_of[node.row()]?;
        let part = self.prepared.parts_without(&point.scenario, without);
        let lies = |of: NodeId| point.island_of[of.row()] == Some(island);
        let grounds: Vec<(NodeId, bool)> =
            self.design.grounds.iter().filter_map(|(id, row)| Some((self.prepared.node(End::Ground(id))?, row.reference))).collect();
        let own = grounds.iter().find(|(of, _)| lies(*of) && part[of.row()] == part[node.row()]);
        let declared = grounds.iter().find(|(of, reference)| *reference && lies(*of));
        let any = own.or(declared).or_else(|| grounds.iter().find(|(of, _)| lies(*of))).map(|(of, _)| *of);
        any.or_else(|| {
            let negative = |source: &Source| self.prepared.node(source.negative.value).filter(|of| lies(*of));
            self.design.batteries.iter().find_map(|(_, source)| negative(source))
        })
    }

    /// Elements that have to be parted before each one, by place: by the times of their connectors, and by their turns within one.
    fn before(&self, part: &Parts, other: &Parts) -> bool {
        if other.window.1 < part.window.0 {
            return true;
        }
        match (part.turn, other.turn) {
            (Some((a, half_a, turn_a)), Some((b, half_b, turn_b))) => a == b && half_a == half_b && turn_b < turn_a,
            _ => false,
        }
    }

    /// What is done while contacts part, if everything comes in time.
    fn planned(&self) -> Standing {
        let (from, to) = self.window;
        self.steps(|step| step.time.high.value.0 <= from || step.time.low.value.0 < to)
    }

    fn variants(&self) -> Vec<(Variant, Standing)> {
        let (from, to) = self.window;
        let planned = || self.planned();
        let commands = |step: &&Step| matches!(step.act, Act::Command(_));
        let late: Vec<usize> = (0..self.row.steps.len())
            .filter(|&at| {
                let step = &self.row.steps[at];
                commands(&step) && step.time.high.value.0 > from && step.time.low.value.0 < to
            })
            .collect();
        let mut variants = vec![(Variant::Planned, planned())];
        let mut not_yet = |steps: Vec<usize>| {
            let mut standing = planned();
            steps.iter().for_each(|&at| standing.done[at] = false);
            variants.push((Variant::Late(steps), standing));
        };
        late.iter().for_each(|&at| not_yet(vec![at]));
        if late.len() > 1 {
            not_yet(late);
        }
        let mut seen = BTreeSet::new();
        for (step, done) in self.row.steps.iter().zip(planned().done) {
            let Act::Command(states) = &step.act else { continue };
            for &(element, commanded) in states.iter().map(|given| &given.value).filter(|_| done) {
                if matches!(element, ElementId::Switch(_) | ElementId::Protector(_) | ElementId::Source(_)) && seen.insert(element) {
                    let other = if commanded == Commanded::On { Commanded::Off } else { Commanded::On };
                    variants.push((Variant::Stuck(element), Standing { otherwise: vec![(element, other)], ..planned() }));
                }
            }
        }
        for (id, _) in self.floating() {
            for state in self.levels(id) {
                let otherwise = self.taken_for(id, state);
                if !self.moved(&planned(), &otherwise).is_empty() || !self.moved(&self.steps(|_| true), &otherwise).is_empty() {
                    variants.push((Variant::Floats(id, state), Standing { otherwise, ..planned() }));
                }
            }
        }
        variants
    }

    /// What an input may be taken for while nothing drives it.
    fn levels(&self, id: Id<CommandInput>) -> Vec<Commanded> {
        match self.design.command_inputs[id].open_reads.map(|given| given.value) {
            Some(OpenReads::Off) => vec![Commanded::Off],
            Some(OpenReads::On) => vec![Commanded::On],
            Some(OpenReads::Either) => vec![Commanded::On, Commanded::Off],
            None => Vec::new(),
        }
    }

    /// How everything that an input commands stands where it is taken for on or for off.
    fn taken_for(&self, id: Id<CommandInput>, state: Commanded) -> Vec<(ElementId, Commanded)> {
        let turned = |on: Commanded| match (state, on) {
            (Commanded::On, on) => on,
            (Commanded::Off, Commanded::On) => Commanded::Off,
            (Commanded::Off, Commanded::Off) => Commanded::On,
        };
        self.design.command_inputs[id].states.iter().map(|given| (given.value.0, turned(given.value.1))).collect()
    }

    /// Which of some states are not those that elements have anyway.
    fn moved(&self, standing: &Standing, states: &[(ElementId, Commanded)]) -> Vec<ElementId> {
        let point = self.settle(Corner::Typical, standing, &[]);
        let laws = self.prepared.laws(&point.scenario);
        let is_on = |element: ElementId| match element {
            ElementId::Load(load) => point.load_state[load] != LoadState::Off,
            _ => self.prepared.branch_of(element).is_some_and(|row| laws[row] != analysis::Law::Open),
        };
        states.iter().filter(|(element, state)| is_on(*element) != (*state == Commanded::On)).map(|(element, _)| *element).collect()
    }

    /// Inputs whose wires part, each with a contact on its way; what joins a contact to an input conducts whatever is commanded.
    fn floating(&self) -> Vec<(Id<CommandInput>, Id<Contact>)> {
        let own: BTreeMap<usize, Id<Contact>> = self
            .elements
            .iter()
            .filter_map(|part| match part.element {
                ElementId::Contact(id) => Some((part.row, id)),
                _ => None,
            })
            .collect();
        let crosses = |(id, input): (Id<CommandInput>, &CommandInput)| {
            let found = self.net_of(End::Pin(input.pin.value)).into_iter().filter_map(|row| own.get(&row).copied()).min()?;
            Some((id, found))
        };
        self.design.command_inputs.iter().filter_map(crosses).collect()
    }

    /// Rows of the wires, contacts and links that join a net from one of its ends.
    fn net_of(&self, from: End) -> BTreeSet<usize> {
        let mut rows = BTreeSet::new();
        let mut next: Vec<NodeId> = self.prepared.node(from).into_iter().collect();
        let mut seen: BTreeSet<NodeId> = next.iter().copied().collect();
        while let Some(node) = next.pop() {
            for &row in self.prepared.meeting(node) {
                let branch = self.prepared.branches()[row as usize];
                if matches!(branch.element, ElementId::Wire(_) | ElementId::Contact(_) | ElementId::Link(_)) && rows.insert(row as usize) {
                    next.extend([branch.from, branch.to].into_iter().filter(|node| seen.insert(*node)));
                }
            }
        }
        rows
    }

    /// Inputs that float, with what they move should they be taken for on; contacts of commands whose inputs no row describes.
    fn inputs(&self, result: &mut SeparationResult) {
        let mut described: BTreeSet<usize> = BTreeSet::new();
        for (input, contact) in self.floating() {
            let row = &self.design.command_inputs[input];
            if row.open_reads.is_none() {
                continue;
            }
            described.extend(self.net_of(End::Pin(row.pin.value)));
            let states = self.taken_for(input, Commanded::On);
            let mut moves = self.moved(&self.planned(), &states);
            moves.extend(self.moved(&self.steps(|_| true), &states));
            moves.sort_unstable();
            moves.dedup();
            result.floating.push(FloatingInput { input, contact, moves });
        }
        let commands: BTreeSet<Id<Pin>> =
            self.design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::Command).map(|(_, port)| port.pin).collect();
        for part in &self.elements {
            let ElementId::Contact(id) = part.element else { continue };
            let contact = &self.design.contacts[id];
            if !described.contains(&part.row) && [contact.a, contact.b].iter().any(|pin| commands.contains(pin)) {
                result.unknown_inputs.push(id);
            }
        }
    }

    fn follow(&self, limits: Limits) -> SeparationResult {
        let all: Vec<ElementId> = self.elements.iter().map(|part| part.element).collect();
        let rows: Vec<usize> = self.elements.iter().map(|part| part.row).collect();
        let mut result = SeparationResult {
            separation: self.id,
            contacts: self.roles.iter().map(|(&id, &role)| (id, role)).collect(),
            variants: Vec::new(),
            searches: Vec::new(),
            worst: Vec::new(),
            stuck: Vec::new(),
            orders: Vec::new(),
            feeds: Vec::new(),
            stubs: Vec::new(),
            halves: Vec::new(),
            lost: Vec::new(),
            functions: Vec::new(),
            floating: Vec::new(),
            unknown_inputs: Vec::new(),
            commands: Vec::new(),
            bridged: Vec::new(),
            unsettled: Vec::new(),
        };
        // After everything: what has to work then is watched in between too.
        let done = self.steps(|_| true);
        let before = Corner::ALL.map(|corner| self.settle(corner, &self.steps(|_| false), &[]));
        let after = Corner::ALL.map(|corner| self.settle(corner, &done, &all));
        let keeps = |load: Id<Load>| (0..3).all(|at| before[at].serves(load) && after[at].serves(load));
        let kept: Vec<Id<Load>> = self.design.loads.ids().filter(|&load| keeps(load)).collect();
        let (mut worst, mut stuck): (BTreeMap<Target, PartialWorst>, BTreeMap<Target, PartialWorst>) = Default::default();
        let given = |part: &Parts, other: &Parts| self.before(part, other);
        let functions = Functions::new(self.prepared, self.row.phase.value, &before);
        let mut between: BTreeMap<Id<Function>, [Option<FunctionBetween>; 2]> = BTreeMap::new();
        for (at, (variant, standing)) in self.variants().iter().enumerate() {
            for corner in [Corner::Low, Corner::High] {
                let base = self.settle(corner, standing, &[]);
                let partial = self.partial(&base, &rows, &kept, &given).watching(&functions);
                let found = search(self.prepared, &partial, limits);
                let place = usize::from(matches!(variant, Variant::Stuck(_)));
                for &(case, mated) in &found.functions {
                    let known = &mut between.entry(case.function).or_default()[place];
                    let parted = parted_of(&partial, mated);
                    let is_worse = |known: &FunctionBetween| {
                        (case.effect, std::cmp::Reverse(parted.len())) > (known.case.effect, std::cmp::Reverse(known.parted.len()))
                    };
                    if known.as_ref().is_none_or(is_worse) {
                        *known = Some(FunctionBetween { case, variant: at, corner, parted });
                    }
                }
                let into = if matches!(variant, Variant::Stuck(_)) { &mut stuck } else { &mut worst };
                self.keep(&partial, &found, at, into, &mut result.unsettled);
                result.searches.push(VariantSearch {
                    variant: variant.clone(),
                    corner,
                    on_loops: partial.elements.iter().map(|(element, ..)| *element).collect(),
                    left_out: self.elements.len() - partial.elements.len(),
                    examined: found.examined,
                    excluded: found.excluded,
                    searched: found.searched,
                });
            }
            result.variants.push(variant.clone());
        }
        self.overlaps(&kept, &mut worst, &mut result);
        result.worst = worst.into_values().collect();
        result.stuck = stuck.into_values().collect();
        self.try_orders(&rows, &kept, limits, &mut result);
        self.afterwards(&all, &after, &before, &mut result);
        let stand = Corner::ALL.map(|corner| functions.stand(self.prepared, &after[corner as usize]));
        for (at, &first) in stand[0].iter().enumerate() {
            let of = |corner: Corner| (corner, stand[corner as usize][at]);
            let graver =
                |known: (Corner, FunctionCase), new: (Corner, FunctionCase)| if new.1.effect > known.1.effect { new } else { known };
            let (corner, after) = Corner::ALL.into_iter().map(of).fold((Corner::ALL[0], first), graver);
            let mut between = between.remove(&after.function).unwrap_or_default();
            for place in &mut between {
                *place = place.take().filter(|found| found.case.effect > after.effect);
            }
            result.functions.push(FunctionParted { after, corner, between });
        }
        self.inputs(&mut result);
        self.who_commands(&all, &mut result);
        self.blades(&mut result);
        result
    }

    /// What is searched in a base state.
    fn partial<'b>(&self, base: &'b Point, rows: &[usize], kept: &[Id<Load>], before: &dyn Fn(&Parts, &Parts) -> bool) -> Partial<'b> {
        // What nothing drives with everything mated nothing drives in any other state.
        let driven = |row: usize| {
            let island = base.island_of[self.prepared.branches()[row].from.row()];
            island.is_some_and(|island| base.islands[island as usize].driven)
        };
        let on_loop: Vec<bool> =
            self.prepared.on_loops(&base.scenario, rows).into_iter().zip(rows).map(|(on, &row)| on && driven(row)).collect();
        let mut parts: Vec<&Parts> = self.elements.iter().zip(&on_loop).filter(|(_, on)| **on).map(|(part, _)| part).collect();
        // Masks have so many bits; what lies beyond stays mated, which is said.
        parts.truncate(128);
        let earlier = |part: &&Parts| {
            let is = |other: &&Parts| before(part, other);
            parts.iter().enumerate().filter(|(_, other)| is(other)).fold(0u128, |mask, (at, _)| mask | 1 << at)
        };
        let elements: Vec<(ElementId, usize, u128)> = parts.iter().map(|part| (part.element, part.row, earlier(part))).collect();
        let place = |id: Id<Contact>| parts.iter().position(|part| part.element == ElementId::Contact(id));
        let circuit = |id: Id<Contact>| self.circuit(id);
        let role = |id: Id<Contact>, wanted: ContactRole| self.roles.get(&id) == Some(&wanted);
        let contacts: Vec<Id<Contact>> = self.roles.keys().copied().collect();
        let alone = contacts.iter().filter(|id| role(**id, ContactRole::Feed)).filter_map(|&id| {
            let own = circuit(id)?;
            let returns = contacts.iter().filter(|other| role(**other, ContactRole::Return) && circuit(**other) == Some(own));
            let mask = returns.filter_map(|&other| place(other)).fold(0u128, |mask, at| mask | 1 << at);
            Some((place(id)?, mask))
        });
        let shift = self.design.loads.iter().filter(|(id, _)| base.serves(*id)).filter_map(|(id, load)| {
            let node = self.prepared.node(load.line_return.value)?;
            Some((id, node, self.ground_of(base, node, rows)?))
        });
        let volts = kept.iter().filter_map(|&id| {
            let load = &self.design.loads[id];
            Some((id, self.prepared.node(load.line.value)?, self.prepared.node(load.line_return.value)?))
        });
        let mut partial = Partial::new(base);
        partial.alone = alone.collect();
        partial.shift = shift.collect();
        partial.volts = volts.collect();
        partial.elements = elements;
        partial
    }

    /// The circuit of the wires at a contact.
    fn circuit(&self, id: Id<Contact>) -> Option<Id<Circuit>> {
        let contact = &self.design.contacts[id];
        let lands =
            |wire: &Wire| [wire.from.value, wire.to.value].iter().any(|end| *end == End::Pin(contact.a) || *end == End::Pin(contact.b));
        self.design.wires.iter().find(|(_, wire)| lands(wire) && wire.circuit.is_some()).and_then(|(_, wire)| Some(wire.circuit?.value))
    }

    fn keep(
        &self,
        partial: &Partial,
        found: &WorstStates,
        variant: usize,
        into: &mut BTreeMap<Target, PartialWorst>,
        unsettled: &mut Vec<String>,
    ) {
        let corner = partial.base.scenario.corner;
        for row in &found.rows {
            let parted = parted_of(partial, row.mated);
            let new =
                PartialWorst { target: row.target, value: row.value, mated: row.with_all, at_most: row.at_most, variant, corner, parted };
            let graver = |known: &PartialWorst| match row.target {
                Target::Volts(_) => new.value < known.value,
                _ => new.value > known.value || new.at_most > known.at_most,
            };
            if into.get(&row.target).is_none_or(graver) {
                into.insert(row.target, new);
            }
        }
        for mated in &found.unsettled {
            let parted: Vec<String> = parted_of(partial, *mated).into_iter().map(|element| self.design.element_words(element)).collect();
            let parted = if parted.is_empty() { "nothing".to_owned() } else { parted.join(", ") };
            let words = format!("{} parted, {} corner", parted, corner.word());
            if !unsettled.contains(&words) {
                unsettled.push(words);
            }
        }
    }

    /// With everything mated, one step after the other until contacts part: sources that feed each other, loads that are left without any.
    fn overlaps(&self, kept: &[Id<Load>], worst: &mut BTreeMap<Target, PartialWorst>, result: &mut SeparationResult) {
        for (at, step) in self.row.steps.iter().enumerate() {
            let time = step.time.typical.value.0;
            if !matches!(step.act, Act::Command(_)) || time > self.window.0 {
                continue;
            }
            let standing = self.steps(|other| other.time.typical.value.0 <= time);
            let variant = result.variants.len();
            result.variants.push(Variant::After(at));
            for corner in Corner::ALL {
                let base = self.settle(corner, &standing, &[]);
                let partial = self.partial(&base, &[], kept, &|_, _| false);
                let found = search(self.prepared, &partial, Limits::default());
                let watched = |row: &&partial::Row| matches!(row.target, Target::Charges(_) | Target::Volts(_));
                let rows = found.rows.iter().filter(watched).copied().collect();
                self.keep(&partial, &WorstStates { rows, ..found }, variant, worst, &mut result.unsettled);
            }
        }
    }

    /// The same with nothing dead, in several orders of contacts.
    fn try_orders(&self, rows: &[usize], kept: &[Id<Load>], limits: Limits, result: &mut SeparationResult) {
        let planned = self.planned();
        let nothing = self.steps(|_| false);
        let role = |part: &Parts| match part.element {
            ElementId::Contact(id) => self.roles.get(&id).copied(),
            _ => None,
        };
        let feeds_first = |part: &Parts, other: &Parts| role(other) == Some(ContactRole::Feed) && role(part) != Some(ContactRole::Feed);
        let returns_first = |part: &Parts, other: &Parts| role(other) == Some(ContactRole::Return) && role(part) == Some(ContactRole::Feed);
        let given = |part: &Parts, other: &Parts| self.before(part, other);
        let signals_last = |part: &Parts, other: &Parts| {
            let rank = |part: &Parts| match role(part) {
                Some(ContactRole::Feed) => 0,
                Some(ContactRole::Signal | ContactRole::NotKnown) => 1,
                _ => 2,
            };
            rank(other) < rank(part)
        };
        type Before<'a> = &'a dyn Fn(&Parts, &Parts) -> bool;
        let orders: [(&str, &Standing, Before); 5] = [
            ("as planned, dead first where steps say so", &planned, &given),
            ("nothing dead, in the order of the plane", &nothing, &given),
            ("nothing dead, feeds part first", &nothing, &feeds_first),
            ("nothing dead, feeds part first, then signals, returns last", &nothing, &signals_last),
            ("nothing dead, returns part first", &nothing, &returns_first),
        ];
        for (at, (words, standing, before)) in orders.into_iter().enumerate() {
            let base = self.settle(Corner::High, standing, &[]);
            if at == 1 {
                let feed = |part: &Parts| match part.element {
                    ElementId::Contact(id) if role(part) == Some(ContactRole::Feed) => {
                        Some((id, self.circuit(id), base.current[part.row].abs()))
                    }
                    _ => None,
                };
                result.feeds = self.elements.iter().filter_map(feed).collect();
                result.feeds.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
            }
            let partial = self.partial(&base, rows, kept, before);
            let found = search(self.prepared, &partial, limits);
            let greatest =
                |of: &dyn Fn(Target) -> bool| found.rows.iter().filter(|row| of(row.target)).map(|row| row.value).fold(0.0, f64::max);
            let is_signal = |target: Target| matches!(target, Target::Current(id) if self.roles.get(&id) == Some(&ContactRole::Signal));
            result.orders.push(OrderTried {
                words: words.to_owned(),
                signal: greatest(&is_signal),
                contact: greatest(&|target| matches!(target, Target::Current(_))),
                shift: greatest(&|target| matches!(target, Target::Shift(_))),
            });
        }
    }

    fn afterwards(&self, all: &[ElementId], after: &[Point; 3], before: &[Point; 3], result: &mut SeparationResult) {
        let design = self.design;
        let mut seen: BTreeMap<Id<Pin>, Stub> = BTreeMap::new();
        let mut look = |point: &Point, variant: usize| {
            for part in &self.elements {
                let ElementId::Contact(id) = part.element else { continue };
                for pin in [design.contacts[id].a, design.contacts[id].b] {
                    let Some(volts) = self.prepared.node(End::Pin(pin)).and_then(|node| self.against_ground(point, node, &[])) else {
                        continue;
                    };
                    let stub = Stub { pin, volts: Volt(volts), variant, corner: point.scenario.corner };
                    let known = seen.entry(pin).or_insert(stub);
                    // What is live as planned is said; a device that is stuck only of what is dead otherwise.
                    if volts.abs() > known.volts.0.abs() && (known.variant == variant || known.volts.0.abs() <= rules::LIVE) {
                        *known = stub;
                    }
                }
            }
        };
        after.iter().for_each(|point| look(point, 0));
        let mut floats_lose: BTreeSet<Id<Load>> = BTreeSet::new();
        for (at, (variant, standing)) in self.variants().into_iter().enumerate() {
            if matches!(variant, Variant::Stuck(_) | Variant::Floats(..)) {
                let standing = Standing { otherwise: standing.otherwise, ..self.steps(|_| true) };
                let point = self.settle(Corner::High, &standing, all);
                look(&point, at);
                let falls = |load: &Id<Load>| {
                    matches!(variant, Variant::Floats(..)) && before[2].serves(*load) && after[2].serves(*load) && !point.serves(*load)
                };
                floats_lose.extend(design.loads.ids().filter(falls));
            }
        }
        result.stubs = seen.into_values().filter(|stub| stub.volts.0.abs() > rules::LIVE).collect();
        let point = &after[2];
        for (at, island) in point.islands.iter().enumerate().filter(|(_, island)| island.driven) {
            let lies = |end: End| self.prepared.node(end).is_some_and(|node| point.island_of[node.row()] == Some(at as u32));
            let loads = design.loads.iter().filter(|(id, load)| point.serves(*id) && lies(load.line_return.value)).count();
            if loads == 0 || !island.outcome.is_settled() {
                continue;
            }
            let laws = self.prepared.laws(&point.scenario);
            let drives = |(id, source): (Id<Source>, &Source)| {
                let row = self.prepared.branch_of(ElementId::Source(id))?;
                (laws[row] != analysis::Law::Open && lies(source.negative.value)).then_some(ElementId::Source(id))
            };
            let grounds: Vec<Id<Ground>> = design.grounds.ids().filter(|&id| lies(End::Ground(id))).collect();
            let sources: Vec<ElementId> = design.batteries.iter().filter_map(drives).collect();
            // What joins a ground point to the sources without going through another one.
            let nodes: Vec<NodeId> = grounds.iter().filter_map(|&id| self.prepared.node(End::Ground(id))).collect();
            let at_grounds: Vec<usize> = nodes.iter().flat_map(|&node| self.prepared.meeting(node)).map(|&row| row as usize).collect();
            let part = self.prepared.parts_without(&point.scenario, &at_grounds);
            let negative = |element: &ElementId| match element {
                ElementId::Source(id) => self.prepared.node(design.batteries[*id].negative.value).map(|node| part[node.row()]),
                _ => None,
            };
            let live: BTreeSet<usize> = sources.iter().filter_map(negative).collect();
            let is_bond = |row: &&usize| {
                let branch = self.prepared.branches()[**row];
                laws[**row] != analysis::Law::Open && [branch.from, branch.to].iter().any(|node| live.contains(&part[node.row()]))
            };
            let bonds = at_grounds.iter().filter(is_bond).count();
            result.halves.push(LeftHalf { sources, grounds, bonds, loads });
        }
        let is_lost = |&load: &Id<Load>| {
            (0..3).any(|at| before[at].serves(load) && after[at].load_state[load] != LoadState::Off && !after[at].serves(load))
        };
        result.lost = design.loads.ids().filter(|load| is_lost(load) || floats_lose.contains(load)).collect();
        for point in after {
            let settled = point.islands.iter().all(|island| island.outcome.is_settled());
            if !settled {
                result.unsettled.push(format!("everything parted, {} corner", point.scenario.corner.word()));
            }
        }
    }

    fn who_commands(&self, all: &[ElementId], result: &mut SeparationResult) {
        for (at, step) in self.row.steps.iter().enumerate() {
            let after_parting = !matches!(step.act, Act::Release(_)) && step.time.high.value.0 > self.window.0;
            let by_fed = step.by.map(|by| {
                // Just before it: what comes for certain before it has been done; what parts may have parted.
                let standing = self.steps(|other| other.time.high.value.0 < step.time.low.value.0);
                let mated = self.settle(Corner::Low, &standing, &[]);
                mated.serves(by.value) && (!after_parting || self.settle(Corner::Low, &standing, all).serves(by.value))
            });
            result.commands.push(Commands { step: at, by_fed, after_parting });
        }
    }

    /// What a blade bridges: the wires of its segments, each to structure where it passes.
    fn blades(&self, result: &mut SeparationResult) {
        for (at, step) in self.row.steps.iter().enumerate() {
            let Act::Cut(segments) = &step.act else { continue };
            let standing = self.steps(|other| other.time.high.value.0 <= step.time.low.value.0);
            let gone = self.elements.iter().filter(|part| part.window.1 <= step.time.low.value.0);
            let parted: Vec<ElementId> = gone.map(|part| part.element).collect();
            for corner in [Corner::Low, Corner::High] {
                let base = self.settle(corner, &standing, &parted);
                let mut scenario = base.scenario.clone();
                for segment in segments {
                    let subject = Subject::Segment(segment.value);
                    let change = FaultChange::Grounded(segment.value);
                    self.prepared
                        .lay(&Fault { kind: FaultKind::ALL[0], item: subject, change, conservative: false, assumed: false }, &mut scenario);
                }
                let mut wires = Vec::new();
                for (place, ..) in &scenario.shorts {
                    if let Place::Along(ElementId::Wire(wire), _) = place {
                        wires.push(*wire);
                    }
                }
                let near: Near = self.prepared.near(&base);
                let mut point = near.afresh(&scenario);
                let is_settled = |point: &Point| point.islands.iter().all(|island| island.outcome.is_settled());
                if !is_settled(&point) {
                    // What draws a fixed power has no state at a volt or two.
                    let held = self.prepared.with_loads_held(&base);
                    point = self.prepared.near(&held).afresh(&Scenario { shorts: scenario.shorts.clone(), ..held.scenario.clone() });
                }
                let settled = is_settled(&point);
                let currents = self.prepared.short_currents(&point);
                let worst = wires.iter().zip(&currents).map(|(&wire, current)| (wire, current.abs()));
                let worst = worst.fold(None, |known: Option<(Id<Wire>, f64)>, new| match known {
                    Some(known) if known.1 >= new.1 => Some(known),
                    _ => Some(new),
                });
                let falls = |&load: &Id<Load>| {
                    let least = self.design.loads[load].drop_out.map(|given| given.value.0);
                    let now = point.load_voltage[load].map_or(0.0, |volts| volts.0);
                    base.serves(load) && (!point.serves(load) || least.is_some_and(|least| now < least))
                };
                let upset = self.design.loads.ids().filter(falls).collect();
                result.bridged.push(Bridged { step: at, wires, worst, corner, settled, upset });
            }
        }
    }
}

/// What has parted in a partial state.
fn parted_of(partial: &Partial, mated: u128) -> Vec<ElementId> {
    partial.elements.iter().enumerate().filter(|(at, _)| mated >> at & 1 == 0).map(|(_, part)| part.0).collect()
}
