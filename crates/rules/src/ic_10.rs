//! IC-10: a part of the network without a reference ground.

use crate::{Case, Check, Rule, Unit, Worst, subject_of_end};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-10"),
    title: "net without reference",
    unit: Unit::Nothing,
    what: "Each part of the network that a source, an excitation or a sensor's own voltage drives is tied to a reference ground through what \
           conducts in that phase. The end that stands for its zero is named.",
    why: "A part that floats takes whatever voltage leaks and couples into it: inputs leave their range, insulation is stressed, and a first \
          fault to structure stays unseen.",
    source: "Common practice, no source; where a part floats on purpose the finding is to be accepted with the reason.",
    remedy: "One tie to the reference at one place, or a bleed resistor; a bias path at the receiver of a sensor.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    for island in point.islands.iter().filter(|island| island.driven) {
        let subject = subject_of_end(case.prepared.node_end(island.reference));
        if island.grounded {
            out.looked_at(RULE.code, subject);
        } else {
            let text = "the part of the network at this end has no reference ground".to_owned();
            out.trouble(case, point, RULE.code, subject, 0.0, text);
        }
    }
}
