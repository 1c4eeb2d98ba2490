//! The design as a whole, and the names of its rows.

use crate::*;

/// A checked vehicle. Every id resolves; every number is finite and in range.
#[derive(Clone, Debug)]
pub struct Design {
    /// Id of the vehicle.
    pub name: Name,
    /// Revision as written.
    pub revision: String,
    /// Texts the spans point into.
    pub sources: std::sync::Arc<Sources>,
    /// Halves that can part.
    pub sections: Table<Section>,
    /// Boxes.
    pub units: Table<Unit>,
    /// Buses and other nodes inside units.
    pub inner_nodes: Table<InnerNode>,
    /// Connector halves.
    pub connectors: Table<Connector>,
    /// Cavities in use.
    pub pins: Table<Pin>,
    /// Mated pins.
    pub contacts: Table<Contact>,
    /// Contact sizes in use.
    pub contact_specs: Table<ContactSpec>,
    /// Insert arrangements in use.
    pub arrangements: Table<Arrangement>,
    /// Interface control sheets.
    pub sheets: Table<Sheet>,
    /// Pins' rows on interface sheets.
    pub ports: Table<Port>,
    /// Plugs, caps, savers, adapters.
    pub fitted: Table<Fitted>,
    /// Their connections.
    pub fitted_links: Table<FittedLink>,
    /// Splices.
    pub splices: Table<Splice>,
    /// Studs.
    pub studs: Table<Stud>,
    /// Ground points.
    pub grounds: Table<Ground>,
    /// Breakouts.
    pub branch_points: Table<BranchPoint>,
    /// Stretches of harness between breakouts.
    pub segments: Table<Segment>,
    /// Clamps, holes and ties along segments.
    pub clamps: Table<Clamp>,
    /// Sleeves, tapes, braids.
    pub coverings: Table<Covering>,
    /// What is no wire and lies near segments.
    pub neighbours: Table<Neighbour>,
    /// What surrounds segments.
    pub zones: Table<Zone>,
    /// Catalog data for heat; empty in a vehicle without zones.
    pub heat: HeatData,
    /// What wires need beyond their routes.
    pub allowances: Allowances,
    /// Build practice from the catalog; empty in a vehicle without segments.
    pub practice: Practice,
    /// Farthest that two ties are apart where a segment's own row does not say.
    pub tie_pitch: Option<Given<physics::Metre>>,
    /// Wires.
    pub wires: Table<Wire>,
    /// Wire types in use.
    pub wire_specs: Table<WireSpec>,
    /// Cables.
    pub cables: Table<Cable>,
    /// Bond straps.
    pub straps: Table<Strap>,
    /// Structure paths.
    pub structure_paths: Table<StructurePath>,
    /// Conductors inside units.
    pub links: Table<Link>,
    /// Batteries and ground supplies.
    pub batteries: Table<Source>,
    /// Types of battery that batteries name.
    pub battery_types: Table<BatteryType>,
    /// Breakers and fuses.
    pub protectors: Table<Protector>,
    /// Switches, relay contacts, ties.
    pub switches: Table<Switch>,
    /// Diodes.
    pub diodes: Table<Diode>,
    /// Converters.
    pub converters: Table<Converter>,
    /// Loads.
    pub loads: Table<Load>,
    /// Sensors.
    pub sensors: Table<Sensor>,
    /// Receivers.
    pub receivers: Table<Receiver>,
    /// Excitation currents.
    pub excitations: Table<Excitation>,
    /// Circuits.
    pub circuits: Table<Circuit>,
    /// Functions of the vehicle.
    pub functions: Table<Function>,
    /// Electric initiators.
    pub initiators: Table<Initiator>,
    /// What may be done when something has failed.
    pub actions: Table<Action>,
    /// What tells that something has failed.
    pub monitors: Table<Monitor>,
    /// Phases in mission order; never empty.
    pub phases: Table<Phase>,
    /// Harness assemblies that have a row.
    pub assemblies: Table<Assembly>,
    /// Inputs of units that command something.
    pub command_inputs: Table<CommandInput>,
    /// Events in which connectors part.
    pub separations: Table<Separation>,
    /// The limits profile in force.
    pub profile: LimitsProfile,
    /// Types of breaker, fuse and limiter that protectors name, each in one rating.
    pub device_types: Table<DeviceType>,
    /// Tables of wire current that the profile names; `None` if it names none.
    pub ampacity: Option<Ampacity>,
    /// Chart of breakers and fuses by gauge that the profile names.
    pub protector_chart: Option<ProtectorChart>,
    /// What a mass estimate adds to what is computed.
    pub mass: MassPractice,
    /// What the shop and the test bench go by.
    pub shop: ShopPractice,
    /// Accepted findings.
    pub dispositions: Vec<Disposition>,
    /// Where the catalog rows in use come from, by the place of the row, or of a value with a source of its own.
    pub catalog_sources: Vec<(Span, String)>,
    /// Values that are open, recalled or assumed. Catalog rows are noted only where the vehicle uses them.
    pub notes: Vec<Note>,
}

