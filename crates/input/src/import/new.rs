//! The files of a folder that is begun from a list.

use super::list::{List, Wire};
use super::{AS_READ, BASE, REPORT, SETTINGS, line};
use crate::fields;
use crate::quantity::{Quantity, Unit};
use model::{ImportReport, name_fault};
use std::collections::BTreeSet;

/// Fields in the order of the columns of a list that is begun.
const ORDER: [&str; 12] =
    ["from", "to", "type", "gauge", "length", "current", "circuit", "cable", "cable_position", "group", "signal", "colour"];

/// The files of a new folder: the vehicle, its wires, and what the next import needs.
pub fn new_folder(list: &List, name: &str) -> Vec<(String, Vec<u8>)> {
    let mut files = vec![
        ("vehicle.toml".to_owned(), vehicle(list, name).into_bytes()),
        ("wires.csv".to_owned(), wires(&list.wires.iter().collect::<Vec<_>>(), &list.notes).into_bytes()),
    ];
    if !list.points.is_empty() {
        let text = format!("# Splices, studs and ground points that the wire list names.\n{}", points(list.points.iter()));
        files.push(("points.toml".to_owned(), text.into_bytes()));
    }
    files.extend(kept(list, &list.wires.iter().collect::<Vec<_>>()));
    files.sort();
    files
}

fn vehicle(list: &List, name: &str) -> String {
    let name: String = name.chars().map(|c| if name_fault(c.encode_utf8(&mut [0; 4])).is_none() { c } else { '-' }).take(64).collect();
    let name = if name.is_empty() { "vehicle" } else { &name };
    let file: String = list.report.file.chars().filter(|c| !c.is_control()).collect();
    format!(
        "# Begun from {file}. The wire list alone lets each wire with gauge, length and current be judged by itself; batteries, buses,\n\
         # breakers, loads and phases are written in this file or in any other .toml beside it.\n\
         format = 1\nname = \"{name}\"\n"
    )
}

/// Rows `[splice.SP1]` of points.
pub(super) fn points<'a>(points: impl Iterator<Item = &'a (&'static str, String)>) -> String {
    // A bare key holds letters, digits, dashes and underscores; an id may hold more.
    let key = |name: &str| match name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_') {
        true => name.to_owned(),
        false => format!("\"{name}\""),
    };
    points.map(|(kind, name)| format!("\n[{kind}.{}]\n", key(name))).collect()
}

/// The unit that all numbers of a field have, if they have one.
fn one_unit(wires: &[&Wire], field: &str) -> Option<&'static Unit> {
    let quantity = quantity_of(field)?;
    let mut words = wires.iter().filter_map(|w| w.fields.get(field)).filter_map(|text| text.rsplit_once(' ').map(|(_, word)| word));
    let first = words.next()?;
    words.all(|word| word == first).then(|| quantity.unit(first)).flatten()
}

/// What a field of numbers measures.
pub(super) fn quantity_of(field: &str) -> Option<Quantity> {
    match field {
        "gauge" => Some(Quantity::Gauge),
        "length" => Some(Quantity::Length),
        "current" => Some(Quantity::Current),
        _ => None,
    }
}

/// A wire list as it is begun.
pub(super) fn wires(wires: &[&Wire], notes: &[String]) -> String {
    let has = |field: &str| wires.iter().any(|w| w.fields.contains_key(field));
    let mut columns: Vec<(&str, Option<&Unit>)> = Vec::new();
    for field in ORDER.into_iter().chain(["notes"]) {
        // The fields that a list must have, and those that the next step fills in.
        if has(field) || ["from", "to", "gauge", "length", "current"].contains(&field) {
            let unit = match field {
                "gauge" => Some(Quantity::Gauge.usual_unit()),
                _ => one_unit(wires, field),
            };
            columns.push((field, unit));
        }
    }
    columns.extend(notes.iter().map(|head| (head.as_str(), None)));
    let head = |(field, unit): &(&str, Option<&Unit>)| unit.map_or((*field).to_owned(), |unit| format!("{field}_{}", unit.head_suffix()));
    let heads: Vec<String> = columns.iter().map(head).collect();
    let mut text = line(["wire"].into_iter().chain(heads.iter().map(String::as_str)));
    for wire in wires {
        let cells = columns.iter().map(|(field, unit)| {
            let said = wire.fields.get(*field).map_or("", String::as_str);
            unit.and_then(|unit| said.strip_suffix(unit.word)).map_or(said, str::trim_end)
        });
        text.push_str(&line([wire.name.as_str()].into_iter().chain(cells)));
    }
    text
}

