//! RT-03: a segment holds only what it admits.

use crate::papers::place;
use crate::routing::listed;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-03"),
    title: "class admitted by a segment",
    unit: Unit::Nothing,
    what: "Every wire in a segment that lists the classes it admits is of one of them. Free wires are routed so; a wire with `via` lies where it \
           is put and is judged here.",
    why: "A run that is kept for ordnance or for millivolts is quiet only as long as nothing else is laid in it.",
    source: "The map of the vehicle itself; no limit from outside.",
    remedy: "Another `via`, a class more under `admits`, or the class of the wire's circuit.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, row) in design.segments.iter() {
        let (Some(admits), members) = (&row.admits, case.prepared.layout().members(id)) else { continue };
        let subject = Subject::Segment(id);
        out.judged(RULE.code, subject, []);
        let foreign = |wire: &Id<Wire>| design.class_of(*wire).is_none_or(|class| !admits.value.contains(&class.value));
        let foreign: Vec<Id<Wire>> = members.iter().copied().filter(foreign).collect();
        if foreign.is_empty() {
            continue;
        }
        let of = |wire: Id<Wire>| match design.class_of(wire) {
            Some(class) => format!("{} of class {}", design.wires[wire].name, design.class_name(class.value)),
            None => format!("{}, whose circuit states no class", design.wires[wire].name),
        };
        let classes: Vec<&str> = admits.value.iter().map(|class| design.class_name(*class)).collect();
        let text = format!("it admits {}, and in it lies {}", classes.join(", "), listed(&foreign, of));
        let mut also = vec![place(admits.at, "what it admits")];
        also.extend(foreign.iter().take(3).map(|wire| place(design.wires[*wire].via_at.unwrap_or(design.wires[*wire].at), "laid here")));
        out.found(case, RULE.code, subject, row.at, text, also);
    }
}
