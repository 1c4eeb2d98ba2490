//! Temperatures of the harness in one state.

use crate::*;
use physics::*;

/// Temperatures of the harness, beside a [`Point`].
#[derive(Clone, Debug, PartialEq)]
pub struct Heat {
    /// What is known of each segment. Surroundings are the hottest of the phase, in the typical corner the typical ones.
    pub segments: Column<Segment, SegmentHeat>,
    /// How often network and heat were computed in turn.
    pub rounds: usize,
    /// Where they did not settle within the bound: the wire that moved most in the last round, and by how much.
    pub unsettled: Option<(Id<Wire>, TemperatureRise)>,
    /// Where warm copper left the network without an operating point that it had with cooler copper: the wire that warmed most in the round before, its
    /// current then, and the temperature that it came to.
    pub ran_away: Option<(Id<Wire>, Ampere, Kelvin)>,
}

/// Currents of a state apart: what flows without any pulse, and what each rhythm adds.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulses {
    /// Current of each branch with all loads off that pulse. `[n_branches]` A
    pub steady: Vec<f64>,
    /// When pulses come, and what they add to the current of each branch. `[n_branches]` A
    pub rhythms: Vec<(physics::pulses::Rhythm, Vec<f64>)>,
}

/// Which current of a wire its heat was computed with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeatedBy {
    /// It flows without pause.
    Steady,
    /// The root of the mean square of pulses that are short for the wire.
    Rms,
    /// Pulses followed in time: the highest temperature of the course counts.
    Course,
    /// The peak of a load whose pauses are not stated, as if it stayed.
    Peak,
}

impl HeatedBy {
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            HeatedBy::Steady => "steady",
            HeatedBy::Rms => "rms",
            HeatedBy::Course => "course",
            HeatedBy::Peak => "peak",
        }
    }
}

/// What is known of the heat of a segment.
#[derive(Clone, Debug, PartialEq)]
pub enum SegmentHeat {
    /// Nothing lies in it.
    Empty,
    /// Its wires have these temperatures.
    Known(std::sync::Arc<SectionHeat>),
    /// Something is not stated.
    Lacks(HeatLacks),
    /// A wire heats itself without end.
    Runaway {
        /// The wire.
        wire: Id<Wire>,
        /// What it carries.
        current: Ampere,
        /// From which current on it does, its neighbours as they are; `None` where they alone suffice.
        from: Option<Ampere>,
    },
    /// The balance of heat was not reached within its bound.
    Unsettled {
        /// The wire whose balance is worst.
        wire: Id<Wire>,
    },
}

/// Temperatures of a section.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionHeat {
    /// Its wires, in the order of its circles.
    pub wires: Vec<WireHeat>,
    /// Mean of its outside.
    pub skin: Kelvin,
    /// What carries heat from its outside to the gas, in words; empty in vacuum.
    pub film: &'static str,
    /// Whether the law for that was used outside the range stated for it.
    pub beyond_range: bool,
    /// Whether the gravity of its zone is not stated, and zero was used.
    pub no_gravity: bool,
}

/// A wire in a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WireHeat {
    /// The wire.
    pub wire: Id<Wire>,
    /// What heats it: of pulses the root of the mean square.
    pub current: Ampere,
    /// The greatest current that it carries.
    pub peak: Ampere,
    /// How the two are one or not.
    pub by: HeatedBy,
    /// Temperature of its conductor; of pulses followed in time the highest.
    pub conductor: Kelvin,
}

impl SectionHeat {
    /// Temperature of a wire's conductor.
    pub fn of(&self, wire: Id<Wire>) -> Option<&WireHeat> {
        self.wires.iter().find(|row| row.wire == wire)
    }
}

/// What is missing for the heat of a segment.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatLacks {
    /// Whose value it is.
    pub of: Subject,
    /// The input field.
    pub field: &'static str,
    /// Why it is needed, in a sentence without its subject.
    pub why: String,
    /// Where it would stand.
    pub at: Span,
}
