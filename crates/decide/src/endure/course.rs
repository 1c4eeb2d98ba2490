//! What lies ahead: legs of the mission cut into periods, what is on in each, what may be shed, and what opens for it.

use super::Ask;
use analysis::timeline::{Fineness, Follow, Timeline, followed};
use analysis::{Law, Prepared};
use model::*;
use physics::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Shorter than this is no period, s.
const INSTANT: f64 = 1e-3;
/// Ways on to two devices that are looked at together, at most.
const PAIRED: usize = 12;

/// What is commanded, in order.
pub(crate) type Commands = Vec<(ElementId, Commanded)>;
/// What takes a load's power and no other's.
type Opens<T> = BTreeMap<Id<Load>, Vec<T>>;

/// A stretch with one set of commands of the mission.
pub(crate) struct Leg {
    pub(crate) phase: Id<Phase>,
    /// The phase's state, as the run wants it.
    pub(crate) planned: usize,
    pub(crate) commanded: Commands,
    /// Time since the start, s.
    pub(crate) from: f64,
    pub(crate) to: f64,
    /// Settled with the batteries as they stand at the start, pulses as their mean.
    pub(crate) point: Point,
    pub(crate) stands: Column<Load, Stands>,
    /// Power of each load there, W.
    pub(crate) power: Column<Load, f64>,
    pub(crate) laws: Column<Load, Law>,
}

/// What the mission makes of a load in a leg.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stands {
    /// Off.
    Off,
    /// On, and fed whatever is shed.
    On,
    /// On, and nothing feeds it even with everything on.
    Lost,
}

/// A part of a leg within which nothing is switched.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Period {
    pub(crate) leg: usize,
    pub(crate) from: f64,
    pub(crate) lasts: f64,
}

impl Period {
    pub(crate) fn hours(&self) -> f64 {
        self.lasts / 3600.0
    }
}

/// How a load is switched on and off in turns through what is planned of a leg, of which it is on for a part. How many there are follows from the leg and the load alone, so that more of it is on whenever
/// less of it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct InTurns {
    pub(crate) times: usize,
    /// One turn, on and off, s.
    pub(crate) lasts: f64,
    /// Periods that it is on in at the least, if it is on at all: its least time on.
    pub(crate) least: usize,
}

/// A load that may be shed.
pub(crate) struct Sheddable {
    pub(crate) load: Id<Load>,
    pub(crate) lever: Lever,
    /// It keeps a battery warm.
    pub(crate) heats: bool,
}

/// Everything that the search works on.
pub(crate) struct Task<'a, 'd> {
    pub(crate) prepared: &'a Prepared<'d>,
    pub(crate) points: &'a [Point],
    pub(crate) timeline: Timeline,
    pub(crate) corner: Corner,
    pub(crate) begin: analysis::timeline::Standing,
    pub(crate) charge: Vec<Coulomb>,
    pub(crate) legs: Vec<Leg>,
    /// Periods up to the need, then those of the rest of the mission.
    pub(crate) periods: Vec<Period>,
    /// How many of them are planned for.
    pub(crate) planned: usize,
    /// Planned periods of each leg.
    pub(crate) spans: Vec<Range<usize>>,
    /// Of each leg and load that may be shed.
    turns: Vec<Vec<Option<InTurns>>>,
    pub(crate) shed: Vec<Sheddable>,
    pub(crate) tiers: Vec<u32>,
    /// Loads that each function is kept with: of alternatives the first that have power throughout.
    pub(crate) holds: Column<Function, Vec<Id<Load>>>,
    /// Functions with a tier and without alternatives, and where in `tiers` it stands. What is content with one of several is kept with those that
    /// need that one.
    pub(crate) ranked: Vec<(Id<Function>, usize)>,
    /// Loads that must-keep functions need.
    pub(crate) must: Column<Load, bool>,
    /// Loads that stay on because nothing says what they are worth.
    pub(crate) unranked: Vec<Id<Load>>,
    /// End of the mission, or where the first phase without a duration begins.
    pub(crate) ends: f64,
    /// The phase whose duration is missing.
    pub(crate) lacks: Option<Id<Phase>>,
}

