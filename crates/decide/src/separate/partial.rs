//! The worst partial states of one base state: every subset of what lies on loops, or a search with a bound.

use super::functions::Functions;
use analysis::{Prepared, Reduced, ReducedState};
use model::*;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Up to where states are settled one by one, solved one by one, and how many branches are followed above.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Contacts on loops up to which every partial state is settled with every load by its own law.
    pub settled: usize,
    /// Contacts on loops up to which every partial state is solved with loads as resistances.
    pub linear: usize,
    /// States and bounds computed above that, for each contact.
    pub nodes: usize,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits { settled: 9, linear: 18, nodes: 4_000 }
    }
}

/// A base state with everything mated, what may part in it, and what is watched.
pub struct Partial<'b> {
    /// The state.
    pub base: &'b Point,
    /// What lies on loops: the element, its branch, and those that have parted before it does, by bit.
    pub elements: Vec<(ElementId, usize, u128)>,
    /// Feeds, by place, each with the returns of its circuit, by bit.
    pub alone: Vec<(usize, u128)>,
    /// Loads that work, with the node of their return and the ground of their half.
    pub shift: Vec<(Id<Load>, NodeId, NodeId)>,
    /// Loads that have to work throughout, with the nodes of their terminals.
    pub volts: Vec<(Id<Load>, NodeId, NodeId)>,
    /// Functions that are watched, where any are.
    functions: Option<&'b Functions<'b>>,
}

/// The worst state of a quantity.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// What.
    pub target: Target,
    /// How much.
    pub value: f64,
    /// With everything mated.
    pub with_all: f64,
    /// At most, where the search stopped before its end.
    pub at_most: Option<f64>,
    /// What is mated, by bit.
    pub mated: u128,
}

/// What a search found.
pub struct Worst {
    /// By target, in order.
    pub rows: Vec<Row>,
    /// States looked at.
    pub examined: usize,
    /// Subsets that the order of contacts excludes.
    pub excluded: usize,
    /// How.
    pub searched: Searched,
    /// States without an operating point.
    pub unsettled: Vec<u128>,
    /// Functions that do not simply work on in some settled state: the worst of each, with as much mated as can be.
    pub functions: Vec<(FunctionCase, u128)>,
}

/// What is seen in one state.
type Found = Vec<(Target, f64)>;

impl<'b> Partial<'b> {
    /// A base state without what is looked at in it.
    pub fn new(base: &'b Point) -> Partial<'b> {
        Partial { base, elements: Vec::new(), alone: Vec::new(), shift: Vec::new(), volts: Vec::new(), functions: None }
    }

    /// With functions to be watched.
    pub(super) fn watching(self, functions: &'b Functions<'b>) -> Partial<'b> {
        Partial { functions: Some(functions), ..self }
    }

    /// Functions that do not simply work on in a settled state.
    fn upset(&self, prepared: &Prepared, point: &Point) -> Vec<FunctionCase> {
        let all = self.functions.map_or(Vec::new(), |functions| functions.stand(prepared, point));
        all.into_iter().filter(|case| case.effect > Effect::Kept).collect()
    }

    /// Everything mated.
    fn all(&self) -> u128 {
        if self.elements.len() >= 128 { u128::MAX } else { (1 << self.elements.len()) - 1 }
    }

    /// Whether the order of contacts lets a state be.
    fn is_possible(&self, mated: u128) -> bool {
        self.elements.iter().enumerate().all(|(at, (.., before))| mated >> at & 1 == 1 || before & mated == 0)
    }

    fn scenario(&self, mated: u128) -> Scenario {
        let mut scenario = self.base.scenario.clone();
        let parted = self.elements.iter().enumerate().filter(|(at, _)| mated >> at & 1 == 0).map(|(_, (element, ..))| (*element, None));
        scenario.opened.extend(parted);
        scenario
    }

    /// Of a settled state.
    fn seen(&self, prepared: &Prepared, point: &Point, mated: u128) -> Found {
        let mut found = Vec::new();
        let current = |at: usize| point.current[self.elements[at].1].abs();
        for (at, (element, ..)) in self.elements.iter().enumerate().filter(|(at, _)| mated >> at & 1 == 1) {
            if let ElementId::Contact(id) = element {
                found.push((Target::Current(*id), current(at)));
            }
        }
        for &(at, _) in self.alone.iter().filter(|(at, returns)| mated >> at & 1 == 1 && mated & returns == 0) {
            if let (ElementId::Contact(id), ..) = self.elements[at] {
                found.push((Target::Alone(id), current(at)));
            }
        }
        let joined = |a: NodeId, b: NodeId| {
            let island = point.island_of[a.row()];
            (island.is_some() && island == point.island_of[b.row()]).then(|| point.voltage[a.row()] - point.voltage[b.row()])
        };
        for &(load, at, ground) in self.shift.iter().filter(|(load, ..)| point.serves(*load)) {
            found.extend(joined(at, ground).map(|volts| (Target::Shift(load), volts.abs())));
        }
        for &(load, ..) in &self.volts {
            let volts = if point.serves(load) { point.load_voltage[load].map_or(0.0, |volts| volts.0) } else { 0.0 };
            found.push((Target::Volts(load), volts));
        }
        for (id, _) in prepared.design().batteries.iter() {
            if let Some(row) = prepared.branch_of(ElementId::Source(id)) {
                found.push((Target::Charges(id), point.current[row].max(0.0)));
            }
        }
        found
    }
}

