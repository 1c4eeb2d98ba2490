//! A TOML file: its tables as rows, and every fault of its syntax.

use crate::codes;
use crate::fields::{self, FieldKind, FieldSpec, Form, TableSpec};
use crate::limits::NESTING;
use crate::problems::Problems;
use crate::value::{self, Row, Slot, span};
use model::{Diagnostic, FileId, Name, Sources, Span, name_fault};
use std::collections::{HashMap, HashSet};
use toml::de::{DeTable, DeValue};

/// What the TOML files hold together.
#[derive(Default)]
pub(crate) struct Document {
    /// Rows in the order of files and places.
    pub(crate) rows: Vec<Row>,
    /// Keys at the top of files, with the file.
    pub(crate) root: Vec<(&'static FieldSpec, Span, Slot)>,
    /// The top of some file was not understood: keys that seem to be missing may stand there.
    pub(crate) root_unsure: bool,
}

impl Document {
    /// Puts what later files hold behind.
    pub(crate) fn append(&mut self, later: Document) {
        let Document { rows, root, root_unsure } = later;
        self.rows.extend(rows);
        self.root.extend(root);
        self.root_unsure |= root_unsure;
    }
}

/// Reads one file. In a catalog file only profiles have a meaning.
pub(crate) fn read(sources: &Sources, file: FileId, in_catalog: bool, into: &mut Document, out: &mut Problems) {
    let text = sources.file(file).text.as_str();
    if let Some(at) = too_deep(text) {
        out.push(
            Diagnostic::error(codes::TOO_LARGE, span(file, at..at + 1), "", format!("nested more than {NESTING} deep"))
                .help("no table of this format is deeper than four"),
        );
        into.root_unsure = true;
        declare_by_header(text, file, &HashSet::new(), into);
        return;
    }
    let (tree, errors) = DeTable::parse_recoverable(text);
    let mut faults = syntax(text, file, &errors, out);
    faults.sort_unstable();
    let reading = Reading { text, file, in_catalog, faults };
    let first = into.rows.len();
    let mut entries: Vec<_> = tree.get_ref().iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    for (key, value) in entries {
        let key_at = span(file, key.span());
        let root = fields::table("vehicle").and_then(|t| t.fields.iter().find(|f| f.key == key.get_ref()));
        let kind = fields::table(key.get_ref()).filter(|t| t.form == Form::Table);
        match (kind, root, value.get_ref()) {
            (Some(kind), _, DeValue::Table(rows)) => table_rows(&reading, kind, rows, into, out),
            (_, Some(field), _) if in_catalog => {
                out.push(
                    Diagnostic::error(codes::WRONG_FILE, key_at, "", format!("{} has no meaning in a catalog file", field.key))
                        .help("write it in a file at the top of the folder"),
                );
            }
            (_, Some(field), _) => {
                let slot = value::from_toml(field, value, file, out);
                into.root.push((field, key_at, slot));
            }
            (Some(kind), ..) => {
                let help = match value.get_ref() {
                    DeValue::Array(_) => format!("write [{}.ID] with an id in place of [[{}]]", kind.key, kind.key),
                    _ => format!("write [{}.ID] and its keys below", kind.key),
                };
                out.push(Diagnostic::error(codes::WRONG_TYPE, key_at, "", format!("{} is a table of rows with ids", kind.key)).help(help));
            }
            (None, None, DeValue::Table(_) | DeValue::Array(_)) => {
                let words = fields::tables().iter().filter(|t| t.form == Form::Table).map(|t| t.key);
                let diagnostic = Diagnostic::error(codes::UNKNOWN_TABLE, key_at, "", format!("there is no table {:?}", key.get_ref()));
                let meant = out.closest(key.get_ref(), words.clone());
                let names: Vec<_> = match value.get_ref() {
                    DeValue::Table(rows) => rows.keys().collect(),
                    _ => Vec::new(),
                };
                if let Some(table) = meant.and_then(fields::table) {
                    // Their names must still resolve elsewhere.
                    for name in &names {
                        into.rows.push(broken_row(table, name.get_ref(), span(file, name.span())));
                    }
                }
                let list = fields::table(key.get_ref()).filter(|t| t.form == Form::Csv);
                if key.get_ref() == "vehicle" {
                    into.root_unsure = true;
                    out.push(diagnostic.help("write its keys at the top of the file, before the first table, without a header"));
                    continue;
                }
                if let Some(list) = list {
                    let name = if list.key == "pin" { "pins.csv" } else { "wires.csv" };
                    out.push(diagnostic.help(format!("{}s stand in a list, {name}, one to a row", list.key)));
                    continue;
                }
                out.push(match meant {
                    // A replacement mends one header; with more than one of them it would mend too little.
                    Some(meant) if names.len() == 1 => diagnostic.help(format!("did you mean {meant}?")).replace(key_at, meant),
                    Some(meant) => diagnostic.help(format!("the nearest is {meant}; {} rows have this word", names.len())),
                    None => diagnostic.help(format!("tables: {}", words.collect::<Vec<_>>().join(", "))),
                });
            }
            (None, None, _) => {
                let keys = fields::table("vehicle").map(|t| t.fields).unwrap_or_default().iter().map(|f| f.key);
                value::unknown_key("the top of a file", key.get_ref(), key_at, keys, out);
            }
        }
    }
    into.rows[first..].sort_by_key(|row| row.at.start);
    if !reading.faults.is_empty() {
        into.root_unsure = true;
        // A fault may have swallowed what follows it: names must still resolve elsewhere.
        let known: HashSet<(&str, Name)> = into.rows[first..].iter().map(|r| (r.table.key, r.name.clone())).collect();
        declare_by_header(text, file, &known, into);
    }
}

/// The file that rows are taken from.
struct Reading<'a> {
    text: &'a str,
    file: FileId,
    in_catalog: bool,
    /// Where its syntax is at fault.
    faults: Vec<usize>,
}

