//! RT-04: classes to be kept apart do not share a segment.

use crate::case::Missing;
use crate::papers::place;
use crate::routing::listed;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-04"),
    title: "classes apart",
    unit: Unit::Nothing,
    what: "No segment holds wires of two classes that the profile keeps apart. Free wires are routed so; a wire with `via` lies where it is put \
           and is judged here. A wire's class is that of its circuit.",
    why: "Wires that lie side by side for metres couple into each other: power into millivolts, anything into a bridgewire. Where ordnance is \
          present its governing standard decides, and this is no release of it.",
    source: "The pairs of the limits profile, `apart`, each with its source.",
    remedy: "Another way for one of the two: a `via`, `admits` on a run of its own, a segment more.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let layout = case.prepared.layout();
    if design.segments.is_empty() {
        return;
    }
    let vehicle = |field, why| Missing::new(field, why);
    if design.profile.apart.is_empty() {
        let why = "the limits profile keeps no classes apart";
        out.not_judged(RULE.code, Subject::Vehicle, design.profile.at, vehicle("apart", why));
        return;
    }
    if design.circuits.iter().all(|(_, circuit)| circuit.class.is_none()) {
        out.not_judged(RULE.code, Subject::Vehicle, design.profile.at, vehicle("class", "no circuit states a class"));
        return;
    }
    for (id, row) in design.segments.iter() {
        let members = layout.members(id);
        if members.is_empty() {
            continue;
        }
        let subject = Subject::Segment(id);
        let mut of_class: BTreeMap<Class, Vec<Id<Wire>>> = BTreeMap::new();
        let mut bare = Vec::new();
        for &wire in members {
            match design.class_of(wire) {
                Some(class) => of_class.entry(class.value).or_default().push(wire),
                None => bare.push(wire),
            }
        }
        match bare.first() {
            None => out.judged(RULE.code, subject, design.profile.apart.iter().filter_map(|pair| pair.note)),
            Some(&first) => {
                let name = |wire: Id<Wire>| design.wires[wire].name.to_string();
                let at = design.wires[first].circuit.map_or(design.wires[first].at, |circuit| circuit.at);
                let why = format!("no circuit gives a class to {}", listed(&bare, name));
                out.not_judged(RULE.code, subject, at, Missing::new("class", why));
            }
        }
        for pair in &design.profile.apart {
            let [Some(one), Some(other)] = pair.classes.map(|class| of_class.get(&class)) else { continue };
            let name = |wire: Id<Wire>| design.wires[wire].name.to_string();
            let [a, b] = pair.classes.map(|class| design.class_name(class));
            let text = format!("{} of class {a} and {} of class {b} lie in it", listed(one, name), listed(other, name));
            let pinned = [one, other].into_iter().flatten().filter(|wire| design.wires[**wire].via_at.is_some());
            let mut also = vec![place(pair.at, "kept apart")];
            also.extend(pinned.take(2).map(|wire| place(design.wires[*wire].via_at.unwrap_or(row.at), "laid here")));
            if !bare.is_empty() {
                out.judged(RULE.code, subject, pair.note);
            }
            out.found(case, RULE.code, subject, row.at, text, also);
        }
    }
}
