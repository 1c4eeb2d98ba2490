//! CN-02: primary power beside a contact that must not meet it.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::HashMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-02"),
    title: "power beside a sensitive contact",
    unit: Unit::Nothing,
    what: "No contact called power-in or power-out is the neighbour of one called ordnance, command or millivolt in the same connector. \
           Neighbours are cavities no farther apart than 1.3 times the least distance in the arrangement; an empty or grounded cavity \
           between keeps them apart.",
    why: "One bent pin or one strand puts the bus on an initiator, a command that acts on power, or an input made for millivolts.",
    source: "Common practice, no source.",
    remedy: "Move one of the two; leave the cavity between empty, or ground it.",
    check: Check::Papers(check),
};

/// How far apart neighbours are, in least distances: six around each in a hexagonal pattern, and not the second ring, which
/// begins at 1.7 (common practice, no source).
const NEIGHBOUR: f64 = 1.3;

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut by_connector: HashMap<Id<Connector>, Vec<Id<Port>>> = HashMap::new();
    for (id, port) in design.ports.iter() {
        by_connector.entry(design.pins[port.pin].connector).or_default().push(id);
    }
    for (id, row) in design.connectors.iter() {
        let Some(ports) = by_connector.get(&id) else { continue };
        let of = |wanted: fn(PinMeaning) -> bool| {
            ports.iter().copied().filter(move |&port| wanted(design.ports[port].meaning.value)).collect::<Vec<_>>()
        };
        // What nobody uses is not live.
        let mut power = of(|m| matches!(m, PinMeaning::PowerIn | PinMeaning::PowerOut));
        power.retain(|&port| {
            let pin = design.ports[port].pin;
            wiring.is_used_inside(pin) || wiring.wires_at(pin).next().is_some()
        });
        let sensitive = of(|m| matches!(m, PinMeaning::Ordnance | PinMeaning::Command | PinMeaning::Millivolt));
        if power.is_empty() || sensitive.is_empty() {
            continue;
        }
        let subject = Subject::Connector(id);
        let positions = row.arrangement.map(|arrangement| positions(&design.arrangements[arrangement.value]));
        let at = |port: Id<Port>| positions.as_ref().and_then(|p| p.get(&*design.pins[design.ports[port].pin].cavity)).copied();
        let Some(pitch) = positions.as_ref().and_then(least_distance) else {
            let field = if row.arrangement.is_some() { "cavity positions" } else { "arrangement" };
            let why = "where its cavities lie is not known, and it has power and sensitive contacts";
            out.not_judged(RULE.code, subject, row.at, Missing::new(field, why));
            continue;
        };
        out.judged(RULE.code, subject, row.arrangement.and_then(|a| design.arrangements[a.value].note));
        for &quiet in &sensitive {
            for &live in &power {
                let (Some(a), Some(b)) = (at(quiet), at(live)) else { continue };
                if distance(a, b) > NEIGHBOUR * pitch {
                    continue;
                }
                let (one, other) = (&design.ports[quiet], &design.ports[live]);
                let text = format!(
                    "{} ({}) is the neighbour of {} ({})",
                    design.pin_name(one.pin),
                    one.meaning.value.word(),
                    design.pin_name(other.pin),
                    other.meaning.value.word()
                );
                out.found(case, RULE.code, subject, one.at, text, vec![place(other.at, "power here")]);
            }
        }
    }
}

type Positions<'a> = HashMap<&'a str, (f64, f64)>;

fn positions(arrangement: &Arrangement) -> Positions<'_> {
    arrangement.cavities.iter().filter_map(|cavity| Some((&*cavity.name, cavity.position_mm?))).collect()
}

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// The least distance between two cavities; an arrangement has at most a few hundred.
fn least_distance(positions: &Positions) -> Option<f64> {
    let all: Vec<(f64, f64)> = positions.values().copied().collect();
    let pairs = all.iter().enumerate().flat_map(|(n, &a)| all[n + 1..].iter().map(move |&b| distance(a, b)));
    pairs.filter(|d| *d > 0.0).min_by(f64::total_cmp)
}
