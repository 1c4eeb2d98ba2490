//! SP-04: reference of a unit while a plane parts.

use crate::case::Missing;
use crate::separation::{margin, of_kind, state_words};
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-04"),
    title: "reference of a unit while a plane parts",
    unit: Unit::Volt,
    what: "Greatest voltage between the return of each load that works and the ground of its half, in any state in which some contacts have parted and others have not: at most reference_shift of the separation. A half without a ground of its own counts against the declared reference. Judged by `separate`.",
    why: "A unit whose zero moves by volts takes wrong levels for commands, and what is tied to it is driven by the difference.",
    source: "The separation's own reference_shift: the programme's. No limit from outside.",
    remedy: "Returns that part last, feeds dead first, a ground of its own in each half before anything parts.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        let row = &case.design.separations[event.separation];
        for worst in of_kind(event, |target| matches!(target, Target::Shift(_))) {
            let Target::Shift(load) = worst.target else { continue };
            let (subject, at) = (Subject::Element(ElementId::Load(load)), case.design.loads[load].at);
            match row.reference_shift {
                None => {
                    let why = format!("separation {} states no reference_shift", row.name);
                    out.not_judged(RULE.code, subject, at, Missing::new("reference_shift", why));
                }
                Some(limit) => {
                    out.judged(RULE.code, subject, limit.note);
                    let (value, text) = (worst.value, state_words(case, event, worst));
                    let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at, text };
                    margin(case, out, event, judged);
                }
            }
        }
    }
}
