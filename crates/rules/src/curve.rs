//! What stands over current and time for one device: its band, the device above it, starts behind it, faults, and its thinnest wire.

use crate::feeds::Feeds;
use crate::heat::HeatLimits;
use crate::pp_08::{groups, starting};
use crate::{Case, Faults, Worst};
use analysis::protection::FedWire;
use model::*;
use physics::trip::{Device, Edge, Side};
use physics::{Ampere, Kelvin, Second};

/// Everything that is known of a device over current and time.
pub struct Curve {
    /// The device.
    pub device: Id<Protector>,
    /// Coldest and hottest surroundings that were asked for.
    pub ambients: [Kelvin; 2],
    /// Its edges over the currents of the curve: shortest time where it is hottest, longest where it is coldest.
    pub own: Vec<CurvePoint>,
    /// Devices next above it on the ways of its loads, with their edges at the same currents.
    pub above: Vec<(Id<Protector>, Vec<CurvePoint>)>,
    /// Starts of the loads behind it.
    pub starts: Vec<CurveStart>,
    /// The thinnest wire that it guards, or the one that was asked for.
    pub wire: Option<CurveWire>,
    /// Smallest and largest fault current through it, of all wires that it guards.
    pub faults: Option<[Ampere; 2]>,
    /// What is not known.
    pub missing: Vec<String>,
}

/// Both edges at a current.
#[derive(Clone, Copy, Debug)]
pub struct CurvePoint {
    /// Current.
    pub current: Ampere,
    /// Shortest time, in the hottest surroundings.
    pub shortest: Option<Edge>,
    /// Longest time, in the coldest.
    pub longest: Option<Edge>,
    /// Whether the current is one of those that a table shows.
    pub shown: bool,
}

/// A start.
pub struct CurveStart {
    /// Loads that start together.
    pub loads: Vec<String>,
    /// Currents through the device, each with the time at which it ends.
    pub stretches: Vec<(Ampere, Second)>,
}

/// How long a wire stands a current.
pub struct CurveWire {
    /// The wire.
    pub wire: Id<Wire>,
    /// The segment in which it runs warmest.
    pub segment: Id<Segment>,
    /// What it runs at there.
    pub from: Kelvin,
    /// What it may come to.
    pub to: Kelvin,
    /// Whose limit that is.
    pub by: String,
    /// While no heat leaves its strands, at the currents of the curve.
    pub adiabatic: Vec<(Ampere, Second)>,
    /// By the transient of its section, at some of them; `None` where it stands the current for good.
    pub section: Vec<(Ampere, Option<Second>)>,
}

/// Currents of a decade.
const PER_DECADE: f64 = 24.0;
/// Currents of a decade at which the transient of a section is worked out.
const SECTIONS_PER_DECADE: f64 = 4.0;
/// Multiples of the rating that a table shows.
const SHOWN: [f64; 20] =
    [1.0, 1.2, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0, 150.0, 200.0, 300.0, 500.0, 1000.0, 2000.0, 5000.0];

