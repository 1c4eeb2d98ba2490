//! What to keep when: the mixed-integer model. A load that may be shed is on or off in each period; a function counts for a period in which all that it needs
//! and the mission has on is on.

mod stretches;

use super::course::Task;
use super::trial::Plan;
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable};
use model::*;
use stretches::Stretches;

/// A sum of loads in periods that is not above a bound.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// Period times the number of loads plus the load; and its factor.
    pub(crate) terms: Vec<(usize, f64)>,
    pub(crate) most: f64,
}

/// A function in a period, as far as loads that may be shed decide over it.
struct Served {
    tier: usize,
    /// Worth times hours.
    counts: f64,
    needs: Vec<usize>,
}

/// What is sought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Goal {
    /// The most of a tier.
    Tier(usize),
    /// The least energy, by each load's weight.
    Least,
}

/// The model of a task without what it may draw.
pub(crate) struct Choice {
    tiers: usize,
    /// Loads that may be shed.
    count: usize,
    /// Leg of each period.
    legs: Vec<usize>,
    /// Of each period and load whether the plan decides over it.
    pub(crate) open: Vec<bool>,
    /// Usual energy of each, J.
    pub(crate) weight: Vec<f64>,
    served: Vec<Served>,
    /// What counts whatever is shed, by tier.
    always: Vec<f64>,
    rows: Vec<Row>,
    /// Whether whole plans are sought by a search tree.
    is_small: bool,
}

impl Choice {
    pub(crate) fn new(task: &Task, is_small: bool) -> Choice {
        let count = task.shed.len();
        let mut choice = Choice {
            tiers: task.tiers.len(),
            count,
            legs: task.periods[..task.planned].iter().map(|period| period.leg).collect(),
            open: vec![false; count * task.planned],
            weight: vec![0.0; count * task.planned],
            served: Vec::new(),
            always: vec![0.0; task.tiers.len()],
            rows: Vec::new(),
            is_small,
        };
        for period in 0..task.planned {
            let row = &task.periods[period];
            for (n, s) in task.shed.iter().enumerate() {
                choice.open[period * count + n] = task.wants(s.load, period);
                choice.weight[period * count + n] = task.legs[row.leg].power[s.load] * row.lasts;
            }
            for &(function, tier) in &task.ranked {
                let Some(loads) = task.serves(function, period) else { continue };
                let needs: Vec<usize> =
                    loads.iter().filter_map(|load| task.shed.iter().position(|s| s.load == *load)).map(|n| period * count + n).collect();
                let worth = task.design().functions[function].worth.map_or(1.0, |worth| f64::from(worth.value));
                let counts = worth * row.hours();
                match needs.is_empty() {
                    true => choice.always[tier] += counts,
                    false => choice.served.push(Served { tier, counts, needs }),
                }
            }
        }
        for n in 0..count {
            choice.orders(task, n);
            choice.turns(task, n);
        }
        for &(function, _) in &task.ranked {
            choice.one_in_part(task, function);
        }
        choice
    }

    /// On for no less than its least time in each turn; and once it was off for longer than it may be, it does not come back.
    fn turns(&mut self, task: &Task, n: usize) {
        let count = task.shed.len();
        let load = task.shed[n].load;
        let at = |period: usize| period * count + n;
        for (leg, span) in task.spans.iter().enumerate() {
            if let Some(turns) = task.turns(n, leg).filter(|turns| turns.least > 1) {
                let terms = vec![(at(span.start), 1.0), (at(span.start + turns.least - 1), -1.0)];
                self.rows.push(Row { terms, most: 0.0 });
            }
        }
        let Some(most) = task.design().loads[load].off_at_most else { return };
        for period in 1..task.planned {
            let leg = task.periods[period].leg;
            let before = task.periods[period - 1].leg;
            let since = task.periods[period].from - most.value.0;
            // Before the start it is taken to have been on.
            if before == leg || since < 1e-6 || !task.wants(load, period) || !task.wants(load, period - 1) {
                continue;
            }
            // On no longer ago than that in a leg before; in turns until its end, if it is the last one.
            let ended = |period: usize| task.periods[period].from + task.periods[period].lasts;
            let mut terms = vec![(at(period), 1.0)];
            for earlier in (0..=before).rev() {
                let span = task.spans[earlier].clone();
                if !task.wants(load, span.start) || ended(span.end - 1) < since - 1e-6 {
                    break;
                }
                let decides = match task.turns(n, earlier) {
                    Some(_) if earlier == before => Some(span.start),
                    Some(_) => Some(span.end - 1),
                    None => span.clone().find(|&period| ended(period) >= since - 1e-6),
                };
                terms.extend(decides.map(|decides| (at(decides), -1.0)));
            }
            self.rows.push(Row { terms, most: 0.0 });
        }
    }

