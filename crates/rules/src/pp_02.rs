//! PP-02: a fault just under the trip level.

use crate::faults::{amperes, lacks_times};
use crate::heat::{HeatLimits, heat_margin};
use crate::{Case, Check, Faults, Judged, Rule, Unit, Worst, case::Missing};
use analysis::NoHeat;
use analysis::protection::FedWire;
use model::*;
use physics::trip::Side;
use physics::{Ampere, Kelvin};
use rayon::prelude::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-02"),
    title: "sustained fault below trip",
    unit: Unit::Celsius,
    what: "Each fed wire carries for good the current at which its device has to open in the end (its ultimate trip) in the coldest ambient of the phase; its \
           neighbours carry what they do. The wire and every neighbour stay below what limits them, with bundle_heat_margin of the profile added. Of wires in \
           parallel one has the share that a fault half-way along it gives it. The load current itself is judged by AM-01 and HT-01.",
    why: "A fault that draws a little less than the ultimate trip lasts for ever, and no device ever opens for it.",
    source: "AC 43.13-1B CHG 1, par. 11-48: the device opens before the rating of its wire is passed [read]; 14 CFR 25.1357 [from memory]. Ultimate trip: the device type. \
             Ambient: its bands, its maker's table, else the default shift (common practice, no source). The maker's certified curves and tests govern.",
    remedy: "A smaller device, a thicker wire, insulation of a higher rating, a smaller bundle.",
    check: Check::Faults(check),
};

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    if design.zones.is_empty() {
        return;
    }
    let limits = HeatLimits::new(design);
    let guarded: Vec<&FedWire> = faults.guarded().collect();
    let all: Vec<Vec<Said>> = guarded.par_iter().map(|fed| of_wire(case, faults, &limits, fed)).collect();
    for said in all.into_iter().flatten() {
        match said {
            Said::Judged(point, judged, notes) => out.push(point, judged, || notes),
            Said::Missing(point, wire, missing) => {
                out.not_judged(point, RULE.code, Subject::Element(ElementId::Wire(wire)), design.wires[wire].at, missing)
            }
            Said::Runaway(point, wire, text) => out.trouble(case, point, RULE.code, Subject::Element(ElementId::Wire(wire)), 0.0, text),
        }
    }
}

enum Said<'a> {
    Judged(&'a Point, Judged, Vec<NoteId>),
    Missing(&'a Point, Id<Wire>, Missing),
    Runaway(&'a Point, Id<Wire>, String),
}

fn of_wire<'a>(case: &Case, faults: &Faults<'a>, limits: &HeatLimits, fed: &FedWire) -> Vec<Said<'a>> {
    let (design, wire, guards) = (case.design, fed.wire, &fed.guards[..]);
    // No more can flow than a bolted short draws, whatever its device would carry.
    let most = fed.largest.as_ref().map_or(f64::INFINITY, |burning| burning.in_wire().0);
    let Some(first) = faults.any_point() else { return Vec::new() };
    let mut said = Vec::new();
    // The greatest current that no device has to open for, by phase.
    let mut carries: Column<Phase, f64> = design.phases.column(0.0);
    for phase in design.phases.ids() {
        for &device in guards {
            let ambient = analysis::protection::device_ambient(design, phase, Side::Longest);
            match design.device(device).and_then(|kind| kind.trip.ultimate(ambient)) {
                Some(ultimate) => carries[phase] += ultimate.0 * fed.share(),
                None => return vec![Said::Missing(first, wire, lacks_ultimate(design, device))],
            }
        }
        carries[phase] = carries[phase].min(most);
    }
    let running = |point: &Point, segment: Id<Segment>| match &point.heat.as_ref()?.segments[segment] {
        SegmentHeat::Known(known) => known.of(wire).map(|row| row.conductor),
        _ => None,
    };
    for &segment in case.prepared.segments_of(wire) {
        // In each kind of surroundings the state where the wire runs warmest, and the one where its device lets most through.
        let mut chosen: Vec<&Point> = Vec::new();
        let mut kinds: Vec<(bool, bool)> = Vec::new();
        let kind_of = |point: &Point| {
            let zone = design.segments[segment].zone?;
            let climate = design.zones[zone.value].climate(point.scenario.phase);
            let moves = climate.gravity.is_some_and(|g| g.value > 0.0) || climate.air_speed.is_some_and(|v| v.value.0 > 0.0);
            Some((climate.pressure.is_some_and(|p| p.value.0 > 0.0), moves))
        };
        for point in faults.points.iter().filter(|point| point.scenario.corner != Corner::Typical) {
            if let Some(kind) = kind_of(point).filter(|kind| !kinds.contains(kind)) {
                kinds.push(kind);
            }
        }
        for kind in kinds {
            let states = || faults.points.iter().filter(|p| p.scenario.corner != Corner::Typical && kind_of(p) == Some(kind));
            let warmest = states().max_by(|a, b| {
                let [a, b] = [a, b].map(|point| running(point, segment).map_or(0.0, |t| t.0));
                a.total_cmp(&b).then(std::cmp::Ordering::Greater)
            });
            let most =
                states().max_by(|a, b| carries[a.scenario.phase].total_cmp(&carries[b.scenario.phase]).then(std::cmp::Ordering::Greater));
            for point in [warmest, most].into_iter().flatten() {
                if !chosen.iter().any(|known| std::ptr::eq(*known, point)) {
                    chosen.push(point);
                }
            }
        }
        for point in chosen {
            let current = Ampere(carries[point.scenario.phase]);
            said.extend(in_segment(case, limits, point, segment, (wire, current), guards));
        }
    }
    worst_of_each_state(said)
}

