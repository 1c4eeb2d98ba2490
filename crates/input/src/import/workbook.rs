//! The bytes of a list to sheets of cells, with bounded memory: a workbook or plain text.

use super::Stop;
use super::limits::*;
use calamine::{DataRef, Reader, SheetType, SheetVisible, Xlsx, XlsxError, XlsxFormulaMetadata, open_workbook_from_rs};
use std::borrow::Cow;
use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// One sheet: its rows as far as something stands in them.
#[derive(Default)]
pub(crate) struct Grid {
    /// Its name; empty for plain text.
    pub(crate) name: String,
    pub(crate) rows: Vec<GridRow>,
    /// Hidden in the workbook.
    pub(crate) hidden: bool,
    /// What is true of the sheet as a whole.
    pub(crate) remarks: Vec<String>,
}

pub(crate) struct GridRow {
    /// As the spreadsheet counts it; of plain text the line it begins on.
    pub(crate) number: usize,
    /// From column A on.
    pub(crate) cells: Vec<GridCell>,
}

/// A cell's text and where it comes from.
#[derive(Clone, Default)]
pub(crate) struct GridCell {
    pub(crate) text: Box<str>,
    pub(crate) kind: Kind,
}

#[derive(Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Kind {
    /// As typed.
    #[default]
    Text,
    /// A number of the workbook: no comma can be meant in it.
    Number,
    /// The stored value of a formula.
    Formula,
    /// A formula that asks another workbook.
    External,
    /// A formula without a stored value.
    Unstored,
    /// A date or time: what a spreadsheet program makes of `1-2`.
    Date,
    /// `#REF!` and the like.
    Error,
    /// Below the first cell of a merged area, which says this for the whole area.
    Merged,
    /// Beside the first cell of a merged area: of heads it groups, in a row of wires it says nothing.
    Across,
}

impl Grid {
    /// The text of a cell; empty where nothing stands.
    pub(crate) fn text(&self, row: usize, column: usize) -> &str {
        self.rows.get(row).and_then(|r| r.cells.get(column)).map_or("", |cell| &cell.text)
    }
    pub(crate) fn kind(&self, row: usize, column: usize) -> Kind {
        self.rows.get(row).and_then(|r| r.cells.get(column)).map_or(Kind::Text, |cell| cell.kind)
    }
    pub(crate) fn width(&self) -> usize {
        self.rows.iter().map(|row| row.cells.len()).max().unwrap_or(0)
    }
}

/// Reads a list by its content, not by the end of its name.
pub(crate) fn read(bytes: &[u8]) -> Result<Vec<Grid>, Stop> {
    if bytes.len() > FILE_AT_MOST {
        return Err(refuse(format!("{} bytes are more than the {FILE_AT_MOST} that a list may have", bytes.len()), "split the list"));
    }
    if bytes.starts_with(b"PK\x03\x04") {
        return workbook(bytes);
    }
    if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        return Err(refuse(
            "this is a workbook of the old binary kind, or one with a password",
            "save it as .xlsx without a password, or as .csv",
        ));
    }
    super::plain::read(bytes).map(|grid| vec![grid])
}

pub(super) fn refuse(what: impl Into<String>, help: impl Into<String>) -> Stop {
    Stop::Refused { what: what.into(), help: help.into() }
}

fn damaged() -> Stop {
    refuse("the workbook is damaged, or is no workbook", "open it in a spreadsheet program and save it again as .xlsx, or as .csv")
}

/// Counts what is kept, and refuses what is too much.
#[derive(Default)]
pub(super) struct Taken {
    rows: usize,
    cells: usize,
    text: usize,
}

