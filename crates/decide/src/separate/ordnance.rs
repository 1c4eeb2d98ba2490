//! Stray currents in initiators under every single fault, and what removes the inhibits before them.
//!
//! A fault that touches nothing between the inhibits that hold an initiator off, neither side of one nor the circuit within, moves what a bleeder lets
//! through and no more: of the catalogue only those that touch it are laid, each in every phase in which the initiator is off, in every corner.
//!
//! Cost: per initiator and phase a state near that of the phase for each fault that touches its circuit; of the hazard table as many walks over the network.

use analysis::{Law, Prepared, Watch};
use model::*;
use physics::Ampere;
use rayon::prelude::*;
use std::collections::{BTreeSet, VecDeque};

/// What stands between initiators and sources under single faults. `None` where the watch cancelled.
pub(super) fn ordnance(prepared: &Prepared, points: &[Point], table: &mut SeparationTable, watch: &dyn Watch) {
    let design = prepared.design();
    if design.initiators.is_empty() {
        return;
    }
    let catalogue = prepared.catalogue();
    for (id, initiator) in design.initiators.iter() {
        let load = initiator.load.value;
        let least = rules::stray_limit(design, initiator).unwrap_or(Ampere(0.05));
        let mut fewest: Option<(usize, Scenario, analysis::Inhibits)> = None;
        for point in points.iter().filter(|point| point.load_state[load] == LoadState::Off) {
            if watch.cancelled() {
                table.partial = true;
                return;
            }
            let touching: Vec<Fault> = {
                let zone = zone(prepared, &point.scenario, load, least);
                catalogue.faults.iter().filter(|fault| touches(prepared, point, fault, &zone)).copied().collect()
            };
            table.stray.push(stray(prepared, point, (id, load), &touching));
            // Which devices are open no corner changes.
            if point.scenario.corner == Corner::High
                && let Some(found) = prepared.inhibits(&point.scenario, load, least)
                && fewest.as_ref().is_none_or(|(count, ..)| found.count() < *count)
            {
                fewest = Some((found.count(), point.scenario.clone(), found));
            }
        }
        if let Some((_, scenario, found)) = fewest {
            let zone = beyond(prepared, &scenario, &found, load, least);
            let point = points.iter().find(|point| point.scenario == scenario);
            let touching = catalogue
                .faults
                .iter()
                .filter(|fault| point.is_some_and(|point| touches(prepared, point, fault, &zone)))
                .copied()
                .collect();
            table.hazards.push(hazard(prepared, (id, load), &scenario, &found, touching, least));
        }
    }
}

/// Nodes of an initiator's own circuit: as far as conductors lead that let more than a stray current through.
fn zone(prepared: &Prepared, scenario: &Scenario, load: Id<Load>, least: Ampere) -> BTreeSet<NodeId> {
    let Some(row) = prepared.branch_of(ElementId::Load(load)) else { return BTreeSet::new() };
    let branch = prepared.branches()[row];
    let laws = prepared.laws(scenario);
    let mut zone = flood(prepared, &laws, branch.from, least);
    zone.extend(flood(prepared, &laws, branch.to, least));
    zone
}

/// The same with what lies between the inhibits: up to the last one, and its far side.
fn beyond(prepared: &Prepared, scenario: &Scenario, found: &analysis::Inhibits, load: Id<Load>, least: Ampere) -> BTreeSet<NodeId> {
    let mut zone = zone(prepared, scenario, load, least);
    let laws = prepared.laws(scenario);
    let design = prepared.design();
    let terminals = design.batteries.iter().flat_map(|(_, source)| [source.positive.value, source.negative.value]);
    let terminals: BTreeSet<NodeId> = terminals.filter_map(|end| prepared.node(end)).collect();
    for element in found.feed.iter().chain(&found.back) {
        let Some(row) = prepared.branch_of(*element) else { continue };
        let branch = prepared.branches()[row];
        for node in [branch.from, branch.to] {
            let region = flood(prepared, &laws, node, least);
            // Beyond the last inhibit lies the rest of the vehicle.
            match region.is_disjoint(&terminals) {
                true => zone.extend(region),
                false => {
                    zone.insert(node);
                }
            }
        }
    }
    zone
}