/// Of what is said of a wire in one state in several segments, the worst.
fn worst_of_each_state(said: Vec<Said>) -> Vec<Said> {
    let mut kept: Vec<Said> = Vec::new();
    for new in said {
        let state = |said: &Said| match said {
            Said::Judged(point, ..) => (0, point.scenario.phase, point.scenario.corner),
            Said::Missing(point, ..) => (1, point.scenario.phase, point.scenario.corner),
            Said::Runaway(point, ..) => (2, point.scenario.phase, point.scenario.corner),
        };
        match kept.iter_mut().find(|known| state(known) == state(&new)) {
            None => kept.push(new),
            Some(known) => {
                if let (Said::Judged(_, old, _), Said::Judged(_, judged, _)) = (&*known, &new)
                    && judged.limit - judged.value < old.limit - old.value
                {
                    *known = new;
                }
            }
        }
    }
    kept
}

fn lacks_ultimate(design: &Design, device: Id<Protector>) -> Missing {
    let words = design.element_words(ElementId::Protector(device));
    match design.device(device) {
        None => lacks_times(design, device),
        Some(kind) => Missing::new(
            format!("ultimate of {}", kind.name),
            format!("the catalog states no ultimate trip of {words}, type {}", kind.name),
        ),
    }
}

/// The worst of a section's wires with one of them at the current.
fn in_segment<'a>(
    case: &Case,
    limits: &HeatLimits,
    point: &'a Point,
    segment: Id<Segment>,
    (wire, current): (Id<Wire>, Ampere),
    guards: &[Id<Protector>],
) -> Option<Said<'a>> {
    let design = case.design;
    let devices: Vec<String> = guards.iter().map(|device| design.protectors[*device].name.to_string()).collect();
    let devices = devices.join(" and ");
    let missing = |(field, why): (String, String)| Said::Missing(point, wire, Missing::new(field, why));
    let temperatures = match case.prepared.sustained(point, segment, wire, current) {
        Ok(temperatures) => temperatures,
        Err(NoHeat::NoSection) => return None,
        Err(NoHeat::Lacks(lacks)) => return crate::heat_unknown(design, Some(wire), &SegmentHeat::Lacks(lacks)).map(missing),
        Err(NoHeat::Runaway(hot)) => {
            let hot = if hot == wire { "it".to_owned() } else { design.element_words(ElementId::Wire(hot)) };
            let text = format!(
                "in segment {} {hot} heats itself without end at {}, which {devices} may carry for good",
                design.segments[segment].name,
                amperes(current)
            );
            return Some(Said::Runaway(point, wire, text));
        }
        Err(NoHeat::NotSettled(_)) => {
            return Some(missing(("operating point".to_owned(), "the balance of heat was not reached (HT-02)".to_owned())));
        }
    };
    let margin = match heat_margin(design, temperatures.len()) {
        Ok(margin) => margin,
        Err(lacking) => return Some(missing(lacking)),
    };
    let added = margin.map_or(0.0, |margin| margin.value.0);
    let mut worst: Option<(f64, Id<Wire>, Kelvin, crate::HeatLimit)> = None;
    for &(of, t) in &temperatures {
        let limit = match limits.of(of, segment) {
            Ok(limit) => limit,
            Err(lacking) if of == wire => return Some(missing(lacking)),
            // Its own rule says that it cannot be judged.
            Err(_) => continue,
        };
        let left = limit.limit.value.0 - t.0 - added;
        // A neighbour that is too warm without the fault is a finding of HT-01.
        let alone = of != wire && left < 0.0 && is_too_warm(point, segment, of, limit.limit.value.0 - added);
        if !alone && worst.as_ref().is_none_or(|(least, ..)| left < *least) {
            worst = Some((left, of, t, limit));
        }
    }
    let (_, of, t, limit) = worst?;
    let who = if of == wire { "it".to_owned() } else { format!("its neighbour {}", design.wires[of].name) };
    let text = format!(
        "in segment {} at {}, which {devices} may carry for good, {who} comes to {:.0} degC{}; {} sets the limit",
        design.segments[segment].name,
        amperes(current),
        t.celsius(),
        margin.map_or(String::new(), |margin| format!(" and {:.0} K of margin", margin.value.0)),
        limit.by.words(design),
    );
    let judged = Judged {
        rule: RULE.code,
        subject: Subject::Element(ElementId::Wire(wire)),
        value: t.celsius() + added,
        limit: limit.limit.value.celsius(),
        bound: Bound::AtMost,
        at: design.wires[wire].at,
        text,
    };
    let mut notes = case.prepared.heat_notes(point.scenario.phase, segment);
    notes.extend(guards.iter().filter_map(|device| design.device(*device)).flat_map(|kind| kind.notes.clone()));
    notes.extend(limit.limit.note.into_iter().chain(margin.and_then(|margin| margin.note)));
    Some(Said::Judged(point, judged, notes))
}

fn is_too_warm(point: &Point, segment: Id<Segment>, wire: Id<Wire>, limit: f64) -> bool {
    match point.heat.as_ref().map(|heat| &heat.segments[segment]) {
        Some(SegmentHeat::Known(known)) => known.of(wire).is_some_and(|row| row.conductor.0 > limit),
        _ => false,
    }
}
