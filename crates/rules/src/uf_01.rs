//! UF-01: a load that is commanded on and gets nothing.

use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("UF-01"),
    title: "unfed load",
    unit: Unit::Paths,
    what: "Each load and converter that is commanded on: 1 if a source reaches both of its terminals through what conducts in \
           that phase and it has not let go, else 0.",
    why: "A pin left out, a switch left open or a bus that sags leaves equipment dead without any other sign.",
    source: "Follows from the commanded states of the phase; no limit from outside.",
    remedy: "Follow the way with trace: the missing wire, the open switch, the contact that is not mated, the feed that drops \
             too much.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let open_loads = case.open_loads(point);
    let mut push = |element: ElementId, at: Span, (value, text): (f64, String)| {
        let judged = Judged { rule: RULE.code, subject: Subject::Element(element), value, limit: 1.0, bound: Bound::AtLeast, at, text };
        out.push(point, judged, || case.ladder_notes(point, element, &case.prepared.trace(point, element), &open_loads));
    };
    for (id, load) in case.design.loads.iter() {
        let paths = match point.load_state[id] {
            LoadState::Off => continue,
            LoadState::DroppedOut { at } => (0.0, let_go(load.drop_out, load.return_above, at)),
            LoadState::On | LoadState::Unknown if point.load_fed[id] => (1.0, String::new()),
            LoadState::On | LoadState::Unknown => (0.0, "no source reaches both of its terminals".to_owned()),
        };
        push(ElementId::Load(id), load.at, paths);
    }
    for (id, converter) in case.design.converters.iter() {
        let sides = [converter.line.value, converter.line_return.value].map(|end| case.island(point, end));
        // A converter on a dead bus is joined to a source somewhere by resistance; what tells is whether it takes anything.
        let takes = case.prepared.branch_of(ElementId::Converter(id)).is_some_and(|row| point.current[row] != 0.0);
        let fed = sides[0] == sides[1]
            && sides[0].map(|island| &point.islands[island as usize]).is_some_and(|i| i.driven && (takes || !i.outcome.is_settled()));
        let paths = match point.converter_state[id] {
            LoadState::Off => continue,
            LoadState::DroppedOut { at } => (0.0, let_go(converter.drop_out, converter.return_above, at)),
            LoadState::On | LoadState::Unknown if fed => (1.0, String::new()),
            LoadState::On | LoadState::Unknown => (0.0, "no source reaches both of its input terminals".to_owned()),
        };
        push(ElementId::Converter(id), converter.at, paths);
    }
}

/// A load below its drop-out voltage has let go; one above it that is off all the same could not start.
fn let_go(drop_out: Option<Given<physics::Volt>>, return_above: Option<Given<physics::Volt>>, at: physics::Volt) -> String {
    match (drop_out, return_above) {
        (Some(limit), Some(start)) if at.0 >= limit.value.0 => {
            format!("it cannot start at {:.2} V: once off, it comes on above {:.2} V", at.0, start.value.0)
        }
        (Some(limit), _) => format!("it let go at {:.2} V: it drops out below {:.2} V", at.0, limit.value.0),
        (None, _) => format!("it let go at {:.2} V", at.0),
    }
}
