//! Look-ups that the documents share.

use super::assembly::{Built, assemblies};
use crate::View;
use analysis::{HarnessNet, HarnessNets};
use model::*;
use physics::Kelvin;
use std::collections::HashMap;
use std::sync::Arc;

/// Temperature at which ohms are expected: that of tables of wire.
pub(crate) const AT: Kelvin = Kelvin(293.15);

/// A contact with the pin on its other side.
type Across = (Id<Contact>, Id<Pin>);

/// A vehicle with what its documents look up again and again.
pub(crate) struct Facts<'v> {
    pub(crate) view: &'v View<'v>,
    pub(crate) design: &'v Design,
    /// Nets of the harness with everything parted.
    pub(crate) nets: HarnessNets,
    /// For each net, resistance from its first end to each of its ends at [`AT`]: low, typical, high.
    pub(crate) net_ohms: Vec<Vec<[Option<f64>; 3]>>,
    /// Wires that land on each end, in the order of the list.
    landed: HashMap<End, Vec<(Id<Wire>, Side)>>,
    pins: HashMap<(Id<Connector>, Name), Id<Pin>>,
    pins_of: Vec<Vec<Id<Pin>>>,
    /// Contacts of each pin with the pin across.
    contacts: HashMap<Id<Pin>, Vec<Across>>,
    ports: HashMap<Id<Pin>, Id<Port>>,
    mates: Column<Connector, Option<Id<Connector>>>,
    cores: Vec<Vec<Id<Wire>>>,
    halves_at: Vec<Vec<Id<Connector>>>,
    /// Harness assemblies.
    pub(crate) assemblies: Vec<Built>,
    /// Of each wire its assembly.
    assembly_of: Vec<usize>,
    /// Pins that lead to an initiator or that a sheet calls ordnance, and those across from them.
    ordnance: HashMap<Id<Pin>, &'static str>,
}

