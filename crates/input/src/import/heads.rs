//! Which row holds the heads, and which column is which field of a wire: by words kept as data, by what the cells hold, by the
//! user's own word. What could be two things is asked.

use super::cell;
use super::workbook::{Grid, Kind, column_of, letters};
use super::{Answers, limits::HEADS_WITHIN};
use crate::quantity::{Quantity, Unit};
use model::{ColumnMapping, ImportQuestion, SheetMapping};

/// What a column can be, in the order of the mapping shown.
pub(crate) const FIELDS: [&str; 20] = [
    "wire",
    "from",
    "from_unit",
    "from_connector",
    "from_pin",
    "to",
    "to_unit",
    "to_connector",
    "to_pin",
    "gauge",
    "type",
    "length",
    "current",
    "circuit",
    "cable",
    "cable_position",
    "group",
    "signal",
    "colour",
    "notes",
];

const WORDS: &str = include_str!("../../../../catalog/import-heads.csv");

/// Spellings of units in heads, beside those of the reader.
const UNITS: [(&str, Quantity, &str); 24] = [
    ("m", Quantity::Length, "m"),
    ("meter", Quantity::Length, "m"),
    ("meters", Quantity::Length, "m"),
    ("metre", Quantity::Length, "m"),
    ("metres", Quantity::Length, "m"),
    ("cm", Quantity::Length, "cm"),
    ("mm", Quantity::Length, "mm"),
    ("in", Quantity::Length, "in"),
    ("inch", Quantity::Length, "in"),
    ("inches", Quantity::Length, "in"),
    ("ins", Quantity::Length, "in"),
    ("ft", Quantity::Length, "ft"),
    ("feet", Quantity::Length, "ft"),
    ("foot", Quantity::Length, "ft"),
    ("a", Quantity::Current, "A"),
    ("amp", Quantity::Current, "A"),
    ("amps", Quantity::Current, "A"),
    ("ampere", Quantity::Current, "A"),
    ("amperes", Quantity::Current, "A"),
    ("ma", Quantity::Current, "mA"),
    ("milliamps", Quantity::Current, "mA"),
    ("awg", Quantity::Gauge, "AWG"),
    ("mm2", Quantity::Area, "mm2"),
    ("mm²", Quantity::Area, "mm2"),
];

/// The words of the table, in lower case.
pub(crate) struct Words {
    rows: Vec<(String, String, Vec<String>)>,
}

impl Words {
    pub(crate) fn shipped() -> Words {
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(WORDS.as_bytes());
        let rows = reader.records().filter_map(Result::ok).filter_map(|record| {
            let cell = |n: usize| record.get(n).map(str::to_owned);
            Some((cell(0)?, cell(1)?, tokens(&cell(2)?)))
        });
        Words { rows: rows.collect() }
    }
    fn means(&self, kind: &str, words: &[String]) -> Option<&str> {
        self.rows.iter().find(|(k, _, head)| k == kind && head == words).map(|(_, means, _)| means.as_str())
    }
    /// The side that a head speaks of, and the rest of the head; the longest words first ("end a" before "a").
    fn side(&self, words: &[String]) -> Option<(&str, Vec<String>)> {
        let mut best: Option<(usize, &str, Vec<String>)> = None;
        for (_, means, head) in self.rows.iter().filter(|(kind, ..)| kind == "side") {
            let Some(at) = words.windows(head.len()).position(|w| w == head) else { continue };
            if best.as_ref().is_none_or(|(length, ..)| head.len() > *length) {
                let rest = words[..at].iter().chain(&words[at + head.len()..]).cloned().collect();
                best = Some((head.len(), means, rest));
            }
        }
        best.map(|(_, means, rest)| (means, rest))
    }
    /// A field of numbers of which the head holds a word: for heads like "estimated wire length".
    fn partly(&self, words: &[String]) -> Option<&str> {
        let mut found: Vec<&str> = self
            .rows
            .iter()
            .filter(|(kind, means, _)| kind == "field" && ["gauge", "length", "current"].contains(&means.as_str()))
            .filter(|(_, _, head)| words.windows(head.len()).any(|w| w == head))
            .map(|(_, means, _)| means.as_str())
            .collect();
        found.dedup();
        match found[..] {
            [one] => Some(one),
            _ => None,
        }
    }
}

