//! What the renderers look at, and the look-ups they share.

use crate::number;
use analysis::protection::Protection;
use analysis::timeline::Timeline;
use analysis::{Prepared, Study};
use model::*;

/// Characters of a quoted line of the input.
const LINE: usize = 110;

/// A vehicle with everything that was computed and judged about it.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The vehicle.
    pub design: &'a Design,
    /// Its network.
    pub prepared: &'a Prepared<'a>,
    /// Settled states, phase by phase and corner by corner.
    pub points: &'a [Point],
    /// Faults of fed wires, where they were computed.
    pub protection: Option<&'a Protection>,
    /// The batteries through the mission, where they were followed.
    pub timeline: Option<&'a Timeline>,
    /// The judgement of them.
    pub verdict: &'a Verdict,
}

impl<'a> View<'a> {
    /// What was computed about a vehicle, with the judgement of it.
    pub fn of(design: &'a Design, study: &'a Study<'a>, verdict: &'a Verdict) -> View<'a> {
        let (protection, timeline) = (study.protection.as_ref(), study.timeline.as_ref());
        View { design, prepared: &study.prepared, points: &study.points, protection, timeline, verdict }
    }

    pub(crate) fn phase(&self, point: &Point) -> String {
        self.design.phases[point.scenario.phase].name.to_string()
    }

    /// Voltage of one end against another, or why there is none.
    pub(crate) fn between(&self, point: &Point, plus: End, minus: End) -> Result<f64, &'static str> {
        let (Some(a), Some(b)) = (self.prepared.node(plus), self.prepared.node(minus)) else { return Err("not connected") };
        match (point.island_of[a.row()], point.island_of[b.row()]) {
            _ if a == b => Ok(0.0),
            (Some(i), Some(j)) if i == j => match point.islands[i as usize].outcome.is_settled() {
                true => Ok(point.voltage[a.row()] - point.voltage[b.row()]),
                false => Err("not settled"),
            },
            (None, _) | (_, None) => Err("nothing conducts to it in this state"),
            _ => Err("nothing joins its terminals in this state"),
        }
    }

    /// Voltage of an end against the zero of its island, with the name of that zero.
    pub(crate) fn against_zero(&self, point: &Point, end: End) -> (Result<f64, &'static str>, String) {
        let Some(node) = self.prepared.node(end) else { return (Err("not connected"), String::new()) };
        let Some(island) = point.island_of[node.row()] else { return (Err("nothing conducts to it in this state"), String::new()) };
        let island = &point.islands[island as usize];
        let zero = self.design.end_name(self.prepared.node_end(island.reference));
        let volts = point.voltage[node.row()];
        match island.outcome.is_settled() {
            true if !island.driven && volts == 0.0 => (Err("no source drives it in this state"), zero),
            true => (Ok(volts), zero),
            false => (Err("not settled"), zero),
        }
    }

    /// Current of an element in its own direction, or why there is none.
    pub(crate) fn current(&self, point: &Point, element: ElementId) -> Result<f64, &'static str> {
        let Some(row) = self.prepared.branch_of(element) else { return Err("not connected") };
        let node = self.prepared.branches()[row].from;
        match point.island_of[node.row()] {
            Some(island) if !point.islands[island as usize].outcome.is_settled() => Err("not settled"),
            _ => Ok(point.current[row]),
        }
    }

    pub(crate) fn position(&self, at: Span) -> Position {
        self.design.sources.position(at)
    }

    pub(crate) fn place(&self, at: Span) -> String {
        let position = self.position(at);
        format!("{}:{}", position.path, position.line)
    }

    /// How many notes of a standing there are in a list of notes.
    pub(crate) fn count(&self, notes: &[NoteId], standing: Standing) -> usize {
        notes.iter().filter(|&&id| self.design.note(id).standing == standing).count()
    }

    /// The line of the input that a span begins in, without what stands around it.
    pub(crate) fn line_of(&self, at: Span) -> String {
        let text = &self.design.sources.file(at.file).text;
        let start = text.get(..at.start as usize).and_then(|before| before.rfind('\n')).map_or(0, |newline| newline + 1);
        let line = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("").trim();
        match line.char_indices().nth(LINE) {
            Some((cut, _)) => format!("{} …", &line[..cut]),
            None => line.to_owned(),
        }
    }

    /// Notes that something judged rests on, and everything that is `TBD` or `TBC`; in the order of the design.
    pub(crate) fn notes_in_use(&self) -> Vec<NoteId> {
        let notes = &self.design.notes;
        let mut used: Vec<bool> = notes.iter().map(|note| matches!(note.standing, Standing::ToDetermine | Standing::ToConfirm)).collect();
        let margins = self.verdict.margins.iter().map(|margin| &margin.rests_on);
        for rests_on in margins.chain(self.verdict.counted.iter().map(|counted| &counted.rests_on)) {
            for note in &rests_on.notes {
                used[note.row()] = true;
            }
        }
        (0..notes.len()).filter(|&row| used[row]).map(NoteId::from_row).collect()
    }

    /// Whether the values of a rule are quantities with a unit.
    pub(crate) fn has_number(rule: &rules::Rule) -> bool {
        !matches!(rule.unit, rules::Unit::Nothing | rules::Unit::Paths | rules::Unit::Inhibits)
    }

    pub(crate) fn unit(&self, rule: RuleCode) -> &'static str {
        crate::json::unit_of(rule)
    }

    /// `1.31 V of at most 1.00 V   burn, low`.
    pub(crate) fn numbers(&self, margin: &Margin) -> String {
        format!("{}   {}", self.value_of_limit(margin), self.state(margin.state.as_ref())).trim_end().to_owned()
    }

    /// `1.31 V of at most 1.00 V`.
    pub(crate) fn value_of_limit(&self, margin: &Margin) -> String {
        let (value, limit) = number::pair(margin.value, margin.limit, self.unit(margin.rule));
        let bound = match margin.bound {
            Bound::AtMost => "at most",
            Bound::AtLeast => "at least",
        };
        format!("{value} of {bound} {limit}")
    }

    /// `burn, low`.
    pub(crate) fn state(&self, state: Option<&(Id<Phase>, Corner)>) -> String {
        state.map_or(String::new(), |&(phase, corner)| format!("{}, {}", self.design.phases[phase].name, corner.word()))
    }

    /// `burn (low, typical), coast`: phases in the order given; a phase alone stands for all its corners.
    pub(crate) fn by_phase(&self, states: &[(Id<Phase>, Corner)]) -> String {
        let phases = self.design.phases.len();
        if phases > 1 && states.len() == phases * Corner::ALL.len() {
            return "every phase and corner".to_owned();
        }
        let mut list: Vec<(Id<Phase>, Vec<Corner>)> = Vec::new();
        for &(phase, corner) in states {
            match list.iter_mut().find(|(known, _)| *known == phase) {
                Some((_, corners)) => corners.push(corner),
                None => list.push((phase, vec![corner])),
            }
        }
        let words = list.iter().map(|(phase, corners)| {
            let name = &self.design.phases[*phase].name;
            match corners.len() == Corner::ALL.len() {
                true => format!("{name} (all corners)"),
                false => format!("{name} ({})", corners.iter().map(|c| c.word()).collect::<Vec<_>>().join(", ")),
            }
        });
        words.collect::<Vec<_>>().join(", ")
    }

    /// Where else a finding fails than in its first state.
    pub(crate) fn further_states(&self, states: &[(Id<Phase>, Corner)]) -> String {
        match self.by_phase(states) {
            all if all == "every phase and corner" => "fails in every phase and corner".to_owned(),
            _ => format!("also in {}", self.by_phase(&states[1..])),
        }
    }

    /// `rests on 2 recalled, 1 assumed`, or nothing.
    pub(crate) fn rests_on(&self, notes: &[NoteId]) -> String {
        let parts: Vec<String> = [Standing::ToDetermine, Standing::ToConfirm, Standing::Recalled, Standing::Assumed]
            .into_iter()
            .map(|standing| (self.count(notes, standing), standing))
            .filter(|&(n, _)| n > 0)
            .map(|(n, standing)| format!("{n} {}", standing.word()))
            .collect();
        if parts.is_empty() { String::new() } else { format!("rests on {}", parts.join(", ")) }
    }
}

