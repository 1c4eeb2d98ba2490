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
           current loses in the ohms of its way, and where that brings it under, by the state solved with it alone as it is, if no more than 10 loads of the phase ask for that.",
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
    let mut seen: Vec<(Id<Load>, Given<Volt>, Volt, Doubt)> = Vec::new();
    for (id, load) in case.design.loads.iter() {
        if point.load_state[id] == LoadState::Off || !quiet.load_fed[id] {
            continue;
        }
        // Where nothing flows, no resistance that is still open matters.
        let Some(volts) = quiet.load_voltage[id] else { continue };
        let (_, limit) = volts_limits(case.design, id);
        seen.push(match load.demand {
            Some(Demand::Resistance(ohms)) if volts.0 > limit.value.0 => {
                let least = least_drawing(case, &quiet, ElementId::Load(id), volts, ohms.typical.value);
                if least.0 > limit.value.0 { (id, limit, least, Doubt::None) } else { (id, limit, volts, Doubt::Solve) }
            }
            _ => (id, limit, volts, Doubt::None),
        });
    }
    let near = case.prepared.near(&quiet);
    let doubted = seen.iter().filter(|(.., doubt)| *doubt == Doubt::Solve).count();
    for (id, limit, mut volts, doubt) in seen {
        let element = ElementId::Load(id);
        let (subject, load) = (Subject::Element(element), &case.design.loads[id]);
        let mut text = String::new();
        if doubt == Doubt::Solve && doubted <= SOLVED_AT_MOST {
            // Of the quiet state one load changes.
            let alone = near.roughly(&case.with_changed(point, |other, _| (other != id).then_some(QUIET)));
            volts = alone.load_voltage[id].unwrap_or(volts);
        } else if doubt == Doubt::Solve {
            text = "what its own current loses is not taken off".to_owned();
        }
        let judged = Judged { rule: RULE.code, subject, value: volts.0, limit: limit.value.0, bound: Bound::AtMost, at: load.at, text };
        out.push(point, judged, || {
            let ladder = case.prepared.trace(&quiet, element);
            let mut notes: Vec<NoteId> =
                ladder.source.into_iter().flat_map(|source| case.prepared.notes(&point.scenario, source)).collect();
            notes.extend(limit.note);
            notes
        });
    }
}

/// How many loads of a state are solved one by one. All or none, so that the order of rows never shows.
const SOLVED_AT_MOST: usize = 10;

/// Whether it is open on which side of its limit a load stands.
#[derive(Clone, Copy, PartialEq)]
enum Doubt {
    None,
    /// Over it without its own current, under it with all that its own way may lose.
    Solve,
}

/// The least that a resistance can stand at when it alone draws: its way has these ohms, and other ways beside it only lessen them.
fn least_drawing(case: &Case, quiet: &Point, element: ElementId, volts: Volt, own: Ohm) -> Volt {
    let ladder = case.prepared.trace(quiet, element);
    let steps = ladder.feed.iter().chain(&ladder.back).filter_map(|step| step.ohms);
    let source = ladder.source.and_then(|source| case.prepared.ohms(&quiet.scenario, source));
    let way: f64 = steps.chain(source).map(|ohms| ohms.0).sum();
    volts * (own.0 / (own.0 + way))
}
