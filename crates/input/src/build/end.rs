//! What conductors end on: connectors and their pins, splices, studs, grounds, nodes inside units; mates and contacts.

use super::{Build, Who, requote};
use crate::catalog::{How, Item};
use crate::codes;
use crate::quantity::Quantity;
use crate::value::{Row, Value};
use model::*;
use physics::{Ampere, Ohm, Volt};
use std::collections::{HashMap, HashSet};

/// Connectors with their pins, while pins are still being found.
#[derive(Default)]
pub(super) struct Ends {
    halves: Vec<HalfRow>,
    /// Connectors that only the wire list names, and their first place.
    implied: HashMap<Name, usize>,
    pins: Table<Pin>,
    /// Contact sizes in use, by catalog row.
    contact_specs: HashMap<usize, Id<ContactSpec>>,
    /// Arrangements in use, by catalog row.
    arrangements: HashMap<usize, Id<Arrangement>>,
    /// Row numbers of buses and nodes that are buses.
    pub(super) is_bus: Vec<bool>,
    /// Whether the folder declares units or connectors at all.
    any_declared: bool,
    /// Part of the wire list was not understood: a connector that seems to be missing may be named there.
    pub(super) unsure: bool,
}

struct HalfRow {
    row: Connector,
    pins: HashMap<Name, Id<Pin>>,
    /// The unnamed harness half of a unit's connector.
    as_mate: Option<usize>,
    /// Warned that wires are listed to the unit's side of a mated pair.
    warned: bool,
}

/// Who names an end.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum NamedBy {
    WireList,
    Element,
}

impl Ends {
    pub(super) fn into_design(self, design: &mut Design) {
        for half in self.halves {
            design.connectors.push(half.row);
        }
        design.pins = self.pins;
    }

    fn pin(&mut self, connector: usize, cavity: &str, at: Span) -> Id<Pin> {
        let half = &mut self.halves[connector];
        if let Some(&pin) = half.pins.get(cavity) {
            return pin;
        }
        let cavity = Name::from(cavity);
        let pin = self.pins.push(Pin { connector: Id::from_row(connector), cavity: cavity.clone(), at });
        half.pins.insert(cavity, pin);
        pin
    }
}

impl Build {
    /// Sections, units, connectors, splices, studs, grounds, breakouts, buses and nodes.
    pub(super) fn points(&mut self, rows: &[Row]) {
        self.ends.any_declared = rows.iter().any(|r| matches!(r.table.key, "unit" | "connector"));
        for row in rows {
            match row.table.key {
                "section" => {
                    let title = title(row);
                    self.design.sections.push(Section { name: row.name.clone(), title, at: row.at });
                }
                "unit" => {
                    let section = self.reference(row, "section", "section").map(|g| Id::from_row(g.value));
                    let who = who(row, Subject::Unit(Id::from_row(self.design.units.len())));
                    let temperature = self.number(row, "temperature", &who);
                    let breakout = self.at_breakout(row);
                    self.design.units.push(Unit {
                        name: row.name.clone(),
                        title: title(row),
                        section,
                        temperature,
                        breakout,
                        implied: false,
                        at: row.at,
                    });
                }
                "connector" => self.connector(row),
                "splice" => {
                    let who = who(row, Subject::Splice(Id::from_row(self.design.splices.len())));
                    let joint = self.joint(row, &who, 1e-3);
                    let temperature = self.number(row, "temperature", &who);
                    let breakout = self.at_breakout(row);
                    let mass = self.number(row, "mass", &who);
                    let rating = self.number(row, "rating", &who);
                    let solder = self.solder(row, &who);
                    let name = row.name.clone();
                    self.design.splices.push(Splice { name, joint, temperature, mass, rating, solder, breakout, at: row.at });
                }
                "stud" => {
                    let who = who(row, Subject::Stud(Id::from_row(self.design.studs.len())));
                    let joint = self.joint(row, &who, 1e-3);
                    let breakout = self.at_breakout(row);
                    let temperature = self.number(row, "temperature", &who);
                    let solder = self.solder(row, &who);
                    self.design.studs.push(Stud { name: row.name.clone(), joint, temperature, solder, breakout, at: row.at });
                }
                "ground" => {
                    let who = who(row, Subject::Ground(Id::from_row(self.design.grounds.len())));
                    let joint = self.joint(row, &who, 2.5e-3);
                    let reference = row.cell("reference").is_some_and(|c| matches!(c.value, Value::Flag(true)));
                    let breakout = self.at_breakout(row);
                    self.design.grounds.push(Ground { name: row.name.clone(), reference, joint, breakout, at: row.at });
                }
                "breakout" => self.breakout(row),
                "bus" | "node" => self.ends.is_bus.push(row.table.key == "bus"),
                _ => {}
            }
        }
        self.mates(rows);
        // A bus may name any end as its return, so buses come when all points are known by name.
        for row in rows.iter().filter(|r| matches!(r.table.key, "bus" | "node")) {
            let id = Id::from_row(self.row_number(row));
            let unit = self.reference(row, "unit", "unit").map(|g| g.map(Id::from_row));
            let is_bus = row.table.key == "bus";
            let who = who(row, Subject::Inner(id));
            let nominal: Option<Given<Volt>> = if is_bus { self.number(row, "nominal", &who) } else { None };
            self.design.inner_nodes.push(InnerNode { name: row.name.clone(), unit, is_bus, bus_return: None, nominal, at: row.at });
        }
    }

