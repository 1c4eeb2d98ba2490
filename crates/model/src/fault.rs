//! Single faults of a vehicle: what they are of, and what each changes.

use crate::*;
use physics::Ohm;

/// Resistance of a short circuit that metal makes.
///
/// # Source  Common practice, no source; the same as that of `whatif --short`.
pub const BOLTED: Ohm = Ohm(1e-3);

/// Resistance of a contact that fretting or corrosion has spoilt: some hundred times its limit, and still no open circuit.
///
/// # Source  Common practice, no source.
pub const RESISTIVE: Ohm = Ohm(1.0);

/// Kinds of single fault, in the order of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FaultKind {
    /// A wire without another beside it parts.
    WireOpen,
    /// One of parallel wires parts.
    ParallelWireOpen,
    /// A wire touches structure, at its `from` end or at its `to` end.
    WireToStructure,
    /// A wire touches the wire that its current comes back by, at one end or the other.
    WireToReturn,
    /// A wire touches one that lies against it in a bundle, at one end or the other.
    WireToNeighbour,
    /// A mated contact opens.
    ContactOpen,
    /// A mated contact has grown resistive.
    ContactResistive,
    /// A pin is bent: its circuit opens, and its stub meets a neighbour or the shell.
    PinBent,
    /// Debris joins two contacts of a connector.
    ContactsBridged,
    /// The halves of a connector part.
    ConnectorDemated,
    /// A segment of the harness is severed, all its wires open.
    SegmentSevered,
    /// A segment is severed and all its stubs touch structure.
    SegmentGrounded,
    /// Segments that run beside each other are severed together, all their wires open.
    SegmentsBesideSevered,
    /// What one clamp, tie or hole holds of several segments is severed there, all wires open.
    ClampSevered,
    /// A splice opens.
    SpliceOpen,
    /// A stud lets go.
    StudOpen,
    /// A bond strap opens.
    StrapOpen,
    /// A ground point lets go.
    GroundOpen,
    /// A breaker, fuse or limiter opens, or does not close.
    ProtectorOpen,
    /// A breaker, fuse or limiter does not open.
    ProtectorClosed,
    /// A switch, relay or tie opens, or does not close.
    SwitchOpen,
    /// A switch, relay or tie closes, or does not open.
    SwitchClosed,
    /// A diode opens.
    DiodeOpen,
    /// A diode is shorted.
    DiodeShorted,
    /// A bus is lost with all that lands on it.
    BusLost,
    /// A bus is shorted to its return, or to structure if it states none.
    BusShorted,
    /// A battery or supply is lost.
    SourceLost,
    /// A battery or supply is shorted at its terminals.
    SourceShorted,
    /// A converter is lost.
    ConverterLost,
    /// A converter is shorted at its input.
    ConverterShorted,
    /// A unit is lost with all that lands on it.
    UnitLost,
    /// A load in a unit is shorted at its terminals.
    LoadShorted,
    /// A zone is lost: every segment in it is severed.
    ZoneLost,
}

