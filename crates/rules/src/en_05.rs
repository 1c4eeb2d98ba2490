//! EN-05: rate at which cells are discharged.

use crate::case::Missing;
use crate::energy::{Mission, clock, notes};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-05"),
    title: "discharge rate of cells",
    unit: Unit::Ampere,
    what: "Greatest current of one string at any step of the mission, pulses as their mean, against the greatest current for long that the catalog states for the type of its cells. \
           Charging is not judged here.",
    why: "A cell discharged faster than it is made for heats, sags and gives less than its charge.",
    source: "greatest_a of the type in the catalog, with its source there.",
    remedy: "One string more, a type for higher rates, loads that take turns.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    let design = case.design;
    for (column, &battery) in mission.timeline.batteries.iter().enumerate() {
        let subject = Subject::Element(ElementId::Source(battery));
        let row = &design.batteries[battery];
        let Some(cells) = &row.cells else { continue };
        let rests_on = notes(case, battery);
        let kind = &design.battery_types[cells.kind.value];
        for (_, leg, point) in mission.legs() {
            let most = leg.instants.iter().max_by(|a, b| a.batteries[column].current.0.total_cmp(&b.batteries[column].current.0));
            let Some(most) = most.filter(|instant| instant.batteries[column].current.0 > 0.0) else { continue };
            match kind.most {
                None => {
                    let why = format!("the catalog has no greatest current for type {}", kind.name);
                    out.not_judged(point, RULE.code, subject, row.at, Missing::new("greatest_a of its type", why));
                }
                Some(limit) => {
                    let strings = f64::from(cells.strings.value);
                    let amperes = most.batteries[column].current.0;
                    let rate = amperes * 3600.0 / (kind.curve.rated.0 * strings);
                    let text = format!(
                        "{amperes:.1} A in {} string{}, {:.0} % of the rated charge in an hour, {} into the mission",
                        cells.strings.value,
                        if cells.strings.value == 1 { "" } else { "s" },
                        100.0 * rate,
                        clock(most.at.0)
                    );
                    let judged = Judged {
                        rule: RULE.code,
                        subject,
                        value: amperes / strings,
                        limit: limit.value.0,
                        bound: Bound::AtMost,
                        at: row.at,
                        text,
                    };
                    out.push(point, judged, || rests_on.iter().copied().chain(limit.note).collect());
                }
            }
        }
    }
}
