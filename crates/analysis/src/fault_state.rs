//! What stands behind a device that opens on a fault: the feed whose energy it throws at its bus, and the loads that hang there.

use crate::Prepared;
use crate::law::Law;
use model::*;
use std::collections::VecDeque;

/// A device that opens on a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Wires from the source to the device, the way that brings most.
    pub feed: Vec<Id<Wire>>,
    /// Loads that are on and fed then, on what conducts together on its supply side, diodes forward.
    pub on_bus: Vec<Id<Load>>,
}

impl Prepared<'_> {
    /// What stands behind a device while a fault burns, and on its bus once it has been cleared.
    ///
    /// Cost: linear in the branches of the bus and of the way to the source.
    pub fn opening(&self, burning: &Point, cleared: &Point, device: Id<Protector>) -> Option<Opening> {
        let row = self.branch_of(ElementId::Protector(device))?;
        let branch = self.branches()[row];
        let supply = if burning.current[row] >= 0.0 { branch.from } else { branch.to };
        Some(Opening { feed: feed(self, burning, supply), on_bus: on_bus(self, cleared, supply) })
    }
}

/// What only passes current on.
fn passes(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Joint(..) | Contact(_) | Link(_) | FittedLink(_) | Switch(_) | Protector(_) | Diode(_))
}

/// Wires on the way back from a node to a source, by what brings most at each step.
fn feed(prepared: &Prepared, point: &Point, from: NodeId) -> Vec<Id<Wire>> {
    let mut seen = vec![false; prepared.nodes()];
    let (mut node, mut wires) = (from, Vec::new());
    while !std::mem::replace(&mut seen[node.row()], true) {
        let brings = |&row: &u32| {
            let (row, branch) = (row as usize, &prepared.branches()[row as usize]);
            let into = if branch.to == node { point.current[row] } else { -point.current[row] };
            let before = if branch.to == node { branch.from } else { branch.to };
            (passes(branch.element) && into > 0.0 && !seen[before.row()]).then_some((into, branch.element, before))
        };
        let most = prepared.meeting(node).iter().filter_map(brings).reduce(|a, b| if b.0 > a.0 { b } else { a });
        let source = prepared.meeting(node).iter().any(|row| matches!(prepared.branches()[*row as usize].element, ElementId::Source(_)));
        let Some((_, element, before)) = most.filter(|_| !source) else { break };
        if let ElementId::Wire(wire) = element {
            wires.push(wire);
        }
        node = before;
    }
    wires
}

/// Loads that are on and fed, on what conducts together with a node.
fn on_bus(prepared: &Prepared, point: &Point, from: NodeId) -> Vec<Id<Load>> {
    let laws = prepared.laws(&point.scenario);
    let mut seen = vec![false; prepared.nodes()];
    seen[from.row()] = true;
    let (mut next, mut loads) = (VecDeque::from([from]), Vec::new());
    while let Some(node) = next.pop_front() {
        for &row in prepared.meeting(node) {
            let branch = &prepared.branches()[row as usize];
            let beyond = if branch.from == node { branch.to } else { branch.from };
            match branch.element {
                ElementId::Load(id) if branch.from == node && point.load_state[id] == LoadState::On && point.load_fed[id] => loads.push(id),
                ElementId::Diode(_) if branch.from != node => {}
                element if passes(element) && laws[row as usize] != Law::Open && !std::mem::replace(&mut seen[beyond.row()], true) => {
                    next.push_back(beyond);
                }
                _ => {}
            }
        }
    }
    loads.sort_unstable();
    loads
}
