//! How long what must be kept lasts with what is left, and what to keep beside it: which loads to shed, when, and which come back.
//!
//! ```text
//! Task      legs of the mission ahead cut into periods, what may be shed, what opens for it
//! Trial     a plan followed through the network and the batteries, to the first thing that does not hold
//! Choice    the mixed-integer model: tier after tier the most, within rows; of a large task by stretches of legs
//! charges   rows that every plan satisfies: the bound
//! ```
//!
//! Time comes before score: first how long the loads that must be kept last with all else shed. If that is shorter than what is needed, plans are made for that
//! long. Then plans come from the model, each is followed in full, and what it fails by becomes a row: what the batteries did give until then where charge ran
//! out, a choice between the loads that matter where a limit was passed. Small tasks go on until no better plan is left (every failed plan cuts off all that draw no
//! less); larger ones, first with switching at the ends of legs alone and then finer, until a count, and then take back whatever still fits. What they may have missed is the gap to the bound.
//!
//! A plan is judged in the corner of the points given, low for what has to hold.

mod choice;
mod course;
mod relaxed;
mod trial;

use analysis::timeline::{Fineness, Instant};
use analysis::{Prepared, Watch};
use choice::{Choice, Row, is_better, kept_hours};
use course::{Stands, Task};
use model::*;
use physics::*;
use rayon::prelude::*;
use relaxed::{Charge, charges, peaks};
use rules::Case;
use trial::{Fails, Failure, Known, Outcome, Plan, Strict, Trial, commands};

/// Periods that the time needed is cut into, about.
pub const PERIODS: usize = 24;
/// Decisions up to which the search goes on until no better plan is left.
const SMALL: usize = 60;
/// Plans followed at most while one is sought that holds.
const REPAIRS: usize = 18;
/// Plans followed at most after that, of a small task.
const PROOFS: usize = 1500;
/// Plans followed at most to take back what still fits, of a larger one.
const REFINES: usize = 60;
/// Part of the time reached that is not planned for, so that rounding does not decide.
const SHY: f64 = 1e-3;
/// Battery heaters of which every choice is tried when all else is shed.
const HEATERS: usize = 3;
/// Sheds that are worth naming as what buys most.
const BUYS: usize = 5;

/// What is asked.
pub struct Ask<'a> {
    /// The state of every phase in one corner, with what is lost laid over it, in the order of phases.
    pub points: &'a [Point],
    /// The same with nothing lost.
    pub unchanged: &'a [Point],
    /// Phase that one is in.
    pub from: Id<Phase>,
    /// Time since it began.
    pub into: Second,
    /// How long is needed; `None` for the rest of the mission.
    pub need: Option<Second>,
    /// Batteries that stand otherwise than their rows say.
    pub standing: Vec<BatteryStart>,
    /// About how many periods the time is cut into.
    pub periods: usize,
}

/// Finds how long what must be kept lasts, and what to keep beside it. `None` if the watch cancelled.
///
/// Cost: of each plan tried the stretches that no earlier one shares, each a leg of the timeline; some tens of plans, of a small task up to some hundreds. Of each plan as many
/// searches of the model as there are tiers.
///
/// # Errors  Why nothing can be planned, in a sentence.
pub fn endure(prepared: &Prepared, ask: &Ask, watch: &dyn Watch) -> Option<Result<Endurance, String>> {
    let seek = match begin(prepared, ask) {
        Ok(seek) => seek,
        Err(message) => return Some(Err(message)),
    };
    seek.seek(watch).map(Ok)
}

/// How long what must be kept lasts with all shed that may be; no plan is sought.
///
/// # Errors  As of [`endure`].
pub fn lasts_bare(prepared: &Prepared, ask: &Ask) -> Result<Reach, String> {
    let mut seek = begin(prepared, ask)?;
    seek.task.cut(seek.need, seek.count);
    let mut trial = Trial::new(&seek.task, Fineness::USUAL, Known::default());
    let none = vec![false; seek.task.shed.len() * seek.task.planned];
    Ok(reach(&trial.run(&none, Strict::MustKeep, true), &seek.task))
}

fn begin<'a, 'd>(prepared: &'a Prepared<'d>, ask: &Ask<'a>) -> Result<Seek<'a, 'd>, String> {
    let task = Task::new(prepared, ask);
    if task.timeline.batteries.is_empty() {
        return Err("no battery states the type of its cells, so no charge can be followed: state type in [battery]".to_owned());
    }
    if task.legs.is_empty() {
        let name = &prepared.design().phases[ask.from].name;
        return Err(format!(
            "nothing of the mission is left from phase {name} on, or its duration is not stated: state duration in [phase.{name}]"
        ));
    }
    if !prepared.design().functions.iter().any(|(_, function)| function.must_keep) {
        return Err("no function states must_keep, so nothing says what has to last: state must_keep = true in [function]".to_owned());
    }
    Ok(Seek::new(task, ask))
}

struct Seek<'a, 'd> {
    task: Task<'a, 'd>,
    need: f64,
    is_stated: bool,
    count: usize,
}

impl<'a, 'd> Seek<'a, 'd> {
    fn new(task: Task<'a, 'd>, ask: &Ask) -> Seek<'a, 'd> {
        let need = ask.need.map_or(task.ends, |need| need.0.min(task.ends));
        Seek { need, is_stated: ask.need.is_some(), count: ask.periods, task }
    }

