//! Bridges: branches whose loss cuts a part off, and what lies in that part; and sets of branches that cut together.
//!
//! Every branch that closes a loop gets bits by chance, and every branch of the walk those of all the loops that it lies on. A cut
//! crosses each loop an even number of times: the bits of its branches cancel, whatever they are.
//!
//! # Source  R. E. Tarjan, A note on finding the bridges of a graph, Information Processing Letters 2 (1974) 160–161; that cuts
//! and loops are orthogonal over the field of two elements: R. Diestel, Graph Theory, chapter 1.9 [both from memory].

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
    /// Bits of the loops that each branch lies on. `[n_branches]`
    loops: Vec<u64>,
    /// Of each branch: the node that the walk came to by it. `[n_branches]`
    reached: Vec<u32>,
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
        // Of each node: bits of the loops that leave what the walk came to through it.
        let mut leaving = vec![0u64; nodes];
        let mut loops = vec![0u64; from.len()];
        let mut reached = vec![NONE; from.len()];
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
                        reached[row as usize] = other;
                        enter(other, row, &mut time, &mut way, &mut came, &mut low);
                    } else if other != node {
                        low[node as usize] = low[node as usize].min(came[other as usize]);
                        loops[row as usize] = scatter(row);
                        leaving[node as usize] ^= loops[row as usize];
                    }
                } else {
                    left[node as usize] = time;
                    way.pop();
                    if let Some(&(above, _, _)) = way.last() {
                        if low[node as usize] > came[above as usize] {
                            beyond[by as usize] = node;
                        }
                        low[above as usize] = low[above as usize].min(low[node as usize]);
                        loops[by as usize] = leaving[node as usize];
                        leaving[above as usize] ^= leaving[node as usize];
                    }
                }
            }
        }
        Bridges { came, left, beyond, trees, loops, reached }
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

    /// Branches that cut only together with another: equal numbers for those of which any two do. `None` for a bridge and for what the walk left out. That two
    /// numbers are equal by chance is as likely as bits of a memory turning.
    pub(crate) fn loops(&self, row: usize) -> Option<u64> {
        Some(self.loops[row]).filter(|&bits| bits != 0)
    }

    /// What lies between two branches that cut together: a run of the walk, less the second, which is part of it or empty.
    pub(crate) fn between(&self, one: usize, other: usize) -> [(u32, u32); 2] {
        let run = |row: usize| match self.reached[row] {
            NONE => None,
            node => Some((self.came[node as usize], self.left[node as usize])),
        };
        match (run(one), run(other)) {
            (Some(one), Some(other)) if one.0 < other.0 => [one, other],
            (Some(one), Some(other)) => [other, one],
            (one, other) => {
                // A branch that the walk did not come by closes the loop: all beyond the other lies between.
                let run = one.or(other).unwrap_or((0, 0));
                [run, (run.0, run.0)]
            }
        }
    }

    /// Whether no cut lies in some branches, with branches more between nodes. That bits cancel by chance is possible: false then.
    ///
    /// Cost: the square of their number, and their number times that of the branches more.
    pub(crate) fn cut_nothing(&self, rows: &[usize], more: &[(u32, u32)]) -> bool {
        // What is left of the bits of each, in the order of their highest.
        let mut left = [0u64; u64::BITS as usize];
        rows.iter().all(|&row| {
            let mut bits = self.loops[row];
            if let Some(node) = Some(self.reached[row]).filter(|&node| node != NONE) {
                let run = self.came[node as usize]..self.left[node as usize];
                let inside = |node: u32| run.contains(&self.came[node as usize]);
                let closed = more.iter().zip(self.loops.len() as u32..).filter(|&(&(a, b), _)| inside(a) != inside(b));
                bits = closed.fold(bits, |bits, (_, at)| bits ^ scatter(at));
            }
            while bits != 0 {
                let known = &mut left[bits.ilog2() as usize];
                if *known == 0 {
                    *known = bits;
                    return true;
                }
                bits ^= *known;
            }
            false
        })
    }
}

/// Bits that look like chance and are the same each time: the finaliser of the generator splitmix64.
///
/// # Source  G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 [from memory].
fn scatter(row: u32) -> u64 {
    let mut bits = (u64::from(row) + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^ (bits >> 31)
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

    /// A square 0-1-2-3 with a double side 0-1, a loop at one node and a tail 3-4. By hand: two of its plain sides cut it, the double side needs
    /// both of its branches and one more, the tail cuts alone.
    #[test]
    fn two_sides_of_a_square_cut_it_and_one_of_a_double_side_does_not_count() {
        let (from, to) = ([0u32, 0, 1, 2, 3, 2, 3], [1u32, 1, 2, 3, 0, 2, 4]);
        let meets: Vec<Vec<u32>> =
            (0..5u32).map(|node| (0..7u32).filter(|&row| from[row as usize] == node || to[row as usize] == node).collect()).collect();
        let walk = Bridges::new((&from, &to), 5, &|_| true, &|node| &meets[node as usize], [0].into_iter());
        assert!(walk.cut_nothing(&[2, 3], &[(2, 0)]), "a diagonal holds the corner");
        assert!(!walk.cut_nothing(&[2, 3], &[(3, 0)]), "beside a side that is there it holds nothing");
        assert!(walk.cut_nothing(&[6], &[(4, 1)]));
        // Side 0-3 closes the loop: between it and side 1-2 lie what the walk came to beyond that.
        let nodes = |[run, less]: [(u32, u32); 2]| -> Vec<usize> {
            let inside = |node: &usize| (run.0..run.1).contains(&walk.came[*node]) && !(less.0..less.1).contains(&walk.came[*node]);
            (0..5).filter(inside).collect()
        };
        assert_eq!([0, 1, 5, 6].map(|row| walk.loops(row).is_some()), [true, true, false, false]);
        assert!(walk.loops(2) == walk.loops(3) && walk.loops(3) == walk.loops(4) && walk.loops(2) != walk.loops(0));
        assert_eq!(nodes(walk.between(2, 3)), [2]);
        assert_eq!(nodes(walk.between(4, 2)), [2, 3, 4]);
        assert_eq!(nodes(walk.between(3, 4)), [3, 4]);
        for (rows, whole) in [
            (&[2][..], true),
            (&[0, 1], true),
            (&[0, 2], true),
            (&[2, 3], false),
            (&[2, 4], false),
            (&[0, 3, 1], false),
            (&[0, 3], true),
            (&[6], false),
            (&[5, 0], false),
        ] {
            assert_eq!(walk.cut_nothing(rows, &[]), whole, "{rows:?}");
        }
    }
}
