//! Numbers with their units, as people write them: `4.5 A`, `20 AWG`, `55 degC`, `12 ft`, `3.2 mohm`, `85 %`.

use physics::gauge::Awg;

/// What a number measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Volts.
    Voltage,
    /// Amperes.
    Current,
    /// Ohms.
    Resistance,
    /// Watts.
    Power,
    /// Metres.
    Length,
    /// Kelvin; degrees Celsius and Fahrenheit are shifted.
    Temperature,
    /// A share, 1 = all.
    Share,
    /// Seconds.
    Duration,
    /// American wire gauge: the number itself, 0, −1, −2, −3 for 1/0 to 4/0.
    Gauge,
    /// Volt of signal per volt of excitation.
    Sensitivity,
    /// Share per kelvin.
    TemperatureCoefficient,
    /// Square metres.
    Area,
    /// Ohms per metre.
    ResistancePerLength,
    /// Kilograms per metre.
    MassPerLength,
    /// Newtons.
    Force,
    /// Kelvin, of a difference.
    TemperatureRise,
    /// Kilograms.
    Mass,
    /// Pascal, absolute.
    Pressure,
    /// Metres per second.
    Speed,
    /// Watts per square metre.
    HeatFlux,
    /// Watts per metre and kelvin: of a material, or of a length of harness.
    Conductivity,
    /// Farads.
    Capacitance,
    /// Henries per metre.
    InductancePerLength,
    /// Joules per kilogram and kelvin.
    SpecificHeat,
    /// Coulombs.
    Charge,
}

/// A unit: SI = (number − `zero`) × `times` ÷ `over`. Two factors, because 3.2/1000 is the double nearest to 0.0032 and 3.2 × 0.001 is not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// Its usual spelling.
    pub word: &'static str,
    /// Other spellings that are read.
    pub others: &'static [&'static str],
    times: f64,
    over: f64,
    zero: f64,
    /// Whether numbers are shown in it.
    shown: bool,
}

