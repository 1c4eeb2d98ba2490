//! RT-06: holes and clamps are not overfilled.

use crate::case::Missing;
use crate::routing::listed;
use crate::worst::Judged;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use physics::{Metre, bundle};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-06"),
    title: "fill of holes and clamps",
    unit: Unit::Percent,
    what: "Area of the wires in a hole or clamp as a share of its opening; a wire that doubles back counts twice. Free wires are routed so that \
           it holds; a wire with `via` lies where it is put and is judged here.",
    why: "A hole that is full cannot be threaded, and a clamp that is full crushes what it holds.",
    source: "`fill` of the limits profile, with its source.",
    remedy: "A larger hole or clamp, or another way for some of the wires.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, row) in design.clamps.iter().filter(|(_, row)| row.kind != ClampKind::Tie) {
        let subject = Subject::Clamp(id);
        let Some(fill) = design.profile.fill else {
            out.not_judged(RULE.code, subject, row.at, Missing::new("fill", "the limits profile states no fill"));
            continue;
        };
        let Some(bore) = row.bore else {
            out.not_judged(RULE.code, subject, row.at, Missing::new("bore", "the diameter of its opening is not stated"));
            continue;
        };
        let members = case.prepared.layout().members(row.segment.value);
        let size = |wire: Id<Wire>| design.wire_specs[design.wires[wire].spec?.value].diameter;
        let bare: Vec<Id<Wire>> = members.iter().copied().filter(|wire| size(*wire).is_none()).collect();
        if !bare.is_empty() {
            let why = format!("no outside diameter is known of {}", listed(&bare, |wire| design.wires[wire].name.to_string()));
            out.not_judged(RULE.code, subject, row.at, Missing::new("od", why));
            continue;
        }
        let passes = |wire: Id<Wire>| {
            let run = case.prepared.layout().run(wire);
            run.map_or(0, |run| run.segments.iter().filter(|segment| **segment == row.segment.value).count())
        };
        let diameters: Vec<Metre> =
            members.iter().flat_map(|&wire| std::iter::repeat_n(size(wire).map_or(Metre(0.0), |d| d.value), passes(wire))).collect();
        let value = bundle::fill(&diameters, bore.value).0 * 100.0;
        let text = format!("{} wires in segment {}", members.len(), design.segments[row.segment.value].name);
        let limit = fill.value.0 * 100.0;
        let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: row.at, text };
        let notes = members.iter().filter_map(|wire| size(*wire)?.note).chain(bore.note).chain(fill.note);
        out.margin(judged, notes, Vec::new());
    }
}
