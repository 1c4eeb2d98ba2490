//! What single faults come to, as files: the table of failure modes (CSV, workbook) and the matrix of functions and groups of faults (SVG).
//!
//! Severity is the lowest tier among the functions that a fault upsets for good, takes or leaves to an action; of an effect that is none of these it is `no loss`.

use crate::faults::{reason_words, short, worst_of};
use crate::section_drawing::{n, text};
use crate::shop::Issue;
use crate::shop::sheet::{Cell, Sheet, columns, inert, quoted, workbook};
use crate::{Swept, View, number};
use core::fmt::Write;
use model::*;
use std::collections::BTreeMap;

/// Columns of the table of failure modes.
const COLUMNS: [&str; 10] =
    ["fault", "item", "mode", "local effect", "next effect", "end effect", "detection", "compensation", "severity", "phases"];
/// Most characters that a cell of a workbook holds.
const CELL: usize = 32_767;

/// The table of failure modes: one row a fault, over all phases.
fn modes(view: &View, swept: &Swept) -> Vec<[String; COLUMNS.len()]> {
    let (design, table) = (view.design, swept.table);
    let note = |list: &mut Vec<String>, words: String| {
        if !words.is_empty() && !list.contains(&words) {
            list.push(words);
        }
    };
    let row = |row: &FaultRow| {
        let fault = &table.catalogue.faults[row.fault];
        let (mut local, mut next): (Vec<String>, Vec<String>) = Default::default();
        let (mut detection, mut compensation): (Vec<String>, Vec<String>) = Default::default();
        let mut phases: Vec<String> = Vec::new();
        let mut worst: BTreeMap<Id<Function>, Effect> = BTreeMap::new();
        for case in &row.phases {
            for &(device, ..) in &case.opens {
                note(&mut local, format!("{} opens", design.element_words(ElementId::Protector(device))));
            }
            if case.burns_on {
                note(&mut local, "a current goes on that no device ends".to_owned());
            }
            match case.announced {
                Announced::By(monitor, _) => note(&mut detection, format!("monitor:{}", design.monitors[monitor].name)),
                Announced::OnGround(monitor) => note(&mut detection, format!("on the ground by monitor:{}", design.monitors[monitor].name)),
                Announced::Latent if case.functions.is_empty() => {}
                Announced::Latent => note(&mut detection, "none".to_owned()),
            }
            for of in &case.functions {
                match of.effect {
                    Effect::Restored => note(&mut compensation, reason_words(view, of)),
                    Effect::KeptWithFewer => note(&mut compensation, "another path".to_owned()),
                    Effect::Kept => note(&mut compensation, "holds up while it burns".to_owned()),
                    _ => note(&mut next, reason_words(view, of)),
                }
                let known = worst.entry(of.function).or_insert(of.effect);
                *known = of.effect.max(*known);
            }
            if !case.functions.is_empty() {
                note(&mut phases, design.phases[case.phase].name.to_string());
            }
        }
        let end: Vec<String> =
            worst.iter().map(|(function, effect)| format!("{} {}", design.functions[*function].name, effect.word())).collect();
        let graver = worst.iter().filter(|(_, effect)| **effect > Effect::Degraded);
        let (tiers, untold): (Vec<_>, Vec<_>) = graver.map(|(function, _)| design.functions[*function].tier).partition(Option::is_some);
        let severity = match (tiers.into_iter().flatten().map(|tier| tier.value).min(), untold.is_empty()) {
            (Some(tier), true) => format!("tier {tier}"),
            (Some(tier), false) => format!("tier {tier}, or of a function without tier"),
            (None, false) => "of a function without tier".to_owned(),
            (None, true) if worst.is_empty() => "none".to_owned(),
            (None, true) => "no loss".to_owned(),
        };
        let or_none = |list: &[String]| if list.is_empty() { "none".to_owned() } else { list.join("; ") };
        [
            swept.ids[row.fault].clone(),
            design.subject_words(fault.item),
            fault.kind.mode().to_owned(),
            or_none(&local),
            or_none(&next),
            or_none(&end),
            detection.join("; "),
            compensation.join("; "),
            severity,
            phases.join(" "),
        ]
    };
    table.rows.iter().map(row).collect()
}

/// The table of failure modes as CSV. Texts that a spreadsheet would take for a formula are made inert.
pub fn fault_modes_csv(view: &View, swept: &Swept) -> String {
    let line = |cells: &mut dyn Iterator<Item = String>| cells.map(|cell| quoted(&cell)).collect::<Vec<_>>().join(",") + "\n";
    let mut text = line(&mut COLUMNS.iter().map(|head| head.replace(' ', "_")));
    for cells in modes(view, swept) {
        text += &line(&mut cells.iter().map(|cell| inert(cell)));
    }
    text
}

