//! A table of the shop or the bench, and how it is written: CSV, and sheets of a workbook.

use super::Issue;
use crate::number;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, XlsxError};

/// A table with its title, what is said under it, and what is warned of.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    /// Stem of its file and name of its sheet in the workbook; at most 31 characters.
    pub file: &'static str,
    /// What it is.
    pub title: &'static str,
    /// Columns from the left.
    pub columns: Vec<Column>,
    /// Rows, each with a cell for every column.
    pub rows: Vec<Vec<Cell>>,
    /// What the reader has to know: rules, sources, what was assumed.
    pub notes: Vec<String>,
    /// What can hurt people or hardware; printed before the table.
    pub cautions: Vec<String>,
}

/// A column of a [`Sheet`].
#[derive(Clone, Debug)]
pub struct Column {
    /// Its head.
    pub head: &'static str,
    /// Unit of its numbers; empty if it has none.
    pub unit: &'static str,
}

/// A cell of a [`Sheet`].
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing: does not apply, or to be filled in by hand.
    Blank,
    /// The input gives no value.
    NotGiven,
    /// A text.
    Text(String),
    /// A number with its decimals, in the column's unit.
    Number(f64, usize),
}

/// What stands where the input gives no value.
pub(crate) const NOT_GIVEN: &str = "not given";

impl Cell {
    pub(crate) fn text(text: impl Into<String>) -> Cell {
        match text.into() {
            empty if empty.is_empty() => Cell::Blank,
            text => Cell::Text(text),
        }
    }
    pub(crate) fn given(text: Option<impl Into<String>>) -> Cell {
        text.map_or(Cell::NotGiven, Cell::text)
    }
    pub(crate) fn number(value: Option<f64>, decimals: usize) -> Cell {
        value.filter(|value| value.is_finite()).map_or(Cell::NotGiven, |value| Cell::Number(value, decimals))
    }
    pub(crate) fn count(n: usize) -> Cell {
        Cell::Number(n as f64, 0)
    }
    /// As it is read.
    pub fn shown(&self) -> String {
        match self {
            Cell::Blank => String::new(),
            Cell::NotGiven => NOT_GIVEN.to_owned(),
            Cell::Text(text) => text.clone(),
            Cell::Number(value, decimals) => number::fixed(*value, *decimals),
        }
    }
}

/// Columns from `head (unit)`.
pub(crate) fn columns(heads: &[&'static str]) -> Vec<Column> {
    let column = |head: &&'static str| match head.strip_suffix(')').and_then(|rest| rest.rsplit_once(" (")) {
        Some((head, unit)) => Column { head, unit },
        None => Column { head, unit: "" },
    };
    heads.iter().map(column).collect()
}

impl Column {
    /// `length m`.
    pub fn title(&self) -> String {
        if self.unit.is_empty() { self.head.to_owned() } else { format!("{} {}", self.head, self.unit) }
    }
}

impl Sheet {
    /// As CSV: lines that begin with `#` before the heads say what it is of and what it warns of.
    pub(crate) fn csv(&self, issue: &Issue, number: usize, of: usize) -> String {
        let mut text = String::new();
        let mut line = |words: &str| text.push_str(&format!("# {}\n", one_line(words)));
        line(&format!("{}: {}, document {number} of {of}", issue.heading(), self.title));
        self.cautions.iter().for_each(|caution| line(&format!("CAUTION: {caution}")));
        self.notes.iter().for_each(|note| line(note));
        let row = |cells: &mut dyn Iterator<Item = String>| cells.map(|cell| quoted(&cell)).collect::<Vec<_>>().join(",") + "\n";
        text.push_str(&row(&mut self.columns.iter().map(Column::title)));
        for cells in &self.rows {
            text.push_str(&row(&mut cells.iter().map(|cell| match cell {
                Cell::Text(text) => inert(text),
                other => other.shown(),
            })));
        }
        text
    }
}

/// Texts that a spreadsheet would take for a formula get an apostrophe before them, as do those that begin with one.
pub(crate) fn inert(text: &str) -> String {
    match text.chars().next() {
        Some(first) if is_active(first) || first == '\'' => format!("'{text}"),
        _ => text.to_owned(),
    }
}

