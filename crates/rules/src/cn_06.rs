//! CN-06: the arrangement is known and has the cavity.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::{BTreeMap, HashMap};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-06"),
    title: "cavity of the arrangement",
    unit: Unit::Nothing,
    what: "Each pin is a cavity of its connector's insert arrangement, and a contact that is stated for it has the cavity's size. Where only \
           the number of cavities of each size is known, no more contacts of a size are stated for used cavities than there are \
           cavities for it. Where one connector of the vehicle states an arrangement, all with crimp or hermetic contacts are to.",
    why: "A pin that the insert does not have, or a contact that its cavity does not take, is found on the bench, with the harness cut.",
    source: "The arrangement's row in the catalog; MIL-STD-1560, MIL-STD-1651, MIL-STD-1669 hold the positions; no limit from outside.",
    remedy: "The right cavity or contact; the arrangement that has it.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    if design.connectors.iter().all(|(_, row)| row.arrangement.is_none()) {
        return;
    }
    let cavities: Vec<HashMap<&str, Option<&str>>> = design
        .arrangements
        .iter()
        .map(|(_, row)| row.cavities.iter().map(|cavity| (&*cavity.name, cavity.size.as_deref())).collect())
        .collect();
    for (id, row) in design.connectors.iter() {
        let subject = Subject::Connector(id);
        match row.arrangement {
            Some(arrangement) => {
                let note = design.arrangements[arrangement.value].note;
                out.judged(RULE.code, subject, arrangement.note.into_iter().chain(note));
                counts(case, wiring, id, out);
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
        let known = cavities[arrangement.value.row()].get(&*pin.cavity);
        let half = &design.connectors[pin.connector];
        // The contacts of a half without a row are those of its mate.
        if let (Some(Some(size)), Some(stated)) = (known, stated_contact(half, &pin.cavity).filter(|_| half.implied != Implied::AsMate))
            && *stated.value != **size
        {
            let text = format!(
                "its contact has size {}, and the cavity of arrangement {} takes {size}",
                stated.value, design.arrangements[arrangement.value].name
            );
            out.judged(RULE.code, Subject::Pin(id), stated.note);
            let also = vec![place(stated.at, "the contact"), place(arrangement.at, "the arrangement")];
            out.found(case, RULE.code, Subject::Pin(id), pin.at, text, also);
        }
        if known.is_none() {
            let row = &design.arrangements[arrangement.value];
            let text = format!("arrangement {} has no cavity {}", row.name, pin.cavity);
            out.judged(RULE.code, Subject::Pin(id), None);
            let also = vec![place(arrangement.at, format!("arrangement {}", row.name))];
            out.found(case, RULE.code, Subject::Pin(id), pin.at, text, also);
        }
    }
}

/// The contact that a connector states for a cavity.
fn stated_contact<'a>(half: &'a Connector, cavity: &str) -> Option<&'a Given<Name>> {
    let own = half.other_contacts.iter().find(|(known, _)| &**known == cavity).map(|(_, size)| size);
    // An assumed size has the place of the connector's row: nobody stated it.
    own.or(half.contact.as_ref().filter(|size| size.at != half.at))
}

/// Holds the contacts of a connector against the numbers of cavities, where the arrangement does not say which cavity has which size.
fn counts(case: &Case, wiring: &Wiring, id: Id<Connector>, out: &mut Papers) {
    let design = case.design;
    let row = &design.connectors[id];
    let Some(arrangement) = row.arrangement.map(|arrangement| &design.arrangements[arrangement.value]) else { return };
    if row.implied == Implied::AsMate || arrangement.cavities.iter().all(|cavity| cavity.size.is_some()) {
        return;
    }
    let subject = Subject::Connector(id);
    let open: Vec<&str> = arrangement.cavities.iter().filter(|cavity| cavity.size.is_none()).map(|cavity| &*cavity.name).collect();
    let is_used = |pin: Id<Pin>| wiring.wires_at(pin).next().is_some() || wiring.both(pin).any(|pin| wiring.is_used_inside(pin));
    let mut fitted: BTreeMap<&str, u32> = BTreeMap::new();
    for (pin, half) in design.pins.iter() {
        if half.connector != id || !open.contains(&&*half.cavity) || !is_used(pin) {
            continue;
        }
        let Some(size) = stated_contact(row, &half.cavity) else {
            let sizes: Vec<String> = arrangement.sizes.iter().map(|(size, count)| format!("{count} cavities of size {size}")).collect();
            let why = format!(
                "arrangement {} has {}, which are which is not known, and the size of the contact in cavity {} is not stated",
                arrangement.name,
                sizes.join(" and "),
                half.cavity
            );
            out.not_judged(RULE.code, subject, row.at, Missing::new("contact", why));
            return;
        };
        *fitted.entry(&size.value).or_default() += 1;
    }
    for (size, count) in fitted {
        let all = arrangement.sizes.iter().find(|(known, _)| &**known == size).map_or(0, |(_, count)| *count);
        let named = arrangement.cavities.iter().filter(|cavity| cavity.size.as_deref() == Some(size)).count() as u32;
        let takes = all.saturating_sub(named);
        if count > takes {
            let text =
                format!("{count} contacts of size {size} are in use, and arrangement {} has {takes} cavities for them", arrangement.name);
            out.found(case, RULE.code, subject, row.at, text, vec![place(arrangement.at, "the arrangement")]);
        }
    }
}
