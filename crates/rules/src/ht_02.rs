//! HT-02: every section has a balance of heat.

use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("HT-02"),
    title: "balance of heat",
    unit: Unit::Nothing,
    what: "In every phase and corner each section of the harness in a zone has temperatures at which as much heat goes out as comes in, and network \
           and heat settle on each other. A wire that would pass the melting point of copper, or whose ohms grow with its temperature faster than it gives \
           off heat, has none: it is named with the current from which on that is so.",
    why: "Such a wire gets hotter until something gives way: its insulation, its neighbours, or the protection upstream.",
    source: "Law of the balance; no limit.",
    remedy: "A thicker wire, a smaller bundle, less load; protection that opens before the wire is harmed.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let Some(heat) = &point.heat else { return };
    let design = case.design;
    for (segment, known) in heat.segments.iter() {
        match known {
            SegmentHeat::Known(_) => out.looked_at(RULE.code, Subject::Segment(segment)),
            SegmentHeat::Runaway { wire, current, from } => {
                let sets_in = match from {
                    Some(from) => format!("with its neighbours as they are that sets in at {:.1} A", from.0),
                    None => "its neighbours and surroundings alone suffice for that".to_owned(),
                };
                let name = design.element_words(ElementId::Wire(*wire));
                let carries = match &point.pulses {
                    Some(_) => format!("it is heated by {:.1} A, of pulses the root of their mean square", current.0),
                    None => format!("it carries {:.1} A", current.0),
                };
                let text = format!("{name} in it heats itself without end: {carries}, and {sets_in}");
                out.trouble(case, point, RULE.code, Subject::Segment(segment), current.0, text);
            }
            SegmentHeat::Unsettled { wire } => {
                let text = format!("the balance of heat was not reached: it is worst at {}", design.element_words(ElementId::Wire(*wire)));
                out.trouble(case, point, RULE.code, Subject::Segment(segment), 0.0, text);
            }
            SegmentHeat::Empty | SegmentHeat::Lacks(_) => {}
        }
    }
    if let Some((wire, current, conductor)) = heat.ran_away {
        let text = format!(
            "network and heat run away with each other: at {:.1} A it came to {:.0} degC, and with the ohms of that the network has no operating point (OP-01)",
            current.0,
            conductor.celsius()
        );
        out.trouble(case, point, RULE.code, Subject::Element(ElementId::Wire(wire)), current.0, text);
    }
    if let Some((wire, moved)) = heat.unsettled {
        let text = format!("after {} rounds of network and heat it still moves by {:.2} K", heat.rounds, moved.0);
        out.trouble(case, point, RULE.code, Subject::Element(ElementId::Wire(wire)), moved.0, text);
    }
}
