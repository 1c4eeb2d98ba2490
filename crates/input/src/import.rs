//! A spreadsheet with a wire list to a vehicle folder, and a newer one into a folder that is there.
//!
//! ```text
//! workbook, plain   bytes → sheets of cells, within the bounds of `limits`
//! heads             which row holds the heads, which column is which field; what is not clear is asked
//! cell              one cell → the words of a vehicle's files
//! list              rows → wires, each taken, corrected or refused
//! new               wires → the files of a folder
//! merge             wires → changes of a folder's files, by three versions: the list before, the folder, the list now
//! ```

mod cell;
mod heads;
pub mod limits;
mod list;
mod merge;
mod new;
mod plain;
mod workbook;

pub use list::{List, read};
pub use merge::update;
pub use new::new_folder;

use crate::quantity::{Quantity, Unit};
use model::{ImportQuestion, SheetMapping};
use std::collections::BTreeSet;

/// Folder inside a vehicle's that the import keeps its own files in; the reader of a vehicle does not look into it.
pub const KEPT_IN: &str = "imports/";
/// The list as it was understood at the last import: what the next one is held against.
pub const BASE: &str = "imports/base.csv";
/// The cells of the list as they were read.
pub const AS_READ: &str = "imports/as-read.csv";
/// The answers that the list was read by: a file for `--map`.
pub const SETTINGS: &str = "imports/map.txt";
/// What was corrected, refused, or left as the folder has it.
pub const REPORT: &str = "imports/report.csv";

/// All files that an import keeps.
pub const KEPT: [&str; 4] = [AS_READ, BASE, SETTINGS, REPORT];

/// Why nothing was imported.
#[derive(Debug)]
pub enum Stop {
    /// The list cannot be taken.
    Refused {
        /// What is wrong with it.
        what: String,
        /// What to do.
        help: String,
    },
    /// Only the user knows.
    Asked {
        /// What must be answered.
        questions: Vec<ImportQuestion>,
        /// The columns as understood so far.
        sheets: Vec<SheetMapping>,
        /// Sheets left alone, and why.
        left: Vec<(String, String)>,
    },
}

/// What the user has said of the list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answers {
    /// Sheets by name or number; `all`.
    pub sheets: Vec<String>,
    columns: Vec<(&'static str, String)>,
    head_row: Option<usize>,
    decimal: Option<cell::Decimal>,
    length_unit: Option<&'static Unit>,
    current_unit: Option<&'static Unit>,
    /// Connector ids carry the id of their unit.
    with_units: Option<bool>,
}

impl Answers {
    /// Takes an answer `KEY=VALUE`; a later one about the same thing takes the place of an earlier one.
    ///
    /// # Errors
    /// A key or value that is not understood, in a sentence.
    pub fn take(&mut self, text: &str) -> Result<(), String> {
        let (key, value) = text
            .split_once('=')
            .map(|(k, v)| (k.trim(), v.trim().trim_matches('"')))
            .ok_or_else(|| format!("--map {text}: write KEY=VALUE, for example --map from_pin=D, or name a file with a line for each"))?;
        let one_of = |words: &str| format!("--map {key}={value}: {key} is one of {words}");
        match key {
            "header" => {
                let row = value.parse::<usize>().ok().filter(|row| *row > 0);
                self.head_row = Some(row.ok_or_else(|| format!("--map header={value}: write the number of the row that holds the heads"))?);
            }
            "decimal" => {
                self.decimal = Some(match value {
                    "point" => cell::Decimal::Point,
                    "comma" => cell::Decimal::Comma,
                    _ => return Err(one_of("point, comma")),
                });
            }
            "length_unit" | "current_unit" => {
                let (quantity, slot) = match key {
                    "length_unit" => (Quantity::Length, &mut self.length_unit),
                    _ => (Quantity::Current, &mut self.current_unit),
                };
                *slot = Some(quantity.unit(value).ok_or_else(|| one_of(&quantity.unit_words()))?);
            }
            "connectors" => {
                self.with_units = Some(match value {
                    "with-unit" => true,
                    "as-written" => false,
                    _ => return Err(one_of("with-unit, as-written")),
                });
            }
            "sheet" => {
                if !self.sheets.iter().any(|sheet| sheet == value) {
                    self.sheets.push(value.to_owned());
                }
            }
            "note" => self.columns.push(("note", value.to_owned())),
            _ => {
                let Some(field) = heads::FIELDS.into_iter().find(|field| *field == key) else {
                    return Err(format!(
                        "--map {text}: no {key:?}; there are {}, note, and header, decimal, length_unit, current_unit, connectors, sheet",
                        heads::FIELDS.join(", ")
                    ));
                };
                self.columns.retain(|(of, _)| *of != field);
                self.columns.push((field, value.to_owned()));
            }
        }
        Ok(())
    }

    /// Takes every line of a file of answers; `#` begins a comment.
    ///
    /// # Errors
    /// The first line that is not understood.
    pub fn take_lines(&mut self, text: &str) -> Result<(), String> {
        for line in text.trim_start_matches('\u{feff}').lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#')) {
            self.take(line)?;
        }
        Ok(())
    }
}

/// A hash of bytes by which a file is known again (FNV-1a, 64 bits: it tells a change of hand from none, and guards against nobody).
pub fn hash(bytes: &[u8]) -> String {
    let hash = bytes.iter().fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
    format!("{hash:016x}")
}

/// Kinds and ids of the rows that the folder's files declare.
fn declared(files: &[(String, Vec<u8>)]) -> BTreeSet<(String, String)> {
    let mut declared = BTreeSet::new();
    for (_, bytes) in files.iter().filter(|(path, _)| !path.contains('/') && path.ends_with(".toml")) {
        let text = String::from_utf8_lossy(bytes);
        let Ok(table) = toml::de::DeTable::parse(text.trim_start_matches('\u{feff}')) else { continue };
        for (kind, rows) in table.get_ref().iter() {
            let Some(rows) = rows.get_ref().as_table() else { continue };
            declared.extend(rows.keys().map(|name| (kind.get_ref().to_string(), name.get_ref().to_string())));
        }
    }
    declared
}

/// A cell as CSV has it.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) || text.starts_with('#') || text != text.trim() {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// A line of cells.
fn line<'a>(cells: impl Iterator<Item = &'a str>) -> String {
    cells.map(quoted).collect::<Vec<_>>().join(",") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_understood_or_refused() {
        let mut answers = Answers::default();
        answers.take_lines("# of the spring list\nfrom_pin = D\nheader=4\nlength_unit = ft\nfrom_pin=E\n").expect("understood");
        assert_eq!((answers.columns.as_slice(), answers.head_row), (&[("from_pin", "E".to_owned())][..], Some(4)));
        for bad in ["from_pin", "shade=A", "header=0", "header=x", "decimal=dot", "length_unit=A", "connectors=x"] {
            assert!(answers.take(bad).is_err(), "{bad}");
        }
    }

    /// Test vectors of FNV-1a, 64 bits (from memory): "" and "a".
    #[test]
    fn hashes_are_fnv_1a() {
        assert_eq!((hash(b"").as_str(), hash(b"a").as_str()), ("cbf29ce484222325", "af63dc4c8601ec8c"));
    }
}
