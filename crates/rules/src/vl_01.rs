//! VL-01: volts at the load.

use crate::case::Terminal;
use crate::feeds::Feeds;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::Volt;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("VL-01"),
    title: "volts at load",
    unit: Unit::Volt,
    what: "Voltage between the terminals of each load that is commanded on, at the settled point, in every phase and corner: \
           not under its least, not over its greatest. A load that let go is judged at the voltage at which it let go, where below its drop-out \
           voltage it counts as the resistance that it is at that voltage.",
    why: "Equipment is qualified between a least and a greatest terminal voltage, and nowhere else.",
    source: "The load's own volts_min and volts_max; where its row has none, volts_min and volts_max of the limits profile, \
             each with its source there.",
    remedy: "Under: larger gauge, shorter run, parallel conductor, fewer contacts, a load moved to another bus. \
             Over: a load rated for the bus, or a source that stays lower.",
    check: Check::Point(check),
};

/// Least and greatest terminal voltage of a load: its own, else the profile's.
pub fn volts_limits(design: &Design, load: Id<Load>) -> (Given<Volt>, Given<Volt>) {
    let row = &design.loads[load];
    (row.volts_min.unwrap_or(design.profile.volts_min), row.volts_max.unwrap_or(design.profile.volts_max))
}

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let has_open = case.has_open();
    let (feeds, open_loads) = (Feeds::of(case, point, out), case.open_loads(point));
    for (id, load) in case.design.loads.iter() {
        let element = ElementId::Load(id);
        let subject = Subject::Element(element);
        let (volts, text) = match case.terminal(point, id) {
            None => continue,
            Some(Err(missing)) => {
                out.not_judged(point, RULE.code, subject, load.at, missing);
                continue;
            }
            Some(Ok(Terminal::On(volts))) => (volts, String::new()),
            Some(Ok(Terminal::DroppedOut(volts))) => (volts, "at this voltage it let go".to_owned()),
        };
        if has_open {
            let ladder = feeds.ladder(case, point, id);
            if let Some(missing) = case.unknown_step(ladder.feed.iter().chain(&ladder.back)) {
                out.not_judged(point, RULE.code, subject, load.at, missing);
                continue;
            }
        }
        let (least, greatest) = volts_limits(case.design, id);
        for (limit, bound) in [(least, Bound::AtLeast), (greatest, Bound::AtMost)] {
            let (value, at, text) = (volts.0, load.at, text.clone());
            out.push(point, Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound, at, text }, || {
                let mut notes = case.ladder_notes(point, element, &feeds.ladder(case, point, id), &open_loads);
                notes.extend(limit.note);
                notes
            });
        }
    }
}
