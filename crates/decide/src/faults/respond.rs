//! One fault in one phase: what it does while it burns, what devices do about it, what is left, and what can be done.

use super::stand::{Burnt, State};
use super::{Rooms, Site, Start, Sweep};
use analysis::Prepared;
use analysis::protection::{Flow, Time, device_ambient, sequence, trip_time};
use model::*;
use physics::trip::Side;
use physics::*;
use std::collections::HashMap;

/// Current below which a fault is not fed, and what may leak in a device, A: as for the faults of fed wires.
const NOTHING: f64 = 0.1;
const LEAKS: f64 = 0.02;
/// Share of a fault's current from which on a device counts as carrying it.
const CARRIES: f64 = 0.02;
/// Share by which a device carries more than before from which on it may open for it.
const MORE: f64 = 0.01;
/// Share of the voltage without the fault below which a load that draws a fixed power is no longer followed by its law.
const SAG: f64 = 0.7;
/// Orders of devices that are followed beside the soonest and the latest.
const ORDERS: usize = 4;

/// Devices that open on a fault, and how that ends.
#[derive(Clone)]
struct Course {
    opened: Vec<Id<Protector>>,
    clearing: Clearing,
}

/// A state in which a fault burns, and what is known of it with devices open.
struct Fire {
    held: bool,
    scenario: Scenario,
    burning: Point,
    known: HashMap<Vec<Id<Protector>>, Point>,
}

/// Everything that is known of one case.
pub struct Told {
    /// The verdicts.
    pub case: PhaseCase,
    /// The test on the ground that finds it, in this phase.
    pub ground: Option<Id<Monitor>>,
    /// The state without the fault.
    pub before: Point,
    /// While it burns; `None` of what needs no device.
    pub burning: Option<Point>,
    /// The state that is left, the worst one.
    pub after: Point,
    /// How it ends in the longest case.
    pub latest: Option<Clearing>,
    /// States with an action, by function that it brings back.
    pub with_action: Vec<(Id<Function>, Id<Action>, Point)>,
}

/// A state that a fault leaves, by one of the orders in which devices may open.
pub(super) struct End {
    pub(super) state: State,
    /// Devices that open on it, and those that then open for overload.
    set: Vec<Id<Protector>>,
    cascade: Vec<(Id<Protector>, Second)>,
    /// How long it burns; for good where there is none.
    lasts: Option<Second>,
}

/// What comes of a fault, before anybody acts.
pub(super) struct Ended {
    fire: Option<Fire>,
    courses: Vec<Course>,
    /// The longest time that it takes the first device to open.
    first: Option<Second>,
    pub(super) ends: Vec<End>,
}

impl Ended {
    /// What burns before one of its ends.
    pub(super) fn burnt(&self, end: &End) -> Option<Burnt<'_>> {
        let fire = self.fire.as_ref().filter(|_| end.lasts.is_some())?;
        Some(Burnt { point: &fire.burning, lasts: end.lasts, first: self.first })
    }

    /// Every device that opens in one order or another; `None` where what some device does is not known.
    pub(super) fn opening(&self) -> Option<Vec<Id<Protector>>> {
        let is_known = self.courses.iter().all(|course| !matches!(course.clearing.end, Ends::NotKnown(_)));
        let all = self.ends.iter().flat_map(|end| end.set.iter().copied().chain(end.cascade.iter().map(|&(device, _)| device)));
        is_known.then(|| all.collect())
    }

    /// Whether nothing burns, so that what is left follows from the change alone.
    pub(super) fn is_quiet(&self) -> bool {
        self.fire.is_none()
    }
}

impl Sweep<'_, '_> {
    /// A fault in a phase, and the test on the ground that finds it there.
    pub(super) fn case(&self, fault: usize, at: usize, rooms: &mut Rooms) -> (PhaseCase, Option<Id<Monitor>>) {
        let phase = self.bases[at].phase();
        match self.told(fault, at, rooms, false) {
            Some(told) => (told.case, told.ground),
            None => {
                self.unchanged.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                let functions = Vec::new();
                (PhaseCase { phase, announced: Announced::Latent, opens: Vec::new(), burns_on: false, functions }, None)
            }
        }
    }

