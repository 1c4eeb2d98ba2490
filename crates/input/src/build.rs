//! Rows to a checked design: ids resolved, values typed, assumptions noted.

mod ampacity;
mod battery;
mod device;
mod end;
mod fitted;
mod function;
mod map;
mod mission;
mod practice;
mod protection;
mod separation;
mod sheet;
mod wire;
mod zone;

use crate::Loaded;
use crate::catalog::{self, Catalog};
use crate::codes;
use crate::document::{self, Document};
use crate::fields;
use crate::folder::{self, Folder};
use crate::names::Names;
use crate::problems::Problems;
use crate::quantity::{self, Quantity};
use crate::value::{Cell, Mark, Part, Row, Slot, Value};
use end::Ends;
use model::*;
use std::sync::Arc;

/// Everything on the way to a design.
pub(crate) struct Build {
    sources: Arc<Sources>,
    catalog: Catalog,
    out: Problems,
    names: Names,
    ends: Ends,
    wire_types: wire::TypesInUse,
    /// `end_allowance` and `slack` of the vehicle, as far as they are stated.
    allowance_cells: Vec<(&'static str, Cell)>,
    /// Whether the profile in force was found and understood.
    profile_known: bool,
    design: Design,
}

/// Whom a value belongs to: for notes and messages.
#[derive(Clone)]
pub(crate) struct Who {
    subject: Subject,
    kind: &'static str,
    name: Name,
    at: Span,
}

pub(crate) fn load(files: &[(String, Vec<u8>)]) -> Loaded {
    let mut sources = Sources::default();
    let mut out = Problems::default();
    let folder = folder::open(files, &mut sources, &mut out);
    let sources = Arc::new(sources);

    let read = |files: &[FileId], in_catalog: bool| {
        let (mut document, mut wrong) = (Document::default(), Problems::default());
        files.iter().for_each(|&file| document::read(&sources, file, in_catalog, &mut document, &mut wrong));
        (document, wrong)
    };
    // The vehicle's own tables, in halves, and what every vehicle can use are read side by side; what is wrong is told in this order.
    let (early, late) = folder.tables.split_at(folder.tables.len() / 2);
    let common = || {
        let (profiles, mut wrong) = read(&[&folder.profiles[..], &folder.shipped_profiles].concat(), true);
        let catalog = catalog::read(&sources, &folder, &mut wrong);
        let practice = crate::practice::read(&sources, &folder, &mut wrong);
        (profiles, catalog, practice, wrong)
    };
    let ((profiles, catalog, practice, wrong), ((mut document, wrong_early), (later, wrong_later))) =
        rayon::join(common, || rayon::join(|| read(early, false), || read(late, false)));
    document.append(later);
    document.root_unsure |= folder.unsure;
    [wrong_early, wrong_later, wrong].into_iter().for_each(|wrong| out.append(wrong));

    let mut build = Build {
        design: mission::empty_design(sources.clone()),
        sources: sources.clone(),
        catalog,
        out,
        names: Names::default(),
        ends: Ends::default(),
        wire_types: wire::TypesInUse::default(),
        allowance_cells: Vec::new(),
        profile_known: false,
    };
    build.head(&folder, &document);
    let Document { rows, .. } = document;
    let rows = build.declare(rows);
    for row in &rows {
        if !row.broken {
            document::missing_keys(row, &mut build.out);
        }
    }
    build.profile(&rows, &profiles.rows, profiles.root_unsure);
    build.points(&rows);
    build.map(&rows);
    build.wires(&folder, &rows);
    build.circuits_apart(&rows);
    build.lengths();
    build.practice(&practice);
    build.devices(&rows);
    build.sheets(&folder, &rows);
    build.fitted(&rows);
    build.assemblies(&rows);
    build.contacts();
    build.ampacity();
    build.ground_paths();
    build.phases(&rows);
    build.functions(&rows);
    build.initiators(&rows);
    build.actions(&rows);
    build.monitors(&rows);
    build.programme(&rows);
    build.command_inputs(&rows);
    build.separations(&rows);
    build.zones(&rows);
    build.device_shifts();
    build.dispositions(&rows);
    build.finish()
}

impl Build {
    /// The keys at the top of files.
    fn head(&mut self, folder: &Folder, document: &Document) {
        if folder.tables.is_empty() && folder.wire_lists.is_empty() && !folder.unsure {
            self.out.push(Diagnostic {
                code: codes::NOTHING_TO_READ,
                severity: Severity::Error,
                message: "the folder has no wire list and no vehicle file".to_owned(),
                places: Vec::new(),
                help: Some("write wires.csv, or a .toml file with `format = 1`".to_owned()),
                replacement: None,
            });
        }
        for (n, (field, at, slot)) in document.root.iter().enumerate() {
            if let Some((_, first, _)) = document.root[..n].iter().find(|(other, ..)| other.key == field.key) {
                self.out.push(
                    Diagnostic::error(codes::TWICE, *at, "again", format!("{} is written in two files", field.key))
                        .note(*first, "first")
                        .help("keep it in one file of the folder"),
                );
                continue;
            }
            let Slot::Good(cell) = slot else { continue };
            match (field.key, &cell.value) {
                ("format", Value::Count(1)) => {}
                ("format", Value::Count(number)) => self.out.push(
                    Diagnostic::error(codes::OTHER_FORMAT, cell.at, "", format!("format {number} is not known here"))
                        .help("this program reads format 1; a newer format needs a newer program"),
                ),
                ("name", Value::Text(name)) => self.design.name = name.clone(),
                ("mass_stage", Value::Text(stage)) => self.design.mass.stage = Some(Given::firm(stage.clone(), cell.at)),
                ("revision", Value::Text(text)) => self.design.revision = text.to_string(),
                (key, Value::Number(..)) if map::is_allowance(key) => self.allowance_cells.push((key, cell.clone())),
                _ => {}
            }
        }
        let has_format = document.root.iter().any(|(field, ..)| field.key == "format");
        if let (Some(&file), false, false) = (folder.tables.first(), has_format, document.root_unsure) {
            let at = Span { file, start: 0, end: 0 };
            self.out.push(
                Diagnostic::error(codes::NO_FORMAT, at, "", "no file of the folder says which format it is written in")
                    .help("add the line `format = 1` at the top of one .toml file; if this is no vehicle's folder, name the one that is, `-C FOLDER`")
                    .replace(at, "format = 1\n"),
            );
        }
        if let Some(Cell { at, value: Value::Text(name), .. }) = document.root.iter().find_map(|(field, _, slot)| match slot {
            Slot::Good(cell) if field.key == "profile" => Some(cell),
            _ => None,
        }) {
            self.design.profile.name = name.clone();
            self.design.profile.at = *at;
        }
    }

