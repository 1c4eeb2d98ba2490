//! `show mass`: the harness by kind, section, segment and circuit; what is computed, what is allowed for, and what is not known, apart.

use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::mass::{Kind, Lacks, Piece, pieces};
use model::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A row of `show mass`.
#[derive(Debug, Serialize)]
pub struct MassRow {
    /// `kind`, `section`, `segment`, `circuit`; `unknown` of what has no mass; `sum` of what it comes to.
    pub by: &'static str,
    /// Which of them; null for what lies in none, or in more than one. Of `unknown` the field that is missing. Of `sum` `computed`, `allowance`,
    /// `growth` or `together`.
    pub of: Option<String>,
    /// Pieces counted: wires, contacts, halves of connectors … A wire in several segments counts in each.
    pub items: usize,
    /// Pieces among them whose mass is not known; they are not in `mass_kg`.
    pub unknown: usize,
    /// Length of wire.
    pub wire_m: Option<f64>,
    /// Mass of those that are known; null if none is.
    pub mass_kg: Option<f64>,
    /// The share that an allowance or growth is.
    pub share: Option<f64>,
    /// How many values it rests on are recalled, assumed or to be confirmed.
    pub rests_on: usize,
    /// Where an allowance or growth comes from.
    pub source: String,
}

#[derive(Default)]
struct Sum {
    subjects: Vec<(Kind, Subject)>,
    unknown: Vec<(Kind, Subject)>,
    /// Pieces whose mass is known.
    known: usize,
    wire_m: f64,
    mass_kg: f64,
    notes: Vec<NoteId>,
}

impl Sum {
    fn add(&mut self, piece: &Piece) {
        self.subjects.push((piece.kind, piece.subject));
        if piece.kind == Kind::Wire {
            self.wire_m += piece.length.map_or(0.0, |length| length.0);
        }
        match piece.mass {
            Ok(mass) => {
                self.known += 1;
                self.mass_kg += mass.0;
            }
            Err(_) => self.unknown.push((piece.kind, piece.subject)),
        }
        self.notes.extend(piece.note);
    }

    fn row(mut self, by: &'static str, of: Option<String>) -> MassRow {
        let count = |list: &mut Vec<(Kind, Subject)>| {
            list.sort_unstable();
            list.dedup();
            list.len()
        };
        self.notes.sort_unstable();
        self.notes.dedup();
        MassRow {
            by,
            of,
            items: count(&mut self.subjects),
            unknown: count(&mut self.unknown),
            wire_m: (self.wire_m > 0.0).then_some(self.wire_m).and_then(number::json),
            mass_kg: if self.known == 0 { None } else { number::json(self.mass_kg) },
            share: None,
            rests_on: self.notes.len(),
            source: String::new(),
        }
    }
}

