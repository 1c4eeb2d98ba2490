//! RT-01: every wire has a route.

use crate::case::Missing;
use crate::papers::place;
use crate::routing::{break_words, ends_without_breakout};
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use analysis::layout::Place;
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-01"),
    title: "route of a wire",
    unit: Unit::Nothing,
    what: "Segments lead from the breakout of one end to that of the other, and of those some way is open to the wire: its class is admitted, \
           nothing to be kept apart lies in it, holes and clamps have room. Wires are laid one after the other, those with `via` first, then \
           thick before thin, each by the cheapest way that is left; another order may find a way that this one does not.",
    why: "What has no way in the harness as designed is laid by the shop where it happens to fit, and every length and bundle is then wrong.",
    source: "The map of the vehicle itself; no limit from outside.",
    remedy: "A segment more, a larger hole, another class or segment for what is in the way; `via` for the wire that ought to go first.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, row) in design.wires.iter() {
        let subject = Subject::Element(ElementId::Wire(id));
        match case.prepared.layout().place(id) {
            Place::NoMap | Place::Stowed => {}
            Place::NoBreakout(sides) => {
                let ends = ends_without_breakout(design, id, sides);
                out.not_judged(RULE.code, subject, row.at, Missing::new("breakout", format!("{ends} is at no breakout")));
            }
            Place::Laid(_) => out.judged(RULE.code, subject, []),
            Place::Broken(told) => {
                out.judged(RULE.code, subject, []);
                let at = row.via_at.unwrap_or(row.at);
                let also = told.closed.iter().take(3).map(|(segment, _)| place(design.segments[*segment].at, "closed to it")).collect();
                out.found(case, RULE.code, subject, at, break_words(case.prepared, id, told), also);
            }
        }
    }
}
