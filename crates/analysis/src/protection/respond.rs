//! The short circuits of a scenario, followed until devices end them.

use super::sequence::{Flow, sequence};
use super::{CARRIES, LEAKS, hold};
use crate::Prepared;
use model::*;
use physics::trip::Side;
use physics::*;

/// What a short circuit of a scenario comes to.
#[derive(Clone, Debug)]
pub struct Response {
    /// Current of each short.
    pub currents: Vec<Ampere>,
    /// The state while it burns.
    pub burning: Point,
    /// Devices that carry more than before.
    pub devices: Vec<Carries>,
    /// What opens, with every device at its shortest time.
    pub earliest: Clearing,
    /// What opens, with every device at its longest time.
    pub latest: Clearing,
    /// The state once the devices of the longest case have opened; `None` where none does.
    pub after: Option<Point>,
}

impl Prepared<'_> {
    /// Follows the short circuits of a scenario near a settled state until devices end them. Conductors stay as warm as they ran.
    ///
    /// Cost: a state near the settled one for each device that opens, twice.
    pub fn respond(&self, base: &Point, scenario: &Scenario) -> Response {
        let (design, near) = (self.design, self.near(base));
        let settles = |point: &Point| point.islands.iter().all(|island| island.outcome.is_settled());
        let mut held = scenario.clone();
        let mut burning = near.point(scenario);
        if !settles(&burning) {
            hold(self, base, &mut held);
            burning = near.point(&held);
        }
        let scenario = &held;
        let row = |id: Id<Protector>| self.branch_of(ElementId::Protector(id));
        let carried =
            |point: &Point| -> Vec<f64> { design.protectors.ids().map(|id| row(id).map_or(0.0, |row| point.current[row].abs())).collect() };
        let whole = |point: &Point| -> f64 { crate::point::short_currents(self, &point.scenario, point).iter().map(|a| a.abs()).sum() };
        let with = |opened: &[Id<Protector>]| {
            let mut scenario = scenario.clone();
            scenario.opened.extend(opened.iter().map(|&device| (ElementId::Protector(device), None)));
            near.point(&scenario)
        };
        let follow = |side: Side| {
            let flow = |point: &Point| -> Flow {
                let all = design.protectors.ids().zip(carried(point));
                all.filter(|&(_, current)| current > LEAKS.0).collect()
            };
            sequence(design, scenario.phase, &|_| side, (whole(&burning), &flow(&burning)), &mut |opened| {
                let point = with(opened);
                settles(&point).then(|| (whole(&point), flow(&point)))
            })
        };
        let [earliest, latest] = [Side::Shortest, Side::Longest].map(follow);
        let opened: Vec<Id<Protector>> = latest.opens.iter().map(|(_, device)| *device).collect();
        let before = carried(base);
        let now = carried(&burning);
        let least = CARRIES * whole(&burning);
        let more = |id: &Id<Protector>| now[id.row()] - before[id.row()] >= least.max(LEAKS.0);
        let devices = design.protectors.ids().filter(more);
        let devices =
            devices.map(|device| Carries { device, before: Ampere(before[device.row()]), now: Ampere(now[device.row()]) }).collect();
        Response {
            currents: crate::point::short_currents(self, scenario, &burning).into_iter().map(Ampere).collect(),
            devices,
            after: (!opened.is_empty()).then(|| with(&opened)),
            burning,
            earliest,
            latest,
        }
    }
}
