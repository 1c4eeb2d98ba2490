//! Whole functions while a plane parts and afterwards.
//!
//! Cost: per state linear in what the functions need; per way of a signal linear in what conducts together with its first end.

use crate::faults::way;
use analysis::Prepared;
use model::*;
use physics::Volt;

/// Functions that are wanted in the phase of an event and work in every corner before its first step.
pub(super) struct Functions<'s> {
    before: &'s [Point; 3],
    wanted: Vec<Id<Function>>,
}

impl<'s> Functions<'s> {
    pub(super) fn new(prepared: &Prepared, phase: Id<Phase>, before: &'s [Point; 3]) -> Functions<'s> {
        let design = prepared.design();
        let mut found = Functions { before, wanted: Vec::new() };
        let works = |(id, function): (Id<Function>, &Function)| {
            let all =
                !function.need.leaves().is_empty() && before.iter().all(|point| found.one(prepared, point, id).effect == Effect::Kept);
            (Design::is_in(&function.phases, phase) && all).then_some(id)
        };
        let wanted = design.functions.iter().filter_map(works).collect();
        found.wanted = wanted;
        found
    }

    /// How each stands in a state, in order.
    pub(super) fn stand(&self, prepared: &Prepared, point: &Point) -> Vec<FunctionCase> {
        self.wanted.iter().map(|&id| self.one(prepared, point, id)).collect()
    }

    fn one(&self, prepared: &Prepared, point: &Point, function: Id<Function>) -> FunctionCase {
        let mut leaves: Vec<(Effect, Reason)> = Vec::new();
        let (effect, at) = prepared.design().functions[function].need.worst(&mut |need| {
            leaves.push(self.leaf(prepared, point, need));
            (leaves[leaves.len() - 1].0, leaves.len() - 1)
        });
        let reason = leaves.get(at).map_or(Reason::Works, |(_, reason)| *reason);
        FunctionCase { function, effect, reason, intermittent: None }
    }

    fn leaf(&self, prepared: &Prepared, point: &Point, need: &Need) -> (Effect, Reason) {
        let design = prepared.design();
        let before = &self.before[point.scenario.corner as usize];
        match need {
            Need::One(Given { value: subject @ Subject::Element(ElementId::Load(load)), .. }) => {
                let settled = || {
                    let island = prepared.node(design.loads[*load].line.value).and_then(|node| point.island_of[node.row()]);
                    island.is_none_or(|island| point.islands[island as usize].outcome.is_settled())
                };
                match point.load_state[*load] {
                    LoadState::On if !settled() => return (Effect::NotKnown, Reason::Unsettled(*subject)),
                    LoadState::Unknown => return (Effect::NotKnown, Reason::Unsettled(*subject)),
                    _ if !point.serves(*load) => return (Effect::Lost, Reason::Without(*subject)),
                    _ => {}
                }
                let (least, most) = rules::volts_limits(design, *load);
                let outside = |volts: Option<Volt>| match volts {
                    Some(volts) if volts < least.value => Some(least.value),
                    Some(volts) if volts > most.value => Some(most.value),
                    _ => None,
                };
                let now = point.load_voltage[*load];
                match outside(now).zip(now).filter(|_| outside(before.load_voltage[*load]).is_none()) {
                    Some((limit, now)) => (Effect::Degraded, Reason::Outside(*subject, now.0, limit.0)),
                    None => (Effect::Kept, Reason::Works),
                }
            }
            Need::One(Given { value: subject @ Subject::Element(ElementId::Sensor(sensor)), .. }) => {
                let row = &design.sensors[*sensor];
                let reads = |point: &Point| row.receiver.and_then(|receiver| point.receiver_voltage[receiver.value]);
                let (Some(was), Some(now)) = (reads(before), reads(point)) else { return (Effect::Lost, Reason::Without(*subject)) };
                // Without an allowance every reading counts as right, as in the sweep over faults.
                let limit = row.allowance.map(|allowance| (row.law.span() * allowance.value.0).0.abs());
                match limit.filter(|limit| (now - was).0.abs() > *limit) {
                    Some(limit) => (Effect::Lost, Reason::Outside(*subject, (now - was).0.abs(), limit)),
                    None => (Effect::Kept, Reason::Works),
                }
            }
            Need::Path(ends) => match way::find(prepared, &prepared.laws(&point.scenario), ends.value) {
                Some(_) => (Effect::Kept, Reason::Works),
                None => (Effect::Lost, Reason::Cut(ends.value[0], ends.value[1])),
            },
            _ => (Effect::Kept, Reason::Works),
        }
    }
}
