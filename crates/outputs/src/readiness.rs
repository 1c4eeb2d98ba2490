//! `show readiness`: of each rule, connector and net whether everything about it is predicted, what was not judged, and what is open.

use crate::json::SubjectRow;
use crate::shop::facts::Facts;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// A row of `show readiness`.
#[derive(Debug, Serialize)]
pub struct ReadinessRow {
    /// The rule, connector or net; a net goes by its first end.
    pub subject: SubjectRow,
    /// Signal of a net, title of a rule.
    pub title: String,
    /// `predicted`, `not judged`, `accepted` or `open`: the worst that holds.
    pub state: &'static str,
    /// Subjects that a rule judged, or ends of a net whose ohms are known.
    pub predicted: usize,
    /// Rule and missing input of what was not judged.
    pub not_judged: Vec<String>,
    /// Ids of accepted findings, with the day until which they hold.
    pub accepted: Vec<String>,
    /// Ids of findings that nothing accepts, or no longer.
    pub open: Vec<String>,
}

/// What belongs to a row so far.
#[derive(Default)]
struct Gathered {
    not_judged: BTreeSet<String>,
    accepted: BTreeSet<String>,
    open: BTreeSet<String>,
}

/// Rules first, then connectors on which wires land, then nets of the harness.
///
/// Cost: near linear in the tables and the findings.
pub fn readiness(view: &View, asked: &Asked) -> Vec<ReadinessRow> {
    let design = view.design;
    let facts = Facts::new(view);
    let mut of_rule: BTreeMap<RuleCode, Gathered> = BTreeMap::new();
    let mut of_half: BTreeMap<Id<Connector>, Gathered> = BTreeMap::new();
    let mut of_net: BTreeMap<usize, Gathered> = BTreeMap::new();
    let mut spread = |rule: RuleCode, subjects: &[Subject], put: &dyn Fn(&mut Gathered)| {
        put(of_rule.entry(rule).or_default());
        let halves: BTreeSet<Id<Connector>> = subjects.iter().flat_map(|subject| halves_of(&facts, *subject)).collect();
        halves.into_iter().for_each(|half| put(of_half.entry(half).or_default()));
        let nets: BTreeSet<usize> = subjects.iter().flat_map(|subject| nets_of(&facts, *subject)).collect();
        nets.into_iter().for_each(|net| put(of_net.entry(net).or_default()));
    };
    for finding in &view.verdict.findings {
        let until = |row: usize| design.dispositions[row].expiry.as_ref().map_or(String::new(), |day| format!(" until {}", day.value));
        match &finding.state {
            FindingState::Accepted(row) => {
                let words = format!("{}: {}{}", finding.id, design.dispositions[*row].action.word(), until(*row));
                spread(finding.rule, &[finding.subject], &|to| {
                    to.accepted.insert(words.clone());
                });
            }
            FindingState::Open => spread(finding.rule, &[finding.subject], &|to| {
                to.open.insert(finding.id.clone());
            }),
            FindingState::Reopened(_, why) => {
                spread(finding.rule, &[finding.subject], &|to| {
                    to.open.insert(format!("{}: no longer accepted, {why}", finding.id));
                });
            }
        }
    }
    for row in &view.verdict.not_judged {
        let words = format!("{} {}: {}", row.rule.0, design.subject_words(row.subject), row.missing);
        spread(row.rule, &[row.subject], &|to| {
            to.not_judged.insert(words.clone());
        });
    }
    let mut rows = Vec::new();
    let mut push = |subject: SubjectRow, title: String, predicted: usize, known: bool, gathered: Option<&Gathered>| {
        if !asked.wants_row(&subject) {
            return;
        }
        let list = |of: fn(&Gathered) -> &BTreeSet<String>| gathered.map_or(Vec::new(), |gathered| of(gathered).iter().cloned().collect());
        let (open, accepted, not_judged): (Vec<String>, Vec<String>, Vec<String>) =
            (list(|g| &g.open), list(|g| &g.accepted), list(|g| &g.not_judged));
        let state = match (open.is_empty(), not_judged.is_empty() && known, accepted.is_empty()) {
            (false, ..) => "open",
            (_, false, _) => "not judged",
            (.., false) => "accepted",
            _ => "predicted",
        };
        rows.push(ReadinessRow { subject, title, state, predicted, not_judged, accepted, open });
    };
    for rule in rules::RULES {
        let judged = view.verdict.counted.iter().find(|counted| counted.rule == rule.code).map_or(0, |counted| counted.subjects);
        let gathered = of_rule.get(&rule.code);
        // A rule without any subject in this vehicle has nothing to say of it.
        if judged > 0 || gathered.is_some() {
            push(SubjectRow { kind: "rule", name: rule.code.0.to_owned() }, rule.title.to_owned(), judged, true, gathered);
        }
    }
    for half in facts.wired_halves() {
        let used = facts.pins_of(half).iter().filter(|pin| !facts.landed(End::Pin(**pin)).is_empty()).count();
        push(SubjectRow { kind: "connector", name: facts.connector_name(half) }, String::new(), used, true, of_half.get(&half));
    }
    for (at, net) in facts.nets.nets.iter().enumerate() {
        let known = facts.net_ohms[at].iter().filter(|ohms| ohms[1].is_some()).count();
        let signal =
            net.wires.iter().find_map(|wire| design.wires[*wire].signal.as_ref()).map_or(String::new(), |signal| signal.value.to_string());
        let is_known = known == net.ends.len();
        push(SubjectRow { kind: "net", name: design.end_name(net.ends[0]) }, signal, known, is_known, of_net.get(&at));
    }
    rows
}

