//! The way from a source to a subject and back.

use crate::Prepared;
use crate::law::{element_ohms, law_of};
use model::*;
use physics::*;
use std::collections::{HashSet, VecDeque};

/// Currents below this carry no way; the way is then the shortest one.
const CARRIES: f64 = 1e-12;

/// Which way along the current a walk goes.
#[derive(Clone, Copy, PartialEq)]
enum Walk {
    Upstream,
    Downstream,
}

/// A way as branches, each with the node that it is entered at in the direction of current.
struct Way {
    /// Where the current enters the subject.
    enter: NodeId,
    feed: Vec<(usize, NodeId)>,
    back: Vec<(usize, NodeId)>,
    source: Option<usize>,
    sink: Option<usize>,
}

/// Follows the largest currents from a source to `element` and back to a source; `None` for one that is no branch.
fn way(prepared: &Prepared, point: &Point, element: ElementId) -> Option<Way> {
    let topology = &prepared.topology;
    let own = topology.branch_of(element)?;
    let branch = topology.branches[own];
    // A source's own current leaves at its positive terminal; everything else is entered where its current enters.
    let forward = matches!(element, ElementId::Source(_)) || point.current[own] >= 0.0;
    let (enter, leave) = if forward { (branch.from, branch.to) } else { (branch.to, branch.from) };
    // A sensor that drives its own current has one way only: out of it and back.
    let drives_itself = matches!(element, ElementId::Sensor(id)
        if matches!(prepared.design.sensors[id].law, SensorLaw::Voltage { .. } | SensorLaw::Thermocouple { .. }));
    let upstream = || walk(prepared, point, enter, own, Walk::Upstream);
    let (mut feed, source) = if drives_itself { (Vec::new(), None) } else { upstream() };
    feed.reverse();
    let (mut back, mut sink) = walk(prepared, point, leave, own, Walk::Downstream);
    // What a sensor's own source gives comes back to it, also against a larger current that shares the way.
    if let (ElementId::Sensor(_), Some(row)) = (element, source.filter(|&row| sink != Some(row))) {
        let home = homeward(prepared, point, leave, &back, topology.branches[row].to);
        if let Some(home) = home {
            (back, sink) = (home, source);
        }
    }
    Some(Way { enter, feed, back, source, sink })
}

/// The way to an element and back, with what is lost on it.
pub(crate) fn trace(prepared: &Prepared, point: &Point, element: ElementId) -> Ladder {
    let topology = &prepared.topology;
    let mut ladder =
        Ladder { feed: Vec::new(), back: Vec::new(), source: None, sink: None, begins: None, bus: None, above_bus: 0, beyond_return: 0 };
    let Some(Way { enter, feed, back, source, sink }) = way(prepared, point, element) else { return ladder };
    let step = |&(row, from): &(usize, NodeId)| step(prepared, point, row, from);
    ladder.feed = feed.iter().map(step).collect();
    ladder.back = back.iter().map(step).collect();
    ladder.source = source.map(|row| topology.branches[row].element);
    ladder.sink = sink.map(|row| topology.branches[row].element);
    ladder.begins = source.map(|row| topology.ends[row].0);
    find_bus(prepared, element, enter, &feed, &back, &mut ladder);
    ladder
}

/// What lies on the way to an element and back: the elements, its sources, and the element itself; and the node at which the way begins.
pub(crate) fn along(prepared: &Prepared, point: &Point, element: ElementId) -> (Vec<ElementId>, Option<NodeId>) {
    let Some(Way { feed, back, source, sink, .. }) = way(prepared, point, element) else { return (vec![element], None) };
    let rows = feed.iter().chain(&back).map(|&(row, _)| row).chain(source).chain(sink);
    let elements = rows.map(|row| prepared.topology.branches[row].element).chain([element]).collect();
    (elements, feed.first().or(back.first()).map(|&(_, node)| node))
}

