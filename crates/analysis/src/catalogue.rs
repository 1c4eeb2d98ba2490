//! The catalogue of single faults: generated from the design alone.
//!
//! Kinds follow each other as in [`FaultKind::ALL`], and within one the rows of the tables, so that a design gives the same list on every
//! run. What a wire can touch in its bundles follows from their packed cross-sections ([`crate::Bundle`]): circles that touch; cores of one
//! cable lie against each other, and a shield keeps its cores from all else. Which contacts a bent pin or debris reaches follows from the
//! positions of the insert's cavities: those within two pitches, a pitch being the least distance of two of them. Cavities of which an
//! arrangement gives the number alone are taken to stand in rings, and what follows from that is marked as assumed. Without an arrangement
//! every pair is listed and marked. Two faults that join the same two ends are one, listed under the first kind that has it. The nodes of a stub and
//! of its socket are those of the two pins of a contact, which the design has anyway.
//!
//! Cost: linear in the tables, beside the circles that touch and the contacts within reach of each other.

use crate::Prepared;
use crate::bundles::MemberOf;
use model::*;
use std::collections::{HashMap, HashSet};

/// Two circles touch that are no farther apart than this share of the smaller one's diameter: packed circles overlap by no more than a
/// billionth, and come to rest a little apart.
const TOUCH: f64 = 0.02;
/// Pitches that a bent pin or a flake of metal reaches.
///
/// # Source  Common practice, no source.
const REACH: f64 = 2.0;

impl Prepared<'_> {
    /// Every single fault.
    pub fn catalogue(&self) -> Catalogue {
        let mut list = List { prepared: self, design: self.design, joined: HashSet::new(), out: Catalogue::default() };
        for kind in FaultKind::ALL {
            list.of_kind(kind);
        }
        list.out
    }

    /// Wires that touch each other in a bundle, each pair once, in order.
    ///
    /// Cost: quadratic in the circles of a bundle.
    pub fn touching(&self) -> Vec<(Id<Wire>, Id<Wire>, Id<Segment>)> {
        let mut pairs: Vec<(Id<Wire>, Id<Wire>, Id<Segment>)> = Vec::new();
        let mut seen: HashSet<(Id<Wire>, Id<Wire>)> = HashSet::new();
        for segment in self.design.segments.ids() {
            let bundle = self.bundle(segment);
            let mut add = |a: Id<Wire>, b: Id<Wire>| {
                let pair = (a.min(b), a.max(b));
                if seen.insert(pair) {
                    pairs.push((pair.0, pair.1, segment));
                }
            };
            let is_shielded = |of: MemberOf| match of {
                MemberOf::Cable(cable) => {
                    let kind = self.design.cables[cable].kind;
                    kind.is_shielded() || kind == CableKind::Coaxial
                }
                MemberOf::Wire(_) => false,
            };
            for (at, member) in bundle.members.iter().enumerate() {
                for (k, &a) in member.wires.iter().enumerate() {
                    member.wires[k + 1..].iter().for_each(|&b| add(a, b));
                }
                if is_shielded(member.of) {
                    continue;
                }
                for other in at + 1..bundle.members.len() {
                    let beside = &bundle.members[other];
                    let (p, q) = (&bundle.places[at], &bundle.places[other]);
                    let gap = (p.x.0 - q.x.0).hypot(p.y.0 - q.y.0) - 0.5 * (member.diameter.0 + beside.diameter.0);
                    if is_shielded(beside.of) || gap > TOUCH * member.diameter.0.min(beside.diameter.0) {
                        continue;
                    }
                    for &a in &member.wires {
                        beside.wires.iter().for_each(|&b| add(a, b));
                    }
                }
            }
        }
        pairs.sort_unstable();
        pairs
    }

    /// Lays a fault over a state.
    pub fn lay(&self, fault: &Fault, scenario: &mut Scenario) {
        match fault.change {
            FaultChange::Open(element) => scenario.opened.push((element, None)),
            FaultChange::Ohms(element, ohms) => scenario.ohms.push((element, ohms)),
            FaultChange::Stuck(element, stuck) => scenario.stuck.push((element, stuck)),
            FaultChange::Short(a, b) => scenario.shorts.push((a, b, BOLTED)),
            FaultChange::Lost(subject) => scenario.lost.push(subject),
            FaultChange::Grounded(segment) => scenario.shorts.extend(self.grounded(segment)),
            FaultChange::Beside(a, b) => scenario.lost.extend([a, b].map(Subject::Segment)),
            FaultChange::Bent(contact, pin, place) => {
                scenario.opened.push((ElementId::Contact(contact), None));
                scenario.shorts.push((Place::End(End::Pin(pin)), place, BOLTED));
            }
        }
    }

    /// The wires of a severed segment, each joined to structure where the segment is in it: half-way along that segment.
    fn grounded(&self, segment: Id<Segment>) -> Vec<(Place, Place, physics::Ohm)> {
        let along = |&wire: &Id<Wire>| {
            self.branch_of(ElementId::Wire(wire))?;
            Some((Place::Along(ElementId::Wire(wire), self.fraction(wire, segment)), Place::Structure, BOLTED))
        };
        self.layout.members(segment).iter().filter_map(along).collect()
    }

    /// How far along a wire the middle of a segment lies, as a share of its route.
    fn fraction(&self, wire: Id<Wire>, segment: Id<Segment>) -> f64 {
        let Some(run) = self.layout.run(wire) else { return 0.5 };
        let length = |id: Id<Segment>| self.design.segments[id].length.value.0;
        let whole: f64 = run.segments.iter().map(|&id| length(id)).sum();
        let before: f64 = run.segments.iter().take_while(|&&id| id != segment).map(|&id| length(id)).sum();
        // Whole per mille: the id of a fault is short, and reads back to the same place.
        if whole > 0.0 { ((before + 0.5 * length(segment)) / whole * 1e3).round().clamp(1.0, 999.0) / 1e3 } else { 0.5 }
    }
}

