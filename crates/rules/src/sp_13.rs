//! SP-13: command whose wire parts.

use crate::case::Missing;
use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-13"),
    title: "command whose wire parts",
    unit: Unit::Nothing,
    what: "Each command that goes through a contact that parts: its unit takes the open input for off, or for on without moving anything by it, while contacts part or \
           afterwards. Whatever the input may be taken for is followed through every partial state beside that, and counts in SP-01 to SP-08. Judged by `separate`.",
    why: "An input that nothing drives is whatever leakage, a coupled pulse or the parting arc makes of it, and what it commands moves with it.",
    source: "open_reads: the sheet of the unit. No limit from outside.",
    remedy: "An input that is off when open, held there by a resistor in the unit; a command that takes two.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for event in &table.events {
        for floating in &event.floating {
            let row = &design.command_inputs[floating.input];
            let subject = Subject::Pin(row.pin.value);
            out.judged(RULE.code, subject, []);
            if row.open_reads.is_none_or(|given| given.value == OpenReads::Off) || floating.moves.is_empty() {
                continue;
            }
            let names: Vec<String> = floating.moves.iter().map(|element| design.element_words(*element)).collect();
            let contact = design.element_words(ElementId::Contact(floating.contact));
            let text = format!("with {contact} parted input {} may be taken for on, which moves {}", row.name, names.join(", "));
            found(case, out, event, (RULE.code, subject, row.at), text);
        }
        for &id in &event.unknown_inputs {
            let (subject, at) = (Subject::Element(ElementId::Contact(id)), design.contacts[id].at);
            let why = "it carries a command, and no [input] says what its unit takes it for once nothing drives it";
            out.not_judged(RULE.code, subject, at, Missing::new("open_reads", why));
        }
    }
}