/// The table of failure modes and the matrix as a workbook.
///
/// # Errors  What the writer says: more faults than a sheet has rows.
pub fn fault_modes_workbook(view: &View, swept: &Swept) -> Result<Vec<u8>, String> {
    let cell = |text: String| match text.char_indices().nth(CELL - 1) {
        Some((at, _)) => Cell::text(format!("{}…", &text[..at])),
        None => Cell::text(text),
    };
    let mut notes =
        vec![format!("every single fault in {}; {} corner", number::counted(swept.table.wanted.len(), "phase"), swept.table.corner.word())];
    if swept.table.partial {
        notes.push("PARTIAL: stopped before its end".to_owned());
    }
    let modes = Sheet {
        file: "failure-modes",
        title: "failure modes and effects",
        columns: columns(&COLUMNS),
        rows: modes(view, swept).into_iter().map(|cells| cells.into_iter().map(cell).collect()).collect(),
        notes: notes.clone(),
        cautions: crate::cautions(view.design),
    };
    let heads: Vec<&'static str> = std::iter::once("function").chain(FaultGroup::ALL.map(FaultGroup::word)).collect();
    let of_function =
        |(name, cells): Row| std::iter::once(Cell::text(name)).chain(cells.into_iter().map(|cell| Cell::text(words(cell)))).collect();
    let matrix = Sheet {
        file: "functions",
        title: "functions and groups of faults: the worst effect of each group, and in how many cases",
        columns: columns(&heads),
        rows: matrix(view, swept.table).into_iter().map(of_function).collect(),
        notes,
        cautions: Vec::new(),
    };
    workbook(&[modes, matrix], &Issue::new(view, None))
}

/// A function, and of each group of faults its worst effect and in how many cases; none where nothing was judged.
type Row = (String, Vec<Option<(Effect, usize)>>);

/// Of each function the worst effect of each group of faults, and in how many cases.
fn matrix(view: &View, table: &FaultTable) -> Vec<Row> {
    let functions = view.design.functions.len();
    let by_group: Vec<_> = FaultGroup::ALL.iter().map(|group| table.counts_of(functions, |kind| kind.group() == *group)).collect();
    let row = |(id, function): (Id<Function>, &Function)| {
        (function.name.to_string(), by_group.iter().map(|counts| worst_of(&counts[id.row()])).collect())
    };
    view.design.functions.iter().map(row).collect()
}

fn words(cell: Option<(Effect, usize)>) -> String {
    match cell {
        None => String::new(),
        Some((Effect::Kept, _)) => "kept".to_owned(),
        Some((effect, n)) => format!("{} {}", short(effect), number::count(n)),
    }
}

/// The matrix of functions and groups of faults as a drawing (SVG). Words tell effects apart; the darker a cell the graver its effect, so that it reads in black and white.
pub fn fault_matrix_svg(view: &View, swept: &Swept) -> String {
    const LEFT: f64 = 10.0;
    const NAME: f64 = 52.0;
    const WIDE: f64 = 24.0;
    const HIGH: f64 = 6.0;
    const TOP: f64 = 28.0;
    let rows = matrix(view, swept.table);
    let page = LEFT + NAME + WIDE * FaultGroup::ALL.len() as f64 + LEFT;
    let high = TOP + HIGH * rows.len() as f64 + 22.0;
    let mut body = String::new();
    let partial = if swept.table.partial { " (PARTIAL: stopped before its end)" } else { "" };
    let title = format!("{}: functions and groups of single faults{partial}", view.design.name);
    text(&mut body, LEFT, 12.0, 5.0, "font-weight=\"bold\"", &title);
    let said = format!(
        "worst effect of each group, and in how many cases; {} in {}, {} corner",
        number::counted(swept.table.rows.len(), "fault"),
        number::counted(swept.table.wanted.len(), "phase"),
        swept.table.corner.word()
    );
    text(&mut body, LEFT, 18.0, 3.0, "", &said);
    for (at, group) in FaultGroup::ALL.iter().enumerate() {
        text(&mut body, LEFT + NAME + WIDE * at as f64 + 1.0, TOP - 2.0, 3.0, "font-weight=\"bold\"", group.word());
    }
    for (row, (name, cells)) in rows.iter().enumerate() {
        let y = TOP + HIGH * row as f64;
        let name: String = if name.chars().count() > 30 { name.chars().take(29).chain(['…']).collect() } else { name.clone() };
        text(&mut body, LEFT, y + 4.2, 3.0, "", &name);
        for (at, cell) in cells.iter().enumerate() {
            let x = LEFT + NAME + WIDE * at as f64;
            let shade = match cell.map(|(effect, _)| effect) {
                None | Some(Effect::Kept) => "white",
                Some(Effect::KeptWithFewer | Effect::UpsetAlone) => "#eeeeee",
                Some(Effect::Degraded | Effect::UpsetUntilActed) => "#dddddd",
                Some(Effect::Restored | Effect::NotKnown) => "#cccccc",
                Some(Effect::Lost) => "#aaaaaa",
            };
            let _ = writeln!(
                body,
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{shade}\" stroke-width=\"0.15\"/>",
                n(x),
                n(y),
                n(WIDE),
                n(HIGH)
            );
            text(&mut body, x + 1.0, y + 4.2, 3.0, "", &words(*cell));
        }
    }
    let mut below = TOP + HIGH * rows.len() as f64 + 6.0;
    for line in [
        "fewer: kept with one path fewer; upset: recovers alone; upset!: needs an action; restored: by an action; ?: not known; empty: no fault of the group was worked out",
        "It informs a qualified engineer and releases nothing: the governing standard, the programme's authority and local codes decide.",
    ] {
        text(&mut body, LEFT, below, 3.0, "", line);
        below += 5.0;
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\" font-family=\"sans-serif\" \
         stroke=\"black\" fill=\"none\">\n<rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"white\" stroke=\"none\"/>\n{body}</svg>\n",
        w = n(page),
        h = n(high)
    )
}
