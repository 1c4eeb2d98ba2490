//! What hangs together in the harness alone: every connector parted, every lug of a unit lifted, nothing of a unit connected.
//!
//! What ends on ground points is one net for each set of wires that hang together, though structure joins them. Cost: near linear in wires; a net with
//! loops that are not plain parallel wires is solved dense, up to `DENSE` ends.

use crate::Prepared;
use model::*;
use std::collections::{BTreeMap, HashMap};

/// Ends up to which a net with loops is solved.
const DENSE: usize = 300;

/// Ends of wires that conduct to each other when everything is parted.
#[derive(Clone, Debug)]
pub struct HarnessNet {
    /// The ends, in the order in which the wire list names them; the first is no splice where any other is none.
    pub ends: Vec<End>,
    /// Its wires, in the order of the list.
    pub wires: Vec<Id<Wire>>,
    /// Whether it ends on a ground point.
    pub grounded: bool,
}

/// All of them, in the order of their first wire.
#[derive(Clone, Debug)]
pub struct HarnessNets {
    /// The nets.
    pub nets: Vec<HarnessNet>,
    of: HashMap<End, usize>,
}

impl HarnessNets {
    /// The net of an end that a wire lands on.
    pub fn of(&self, end: End) -> Option<usize> {
        self.of.get(&end).copied()
    }
}

impl Prepared<'_> {
    /// The nets of the harness alone.
    pub fn harness_nets(&self) -> HarnessNets {
        let design = self.design;
        let mut number: HashMap<End, usize> = HashMap::new();
        let mut ends: Vec<End> = Vec::new();
        let mut pairs = Vec::new();
        for (id, wire) in design.wires.iter() {
            let both = [wire.from.value, wire.to.value];
            if both.contains(&End::Stowed) {
                continue;
            }
            let rows = both.map(|end| {
                *number.entry(end).or_insert_with(|| {
                    ends.push(end);
                    ends.len() - 1
                })
            });
            pairs.push((id, rows));
        }
        let mut sets = crate::Sets::new(ends.len());
        for (_, [a, b]) in &pairs {
            sets.unite(*a, *b);
        }
        let mut net_of: BTreeMap<usize, usize> = BTreeMap::new();
        let mut nets: Vec<HarnessNet> = Vec::new();
        for (id, [a, _]) in pairs {
            let at = *net_of.entry(sets.find(a)).or_insert_with(|| {
                nets.push(HarnessNet { ends: Vec::new(), wires: Vec::new(), grounded: false });
                nets.len() - 1
            });
            nets[at].wires.push(id);
        }
        let mut of = HashMap::new();
        for (row, end) in ends.into_iter().enumerate() {
            let at = net_of[&sets.find(row)];
            nets[at].ends.push(end);
            nets[at].grounded |= matches!(end, End::Ground(_));
            of.insert(end, at);
        }
        for net in &mut nets {
            let first = net.ends.iter().position(|end| !matches!(end, End::Splice(_))).unwrap_or(0);
            net.ends.swap(0, first);
        }
        HarnessNets { nets, of }
    }

    /// Resistance from the first end of a net to each of its others, given that of each wire with its joints: `None` where a wire's is not known or the
    /// net is too large to be solved.
    pub fn ohms_from_first(&self, net: &HarnessNet, of_wire: &dyn Fn(Id<Wire>) -> Option<f64>) -> Vec<Option<f64>> {
        let row: HashMap<End, usize> = net.ends.iter().enumerate().map(|(row, end)| (*end, row)).collect();
        let n = net.ends.len();
        // Parallel wires between two ends are one branch.
        let mut branches: BTreeMap<(usize, usize), Option<f64>> = BTreeMap::new();
        for &wire in &net.wires {
            let [a, b] = [self.design.wires[wire].from.value, self.design.wires[wire].to.value].map(|end| row[&end]);
            let siemens = of_wire(wire).map(|ohms| 1.0 / ohms);
            let slot = branches.entry((a.min(b), a.max(b))).or_insert(Some(0.0));
            *slot = slot.zip(siemens).map(|(sum, one)| sum + one);
        }
        branches.retain(|(a, b), _| a != b);
        match branches.len() {
            edges if edges < n => along_tree(n, &branches),
            _ if n <= DENSE => dense(n, &branches),
            _ => vec![None; n],
        }
    }
}

