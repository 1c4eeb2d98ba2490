//! From measurements to where a plan starts: charge of each battery between two bounds, and what the model does not bear out.
//!
//! Charge that is counted gives one value. A terminal voltage gives a range: every depth at which the cells, new or worn, at the measured current could show that
//! voltage as far as it may be off. On a flat plateau that is wide, and both ends go on.

use analysis::Prepared;
use analysis::timeline::{Fineness, Follow, followed};
use model::*;
use physics::battery::{Bank, Curve, State};
use physics::*;

/// Depths at which a voltage is looked for.
const DEPTHS: usize = 1000;

/// A battery as measured.
#[derive(Clone, Copy, Debug)]
pub struct BatteryMeasured {
    /// The battery.
    pub battery: Id<Source>,
    /// Charge given since it was full.
    pub used: Option<Coulomb>,
    /// Temperature of its cells.
    pub temperature: Option<Kelvin>,
    /// Time since it was charged or activated.
    pub activated: Option<Second>,
    /// At its terminals, and how far that may be off.
    pub volts: Option<(Volt, Volt)>,
    /// What it gives.
    pub current: Option<Ampere>,
}

/// What measurements say of the start.
#[derive(Clone, Debug, Default)]
pub struct Start {
    /// Batteries at the least charge that fits.
    pub low: Vec<BatteryStart>,
    /// At the greatest; the same where charge was counted.
    pub high: Vec<BatteryStart>,
    /// What was taken from what, a sentence each.
    pub taken: Vec<String>,
    /// What the model does not bear out, a sentence each.
    pub contradictions: Vec<String>,
}

/// Charge and temperature of the batteries at the start, by the state `point` of the phase in the low corner.
pub fn batteries(prepared: &Prepared, point: &Point, measured: &[BatteryMeasured]) -> Start {
    let design = prepared.design();
    let mut start = Start::default();
    for row in measured {
        let words = design.element_words(ElementId::Source(row.battery));
        let Some(cells) = &design.batteries[row.battery].cells else {
            start.contradictions.push(format!("{words} names no type of its cells: nothing follows from what was measured of it"));
            continue;
        };
        let kind = &design.battery_types[cells.kind.value];
        let (Ok(worn), Ok(fresh)) = (cells.bank(design, Corner::Low, 0), cells.bank(design, Corner::High, 0)) else { continue };
        let kept = cells.temperature_in(Corner::Low).map(|given| given.value);
        let temperature = row.temperature.or(kept).unwrap_or(design.phases[point.scenario.phase].ambient.typical.value);
        // Storage beyond what the row states takes its share of the charge.
        let aged = row.activated.map_or(1.0, |time| {
            let at = cells.stored_at.map_or(temperature, |given| given.value);
            let stated = cells.after_storage(design).map_or(1.0, |left| left.0);
            kind.kept(time, at).map_or(1.0, |left| left.0 / stated)
        });
        if row.activated.is_some() && kind.losses.is_empty() {
            start.contradictions.push(format!(
                "the catalog states no loss in storage of type {}: the time since {words} was activated says nothing",
                kind.name
            ));
        }
        let counted = row.used.map(|used| {
            let left = |bank: &Bank| aged - used.0 / bank.charge(&kind.curve).0;
            [left(&worn), left(&fresh)]
        });
        let current = row.current.unwrap_or_else(|| {
            let branch = prepared.branch_of(ElementId::Source(row.battery));
            Ampere(branch.map_or(0.0, |at| -point.current[at]))
        });
        let by_volts =
            row.volts.map(|(volts, within)| (volts, within, depths(&kind.curve, &[worn, fresh], temperature, current, volts, within)));
        let percent = |share: f64| format!("{:.0} %", 100.0 * share);
        let range = match (counted, by_volts) {
            (Some(left), seen) => {
                if left[0] < 0.0 {
                    let most = worn.charge(&kind.curve).0 * aged / 3600.0;
                    start.contradictions.push(format!(
                        "{words} has given {:.0} Ah, and worn cells of its type hold {most:.0} Ah: taken as empty",
                        row.used.map_or(0.0, |used| used.0 / 3600.0)
                    ));
                }
                let left = left.map(|left| left.clamp(0.0, 1.0));
                if let Some((volts, within, depths)) = seen {
                    let fits = depths.is_some_and(|[a, b]| 1.0 - b <= left[1] + 0.005 && 1.0 - a >= left[0] - 0.005);
                    if !fits {
                        let says = depths.map_or("no charge gives that".to_owned(), |[a, b]| {
                            format!("that is {} to {} left", percent(1.0 - b), percent(1.0 - a))
                        });
                        start.contradictions.push(format!(
                            "{words}: by the charge it has given {} is left, but it shows {:.2} V (within {:.2} V) at {:.1} A: {says}",
                            percent(left[0]),
                            volts.0,
                            within.0,
                            current.0
                        ));
                    }
                }
                start.taken.push(format!("{words}: {} left, by the charge it has given", percent(left[0])));
                Some([left[0], left[0]])
            }
            (None, Some((volts, within, Some([a, b])))) => {
                let left = [(1.0 - b).min(aged), (1.0 - a).min(aged)];
                start.taken.push(format!(
                    "{words}: {} to {} left, by {:.2} V (within {:.2} V) at {:.1} A alone",
                    percent(left[0]),
                    percent(left[1]),
                    volts.0,
                    within.0,
                    current.0
                ));
                Some(left)
            }
            (None, Some((volts, within, None))) => {
                let full = terminal(&kind.curve, &fresh, 0.0, temperature, current);
                let left = if volts.0 > full { 1.0 } else { 0.0 };
                let which = if left > 0.0 { "more than full cells give" } else { "less than empty cells give" };
                start.contradictions.push(format!(
                    "{words}: {:.2} V (within {:.2} V) at {:.1} A is {which}: taken as {}",
                    volts.0,
                    within.0,
                    current.0,
                    percent(left)
                ));
                Some([left, left])
            }
            (None, None) => None,
        };
        let at = |left: Option<f64>| BatteryStart { battery: row.battery, left: left.map(Ratio), temperature: row.temperature };
        start.low.push(at(range.map(|range| range[0])));
        start.high.push(at(range.map(|range| range[1])));
    }
    start
}

