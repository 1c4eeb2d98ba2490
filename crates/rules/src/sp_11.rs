//! SP-11: wires under a blade.

use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

/// Current that is none, A.
const NOTHING: f64 = 0.1;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-11"),
    title: "wires under a blade",
    unit: Unit::Nothing,
    what: "While a blade passes through a segment it bridges all its wires to each other and to structure, with both halves as they stand then: none of them brings more than 0.1 A into the blade, and no load that works lets go. Judged by `separate`.",
    why: "The blade is a short circuit of everything under it for as long as it takes to pass; a live wire welds it, or takes the bus down that flies the vehicle.",
    source: "0.1 A, as for faults of fed wires: common practice, no source.",
    remedy: "Everything under the blade dead before it goes; a device that opens on it stays open.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for event in &table.events {
        let row = &design.separations[event.separation];
        for bridged in &event.bridged {
            let step = &row.steps[bridged.step];
            let Act::Cut(segments) = &step.act else { continue };
            let Some(segment) = segments.first() else { continue };
            let subject = Subject::Segment(segment.value);
            out.judged(RULE.code, subject, []);
            let state = format!("{} wires under the blade of step {}, {} corner", bridged.wires.len(), step.name, bridged.corner.word());
            if !bridged.settled {
                found(case, out, event, (RULE.code, subject, step.at), format!("with {state}, the network has no operating point"));
            }
            if let Some((wire, current)) = bridged.worst.filter(|(_, current)| *current > NOTHING) {
                let text = format!("wire:{} brings {current:.2} A into the blade, {state}", design.wires[wire].name);
                found(case, out, event, (RULE.code, subject, step.at), text);
            }
            if !bridged.upset.is_empty() {
                let names: Vec<String> = bridged.upset.iter().map(|&load| design.element_words(ElementId::Load(load))).collect();
                let text = format!("{} let go, with {state}", names.join(", "));
                found(case, out, event, (RULE.code, subject, step.at), text);
            }
        }
    }
}