/// The worst states of every quantity.
pub fn search(prepared: &Prepared, partial: &Partial, limits: Limits) -> Worst {
    let n = partial.elements.len();
    if n <= limits.settled {
        return settle_all(prepared, partial);
    }
    let held = prepared.with_loads_held(partial.base);
    let net = Linear::new(prepared, partial, &held);
    if n <= limits.linear {
        let states: Vec<u128> = (0..1u128 << n).filter(|&mated| partial.is_possible(mated)).collect();
        let runs: Vec<Best> =
            states.par_chunks(states.len().div_ceil(64).max(1)).map(|run| net.best_of(partial, run.iter().copied())).collect();
        let best = runs.into_iter().fold(Best::default(), Best::join);
        let excluded = (1usize << n) - states.len();
        return settle_worst(prepared, partial, best, (states.len(), excluded, Searched::Linear), &BTreeMap::new());
    }
    let (best, examined, at_most) = net.bounded(partial, limits.nodes);
    settle_worst(prepared, partial, best, (examined, 0, Searched::Bounded), &at_most)
}

/// The worst of each function so far, with what is mated.
#[derive(Default)]
struct Upset(BTreeMap<Id<Function>, (FunctionCase, u128)>);

impl Upset {
    fn see(&mut self, found: impl IntoIterator<Item = (FunctionCase, u128)>) {
        for (case, mated) in found {
            let known = self.0.entry(case.function).or_insert((case, mated));
            let rank = |case: &FunctionCase, mated: u128| (case.effect, mated.count_ones(), mated);
            if rank(&case, mated) > rank(&known.0, known.1) {
                *known = (case, mated);
            }
        }
    }
    fn rows(self) -> Vec<(FunctionCase, u128)> {
        self.0.into_values().collect()
    }
}

/// States kept of each target: what is worst with loads as resistances need not be with every law.
const KEPT: usize = 4;

/// The worst of each target so far with their states, the worst first.
#[derive(Default)]
struct Best(BTreeMap<Target, Vec<(f64, u128)>>);

impl Best {
    fn see(&mut self, found: Found, mated: u128) {
        for (target, value) in found {
            self.keep(target, value, mated);
        }
    }
    fn keep(&mut self, target: Target, value: f64, mated: u128) {
        let known = self.0.entry(target).or_default();
        let at = known.iter().position(|&(other, _)| is_worse(target, value, other)).unwrap_or(known.len());
        if at < KEPT && known.iter().all(|(_, other)| *other != mated) {
            known.insert(at, (value, mated));
            known.truncate(KEPT);
        }
    }
    fn join(mut self, other: Best) -> Best {
        for (target, list) in other.0 {
            list.into_iter().for_each(|(value, mated)| self.keep(target, value, mated));
        }
        self
    }
    fn worst(&self, target: Target) -> f64 {
        self.0.get(&target).and_then(|list| list.first()).map_or(0.0, |(value, _)| *value)
    }
}

fn is_worse(target: Target, value: f64, known: f64) -> bool {
    match target {
        Target::Volts(_) => value < known,
        _ => value > known,
    }
}

fn is_settled(point: &Point) -> bool {
    point.islands.iter().all(|island| island.outcome.is_settled())
}

