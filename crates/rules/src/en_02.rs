//! EN-02: buses as the charge runs down.

use crate::case::Missing;
use crate::energy::{Mission, clock, notes};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-02"),
    title: "bus band through the mission",
    unit: Unit::Volt,
    what: "Voltage of each bus against its return at every step of the mission and, with every pulse at its peak, at the beginning and end of each stretch: with the charge and \
           temperature that the batteries then have; within bus_min and bus_max of the limits profile.",
    why: "What a battery's row allows its voltage to be holds only while its charge and temperature stay where that was thought of.",
    source: "bus_min and bus_max of the limits profile, each with its source there.",
    remedy: "Under: a larger or warmer battery, fewer loads late in the mission. Over: take charge out of a fresh battery before it is connected (show budget says how much).",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    if mission.timeline.batteries.is_empty() {
        return;
    }
    let (design, profile) = (case.design, &case.design.profile);
    let mut rests_on: Vec<NoteId> = mission.timeline.batteries.iter().flat_map(|battery| notes(case, *battery)).collect();
    rests_on.sort_unstable();
    rests_on.dedup();
    for (id, bus) in design.inner_nodes.iter().filter(|(_, node)| node.is_bus) {
        let subject = Subject::Inner(id);
        let Some(column) = mission.timeline.buses.iter().position(|known| *known == id) else {
            if let Some(point) = mission.points.first() {
                out.not_judged(point, RULE.code, subject, bus.at, Missing::new("return", "its return is not stated"));
            }
            continue;
        };
        for (_, leg, point) in mission.legs() {
            let steps = leg.instants.iter().filter_map(|instant| Some((instant.at.0, instant.buses[column]?.0, false)));
            let peaks = leg.peaks.iter().filter(|peak| peak.settled).filter_map(|peak| Some((peak.at.0, peak.buses[column]?.0, true)));
            let all: Vec<(f64, f64, bool)> = steps.chain(peaks).collect();
            let (low, high) = (all.iter().min_by(|a, b| a.1.total_cmp(&b.1)), all.iter().max_by(|a, b| a.1.total_cmp(&b.1)));
            for (field, limit, bound, found) in
                [("bus_min", profile.bus_min, Bound::AtLeast, low), ("bus_max", profile.bus_max, Bound::AtMost, high)]
            {
                let Some(&(at, value, peak)) = found else { continue };
                let Some(limit) = limit else {
                    let why = format!("the limits profile states no {field}");
                    out.not_judged(point, RULE.code, subject, bus.at, Missing::new(field, why));
                    continue;
                };
                let left: Vec<String> = leg.instants.iter().rfind(|instant| instant.at.0 <= at).map_or(Vec::new(), |instant| {
                    let on = mission.timeline.batteries.iter().zip(&instant.batteries).filter(|(_, state)| state.on);
                    on.map(|(battery, state)| format!("{} at {:.0} %", design.batteries[*battery].name, 100.0 * state.left)).collect()
                });
                let loads = if peak { ", every pulse at its peak" } else { "" };
                let left = if left.is_empty() { String::new() } else { format!("; {}", left.join(", ")) };
                let text = format!("{} into the mission{loads}{left}", clock(at));
                out.push(point, Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound, at: bus.at, text }, || {
                    rests_on.iter().copied().chain(limit.note).collect()
                });
            }
        }
    }
}
