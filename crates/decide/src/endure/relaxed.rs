//! What no plan can exceed: a row for each set of batteries, of what the loads that only they feed take at the least against what they can give at the most.
//!
//! Why it bounds: energy is kept. What loads take comes out of the batteries that feed them, and wires, contacts, devices, diodes, converters and the batteries' own
//! resistances only lose on the way; so the sum of what loads take is not above the integral of the voltage without load over the charge that is left above
//! the cut-off. Likewise what they take at any time is not above what their batteries give at their peak currents, which no plan may pass. Each load is counted at the least it can take while it works (a constant power at that power, a current or resistance at the least voltage it
//! works at), each battery at the highest voltage and charge that any temperature of the mission gives it. Restarts, least times on and limits are left out,
//! and a period may be half on. Every plan that holds in the simulation satisfies all of that.

use super::choice::Row;
use super::course::{Stands, Task};
use super::trial::Trial;
use analysis::Law;
use model::*;
use physics::*;
use std::collections::HashMap;

/// Slices of a battery's charge, each at the voltage of its fuller end.
const SLICES: usize = 400;
/// Batteries of which every set gets a row; of more, each alone and all together.
const SETS: usize = 5;

/// What a set of batteries can give, and who takes from it alone.
pub(crate) struct Charge {
    /// Columns of the batteries.
    pub(crate) batteries: Vec<usize>,
    /// Loads that only these feed, by leg.
    pub(crate) feeds: Vec<Vec<Id<Load>>>,
    /// Energy above the cut-off, J.
    pub(crate) most: f64,
    /// What loads that may be shed take at the least, against that less what the others take.
    pub(crate) row: Row,
}

/// A row for each set of batteries that feeds something alone.
pub(crate) fn charges(task: &Task, trial: &Trial) -> Vec<Charge> {
    let count = task.timeline.batteries.len();
    let sets: Vec<Vec<usize>> = match count {
        0 => Vec::new(),
        n if n <= SETS => (1usize..1 << n).map(|mask| (0..n).filter(|at| mask >> at & 1 == 1).collect()).collect(),
        n => (0..n).map(|at| vec![at]).chain([(0..n).collect()]).collect(),
    };
    let mut known: HashMap<(usize, Vec<usize>), Vec<Id<Load>>> = HashMap::new();
    let gives: Vec<f64> = (0..count).map(|at| most_energy(task, at)).collect();
    let mut found: Vec<Charge> = Vec::new();
    for batteries in sets {
        // A battery that can be charged may pass on what another one gave: only all of them together are bounded.
        if batteries.len() < count && batteries.iter().any(|&at| recharges(task, at)) {
            continue;
        }
        let feeds: Vec<Vec<Id<Load>>> = (0..task.legs.len())
            .map(|leg| {
                let on: Vec<usize> = batteries.iter().copied().filter(|&at| is_on(task, leg, at)).collect();
                known.entry((leg, on.clone())).or_insert_with(|| fed_only_by(task, leg, &on)).clone()
            })
            .collect();
        let (mut fixed, mut terms) = (0.0, Vec::new());
        for (at, period) in task.periods[..task.planned].iter().enumerate() {
            for &load in &feeds[period.leg] {
                let energy = least_power(task, trial, period.leg, load) * period.lasts;
                match task.shed.iter().position(|s| s.load == load) {
                    Some(n) if energy > 0.0 => terms.push((at * task.shed.len() + n, energy)),
                    Some(_) => {}
                    None => fixed += energy,
                }
            }
        }
        if terms.is_empty() {
            continue;
        }
        let most: f64 = batteries.iter().map(|&at| gives[at]).sum();
        // The same loads on fewer batteries say more.
        if found.iter().any(|other| other.feeds == feeds && other.most <= most) {
            continue;
        }
        found.push(Charge { batteries, feeds, most, row: Row { terms, most: most - fixed } });
    }
    found
}

/// Of each period and set of batteries: what the loads that only they feed take against the batteries' peak currents at their first voltage.
pub(crate) fn peaks(task: &Task, trial: &Trial, charges: &[Charge]) -> Vec<Row> {
    let mut rows = Vec::new();
    let count = task.shed.len();
    for charge in charges {
        for (at, period) in task.periods[..task.planned].iter().enumerate() {
            // What is on in turns is on with all else where its leg begins, and later not in every period: nothing is asked there that the first one does not ask.
            if task.has_turns(period.leg) && at != task.spans[period.leg].start {
                continue;
            }
            let on: Vec<usize> = charge.batteries.iter().copied().filter(|&column| is_on(task, period.leg, column)).collect();
            let is_held = |column: usize| !trial.known.exempt.contains(&(period.leg, Mark::Battery(task.timeline.batteries[column])));
            let peak =
                |column: usize| Some(task.design().batteries[task.timeline.batteries[column]].peak?.value.0 * volts_first(task, column));
            let most: Option<f64> = on.iter().map(|&column| peak(column).filter(|_| is_held(column))).sum();
            let Some(mut most) = most else { continue };
            let mut terms = Vec::new();
            for &load in &charge.feeds[period.leg] {
                let power = least_power(task, trial, period.leg, load);
                match task.shed.iter().position(|s| s.load == load) {
                    Some(n) if power > 0.0 => terms.push((at * count + n, power)),
                    Some(_) => {}
                    None => most -= power,
                }
            }
            if terms.iter().map(|(_, power)| power).sum::<f64>() > most {
                rows.push(Row { terms, most });
            }
        }
    }
    rows
}

