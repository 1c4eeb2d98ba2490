//! What becomes of a battery's charge: from what its type is rated at to what the mission leaves, step by step.

use crate::timeline::{Run, RunEnd};
use model::*;
use physics::battery::{Bank, State};
use physics::*;

/// Charge of one battery in one corner. Every step down is above zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// The battery.
    pub battery: Id<Source>,
    /// Rated charge of all its strings.
    pub rated: Coulomb,
    /// Gone by age and wear.
    pub age: Coulomb,
    /// Gone in storage.
    pub storage: Coulomb,
    /// Not there when the first phase begins.
    pub not_charged: Coulomb,
    /// Kept back by cold and by rate while it was discharged.
    pub kept_back: Coulomb,
    /// Below its cut-off voltage, at its greatest current and coldest; `None` where no cut-off is stated.
    pub unusable: Option<Coulomb>,
    /// Given in each phase that it was on in, with the energy at its terminals; in the order of phases.
    pub need: Vec<(Id<Phase>, Coulomb, Joule)>,
    /// Left at the end, above and below its cut-off.
    pub left: Coulomb,
    /// Mean voltage without load over its whole charge, for energies.
    pub mean: Volt,
    /// Charge to take out before it is connected, so that its voltage without load is not above the greatest of a bus; `None` where that has no limit or is never met.
    pub preload: Option<Coulomb>,
}

/// Depth beyond which the terminal voltage is below the cut-off, at a current and temperature with every pair settled.
pub fn usable_depth(kind: &BatteryType, cells: &Cells, bank: &Bank, current: Ampere, temperature: Kelvin) -> Option<f64> {
    let least = kind.cut_off?.value.0 * f64::from(cells.series.value);
    let string = Ampere(current.0.max(0.0) / bank.parallel);
    let volts = |depth: f64| {
        let pairs = kind.curve.pairs(depth, temperature, false).len();
        let state = State { depth, temperature, late: vec![string; pairs], current: string };
        let circuit = bank.circuit(&kind.curve, &state, Second(0.0));
        (circuit.emf - circuit.ohms * Ampere(current.0.max(0.0))).0
    };
    if volts(0.0) < least {
        return Some(0.0);
    }
    if volts(1.0) >= least {
        return Some(1.0);
    }
    let (mut above, mut below) = (0.0, 1.0);
    for _ in 0..50 {
        let middle = 0.5 * (above + below);
        if volts(middle) >= least { above = middle } else { below = middle }
    }
    Some(above)
}

/// Share of a battery's charge that lies below its cut-off in a run: at the greatest current it gives and the coldest that it is. `None` without a cut-off.
pub fn unusable(design: &Design, run: &Run, column: usize, battery: Id<Source>) -> Option<f64> {
    let cells = design.batteries[battery].cells.as_ref()?;
    let kind = &design.battery_types[cells.kind.value];
    let bank = cells.bank(design, run.corner, 0).ok()?;
    let of = || run.instants().map(|(_, instant)| instant.batteries[column]);
    let most = of().map(|at| at.current.0).fold(0.0, f64::max);
    let coldest = of().map(|at| at.temperature.0).fold(f64::INFINITY, f64::min);
    let coldest = if coldest.is_finite() { Kelvin(coldest) } else { kind.rated_at };
    Some(1.0 - usable_depth(kind, cells, &bank, Ampere(most), coldest)?)
}

/// The budget of a followed battery; `None` where it has no cells.
pub fn budget(design: &Design, run: &Run, column: usize, battery: Id<Source>) -> Option<Budget> {
    let cells = design.batteries[battery].cells.as_ref()?;
    let kind = &design.battery_types[cells.kind.value];
    let bank = cells.bank(design, run.corner, 0).ok()?;
    let stored = cells.after_storage(design).ok()?.0;
    let rated = kind.curve.rated * bank.parallel;
    let full = run.charge[column];
    let worn = rated * (bank.capacity.0 / stored);
    let begins = full * cells.charge_in(run.corner).value.0;
    let mut need: Vec<(Id<Phase>, Coulomb, Joule)> = Vec::new();
    for leg in &run.legs {
        let (mut charge, mut energy) = (0.0, 0.0);
        for pair in leg.instants.windows(2) {
            let [a, b] = [pair[0].batteries[column], pair[1].batteries[column]];
            let half = 0.5 * (pair[1].at.0 - pair[0].at.0);
            charge += half * (a.current.0 + b.current.0);
            energy += half * (a.current.0 * a.volts.0 + b.current.0 * b.volts.0);
        }
        if charge == 0.0 {
            continue;
        }
        match need.last_mut().filter(|(phase, ..)| *phase == leg.phase) {
            Some((_, of_charge, of_energy)) => {
                of_charge.0 += charge;
                of_energy.0 += energy;
            }
            None => need.push((leg.phase, Coulomb(charge), Joule(energy))),
        }
    }
    let left = run.instants().last().map_or(begins, |(_, instant)| full * instant.batteries[column].left);
    let given: f64 = need.iter().map(|(_, charge, _)| charge.0).sum();
    // The generic form has a pole when empty: what would be below zero counts as nothing.
    let most = |depth: f64| bank.emf(&kind.curve, depth, kind.rated_at).0.max(0.0);
    const SLICES: usize = 200;
    let mean = (0..SLICES).map(|n| most((n as f64 + 0.5) / SLICES as f64)).sum::<f64>() / SLICES as f64;
    let hottest = cells.temperature_in(Corner::High).map_or(kind.rated_at, |given| given.value);
    let preload = design.profile.bus_max.and_then(|limit| bank.depth_below(&kind.curve, hottest, limit.value)).map(|depth| full * depth);
    Some(Budget {
        battery,
        rated,
        age: rated - worn,
        storage: worn - full,
        not_charged: full - begins,
        kept_back: Coulomb((begins - left).0 - given),
        unusable: unusable(design, run, column, battery).map(|share| full * share),
        need,
        left,
        mean: Volt(mean),
        preload,
    })
}

impl RunEnd {
    /// The input that is missing, with why, where a run did not come to the end of the mission.
    pub fn lacks(&self, design: &Design) -> Option<(String, String)> {
        let name = |phase: &Id<Phase>| design.phases[*phase].name.to_string();
        Some(match self {
            RunEnd::Whole => return None,
            RunEnd::NoDuration(phase) => {
                (format!("duration of phase {}", name(phase)), format!("how long phase {} lasts is not stated", name(phase)))
            }
            RunEnd::Unsettled(phase) => (
                format!("operating point of phase {}", name(phase)),
                "a part of the network with a battery comes to no operating point".to_owned(),
            ),
            RunEnd::StepLimit(phase) => (format!("steps of phase {}", name(phase)), "it takes more steps than the bound".to_owned()),
            RunEnd::Cancelled => ("time".to_owned(), "it was stopped".to_owned()),
        })
    }
}