    fn seek(mut self, watch: &dyn Watch) -> Option<Endurance> {
        self.task.cut(self.need, self.count);
        let shed = self.task.shed.len();
        let all = vec![true; shed * self.task.planned];
        let none = vec![false; shed * self.task.planned];
        let mut trial = Trial::new(&self.task, Fineness::USUAL, Known::default());
        let as_is = reach(&trial.run(&all, Strict::MustKeep, true), &self.task);
        // With all else shed: limits that are passed as a stretch begins hold in no plan.
        let mut longest: Option<(f64, Plan)> = None;
        let heaters: Vec<usize> = (0..shed).filter(|&n| self.task.shed[n].heats).take(HEATERS).collect();
        for mask in 0..1usize << heaters.len() {
            if watch.cancelled() {
                return None;
            }
            let mut plan = none.clone();
            for (_, &n) in heaters.iter().enumerate().filter(|(bit, _)| mask >> bit & 1 == 1) {
                (0..self.task.planned).for_each(|period| plan[period * shed + n] = true);
            }
            let mut outcome = trial.run(&plan, Strict::All, false);
            while let Some(Fails { why: Failure::Limit(mark), at, .. }) = &outcome.fails {
                let Some(last) = outcome.segments.last() else { break };
                if *at > last.followed.from.0 + 1.0 || mask > 0 {
                    break;
                }
                let known = (last.leg, *mark);
                trial.known.exempt.push(known);
                outcome = trial.run(&plan, Strict::All, false);
            }
            let until = outcome.fails.as_ref().map_or(self.need, |fails| fails.at);
            if longest.as_ref().is_none_or(|(best, _)| until > best * (1.0 + SHY)) {
                longest = Some((until, plan));
            }
        }
        let (until, bare_plan) = longest?;
        let bare = reach(&trial.run(&bare_plan, Strict::MustKeep, true), &self.task);
        let heating: Vec<bool> = (0..shed).map(|n| bare_plan.get(n).copied().unwrap_or(false)).collect();
        let strict = trial.run(&all, Strict::All, false);
        let held_back = reach(&strict, &self.task).ends.zip(strict.fails.as_ref().map(|fails| Second(fails.at)));
        let known = trial.known;
        let planned = if until < self.need { until * (1.0 - SHY) } else { self.need };
        if until < self.need {
            self.task.cut(planned, self.count);
        }
        let buys = if until < self.need { self.buys(&heating, until, &known.exempt) } else { Vec::new() };
        // First with switching at the ends of legs alone: what that keeps, the finer plan does not fall short of.
        self.task.cut(planned, 1);
        let mut trial = Trial::new(&self.task, Fineness::USUAL, known);
        let all_through = |task: &Task| -> Plan { (0..task.planned).flat_map(|_| heating.iter().copied()).collect() };
        let coarse = search(&self.task, &mut trial, &all_through(&self.task), None, watch)?;
        let of_leg: Vec<usize> = self.task.periods[..self.task.planned].iter().map(|period| period.leg).collect();
        let known = trial.known;
        self.task.cut(planned, self.count);
        let finer = self.task.periods[..self.task.planned].iter().filter_map(|period| of_leg.iter().position(|leg| *leg == period.leg));
        let start: Plan = finer.flat_map(|at| coarse.best[at * shed..(at + 1) * shed].iter().copied()).collect();
        let mut trial = Trial::new(&self.task, Fineness::USUAL, known);
        let mut found = search(&self.task, &mut trial, &all_through(&self.task), Some(start.clone()), watch)?;
        // What is switched in turns comes on again and again: where that does not hold, on first and off then may.
        if (0..self.task.legs.len()).any(|leg| self.task.has_turns(leg)) {
            let known = trial.known;
            self.task.without_turns();
            let mut trial = Trial::new(&self.task, Fineness::USUAL, known);
            let plain = search(&self.task, &mut trial, &all_through(&self.task), Some(start), watch)?;
            let is_proved = found.is_proved && plain.is_proved;
            let known = trial.known;
            match is_better(&plain.choice.value(&plain.best), &found.choice.value(&found.best)) {
                true => found = plain,
                false => self.task.cut(planned, self.count),
            }
            found.is_proved = is_proved;
            let trial = Trial::new(&self.task, Fineness::USUAL, known);
            return Some(Endurance { held_back, ..self.answer(trial, found, as_is, bare, planned, buys) });
        }
        Some(Endurance { held_back, ..self.answer(trial, found, as_is, bare, planned, buys) })
    }

    /// What giving up each function that must be kept, or each load that nothing ranks, would buy; the most first.
    fn buys(&self, heating: &[bool], until: f64, exempt: &[(usize, Mark)]) -> Vec<(Buy, Second)> {
        let task = &self.task;
        let design = task.design();
        let functions = design.functions.iter().filter(|(_, function)| function.must_keep).map(|(id, _)| Buy::Without(id));
        let all = functions.chain(task.unranked.iter().map(|&load| Buy::Shed(load)));
        let mut found: Vec<(Buy, Second)> = Vec::new();
        for buy in all {
            let gone: Vec<Id<Load>> = match buy {
                Buy::Shed(load) => vec![load],
                Buy::Without(function) => {
                    let others = |load: &Id<Load>| {
                        let kept = |(id, f): (Id<Function>, &Function)| id != function && f.must_keep && task.holds[id].contains(load);
                        !design.functions.iter().any(kept)
                    };
                    task.holds[function].iter().copied().filter(others).collect()
                }
            };
            if gone.is_empty() {
                continue;
            }
            let longer = reached_without(task, heating, &gone, exempt, self.need) - until;
            if longer > 60.0 {
                found.push((buy, Second(longer)));
            }
        }
        found.sort_by(|a, b| b.1.0.total_cmp(&a.1.0));
        found.truncate(BUYS);
        found
    }

