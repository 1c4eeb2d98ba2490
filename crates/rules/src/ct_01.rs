//! CT-01: current in a contact.

use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CT-01"),
    title: "current in a contact",
    unit: Unit::Ampere,
    what: "Current in each mated contact at the settled point, in every phase and corner, against the test current of its size, \
           kind and wire times the derating of the limits profile. The wire that decides is the thickest on each half, and of both \
           halves the thinner; a wire thinner than all that are listed takes the last row. `show connectors` counts the contacts of each \
           connector above 80 % of their limit.",
    why: "A contact is cooled through its wire: with a thinner wire it carries less, in a hermetic shell less again, and in vacuum no \
          air helps.",
    source: "Test currents by size and gauge: AS39029 / MIL-DTL-38999 [from memory]. Derating: contact_derating of the limits profile; \
             EEE-INST-002 section C2 and ECSS-Q-ST-30-11C give 50 % [from memory]. Not all contacts at their rating at once: NAVSEA SD-18, \
             connector derating [read]; 80 %: common practice, no source.",
    remedy: "A larger contact or wire, a crimp contact for a hermetic one, the current shared by several contacts (PP-01), less load.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if case.design.contacts.is_empty() {
        return;
    }
    let ratings = out.contact_ratings(case);
    for id in case.design.contacts.ids() {
        let element = ElementId::Contact(id);
        let subject = Subject::Element(element);
        let at = case.design.pins[case.design.contacts[id].a].at;
        let Some(current) = case.current(point, element) else { continue };
        let judged = current.and_then(|current| Ok((current, ratings[id].as_ref().map_err(Clone::clone)?)));
        let judged = judged.and_then(|judged| case.unknown_on_way(point, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, at, missing),
            Ok((current, rating)) => {
                let (value, limit, text) = (current.abs(), rating.limit(), rating.text.clone());
                let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text };
                out.push_along(point, judged, element, || rating.notes().collect());
            }
        }
    }
}
