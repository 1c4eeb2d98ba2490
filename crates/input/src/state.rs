//! The state of a vehicle as it was measured: one TOML file apart from the vehicle's folder, to the rows of a checked design.
//!
//! ```text
//! phase = "docked"
//! since = "12 h"
//! [battery.B1]
//! used = "120 Ah"
//! [bus.A]
//! voltage = "28.4 V"
//! [breaker.CB3]
//! state = "open"
//! ```

use crate::Loaded;
use crate::codes;
use crate::fields::{FieldKind, FieldSpec, stated};
use crate::limits;
use crate::problems::Problems;
use crate::quantity::Quantity;
use crate::value::{self, Cell, Slot, Value, span};
use model::*;
use physics::*;
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

/// Keys at the top.
pub const TOP: &[FieldSpec] = &[
    stated("phase", FieldKind::Name, "the phase that the vehicle is in"),
    stated("since", FieldKind::Number(Quantity::Duration), "time since that phase began"),
];

const ON_OFF: FieldKind = FieldKind::Words(&["on", "off"]);
const OPEN_CLOSED: FieldKind = FieldKind::Words(&["open", "closed"]);
const VOLTAGE: FieldSpec =
    stated("voltage", FieldKind::Number(Quantity::Voltage), "measured at its terminals, of a bus against its return");
const CURRENT: FieldSpec = stated("current", FieldKind::Number(Quantity::Current), "measured current that it gives or takes");
const STATE_OPEN: FieldSpec = stated("state", OPEN_CLOSED, "how it stands");

/// Kinds of rows with their keys.
pub const KINDS: &[(&str, &[FieldSpec])] = &[
    (
        "battery",
        &[
            stated("used", FieldKind::Number(Quantity::Charge), "charge that it has given since it was full"),
            stated("temperature", FieldKind::Number(Quantity::Temperature), "temperature of its cells"),
            stated("activated", FieldKind::Number(Quantity::Duration), "time since it was charged or activated"),
            VOLTAGE,
            CURRENT,
            stated("within", FieldKind::Number(Quantity::Voltage), "how far its voltage may be off"),
        ],
    ),
    ("bus", &[VOLTAGE, stated("within", FieldKind::Number(Quantity::Voltage), "how far its voltage may be off")]),
    ("breaker", &[STATE_OPEN, CURRENT]),
    ("fuse", &[STATE_OPEN, CURRENT]),
    ("limiter", &[STATE_OPEN, CURRENT]),
    ("switch", &[STATE_OPEN]),
    ("relay", &[STATE_OPEN]),
    ("tie", &[STATE_OPEN]),
    ("load", &[stated("state", ON_OFF, "whether it is commanded on"), CURRENT]),
];

/// How far a voltage may be off where nothing says so: the last digit of a hand-held meter at 30 V.
///
/// # Source  Common practice, no source.
pub const WITHIN: Volt = Volt(0.1);

/// What was measured.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// The phase.
    pub phase: Option<Given<Id<Phase>>>,
    /// Time since it began.
    pub since: Option<Given<Second>>,
    /// Batteries.
    pub batteries: Vec<MeasuredBattery>,
    /// Buses with their voltage and how far it may be off.
    pub buses: Vec<(Id<InnerNode>, Given<Volt>, Volt)>,
    /// How devices and loads stand.
    pub states: Vec<Given<(ElementId, Commanded)>>,
    /// Currents of devices and loads.
    pub currents: Vec<(ElementId, Given<Ampere>)>,
}

/// A battery as measured.
#[derive(Clone, Copy, Debug)]
pub struct MeasuredBattery {
    /// The battery.
    pub battery: Id<Source>,
    /// Charge given since it was full.
    pub used: Option<Given<Coulomb>>,
    /// Temperature of its cells.
    pub temperature: Option<Given<Kelvin>>,
    /// Time since it was charged or activated.
    pub activated: Option<Given<Second>>,
    /// At its terminals, and how far that may be off.
    pub volts: Option<(Given<Volt>, Volt)>,
    /// What it gives.
    pub current: Option<Given<Ampere>>,
}

