//! SP-02: feed without a return of its own while a plane parts.

use crate::case::Missing;
use crate::separation::{margin, of_kind, state_words};
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-02"),
    title: "feed without a return of its own while a plane parts",
    unit: Unit::Ampere,
    what: "Greatest current in each feed contact in the states in which every return of its circuit has parted: it comes back by something else. At most signal_current of the separation. A feed is a contact of power that is live while everything is mated and no step is done. Judged by `separate`.",
    why: "Current that has lost its return finds another one: a signal, a shield, the structure, another unit.",
    source: "The separation's own signal_current: the programme's. No limit from outside.",
    remedy: "The feed dead first, or its contacts short and those of its return long.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        let row = &case.design.separations[event.separation];
        for &(id, _) in event.contacts.iter().filter(|(_, role)| *role == ContactRole::Feed) {
            let (subject, at) = (Subject::Element(ElementId::Contact(id)), case.design.contacts[id].at);
            match row.signal_current {
                None => {
                    let why = format!("separation {} states no signal_current", row.name);
                    out.not_judged(RULE.code, subject, at, Missing::new("signal_current", why));
                }
                Some(limit) => {
                    out.judged(RULE.code, subject, limit.note);
                    for worst in of_kind(event, move |target| target == Target::Alone(id)) {
                        let (value, text) = (worst.value, state_words(case, event, worst));
                        let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at, text };
                        margin(case, out, event, judged);
                    }
                }
            }
        }
    }
}
