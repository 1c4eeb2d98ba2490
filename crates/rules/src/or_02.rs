//! OR-02: firing switches with a bridge wire that has melted to a short circuit.

use crate::case::Missing;
use crate::ordnance::{fired, firing, switches_of};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-02"),
    title: "firing switch after firing",
    unit: Unit::Ampere,
    what: "Greatest current in each switch and relay on the way of an initiator that is commanded, with bridge wires melted to the other lead or to the \
           structure, each alone and all at once: against its rating_resistive. It flows until the command ends, and for good where a contact has welded.",
    why: "A fired bridge wire is often no gap but a short circuit. A contact that welds under it cannot be opened again.",
    source: "The part's own rating. Molten bridge wires of 1 mohm: common practice, no source. Range safety and certified procedures govern ordnance work.",
    remedy: "A ballast resistor, a contact of a higher rating, a limiter.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let firing = firing(case, point);
    if firing.is_empty() || point.scenario.corner == Corner::Typical {
        return;
    }
    let mut most: BTreeMap<Id<Switch>, (f64, String)> = BTreeMap::new();
    let mut unsettled: Option<String> = None;
    let mut switches: Vec<Id<Switch>> = firing.iter().flat_map(|initiator| switches_of(case, point, initiator)).collect();
    switches.sort_unstable();
    switches.dedup();
    for state in fired(case, point, out).iter() {
        for &id in &switches {
            match case.current(&state.point, ElementId::Switch(id)) {
                Some(Ok(current)) => {
                    let known = most.entry(id).or_insert((0.0, String::new()));
                    if current.abs() > known.0 {
                        *known = (current.abs(), format!("with {}", state.words));
                    }
                }
                Some(Err(_)) => unsettled = Some(state.words.clone()),
                None => {}
            }
        }
    }
    for id in switches {
        let (switch, element) = (&case.design.switches[id], ElementId::Switch(id));
        let subject = Subject::Element(element);
        let rating = switch.ratings.of(LoadKind::Resistive);
        let missing = match (&unsettled, rating) {
            (Some(words), _) => Some(Missing::new("operating point", format!("the network does not settle with {words}"))),
            (None, None) => Some(Missing::new("rating_resistive", "its rating_resistive is not stated")),
            _ => case.unknown_on_way(point, element),
        };
        match (missing, rating, most.get(&id)) {
            (Some(missing), ..) => out.not_judged(point, RULE.code, subject, switch.at, missing),
            (None, Some(rating), Some((value, text))) => {
                let (value, limit, text) = (*value, rating.value.0, text.clone());
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: switch.at, text }, || {
                    case.way_notes(point, element, &[]).into_iter().chain(rating.note).collect()
                });
            }
            _ => {}
        }
    }
}
