//! Blocks: parts of the network that meet each other in single nodes. What changes in one moves no voltage across a branch of another: a
//! current that enters a part at one node has nowhere to come back.
//!
//! All branches count, whatever they do in a state, so that blocks hold for every state. A converter joins the blocks of its input and its output.
//! A short joins all blocks on the way between its two nodes, as it closes a loop through them.
//!
//! # Source  J. Hopcroft and R. Tarjan, Algorithm 447: efficient algorithms for graph manipulation, CACM 16 (1973) 372–378 [from memory].

use crate::{Prepared, Sets};
use model::*;

const NONE: u32 = u32::MAX;

/// A walk through a graph, depth first, with the block of each step.
pub(crate) struct Walk {
    /// Nodes as the walk came to them.
    pub(crate) order: Vec<u32>,
    /// Of each node the one above it.
    pub(crate) above: Vec<u32>,
    depth: Vec<u32>,
    /// Of each node the block of the branch that leads up from it; of a root one of its own.
    pub(crate) up: Vec<u32>,
    pub(crate) count: usize,
}

impl Walk {
    /// `ends`: of a row; `meeting`: rows at a node; `conducts`: which of them count.
    ///
    /// Cost: linear in nodes and branches.
    pub(crate) fn new<'t>(
        nodes: usize,
        ends: &dyn Fn(u32) -> [u32; 2],
        meeting: &dyn Fn(u32) -> &'t [u32],
        conducts: &dyn Fn(u32) -> bool,
    ) -> Walk {
        let (mut came, mut low) = (vec![NONE; nodes], vec![NONE; nodes]);
        let (mut above, mut depth, mut up) = (vec![NONE; nodes], vec![0u32; nodes], vec![NONE; nodes]);
        let (mut order, mut count) = (Vec::with_capacity(nodes), 0u32);
        // Nodes whose block is not closed yet.
        let mut open: Vec<u32> = Vec::new();
        for root in 0..nodes as u32 {
            if came[root as usize] != NONE {
                continue;
            }
            up[root as usize] = count;
            count += 1;
            (came[root as usize], low[root as usize]) = (order.len() as u32, order.len() as u32);
            order.push(root);
            // Node, the branch it was reached by, the next of its branches to look at.
            let mut way: Vec<(u32, u32, usize)> = vec![(root, NONE, 0)];
            while let Some(top) = way.last_mut() {
                let (node, by) = (top.0, top.1);
                if let Some(&row) = meeting(node).get(top.2) {
                    top.2 += 1;
                    let [from, to] = ends(row);
                    let other = if from == node { to } else { from };
                    if row == by || other == node || !conducts(row) {
                        continue;
                    }
                    if came[other as usize] == NONE {
                        (came[other as usize], low[other as usize]) = (order.len() as u32, order.len() as u32);
                        order.push(other);
                        above[other as usize] = node;
                        depth[other as usize] = depth[node as usize] + 1;
                        open.push(other);
                        way.push((other, row, 0));
                    } else {
                        low[node as usize] = low[node as usize].min(came[other as usize]);
                    }
                } else {
                    way.pop();
                    let Some(&(over, _, _)) = way.last() else { continue };
                    low[over as usize] = low[over as usize].min(low[node as usize]);
                    if low[node as usize] >= came[over as usize] {
                        // All that is open down to this node is one block with the node above it.
                        while let Some(closed) = open.pop() {
                            up[closed as usize] = count;
                            if closed == node {
                                break;
                            }
                        }
                        count += 1;
                    }
                }
            }
        }
        Walk { order, above, depth, up, count: count as usize }
    }

    /// The block of a branch that counts: the deeper of its ends has it above it.
    pub(crate) fn of_ends(&self, [a, b]: [u32; 2]) -> u32 {
        self.up[if self.depth[a as usize] > self.depth[b as usize] { a } else { b } as usize]
    }
}

/// The blocks of a design.
pub struct Blocks {
    walk: Walk,
    /// Of each branch its block.
    of_row: Vec<u32>,
}

