//! Nodes and branches of a design: what depends on topology alone.

use model::*;

/// A branch of the network. Current is positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// The element it is of.
    pub element: ElementId,
    /// Which part of the element, from 0: a bridge sensor has four arms, a potentiometer two, an RTD its joints, a converter an input (0) and an output (1).
    pub part: u8,
    /// One node.
    pub from: NodeId,
    /// The other node.
    pub to: NodeId,
}

/// Nodes, branches and who meets whom.
#[derive(Clone, Debug)]
pub(crate) struct Topology {
    pub(crate) branches: Vec<Branch>,
    /// Ends of each branch, beside `branches`.
    pub(crate) ends: Vec<(End, End)>,
    /// The end that stands for each node.
    pub(crate) node_end: Vec<End>,
    nodes: NodeTable,
    first_branch: Vec<(ElementId, u32)>,
    /// First branch of each wire, `NONE` without one: most questions are for wires.
    wire_branch: Vec<u32>,
    meets_start: Vec<u32>,
    meets: Vec<u32>,
}

const NONE: u32 = u32::MAX;

/// Node of each end, a plain array per kind of end.
#[derive(Clone, Debug, Default)]
struct NodeTable {
    pins: Vec<u32>,
    splices: Vec<u32>,
    studs: Vec<u32>,
    grounds: Vec<u32>,
    shells: Vec<u32>,
    cases: Vec<u32>,
    inner: Vec<u32>,
    branches: Vec<u32>,
}

impl NodeTable {
    fn new(design: &Design) -> NodeTable {
        NodeTable {
            pins: vec![NONE; design.pins.len()],
            splices: vec![NONE; design.splices.len()],
            studs: vec![NONE; design.studs.len()],
            grounds: vec![NONE; design.grounds.len()],
            shells: vec![NONE; design.connectors.len()],
            cases: vec![NONE; design.units.len()],
            inner: vec![NONE; design.inner_nodes.len()],
            branches: vec![NONE; design.branch_points.len()],
        }
    }
    fn slot(&mut self, end: End) -> Option<&mut u32> {
        Some(match end {
            End::Pin(id) => &mut self.pins[id.row()],
            End::Splice(id) => &mut self.splices[id.row()],
            End::Stud(id) => &mut self.studs[id.row()],
            End::Ground(id) => &mut self.grounds[id.row()],
            End::Shell(id) => &mut self.shells[id.row()],
            End::Case(id) => &mut self.cases[id.row()],
            End::Inner(id) => &mut self.inner[id.row()],
            End::Branch(id) => &mut self.branches[id.row()],
            End::Stowed => return None,
        })
    }
    fn get(&self, end: End) -> Option<NodeId> {
        let node = match end {
            End::Pin(id) => self.pins[id.row()],
            End::Splice(id) => self.splices[id.row()],
            End::Stud(id) => self.studs[id.row()],
            End::Ground(id) => self.grounds[id.row()],
            End::Shell(id) => self.shells[id.row()],
            End::Case(id) => self.cases[id.row()],
            End::Inner(id) => self.inner[id.row()],
            End::Branch(id) => self.branches[id.row()],
            End::Stowed => NONE,
        };
        (node != NONE).then_some(NodeId(node))
    }
}

