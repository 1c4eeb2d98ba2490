//! Elements inside units: sources, protectors, switches, diodes, converters, loads, sensors, receivers.

use crate::*;
use physics::sensor_temperature::{Couple, ICE_POINT, rtd_ohms};
use physics::*;

/// A battery or a ground supply: an EMF behind a resistance.
#[derive(Clone, Debug)]
pub struct Source {
    /// Id in the vehicle.
    pub name: Name,
    /// Battery or ground supply.
    pub kind: SourceKind,
    /// Positive terminal.
    pub positive: Given<End>,
    /// Negative terminal.
    pub negative: Given<End>,
    /// Open-circuit voltage; `None` if `TBD`.
    pub emf: Option<Spread<Volt>>,
    /// Series resistance, above zero; `None` if `TBD`.
    pub ohms: Option<Spread<Ohm>>,
    /// Greatest continuous current.
    pub rating: Option<Given<Ampere>>,
    /// Greatest current in short spells.
    pub peak: Option<Given<Ampere>>,
    /// Of a battery whose type is named: its cells.
    pub cells: Option<Cells>,
    /// Whether it is connected unless a phase says otherwise.
    pub on: bool,
    /// Where the row stands.
    pub at: Span,
}

/// What gives the voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// A battery.
    Battery,
    /// A ground supply.
    GroundSupply,
}

/// A breaker, fuse or current limiter.
#[derive(Clone, Debug)]
pub struct Protector {
    /// Id in the vehicle.
    pub name: Name,
    /// What it is.
    pub kind: ProtectorKind,
    /// Supply side.
    pub line: Given<End>,
    /// Load side.
    pub load: Given<End>,
    /// Rated current.
    pub rating: Option<Given<Ampere>>,
    /// Resistance when closed.
    pub ohms: Spread<Ohm>,
    /// Its type in the catalog, in its rating.
    pub device: Option<Given<Id<DeviceType>>>,
    /// Greatest current that it interrupts, where its own row states it; else its type's.
    pub interrupts: Option<Given<Ampere>>,
    /// Closed unless a phase says otherwise.
    pub closed: bool,
    /// Where the row stands.
    pub at: Span,
}

/// Kinds of protector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProtectorKind {
    /// Thermal or magnetic breaker, can be reset and opened by hand.
    Breaker,
    /// Fuse.
    Fuse,
    /// Lets through no more than its limit and opens after a time at it; can be switched again.
    Limiter,
}

impl ProtectorKind {
    /// All of them.
    pub const ALL: [ProtectorKind; 3] = [ProtectorKind::Breaker, ProtectorKind::Fuse, ProtectorKind::Limiter];

    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            ProtectorKind::Breaker => "breaker",
            ProtectorKind::Fuse => "fuse",
            ProtectorKind::Limiter => "limiter",
        }
    }
}

/// A switch, relay contact or bus tie.
#[derive(Clone, Debug)]
pub struct Switch {
    /// Id in the vehicle.
    pub name: Name,
    /// What it is.
    pub kind: SwitchKind,
    /// One side.
    pub from: Given<End>,
    /// The other side.
    pub to: Given<End>,
    /// Resistance when closed.
    pub ohms: Spread<Ohm>,
    /// What its contact may carry, by kind of load.
    pub ratings: SwitchRatings,
    /// The coil or driver that moves it: contacts with one drive move together.
    pub drive: Option<Given<Name>>,
    /// What flows through it while it is open, at the greatest voltage of any source: of a solid-state switch.
    pub leakage: Option<Given<Ampere>>,
    /// Whether current is meant to flow from `from` to `to` alone.
    pub one_way: bool,
    /// State unless a phase says otherwise.
    pub closed: bool,
    /// Where the row stands.
    pub at: Span,
}

/// What a switch's contact may make, carry and break, by kind of load.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SwitchRatings {
    /// Resistive load.
    pub resistive: Option<Given<Ampere>>,
    /// Inductive load.
    pub inductive: Option<Given<Ampere>>,
    /// Lamps.
    pub lamp: Option<Given<Ampere>>,
    /// Motors.
    pub motor: Option<Given<Ampere>>,
}

