//! SN-01: current against its direction.

use crate::en_06::COUNTS;
use crate::{Case, Check, Rule, Unit, Wiring, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SN-01"),
    title: "current against its direction",
    unit: Unit::Nothing,
    what: "In each phase and one permitted action away from it: no load carries current from its return to its line, no breaker, fuse or limiter from its load to its line \
           (one at the terminal of a source is that source's matter), no switch, relay or tie with one_way from its `to` to its `from`, and no wire between a pin that gives power and one that takes it towards the one that gives. \
           More than 10 mA counts; the high corner decides. Loads that a switch of theirs commands off hang on their lines.",
    why: "Current that runs backwards comes by a path that nobody drew, and goes where nobody meant.",
    source: "10 mA: common practice, no source. The wiring itself.",
    remedy: "A diode in the feed, a return of its own, no lamp or monitor between two lines.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if point.scenario.corner != Corner::High {
        return;
    }
    let design = case.design;
    let wiring = out.wiring(case);
    let mut directed: Vec<(ElementId, bool, Span)> = design.loads.iter().map(|(id, load)| (ElementId::Load(id), true, load.at)).collect();
    let terminals: Vec<End> = design.batteries.iter().flat_map(|(_, source)| [source.positive.value, source.negative.value]).collect();
    let guards = |protector: &Protector| ![protector.line.value, protector.load.value].iter().any(|end| terminals.contains(end));
    directed.extend(design.protectors.iter().filter(|(_, row)| guards(row)).map(|(id, row)| (ElementId::Protector(id), true, row.at)));
    directed.extend(design.switches.iter().filter(|(_, row)| row.one_way).map(|(id, row)| (ElementId::Switch(id), true, row.at)));
    for (id, wire) in design.wires.iter() {
        if let [Some(from), Some(to)] = [wire.from.value, wire.to.value].map(|end| meaning(design, &wiring, end)) {
            match (from, to) {
                (PinMeaning::PowerOut, PinMeaning::PowerIn) => directed.push((ElementId::Wire(id), true, wire.at)),
                (PinMeaning::PowerIn, PinMeaning::PowerOut) => directed.push((ElementId::Wire(id), false, wire.at)),
                _ => {}
            }
        }
    }
    let states = crate::sneak::states(case, point, out);
    for (element, forward, at) in directed {
        if case.prepared.branch_of(element).is_none() {
            continue;
        }
        let subject = Subject::Element(element);
        let against = |current: f64| if forward { -current } else { current };
        let (worst, missing) = crate::sneak::greatest(case, states.iter(), element, against);
        if let Some(missing) = missing {
            out.not_judged(point, RULE.code, subject, at, missing);
        }
        let Some((current, state)) = worst else { continue };
        out.looked_at(RULE.code, subject);
        if current > COUNTS {
            let text = format!("{current:.2} A flow against its direction, {}", state.words);
            out.trouble(case, point, RULE.code, subject, current, text);
        }
    }
}

/// What the pin at an end of a wire, or the one it is mated with, is for.
fn meaning(design: &Design, wiring: &Wiring, end: End) -> Option<PinMeaning> {
    let End::Pin(pin) = end else { return None };
    wiring.both(pin).find_map(|pin| wiring.port_on(pin)).map(|port| design.ports[port].meaning.value)
}
