//! RT-07: the cores of a cable lie together.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::BTreeMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RT-07"),
    title: "cores of a cable together",
    unit: Unit::Nothing,
    what: "Cores of one cable that join the same two breakouts lie in the same segments.",
    why: "They are under one jacket or one twist: what is drawn on two ways cannot be built.",
    source: "The wire list and the map themselves; no limit from outside.",
    remedy: "The same `via` for all its cores; circuits of one class that are kept apart from the same others.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    type Ends = [Id<BranchPoint>; 2];
    type Core = (Id<Wire>, Vec<Id<Segment>>);
    let mut of_cable: BTreeMap<(Id<Cable>, Ends), Vec<Core>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        let (Some(cable), Some(run)) = (wire.cable, case.prepared.layout().run(id)) else { continue };
        let ends = [wire.from.value, wire.to.value].map(|end| design.breakout_of(end));
        let [Some(from), Some(to)] = ends.map(|at| at.map(|at| at.value)) else { continue };
        let mut segments = run.segments.clone();
        if from > to {
            segments.reverse();
        }
        of_cable.entry((cable.value, [from.min(to), from.max(to)])).or_default().push((id, segments));
    }
    for ((cable, _), cores) in of_cable.iter().filter(|(_, cores)| cores.len() > 1) {
        let subject = Subject::Cable(*cable);
        out.judged(RULE.code, subject, []);
        let (first, way) = &cores[0];
        let Some((other, other_way)) = cores.iter().find(|(_, own)| own != way) else { continue };
        let leaves = way.iter().find(|segment| !other_way.contains(segment)).or(other_way.iter().find(|segment| !way.contains(segment)));
        let at = leaves.map_or(String::new(), |segment| format!(", one of them through segment {}", design.segments[*segment].name));
        let [a, b] = [*first, *other].map(|wire| &design.wires[wire]);
        let text = format!("its cores {} and {} lie on different ways{at}", a.name, b.name);
        out.found(case, RULE.code, subject, design.cables[*cable].at, text, vec![place(a.at, "one core"), place(b.at, "the other core")]);
    }
}
