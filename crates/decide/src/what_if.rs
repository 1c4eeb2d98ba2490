//! What a changed state does: every phase and corner computed and judged again, and held against the vehicle as planned.

use analysis::protection::Response;
use analysis::{Prepared, Watch};
use model::*;
use physics::{Ampere, Farad, Henry, Kelvin, Metre, Second, Volt};
use rayon::prelude::*;
use rules::Case;
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A voltage that moves by no more is not listed.
pub const VOLTS_MOVED: f64 = 0.01;
/// A current that moves by no more is not listed.
pub const AMPERES_MOVED: f64 = 0.01;
/// A reading that moves by no more is not listed.
pub const READING_MOVED: f64 = 10e-6;
/// A temperature that moves by no more kelvin is not listed.
pub const KELVIN_MOVED: f64 = 1.0;
/// A finding whose value moves by a smaller share of its limit is the same finding.
const FINDING_MOVED: f64 = 1e-3;

/// Settles and judges each base point again in the changed state beside it in `changed`, and says what moved. `None` if the watch
/// cancelled.
///
/// Cost: one settled state per base point and two judgements of them.
pub fn what_if(case: &Case, base: &[&Point], changed: &[Scenario], watch: &dyn Watch) -> Option<Changes> {
    let done = AtomicUsize::new(0);
    let after: Vec<Point> = base
        .par_iter()
        .zip(changed)
        .map(|(point, changed)| {
            if watch.cancelled() {
                return None;
            }
            // Heat is computed anew where there is any; a fault is over before it is felt everywhere.
            let settled = match case.design.zones.is_empty() || !changed.shorts.is_empty() {
                true => case.prepared.near(point).point(changed),
                false => case.prepared.point(&Scenario { conductors: None, ..changed.clone() }),
            };
            watch.progress(done.fetch_add(1, Ordering::Relaxed) + 1, base.len());
            Some(settled)
        })
        .collect::<Option<_>>()?;
    let before: Vec<Point> = base.iter().map(|point| (*point).clone()).collect();
    let verdicts = [rules::judge(case, &before), rules::judge(case, &after)];
    let shorted = base.par_iter().zip(changed).filter(|(_, changed)| !changed.shorts.is_empty());
    let shorts = shorted.map(|(point, changed)| short(case.prepared, point, changed)).collect();
    Some(Changes { shorts, ..compare(case.prepared, &before, &after, verdicts) })
}

/// What the short circuits of a state come to.
fn short(prepared: &Prepared, base: &Point, changed: &Scenario) -> ShortAnswer {
    let design = prepared.design();
    let response = prepared.respond(base, changed);
    let lasts = match response.latest.end {
        Ends::Cleared(t) => Some(t),
        _ => None,
    };
    let along = changed.shorts.iter().zip(&response.currents).filter_map(|(&(a, b, _), through)| {
        [a, b].into_iter().find_map(|place| match place {
            Place::Along(ElementId::Wire(wire), _) => Some((wire, *through)),
            _ => None,
        })
    });
    let wires = along
        .filter_map(|(wire, through)| {
            let entering = response.burning.current[prepared.branch_of(ElementId::Wire(wire))?].abs();
            // What does not come from its one end comes from the other.
            let current = Ampere(entering.max((through.0.abs() - entering).abs()));
            let reached = |&segment: &Id<Segment>| prepared.reaches(base, segment, (wire, current), lasts?).ok();
            let segments = prepared.segments_of(wire);
            let hottest = segments.iter().map(reached).collect::<Option<Vec<Kelvin>>>();
            Some((wire, current, hottest.and_then(|all| all.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)))))
        })
        .collect();
    let fed = |point: &Point, id: Id<Load>| service(prepared, point, ElementId::Load(id)) == Service::Fed;
    let served: Vec<Id<Load>> = design.loads.ids().filter(|&id| fed(base, id)).collect();
    let lost: Vec<Id<Load>> = served.iter().copied().filter(|&id| response.after.as_ref().is_some_and(|after| !fed(after, id))).collect();
    let low = |&id: &Id<Load>| {
        let volts = match service(prepared, &response.burning, ElementId::Load(id)) {
            Service::DroppedOut(volts) => volts,
            _ => response.burning.load_voltage[id]?,
        };
        let rides = rides(&design.loads[id], volts, lasts);
        (volts.0 < rules::volts_limits(design, id).0.value.0).then_some(Sagged { load: id, volts, rides })
    };
    let sagged = served.iter().filter(|id| !lost.contains(id)).filter_map(low).collect();
    let peak = peak(prepared, &response);
    ShortAnswer {
        phase: base.scenario.phase,
        corner: base.scenario.corner,
        currents: response.currents,
        devices: response.devices,
        earliest: response.earliest,
        latest: response.latest,
        wires,
        sagged,
        peak,
        lost,
    }
}