/// The harness by kind, section, segment and circuit, what is not known, and what it comes to. With names only those groups.
pub fn mass(view: &View, asked: &Asked) -> Vec<MassRow> {
    let design = view.design;
    let pieces = pieces(view.prepared);
    let mut rows = Vec::new();
    let mut by_kind: BTreeMap<Kind, Sum> = BTreeMap::new();
    // Those of no section, segment or circuit, or of several, come last.
    let mut by_section: BTreeMap<(bool, Option<Id<Section>>), Sum> = BTreeMap::new();
    let mut by_segment: BTreeMap<(bool, Option<Id<Segment>>), Sum> = BTreeMap::new();
    let mut by_circuit: BTreeMap<(bool, Option<Id<Circuit>>), Sum> = BTreeMap::new();
    let mut lacking: BTreeMap<Lacks, Sum> = BTreeMap::new();
    let mut all = Sum::default();
    for piece in &pieces {
        by_kind.entry(piece.kind).or_default().add(piece);
        by_section.entry((piece.section.is_none(), piece.section)).or_default().add(piece);
        by_segment.entry((piece.segment.is_none(), piece.segment)).or_default().add(piece);
        by_circuit.entry((piece.circuit.is_none(), piece.circuit)).or_default().add(piece);
        if let Err(lacks) = piece.mass {
            lacking.entry(lacks).or_default().add(piece);
        }
        all.add(piece);
    }
    let bare: f64 = pieces.iter().filter(|piece| piece.kind == Kind::Wire).filter_map(|piece| piece.mass.ok()).map(|mass| mass.0).sum();
    rows.extend(by_kind.into_iter().map(|(kind, sum)| sum.row("kind", Some(kind.word().to_owned()))));
    if !design.sections.is_empty() {
        rows.extend(by_section.into_iter().map(|((_, id), sum)| sum.row("section", id.map(|id| design.sections[id].name.to_string()))));
    }
    if !design.segments.is_empty() {
        rows.extend(by_segment.into_iter().map(|((_, id), sum)| sum.row("segment", id.map(|id| design.segments[id].name.to_string()))));
    }
    if !design.circuits.is_empty() {
        rows.extend(by_circuit.into_iter().map(|((_, id), sum)| sum.row("circuit", id.map(|id| design.circuits[id].name.to_string()))));
    }
    rows.extend(lacking.into_iter().map(|(lacks, sum)| sum.row("unknown", Some(missing(design, lacks)))));
    let computed = all.row("sum", Some("computed".to_owned()));
    let known = computed.mass_kg.unwrap_or(0.0);
    let share_of = |of: &str, share: Option<Given<physics::Ratio>>, mass: f64, source: String| MassRow {
        by: "sum",
        of: Some(of.to_owned()),
        items: 0,
        unknown: 0,
        wire_m: None,
        mass_kg: share.and_then(|share| number::json(share.value.0 * mass)),
        share: share.and_then(|share| number::json(share.value.0)),
        rests_on: usize::from(share.is_some_and(|share| share.note.is_some())),
        source,
    };
    let practice = &design.mass;
    let allowance = share_of("allowance", practice.allowance, bare, String::new());
    let grows = known + allowance.mass_kg.unwrap_or(0.0);
    let growth = share_of("growth", practice.growth, grows, practice.growth_source.clone());
    let together = grows + growth.mass_kg.unwrap_or(0.0);
    let (unknown, rests_on) = (computed.unknown, computed.rests_on + allowance.rests_on + growth.rests_on);
    let together = MassRow { unknown, rests_on, mass_kg: number::json(together), ..share_of("together", None, 0.0, String::new()) };
    rows.extend([computed, allowance, growth, together]);
    rows.retain(|row| asked.names.is_empty() || row.of.as_deref().is_some_and(|of| asked.wants_group(row.by, of)));
    rows
}

/// The field that a piece lacks, with whose it is.
fn missing(design: &Design, lacks: Lacks) -> String {
    match lacks {
        Lacks::Length(wire) => format!("length of wire:{}", design.wires[wire].name),
        Lacks::Gauge(wire) => format!("gauge of wire:{}", design.wires[wire].name),
        Lacks::WireType(spec) => {
            let spec = &design.wire_specs[spec];
            format!("mass of wire type {} {} AWG", spec.kind, spec.gauge)
        }
        Lacks::Contacts(connector) => format!("mass of the contacts of {}", connector_words(design, connector)),
        Lacks::Contact(spec) => {
            let spec = &design.contact_specs[spec];
            let kind = if spec.kind == ConnectorKind::Hermetic { "hermetic contact" } else { "contact" };
            format!("mass of {kind} size {}", spec.size)
        }
        Lacks::Own(Subject::Connector(id)) => format!("mass of {}", connector_words(design, id)),
        Lacks::Own(subject) => format!("mass of {}", design.subject_words(subject)),
    }
}

/// A half that follows from a unit's connector is named by that.
fn connector_words(design: &Design, id: Id<Connector>) -> String {
    let row = &design.connectors[id];
    match (row.implied, row.mate) {
        (Implied::AsMate, Some(mate)) => format!("harness half of connector:{}", design.connectors[mate.value].name),
        _ => format!("connector:{}", row.name),
    }
}

