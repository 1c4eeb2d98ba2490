//! `show cuts`: what loses each function by the wiring alone, and what redundant ways share.

use crate::explain::wrap_under;
use crate::functions::phases_words;
use crate::json::SubjectRow;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::Serialize;

/// Elements named in a cell before the rest is counted.
const NAMED: usize = 6;

/// A row of `show cuts`.
#[derive(Debug, Serialize)]
pub struct CutsRow {
    /// The function.
    pub subject: SubjectRow,
    /// How late it is given up: a lower tier is kept longer.
    pub tier: Option<u32>,
    /// How many faults at a time it has to survive.
    pub survives: Option<u32>,
    /// Phases with these cuts.
    pub phases: Vec<String>,
    /// Elements that alone leave it no way.
    pub singles: Vec<SubjectRow>,
    /// How many pairs do where neither element does alone; null where they were not looked for.
    pub pair_count: Option<usize>,
    /// Those pairs: any of `one` with any of `other`.
    pub pairs: Option<Vec<PairRow>>,
    /// What takes several ways at once.
    pub common: Vec<CommonRow>,
    /// It needs sensors, whose ways are not looked at.
    pub has_sensors: bool,
}

/// Pairs of elements: any of the one with any of the other.
#[derive(Debug, Serialize)]
pub struct PairRow {
    /// One.
    pub one: Vec<SubjectRow>,
    /// The other.
    pub other: Vec<SubjectRow>,
}

/// One thing that redundant ways share.
#[derive(Debug, Serialize)]
pub struct CommonRow {
    /// It.
    pub subject: SubjectRow,
    /// Of segments that run beside each other, the other one.
    pub beside: Option<String>,
    /// What in it together leaves the function no way.
    pub takes: Vec<SubjectRow>,
    /// Another way for one of the wires.
    pub detour: Option<DetourRow>,
}

/// Another way for a wire, clear of the segment.
#[derive(Debug, Serialize)]
pub struct DetourRow {
    /// The wire.
    pub wire: String,
    /// Segments from its `from` end to its `to` end.
    pub segments: Vec<String>,
    /// How much longer it would be.
    pub longer_m: Option<f64>,
}

/// The rows of a table of cuts.
pub fn cuts(view: &View, table: &CutTable) -> Vec<CutsRow> {
    let design = view.design;
    let elements = |list: &[ElementId]| list.iter().map(|&element| view.subject_row(element.into())).collect::<Vec<_>>();
    let row = |row: &CutRow| {
        let function = &design.functions[row.function];
        let pair = |[one, other]: &[Vec<ElementId>; 2]| PairRow { one: elements(one), other: elements(other) };
        let common = |cause: &CommonCause| CommonRow {
            subject: view.subject_row(cause.item),
            beside: cause.beside.map(|id| design.segments[id].name.to_string()),
            takes: elements(&cause.takes),
            detour: cause.detour.as_ref().map(|detour| DetourRow {
                wire: design.wires[detour.wire].name.to_string(),
                segments: detour.segments.iter().map(|&id| design.segments[id].name.to_string()).collect(),
                longer_m: number::json(detour.longer.0),
            }),
        };
        CutsRow {
            subject: view.subject_row(Subject::Function(row.function)),
            tier: function.tier.map(|tier| tier.value),
            survives: function.survives.map(|survives| survives.value),
            phases: row.phases.iter().map(|&phase| design.phases[phase].name.to_string()).collect(),
            singles: elements(&row.singles),
            pair_count: row.pair_count(),
            pairs: row.pairs.as_ref().map(|pairs| pairs.iter().map(pair).collect()),
            common: row.common.iter().map(common).collect(),
            has_sensors: row.has_sensors,
        }
    };
    table.rows.iter().map(row).collect()
}

fn words(row: &SubjectRow) -> String {
    format!("{}:{}", row.kind, row.name)
}

/// Some of a list, and how many more there are.
fn named(list: &[SubjectRow], most: usize) -> String {
    let mut text: Vec<String> = list.iter().take(most).map(words).collect();
    if list.len() > most {
        text.push(format!("… {} more", list.len() - most));
    }
    text.join(", ")
}

/// A table of cuts as text; `whole`: every element and pair.
pub fn cuts_text(view: &View, table: &CutTable, whole: bool, style: Style) -> String {
    let rows = cuts(view, table);
    if rows.is_empty() {
        return "no function has a way to look at\n".to_owned();
    }
    let phases = view.phase_names();
    let mut grid = Grid::new(&["function", ">survives", ">alone", ">pairs", ">shared", "phases"]);
    for row in &rows {
        grid.row(vec![
            row.subject.name.clone() + if row.has_sensors { " *" } else { "" },
            row.survives.map_or(String::new(), |survives| survives.to_string()),
            row.singles.len().to_string(),
            row.pair_count.map_or(String::new(), number::count),
            row.common.len().to_string(),
            phases_words(&row.phases, &phases),
        ]);
    }
    let mut text = grid.render(style);
    text += &wrap_under(
        "alone:  ",
        "elements each of which leaves it no way; pairs: of which neither does alone; shared: things that take several ways at once. \
                   Loads and units that it needs are not counted",
    );
    if rows.iter().any(|row| row.has_sensors) {
        text += "* it needs sensors, whose ways are not looked at\n";
    }
    let many = if whole { usize::MAX } else { NAMED };
    // What a function says in several phases is said once.
    type Line = (String, Vec<String>);
    let mut said: Vec<(&SubjectRow, Vec<Line>)> = Vec::new();
    for row in rows.iter().filter(|row| whole || row.survives.is_some_and(|survives| survives > 0)) {
        if said.last().is_none_or(|(of, _)| of.name != row.subject.name) {
            said.push((&row.subject, Vec::new()));
        }
        let Some((_, lines)) = said.last_mut() else { continue };
        let mut say = |line: String| match lines.iter_mut().find(|(known, _)| *known == line) {
            Some((_, phases)) => phases.extend(row.phases.iter().cloned()),
            None => lines.push((line, row.phases.clone())),
        };
        if !row.singles.is_empty() {
            say(format!("alone   {}", named(&row.singles, many)));
        }
        for cause in &row.common {
            let detour = cause.detour.as_ref().map_or(String::new(), |detour| {
                let longer = detour.longer_m.map_or(String::new(), |longer| format!(", {longer:+.2} m"));
                format!("; clear of it wire:{} could go by {}{longer}", detour.wire, detour.segments.join(", "))
            });
            let beside = cause.beside.as_ref().map_or(String::new(), |beside| format!(" with segment:{beside} beside it"));
            say(format!("shared  {}{beside} takes {}{detour}", words(&cause.subject), named(&cause.takes, many)));
        }
        for pair in row.pairs.iter().flatten().filter(|_| whole) {
            say(format!("pair    one of {} with one of {}", named(&pair.one, many), named(&pair.other, many)));
        }
    }
    for (function, lines) in said.iter().filter(|(_, lines)| !lines.is_empty()) {
        text += &format!("\n{}\n", words(function));
        for (line, in_phases) in lines {
            let (head, body) = line.split_at(8);
            let mut ordered: Vec<String> = phases.iter().filter(|phase| in_phases.contains(phase)).cloned().collect();
            ordered.dedup();
            text += &wrap_under(head, &format!("{body}; {}", phases_words(&ordered, &phases)));
        }
    }
    text
}
