//! The rows of the sheets: each a wire as it stands, a wire after corrections, or refused with its reason.

use super::cell::{self, Decimal, EndRead, Read, Special};
use super::heads::{self, Column, Columns, Words};
use super::workbook::{self, Grid, Kind, letters};
use super::{Answers, Stop};
use crate::catalog::{self, Catalog, USUAL_TYPE};
use crate::fields::{self, TableSpec};
use crate::folder;
use crate::problems::Problems;
use crate::quantity::{self, Quantity, Unit};
use crate::value::{self, Slot};
use model::*;
use physics::gauge::Awg;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A list as read.
pub struct List {
    /// What became of its rows.
    pub report: ImportReport,
    /// The wires, in the order of the list.
    pub(super) wires: Vec<Wire>,
    /// Heads of columns kept as notes, in the order of the list.
    pub(super) notes: Vec<String>,
    /// Splices, studs and ground points that the list names.
    pub(super) points: BTreeSet<(&'static str, String)>,
    /// Ids in rows that were refused.
    pub(super) refused: BTreeSet<String>,
    /// Whether a row was refused whose id could not be read.
    pub(super) refused_unknown: bool,
    /// The answers in force, with those that the list itself gave.
    pub(super) settings: Vec<(String, String)>,
    /// The cells as read.
    pub(super) as_read: String,
    /// Hash of the file.
    pub(super) hash: String,
}

/// A row of the list in the words of a vehicle's files: by field, numbers with their unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wire {
    pub(super) name: String,
    /// `from`, `gauge`, `note_harness` …; what is not said is not there.
    pub(super) fields: BTreeMap<String, String>,
    /// Sheet and row, for messages.
    pub(super) row: (usize, usize),
}

/// Reads a list: its bytes, what the user said of it, and the files of the folder it goes into, for their catalog.
///
/// # Errors
/// A list that cannot be taken, or a question that only the user can answer.
pub fn read(file: &str, bytes: &[u8], answers: &Answers, files: &[(String, Vec<u8>)]) -> Result<List, Stop> {
    let grids = workbook::read(bytes)?;
    let words = Words::shipped();
    let (chosen, left) = choose(&grids, &words, answers)?;
    let mut reading = Reading {
        answers,
        catalog: catalog_of(files),
        table: fields::table("wire").expect("the table of fields has wires"),
        report: ImportReport { file: file.to_owned(), left, ..ImportReport::default() },
        with_units: false,
        declared: super::declared(files),
        decimal: [Decimal::Point; 2],
        points: BTreeSet::new(),
        refused: BTreeSet::new(),
        refused_unknown: false,
        corrected_rows: BTreeSet::new(),
    };
    let mut questions: Vec<ImportQuestion> = chosen.iter().flat_map(|(_, columns)| columns.questions.clone()).collect();
    reading.report.sheets = chosen.iter().map(|(grid, columns)| columns.mapping(grid)).collect();
    reading.report.remarks = chosen.iter().flat_map(|(grid, _)| grid.remarks.iter().cloned()).collect();
    reading.numbers(&chosen, &mut questions);
    reading.units_of_connectors(&chosen, &mut questions);
    if !questions.is_empty() {
        return Err(Stop::Asked { questions, sheets: reading.report.sheets, left: reading.report.left });
    }
    let mut wires = Vec::new();
    let mut notes: Vec<String> = Vec::new();
    for (at, (grid, columns)) in chosen.iter().enumerate() {
        let heads = note_heads(columns);
        for head in heads.values().chain(unit_heads(columns, reading.with_units)) {
            if !notes.contains(head) {
                notes.push(head.clone());
            }
        }
        for row in columns.head_row + 1..grid.rows.len() {
            wires.extend(reading.row(grid, columns, &heads, at, row));
        }
    }
    if chosen.len() > 1 {
        notes.push("note_sheet".to_owned());
        for wire in &mut wires {
            wire.fields.insert("note_sheet".to_owned(), chosen[wire.row.0].0.name.clone());
        }
    }
    let wires = reading.without_repeats(wires, &chosen);
    // What rows of themselves say: a type that is not in the catalog, a circuit in doubt.
    let more: BTreeSet<&String> =
        wires.iter().flat_map(|w| w.fields.keys()).filter(|f| f.starts_with("note_") && !notes.contains(*f)).collect();
    let more: Vec<String> = more.into_iter().cloned().collect();
    notes.extend(more);
    notes.retain(|head| wires.iter().any(|wire| wire.fields.contains_key(head)));
    let corrected = wires.iter().filter(|wire| reading.corrected_rows.contains(&wire.row)).count();
    reading.report.corrected = corrected;
    reading.report.accepted = wires.len() - corrected;
    let has = |wire: &&Wire, field: &str| wire.fields.get(field).is_some_and(|text| text != "TBD");
    reading.report.without_length = wires.iter().filter(|w| !has(w, "length")).count();
    reading.report.without_current = wires.iter().filter(|w| !has(w, "current")).count();
    reading.report.alone = wires.iter().filter(|w| has(w, "gauge") && has(w, "length") && has(w, "current")).count();
    // A row that was refused in the end keeps no corrections.
    let kept: BTreeSet<(&str, usize)> = wires.iter().map(|w| (chosen[w.row.0].0.name.as_str(), w.row.1)).collect();
    reading.report.corrections.retain(|note| kept.contains(&(note.sheet.as_str(), note.row)));
    let order: HashMap<&str, usize> = chosen.iter().enumerate().map(|(at, (grid, _))| (grid.name.as_str(), at)).collect();
    reading.report.refused.sort_by_key(|note| (order.get(note.sheet.as_str()).copied(), note.row));
    let settings = settings(answers, &chosen, reading.with_units, &grids);
    let Reading { report, points, refused, refused_unknown, .. } = reading;
    Ok(List { report, wires, notes, points, refused, refused_unknown, settings, as_read: as_read(&chosen), hash: super::hash(bytes) })
}