/// Nodes to which conductors lead that let more than a stray current through at the greatest voltage of any source.
fn flood(prepared: &Prepared, laws: &[Law], from: NodeId, least: Ampere) -> BTreeSet<NodeId> {
    let (branches, design) = (prepared.branches(), prepared.design());
    let emfs = design.batteries.iter().filter_map(|(_, source)| source.emf.as_ref());
    let volts = emfs.map(|emf| emf.high.value.0).fold(0.0, f64::max);
    let mut seen: BTreeSet<NodeId> = [from].into();
    let mut next = VecDeque::from([from]);
    while let Some(node) = next.pop_front() {
        for &row in prepared.meeting(node) {
            let branch = branches[row as usize];
            let leads = matches!(laws[row as usize], Law::Conductance { g } if g * volts >= least.0);
            let is_conductor = !matches!(branch.element, ElementId::Load(_) | ElementId::Sensor(_) | ElementId::Receiver(_));
            if leads && is_conductor {
                let other = if branch.from == node { branch.to } else { branch.from };
                if seen.insert(other) {
                    next.push_back(other);
                }
            }
        }
    }
    seen
}

/// Whether a fault changes anything at a circuit.
fn touches(prepared: &Prepared, point: &Point, fault: &Fault, zone: &BTreeSet<NodeId>) -> bool {
    let branches = prepared.branches();
    let at = |element: ElementId| {
        prepared.branch_of(element).is_some_and(|row| zone.contains(&branches[row].from) || zone.contains(&branches[row].to))
    };
    let place = |place: Place| match place {
        Place::End(end) => prepared.node(end).is_some_and(|node| zone.contains(&node)),
        Place::Along(element, _) => at(element),
        Place::Structure => prepared.structure().is_some_and(|node| zone.contains(&node)),
    };
    match fault.change {
        FaultChange::Open(element) | FaultChange::Ohms(element, _) | FaultChange::Stuck(element, _) => at(element),
        FaultChange::Short(a, b) => place(a) || place(b),
        FaultChange::Bent(contact, _, to) => at(ElementId::Contact(contact)) || place(to),
        FaultChange::Grounded(segment) => prepared.layout().members(segment).iter().any(|&wire| at(ElementId::Wire(wire))),
        FaultChange::Lost(_) | FaultChange::Beside(..) => {
            let mut scenario = point.scenario.clone();
            prepared.lay(fault, &mut scenario);
            let (before, after) = (prepared.laws(&point.scenario), prepared.laws(&scenario));
            before
                .iter()
                .zip(&after)
                .zip(branches)
                .any(|((before, after), branch)| before != after && (zone.contains(&branch.from) || zone.contains(&branch.to)))
        }
    }
}

/// The greatest current in an initiator that is off, its bridge wire hanging where it hangs.
fn stray(prepared: &Prepared, point: &Point, (initiator, load): (Id<Initiator>, Id<Load>), faults: &[Fault]) -> Stray {
    let design = prepared.design();
    let mut scenario = point.scenario.clone();
    for (_, other) in design.initiators.iter().filter(|(_, other)| point.load_state[other.load.value] == LoadState::Off) {
        scenario.loads.push((other.load.value, LoadChange::On));
    }
    let near = prepared.near(point);
    let base = near.afresh(&scenario);
    let near = prepared.near(&base);
    let row = prepared.branch_of(ElementId::Load(load));
    let current = |point: &Point| row.map_or(0.0, |row| point.current[row].abs());
    let settled = |point: &Point| {
        let end = design.loads[load].line.value;
        let island = prepared.node(end).and_then(|node| point.island_of[node.row()]);
        island.is_none_or(|island| point.islands[island as usize].outcome.is_settled())
    };
    // What draws a fixed power has no state beside a dead short: its loads are resistances there.
    let held = prepared.with_loads_held(&base);
    let near_held = prepared.near(&held);
    let one = |fault: &Fault| {
        let mut scenario = base.scenario.clone();
        prepared.lay(fault, &mut scenario);
        let point = near.point(&scenario);
        if settled(&point) {
            return (true, current(&point));
        }
        let mut scenario = held.scenario.clone();
        prepared.lay(fault, &mut scenario);
        let point = near_held.point(&scenario);
        (settled(&point), current(&point))
    };
    let found: Vec<(bool, f64)> = faults.par_iter().map(one).collect();
    let without = current(&base);
    let mut worst = (without, None);
    for (fault, &(_, value)) in faults.iter().zip(&found).filter(|(_, (settled, _))| *settled) {
        if value > worst.0 * (1.0 + 1e-9) + 1e-12 {
            worst = (value, Some(*fault));
        }
    }
    Stray {
        initiator,
        phase: point.scenario.phase,
        corner: point.scenario.corner,
        without,
        current: worst.0,
        fault: worst.1,
        states: faults.len() + 1,
        unsettled: found.iter().filter(|(settled, _)| !settled).count(),
    }
}

