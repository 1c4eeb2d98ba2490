//! IC-02: a power input that nothing feeds.

use crate::case::Missing;
use crate::papers::place;
use crate::wiring::end_of;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-02"),
    title: "power input without feed",
    unit: Unit::Nothing,
    what: "Each pin that the interface sheet calls power-in has a wire, and the positive terminal of a source or converter, or a pin \
           called power-out, reaches it however switches, breakers and diodes stand. Whether it is fed in a phase is UF-01.",
    why: "A pin forgotten in the wire list leaves a unit dead, and nobody sees it before power is put on.",
    source: "The unit's own interface sheet; no limit from outside.",
    remedy: "The missing wire or contact; a plug that has to be fitted; a sheet row that should say spare.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    // Nets that a pin called power-out gives power to.
    let mut given = vec![false; case.prepared.nodes()];
    for port in design.ports.iter().map(|(_, port)| port).filter(|port| port.meaning.value == PinMeaning::PowerOut) {
        if let Some(node) = case.prepared.node(End::Pin(port.pin)) {
            given[wiring.part(node) as usize] = true;
        }
    }
    for (id, port) in design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::PowerIn) {
        let subject = Subject::Port(id);
        let name = design.pin_name(port.pin);
        let wire = wiring.wires_at(port.pin).next();
        // Two units may mate without a wire between, and a plug may stand in for one.
        let direct = wiring.is_plugged(port.pin) || wiring.mate(port.pin).is_some_and(|mate| wiring.is_used_inside(mate));
        let node = case.prepared.node(End::Pin(port.pin)).filter(|_| wire.is_some() || direct);
        let Some(node) = node else {
            out.judged(RULE.code, subject, port.meaning.note);
            out.found(case, RULE.code, subject, port.at, format!("no wire lands on {name}, which takes power"), Vec::new());
            continue;
        };
        if wiring.is_fed(node) || given[wiring.part(node) as usize] {
            out.judged(RULE.code, subject, port.meaning.note);
            continue;
        }
        if wiring.leads_out(node) || design.batteries.is_empty() {
            let why = "neither a source nor a sheet row says what the other end of its wire gives";
            out.not_judged(RULE.code, subject, port.at, Missing::new("source", why));
            continue;
        }
        out.judged(RULE.code, subject, port.meaning.note);
        let also = wire.map(|(wire, side)| {
            let row = &design.wires[wire];
            place(end_of(row, side).at, format!("wire {} lands here", row.name))
        });
        let text = format!("no source reaches {name}, which takes power, however switches stand");
        out.found(case, RULE.code, subject, port.at, text, also.into_iter().collect());
    }
}