impl Taken {
    pub(super) fn row(&mut self) -> Result<(), Stop> {
        self.rows += 1;
        if self.rows > ROWS_AT_MOST {
            return Err(refuse(format!("more than {ROWS_AT_MOST} rows"), "split the list, or clear what stands at the end of the sheet"));
        }
        Ok(())
    }
    pub(super) fn cell(&mut self, row: usize, column: usize, text: &str) -> Result<(), Stop> {
        let at = || format!("{}{row}", letters(column));
        if column >= COLUMNS_AT_MOST {
            return Err(refuse(
                format!("cell {} is past the {COLUMNS_AT_MOST} columns that a list may have", at()),
                "delete the columns that are not of the list",
            ));
        }
        if text.len() > CELL_AT_MOST && text.chars().count() > CELL_AT_MOST {
            return Err(refuse(format!("cell {} holds more than {CELL_AT_MOST} characters", at()), "shorten it"));
        }
        self.cells += 1;
        self.text += text.len();
        if self.cells > CELLS_AT_MOST || self.text > TEXT_AT_MOST {
            return Err(refuse(
                format!("more than {CELLS_AT_MOST} cells, or more than {TEXT_AT_MOST} bytes of text"),
                "split the list, or delete the columns that are not of it",
            ));
        }
        Ok(())
    }
}

/// `A`, `Z`, `AA` of a column counted from 0.
pub(crate) fn letters(column: usize) -> String {
    let mut text = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        text.push(b'A' + ((rest - 1) % 26) as u8);
        rest = (rest - 1) / 26;
    }
    text.iter().rev().map(|b| *b as char).collect()
}

/// The column of letters, counted from 0.
pub(crate) fn column_of(letters: &str) -> Option<usize> {
    if letters.is_empty() || letters.len() > 3 || !letters.bytes().all(|b| b.is_ascii_uppercase()) {
        return None;
    }
    Some(letters.bytes().fold(0, |n, b| n * 26 + usize::from(b - b'A') + 1) - 1)
}

fn workbook(bytes: &[u8]) -> Result<Vec<Grid>, Stop> {
    unpacked_within_bounds(bytes)?;
    // The workbook library is given hostile files here; whatever it does not foresee must not end the program.
    let read = catch_unwind(AssertUnwindSafe(|| sheets(bytes)));
    read.unwrap_or_else(|_| Err(damaged()))
}

/// Unpacks every part once, keeping none, before anything relies on what the workbook says of itself.
fn unpacked_within_bounds(bytes: &[u8]) -> Result<(), Stop> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|_| damaged())?;
    if archive.len() > PARTS_AT_MOST {
        return Err(refuse(
            format!("the workbook has {} parts; {PARTS_AT_MOST} are read", archive.len()),
            "save the sheet with the list as .csv",
        ));
    }
    let mut all = 0u64;
    let mut is_workbook = false;
    for n in 0..archive.len() {
        let part = archive.by_index(n).map_err(|_| damaged())?;
        let (name, packed) = (part.name().map_err(|_| damaged())?.to_lowercase(), part.compressed_size());
        is_workbook |= name == "xl/workbook.xml";
        if name.ends_with("vbaproject.bin") || name.contains("/macrosheets/") {
            return Err(refuse("the workbook holds macros", "save it as .xlsx, which holds none, or as .csv"));
        }
        if name.ends_with(".bin") && name.starts_with("xl/workbook") {
            return Err(refuse("this is a binary workbook (.xlsb)", "save it as .xlsx or .csv"));
        }
        let mut text = Vec::new();
        part.take(UNPACKED_AT_MOST - all + 1).read_to_end(&mut text).map_err(|_| damaged())?;
        let size = text.len() as u64;
        all += size;
        if all > UNPACKED_AT_MOST {
            return Err(refuse(
                format!("unpacked, the workbook has more than {UNPACKED_AT_MOST} bytes"),
                "save the sheet with the list as .csv, or split it",
            ));
        }
        if size > RATIO_FROM && size / packed.max(1) > RATIO_AT_MOST {
            return Err(refuse(
                format!("part {name} of the workbook unpacks to {} times its size; {RATIO_AT_MOST} are read", size / packed.max(1)),
                "save the sheet with the list as .csv",
            ));
        }
        for claim in ["uniqueCount=\"", "count=\"", " si=\""] {
            if name.ends_with(".xml") && claims_more(&text, claim) {
                return Err(refuse(
                    format!("part {name} of the workbook claims more than {SHARED_AT_MOST} entries"),
                    "save the sheet with the list as .csv",
                ));
            }
        }
    }
    if !is_workbook {
        return Err(refuse("this is a packed file, but no .xlsx workbook", "save the list as .xlsx or .csv"));
    }
    Ok(())
}

