//! Types of battery: what they hold, their curves, what cold, rate and storage leave of their charge. The shipped rows, and the user's own, which take their place.

use super::{Item, LISTS, has_fault, item, source_and_note, text, twice};
use crate::codes;
use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::problems::Problems;
use crate::quantity::{self, Quantity};
use crate::sheet::{self, SheetRow};
use model::{Diagnostic, Name, Sources, Span};
use std::collections::{HashMap, HashSet};

/// A row with its type and source.
pub(crate) struct Row {
    pub(crate) of: Name,
    pub(crate) of_at: Span,
    /// `primary` or `rechargeable`; empty in other lists.
    pub(crate) kind: Option<(Name, Span)>,
    /// Cells by the keys of their fields.
    pub(crate) cells: HashMap<&'static str, Item>,
    pub(crate) source: String,
    pub(crate) at: Span,
}

impl Row {
    pub(crate) fn item(&self, key: &str) -> Option<&Item> {
        self.cells.get(key)
    }
    fn si(&self, key: &str) -> Option<f64> {
        self.item(key).map(|item| item.si)
    }
}

/// All lists: types, points, capacities, losses.
#[derive(Default)]
pub(crate) struct Batteries {
    lists: [Vec<Row>; 4],
    /// Types of rows that were not understood: what seems to be missing of them is no second mistake.
    failed: HashSet<Name>,
    unsure: bool,
}

/// What the catalog has of one type.
pub(crate) struct BatteryLines<'a> {
    pub(crate) rows: Vec<&'a Row>,
    pub(crate) points: Vec<&'a Row>,
    pub(crate) capacities: Vec<&'a Row>,
    pub(crate) losses: Vec<&'a Row>,
}

impl BatteryLines<'_> {
    pub(crate) fn all(&self) -> impl Iterator<Item = &Row> {
        [&self.rows, &self.points, &self.capacities, &self.losses].into_iter().flatten().copied()
    }
    /// The first row that fills a cell.
    pub(crate) fn first(&self, key: &str) -> Option<(&Row, &Item)> {
        self.rows.iter().find_map(|row| Some((*row, row.item(key)?)))
    }
}

impl Batteries {
    pub(crate) fn of(&self, name: &str) -> BatteryLines<'_> {
        let pick = |list: usize| self.lists[list].iter().filter(|row| &*row.of == name).collect();
        BatteryLines { rows: pick(0), points: pick(1), capacities: pick(2), losses: pick(3) }
    }
    /// Types in the order of the catalog.
    pub(crate) fn types(&self) -> Vec<&str> {
        let mut seen = HashSet::new();
        self.lists[0].iter().map(|row| &*row.of).filter(|name| seen.insert(*name)).collect()
    }
    /// Whether a type may stand in a row that was not understood.
    pub(crate) fn may_have(&self, name: &str) -> bool {
        self.unsure || self.failed.contains(name)
    }
}

/// Tables of fields, in the order of the lists.
const TABLES: [&str; 4] = ["battery type", "battery point", "battery capacity", "battery loss"];

/// Cells of the three points, all of which a type needs that has no curve.
pub(crate) const THREE_POINTS: [&str; 7] = ["full", "exponential", "exponential_charge", "nominal", "nominal_charge", "typical", "ohms"];

/// Reads the shipped rows, then the user's, and holds them against each other.
pub(crate) fn read(sources: &Sources, folder: &Folder, out: &mut Problems) -> Batteries {
    let mut all = Batteries { unsure: folder.unsure, ..Batteries::default() };
    for (list, key) in TABLES.into_iter().enumerate() {
        let table = fields::table(key).expect("the table of fields has every list");
        let number = LISTS.iter().position(|(_, of)| *of == key);
        for files in [&folder.shipped_lists, &folder.lists] {
            let mut found: Vec<Row> = Vec::new();
            for (_, file) in files.iter().filter(|(of, _)| Some(*of) == number) {
                sheet::read(sources, *file, table, out, &mut |_, row, _| match text(table, &row, "type") {
                    Some((of, of_at)) if !has_fault(&row) => found.push(line(table, &row, of, of_at)),
                    Some((of, _)) => drop(all.failed.insert(of)),
                    None => all.unsure = true,
                });
            }
            let own: HashSet<Name> = found.iter().map(|row| row.of.clone()).collect();
            all.lists[list].retain(|old| !own.contains(&old.of));
            all.lists[list].append(&mut found);
        }
    }
    types_hold(&all, out);
    points_hold(&all, out);
    rows_rise(&all.lists[2], Some("rate"), "the share of", out);
    rows_rise(&all.lists[3], None, "the loss of", out);
    types_exist(&all, out);
    all
}

