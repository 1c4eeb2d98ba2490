//! Mass of the harness, piece by piece: what it is, how much, in which segment, section and circuit.
//!
//! A wire is cut into what lies in each segment of its route and what its ends need. Only the harness counts: halves of connectors in the
//! wall of a unit belong to the unit. A mass that is not known stays a piece without one.

use crate::Prepared;
use crate::layout::Place;
use model::*;
use physics::{Kilogram, KilogramPerMetre, Metre};

/// What a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A wire or a part of one.
    Wire,
    /// Shield, jacket and filler of a cable.
    Cable,
    /// A contact in a harness half of a connector.
    Contact,
    /// A harness half of a connector without its contacts.
    Connector,
    /// A splice.
    Splice,
    /// Sleeve, tape or braid along a segment.
    Covering,
    /// A clamp.
    Clamp,
    /// A tie.
    Tie,
}

impl Kind {
    /// All of them, in the order of tables.
    pub const ALL: [Kind; 8] =
        [Kind::Wire, Kind::Cable, Kind::Contact, Kind::Connector, Kind::Splice, Kind::Covering, Kind::Clamp, Kind::Tie];

    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Wire => "wire",
            Kind::Cable => "cable",
            Kind::Contact => "contact",
            Kind::Connector => "connector",
            Kind::Splice => "splice",
            Kind::Covering => "covering",
            Kind::Clamp => "clamp",
            Kind::Tie => "tie",
        }
    }
}

/// What a piece lacks to have a mass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lacks {
    /// The length of a wire.
    Length(Id<Wire>),
    /// The gauge of a wire.
    Gauge(Id<Wire>),
    /// The mass of a wire type in a gauge.
    WireType(Id<WireSpec>),
    /// The size of a connector's contacts, or their mass.
    Contacts(Id<Connector>),
    /// The mass of a contact size.
    Contact(Id<ContactSpec>),
    /// The mass in the row of its own.
    Own(Subject),
}

/// A piece of the harness.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Whom it belongs to.
    pub subject: Subject,
    /// What it is.
    pub kind: Kind,
    /// The circuit it serves, if one alone.
    pub circuit: Option<Id<Circuit>>,
    /// The segment it lies in.
    pub segment: Option<Id<Segment>>,
    /// The section it stays with.
    pub section: Option<Id<Section>>,
    /// Its length, where it has one.
    pub length: Option<Metre>,
    /// Its mass.
    pub mass: Result<Kilogram, Lacks>,
    /// Set where the mass is recalled, assumed or to be confirmed.
    pub note: Option<NoteId>,
}

/// All pieces of the harness, wires first, in the order of rows.
///
/// Cost: linear in the segments of all routes together.
pub fn pieces(prepared: &Prepared) -> Vec<Piece> {
    let design = prepared.design();
    let sections = Sections::new(design);
    let mut out = Vec::new();
    for id in design.wires.ids() {
        wire(prepared, &sections, id, &mut out);
    }
    cables(prepared, &sections, &mut out);
    contacts(design, &mut out);
    for (id, _) in design.connectors.iter().filter(|(_, connector)| connector.unit.is_none()) {
        let section = section_of_connector(design, id);
        out.push(own(Subject::Connector(id), Kind::Connector, design.mass_of_half(id), (None, section)));
    }
    for (id, splice) in design.splices.iter() {
        out.push(own(Subject::Splice(id), Kind::Splice, splice.mass, (None, sections.at(splice.breakout))));
    }
    for (id, segment) in design.segments.iter() {
        let section = segment.section.map(|section| section.value);
        for covering in &segment.coverings {
            let row = &design.coverings[covering.value];
            let mass = row.mass.map(|mass| mass.map(|mass| mass * segment.length.value));
            let piece = own(Subject::Covering(covering.value), Kind::Covering, mass, (Some(id), section));
            out.push(Piece { length: Some(segment.length.value), ..piece });
        }
    }
    for (id, clamp) in design.clamps.iter() {
        let kind = match clamp.kind {
            ClampKind::Clamp => Kind::Clamp,
            ClampKind::Tie => Kind::Tie,
            // Nothing is there.
            ClampKind::Hole => continue,
        };
        let section = design.segments[clamp.segment.value].section.map(|section| section.value);
        out.push(own(Subject::Clamp(id), kind, clamp.mass, (Some(clamp.segment.value), section)));
    }
    out
}

fn own(
    subject: Subject,
    kind: Kind,
    mass: Option<Given<Kilogram>>,
    (segment, section): (Option<Id<Segment>>, Option<Id<Section>>),
) -> Piece {
    let note = mass.and_then(|mass| mass.note);
    let mass = mass.map(|mass| mass.value).ok_or(Lacks::Own(subject));
    Piece { subject, kind, circuit: None, segment, section, length: None, mass, note }
}