/// Whether a cell that begins so may be taken for a formula.
fn is_active(first: char) -> bool {
    matches!(first, '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '＝' | '＋' | '－' | '＠')
}

/// A cell of CSV. One that begins with `#` is quoted, so that no reader takes its row for a comment.
pub(crate) fn quoted(cell: &str) -> String {
    let plain = !cell.contains(['"', ',', '\n', '\r', '\'']) && !cell.starts_with(['#', ' ', '\t']) && !cell.ends_with([' ', '\t']);
    if plain { cell.to_owned() } else { format!("\"{}\"", cell.replace('"', "\"\"")) }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// All tables as a workbook, a sheet each.
///
/// # Errors  What the writer says: a table beyond the rows of a sheet.
pub(crate) fn workbook(sheets: &[Sheet], issue: &Issue) -> Result<Vec<u8>, String> {
    write(sheets, issue).map_err(|error| format!("the workbook of tables: {error}"))
}

fn write(sheets: &[Sheet], issue: &Issue) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A date of its own would make each run another file.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(issue.heading()).set_creation_datetime(&made));
    let head = Format::new().set_bold().set_text_wrap().set_border_bottom(FormatBorder::Medium).set_align(FormatAlign::Top);
    let title = Format::new().set_bold().set_font_size(14);
    let caution = Format::new().set_bold();
    let cell = Format::new().set_text_wrap().set_align(FormatAlign::Top).set_border(FormatBorder::Hair);
    let inert_cell = cell.clone().set_quote_prefix();
    let numbers: Vec<Format> = (0..=6)
        .map(|decimals| cell.clone().set_num_format(if decimals == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(decimals)) }))
        .collect();
    for sheet in sheets {
        let page = book.add_worksheet();
        page.set_name(sheet.file)?;
        page.set_landscape();
        page.set_paper_size(9);
        page.set_print_fit_to_pages(1, 0);
        // Codes of the program that reads it: & stands for one, && for itself.
        let safe = |text: &str| text.replace('&', "&&");
        page.set_header(format!("&L{}&R{}", safe(&cut(&issue.heading(), 100)), safe(sheet.title)));
        page.set_footer(format!("&L{}&Rpage &P of &N", safe(&cut(sheet.cautions.first().map_or("", |caution| caution), 110))));
        let mut row = 0;
        page.write_string_with_format(row, 0, sheet.title, &title)?;
        row += 1;
        page.write_string(row, 0, issue.heading())?;
        for (text, format) in sheet.cautions.iter().map(|text| (format!("CAUTION: {text}"), &caution)) {
            row += 1;
            page.write_string_with_format(row, 0, text, format)?;
        }
        for note in &sheet.notes {
            row += 1;
            page.write_string(row, 0, note)?;
        }
        row += 2;
        page.set_repeat_rows(row, row)?;
        page.set_freeze_panes(row + 1, 1)?;
        for (at, column) in sheet.columns.iter().enumerate() {
            page.write_string_with_format(row, at as u16, column.title(), &head)?;
            let widest = sheet.rows.iter().map(|cells| cells[at].shown().chars().count()).max().unwrap_or(0);
            page.set_column_width(at as u16, (widest as f64 + 2.0).clamp(8.0, 48.0))?;
        }
        for cells in &sheet.rows {
            row += 1;
            for (at, value) in cells.iter().enumerate() {
                let at = at as u16;
                match value {
                    Cell::Blank => page.write_blank(row, at, &cell)?,
                    Cell::NotGiven => page.write_string_with_format(row, at, NOT_GIVEN, &cell)?,
                    Cell::Text(text) if text.starts_with(is_active) => page.write_string_with_format(row, at, text, &inert_cell)?,
                    Cell::Text(text) => page.write_string_with_format(row, at, text, &cell)?,
                    Cell::Number(value, decimals) => page.write_number_with_format(row, at, *value, &numbers[(*decimals).min(6)])?,
                };
            }
        }
    }
    book.save_to_buffer()
}

fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_that_look_like_formulas_are_inert() {
        for (text, expected) in [("=1+1", "'=1+1"), ("+28V", "'+28V"), ("-", "'-"), ("@x", "'@x"), ("'x", "''x"), ("PT1-EXC+", "PT1-EXC+")]
        {
            assert_eq!(inert(text), expected);
        }
    }

    #[test]
    fn cells_are_quoted_where_they_have_to_be() {
        for (text, expected) in [("a,b", "\"a,b\""), ("say \"x\"", "\"say \"\"x\"\"\""), ("#1", "\"#1\""), ("a\nb", "\"a\nb\""), ("µ", "µ")]
        {
            assert_eq!(quoted(text), expected);
        }
    }
}
