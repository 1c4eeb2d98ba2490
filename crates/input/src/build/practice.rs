//! Catalog rows of build practice, for a vehicle with segments.

use super::{Build, Who, requote};
use crate::catalog::How;
use crate::codes;
use crate::practice::{PracticeRows, SupportType};
use crate::quantity::{self, Quantity};
use model::*;
use physics::Metre;
use physics::bundle::SupportStep;

impl Build {
    /// Bend radii of the profile's practice, ties and clamps; the vehicle's own pitch of ties. Nothing in a vehicle without segments.
    pub(super) fn practice(&mut self, rows: &PracticeRows) {
        let first = self.sources.files().next().map_or(self.design.profile.at, |(file, _)| Span { file, start: 0, end: 0 });
        if let Some((_, cell)) = self.allowance_cells.iter().find(|(of, _)| *of == "tie_pitch").cloned() {
            let who = Who { subject: Subject::Vehicle, kind: "vehicle", name: self.design.name.clone(), at: first };
            self.design.tie_pitch = self.number_of::<Metre>(&cell, "tie_pitch", &who);
        }
        if self.design.segments.is_empty() {
            return;
        }
        self.bends(rows);
        self.design.practice.ties = self.supports(&rows.ties, "ties");
        self.design.practice.clamps = self.supports(&rows.clamps, "clamps");
    }

    fn bends(&mut self, rows: &PracticeRows) {
        let Some(practice) = self.design.profile.bends.clone() else { return };
        let (name, at) = (practice.value, practice.at);
        if !rows.bends.iter().any(|row| row.practice == name) {
            if rows.unsure || rows.failed.contains(&name) {
                return;
            }
            let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("the catalog has no bend radii of practice {name}"));
            let names = rows.practices();
            diagnostic = match self.out.closest(&name, names.iter().copied()) {
                Some(meant) => {
                    let with = requote(&self.sources, at, meant);
                    diagnostic.help(format!("did you mean {meant}? more may be added in catalog/bend-radii.csv")).replace(at, with)
                }
                None => diagnostic.help(format!("practices: {}; more may be added in catalog/bend-radii.csv", names.join(", "))),
            };
            self.out.push(diagnostic);
            return;
        }
        for row in rows.bends.iter().filter(|row| row.practice == name) {
            self.design.catalog_sources.push((row.at, row.source.clone()));
            let what = format!("bend radius of {}, practice {name}", row.of.word());
            let note = self.row_note(row.how, what, format!("{} diameters", row.rule.minimum), &row.source, row.at, "minimum_diameters");
            self.design.practice.bends.push(BendRow { of: row.of, rule: row.rule, note, at: row.at });
        }
    }

    fn supports(&mut self, rows: &[SupportType], what: &str) -> Vec<SupportRow> {
        let mut found = Vec::with_capacity(rows.len());
        for row in rows {
            self.design.catalog_sources.push((row.at, row.source.clone()));
            let of = row.to.map_or("any bundle".to_owned(), |to| format!("bundles up to {}", quantity::show(to.0, Quantity::Length)));
            let what = format!("distance between {what} of {of}");
            let value = quantity::show(row.pitch.si, Quantity::Length);
            let note = self.row_note(row.pitch.how, what, value, &row.source, row.at, "pitch");
            found.push(SupportRow { step: SupportStep { to: row.to, pitch: Metre(row.pitch.si) }, note, at: row.at });
        }
        found
    }

    /// The note of a catalog row that was not read.
    fn row_note(&mut self, how: How, what: String, value: String, source: &str, at: Span, field: &'static str) -> Option<NoteId> {
        let standing = match how {
            How::Firm => return None,
            How::Recalled => Standing::Recalled,
            How::Practice => Standing::Assumed,
        };
        Some(self.note(Note { standing, what, value, source: source.to_owned(), at, subject: None, field, owner: None, need: None }))
    }
}