const fn unit(word: &'static str, others: &'static [&'static str], times: f64, over: f64) -> Unit {
    Unit { word, others, times, over, zero: 0.0, shown: true }
}
const fn read_only(word: &'static str, others: &'static [&'static str], times: f64, over: f64) -> Unit {
    Unit { word, others, times, over, zero: 0.0, shown: false }
}

impl Unit {
    /// A number in this unit, in SI.
    pub fn to_si(&self, number: f64) -> f64 {
        (number - self.zero) * self.times / self.over
    }
    /// A value in SI, in this unit.
    pub fn from_si(&self, si: f64) -> f64 {
        si * self.over / self.times + self.zero
    }
    /// How the unit ends a column head: `length_m`, `gauge_awg`, `max_ohm_per_kft`.
    pub fn head_suffix(&self) -> String {
        match self.word {
            "%" => "percent".to_owned(),
            word => word.replace('/', "_per_").to_lowercase(),
        }
    }
}

impl Quantity {
    /// All of them.
    pub const ALL: [Quantity; 25] = [
        Quantity::Voltage,
        Quantity::Current,
        Quantity::Resistance,
        Quantity::Power,
        Quantity::Length,
        Quantity::Temperature,
        Quantity::Share,
        Quantity::Duration,
        Quantity::Gauge,
        Quantity::Sensitivity,
        Quantity::TemperatureCoefficient,
        Quantity::Area,
        Quantity::ResistancePerLength,
        Quantity::MassPerLength,
        Quantity::Force,
        Quantity::TemperatureRise,
        Quantity::Mass,
        Quantity::Pressure,
        Quantity::Speed,
        Quantity::HeatFlux,
        Quantity::Conductivity,
        Quantity::Capacitance,
        Quantity::InductancePerLength,
        Quantity::SpecificHeat,
        Quantity::Charge,
    ];

    /// Its units, smallest first where that matters for showing.
    pub fn units(self) -> &'static [Unit] {
        const VOLTAGE: &[Unit] = &[
            unit("uV", &["µV", "μV"], 1.0, 1e6),
            unit("mV", &[], 1.0, 1e3),
            unit("V", &["Vdc", "volt", "volts"], 1.0, 1.0),
            unit("kV", &[], 1e3, 1.0),
        ];
        const CURRENT: &[Unit] = &[
            unit("uA", &["µA", "μA"], 1.0, 1e6),
            unit("mA", &[], 1.0, 1e3),
            unit("A", &["amp", "amps"], 1.0, 1.0),
            unit("kA", &[], 1e3, 1.0),
        ];
        const RESISTANCE: &[Unit] = &[
            unit("uohm", &["µohm", "μohm", "µΩ", "μΩ"], 1.0, 1e6),
            unit("mohm", &["mΩ", "m\u{2126}"], 1.0, 1e3),
            unit("ohm", &["Ω", "\u{2126}", "ohms"], 1.0, 1.0),
            unit("kohm", &["kΩ", "k\u{2126}"], 1e3, 1.0),
            unit("Mohm", &["MΩ", "M\u{2126}", "megohm"], 1e6, 1.0),
        ];
        const POWER: &[Unit] = &[unit("mW", &[], 1.0, 1e3), unit("W", &["watt", "watts"], 1.0, 1.0), unit("kW", &[], 1e3, 1.0)];
        const LENGTH: &[Unit] = &[
            read_only("um", &["µm", "μm"], 1.0, 1e6),
            unit("mm", &[], 1.0, 1e3),
            read_only("cm", &[], 1.0, 1e2),
            unit("m", &[], 1.0, 1.0),
            unit("km", &[], 1e3, 1.0),
            read_only("mil", &[], 254.0, 1e7),
            read_only("in", &["inch"], 254.0, 1e4),
            read_only("ft", &["feet"], 3048.0, 1e4),
        ];
        const TEMPERATURE: &[Unit] = &[
            Unit { word: "degC", others: &["°C"], times: 1.0, over: 1.0, zero: -273.15, shown: true },
            read_only("K", &[], 1.0, 1.0),
            Unit { word: "degF", others: &["°F"], times: 5.0, over: 9.0, zero: -459.67, shown: false },
        ];
        const SHARE: &[Unit] = &[unit("%", &["percent"], 1.0, 1e2)];
        const DURATION: &[Unit] = &[
            read_only("ms", &[], 1.0, 1e3),
            unit("s", &["sec"], 1.0, 1.0),
            unit("min", &[], 60.0, 1.0),
            unit("h", &["hr"], 3600.0, 1.0),
            unit("d", &["day", "days"], 86400.0, 1.0),
        ];
        const GAUGE: &[Unit] = &[unit("AWG", &["awg"], 1.0, 1.0)];
        const SENSITIVITY: &[Unit] =
            &[read_only("uV/V", &["µV/V", "μV/V"], 1.0, 1e6), unit("mV/V", &[], 1.0, 1e3), read_only("V/V", &[], 1.0, 1.0)];
        const TEMPERATURE_COEFFICIENT: &[Unit] =
            &[read_only("ppm/K", &[], 1.0, 1e6), unit("%/K", &[], 1.0, 1e2), read_only("1/K", &["/K"], 1.0, 1.0)];
        const AREA: &[Unit] = &[
            unit("mm2", &["mm²"], 1.0, 1e6),
            Unit { word: "cmil", others: &[], times: physics::gauge::CIRCULAR_MIL.0, over: 1.0, zero: 0.0, shown: false },
        ];
        const RESISTANCE_PER_LENGTH: &[Unit] = &[
            unit("mohm/m", &["mΩ/m"], 1.0, 1e3),
            read_only("ohm/m", &["Ω/m"], 1.0, 1.0),
            read_only("ohm/km", &["Ω/km"], 1.0, 1e3),
            read_only("ohm/kft", &["Ω/kft"], 1.0, 304.8),
        ];
        const MASS_PER_LENGTH: &[Unit] =
            &[unit("g/m", &["kg/km"], 1.0, 1e3), read_only("kg/m", &[], 1.0, 1.0), read_only("lb/kft", &[], 0.45359237, 304.8)];
        const FORCE: &[Unit] = &[
            unit("N", &["newton", "newtons"], 1.0, 1.0),
            Unit { word: "lbf", others: &[], times: 0.45359237 * 9.80665, over: 1.0, zero: 0.0, shown: false },
        ];
        const TEMPERATURE_RISE: &[Unit] = &[unit("K", &[], 1.0, 1.0)];
        const MASS: &[Unit] = &[
            read_only("mg", &[], 1.0, 1e6),
            unit("g", &["gram", "grams"], 1.0, 1e3),
            unit("kg", &[], 1.0, 1.0),
            read_only("oz", &[], 0.45359237, 16.0),
            read_only("lb", &[], 0.45359237, 1.0),
        ];
        const PRESSURE: &[Unit] = &[
            unit("Pa", &[], 1.0, 1.0),
            read_only("hPa", &["mbar"], 1e2, 1.0),
            unit("kPa", &[], 1e3, 1.0),
            read_only("bar", &[], 1e5, 1.0),
            read_only("torr", &["mmHg"], 101325.0, 760.0),
            Unit { word: "psi", others: &[], times: 0.45359237 * 9.80665, over: 0.0254 * 0.0254, zero: 0.0, shown: false },
        ];
        const SPEED: &[Unit] = &[unit("m/s", &[], 1.0, 1.0), read_only("ft/min", &[], 0.3048, 60.0), read_only("ft/s", &[], 0.3048, 1.0)];
        const HEAT_FLUX: &[Unit] = &[unit("W/m2", &["W/m²"], 1.0, 1.0)];
        const CONDUCTIVITY: &[Unit] = &[read_only("mW/m/K", &["mW/(m K)"], 1.0, 1e3), unit("W/m/K", &["W/(m K)"], 1.0, 1.0)];
        const SPECIFIC_HEAT: &[Unit] = &[unit("J/kg/K", &["J/(kg K)"], 1.0, 1.0), read_only("kJ/kg/K", &["kJ/(kg K)", "J/g/K"], 1e3, 1.0)];
        const CAPACITANCE: &[Unit] = &[
            read_only("pF", &[], 1.0, 1e12),
            unit("nF", &[], 1.0, 1e9),
            unit("uF", &["µF", "μF"], 1.0, 1e6),
            unit("mF", &[], 1.0, 1e3),
            unit("F", &["farad", "farads"], 1.0, 1.0),
        ];
        const INDUCTANCE_PER_LENGTH: &[Unit] =
            &[unit("nH/m", &[], 1.0, 1e9), unit("uH/m", &["µH/m", "μH/m"], 1.0, 1e6), read_only("H/m", &[], 1.0, 1.0)];
        const CHARGE: &[Unit] = &[unit("mAh", &["mA h"], 3.6, 1.0), unit("Ah", &["A h"], 3600.0, 1.0), read_only("C", &[], 1.0, 1.0)];
        match self {
            Quantity::Voltage => VOLTAGE,
            Quantity::Current => CURRENT,
            Quantity::Resistance => RESISTANCE,
            Quantity::Power => POWER,
            Quantity::Length => LENGTH,
            Quantity::Temperature => TEMPERATURE,
            Quantity::Share => SHARE,
            Quantity::Duration => DURATION,
            Quantity::Gauge => GAUGE,
            Quantity::Sensitivity => SENSITIVITY,
            Quantity::TemperatureCoefficient => TEMPERATURE_COEFFICIENT,
            Quantity::Area => AREA,
            Quantity::ResistancePerLength => RESISTANCE_PER_LENGTH,
            Quantity::MassPerLength => MASS_PER_LENGTH,
            Quantity::Force => FORCE,
            Quantity::TemperatureRise => TEMPERATURE_RISE,
            Quantity::Mass => MASS,
            Quantity::Pressure => PRESSURE,
            Quantity::Speed => SPEED,
            Quantity::HeatFlux => HEAT_FLUX,
            Quantity::Conductivity => CONDUCTIVITY,
            Quantity::Capacitance => CAPACITANCE,
            Quantity::InductancePerLength => INDUCTANCE_PER_LENGTH,
            Quantity::SpecificHeat => SPECIFIC_HEAT,
            Quantity::Charge => CHARGE,
        }
    }

    /// What it is called: `a voltage`.
    pub fn title(self) -> &'static str {
        match self {
            Quantity::Voltage => "a voltage",
            Quantity::Current => "a current",
            Quantity::Resistance => "a resistance",
            Quantity::Power => "a power",
            Quantity::Length => "a length",
            Quantity::Temperature => "a temperature",
            Quantity::Share => "a percentage",
            Quantity::Duration => "a duration",
            Quantity::Gauge => "a gauge",
            Quantity::Sensitivity => "a sensitivity",
            Quantity::TemperatureCoefficient => "a temperature coefficient",
            Quantity::Area => "an area",
            Quantity::ResistancePerLength => "a resistance per length",
            Quantity::MassPerLength => "a mass per length",
            Quantity::Force => "a force",
            Quantity::TemperatureRise => "a difference of temperatures",
            Quantity::Mass => "a mass",
            Quantity::Pressure => "a pressure",
            Quantity::Speed => "a speed",
            Quantity::HeatFlux => "a power per area",
            Quantity::Conductivity => "a heat conductance per length",
            Quantity::Capacitance => "a capacitance",
            Quantity::InductancePerLength => "an inductance per length",
            Quantity::SpecificHeat => "a specific heat",
            Quantity::Charge => "a charge",
        }
    }

    /// The unit named first in help.
    pub fn usual_unit(self) -> &'static Unit {
        let word = match self {
            Quantity::Voltage => "V",
            Quantity::Current => "A",
            Quantity::Resistance => "ohm",
            Quantity::Power => "W",
            Quantity::Length => "m",
            Quantity::Temperature => "degC",
            Quantity::Share => "%",
            Quantity::Duration => "s",
            Quantity::Gauge => "AWG",
            Quantity::Sensitivity => "mV/V",
            Quantity::TemperatureCoefficient => "%/K",
            Quantity::Area => "mm2",
            Quantity::ResistancePerLength => "mohm/m",
            Quantity::MassPerLength => "g/m",
            Quantity::Force => "N",
            Quantity::TemperatureRise => "K",
            Quantity::Mass => "g",
            Quantity::Pressure => "Pa",
            Quantity::Speed => "m/s",
            Quantity::HeatFlux => "W/m2",
            Quantity::Conductivity => "W/m/K",
            Quantity::Capacitance => "uF",
            Quantity::InductancePerLength => "uH/m",
            Quantity::SpecificHeat => "J/kg/K",
            Quantity::Charge => "Ah",
        };
        self.unit(word).expect("the usual unit of every quantity is in its list")
    }

    /// The unit of a spelling.
    pub fn unit(self, word: &str) -> Option<&'static Unit> {
        self.units().iter().find(|u| u.word == word || u.others.contains(&word))
    }

    /// The unit that a column head ends in.
    pub fn unit_of_head(self, suffix: &str) -> Option<&'static Unit> {
        let suffix = suffix.to_lowercase();
        self.units().iter().find(|u| u.head_suffix() == suffix)
    }

    /// The spellings of its units, for help: `uV, mV, V, kV`.
    pub fn unit_words(self) -> String {
        self.units().iter().map(|u| u.word).collect::<Vec<_>>().join(", ")
    }
}