/// Reads the file of a measured state for a design.
///
/// # Errors  Every diagnostic, with the file as its only source.
pub fn measured(design: &Design, path: &str, bytes: &[u8]) -> Result<Measured, Box<Loaded>> {
    let mut sources = Sources::default();
    let mut out = Problems::default();
    let text = String::from_utf8_lossy(bytes).into_owned();
    let is_text = std::str::from_utf8(bytes).is_ok();
    let file = sources.add(path, if bytes.len() > limits::TABLES_BYTES { String::new() } else { text.clone() });
    let mut found = Measured::default();
    let start = Span { file, start: 0, end: 0 };
    if bytes.len() > limits::TABLES_BYTES {
        out.push(Diagnostic::error(codes::TOO_LARGE, start, "", format!("{path} is larger than a measured state can be")));
    } else if !is_text {
        out.push(Diagnostic::error(codes::NOT_UTF8, start, "", format!("{path} is not UTF-8 text")).help("save it as UTF-8"));
    } else if let Some(at) = crate::document::too_deep(&text) {
        out.push(Diagnostic::error(codes::TOO_LARGE, span(file, at..at + 1), "", format!("nested more than {} deep", limits::NESTING)));
    } else {
        Reading { design, file, out: &mut out }.file(&text, &mut found);
    }
    match out.has_errors() {
        false => Ok(found),
        true => {
            let (mut diagnostics, beyond) = out.into_list();
            diagnostics.sort_by_key(|d| d.places.first().map(|place| (place.at.file, place.at.start)));
            diagnostics.extend(beyond);
            Err(Box::new(Loaded { sources: Arc::new(sources), design: None, diagnostics }))
        }
    }
}

struct Reading<'a> {
    design: &'a Design,
    file: FileId,
    out: &'a mut Problems,
}

