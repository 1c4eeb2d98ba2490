//! Devices that open one after the other until nothing feeds a fault.

use super::{CARRIES, LEAKS};
use model::*;
use physics::trip::{Edge, Side};
use physics::*;

/// Temperature of devices in a phase: the hottest where they open soonest, the coldest where they open last.
pub fn device_ambient(design: &Design, phase: Id<Phase>, side: Side) -> Kelvin {
    let [coldest, hottest] = design.device_ambient(phase);
    match side {
        Side::Shortest => hottest.value,
        Side::Longest => coldest.value,
    }
}

/// What a device does at a current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Time {
    /// It opens after this: at least, or at most.
    Opens(Second),
    /// It may carry the current for good, and where the shortest time is asked for it does.
    Holds,
    /// Nothing is known of it at this current.
    NotKnown,
}

/// The shortest or longest time in which a device opens.
///
/// Beyond the last point of its band: the time there, which bounds the longest one; the shortest one may be nothing. Under the first point the
/// longest time is not known, the shortest at least that of the first point.
pub fn trip_time(design: &Design, device: Id<Protector>, side: Side, current: Ampere, ambient: Kelvin) -> Time {
    let row = &design.protectors[device];
    let Some(kind) = row.device.map(|kind| &design.device_types[kind.value]) else { return Time::NotKnown };
    let current = kind.limits.map_or(current, |limit| Ampere(current.0.min(limit.value.0)));
    match (kind.trip.edge(side, current, ambient), side) {
        (None, _) => Time::NotKnown,
        (Some(Edge::Never), _) => Time::Holds,
        (Some(Edge::Time(t)), _) | (Some(Edge::Beyond(t)), Side::Longest) | (Some(Edge::Under(t)), Side::Shortest) => Time::Opens(t),
        (Some(Edge::Beyond(_)), Side::Shortest) => Time::Opens(Second(0.0)),
        (Some(Edge::Under(_)), Side::Longest) => Time::NotKnown,
    }
}

/// Protectors that carry more than leaks, in order, with their current without sign, A.
pub type Flow = Vec<(Id<Protector>, f64)>;
/// Current of a fault, and what devices carry.
pub type Flows = (f64, Flow);

/// Devices one after the other until nothing feeds a fault. `side`: whether each takes its shortest or its longest time; `first`: the fault's current and
/// what devices carry; `solve`: the same with some opened, `None` where that does not settle.
pub fn sequence(
    design: &Design,
    phase: Id<Phase>,
    side: &dyn Fn(Id<Protector>) -> Side,
    first: (f64, &Flow),
    solve: &mut dyn FnMut(&[Id<Protector>]) -> Option<Flows>,
) -> Clearing {
    // Share of its time that a device has used.
    let mut used: Vec<(Id<Protector>, f64)> = Vec::new();
    let (mut opens, mut opened, mut now) = (Vec::new(), Vec::new(), 0.0);
    let (mut fault, mut devices) = (first.0, first.1.clone());
    let cleared = f64::max(LEAKS.0, LEAKS.1 * fault);
    // Each round opens one device.
    for _ in 0..=design.protectors.len() {
        if fault <= cleared {
            return Clearing { opens, end: Ends::Cleared(Second(now)) };
        }
        let carrying = devices.iter().filter(|&&(id, current)| current >= CARRIES * fault && !opened.contains(&id));
        let times: Vec<(Id<Protector>, Time)> = carrying
            .map(|&(id, current)| (id, trip_time(design, id, side(id), Ampere(current), device_ambient(design, phase, side(id)))))
            .collect();
        if times.is_empty() {
            return Clearing { opens, end: Ends::Unprotected(Ampere(fault)) };
        }
        let mut next: Option<(f64, Id<Protector>)> = None;
        let mut unknown: Option<Id<Protector>> = None;
        for &(id, time) in &times {
            match time {
                Time::Opens(Second(t)) => {
                    let share = used.iter().find(|(of, _)| *of == id).map_or(0.0, |&(_, share)| share);
                    let left = t * (1.0 - share);
                    if next.is_none_or(|(least, _)| left < least) {
                        next = Some((left, id));
                    }
                }
                Time::Holds => {}
                Time::NotKnown => unknown = unknown.or(Some(id)),
            }
        }
        let Some((lasts, device)) = next else {
            return Clearing { opens, end: unknown.map_or(Ends::Burns(Ampere(fault)), Ends::NotKnown) };
        };
        for (id, time) in times {
            if let Time::Opens(Second(t)) = time
                && t > 0.0
            {
                match used.iter_mut().find(|(of, _)| *of == id) {
                    Some((_, share)) => *share = f64::min(*share + lasts / t, 1.0),
                    None => used.push((id, f64::min(lasts / t, 1.0))),
                }
            }
        }
        now += lasts;
        opened.push(device);
        opens.push((Second(now), device));
        match solve(&opened) {
            Some(next) => (fault, devices) = next,
            None => return Clearing { opens, end: Ends::Unsettled },
        }
    }
    Clearing { opens, end: Ends::Unsettled }
}
