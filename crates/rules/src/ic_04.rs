//! IC-04: two signals on one net.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::HashMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-04"),
    title: "two signals on one net",
    unit: Unit::Nothing,
    what: "Pins that wires, mated contacts and splices join carry one signal: the names in the rows of the interface sheets agree with \
           each other and with those in the wire list. Returns, shields and chassis pins are left out: they meet on purpose.",
    why: "Either two circuits are tied together or one document has the wrong pin. Both look right when read alone.",
    source: "The interface sheets and the wire list; no limit from outside.",
    remedy: "Find which document is wrong by the pin's own sheet; where the names mean the same, write one.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    let net_of = |end: End| case.prepared.node(end).map(|node| wiring.net(node));
    let mut shared = vec![false; case.prepared.nodes()];
    let meets = |port: &Port| {
        matches!(port.meaning.value, PinMeaning::Return | PinMeaning::SignalReturn | PinMeaning::Shield | PinMeaning::Chassis)
    };
    for port in design.ports.iter().map(|(_, port)| port).filter(|port| meets(port)) {
        if let Some(net) = net_of(End::Pin(port.pin)) {
            shared[net as usize] = true;
        }
    }
    // The first row of a net names its signal; every other has to agree with it.
    let mut named: HashMap<u32, (&Given<Name>, Id<Port>)> = HashMap::new();
    for (id, port) in design.ports.iter().filter(|(_, port)| !meets(port)) {
        let Some(signal) = &port.signal else { continue };
        let subject = Subject::Port(id);
        // A pin to which nothing conducts is a net of its own.
        let net = net_of(End::Pin(port.pin)).filter(|&net| !shared[net as usize]);
        out.judged(RULE.code, subject, signal.note);
        let Some(net) = net else { continue };
        let &mut (first, first_port) = named.entry(net).or_insert((signal, id));
        if first.value != signal.value {
            let (own, other) = (design.pin_name(port.pin), design.pin_name(design.ports[first_port].pin));
            let text = format!("{own} carries {} and is joined with {other}, which carries {}", signal.value, first.value);
            out.found(case, RULE.code, subject, signal.at, text, vec![place(first.at, format!("{other} carries {}", first.value))]);
        }
    }
    for (id, wire) in design.wires.iter() {
        let Some(signal) = &wire.signal else { continue };
        let Some((first, port)) = [wire.from, wire.to].into_iter().find_map(|end| named.get(&net_of(end.value)?)) else { continue };
        let subject = Subject::Element(ElementId::Wire(id));
        out.judged(RULE.code, subject, signal.note);
        if first.value != signal.value {
            let pin = design.pin_name(design.ports[*port].pin);
            let text = format!("the wire list says {}, and {pin}, which it joins, carries {}", signal.value, first.value);
            out.found(case, RULE.code, subject, signal.at, text, vec![place(first.at, format!("{pin} carries {}", first.value))]);
        }
    }
}
