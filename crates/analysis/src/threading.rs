//! Which connectors must be passed through which hole, and from where the harness is installed.
//!
//! Holes part the harness into bays. It is laid down in one bay first, and of every wire the end that lies away from that bay is passed
//! through the holes on the way. Any bay may be the first: taken is the one with the largest least difference between a hole and what is
//! passed through it. Where holes lie on a ring of bays there is no such order: then each hole is passed by its smaller side, and
//! [`Passing::first`] is `None`.
//!
//! Cost: bays × holes of a harness that holes part, and the lengths of all routes.

use model::*;
use physics::Metre;
use std::collections::VecDeque;

/// What is passed through a hole.
#[derive(Clone, Debug, PartialEq)]
pub struct Passing {
    /// The hole.
    pub hole: Id<Clamp>,
    /// The largest connector half of known size on the side that is passed, and its diameter.
    pub largest: Option<(Id<Connector>, Metre)>,
    /// Halves on that side whose size is not known, in order.
    pub unknown: Vec<Id<Connector>>,
    /// Whether the side at the segment's `to` end is passed; else that at its `from` end.
    pub to_side: bool,
    /// A breakout of the bay that the harness is laid down in first; `None` where holes lie on a ring.
    pub first: Option<Id<BranchPoint>>,
}

/// What lies behind a hole, seen from one side.
#[derive(Clone, Default)]
struct Behind {
    halves: Vec<Id<Connector>>,
}

/// What is passed through each hole that wires with connectors go through. `route`: segments of a wire from its `from` end.
pub(crate) fn threading(design: &Design, route: &dyn Fn(Id<Wire>) -> Option<Vec<Id<Segment>>>) -> Vec<Passing> {
    let mut holes_of: Vec<Vec<usize>> = vec![Vec::new(); design.segments.len()];
    let mut holes: Vec<Id<Clamp>> = Vec::new();
    for (id, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind == ClampKind::Hole) {
        holes_of[clamp.segment.value.row()].push(holes.len());
        holes.push(id);
    }
    if holes.is_empty() {
        return Vec::new();
    }
    // Per hole, what lies at the `from` side and at the `to` side of its segment.
    let mut sides: Vec<[Behind; 2]> = vec![Default::default(); holes.len()];
    for (id, wire) in design.wires.iter() {
        let Some(ways) = route(id) else { continue };
        let Some(start) = design.breakout_of(wire.from.value) else { continue };
        let mut at = start.value;
        for way in ways {
            let segment = &design.segments[way];
            let forward = segment.from.value == at;
            at = if forward { segment.to.value } else { segment.from.value };
            let (near, far) = if forward { (0, 1) } else { (1, 0) };
            for &hole in &holes_of[way.row()] {
                sides[hole][near].halves.extend(passes(design, wire.from.value));
                sides[hole][far].halves.extend(passes(design, wire.to.value));
            }
        }
    }
    for side in sides.iter_mut().flatten() {
        side.halves.sort_unstable();
        side.halves.dedup();
    }
    let bays = Bays::new(design, &holes_of);
    let chosen = bays.directions(design, &holes, &sides);
    let list = holes.iter().zip(sides).zip(chosen);
    let with_wires = list.filter(|((_, [a, b]), _)| !a.halves.is_empty() || !b.halves.is_empty());
    with_wires
        .map(|((&hole, sides), (to_side, first))| {
            let behind = &sides[usize::from(to_side)];
            let Size { largest, unknown } = size(design, behind);
            Passing { hole, largest, unknown, to_side, first }
        })
        .collect()
}

/// The connector half on the harness that a wire's end brings along; none where it is put on after the harness is in place.
fn passes(design: &Design, end: End) -> Option<Id<Connector>> {
    let End::Pin(pin) = end else { return None };
    let half = design.pins[pin].connector;
    let row = &design.connectors[half];
    let after = row.terminated_in_place.is_some_and(|flag| flag.value);
    (row.kind != ConnectorKind::Terminals && !after).then_some(half)
}

/// The largest half of known size, and those of unknown size.
struct Size {
    largest: Option<(Id<Connector>, Metre)>,
    unknown: Vec<Id<Connector>>,
}

fn size(design: &Design, behind: &Behind) -> Size {
    let mut largest: Option<(Id<Connector>, Metre)> = None;
    let mut unknown = Vec::new();
    for &half in &behind.halves {
        match design.shell_of(half) {
            Some(shell) if largest.is_none_or(|(_, known)| shell.value > known) => largest = Some((half, shell.value)),
            Some(_) => {}
            None => unknown.push(half),
        }
    }
    Size { largest, unknown }
}

/// Parts of the map that holes part, and the segments with holes between them.
struct Bays {
    /// Of each bay: a segment with holes, its holes, the bay beyond, and whether its `to` end lies there.
    next: Vec<Vec<Door>>,
    /// Of each bay its first breakout.
    first: Vec<Id<BranchPoint>>,
}

