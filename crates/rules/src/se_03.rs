//! SE-03: voltages of foreign metals in the way of a small signal.

use crate::case::Missing;
use crate::se_01::{allowed, kelvin};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::TemperatureRise;
use physics::sensor_temperature::Alloy;
use std::collections::VecDeque;
use std::sync::Arc;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SE-03"),
    title: "foreign metal in a sensor's leads",
    unit: Unit::Volt,
    what: "Thermoelectric voltage of every wire and contact between a sensor and its receiver that is of another metal than its lead: copper, \
           or of a thermocouple the alloy of that leg as far as the cold junction. Where the temperatures at both ends of the pieces are \
           stated (of connectors, splices or units; a connector's counts for both halves unless each states its own), the sum over both \
           leads against the allowance times the span; where they are not, what the pieces add per kelvin along each of them is a finding \
           if the two leads do not cancel. A crimp contact whose metal is not stated counts as copper, a hermetic one is not judged. \
           A path through structure counts with 4 mV: 40 µV/K over 100 K.",
    why: "A piece of another metal adds its own microvolts as soon as its ends differ in temperature: copper in both legs of a thermocouple \
          takes away the whole difference along it, a pin of a glass seal adds 40 µV per kelvin.",
    source: "Voltages of metals against copper: Kidd, Watch out for those thermoelectric voltages, Table 1, and Agilent 34420A manual, page \
             251 [read]; of thermocouple alloys: slopes at 25 °C of IEC 60584-1 [from memory]. The limit is the sensor's own allowance.",
    remedy: "Wire and contacts of the leg's own alloy up to the cold junction; the same pieces at the same temperatures in both leads of a \
             copper circuit; a cold junction at the place where the copper begins.",
    check: Check::Point(check),
};

/// What foreign pieces do to one sensor.
pub(crate) struct Foreign {
    /// Volts of the pieces between known temperatures, positive lead less negative.
    volts: f64,
    /// Volts per kelvin along each of the others.
    per_kelvin: f64,
    /// Places of foreign pieces, as text.
    pieces: Vec<String>,
    /// Most that structure in the leads may add, V.
    structure: f64,
    /// Notes of temperatures.
    notes: Vec<NoteId>,
}

/// Most that a path through structure adds: the greatest voltage of a structural or seal metal in the table, 40 µV/K, over
/// 100 K (assumed: neither its metal nor its temperatures are stated).
const STRUCTURE: f64 = 40e-6 * 100.0;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    // Nothing of this depends on the state: found out once.
    let found = out.foreign.get_or_insert_with(|| Arc::new(case.design.sensors.ids().map(|id| foreign(case, id)).collect())).clone();
    for ((id, sensor), found) in case.design.sensors.iter().zip(found.iter()) {
        let subject = Subject::Element(ElementId::Sensor(id));
        let Some(found) = found else { continue };
        let judged = match found {
            Ok(found) => allowed(sensor).map(|allowed| (found, allowed)),
            Err((field, why)) => Err(Missing::new(field.clone(), why.clone())),
        };
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, sensor.at, missing),
            Ok((found, allowed)) => {
                let pieces = found.pieces.join(", ");
                if found.per_kelvin.abs() > 1e-9 {
                    let text = format!(
                        "{pieces}: {:.1} µV{} per kelvin along each",
                        found.per_kelvin.abs() * 1e6,
                        kelvin(sensor, found.per_kelvin)
                    );
                    out.trouble(case, point, RULE.code, subject, found.per_kelvin.abs(), text);
                    continue;
                }
                let text = match pieces.as_str() {
                    "" => String::new(),
                    pieces => {
                        let volts = found.volts.abs() + found.structure;
                        format!("{pieces}: {:.1} µV{}", volts * 1e6, kelvin(sensor, volts))
                    }
                };
                let (value, limit, at) = (found.volts.abs() + found.structure, allowed.value, allowed.at);
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text }, || {
                    found.notes.iter().copied().chain(allowed.note).collect()
                });
            }
        }
    }
}

/// What is found of a sensor; `None` where no small voltage is read.
pub(crate) type Found = Option<Result<Foreign, (String, String)>>;

