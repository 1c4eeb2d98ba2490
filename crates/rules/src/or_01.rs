//! OR-01: current that fires an initiator.

use crate::case::Missing;
use crate::ordnance::firing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-01"),
    title: "firing current of an initiator",
    unit: Unit::Ampere,
    what: "Current in the bridge wire of each initiator that is commanded, with all that are commanded with it in the phase: at least its all-fire \
           current times firing_margin of the profile. The low corner decides: lowest source, warmest copper, contacts at their limit, and here every \
           bridge wire at its greatest resistance. The current is the settled one; that it lasts for the all-fire time is the command's to give.",
    why: "An initiator that gets too little current heats and does not fire, and then nothing parts.",
    source: "All-fire current and its time: the initiator's own sheet. firing_margin: the programme's, none is assumed. Range safety and certified \
             procedures govern ordnance work.",
    remedy: "Less resistance in the loop, thicker wire, fewer that fire at once, a stiffer source.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let margin = case.design.profile.ordnance.firing_margin;
    let firing = firing(case, point);
    if firing.is_empty() {
        return;
    }
    let least = (point.scenario.corner == Corner::Low).then(|| at_greatest_ohms(case, point, &firing, out));
    let state = least.as_ref().unwrap_or(point);
    for initiator in firing {
        let element = ElementId::Load(initiator.load.value);
        let subject = Subject::Element(element);
        let judged = || {
            let all_fire = initiator.all_fire.ok_or_else(|| Missing::new("all_fire", "the current that fires it is not stated"))?;
            let margin = margin.ok_or_else(|| Missing::new("firing_margin", "the limits profile states no firing_margin"))?;
            if let Some(missing) = case.unknown_on_way(point, element) {
                return Err(missing);
            }
            // Where no source is, nothing flows.
            let current = case.current(state, element).unwrap_or(Ok(0.0))?;
            Ok((current.abs(), all_fire, margin))
        };
        match judged() {
            Err(missing) => out.not_judged(point, RULE.code, subject, initiator.at, missing),
            Ok((value, all_fire, margin)) => {
                let plain = |value: f64| (value * 1e6).round() / 1e6;
                let time = initiator.all_fire_time.map_or(String::new(), |time| format!(" for {} ms", plain(1e3 * time.value.0)));
                let text = format!("initiator {} fires at {} A{time}", initiator.name, plain(all_fire.value.0));
                let limit = all_fire.value.0 * margin.value.0;
                let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at: initiator.at, text };
                out.push(point, judged, || {
                    let mut notes = case.way_notes(point, element, &[]);
                    notes.extend(all_fire.note.into_iter().chain(margin.note));
                    notes
                });
            }
        }
    }
}

/// A state with the bridge wires that fire at their greatest resistance: the corner itself has them at the least, which draws most.
fn at_greatest_ohms(case: &Case, point: &Point, firing: &[&Initiator], out: &Worst) -> Point {
    let mut scenario = point.scenario.clone();
    for initiator in firing {
        if let Some(Demand::Resistance(ohms)) = &case.design.loads[initiator.load.value].demand {
            scenario.loads.push((initiator.load.value, LoadChange::Resistance(ohms.high.value)));
        }
    }
    out.near(case, point).point(&scenario)
}