/// Sheets to read with their columns, and sheets left alone.
type Chosen<'g> = (Vec<(&'g Grid, Columns)>, Vec<(String, String)>);

fn choose<'g>(grids: &'g [Grid], words: &Words, answers: &Answers) -> Result<Chosen<'g>, Stop> {
    let names = || grids.iter().map(|g| g.name.as_str()).collect::<Vec<_>>().join(", ");
    let mut chosen: Vec<(&Grid, Columns)> = Vec::new();
    let mut left: Vec<(String, String)> = Vec::new();
    let no_heads = |grid: &Grid| {
        let place = if grid.name.is_empty() { "the list".to_owned() } else { format!("sheet {:?}", grid.name) };
        match answers.head_row {
            Some(row) => workbook::refuse(
                format!("row {row} of {place} is empty"),
                "give the row that holds the heads of the columns: --map header=ROW",
            ),
            None => Stop::Asked {
                questions: vec![ImportQuestion {
                    text: format!("no row of {place} looks like the heads of a wire list; in which row are they?"),
                    answers: vec!["--map header=ROW --map from=COLUMN --map to=COLUMN --map gauge=COLUMN".to_owned()],
                }],
                sheets: Vec::new(),
                left: Vec::new(),
            },
        }
    };
    let every = answers.sheets.iter().any(|sheet| sheet == "all");
    if !answers.sheets.is_empty() && !every {
        for asked in &answers.sheets {
            let by_number = asked.parse::<usize>().ok().and_then(|n| grids.get(n.checked_sub(1)?));
            let Some(grid) = grids.iter().find(|g| g.name == *asked).or(by_number) else {
                return Err(workbook::refuse(format!("there is no sheet {asked:?}"), format!("there are {}", names())));
            };
            if !chosen.iter().any(|(other, _)| std::ptr::eq(*other, grid)) {
                chosen.push((grid, heads::find(grid, words, answers).ok_or_else(|| no_heads(grid))?));
            }
        }
        left.extend(
            grids
                .iter()
                .filter(|g| !chosen.iter().any(|(c, _)| std::ptr::eq(*c, *g)))
                .map(|g| (g.name.clone(), "not asked for".to_owned())),
        );
        return Ok((chosen, left));
    }
    for grid in grids {
        let reason = if grid.rows.is_empty() {
            "empty"
        } else if grid.hidden && !every {
            "hidden"
        } else {
            match heads::find(grid, words, answers).filter(|columns| grids.len() == 1 || columns.is_list()) {
                Some(columns) => {
                    chosen.push((grid, columns));
                    continue;
                }
                None => "no heads of a wire list",
            }
        };
        left.push((grid.name.clone(), reason.to_owned()));
    }
    match &chosen[..] {
        [] => {
            let filled: Vec<&Grid> = grids.iter().filter(|g| !g.rows.is_empty()).collect();
            Err(match filled[..] {
                [] => workbook::refuse("the list is empty", "its first rows name the columns, at least both ends and the gauge"),
                [only] => no_heads(only),
                _ => Stop::Asked {
                    questions: vec![ImportQuestion {
                        text: "no sheet that can be seen has heads of a wire list; which one is it?".to_owned(),
                        answers: filled.iter().map(|g| format!("--sheet {:?}", g.name)).collect(),
                    }],
                    sheets: Vec::new(),
                    left,
                },
            })
        }
        [_] => Ok((chosen, left)),
        _ if every => Ok((chosen, left)),
        several => Err(Stop::Asked {
            questions: vec![ImportQuestion {
                text: "several sheets look like wire lists; which ones are to be read?".to_owned(),
                answers: several.iter().map(|(g, _)| format!("--sheet {:?}", g.name)).chain(["--sheet all".to_owned()]).collect(),
            }],
            sheets: several.iter().map(|(grid, columns)| columns.mapping(grid)).collect(),
            left,
        }),
    }
}