/// Sums along a tree from its first node; what is in another part has none.
fn along_tree(n: usize, branches: &BTreeMap<(usize, usize), Option<f64>>) -> Vec<Option<f64>> {
    let mut beside: Vec<Vec<(usize, Option<f64>)>> = vec![Vec::new(); n];
    for (&(a, b), &siemens) in branches {
        beside[a].push((b, siemens));
        beside[b].push((a, siemens));
    }
    let mut sums: Vec<Option<f64>> = vec![None; n];
    let mut seen = vec![false; n];
    let mut open = vec![0];
    (sums[0], seen[0]) = (Some(0.0), true);
    while let Some(at) = open.pop() {
        for &(next, siemens) in &beside[at] {
            if !std::mem::replace(&mut seen[next], true) {
                sums[next] = sums[at].zip(siemens).map(|(sum, siemens)| sum + 1.0 / siemens);
                open.push(next);
            }
        }
    }
    sums
}

/// Diagonal of the inverse of the nodal equations with the first node at zero, by Gauss and Jordan.
fn dense(n: usize, branches: &BTreeMap<(usize, usize), Option<f64>>) -> Vec<Option<f64>> {
    if branches.values().any(Option::is_none) {
        return vec![None; n];
    }
    let m = n - 1;
    let mut a = vec![vec![0.0; 2 * m]; m];
    for (row, line) in a.iter_mut().enumerate() {
        line[m + row] = 1.0;
    }
    for (&(p, q), siemens) in branches {
        let g = siemens.unwrap_or(0.0);
        for (i, j) in [(p, q), (q, p)] {
            if i > 0 {
                a[i - 1][i - 1] += g;
                if j > 0 {
                    a[i - 1][j - 1] -= g;
                }
            }
        }
    }
    for column in 0..m {
        let pivot = a[column][column];
        if pivot.abs() < 1e-12 {
            return vec![None; n];
        }
        a[column].iter_mut().for_each(|value| *value /= pivot);
        let line = a[column].clone();
        for (row, other) in a.iter_mut().enumerate() {
            let factor = other[column];
            if row != column && factor != 0.0 {
                other.iter_mut().zip(&line).for_each(|(value, of)| *value -= factor * of);
            }
        }
    }
    std::iter::once(Some(0.0)).chain((0..m).map(|row| Some(a[row][m + row]))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of four resistors of 1 ohm: 3/4 ohm to a neighbour, 1 ohm across. Worked by hand.
    #[test]
    fn a_ring_is_solved() {
        let ring = BTreeMap::from([((0, 1), Some(1.0)), ((1, 2), Some(1.0)), ((2, 3), Some(1.0)), ((0, 3), Some(1.0))]);
        let found: Vec<f64> = dense(4, &ring).into_iter().map(|ohms| ohms.expect("solved")).collect();
        for (found, expected) in found.iter().zip([0.0, 0.75, 1.0, 0.75]) {
            assert!((found - expected).abs() < 1e-12, "{found} of {expected}");
        }
    }

    /// 0.1 ohm to the middle, 0.2 and 0.3 on from there; a branch that is not known takes what lies beyond it along.
    #[test]
    fn a_tree_is_summed() {
        let tree = BTreeMap::from([((0, 1), Some(10.0)), ((1, 2), Some(5.0)), ((1, 3), None), ((3, 4), Some(1.0))]);
        let found = along_tree(5, &tree);
        assert!((found[2].expect("known") - 0.3).abs() < 1e-12);
        assert_eq!((found[3], found[4]), (None, None));
    }
}