    /// One case in full; `None` where the fault changes nothing in its phase, or the phase is unknown.
    pub fn tell(&self, fault: usize, phase: Id<Phase>) -> Option<Told> {
        let at = self.bases.iter().position(|base| base.phase() == phase)?;
        self.told(fault, at, &mut [None, None], true)
    }

    fn told(&self, fault: usize, at: usize, rooms: &mut Rooms, in_full: bool) -> Option<Told> {
        let base = &self.bases[at];
        let site = base.site();
        let mut ended = self.ends(fault, site, rooms)?;
        let latest = ended.courses.first().map(|course| course.clearing.clone());
        let mut whole: Option<Told> = None;
        for end in std::mem::take(&mut ended.ends) {
            let burnt = ended.burnt(&end);
            let mut functions = self.functions(site, &end.state, burnt.as_ref());
            let with_action = self.act(site, &end.state, &mut functions, burnt.as_ref(), rooms, in_full);
            let (announced, ground) = self.announced(base, &end.state);
            functions.retain(|case| case.effect != Effect::Kept || case.intermittent.is_some());
            match &mut whole {
                None => {
                    let opens = self.opens(&ended.courses, &end.set, &end.cascade);
                    let burns_on = ended.fire.is_some() && end.lasts.is_none() && !ended.courses.is_empty();
                    let case = PhaseCase { phase: base.phase(), announced, opens, burns_on, functions };
                    whole = Some(Told {
                        case,
                        ground,
                        before: base.start.point.clone(),
                        burning: None,
                        after: end.state.point,
                        latest: latest.clone(),
                        with_action,
                    });
                }
                // Of several orders the worse counts, for each function and for what tells of it.
                Some(known) => {
                    worst_of_both(&mut known.case.functions, functions);
                    if announced == Announced::Latent {
                        known.case.announced = announced;
                    }
                    known.ground = known.ground.filter(|_| ground.is_some());
                    known.case.burns_on |= end.lasts.is_none();
                }
            }
        }
        let mut told = whole?;
        told.burning = ended.fire.map(|fire| fire.burning);
        Some(told)
    }

    /// What comes of a fault before anybody acts; `None` where it changes nothing in the state that it strikes.
    pub(super) fn ends(&self, fault: usize, site: Site, rooms: &mut Rooms) -> Option<Ended> {
        let start = site.start;
        let mut scenario = start.point.scenario.clone();
        self.prepared.lay(&self.catalogue.faults[fault], &mut scenario);
        let lays_short = scenario.shorts.len() > start.point.scenario.shorts.len();
        if !lays_short && start.near.change(&scenario).is_ok_and(|change| change == analysis::Change::default()) {
            return None;
        }
        if let Some(point) = self.without_effect(start, &scenario, rooms) {
            let state = self.state(site, Point { scenario, ..point }, false);
            let end = End { state, set: Vec::new(), cascade: Vec::new(), lasts: None };
            return Some(Ended { fire: None, courses: Vec::new(), first: None, ends: vec![end] });
        }
        // What a first fault still draws has come to rest with its devices: what then carries more opens for overload.
        let mut fire = lays_short.then(|| self.burn(site, fault, &scenario, rooms));
        let courses = match &mut fire {
            Some(fire) => self.courses(site, fire, rooms),
            None => Vec::new(),
        };
        // What a device leaves: states that differ only in the order of their devices are one.
        let mut sets: Vec<(Vec<Id<Protector>>, Option<Second>)> = Vec::new();
        for course in &courses {
            let lasts = match course.clearing.end {
                Ends::Cleared(t) => Some(t),
                _ => None,
            };
            match sets.iter_mut().find(|(set, _)| *set == course.opened) {
                // The longest burning counts.
                Some((_, known)) => *known = known.zip(lasts).map(|(a, b)| if b > a { b } else { a }),
                None => sets.push((course.opened.clone(), lasts)),
            }
        }
        if sets.is_empty() {
            sets.push((Vec::new(), None));
        }
        let times = courses.iter().filter_map(|course| course.clearing.opens.first()).map(|&(t, _)| t);
        let first = times.reduce(|a, b| if b > a { b } else { a });
        let mut ends = Vec::new();
        for (set, lasts) in sets {
            let (state, cascade) = self.left(site, fire.as_ref(), (&scenario, &set), lasts, rooms);
            ends.push(End { state, set, cascade, lasts });
        }
        Some(Ended { fire, courses, first, ends })
    }