/// Why a text is not a number with a unit.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// No number at its start.
    NoNumber,
    /// A number, but no unit.
    NoUnit,
    /// A comma inside the number.
    Comma,
    /// The unit stands before the number.
    UnitFirst,
    /// The unit belongs to another quantity.
    OtherQuantity(Quantity, String),
    /// Nobody's unit.
    UnknownUnit(String),
    /// The gauge is not one of 4/0 to 40.
    NoSuchGauge,
    /// The number is beyond what can be held.
    NotFinite,
}

/// Reads a number with a unit of one quantity; the result is in SI.
///
/// # Errors
/// What is wrong with the text.
pub fn parse(text: &str, quantity: Quantity) -> Result<f64, Fault> {
    let text = text.trim();
    let (number, word) = split(text);
    let word = word.trim();
    if number.is_empty() {
        let unit_first = text.split(char::is_whitespace).next().is_some_and(|first| quantity.unit(first).is_some());
        return Err(if unit_first && text.contains(char::is_whitespace) { Fault::UnitFirst } else { Fault::NoNumber });
    }
    if word.starts_with(',') {
        return Err(Fault::Comma);
    }
    if word.is_empty() {
        return Err(Fault::NoUnit);
    }
    if quantity == Quantity::Gauge {
        // A gauge may hold a slash: `1/0 AWG`.
        let Some(number) = text.strip_suffix("AWG").or_else(|| text.strip_suffix("awg")) else {
            return Err(wrong_unit(word, quantity));
        };
        return parse_plain(number, quantity, quantity.usual_unit());
    }
    match quantity.unit(word) {
        Some(unit) => finite(number).map(|n| unit.to_si(n)),
        None => Err(wrong_unit(word, quantity)),
    }
}