    fn answer(&self, mut trial: Trial, found: Found, as_is: Reach, bare: Reach, planned: f64, buys: Vec<(Buy, Second)>) -> Endurance {
        let task = &self.task;
        let choice = &found.choice;
        let best = scheme(task, &mut trial, choice, &found.best);
        let next = found.next.as_ref().map(|plan| scheme(task, &mut trial, choice, plan));
        let largest_first = largest_first(task, &mut trial, choice).map(|plan| scheme(task, &mut trial, choice, &plan));
        let everything = choice.value(&choice.everything());
        let rows: Vec<&Row> = found.bounds.iter().collect();
        let mut tiers = Vec::new();
        for (at, &tier) in task.tiers.iter().enumerate() {
            let kept = best.value[at];
            // With the whole of it where the bound finds nothing: that much is never exceeded.
            let bound = choice.best(&rows, &best.value[..at], choice::Goal::Tier(at), false).map_or(everything[at], |(value, _)| value);
            if everything[at] > 0.0 {
                tiers.push(TierKept { tier, kept, wanted: everything[at], bound });
            }
        }
        let mut lost: Vec<(Id<Function>, Id<Load>, Second)> = Vec::new();
        for (function, row) in task.design().functions.iter() {
            let is_lost = |leg: &course::Leg, load: Id<Load>| leg.stands[load] == Stands::Lost;
            let without = |leg: &course::Leg| match course::kept_with(&row.need, &|load| is_lost(leg, load)) {
                Some(_) => None,
                None => task.holds[function].iter().find(|&&load| is_lost(leg, load)).map(|&load| (load, leg.from)),
            };
            if let Some((load, from)) = task.legs.iter().find_map(without) {
                lost.push((function, load, Second(from)));
            }
        }
        let mut exempt: Vec<(Id<Phase>, Mark)> = trial.known.exempt.iter().map(|&(leg, mark)| (task.legs[leg].phase, mark)).collect();
        exempt.sort_unstable();
        exempt.dedup();
        Endurance {
            corner: task.corner,
            need: Second(self.need),
            is_stated: self.is_stated,
            planned: Second(planned),
            as_is,
            held_back: None,
            bare,
            best,
            next,
            largest_first,
            tiers,
            search: Search {
                is_proved: found.is_proved,
                tried: trial.known.tried,
                followed: trial.known.followed,
                periods: task.planned,
                decisions: choice.open.iter().filter(|open| **open).count(),
            },
            lost,
            unranked: task.unranked.clone(),
            exempt,
            buys,
            findings: findings(task, &found.best),
            lacking: task.timeline.lacking.clone(),
            no_duration: task.lacks,
        }
    }
}

/// What a search found.
struct Found {
    choice: Choice,
    /// Rows that every plan satisfies.
    bounds: Vec<Row>,
    best: Plan,
    next: Option<Plan>,
    is_proved: bool,
}

/// What batteries were seen to give to the loads that only they feed, J: below it plans were seen to hold, above it to fail.
struct Seen {
    weights: Vec<(usize, f64)>,
    fixed: f64,
    holds: f64,
    fails: f64,
    /// What the next plan may take.
    most: f64,
}

