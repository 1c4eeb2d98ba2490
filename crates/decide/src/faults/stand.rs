//! How functions stand in the state that a fault leaves.

use super::way;
use super::{Alone, Base, Site, Start, Sweep};
use analysis::Law;
use model::*;
use physics::*;
use std::collections::BTreeSet;

/// Difference of a current from the greatest without a fault from which on it may be too large: as a share, and in amperes.
const GREATER: (f64, f64) = (1e-3, 1e-3);

/// The state that a fault leaves, and what it did before.
pub(super) struct State {
    pub(super) point: Point,
    /// Laws that differ from those of the phase, by row, in order.
    pub(super) changed: Vec<(usize, Law)>,
    /// Whether loads stand as resistances, since the state has no operating point otherwise.
    pub(super) held: bool,
}

/// How functions stand in a state.
pub(super) struct Stands {
    pub(super) cases: Vec<FunctionCase>,
    /// Functions that have lost an alternative.
    poorer: Vec<Id<Function>>,
}

/// What happens before that state: the fault burns for a time, for good where there is none.
pub(super) struct Burnt<'b> {
    pub(super) point: &'b Point,
    pub(super) lasts: Option<Second>,
    /// The longest time that it takes the first device to open.
    pub(super) first: Option<Second>,
}

impl State {
    /// The law of a branch where it differs from that of the phase.
    pub(super) fn law(&self, row: usize) -> Option<Law> {
        self.changed.binary_search_by_key(&row, |&(row, _)| row).ok().map(|at| self.changed[at].1)
    }

    /// Whether an element no longer conducts that did in the phase.
    pub(super) fn opens(&self, prepared: &analysis::Prepared, element: ElementId) -> bool {
        prepared.branch_of(element).and_then(|row| self.law(row)) == Some(Law::Open)
    }
}

/// How something that a function needs stands.
#[derive(Clone, Copy)]
struct Leaf {
    effect: Effect,
    reason: Reason,
    intermittent: Option<Bursts>,
}

impl Leaf {
    fn new(effect: Effect, reason: Reason) -> Leaf {
        Leaf { effect, reason, intermittent: None }
    }
}

impl Sweep<'_, '_> {
    /// Whether a function works without a fault.
    pub(super) fn works(&self, base: &Base, function: Id<Function>) -> bool {
        let mut at = 0;
        let worst = self.design.functions[function].need.worst(&mut |need| {
            at += 1;
            u8::from(!self.leaf_works(base, function, at - 1, need))
        });
        worst == 0 && !self.design.functions[function].need.leaves().is_empty()
    }

    fn leaf_works(&self, base: &Base, function: Id<Function>, leaf: usize, need: &Need) -> bool {
        match need {
            Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => base.start.point.serves(*load),
            Need::One(Given { value: Subject::Element(ElementId::Sensor(sensor)), .. }) => {
                let receiver = self.design.sensors[*sensor].receiver;
                receiver.is_some_and(|receiver| base.start.point.receiver_voltage[receiver.value].is_some())
            }
            Need::Path(_) => base.ways.get(&(function, leaf)).is_some_and(Option::is_some),
            _ => false,
        }
    }

    /// The functions that are wanted in a phase, in a state, with those that are kept on fewer paths.
    pub(super) fn functions(&self, site: Site, state: &State, burnt: Option<&Burnt>) -> Vec<FunctionCase> {
        let base = site.base;
        let Stands { mut cases, poorer } = self.stand(site, state, burnt, &|_| true);
        let opened = || state.changed.iter().filter(|&&(row, law)| law == Law::Open && base.start.near.conducts(row)).map(|&(row, _)| row);
        if cases.iter().any(|case| case.effect == Effect::Kept) {
            let alone = self.alone(base);
            // Only what opens beside another, or was one of several, can leave fewer ways than there were.
            let all = self.graph.is_beside_another(&alone.bridged, opened());
            let of = |case: &FunctionCase| case.effect == Effect::Kept && (all || poorer.contains(&case.function));
            if cases.iter().any(of) {
                self.fewer(base, state, alone, cases.iter_mut().filter(|case| of(case)));
            }
        }
        cases
    }

