//! Separations and their steps.

use super::Build;
use super::end::{title, who};
use crate::codes;
use crate::value::{Row, Value};
use model::*;
use physics::Second;
use std::collections::HashMap;

/// Fields of a step that say what happens, by kind.
const ACTS: [&[&str]; 3] = [&["open", "closed", "on", "off"], &["connectors"], &["cuts"]];

impl Build {
    /// Harness assemblies; a half belongs to one.
    pub(super) fn assemblies(&mut self, rows: &[Row]) {
        let mut first: HashMap<Id<Connector>, Span> = HashMap::new();
        for row in rows.iter().filter(|r| r.table.key == "assembly" && !r.broken) {
            let connectors: Vec<Given<Id<Connector>>> = self.ids_of(row, "connectors", "connector");
            for half in &connectors {
                if let Some(before) = first.insert(half.value, half.at) {
                    let name = self.sources.slice(half.at).trim_matches(['"', '\'']).to_owned();
                    let message = format!("connector {name} is of two assemblies");
                    self.out.push(Diagnostic::error(codes::TWICE, half.at, "again", message).note(before, "first").help("keep it in one"));
                }
            }
            let assembly =
                Assembly { name: row.name.clone(), title: title(row), part: super::end::words(row, "part"), connectors, at: row.at };
            self.design.assemblies.push(assembly);
        }
    }

