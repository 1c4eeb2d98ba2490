//! RT-05: circuits that must not meet share no segment.

use crate::case::Missing;
use crate::papers::place;
use crate::routing::listed;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use analysis::layout::Place;
use model::*;
use std::collections::{BTreeMap, BTreeSet};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-05"),
    title: "circuits apart",
    unit: Unit::Nothing,
    what: "No segment holds wires of two circuits of which one lists the other under `not_with`. Free wires are routed so; a wire with `via` \
           lies where it is put and is judged here.",
    why: "Two redundant feeds in one bundle are one feed: the same chafed clamp or fire takes both.",
    source: "The circuits themselves. FAA AC 43.13-1B, par. 11-235: redundant functions on separate runs [read].",
    remedy: "Another way for one of the two: a `via`, or a segment more.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let layout = case.prepared.layout();
    if design.segments.is_empty() || design.circuits.iter().all(|(_, circuit)| circuit.not_with.is_empty()) {
        return;
    }
    let mut segments: BTreeMap<Id<Circuit>, BTreeSet<Id<Segment>>> = BTreeMap::new();
    let mut unlaid: BTreeMap<Id<Circuit>, Vec<Id<Wire>>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        let Some(circuit) = wire.circuit.map(|circuit| circuit.value) else { continue };
        match layout.place(id) {
            Place::Laid(run) => segments.entry(circuit).or_default().extend(&run.segments),
            Place::NoBreakout(_) | Place::Broken(_) => unlaid.entry(circuit).or_default().push(id),
            Place::NoMap | Place::Stowed => {}
        }
    }
    for (id, row) in design.circuits.iter().filter(|(_, row)| !row.not_with.is_empty()) {
        let subject = Subject::Circuit(id);
        let both = row.not_with.iter().map(|other| other.value).chain([id]);
        let missing: Vec<Id<Wire>> = both.filter_map(|circuit| unlaid.get(&circuit)).flatten().copied().collect();
        match missing.is_empty() {
            true => out.judged(RULE.code, subject, []),
            false => {
                let name = |wire: Id<Wire>| design.wires[wire].name.to_string();
                out.not_judged(
                    RULE.code,
                    subject,
                    row.at,
                    Missing::new("route", format!("no route is known of {}", listed(&missing, name))),
                );
            }
        }
        for other in &row.not_with {
            let (Some(own), Some(others)) = (segments.get(&id), segments.get(&other.value)) else { continue };
            let shared: Vec<Id<Segment>> = own.intersection(others).copied().collect();
            if shared.is_empty() {
                continue;
            }
            let name = |segment: Id<Segment>| design.segments[segment].name.to_string();
            let [mine, theirs] = [id, other.value].map(|circuit| first_of(case, shared[0], circuit));
            let text = format!(
                "with circuit {} it shares {} {}: there lie {mine} and {theirs}",
                design.circuits[other.value].name,
                if shared.len() == 1 { "segment" } else { "segments" },
                listed(&shared, name)
            );
            if !missing.is_empty() {
                out.judged(RULE.code, subject, []);
            }
            out.found(case, RULE.code, subject, other.at, text, vec![place(design.segments[shared[0]].at, "the segment")]);
        }
    }
}

fn first_of(case: &Case, segment: Id<Segment>, circuit: Id<Circuit>) -> String {
    let is_of = |wire: &&Id<Wire>| case.design.wires[**wire].circuit.is_some_and(|own| own.value == circuit);
    let first = case.prepared.layout().members(segment).iter().find(is_of);
    first.map_or(String::new(), |wire| case.design.wires[*wire].name.to_string())
}