/// Reads a plain number in a unit that a column head has stated; the result is in SI.
///
/// # Errors
/// What is wrong with the text.
pub fn parse_plain(text: &str, quantity: Quantity, unit: &Unit) -> Result<f64, Fault> {
    let text = text.trim();
    if quantity == Quantity::Gauge {
        return match Awg::parse(text) {
            Some(Awg(gauge)) => Ok(f64::from(gauge)),
            None if text.is_empty() => Err(Fault::NoNumber),
            None => Err(Fault::NoSuchGauge),
        };
    }
    match split(text) {
        ("", _) => Err(Fault::NoNumber),
        (number, "") => finite(number).map(|n| unit.to_si(n)),
        (_, rest) if rest.trim().starts_with(',') => Err(Fault::Comma),
        (_, rest) => Err(wrong_unit(rest.trim(), quantity)),
    }
}

/// Reads a number with any known unit: what it measures, and its value in SI.
///
/// # Errors
/// What is wrong with the text.
pub fn parse_any(text: &str) -> Result<(Quantity, f64), Fault> {
    let (number, word) = split(text.trim());
    let word = word.trim();
    let quantity = Quantity::ALL.into_iter().find(|q| q.unit(word).is_some());
    match quantity {
        Some(quantity) => parse(text, quantity).map(|si| (quantity, si)),
        None if number.is_empty() => Err(Fault::NoNumber),
        None if word.is_empty() => Err(Fault::NoUnit),
        None if word.starts_with(',') => Err(Fault::Comma),
        None if word.ends_with("AWG") => parse(text, Quantity::Gauge).map(|si| (Quantity::Gauge, si)),
        None => Err(Fault::UnknownUnit(word.to_owned())),
    }
}

