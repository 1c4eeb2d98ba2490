//! SP-12: partial state without operating point.

use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-12"),
    title: "partial state without operating point",
    unit: Unit::Nothing,
    what: "Every state that is settled while a plane parts, and the one after it, has an operating point. Judged by `separate`.",
    why: "A network without one is a bus that collapses: what happens there is not computed.",
    source: "The network itself; no limit from outside.",
    remedy: "As the state shows: less demand on the source that is left, or another order.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        let row = &case.design.separations[event.separation];
        let subject = Subject::Phase(row.phase.value);
        out.judged(RULE.code, subject, []);
        if let Some(first) = event.unsettled.first() {
            let more = if event.unsettled.len() > 1 { format!(", and in {} more", event.unsettled.len() - 1) } else { String::new() };
            found(case, out, event, (RULE.code, subject, row.at), format!("no operating point with {first}{more}"));
        }
    }
}
