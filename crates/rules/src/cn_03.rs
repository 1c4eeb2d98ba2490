//! CN-03: ordnance in a connector of its own.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-03"),
    title: "ordnance in its own connector",
    unit: Unit::Nothing,
    what: "A connector with a pin called ordnance has no pin of another meaning but returns, shields, chassis, spare and no-connect.",
    why: "What shares a connector with an initiator is one bent pin, one wrong mate and one test lead away from it.",
    source: "Separate connectors for electro-explosive circuits: MIL-STD-1576, MIL-STD-1541A [from memory].",
    remedy: "A connector of their own for the firing circuits.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut ordnance: BTreeMap<Id<Connector>, Id<Port>> = BTreeMap::new();
    for (id, port) in design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::Ordnance) {
        ordnance.entry(design.pins[port.pin].connector).or_insert(id);
    }
    for &connector in ordnance.keys() {
        out.judged(RULE.code, Subject::Connector(connector), None);
    }
    for port in design.ports.iter().map(|(_, port)| port) {
        use PinMeaning::*;
        if matches!(port.meaning.value, Ordnance | Return | SignalReturn | Shield | Chassis | Spare | NoConnect) {
            continue;
        }
        let connector = design.pins[port.pin].connector;
        let Some(first) = ordnance.get(&connector).map(|&id| &design.ports[id]) else { continue };
        let text = format!(
            "{} is {} beside the ordnance pin {}",
            design.pin_name(port.pin),
            port.meaning.value.word(),
            design.pin_name(first.pin)
        );
        out.found(case, RULE.code, Subject::Connector(connector), port.at, text, vec![place(first.at, "ordnance here")]);
    }
}