    /// The functions that are wanted in a phase, in a state; of what is kept it is not asked by how many paths. `only`: those to look at.
    pub(super) fn stand(&self, site: Site, state: &State, burnt: Option<&Burnt>, only: &dyn Fn(Id<Function>) -> bool) -> Stands {
        let base = site.base;
        let overloaded = self.overloaded(base, state);
        let mut cases: Vec<FunctionCase> = Vec::new();
        let mut poorer: Vec<Id<Function>> = Vec::new();
        for &function in base.wanted.iter().filter(|&&function| only(function)) {
            let need = &self.design.functions[function].need;
            let mut leaves: Vec<Leaf> = Vec::new();
            let (effect, at) = need.worst(&mut |need| {
                let at = leaves.len();
                leaves.push(self.leaf(site, state, burnt, (function, at, need)));
                (leaves[at].effect, at)
            });
            if leaves.iter().any(|leaf| leaf.effect >= Effect::Lost) {
                poorer.push(function);
            }
            let mut seen = 0;
            let comes_and_goes = need.worst(&mut |_| {
                seen += 1;
                leaves[seen - 1].intermittent.is_some() || leaves[seen - 1].effect > Effect::Degraded
            });
            // Of several loads that let go the one that takes the longest to come back.
            let bursts = leaves.iter().filter_map(|leaf| leaf.intermittent).reduce(|a, b| if b.effect > a.effect { b } else { a });
            let intermittent = bursts.filter(|_| comes_and_goes && effect <= Effect::Degraded);
            let mut case = FunctionCase { function, effect, reason: leaves[at].reason, intermittent };
            if effect < Effect::Degraded
                && let Some((element, value, limit)) = overloaded.iter().find(|(element, ..)| self.feeds(state, *element, function))
            {
                case.effect = Effect::Degraded;
                case.reason = Reason::Outside(Subject::Element(*element), *value, *limit);
            }
            cases.push(case);
        }
        Stands { cases, poorer }
    }

    /// How each leaf of a function's need stands in a state, in order.
    pub(super) fn leaves(&self, site: Site, state: &State, burnt: Option<&Burnt>, function: Id<Function>) -> Vec<Effect> {
        let leaves = self.design.functions[function].need.leaves();
        leaves.into_iter().enumerate().map(|(at, need)| self.leaf(site, state, burnt, (function, at, need)).effect).collect()
    }

