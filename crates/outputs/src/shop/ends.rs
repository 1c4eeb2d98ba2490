//! What wires end on: pin tables, joints, connectors that could be mated wrongly.

use super::facts::{Facts, gender_word};
use super::sheet::{Cell, Sheet, columns};
use crate::number;
use model::*;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Every cavity of every half on which wires land; each wire that lands there in a row of its own.
pub(crate) fn pin_tables(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "pin-tables",
        title: "Connector pin tables",
        columns: columns(&[
            "connector",
            "part",
            "arrangement",
            "half",
            "cavity",
            "contact",
            "contact part",
            "wire",
            "end",
            "gauge (AWG)",
            "marking",
            "signal",
            "pin is for",
            "sealing plug",
            "mates with",
        ]),
        notes: vec![
            "every cavity of every half on which wires land. Unused cavities: a contact without a wire and a sealing plug (FAA AC 43.13-1B, par. 11-234 [read]) \
             where the model says that they are filled"
                .to_owned(),
            "which way the face is seen stands on each face drawing".to_owned(),
        ],
        ..Sheet::default()
    };
    let mut unknown = 0;
    for half in facts.wired_halves() {
        let row = &design.connectors[half];
        for cavity in facts.cavities(half) {
            let pin = facts.pin(half, &cavity);
            let wires = pin.map_or(&[][..], |pin| facts.landed(End::Pin(pin)));
            let port = pin.and_then(|pin| facts.port(pin));
            let size = facts.contact_size(half, &cavity, pin);
            let contact_part = facts.contact_part(half, &cavity, pin).map(|part| part.to_string());
            unknown += usize::from(row.kind != ConnectorKind::Terminals && contact_part.is_none());
            let contact = match row.kind {
                ConnectorKind::Terminals => Cell::text("terminal"),
                _ => size.map_or(Cell::NotGiven, |size| Cell::Text(format!("{size} {}", gender_word(facts.gender(half))))),
            };
            let plug = match (wires.is_empty(), row.kind, row.fills_unused.map(|filled| filled.value)) {
                (false, ..) | (true, ConnectorKind::Terminals, _) => Cell::Blank,
                (true, _, Some(true)) => Cell::text("contact and plug"),
                (true, _, Some(false)) => Cell::text("left open"),
                (true, _, None) => Cell::NotGiven,
            };
            let mates = pin.map_or(String::new(), |pin| {
                facts.across(pin).iter().map(|(_, other)| design.pin_name(*other)).collect::<Vec<_>>().join(", ")
            });
            let line = |wire: Option<(Id<Wire>, Side)>| {
                let of = wire.map(|(id, side)| (id, &design.wires[id], side));
                let signal = of.and_then(|(_, wire, _)| wire.signal.as_ref()).or_else(|| port.and_then(|port| port.signal.as_ref()));
                let gauge = of.map(|(_, wire, _)| wire.spec.map(|spec| design.wire_specs[spec.value].gauge.to_string()));
                vec![
                    Cell::text(facts.connector_name(half)),
                    Cell::given(row.part.as_ref().map(|part| part.value.to_string())),
                    Cell::given(design.arrangement_of(half).map(|arrangement| arrangement.name.to_string())),
                    Cell::given(row.half.map(|half| half_word(half.value))),
                    Cell::text(&*cavity),
                    contact.clone(),
                    if row.kind == ConnectorKind::Terminals { Cell::Blank } else { Cell::given(contact_part.clone()) },
                    Cell::text(of.map_or("", |(_, wire, _)| &*wire.name)),
                    Cell::text(of.map_or("", |(.., side)| if side == Side::From { "from" } else { "to" })),
                    gauge.map_or(Cell::Blank, Cell::given),
                    Cell::text(of.map_or(String::new(), |(id, ..)| facts.marking(id))),
                    signal.map_or(Cell::Blank, |signal| Cell::text(&*signal.value)),
                    Cell::text(port.map_or("", |port| port.meaning.value.word())),
                    plug.clone(),
                    Cell::text(&*mates),
                ]
            };
            match wires {
                [] => sheet.rows.push(line(None)),
                wires => sheet.rows.extend(wires.iter().map(|wire| line(Some(*wire)))),
            }
        }
    }
    if unknown > 0 {
        let words =
            format!("contact part: {unknown} cavities have none: pin_part and socket_part of `catalog/contacts.csv` give it by size");
        sheet.notes.push(words);
    }
    sheet
}

pub(crate) fn half_word(half: Half) -> &'static str {
    match half {
        Half::Plug => "plug",
        Half::Receptacle => "receptacle",
    }
}

