//! Where every wire lies on the map of the harness, and how long it is by that.
//!
//! ```text
//! ends → breakouts → routes::route → segments of each wire, wires of each segment
//! length: given in the list, or  path × twist + slack × path + what both ends need
//! ```
//!
//! A vehicle without segments has no layout: no wire lies anywhere, and lengths are those of the list.

use crate::routes::{self, Apart, Closed, Demand, Found, Map, Why};
use model::*;
use physics::{Metre, Ratio, SquareMetre, bundle, take_up};
use std::collections::BTreeMap;

/// Class of a wire whose circuit states none: no pair of the profile names it, and a segment that lists classes does not admit it.
const UNCLASSED: u8 = CLASSES as u8;

/// Routes, lengths, and what lies in each segment.
pub struct Layout {
    places: Vec<Place>,
    lengths: Vec<Result<Metre, Unknown>>,
    parts: Vec<Option<Parts>>,
    /// Notes of what a length from a route rests on.
    notes: Vec<Vec<NoteId>>,
    members: Column<Segment, Vec<Id<Wire>>>,
    proven: bool,
}

/// Where a wire lies.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// The vehicle has no segments.
    NoMap,
    /// An end of it is stowed: it lies nowhere.
    Stowed,
    /// These ends of it are at no breakout.
    NoBreakout(Vec<Side>),
    /// Along segments.
    Laid(Run),
    /// Nowhere: its path breaks.
    Broken(Break),
}

/// The way of a wire along segments.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Segments from its `from` end to its `to` end; empty if both are at one breakout.
    pub segments: Vec<Id<Segment>>,
    /// Length along them.
    pub path: Metre,
    /// How much longer its way is, weights counted, than the one that it would take alone in the harness.
    pub detour: f64,
    /// The first segment of that other way that was closed to it, and why.
    pub moved_by: Option<(Id<Segment>, Barrier)>,
    /// It is pinned where segments are closed to it.
    pub against: bool,
}

/// Why a segment is closed to a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Barrier {
    /// It does not admit the wire's class, or the wire has none and the segment lists classes.
    NotAdmitted,
    /// A wire of a class to be kept apart lies in it.
    Class(Class),
    /// A wire of a circuit that is not to be met lies in it.
    Circuit(Id<Circuit>),
    /// Its narrowest hole or clamp has no room left.
    Full {
        /// Area that wires may take there.
        room: SquareMetre,
        /// Area that they take.
        used: SquareMetre,
        /// Area that the wire needs.
        needs: SquareMetre,
    },
}

/// Where the path of a wire breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Break {
    /// The breakout it gets no farther from, in the part that is shut in.
    pub at: Id<BranchPoint>,
    /// The end of the leg that is shut in.
    pub shut_in: Id<BranchPoint>,
    /// How far the leg's other end still is from `at` over all segments; `None` if none lead there.
    pub remaining: Option<Metre>,
    /// Segments that are closed to it there, those nearest to the other end first.
    pub closed: Vec<(Id<Segment>, Barrier)>,
    /// Whether it has no route even alone in the harness.
    pub even_alone: bool,
}

/// Why the length of a wire is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// The input field that is missing.
    pub field: &'static str,
    /// In words.
    pub why: String,
}

/// What the length of a routed wire is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// Along its segments.
    pub path: Metre,
    /// What the twist of its cable adds.
    pub twist: Metre,
    /// Slack.
    pub slack: Metre,
    /// What its ends need, at `from` and at `to`.
    pub ends: [Metre; 2],
}

impl Parts {
    /// All together.
    pub fn sum(&self) -> Metre {
        self.path + self.twist + self.slack + self.ends[0] + self.ends[1]
    }
}

