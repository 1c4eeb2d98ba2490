//! What opens a circuit, and what its maker states of it.

use crate::*;
use physics::trip::Device;
use physics::*;

/// A type of breaker, fuse or limiter in one rating: a row of the catalog, made out for the protectors that name it.
#[derive(Clone, Debug)]
pub struct DeviceType {
    /// Name in the catalog.
    pub name: Name,
    /// Rating, multiples of it that it holds and that open it in the end, and bands by ambient.
    pub trip: Device,
    /// What of it is scaled from another rating of its type: that rating.
    pub shape_of: Option<Ampere>,
    /// Greatest current that it interrupts.
    pub interrupts: Option<Given<Ampere>>,
    /// Of a limiter: the most that it lets through, in amperes.
    pub limits: Option<Given<Ampere>>,
    /// Notes on the rows it is made of.
    pub notes: Vec<NoteId>,
    /// Set where a phase is colder or hotter than all its maker says: the note that its currents are moved there by an assumed law.
    pub shift: Option<NoteId>,
    /// Every value of its rows, each with its place: what it is, the value, its unit.
    pub stated: Vec<(String, Given<f64>, &'static str)>,
    /// Where they come from, one line each.
    pub sources: Vec<String>,
    /// Its first row in the catalog.
    pub at: Span,
}

impl Design {
    /// Type of a protector in its rating; `None` where it names none or has no rating.
    pub fn device(&self, protector: Id<Protector>) -> Option<&DeviceType> {
        Some(&self.device_types[self.protectors[protector].device?.value])
    }

    /// Greatest current that a protector interrupts: its own row's, else its type's.
    pub fn interrupts(&self, protector: Id<Protector>) -> Option<Given<Ampere>> {
        self.protectors[protector].interrupts.or(self.device(protector)?.interrupts)
    }

    /// Coldest and hottest surroundings of a protector in a phase: those of the phase.
    pub fn device_ambient(&self, phase: Id<Phase>) -> [Given<Kelvin>; 2] {
        let ambient = &self.phases[phase].ambient;
        [ambient.low, ambient.high]
    }
}

/// What the limits profile says of protection.
#[derive(Clone, Debug, Default)]
pub struct ProtectionLimits {
    /// Time within which the smallest fault current has to open a device.
    pub clears_within: Option<Given<Second>>,
    /// Greatest share of a breaker's rating that a load may draw for long.
    pub breaker_share: Option<Given<Ratio>>,
    /// Greatest share of a fuse's rating that a load may draw for long.
    pub fuse_share: Option<Given<Ratio>>,
    /// Greatest share of a limiter's rating that a load may draw for long.
    pub limiter_share: Option<Given<Ratio>>,
    /// Voltage of a series arc.
    pub arc: Option<Spread<Volt>>,
    /// Inductance of a loop by its length, H/m.
    pub inductance_per_metre: Option<Given<f64>>,
    /// Greatest share of the damage time that the longest trip time may take.
    pub damage_share: Option<Given<Ratio>>,
    /// The greatest tier of functions that are essential: their protectors are shared with nothing else.
    pub essential_tier: Option<Given<u32>>,
}
