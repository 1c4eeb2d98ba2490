//! The sweep over single faults against a plain slow path: the fault laid by its words, every state solved from nothing, devices opened one by
//! one, actions tried one by one, single points found by taking one element after the other away.

use analysis::protection::{Time, device_ambient, trip_time};
use analysis::{Law, Prepared, Silent, Stages, run};
use model::*;
use physics::trip::Side;
use physics::*;
use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use trials::{design, read_folder, root};
use xtask::random::Random;

/// The limits that overloads are held against, as `check` found them.
struct Limits {
    by_table: HashMap<ElementId, f64>,
    warmest: HashMap<Id<Wire>, f64>,
    greatest: Vec<f64>,
}

struct Slow<'s, 'd> {
    prepared: &'s Prepared<'d>,
    design: &'d Design,
    limits: &'s Limits,
    base: &'s Point,
    /// The phase with every load as the resistance that it is.
    held: &'s Point,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Stands {
    effect: Effect,
    intermittent: bool,
    action: Option<Id<Action>>,
}

/// What both ways have to agree on.
#[derive(Debug, PartialEq)]
struct Outcome {
    functions: BTreeMap<String, Stands>,
    opens: Vec<String>,
    announced: &'static str,
    burns_on: bool,
}

fn serves(point: &Point, load: Id<Load>) -> bool {
    point.load_state[load] == LoadState::On && point.load_fed[load] && point.load_voltage[load].is_some()
}

fn settled(point: &Point) -> bool {
    point.islands.iter().all(|island| island.outcome.is_settled())
}

/// Devices that have opened, sorted; how long it burned; the devices in their order.
type Ending = (Vec<Id<Protector>>, Option<f64>, Vec<Id<Protector>>);

/// A state and what differs in it from the phase.
struct After {
    point: Point,
    laws: Vec<Law>,
    held: bool,
    /// Loads that stand as resistances in it.
    resistances: Vec<ElementId>,
}

impl Slow<'_, '_> {
    fn solve(&self, scenario: &Scenario) -> Point {
        self.prepared.point(scenario)
    }

    fn volts(&self, point: &Point, a: End, b: End) -> Option<f64> {
        let (a, b) = (self.prepared.node(a)?, self.prepared.node(b)?);
        let island = point.island_of[a.row()]?;
        let joined = point.island_of[b.row()] == Some(island) && point.islands[island as usize].outcome.is_settled();
        joined.then(|| point.voltage[a.row()] - point.voltage[b.row()])
    }

    fn current(&self, point: &Point, element: ElementId) -> f64 {
        self.prepared.branch_of(element).map_or(0.0, |row| point.current[row])
    }

    fn input(&self, point: &Point, id: Id<Converter>) -> f64 {
        let row = &self.design.converters[id];
        self.volts(point, row.line.value, row.line_return.value).unwrap_or(0.0)
    }

    /// Loads and converters that sag below what they let go at or seven tenths; each with whether it lets go.
    fn sagging(&self, burning: &Point) -> Vec<(ElementId, bool)> {
        let mut found = Vec::new();
        let mut look = |element, now: f64, before: f64, drop_out: Option<Given<Volt>>| {
            let lets_go = drop_out.is_some_and(|v| now < v.value.0);
            if lets_go || now < 0.7 * before {
                found.push((element, lets_go));
            }
        };
        for (id, load) in self.design.loads.iter() {
            if serves(self.base, id) && serves(self.held, id) {
                let volts = |point: &Point| point.load_voltage[id].map_or(0.0, |v| v.0);
                look(ElementId::Load(id), volts(burning), volts(self.base), load.drop_out);
            }
        }
        for (id, converter) in self.design.converters.iter().filter(|(id, _)| self.base.converter_state[*id] == LoadState::On) {
            look(ElementId::Converter(id), self.input(burning, id), self.input(self.base, id), converter.drop_out);
        }
        found
    }

    fn carried(&self, point: &Point) -> Vec<(Id<Protector>, f64)> {
        let all = self.design.protectors.ids().map(|id| (id, self.current(point, ElementId::Protector(id)).abs()));
        all.filter(|(_, a)| *a > 0.02).collect()
    }

