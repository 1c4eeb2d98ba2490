//! EN-03: mean current of a battery.

use crate::case::Missing;
use crate::energy::{Mission, notes};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-03"),
    title: "mean current of a battery",
    unit: Unit::Ampere,
    what: "Mean current that a battery gives over each stretch of the mission between commands, with the charge that it then has, against its rating.",
    why: "Batteries side by side share by their voltages: the fullest gives most, and two that were thought alike do not stay so.",
    source: "The source's own rating; no limit from outside.",
    remedy: "Batteries of equal charge side by side, one more beside them, loads in other phases.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    for (column, &battery) in mission.timeline.batteries.iter().enumerate() {
        let subject = Subject::Element(ElementId::Source(battery));
        let row = &case.design.batteries[battery];
        let rests_on = notes(case, battery);
        mission.ended_early(case, RULE.code, subject, row.at, out);
        for (_, leg, point) in mission.legs() {
            let mut charge = 0.0;
            for pair in leg.instants.windows(2) {
                charge += 0.5 * (pair[1].at.0 - pair[0].at.0) * (pair[0].batteries[column].current.0 + pair[1].batteries[column].current.0);
            }
            let lasts = leg.to.0 - leg.from.0;
            if lasts <= 0.0 || charge <= 0.0 {
                continue;
            }
            match row.rating {
                None => out.not_judged(point, RULE.code, subject, row.at, Missing::new("rating", "its continuous rating is not stated")),
                Some(rating) => {
                    let text = format!("{:.2} Ah in {}", charge / 3600.0, crate::energy::clock(lasts));
                    let (value, limit) = (charge / lasts, rating.value.0);
                    let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: rating.at, text };
                    out.push(point, judged, || rests_on.iter().copied().chain(rating.note).collect());
                }
            }
        }
    }
}