fn table_rows(reading: &Reading<'_>, kind: &'static TableSpec, rows: &DeTable<'_>, into: &mut Document, out: &mut Problems) {
    let &Reading { text: text_of_file, file, in_catalog, ref faults } = reading;
    for (name, value) in rows.iter() {
        let at = span(file, name.span());
        let text = name.get_ref();
        let mut row = Row { broken: false, ..broken_row(kind, text, at) };
        if in_catalog && kind.key != "profile" {
            out.push(
                Diagnostic::error(codes::WRONG_FILE, at, "", format!("a {} has no meaning in a catalog file", kind.key))
                    .help("write it in a file at the top of the folder; a catalog file holds profiles"),
            );
            continue;
        }
        let DeValue::Table(table) = value.get_ref() else {
            out.push(
                Diagnostic::error(codes::WRONG_TYPE, at, "", format!("{}.{text} is not a table of keys", kind.key))
                    .help(format!("write [{}.ID] with the id of the {}; {text} is a key of such a table or a mistake", kind.key, kind.key)),
            );
            continue;
        };
        let fault = if kind.key == "disposition" { disposition_fault(text) } else { name_fault(text) };
        if let Some(fault) = fault {
            out.push(Diagnostic::error(codes::BAD_ID, at, "", format!("{text:?} is not an id of a {}: {fault}", kind.key)));
            into.rows.push(broken_row(kind, text, at));
            continue;
        }
        // What follows a fault inside this row is not all there; only its name is certain.
        let next_fault = faults.partition_point(|f| *f < at.start as usize);
        if faults.get(next_fault).is_some_and(|f| *f < next_header(text_of_file, at.end as usize)) {
            row.broken = true;
            into.rows.push(row);
            continue;
        }
        let mut keys: Vec<_> = table.iter().collect();
        keys.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in keys {
            match kind.position(key.get_ref()) {
                Some(at) => row.slots[at] = value::from_toml(&kind.fields[at], value, file, out),
                None => {
                    if let Some(top) = fields::table("vehicle").and_then(|t| t.fields.iter().find(|f| f.key == key.get_ref())) {
                        into.root_unsure = true;
                        let message = format!("{} {} has no key {:?}", article(kind.key), kind.key, top.key);
                        out.push(
                            Diagnostic::error(codes::UNKNOWN_KEY, span(file, key.span()), "", message)
                                .help(format!("{} stands at the top of a file, before the first table", top.key)),
                        );
                        continue;
                    }
                    let keys = kind.fields.iter().map(|f| f.key);
                    // The misspelt key is most likely the one that now seems to be missing.
                    if let Some(at) = out.closest(key.get_ref(), keys.clone()).and_then(|meant| kind.position(meant))
                        && matches!(row.slots[at], Slot::Absent)
                    {
                        row.slots[at] = Slot::Bad;
                    }
                    value::unknown_key(&format!("{} {}", article(kind.key), kind.key), key.get_ref(), span(file, key.span()), keys, out);
                }
            }
        }
        into.rows.push(row);
    }
}

/// A row of which only the name is certain.
fn broken_row(table: &'static TableSpec, name: &str, at: Span) -> Row {
    Row { table, name: name.into(), at, slots: vec![Slot::Absent; table.fields.len()], broken: true }
}

/// Required keys that are missing. Called when all misspelt keys are known.
pub(crate) fn missing_keys(row: &Row, out: &mut Problems) {
    for (field, slot) in row.table.fields.iter().zip(&row.slots) {
        if field.required && matches!(slot, Slot::Absent) {
            out.push(missing_key(row, field));
        }
    }
}