    /// Of what a function needs, one load alone is on for a part of a leg in which one of them is switched in turns: how long both are on then follows from how long each is.
    fn one_in_part(&mut self, task: &Task, function: Id<Function>) {
        let count = task.shed.len();
        for (leg, span) in task.spans.iter().enumerate().filter(|(_, span)| span.len() > 1) {
            let loads = task.serves(function, span.start).unwrap_or_default();
            let of: Vec<usize> = loads.iter().filter_map(|load| task.shed.iter().position(|s| s.load == *load)).collect();
            let in_part = |n: usize| [(span.start * count + n, 1.0), ((span.end - 1) * count + n, -1.0)];
            for (k, &a) in of.iter().enumerate() {
                for &b in of[..k].iter().filter(|&&b| [a, b].iter().any(|&n| task.turns(n, leg).is_some())) {
                    self.rows.push(Row { terms: [in_part(a), in_part(b)].concat(), most: 1.0 });
                }
            }
        }
    }

    /// In which order a load may be off and on.
    fn orders(&mut self, task: &Task, n: usize) {
        let count = task.shed.len();
        let load = task.shed[n].load;
        let at = |period: usize| period * count + n;
        let atleast = task.design().loads[load].on_at_least.map_or(0.0, |time| time.value.0);
        for period in 1..task.planned {
            if !task.wants(load, period) {
                continue;
            }
            let goes_on = task.wants(load, period - 1);
            let same_leg = task.periods[period].leg == task.periods[period - 1].leg;
            if goes_on && (same_leg || !task.restarts(load, period)) {
                // Of equal periods of a leg the first ones are those that it is on in: they differ in nothing but order.
                self.rows.push(Row { terms: vec![(at(period), 1.0), (at(period - 1), -1.0)], most: 0.0 });
                continue;
            }
            if !goes_on && !task.starts(load, period) {
                self.open[at(period)] = false;
                continue;
            }
            // Switched on here it stays on until its time is over, or the mission has it off.
            let until = task.periods[period].from + atleast;
            for later in period + 1..task.planned {
                if task.periods[later].from >= until - 1e-6 || !task.wants(load, later) {
                    break;
                }
                // On in the later of two periods of a leg, it is on in the earlier one.
                let says_more = |next: usize| {
                    let of_leg = next < task.planned && task.periods[next].leg == task.periods[later].leg;
                    of_leg && task.periods[next].from < until - 1e-6
                };
                if says_more(later + 1) {
                    continue;
                }
                let mut terms = vec![(at(period), 1.0), (at(later), -1.0)];
                if goes_on {
                    terms.push((at(period - 1), -1.0));
                }
                self.rows.push(Row { terms, most: 0.0 });
            }
        }
    }

    /// How much of each tier a plan keeps: worth times hours.
    pub(crate) fn value(&self, plan: &Plan) -> Vec<f64> {
        let mut value = self.always.clone();
        for served in self.served.iter().filter(|served| served.needs.iter().all(|&at| plan[at])) {
            value[served.tier] += served.counts;
        }
        value
    }

    /// Whether a plan keeps to the orders of switching.
    pub(crate) fn allows(&self, plan: &Plan) -> bool {
        let sum = |row: &Row| row.terms.iter().map(|&(at, factor)| if plan[at] { factor } else { 0.0 }).sum::<f64>();
        plan.iter().zip(&self.open).all(|(on, open)| *open || !on) && self.rows.iter().all(|row| sum(row) <= row.most + 1e-9)
    }

    /// Everything on that the mission has on.
    pub(crate) fn everything(&self) -> Plan {
        self.open.clone()
    }

    /// The best under rows, with earlier tiers at `floors` at least: its value and, if `whole`, its plan. Without `whole` loads may be on in part, and the orders of
    /// switching are left out: a bound. `None` where nothing satisfies the rows, and where a large model finds nothing.
    pub(crate) fn best(&self, rows: &[&Row], floors: &[f64], goal: Goal, whole: bool) -> Option<(f64, Plan)> {
        if !self.is_small {
            let stretches = Stretches::new(self, rows);
            return if whole { stretches.whole(floors, goal) } else { Some((stretches.bound(floors, goal)?, Vec::new())) };
        }
        let (value, x) = self.solve(rows, floors, goal, whole)?;
        Some((value, x.iter().map(|x| *x > 0.5).collect()))
    }

