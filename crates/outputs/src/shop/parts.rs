//! What is drawn from store and what is fitted: parts list, ties and clamps, close-out.

use super::ends::half_word;
use super::facts::{Facts, gender_word};
use super::lists;
use super::sheet::{Cell, NOT_GIVEN, Sheet, columns};
use crate::number;
use model::*;
use std::collections::{BTreeMap, BTreeSet};

/// Lines of one kind in the order in which they first come.
#[derive(Default)]
struct Lines {
    row: BTreeMap<Vec<String>, usize>,
    lines: Vec<(Vec<String>, f64, f64, BTreeSet<String>)>,
}

impl Lines {
    /// Adds to a line: what it is, how many are fitted, how many spares, and where.
    fn add(&mut self, what: &[&str], needed: f64, spares: f64, place: Option<&str>) {
        let key: Vec<String> = what.iter().map(|word| (*word).to_owned()).collect();
        let at = *self.row.entry(key.clone()).or_insert_with(|| {
            self.lines.push((key, 0.0, 0.0, BTreeSet::new()));
            self.lines.len() - 1
        });
        let line = &mut self.lines[at];
        line.1 += needed;
        line.2 += spares;
        line.3.extend(place.map(str::to_owned));
    }
}

/// Parts with their numbers, spares by rule.
pub(crate) fn parts_list(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "parts-list",
        title: "Parts list",
        columns: columns(&["kind", "part", "what", "needed", "spares", "total", "unit", "where"]),
        notes: vec![
            "part: as the model gives it; where it gives none the line says what the part has to be. Halves in the walls of units come with the units".to_owned(),
            "lengths of wire: cut lengths, with the waste of the spools as spares".to_owned(),
        ],
        ..Sheet::default()
    };
    for line in &design.shop.spares {
        let most = line.row.contacts.map_or("more".to_owned(), |most| format!("up to {most}"));
        sheet
            .notes
            .push(format!("spare contacts of a connector with {most} contacts: {}: {} [{}]", line.row.spares, line.source, line.how));
    }
    let mut lines = Lines::default();
    for half in facts.wired_halves() {
        let row = &design.connectors[half];
        if row.kind == ConnectorKind::Terminals {
            continue;
        }
        let name = facts.connector_name(half);
        let arrangement = design.arrangement_of(half).map(|arrangement| arrangement.name.to_string());
        let what = format!(
            "{} {}, {}s{}",
            arrangement.as_deref().map_or("arrangement not given".to_owned(), |arrangement| arrangement.to_owned()),
            row.half.map_or("half not given", |half| half_word(half.value)),
            gender_word(facts.gender(half)),
            row.keying.as_ref().map_or(String::new(), |keying| format!(", keying {}", keying.value))
        );
        let part = row.part.as_ref().map_or(NOT_GIVEN, |part| &part.value);
        lines.add(&["connector", part, &what, "pieces"], 1.0, 0.0, Some(&name));
        let backshell = row.backshell.as_ref().map_or(NOT_GIVEN, |part| &part.value);
        lines.add(
            &["backshell", backshell, &format!("for {}", arrangement.as_deref().unwrap_or(NOT_GIVEN)), "pieces"],
            1.0,
            0.0,
            Some(&name),
        );
        let cavities = facts.cavities(half);
        let rule = design.shop.spares(cavities.len()).map_or(0, |line| line.row.spares) as usize;
        let mut of_size: BTreeMap<(String, Option<Name>), usize> = BTreeMap::new();
        let mut unused = 0;
        for cavity in &cavities {
            let pin = facts.pin(half, cavity);
            let wires = pin.map_or(0, |pin| facts.landed(End::Pin(pin)).len());
            unused += usize::from(wires == 0);
            let size = facts.contact_size(half, cavity, pin).map_or(NOT_GIVEN.to_owned(), |size| size.to_string());
            let filled = row.fills_unused.is_some_and(|filled| filled.value);
            let part = facts.contact_part(half, cavity, pin);
            *of_size.entry((size, part)).or_default() += usize::from(wires > 0 || filled);
        }
        // Spares go with the size that the connector has most of: one rule for one connector.
        let most = of_size.iter().max_by_key(|(_, count)| **count).map(|(kind, _)| kind.clone());
        for (kind, count) in &of_size {
            let spares = if Some(kind) == most.as_ref() { rule } else { 0 };
            let (size, part) = kind;
            let what = format!("size {size} {}", gender_word(facts.gender(half)));
            lines.add(&["contact", part.as_ref().map_or(NOT_GIVEN, |part| part), &what, "pieces"], *count as f64, spares as f64, None);
        }
        if unused > 0 && row.fills_unused.is_some_and(|filled| filled.value) {
            lines.add(&["sealing plug", NOT_GIVEN, "for unused cavities", "pieces"], unused as f64, 0.0, None);
        }
    }
    for sum in lists::spool_sums(facts) {
        let (kind, gauge, colour) = &sum.spool;
        lines.add(&["wire", kind, &format!("{gauge} AWG, colour {colour}"), "m"], sum.cut, sum.waste, None);
    }
    for (id, splice) in design.splices.iter().filter(|(id, _)| !facts.landed(End::Splice(*id)).is_empty()) {
        lines.add(
            &["splice", NOT_GIVEN, &format!("for {} wires", facts.landed(End::Splice(id)).len()), "pieces"],
            1.0,
            0.0,
            Some(&splice.name),
        );
    }
    for (end, name) in lugs(facts) {
        lines.add(&["lug", NOT_GIVEN, &end, "pieces"], 1.0, 0.0, Some(&name));
    }
    for (_, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind == ClampKind::Clamp) {
        let bore = clamp.bore.map_or(NOT_GIVEN.to_owned(), |bore| format!("bore {} mm", number::plain(bore.value.0 * 1e3)));
        lines.add(&["clamp", NOT_GIVEN, &bore, "pieces"], 1.0, 0.0, None);
    }
    let ties: f64 = design.segments.ids().filter_map(|segment| tie_count(facts, segment)).sum::<usize>() as f64;
    if ties > 0.0 {
        lines.add(&["tie", NOT_GIVEN, "by the tie and clamp schedule", "pieces"], ties, 0.0, None);
    }
    for (id, segment) in design.segments.iter().filter(|(id, _)| !facts.view.prepared.layout().members(*id).is_empty()) {
        for covering in &segment.coverings {
            let row = &design.coverings[covering.value];
            let over = facts.view.prepared.bundle(id).known_outside().0 * 1e3;
            lines.add(
                &["covering", &row.name, row.kind.word(), "m"],
                segment.length.value.0,
                0.0,
                Some(&format!("{} ({} mm)", segment.name, number::plain(over))),
            );
        }
    }
    for (_, strap) in design.straps.iter() {
        lines.add(&["bond strap", NOT_GIVEN, "by its resistance", "pieces"], 1.0, 0.0, Some(&strap.name));
    }
    for (_, item) in design.fitted.iter() {
        let at = facts.connector_name(item.connector.value);
        lines.add(&["fitted item", &item.name, item.kind.word(), "pieces"], 1.0, 0.0, Some(&at));
    }
    // One kind after the other, each in the order of the input.
    let kinds: Vec<String> = lines.lines.iter().map(|(key, ..)| key[0].clone()).fold(Vec::new(), |mut seen, kind| {
        if !seen.contains(&kind) {
            seen.push(kind);
        }
        seen
    });
    lines.lines.sort_by_key(|(key, ..)| kinds.iter().position(|kind| *kind == key[0]));
    for (key, needed, spares, places) in lines.lines {
        let decimals = if key[3] == "m" { 3 } else { 0 };
        let [kind, part, what, unit] = [0, 1, 2, 3].map(|at| key[at].clone());
        sheet.rows.push(vec![
            Cell::text(kind),
            if part == NOT_GIVEN { Cell::NotGiven } else { Cell::Text(part) },
            Cell::text(what),
            Cell::Number(needed, decimals),
            Cell::Number(spares, decimals),
            Cell::Number(needed + spares, decimals),
            Cell::text(unit),
            Cell::text(places.into_iter().collect::<Vec<_>>().join(" ")),
        ]);
    }
    sheet
}

