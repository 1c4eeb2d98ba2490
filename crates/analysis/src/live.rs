//! What of a state can matter to anything at its terminals: the blocks that lie on a way from one terminal to another.
//!
//! A part that hangs on a single node and holds no terminal carries no current, whatever flows elsewhere: what enters at one node has nowhere to come
//! back, and a part that nothing drives stands at one voltage. Two states whose live parts are the same are therefore the same at every terminal,
//! and stay so under every change that touches no part that hangs otherwise in one of them than in the other.
//!
//! Cost: linear in nodes and branches.

use crate::blocks::Walk;
use crate::law::Law;
use crate::{Change, Prepared, Sets};
use model::*;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

const NONE: u32 = u32::MAX;

/// The live part of a state, and what hangs on it.
#[derive(Clone, Debug)]
pub struct Live {
    /// Of each branch, whether it conducts and is live.
    pub rows: Vec<bool>,
    /// Of each node, zero where it is live; else a number of what hangs there, by its branches and the live node that it hangs on.
    pub hangs: Vec<u64>,
}

impl Prepared<'_> {
    /// The live part of a state: of another one whose laws are given, with a change. `terminals`: nodes that have to be told apart, beside those of
    /// all that drives something.
    pub fn live(&self, laws: &[Law], change: &Change, terminals: &[NodeId]) -> Live {
        let (nodes, rows) = (self.nodes(), laws.len());
        let mut own = laws.to_vec();
        change.laws.iter().for_each(|&(row, law)| own[row] = law);
        own.extend(change.joined.iter().map(|&(_, _, g)| Law::Conductance { g }));
        let ends = |row: u32| match (row as usize).checked_sub(rows) {
            None => [self.network.from[row as usize], self.network.to[row as usize]],
            Some(k) => [change.joined[k].0.0, change.joined[k].1.0],
        };
        let mut meets: HashMap<u32, Vec<u32>> = HashMap::new();
        for row in rows..own.len() {
            for node in ends(row as u32) {
                meets.entry(node).or_insert_with(|| self.meeting(NodeId(node)).to_vec()).push(row as u32);
            }
        }
        let meeting = |node: u32| meets.get(&node).map_or_else(|| self.meeting(NodeId(node)), |rows| &rows[..]);
        let conducts = |row: u32| own[row as usize] != Law::Open;
        let mut is_terminal = vec![false; nodes];
        terminals.iter().for_each(|node| is_terminal[node.row()] = true);
        for (row, law) in own.iter().enumerate() {
            if matches!(law, Law::Emf { .. } | Law::Injection { .. } | Law::ConverterOutput { .. }) {
                ends(row as u32).into_iter().for_each(|node| is_terminal[node as usize] = true);
            }
        }
        let walk = Walk::new(nodes, &ends, &meeting, &conducts);
        let is_live = live_blocks(&walk, &is_terminal);
        let mut live = is_terminal;
        for node in 0..nodes {
            if walk.above[node] != NONE && is_live[walk.up[node] as usize] {
                live[node] = true;
                live[walk.above[node] as usize] = true;
            }
        }

        // What hangs: nodes that are not live, together as far as they meet each other, with all their branches.
        let mut sets = Sets::new(nodes);
        let counts = |row: &u32| conducts(*row) && ends(*row)[0] != ends(*row)[1];
        let hanging = || (0..own.len() as u32).filter(counts).filter(|&row| ends(row).iter().any(|&node| !live[node as usize]));
        for [a, b] in hanging().map(ends).filter(|of| of.iter().all(|&node| !live[node as usize])) {
            sets.unite(a as usize, b as usize);
        }
        let part = sets.finish();
        let mut content: HashMap<u32, u64> = HashMap::new();
        for row in hanging() {
            let dead = ends(row).into_iter().find(|&node| !live[node as usize]).expect("hanging: an end is not live");
            // A sum, so that the order of branches more does not matter. The live end is part of its number.
            let sum = content.entry(part[dead as usize]).or_default();
            *sum = sum.wrapping_add(number((row as usize).min(rows), ends(row), own[row as usize]));
        }
        let hangs = |node: usize| if live[node] { 0 } else { content.get(&part[node]).copied().unwrap_or(0).max(1) };
        let on_live = |row: usize| own[row] != Law::Open && ends(row as u32).iter().all(|&node| live[node as usize]);
        Live { rows: (0..rows).map(on_live).collect(), hangs: (0..nodes).map(hangs).collect() }
    }
}

/// Blocks that have a terminal in two directions.
fn live_blocks(walk: &Walk, is_terminal: &[bool]) -> Vec<bool> {
    let nodes = walk.order.len();
    // Terminals below each node of the walk, itself among them; and of each tree.
    let mut below: Vec<u32> = is_terminal.iter().map(|&is| u32::from(is)).collect();
    for &node in walk.order.iter().rev() {
        if walk.above[node as usize] != NONE {
            below[walk.above[node as usize] as usize] += below[node as usize];
        }
    }
    let mut of_tree = vec![0u32; nodes];
    for &node in &walk.order {
        let above = walk.above[node as usize];
        of_tree[node as usize] = if above == NONE { below[node as usize] } else { of_tree[above as usize] };
    }
    // Of each block the node of the walk that leads into it, and of each node the terminals that lie beyond it seen from the block above.
    let leads = |node: u32| {
        let above = walk.above[node as usize];
        above != NONE && (walk.above[above as usize] == NONE || walk.up[above as usize] != walk.up[node as usize])
    };
    let mut beyond: Vec<u32> = is_terminal.iter().map(|&is| u32::from(is)).collect();
    let mut directions = vec![0u32; walk.count];
    for &node in walk.order.iter().filter(|&&node| leads(node)) {
        beyond[walk.above[node as usize] as usize] += below[node as usize];
        directions[walk.up[node as usize] as usize] += u32::from(of_tree[node as usize] > below[node as usize]);
    }
    for node in (0..nodes).filter(|&node| walk.above[node] != NONE) {
        directions[walk.up[node] as usize] += u32::from(beyond[node] > 0);
    }
    directions.into_iter().map(|directions| directions >= 2).collect()
}

/// A number of a branch and its law.
fn number(row: usize, ends: [u32; 2], law: Law) -> u64 {
    let mut hasher = DefaultHasher::new();
    (row, ends).hash(&mut hasher);
    match law {
        Law::Conductance { g } => g.to_bits().hash(&mut hasher),
        other => format!("{other:?}").hash(&mut hasher),
    }
    hasher.finish()
}
