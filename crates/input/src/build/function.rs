//! Functions with what they need; actions; monitors.

use super::Build;
use super::end::{NamedBy, flag, title, who};
use crate::codes;
use crate::quantity::Quantity;
use crate::value::{NeedRow, Row, Value};
use model::*;
use std::collections::HashMap;

impl Build {
    /// Functions and what they need.
    pub(super) fn functions(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "function" && !r.broken) {
            let written = match row.cell("needs").map(|cell| &cell.value) {
                Some(Value::Needs(list)) => list.clone(),
                _ => Vec::new(),
            };
            let need = self.need(row, NeedRow::All(written)).unwrap_or(Need::All(Vec::new()));
            let mut needs: Vec<Given<Subject>> = Vec::new();
            for leaf in need.leaves() {
                if let Need::One(subject) = leaf
                    && needs.iter().all(|known| known.value != subject.value)
                {
                    needs.push(*subject);
                }
            }
            let count = |key: &str| {
                row.cell(key).and_then(|cell| match cell.value {
                    Value::Count(n) => Some(Given::firm(n, cell.at)),
                    _ => None,
                })
            };
            let phases = self.phases_of(row);
            let (tier, worth) = (count("tier"), count("worth"));
            if let (Some(worth), None) = (worth, tier) {
                let message = format!("function {} has a worth and no tier", row.name);
                let help = "worth counts among functions of one tier: state tier, or leave worth out";
                self.out.push(Diagnostic::error(codes::NO_EFFECT, worth.at, "", message).help(help));
            }
            self.design.functions.push(Function {
                name: row.name.clone(),
                title: title(row),
                needs,
                need,
                tier,
                worth,
                must_keep: flag(row, "must_keep").is_some_and(|given| given.value),
                survives: count("survives"),
                phases,
                at: row.at,
            });
        }
    }

    /// A need with its names resolved; `None` where nothing of it was understood, which has been reported.
    fn need(&mut self, row: &Row, written: NeedRow) -> Option<Need> {
        let list = |build: &mut Build, list: Vec<NeedRow>| -> Vec<Need> {
            let mut first: HashMap<Name, Span> = HashMap::new();
            for need in &list {
                if let NeedRow::One(at, words) = need
                    && let Some(before) = first.insert(words.clone(), *at)
                {
                    build.out.push(
                        Diagnostic::error(codes::TWICE, *at, "again", format!("{}: needs lists {words} twice", row.words()))
                            .note(before, "first")
                            .help("keep one of the two"),
                    );
                }
            }
            list.into_iter().filter_map(|need| build.need(row, need)).collect()
        };
        match written {
            NeedRow::One(at, words) => {
                let (element, kind) = self.element_of(&words, at)?;
                if !matches!(element, ElementId::Load(_) | ElementId::Sensor(_)) {
                    self.out.push(
                        Diagnostic::error(codes::BAD_STATE, at, "", format!("a function needs loads and sensors, and {words} is a {kind}"))
                            .help("name what does the work; what feeds it follows from the wiring"),
                    );
                    return None;
                }
                Some(Need::One(Given::firm(Subject::Element(element), at)))
            }
            NeedRow::Path(at, [(a_at, a), (b_at, b)]) => {
                let (from, to) = (self.resolve(&a, a_at, NamedBy::Element), self.resolve(&b, b_at, NamedBy::Element));
                let ends = [from?, to?];
                if ends[0] == ends[1] {
                    self.out.push(
                        Diagnostic::error(codes::SAME_END, b_at, "", format!("{}: the path begins and ends on {a}", row.words()))
                            .note(a_at, "begins here")
                            .help("a path joins two ends"),
                    );
                    return None;
                }
                Some(Need::Path(Given::firm(ends, at)))
            }
            NeedRow::All(all) => Some(Need::All(list(self, all))),
            NeedRow::AtLeast(least, all) => Some(Need::AtLeast(least, list(self, all))),
        }
    }

    /// The phases that a row names.
    fn phases_of(&mut self, row: &Row) -> Vec<Given<Id<Phase>>> {
        self.once_each(row, "phases");
        let list = row.list("phases").to_vec();
        list.into_iter().filter_map(|(at, name)| Some(self.reference_to(&name, at, "phase")?.map(Id::from_row))).collect()
    }

    /// What may be done when something has failed.
    pub(super) fn actions(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "action" && !r.broken) {
            let states = self.states(row);
            let keys = ["open", "closed", "on", "off"];
            if keys.iter().all(|key| row.is_absent(key) || row.cell(key).is_some() && row.list(key).is_empty()) {
                self.out.push(
                    Diagnostic::error(codes::EXACTLY_ONE, row.at, "", format!("action {} does nothing", row.name))
                        .help("say what it does with open, closed, on or off, for example closed = [\"tie:KT\"]"),
                );
            }
            let who_acts = if row.word("who") == Some("automatic") { Actor::Automatic } else { Actor::Operator };
            let own = who(row, Subject::Vehicle);
            let delay = self.number(row, "delay", &own);
            let phases = self.phases_of(row);
            self.design.actions.push(Action {
                name: row.name.clone(),
                title: title(row),
                states,
                who: who_acts,
                delay,
                phases,
                at: row.at,
            });
        }
    }

    /// What tells that something has failed.
    pub(super) fn monitors(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "monitor" && !r.broken) {
            let watches = self.watched(row);
            let threshold = row.cell("threshold").and_then(|cell| match (&cell.value, watches) {
                (Value::Number(quantity, si), Some(watched)) => {
                    let fits = match watched.value {
                        Watched::Voltage(..) | Watched::Reading(..) => *quantity == Quantity::Voltage,
                        Watched::Current(_) => *quantity == Quantity::Current,
                        Watched::State(_) => {
                            self.out.push(
                                Diagnostic::error(codes::NO_EFFECT, cell.at, "", format!("monitor {} watches a state", row.name))
                                    .help("a state moves or does not: leave threshold out"),
                            );
                            return None;
                        }
                    };
                    if !fits {
                        let unit = watched.value.unit();
                        self.out.push(
                            Diagnostic::error(codes::WRONG_UNIT, cell.at, "", format!("a {} moves in {unit}", watched.value.word()))
                                .help(format!("give the threshold in {unit}")),
                        );
                        return None;
                    }
                    Some(Given::firm(*si, cell.at))
                }
                _ => None,
            });
            let read_by = self.reference(row, "read_by", "load").map(|given| given.map(Id::from_row));
            let phases = self.phases_of(row);
            let Some(watches) = watches else { continue };
            self.design.monitors.push(Monitor {
                name: row.name.clone(),
                title: title(row),
                watches,
                threshold,
                read_by,
                ground: flag(row, "ground").is_some_and(|given| given.value),
                phases,
                at: row.at,
            });
        }
    }

    /// What a monitor watches; `None` where that is not understood or cannot be watched so, which is reported.
    fn watched(&mut self, row: &Row) -> Option<Given<Watched>> {
        let (words, at) = row.text("watches").map(|(words, at)| (words.clone(), at))?;
        let what = row.word("what")?.to_owned();
        let cannot = |build: &mut Build, kind: &str, help: &str| {
            build
                .out
                .push(Diagnostic::error(codes::BAD_STATE, at, "", format!("a {kind} has no {what} that a monitor could watch")).help(help));
            None
        };
        if let Some(name) = words.strip_prefix("bus:") {
            let id: Id<InnerNode> = Id::from_row(self.reference_to(name.trim(), at, "bus")?.value);
            if what != "voltage" {
                return cannot(self, "bus", "of a bus the voltage is watched");
            }
            let Some(back) = self.design.inner_nodes[id].bus_return else {
                return cannot(self, "bus without return", "give the bus its return");
            };
            return Some(Given::firm(Watched::Voltage(Subject::Inner(id), [End::Inner(id), back.value]), at));
        }
        let (element, kind) = self.element_of(&words, at)?;
        let design = &self.design;
        let found = match (&*what, element) {
            ("voltage", ElementId::Load(id)) => {
                let load = &design.loads[id];
                Watched::Voltage(element.into(), [load.line.value, load.line_return.value])
            }
            ("voltage", ElementId::Source(id)) => {
                let source = &design.batteries[id];
                Watched::Voltage(element.into(), [source.positive.value, source.negative.value])
            }
            ("voltage", ElementId::Converter(id)) => {
                let converter = &design.converters[id];
                Watched::Voltage(element.into(), [converter.output.value, converter.output_return.value])
            }
            ("reading", ElementId::Sensor(id)) => match design.sensors[id].receiver {
                Some(receiver) => Watched::Reading(id, receiver.value),
                None => return cannot(self, "sensor without receiver", "name the receiver of the sensor"),
            },
            ("current", ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Excitation(_)) => {
                return cannot(
                    self,
                    kind,
                    "current is watched in a load, battery, supply, breaker, fuse, limiter, switch, relay, tie, diode, converter or link",
                );
            }
            ("current", _) => Watched::Current(element),
            ("state", ElementId::Switch(_) | ElementId::Protector(_) | ElementId::Load(_)) => Watched::State(element),
            ("voltage", _) => return cannot(self, kind, "voltage is watched of a bus, load, battery, supply or converter"),
            ("reading", _) => return cannot(self, kind, "what reads is a sensor"),
            _ => return cannot(self, kind, "state is watched of a switch, relay, tie, breaker, fuse, limiter or load"),
        };
        Some(Given::firm(found, at))
    }
}