    /// The returns of buses, once the wire list has named its connectors.
    pub(super) fn bus_returns(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "bus") {
            let id: Id<InnerNode> = Id::from_row(self.row_number(row));
            let who = who(row, Subject::Inner(id));
            if let Some(cell) = row.cell("return").filter(|c| matches!(c.value, Value::Open)) {
                self.marked(&cell.mark, Standing::ToDetermine, &who, "return", cell.at);
            } else if let Some(end) = self.end(row, "return", &who)
                && id.row() < self.design.inner_nodes.len()
            {
                self.design.inner_nodes[id].bus_return = Some(end);
            }
        }
    }

    fn joint(&mut self, row: &Row, who: &Who, assumed: f64) -> Spread<Ohm> {
        self.spread_or(row, "joint_ohms", who, Quantity::Resistance, [assumed; 3], "usual joint; common practice, no source")
    }

    fn connector(&mut self, row: &Row) {
        let who = who(row, Subject::Connector(Id::from_row(self.ends.halves.len())));
        let unit = self.reference(row, "unit", "unit").map(|g| g.map(Id::from_row));
        let kind = match row.word("kind") {
            Some("hermetic") => ConnectorKind::Hermetic,
            Some("terminals") => ConnectorKind::Terminals,
            _ => ConnectorKind::Crimp,
        };
        let half = row.text("half").map(|(word, at)| Given::firm(if &**word == "plug" { Half::Plug } else { Half::Receptacle }, at));
        let mut contact = None;
        if let Some(cell) = row.cell("contact") {
            match &cell.value {
                Value::Text(size) => {
                    contact = Some(self.given(size.clone(), cell, &who, "contact"));
                    self.known_contact(size, kind, cell.at);
                }
                _ => drop(self.marked(&cell.mark, Standing::ToDetermine, &who, "contact", cell.at)),
            }
        }
        let mut other_contacts: Vec<(Name, Given<Name>)> = Vec::new();
        if let Some(cell) = row.cell("other_contacts")
            && let Value::Pairs(pairs) = &cell.value
        {
            for [(cavity_at, cavity), (at, size)] in pairs {
                if let Some((_, first)) = other_contacts.iter().find(|(known, _)| known == cavity) {
                    let message = format!("{} gives the contact of cavity {cavity} twice", row.words());
                    self.out.push(Diagnostic::error(codes::CONTRADICTION, *cavity_at, "", message).note(first.at, "first"));
                    continue;
                }
                self.known_contact(size, kind, *at);
                let note = self.given((), cell, &who, "other_contacts").note;
                other_contacts.push((cavity.clone(), Given { value: size.clone(), at: *at, note }));
            }
        }
        let mut cavities = None;
        if let Some(cell) = row.cell("cavities") {
            match cell.value {
                Value::Count(n) => cavities = Some(Given::firm(n, cell.at)),
                _ => drop(self.marked(&cell.mark, Standing::ToDetermine, &who, "cavities", cell.at)),
            }
        }
        for field in ["half", "gender", "keying"] {
            self.open_word(row, field, &who);
        }
        let arrangement = self.arrangement(row, &who);
        if let (Some(cavities), Some(arrangement)) = (cavities, arrangement) {
            self.same_count(row, cavities, arrangement);
        }
        let gender = row.text("gender").map(|(word, at)| Given::firm(if &**word == "pins" { Gender::Pins } else { Gender::Sockets }, at));
        let keying = self.named(row, "keying", &who);
        let section = self.reference(row, "section", "section").map(|g| g.map(Id::from_row));
        let own = self.row_number(row);
        self.once_each(row, "near");
        let mut near = Vec::new();
        for (at, name) in row.list("near").to_vec() {
            match self.reference_to(&name, at, "connector") {
                Some(other) if other.value == own => self.out.push(
                    Diagnostic::error(codes::SAME_END, at, "", format!("connector {} is listed as near itself", row.name))
                        .help("name the connectors beside it"),
                ),
                Some(other) => near.push(other.map(Id::from_row)),
                None => {}
            }
        }
        let temperature = self.number(row, "temperature", &who);
        let breakout = self.at_breakout(row);
        let shell = self.number(row, "shell", &who);
        let mass = self.number(row, "mass", &who);
        let rating = self.number(row, "rating", &who);
        let solder = self.solder(row, &who);
        let row = Connector {
            name: row.name.clone(),
            unit,
            mate: None,
            half,
            contact,
            other_contacts,
            kind,
            cavities,
            arrangement,
            gender,
            keying,
            near,
            section,
            stays: flag(row, "stays"),
            shell,
            terminated_in_place: flag(row, "terminated_in_place"),
            fills_unused: flag(row, "filled"),
            temperature,
            breakout,
            mass,
            rating,
            part: words(row, "part"),
            backshell: words(row, "backshell"),
            clocking: words(row, "clocking"),
            solder,
            implied: Implied::Declared,
            at: row.at,
        };
        self.ends.halves.push(HalfRow { row, pins: HashMap::new(), as_mate: None, warned: false });
    }

    /// What is stated of the solder of a row.
    fn solder(&mut self, row: &Row, who: &Who) -> Option<Solder> {
        let at = row.cell("solder")?.at;
        Some(Solder { limit: self.number(row, "solder", who), at })
    }

    /// The arrangement that a connector names, made when first used.
    fn arrangement(&mut self, row: &Row, who: &Who) -> Option<Given<Id<Arrangement>>> {
        self.open_word(row, "arrangement", who);
        let cell = row.cell("arrangement")?;
        let Value::Text(name) = &cell.value else { return None };
        let at = cell.at;
        let Some(found) = self.catalog.arrangement(name) else {
            if !self.catalog.may_have_arrangement(name) {
                let names: Vec<&str> = self.catalog.arrangements.iter().map(|a| &*a.name).collect();
                let mut diagnostic =
                    Diagnostic::error(codes::UNKNOWN_ARRANGEMENT, at, "", format!("the catalog has no insert arrangement {name}"));
                diagnostic = match self.out.closest(name, names.into_iter()) {
                    Some(meant) => {
                        let with = requote(&self.sources, at, meant);
                        diagnostic.help(format!("did you mean {meant}? more may be added in catalog/arrangements.csv")).replace(at, with)
                    }
                    None => diagnostic.help("arrangements may be added in catalog/arrangements.csv"),
                };
                self.out.push(diagnostic);
            }
            return None;
        };
        let id = match self.ends.arrangements.get(&found) {
            Some(&id) => id,
            None => {
                let known = &self.catalog.arrangements[found];
                let (name, cavities, at) = (known.name.clone(), known.cavities.clone(), known.at);
                let sizes = known.sizes.clone();
                let (how, source) = (known.how, known.source.clone());
                let (known_shell, known_mass, own_source) = (known.shell.clone(), known.mass.clone(), known.source.clone());
                let known_withstand = known.withstand.clone();
                self.design.catalog_sources.push((at, source.clone()));
                let note = (how != How::Firm).then(|| {
                    self.note(Note {
                        standing: if how == How::Practice { Standing::Assumed } else { Standing::Recalled },
                        what: format!("cavities of arrangement {name}"),
                        value: cavities.len().to_string(),
                        source,
                        at,
                        subject: None,
                        field: "arrangement",
                        owner: None,
                        need: None,
                    })
                });
                let shell = known_shell.map(|shell| {
                    let title = format!("arrangement {name}");
                    let shell = self.catalog_value(shell, "shell", "shell", crate::quantity::Quantity::Length, &title, &own_source);
                    shell.map(physics::Metre)
                });
                let mass = known_mass.map(|mass| {
                    let title = format!("arrangement {name}");
                    let mass = self.catalog_value(mass, "mass", "mass", crate::quantity::Quantity::Mass, &title, &own_source);
                    mass.map(physics::Kilogram)
                });
                let withstand = known_withstand.map(|withstand| {
                    let title = format!("arrangement {name}");
                    let withstand =
                        self.catalog_value(withstand, "withstand", "withstand", crate::quantity::Quantity::Voltage, &title, &own_source);
                    withstand.map(physics::Volt)
                });
                let id = self.design.arrangements.push(Arrangement { name, cavities, sizes, shell, mass, withstand, note, at });
                self.ends.arrangements.insert(found, id);
                id
            }
        };
        Some(self.given(id, cell, who, "arrangement"))
    }

    /// A number of cavities must be that of the arrangement.
    fn same_count(&mut self, row: &Row, cavities: Given<u32>, arrangement: Given<Id<Arrangement>>) {
        let known = &self.design.arrangements[arrangement.value];
        if known.cavities.len() != cavities.value as usize {
            let (name, count) = (known.name.clone(), known.cavities.len());
            self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    cavities.at,
                    "cavities",
                    format!("{} has {} cavities, its arrangement {name} has {count}", row.words(), cavities.value),
                )
                .note(arrangement.at, "arrangement")
                .help("leave out cavities: the arrangement says how many there are"),
            );
        }
    }

    fn known_contact(&mut self, size: &str, kind: ConnectorKind, at: Span) {
        if kind == ConnectorKind::Terminals || self.catalog.contact(size, kind).is_some() || self.catalog.may_have_contact(size) {
            return;
        }
        let word = if kind == ConnectorKind::Hermetic { "hermetic" } else { "crimp" };
        self.out.push(
            Diagnostic::error(codes::UNKNOWN_CONTACT, at, "", format!("the catalog has no {word} contact of size {size}"))
                .help(format!("sizes: {}; more may be added in catalog/contacts.csv", self.catalog.sizes(kind).join(", "))),
        );
    }

    /// Who mates with whom: stated on either half, agreed on both.
    fn mates(&mut self, rows: &[Row]) {
        let mut stated: Vec<Option<Given<usize>>> = vec![None; self.ends.halves.len()];
        for row in rows.iter().filter(|r| r.table.key == "connector") {
            let own = self.row_number(row);
            let Some(mate) = self.reference(row, "mate", "connector") else { continue };
            if mate.value == own {
                self.out.push(Diagnostic::error(
                    codes::MATES_DISAGREE,
                    mate.at,
                    "",
                    format!("connector {} cannot mate with itself", row.name),
                ));
                continue;
            }
            if let Some(slot) = stated.get_mut(own) {
                *slot = Some(mate);
            }
        }
        let mut claimed: HashMap<usize, (usize, Span)> = HashMap::new();
        for own in 0..stated.len() {
            let Some(mate) = stated[own] else { continue };
            let name = |n: usize| self.ends.halves.get(n).map_or("", |h| &*h.row.name);
            if let Some(Some(back)) = stated.get(mate.value)
                && back.value != own
            {
                // Reported once, from the half that comes first.
                if own < mate.value || stated.get(back.value).copied().flatten().is_none_or(|g| g.value != mate.value) {
                    self.out.push(
                        Diagnostic::error(
                            codes::MATES_DISAGREE,
                            mate.at,
                            format!("{} says {}", name(own), name(mate.value)),
                            format!("connectors {} and {} do not agree on what mates", name(own), name(mate.value)),
                        )
                        .note(back.at, format!("{} says {}", name(mate.value), name(back.value)))
                        .help("a connector half mates with one other half"),
                    );
                }
                continue;
            }
            if let Some((other, other_at)) = claimed.get(&mate.value).copied().filter(|(other, _)| *other != own) {
                self.out.push(
                    Diagnostic::error(
                        codes::MATES_DISAGREE,
                        mate.at,
                        "",
                        format!("connectors {} and {} both mate with {}", name(other), name(own), name(mate.value)),
                    )
                    .note(other_at, "")
                    .help("a connector half mates with one other half"),
                );
                continue;
            }
            claimed.insert(mate.value, (own, mate.at));
            if mate.value >= self.ends.halves.len() {
                continue;
            }
            self.ends.halves[own].row.mate = Some(mate.map(Id::from_row));
            if stated[mate.value].is_none() {
                self.ends.halves[mate.value].row.mate = Some(Given::firm(Id::from_row(own), mate.at));
            }
            if stated[mate.value].is_none() || own < mate.value {
                self.fit(own, mate.value);
            }
        }
    }

    /// Warns of halves that are both plugs, have different contacts or different cavities.
    fn fit(&mut self, a: usize, b: usize) {
        let (one, other) = (self.ends.halves[a].row.clone(), self.ends.halves[b].row.clone());
        self.halves_at_one_place(&one, &other);
        let mut found = Vec::new();
        if let (Some(x), Some(y)) = (&one.half, &other.half)
            && x.value == y.value
        {
            let word = if x.value == Half::Plug { "plugs" } else { "receptacles" };
            found.push((x.at, y.at, format!("connectors {} and {} mate but are both {word}", one.name, other.name)));
        }
        if let (Some(x), Some(y)) = (&one.contact, &other.contact)
            && x.value != y.value
        {
            found.push((
                x.at,
                y.at,
                format!("connectors {} and {} mate but have contacts of size {} and {}", one.name, other.name, x.value, y.value),
            ));
        }
        if let (Some(x), Some(y)) = (&one.cavities, &other.cavities)
            && x.value != y.value
        {
            found.push((
                x.at,
                y.at,
                format!("connectors {} and {} mate but have {} and {} cavities", one.name, other.name, x.value, y.value),
            ));
        }
        for (at, other_at, message) in found {
            self.out.push(Diagnostic::error(codes::HALVES_DO_NOT_FIT, at, "", message).note(other_at, "").warning());
        }
    }

    /// The end that a field of an element names.
    pub(super) fn end(&mut self, row: &Row, field: &'static str, who: &Who) -> Option<Given<End>> {
        let (text, at) = row.text(field)?;
        let end = self.resolve(&text.clone(), at, NamedBy::Element)?;
        let cell = row.cell(field)?;
        Some(self.given(end, cell, who, field))
    }

    /// The end that a text names.
    pub(super) fn resolve(&mut self, text: &str, at: Span, from: NamedBy) -> Option<End> {
        if text == "stowed" {
            if from == NamedBy::Element {
                self.out.push(Diagnostic::error(codes::BAD_END, at, "", "only the end of a wire can be stowed"));
                return None;
            }
            return Some(End::Stowed);
        }
        if let Some((kind, name)) = text.split_once(':') {
            return self.resolve_kind(kind.trim(), name.trim(), at, from);
        }
        match text.split_once('.') {
            Some((connector, cavity)) => self.resolve_pin(connector, cavity, at, from),
            None => {
                let mut diagnostic = Diagnostic::error(codes::BAD_END, at, "", format!("{text:?} is not the end of a conductor"));
                const ENDS: [&str; 6] = ["splice", "stud", "ground", "bus", "node", "breakout"];
                let kind = self.names.kinds_of(text).into_iter().find(|k| ENDS.contains(k));
                diagnostic = if let Some(kind) = kind {
                    let kind = if kind == "breakout" { "branch" } else { kind };
                    diagnostic
                        .help(format!("{text} is a {kind}: write {kind}:{text}"))
                        .replace(at, requote(&self.sources, at, &format!("{kind}:{text}")))
                } else if self.names.find("connector", text).is_some() {
                    diagnostic.help(format!("{text} is a connector: name its pin, for example {text}.1, or shell:{text}"))
                } else {
                    diagnostic.help(
                        "write a pin as J3.14, or splice:SP1, stud:ST1, ground:G1, bus:A, node:X, shell:J1, case:PDU, branch:B1, stowed",
                    )
                };
                self.out.push(diagnostic);
                None
            }
        }
    }

    fn resolve_kind(&mut self, kind: &str, name: &str, at: Span, from: NamedBy) -> Option<End> {
        const KINDS: [&str; 7] = ["splice", "stud", "ground", "shell", "case", "bus", "node"];
        let declared = match kind {
            "splice" | "stud" | "ground" | "bus" | "node" => KINDS.iter().find(|k| **k == kind).copied(),
            "shell" => Some("connector"),
            "case" => Some("unit"),
            "branch" | "breakout" => Some("breakout"),
            _ => None,
        };
        let Some(declared) = declared else {
            let mut diagnostic = Diagnostic::error(codes::BAD_END, at, "", format!("{kind:?} is not a kind of end"));
            let all = KINDS.into_iter().chain(["branch"]);
            if let Some(meant) = self.out.closest(kind, all) {
                diagnostic = diagnostic
                    .help(format!("did you mean {meant}:{name}?"))
                    .replace(at, requote(&self.sources, at, &format!("{meant}:{name}")));
            } else if self.names.find(kind, name).is_some() {
                diagnostic =
                    diagnostic.help(format!("a conductor cannot end on a {kind} itself: name the pin that the {kind} is connected to"));
            } else {
                diagnostic = diagnostic.help("kinds of end: splice, stud, ground, shell, case, bus, node, branch");
            }
            self.out.push(diagnostic);
            return None;
        };
        if kind == "shell" && self.names.find("connector", name).is_none() {
            if let Some(&implied) = self.ends.implied.get(name) {
                return Some(End::Shell(Id::from_row(implied)));
            }
            if from == NamedBy::WireList && name_fault(name).is_none() {
                return Some(End::Shell(Id::from_row(self.implied_connector(name, at))));
            }
        }
        if let Some(found) = self.names.find(declared, name) {
            let row = found.row;
            return Some(match declared {
                "splice" => End::Splice(Id::from_row(row)),
                "stud" => End::Stud(Id::from_row(row)),
                "ground" => End::Ground(Id::from_row(row)),
                "connector" => End::Shell(Id::from_row(row)),
                "unit" => End::Case(Id::from_row(row)),
                "breakout" => End::Branch(Id::from_row(row)),
                _ => End::Inner(Id::from_row(row)),
            });
        }
        let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no {declared} {name}"));
        let elsewhere = KINDS.into_iter().filter(|k| *k != kind).find(|k| self.names.find(k, name).is_some());
        if let Some(other) = elsewhere {
            diagnostic = diagnostic
                .help(format!("{name} is a {other}: write {other}:{name}"))
                .replace(at, requote(&self.sources, at, &format!("{other}:{name}")));
        } else if let Some(meant) = self.names.closest(declared, name, &mut self.out) {
            let mended = format!("{kind}:{meant}");
            diagnostic = diagnostic.help(format!("did you mean {mended}?")).replace(at, requote(&self.sources, at, &mended));
        } else if name_fault(name).is_none() {
            diagnostic = diagnostic.help(format!("declare it with [{declared}.{name}]"));
        } else {
            diagnostic = diagnostic.help(format!("write {kind}:ID with the id of a {declared}"));
        }
        self.out.push(diagnostic);
        None
    }

    fn resolve_pin(&mut self, connector: &str, cavity: &str, at: Span, from: NamedBy) -> Option<End> {
        for (part, word) in [(connector, "connector"), (cavity, "cavity")] {
            if let Some(fault) = name_fault(part) {
                self.out.push(
                    Diagnostic::error(codes::BAD_END, at, "", format!("{connector}.{cavity} is not a pin: the {word} is no id, {fault}"))
                        .help("write a pin as CONNECTOR.CAVITY, for example J3.14"),
                );
                return None;
            }
        }
        let declared = self.names.find("connector", connector).map(|d| d.row);
        let half = match declared.or_else(|| self.ends.implied.get(connector).copied()) {
            Some(half) => half,
            None if from == NamedBy::WireList => self.implied_connector(connector, at),
            None if self.ends.unsure => return None,
            None => {
                let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no connector {connector}"));
                if let Some(meant) = self.names.closest("connector", connector, &mut self.out) {
                    let mended = format!("{meant}.{cavity}");
                    diagnostic = diagnostic.help(format!("did you mean {mended}?")).replace(at, requote(&self.sources, at, &mended));
                } else {
                    diagnostic = diagnostic.help(format!("declare it with [connector.{connector}], or list a wire to it"));
                }
                self.out.push(diagnostic);
                return None;
            }
        };
        if half >= self.ends.halves.len() {
            // The row of the connector was not understood; its pins are not judged.
            return None;
        }
        if !self.cavity_exists(half, cavity, at) {
            return None;
        }
        if from == NamedBy::WireList {
            return Some(End::Pin(self.wire_pin(half, cavity, at)));
        }
        Some(End::Pin(self.ends.pin(half, cavity, at)))
    }

    /// The pin of a cavity of a connector's own half.
    pub(super) fn own_pin(&mut self, half: usize, cavity: &str, at: Span) -> Option<Id<Pin>> {
        if let Some(fault) = name_fault(cavity) {
            self.out.push(Diagnostic::error(codes::BAD_ID, at, "", format!("{cavity:?} is not a cavity: {fault}")));
            return None;
        }
        if half >= self.ends.halves.len() || !self.cavity_exists(half, cavity, at) {
            return None;
        }
        Some(self.ends.pin(half, cavity, at))
    }

    /// A pin's connector and cavity.
    pub(super) fn pin_row(&self, pin: Id<Pin>) -> &Pin {
        &self.ends.pins[pin]
    }

    pub(super) fn connector_name(&self, connector: Id<Connector>) -> Name {
        self.ends.halves[connector.row()].row.name.clone()
    }

    /// A pin as people write it.
    pub(super) fn pin_words(&self, pin: Id<Pin>) -> String {
        let row = &self.ends.pins[pin];
        format!("{}.{}", self.ends.halves[row.connector.row()].row.name, row.cavity)
    }

    /// The unit in whose wall a pin sits.
    pub(super) fn unit_of(&self, pin: Id<Pin>) -> Option<Id<Unit>> {
        self.ends.halves[self.ends.pins[pin].connector.row()].row.unit.map(|u| u.value)
    }

    fn cavity_exists(&mut self, half: usize, cavity: &str, at: Span) -> bool {
        let row = &self.ends.halves[half].row;
        let Some(cavities) = row.cavities else { return true };
        let plain = cavity.bytes().all(|b| b.is_ascii_digit()) && !cavity.starts_with('0');
        if plain && cavity.parse::<u32>().is_ok_and(|n| (1..=cavities.value).contains(&n)) {
            return true;
        }
        let unit = row.unit.and_then(|u| (u.value.row() < self.design.units.len()).then(|| self.design.units[u.value].name.clone()));
        let on = unit.map_or(String::new(), |unit| format!(" on unit {unit}"));
        let name = row.name.clone();
        let meant = self
            .out
            .closest(cavity, (1..=cavities.value.min(200)).map(|n| n.to_string()).collect::<Vec<_>>().iter().map(String::as_str))
            .map(str::to_owned);
        // The place holds the whole pin, or its cavity alone.
        let holds_both = self.sources.slice(at).contains('.');
        let mut diagnostic = Diagnostic::error(
            codes::NO_SUCH_PIN,
            at,
            format!("connector {name} has cavities 1 to {}", cavities.value),
            format!("no pin {name}.{cavity}{on}"),
        )
        .note(cavities.at, "declared here");
        if let Some(meant) = meant {
            let mended = if holds_both { format!("{name}.{meant}") } else { meant.clone() };
            diagnostic = diagnostic.help(format!("did you mean {name}.{meant}?")).replace(at, requote(&self.sources, at, &mended));
        }
        self.out.push(diagnostic);
        false
    }

    /// A connector that the wire list names and nothing declares.
    fn implied_connector(&mut self, name: &str, at: Span) -> usize {
        if let Some(&known) = self.ends.implied.get(name) {
            return known;
        }
        if self.ends.any_declared {
            let mut diagnostic =
                Diagnostic::error(codes::UNDECLARED_CONNECTOR, at, "", format!("connector {name} is named by the wire list alone"))
                    .warning();
            diagnostic = match self.names.closest("connector", name, &mut self.out) {
                Some(meant) => {
                    let mended = self.sources.slice(at).replacen(name, meant, 1);
                    diagnostic
                        .help(format!("did you mean {}? else declare it with [connector.{name}]", mended.trim_matches(['"', '\''])))
                        .replace(at, mended)
                }
                None => diagnostic.help(format!("declare it with [connector.{name}]")),
            };
            self.out.push(diagnostic);
        }
        let index = self.ends.halves.len();
        let row = Connector {
            name: name.into(),
            unit: None,
            mate: None,
            half: None,
            contact: None,
            other_contacts: Vec::new(),
            kind: ConnectorKind::Crimp,
            cavities: None,
            arrangement: None,
            gender: None,
            keying: None,
            near: Vec::new(),
            section: None,
            stays: None,
            shell: None,
            terminated_in_place: None,
            fills_unused: None,
            temperature: None,
            breakout: None,
            mass: None,
            rating: None,
            part: None,
            backshell: None,
            clocking: None,
            solder: None,
            implied: Implied::ByWireList,
            at,
        };
        self.ends.halves.push(HalfRow { row, pins: HashMap::new(), as_mate: None, warned: false });
        self.ends.implied.insert(name.into(), index);
        index
    }

    /// The pin a listed wire ends on: the harness half's, where the list names the unit's.
    fn wire_pin(&mut self, half: usize, cavity: &str, at: Span) -> Id<Pin> {
        let row = &self.ends.halves[half].row;
        let harness_side = row.implied == Implied::Declared && row.unit.is_some() && row.kind != ConnectorKind::Terminals;
        let own = self.ends.pin(half, cavity, at);
        if !harness_side {
            return own;
        }
        if let Some(mate) = self.ends.halves[half].row.mate {
            if !self.ends.halves[half].warned {
                self.ends.halves[half].warned = true;
                let name = self.ends.halves[half].row.name.clone();
                let other = self.ends.halves.get(mate.value.row()).map_or(name.clone(), |h| h.row.name.clone());
                self.out.push(
                    Diagnostic::error(
                        codes::WRONG_HALF,
                        at,
                        "",
                        format!("the wire is listed to {name}.{cavity} inside the unit, and not to the harness half {other}"),
                    )
                    .note(mate.at, "the halves mate here")
                    .help(format!("write {other}.{cavity} for a wire of the harness; as listed, it is taken as a wire inside the unit"))
                    .warning(),
                );
            }
            return own;
        }
        let mate = match self.ends.halves[half].as_mate {
            Some(mate) => mate,
            None => {
                let unit_side = &self.ends.halves[half].row;
                let row = Connector {
                    name: format!("{}:mate", unit_side.name).into(),
                    unit: None,
                    mate: Some(Given::firm(Id::from_row(half), unit_side.at)),
                    half: unit_side.half.map(|h| h.map(|h| if h == Half::Plug { Half::Receptacle } else { Half::Plug })),
                    contact: unit_side.contact.clone(),
                    other_contacts: unit_side.other_contacts.clone(),
                    kind: unit_side.kind,
                    cavities: unit_side.cavities,
                    arrangement: unit_side.arrangement,
                    gender: unit_side.gender.map(|g| g.map(|g| if g == Gender::Pins { Gender::Sockets } else { Gender::Pins })),
                    keying: unit_side.keying.clone(),
                    near: Vec::new(),
                    section: None,
                    stays: None,
                    // Who says so of a half without a row says it of both.
                    shell: unit_side.shell,
                    terminated_in_place: unit_side.terminated_in_place,
                    fills_unused: unit_side.fills_unused,
                    temperature: None,
                    breakout: None,
                    mass: None,
                    rating: unit_side.rating,
                    part: None,
                    backshell: None,
                    clocking: None,
                    solder: unit_side.solder,
                    implied: Implied::AsMate,
                    at: unit_side.at,
                };
                let index = self.ends.halves.len();
                self.ends.halves.push(HalfRow { row, pins: HashMap::new(), as_mate: None, warned: false });
                self.ends.halves[half].as_mate = Some(index);
                index
            }
        };
        self.ends.pin(mate, cavity, at)
    }

    /// Mated pins that are both used, each pair one contact.
    pub(super) fn contacts(&mut self) {
        let pins: Vec<(Id<Pin>, usize, Name)> = self.ends.pins.iter().map(|(id, p)| (id, p.connector.row(), p.cavity.clone())).collect();
        let mut sized: HashMap<usize, (Option<usize>, Option<NoteId>)> = HashMap::new();
        for (pin, half, cavity) in pins {
            let row = &self.ends.halves[half].row;
            let mate = match (self.ends.halves[half].as_mate, row.mate) {
                (Some(mate), _) => mate,
                (None, Some(mate)) if row.implied == Implied::Declared => mate.value.row(),
                _ => continue,
            };
            if mate >= self.ends.halves.len() || !self.comes_first(half, mate) {
                continue;
            }
            let Some(&other) = self.ends.halves[mate].pins.get(&cavity) else { continue };
            let (spec, size_note) = match self.size_in_cavity(half, mate, &cavity) {
                Some(found) => found,
                None => match sized.get(&half) {
                    Some(found) => *found,
                    None => {
                        let found = self.size_of(half, mate);
                        sized.insert(half, found);
                        found
                    }
                },
            };
            let Some(spec) = spec else { continue };
            let id = self.contact_spec(spec);
            let ohms = self.design.contact_specs[id].ohms;
            let at = row_at(&self.ends.halves[half].row);
            self.design.contacts.push(Contact { a: pin, b: other, ohms, spec: Some(id), size_note, at });
        }
    }

    /// Whether a half is the `a` of its contacts: the unit's, else the receptacle, else the one declared first.
    fn comes_first(&self, half: usize, mate: usize) -> bool {
        let (one, other) = (&self.ends.halves[half].row, &self.ends.halves[mate].row);
        if one.unit.is_some() != other.unit.is_some() {
            return one.unit.is_some();
        }
        let is_receptacle = |row: &Connector| row.half.is_some_and(|h| h.value == Half::Receptacle);
        if is_receptacle(one) != is_receptacle(other) {
            return is_receptacle(one);
        }
        half < mate
    }

    /// The catalog row of a cavity's contact where it is stated for this cavity, or follows from the arrangement of either half; `None`
    /// where the connectors' own size counts.
    fn size_in_cavity(&mut self, half: usize, mate: usize, cavity: &str) -> Option<(Option<usize>, Option<NoteId>)> {
        let halves = [&self.ends.halves[half].row, &self.ends.halves[mate].row];
        let stated = halves.iter().flat_map(|row| &row.other_contacts).find(|(known, _)| &**known == cavity);
        let kind = self.mated_kind(half, mate);
        if let Some((_, size)) = stated {
            return Some((self.catalog.contact(&size.value, kind), size.note));
        }
        // A size that was assumed for another cavity has the place of its connector's row.
        if halves.iter().any(|row| row.contact.as_ref().is_some_and(|contact| contact.at != row.at)) {
            return None;
        }
        let stated = halves.iter().find_map(|row| row.arrangement)?;
        let arrangement = &self.design.arrangements[stated.value];
        let in_it = arrangement.cavities.iter().find(|c| &*c.name == cavity)?;
        let at = stated.at;
        let (size, note) = match &in_it.size {
            Some(size) => (size.clone(), stated.note.or(arrangement.note)),
            None => {
                // Which cavity has which size is not known: the size with the greatest resistance is the cautious one.
                let (name, sizes) = (arrangement.name.clone(), arrangement.sizes.clone());
                let limit = |size: &str| self.catalog.contact(size, kind).map(|row| self.catalog.contacts[row].limit);
                let (size, _) =
                    sizes.into_iter().max_by(|(a, _), (b, _)| limit(a).partial_cmp(&limit(b)).unwrap_or(std::cmp::Ordering::Equal))?;
                let row = &self.ends.halves[half].row;
                let who = Who { subject: Subject::Connector(Id::from_row(half)), kind: "connector", name: row.name.clone(), at: row.at };
                let why =
                    format!("arrangement {name} has several sizes and no contact size is stated; the one with the greatest resistance");
                let note = self.assumed(&who, "contact", size.to_string(), &why);
                (size, Some(note))
            }
        };
        let found = self.catalog.contact(&size, kind);
        if found.is_none() {
            self.known_contact(&size, kind, at);
        }
        Some((found, note))
    }

    /// Two halves of which one is hermetic meet in a hermetic contact.
    fn mated_kind(&self, half: usize, mate: usize) -> ConnectorKind {
        let kinds = [self.ends.halves[half].row.kind, self.ends.halves[mate].row.kind];
        if kinds.contains(&ConnectorKind::Hermetic) { ConnectorKind::Hermetic } else { ConnectorKind::Crimp }
    }

    /// The catalog row of a connector's contacts; size 20 where no half states one.
    fn size_of(&mut self, half: usize, mate: usize) -> (Option<usize>, Option<NoteId>) {
        let row = &self.ends.halves[half].row;
        let kind = self.mated_kind(half, mate);
        let stated = row.contact.clone().or_else(|| self.ends.halves[mate].row.contact.clone());
        if let Some(size) = stated {
            let found = self.catalog.contact(&size.value, kind);
            if found.is_none() {
                self.known_contact(&size.value, kind, size.at);
            }
            return (found, size.note);
        }
        let who = Who { subject: Subject::Connector(Id::from_row(half)), kind: "connector", name: row.name.clone(), at: row.at };
        let note = self.assumed(&who, "contact", "20".to_owned(), "the connector states no contact size; 20 is usual");
        let size = Given { value: Name::from("20"), at: who.at, note: Some(note) };
        self.ends.halves[half].row.contact = Some(size);
        (self.catalog.contact("20", kind), Some(note))
    }

    /// The model's row of a contact size, made when first used.
    fn contact_spec(&mut self, row: usize) -> Id<ContactSpec> {
        if let Some(&id) = self.ends.contact_specs.get(&row) {
            return id;
        }
        let contact = &self.catalog.contacts[row];
        let word = if contact.kind == ConnectorKind::Hermetic { "hermetic contact" } else { "contact" };
        let title = format!("{word} size {}", contact.size);
        let (size, kind, gauge_min, gauge_max) = (contact.size.clone(), contact.kind, contact.gauge_min, contact.gauge_max);
        let (limit, limit_at, at, how) = (contact.limit, contact.limit_at, contact.at, contact.current.how);
        let limit_how = if contact.limit_assumed { How::Practice } else { how };
        let (alloy, mass, parts) = (contact.alloy, contact.mass.clone(), contact.parts.clone());
        let (source, source_of_current) = (contact.source.clone(), contact.source_of_current.clone());
        let current = contact.current.clone();
        let resistance = |share: f64| crate::quantity::show(limit * share, Quantity::Resistance);
        let high = self.catalog_note(limit_how, format!("greatest resistance of {title}"), resistance(1.0), &source, "drop", limit_at);
        let mut assume = |share: f64, word: &str, why: &str| {
            self.note(Note {
                standing: Standing::Assumed,
                what: format!("{word} resistance of {title}"),
                value: resistance(share),
                source: why.to_owned(),
                at: limit_at,
                subject: None,
                field: "drop",
                owner: None,
                need: None,
            })
        };
        let typical = assume(0.5, "typical", "half of the limit");
        let low = assume(0.05, "least", "a tenth of the typical value");
        let ohm = |share: f64, note| Given { value: Ohm(limit * share), at: limit_at, note };
        let ohms = Spread { low: ohm(0.05, Some(low)), typical: ohm(0.5, Some(typical)), high: ohm(1.0, high) };
        let rating = self.test_current(&current, &title, &source_of_current);
        let mut currents = Vec::new();
        for row in self.catalog.currents(&size, kind).to_vec() {
            let title = format!("{title} with {} AWG", row.gauge);
            currents.push((row.gauge, self.test_current(&row.current, &title, &row.source)));
        }
        let mass = mass.map(|mass| {
            let value = crate::quantity::show(mass.si, Quantity::Mass);
            let note = self.catalog_note(mass.how, format!("mass of {title}"), value, &source, "mass", mass.at);
            Given { value: physics::Kilogram(mass.si), at: mass.at, note }
        });
        self.design.catalog_sources.push((at, source));
        let spec = ContactSpec { size, kind, gauge_min, gauge_max, rating, currents, ohms, alloy, mass, parts, at };
        let id = self.design.contact_specs.push(spec);
        self.ends.contact_specs.insert(row, id);
        id
    }

    fn test_current(&mut self, current: &Item, title: &str, source: &str) -> Given<Ampere> {
        let value = crate::quantity::show(current.si, Quantity::Current);
        let note = self.catalog_note(current.how, format!("test current of {title}"), value, source, "current", current.at);
        Given { value: Ampere(current.si), at: current.at, note }
    }

    /// The note of a catalog value that is not firm.
    fn catalog_note(&mut self, how: How, what: String, value: String, source: &str, field: &'static str, at: Span) -> Option<NoteId> {
        let (standing, source) = match how {
            How::Firm => return None,
            How::Recalled => (Standing::Recalled, source.to_owned()),
            How::Practice => (Standing::Assumed, "common practice, no source".to_owned()),
        };
        Some(self.note(Note { standing, what, value, source, at, subject: None, field, owner: None, need: None }))
    }

    /// The reference, and a path to it from every ground point that has none.
    pub(super) fn ground_paths(&mut self) {
        let count = self.design.grounds.len();
        if count == 0 {
            return;
        }
        let reference = self.design.grounds.ids().find(|id| self.design.grounds[*id].reference);
        let reference = match reference {
            Some(reference) => reference,
            None => {
                let first: Id<Ground> = Id::from_row(0);
                let row = &self.design.grounds[first];
                let who = Who { subject: Subject::Ground(first), kind: "ground", name: row.name.clone(), at: row.at };
                self.assumed(&who, "reference", "true".to_owned(), "no ground point says `reference = true`; the first one is taken");
                self.design.grounds[first].reference = true;
                first
            }
        };
        // Ends that structure rows tie together, followed from every reference.
        let mut tied: HashMap<End, Vec<End>> = HashMap::new();
        for (_, path) in self.design.structure_paths.iter() {
            tied.entry(path.from.value).or_default().push(path.to.value);
            tied.entry(path.to.value).or_default().push(path.from.value);
        }
        let mut reached: HashSet<End> = HashSet::new();
        let reach = |from: End, reached: &mut HashSet<End>| {
            let mut open = vec![from];
            while let Some(end) = open.pop() {
                if reached.insert(end) {
                    open.extend(tied.get(&end).into_iter().flatten().copied());
                }
            }
        };
        for id in self.design.grounds.ids().filter(|id| self.design.grounds[*id].reference) {
            reach(End::Ground(id), &mut reached);
        }
        for id in self.design.grounds.ids() {
            if reached.contains(&End::Ground(id)) {
                continue;
            }
            reach(End::Ground(id), &mut reached);
            let (ground, at) = (self.design.grounds[id].name.clone(), self.design.grounds[id].at);
            let path: Id<StructurePath> = Id::from_row(self.design.structure_paths.len());
            let name: Name = format!("{ground}:structure").into();
            let who = Who { subject: Subject::Element(ElementId::StructurePath(path)), kind: "structure", name: name.clone(), at };
            let ohms = self.assumed_spread(
                &who,
                "ohms",
                Quantity::Resistance,
                [5e-3; 3],
                "no structure row ties the ground point to the reference; FAA AC 43.13-1B accepts 0.005 ohm",
            );
            let from = Given::firm(End::Ground(id), at);
            let to = Given::firm(End::Ground(reference), at);
            self.design.structure_paths.push(StructurePath { name, from, to, ohms, at });
        }
    }
}

fn row_at(row: &Connector) -> Span {
    row.mate.map_or(row.at, |m| m.at)
}

/// A text as it is written.
pub(super) fn words(row: &Row, key: &str) -> Option<Given<Name>> {
    row.text(key).map(|(text, at)| Given::firm(text.clone(), at))
}

/// `true` or `false`, if it is stated.
pub(super) fn flag(row: &Row, key: &str) -> Option<Given<bool>> {
    row.cell(key).and_then(|c| match c.value {
        Value::Flag(is) => Some(Given::firm(is, c.at)),
        _ => None,
    })
}

pub(super) fn title(row: &Row) -> String {
    row.word("title").unwrap_or_default().to_owned()
}

pub(super) fn who(row: &Row, subject: Subject) -> Who {
    Who { subject, kind: row.table.key, name: row.name.clone(), at: row.at }
}
