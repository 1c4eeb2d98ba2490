//! SN-02: a load energised while it is commanded off.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SN-02"),
    title: "load energised while commanded off",
    unit: Unit::Ampere,
    what: "In each phase and one permitted action away from it: the current in each load of which a switch named under switched_by is open, at most its off_current. Loads so \
           commanded hang on their lines, open switches leak what their rows say, and the high corner decides. What brings it is named: by feeds of others (power dome), by returns of \
           others (ground dome), by both or through another load (combined), or from another source (cross tie).",
    why: "A valve, a motor or a relay that works while it is commanded off is a command that nobody gave.",
    source: "off_current and leakage: the sheets of load and switch. The four patterns: sneak circuit analysis, common practice, from memory.",
    remedy: "A diode, a return of its own, a lamp on a contact of its own, a switch that opens both sides.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if point.scenario.corner != Corner::High || case.design.loads.iter().all(|(_, load)| load.switched_by.is_empty()) {
        return;
    }
    let states = crate::sneak::states(case, point, out);
    let mut meant = None;
    for (id, load) in case.design.loads.iter().filter(|(_, load)| !load.switched_by.is_empty()) {
        let element = ElementId::Load(id);
        if case.prepared.branch_of(element).is_none() {
            continue;
        }
        let subject = Subject::Element(element);
        let off = states.iter().filter(|state| state.off.contains(&id));
        let (worst, missing) = crate::sneak::greatest(case, off, element, f64::abs);
        if let Some(missing) = missing {
            out.not_judged(point, RULE.code, subject, load.at, missing);
        }
        let Some((value, state)) = worst else { continue };
        let Some(limit) = load.off_current else {
            let missing = Missing::new("off_current", "the current that leaves it off is not stated");
            out.not_judged(point, RULE.code, subject, load.at, missing);
            continue;
        };
        let by = if crate::passes(value, limit.value.0, Bound::AtMost) {
            String::new()
        } else {
            let (on, meant) = meant.get_or_insert_with(|| crate::sneak::meant(case, point));
            let way = case.prepared.trace(&state.point, element);
            let pattern = analysis::pattern(&case.prepared.trace(on, element), &way, meant);
            let names: Vec<String> = way.feed.iter().map(|step| case.design.element_words(step.element)).collect();
            let back: Vec<String> = way.back.iter().map(|step| case.design.element_words(step.element)).collect();
            format!(", by a {}: {} | {}", pattern.word(), names.join(" "), back.join(" "))
        };
        let text = format!("{}{by}", state.words);
        let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at: load.at, text };
        out.push(point, judged, || limit.note.into_iter().collect());
    }
}
