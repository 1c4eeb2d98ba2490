//! OR-04: inhibits of an initiator.

use crate::case::Missing;
use crate::ordnance::stray_limit;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-04"),
    title: "inhibits of an initiator",
    unit: Unit::Inhibits,
    what: "In each phase in which an initiator is not commanded: the number of open switches, relays, breakers, fuses, contacts and plugs on the way from any source \
           to its bridge wire and back that has the fewest of them, either way round; a source that is off is one more. At least the number that its row requires, \
           and at least one of them in the return. What lets less than the stray limit through (the lower of stray_current and stray_share of no_fire) is no way. \
           Each element counts once; what commands two of them together is not known here.",
    why: "A charge that goes off by itself is lost with everything near it. Each inhibit is one failure more that has to happen first; one in the return stops a wire \
          that touches power.",
    source: "The required number: the programme's. An inhibit in the return: common practice, no source. Range safety and certified procedures govern ordnance work.",
    remedy: "One switch more in series, one of them in the return, a safe plug, another order of commands.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    // Which switches are open hangs on the phase alone; the high corner has the greatest voltage.
    if point.scenario.corner != Corner::High {
        return;
    }
    for (_, initiator) in design.initiators.iter().filter(|(_, initiator)| point.load_state[initiator.load.value] == LoadState::Off) {
        let subject = Subject::Element(ElementId::Load(initiator.load.value));
        let required = initiator.inhibits.ok_or_else(|| Missing::new("inhibits", "the number of inhibits that it requires is not stated"));
        let (required, least) = match required.and_then(|required| Ok((required, stray_limit(case, initiator)?))) {
            Ok(known) => known,
            Err(missing) => {
                out.not_judged(point, RULE.code, subject, initiator.at, missing);
                continue;
            }
        };
        let Some(found) = case.prepared.inhibits(&point.scenario, initiator.load.value, least.value) else { continue };
        let words = |list: &[ElementId]| match list {
            [] => "none".to_owned(),
            list => list.iter().map(|element| design.element_words(*element)).collect::<Vec<_>>().join(", "),
        };
        let text = format!("initiator {}: in the feed {}; in the return {}", initiator.name, words(&found.feed), words(&found.back));
        if required.value > 0 && found.in_return == Some(0) {
            let text = format!(
                "no inhibit in the return of initiator {}; on the way with the fewest {} in the feed",
                initiator.name,
                words(&found.feed)
            );
            out.trouble(case, point, RULE.code, subject, f64::from(required.value), text);
            continue;
        }
        let (value, limit) = (found.count() as f64, f64::from(required.value));
        let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at: initiator.at, text };
        out.push(point, judged, || least.note.into_iter().collect());
    }
}