    /// One search, period by period: the value and how far each is on. `whole`: loads are on or off, and what is switched keeps to its order.
    fn solve(&self, rows: &[&Row], floors: &[f64], goal: Goal, whole: bool) -> Option<(f64, Vec<f64>)> {
        let mut variables = ProblemVariables::new();
        let new = || if whole { variable().binary() } else { variable().min(0.0).max(1.0) };
        let x: Vec<Option<Variable>> = self.open.iter().map(|open| open.then(|| variables.add(new()))).collect();
        // A function that one load decides over is that load.
        let y: Vec<Option<Variable>> = self
            .served
            .iter()
            .map(|served| match served.needs[..] {
                [only] => x[only],
                _ => Some(variables.add(variable().min(0.0).max(1.0))),
            })
            .collect();
        let scale = self.weight.iter().sum::<f64>().max(1.0);
        let kept = |tier: usize| -> Expression {
            let of = self.served.iter().zip(&y).filter(|(served, _)| served.tier == tier);
            of.filter_map(|(served, y)| Some(served.counts * (*y)?)).sum()
        };
        let objective = match goal {
            Goal::Tier(tier) => kept(tier),
            Goal::Least => x.iter().zip(&self.weight).filter_map(|(x, weight)| Some(-(*weight + 1e-6 * scale) / scale * (*x)?)).sum(),
        };
        let mut model = variables.maximise(objective).using(microlp);
        for (served, y) in self.served.iter().zip(&y).filter(|(served, _)| served.needs.len() > 1) {
            for &at in &served.needs {
                model.add_constraint(match (x[at], *y) {
                    (Some(x), Some(y)) => constraint!(y <= x),
                    (None, Some(y)) => constraint!(y <= 0.0),
                    (_, None) => continue,
                });
            }
        }
        let own: &[Row] = if whole { &self.rows } else { &[] };
        for row in own.iter().chain(rows.iter().copied()) {
            let largest = row.terms.iter().map(|(_, factor)| factor.abs()).fold(1e-12, f64::max);
            let sum: Expression = row.terms.iter().filter_map(|&(at, factor)| Some(factor / largest * x[at]?)).sum();
            model.add_constraint(constraint!(sum <= row.most / largest));
        }
        for (tier, floor) in floors.iter().enumerate() {
            // A little less, so that rounding does not empty it.
            let floor = floor - self.always[tier];
            if floor > 0.0 {
                model.add_constraint(constraint!(kept(tier) >= floor - 1e-7 * (1.0 + floor)));
            }
        }
        let solution = model.solve().ok()?;
        let value = match goal {
            Goal::Tier(tier) => {
                let of = self.served.iter().zip(&y).filter(|(served, _)| served.tier == tier);
                self.always[tier] + of.filter_map(|(served, y)| Some(served.counts * solution.value((*y)?))).sum::<f64>()
            }
            Goal::Least => 0.0,
        };
        Some((value, x.iter().map(|x| x.map_or(0.0, |x| solution.value(x))).collect()))
    }

    /// Tier after tier the most, then the least energy.
    pub(crate) fn lexicographic(&self, rows: &[&Row]) -> Option<Plan> {
        let mut floors: Vec<f64> = Vec::new();
        let mut plan = None;
        for tier in 0..self.tiers {
            if !self.served.iter().any(|served| served.tier == tier) {
                floors.push(self.always[tier]);
                continue;
            }
            match (self.best(rows, &floors, Goal::Tier(tier), true), &plan) {
                (Some((_, found)), _) => {
                    floors.push(self.value(&found)[tier]);
                    plan = Some(found);
                }
                // What keeps the tiers before is there; a large model found no more of this one.
                (None, Some(plan)) => floors.push(self.value(plan)[tier]),
                (None, None) => return None,
            }
        }
        self.best(rows, &floors, Goal::Least, true).map(|(_, plan)| plan).or(plan)
    }
}

/// Whether one value is better than another: the first tier in which they differ by more than rounding decides.
pub(crate) fn is_better(value: &[f64], than: &[f64]) -> bool {
    let differs = value.iter().zip(than).find(|(a, b)| (*a - *b).abs() > 1e-6 * (1.0 + b.abs()));
    differs.is_some_and(|(a, b)| a > b)
}

/// Functions as the search counts them, for who shows a plan.
pub(crate) fn kept_hours(task: &Task, plan: &Plan, function: Id<Function>) -> (f64, f64) {
    let count = task.shed.len();
    let (mut kept, mut wanted) = (0.0, 0.0);
    for period in 0..task.planned {
        let Some(loads) = task.serves(function, period) else { continue };
        let hours = task.periods[period].hours();
        wanted += hours;
        let on = |load: &Id<Load>| task.shed.iter().position(|s| s.load == *load).is_none_or(|n| plan[period * count + n]);
        if loads.iter().all(on) {
            kept += hours;
        }
    }
    (kept, wanted)
}
