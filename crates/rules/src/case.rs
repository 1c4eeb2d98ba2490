//! What a rule may look at, and the questions that several rules ask of it.

use crate::Worst;
use analysis::Prepared;
use model::*;
use physics::{Ohm, Volt};
use std::sync::Arc;

/// What is judged, and against which day dispositions expire.
pub struct Case<'a> {
    /// The vehicle, with its limits profile.
    pub design: &'a Design,
    /// The network of it.
    pub prepared: &'a Prepared<'a>,
    /// Today as YYYY-MM-DD; without it no disposition expires.
    pub today: Option<&'a str>,
}

/// A load that draws next to nothing. One that drew nothing at all would leave what hangs behind a diode without any voltage.
pub(crate) const QUIET: LoadChange = LoadChange::Resistance(Ohm(1e6));

/// Why a rule cannot judge a subject in one state.
#[derive(Clone)]
pub(crate) struct Missing {
    pub(crate) field: String,
    pub(crate) why: String,
}

impl Missing {
    pub(crate) fn new(field: impl Into<String>, why: impl Into<String>) -> Missing {
        Missing { field: field.into(), why: why.into() }
    }
}

/// How a load that is commanded on stands at a point.
pub(crate) enum Terminal {
    /// Connected, with this voltage at its terminals.
    On(Volt),
    /// It let go at this voltage.
    DroppedOut(Volt),
}

/// A current that the solution does not tell from none.
const NO_CURRENT: f64 = 1e-9;