/// The two-terminal parts of every element, in the order of tables and rows.
fn parts(design: &Design) -> Vec<(ElementId, u8, End, End)> {
    let mut parts: Vec<_> = design.conductors().into_iter().map(|c| (c.element, 0, c.from, c.to)).collect();
    let mut two = |element, from: Given<End>, to: Given<End>| parts.push((element, 0, from.value, to.value));
    design.batteries.iter().for_each(|(id, s)| two(ElementId::Source(id), s.positive, s.negative));
    design.protectors.iter().for_each(|(id, p)| two(ElementId::Protector(id), p.line, p.load));
    design.switches.iter().for_each(|(id, s)| two(ElementId::Switch(id), s.from, s.to));
    design.diodes.iter().for_each(|(id, d)| two(ElementId::Diode(id), d.anode, d.cathode));
    design.loads.iter().for_each(|(id, l)| two(ElementId::Load(id), l.line, l.line_return));
    design.receivers.iter().for_each(|(id, r)| two(ElementId::Receiver(id), r.positive, r.negative));
    design.excitations.iter().for_each(|(id, x)| two(ElementId::Excitation(id), x.positive, x.negative));
    for (id, converter) in design.converters.iter() {
        let element = ElementId::Converter(id);
        parts.push((element, 0, converter.line.value, converter.line_return.value));
        parts.push((element, 1, converter.output.value, converter.output_return.value));
    }
    for (id, sensor) in design.sensors.iter() {
        let element = ElementId::Sensor(id);
        match sensor.law {
            SensorLaw::Bridge { excitation_positive, excitation_negative, signal_positive, signal_negative, .. } => {
                let [ep, en, sp, sn] = [excitation_positive, excitation_negative, signal_positive, signal_negative].map(|e| e.value);
                parts.extend([(element, 0, ep, sp), (element, 1, sp, en), (element, 2, ep, sn), (element, 3, sn, en)]);
            }
            SensorLaw::Resistance { positive, negative, .. }
            | SensorLaw::Voltage { positive, negative, .. }
            | SensorLaw::Thermocouple { positive, negative, .. }
            | SensorLaw::CurrentLoop { positive, negative, .. } => parts.push((element, 0, positive.value, negative.value)),
            // The element lies between the ends that sense it, and each current lead joins one of them in the head.
            SensorLaw::Rtd { positive, negative, sense_positive, sense_negative, .. } => {
                let (plus, minus) = (sense_positive.unwrap_or(positive).value, sense_negative.unwrap_or(negative).value);
                parts.push((element, 0, plus, minus));
                parts.extend(sense_positive.map(|sense| (element, 1, positive.value, sense.value)));
                parts.extend(sense_negative.map(|sense| (element, 2, sense.value, negative.value)));
            }
            SensorLaw::Potentiometer { positive, negative, wiper, .. } => {
                parts.push((element, 0, positive.value, wiper.value));
                parts.push((element, 1, wiper.value, negative.value));
            }
        }
    }
    parts
}

impl Topology {
    pub(crate) fn new(design: &Design) -> Topology {
        let parts = parts(design);
        let mut nodes = NodeTable::new(design);
        let mut node_end = Vec::new();
        let mut branches = Vec::with_capacity(parts.len());
        let mut ends = Vec::with_capacity(parts.len());
        let mut first_branch = Vec::new();
        for (element, part, from, to) in parts {
            let mut node = |end| {
                let slot = nodes.slot(end)?;
                if *slot == NONE {
                    *slot = node_end.len() as u32;
                    node_end.push(end);
                }
                Some(NodeId(*slot))
            };
            let (Some(a), Some(b)) = (node(from), node(to)) else { continue };
            if part == 0 {
                first_branch.push((element, branches.len() as u32));
            }
            branches.push(Branch { element, part, from: a, to: b });
            ends.push((from, to));
        }
        first_branch.sort_unstable();
        let mut wire_branch = vec![NONE; design.wires.len()];
        for &(element, row) in first_branch.iter().rev() {
            if let ElementId::Wire(wire) = element {
                wire_branch[wire.row()] = row;
            }
        }
        let (meets_start, meets) = adjacency(node_end.len(), &branches);
        Topology { branches, ends, node_end, nodes, first_branch, wire_branch, meets_start, meets }
    }

    pub(crate) fn node(&self, end: End) -> Option<NodeId> {
        self.nodes.get(end)
    }

    /// Row of the first branch of an element.
    pub(crate) fn branch_of(&self, element: ElementId) -> Option<usize> {
        // A joint is in series with its wire and has no branch of its own.
        if let ElementId::Wire(wire) | ElementId::Joint(wire, _) = element {
            return self.wire_branch.get(wire.row()).filter(|row| **row != NONE).map(|row| *row as usize);
        }
        let at = self.first_branch.binary_search_by_key(&element, |&(e, _)| e).ok()?;
        Some(self.first_branch[at].1 as usize)
    }

    /// Rows of the branches that meet at a node, in order.
    pub(crate) fn meeting(&self, node: NodeId) -> &[u32] {
        &self.meets[self.meets_start[node.row()] as usize..self.meets_start[node.row() + 1] as usize]
    }
}

fn adjacency(nodes: usize, branches: &[Branch]) -> (Vec<u32>, Vec<u32>) {
    let mut start = vec![0u32; nodes + 1];
    for branch in branches {
        start[branch.from.row() + 1] += 1;
        start[branch.to.row() + 1] += 1;
    }
    for k in 0..nodes {
        start[k + 1] += start[k];
    }
    let mut fill = start.clone();
    let mut meets = vec![0u32; 2 * branches.len()];
    for (row, branch) in branches.iter().enumerate() {
        for node in [branch.from, branch.to] {
            meets[fill[node.row()] as usize] = row as u32;
            fill[node.row()] += 1;
        }
    }
    (start, meets)
}
