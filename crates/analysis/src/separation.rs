//! States in which some contacts of a plane have parted and others have not.
//!
//! A contact on no loop carries nothing in any of them: [`Prepared::on_loops`] finds the others. For many states the network is reduced to the few
//! nodes at which the ways through these contacts end ([`Reduced`]): a state is then a small dense solution. Loads are resistances there and diodes stand
//! as in the base state, as [`Prepared::with_loads_held`] gives it; who searches settles the worst states again with every law.
//!
//! Cost: a reduction is near linear in branches for networks that are nearly trees; a state costs the cube of the nodes left, a dozen mostly.

use crate::law::Law;
use crate::{Branch, Prepared, Sets};
use model::*;
use std::collections::{BTreeMap, BTreeSet};

const NONE: usize = usize::MAX;
/// Pivot over the greatest conductance below which a part hangs on nothing, and is pinned.
const HANGS: f64 = 1e-13;

/// A network as seen from the nodes at which ways through a plane end.
pub struct Reduced {
    hubs: usize,
    /// Without the elements of the plane, by row. `[hubs × hubs]` S
    matrix: Vec<f64>,
    /// Currents driven into the hubs. `[hubs]` A
    driven: Vec<f64>,
    /// Hubs that hang together without the plane.
    together: Sets,
    /// Each way through an element of the plane: its hubs and conductance, with all that is in line with it.
    ways: Vec<(usize, usize, f64)>,
    watched: Vec<[Seen; 2]>,
    /// Greatest sum of EMFs and forward voltages of what the elements can join, V: no two nodes stand farther apart.
    span: f64,
    /// The same of what can be joined to each element.
    own_span: Vec<f64>,
    /// Greatest conductance of a branch, S.
    stiffest: f64,
}

/// A node's voltage by those of the hubs.
#[derive(Clone, Debug)]
struct Seen {
    /// V per V.
    by: Vec<f64>,
    constant: f64,
    /// A hub of its part, `NONE` if there is none.
    hub: usize,
    /// Its part without the plane.
    part: usize,
}

/// One state of a [`Reduced`].
pub struct ReducedState {
    volts: Vec<f64>,
    part: Vec<usize>,
}

