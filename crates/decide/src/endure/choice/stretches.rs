//! The model of a large task by stretches. Within a leg a load is on first and off then, so that how long it is on says all: one number for each load and stretch
//! instead of one for each period.
//!
//! ```text
//! share    part of a stretch that a load is on, from its beginning; whole periods in a plan
//! at all   whether it is on in the stretch's first period: 0 or 1 in a plan, and share <= at all
//! ```
//!
//! A leg is one stretch, cut where a row asks about a single period within it. A row that has every period of a stretch by the same factor is a row of shares. What
//! else a row asks of a load to be off in, it asks of the first period of a stretch (at all); what it asks it to be on in, of a stretch of that period alone. Without
//! whole periods this is as good a bound as the model by periods: what differs between periods of a leg is nothing but order, so that their mean satisfies every row that
//! they satisfy.

use super::{Choice, Goal, Plan, Row};
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable};
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// Searches at most for one plan, but for making shares whole.
const SEARCHES: usize = 24;
/// Searches at most to make the shares of one whole.
const ROUNDS: usize = 12;
/// What all energy counts for in the search of a tier, against what counts least in it.
const LEAST: f64 = 1e-3;
/// What is on less in part than this is whole.
const WHOLE: f64 = 1e-6;

pub(super) struct Stretches<'c> {
    choice: &'c Choice,
    /// First period of each stretch, and the number of periods at the end.
    starts: Vec<usize>,
    rows: Vec<Joined>,
    /// Rows of the orders of switching.
    orders: Vec<Joined>,
    /// Functions by stretch.
    served: Vec<Served>,
    /// Columns of which a row asks whether they are on at all.
    asked: BTreeSet<usize>,
}

/// A row over shares and over what is on at all, by column: stretch times the number of loads plus the load.
struct Joined {
    shares: Vec<(usize, f64)>,
    at_all: Vec<(usize, f64)>,
    most: f64,
}

struct Served {
    tier: usize,
    counts: f64,
    needs: Vec<usize>,
}

/// How far each column is on.
struct Shares {
    value: f64,
    share: Vec<f64>,
    at_all: Vec<f64>,
}

/// What is held at a value while a plan is made whole.
#[derive(Clone)]
struct Held {
    share: Vec<Option<f64>>,
    at_all: Vec<Option<f64>>,
}