/// What is wrong, and what to write, in words: for the reader's messages and for arguments of the command line.
pub fn explain(fault: &Fault, text: &str, quantity: Quantity) -> (String, String) {
    let text = text.trim();
    let usual = quantity.usual_unit().word;
    let example = example(quantity);
    match fault {
        Fault::NoNumber => (format!("{text:?} is not {}", quantity.title()), format!("write for example {example:?}")),
        Fault::NoUnit => (
            format!("the number {text} has no unit"),
            format!("write its unit, for example \"{text} {usual}\" (units: {})", quantity.unit_words()),
        ),
        Fault::Comma => {
            (format!("{text:?} has a comma in its number"), "write a point before decimals and no separator of thousands".to_owned())
        }
        Fault::UnitFirst => {
            (format!("{text:?} has its unit before the number"), format!("write the number first, for example {example:?}"))
        }
        Fault::OtherQuantity(other, word) => (
            format!(
                "{word:?} is a unit of {}; {} is expected here",
                other.title().trim_start_matches("a ").trim_start_matches("an "),
                quantity.title()
            ),
            format!("units of {}: {}", quantity.title().trim_start_matches("a "), quantity.unit_words()),
        ),
        Fault::UnknownUnit(word) => (
            format!("unknown unit {word:?}; {} is expected here", quantity.title()),
            format!("units of {}: {}", quantity.title().trim_start_matches("a "), quantity.unit_words()),
        ),
        Fault::NoSuchGauge => (format!("{text:?} is not a gauge"), "gauges run from 4/0, 3/0, 2/0, 1/0, 1 to 40".to_owned()),
        Fault::NotFinite => (format!("{text:?} is too large a number"), format!("write for example {example:?}")),
    }
}

