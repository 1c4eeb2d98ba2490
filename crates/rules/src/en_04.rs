//! EN-04: peak current of a battery.

use crate::case::Missing;
use crate::energy::{Mission, clock, notes};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-04"),
    title: "peak current of a battery",
    unit: Unit::Ampere,
    what: "Current that a battery gives with every pulse at its peak, at the beginning and end of each stretch of the mission between commands, with the charge and temperature \
           that the batteries then have, against its peak rating.",
    why: "Late in the mission constant powers draw more from less voltage, and of batteries side by side the fuller one gives most of a peak.",
    source: "The source's own peak; no limit from outside.",
    remedy: "Loads that take turns, batteries of equal charge, one more beside them.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    for (column, &battery) in mission.timeline.batteries.iter().enumerate() {
        let subject = Subject::Element(ElementId::Source(battery));
        let row = &case.design.batteries[battery];
        let rests_on = notes(case, battery);
        for (_, leg, point) in mission.legs() {
            let most = leg.peaks.iter().filter(|peak| peak.settled).max_by(|a, b| a.currents[column].0.total_cmp(&b.currents[column].0));
            let Some((at, value)) = most.map(|peak| (peak.at.0, peak.currents[column].0)).filter(|(_, amperes)| *amperes > 0.0) else {
                continue;
            };
            match row.peak {
                None => out.not_judged(point, RULE.code, subject, row.at, Missing::new("peak", "its peak rating is not stated")),
                Some(peak) => {
                    let text = format!("{} into the mission", clock(at));
                    let judged = Judged { rule: RULE.code, subject, value, limit: peak.value.0, bound: Bound::AtMost, at: peak.at, text };
                    out.push(point, judged, || rests_on.iter().copied().chain(peak.note).collect());
                }
            }
        }
    }
}
