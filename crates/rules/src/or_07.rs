//! OR-07: shields of firing circuits.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-07"),
    title: "shield of a firing circuit",
    unit: Unit::Nothing,
    what: "Each wire that lands on the connector of an initiator lies under a shield from end to end: in a shielded or coaxial cable, or in segments that all have a braid; and where `shield_ends` \
           of its cable says where the shield goes, it is cut back at no half. With what resistance it is joined, and where that of a braid goes, is not known here.",
    why: "A gap in the shield of a firing circuit is where a transmitter's field gets in.",
    source: "Shields of firing circuits without gaps: common practice, no source. Range safety and certified procedures govern ordnance work.",
    remedy: "A braid over every segment, a shielded cable.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (_, initiator) in design.initiators.iter() {
        let load = &design.loads[initiator.load.value];
        let mut wires: Vec<Id<Wire>> = Vec::new();
        for end in [load.line.value, load.line_return.value] {
            if let End::Pin(pin) = end {
                wires.extend(wiring.both(pin).flat_map(|pin| wiring.wires_at(pin).map(|(wire, _)| wire).collect::<Vec<_>>()));
            }
        }
        wires.sort_unstable();
        wires.dedup();
        for id in wires {
            let (wire, subject) = (&design.wires[id], Subject::Element(ElementId::Wire(id)));
            let kind = wire.cable.map(|cable| design.cables[cable.value].kind);
            if kind.is_some_and(|kind| kind.is_shielded()) {
                out.judged(RULE.code, subject, []);
                let ends = wire.cable.map_or(&[][..], |cable| &design.cables[cable.value].shield_ends);
                if let Some((half, _)) = ends.iter().find(|(_, end)| *end == ShieldEnd::Cut) {
                    let name = &design.connectors[half.value].name;
                    let text = format!("its shield is cut back at {name}; it belongs to initiator {}", initiator.name);
                    out.found(case, RULE.code, subject, wire.at, text, vec![place(half.at, "the end of the shield")]);
                }
                continue;
            }
            let Some(run) = case.prepared.layout().run(id) else {
                let why = format!("where it lies is not known, and no shielded cable holds it; it belongs to initiator {}", initiator.name);
                out.not_judged(RULE.code, subject, wire.at, Missing::new("route", why));
                continue;
            };
            out.judged(RULE.code, subject, []);
            let bare = |segment: &&Id<Segment>| {
                !design.segments[**segment].coverings.iter().any(|given| design.coverings[given.value].kind == CoveringKind::Braid)
            };
            if let Some(&segment) = run.segments.iter().find(bare) {
                let name = &design.segments[segment].name;
                let text = format!("no braid in segment {name} and no shielded cable; it belongs to initiator {}", initiator.name);
                out.found(case, RULE.code, subject, wire.at, text, vec![place(design.segments[segment].at, "the segment")]);
            }
        }
    }
}