/// A head in lower case without signs: `From_Pin` and `FROM PIN` are the same words.
fn tokens(head: &str) -> Vec<String> {
    let mut text = String::new();
    let mut lower = 0;
    for c in head.chars() {
        // `FromPin` is two words; `mA` is one.
        if c.is_uppercase() && lower > 1 {
            text.push(' ');
        }
        lower = if c.is_lowercase() { lower + 1 } else { 0 };
        if c.is_alphanumeric() || c == '²' { text.extend(c.to_lowercase()) } else { text.push(' ') }
    }
    text.split_whitespace().map(str::to_owned).collect()
}

#[derive(Clone, Debug, PartialEq)]
enum Meaning {
    Nothing,
    /// A field, and whether the whole head says so.
    Field(String, bool),
    /// A part of an end, and no word of which end.
    Part(String),
    /// A cross-section, which is no gauge.
    Area,
}

fn meaning(words: &Words, head: &str) -> (Meaning, Option<&'static Unit>) {
    let mut named = tokens(head);
    let mut unit = None;
    if let Some((_, quantity, word)) = named.last().and_then(|last| UNITS.iter().find(|(spelling, ..)| spelling == last))
        && (named.len() > 1 || *quantity == Quantity::Area)
    {
        let mut rest = named[..named.len() - 1].to_vec();
        if rest.last().is_some_and(|word| word == "in") {
            rest.pop();
        }
        let field = words.means("field", &rest).or(words.partly(&rest));
        let measures = match field {
            Some("gauge") => Some(Quantity::Gauge),
            Some("length") => Some(Quantity::Length),
            Some("current") => Some(Quantity::Current),
            _ => None,
        };
        if *quantity == Quantity::Area
            && (measures == Some(Quantity::Gauge)
                || rest.is_empty()
                || rest.last().is_some_and(|w| w == "size" || w == "section" || w == "area"))
        {
            return (Meaning::Area, None);
        }
        if measures == Some(*quantity) {
            unit = quantity.unit(word);
            named = rest;
        }
    }
    if let Some(field) = words.means("field", &named) {
        // "Amps" and "AWG" say the unit with the field.
        let alone = match named.as_slice() {
            [only] => UNITS.iter().find(|(spelling, ..)| spelling == only),
            _ => None,
        };
        let alone = alone.filter(|(_, quantity, _)| *quantity != Quantity::Area).and_then(|(_, quantity, word)| quantity.unit(word));
        return (Meaning::Field(field.to_owned(), true), unit.or(alone));
    }
    if let Some((side, rest)) = words.side(&named) {
        if rest.is_empty() {
            return (Meaning::Field(side.to_owned(), true), None);
        }
        if let Some(part) = words.means("part", &rest) {
            let field = if part == "end" { side.to_owned() } else { format!("{side}_{part}") };
            return (Meaning::Field(field, true), None);
        }
    }
    if let Some(part) = words.means("part", &named).filter(|part| *part != "end") {
        return (Meaning::Part(part.to_owned()), None);
    }
    match words.partly(&named) {
        Some(field) => (Meaning::Field(field.to_owned(), false), unit),
        None => (Meaning::Nothing, None),
    }
}

/// A column with what it is taken for.
#[derive(Clone)]
pub(crate) struct Column {
    pub(crate) at: usize,
    pub(crate) head: String,
    /// One of [`FIELDS`]; `None`: kept in the notes.
    pub(crate) field: Option<&'static str>,
    pub(crate) unit: Option<&'static Unit>,
    confidence: &'static str,
    filled: usize,
    fit: usize,
}

/// The columns of a sheet.
pub(crate) struct Columns {
    /// Index of the row of the heads.
    pub(crate) head_row: usize,
    pub(crate) all: Vec<Column>,
    /// What must be asked before the sheet can be read.
    pub(crate) questions: Vec<ImportQuestion>,
    /// A cross-section was found where a gauge is wanted.
    area: Option<String>,
}

