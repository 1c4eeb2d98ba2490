//! BN-03: the harness is not bent too sharply.

use crate::case::Missing;
use crate::harness;
use crate::papers::place;
use crate::{Case, Check, Judged, Papers, Rule, Unit, Wiring};
use model::*;
use physics::bundle::BendOf;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("BN-03"),
    title: "bend radius of the harness",
    unit: Unit::Metre,
    what: "The smallest bend of a segment, on its inside, is no less than the largest radius that any wire or cable in it asks for: a multiple \
           of the diameter of the bundle with its coverings or of the member itself, by the practice that the profile names (`bends`). PTFE over \
           polyimide counts as polyimide. A segment that is the straight line between its ends has no bend. What lies in a bend at the \
           breakout between two segments is not looked at.",
    why: "Insulation cracks and strands break where a bend is too sharp, polyimide tape above all.",
    source: "The rows of catalog/bend-radii.csv, shown by `show catalog`: NASA Workmanship book 4 (2002), citing NASA-STD-8739.4 [read]; FAA AC \
             43.13-1B CHG 1, chapter 11 [from memory]. The most sensitive member governs: NASA Workmanship book 4, sec. 4.01 and 4.02 [read].",
    remedy: "A wider bend, a thinner bundle, wire that may be bent more sharply.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, segment) in design.segments.iter() {
        let Some(bend) = harness::bend(design, case.prepared.bundle(id)) else { continue };
        let subject = Subject::Segment(id);
        let Some(radius) = segment.bend else {
            if !segment.is_straight {
                let why = "its smallest bend is not stated, and it is not the straight line between its ends";
                out.not_judged(RULE.code, subject, segment.at, Missing::new("bend", why));
            }
            continue;
        };
        match bend {
            Err(missing) => out.not_judged(RULE.code, subject, segment.at, missing),
            Ok(bend) => {
                let Some(row) = design.practice.bend(bend.of) else { continue };
                let (whose, diameter) = match row.rule.of {
                    BendOf::Bundle => ("the bundle".to_owned(), bend.outside),
                    BendOf::Member => ("its own".to_owned(), bend.radius.minimum / row.rule.minimum),
                };
                let preferred = match bend.radius.preferred {
                    Some(preferred) => format!("; {:.0} mm is to be preferred", preferred.0 * 1e3),
                    None => String::new(),
                };
                let kind = match bend.of {
                    Insulation::Other => String::new(),
                    special => format!(" ({})", special.word()),
                };
                let text = format!(
                    "{}{kind} asks for {} times the diameter of {whose}, {:.1} mm{preferred}",
                    design.subject_words(bend.by.subject()),
                    row.rule.minimum,
                    diameter.0 * 1e3
                );
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: radius.value.0,
                    limit: bend.radius.minimum.0,
                    bound: Bound::AtLeast,
                    at: radius.at,
                    text,
                };
                out.margin(judged, bend.notes.into_iter().chain(radius.note), vec![place(row.at, "the row of the catalog")]);
            }
        }
    }
}