/// `start`: a plan that a coarser search found, for a large task.
fn search(task: &Task, trial: &mut Trial, fall_back: &Plan, start: Option<Plan>, watch: &dyn Watch) -> Option<Found> {
    let charges = charges(task, trial);
    let mut choice = Choice::new(task, true);
    let decisions = choice.open.iter().filter(|open| **open).count();
    let is_small = decisions <= SMALL;
    if !is_small {
        choice = Choice::new(task, false);
    }
    let peaks = peaks(task, trial, &charges);
    let base: Vec<&Row> = charges.iter().map(|charge| &charge.row).chain(&peaks).collect();
    let fall_back: Plan = fall_back.iter().zip(&choice.open).map(|(on, open)| *on && *open).collect();
    let mut held: Vec<Plan> = Vec::new();
    let mut best = fall_back.clone();
    let mut is_proved = false;
    if is_small {
        let mut cuts: Vec<Row> = Vec::new();
        for _ in 0..PROOFS {
            if watch.cancelled() {
                return None;
            }
            let rows: Vec<&Row> = base.iter().copied().chain(&cuts).collect();
            // Nothing is left that satisfies what every plan satisfies: only shedding everything holds.
            let Some(plan) = choice.lexicographic(&rows) else {
                is_proved = true;
                break;
            };
            if !held.is_empty() && !is_better(&choice.value(&plan), &choice.value(&best)) {
                is_proved = true;
                break;
            }
            let outcome = trial.run(&plan, Strict::All, false);
            match outcome.fails {
                None => {
                    held.push(plan.clone());
                    best = plan;
                    is_proved = true;
                    break;
                }
                Some(fails) => cuts.push(cover(task, trial, &choice, plan, fails)),
            }
        }
    } else {
        let mut seen: Vec<Seen> = charges.iter().map(|charge| seen(task, charge)).collect();
        let mut known: Vec<Plan> = Vec::new();
        // What lasts longest keeps these battery heaters on: no plan that lasts as long is without them.
        let count = task.shed.len();
        let warm = (0..fall_back.len()).filter(|&at| fall_back[at] && task.shed[at % count].heats);
        let mut cuts: Vec<Row> = warm.map(|at| Row { terms: vec![(at, -1.0)], most: -1.0 }).collect();
        for _ in 0..REPAIRS {
            if watch.cancelled() {
                return None;
            }
            let limits: Vec<Row> = seen.iter().map(|seen| Row { terms: seen.weights.clone(), most: seen.most - seen.fixed }).collect();
            let rows: Vec<&Row> = base.iter().copied().chain(&limits).chain(&cuts).collect();
            let plan = choice.lexicographic(&rows).unwrap_or_else(|| fall_back.clone());
            if known.contains(&plan) {
                break;
            }
            known.push(plan.clone());
            let outcome = trial.run(&plan, Strict::All, false);
            match &outcome.fails {
                None => {
                    if held.is_empty() || is_better(&choice.value(&plan), &choice.value(&best)) {
                        best = plan.clone();
                    }
                    held.push(plan.clone());
                    // Nothing is given up that could be kept.
                    if !is_better(&choice.value(&choice.everything()), &choice.value(&plan)) {
                        break;
                    }
                    loosen(task, &charges, &mut seen, &plan, &outcome);
                }
                Some(fails) => match &fails.why {
                    Failure::Unfed(_) | Failure::Unsettled => tighten(task, &charges, &mut seen, &plan, &outcome),
                    _ => cuts.extend(relief(task, &choice, &plan, &outcome, fails)),
                },
            }
        }
        if let Some(start) = start.filter(|start| choice.allows(start) && trial.run(start, Strict::All, false).fails.is_none()) {
            if held.is_empty() || is_better(&choice.value(&start), &choice.value(&best)) {
                best = start.clone();
            }
            held.push(start);
        }
        // Where none held, all that is kept is taken back one by one.
        let count = if held.is_empty() { 3 * REFINES } else { REFINES };
        if held.is_empty() {
            held.push(fall_back.clone());
        }
        refine(task, trial, &choice, &mut best, count);
        held.push(best.clone());
    }
    let mut next = next_best(task, trial, &choice, &base, &best, held);
    if let Some(next) = next.as_mut().filter(|_| !is_small) {
        refine(task, trial, &choice, next, REFINES / 2);
    }
    if let Some(other) = next.as_mut().filter(|other| is_better(&choice.value(other), &choice.value(&best))) {
        std::mem::swap(other, &mut best);
    }
    let bounds = charges.into_iter().map(|charge| charge.row).chain(peaks).collect();
    Some(Found { choice, bounds, best, next, is_proved })
}

/// The usual weights of what only these batteries feed.
fn seen(task: &Task, charge: &Charge) -> Seen {
    let count = task.shed.len();
    let (mut weights, mut fixed) = (Vec::new(), 0.0);
    for (at, period) in task.periods[..task.planned].iter().enumerate() {
        let leg = &task.legs[period.leg];
        for &load in &charge.feeds[period.leg] {
            let energy = leg.power[load] * period.lasts;
            match task.shed.iter().position(|s| s.load == load) {
                Some(n) => weights.push((at * count + n, energy)),
                None => fixed += energy,
            }
        }
    }
    Seen { weights, fixed, holds: 0.0, fails: f64::INFINITY, most: f64::INFINITY }
}

/// What a plan takes by the usual weights.
fn takes(seen: &Seen, plan: &Plan) -> f64 {
    seen.fixed + seen.weights.iter().map(|&(at, energy)| if plan[at] { energy } else { 0.0 }).sum::<f64>()
}

/// A plan ran its batteries down: what they gave until then is what there is.
fn tighten(task: &Task, charges: &[Charge], seen: &mut [Seen], plan: &Plan, outcome: &Outcome) {
    let Some(last) = outcome.segments.last() else { return };
    let fails = outcome.fails.as_ref().map_or(0.0, |fails| fails.at);
    let empty: Vec<usize> = (0..task.timeline.batteries.len())
        .filter(|&at| last.followed.instants.last().is_none_or(|i| !i.batteries[at].on || i.batteries[at].left < 0.02))
        .collect();
    // The fewest batteries that alone feed what has no power; else those that are empty; else all.
    let unfed = match outcome.fails.as_ref().map(|fails| &fails.why) {
        Some(Failure::Unfed(load)) => Some(*load),
        _ => None,
    };
    let feeds_it = (0..charges.len()).filter(|&at| unfed.is_some_and(|load| charges[at].feeds[last.leg].contains(&load)));
    let of_empty = (0..charges.len()).filter(|&at| charges[at].batteries.iter().all(|b| empty.contains(b)));
    let fewest = |rows: &mut dyn Iterator<Item = usize>| rows.min_by_key(|&at| charges[at].batteries.len());
    let all = (0..charges.len()).max_by_key(|&at| charges[at].batteries.len());
    let Some(at) = fewest(&mut feeds_it.clone()).or_else(|| fewest(&mut of_empty.clone())).or(all) else { return };
    let gave: f64 = outcome
        .segments
        .iter()
        .map(|segment| charges[at].feeds[segment.leg].iter().map(|&load| segment.followed.asks.taken[load].0).sum::<f64>())
        .sum();
    let seen = &mut seen[at];
    let took = takes(seen, plan);
    seen.fails = seen.fails.min(took);
    // By what loads took; what they take by their weights differs a little, so that a plan that fails late still is cut off.
    let share = (fails / task.periods[..task.planned].last().map_or(1.0, |p| p.from + p.lasts)).min(0.9995);
    seen.most = gave.min(took * 0.9995).max(share * share * took).max(0.5 * (seen.holds + seen.fails).min(took)).min(0.9995 * seen.fails);
}

