//! SP-03: last contact while a plane parts.

use crate::separation::{margin, of_kind, state_words};
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-03"),
    title: "last contact while a plane parts",
    unit: Unit::Ampere,
    what: "Greatest current in each contact of power in any state in which others beside it have parted, as the times and turns allow, with late steps and with a device of a step stuck: against the test current of the contact with its wire, not derated, since it lasts for the parting. Judged by `separate`.",
    why: "Of several contacts side by side the last one to part carries the current of all of them, and draws the arc.",
    source: "Test current of the contact size: catalog, with its source there. That it is not derated for the parting: common practice, no source.",
    remedy: "The feed dead first; contacts that each carry the whole.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    if table.events.is_empty() {
        return;
    }
    let wiring = Wiring::new(case.design, case.prepared);
    for event in &table.events {
        for &(id, _) in event.contacts.iter().filter(|(_, role)| matches!(role, ContactRole::Feed | ContactRole::Return)) {
            let (subject, at) = (Subject::Element(ElementId::Contact(id)), case.design.contacts[id].at);
            match crate::contact::rating(case.design, &wiring, id) {
                Err(missing) => out.not_judged(RULE.code, subject, at, missing),
                Ok(rating) => {
                    out.judged(RULE.code, subject, rating.notes());
                    for worst in of_kind(event, move |target| target == Target::Current(id)) {
                        let (value, limit, text) = (worst.value, rating.test.value.0, state_words(case, event, worst));
                        margin(case, out, event, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text });
                    }
                }
            }
        }
    }
}
