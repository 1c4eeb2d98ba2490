//! PP-11: a wire fed from both ends is cut off from both.

use crate::faults::{amperes, fault_words, goes_on, lacks_times};
use crate::{Case, Check, Faults, Rule, Unit, Worst, case::Missing};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-11"),
    title: "fed from both ends",
    unit: Unit::Nothing,
    what: "A wire whose fault half-way along is fed from both its ends, through a tie, another source or wires in parallel with it, is cut off from both: devices \
           are followed, each at its longest time in the coldest ambient of the phase, until nothing feeds the fault.",
    why: "One device opens, everybody thinks the fault is cleared, and the other end feeds on.",
    source: "Law of the network; bands of the device types. AC 43.13-1B CHG 1, par. 11-48: a device opens before the rating of its wire is passed [read].",
    remedy: "A device at each end, or a tie that opens with the first device.",
    check: Check::Faults(check),
};

/// Share of a fault's current from which on an end counts as feeding it.
const FEEDS: f64 = 0.05;

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    for fed in &faults.protection.wires {
        let Some(burning) = &fed.middle else { continue };
        if burning.sides.iter().any(|side| side.0 < FEEDS * burning.current.0) {
            continue;
        }
        let (subject, at) = (Subject::Element(ElementId::Wire(fed.wire)), design.wires[fed.wire].at);
        let point = faults.point_of(burning);
        match &burning.latest.end {
            Ends::Cleared(_) => out.looked_at(RULE.code, subject),
            Ends::Burns(_) | Ends::Unprotected(_) => {
                let why = goes_on(design, &burning.latest, &burning.devices).expect("a fault that goes on says why");
                let [a, b] = burning.sides.map(amperes);
                let text = format!("{}: {a} and {b} come from its ends; {why}", fault_words(design, burning));
                out.trouble(case, point, RULE.code, subject, burning.current.0, text);
            }
            Ends::NotKnown(device) => out.not_judged(point, RULE.code, subject, at, lacks_times(design, *device)),
            Ends::Unsettled => {
                let why = "with the fault, or after a device opened, the network does not settle";
                out.not_judged(point, RULE.code, subject, at, Missing::new("operating point", why));
            }
        }
    }
}
