//! A newer list into a folder that is there: wire by wire and field by field, the list before, the folder, and the list now.
//!
//! What only one of the two has changed is taken; what both have changed is kept as the folder has it, and listed.

use super::cell;
use super::list::{List, Wire};
use super::new::{kept, points, quantity_of, read_base};
use super::workbook::refuse;
use super::{BASE, Stop, line, quoted};
use crate::edit::{self, Change, Head, Places};
use crate::fields;
use crate::quantity::{self, Unit};
use model::{MergeConflict, MergeReport};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A list of wires of the folder.
struct Sheet<'f> {
    path: &'f str,
    places: Places,
}

/// Where a wire of the folder stands.
#[derive(Clone, Copy)]
struct At {
    sheet: usize,
    row: usize,
}

/// The files of the folder that a newer list changes, as they are afterwards; the report of `list` then says what was merged.
///
/// `files` are those of the folder with those that the last import kept. The folder must load without an error.
///
/// # Errors
/// A base that cannot be read.
pub fn update(list: &mut List, files: &[(String, Vec<u8>)]) -> Result<Vec<(String, Vec<u8>)>, Stop> {
    let text = |path: &str| files.iter().find(|(p, _)| p == path).map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned());
    let base = match text(BASE) {
        None => Vec::new(),
        Some(text) => read_base(&text).ok_or_else(|| {
            refuse(
                format!("{BASE} cannot be read"),
                "it was changed by hand: bring it back, or delete it to take the folder as it is for the base",
            )
        })?,
    };
    let table = fields::table("wire").expect("the table of fields has wires");
    let is_list = |path: &str| !path.contains('/') && path.ends_with(".csv") && (path == "wires.csv" || path.starts_with("wires-"));
    let mut sheets: Vec<Sheet> = Vec::new();
    for (path, bytes) in files.iter().filter(|(path, _)| is_list(path)) {
        sheets.push(Sheet { path, places: edit::places(&String::from_utf8_lossy(bytes), table) });
    }
    let mut folder: HashMap<String, At> = HashMap::new();
    for (sheet, Sheet { places, .. }) in sheets.iter().enumerate() {
        let Some(column) = places.heads.iter().position(|head| head.field == "wire") else { continue };
        for (row, found) in places.rows.iter().enumerate() {
            if let Some(name) = found.texts.get(column).filter(|name| !name.is_empty()) {
                folder.insert(name.clone(), At { sheet, row });
            }
        }
    }
    let mut merge =
        Merging { sheets, cells: BTreeMap::new(), new_columns: BTreeMap::new(), removed: BTreeSet::new(), report: MergeReport::default() };
    let before: HashMap<&str, &Wire> = base.iter().map(|w| (w.name.as_str(), w)).collect();
    let now: HashMap<&str, &Wire> = list.wires.iter().map(|w| (w.name.as_str(), w)).collect();
    let mut added: Vec<&Wire> = Vec::new();
    for wire in &list.wires {
        match (before.get(wire.name.as_str()), folder.get(&wire.name)) {
            (None, None) => added.push(wire),
            (Some(old), None) => {
                if fields_of(old, wire).all(|field| cell::same(field, said(old, field), said(wire, field))) {
                    merge.report.kept += 1;
                } else {
                    merge.conflict(
                        &wire.name,
                        "",
                        (row_text(old), String::new(), row_text(wire)),
                        "taken out of the folder by hand, changed in the list",
                    );
                }
            }
            (old, Some(&at)) => merge.wire(old.copied(), wire, at),
        }
    }
    for old in base.iter().filter(|old| !now.contains_key(old.name.as_str())) {
        let Some(&at) = folder.get(&old.name) else { continue };
        if list.refused.contains(&old.name) {
            merge.conflict(&old.name, "", (row_text(old), merge.row_text(at), String::new()), "its row of the new list was refused");
        } else if list.refused_unknown {
            merge.conflict(
                &old.name,
                "",
                (row_text(old), merge.row_text(at), String::new()),
                "gone from the list, unless it is a row that was refused",
            );
        } else if merge.is_as(old, at) {
            merge.report.removed.push(old.name.clone());
            merge.removed.insert((at.sheet, at.row));
        } else {
            merge.conflict(&old.name, "", (row_text(old), merge.row_text(at), String::new()), "changed by hand, gone from the list");
        }
    }
    merge.report.own = folder.keys().filter(|name| !before.contains_key(name.as_str()) && !now.contains_key(name.as_str())).count();
    merge.report.added = added.iter().map(|wire| wire.name.clone()).collect();
    let mut changes = merge.changes(&added, list);
    changes.extend(new_points(list, files));
    let mut edited = edit::edit(files, &changes);

    // The next base: this list, and of rows that could not be read what they were before.
    let stays = |old: &&Wire| !now.contains_key(old.name.as_str()) && (list.refused.contains(&old.name) || list.refused_unknown);
    let next: Vec<&Wire> = list.wires.iter().chain(base.iter().filter(stays)).collect();
    let report = std::mem::take(&mut merge.report);
    list.report.merge = Some(report);
    for (path, bytes) in kept(list, &next) {
        if !files.iter().any(|(p, b)| *p == path && *b == bytes) {
            edited.push((path, bytes));
        }
    }
    edited.sort();
    Ok(edited)
}

