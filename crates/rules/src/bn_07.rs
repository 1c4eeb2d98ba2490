//! BN-07: the harness stays away from what could harm it or be harmed by it.

use crate::case::Missing;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-07"),
    title: "distance to what is not wire",
    unit: Unit::Metre,
    what: "Each line, hot surface, moving part, edge, plume or vapour zone that is declared near a segment is no nearer than the profile's least \
           distance for its kind. Of a segment with wires for which nothing is declared, nothing is judged.",
    why: "An arc beside fuel or oxygen is a fire; a hose, a hot pipe or a lever wears through insulation.",
    source: "Fuel, oxygen and flammable fluid: FAA AC 43.13-1B CHG 1, par. 11-96w, 6 in [read]. All other distances of the shipped profiles are \
             samples without a source, to be replaced by the vehicle's own.",
    remedy: "Move one of the two. Where 6 in to a fluid line cannot be had the same paragraph has 2 in with close clamping: then accept the \
             finding with that reason.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut declared = vec![false; design.segments.len()];
    for (id, near) in design.neighbours.iter() {
        let segment = near.segment.value;
        if case.prepared.bundle(segment).is_empty() {
            continue;
        }
        declared[segment.row()] = true;
        let subject = Subject::Neighbour(id);
        let (Some(distance), limit) = (near.distance, design.profile.clearance(near.kind)) else {
            out.not_judged(RULE.code, subject, near.at, Missing::new("distance", "how far it is away is not known"));
            continue;
        };
        let Some(limit) = limit else {
            let why = format!("profile {} states no least distance to a {}", design.profile.name, near.kind.word());
            out.not_judged(RULE.code, subject, near.at, Missing::new(near.kind.clearance_field(), why));
            continue;
        };
        let judged = Judged {
            rule: RULE.code,
            subject,
            value: distance.value.0,
            limit: limit.value.0,
            bound: Bound::AtLeast,
            at: distance.at,
            text: format!("{} beside segment {}", near.kind.word(), design.segments[segment].name),
        };
        out.margin(judged, distance.note.into_iter().chain(limit.note), Vec::new());
    }
    for (id, segment) in design.segments.iter().filter(|(id, _)| !declared[id.row()]) {
        if !case.prepared.bundle(id).is_empty() {
            let missing = Missing::new("near", "nothing that is not wire is declared near it");
            out.not_required(RULE.code, Subject::Segment(id), segment.at, missing);
        }
    }
}
