//! OR-05: stray current in an initiator under any single fault.

use crate::case::Missing;
use crate::ordnance::stray_limit;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-05"),
    title: "stray current under a single fault",
    unit: Unit::Ampere,
    what: "In each phase in which an initiator is not commanded, in every corner: the greatest current in its bridge wire without a fault and with each single fault of the \
           catalogue that touches its circuit, its bridge wire hanging where it hangs and all other initiators that are off as well: at most the lower of stray_current and \
           stray_share of no_fire. What is sought is a current that lasts: devices that open on it are not waited for. Judged by `separate`.",
    why: "One chafed wire must not fire a charge.",
    source: "The lower of 50 mA and a tenth of no-fire, as the profile states it with its source; no_fire: the initiator's own sheet. Range safety and certified procedures govern \
             ordnance work.",
    remedy: "An inhibit in the return, a shorting or safe plug, a shield, runs and connectors of its own, a bleeder.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for row in &table.stray {
        let initiator = &design.initiators[row.initiator];
        let subject = Subject::Element(ElementId::Load(initiator.load.value));
        match stray_limit(case, initiator) {
            Err(missing) => out.not_judged(RULE.code, subject, initiator.at, missing),
            Ok(limit) => {
                let phase = &design.phases[row.phase].name;
                let by = match &row.fault {
                    None => "without a fault".to_owned(),
                    Some(fault) => format!("{} {}", design.subject_words(fault.item), fault.kind.mode()),
                };
                let text = format!("in phase {phase}, {} corner: {by}; without a fault {:.2e} A", row.corner.word(), row.without);
                let (value, at) = (row.current, initiator.at);
                let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at, text };
                out.margin(judged, limit.note, vec![place(limit.at, "the limit")]);
                if row.unsettled > 0 {
                    let why = format!("{} faults leave no operating point in phase {phase}, {} corner", row.unsettled, row.corner.word());
                    out.not_judged(RULE.code, subject, initiator.at, Missing::new("operating point", why));
                }
            }
        }
    }
}