/// The curve of a device; `wire` takes the place of the thinnest wire that it guards, `phase` that of all phases.
///
/// Cost: some hundred interpolations in bands, a walk for each load and state, and some ten transients of one section.
pub fn curve(case: &Case, faults: &Faults, device: Id<Protector>, wire: Option<Id<Wire>>, phase: Option<Id<Phase>>) -> Curve {
    let design = case.design;
    let points: Vec<&Point> = faults.points.iter().filter(|point| phase.is_none_or(|phase| point.scenario.phase == phase)).collect();
    let phases = design.phases.ids().filter(|id| phase.is_none_or(|phase| *id == phase));
    let mut ambients = [Kelvin(f64::INFINITY), Kelvin(f64::NEG_INFINITY)];
    for id in phases {
        let [cold, hot] = design.device_ambient(id).map(|given| given.value);
        ambients = [Kelvin(ambients[0].0.min(cold.0)), Kelvin(ambients[1].0.max(hot.0))];
    }
    let mut curve =
        Curve { device, ambients, own: Vec::new(), above: Vec::new(), starts: Vec::new(), wire: None, faults: None, missing: Vec::new() };
    let guarded: Vec<&FedWire> = faults.protection.wires.iter().filter(|fed| fed.guards.contains(&device)).collect();
    let through = |fed: &&FedWire, largest: bool| {
        let burning = if largest { fed.largest.as_ref() } else { fed.smallest.as_ref() };
        burning?.devices.iter().find(|carries| carries.device == device).map(|carries| carries.now.0)
    };
    let least = guarded.iter().filter_map(|fed| through(fed, false)).fold(f64::INFINITY, f64::min);
    let most = guarded.iter().filter_map(|fed| through(fed, true)).fold(0.0, f64::max);
    curve.faults = (least.is_finite() && most > 0.0).then_some([Ampere(least), Ampere(most)]);

    let words = design.element_words(ElementId::Protector(device));
    let Some(kind) = design.device(device) else {
        let lacks = if design.protectors[device].rating.is_none() { "rating" } else { "device" };
        curve.missing.push(format!("{lacks} of {words}: when it opens is not known"));
        return curve;
    };
    if kind.trip.bands.is_empty() {
        curve.missing.push(format!("trip-bands of {}: the catalog has no times of it", kind.name));
    }
    let (above, starts, lacks) = above_and_starts(case, &points, device);
    curve.starts = starts;
    curve.missing.extend(lacks);
    let currents = currents(kind, curve.faults, &curve.starts, ambients);
    let edges = |trip: &Device| -> Vec<CurvePoint> {
        let at = |(current, shown): &(f64, bool)| CurvePoint {
            current: Ampere(*current),
            shortest: trip.edge(Side::Shortest, Ampere(*current), ambients[1]),
            longest: trip.edge(Side::Longest, Ampere(*current), ambients[0]),
            shown: *shown,
        };
        currents.iter().map(at).collect()
    };
    curve.own = edges(&kind.trip);
    for upper in above {
        match design.device(upper) {
            Some(kind) => curve.above.push((upper, edges(&kind.trip))),
            None => curve.missing.push(format!("device of {}, which stands above it", design.element_words(ElementId::Protector(upper)))),
        }
    }
    let area = |id: Id<Wire>| design.wires[id].spec.map(|spec| design.wire_specs[spec.value].area.value.0);
    let thinnest =
        guarded.iter().filter_map(|fed| Some((fed.wire, area(fed.wire)?))).min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    if let Some(wire) = wire.or(thinnest.map(|(wire, _)| wire)) {
        match wire_of(case, faults, wire, &currents) {
            Ok(found) => curve.wire = Some(found),
            Err(why) => curve.missing.push(why),
        }
    }
    curve
}

/// The devices next above on the ways of the loads, the starts behind a device, and what is missing of them.
fn above_and_starts(case: &Case, points: &[&Point], device: Id<Protector>) -> (Vec<Id<Protector>>, Vec<CurveStart>, Vec<String>) {
    let (mut above, mut starts, mut lacks): (Vec<Id<Protector>>, Vec<CurveStart>, Vec<String>) = Default::default();
    for point in points {
        let feeds = Feeds::of(case, point, &mut Worst::default());
        for row in &feeds.behind[device] {
            let way = &feeds.ways[*row].1;
            let upper = way.iter().position(|of| *of == device).and_then(|at| at.checked_sub(1)).map(|at| way[at]);
            if let Some(upper) = upper
                && !above.contains(&upper)
            {
                above.push(upper);
            }
        }
        let Some(Ok(current)) = case.current(point, ElementId::Protector(device)) else { continue };
        for group in groups(&feeds, device).unwrap_or_default() {
            match starting(case, point, device, current.abs(), &group) {
                Ok(None) => {}
                Ok(Some(one)) => {
                    let loads = one.names(case.design);
                    let stretches: Vec<(Ampere, Second)> = one.stretches().into_iter().map(|(a, t)| (Ampere(a), Second(t))).collect();
                    let peak = |of: &[(Ampere, Second)]| of.iter().map(|(a, _)| a.0).fold(0.0, f64::max);
                    // Of all states the start with the largest current counts.
                    match starts.iter_mut().find(|known| known.loads == loads) {
                        Some(known) if peak(&stretches) > peak(&known.stretches) => known.stretches = stretches,
                        Some(_) => {}
                        None if stretches.is_empty() => {}
                        None => starts.push(CurveStart { loads, stretches }),
                    }
                }
                Err(missing) if !lacks.contains(&missing.field) => lacks.push(missing.field),
                Err(_) => {}
            }
        }
    }
    (above, starts, lacks)
}