impl Prepared<'_> {
    /// Nodes that conduct together in a scenario without some branches, by number of the part.
    pub fn parts_without(&self, scenario: &Scenario, rows: &[usize]) -> Vec<usize> {
        let laws = self.laws(scenario);
        let mut sets = Sets::new(self.nodes());
        for (row, (branch, law)) in self.branches().iter().zip(&laws).enumerate() {
            if *law != Law::Open && !rows.contains(&row) {
                sets.unite(branch.from.row(), branch.to.row());
            }
        }
        (0..self.nodes()).map(|node| sets.find(node)).collect()
    }

    /// Which of some branches lie on a loop of the scenario: all others carry nothing, whichever of them conduct.
    ///
    /// Cost: the square of the branches asked for, once all others have been walked.
    pub fn on_loops(&self, scenario: &Scenario, rows: &[usize]) -> Vec<bool> {
        let part = self.parts_without(scenario, rows);
        let laws = self.laws(scenario);
        let ends = |row: usize| {
            let branch: Branch = self.branches()[row];
            (part[branch.from.row()], part[branch.to.row()])
        };
        let lies = |&row: &usize| {
            if laws[row] == Law::Open {
                return false;
            }
            let mut sets = Sets::new(self.nodes());
            for &other in rows.iter().filter(|&&other| other != row && laws[other] != Law::Open) {
                let (a, b) = ends(other);
                sets.unite(a, b);
            }
            let (a, b) = ends(row);
            sets.find(a) == sets.find(b)
        };
        rows.iter().map(lies).collect()
    }

    /// The network around some branches of a state with loads held. `watched`: pairs of nodes whose voltage is asked for.
    pub fn reduced(&self, held: &Point, rows: &[usize], watched: &[(NodeId, NodeId)]) -> Reduced {
        let laws = self.laws(&held.scenario);
        let linear = |row: usize| -> Option<(f64, f64, f64)> {
            // Conductance, EMF, current driven against the branch.
            match laws[row] {
                Law::Conductance { g } | Law::Resistance { g, .. } => Some((g, 0.0, 0.0)),
                Law::Emf { volts, g } | Law::ConverterOutput { volts, g } => Some((g, volts, 0.0)),
                Law::Diode { forward, g } => match self.branches()[row].element {
                    ElementId::Diode(id) if held.diode_on[id] => Some((g, forward, 0.0)),
                    _ => None,
                },
                Law::Injection { amperes } => Some((0.0, 0.0, amperes)),
                _ => None,
            }
        };
        let mut sets = Sets::new(self.nodes());
        let mut is_plane = vec![false; self.branches().len()];
        rows.iter().for_each(|&row| is_plane[row] = true);
        let mut stiffest = 0.0f64;
        let mut emfs: Vec<(usize, f64)> = Vec::new();
        let mut net = Net::new(self.nodes());
        for (row, branch) in self.branches().iter().enumerate().filter(|(row, _)| !is_plane[*row]) {
            let Some((g, emf, driven)) = linear(row) else { continue };
            let (a, b) = (branch.from.row(), branch.to.row());
            net.add(a, b, g);
            net.drive(a, b, g * emf + driven);
            if g > 0.0 {
                sets.unite(a, b);
            }
            emfs.push((a, emf.abs()));
            stiffest = stiffest.max(g);
        }
        let part: Vec<usize> = (0..self.nodes()).map(|node| sets.find(node)).collect();
        // What nothing joins to an element even with everything mated drives nothing through it.
        for &row in rows {
            let branch = self.branches()[row];
            sets.unite(branch.from.row(), branch.to.row());
        }
        let mut spans: BTreeMap<usize, f64> = BTreeMap::new();
        emfs.into_iter().for_each(|(node, emf)| *spans.entry(sets.find(node)).or_default() += emf);
        let span = spans.values().copied().fold(0.0, f64::max);
        let own_span = rows.iter().map(|&row| spans.get(&sets.find(self.branches()[row].from.row())).copied().unwrap_or(0.0)).collect();
        let keep: BTreeSet<usize> = watched.iter().flat_map(|&(a, b)| [a.row(), b.row()]).collect();
        // The way on from a node where nothing branches off.
        let follow = |mut node: usize, mut ohms: f64, taken: &mut BTreeSet<usize>| {
            let mut came = NONE;
            loop {
                let conducts = |&&row: &&u32| row as usize != came && (is_plane[row as usize] || linear(row as usize).is_some());
                let mut on = self.meeting(NodeId(node as u32)).iter().filter(conducts).filter(|&&row| !is_plane[row as usize]);
                let planes = self.meeting(NodeId(node as u32)).iter().filter(|&&row| is_plane[row as usize]).count();
                let (Some(&next), None) = (on.next(), on.next()) else { return (node, ohms) };
                // The first node has the plane's element itself on it.
                if keep.contains(&node) || planes > usize::from(came == NONE) {
                    return (node, ohms);
                }
                // Between two elements of the plane a conductor belongs to the way of the first.
                let Some((g, 0.0, 0.0)) = linear(next as usize).filter(|&(g, ..)| g > 0.0 && !taken.contains(&(next as usize))) else {
                    return (node, ohms);
                };
                let branch = self.branches()[next as usize];
                taken.insert(next as usize);
                ohms += 1.0 / g;
                came = next as usize;
                node = if branch.from.row() == node { branch.to.row() } else { branch.from.row() };
            }
        };
        let mut ends: Vec<(usize, usize, f64)> = Vec::new();
        let mut taken: BTreeSet<usize> = BTreeSet::new();
        for &row in rows {
            let branch = self.branches()[row];
            let ohms = linear(row).map_or(f64::INFINITY, |(g, ..)| 1.0 / g);
            stiffest = stiffest.max(1.0 / ohms);
            let (a, ohms) = follow(branch.from.row(), ohms, &mut taken);
            let (b, ohms) = follow(branch.to.row(), ohms, &mut taken);
            ends.push((a, b, 1.0 / ohms));
        }
        // What lies in line belongs to the way and not to the rest.
        for row in taken {
            let branch = self.branches()[row];
            let (g, ..) = linear(row).unwrap_or_default();
            net.add(branch.from.row(), branch.to.row(), -g);
            net.part(branch.from.row(), branch.to.row());
        }
        let hubs: BTreeSet<usize> = ends.iter().flat_map(|&(a, b, _)| [a, b]).collect();
        let hub_of: BTreeMap<usize, usize> = hubs.iter().enumerate().map(|(at, &node)| (node, at)).collect();
        let steps = net.eliminate(&hubs, HANGS * stiffest);
        let m = hubs.len();
        let mut matrix = vec![0.0; m * m];
        let mut together = Sets::new(m);
        for (&node, &i) in &hub_of {
            matrix[i * m + i] = net.diagonal[node];
            for (other, &g) in &net.row[node] {
                let j = hub_of[other];
                matrix[i * m + j] = g;
                together.unite(i, j);
            }
        }
        // Voltages by those of the hubs, from the last node eliminated to the first.
        let mut seen: BTreeMap<usize, Seen> = BTreeMap::new();
        for (&node, &i) in &hub_of {
            let mut by = vec![0.0; m];
            by[i] = 1.0;
            seen.insert(node, Seen { by, constant: 0.0, hub: i, part: part[node] });
        }
        for step in steps.iter().rev() {
            let mut own = Seen { by: vec![0.0; m], constant: step.driven / step.pivot, hub: NONE, part: part[step.node] };
            for &(other, g) in &step.others {
                let share = -g / step.pivot;
                let known = &seen[&other];
                own.constant += share * known.constant;
                own.by.iter_mut().zip(&known.by).for_each(|(sum, by)| *sum += share * by);
                if own.hub == NONE {
                    own.hub = known.hub;
                }
            }
            seen.insert(step.node, own);
        }
        let nowhere = |node: usize| Seen { by: vec![0.0; m], constant: 0.0, hub: NONE, part: part[node] };
        let of = |node: NodeId| seen.get(&node.row()).cloned().unwrap_or_else(|| nowhere(node.row()));
        Reduced {
            hubs: m,
            matrix,
            driven: hubs.iter().map(|&node| net.driven[node]).collect(),
            together,
            ways: ends.into_iter().map(|(a, b, g)| (hub_of[&a], hub_of[&b], g)).collect(),
            watched: watched.iter().map(|&(a, b)| [of(a), of(b)]).collect(),
            span,
            own_span,
            stiffest,
        }
    }
}

