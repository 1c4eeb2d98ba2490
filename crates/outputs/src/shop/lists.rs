//! What is cut and laid: wire list, cut list with its spools, cable make-up, shield ends, labels.

use super::facts::Facts;
use super::sheet::{Cell, Sheet, columns};
use crate::number;
use model::*;
use physics::{Metre, marking};
use std::collections::BTreeMap;

/// Step to which cut lengths are rounded up. Common practice, no source.
pub(crate) const CUT_STEP: f64 = 0.005;
/// Share of a spool's cut length that goes into set-up and ends. Common practice, no source.
pub(crate) const SPOOL_WASTE: f64 = 0.05;

/// Length to be cut: rounded up to whole steps.
pub(crate) fn cut_length(length: Metre) -> Metre {
    // What is a whole number of steps but for the last bits is not rounded up.
    Metre((length.0 / CUT_STEP - 1e-6).ceil().max(1.0) * CUT_STEP)
}

fn mm(length: Option<Metre>, decimals: usize) -> Cell {
    Cell::number(length.map(|length| length.0 * 1e3), decimals)
}

fn length(facts: &Facts, wire: Id<Wire>) -> Option<Metre> {
    facts.view.prepared.length(wire).ok()
}

fn kind_and_gauge(facts: &Facts, wire: Id<Wire>) -> [Cell; 2] {
    let spec = facts.design.wires[wire].spec.map(|spec| &facts.design.wire_specs[spec.value]);
    [Cell::given(spec.map(|spec| spec.kind.to_string())), Cell::given(spec.map(|spec| spec.gauge.to_string()))]
}

fn name(given: &Option<Given<Name>>) -> Option<String> {
    given.as_ref().map(|given| given.value.to_string())
}

/// The contact that a wire is crimped into at an end: `20 pin`; nothing where it ends on a splice or stud.
fn contact(facts: &Facts, end: End) -> Cell {
    let End::Pin(pin) = end else { return Cell::Blank };
    let row = &facts.design.pins[pin];
    let half = &facts.design.connectors[row.connector];
    if half.kind == ConnectorKind::Terminals {
        return Cell::text("terminal");
    }
    let size = facts.contact_size(row.connector, &row.cavity, Some(pin));
    let gender = super::facts::gender_word(facts.gender(row.connector));
    size.map_or(Cell::NotGiven, |size| Cell::Text(format!("{size} {gender}")))
}

/// What is built by itself, with its board.
pub(crate) fn assemblies(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "assemblies",
        title: "Harness assemblies",
        columns: columns(&["assembly", "part", "board", "wires", "wire (m)", "breakouts", "halves"]),
        notes: vec![
            "an assembly is what only parting halves takes apart: wires on one half, on one splice, in one cable; lugs come off studs and ground points. What no row [assembly.X] names has a number here"
                .to_owned(),
            "board: the number of its formboard; none where no route of its wires is known".to_owned(),
        ],
        ..Sheet::default()
    };
    let boards = super::board::boards(facts);
    for (at, assembly) in facts.assemblies.iter().enumerate() {
        let own: Vec<(usize, &super::board::Board)> = boards.iter().enumerate().filter(|(_, board)| board.assembly == at).collect();
        let numbers: Vec<String> = own.iter().map(|(number, _)| (number + 1).to_string()).collect();
        let breakouts: usize = own.iter().map(|(_, board)| board.nodes.iter().filter(|node| node.cut.is_none()).count()).sum();
        let lengths: Option<f64> = assembly.wires.iter().map(|wire| length(facts, *wire).map(|length| length.0)).sum();
        for row in assembly.rows.iter().map(|row| &design.assemblies[*row]).filter(|row| !row.title.is_empty()) {
            sheet.notes.push(format!("{}: {}", row.name, row.title));
        }
        let halves: Vec<String> = assembly.halves.iter().map(|half| facts.connector_name(*half)).collect();
        sheet.rows.push(vec![
            Cell::text(&*assembly.name),
            Cell::given(assembly.part(design)),
            Cell::text(numbers.join(" ")),
            Cell::count(assembly.wires.len()),
            Cell::number(lengths, 1),
            Cell::count(breakouts),
            Cell::text(halves.join(" ")),
        ]);
    }
    sheet
}