fn line(table: &'static TableSpec, row: &SheetRow, of: Name, of_at: Span) -> Row {
    let cells = table.fields.iter().filter(|field| field.quantity().is_some());
    Row {
        of,
        of_at,
        kind: text(table, row, "kind"),
        cells: cells.filter_map(|field| Some((field.key, item(table, row, field.key)?))).collect(),
        source: source_and_note(table, row),
        at: row.at,
    }
}

fn contradiction(at: Span, message: String, help: &str) -> Diagnostic {
    Diagnostic::error(codes::CONTRADICTION, at, "", message).help(help)
}

/// A type is of one kind and states each value once; pairs have both cells.
fn types_hold(all: &Batteries, out: &mut Problems) {
    let mut kinds: HashMap<&Name, &(Name, Span)> = HashMap::new();
    let mut first: HashMap<(&Name, &str), &Item> = HashMap::new();
    for row in &all.lists[0] {
        if let Some(kind) = &row.kind {
            let before = *kinds.entry(&row.of).or_insert(kind);
            if before.0 != kind.0 {
                let message = format!("{} is {} here and {} before", row.of, kind.0, before.0);
                out.push(contradiction(kind.1, message, "a type has one kind").note(before.1, "before"));
            }
        }
        let table = fields::table(TABLES[0]).expect("the table of fields has every list");
        for field in table.fields.iter().filter(|field| !field.key.starts_with("pair")) {
            let Some(value) = row.item(field.key) else { continue };
            match first.get(&(&row.of, field.key)) {
                Some(before) => out.push(twice(value.at, before.at, format!("{} of {}", field.key.replace('_', " "), row.of))),
                None => drop(first.insert((&row.of, field.key), value)),
            }
        }
        if let (Some(one), None) | (None, Some(one)) = (row.item("pair"), row.item("pair_time")) {
            let lacks = if row.item("pair").is_some() { "pair_time_s" } else { "pair_percent" };
            let message = format!("{}: of a resistance that follows late and its time one is stated", row.of);
            out.push(Diagnostic::error(codes::MISSING_KEY, one.at, "", message).help(format!("write {lacks} too")));
        }
    }
    for name in all.types() {
        let of = all.of(name);
        let has = |key: &&str| of.first(key).is_some();
        let at = of.rows[0].at;
        let some = THREE_POINTS.iter().filter(|key| has(key)).count();
        if some > 0 && some < THREE_POINTS.len() && !all.may_have(name) {
            let lacking: Vec<&str> = THREE_POINTS.into_iter().filter(|key| !has(key)).collect();
            let message = format!("{name} has some of the three points of its curve, and no {}", lacking.join(", no "));
            out.push(Diagnostic::error(codes::MISSING_KEY, at, "", message).help("fill them all, or none and write battery-curves.csv"));
        }
        if some == 0 && of.points.is_empty() && !all.may_have(name) {
            let message = format!("{name} has no curve: no three points, and no row in battery-curves.csv");
            out.push(Diagnostic::error(codes::MISSING_KEY, at, "", message).help("its voltage over charge is needed to follow it"));
        }
        if some == THREE_POINTS.len()
            && let Some(point) = of.points.first()
        {
            let message = format!("{name} has a curve in battery-curves.csv and three points besides");
            out.push(contradiction(at, message, "keep one of the two").note(point.at, "curve"));
        }
        if !has(&"rated") && !all.may_have(name) {
            let message = format!("{name} has no rated charge");
            out.push(Diagnostic::error(codes::MISSING_KEY, at, "", message).help("write rated_ah"));
        }
    }
}