struct Merging<'f> {
    sheets: Vec<Sheet<'f>>,
    /// New texts of cells, by sheet, row and column.
    cells: BTreeMap<(usize, usize, usize), String>,
    /// Fields that a sheet has no column for: by sheet and field, the text of each row.
    new_columns: BTreeMap<(usize, String), BTreeMap<usize, String>>,
    removed: BTreeSet<(usize, usize)>,
    report: MergeReport,
}

impl Merging<'_> {
    fn conflict(&mut self, wire: &str, field: &str, (before, folder, list): (String, String, String), why: &'static str) {
        self.report.conflicts.push(MergeConflict { wire: wire.to_owned(), field: field.to_owned(), before, folder, list, why });
    }

    /// What the folder says of a field, with the unit of its head.
    fn said(&self, at: At, field: &str) -> String {
        let Sheet { places, .. } = &self.sheets[at.sheet];
        let Some(column) = places.heads.iter().position(|head| head.field == field) else { return String::new() };
        let text = places.rows[at.row].texts.get(column).map_or("", String::as_str);
        with_unit(text, &places.heads[column])
    }

    fn row_text(&self, at: At) -> String {
        self.sheets[at.sheet].places.rows[at.row].texts.iter().filter(|text| !text.is_empty()).cloned().collect::<Vec<_>>().join(" ")
    }

    fn is_as(&self, old: &Wire, at: At) -> bool {
        let heads = self.sheets[at.sheet].places.heads.iter().map(|head| head.field.as_str());
        let own = heads.filter(|field| !field.is_empty() && *field != "wire");
        let mut fields: BTreeSet<&str> = old.fields.keys().map(String::as_str).collect();
        fields.extend(own);
        fields.into_iter().all(|field| cell::same(field, said(old, field), &self.said(at, field)))
    }

    fn wire(&mut self, old: Option<&Wire>, new: &Wire, at: At) {
        let nothing = Wire { name: String::new(), fields: BTreeMap::new(), row: (0, 0) };
        let fields: Vec<String> = fields_of(old.unwrap_or(&nothing), new).map(str::to_owned).collect();
        for field in fields {
            let (before, list) = (said(old.unwrap_or(&nothing), &field), said(new, &field));
            let folder = self.said(at, &field);
            let same = |one: &str, other: &str| cell::same(&field, one, other);
            if same(&folder, list) {
                continue;
            }
            if old.is_some() && same(before, list) {
                self.report.kept += 1;
            } else if old.is_some() && same(before, &folder) {
                self.report.changed.push([new.name.clone(), field.clone(), folder, list.to_owned()]);
                self.set(at, &field, list);
            } else {
                let why = if old.is_some() { "changed in both" } else { "the folder has a wire of this id that no list had" };
                self.conflict(&new.name, &field, (before.to_owned(), folder, list.to_owned()), why);
            }
        }
    }

    fn set(&mut self, at: At, field: &str, text: &str) {
        let places = &self.sheets[at.sheet].places;
        match places.heads.iter().position(|head| head.field == field) {
            Some(column) => {
                let text = without_unit(text, &places.heads[column]);
                self.cells.insert((at.sheet, at.row, column), text);
            }
            None => drop(self.new_columns.entry((at.sheet, field.to_owned())).or_default().insert(at.row, text.to_owned())),
        }
    }

    /// The changes of the lists: cells, columns put in, rows put in and taken out.
    fn changes(&mut self, added: &[&Wire], list: &List) -> Vec<Change> {
        let mut changes = Vec::new();
        // New wires go where the first import put them, or else into the first list of the folder.
        let into = self.sheets.iter().position(|s| s.path == "wires.csv").or(if self.sheets.is_empty() { None } else { Some(0) });
        if let Some(into) = into {
            let has = |field: &str| self.sheets[into].places.heads.iter().any(|head| head.field == field);
            let lacking: BTreeSet<&str> =
                added.iter().flat_map(|w| w.fields.keys().map(String::as_str)).filter(|field| !has(field)).collect();
            for field in lacking {
                self.new_columns.entry((into, field.to_owned())).or_default();
            }
        }
        for (number, Sheet { path, places }) in self.sheets.iter().enumerate() {
            let change = |at: std::ops::Range<usize>, text: String| Change { path: (*path).to_owned(), at, text };
            let new: Vec<(&String, &BTreeMap<usize, String>)> =
                self.new_columns.iter().filter(|((sheet, _), _)| *sheet == number).map(|((_, field), rows)| (field, rows)).collect();
            if !new.is_empty() {
                let heads: String = new.iter().map(|(field, _)| format!(",{}", quoted(field))).collect();
                changes.push(change(places.heads_end..places.heads_end, heads));
            }
            for (row, found) in places.rows.iter().enumerate() {
                if self.removed.contains(&(number, row)) {
                    changes.push(change(found.line.clone(), String::new()));
                    continue;
                }
                for ((_, _, column), text) in self.cells.range((number, row, 0)..(number, row + 1, 0)) {
                    changes.push(change(found.cells[*column].clone(), quoted(text)));
                }
                if !new.is_empty() {
                    let cells: String =
                        new.iter().map(|(_, rows)| format!(",{}", rows.get(&row).map_or(String::new(), |text| quoted(text)))).collect();
                    changes.push(change(found.end..found.end, cells));
                }
            }
            if Some(number) == into && !added.is_empty() {
                let mut text = String::new();
                if !places.is_ended {
                    text.push_str(places.line_end);
                }
                for wire in added {
                    let own = places
                        .heads
                        .iter()
                        .map(|head| if head.field == "wire" { wire.name.clone() } else { without_unit(said(wire, &head.field), head) });
                    let more = new.iter().map(|(field, _)| said(wire, field).to_owned());
                    let cells: Vec<String> = own.chain(more).collect();
                    text.push_str(line(cells.iter().map(String::as_str)).trim_end_matches('\n'));
                    text.push_str(places.line_end);
                }
                changes.push(change(places.length..places.length, text));
            }
        }
        if into.is_none() && !added.is_empty() {
            let text = super::new::wires(added, &list.notes);
            changes.push(Change { path: "wires.csv".to_owned(), at: 0..0, text });
        }
        changes
    }
}

