//! SP-08: reverse feed while a plane parts.

use crate::en_06::COUNTS;
use crate::separation::{found, of_kind, state_words};
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-08"),
    title: "reverse feed while a plane parts",
    unit: Unit::Nothing,
    what: "Each ground supply, and each battery whose type cannot be charged or is not stated: no current above 10 mA flows into it while sources overlap, in any partial state, with late steps. Judged by `separate`.",
    why: "While two sources share a bus the stronger one feeds the other: a primary cell makes gas, a supply trips or burns.",
    source: "That 10 mA count: common practice, no source, as for EN-06.",
    remedy: "A blocking diode, a supply below the least battery voltage, one source away before the other comes.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for event in &table.events {
        for worst in of_kind(event, |target| matches!(target, Target::Charges(_))) {
            let Target::Charges(id) = worst.target else { continue };
            let source = &design.batteries[id];
            if source.cells.as_ref().is_some_and(|cells| design.battery_types[cells.kind.value].curve.recharges) {
                continue;
            }
            let subject = Subject::Element(ElementId::Source(id));
            out.judged(RULE.code, subject, []);
            if worst.value > COUNTS && !matches!(event.variants[worst.variant], Variant::Stuck(_)) {
                let text = format!("{:.2} A flow into it {}", worst.value, state_words(case, event, worst));
                found(case, out, event, (RULE.code, subject, source.at), text);
            }
        }
    }
}
