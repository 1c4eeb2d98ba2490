//! The map of the harness: breakouts, segments between them, what holds and covers them and what lies near.

use crate::*;
use physics::*;

/// A breakout: where segments of the harness meet and wires leave it.
#[derive(Clone, Debug)]
pub struct BranchPoint {
    /// Id in the vehicle.
    pub name: Name,
    /// Where it is, in the vehicle's frame.
    pub position: Option<Given<[Metre; 3]>>,
    /// Where the row stands.
    pub at: Span,
}

/// A stretch of harness between two breakouts, shared by all wires in it.
#[derive(Clone, Debug)]
pub struct Segment {
    /// Id in the vehicle.
    pub name: Name,
    /// The breakout that distances along it are counted from.
    pub from: Given<Id<BranchPoint>>,
    /// The breakout at its other end.
    pub to: Given<Id<BranchPoint>>,
    /// How long it is; of one without a stated length the straight line between its ends.
    pub length: Given<Metre>,
    /// Whether the length is the straight line, because none is stated.
    pub is_straight: bool,
    /// The section it stays with.
    pub section: Option<Given<Id<Section>>>,
    /// The classes of wire that it admits; all of them if not stated.
    pub admits: Option<Given<Vec<Class>>>,
    /// Cost of a metre of it: 1, or more where wires are not wanted.
    pub weight: Given<f64>,
    /// Smallest bend radius along it, on the inside of the bend.
    pub bend: Option<Given<Metre>>,
    /// Height over structure.
    pub height: Option<Given<Metre>>,
    /// Pull along it.
    pub tension: Option<Given<Newton>>,
    /// Segments that run beside it.
    pub beside: Vec<Given<Id<Segment>>>,
    /// Whether it lies in a trough, duct or conduit, which holds it all along.
    pub duct: Option<Given<bool>>,
    /// Farthest that two of its ties are apart.
    pub tie_pitch: Option<Given<Metre>>,
    /// What covers it, from the inside out.
    pub coverings: Vec<Given<Id<Covering>>>,
    /// The zone it lies in.
    pub zone: Option<Given<Id<Zone>>>,
    /// Temperature of what it is clamped or bonded to; else that of the zone's walls.
    pub sink: Option<Spread<Kelvin>>,
    /// Heat that it leads there by contact, per length; none unless stated.
    pub sink_conductance: Option<Given<WattPerMetreKelvin>>,
    /// Share of sunlight that its outside takes up.
    pub absorptance: Option<Given<Ratio>>,
    /// Whether people can touch it.
    pub reachable: Option<Given<bool>>,
    /// Where the row stands.
    pub at: Span,
}

/// What holds a segment, or what it passes through.
#[derive(Clone, Debug)]
pub struct Clamp {
    /// Id in the vehicle.
    pub name: Name,
    /// The segment.
    pub segment: Given<Id<Segment>>,
    /// Other segments that it holds too.
    pub with: Vec<Given<Id<Segment>>>,
    /// What it is.
    pub kind: ClampKind,
    /// Distance from the `from` end of the segment.
    pub position: Option<Given<Metre>>,
    /// Diameter of its opening, with its cushion or grommet in; ties have none.
    pub bore: Option<Given<Metre>>,
    /// Of a tie: hottest that it may be for long.
    pub rating: Option<Given<Kelvin>>,
    /// Of a hole: whether a grommet covers its edge.
    pub grommet: Option<Given<bool>>,
    /// Its mass; holes have none.
    pub mass: Option<Given<Kilogram>>,
    /// Where the row stands.
    pub at: Span,
}

impl Clamp {
    /// Every segment that it holds.
    pub fn segments(&self) -> impl Iterator<Item = Id<Segment>> + '_ {
        std::iter::once(&self.segment).chain(&self.with).map(|given| given.value)
    }
}

/// Kind of a [`Clamp`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClampKind {
    /// Holds the segment to structure.
    Clamp,
    /// A hole in structure; holds nothing.
    Hole,
    /// Holds the wires together and is no support.
    Tie,
}

impl ClampKind {
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            ClampKind::Clamp => "clamp",
            ClampKind::Hole => "hole",
            ClampKind::Tie => "tie",
        }
    }
}