impl FaultKind {
    /// All of them.
    pub const ALL: [FaultKind; 33] = [
        FaultKind::WireOpen,
        FaultKind::ParallelWireOpen,
        FaultKind::WireToStructure,
        FaultKind::WireToReturn,
        FaultKind::WireToNeighbour,
        FaultKind::ContactOpen,
        FaultKind::ContactResistive,
        FaultKind::PinBent,
        FaultKind::ContactsBridged,
        FaultKind::ConnectorDemated,
        FaultKind::SegmentSevered,
        FaultKind::SegmentGrounded,
        FaultKind::SegmentsBesideSevered,
        FaultKind::ClampSevered,
        FaultKind::SpliceOpen,
        FaultKind::StudOpen,
        FaultKind::StrapOpen,
        FaultKind::GroundOpen,
        FaultKind::ProtectorOpen,
        FaultKind::ProtectorClosed,
        FaultKind::SwitchOpen,
        FaultKind::SwitchClosed,
        FaultKind::DiodeOpen,
        FaultKind::DiodeShorted,
        FaultKind::BusLost,
        FaultKind::BusShorted,
        FaultKind::SourceLost,
        FaultKind::SourceShorted,
        FaultKind::ConverterLost,
        FaultKind::ConverterShorted,
        FaultKind::UnitLost,
        FaultKind::LoadShorted,
        FaultKind::ZoneLost,
    ];

    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            FaultKind::WireOpen => "wire-open",
            FaultKind::ParallelWireOpen => "parallel-wire-open",
            FaultKind::WireToStructure => "wire-to-structure",
            FaultKind::WireToReturn => "wire-to-return",
            FaultKind::WireToNeighbour => "wire-to-neighbour",
            FaultKind::ContactOpen => "contact-open",
            FaultKind::ContactResistive => "contact-resistive",
            FaultKind::PinBent => "pin-bent",
            FaultKind::ContactsBridged => "contacts-bridged",
            FaultKind::ConnectorDemated => "connector-demated",
            FaultKind::SegmentSevered => "segment-severed",
            FaultKind::SegmentGrounded => "segment-grounded",
            FaultKind::SegmentsBesideSevered => "segments-beside-severed",
            FaultKind::ClampSevered => "clamp-severed",
            FaultKind::SpliceOpen => "splice-open",
            FaultKind::StudOpen => "stud-open",
            FaultKind::StrapOpen => "strap-open",
            FaultKind::GroundOpen => "ground-open",
            FaultKind::ProtectorOpen => "protector-open",
            FaultKind::ProtectorClosed => "protector-stuck-closed",
            FaultKind::SwitchOpen => "switch-open",
            FaultKind::SwitchClosed => "switch-stuck-closed",
            FaultKind::DiodeOpen => "diode-open",
            FaultKind::DiodeShorted => "diode-shorted",
            FaultKind::BusLost => "bus-lost",
            FaultKind::BusShorted => "bus-shorted",
            FaultKind::SourceLost => "source-lost",
            FaultKind::SourceShorted => "source-shorted",
            FaultKind::ConverterLost => "converter-lost",
            FaultKind::ConverterShorted => "converter-shorted",
            FaultKind::UnitLost => "unit-lost",
            FaultKind::LoadShorted => "load-shorted",
            FaultKind::ZoneLost => "zone-lost",
        }
    }

    /// The group of kinds that it belongs to in a matrix.
    pub fn group(self) -> FaultGroup {
        use FaultKind::*;
        match self {
            WireOpen | ParallelWireOpen => FaultGroup::WireOpen,
            WireToStructure | WireToReturn | WireToNeighbour => FaultGroup::WireShorted,
            ContactOpen | ContactResistive | ConnectorDemated => FaultGroup::Contact,
            PinBent | ContactsBridged => FaultGroup::Bridge,
            SegmentSevered | SegmentGrounded | SegmentsBesideSevered | ClampSevered | ZoneLost => FaultGroup::Segment,
            SpliceOpen | StudOpen | StrapOpen | GroundOpen => FaultGroup::Joint,
            ProtectorOpen | ProtectorClosed | SwitchOpen | SwitchClosed | DiodeOpen | DiodeShorted => FaultGroup::Device,
            BusLost | BusShorted | SourceLost | SourceShorted | ConverterLost | ConverterShorted => FaultGroup::Source,
            UnitLost | LoadShorted => FaultGroup::Unit,
        }
    }

    /// What it is, as a failure mode of its item.
    pub fn mode(self) -> &'static str {
        match self {
            FaultKind::WireOpen => "parts",
            FaultKind::ParallelWireOpen => "parts, others run beside it",
            FaultKind::WireToStructure => "touches structure",
            FaultKind::WireToReturn => "touches its return",
            FaultKind::WireToNeighbour => "touches a wire that lies against it",
            FaultKind::ContactOpen => "opens",
            FaultKind::ContactResistive => "grows resistive",
            FaultKind::PinBent => "is bent",
            FaultKind::ContactsBridged => "is bridged to another contact by debris",
            FaultKind::ConnectorDemated => "its halves part",
            FaultKind::SegmentSevered => "is severed, all wires open",
            FaultKind::SegmentGrounded => "is severed, all wires touch structure",
            FaultKind::SegmentsBesideSevered => "is severed with one that runs beside it, all wires open",
            FaultKind::ClampSevered => "severs all segments that it holds, all wires open",
            FaultKind::SpliceOpen | FaultKind::StrapOpen => "opens",
            FaultKind::StudOpen | FaultKind::GroundOpen => "lets go",
            FaultKind::ProtectorOpen => "opens, or does not close",
            FaultKind::ProtectorClosed => "does not open",
            FaultKind::SwitchOpen => "opens, or does not close",
            FaultKind::SwitchClosed => "closes, or does not open",
            FaultKind::DiodeOpen => "opens",
            FaultKind::DiodeShorted => "is shorted",
            FaultKind::BusLost | FaultKind::SourceLost | FaultKind::ConverterLost | FaultKind::UnitLost | FaultKind::ZoneLost => "is lost",
            FaultKind::BusShorted => "is shorted",
            FaultKind::SourceShorted | FaultKind::LoadShorted => "is shorted at its terminals",
            FaultKind::ConverterShorted => "is shorted at its input",
        }
    }
}

