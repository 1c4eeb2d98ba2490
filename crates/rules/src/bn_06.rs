//! BN-06: ties are near enough to each other.

use crate::case::Missing;
use crate::harness::outside;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;
use physics::Metre;
use physics::bundle::support_pitch;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-06"),
    title: "distance between ties",
    unit: Unit::Metre,
    what: "The ties of a segment with more than one wire or cable are no farther apart than the catalog's pitch for its diameter: by its \
           `tie_pitch`, that of the vehicle, or its single ties and clamps. What a covering or duct holds together needs no ties; nor, where the \
           profile has `ties_beyond`, does a stretch between clamps that is no longer.",
    why: "A loose wire is caught, chafes, and hangs out of its clamp.",
    source: "The rows of catalog/support-pitch.csv: NASA-STD-8739.4A, table 9-1 [from memory]. `ties_beyond`: FAA AC 43.13-1B CHG 1, par. \
             11-158b, 12 in [read]. A covering in place of ties: common practice, no source.",
    remedy: "Ties at a closer pitch.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut clamps_of: Vec<Vec<&Clamp>> = vec![Vec::new(); design.segments.len()];
    for (_, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind != ClampKind::Hole) {
        clamps_of[clamp.segment.value.row()].push(clamp);
    }
    for (id, segment) in design.segments.iter() {
        let bundle = case.prepared.bundle(id);
        let alone = bundle.members.len() + bundle.unsized_.iter().filter(|one| !matches!(one.of, Subject::Covering(_))).count() < 2;
        if bundle.is_empty() || alone || !segment.coverings.is_empty() || segment.duct.is_some_and(|duct| duct.value) {
            continue;
        }
        let subject = Subject::Segment(id);
        let mut missing = |missing: Missing| out.not_judged(RULE.code, subject, segment.at, missing);
        if let Some(beyond) = design.profile.ties_beyond
            && let Some(gap) = case.prepared.held(id).longest()
            && gap.between.iter().all(Option::is_some)
            && gap.length <= beyond.value
        {
            out.judged(RULE.code, subject, beyond.note);
            continue;
        }
        let widest = match segment.tie_pitch.or(design.tie_pitch) {
            Some(pitch) => Some((pitch, "its ties".to_owned())),
            None => single_ties(segment, &clamps_of[id.row()]),
        };
        let Some((pitch, whose)) = widest else {
            missing(Missing::new("tie_pitch", "how far apart its ties are is not stated"));
            continue;
        };
        let row = outside(design, bundle).and_then(|diameter| {
            let table: Vec<_> = design.practice.ties.iter().map(|row| row.step).collect();
            let limit = support_pitch(&table, diameter);
            let found = design.practice.ties.iter().find(|row| Some(row.step.pitch) == limit);
            found.ok_or_else(|| Missing::new("support-pitch", "the catalog has no row of ties for its diameter"))
        });
        match row {
            Err(why) => missing(why),
            Ok(row) => {
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: pitch.value.0,
                    limit: row.step.pitch.0,
                    bound: Bound::AtMost,
                    at: pitch.at,
                    text: format!("{whose} of a bundle of {:.1} mm", bundle.known_outside().0 * 1e3),
                };
                out.margin(judged, bundle.notes().chain(pitch.note).chain(row.note), vec![place(row.at, "the row of the catalog")]);
            }
        }
    }
}

/// The widest stretch between single ties and clamps of a segment, where ties are listed one by one.
fn single_ties(segment: &Segment, all: &[&Clamp]) -> Option<(Given<Metre>, String)> {
    if !all.iter().any(|clamp| clamp.kind == ClampKind::Tie) {
        return None;
    }
    let mut places = all.iter().map(|clamp| Some((clamp.position?, &clamp.name))).collect::<Option<Vec<_>>>()?;
    places.sort_by(|a, b| a.0.value.0.total_cmp(&b.0.value.0));
    let (first, last) = (places.first()?, places.last()?);
    let mut widest = (first.0, format!("{} and the end before it", first.1));
    let beyond = last.0.map(|at| segment.length.value - at);
    if beyond.value > widest.0.value {
        widest = (beyond, format!("{} and the end behind it", last.1));
    }
    for pair in places.windows(2) {
        let [(a, one), (b, other)] = pair else { continue };
        let between = b.map(|at| at - a.value);
        if between.value > widest.0.value {
            widest = (between, format!("{one} and {other}"));
        }
    }
    Some(widest)
}