/// A hole, and whether the side at its segment's `to` end goes through.
#[derive(Clone, Copy)]
struct Through {
    hole: usize,
    to_side: bool,
}

/// A bay, and the holes that what lies in it went through last.
struct Reached {
    bay: usize,
    through: Vec<Through>,
}

/// A bay that may come first, with what is passed then.
struct Start {
    least: f64,
    bay: usize,
    through: Vec<Through>,
}

#[derive(Clone)]
struct Door {
    holes: Vec<usize>,
    to: usize,
    forward: bool,
}

impl Bays {
    fn new(design: &Design, holes_of: &[Vec<usize>]) -> Bays {
        let mut meets = vec![Vec::new(); design.branch_points.len()];
        for (_, segment) in design.segments.iter().filter(|(id, _)| holes_of[id.row()].is_empty()) {
            meets[segment.from.value.row()].push(segment.to.value.row());
            meets[segment.to.value.row()].push(segment.from.value.row());
        }
        let mut bay_of = vec![usize::MAX; design.branch_points.len()];
        let mut first = Vec::new();
        for id in design.branch_points.ids() {
            if bay_of[id.row()] != usize::MAX {
                continue;
            }
            let mut open = vec![id.row()];
            bay_of[id.row()] = first.len();
            while let Some(at) = open.pop() {
                for &other in &meets[at] {
                    if bay_of[other] == usize::MAX {
                        bay_of[other] = first.len();
                        open.push(other);
                    }
                }
            }
            first.push(id);
        }
        let mut next = vec![Vec::new(); first.len()];
        for (id, segment) in design.segments.iter().filter(|(id, _)| !holes_of[id.row()].is_empty()) {
            let (a, b) = (bay_of[segment.from.value.row()], bay_of[segment.to.value.row()]);
            let holes = holes_of[id.row()].clone();
            next[a].push(Door { holes: holes.clone(), to: b, forward: true });
            next[b].push(Door { holes, to: a, forward: false });
        }
        Bays { next, first }
    }

    /// Of each hole whether its `to` side is passed, and the bay that comes first.
    fn directions(&self, design: &Design, holes: &[Id<Clamp>], sides: &[[Behind; 2]]) -> Vec<(bool, Option<Id<BranchPoint>>)> {
        let spare = |hole: usize, to_side: bool| -> f64 {
            let Size { largest, unknown } = size(design, &sides[hole][usize::from(to_side)]);
            match (design.clamps[holes[hole]].bore, largest) {
                // What is not known may be anything: another side is taken if there is one.
                _ if !unknown.is_empty() => f64::NEG_INFINITY,
                (Some(bore), Some((_, passed))) => bore.value.0 - passed.0,
                _ => f64::INFINITY,
            }
        };
        let mut chosen: Vec<(bool, Option<Id<BranchPoint>>)> = Vec::with_capacity(holes.len());
        chosen.extend((0..holes.len()).map(|hole| (spare(hole, true) >= spare(hole, false), None)));
        let mut seen = vec![false; self.next.len()];
        for bay in 0..self.next.len() {
            if seen[bay] || self.next[bay].is_empty() {
                continue;
            }
            let (all, is_tree) = self.reach(bay);
            all.iter().for_each(|reached| seen[reached.bay] = true);
            if !is_tree {
                continue;
            }
            let mut best: Option<Start> = None;
            for &Reached { bay, .. } in &all {
                let through: Vec<Through> = self.reach(bay).0.into_iter().flat_map(|reached| reached.through).collect();
                let least = through.iter().map(|one| spare(one.hole, one.to_side)).fold(f64::INFINITY, f64::min);
                if best.as_ref().is_none_or(|known| least > known.least) {
                    best = Some(Start { least, bay, through });
                }
            }
            if let Some(start) = best {
                for Through { hole, to_side } in start.through {
                    chosen[hole] = (to_side, Some(self.first[start.bay]));
                }
            }
        }
        chosen
    }

    /// Bays that can be reached from one, each with the holes passed into it and whether towards their `to` side; and whether each is reached
    /// in one way only.
    fn reach(&self, start: usize) -> (Vec<Reached>, bool) {
        let mut found = vec![Reached { bay: start, through: Vec::new() }];
        let mut seen = std::collections::HashSet::from([start]);
        let mut open = VecDeque::from([start]);
        let mut doors = 0;
        while let Some(bay) = open.pop_front() {
            for door in &self.next[bay] {
                doors += 1;
                if seen.insert(door.to) {
                    let through = door.holes.iter().map(|&hole| Through { hole, to_side: door.forward }).collect();
                    found.push(Reached { bay: door.to, through });
                    open.push_back(door.to);
                }
            }
        }
        // Every door is met from both sides; in a tree there is one less than there are bays.
        let is_tree = doors == 2 * (found.len() - 1);
        (found, is_tree)
    }
}
