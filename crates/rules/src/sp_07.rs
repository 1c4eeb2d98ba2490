//! SP-07: what works through the parting.

use crate::separation::{found, margin, of_kind, state_words};
use crate::{Case, Check, Judged, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-07"),
    title: "what works through the parting",
    unit: Unit::Volt,
    what: "Each load that works before the first step and is commanded on when everything has parted: it works then, and in no state in between does its voltage fall below what lets it go, else below its least voltage. With late steps; not with a device stuck, which `separate` lists. Judged by `separate`.",
    why: "The computer that resets while the plane parts is the one that flies what is left.",
    source: "drop_out of the load's own row, else its volts_min or the profile's. No limit from outside.",
    remedy: "The half on its own source before anything parts; a source that reaches the load by two ways.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    let design = case.design;
    for event in &table.events {
        for &load in &event.lost {
            let (subject, at) = (Subject::Element(ElementId::Load(load)), design.loads[load].at);
            out.judged(RULE.code, subject, []);
            found(case, out, event, (RULE.code, subject, at), "it works before and has no power when everything has parted".to_owned());
        }
        for worst in of_kind(event, |target| matches!(target, Target::Volts(_))) {
            let Target::Volts(load) = worst.target else { continue };
            if matches!(event.variants[worst.variant], Variant::Stuck(_)) {
                continue;
            }
            let (subject, at) = (Subject::Element(ElementId::Load(load)), design.loads[load].at);
            let least = design.loads[load].drop_out.unwrap_or_else(|| crate::volts_limits(design, load).0);
            out.judged(RULE.code, subject, least.note);
            let (value, text) = (worst.value, state_words(case, event, worst));
            margin(case, out, event, Judged { rule: RULE.code, subject, value, limit: least.value.0, bound: Bound::AtLeast, at, text });
        }
    }
}
