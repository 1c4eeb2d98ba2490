//! SE-04: voltage left for the transmitter of a current loop.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::Ratio;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SE-04"),
    title: "voltage left for a loop's transmitter",
    unit: Unit::Volt,
    what: "Voltage between the terminals of each 4 to 20 mA transmitter with every loop at full scale, in every phase and corner in which its \
           loop is fed: at least its volts_min.",
    why: "What wires and burden take at 20 mA the transmitter does not get; below its least voltage the reading stops short of full scale, \
          without any sign of it until it is needed.",
    source: "Transmitter's own volts_min; V = V of the supply − 20 mA × (burden + leads). Loops run from 4 to 20 mA by IEC 60381-1 [from \
             memory].",
    remedy: "A smaller burden, a larger gauge, a higher supply; fewer receivers in one loop.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let is_loop = |sensor: &Sensor| matches!(sensor.law, SensorLaw::CurrentLoop { .. });
    let mut scenario = point.scenario.clone();
    scenario.readings.extend(case.design.sensors.iter().filter(|(_, sensor)| is_loop(sensor)).map(|(id, _)| (id, Ratio(1.0))));
    if scenario.readings.len() == point.scenario.readings.len() {
        return;
    }
    let full = out.near(case, point).roughly(&scenario);
    let open_loads = case.open_loads(&full);
    for (id, sensor) in case.design.sensors.iter() {
        let SensorLaw::CurrentLoop { positive, negative, volts_min, .. } = sensor.law else { continue };
        let element = ElementId::Sensor(id);
        let subject = Subject::Element(element);
        let judged = match case.volts(&full, positive.value, negative.value) {
            Some(volts) if volts.abs() < analysis::FED => continue,
            Some(volts) => {
                volts_min.map(|least| (volts, least)).ok_or_else(|| Missing::new("volts_min", "its least voltage is not stated"))
            }
            None if case.settled(&full, positive.value) => continue,
            None => Err(Missing::new("operating point", "its part of the network did not settle (OP-01)")),
        };
        let judged = judged.and_then(|judged| case.unknown_on_way(&full, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, sensor.at, missing),
            Ok((value, least)) => {
                let (limit, at, text) = (least.value.0, least.at, "at 20 mA".to_owned());
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at, text }, || {
                    case.way_notes(&full, element, &open_loads).into_iter().chain(least.note).collect()
                });
            }
        }
    }
}