impl Reduced {
    /// The matrix with the elements that a test passes, and which hubs they join.
    fn with(&self, conducts: impl Fn(usize) -> bool) -> (Vec<f64>, Sets) {
        let m = self.hubs;
        let mut a = self.matrix.clone();
        let mut sets = self.together.clone();
        for (_, &(i, j, g)) in self.ways.iter().enumerate().filter(|(at, _)| conducts(*at)) {
            if i != j && g > 0.0 {
                a[i * m + i] += g;
                a[j * m + j] += g;
                a[i * m + j] -= g;
                a[j * m + i] -= g;
                sets.unite(i, j);
            }
        }
        (a, sets)
    }

    /// The state in which the elements conduct whose bit is set.
    pub fn state(&self, mated: u128) -> ReducedState {
        let m = self.hubs;
        let (mut a, mut sets) = self.with(|at| mated >> at & 1 == 1);
        let volts = solve(&mut a, self.driven.clone(), HANGS * self.stiffest);
        ReducedState { volts, part: (0..m).map(|hub| sets.find(hub)).collect() }
    }

    /// Current of an element in a state in which it conducts, from its first end to the other, A.
    pub fn current(&self, state: &ReducedState, element: usize) -> f64 {
        let (i, j, g) = self.ways[element];
        g * (state.volts[i] - state.volts[j])
    }

    /// Voltage of a watched pair; `None` where the two lie in parts that nothing joins.
    pub fn watched(&self, state: &ReducedState, pair: usize) -> Option<f64> {
        let [a, b] = &self.watched[pair];
        let joined = match (a.hub, b.hub) {
            (NONE, _) | (_, NONE) => a.part == b.part,
            (a, b) => state.part[a] == state.part[b],
        };
        let volts = |seen: &Seen| seen.constant + seen.by.iter().zip(&state.volts).map(|(by, volts)| by * volts).sum::<f64>();
        joined.then(|| volts(a) - volts(b))
    }

    /// What the current of an element is at most, A, if elements of `perhaps` may conduct or not and no others do: the greatest voltage there is, over the
    /// least resistance that the rest can show. By Rayleigh's law of monotony a resistance between two nodes falls with everything that is added.
    ///
    /// # Source  P. G. Doyle, J. L. Snell, Random Walks and Electric Networks, MAA 1984, section 1.4, monotonicity law (from memory).
    pub fn at_most(&self, element: usize, perhaps: u128) -> f64 {
        let (i, j, g) = self.ways[element];
        let m = self.hubs;
        let (mut a, mut sets) = self.with(|at| at != element && perhaps >> at & 1 == 1);
        if i == j || sets.find(i) != sets.find(j) {
            return 0.0;
        }
        let mut one = vec![0.0; m];
        (one[i], one[j]) = (1.0, -1.0);
        let volts = solve(&mut a, one, HANGS * self.stiffest);
        self.own_span[element] / (1.0 / g + (volts[i] - volts[j]).max(0.0))
    }