    /// Loads that functions need which let go while a fault burns, and do not come back by themselves.
    pub(super) fn scars(&self, site: Site, state: &State, burnt: Option<&Burnt>) -> Vec<Id<Load>> {
        let mut scars = site.start.scars.clone();
        for &function in &site.base.wanted {
            for need in self.design.functions[function].need.leaves() {
                if let Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) = need
                    && let Some(burnt) = burnt
                    && state.point.serves(*load)
                    && self.lets_go(site, burnt, *load).is_some()
                    && !rides(&self.design.loads[*load], burnt)
                    && self.after_letting_go(site.base, &self.design.loads[*load], volts(&state.point, *load)) > Effect::UpsetAlone
                {
                    scars.push(*load);
                }
            }
        }
        scars.sort_unstable();
        scars.dedup();
        scars
    }

    fn leaf(&self, site: Site, state: &State, burnt: Option<&Burnt>, (function, at, need): (Id<Function>, usize, &Need)) -> Leaf {
        let base = site.base;
        match need {
            Need::One(Given { value: subject @ Subject::Element(ElementId::Load(load)), .. }) => {
                self.load(site, state, burnt, (*subject, *load))
            }
            Need::One(Given { value: subject @ Subject::Element(ElementId::Sensor(sensor)), .. }) => {
                self.sensor(base, state, (*subject, *sensor))
            }
            Need::Path(ends) => {
                let [from, to] = ends.value;
                let cut = Leaf::new(Effect::Lost, Reason::Cut(from, to));
                let Some(Some(way)) = base.ways.get(&(function, at)) else { return cut };
                let touches = |place: Place| match place {
                    Place::End(end) => self.prepared.node(end).is_some_and(|node| way.nodes.contains(&node)),
                    Place::Along(element, _) => self.prepared.branch_of(element).is_some_and(|row| way.rows.contains(&row)),
                    Place::Structure => false,
                };
                if state.point.scenario.shorts.iter().any(|&(a, b, _)| touches(a) || touches(b)) {
                    return cut;
                }
                let opens = way.rows.iter().any(|&row| state.law(row) == Some(Law::Open));
                if opens && way::find(self.prepared, &self.prepared.laws(&state.point.scenario), ends.value).is_none() {
                    return cut;
                }
                Leaf::new(Effect::Kept, Reason::Works)
            }
            _ => Leaf::new(Effect::Kept, Reason::Works),
        }
    }

    fn load(&self, site: Site, state: &State, burnt: Option<&Burnt>, (subject, load): (Subject, Id<Load>)) -> Leaf {
        let base = site.base;
        let row = &self.design.loads[load];
        if !base.start.point.serves(load) && !state.point.serves(load) || state.opens(self.prepared, ElementId::Load(load)) {
            return Leaf::new(Effect::Lost, Reason::Without(subject));
        }
        if !state.point.serves(load) {
            let island = self.prepared.node(row.line.value).and_then(|node| state.point.island_of[node.row()]);
            let settled = island.is_none_or(|island| state.point.islands[island as usize].outcome.is_settled());
            return match state.point.load_state[load] {
                LoadState::On if !settled => Leaf::new(Effect::NotKnown, Reason::Unsettled(subject)),
                LoadState::Unknown => Leaf::new(Effect::NotKnown, Reason::Unsettled(subject)),
                _ => Leaf::new(Effect::Lost, Reason::Without(subject)),
            };
        }
        let (now, before) = (volts(&state.point, load), volts(base.start.point, load));
        let (least, most) = rules::volts_limits(self.design, load);
        let outside = |v: Volt| match v {
            v if v < least.value => Some(least.value),
            v if v > most.value => Some(most.value),
            _ => None,
        };
        let mut leaf = Leaf::new(Effect::Kept, Reason::Works);
        if let Some(limit) = outside(now).filter(|_| outside(before).is_none()) {
            // What is held has no state of its own there: with too little it does not work.
            let sags = state.held || state.point.scenario.held.iter().any(|(of, _)| *of == ElementId::Load(load));
            let effect = if sags && now < least.value { Effect::Lost } else { Effect::Degraded };
            leaf = Leaf::new(effect, Reason::Outside(subject, now.0, limit.0));
        }
        if let Some(burnt) = burnt {
            match self.lets_go(site, burnt, load) {
                Some(sag) => {
                    if row.hold_up.is_none() {
                        self.lacks(ElementId::Load(load), "hold_up");
                    }
                    let effect = self.after_letting_go(base, row, now);
                    match row.hold_up.filter(|_| rides(row, burnt)) {
                        Some(hold_up) => leaf.intermittent = self.bursts(base, load, hold_up.value, burnt.first, before),
                        None if effect > leaf.effect => leaf = Leaf::new(effect, Reason::LetGo(load, sag)),
                        None => {}
                    }
                }
                None if row.drop_out.is_none()
                    && self.sags_to(site, burnt, load) < least.value
                    && !matches!(row.demand, Some(Demand::Resistance(_))) =>
                {
                    self.lacks(ElementId::Load(load), "drop_out")
                }
                None => {}
            }
        }
        if site.start.scars.contains(&load) {
            let effect = self.after_letting_go(base, row, now);
            // One that comes back by itself has done so since.
            if effect > leaf.effect && effect > Effect::UpsetAlone {
                leaf = Leaf::new(effect, Reason::Without(subject));
            }
        }
        leaf
    }

    /// Voltage of a load while a fault burns. Behind a converter it has its own until that lets go; of several, until any does.
    fn sags_to(&self, site: Site, burnt: &Burnt, load: Id<Load>) -> Volt {
        match site.start.behind.contains(&load) {
            true if self.a_converter_lets_go(site.start, burnt.point) => Volt(0.0),
            true => volts(site.start.point, load),
            false => volts(burnt.point, load),
        }
    }

    /// The voltage at which a load lets go while a fault burns, if it does.
    fn lets_go(&self, site: Site, burnt: &Burnt, load: Id<Load>) -> Option<Volt> {
        let drop_out = self.design.loads[load].drop_out?;
        Some(self.sags_to(site, burnt, load)).filter(|sag| *sag < drop_out.value)
    }

    /// How bursts that no device ends use up what a load rides. `None` where one opens at once, so that there is no such burst.
    fn bursts(&self, base: &Base, load: Id<Load>, rides: Second, first: Option<Second>, before: Volt) -> Option<Bursts> {
        let each = first.filter(|each| each.0 > 0.0)?;
        let effect = self.after_letting_go(base, &self.design.loads[load], before);
        Some(Bursts { load, effect, count: (rides.0 / each.0).floor() as u32 + 1, each })
    }

    /// How a load stands that has let go, once it has its voltage again.
    fn after_letting_go(&self, base: &Base, row: &Load, now: Volt) -> Effect {
        let restart = row.restart;
        let coldest = self.design.phases[base.phase()].ambient.low.value;
        let has_voltage = row.return_above.or(row.drop_out).is_some_and(|above| now >= above.value)
            && restart.volts.is_none_or(|least| now >= least.value);
        match restart.can.map(|can| can.value) {
            Some(false) => Effect::Lost,
            _ if restart.on_command || !has_voltage || restart.above.is_some_and(|least| coldest < least.value) => Effect::UpsetUntilActed,
            _ => Effect::UpsetAlone,
        }
    }

    fn a_converter_lets_go(&self, start: &Start, burning: &Point) -> bool {
        let works = |id: &Id<Converter>| start.point.converter_state[*id] == LoadState::On;
        let lets_go = |(id, converter): (Id<Converter>, &Converter)| {
            converter.drop_out.is_some_and(|volts| super::respond::input(self.prepared, burning, id) < volts.value.0)
        };
        self.design.converters.iter().filter(|(id, _)| works(id)).any(lets_go)
    }

    fn sensor(&self, base: &Base, state: &State, (subject, sensor): (Subject, Id<Sensor>)) -> Leaf {
        let row = &self.design.sensors[sensor];
        let lost = Leaf::new(Effect::Lost, Reason::Without(subject));
        let Some(receiver) = row.receiver else { return lost };
        let reads = |point: &Point| point.receiver_voltage[receiver.value];
        let (Some(before), Some(now)) = (reads(base.start.point), reads(&state.point)) else { return lost };
        if state.opens(self.prepared, ElementId::Sensor(sensor)) {
            return lost;
        }
        let Some(allowance) = row.allowance else {
            self.lacks(ElementId::Sensor(sensor), "allowance");
            return Leaf::new(Effect::Kept, Reason::Works);
        };
        let (moved, limit) = ((now - before).0.abs(), (row.law.span() * allowance.value.0).0.abs());
        match moved > limit {
            true => Leaf::new(Effect::Lost, Reason::Outside(subject, moved, limit)),
            false => Leaf::new(Effect::Kept, Reason::Works),
        }
    }

    /// Whether a function could work in a state by what reaches its loads; of sensors nothing is known before it is settled. `bridged`: of that state;
    /// `state`: the one before something was done, where ways of signals stand as they are.
    pub(super) fn may_work(&self, base: &Base, state: &State, bridged: &analysis::Bridged, function: Id<Function>) -> bool {
        let mut at = 0;
        let worst = self.design.functions[function].need.worst(&mut |need| {
            at += 1;
            match need {
                Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => self.graph.of_load(bridged, *load).is_none(),
                Need::Path(_) => self.leaf(base.site(), state, None, (function, at - 1, need)).effect == Effect::Lost,
                _ => false,
            }
        });
        !worst
    }

    /// Wires, contacts and switches that carry more than in any state without a fault, and more than they may.
    fn overloaded(&self, base: &Base, state: &State) -> Vec<(ElementId, f64, f64)> {
        let mut found = Vec::new();
        for (row, (current, most)) in state.point.current.iter().zip(&self.greatest).enumerate() {
            let current = current.abs();
            if current <= most * (1.0 + GREATER.0) + GREATER.1 {
                continue;
            }
            let element = self.prepared.branches()[row].element;
            let by_table = self.allowed[row];
            let by_heat = match element {
                // Half of its table is as good as cold.
                ElementId::Wire(wire) if by_table.is_none_or(|limit| current > 0.5 * limit) => self.by_heat(base, wire),
                _ => None,
            };
            let limit = [by_table, by_heat].into_iter().flatten().reduce(f64::min);
            if let Some(limit) = limit.filter(|&limit| current > limit) {
                found.push((element, current, limit));
            }
        }
        found
    }

    /// Current at which a wire comes to its warmest in any of its segments, its neighbours as they are in the phase.
    fn by_heat(&self, base: &Base, wire: Id<Wire>) -> Option<f64> {
        let phase = base.phase();
        let lock = || self.by_heat.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(known) = lock().get(&(phase, wire)) {
            return *known;
        }
        let limit = self.warmest.get(&wire).and_then(|limit| {
            let margin = self.design.profile.bundle_heat_margin.map_or(0.0, |margin| margin.value.0);
            let limit = Kelvin(limit + 273.15 - margin);
            let segments = self.prepared.segments_of(wire);
            let allowed = segments.iter().filter_map(|&segment| self.prepared.heat_allowed(base.start.point, segment, wire, limit));
            allowed.map(|allowed| allowed.0).reduce(f64::min)
        });
        lock().insert((phase, wire), limit);
        limit
    }

    /// Whether an element lies on the way of a load that a function needs.
    fn feeds(&self, state: &State, element: ElementId, function: Id<Function>) -> bool {
        self.design.functions[function].needs.iter().any(|need| {
            let Subject::Element(load @ ElementId::Load(id)) = need.value else { return false };
            let ladder = || self.prepared.trace(&state.point, load);
            state.point.serves(id) && { ladder() }.feed.iter().chain(&ladder().back).any(|step| step.element == element)
        })
    }

    /// What stands alone without a fault.
    fn alone<'b>(&self, base: &'b Base) -> &'b Alone {
        base.alone.get_or_init(|| {
            let bridged = self.graph.bridged(&self.prepared.laws(&base.start.point.scenario));
            let alone = |&function: &Id<Function>| self.alone_for(&bridged, function, &|load| base.start.point.serves(load));
            let functions = base.wanted.iter().map(alone).collect();
            Alone { bridged, functions }
        })
    }

    /// Elements that alone lose a function in a state.
    fn alone_for(&self, bridged: &analysis::Bridged, function: Id<Function>, serves: &dyn Fn(Id<Load>) -> bool) -> BTreeSet<ElementId> {
        let need = &self.design.functions[function].need;
        let of_leaf = |need: &&Need| match need {
            Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) if serves(*load) => self.graph.of_load(bridged, *load),
            Need::One(Given { value: Subject::Element(ElementId::Load(_)), .. }) => None,
            Need::One(Given { value: Subject::Element(element), .. }) => Some(vec![*element]),
            // Of ways of signals it is not looked at what stands beside them.
            _ => Some(Vec::new()),
        };
        let leaves: Vec<Option<Vec<ElementId>>> = need.leaves().iter().map(of_leaf).collect();
        let candidates: BTreeSet<ElementId> = leaves.iter().flatten().flatten().copied().collect();
        let loses = |element: &ElementId| {
            let mut at = 0;
            need.worst(&mut |_| {
                at += 1;
                leaves[at - 1].as_ref().is_none_or(|alone| alone.contains(element))
            })
        };
        candidates.into_iter().filter(loses).collect()
    }

    /// Marks functions that are kept and have one path fewer: something loses them alone now that did not before.
    fn fewer<'c>(&self, base: &Base, state: &State, alone: &Alone, cases: impl Iterator<Item = &'c mut FunctionCase>) {
        let bridged = self.graph.bridged(&self.prepared.laws(&state.point.scenario));
        for case in cases {
            let Some(at) = base.wanted.iter().position(|of| *of == case.function) else { continue };
            let now = self
                .alone_for(&bridged, case.function, &|load| state.point.serves(load) && !state.opens(self.prepared, ElementId::Load(load)));
            if let Some(next) = now.into_iter().find(|element| !alone.functions[at].contains(element)) {
                case.effect = Effect::KeptWithFewer;
                case.reason = Reason::Next(next);
            }
        }
    }
}

fn volts(point: &Point, load: Id<Load>) -> Volt {
    point.load_voltage[load].unwrap_or(Volt(0.0))
}

/// Whether a load holds up for as long as a fault burns.
fn rides(load: &Load, burnt: &Burnt) -> bool {
    load.hold_up.is_some_and(|hold_up| burnt.lasts.is_some_and(|lasts| lasts <= hold_up.value))
}
