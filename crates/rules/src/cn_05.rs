//! CN-05: unused cavities filled.

use crate::case::Missing;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-05"),
    title: "unused cavities filled",
    unit: Unit::Nothing,
    what: "A connector whose arrangement has more cavities than wires and elements use states that the rest are filled: with a contact, wired or \
           not, and a sealing plug.",
    why: "An open cavity lets water and vapour through the seal and leaves its neighbours without support.",
    source: "FAA AC 43.13-1B paragraphs 11-234 and 11-260 to 11-263 [read].",
    remedy: "Contacts and sealing plugs in the unused cavities; `filled = true`.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let used = used_cavities(case.design, wiring);
    for (id, row) in case.design.connectors.iter() {
        let Some(arrangement) = row.arrangement.map(|a| &case.design.arrangements[a.value]) else { continue };
        let unused = arrangement.cavities.len().saturating_sub(used[id.row()]);
        let subject = Subject::Connector(id);
        match row.fills_unused {
            _ if unused == 0 => out.judged(RULE.code, subject, arrangement.note),
            None => {
                let why = format!("whether its {unused} unused cavities are filled is not stated");
                out.not_judged(RULE.code, subject, row.at, Missing::new("filled", why));
            }
            Some(filled) => {
                out.judged(RULE.code, subject, filled.note.or(arrangement.note));
                if !filled.value {
                    let text = format!("{unused} of {} cavities are unused and not filled", arrangement.cavities.len());
                    out.found(case, RULE.code, subject, filled.at, text, Vec::new());
                }
            }
        }
    }
}

/// Of each connector, how many of its cavities a wire or an element uses.
pub(crate) fn used_cavities(design: &Design, wiring: &Wiring) -> Vec<usize> {
    let mut used = vec![0; design.connectors.len()];
    for (id, pin) in design.pins.iter() {
        if wiring.wires_at(id).next().is_some() || wiring.both(id).any(|pin| wiring.is_used_inside(pin)) {
            used[pin.connector.row()] += 1;
        }
    }
    used
}
