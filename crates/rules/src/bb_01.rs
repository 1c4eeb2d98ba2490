//! BB-01: steady voltage of a bus.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BB-01"),
    title: "bus voltage",
    unit: Unit::Volt,
    what: "Steady voltage of each bus against its return at the settled point, in every phase and corner in which a source reaches it: not \
           under bus_min, not over bus_max of the limits profile.",
    why: "Every load on a bus is chosen for its band.",
    source: "bus_min and bus_max of the limits profile, each with its source there.",
    remedy: "Under: less load, another source, less resistance before the bus. Over: a source that stays lower, a profile for this bus.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let (design, profile) = (case.design, &case.design.profile);
    let open_loads = case.open_loads(point);
    for (id, bus) in design.inner_nodes.iter().filter(|(_, node)| node.is_bus) {
        let subject = Subject::Inner(id);
        let end = End::Inner(id);
        let Some(island) = case.island(point, end).map(|island| &point.islands[island as usize]) else { continue };
        if !island.driven {
            continue;
        }
        // A bus that its sources do not reach lies at its return through its loads, and is dead on purpose.
        let volts = match bus.bus_return {
            _ if !island.outcome.is_settled() => Err(Missing::new("operating point", "its part of the network did not settle (OP-01)")),
            None => Err(Missing::new("return", "its return is not stated")),
            Some(back) => match case.volts(point, end, back.value) {
                None => Err(Missing::new("return", "nothing joins it with its return")),
                Some(volts) if volts.abs() < analysis::FED => continue,
                Some(volts) => Ok(volts),
            },
        };
        for (field, limit, bound) in [("bus_min", profile.bus_min, Bound::AtLeast), ("bus_max", profile.bus_max, Bound::AtMost)] {
            let judged = match (&volts, limit) {
                (Err(missing), _) => Err(Missing::new(missing.field.clone(), missing.why.clone())),
                (_, None) => Err(Missing::new(field, format!("the limits profile states no {field}"))),
                (Ok(volts), Some(limit)) => Ok((*volts, limit)),
            };
            match judged {
                Err(missing) => out.not_judged(point, RULE.code, subject, bus.at, missing),
                Ok((value, limit)) => {
                    let (at, text) = (bus.at, String::new());
                    out.push(point, Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound, at, text }, || {
                        bus_notes(case, point, end, &open_loads).into_iter().chain(limit.note).collect()
                    });
                }
            }
        }
    }
}

/// What the voltage of a bus rests on: the sources of its part of the network and the loads that are open there.
fn bus_notes(case: &Case, point: &Point, end: End, open_loads: &[(u32, NoteId)]) -> Vec<NoteId> {
    let island = case.island(point, end);
    let sources = case.design.batteries.iter().filter(|(_, source)| case.island(point, source.positive.value) == island);
    let mut notes: Vec<NoteId> = sources.flat_map(|(id, _)| case.prepared.notes(&point.scenario, ElementId::Source(id))).collect();
    notes.extend(open_loads.iter().filter(|(at, _)| Some(*at) == island).map(|(_, note)| note));
    notes
}
