//! A CSV file: rows against the fields of a table, with the line and column of each cell.

use crate::fields::{self, FieldKind, FieldSpec, TableSpec};
use crate::problems::Problems;
use crate::quantity::{Quantity, Unit};
use crate::value::{self, Slot, span};
use crate::{codes, limits};
use model::{Diagnostic, FileId, Sources, Span};

/// One row of a sheet.
pub(crate) struct SheetRow {
    pub(crate) at: Span,
    /// By position in the table.
    pub(crate) slots: Vec<Slot>,
    /// `note_…` columns with what stands in them.
    pub(crate) notes: Vec<(String, String)>,
}

/// What the first row says about the columns.
pub(crate) struct Heads {
    columns: Vec<Column>,
    /// Where each field's head stands.
    at: Vec<Option<Span>>,
    /// Place of the whole first row.
    pub(crate) row_at: Span,
}

impl Heads {
    /// Where the head of a field stands, if the sheet has that column.
    pub(crate) fn at(&self, table: &TableSpec, key: &str) -> Option<Span> {
        table.position(key).and_then(|p| self.at.get(p).copied().flatten())
    }
}

enum Column {
    Field {
        position: usize,
        unit: Option<&'static Unit>,
    },
    Note(String),
    /// Reported already, or a head that is empty over an empty column.
    Ignored {
        nameless: bool,
    },
}

/// Reads a sheet and hands over its rows one by one.
pub(crate) fn read(
    sources: &Sources,
    file: FileId,
    table: &'static TableSpec,
    out: &mut Problems,
    each: &mut dyn FnMut(&Heads, SheetRow, &mut Problems),
) {
    let text = sources.file(file).text.as_str();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).comment(Some(b'#')).from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    let mut heads: Option<Heads> = None;
    let mut has_rows = false;
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            // The text is UTF-8 and lengths are flexible, so only a fault of the reader itself could come here.
            Err(error) => {
                out.push(Diagnostic::error(codes::SYNTAX, span(file, 0..0), "", format!("the list cannot be read: {error}")));
                return;
            }
        }
        let from = record.position().map_or(0, |p| p.byte() as usize);
        let scan = cells(text, from);
        if let Some(quote) = scan.open_quote {
            out.push(
                Diagnostic::error(codes::OPEN_QUOTE, span(file, quote..quote + 1), "", "this quote is never closed")
                    .help("close it, or write it twice where it belongs to the text"),
            );
            return;
        }
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let row_at = span(file, scan.whole.clone());
        let cell_at = |n: usize| scan.cells.get(n).map_or(row_at, |range| span(file, range.clone()));
        let Some(heads) = &heads else {
            match read_heads(&record, table, row_at, &cell_at, out) {
                Some(found) => heads = Some(found),
                None => return,
            }
            continue;
        };
        let mut slots: Vec<Slot> = vec![Slot::Absent; table.fields.len()];
        let mut notes = Vec::new();
        if record.len() < heads.columns.len() {
            out.push(
                Diagnostic::error(
                    codes::CELL_COUNT,
                    row_at,
                    "",
                    format!("the row has {} cells and the head {}", record.len(), heads.columns.len()),
                )
                .note(heads.row_at, "the head")
                .help("an empty cell needs its comma too"),
            );
            slots = vec![Slot::Bad; table.fields.len()];
        }
        for (n, cell) in record.iter().enumerate() {
            let cell = cell.trim();
            match heads.columns.get(n) {
                _ if cell.is_empty() => {}
                // Only free text runs over lines; elsewhere a quote is missing its end.
                Some(Column::Field { position, .. }) if table.fields[*position].kind != FieldKind::Text && cell.contains('\n') => {
                    let lines = cell.lines().count();
                    out.push(
                        Diagnostic::error(codes::OPEN_QUOTE, cell_at(n), "", format!("this cell goes on over {lines} lines"))
                            .help("close its quote, or take the quote away; a quote that belongs to the text is written twice"),
                    );
                    slots[*position] = Slot::Bad;
                }
                Some(Column::Field { position, .. }) if table.fields[*position].kind == FieldKind::Factor => {
                    slots[*position] = value::factor_from_cell(&table.fields[*position], cell, cell_at(n), out);
                }
                Some(Column::Field { position, unit }) => {
                    slots[*position] = value::from_text(&table.fields[*position], cell, cell_at(n), *unit, out);
                }
                Some(Column::Note(head)) => notes.push((head.clone(), cell.to_owned())),
                Some(Column::Ignored { nameless: false }) => {}
                Some(Column::Ignored { nameless: true }) | None => {
                    out.push(
                        Diagnostic::error(codes::CELL_COUNT, cell_at(n), "", format!("cell {} of the row has no head", n + 1))
                            .note(heads.row_at, "the head")
                            .help("a text that holds a comma stands in quotes"),
                    );
                    slots = vec![Slot::Bad; table.fields.len()];
                    break;
                }
            }
        }
        // A required column that is missing or misspelt has been reported once for all rows.
        for (position, field) in table.fields.iter().enumerate() {
            if field.required && matches!(slots[position], Slot::Absent) {
                if heads.at[position].is_some() {
                    out.push(Diagnostic::error(codes::MISSING_KEY, row_at, "", format!("the {} has no {}", table.key, field.key)).help(
                        if field.open {
                            format!("fill the cell; TBD is allowed: {}", field.help)
                        } else {
                            format!("fill the cell: {}", field.help)
                        },
                    ));
                }
                slots[position] = Slot::Bad;
            }
        }
        has_rows = true;
        each(heads, SheetRow { at: row_at, slots, notes }, out);
    }
    if let Some(heads) = &heads
        && !has_rows
    {
        out.push(
            Diagnostic::error(codes::EMPTY, heads.row_at, "", format!("the list has no {} below its head", table.key))
                .help("if that is meant, take the file away")
                .warning(),
        );
    }
    if heads.is_none() {
        out.push(
            Diagnostic::error(codes::MISSING_HEAD, span(file, 0..0), "", format!("the list of {}s is empty", table.key))
                .help(format!("its first row names the columns, at least {}", required(table))),
        );
    }
}