impl Case<'_> {
    /// Voltage of a load that is commanded on; `None` if it is commanded off.
    pub(crate) fn terminal(&self, point: &Point, id: Id<Load>) -> Option<Result<Terminal, Missing>> {
        let load = &self.design.loads[id];
        match point.load_state[id] {
            LoadState::Off => None,
            LoadState::DroppedOut { at } => Some(Ok(Terminal::DroppedOut(at))),
            LoadState::Unknown => {
                let field = self.open_field(ElementId::Load(id)).unwrap_or("power");
                Some(Err(Missing::new(field, format!("its {field} is TBD"))))
            }
            LoadState::On if !point.load_fed[id] => Some(Err(Missing::new("feed", "it is not fed (UF-01)"))),
            LoadState::On => Some(match point.load_voltage[id] {
                Some(volts) => Ok(Terminal::On(volts)),
                None if self.settled(point, load.line.value) => {
                    Err(Missing::new("return", "its terminals lie in parts of the network that nothing joins"))
                }
                None => Err(Missing::new("operating point", "its part of the network did not settle (OP-01)")),
            }),
        }
    }

    /// Whether the part of the network that an end lies in settled.
    pub(crate) fn settled(&self, point: &Point, end: End) -> bool {
        self.island(point, end).is_some_and(|island| point.islands[island as usize].outcome.is_settled())
    }

    pub(crate) fn island(&self, point: &Point, end: End) -> Option<u32> {
        self.prepared.node(end).and_then(|node| point.island_of[node.row()])
    }

    /// Current in the first branch of an element, positive from its first end; `None` where nothing can flow: no branch, or no source in
    /// its part of the network.
    pub(crate) fn current(&self, point: &Point, element: ElementId) -> Option<Result<f64, Missing>> {
        let row = self.prepared.branch_of(element)?;
        let island = &point.islands[point.island_of[self.prepared.branches()[row].from.row()]? as usize];
        if !island.driven {
            return None;
        }
        Some(match island.outcome.is_settled() {
            true => Ok(point.current[row]),
            false => Err(Missing::new("operating point", "its part of the network did not settle (OP-01)")),
        })
    }

    /// Voltage of one end against another; `None` where nothing joins them or they did not settle.
    pub(crate) fn volts(&self, point: &Point, end: End, against: End) -> Option<f64> {
        let (a, b) = (self.prepared.node(end)?, self.prepared.node(against)?);
        let joined = point.island_of[a.row()] == point.island_of[b.row()] && self.settled(point, end);
        joined.then(|| point.voltage[a.row()] - point.voltage[b.row()])
    }

    /// A settled state again with every load that is on drawing next to nothing: what is left is what the sources and the sensors do by
    /// themselves.
    pub(crate) fn quiet(&self, point: &Point, out: &mut Worst) -> Arc<Point> {
        if let Some(quiet) = &out.quiet {
            return quiet.clone();
        }
        let quiet = Arc::new(self.changed(point, out, |_, _| Some(QUIET)));
        out.quiet = Some(quiet.clone());
        quiet
    }

    /// A settled state again with some of the loads that are on changed.
    pub(crate) fn changed(&self, point: &Point, out: &Worst, change: impl Fn(Id<Load>, &Load) -> Option<LoadChange>) -> Point {
        let (near, changed) = (out.near(self, point), self.with_changed(point, change));
        // Where nothing is kept of a state, what states near it stand on costs as much as a solution.
        if self.prepared.keeps_footholds() { near.roughly(&changed) } else { near.roughly_afresh(&changed) }
    }

    /// What is asked of a state, with some of the loads that are on in it changed.
    pub(crate) fn with_changed(&self, point: &Point, change: impl Fn(Id<Load>, &Load) -> Option<LoadChange>) -> Scenario {
        let mut scenario = point.scenario.clone();
        let on = point.load_state.iter().filter(|(_, state)| **state != LoadState::Off);
        scenario.loads.extend(on.filter_map(|(id, _)| change(id, &self.design.loads[id]).map(|change| (id, change))));
        scenario
    }

    /// The first value on the way of an element, or of a wire itself, that is `TBD`.
    pub(crate) fn unknown_on_way(&self, point: &Point, element: ElementId) -> Option<Missing> {
        if !self.has_open() {
            return None;
        }
        // The subject is no step of its own ladder, and what flows in a wire beside another hangs on its resistance too.
        if matches!(element, ElementId::Wire(_)) && self.prepared.ohms(&point.scenario, element).is_none() {
            let (field, words) = (self.open_field(element).unwrap_or_else(|| self.wire_lacks(element)), self.design.element_words(element));
            return Some(Missing::new(format!("{field} of {words}"), format!("{words} has no {field}")));
        }
        let ladder = self.prepared.trace(point, element);
        self.unknown_step(ladder.feed.iter().chain(&ladder.back))
    }

    /// What the current in an element rests on: what lies on its way.
    pub(crate) fn way_notes(&self, point: &Point, element: ElementId, open: &[(u32, NoteId)]) -> Vec<NoteId> {
        // Where nothing flows there is no way that the nothing could rest on, and the fewest elements to a source say nothing.
        if self.prepared.branch_of(element).is_none_or(|row| point.current[row].abs() < NO_CURRENT) {
            return self.prepared.notes(&point.scenario, element);
        }
        let (elements, begins) = self.prepared.along(point, element);
        self.notes_along(point, elements.into_iter(), begins, open)
    }

    /// Whether any value of the vehicle is `TBD`: only then can an element on a ladder be unknown.
    pub(crate) fn has_open(&self) -> bool {
        self.prepared.has_unknown()
    }

    /// Where the row of a source stands.
    pub(crate) fn source_at(&self, element: ElementId) -> Span {
        match element {
            ElementId::Source(id) => self.design.batteries[id].at,
            _ => self.design.profile.at,
        }
    }

    /// The `TBD` field of an element.
    pub(crate) fn open_field(&self, element: ElementId) -> Option<&'static str> {
        let subject = Some(Subject::Element(element));
        self.design.notes.iter().find(|n| n.standing == Standing::ToDetermine && n.subject == subject).map(|n| n.field)
    }

    /// The first unknown resistance of some steps.
    pub(crate) fn unknown_step<'l>(&self, mut steps: impl Iterator<Item = &'l LadderStep>) -> Option<Missing> {
        let step = steps.find(|step| step.unknown)?;
        let owner = match step.element {
            ElementId::Joint(wire, _) => ElementId::Wire(wire),
            other => other,
        };
        let fallback = if matches!(owner, ElementId::Wire(_)) { self.wire_lacks(owner) } else { "ohms" };
        let field = self.open_field(owner).unwrap_or(fallback);
        let words = self.design.element_words(owner);
        Some(Missing::new(format!("{field} of {words}"), format!("{words} on its way has no {field}")))
    }

    fn wire_lacks(&self, element: ElementId) -> &'static str {
        match element {
            ElementId::Wire(id) if self.design.wires[id].spec.is_none() => "gauge",
            ElementId::Wire(id) => self.prepared.length(id).err().map_or("length", |unknown| unknown.field),
            _ => "length",
        }
    }

    /// Loads that are on and whose demand is `TBD`, with their island: they were computed as if they drew nothing.
    pub(crate) fn open_loads(&self, point: &Point) -> Vec<(u32, NoteId)> {
        let unknown = point.load_state.iter().filter(|(_, state)| **state == LoadState::Unknown);
        let open = |(load, _): (Id<Load>, &LoadState)| {
            let subject = Some(Subject::Element(ElementId::Load(load)));
            let note = self.design.notes.iter().position(|n| n.standing == Standing::ToDetermine && n.subject == subject)?;
            Some((self.island(point, self.design.loads[load].line.value)?, NoteId::from_row(note)))
        };
        unknown.filter_map(open).collect()
    }

    /// What the voltages along a ladder rest on: its subject, its elements, its sources, and of the open loads those in the same
    /// island.
    pub(crate) fn ladder_notes(&self, point: &Point, subject: ElementId, ladder: &Ladder, open: &[(u32, NoteId)]) -> Vec<NoteId> {
        let steps = ladder.feed.iter().chain(&ladder.back).map(|step| step.element);
        let elements = steps.chain(ladder.source).chain(ladder.sink).chain([subject]);
        let begins = ladder.feed.first().or(ladder.back.first()).and_then(|step| self.prepared.node(step.from));
        self.notes_along(point, elements, begins, open)
    }

    fn notes_along(
        &self,
        point: &Point,
        elements: impl Iterator<Item = ElementId>,
        begins: Option<NodeId>,
        open: &[(u32, NoteId)],
    ) -> Vec<NoteId> {
        let mut notes: Vec<NoteId> = elements.flat_map(|element| self.prepared.notes(&point.scenario, element)).collect();
        let island = begins.and_then(|node| point.island_of[node.row()]);
        notes.extend(open.iter().filter(|(at, _)| Some(*at) == island).map(|(_, note)| note));
        notes
    }
}