/// What a load does through a sag until a time, if that ever comes.
fn rides(load: &Load, volts: Volt, lasts: Option<Second>) -> Rides {
    let Some(drop_out) = load.drop_out else { return Rides::NotKnown("drop_out") };
    if volts >= drop_out.value {
        return Rides::Stays;
    }
    match (load.hold_up, lasts) {
        (_, None) => Rides::LetsGo,
        (None, Some(_)) => Rides::NotKnown("hold_up"),
        (Some(hold_up), Some(lasts)) if lasts <= hold_up.value => Rides::HoldsUp,
        (Some(_), Some(_)) => Rides::LetsGo,
    }
}

/// What the bus comes to when the first device opens.
fn peak(prepared: &Prepared, response: &Response) -> Option<Result<Peak, (String, String)>> {
    let design = prepared.design();
    let (&(_, device), cleared) = (response.latest.opens.first()?, response.after.as_ref()?);
    let opening = prepared.opening(&response.burning, cleared, device)?;
    let row = prepared.branch_of(ElementId::Protector(device))?;
    // A limiter lets no more through, whatever the network would bring.
    let limit = design.protectors[device].device.and_then(|kind| design.device_types[kind.value].limits);
    let flows = response.burning.current[row].abs();
    let interrupts = Ampere(limit.map_or(flows, |limit| flows.min(limit.value.0)));
    let found = || {
        let known = opening.on_bus.iter().filter_map(|load| design.loads[*load].input_capacitance);
        let capacitance = Farad(known.map(|given| given.value.0).sum());
        if capacitance.0 <= 0.0 {
            return Err(("input_capacitance".to_owned(), "it is stated of no load on the bus".to_owned()));
        }
        let per_metre = design.profile.protection.inductance_per_metre;
        let lacks = || (format!("inductance_per_metre of profile {}", design.profile.name), "the limits profile states none".to_owned());
        let per_metre = per_metre.ok_or_else(lacks)?.value;
        let mut feed = Metre(0.0);
        for &wire in &opening.feed {
            let name = &design.wires[wire].name;
            let unknown = |_: &_| (format!("length of wire:{name}"), "it is on the way from the source".to_owned());
            feed += prepared.length(wire).map_err(unknown)?;
        }
        let inductance = Henry(per_metre * feed.0);
        let of = |&load: &Id<Load>| {
            let steady = cleared.load_voltage[load]?;
            let peak = physics::clearing::peak(steady, interrupts, inductance, capacitance);
            Some((load, peak, design.loads[load].volts_transient.map(|given| given.value)))
        };
        Ok(Peak { device, interrupts, feed, inductance, capacitance, loads: opening.on_bus.iter().filter_map(of).collect() })
    };
    Some(found())
}