impl Columns {
    pub(crate) fn of(&self, field: &str) -> Option<&Column> {
        self.all.iter().find(|column| column.field == Some(field))
    }
    pub(crate) fn has_end(&self, side: &str) -> bool {
        self.of(side).is_some() || (self.of(&format!("{side}_connector")).is_some() && self.of(&format!("{side}_pin")).is_some())
    }
    /// Whether this looks like a wire list at all.
    pub(crate) fn is_list(&self) -> bool {
        let known = self.all.iter().filter(|c| c.field.is_some()).count();
        known >= 3 && (self.has_end("from") || self.has_end("to") || self.of("gauge").is_some())
    }
    pub(crate) fn mapping(&self, grid: &Grid) -> SheetMapping {
        let columns = self.all.iter().map(|column| ColumnMapping {
            column: letters(column.at),
            head: column.head.clone(),
            field: column.field.unwrap_or("note").to_owned(),
            unit: column.unit.map_or("", |unit| unit.word).to_owned(),
            confidence: column.confidence,
            filled: column.filled,
            fit: column.fit,
        });
        let rows = (self.head_row + 1..grid.rows.len()).take(3);
        SheetMapping {
            sheet: grid.name.clone(),
            head_row: grid.rows.get(self.head_row).map_or(0, |row| row.number),
            columns: columns.collect(),
            preview: rows.map(|row| self.all.iter().map(|c| grid.text(row, c.at).to_owned()).collect()).collect(),
        }
    }
}

/// Heads and columns of a sheet; `None` where no row looks like heads and the user names none.
pub(crate) fn find(grid: &Grid, words: &Words, answers: &Answers) -> Option<Columns> {
    let width = grid.width();
    let (head_row, grouped) = match answers.head_row {
        Some(number) => {
            let at = grid.rows.iter().position(|row| row.number == number)?;
            let score = |grouped| score(&meanings(grid, words, at, width, grouped));
            (at, score(true) > score(false))
        }
        None => {
            let mut best: Option<(usize, usize, bool)> = None;
            for at in 0..grid.rows.len().min(HEADS_WITHIN) {
                for grouped in [false, true] {
                    let score = score(&meanings(grid, words, at, width, grouped));
                    if best.is_none_or(|(most, ..)| score > most) {
                        best = Some((score, at, grouped));
                    }
                }
            }
            // Three known heads; a single word may stand in a title.
            best.filter(|(score, ..)| *score >= 6).map(|(_, at, grouped)| (at, grouped))?
        }
    };
    let known = meanings(grid, words, head_row, width, grouped);
    let mut columns = Columns { head_row, all: Vec::new(), questions: Vec::new(), area: None };
    let mut parts: Vec<usize> = Vec::new();
    for (at, (head, (meaning, unit))) in known.into_iter().enumerate() {
        let filled = (head_row + 1..grid.rows.len()).filter(|row| is_said(grid, *row, at)).count();
        if head.is_empty() && filled == 0 {
            continue;
        }
        let mut column = Column { at, head, field: None, unit: None, confidence: "kept", filled, fit: filled };
        match meaning {
            Meaning::Field(field, whole) => {
                column.field = FIELDS.into_iter().find(|f| *f == field);
                column.unit = unit;
                column.confidence = if whole { "sure" } else { "likely" };
            }
            Meaning::Part(_) => parts.push(columns.all.len()),
            Meaning::Area => columns.area = Some(letters(at)),
            Meaning::Nothing => {}
        }
        columns.all.push(column);
    }
    beside_a_side(&mut columns, &parts, words);
    answered(&mut columns, grid, answers);
    whole_ends(&mut columns);
    for column in &mut columns.all {
        column.fit = match column.field {
            Some(field) => (head_row + 1..grid.rows.len())
                .filter(|row| is_said(grid, *row, column.at) && cell::fits(field, grid.text(*row, column.at)))
                .count(),
            None => column.filled,
        };
    }
    unlikely(&mut columns);
    ask(&mut columns, grid, answers);
    Some(columns)
}

