//! How far the harness runs between two things that hold it: clamps, breakouts where it ends on a connector, stud or ground point, and the
//! ends of a duct.
//!
//! Over a breakout that holds nothing a span runs on to the nearest support beyond it. Holes and ties hold nothing, and neither does a
//! segment without wires.
//!
//! Cost: one search per end of a segment, which ends at the first support.

use model::*;
use physics::Metre;
use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

/// A stretch between two supports, of which at least a part lies in the segment it is listed for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// How long it is.
    pub length: Metre,
    /// What holds it: a clamp or a breakout; `None` where nothing does.
    pub between: [Option<Subject>; 2],
}

/// Supports of a segment.
#[derive(Clone, Debug, Default)]
pub struct Held {
    /// Its stretches from the `from` end to the `to` end; empty if no wire lies in it.
    pub gaps: Vec<Gap>,
    /// Clamps of which the place is not known.
    pub nowhere: Vec<Id<Clamp>>,
}

impl Held {
    /// The longest stretch that something holds at both ends, or the first that nothing holds.
    pub fn longest(&self) -> Option<Gap> {
        let open = |gap: &Gap| gap.between.iter().any(Option::is_none);
        self.gaps.iter().copied().reduce(|longest, gap| match (open(&longest), open(&gap)) {
            (true, _) => longest,
            (false, true) => gap,
            _ if gap.length > longest.length => gap,
            _ => longest,
        })
    }
}

/// What holds each segment. `has_wires`: whether any lie in a segment.
pub(crate) fn held(design: &Design, has_wires: &dyn Fn(Id<Segment>) -> bool) -> Column<Segment, Held> {
    let map = Map::new(design, has_wires);
    design.segments.ids().map(|id| map.segment(id)).collect()
}

/// Whether a breakout holds the harness: it ends there on something that stands fast, or comes out of a duct.
fn holding(design: &Design) -> Vec<bool> {
    let mut holds = vec![false; design.branch_points.len()];
    let ends = design.wires.iter().flat_map(|(_, wire)| [wire.from.value, wire.to.value]);
    for end in ends.filter(|end| matches!(end, End::Pin(_) | End::Shell(_) | End::Stud(_) | End::Ground(_) | End::Case(_) | End::Inner(_)))
    {
        if let Some(breakout) = design.breakout_of(end) {
            holds[breakout.value.row()] = true;
        }
    }
    for (_, segment) in design.segments.iter().filter(|(_, segment)| segment.duct.is_some_and(|duct| duct.value)) {
        holds[segment.from.value.row()] = true;
        holds[segment.to.value.row()] = true;
    }
    holds
}

struct Map<'d> {
    design: &'d Design,
    /// Of each segment its clamps by distance from its `from` end.
    clamps: Vec<Vec<(Metre, Id<Clamp>)>>,
    nowhere: Vec<Vec<Id<Clamp>>>,
    has_wires: Vec<bool>,
    /// Of each breakout the segments with wires that meet there.
    meets: Vec<Vec<Id<Segment>>>,
    holds: Vec<bool>,
}

impl<'d> Map<'d> {
    fn new(design: &'d Design, has_wires: &dyn Fn(Id<Segment>) -> bool) -> Map<'d> {
        let mut clamps = vec![Vec::new(); design.segments.len()];
        let mut nowhere = vec![Vec::new(); design.segments.len()];
        for (id, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind == ClampKind::Clamp) {
            match clamp.position {
                Some(position) => clamps[clamp.segment.value.row()].push((position.value, id)),
                None => nowhere[clamp.segment.value.row()].push(id),
            }
        }
        clamps.iter_mut().for_each(|list| list.sort_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.1.cmp(&b.1))));
        let has_wires: Vec<bool> = design.segments.ids().map(has_wires).collect();
        let mut meets = vec![Vec::new(); design.branch_points.len()];
        for (id, segment) in design.segments.iter().filter(|(id, _)| has_wires[id.row()]) {
            meets[segment.from.value.row()].push(id);
            meets[segment.to.value.row()].push(id);
        }
        Map { design, clamps, nowhere, has_wires, meets, holds: holding(design) }
    }

    fn segment(&self, id: Id<Segment>) -> Held {
        let nowhere = self.nowhere[id.row()].clone();
        if !self.has_wires[id.row()] {
            return Held { gaps: Vec::new(), nowhere };
        }
        let segment = &self.design.segments[id];
        let mut gaps = Vec::new();
        let (mut last, before) = self.beyond(segment.from.value, id);
        let mut reached = Metre(0.0) - before;
        for &(at, clamp) in &self.clamps[id.row()] {
            let here = Some(Subject::Clamp(clamp));
            gaps.push(Gap { length: at - reached, between: [last, here] });
            (reached, last) = (at, here);
        }
        let (next, after) = self.beyond(segment.to.value, id);
        gaps.push(Gap { length: segment.length.value + after - reached, between: [last, next] });
        Held { gaps, nowhere }
    }

    /// The support nearest to an end of a segment, outside it, and how far beyond the end it is; none and 0 if there is none.
    fn beyond(&self, end: Id<BranchPoint>, without: Id<Segment>) -> (Option<Subject>, Metre) {
        let mut seen = std::collections::HashSet::new();
        let mut open = BinaryHeap::from([Reverse(Step { far: Metre(0.0), at: Reached::Breakout(end) })]);
        while let Some(Reverse(Step { far, at })) = open.pop() {
            let breakout = match at {
                Reached::Clamp(clamp) => return (Some(Subject::Clamp(clamp)), far),
                Reached::Breakout(breakout) => breakout,
            };
            if !seen.insert(breakout) {
                continue;
            }
            if self.holds[breakout.row()] {
                return (Some(Subject::Breakout(breakout)), far);
            }
            for &id in self.meets[breakout.row()].iter().filter(|id| **id != without) {
                let segment = &self.design.segments[id];
                let (length, forward) = (segment.length.value, segment.from.value == breakout);
                let clamps = &self.clamps[id.row()];
                let next = match (forward, clamps.first(), clamps.last()) {
                    (true, Some(&(at, clamp)), _) => Step { far: far + at, at: Reached::Clamp(clamp) },
                    (false, _, Some(&(at, clamp))) => Step { far: far + length - at, at: Reached::Clamp(clamp) },
                    _ => {
                        let other = if forward { segment.to.value } else { segment.from.value };
                        Step { far: far + length, at: Reached::Breakout(other) }
                    }
                };
                open.push(Reverse(next));
            }
        }
        (None, Metre(0.0))
    }
}

#[derive(Clone, Copy, PartialEq)]
struct Step {
    far: Metre,
    at: Reached,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Reached {
    Breakout(Id<BranchPoint>),
    Clamp(Id<Clamp>),
}

impl Eq for Step {}
impl Ord for Step {
    fn cmp(&self, other: &Self) -> Ordering {
        self.far.0.total_cmp(&other.far.0).then(self.at.cmp(&other.at))
    }
}
impl PartialOrd for Step {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