fn said<'w>(wire: &'w Wire, field: &str) -> &'w str {
    wire.fields.get(field).map_or("", String::as_str)
}

fn fields_of<'w>(one: &'w Wire, other: &'w Wire) -> impl Iterator<Item = &'w str> {
    one.fields.keys().chain(other.fields.keys()).map(String::as_str).collect::<BTreeSet<_>>().into_iter()
}

fn row_text(wire: &Wire) -> String {
    wire.fields.values().cloned().collect::<Vec<_>>().join(" ")
}

/// A cell with the unit of its head: `3.2` under `length_m` is `3.2 m`.
fn with_unit(text: &str, head: &Head) -> String {
    match head.unit {
        Some(unit) if text.ends_with(|c: char| c.is_ascii_digit() || c == '.') => format!("{text} {}", unit.word),
        _ => text.to_owned(),
    }
}

/// A value as a cell under its head has it; numbers are turned into the head's unit.
fn without_unit(text: &str, head: &Head) -> String {
    let (Some(unit), Some(quantity)) = (head.unit, quantity_of(&head.field)) else { return text.to_owned() };
    let (mark, value) = match text.strip_prefix("TBC ") {
        Some(value) => ("TBC ", value),
        None => ("", text),
    };
    if let Some(number) = value.strip_suffix(unit.word) {
        return format!("{mark}{}", number.trim_end());
    }
    match quantity::parse(value, quantity) {
        Ok(si) => format!("{mark}{}", in_unit(si, unit)),
        Err(_) => text.to_owned(),
    }
}

/// A number in a unit to twelve digits: what a change of units adds beyond them is noise.
fn in_unit(si: f64, unit: &Unit) -> String {
    let number = unit.from_si(si);
    format!("{number:.11e}").parse::<f64>().map_or(number.to_string(), |rounded| rounded.to_string())
}

/// Points that the list names and no file of the folder declares.
fn new_points(list: &List, files: &[(String, Vec<u8>)]) -> Option<Change> {
    let declared = super::declared(files);
    let new: Vec<_> = list.points.iter().filter(|(kind, name)| !declared.contains(&((*kind).to_owned(), name.clone()))).collect();
    if new.is_empty() {
        return None;
    }
    let length = files.iter().find(|(path, _)| path == "points.toml").map_or(0, |(_, bytes)| bytes.len());
    Some(Change { path: "points.toml".to_owned(), at: length..length, text: points(new.into_iter()) })
}
