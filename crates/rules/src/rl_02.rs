//! RL-02: a coil or valve behind a switch without a suppressor.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RL-02"),
    title: "missing suppressor",
    unit: Unit::Nothing,
    what: "Each inductive load, and each with a pull_in, that a switch, relay or tie feeds in some phase has a suppressor: diode, zener or \
           resistor. The switch is on its way between bus and load, as trace prints it.",
    why: "When the contact opens, the coil drives its current on: an arc eats the contact, and hundreds of volts reach what hangs on the \
          same line.",
    source: "Common practice, no source.",
    remedy: "A diode across the coil; a zener with it where the valve has to close fast.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    for (id, load) in case.design.loads.iter() {
        let is_coil = load.kind.value == LoadKind::Inductive || load.pull_in.is_some();
        if !is_coil || matches!(point.load_state[id], LoadState::Off) {
            continue;
        }
        let element = ElementId::Load(id);
        let subject = Subject::Element(element);
        let ladder = case.prepared.trace(point, element);
        // The one next to it, and none above the bus: a battery's own relay switches no valve.
        let below = ladder.feed.iter().skip(ladder.above_bus).rev();
        let beside = ladder.back.iter().take(ladder.back.len() - ladder.beyond_return);
        let switch = below.chain(beside).find_map(|step| match step.element {
            ElementId::Switch(id) => Some(id),
            _ => None,
        });
        let Some(switch) = switch else { continue };
        match load.suppressor.map(|s| s.value) {
            None => {
                out.not_judged(point, RULE.code, subject, load.at, Missing::new("suppressor", "whether it has a suppressor is not stated"))
            }
            Some(Suppressor::Diode | Suppressor::Zener | Suppressor::Resistor) => out.looked_at(RULE.code, subject),
            Some(Suppressor::None) => {
                let words = case.design.element_words(ElementId::Switch(switch));
                let text = format!("it has no suppressor and {words} switches it");
                let also = vec![place(case.design.switches[switch].at, "what switches it")];
                out.trouble_with(case, point, (RULE.code, subject), 0.0, text, also);
            }
        }
    }
}