struct List<'p, 'd> {
    prepared: &'p Prepared<'d>,
    design: &'d Design,
    /// Places that faults so far join.
    joined: HashSet<[Option<End>; 2]>,
    out: Catalogue,
}

/// What is known of the positions that a fault rests on.
#[derive(Clone, Copy, PartialEq)]
enum Known {
    /// They are given, or do not matter.
    Drawn,
    /// Rings of cavities of which the number is given.
    Assumed,
    /// Nothing: every pair is listed.
    Nothing,
}

impl Known {
    fn fault(self, kind: FaultKind, item: Subject, change: FaultChange) -> Fault {
        Fault { kind, item, change, conservative: self == Known::Nothing, assumed: self == Known::Assumed }
    }
}

/// Positions of so many cavities, in pitches: rings of 1, 6, 12, 18 … a pitch apart, as circles are packed around one; counted from the outermost inwards, and what lacks in full rings lacks in the inner
/// ones. A ring that is not full is spread evenly.
///
/// # Source  Common practice, no source: round inserts are laid out so, each in its own way.
fn rings(cavities: usize) -> Vec<(f64, f64)> {
    let outermost = (0..).find(|r| 1 + 3 * r * (r + 1) >= cavities).unwrap_or(0);
    let mut places = Vec::with_capacity(cavities);
    for ring in (0..=outermost).rev() {
        let on_ring = if ring == 0 { 1 } else { 6 * ring }.min(cavities - places.len());
        let turn = |k: usize| std::f64::consts::TAU * k as f64 / on_ring as f64;
        places.extend((0..on_ring).map(|k| (ring as f64 * turn(k).cos(), ring as f64 * turn(k).sin())));
    }
    places
}

