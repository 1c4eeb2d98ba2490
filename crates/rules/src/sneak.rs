//! States one action away, as loads that are commanded off see them; the ways that were meant.

use crate::case::Missing;
use crate::{Case, Worst};
use analysis::{Law, Meant};
use model::*;
use physics::Ohm;
use std::sync::Arc;

/// A state of a phase, as planned or with one action.
pub(crate) struct Away {
    pub(crate) point: Point,
    /// `as planned`, `with action:X`.
    pub(crate) words: String,
    /// Loads that are commanded off by a switch of theirs.
    pub(crate) off: Vec<Id<Load>>,
}

/// The state and those that one action makes of it. Loads whose switches are named hang on their lines whether these are open or not: what is commanded off draws
/// by its law if anything feeds it. Open switches let through what their rows say they leak.
///
/// Cost: a state near this one for each action that the phase permits, and one.
pub(crate) fn states(case: &Case, point: &Point, out: &mut Worst) -> Arc<Vec<Away>> {
    if let Some(known) = &out.sneak {
        return known.clone();
    }
    let phase = point.scenario.phase;
    let near = out.near(case, point);
    let permitted = case.design.actions.iter().filter(|(_, action)| Design::is_in(&action.phases, phase));
    let mut states = Vec::new();
    for action in std::iter::once(None).chain(permitted.map(|(_, action)| Some(action))) {
        let mut scenario = point.scenario.clone();
        for &(element, state) in action.iter().flat_map(|action| &action.states).map(|given| &given.value) {
            match element {
                ElementId::Load(load) => scenario.loads.push((load, if state == Commanded::On { LoadChange::On } else { LoadChange::Off })),
                _ => scenario.switches.push((element, state)),
            }
        }
        let off = hang(case, &mut scenario);
        let words = action.map_or("as planned".to_owned(), |action| format!("with action:{}", action.name));
        let settled = if scenario == point.scenario { point.clone() } else { near.roughly(&scenario) };
        states.push(Away { point: settled, words, off });
    }
    let states = Arc::new(states);
    out.sneak = Some(states.clone());
    states
}

/// Of some states the one in which the current of an element is greatest by a measure; and what is missing where its part of the network has no operating
/// point in one of them: what a solution has there says nothing.
pub(crate) fn greatest<'s>(
    case: &Case,
    states: impl Iterator<Item = &'s Away>,
    element: ElementId,
    measure: impl Fn(f64) -> f64,
) -> (Option<(f64, &'s Away)>, Option<Missing>) {
    let (mut greatest, mut missing): (Option<(f64, &Away)>, _) = (None, None);
    for state in states {
        match case.current(&state.point, element).unwrap_or(Ok(0.0)) {
            Err(lacks) => missing = Some(lacks),
            Ok(current) if greatest.is_none_or(|(known, _)| measure(current) > known) => greatest = Some((measure(current), state)),
            Ok(_) => {}
        }
    }
    (greatest, missing)
}

/// Lets loads hang on their lines, and open switches leak; gives the loads that are commanded off.
fn hang(case: &Case, scenario: &mut Scenario) -> Vec<Id<Load>> {
    let design = case.design;
    let switched: Vec<(Id<Load>, &Load)> = design.loads.iter().filter(|(_, load)| !load.switched_by.is_empty()).collect();
    if switched.is_empty() && design.switches.iter().all(|(_, switch)| switch.leakage.is_none()) {
        return Vec::new();
    }
    let laws = case.prepared.laws(scenario);
    let is_open = |element: ElementId| case.prepared.branch_of(element).is_none_or(|row| laws[row] == Law::Open);
    let mut off = Vec::new();
    for (id, load) in switched {
        if load.switched_by.iter().any(|given| is_open(given.value)) {
            scenario.loads.push((id, LoadChange::On));
            off.push(id);
        }
    }
    let emfs = design.batteries.iter().filter_map(|(_, source)| source.emf.as_ref());
    let volts = emfs.map(|emf| emf.high.value.0).fold(0.0, f64::max);
    for (id, switch) in design.switches.iter() {
        let element = ElementId::Switch(id);
        if let Some(leakage) = switch.leakage.filter(|_| is_open(element) && volts > 0.0) {
            scenario.stuck.push((element, Stuck::Closed));
            scenario.ohms.push((element, Ohm(volts / leakage.value.0)));
        }
    }
    off
}

/// The phase with every load on that a switch commands: the ways as they are meant.
pub(crate) fn meant(case: &Case, point: &Point) -> (Point, Meant) {
    let mut scenario = point.scenario.clone();
    for (id, load) in case.design.loads.iter().filter(|(_, load)| !load.switched_by.is_empty()) {
        scenario.loads.push((id, LoadChange::On));
        scenario.switches.extend(load.switched_by.iter().map(|given| (given.value, Commanded::On)));
    }
    let on = case.prepared.near(point).roughly(&scenario);
    let mut meant = Meant::default();
    for (id, _) in case.design.loads.iter() {
        let element = ElementId::Load(id);
        if case.prepared.branch_of(element).is_some_and(|row| on.current[row] > 1e-3) {
            meant.add(element, &case.prepared.trace(&on, element));
        }
    }
    (on, meant)
}