/// Terminal voltage with every pair settled at a current.
fn terminal(curve: &Curve, bank: &Bank, depth: f64, temperature: Kelvin, current: Ampere) -> f64 {
    let string = Ampere(current.0 / bank.parallel);
    let pairs = curve.pairs(depth, temperature, current.0 < 0.0).len();
    let state = State { depth, temperature, late: vec![string; pairs], current: string };
    let circuit = bank.circuit(curve, &state, Second(0.0));
    (circuit.emf - circuit.ohms * current).0
}

/// The least and greatest depth at which one of some banks shows a voltage as far as it may be off.
fn depths(curve: &Curve, banks: &[Bank], temperature: Kelvin, current: Ampere, volts: Volt, within: Volt) -> Option<[f64; 2]> {
    let shows = |depth: f64| banks.iter().any(|bank| (terminal(curve, bank, depth, temperature, current) - volts.0).abs() <= within.0);
    let all = || (0..=DEPTHS).map(|n| n as f64 / DEPTHS as f64).filter(|depth| shows(*depth));
    Some([all().next()?, all().next_back()?])
}

/// Voltages of buses and currents that the model does not bear out: outside what the low and the high corner give with the batteries at either bound.
///
/// `points` are the low and the high corner of the phase.
pub fn not_borne_out(
    prepared: &Prepared,
    points: &[&Point],
    start: &Start,
    buses: &[(Id<InnerNode>, Volt, Volt)],
    currents: &[(ElementId, Ampere)],
) -> Vec<String> {
    let design = prepared.design();
    let timeline = followed(design);
    let mut settled: Vec<Point> = Vec::new();
    for point in points {
        for batteries in [&start.low, &start.high] {
            let mut follow = Follow::new(prepared, &timeline, point.scenario.corner, Fineness::USUAL);
            let mut standing = follow.standing();
            for row in batteries {
                let Some(column) = timeline.column(row.battery) else { continue };
                if let Some(left) = row.left {
                    standing.states[column].depth = 1.0 - left.0;
                }
                if let Some(temperature) = row.temperature {
                    standing.states[column].temperature = temperature;
                }
            }
            follow.stand(&standing);
            settled.push(follow.state(point, &[], false, &[]));
        }
    }
    let range = |of: &dyn Fn(&Point) -> Option<f64>| -> Option<[f64; 2]> {
        let all: Vec<f64> = settled.iter().filter_map(of).collect();
        (!all.is_empty())
            .then(|| [all.iter().copied().fold(f64::INFINITY, f64::min), all.iter().copied().fold(f64::NEG_INFINITY, f64::max)])
    };
    let mut found = Vec::new();
    for &(bus, volts, within) in buses {
        let words = design.subject_words(Subject::Inner(bus));
        let of = |point: &Point| {
            let back = design.inner_nodes[bus].bus_return?.value;
            let (a, b) = (prepared.node(End::Inner(bus))?, prepared.node(back)?);
            let together = point.island_of[a.row()].is_some() && point.island_of[a.row()] == point.island_of[b.row()];
            together.then(|| point.voltage[a.row()] - point.voltage[b.row()])
        };
        match range(&of) {
            Some([low, high]) if volts.0 < low - within.0 || volts.0 > high + within.0 => {
                found.push(format!("{words}: {:.2} V measured, {low:.2} to {high:.2} V by the model", volts.0));
            }
            Some(_) => {}
            None => found.push(format!("{words}: {:.2} V measured, and by the model nothing drives it", volts.0)),
        }
    }
    for &(element, amperes) in currents {
        let words = design.element_words(element);
        let of = |point: &Point| {
            let current = point.current[prepared.branch_of(element)?];
            Some(if matches!(element, ElementId::Source(_)) { -current } else { current.abs() })
        };
        let Some([low, high]) = range(&of) else { continue };
        // A tenth of what the model says is what readings and loads differ by: common practice, no source.
        let slack = 0.1 * high.abs().max(low.abs()) + 0.05;
        if amperes.0 < low - slack || amperes.0 > high + slack {
            found.push(format!("{words}: {:.2} A measured, {low:.2} to {high:.2} A by the model", amperes.0));
        }
    }
    found
}