impl SwitchRatings {
    /// The rating for a kind of load.
    pub fn of(&self, kind: LoadKind) -> Option<Given<Ampere>> {
        match kind {
            LoadKind::Resistive => self.resistive,
            LoadKind::Inductive => self.inductive,
            LoadKind::Lamp => self.lamp,
            LoadKind::Motor => self.motor,
        }
    }
}

/// Kinds of switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwitchKind {
    /// Worked by hand.
    Switch,
    /// A relay's contact.
    Relay,
    /// Joins two buses.
    Tie,
}

/// A diode: nothing below its forward voltage, then its series resistance.
#[derive(Clone, Debug)]
pub struct Diode {
    /// Id in the vehicle.
    pub name: Name,
    /// Anode.
    pub anode: Given<End>,
    /// Cathode.
    pub cathode: Given<End>,
    /// Forward voltage at the foot of the line.
    pub forward: Spread<Volt>,
    /// Slope resistance, above zero.
    pub ohms: Spread<Ohm>,
    /// Where the row stands.
    pub at: Span,
}

/// A dc-dc converter: constant power in, an EMF behind a resistance out.
#[derive(Clone, Debug)]
pub struct Converter {
    /// Id in the vehicle.
    pub name: Name,
    /// Input, positive.
    pub line: Given<End>,
    /// Input, negative.
    pub line_return: Given<End>,
    /// Output, positive.
    pub output: Given<End>,
    /// Output, negative.
    pub output_return: Given<End>,
    /// Output voltage without load.
    pub emf: Spread<Volt>,
    /// Output resistance, above zero.
    pub ohms: Spread<Ohm>,
    /// Output power over input power less the quiescent power.
    pub efficiency: Given<Ratio>,
    /// Input power without load.
    pub quiescent: Given<Watt>,
    /// Input voltage below which it stops.
    pub drop_out: Option<Given<Volt>>,
    /// Input voltage above which it starts again.
    pub return_above: Option<Given<Volt>>,
    /// Working unless a phase says otherwise.
    pub on: bool,
    /// Where the row stands.
    pub at: Span,
}

/// A load.
#[derive(Clone, Debug)]
pub struct Load {
    /// Id in the vehicle.
    pub name: Name,
    /// Positive terminal.
    pub line: Given<End>,
    /// Negative terminal.
    pub line_return: Given<End>,
    /// What it draws; `None` if `TBD`.
    pub demand: Option<Demand>,
    /// Growth added in the low corner, as a share; counts on power and current, not on a resistance.
    pub growth: Option<Given<Ratio>>,
    /// What it is to the contact that switches it.
    pub kind: Given<LoadKind>,
    /// Continuous or intermittent, as drop allotments distinguish.
    pub duty: Given<Duty>,
    /// How long it draws in each period; what it draws in between is nothing. Without a period its peaks are as if they stayed.
    pub on_time: Option<Given<Second>>,
    /// From the beginning of one pulse to that of the next.
    pub period: Option<Given<Second>>,
    /// Least terminal voltage it works at.
    pub volts_min: Option<Given<Volt>>,
    /// Greatest terminal voltage it stands.
    pub volts_max: Option<Given<Volt>>,
    /// Voltage below which it lets go.
    pub drop_out: Option<Given<Volt>>,
    /// Voltage above which it comes back.
    pub return_above: Option<Given<Volt>>,
    /// Of a coil: voltage at which it has certainly pulled in.
    pub pull_in: Option<Given<Volt>>,
    /// Current that it draws at first when it is switched on.
    pub inrush: Option<Given<Ampere>>,
    /// How long it draws that.
    pub inrush_time: Option<Given<Second>>,
    /// Capacitance across its input.
    pub input_capacitance: Option<Given<Farad>>,
    /// How long it works on without its voltage.
    pub hold_up: Option<Given<Second>>,
    /// Greatest voltage it stands for a moment.
    pub volts_transient: Option<Given<Volt>>,
    /// What takes up its energy when it is switched off.
    pub suppressor: Option<Given<Suppressor>>,
    /// Drop allowed from the bus, where its own sheet states one; else the profile's.
    pub drop_allowed: Option<Given<Volt>>,
    /// The bus its drop is counted from; else the first bus on the way to the source.
    pub bus: Option<Given<Id<InnerNode>>>,
    /// Least time that it stays on once it was switched on.
    pub on_at_least: Option<Given<Second>>,
    /// Longest time that it may be off at a time, so that a plan may switch it on and off in turns.
    pub off_at_most: Option<Given<Second>>,
    /// Whether and when it comes on again after it was off.
    pub restart: Restart,
    /// Switches and protectors that command it: with any of them open it is commanded off.
    pub switched_by: Vec<Given<ElementId>>,
    /// Greatest current that leaves it off.
    pub off_current: Option<Given<Ampere>>,
    /// Commanded on unless a phase says otherwise.
    pub on: bool,
    /// Where the row stands.
    pub at: Span,
}