    /// The state that a short leaves which joins something to a part that no source drives and that nothing hangs on: no current flows through it.
    fn without_effect(&self, start: &Start, scenario: &Scenario, rooms: &mut Rooms) -> Option<Point> {
        let known = &start.point.scenario.shorts;
        let [(a, b, _)] = scenario.shorts[known.len()..] else { return None };
        let [a, b] = [a, b].map(|place| match place {
            Place::End(end) => self.prepared.node(end),
            Place::Structure => self.prepared.structure(),
            Place::Along(..) => None,
        });
        let (a, b) = (a?, b?);
        let bare = Scenario { shorts: known.clone(), ..scenario.clone() };
        let opened;
        let point = match bare == start.point.scenario {
            true => start.point,
            false => {
                opened = self.settle(start, false, &bare, rooms);
                &opened
            }
        };
        let island = |node: NodeId| point.island_of[node.row()];
        let is_apart = island(a).is_none() || island(a) != island(b);
        (is_apart && (self.is_inert(point, a) || self.is_inert(point, b))).then(|| point.clone())
    }

    /// Whether no source drives the part that a node lies in, and nothing but conductors lands there.
    fn is_inert(&self, point: &Point, node: NodeId) -> bool {
        use ElementId::*;
        let active =
            |row: usize| matches!(self.prepared.branches()[row].element, Load(_) | Converter(_) | Diode(_) | Source(_) | Excitation(_));
        match point.island_of[node.row()] {
            None => !self.prepared.meeting(node).iter().any(|&row| active(row as usize)),
            Some(island) if point.islands[island as usize].driven => false,
            Some(island) => {
                let lies = |node: NodeId| point.island_of[node.row()] == Some(island);
                !self.prepared.branches().iter().enumerate().any(|(row, branch)| active(row) && (lies(branch.from) || lies(branch.to)))
            }
        }
    }

    /// The state in which a fault burns. Loads stand as the resistances that they are without it where any of them sags much or lets go: what draws a fixed
    /// power has no state at a volt or two. Else each follows its own law.
    fn burn(&self, site: Site, fault: usize, scenario: &Scenario, rooms: &mut Rooms) -> Fire {
        let start = site.start;
        let mut held = start.held.scenario.clone();
        self.prepared.lay(&self.catalogue.faults[fault], &mut held);
        let burning = self.settle(start, true, &held, rooms);
        if !is_settled(&burning) || !self.sagging(start, &burning).is_empty() {
            return Fire { held: true, scenario: held, burning, known: HashMap::new() };
        }
        let burning = self.settle(start, false, scenario, rooms);
        Fire { held: false, scenario: scenario.clone(), burning, known: HashMap::new() }
    }

    /// Loads and converters that sag much, or let go, in a state with loads held; each with whether it lets go.
    fn sagging(&self, start: &Start, burning: &Point) -> Vec<(ElementId, bool)> {
        let low = |now: f64, before: f64, drop_out: Option<Given<Volt>>| {
            let lets_go = drop_out.is_some_and(|drop_out| now < drop_out.value.0);
            (lets_go || now < SAG * before).then_some(lets_go)
        };
        let loads = self.design.loads.iter().filter(|(id, _)| start.point.serves(*id) && !start.behind.contains(id));
        let loads = loads.filter_map(|(id, load)| {
            let volts = |point: &Point| point.load_voltage[id].map_or(0.0, |v| v.0);
            Some((ElementId::Load(id), low(volts(burning), volts(start.point), load.drop_out)?))
        });
        let works = |id: &Id<Converter>| start.point.converter_state[*id] == LoadState::On;
        let converters = self.design.converters.iter().filter(|(id, _)| works(id));
        let converters = converters.filter_map(|(id, converter)| {
            let volts = |point: &Point| input(self.prepared, point, id);
            Some((ElementId::Converter(id), low(volts(burning), volts(start.point), converter.drop_out)?))
        });
        loads.chain(converters).collect()
    }

