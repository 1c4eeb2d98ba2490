//! What an import did: columns, what became of the rows, what was merged, what each further input would let the program judge.

use crate::Style;
use crate::json::FORMAT;
use crate::number::{count, counted};
use crate::table::Grid;
use model::*;
use serde::Serialize;

/// Refused rows, conflicts and the like that are listed unless all are asked for.
const FIRST: usize = 20;

/// An input, and the rules that it lets the program judge.
pub struct Unlocks {
    /// What to write, and where.
    pub input: &'static str,
    /// What it is good for.
    pub gives: &'static str,
    /// Codes of the rules that then have a subject.
    pub rules: &'static [&'static str],
}

/// Inputs beyond a bare wire list, in the order in which they pay.
pub const UNLOCKS: &[Unlocks] = &[
    Unlocks { input: "length and current of each wire, in wires.csv", gives: "the drop over each wire by itself", rules: &["VD-01"] },
    Unlocks {
        input: "type and bundle_wires of each wire, in wires.csv; in air altitude of each [phase]",
        gives: "current of each wire against the handbook's tables",
        rules: &["AM-01"],
    },
    Unlocks {
        input: "[breaker] and [fuse] with rating, and protector_chart of the profile",
        gives: "breakers against the gauges behind them",
        rules: &["AM-02"],
    },
    Unlocks {
        input: "[zone], zone of each [segment]; [climate] for what differs in phases",
        gives: "how warm each wire gets, and what it may carry where it lies",
        rules: &["HT-01", "HT-02", "HT-03", "HT-04"],
    },
    Unlocks {
        input: "[battery] or [supply], [bus], [breaker], [load] in a .toml file",
        gives: "volts and currents everywhere, out and back",
        rules: &["OP-01", "OP-02", "UF-01", "BB-01", "VL-01", "VL-02", "SR-01", "SR-02", "DC-01", "IC-03", "IC-06", "IC-10"],
    },
    Unlocks {
        input: "device of each [breaker], [fuse] and [limiter], inrush of each [load]; tier of [function]",
        gives: "what opens when, before or after the wire is harmed; what starts without opening it",
        rules: &["PP-02", "PP-03", "PP-04", "PP-05", "PP-06", "PP-07", "PP-08", "PP-09", "PP-10", "PP-11", "PP-12"],
    },
    Unlocks {
        input: "type, cells and charge of each [battery], duration of each [phase]; [programme], must_keep of [function], restart of [load]",
        gives: "the charge through the mission: how long it lasts, what is left, what is charged that must not be",
        rules: &["EN-01", "EN-02", "EN-03", "EN-04", "EN-05", "EN-06", "EN-07", "EN-08"],
    },
    Unlocks {
        input: "[initiator]: what the sheet of each initiator states of its bridge wire; [load], [switch] and [relay] of its circuit",
        gives: "firing currents, what a fired bridge wire does, and what stands between it and every source",
        rules: &["OR-01", "OR-02", "OR-03", "OR-04", "OR-05", "OR-06", "OR-07"],
    },
    Unlocks {
        input: "switched_by and off_current of [load], leakage of [switch]; [action]",
        gives: "paths that nobody drew: current backwards, loads energised while commanded off",
        rules: &["SN-01", "SN-02"],
    },
    Unlocks {
        input: "[separation] and [step]: what parts when, on whose command; pins.csv for what each contact is for",
        gives: "every state in between, what is left behind, who is upset",
        rules: &["SP-01", "SP-02", "SP-03", "SP-04", "SP-05", "SP-06", "SP-07", "SP-08", "SP-09", "SP-10", "SP-11", "SP-12", "SP-13"],
    },
    Unlocks {
        input: "[function] with needs and survives; [action], [monitor]",
        gives: "what every single fault does to every function, and who tells of it",
        rules: &["FT-01", "FT-02", "FT-03"],
    },
    Unlocks {
        input: "[unit], [connector] with contact, arrangement and mate",
        gives: "contacts, cavities and what could be mated wrongly",
        rules: &["CT-01", "CT-02", "CN-02", "CN-03", "CN-04", "CN-05", "CN-06", "CN-07", "IC-05"],
    },
    Unlocks {
        input: "pins.csv and [sheet]: what each pin of a unit is for",
        gives: "the wire list against the interface sheets",
        rules: &["IC-01", "IC-02", "IC-04", "IC-07"],
    },
    Unlocks {
        input: "cable, group and type of wires, in wires.csv; [cable]",
        gives: "pairs, parallel wires, insulation",
        rules: &["IC-08", "IC-09", "PP-01", "WI-01"],
    },
    Unlocks { input: "[switch], [relay], [tie]", gives: "what switches, and the coils that move it", rules: &["SW-01", "RL-01", "RL-02"] },
    Unlocks {
        input: "[sensor], [receiver], [excitation]",
        gives: "millivolts that leads and shared returns cost",
        rules: &["SE-01", "SE-02", "SE-03", "SE-04", "CM-01"],
    },
    Unlocks {
        input: "[breakout], [segment], breakout of connectors, splices, studs; [clamp]",
        gives: "the route of each wire, and its length without a guess",
        rules: &["RT-01", "RT-02", "RT-06", "RT-07"],
    },
    Unlocks {
        input: "class and not_with of [circuit], admits of [segment]",
        gives: "what must not lie side by side",
        rules: &["RT-03", "RT-04", "RT-05"],
    },
    Unlocks {
        input: "[clamp], [covering], [near], shell of connectors, bend and tie_pitch",
        gives: "each bundle's diameter against holes, bends, clamps, ties and what lies near",
        rules: &["BN-01", "BN-02", "BN-03", "BN-04", "BN-05", "BN-06", "BN-07"],
    },
    Unlocks { input: "[section] and stays of connectors", gives: "what stays live when halves are parted", rules: &["CN-01"] },
];

