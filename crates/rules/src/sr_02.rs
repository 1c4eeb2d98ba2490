//! SR-02: peak current of a source.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SR-02"),
    title: "current of a source, peak",
    unit: Unit::Ampere,
    what: "Current that each battery and supply gives at the settled point with every load of the phase on, against its peak rating. \
           Judged where an intermittent load is on or a peak is stated.",
    why: "In short spells a source may give more than its rating, but not any amount: beyond it the bus collapses or the supply trips.",
    source: "The source's own peak; no limit from outside.",
    remedy: "Loads that take turns, another source in parallel.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let has_intermittent = has_intermittent(case, point);
    let open_loads = case.open_loads(point);
    for (id, source) in case.design.batteries.iter() {
        let subject = Subject::Element(ElementId::Source(id));
        if source.peak.is_none() && !has_intermittent {
            continue;
        }
        let Some(given) = gives(case, point, id) else { continue };
        let judged = given.and_then(|given| {
            let peak = source.peak.ok_or_else(|| Missing::new("peak", "intermittent loads are on and its peak rating is not stated"))?;
            Ok((given, peak))
        });
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, source.at, missing),
            Ok((value, peak)) => {
                let (limit, at, text) = (peak.value.0, peak.at, String::new());
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text }, || {
                    let mut notes = source_notes(case, point, id, &open_loads);
                    notes.extend(peak.note);
                    notes
                });
            }
        }
    }
}

/// Whether an intermittent load is on.
pub(crate) fn has_intermittent(case: &Case, point: &Point) -> bool {
    let is_on = |id| point.load_state[id] != LoadState::Off;
    case.design.loads.iter().any(|(id, load)| load.duty.value == Duty::Intermittent && is_on(id))
}

/// Current that a source gives; `None` where it is off or takes current instead.
pub(crate) fn gives(case: &Case, point: &Point, id: Id<Source>) -> Option<Result<f64, Missing>> {
    let source = &case.design.batteries[id];
    let row = case.prepared.branch_of(ElementId::Source(id))?;
    if source.emf.is_none() || source.ohms.is_none() {
        let field = case.open_field(ElementId::Source(id)).unwrap_or("emf");
        return Some(Err(Missing::new(field, format!("its {field} is TBD"))));
    }
    match case.current(point, ElementId::Source(id))? {
        // The branch runs from the positive terminal to the negative one, so what it gives is negative.
        Ok(_) if point.current[row] < 0.0 => Some(Ok(-point.current[row])),
        Ok(_) => None,
        Err(missing) => Some(Err(missing)),
    }
}

/// What the current of a source rests on: itself and every load of its part of the network that is on.
pub(crate) fn source_notes(case: &Case, point: &Point, id: Id<Source>, open_loads: &[(u32, NoteId)]) -> Vec<NoteId> {
    let positive = case.design.batteries[id].positive.value;
    let island = case.island(point, positive);
    let mut notes = case.prepared.notes(&point.scenario, ElementId::Source(id));
    let loads = case
        .design
        .loads
        .iter()
        .filter(|(id, load)| point.load_state[*id] != LoadState::Off && case.island(point, load.line.value) == island);
    for (load, _) in loads {
        notes.extend(case.prepared.notes(&point.scenario, ElementId::Load(load)));
    }
    notes.extend(open_loads.iter().filter(|(at, _)| Some(*at) == island).map(|(_, note)| note));
    notes
}
