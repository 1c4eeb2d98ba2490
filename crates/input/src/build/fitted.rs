//! Plugs, caps, savers, adapters with their links; what each phase has fitted.

use super::end::who;
use super::{Build, requote};
use crate::codes;
use crate::names::FITTED_KINDS;
use crate::quantity::Quantity;
use crate::value::{Row, Value};
use model::*;
use physics::Ohm;
use std::collections::HashMap;

impl Build {
    /// Items that stand on connectors.
    pub(super) fn fitted(&mut self, rows: &[Row]) {
        for row in rows {
            let Some(kind) = FITTED_KINDS.iter().position(|k| *k == row.table.key).map(|n| FittedKind::ALL[n]) else { continue };
            let who = who(row, Subject::Fitted(Id::from_row(self.design.fitted.len())));
            let connector = if row.broken { None } else { self.reference(row, "connector", "connector") };
            let Some(connector) = connector else {
                // Its number is given out: an item without a connector keeps the others in their places.
                let nowhere = Given::firm(Id::from_row(0), row.at);
                self.design.fitted.push(Fitted {
                    name: row.name.clone(),
                    kind,
                    connector: nowhere,
                    links: Vec::new(),
                    in_line: None,
                    at: row.at,
                });
                continue;
            };
            let fitted = self.design.fitted.push(Fitted {
                name: row.name.clone(),
                kind,
                connector: connector.map(Id::from_row),
                links: Vec::new(),
                in_line: None,
                at: row.at,
            });
            let is_in_line = super::end::flag(row, "in_line").is_some_and(|flag| flag.value);
            if is_in_line {
                const WHY: &str = "a hand's length of wire between its contacts; common practice, no source";
                let ohms = self.spread_or(row, "ohms", &who, Quantity::Resistance, [1e-3, 3e-3, 10e-3], WHY);
                let open = row.list("open").to_vec();
                let open = open.into_iter().filter_map(|(at, cavity)| self.own_pin(connector.value, &cavity, at)).collect();
                self.design.fitted[fitted].in_line = Some(InLine { ohms, open });
            }
            if let Some(cell) = row.cell("open").filter(|_| !is_in_line) {
                self.out.push(
                    Diagnostic::error(codes::NO_EFFECT, cell.at, "", format!("{} has open cavities and is not in line", row.words()))
                        .help("add in_line = true if it stands between the two halves, or leave open out"),
                );
            }
            let pairs = match row.cell("links").map(|c| &c.value) {
                Some(Value::Pairs(pairs)) => pairs.clone(),
                _ => Vec::new(),
            };
            if pairs.is_empty() {
                if let Some(cell) = row.cell("ohms").filter(|_| !is_in_line) {
                    self.out.push(
                        Diagnostic::error(codes::NO_EFFECT, cell.at, "", format!("{} has ohms and no links", row.words()))
                            .help("list under links which cavities it joins, or leave ohms out"),
                    );
                }
                continue;
            }
            let mut first: HashMap<[Name; 2], Span> = HashMap::new();
            const WHY: &str = "two contacts and a jumper; common practice, no source";
            let ohms: Spread<Ohm> = match &self.design.fitted[fitted].in_line {
                Some(between) => between.ohms,
                None => self.spread_or(row, "ohms", &who, Quantity::Resistance, [2e-3, 10e-3, 30e-3], WHY),
            };
            for [(a_at, a), (b_at, b)] in pairs {
                let from = self.own_pin(connector.value, &a, a_at);
                let to = self.own_pin(connector.value, &b, b_at);
                if a == b {
                    self.out.push(
                        Diagnostic::error(codes::SAME_END, b_at, "", format!("{} joins cavity {a} with itself", row.words()))
                            .note(a_at, "begins here")
                            .help("a link joins two cavities"),
                    );
                    continue;
                }
                let at = Span { end: b_at.end, ..a_at };
                let key = if a < b { [a.clone(), b.clone()] } else { [b.clone(), a.clone()] };
                if let Some(before) = first.insert(key, at) {
                    self.out.push(
                        Diagnostic::error(codes::TWICE, at, "again", format!("{} joins cavities {a} and {b} twice", row.words()))
                            .note(before, "first")
                            .help("keep one of the two"),
                    );
                    continue;
                }
                let (Some(from), Some(to)) = (from, to) else { continue };
                let link = self.design.fitted_links.push(FittedLink { fitted, from, to, ohms, at });
                self.design.fitted[fitted].links.push(link);
            }
        }
    }