/// A plan holds with charge to spare: more may be taken.
fn loosen(task: &Task, charges: &[Charge], seen: &mut [Seen], plan: &Plan, outcome: &Outcome) {
    let Some(last) = outcome.segments.last().and_then(|segment| segment.followed.instants.last()) else { return };
    for (charge, seen) in charges.iter().zip(seen) {
        let took = takes(seen, plan);
        seen.holds = seen.holds.max(took);
        if seen.most.is_infinite() {
            continue;
        }
        let spare: f64 = charge
            .batteries
            .iter()
            .map(|&at| (last.batteries[at].left - 0.01).max(0.0) * task.charge[at].0 * last.batteries[at].emf.0)
            .sum();
        let wished = seen.most.max(took + 0.95 * spare);
        seen.most = if seen.fails.is_infinite() { wished } else { wished.min(0.5 * (seen.holds + seen.fails)).max(seen.holds) };
    }
}

/// Where a limit is passed: loads off in that leg whose parts in it make up for what it is passed by, each part from a state with that load off; in every period of the
/// leg. Where a restart does not come off: not that one.
fn relief(task: &Task, choice: &Choice, plan: &Plan, outcome: &Outcome, fails: &Fails) -> Vec<Row> {
    let count = task.shed.len();
    let begins = task.periods[..=fails.period].iter().rposition(|period| period.from <= fails.at + 1e-6).unwrap_or(fails.period);
    let row = |n: usize| task.decides(n, begins) * count + n;
    // As it fails: what is switched in turns may be off just then.
    let off_then = outcome.segments.last().map(|segment| &segment.off);
    let on: Vec<usize> = (0..count).filter(|&n| plan[row(n)] && !off_then.is_some_and(|off| off[n])).collect();
    let one_of = |of: &[usize]| {
        let terms: Vec<(usize, f64)> = of.iter().map(|&n| row(n)).filter(|&at| choice.open[at]).map(|at| (at, 1.0)).collect();
        let most = terms.len() as f64 - 1.0;
        vec![Row { terms, most }]
    };
    let mark = match fails.why {
        Failure::Restart(load) | Failure::Inrush(load, _) => {
            let Some(n) = task.shed.iter().position(|s| s.load == load) else { return one_of(&on) };
            let mut terms = vec![(row(n), 1.0)];
            let leg = task.periods[begins].leg;
            if task.part(plan, n, leg).is_some() {
                // Not in turns.
                terms.push(((task.spans[leg].end - 1) * count + n, -1.0));
            } else if begins > 0 {
                terms.push((begins * count + n - count, -1.0));
            }
            return vec![Row { terms, most: 0.0 }];
        }
        Failure::Limit(mark) => mark,
        _ => return one_of(&on),
    };
    let Some(limit) = trial::marks(task).at.into_iter().find(|(of, _)| *of == mark).map(|(_, limit)| limit) else { return one_of(&on) };
    // As the failing stretch begins; where it is passed only later, as it ends.
    let mut follow = task.follow(Fineness::USUAL);
    let last = outcome.segments.len() - 1;
    let is_late = fails.at > outcome.segments[last].followed.from.0 + 1.0;
    match (is_late, last) {
        (true, _) => follow.stand(&outcome.segments[last].after),
        (false, 0) => follow.stand(&task.begin),
        (false, n) => follow.stand(&outcome.segments[n - 1].after),
    }
    let leg = task.periods[begins].leg;
    let planned = &task.points[task.legs[leg].planned];
    let over = |without: Option<usize>| {
        let off: Vec<bool> =
            (0..count).map(|n| (!on.contains(&n) || without == Some(n)) && task.wants(task.shed[n].load, begins)).collect();
        let commanded = commands(task, leg, &off);
        let of = |peak: bool| trial::over(task, &follow.state(planned, &commanded, peak, &[]), mark, limit);
        of(false).max(of(true))
    };
    let all = over(None);
    if all <= 0.0 {
        return one_of(&on);
    }
    let parts: Vec<(usize, f64)> = on.iter().map(|&n| (n, (all - over(Some(n))).max(0.0))).filter(|(_, part)| *part > 1e-3 * all).collect();
    let sum: f64 = parts.iter().map(|(_, part)| part).sum();
    if sum < all {
        return one_of(&on);
    }
    let of_leg = (begins..task.planned).take_while(|&period| task.periods[period].leg == leg);
    let row_of = |period: usize| {
        let terms = parts.iter().map(|&(n, part)| (task.decides(n, period) * count + n, part)).filter(|(at, _)| choice.open[*at]).collect();
        // A little more, so that a plan does not fail by what parts add up to less together.
        Row { terms, most: sum - 1.01 * all }
    };
    of_leg.map(row_of).collect()
}

