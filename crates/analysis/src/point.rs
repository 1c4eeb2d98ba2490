//! From the numeric solution to a [`Point`] of the design.

use crate::law::{Law, Overrides, element_ohms, laws};
use crate::network::Network;
use crate::settle::{FED, Failure, Settle, Solution};
use crate::{Branch, Prepared};
use model::*;
use physics::*;
use std::sync::Arc;

const NONE: u32 = u32::MAX;

/// Settles one state of a prepared design; a settled state nearby may stand at its beginning.
pub(crate) fn point(prepared: &Prepared, scenario: &Scenario, near: Option<&Point>) -> Point {
    begun(prepared, scenario, near, false)
}

/// The same, where nobody asks how much power a part without an operating point could have.
pub(crate) fn roughly(prepared: &Prepared, scenario: &Scenario, near: Option<&Point>) -> Point {
    begun(prepared, scenario, near, true)
}

fn begun(prepared: &Prepared, scenario: &Scenario, near: Option<&Point>, roughly: bool) -> Point {
    let (design, topology) = (prepared.design, &prepared.topology);
    let mut laws = laws(design, topology, &prepared.layout, scenario);
    let shorted = (!scenario.shorts.is_empty()).then(|| with_shorts(prepared, scenario, &mut laws));
    let network = shorted.as_ref().unwrap_or(&prepared.network);
    let name = |row: usize| topology.branches.get(row).map_or_else(String::new, |branch| design.element_words(branch.element));
    let rows = |elements: &[ElementId]| -> Vec<usize> { elements.iter().filter_map(|&element| topology.branch_of(element)).collect() };
    let before = scenario.before.as_ref().map_or_else(Vec::new, |states| rows(&states.dropped));
    let settle = |dropped: &[usize]| {
        let mut settle = Settle::new(network, &laws, &prepared.grounds, &name, dropped);
        if let Some(near) = near {
            let on =
                |row: usize| matches!(topology.branches.get(row), Some(Branch { element: ElementId::Diode(id), .. }) if near.diode_on[*id]);
            settle.start_from(&near.voltage, &on);
        }
        if roughly {
            settle.roughly();
        }
        settle.run()
    };
    let mut solution = settle(&before);

    // A load that works now but could not have started at this voltage has two states. Only one whose voltage without any
    // demand stays under its return voltage can be meant: the others come back by themselves.
    let (mut other_state, mut all_on) = (Vec::new(), None);
    if scenario.before.is_none() {
        let held: Vec<usize> = (0..laws.len())
            .filter(|&row| {
                let (a, b) = (network.from[row] as usize, network.to[row] as usize);
                let without = solution.no_load[a] - solution.no_load[b];
                solution.dropped[row].is_none()
                    && laws[row].return_above().is_some_and(|above| without < above)
                    && solution.is_fed(network, row)
            })
            .collect();
        if !held.is_empty() {
            let alternative = settle(&held);
            other_state = (0..topology.branches.len())
                .filter(|&row| alternative.dropped[row].is_some() != solution.dropped[row].is_some())
                .map(|row| topology.branches[row].element)
                .collect();
            if !other_state.is_empty() {
                // The worse of the two is the one that gives up more loads.
                let given_up = |s: &Solution| s.dropped.iter().filter(|d| d.is_some()).count();
                if given_up(&alternative) > given_up(&solution) {
                    let other = std::mem::replace(&mut solution, alternative);
                    let works = given_up(&other) == 0 && other.failures.is_empty();
                    all_on = works.then(|| Arc::new(assemble(prepared, scenario, &laws, network, other, Vec::new())));
                }
            }
        }
    }
    Point { all_on, ..assemble(prepared, scenario, &laws, network, solution, other_state) }
}

