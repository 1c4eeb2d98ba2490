//! IC-07: a wire end drawn to an older sheet.

use crate::case::Missing;
use crate::papers::place;
use crate::wiring::end_of;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::cmp::Ordering;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-07"),
    title: "stale wire end",
    unit: Unit::Nothing,
    what: "A wire end that states the sheet revision it was drawn to is no older than the last change of its pin's row, and no newer \
           than the sheet. Revisions are in natural order: A before B before AA, 2 before 10.",
    why: "A pin-out moves and the wire list lags: what was right to the old sheet is wrong to the new one.",
    source: "from_revision and to_revision of the wire list, revision of the sheet, changed of the pin's row; no limit from outside.",
    remedy: "Hold the wire against the changed row, correct it, and state the new revision.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, wire) in design.wires.iter() {
        for (side, drawn) in [(Side::From, &wire.from_revision), (Side::To, &wire.to_revision)] {
            let Some(drawn) = drawn else { continue };
            let End::Pin(pin) = end_of(wire, side).value else { continue };
            let Some(port) = wiring.port_at(pin).map(|port| &design.ports[port]) else { continue };
            let subject = Subject::Element(ElementId::Wire(id));
            let pin_name = design.pin_name(port.pin);
            let Some(sheet) = port.sheet.map(|sheet| &design.sheets[sheet.value]) else {
                let missing = Missing::new(format!("sheet of {pin_name}"), format!("the row of {pin_name} names no sheet"));
                out.not_judged(RULE.code, subject, drawn.at, missing);
                continue;
            };
            let Some(revision) = &sheet.revision else {
                let missing = Missing::new(format!("revision of sheet {}", sheet.name), format!("sheet {} has no revision", sheet.name));
                out.not_judged(RULE.code, subject, drawn.at, missing);
                continue;
            };
            let lags = match natural(&drawn.value, &revision.value) {
                Ordering::Equal => false,
                Ordering::Greater => {
                    out.judged(RULE.code, subject, None);
                    let text = format!(
                        "its end at {pin_name} is drawn to revision {} of sheet {}, which stands at {}",
                        drawn.value, sheet.name, revision.value
                    );
                    out.found(case, RULE.code, subject, drawn.at, text, vec![place(revision.at, "revision of the sheet")]);
                    continue;
                }
                Ordering::Less => true,
            };
            let changed = match (&port.changed, lags) {
                (Some(changed), true) => changed,
                (None, true) => {
                    let why =
                        format!("drawn to revision {}, sheet at {}, and the row does not say when it changed", drawn.value, revision.value);
                    out.not_judged(RULE.code, subject, drawn.at, Missing::new(format!("changed of {pin_name}"), why));
                    continue;
                }
                (_, false) => {
                    out.judged(RULE.code, subject, None);
                    continue;
                }
            };
            out.judged(RULE.code, subject, None);
            if natural(&changed.value, &drawn.value) == Ordering::Greater {
                let text = format!(
                    "its end at {pin_name} is drawn to revision {} of sheet {}; the row of {pin_name} changed in {}",
                    drawn.value, sheet.name, changed.value
                );
                let row = place(port.at, format!("changed in {}", changed.value));
                out.found(case, RULE.code, subject, drawn.at, text, vec![row, place(revision.at, "revision of the sheet")]);
            }
        }
    }
}

/// Natural order of revisions: runs of digits by number, letters by length and then by letter, so that Z comes before AA.
fn natural(a: &str, b: &str) -> Ordering {
    fn runs(text: &str) -> Vec<(bool, usize, String)> {
        let mut runs: Vec<(bool, usize, String)> = Vec::new();
        for c in text.chars().filter(|c| c.is_alphanumeric()) {
            let is_digit = c.is_ascii_digit();
            match runs.last_mut() {
                Some((last, _, run)) if *last == is_digit => run.extend(c.to_uppercase()),
                _ => runs.push((is_digit, 0, c.to_uppercase().collect())),
            }
        }
        for (is_digit, length, run) in &mut runs {
            if *is_digit {
                *run = run.trim_start_matches('0').to_owned();
            }
            *length = run.chars().count();
        }
        runs
    }
    runs(a).cmp(&runs(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn revisions_in_natural_order() {
        for (older, newer) in
            [("A", "B"), ("B", "AA"), ("Z", "AA"), ("AA", "AB"), ("1", "2"), ("2", "10"), ("A", "A1"), ("A2", "A10"), ("-", "A")]
        {
            assert_eq!(natural(older, newer), Ordering::Less, "{older} {newer}");
            assert_eq!(natural(newer, older), Ordering::Greater, "{newer} {older}");
        }
        for (one, other) in [("A", "a"), ("2", "02"), ("A", "A")] {
            assert_eq!(natural(one, other), Ordering::Equal, "{one} {other}");
        }
    }
}