impl List<'_, '_> {
    fn of_kind(&mut self, kind: FaultKind) {
        let design = self.design;
        let row = |element| self.prepared.branch_of(element).is_some();
        match kind {
            FaultKind::WireOpen | FaultKind::ParallelWireOpen => {
                let is_parallel = kind == FaultKind::ParallelWireOpen;
                for (id, wire) in design.wires.iter().filter(|(_, wire)| wire.group.is_some() == is_parallel) {
                    if wire.from.value != wire.to.value && row(ElementId::Wire(id)) {
                        self.push(kind, ElementId::Wire(id), FaultChange::Open(ElementId::Wire(id)));
                    }
                }
            }
            FaultKind::WireToStructure => self.wires_to_structure(),
            FaultKind::WireToReturn => {
                for (wire, ends, back) in self.prepared.returns() {
                    let own = [design.wires[wire].from.value, design.wires[wire].to.value];
                    for side in 0..2 {
                        if ends[side] != back[side] {
                            let other = self.prepared.node_end(back[side]);
                            self.join(kind, ElementId::Wire(wire).into(), own[side], Place::End(other), Known::Drawn);
                        }
                    }
                }
            }
            FaultKind::WireToNeighbour => self.neighbours(),
            FaultKind::ContactOpen => {
                design.contacts.ids().for_each(|id| self.push(kind, ElementId::Contact(id), FaultChange::Open(ElementId::Contact(id))));
            }
            FaultKind::ContactResistive => design
                .contacts
                .ids()
                .for_each(|id| self.push(kind, ElementId::Contact(id), FaultChange::Ohms(ElementId::Contact(id), RESISTIVE))),
            FaultKind::PinBent => self.bent(),
            FaultKind::ContactsBridged => self.bridged(),
            FaultKind::ConnectorDemated => {
                for (mate, contacts) in self.mated() {
                    let first = &self.design.contacts[contacts[0]];
                    // A half that follows from the other one alone has no name to be called by.
                    let named = design.connectors[mate].implied != Implied::AsMate;
                    let half = if named { mate } else { design.pins[first.a].connector };
                    self.lost(kind, Subject::Connector(half));
                }
            }
            FaultKind::SegmentSevered => {
                for id in design.segments.ids().filter(|id| !self.prepared.layout.members(*id).is_empty()) {
                    self.push(kind, Subject::Segment(id), FaultChange::Lost(Subject::Segment(id)));
                }
            }
            FaultKind::SegmentGrounded => {
                for id in design.segments.ids() {
                    if self.has_structure() && !self.prepared.grounded(id).is_empty() {
                        self.push(kind, Subject::Segment(id), FaultChange::Grounded(id));
                    }
                }
            }
            FaultKind::SegmentsBesideSevered => self.beside(),
            FaultKind::ClampSevered => {
                for (id, clamp) in design.clamps.iter().filter(|(_, clamp)| !clamp.with.is_empty()) {
                    if clamp.segments().any(|segment| !self.prepared.layout.members(segment).is_empty()) {
                        self.lost(kind, Subject::Clamp(id));
                    }
                }
            }
            FaultKind::SpliceOpen => design.splices.ids().for_each(|id| self.lost(kind, Subject::Splice(id))),
            FaultKind::StudOpen => design.studs.ids().for_each(|id| self.lost(kind, Subject::Stud(id))),
            FaultKind::StrapOpen => {
                design.straps.ids().for_each(|id| self.push(kind, ElementId::Strap(id), FaultChange::Open(ElementId::Strap(id))));
            }
            FaultKind::GroundOpen => design.grounds.ids().for_each(|id| self.lost(kind, Subject::Ground(id))),
            FaultKind::ProtectorOpen => design.protectors.ids().for_each(|id| self.stuck(kind, ElementId::Protector(id), Stuck::Open)),
            FaultKind::ProtectorClosed => design.protectors.ids().for_each(|id| self.stuck(kind, ElementId::Protector(id), Stuck::Closed)),
            FaultKind::SwitchOpen => design.switches.ids().for_each(|id| self.stuck(kind, ElementId::Switch(id), Stuck::Open)),
            FaultKind::SwitchClosed => design.switches.ids().for_each(|id| self.stuck(kind, ElementId::Switch(id), Stuck::Closed)),
            FaultKind::DiodeOpen => design.diodes.ids().for_each(|id| self.stuck(kind, ElementId::Diode(id), Stuck::Open)),
            FaultKind::DiodeShorted => design.diodes.ids().for_each(|id| self.stuck(kind, ElementId::Diode(id), Stuck::Shorted)),
            FaultKind::BusLost => self.buses().for_each(|id| self.lost(kind, Subject::Inner(id))),
            FaultKind::BusShorted => {
                for id in self.buses() {
                    match design.inner_nodes[id].bus_return {
                        Some(back) => self.short(kind, Subject::Inner(id), End::Inner(id), Place::End(back.value)),
                        None => self.short(kind, Subject::Inner(id), End::Inner(id), Place::Structure),
                    }
                }
            }
            FaultKind::SourceLost => design.batteries.ids().for_each(|id| self.lost(kind, ElementId::Source(id).into())),
            FaultKind::SourceShorted => design.batteries.iter().for_each(|(id, source)| {
                self.short(kind, ElementId::Source(id).into(), source.positive.value, Place::End(source.negative.value));
            }),
            FaultKind::ConverterLost => design.converters.ids().for_each(|id| self.lost(kind, ElementId::Converter(id).into())),
            FaultKind::ConverterShorted => design.converters.iter().for_each(|(id, converter)| {
                self.short(kind, ElementId::Converter(id).into(), converter.line.value, Place::End(converter.line_return.value));
            }),
            FaultKind::UnitLost => design.units.ids().for_each(|id| self.lost(kind, Subject::Unit(id))),
            FaultKind::LoadShorted => design.loads.iter().for_each(|(id, load)| {
                self.short(kind, ElementId::Load(id).into(), load.line.value, Place::End(load.line_return.value));
            }),
            FaultKind::ZoneLost => {
                let lies = |zone: Id<Zone>| move |segment: &Segment| segment.zone.is_some_and(|of| of.value == zone);
                for id in design.zones.ids().filter(|&id| design.segments.iter().any(|(_, segment)| lies(id)(segment))) {
                    self.lost(kind, Subject::Zone(id));
                }
            }
        }
    }

