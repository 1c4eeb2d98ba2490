//! SE-01: error of a sensor's reading.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SE-01"),
    title: "error of a sensor",
    unit: Unit::Volt,
    what: "Difference at its receiver between what a sensor gives through its wiring at the settled point, at the reading that its row states, \
           and what its own calibration says, in every phase and corner; against its allowance times its span.",
    why: "Leads, contacts and shared returns put millivolts of their own into a signal of millivolts.",
    source: "The sensor's own allowance; no limit from outside. A resistance read through two leads errs by both leads over its slope: 1 ohm \
             of leads is 2.6 K of a Pt100 at 0.385 ohm/K [read in a maker's page on four-wire RTDs]; with three wires only the difference of \
             the two leads counts [read]. Thermocouples are linear, with their slope near 25 °C [from memory].",
    remedy: "Three or four leads for a resistance, sense leads for a bridge, a return of its own, a larger gauge, an excitation that is not shared.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let open_loads = case.open_loads(point);
    for (id, sensor) in case.design.sensors.iter() {
        let element = ElementId::Sensor(id);
        let subject = Subject::Element(element);
        let judged = match reading(case, point, id) {
            None => continue,
            Some(reading) => reading.and_then(|reading| Ok((reading, allowed(sensor)?))),
        };
        let judged = judged.and_then(|judged| case.unknown_on_way(point, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, sensor.at, missing),
            Ok((reading, allowed)) => {
                let ideal = case.prepared.sensor_ideal(id).0;
                let value = (reading - ideal).abs();
                let text = format!(
                    "{:.4} mV read for {:.4} mV: {:.2} % of a span of {:.3} mV{}",
                    reading * 1e3,
                    ideal * 1e3,
                    100.0 * value / sensor.law.span().0.abs(),
                    sensor.law.span().0.abs() * 1e3,
                    kelvin(sensor, value)
                );
                let (limit, at) = (allowed.value, allowed.at);
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text }, || {
                    sensor_notes(case, point, id, &open_loads).into_iter().chain(allowed.note).collect()
                });
            }
        }
    }
}

/// An error of a temperature in words; empty for what reads no temperature.
pub(crate) fn kelvin(sensor: &Sensor, volts: f64) -> String {
    let slope = sensor.law.volts_per_kelvin().map(f64::abs).filter(|slope| *slope > 0.0);
    slope.map(|slope| format!(", {:.2} K", volts.abs() / slope)).unwrap_or_default()
}

/// Error allowed in volts: allowance times span.
pub(crate) fn allowed(sensor: &Sensor) -> Result<Given<f64>, Missing> {
    let allowance = sensor.allowance.ok_or_else(|| Missing::new("allowance", "the error it may have is not stated"))?;
    Ok(allowance.map(|share| share.0 * sensor.law.span().0.abs()))
}

/// What the receiver of a sensor reads; `None` where a bridge, a potentiometer or a loop is not fed in this phase.
pub(crate) fn reading(case: &Case, point: &Point, id: Id<Sensor>) -> Option<Result<f64, Missing>> {
    let sensor = &case.design.sensors[id];
    let fed = match sensor.law {
        SensorLaw::Bridge { excitation_positive, excitation_negative, .. } => Some((excitation_positive, excitation_negative)),
        SensorLaw::Potentiometer { positive, negative, .. } | SensorLaw::CurrentLoop { positive, negative, .. } => {
            Some((positive, negative))
        }
        _ => None,
    };
    if let Some((positive, negative)) = fed {
        // What is left over a bridge that is off is the shift of its grounds.
        let excited = case.volts(point, positive.value, negative.value);
        if case.settled(point, positive.value) && excited.is_none_or(|volts| volts.abs() < analysis::FED) {
            return None;
        }
    }
    let Some(receiver) = sensor.receiver else { return Some(Err(Missing::new("receiver", "it is not stated what reads it"))) };
    let positive = case.design.receivers[receiver.value].positive.value;
    Some(match point.receiver_voltage[receiver.value] {
        Some(volts) => Ok(volts.0),
        None if case.settled(point, positive) => Err(Missing::new("wires", "its signal does not reach both inputs of its receiver")),
        None => Err(Missing::new("operating point", "its part of the network did not settle (OP-01)")),
    })
}

/// What a reading rests on.
pub(crate) fn sensor_notes(case: &Case, point: &Point, id: Id<Sensor>, open_loads: &[(u32, NoteId)]) -> Vec<NoteId> {
    let sensor = &case.design.sensors[id];
    let mut notes = case.way_notes(point, ElementId::Sensor(id), open_loads);
    if let Some(receiver) = sensor.receiver {
        notes.extend(receiver.note);
        notes.extend(case.way_notes(point, ElementId::Receiver(receiver.value), open_loads));
    }
    notes
}