impl Blocks {
    /// Cost: linear in nodes and branches.
    pub fn new(prepared: &Prepared) -> Blocks {
        let ends = |row: u32| [prepared.branches()[row as usize].from.0, prepared.branches()[row as usize].to.0];
        let mut walk = Walk::new(prepared.nodes(), &ends, &|node| prepared.meeting(NodeId(node)), &|_| true);
        let of_row: Vec<u32> = (0..prepared.branches().len() as u32).map(|row| walk.of_ends(ends(row))).collect();
        let mut sets = Sets::new(walk.count);
        for id in prepared.design().converters.ids() {
            if let Some(row) = prepared.branch_of(ElementId::Converter(id)) {
                sets.unite(of_row[row] as usize, of_row[row + 1] as usize);
            }
        }
        let stands_for = sets.finish();
        let found = |block: u32| stands_for[block as usize];
        walk.up.iter_mut().for_each(|block| *block = found(*block));
        Blocks { of_row: of_row.into_iter().map(found).collect(), walk }
    }

    /// How many numbers blocks have.
    pub fn count(&self) -> usize {
        self.walk.count
    }

    /// The block of a branch.
    pub fn of_row(&self, row: usize) -> usize {
        self.of_row[row] as usize
    }

    /// The blocks that a branch between two nodes joins.
    pub fn joined(&self, a: NodeId, b: NodeId) -> Vec<usize> {
        let (mut a, mut b) = (a.0, b.0);
        let mut found = Vec::new();
        while a != b && (a != NONE || b != NONE) {
            // The deeper one steps up; at a root it steps out of its part.
            let deeper = |a: u32, b: u32| b == NONE || a != NONE && self.walk.depth[a as usize] >= self.walk.depth[b as usize];
            let step = if deeper(a, b) { &mut a } else { &mut b };
            found.push(self.walk.up[*step as usize] as usize);
            *step = self.walk.above[*step as usize];
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::prepare;

    /// A loop of a battery and a load, another loop that meets it in one node, and a third with a part of its own. By hand: three blocks; a short from
    /// the first to the second joins both, and one to the third all that lies between.
    #[test]
    fn loops_that_meet_in_a_node_are_blocks_of_their_own() {
        let text = "format = 1\nname = \"loops\"\n[node.A]\n[node.B]\n[node.C]\n[node.D]\n[node.E]\n[ground.G]\nreference = true\n\
            [strap.Z]\nfrom = \"node:B\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
            [battery.P]\npositive = \"node:A\"\nnegative = \"node:B\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
            [load.X]\nline = \"node:A\"\nreturn = \"node:B\"\nresistance = \"28 ohm\"\n\
            [battery.Q]\npositive = \"node:C\"\nnegative = \"node:B\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
            [load.Y]\nline = \"node:C\"\nreturn = \"node:B\"\nresistance = \"28 ohm\"\n\
            [battery.R]\npositive = \"node:D\"\nnegative = \"node:E\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
            [load.W]\nline = \"node:D\"\nreturn = \"node:E\"\nresistance = \"28 ohm\"\n";
        let loaded = input::load(&[("vehicle.toml".to_owned(), text.as_bytes().to_vec())]);
        let design = loaded.design.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics));
        let prepared = prepare(&design);
        let blocks = Blocks::new(&prepared);
        let of = |name: &str| {
            let (id, _) = design.loads.iter().find(|(_, row)| &*row.name == name).expect("it is there");
            blocks.of_row(prepared.branch_of(ElementId::Load(id)).expect("a load is a branch"))
        };
        let node = |name: &str| {
            let (id, _) = design.inner_nodes.iter().find(|(_, row)| &*row.name == name).expect("it is there");
            prepared.node(End::Inner(id)).expect("it conducts")
        };
        let [x, y, w] = ["X", "Y", "W"].map(of);
        assert!(x != y && y != w && x != w, "{x} {y} {w}");
        let holds = |a: &str, b: &str| [x, y, w].map(|block| blocks.joined(node(a), node(b)).contains(&block));
        assert_eq!(holds("A", "C"), [true, true, false]);
        assert_eq!(holds("A", "B"), [true, false, false]);
        assert!(blocks.joined(node("A"), node("A")).is_empty());
        // Between two parts that nothing joins a second short may close a loop with the first, wherever they are.
        let [first, second] = [("A", "D"), ("C", "E")].map(|(a, b)| blocks.joined(node(a), node(b)));
        assert!(first.iter().any(|block| second.contains(block)), "{first:?} {second:?}");
    }
}