    fn push(&mut self, kind: FaultKind, item: impl Into<Subject>, change: FaultChange) {
        self.out.faults.push(Fault { kind, item: item.into(), change, conservative: false, assumed: false });
    }

    fn lost(&mut self, kind: FaultKind, subject: Subject) {
        self.push(kind, subject, FaultChange::Lost(subject));
    }

    fn stuck(&mut self, kind: FaultKind, element: ElementId, stuck: Stuck) {
        self.push(kind, element, FaultChange::Stuck(element, stuck));
    }

    fn buses(&self) -> impl Iterator<Item = Id<InnerNode>> + use<> {
        let buses: Vec<_> = self.design.inner_nodes.iter().filter(|(_, row)| row.is_bus).map(|(id, _)| id).collect();
        buses.into_iter()
    }

    /// Segments of which one says that it runs beside the other, each pair once, under the one that comes first.
    fn beside(&mut self) {
        let mut seen = HashSet::new();
        for (id, segment) in self.design.segments.iter() {
            for other in segment.beside.iter().map(|given| given.value) {
                let pair = (id.min(other), id.max(other));
                let holds = |segment: Id<Segment>| !self.prepared.layout.members(segment).is_empty();
                if seen.insert(pair) && holds(pair.0) && holds(pair.1) {
                    self.push(FaultKind::SegmentsBesideSevered, Subject::Segment(pair.0), FaultChange::Beside(pair.0, pair.1));
                }
            }
        }
    }

    fn has_structure(&self) -> bool {
        !self.prepared.grounds.is_empty()
    }

    /// The node of a place at which there is one of its own.
    fn node(&self, place: Place) -> Option<NodeId> {
        match place {
            Place::End(end) => self.prepared.node(end),
            Place::Structure => self.prepared.grounds.first().map(|&node| NodeId(node)),
            Place::Along(..) => None,
        }
    }

    /// A short between an end and a place, where both conduct and are not one node.
    fn short(&mut self, kind: FaultKind, item: Subject, from: End, to: Place) {
        let nodes = self.node(Place::End(from)).zip(self.node(to));
        match nodes {
            Some((a, b)) if a != b => self.join(kind, item, from, to, Known::Drawn),
            None if to == Place::Structure && !self.has_structure() => self.lacks(kind, item, "reference"),
            _ => {}
        }
    }

    /// A short that no fault before it is: two wires on one pin touch structure there once.
    fn join(&mut self, kind: FaultKind, item: Subject, from: End, to: Place, known: Known) {
        let other = match to {
            Place::End(end) => Some(end),
            _ => None,
        };
        let mut key = [Some(from), other];
        key.sort_unstable();
        if self.joined.insert(key) {
            self.out.faults.push(known.fault(kind, item, FaultChange::Short(Place::End(from), to)));
        }
    }