pub(crate) fn missing_key(row: &Row, field: &FieldSpec) -> Diagnostic {
    let example = match field.kind {
        FieldKind::End => "\"J3.14\"".to_owned(),
        FieldKind::Words(words) => format!("{:?}", words[0]),
        FieldKind::Limit(q) => format!("{{ value = {:?}, source = \"…\", how = \"read\" }}", crate::quantity::example(q)),
        FieldKind::Date => "\"2026-03-02\"".to_owned(),
        FieldKind::Elements | FieldKind::Needs => "[\"load:F1\"]".to_owned(),
        FieldKind::Watched => "\"bus:A\"".to_owned(),
        _ => field.quantity().map_or("\"…\"".to_owned(), |q| format!("{:?}", crate::quantity::example(q))),
    };
    Diagnostic::error(codes::MISSING_KEY, row.at, "", format!("{} has no {}", row.words(), field.key))
        .help(format!("add for example {} = {example}: {}", field.key, field.help))
}

fn disposition_fault(text: &str) -> Option<String> {
    let mut halves = text.splitn(2, '/');
    let (Some(rule), Some(subject)) = (halves.next(), halves.next()) else {
        return Some("write \"RULE/kind:name\" in quotes, as `check` prints it".to_owned());
    };
    if rule.is_empty() || !subject.contains(':') || text.chars().count() > 200 {
        return Some("write \"RULE/kind:name\" in quotes, as `check` prints it".to_owned());
    }
    None
}

/// Reports faults of syntax; returns where they are.
pub(crate) fn syntax(text: &str, file: FileId, errors: &[toml::de::Error], out: &mut Problems) -> Vec<usize> {
    let mut faults = Vec::new();
    let mut seen = HashSet::new();
    let mut twice_headers: Vec<std::ops::Range<usize>> = Vec::new();
    let mut headers: Option<HashMap<String, usize>> = None;
    let mut last_line = None;
    let starts: Vec<usize> =
        std::iter::once(0).chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at + 1)).collect();
    for error in errors {
        // Each of them may look through the text above it.
        if out.is_full() {
            faults.extend(error.span().map(|range| range.start));
            out.push(Diagnostic::error(codes::SYNTAX, span(file, 0..0), "", ""));
            continue;
        }
        let range = error.span().unwrap_or(text.len()..text.len());
        if !seen.insert((range.start, error.message().to_owned())) {
            continue;
        }
        faults.push(range.start);
        let at = span(file, range.clone());
        if error.message() == "duplicate key" {
            let line_start = text[..range.start].rfind('\n').map_or(0, |n| n + 1);
            let key = text.get(range.clone()).unwrap_or("");
            if text[line_start..].trim_start().starts_with('[') {
                twice_headers.push(range.start..next_header(text, range.end));
                let mut diagnostic = Diagnostic::error(codes::TWICE, at, "again", format!("{key} is defined twice"));
                let headers = headers.get_or_insert_with(|| first_headers(text));
                if let Some(first) = earlier_header(text, headers, line_start, key) {
                    diagnostic = diagnostic.note(span(file, first), "first");
                }
                out.push(diagnostic.help("give one of the two another id, or join them"));
            } else if !twice_headers.iter().any(|h| h.contains(&range.start)) {
                let mut diagnostic = Diagnostic::error(codes::TWICE, at, "again", format!("{key} is written twice"));
                if let Some(first) = earlier_key(text, line_start, key) {
                    diagnostic = diagnostic.note(span(file, first), "first");
                }
                out.push(diagnostic.help("keep one of the two"));
            }
            continue;
        }
        // One fault makes the parser stumble over the rest of its line.
        let line = starts.partition_point(|start| *start <= range.start);
        if last_line.replace(line) == Some(line) {
            continue;
        }
        let help = if error.message().contains("extend value of type string") && text.get(range.clone()) == Some("profile") {
            "`profile = \"…\"` chooses a profile; write [profile.…] tables in another file of the folder".to_owned()
        } else {
            "texts and quantities stand in quotes: length = \"1.2 m\"".to_owned()
        };
        out.push(
            Diagnostic::error(codes::SYNTAX, at, "", format!("cannot be read: {}", error.message().trim_end_matches(", expected nothing")))
                .help(help),
        );
    }
    faults
}

/// The start of the next table header after a place.
fn next_header(text: &str, from: usize) -> usize {
    let mut at = from;
    while let Some(newline) = text.get(at..).and_then(|rest| rest.find('\n')) {
        at += newline + 1;
        if text[at..].trim_start_matches([' ', '\t']).starts_with('[') {
            return at;
        }
    }
    text.len()
}

/// The words of a header's line without blanks: `load.F1`.
fn header_words(line: &str) -> Option<String> {
    let line = line.trim().strip_prefix('[')?;
    Some(line[..line.find(']')?].chars().filter(|c| !c.is_whitespace()).collect())
}

