//! SP-05: live contact left behind.

use crate::separation::{LIVE, found};
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-05"),
    title: "live contact left behind",
    unit: Unit::Nothing,
    what: "Each contact half after everything has parted and every step is done: no more than 1 V against the ground of its half, or against the negative terminal of what drives it. With every input whose wire has parted taken for what its unit may take it for. What is live only with a device of a step stuck is listed by `separate` and is no finding. Judged by `separate`.",
    why: "A live stub arcs to what it touches, and takes the bus down that feeds it; two of them find each other.",
    source: "1 V: common practice, no source.",
    remedy: "A relay that makes it dead before it parts, in the half that feeds it.",
    check: Check::Separation(check),
};

/// Whether what is live then is a finding.
fn counts(variant: &Variant) -> bool {
    matches!(variant, Variant::Planned | Variant::Floats(..))
}

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        for &(id, _) in &event.contacts {
            let contact = &case.design.contacts[id];
            out.judged(RULE.code, Subject::Pin(contact.a), []);
            out.judged(RULE.code, Subject::Pin(contact.b), []);
        }
        for stub in event.stubs.iter().filter(|stub| counts(&event.variants[stub.variant]) && stub.volts.0.abs() > LIVE) {
            let (subject, at) = (Subject::Pin(stub.pin), case.design.pins[stub.pin].at);
            let text = format!("it stays live at {:.2} V after the parting, {} corner", stub.volts.0, stub.corner.word());
            found(case, out, event, (RULE.code, subject, at), text);
        }
    }
}