/// Output of `import`.
#[derive(Debug, Serialize)]
pub struct ImportOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `import`.
    pub command: &'static str,
    /// The list.
    pub file: String,
    /// The folder.
    pub folder: String,
    /// Files written, by path in the folder; empty for a preview or where nothing changed.
    pub written: Vec<String>,
    /// Where the files that were written over are kept; null if none was.
    pub backup: Option<String>,
    /// Columns of the sheets read.
    pub columns: Vec<ColumnRow>,
    /// Sheets left alone.
    pub left: Vec<LeftRow>,
    /// What is true of the whole list.
    pub remarks: Vec<String>,
    /// What became of the rows.
    pub reconciliation: Reconciliation,
    /// Every corrected cell.
    pub corrections: Vec<NoteRow>,
    /// Every refused row.
    pub refused: Vec<NoteRow>,
    /// What was merged; null for a new folder.
    pub merge: Option<MergeRow>,
}

/// A column and what it was taken for.
#[derive(Debug, Serialize)]
pub struct ColumnRow {
    /// Name of the sheet; empty for plain text.
    pub sheet: String,
    /// Row of the heads.
    pub head_row: usize,
    /// Letters of the column.
    pub column: String,
    /// Its head.
    pub head: String,
    /// The field, or `note`.
    pub field: String,
    /// Unit stated by the head or by the user.
    pub unit: String,
    /// `given`, `sure`, `likely` or `kept`.
    pub confidence: &'static str,
    /// Cells with something in them.
    pub filled: usize,
    /// Of these, those that can be read as the field.
    pub fit: usize,
}

/// A sheet that was left alone.
#[derive(Debug, Serialize)]
pub struct LeftRow {
    /// Its name.
    pub sheet: String,
    /// Why.
    pub why: String,
}

/// Rows read = accepted + corrected + refused.
#[derive(Debug, Serialize)]
pub struct Reconciliation {
    /// Rows with something in them below the heads.
    pub read: usize,
    /// Taken as they stand.
    pub accepted: usize,
    /// Taken after a correction.
    pub corrected: usize,
    /// Not taken.
    pub refused: usize,
    /// Wires with gauge, length and current: each is judged by itself.
    pub judged_alone: usize,
    /// Of those not taken, rows for which a wire is missing: not titles, repeated heads, exact repeats.
    pub wires_missing: usize,
}

/// A cell that was corrected, or a row that was refused.
#[derive(Debug, Serialize)]
pub struct NoteRow {
    /// Name of the sheet; empty for plain text.
    pub sheet: String,
    /// Row as the spreadsheet counts it.
    pub row: usize,
    /// Letters of the column; empty for the whole row.
    pub column: String,
    /// The wire, if its id could be read.
    pub wire: String,
    /// What stands there.
    pub text: String,
    /// What it became.
    pub became: String,
    /// What was corrected, or why it was refused.
    pub why: String,
}