    /// A state in which a fault burns on, for good: what lets go has let go, what sags much stays the resistance that it was, and all else follows its law.
    fn burning_on(&self, start: &Start, fire: &Fire, scenario: &Scenario, held: &Point) -> Scenario {
        let mut scenario = scenario.clone();
        for (element, lets_go) in self.sagging(start, held) {
            let ohms = fire.scenario.held.iter().find(|(of, _)| *of == element).map(|&(_, ohms)| ohms);
            match ohms.filter(|_| !lets_go) {
                Some(ohms) => scenario.held.push((element, ohms)),
                None => scenario.opened.push((element, None)),
            }
        }
        scenario
    }

    fn flow(&self, point: &Point) -> Flow {
        let carried = |id: Id<Protector>| {
            let row = self.prepared.branch_of(ElementId::Protector(id))?;
            let may_open = !is_stuck_closed(&point.scenario, id);
            Some((id, point.current[row].abs())).filter(|&(_, current)| may_open && current > LEAKS)
        };
        self.design.protectors.ids().filter_map(carried).collect()
    }

    /// What devices do about a fault: in the longest case, in the shortest, and with each that may open first.
    fn courses(&self, site: Site, fire: &mut Fire, rooms: &mut Rooms) -> Vec<Course> {
        let (design, start) = (self.design, site.start);
        let phase = site.base.phase();
        // What a first fault still draws is no part of a second one.
        let before = start.point.scenario.shorts.len();
        let whole = |point: &Point| self.prepared.short_currents(point).iter().skip(before).map(|a| a.abs()).sum::<f64>();
        let first = (whole(&fire.burning), self.flow(&fire.burning));
        if first.0 <= NOTHING {
            return Vec::new();
        }
        let mut follow = |side: &dyn Fn(Id<Protector>) -> Side| {
            let clearing = sequence(design, phase, side, (first.0, &first.1), &mut |opened| {
                let mut set = opened.to_vec();
                set.sort_unstable();
                if !fire.known.contains_key(&set) {
                    let mut scenario = fire.scenario.clone();
                    scenario.opened.extend(set.iter().map(|&device| (ElementId::Protector(device), None)));
                    fire.known.insert(set.clone(), self.settle(start, fire.held, &scenario, rooms));
                }
                let point = &fire.known[&set];
                is_settled(point).then(|| (whole(point), self.flow(point)))
            });
            let mut opened: Vec<Id<Protector>> = clearing.opens.iter().map(|&(_, device)| device).collect();
            opened.sort_unstable();
            if let Ends::NotKnown(device) = clearing.end {
                self.lacks(ElementId::Protector(device), "device");
            }
            Course { opened, clearing }
        };
        let mut courses = vec![follow(&|_| Side::Longest), follow(&|_| Side::Shortest)];
        let time = |id: Id<Protector>, current: f64, side: Side| match trip_time(
            design,
            id,
            side,
            Ampere(current),
            device_ambient(design, phase, side),
        ) {
            Time::Opens(t) => Some(t.0),
            _ => None,
        };
        let carrying: Vec<(Id<Protector>, f64)> = first.1.iter().copied().filter(|&(_, current)| current >= CARRIES * first.0).collect();
        let soonest = carrying.iter().filter_map(|&(id, current)| time(id, current, Side::Longest)).fold(f64::INFINITY, f64::min);
        let may_be_first = |&(id, current): &(Id<Protector>, f64)| time(id, current, Side::Shortest).is_some_and(|t| t <= soonest);
        let leaders: Vec<Id<Protector>> = carrying.iter().filter(|of| may_be_first(of)).map(|&(id, _)| id).collect();
        if leaders.len() > 1 {
            for &leader in leaders.iter().take(ORDERS) {
                courses.push(follow(&|id| if id == leader { Side::Shortest } else { Side::Longest }));
            }
        }
        courses
    }

