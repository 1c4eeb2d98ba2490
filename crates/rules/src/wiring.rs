//! Who lands on what, and what conducts together however switches stand: found out once for all rules that ask.

use analysis::{Prepared, Sets};
use model::*;

/// The wiring as rules look at it: by pin and by net.
pub struct Wiring {
    mate: Vec<Option<(Id<Pin>, Id<Contact>)>>,
    wires: Vec<Vec<(Id<Wire>, Side)>>,
    port: Vec<Option<Id<Port>>>,
    inside: Vec<bool>,
    plugged: Vec<bool>,
    described: Vec<bool>,
    wires_of_cable: Vec<Vec<Id<Wire>>>,
    harness: Vec<u32>,
    tracks: Vec<u32>,
    joined: Vec<u32>,
    feeds: Vec<bool>,
    returns: Vec<bool>,
    leads_out: Vec<bool>,
}

impl Wiring {
    /// Cost: near linear in pins, wires and branches.
    pub(crate) fn new(design: &Design, prepared: &Prepared) -> Wiring {
        let pins = design.pins.len();
        let mut mate = vec![None; pins];
        for (id, contact) in design.contacts.iter() {
            mate[contact.a.row()] = Some((contact.b, id));
            mate[contact.b.row()] = Some((contact.a, id));
        }
        let mut wires = vec![Vec::new(); pins];
        let mut wires_of_cable = vec![Vec::new(); design.cables.len()];
        for (id, wire) in design.wires.iter() {
            for (end, side) in [(wire.from.value, Side::From), (wire.to.value, Side::To)] {
                if let End::Pin(pin) = end {
                    wires[pin.row()].push((id, side));
                }
            }
            if let Some(cable) = wire.cable {
                wires_of_cable[cable.value.row()].push(id);
            }
        }
        let mut port = vec![None; pins];
        for (id, row) in design.ports.iter() {
            port[row.pin.row()].get_or_insert(id);
        }
        // What ends on a pin besides wires, the mated contact and fitted items: elements and tracks of a unit.
        let mut inside = vec![false; pins];
        let mut harness = Sets::new(prepared.nodes());
        let mut tracks = Sets::new(prepared.nodes());
        let mut joined = Sets::new(prepared.nodes());
        for (row, branch) in prepared.branches().iter().enumerate() {
            let (from, to) = prepared.branch_ends(row);
            let (a, b) = (branch.from.row(), branch.to.row());
            match branch.element {
                ElementId::Wire(_) | ElementId::Contact(_) => {
                    harness.unite(a, b);
                    tracks.unite(a, b);
                    joined.unite(a, b);
                    continue;
                }
                ElementId::Link(_) => {
                    tracks.unite(a, b);
                    joined.unite(a, b);
                }
                ElementId::Strap(_)
                | ElementId::StructurePath(_)
                | ElementId::Protector(_)
                | ElementId::Switch(_)
                | ElementId::Diode(_) => {
                    joined.unite(a, b);
                }
                ElementId::FittedLink(id) => {
                    let kind = design.fitted[design.fitted_links[id].fitted].kind;
                    if matches!(kind, FittedKind::FlightPlug | FittedKind::Saver) {
                        joined.unite(a, b);
                    }
                    continue;
                }
                _ => {}
            }
            for end in [from, to] {
                if let End::Pin(pin) = end {
                    inside[pin.row()] = true;
                }
            }
        }
        let mut plugged = vec![false; pins];
        for (_, link) in design.fitted_links.iter() {
            plugged[link.from.row()] = true;
            plugged[link.to.row()] = true;
        }
        let mut described = vec![false; design.connectors.len()];
        for (id, pin) in design.pins.iter() {
            if inside[id.row()] || port[id.row()].is_some() {
                described[pin.connector.row()] = true;
            }
        }
        let (harness, tracks, joined) = (harness.finish(), tracks.finish(), joined.finish());
        let mut feeds = vec![false; prepared.nodes()];
        let mut returns = vec![false; prepared.nodes()];
        let mark = |marks: &mut Vec<bool>, end: End| {
            if let Some(node) = prepared.node(end) {
                marks[joined[node.row()] as usize] = true;
            }
        };
        for (_, source) in design.batteries.iter() {
            mark(&mut feeds, source.positive.value);
            mark(&mut returns, source.negative.value);
        }
        for (_, converter) in design.converters.iter() {
            mark(&mut feeds, converter.output.value);
            mark(&mut returns, converter.output_return.value);
        }
        let mut leads_out = vec![false; prepared.nodes()];
        for pin in design.pins.ids().filter(|pin| !wires[pin.row()].is_empty()) {
            let halves = [Some(pin), mate[pin.row()].map(|(mate, _)| mate)].into_iter().flatten();
            let mut halves = halves.map(|pin| design.pins[pin].connector).map(|id| (described[id.row()], &design.connectors[id]));
            // Two harness halves that mate are described by their wires.
            let is_outside = |row: &Connector| row.unit.is_some() || row.implied == Implied::ByWireList;
            let (all_unknown, any_outside) =
                halves.by_ref().fold((true, false), |(all, any), (known, row)| (all && !known, any || is_outside(row)));
            if let (true, true, Some(node)) = (all_unknown, any_outside, prepared.node(End::Pin(pin))) {
                leads_out[joined[node.row()] as usize] = true;
            }
        }
        Wiring { mate, wires, port, inside, plugged, described, wires_of_cable, harness, tracks, joined, feeds, returns, leads_out }
    }

