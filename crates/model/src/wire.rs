//! Conductors between ends: wires, cables, bond straps, structure paths, links inside units.

use crate::*;
use physics::gauge::Awg;
use physics::sensor_temperature::Alloy;
use physics::*;

/// One insulated conductor from end to end: one row of the wire list.
#[derive(Clone, Debug)]
pub struct Wire {
    /// What people call it; stable between revisions.
    pub name: Name,
    /// One end.
    pub from: Given<End>,
    /// The other end.
    pub to: Given<End>,
    /// Conductor and insulation, by type and gauge; `None` if the gauge is `TBD`.
    pub spec: Option<Given<Id<WireSpec>>>,
    /// How long it is.
    pub length: Option<Given<Length>>,
    /// Wires of one group run in parallel between the same ends.
    pub group: Option<Given<Name>>,
    /// Wires of the thickest bundle that it runs in, itself included, as the list states it.
    pub bundle_wires: Option<Given<u32>>,
    /// Share of those wires that is loaded at the same time, as the list states it.
    pub bundle_loaded: Option<Given<Ratio>>,
    /// The circuit it serves.
    pub circuit: Option<Given<Id<Circuit>>>,
    /// The cable it is a core of.
    pub cable: Option<Given<Id<Cable>>>,
    /// Position in the cable, counted from 1.
    pub cable_position: Option<Given<u32>>,
    /// Current stated in the list, for a wire whose load is not modelled.
    pub current: Option<Given<Ampere>>,
    /// Revision of the unit's interface sheet that the `from` end was drawn to.
    pub from_revision: Option<Given<Name>>,
    /// Revision of the unit's interface sheet that the `to` end was drawn to.
    pub to_revision: Option<Given<Name>>,
    /// Where it must pass, in this order from `from` to `to`.
    pub via: Vec<Via>,
    /// Where `via` is written.
    pub via_at: Option<Span>,
    /// Length that its ends need beyond the route, at `from` and at `to`; else the vehicle's.
    pub allowance: [Option<Given<Metre>>; 2],
    /// Slack, as a share of the route; else the vehicle's.
    pub slack: Option<Given<Ratio>>,
    /// Signal name as written.
    pub signal: Option<Given<Name>>,
    /// What is marked on it; else its name.
    pub marking: Option<Given<Name>>,
    /// Colour of its insulation.
    pub colour: Option<Given<Name>>,
    /// Free text and unknown imported columns.
    pub notes: Option<Given<std::sync::Arc<str>>>,
    /// The row.
    pub at: Span,
}

/// Length of a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Length {
    /// As stated in the list.
    Given(Metre),
    /// To be had from the route.
    FromRoute,
}

/// A wire type in one gauge: catalog data.
#[derive(Clone, Debug)]
pub struct WireSpec {
    /// Type designation, `M22759/32`.
    pub kind: Name,
    /// Gauge.
    pub gauge: Awg,
    /// Strand and coating words as the catalog has them.
    pub construction: String,
    /// Number of strands, where those words begin with it.
    pub strands: Option<u32>,
    /// Insulation family, as the catalog words it: `polyimide-tape`, `etfe-x`, `etfe`, `ptfe`, `ptfe-polyimide`, `bare`.
    pub family: Option<Name>,
    /// Whether its insulation is hard enough to cut into a soft one beside it.
    pub hard: bool,
    /// Cross-section of the metal.
    pub area: Given<SquareMetre>,
    /// Conductivity as a share of 100 % IACS; the temperature coefficient follows it.
    pub conductivity: Given<Ratio>,
    /// Nominal resistance at 20 °C.
    pub r20_nominal: Given<OhmPerMetre>,
    /// Greatest resistance at 20 °C that the specification allows.
    pub r20_max: Given<OhmPerMetre>,
    /// Finished outside diameter.
    pub diameter: Option<Given<Metre>>,
    /// Rated conductor temperature.
    pub rating: Option<Given<Kelvin>>,
    /// Rated voltage.
    pub volts: Option<Given<Volt>>,
    /// Mass per length.
    pub mass: Option<Given<KilogramPerMetre>>,
    /// Metal of the conductor.
    pub alloy: Alloy,
    /// Where the row stands.
    pub at: Span,
}