/// Every wire end that is in no connector.
pub(crate) fn joints(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "joints",
        title: "Splices, studs, ground points",
        columns: columns(&[
            "at",
            "kind",
            "breakout",
            "wire",
            "end",
            "type",
            "gauge (AWG)",
            "marking",
            "signal",
            "joint limit (mohm)",
            "other end",
        ]),
        notes: vec![
            "every wire end that is in no connector; stowed ends too. Splices of a bundle are staggered along it and lie in no clamp"
                .to_owned(),
        ],
        ..Sheet::default()
    };
    let ends = design.splices.ids().map(End::Splice).chain(design.studs.ids().map(End::Stud)).chain(design.grounds.ids().map(End::Ground));
    let rest: BTreeSet<End> = design
        .wires
        .iter()
        .flat_map(|(_, wire)| [wire.from.value, wire.to.value])
        .filter(|end| !matches!(end, End::Pin(_) | End::Splice(_) | End::Stud(_) | End::Ground(_)))
        .collect();
    for end in ends.chain(rest) {
        let joint = match end {
            End::Splice(id) => Some(design.splices[id].joint),
            End::Stud(id) => Some(design.studs[id].joint),
            End::Ground(id) => Some(design.grounds[id].joint),
            _ => None,
        };
        let breakout = design.breakout_of(end).map(|at| design.branch_points[at.value].name.to_string());
        let words = design.end_name(end);
        for &(id, side) in facts.landed(end) {
            let wire = &design.wires[id];
            let spec = wire.spec.map(|spec| &design.wire_specs[spec.value]);
            let other = if side == Side::From { wire.to.value } else { wire.from.value };
            sheet.rows.push(vec![
                Cell::text(&*words),
                Cell::text(words.split_once(':').map_or("stowed", |(kind, _)| kind)),
                if end == End::Stowed { Cell::Blank } else { Cell::given(breakout.clone()) },
                Cell::text(&*wire.name),
                Cell::text(if side == Side::From { "from" } else { "to" }),
                Cell::given(spec.map(|spec| spec.kind.to_string())),
                Cell::given(spec.map(|spec| spec.gauge.to_string())),
                Cell::text(facts.marking(id)),
                Cell::given(wire.signal.as_ref().map(|signal| signal.value.to_string())),
                joint.map_or(Cell::Blank, |joint| Cell::Number(joint.high.value.0 * 1e3, 2)),
                Cell::text(design.end_name(other)),
            ]);
        }
    }
    sheet
}

/// How far apart two breakouts may be for a connector of one to reach the other. Common practice, no source.
const REACH: f64 = 0.3;

/// Why two halves are taken to be within reach of each other.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Reach {
    Declared,
    Coordinates,
    SameUnit,
}

/// Pairs of halves that are not meant for each other, are within reach, and would mate.
pub(crate) fn cross_mates(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "cross-mates",
        title: "Connectors that could be mated wrongly",
        columns: columns(&[
            "connector",
            "would take",
            "in place of",
            "within reach by",
            "arrangement",
            "keying",
            "mates",
            "what would touch",
        ]),
        notes: vec![format!(
            "halves of one arrangement, plug to receptacle, of one keying. Within reach: breakouts no farther apart than {} m (common practice, no source), declared \
             near each other, or in the wall of one unit. Colour and labels do not count",
            number::plain(REACH)
        )],
        ..Sheet::default()
    };
    let mut unlooked = 0;
    for ((a, b), reach) in within_reach(facts) {
        let Some((arrangement, certain)) = would_mate(facts, a, b) else {
            unlooked += usize::from(design.arrangement_of(a).is_none() || design.arrangement_of(b).is_none());
            continue;
        };
        let keying = |half: Id<Connector>| design.connectors[half].keying.as_ref().map(|keying| keying.value.to_string());
        sheet.rows.push(vec![
            Cell::text(facts.connector_name(a)),
            Cell::text(facts.connector_name(b)),
            Cell::given(facts.mate(a).map(|mate| facts.connector_name(mate))),
            Cell::text(match reach {
                Reach::Declared => "declared near",
                Reach::Coordinates => "coordinates",
                Reach::SameUnit => "same unit",
            }),
            Cell::text(arrangement),
            Cell::given(keying(a).or_else(|| keying(b))),
            Cell::text(if certain { "would mate" } else { "may mate: keying or half not given" }),
            Cell::text(touching(facts, a, b)),
        ]);
    }
    if unlooked > 0 {
        sheet.notes.push(format!("not judged: {unlooked} pairs within reach of which an insert arrangement is not given"));
    }
    sheet
}

/// A half and where it is.
type Placed = (Id<Connector>, [f64; 3]);

