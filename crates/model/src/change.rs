//! What a changed state does, held against the vehicle as planned.

use crate::*;
use physics::Volt;

/// Everything that a changed state moves, in the states that were compared.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    /// Phases and corners compared.
    pub states: Vec<(Id<Phase>, Corner)>,
    /// Loads and converters that stand otherwise.
    pub loads: Vec<LoadMoved>,
    /// Buses that gain or lose their source, and parts that gain or lose their reference ground.
    pub parts: Vec<PartMoved>,
    /// Voltages of loads, sources and buses that moved, in volts; the farthest first, the states of one subject together.
    pub volts: Vec<Moved>,
    /// Readings of sensors and receivers that moved, in volts.
    pub readings: Vec<Moved>,
    /// Currents that moved, in amperes.
    pub currents: Vec<Moved>,
    /// Conductors whose temperature moved where they are hottest, in degrees Celsius.
    pub temperatures: Vec<Moved>,
    /// What the short circuits come to, state by state.
    pub shorts: Vec<ShortAnswer>,
    /// Findings that appear.
    pub appeared: Vec<Finding>,
    /// Findings that go.
    pub gone: Vec<Finding>,
    /// Findings that stay with another value or other states: before and after.
    pub changed: Vec<(Finding, Finding)>,
    /// What can no longer be judged.
    pub no_longer_judged: Vec<NotJudged>,
}

/// How a load or converter is served.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Service {
    /// Commanded off.
    Off,
    /// Commanded on, fed and connected.
    Fed,
    /// Commanded on; no source reaches it.
    NotFed,
    /// Commanded on; let go at this voltage.
    DroppedOut(Volt),
    /// Commanded on; its part of the network did not settle.
    NotSettled,
    /// Its demand is `TBD`.
    Unknown,
}

impl Service {
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Service::Off => "off",
            Service::Fed => "fed",
            Service::NotFed => "not fed",
            Service::DroppedOut(_) => "dropped out",
            Service::NotSettled => "not settled",
            Service::Unknown => "demand TBD",
        }
    }
}

/// A load or converter that stands otherwise in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadMoved {
    /// Which.
    pub element: ElementId,
    /// Phase.
    pub phase: Id<Phase>,
    /// Corner.
    pub corner: Corner,
    /// As planned.
    pub before: Service,
    /// Changed.
    pub after: Service,
}

/// What happens to a bus or a part of the network.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartMove {
    /// No source drives it any more.
    LosesSource,
    /// A source drives it now.
    GainsSource,
    /// It has no reference ground any more.
    LosesReference,
    /// It has a reference ground now.
    GainsReference,
}

impl PartMove {
    /// The words used in tables and JSON.
    pub fn words(self) -> &'static str {
        match self {
            PartMove::LosesSource => "loses its source",
            PartMove::GainsSource => "gains a source",
            PartMove::LosesReference => "loses its reference ground",
            PartMove::GainsReference => "gains a reference ground",
        }
    }
}

/// A bus or part of the network that stands otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct PartMoved {
    /// The bus, or the end that stands for the part.
    pub subject: Subject,
    /// What happens.
    pub what: PartMove,
    /// Where.
    pub states: Vec<(Id<Phase>, Corner)>,
}

/// A number that moved in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Of what.
    pub subject: Subject,
    /// Phase.
    pub phase: Id<Phase>,
    /// Corner.
    pub corner: Corner,
    /// As planned; `None` where it has no value.
    pub before: Option<f64>,
    /// Changed.
    pub after: Option<f64>,
}

impl Moved {
    /// How far; from or to nothing counts as from or to zero.
    pub fn distance(&self) -> f64 {
        (self.after.unwrap_or(0.0) - self.before.unwrap_or(0.0)).abs()
    }
}