    /// Gives every row its number; rows whose id is taken are left out.
    fn declare(&mut self, rows: Vec<Row>) -> Vec<Row> {
        rows.into_iter().filter(|row| self.names.declare(row.table.key, &row.name, row.at, &mut self.out).is_some()).collect()
    }

    /// Reports an item that a list holds twice.
    fn once_each(&mut self, row: &Row, field: &str) {
        if let Some((at, before, name)) = listed_twice(row.list(field)) {
            self.out.push(
                Diagnostic::error(codes::TWICE, at, "again", format!("{}: {field} lists {name} twice", row.words()))
                    .note(before, "first")
                    .help("keep one of the two"),
            );
        }
    }

    fn row_number(&self, row: &Row) -> usize {
        self.names.find(row.table.key, &row.name).map_or(0, |d| d.row)
    }

    fn finish(self) -> Loaded {
        let Build { sources, out, mut design, ends, wire_types, .. } = self;
        ends.into_design(&mut design);
        design.wire_specs = wire_types.specs;
        let failed = out.has_errors();
        let (mut diagnostics, beyond) = out.into_list();
        // A place that is not text has been reported as such; what else is wrong with it follows from that.
        // Only in a file of which that was said: anyone may write the sign for a missing character as a character.
        let not_utf8 = diagnostics.iter().filter(|d| d.code == codes::NOT_UTF8);
        let files: std::collections::HashSet<FileId> = not_utf8.flat_map(|d| &d.places).map(|p| p.at.file).collect();
        diagnostics.retain(|d| {
            d.code == codes::NOT_UTF8
                || d.places
                    .first()
                    .is_none_or(|p| !files.contains(&p.at.file) || !sources.slice(p.at).contains(char::REPLACEMENT_CHARACTER))
        });
        diagnostics.sort_by_key(|d| d.places.first().map(|p| (p.at.file, p.at.start)));
        diagnostics.extend(beyond);
        Loaded { sources, design: (!failed).then_some(design), diagnostics }
    }