fn required(table: &TableSpec) -> String {
    table.fields.iter().filter(|f| f.required).map(|f| f.key).collect::<Vec<_>>().join(", ")
}

fn read_heads(
    record: &csv::StringRecord,
    table: &'static TableSpec,
    row_at: Span,
    cell_at: &dyn Fn(usize) -> Span,
    out: &mut Problems,
) -> Option<Heads> {
    if record.len() == 1 {
        let only = record.get(0).unwrap_or("");
        if let Some((mark, word)) = [(';', "semicolons"), ('\t', "tabs")].into_iter().find(|(mark, _)| only.contains(*mark)) {
            out.push(
                Diagnostic::error(codes::UNKNOWN_HEAD, row_at, "", format!("the columns are separated by {word} ({mark:?})"))
                    .help("save the list with commas between the columns"),
            );
            return None;
        }
    }
    if record.len() > limits::COLUMNS {
        out.push(
            Diagnostic::error(codes::TOO_LARGE, row_at, "", format!("the list has {} columns; {} are read", record.len(), limits::COLUMNS))
                .help("is a line end missing?"),
        );
        return None;
    }
    let mut heads = Heads { columns: Vec::new(), at: vec![None; table.fields.len()], row_at };
    // Fields that a misspelt head most likely meant.
    let mut meant_by_mistake = vec![false; table.fields.len()];
    for (n, head) in record.iter().enumerate() {
        let at = cell_at(n);
        let head = head.trim();
        let folded = head.to_lowercase();
        if head.is_empty() {
            heads.columns.push(Column::Ignored { nameless: true });
            continue;
        }
        if fields::is_note_head(&folded) {
            heads.columns.push(Column::Note(head.to_owned()));
            continue;
        }
        match field_of_head(table, &folded) {
            Ok((position, unit)) => match heads.at[position] {
                None => {
                    heads.at[position] = Some(at);
                    heads.columns.push(Column::Field { position, unit });
                }
                Some(first) => {
                    out.push(
                        Diagnostic::error(codes::TWICE, at, "again", format!("the column {} stands twice", table.fields[position].key))
                            .note(first, "first"),
                    );
                    heads.columns.push(Column::Ignored { nameless: false });
                }
            },
            Err(Some(field)) => {
                let quantity = field.quantity().unwrap_or(Quantity::Length);
                let suffixes: Vec<String> = quantity.units().iter().map(|u| format!("{}_{}", field.key, u.head_suffix())).collect();
                out.push(
                    Diagnostic::error(
                        codes::UNKNOWN_HEAD,
                        at,
                        "",
                        format!("the head {head:?} does not end in a unit of {}", quantity.title()),
                    )
                    .help(format!("write {}, or {} with the unit in each cell", suffixes.join(", "), field.key)),
                );
                if let Some(position) = table.position(field.key) {
                    meant_by_mistake[position] = true;
                }
                heads.columns.push(Column::Ignored { nameless: false });
            }
            Err(None) => {
                let words = head_words(table);
                let meant = out.closest(&folded, words.iter().map(|(word, _)| word.as_str()));
                let diagnostic = Diagnostic::error(codes::UNKNOWN_HEAD, at, "", format!("a list of {}s has no column {head:?}", table.key));
                out.push(match meant {
                    Some(meant) => {
                        if let Some((_, position)) = words.iter().find(|(word, _)| word == meant) {
                            meant_by_mistake[*position] = true;
                        }
                        diagnostic.help(format!("did you mean {meant}?")).replace(at, meant)
                    }
                    None => diagnostic.help(format!(
                        "columns: {}; a column of your own begins with note_",
                        table.fields.iter().map(|f| f.key).collect::<Vec<_>>().join(", ")
                    )),
                });
                heads.columns.push(Column::Ignored { nameless: false });
            }
        }
    }
    for (position, field) in table.fields.iter().enumerate() {
        if field.required && heads.at[position].is_none() && !meant_by_mistake[position] {
            out.push(
                Diagnostic::error(codes::MISSING_HEAD, row_at, "", format!("a list of {}s needs the column {}", table.key, field.key))
                    .help(format!("{}; columns needed: {}", field.help, required(table))),
            );
        }
    }
    Some(heads)
}

