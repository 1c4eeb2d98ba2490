//! Who tells of a fault: monitors held against the state without it.

use super::{Base, Sweep};
use crate::faults::stand::State;
use analysis::Law;
use model::*;

impl Sweep<'_, '_> {
    /// The first monitor that is sampled in the phase and moves as far as it takes; and the first test on the ground that does.
    pub(super) fn announced(&self, base: &Base, state: &State) -> (Announced, Option<Id<Monitor>>) {
        let phase = base.phase();
        let (mut by, mut ground) = (Announced::Latent, None);
        for (id, monitor) in self.design.monitors.iter().filter(|(_, monitor)| Design::is_in(&monitor.phases, phase)) {
            if monitor.ground && ground.is_some() || !monitor.ground && by != Announced::Latent {
                continue;
            }
            let Some(alarm) = self.alarm(base, state, monitor) else { continue };
            match monitor.ground {
                true => ground = Some(id),
                false => by = Announced::By(id, alarm),
            }
        }
        (by, ground)
    }

    /// How far a monitor moves, if it is as far as it takes.
    fn alarm(&self, base: &Base, state: &State, monitor: &Monitor) -> Option<Alarm> {
        if monitor.read_by.is_some_and(|load| !state.point.serves(load.value) || state.opens(self.prepared, ElementId::Load(load.value))) {
            return None;
        }
        let between = |point: &Point, [plus, minus]: [End; 2]| {
            let (a, b) = (self.prepared.node(plus)?, self.prepared.node(minus)?);
            let island = point.island_of[a.row()]?;
            let joined = point.island_of[b.row()] == Some(island) && point.islands[island as usize].outcome.is_settled();
            joined.then(|| point.voltage[a.row()] - point.voltage[b.row()])
        };
        let current = |point: &Point, element: ElementId| self.prepared.branch_of(element).map_or(0.0, |row| point.current[row]);
        let (before, after) = (base.start.point, &state.point);
        // What is cut off reads nothing.
        let by = match monitor.watches.value {
            Watched::Voltage(_, ends) => between(after, ends).unwrap_or(0.0) - between(before, ends).unwrap_or(0.0),
            Watched::Reading(_, receiver) => {
                let reads = |point: &Point| point.receiver_voltage[receiver].map_or(0.0, |v| v.0);
                reads(after) - reads(before)
            }
            Watched::Current(element) => current(after, element) - current(before, element),
            Watched::State(element) => {
                let stands = |point: &Point, state: Option<&State>| match element {
                    ElementId::Load(load) => point.serves(load) && state.is_none_or(|state| !state.opens(self.prepared, element)),
                    _ => match self.prepared.branch_of(element) {
                        Some(row) => match state.and_then(|state| state.law(row)) {
                            Some(law) => law != Law::Open,
                            None => base.start.near.conducts(row),
                        },
                        None => false,
                    },
                };
                let moves = stands(before, None) != stands(after, Some(state));
                return moves.then_some(Alarm { by: 1.0, threshold: 1.0 });
            }
        };
        let threshold = monitor.threshold?.value;
        (by.abs() >= threshold).then_some(Alarm { by, threshold })
    }
}
