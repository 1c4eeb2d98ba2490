//! What conductors end on: connectors, pins, contacts, splices, studs, ground points, nodes inside units.

use crate::*;
use physics::gauge::Awg;
use physics::sensor_temperature::Alloy;
use physics::*;

/// One half of a connector.
#[derive(Clone, Debug)]
pub struct Connector {
    /// Id in the vehicle.
    pub name: Name,
    /// The unit whose wall it sits in; `None` for a half on a harness.
    pub unit: Option<Given<Id<Unit>>>,
    /// The half it mates with.
    pub mate: Option<Given<Id<Connector>>>,
    /// Plug or receptacle.
    pub half: Option<Given<Half>>,
    /// Contact size of its cavities.
    pub contact: Option<Given<Name>>,
    /// Cavities whose contact has another size.
    pub other_contacts: Vec<(Name, Given<Name>)>,
    /// How wires join it.
    pub kind: ConnectorKind,
    /// Number of cavities, if known; they are named 1, 2, 3 … then.
    pub cavities: Option<Given<u32>>,
    /// Insert arrangement: its cavities by name, with sizes and, where known, positions.
    pub arrangement: Option<Given<Id<Arrangement>>>,
    /// Pins or sockets.
    pub gender: Option<Given<Gender>>,
    /// Keying or clocking, which tells like connectors apart.
    pub keying: Option<Given<Name>>,
    /// Connectors declared to be within reach: they could be mated in this one's place.
    pub near: Vec<Given<Id<Connector>>>,
    /// The section it stays with; else its unit's.
    pub section: Option<Given<Id<Section>>>,
    /// Whether this half stays with something that can be live when the halves are parted.
    pub stays: Option<Given<bool>>,
    /// Outside diameter of its shell with its coupling, as it is passed through a hole.
    pub shell: Option<Given<Metre>>,
    /// Whether it is put on after the harness is in place, so that it is passed through no hole.
    pub terminated_in_place: Option<Given<bool>>,
    /// Whether unused cavities are filled.
    pub fills_unused: Option<Given<bool>>,
    /// Temperature of its contacts; else its unit's.
    pub temperature: Option<Given<Kelvin>>,
    /// The breakout at which its wires leave the harness; else its mate's, its unit's.
    pub breakout: Option<Given<Id<BranchPoint>>>,
    /// Mass of this half without its contacts.
    pub mass: Option<Given<Kilogram>>,
    /// Hottest that its insert and contacts may be for long.
    pub rating: Option<Given<Kelvin>>,
    /// Part number of this half.
    pub part: Option<Given<Name>>,
    /// Part number of its backshell.
    pub backshell: Option<Given<Name>>,
    /// How its key and backshell are turned, as the drawing states it.
    pub clocking: Option<Given<Name>>,
    /// Set where wires are soldered to its contacts.
    pub solder: Option<Solder>,
    /// Why it exists without a row of its own.
    pub implied: Implied,
    /// Where the row stands.
    pub at: Span,
}

/// Plug or receptacle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Half {
    /// The half that is moved.
    Plug,
    /// The half that stays.
    Receptacle,
}

/// Which contacts a half has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gender {
    /// Pins, which can be touched when parted.
    Pins,
    /// Sockets.
    Sockets,
}

/// How wires join a connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ConnectorKind {
    /// Crimped removable contacts.
    Crimp,
    /// Hermetic contacts.
    Hermetic,
    /// Terminals or binding posts: the wire lands on the pin itself, no mated contact.
    Terminals,
}

/// Whether a row was declared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Implied {
    /// It has a row of its own.
    Declared,
    /// Named only by the wire list.
    ByWireList,
    /// The harness half that a unit's connector must have, where wires are listed to the unit's own pins.
    /// Its name is the unit connector's with `:mate`, which no user can write.
    AsMate,
}

/// One cavity of one connector half.
#[derive(Clone, Debug)]
pub struct Pin {
    /// The half.
    pub connector: Id<Connector>,
    /// The cavity.
    pub cavity: Name,
    /// First place that names it.
    pub at: Span,
}

/// Two mated pins with the resistance between their wires: both crimps and the contact itself.
#[derive(Clone, Debug)]
pub struct Contact {
    /// The unit's or receptacle's pin.
    pub a: Id<Pin>,
    /// The other half's pin.
    pub b: Id<Pin>,
    /// Resistance: best, typical, limit.
    pub ohms: Spread<Ohm>,
    /// The catalog row it follows, if any.
    pub spec: Option<Id<ContactSpec>>,
    /// Set where its size is recalled, assumed or to be confirmed.
    pub size_note: Option<NoteId>,
    /// Where the mate is declared.
    pub at: Span,
}

/// A contact size: catalog data.
#[derive(Clone, Debug)]
pub struct ContactSpec {
    /// Size, `22D`, `20`, `16`.
    pub size: Name,
    /// Crimp or hermetic.
    pub kind: ConnectorKind,
    /// Thinnest wire that fits.
    pub gauge_min: Awg,
    /// Thickest wire that fits.
    pub gauge_max: Awg,
    /// Test current with the thickest wire.
    pub rating: Given<Ampere>,
    /// Test current by gauge of the wire in the contact, thickest wire first. A wire thinner than all takes the last row; empty if only
    /// `rating` is known.
    pub currents: Vec<(Awg, Given<Ampere>)>,
    /// Resistance: best, typical, limit.
    pub ohms: Spread<Ohm>,
    /// Metal, where the row states it.
    pub alloy: Option<Alloy>,
    /// Mass of one contact.
    pub mass: Option<Given<Kilogram>>,
    /// Part numbers of its pin and its socket.
    pub parts: [Option<Name>; 2],
    /// Where the row stands.
    pub at: Span,
}

