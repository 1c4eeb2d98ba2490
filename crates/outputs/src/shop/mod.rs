//! Documents for the shop and the test bench: every one from the same model, so that no two can disagree.
//!
//! ```text
//! View → Facts (look-ups) → a Sheet for each table, a Drawing for each drawing → CSV, a workbook, SVG, DXF
//! ```
//!
//! A document is one function from the facts to a table or a drawing, and knows nothing of how it is written.

mod assembly;
mod bench;
mod board;
mod diagram;
mod drawing;
mod ends;
mod face;
pub(crate) mod facts;
mod lists;
mod parts;
mod pdf;
mod place;
pub(crate) mod sheet;

use crate::View;
pub use drawing::{Drawing, Form, Shape};
use facts::Facts;
use serde::Serialize;
pub use sheet::{Cell, Column, Sheet};

/// What stands on every page.
#[derive(Clone, Debug)]
pub struct Issue {
    /// The vehicle.
    pub vehicle: String,
    /// Its revision.
    pub revision: String,
    /// The day, as it was passed in.
    pub date: Option<String>,
}

impl Issue {
    /// Of a vehicle on a day.
    pub fn new(view: &View, date: Option<&str>) -> Issue {
        let design = view.design;
        Issue { vehicle: design.name.to_string(), revision: design.revision.clone(), date: date.map(str::to_owned) }
    }

    /// `gannet, revision C, 2026-11-26`.
    pub fn heading(&self) -> String {
        let date = self.date.as_deref().unwrap_or("date not given");
        format!("{}, revision {}, {date}", self.vehicle, self.revision)
    }
}

/// All tables, in the order in which they are used.
fn sheets(facts: &Facts) -> Vec<Sheet> {
    let mut all = vec![
        lists::assemblies(facts),
        lists::wire_list(facts),
        lists::cut_list(facts),
        lists::spool_list(facts),
        lists::cable_make_up(facts),
        lists::shield_ends(facts),
        lists::labels(facts),
        ends::pin_tables(facts),
        ends::joints(facts),
        parts::parts_list(facts),
        parts::ties_and_clamps(facts),
        parts::close_out(facts),
        ends::cross_mates(facts),
    ];
    all.extend(bench::sheets(facts));
    let cautions = crate::cautions(facts.design);
    for sheet in &mut all {
        sheet.cautions.extend(cautions.iter().cloned());
    }
    all
}

/// All documents as files: path and bytes.
///
/// # Errors  In words, where a table is larger than a workbook can hold.
///
/// Cost: near linear in the rows of all tables.
pub fn documents(view: &View, issue: &Issue) -> Result<Vec<(String, Vec<u8>)>, String> {
    let facts = Facts::new(view);
    let sheets = sheets(&facts);
    let count = sheets.len();
    let mut files: Vec<(String, Vec<u8>)> = sheets
        .iter()
        .enumerate()
        .map(|(at, sheet)| (format!("tables/{}.csv", sheet.file), sheet.csv(issue, at + 1, count).into_bytes()))
        .collect();
    files.push(("tables.xlsx".to_owned(), sheet::workbook(&sheets, issue)?));
    files.push(("tables.pdf".to_owned(), pdf::file(&issue.heading(), &pdf::tables(&sheets, issue))));
    let boards = board::boards(&facts);
    for (at, board) in boards.iter().enumerate() {
        let assembly = &facts.assemblies[board.assembly];
        let part = assembly.part(view.design).unwrap_or_else(|| sheet::NOT_GIVEN.to_owned());
        let title = format!("Formboard {} of {}: assembly {}, part {part}", at + 1, boards.len(), assembly.name);
        let drawing = board::drawing(&facts, board, issue, &title);
        files.push((format!("formboard/board-{}.svg", at + 1), drawing.svg().into_bytes()));
        files.push((format!("formboard/board-{}.dxf", at + 1), drawing.dxf().into_bytes()));
        for (paper, size) in pdf::PAPERS {
            let pages = pdf::tiles(&drawing, size);
            files.push((format!("formboard/board-{}-{paper}.pdf", at + 1), pdf::file(&drawing.title, &pages)));
        }
    }
    let diagrams = diagram::diagrams(&facts);
    let sheet_of = diagram::sheet_of(&diagrams, view.design.wires.len());
    let mut pages = Vec::new();
    for at in 0..diagrams.len() {
        let drawing = diagram::drawing(&facts, &diagrams, &sheet_of, at, issue);
        files.push((format!("diagrams/sheet-{}.svg", at + 1), drawing.svg().into_bytes()));
        pages.push(pdf::whole(drawing));
    }
    let mut faces = Vec::new();
    for (at, half) in
        facts.wired_halves().into_iter().filter(|half| view.design.connectors[*half].kind != model::ConnectorKind::Terminals).enumerate()
    {
        let drawing = face::drawing(&facts, half, issue);
        files.push((format!("faces/face-{}.svg", at + 1), drawing.svg().into_bytes()));
        faces.push(drawing);
    }
    if !faces.is_empty() {
        files.push(("faces.pdf".to_owned(), pdf::file(&format!("Faces: {}", issue.heading()), &pdf::stacked(faces))));
    }
    files.push(("diagrams.pdf".to_owned(), pdf::file(&format!("Wiring diagrams: {}", issue.heading()), &pages)));
    Ok(files)
}

/// What was written, for a program.
#[derive(Debug, Serialize)]
struct WrittenJson<'a> {
    format: &'static str,
    command: &'static str,
    vehicle: &'a str,
    folder: &'a str,
    files: &'a [String],
    cautions: Vec<String>,
}

/// What was written where, as an output object.
pub fn written_json(view: &View, folder: &str, files: &[String]) -> serde_json::Value {
    let written = WrittenJson {
        format: crate::json::FORMAT,
        command: "build",
        vehicle: &view.design.name,
        folder,
        files,
        cautions: crate::cautions(view.design),
    };
    serde_json::to_value(written).expect("plain structs are JSON")
}