impl Layout {
    pub(crate) fn new(design: &Design) -> Layout {
        let (places, proven) = if design.segments.is_empty() { (vec![Place::NoMap; design.wires.len()], true) } else { places(design) };
        let mut members: Column<Segment, Vec<Id<Wire>>> = design.segments.column(Vec::new());
        for (wire, place) in design.wires.ids().zip(&places) {
            let Place::Laid(run) = place else { continue };
            for &segment in &run.segments {
                // A wire that doubles back is one member.
                if members[segment].last() != Some(&wire) {
                    members[segment].push(wire);
                }
            }
        }
        let cores = cores(design);
        let notes = vec![Vec::new(); design.wires.len()];
        let mut layout = Layout { places, lengths: Vec::new(), parts: Vec::new(), notes, members, proven };
        for (wire, row) in design.wires.iter() {
            let of_cable = row.cable.and_then(|cable| cores.get(&cable.value)).map_or(&[][..], Vec::as_slice);
            layout.parts.push(layout.parts_of(design, wire, of_cable));
            layout.lengths.push(layout.length_of(design, wire));
            if matches!(design.wires[wire].length, Some(Given { value: Length::FromRoute, .. })) {
                layout.notes[wire.row()] = layout.notes_of(design, wire);
            }
        }
        layout
    }

    /// Where a wire lies.
    pub fn place(&self, wire: Id<Wire>) -> &Place {
        &self.places[wire.row()]
    }

    /// The way of a wire along segments, if it has one.
    pub fn run(&self, wire: Id<Wire>) -> Option<&Run> {
        match &self.places[wire.row()] {
            Place::Laid(run) => Some(run),
            _ => None,
        }
    }

    /// Length of a wire: as given, or by its route.
    pub fn length(&self, wire: Id<Wire>) -> Result<Metre, &Unknown> {
        self.lengths[wire.row()].as_ref().copied()
    }

    /// Wires that lie in a segment, in the order of the wire list.
    pub fn members(&self, segment: Id<Segment>) -> &[Id<Wire>] {
        &self.members[segment]
    }

    /// Whether no other order of routing gives more routes or a smaller sum of costs.
    pub fn is_proven(&self) -> bool {
        self.proven
    }

    /// What the length of a wire that lies along segments would be made of; `None` if the twist of its cable is not known.
    pub fn parts(&self, wire: Id<Wire>) -> Option<Parts> {
        self.parts[wire.row()]
    }

    /// Notes of what a length from a route rests on.
    pub(crate) fn notes(&self, wire: Id<Wire>) -> &[NoteId] {
        &self.notes[wire.row()]
    }

    fn parts_of(&self, design: &Design, wire: Id<Wire>, cores: &[Id<Wire>]) -> Option<Parts> {
        let row = &design.wires[wire];
        let path = self.run(wire)?.path;
        let twist = match row.cable.map(|cable| &design.cables[cable.value]) {
            Some(cable) if cable.kind.is_twisted() && cores.len() > 1 => {
                let diameter = cores
                    .iter()
                    .filter_map(|core| diameter(design, *core))
                    .fold(None, |most: Option<Metre>, one| Some(most.map_or(one, |most| if one > most { one } else { most })));
                // More than six cores lie in layers: one ring of them is wider, and the length rather too long.
                take_up::twist(take_up::pitch_circle(cores.len() as u32, diameter?), cable.lay?.value)
            }
            _ => 1.0,
        };
        let share: Ratio = row.slack.unwrap_or(design.allowances.slack).value;
        let ends = row.allowance.map(|own| own.unwrap_or(design.allowances.end).value);
        Some(Parts { path, twist: path * (twist - 1.0), slack: path * share.0, ends })
    }

    fn length_of(&self, design: &Design, wire: Id<Wire>) -> Result<Metre, Unknown> {
        let row = &design.wires[wire];
        let unknown = |field, why: &str| Err(Unknown { field, why: why.to_owned() });
        match row.length.map(|length| length.value) {
            Some(Length::Given(length)) => return Ok(length),
            Some(Length::FromRoute) => {}
            None => return unknown("length", "its length is not stated"),
        }
        match self.place(wire) {
            Place::NoMap => unknown("length", "its length is to come from a route, and the vehicle has no segments"),
            Place::Stowed => unknown("length", "it is stowed, so no route gives its length"),
            Place::NoBreakout(sides) => {
                let ends: Vec<String> = sides.iter().map(|side| design.end_name(end_of(row, *side))).collect();
                Err(Unknown {
                    field: "breakout",
                    why: format!("its length is to come from a route, and {} is at no breakout", ends.join(" nor ")),
                })
            }
            Place::Broken(_) => unknown("route", "its length is to come from a route, and it has none (RT-01)"),
            Place::Laid(_) => {
                match self.parts(wire) {
                    None => unknown("lay", "the lay of its twisted cable is not known, and without diameters none can be assumed"),
                    // A conductor has a resistance above zero.
                    Some(parts) if parts.sum().0 <= 0.0 => {
                        unknown("length", "both ends are at one breakout and no end allowance is stated")
                    }
                    Some(parts) => Ok(parts.sum()),
                }
            }
        }
    }

