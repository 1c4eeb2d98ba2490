//! BN-01: the bundle goes through its holes and clamps.

use crate::case::Missing;
use crate::harness::outside;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-01"),
    title: "bundle through hole or clamp",
    unit: Unit::Metre,
    what: "The bundle of a segment, with its coverings, is no thicker than the opening of each clamp and hole on it. Its wires and cables are \
           packed as circles; a real bundle has crossings and is looser, by some 5 % for many like wires (trade habit, from memory).",
    why: "What does not go through is found with the harness on the vehicle.",
    source: "The opening is the vehicle's own; the diameter is computed: packing of unlike circles. No limit from outside.",
    remedy: "A larger opening, fewer wires on this way, a thinner covering.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind != ClampKind::Tie) {
        let bundle = case.prepared.bundle(clamp.segment.value);
        if bundle.is_empty() {
            continue;
        }
        let subject = Subject::Clamp(id);
        let Some(bore) = clamp.bore else {
            let why = format!("the bore of the {} is not known", clamp.kind.word());
            out.not_judged(RULE.code, subject, clamp.at, Missing::new("bore", why));
            continue;
        };
        match outside(design, bundle) {
            Err(missing) => out.not_judged(RULE.code, subject, clamp.at, missing),
            Ok(outside) => {
                let segment = &design.segments[clamp.segment.value];
                let text = match bundle.members.len() {
                    1 => format!("segment {} holds 1 wire or cable", segment.name),
                    many => format!("segment {} holds {many} wires and cables", segment.name),
                };
                let judged =
                    Judged { rule: RULE.code, subject, value: outside.0, limit: bore.value.0, bound: Bound::AtMost, at: bore.at, text };
                out.margin(judged, bundle.notes().chain(bore.note), vec![place(segment.at, "the segment")]);
            }
        }
    }
}