/// What ends where: the terminals of every wire and element, with a word for each.
pub(crate) fn landings(design: &Design) -> Vec<(End, ElementId, &'static str)> {
    let mut list = Vec::new();
    let mut two = |element, a: End, b: End, words: [&'static str; 2]| {
        list.push((a, element, words[0]));
        list.push((b, element, words[1]));
    };
    for (id, w) in design.wires.iter() {
        two(ElementId::Wire(id), w.from.value, w.to.value, ["from", "to"]);
    }
    for (id, s) in design.straps.iter() {
        two(ElementId::Strap(id), s.from.value, s.to.value, ["from", "to"]);
    }
    for (id, s) in design.structure_paths.iter() {
        two(ElementId::StructurePath(id), s.from.value, s.to.value, ["from", "to"]);
    }
    for (id, l) in design.links.iter() {
        two(ElementId::Link(id), l.from.value, l.to.value, ["from", "to"]);
    }
    for (id, s) in design.batteries.iter() {
        two(ElementId::Source(id), s.positive.value, s.negative.value, ["positive", "negative"]);
    }
    for (id, p) in design.protectors.iter() {
        two(ElementId::Protector(id), p.line.value, p.load.value, ["line", "load"]);
    }
    for (id, s) in design.switches.iter() {
        two(ElementId::Switch(id), s.from.value, s.to.value, ["from", "to"]);
    }
    for (id, d) in design.diodes.iter() {
        two(ElementId::Diode(id), d.anode.value, d.cathode.value, ["anode", "cathode"]);
    }
    for (id, c) in design.converters.iter() {
        two(ElementId::Converter(id), c.line.value, c.line_return.value, ["line", "return"]);
        two(ElementId::Converter(id), c.output.value, c.output_return.value, ["output", "output return"]);
    }
    for (id, l) in design.loads.iter() {
        two(ElementId::Load(id), l.line.value, l.line_return.value, ["line", "return"]);
    }
    for (id, s) in design.sensors.iter() {
        list.extend(s.law.terminals().into_iter().map(|(word, end)| (end.value, ElementId::Sensor(id), word)));
    }
    for (id, r) in design.receivers.iter() {
        let element = ElementId::Receiver(id);
        list.extend([(r.positive.value, element, "positive"), (r.negative.value, element, "negative")]);
    }
    for (id, e) in design.excitations.iter() {
        let element = ElementId::Excitation(id);
        list.extend([(e.positive.value, element, "positive"), (e.negative.value, element, "negative")]);
    }
    list
}

/// The subject that an end is shown as.
pub(crate) fn end_subject(design: &Design, end: End) -> (&'static str, String) {
    match end {
        End::Pin(id) => ("pin", design.pin_name(id)),
        other => match design.end_name(other).split_once(':') {
            Some(("splice", name)) => ("splice", name.to_owned()),
            Some(("stud", name)) => ("stud", name.to_owned()),
            Some(("ground", name)) => ("ground", name.to_owned()),
            Some(("shell", name)) => ("shell", name.to_owned()),
            Some(("case", name)) => ("case", name.to_owned()),
            Some(("bus", name)) => ("bus", name.to_owned()),
            Some(("node", name)) => ("node", name.to_owned()),
            Some(("branch", name)) => ("branch", name.to_owned()),
            _ => ("end", design.end_name(other)),
        },
    }
}