/// The point of a solution.
pub(crate) fn assemble(
    prepared: &Prepared,
    scenario: &Scenario,
    laws: &[Law],
    network: &Network,
    solution: Solution,
    other_state: Vec<ElementId>,
) -> Point {
    let (design, topology) = (prepared.design, &prepared.topology);
    let (islands, island_of) = islands(prepared, network, &solution);
    let settled = |node: NodeId| island_of[node.row()].is_some_and(|island| islands[island as usize].outcome.is_settled());
    let across = |from: End, to: End| -> Option<Volt> {
        let (a, b) = (topology.node(from)?, topology.node(to)?);
        let joined = island_of[a.row()] == island_of[b.row()] && settled(a);
        joined.then(|| Volt(solution.voltage[a.row()] - solution.voltage[b.row()]))
    };
    let overrides = Overrides::new(design, topology, &prepared.layout, scenario);
    let state = |element: ElementId, on: bool, known: bool| -> LoadState {
        let row = topology.branch_of(element);
        match row.and_then(|row| solution.dropped[row]) {
            _ if !on => LoadState::Off,
            _ if !known => LoadState::Unknown,
            Some(at) => LoadState::DroppedOut { at: Volt(at) },
            None => LoadState::On,
        }
    };
    let load_state = design
        .loads
        .iter()
        .map(|(id, load)| {
            let (on, changed) = overrides.load(id);
            let on = on.unwrap_or_else(|| overrides.on(ElementId::Load(id), load.on));
            state(ElementId::Load(id), on, changed.is_some() || load.demand.is_some())
        })
        .collect();
    let converter_state = design
        .converters
        .iter()
        .map(|(id, converter)| state(ElementId::Converter(id), overrides.on(ElementId::Converter(id), converter.on), true))
        .collect();
    let load_voltage: Column<Load, Option<Volt>> =
        design.loads.iter().map(|(_, load)| across(load.line.value, load.line_return.value)).collect();
    let load_fed = design
        .loads
        .iter()
        .map(|(id, load)| {
            let volts = load_voltage[id].is_some_and(|v| v.0 > FED);
            let row = topology.branch_of(ElementId::Load(id));
            let stranded = row.is_some_and(|row| solution.stranded[row]);
            // Where the island did not settle, the way is judged without demands.
            let way = row.is_some_and(|row| solution.is_fed(network, row));
            let driven =
                topology.node(load.line.value).and_then(|node| island_of[node.row()]).is_some_and(|island| islands[island as usize].driven);
            driven && !stranded && (volts || (way && load_voltage[id].is_none()))
        })
        .collect();
    let diode_on = design
        .diodes
        .ids()
        .map(|id| {
            topology.branch_of(ElementId::Diode(id)).is_some_and(|row| solution.diode_on[row] && matches!(laws[row], Law::Diode { .. }))
        })
        .collect();
    let mut current = solution.current;
    current.truncate(topology.branches.len());
    wire_currents_at_shorts(prepared, scenario, &solution.voltage, &mut current);
    Point {
        scenario: scenario.clone(),
        receiver_voltage: design.receivers.iter().map(|(_, r)| across(r.positive.value, r.negative.value)).collect(),
        islands,
        island_of,
        voltage: solution.voltage,
        current,
        load_state,
        load_voltage,
        load_fed,
        converter_state,
        diode_on,
        other_state,
        all_on: None,
        pulses: None,
        heat: None,
        steps: solution.steps,
        factorisations: solution.factorisations,
        beside: Beside::default(),
    }
}

fn islands(prepared: &Prepared, network: &Network, solution: &Solution) -> (Vec<Island>, Vec<Option<u32>>) {
    let (design, topology) = (prepared.design, &prepared.topology);
    let mut number = vec![NONE; network.nodes];
    let mut islands = Vec::new();
    let mut island_of = vec![None; network.nodes];
    for (&component, island) in solution.component.iter().zip(&mut island_of) {
        if component == NONE {
            continue;
        }
        if number[component as usize] == NONE {
            number[component as usize] = islands.len() as u32;
            islands.push(Island {
                reference: NodeId(component),
                grounded: false,
                driven: solution.driven[component as usize],
                outcome: Outcome::Settled,
            });
        }
        *island = Some(number[component as usize]);
    }
    for &reference in &solution.references {
        if let Some(island) = island_of[reference as usize] {
            islands[island as usize].reference = NodeId(reference);
            islands[island as usize].grounded = prepared.grounds.contains(&reference);
        }
    }
    let element = |row: usize| topology.branches[row].element;
    for (node, failure) in &solution.failures {
        let Some(island) = island_of[*node as usize] else { continue };
        let outcome = match failure {
            Failure::NoOperatingPoint { row, asked, possible } => Outcome::NoOperatingPoint {
                load: element(*row),
                bus: bus_of(design, prepared, *row),
                asked: Watt(*asked),
                possible: possible.map(Watt),
            },
            Failure::Cycle { rows } => Outcome::Cycle { elements: rows.iter().map(|&row| element(row)).collect() },
            Failure::Singular { node } => Outcome::Singular { node: NodeId(*node) },
            Failure::StepLimit { node, residual } => Outcome::StepLimit { node: NodeId(*node), residual: Ampere(*residual) },
        };
        // The first failure of an island is its cause; later ones follow from it.
        if islands[island as usize].outcome.is_settled() {
            islands[island as usize].outcome = outcome;
        }
    }
    (islands, island_of)
}

/// The bus nearest to a demand's positive terminal.
fn bus_of(design: &Design, prepared: &Prepared, row: usize) -> Option<Id<InnerNode>> {
    let is_bus = |node: NodeId| match prepared.topology.node_end[node.row()] {
        End::Inner(id) if design.inner_nodes[id].is_bus => Some(id),
        _ => None,
    };
    let start = prepared.topology.branches[row].from;
    crate::trace::nearest(prepared, start, row, &|node| is_bus(node).is_some()).and_then(is_bus)
}