/// What a newer list did to a folder.
#[derive(Debug, Serialize)]
pub struct MergeRow {
    /// Wires put in.
    pub added: Vec<String>,
    /// Wires taken out.
    pub removed: Vec<String>,
    /// Cells changed.
    pub changed: Vec<ChangedRow>,
    /// Wires of the folder that no list has had.
    pub own: usize,
    /// What was changed by hand and left as it is.
    pub kept: usize,
    /// What both have changed; the folder's is kept.
    pub conflicts: Vec<ConflictRow>,
}

/// A cell that the newer list changed.
#[derive(Debug, Serialize)]
pub struct ChangedRow {
    /// The wire.
    pub wire: String,
    /// The field.
    pub field: String,
    /// What stood there.
    pub from: String,
    /// What stands there now.
    pub to: String,
}

/// Where list and folder disagree.
#[derive(Debug, Serialize)]
pub struct ConflictRow {
    /// The wire.
    pub wire: String,
    /// The field; empty for the whole row.
    pub field: String,
    /// As the list had it before.
    pub before: String,
    /// As the folder has it: kept.
    pub folder: String,
    /// As the list has it now.
    pub list: String,
    /// Why.
    pub why: &'static str,
}

/// What was written, for the output.
pub struct Written<'a> {
    /// The folder as the user named it.
    pub folder: &'a str,
    /// Files written.
    pub files: &'a [String],
    /// Where the files written over are kept.
    pub backup: Option<&'a str>,
    /// Nothing was to be written.
    pub preview: bool,
}

/// Rows for which a wire is missing in the folder.
pub fn wires_missing(report: &ImportReport) -> usize {
    report.refused.iter().filter(|note| note.lost).count()
}

/// The import as JSON.
pub fn import_json(report: &ImportReport, written: &Written) -> ImportOutput {
    let note = |note: &RowNote| NoteRow {
        sheet: note.sheet.clone(),
        row: note.row,
        column: note.column.clone(),
        wire: note.wire.clone(),
        text: note.text.clone(),
        became: note.became.clone(),
        why: note.what.clone(),
    };
    ImportOutput {
        format: FORMAT,
        command: "import",
        file: report.file.clone(),
        folder: written.folder.to_owned(),
        written: written.files.to_vec(),
        backup: written.backup.map(str::to_owned),
        columns: report.sheets.iter().flat_map(column_rows).collect(),
        left: report.left.iter().map(|(sheet, why)| LeftRow { sheet: sheet.clone(), why: why.clone() }).collect(),
        remarks: report.remarks.clone(),
        reconciliation: Reconciliation {
            read: report.read,
            accepted: report.accepted,
            corrected: report.corrected,
            refused: report.refused.len(),
            judged_alone: report.alone,
            wires_missing: wires_missing(report),
        },
        corrections: report.corrections.iter().map(note).collect(),
        refused: report.refused.iter().map(note).collect(),
        merge: report.merge.as_ref().map(|merge| MergeRow {
            added: merge.added.clone(),
            removed: merge.removed.clone(),
            changed: merge
                .changed
                .iter()
                .map(|[wire, field, from, to]| ChangedRow { wire: wire.clone(), field: field.clone(), from: from.clone(), to: to.clone() })
                .collect(),
            own: merge.own,
            kept: merge.kept,
            conflicts: merge
                .conflicts
                .iter()
                .map(|c| ConflictRow {
                    wire: c.wire.clone(),
                    field: c.field.clone(),
                    before: c.before.clone(),
                    folder: c.folder.clone(),
                    list: c.list.clone(),
                    why: c.why,
                })
                .collect(),
        }),
    }
}

fn column_rows(sheet: &SheetMapping) -> Vec<ColumnRow> {
    let row = |column: &ColumnMapping| ColumnRow {
        sheet: sheet.sheet.clone(),
        head_row: sheet.head_row,
        column: column.column.clone(),
        head: column.head.clone(),
        field: column.field.clone(),
        unit: column.unit.clone(),
        confidence: column.confidence,
        filled: column.filled,
        fit: column.fit,
    };
    sheet.columns.iter().map(row).collect()
}