/// Lugs: wire ends on studs, ground points, cases and terminals.
fn lugs(facts: &Facts) -> Vec<(String, String)> {
    let design = facts.design;
    let mut lugs = Vec::new();
    for (_, wire) in design.wires.iter() {
        for end in [wire.from.value, wire.to.value] {
            let is_lug = match end {
                End::Stud(_) | End::Ground(_) | End::Case(_) => true,
                End::Pin(pin) => design.connectors[design.pins[pin].connector].kind == ConnectorKind::Terminals,
                _ => false,
            };
            if is_lug {
                let gauge = wire.spec.map_or(NOT_GIVEN.to_owned(), |spec| design.wire_specs[spec.value].gauge.to_string());
                lugs.push((format!("for {gauge} AWG"), design.end_name(end)));
            }
        }
    }
    lugs
}

/// How far the ties of a segment are apart, with where that is from; `None` where nothing says or nothing needs them.
fn tie_pitch(facts: &Facts, segment: Id<Segment>) -> Option<(f64, String)> {
    let design = facts.design;
    let row = &design.segments[segment];
    let bundle = facts.view.prepared.bundle(segment);
    if bundle.is_empty() || bundle.members.len() < 2 || !row.coverings.is_empty() || row.duct.is_some_and(|duct| duct.value) {
        return None;
    }
    if let Some(pitch) = row.tie_pitch {
        return Some((pitch.value.0, "its row".to_owned()));
    }
    if let Some(pitch) = design.tie_pitch {
        return Some((pitch.value.0, "the vehicle".to_owned()));
    }
    let table: Vec<_> = design.practice.ties.iter().map(|row| row.step).collect();
    let pitch = physics::bundle::support_pitch(&table, bundle.outside()?)?;
    Some((pitch.0, "support-pitch of the catalog".to_owned()))
}