/// The highest voltage without load that a battery can have from the start on.
fn volts_first(task: &Task, column: usize) -> f64 {
    let Some(of) = of_battery(task, column) else { return 0.0 };
    let depth = task.begin.states[column].depth.min(1.0);
    // A battery that is charged by others may rise again.
    let depth = if recharges(task, column) { 0.0 } else { depth };
    of.highest(depth)
}

fn recharges(task: &Task, column: usize) -> bool {
    let row = &task.design().batteries[task.timeline.batteries[column]];
    row.cells.as_ref().is_some_and(|cells| task.design().battery_types[cells.kind.value].curve.recharges)
}

fn is_on(task: &Task, leg: usize, column: usize) -> bool {
    let row = task.prepared.branch_of(ElementId::Source(task.timeline.batteries[column]));
    row.is_some_and(|row| task.prepared.laws(&task.legs[leg].point.scenario)[row] != Law::Open)
}

/// Loads that have no power once these batteries are away.
fn fed_only_by(task: &Task, leg: usize, batteries: &[usize]) -> Vec<Id<Load>> {
    if batteries.is_empty() {
        return Vec::new();
    }
    let leg = &task.legs[leg];
    let mut scenario = leg.point.scenario.clone();
    scenario.lost.extend(batteries.iter().map(|&at| Subject::Element(ElementId::Source(task.timeline.batteries[at]))));
    let found = task.prepared.near(&leg.point).point(&scenario);
    task.design().loads.ids().filter(|&load| leg.stands[load] == Stands::On && !found.load_fed[load]).collect()
}

/// Power that a load takes at the least while it works.
pub(crate) fn least_power(task: &Task, trial: &Trial, leg: usize, load: Id<Load>) -> f64 {
    // What nobody says the worth of is held to nothing: it may have let go.
    if task.unranked.contains(&load) {
        return 0.0;
    }
    let mut volts = task.design().loads[load].drop_out.map_or(0.0, |volts| volts.value.0);
    if !trial.known.exempt.contains(&(leg, Mark::Load(load))) {
        volts = volts.max(rules::volts_limits(task.design(), load).0.value.0);
    }
    match task.legs[leg].laws[load] {
        Law::Power { watts, .. } => watts,
        Law::Current { amperes, .. } => amperes * volts,
        Law::Conductance { g } | Law::Resistance { g, .. } => g * volts * volts,
        _ => 0.0,
    }
}

/// A battery's cells at every temperature that the mission may give them.
struct OfBattery<'d> {
    bank: physics::battery::Bank,
    curve: &'d physics::battery::Curve,
    temperatures: Vec<Kelvin>,
    cut_off: f64,
}

impl OfBattery<'_> {
    fn highest(&self, depth: f64) -> f64 {
        self.temperatures.iter().map(|&t| self.bank.emf(self.curve, depth, t).0).fold(0.0, f64::max)
    }
}

fn of_battery<'d>(task: &Task<'_, 'd>, column: usize) -> Option<OfBattery<'d>> {
    let design = task.design();
    let cells = design.batteries[task.timeline.batteries[column]].cells.as_ref()?;
    let bank = cells.bank(design, task.corner, 0).ok()?;
    let curve = &design.battery_types[cells.kind.value].curve;
    let ambients =
        design.phases.iter().flat_map(|(_, phase)| [phase.ambient.low.value, phase.ambient.typical.value, phase.ambient.high.value]);
    let mut temperatures: Vec<Kelvin> = ambients.chain(cells.temperature_in(task.corner).map(|given| given.value)).collect();
    temperatures.push(task.begin.states[column].temperature);
    temperatures.retain(|t| t.0 > 0.0);
    // Between the rows of a table values run straight: its own rows are the extremes.
    if let physics::battery::Form::Tables { emf, .. } = &curve.form {
        temperatures.extend(emf.rows.iter().map(|row| row.0));
    }
    Some(OfBattery { bank, curve, temperatures, cut_off: cells.cut_off(design).map_or(0.0, |volts| volts.0) })
}

/// Energy that a battery gives at the most, from how it stands to its cut-off: highest voltage, best share, least loss.
fn most_energy(task: &Task, column: usize) -> f64 {
    let Some(of) = of_battery(task, column) else { return 0.0 };
    let share = of
        .curve
        .capacity
        .as_ref()
        .map_or(1.0, |field| field.rows.iter().flat_map(|(_, points)| points).map(|(_, share)| *share).fold(0.0, f64::max));
    let from = task.begin.states[column].depth.min(1.0);
    let slice = (1.0 - from) / SLICES as f64;
    let volts = (0..SLICES).map(|n| of.highest(from + n as f64 * slice)).filter(|volts| *volts >= of.cut_off);
    volts.sum::<f64>() * slice * task.charge[column].0 * share
}
