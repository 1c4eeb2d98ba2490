//! VL-02: volts at a load when the bus carries least.

use crate::case::QUIET;
use crate::vl_01::volts_limits;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::{Ohm, Volt};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("VL-02"),
    title: "volts at load at least load",
    unit: Unit::Volt,
    what: "Voltage between the terminals of each load that is commanded on, in the high corner of each phase, with every load drawing next to \
           nothing (1 Mohm): not over its greatest. A resistance cannot but draw: one that would be over is judged with what its own \
           current loses in the ohms of its way, and where that brings it under, by the state solved with it alone as it is.",
    why: "The bus is highest when least is on: a fresh silver-zinc battery of 20 cells stands near 37 V until it is loaded. The load that is \
          switched on first, or left on last, sees it.",
    source: "The load's own volts_max; where its row has none, volts_max of the limits profile. 1.86 V for a fresh silver-zinc cell \
             [from memory].",
    remedy: "A load rated for the source at rest; a load that takes the charge off the top first; a regulated bus.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if point.scenario.corner != Corner::High || point.load_state.iter().all(|(_, state)| *state == LoadState::Off) {
        return;
    }
    let quiet = case.quiet(point, out);
    for (id, load) in case.design.loads.iter() {
        let element = ElementId::Load(id);
        if point.load_state[id] == LoadState::Off || !quiet.load_fed[id] {
            continue;
        }
        // Where nothing flows, no resistance that is still open matters.
        let Some(volts) = quiet.load_voltage[id] else { continue };
        let (_, limit) = volts_limits(case.design, id);
        let (volts, text) = match load.demand {
            Some(Demand::Resistance(ohms)) if volts.0 > limit.value.0 => {
                let least = least_drawing(case, &quiet, element, volts, ohms.typical.value);
                if least.0 > limit.value.0 {
                    (least, "at least: by the ohms of its own way".to_owned())
                } else {
                    let alone = case.changed(point, |other, _| (other != id).then_some(QUIET));
                    (alone.load_voltage[id].unwrap_or(volts), String::new())
                }
            }
            _ => (volts, String::new()),
        };
        let (subject, at) = (Subject::Element(element), load.at);
        let judged = Judged { rule: RULE.code, subject, value: volts.0, limit: limit.value.0, bound: Bound::AtMost, at, text };
        out.push(point, judged, || {
            let ladder = case.prepared.trace(&quiet, element);
            let mut notes: Vec<NoteId> =
                ladder.source.into_iter().flat_map(|source| case.prepared.notes(&point.scenario, source)).collect();
            notes.extend(limit.note);
            notes
        });
    }
}

/// The least that a resistance can stand at when it alone draws: its way has these ohms, and other ways beside it only lessen them.
fn least_drawing(case: &Case, quiet: &Point, element: ElementId, volts: Volt, own: Ohm) -> Volt {
    let ladder = case.prepared.trace(quiet, element);
    let steps = ladder.feed.iter().chain(&ladder.back).filter_map(|step| step.ohms);
    let source = ladder.source.and_then(|source| case.prepared.ohms(&quiet.scenario, source));
    let way: f64 = steps.chain(source).map(|ohms| ohms.0).sum();
    volts * (own.0 / (own.0 + way))
}
