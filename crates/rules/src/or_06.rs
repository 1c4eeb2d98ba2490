//! OR-06: inhibits that fail together.

use crate::case::Missing;
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OR-06"),
    title: "inhibits that fail together",
    unit: Unit::Inhibits,
    what: "Of each initiator, in the phase in which the fewest inhibits stand: the number of those on the way with the fewest that are left after any single fault of the catalogue, \
           and after one coil or driver (`drive`) has moved all its contacts: at least the required number less one. Judged by `separate`.",
    why: "Inhibits that one failure removes together are one inhibit.",
    source: "The required number: the programme's; that each is to be independent of the others: common practice, no source. Range safety and certified procedures govern ordnance work.",
    remedy: "A coil and a command of its own for each, contacts in different connectors, one inhibit in the return.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for hazard in &table.hazards {
        let initiator = &design.initiators[hazard.initiator];
        let subject = Subject::Element(ElementId::Load(initiator.load.value));
        let Some(required) = initiator.inhibits else {
            out.not_judged(
                RULE.code,
                subject,
                initiator.at,
                Missing::new("inhibits", "the number of inhibits that it requires is not stated"),
            );
            continue;
        };
        let limit = f64::from(required.value.saturating_sub(1));
        let all = hazard.inhibits.len();
        let phase = &design.phases[hazard.phase].name;
        let one = hazard.inhibits.iter().filter(|(_, faults)| !faults.is_empty()).map(|_| (all.saturating_sub(1), String::new()));
        let shared =
            hazard.shared.iter().map(|(fault, left)| (*left, format!("{} {}", design.subject_words(fault.item), fault.kind.mode())));
        let drives = hazard.drives.iter().map(|(name, list)| {
            let names: Vec<String> = list.iter().map(|element| design.element_words(*element)).collect();
            (all - list.len(), format!("drive {name} moves {}", names.join(" and ")))
        });
        let worst = one.chain(shared).chain(drives).min_by_key(|(left, _)| *left);
        let (left, by) = worst.unwrap_or((all, String::new()));
        let by = if by.is_empty() { "one fault removes one of them".to_owned() } else { by };
        let text = format!("in phase {phase} {all} inhibits, {left} left: {by}");
        let judged = Judged { rule: RULE.code, subject, value: left as f64, limit, bound: Bound::AtLeast, at: initiator.at, text };
        out.margin(judged, [], Vec::new());
    }
}
