//! EN-07: what has to be kept loses its power.

use crate::energy::{Mission, clock};
use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-07"),
    title: "power of what must be kept",
    unit: Unit::Nothing,
    what: "Every load that a function with must_keep needs, while it is on: fed, and not let go, of alternatives so many as it needs, at every step of the mission, with the charge and temperature that the batteries then have.",
    why: "A function that the vehicle comes home by ends with its last battery, whatever the plan says.",
    source: "must_keep of the function's own row; no limit from outside.",
    remedy: "A larger battery, loads of other functions off earlier, a second way to feed it.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    if mission.timeline.batteries.is_empty() {
        return;
    }
    let design = case.design;
    for (id, function) in design.functions.iter().filter(|(_, function)| function.must_keep) {
        let subject = Subject::Function(id);
        out.looked_at(RULE.code, subject);
        mission.ended_early(case, RULE.code, subject, function.at, out);
        for (_, leg, point) in mission.legs() {
            let unfed = |need: &Need| match need {
                Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => {
                    leg.unfed.iter().find(|(unfed, _)| unfed == load)
                }
                _ => None,
            };
            // Of alternatives one is enough.
            if !function.need.worst(&mut |need| unfed(need).is_some()) {
                continue;
            }
            for (load, since) in function.need.leaves().into_iter().filter_map(unfed) {
                let empty: Vec<String> = mission
                    .timeline
                    .batteries
                    .iter()
                    .enumerate()
                    .filter_map(|(column, battery)| {
                        let last = leg.instants.last()?.batteries[column];
                        (!last.on).then(|| format!("{} at {:.0} %", design.batteries[*battery].name, 100.0 * last.left))
                    })
                    .collect();
                let off = if empty.is_empty() { String::new() } else { format!("; gives nothing: {}", empty.join(", ")) };
                let words = design.element_words(ElementId::Load(*load));
                let text = format!("{words} has no power {} into the mission{off}", clock(since.0));
                // The earlier, the graver.
                out.trouble(case, point, RULE.code, subject, -since.0, text);
            }
        }
    }
}
