//! SP-09: who commands a step.

use crate::case::Missing;
use crate::separation::found;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SP-09"),
    title: "who commands a step",
    unit: Unit::Nothing,
    what: "Each step of a separation that commands or cuts: the load whose unit commands it (`by`) works just before, and also with everything parted where contacts may have parted by then. Judged by `separate`.",
    why: "A dead-face command that comes from a unit on the other half never comes.",
    source: "The wiring itself; no limit from outside.",
    remedy: "A commander in the half that stays with the device, or the command before the parting.",
    check: Check::Separation(check),
};

fn check(case: &Case, table: &SeparationTable, out: &mut Papers) {
    for event in &table.events {
        let row = &case.design.separations[event.separation];
        for commands in &event.commands {
            let step = &row.steps[commands.step];
            let first = match &step.act {
                Act::Command(states) => states.first().map(|given| Subject::Element(given.value.0)),
                Act::Cut(segments) => segments.first().map(|given| Subject::Segment(given.value)),
                Act::Release(_) => None,
            };
            let Some(first) = first else { continue };
            match (step.by, commands.by_fed) {
                (Some(by), Some(fed)) => {
                    let subject = Subject::Element(ElementId::Load(by.value));
                    out.judged(RULE.code, subject, by.note);
                    if !fed {
                        let when = if commands.after_parting { ", when contacts may have parted" } else { "" };
                        let text = format!("step {} is to be commanded by it, and it has no power then{when}", step.name);
                        found(case, out, event, (RULE.code, subject, step.at), text);
                    }
                }
                _ => {
                    let missing = Missing::new("by", format!("step {} does not say who commands it", step.name));
                    // A ground supply is commanded on the ground.
                    let on_ground = |states: &[Given<(ElementId, Commanded)>]| {
                        let is_supply = |element: ElementId| match element {
                            ElementId::Source(id) => case.design.batteries[id].kind == SourceKind::GroundSupply,
                            _ => false,
                        };
                        states.iter().all(|given| is_supply(given.value.0))
                    };
                    match &step.act {
                        Act::Command(states) if on_ground(states) => out.not_required(RULE.code, first, step.at, missing),
                        _ => out.not_judged(RULE.code, first, step.at, missing),
                    }
                }
            }
        }
    }
}