    /// Opens devices one by one until nothing feeds the fault: which, when, and whether it ends.
    fn devices(&self, scenario: &Scenario, side: &dyn Fn(Id<Protector>) -> Side) -> (Vec<(Id<Protector>, f64)>, bool) {
        let amperes = |point: &Point| self.prepared.short_currents(point).iter().map(|a| a.abs()).sum::<f64>();
        let mut at = scenario.clone();
        let mut point = self.solve(&at);
        let cleared = f64::max(0.02, 1e-3 * amperes(&point));
        let mut used: HashMap<Id<Protector>, f64> = HashMap::new();
        let (mut opens, mut now) = (Vec::new(), 0.0);
        loop {
            let fault = amperes(&point);
            if !settled(&point) {
                return (opens, false);
            }
            if fault <= cleared {
                return (opens, true);
            }
            let mut times: Vec<(f64, f64, Id<Protector>)> = Vec::new();
            for (id, a) in self.carried(&point) {
                if a < 0.02 * fault || opens.iter().any(|(of, _)| *of == id) {
                    continue;
                }
                let side = side(id);
                if let Time::Opens(t) = trip_time(self.design, id, side, Ampere(a), device_ambient(self.design, scenario.phase, side)) {
                    times.push((t.0 * (1.0 - used.get(&id).copied().unwrap_or(0.0)), t.0, id));
                }
            }
            let Some(&(lasts, _, next)) = times.iter().min_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2))) else {
                return (opens, false);
            };
            for &(_, whole, id) in times.iter().filter(|(_, whole, _)| *whole > 0.0) {
                let share = used.entry(id).or_insert(0.0);
                *share = f64::min(*share + lasts / whole, 1.0);
            }
            now += lasts;
            opens.push((next, now));
            at.opened.push((ElementId::Protector(next), None));
            point = self.solve(&at);
        }
    }

    /// What carries more than before and may open for it, the soonest first, until nothing does.
    fn overloads(&self, scenario: &mut Scenario, opened: &[Id<Protector>]) -> (Point, Vec<Id<Protector>>) {
        let mut more: Vec<Id<Protector>> = Vec::new();
        loop {
            let point = self.solve(scenario);
            let mut next: Option<(f64, Id<Protector>)> = None;
            for id in self.design.protectors.ids() {
                let [now, before] = [&point, self.base].map(|point| self.current(point, ElementId::Protector(id)).abs());
                if opened.contains(&id) || more.contains(&id) || now <= 1.01 * before + 0.02 {
                    continue;
                }
                let ambient = device_ambient(self.design, scenario.phase, Side::Shortest);
                if let Time::Opens(t) = trip_time(self.design, id, Side::Shortest, Ampere(now), ambient)
                    && next.is_none_or(|(least, _)| t.0 < least)
                {
                    next = Some((t.0, id));
                }
            }
            let Some((_, id)) = next else { return (point, more) };
            more.push(id);
            scenario.opened.push((ElementId::Protector(id), None));
        }
    }

    fn conducts(&self, laws: &[Law], row: usize) -> bool {
        use ElementId::*;
        let element = self.prepared.branches()[row].element;
        let passes = !matches!(element, Load(_) | Receiver(_) | Sensor(_) | Excitation(_) | Source(_) | Converter(_));
        passes && matches!(laws[row], Law::Conductance { .. } | Law::Diode { .. })
    }

    /// The elements on some way from a node to any source's terminal, `None` where there is none; without one element.
    fn way(&self, laws: &[Law], from: NodeId, without: Option<ElementId>) -> Option<Vec<ElementId>> {
        let works =
            |element: ElementId| Some(element) != without && self.prepared.branch_of(element).is_some_and(|row| laws[row] != Law::Open);
        let mut came: Vec<Option<(NodeId, ElementId)>> = vec![None; self.prepared.nodes()];
        let mut seen = vec![false; self.prepared.nodes()];
        seen[from.row()] = true;
        let mut next = VecDeque::from([from]);
        while let Some(node) = next.pop_front() {
            for (id, source) in self.design.batteries.iter().filter(|(id, _)| works(ElementId::Source(*id))) {
                if [source.positive.value, source.negative.value].iter().any(|&end| self.prepared.node(end) == Some(node)) {
                    let (mut list, mut at) = (vec![ElementId::Source(id)], node);
                    while let Some((before, element)) = came[at.row()] {
                        list.push(element);
                        at = before;
                    }
                    return Some(list);
                }
            }
            let mut reach = |to: NodeId, element: ElementId, next: &mut VecDeque<NodeId>| {
                if Some(element) != without && !std::mem::replace(&mut seen[to.row()], true) {
                    came[to.row()] = Some((node, element));
                    next.push_back(to);
                }
            };
            for &row in self.prepared.meeting(node) {
                let branch = &self.prepared.branches()[row as usize];
                if self.conducts(laws, row as usize) {
                    reach(if branch.from == node { branch.to } else { branch.from }, branch.element, &mut next);
                }
            }
            for (id, converter) in self.design.converters.iter().filter(|(id, _)| works(ElementId::Converter(*id))) {
                for (a, b) in [(converter.output, converter.line), (converter.output_return, converter.line_return)] {
                    if let (Some(a), Some(b)) = (self.prepared.node(a.value), self.prepared.node(b.value)) {
                        if a == node {
                            reach(b, ElementId::Converter(id), &mut next);
                        } else if b == node {
                            reach(a, ElementId::Converter(id), &mut next);
                        }
                    }
                }
            }
        }
        None
    }

    /// Elements without which a load has no way to a source.
    fn single_points(&self, laws: &[Law], load: Id<Load>) -> Option<BTreeSet<ElementId>> {
        let row = &self.design.loads[load];
        let mut found = BTreeSet::from([ElementId::Load(load)]);
        for end in [row.line.value, row.line_return.value] {
            let node = self.prepared.node(end)?;
            let way = self.way(laws, node, None)?;
            found.extend(way.into_iter().filter(|&element| self.way(laws, node, Some(element)).is_none()));
        }
        Some(found)
    }

    /// What alone loses a function in a state.
    fn alone(&self, function: &Function, laws: &[Law], works: &dyn Fn(Id<Load>) -> bool) -> BTreeSet<ElementId> {
        let mut of: Vec<Option<BTreeSet<ElementId>>> = Vec::new();
        for leaf in function.need.leaves() {
            of.push(match leaf {
                Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => {
                    works(*load).then(|| self.single_points(laws, *load)).flatten()
                }
                Need::One(Given { value: Subject::Element(element), .. }) => Some(BTreeSet::from([*element])),
                _ => Some(BTreeSet::new()),
            });
        }
        let all: BTreeSet<ElementId> = of.iter().flatten().flatten().copied().collect();
        let loses = |element: &ElementId| {
            !holds(&function.need, &mut of.iter().map(|leaf| leaf.as_ref().is_some_and(|alone| !alone.contains(element))))
        };
        all.into_iter().filter(loses).collect()
    }

    /// The elements of a way for a signal; `None` where there is none.
    fn signal(&self, laws: &[Law], ends: [End; 2]) -> Option<BTreeSet<usize>> {
        use ElementId::*;
        let [from, to] = [self.prepared.node(ends[0])?, self.prepared.node(ends[1])?];
        let mut came: HashMap<NodeId, Option<(NodeId, usize)>> = HashMap::from([(from, None)]);
        let mut next = VecDeque::from([from]);
        while let Some(node) = next.pop_front() {
            for &row in self.prepared.meeting(node) {
                let branch = &self.prepared.branches()[row as usize];
                let passes = matches!(branch.element, Wire(_) | Contact(_) | Link(_) | FittedLink(_) | Switch(_) | Protector(_));
                let beyond = if branch.from == node { branch.to } else { branch.from };
                if passes && laws[row as usize] != Law::Open && !came.contains_key(&beyond) {
                    came.insert(beyond, Some((node, row as usize)));
                    next.push_back(beyond);
                }
            }
        }
        let (mut rows, mut at) = (BTreeSet::new(), to);
        while let Some((before, row)) = *came.get(&at)? {
            rows.insert(row);
            at = before;
        }
        Some(rows)
    }

    /// How each leaf of a function stands: effect, and whether a fault that comes and goes upsets it.
    fn leaf(&self, need: &Need, after: &After, burnt: Option<(&Point, f64)>) -> (Effect, bool) {
        let opened = |element| self.prepared.branch_of(element).is_some_and(|row| after.laws[row] == Law::Open);
        match need {
            Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => {
                let row = &self.design.loads[*load];
                if !serves(&after.point, *load) || opened(ElementId::Load(*load)) && !opened_in(self, ElementId::Load(*load)) {
                    let node = self.prepared.node(row.line.value).and_then(|node| after.point.island_of[node.row()]);
                    let unsettled = node.is_some_and(|island| !after.point.islands[island as usize].outcome.is_settled());
                    let known =
                        opened(ElementId::Load(*load)) || after.point.load_state[*load] != LoadState::On || !serves(self.base, *load);
                    return (if unsettled && !known { Effect::NotKnown } else { Effect::Lost }, false);
                }
                let volts = |point: &Point| point.load_voltage[*load].map_or(0.0, |v| v.0);
                let (least, most) =
                    (row.volts_min.unwrap_or(self.design.profile.volts_min), row.volts_max.unwrap_or(self.design.profile.volts_max));
                let within = |v: f64| v >= least.value.0 && v <= most.value.0;
                let (now, before) = (volts(&after.point), volts(self.base));
                let mut effect = Effect::Kept;
                if within(before) && !within(now) {
                    let held = after.held || after.resistances.contains(&ElementId::Load(*load));
                    effect = if held && now < least.value.0 { Effect::Lost } else { Effect::Degraded };
                }
                let mut intermittent = false;
                if let (Some((point, lasts)), Some(drop_out)) = (burnt, row.drop_out) {
                    let behind = serves(self.base, *load) && !serves(self.held, *load);
                    let stops = self.design.converters.iter().any(|(id, converter)| {
                        self.base.converter_state[id] == LoadState::On
                            && converter.drop_out.is_some_and(|v| self.input(point, id) < v.value.0)
                    });
                    let sag = match behind {
                        true if stops => 0.0,
                        true => before,
                        false => volts(point),
                    };
                    if sag < drop_out.value.0 {
                        if row.hold_up.is_some_and(|hold_up| lasts <= hold_up.value.0) {
                            intermittent = true;
                        } else {
                            let above = row.return_above.map_or(drop_out.value.0, |v| v.value.0);
                            let starts = row.restart.volts.is_none_or(|v| now >= v.value.0)
                                && row
                                    .restart
                                    .above
                                    .is_none_or(|t| self.design.phases[self.base.scenario.phase].ambient.low.value.0 >= t.value.0);
                            let again = if now >= above && starts && !row.restart.on_command {
                                Effect::UpsetAlone
                            } else {
                                Effect::UpsetUntilActed
                            };
                            let once = row.restart.can.is_some_and(|can| !can.value);
                            effect = effect.max(if once { Effect::Lost } else { again });
                        }
                    }
                }
                (effect, intermittent)
            }
            Need::One(Given { value: Subject::Element(ElementId::Sensor(sensor)), .. }) => {
                let row = &self.design.sensors[*sensor];
                let reads = |point: &Point| row.receiver.and_then(|receiver| point.receiver_voltage[receiver.value]).map(|v| v.0);
                let (Some(before), Some(now)) = (reads(self.base), reads(&after.point)) else { return (Effect::Lost, false) };
                let allowed = row.allowance.map_or(f64::INFINITY, |share| (row.law.span().0 * share.value.0).abs());
                // Taken away where loads are held is no fault of its own.
                let lost = (now - before).abs() > allowed
                    || opened(ElementId::Sensor(*sensor)) && !opened_in(self, ElementId::Sensor(*sensor)) && !after.held;
                (if lost { Effect::Lost } else { Effect::Kept }, false)
            }
            Need::Path(ends) => {
                let before = self.signal(&self.prepared.laws(&self.base.scenario), ends.value);
                let Some(before) = before else { return (Effect::Lost, false) };
                let nodes: BTreeSet<NodeId> =
                    before.iter().flat_map(|&row| [self.prepared.branches()[row].from, self.prepared.branches()[row].to]).collect();
                let touched = |place: Place| match place {
                    Place::End(end) => self.prepared.node(end).is_some_and(|node| nodes.contains(&node)),
                    Place::Along(element, _) => self.prepared.branch_of(element).is_some_and(|row| before.contains(&row)),
                    Place::Structure => false,
                };
                let shorted = after.point.scenario.shorts.iter().any(|&(a, b, _)| touched(a) || touched(b));
                let cut =
                    shorted || before.iter().any(|&row| after.laws[row] == Law::Open) && self.signal(&after.laws, ends.value).is_none();
                (if cut { Effect::Lost } else { Effect::Kept }, false)
            }
            _ => panic!("a need names a load, a sensor or a way"),
        }
    }

    /// Whether something on the way of a load of the function carries more than it may, and more than without a fault.
    fn overloaded(&self, function: &Function, after: &After) -> bool {
        let over: Vec<ElementId> = self
            .prepared
            .branches()
            .iter()
            .enumerate()
            .filter(|(row, branch)| {
                let current = after.point.current[*row].abs();
                if current <= 1.001 * self.limits.greatest[*row] + 1e-3 {
                    return false;
                }
                let table = self.limits.by_table.get(&branch.element).copied();
                let heat = match branch.element {
                    ElementId::Wire(wire) if table.is_none_or(|limit| current > 0.5 * limit) => {
                        self.limits.warmest.get(&wire).and_then(|limit| {
                            let margin = self.design.profile.bundle_heat_margin.map_or(0.0, |margin| margin.value.0);
                            let segments = self.prepared.segments_of(wire).to_vec();
                            let of = |segment: Id<Segment>| {
                                self.prepared.heat_allowed(self.base, segment, wire, Kelvin(limit + 273.15 - margin))
                            };
                            segments.into_iter().filter_map(of).map(|a| a.0).min_by(f64::total_cmp)
                        })
                    }
                    _ => None,
                };
                [table, heat].into_iter().flatten().any(|limit| current > limit)
            })
            .map(|(_, branch)| branch.element)
            .collect();
        if over.is_empty() {
            return false;
        }
        function.needs.iter().any(|need| match need.value {
            Subject::Element(load @ ElementId::Load(id)) if serves(&after.point, id) => {
                let ladder = self.prepared.trace(&after.point, load);
                ladder.feed.iter().chain(&ladder.back).any(|step| over.contains(&step.element))
            }
            _ => false,
        })
    }

    fn functions(&self, wanted: &[Id<Function>], after: &After, burnt: Option<(&Point, f64)>) -> BTreeMap<Id<Function>, Stands> {
        let base_laws = self.prepared.laws(&self.base.scenario);
        let mut found = BTreeMap::new();
        for &id in wanted {
            let function = &self.design.functions[id];
            let leaves: Vec<(Effect, bool)> = function.need.leaves().into_iter().map(|leaf| self.leaf(leaf, after, burnt)).collect();
            // The least effect that enough of the leaves keep to.
            let mut effect = *Effect::ALL
                .iter()
                .find(|&&worst| holds(&function.need, &mut leaves.iter().map(|leaf| leaf.0 <= worst)))
                .expect("all leaves are no worse than the worst");
            let steady = holds(&function.need, &mut leaves.iter().map(|&(effect, upset)| !upset && effect <= Effect::Degraded));
            let intermittent = !steady && effect <= Effect::Degraded;
            if effect < Effect::Degraded && self.overloaded(function, after) {
                effect = Effect::Degraded;
            }
            if effect == Effect::Kept {
                let now = self.alone(function, &after.laws, &|load| {
                    serves(&after.point, load)
                        && self
                            .prepared
                            .branch_of(ElementId::Load(load))
                            .is_some_and(|row| after.laws[row] != Law::Open || base_laws[row] == Law::Open)
                });
                let before = self.alone(function, &base_laws, &|load| serves(self.base, load));
                if !now.is_subset(&before) {
                    effect = Effect::KeptWithFewer;
                }
            }
            found.insert(id, Stands { effect, intermittent, action: None });
        }
        found
    }

    fn announced(&self, after: &After) -> &'static str {
        let base_laws = self.prepared.laws(&self.base.scenario);
        for (_, monitor) in self
            .design
            .monitors
            .iter()
            .filter(|(_, m)| !m.ground && (m.phases.is_empty() || m.phases.iter().any(|p| p.value == self.base.scenario.phase)))
        {
            let alive = |load: Id<Load>| {
                let row = self.prepared.branch_of(ElementId::Load(load)).expect("a load is a branch");
                serves(&after.point, load) && (after.laws[row] != Law::Open || base_laws[row] == Law::Open)
            };
            if monitor.read_by.is_some_and(|load| !alive(load.value)) {
                continue;
            }
            let moved = match monitor.watches.value {
                Watched::Voltage(_, [a, b]) => self.volts(&after.point, a, b).unwrap_or(0.0) - self.volts(self.base, a, b).unwrap_or(0.0),
                Watched::Current(element) => self.current(&after.point, element) - self.current(self.base, element),
                Watched::Reading(_, receiver) => {
                    let reads = |point: &Point| point.receiver_voltage[receiver].map_or(0.0, |v| v.0);
                    reads(&after.point) - reads(self.base)
                }
                Watched::State(ElementId::Load(load)) => {
                    if serves(self.base, load) != alive(load) {
                        return "announced";
                    }
                    continue;
                }
                Watched::State(element) => {
                    let row = self.prepared.branch_of(element).expect("a device is a branch");
                    if (base_laws[row] == Law::Open) != (after.laws[row] == Law::Open) {
                        return "announced";
                    }
                    continue;
                }
            };
            if monitor.threshold.is_some_and(|threshold| moved.abs() >= threshold.value) {
                return "announced";
            }
        }
        "latent"
    }

    /// The whole of one case.
    fn case(&self, wanted: &[Id<Function>], laid: &Scenario) -> Outcome {
        let unchanged = laid.shorts.is_empty() && self.prepared.laws(laid) == self.prepared.laws(&self.base.scenario);
        let nothing = Outcome { functions: BTreeMap::new(), opens: Vec::new(), announced: "latent", burns_on: false };
        if unchanged {
            return nothing;
        }
        // While it burns.
        let mut burning: Option<(Point, bool, Scenario)> = None;
        let mut ends: Vec<Ending> = Vec::new();
        if !laid.shorts.is_empty() {
            let mut held = self.held.scenario.clone();
            held.opened.extend(laid.opened.iter().filter(|one| !self.base.scenario.opened.contains(one)).copied());
            held.shorts.clone_from(&laid.shorts);
            let point = self.solve(&held);
            let is_held = !settled(&point) || !self.sagging(&point).is_empty();
            let (point, at) = if is_held { (point, held) } else { (self.solve(laid), laid.clone()) };
            let amperes: f64 = self.prepared.short_currents(&point).iter().map(|a| a.abs()).sum();
            if amperes > 0.1 {
                let mut sides: Vec<Vec<Id<Protector>>> = Vec::new();
                // Who may be first: its shortest time is no longer than the longest of any.
                let carrying: Vec<(Id<Protector>, f64)> = self.carried(&point).into_iter().filter(|(_, a)| *a >= 0.02 * amperes).collect();
                let time = |id, a, side| match trip_time(self.design, id, side, Ampere(a), device_ambient(self.design, laid.phase, side)) {
                    Time::Opens(t) => t.0,
                    _ => f64::INFINITY,
                };
                let soonest = carrying.iter().map(|&(id, a)| time(id, a, Side::Longest)).fold(f64::INFINITY, f64::min);
                let first: Vec<Id<Protector>> = carrying
                    .iter()
                    .filter(|&&(id, a)| time(id, a, Side::Shortest) <= soonest && time(id, a, Side::Shortest).is_finite())
                    .map(|of| of.0)
                    .collect();
                let all: Vec<Id<Protector>> = self.design.protectors.ids().collect();
                sides.push(Vec::new());
                sides.push(all);
                if first.len() > 1 {
                    sides.extend(first.into_iter().take(4).map(|id| vec![id]));
                }
                for short in sides {
                    let (opens, clears) = self.devices(&at, &|id| if short.contains(&id) { Side::Shortest } else { Side::Longest });
                    let lasts = clears.then(|| opens.last().map_or(0.0, |of| of.1));
                    let order: Vec<Id<Protector>> = opens.iter().map(|of| of.0).collect();
                    let mut set = order.clone();
                    set.sort_unstable();
                    match ends.iter_mut().find(|(known, ..)| *known == set) {
                        Some((_, known, _)) => *known = known.zip(lasts).map(|(a, b)| a.max(b)),
                        None => ends.push((set, lasts, order)),
                    }
                }
            }
            burning = Some((point, is_held, at));
        }
        let has_devices = !ends.is_empty();
        if ends.is_empty() {
            ends.push((Vec::new(), None, Vec::new()));
        }
        let mut whole: Option<(BTreeMap<Id<Function>, Stands>, Outcome)> = None;
        for (set, lasts, order) in ends {
            let with = |scenario: &Scenario| {
                let mut scenario = scenario.clone();
                scenario.opened.extend(set.iter().map(|&id| (ElementId::Protector(id), None)));
                scenario
            };
            let goes_on = burning.as_ref().filter(|(_, held, _)| *held && lasts.is_none());
            let mut scenario = with(laid);
            let (mut held, mut resistances) = (false, Vec::new());
            if let Some((_, _, at)) = goes_on {
                let all_held = self.solve(&with(at));
                for (element, lets_go) in self.sagging(&all_held) {
                    match at.held.iter().find(|(of, _)| *of == element).filter(|_| !lets_go) {
                        Some(&(_, ohms)) => {
                            scenario.held.push((element, ohms));
                            resistances.push(element);
                        }
                        None => scenario.opened.push((element, None)),
                    }
                }
                if !settled(&self.solve(&scenario)) {
                    held = true;
                    scenario = with(at);
                }
            }
            let (point, more) = self.overloads(&mut scenario, &set);
            let after = After { laws: self.prepared.laws(&point.scenario), point, held, resistances };
            let burnt = burning.as_ref().and_then(|(point, ..)| Some((point, lasts?)));
            let mut functions = self.functions(wanted, &after, burnt);
            for who in [Actor::Automatic, Actor::Operator] {
                for (id, action) in self.design.actions.iter().filter(|(_, action)| action.who == who) {
                    let permitted = action.phases.is_empty() || action.phases.iter().any(|phase| phase.value == laid.phase);
                    let lost: Vec<Id<Function>> =
                        functions.iter().filter(|(_, stands)| stands.effect == Effect::Lost).map(|(id, _)| *id).collect();
                    if !permitted || lost.is_empty() {
                        continue;
                    }
                    let mut scenario = after.point.scenario.clone();
                    scenario.switches.extend(action.states.iter().map(|given| given.value));
                    if self.prepared.laws(&scenario) == after.laws {
                        continue;
                    }
                    let (point, _) = self.overloads(&mut scenario, &[]);
                    let acted = After {
                        laws: self.prepared.laws(&point.scenario),
                        point,
                        held: after.held,
                        resistances: after.resistances.clone(),
                    };
                    for (function, stands) in self.functions(&lost, &acted, burnt) {
                        if stands.effect < Effect::Lost {
                            functions.insert(function, Stands { effect: Effect::Restored, action: Some(id), ..stands });
                        }
                    }
                }
            }
            let announced = self.announced(&after);
            let names = |id: &Id<Protector>| self.design.protectors[*id].name.to_string();
            match &mut whole {
                None => {
                    let opens = order.iter().chain(&more).map(names).collect();
                    let burns_on = has_devices && lasts.is_none();
                    whole = Some((functions, Outcome { functions: BTreeMap::new(), opens, announced, burns_on }));
                }
                Some((known, outcome)) => {
                    for (id, stands) in functions {
                        known.entry(id).and_modify(|of| *of = if stands.effect > of.effect { stands } else { *of }).or_insert(stands);
                    }
                    if announced == "latent" {
                        outcome.announced = announced;
                    }
                    outcome.burns_on |= lasts.is_none();
                }
            }
        }
        let (functions, mut outcome) = whole.expect("there is one end at least");
        let told = functions.into_iter().filter(|(_, stands)| stands.effect != Effect::Kept || stands.intermittent);
        outcome.functions = told.map(|(id, stands)| (self.design.functions[id].name.to_string(), stands)).collect();
        outcome
    }
}