impl Design {
    /// The note of an id.
    pub fn note(&self, id: NoteId) -> &Note {
        &self.notes[id.row()]
    }

    /// Every conductor from end to end, in the order of tables and rows; stowed wires are left out.
    pub fn conductors(&self) -> Vec<Conductor> {
        let wires = self.wires.iter().map(|(id, w)| Conductor { element: ElementId::Wire(id), from: w.from.value, to: w.to.value });
        let straps = self.straps.iter().map(|(id, s)| Conductor { element: ElementId::Strap(id), from: s.from.value, to: s.to.value });
        let paths = self.structure_paths.iter().map(|(id, s)| Conductor {
            element: ElementId::StructurePath(id),
            from: s.from.value,
            to: s.to.value,
        });
        let contacts =
            self.contacts.iter().map(|(id, c)| Conductor { element: ElementId::Contact(id), from: End::Pin(c.a), to: End::Pin(c.b) });
        let links = self.links.iter().map(|(id, l)| Conductor { element: ElementId::Link(id), from: l.from.value, to: l.to.value });
        let fitted = self.fitted_links.iter().map(|(id, l)| Conductor {
            element: ElementId::FittedLink(id),
            from: End::Pin(l.from),
            to: End::Pin(l.to),
        });
        let all = wires.chain(straps).chain(paths).chain(contacts).chain(links).chain(fitted);
        all.filter(|c| c.from != End::Stowed && c.to != End::Stowed).collect()
    }

    /// A pin as people write it: `J3.14`. A pin of an implied harness half is shown as the unit's pin.
    pub fn pin_name(&self, id: Id<Pin>) -> String {
        let pin = &self.pins[id];
        let connector = &self.connectors[pin.connector];
        match connector.name.strip_suffix(":mate") {
            Some(unit_side) => format!("{unit_side}.{} (harness)", pin.cavity),
            None => format!("{}.{}", connector.name, pin.cavity),
        }
    }

    /// An end as people write it: `J3.14`, `splice:SP1`, `bus:A`.
    pub fn end_name(&self, end: End) -> String {
        match end {
            End::Pin(id) => self.pin_name(id),
            End::Splice(id) => format!("splice:{}", self.splices[id].name),
            End::Stud(id) => format!("stud:{}", self.studs[id].name),
            End::Ground(id) => format!("ground:{}", self.grounds[id].name),
            End::Shell(id) => format!("shell:{}", self.connectors[id].name),
            End::Case(id) => format!("case:{}", self.units[id].name),
            End::Inner(id) => format!("{}:{}", if self.inner_nodes[id].is_bus { "bus" } else { "node" }, self.inner_nodes[id].name),
            End::Branch(id) => format!("branch:{}", self.branch_points[id].name),
            End::Stowed => "stowed".to_owned(),
        }
    }

