//! BN-04: connectors go through the holes that their branch is passed through.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-04"),
    title: "connector through a hole on its way",
    unit: Unit::Metre,
    what: "The largest connector on a branch is no larger than each hole that the branch is passed through. Holes part the harness into bays: it \
           is laid down in one bay first, and of each wire the end away from that bay is passed through the holes on its way. Any bay may be \
           first; taken is the one with the largest least difference. Where holes lie on a ring of bays no order is worked out, and each hole \
           is passed by its smaller side. Terminals, and connectors that are put on in place, pass no hole.",
    why: "A finished harness with a plug that does not go through the bulkhead is cut, or the bulkhead is.",
    source: "Sizes are the vehicle's own; which side is passed is computed. No limit from outside.",
    remedy: "A larger hole, a smaller shell, or contacts put in after the harness is in place (`terminated_in_place`).",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for passing in case.prepared.threading() {
        let hole = &design.clamps[passing.hole];
        let subject = Subject::Clamp(passing.hole);
        if let Some(&half) = passing.unknown.first() {
            let words = design.subject_words(Subject::Connector(half));
            let why = format!("{words} is passed through it, and the outside diameter of its shell is not known");
            out.not_judged(RULE.code, subject, hole.at, Missing::new(format!("shell of {words}"), why));
            continue;
        }
        let Some(bore) = hole.bore else {
            out.not_judged(RULE.code, subject, hole.at, Missing::new("bore", "the bore of the hole is not known"));
            continue;
        };
        let Some((half, shell)) = passing.largest else {
            // Nothing with a shell is passed.
            out.judged(RULE.code, subject, bore.note);
            continue;
        };
        let segment = &design.segments[hole.segment.value];
        let end = if passing.to_side { segment.to.value } else { segment.from.value };
        let order = match passing.first {
            Some(first) => format!("laid down from {} on", design.branch_points[first].name),
            None => "no order of installation is worked out: holes lie on a ring".to_owned(),
        };
        let words = design.subject_words(Subject::Connector(half));
        let text = format!("{words} is passed through with the end towards {}; {order}", design.branch_points[end].name);
        let judged = Judged { rule: RULE.code, subject, value: shell.0, limit: bore.value.0, bound: Bound::AtMost, at: bore.at, text };
        let stated = design.shell_of(half);
        let also = stated.map(|shell| place(shell.at, format!("the shell of {words}"))).into_iter().collect();
        out.margin(judged, bore.note.into_iter().chain(stated.and_then(|shell| shell.note)), also);
    }
}
