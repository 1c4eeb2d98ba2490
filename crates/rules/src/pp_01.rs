//! PP-01: conductors in parallel, with one open.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Wiring, Worst, contact};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-01"),
    title: "parallel conductors with one open",
    unit: Unit::Ampere,
    what: "Each wire of a parallel group with the other that carries most open: the current that it and its contacts then carry, against the \
           test current of its contacts with this wire, without derating. Shares follow from each way's own ohms, contacts included. Far \
           from the limit the sum is taken as unchanged and goes over in the ratio of the shares; from 80 % of the limit on the state is \
           solved with the wire open.",
    why: "A broken wire or a pushed-out contact in a parallel group shows nowhere: the load works on, and the others carry it all.",
    source: "Currents divide as conductances do. Test currents: AS39029 [from memory]. Paralleled contacts share unevenly: NAVSEA SD-18, \
             connector derating [read].",
    remedy: "One conductor more, larger contacts, a protection for each.",
    check: Check::Point(check),
};

/// Share of the limit from which on the state is solved and not estimated.
const NEAR: f64 = 0.8;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    let mut groups: BTreeMap<&str, Vec<Id<Wire>>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        if let Some(group) = &wire.group {
            groups.entry(&group.value).or_default().push(id);
        }
    }
    groups.retain(|_, members| members.len() > 1);
    if groups.is_empty() {
        return;
    }
    let wiring = out.wiring(case);
    let open_loads = case.open_loads(point);
    for members in groups.values() {
        let currents: Option<Vec<Result<f64, Missing>>> = members.iter().map(|&id| case.current(point, ElementId::Wire(id))).collect();
        let Some(currents) = currents else { continue };
        let currents: Result<Vec<f64>, Missing> = currents.into_iter().map(|current| current.map(f64::abs)).collect();
        let currents = match currents {
            Ok(currents) => currents,
            Err(missing) => {
                for &id in members {
                    let (subject, at) = (Subject::Element(ElementId::Wire(id)), design.wires[id].at);
                    out.not_judged(point, RULE.code, subject, at, Missing::new(missing.field.clone(), missing.why.clone()));
                }
                continue;
            }
        };
        let sum: f64 = currents.iter().sum();
        if sum == 0.0 {
            continue;
        }
        // The two that carry most: each member loses the larger of the others.
        let mut order: Vec<usize> = (0..members.len()).collect();
        order.sort_by(|&a, &b| currents[b].total_cmp(&currents[a]).then(a.cmp(&b)));
        let mut solved: [Option<Point>; 2] = [None, None];
        for (at, &id) in members.iter().enumerate() {
            let element = ElementId::Wire(id);
            let subject = Subject::Element(element);
            let which = usize::from(order[0] == at);
            let opened = order[which];
            let limit = match least_rating(design, &wiring, id) {
                Ok(None) => continue,
                Ok(Some(limit)) => limit,
                Err(missing) => {
                    out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                    continue;
                }
            };
            if let Some(missing) = case.unknown_on_way(point, element) {
                out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                continue;
            }
            let others = sum - currents[opened];
            let estimate = currents[at] * if others > 0.0 { sum / others } else { 1.0 };
            let open_name = &design.wires[members[opened]].name;
            let (value, text) = if estimate < NEAR * limit.value {
                (estimate, format!("with wire {open_name} open, by the ratio of the shares"))
            } else {
                let open = solved[which].get_or_insert_with(|| {
                    let mut scenario = point.scenario.clone();
                    scenario.opened.push((ElementId::Wire(members[opened]), None));
                    case.prepared.near(point).point(&scenario)
                });
                match case.current(open, element) {
                    Some(Ok(current)) => (current.abs(), format!("with wire {open_name} open")),
                    _ => {
                        let missing = Missing::new("operating point", format!("with wire {open_name} open the network does not settle"));
                        out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                        continue;
                    }
                }
            };
            let judged =
                Judged { rule: RULE.code, subject, value, limit: limit.value, bound: Bound::AtMost, at: design.wires[id].at, text };
            out.push(point, judged, || {
                let mut notes = case.way_notes(point, element, &open_loads);
                notes.extend(limit.note);
                notes
            });
        }
    }
}

/// The lowest test current of the contacts at both ends of a wire; `None` if it lands on no contact of its own.
fn least_rating(design: &Design, wiring: &Wiring, id: Id<Wire>) -> Result<Option<Given<f64>>, Missing> {
    let wire = &design.wires[id];
    let mut least: Option<Given<f64>> = None;
    for end in [wire.from, wire.to] {
        let End::Pin(pin) = end.value else { continue };
        let Some(id) = wiring.contact(pin) else { continue };
        let contact = &design.contacts[id];
        let Some(spec) = contact.spec else { return Err(Missing::new("contact", "the size of its contact is not known")) };
        let deciding = contact::deciding_wire(design, wiring, contact)?;
        let test = contact::test_current(&design.contact_specs[spec], deciding.map(|(_, gauge)| gauge)).map(|current| current.0);
        if least.is_none_or(|least| test.value < least.value) {
            least = Some(test);
        }
    }
    Ok(least)
}
