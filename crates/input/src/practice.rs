//! Bend radii and distances between supports: the shipped rows and the user's own.

use crate::catalog::{How, Item, has_fault, item, number, source_and_note, text, twice};
use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::problems::Problems;
use crate::sheet::{self, SheetRow};
use crate::value::{Cell, Slot, Value};
use crate::{codes, quantity};
use model::{Diagnostic, FileId, Insulation, Name, Sources, Span};
use physics::Metre;
use physics::bundle::{BendOf, BendRule};
use std::collections::HashMap;

/// A bend radius of one practice and insulation.
pub(crate) struct BendType {
    pub(crate) practice: Name,
    pub(crate) of: Insulation,
    pub(crate) rule: BendRule,
    pub(crate) how: How,
    pub(crate) source: String,
    pub(crate) at: Span,
}

/// A step of the table of ties or clamps.
pub(crate) struct SupportType {
    pub(crate) to: Option<Metre>,
    pub(crate) pitch: Item,
    pub(crate) source: String,
    pub(crate) at: Span,
}

/// All rows, the user's in the place of shipped ones.
#[derive(Default)]
pub(crate) struct PracticeRows {
    pub(crate) bends: Vec<BendType>,
    pub(crate) ties: Vec<SupportType>,
    pub(crate) clamps: Vec<SupportType>,
    /// Practices of rows that were not understood: naming one is not a second mistake.
    pub(crate) failed: Vec<Name>,
    pub(crate) unsure: bool,
}

impl PracticeRows {
    /// Practices in the order of the catalog, each once.
    pub(crate) fn practices(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for row in self.bends.iter().filter(|row| !row.practice.is_empty()) {
            if !names.contains(&&*row.practice) {
                names.push(&row.practice);
            }
        }
        names
    }
}

/// Reads the shipped rows, then the user's: a bend radius takes the place of that of its practice and insulation, ties and clamps that of
/// all shipped rows of the kind.
pub(crate) fn read(sources: &Sources, folder: &Folder, out: &mut Problems) -> PracticeRows {
    let mut rows = PracticeRows { unsure: folder.unsure, ..PracticeRows::default() };
    for (bends, supports, is_own) in
        [(&folder.shipped_bend_radii, &folder.shipped_support_pitch, false), (&folder.bend_radii, &folder.support_pitch, true)]
    {
        read_bends(sources, bends, is_own, &mut rows, out);
        read_supports(sources, supports, &mut rows, out);
    }
    rows
}

fn read_bends(sources: &Sources, files: &[FileId], is_own: bool, rows: &mut PracticeRows, out: &mut Problems) {
    let table = fields::table("bend radius").expect("the table of fields has bend radii");
    let mut first: HashMap<(Name, Insulation), Span> = HashMap::new();
    for &file in files {
        sheet::read(sources, file, table, out, &mut |_, row, out| {
            let Some(bend) = bend(table, &row, out) else {
                match text(table, &row, "practice") {
                    Some((practice, _)) => rows.failed.push(practice),
                    None => rows.unsure = true,
                }
                return;
            };
            if let Some(before) = first.insert((bend.practice.clone(), bend.of), bend.at)
                && is_own
            {
                out.push(twice(bend.at, before, format!("the bend radius of {} in practice {}", bend.of.word(), bend.practice)));
            }
            match rows.bends.iter_mut().find(|known| known.practice == bend.practice && known.of == bend.of) {
                Some(known) => *known = bend,
                None => rows.bends.push(bend),
            }
        });
    }
}

fn bend(table: &TableSpec, row: &SheetRow, out: &mut Problems) -> Option<BendType> {
    if has_fault(row) {
        return None;
    }
    let (practice, _) = text(table, row, "practice")?;
    let of = match &*text(table, row, "insulation")?.0 {
        "polyimide" => Insulation::Polyimide,
        "coax" => Insulation::Coaxial,
        _ => Insulation::Other,
    };
    let whose = match &*text(table, row, "of")?.0 {
        "bundle" => BendOf::Bundle,
        _ => BendOf::Member,
    };
    let (minimum, minimum_at) = factor(table, row, "minimum_diameters")?;
    let preferred = factor(table, row, "preferred_diameters");
    if let Some((preferred, at)) = preferred
        && preferred < minimum
    {
        out.push(
            Diagnostic::error(
                codes::CONTRADICTION,
                at,
                "preferred",
                format!("the preferred radius, {preferred} diameters, is below the least one, {minimum}"),
            )
            .note(minimum_at, "least")
            .help("a wider bend has more diameters"),
        );
        return None;
    }
    let rule = BendRule { of: whose, minimum, preferred: preferred.map(|(factor, _)| factor) };
    let how = text(table, row, "how").map_or(How::Firm, |(word, _)| How::of(&word));
    Some(BendType { practice, of, rule, how, source: source_and_note(table, row), at: row.at })
}

fn factor(table: &TableSpec, row: &SheetRow, key: &str) -> Option<(f64, Span)> {
    match row.slots.get(table.position(key)?)? {
        Slot::Good(Cell { at, value: Value::Plain(factor), .. }) => Some((*factor, *at)),
        _ => None,
    }
}

fn read_supports(sources: &Sources, files: &[FileId], rows: &mut PracticeRows, out: &mut Problems) {
    let table = fields::table("support pitch").expect("the table of fields has distances between supports");
    let mut found: [Vec<SupportType>; 2] = Default::default();
    for &file in files {
        sheet::read(sources, file, table, out, &mut |_, row, _| {
            if has_fault(&row) {
                return;
            }
            let (Some((what, _)), Some(pitch)) = (text(table, &row, "what"), item(table, &row, "pitch")) else { return };
            let to = number(table, &row, "bundle_to").map(|(si, _)| Metre(si));
            let list = &mut found[usize::from(&*what == "clamp")];
            list.push(SupportType { to, pitch, source: source_and_note(table, &row), at: row.at });
        });
    }
    let [ties, clamps] = found;
    for (list, into) in [(ties, &mut rows.ties), (clamps, &mut rows.clamps)] {
        if !list.is_empty() {
            in_rising_order(&list, out);
            *into = list;
        }
    }
}

/// Steps of a table rise, and nothing stands behind the one for every bundle.
fn in_rising_order(list: &[SupportType], out: &mut Problems) {
    for pair in list.windows(2) {
        let [before, row] = pair else { continue };
        let rises = match (before.to, row.to) {
            (None, _) => false,
            (Some(before), Some(to)) => before < to,
            (Some(_), None) => true,
        };
        if !rises {
            let show = |to: Option<Metre>| to.map_or("every bundle".to_owned(), |to| quantity::show(to.0, quantity::Quantity::Length));
            out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    row.at,
                    "",
                    format!("this row is for bundles up to {} and stands behind the one for {}", show(row.to), show(before.to)),
                )
                .note(before.at, "before")
                .help("write the rows of a kind from thin bundles to thick ones; the last may leave bundle_to empty"),
            );
        }
    }
}
