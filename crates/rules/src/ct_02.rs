//! CT-02: a wire that its contact does not take.

use crate::case::Missing;
use crate::papers::place;
use crate::wiring::end_of;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CT-02"),
    title: "wire in a contact's range",
    unit: Unit::Nothing,
    what: "Each wire that lands on a contact is no thinner and no thicker than the contact's barrel takes.",
    why: "A wire too thin is not held by the crimp and works loose; one too thick does not go in, and strands get cut off to make it fit.",
    source: "Wire range of the contact size: AS39029 [from memory], as the catalog row says.",
    remedy: "Another gauge at this end, another contact size, a splice to a wire that fits close to the connector.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for contact in design.contacts.iter().map(|(_, contact)| contact) {
        for pin in [contact.a, contact.b] {
            for &(id, side) in wiring.wires_on(pin) {
                let wire = &design.wires[id];
                let subject = Subject::Element(ElementId::Wire(id));
                let at = end_of(wire, side).at;
                let pin_name = design.pin_name(pin);
                let Some(spec) = contact.spec.map(|spec| &design.contact_specs[spec]) else {
                    let why = format!("the contact size at {pin_name} is not known");
                    out.not_judged(RULE.code, subject, at, Missing::new("contact", why));
                    continue;
                };
                let Some(own) = wire.spec else {
                    out.not_judged(RULE.code, subject, at, Missing::new("gauge", "its gauge is TBD"));
                    continue;
                };
                let gauge = design.wire_specs[own.value].gauge;
                out.judged(RULE.code, subject, [spec.rating.note, contact.size_note, own.note].into_iter().flatten());
                // A larger number is a thinner wire.
                let word = match gauge {
                    _ if gauge > spec.gauge_min => "too thin",
                    _ if gauge < spec.gauge_max => "too thick",
                    _ => continue,
                };
                let range = match spec.gauge_min == spec.gauge_max {
                    true => format!("{} AWG", spec.gauge_min),
                    false => format!("{} to {} AWG", spec.gauge_min, spec.gauge_max),
                };
                let text = format!("{gauge} AWG is {word} for the contact of size {} at {pin_name}, which takes {range}", spec.size);
                out.found(case, RULE.code, subject, at, text, vec![place(spec.at, format!("size {} takes {range}", spec.size))]);
            }
        }
    }
}
