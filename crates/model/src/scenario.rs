//! A state of the vehicle laid over the unchanged design.

use crate::*;
use physics::*;

/// A mission phase.
#[derive(Clone, Debug)]
pub struct Phase {
    /// Id in the vehicle.
    pub name: Name,
    /// Mission time at which it begins, where it is stated beside the durations.
    pub starts: Option<Given<Second>>,
    /// How long it lasts.
    pub duration: Option<Given<Second>>,
    /// Conductor temperature where heat is not computed: the stated ambient, coldest, typical and hottest.
    pub ambient: Spread<Kelvin>,
    /// Greatest pressure altitude of its wires.
    pub altitude: Option<Given<Metre>>,
    /// Groups of loads that pulse: those of one may draw at the same time, those of two never do. A load in none may draw with any.
    pub together: Vec<Vec<Given<Id<Load>>>>,
    /// Elements whose state differs from the one in their own row, in the order written.
    pub states: Vec<Given<(ElementId, Commanded)>>,
    /// Items that stand on connectors in place of their mates.
    pub fitted: Vec<Given<Id<Fitted>>>,
    /// What is commanded while it runs, by rising time.
    pub programme: Vec<Programme>,
    /// Made up because the input names no phase.
    pub implied: bool,
    /// Where the row stands.
    pub at: Span,
}

/// A commanded state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Commanded {
    /// Switch or protector conducts; load, source or converter is on.
    On,
    /// Switch or protector is open; load, source or converter is off.
    Off,
}

impl Commanded {
    /// `on` or `off`.
    pub fn word(self) -> &'static str {
        match self {
            Commanded::On => "on",
            Commanded::Off => "off",
        }
    }
}

/// A named set of worst values, stated with each margin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Corner {
    /// Lowest source EMF, highest source resistance, greatest conductor ohms hot, contacts at their limit, loads at
    /// maximum with growth.
    #[default]
    Low,
    /// Typical values: for test predictions and energy.
    Typical,
    /// Highest EMF, least source resistance, nominal ohms × 0.95 cold, contacts at best, loads typical.
    High,
}

impl Corner {
    /// All three, in order.
    pub const ALL: [Corner; 3] = [Corner::Low, Corner::Typical, Corner::High];
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Corner::Low => "low",
            Corner::Typical => "typical",
            Corner::High => "high",
        }
    }
}

/// What a stuck device does whatever it is commanded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stuck {
    /// Conducts.
    Closed,
    /// Does not conduct.
    Open,
    /// Conducts both ways without its forward voltage (a diode).
    Shorted,
}

/// States of the devices that remember, as they were before.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DeviceStates {
    /// Loads and converters that have dropped out.
    pub dropped: Vec<ElementId>,
}

/// A changed load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadChange {
    /// Commanded on.
    On,
    /// Commanded off.
    Off,
    /// Draws this power instead.
    Power(Watt),
    /// Draws this current instead.
    Current(Ampere),
    /// Is this resistance instead.
    Resistance(Ohm),
}

/// A state of the vehicle: phase, corner, and everything that differs from the design. All but phase and corner are empty
/// by default; the design itself is never copied or edited.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// The phase.
    pub phase: Id<Phase>,
    /// The corner.
    pub corner: Corner,
    /// Device states just before, where they matter.
    pub before: Option<DeviceStates>,
    /// Switches, protectors, sources and converters commanded otherwise than the phase says.
    pub switches: Vec<(ElementId, Commanded)>,
    /// Loads changed.
    pub loads: Vec<(Id<Load>, LoadChange)>,
    /// Sensors with another reading.
    pub readings: Vec<(Id<Sensor>, Ratio)>,
    /// Elements opened, at one end or (`None`) altogether.
    pub opened: Vec<(ElementId, Option<End>)>,
    /// Elements with another resistance.
    pub ohms: Vec<(ElementId, Ohm)>,
    /// Devices stuck.
    pub stuck: Vec<(ElementId, Stuck)>,
    /// Short circuits.
    pub shorts: Vec<(Place, Place, Ohm)>,
    /// Loads and converters that stand as a plain resistance whatever the voltage; a converter gives nothing then. What faults are followed on.
    pub held: Vec<(ElementId, Ohm)>,
    /// Things lost altogether.
    pub lost: Vec<Subject>,
    /// Items that stand on connectors, in place of those of the phase; `None` leaves the phase's.
    pub fitted: Option<Vec<Id<Fitted>>>,
    /// Zones changed.
    pub zones: Vec<(Id<Zone>, ZoneChange)>,
    /// Batteries that stand otherwise than their rows say.
    pub batteries: Vec<BatteryAt>,
    /// Temperatures of conductors, where they have been computed; else they are at the phase's ambient.
    pub conductors: Option<std::sync::Arc<Column<Wire, Kelvin>>>,
}

impl Scenario {
    /// A phase in a corner with nothing changed.
    pub fn new(phase: Id<Phase>, corner: Corner) -> Scenario {
        Scenario {
            phase,
            corner,
            before: None,
            switches: Vec::new(),
            loads: Vec::new(),
            readings: Vec::new(),
            opened: Vec::new(),
            ohms: Vec::new(),
            stuck: Vec::new(),
            shorts: Vec::new(),
            held: Vec::new(),
            lost: Vec::new(),
            fitted: None,
            zones: Vec::new(),
            batteries: Vec::new(),
            conductors: None,
        }
    }
}