/// The import as text.
pub fn import(report: &ImportReport, written: &Written, every: bool, style: Style) -> String {
    let mut text = mapping(&report.file, &report.sheets, &report.left, style);
    for remark in &report.remarks {
        text.push_str(&format!("note: {remark}\n"));
    }
    text.push('\n');
    text.push_str(&reconciliation(report, style));
    if !report.refused.is_empty() {
        text.push_str(&format!("\n{}\n", style.strong("refused")));
        let mut grid = Grid::new(&["sheet", ">row", "column", "wire", "stands there", "why"]);
        for note in report.refused.iter().take(if every { usize::MAX } else { FIRST }) {
            grid.row(vec![
                note.sheet.clone(),
                note.row.to_string(),
                note.column.clone(),
                note.wire.clone(),
                short(&note.text),
                note.what.clone(),
            ]);
        }
        text.push_str(&grid.render(style));
        text.push_str(&more(report.refused.len(), every));
    }
    if let Some(merge) = &report.merge {
        text.push_str(&merged(merge, every, style));
    } else {
        text.push_str(&unlocks(report, style));
    }
    text.push('\n');
    text.push_str(&ending(report, written));
    text
}

/// The columns as understood, for a list that is read and for one of which something must be asked.
pub fn mapping(file: &str, sheets: &[SheetMapping], left: &[(String, String)], style: Style) -> String {
    let mut text = String::new();
    for sheet in sheets {
        let name = if sheet.sheet.is_empty() { String::new() } else { format!(", sheet {:?}", sheet.sheet) };
        text.push_str(&format!("{}{name}: heads in row {}\n", style.strong(file), sheet.head_row));
        let mut grid = Grid::new(&["column", "head", "taken for", "unit", "how", ">cells", ">read", "first rows"]);
        for (at, column) in sheet.columns.iter().enumerate() {
            let field = if column.field == "note" { String::from("(note)") } else { column.field.clone() };
            let first: Vec<String> = sheet.preview.iter().filter_map(|row| row.get(at)).map(|cell| short(cell)).collect();
            grid.row(vec![
                column.column.clone(),
                short(&column.head),
                field,
                column.unit.clone(),
                column.confidence.to_owned(),
                count(column.filled),
                count(column.fit),
                first.join(" · "),
            ]);
        }
        text.push_str(&grid.render(style));
    }
    for (sheet, why) in left {
        text.push_str(&format!("not read: sheet {sheet:?}, {why}\n"));
    }
    text
}

/// Rows read = accepted + corrected + refused, with what and why.
fn reconciliation(report: &ImportReport, style: Style) -> String {
    let mut grid = Grid::new(&[">rows", "", "for example"]);
    grid.row(vec![count(report.read), "read".to_owned(), String::new()]);
    grid.row(vec![count(report.accepted), "accepted".to_owned(), String::new()]);
    grid.row(vec![count(report.corrected), "corrected".to_owned(), String::new()]);
    for (what, notes) in groups(&report.corrections) {
        let first = notes[0];
        let example = format!("{}{}: {} → {}", first.column, first.row, short(&first.text), short(&first.became));
        grid.row(vec![String::new(), format!("   {what}: {}", counted(notes.len(), "cell")), example]);
    }
    grid.row(vec![count(report.refused.len()), "refused".to_owned(), String::new()]);
    for (what, notes) in groups(&report.refused) {
        let first = notes[0];
        grid.row(vec![String::new(), format!("   {what}: {}", count(notes.len())), format!("row {}", first.row)]);
    }
    grid.render(style)
}

/// Notes of the same words, the most frequent first, equal ones in the order of the list.
fn groups(notes: &[RowNote]) -> Vec<(&str, Vec<&RowNote>)> {
    let mut groups: Vec<(&str, Vec<&RowNote>)> = Vec::new();
    let mut at: std::collections::HashMap<&str, usize> = std::collections::HashMap::new();
    for note in notes {
        let at = *at.entry(&note.what).or_insert_with(|| {
            groups.push((&note.what, Vec::new()));
            groups.len() - 1
        });
        groups[at].1.push(note);
    }
    groups.sort_by_key(|(_, notes)| std::cmp::Reverse(notes.len()));
    groups
}

