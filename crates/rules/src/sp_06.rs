//! SP-06: one reference in each half.

use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-06"),
    title: "one reference in each half",
    unit: Unit::Nothing,
    what: "After everything has parted: each part of the network that a source drives and in which a load works has one bond to structure, by one ground point. Judged by `separate`.",
    why: "A half without a reference floats to wherever leakage takes it; one with two carries current in its structure.",
    source: "Single-point ground: common practice, no source.",
    remedy: "A relay that bonds the half's returns to its structure before the plane parts.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        for half in &event.halves {
            let Some(&first) = half.sources.first() else { continue };
            let (subject, at) = (Subject::Element(first), case.source_at(first));
            out.judged(RULE.code, subject, []);
            let grounds: Vec<String> = half.grounds.iter().map(|id| case.design.end_name(End::Ground(*id))).collect();
            let text = match half.bonds {
                1 => continue,
                0 => format!("its half has no bond to a ground point after the parting, and {} loads work in it", half.loads),
                n => format!("its half has {n} bonds to structure after the parting, at {}", grounds.join(", ")),
            };
            found(case, out, event, (RULE.code, subject, at), text);
        }
    }
}
