//! Tables of wire current and of mass growth: the shipped rows and the user's own, which take the place of shipped ones.

use super::{How, Item, cell, gauge, has_fault, item, number, source_and_note, text, twice};
use crate::codes;
use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::problems::Problems;
use crate::sheet::{self, SheetRow};
use crate::value::Value;
use model::{CrimpRow, Diagnostic, Name, Plating, ShieldRow, Sources, Span, SpareRow, TestRow};
use physics::ampacity::{AircraftTables, AltitudeFactors, BundleFactors, Conductor, FreeAir, ShortRow, SpaceRow, TableFault};
use physics::gauge::Awg;
use physics::{Ampere, Kelvin, Metre, Newton, Ohm, Ratio, TemperatureRise, Volt};
use std::collections::HashMap;

/// Stems of the lists' file names with their tables of fields.
pub(crate) const LISTS: [(&str, &str); 22] = [
    ("ampacity-free-air", "free-air current"),
    ("derating-bundle-air", "bundle factor"),
    ("derating-altitude-air", "altitude factor"),
    ("ampacity-bundle-air", "short current"),
    ("ampacity-space", "vacuum current"),
    ("ampacity-ratings", "insulation factor"),
    ("ampacity-conditions", "ampacity condition"),
    ("protector-gauges", "protector gauge"),
    ("mass-growth", "mass growth"),
    ("insulations", "insulation"),
    ("platings", "plating"),
    ("devices", "device"),
    ("trip-bands", "trip band"),
    ("device-ambients", "device ambient"),
    ("batteries", "battery type"),
    ("battery-curves", "battery point"),
    ("battery-capacities", "battery capacity"),
    ("battery-losses", "battery loss"),
    ("crimp-tensile", "crimp tensile"),
    ("shield-ends", "shield end"),
    ("test-levels", "test level"),
    ("spare-contacts", "spare contacts"),
];

/// The rule set of the tables for air: a word of profiles, and none of the vacuum tables may have it.
pub(crate) const IN_AIR: &str = "aircraft";

/// A row with its source.
pub(crate) struct Gathered<T> {
    pub(crate) row: T,
    pub(crate) how: How,
    pub(crate) source: String,
    pub(crate) at: Span,
}

/// A row of the vacuum currents.
pub(crate) struct Vacuum {
    pub(crate) rules: Name,
    pub(crate) row: SpaceRow,
}

/// What a rule set's tables are for; each cell may stand in a row of its own.
pub(crate) struct Condition {
    pub(crate) rules: Name,
    pub(crate) surroundings: Option<Item>,
    pub(crate) below_rating: Option<Item>,
    pub(crate) loaded: Option<Item>,
    pub(crate) altitude: Option<Item>,
}

/// A row of a chart of breakers and fuses.
pub(crate) struct Protects {
    pub(crate) chart: Name,
    pub(crate) gauge: Awg,
    pub(crate) breaker: Option<Item>,
    pub(crate) fuse: Option<Item>,
}

/// A row of what is known of insulation; each cell may stand in a row of its own.
pub(crate) struct Insulates {
    pub(crate) family: Name,
    pub(crate) conductivity: Option<Item>,
    /// Least, typical, greatest.
    pub(crate) emittance: [Option<Item>; 3],
    pub(crate) damage: Option<Item>,
}

impl Insulates {
    /// What the row is about.
    fn filled(&self) -> [bool; 3] {
        [self.conductivity.is_some(), self.emittance.iter().any(Option::is_some), self.damage.is_some()]
    }
}

