//! AM-02: breaker or fuse against the gauge of the wires behind it.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("AM-02"),
    title: "breaker against gauge",
    unit: Unit::Ampere,
    what: "Each copper wire that a breaker or fuse feeds, up to the next breaker, fuse, load, source or converter, is of a gauge for which the chart \
           named by protector_chart of the limits profile lists at least that rating. Wires of one group share the rating. A profile that \
           names no chart does not ask for it.",
    why: "A breaker protects the wire behind it, not the load: one that is rated above the wire lets it burn.",
    source: "Largest breaker and fuse by gauge: FAA AC 43.13-1B, table 11-3 [read; which value belongs to which gauge follows from their order]. \
             That wires of a group share it: common practice, no source.",
    remedy: "A smaller breaker or fuse, or a thicker wire.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let Some(chart) = &design.protector_chart else { return };
    let mut of_group: BTreeMap<&Name, u32> = BTreeMap::new();
    for (_, wire) in design.wires.iter() {
        if let Some(group) = &wire.group {
            *of_group.entry(&group.value).or_default() += 1;
        }
    }
    for (id, protector) in design.protectors.iter() {
        let words = design.element_words(ElementId::Protector(id));
        let fed = fed_by(case, id);
        let Some(rating) = protector.rating else {
            for wire in fed {
                let why = format!("{words} feeds it, and its rating is not stated");
                out.not_judged(RULE.code, subject(wire), design.wires[wire].at, Missing::new(format!("rating of {words}"), why));
            }
            continue;
        };
        for wire in fed {
            let row = &design.wires[wire];
            let Some(spec) = row.spec else {
                out.not_judged(RULE.code, subject(wire), row.at, Missing::new("gauge", "its gauge is TBD"));
                continue;
            };
            let gauge = design.wire_specs[spec.value].gauge;
            let line = chart.rows.iter().find(|line| line.gauge == gauge);
            let limit = line.and_then(|line| match protector.kind {
                ProtectorKind::Breaker => line.breaker,
                ProtectorKind::Fuse => line.fuse,
                // The chart knows none.
                ProtectorKind::Limiter => None,
            });
            let metal = design.wire_specs[spec.value].metal();
            let Some(limit) = limit.filter(|_| metal == physics::ampacity::Conductor::Copper) else {
                let why = format!("the chart {} does not list {words} for {} {gauge} AWG", chart.name.value, metal.word());
                out.not_judged(RULE.code, subject(wire), spec.at, Missing::new("gauge", why));
                continue;
            };
            let share = row.group.as_ref().and_then(|group| of_group.get(&group.value)).map_or(1, |n| *n);
            let together = if share > 1 { format!("{share} wires of ") } else { String::new() };
            let text = format!("{words} feeds it; the chart {} has {} A for {together}{gauge} AWG", chart.name.value, limit.value.0);
            let judged = Judged {
                rule: RULE.code,
                subject: subject(wire),
                value: rating.value.0,
                limit: limit.value.0 * f64::from(share),
                bound: Bound::AtMost,
                at: row.at,
                text,
            };
            let notes = [rating.note, limit.note, spec.note].into_iter().flatten();
            out.margin(judged, notes, vec![place(rating.at, "its rating"), place(limit.at, "the chart")]);
        }
    }
}

fn subject(wire: Id<Wire>) -> Subject {
    Subject::Element(ElementId::Wire(wire))
}

/// Wires that a protector feeds: what conducts from its load side on, in order of rows. Whatever draws or gives current ends the way, and so
/// does the zero of voltage.
fn fed_by(case: &Case, id: Id<Protector>) -> Vec<Id<Wire>> {
    use ElementId::*;
    let design = case.design;
    let Some(start) = case.prepared.node(design.protectors[id].load.value) else { return Vec::new() };
    let passes = |element: ElementId| {
        matches!(
            element,
            Wire(_)
                | Joint(..)
                | Shield(_)
                | Drain(_)
                | Strap(_)
                | StructurePath(_)
                | Contact(_)
                | Link(_)
                | FittedLink(_)
                | Switch(_)
                | Diode(_)
        )
    };
    let mut seen = vec![false; case.prepared.nodes()];
    seen[start.row()] = true;
    let mut open = vec![start];
    let mut wires = Vec::new();
    while let Some(node) = open.pop() {
        for &row in case.prepared.meeting(node) {
            let branch = &case.prepared.branches()[row as usize];
            if !passes(branch.element) {
                continue;
            }
            if let Wire(wire) = branch.element {
                wires.push(wire);
            }
            let next = if branch.from == node { branch.to } else { branch.from };
            if !std::mem::replace(&mut seen[next.row()], true) {
                open.push(next);
            }
        }
    }
    wires.sort_unstable();
    wires.dedup();
    wires
}
