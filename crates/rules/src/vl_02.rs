//! VL-02: volts at a load when the bus carries least.

use crate::case::QUIET;
use crate::vl_01::volts_limits;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("VL-02"),
    title: "volts at load at least load",
    unit: Unit::Volt,
    what: "Voltage between the terminals of each load that is commanded on, in the high corner of each phase, with every load drawing next to \
           nothing (1 Mohm): not over its greatest. A resistance that would be over it is solved again as it is, with all others drawing \
           next to nothing: it cannot but draw.",
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
        let volts = match load.demand {
            Some(Demand::Resistance(_)) if volts.0 > limit.value.0 => {
                let alone = case.changed(point, |other, _| (other != id).then_some(QUIET));
                alone.load_voltage[id].unwrap_or(volts)
            }
            _ => volts,
        };
        let (subject, at, text) = (Subject::Element(element), load.at, String::new());
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
