//! PP-03: a fault is cleared before the wire is harmed.

use crate::faults::{amperes, fault_words, lacks_times, opens_words, three_digits};
use crate::heat::HeatLimits;
use crate::{Case, Check, Faults, Judged, Rule, Unit, Worst, case::Missing};
use analysis::protection::{Burning, FedWire, Time, device_ambient, trip_time};
use model::*;
use physics::trip::Side;
use physics::{Ampere, Kelvin, Second};
use rayon::prelude::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-03"),
    title: "cleared before harm",
    unit: Unit::Percent,
    what: "Over all currents that a bolted fault of a wire can draw, from the smallest to the largest, the longest time until its device opens is no more than \
           damage_share of the profile of the time that the wire stands the current: from the temperature that it runs at where it is warmest (without zones: \
           the hottest ambient), with the greatest resistance of its type, to its limit, or to the temperature at which its insulation is harmed at once where the catalog states that. First the time in \
           which no heat leaves the strands is taken, which is shorter than any other; where that is not enough, the transient of its section.",
    why: "A wire that is harmed before its device opens burns its neighbours, and no reset brings them back.",
    source: "AC 43.13-1B CHG 1, par. 11-48 [read]; 14 CFR 25.1357 [from memory]. Short times: the adiabatic form, IEC 60949 [from memory]. Bands: the device type. The maker's \
             certified curves and tests govern.",
    remedy: "A faster or smaller device, a thicker wire.",
    check: Check::Faults(check),
};

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    let limits = HeatLimits::new(design);
    let guarded: Vec<&FedWire> = faults.guarded().collect();
    let all: Vec<Option<Said>> = guarded.par_iter().map(|fed| of_wire(case, faults, &limits, fed)).collect();
    for (said, fed) in all.into_iter().zip(&guarded) {
        let subject = Subject::Element(ElementId::Wire(fed.wire));
        match said {
            Some(Said::Judged(point, judged, notes)) => out.push(point, judged, || notes),
            Some(Said::Missing(point, missing)) => out.not_judged(point, RULE.code, subject, design.wires[fed.wire].at, missing),
            None => {}
        }
    }
}