/// What was certainly meant, as it is written; `plain` is the unit that a column head has stated.
///
/// A unit in another case is taken only where no other unit is spelled alike, and never where `m` and `M` differ: milli is not mega.
pub fn mended(fault: &Fault, text: &str, quantity: Quantity, plain: Option<&Unit>) -> Option<String> {
    let text = text.trim();
    match fault {
        Fault::UnknownUnit(word) => {
            let (number, _) = split(text);
            if let Some(unit) = plain {
                return (quantity.unit(word) == Some(unit)).then(|| number.to_owned());
            }
            let alike = |u: &&Unit| u.word.eq_ignore_ascii_case(word);
            let mut found = quantity.units().iter().filter(alike);
            let unit = found.next()?;
            let first = |word: &str| word.chars().next().filter(|c| matches!(c, 'm' | 'M'));
            (found.next().is_none() && first(unit.word) == first(word)).then(|| format!("{number} {}", unit.word))
        }
        Fault::UnitFirst => {
            let (word, number) = text.split_once(char::is_whitespace)?;
            Some(format!("{} {word}", number.trim()))
        }
        // A minus sign or a dash of the typesetter's.
        Fault::NoNumber => {
            let mut chars = text.chars();
            let rest =
                chars.next().filter(|c| "\u{2212}\u{2010}\u{2011}\u{2012}\u{2013}".contains(*c)).map(|_| chars.as_str().trim_start())?;
            rest.starts_with(|c: char| c.is_ascii_digit()).then(|| format!("-{rest}"))
        }
        _ => None,
    }
}

/// An example of a quantity as people write it.
pub fn example(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Voltage => "28 V",
        Quantity::Current => "4.5 A",
        Quantity::Resistance => "50 mohm",
        Quantity::Power => "60 W",
        Quantity::Length => "1.2 m",
        Quantity::Temperature => "55 degC",
        Quantity::Share => "85 %",
        Quantity::Duration => "90 min",
        Quantity::Gauge => "20 AWG",
        Quantity::Sensitivity => "2 mV/V",
        Quantity::TemperatureCoefficient => "0.385 %/K",
        Quantity::Area => "0.62 mm2",
        Quantity::ResistancePerLength => "32 mohm/m",
        Quantity::MassPerLength => "6.5 g/m",
        Quantity::Force => "20 N",
        Quantity::TemperatureRise => "50 K",
        Quantity::Mass => "35 g",
        Quantity::Pressure => "101.3 kPa",
        Quantity::Speed => "0.3 m/s",
        Quantity::HeatFlux => "1400 W/m2",
        Quantity::Conductivity => "0.24 W/m/K",
        Quantity::Capacitance => "470 uF",
        Quantity::InductancePerLength => "1 uH/m",
        Quantity::SpecificHeat => "1000 J/kg/K",
        Quantity::Charge => "120 Ah",
    }
}

/// A value in SI as text with a unit that suits its size, to four digits.
pub fn show(si: f64, quantity: Quantity) -> String {
    if quantity == Quantity::Gauge {
        return format!("{} AWG", Awg(si.round().clamp(-3.0, 40.0) as i8));
    }
    let mut shown = quantity.units().iter().filter(|u| u.shown);
    let first = shown.next().unwrap_or(quantity.usual_unit());
    let unit = if si == 0.0 || quantity == Quantity::Temperature {
        quantity.usual_unit()
    } else {
        shown.rfind(|u| u.from_si(si).abs() >= 1.0).unwrap_or(first)
    };
    let number = unit.from_si(si);
    // Absolute zero, −273.15 degC, has more digits than four.
    let text = if quantity == Quantity::Temperature { digits_to(number, 2) } else { digits(number) };
    format!("{text} {}", unit.word)
}

