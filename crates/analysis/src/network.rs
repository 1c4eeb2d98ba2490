//! The numeric network: branches between nodes on a fixed matrix pattern.

use crate::ldlt::{Factor, Pattern};

/// Branches by node number, with the matrix slots that each one stamps.
#[derive(Clone, Debug)]
pub(crate) struct Network {
    pub(crate) nodes: usize,
    pub(crate) from: Vec<u32>,
    pub(crate) to: Vec<u32>,
    diagonal: Vec<u32>,
    /// Slots of a branch: the diagonals of its ends, and the off-diagonal; none for a branch from a node to itself.
    slots: Vec<Option<[u32; 3]>>,
    pub(crate) pattern: Pattern,
}

/// Matrix, factor and right-hand side of one solution, reused.
#[derive(Clone, Debug)]
pub(crate) struct Work {
    values: Vec<f64>,
    pub(crate) factor: Factor,
    pub(crate) factorisations: usize,
}

impl Network {
    /// Orders and analyses the branches `(from, to)` between `nodes` nodes.
    pub(crate) fn new(nodes: usize, branches: impl Iterator<Item = (u32, u32)> + Clone) -> Network {
        let pairs: Vec<(u32, u32)> = branches.clone().filter(|(a, b)| a != b).collect();
        let pattern = Pattern::new(nodes, &pairs);
        let mut slots = pattern.pair_slots(&pairs).into_iter();
        let diagonal = pattern.diagonal_slots();
        let (mut from, mut to, mut own) = (Vec::new(), Vec::new(), Vec::new());
        for (a, b) in branches {
            from.push(a);
            to.push(b);
            let across = (a != b).then(|| slots.next().expect("one slot per pair"));
            own.push(across.map(|across| [diagonal[a as usize], diagonal[b as usize], across]));
        }
        Network { nodes, from, to, diagonal, slots: own, pattern }
    }

    /// The same network with branches more. They are not in the pattern: it can be walked and not factored.
    pub(crate) fn extended(&self, more: &[(u32, u32, f64)]) -> Network {
        let mut network = self.clone();
        for &(a, b, _) in more {
            network.from.push(a);
            network.to.push(b);
            network.slots.push(None);
        }
        network
    }

    /// Room for a factor, made with the first: many a state is looked at without one.
    pub(crate) fn work(&self) -> Work {
        Work { values: Vec::new(), factor: Factor::default(), factorisations: 0 }
    }

    /// Factors Σ g over the branches, with 1 S from each reference node to zero.
    ///
    /// Nothing flows through that 1 S, since the currents of an island sum to zero: it only fixes the island's zero of voltage
    /// and keeps the matrix symmetric and positive definite.
    ///
    /// # Errors  The node of the first pivot that is not positive.
    pub(crate) fn factor(&self, conductance: &[f64], references: &[u32], work: &mut Work) -> Result<(), usize> {
        if work.factorisations == 0 {
            (work.values, work.factor) = (vec![0.0; self.pattern.slots()], self.pattern.factor());
        } else {
            work.values.fill(0.0);
        }
        for (&g, slots) in conductance.iter().zip(&self.slots) {
            if let (true, Some([from, to, across])) = (g != 0.0, slots) {
                work.values[*from as usize] += g;
                work.values[*to as usize] += g;
                work.values[*across as usize] -= g;
            }
        }
        for &node in references {
            work.values[self.diagonal[node as usize] as usize] += 1.0;
        }
        work.factorisations += 1;
        self.pattern.refactor(&work.values, &mut work.factor)
    }

    /// Branches with their ends.
    pub(crate) fn ends(&self) -> impl Iterator<Item = (usize, usize)> {
        self.from.iter().zip(&self.to).map(|(&from, &to)| (from as usize, to as usize))
    }

    /// Solves with the last factor, in place.
    pub(crate) fn solve(&self, work: &mut Work, rhs: &mut [f64]) {
        self.pattern.solve(&mut work.factor, rhs);
    }
}