/// Every wire once.
pub(crate) fn wire_list(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "wire-list",
        title: "Wire list",
        columns: columns(&[
            "wire",
            "marking",
            "from",
            "from contact",
            "to",
            "to contact",
            "type",
            "gauge (AWG)",
            "colour",
            "signal",
            "circuit",
            "cable",
            "core",
            "parallel group",
            "assembly",
            "length (mm)",
            "route",
            "ends drawn to",
            "notes",
        ]),
        notes: vec![
            "length: from end to end as built, with twist, slack and what both ends need; the cut list has what is cut".to_owned(),
            "ends drawn to: revisions of the interface sheets of both ends, from / to".to_owned(),
        ],
        ..Sheet::default()
    };
    for (id, wire) in design.wires.iter() {
        let [kind, gauge] = kind_and_gauge(facts, id);
        let run = facts.view.prepared.layout().run(id);
        let route =
            run.map(|run| run.segments.iter().map(|segment| design.segments[*segment].name.to_string()).collect::<Vec<_>>().join(" "));
        let revisions = [&wire.from_revision, &wire.to_revision].map(|revision| name(revision).unwrap_or_else(|| "–".to_owned()));
        sheet.rows.push(vec![
            Cell::text(&*wire.name),
            Cell::text(facts.marking(id)),
            Cell::text(design.end_name(wire.from.value)),
            contact(facts, wire.from.value),
            Cell::text(design.end_name(wire.to.value)),
            contact(facts, wire.to.value),
            kind,
            gauge,
            Cell::given(name(&wire.colour)),
            Cell::given(name(&wire.signal)),
            Cell::given(wire.circuit.map(|circuit| design.circuits[circuit.value].name.to_string())),
            Cell::text(wire.cable.map_or("", |cable| &*design.cables[cable.value].name)),
            wire.cable_position.map_or(Cell::Blank, |at| Cell::count(at.value as usize)),
            Cell::text(name(&wire.group).unwrap_or_default()),
            Cell::text(&*facts.assembly(id).name),
            mm(length(facts, id), 0),
            Cell::text(route.unwrap_or_default()),
            Cell::text(if revisions.iter().all(|one| one == "–") { String::new() } else { revisions.join(" / ") }),
            Cell::text(wire.notes.as_ref().map_or("", |notes| &*notes.value)),
        ]);
    }
    sheet
}

/// Type, gauge and colour: what comes off one spool.
type Spool = (String, String, String);

fn spool(facts: &Facts, wire: Id<Wire>) -> Spool {
    let [kind, gauge] = kind_and_gauge(facts, wire);
    let colour = name(&facts.design.wires[wire].colour);
    (kind.shown(), gauge.shown(), colour.unwrap_or_else(|| super::sheet::NOT_GIVEN.to_owned()))
}

/// Wires of each spool, spools in the order of their first wire.
fn spools(facts: &Facts) -> Vec<(Spool, Vec<Id<Wire>>)> {
    let mut row: BTreeMap<Spool, usize> = BTreeMap::new();
    let mut list: Vec<(Spool, Vec<Id<Wire>>)> = Vec::new();
    for id in facts.design.wires.ids() {
        let spool = spool(facts, id);
        let at = *row.entry(spool.clone()).or_insert_with(|| {
            list.push((spool, Vec::new()));
            list.len() - 1
        });
        list[at].1.push(id);
    }
    list
}