/// Whether and when a load comes on again after it was off.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Restart {
    /// Whether it does at all; `None` where nothing is stated.
    pub can: Option<Given<bool>>,
    /// Whether it does only when it is commanded to, and not by itself when its voltage is back.
    pub on_command: bool,
    /// Only where its surroundings are no colder.
    pub above: Option<Given<Kelvin>>,
    /// Only with this voltage at its terminals.
    pub volts: Option<Given<Volt>>,
}

/// The law a load follows above its drop-out voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Demand {
    /// Constant power.
    Power(Spread<Watt>),
    /// Constant current.
    Current(Spread<Ampere>),
    /// Resistance.
    Resistance(Spread<Ohm>),
}

/// What a load is to the contact that switches it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LoadKind {
    /// Draws no more at first and stores nothing.
    Resistive,
    /// A coil or valve: its energy burns the contact that opens it.
    Inductive,
    /// A filament: cold, it draws many times its current.
    Lamp,
    /// A motor: it draws its stall current at first.
    Motor,
}

impl LoadKind {
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            LoadKind::Resistive => "resistive",
            LoadKind::Inductive => "inductive",
            LoadKind::Lamp => "lamp",
            LoadKind::Motor => "motor",
        }
    }
}

/// What takes up a coil's energy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Suppressor {
    /// A diode across the coil.
    Diode,
    /// A zener diode, or a diode with one.
    Zener,
    /// A resistor across the coil.
    Resistor,
    /// Nothing: stated to have none.
    None,
}

/// How long a load draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Duty {
    /// Without end.
    Continuous,
    /// In short spells.
    Intermittent,
}

/// A sensor.
#[derive(Clone, Debug)]
pub struct Sensor {
    /// Id in the vehicle.
    pub name: Name,
    /// What it is made of.
    pub law: SensorLaw,
    /// Where its signal is read.
    pub receiver: Option<Given<Id<Receiver>>>,
    /// Reading, as a share of full scale.
    pub reading: Given<Ratio>,
    /// Error allowed in its wiring, as a share of span.
    pub allowance: Option<Given<Ratio>>,
    /// Where the row stands.
    pub at: Span,
}

