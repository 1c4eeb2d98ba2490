//! HT-03: surfaces within reach are not too hot to touch.

use crate::case::Missing;
use crate::heat::heat_unknown;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("HT-03"),
    title: "touch temperature",
    unit: Unit::Celsius,
    what: "Mean temperature of the outside of a segment that people can touch (`reachable`), in the hottest surroundings that its zone states, is no \
           more than touch_limit of the profile. bundle_heat_margin is not added: it is of the inside of a bundle, and the outside follows from the \
           heat as a whole.",
    why: "Whoever grips a hot bundle burns a hand, or lets go of something else.",
    source: "touch_limit of the limits profile; the shipped ones are recalled: NASA-STD-3001 Volume 2, MIL-STD-1472 [from memory]. The governing \
             standard of a crewed vehicle decides.",
    remedy: "A covering that keeps hands off, a place out of reach, less heat.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let Some(heat) = &point.heat else { return };
    let design = case.design;
    for (segment, row) in design.segments.iter().filter(|(_, row)| row.reachable.is_some_and(|reach| reach.value)) {
        let subject = Subject::Segment(segment);
        let known = &heat.segments[segment];
        if *known == SegmentHeat::Empty {
            continue;
        }
        let judged = match known {
            SegmentHeat::Known(section) => {
                let none = || ("touch_limit".to_owned(), "the limits profile states no touch_limit".to_owned());
                design.profile.touch_limit.ok_or_else(none).map(|limit| (section, limit))
            }
            other => Err(heat_unknown(design, None, other).unwrap_or_default()),
        };
        match judged {
            Err((field, why)) => out.not_judged(point, RULE.code, subject, row.at, Missing::new(field, why)),
            Ok((section, limit)) => {
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: section.skin.celsius(),
                    limit: limit.value.celsius(),
                    bound: Bound::AtMost,
                    at: row.at,
                    text: String::new(),
                };
                out.push(point, judged, || {
                    let mut notes = case.prepared.heat_notes(point.scenario.phase, segment);
                    notes.extend(limit.note);
                    notes
                });
            }
        }
    }
}
