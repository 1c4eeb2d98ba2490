//! Ways of signals: over wires, contacts, links, plugs and closed devices from one end to another.

use analysis::{Law, Prepared};
use model::*;
use std::collections::{HashSet, VecDeque};

/// A way with the fewest elements.
pub(crate) struct Way {
    /// Rows of its branches.
    pub(crate) rows: Vec<usize>,
    /// Its nodes.
    pub(crate) nodes: HashSet<NodeId>,
}

fn passes(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Contact(_) | Link(_) | FittedLink(_) | Switch(_) | Protector(_))
}

/// The way between two ends in a state of which the laws are given; `None` where there is none.
///
/// Cost: linear in what conducts together with the first end.
pub(crate) fn find(prepared: &Prepared, laws: &[Law], ends: [End; 2]) -> Option<Way> {
    let [from, to] = [prepared.node(ends[0])?, prepared.node(ends[1])?];
    let mut came: Vec<Option<(NodeId, usize)>> = vec![None; prepared.nodes()];
    let (mut seen, mut next) = (HashSet::from([from]), VecDeque::from([from]));
    while let Some(node) = next.pop_front() {
        if node == to {
            let (mut rows, mut nodes, mut at) = (Vec::new(), HashSet::from([to]), to);
            while let Some((before, row)) = came[at.row()] {
                rows.push(row);
                nodes.insert(before);
                at = before;
            }
            return Some(Way { rows, nodes });
        }
        for &row in prepared.meeting(node) {
            let branch = &prepared.branches()[row as usize];
            let beyond = if branch.from == node { branch.to } else { branch.from };
            if passes(branch.element) && laws[row as usize] != Law::Open && seen.insert(beyond) {
                came[beyond.row()] = Some((node, row as usize));
                next.push_back(beyond);
            }
        }
    }
    None
}