    /// The greatest voltage that can stand between two nodes, V.
    pub fn span(&self) -> f64 {
        self.span
    }
}

/// Solves a symmetric system in place; a part that hangs on nothing stands at zero.
fn solve(a: &mut [f64], mut x: Vec<f64>, least: f64) -> Vec<f64> {
    let m = x.len();
    for k in 0..m {
        let pivot = a[k * m + k];
        if pivot <= least {
            // Pinned: its row and column no longer count.
            a[k * m + k] = f64::INFINITY;
            x[k] = 0.0;
            continue;
        }
        for i in k + 1..m {
            let share = a[i * m + k] / pivot;
            if share != 0.0 {
                for j in k + 1..m {
                    a[i * m + j] -= share * a[k * m + j];
                }
                x[i] -= share * x[k];
            }
        }
    }
    for k in (0..m).rev() {
        let pivot = a[k * m + k];
        if pivot.is_infinite() {
            x[k] = 0.0;
            continue;
        }
        let sum: f64 = (k + 1..m).map(|j| a[k * m + j] * x[j]).sum();
        x[k] = (x[k] - sum) / pivot;
    }
    x
}

/// A network by nodes, of which some are eliminated.
struct Net {
    diagonal: Vec<f64>,
    /// Off the diagonal, minus the conductances.
    row: Vec<BTreeMap<usize, f64>>,
    driven: Vec<f64>,
}

/// An eliminated node.
struct Eliminated {
    node: usize,
    pivot: f64,
    driven: f64,
    others: Vec<(usize, f64)>,
}

impl Net {
    fn new(nodes: usize) -> Net {
        Net { diagonal: vec![0.0; nodes], row: vec![BTreeMap::new(); nodes], driven: vec![0.0; nodes] }
    }

    fn add(&mut self, a: usize, b: usize, g: f64) {
        if a == b || g == 0.0 {
            return;
        }
        self.diagonal[a] += g;
        self.diagonal[b] += g;
        *self.row[a].entry(b).or_default() -= g;
        *self.row[b].entry(a).or_default() -= g;
    }

    /// Takes away what two nodes have in common: nothing is left of it.
    fn part(&mut self, a: usize, b: usize) {
        self.row[a].remove(&b);
        self.row[b].remove(&a);
        // What is left of a node where nothing else met is rounding.
        for node in [a, b] {
            if self.row[node].is_empty() {
                self.diagonal[node] = 0.0;
            }
        }
    }

    /// Current out of `b` and into `a`.
    fn drive(&mut self, a: usize, b: usize, amperes: f64) {
        self.driven[a] += amperes;
        self.driven[b] -= amperes;
    }

    /// Eliminates all nodes but some, the one with the fewest neighbours first.
    fn eliminate(&mut self, keep: &BTreeSet<usize>, least: f64) -> Vec<Eliminated> {
        let mut waiting: BTreeSet<(usize, usize)> =
            (0..self.row.len()).filter(|node| !keep.contains(node)).map(|node| (self.row[node].len(), node)).collect();
        let mut steps = Vec::with_capacity(waiting.len());
        while let Some((_, node)) = waiting.pop_first() {
            let others: Vec<(usize, f64)> = std::mem::take(&mut self.row[node]).into_iter().collect();
            let (pivot, driven) = (self.diagonal[node], self.driven[node]);
            let before: Vec<(usize, usize)> = others.iter().map(|&(other, _)| (self.row[other].len(), other)).collect();
            for &(other, _) in &others {
                self.row[other].remove(&node);
            }
            if pivot <= least {
                steps.push(Eliminated { node, pivot: 1.0, driven: 0.0, others: Vec::new() });
            } else {
                for (at, &(a, ga)) in others.iter().enumerate() {
                    self.diagonal[a] -= ga * ga / pivot;
                    self.driven[a] -= ga * driven / pivot;
                    for &(b, gb) in &others[at + 1..] {
                        let more = ga * gb / pivot;
                        *self.row[a].entry(b).or_default() -= more;
                        *self.row[b].entry(a).or_default() -= more;
                    }
                }
                steps.push(Eliminated { node, pivot, driven, others: others.clone() });
            }
            for (degree, other) in before {
                if waiting.remove(&(degree, other)) {
                    waiting.insert((self.row[other].len(), other));
                }
            }
        }
        steps
    }
}
