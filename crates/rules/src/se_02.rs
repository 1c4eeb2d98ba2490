//! SE-02: what the currents of others do to a sensor's reading.

use crate::se_01::{allowed, kelvin, reading, sensor_notes};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SE-02"),
    title: "sensor moved by others' currents",
    unit: Unit::Volt,
    what: "Change of the reading at a sensor's receiver between the settled point and the same state with every load drawing next to nothing \
           (1 Mohm): the part of its error that others' currents cause through a shared return or a shared supply; against its allowance \
           times its span.",
    why: "A shared return moves the zero of a sensor whenever a neighbour switches, and no calibration takes that out.",
    source: "V = I R in the shared conductor; the sensor's own allowance. FAA AC 43.13-1B paragraph 11-186 f: no signal returns through a \
             power lead [read].",
    remedy: "A return of its own from the sensor to one point; an excitation of its own.",
    check: Check::Point(check),
};

/// Volts by which a reading moves that the solution does not tell from none: the last digits of a bus voltage.
const NOT_MOVED: f64 = 1e-11;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if case.design.sensors.is_empty() || case.design.loads.is_empty() {
        return;
    }
    let quiet = case.quiet(point, out);
    let open_loads = case.open_loads(point);
    for (id, sensor) in case.design.sensors.iter() {
        let element = ElementId::Sensor(id);
        let subject = Subject::Element(element);
        let (Some(loaded), Some(alone)) = (reading(case, point, id), reading(case, &quiet, id)) else { continue };
        let moved = loaded.and_then(|loaded| Ok(loaded - alone?)).map(|moved| if moved.abs() < NOT_MOVED { 0.0 } else { moved });
        let judged = moved.and_then(|moved| Ok((moved, allowed(sensor)?)));
        let judged = judged.and_then(|judged| case.unknown_on_way(point, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, sensor.at, missing),
            Ok((moved, allowed)) => {
                let (value, limit, at) = (moved.abs(), allowed.value, allowed.at);
                let share = 100.0 * value / sensor.law.span().0.abs();
                let text = format!("moved by {:+.1} µV, {share:.2} % of its span{}", moved * 1e6, kelvin(sensor, value));
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at, text }, || {
                    sensor_notes(case, point, id, &open_loads).into_iter().chain(allowed.note).collect()
                });
            }
        }
    }
}
