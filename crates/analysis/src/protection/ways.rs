//! Ways of a fault's current in one state, and the devices that may carry it.

use crate::Prepared;
use crate::bridges::Bridges;
use crate::law::Law;
use model::*;

/// Ways of a fault's current: what hangs on one branch alone is fed through it. Loads are no way, a diode that blocks may become one.
pub(super) struct Ways {
    walk: Bridges,
    /// Devices that are no bridge: any fault may draw on them.
    core: Vec<Id<Protector>>,
    /// Devices that are a bridge by the run of the walk beyond them, as it begins, and for each the one that it lies beyond.
    feeders: Vec<((u32, u32), Id<Protector>)>,
    within: Vec<Option<usize>>,
}

impl Ways {
    /// Cost: linear in nodes and branches, beside the sorting of the devices.
    pub(super) fn new(prepared: &Prepared, point: &Point) -> Ways {
        let laws = prepared.laws(&point.scenario);
        let network = &prepared.network;
        let conducts = |row: usize| {
            let way = match prepared.branches()[row].element {
                ElementId::Load(_) | ElementId::Converter(_) | ElementId::Receiver(_) | ElementId::Sensor(_) => false,
                _ => matches!(laws[row], Law::Conductance { .. } | Law::Emf { .. } | Law::Diode { .. }),
            };
            way && network.from[row] != network.to[row]
        };
        let meeting = |node: u32| prepared.topology.meeting(NodeId(node));
        // From the sources on, so that what lies beyond a device is what it feeds.
        let roots = prepared.design.batteries.iter().filter_map(|(_, source)| prepared.node(source.positive.value)).map(|node| node.0);
        let walk = Bridges::new((&network.from, &network.to), network.nodes, &conducts, &meeting, roots);
        let (mut core, mut feeders) = (Vec::new(), Vec::new());
        for id in prepared.design.protectors.ids() {
            let Some(row) = prepared.branch_of(ElementId::Protector(id)).filter(|&row| conducts(row)) else { continue };
            match walk.run_beyond(row) {
                Some(run) => feeders.push((run, id)),
                None => core.push(id),
            }
        }
        // Runs lie within each other or apart.
        feeders.sort_unstable_by_key(|&((first, last), id)| (first, std::cmp::Reverse(last), id));
        let mut within = Vec::with_capacity(feeders.len());
        let mut open: Vec<usize> = Vec::new();
        for (at, &((first, _), _)) in feeders.iter().enumerate() {
            while open.last().is_some_and(|&outer: &usize| feeders[outer].0.1 <= first) {
                open.pop();
            }
            within.push(open.last().copied());
            open.push(at);
        }
        Ways { walk, core, feeders, within }
    }

    /// Whether a branch is the only way between two parts.
    pub(super) fn is_bridge(&self, row: usize) -> bool {
        self.walk.run_beyond(row).is_some()
    }

    /// Devices that are no bridge.
    pub(super) fn core(&self) -> &[Id<Protector>] {
        &self.core
    }

    /// Devices that feed one of some nodes and are a bridge, in order.
    pub(super) fn feeding(&self, nodes: &[NodeId]) -> Vec<Id<Protector>> {
        let mut found = Vec::new();
        for node in nodes {
            let came = self.walk.came[node.row()];
            let mut at = self.feeders.partition_point(|&((first, _), _)| first <= came).checked_sub(1);
            while let Some(k) = at {
                let ((_, last), device) = self.feeders[k];
                if came < last {
                    found.push(device);
                }
                at = self.within[k];
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Devices that a fault may draw on, in order: those of the core, and those that feed one of its nodes.
    pub(super) fn with_core(&self, feeding: Vec<Id<Protector>>) -> impl Iterator<Item = Id<Protector>> + '_ {
        let (mut core, mut feeding) = (self.core.iter().copied().peekable(), feeding.into_iter().peekable());
        std::iter::from_fn(move || match (core.peek(), feeding.peek()) {
            (Some(one), Some(other)) if other < one => feeding.next(),
            (None, _) => feeding.next(),
            _ => core.next(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: a run 2..9 holds 3..6, which holds 4..5, and 7..9; 12..14 stands apart. A node at 4 lies beyond three, one at 6 beyond the outermost alone.
    #[test]
    fn a_node_lies_beyond_the_devices_that_feed_it() {
        let id = Id::<Protector>::from_row;
        let feeders: Vec<((u32, u32), Id<Protector>)> =
            [(2, 9), (3, 6), (4, 5), (7, 9), (12, 14)].into_iter().enumerate().map(|(at, run)| (run, id(at))).collect();
        let nodes = 16;
        let walk = Bridges::new((&[], &[]), nodes, &|_| false, &|_| &[], std::iter::empty());
        let ways = Ways { walk, core: vec![id(7)], feeders, within: vec![None, Some(0), Some(1), Some(0), None] };
        let of = |node: u32| ways.with_core(ways.feeding(&[NodeId(node)])).map(|id| id.row()).collect::<Vec<_>>();
        assert_eq!((of(4), of(6), of(8), of(13), of(10)), (vec![0, 1, 2, 7], vec![0, 7], vec![0, 3, 7], vec![4, 7], vec![7]));
    }
}
