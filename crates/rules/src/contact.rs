//! The wires in a contact and the current that they let it carry.

use crate::Wiring;
use crate::case::Missing;
use model::*;
use physics::gauge::Awg;
use physics::{Ampere, Ratio};

/// The wire that decides a contact's test current: on each half the thickest, of both halves the thinner. `None` if no wire
/// lands on either half, as where two units mate directly.
pub(crate) fn deciding_wire(design: &Design, wiring: &Wiring, contact: &Contact) -> Result<Option<(Id<Wire>, Awg)>, Missing> {
    let mut deciding: Option<(Id<Wire>, Awg)> = None;
    for pin in [contact.a, contact.b] {
        let mut thickest: Option<(Id<Wire>, Awg)> = None;
        for &(id, _) in wiring.wires_on(pin) {
            let Some(spec) = design.wires[id].spec else {
                let name = &design.wires[id].name;
                return Err(Missing::new(format!("gauge of wire:{name}"), format!("the gauge of wire {name} in it is TBD")));
            };
            let gauge = design.wire_specs[spec.value].gauge;
            if thickest.is_none_or(|(_, known)| gauge < known) {
                thickest = Some((id, gauge));
            }
        }
        deciding = match (deciding, thickest) {
            (Some(a), Some(b)) => Some(if a.1 >= b.1 { a } else { b }),
            (a, b) => a.or(b),
        };
    }
    Ok(deciding)
}

/// Test current of a contact with a wire of this gauge in it: the row of the gauge, else that of the next thinner wire listed, else the
/// last row.
pub(crate) fn test_current(spec: &ContactSpec, gauge: Option<Awg>) -> Given<Ampere> {
    let Some(gauge) = gauge else { return spec.rating };
    let row = spec.currents.iter().find(|(listed, _)| *listed >= gauge).or(spec.currents.last());
    row.map_or(spec.rating, |(_, current)| *current)
}

/// What a contact may carry.
pub(crate) struct Rating {
    /// Test current of the contact with its wire.
    pub(crate) test: Given<Ampere>,
    /// Share of it that may be used.
    pub(crate) derating: Given<Ratio>,
    /// How it comes about, in words.
    pub(crate) text: String,
    notes: Vec<NoteId>,
}

impl Rating {
    /// Test current times derating.
    pub(crate) fn limit(&self) -> f64 {
        self.test.value.0 * self.derating.value.0
    }
    /// Values it rests on.
    pub(crate) fn notes(&self) -> impl Iterator<Item = NoteId> {
        self.notes.iter().copied()
    }
}

/// What a contact may carry by its size, kind, wire and the profile.
pub(crate) fn rating(design: &Design, wiring: &Wiring, id: Id<Contact>) -> Result<Rating, Missing> {
    let contact = &design.contacts[id];
    let Some(spec) = contact.spec.map(|spec| &design.contact_specs[spec]) else {
        return Err(Missing::new("contact", "the size of its contact is not known"));
    };
    let Some(derating) = design.profile.contact_derating else {
        return Err(Missing::new("contact_derating", "the limits profile states no contact_derating"));
    };
    let wire = deciding_wire(design, wiring, contact)?;
    let test = test_current(spec, wire.map(|(_, gauge)| gauge));
    let kind = if spec.kind == ConnectorKind::Hermetic { "hermetic contact" } else { "contact" };
    let with = wire.map_or("no wire in it".to_owned(), |(id, gauge)| format!("{gauge} AWG in it (wire {})", design.wires[id].name));
    let text = format!("{kind} of size {}, {with}: {} A × {}", spec.size, test.value.0, derating.value.0);
    let wire_note = wire.and_then(|(id, _)| design.wires[id].spec).and_then(|spec| spec.note);
    let notes = [test.note, derating.note, contact.size_note, wire_note].into_iter().flatten().collect();
    Ok(Rating { test, derating, text, notes })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spec(currents: &[(i8, f64)]) -> ContactSpec {
        let at = Span { file: FileId(0), start: 0, end: 0 };
        let ohm = Spread::exactly(Given::firm(physics::Ohm(0.01), at));
        ContactSpec {
            size: "20".into(),
            kind: ConnectorKind::Crimp,
            gauge_min: Awg(24),
            gauge_max: Awg(20),
            rating: Given::firm(Ampere(7.5), at),
            currents: currents.iter().map(|&(gauge, amperes)| (Awg(gauge), Given::firm(Ampere(amperes), at))).collect(),
            ohms: ohm,
            alloy: None,
            mass: None,
            parts: [None, None],
            at,
        }
    }

    /// Size 20: 7.5, 5 and 3 A with 20, 22 and 24 AWG (AS39029 test currents, from memory).
    #[test]
    fn test_current_by_gauge() {
        let spec = spec(&[(20, 7.5), (22, 5.0), (24, 3.0)]);
        for (gauge, expected) in [(18, 7.5), (20, 7.5), (21, 5.0), (22, 5.0), (24, 3.0), (26, 3.0)] {
            assert_eq!(test_current(&spec, Some(Awg(gauge))).value.0, expected, "{gauge} AWG");
        }
        assert_eq!(test_current(&spec, None).value.0, 7.5);
        assert_eq!(test_current(&super::tests::spec(&[]), Some(Awg(24))).value.0, 7.5);
    }
}