impl<'c> Stretches<'c> {
    pub(super) fn new(choice: &'c Choice, rows: &[&Row]) -> Stretches<'c> {
        let (count, periods) = (choice.count, choice.legs.len());
        let mut in_leg: BTreeMap<usize, usize> = BTreeMap::new();
        choice.legs.iter().for_each(|leg| *in_leg.entry(*leg).or_default() += 1);
        let says = choice.says(rows.iter().copied());
        let mut cuts: BTreeSet<usize> = (0..periods).filter(|&at| at == 0 || choice.legs[at] != choice.legs[at - 1]).collect();
        cuts.insert(periods);
        // What holds with everything on asks nothing.
        let asks = |row: &Row| row.terms.iter().map(|(_, factor)| factor.max(0.0)).sum::<f64>() > row.most;
        let asked: Vec<&Row> = rows.iter().copied().filter(|row| asks(row)).collect();
        let kept: Vec<&Row> = asked.iter().copied().filter(|row| !choice.is_said(row, &says)).collect();
        let own: Vec<&Row> = choice.rows.iter().filter(|row| !choice.is_chain(row)).collect();
        for row in kept.iter().chain(&own) {
            let mut of: BTreeMap<(usize, usize), Vec<(usize, f64)>> = BTreeMap::new();
            for &(at, factor) in &row.terms {
                of.entry((choice.legs[at / count], at % count)).or_default().push((at / count, factor));
            }
            for (_, terms) in of.iter().filter(|((leg, _), terms)| !(terms.len() == in_leg[leg] && are_equal(terms))) {
                for &(period, factor) in terms {
                    cuts.insert(period);
                    // What a load has to be on in is a stretch of its own: then it is on or off there.
                    cuts.extend((factor < 0.0).then_some(period + 1));
                }
            }
        }
        let starts: Vec<usize> = cuts.into_iter().collect();
        let mut stretch_of = vec![0; periods];
        for (at, pair) in starts.windows(2).enumerate() {
            stretch_of[pair[0]..pair[1]].fill(at);
        }
        let mut stretches = Stretches { choice, starts, rows: Vec::new(), orders: Vec::new(), served: Vec::new(), asked: BTreeSet::new() };
        // Of rows that say the same of every period of a leg, those of each stretch's first.
        let begins = |row: &Row| matches!(choice.one_period(row), Some(((period, ..), true)) if stretches.starts.contains(&period));
        let said = |row: &Row| choice.is_said(row, &says) && !begins(row);
        stretches.rows = asked.iter().filter(|row| !said(row)).map(|row| stretches.join(row, &stretch_of)).collect();
        let mut orders: Vec<Joined> = own.iter().map(|row| stretches.join(row, &stretch_of)).collect();
        // Stretches of one leg follow each other.
        for at in 1..stretches.len() {
            let begins = stretches.starts[at];
            if choice.legs[begins] == choice.legs[begins - 1] {
                let of = |n: usize| Joined { shares: vec![((at - 1) * count + n, -1.0)], at_all: vec![(at * count + n, 1.0)], most: 0.0 };
                orders.extend((0..count).map(of));
            }
        }
        stretches.orders = orders;
        let asked = stretches.rows.iter().chain(&stretches.orders).flat_map(|row| row.at_all.iter().map(|(column, _)| *column));
        stretches.asked = asked.collect();
        let mut served: BTreeMap<(usize, Vec<usize>), f64> = BTreeMap::new();
        for of in &choice.served {
            let needs = of.needs.iter().map(|at| stretch_of[at / count] * count + at % count).collect();
            *served.entry((of.tier, needs)).or_default() += of.counts;
        }
        stretches.served = served.into_iter().map(|((tier, needs), counts)| Served { tier, counts, needs }).collect();
        stretches
    }

    fn len(&self) -> usize {
        self.starts.len() - 1
    }

    /// Periods of a column's stretch.
    fn periods(&self, column: usize) -> usize {
        let stretch = column / self.choice.count;
        self.starts[stretch + 1] - self.starts[stretch]
    }

    /// The plan decides over a stretch if over its first period: what follows in its leg follows on that.
    fn is_open(&self, column: usize) -> bool {
        let count = self.choice.count;
        self.choice.open[self.starts[column / count] * count + column % count]
    }

    fn join(&self, row: &Row, stretch_of: &[usize]) -> Joined {
        let count = self.choice.count;
        let mut of: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
        for &(at, factor) in &row.terms {
            of.entry(stretch_of[at / count] * count + at % count).or_default().push((at / count, factor));
        }
        let mut joined = Joined { shares: Vec::new(), at_all: Vec::new(), most: row.most };
        for (column, terms) in of {
            let factor: f64 = terms.iter().map(|(_, factor)| factor).sum();
            match terms.len() == self.periods(column) && are_equal(&terms) {
                true => joined.shares.push((column, factor)),
                false => joined.at_all.push((column, factor)),
            }
        }
        joined
    }

    /// What no plan exceeds: loads may be on in part, and in any order.
    pub(super) fn bound(&self, floors: &[f64], goal: Goal) -> Option<f64> {
        let free = Held { share: vec![None; self.len() * self.choice.count], at_all: vec![None; self.len() * self.choice.count] };
        self.solve(floors, goal, &free, false).map(|found| found.value)
    }

    /// A plan of whole periods: a search tree over what is on at all, that being on first, and at its leaves shares made whole. Exact but for the shares if the tree
    /// ends before its searches are counted out; else the best of those found.
    pub(super) fn whole(&self, floors: &[f64], goal: Goal) -> Option<(f64, Plan)> {
        let columns = self.len() * self.choice.count;
        let mut best: Option<Shares> = None;
        let mut open = vec![Held { share: vec![None; columns], at_all: vec![None; columns] }];
        let mut searches = 0;
        while let Some(held) = open.pop().filter(|_| searches < SEARCHES) {
            searches += 1;
            let Some(found) = self.solve(floors, goal, &held, true) else { continue };
            let is_better = |found: &Shares| best.as_ref().is_none_or(|best| found.value > best.value + WHOLE * (1.0 + best.value.abs()));
            if !is_better(&found) {
                continue;
            }
            // Nothing speaks for less than one where a load is on at all, unless a row does; what is not on stays off.
            let mut with = held.clone();
            for &column in &self.asked {
                with.at_all[column] = Some(f64::from(u8::from(found.share[column] > WHOLE)));
            }
            let other = self.solve(floors, goal, &with, true);
            let is_whole = other.as_ref().is_some_and(|other| other.value >= found.value - WHOLE * (1.0 + found.value.abs()));
            if let Some(rounded) = other.and_then(|other| self.round(other, with, floors, goal))
                && is_better(&rounded)
            {
                best = Some(rounded);
            }
            let parts = self.asked.iter().copied().filter(|&at| !is_whole && found.at_all[at] > WHOLE && found.at_all[at] < 1.0 - WHOLE);
            if let Some(column) = parts.max_by(|&a, &b| found.at_all[a].total_cmp(&found.at_all[b]).then(b.cmp(&a))) {
                for on in [0.0, 1.0] {
                    let mut branch = held.clone();
                    branch.at_all[column] = Some(on);
                    open.push(branch);
                }
            }
        }
        best.map(|best| (best.value, self.plan(&best)))
    }

    /// Shares made whole little by little: what is on by the larger part of a period goes up if that holds, the rest down, and the others are sought again.
    fn round(&self, mut found: Shares, mut held: Held, floors: &[f64], goal: Goal) -> Option<Shares> {
        for round in 0..=ROUNDS {
            let parts = self.in_part(&found, &held);
            let Some(largest) = parts.iter().copied().max_by(|a, b| a.part.total_cmp(&b.part)) else { return Some(found) };
            let is_last = round == ROUNDS;
            for part in parts.iter().filter(|part| is_last || part.part < 0.5) {
                held.hold(part, 0.0);
            }
            let up = !is_last && largest.part >= 0.5;
            if up {
                held.hold(&largest, 1.0);
            }
            found = match self.solve(floors, goal, &held, true) {
                Some(found) => found,
                None if up => {
                    held.hold(&largest, 0.0);
                    self.solve(floors, goal, &held, true)?
                }
                None => return None,
            };
        }
        self.in_part(&found, &held).is_empty().then_some(found)
    }

    /// Shares that are no whole periods.
    fn in_part(&self, found: &Shares, held: &Held) -> Vec<Part> {
        let free = (0..found.share.len()).filter(|&column| held.share[column].is_none());
        let shares = free.map(|column| {
            let periods = self.periods(column) as f64;
            let on = found.share[column] * periods;
            let whole = (on + WHOLE).floor();
            Part { column, periods, whole, part: on - whole }
        });
        shares.filter(|part| part.part > WHOLE && part.part < 1.0 - WHOLE).collect()
    }

    fn plan(&self, found: &Shares) -> Plan {
        let count = self.choice.count;
        let mut plan = vec![false; self.choice.open.len()];
        for (column, share) in found.share.iter().enumerate() {
            let begins = self.starts[column / count];
            let on = (share * self.periods(column) as f64).round() as usize;
            (begins..begins + on).for_each(|period| plan[period * count + column % count] = true);
        }
        plan
    }

    /// One search. With `orders` what is switched keeps to its order.
    fn solve(&self, floors: &[f64], goal: Goal, held: &Held, orders: bool) -> Option<Shares> {
        let choice = self.choice;
        let columns = self.len() * choice.count;
        let mut variables = ProblemVariables::new();
        let mut new = |held: Option<f64>| {
            let (least, most) = held.map_or((0.0, 1.0), |held| (held, held));
            variables.add(variable().min(least).max(most))
        };
        let share: Vec<Option<Variable>> = (0..columns).map(|column| self.is_open(column).then(|| new(held.share[column]))).collect();
        let at_all: Vec<Option<Variable>> =
            (0..columns).map(|column| (self.is_open(column) && self.asked.contains(&column)).then(|| new(held.at_all[column]))).collect();
        // A function that one load decides over is that load.
        let kept: Vec<Option<Variable>> = self
            .served
            .iter()
            .map(|served| match served.needs[..] {
                [only] => share[only],
                _ => Some(new(None)),
            })
            .collect();
        let of_tier = |tier: usize| -> Expression {
            let of = self.served.iter().zip(&kept).filter(|(served, _)| served.tier == tier);
            of.filter_map(|(served, kept)| Some(served.counts * (*kept)?)).sum()
        };
        let least_count =
            |tier: usize| self.served.iter().filter(|served| served.tier == tier).map(|served| served.counts).fold(1.0, f64::min);
        let scale = choice.weight.iter().sum::<f64>().max(1.0);
        let energy = |column: usize| {
            let stretch = column / choice.count;
            let periods = self.starts[stretch]..self.starts[stretch + 1];
            periods.map(|period| choice.weight[period * choice.count + column % choice.count] + 1e-6 * scale).sum::<f64>() / scale
        };
        let least: Expression = share.iter().enumerate().filter_map(|(column, share)| Some(-energy(column) * (*share)?)).sum();
        let objective = match goal {
            // What a tier does not need is off: else what there is too little of falls on anything.
            Goal::Tier(tier) => of_tier(tier) + LEAST * least_count(tier) * least,
            Goal::Least => least,
        };
        let mut model = variables.maximise(objective).using(microlp);
        for (at_all, share) in at_all.iter().zip(&share) {
            if let (Some(at_all), Some(share)) = (at_all, share) {
                model.add_constraint(constraint!(*share <= *at_all));
            }
        }
        for (served, kept) in self.served.iter().zip(&kept).filter(|(served, _)| served.needs.len() > 1) {
            let Some(kept) = *kept else { continue };
            for &column in &served.needs {
                model.add_constraint(match share[column] {
                    Some(share) => constraint!(kept <= share),
                    None => constraint!(kept <= 0.0),
                });
            }
        }
        let of_orders: &[Joined] = if orders { &self.orders } else { &[] };
        for row in of_orders.iter().chain(&self.rows) {
            let terms = row.shares.iter().map(|(column, factor)| (share[*column], *factor));
            let terms: Vec<(Variable, f64)> = terms
                .chain(row.at_all.iter().map(|(column, factor)| (at_all[*column], *factor)))
                .filter_map(|(variable, factor)| Some((variable?, factor)))
                .collect();
            let largest = terms.iter().map(|(_, factor)| factor.abs()).fold(1e-12, f64::max);
            let sum: Expression = terms.into_iter().map(|(variable, factor)| factor / largest * variable).sum();
            model.add_constraint(constraint!(sum <= row.most / largest));
        }
        for (tier, floor) in floors.iter().enumerate() {
            // A little less, so that rounding does not empty it; less than makes what counts least in it be on in part.
            let floor = floor - choice.always[tier];
            if floor > 0.0 {
                model.add_constraint(constraint!(of_tier(tier) >= floor - 1e-2 * WHOLE * least_count(tier)));
            }
        }
        let solution = model.solve().ok()?;
        let value = match goal {
            Goal::Tier(tier) => {
                let of = self.served.iter().zip(&kept).filter(|(served, _)| served.tier == tier);
                choice.always[tier] + of.filter_map(|(served, kept)| Some(served.counts * solution.value((*kept)?))).sum::<f64>()
            }
            Goal::Least => {
                -share.iter().enumerate().filter_map(|(column, share)| Some(energy(column) * solution.value((*share)?))).sum::<f64>()
            }
        };
        let found = |all: &[Option<Variable>]| all.iter().map(|of| of.map_or(0.0, |of| solution.value(of))).collect();
        Some(Shares { value, share: found(&share), at_all: found(&at_all) })
    }
}

/// A share of whole periods and what is beyond them.
#[derive(Clone, Copy)]
struct Part {
    column: usize,
    periods: f64,
    whole: f64,
    part: f64,
}

impl Held {
    fn hold(&mut self, part: &Part, up: f64) {
        self.share[part.column] = Some((part.whole + up) / part.periods);
    }
}

fn are_equal(terms: &[(usize, f64)]) -> bool {
    terms.iter().all(|(_, factor)| (factor - terms[0].1).abs() <= 1e-9 * factor.abs())
}

/// A row of one period: the period, the loads with their factors, and the bound.
type Says = (usize, Vec<(usize, u64)>, u64);

impl Choice {
    /// A row whose terms lie in one period and are of one sign; and whether they are above zero.
    fn one_period(&self, row: &Row) -> Option<(Says, bool)> {
        let period = row.terms.first()?.0 / self.count;
        let above = row.terms[0].1 > 0.0;
        let alike = row.terms.iter().all(|&(at, factor)| at / self.count == period && (factor > 0.0) == above);
        let mut loads: Vec<(usize, u64)> = row.terms.iter().map(|&(at, factor)| (at % self.count, factor.to_bits())).collect();
        loads.sort_unstable();
        alike.then(|| ((period, loads, row.most.to_bits()), above))
    }

