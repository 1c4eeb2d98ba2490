//! CM-01: common-mode voltage at a receiver.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CM-01"),
    title: "common-mode voltage at a receiver",
    unit: Unit::Volt,
    what: "Mean of the two input voltages of each receiver against its reference at the settled point: within common_low and common_high.",
    why: "Outside its range an input reads wrong without any sign of it, or is harmed.",
    source: "The receiver's own common_low and common_high; no limit from outside.",
    remedy: "A tie of the signal's return at the receiver's reference, less current in a return that both share, an isolated input.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let open_loads = case.open_loads(point);
    for (id, receiver) in case.design.receivers.iter() {
        let element = ElementId::Receiver(id);
        let subject = Subject::Element(element);
        let positive = receiver.positive.value;
        let is_driven = case.island(point, positive).is_some_and(|island| point.islands[island as usize].driven);
        if !is_driven {
            continue;
        }
        let volts = match receiver.reference {
            None => Err(Missing::new("reference", "what its common-mode voltage counts from is not stated")),
            Some(_) if !case.settled(point, positive) => {
                Err(Missing::new("operating point", "its part of the network did not settle (OP-01)"))
            }
            Some(reference) => {
                let inputs = [positive, receiver.negative.value].map(|input| case.volts(point, input, reference.value));
                match inputs {
                    [Some(a), Some(b)] => Ok(0.5 * (a + b)),
                    _ => Err(Missing::new("reference", "nothing joins its inputs with its reference (IC-10)")),
                }
            }
        };
        let volts = volts.and_then(|volts| case.unknown_on_way(point, element).map_or(Ok(volts), Err));
        let range = [("common_low", receiver.common_low, Bound::AtLeast), ("common_high", receiver.common_high, Bound::AtMost)];
        for (field, limit, bound) in range {
            let judged = match (&volts, limit) {
                (Err(missing), _) => Err(Missing::new(missing.field.clone(), missing.why.clone())),
                (_, None) => Err(Missing::new(field, format!("its {field} is not stated"))),
                (Ok(volts), Some(limit)) => Ok((*volts, limit)),
            };
            match judged {
                Err(missing) => out.not_judged(point, RULE.code, subject, receiver.at, missing),
                Ok((value, limit)) => {
                    let (at, text) = (limit.at, String::new());
                    out.push(point, Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound, at, text }, || {
                        case.way_notes(point, element, &open_loads).into_iter().chain(limit.note).collect()
                    });
                }
            }
        }
    }
}
