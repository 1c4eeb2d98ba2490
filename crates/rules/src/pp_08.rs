//! PP-08: inrush against the shortest time of the protectors before it.

use crate::case::Missing;
use crate::feeds::{Feeds, device_notes, device_of, shape_words};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::trip::{Edge, Side};
use physics::{Ampere, Second};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-08"),
    title: "inrush against the shortest trip time",
    unit: Unit::Percent,
    what: "How much of its shortest trip time a protector has used up when loads behind it have started, at the hottest ambient of the phase. All \
           loads that share their nearest protector start together; whatever else the device carries runs as in the settled state. While several \
           inrushes last their currents add up; when the shorter one ends that load draws its steady current. Each stretch of time counts as its share of \
           the shortest time at its current, and the shares add up to at most 100 %. A current that the device holds for good counts nothing. Of a limiter before \
           its own loads: the time to charge their input capacitors with what it lets through at least, beyond what else it carries, against its \
           shortest time. A resistance of a heater or coil has no inrush; of any other load it has to be stated. A converter is taken to run.",
    why: "A healthy start that opens its breaker takes the load away just when it is wanted, and is hunted as a fault.",
    source: "Shortest times: the maker's band. That shares of the trip time add up: common practice, no source, for devices that open at a temperature. Start of a limiter, \
             C V over its least limit: form of ECSS-E-HB-20-20 [from memory]. The maker's data and a test of the start govern.",
    remedy: "A slower device or a larger rating if the wire allows it, less capacitance, starting one after the other.",
    check: Check::Point(check),
};

/// A load that starts: what it draws, how long, and what it draws then.
struct Start {
    load: Id<Load>,
    inrush: f64,
    time: f64,
    steady: f64,
}

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    if design.protectors.is_empty() {
        return;
    }
    let feeds = Feeds::of(case, point, out);
    for (id, protector) in design.protectors.iter() {
        let subject = Subject::Element(ElementId::Protector(id));
        let Some(groups) = groups(&feeds, id) else { continue };
        let judged = case.current(point, ElementId::Protector(id)).and_then(|current| {
            let judge = |current: f64| -> Result<Option<Used>, Missing> {
                let device = device_of(design, id)?;
                let mut worst: Option<Used> = None;
                for group in groups {
                    let used = used(case, point, id, device, current.abs(), &group)?;
                    if let Some(used) = used
                        && worst.as_ref().is_none_or(|worst| used.percent > worst.percent)
                    {
                        worst = Some(used);
                    }
                }
                Ok(worst)
            };
            current.and_then(judge).transpose()
        });
        match judged {
            None => {}
            Some(Err(missing)) => out.not_judged(point, RULE.code, subject, protector.at, missing),
            Some(Ok(used)) => {
                let judged = Judged {
                    rule: RULE.code,
                    subject,
                    value: used.percent,
                    limit: 100.0,
                    bound: Bound::AtMost,
                    at: protector.at,
                    text: used.text,
                };
                out.push(point, judged, || {
                    let device = design.device(id).map(|device| device_notes(design, id, device)).unwrap_or_default();
                    let hottest = design.device_ambient(point.scenario.phase)[1];
                    used.notes.into_iter().chain(hottest.note).chain(device).collect()
                });
            }
        }
    }
}

/// Loads whose way goes through a protector, together where they share their nearest one; `None` if there is none.
pub(crate) fn groups(feeds: &Feeds, id: Id<Protector>) -> Option<Vec<Vec<Id<Load>>>> {
    let mut groups: Vec<(Id<Protector>, Vec<Id<Load>>)> = Vec::new();
    for row in &feeds.behind[id] {
        let (ElementId::Load(load), way) = &feeds.ways[*row] else { continue };
        let Some(nearest) = way.last() else { continue };
        match groups.iter_mut().find(|(of, _)| of == nearest) {
            Some((_, loads)) => loads.push(*load),
            None => groups.push((*nearest, vec![*load])),
        }
    }
    (!groups.is_empty()).then(|| groups.into_iter().map(|(_, loads)| loads).collect())
}

/// How much of the shortest time a start uses.
struct Used {
    percent: f64,
    text: String,
    notes: Vec<NoteId>,
}

/// A group that starts before a protector.
pub(crate) struct Starting {
    /// Loads that have an inrush, or whose input capacitors a limiter charges.
    starts: Vec<Start>,
    /// What else the protector carries.
    rest: f64,
    /// Of a limiter before its own loads: capacitance that it charges.
    capacitance: f64,
    notes: Vec<NoteId>,
}

impl Starting {
    /// Currents through the protector one after the other, each with the time at which it ends.
    pub(crate) fn stretches(&self) -> Vec<(f64, f64)> {
        let mut stretches: Vec<(f64, f64)> = Vec::new();
        for (n, start) in self.starts.iter().enumerate() {
            if start.time <= stretches.last().map_or(0.0, |(_, until)| *until) {
                continue;
            }
            let done: f64 = self.starts[..n].iter().map(|done| done.steady).sum();
            let on: f64 = self.starts[n..].iter().map(|on| on.inrush).sum();
            stretches.push((self.rest + done + on, start.time));
        }
        stretches
    }

    /// Names of the loads, by the time that they take.
    pub(crate) fn names(&self, design: &Design) -> Vec<String> {
        self.starts.iter().map(|start| design.loads[start.load].name.to_string()).collect()
    }
}

