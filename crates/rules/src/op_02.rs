//! OP-02: two states are possible.

use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OP-02"),
    title: "two possible states",
    unit: Unit::Nothing,
    what: "Loads with a drop-out voltage for which the same phase has a second consistent state: connected in one, let go in \
           the other. The worse one is judged by the other rules.",
    why: "Which of the two the vehicle takes depends on what happened before; nobody chose it.",
    source: "Follows from the loads' drop_out and return_above; no limit from outside.",
    remedy: "Less resistance in the shared feed, fewer loads at once, a start-up order, a lower drop-out voltage.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    for &element in &point.other_state {
        let subject = Subject::Element(element);
        let let_go = match element {
            ElementId::Load(id) => matches!(point.load_state[id], LoadState::DroppedOut { .. }),
            ElementId::Converter(id) => matches!(point.converter_state[id], LoadState::DroppedOut { .. }),
            _ => false,
        };
        let text = match let_go {
            true => "it has let go, and could as well be connected",
            false => "it is connected, and could as well have let go",
        };
        out.trouble(case, point, RULE.code, subject, 0.0, text.to_owned());
    }
}
