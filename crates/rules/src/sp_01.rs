//! SP-01: signal contact while a plane parts.

use crate::case::Missing;
use crate::separation::{margin, of_kind, signal_limit, state_words};
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-01"),
    title: "signal contact while a plane parts",
    unit: Unit::Ampere,
    what: "Greatest current in each contact of a signal, signal return or shield, in any state in which some contacts have parted and others have not, as the times and turns allow, with late steps and with a device of a step stuck: against the current that its wires declare, else signal_current of the separation. Judged by `separate`.",
    why: "A return that parts before its feed sends the whole load home through a signal return: it shifts what the unit takes for zero, and burns the thin wire.",
    source: "The declared current of the wire, or the separation's own signal_current: the programme's. No limit from outside.",
    remedy: "Feeds dead before anything parts; returns that part last; signal returns isolated from power returns inside the unit.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        for &(id, role) in &event.contacts {
            let (subject, at) = (Subject::Element(ElementId::Contact(id)), case.design.contacts[id].at);
            match role {
                ContactRole::NotKnown => {
                    let why = "no interface sheet says whether it carries power or a signal";
                    out.not_judged(RULE.code, subject, at, Missing::new("meaning", why));
                }
                ContactRole::Signal => match signal_limit(case, event, id) {
                    Err(missing) => out.not_judged(RULE.code, subject, at, missing),
                    Ok(limit) => {
                        out.judged(RULE.code, subject, []);
                        for worst in of_kind(event, move |target| target == Target::Current(id)) {
                            let text = state_words(case, event, worst);
                            let judged = Judged { rule: RULE.code, subject, value: worst.value, limit, bound: Bound::AtMost, at, text };
                            margin(case, out, event, judged);
                        }
                    }
                },
                ContactRole::Feed | ContactRole::Return => {}
            }
        }
    }
}