enum Said<'a> {
    Judged(&'a Point, Judged, Vec<NoteId>),
    Missing(&'a Point, Missing),
}

/// A current in the wire, and how long it may last.
struct Lasts {
    current: Ampere,
    longest: Second,
}

/// Where the strands alone would stand it for less, so little heat leaves them that the transient says the same.
const QUICK: Second = Second(0.5);
/// Currents between the two looked at, beside the points of the device's band.
const BETWEEN: usize = 16;

/// Currents from the smallest to the largest fault, with the longest time of each.
///
/// # Errors  The device whose time is not known at one of them.
fn lasting(design: &Design, fed: &FedWire, ends: [&Burning; 2]) -> Result<Vec<Lasts>, Id<Protector>> {
    let mut lasts = Vec::new();
    // A limiter lets no more through.
    let limit = match fed.guards[..] {
        [device] => design.device(device).and_then(|kind| kind.limits).map_or(f64::INFINITY, |limit| limit.value.0),
        _ => f64::INFINITY,
    };
    for burning in ends {
        match &burning.latest.end {
            Ends::Cleared(t) => lasts.push(Lasts { current: Ampere(burning.in_wire().0.min(limit)), longest: *t }),
            Ends::NotKnown(device) => return Err(*device),
            // What goes on for good is judged by PP-02 and PP-05.
            Ends::Burns(_) | Ends::Unprotected(_) | Ends::Unsettled => {}
        }
    }
    let [device] = fed.guards[..] else { return Ok(lasts) };
    let of = |burning: &Burning| burning.devices.iter().find(|carries| carries.device == device).map(|carries| carries.now.0);
    let (Some(low), Some(high)) = (of(ends[0]), of(ends[1])) else { return Ok(lasts) };
    let (low, high) = (low.min(high), low.max(high));
    let Some(kind) = design.device(device).filter(|_| low > 0.0) else { return Ok(lasts) };
    let grid = (1..BETWEEN).map(|k| low * (high / low).powf(k as f64 / BETWEEN as f64));
    let knees = kind.trip.bands.iter().flat_map(|band| &band.points).map(|point| point.multiple * kind.trip.rating.0);
    let ambient = device_ambient(design, ends[0].fault.phase, Side::Longest);
    for through in grid.chain(knees.filter(|knee| *knee > low && *knee < high)) {
        match trip_time(design, device, Side::Longest, Ampere(through), ambient) {
            Time::Opens(t) => lasts.push(Lasts { current: Ampere((through * fed.share()).min(limit)), longest: t }),
            Time::Holds => {}
            Time::NotKnown => return Err(device),
        }
    }
    Ok(lasts)
}

fn of_wire<'a>(case: &Case, faults: &Faults<'a>, limits: &HeatLimits, fed: &FedWire) -> Option<Said<'a>> {
    let (design, wire, guards) = (case.design, fed.wire, &fed.guards[..]);
    let (Some(smallest), Some(largest)) = (&fed.smallest, &fed.largest) else { return None };
    let point = faults.point_of(smallest);
    let lasts = match lasting(design, fed, [smallest, largest]) {
        Ok(lasts) => lasts,
        Err(device) => return Some(Said::Missing(point, lacks_times(design, device))),
    };
    if lasts.is_empty() {
        return None;
    }
    let share = match design.profile.protection.damage_share {
        Some(share) => share,
        None => {
            let why = "the limits profile states no damage_share";
            return Some(Said::Missing(point, Missing::new(format!("damage_share of profile {}", design.profile.name), why)));
        }
    };
    let missing = |(field, why): (String, String)| Some(Said::Missing(point, Missing::new(field, why)));
    let warmest = faults.warmest(case, wire);
    // Where no heat is computed the wire starts at the hottest ambient of all phases, as its resistance does.
    let ambient = design.phases.iter().map(|(_, phase)| phase.ambient.high.value).max_by(|a, b| a.0.total_cmp(&b.0));
    let from = match (&warmest, ambient) {
        (Some((.., running)), _) => *running,
        (None, Some(ambient)) if design.zones.is_empty() => ambient,
        _ => return missing(("zone".to_owned(), "the temperature that it starts from is not known (HT-01)".to_owned())),
    };
    let own = match (&warmest, case.prepared.segments_of(wire).first()) {
        (Some((_, segment, _)), _) | (None, Some(segment)) => limits.of(wire, *segment),
        (None, None) => limits.of_wire(wire),
    };
    let own = match own {
        Ok(limit) => limit,
        Err(lacking) => return missing(lacking),
    };
    let spec = design.wires[wire].spec.map(|spec| &design.wire_specs[spec.value])?;
    let harmed = spec.family.as_ref().and_then(|family| design.heat.insulation(family)).and_then(|row| row.damage);
    let limit = harmed.unwrap_or(own.limit);
    let mut worst: Option<(f64, &Lasts)> = None;
    for one in &lasts {
        let stands = case.prepared.adiabatic(wire, from, limit.value)?.time_at(one.current);
        let value = if stands.0 > 0.0 { one.longest.0 / stands.0 } else { f64::INFINITY };
        if worst.is_none_or(|(most, _)| value > most) {
            worst = Some((value, one));
        }
    }
    let (mut value, mut at) = worst?;
    let mut how = "no heat leaving the strands";
    if let Some((running, segment, _)) = warmest
        && value > share.value.0
        && lasts.iter().any(|one| one.longest > QUICK)
    {
        how = "by the transient of its section";
        let of = |one: &Wire, id: Id<Wire>| -> Option<Kelvin> {
            let family = one.spec.and_then(|spec| design.wire_specs[spec.value].family.clone());
            let harmed = family.and_then(|family| design.heat.insulation(&family)).and_then(|row| row.damage);
            harmed.map(|given| given.value).or_else(|| limits.of(id, segment).ok().map(|limit| limit.limit.value))
        };
        // Those first that last the greatest share of the time in which no heat leaves the strands: once one is known exactly, others have only to
        // show that theirs is less.
        let quick = |one: &Lasts| case.prepared.adiabatic(wire, from, limit.value).map(|heat| heat.time_at(one.current));
        let mut by_bound: Vec<(f64, Second, &Lasts)> = Vec::with_capacity(lasts.len());
        for one in &lasts {
            let quick = quick(one)?;
            by_bound.push((one.longest.0 / quick.0, quick, one));
        }
        by_bound.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut exact: Option<(f64, &Lasts)> = None;
        for (bound, quick, one) in by_bound {
            let known = exact.map_or(0.0, |(known, _)| known);
            let asked = (running, segment, (wire, one.current));
            let harms = |id: Id<Wire>| of(&design.wires[id], id);
            let found = if bound <= share.value.0 || quick < QUICK {
                Ok(bound)
            } else if known > 0.0 && case.prepared.stands_for(asked.0, asked.1, asked.2, &harms, Second(one.longest.0 / known)) == Ok(true)
            {
                continue;
            } else {
                case.prepared.stands(asked.0, asked.1, asked.2, &harms).map(|stood| match stood {
                    Some((t, _)) if t.0 > 0.0 => one.longest.0 / t.0,
                    Some(_) => 1e3,
                    None => 0.0,
                })
            };
            let Ok(value) = found else {
                return Some(Said::Missing(point, Missing::new("operating point", "the transient of its section does not settle")));
            };
            if exact.is_none_or(|(most, _)| value > most) {
                exact = Some((value, one));
            }
        }
        (value, at) = exact?;
    }
    let longest = three_digits(at.longest.0, "s");
    let stood = three_digits(at.longest.0 / value.max(1e-9), "s");
    let by = if harmed.is_some() { "where its insulation is harmed".to_owned() } else { own.by.words(design) };
    let text = format!(
        "{}: at {} in the wire {} takes {longest} at most; from {:.0} degC to {:.0} degC ({by}) it stands that {stood} ({how})",
        fault_words(design, smallest),
        amperes(at.current),
        opens_words(design, &smallest.latest),
        from.celsius(),
        limit.value.celsius(),
    );
    let judged = Judged {
        rule: RULE.code,
        subject: Subject::Element(ElementId::Wire(wire)),
        value: 100.0 * value,
        limit: 100.0 * share.value.0,
        bound: Bound::AtMost,
        at: design.wires[wire].at,
        text,
    };
    let mut notes = case.prepared.notes(&point.scenario, ElementId::Wire(wire));
    if let Some((running, segment, _)) = warmest {
        notes.extend(case.prepared.heat_notes(running.scenario.phase, segment));
    }
    notes.extend(guards.iter().filter_map(|device| design.device(*device)).flat_map(|kind| kind.notes.clone()));
    notes.extend(limit.note.into_iter().chain(share.note));
    Some(Said::Judged(point, judged, notes))
}