impl<'a, 'd> Task<'a, 'd> {
    pub(crate) fn new(prepared: &'a Prepared<'d>, ask: &Ask<'a>) -> Task<'a, 'd> {
        let design = prepared.design();
        let timeline = followed(design);
        let corner = ask.points.first().map_or(Corner::Low, |point| point.scenario.corner);
        let (begin, charge) = {
            let follow = Follow::new(prepared, &timeline, corner, Fineness::USUAL);
            (begin(&timeline, &follow, &ask.standing), follow.charge().to_vec())
        };
        let mut task = Task {
            prepared,
            points: ask.points,
            timeline,
            corner,
            begin,
            charge,
            legs: Vec::new(),
            periods: Vec::new(),
            planned: 0,
            spans: Vec::new(),
            turns: Vec::new(),
            shed: Vec::new(),
            tiers: Vec::new(),
            holds: design.functions.column(Vec::new()),
            ranked: Vec::new(),
            must: design.loads.column(false),
            unranked: Vec::new(),
            ends: 0.0,
            lacks: None,
        };
        task.find_legs(ask);
        task.rank();
        task.find_levers();
        task
    }

    pub(crate) fn design(&self) -> &'d Design {
        self.prepared.design()
    }

    pub(crate) fn follow(&self, fineness: Fineness) -> Follow<'_, 'd> {
        Follow::new(self.prepared, &self.timeline, self.corner, fineness)
    }

    fn find_legs(&mut self, ask: &Ask) {
        let design = self.design();
        let mut spans: Vec<(usize, Commands, f64, f64)> = Vec::new();
        let mut now = 0.0;
        for (phase, row) in design.phases.iter().filter(|(phase, _)| *phase >= ask.from) {
            let Some(duration) = row.duration else {
                self.lacks = Some(phase);
                break;
            };
            let Some(planned) = ask.points.iter().position(|point| point.scenario.phase == phase) else { continue };
            let duration = duration.value.0;
            let into = if phase == ask.from { ask.into.0.clamp(0.0, duration) } else { 0.0 };
            let mut breaks: Vec<f64> = row.programme.iter().map(|programme| programme.after.value.0).collect();
            breaks.push(duration);
            breaks.dedup();
            let (mut commanded, mut since) = (Vec::new(), into);
            for until in breaks {
                if until > since + INSTANT {
                    spans.push((planned, commanded.clone(), now, now + until - since));
                    now += until - since;
                    since = until;
                }
                let ordered = row.programme.iter().filter(|programme| programme.after.value.0 == until);
                commanded.extend(ordered.flat_map(|programme| &programme.states).map(|state| state.value));
            }
        }
        // Needed for longer than the mission: its last leg goes on.
        if let (Some(last), Some(need)) = (spans.last_mut(), ask.need)
            && self.lacks.is_none()
            && need.0 > last.3
        {
            last.3 = need.0;
            now = need.0;
        }
        self.ends = now;
        let legs: Vec<Leg> = spans
            .into_par_iter()
            .map(|(planned, commanded, from, to)| {
                let mut follow = self.follow(Fineness::USUAL);
                follow.stand(&self.begin);
                let point = follow.state(&ask.points[planned], &commanded, false, &[]);
                let is_off = |load: Id<Load>| matches!(point.load_state[load], LoadState::Off | LoadState::Unknown);
                let unfed = |load: Id<Load>| !is_off(load) && !point.load_fed[load];
                // What the mission's own commands leave without power is off; it is lost where only the changes take its power.
                let as_planned = design.loads.ids().any(unfed).then(|| follow.state(&ask.unchanged[planned], &commanded, false, &[]));
                let stands = design.loads.ids().map(|load| match () {
                    () if is_off(load) => Stands::Off,
                    () if !unfed(load) => Stands::On,
                    () if as_planned.as_ref().is_some_and(|point| point.load_fed[load]) => Stands::Lost,
                    () => Stands::Off,
                });
                let stands = stands.collect();
                let all = self.prepared.laws(&point.scenario);
                let of = |load: Id<Load>| self.prepared.branch_of(ElementId::Load(load));
                let laws = design.loads.ids().map(|load| of(load).map_or(Law::Open, |row| all[row])).collect();
                let watts = |load: Id<Load>| Some(point.current[of(load)?] * point.load_voltage[load]?.0);
                let power = design.loads.ids().map(|load| watts(load).unwrap_or(0.0)).collect();
                Leg { phase: point.scenario.phase, planned, commanded, from, to, point, stands, power, laws }
            })
            .collect();
        self.legs = legs;
    }

    /// Cuts the legs into some `count` periods up to a time, and one for each leg after it.
    pub(crate) fn cut(&mut self, until: f64, count: usize) {
        self.periods.clear();
        let step = until / count.max(1) as f64;
        let mut after = Vec::new();
        for (at, leg) in self.legs.iter().enumerate() {
            let to = leg.to.min(until);
            if to > leg.from + INSTANT {
                let parts = ((to - leg.from) / step - 1e-6).ceil().max(1.0);
                let lasts = (to - leg.from) / parts;
                for n in 0..parts as usize {
                    self.periods.push(Period { leg: at, from: leg.from + n as f64 * lasts, lasts });
                }
            }
            let from = leg.from.max(until);
            if leg.to > from + INSTANT {
                after.push(Period { leg: at, from, lasts: leg.to - from });
            }
        }
        self.planned = self.periods.len();
        self.periods.extend(after);
        let of_leg = |leg: usize| {
            let first = self.periods[..self.planned].partition_point(|period| period.leg < leg);
            first..self.periods[..self.planned].partition_point(|period| period.leg <= leg)
        };
        self.spans = (0..self.legs.len()).map(of_leg).collect();
        let shed = 0..self.shed.len();
        self.turns = (0..self.legs.len()).map(|leg| shed.clone().map(|n| self.find_turns(n, leg)).collect()).collect();
    }

    fn find_turns(&self, n: usize, leg: usize) -> Option<InTurns> {
        let s = &self.shed[n];
        let (row, span) = (&self.design().loads[s.load], self.spans[leg].clone());
        let off = row.off_at_most?.value.0;
        // A battery cools while its heater is off: what that does is not the same in turns.
        if s.heats || span.len() < 2 || !self.wants(s.load, span.start) || !self.restarts(s.load, span.start) {
            return None;
        }
        let on = row.on_at_least.map_or(0.0, |time| time.value.0);
        let (periods, whole) = (span.len(), self.periods[span].iter().map(|period| period.lasts).sum::<f64>());
        // No turn is longer than its least time on and its longest time off: with more on, less of it is off.
        let times = (whole / (on + off) - 1e-9).ceil();
        let lasts = whole / times;
        let least = (periods as f64 * on / lasts - 1e-9).ceil().max(1.0) as usize;
        (times > 1.0 && least < periods).then_some(InTurns { times: times as usize, lasts, least })
    }

    /// From now on no load is switched in turns: each is on first and off then.
    pub(crate) fn without_turns(&mut self) {
        self.turns.iter_mut().flatten().for_each(|turns| *turns = None);
    }

    /// How a load is switched in turns in a leg where it is on for a part of it; `None` where it is on first and off then.
    pub(crate) fn turns(&self, n: usize, leg: usize) -> Option<InTurns> {
        *self.turns.get(leg)?.get(n)?
    }

    /// Whether any load may be switched in turns in a leg.
    pub(crate) fn has_turns(&self, leg: usize) -> bool {
        self.turns[leg].iter().any(Option::is_some)
    }

    /// The period that decides whether a load draws at some time of another one: of what is on in turns its leg's first.
    pub(crate) fn decides(&self, n: usize, period: usize) -> usize {
        let leg = self.periods[period].leg;
        if self.turns(n, leg).is_some() { self.spans[leg].start } else { period }
    }

    /// How many of the planned periods of a leg a plan has a load on in, where it is switched in turns there.
    pub(crate) fn part(&self, plan: &[bool], n: usize, leg: usize) -> Option<(InTurns, usize)> {
        let turns = self.turns(n, leg)?;
        let span = self.spans[leg].clone();
        let on = span.clone().filter(|period| plan[period * self.shed.len() + n]).count();
        (0 < on && on < span.len()).then_some((turns, on))
    }

    /// Tiers, must-keep loads, and what may be shed in principle: loads that only ranked functions need.
    fn rank(&mut self) {
        let design = self.design();
        let mut ranked: Column<Load, bool> = design.loads.column(false);
        let mut pinned: Column<Load, bool> = design.loads.column(false);
        let plain = |function: &Function| !has_alternatives(&function.need);
        let mut tiers: Vec<u32> = design.functions.iter().filter(|(_, f)| plain(f)).filter_map(|(_, f)| Some(f.tier?.value)).collect();
        tiers.sort_unstable();
        tiers.dedup();
        for (id, function) in design.functions.iter() {
            let tier = function.tier.filter(|_| plain(function)).and_then(|tier| tiers.iter().position(|known| *known == tier.value));
            if let Some(tier) = tier {
                self.ranked.push((id, tier));
            }
            let is_lost = |load: Id<Load>| self.legs.iter().any(|leg| leg.stands[load] == Stands::Lost);
            // Where no choice keeps it, all that it names counts, so that what is lost is said.
            let holds = kept_with(&function.need, &is_lost).unwrap_or_else(|| named(&function.need));
            self.holds[id] = holds.clone();
            if !function.must_keep && !plain(function) {
                continue;
            }
            for load in holds {
                if function.must_keep {
                    self.must[load] = true;
                } else if tier.is_some() {
                    ranked[load] = true;
                } else {
                    pinned[load] = true;
                }
            }
        }
        self.tiers = tiers;
        let on = |load: Id<Load>| self.legs.iter().any(|leg| leg.stands[load] == Stands::On);
        for load in design.loads.ids().filter(|&load| on(load) && !self.must[load]) {
            if ranked[load] && !pinned[load] {
                let heats =
                    design.batteries.iter().any(|(_, b)| b.cells.as_ref().is_some_and(|c| c.heater.is_some_and(|h| h.value == load)));
                self.shed.push(Sheddable { load, lever: Lever::Own, heats });
            } else {
                self.unranked.push(load);
            }
        }
    }

    /// What opens for each load: the device, or the two, that feed it and nothing else that is on, in every leg in which it is on; else its own command.
    ///
    /// Cost: a state near for each leg and closed device.
    fn find_levers(&mut self) {
        let design = self.design();
        let devices: Vec<ElementId> =
            design.protectors.ids().map(ElementId::Protector).chain(design.switches.ids().map(ElementId::Switch)).collect();
        let found: Vec<(Opens<ElementId>, Opens<[ElementId; 2]>)> = self
            .legs
            .par_iter()
            .map(|leg| {
                let near = self.prepared.near(&leg.point);
                let mut room = near.room();
                let mut unfed = |open: &[ElementId]| {
                    let mut scenario = leg.point.scenario.clone();
                    scenario.switches.extend(open.iter().map(|&element| (element, Commanded::Off)));
                    let found = near.try_point(&scenario, &mut room).unwrap_or_else(|_| near.afresh(&scenario));
                    let was = |load: &Id<Load>| leg.stands[*load] == Stands::On;
                    design.loads.ids().filter(was).filter(|&load| !found.load_fed[load]).collect::<Vec<_>>()
                };
                let carries =
                    |&element: &ElementId| self.prepared.branch_of(element).is_some_and(|row| leg.point.current[row].abs() > 1e-6);
                let (mut alone, mut none) = (BTreeMap::<_, Vec<ElementId>>::new(), Vec::new());
                for device in devices.iter().copied().filter(carries) {
                    match unfed(&[device])[..] {
                        [] => none.push(device),
                        [load] => alone.entry(load).or_default().push(device),
                        _ => {}
                    }
                }
                let mut pairs = BTreeMap::<_, Vec<[ElementId; 2]>>::new();
                let wanting = self.shed.iter().any(|s| leg.stands[s.load] == Stands::On && !alone.contains_key(&s.load));
                if wanting {
                    none.truncate(PAIRED);
                    for (n, &a) in none.iter().enumerate() {
                        for &b in &none[n + 1..] {
                            if let [load] = unfed(&[a, b])[..] {
                                pairs.entry(load).or_default().push([a, b]);
                            }
                        }
                    }
                }
                (alone, pairs)
            })
            .collect();
        let levers: Vec<Lever> = self
            .shed
            .iter()
            .map(|s| {
                let legs: Vec<usize> = (0..self.legs.len()).filter(|&at| self.legs[at].stands[s.load] == Stands::On).collect();
                let Some(&first) = legs.first() else { return Lever::Own };
                let singles = found[first].0.get(&s.load).into_iter().flatten();
                let mut everywhere = singles.filter(|d| legs.iter().all(|&at| found[at].0.get(&s.load).is_some_and(|all| all.contains(d))));
                if let Some(&device) = everywhere.next() {
                    return Lever::Open(vec![device]);
                }
                let pairs = found[first].1.get(&s.load).into_iter().flatten();
                let mut both = pairs.filter(|d| legs.iter().all(|&at| found[at].1.get(&s.load).is_some_and(|all| all.contains(d))));
                both.next().map_or(Lever::Own, |pair| Lever::Open(pair.to_vec()))
            })
            .collect();
        for (s, lever) in self.shed.iter_mut().zip(levers) {
            s.lever = lever;
        }
    }

    /// Whether a load may be kept in a period: the mission has it on, and something feeds it.
    pub(crate) fn wants(&self, load: Id<Load>, period: usize) -> bool {
        self.legs[self.periods[period].leg].stands[load] == Stands::On
    }

    /// Loads that a function needs and that are on in a period; `None` where it is not wanted there, or one of them has no power whatever is shed.
    pub(crate) fn serves(&self, function: Id<Function>, period: usize) -> Option<Vec<Id<Load>>> {
        let leg = &self.legs[self.periods[period].leg];
        let on: Vec<Id<Load>> = self.holds[function].iter().copied().filter(|&load| leg.stands[load] != Stands::Off).collect();
        (!on.is_empty() && on.iter().all(|&load| leg.stands[load] == Stands::On)).then_some(on)
    }

    /// Whether a load may be switched on at the beginning of a period after it was off.
    pub(crate) fn restarts(&self, load: Id<Load>, period: usize) -> bool {
        let row = &self.design().loads[load];
        row.restart.can.is_some_and(|can| can.value) && self.warm_enough(load, period)
    }

    /// Whether the ambient of a period is warm enough for a load to be switched on.
    fn warm_enough(&self, load: Id<Load>, period: usize) -> bool {
        let phase = &self.design().phases[self.legs[self.periods[period].leg].phase];
        let limit = self.design().loads[load].restart.above;
        limit.is_none_or(|limit| phase.ambient.low.value >= limit.value)
    }

    /// Whether the mission itself may switch a load on at a period before which it was off: the first time, or by what is not ruled out.
    pub(crate) fn starts(&self, load: Id<Load>, period: usize) -> bool {
        let was_on = (0..period).any(|before| self.wants(load, before));
        let never = self.design().loads[load].restart.can.is_some_and(|can| !can.value);
        !(was_on && never) && self.warm_enough(load, period)
    }
}