    fn says<'r>(&self, rows: impl Iterator<Item = &'r Row>) -> HashSet<Says> {
        rows.filter_map(|row| Some(self.one_period(row)?.0)).collect()
    }

    /// Whether another row says as much: within a leg what may be on in a period may be in every later one, and what must be on in one must be in every earlier one.
    fn is_said(&self, row: &Row, says: &HashSet<Says>) -> bool {
        let Some(((period, loads, most), above)) = self.one_period(row) else { return false };
        let other = if above { period.checked_sub(1) } else { Some(period + 1).filter(|&other| other < self.legs.len()) };
        other.is_some_and(|other| self.legs[other] == self.legs[period] && says.contains(&(other, loads, most)))
    }

    /// Whether a row says that a load is on first and off then, of neighbours of a leg.
    fn is_chain(&self, row: &Row) -> bool {
        match row.terms[..] {
            [(later, a), (earlier, b)] => {
                let (now, before) = (later / self.count, earlier / self.count);
                (a, b, row.most) == (1.0, -1.0, 0.0) && later == earlier + self.count && self.legs[now] == self.legs[before]
            }
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Choice, Goal, Row, Served};
    use super::Stretches;

    /// Loads that may be shed, and periods: three legs of one to four.
    const LOADS: usize = 4;

    fn next(state: &mut u64) -> f64 {
        *state = *state * 48271 % 2_147_483_647;
        *state as f64 / 2_147_483_647.0
    }

    /// A made-up model: charge for a part of what all take, a peak in each leg, and one row about a single period.
    fn made_up(seed: u64, is_small: bool) -> (Choice, Vec<Row>) {
        let mut state = seed * 7919 + 17;
        let lengths = [1 + (next(&mut state) * 4.0) as usize, 1 + (next(&mut state) * 4.0) as usize, 2];
        let legs: Vec<usize> = lengths.iter().enumerate().flat_map(|(leg, &len)| vec![leg; len]).collect();
        let periods = legs.len();
        let watts: Vec<f64> = (0..LOADS).map(|_| 1.0 + (next(&mut state) * 9.0).round()).collect();
        let mut choice = Choice {
            tiers: 2,
            count: LOADS,
            legs: legs.clone(),
            open: vec![true; LOADS * periods],
            weight: (0..LOADS * periods).map(|at| watts[at % LOADS]).collect(),
            served: Vec::new(),
            always: vec![0.0; 2],
            rows: Vec::new(),
            is_small,
        };
        for period in 0..periods {
            let at = |n: usize| period * LOADS + n;
            let served = [(0, vec![at(0), at(1)], 1.0), (0, vec![at(2)], 1.5), (1, vec![at(1), at(3)], 1.0), (1, vec![at(3)], 0.5)];
            choice.served.extend(served.map(|(tier, needs, counts)| Served { tier, counts, needs }));
            let before = period.checked_sub(1).filter(|&before| legs[before] == legs[period]);
            let chain = |n: usize| Some(Row { terms: vec![(at(n), 1.0), (before? * LOADS + n, -1.0)], most: 0.0 });
            choice.rows.extend((0..LOADS).filter_map(chain));
        }
        // Load 0 does not come on again from the first leg to the second.
        let second = lengths[0] * LOADS;
        choice.rows.push(Row { terms: vec![(second, 1.0), (second - LOADS, -1.0)], most: 0.0 });
        let all: f64 = choice.weight.iter().sum();
        let charge = Row { terms: choice.weight.iter().copied().enumerate().collect(), most: all * (0.3 + 0.6 * next(&mut state)) };
        let peak = watts.iter().sum::<f64>() * (0.5 + 0.6 * next(&mut state));
        let in_period = |period: usize| (0..LOADS).map(move |n| (period * LOADS + n, n));
        let mut rows = vec![charge];
        rows.extend((0..periods).map(|period| Row { terms: in_period(period).map(|(at, n)| (at, watts[n])).collect(), most: peak }));
        rows.push(Row { terms: in_period(periods - 1).map(|(at, _)| (at, 1.0)).collect(), most: LOADS as f64 - 1.0 });
        (choice, rows)
    }

    /// The model by stretches has the bound of the model by periods; its plans satisfy every row of it, and keep what an exact search of it keeps but for what is lost by making
    /// shares whole.
    #[test]
    fn stretches_say_what_periods_say() {
        let (mut equal, mut kept) = (0, 0.0);
        for seed in 1..=100 {
            let (exact, rows) = made_up(seed, true);
            let (large, _) = made_up(seed, false);
            let rows: Vec<&Row> = rows.iter().collect();
            for tier in 0..2 {
                let bound = |of: &Choice| of.best(&rows, &[], Goal::Tier(tier), false).expect("a bound").0;
                assert!((bound(&exact) - bound(&large)).abs() < 1e-5, "case {seed}: {} {}", bound(&exact), bound(&large));
            }
            let (best, _) = exact.best(&rows, &[], Goal::Tier(0), true).expect("a plan");
            let (found, plan) = Stretches::new(&large, &rows).whole(&[], Goal::Tier(0)).expect("a plan");
            let sum = |row: &Row| row.terms.iter().filter(|(at, _)| plan[*at]).map(|(_, factor)| factor).sum::<f64>();
            let broken: Vec<(f64, &&Row)> = rows.iter().filter(|row| sum(row) > row.most + 1e-6).map(|row| (sum(row), row)).collect();
            assert!(large.allows(&plan), "case {seed}: {plan:?} of legs {:?}", large.legs);
            assert!(broken.is_empty(), "case {seed}: {broken:?}");
            assert!((large.value(&plan)[0] - found).abs() < 1e-6, "case {seed}");
            assert!(found <= best + 1e-6, "case {seed}: {found}, exact {best}");
            equal += usize::from(found >= best - 1e-6);
            kept += found / best / 100.0;
        }
        assert!(equal >= 70 && kept > 0.95, "{equal} of 100 equal, {kept} kept");
    }
}