/// Every wire once, by spool, with what its length is made of and what is cut.
pub(crate) fn cut_list(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "cut-list",
        title: "Cut list",
        columns: columns(&[
            "wire",
            "type",
            "gauge (AWG)",
            "colour",
            "length from",
            "path (mm)",
            "twist (mm)",
            "slack (mm)",
            "at from end (mm)",
            "at to end (mm)",
            "length (mm)",
            "cut (mm)",
            "cable",
            "assembly",
        ]),
        notes: vec![
            format!(
                "length = path + twist + slack + what both ends need, or as the list states it; cut: rounded up to the next {} mm (common practice, no source)",
                number::plain(CUT_STEP * 1e3)
            ),
            "a wire whose length is not known is not cut: see the reason in `show lengths`".to_owned(),
        ],
        ..Sheet::default()
    };
    for ((kind, gauge, colour), wires) in spools(facts) {
        for id in wires {
            let wire = &design.wires[id];
            let whole = length(facts, id);
            let is_routed = matches!(wire.length, Some(Given { value: Length::FromRoute, .. }));
            let parts = facts.view.prepared.layout().parts(id).filter(|_| is_routed && whole.is_some());
            let part = |of: fn(&analysis::layout::Parts) -> Metre| parts.map_or(Cell::Blank, |parts| Cell::Number(of(&parts).0 * 1e3, 1));
            sheet.rows.push(vec![
                Cell::text(&*wire.name),
                Cell::text(&*kind),
                Cell::text(&*gauge),
                Cell::text(&*colour),
                Cell::text(match (whole, parts) {
                    (None, _) => "not known",
                    (_, Some(_)) => "route",
                    (_, None) => "stated",
                }),
                part(|parts| parts.path),
                part(|parts| parts.twist),
                part(|parts| parts.slack),
                part(|parts| parts.ends[0]),
                part(|parts| parts.ends[1]),
                mm(whole, 1),
                mm(whole.map(cut_length), 0),
                Cell::text(wire.cable.map_or("", |cable| &*design.cables[cable.value].name)),
                Cell::text(&*facts.assembly(id).name),
            ]);
        }
    }
    sheet
}

/// What each spool has to give.
pub(crate) struct SpoolSum {
    pub(crate) spool: Spool,
    pub(crate) wires: usize,
    pub(crate) unknown: usize,
    pub(crate) net: f64,
    pub(crate) cut: f64,
    pub(crate) waste: f64,
}

/// Sums by spool.
pub(crate) fn spool_sums(facts: &Facts) -> Vec<SpoolSum> {
    let sum = |(spool, wires): (Spool, Vec<Id<Wire>>)| {
        let known: Vec<Metre> = wires.iter().filter_map(|wire| length(facts, *wire)).collect();
        let cut: f64 = known.iter().map(|length| cut_length(*length).0).sum();
        SpoolSum {
            spool,
            wires: wires.len(),
            unknown: wires.len() - known.len(),
            net: known.iter().map(|length| length.0).sum(),
            cut,
            waste: cut * SPOOL_WASTE,
        }
    };
    spools(facts).into_iter().map(sum).collect()
}

/// What to draw from store, spool by spool.
pub(crate) fn spool_list(facts: &Facts) -> Sheet {
    let mut sheet = Sheet {
        file: "spools",
        title: "Wire by spool",
        columns: columns(&["type", "gauge (AWG)", "colour", "wires", "of unknown length", "net (m)", "cut (m)", "waste (m)", "draw (m)"]),
        notes: vec![format!(
            "draw = cut + waste; waste {} % of the cut length for set-up and ends of spools (common practice, no source). Wires of unknown length are not in it",
            number::plain(SPOOL_WASTE * 100.0)
        )],
        ..Sheet::default()
    };
    for sum in spool_sums(facts) {
        let (kind, gauge, colour) = sum.spool;
        sheet.rows.push(vec![
            Cell::text(kind),
            Cell::text(gauge),
            Cell::text(colour),
            Cell::count(sum.wires),
            Cell::count(sum.unknown),
            Cell::Number(sum.net, 3),
            Cell::Number(sum.cut, 3),
            Cell::Number(sum.waste, 3),
            Cell::Number(sum.cut + sum.waste, 3),
        ]);
    }
    sheet
}

fn cable_kind(kind: CableKind) -> &'static str {
    match kind {
        CableKind::Unstated => super::sheet::NOT_GIVEN,
        CableKind::Twisted => "twisted",
        CableKind::Shielded => "shielded",
        CableKind::TwistedShielded => "twisted, shielded",
        CableKind::Coaxial => "coaxial",
    }
}