fn merged(merge: &MergeReport, every: bool, style: Style) -> String {
    let first = if every { usize::MAX } else { FIRST };
    let mut text = format!(
        "\n{}: {} added, {} taken out, {} changed; {} of the folder's own, {} by hand kept, {}\n",
        style.strong("merged"),
        counted(merge.added.len(), "wire"),
        counted(merge.removed.len(), "wire"),
        counted(merge.changed.len(), "cell"),
        counted(merge.own, "wire"),
        counted(merge.kept, "change"),
        counted(merge.conflicts.len(), "conflict"),
    );
    for (what, wires) in [("added", &merge.added), ("taken out", &merge.removed)] {
        if !wires.is_empty() {
            text.push_str(&format!("{what}: {}", wires.iter().take(first).cloned().collect::<Vec<_>>().join(", ")));
            text.push_str(&if wires.len() > first { format!(" and {} more\n", wires.len() - first) } else { "\n".to_owned() });
        }
    }
    if !merge.changed.is_empty() {
        let mut grid = Grid::new(&["wire", "field", "was", "is"]);
        for [wire, field, from, to] in merge.changed.iter().take(first) {
            grid.row(vec![wire.clone(), field.clone(), short(from), short(to)]);
        }
        text.push_str(&grid.render(style));
        text.push_str(&more(merge.changed.len(), every));
    }
    if !merge.conflicts.is_empty() {
        text.push_str(&format!("\n{}: kept as the folder has it\n", style.bad("conflicts")));
        let mut grid = Grid::new(&["wire", "field", "before", "folder", "new list", "why"]);
        for c in merge.conflicts.iter().take(first) {
            grid.row(vec![c.wire.clone(), c.field.clone(), short(&c.before), short(&c.folder), short(&c.list), c.why.to_owned()]);
        }
        text.push_str(&grid.render(style));
        text.push_str(&more(merge.conflicts.len(), every));
    }
    text
}

fn unlocks(report: &ImportReport, style: Style) -> String {
    let mut text = format!(
        "\nwires that are judged as they stand: {} (without a length: {}, without a current: {})\n",
        count(report.alone),
        count(report.without_length),
        count(report.without_current)
    );
    text.push_str(&format!("\n{}\n", style.strong("what further input lets `check` judge")));
    let mut grid = Grid::new(&["input", "gives", "rules"]);
    for row in UNLOCKS {
        grid.row(vec![row.input.to_owned(), row.gives.to_owned(), row.rules.join(" ")]);
    }
    text.push_str(&grid.render(style));
    text
}

fn ending(report: &ImportReport, written: &Written) -> String {
    let folder = written.folder;
    let quoted = if folder.contains(char::is_whitespace) { format!("'{folder}'") } else { folder.to_owned() };
    let mut text = match wires_missing(report) {
        0 => String::new(),
        n => format!(
            "{} missing: mend the list and import it again with --update; every refused row stands in {folder}/imports/report.csv\n",
            counted(n, "wire")
        ),
    };
    if written.preview {
        return text.replace(&format!("; every refused row stands in {folder}/imports/report.csv"), "")
            + "nothing written: this was a preview\n";
    }
    if written.files.is_empty() {
        return text + &format!("{folder}: nothing to change\nnext?    loomwright check {quoted}\n");
    }
    text.push_str(&format!("{folder}: {} written\n", written.files.join(", ")));
    if let Some(backup) = written.backup {
        text.push_str(&format!("as they were: {folder}/{backup}\n"));
    }
    text + &format!("next?    loomwright check {quoted}\n")
}

fn more(all: usize, every: bool) -> String {
    if every || all <= FIRST { String::new() } else { format!("… and {} more: --all lists them\n", count(all - FIRST)) }
}

/// A cell's text, cut where it would make a table unreadable.
fn short(text: &str) -> String {
    const MOST: usize = 28;
    let line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if line.chars().count() <= MOST { line } else { line.chars().take(MOST - 1).collect::<String>() + "…" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_is_unlocked_by_some_input() {
        let named: Vec<&str> = UNLOCKS.iter().flat_map(|row| row.rules.iter().copied()).collect();
        for rule in rules::RULES {
            assert!(named.contains(&rule.code.0), "{} stands in no row of UNLOCKS: name the input that gives it a subject", rule.code.0);
        }
        for code in named {
            assert!(rules::explain(code).is_some(), "there is no rule {code}");
        }
    }
}