/// The scenario's short circuits as branches between the nodes of the design; the laws of the wires they stand on become open.
///
/// A short somewhere along a wire has its own middle, which is eliminated: a star of three resistances becomes a triangle.
pub(crate) fn shorts(prepared: &Prepared, scenario: &Scenario, laws: &mut [Law]) -> Vec<(u32, u32, f64)> {
    let mut added: Vec<(u32, u32, f64)> = Vec::new();
    for (row, legs) in shorts_by_star(prepared, scenario) {
        let sum: f64 = legs.iter().map(|&(_, g)| g).sum();
        for (k, &(a, ga)) in legs.iter().enumerate() {
            for &(b, gb) in &legs[k + 1..] {
                added.push((a, b, ga * gb / sum));
            }
        }
        if let Some(row) = row {
            laws[row] = Law::Open;
        }
    }
    added
}

/// The network with the scenario's short circuits.
fn with_shorts(prepared: &Prepared, scenario: &Scenario, laws: &mut Vec<Law>) -> Network {
    let added = shorts(prepared, scenario, laws);
    let base = &prepared.topology.branches;
    laws.extend(added.iter().map(|&(_, _, g)| Law::Conductance { g }));
    let pairs: Vec<(u32, u32)> = base.iter().map(|b| (b.from.0, b.to.0)).chain(added.iter().map(|&(a, b, _)| (a, b))).collect();
    Network::new(prepared.network.nodes, pairs.into_iter())
}

/// Legs of a star by node and conductance.
type Legs = Vec<(u32, f64)>;

/// Each short as a star, with the branch it replaces. A short between two ends is a star of two legs.
fn shorts_by_star(prepared: &Prepared, scenario: &Scenario) -> Vec<(Option<usize>, Legs)> {
    let node = |place: Place| -> Option<u32> {
        match place {
            Place::End(end) => prepared.topology.node(end).map(|n| n.0),
            Place::Structure => prepared.grounds.first().copied(),
            Place::Along(..) => None,
        }
    };
    let mut stars = Vec::new();
    for &(a, b, Ohm(ohms)) in &scenario.shorts {
        let (along, other) = match (a, b) {
            (Place::Along(element, at), other) | (other, Place::Along(element, at)) => (Some((element, at)), other),
            _ => (None, b),
        };
        let star = match along {
            None => node(a).zip(node(b)).map(|(a, b)| (None, vec![(a, 2.0 / ohms), (b, 2.0 / ohms)])),
            Some((element, at)) => prepared.topology.branch_of(element).zip(node(other)).and_then(|(row, other)| {
                let (Ohm(whole), _) = element_ohms(prepared.design, &prepared.layout, scenario, element)?;
                let branch = prepared.topology.branches[row];
                let at = at.clamp(1e-6, 1.0 - 1e-6);
                let legs = vec![(branch.from.0, 1.0 / (whole * at)), (branch.to.0, 1.0 / (whole * (1.0 - at))), (other, 1.0 / ohms)];
                Some((Some(row), legs))
            }),
        };
        stars.extend(star);
    }
    stars
}

/// Current of each short circuit, in the order of the scenario; one of an end that nothing conducts to has none.
pub(crate) fn short_currents(prepared: &Prepared, scenario: &Scenario, point: &Point) -> Vec<f64> {
    let apart = |a: u32, b: u32| {
        let [a, b] = [a, b].map(|node| point.island_of[node as usize]);
        a.is_none() || a != b
    };
    let through = |(_, legs): (Option<usize>, Legs)| {
        let (other, g) = legs[legs.len() - 1];
        if legs.iter().all(|&(node, _)| node == other || apart(node, other)) {
            return 0.0;
        }
        // A leg that is cut off leads nowhere.
        let live: Vec<(u32, f64)> = legs.into_iter().filter(|&(node, _)| node == other || !apart(node, other)).collect();
        let sum: f64 = live.iter().map(|(_, g)| g).sum();
        let middle = live.iter().map(|&(node, g)| g * point.voltage[node as usize]).sum::<f64>() / sum;
        g * (middle - point.voltage[other as usize])
    };
    shorts_by_star(prepared, scenario).into_iter().map(through).collect()
}

/// The current that enters a shorted wire at its `from` end, which is what its row reports.
fn wire_currents_at_shorts(prepared: &Prepared, scenario: &Scenario, voltage: &[f64], current: &mut [f64]) {
    for (row, legs) in shorts_by_star(prepared, scenario) {
        if let Some(row) = row {
            let sum: f64 = legs.iter().map(|&(_, g)| g).sum();
            let middle = legs.iter().map(|&(n, g)| voltage[n as usize] * g).sum::<f64>() / sum;
            current[row] = legs[0].1 * (voltage[legs[0].0 as usize] - middle);
        }
    }
}