fn tie_count(facts: &Facts, segment: Id<Segment>) -> Option<usize> {
    let (pitch, _) = tie_pitch(facts, segment)?;
    let length = facts.design.segments[segment].length.value.0;
    Some((length / pitch - 1e-9).ceil().max(1.0) as usize + 1)
}

/// Places of the ties of a segment from its `from` end, in metres.
pub(crate) fn tie_places(facts: &Facts, segment: Id<Segment>) -> Vec<f64> {
    let count = tie_count(facts, segment).unwrap_or(0);
    let length = facts.design.segments[segment].length.value.0;
    (0..count).map(|at| length * at as f64 / (count - 1) as f64).collect()
}

/// What holds each segment, in order along it.
pub(crate) fn ties_and_clamps(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "ties-and-clamps",
        title: "Tie and clamp schedule",
        columns: columns(&["segment", "from", "to", "length (mm)", "over all (mm)", "bend at least (mm)", "bend better (mm)", "what", "name", "at (mm)", "bore (mm)", "count", "by"]),
        notes: vec![
            "ties: from one end of the segment to the other, evenly, no farther apart than the pitch, with one on each side of every breakout (NASA Workmanship \
             book 4 (2002), sec. 4.02 [read]). Segments in a duct or under a covering, and single wires, have none"
                .to_owned(),
            "at: from the from end. Bend: inside radius, what the most sensitive wire or cable asks for at any time, and what is better for long; by the practice of the \
             profile and catalog/bend-radii.csv"
                .to_owned(),
        ],
        ..Sheet::default()
    };
    let mut clamps: Vec<Vec<Id<Clamp>>> = vec![Vec::new(); design.segments.len()];
    design.clamps.iter().for_each(|(id, clamp)| clamps[clamp.segment.value.row()].push(id));
    for (id, segment) in design.segments.iter() {
        let own = &mut clamps[id.row()];
        let at = |clamp: &Id<Clamp>| design.clamps[*clamp].position.map(|at| at.value.0);
        own.sort_by(|a, b| at(a).partial_cmp(&at(b)).unwrap_or(std::cmp::Ordering::Equal));
        let bundle = facts.view.prepared.bundle(id);
        let bend = rules::least_bend(design, bundle);
        let over =
            if bundle.is_empty() { Cell::text("nothing lies in it") } else { Cell::number(bundle.outside().map(|over| over.0 * 1e3), 1) };
        let head = [
            Cell::text(&*segment.name),
            Cell::text(&*design.branch_points[segment.from.value].name),
            Cell::text(&*design.branch_points[segment.to.value].name),
            Cell::Number(segment.length.value.0 * 1e3, 1),
            over,
            if bundle.is_empty() { Cell::Blank } else { Cell::number(bend.map(|bend| bend.minimum.0 * 1e3), 1) },
            if bundle.is_empty() {
                Cell::Blank
            } else {
                Cell::number(bend.and_then(|bend| bend.preferred).map(|better| better.0 * 1e3), 1)
            },
        ];
        let mut line = |rest: [Cell; 6]| sheet.rows.push(head.iter().cloned().chain(rest).collect());
        for clamp in own.iter() {
            let row = &design.clamps[*clamp];
            let bore = if row.kind == ClampKind::Tie { Cell::Blank } else { Cell::number(row.bore.map(|bore| bore.value.0 * 1e3), 1) };
            let at = Cell::number(row.position.map(|at| at.value.0 * 1e3), 1);
            line([Cell::text(row.kind.word()), Cell::text(&*row.name), at, bore, Cell::count(1), Cell::text("its row")]);
        }
        match (tie_pitch(facts, id), tie_count(facts, id)) {
            (Some((pitch, by)), Some(count)) => {
                let every = segment.length.value.0 * 1e3 / (count - 1) as f64;
                let words = format!("every {} mm, at most {}", number::fixed(every, 1), number::plain(pitch * 1e3));
                line([Cell::text("ties"), Cell::Blank, Cell::text(words), Cell::Blank, Cell::count(count), Cell::text(by)]);
            }
            _ if own.is_empty() => line([Cell::text("nothing listed"), Cell::Blank, Cell::Blank, Cell::Blank, Cell::count(0), Cell::Blank]),
            _ => {}
        }
    }
    sheet
}

