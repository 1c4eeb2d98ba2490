//! SP-10: wires that tell of the parting.

use crate::case::Missing;
use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-10"),
    title: "wires that tell of the parting",
    unit: Unit::Nothing,
    what: "A separation that names loops has two at least, their contacts part with it, and no two of them go through the same connector. Judged by `separate`.",
    why: "A loop in the connector that did not part tells of nothing; two in one connector tell the same.",
    source: "Two, in different connectors: common practice, no source.",
    remedy: "A second loop through another connector.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for event in &table.events {
        let row = &design.separations[event.separation];
        let phase = Subject::Phase(row.phase.value);
        if row.loops.is_empty() {
            let why = format!("separation {} names no wires that tell of it", row.name);
            out.not_required(RULE.code, phase, row.at, Missing::new("loops", why));
            continue;
        }
        let parts = |end: End| {
            let End::Pin(pin) = end else { return None };
            let own = |id: &Id<Contact>| design.contacts[*id].a == pin || design.contacts[*id].b == pin;
            event.contacts.iter().map(|(id, _)| *id).find(own).map(|id| design.pins[design.contacts[id].a].connector)
        };
        let mut seen: Vec<(Id<Connector>, Id<Wire>)> = Vec::new();
        for given in &row.loops {
            let (wire, subject) = (&design.wires[given.value], Subject::Element(ElementId::Wire(given.value)));
            out.judged(RULE.code, subject, []);
            let mut through: Vec<Id<Connector>> = [wire.from.value, wire.to.value].into_iter().filter_map(parts).collect();
            through.dedup();
            if through.is_empty() {
                found(
                    case,
                    out,
                    event,
                    (RULE.code, subject, wire.at),
                    "it is to tell of the parting, and no contact on it parts".to_owned(),
                );
            }
            for connector in through {
                if let Some((_, other)) = seen.iter().find(|(known, _)| *known == connector) {
                    let (name, other) = (&design.connectors[connector].name, &design.wires[*other].name);
                    let text = format!("it goes through connector {name}, as wire:{other} does: both tell of the same");
                    found(case, out, event, (RULE.code, subject, wire.at), text);
                }
                seen.push((connector, given.value));
            }
        }
        if row.loops.len() < 2 {
            found(case, out, event, (RULE.code, phase, row.at), "one wire alone tells of it".to_owned());
        }
    }
}
