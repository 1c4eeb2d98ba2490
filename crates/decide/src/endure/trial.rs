//! A plan tried out: the batteries followed through it leg by leg, and the first thing that does not hold.
//!
//! Plans that begin alike share what is followed: a tree of segments, each with how the batteries stand after it. A load that is on and off in turns is followed turn by turn, up to
//! `FOLLOWED` of them in a leg; of more it draws its mean, as what pulses does, with its peak and its coming on looked at where the leg begins and ends.

use super::course::{InTurns, Stands, Task};
use analysis::timeline::{Fineness, Follow, Leg, Marks, RunEnd, Standing};
use analysis::{Silent, Watch};
use model::*;
use physics::*;
use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

/// Turns of a load in a leg up to which each is followed.
const FOLLOWED: usize = 12;
/// Shorter than this is no stretch, s.
const INSTANT: f64 = 1e-3;

/// Which loads that may be shed are on: by period, then by load. One that is switched in turns in a leg is on for as much of each turn as it is of the leg's periods.
pub(crate) type Plan = Vec<bool>;

/// Why a plan does not hold.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Failure {
    /// A load that it keeps has no power.
    Unfed(Id<Load>),
    /// A limit is passed.
    Limit(Mark),
    /// A load comes on again with too few volts.
    Restart(Id<Load>),
    /// A load that comes on again takes another one's power.
    Inrush(Id<Load>, Id<Load>),
    /// A part of the network finds no state.
    Unsettled,
}

/// Where a plan stops.
#[derive(Clone, Debug)]
pub(crate) struct Fails {
    pub(crate) why: Failure,
    /// Time since the start, s.
    pub(crate) at: f64,
    /// Last period of the segment.
    pub(crate) period: usize,
}

/// What is off for how long, before it is followed.
struct Piece {
    lasts: f64,
    off: Vec<bool>,
    /// Loads on in turns that are not followed, with the share of the time that they are on.
    shares: Vec<(usize, f64)>,
    /// Last period that what is off rests on.
    last: usize,
}

/// A stretch within which nothing is switched.
pub(crate) struct Segment {
    pub(crate) leg: usize,
    /// Loads that are off by the plan.
    pub(crate) off: Vec<bool>,
    pub(crate) followed: Leg,
    /// Loads that came on again at its beginning, and what they meet.
    starts: Vec<(Id<Load>, Option<Failure>)>,
    ended: Option<RunEnd>,
    pub(crate) after: Standing,
}

/// What a plan came to.
pub(crate) struct Outcome {
    pub(crate) segments: Vec<Arc<Segment>>,
    pub(crate) fails: Option<Fails>,
    /// Limits passed that are not held against it.
    pub(crate) passed: Vec<(usize, Mark)>,
}

/// How strict a trial is.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Strict {
    /// Every load that is on stays fed, every limit holds but those that hold in no plan.
    All,
    /// Only what must be kept counts.
    MustKeep,
}

struct Node {
    segment: Arc<Segment>,
    next: HashMap<Key, usize>,
}

/// A segment: leg, length, which loads are off, which are just coming on, and shares of those that are on in turns.
type Key = (usize, u64, Vec<bool>, Vec<bool>, Vec<(usize, u64)>);

/// Trials of plans of one task.
pub(crate) struct Trial<'t, 'a, 'd> {
    task: &'t Task<'a, 'd>,
    fineness: Fineness,
    marks: Marks,
    nodes: Vec<Node>,
    roots: HashMap<Key, usize>,
    pub(crate) known: Known,
}

/// What trials of one task leave to those of the same task cut otherwise.
#[derive(Clone, Debug, Default)]
pub(crate) struct Known {
    /// Limits that hold in no plan, by leg.
    pub(crate) exempt: Vec<(usize, Mark)>,
    /// Segments followed.
    pub(crate) followed: usize,
    /// Plans tried.
    pub(crate) tried: usize,
}

