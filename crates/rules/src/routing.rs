//! Words that rules about routes have in common.

use analysis::Prepared;
use analysis::layout::{Barrier, Break};
use model::*;

/// A few of some rows by name, and how many more there are.
pub(crate) fn listed<T: Copy>(rows: &[T], name: impl Fn(T) -> String) -> String {
    const SHOWN: usize = 3;
    let mut words: Vec<String> = rows.iter().take(SHOWN).map(|row| name(*row)).collect();
    if rows.len() > SHOWN {
        words.push(format!("{} more", rows.len() - SHOWN));
    }
    match words.pop() {
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} and {last}", words.join(", ")),
        None => String::new(),
    }
}

/// Ends of a wire that are at no breakout.
pub fn ends_without_breakout(design: &Design, wire: Id<Wire>, sides: &[Side]) -> String {
    let row = &design.wires[wire];
    let end = |side: &Side| design.end_name(if *side == Side::From { row.from.value } else { row.to.value });
    sides.iter().map(end).collect::<Vec<_>>().join(" nor ")
}

/// Why a segment is closed to a wire: `does not admit class power`.
pub fn barrier_words(prepared: &Prepared, wire: Id<Wire>, segment: Id<Segment>, why: Barrier) -> String {
    let design = prepared.design();
    let first = |is_it: &dyn Fn(Id<Wire>) -> bool| {
        let found = prepared.layout().members(segment).iter().copied().find(|wire| is_it(*wire));
        found.map_or(String::new(), |wire| format!(" ({})", design.wires[wire].name))
    };
    match why {
        Barrier::NotAdmitted => match design.class_of(wire) {
            Some(class) => format!("does not admit class {}", design.class_name(class.value)),
            None => "lists what it admits, and the wire has no class".to_owned(),
        },
        Barrier::Class(class) => {
            let with = first(&|wire| design.class_of(wire).is_some_and(|own| own.value == class));
            format!("holds class {}{with}", design.class_name(class))
        }
        Barrier::Circuit(circuit) => {
            let with = first(&|wire| design.wires[wire].circuit.is_some_and(|own| own.value == circuit));
            format!("holds circuit {}{with}", design.circuits[circuit].name)
        }
        Barrier::Full { room, used, needs } => {
            let mm2 = |area: physics::SquareMetre| area.0 * 1e6;
            format!("has room for {:.1} mm², {:.1} mm² are taken and {:.1} mm² needed", mm2(room), mm2(used), mm2(needs))
        }
    }
}

/// Where the path of a wire breaks.
pub fn break_words(prepared: &Prepared, wire: Id<Wire>, told: &Break) -> String {
    let design = prepared.design();
    let point = |id: Id<BranchPoint>| &design.branch_points[id].name;
    let row = &design.wires[wire];
    let [from, to] = [row.from.value, row.to.value].map(|end| design.breakout_of(end).map_or("nowhere", |at| point(at.value)));
    let mut text = format!("no way from breakout {from} to {to}");
    if told.remaining.is_none() && told.closed.is_empty() {
        text += &format!(": no segments lead on from what {} reaches", point(told.shut_in));
        return text;
    }
    text += &match told.shut_in == told.at {
        true => format!(": no segment at {} takes it", point(told.at)),
        false => format!(": from {} it gets as far as {}", point(told.shut_in), point(told.at)),
    };
    if let Some(left) = told.remaining.filter(|left| left.0 > 0.0) {
        text += &format!(", {:.2} m from the other end", left.0);
    }
    // Segments closed for one reason are told together.
    let mut reasons: Vec<(String, Vec<Id<Segment>>)> = Vec::new();
    for (segment, why) in &told.closed {
        let words = barrier_words(prepared, wire, *segment, *why);
        match reasons.iter_mut().find(|(known, _)| *known == words) {
            Some((_, segments)) => segments.push(*segment),
            None => reasons.push((words, vec![*segment])),
        }
    }
    for (words, segments) in &reasons {
        let names = listed(segments, |segment| design.segments[segment].name.to_string());
        let of = if segments.len() > 1 { "each of segments" } else { "segment" };
        text += &format!("; {of} {names} {words}");
    }
    if told.even_alone { text + "; no other wire is in its way" } else { text }
}
