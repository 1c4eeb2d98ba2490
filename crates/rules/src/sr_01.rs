//! SR-01: current of a source in continuous duty.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst, sr_02};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SR-01"),
    title: "current of a source, continuous",
    unit: Unit::Ampere,
    what: "Current that each battery and supply gives at the settled point with all intermittent loads off, against its rating.",
    why: "A battery drained faster than it is made for heats, sags and ages; a supply shuts down.",
    source: "The source's own rating; no limit from outside.",
    remedy: "Loads moved to another source or phase, another source in parallel.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if case.design.batteries.is_empty() {
        return;
    }
    let continuous = sr_02::has_intermittent(case, point)
        .then(|| case.changed(point, out, |_, load| (load.duty.value == Duty::Intermittent).then_some(LoadChange::Off)));
    let point_judged = continuous.as_ref().unwrap_or(point);
    let open_loads = case.open_loads(point_judged);
    for (id, source) in case.design.batteries.iter() {
        let element = ElementId::Source(id);
        let subject = Subject::Element(element);
        let Some(given) = sr_02::gives(case, point_judged, id) else { continue };
        let judged = given.and_then(|given| {
            let rating = source.rating.ok_or_else(|| Missing::new("rating", "its continuous rating is not stated"))?;
            Ok((given, rating))
        });
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, source.at, missing),
            Ok((value, rating)) => {
                let text = if continuous.is_some() { "with intermittent loads off".to_owned() } else { String::new() };
                let (limit, at) = (rating.value.0, rating.at);
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text }, || {
                    let mut notes = sr_02::source_notes(case, point_judged, id, &open_loads);
                    notes.extend(rating.note);
                    notes
                });
            }
        }
    }
}
