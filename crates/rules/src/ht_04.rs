//! HT-04: where a zone has gas, its gravity is stated.

use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("HT-04"),
    title: "gravity of a zone",
    unit: Unit::Nothing,
    what: "In each phase in which a zone that segments lie in has gas, its gravity is stated, by the zone or by a climate. Where it is not, the heat \
           of the zone is computed without weight, so without convection by it.",
    why: "A cabin in orbit has air and no convection: a wire that is cool on the ground may be too hot there.",
    source: "No limit: what is asked is the input.",
    remedy: "gravity = 1 on the ground, gravity = 0 in free fall, the acceleration in units of standard gravity else.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, zone) in design.zones.iter() {
        let lies_in = |(segment, row): (Id<Segment>, &Segment)| {
            row.zone.is_some_and(|zone| zone.value == id) && !case.prepared.layout().members(segment).is_empty()
        };
        if !design.segments.iter().any(lies_in) {
            continue;
        }
        let has_gas = |climate: &Climate| climate.pressure.is_some_and(|pressure| pressure.value.0 > 0.0);
        let with_gas: Vec<Id<Phase>> = design.phases.ids().filter(|phase| has_gas(zone.climate(*phase))).collect();
        if with_gas.is_empty() {
            continue;
        }
        out.judged(RULE.code, Subject::Zone(id), []);
        let lacking = with_gas.into_iter().filter(|phase| zone.climate(*phase).gravity.is_none());
        let names: Vec<&str> = lacking.map(|phase| &*design.phases[phase].name).collect();
        if !names.is_empty() {
            let text = format!("it has gas, and its gravity is not stated: zero is used, in phase {}", names.join(", "));
            out.found(case, RULE.code, Subject::Zone(id), zone.at, text, Vec::new());
        }
    }
}