/// What a sensor is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SensorLaw {
    /// A full bridge of four arms.
    Bridge {
        /// Excitation, positive.
        excitation_positive: Given<End>,
        /// Excitation, negative.
        excitation_negative: Given<End>,
        /// Signal, positive.
        signal_positive: Given<End>,
        /// Signal, negative.
        signal_negative: Given<End>,
        /// One arm, unstrained.
        arm: Given<Ohm>,
        /// Output at full scale per volt of excitation.
        sensitivity: Given<Ratio>,
        /// Excitation voltage that its calibration assumes.
        excitation: Given<Volt>,
    },
    /// A resistance that grows from zero to full scale.
    Resistance {
        /// One terminal.
        positive: Given<End>,
        /// The other terminal.
        negative: Given<End>,
        /// Resistance at zero.
        zero: Given<Ohm>,
        /// Resistance at full scale.
        full: Given<Ohm>,
        /// Excitation current that its calibration assumes.
        excitation: Given<Ampere>,
    },
    /// A voltage behind a resistance.
    Voltage {
        /// Positive terminal.
        positive: Given<End>,
        /// Negative terminal.
        negative: Given<End>,
        /// Voltage at full scale.
        full: Given<Volt>,
        /// Source resistance, above zero.
        ohms: Given<Ohm>,
    },
    /// A resistance thermometer. It is read between the ends that sense it: with three wires a second, equal current enters at
    /// `sense_negative` and both come back from `negative`, so that two like leads drop the same and cancel.
    Rtd {
        /// Where the current enters.
        positive: Given<End>,
        /// Where the current comes back.
        negative: Given<End>,
        /// Of four wires, the lead that senses beside `positive`.
        sense_positive: Option<Given<End>>,
        /// Of three or four wires, the lead beside `negative`.
        sense_negative: Option<Given<End>>,
        /// Resistance at 0 °C.
        r0: Given<Ohm>,
        /// Mean slope from 0 to 100 °C as a share of `r0`.
        alpha: Given<PerKelvin>,
        /// Temperature at zero.
        zero: Given<Kelvin>,
        /// Temperature at full scale.
        full: Given<Kelvin>,
        /// Excitation current that its calibration assumes.
        excitation: Given<Ampere>,
    },
    /// A thermocouple.
    Thermocouple {
        /// Terminal of the positive leg.
        positive: Given<End>,
        /// Terminal of the negative leg.
        negative: Given<End>,
        /// Which alloys.
        couple: Given<Couple>,
        /// Temperature of the hot junction at zero.
        zero: Given<Kelvin>,
        /// Temperature of the hot junction at full scale.
        full: Given<Kelvin>,
        /// Temperature of the cold junction.
        cold: Given<Kelvin>,
        /// Where the positive leg ends and copper may begin; without it, at the receiver.
        cold_positive: Option<Given<End>>,
        /// Where the negative leg ends.
        cold_negative: Option<Given<End>>,
        /// Resistance of the couple, above zero.
        ohms: Given<Ohm>,
    },
    /// A potentiometer; the reading is the wiper's place from `negative`.
    Potentiometer {
        /// End of the track that is excited.
        positive: Given<End>,
        /// Other end of the track.
        negative: Given<End>,
        /// The wiper.
        wiper: Given<End>,
        /// The whole track.
        track: Given<Ohm>,
        /// Voltage over the track that its calibration assumes.
        excitation: Given<Volt>,
    },
    /// A transmitter of 4 to 20 mA on the two wires that feed it.
    CurrentLoop {
        /// Where the current enters.
        positive: Given<End>,
        /// Where it leaves.
        negative: Given<End>,
        /// Least voltage it works at.
        volts_min: Option<Given<Volt>>,
        /// Burden that the receiver's calibration assumes.
        burden: Given<Ohm>,
    },
}

/// Current of a loop at zero.
pub const LOOP_ZERO: Ampere = Ampere(4e-3);
/// Current of a loop at full scale less that at zero.
pub const LOOP_SPAN: Ampere = Ampere(16e-3);

impl SensorLaw {
    /// Ideal output at full scale less that at zero.
    pub fn span(&self) -> Volt {
        match self {
            SensorLaw::Bridge { sensitivity, excitation, .. } => excitation.value * sensitivity.value.0,
            SensorLaw::Resistance { zero, full, excitation, .. } => excitation.value * (full.value - zero.value),
            SensorLaw::Voltage { full, .. } => full.value,
            SensorLaw::Rtd { r0, alpha, zero, full, excitation, .. } => {
                excitation.value * (r0.value * (alpha.value * (full.value - zero.value)))
            }
            SensorLaw::Thermocouple { couple, zero, full, .. } => couple.value.emf(full.value, zero.value),
            SensorLaw::Potentiometer { excitation, .. } => excitation.value,
            SensorLaw::CurrentLoop { burden, .. } => LOOP_SPAN * burden.value,
        }
    }

    /// Ideal output at a reading.
    pub fn ideal(&self, reading: f64) -> Volt {
        match self {
            SensorLaw::Bridge { .. } | SensorLaw::Voltage { .. } | SensorLaw::Potentiometer { .. } => self.span() * reading,
            SensorLaw::Resistance { zero, full, excitation, .. } => excitation.value * (zero.value + (full.value - zero.value) * reading),
            SensorLaw::Rtd { r0, alpha, excitation, .. } => {
                excitation.value * rtd_ohms(r0.value, alpha.value, self.temperature(reading).unwrap_or(ICE_POINT))
            }
            SensorLaw::Thermocouple { couple, cold, .. } => {
                self.temperature(reading).map_or(Volt(0.0), |hot| couple.value.emf(hot, cold.value))
            }
            SensorLaw::CurrentLoop { burden, .. } => (LOOP_ZERO + LOOP_SPAN * reading) * burden.value,
        }
    }