/// What the next import needs, and what a person may want to see again.
pub(super) fn kept(list: &List, base: &[&Wire]) -> Vec<(String, Vec<u8>)> {
    let file: String = list.report.file.chars().filter(|c| !c.is_control()).collect();
    let mut map = format!("# How {file} was read: `loomwright import {file} DIR --map THIS-FILE` reads a list in the same way.\n");
    for (key, value) in &list.settings {
        map.push_str(&format!("{key}={value}\n"));
    }
    vec![
        (BASE.to_owned(), base_text(list, &file, base).into_bytes()),
        (AS_READ.to_owned(), list.as_read.clone().into_bytes()),
        (SETTINGS.to_owned(), map.into_bytes()),
        (REPORT.to_owned(), report(&list.report).into_bytes()),
    ]
}

fn base_text(list: &List, file: &str, base: &[&Wire]) -> String {
    let fields: BTreeSet<&str> = base.iter().flat_map(|w| w.fields.keys().map(String::as_str)).collect();
    let mut text =
        format!("# {file}, {}: its wires as they were understood. The next import is held against this; do not edit.\n", list.hash);
    text.push_str(&line(["wire"].into_iter().chain(fields.iter().copied())));
    for wire in base {
        let cells = fields.iter().map(|field| wire.fields.get(*field).map_or("", String::as_str));
        text.push_str(&line([wire.name.as_str()].into_iter().chain(cells)));
    }
    text
}

/// Every correction, refusal and conflict as a list.
fn report(report: &ImportReport) -> String {
    let mut text = line(["kind", "sheet", "row", "column", "wire", "stood", "became", "why"].into_iter());
    for (kind, notes) in [("corrected", &report.corrections), ("refused", &report.refused)] {
        for note in notes {
            let row = note.row.to_string();
            text.push_str(&line([kind, &note.sheet, &row, &note.column, &note.wire, &note.text, &note.became, &note.what].into_iter()));
        }
    }
    for conflict in report.merge.iter().flat_map(|merge| &merge.conflicts) {
        let why = format!("{}: kept {:?}; before {:?}", conflict.why, conflict.folder, conflict.before);
        text.push_str(&line(["conflict", "", "", &conflict.field, &conflict.wire, &conflict.list, &conflict.folder, &why].into_iter()));
    }
    text
}

/// The wires of a base that was kept.
pub(super) fn read_base(text: &str) -> Option<Vec<Wire>> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).flexible(true).from_reader(text.as_bytes());
    let heads: Vec<String> = reader.headers().ok()?.iter().map(str::to_owned).collect();
    if heads.first().map(String::as_str) != Some("wire") {
        return None;
    }
    let known = |head: &str| {
        head == "wire" || fields::is_note_head(head) || fields::table("wire").is_some_and(|t| t.fields.iter().any(|f| f.key == head))
    };
    if !heads.iter().all(|head| known(head)) {
        return None;
    }
    let mut wires = Vec::new();
    for record in reader.records() {
        let record = record.ok()?;
        let cells = heads.iter().zip(record.iter()).skip(1).filter(|(_, cell)| !cell.is_empty());
        wires.push(Wire {
            name: record.get(0)?.to_owned(),
            fields: cells.map(|(head, cell)| (head.clone(), cell.to_owned())).collect(),
            row: (0, 0),
        });
    }
    Some(wires)
}