    fn lacks(&mut self, kind: FaultKind, item: Subject, field: &'static str) {
        self.out.lacking.push(Lacking { kind, item, field });
    }

    fn wires_to_structure(&mut self) {
        const KIND: FaultKind = FaultKind::WireToStructure;
        if !self.has_structure() {
            return self.lacks(KIND, Subject::Vehicle, "reference");
        }
        for (id, wire) in self.design.wires.iter() {
            if self.prepared.branch_of(ElementId::Wire(id)).is_some() {
                for end in [wire.from.value, wire.to.value] {
                    self.short(KIND, ElementId::Wire(id).into(), end, Place::Structure);
                }
            }
        }
    }

    fn neighbours(&mut self) {
        const KIND: FaultKind = FaultKind::WireToNeighbour;
        for (a, b, segment) in self.prepared.touching() {
            let ends = |wire: Id<Wire>| [self.design.wires[wire].from.value, self.design.wires[wire].to.value];
            let (own, mut other) = (ends(a), ends(b));
            if self.runs_against(a, b, segment) {
                other.swap(0, 1);
            }
            for side in 0..2 {
                self.short(KIND, ElementId::Wire(a).into(), own[side], Place::End(other[side]));
            }
        }
    }

    /// Whether two wires that share a segment run through it in opposite directions.
    fn runs_against(&self, a: Id<Wire>, b: Id<Wire>, segment: Id<Segment>) -> bool {
        let row = &self.design.segments[segment];
        // Whether a wire leaves the segment at its `to` breakout.
        let forward = |wire: Id<Wire>| {
            let run = self.prepared.layout.run(wire)?;
            let at = run.segments.iter().position(|&id| id == segment)?;
            let meets = |other: Id<Segment>, breakout: Id<BranchPoint>| {
                let other = &self.design.segments[other];
                other.from.value == breakout || other.to.value == breakout
            };
            let next = run.segments.get(at + 1).map(|&next| meets(next, row.to.value));
            next.or_else(|| Some(meets(*run.segments.get(at.checked_sub(1)?)?, row.from.value)))
        };
        match (forward(a), forward(b)) {
            (Some(a), Some(b)) => a != b,
            // One lies in this segment alone: at which of its ends the other's connectors are tells its direction.
            _ => {
                let half = |end: End| match end {
                    End::Pin(pin) => Some(self.design.pins[pin].connector),
                    _ => None,
                };
                let [p, q] = [a, b].map(|wire| [self.design.wires[wire].from.value, self.design.wires[wire].to.value].map(half));
                let same = |x: Option<Id<Connector>>, y: Option<Id<Connector>>| x.is_some() && x == y;
                (same(p[0], q[1]) || same(p[1], q[0])) && !same(p[0], q[0]) && !same(p[1], q[1])
            }
        }
    }

    /// Each mated pair of halves with its contacts, one at least: the half of the second pin, in the order of the first contact.
    fn mated(&self) -> Vec<(Id<Connector>, Vec<Id<Contact>>)> {
        let mut found: Vec<(Id<Connector>, Vec<Id<Contact>>)> = Vec::new();
        let mut row_of: HashMap<Id<Connector>, usize> = HashMap::new();
        for (id, contact) in self.design.contacts.iter() {
            let mate = self.design.pins[contact.b].connector;
            let row = *row_of.entry(mate).or_insert_with(|| {
                found.push((mate, Vec::new()));
                found.len() - 1
            });
            found[row].1.push(id);
        }
        found
    }