/// Whether a load or sensor is open in the phase itself.
fn opened_in(slow: &Slow, element: ElementId) -> bool {
    slow.prepared.branch_of(element).is_some_and(|row| slow.prepared.laws(&slow.base.scenario)[row] == Law::Open)
}

/// Whether a need holds, by which of its leaves do, in order.
fn holds(need: &Need, leaves: &mut dyn Iterator<Item = bool>) -> bool {
    match need {
        Need::One(_) | Need::Path(_) => leaves.next().expect("a leaf for every leaf"),
        Need::All(list) => list.iter().map(|need| holds(need, leaves)).filter(|holds| !holds).count() == 0,
        Need::AtLeast(least, list) => list.iter().map(|need| holds(need, leaves)).filter(|holds| *holds).count() >= *least as usize,
    }
}

/// Three hundred seeded cases: verdicts, devices, actions and announcements are those of the slow path.
#[test]
fn three_hundred_cases_are_those_of_the_slow_path() {
    let design = design(&read_folder(&root().join("examples/gannet-mended")));
    let study = run(&design, Stages::CHECK, &Silent).expect("nobody cancelled");
    let prepared = &study.prepared;
    let case = rules::Case { design: &design, prepared, today: None };
    let verdict = rules::judge_study(&case, &study);
    let mut limits = Limits { by_table: HashMap::new(), warmest: HashMap::new(), greatest: vec![0.0; prepared.branches().len()] };
    for margin in &verdict.margins {
        match (margin.rule.0, margin.subject) {
            ("AM-01" | "CT-01" | "SW-01", Subject::Element(element)) => drop(limits.by_table.insert(element, margin.limit)),
            ("HT-01", Subject::Element(ElementId::Wire(wire))) => drop(limits.warmest.insert(wire, margin.limit)),
            _ => {}
        }
    }
    for point in &study.points {
        limits.greatest.iter_mut().zip(&point.current).for_each(|(most, a)| *most = most.max(a.abs()));
    }
    let low: Vec<&Point> = study.points.iter().filter(|point| point.scenario.corner == Corner::Low).collect();
    let held: Vec<Point> = low
        .iter()
        .map(|point| {
            let mut scenario = point.scenario.clone();
            let stand = |element: ElementId, volts: f64, scenario: &mut Scenario| {
                let amperes = point.current[prepared.branch_of(element).expect("it is a branch")];
                match volts > 0.0 && amperes > 0.0 {
                    true => scenario.held.push((element, Ohm(volts / amperes))),
                    false => scenario.opened.push((element, None)),
                }
            };
            for (id, load) in design.loads.iter().filter(|(id, _)| point.load_state[*id] != LoadState::Off) {
                if load.drop_out.is_some() || !matches!(load.demand, Some(Demand::Resistance(_))) {
                    stand(ElementId::Load(id), point.load_voltage[id].map_or(0.0, |v| v.0), &mut scenario);
                }
            }
            for (id, row) in design.converters.iter().filter(|(id, _)| point.converter_state[*id] != LoadState::Off) {
                let node = |end: Given<End>| prepared.node(end.value).map_or(0.0, |node| point.voltage[node.row()]);
                stand(ElementId::Converter(id), node(row.line) - node(row.line_return), &mut scenario);
            }
            let loops = design.sensors.iter().filter(|(_, sensor)| matches!(sensor.law, SensorLaw::CurrentLoop { .. }));
            scenario.opened.extend(loops.map(|(id, _)| (ElementId::Sensor(id), None)));
            prepared.point(&scenario)
        })
        .collect();
    let ohms = |text: &str| match text.strip_suffix("ohm").and_then(|text| text.parse().ok()) {
        Some(ohms) => Ok(decide::Amount::Resistance(Ohm(ohms))),
        None => Err(format!("{text} is no resistance")),
    };
    let names = decide::Names::new(&design);
    decide::with_sweep(prepared, &study.points, &verdict, |sweep| {
        let faults = &sweep.catalogue().faults;
        // As many of each kind as of the others, so that pins do not crowd out the rest.
        let kinds: Vec<FaultKind> = FaultKind::ALL.into_iter().filter(|kind| faults.iter().any(|fault| fault.kind == *kind)).collect();
        let mut dice = Random::new(20_261_126);
        let (mut told, mut wrong) = (BTreeMap::<&str, usize>::new(), Vec::new());
        for round in 0..300 {
            let kind = kinds[round % kinds.len()];
            let of_kind: Vec<usize> = (0..faults.len()).filter(|&at| faults[at].kind == kind).collect();
            let fault = of_kind[dice.below(of_kind.len())];
            let at = dice.below(low.len());
            let (base, phase) = (low[at], low[at].scenario.phase);
            let table = sweep.run_in(&[fault], &[phase]);
            let fast = &table.rows[0].phases[0];
            let wanted = &table.wanted.iter().find(|(of, _)| *of == phase).expect("every phase is there").1;
            let id = decide::fault_id(prepared, &faults[fault]);
            let laid = decide::change(prepared, &names, base.scenario.clone(), &decide::read_id(&id).expect("an id"), &ohms)
                .expect("an id reads back");
            let slow = Slow { prepared, design: &design, limits: &limits, base, held: &held[at] };
            let expected = slow.case(wanted, &laid);
            let action = |case: &FunctionCase| match case.reason {
                Reason::Action(action) => Some(action),
                _ => None,
            };
            let functions = fast.functions.iter().map(|case| {
                let stands = Stands { effect: case.effect, intermittent: case.intermittent.is_some(), action: action(case) };
                (design.functions[case.function].name.to_string(), stands)
            });
            let found = Outcome {
                functions: functions.collect(),
                opens: fast.opens.iter().map(|&(device, ..)| design.protectors[device].name.to_string()).collect(),
                announced: if matches!(fast.announced, Announced::By(..)) { "announced" } else { "latent" },
                burns_on: fast.burns_on,
            };
            for stands in expected.functions.values() {
                *told.entry(stands.effect.word()).or_default() += 1;
            }
            if found != expected {
                wrong.push(format!("{id} in {}:\n  swept {found:?}\n  slow  {expected:?}", design.phases[phase].name));
            }
        }
        println!("{told:?}");
        assert!(wrong.is_empty(), "{} of 300 differ:\n{}", wrong.len(), wrong.join("\n"));
        for word in ["kept-one-path-fewer", "upset-recovers", "restored", "lost"] {
            assert!(told.contains_key(word), "no case comes to {word}: {told:?}");
        }
    });
}