/// The field and unit of a head; or the field whose unit is not understood.
pub(crate) fn field_of_head(table: &'static TableSpec, head: &str) -> Result<(usize, Option<&'static Unit>), Option<&'static FieldSpec>> {
    if let Some(position) = table.position(head) {
        return Ok((position, None));
    }
    let mut half: Option<&'static FieldSpec> = None;
    for (position, field) in table.fields.iter().enumerate() {
        let Some(suffix) = head.strip_prefix(field.key).and_then(|rest| rest.strip_prefix('_')) else { continue };
        if let Some(quantity) = field.quantity() {
            match quantity.unit_of_head(suffix) {
                Some(unit) => return Ok((position, Some(unit))),
                None => half = Some(field),
            }
        }
    }
    Err(half)
}

/// Every head that a table has, for suggestions.
fn head_words(table: &TableSpec) -> Vec<(String, usize)> {
    let mut words = Vec::new();
    for (position, field) in table.fields.iter().enumerate() {
        words.push((field.key.to_owned(), position));
        if let (Some(quantity), FieldKind::Number(_) | FieldKind::NumberOr(..)) = (field.quantity(), field.kind) {
            words.extend(quantity.units().iter().map(|u| (format!("{}_{}", field.key, u.head_suffix()), position)));
        }
    }
    words
}

struct Scan {
    /// Byte range of each cell without its quotes and the blanks around it.
    cells: Vec<std::ops::Range<usize>>,
    whole: std::ops::Range<usize>,
    /// A quote that nothing closes.
    open_quote: Option<usize>,
}

/// Finds the cells of the record that starts at or after a byte: the reader gives their text, not their places.
fn cells(text: &str, from: usize) -> Scan {
    let bytes = text.as_bytes();
    let mut at = from.min(bytes.len());
    // The reader counts blank and comment lines before a record to the record.
    loop {
        match bytes.get(at) {
            Some(b'\n' | b'\r') => at += 1,
            Some(b'#') => at += bytes[at..].iter().position(|b| *b == b'\n').unwrap_or(bytes.len() - at),
            _ => break,
        }
    }
    let start = at;
    let mut scan = Scan { cells: Vec::new(), whole: start..start, open_quote: None };
    loop {
        let cell_start = at;
        let mut range = None;
        if bytes.get(at) == Some(&b'"') {
            let open = at;
            at += 1;
            loop {
                match bytes.get(at) {
                    Some(b'"') if bytes.get(at + 1) == Some(&b'"') => at += 2,
                    Some(b'"') => break,
                    Some(_) => at += 1,
                    None => {
                        scan.open_quote = Some(open);
                        return scan;
                    }
                }
            }
            range = Some(open + 1..at);
            at += 1;
        }
        let tail = at;
        while !matches!(bytes.get(at), None | Some(b',' | b'\n' | b'\r')) {
            at += 1;
        }
        // Text behind a closing quote belongs to the cell for the reader.
        let range = match range {
            Some(range) if tail == at => range,
            _ => cell_start..at,
        };
        scan.cells.push(trimmed(text, range));
        if bytes.get(at) == Some(&b',') {
            at += 1;
        } else {
            break;
        }
    }
    scan.whole = start..at;
    scan
}

fn trimmed(text: &str, range: std::ops::Range<usize>) -> std::ops::Range<usize> {
    let Some(cell) = text.get(range.clone()) else { return range };
    let start = range.start + (cell.len() - cell.trim_start().len());
    start..(start + cell.trim().len())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The places found are those of the texts the reader gives.
    #[test]
    fn places_of_cells() {
        let text = "# a comment\n\na, b ,\"c,d\"\r\n\"x\ny\",,é\n# more\n1,\"2\"\"\",3";
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).comment(Some(b'#')).from_reader(text.as_bytes());
        let mut found = Vec::new();
        for record in reader.records() {
            let record = record.expect("readable");
            let scan = cells(text, record.position().expect("has a place").byte() as usize);
            assert_eq!(scan.cells.len(), record.len());
            for (cell, range) in record.iter().zip(&scan.cells) {
                assert_eq!(cell.trim(), text[range.clone()].replace("\"\"", "\""));
            }
            found.push(scan.cells.len());
        }
        assert_eq!(found, [3, 3, 3]);
        assert_eq!(cells("a,\"b", 0).open_quote, Some(2));
    }
}
