//! BN-02: wires stay clear of the edge of a hole, or the hole has a grommet.

use crate::case::Missing;
use crate::harness::outside;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring, passes};
use model::*;
use physics::bundle::clearance;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-02"),
    title: "clear of the edge of a hole",
    unit: Unit::Metre,
    what: "Around a bundle in the middle of a hole without a grommet there is at least the profile's clearance on each side.",
    why: "Wires that swing against an edge are cut by it.",
    source: "FAA AC 43.13-1B CHG 1, par. 11-115: 3/8 in at an unclamped penetration [read].",
    remedy: "A grommet in the hole, a larger hole, a clamp that holds the bundle off its edge.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, hole) in design.clamps.iter().filter(|(_, clamp)| clamp.kind == ClampKind::Hole) {
        let bundle = case.prepared.bundle(hole.segment.value);
        if bundle.is_empty() {
            continue;
        }
        let subject = Subject::Clamp(id);
        if let Some(grommet) = hole.grommet.filter(|grommet| grommet.value) {
            out.judged(RULE.code, subject, grommet.note);
            continue;
        }
        let room = (|| {
            let limit = design
                .profile
                .hole_clearance
                .ok_or_else(|| Missing::new("hole_clearance", format!("profile {} states no hole_clearance", design.profile.name)))?;
            let bore = hole.bore.ok_or_else(|| Missing::new("bore", "the bore of the hole is not known"))?;
            Ok((limit, bore, clearance(outside(design, bundle)?, bore.value)))
        })();
        match room {
            Err(missing) => out.not_judged(RULE.code, subject, hole.at, missing),
            Ok((limit, _, room)) if hole.grommet.is_none() && !passes(room.0, limit.value.0, Bound::AtLeast) => {
                let why = "the bundle is near its edge, and whether it has a grommet is not stated";
                out.not_judged(RULE.code, subject, hole.at, Missing::new("grommet", why));
            }
            Ok((limit, bore, room)) => {
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: room.0,
                    limit: limit.value.0,
                    bound: Bound::AtLeast,
                    at: bore.at,
                    text: "no grommet".to_owned(),
                };
                out.margin(judged, bundle.notes().chain(bore.note).chain(limit.note), Vec::new());
            }
        }
    }
}
