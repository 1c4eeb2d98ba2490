//! What loads that pulse add to the currents of a state.
//!
//! Each rhythm (group, on time, period) is settled by itself near the state, with all other pulses off, and the state without any: their
//! difference is what the rhythm adds. Where several rhythms meet these add up; where they meet in the state itself its own current is kept as
//! the peak.
//!
//! Cost: of states with loads that pulse, one state near for each rhythm and one without any; with one rhythm the latter alone.

use crate::Prepared;
use model::*;
use physics::pulses::Rhythm;

/// Share of a wire's current that a load has to have for the wire to be said to carry it.
const CARRIES: f64 = 0.01;

/// What the loads that pulse and are on in a state add to its currents; `None` where there are none.
pub(crate) fn pulses(prepared: &Prepared, state: &Point) -> Option<Pulses> {
    let design = prepared.design;
    let together = &design.phases[state.scenario.phase].together;
    let mut rhythms: Vec<(Rhythm, Vec<Id<Load>>)> = Vec::new();
    for (id, load) in design.loads.iter().filter(|(id, _)| draws(state, *id)) {
        let (Some(on), Some(period)) = (load.on_time, load.period) else { continue };
        let group = together.iter().position(|group| group.iter().any(|of| of.value == id));
        let rhythm = Rhythm { on: on.value, period: period.value, group: group.map(|at| at as u32) };
        match rhythms.iter_mut().find(|(known, _)| *known == rhythm) {
            Some((_, loads)) => loads.push(id),
            None => rhythms.push((rhythm, vec![id])),
        }
    }
    if rhythms.is_empty() {
        return None;
    }
    let near = prepared.near(state);
    let with = |kept: Option<usize>| {
        let off = rhythms.iter().enumerate().filter(|(at, _)| Some(*at) != kept).flat_map(|(_, (_, loads))| loads);
        without(&near, state, off.copied()).current
    };
    let steady = with(None);
    let added = |at: usize| -> Vec<f64> {
        // The only one there is: the state as it is.
        let current = if rhythms.len() == 1 { state.current.clone() } else { with(Some(at)) };
        current.iter().zip(&steady).map(|(with, steady)| with - steady).collect()
    };
    let added: Vec<Vec<f64>> = (0..rhythms.len()).map(added).collect();
    Some(Pulses { steady, rhythms: rhythms.into_iter().map(|(rhythm, _)| rhythm).zip(added).collect() })
}

/// Whether a load is on and its part of the network has settled: of another part no current is known, nor what a pulse adds to it.
fn draws(state: &Point, id: Id<Load>) -> bool {
    state.load_state[id] == LoadState::On && state.load_fed[id] && state.load_voltage[id].is_some()
}

/// Wires that carry the current of a load whose pauses are not known: it is intermittent, or has an on time without a period.
pub(crate) fn without_pause(prepared: &Prepared, state: &Point) -> Option<Column<Wire, bool>> {
    let design = prepared.design;
    let pauses = |load: &Load| load.period.is_none() && (load.on_time.is_some() || load.duty.value == Duty::Intermittent);
    let loads: Vec<Id<Load>> = design.loads.iter().filter(|(id, load)| draws(state, *id) && pauses(load)).map(|(id, _)| id).collect();
    if loads.is_empty() {
        return None;
    }
    let other = without(&prepared.near(state), state, loads.into_iter()).current;
    let carries = |wire: Id<Wire>| {
        let row = prepared.branch_of(ElementId::Wire(wire));
        row.is_some_and(|row| (state.current[row] - other[row]).abs() > CARRIES * state.current[row].abs())
    };
    let mut column = design.wires.column(false);
    for wire in design.wires.ids() {
        column[wire] = carries(wire);
    }
    Some(column)
}

/// Whether pulses make a part of a wire's current that is worth a word.
pub(crate) fn carries(peak: f64, added: f64) -> bool {
    added.abs() > CARRIES * peak.abs()
}

fn without(near: &crate::Near, state: &Point, off: impl Iterator<Item = Id<Load>>) -> Point {
    let mut scenario = state.scenario.clone();
    scenario.loads.extend(off.map(|load| (load, LoadChange::Off)));
    near.roughly(&scenario)
}