/// Temperatures rise, depths rise within one, the voltage does not; it is stated from full to empty.
fn points_hold(all: &Batteries, out: &mut Problems) {
    let percent = |si: f64| quantity::show(si, Quantity::Share);
    let degrees = |si: f64| quantity::show(si, Quantity::Temperature);
    rows_rise(&all.lists[1], Some("depth"), "the point of", out);
    for row in &all.lists[1] {
        if row.item("emf").is_none() && row.item("ohms").is_none() {
            let message =
                format!("the point of {} at {} has neither voltage nor resistance", row.of, percent(row.si("depth").unwrap_or(0.0)));
            out.push(Diagnostic::error(codes::MISSING_KEY, row.at, "", message).help("fill emf_v, ohms_mohm or both"));
        }
    }
    for name in all.lists[1].iter().map(|row| &*row.of).collect::<std::collections::BTreeSet<_>>() {
        let of = all.of(name);
        if of.rows.is_empty() || all.may_have(name) {
            continue;
        }
        let mut temperatures: Vec<f64> = Vec::new();
        for row in &of.points {
            temperatures.extend(row.si("temperature").filter(|t| !temperatures.contains(t)));
        }
        for key in ["emf", "ohms"] {
            let of_key: Vec<&&Row> = of.points.iter().filter(|row| row.item(key).is_some()).collect();
            if of_key.is_empty() && !of.rows.is_empty() {
                let (word, head) = if key == "emf" { ("voltage", "emf_v") } else { ("resistance", "ohms_mohm") };
                let message = format!("the curve of {name} has no {word}");
                out.push(Diagnostic::error(codes::MISSING_KEY, of.points[0].at, "", message).help(format!("fill {head}")));
            }
        }
        for temperature in temperatures {
            let points: Vec<&&Row> =
                of.points.iter().filter(|row| row.si("temperature") == Some(temperature) && row.item("emf").is_some()).collect();
            for pair in points.windows(2) {
                let (Some(a), Some(b)) = (pair[0].item("emf"), pair[1].item("emf")) else { continue };
                if b.si > a.si {
                    let (from, to) = (percent(pair[0].si("depth").unwrap_or(0.0)), percent(pair[1].si("depth").unwrap_or(0.0)));
                    let show = |item: &Item| quantity::show(item.si, Quantity::Voltage);
                    let message =
                        format!("{name} at {}: the voltage rises from {} at {from} to {} at {to}", degrees(temperature), show(a), show(b));
                    out.push(contradiction(b.at, message, "what is discharged has no more voltage").note(a.at, "before"));
                }
            }
            let (Some(first), Some(last)) = (points.first(), points.last()) else { continue };
            for (row, end, word) in [(first, 0.0, "full"), (last, 1.0, "empty")] {
                if row.si("depth") != Some(end) {
                    let depth = row.item("depth").map_or(row.at, |item| item.at);
                    let message = format!("the curve of {name} at {} does not reach {word}, {}", degrees(temperature), percent(end));
                    out.push(Diagnostic::error(codes::MISSING_KEY, depth, "", message).help("a curve runs from 0 to 100 % of depth"));
                }
            }
        }
    }
}

/// Rows of a type rise in temperature, and within one in `key`; without a key each temperature stands once.
fn rows_rise(rows: &[Row], key: Option<&'static str>, what: &str, out: &mut Problems) {
    let mut last: HashMap<&Name, &Row> = HashMap::new();
    for row in rows {
        let Some(before) = last.insert(&row.of, row) else { continue };
        let (Some(t0), Some(t1)) = (before.item("temperature"), row.item("temperature")) else { continue };
        let show =
            |item: &Item, of: &str| quantity::show(item.si, if of == "temperature" { Quantity::Temperature } else { Quantity::Share });
        if t1.si < t0.si {
            let message = format!("{}: {} stands behind {}", row.of, show(t1, "temperature"), show(t0, "temperature"));
            out.push(contradiction(t1.at, message, "write the rows of a type by rising temperature").note(t0.at, "before"));
            continue;
        }
        if t1.si > t0.si {
            continue;
        }
        let Some(key) = key else {
            out.push(twice(t1.at, t0.at, format!("{what} {} at {}", row.of, show(t1, "temperature"))));
            continue;
        };
        let (Some(a), Some(b)) = (before.item(key), row.item(key)) else { continue };
        if a.si == b.si {
            out.push(twice(b.at, a.at, format!("{what} {} at {}", row.of, show(b, key))));
        } else if b.si < a.si {
            let message = format!("{}: {} stands behind {}", row.of, show(b, key), show(a, key));
            out.push(contradiction(b.at, message, &format!("write the rows of one temperature by rising {key}")).note(a.at, "before"));
        }
    }
}

/// Each row of the other lists is of a type that `batteries.csv` has; the first of a type that it has not says so.
fn types_exist(all: &Batteries, out: &mut Problems) {
    let types = all.types();
    let mut told: HashSet<&Name> = HashSet::new();
    for row in all.lists[1..].iter().flatten() {
        if types.contains(&&*row.of) || all.may_have(&row.of) || !told.insert(&row.of) {
            continue;
        }
        let message = format!("{} has rows and none in batteries.csv", row.of);
        let diagnostic = Diagnostic::error(codes::UNKNOWN_BATTERY, row.of_at, "", message);
        let diagnostic = match out.closest(&row.of, types.iter().copied()) {
            // One replacement would leave the other rows of that name as they are.
            Some(meant) if all.lists[1..].iter().flatten().filter(|other| other.of == row.of).count() == 1 => {
                diagnostic.help(format!("did you mean {meant}?")).replace(row.of_at, meant)
            }
            Some(meant) => diagnostic.help(format!("{meant} has one; if it is meant, its name goes into all rows")),
            None => diagnostic.help("add a row for the type to catalog/batteries.csv, with its kind and charge"),
        };
        out.push(diagnostic);
    }
}