/// All lists.
#[derive(Default)]
pub(crate) struct Ampacities {
    pub(crate) free_air: Vec<Gathered<(Awg, TemperatureRise, Ampere)>>,
    pub(crate) bundle: Vec<Gathered<(u32, Ratio, Ratio)>>,
    pub(crate) altitude: Vec<Gathered<(Metre, Ratio)>>,
    pub(crate) short: Vec<Gathered<ShortRow>>,
    pub(crate) vacuum: Vec<Gathered<Vacuum>>,
    pub(crate) ratings: Vec<Gathered<(Name, Kelvin, Ratio)>>,
    pub(crate) conditions: Vec<Gathered<Condition>>,
    pub(crate) protects: Vec<Gathered<Protects>>,
    /// Growth of mass by stage of the design.
    pub(crate) growth: Vec<Gathered<(Name, Ratio)>>,
    pub(crate) insulations: Vec<Gathered<Insulates>>,
    /// Limits of coatings.
    pub(crate) platings: Vec<Gathered<(Plating, Item)>>,
    /// Least pull of crimped joints.
    pub(crate) crimps: Vec<Gathered<CrimpRow>>,
    /// Shield ends.
    pub(crate) shields: Vec<Gathered<ShieldRow>>,
    /// Levels of tests.
    pub(crate) tests: Vec<Gathered<TestRow>>,
    /// Spare contacts.
    pub(crate) spares: Vec<Gathered<SpareRow>>,
    /// The tables for air; `None` if they are none, which has been reported.
    pub(crate) aircraft: Option<AircraftTables>,
    /// A row was not understood: what seems to be missing may stand there.
    pub(crate) unsure: bool,
}

impl Ampacities {
    /// Rule sets of the vacuum currents, in the order of their rows.
    pub(crate) fn rule_sets(&self) -> Vec<&Name> {
        in_order(self.vacuum.iter().map(|line| &line.row.rules))
    }
    /// Charts of breakers and fuses.
    pub(crate) fn charts(&self) -> Vec<&Name> {
        in_order(self.protects.iter().map(|line| &line.row.chart))
    }
}

fn in_order<'a>(names: impl Iterator<Item = &'a Name>) -> Vec<&'a Name> {
    let mut seen: Vec<&Name> = Vec::new();
    names.for_each(|name| {
        if !seen.contains(&name) {
            seen.push(name);
        }
    });
    seen
}