/// What lies around the wires of segments.
#[derive(Clone, Debug)]
pub struct Covering {
    /// Id in the vehicle.
    pub name: Name,
    /// How it is made.
    pub kind: CoveringKind,
    /// Wall of a sleeve, thickness of a tape, diameter of a braid's strand.
    pub thickness: Option<Given<Metre>>,
    /// Of a braid: its built-up thickness in diameters of a strand.
    pub build: Option<Given<f64>>,
    /// Mass per length.
    pub mass: Option<Given<KilogramPerMetre>>,
    /// Thermal conductivity of its wall.
    pub conductivity: Option<Given<WattPerMetreKelvin>>,
    /// Heat that its mass takes up.
    pub specific_heat: Option<Given<JoulePerKilogramKelvin>>,
    /// Emittance of its surface in the infrared.
    pub emittance: Option<Spread<Ratio>>,
    /// Hottest that it may be for long.
    pub rating: Option<Given<Kelvin>>,
    /// Where the row stands.
    pub at: Span,
}

/// How a covering is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CoveringKind {
    /// A sleeve or tube.
    Sleeve,
    /// Tape lapped by half.
    Tape,
    /// A braid.
    Braid,
}

impl CoveringKind {
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            CoveringKind::Sleeve => "sleeve",
            CoveringKind::Tape => "tape",
            CoveringKind::Braid => "braid",
        }
    }
}

/// Something that is no wire and lies near a segment.
#[derive(Clone, Debug)]
pub struct Neighbour {
    /// Id in the vehicle.
    pub name: Name,
    /// The segment.
    pub segment: Given<Id<Segment>>,
    /// What it is.
    pub kind: NeighbourKind,
    /// Least distance from the outside of the harness.
    pub distance: Option<Given<Metre>>,
    /// Where the row stands.
    pub at: Span,
}

/// What lies near a segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NeighbourKind {
    /// A line of fuel.
    FuelLine,
    /// A line of oxygen.
    OxygenLine,
    /// A line of hydraulic fluid.
    HydraulicLine,
    /// A line of propellant.
    PropellantLine,
    /// A hot surface.
    HotSurface,
    /// A part that moves.
    MovingPart,
    /// A sharp edge.
    SharpEdge,
    /// The plume of an engine.
    Plume,
    /// A zone where flammable vapour may stand.
    VapourZone,
}

impl NeighbourKind {
    /// All of them, in order.
    pub const ALL: [NeighbourKind; 9] = [
        NeighbourKind::FuelLine,
        NeighbourKind::OxygenLine,
        NeighbourKind::HydraulicLine,
        NeighbourKind::PropellantLine,
        NeighbourKind::HotSurface,
        NeighbourKind::MovingPart,
        NeighbourKind::SharpEdge,
        NeighbourKind::Plume,
        NeighbourKind::VapourZone,
    ];

    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            NeighbourKind::FuelLine => "fuel-line",
            NeighbourKind::OxygenLine => "oxygen-line",
            NeighbourKind::HydraulicLine => "hydraulic-line",
            NeighbourKind::PropellantLine => "propellant-line",
            NeighbourKind::HotSurface => "hot-surface",
            NeighbourKind::MovingPart => "moving-part",
            NeighbourKind::SharpEdge => "sharp-edge",
            NeighbourKind::Plume => "plume",
            NeighbourKind::VapourZone => "vapour-zone",
        }
    }

    /// The field of a limits profile that holds the least distance to it.
    pub fn clearance_field(self) -> &'static str {
        match self {
            NeighbourKind::FuelLine => "clearance_fuel_line",
            NeighbourKind::OxygenLine => "clearance_oxygen_line",
            NeighbourKind::HydraulicLine => "clearance_hydraulic_line",
            NeighbourKind::PropellantLine => "clearance_propellant_line",
            NeighbourKind::HotSurface => "clearance_hot_surface",
            NeighbourKind::MovingPart => "clearance_moving_part",
            NeighbourKind::SharpEdge => "clearance_sharp_edge",
            NeighbourKind::Plume => "clearance_plume",
            NeighbourKind::VapourZone => "clearance_vapour_zone",
        }
    }
}

/// A class of wire: its place in the profile's list of classes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Class(pub u8);

/// Classes that a profile may have.
pub const CLASSES: usize = 63;