impl<'t, 'a, 'd> Trial<'t, 'a, 'd> {
    pub(crate) fn new(task: &'t Task<'a, 'd>, fineness: Fineness, known: Known) -> Trial<'t, 'a, 'd> {
        Trial { task, fineness, marks: marks(task), nodes: Vec::new(), roots: HashMap::new(), known }
    }

    /// Follows a plan through its periods (with `beyond` also the rest of the mission, nothing switched any more) to the first thing that does not hold.
    pub(crate) fn run(&mut self, plan: &Plan, strict: Strict, beyond: bool) -> Outcome {
        let task = self.task;
        let count = task.shed.len();
        self.known.tried += 1;
        let mut outcome = Outcome { segments: Vec::new(), fails: None, passed: Vec::new() };
        let until = if beyond { task.periods.len() } else { task.planned };
        let state = |period: usize| {
            let row = period.min(task.planned.saturating_sub(1));
            &plan[row * count..(row + 1) * count]
        };
        let mut follow = task.follow(self.fineness);
        follow.mark(self.marks.clone());
        let mut standing = task.begin.clone();
        let mut before: Option<Vec<bool>> = None;
        let mut at_node: Option<usize> = None;
        // What is off: by the plan, of what the mission has on.
        let off =
            |period: usize| -> Vec<bool> { task.shed.iter().zip(state(period)).map(|(s, on)| !on && task.wants(s.load, period)).collect() };
        let mut first = 0;
        let mut ahead: VecDeque<Piece> = VecDeque::new();
        while first < until || !ahead.is_empty() {
            if ahead.is_empty() {
                ahead = self.pieces(plan, first, until, &off);
                first = ahead.back().map_or(until, |piece| piece.last + 1);
            }
            let Some(Piece { lasts, off: here, shares, last }) = ahead.pop_front() else { break };
            let leg = task.periods[last].leg;
            let starting: Vec<bool> = here
                .iter()
                .enumerate()
                .map(|(n, off)| !off && task.wants(task.shed[n].load, last) && before.as_ref().is_some_and(|before| before[n]))
                .collect();
            let key =
                (leg, lasts.to_bits(), here.clone(), starting.clone(), shares.iter().map(|&(n, share)| (n, share.to_bits())).collect());
            let known = match at_node {
                None => self.roots.get(&key).copied(),
                Some(node) => self.nodes[node].next.get(&key).copied(),
            };
            let node = known.unwrap_or_else(|| {
                follow.stand(&standing);
                let segment = Arc::new(self.segment(&mut follow, leg, lasts, (&here, &starting, &shares)));
                self.nodes.push(Node { segment, next: HashMap::new() });
                self.known.followed += 1;
                let node = self.nodes.len() - 1;
                match at_node {
                    None => self.roots.insert(key, node),
                    Some(parent) => self.nodes[parent].next.insert(key, node),
                };
                node
            });
            let segment = self.nodes[node].segment.clone();
            standing = segment.after.clone();
            at_node = Some(node);
            let fails = self.judge(&segment, &here, last, strict, &mut outcome.passed);
            outcome.segments.push(segment);
            if fails.is_some() {
                outcome.fails = fails;
                return outcome;
            }
            // A load that the mission has off keeps what it was, so that it comes on again only where the plan had it off.
            before = Some(
                here.iter()
                    .enumerate()
                    .map(|(n, off)| if task.wants(task.shed[n].load, last) { *off } else { before.as_ref().is_some_and(|b| b[n]) })
                    .collect(),
            );
        }
        outcome
    }

    /// What comes next of a plan: periods of a leg in which the same is off; of a leg with something on in turns all of it.
    fn pieces(&self, plan: &Plan, first: usize, until: usize, off: &dyn Fn(usize) -> Vec<bool>) -> VecDeque<Piece> {
        let task = self.task;
        let leg = task.periods[first].leg;
        let parts: Vec<(usize, InTurns, usize)> = match first < task.planned && first == task.spans[leg].start {
            true => (0..task.shed.len()).filter_map(|n| task.part(plan, n, leg).map(|(turns, on)| (n, turns, on))).collect(),
            false => Vec::new(),
        };
        if parts.is_empty() {
            let here = off(first);
            let same = |&period: &usize| task.periods[period].leg == leg && off(period) == here;
            let last = (first..until).take_while(same).last().unwrap_or(first);
            let lasts = task.periods[first..=last].iter().map(|period| period.lasts).sum();
            return VecDeque::from([Piece { lasts, off: here, shares: Vec::new(), last }]);
        }
        let span = task.spans[leg].clone();
        let (begins, share) = (task.periods[first].from, |on: usize| on as f64 / span.len() as f64);
        let followed = |turns: &InTurns| turns.times <= FOLLOWED;
        let ends = task.periods[span.end - 1].from + task.periods[span.end - 1].lasts - begins;
        let mut times: Vec<f64> = span.clone().map(|period| task.periods[period].from - begins).collect();
        times.push(ends);
        for (_, turns, on) in parts.iter().filter(|(_, turns, _)| followed(turns)) {
            times.extend((0..turns.times).flat_map(|turn| [turn as f64, turn as f64 + share(*on)]).map(|turn| turn * turns.lasts));
        }
        times.sort_by(f64::total_cmp);
        times.dedup_by(|later, earlier| *later - *earlier < INSTANT);
        let shares: Vec<(usize, f64)> = parts.iter().filter(|(_, turns, _)| !followed(turns)).map(|&(n, _, on)| (n, share(on))).collect();
        let mut pieces: VecDeque<Piece> = VecDeque::new();
        for pair in times.windows(2) {
            let middle = 0.5 * (pair[0] + pair[1]);
            let period = span.clone().rev().find(|&period| task.periods[period].from - begins <= middle).unwrap_or(first);
            let mut here = off(period);
            for &(n, turns, on) in &parts {
                here[n] = followed(&turns) && (middle / turns.lasts).fract() >= share(on);
            }
            let lasts = pair[1] - pair[0];
            match pieces.back_mut().filter(|piece| piece.off == here) {
                Some(piece) => piece.lasts += lasts,
                // How much of each turn is on rests on every period of the leg.
                None => pieces.push_back(Piece { lasts, off: here, shares: shares.clone(), last: span.end - 1 }),
            }
        }
        pieces
    }

    fn segment(
        &self,
        follow: &mut Follow,
        leg: usize,
        lasts: f64,
        (off, starting, shares): (&[bool], &[bool], &[(usize, f64)]),
    ) -> Segment {
        let task = self.task;
        follow.share(shares.iter().map(|&(n, share)| (task.shed[n].load, share)).collect());
        let row = &task.legs[leg];
        let planned = &task.points[row.planned];
        let commanded = commands(task, leg, off);
        let mut starts = Vec::new();
        let in_turns = || shares.iter().map(|&(n, _)| n);
        for n in (0..starting.len()).filter(|&n| starting[n] || in_turns().any(|of| of == n)) {
            starts.push((task.shed[n].load, self.start(follow, planned, &commanded, task.shed[n].load, leg, off)));
        }
        let (followed, ended) = follow.go(planned, &commanded, Second(lasts), &Silent as &dyn Watch);
        for n in in_turns() {
            starts.push((task.shed[n].load, self.start(follow, planned, &commanded, task.shed[n].load, leg, off)));
        }
        Segment { leg, off: off.to_vec(), followed, starts, ended, after: follow.standing() }
    }

    /// What a load that comes on again meets: too few volts, or its own inrush taking another one's power.
    fn start(
        &self,
        follow: &Follow,
        planned: &Point,
        commanded: &[(ElementId, Commanded)],
        load: Id<Load>,
        leg: usize,
        off: &[bool],
    ) -> Option<Failure> {
        let design = self.task.design();
        let row = &design.loads[load];
        if row.restart.volts.is_none() && row.inrush.is_none() {
            return None;
        }
        // Beside what is on in turns with it, where that draws its mean.
        let peak = follow.has_shares();
        let steady = follow.state(planned, commanded, peak, &[]);
        let volts = |point: &Point, load: Id<Load>| point.load_voltage[load].filter(|_| point.load_fed[load]);
        if let Some(least) = row.restart.volts
            && volts(&steady, load).is_none_or(|volts| volts < least.value)
        {
            return Some(Failure::Restart(load));
        }
        let inrush = row.inrush?;
        let surge = follow.state(planned, commanded, peak, &[(load, LoadChange::Current(inrush.value))]);
        let kept = |other: &Id<Load>| {
            let shed = self.task.shed.iter().position(|s| s.load == *other).is_some_and(|n| off[n]);
            *other != load && !shed && self.task.legs[leg].stands[*other] == Stands::On
        };
        let holds_up = |other: Id<Load>| {
            let (needs, lasts) = (design.loads[other].hold_up, row.inrush_time);
            matches!((needs, lasts), (Some(needs), Some(lasts)) if needs.value >= lasts.value)
        };
        let lets_go = |other: &Id<Load>| {
            let is_on = |point: &Point| point.load_fed[*other] && point.load_state[*other] == LoadState::On;
            is_on(&steady) && !is_on(&surge) && !holds_up(*other)
        };
        design.loads.ids().filter(kept).find(lets_go).map(|other| Failure::Inrush(load, other))
    }

    /// The first thing in a segment that does not hold.
    fn judge(&self, segment: &Segment, off: &[bool], period: usize, strict: Strict, passed: &mut Vec<(usize, Mark)>) -> Option<Fails> {
        let task = self.task;
        let leg = &task.legs[segment.leg];
        let fails = |why: Failure, at: f64| Some(Fails { why, at, period });
        let counts = |load: Id<Load>| match strict {
            Strict::MustKeep => task.must[load],
            Strict::All => task.must[load] || task.shed.iter().position(|s| s.load == load).is_some_and(|n| !off[n]),
        };
        if strict == Strict::All
            && let Some((_, Some(why))) = segment.starts.iter().find(|(_, why)| why.is_some())
        {
            return fails(why.clone(), segment.followed.from.0);
        }
        let mut all: Vec<(f64, Failure)> = Vec::new();
        let unfed = segment.followed.unfed.iter().filter(|(load, _)| leg.stands[*load] == Stands::On && counts(*load));
        all.extend(unfed.map(|&(load, at)| (at.0, Failure::Unfed(load))));
        for &(mark, at) in &segment.followed.asks.passed {
            // Of a load that the plan gives up nothing is asked.
            if matches!(mark, Mark::Load(load) if leg.stands[load] != Stands::On || !counts(load)) {
                continue;
            }
            match strict == Strict::MustKeep || self.known.exempt.contains(&(segment.leg, mark)) {
                true => passed.push((segment.leg, mark)),
                false => all.push((at.0, Failure::Limit(mark))),
            }
        }
        if segment.ended.is_some() {
            all.push((segment.followed.to.0, Failure::Unsettled));
        }
        let (at, why) = all.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
        fails(why, at)
    }
}

/// What a leg's commands are with some loads off.
pub(crate) fn commands(task: &Task, leg: usize, off: &[bool]) -> Vec<(ElementId, Commanded)> {
    let mut commanded = task.legs[leg].commanded.clone();
    for (s, _) in task.shed.iter().zip(off).filter(|(_, off)| **off) {
        match &s.lever {
            Lever::Own => commanded.push((ElementId::Load(s.load), Commanded::Off)),
            Lever::Open(devices) => commanded.extend(devices.iter().map(|&device| (device, Commanded::Off))),
        }
    }
    commanded
}

/// By how much a state passes a mark; below zero where it does not, and where there is nothing to pass it.
pub(crate) fn over(task: &Task, point: &Point, mark: Mark, limit: f64) -> f64 {
    let current = |element: ElementId| task.prepared.branch_of(element).map(|row| point.current[row]);
    let over = match mark {
        Mark::Bus(bus) => task.follow(Fineness::USUAL).bus_volt(point, bus).map(|volts| limit - volts.0),
        Mark::Load(load) => point.load_voltage[load].map(|volts| limit - volts.0),
        Mark::Device(device) => current(ElementId::Protector(device)).map(|amperes| amperes.abs() - limit),
        Mark::Battery(battery) => current(ElementId::Source(battery)).map(|amperes| -amperes - limit),
    };
    over.unwrap_or(f64::NEG_INFINITY)
}

/// What every plan is held against: least volts of buses and loads, ratings of devices, peaks of batteries.
pub(crate) fn marks(task: &Task) -> Marks {
    let design = task.design();
    let buses =
        design.profile.bus_min.into_iter().flat_map(|least| task.timeline.buses.iter().map(move |&bus| (Mark::Bus(bus), least.value.0)));
    let loads = design.loads.ids().map(|load| (Mark::Load(load), rules::volts_limits(design, load).0.value.0));
    let devices = design.protectors.iter().filter_map(|(device, row)| Some((Mark::Device(device), row.rating?.value.0)));
    let peak = |&battery: &Id<Source>| Some((Mark::Battery(battery), design.batteries[battery].peak?.value.0));
    let batteries = task.timeline.batteries.iter().filter_map(peak);
    Marks { at: buses.chain(loads).chain(devices).chain(batteries).collect() }
}