/// Every core of every cable.
pub(crate) fn cable_make_up(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "cable-make-up",
        title: "Cable make-up",
        columns: columns(&[
            "cable",
            "made as",
            "lay (mm)",
            "over jacket (mm)",
            "core",
            "wire",
            "type",
            "gauge (AWG)",
            "colour",
            "signal",
            "from",
            "to",
            "cut (mm)",
        ]),
        notes: vec![
            "cores by their position; cut as in the cut list, twist take-up included. A cable bought made up is cut to its longest core"
                .to_owned(),
        ],
        ..Sheet::default()
    };
    for (id, cable) in design.cables.iter() {
        for &core in facts.cores(id) {
            let wire = &design.wires[core];
            let [kind, gauge] = kind_and_gauge(facts, core);
            sheet.rows.push(vec![
                Cell::text(&*cable.name),
                Cell::text(cable_kind(cable.kind)),
                if cable.kind.is_twisted() { mm(cable.lay.map(|lay| lay.value), 1) } else { Cell::Blank },
                mm(cable.od.map(|od| od.value), 2),
                wire.cable_position.map_or(Cell::NotGiven, |at| Cell::count(at.value as usize)),
                Cell::text(&*wire.name),
                kind,
                gauge,
                Cell::given(name(&wire.colour)),
                Cell::given(name(&wire.signal)),
                Cell::text(design.end_name(wire.from.value)),
                Cell::text(design.end_name(wire.to.value)),
                mm(length(facts, core).map(cut_length), 0),
            ]);
        }
    }
    sheet
}

/// Places where a cable ends, in the order in which its cores name them.
pub(crate) fn ends_of_cable(facts: &Facts, cable: Id<Cable>) -> Vec<String> {
    let mut places: Vec<String> = Vec::new();
    for &core in facts.cores(cable) {
        let wire = &facts.design.wires[core];
        for place in [wire.from.value, wire.to.value].map(|end| facts.place_of(end)) {
            if !places.contains(&place) {
                places.push(place);
            }
        }
    }
    places
}

/// Both ends of every shield.
pub(crate) fn shield_ends(facts: &Facts) -> Sheet {
    let design = facts.design;
    let practice = &design.shop;
    let mut sheet = Sheet {
        file: "shield-ends",
        title: "Shield ends",
        columns: columns(&[
            "cable",
            "end at",
            "cores",
            "kind of circuit",
            "shield ends at most (mm)",
            "lead at most (mm)",
            "if ordinary: shield ends (mm)",
            "if ordinary: lead (mm)",
            "shield goes to",
            "measured",
        ]),
        notes: vec![
            "from the end of the shield to the termination of its conductors, and the length of the ground lead. The kind of circuit is not in the model: \
             the figures of sensitive circuits stand first and hold for both"
                .to_owned(),
            "terminations behind one connector are staggered by 13 to 100 mm (NASA-STD-8739.4 with Change 6, sec. 11.9, page 60 [read])".to_owned(),
        ],
        ..Sheet::default()
    };
    for line in &practice.shields {
        let bare = line.row.bare.map_or(String::new(), |bare| format!("{} mm bare, ", number::plain(bare.0 * 1e3)));
        sheet.notes.push(format!(
            "{}: {bare}lead {} mm: {} [{}]",
            line.row.circuit,
            number::plain(line.row.lead.0 * 1e3),
            line.source,
            line.how
        ));
    }
    let figures = |circuit: &str| {
        let row = practice.shield(circuit).map(|line| &line.row);
        [mm(row.and_then(|row| row.bare), 0), mm(row.map(|row| row.lead), 0)]
    };
    let ([bare, lead], [bare_ordinary, lead_ordinary]) = (figures("sensitive"), figures("ordinary"));
    for (id, cable) in design.cables.iter().filter(|(_, cable)| cable.kind.is_shielded() || cable.kind == CableKind::Coaxial) {
        for place in ends_of_cable(facts, id) {
            let end = cable.shield_ends.iter().find(|(half, _)| facts.connector_name(half.value) == place);
            let goes = end.map(|(_, end)| match end {
                ShieldEnd::Shell => "shell".to_owned(),
                ShieldEnd::Pin(pin) => design.pin_name(*pin),
                ShieldEnd::Cut => "nowhere: cut back and insulated".to_owned(),
            });
            sheet.rows.push(vec![
                Cell::text(&*cable.name),
                Cell::text(place),
                Cell::count(facts.cores(id).len()),
                Cell::NotGiven,
                bare.clone(),
                lead.clone(),
                bare_ordinary.clone(),
                lead_ordinary.clone(),
                Cell::given(goes),
                Cell::Blank,
            ]);
        }
    }
    sheet
}