    /// What is left once devices have opened, with what then opens for overload.
    fn left(
        &self,
        site: Site,
        fire: Option<&Fire>,
        (scenario, set): (&Scenario, &[Id<Protector>]),
        lasts: Option<Second>,
        rooms: &mut Rooms,
    ) -> (State, Vec<(Id<Protector>, Second)>) {
        let with = |scenario: &Scenario, more: &[Id<Protector>]| {
            let mut scenario = scenario.clone();
            scenario.opened.extend(more.iter().map(|&device| (ElementId::Protector(device), None)));
            scenario
        };
        let start = site.start;
        let burns_on = fire.filter(|fire| fire.held && lasts.is_none());
        let mut held = false;
        let mut opened = with(scenario, set);
        let mut point = match (burns_on, fire) {
            (Some(fire), _) => {
                let known = if set.is_empty() { Some(&fire.burning) } else { fire.known.get(set) };
                let kept;
                let all_held = match known {
                    Some(point) => point,
                    None => {
                        kept = self.settle(start, true, &with(&fire.scenario, set), rooms);
                        &kept
                    }
                };
                opened = self.burning_on(start, fire, &opened, all_held);
                let point = self.settle(start, false, &opened, rooms);
                if is_settled(&point) {
                    point
                } else {
                    held = true;
                    opened = with(&fire.scenario, set);
                    all_held.clone()
                }
            }
            (None, Some(fire)) if set.is_empty() && !fire.held => fire.burning.clone(),
            _ => self.settle(start, false, &opened, rooms),
        };
        let cascade = self.cascade(site, held, &mut opened, &mut point, set, rooms);
        (self.state(site, point, held), cascade)
    }

    pub(super) fn state(&self, site: Site, point: Point, held: bool) -> State {
        // The changes are told from the phase's own laws, whatever the state was settled from.
        let phase = &site.base.start;
        let mut changed = match held {
            false => phase.near.change(&point.scenario).map(|change| change.laws).unwrap_or_default(),
            true => phase.near_held.change(&point.scenario).map(|change| change.laws).unwrap_or_default(),
        };
        changed.sort_unstable_by_key(|&(row, _)| row);
        State { point, changed, held }
    }

    /// Devices that carry more than before and may open for it, one after the other until none does.
    pub(super) fn cascade(
        &self,
        site: Site,
        held: bool,
        scenario: &mut Scenario,
        point: &mut Point,
        opened: &[Id<Protector>],
        rooms: &mut Rooms,
    ) -> Vec<(Id<Protector>, Second)> {
        let (design, base) = (self.design, site.base);
        let ambient = device_ambient(design, scenario.phase, Side::Shortest);
        let mut more: Vec<(Id<Protector>, Second)> = Vec::new();
        for _ in 0..design.protectors.len() {
            let over = |id: Id<Protector>| {
                let row = self.prepared.branch_of(ElementId::Protector(id))?;
                let (now, before) = (point.current[row].abs(), base.start.point.current[row].abs());
                if now <= before * (1.0 + MORE) + LEAKS || opened.contains(&id) || more.iter().any(|&(known, _)| known == id) {
                    return None;
                }
                if is_stuck_closed(scenario, id) {
                    return None;
                }
                match trip_time(design, id, Side::Shortest, Ampere(now), ambient) {
                    Time::Opens(t) => Some((t, id)),
                    _ => None,
                }
            };
            let next = design.protectors.ids().filter_map(over).reduce(|a, b| if b.0 < a.0 { b } else { a });
            let Some((t, device)) = next else { break };
            more.push((device, t));
            scenario.opened.push((ElementId::Protector(device), None));
            *point = self.settle(site.start, held, scenario, rooms);
        }
        more
    }

