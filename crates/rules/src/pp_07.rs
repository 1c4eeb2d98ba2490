//! PP-07: rating of a protector against what flows for long.

use crate::case::Missing;
use crate::feeds::{Feeds, device_notes, device_of, shape_words};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::trip::RATED_AT;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-07"),
    title: "continuous current of a breaker, fuse or limiter",
    unit: Unit::Ampere,
    what: "Current of each closed protector at the settled point, against the share of its rating that the limits profile allows for its kind \
           (breaker_share, fuse_share, limiter_share), moved to the hottest ambient of the phase by the maker's own factor or the usual law of a \
           thermal device; never more than it holds there for good. Every state counts as lasting. Where all loads behind it are intermittent nothing \
           flows for long; as soon as one is continuous the whole current counts.",
    why: "A thermal device that is loaded near its rating opens on a hot day without any fault, and a fuse ages.",
    source: "Fuses of 2 to 15 A in vacuum 50 %: EEE-INST-002, section F1 [from memory]; cermet fuses 65 %: ECSS-Q-ST-30-11C, table 6-17 [read, as \
             restated in a public hardware project]; class of a limiter: ECSS-E-ST-20-20C, 3.2.14 [read]. Share of a breaker: common practice, no source. \
             The maker's data and a test of the part govern.",
    remedy: "A larger rating if the wire allows it, a cooler place, fewer loads behind it.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    if design.protectors.is_empty() {
        return;
    }
    let open_loads = case.open_loads(point);
    let feeds = Feeds::of(case, point, out);
    let hottest = design.device_ambient(point.scenario.phase)[1];
    for (id, protector) in design.protectors.iter() {
        let element = ElementId::Protector(id);
        let subject = Subject::Element(element);
        let Some(current) = case.current(point, element) else { continue };
        if current.as_ref().is_ok_and(|current| *current == 0.0) {
            continue;
        }
        let known = current.and_then(|current| Ok((current, device_of(design, id)?, share(design, protector.kind)?)));
        let known = known.and_then(|known| case.unknown_on_way(point, element).map_or(Ok(known), Err));
        let (current, device, share) = match known {
            Ok(known) => known,
            Err(missing) => {
                out.not_judged(point, RULE.code, subject, protector.at, missing);
                continue;
            }
        };
        let rows = &feeds.behind[id];
        let is_short =
            |row: &usize| matches!(feeds.ways[*row].0, ElementId::Load(load) if design.loads[load].duty.value == Duty::Intermittent);
        let all_short = !rows.is_empty() && rows.iter().all(is_short);
        let factor = device.trip.factor(hottest.value, RATED_AT);
        let derated = device.trip.rating.0 * share.value.0 * factor;
        let limit = device.trip.holds(hottest.value).map_or(derated, |holds| derated.min(holds.0));
        let value = if all_short { 0.0 } else { current.abs() };
        let mut text = format!(
            "{:.0} % of {} A, times {factor:.3} at {:.0} degC",
            share.value.0 * 100.0,
            device.trip.rating.0,
            hottest.value.celsius()
        );
        if all_short {
            text.push_str(&format!("; the loads behind it are intermittent: their {:.2} A do not count", current.abs()));
        }
        let text = text + &shape_words(device);
        out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: protector.at, text }, || {
            let mut notes = case.way_notes(point, element, &open_loads);
            notes.extend(device_notes(design, id, device));
            notes.extend([share.note, hottest.note].into_iter().flatten());
            notes
        });
    }
}

fn share(design: &Design, kind: ProtectorKind) -> Result<Given<physics::Ratio>, Missing> {
    let limits = &design.profile.protection;
    let (share, field) = match kind {
        ProtectorKind::Breaker => (limits.breaker_share, "breaker_share"),
        ProtectorKind::Fuse => (limits.fuse_share, "fuse_share"),
        ProtectorKind::Limiter => (limits.limiter_share, "limiter_share"),
    };
    share.ok_or_else(|| Missing::new(format!("{field} of the profile"), format!("the limits profile states no {field}")))
}