/// Every state settled.
fn settle_all(prepared: &Prepared, partial: &Partial) -> Worst {
    let near = prepared.near(partial.base);
    let n = partial.elements.len();
    let states: Vec<u128> = (0..1u128 << n).rev().filter(|&mated| partial.is_possible(mated)).collect();
    let run = |run: &[u128]| {
        let mut room = near.room();
        let (mut best, mut unsettled, mut upset) = (Best::default(), Vec::new(), Upset::default());
        for &mated in run {
            let scenario = partial.scenario(mated);
            let point = near.try_point(&scenario, &mut room).unwrap_or_else(|_| near.afresh(&scenario));
            if !is_settled(&point) {
                unsettled.push(mated);
            }
            best.see(partial.seen(prepared, &point, mated), mated);
            upset.see(partial.upset(prepared, &point).into_iter().map(|case| (case, mated)));
        }
        (best, unsettled, upset)
    };
    let runs: Vec<(Best, Vec<u128>, Upset)> = states.par_chunks(states.len().div_ceil(16).max(1)).map(run).collect();
    let nothing = (Best::default(), Vec::new(), Upset::default());
    let (best, unsettled, upset) = runs.into_iter().fold(nothing, |(best, mut all, mut upset), (one, unsettled, more)| {
        all.extend(unsettled);
        upset.see(more.rows());
        (best.join(one), all, upset)
    });
    let with_all: BTreeMap<Target, f64> = partial.seen(prepared, partial.base, partial.all()).into_iter().collect();
    let row = |(target, list): (Target, Vec<(f64, u128)>)| {
        let with_all = with_all.get(&target).copied().unwrap_or_default();
        list.first().map(|&(value, mated)| Row { target, value, with_all, at_most: None, mated })
    };
    let rows = best.0.into_iter().filter_map(row).collect();
    Worst {
        rows,
        examined: states.len(),
        excluded: (1 << n) - states.len(),
        searched: Searched::Settled,
        unsettled,
        functions: upset.rows(),
    }
}

/// Settles the states that a linear search found worst, with every law.
fn settle_worst(
    prepared: &Prepared,
    partial: &Partial,
    best: Best,
    (examined, excluded, searched): (usize, usize, Searched),
    at_most: &BTreeMap<Target, f64>,
) -> Worst {
    let near = prepared.near(partial.base);
    let mut masks: Vec<u128> = best.0.values().flatten().map(|(_, mated)| *mated).collect();
    masks.sort_unstable();
    masks.dedup();
    let one = |&mated: &u128| {
        let point = near.point(&partial.scenario(mated));
        let found: BTreeMap<Target, f64> = partial.seen(prepared, &point, mated).into_iter().collect();
        (mated, is_settled(&point), found, partial.upset(prepared, &point))
    };
    let mut upset = Upset::default();
    let mut settled: BTreeMap<u128, (bool, BTreeMap<Target, f64>)> = BTreeMap::new();
    for (mated, is_settled, found, functions) in masks.par_iter().map(one).collect::<Vec<_>>() {
        upset.see(functions.into_iter().map(|case| (case, mated)));
        settled.insert(mated, (is_settled, found));
    }
    let with_all: BTreeMap<Target, f64> = partial.seen(prepared, partial.base, partial.all()).into_iter().collect();
    let row = |(target, list): (Target, Vec<(f64, u128)>)| {
        // Without an operating point the resistances say what there is to say, and the state is named.
        let value = |&(linear, mated): &(f64, u128)| {
            let (is_settled, found) = &settled[&mated];
            let value = if *is_settled { found.get(&target).copied() } else { Some(linear) };
            value.map(|value| (value, mated))
        };
        let worst = list.iter().filter_map(value).reduce(|known, new| if is_worse(target, new.0, known.0) { new } else { known });
        let (value, mated) = worst?;
        let with_all = with_all.get(&target).copied().unwrap_or_default();
        Some(Row { target, value, with_all, at_most: at_most.get(&target).copied().filter(|most| *most > value), mated })
    };
    let unsettled = settled.iter().filter(|(_, (is_settled, _))| !is_settled).map(|(mated, _)| *mated).collect();
    Worst { rows: best.0.into_iter().filter_map(row).collect(), examined, excluded, searched, unsettled, functions: upset.rows() }
}

/// The reduced network with what is watched in it.
struct Linear {
    net: Reduced,
    /// Sources: of each the place of its pair among the watched, its EMF and conductance.
    sources: Vec<(Id<Source>, usize, f64, f64)>,
    shifts: usize,
}

impl Linear {
    fn new(prepared: &Prepared, partial: &Partial, held: &Point) -> Linear {
        let rows: Vec<usize> = partial.elements.iter().map(|(_, row, _)| *row).collect();
        let mut watched: Vec<(NodeId, NodeId)> = partial.shift.iter().map(|&(_, at, ground)| (at, ground)).collect();
        // Only what is fed has a reference that counts.
        let ends = |id: Id<Load>| {
            let load = &prepared.design().loads[id];
            [load.line.value, load.line_return.value].map(|end| prepared.node(end))
        };
        watched.extend(partial.shift.iter().map(|&(load, at, _)| match ends(load) {
            [Some(line), Some(back)] => (line, back),
            _ => (at, at),
        }));
        watched.extend(partial.volts.iter().map(|&(_, line, back)| (line, back)));
        let laws = prepared.laws(&held.scenario);
        let mut sources = Vec::new();
        for (id, source) in prepared.design().batteries.iter() {
            let Some(row) = prepared.branch_of(ElementId::Source(id)) else { continue };
            let ends = (prepared.node(source.positive.value), prepared.node(source.negative.value));
            if let (analysis::Law::Emf { volts, g }, (Some(a), Some(b))) = (laws[row], ends) {
                sources.push((id, watched.len(), volts, g));
                watched.push((a, b));
            }
        }
        Linear { net: prepared.reduced(held, &rows, &watched), sources, shifts: partial.shift.len() }
    }

