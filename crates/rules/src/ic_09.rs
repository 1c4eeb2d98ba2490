//! IC-09: feed and return that part.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-09"),
    title: "feed and return apart",
    unit: Unit::Nothing,
    what: "Each pin whose row names its own return has it in the same connector, and where the wire of one is a core of a cable, that of \
           the other is a core of the same.",
    why: "The current goes round a loop as wide as the distance between the two. It radiates, it picks up, and one connector pulled \
          leaves feed without return.",
    source: "MIL-HDBK-419A and common cabling practice [from memory]; no number.",
    remedy: "Move the return into the connector and cable of its feed.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, port) in design.ports.iter() {
        let Some(back) = port.own_return else { continue };
        let subject = Subject::Port(id);
        out.judged(RULE.code, subject, back.note);
        let (name, back_name) = (design.pin_name(port.pin), design.pin_name(back.value));
        let row = wiring.port_at(back.value).map(|port| place(design.ports[port].at, "the row of the return"));
        if design.pins[port.pin].connector != design.pins[back.value].connector {
            let text = format!("{name} has its return {back_name} in another connector");
            out.found(case, RULE.code, subject, back.at, text, row.into_iter().collect());
            continue;
        }
        let only = |pin| {
            let mut wires = wiring.wires_at(pin).map(|(wire, _)| &design.wires[wire]);
            wires.next().filter(|_| wires.next().is_none())
        };
        let (Some(feed), Some(other)) = (only(port.pin), only(back.value)) else { continue };
        let (cable, other_cable) = (feed.cable.map(|c| c.value), other.cable.map(|c| c.value));
        if cable != other_cable {
            let word = |cable: Option<Id<Cable>>| cable.map_or("no cable".to_owned(), |id| format!("cable {}", design.cables[id].name));
            let text = format!(
                "wire {} of {name} is in {} and wire {} of its return {back_name} in {}",
                feed.name,
                word(cable),
                other.name,
                word(other_cable)
            );
            out.found(case, RULE.code, subject, feed.at, text, vec![place(other.at, "the wire of the return")]);
        }
    }
}
