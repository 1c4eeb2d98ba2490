//! WI-01: insulation families where they do not belong.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("WI-01"),
    title: "insulation family",
    unit: Unit::Nothing,
    what: "No wire insulated with polyimide tape alone is part of a power circuit: its net does not reach a source, protector, switch, converter \
           or load. And the cores of one cable are not of hard and of soft insulation together.",
    why: "Polyimide tape tracks: one arc chars it, the char conducts, and the fault runs along the bundle faster than a breaker opens. A hard \
          insulation cuts into a soft one where they cross and are tied.",
    source: "Arc tracking of aromatic polyimide: FAA AC 43.13-1B, chapter 11 [from memory]; hard on soft: common practice, no source.",
    remedy: "A composite of fluoropolymer and polyimide, or crosslinked ETFE, for power; one family in a cable.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    if design.wire_specs.iter().all(|(_, spec)| spec.family.is_none()) {
        return;
    }
    let mut power = vec![false; case.prepared.nodes()];
    for branch in case.prepared.branches() {
        use ElementId::*;
        if matches!(branch.element, Source(_) | Protector(_) | Switch(_) | Converter(_) | Load(_)) {
            for node in [branch.from, branch.to] {
                power[wiring.track(node) as usize] = true;
            }
        }
    }
    for (id, wire) in design.wires.iter() {
        let in_power = [wire.from, wire.to].into_iter().find_map(|end| case.prepared.node(end.value));
        let Some(spec) = wire.spec.filter(|_| in_power.is_some_and(|node| power[wiring.track(node) as usize])) else { continue };
        let row = &design.wire_specs[spec.value];
        let subject = Subject::Element(ElementId::Wire(id));
        match &row.family {
            None => {
                // Where the list gives no type, one of bare conductor tables is assumed, which says nothing of insulation.
                let is_assumed = spec.note.is_some_and(|note| design.note(note).standing == Standing::Assumed);
                let missing = match is_assumed {
                    true => Missing::new(
                        "type",
                        format!("the wire's type is not stated, and the assumed {} says nothing of insulation", row.kind),
                    ),
                    false => Missing::new("family", format!("the insulation family of wire type {} is not known", row.kind)),
                };
                out.not_judged(RULE.code, subject, wire.at, missing);
            }
            Some(family) => {
                out.judged(RULE.code, subject, None);
                if &**family == "polyimide-tape" {
                    let text = format!("{} is insulated with polyimide tape, in a power circuit", row.kind);
                    out.found(case, RULE.code, subject, spec.at, text, vec![place(row.at, "the wire type")]);
                }
            }
        }
    }
    for id in design.cables.ids() {
        let cores = wiring.cores(id).iter().map(|&wire| &design.wires[wire]);
        let hardness = |wire: &Wire| {
            let spec = &design.wire_specs[wire.spec?.value];
            spec.family.as_ref().map(|_| spec.hard)
        };
        let known: Vec<(&Wire, bool)> = cores.filter_map(|wire| Some((wire, hardness(wire)?))).collect();
        let Some(&(first, is_hard)) = known.first() else { continue };
        let subject = Subject::Cable(id);
        out.judged(RULE.code, subject, None);
        if let Some((other, _)) = known.iter().find(|(_, hard)| *hard != is_hard) {
            let word = |hard: bool| if hard { "hard" } else { "soft" };
            let text =
                format!("its cores {} ({}) and {} ({}) are of unlike insulation", first.name, word(is_hard), other.name, word(!is_hard));
            out.found(case, RULE.code, subject, other.at, text, vec![place(first.at, word(is_hard))]);
        }
    }
}