/// Reads the shipped rows, then the user's.
pub(crate) fn read(sources: &Sources, folder: &Folder, out: &mut Problems) -> Ampacities {
    let mut all = Ampacities { unsure: folder.unsure, ..Ampacities::default() };
    let mut reader = Reader { sources, folder, out, unsure: folder.unsure };
    all.free_air = reader.list(
        0,
        |table, row| Some((gauge(table, row, "gauge")?, TemperatureRise(si(table, row, "rise")?), Ampere(si(table, row, "current")?))),
        |row| row.0,
        |row| format!("a current of {} AWG at {} K", row.0, row.1.0),
        |row| (row.0, row.1.0.to_bits()),
    );
    all.bundle = reader.list(
        1,
        |table, row| {
            let wires = match cell(table, row, "wires")?.value {
                Value::Count(wires) => wires,
                _ => return None,
            };
            Some((wires, Ratio(si(table, row, "loaded")?), Ratio(si(table, row, "factor")?)))
        },
        |_| (),
        |row| format!("the factor of {} wires with {} % loaded", row.0, 100.0 * row.1.0),
        |row| (row.0, row.1.0.to_bits()),
    );
    all.altitude = reader.list(
        2,
        |table, row| Some((Metre(si(table, row, "altitude")?), Ratio(si(table, row, "factor")?))),
        |_| (),
        |row| format!("the factor at {:.0} m", row.0.0),
        |row| row.0.0.to_bits(),
    );
    all.short = reader.list(
        3,
        |table, row| {
            let (gauge, rating) = (gauge(table, row, "gauge")?, Kelvin(si(table, row, "rating")?));
            Some(ShortRow { conductor: conductor(table, row)?, gauge, rating, current: Ampere(si(table, row, "current")?) })
        },
        |row| (row.conductor.word(), row.gauge, row.rating.0.to_bits()),
        |row| format!("the current of {} {} AWG", row.conductor.word(), row.gauge),
        |row| (row.conductor.word(), row.gauge, row.rating.0.to_bits()),
    );
    all.vacuum = reader.list(
        4,
        |table, row| {
            let (gauge, single) = (gauge(table, row, "gauge")?, Ampere(si(table, row, "single")?));
            let bundle = si(table, row, "bundle").map(Ampere);
            Some(Vacuum { rules: text(table, row, "rules")?.0, row: SpaceRow { conductor: conductor(table, row)?, gauge, single, bundle } })
        },
        |row| row.rules.clone(),
        |row| format!("the {} current of {} {} AWG", row.rules, row.row.conductor.word(), row.row.gauge),
        |row| (row.rules.clone(), row.row.conductor.word(), row.row.gauge),
    );
    all.ratings = reader.list(
        5,
        |table, row| Some((text(table, row, "rules")?.0, Kelvin(si(table, row, "rating")?), Ratio(si(table, row, "factor")?))),
        |row| row.0.clone(),
        |row| format!("the {} factor of insulation rated {:.0} degC", row.0, row.1.celsius()),
        |row| (row.0.clone(), row.1.0.to_bits()),
    );
    all.conditions = reader.list(
        6,
        |table, row| {
            let of = |key| item(table, row, key);
            let [surroundings, below_rating, loaded, altitude] = [of("surroundings"), of("below_rating"), of("loaded"), of("altitude")];
            Some(Condition { rules: text(table, row, "rules")?.0, surroundings, below_rating, loaded, altitude })
        },
        |row| row.rules.clone(),
        |row| format!("a condition of {}", row.rules),
        |row| {
            let has = [&row.surroundings, &row.below_rating, &row.loaded, &row.altitude].map(Option::is_some);
            (row.rules.clone(), has)
        },
    );
    all.protects = reader.list(
        7,
        |table, row| {
            let (breaker, fuse) = (item(table, row, "breaker"), item(table, row, "fuse"));
            Some(Protects { chart: text(table, row, "chart")?.0, gauge: gauge(table, row, "gauge")?, breaker, fuse })
        },
        |row| row.chart.clone(),
        |row| format!("{} AWG of chart {}", row.gauge, row.chart),
        |row| (row.chart.clone(), row.gauge),
    );
    all.growth = reader.list(
        8,
        |table, row| Some((text(table, row, "stage")?.0, Ratio(si(table, row, "growth")?))),
        |row| row.0.clone(),
        |row| format!("the stage {}", row.0),
        |row| row.0.clone(),
    );
    all.insulations = reader.list(
        9,
        |table, row| {
            let emittance = ["emittance_low", "emittance", "emittance_high"].map(|key| item(table, row, key));
            let [conductivity, damage] = ["conductivity", "damage"].map(|key| item(table, row, key));
            Some(Insulates { family: text(table, row, "family")?.0, conductivity, emittance, damage })
        },
        |row| row.family.clone(),
        |row| {
            let what = match row.filled() {
                [true, ..] => "conductivity",
                [_, true, _] => "emittance",
                _ => "temperature of damage",
            };
            format!("{what} of insulation {}", row.family)
        },
        |row| (row.family.clone(), row.filled()),
    );
    all.platings = reader.list(
        10,
        |table, row| {
            let word = text(table, row, "plating")?.0;
            Some((Plating::ALL.into_iter().find(|plating| plating.word() == &*word)?, item(table, row, "limit")?))
        },
        |row| row.0,
        |row| format!("the limit of {}", row.0.word()),
        |row| row.0,
    );
    all.crimps = reader.list(
        18,
        |table, row| {
            let size = text(table, row, "size").map(|(size, _)| size);
            Some(CrimpRow { size, gauge: gauge(table, row, "gauge")?, pull: Newton(si(table, row, "pull")?) })
        },
        |row| (row.size.clone(), row.gauge),
        |row| format!("the pull of {} with {} AWG", row.size.as_ref().map_or("a lug", |size| size), row.gauge),
        |row| (row.size.clone(), row.gauge),
    );
    all.shields = reader.list(
        19,
        |table, row| {
            let bare = si(table, row, "bare").map(Metre);
            Some(ShieldRow { circuit: text(table, row, "circuit")?.0, bare, lead: Metre(si(table, row, "lead")?) })
        },
        |row| row.circuit.clone(),
        |row| format!("the shield end of {} circuits", row.circuit),
        |row| row.circuit.clone(),
    );
    all.tests = reader.list(
        20,
        |table, row| {
            let (leakage, ohms) = (si(table, row, "leakage").map(Ampere), si(table, row, "limit").map(Ohm));
            Some(TestRow { test: text(table, row, "test")?.0, volts: Volt(si(table, row, "volts")?), leakage, ohms })
        },
        |row| row.test.clone(),
        |row| format!("the level of the {} test", row.test),
        |row| row.test.clone(),
    );
    all.spares = reader.list(
        21,
        |table, row| {
            let count = |key| match cell(table, row, key)?.value {
                Value::Count(count) => Some(count),
                _ => None,
            };
            Some(SpareRow { contacts: count("contacts_to"), spares: count("spares")? })
        },
        |_| (),
        |row| match row.contacts {
            Some(most) => format!("the spares of {most} contacts"),
            None => "the spares of any more contacts".to_owned(),
        },
        |row| row.contacts,
    );
    all.spares.sort_by_key(|line| line.row.contacts.unwrap_or(u32::MAX));
    all.unsure = reader.unsure;
    if !all.unsure {
        all.aircraft = tables_in_air(&all, out);
        vacuum_holds(&all, out);
        emittances_hold(&all, out);
    }
    all
}