/// An insert arrangement: catalog data.
#[derive(Clone, Debug)]
pub struct Arrangement {
    /// Its designation, `11-35`.
    pub name: Name,
    /// Its cavities, in order.
    pub cavities: Vec<Cavity>,
    /// Number of cavities of each contact size, in the order written.
    pub sizes: Vec<(Name, u32)>,
    /// Outside diameter of its shell with its coupling.
    pub shell: Option<Given<Metre>>,
    /// Mass of a half with its backshell, without contacts.
    pub mass: Option<Given<Kilogram>>,
    /// Direct voltage that it withstands between contacts, and to the shell, in a test.
    pub withstand: Option<Given<Volt>>,
    /// Set where the arrangement is recalled or assumed.
    pub note: Option<NoteId>,
    /// Where the row stands.
    pub at: Span,
}

/// One cavity of an arrangement.
#[derive(Clone, Debug)]
pub struct Cavity {
    /// Its name, as in the pin `J3.14`.
    pub name: Name,
    /// Contact size; `None` where only the number of cavities of each size is known.
    pub size: Option<Name>,
    /// Position on the mating face, if known.
    pub position_mm: Option<(f64, f64)>,
}

/// What is soldered, and how hot its solder may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Solder {
    /// Hottest that it may be for long; `None` while that is `TBD`.
    pub limit: Option<Given<Kelvin>>,
    /// Where it is stated.
    pub at: Span,
}

/// A splice: its body unites the wires that end on it.
#[derive(Clone, Debug)]
pub struct Splice {
    /// Id in the vehicle.
    pub name: Name,
    /// Resistance of one joint.
    pub joint: Spread<Ohm>,
    /// Its temperature.
    pub temperature: Option<Given<Kelvin>>,
    /// Its mass.
    pub mass: Option<Given<Kilogram>>,
    /// Hottest that it may be for long.
    pub rating: Option<Given<Kelvin>>,
    /// Set where its wires are soldered.
    pub solder: Option<Solder>,
    /// The breakout it is at.
    pub breakout: Option<Given<Id<BranchPoint>>>,
    /// Where the row stands.
    pub at: Span,
}

/// A terminal stud.
#[derive(Clone, Debug)]
pub struct Stud {
    /// Id in the vehicle.
    pub name: Name,
    /// Resistance of one joint.
    pub joint: Spread<Ohm>,
    /// Its temperature.
    pub temperature: Option<Given<Kelvin>>,
    /// Set where its wires are soldered.
    pub solder: Option<Solder>,
    /// The breakout it is at.
    pub breakout: Option<Given<Id<BranchPoint>>>,
    /// Where the row stands.
    pub at: Span,
}

/// A ground point on structure.
#[derive(Clone, Debug)]
pub struct Ground {
    /// Id in the vehicle.
    pub name: Name,
    /// Whether it is the zero of voltage of the island it belongs to.
    pub reference: bool,
    /// Resistance of one joint.
    pub joint: Spread<Ohm>,
    /// The breakout it is at.
    pub breakout: Option<Given<Id<BranchPoint>>>,
    /// Where the row stands.
    pub at: Span,
}

/// A node inside a unit.
#[derive(Clone, Debug)]
pub struct InnerNode {
    /// Id in the vehicle.
    pub name: Name,
    /// The unit.
    pub unit: Option<Given<Id<Unit>>>,
    /// A bus: its bar is declared rigid and loads' drop is counted from here.
    pub is_bus: bool,
    /// Of a bus: where its returns come together.
    pub bus_return: Option<Given<End>>,
    /// Of a bus: its nominal voltage.
    pub nominal: Option<Given<Volt>>,
    /// Where the row stands.
    pub at: Span,
}

/// What is stated of the temperatures of ends.
pub struct EndTemperatures<'d> {
    design: &'d Design,
    /// The half that mates with each, where its own row does not say.
    mates: Column<Connector, Option<Id<Connector>>>,
}

impl<'d> EndTemperatures<'d> {
    /// Cost: linear in connectors.
    pub fn new(design: &'d Design) -> EndTemperatures<'d> {
        let mut mates: Column<Connector, Option<Id<Connector>>> = design.connectors.column(None);
        for (id, row) in design.connectors.iter() {
            if let Some(mate) = row.mate {
                mates[id] = Some(mate.value);
                mates[mate.value].get_or_insert(id);
            }
        }
        EndTemperatures { design, mates }
    }

    /// Temperature at an end, where stated: a connector's own, else its unit's, else that of what it is mated with; a splice's, a stud's; of a node
    /// inside a unit the unit's.
    pub fn of(&self, end: End) -> Option<Given<Kelvin>> {
        let design = self.design;
        let of_half = |id: Id<Connector>| {
            let half = &design.connectors[id];
            half.temperature.or_else(|| half.unit.and_then(|unit| design.units[unit.value].temperature))
        };
        match end {
            End::Pin(pin) => {
                let half = design.pins[pin].connector;
                of_half(half).or_else(|| self.mates[half].and_then(of_half))
            }
            End::Inner(node) => design.inner_nodes[node].unit.and_then(|unit| design.units[unit.value].temperature),
            End::Splice(splice) => design.splices[splice].temperature,
            End::Stud(stud) => design.studs[stud].temperature,
            _ => None,
        }
    }
}