impl WireSpec {
    /// Coating of its strands, as the words of its construction say it: `19x34 tin-coated copper`.
    pub fn plating(&self) -> Option<Plating> {
        Plating::ALL.into_iter().find(|plating| self.construction.contains(&format!("{}-coated", plating.word())))
    }

    /// The metal that tables of wire current know it by.
    pub fn metal(&self) -> physics::ampacity::Conductor {
        match self.alloy.word() {
            "aluminium" => physics::ampacity::Conductor::Aluminium,
            _ => physics::ampacity::Conductor::Copper,
        }
    }
}

/// Several conductors under one jacket or twist.
#[derive(Clone, Debug)]
pub struct Cable {
    /// Id in the vehicle.
    pub name: Name,
    /// How it is made.
    pub kind: CableKind,
    /// Length of one turn of its twist.
    pub lay: Option<Given<Metre>>,
    /// Outside diameter with its jacket.
    pub od: Option<Given<Metre>>,
    /// Outside diameter over the termination of its shield, with its sleeve and ground lead.
    pub shield_end_od: Option<Given<Metre>>,
    /// Where its shield goes, by half; halves that are not named are not known.
    pub shield_ends: Vec<(Given<Id<Connector>>, ShieldEnd)>,
    /// Mass per length with its jacket and shield.
    pub mass: Option<Given<KilogramPerMetre>>,
    /// Hottest that its jacket may be for long.
    pub rating: Option<Given<Kelvin>>,
    /// Named only by the wire list, not declared.
    pub implied: bool,
    /// Where the row stands.
    pub at: Span,
}

/// Where a shield goes at a half of a connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShieldEnd {
    /// To its shell or backshell.
    Shell,
    /// Into a contact.
    Pin(Id<Pin>),
    /// Nowhere: cut back and insulated.
    Cut,
}

/// How a cable is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CableKind {
    /// Not stated.
    Unstated,
    /// Twisted cores without a shield.
    Twisted,
    /// A shield over cores that are not twisted.
    Shielded,
    /// Twisted cores under a shield.
    TwistedShielded,
    /// Coaxial.
    Coaxial,
}

impl CableKind {
    /// Whether a shield lies over its cores, coaxial cables apart.
    pub fn is_shielded(self) -> bool {
        matches!(self, CableKind::Shielded | CableKind::TwistedShielded)
    }
    /// Whether its cores are twisted.
    pub fn is_twisted(self) -> bool {
        matches!(self, CableKind::Twisted | CableKind::TwistedShielded)
    }
}

/// A bond strap between a case, shell or stud and a ground point.
#[derive(Clone, Debug)]
pub struct Strap {
    /// Id in the vehicle.
    pub name: Name,
    /// One end.
    pub from: Given<End>,
    /// The other end.
    pub to: Given<End>,
    /// Resistance with both joints.
    pub ohms: Spread<Ohm>,
    /// Where the row stands.
    pub at: Span,
}

/// A path through structure between two ground points.
#[derive(Clone, Debug)]
pub struct StructurePath {
    /// Id in the vehicle.
    pub name: Name,
    /// One end.
    pub from: Given<End>,
    /// The other end.
    pub to: Given<End>,
    /// Resistance.
    pub ohms: Spread<Ohm>,
    /// Where the row stands.
    pub at: Span,
}

/// A conductor inside a unit: a printed track, a bus-bar jumper.
#[derive(Clone, Debug)]
pub struct Link {
    /// Id in the vehicle.
    pub name: Name,
    /// One end.
    pub from: Given<End>,
    /// The other end.
    pub to: Given<End>,
    /// Resistance.
    pub ohms: Spread<Ohm>,
    /// Where the row stands.
    pub at: Span,
}

/// The network's common row: anything that conducts from end to end. Current is positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conductor {
    /// What it is.
    pub element: ElementId,
    /// One end.
    pub from: End,
    /// The other end.
    pub to: End,
}
