//! Single points: the elements of one state that stand alone between a load and its sources. Each of them is a bridge of the graph of what
//! conducts, loads left out, with every source's terminals joined in one root.
//!
//! A converter that works passes on what feeds it. Diodes count as a way whichever source holds the bus at the moment: what blocks now takes over
//! when the other is gone. What a source can carry is no question here: the state that is then settled answers it.
//!
//! Cost: linear in nodes and branches for a state; of a load linear in the bridges.

use crate::bridges::Bridges;
use crate::law::Law;
use crate::{Near, Prepared};
use model::*;

/// The graph of a design, whatever its state.
pub struct SinglePoints<'p, 'd> {
    prepared: &'p Prepared<'d>,
    from: Vec<u32>,
    to: Vec<u32>,
    /// Element of each branch of the graph.
    element: Vec<ElementId>,
    meets_start: Vec<u32>,
    meets: Vec<u32>,
    root: u32,
}

/// The bridges of one state.
pub struct Bridged {
    walk: Bridges,
    /// Rows of the bridges of the graph with their runs.
    rows: Vec<((u32, u32), usize)>,
}

impl<'p, 'd> SinglePoints<'p, 'd> {
    /// Cost: linear in branches.
    pub fn new(prepared: &'p Prepared<'d>) -> SinglePoints<'p, 'd> {
        let root = prepared.nodes() as u32;
        let (mut from, mut to, mut element) = (Vec::new(), Vec::new(), Vec::new());
        for branch in prepared.branches() {
            from.push(branch.from.0);
            to.push(branch.to.0);
            element.push(branch.element);
        }
        let mut more = |a: Option<NodeId>, b: u32, of: ElementId| {
            if let Some(a) = a {
                from.push(a.0);
                to.push(b);
                element.push(of);
            }
        };
        for (id, source) in prepared.design.batteries.iter() {
            for end in [source.positive.value, source.negative.value] {
                more(prepared.node(end), root, ElementId::Source(id));
            }
        }
        for (id, converter) in prepared.design.converters.iter() {
            for (output, input) in [(converter.output, converter.line), (converter.output_return, converter.line_return)] {
                if let Some(input) = prepared.node(input.value) {
                    more(prepared.node(output.value), input.0, ElementId::Converter(id));
                }
            }
        }
        let nodes = prepared.nodes() + 1;
        let mut start = vec![0u32; nodes + 1];
        from.iter().chain(&to).for_each(|&node| start[node as usize + 1] += 1);
        for k in 0..nodes {
            start[k + 1] += start[k];
        }
        let (mut fill, mut meets) = (start.clone(), vec![0u32; 2 * from.len()]);
        for row in 0..from.len() {
            for node in [from[row], to[row]] {
                meets[fill[node as usize] as usize] = row as u32;
                fill[node as usize] += 1;
            }
        }
        SinglePoints { prepared, from, to, element, meets_start: start, meets, root }
    }

    /// The bridges of a state, by the laws of its branches.
    pub fn bridged(&self, laws: &[Law]) -> Bridged {
        use ElementId::*;
        let own = |row: usize| match self.element[row] {
            Load(_) | Receiver(_) | Sensor(_) | Excitation(_) | Source(_) | Converter(_) => false,
            _ => matches!(laws[row], Law::Conductance { .. } | Law::Diode { .. }),
        };
        let works = |element: ElementId| self.prepared.branch_of(element).is_some_and(|row| !matches!(laws[row], Law::Open));
        let conducts = |row: usize| match row < laws.len() {
            true => own(row) && self.from[row] != self.to[row],
            false => works(self.element[row]),
        };
        let meeting = |node: u32| &self.meets[self.meets_start[node as usize] as usize..self.meets_start[node as usize + 1] as usize];
        let walk = Bridges::new((&self.from, &self.to), self.root as usize + 1, &conducts, &meeting, [self.root].into_iter());
        let rows = (0..self.from.len()).filter(|&row| conducts(row)).filter_map(|row| Some((walk.run_beyond(row)?, row))).collect();
        Bridged { walk, rows }
    }

    /// Elements that alone stand between a load and its sources in a state, in the order of the graph; `None` where it has no source.
    pub fn of_load(&self, bridged: &Bridged, load: Id<Load>) -> Option<Vec<ElementId>> {
        let row = &self.prepared.design.loads[load];
        let mut found: Vec<ElementId> = vec![ElementId::Load(load)];
        for end in [row.line.value, row.line_return.value] {
            let came = bridged.walk.came[self.prepared.node(end)?.row()];
            if bridged.walk.tree_of(came) != bridged.walk.tree_of(0) {
                return None;
            }
            found.extend(
                bridged.rows.iter().filter(|((first, last), _)| (*first..*last).contains(&came)).map(|&(_, row)| self.element[row]),
            );
        }
        found.sort_unstable();
        found.dedup();
        Some(found)
    }

    /// Whether one of some branches that open is a bridge of no state: only then can what is left have fewer ways.
    pub fn is_beside_another(&self, bridged: &Bridged, opened: impl Iterator<Item = usize>) -> bool {
        let is_bridge = |row: usize| bridged.rows.iter().any(|&(_, of)| self.element[of] == self.element[row]);
        opened.into_iter().any(|row| !is_bridge(row))
    }
}

impl Near<'_, '_> {
    /// Whether a branch conducts in the base state.
    pub fn conducts(&self, row: usize) -> bool {
        self.laws().is_some_and(|laws| laws[row] != Law::Open)
    }
}