    fn notes_of(&self, design: &Design, wire: Id<Wire>) -> Vec<NoteId> {
        let row = &design.wires[wire];
        let Some(run) = self.run(wire) else { return Vec::new() };
        let segments = run.segments.iter().filter_map(|segment| design.segments[*segment].length.note);
        let ends = row.allowance.iter().filter_map(|own| own.unwrap_or(design.allowances.end).note);
        let slack = row.slack.unwrap_or(design.allowances.slack).note;
        let lay = row.cable.and_then(|cable| design.cables[cable.value].lay).and_then(|lay| lay.note);
        let mut notes: Vec<NoteId> = segments.chain(ends).chain(slack).chain(lay).collect();
        notes.sort_unstable();
        notes.dedup();
        notes
    }
}

fn end_of(wire: &Wire, side: Side) -> End {
    match side {
        Side::From => wire.from.value,
        Side::To => wire.to.value,
    }
}

fn diameter(design: &Design, wire: Id<Wire>) -> Option<Metre> {
    Some(design.wire_specs[design.wires[wire].spec?.value].diameter?.value)
}

/// Cores of every cable.
fn cores(design: &Design) -> BTreeMap<Id<Cable>, Vec<Id<Wire>>> {
    let mut cores: BTreeMap<Id<Cable>, Vec<Id<Wire>>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        if let Some(cable) = wire.cable {
            cores.entry(cable.value).or_default().push(id);
        }
    }
    cores
}

/// Area that wires may take in the narrowest hole or clamp of each segment.
fn rooms(design: &Design) -> Vec<Option<SquareMetre>> {
    let mut rooms: Vec<Option<SquareMetre>> = vec![None; design.segments.len()];
    let Some(fill) = design.profile.fill else { return rooms };
    for (_, clamp) in design.clamps.iter() {
        let (Some(bore), true) = (clamp.bore, clamp.kind != ClampKind::Tie) else { continue };
        let room = bundle::room(bore.value, fill.value);
        let slot = &mut rooms[clamp.segment.value.row()];
        if slot.is_none_or(|known| room < known) {
            *slot = Some(room);
        }
    }
    rooms
}

/// What is routed as one: a wire, or cores of a cable that have the same ends, class, circuit and vias.
struct Together {
    wires: Vec<Id<Wire>>,
    demand: Demand,
}

fn places(design: &Design) -> (Vec<Place>, bool) {
    let ways = design.segments.iter().zip(rooms(design)).map(|((_, segment), room)| routes::Way {
        ends: [segment.from, segment.to].map(|end| end.value.row() as u32),
        length: segment.length.value,
        weight: segment.weight.value,
        admits: segment.admits.as_ref().map_or(u64::MAX, |classes| classes.value.iter().fold(0, |mask, class| mask | 1 << class.0)),
        room,
    });
    let rules = Apart {
        classes: design.profile.apart.iter().map(|pair| (pair.classes[0].0, pair.classes[1].0)).collect(),
        groups: design
            .circuits
            .iter()
            .flat_map(|(id, circuit)| circuit.not_with.iter().map(move |other| (id.row() as u32, other.value.row() as u32)))
            .collect(),
    };
    let map = Map::new(design.branch_points.len(), ways.collect(), &rules).expect("a checked design: segments join breakouts");
    let (mut places, together) = demands(design);
    let demands: Vec<Demand> = together.iter().map(|one| one.demand.clone()).collect();
    let plan = routes::route(&map, &demands).expect("a checked design: ends, vias and classes are known");
    for (Together { wires, demand }, route) in together.iter().zip(plan.routes) {
        let place = match route {
            Ok(found) => Place::Laid(run(found)),
            Err(broken) => Place::Broken(Break {
                at: Id::from_row(broken.nearest as usize),
                shut_in: Id::from_row(broken.shut_in as usize),
                remaining: broken.remaining,
                closed: broken.closed.into_iter().map(barrier).collect(),
                even_alone: broken.even_alone,
            }),
        };
        for &wire in wires {
            let turned = design.breakout_of(design.wires[wire].from.value).is_some_and(|from| from.value.row() as u32 != demand.from);
            let mut own = place.clone();
            if let (Place::Laid(run), true) = (&mut own, turned) {
                run.segments.reverse();
            }
            places[wire.row()] = own;
        }
    }
    (places, plan.proven)
}