impl Reading<'_> {
    fn file(&mut self, text: &str, found: &mut Measured) {
        let (tree, errors) = DeTable::parse_recoverable(text);
        crate::document::syntax(text, self.file, &errors, self.out);
        let mut entries: Vec<_> = tree.get_ref().iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in entries {
            let at = span(self.file, key.span());
            let word: &str = key.get_ref();
            if let Some(field) = TOP.iter().find(|field| field.key == word) {
                let slot = value::from_toml(field, value, self.file, self.out);
                self.top(word, slot, found);
                continue;
            }
            let words = || KINDS.iter().map(|(kind, _)| *kind).chain(TOP.iter().map(|field| field.key));
            let Some((kind, fields)) = KINDS.iter().find(|(kind, _)| *kind == word) else {
                let is_table = matches!(value.get_ref(), DeValue::Table(_) | DeValue::Array(_));
                let (code, what) = if is_table { (codes::UNKNOWN_TABLE, "table") } else { (codes::UNKNOWN_KEY, "key") };
                let diagnostic = Diagnostic::error(code, at, "", format!("a measured state has no {what} {word:?}"));
                self.out_push(diagnostic, word, at, words());
                continue;
            };
            let DeValue::Table(rows) = value.get_ref() else {
                let message = format!("{kind} is a table of rows with ids");
                self.out.push(Diagnostic::error(codes::WRONG_TYPE, at, "", message).help(format!("write [{kind}.ID] and its keys below")));
                continue;
            };
            let mut rows: Vec<_> = rows.iter().collect();
            rows.sort_by_key(|(name, _)| name.span().start);
            for (name, value) in rows {
                let at = span(self.file, name.span());
                let DeValue::Table(table) = value.get_ref() else {
                    let message = format!("{kind}.{} is not a table of keys", name.get_ref());
                    self.out.push(Diagnostic::error(codes::WRONG_TYPE, at, "", message).help(format!("write [{kind}.ID] with an id")));
                    continue;
                };
                let subject = self.row_of(kind, name.get_ref(), at);
                let mut slots = vec![Slot::Absent; fields.len()];
                let mut keys: Vec<_> = table.iter().collect();
                keys.sort_by_key(|(key, _)| key.span().start);
                for (key, value) in keys {
                    match fields.iter().position(|field| field.key == key.get_ref()) {
                        Some(n) => slots[n] = value::from_toml(&fields[n], value, self.file, self.out),
                        None => {
                            let keys = fields.iter().map(|field| field.key);
                            value::unknown_key(&format!("a measured {kind}"), key.get_ref(), span(self.file, key.span()), keys, self.out);
                        }
                    }
                }
                match subject {
                    Some(subject) if table.is_empty() => {
                        let message = format!("nothing is measured of {}", self.design.subject_words(subject));
                        self.out.push(Diagnostic::error(codes::EMPTY, at, "", message).help("add what was measured, or take the row away"));
                    }
                    Some(subject) => self.row(subject, fields, &slots, found),
                    None => {}
                }
            }
        }
    }

    fn out_push<'w>(&mut self, diagnostic: Diagnostic, word: &str, at: Span, words: impl Iterator<Item = &'w str> + Clone) {
        let meant = self.out.closest(word, words.clone());
        self.out.push(match meant {
            Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(at, meant),
            None => diagnostic.help(format!("it has: {}", words.collect::<Vec<_>>().join(", "))),
        });
    }

    fn top(&mut self, key: &str, slot: Slot, found: &mut Measured) {
        let Slot::Good(Cell { at, value, .. }) = slot else { return };
        match (key, value) {
            ("phase", Value::Text(name)) => match self.design.phases.iter().find(|(_, row)| row.name == name) {
                Some((id, _)) => found.phase = Some(Given::firm(id, at)),
                None => {
                    let names: Vec<String> = self.design.phases.iter().map(|(_, row)| row.name.to_string()).collect();
                    let diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no phase {name}"));
                    self.out_push(diagnostic, &name, at, names.iter().map(String::as_str));
                }
            },
            (_, Value::Number(_, si)) => found.since = Some(Given::firm(Second(si), at)),
            _ => {}
        }
    }

    /// What a row of a kind and name is in the design.
    fn row_of(&mut self, kind: &str, name: &str, at: Span) -> Option<Subject> {
        let design = self.design;
        let sources = design.batteries.ids().map(ElementId::Source);
        let elements = sources
            .chain(design.protectors.ids().map(ElementId::Protector))
            .chain(design.switches.ids().map(ElementId::Switch))
            .chain(design.loads.ids().map(ElementId::Load))
            .map(Subject::Element);
        let buses = design.inner_nodes.iter().filter(|(_, row)| row.is_bus).map(|(id, _)| Subject::Inner(id));
        let all: Vec<(&str, String, Subject)> = elements
            .chain(buses)
            .map(|subject| {
                let (kind, name) = design.subject_name(subject);
                (kind, name, subject)
            })
            .collect();
        if let Some((.., subject)) = all.iter().find(|(k, n, _)| *k == kind && n == name) {
            return Some(*subject);
        }
        let diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("the vehicle has no {kind} {name}"));
        if let Some((other, ..)) = all.iter().find(|(_, n, _)| n == name) {
            self.out.push(diagnostic.help(format!("{name} is a {other}: write [{other}.{name}]")));
            return None;
        }
        let names: Vec<&str> = all.iter().filter(|(k, ..)| *k == kind).map(|(_, n, _)| n.as_str()).collect();
        let meant = self.out.closest(name, names.iter().copied());
        self.out.push(match meant {
            Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(at, meant),
            None if names.is_empty() => diagnostic.help(format!("it has no {kind} at all")),
            None if names.len() <= 8 => diagnostic.help(format!("it has: {}", names.join(", "))),
            None => diagnostic.help(format!("it has {} of them, {} first", names.len(), names[..3].join(", "))),
        });
        None
    }

    fn row(&mut self, subject: Subject, fields: &[FieldSpec], slots: &[Slot], found: &mut Measured) {
        let cell = |key: &str| match fields.iter().position(|field| field.key == key).map(|n| &slots[n]) {
            Some(Slot::Good(cell)) => Some(cell),
            _ => None,
        };
        let number = |key: &str| match cell(key) {
            Some(Cell { at, value: Value::Number(_, si), .. }) => Some((*si, *at)),
            _ => None,
        };
        let volts = number("voltage")
            .map(|(volts, at)| (Given::firm(Volt(volts), at), number("within").map_or(WITHIN, |(within, _)| Volt(within))));
        // A voltage that was not understood has been reported.
        let states_volts = fields.iter().position(|field| field.key == "voltage").is_some_and(|n| !matches!(slots[n], Slot::Absent));
        if let (false, Some((_, at))) = (states_volts, number("within")) {
            self.out.push(
                Diagnostic::error(codes::NO_EFFECT, at, "", "within says how far a voltage may be off, and none is stated")
                    .help("state voltage, or take within away"),
            );
        }
        let amperes = number("current").map(|(amperes, at)| Given::firm(Ampere(amperes), at));
        match subject {
            Subject::Element(ElementId::Source(battery)) => found.batteries.push(MeasuredBattery {
                battery,
                used: number("used").map(|(charge, at)| Given::firm(Coulomb(charge), at)),
                temperature: number("temperature").map(|(kelvin, at)| Given::firm(Kelvin(kelvin), at)),
                activated: number("activated").map(|(time, at)| Given::firm(Second(time), at)),
                volts,
                current: amperes,
            }),
            Subject::Inner(bus) => found.buses.extend(volts.map(|(volts, within)| (bus, volts, within))),
            Subject::Element(element) => {
                found.currents.extend(amperes.map(|amperes| (element, amperes)));
                if let Some(Cell { at, value: Value::Text(word), .. }) = cell("state") {
                    let commanded = if matches!(&**word, "on" | "closed") { Commanded::On } else { Commanded::Off };
                    found.states.push(Given::firm((element, commanded), *at));
                }
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const VEHICLE: &str = "format = 1\nname = \"v\"\nprofile = \"space-28v\"\n[node.R]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n[bus.A]\nreturn = \"node:R\"\n[node.L]\n\
        [battery.B1]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\n[breaker.CB1]\nline = \"bus:A\"\nload = \"node:L\"\nrating = \"5 A\"\n\
        [load.X]\nline = \"node:L\"\nreturn = \"node:R\"\npower = \"20 W\"\n[phase.coast]\nduration = \"5 h\"\nambient = \"20 degC\"\n";

    fn read(text: &str) -> Result<Measured, Vec<String>> {
        let loaded = crate::load(&[("vehicle.toml".to_owned(), VEHICLE.as_bytes().to_vec())]);
        let design = loaded.design.expect("a vehicle");
        measured(&design, "state.toml", text.as_bytes()).map_err(|loaded| {
            let say = |d: &Diagnostic| {
                let at = loaded.sources.position(d.places[0].at);
                format!("{}:{}:{} {} | {}", at.path, at.line, at.column, d.message, d.help.clone().unwrap_or_default())
            };
            loaded.diagnostics.iter().map(say).collect()
        })
    }

    #[test]
    fn everything_that_can_be_measured() {
        let text = "phase = \"coast\"\nsince = \"2 h\"\n[battery.B1]\nused = \"10 Ah\"\ntemperature = \"12 degC\"\nactivated = \"20 d\"\nvoltage = \"27.5 V\"\nwithin = \"50 mV\"\ncurrent = \"3 A\"\n\
            [bus.A]\nvoltage = \"27.4 V\"\n[breaker.CB1]\nstate = \"open\"\n[load.X]\nstate = \"on\"\ncurrent = \"0.7 A\"\n";
        let found = read(text).expect("understood");
        let battery = &found.batteries[0];
        assert_eq!(
            (battery.used.expect("stated").value, battery.temperature.expect("stated").value),
            (Coulomb(36_000.0), Kelvin::from_celsius(12.0))
        );
        assert_eq!(battery.volts.map(|(volts, within)| (volts.value, within)), Some((Volt(27.5), Volt(0.05))));
        assert_eq!(
            (battery.current.expect("stated").value, battery.activated.expect("stated").value),
            (Ampere(3.0), Second(20.0 * 86400.0))
        );
        assert_eq!((found.since.expect("stated").value, found.buses[0].2), (Second(7200.0), Volt(0.1)));
        assert_eq!(found.states.iter().map(|given| given.value.1).collect::<Vec<_>>(), [Commanded::Off, Commanded::On]);
        assert_eq!(found.currents[0].1.value, Ampere(0.7));
    }

    /// All faults of a file in one run, each at its line and column.
    #[test]
    fn faults_are_named_with_line_and_column() {
        let text = "phase = \"cost\"\nsince = \"2\"\nweather = \"fair\"\n[battery.B2]\nused = \"10 A\"\n[breaker.CB9]\nstate = \"open\"\n[breaker.X]\nstate = \"ajar\"\n[bus.A]\nvoltge = \"27 V\"\n[load.X]\n[relais.K]\nstate = \"open\"\n";
        let faults = read(text).expect_err("faults");
        let starts = [
            "state.toml:1:9 there is no phase cost | did you mean coast?",
            "state.toml:2:9 ",
            "state.toml:3:1 a measured state has no key \"weather\"",
            "state.toml:4:10 the vehicle has no battery B2 | it has: B1",
            "state.toml:5:",
            "state.toml:6:10 the vehicle has no breaker CB9 | did you mean CB1?",
            "state.toml:8:10 the vehicle has no breaker X | X is a load: write [load.X]",
            "state.toml:9:",
            "state.toml:11:1 a measured bus has no key \"voltge\" | did you mean voltage?",
            "state.toml:12:7 nothing is measured of load:X",
            "state.toml:13:2 a measured state has no table \"relais\" | did you mean relay?",
        ];
        for start in starts {
            assert!(faults.iter().any(|fault| fault.starts_with(start)), "{start}\n{}", faults.join("\n"));
        }
    }

    /// A voltage without its unit is one fault; that nothing then stands beside `within` is none.
    #[test]
    fn a_fault_has_no_second_behind_it() {
        let faults = |voltage: &str| read(&format!("phase = \"coast\"\n[bus.A]\n{voltage}within = \"0.1 V\"\n")).err().unwrap_or_default();
        assert_eq!(faults("voltage = \"27.4 V\"\n").len(), 0);
        assert!(matches!(&faults("voltage = \"27.4\"\n")[..], [one] if one.starts_with("state.toml:3:11 ")));
        assert!(matches!(&faults("")[..], [one] if one.starts_with("state.toml:3:10 within says")));
    }

    #[test]
    fn what_is_no_text_and_what_is_no_toml() {
        assert!(
            measured(&crate::load(&[("v.toml".to_owned(), VEHICLE.as_bytes().to_vec())]).design.expect("a vehicle"), "s", &[0xff, 0xfe])
                .is_err()
        );
        let faults = read("phase = coast\n").expect_err("a text stands in quotes");
        assert!(faults[0].starts_with("state.toml:1:"), "{faults:?}");
    }
}