/// Two classes that are to be kept apart: a row of the profile.
#[derive(Clone, Debug)]
pub struct ClassesApart {
    /// The classes.
    pub classes: [Class; 2],
    /// Where the pair comes from.
    pub source: String,
    /// How the pair is known.
    pub how: PairHow,
    /// Set where the pair is recalled or common practice, and the vehicle has classes at all.
    pub note: Option<NoteId>,
    /// Where it is written.
    pub at: Span,
}

/// How a pair of classes is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PairHow {
    /// Read in its source.
    Read,
    /// Recalled from memory.
    Recalled,
    /// Common practice.
    Practice,
}

impl PairHow {
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            PairHow::Read => "read",
            PairHow::Recalled => "recalled",
            PairHow::Practice => "practice",
        }
    }
}

/// A named circuit: wires that serve one purpose.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// Class of its wires.
    pub class: Option<Given<Class>>,
    /// Circuits whose wires must not lie in one segment with its own.
    pub not_with: Vec<Given<Id<Circuit>>>,
    /// Named only by the wire list, not declared.
    pub implied: bool,
    /// Where the row stands.
    pub at: Span,
}

/// Where a wire must pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Via {
    /// A breakout.
    Point(Id<BranchPoint>),
    /// A segment, in either direction.
    Segment(Id<Segment>),
}

/// What a wire needs beyond its route where its own row does not say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowances {
    /// Length at each end.
    pub end: Given<Metre>,
    /// Slack, as a share of the route.
    pub slack: Given<Ratio>,
}

impl Design {
    /// The breakout at which an end of a conductor leaves the harness: its connector's, else that of the other half, else that of the unit
    /// of either.
    pub fn breakout_of(&self, end: End) -> Option<Given<Id<BranchPoint>>> {
        let of_unit = |unit: Id<Unit>| self.units[unit].breakout;
        let of_connector = |id: Id<Connector>| {
            let halves = [Some(id), self.connectors[id].mate.map(|mate| mate.value)].map(|half| half.map(|half| &self.connectors[half]));
            let own = halves.iter().flatten().find_map(|half| half.breakout);
            own.or_else(|| halves.iter().flatten().find_map(|half| of_unit(half.unit?.value)))
        };
        match end {
            End::Pin(pin) => of_connector(self.pins[pin].connector),
            End::Shell(connector) => of_connector(connector),
            End::Splice(id) => self.splices[id].breakout,
            End::Stud(id) => self.studs[id].breakout,
            End::Ground(id) => self.grounds[id].breakout,
            End::Case(unit) => of_unit(unit),
            End::Inner(node) => of_unit(self.inner_nodes[node].unit?.value),
            End::Branch(id) => Some(Given::firm(id, self.branch_points[id].at)),
            End::Stowed => None,
        }
    }

    /// Outside diameter of the shell of a connector half: its own, else that of the half that it mates with where it has no row of its own, else
    /// that of its insert arrangement.
    pub fn shell_of(&self, half: Id<Connector>) -> Option<Given<Metre>> {
        let row = &self.connectors[half];
        let stated = row.shell.or(self.like(half).and_then(|side| side.shell));
        stated.or_else(|| self.arrangement_of(half)?.shell)
    }

    /// Mass of a connector half without its contacts: its own, else that of its insert arrangement.
    pub fn mass_of_half(&self, half: Id<Connector>) -> Option<Given<Kilogram>> {
        self.connectors[half].mass.or_else(|| self.arrangement_of(half)?.mass)
    }

    /// The half that a connector half without a row of its own is like.
    fn like(&self, half: Id<Connector>) -> Option<&Connector> {
        let row = &self.connectors[half];
        row.mate.map(|mate| &self.connectors[mate.value]).filter(|_| row.implied == Implied::AsMate)
    }

    /// Insert arrangement of a connector half: its own, else that of the half it is like.
    pub fn arrangement_of(&self, half: Id<Connector>) -> Option<&Arrangement> {
        let own = self.connectors[half].arrangement;
        Some(&self.arrangements[own.or_else(|| self.like(half)?.arrangement)?.value])
    }

    /// Class of a wire: its circuit's.
    pub fn class_of(&self, wire: Id<Wire>) -> Option<Given<Class>> {
        self.circuits[self.wires[wire].circuit?.value].class
    }

    /// The name of a class.
    pub fn class_name(&self, class: Class) -> &str {
        &self.profile.classes[class.0 as usize]
    }
}