fn compare(prepared: &Prepared, before: &[Point], after: &[Point], [was, is]: [Verdict; 2]) -> Changes {
    let design = prepared.design();
    let mut changes = Changes { states: before.iter().map(|p| (p.scenario.phase, p.scenario.corner)).collect(), ..Changes::default() };
    for (b, a) in before.iter().zip(after) {
        let (phase, corner) = (b.scenario.phase, b.scenario.corner);
        let moved = |subject, before, after| Moved { subject, phase, corner, before, after };
        let consumers = design.loads.ids().map(ElementId::Load).chain(design.converters.ids().map(ElementId::Converter));
        for element in consumers {
            let (before, after) = (service(prepared, b, element), service(prepared, a, element));
            if core::mem::discriminant(&before) != core::mem::discriminant(&after) {
                changes.loads.push(LoadMoved { element, phase, corner, before, after });
            }
        }
        let volts = measured(design)
            .map(|(subject, plus, minus)| moved(subject, between(prepared, b, plus, minus), between(prepared, a, plus, minus)));
        changes.volts.extend(volts.filter(|m| m.distance() > VOLTS_MOVED));
        let readings = readings(design).map(|(element, receiver)| {
            let volts = |p: &Point| p.receiver_voltage[receiver].map(|v| v.0);
            moved(Subject::Element(element), volts(b), volts(a))
        });
        changes.readings.extend(readings.filter(|m| m.distance() > READING_MOVED));
        for (row, branch) in prepared.branches().iter().enumerate().filter(|(_, branch)| is_listed(branch.element)) {
            let amperes = |p: &Point| is_settled(p, branch.from).then(|| p.current[row]);
            let m = moved(Subject::Element(branch.element), amperes(b), amperes(a));
            if m.distance() > AMPERES_MOVED {
                changes.currents.push(m);
            }
        }
        let hottest = [b, a].map(|point| hottest(design, point));
        for wire in design.wires.ids() {
            let m = moved(Subject::Element(ElementId::Wire(wire)), hottest[0][wire], hottest[1][wire]);
            if m.distance() > KELVIN_MOVED {
                changes.temperatures.push(m);
            }
        }
        parts(prepared, b, a, &mut changes.parts);
    }
    for list in [&mut changes.volts, &mut changes.readings, &mut changes.currents, &mut changes.temperatures] {
        farthest_first(list);
    }
    let rank = |s: Service| u8::from(s == Service::Fed);
    // What is lost first; then in the order of loads, phases and corners.
    changes.loads.sort_by_key(|m| (rank(m.after), m.element, m.phase, m.corner));
    changes.parts.sort_by_key(|m| (m.what, m.subject));
    findings(was, is, &mut changes);
    changes
}

/// Of each wire the temperature of its conductor where it is hottest, in °C, as far as heat is known.
fn hottest(design: &Design, point: &Point) -> Column<Wire, Option<f64>> {
    let mut found = design.wires.column(None);
    for (_, segment) in point.heat.iter().flat_map(|heat| heat.segments.iter()) {
        let SegmentHeat::Known(section) = segment else { continue };
        for row in &section.wires {
            let (kept, t) = (&mut found[row.wire], row.conductor.celsius());
            *kept = Some(kept.map_or(t, |known: f64| known.max(t)));
        }
    }
    found
}

/// The states of one subject together, the subject that moves farthest first.
fn farthest_first(list: &mut [Moved]) {
    let mut farthest: HashMap<Subject, f64> = HashMap::new();
    for m in list.iter() {
        let best = farthest.entry(m.subject).or_insert(0.0);
        *best = best.max(m.distance());
    }
    // To a millionth of a volt or ampere: rounding noise decides no order.
    let key = |m: &Moved| (farthest.get(&m.subject).copied().unwrap_or(0.0) * 1e6).round();
    list.sort_by(|a, b| {
        key(b)
            .total_cmp(&key(a))
            .then(a.subject.cmp(&b.subject))
            .then(b.distance().total_cmp(&a.distance()))
            .then((a.phase, a.corner).cmp(&(b.phase, b.corner)))
    });
}

fn service(prepared: &Prepared, point: &Point, element: ElementId) -> Service {
    let (state, fed, line) = match element {
        ElementId::Load(id) => (point.load_state[id], point.load_fed[id], prepared.design().loads[id].line.value),
        ElementId::Converter(id) => {
            let row = &prepared.design().converters[id];
            let island = |end| prepared.node(end).and_then(|node| point.island_of[node.row()]);
            let (a, b) = (island(row.line.value), island(row.line_return.value));
            let fed = a == b && a.is_some_and(|island| point.islands[island as usize].driven);
            (point.converter_state[id], fed, row.line.value)
        }
        _ => return Service::Unknown,
    };
    let settles = prepared.node(line).is_none_or(|node| is_settled(point, node));
    match state {
        LoadState::Off => Service::Off,
        LoadState::DroppedOut { at } => Service::DroppedOut(at),
        LoadState::Unknown => Service::Unknown,
        LoadState::On if !settles => Service::NotSettled,
        LoadState::On if fed => Service::Fed,
        LoadState::On => Service::NotFed,
    }
}

fn is_settled(point: &Point, node: NodeId) -> bool {
    point.island_of[node.row()].is_none_or(|island| point.islands[island as usize].outcome.is_settled())
}

/// What carries current and is listed: contacts and links carry what their wires do.
fn is_listed(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Strap(_) | StructurePath(_) | Source(_) | Protector(_) | Switch(_) | Diode(_))
}