    /// Contacts of a mated pair within reach of each other, each with what is known of their positions.
    fn within_reach(&self, contacts: &[Id<Contact>]) -> Vec<(Id<Contact>, Id<Contact>, Known)> {
        // A pitch is of the insert as a whole, cavities not in use among them.
        let halves = contacts.first().map(|&id| [self.design.contacts[id].a, self.design.contacts[id].b]);
        let arrangement = halves.into_iter().flatten().find_map(|pin| self.design.connectors[self.design.pins[pin].connector].arrangement);
        let cavities: &[Cavity] = arrangement.map_or(&[], |given| &self.design.arrangements[given.value].cavities);
        let is_counted =
            cavities.iter().enumerate().all(|(at, cavity)| cavity.position_mm.is_none() && *cavity.name == *(at + 1).to_string());
        let (places, known): (Vec<Option<(f64, f64)>>, Known) = match is_counted {
            true => (rings(cavities.len()).into_iter().map(Some).collect(), Known::Assumed),
            false => (cavities.iter().map(|cavity| cavity.position_mm).collect(), Known::Drawn),
        };
        let place = |contact: Id<Contact>| -> Option<(f64, f64)> {
            [self.design.contacts[contact].a, self.design.contacts[contact].b].into_iter().find_map(|pin| {
                let name = &self.design.pins[pin].cavity;
                places[cavities.iter().position(|cavity| cavity.name == *name)?]
            })
        };
        let positions: Vec<(f64, f64)> = places.iter().copied().flatten().collect();
        let distance = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
        let mut pitch = f64::INFINITY;
        for (at, &a) in positions.iter().enumerate() {
            positions[at + 1..].iter().for_each(|&b| pitch = pitch.min(distance(a, b)));
        }
        let mut pairs = Vec::new();
        for (at, &a) in contacts.iter().enumerate() {
            for &b in &contacts[at + 1..] {
                match place(a).zip(place(b)) {
                    // The last digit of a drawing decides nothing.
                    Some((p, q)) if distance(p, q) <= REACH * pitch * (1.0 + 1e-3) => pairs.push((a, b, known)),
                    Some(_) => {}
                    None => pairs.push((a, b, Known::Nothing)),
                }
            }
        }
        pairs
    }

    fn bridged(&mut self) {
        for (_, contacts) in self.mated() {
            for (a, b, known) in self.within_reach(&contacts) {
                let [p, q] = [a, b].map(|contact| End::Pin(self.design.contacts[contact].a));
                let nodes = self.prepared.node(p).zip(self.prepared.node(q));
                if nodes.is_some_and(|(p, q)| p != q) {
                    self.join(FaultKind::ContactsBridged, ElementId::Contact(a).into(), p, Place::End(q), known);
                }
            }
        }
    }

    /// A bent pin of the half that has pins: its stub meets a neighbour's pin within reach, or the shell. Where nothing conducts to the shell it is
    /// taken for structure, which it is bonded to.
    fn bent(&mut self) {
        const KIND: FaultKind = FaultKind::PinBent;
        for (mate, contacts) in self.mated() {
            let halves = [self.design.pins[self.design.contacts[contacts[0]].a].connector, mate];
            let gender = halves.map(|half| self.design.connectors[half].gender.map(|given| given.value));
            let pins = match gender {
                [Some(Gender::Pins), _] | [None, Some(Gender::Sockets)] => 0,
                [_, Some(Gender::Pins)] | [Some(Gender::Sockets), None] => 1,
                _ => {
                    self.lacks(KIND, Subject::Connector(halves[0]), "gender");
                    continue;
                }
            };
            let of = |contact: Id<Contact>| {
                let row = &self.design.contacts[contact];
                if pins == 0 { row.a } else { row.b }
            };
            let reach = self.within_reach(&contacts);
            for &contact in &contacts {
                let stub = of(contact);
                let meets = |&(a, b, known): &(Id<Contact>, Id<Contact>, Known)| match contact {
                    _ if a == contact => Some((of(b), known)),
                    _ if b == contact => Some((of(a), known)),
                    _ => None,
                };
                let item = Subject::Pin(stub);
                for (neighbour, known) in reach.iter().filter_map(meets) {
                    let change = FaultChange::Bent(contact, stub, Place::End(End::Pin(neighbour)));
                    if self.prepared.node(End::Pin(stub)) != self.prepared.node(End::Pin(neighbour)) {
                        self.out.faults.push(known.fault(KIND, item, change));
                    }
                }
                let shell =
                    [End::Shell(halves[pins]), End::Shell(halves[1 - pins])].into_iter().find(|&end| self.prepared.node(end).is_some());
                let shell = shell.map(Place::End).or(self.has_structure().then_some(Place::Structure));
                if let Some(shell) = shell {
                    self.push(KIND, item, FaultChange::Bent(contact, stub, shell));
                }
            }
        }
    }
}