/// What a group of loads that starts draws through a protector; `None` where nothing of it has an inrush.
pub(crate) fn starting(
    case: &Case,
    point: &Point,
    id: Id<Protector>,
    current: f64,
    group: &[Id<Load>],
) -> Result<Option<Starting>, Missing> {
    let design = case.design;
    let mut starting = Starting { starts: Vec::new(), rest: 0.0, capacitance: 0.0, notes: Vec::new() };
    let is_limiter = design.protectors[id].kind == ProtectorKind::Limiter;
    for &load in group {
        let row = &design.loads[load];
        let steady = case.current(point, ElementId::Load(load)).transpose()?.unwrap_or(0.0).abs();
        let words = design.element_words(ElementId::Load(load));
        let is_plain =
            matches!(row.demand, Some(Demand::Resistance(_))) && matches!(row.kind.value, LoadKind::Resistive | LoadKind::Inductive);
        if is_limiter && let Some(given) = row.input_capacitance {
            starting.capacitance += given.value.0;
            starting.notes.extend(given.note);
            starting.starts.push(Start { load, inrush: steady, time: 0.0, steady });
            continue;
        }
        match (row.inrush, row.inrush_time) {
            (Some(inrush), Some(time)) => {
                starting.notes.extend([inrush.note, time.note].into_iter().flatten());
                starting.starts.push(Start { load, inrush: inrush.value.0.max(steady), time: time.value.0, steady });
            }
            (None, _) if is_plain => {}
            (None, _) => return Err(Missing::new(format!("inrush of {words}"), format!("{words} behind it has no inrush"))),
            (Some(_), None) => {
                return Err(Missing::new(format!("inrush_time of {words}"), format!("{words} behind it has an inrush and no inrush_time")));
            }
        }
    }
    starting.rest = (current - starting.starts.iter().map(|start| start.steady).sum::<f64>()).max(0.0);
    starting.starts.sort_by(|a, b| a.time.total_cmp(&b.time));
    Ok((!starting.starts.is_empty()).then_some(starting))
}

/// Of a group that starts; `None` where nothing of it has an inrush.
fn used(
    case: &Case,
    point: &Point,
    id: Id<Protector>,
    device: &DeviceType,
    current: f64,
    group: &[Id<Load>],
) -> Result<Option<Used>, Missing> {
    let Some(starting) = starting(case, point, id, current, group)? else { return Ok(None) };
    if starting.capacitance > 0.0 {
        return charged(case, point, id, device, starting).map(Some);
    }
    let hottest = case.design.device_ambient(point.scenario.phase)[1].value;
    let (mut share, mut begun, mut peak, mut least) = (0.0, 0.0, 0.0_f64, f64::INFINITY);
    for (flows, until) in starting.stretches() {
        peak = peak.max(flows);
        if let Some(holds) = shortest(device, flows, hottest)? {
            least = least.min(holds.0);
            share += if holds.0 > 0.0 { (until - begun) / holds.0 } else { f64::INFINITY };
        }
        begun = until;
    }
    let names = starting.names(case.design);
    let held = match least.is_finite() {
        true => format!("it holds {least:.3} s at least"),
        false => "which it holds for good".to_owned(),
    };
    let text = format!(
        "{} start{} with {peak:.1} A for {begun:.3} s at {:.0} degC, {held}{}",
        names.join(", "),
        if names.len() == 1 { "s" } else { "" },
        hottest.celsius(),
        shape_words(device)
    );
    Ok(Some(Used { percent: 100.0 * share, text, notes: starting.notes }))
}

/// A limiter charges the input capacitors of its loads.
fn charged(case: &Case, point: &Point, id: Id<Protector>, device: &DeviceType, starting: Starting) -> Result<Used, Missing> {
    let Starting { starts, rest, capacitance, notes } = starting;
    let design = case.design;
    let hottest = design.device_ambient(point.scenario.phase)[1].value;
    let words = design.element_words(ElementId::Protector(id));
    let type_lacks = |field: &str| Missing::new(format!("{field} of {}", device.name), format!("the type of {words} has no {field}"));
    let least = device.trip.holds(hottest).ok_or_else(|| type_lacks("holds"))?;
    let most = device.limits.ok_or_else(|| type_lacks("limits"))?;
    let volts = starts.iter().filter_map(|start| point.load_voltage[start.load]).fold(0.0, |most: f64, volts| most.max(volts.0));
    // What runs, and what its own loads draw meanwhile, does not charge them.
    let left = least.0 - rest - starts.iter().map(|start| start.steady).sum::<f64>();
    let time = if left > 0.0 { capacitance * volts / left } else { f64::INFINITY };
    let holds = shortest(device, most.value.0, hottest)?;
    let share = holds.map_or(0.0, |holds| time / holds.0);
    let text = format!(
        "{:.0} uF charge to {volts:.1} V with {left:.2} A in {:.1} ms; it holds {:.1} ms at its limit{}",
        capacitance * 1e6,
        time * 1e3,
        holds.map_or(f64::INFINITY, |holds| holds.0) * 1e3,
        shape_words(device)
    );
    Ok(Used { percent: 100.0 * share, text, notes: notes.into_iter().chain(most.note).collect() })
}

/// The time that a device holds a current at least; `None` where it holds it for good.
fn shortest(device: &DeviceType, current: f64, ambient: physics::Kelvin) -> Result<Option<Second>, Missing> {
    match device.trip.edge(Side::Shortest, Ampere(current), ambient) {
        Some(Edge::Never) => Ok(None),
        // Under its first point it holds at least as long as there.
        Some(Edge::Time(time) | Edge::Under(time)) => Ok(Some(time)),
        Some(Edge::Beyond(_)) => {
            let why = format!("the band of {} ends below the {current:.1} A that flow", device.name);
            Err(Missing::new(format!("trip-bands of {} at {current:.1} A", device.name), why))
        }
        None => {
            Err(Missing::new(format!("trip-bands of {}", device.name), format!("the catalog has no shortest times of {}", device.name)))
        }
    }
}
