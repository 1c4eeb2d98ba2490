//! RT-02: a stated length reaches from end to end.

use crate::worst::Judged;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-02"),
    title: "stated length of a wire",
    unit: Unit::Metre,
    what: "The length that the wire list states for a wire is not shorter than its segments together.",
    why: "A wire cut to that length does not reach, or was meant for another way: its resistance, mass and neighbours are then others too.",
    source: "The map of the vehicle itself; no limit from outside.",
    remedy: "Correct the length, or leave it out so that it follows the route; `via` where the wire is to go another way.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, row) in design.wires.iter() {
        let Some(Given { value: Length::Given(length), at, note }) = row.length else { continue };
        let Some(run) = case.prepared.layout().run(id) else { continue };
        let text = match &run.segments[..] {
            [] => continue,
            [one] => format!("it lies in segment {}", design.segments[*one].name),
            [first, .., last] => {
                let names = [first, last].map(|segment| design.segments[*segment].name.clone());
                format!("its route has {} segments from {} to {}", run.segments.len(), names[0], names[1])
            }
        };
        let subject = Subject::Element(ElementId::Wire(id));
        let judged = Judged { rule: RULE.code, subject, value: length.0, limit: run.path.0, bound: Bound::AtLeast, at, text };
        let notes = run.segments.iter().filter_map(|segment| design.segments[*segment].length.note);
        out.margin(judged, note.into_iter().chain(notes), Vec::new());
    }
}
