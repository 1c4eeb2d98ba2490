//! OP-01: a part of the network that has no settled state.

use crate::worst::subject_of_end;
use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("OP-01"),
    title: "operating point",
    unit: Unit::Nothing,
    what: "Every part of the network that conducts together settles: all currents and powers balance and the state is stable. \
           If not: the bus and the load that sags most with the power asked and the power possible, or the elements that keep \
           changing state.",
    why: "Constant-power loads draw more as the bus sags. Past a power of E²/4R no voltage satisfies them and the bus collapses.",
    source: "Maximum power transfer: E²/(4R) at half the EMF (worked by hand from V² − E V + R P = 0).",
    remedy: "Less power on the bus, less resistance before it, another source; a drop-out voltage where the load has one.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    let of_node = |node: NodeId| subject_of_end(case.prepared.node_end(node));
    for island in &point.islands {
        let (subject, severity, text) = match &island.outcome {
            Outcome::Settled => continue,
            Outcome::NoOperatingPoint { load, bus, asked, possible } => {
                let place = bus.map_or(String::new(), |bus| format!(" on bus:{}", design.inner_nodes[bus].name));
                let beyond = possible.map_or(0.0, |possible| asked.0 - possible.0);
                let possible = match possible {
                    Some(watts) => format!(" and {:.1} W possible, {beyond:.1} W too much", watts.0),
                    None => ", more than is possible".to_owned(),
                };
                let text = format!("no operating point{place}: {:.1} W are asked{possible}", asked.0);
                (Subject::Element(*load), beyond, text)
            }
            Outcome::Cycle { elements } => {
                let names: Vec<String> = elements.iter().map(|&e| design.element_words(e)).collect();
                let subject = elements.first().map_or(of_node(island.reference), |&e| Subject::Element(e));
                (subject, 0.0, format!("no state holds: {} keep changing", names.join(", ")))
            }
            Outcome::Singular { node } => (of_node(*node), 0.0, "the network has no solution here".to_owned()),
            Outcome::StepLimit { node, residual } => (
                of_node(*node),
                residual.0.abs(),
                format!("the iteration did not settle: {:.1e} A are unaccounted for here", residual.0.abs()),
            ),
        };
        out.trouble(case, point, RULE.code, subject, severity, text);
    }
}

/// Where the row of a subject stands.
pub(crate) fn place_of(design: &Design, subject: Subject) -> Span {
    match subject {
        Subject::Element(ElementId::Wire(id)) => design.wires[id].at,
        Subject::Element(ElementId::Protector(id)) => design.protectors[id].at,
        Subject::Element(ElementId::Switch(id)) => design.switches[id].at,
        Subject::Element(ElementId::Load(id)) => design.loads[id].at,
        Subject::Element(ElementId::Converter(id)) => design.converters[id].at,
        Subject::Element(ElementId::Diode(id)) => design.diodes[id].at,
        Subject::Element(ElementId::Source(id)) => design.batteries[id].at,
        Subject::Pin(id) => design.pins[id].at,
        Subject::Connector(id) => design.connectors[id].at,
        Subject::Unit(id) => design.units[id].at,
        Subject::Inner(id) => design.inner_nodes[id].at,
        Subject::Splice(id) => design.splices[id].at,
        Subject::Stud(id) => design.studs[id].at,
        Subject::Ground(id) => design.grounds[id].at,
        Subject::Port(id) => design.ports[id].at,
        Subject::Function(id) => design.functions[id].at,
        Subject::Fitted(id) => design.fitted[id].at,
        Subject::Breakout(id) => design.branch_points[id].at,
        Subject::Segment(id) => design.segments[id].at,
        Subject::Clamp(id) => design.clamps[id].at,
        Subject::Covering(id) => design.coverings[id].at,
        Subject::Neighbour(id) => design.neighbours[id].at,
        Subject::Zone(id) => design.zones[id].at,
        Subject::Circuit(id) => design.circuits[id].at,
        Subject::Element(_) | Subject::Cable(_) | Subject::Phase(_) | Subject::Vehicle => design.profile.at,
    }
}
