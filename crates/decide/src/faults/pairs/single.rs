//! What is known of each single fault in a phase before it is paired.

use super::super::respond::is_settled;
use super::super::stand::{Burnt, State};
use super::super::{Base, Rooms, Site, Sweep};
use analysis::{Blocks, Change, Law, Live};
use model::*;
use std::hash::{DefaultHasher, Hash, Hasher};

/// A set of small numbers.
#[derive(Clone, Debug)]
pub(super) struct Bits(Vec<u64>);

impl Bits {
    fn new(len: usize) -> Bits {
        Bits(vec![0; len.div_ceil(64)])
    }

    fn insert(&mut self, at: usize) {
        self.0[at / 64] |= 1 << (at % 64);
    }

    fn fill(&mut self) {
        self.0.fill(u64::MAX);
    }

    pub(super) fn meets(&self, other: &Bits) -> bool {
        self.0.iter().zip(&other.0).any(|(a, b)| a & b != 0)
    }

    /// Whether two together hold every number below a length.
    pub(super) fn covers_with(&self, other: &Bits, len: usize) -> bool {
        (0..len).all(|at| (self.0[at / 64] | other.0[at / 64]) >> (at % 64) & 1 == 1)
    }
}

/// The live part of a state as what differs in it from that of the phase, with all else that a further fault or an action can meet.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Mark {
    /// Rows that are live in one of the two or have another law, with their law.
    rows: Vec<(usize, Option<Law>)>,
    /// Shorts that are live, by node and conductance.
    joined: Vec<(NodeId, NodeId, f64)>,
    /// What devices do whatever they are told, where it matters later.
    stuck: Vec<(ElementId, Stuck)>,
    /// What actions could command and stands otherwise: by law, and by what holds it so.
    commanded: Vec<(usize, Law, [bool; 2])>,
    /// What hangs otherwise on what actions could command.
    at_actions: Vec<(u32, u64)>,
    scars: Vec<Id<Load>>,
}

impl Mark {
    /// Devices that are stuck closed, where nothing else differs from the phase.
    fn stuck_alone(&self) -> Option<Vec<Id<Protector>>> {
        let device = |&(element, _): &(ElementId, Stuck)| match element {
            ElementId::Protector(device) => Some(device),
            _ => None,
        };
        let rest = Mark { stuck: Vec::new(), ..self.clone() };
        if rest == Mark::default() { self.stuck.iter().map(device).collect() } else { None }
    }

    /// Equal for marks that are.
    pub(super) fn number(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.rows.iter().for_each(|(row, law)| (row, law.is_some()).hash(&mut hasher));
        self.joined.iter().for_each(|(a, b, _)| (a, b).hash(&mut hasher));
        self.scars.hash(&mut hasher);
        hasher.finish()
    }
}

/// Nodes that hang otherwise than in the phase, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Hangs(Vec<(u32, u64)>);

impl Hangs {
    /// What hangs at a node.
    pub(super) fn at(&self, node: u32, healthy: &Live) -> u64 {
        self.0.binary_search_by_key(&node, |&(of, _)| of).map_or(healthy.hangs[node as usize], |at| self.0[at].1)
    }
}

/// Where a first fault comes to rest.
pub(super) struct Rest {
    pub(super) scenario: Scenario,
    pub(super) scars: Vec<Id<Load>>,
    /// `None` where it can be compared with nothing.
    pub(super) mark: Option<Mark>,
    /// Where it differs from the phase in nothing else: devices that are stuck closed.
    pub(super) stuck_alone: Option<Vec<Id<Protector>>>,
    pub(super) hangs: Hangs,
    /// Nodes that it joins to something.
    pub(super) touches: Vec<u32>,
    /// Rows that do not conduct, and those that touch structure along their length, in order.
    pub(super) opened: Vec<usize>,
    pub(super) along: Vec<usize>,
}

