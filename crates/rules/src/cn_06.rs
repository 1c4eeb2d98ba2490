//! CN-06: the arrangement is known and has the cavity.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::HashSet;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-06"),
    title: "cavity of the arrangement",
    unit: Unit::Nothing,
    what: "Each pin is a cavity of its connector's insert arrangement. Where one connector of the vehicle states an arrangement, all with \
           crimp or hermetic contacts are to.",
    why: "A pin that the insert does not have is found on the bench, with the harness cut.",
    source: "The arrangement's row in the catalog; MIL-STD-1560, MIL-STD-1651, MIL-STD-1669 hold the positions; no limit from outside.",
    remedy: "The right cavity; the arrangement that has it.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    if design.connectors.iter().all(|(_, row)| row.arrangement.is_none()) {
        return;
    }
    let names: Vec<HashSet<&str>> =
        design.arrangements.iter().map(|(_, row)| row.cavities.iter().map(|cavity| &*cavity.name).collect()).collect();
    for (id, row) in design.connectors.iter() {
        let subject = Subject::Connector(id);
        match row.arrangement {
            Some(arrangement) => {
                let note = design.arrangements[arrangement.value].note;
                out.judged(RULE.code, subject, arrangement.note.into_iter().chain(note));
            }
            // The mate of a unit's connector has that one's arrangement.
            None if row.implied == Implied::Declared && row.kind != ConnectorKind::Terminals => {
                out.not_judged(RULE.code, subject, row.at, Missing::new("arrangement", "its arrangement is not stated"));
            }
            None => {}
        }
    }
    for (id, pin) in design.pins.iter() {
        let Some(arrangement) = design.connectors[pin.connector].arrangement else { continue };
        if !names[arrangement.value.row()].contains(&*pin.cavity) {
            let row = &design.arrangements[arrangement.value];
            let text = format!("arrangement {} has no cavity {}", row.name, pin.cavity);
            out.judged(RULE.code, Subject::Pin(id), None);
            let also = vec![place(arrangement.at, format!("arrangement {}", row.name))];
            out.found(case, RULE.code, Subject::Pin(id), pin.at, text, also);
        }
    }
}