/// The bus that the drop is counted from: the load's own if the way passes it, else the last bus before the load.
fn find_bus(
    prepared: &Prepared,
    element: ElementId,
    enter: NodeId,
    feed: &[(usize, NodeId)],
    back: &[(usize, NodeId)],
    ladder: &mut Ladder,
) {
    let (design, topology) = (prepared.design, &prepared.topology);
    let declared = match element {
        ElementId::Load(id) => design.loads[id].bus.map(|b| b.value),
        _ => None,
    };
    let bus_at = |node: NodeId| match topology.node_end[node.row()] {
        End::Inner(id) if design.inner_nodes[id].is_bus => Some(id),
        _ => None,
    };
    let matching = |node: NodeId| bus_at(node).filter(|id| declared.is_none_or(|own| own == *id));
    // A step is entered at its `from`; the first step that leaves the bus is the first below it. The subject may also hang
    // on the bus itself.
    if let Some(bus) = matching(enter) {
        ladder.bus = Some(bus);
        ladder.above_bus = feed.len();
    }
    for (index, &(_, from)) in feed.iter().enumerate().rev() {
        if ladder.bus.is_some() {
            break;
        }
        if let Some(bus) = matching(from) {
            ladder.bus = Some(bus);
            ladder.above_bus = index;
        }
    }
    let Some(ret) = ladder.bus.and_then(|bus| design.inner_nodes[bus].bus_return).and_then(|end| topology.node(end.value)) else { return };
    // The step that is entered at the bus's return, and all after it, lie beyond.
    if let Some(index) = back.iter().position(|&(_, from)| from == ret) {
        ladder.beyond_return = back.len() - index;
    }
}

fn step(prepared: &Prepared, point: &Point, row: usize, from: NodeId) -> LadderStep {
    let topology = &prepared.topology;
    let branch = topology.branches[row];
    let (a, b) = topology.ends[row];
    let along = branch.from == from;
    let sign = if along { 1.0 } else { -1.0 };
    let drop = sign * (point.voltage[branch.from.row()] - point.voltage[branch.to.row()]);
    let known = element_ohms(prepared.design, &prepared.layout, &point.scenario, branch.element);
    LadderStep {
        element: branch.element,
        from: if along { a } else { b },
        to: if along { b } else { a },
        ohms: known.map(|(ohms, _)| ohms),
        current: Ampere(sign * point.current[row]),
        drop: Volt(drop),
        unknown: known.is_some_and(|(_, placeholder)| placeholder),
    }
}

/// Steps `(branch, node it is entered at in the direction of current)` from `start` to the first source.
///
/// Cost: the branches that meet at each node on the way, and the square of its steps: ways are short, and no set has to be made for them.
fn walk(prepared: &Prepared, point: &Point, start: NodeId, own: usize, walk: Walk) -> (Vec<(usize, NodeId)>, Option<usize>) {
    let topology = &prepared.topology;
    let mut steps = Vec::new();
    let mut seen = vec![start];
    let mut node = start;
    loop {
        // Current into the node counts upstream, current out of it downstream.
        let flow = |row: usize| {
            let out = if topology.branches[row].from == node { point.current[row] } else { -point.current[row] };
            if walk == Walk::Upstream { -out } else { out }
        };
        let best = topology
            .meeting(node)
            .iter()
            .map(|&row| row as usize)
            .filter(|&row| row != own && flow(row) > CARRIES && topology.branches[row].from != topology.branches[row].to)
            .max_by(|&a, &b| flow(a).total_cmp(&flow(b)).then_with(|| prepared.name(b).cmp(&prepared.name(a))));
        let Some(row) = best else {
            // Nothing carries: a way without current goes by the fewest elements, if there is one at all.
            if steps.is_empty() {
                return shortest(prepared, point, start, own, walk);
            }
            return (steps, None);
        };
        let branch = topology.branches[row];
        let is_source = matches!(branch.element, ElementId::Source(_) | ElementId::Excitation(_))
            || (matches!(branch.element, ElementId::Converter(_)) && branch.part == 1);
        if is_source {
            return (steps, Some(row));
        }
        let other = if branch.from == node { branch.to } else { branch.from };
        if seen.contains(&other) {
            return (steps, None);
        }
        seen.push(other);
        steps.push((row, if walk == Walk::Upstream { other } else { node }));
        node = other;
    }
}