fn catalog_of(files: &[(String, Vec<u8>)]) -> Catalog {
    let mut sources = Sources::default();
    let mut out = Problems::default();
    let catalogs: Vec<(String, Vec<u8>)> = files.iter().filter(|(path, _)| path.starts_with("catalog/")).cloned().collect();
    let folder = folder::open(&catalogs, &mut sources, &mut out);
    catalog::read(&sources, &folder, &mut out)
}

/// Heads under which columns without a field are kept, by column.
fn note_heads(columns: &Columns) -> BTreeMap<usize, String> {
    let mut heads: BTreeMap<usize, String> = BTreeMap::new();
    for column in columns.all.iter().filter(|c| c.field.is_none()) {
        let mut head: String = column.head.chars().map(|c| if c.is_alphanumeric() { c } else { '_' }).collect();
        while head.contains("__") {
            head = head.replace("__", "_");
        }
        let head = head.trim_matches('_').to_lowercase();
        let head = head.strip_prefix("note_").unwrap_or(&head);
        let mut named = if head.is_empty() { format!("note_column_{}", letters(column.at).to_lowercase()) } else { format!("note_{head}") };
        if heads.values().any(|other| *other == named) {
            named = format!("{named}_{}", letters(column.at).to_lowercase());
        }
        heads.insert(column.at, named);
    }
    heads
}

/// Units are kept as notes where connector ids do not carry them.
fn unit_heads(columns: &Columns, with_units: bool) -> &'static [String] {
    use std::sync::LazyLock;
    static HEADS: LazyLock<[String; 2]> = LazyLock::new(|| ["note_from_unit".to_owned(), "note_to_unit".to_owned()]);
    let has = columns.of("from_unit").is_some() || columns.of("to_unit").is_some();
    if has && !with_units { &*HEADS } else { &[] }
}

/// Answers that a newer version of the list must be read by.
fn settings(answers: &Answers, chosen: &[(&Grid, Columns)], with_units: bool, grids: &[Grid]) -> Vec<(String, String)> {
    let mut settings: Vec<(String, String)> = Vec::new();
    if grids.len() > 1 {
        settings.extend(chosen.iter().map(|(grid, _)| ("sheet".to_owned(), grid.name.clone())));
    }
    settings.extend(answers.head_row.map(|row| ("header".to_owned(), row.to_string())));
    // By its head rather than by its letters, which move when a column is put in.
    for (field, named) in &answers.columns {
        let heads = |at: usize| {
            let all = chosen.iter().map(|(_, columns)| columns.all.iter().find(|c| c.at == at).map_or("", |c| c.head.as_str()));
            let mut all = all.collect::<Vec<_>>();
            all.dedup();
            all
        };
        let stands_once = |head: &str| {
            !head.is_empty()
                && head == head.trim()
                && workbook::column_of(head).is_none()
                && chosen.iter().all(|(_, columns)| columns.all.iter().filter(|c| c.head == head).count() == 1)
        };
        let head = match workbook::column_of(named).map(heads).as_deref() {
            Some([head]) if stands_once(head) => (*head).to_owned(),
            _ => named.clone(),
        };
        settings.push(((*field).to_owned(), one_line(&head)));
    }
    settings.extend(answers.decimal.map(|d| ("decimal".to_owned(), if d == Decimal::Point { "point" } else { "comma" }.to_owned())));
    settings.extend(answers.length_unit.map(|unit| ("length_unit".to_owned(), unit.word.to_owned())));
    settings.extend(answers.current_unit.map(|unit| ("current_unit".to_owned(), unit.word.to_owned())));
    if chosen.iter().any(|(_, columns)| columns.of("from_unit").is_some() || columns.of("to_unit").is_some()) {
        settings.push(("connectors".to_owned(), if with_units { "with-unit" } else { "as-written" }.to_owned()));
    }
    settings
}

fn as_read(chosen: &[(&Grid, Columns)]) -> String {
    let mut text = String::new();
    for (grid, _) in chosen {
        for row in &grid.rows {
            let number = row.number.to_string();
            let cells = [grid.name.as_str(), number.as_str()].into_iter().chain(row.cells.iter().map(|cell| &*cell.text));
            text.push_str(&super::line(cells));
        }
    }
    text
}

struct Reading<'a> {
    answers: &'a Answers,
    catalog: Catalog,
    table: &'static TableSpec,
    report: ImportReport,
    with_units: bool,
    /// What the folder's files declare.
    declared: BTreeSet<(String, String)>,
    /// Of lengths and of currents.
    decimal: [Decimal; 2],
    points: BTreeSet<(&'static str, String)>,
    refused: BTreeSet<String>,
    refused_unknown: bool,
    corrected_rows: BTreeSet<(usize, usize)>,
}