/// Where the first line of each header begins.
fn first_headers(text: &str) -> HashMap<String, usize> {
    let mut found = HashMap::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        if let Some(words) = header_words(line) {
            found.entry(words).or_insert(start);
        }
        start += line.len();
    }
    found
}

/// The key of an earlier header with the same words.
fn earlier_header(text: &str, headers: &HashMap<String, usize>, line_start: usize, key: &str) -> Option<std::ops::Range<usize>> {
    let line_end = |from: usize| text[from..].find('\n').map_or(text.len(), |n| from + n);
    let first = *headers.get(&header_words(&text[line_start..line_end(line_start)])?)?;
    let at = first + text[first..line_end(first)].rfind(key)?;
    (first < line_start).then_some(at..at + key.len())
}

/// The place of the same key above, in the same table.
fn earlier_key(text: &str, line_start: usize, key: &str) -> Option<std::ops::Range<usize>> {
    // Of a longer table the first place is not looked for.
    const LINES: usize = 10_000;
    let mut end = line_start;
    for _ in 0..LINES {
        if end == 0 {
            break;
        }
        let start = text[..end - 1].rfind('\n').map_or(0, |n| n + 1);
        let line = &text[start..end];
        let indent = line.len() - line.trim_start().len();
        let body = line.trim_start();
        if body.starts_with('[') {
            return None;
        }
        if let Some(rest) = body.strip_prefix(key)
            && rest.trim_start().starts_with('=')
        {
            return Some(start + indent..start + indent + key.len());
        }
        end = start;
    }
    None
}

/// Names of tables whose headers stand in the text but not in the tree.
fn declare_by_header(text: &str, file: FileId, known: &HashSet<(&str, Name)>, into: &mut Document) {
    let mut start = 0;
    let mut seen: HashSet<(&str, Name)> = HashSet::new();
    for line in text.split_inclusive('\n') {
        let header = line.trim_start().strip_prefix('[').and_then(|rest| rest.find(']').map(|end| &rest[..end]));
        if let Some((kind, id)) = header.and_then(|h| h.split_once('.')) {
            let id = id.trim().trim_matches(['"', '\'']);
            if let Some(table) = fields::table(kind.trim()).filter(|t| t.form == Form::Table)
                && name_fault(id).is_none()
                && !known.contains(&(table.key, id.into()))
                && seen.insert((table.key, id.into()))
            {
                let at = start + line.find(id).unwrap_or(0);
                into.rows.push(broken_row(table, id, span(file, at..at + id.len())));
            }
        }
        start += line.len();
    }
}

/// The first place that is nested too deep, by brackets or by dots, looking at tokens only.
pub(crate) fn too_deep(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let (mut at, mut depth, mut dots) = (0, 0usize, 0usize);
    while at < bytes.len() {
        match bytes[at] {
            b'#' => {
                at += text[at..].find('\n').unwrap_or(text.len() - at);
                dots = 0;
                continue;
            }
            quote @ (b'"' | b'\'') => {
                let triple = [quote; 3];
                if bytes[at..].starts_with(&triple) {
                    let close = if quote == b'"' { "\"\"\"" } else { "'''" };
                    at += 3 + text[at + 3..].find(close).map_or(text.len() - at - 3, |n| n + 3);
                } else {
                    at += 1;
                    while at < bytes.len() && bytes[at] != quote && bytes[at] != b'\n' {
                        // An escaped quote does not end a basic string.
                        at += if quote == b'"' && bytes[at] == b'\\' { 2 } else { 1 };
                    }
                    at += 1;
                }
                // A skipped escape may have stepped over the end or into a character.
                while at < bytes.len() && !text.is_char_boundary(at) {
                    at += 1;
                }
                continue;
            }
            b'[' | b'{' => depth += 1,
            b']' | b'}' => depth = depth.saturating_sub(1),
            b'.' => dots += 1,
            b'=' | b',' | b'\n' => dots = 0,
            _ => {}
        }
        if depth > NESTING || dots > NESTING {
            return Some(at);
        }
        at += 1;
    }
    None
}

/// `an` before a vowel that is heard as one.
fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depth_is_seen_before_parsing() {
        assert_eq!(too_deep(&format!("a = {}1{}", "[".repeat(64), "]".repeat(64))), None);
        assert!(too_deep(&format!("a = {}", "[".repeat(65))).is_some());
        assert!(too_deep(&format!("{}a = 1", "a.".repeat(65))).is_some());
        assert_eq!(too_deep(&format!("a = \"{}\" # {}", ".".repeat(99), "[".repeat(99))), None);
        assert_eq!(too_deep(&format!("a = \"\"\"{}\n{}\"\"\"", ".".repeat(99), "[".repeat(99))), None);
        assert_eq!(too_deep("a = \"\\é"), None);
    }
}