/// Halves that a subject is of: its own, and that across.
fn halves_of(facts: &Facts, subject: Subject) -> Vec<Id<Connector>> {
    let design = facts.design;
    let pin = |pin: Id<Pin>| design.pins[pin].connector;
    let half = match subject {
        Subject::Connector(half) => half,
        Subject::Pin(id) => pin(id),
        Subject::Port(port) => pin(design.ports[port].pin),
        Subject::Element(ElementId::Contact(id)) => return vec![pin(design.contacts[id].a), pin(design.contacts[id].b)],
        Subject::Element(ElementId::Wire(id)) => {
            let ends = [design.wires[id].from.value, design.wires[id].to.value];
            return ends.iter().filter_map(|end| if let End::Pin(id) = end { Some(pin(*id)) } else { None }).collect();
        }
        _ => return Vec::new(),
    };
    [Some(half), facts.mate(half)].into_iter().flatten().collect()
}

/// Nets of the harness that a subject is on.
fn nets_of(facts: &Facts, subject: Subject) -> Vec<usize> {
    let design = facts.design;
    let of = |end: End| facts.nets.of(end);
    match subject {
        Subject::Pin(pin) => {
            of(End::Pin(pin)).into_iter().chain(facts.across(pin).iter().filter_map(|(_, other)| of(End::Pin(*other)))).collect()
        }
        Subject::Port(port) => nets_of(facts, Subject::Pin(design.ports[port].pin)),
        Subject::Splice(id) => of(End::Splice(id)).into_iter().collect(),
        Subject::Stud(id) => of(End::Stud(id)).into_iter().collect(),
        Subject::Element(ElementId::Wire(id) | ElementId::Joint(id, _)) => of(design.wires[id].from.value).into_iter().collect(),
        Subject::Element(ElementId::Contact(id)) => {
            [design.contacts[id].a, design.contacts[id].b].into_iter().filter_map(|pin| of(End::Pin(pin))).collect()
        }
        Subject::Cable(cable) => facts.cores(cable).iter().filter_map(|wire| of(design.wires[*wire].from.value)).collect(),
        Subject::Circuit(circuit) => {
            let wires = design.wires.iter().filter(|(_, wire)| wire.circuit.is_some_and(|own| own.value == circuit));
            wires.filter_map(|(_, wire)| of(wire.from.value)).collect()
        }
        _ => Vec::new(),
    }
}

/// Readiness as text: what is not simply predicted; everything where it is asked for.
pub fn readiness_text(rows: &[ReadinessRow], asked: &Asked, style: Style) -> String {
    const SHOWN: usize = 3;
    let mut grid = Grid::new(&["", "name", "of", "state", ">predicted", "why"]);
    for row in rows.iter().filter(|row| asked.all || !asked.names.is_empty() || row.state != "predicted") {
        let reasons: Vec<&str> = row.open.iter().chain(&row.accepted).chain(&row.not_judged).map(String::as_str).collect();
        let more = if reasons.len() > SHOWN { format!("; and {} more", reasons.len() - SHOWN) } else { String::new() };
        grid.row(vec![
            row.subject.kind.to_owned(),
            row.subject.name.clone(),
            row.title.clone(),
            row.state.to_owned(),
            number::count(row.predicted),
            reasons.iter().take(SHOWN).copied().collect::<Vec<_>>().join("; ") + &more,
        ]);
    }
    let mut text = if grid.is_empty() { String::new() } else { grid.render(style) + "\n" };
    for kind in ["rule", "connector", "net"] {
        let of: Vec<&ReadinessRow> = rows.iter().filter(|row| row.subject.kind == kind).collect();
        if of.is_empty() {
            continue;
        }
        let count = |state: &str| number::count(of.iter().filter(|row| row.state == state).count());
        text.push_str(&format!(
            "{}: {} predicted, {} not judged, {} accepted, {} open\n",
            number::counted(of.len(), kind),
            count("predicted"),
            count("not judged"),
            count("accepted"),
            count("open")
        ));
    }
    text.push_str("predicted: a value was computed and no rule speaks against it; it is no release\n");
    text
}