fn wire(prepared: &Prepared, sections: &Sections, id: Id<Wire>, out: &mut Vec<Piece>) {
    let design = prepared.design();
    let wire = &design.wires[id];
    let circuit = wire.circuit.map(|circuit| circuit.value);
    let spec = wire.spec.map(|spec| spec.value);
    let per_length = match spec.map(|spec| (spec, design.wire_specs[spec].mass)) {
        None => Err(Lacks::Gauge(id)),
        Some((spec, None)) => Err(Lacks::WireType(spec)),
        Some((_, Some(mass))) => Ok(mass),
    };
    let piece = |length: Option<Metre>, segment: Option<Id<Segment>>, section: Option<Id<Section>>| {
        let mass = match length {
            None => Err(Lacks::Length(id)),
            Some(length) => per_length.map(|mass: Given<KilogramPerMetre>| mass.value * length),
        };
        let note = per_length.ok().and_then(|mass| mass.note);
        Piece { subject: Subject::Element(ElementId::Wire(id)), kind: Kind::Wire, circuit, segment, section, length, mass, note }
    };
    let ends = [wire.from.value, wire.to.value].map(|end| section_of(design, sections, end));
    let Ok(whole) = prepared.length(id) else {
        let section = ends[0].filter(|section| ends[1] == Some(*section));
        return out.push(piece(None, None, section));
    };
    let stretches = stretches(prepared, id, whole);
    if stretches.along.is_empty() {
        // Where it crosses from one section into another is not known.
        let section = ends[0].filter(|section| ends[1] == Some(*section));
        return out.push(piece(Some(whole), None, section));
    }
    for (segment, length) in stretches.along {
        out.push(piece(Some(length), Some(segment), design.segments[segment].section.map(|section| section.value)));
    }
    for (length, section) in stretches.ends.into_iter().zip(ends).filter(|(length, _)| length.0 > 0.0) {
        out.push(piece(Some(length), None, section));
    }
}

/// How a wire's length is shared out.
struct Stretches {
    /// Over the segments of its route, in proportion to theirs; twist and slack are shared with it.
    along: Vec<(Id<Segment>, Metre)>,
    /// To its ends.
    ends: [Metre; 2],
}

fn stretches(prepared: &Prepared, id: Id<Wire>, whole: Metre) -> Stretches {
    let design = prepared.design();
    let layout = prepared.layout();
    let Place::Laid(run) = layout.place(id) else { return Stretches { along: Vec::new(), ends: [Metre(0.0); 2] } };
    if run.segments.is_empty() || run.path.0 <= 0.0 {
        return Stretches { along: Vec::new(), ends: [Metre(0.0); 2] };
    }
    let mut ends = layout.parts(id).map_or([Metre(0.0); 2], |parts| parts.ends);
    // A given length may be too short for what its ends are said to need.
    if ends[0].0 + ends[1].0 >= whole.0 {
        ends = [Metre(0.0); 2];
    }
    let along = whole - ends[0] - ends[1];
    let along = run.segments.iter().map(|&segment| (segment, along * (design.segments[segment].length.value / run.path))).collect();
    Stretches { along, ends }
}

/// What cables have beyond their cores, along the first core whose length is known.
fn cables(prepared: &Prepared, sections: &Sections, out: &mut Vec<Piece>) {
    let design = prepared.design();
    let mut first: Vec<Option<Id<Wire>>> = vec![None; design.cables.len()];
    for (id, wire) in design.wires.iter() {
        if let Some(cable) = wire.cable {
            let slot = &mut first[cable.value.row()];
            if slot.is_none_or(|known| prepared.length(known).is_err()) {
                *slot = Some(id);
            }
        }
    }
    // Mass per length of all cores of each cable, which are pieces of their own.
    let mut of_cores: Vec<Result<f64, Lacks>> = vec![Ok(0.0); design.cables.len()];
    for (id, wire) in design.wires.iter() {
        let Some(cable) = wire.cable else { continue };
        let core = match wire.spec.map(|spec| (spec.value, design.wire_specs[spec.value].mass)) {
            None => Err(Lacks::Gauge(id)),
            Some((spec, None)) => Err(Lacks::WireType(spec)),
            Some((_, Some(mass))) => Ok(mass.value.0),
        };
        let sum = &mut of_cores[cable.value.row()];
        *sum = sum.and_then(|sum| core.map(|core| sum + core));
    }
    for ((id, cable), core) in design.cables.iter().zip(first) {
        let has_more = matches!(cable.kind, CableKind::Shielded | CableKind::TwistedShielded | CableKind::Coaxial);
        let Some(core) = core.filter(|_| has_more || cable.mass.is_some()) else { continue };
        let circuit = design.wires[core].circuit.map(|circuit| circuit.value);
        let piece = |length: Option<Metre>, segment: Option<Id<Segment>>, section| {
            let mass = match (cable.mass, length, of_cores[id.row()]) {
                (None, ..) => Err(Lacks::Own(Subject::Cable(id))),
                (_, None, _) => Err(Lacks::Length(core)),
                (.., Err(lacks)) => Err(lacks),
                // A cable is no lighter than its cores.
                (Some(mass), Some(length), Ok(cores)) => Ok(KilogramPerMetre((mass.value.0 - cores).max(0.0)) * length),
            };
            let note = cable.mass.and_then(|mass| mass.note);
            Piece { subject: Subject::Cable(id), kind: Kind::Cable, circuit, segment, section, length, mass, note }
        };
        let row = &design.wires[core];
        let ends = [row.from.value, row.to.value].map(|end| section_of(design, sections, end));
        let section = ends[0].filter(|section| ends[1] == Some(*section));
        let length = prepared.length(core).ok();
        let along = length.map(|whole| stretches(prepared, core, whole).along).unwrap_or_default();
        if along.is_empty() || cable.mass.is_none() {
            out.push(piece(length, None, section));
            continue;
        }
        for (segment, length) in along {
            out.push(piece(Some(length), Some(segment), design.segments[segment].section.map(|section| section.value)));
        }
    }
}

