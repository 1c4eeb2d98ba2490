//! OR-03: buses after firing.

use crate::case::Missing;
use crate::ordnance::{fired, firing};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-03"),
    title: "bus voltage after firing",
    unit: Unit::Volt,
    what: "Lowest voltage of each bus with bridge wires melted to the other lead or to the structure, each alone and all at once, in a phase in which they are \
           commanded: not under bus_min of the profile. It lasts until the command ends, and for good where a contact has welded.",
    why: "What parts the vehicle must not take down the computers that have to fly both halves.",
    source: "bus_min of the limits profile, with its source there. Molten bridge wires of 1 mohm: common practice, no source. Range safety and certified \
             procedures govern ordnance work.",
    remedy: "A ballast resistor, a source of its own for the firing circuits, a limiter, fewer that fire at once.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    if firing(case, point).is_empty() || point.scenario.corner == Corner::Typical {
        return;
    }
    let states = fired(case, point, out);
    for (id, bus) in design.inner_nodes.iter().filter(|(_, node)| node.is_bus) {
        let (subject, end) = (Subject::Inner(id), End::Inner(id));
        let Some(back) = bus.bus_return else { continue };
        // A bus that is dead before is dead on purpose.
        if case.volts(point, end, back.value).is_none_or(|volts| volts.abs() < analysis::FED) {
            continue;
        }
        let mut lowest: Option<(f64, &str)> = None;
        let mut unsettled: Option<&str> = None;
        for state in states.iter() {
            match case.volts(&state.point, end, back.value) {
                Some(volts) if lowest.is_none_or(|(least, _)| volts < least) => lowest = Some((volts, &state.words)),
                Some(_) => {}
                None => unsettled = Some(&state.words),
            }
        }
        let judged = match (unsettled, lowest, design.profile.bus_min) {
            (Some(words), ..) => Err(Missing::new("operating point", format!("the network does not settle with {words}"))),
            (_, _, None) => Err(Missing::new("bus_min", "the limits profile states no bus_min")),
            (None, Some(lowest), Some(limit)) => Ok((lowest, limit)),
            (None, None, _) => continue,
        };
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, bus.at, missing),
            Ok(((value, words), limit)) => {
                let (limit, note, text) = (limit.value.0, limit.note, format!("with {words}"));
                let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at: bus.at, text };
                out.push(point, judged, || note.into_iter().collect());
            }
        }
    }
}