/// Rows of unknown masses shown in text unless all are asked for.
const FIRST: usize = 12;

/// The tables as text.
pub fn mass_text(view: &View, rows: &[MassRow], every: bool, style: Style) -> String {
    let mut text = String::new();
    let grams = |kg: Option<f64>| kg.map_or("–".to_owned(), |kg| format!("{} g", number::significant(1e3 * kg, 4)));
    for (by, head, none) in [
        ("kind", "kind", ""),
        ("section", "section", "in none, or across"),
        ("segment", "segment", "in none"),
        ("circuit", "circuit", "of none"),
        ("unknown", "not known", ""),
    ] {
        let mut group: Vec<&MassRow> = rows.iter().filter(|row| row.by == by).collect();
        let all = group.len();
        if by == "unknown" && !every {
            // Those that most pieces lack first.
            group.sort_by_key(|row| std::cmp::Reverse(row.unknown));
            group.truncate(FIRST);
        }
        if group.is_empty() {
            continue;
        }
        let mut grid = match by {
            "unknown" => Grid::new(&[head, ">items"]),
            _ => Grid::new(&[head, ">items", ">wire", ">mass", ">mass not known of", ">rests on"]),
        };
        for row in &group {
            let of = row.of.clone().unwrap_or_else(|| none.to_owned());
            let wire = row.wire_m.map_or(String::new(), |length| format!("{} m", number::significant(length, 4)));
            let some = |n: usize| if n == 0 { String::new() } else { n.to_string() };
            match by {
                "unknown" => grid.row(vec![of, row.unknown.to_string()]),
                _ => grid.row(vec![of, row.items.to_string(), wire, grams(row.mass_kg), some(row.unknown), some(row.rests_on)]),
            }
        }
        text.push_str(&grid.render(style));
        if group.len() < all {
            text.push_str(&format!("… and {} more: --all lists them\n", all - group.len()));
        }
        text.push('\n');
    }
    let of = |name: &str| rows.iter().find(|row| row.by == "sum" && row.of.as_deref() == Some(name));
    if let (Some(computed), Some(allowance), Some(growth), Some(together)) = (of("computed"), of("allowance"), of("growth"), of("together"))
    {
        let percent = |row: &MassRow| row.share.map(|share| format!("{} %", number::significant(100.0 * share, 3)));
        let mut grid = Grid::new(&["", ">", ""]);
        grid.row(vec!["computed".to_owned(), grams(computed.mass_kg), "from lengths and masses of parts".to_owned()]);
        let what = match percent(allowance) {
            Some(share) => format!("{share} of the bare wires, mass_allowance of the vehicle"),
            None => "mass_allowance of the vehicle is not stated: ties, lacing and labels without a row are not counted".to_owned(),
        };
        grid.row(vec!["allowance".to_owned(), grams(allowance.mass_kg), what]);
        let what = match (percent(growth), &view.design.mass.stage) {
            (Some(share), Some(stage)) => format!("{share} of both, stage {}: {}", stage.value, growth.source),
            _ => "mass_stage of the vehicle is not stated: no growth is counted".to_owned(),
        };
        grid.row(vec!["growth".to_owned(), grams(growth.mass_kg), what]);
        let (word, lacks) = match together.unknown {
            0 => ("together", String::new()),
            n => ("at least", format!("and what {} weigh whose mass is not known", number::counted(n, "item"))),
        };
        grid.row(vec![word.to_owned(), grams(together.mass_kg), lacks]);
        text.push_str(&grid.body());
        text.push_str(
            &style.faint("halves of connectors in the wall of a unit, with their contacts, belong to the unit and are not counted"),
        );
        text.push('\n');
    }
    if text.is_empty() { "nothing to show\n".to_owned() } else { text }
}