/// Why a row is refused: the column, if it is one cell, and the reason.
struct Refusal {
    column: Option<usize>,
    text: String,
    why: String,
    lost: bool,
}

/// A row on its way.
struct RowReading<'a> {
    grid: &'a Grid,
    columns: &'a Columns,
    at: usize,
    fields: BTreeMap<String, String>,
    /// Column, what stands there, what it became, what was done.
    corrections: Vec<(usize, String, String, String)>,
    not_applicable: Vec<String>,
}

impl<'a> RowReading<'a> {
    /// The cell of a field; blank where a merged area merely passes over it.
    fn cell(&self, field: &str) -> (&'a str, Option<&'a Column>) {
        let Some(column) = self.columns.of(field) else { return ("", None) };
        (self.text(column), Some(column))
    }
    fn text(&self, column: &Column) -> &'a str {
        if self.grid.kind(self.at, column.at) == Kind::Across { "" } else { self.grid.text(self.at, column.at) }
    }
    fn refuse(&self, column: Option<&Column>, why: impl Into<String>) -> Refusal {
        let text = column.map_or("", |column| self.text(column));
        Refusal { column: column.map(|c| c.at), text: text.to_owned(), why: why.into(), lost: true }
    }
    fn correct(&mut self, column: Option<&Column>, became: &str, what: &str) {
        if let (Some(column), false) = (column, what.is_empty()) {
            let text = self.text(column).to_owned();
            self.corrections.push((column.at, text, became.to_owned(), what.to_owned()));
        }
    }
}