    /// Temperature at a reading, of a sensor that reads one.
    pub fn temperature(&self, reading: f64) -> Option<Kelvin> {
        match self {
            SensorLaw::Rtd { zero, full, .. } | SensorLaw::Thermocouple { zero, full, .. } => {
                Some(zero.value + (full.value - zero.value) * reading)
            }
            _ => None,
        }
    }

    /// Volts of output per kelvin, of a sensor that reads a temperature.
    pub fn volts_per_kelvin(&self) -> Option<f64> {
        match self {
            SensorLaw::Rtd { r0, alpha, excitation, .. } => Some((excitation.value * r0.value).0 * alpha.value.0),
            SensorLaw::Thermocouple { couple, .. } => Some(couple.value.volts_per_kelvin()),
            _ => None,
        }
    }

    /// The two ends between which it is read; `None` where its current is what is read.
    pub fn signal(&self) -> Option<(Given<End>, Given<End>)> {
        match *self {
            SensorLaw::Bridge { signal_positive, signal_negative, .. } => Some((signal_positive, signal_negative)),
            SensorLaw::Resistance { positive, negative, .. }
            | SensorLaw::Voltage { positive, negative, .. }
            | SensorLaw::Thermocouple { positive, negative, .. } => Some((positive, negative)),
            SensorLaw::Rtd { positive, negative, sense_positive, sense_negative, .. } => {
                Some((sense_positive.unwrap_or(positive), sense_negative.unwrap_or(negative)))
            }
            SensorLaw::Potentiometer { wiper, negative, .. } => Some((wiper, negative)),
            SensorLaw::CurrentLoop { .. } => None,
        }
    }

    /// Its terminals with the words of their keys.
    pub fn terminals(&self) -> Vec<(&'static str, Given<End>)> {
        match *self {
            SensorLaw::Bridge { excitation_positive, excitation_negative, signal_positive, signal_negative, .. } => vec![
                ("excitation positive", excitation_positive),
                ("excitation negative", excitation_negative),
                ("signal positive", signal_positive),
                ("signal negative", signal_negative),
            ],
            SensorLaw::Rtd { positive, negative, sense_positive, sense_negative, .. } => {
                let sense = [("sense positive", sense_positive), ("sense negative", sense_negative)];
                let sense = sense.into_iter().filter_map(|(word, end)| Some((word, end?)));
                [("positive", positive), ("negative", negative)].into_iter().chain(sense).collect()
            }
            SensorLaw::Potentiometer { positive, negative, wiper, .. } => {
                vec![("positive", positive), ("negative", negative), ("wiper", wiper)]
            }
            SensorLaw::Resistance { positive, negative, .. }
            | SensorLaw::Voltage { positive, negative, .. }
            | SensorLaw::Thermocouple { positive, negative, .. }
            | SensorLaw::CurrentLoop { positive, negative, .. } => vec![("positive", positive), ("negative", negative)],
        }
    }
}

/// The input that reads a sensor.
#[derive(Clone, Debug)]
pub struct Receiver {
    /// Id in the vehicle.
    pub name: Name,
    /// Positive input.
    pub positive: Given<End>,
    /// Negative input.
    pub negative: Given<End>,
    /// Resistance between the inputs.
    pub ohms: Given<Ohm>,
    /// What its common-mode voltage is counted from.
    pub reference: Option<Given<End>>,
    /// Least common-mode voltage it reads right at.
    pub common_low: Option<Given<Volt>>,
    /// Greatest common-mode voltage it reads right at.
    pub common_high: Option<Given<Volt>>,
    /// Where the row stands.
    pub at: Span,
}

/// A constant current that leaves at `positive` and comes back at `negative`.
#[derive(Clone, Debug)]
pub struct Excitation {
    /// Id in the vehicle.
    pub name: Name,
    /// Where it leaves.
    pub positive: Given<End>,
    /// Where it comes back.
    pub negative: Given<End>,
    /// How much.
    pub current: Given<Ampere>,
    /// Where the row stands.
    pub at: Span,
}