/// One fault in a phase.
pub(super) struct Single {
    pub(super) fault: usize,
    change: FaultChange,
    /// What it does to each wanted function alone.
    pub(super) alone: Vec<Effect>,
    /// Wanted functions that it loses alone.
    pub(super) lost: Bits,
    /// Wanted functions of which it touches a leaf, with how all of them stand.
    pub(super) leaves: Vec<(usize, Vec<Effect>)>,
    /// Blocks in which it or what follows from it changes something.
    pub(super) blocks: Bits,
    /// Whether it changes something and no monitor tells of it.
    pub(super) is_latent: bool,
    /// Every device that opens on it; `None` where that is not known.
    pub(super) opening: Option<Vec<Id<Protector>>>,
    /// Of one that leaves the same whatever burns: the state as it is laid.
    pub(super) laid: Option<Mark>,
    /// Whether that is the phase's own.
    pub(super) is_idle: bool,
    pub(super) hangs: Hangs,
    pub(super) touches: Vec<u32>,
    pub(super) opened: Vec<usize>,
    pub(super) along: Vec<usize>,
    pub(super) rests: Vec<Rest>,
}

impl Single {
    /// Whether a device would have to be stuck in two ways.
    pub(super) fn excludes(&self, other: &Single) -> bool {
        matches!((self.change, other.change), (FaultChange::Stuck(a, one), FaultChange::Stuck(b, two)) if a == b && one != two)
    }
}

/// The phase without a fault.
pub(super) struct Healthy {
    pub(super) live: Live,
    laws: Vec<Law>,
    terminals: Vec<NodeId>,
    /// Rows of what actions can command in the phase.
    commanded: Vec<usize>,
}

impl Healthy {
    pub(super) fn new(sweep: &Sweep, base: &Base) -> Healthy {
        let (prepared, design) = (sweep.prepared, sweep.design);
        // Readings and ways of signals hang on more than what carries a current.
        let mut terminals: Vec<NodeId> = Vec::new();
        let mut add = |ends: [End; 2]| terminals.extend(ends.into_iter().filter_map(|end| prepared.node(end)));
        design.receivers.iter().for_each(|(_, row)| add([row.positive.value, row.negative.value]));
        for &function in &base.wanted {
            for need in design.functions[function].need.leaves() {
                if let Need::Path(ends) = need {
                    add(ends.value);
                }
            }
        }
        let mut commanded: Vec<usize> = Vec::new();
        for (_, action) in design.actions.iter().filter(|(_, action)| Design::is_in(&action.phases, base.phase())) {
            for given in &action.states {
                commanded.extend(rows_of(sweep, given.value.0));
            }
        }
        commanded.sort_unstable();
        commanded.dedup();
        let laws = prepared.laws(&base.start.point.scenario);
        let live = prepared.live(&laws, &Change::default(), &terminals);
        Healthy { live, laws, terminals, commanded }
    }
}

/// Every row of an element.
fn rows_of(sweep: &Sweep, element: ElementId) -> Vec<usize> {
    let branches = sweep.prepared.branches();
    let Some(first) = sweep.prepared.branch_of(element) else { return Vec::new() };
    let own = branches[first].element;
    (first..branches.len()).take_while(|&row| branches[row].element == own).collect()
}

/// A change of the phase, looked at.
#[derive(Default)]
struct Seen {
    mark: Option<Mark>,
    hangs: Hangs,
    touches: Vec<u32>,
    opened: Vec<usize>,
    along: Vec<usize>,
}

