//! What stands between the sources and a load that must not work by itself.
//!
//! An inhibit is a device or plug that is open in a state and would let current through if it were not. Of all ways from a source to the load
//! and back the one with the fewest counts: each is an element that would have to fail.
//!
//! Cost: two walks over the network, each branch once.

use crate::Prepared;
use crate::law::Law;
use model::*;
use physics::Ampere;
use std::collections::VecDeque;

const FAR: u32 = u32::MAX;

/// The way with the fewest inhibits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inhibits {
    /// Those before the load, from the load on.
    pub feed: Vec<ElementId>,
    /// Those behind it, from the load on.
    pub back: Vec<ElementId>,
    /// Fewest between its return and the negative terminal of any source; `None` where no way leads there.
    pub in_return: Option<usize>,
}

impl Inhibits {
    /// How many there are.
    pub fn count(&self) -> usize {
        self.feed.len() + self.back.len()
    }
}

/// Inhibits on the way with the fewest of them, either way round; `None` where no way leads from any source to the load and back.
///
/// What lets less than `least` through at the greatest voltage of any source is no way: the resistors that bleed charge off a circuit. Loads,
/// sensors and receivers are none either.
///
/// `joined`: nodes that short circuits of the scenario join.
pub(crate) fn inhibits(
    prepared: &Prepared,
    scenario: &Scenario,
    load: Id<Load>,
    least: Ampere,
    joined: &[(NodeId, NodeId)],
) -> Option<Inhibits> {
    let (branches, laws) = (prepared.branches(), prepared.laws(scenario));
    let branch = branches[prepared.branch_of(ElementId::Load(load))?];
    let drives =
        |row: usize| matches!((branches[row].element, branches[row].part), (ElementId::Source(_), _) | (ElementId::Converter(_), 1));
    // Of all sources, also those that are off: a command may bring them on.
    let design = prepared.design;
    let batteries = design.batteries.iter().filter_map(|(_, source)| source.emf.as_ref());
    let volts =
        batteries.chain(design.converters.iter().map(|(_, converter)| &converter.emf)).map(|emf| emf.high.value.0).fold(0.0, f64::max);
    // Inhibits that a branch is; `None` of what is no way.
    let cost = |row: usize| match (branches[row].element, laws[row]) {
        (ElementId::Load(_) | ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Source(_) | ElementId::Converter(_), _) => None,
        (_, Law::Conductance { g }) => (g * volts >= least.0).then_some(0),
        (_, Law::Diode { .. }) => Some(0),
        (ElementId::Switch(_) | ElementId::Protector(_) | ElementId::Contact(_), Law::Open) => Some(1),
        // A shorting plug would take the current past the load, a safe plug keeps it away.
        (ElementId::FittedLink(id), Law::Open) => {
            let fitted = &design.fitted[design.fitted_links[id].fitted];
            matches!(fitted.kind, FittedKind::FlightPlug | FittedKind::TestAdapter).then_some(1)
        }
        _ => None,
    };
    let walk = |from: NodeId| {
        let mut reached: Vec<(u32, u32)> = vec![(FAR, FAR); prepared.nodes()];
        reached[from.row()] = (0, FAR);
        let mut next = VecDeque::from([from]);
        while let Some(node) = next.pop_front() {
            let so_far = reached[node.row()].0;
            for (at, &(a, b)) in joined.iter().enumerate() {
                let other = if a == node { b } else { a };
                if (a == node || b == node) && so_far < reached[other.row()].0 {
                    // Rows beyond the branches stand for what is joined.
                    reached[other.row()] = (so_far, (branches.len() + at) as u32);
                    next.push_front(other);
                }
            }
            for &row in prepared.meeting(node) {
                let (at, Some(more)) = (branches[row as usize], cost(row as usize)) else { continue };
                let other = if at.from == node { at.to } else { at.from };
                if so_far + more < reached[other.row()].0 {
                    reached[other.row()] = (so_far + more, row);
                    if more == 0 { next.push_front(other) } else { next.push_back(other) }
                }
            }
        }
        reached
    };
    let (line, back) = (walk(branch.from), walk(branch.to));
    let open_on = |reached: &[(u32, u32)], from: NodeId| {
        let mut found = Vec::new();
        let mut node = from;
        while let (_, row) = reached[node.row()]
            && row != FAR
        {
            if let Some(&(a, b)) = (row as usize).checked_sub(branches.len()).and_then(|at| joined.get(at)) {
                node = if a == node { b } else { a };
                continue;
            }
            if cost(row as usize) == Some(1) {
                found.push(branches[row as usize].element);
            }
            let at = branches[row as usize];
            node = if at.from == node { at.to } else { at.from };
        }
        found.reverse();
        found
    };
    let mut fewest: Option<(u32, [NodeId; 2], Option<ElementId>)> = None;
    let mut in_return = FAR;
    for row in (0..branches.len()).filter(|&row| drives(row)) {
        let at = branches[row];
        // A source that is off is one more.
        let off = (laws[row] == Law::Open).then_some(at.element);
        for ends in [[at.from, at.to], [at.to, at.from]] {
            let [(a, _), (b, _)] = [line[ends[0].row()], back[ends[1].row()]];
            if a == FAR || b == FAR {
                continue;
            }
            if ends[1] == at.to {
                in_return = in_return.min(b);
            }
            let count = a + b + u32::from(off.is_some());
            if fewest.is_none_or(|(known, ..)| count < known) {
                fewest = Some((count, ends, off));
            }
        }
    }
    let (_, [feed, behind], off) = fewest?;
    let mut feed = open_on(&line, feed);
    feed.extend(off);
    Some(Inhibits { feed, back: open_on(&back, behind), in_return: (in_return != FAR).then_some(in_return as usize) })
}