/// Groups of kinds of fault: the columns of a matrix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FaultGroup {
    /// Wires that part.
    WireOpen,
    /// Wires that touch something.
    WireShorted,
    /// Contacts and connectors that open.
    Contact,
    /// Bent pins and debris.
    Bridge,
    /// Segments and zones.
    Segment,
    /// Splices, studs, straps, ground points.
    Joint,
    /// Protectors, switches, diodes.
    Device,
    /// Buses, batteries, supplies, converters.
    Source,
    /// Units and loads.
    Unit,
}

impl FaultGroup {
    /// All, in order.
    pub const ALL: [FaultGroup; 9] = [
        FaultGroup::WireOpen,
        FaultGroup::WireShorted,
        FaultGroup::Contact,
        FaultGroup::Bridge,
        FaultGroup::Segment,
        FaultGroup::Joint,
        FaultGroup::Device,
        FaultGroup::Source,
        FaultGroup::Unit,
    ];
    /// The word used as the head of a column and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            FaultGroup::WireOpen => "wire-open",
            FaultGroup::WireShorted => "wire-short",
            FaultGroup::Contact => "contact",
            FaultGroup::Bridge => "bridge",
            FaultGroup::Segment => "segment",
            FaultGroup::Joint => "joint",
            FaultGroup::Device => "device",
            FaultGroup::Source => "source",
            FaultGroup::Unit => "unit",
        }
    }
}

/// What a fault changes of a state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaultChange {
    /// A conductor opens.
    Open(ElementId),
    /// It has another resistance.
    Ohms(ElementId, Ohm),
    /// A device is stuck.
    Stuck(ElementId, Stuck),
    /// Two places are joined.
    Short(Place, Place),
    /// Something is lost with all that lands on it.
    Lost(Subject),
    /// A segment is severed and all its wires touch structure there.
    Grounded(Id<Segment>),
    /// Two segments are severed together.
    Beside(Id<Segment>, Id<Segment>),
    /// A contact opens and the stub of its pin touches something.
    Bent(Id<Contact>, Id<Pin>, Place),
}

/// One single fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// What kind it is.
    pub kind: FaultKind,
    /// What it happens to.
    pub item: Subject,
    /// What it changes.
    pub change: FaultChange,
    /// Whether it is listed for want of positions: no drawing says that these contacts lie within reach of each other.
    pub conservative: bool,
    /// Whether the positions are assumed ones: cavities of which only the number is known, taken to stand in rings.
    pub assumed: bool,
}

/// Every single fault of a vehicle.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// In the order of kinds, and within one in the order of the tables.
    pub faults: Vec<Fault>,
    /// Faults that cannot be listed, and the input that is missing for it.
    pub lacking: Vec<Lacking>,
}

/// Faults that cannot be listed.
#[derive(Clone, Debug, PartialEq)]
pub struct Lacking {
    /// Their kind.
    pub kind: FaultKind,
    /// What they would be of.
    pub item: Subject,
    /// The input field that is missing.
    pub field: &'static str,
}