impl Sweep<'_, '_> {
    fn seen(&self, base: &Base, healthy: &Healthy, scenario: &Scenario, scars: &[Id<Load>]) -> (Seen, Option<Change>) {
        let Ok(change) = base.start.near.change(scenario) else { return (Seen::default(), None) };
        let prepared = self.prepared;
        let live = prepared.live(&healthy.laws, &change, &healthy.terminals);
        let law = |row: usize| change.laws.binary_search_by_key(&row, |&(row, _)| row).map_or(healthy.laws[row], |at| change.laws[at].1);
        let hangs = live.hangs.iter().zip(&healthy.live.hangs).enumerate().filter(|(_, (own, other))| own != other);
        let hangs = Hangs(hangs.map(|(node, (own, _))| (node as u32, *own)).collect());
        let mut mark = Mark { scars: scars.to_vec(), ..Mark::default() };
        for row in 0..healthy.laws.len() {
            let (is, was) = (live.rows[row], healthy.live.rows[row]);
            if is != was || is && law(row) != healthy.laws[row] {
                mark.rows.push((row, is.then(|| law(row))));
            }
        }
        mark.joined = change.joined.iter().copied().filter(|(a, b, _)| live.hangs[a.row()] == 0 && live.hangs[b.row()] == 0).collect();
        let is_commanded = |element: ElementId| healthy.commanded.iter().any(|&row| prepared.branches()[row].element == element);
        // What no action commands and no current opens does nothing more than its law.
        let lasts = |&&(element, stuck): &&(ElementId, Stuck)| {
            matches!((element, stuck), (ElementId::Protector(_), Stuck::Closed)) || is_commanded(element)
        };
        mark.stuck = scenario.stuck.iter().filter(lasts).copied().collect();
        for &row in &healthy.commanded {
            let element = prepared.branches()[row].element;
            let by = [scenario.opened.iter().any(|(of, _)| *of == element), scenario.switches.iter().any(|(of, _)| *of == element)];
            let before = &base.start.point.scenario;
            let by_before = [before.opened.iter().any(|(of, _)| *of == element), before.switches.iter().any(|(of, _)| *of == element)];
            if law(row) != healthy.laws[row] || by != by_before {
                mark.commanded.push((row, law(row), by));
            }
            for node in [prepared.branches()[row].from, prepared.branches()[row].to] {
                if live.hangs[node.row()] != healthy.live.hangs[node.row()] {
                    mark.at_actions.push((node.0, live.hangs[node.row()]));
                }
            }
        }
        let mut touches: Vec<u32> = change.joined.iter().flat_map(|&(a, b, _)| [a.0, b.0]).collect();
        let closes = change.laws.iter().filter(|&&(row, _)| healthy.laws[row] == Law::Open);
        touches.extend(closes.flat_map(|&(row, _)| [prepared.branches()[row].from.0, prepared.branches()[row].to.0]));
        touches.sort_unstable();
        touches.dedup();
        let along = |place: &Place| match place {
            Place::Along(element, _) => prepared.branch_of(*element),
            _ => None,
        };
        let mut along: Vec<usize> = scenario.shorts.iter().flat_map(|(a, b, _)| [along(a), along(b)]).flatten().collect();
        along.sort_unstable();
        let opened = change.laws.iter().filter(|&&(row, law)| law == Law::Open && along.binary_search(&row).is_err());
        let opened = opened.map(|&(row, _)| row).collect();
        (Seen { mark: Some(mark), hangs, touches, opened, along }, Some(change))
    }

    /// Adds the blocks in which a state differs from the phase.
    fn add_blocks(&self, blocks: &Blocks, scenario: &Scenario, change: Option<&Change>, into: &mut Bits) {
        let Some(change) = change else { return into.fill() };
        change.laws.iter().for_each(|&(row, _)| into.insert(blocks.of_row(row)));
        change.joined.iter().for_each(|&(a, b, _)| blocks.joined(a, b).into_iter().for_each(|block| into.insert(block)));
        // What is stuck, open or commanded as it stands anyway is no change yet.
        let named = scenario.stuck.iter().map(|(element, _)| *element);
        let named =
            named.chain(scenario.opened.iter().map(|(element, _)| *element)).chain(scenario.switches.iter().map(|(element, _)| *element));
        named.flat_map(|element| rows_of(self, element)).for_each(|row| into.insert(blocks.of_row(row)));
    }

