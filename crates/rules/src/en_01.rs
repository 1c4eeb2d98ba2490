//! EN-01: what is left of a battery at the end of each phase.

use crate::case::Missing;
use crate::energy::{Mission, notes, usable_left};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use analysis::timeline_budget::unusable;
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-01"),
    title: "reserve of a battery",
    unit: Unit::Percent,
    what: "Share of a battery's usable charge that is left at the end of each phase, in every corner; at least energy_reserve of the limits profile. Usable is what lies \
           above its cut-off voltage at its greatest current and coldest, less charge_uncertainty of the limits profile as a share of its rated charge. The low corner has the \
           least charge, the most worn and coldest cells, and the greatest loads.",
    why: "A mission that uses up its charge as planned has nothing for what was not planned.",
    source: "energy_reserve and charge_uncertainty of the limits profile, each with its source there.",
    remedy: "A larger battery or one string more, loads off in phases that can spare them, a warmer battery, less time in storage.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    let design = case.design;
    mission.lacking(case, RULE.code, out);
    for (column, &battery) in mission.timeline.batteries.iter().enumerate() {
        let subject = Subject::Element(ElementId::Source(battery));
        let row = &design.batteries[battery];
        let Some(cells) = &row.cells else { continue };
        let rests_on = notes(case, battery);
        let rated = design.battery_types[cells.kind.value].curve.rated.0 * f64::from(cells.strings.value);
        mission.ended_early(case, RULE.code, subject, row.at, out);
        for run in &mission.timeline.runs {
            let unusable = unusable(design, run, column, battery)
                .ok_or_else(|| Missing::new("cut_off of its type", "the catalog has no voltage at which its type is empty"));
            let profile = &design.profile.energy;
            let limit = |value: Option<Given<physics::Ratio>>, field: &str| {
                value.ok_or_else(|| Missing::new(field, format!("the limits profile states no {field}")))
            };
            let judged = unusable.and_then(|unusable| {
                Ok((unusable, limit(profile.reserve, "energy_reserve")?, limit(profile.uncertainty, "charge_uncertainty")?))
            });
            for leg in run.legs.iter().filter(|leg| leg.ends_phase) {
                let (Some(point), Some(last)) = (mission.point(leg.phase, run.corner), leg.instants.last()) else { continue };
                match &judged {
                    Err(missing) => {
                        out.not_judged(point, RULE.code, subject, row.at, Missing::new(missing.field.clone(), missing.why.clone()));
                    }
                    Ok((unusable, reserve, uncertain)) => {
                        let left = last.batteries[column].left;
                        let value = 100.0 * usable_left(left, *unusable, uncertain.value.0, rated / run.charge[column].0);
                        let text = format!(
                            "{:.1} of {:.1} Ah are left, of which {:.1} Ah lie below its cut-off and {:.1} Ah are uncertain",
                            left * run.charge[column].0 / 3600.0,
                            run.charge[column].0 / 3600.0,
                            unusable * run.charge[column].0 / 3600.0,
                            uncertain.value.0 * rated / 3600.0
                        );
                        let judged = Judged {
                            rule: RULE.code,
                            subject,
                            value,
                            limit: 100.0 * reserve.value.0,
                            bound: Bound::AtLeast,
                            at: row.at,
                            text,
                        };
                        out.push(point, judged, || rests_on.iter().copied().chain(reserve.note).chain(uncertain.note).collect());
                    }
                }
            }
        }
    }
}