    // Values.

    /// Adds a note and returns its id.
    fn note(&mut self, note: Note) -> NoteId {
        let id = NoteId::from_row(self.design.notes.len());
        self.design.notes.push(note);
        id
    }

    /// The note of a mark, if it has one.
    fn marked(&mut self, mark: &Mark, standing: Standing, who: &Who, field: &'static str, at: Span) -> Option<NoteId> {
        let Mark::Loose(loose) = mark else { return None };
        Some(self.note(Note {
            standing,
            what: what(who, field),
            value: loose.text.clone(),
            source: String::new(),
            at,
            subject: Some(who.subject),
            field,
            owner: loose.owner.clone(),
            need: loose.need.clone(),
        }))
    }

    /// A value that the program assumes for want of one.
    fn assumed(&mut self, who: &Who, field: &'static str, value: String, why: &str) -> NoteId {
        self.note(Note {
            standing: Standing::Assumed,
            what: what(who, field),
            value,
            source: why.to_owned(),
            at: who.at,
            subject: Some(who.subject),
            field,
            owner: None,
            need: None,
        })
    }

    /// A value with the place and the mark of its cell.
    fn given<T>(&mut self, value: T, cell: &Cell, who: &Who, field: &'static str) -> Given<T> {
        Given { value, at: cell.at, note: self.marked(&cell.mark, Standing::ToConfirm, who, field, cell.at) }
    }

    /// A number, if one is given. `TBD` is noted and gives none.
    fn number<T: From<f64>>(&mut self, row: &Row, field: &'static str, who: &Who) -> Option<Given<T>> {
        let cell = row.cell(field)?;
        self.number_of(cell, field, who)
    }

    fn number_of<T: From<f64>>(&mut self, cell: &Cell, field: &'static str, who: &Who) -> Option<Given<T>> {
        match cell.value {
            Value::Number(_, si) => Some(self.given(T::from(si), cell, who, field)),
            Value::Open => {
                self.marked(&cell.mark, Standing::ToDetermine, who, field, cell.at);
                None
            }
            _ => None,
        }
    }

    /// A number with its spread, if one is given. `TBD` is noted and gives none.
    fn spread<T: From<f64> + Copy>(&mut self, row: &Row, field: &'static str, who: &Who) -> Option<Spread<T>> {
        let cell = row.cell(field)?;
        match &cell.value {
            Value::Spread(parts) => {
                let [low, typical, high] = &**parts;
                let mut part =
                    |p: &Part| Given { value: T::from(p.si), at: p.at, note: self.marked(&p.mark, Standing::ToConfirm, who, field, p.at) };
                let typical_given = part(typical);
                // A part that is not written is the typical one, with its note.
                let low = if low.at == typical.at { typical_given } else { part(low) };
                let high = if high.at == typical.at { typical_given } else { part(high) };
                Some(Spread { low, typical: typical_given, high })
            }
            _ => self.number_of(cell, field, who).map(Spread::exactly),
        }
    }

    /// A spread, or the one that is assumed in its place.
    fn spread_or<T: From<f64> + Copy>(
        &mut self,
        row: &Row,
        field: &'static str,
        who: &Who,
        quantity: Quantity,
        assumed: [f64; 3],
        why: &str,
    ) -> Spread<T> {
        match self.spread(row, field, who) {
            Some(spread) => spread,
            None => self.assumed_spread(who, field, quantity, assumed, why),
        }
    }

