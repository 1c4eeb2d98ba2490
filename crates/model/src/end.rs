//! Ends, elements, nodes, places, subjects: the identities that everything else names things by.

use crate::*;

/// What a conductor ends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum End {
    /// One cavity of one connector half.
    Pin(Id<Pin>),
    /// The body of a splice.
    Splice(Id<Splice>),
    /// A terminal stud.
    Stud(Id<Stud>),
    /// A ground point on structure.
    Ground(Id<Ground>),
    /// The shell of a connector half.
    Shell(Id<Connector>),
    /// The case of a unit.
    Case(Id<Unit>),
    /// A node inside a unit, a bus bar among them.
    Inner(Id<InnerNode>),
    /// A breakout of the harness (an overbraid runs between breakouts).
    Branch(Id<BranchPoint>),
    /// Nowhere: a spare, capped and stowed.
    Stowed,
}

/// Which end of a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// The end in the `from` column.
    From,
    /// The end in the `to` column.
    To,
}

/// One physical thing that carries current, opens, closes, supplies or consumes: what switches, faults, traces and JSON name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ElementId {
    /// A wire of the wire list.
    Wire(Id<Wire>),
    /// The joint of a wire at a splice, stud or ground point.
    Joint(Id<Wire>, Side),
    /// The shield of a cable.
    Shield(Id<Cable>),
    /// The drain wire of a cable.
    Drain(Id<Cable>),
    /// A bond strap.
    Strap(Id<Strap>),
    /// A path through structure between two ground points.
    StructurePath(Id<StructurePath>),
    /// The mated contact of two pins.
    Contact(Id<Contact>),
    /// A conductor inside a unit.
    Link(Id<Link>),
    /// A connection inside a plug, cap, saver or adapter.
    FittedLink(Id<FittedLink>),
    /// A battery or a ground supply.
    Source(Id<Source>),
    /// A breaker, fuse or current limiter.
    Protector(Id<Protector>),
    /// A switch, relay contact or bus tie.
    Switch(Id<Switch>),
    /// A diode.
    Diode(Id<Diode>),
    /// A dc-dc converter.
    Converter(Id<Converter>),
    /// A load.
    Load(Id<Load>),
    /// A sensor.
    Sensor(Id<Sensor>),
    /// A receiver of a sensor's signal.
    Receiver(Id<Receiver>),
    /// A constant-current excitation of a sensor.
    Excitation(Id<Excitation>),
}

/// A set of ends that cannot part electrically. Numbered from the design alone, never from a scenario or corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub u32);

impl NodeId {
    /// The number as an index.
    pub fn row(self) -> usize {
        self.0 as usize
    }
}

/// Where a short circuit may be applied.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// At an end.
    End(End),
    /// Along a conductor, as a fraction from its `from` end.
    Along(ElementId, f64),
    /// The structure of the vehicle, at its reference ground.
    Structure,
}

/// What a margin, finding or note is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Subject {
    /// An element.
    Element(ElementId),
    /// A pin.
    Pin(Id<Pin>),
    /// A connector half.
    Connector(Id<Connector>),
    /// A unit.
    Unit(Id<Unit>),
    /// A bus or another node inside a unit.
    Inner(Id<InnerNode>),
    /// A splice.
    Splice(Id<Splice>),
    /// A stud.
    Stud(Id<Stud>),
    /// A ground point.
    Ground(Id<Ground>),
    /// A cable.
    Cable(Id<Cable>),
    /// A breakout of the harness.
    Breakout(Id<BranchPoint>),
    /// A segment of the harness.
    Segment(Id<Segment>),
    /// A clamp, hole or tie.
    Clamp(Id<Clamp>),
    /// A sleeve, tape or braid.
    Covering(Id<Covering>),
    /// What is no wire and lies near a segment.
    Neighbour(Id<Neighbour>),
    /// A zone.
    Zone(Id<Zone>),
    /// A circuit.
    Circuit(Id<Circuit>),
    /// A pin's row on an interface sheet.
    Port(Id<Port>),
    /// A function of the vehicle.
    Function(Id<Function>),
    /// A plug, cap, saver or adapter.
    Fitted(Id<Fitted>),
    /// A mission phase.
    Phase(Id<Phase>),
    /// A row of the limits profile or of the vehicle file itself.
    Vehicle,
}

impl From<ElementId> for Subject {
    fn from(element: ElementId) -> Subject {
        Subject::Element(element)
    }
}
