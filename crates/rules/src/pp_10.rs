//! PP-10: no conductor without protection.

use crate::{Case, Check, Faults, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-10"),
    title: "unprotected conductor",
    unit: Unit::Nothing,
    what: "Between the positive terminal of a battery or supply and every wire that it can feed, however switches and diodes stand, lies a breaker, fuse or limiter.",
    why: "A short of such a wire draws what the source can give until the wire is gone or the battery is empty.",
    source: "AC 43.13-1B CHG 1, par. 11-48 [read]; 14 CFR 25.1357 leaves out the main circuits of starters [from memory]: such a case is accepted as a disposition \
             with its reason.",
    remedy: "A fuse at the battery's terminal, inside its case; until then a disposition with the reason and the authority.",
    check: Check::Faults(check),
};

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    for fed in &faults.protection.wires {
        let subject = Subject::Element(ElementId::Wire(fed.wire));
        let burning = fed.largest.as_ref();
        let Some(point) = burning.map(|burning| faults.point_of(burning)).or(faults.any_point()) else { continue };
        match fed.unprotected_from {
            None => out.looked_at(RULE.code, subject),
            Some(source) => {
                let draws =
                    burning.map_or(String::new(), |burning| format!(": a short of it draws {}", crate::faults::amperes(burning.current)));
                let text = format!("no device lies between it and {}{draws}", design.element_words(ElementId::Source(source)));
                let severity = burning.map_or(0.0, |burning| burning.current.0);
                out.trouble(case, point, RULE.code, subject, severity, text);
            }
        }
    }
}