    /// Follows a single fault until it rests.
    pub(super) fn single(&self, base: &Base, healthy: &Healthy, blocks: &Blocks, fault: usize) -> Single {
        let (site, start) = (base.site(), &base.start);
        let change = self.catalogue.faults[fault].change;
        let mut scenario = start.point.scenario.clone();
        self.prepared.lay(&self.catalogue.faults[fault], &mut scenario);
        let (seen, laid) = self.seen(base, healthy, &scenario, &[]);
        let mut single = Single {
            fault,
            change,
            alone: vec![Effect::Kept; base.wanted.len()],
            lost: Bits::new(base.wanted.len()),
            leaves: Vec::new(),
            blocks: Bits::new(blocks.count()),
            is_latent: false,
            opening: Some(Vec::new()),
            laid: None,
            is_idle: false,
            hangs: seen.hangs,
            touches: seen.touches,
            opened: seen.opened,
            along: seen.along,
            rests: Vec::new(),
        };
        self.add_blocks(blocks, &scenario, laid.as_ref(), &mut single.blocks);
        let mut rooms = [None, None];
        match self.ends(fault, site, &mut rooms) {
            None => {
                single.rests.push(self.rest(base, healthy, scenario, Vec::new(), blocks, &mut single.blocks));
                single.laid = seen.mark;
            }
            Some(ended) => {
                single.laid = seen.mark.filter(|_| ended.is_quiet());
                single.opening = ended.opening();
                for end in &ended.ends {
                    let burnt = ended.burnt(end);
                    let mut cases = self.stand(site, &end.state, burnt.as_ref(), &|_| true).cases;
                    single.add_leaves(self, site, &end.state, burnt.as_ref());
                    if cases.iter().any(|case| case.effect == Effect::Lost) {
                        // What opens while actions are tried is not kept.
                        single.opening = None;
                    }
                    self.act(site, &end.state, &mut cases, burnt.as_ref(), &mut rooms, false);
                    single.add(base, &cases);
                    single.is_latent |= self.announced(base, &end.state).0 == Announced::Latent;
                    let scars = self.scars(site, &end.state, burnt.as_ref());
                    let scenario = match self.acted(site, &end.state, &cases, &mut rooms) {
                        Some(acted) => {
                            // Actions for one function may cost another one something: that is none of a second fault's doing.
                            single.add(base, &self.stand(site, &acted, None, &|_| true).cases);
                            single.add_leaves(self, site, &acted, None);
                            acted.point.scenario
                        }
                        None => end.state.point.scenario.clone(),
                    };
                    if end.state.held || !is_settled(&end.state.point) {
                        single.blocks.fill();
                    }
                    single.rests.push(self.rest(base, healthy, scenario, scars, blocks, &mut single.blocks));
                }
            }
        }
        single.is_idle = single.laid.as_ref().is_some_and(|laid| *laid == Mark::default());
        for (at, _) in single.alone.iter().enumerate().filter(|(_, effect)| **effect >= Effect::Lost) {
            single.lost.insert(at);
        }
        single
    }

    fn rest(&self, base: &Base, healthy: &Healthy, scenario: Scenario, scars: Vec<Id<Load>>, blocks: &Blocks, into: &mut Bits) -> Rest {
        let (seen, change) = self.seen(base, healthy, &scenario, &scars);
        self.add_blocks(blocks, &scenario, change.as_ref(), into);
        let stuck_alone = seen.mark.as_ref().and_then(Mark::stuck_alone);
        Rest {
            scenario,
            scars,
            mark: seen.mark,
            stuck_alone,
            hangs: seen.hangs,
            touches: seen.touches,
            opened: seen.opened,
            along: seen.along,
        }
    }

    /// The state with every action taken that brings a function back; `None` where there is none.
    fn acted(&self, site: Site, state: &State, cases: &[FunctionCase], rooms: &mut Rooms) -> Option<State> {
        let mut actions: Vec<Id<Action>> = cases
            .iter()
            .filter_map(|case| match case.reason {
                Reason::Action(action) => Some(action),
                _ => None,
            })
            .collect();
        actions.sort_unstable_by_key(|&action| (self.design.actions[action].who, action));
        actions.dedup();
        if actions.is_empty() {
            return None;
        }
        let mut scenario = state.point.scenario.clone();
        for action in actions {
            scenario.switches.extend(self.design.actions[action].states.iter().map(|given| given.value));
        }
        let mut point = self.settle(site.start, state.held, &scenario, rooms);
        self.cascade(site, state.held, &mut scenario, &mut point, &[], rooms);
        Some(self.state(site, point, state.held))
    }
}

impl Single {
    fn add(&mut self, base: &Base, cases: &[FunctionCase]) {
        for case in cases {
            if let Some(at) = base.wanted.iter().position(|of| *of == case.function) {
                self.alone[at] = self.alone[at].max(case.effect);
            }
        }
    }

    fn add_leaves(&mut self, sweep: &Sweep, site: Site, state: &State, burnt: Option<&Burnt>) {
        for (at, &function) in site.base.wanted.iter().enumerate() {
            let leaves = sweep.leaves(site, state, burnt, function);
            if leaves.iter().all(|effect| *effect == Effect::Kept) {
                continue;
            }
            match self.leaves.iter_mut().find(|(of, _)| *of == at) {
                Some((_, known)) => known.iter_mut().zip(leaves).for_each(|(known, effect)| *known = (*known).max(effect)),
                None => self.leaves.push((at, leaves)),
            }
        }
    }
}
