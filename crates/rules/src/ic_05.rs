//! IC-05: mated sides that disagree.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-05"),
    title: "mated sides disagree",
    unit: Unit::Nothing,
    what: "Where both halves of a mated pair have rows on sheets, the meanings of each two mated pins go together: the same, power-out \
           with power-in, command or millivolt with signal, shield with chassis, spare with no-connect. And a pin called return, \
           signal-return, ordnance, command or millivolt has something on the other side: a wire, a plug, the inside of another unit; \
           pins of a connector that has no wire at all are left out.",
    why: "Two boxes that each follow their own sheet meet here for the first time.",
    source: "The interface sheets of both sides; no limit from outside.",
    remedy: "Agree on one sheet and change the other; a pin the vehicle does not use is called spare in its row.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for contact in design.contacts.iter().map(|(_, contact)| contact) {
        let (Some(first), Some(second)) = (wiring.port_on(contact.a), wiring.port_on(contact.b)) else { continue };
        let (one, other) = (&design.ports[first], &design.ports[second]);
        let subject = Subject::Port(first);
        out.judged(RULE.code, subject, one.meaning.note.into_iter().chain(other.meaning.note));
        if !go_together(one.meaning.value, other.meaning.value) {
            let (own, mate) = (design.pin_name(contact.a), design.pin_name(contact.b));
            let (word, mate_word) = (one.meaning.value.word(), other.meaning.value.word());
            let text = format!("{own} is {word} and its mate {mate} is {mate_word}");
            out.found(case, RULE.code, subject, one.meaning.at, text, vec![place(other.meaning.at, format!("{mate} is {mate_word}"))]);
        }
    }
    let mut has_wires = vec![false; design.connectors.len()];
    for (id, pin) in design.pins.iter() {
        if wiring.wires_at(id).next().is_some() {
            has_wires[pin.connector.row()] = true;
        }
    }
    for (id, port) in design.ports.iter() {
        use PinMeaning::*;
        let is_needed = matches!(port.meaning.value, Return | SignalReturn | Ordnance | Command | Millivolt);
        if !is_needed || !has_wires[design.pins[port.pin].connector.row()] {
            continue;
        }
        let subject = Subject::Port(id);
        out.judged(RULE.code, subject, port.meaning.note);
        let mate = wiring.mate(port.pin);
        // Without a unit the pin is one of a harness half: its own wire is this side, not the other.
        let has_unit = design.connectors[design.pins[port.pin].connector].unit.is_some();
        let from_wire = if has_unit { wiring.wires_at(port.pin).next().is_some() } else { !wiring.wires_on(port.pin).is_empty() };
        let other_side = mate.is_some_and(|mate| wiring.is_used_inside(mate) || wiring.port_on(mate).is_some());
        if !from_wire && !wiring.is_plugged(port.pin) && !other_side {
            let text = format!("{} is {} and nothing is on its other side", design.pin_name(port.pin), port.meaning.value.word());
            out.found(case, RULE.code, subject, port.meaning.at, text, Vec::new());
        }
    }
}

fn go_together(a: PinMeaning, b: PinMeaning) -> bool {
    use PinMeaning::*;
    let pair = |x, y| (a, b) == (x, y) || (a, b) == (y, x);
    a == b || pair(PowerIn, PowerOut) || pair(Command, Signal) || pair(Millivolt, Signal) || pair(Shield, Chassis) || pair(Spare, NoConnect)
}