    fn assumed_spread<T: From<f64> + Copy>(
        &mut self,
        who: &Who,
        field: &'static str,
        quantity: Quantity,
        assumed: [f64; 3],
        why: &str,
    ) -> Spread<T> {
        let [low, typical, high] = assumed;
        let show = |si| quantity::show(si, quantity);
        let text = if low == high { show(typical) } else { format!("{} to {}, typical {}", show(low), show(high), show(typical)) };
        let note = Some(self.assumed(who, field, text, why));
        let given = |si| Given { value: T::from(si), at: who.at, note };
        Spread { low: given(low), typical: given(typical), high: given(high) }
    }

    /// A word or id with the mark of its cell.
    fn named(&mut self, row: &Row, field: &'static str, who: &Who) -> Option<Given<Name>> {
        let cell = row.cell(field)?;
        let Value::Text(text) = &cell.value else { return None };
        Some(self.given(text.clone(), cell, who, field))
    }

    /// Notes a word that is `TBD`.
    fn open_word(&mut self, row: &Row, field: &'static str, who: &Who) {
        if let Some(cell) = row.cell(field).filter(|c| matches!(c.value, Value::Open)) {
            self.marked(&cell.mark, Standing::ToDetermine, who, field, cell.at);
        }
    }

    /// The row of another kind that a field names.
    fn reference(&mut self, row: &Row, field: &str, kind: &'static str) -> Option<Given<usize>> {
        let (name, at) = row.text(field)?;
        self.reference_to(name, at, kind)
    }

    fn reference_to(&mut self, name: &str, at: Span, kind: &'static str) -> Option<Given<usize>> {
        if let Some(found) = self.names.find(kind, name) {
            return Some(Given::firm(found.row, at));
        }
        let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no {kind} {name}"));
        if let Some(meant) = self.names.closest(kind, name, &mut self.out) {
            diagnostic = diagnostic.help(format!("did you mean {meant}?")).replace(at, requote(&self.sources, at, meant));
        } else if let Some(other) = self.names.kinds_of(name).first() {
            diagnostic = diagnostic.help(format!("{name} is a {other}; a {kind} is needed here"));
        } else if name_fault(name).is_none() {
            diagnostic = diagnostic.help(format!("declare it with [{kind}.{name}]"));
        }
        self.out.push(diagnostic);
        None
    }
}

/// A replacement for a value at a place: in quotes if the value is, and with its mark.
fn requote(sources: &Sources, at: Span, text: &str) -> String {
    let written = sources.slice(at);
    let inner = written.trim_matches(['"', '\'']);
    let text = match inner.strip_prefix("TBC") {
        Some(rest) if rest.starts_with(char::is_whitespace) => {
            let behind = rest.rfind('[').filter(|_| rest.ends_with(']')).map_or("", |at| &rest[at..]);
            format!("TBC {text} {behind}").trim_end().to_owned()
        }
        _ => text.to_owned(),
    };
    if written.starts_with(['"', '\'']) { format!("\"{text}\"") } else { text }
}

/// The first item of a list that stands in it twice, with its first place.
fn listed_twice(list: &[(Span, Name)]) -> Option<(Span, Span, &Name)> {
    let mut first = std::collections::HashMap::new();
    list.iter().find_map(|(at, name)| first.insert(name, *at).map(|before| (*at, before, name)))
}

fn what(who: &Who, field: &str) -> String {
    let field = field.replace('_', " ");
    match who.subject {
        Subject::Vehicle => format!("{field} of {}", who.name),
        _ => format!("{field} of {} {}", who.kind, who.name),
    }
}

/// A static key of a table's field, for notes.
fn key_of(table: &str, key: &str) -> &'static str {
    fields::table(table).and_then(|t| t.fields.iter().find(|f| f.key == key)).map_or("", |f| f.key)
}