/// Whether a number behind some words is larger than any workbook within the bounds can need.
fn claims_more(text: &[u8], words: &str) -> bool {
    let words = words.as_bytes();
    let mut from = 0;
    while let Some(at) = text[from..].iter().position(|b| *b == words[words.len() - 1]).map(|n| from + n) {
        from = at + 1;
        if text[..from].ends_with(words) {
            let digits: Vec<u8> = text[from..].iter().take(24).copied().take_while(|b| *b != b'"').collect();
            let number = std::str::from_utf8(&digits).ok().map(str::trim);
            if number
                .is_none_or(|n| n.parse::<u64>().map_or(n.bytes().all(|b| b.is_ascii_digit()) && !n.is_empty(), |n| n > SHARED_AT_MOST))
            {
                return true;
            }
        }
    }
    false
}

fn sheets(bytes: &[u8]) -> Result<Vec<Grid>, Stop> {
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(bytes)).map_err(|error| match error {
        XlsxError::Password => refuse("the workbook has a password", "save it without one"),
        _ => damaged(),
    })?;
    let listed: Vec<(String, bool)> = book
        .sheets_metadata()
        .iter()
        .filter(|sheet| sheet.typ == SheetType::WorkSheet)
        .map(|sheet| (sheet.name.clone(), sheet.visible != SheetVisible::Visible))
        .collect();
    if listed.len() > SHEETS_AT_MOST {
        return Err(refuse(
            format!("the workbook has {} sheets; {SHEETS_AT_MOST} are read", listed.len()),
            "save the sheet with the list as .csv",
        ));
    }
    let mut taken = Taken::default();
    let mut grids = Vec::new();
    for (name, hidden) in listed {
        let mut grid = Grid { name, hidden, ..Grid::default() };
        cells(&mut book, &mut grid, &mut taken)?;
        merged(&mut book, &mut grid, &mut taken)?;
        grids.push(grid);
    }
    Ok(grids)
}

fn cells(book: &mut Xlsx<Cursor<&[u8]>>, grid: &mut Grid, taken: &mut Taken) -> Result<(), Stop> {
    let name = grid.name.clone();
    let mut reader = book.worksheet_cells_reader(&name).map_err(|_| damaged())?;
    // Anchors of shared formulas that ask another workbook.
    let mut external_shared: Vec<usize> = Vec::new();
    while let Some(cell) = reader.next_cell_with_formula_metadata().map_err(|_| damaged())? {
        let (row, column) = (cell.pos.0 as usize, cell.pos.1 as usize);
        let (text, kind): (Cow<str>, Kind) = match &cell.value {
            DataRef::Empty => ("".into(), Kind::Text),
            DataRef::String(text) => (text.as_str().into(), Kind::Text),
            DataRef::SharedString(text) => ((*text).into(), Kind::Text),
            DataRef::Int(n) => (n.to_string().into(), Kind::Number),
            DataRef::Float(n) => (number(*n).into(), Kind::Number),
            DataRef::Bool(is) => ((if *is { "TRUE" } else { "FALSE" }).into(), Kind::Text),
            DataRef::DateTime(date) => {
                let (year, month, day, hour, minute, ..) = date.to_ymd_hms_milli();
                let text = if date.as_f64() < 1.0 { format!("{hour:02}:{minute:02}") } else { format!("{year:04}-{month:02}-{day:02}") };
                (text.into(), Kind::Date)
            }
            DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => (text.as_str().into(), Kind::Date),
            DataRef::Error(error) => (error.to_string().into(), Kind::Error),
        };
        let kind = match &cell.formula {
            None => kind,
            Some(formula) => {
                let asks_other = |text: &str| text.contains('[') && text.contains(']') && text.contains('!');
                let external = match formula {
                    XlsxFormulaMetadata::Normal { formula } => asks_other(formula),
                    XlsxFormulaMetadata::Shared { shared_index, formula, .. } => {
                        let is = asks_other(formula);
                        if is {
                            external_shared.push(*shared_index);
                        }
                        is
                    }
                    _ => formula.shared_index().is_some_and(|index| external_shared.contains(&index)),
                };
                match kind {
                    _ if external => Kind::External,
                    _ if text.is_empty() => Kind::Unstored,
                    Kind::Error | Kind::Date => kind,
                    _ => Kind::Formula,
                }
            }
        };
        let text = text.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
        if text.is_empty() && kind == Kind::Text {
            continue;
        }
        taken.cell(row + 1, column, text)?;
        put(grid, row + 1, column, GridCell { text: text.into(), kind }, taken)?;
    }
    Ok(())
}