/// A failed plan cuts off every plan that has on what it needs to fail: what draws no less fails no later. Loads go from it one by one as long as it still fails.
///
/// A battery heater that is off counts as well, since switched on it might help; so does the restart that did not come off.
fn cover(task: &Task, trial: &mut Trial, choice: &Choice, mut plan: Plan, mut fails: Fails) -> Row {
    let count = task.shed.len();
    let of_restart = |fails: &Fails| match fails.why {
        Failure::Restart(load) | Failure::Inrush(load, _) => task.shed.iter().position(|s| s.load == load),
        _ => None,
    };
    let first = plan.clone();
    if of_restart(&fails).is_none() {
        for at in (0..(fails.period + 1) * count).rev() {
            if !plan[at] || task.shed[at % count].heats {
                continue;
            }
            plan[at] = false;
            match trial.run(&plan, Strict::All, false).fails {
                Some(still) if of_restart(&still).is_none() => fails = still,
                _ => plan[at] = true,
            }
        }
    }
    let until = (fails.period + 1) * count;
    let (mut terms, mut most) = (Vec::new(), -1.0);
    for at in (0..until).filter(|&at| choice.open[at]) {
        let heats = task.shed[at % count].heats;
        if plan[at] && (!heats || first[at]) {
            terms.push((at, 1.0));
            most += 1.0;
        } else if heats {
            terms.push((at, -1.0));
        }
    }
    if let Some(n) = of_restart(&fails) {
        // It did not come off because it was off before.
        let starts = (0..=fails.period).rev().find(|&period| period > 0 && plan[period * count + n] && !plan[(period - 1) * count + n]);
        if let Some(period) = starts {
            terms.push(((period - 1) * count + n, -1.0));
        }
        let leg = task.periods[fails.period].leg;
        if task.part(&plan, n, leg).is_some() {
            terms.push(((task.spans[leg].end - 1) * count + n, -1.0));
        }
    }
    Row { terms, most }
}

/// Takes back what still fits: of each function, as many periods of each leg in which it is given up as still hold, earlier tiers first.
///
/// Cost: of each function and leg one plan, and where one period fits as many more as halvings of the leg.
fn refine(task: &Task, trial: &mut Trial, choice: &Choice, best: &mut Plan, plans: usize) {
    let count = task.shed.len();
    let mut ranked = task.ranked.clone();
    ranked.sort_by_key(|(_, tier)| *tier);
    let until = trial.known.tried + plans;
    for (function, _) in ranked {
        let mut period = 0;
        while period < task.planned && trial.known.tried < until {
            let leg = task.periods[period].leg;
            let ends = (period..task.planned).find(|&at| task.periods[at].leg != leg).unwrap_or(task.planned);
            let missing = |at: usize| -> Vec<usize> {
                let loads = task.serves(function, at).unwrap_or_default();
                let of = loads.iter().filter_map(|load| task.shed.iter().position(|s| s.load == *load));
                of.map(|n| at * count + n).filter(|&at| !best[at]).collect()
            };
            let missing: Vec<Vec<usize>> = (period..ends).map(missing).filter(|more| !more.is_empty()).collect();
            period = ends;
            // As many of them as hold, between those that were seen to and those that were seen not to.
            let (mut holds, mut fails) = (best.clone(), missing.len() + 1);
            let with = |many: usize| {
                let mut other = best.clone();
                missing[..many].iter().flatten().for_each(|&at| other[at] = true);
                other
            };
            // What is on in turns is on for its least time in each of them, or not at all.
            let first = (1..=missing.len()).find(|&many| !task.has_turns(leg) || choice.allows(&with(many))).unwrap_or(1);
            let mut least = 0;
            while least + 1 < fails && trial.known.tried < until {
                let many = if least == 0 { first } else { (least + fails) / 2 };
                let other = with(many);
                let gains = choice.allows(&other) && is_better(&choice.value(&other), &choice.value(&holds));
                match gains && trial.run(&other, Strict::All, false).fails.is_none() {
                    true => (holds, least) = (other, many),
                    false => fails = many,
                }
            }
            *best = holds;
        }
    }
}

/// The best plan that keeps throughout something that the best one gives up; of the first three such functions.
fn next_best(task: &Task, trial: &mut Trial, choice: &Choice, base: &[&Row], best: &Plan, held: Vec<Plan>) -> Option<Plan> {
    let count = task.shed.len();
    let mut given_up: Vec<(Id<Function>, usize)> = task.ranked.clone();
    given_up.retain(|&(function, _)| {
        let (kept, wanted) = kept_hours(task, best, function);
        kept < wanted - 1e-6
    });
    given_up.sort_by_key(|(_, tier)| *tier);
    let mut plans: Vec<Plan> = held.into_iter().filter(|plan| plan != best && choice.value(plan) != choice.value(best)).collect();
    for (function, _) in given_up.into_iter().take(3) {
        let mut rows: Vec<Row> = Vec::new();
        for period in 0..task.planned {
            let loads = task.serves(function, period).unwrap_or_default();
            let of = loads.iter().filter_map(|load| task.shed.iter().position(|s| s.load == *load));
            rows.extend(of.map(|n| Row { terms: vec![(period * count + n, -1.0)], most: -1.0 }));
        }
        // What the best plan takes bounds what this one may, at first.
        let mut most = choice.weight.iter().zip(best).map(|(weight, on)| if *on { *weight } else { 0.0 }).sum::<f64>();
        for _ in 0..2 {
            let all = Row { terms: choice.weight.iter().copied().enumerate().collect(), most };
            let with: Vec<&Row> = base.iter().copied().chain(&rows).chain([&all]).collect();
            let Some(plan) = choice.lexicographic(&with) else { break };
            if trial.run(&plan, Strict::All, false).fails.is_none() {
                plans.push(plan);
                break;
            }
            most *= 0.95;
        }
    }
    // What keeps nothing longer is no choice.
    let is_choice = |plan: &Plan| task.ranked.iter().any(|&(of, _)| kept_hours(task, plan, of).0 > kept_hours(task, best, of).0 + 1e-6);
    plans.into_iter().filter(is_choice).reduce(|a, b| if is_better(&choice.value(&b), &choice.value(&a)) { b } else { a })
}