fn is_said(grid: &Grid, row: usize, column: usize) -> bool {
    !grid.text(row, column).is_empty() && grid.kind(row, column) != Kind::Across
}

/// What each head of a row means; with `grouped`, heads stand under words of the row above ("FROM" over "Unit", "Conn", "Pin").
fn meanings(grid: &Grid, words: &Words, row: usize, width: usize, grouped: bool) -> Vec<(String, (Meaning, Option<&'static Unit>))> {
    let mut group = String::new();
    (0..width)
        .map(|at| {
            let head = grid.text(row, at).to_owned();
            if grouped && row > 0 && !grid.text(row - 1, at).is_empty() {
                group = grid.text(row - 1, at).to_owned();
            }
            let alone =
                if grid.kind(row, at) == Kind::Across || is_number(&head) { (Meaning::Nothing, None) } else { meaning(words, &head) };
            match &alone.0 {
                Meaning::Part(_) | Meaning::Nothing if grouped && !group.is_empty() && !head.is_empty() => {
                    match meaning(words, &format!("{group} {head}")) {
                        (Meaning::Field(field, true), unit) if field.starts_with("from") || field.starts_with("to") => {
                            (format!("{group} {head}"), (Meaning::Field(field, true), unit))
                        }
                        _ => (head, alone),
                    }
                }
                _ => (head, alone),
            }
        })
        .collect()
}

fn is_number(text: &str) -> bool {
    text.parse::<f64>().is_ok()
}

/// Twice the fields that a row of heads says wholly, once those it says in part.
fn score(heads: &[(String, (Meaning, Option<&'static Unit>))]) -> usize {
    let mut seen: Vec<&str> = Vec::new();
    let mut sum = 0;
    for (_, (meaning, _)) in heads {
        match meaning {
            Meaning::Field(field, whole) if !seen.contains(&field.as_str()) => {
                seen.push(field);
                sum += if *whole { 2 } else { 1 };
            }
            Meaning::Part(_) => sum += 1,
            Meaning::Area => sum += 1,
            _ => {}
        }
    }
    sum
}

/// "From, Pin, To, Pin": a part without a side belongs to the side whose head stands next before it, if both sides then have the
/// same parts.
fn beside_a_side(columns: &mut Columns, parts: &[usize], words: &Words) {
    let mut taken: Vec<(usize, String)> = Vec::new();
    for &at in parts {
        let side = columns.all[..at].iter().rev().find_map(|c| c.field).map(|field| {
            if field.starts_with("from") {
                "from"
            } else if field.starts_with("to") {
                "to"
            } else {
                ""
            }
        });
        let (Some(side @ ("from" | "to")), (Meaning::Part(part), _)) = (side, meaning(words, &columns.all[at].head)) else { continue };
        taken.push((at, format!("{side}_{part}")));
        // So that "From Unit, Conn, Pin" carries on to the third.
        columns.all[at].field = FIELDS.into_iter().find(|f| *f == taken[taken.len() - 1].1);
        columns.all[at].confidence = "likely";
    }
    let of = |side: &str| {
        let mut of: Vec<&str> = columns.all.iter().filter_map(|c| c.field).filter_map(|f| f.strip_prefix(side)).collect();
        of.sort();
        of
    };
    if of("from") != of("to") {
        for (at, _) in taken {
            columns.all[at].field = None;
            columns.all[at].confidence = "kept";
        }
    }
}

/// What the user said of columns takes the place of what the heads say.
fn answered(columns: &mut Columns, grid: &Grid, answers: &Answers) {
    let before: Vec<(usize, Option<&'static str>, Option<&'static Unit>)> = columns.all.iter().map(|c| (c.at, c.field, c.unit)).collect();
    for (field, named) in &answers.columns {
        let by_letters = column_of(named).filter(|at| *at < grid.width());
        let found: Vec<usize> = match by_letters {
            Some(at) => columns.all.iter().position(|c| c.at == at).into_iter().collect(),
            None => (0..columns.all.len()).filter(|n| tokens(&columns.all[*n].head) == tokens(named)).collect(),
        };
        let [found] = found[..] else {
            let what = if found.is_empty() { "no column" } else { "more than one column" };
            columns.questions.push(ImportQuestion {
                text: format!("{what} of {} is named {named:?}; which column is {field}?", in_sheet(grid)),
                answers: columns.all.iter().map(|c| format!("--map {field}={}", letters(c.at))).collect(),
            });
            continue;
        };
        for column in columns.all.iter_mut().filter(|c| c.field == Some(*field)) {
            column.field = None;
            column.confidence = "kept";
        }
        columns.all[found].field = (*field != "note").then_some(*field);
        columns.all[found].confidence = "given";
    }
    // The unit of a head belongs to the field that it names: two columns whose heads were exchanged exchange their units.
    for n in 0..columns.all.len() {
        let (field, was) = (columns.all[n].field, before[n].1);
        if columns.all[n].confidence != "given" || field == was {
            continue;
        }
        let other = before.iter().position(|(_, of, _)| field.is_some() && *of == field);
        let exchanged = other.filter(|other| was.is_some() && columns.all[*other].field == was);
        columns.all[n].unit = match exchanged {
            Some(other) => before[other].2,
            None if was.is_some() => None,
            None => columns.all[n].unit,
        };
    }
    for (field, unit) in [("length", answers.length_unit), ("current", answers.current_unit)] {
        if let (Some(unit), Some(column)) = (unit, columns.all.iter_mut().find(|c| c.field == Some(field))) {
            column.unit = Some(unit);
        }
    }
}

/// A "From" beside connector and pin columns describes the end; beside a pin alone it is the connector.
fn whole_ends(columns: &mut Columns) {
    for (side, connector, pin) in [("from", "from_connector", "from_pin"), ("to", "to_connector", "to_pin")] {
        let has = |field: &str| columns.all.iter().any(|c| c.field == Some(field));
        let becomes = match (has(connector), has(pin)) {
            (true, true) => None,
            (false, true) => Some(connector),
            _ => continue,
        };
        if let Some(column) = columns.all.iter_mut().find(|c| c.field == Some(side) && (becomes.is_some() || c.confidence != "given")) {
            column.field = becomes;
            column.confidence = if becomes.is_some() { column.confidence } else { "kept" };
        }
    }
}

/// A head that says a field only in part needs cells that fit; else the column is kept as a note.
fn unlikely(columns: &mut Columns) {
    for column in columns.all.iter_mut().filter(|c| c.confidence == "likely" && matches!(c.field, Some("gauge" | "length" | "current"))) {
        if column.fit * 5 < column.filled * 4 || column.filled == 0 {
            column.field = None;
            column.unit = None;
            column.confidence = "kept";
            column.fit = column.filled;
        }
    }
    // A whole head beats one that says the field in part.
    for field in ["gauge", "length", "current"] {
        if columns.all.iter().any(|c| c.field == Some(field) && c.confidence != "likely") {
            for column in columns.all.iter_mut().filter(|c| c.field == Some(field) && c.confidence == "likely") {
                column.field = None;
                column.unit = None;
                column.confidence = "kept";
                column.fit = column.filled;
            }
        }
    }
}

fn in_sheet(grid: &Grid) -> String {
    if grid.name.is_empty() { "the list".to_owned() } else { format!("sheet {:?}", grid.name) }
}

fn ask(columns: &mut Columns, grid: &Grid, answers: &Answers) {
    let mut questions = Vec::new();
    let place = in_sheet(grid);
    let named = |c: &Column| if c.head.is_empty() { letters(c.at) } else { format!("{} {:?}", letters(c.at), c.head) };
    for field in FIELDS {
        let of: Vec<&Column> = columns.all.iter().filter(|c| c.field == Some(field)).collect();
        if of.len() > 1 {
            let list: Vec<String> = of.iter().map(|c| named(c)).collect();
            questions.push(ImportQuestion {
                text: format!(
                    "columns {} of {place} could each be {field}; which one is it? The others are kept as notes",
                    list.join(" and ")
                ),
                answers: of.iter().map(|c| format!("--map {field}={}", letters(c.at))).collect(),
            });
        }
    }
    for side in ["from", "to"] {
        if columns.has_end(side) || questions.iter().any(|q| q.text.contains(side)) {
            continue;
        }
        let free: Vec<&Column> = columns.all.iter().filter(|c| c.field.is_none()).collect();
        let list: Vec<String> = free.iter().map(|c| named(c)).collect();
        questions.push(ImportQuestion {
            text: format!("no column of {place} is known to be the {side} end; columns not yet used: {}", list.join(", ")),
            answers: vec![
                format!("--map {side}=COLUMN, of cells like J1-4"),
                format!("--map {side}_connector=COLUMN --map {side}_pin=COLUMN"),
            ],
        });
    }
    if columns.of("gauge").is_none() && columns.of("type").is_none() && !questions.iter().any(|q| q.text.contains("gauge")) {
        let area = match &columns.area {
            Some(at) => format!(" (column {at} holds a cross-section; the gauge of a wire is wanted in AWG)"),
            None => String::new(),
        };
        // Columns whose cells could all be gauges come first; it is still the user who says so.
        let usual = |c: &&Column| {
            let mut texts =
                (columns.head_row + 1..grid.rows.len()).map(|row| grid.text(row, c.at)).filter(|text| cell::special(text).is_none());
            c.field.is_none() && c.filled > 0 && texts.all(cell::is_usual_gauge)
        };
        let mut could: Vec<String> = columns.all.iter().filter(usual).map(|c| format!("--map gauge={}", letters(c.at))).collect();
        if could.is_empty() {
            could.push("--map gauge=COLUMN".to_owned());
        }
        questions.push(ImportQuestion { text: format!("no column of {place} is known to be the gauge{area}"), answers: could });
    }
    swapped(columns, grid, &mut questions, &named);
    units(columns, grid, answers, &mut questions);
    columns.questions.append(&mut questions);
}

/// Columns whose cells do not fit their heads, and where two would fit each other's.
fn swapped(columns: &Columns, grid: &Grid, questions: &mut Vec<ImportQuestion>, named: &dyn Fn(&Column) -> String) {
    let share = |column: &Column, fits: &dyn Fn(&str) -> bool| {
        let texts =
            (columns.head_row + 1..grid.rows.len()).filter(|row| is_said(grid, *row, column.at)).map(|row| grid.text(row, column.at));
        let (mut all, mut good) = (0usize, 0usize);
        for text in texts.filter(|text| cell::special(text).is_none()) {
            all += 1;
            good += usize::from(fits(text));
        }
        if all == 0 { 1.0 } else { good as f64 / all as f64 }
    };
    let mut swap = |one: &Column, other: &Column| {
        let (a, b) = (one.field.unwrap_or(""), other.field.unwrap_or(""));
        questions.push(ImportQuestion {
            text: format!("columns {} and {} look swapped: the cells of each fit the head of the other", named(one), named(other)),
            answers: vec![
                format!("--map {a}={} --map {b}={}", letters(other.at), letters(one.at)),
                format!("--map {a}={} --map {b}={} if the heads are right", letters(one.at), letters(other.at)),
            ],
        });
    };
    let mut settled: Vec<usize> = Vec::new();
    if let (Some(gauge), Some(length)) = (columns.of("gauge"), columns.of("length"))
        && (gauge.confidence != "given" || length.confidence != "given")
        && share(gauge, &cell::is_usual_gauge) < 0.5
        && share(length, &cell::is_usual_gauge) >= 0.9
    {
        swap(gauge, length);
        settled.extend([gauge.at, length.at]);
    }
    for side in ["from", "to"] {
        if let (Some(connector), Some(pin)) = (columns.of(&format!("{side}_connector")), columns.of(&format!("{side}_pin")))
            && (connector.confidence != "given" || pin.confidence != "given")
            && share(connector, &|text| text.chars().count() <= 2 && !cell::looks_like_connector(text)) > 0.5
            && share(pin, &cell::looks_like_connector) > 0.5
        {
            swap(connector, pin);
            settled.extend([connector.at, pin.at]);
        }
    }
    for column in columns.all.iter().filter(|c| c.confidence != "given" && !settled.contains(&c.at)) {
        let Some(field) = column.field else { continue };
        if column.filled > 0 && share(column, &|text| cell::fits(field, text)) < 0.5 {
            questions.push(ImportQuestion {
                text: format!("the head of column {} says {field}, but most of its cells cannot be read so", named(column)),
                answers: vec![
                    format!("--map {field}=COLUMN, the right one"),
                    format!("--map {field}={} if it is, and the cells are refused row by row", letters(column.at)),
                    format!("--map note={} to keep it as a note", letters(column.at)),
                ],
            });
        }
    }
}

/// Units that neither head nor cells state.
fn units(columns: &Columns, grid: &Grid, answers: &Answers, questions: &mut Vec<ImportQuestion>) {
    for (field, given, choices) in
        [("length", answers.length_unit, &["m", "mm", "in", "ft"][..]), ("current", answers.current_unit, &["A", "mA"])]
    {
        let Some(column) = columns.of(field).filter(|c| c.unit.is_none() && given.is_none()) else { continue };
        let bare = (columns.head_row + 1..grid.rows.len())
            .find(|row| is_said(grid, *row, column.at) && cell::is_bare_number(grid.text(*row, column.at)));
        if let Some(row) = bare {
            let (number, text) = (grid.rows[row].number, grid.text(row, column.at));
            questions.push(ImportQuestion {
                text: format!(
                    "in which unit is the {field}? Neither its head ({}) nor cell {}{number} ({text:?}) says",
                    column.head,
                    letters(column.at)
                ),
                answers: choices.iter().map(|unit| format!("--map {field}_unit={unit}")).collect(),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_are_known_however_they_are_written() {
        let words = Words::shipped();
        for (head, field, unit) in [
            ("From Pin", "from_pin", ""),
            ("FROM_PIN", "from_pin", ""),
            ("Pin (from)", "from_pin", ""),
            ("FromPin", "from_pin", ""),
            ("End A Conn.", "from_connector", ""),
            ("Dest. Unit", "to_unit", ""),
            ("From", "from", ""),
            ("Wire #", "wire", ""),
            ("Length (ft)", "length", "ft"),
            ("LEN_MM", "length", "mm"),
            ("Cut length, in inches", "length", "in"),
            ("Wire Size [AWG]", "gauge", "AWG"),
            ("AWG", "gauge", "AWG"),
            ("Amps", "current", "A"),
            ("Current (mA)", "current", "mA"),
            ("Shield Group", "cable", ""),
        ] {
            let (meaning, found) = meaning(&words, head);
            assert_eq!((meaning, found.map_or("", |u| u.word)), (Meaning::Field(field.to_owned(), true), unit), "{head}");
        }
        assert_eq!(meaning(&words, "Estimated length m").0, Meaning::Field("length".to_owned(), false));
        assert_eq!(meaning(&words, "Conn").0, Meaning::Part("connector".to_owned()));
        assert_eq!(meaning(&words, "Size (mm2)").0, Meaning::Area);
        for head in ["Item", "No.", "From connector part number", "Signal type", ""] {
            assert_eq!(meaning(&words, head).0, Meaning::Nothing, "{head}");
        }
    }

    #[test]
    fn every_word_names_a_field() {
        for (kind, means, head) in &Words::shipped().rows {
            let known = match kind.as_str() {
                "side" => ["from", "to"].contains(&means.as_str()),
                "part" => ["unit", "connector", "pin", "end"].contains(&means.as_str()),
                "field" => FIELDS.contains(&means.as_str()),
                _ => false,
            };
            assert!(known && !head.is_empty(), "{kind} {means} {head:?}");
        }
    }
}