    /// What a phase has fitted; a connector takes one item at a time.
    pub(super) fn fitted_in(&mut self, row: &Row) -> Vec<Given<Id<Fitted>>> {
        let mut found: Vec<Given<Id<Fitted>>> = Vec::new();
        let mut taken: HashMap<Id<Connector>, Given<Id<Fitted>>> = HashMap::new();
        for (at, name) in row.list("fitted").to_vec() {
            let Some(declared) = self.names.find_fitted(&name) else {
                self.unknown_fitted(&name, at);
                continue;
            };
            let item = Given::firm(Id::from_row(declared.row), at);
            let fitted = &self.design.fitted[item.value];
            let connector = fitted.connector.value;
            // One whose connector was not understood has it at the place of its own row.
            let understood = fitted.connector.at != fitted.at;
            match taken.get(&connector).filter(|_| understood) {
                Some(first) => {
                    let other = self.design.fitted[first.value].name.clone();
                    let message = if other == name {
                        format!("{name} is fitted twice in phase {}", row.name)
                    } else {
                        format!("{other} and {name} both stand on {} in phase {}", self.connector_name(connector), row.name)
                    };
                    self.out.push(
                        Diagnostic::error(codes::TAKEN, at, "", message)
                            .note(first.at, "first")
                            .help("a connector takes one item at a time"),
                    );
                }
                _ => {
                    taken.insert(connector, item);
                    found.push(item);
                }
            }
        }
        found
    }

    fn unknown_fitted(&mut self, name: &str, at: Span) {
        let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no plug, cap, saver or adapter {name}"));
        let bare = name.split_once(':').map(|(_, bare)| bare).filter(|bare| self.names.find_fitted(bare).is_some());
        if let Some(bare) = bare {
            diagnostic = diagnostic.help(format!("write {bare}")).replace(at, requote(&self.sources, at, bare));
        } else if let Some(meant) = self.names.closest_fitted(name, &mut self.out) {
            diagnostic = diagnostic.help(format!("did you mean {meant}?")).replace(at, requote(&self.sources, at, meant));
        } else if let Some(other) = self.names.kinds_of(name).first() {
            diagnostic = diagnostic.help(format!("{name} is a {other}; a plug, cap, saver or adapter is needed here"));
        } else if name_fault(name).is_none() {
            diagnostic = diagnostic.help(format!("declare it, for example with [safe-plug.{name}]"));
        }
        self.out.push(diagnostic);
    }

    /// Initiators.
    pub(super) fn initiators(&mut self, rows: &[Row]) {
        let mut known: HashMap<Id<Load>, Span> = HashMap::new();
        for row in rows.iter().filter(|r| r.table.key == "initiator" && !r.broken) {
            let Some(load) = self.reference(row, "load", "load").map(|found| found.map(Id::<Load>::from_row)) else { continue };
            if let Some(first) = known.insert(load.value, load.at) {
                let name = row.word("load").unwrap_or_default();
                self.out.push(
                    Diagnostic::error(codes::TWICE, load.at, "again", format!("load {name} is the bridge wire of two initiators"))
                        .note(first, "first")
                        .help("each initiator has a bridge wire, a load, of its own"),
                );
                continue;
            }
            let who = who(row, Subject::Element(ElementId::Load(load.value)));
            let inhibits = row.cell("inhibits").and_then(|c| match c.value {
                Value::Count(n) => Some(Given::firm(n, c.at)),
                _ => None,
            });
            let initiator = Initiator {
                name: row.name.clone(),
                load,
                hazard: row.word("hazard").unwrap_or_default().to_owned(),
                inhibits,
                all_fire: self.number(row, "all_fire", &who),
                all_fire_time: self.number(row, "all_fire_time", &who),
                no_fire: self.number(row, "no_fire", &who),
                at: row.at,
            };
            self.design.initiators.push(initiator);
        }
    }
}