    /// Kind and name of a subject: `("load", "F1")`.
    pub fn subject_name(&self, subject: Subject) -> (&'static str, String) {
        match subject {
            Subject::Element(element) => self.element_name(element),
            Subject::Pin(id) => ("pin", self.pin_name(id)),
            Subject::Connector(id) => ("connector", self.connectors[id].name.to_string()),
            Subject::Unit(id) => ("unit", self.units[id].name.to_string()),
            Subject::Inner(id) => (if self.inner_nodes[id].is_bus { "bus" } else { "node" }, self.inner_nodes[id].name.to_string()),
            Subject::Splice(id) => ("splice", self.splices[id].name.to_string()),
            Subject::Stud(id) => ("stud", self.studs[id].name.to_string()),
            Subject::Ground(id) => ("ground", self.grounds[id].name.to_string()),
            Subject::Cable(id) => ("cable", self.cables[id].name.to_string()),
            Subject::Breakout(id) => ("breakout", self.branch_points[id].name.to_string()),
            Subject::Segment(id) => ("segment", self.segments[id].name.to_string()),
            Subject::Clamp(id) => (self.clamps[id].kind.word(), self.clamps[id].name.to_string()),
            Subject::Covering(id) => ("covering", self.coverings[id].name.to_string()),
            Subject::Neighbour(id) => ("near", self.neighbours[id].name.to_string()),
            Subject::Zone(id) => ("zone", self.zones[id].name.to_string()),
            Subject::Circuit(id) => ("circuit", self.circuits[id].name.to_string()),
            Subject::Port(id) => ("port", self.pin_name(self.ports[id].pin)),
            Subject::Function(id) => ("function", self.functions[id].name.to_string()),
            Subject::Fitted(id) => (self.fitted[id].kind.word(), self.fitted[id].name.to_string()),
            Subject::Phase(id) => ("phase", self.phases[id].name.to_string()),
            Subject::Vehicle => ("vehicle", self.name.to_string()),
        }
    }

    /// Kind and name of an element.
    pub fn element_name(&self, element: ElementId) -> (&'static str, String) {
        match element {
            ElementId::Wire(id) => ("wire", self.wires[id].name.to_string()),
            ElementId::Joint(id, side) => ("joint", format!("{}@{}", self.wires[id].name, if side == Side::From { "from" } else { "to" })),
            ElementId::Shield(id) => ("shield", self.cables[id].name.to_string()),
            ElementId::Drain(id) => ("drain", self.cables[id].name.to_string()),
            ElementId::Strap(id) => ("strap", self.straps[id].name.to_string()),
            ElementId::StructurePath(id) => ("structure", self.structure_paths[id].name.to_string()),
            ElementId::Contact(id) => {
                let contact = &self.contacts[id];
                let mate = &self.connectors[self.pins[contact.b].connector];
                match mate.implied {
                    Implied::AsMate => ("contact", self.pin_name(contact.a)),
                    _ => ("contact", format!("{}/{}", self.pin_name(contact.a), self.pin_name(contact.b))),
                }
            }
            ElementId::Link(id) => ("link", self.links[id].name.to_string()),
            ElementId::FittedLink(id) => {
                let item = &self.fitted[self.fitted_links[id].fitted];
                let number = item.links.iter().position(|l| *l == id).map_or(0, |n| n + 1);
                ("plug", format!("{}@{number}", item.name))
            }
            ElementId::Source(id) => {
                let source = &self.batteries[id];
                (if source.kind == SourceKind::Battery { "battery" } else { "supply" }, source.name.to_string())
            }
            ElementId::Protector(id) => {
                let row = &self.protectors[id];
                (row.kind.word(), row.name.to_string())
            }
            ElementId::Switch(id) => {
                let row = &self.switches[id];
                let kind = match row.kind {
                    SwitchKind::Switch => "switch",
                    SwitchKind::Relay => "relay",
                    SwitchKind::Tie => "tie",
                };
                (kind, row.name.to_string())
            }
            ElementId::Diode(id) => ("diode", self.diodes[id].name.to_string()),
            ElementId::Converter(id) => ("converter", self.converters[id].name.to_string()),
            ElementId::Load(id) => ("load", self.loads[id].name.to_string()),
            ElementId::Sensor(id) => ("sensor", self.sensors[id].name.to_string()),
            ElementId::Receiver(id) => ("receiver", self.receivers[id].name.to_string()),
            ElementId::Excitation(id) => ("excitation", self.excitations[id].name.to_string()),
        }
    }

    /// `kind:name` of an element.
    pub fn element_words(&self, element: ElementId) -> String {
        let (kind, name) = self.element_name(element);
        format!("{kind}:{name}")
    }

    /// `kind:name` of a subject.
    pub fn subject_words(&self, subject: Subject) -> String {
        let (kind, name) = self.subject_name(subject);
        format!("{kind}:{name}")
    }
}