    fn seen(&self, partial: &Partial, state: &ReducedState, mated: u128) -> Found {
        let mut found = Vec::new();
        for (at, (element, ..)) in partial.elements.iter().enumerate().filter(|(at, _)| mated >> at & 1 == 1) {
            if let ElementId::Contact(id) = element {
                found.push((Target::Current(*id), self.net.current(state, at).abs()));
            }
        }
        for &(at, _) in partial.alone.iter().filter(|(at, returns)| mated >> at & 1 == 1 && mated & returns == 0) {
            if let (ElementId::Contact(id), ..) = partial.elements[at] {
                found.push((Target::Alone(id), self.net.current(state, at).abs()));
            }
        }
        for (at, &(load, ..)) in partial.shift.iter().enumerate() {
            if self.net.watched(state, self.shifts + at).is_some_and(|volts| volts > analysis::FED) {
                found.extend(self.net.watched(state, at).map(|volts| (Target::Shift(load), volts.abs())));
            }
        }
        for (at, &(load, ..)) in partial.volts.iter().enumerate() {
            found.push((Target::Volts(load), self.net.watched(state, 2 * self.shifts + at).unwrap_or(0.0)));
        }
        for &(id, at, emf, g) in &self.sources {
            found.extend(self.net.watched(state, at).map(|volts| (Target::Charges(id), (g * (volts - emf)).max(0.0))));
        }
        found
    }

    fn best_of(&self, partial: &Partial, states: impl Iterator<Item = u128>) -> Best {
        let mut best = Best::default();
        for mated in states {
            let state = self.net.state(mated);
            best.see(self.seen(partial, &state, mated), mated);
        }
        best
    }

    /// Branch and bound for the current of each contact; other quantities in the states looked at. Gives also what each may be at most where it stopped.
    fn bounded(&self, partial: &Partial, nodes: usize) -> (Best, usize, BTreeMap<Target, f64>) {
        let n = partial.elements.len();
        let all = partial.all();
        let mut best = Best::default();
        let mut examined = 0;
        let mut at_most = BTreeMap::new();
        let mut look = |best: &mut Best, mated: u128| {
            if partial.is_possible(mated) {
                examined += 1;
                best.see(self.seen(partial, &self.net.state(mated), mated), mated);
            }
        };
        // What begins well: all, all but one, one alone, two alone.
        look(&mut best, all);
        (0..n).for_each(|a| look(&mut best, all & !(1 << a)));
        for a in 0..n {
            look(&mut best, 1 << a);
            (a + 1..n).for_each(|b| look(&mut best, 1 << a | 1 << b));
        }
        for target in 0..n {
            let ElementId::Contact(id) = partial.elements[target].0 else { continue };
            let known = |best: &Best| best.worst(Target::Current(id));
            // Those that are mated, those not decided yet; what is left has parted.
            let mut open: Vec<(u128, u128)> = vec![(1 << target, all & !(1 << target))];
            let mut followed = 0;
            let mut left = 0.0f64;
            while let Some((mated, free)) = open.pop() {
                let bound = self.net.at_most(target, mated | free);
                if bound <= known(&best) * (1.0 + 1e-9) {
                    continue;
                }
                if followed >= nodes {
                    left = left.max(bound);
                    continue;
                }
                followed += 1;
                if free == 0 {
                    look(&mut best, mated);
                    continue;
                }
                let next = 1u128 << (127 - free.leading_zeros());
                open.push((mated | next, free & !next));
                // Parted first: what carries most has the fewest beside it.
                open.push((mated, free & !next));
            }
            if left > 0.0 {
                at_most.insert(Target::Current(id), left);
            }
        }
        // Of a shift nothing better is known than the greatest voltage.
        for &(load, ..) in &partial.shift {
            at_most.insert(Target::Shift(load), self.net.span());
        }
        for &(at, _) in &partial.alone {
            if let ElementId::Contact(id) = partial.elements[at].0
                && let Some(&most) = at_most.get(&Target::Current(id))
            {
                at_most.insert(Target::Alone(id), most);
            }
        }
        (best, examined, at_most)
    }
}
