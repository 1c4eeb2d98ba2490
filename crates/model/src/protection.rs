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

/// A device that carries current to a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carries {
    /// The device.
    pub device: Id<Protector>,
    /// Before the fault.
    pub before: Ampere,
    /// While it burns.
    pub now: Ampere,
}

/// Devices that open one after the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Clearing {
    /// When each opens.
    pub opens: Vec<(Second, Id<Protector>)>,
    /// How it ends.
    pub end: Ends,
}

/// How a fault ends.
#[derive(Clone, Debug, PartialEq)]
pub enum Ends {
    /// Nothing feeds it any more.
    Cleared(Second),
    /// A current goes on that no device has to open for.
    Burns(Ampere),
    /// No device stands between it and a source.
    Unprotected(Ampere),
    /// Of this device nothing is known at that current.
    NotKnown(Id<Protector>),
    /// The state did not settle.
    Unsettled,
}

/// A load that sags while a fault burns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sagged {
    /// The load.
    pub load: Id<Load>,
    /// Its voltage.
    pub volts: Volt,
    /// What it does until the fault is cleared at the latest.
    pub rides: Rides,
}

/// What a load does through a sag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rides {
    /// It keeps the voltage at which it lets go.
    Stays,
    /// It is below that for no longer than it holds up.
    HoldsUp,
    /// It is below that for longer.
    LetsGo,
    /// This field of it is not stated.
    NotKnown(&'static str),
}

/// A bus when a device opens on a fault: an upper bound of its peak.
#[derive(Clone, Debug, PartialEq)]
pub struct Peak {
    /// The device.
    pub device: Id<Protector>,
    /// What it interrupts.
    pub interrupts: Ampere,
    /// Length of the wires from the source to it.
    pub feed: Metre,
    /// Inductance of that loop.
    pub inductance: Henry,
    /// Known capacitance on the bus.
    pub capacitance: Farad,
    /// Peak of each load there, and what it stands for a moment.
    pub loads: Vec<(Id<Load>, Volt, Option<Volt>)>,
}

/// What a short circuit that somebody asks about comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortAnswer {
    /// Phase.
    pub phase: Id<Phase>,
    /// Corner.
    pub corner: Corner,
    /// Current of each short, in the order asked.
    pub currents: Vec<Ampere>,
    /// Devices that carry more than before.
    pub devices: Vec<Carries>,
    /// What opens, with every device at its shortest time.
    pub earliest: Clearing,
    /// What opens, with every device at its longest time.
    pub latest: Clearing,
    /// Of each wire shorted along its way: what flows in it, and the highest temperature that it comes to until the latest clearing; `None` where that is not
    /// known or never comes.
    pub wires: Vec<(Id<Wire>, Ampere, Option<Kelvin>)>,
    /// Loads that stay fed, and whose voltage is below their least one while the fault burns.
    pub sagged: Vec<Sagged>,
    /// What the bus comes to when the first device opens; `None` where none does. Else the field that is missing, and why it is needed.
    pub peak: Option<Result<Peak, (String, String)>>,
    /// Loads that have no power once the devices of the longest case have opened.
    pub lost: Vec<Id<Load>>,
}