fn run(found: Found) -> Run {
    Run {
        segments: found.ways.iter().map(|way| Id::from_row(*way as usize)).collect(),
        path: found.length,
        detour: (found.cost - found.alone).max(0.0),
        moved_by: found.moved_by.map(barrier),
        against: found.against,
    }
}

fn barrier(closed: Closed) -> (Id<Segment>, Barrier) {
    let why = match closed.why {
        Why::NotAdmitted => Barrier::NotAdmitted,
        Why::Class(class) => Barrier::Class(Class(class)),
        Why::Group(group) => Barrier::Circuit(Id::from_row(group as usize)),
        Why::Full { room, used, needs } => Barrier::Full { room, used, needs },
    };
    (Id::from_row(closed.way as usize), why)
}

/// Wires to be routed, and the places of all others.
fn demands(design: &Design) -> (Vec<Place>, Vec<Together>) {
    let mut places = Vec::with_capacity(design.wires.len());
    let mut together: Vec<Together> = Vec::new();
    // By cable, breakouts, class and circuit.
    type Alike = (Id<Cable>, [u32; 2], u8, Option<Id<Circuit>>);
    let mut of_cable: BTreeMap<Alike, Vec<usize>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        if wire.from.value == End::Stowed || wire.to.value == End::Stowed {
            places.push(Place::Stowed);
            continue;
        }
        let ends = [Side::From, Side::To].map(|side| (side, design.breakout_of(end_of(wire, side))));
        let [(_, Some(from)), (_, Some(to))] = ends else {
            places.push(Place::NoBreakout(ends.into_iter().filter(|(_, at)| at.is_none()).map(|(side, _)| side).collect()));
            continue;
        };
        // Told for each wire below.
        places.push(Place::NoMap);
        let (from, to) = (from.value.row() as u32, to.value.row() as u32);
        let class = design.class_of(id).map_or(UNCLASSED, |class| class.value.0);
        let via: Vec<routes::Via> = wire
            .via
            .iter()
            .map(|via| match via {
                Via::Point(point) => routes::Via::Point(point.row() as u32),
                Via::Segment(segment) => routes::Via::Way(segment.row() as u32),
            })
            .collect();
        let size = diameter(design, id).unwrap_or(Metre(0.0));
        if let Some(cable) = wire.cable {
            let rows = of_cable.entry((cable.value, [from.min(to), from.max(to)], class, wire.circuit.map(|c| c.value))).or_default();
            let is_alike = |one: &Demand| {
                if one.from == from { one.via == via } else { one.via.iter().rev().eq(&via) }
            };
            if let Some(&row) = rows.iter().find(|row| is_alike(&together[**row].demand)) {
                let one = &mut together[row];
                one.wires.push(id);
                one.demand.diameter = Metre(one.demand.diameter.0.hypot(size.0));
                continue;
            }
            rows.push(together.len());
        }
        let group = wire.circuit.map(|circuit| circuit.value.row() as u32);
        let pinned = !via.is_empty();
        together.push(Together { wires: vec![id], demand: Demand { from, to, class, group, diameter: size, via, pinned } });
    }
    (places, together)
}