impl Reading<'_> {
    /// Decimal point or comma, by the numbers of each column in all sheets.
    fn numbers(&mut self, chosen: &[(&Grid, Columns)], questions: &mut Vec<ImportQuestion>) {
        for (slot, field) in ["length", "current"].into_iter().enumerate() {
            if let Some(decimal) = self.answers.decimal {
                self.decimal[slot] = decimal;
                continue;
            }
            let mut seen: [Option<String>; 2] = [None, None];
            let mut ambiguous: Option<String> = None;
            for (grid, columns) in chosen {
                let Some(column) = columns.of(field) else { continue };
                for row in columns.head_row + 1..grid.rows.len() {
                    let text = grid.text(row, column.at);
                    if text.is_empty() || grid.kind(row, column.at) == Kind::Number {
                        continue;
                    }
                    let place = || format!("{}{} ({text:?})", letters(column.at), grid.rows[row].number);
                    match cell::decimal_evidence(text) {
                        Some(Decimal::Point) if seen[0].is_none() => seen[0] = Some(place()),
                        Some(Decimal::Comma) if seen[1].is_none() => seen[1] = Some(place()),
                        None if ambiguous.is_none() && cell::is_ambiguous(text) => ambiguous = Some(place()),
                        _ => {}
                    }
                }
            }
            let answers = || vec!["--map decimal=point".to_owned(), "--map decimal=comma".to_owned()];
            match (seen, ambiguous) {
                ([Some(point), Some(comma)], _) => questions.push(ImportQuestion {
                    text: format!(
                        "some numbers of {field} have a decimal point and some a decimal comma: {point}, {comma}; which is right?"
                    ),
                    answers: answers(),
                }),
                ([None, None], Some(place)) => questions.push(ImportQuestion {
                    text: format!("is the comma in {place} a decimal comma or a separator of thousands? No other {field} says"),
                    answers: answers(),
                }),
                ([None, Some(_)], _) => self.decimal[slot] = Decimal::Comma,
                _ => self.decimal[slot] = Decimal::Point,
            }
        }
    }

    /// A connector id is that of one connector in the vehicle; where a list gives each box a J1, ids must carry the box.
    fn units_of_connectors(&mut self, chosen: &[(&Grid, Columns)], questions: &mut Vec<ImportQuestion>) {
        let mut units: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (grid, columns) in chosen {
            for side in ["from", "to"] {
                let Some(unit) = columns.of(&format!("{side}_unit")) else { continue };
                let connector = columns.of(&format!("{side}_connector"));
                let Some(column) = connector.or(columns.of(side)) else { continue };
                for row in columns.head_row + 1..grid.rows.len() {
                    let (unit, text) = (grid.text(row, unit.at), grid.text(row, column.at));
                    let of = match connector {
                        Some(_) if cell::special(text).is_none() => cell::id(text).ok().map(|id| id.text),
                        Some(_) => None,
                        None => cell::end(text).ok().and_then(|end| end.connector),
                    };
                    if let (Some(connector), None) = (of, cell::special(unit)) {
                        units.entry(connector).or_default().insert(unit.to_owned());
                    }
                }
            }
        }
        let several = units.iter().find(|(_, of)| of.len() > 1);
        let list = |of: &BTreeSet<String>| of.iter().take(3).cloned().collect::<Vec<_>>().join(" and ");
        match (self.answers.with_units, several) {
            (Some(false), Some((connector, of))) => questions.push(ImportQuestion {
                text: format!("connector {connector} is on units {}; its id must be that of one connector", list(of)),
                answers: vec!["--map connectors=with-unit".to_owned()],
            }),
            (None, Some((connector, of))) => {
                self.with_units = true;
                self.report.remarks.push(format!("connector ids carry their unit, since {connector} is on {}", list(of)));
            }
            (given, _) => self.with_units = given.unwrap_or(false),
        }
    }

    fn row(&mut self, grid: &Grid, columns: &Columns, heads: &BTreeMap<usize, String>, sheet: usize, at: usize) -> Option<Wire> {
        let own: Vec<usize> = (0..grid.rows[at].cells.len())
            .filter(|column| !grid.text(at, *column).is_empty() && !matches!(grid.kind(at, *column), Kind::Across | Kind::Merged))
            .collect();
        if own.is_empty() && !(0..grid.rows[at].cells.len()).any(|column| grid.kind(at, column) == Kind::Merged) {
            return None;
        }
        self.report.read += 1;
        let number = grid.rows[at].number;
        let mut row = RowReading { grid, columns, at, fields: BTreeMap::new(), corrections: Vec::new(), not_applicable: Vec::new() };
        let plain = |why: &str| Refusal {
            column: None,
            text: own.first().map_or(String::new(), |c| grid.text(at, *c).to_owned()),
            why: why.to_owned(),
            lost: false,
        };
        let same_as_heads = |c: &&Column| grid.text(at, c.at).eq_ignore_ascii_case(grid.text(columns.head_row, c.at));
        let named = columns.all.iter().filter(|c| !grid.text(columns.head_row, c.at).is_empty());
        let refusal = if named.clone().all(|c| same_as_heads(&c)) {
            Some(plain("repeats the heads"))
        } else if own.len() == 1 && columns.all.len() > 2 {
            Some(plain("a single cell: a title or remark, not a wire"))
        } else if columns
            .all
            .iter()
            .filter(|c| !matches!(c.field, Some("wire" | "length" | "current" | "notes" | "circuit") | None))
            .all(|c| matches!(cell::special(row.text(c)), Some(Special::Blank)))
        {
            Some(plain("neither ends nor gauge: a total or remark, not a wire"))
        } else {
            self.wire(&mut row, heads).err()
        };
        let name = row.fields.remove("wire").unwrap_or_default();
        match refusal {
            None => {
                for (column, text, became, what) in row.corrections {
                    self.corrected_rows.insert((sheet, number));
                    self.report.corrections.push(RowNote {
                        sheet: grid.name.clone(),
                        row: number,
                        column: letters(column),
                        wire: name.clone(),
                        text,
                        became,
                        what,
                        lost: false,
                    });
                }
                Some(Wire { name, fields: row.fields, row: (sheet, number) })
            }
            Some(refusal) => {
                if refusal.lost {
                    match name.is_empty() {
                        true => self.refused_unknown = true,
                        false => drop(self.refused.insert(name.clone())),
                    }
                }
                self.report.refused.push(RowNote {
                    sheet: grid.name.clone(),
                    row: number,
                    column: refusal.column.map(letters).unwrap_or_default(),
                    wire: name,
                    text: refusal.text,
                    became: String::new(),
                    what: refusal.why,
                    lost: refusal.lost,
                });
                None
            }
        }
    }

    fn wire(&mut self, row: &mut RowReading, heads: &BTreeMap<usize, String>) -> Result<(), Refusal> {
        // The id first: a refused row is named by it.
        let (text, column) = row.cell("wire");
        if cell::special(text).is_none() {
            let id = cell::id(text).map_err(|fault| row.refuse(column, fault))?;
            row.correct(column, &id.text, id.what);
            row.fields.insert("wire".to_owned(), id.text);
        }
        for column in &row.columns.all {
            let text = row.text(column);
            let why = match row.grid.kind(row.at, column.at) {
                _ if column.field.is_none() => continue,
                Kind::External => "a formula that asks another workbook",
                Kind::Unstored => "a formula without a stored value: open the list in its program and save it",
                Kind::Error => "an error stands in the cell",
                Kind::Date => "a date: a spreadsheet program makes one of 1-2",
                Kind::Text if matches!(column.field, Some("from_pin" | "to_pin" | "from" | "to")) && cell::looks_like_date(text) => {
                    "a date: a spreadsheet program makes one of 1-2"
                }
                Kind::Formula => {
                    row.correct(Some(column), text, "formula: its stored value is taken");
                    continue;
                }
                Kind::Merged => {
                    row.correct(Some(column), text, "merged cells: what their first one says");
                    continue;
                }
                _ => continue,
            };
            return Err(row.refuse(Some(column), why));
        }
        let from = self.end(row, "from")?;
        let to = self.end(row, "to")?;
        if from.text == to.text && from.text != "stowed" {
            return Err(row.refuse(None, "begins and ends on the same point"));
        }
        let (gauge, kind) = self.gauge_and_type(row)?;
        row.fields.insert("gauge".to_owned(), gauge);
        if let Some(kind) = kind {
            row.fields.insert("type".to_owned(), kind);
        }
        self.number(row, "length", Quantity::Length, self.decimal[0])?;
        self.number(row, "current", Quantity::Current, self.decimal[1])?;
        for field in ["circuit", "cable", "cable_position", "group"] {
            let (text, column) = row.cell(field);
            match cell::special(text) {
                Some(Special::Blank) => {}
                Some(Special::NotApplicable) => row.not_applicable.push(field.to_owned()),
                Some(Special::Open | Special::Doubt) => {
                    row.correct(column, "", "kept as a note");
                    row.fields.insert(format!("note_{field}"), text.to_owned());
                }
                None => {
                    let id = cell::id(text).map_err(|fault| row.refuse(column, fault))?;
                    row.correct(column, &id.text, id.what);
                    row.fields.insert(field.to_owned(), id.text);
                }
            }
        }
        for field in ["signal", "colour"] {
            let (text, _) = row.cell(field);
            match cell::special(text) {
                Some(Special::Blank) => {}
                Some(Special::NotApplicable) => row.not_applicable.push(field.to_owned()),
                _ => drop(row.fields.insert(field.to_owned(), one_line(text))),
            }
        }
        let (notes, _) = row.cell("notes");
        let mut said: Vec<String> = Some(one_line(notes)).filter(|n| cell::special(n) != Some(Special::Blank)).into_iter().collect();
        said.extend(row.not_applicable.iter().map(|field| format!("{field} N/A")));
        if !said.is_empty() {
            row.fields.insert("notes".to_owned(), said.join("; "));
        }
        for (at, head) in heads {
            let text = if row.grid.kind(row.at, *at) == Kind::Across { "" } else { row.grid.text(row.at, *at) };
            if !text.is_empty() {
                // A row may have said something under this head already: a type that is not in the catalog.
                let before = row.fields.remove(head).map_or(String::new(), |before| before + "; ");
                row.fields.insert(head.clone(), before + &one_line(text));
            }
        }
        row.fields.insert("from".to_owned(), from.text.clone());
        row.fields.insert("to".to_owned(), to.text.clone());
        if !row.fields.contains_key("wire") {
            // Stable between versions of a list, as a count of rows would not be.
            let plain = |end: &str| end.replace(['.', ':'], "-");
            let name = cell::id(&format!("{}_{}", plain(&from.text), plain(&to.text))).map_err(|fault| row.refuse(None, fault))?.text;
            if let (_, Some(column)) = row.cell("wire") {
                row.correct(Some(column), &name, "no wire id: named by its ends");
            }
            row.fields.insert("wire".to_owned(), name);
        }
        self.as_the_reader_would(row)?;
        self.points.extend([from.point, to.point].into_iter().flatten());
        Ok(())
    }

    /// One end of a wire, from one cell or from up to three.
    fn end(&self, row: &mut RowReading, side: &str) -> Result<EndRead, Refusal> {
        let (unit, unit_column) = row.cell(&format!("{side}_unit"));
        let special_end = |row: &RowReading, text: &str, column: Option<&Column>| match cell::special(text) {
            Some(Special::Blank) => Some(row.refuse(column, format!("the {side} end is not said"))),
            Some(Special::Open) => Some(row.refuse(column, format!("the {side} end is TBD: a wire is known by its ends"))),
            Some(Special::NotApplicable) => Some(row.refuse(column, format!("the {side} end is N/A"))),
            Some(Special::Doubt) => Some(row.refuse(column, format!("the {side} end is in doubt"))),
            None => None,
        };
        let (whole, whole_column) = row.cell(side);
        let (mut end, column) = if whole_column.is_some() {
            if let Some(refusal) = special_end(row, whole, whole_column) {
                return Err(refusal);
            }
            (cell::end(whole).map_err(|fault| row.refuse(whole_column, fault))?, whole_column)
        } else {
            let (connector, connector_column) = row.cell(&format!("{side}_connector"));
            let (pin, pin_column) = row.cell(&format!("{side}_pin"));
            // "GND" or "SP1" in the column of units, and nothing beside it.
            let alone = cell::special(connector) == Some(Special::Blank) && cell::special(pin) == Some(Special::Blank);
            if let Some(point) = if alone { cell::point(unit).map_err(|fault| row.refuse(unit_column, fault))? } else { None } {
                row.correct(unit_column, &point.text, point.what);
                return Ok(point);
            }
            if let Some(refusal) = special_end(row, connector, connector_column) {
                return Err(refusal);
            }
            match cell::special(pin) {
                None => (
                    cell::pin_of(connector, pin).map_err(|fault| row.refuse(pin_column, fault))?,
                    if pin.starts_with(connector) { pin_column } else { connector_column },
                ),
                Some(Special::Blank | Special::NotApplicable) => {
                    match cell::point(connector).map_err(|fault| row.refuse(connector_column, fault))? {
                        Some(point) => (point, connector_column),
                        None => (
                            cell::end(connector).map_err(|_| row.refuse(pin_column, format!("the {side} end names no pin")))?,
                            connector_column,
                        ),
                    }
                }
                Some(_) => return Err(row.refuse(pin_column, format!("the pin of the {side} end is {pin}"))),
            }
        };
        if let Some((kind, name)) = end.text.split_once(':').filter(|_| end.point.is_none() && end.connector.is_none()) {
            let kind = match kind {
                "shell" => "connector",
                "case" => "unit",
                "branch" => "breakout",
                kind => kind,
            };
            if !self.declared.contains(&(kind.to_owned(), name.to_owned())) {
                return Err(row.refuse(column, format!("the folder declares no [{kind}.{name}]")));
            }
        }
        row.correct(column, &end.text, end.what);
        if cell::special(unit).is_none() {
            match (self.with_units, &end.connector) {
                (true, Some(connector)) => {
                    let unit = cell::id(unit).map_err(|fault| row.refuse(unit_column, fault))?;
                    row.correct(unit_column, &unit.text, unit.what);
                    let cavity = end.text[connector.len()..].to_owned();
                    if !connector.starts_with(&format!("{}-", unit.text)) {
                        end.text = format!("{}-{connector}{cavity}", unit.text);
                    }
                }
                _ => drop(row.fields.insert(format!("note_{side}_unit"), one_line(unit))),
            }
        } else if self.with_units && end.connector.is_some() {
            return Err(row.refuse(unit_column, format!("the unit of the {side} end is not said, and connector ids carry their unit")));
        }
        Ok(end)
    }

    /// Gauge and type; a part number such as M22759/16-22-9 says both.
    fn gauge_and_type(&self, row: &mut RowReading) -> Result<(String, Option<String>), Refusal> {
        let (text, column) = row.cell("gauge");
        let (kind_text, kind_column) = row.cell("type");
        let kind = match cell::special(kind_text) {
            None => Some(cell::type_and_gauge(kind_text)),
            _ => None,
        };
        let in_part_number = kind.as_ref().and_then(|(_, gauge)| *gauge);
        let gauge = match (cell::special(text), in_part_number) {
            (None, _) => {
                let read = cell::gauge(text).map_err(|fault| row.refuse(column, fault))?;
                row.correct(column, &read.text, read.what);
                read.text
            }
            (Some(Special::Blank), Some(gauge)) => {
                row.correct(column.or(kind_column), &format!("{gauge} AWG"), "gauge from the part number");
                format!("{gauge} AWG")
            }
            (Some(Special::Open), _) => "TBD".to_owned(),
            (Some(Special::Blank), None) => return Err(row.refuse(column, "no gauge")),
            (Some(Special::NotApplicable), _) => return Err(row.refuse(column, "the gauge is N/A, and a wire has one")),
            (Some(Special::Doubt), _) => return Err(row.refuse(column, "the gauge is in doubt: TBD says that it is still to come")),
        };
        let plain = gauge.trim_start_matches("TBC ").strip_suffix(" AWG").and_then(Awg::parse);
        if let (Some(stated), Some(in_part_number)) = (plain, in_part_number)
            && stated != in_part_number
        {
            return Err(row.refuse(column, format!("gauge {stated} contradicts the part number {kind_text}")));
        }
        let kind = match (cell::special(kind_text), kind) {
            (_, Some((kind, _))) => {
                let known = self.catalog.wire_types().contains(&kind.as_str());
                let in_gauge = plain.is_none_or(|gauge| self.catalog.wire(&kind, gauge).is_some());
                if known && in_gauge {
                    let what = if kind == kind_text { "" } else { "type in other words" };
                    row.correct(kind_column, &kind, what);
                    if in_part_number.is_some() {
                        row.fields.insert("note_type".to_owned(), one_line(kind_text));
                    }
                    Some(kind)
                } else {
                    row.fields.insert("note_type".to_owned(), one_line(kind_text));
                    let what = if known {
                        "the catalog has this type, but not in this gauge: TBD, kept as a note"
                    } else {
                        "type not in the catalog: TBD, kept as a note"
                    };
                    row.correct(kind_column, "TBD", what);
                    Some("TBD".to_owned())
                }
            }
            (Some(Special::Open), None) => Some("TBD".to_owned()),
            (Some(Special::Doubt), None) => {
                row.correct(kind_column, "TBD", "type in doubt: TBD");
                Some("TBD".to_owned())
            }
            (Some(Special::NotApplicable), None) => {
                row.not_applicable.push("type".to_owned());
                None
            }
            _ => None,
        };
        // Without a type the reader takes the usual one, which has not every gauge.
        if let Some(gauge) = plain.filter(|_| kind.as_deref().is_none_or(|kind| kind == "TBD"))
            && self.catalog.wire(USUAL_TYPE, gauge).is_none()
        {
            return Err(row.refuse(column, format!("the catalog has no wire of gauge {gauge}")));
        }
        Ok((gauge, kind))
    }

    fn number(&self, row: &mut RowReading, field: &str, quantity: Quantity, decimal: Decimal) -> Result<(), Refusal> {
        let (text, column) = row.cell(field);
        let unit: Option<&Unit> = column.and_then(|c| c.unit);
        let value = match cell::special(text) {
            Some(Special::Blank) => return Ok(()),
            Some(Special::NotApplicable) => {
                row.not_applicable.push(field.to_owned());
                return Ok(());
            }
            Some(Special::Open) => "TBD".to_owned(),
            Some(Special::Doubt) => return Err(row.refuse(column, format!("the {field} is in doubt: TBD says that it is still to come"))),
            None if field == "length" && text.eq_ignore_ascii_case("route") => "route".to_owned(),
            None => {
                // A number of a workbook has no comma that could be one of thousands.
                let is_number = column.is_some_and(|c| row.grid.kind(row.at, c.at) == Kind::Number);
                let Read { text, what } = cell::number(text, quantity, unit, if is_number { Decimal::Point } else { decimal })
                    .map_err(|fault| row.refuse(column, fault))?;
                let plain = text.trim_start_matches("TBC ");
                // Where the user has said what a comma means, that stands.
                if field == "length"
                    && self.answers.decimal.is_none()
                    && quantity::parse(plain, quantity).is_ok_and(|metres| metres < super::limits::SHORTEST_WIRE)
                {
                    return Err(row.refuse(column, format!("{plain} is too short for a wire: the unit or the comma means something else")));
                }
                row.correct(column, &text, what);
                text
            }
        };
        row.fields.insert(field.to_owned(), value);
        Ok(())
    }

    /// What the reader of a folder would say of the row, said here.
    fn as_the_reader_would(&self, row: &RowReading) -> Result<(), Refusal> {
        for (field, text) in &row.fields {
            let Some(spec) = self.table.fields.iter().find(|f| f.key == field) else {
                if text.chars().count() > super::limits::CELL_AT_MOST {
                    return Err(row.refuse(None, "a cell is too long for a note"));
                }
                continue;
            };
            let mut out = Problems::default();
            let at = Span { file: FileId(0), start: 0, end: 0 };
            if let Slot::Bad = value::from_text(spec, text, at, None, &mut out) {
                let why = out.into_list().0.first().map_or_else(|| format!("{field} cannot be {text}"), |d| d.message.clone());
                return Err(row.refuse(row.columns.of(field), why));
            }
        }
        Ok(())
    }

    /// A row that repeats another exactly is one wire; rows of one id that differ are none, since nobody knows which is right.
    fn without_repeats(&mut self, wires: Vec<Wire>, chosen: &[(&Grid, Columns)]) -> Vec<Wire> {
        let mut rows: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (at, wire) in wires.iter().enumerate() {
            rows.entry(&wire.name).or_default().push(at);
        }
        let mut out = vec![false; wires.len()];
        let place = |wire: &Wire| match chosen.len() {
            1 => format!("row {}", wire.row.1),
            _ => format!("row {} of sheet {}", wire.row.1, chosen[wire.row.0].0.name),
        };
        for of in rows.values().filter(|of| of.len() > 1) {
            let first = &wires[of[0]];
            let content = |wire: &Wire| {
                let mut fields = wire.fields.clone();
                fields.remove("note_sheet");
                fields
            };
            let same = of.iter().all(|at| content(&wires[*at]) == content(first));
            for (n, &at) in of.iter().enumerate() {
                if same && n == 0 {
                    continue;
                }
                out[at] = true;
                let (why, other) = match same {
                    true => ("repeats another row exactly", place(first)),
                    false => {
                        ("another row has the same wire id and is not the same wire", place(&wires[if n == 0 { of[1] } else { of[0] }]))
                    }
                };
                if !same {
                    self.refused.insert(wires[at].name.clone());
                }
                self.report.refused.push(RowNote {
                    sheet: chosen[wires[at].row.0].0.name.clone(),
                    row: wires[at].row.1,
                    column: String::new(),
                    wire: wires[at].name.clone(),
                    text: other,
                    became: String::new(),
                    what: why.to_owned(),
                    lost: !same,
                });
            }
        }
        drop(rows);
        wires.into_iter().zip(out).filter(|(_, is_out)| !is_out).map(|(wire, _)| wire).collect()
    }
}

/// Free text on one line, without control characters.
fn one_line(text: &str) -> String {
    text.split(|c: char| c.is_control()).map(str::trim).filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
}
