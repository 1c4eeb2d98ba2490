//! Bridges: branches whose loss cuts a part off, and what lies in that part.
//!
//! # Source  R. E. Tarjan, A note on finding the bridges of a graph, Information Processing Letters 2 (1974) 160–161
//! [from memory].

const NONE: u32 = u32::MAX;

/// A walk through the conducting branches of one state, depth first. The part beyond a bridge is a run of the walk.
#[derive(Clone, Debug)]
pub(crate) struct Bridges {
    /// When the walk came to each node. `[n_nodes]`
    pub(crate) came: Vec<u32>,
    /// One after the last node that the walk came to from this one. `[n_nodes]`
    left: Vec<u32>,
    /// Of each branch: the node beyond it if it is a bridge. `[n_branches]`
    beyond: Vec<u32>,
    /// When each of its trees begins.
    trees: Vec<u32>,
}

impl Bridges {
    /// Walks from the `roots` first, then from every node left. `meeting` gives the rows of the branches at a node.
    ///
    /// Cost: linear in nodes and branches.
    pub(crate) fn new<'t>(
        (from, to): (&[u32], &[u32]),
        nodes: usize,
        conducts: &dyn Fn(usize) -> bool,
        meeting: &dyn Fn(u32) -> &'t [u32],
        roots: impl Iterator<Item = u32>,
    ) -> Bridges {
        let mut came = vec![NONE; nodes];
        let mut left = vec![0; nodes];
        let mut low = vec![NONE; nodes];
        let mut beyond = vec![NONE; from.len()];
        let (mut time, mut trees) = (0, Vec::new());
        // Node, the branch it was reached by, the next of its branches to look at.
        let mut way: Vec<(u32, u32, usize)> = Vec::new();
        for root in roots.chain(0..nodes as u32) {
            if came[root as usize] != NONE {
                continue;
            }
            let enter = |node: u32, by: u32, time: &mut u32, way: &mut Vec<_>, came: &mut [u32], low: &mut [u32]| {
                came[node as usize] = *time;
                low[node as usize] = *time;
                *time += 1;
                way.push((node, by, 0));
            };
            trees.push(time);
            enter(root, NONE, &mut time, &mut way, &mut came, &mut low);
            while let Some(top) = way.last_mut() {
                let (node, by) = (top.0, top.1);
                if let Some(&row) = meeting(node).get(top.2) {
                    top.2 += 1;
                    if row == by || !conducts(row as usize) {
                        continue;
                    }
                    let other = if from[row as usize] == node { to[row as usize] } else { from[row as usize] };
                    if came[other as usize] == NONE {
                        enter(other, row, &mut time, &mut way, &mut came, &mut low);
                    } else {
                        low[node as usize] = low[node as usize].min(came[other as usize]);
                    }
                } else {
                    left[node as usize] = time;
                    way.pop();
                    if let Some(&(above, _, _)) = way.last() {
                        if low[node as usize] > came[above as usize] {
                            beyond[by as usize] = node;
                        }
                        low[above as usize] = low[above as usize].min(low[node as usize]);
                    }
                }
            }
        }
        Bridges { came, left, beyond, trees }
    }

    /// The run of the tree that holds a time.
    pub(crate) fn tree_of(&self, time: u32) -> (u32, u32) {
        let next = self.trees.partition_point(|&start| start <= time);
        (self.trees[next - 1], self.trees.get(next).copied().unwrap_or(self.came.len() as u32))
    }

    /// If a branch is a bridge: the run of the walk beyond it, as first and one after last.
    pub(crate) fn run_beyond(&self, row: usize) -> Option<(u32, u32)> {
        let node = self.beyond[row];
        (node != NONE).then(|| (self.came[node as usize], self.left[node as usize]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A triangle 0-1-2 with a tail 2-3-4, a double branch 4-5 and a lone node 6: the bridges are the two of the tail.
    #[test]
    fn the_tail_of_a_triangle_is_bridges_and_a_double_branch_is_none() {
        let (from, to) = ([0u32, 1, 2, 2, 3, 4, 5], [1u32, 2, 0, 3, 4, 5, 4]);
        let meets: Vec<Vec<u32>> =
            (0..7u32).map(|node| (0..7u32).filter(|&row| from[row as usize] == node || to[row as usize] == node).collect()).collect();
        let walk = Bridges::new((&from, &to), 7, &|_| true, &|node| &meets[node as usize], [0].into_iter());
        let found: Vec<usize> = (0..7).filter(|&row| walk.run_beyond(row).is_some()).collect();
        assert_eq!(found, [3, 4]);
        let (first, last) = walk.run_beyond(3).expect("a bridge");
        let mut beyond: Vec<usize> = (0..7).filter(|&node| (first..last).contains(&walk.came[node])).collect();
        beyond.sort_unstable();
        assert_eq!(beyond, [3, 4, 5]);
    }
}
