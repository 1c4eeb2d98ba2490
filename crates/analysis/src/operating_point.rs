//! Network and heat in turn, until the temperatures of conductors stand still.
//!
//! A conductor that is warmer has more ohms, which changes currents, which changes the heat: each round takes the temperatures of the one
//! before. A round moves them by some tenths of the move before (0.4 % of resistance per kelvin times the rise), so that few are needed.
//! Loads that pulse are in the network at their peaks; what heats a wire is told from it by [`pulses`].
//! A round that starts cold comes to the coolest state that there is, from below. Where the network has none any more with the ohms of warm copper,
//! or a section no balance with the currents that those bring, no state is beyond: the rounds end there.
//! What heats itself without end is found by the balance of its section ([`SegmentHeat::Runaway`]) and stays at the ambient here.

use crate::corner::ambient_in;
use crate::{Prepared, heat, point, pulses};
use model::*;
use physics::*;
use std::sync::Arc;

/// Move of a conductor's temperature at which it stands still: 4e-5 of its resistance.
const STILL: TemperatureRise = TemperatureRise(0.01);

/// Rounds at most.
const ROUNDS: usize = 30;

/// Where a state may begin: one of the same phase, with its heat.
pub(crate) struct Begun {
    point: Point,
    starts: heat::Starts,
}

/// Settles a phase in each corner, those of the extremes from the typical one: where they begin decides nothing, and saves steps.
pub(crate) fn corners(prepared: &Prepared, phase: Id<Phase>) -> [Point; 3] {
    let typical = settle(prepared, &Scenario::new(phase, Corner::Typical), None);
    let other = |corner| settle(prepared, &Scenario::new(phase, corner), Some(&typical)).point;
    let (low, high) = rayon::join(|| other(Corner::Low), || other(Corner::High));
    [low, typical.point, high]
}

/// Settles network and heat of a vehicle with zones.
pub(crate) fn operating_point(prepared: &Prepared, scenario: &Scenario) -> Point {
    settle(prepared, scenario, None).point
}

fn settle(prepared: &Prepared, scenario: &Scenario, begun: Option<&Begun>) -> Begun {
    // Copper that ran away says nothing of another corner.
    let begun = begun.filter(|begun| begun.point.heat.as_ref().is_some_and(|heat| heat.ran_away.is_none()));
    let ambient = ambient_in(&prepared.design.phases[scenario.phase], scenario.corner).value;
    let mut at = scenario.clone();
    let warm = begun.and_then(|begun| begun.point.scenario.conductors.clone());
    let mut before: Arc<Column<Wire, Kelvin>> = warm.unwrap_or_else(|| Arc::new(prepared.design.wires.column(ambient)));
    at.conductors = begun.is_some().then(|| Arc::clone(&before));
    let with_pulses = |mut found: Point| {
        found.pulses = pulses::pulses(prepared, &found).map(Arc::new);
        found
    };
    let mut found = with_pulses(point::roughly(prepared, &at, begun.map(|begun| &begun.point)));
    let mut rounds = 0;
    let mut known = begun.and_then(|begun| Some(lost(&begun.point, &begun.point.heat.as_ref()?.segments)));
    let mut last = None;
    let mut starts = begun.map_or_else(heat::Starts::default, |begun| begun.starts.clone());
    loop {
        rounds += 1;
        let (network, conductors) = heat::for_network(prepared, &found, ambient, &mut starts);
        let now = lost(&found, &network);
        let more = known.replace(now).is_some_and(|before| now > before);
        if more && begun.is_some() {
            // The copper of another corner may be too warm to begin with.
            return settle(prepared, scenario, None);
        }
        let ran_away = last.filter(|_| more && now[0] > 0);
        let moved = before.iter().zip(conductors.iter()).map(|((wire, old), (_, new))| (wire, TemperatureRise((new.0 - old.0).abs())));
        // The first of those that rounding alone tells apart.
        let most = moved.reduce(|a, b| if b.1.0 > a.1.0 * (1.0 + 1e-6) { b } else { a });
        let unsettled = most.filter(|(_, moved)| *moved > STILL);
        if unsettled.is_none() || rounds == ROUNDS || more {
            let unsettled = unsettled.filter(|_| !more);
            if found.islands.iter().any(|island| matches!(island.outcome, Outcome::NoOperatingPoint { possible: None, .. })) {
                // How much a part could have is sought once, with its copper as warm as it stays.
                let pulses = found.pulses.take();
                found = Point { pulses, ..point::point(prepared, &at, Some(&found)) };
            }
            if found.scenario.conductors.is_none() {
                // What pulses stood on knew the conductors as the ambient only.
                found.beside = Beside::default();
            }
            found.scenario.conductors = Some(before);
            if let Some(all_on) = &mut found.all_on {
                Arc::make_mut(all_on).scenario.clone_from(&found.scenario);
            }
            let mut segments = heat::as_judged(prepared, &found, network, &mut starts);
            heat::name_peaks(prepared, &found, &mut segments);
            found.heat = Some(Arc::new(Heat { segments, rounds, unsettled, ran_away }));
            return Begun { point: found, starts };
        }
        last = most.and_then(|(wire, _)| {
            let row = prepared.branch_of(ElementId::Wire(wire))?;
            Some((wire, Ampere(found.current[row].abs()), conductors[wire]))
        });
        before = Arc::new(conductors);
        at.conductors = Some(Arc::clone(&before));
        found = with_pulses(point::roughly(prepared, &at, Some(&found)));
    }
}

/// Parts of the network without an operating point, and segments without a balance of heat.
fn lost(point: &Point, segments: &Column<Segment, SegmentHeat>) -> [usize; 2] {
    let islands = point.islands.iter().filter(|island| !island.outcome.is_settled()).count();
    [islands, segments.iter().filter(|(_, heat)| matches!(heat, SegmentHeat::Runaway { .. })).count()]
}
