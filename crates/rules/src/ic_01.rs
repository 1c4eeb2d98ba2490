//! IC-01: a wire on a pin that must stay free.

use crate::papers::place;
use crate::wiring::end_of;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-01"),
    title: "wire on a no-connect pin",
    unit: Unit::Nothing,
    what: "No wire lands on a pin that the interface sheet calls no-connect, nor on the pin it is mated with.",
    why: "What the maker of a unit leaves unnamed may be a test point, a programming line or joined to something inside.",
    source: "The unit's own interface sheet; no limit from outside.",
    remedy: "Take the wire off and stow its end; if the sheet is out of date, have it changed first.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    for (id, port) in case.design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::NoConnect) {
        let subject = Subject::Port(id);
        out.judged(RULE.code, subject, port.meaning.note);
        for (wire, side) in wiring.wires_at(port.pin) {
            let row = &case.design.wires[wire];
            let text = format!("wire {} lands on {}, which is no-connect", row.name, case.design.pin_name(port.pin));
            let also = vec![place(port.meaning.at, "no-connect here")];
            out.found(case, RULE.code, subject, end_of(row, side).at, text, also);
        }
    }
}