    /// Inputs of units that command something.
    pub(super) fn command_inputs(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "input" && !r.broken) {
            let pin = row.text("pin").map(|(text, at)| (text.clone(), at)).and_then(|(text, at)| self.pin_of(&text, at));
            let states = self.states(row);
            let open_reads = row.text("open_reads").and_then(|(word, at)| {
                let found = OpenReads::ALL.into_iter().find(|reads| reads.word() == &**word)?;
                Some(Given::firm(found, at))
            });
            let Some(pin) = pin else { continue };
            if ACTS[0].iter().all(|key| row.is_absent(key)) {
                let message = format!("input {} commands nothing", row.name);
                self.out.push(
                    Diagnostic::error(codes::NO_EFFECT, row.at, "", message).help("name what it opens, closes, brings on or takes off"),
                );
                continue;
            }
            let input = CommandInput { name: row.name.clone(), title: title(row), pin, open_reads, states, at: row.at };
            self.design.command_inputs.push(input);
        }
    }

    /// Events in which connectors part, with their steps in the order written.
    pub(super) fn separations(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "separation") {
            let phase = if row.broken { None } else { self.reference(row, "phase", "phase").map(|phase| phase.map(Id::from_row)) };
            let who = who(row, Subject::Vehicle);
            let structure = self.ids_of(row, "structure", "structure");
            let loops = self.ids_of(row, "loops", "wire");
            let separation = Separation {
                name: row.name.clone(),
                title: title(row),
                // A row that was not understood keeps its number: steps name it.
                phase: phase.unwrap_or(Given::firm(Id::from_row(0), row.at)),
                structure,
                loops,
                signal_current: self.number(row, "signal_current", &who),
                reference_shift: self.number(row, "reference_shift", &who),
                steps: Vec::new(),
                at: row.at,
            };
            self.design.separations.push(separation);
        }
        let mut parts: HashMap<Id<Contact>, (Span, Id<Separation>)> = HashMap::new();
        for row in rows.iter().filter(|r| r.table.key == "step" && !r.broken) {
            let separation = self.reference(row, "separation", "separation").map(|found| Id::<Separation>::from_row(found.value));
            let own = who(row, Subject::Vehicle);
            let time: Option<Spread<Second>> = self.spread(row, "time", &own);
            let by = self.reference(row, "by", "load").map(|load| load.map(Id::from_row));
            let written = |keys: &&&[&str]| keys.iter().any(|key| !row.is_absent(key));
            let kinds: Vec<&&[&str]> = ACTS.iter().filter(written).collect();
            let act = match kinds[..] {
                [keys] if keys == &ACTS[0] => Act::Command(self.states(row)),
                [keys] if keys == &ACTS[1] => Act::Release(self.released(row, separation, &mut parts)),
                [_] => Act::Cut(self.ids_of(row, "cuts", "segment")),
                _ => {
                    let message = match kinds.is_empty() {
                        true => format!("step {} does nothing", row.name),
                        false => format!("step {} does things of several kinds", row.name),
                    };
                    let help = "a step commands (open, closed, on, off), parts connectors, or cuts segments: one of the three";
                    self.out.push(Diagnostic::error(codes::EXACTLY_ONE, row.at, "", message).help(help));
                    continue;
                }
            };
            for key in ["first", "last"] {
                if let Some(cell) = row.cell(key).filter(|_| !matches!(act, Act::Release(_))) {
                    let message = format!("step {} parts no connector, and says what parts {key}", row.name);
                    self.out.push(Diagnostic::error(codes::NO_EFFECT, cell.at, "", message).help("leave it out, or name connectors"));
                }
            }
            let nothing = match &act {
                Act::Command(states) => states.is_empty(),
                Act::Release(contacts) => contacts.is_empty(),
                Act::Cut(segments) => segments.is_empty(),
            };
            let (Some(separation), Some(time)) = (separation, time) else { continue };
            if separation.row() >= self.design.separations.len() {
                continue;
            }
            if nothing && !self.out.has_errors() {
                let message = format!("step {} does nothing", row.name);
                self.out.push(Diagnostic::error(codes::NO_EFFECT, row.at, "", message).help("name what it commands, parts or cuts"));
                continue;
            }
            let step = Step { name: row.name.clone(), title: title(row), time, act, by, at: row.at };
            self.design.separations[separation].steps.push(step);
        }
    }

    fn ids_of<T>(&mut self, row: &Row, field: &'static str, kind: &'static str) -> Vec<Given<Id<T>>> {
        self.once_each(row, field);
        let list = row.list(field).to_vec();
        list.into_iter().filter_map(|(at, name)| Some(self.reference_to(&name, at, kind)?.map(Id::from_row))).collect()
    }

    /// Contacts of the connectors of a step, each with its turn.
    fn released(
        &mut self,
        row: &Row,
        separation: Option<Id<Separation>>,
        parts: &mut HashMap<Id<Contact>, (Span, Id<Separation>)>,
    ) -> Vec<Released> {
        let connectors: Vec<Given<Id<Connector>>> = self.ids_of(row, "connectors", "connector");
        let mut found: Vec<Released> = Vec::new();
        for connector in &connectors {
            let of = |pin: Id<Pin>| self.pin_row(pin).connector == connector.value;
            let own: Vec<Id<Contact>> = self.design.contacts.iter().filter(|(_, c)| of(c.a) || of(c.b)).map(|(id, _)| id).collect();
            if own.is_empty() {
                let name = self.sources.slice(connector.at).trim_matches(['"', '\'']).to_owned();
                let message = format!("connector {name} has no mated contacts that could part");
                self.out.push(
                    Diagnostic::error(codes::NO_EFFECT, connector.at, "", message)
                        .help("name a half that is mated and has wires, or leave it out"),
                );
            }
            for contact in own {
                match parts.get(&contact).filter(|(_, event)| Some(*event) == separation) {
                    Some((first, _)) => {
                        let name = self.sources.slice(connector.at).trim_matches(['"', '\'']).to_owned();
                        self.out.push(
                            Diagnostic::error(codes::TWICE, connector.at, "again", format!("the contacts of {name} part twice"))
                                .note(*first, "first")
                                .help("name one half of a pair, in one step"),
                        );
                        break;
                    }
                    None => {
                        if let Some(event) = separation {
                            parts.insert(contact, (connector.at, event));
                        }
                        found.push(Released { contact, turn: Turn::Middle });
                    }
                }
            }
        }
        for (key, turn) in [("first", Turn::First), ("last", Turn::Last)] {
            let Some(Value::Pairs(pairs)) = row.cell(key).map(|cell| cell.value.clone()) else { continue };
            for [(half_at, half), (at, cavity)] in pairs {
                let Some(connector) = self.reference_to(&half, half_at, "connector").map(|found| Id::<Connector>::from_row(found.value))
                else {
                    continue;
                };
                let is = |pin: Id<Pin>| {
                    let pin = self.pin_row(pin);
                    pin.connector == connector && pin.cavity == cavity
                };
                let mated = self.design.contacts.iter().find(|(_, c)| is(c.a) || is(c.b)).map(|(id, _)| id);
                match found.iter_mut().find(|row| Some(row.contact) == mated) {
                    Some(row) if row.turn == Turn::Middle => row.turn = turn,
                    Some(_) => {
                        let message = format!("contact {half}.{cavity} parts twice");
                        self.out.push(Diagnostic::error(codes::TWICE, at, "", message).help("keep it in one of first and last, once"));
                    }
                    None => {
                        let message = format!("no mated contact {half}.{cavity} parts in {}", row.words());
                        let help = "name a cavity in use of a connector of this step";
                        self.out.push(Diagnostic::error(codes::NO_EFFECT, at, "", message).help(help));
                    }
                }
            }
        }
        found
    }
}