/// Four significant digits without trailing zeros.
fn digits(number: f64) -> String {
    if number == 0.0 || !number.is_finite() {
        return "0".to_owned();
    }
    let places = (3 - number.abs().log10().floor() as i32).clamp(0, 12) as usize;
    digits_to(number, places)
}

fn digits_to(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn finite(number: &str) -> Result<f64, Fault> {
    match number.parse::<f64>() {
        Ok(n) if n.is_finite() => Ok(n),
        Ok(_) => Err(Fault::NotFinite),
        Err(_) => Err(Fault::NoNumber),
    }
}

fn wrong_unit(word: &str, expected: Quantity) -> Fault {
    let other = Quantity::ALL.into_iter().find(|q| *q != expected && q.unit(word).is_some());
    match other {
        Some(other) => Fault::OtherQuantity(other, word.to_owned()),
        None => Fault::UnknownUnit(word.to_owned()),
    }
}

/// Splits a text after its leading number; an `e` belongs to the number only if digits follow it.
fn split(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let digits = |from: usize| bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let whole = digits(end);
    end += whole;
    let mut part = 0;
    if bytes.get(end) == Some(&b'.') {
        part = digits(end + 1);
        if whole + part > 0 {
            end += 1 + part;
        }
    }
    if whole + part == 0 {
        return ("", text);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits((end + 1 + sign).min(bytes.len()));
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    text.split_at(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_with_units() {
        for (text, quantity, si) in [
            ("4.5 A", Quantity::Current, 4.5),
            ("3.2 mohm", Quantity::Resistance, 0.0032),
            ("3.2mΩ", Quantity::Resistance, 0.0032),
            ("2ohm", Quantity::Resistance, 2.0),
            ("12 ft", Quantity::Length, 3.6576),
            ("85 %", Quantity::Share, 0.85),
            ("20 AWG", Quantity::Gauge, 20.0),
            ("20AWG", Quantity::Gauge, 20.0),
            ("4/0 AWG", Quantity::Gauge, -3.0),
            ("2 mV/V", Quantity::Sensitivity, 0.002),
            ("0.385 %/K", Quantity::TemperatureCoefficient, 0.00385),
            ("0.00385 1/K", Quantity::TemperatureCoefficient, 0.00385),
            ("1.5e3 V", Quantity::Voltage, 1500.0),
            ("-40 degC", Quantity::Temperature, 233.15),
            ("90 min", Quantity::Duration, 5400.0),
            ("1000 ohm/kft", Quantity::ResistancePerLength, 1000.0 / 304.8),
            ("1 bar", Quantity::Pressure, 1e5),
            ("760 torr", Quantity::Pressure, 101325.0),
            ("60 ft/min", Quantity::Speed, 0.3048),
            ("1367 W/m2", Quantity::HeatFlux, 1367.0),
            ("20 mW/m/K", Quantity::Conductivity, 0.02),
            ("470 µF", Quantity::Capacitance, 470e-6),
            ("2.2mF", Quantity::Capacitance, 2.2e-3),
            ("1 uH/m", Quantity::InductancePerLength, 1e-6),
            ("1.95 kJ/kg/K", Quantity::SpecificHeat, 1950.0),
            ("120 Ah", Quantity::Charge, 432_000.0),
            ("2300mAh", Quantity::Charge, 8280.0),
        ] {
            let read = parse(text, quantity).expect(text);
            assert!((read - si).abs() <= 1e-14 * si.abs(), "{text}: {read}");
            assert_eq!(parse_any(text), Ok((quantity, read)), "{text}");
        }
        // A decimal with a prefix is the double nearest to its value, so that 3.2 mohm and 0.0032 ohm are the same number.
        assert_eq!(parse("3.2 mohm", Quantity::Resistance), parse("0.0032 ohm", Quantity::Resistance));
        assert_eq!(parse("12 ft", Quantity::Length), Ok(3.6576));
        // 32 °F is the freezing point.
        assert!((parse("32 degF", Quantity::Temperature).expect("a temperature") - 273.15).abs() < 1e-9);
    }

    #[test]
    fn faults_are_told_apart() {
        for (text, quantity, fault) in [
            ("", Quantity::Current, Fault::NoNumber),
            ("V", Quantity::Voltage, Fault::NoNumber),
            ("4.5", Quantity::Current, Fault::NoUnit),
            ("4,5 A", Quantity::Current, Fault::Comma),
            ("AWG 20", Quantity::Gauge, Fault::UnitFirst),
            ("41 AWG", Quantity::Gauge, Fault::NoSuchGauge),
            ("3 V", Quantity::Current, Fault::OtherQuantity(Quantity::Voltage, "V".to_owned())),
            ("3 furlong", Quantity::Length, Fault::UnknownUnit("furlong".to_owned())),
            ("1e999 V", Quantity::Voltage, Fault::NotFinite),
            (". V", Quantity::Voltage, Fault::NoNumber),
            ("nan V", Quantity::Voltage, Fault::NoNumber),
            ("inf V", Quantity::Voltage, Fault::NoNumber),
        ] {
            assert_eq!(parse(text, quantity), Err(fault), "{text}");
        }
    }

    /// What is offered in place of a text, and where nothing may be: milli is not mega, and a comma may mean either thing.
    #[test]
    fn only_what_was_certainly_meant_is_offered() {
        let offered = |text: &str, quantity, plain: Option<&Unit>| {
            let read = if let Some(unit) = plain { parse_plain(text, quantity, unit) } else { parse(text, quantity) };
            mended(&read.expect_err(text), text, quantity, plain)
        };
        for (text, quantity, mended) in [
            ("3 w", Quantity::Power, Some("3 W")),
            ("2.5 KOHM", Quantity::Resistance, Some("2.5 kohm")),
            ("20 Awg", Quantity::Gauge, Some("20 AWG")),
            ("AWG 20", Quantity::Gauge, Some("20 AWG")),
            ("\u{2212}5 V", Quantity::Voltage, Some("-5 V")),
            ("\u{2013} 5 V", Quantity::Voltage, Some("-5 V")),
            ("1 MV", Quantity::Voltage, None),
            ("1 MA", Quantity::Current, None),
            ("1 MOHM", Quantity::Resistance, None),
            ("4,5 A", Quantity::Current, None),
            ("4.5", Quantity::Current, None),
            ("3 V", Quantity::Current, None),
            ("\u{2013}", Quantity::Current, None),
        ] {
            assert_eq!(offered(text, quantity, None).as_deref(), mended, "{text}");
        }
        let metre = Quantity::Length.usual_unit();
        assert_eq!(offered("3.2 m", Quantity::Length, Some(metre)).as_deref(), Some("3.2"));
        assert_eq!(offered("3.2 ft", Quantity::Length, Some(metre)), None);
    }

    /// Every unit's words are read back, and no spelling belongs to two quantities but kelvin: alone it is taken for a temperature.
    #[test]
    fn units_are_read_back() {
        for quantity in Quantity::ALL {
            for unit in quantity.units() {
                for word in [&unit.word].into_iter().chain(unit.others) {
                    let alone = if quantity == Quantity::TemperatureRise { Quantity::Temperature } else { quantity };
                    assert_eq!(parse_any(&format!("7 {word}")).map(|(q, _)| q), Ok(alone), "{word}");
                    assert!(parse(&format!("7 {word}"), quantity).is_ok(), "{word}");
                }
                assert_eq!(quantity.unit_of_head(&unit.head_suffix()).map(Unit::head_suffix), Some(unit.head_suffix()));
            }
        }
    }

    #[test]
    fn shown_in_a_unit_of_its_size() {
        assert_eq!(show(0.0066667, Quantity::Resistance), "6.667 mohm");
        assert_eq!(show(0.005, Quantity::Resistance), "5 mohm");
        assert_eq!(show(1e7, Quantity::Resistance), "10 Mohm");
        assert_eq!(show(293.15, Quantity::Temperature), "20 degC");
        assert_eq!(show(0.0, Quantity::Power), "0 W");
        assert_eq!(show(-3.0, Quantity::Gauge), "4/0 AWG");
    }
}