/// What removes each inhibit of the way that has the fewest.
fn hazard(
    prepared: &Prepared,
    (initiator, load): (Id<Initiator>, Id<Load>),
    scenario: &Scenario,
    found: &analysis::Inhibits,
    faults: Vec<Fault>,
    least: Ampere,
) -> Hazard {
    let own: Vec<ElementId> = found.feed.iter().chain(&found.back).copied().collect();
    let left = |fault: &Fault| {
        let mut scenario = scenario.clone();
        prepared.lay(fault, &mut scenario);
        if scenario.shorts.is_empty() { prepared.inhibits(&scenario, load, least) } else { bridged(prepared, &scenario, load, least) }
    };
    let after: Vec<Option<analysis::Inhibits>> = faults.par_iter().map(left).collect();
    let mut inhibits: Vec<(ElementId, Vec<Fault>)> = own.iter().map(|&element| (element, Vec::new())).collect();
    let mut shared = Vec::new();
    for (fault, after) in faults.iter().zip(&after) {
        let Some(after) = after.as_ref().filter(|after| after.count() < own.len()) else { continue };
        let still: Vec<ElementId> = after.feed.iter().chain(&after.back).copied().collect();
        for (_, list) in inhibits.iter_mut().filter(|(element, _)| !still.contains(element)) {
            list.push(*fault);
        }
        if after.count() + 2 <= own.len() {
            shared.push((*fault, after.count()));
        }
    }
    // Contacts that one coil or driver moves fail together.
    let design = prepared.design();
    let drive = |element: ElementId| match element {
        ElementId::Switch(id) => design.switches[id].drive.as_ref().map(|given| given.value.clone()),
        _ => None,
    };
    let mut drives: Vec<(Name, Vec<ElementId>)> = Vec::new();
    for &element in &own {
        if let Some(name) = drive(element) {
            match drives.iter_mut().find(|(known, _)| *known == name) {
                Some((_, list)) => list.push(element),
                None => drives.push((name, vec![element])),
            }
        }
    }
    drives.retain(|(_, list)| list.len() > 1);
    Hazard { initiator, phase: scenario.phase, inhibits, shared, drives }
}

/// Inhibits where a short joins two places: no branch of the design is one, so a walk starts from both. Counted as the fewest of either side of the short.
fn bridged(prepared: &Prepared, scenario: &Scenario, load: Id<Load>, least: Ampere) -> Option<analysis::Inhibits> {
    prepared.inhibits_with(scenario, load, least, &joined(prepared, scenario))
}

/// Pairs of nodes that the shorts of a scenario join; a short along a wire joins both its ends.
fn joined(prepared: &Prepared, scenario: &Scenario) -> Vec<(NodeId, NodeId)> {
    let nodes = |place: Place| -> Vec<NodeId> {
        match place {
            Place::End(end) => prepared.node(end).into_iter().collect(),
            Place::Along(element, _) => {
                prepared.branch_of(element).map(|row| prepared.branches()[row]).map_or(Vec::new(), |branch| vec![branch.from, branch.to])
            }
            Place::Structure => prepared.structure().into_iter().collect(),
        }
    };
    let pair = |&(a, b, _): &(Place, Place, physics::Ohm)| -> Vec<(NodeId, NodeId)> {
        nodes(a).into_iter().flat_map(|a| nodes(b).into_iter().map(move |b| (a, b))).collect()
    };
    scenario.shorts.iter().flat_map(pair).collect()
}
