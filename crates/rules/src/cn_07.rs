//! CN-07: spare contacts.

use crate::cn_05::used_cavities;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-07"),
    title: "spare contacts",
    unit: Unit::Nothing,
    what: "A connector with a known arrangement keeps cavities free of wires and elements: 2 of up to 25, 4 of 26 to 100, 6 of more.",
    why: "A pushed-out contact, a late signal or a repair needs a cavity; without one it needs a new connector and a new harness.",
    source: "FAA AC 43.13-1B paragraph 11-234 [read].",
    remedy: "The next larger arrangement, or fewer wires in this one; spares on the outer ring.",
    check: Check::Papers(check),
};

/// Spare contacts asked of a connector by its number of cavities: FAA AC 43.13-1B paragraph 11-234 (read).
fn spares(cavities: usize) -> usize {
    match cavities {
        0..=25 => 2,
        26..=100 => 4,
        _ => 6,
    }
}

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let used = used_cavities(case.design, wiring);
    for (id, row) in case.design.connectors.iter() {
        let Some(arrangement) = row.arrangement.map(|a| &case.design.arrangements[a.value]) else { continue };
        let subject = Subject::Connector(id);
        let (cavities, asked) = (arrangement.cavities.len(), spares(arrangement.cavities.len()));
        let free = cavities.saturating_sub(used[id.row()]);
        out.judged(RULE.code, subject, arrangement.note);
        if free < asked {
            let text = format!("free cavities: {free} of {cavities}; {asked} are asked for");
            out.found(case, RULE.code, subject, row.at, text, Vec::new());
        }
    }
}

#[cfg(test)]
mod tests {
    /// FAA AC 43.13-1B paragraph 11-234 [read]: two up to 25 contacts, four from 26 to 100, six above.
    #[test]
    fn spares_by_number_of_cavities() {
        for (cavities, expected) in [(3, 2), (25, 2), (26, 4), (100, 4), (101, 6), (128, 6)] {
            assert_eq!(super::spares(cavities), expected, "{cavities}");
        }
    }
}