/// Loads shed for good from the start, those that take most first, as few as hold.
fn largest_first(task: &Task, trial: &mut Trial, choice: &Choice) -> Option<Plan> {
    let count = task.shed.len();
    let takes = |n: usize| (0..task.planned).map(|period| choice.weight[period * count + n]).sum::<f64>();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| takes(b).total_cmp(&takes(a)));
    let with_off =
        |off: &[usize]| -> Plan { choice.open.iter().enumerate().map(|(at, open)| *open && !off.contains(&(at % count))).collect() };
    let mut holds = |many: usize| trial.run(&with_off(&order[..many]), Strict::All, false).fails.is_none();
    if !holds(count) {
        return None;
    }
    let (mut fails, mut enough) = (None::<usize>, count);
    while fails.map_or(0, |n| n + 1) < enough {
        let middle = (fails.map_or(0, |n| n + 1) + enough) / 2;
        if holds(middle) { enough = middle } else { fails = Some(middle) }
    }
    Some(with_off(&order[..enough]))
}

/// How far what must be kept comes with all else shed and some of its loads given up too.
fn reached_without(task: &Task, heating: &[bool], gone: &[Id<Load>], exempt: &[(usize, Mark)], need: f64) -> f64 {
    let mut follow = task.follow(Fineness::USUAL);
    follow.mark(trial::marks(task));
    follow.stand(&task.begin);
    for (at, leg) in task.legs.iter().enumerate() {
        let off: Vec<bool> = task.shed.iter().zip(heating).map(|(s, on)| !on && leg.stands[s.load] == Stands::On).collect();
        let mut commanded = commands(task, at, &off);
        commanded.extend(gone.iter().map(|&load| (ElementId::Load(load), Commanded::Off)));
        let (followed, ended) = follow.go(&task.points[leg.planned], &commanded, Second(leg.to - leg.from), &analysis::Silent);
        let counts = |load: Id<Load>| task.must[load] && !gone.contains(&load) && leg.stands[load] == Stands::On;
        let unfed = followed.unfed.iter().filter(|(load, _)| counts(*load)).map(|(_, at)| at.0);
        let over = followed.asks.passed.iter().filter(|(mark, _)| !exempt.contains(&(at, *mark)));
        let over = over.filter(|(mark, _)| !matches!(mark, Mark::Load(load) if !counts(*load))).map(|(_, at)| at.0);
        let ends = ended.map(|_| followed.to.0);
        if let Some(first) = unfed.chain(over).chain(ends).min_by(f64::total_cmp) {
            return first.min(need);
        }
    }
    need
}

/// Findings of wires and their heat in the plan's stretches, each settled with its heat as it begins, that the same stretches do not have with nothing shed.
///
/// Cost: of each stretch two settled states with heat, and a judgement of all of them.
fn findings(task: &Task, plan: &Plan) -> Vec<Finding> {
    const OF_WIRES: [&str; 2] = ["AM-", "HT-"];
    let count = task.shed.len();
    let mut states: Vec<(usize, Vec<bool>)> = Vec::new();
    for (period, row) in task.periods[..task.planned].iter().enumerate() {
        let off = |n: usize| !plan[task.decides(n, period) * count + n] && task.wants(task.shed[n].load, period);
        let state = (row.leg, (0..count).map(off).collect::<Vec<bool>>());
        if states.last() != Some(&state) {
            states.push(state);
        }
    }
    let case = Case { design: task.design(), prepared: task.prepared, today: None };
    let judged = |with: &(dyn Fn(&Vec<bool>) -> Vec<bool> + Sync)| -> Vec<Finding> {
        let mut follow = task.follow(Fineness::USUAL);
        follow.stand(&task.begin);
        let scenarios: Vec<Scenario> = states
            .iter()
            .map(|(leg, off)| {
                let row = &task.legs[*leg];
                let point = follow.state(&task.points[row.planned], &commands(task, *leg, &with(off)), false, &[]);
                Scenario { conductors: None, ..point.scenario }
            })
            .collect();
        let points: Vec<Point> = scenarios.par_iter().map(|scenario| task.prepared.point(scenario)).collect();
        rules::judge(&case, &points).findings
    };
    if states.iter().all(|(_, off)| !off.contains(&true)) {
        return Vec::new();
    }
    let before = judged(&|off| vec![false; off.len()]);
    let mut after = judged(&|off| off.clone());
    after.retain(|finding| OF_WIRES.iter().any(|of| finding.rule.0.starts_with(of)) && !before.iter().any(|known| known.id == finding.id));
    after
}