    /// Tries one permitted action after the other on what is lost, those of a controller first.
    pub(super) fn act(
        &self,
        site: Site,
        state: &State,
        functions: &mut [FunctionCase],
        burnt: Option<&Burnt>,
        rooms: &mut Rooms,
        in_full: bool,
    ) -> Vec<(Id<Function>, Id<Action>, Point)> {
        let base = site.base;
        let mut found = Vec::new();
        if functions.iter().all(|case| case.effect != Effect::Lost) {
            return found;
        }
        let before = self.prepared.laws(&state.point.scenario);
        let mut actions: Vec<(Id<Action>, &Action)> =
            self.design.actions.iter().filter(|(_, action)| Design::is_in(&action.phases, base.phase())).collect();
        actions.sort_by_key(|(_, action)| action.who);
        for (id, action) in actions {
            let lost: Vec<Id<Function>> = functions.iter().filter(|case| case.effect == Effect::Lost).map(|case| case.function).collect();
            if lost.is_empty() {
                break;
            }
            let mut scenario = state.point.scenario.clone();
            scenario.switches.extend(action.states.iter().map(|given| given.value));
            let laws = self.prepared.laws(&scenario);
            if laws == before {
                continue;
            }
            // What no source reaches with the action either is not worth a state.
            let bridged = self.graph.bridged(&laws);
            let lost: Vec<Id<Function>> = lost.into_iter().filter(|&function| self.may_work(base, state, &bridged, function)).collect();
            if lost.is_empty() {
                continue;
            }
            let mut point = self.settle(site.start, state.held, &scenario, rooms);
            self.cascade(site, state.held, &mut scenario, &mut point, &[], rooms);
            let acted = self.state(site, point, state.held);
            for case in self.stand(site, &acted, burnt, &|function| lost.contains(&function)).cases {
                if case.effect < Effect::Lost
                    && let Some(of) = functions.iter_mut().find(|of| of.function == case.function)
                {
                    *of = FunctionCase { effect: Effect::Restored, reason: Reason::Action(id), ..case };
                    if in_full {
                        found.push((case.function, id, acted.point.clone()));
                    }
                }
            }
        }
        found
    }

    /// Devices that open with their shortest and longest times, in the order of the longest case; those that open for overload behind them.
    fn opens(
        &self,
        courses: &[Course],
        set: &[Id<Protector>],
        cascade: &[(Id<Protector>, Second)],
    ) -> Vec<(Id<Protector>, Second, Second)> {
        let Some(longest) = courses.iter().find(|course| course.opened == set) else {
            return cascade.iter().map(|&(device, t)| (device, t, Second(f64::INFINITY))).collect();
        };
        let soonest = |device: Id<Protector>| {
            let times = courses.iter().flat_map(|course| &course.clearing.opens).filter(|(_, of)| *of == device).map(|(t, _)| t.0);
            Second(times.fold(f64::INFINITY, f64::min))
        };
        let own = longest.clearing.opens.iter().map(|&(t, device)| (device, soonest(device), t));
        own.chain(cascade.iter().map(|&(device, t)| (device, t, Second(f64::INFINITY)))).collect()
    }
}

/// Voltage at the input of a converter.
pub(super) fn input(prepared: &Prepared, point: &Point, converter: Id<Converter>) -> f64 {
    let row = &prepared.design().converters[converter];
    let [a, b] = [row.line.value, row.line_return.value].map(|end| prepared.node(end));
    let Some((a, b)) = a.zip(b) else { return 0.0 };
    let joined = point.island_of[a.row()].is_some() && point.island_of[a.row()] == point.island_of[b.row()];
    if joined { point.voltage[a.row()] - point.voltage[b.row()] } else { 0.0 }
}

/// Whether a device stays closed whatever it carries.
fn is_stuck_closed(scenario: &Scenario, device: Id<Protector>) -> bool {
    scenario.stuck.iter().rev().find(|(of, _)| *of == ElementId::Protector(device)).is_some_and(|&(_, stuck)| stuck == Stuck::Closed)
}

/// Adds what another order of devices does to functions: of each the worse.
pub(super) fn worst_of_both(known: &mut Vec<FunctionCase>, more: Vec<FunctionCase>) {
    for case in more {
        match known.iter_mut().find(|of| of.function == case.function) {
            Some(of) if case.effect > of.effect => *of = case,
            Some(_) => {}
            None => known.push(case),
        }
    }
    known.sort_by_key(|case| case.function);
}

pub(super) fn is_settled(point: &Point) -> bool {
    point.islands.iter().all(|island| island.outcome.is_settled())
}
