//! IC-06: a wire that ends on nothing.

use crate::wiring::end_of;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-06"),
    title: "open wire end",
    unit: Unit::Nothing,
    what: "Each end of a wire that is not stowed meets something else: another wire, an element, a track of the unit, a row of its sheet \
           or a fitted item, on the pin, its mate, the splice, stud or node. A pin is judged only where anything is known of what lies \
           behind its connector.",
    why: "A wire into nothing is weight at best; more often the pin is the wrong one and the right one is missing.",
    source: "The wire list and the interface sheets; no limit from outside.",
    remedy: "The right pin; `stowed` where the end is capped on purpose; a row on the sheet where one is missing.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut lands = vec![0u32; case.prepared.nodes()];
    for branch in case.prepared.branches() {
        lands[branch.from.row()] += 1;
        lands[branch.to.row()] += 1;
    }
    for (id, wire) in design.wires.iter() {
        let subject = Subject::Element(ElementId::Wire(id));
        let mut is_judged = false;
        for side in [Side::From, Side::To] {
            let end = end_of(wire, side);
            let meets = match end.value {
                End::Pin(pin) => {
                    let known = wiring.both(pin).any(|pin| {
                        let connector = design.pins[pin].connector;
                        let row = &design.connectors[connector];
                        // Two harness halves that mate are described by their wires.
                        wiring.is_described(connector) || (row.implied == Implied::Declared && row.unit.is_none())
                    });
                    known.then(|| {
                        let others = wiring.wires_at(pin).any(|(other, _)| other != id);
                        others
                            || wiring
                                .both(pin)
                                .any(|pin| wiring.is_used_inside(pin) || wiring.is_plugged(pin) || wiring.port_on(pin).is_some())
                    })
                }
                // Structure, shells and cases are there without a row.
                End::Ground(_) | End::Shell(_) | End::Case(_) | End::Stowed => None,
                other => case.prepared.node(other).map(|node| lands[node.row()] > 1),
            };
            match meets {
                None => {}
                Some(true) => is_judged = true,
                Some(false) => {
                    is_judged = true;
                    let text = format!("nothing else lands on {}, where it ends", design.end_name(end.value));
                    out.found(case, RULE.code, subject, end.at, text, Vec::new());
                }
            }
        }
        if is_judged {
            out.judged(RULE.code, subject, None);
        }
    }
}
