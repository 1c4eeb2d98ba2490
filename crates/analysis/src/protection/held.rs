//! States that faults are followed on: loads as plain resistances.

use crate::Prepared;
use model::*;
use physics::*;

/// Loads as plain resistances, and current loops taken away: what draws a fixed power has no state at a volt or two, and what a load does within
/// the time of a device is not known. What may let go has let go: a device then carries the fault without it, for no shorter time, and the fault
/// lacks at most what such loads take from the voltage upstream. All else draws as the resistance that it is in the settled state.
pub(super) fn hold(prepared: &Prepared, point: &Point, scenario: &mut Scenario) {
    let design = prepared.design;
    let mut stand = |element: ElementId, volts: Option<f64>, may_let_go: bool| {
        let Some(row) = prepared.branch_of(element) else { return };
        let (volts, amperes) = (volts.unwrap_or(0.0), point.current[row]);
        if may_let_go || volts <= 0.0 || amperes <= 0.0 {
            scenario.opened.push((element, None));
        } else {
            scenario.held.push((element, Ohm(volts / amperes)));
        }
    };
    for (id, load) in design.loads.iter() {
        let bends = load.drop_out.is_some() || !matches!(load.demand, Some(Demand::Resistance(_)));
        if bends && point.load_state[id] != LoadState::Off {
            stand(ElementId::Load(id), point.load_voltage[id].map(|v| v.0), load.drop_out.is_some());
        }
    }
    for (id, converter) in design.converters.iter() {
        let [a, b] = [converter.line.value, converter.line_return.value].map(|end| prepared.node(end));
        let volts = a.zip(b).map(|(a, b)| point.voltage[a.row()] - point.voltage[b.row()]);
        if point.converter_state[id] != LoadState::Off {
            stand(ElementId::Converter(id), volts, converter.drop_out.is_some());
        }
    }
    let loops = design.sensors.iter().filter(|(_, sensor)| matches!(sensor.law, SensorLaw::CurrentLoop { .. }));
    scenario.opened.extend(loops.map(|(id, _)| (ElementId::Sensor(id), None)));
}

/// A settled state so held.
pub(super) fn held(prepared: &Prepared, point: &Point) -> Point {
    let mut scenario = point.scenario.clone();
    hold(prepared, point, &mut scenario);
    prepared.near(point).roughly_afresh(&scenario)
}

/// A settled state again in which what has let go is commanded off, so that it stays away whatever else changes; `None` where nothing has.
pub(crate) fn without_let_go(prepared: &Prepared, point: &Point) -> Option<Point> {
    let mut scenario = point.scenario.clone();
    let let_go = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
    scenario.loads.extend(point.load_state.iter().filter(|(_, state)| let_go(state)).map(|(id, _)| (id, LoadChange::Off)));
    let converters = point.converter_state.iter().filter(|(_, state)| let_go(state));
    scenario.switches.extend(converters.map(|(id, _)| (ElementId::Converter(id), Commanded::Off)));
    let more = scenario.loads.len() + scenario.switches.len() > point.scenario.loads.len() + point.scenario.switches.len();
    more.then(|| prepared.near(point).afresh(&scenario))
}
