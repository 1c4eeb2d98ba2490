//! CN-04: like connectors within reach of each other.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-04"),
    title: "connectors that can be crossed",
    unit: Unit::Nothing,
    what: "Two connectors declared near each other differ in arrangement, in gender, in plug or receptacle, or in keying. Colour and labels do \
           not count.",
    why: "What can be crossed will be crossed, in the dark and by the last shift.",
    source: "FAA AC 43.13-1B paragraph 11-235 b [read]; NASA LLIS 0431 [read].",
    remedy: "Another keying or shell; clamps that keep the wrong pair from reaching.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut pairs: Vec<(Id<Connector>, Id<Connector>, Span)> = Vec::new();
    for (id, row) in design.connectors.iter() {
        pairs.extend(row.near.iter().filter(|near| near.value != id).map(|near| (id.min(near.value), id.max(near.value), near.at)));
    }
    pairs.sort_by_key(|&(a, b, at)| (a, b, at));
    pairs.dedup_by_key(|&mut (a, b, _)| (a, b));
    for (first, second, at) in pairs {
        let (one, other) = (&design.connectors[first], &design.connectors[second]);
        let subject = Subject::Connector(second);
        let differs = |a: Option<bool>| a == Some(true);
        let apart = differs(one.arrangement.zip(other.arrangement).map(|(a, b)| a.value != b.value))
            || differs(one.gender.zip(other.gender).map(|(a, b)| a.value != b.value))
            || differs(one.half.zip(other.half).map(|(a, b)| a.value != b.value))
            || differs(one.keying.as_ref().zip(other.keying.as_ref()).map(|(a, b)| a.value != b.value));
        if apart {
            out.judged(RULE.code, subject, None);
            continue;
        }
        // Only what is known on both sides can be said to be the same.
        let lacks = |row: &Connector, field: &str| Missing::new(field, format!("connector {} states no {field}", row.name));
        let missing = [one, other].into_iter().find_map(|row| match (row.arrangement, &row.keying) {
            (None, _) => Some(lacks(row, "arrangement")),
            (_, None) => Some(lacks(row, "keying")),
            _ => None,
        });
        if let Some(missing) = missing {
            out.not_judged(RULE.code, subject, at, missing);
            continue;
        }
        out.judged(RULE.code, subject, None);
        let keying = other.keying.as_ref().map_or("", |keying| &*keying.value);
        let text = format!("{} and {} are near each other, of one arrangement and both keyed {keying}", one.name, other.name);
        out.found(case, RULE.code, subject, other.at, text, vec![place(one.at, format!("like {}", other.name)), place(at, "near")]);
    }
}