impl<'v> Facts<'v> {
    /// Cost: near linear in the tables.
    pub(crate) fn new(view: &'v View<'v>) -> Facts<'v> {
        let design = view.design;
        let mut landed: HashMap<End, Vec<(Id<Wire>, Side)>> = HashMap::new();
        let mut cores = vec![Vec::new(); design.cables.len()];
        for (id, wire) in design.wires.iter() {
            landed.entry(wire.from.value).or_default().push((id, Side::From));
            landed.entry(wire.to.value).or_default().push((id, Side::To));
            if let Some(cable) = wire.cable {
                cores[cable.value.row()].push(id);
            }
        }
        cores.iter_mut().for_each(|list: &mut Vec<Id<Wire>>| list.sort_by_key(|id| design.wires[*id].cable_position.map(|at| at.value)));
        let pins = design.pins.iter().map(|(id, pin)| ((pin.connector, pin.cavity.clone()), id)).collect();
        let mut pins_of = vec![Vec::new(); design.connectors.len()];
        design.pins.iter().for_each(|(id, pin)| pins_of[pin.connector.row()].push(id));
        let mut contacts: HashMap<Id<Pin>, Vec<Across>> = HashMap::new();
        for (id, contact) in design.contacts.iter() {
            contacts.entry(contact.a).or_default().push((id, contact.b));
            contacts.entry(contact.b).or_default().push((id, contact.a));
        }
        let ports = design.ports.iter().map(|(id, port)| (port.pin, id)).collect();
        let mut mates: Column<Connector, Option<Id<Connector>>> = design.connectors.column(None);
        for (id, row) in design.connectors.iter() {
            if let Some(mate) = row.mate {
                mates[id] = Some(mate.value);
                mates[mate.value].get_or_insert(id);
            }
        }
        let nets = view.prepared.harness_nets();
        let mut facts = Facts {
            view,
            design,
            nets,
            net_ohms: Vec::new(),
            landed,
            pins,
            pins_of,
            contacts,
            ports,
            mates,
            cores,
            halves_at: vec![Vec::new(); design.branch_points.len()],
            assemblies: assemblies(design),
            assembly_of: vec![0; design.wires.len()],
            ordnance: HashMap::new(),
        };
        for (at, assembly) in facts.assemblies.iter().enumerate() {
            assembly.wires.iter().for_each(|wire| facts.assembly_of[wire.row()] = at);
        }
        facts.ordnance = facts.ordnance_pins();
        facts.net_ohms = facts.all_net_ohms();
        for half in facts.wired_halves() {
            let breakout = facts.pins_of(half).first().and_then(|pin| design.breakout_of(End::Pin(*pin)));
            if let Some(breakout) = breakout {
                facts.halves_at[breakout.value.row()].push(half);
            }
        }
        facts
    }

    fn ordnance_pins(&self) -> HashMap<Id<Pin>, &'static str> {
        let design = self.design;
        let called = design.ports.iter().filter(|(_, port)| port.meaning.value == PinMeaning::Ordnance);
        let mut found: Vec<(Id<Pin>, &'static str)> = called.map(|(_, port)| (port.pin, "its sheet says ordnance")).collect();
        for (_, initiator) in design.initiators.iter() {
            let load = &design.loads[initiator.load.value];
            let ends = [load.line.value, load.line_return.value];
            found.extend(
                ends.iter().filter_map(|end| if let End::Pin(pin) = end { Some((*pin, "an initiator is behind it")) } else { None }),
            );
        }
        for (_, item) in design.fitted.iter().filter(|(_, item)| item.kind == FittedKind::ShortingPlug) {
            let links = item.links.iter().map(|link| &design.fitted_links[*link]);
            found.extend(links.flat_map(|link| [link.from, link.to]).map(|pin| (pin, "a shorting plug stands on it")));
        }
        // On along wires and through mated pairs, as far as the circuit goes; what is joined to structure leads no farther.
        let mut all = HashMap::new();
        while let Some((pin, why)) = found.pop() {
            if all.insert(pin, why).is_some() {
                continue;
            }
            found.extend(self.across(pin).iter().map(|(_, other)| (*other, why)));
            let net = self.nets.of(End::Pin(pin)).map(|net| &self.nets.nets[net]);
            let ends = net.filter(|net| !net.grounded).into_iter().flat_map(|net| &net.ends);
            found.extend(ends.filter_map(|end| if let End::Pin(other) = end { Some((*other, why)) } else { None }));
        }
        all
    }

    fn all_net_ohms(&self) -> Vec<Vec<[Option<f64>; 3]>> {
        let phase = self.design.phases.ids().next().expect("a checked design has a phase");
        let conductors = Arc::new(self.design.wires.column(AT));
        // The corner in which wires have least, typical and greatest resistance.
        let scenarios = [Corner::High, Corner::Typical, Corner::Low]
            .map(|corner| Scenario { conductors: Some(conductors.clone()), ..Scenario::new(phase, corner) });
        let of = |net: &HarnessNet| {
            let columns = [0, 1, 2].map(|at| {
                let ohms = |wire: Id<Wire>| self.view.prepared.ohms(&scenarios[at], ElementId::Wire(wire)).map(|ohms| ohms.0);
                self.view.prepared.ohms_from_first(net, &ohms)
            });
            (0..net.ends.len()).map(|row| [columns[0][row], columns[1][row], columns[2][row]]).collect()
        };
        self.nets.nets.iter().map(of).collect()
    }

    /// Wires that land on an end.
    pub(crate) fn landed(&self, end: End) -> &[(Id<Wire>, Side)] {
        self.landed.get(&end).map_or(&[], Vec::as_slice)
    }

    /// The pin in a cavity, if anything names it.
    pub(crate) fn pin(&self, connector: Id<Connector>, cavity: &str) -> Option<Id<Pin>> {
        self.pins.get(&(connector, Name::from(cavity))).copied()
    }

    /// Pins of a half that anything names.
    pub(crate) fn pins_of(&self, half: Id<Connector>) -> &[Id<Pin>] {
        &self.pins_of[half.row()]
    }

    /// Contacts of a pin with the pin across.
    pub(crate) fn across(&self, pin: Id<Pin>) -> &[(Id<Contact>, Id<Pin>)] {
        self.contacts.get(&pin).map_or(&[], Vec::as_slice)
    }

    /// A pin's row on its interface sheet, else that of the pin across.
    pub(crate) fn port(&self, pin: Id<Pin>) -> Option<&'v Port> {
        let own = self.ports.get(&pin).copied();
        let port = own.or_else(|| self.across(pin).iter().find_map(|(_, other)| self.ports.get(other).copied()));
        port.map(|port| &self.design.ports[port])
    }

    /// The half that a half mates with.
    pub(crate) fn mate(&self, half: Id<Connector>) -> Option<Id<Connector>> {
        self.mates[half]
    }

    /// Cores of a cable by position.
    pub(crate) fn cores(&self, cable: Id<Cable>) -> &[Id<Wire>] {
        &self.cores[cable.row()]
    }

    /// Why a pin counts as ordnance.
    pub(crate) fn ordnance(&self, pin: Id<Pin>) -> Option<&'static str> {
        self.ordnance.get(&pin).copied()
    }

    /// Why a net of the harness counts as ordnance.
    pub(crate) fn ordnance_net(&self, net: &HarnessNet) -> Option<&'static str> {
        net.ends.iter().find_map(|end| if let End::Pin(pin) = end { self.ordnance(*pin) } else { None })
    }

    /// A connector half as people write it.
    pub(crate) fn connector_name(&self, half: Id<Connector>) -> String {
        let name = &self.design.connectors[half].name;
        match name.strip_suffix(":mate") {
            Some(unit_side) => format!("{unit_side} (harness)"),
            None => name.to_string(),
        }
    }

    /// Where an end is, for a label or a sheet: its connector, splice, stud, ground point.
    pub(crate) fn place_of(&self, end: End) -> String {
        match end {
            End::Pin(pin) => self.connector_name(self.design.pins[pin].connector),
            other => self.design.end_name(other),
        }
    }

    /// Contact size of a cavity and how wires join it there.
    pub(crate) fn contact_size(&self, half: Id<Connector>, cavity: &str, pin: Option<Id<Pin>>) -> Option<Name> {
        let design = self.design;
        let by_contact = pin.and_then(|pin| self.across(pin).iter().find_map(|(contact, _)| design.contacts[*contact].spec));
        if let Some(spec) = by_contact {
            return Some(design.contact_specs[spec].size.clone());
        }
        let row = &design.connectors[half];
        let other = row.other_contacts.iter().find(|(name, _)| &**name == cavity).map(|(_, size)| size.value.clone());
        let by_arrangement = || design.arrangement_of(half)?.cavities.iter().find(|known| &*known.name == cavity)?.size.clone();
        other.or_else(|| row.contact.as_ref().map(|size| size.value.clone())).or_else(by_arrangement)
    }

    /// Part number of the contact in a cavity: of a contact size in use, as the catalog has it.
    pub(crate) fn contact_part(&self, half: Id<Connector>, cavity: &str, pin: Option<Id<Pin>>) -> Option<Name> {
        let design = self.design;
        let size = self.contact_size(half, cavity, pin)?;
        let own = pin.and_then(|pin| self.across(pin).iter().find_map(|(contact, _)| design.contacts[*contact].spec));
        let kind = if design.connectors[half].kind == ConnectorKind::Hermetic { ConnectorKind::Hermetic } else { ConnectorKind::Crimp };
        let spec = match own.map(|spec| &design.contact_specs[spec]) {
            Some(spec) if spec.kind == kind => Some(spec),
            _ => design.contact_specs.iter().map(|(_, spec)| spec).find(|spec| spec.size == size && spec.kind == kind),
        };
        match self.gender(half)? {
            Gender::Pins => spec?.parts[0].clone(),
            Gender::Sockets => spec?.parts[1].clone(),
        }
    }

    /// Names of the cavities of a half: those of its arrangement, else counted, else those that something names.
    pub(crate) fn cavities(&self, half: Id<Connector>) -> Vec<Name> {
        let design = self.design;
        if let Some(arrangement) = design.arrangement_of(half) {
            return arrangement.cavities.iter().map(|cavity| cavity.name.clone()).collect();
        }
        let row = &design.connectors[half];
        let like = row.mate.map(|mate| &design.connectors[mate.value]).filter(|_| row.implied == Implied::AsMate);
        match row.cavities.or(like.and_then(|like| like.cavities)) {
            Some(count) => (1..=count.value).map(|n| Name::from(n.to_string())).collect(),
            None => self.pins_of(half).iter().map(|pin| design.pins[*pin].cavity.clone()).collect(),
        }
    }

    /// Whether a half has pins or sockets: its own row, else the other of what its mate has.
    pub(crate) fn gender(&self, half: Id<Connector>) -> Option<Gender> {
        let own = self.design.connectors[half].gender.map(|gender| gender.value);
        own.or_else(|| {
            Some(match self.design.connectors[self.mate(half)?].gender?.value {
                Gender::Pins => Gender::Sockets,
                Gender::Sockets => Gender::Pins,
            })
        })
    }

    /// Halves on which wires land, in the order of the input.
    pub(crate) fn wired_halves(&self) -> Vec<Id<Connector>> {
        let mut wired = vec![false; self.design.connectors.len()];
        for end in self.landed.keys() {
            if let End::Pin(pin) = end {
                wired[self.design.pins[*pin].connector.row()] = true;
            }
        }
        self.design.connectors.ids().filter(|id| wired[id.row()]).collect()
    }

    /// The assembly of a wire.
    pub(crate) fn assembly(&self, wire: Id<Wire>) -> &Built {
        &self.assemblies[self.assembly_of[wire.row()]]
    }

    /// Halves on which wires land that leave the harness at a breakout.
    pub(crate) fn halves_at(&self, breakout: Id<BranchPoint>) -> &[Id<Connector>] {
        &self.halves_at[breakout.row()]
    }

    /// What a wire is marked with.
    pub(crate) fn marking(&self, wire: Id<Wire>) -> String {
        let row = &self.design.wires[wire];
        row.marking.as_ref().map_or(&row.name, |marking| &marking.value).to_string()
    }
}

/// `pin`, `socket`.
pub(crate) fn gender_word(gender: Option<Gender>) -> &'static str {
    match gender {
        Some(Gender::Pins) => "pin",
        Some(Gender::Sockets) => "socket",
        None => super::sheet::NOT_GIVEN,
    }
}