/// As far along a way as needed, and from there by the fewest closed conductors to a node.
fn homeward(prepared: &Prepared, point: &Point, start: NodeId, way: &[(usize, NodeId)], home: NodeId) -> Option<Vec<(usize, NodeId)>> {
    let topology = &prepared.topology;
    let law = law_of(prepared.design, topology, &prepared.layout, &point.scenario);
    // Of each node the branch and the node that lead home.
    let mut toward: Vec<Option<(usize, NodeId)>> = vec![None; topology.node_end.len()];
    let mut queue = VecDeque::from([home]);
    while let Some(node) = queue.pop_front() {
        for &row in topology.meeting(node) {
            let branch = topology.branches[row as usize];
            let other = if branch.from == node { branch.to } else { branch.from };
            let conducts = passes(branch.element) && law(&branch) != crate::Law::Open;
            if conducts && other != home && toward[other.row()].is_none() {
                toward[other.row()] = Some((row as usize, node));
                queue.push_back(other);
            }
        }
    }
    let is_known = |node: NodeId| node == home || toward[node.row()].is_some();
    let mut steps = Vec::new();
    let mut node = start;
    for &(row, from) in way.iter().take_while(|&&(_, from)| !is_known(from)) {
        steps.push((row, from));
        let branch = topology.branches[row];
        node = if branch.from == from { branch.to } else { branch.from };
    }
    while node != home {
        let (row, next) = toward[node.row()]?;
        steps.push((row, node));
        node = next;
    }
    Some(steps)
}

/// Whether a branch can stand in a way that carries nothing: not through consumers or the inputs that read sensors.
fn passes(element: ElementId) -> bool {
    !matches!(
        element,
        ElementId::Load(_)
            | ElementId::Receiver(_)
            | ElementId::Excitation(_)
            | ElementId::Converter(_)
            | ElementId::Sensor(_)
            | ElementId::Source(_)
    )
}

fn shortest(prepared: &Prepared, point: &Point, start: NodeId, own: usize, walk: Walk) -> (Vec<(usize, NodeId)>, Option<usize>) {
    let topology = &prepared.topology;
    let law = law_of(prepared.design, topology, &prepared.layout, &point.scenario);
    let is_open = |branch: &crate::Branch| law(branch) == crate::Law::Open;
    let mut came: std::collections::HashMap<NodeId, (usize, NodeId)> = std::collections::HashMap::new();
    let mut queue = VecDeque::from([start]);
    let mut seen = HashSet::from([start]);
    let mut found = None;
    'search: while let Some(node) = queue.pop_front() {
        for &row in topology.meeting(node) {
            let row = row as usize;
            let branch = topology.branches[row];
            let terminal = if walk == Walk::Upstream { branch.from } else { branch.to };
            if matches!(branch.element, ElementId::Source(_)) && terminal == node && !is_open(&branch) {
                found = Some((node, row));
                break 'search;
            }
            let diode_ok = !matches!(branch.element, ElementId::Diode(_)) || (walk == Walk::Upstream) == (branch.to == node);
            if row == own || !passes(branch.element) || !diode_ok {
                continue;
            }
            let other = if branch.from == node { branch.to } else { branch.from };
            if !seen.contains(&other) && !is_open(&branch) {
                seen.insert(other);
                came.insert(other, (row, node));
                queue.push_back(other);
            }
        }
    }
    let Some((mut node, source)) = found else { return (Vec::new(), None) };
    let mut steps = Vec::new();
    while node != start {
        let &(row, toward_start) = came.get(&node).expect("search: every node found has a way back");
        steps.push((row, if walk == Walk::Upstream { node } else { toward_start }));
        node = toward_start;
    }
    steps.reverse();
    (steps, Some(source))
}

/// The nearest node, by number of branches, that passes a test; closed or open does not matter.
pub(crate) fn nearest(prepared: &Prepared, start: NodeId, own: usize, test: &dyn Fn(NodeId) -> bool) -> Option<NodeId> {
    let topology = &prepared.topology;
    let mut queue = VecDeque::from([start]);
    let mut seen = HashSet::from([start]);
    while let Some(node) = queue.pop_front() {
        if test(node) {
            return Some(node);
        }
        for &row in topology.meeting(node) {
            let branch = topology.branches[row as usize];
            if row as usize == own || !passes(branch.element) {
                continue;
            }
            let other = if branch.from == node { branch.to } else { branch.from };
            if seen.insert(other) {
                queue.push_back(other);
            }
        }
    }
    None
}
