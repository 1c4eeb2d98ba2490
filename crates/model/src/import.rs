//! What an import did: which column it took for what, what became of each row, what it merged.

/// A sheet that was read, and what its columns were taken for.
#[derive(Clone, Debug, Default)]
pub struct SheetMapping {
    /// Name of the sheet; empty for a list of plain text.
    pub sheet: String,
    /// Row of the heads, counted from 1.
    pub head_row: usize,
    /// Every column with something in it.
    pub columns: Vec<ColumnMapping>,
    /// First rows as read, by column as above.
    pub preview: Vec<Vec<String>>,
}

/// What a column was taken for.
#[derive(Clone, Debug)]
pub struct ColumnMapping {
    /// Its letters, `A`.
    pub column: String,
    /// Its head as read.
    pub head: String,
    /// The field, `from_pin`; `note` where it is kept in the notes.
    pub field: String,
    /// Unit that the head states.
    pub unit: String,
    /// Why: `given`, `sure` (the head is a known word), `likely` (it holds one, and the cells fit), `kept` (as a note).
    pub confidence: &'static str,
    /// Cells with something in them.
    pub filled: usize,
    /// Of these, those that can be read as the field.
    pub fit: usize,
}

/// Something about one cell, or one row, of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RowNote {
    /// Name of the sheet; empty for a list of plain text.
    pub sheet: String,
    /// Row as the spreadsheet counts it.
    pub row: usize,
    /// Letters of the column; empty for the whole row.
    pub column: String,
    /// Wire, if its id could be read.
    pub wire: String,
    /// What stands in the cell.
    pub text: String,
    /// What it became; empty for a refused row.
    pub became: String,
    /// What was corrected, or why it was refused; the same words for the same thing.
    pub what: String,
    /// Whether a wire is missing for it: not so for a title, repeated heads or an exact repeat.
    pub lost: bool,
}

/// A wire, field by field, on which the list and the folder disagree; the folder's was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MergeConflict {
    /// The wire.
    pub wire: String,
    /// The field; empty where the whole row is meant.
    pub field: String,
    /// As the list had it at the last import.
    pub before: String,
    /// As the folder has it now: kept.
    pub folder: String,
    /// As the new list has it.
    pub list: String,
    /// Why both cannot be.
    pub why: &'static str,
}

/// What a newer list did to a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MergeReport {
    /// Wires added.
    pub added: Vec<String>,
    /// Wires taken out.
    pub removed: Vec<String>,
    /// Cells changed: wire, field, from, to.
    pub changed: Vec<[String; 4]>,
    /// Wires of the folder that neither list has.
    pub own: usize,
    /// Wires or cells changed by hand that the list left alone.
    pub kept: usize,
    /// What could not be decided.
    pub conflicts: Vec<MergeConflict>,
}

/// What became of a list.
#[derive(Clone, Debug, Default)]
pub struct ImportReport {
    /// Name of the file.
    pub file: String,
    /// Sheets read.
    pub sheets: Vec<SheetMapping>,
    /// Sheets left alone, and why.
    pub left: Vec<(String, String)>,
    /// What is true of the whole list.
    pub remarks: Vec<String>,
    /// Rows with something in them below the heads.
    pub read: usize,
    /// Rows taken as they stand.
    pub accepted: usize,
    /// Rows taken after a correction.
    pub corrected: usize,
    /// Every corrected cell.
    pub corrections: Vec<RowNote>,
    /// Every refused row.
    pub refused: Vec<RowNote>,
    /// Wires with gauge, length and current: each is judged by itself.
    pub alone: usize,
    /// Wires without a length.
    pub without_length: usize,
    /// Wires without a current.
    pub without_current: usize,
    /// What the merge did, where a folder was brought up to date.
    pub merge: Option<MergeReport>,
}

/// Something only the user knows, with the arguments that answer it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportQuestion {
    /// The question.
    pub text: String,
    /// Arguments that answer it, each one possible answer.
    pub answers: Vec<String>,
}