/// Currents of the curve, rising, each with whether a table shows it.
fn currents(kind: &DeviceType, faults: Option<[Ampere; 2]>, starts: &[CurveStart], ambients: [Kelvin; 2]) -> Vec<(f64, bool)> {
    let rating = kind.trip.rating.0;
    let band = kind.trip.bands.iter().flat_map(|band| &band.points).map(|point| point.multiple * rating);
    let started = starts.iter().flat_map(|start| &start.stretches).map(|(current, _)| current.0);
    // Of a band that goes on far beyond what can flow, three times that is enough.
    let top = faults.map_or(f64::INFINITY, |[_, most]| 3.0 * most.0);
    let high = band.filter(|current| *current <= top).chain(faults.map(|[_, most]| most.0)).chain(started).fold(10.0 * rating, f64::max);
    let low = 0.8 * rating;
    let decades = (high / low).log10();
    let steps = (PER_DECADE * decades).ceil().clamp(1.0, 500.0);
    let mut currents: Vec<(f64, bool)> = (0..=steps as usize).map(|n| (low * (high / low).powf(n as f64 / steps), false)).collect();
    // Where a band bends at either ambient.
    let knees = ambients.into_iter().flat_map(|ambient| {
        let moved = move |band: &physics::trip::Band| kind.trip.factor(ambient, band.ambient);
        let kept = [kind.trip.holds(ambient), kind.trip.ultimate(ambient)].into_iter().flatten().map(|current| current.0);
        let bends = kind.trip.bands.iter().flat_map(move |band| band.points.iter().map(move |point| point.multiple * rating * moved(band)));
        bends.chain(kept)
    });
    currents.extend(knees.filter(|current| *current >= low && *current <= high).map(|current| (current, false)));
    currents.extend(SHOWN.iter().map(|multiple| (multiple * rating, true)).filter(|(current, _)| *current <= high));
    currents.extend(faults.into_iter().flatten().map(|current| (current.0, true)));
    currents.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    currents.dedup_by(|next, kept| next.0 <= kept.0 * (1.0 + 1e-9));
    currents
}

fn wire_of(case: &Case, faults: &Faults, wire: Id<Wire>, currents: &[(f64, bool)]) -> Result<CurveWire, String> {
    let design = case.design;
    let words = design.element_words(ElementId::Wire(wire));
    let (point, segment, from) = faults.warmest(case, wire).ok_or_else(|| format!("zone of {words}: what it runs at is not known"))?;
    let limits = HeatLimits::new(design);
    let own = limits.of(wire, segment).map_err(|(field, _)| format!("{field} of {words}"))?;
    let harmed = |id: Id<Wire>| {
        let family = design.wires[id].spec.and_then(|spec| design.wire_specs[spec.value].family.clone());
        family.and_then(|family| design.heat.insulation(&family)).and_then(|row| row.damage).map(|given| given.value)
    };
    let to = harmed(wire).unwrap_or(own.limit.value);
    let integral = case.prepared.adiabatic(wire, from, to).ok_or_else(|| format!("gauge of {words}"))?;
    let adiabatic = currents.iter().map(|(current, _)| (Ampere(*current), integral.time_at(Ampere(*current)))).collect();
    let limit = |id: Id<Wire>| harmed(id).or_else(|| limits.of(id, segment).ok().map(|limit| limit.limit.value));
    // Bends of the band come in between: a current is taken when it is far enough above the one before.
    let step = 10_f64.powf(1.0 / SECTIONS_PER_DECADE) * (1.0 - 1e-9);
    let mut apart: Vec<f64> = Vec::new();
    for (current, _) in currents {
        if apart.last().is_none_or(|last| *current >= step * last) {
            apart.push(*current);
        }
    }
    let section = apart
        .into_iter()
        .filter_map(|current| {
            let stands = case.prepared.stands(point, segment, (wire, Ampere(current)), &limit).ok()?;
            Some((Ampere(current), stands.map(|(t, _)| t)))
        })
        .collect();
    let by = if harmed(wire).is_some() { "where its insulation is harmed".to_owned() } else { own.by.words(design) };
    Ok(CurveWire { wire, segment, from, to, by, adiabatic, section })
}