/// The foreign pieces in both leads of a sensor; `None` where no small voltage is read.
fn foreign(case: &Case, id: Id<Sensor>) -> Found {
    let design = case.design;
    let sensor = &design.sensors[id];
    if matches!(sensor.law, SensorLaw::Potentiometer { .. }) {
        return None;
    }
    let (positive, negative) = sensor.law.signal()?;
    let Some(receiver) = sensor.receiver else { return Some(Err(("receiver".into(), "it is not stated what reads it".into()))) };
    let receiver = &design.receivers[receiver.value];
    let (leads, goals) = match sensor.law {
        SensorLaw::Thermocouple { couple, cold_positive, cold_negative, .. } => (
            [couple.value.positive, couple.value.negative],
            [cold_positive.unwrap_or(receiver.positive), cold_negative.unwrap_or(receiver.negative)],
        ),
        _ => ([Alloy::COPPER; 2], [receiver.positive, receiver.negative]),
    };
    let at = EndTemperatures::new(design);
    let mut sum = Foreign { volts: 0.0, per_kelvin: 0.0, pieces: Vec::new(), structure: 0.0, notes: Vec::new() };
    for (sign, start, goal, lead) in [(1.0, positive, goals[0], leads[0]), (-1.0, negative, goals[1], leads[1])] {
        let Some(way) = way(case, start.value, goal.value, false).or_else(|| way(case, start.value, goal.value, true)) else {
            let (from, to) = (design.end_name(start.value), design.end_name(goal.value));
            return Some(Err(("wires".into(), format!("no wires, contacts and structure lead from {from} to {to}"))));
        };
        for (element, near, far) in way {
            if matches!(element, ElementId::Strap(_) | ElementId::StructurePath(_)) {
                sum.structure += STRUCTURE;
                sum.pieces.push(format!("{} up to {:.1} mV (40 µV/K over 100 K, assumed)", design.element_words(element), STRUCTURE * 1e3));
                continue;
            }
            let alloy = match alloy(design, element) {
                Ok(alloy) => alloy,
                Err(missing) => return Some(Err(missing)),
            };
            let slope = alloy.volts_in_leg(lead, TemperatureRise(1.0)).0;
            if slope.abs() < 1e-12 {
                continue;
            }
            let leg = if lead == Alloy::COPPER { String::new() } else { format!(" in the leg of {}", lead.word()) };
            let piece = format!("{} of {}{leg}", design.element_words(element), alloy.word());
            match (at.of(near), at.of(far)) {
                (Some(near), Some(far)) => {
                    // The voltage is that of the hot end against the cold one.
                    let volts = sign * alloy.volts_in_leg(lead, near.value - far.value).0;
                    sum.volts += volts;
                    sum.notes.extend([near.note, far.note].into_iter().flatten());
                    if volts != 0.0 {
                        sum.pieces.push(format!("{piece} {:+.1} µV", volts * 1e6));
                    }
                }
                _ => {
                    sum.per_kelvin += sign * slope;
                    sum.pieces.push(piece);
                }
            }
        }
    }
    Some(Ok(sum))
}

/// The metal of a piece, or what is missing to know it.
fn alloy(design: &Design, element: ElementId) -> Result<Alloy, (String, String)> {
    let words = || design.element_words(element);
    match element {
        ElementId::Wire(id) => match design.wires[id].spec {
            Some(spec) => Ok(design.wire_specs[spec.value].alloy),
            None => Err((format!("gauge of {}", words()), format!("{} in its leads has no gauge, so no type", words()))),
        },
        ElementId::Contact(id) => match design.contacts[id].spec.map(|spec| &design.contact_specs[spec]) {
            Some(ContactSpec { alloy: Some(alloy), .. }) => Ok(*alloy),
            Some(ContactSpec { kind: ConnectorKind::Hermetic, size, .. }) => Err((
                format!("alloy of contact size {size}"),
                format!("{} in its leads is hermetic, and its metal is not stated in the catalog", words()),
            )),
            _ => Ok(Alloy::COPPER),
        },
        // Tracks and jumpers inside units.
        _ => Ok(Alloy::COPPER),
    }
}

/// The fewest conductors from one end to another, through structure only where asked, each with the ends it is entered and left at.
fn way(case: &Case, start: End, goal: End, structure: bool) -> Option<Vec<(ElementId, End, End)>> {
    let prepared = case.prepared;
    let (start, goal) = (prepared.node(start)?, prepared.node(goal)?);
    // How each node was reached: the branch, and whether along its own direction.
    let mut reached: Vec<Option<(usize, bool)>> = vec![None; prepared.nodes()];
    let mut queue = VecDeque::from([start]);
    while let Some(node) = queue.pop_front() {
        if node == goal {
            break;
        }
        for &row in prepared.meeting(node) {
            let row = row as usize;
            let branch = prepared.branches()[row];
            let is_lead = matches!(branch.element, ElementId::Wire(_) | ElementId::Contact(_) | ElementId::Link(_));
            if !(is_lead || structure && matches!(branch.element, ElementId::Strap(_) | ElementId::StructurePath(_))) {
                continue;
            }
            let (next, along) = if branch.from == node { (branch.to, true) } else { (branch.from, false) };
            if next != start && reached[next.row()].is_none() {
                reached[next.row()] = Some((row, along));
                queue.push_back(next);
            }
        }
    }
    let mut way = Vec::new();
    let mut node = goal;
    while node != start {
        let (row, along) = reached[node.row()]?;
        let branch = prepared.branches()[row];
        let (from, to) = prepared.branch_ends(row);
        way.push(if along { (branch.element, from, to) } else { (branch.element, to, from) });
        node = if along { branch.from } else { branch.to };
    }
    way.reverse();
    Some(way)
}
