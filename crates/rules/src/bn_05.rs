//! BN-05: clamps are near enough to each other.

use crate::case::Missing;
use crate::harness::outside;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;
use physics::bundle::support_pitch;
use std::collections::HashSet;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-05"),
    title: "distance between clamps",
    unit: Unit::Metre,
    what: "Between two things that hold the harness it runs no farther than the catalog's pitch of clamps for its diameter. It is held by clamps \
           and where it ends on a connector, stud or ground point or comes out of a duct; over a breakout that holds nothing, the stretch runs \
           on to the nearest support. Holes and ties hold nothing. A segment that lies in a duct is held all along.",
    why: "A long free stretch chafes, and swings at a low frequency.",
    source: "The rows of catalog/support-pitch.csv: FAA AC 43.13-1B CHG 1, par. 11-96a, 24 in [read]. Space practice limits spans by vibration: \
             see the frequencies in `show bundles`.",
    remedy: "A clamp more.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut seen: HashSet<[Subject; 2]> = HashSet::new();
    for (id, segment) in design.segments.iter() {
        let bundle = case.prepared.bundle(id);
        if bundle.is_empty() {
            continue;
        }
        let subject = Subject::Segment(id);
        let mut missing = |missing: Missing| out.not_judged(RULE.code, subject, segment.at, missing);
        if let Some(duct) = segment.duct.filter(|duct| duct.value) {
            out.judged(RULE.code, subject, duct.note);
            continue;
        }
        let held = case.prepared.held(id);
        if let Some(&clamp) = held.nowhere.first() {
            let words = design.subject_words(Subject::Clamp(clamp));
            missing(Missing::new(format!("at of {words}"), format!("where {words} is on it is not known")));
            continue;
        }
        let mut gaps = held.gaps.clone();
        gaps.sort_by(|a, b| b.length.0.total_cmp(&a.length.0));
        if gaps.iter().any(|gap| gap.between.contains(&None)) {
            missing(Missing::new("clamp", "nothing that holds it is declared: no clamp, and no connector at its end"));
            continue;
        }
        // A stretch that runs on over a breakout is judged with the first of its segments.
        let Some((gap, [a, b])) = gaps.iter().find_map(|gap| {
            let [Some(a), Some(b)] = gap.between else { return None };
            seen.insert([a.min(b), a.max(b)]).then_some((gap, [a, b]))
        }) else {
            out.judged(RULE.code, subject, None);
            continue;
        };
        let table: Vec<_> = design.practice.clamps.iter().map(|row| row.step).collect();
        let diameter = match table.first() {
            None => Err(Missing::new("support-pitch", "the catalog has no row of clamps")),
            // One row for all bundles needs no diameter.
            Some(step) if step.to.is_none() => Ok(bundle.known_outside()),
            Some(_) => outside(design, bundle),
        };
        let row = diameter.and_then(|diameter| {
            let pitch = support_pitch(&table, diameter);
            let found = design.practice.clamps.iter().find(|row| Some(row.step.pitch) == pitch);
            found.ok_or_else(|| Missing::new("support-pitch", "the catalog's rows of clamps end below its diameter"))
        });
        match row {
            Err(why) => missing(why),
            Ok(row) => {
                let text = format!("from {} to {}", design.subject_words(a), design.subject_words(b));
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: gap.length.0,
                    limit: row.step.pitch.0,
                    bound: Bound::AtMost,
                    at: segment.at,
                    text,
                };
                let clamps = [a, b].into_iter().filter_map(|held| match held {
                    Subject::Clamp(id) => Some((id, design.clamps[id].position?.note)),
                    _ => None,
                });
                let notes = clamps.filter_map(|(_, note)| note).chain(segment.length.note).chain(row.note);
                out.margin(judged, notes.collect::<Vec<_>>(), vec![place(row.at, "the row of the catalog")]);
            }
        }
    }
}