/// A label for both ends of every wire and cable.
pub(crate) fn labels(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mm_of = |length: Metre| number::plain((length.0 * 1e3).round());
    let mut sheet = Sheet {
        file: "labels",
        title: "Labels",
        columns: columns(&["of", "name", "end", "here", "other end", "text", "from this end (mm)", "marks between", "placed"]),
        notes: vec![format!(
            "wires are marked {} mm from each end and at least every {} mm; between {} and {} mm once, in the middle; shorter ones not at all: FAA AC 43.13-1B \
             CHG 1, par. 11-208, page 11-83, figure 11-23 [read]. A wire of unknown length is marked at both ends; a cable counts as long as its shortest core",
            mm_of(marking::FROM_END),
            mm_of(marking::APART),
            mm_of(marking::UNMARKED),
            mm_of(marking::MARKED_ONCE)
        )],
        ..Sheet::default()
    };
    let mut push = |of: &str, name: &str, text: &str, ends: [String; 2], length: Option<Metre>| {
        let marks = length.map(marking::marks);
        for side in 0..2 {
            let (here, other) = (&ends[side], &ends[1 - side]);
            let place = match (&marks, length) {
                (None, _) => Cell::Number(marking::FROM_END.0 * 1e3, 0),
                (Some(marks), Some(length)) => match (marks.as_slice(), side) {
                    ([], _) => Cell::text("none: too short"),
                    ([one], 0) => Cell::Number(one.0 * 1e3, 0),
                    ([_], _) => Cell::text("as at the other end: one mark"),
                    ([first, ..], 0) => Cell::Number(first.0 * 1e3, 0),
                    (all, _) => Cell::Number((length.0 - all[all.len() - 1].0) * 1e3, 0),
                },
                (Some(_), None) => Cell::NotGiven,
            };
            let between = marks.as_ref().map(|marks| marks.len().saturating_sub(2));
            sheet.rows.push(vec![
                Cell::text(of),
                Cell::text(name),
                Cell::text(["from", "to"][side]),
                Cell::text(here),
                Cell::text(other),
                Cell::text(format!("{text}  {here} > {other}")),
                place,
                between.map_or(Cell::NotGiven, Cell::count),
                Cell::Blank,
            ]);
        }
    };
    for (id, wire) in design.wires.iter() {
        let ends = [wire.from.value, wire.to.value].map(|end| design.end_name(end));
        push("wire", &wire.name, &facts.marking(id), ends, length(facts, id));
    }
    for (id, cable) in design.cables.iter() {
        let places = ends_of_cable(facts, id);
        let Some((first, rest)) = places.split_first() else { continue };
        // A cable is as long as its shortest core, and has two ends where all cores go the same way.
        let lengths: Option<Vec<f64>> = facts.cores(id).iter().map(|core| length(facts, *core).map(|length| length.0)).collect();
        let shortest = lengths.filter(|_| rest.len() == 1).and_then(|lengths| lengths.into_iter().reduce(f64::min)).map(Metre);
        push("cable", &cable.name, &cable.name, [first.clone(), if rest.is_empty() { first.clone() } else { rest.join(", ") }], shortest);
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_are_rounded_up() {
        for (length, cut) in [(1.0, 1.0), (1.0001, 1.005), (0.004, 0.005), (1.005, 1.005), (1.0049, 1.005)] {
            assert!((cut_length(Metre(length)).0 - cut).abs() < 1e-12, "{length}");
        }
    }
}
