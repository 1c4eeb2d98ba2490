//! Fed wires, and what a fault can join them to.

use crate::Prepared;
use crate::Sets;
use model::*;

/// What conducts together whatever is switched: where sources feed, and where their currents come back.
pub(super) struct Feeds {
    part: Vec<u32>,
    fed: Vec<bool>,
    back: Vec<bool>,
    /// The same without protectors, with the source that feeds it.
    pub(super) bare: Vec<Option<Id<Source>>>,
}

impl Feeds {
    pub(super) fn new(prepared: &Prepared) -> Feeds {
        let (design, nodes) = (prepared.design, prepared.nodes());
        let (mut all, mut bare) = (Sets::new(nodes), Sets::new(nodes));
        for branch in prepared.branches() {
            use ElementId::*;
            let passes = matches!(branch.element, Wire(_) | Strap(_) | StructurePath(_) | Contact(_) | Link(_) | Switch(_) | Diode(_));
            // A safe or shorting plug joins what flight keeps apart.
            let plugged = matches!(branch.element, FittedLink(id) if matches!(design.fitted[design.fitted_links[id].fitted].kind, FittedKind::FlightPlug | FittedKind::Saver));
            if passes || plugged {
                bare.unite(branch.from.row(), branch.to.row());
            }
            if passes || plugged || matches!(branch.element, Protector(_)) {
                all.unite(branch.from.row(), branch.to.row());
            }
        }
        let part = all.finish();
        let (mut fed, mut back) = (vec![false; nodes], vec![false; nodes]);
        let mut sources = vec![None; nodes];
        for (id, source) in design.batteries.iter() {
            if let Some(node) = prepared.node(source.positive.value) {
                fed[part[node.row()] as usize] = true;
                sources[bare.find(node.row())].get_or_insert(id);
            }
            if let Some(node) = prepared.node(source.negative.value) {
                back[part[node.row()] as usize] = true;
            }
        }
        let bare = (0..nodes).map(|node| sources[bare.find(node)]).collect();
        Feeds { part, fed, back, bare }
    }

    fn is_fed(&self, node: NodeId) -> bool {
        let part = self.part[node.row()] as usize;
        self.fed[part] && !self.back[part]
    }

    fn is_back(&self, node: NodeId) -> bool {
        let part = self.part[node.row()] as usize;
        self.back[part] && !self.fed[part]
    }
}

/// A fed wire with what a fault can join it to.
pub(super) struct Subject {
    pub(super) wire: Id<Wire>,
    /// Nodes of its ends.
    pub(super) ends: [NodeId; 2],
    pub(super) returns: Option<Beside>,
}

/// The return of a wire: its core, its nodes beside the wire's ends.
#[derive(Clone, Copy)]
pub(super) struct Beside {
    pub(super) wire: Id<Wire>,
    pub(super) ends: [NodeId; 2],
}

/// Finds the fed wires and their returns.
pub(super) fn subjects(prepared: &Prepared, feeds: &Feeds) -> Vec<Subject> {
    let design = prepared.design;
    let nodes = |wire: Id<Wire>| -> Option<[NodeId; 2]> {
        let row = &design.wires[wire];
        Some([prepared.node(row.from.value)?, prepared.node(row.to.value)?])
    };
    let mut cores: Vec<Vec<Id<Wire>>> = vec![Vec::new(); design.cables.len()];
    for (id, wire) in design.wires.iter() {
        if let Some(cable) = wire.cable {
            cores[cable.value.row()].push(id);
        }
    }
    let connector = |end: End| match end {
        End::Pin(pin) => Some(design.pins[pin].connector),
        _ => None,
    };
    let beside = |id: Id<Wire>| -> Option<Beside> {
        let row = &design.wires[id];
        // A pair's other core; of a wire of its own the one of the same circuit that comes back between the same connectors.
        let in_cable: Vec<Id<Wire>> = row.cable.map_or_else(Vec::new, |cable| cores[cable.value.row()].clone());
        in_cable.into_iter().filter(|other| *other != id).find_map(|other| {
            let [a, b] = nodes(other)?;
            if !feeds.is_back(a) {
                return None;
            }
            let of = &design.wires[other];
            let swapped = connector(row.from.value).is_some_and(|c| connector(of.to.value) == Some(c))
                || connector(row.to.value).is_some_and(|c| connector(of.from.value) == Some(c));
            let straight = connector(row.from.value).is_some_and(|c| connector(of.from.value) == Some(c))
                || connector(row.to.value).is_some_and(|c| connector(of.to.value) == Some(c));
            Some(Beside { wire: other, ends: if swapped && !straight { [b, a] } else { [a, b] } })
        })
    };
    let fed = |(id, _): (Id<Wire>, &Wire)| -> Option<Subject> {
        let ends = nodes(id)?;
        (ends[0] != ends[1] && feeds.is_fed(ends[0])).then(|| Subject { wire: id, ends, returns: beside(id) })
    };
    design.wires.iter().filter_map(fed).collect()
}