struct Reader<'a> {
    sources: &'a Sources,
    folder: &'a Folder,
    out: &'a mut Problems,
    unsure: bool,
}

impl Reader<'_> {
    /// The rows of a list. Those of the folder take the place of the shipped rows that have a `part` in common with one of them; two of the
    /// folder's with the same `key` are one too many.
    fn list<T, P: PartialEq, K: std::hash::Hash + Eq>(
        &mut self,
        list: usize,
        read: impl Fn(&TableSpec, &SheetRow) -> Option<T>,
        part: impl Fn(&T) -> P,
        words: impl Fn(&T) -> String,
        key: impl Fn(&T) -> K,
    ) -> Vec<Gathered<T>> {
        let table = fields::table(LISTS[list].1).expect("the table of fields has every list");
        let mut all: Vec<Gathered<T>> = Vec::new();
        for (files, is_own) in [(&self.folder.shipped_lists, false), (&self.folder.lists, true)] {
            let mut found: Vec<Gathered<T>> = Vec::new();
            let mut first: HashMap<K, Span> = HashMap::new();
            for (_, file) in files.iter().filter(|(of, _)| *of == list) {
                let unsure = &mut self.unsure;
                sheet::read(self.sources, *file, table, self.out, &mut |_, row, out| {
                    let Some(value) = (if has_fault(&row) { None } else { read(table, &row) }) else {
                        *unsure = true;
                        return;
                    };
                    if let Some(before) = first.insert(key(&value), row.at)
                        && is_own
                    {
                        out.push(twice(row.at, before, words(&value)));
                        *unsure = true;
                    }
                    let how = text(table, &row, "how").map_or(How::Firm, |(word, _)| How::of(&word));
                    found.push(Gathered { row: value, how, source: source_and_note(table, &row), at: row.at });
                });
            }
            all.retain(|old| !found.iter().any(|new| part(&new.row) == part(&old.row)));
            all.append(&mut found);
        }
        all
    }
}

fn si(table: &TableSpec, row: &SheetRow, key: &str) -> Option<f64> {
    number(table, row, key).map(|(si, _)| si)
}

