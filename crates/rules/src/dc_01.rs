//! DC-01: declared against computed current of a wire.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("DC-01"),
    title: "declared against computed current",
    unit: Unit::Ampere,
    what: "For each wire that states a current and lies between modelled elements: its current in the typical corner is in no phase more than \
           wire_current_difference of the limits profile above the declared one, and in some phase no more than that below it. All other \
           rules go by the computed current.",
    why: "Two documents that give the same wire different currents: one of them chose its gauge and its breaker.",
    source: "wire_current_difference of the limits profile; common practice, no source.",
    remedy: "Correct the wire list, or the load that it was made for.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if point.scenario.corner != Corner::Typical || case.design.wires.iter().all(|(_, wire)| wire.current.is_none()) {
        return;
    }
    let carries = case.prepared.leads_to_elements();
    let open_loads = case.open_loads(point);
    for (id, wire) in case.design.wires.iter() {
        let (Some(declared), true) = (wire.current, carries[id]) else { continue };
        let element = ElementId::Wire(id);
        let subject = Subject::Element(element);
        let Some(current) = case.current(point, element) else { continue };
        let difference = case.design.profile.wire_current_difference;
        let missing = || Missing::new("wire_current_difference", "the limits profile states no wire_current_difference");
        let judged = current.and_then(|current| Ok((current.abs(), difference.ok_or_else(missing)?)));
        let judged = judged.and_then(|judged| case.unknown_on_way(point, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, wire.at, missing),
            Ok((value, share)) => {
                let notes = || {
                    let mut notes = case.way_notes(point, element, &open_loads);
                    notes.extend(declared.note);
                    notes.extend(share.note);
                    notes
                };
                let text = || format!("declared {} A", declared.value.0);
                let (at, limit) = (declared.at, declared.value.0 * (1.0 + share.value.0));
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text: text() }, notes);
                let limit = declared.value.0 * (1.0 - share.value.0);
                out.push_best(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at, text: text() }, notes);
            }
        }
    }
}