fn reach(outcome: &Outcome, task: &Task) -> Reach {
    match &outcome.fails {
        None => Reach { until: Second(task.ends), ends: None },
        Some(fails) => Reach {
            until: Second(fails.at),
            ends: Some(match fails.why {
                Failure::Unfed(load) => Stop::Unfed(load),
                Failure::Limit(mark) => Stop::Limit(mark),
                Failure::Restart(load) => Stop::Restart(load),
                Failure::Inrush(load, other) => Stop::Inrush(load, other),
                Failure::Unsettled => Stop::Unsettled,
            }),
        },
    }
}

fn scheme(task: &Task, trial: &mut Trial, choice: &Choice, plan: &Plan) -> Scheme {
    let count = task.shed.len();
    let outcome = trial.run(plan, Strict::MustKeep, true);
    let mut orders: Vec<Order> = Vec::new();
    let mut locked: Vec<(Id<Load>, Second, Locked)> = Vec::new();
    for (n, s) in task.shed.iter().enumerate() {
        // The order by which it is off, or on and off in turns in the leg before.
        let mut off: Option<usize> = None;
        let mut in_turns: Option<usize> = None;
        for period in (0..task.planned).filter(|&period| task.wants(s.load, period)) {
            let row = &task.periods[period];
            let (at, phase) = (Second(row.from), task.legs[row.leg].phase);
            let order = |on| Order { at, phase, load: s.load, on, turns: None, lever: s.lever.clone(), saves: Coulomb(0.0) };
            let is_on = plan[period * count + n];
            match (task.part(plan, n, row.leg), off) {
                (Some((turns, on)), _) => {
                    if task.spans[row.leg].start == period {
                        let on = turns.lasts * on as f64 / task.spans[row.leg].len() as f64;
                        let turns = Turns { on: Second(on), off: Second(turns.lasts - on), times: turns.times as u32 };
                        orders.push(Order { turns: Some(turns), ..order(true) });
                    }
                    (off, in_turns) = (None, Some(orders.len() - 1));
                }
                (None, None) if !is_on => {
                    orders.push(order(false));
                    (off, in_turns) = (Some(orders.len() - 1), None);
                }
                (None, _) if is_on && (off.is_some() || in_turns.is_some()) => {
                    orders.push(order(true));
                    (off, in_turns) = (None, None);
                }
                _ => {}
            }
            if let Some(order) = off.or(in_turns.filter(|_| !is_on)) {
                let current =
                    task.prepared.branch_of(ElementId::Load(s.load)).map_or(0.0, |branch| task.legs[row.leg].point.current[branch]);
                orders[order].saves.0 += current * row.lasts;
            }
        }
        // Off at the end of the plan, or kept off although the mission wants it.
        let Some(order) = off else { continue };
        let begins = orders[order].at.0;
        let later = (0..task.periods.len()).filter(|&period| task.periods[period].from > begins + 1.0 && task.wants(s.load, period));
        let restart = task.design().loads[s.load].restart;
        let why = |period: usize| match restart.can {
            None => Some(Locked::Unstated),
            Some(can) if !can.value => Some(Locked::Never),
            Some(_) if !task.restarts(s.load, period) => Some(Locked::Cold),
            _ => None,
        };
        let all: Vec<Option<Locked>> = later.map(why).collect();
        if let (Some(first), true) = (all.iter().flatten().next(), !all.is_empty() && all.iter().all(Option::is_some)) {
            locked.push((s.load, Second(begins), *first));
        }
    }
    orders.sort_by(|a, b| a.at.0.total_cmp(&b.at.0).then(a.on.cmp(&b.on)).then(b.saves.0.total_cmp(&a.saves.0)).then(a.load.cmp(&b.load)));
    let kept = task.ranked.iter().map(|&(function, _)| {
        let (kept, wanted) = kept_hours(task, plan, function);
        (function, kept, wanted)
    });
    let end = task.periods[..task.planned].last().map_or(0.0, |period| period.from + period.lasts);
    let mut course: Vec<Stretch> = Vec::new();
    let mut before: Option<usize> = None;
    for segment in &outcome.segments {
        // Of a leg with something on in turns its beginning says enough.
        let in_turns = (0..count).any(|n| task.part(plan, n, segment.leg).is_some());
        let is_turn = in_turns && before == Some(segment.leg);
        before = Some(segment.leg);
        let phase = task.legs[segment.leg].phase;
        let mut push = |instant: &Instant| {
            course.push(Stretch {
                at: instant.at,
                phase,
                batteries: task
                    .timeline
                    .batteries
                    .iter()
                    .zip(&instant.batteries)
                    .map(|(&battery, at)| BatteryStands {
                        battery,
                        left: Ratio(at.left),
                        temperature: at.temperature,
                        current: at.current,
                        volts: at.volts,
                        on: at.on,
                    })
                    .collect(),
                buses: task.timeline.buses.iter().copied().zip(instant.buses.iter().copied()).collect(),
            });
        };
        if segment.followed.from.0 > end + 1.0 {
            break;
        }
        if let Some(first) = segment.followed.instants.first().filter(|_| !is_turn) {
            push(first);
        }
        let is_last = segment.followed.to.0 >= end - 1.0 || outcome.segments.last().is_some_and(|last| std::ptr::eq(&**last, &**segment));
        if let (true, Some(last)) = (is_last, segment.followed.instants.last()) {
            push(last);
        }
        if is_last && in_turns {
            break;
        }
    }
    Scheme { orders, kept: kept.collect(), value: choice.value(plan), reach: reach(&outcome, task), locked, course }
}