/// Loads, sources and buses with the two ends between which their voltage is taken.
fn measured(design: &Design) -> impl Iterator<Item = (Subject, End, End)> {
    let loads = design.loads.iter().map(|(id, row)| (Subject::Element(ElementId::Load(id)), row.line.value, row.line_return.value));
    let sources =
        design.batteries.iter().map(|(id, row)| (Subject::Element(ElementId::Source(id)), row.positive.value, row.negative.value));
    let buses = design.inner_nodes.iter().filter(|(_, row)| row.is_bus);
    let buses = buses.filter_map(|(id, row)| Some((Subject::Inner(id), End::Inner(id), row.bus_return?.value)));
    loads.chain(sources).chain(buses)
}

/// Sensors with their receivers, then receivers that no sensor names.
fn readings(design: &Design) -> impl Iterator<Item = (ElementId, Id<Receiver>)> {
    let with_sensor = design.sensors.iter().filter_map(|(id, s)| Some((ElementId::Sensor(id), s.receiver?.value)));
    let named: Vec<Id<Receiver>> = design.sensors.iter().filter_map(|(_, s)| Some(s.receiver?.value)).collect();
    let bare = design.receivers.ids().filter(move |id| !named.contains(id)).map(|id| (ElementId::Receiver(id), id));
    with_sensor.chain(bare)
}

fn between(prepared: &Prepared, point: &Point, plus: End, minus: End) -> Option<f64> {
    let (a, b) = (prepared.node(plus)?, prepared.node(minus)?);
    let joined = point.island_of[a.row()].is_some() && point.island_of[a.row()] == point.island_of[b.row()];
    (joined && is_settled(point, a)).then(|| point.voltage[a.row()] - point.voltage[b.row()])
}

fn parts(prepared: &Prepared, before: &Point, after: &Point, list: &mut Vec<PartMoved>) {
    let design = prepared.design();
    let state = (before.scenario.phase, before.scenario.corner);
    let mut note = |subject, what| match list.iter_mut().find(|m| m.subject == subject && m.what == what) {
        Some(known) => known.states.push(state),
        None => list.push(PartMoved { subject, what, states: vec![state] }),
    };
    let island = |point: &Point, node: NodeId| point.island_of[node.row()].map(|island| point.islands[island as usize].clone());
    for (id, _) in design.inner_nodes.iter().filter(|(_, row)| row.is_bus) {
        let Some(node) = prepared.node(End::Inner(id)) else { continue };
        let driven = |point| island(point, node).is_some_and(|island| island.driven);
        match (driven(before), driven(after)) {
            (true, false) => note(Subject::Inner(id), PartMove::LosesSource),
            (false, true) => note(Subject::Inner(id), PartMove::GainsSource),
            _ => {}
        }
    }
    // A driven part without a reference ground that was not one before, seen at the end that stands for its zero; and back.
    for (from, to, what) in [(before, after, PartMove::LosesReference), (after, before, PartMove::GainsReference)] {
        let floats = |point: &Point, node| island(point, node).is_some_and(|island| island.driven && !island.grounded);
        for part in to.islands.iter().filter(|island| island.driven && !island.grounded) {
            if !floats(from, part.reference) {
                note(rules::subject_of_end(prepared.node_end(part.reference)), what);
            }
        }
    }
}

fn findings(was: Verdict, is: Verdict, changes: &mut Changes) {
    let mut known: HashMap<String, Finding> = HashMap::new();
    let order: Vec<String> = was.findings.iter().map(|finding| finding.id.clone()).collect();
    known.extend(was.findings.into_iter().map(|finding| (finding.id.clone(), finding)));
    for finding in is.findings {
        match known.remove(&finding.id) {
            None => changes.appeared.push(finding),
            Some(before) if differs(&before, &finding) => changes.changed.push((before, finding)),
            Some(_) => {}
        }
    }
    changes.gone = order.iter().filter_map(|id| known.remove(id)).collect();
    let before: std::collections::HashSet<(RuleCode, Subject)> = was.not_judged.iter().map(|row| (row.rule, row.subject)).collect();
    changes.no_longer_judged = is.not_judged.into_iter().filter(|row| !before.contains(&(row.rule, row.subject))).collect();
}

fn differs(before: &Finding, after: &Finding) -> bool {
    let mut states = [before.phases.clone(), after.phases.clone()];
    states.iter_mut().for_each(|list| list.sort_unstable());
    let value = match (&before.margin, &after.margin) {
        (Some(b), Some(a)) => (b.margin() - a.margin()).abs() > FINDING_MOVED * a.limit.abs(),
        (b, a) => b.is_some() != a.is_some(),
    };
    states[0] != states[1] || value
}
