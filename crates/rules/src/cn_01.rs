//! CN-01: the live half has sockets.

use crate::case::Missing;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("CN-01"),
    title: "live half has sockets",
    unit: Unit::Nothing,
    what: "With a mated pair parted, a half that stays with something live (stays), or that gives power (power-out) and states its gender, \
           has sockets, or none of its pins is live: joined on its own side with the positive terminal of a source or converter, as \
           switches stand in any phase. Of a half that gives power only the pins called power-out count. \
           Where two halves belong to different sections each states stays.",
    why: "A bare live pin is touched by a hand, a tool or the edge of the other shell.",
    source: "Source half carries sockets: common space practice, ECSS-E-ST-20C [from memory]. Live mating: NASA LLIS 0579 [read].",
    remedy: "The other gender on both halves, or a switch that is open whenever the pair is parted.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    let mut gives_power = vec![false; design.connectors.len()];
    let gives = |pin: Id<Pin>| wiring.port_on(pin).is_some_and(|port| design.ports[port].meaning.value == PinMeaning::PowerOut);
    for (_, pin) in design.pins.iter().filter(|(id, _)| gives(*id)) {
        gives_power[pin.connector.row()] = true;
    }
    let stays = |row: &Connector| row.stays.is_some_and(|stays| stays.value);
    let is_subject =
        |id: Id<Connector>, row: &Connector| row.mate.is_some() && (stays(row) || (row.gender.is_some() && gives_power[id.row()]));
    for (id, row) in design.connectors.iter().filter(|(id, row)| !is_subject(*id, row) && row.stays.is_none()) {
        let Some(mate) = row.mate.filter(|mate| parts_from(design, id, mate.value)) else { continue };
        let why = format!(
            "it parts from {} with its section, and whether it stays with what can be live is not stated",
            design.connectors[mate.value].name
        );
        out.not_judged(RULE.code, Subject::Connector(id), row.at, Missing::new("stays", why));
    }
    if !design.connectors.iter().any(|(id, row)| is_subject(id, row)) {
        return;
    }
    let mut pins_of: Vec<Vec<Id<Pin>>> = vec![Vec::new(); design.connectors.len()];
    for (id, pin) in design.pins.iter() {
        pins_of[pin.connector.row()].push(id);
    }
    let network = Live::new(case);
    for (id, row) in design.connectors.iter().filter(|(id, row)| is_subject(*id, row)) {
        let subject = Subject::Connector(id);
        // Sockets may be live: that is what they are for.
        if row.gender.is_some_and(|gender| gender.value == Gender::Sockets) {
            out.judged(RULE.code, subject, row.gender.and_then(|gender| gender.note));
            continue;
        }
        let live = pins_of[id.row()]
            .iter()
            .copied()
            .find(|&pin| case.prepared.node(End::Pin(pin)).is_some_and(|node| wiring.is_fed(node) && network.is_live(id, node)));
        match (live, row.gender) {
            (None, _) => out.judged(RULE.code, subject, None),
            (Some(pin), None) => {
                let why =
                    format!("{} is live when the pair is parted, and whether it has pins or sockets is not stated", design.pin_name(pin));
                out.not_judged(RULE.code, subject, row.at, Missing::new("gender", why));
            }
            (Some(pin), Some(gender)) => {
                out.judged(RULE.code, subject, gender.note);
                let text = format!("it has pins, and {} is live when the pair is parted", design.pin_name(pin));
                let also = wiring.port_at(pin).map(|port| crate::papers::place(design.ports[port].at, "the live pin"));
                out.found(case, RULE.code, subject, gender.at, text, also.into_iter().collect());
            }
        }
    }
}

/// Whether two halves belong to different sections: there the vehicle parts.
fn parts_from(design: &Design, one: Id<Connector>, other: Id<Connector>) -> bool {
    let section = |id: Id<Connector>| {
        let row = &design.connectors[id];
        let of_unit = || row.unit.and_then(|unit| design.units[unit.value].section);
        row.section.map(|section| section.value).or_else(of_unit)
    };
    section(one).zip(section(other)).is_some_and(|(a, b)| a != b)
}

/// What conducts in some phase, and where sources give.
struct Live {
    /// Of each node: its neighbours.
    next: Vec<Vec<Neighbour>>,
    gives: Vec<bool>,
}

/// A node that conducts to another, and the connector halves of the contact between, if it is one.
type Neighbour = (u32, Option<[Id<Connector>; 2]>);

impl Live {
    fn new(case: &Case) -> Live {
        let (design, prepared) = (case.design, case.prepared);
        let mut conducts = vec![false; prepared.branches().len()];
        for phase in design.phases.ids() {
            for (row, law) in prepared.laws(&Scenario::new(phase, Corner::Typical)).iter().enumerate() {
                conducts[row] |= *law != analysis::Law::Open;
            }
        }
        let mut next = vec![Vec::new(); prepared.nodes()];
        let mut gives = vec![false; prepared.nodes()];
        for (branch, _) in prepared.branches().iter().zip(conducts).filter(|(_, conducts)| *conducts) {
            let (a, b) = (branch.from.row(), branch.to.row());
            let mut join = |both_ways: bool, halves: Option<[Id<Connector>; 2]>| {
                next[b].push((a as u32, halves));
                if both_ways {
                    next[a].push((b as u32, halves));
                }
            };
            match branch.element {
                ElementId::Source(_) => gives[a] = true,
                ElementId::Converter(_) if branch.part == 1 => gives[a] = true,
                // A pin is live through a diode only from the anode: the search goes from cathode to anode.
                ElementId::Diode(_) => join(false, None),
                ElementId::Contact(id) => {
                    let contact = &design.contacts[id];
                    join(true, Some([contact.a, contact.b].map(|pin| design.pins[pin].connector)));
                }
                ElementId::Wire(_)
                | ElementId::Link(_)
                | ElementId::FittedLink(_)
                | ElementId::Strap(_)
                | ElementId::StructurePath(_)
                | ElementId::Protector(_)
                | ElementId::Switch(_) => join(true, None),
                _ => {}
            }
        }
        Live { next, gives }
    }

    /// Whether a source's positive terminal reaches a node without going through the contacts of a connector half.
    fn is_live(&self, half: Id<Connector>, start: NodeId) -> bool {
        let mut seen = std::collections::HashSet::from([start.0]);
        let mut open = vec![start.0];
        while let Some(node) = open.pop() {
            if self.gives[node as usize] {
                return true;
            }
            for &(other, halves) in &self.next[node as usize] {
                let parted = halves.is_some_and(|halves| halves.contains(&half));
                if !parted && seen.insert(other) {
                    open.push(other);
                }
            }
        }
        false
    }
}