    /// The pin that a pin is mated with.
    pub(crate) fn mate(&self, pin: Id<Pin>) -> Option<Id<Pin>> {
        self.mate[pin.row()].map(|(mate, _)| mate)
    }

    /// The contact that a pin is half of.
    pub(crate) fn contact(&self, pin: Id<Pin>) -> Option<Id<Contact>> {
        self.mate[pin.row()].map(|(_, contact)| contact)
    }

    /// A pin and the one it is mated with.
    pub(crate) fn both(&self, pin: Id<Pin>) -> impl Iterator<Item = Id<Pin>> + use<> {
        [Some(pin), self.mate(pin)].into_iter().flatten()
    }

    /// Wires that land on a pin itself, with the end that does.
    pub(crate) fn wires_on(&self, pin: Id<Pin>) -> &[(Id<Wire>, Side)] {
        &self.wires[pin.row()]
    }

    /// Wires that land on a pin or on the one it is mated with.
    pub(crate) fn wires_at(&self, pin: Id<Pin>) -> impl Iterator<Item = (Id<Wire>, Side)> {
        self.both(pin).flat_map(|pin| self.wires_on(pin).iter().copied())
    }

    /// The row of a sheet for a pin itself.
    pub(crate) fn port_on(&self, pin: Id<Pin>) -> Option<Id<Port>> {
        self.port[pin.row()]
    }

    /// The row of a sheet for a pin or for the one it is mated with.
    pub(crate) fn port_at(&self, pin: Id<Pin>) -> Option<Id<Port>> {
        self.both(pin).find_map(|pin| self.port_on(pin))
    }

    /// Whether an element or a track of a unit ends on a pin.
    pub(crate) fn is_used_inside(&self, pin: Id<Pin>) -> bool {
        self.inside[pin.row()]
    }

    /// Whether a fitted item has a connection on a pin.
    pub(crate) fn is_plugged(&self, pin: Id<Pin>) -> bool {
        self.plugged[pin.row()]
    }

    /// Whether what conducts together with a node however switches stand has a wire that leads to a box or connector of which nothing
    /// is known.
    pub(crate) fn leads_out(&self, node: NodeId) -> bool {
        self.leads_out[self.joined[node.row()] as usize]
    }

    /// Whether anything is known of what lies behind a connector's pins: an element, a track or a sheet.
    pub(crate) fn is_described(&self, connector: Id<Connector>) -> bool {
        self.described[connector.row()]
    }

    /// Cores of a cable.
    pub(crate) fn cores(&self, cable: Id<Cable>) -> &[Id<Wire>] {
        &self.wires_of_cable[cable.row()]
    }

    /// What wires, contacts and splices join with a node: the number of its net.
    pub(crate) fn net(&self, node: NodeId) -> u32 {
        self.harness[node.row()]
    }

    /// What wires, contacts, splices and tracks inside units join with a node: the number of that part.
    pub(crate) fn track(&self, node: NodeId) -> u32 {
        self.tracks[node.row()]
    }

    /// Whether the positive terminal of a source or converter reaches a node, however switches, breakers and diodes stand.
    pub(crate) fn is_fed(&self, node: NodeId) -> bool {
        self.feeds[self.joined[node.row()] as usize]
    }

    /// Whether a node reaches the negative terminal of a source or converter, however switches and breakers stand.
    pub(crate) fn is_returned(&self, node: NodeId) -> bool {
        self.returns[self.joined[node.row()] as usize]
    }

    /// What conducts together with a node however switches stand: the number of that part.
    pub(crate) fn part(&self, node: NodeId) -> u32 {
        self.joined[node.row()]
    }
}

/// The place of a wire's end.
pub(crate) fn end_of(wire: &Wire, side: Side) -> Given<End> {
    match side {
        Side::From => wire.from,
        Side::To => wire.to,
    }
}