fn conductor(table: &TableSpec, row: &SheetRow) -> Option<Conductor> {
    Some(match &*text(table, row, "conductor")?.0 {
        "aluminium" => Conductor::Aluminium,
        _ => Conductor::Copper,
    })
}

fn tables_in_air(all: &Ampacities, out: &mut Problems) -> Option<AircraftTables> {
    fn told<T, R>(made: Result<T, TableFault>, rows: &[Gathered<R>], what: &str, out: &mut Problems) -> Option<T> {
        made.map_err(|fault| {
            // A fault of the whole table stands at its first row, which a table without rows does not have.
            let Some(line) = rows.get(fault.row) else { return };
            let message = format!("with this row the {what} are no table: it needs {}", fault.what);
            out.push(
                Diagnostic::error(codes::CONTRADICTION, line.at, "", message).help("correct the row, or those that it is held against"),
            );
        })
        .ok()
    }
    let rows: Vec<_> = all.free_air.iter().map(|line| line.row).collect();
    let free_air = told(FreeAir::new(&rows), &all.free_air, "free-air currents", out);
    let rows: Vec<_> = all.bundle.iter().map(|line| line.row).collect();
    let bundle = told(BundleFactors::new(&rows), &all.bundle, "bundle factors", out);
    let rows: Vec<_> = all.altitude.iter().map(|line| line.row).collect();
    let altitude = told(AltitudeFactors::new(&rows), &all.altitude, "altitude factors", out);
    Some(AircraftTables { free_air: free_air?, bundle: bundle?, altitude: altitude? })
}

/// Least, typical and greatest emittance are in that order, and the ends do not stand alone.
fn emittances_hold(all: &Ampacities, out: &mut Problems) {
    for line in &all.insulations {
        let family = &line.row.family;
        let [low, typical, high] = &line.row.emittance;
        let Some(typical) = typical else {
            if let Some(end) = low.as_ref().or(high.as_ref()) {
                let message = format!("insulation {family} has an end of its emittance and no emittance");
                out.push(Diagnostic::error(codes::MISSING_KEY, end.at, "", message).help("write emittance_percent, the typical one"));
            }
            continue;
        };
        let low = low.as_ref().filter(|low| low.si > typical.si);
        let high = high.as_ref().filter(|high| high.si < typical.si);
        for end in [low, high].into_iter().flatten() {
            let message = format!("insulation {family}: emittances are not in the order least, typical, greatest");
            out.push(Diagnostic::error(codes::SPREAD_ORDER, end.at, "", message).note(typical.at, "typical"));
        }
    }
}

/// What each rule set of the vacuum currents must have.
fn vacuum_holds(all: &Ampacities, out: &mut Problems) {
    for line in &all.vacuum {
        let Vacuum { rules, row } = &line.row;
        if let Some(bundle) = row.bundle.filter(|bundle| *bundle > row.single) {
            let message =
                format!("{rules}, {} AWG: a wire carries more in a bundle, {} A, than alone, {} A", row.gauge, bundle.0, row.single.0);
            out.push(Diagnostic::error(codes::CONTRADICTION, line.at, "", message).help("a bundle cools worse than a single wire"));
        }
    }
    for rules in all.rule_sets() {
        let Some(line) = all.vacuum.iter().find(|line| line.row.rules == *rules) else { continue };
        if &**rules == IN_AIR {
            let message = format!("{IN_AIR} is the rule set of the tables for air");
            out.push(Diagnostic::error(codes::TWICE, line.at, "", message).help("give these currents a name of their own"));
        }
        if !all.conditions.iter().any(|line| line.row.rules == *rules && line.row.surroundings.is_some()) {
            let message = format!("the currents of {rules} do not say which surroundings they are for");
            out.push(
                Diagnostic::error(codes::MISSING_KEY, line.at, "", message)
                    .help(format!("write catalog/ampacity-conditions.csv with a row of {rules} and its surroundings_degc")),
            );
        }
    }
}