/// What must be on, off and kept clear, with room for who saw it.
pub(crate) fn close_out(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "close-out",
        title: "Fitted items and close-out",
        columns: columns(&["what", "name", "at", "state", "in phases", "seen by", "date"]),
        notes: vec![
            "a line for each state of an item over the phases in their order; what has to be clear of the harness, by the profile"
                .to_owned(),
        ],
        ..Sheet::default()
    };
    for (id, item) in design.fitted.iter() {
        let is_on = |phase: &Phase| phase.fitted.iter().any(|fitted| fitted.value == id);
        for (state, wanted) in [("on", true), ("off", false)] {
            let phases: Vec<&str> =
                design.phases.iter().filter(|(_, phase)| is_on(phase) == wanted).map(|(_, phase)| &*phase.name).collect();
            if !phases.is_empty() {
                sheet.rows.push(vec![
                    Cell::text(item.kind.word()),
                    Cell::text(&*item.name),
                    Cell::text(facts.connector_name(item.connector.value)),
                    Cell::text(state),
                    Cell::text(phases.join(", ")),
                    Cell::Blank,
                    Cell::Blank,
                ]);
            }
        }
    }
    for (_, near) in design.neighbours.iter() {
        let least = design.profile.clearance(near.kind).map(|least| format!("at least {} mm clear", number::plain(least.value.0 * 1e3)));
        sheet.rows.push(vec![
            Cell::text(near.kind.word()),
            Cell::text(&*near.name),
            Cell::text(&*design.segments[near.segment.value].name),
            Cell::given(least),
            Cell::text("all"),
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    for half in facts.wired_halves() {
        let row = &design.connectors[half];
        if row.kind != ConnectorKind::Terminals {
            let mate = facts.mate(half).map(|mate| format!("mated with {}, torqued, locked", facts.connector_name(mate)));
            sheet.rows.push(vec![
                Cell::text("connector"),
                Cell::text(facts.connector_name(half)),
                Cell::given(row.unit.map(|unit| design.units[unit.value].name.to_string()).or_else(|| {
                    let mate = facts.mate(half)?;
                    Some(design.units[design.connectors[mate].unit?.value].name.to_string())
                })),
                Cell::text(mate.unwrap_or_else(|| "no mate: capped".to_owned())),
                Cell::Blank,
                Cell::Blank,
                Cell::Blank,
            ]);
        }
    }
    sheet
}