/// One for each pin on which a wire lands, which is always one of a harness half; a wire that lands on a terminal has none.
fn contacts(design: &Design, out: &mut Vec<Piece>) {
    let mut spec_of: Vec<Option<Id<ContactSpec>>> = vec![None; design.pins.len()];
    for (_, contact) in design.contacts.iter() {
        for pin in [contact.a, contact.b] {
            spec_of[pin.row()] = contact.spec;
        }
    }
    let mut wire_on: Vec<Option<Id<Wire>>> = vec![None; design.pins.len()];
    for (id, wire) in design.wires.iter() {
        for end in [wire.from.value, wire.to.value] {
            if let End::Pin(pin) = end {
                wire_on[pin.row()].get_or_insert(id);
            }
        }
    }
    for (pin, row) in design.pins.iter() {
        let half = &design.connectors[row.connector];
        let Some(wire) = wire_on[pin.row()].filter(|_| half.kind != ConnectorKind::Terminals) else { continue };
        // Where nothing is mated the size may still be known from a contact elsewhere.
        let alike = || {
            let size =
                half.other_contacts.iter().find(|(cavity, _)| *cavity == row.cavity).map(|(_, size)| size).or(half.contact.as_ref())?;
            design.contact_specs.iter().find(|(_, spec)| spec.size == size.value && spec.kind == half.kind).map(|(id, _)| id)
        };
        let (mass, note) = match spec_of[pin.row()].or_else(alike).map(|spec| (spec, design.contact_specs[spec].mass)) {
            None => (Err(Lacks::Contacts(row.connector)), None),
            Some((spec, None)) => (Err(Lacks::Contact(spec)), None),
            Some((_, Some(mass))) => (Ok(mass.value), mass.note),
        };
        let circuit = design.wires[wire].circuit.map(|circuit| circuit.value);
        let section = section_of_connector(design, row.connector);
        out.push(Piece { subject: Subject::Pin(pin), kind: Kind::Contact, circuit, segment: None, section, length: None, mass, note });
    }
}

/// The section that an end stays with, where it is stated for it, its connector, its unit, or all segments that meet there.
fn section_of(design: &Design, sections: &Sections, end: End) -> Option<Id<Section>> {
    match end {
        End::Pin(pin) => section_of_connector(design, design.pins[pin].connector),
        End::Shell(connector) => section_of_connector(design, connector),
        End::Case(unit) => design.units[unit].section,
        End::Inner(node) => design.inner_nodes[node].unit.and_then(|unit| design.units[unit.value].section),
        End::Splice(id) => sections.at(design.splices[id].breakout),
        End::Stud(id) => sections.at(design.studs[id].breakout),
        End::Ground(id) => sections.at(design.grounds[id].breakout),
        End::Branch(id) => sections.0[id.row()],
        End::Stowed => None,
    }
}

/// Its own, its unit's, else that of the half it mates with.
fn section_of_connector(design: &Design, id: Id<Connector>) -> Option<Id<Section>> {
    let stated = |id: Id<Connector>| {
        let row = &design.connectors[id];
        row.section.map(|section| section.value).or_else(|| row.unit.and_then(|unit| design.units[unit.value].section))
    };
    stated(id).or_else(|| design.connectors[id].mate.and_then(|mate| stated(mate.value)))
}

/// Of each breakout the section of all segments that meet there, if they have one in common.
struct Sections(Vec<Option<Id<Section>>>);

impl Sections {
    fn new(design: &Design) -> Sections {
        let mut found: Vec<Option<Option<Id<Section>>>> = vec![None; design.branch_points.len()];
        for (_, segment) in design.segments.iter() {
            let section = segment.section.map(|section| section.value);
            for end in [segment.from.value, segment.to.value] {
                let slot = &mut found[end.row()];
                *slot = Some(slot.map_or(section, |known| known.filter(|known| Some(*known) == section)));
            }
        }
        Sections(found.into_iter().map(Option::flatten).collect())
    }

    fn at(&self, breakout: Option<Given<Id<BranchPoint>>>) -> Option<Id<Section>> {
        self.0[breakout?.value.row()]
    }
}
