//! EN-06: current into a battery that cannot be charged.

use crate::energy::{Mission, clock};
use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

/// A current into a battery that is worth a word, A.
///
/// # Source  Common practice, no source: what a diode leaks and what rounding leaves is less.
pub(crate) const COUNTS: f64 = 0.01;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-06"),
    title: "charge current into a primary battery",
    unit: Unit::Nothing,
    what: "Each battery whose type cannot be charged: no current above 10 mA flows into it at any step of the mission, nor with every pulse at its peak. A battery side by side with a fuller one, or \
           with a supply above its voltage, is charged by it.",
    why: "A primary cell that is charged makes gas: it leaks, bursts or burns. Nothing else that this program finds in a battery is as grave.",
    source: "Makers' cautions for primary cells; that 10 mA count: common practice, no source. The governing standard of the programme for batteries counts.",
    remedy: "A blocking diode in each battery's lead, a contactor that joins them only when they are equal, charge taken out of the fuller one first, a supply below the least battery voltage.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    let design = case.design;
    if mission.timeline.batteries.is_empty() {
        return;
    }
    mission.lacking(case, RULE.code, out);
    for (column, &battery) in mission.timeline.batteries.iter().enumerate() {
        let subject = Subject::Element(ElementId::Source(battery));
        let row = &design.batteries[battery];
        let Some(cells) = &row.cells else { continue };
        let kind = &design.battery_types[cells.kind.value];
        out.looked_at(RULE.code, subject);
        if kind.curve.recharges {
            continue;
        }
        mission.ended_early(case, RULE.code, subject, row.at, out);
        for (_, leg, point) in mission.legs() {
            let steps = leg.instants.iter().map(|instant| (instant.at.0, instant.batteries[column].current.0));
            let peaks = leg.peaks.iter().filter(|peak| peak.settled).map(|peak| (peak.at.0, peak.currents[column].0));
            let worst = steps.chain(peaks).min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((at, current)) = worst.filter(|(_, current)| *current < -COUNTS) else { continue };
            let others: Vec<String> = leg.instants.iter().rfind(|instant| instant.at.0 <= at).map_or(Vec::new(), |instant| {
                let giving = mission.timeline.batteries.iter().zip(&instant.batteries).filter(|(_, state)| state.current.0 > COUNTS);
                giving.map(|(other, state)| format!("{} at {:.0} %", design.batteries[*other].name, 100.0 * state.left)).collect()
            });
            let own = leg.instants.iter().rfind(|instant| instant.at.0 <= at).map_or(0.0, |instant| 100.0 * instant.batteries[column].left);
            let from = if others.is_empty() { "supplies".to_owned() } else { others.join(" and ") };
            let text = format!(
                "{:.2} A flow into it, a primary battery of type {} at {own:.0} % of its charge, while {from} give, {} into the mission: it may leak or burst",
                -current,
                kind.name,
                clock(at)
            );
            out.trouble(case, point, RULE.code, subject, -current, text);
        }
    }
}
