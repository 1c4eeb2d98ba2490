//! IC-03: a load that has no way back.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-03"),
    title: "load without return",
    unit: Unit::Nothing,
    what: "The return of each load and converter reaches the negative terminal of a source however switches stand. Each pin called \
           power-in has its own return wired; where its row names none, the unit has a return or chassis pin with a wire, or its case \
           is bonded.",
    why: "The current finds another way back: through a shield, a signal return or structure, or not at all.",
    source: "Kirchhoff's first law; the unit's own interface sheet; no limit from outside.",
    remedy: "The return wire beside its feed, of the same gauge.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    let loads = design.loads.iter().map(|(id, load)| (ElementId::Load(id), load.line_return, load.at));
    let converters = design.converters.iter().map(|(id, c)| (ElementId::Converter(id), c.line_return, c.at));
    for (element, back, at) in loads.chain(converters) {
        if design.batteries.is_empty() {
            break;
        }
        let subject = Subject::Element(element);
        let node = case.prepared.node(back.value);
        let is_returned = node.is_some_and(|node| wiring.is_returned(node));
        if !is_returned && node.is_some_and(|node| wiring.leads_out(node)) {
            let why = "its return leads to a box of which nothing is known";
            out.not_judged(RULE.code, subject, at, Missing::new("source", why));
            continue;
        }
        out.judged(RULE.code, subject, back.note);
        if !is_returned {
            let text = format!("its return {} reaches no source however switches stand", design.end_name(back.value));
            out.found(case, RULE.code, subject, at, text, vec![place(back.at, "its return")]);
        }
    }
    let mut by_unit = vec![Returns::default(); design.units.len()];
    for port in design.ports.iter().map(|(_, port)| port) {
        if let (PinMeaning::Return | PinMeaning::Chassis, Some(unit)) = (port.meaning.value, unit_of(design, port.pin)) {
            let own = &mut by_unit[unit.row()];
            own.named = true;
            own.wired |= is_wired(wiring, port.pin);
        }
    }
    for (id, port) in design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::PowerIn) {
        let subject = Subject::Port(id);
        let name = design.pin_name(port.pin);
        if let Some(back) = port.own_return {
            out.judged(RULE.code, subject, back.note);
            if !is_wired(wiring, back.value) {
                let text = format!("{}, the return of {name}, has no wire", design.pin_name(back.value));
                let row = wiring.port_at(back.value).map(|id| place(design.ports[id].at, "the row of the return"));
                out.found(case, RULE.code, subject, back.at, text, row.into_iter().collect());
            }
            continue;
        }
        let Some(unit) = unit_of(design, port.pin) else { continue };
        let is_bonded = case.prepared.node(End::Case(unit)).is_some();
        match by_unit[unit.row()] {
            Returns { wired: true, .. } => out.judged(RULE.code, subject, port.meaning.note),
            _ if is_bonded => out.judged(RULE.code, subject, port.meaning.note),
            Returns { named: true, .. } => {
                out.judged(RULE.code, subject, port.meaning.note);
                let text = format!("{name} takes power, and no return or chassis pin of unit {} has a wire", design.units[unit].name);
                out.found(case, RULE.code, subject, port.at, text, Vec::new());
            }
            Returns { .. } => {
                let why = format!("its row names no own_return, and no row of unit {} is a return", design.units[unit].name);
                out.not_judged(RULE.code, subject, port.at, Missing::new("own_return", why));
            }
        }
    }
}

#[derive(Clone, Copy, Default)]
struct Returns {
    named: bool,
    wired: bool,
}

fn unit_of(design: &Design, pin: Id<Pin>) -> Option<Id<model::Unit>> {
    design.connectors[design.pins[pin].connector].unit.map(|unit| unit.value)
}

/// Whether a wire lands on a pin or its mate, a plug stands in for one, or another unit's insides do through a direct mate.
fn is_wired(wiring: &Wiring, pin: Id<Pin>) -> bool {
    wiring.wires_at(pin).next().is_some() || wiring.is_plugged(pin) || wiring.mate(pin).is_some_and(|mate| wiring.is_used_inside(mate))
}