/// Whether a function is content with some of several.
pub(crate) fn has_alternatives(need: &Need) -> bool {
    match need {
        Need::One(_) | Need::Path(_) => false,
        Need::All(list) => list.iter().any(has_alternatives),
        Need::AtLeast(least, list) => (*least as usize) < list.len() || list.iter().any(has_alternatives),
    }
}

/// Loads that a need is kept with, of alternatives the first that are not lost; `None` where it cannot be kept.
pub(crate) fn kept_with(need: &Need, is_lost: &dyn Fn(Id<Load>) -> bool) -> Option<Vec<Id<Load>>> {
    match need {
        Need::One(subject) => match subject.value {
            Subject::Element(ElementId::Load(load)) => (!is_lost(load)).then(|| vec![load]),
            _ => Some(Vec::new()),
        },
        Need::Path(_) => Some(Vec::new()),
        Need::All(list) => list.iter().map(|need| kept_with(need, is_lost)).collect::<Option<Vec<_>>>().map(|all| all.concat()),
        Need::AtLeast(least, list) => {
            let kept: Vec<Vec<Id<Load>>> = list.iter().filter_map(|need| kept_with(need, is_lost)).take(*least as usize).collect();
            (kept.len() == *least as usize).then(|| kept.concat())
        }
    }
}

/// Loads that a need names.
fn named(need: &Need) -> Vec<Id<Load>> {
    let load = |leaf: &Need| match leaf {
        Need::One(subject) => match subject.value {
            Subject::Element(ElementId::Load(load)) => Some(load),
            _ => None,
        },
        _ => None,
    };
    need.leaves().into_iter().filter_map(load).collect()
}

fn begin(timeline: &Timeline, follow: &Follow, known: &[BatteryStart]) -> analysis::timeline::Standing {
    let mut standing = follow.standing();
    standing.now = Second(0.0);
    for row in known {
        let Some(column) = timeline.column(row.battery) else { continue };
        if let Some(left) = row.left {
            standing.states[column].depth = 1.0 - left.0;
        }
        if let Some(temperature) = row.temperature {
            standing.states[column].temperature = temperature;
        }
    }
    standing
}