/// Puts a cell in its place; cells come in the order of rows.
fn put(grid: &mut Grid, number: usize, column: usize, cell: GridCell, taken: &mut Taken) -> Result<(), Stop> {
    let at = match grid.rows.last() {
        Some(last) if last.number == number => grid.rows.len() - 1,
        Some(last) if last.number > number => match grid.rows.binary_search_by_key(&number, |row| row.number) {
            Ok(at) => at,
            Err(_) => return Err(damaged()),
        },
        _ => {
            taken.row()?;
            grid.rows.push(GridRow { number, cells: Vec::new() });
            grid.rows.len() - 1
        }
    };
    let cells = &mut grid.rows[at].cells;
    if cells.len() <= column {
        cells.resize(column + 1, GridCell::default());
    }
    cells[column] = cell;
    Ok(())
}

/// A merged area says in every cell what its first one says; rows that only it reaches are not made by it.
fn merged(book: &mut Xlsx<Cursor<&[u8]>>, grid: &mut Grid, taken: &mut Taken) -> Result<(), Stop> {
    let areas = book.merge_cells_by_sheet_name(&grid.name).map_err(|_| damaged())?;
    if areas.len() > MERGED_AT_MOST {
        return Err(refuse(format!("sheet {} has more than {MERGED_AT_MOST} merged areas", grid.name), "save it as .csv"));
    }
    for area in areas {
        let (first, last) = (area.start.0 as usize + 1, area.end.0 as usize + 1);
        let columns = area.start.1 as usize..=(area.end.1 as usize).min(COLUMNS_AT_MOST - 1);
        let from = grid.rows.partition_point(|row| row.number < first);
        let to = grid.rows.partition_point(|row| row.number <= last);
        let Some(top) = grid.rows.get(from).filter(|row| row.number == first).and_then(|row| row.cells.get(*columns.start())) else {
            continue;
        };
        if top.text.is_empty() {
            continue;
        }
        let said = top.clone();
        for at in from..to {
            for column in columns.clone() {
                let cells = &mut grid.rows[at].cells;
                if cells.get(column).is_none_or(|cell| cell.text.is_empty()) {
                    taken.cell(grid.rows[at].number, column, &said.text)?;
                    let cells = &mut grid.rows[at].cells;
                    if cells.len() <= column {
                        cells.resize(column + 1, GridCell::default());
                    }
                    let kind = match said.kind {
                        _ if column != *columns.start() => Kind::Across,
                        Kind::Text | Kind::Number => Kind::Merged,
                        kind => kind,
                    };
                    cells[column] = GridCell { text: said.text.clone(), kind };
                }
            }
        }
    }
    Ok(())
}

/// A stored number as its cell shows it: without the noise of binary fractions past twelve digits.
fn number(n: f64) -> String {
    if n == n.trunc() && n.abs() < 1e15 {
        return format!("{n:.0}");
    }
    match format!("{n:.11e}").parse::<f64>() {
        Ok(rounded) => rounded.to_string(),
        Err(_) => n.to_string(),
    }
}