/// Pairs of a moving half and one that is not its mate, with the surest reason for being within reach.
fn within_reach(facts: &Facts) -> BTreeMap<(Id<Connector>, Id<Connector>), Reach> {
    let design = facts.design;
    let mut pairs: BTreeMap<(Id<Connector>, Id<Connector>), Reach> = BTreeMap::new();
    let mut add = |a: Id<Connector>, b: Id<Connector>, reach: Reach| {
        // What moves is a half on a harness.
        let (a, b) = if design.connectors[a].unit.is_some() { (b, a) } else { (a, b) };
        if a == b || facts.mate(a) == Some(b) || design.connectors[a].unit.is_some() {
            return;
        }
        // Two harness halves: once, in the order of the input.
        let key = if design.connectors[b].unit.is_none() { (a.min(b), a.max(b)) } else { (a, b) };
        let known = pairs.entry(key).or_insert(reach);
        *known = reach.min(*known);
    };
    let both = |half: Id<Connector>| [Some(half), facts.mate(half)].into_iter().flatten();
    for (id, row) in design.connectors.iter() {
        for near in &row.near {
            for a in both(id) {
                both(near.value).for_each(|b| add(a, b, Reach::Declared));
            }
        }
    }
    let mut of_unit: BTreeMap<Id<Unit>, Vec<Id<Connector>>> = BTreeMap::new();
    let mut of_cell: HashMap<[i64; 3], Vec<Placed>> = HashMap::new();
    let cell_of = |at: [f64; 3]| at.map(|part| (part / REACH).floor() as i64);
    for (id, row) in design.connectors.iter() {
        if let Some(unit) = row.unit {
            of_unit.entry(unit.value).or_default().push(id);
        }
        let end = facts.pins_of(id).first().map(|pin| End::Pin(*pin)).unwrap_or(End::Shell(id));
        let position = design.breakout_of(end).and_then(|at| design.branch_points[at.value].position);
        if let Some(position) = position {
            let at = position.value.map(|part| part.0);
            of_cell.entry(cell_of(at)).or_default().push((id, at));
        }
    }
    for halves in of_unit.values() {
        for &a in halves {
            for b in halves.iter().copied().filter(|b| *b != a) {
                both(a).for_each(|a| add(a, b, Reach::SameUnit));
            }
        }
    }
    let mut cells: Vec<&[i64; 3]> = of_cell.keys().collect();
    cells.sort();
    for cell in cells {
        for &(a, at) in &of_cell[cell] {
            for step in 0..27i64 {
                let beside = [cell[0] + step % 3 - 1, cell[1] + step / 3 % 3 - 1, cell[2] + step / 9 - 1];
                for &(b, other) in of_cell.get(&beside).map_or(&[][..], Vec::as_slice) {
                    let apart: f64 = (0..3).map(|k| (at[k] - other[k]).powi(2)).sum::<f64>().sqrt();
                    if apart <= REACH {
                        add(a, b, Reach::Coordinates);
                    }
                }
            }
        }
    }
    pairs
}

/// The arrangement that two halves share if they would mate, and whether nothing about it is unknown.
fn would_mate(facts: &Facts, a: Id<Connector>, b: Id<Connector>) -> Option<(String, bool)> {
    let design = facts.design;
    let (one, other) = (design.arrangement_of(a)?, design.arrangement_of(b)?);
    let (row_a, row_b) = (&design.connectors[a], &design.connectors[b]);
    let differs = |a: Option<bool>| a == Some(false);
    let halves = row_a.half.zip(row_b.half).map(|(a, b)| a.value != b.value);
    let genders = facts.gender(a).zip(facts.gender(b)).map(|(a, b)| a != b);
    let keys = row_a.keying.as_ref().zip(row_b.keying.as_ref()).map(|(a, b)| a.value == b.value);
    if one.name != other.name || differs(halves) || differs(genders) || differs(keys) {
        return None;
    }
    Some((one.name.to_string(), keys.is_some() && (halves.is_some() || genders.is_some())))
}

/// What power, and what ordnance, would be joined to.
fn touching(facts: &Facts, a: Id<Connector>, b: Id<Connector>) -> String {
    const SHOWN: usize = 4;
    let mut found = Vec::new();
    for cavity in facts.cavities(a) {
        let ports = [a, b].map(|half| facts.pin(half, &cavity).and_then(|pin| facts.port(pin)));
        let [Some(one), Some(other)] = ports else { continue };
        let meanings = [one.meaning.value, other.meaning.value];
        let is_hot = |meaning: PinMeaning| matches!(meaning, PinMeaning::PowerOut | PinMeaning::Ordnance);
        let is_idle = |meaning: PinMeaning| matches!(meaning, PinMeaning::Spare | PinMeaning::NoConnect);
        if meanings.into_iter().any(is_hot) && !meanings.into_iter().any(is_idle) {
            let words = |port: &Port| match &port.signal {
                Some(signal) => format!("{} {}", port.meaning.value.word(), signal.value),
                None => port.meaning.value.word().to_owned(),
            };
            found.push(format!("{cavity}: {} to {}", words(one), words(other)));
        }
    }
    let more = found.len().saturating_sub(SHOWN);
    found.truncate(SHOWN);
    match (found.is_empty(), more) {
        (true, _) => "no power".to_owned(),
        (_, 0) => found.join("; "),
        _ => format!("{}; and {more} more", found.join("; ")),
    }
}
