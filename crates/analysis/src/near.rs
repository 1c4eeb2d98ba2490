//! States close to a settled one, on the factor of the settled one.
//!
//! A case changes few branches: a wire opens, a short joins two nodes, a breaker opens. Its changed branches are an exact
//! low-rank update of the base state's Jacobian ([`Update`]); all other laws that bend follow by chord steps on that same
//! factor. A load that falls below its drop-out voltage, and a diode that turns, become changed branches themselves, in the
//! order in which a fresh solution takes them. A part that a bridge cuts off without a source loses its loads and needs no
//! further change. What this cannot settle is said ([`Fresh`]) and solved afresh.
//!
//! Cost of a case: the ways from the changed nodes to the root of the elimination tree, and one backward solution for every
//! chord step, of which there is one where no load moves by more than millivolts.

use crate::bridges::Bridges;
use crate::law::Law;
use crate::network::{Network, Work};
use crate::point;
use crate::settle::{DIODE_CURRENT, DIODE_VOLTAGE, FED, Settle};
use crate::update::{MOST, Update};
use crate::{Prepared, law};
use model::*;
use std::sync::OnceLock;

const NONE: u32 = u32::MAX;
/// Chord steps before a case is solved afresh.
const STEPS: usize = 40;
/// Rounds of diodes, converters and drop-outs before a case is solved afresh.
const ROUNDS: usize = 60;
/// Bound on the voltage that the laws not yet met could still move, V.
const SETTLED: f64 = 4e-9;
/// Voltage by which a node may stand off the balance of its currents, V: a net under the update, not its accuracy.
const UNBALANCED: f64 = 1e-7;
/// Pivot of an update below which cancellation is made good by steps on all branches.
const CANCELLED: f64 = 1e-4;

/// Why a case has to be solved afresh.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fresh {
    /// The base state has loads that let go, a second state, or a part that did not settle.
    Base,
    /// More branches change than an update takes.
    Many,
    /// A converter starts, stops or changes its law.
    Converter,
    /// A part with a source of its own is cut off, or the changed branches cut together.
    Cut,
    /// Something not driven before is joined to what is driven, or a load starts.
    Energised,
    /// A load has so little voltage that it could be in either of two states, or its law has no start.
    Returns,
    /// The steps did not settle.
    Unsettled,
}

/// States close to a settled one.
pub struct Near<'a, 'd> {
    prepared: &'a Prepared<'d>,
    base: &'a Point,
    footing: Result<Footing, Fresh>,
}

/// What every case starts from.
struct Footing {
    laws: Vec<Law>,
    work: Work,
    /// Voltage of each place in the order of elimination.
    volts: Vec<f64>,
    /// Slope and current of each branch.
    slope: Vec<f64>,
    current: Vec<f64>,
    component: Vec<u32>,
    driven: Vec<bool>,
    /// Reference node of each component, by its representative.
    reference: Vec<u32>,
    demands: Vec<Demand>,
    /// Index into `demands` of each branch.
    demand_of: Vec<u32>,
    /// Demands that draw nothing in the base state, because nothing feeds them.
    idle: Vec<u32>,
    diodes: Vec<u32>,
    diode_on: Vec<bool>,
    /// Inputs of converters, and the power that each takes.
    inputs: Vec<u32>,
    watts: Vec<f64>,
    /// Currents that are driven nowhere in the base state.
    silent: Vec<u32>,
    /// Places whose voltage a case is judged by, with all above them in the elimination tree, last first: what a backward
    /// solution has to visit.
    watched: Vec<u32>,
    is_watched: Vec<bool>,
    /// The network without demands, made when first asked for.
    without: OnceLock<Option<Without>>,
    references: Vec<u32>,
    walk: Bridges,
    /// Ends of drivers that the walk came to before each time.
    drivers: Vec<u32>,
    /// Demands by when the walk came to each of their ends.
    demand_times: Vec<(u32, u32)>,
    /// Blocking diodes by when the walk came to their cathode.
    cathode_times: Vec<(u32, u32)>,
}

/// The base state with every demand off: factor, and voltage of each place.
struct Without {
    work: Work,
    volts: Vec<f64>,
}

/// A consumer that draws in the base state.
#[derive(Clone, Copy, Debug)]
struct Demand {
    row: u32,
    a: u32,
    b: u32,
    volts: f64,
    /// Resistance that the rest of the network shows at its terminals.
    seen: f64,
}

/// How a branch of a case stands.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mode {
    /// By its law; a diode conducts.
    Law,
    /// A load on its straight line below drop-out.
    Line,
    /// Carries nothing.
    Gone,
}

/// A branch that the case changes.
#[derive(Clone, Copy, Debug)]
struct Special {
    /// Row of the design's branch; none for a short or a reference.
    row: Option<usize>,
    law: Law,
    mode: Mode,
    slope: f64,
    /// Current that the present linear model has in it.
    model: f64,
    base_slope: f64,
}

/// What one case needs while it is settled, reused from case to case.
pub struct Room {
    update: Update,
    /// How far each place has moved from the base state, V.
    moved: Vec<f64>,
    x: Vec<f64>,
    special: Vec<Special>,
    injected: Vec<f64>,
    /// Of each demand: its special branch.
    special_of: Vec<u32>,
    /// Of each demand: current in the linear model and voltage it was made at.
    model: Vec<f64>,
    residual: Vec<f64>,
    /// Runs of the walk that are cut off without a source.
    cut: Vec<(u32, u32)>,
    /// Rows of loads that let go, with the voltage they did at.
    dropped: Vec<(usize, f64)>,
    /// Blocking diodes that are gone.
    lost_diodes: Vec<usize>,
    /// Special branches of loads that nothing feeds in this case.
    unfed: Vec<usize>,
    /// The case without demands: its update, how far each place moves, and whether that stands.
    without: Update,
    without_moved: Vec<f64>,
    without_known: bool,
    diode_on: Vec<bool>,
    merged: Vec<(u32, u32)>,
    watts: Vec<f64>,
    steps: usize,
    /// The watched places, then what else the case's changes touch: where a backward solution goes.
    reach: Vec<u32>,
    everywhere: bool,
    /// The update has lost digits that only steps on all branches bring back.
    cancelled: bool,
}

/// What changes: laws of branches, and branches between nodes that the design does not have.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Change {
    /// Branches by row in [`Prepared::branches`] with the law they follow.
    pub laws: Vec<(usize, Law)>,
    /// Branches between nodes, S.
    pub joined: Vec<(NodeId, NodeId, f64)>,
}

impl<'a, 'd> Near<'a, 'd> {
    /// Cost: one factorisation and passes over nodes and branches; a case then costs a small part of that.
    pub(crate) fn new(prepared: &'a Prepared<'d>, base: &'a Point) -> Near<'a, 'd> {
        Near { prepared, base, footing: Footing::new(prepared, base) }
    }

    /// The settled state.
    pub fn base(&self) -> &Point {
        self.base
    }

    /// Settles a scenario that differs from the base in few elements.
    pub fn point(&self, scenario: &Scenario) -> Point {
        self.try_point(scenario, &mut self.room()).unwrap_or_else(|_| self.prepared.point(scenario))
    }

    /// Settles a scenario on the base's factor.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub fn try_point(&self, scenario: &Scenario, room: &mut Room) -> Result<Point, Fresh> {
        let footing = self.footing.as_ref().map_err(|&fresh| fresh)?;
        if scenario.before.is_some() {
            return Err(Fresh::Base);
        }
        let (laws, change) = self.changed(footing, scenario);
        self.settle_at(footing, &change, room, true)?;
        let network = if change.joined.is_empty() {
            None
        } else {
            let more: Vec<(u32, u32, f64)> = change.joined.iter().map(|&(a, b, g)| (a.0, b.0, g)).collect();
            Some(self.prepared.network.extended(&more))
        };
        self.whole(footing, scenario, laws, network.as_ref().unwrap_or(&self.prepared.network), room)
    }

    /// Room for cases of this base.
    pub fn room(&self) -> Room {
        let n = self.prepared.network.nodes;
        let demands = self.footing.as_ref().map_or(0, |footing| footing.demands.len());
        Room {
            update: Update::new(n),
            moved: vec![0.0; n],
            x: vec![0.0; n],
            special: Vec::new(),
            injected: Vec::new(),
            special_of: vec![NONE; demands],
            model: vec![0.0; demands],
            residual: vec![0.0; demands],
            cut: Vec::new(),
            dropped: Vec::new(),
            lost_diodes: Vec::new(),
            unfed: Vec::new(),
            without: Update::new(n),
            without_moved: vec![0.0; n],
            without_known: false,
            diode_on: Vec::new(),
            merged: Vec::new(),
            watts: Vec::new(),
            steps: 0,
            reach: self.footing.as_ref().map_or_else(|_| Vec::new(), |footing| footing.watched.clone()),
            everywhere: false,
            cancelled: false,
        }
    }

    /// The change that opens a branch.
    pub fn opening(&self, row: usize) -> Change {
        Change { laws: vec![(row, Law::Open)], joined: Vec::new() }
    }

    /// Voltage between two nodes in the case that `room` holds; what is cut off from every source has none. The nodes are ends
    /// of loads, receivers, sources, diodes, converters, or buses: others are not worked out.
    pub fn across(&self, room: &Room, a: NodeId, b: NodeId) -> Option<f64> {
        let footing = self.footing.as_ref().ok()?;
        if footing.is_cut(room, a.0) || footing.is_cut(room, b.0) {
            return None;
        }
        let place = self.prepared.network.pattern.place();
        let (a, b) = (place[a.row()] as usize, place[b.row()] as usize);
        Some(footing.volts[a] - footing.volts[b] + room.moved[a] - room.moved[b])
    }

    /// Chord steps of the case that `room` holds.
    pub fn steps(&self, room: &Room) -> usize {
        room.steps
    }

    /// Branches of loads that let go in the case that `room` holds, and the voltage they did at.
    pub fn dropped<'r>(&self, room: &'r Room) -> &'r [(usize, f64)] {
        &room.dropped
    }

    /// The laws of a scenario, and in what they differ from the base's.
    fn changed(&self, footing: &Footing, scenario: &Scenario) -> (Vec<Law>, Change) {
        let mut laws = law::laws(self.prepared.design, &self.prepared.topology, scenario);
        let more = point::shorts(self.prepared, scenario, &mut laws);
        let differ = |(row, (law, base)): (usize, (&Law, &Law))| (law != base).then_some((row, *law));
        let changed = laws.iter().zip(&footing.laws).enumerate().filter_map(differ).collect();
        laws.extend(more.iter().map(|&(_, _, g)| Law::Conductance { g }));
        (laws, Change { laws: changed, joined: more.into_iter().map(|(a, b, g)| (NodeId(a), NodeId(b), g)).collect() })
    }

    /// Settles a case; its numbers stay in `room` until the next one.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub fn settle(&self, change: &Change, room: &mut Room) -> Result<(), Fresh> {
        let footing = self.footing.as_ref().map_err(|&fresh| fresh)?;
        let settled = self.settle_at(footing, change, room, false);
        // Steps on all branches need the voltage of every node.
        if room.cancelled { self.settle_at(footing, change, room, true) } else { settled }
    }

    fn settle_at(&self, footing: &Footing, change: &Change, room: &mut Room, everywhere: bool) -> Result<(), Fresh> {
        let name = |row: usize| self.prepared.design.element_words(self.prepared.topology.branches[row].element);
        let mut case = Case { net: &self.prepared.network, footing, room, joined: &change.joined, name: &name };
        case.clear();
        if everywhere {
            case.room.reach.clear();
            case.room.reach.extend((0..self.prepared.network.nodes as u32).rev());
        }
        case.room.everywhere = everywhere;
        for &(row, law) in &change.laws {
            case.change(row, law)?;
        }
        for &(a, b, g) in &change.joined {
            case.join(None, a.0, b.0, Law::Conductance { g })?;
        }
        case.run()
    }

    /// The point of the case in `room`, as a fresh solution would give it.
    fn whole(&self, footing: &Footing, scenario: &Scenario, laws: Vec<Law>, network: &Network, room: &Room) -> Result<Point, Fresh> {
        let prepared = self.prepared;
        let name = |row: usize| prepared.topology.branches.get(row).map_or_else(String::new, |b| prepared.design.element_words(b.element));
        let place = network.pattern.place();
        let volts: Vec<f64> = place.iter().map(|&at| footing.volts[at as usize] + room.moved[at as usize]).collect();
        let mut settle = Settle::new(network, &laws, &prepared.grounds, &name, &[]);
        settle.resume(volts, &|row| room.diode_on[row], &room.dropped);
        let solution = settle.finish_if_balanced(UNBALANCED).ok_or(Fresh::Unsettled)?;
        Ok(point::assemble(prepared, scenario, &laws, network, solution, Vec::new()))
    }
}

impl Footing {
    fn new(prepared: &Prepared, base: &Point) -> Result<Footing, Fresh> {
        let (design, topology, network) = (prepared.design, &prepared.topology, &prepared.network);
        let let_go = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
        let plain = base.scenario.before.is_none()
            && base.scenario.shorts.is_empty()
            && base.other_state.is_empty()
            && base.islands.iter().all(|island| island.outcome.is_settled())
            && !base.load_state.iter().any(|(_, state)| let_go(state))
            && !base.converter_state.iter().any(|(_, state)| let_go(state));
        if !plain {
            return Err(Fresh::Base);
        }
        let laws = law::laws(design, topology, &base.scenario);
        let on = |row: usize| matches!(topology.branches[row].element, ElementId::Diode(id) if base.diode_on[id]);
        let name = |_: usize| String::new();
        let mut settle = Settle::new(network, &laws, &prepared.grounds, &name, &[]);
        settle.resume(base.voltage.clone(), &on, &[]);
        let rows = laws.len();
        let (mut slope, mut current) = (vec![0.0; rows], vec![0.0; rows]);
        for row in 0..rows {
            (current[row], slope[row]) = settle.at(row);
        }
        let mut work = network.work();
        network.factor(&slope, settle.references(), &mut work).map_err(|_| Fresh::Unsettled)?;
        let place = network.pattern.place();
        let mut volts = vec![0.0; network.nodes];
        for (&at, &v) in place.iter().zip(&base.voltage) {
            volts[at as usize] = v;
        }
        let component = settle.components().to_vec();
        let references = settle.references().to_vec();
        let driven = settle.driven().to_vec();
        let mut reference = vec![NONE; network.nodes];
        for &node in settle.references() {
            if component[node as usize] != NONE {
                reference[component[node as usize] as usize] = node;
            }
        }
        let (mut demands, mut demand_of, mut idle) = (Vec::new(), vec![NONE; rows], Vec::new());
        let (mut column, mut scratch) = (Vec::new(), vec![0.0; network.nodes]);
        for row in (0..rows).filter(|&row| laws[row].is_demand()) {
            if !settle.draws(row) {
                idle.push(row as u32);
                continue;
            }
            let (a, b) = (place[network.from[row] as usize], place[network.to[row] as usize]);
            column.clear();
            network.pattern.climb(&work.factor, a, Some(b), &mut scratch, &mut column);
            let seen = column.iter().map(|&(k, w)| w * w / work.factor.diagonal[k as usize]).sum();
            demand_of[row] = demands.len() as u32;
            demands.push(Demand { row: row as u32, a, b, volts: volts[a as usize] - volts[b as usize], seen });
        }
        let drives = |row: usize| match laws[row] {
            Law::Emf { .. } => true,
            Law::ConverterOutput { .. } | Law::Injection { .. } => current[row] != 0.0 || slope[row] != 0.0,
            _ => false,
        };
        let conducts = |row: usize| slope[row] != 0.0 && !laws[row].is_demand();
        let roots = (0..rows).filter(|&row| drives(row)).map(|row| network.from[row]);
        let walk = Bridges::new(
            (&network.from, &network.to),
            network.nodes,
            &conducts,
            &|node| topology.meeting(NodeId(node)),
            roots.collect::<Vec<_>>().into_iter(),
        );
        let mut drivers = vec![0u32; network.nodes + 1];
        for row in (0..rows).filter(|&row| drives(row)) {
            for node in [network.from[row], network.to[row]] {
                drivers[walk.came[node as usize] as usize + 1] += 1;
            }
        }
        for k in 0..network.nodes {
            drivers[k + 1] += drivers[k];
        }
        let time = |node: u32| walk.came[node as usize];
        let mut demand_times: Vec<(u32, u32)> = demands
            .iter()
            .enumerate()
            .flat_map(|(index, demand)| {
                let row = demand.row as usize;
                [network.from[row], network.to[row]].map(|node| (time(node), index as u32))
            })
            .collect();
        demand_times.sort_unstable();
        let diodes: Vec<u32> = (0..rows as u32).filter(|&row| matches!(laws[row as usize], Law::Diode { .. })).collect();
        let mut cathode_times: Vec<(u32, u32)> =
            diodes.iter().filter(|&&row| !on(row as usize)).map(|&row| (time(network.to[row as usize]), row)).collect();
        cathode_times.sort_unstable();
        let inputs: Vec<u32> = (0..rows as u32).filter(|&row| matches!(laws[row as usize], Law::ConverterInput { .. })).collect();
        let watts = inputs.iter().map(|&row| settle.power(row as usize)).collect();
        let silent = (0..rows as u32)
            .filter(|&row| matches!(laws[row as usize], Law::Injection { .. }) && current[row as usize] == 0.0)
            .collect();
        let diode_on = (0..rows).map(on).collect();
        let judged = |row: &usize| {
            let law = &laws[*row];
            law.is_demand()
                || matches!(law, Law::Diode { .. } | Law::ConverterOutput { .. } | Law::Emf { .. })
                || matches!(topology.branches[*row].element, ElementId::Receiver(_) | ElementId::Load(_))
        };
        let buses = design.inner_nodes.iter().filter(|(_, row)| row.is_bus).filter_map(|(id, _)| prepared.node(End::Inner(id)));
        let ends = (0..rows).filter(judged).flat_map(|row| [network.from[row], network.to[row]]);
        let watched = network.pattern.with_all_above(ends.chain(buses.map(|node| node.0)).map(|node| place[node as usize]));
        let mut is_watched = vec![false; network.nodes];
        watched.iter().for_each(|&k| is_watched[k as usize] = true);
        Ok(Footing {
            laws,
            work,
            volts,
            slope,
            current,
            component,
            driven,
            reference,
            demands,
            demand_of,
            idle,
            diodes,
            diode_on,
            inputs,
            watts,
            silent,
            without: OnceLock::new(),
            references,
            watched,
            is_watched,
            walk,
            drivers,
            demand_times,
            cathode_times,
        })
    }

    /// The base state without demands; `None` if it has no solution.
    fn without(&self, net: &Network) -> Option<&Without> {
        let make = || {
            let mut work = net.work();
            let conducts = |row: usize| !self.laws[row].is_demand();
            let slope: Vec<f64> = (0..self.laws.len()).map(|row| if conducts(row) { self.slope[row] } else { 0.0 }).collect();
            net.factor(&slope, &self.references, &mut work).ok()?;
            let mut volts = vec![0.0; net.nodes];
            for row in (0..self.laws.len()).filter(|&row| conducts(row)) {
                // Current that a branch carries with no voltage across it.
                let place = net.pattern.place();
                let (a, b) = (place[net.from[row] as usize] as usize, place[net.to[row] as usize] as usize);
                let current = self.current[row] - slope[row] * (self.volts[a] - self.volts[b]);
                volts[a] -= current;
                volts[b] += current;
            }
            net.pattern.forward(&work.factor, &mut volts);
            net.pattern.backward(&work.factor, &mut volts);
            Some(Without { work, volts })
        };
        self.without.get_or_init(make).as_ref()
    }

    fn is_cut(&self, room: &Room, node: u32) -> bool {
        let came = self.walk.came[node as usize];
        room.cut.iter().any(|&(first, last)| (first..last).contains(&came))
    }

    /// Members of a list by time that fall in a run of the walk.
    fn within(list: &[(u32, u32)], (first, last): (u32, u32)) -> impl Iterator<Item = u32> + '_ {
        let start = list.partition_point(|&(time, _)| time < first);
        list[start..].iter().take_while(move |&&(time, _)| time < last).map(|&(_, what)| what)
    }
}

/// One case in its room.
struct Case<'c> {
    net: &'c Network,
    footing: &'c Footing,
    room: &'c mut Room,
    /// Branches that the change adds.
    joined: &'c [(NodeId, NodeId, f64)],
    /// Name of a row, by which equal candidates are taken.
    name: &'c dyn Fn(usize) -> String,
}

impl Case<'_> {
    fn clear(&mut self) {
        let (room, footing) = (&mut *self.room, self.footing);
        room.update.clear();
        for &k in &room.reach {
            room.moved[k as usize] = 0.0;
            room.x[k as usize] = 0.0;
        }
        if room.everywhere {
            room.reach.clone_from(&footing.watched);
        }
        room.reach.truncate(footing.watched.len());
        room.cancelled = false;
        for special in room.special.drain(..) {
            if let Some(index) = special.row.map(|row| footing.demand_of[row]).filter(|&index| index != NONE) {
                room.special_of[index as usize] = NONE;
            }
        }
        for (model, demand) in room.model.iter_mut().zip(&footing.demands) {
            *model = footing.current[demand.row as usize];
        }
        room.residual.fill(0.0);
        room.cut.clear();
        room.dropped.clear();
        room.lost_diodes.clear();
        room.unfed.clear();
        room.without_known = false;
        room.merged.clear();
        room.diode_on.clone_from(&footing.diode_on);
        room.watts.clone_from(&footing.watts);
        room.steps = 0;
    }

    fn places(&self, row: usize) -> (u32, u32) {
        let place = self.net.pattern.place();
        (place[self.net.from[row] as usize], place[self.net.to[row] as usize])
    }

    fn base_across(&self, row: usize) -> f64 {
        let (a, b) = self.places(row);
        self.footing.volts[a as usize] - self.footing.volts[b as usize]
    }

    fn moved_across(&self, row: usize) -> f64 {
        let (a, b) = self.places(row);
        self.room.moved[a as usize] - self.room.moved[b as usize]
    }

    fn across(&self, row: usize) -> f64 {
        self.base_across(row) + self.moved_across(row)
    }

    /// Component of a node, with those that the case has joined taken as one; a node that nothing conducts to is its own.
    fn component(&self, node: u32) -> u32 {
        let mut component = self.footing.component[node as usize];
        if component == NONE {
            component = node;
        }
        while let Some(&(_, into)) = self.room.merged.iter().find(|&&(from, _)| from == component) {
            component = into;
        }
        component
    }

    fn is_driven(&self, component: u32) -> bool {
        self.footing.component[component as usize] != NONE && self.footing.driven[component as usize]
    }

    fn ends(&self, row: u32) -> [u32; 2] {
        [self.net.from[row as usize], self.net.to[row as usize]]
    }

    /// Gives a branch of the design another law.
    fn change(&mut self, row: usize, law: Law) -> Result<(), Fresh> {
        use Law::*;
        let footing = self.footing;
        let base = footing.laws[row];
        if self.net.from[row] == self.net.to[row] {
            return Ok(());
        }
        match (base, law) {
            (ConverterInput { .. } | ConverterOutput { .. }, _) | (_, ConverterInput { .. } | ConverterOutput { .. }) => {
                Err(Fresh::Converter)
            }
            (Injection { .. }, _) | (_, Injection { .. }) => Err(Fresh::Cut),
            (base, law) if base.is_demand() => match (footing.demand_of[row] != NONE, law) {
                (true, Open) => self.special(row, law, Mode::Gone),
                (true, law) if law.is_demand() => self.special(row, law, Mode::Law),
                // Nothing fed it, and now it is not even there.
                (false, Open) => Ok(()),
                _ => Err(Fresh::Energised),
            },
            (Diode { .. }, Open) if !footing.diode_on[row] => {
                self.room.lost_diodes.push(row);
                Ok(())
            }
            (_, Open) => {
                self.room.diode_on[row] = false;
                self.open(row)
            }
            (Open, law) if law.is_demand() => self.start(row, law),
            (_, Diode { .. }) => Err(Fresh::Energised),
            (_, law) if law.is_demand() => Err(Fresh::Energised),
            (Open | Diode { .. }, law) if footing.slope[row] == 0.0 => self.join(Some(row), self.net.from[row], self.net.to[row], law),
            (Emf { .. }, Conductance { .. }) | (Conductance { .. }, Emf { .. }) => Err(Fresh::Cut),
            (_, law) => {
                self.room.diode_on[row] = false;
                self.special(row, law, Mode::Law)
            }
        }
    }

    /// A load that is switched on where there is voltage.
    fn start(&mut self, row: usize, law: Law) -> Result<(), Fresh> {
        let [a, b] = self.ends(row as u32).map(|node| self.component(node));
        if a != b || !self.is_driven(a) || self.base_across(row) <= FED {
            return Err(Fresh::Energised);
        }
        self.special(row, law, Mode::Law)
    }

    /// Adds a branch of the design to those that the case changes.
    fn special(&mut self, row: usize, law: Law, mode: Mode) -> Result<(), Fresh> {
        if let Some(at) = self.room.special.iter().position(|special| special.row == Some(row)) {
            self.put(at, law, mode);
            return Ok(());
        }
        let (a, b) = self.places(row);
        let slope = self.footing.slope[row];
        let index = self.footing.demand_of[row];
        let model = match index {
            NONE => self.footing.current[row] + slope * self.moved_across(row),
            _ => self.room.model[index as usize],
        };
        let at = self.add(Special { row: Some(row), law, mode, slope, model, base_slope: slope }, a, Some(b))?;
        if index != NONE {
            self.room.special_of[index as usize] = at as u32;
            self.room.residual[index as usize] = 0.0;
        }
        Ok(())
    }

    fn add(&mut self, special: Special, a: u32, b: Option<u32>) -> Result<usize, Fresh> {
        let at = self.room.update.add(&self.net.pattern, &self.footing.work.factor, a, b, 0.0).ok_or(Fresh::Many)?;
        self.room.special.push(special);
        self.put(at, special.law, special.mode);
        Ok(at)
    }

    /// Sets how a special branch stands; its slope is that of its law at the present voltage.
    fn put(&mut self, at: usize, law: Law, mode: Mode) {
        let (_, slope) = mode.draws(law, self.special_across(at));
        let special = &mut self.room.special[at];
        (special.law, special.mode, special.slope) = (law, mode, slope);
        self.room.update.set(at, slope - special.base_slope);
    }

    fn special_across(&self, at: usize) -> f64 {
        self.room.update.across(at, &self.footing.volts) + self.room.update.across(at, &self.room.moved)
    }

    /// Opens a conducting branch.
    fn open(&mut self, row: usize) -> Result<(), Fresh> {
        let footing = self.footing;
        if footing.slope[row] == 0.0 {
            return Ok(());
        }
        let Some(run) = footing.walk.run_beyond(row) else { return self.special(row, Law::Open, Mode::Gone) };
        let inside = |node: u32| (run.0..run.1).contains(&footing.walk.came[node as usize]);
        let joins_again = self.joined.iter().any(|&(a, b, _)| {
            let other = if inside(a.0) { b } else { a };
            inside(a.0) != inside(b.0) && self.is_driven(self.component(other.0))
        });
        if joins_again {
            return self.special(row, Law::Open, Mode::Gone);
        }
        if footing.drivers[run.1 as usize] != footing.drivers[run.0 as usize] {
            return Err(Fresh::Cut);
        }
        // A blocking diode may take over the feed of what is cut off.
        let mut feeders = Vec::new();
        for diode in Footing::within(&footing.cathode_times, run) {
            let anode = self.net.from[diode as usize];
            if !inside(anode) && self.is_driven(self.component(anode)) && !self.room.lost_diodes.contains(&(diode as usize)) {
                feeders.push(diode as usize);
            }
        }
        if !feeders.is_empty() {
            self.special(row, Law::Open, Mode::Gone)?;
            return feeders.into_iter().try_for_each(|diode| self.turn(diode, true));
        }
        if footing.inputs.iter().any(|&row| footing.demand_of[row as usize] != NONE && self.ends(row).into_iter().any(inside)) {
            return Err(Fresh::Converter);
        }
        let mut lost: Vec<u32> = Footing::within(&footing.demand_times, run).collect();
        lost.sort_unstable();
        lost.dedup();
        if lost.len() > MOST {
            return Err(Fresh::Many);
        }
        for index in lost {
            self.special(footing.demands[index as usize].row as usize, Law::Open, Mode::Gone)?;
        }
        self.room.cut.push(run);
        Ok(())
    }

    /// Adds a conducting branch between two nodes, joining their parts where they are two.
    fn join(&mut self, row: Option<usize>, a: u32, b: u32, law: Law) -> Result<(), Fresh> {
        let within = |&(first, last): &(u32, u32)| {
            [a, b].iter().all(|&node| (first..last).contains(&self.footing.walk.came[node as usize]))
        };
        // Within a part that is cut off nothing flows.
        if a == b || self.room.cut.iter().any(within) {
            return Ok(());
        }
        let footing = self.footing;
        let (ca, cb) = (self.component(a), self.component(b));
        let place = self.net.pattern.place();
        if ca != cb {
            // What is not driven goes over to what is, and only one zero of voltage is left.
            let (into, from) = if self.is_driven(ca) { (ca, cb) } else { (cb, ca) };
            let touches = |row: u32| self.ends(row).into_iter().any(|node| self.component(node) == from);
            let wakes = footing.idle.iter().chain(&footing.inputs).chain(&footing.silent).any(|&row| touches(row));
            let turns = footing.diodes.iter().any(|&row| !self.room.diode_on[row as usize] && touches(row));
            if wakes || turns {
                return Err(Fresh::Energised);
            }
            let zero = if footing.component[from as usize] == NONE { from } else { footing.reference[from as usize] };
            let reference = Special { row: None, law: Law::Open, mode: Mode::Gone, slope: 1.0, model: 0.0, base_slope: 1.0 };
            self.add(reference, place[zero as usize], None)?;
            self.room.merged.push((from, into));
        }
        let (a, b) = (place[a as usize], place[b as usize]);
        self.add(Special { row, law, mode: Mode::Law, slope: 0.0, model: 0.0, base_slope: 0.0 }, a, Some(b)).map(|_| ())
    }

    /// Turns a diode on or off.
    fn turn(&mut self, row: usize, on: bool) -> Result<(), Fresh> {
        let law = self.footing.laws[row];
        self.room.diode_on[row] = on;
        match self.room.special.iter().position(|special| special.row == Some(row)) {
            Some(at) => self.put(at, law, if on { Mode::Law } else { Mode::Gone }),
            None if on => self.join(Some(row), self.net.from[row], self.net.to[row], law)?,
            None if self.footing.walk.run_beyond(row).is_some() => return Err(Fresh::Cut),
            None => self.special(row, law, Mode::Gone)?,
        }
        Ok(())
    }

    fn run(&mut self) -> Result<(), Fresh> {
        // A part that is cut off stays joined by the branch that is to be open: nothing else may lead into it.
        let leads = |nodes: [u32; 2]| {
            let inside = |(first, last): (u32, u32)| nodes.map(|node| (first..last).contains(&self.footing.walk.came[node as usize]));
            self.room.cut.iter().any(|&run| inside(run)[0] != inside(run)[1])
        };
        let added = self.room.special.iter().filter(|special| special.mode != Mode::Gone && special.base_slope == 0.0);
        if added.filter_map(|special| special.row).any(|row| leads(self.ends(row as u32)))
            || self.joined.iter().any(|&(a, b, _)| leads([a.0, b.0]))
        {
            return Err(Fresh::Cut);
        }
        if !self.room.everywhere {
            let start = self.footing.watched.len();
            let room = &mut *self.room;
            room.reach.extend(room.update.touched().filter(|&k| !self.footing.is_watched[k as usize]));
            room.reach[start..].sort_unstable_by(|a, b| b.cmp(a));
            room.reach.dedup();
        }
        for _ in 0..ROUNDS {
            self.converge()?;
            if !(self.flip_diodes()? || self.update_converters() || self.restore() || self.drop_lowest()) {
                return self.judge();
            }
        }
        Err(Fresh::Unsettled)
    }

    /// Chord steps until every law that bends is met.
    fn converge(&mut self) -> Result<(), Fresh> {
        if !self.room.update.triangulate() {
            return Err(Fresh::Cut);
        }
        let (net, footing) = (self.net, self.footing);
        let (mut special, mut other) = self.residuals()?;
        for _ in 0..STEPS {
            if special + other <= SETTLED {
                if self.room.update.least_pivot < CANCELLED {
                    if !self.room.everywhere {
                        self.room.cancelled = true;
                        return Err(Fresh::Unsettled);
                    }
                    self.refine();
                }
                return Ok(());
            }
            let room = &mut *self.room;
            room.steps += 1;
            for &k in &room.reach {
                room.x[k as usize] = 0.0;
            }
            // Far below the bound the other demands can wait for the next step.
            let all = other > 0.25 * SETTLED;
            if all {
                for (index, demand) in footing.demands.iter().enumerate() {
                    room.x[demand.a as usize] -= room.residual[index];
                    room.x[demand.b as usize] += room.residual[index];
                }
                net.pattern.forward_at(&footing.work.factor, footing.watched.iter().rev().copied(), &mut room.x);
            }
            room.update.apply(&footing.work.factor, &room.injected, all, &mut room.x);
            net.pattern.backward_at(&footing.work.factor, room.reach.iter().copied(), &mut room.x);
            let mut farthest = 0.0f64;
            for &k in &room.reach {
                room.moved[k as usize] += room.x[k as usize];
                farthest = farthest.max(room.x[k as usize].abs());
            }
            if !(farthest < 1e6) {
                return Err(Fresh::Unsettled);
            }
            // The model now holds each law's current at the last voltage, and its slope from there on.
            for (at, special) in room.special.iter_mut().enumerate() {
                special.model += special.slope * room.update.across(at, &room.x) - room.injected[at];
            }
            for (index, demand) in footing.demands.iter().enumerate() {
                let along = room.x[demand.a as usize] - room.x[demand.b as usize];
                room.model[index] += footing.slope[demand.row as usize] * along + if all { room.residual[index] } else { 0.0 };
            }
            (special, other) = self.residuals()?;
        }
        Err(Fresh::Unsettled)
    }

    /// How far the currents by which laws differ from the linear model could move a voltage: of the special branches, and of
    /// the others. A load that falls below its drop-out voltage goes on its line, and is special from then on.
    fn residuals(&mut self) -> Result<(f64, f64), Fresh> {
        let footing = self.footing;
        let (mut special, mut other) = (0.0f64, 0.0f64);
        let before = self.room.special.len();
        let (mut fallen, mut dark) = (Vec::new(), Vec::new());
        for (index, demand) in footing.demands.iter().enumerate() {
            if self.room.special_of[index] != NONE {
                continue;
            }
            let law = self.law_of_demand(demand.row as usize);
            let v = demand.volts + self.room.moved[demand.a as usize] - self.room.moved[demand.b as usize];
            if v <= FED {
                dark.push(demand.row as usize);
                continue;
            }
            if law.drop_out().is_some_and(|knee| v < knee) {
                fallen.push(demand.row as usize);
                continue;
            }
            let residual = law.draws(v, false).0 - self.room.model[index];
            self.room.residual[index] = residual;
            other += residual.abs() * demand.seen;
        }
        for row in dark {
            let law = self.law_of_demand(row);
            if !self.is_fed(row)? {
                self.special(row, law, Mode::Gone)?;
                self.room.unfed.push(self.room.special.len() - 1);
            } else if law.drop_out().is_some() {
                fallen.push(row);
            } else {
                return Err(Fresh::Returns);
            }
        }
        for row in fallen {
            self.special(row, self.law_of_demand(row), Mode::Line)?;
        }
        let mut bent = self.room.special.len() > before;
        self.room.injected.clear();
        for at in 0..self.room.special.len() {
            let v = self.special_across(at);
            let Special { row, law, mode, .. } = self.room.special[at];
            let dark = mode != Mode::Gone && law.is_demand() && v <= FED;
            if let Some(row) = row.filter(|_| dark)
                && !self.is_fed(row)?
            {
                self.put(at, law, Mode::Gone);
                self.room.unfed.push(at);
                bent = true;
            } else if mode == Mode::Law && law.is_demand() {
                if law.drop_out().is_some_and(|knee| v < knee) {
                    self.put(at, law, Mode::Line);
                    bent = true;
                } else if v <= 0.0 {
                    return Err(Fresh::Returns);
                }
            }
            let Special { mode, slope, model, .. } = self.room.special[at];
            let residual = mode.draws(law, v).0 - model;
            self.room.injected.push(-residual);
            // A branch with a conductance of its own is moved no farther than by its current through that.
            let seen = self.room.update.seen(at);
            special += residual.abs() * if slope > 0.0 { seen.min(1.0 / slope) } else { seen };
        }
        if bent && !self.room.update.triangulate() {
            return Err(Fresh::Cut);
        }
        Ok((special, other))
    }

    /// Whether anything feeds a demand: whether it has voltage with every demand off.
    fn is_fed(&mut self, row: usize) -> Result<bool, Fresh> {
        Ok(self.without_demands(row)? > FED)
    }

    /// Voltage across a branch of the case with every demand off.
    fn without_demands(&mut self, row: usize) -> Result<f64, Fresh> {
        let without = self.footing.without(self.net).ok_or(Fresh::Unsettled)?;
        let (net, room) = (self.net, &mut *self.room);
        if !room.without_known {
            room.without.clear();
            let mut injected = Vec::new();
            let laws = &self.footing.laws;
            let demands = |special: &Special| special.law.is_demand() || special.row.is_some_and(|row| laws[row].is_demand());
            for (at, special) in room.special.iter().enumerate().filter(|(_, special)| !demands(special)) {
                let (a, b) = room.update.ends(at);
                let more = special.slope - special.base_slope;
                let at = room.without.add(&net.pattern, &without.work.factor, a, b, more).ok_or(Fresh::Many)?;
                let v = room.without.across(at, &without.volts);
                let was = special.row.map_or(special.base_slope * v, |row| {
                    self.footing.current[row] + special.base_slope * (v - room.without.across(at, &self.footing.volts))
                });
                injected.push(was - special.mode.draws(special.law, v).0);
            }
            if !room.without.triangulate() {
                return Err(Fresh::Cut);
            }
            for &k in &room.reach {
                room.without_moved[k as usize] = 0.0;
            }
            room.without.apply(&without.work.factor, &injected, false, &mut room.without_moved);
            net.pattern.backward_at(&without.work.factor, room.reach.iter().copied(), &mut room.without_moved);
            room.without_known = true;
        }
        let (a, b) = self.places(row);
        let (volts, moved) = (&without.volts, &self.room.without_moved);
        Ok(volts[a as usize] - volts[b as usize] + moved[a as usize] - moved[b as usize])
    }

    /// Law of a demand, with the power that a converter takes at present.
    fn law_of_demand(&self, row: usize) -> Law {
        match self.footing.laws[row] {
            Law::ConverterInput { drop_out, return_above, .. } => {
                let at = self.footing.inputs.binary_search(&(row as u32)).expect("input: is listed");
                Law::Power { watts: self.room.watts[at], drop_out, return_above }
            }
            law => law,
        }
    }

    /// What cancellation in the update left is taken up by two steps on the true currents of all branches.
    fn refine(&mut self) {
        let (net, footing) = (self.net, self.footing);
        let mut x = std::mem::take(&mut self.room.x);
        let mut changed: Vec<usize> = self.room.special.iter().filter_map(|special| special.row).collect();
        changed.sort_unstable();
        for _ in 0..2 {
            for &k in &self.room.reach {
                x[k as usize] = 0.0;
            }
            for row in (0..footing.laws.len()).filter(|row| changed.binary_search(row).is_err()) {
                let current = match footing.demand_of[row] {
                    NONE => footing.current[row] + footing.slope[row] * self.moved_across(row),
                    _ => self.law_of_demand(row).draws(self.across(row), false).0,
                };
                let (a, b) = self.places(row);
                x[a as usize] -= current;
                x[b as usize] += current;
            }
            for (at, special) in self.room.special.iter().enumerate() {
                self.room.update.drive(at, -special.mode.draws(special.law, self.special_across(at)).0, &mut x);
            }
            net.pattern.forward(&footing.work.factor, &mut x);
            self.room.update.apply(&footing.work.factor, &[0.0; MOST], true, &mut x);
            net.pattern.backward(&footing.work.factor, &mut x);
            for (at, special) in self.room.special.iter_mut().enumerate() {
                special.model += special.slope * self.room.update.across(at, &x);
            }
            for (index, demand) in footing.demands.iter().enumerate() {
                self.room.model[index] += footing.slope[demand.row as usize] * (x[demand.a as usize] - x[demand.b as usize]);
            }
            for (moved, x) in self.room.moved.iter_mut().zip(&x) {
                *moved += x;
            }
        }
        self.room.x = x;
    }

    /// Turns every diode that disagrees with its state; true if one did.
    fn flip_diodes(&mut self) -> Result<bool, Fresh> {
        let footing = self.footing;
        let mut wrong = Vec::new();
        for &row in &footing.diodes {
            let row = row as usize;
            let Law::Diode { forward, g } = footing.laws[row] else { continue };
            let v = self.across(row);
            let on = self.room.diode_on[row];
            let violates = if on { g * (v - forward) < -DIODE_CURRENT } else { v > forward + DIODE_VOLTAGE };
            if violates && !self.room.lost_diodes.contains(&row) {
                wrong.push((row, !on));
            }
        }
        wrong.retain(|&(row, _)| {
            let replaced = self.room.special.iter().any(|special| special.row == Some(row) && special.law != footing.laws[row]);
            let cut = self.ends(row as u32).into_iter().any(|node| footing.is_cut(self.room, node));
            // Between two parts there is no voltage to turn it.
            let apart = self.component(self.net.from[row]) != self.component(self.net.to[row]);
            !replaced && !cut && !(apart && !self.is_driven(self.component(self.net.from[row])))
        });
        for &(row, on) in &wrong {
            self.turn(row, on)?;
        }
        if !wrong.is_empty() {
            // What nothing fed may be fed now.
            self.room.without_known = false;
            for at in std::mem::take(&mut self.room.unfed) {
                self.put(at, self.room.special[at].law, Mode::Law);
            }
        }
        Ok(!wrong.is_empty())
    }

    /// Takes the input power of each converter from its output; true if one moved.
    fn update_converters(&mut self) -> bool {
        let mut any = false;
        for (at, &row) in self.footing.inputs.iter().enumerate() {
            let row = row as usize;
            let (Law::ConverterInput { efficiency, quiescent, .. }, index) = (self.footing.laws[row], self.footing.demand_of[row]) else {
                continue;
            };
            if index == NONE {
                continue;
            }
            let v = self.across(row + 1);
            let out = if self.footing.slope[row + 1] == 0.0 { 0.0 } else { (-v * self.footing.laws[row + 1].draws(v, false).0).max(0.0) };
            let power = out / efficiency + quiescent;
            any |= (power - self.room.watts[at]).abs() > 1e-11 * (1.0 + power);
            self.room.watts[at] = power;
            let special = self.room.special_of[index as usize];
            if special != NONE && self.room.special[special as usize].mode != Mode::Gone {
                let mode = self.room.special[special as usize].mode;
                self.put(special as usize, self.law_of_demand(row), mode);
            }
        }
        any
    }

    /// Loads that stand on their line although they have voltage again go back to their law; true if one did.
    fn restore(&mut self) -> bool {
        let mut any = false;
        for at in 0..self.room.special.len() {
            let Special { law, mode, .. } = self.room.special[at];
            if mode == Mode::Line && law.drop_out().is_some_and(|knee| self.special_across(at) >= knee) {
                self.put(at, law, Mode::Law);
                any = true;
            }
        }
        any
    }

    /// In each part the load with the lowest voltage against its own limit lets go; true if one did.
    fn drop_lowest(&mut self) -> bool {
        let mut lowest: Vec<(u32, f64, usize)> = Vec::new();
        for (at, special) in self.room.special.iter().enumerate() {
            let (Some(row), Mode::Line, Some(knee)) = (special.row, special.mode, special.law.drop_out()) else { continue };
            lowest.push((self.component(self.net.from[row]), self.special_across(at) / knee, at));
        }
        lowest.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut index = 0;
        while index < lowest.len() {
            let (component, ratio, mut chosen) = lowest[index];
            let mut next = index + 1;
            while next < lowest.len() && lowest[next].0 == component {
                let row = |at: usize| self.room.special[at].row;
                if lowest[next].1 <= ratio + 1e-9 && self.rank(row(lowest[next].2)) < self.rank(row(chosen)) {
                    chosen = lowest[next].2;
                }
                next += 1;
            }
            let v = self.special_across(chosen);
            let Special { row, law, .. } = self.room.special[chosen];
            self.room.dropped.extend(row.map(|row| (row, v)));
            self.put(chosen, law, Mode::Gone);
            index = next;
        }
        !lowest.is_empty()
    }

    fn rank(&self, row: Option<usize>) -> String {
        row.map_or_else(String::new, self.name)
    }

    /// What a fresh solution would look at beyond the laws: loads that come back, that could be in another state, or that start.
    fn judge(&mut self) -> Result<(), Fresh> {
        let footing = self.footing;
        let mut low = Vec::new();
        for (index, demand) in footing.demands.iter().enumerate() {
            if let Some(above) = footing.laws[demand.row as usize].return_above()
                && self.room.special_of[index] == NONE
                && demand.volts + self.room.moved[demand.a as usize] - self.room.moved[demand.b as usize] < above
            {
                low.push((demand.row as usize, above));
            }
        }
        for (at, special) in self.room.special.iter().enumerate() {
            if let (Some(row), Some(above)) = (special.row, special.law.return_above())
                && special.mode == Mode::Law
                && self.special_across(at) < above
            {
                low.push((row, above));
            }
        }
        for (row, above) in low {
            // It could not start at this voltage.
            if self.without_demands(row)? < above {
                return Err(Fresh::Returns);
            }
        }
        for index in 0..self.room.dropped.len() {
            let (row, at) = self.room.dropped[index];
            if matches!(footing.laws[row], Law::ConverterInput { .. }) {
                return Err(Fresh::Converter);
            }
            if at <= FED && !self.is_fed(row)? || footing.laws[row].return_above().is_some_and(|above| self.across(row) >= above) {
                return Err(Fresh::Returns);
            }
        }
        for &row in &footing.idle {
            let [a, b] = self.ends(row).map(|node| self.component(node));
            if a == b && self.is_driven(a) && self.across(row as usize) > FED {
                return Err(Fresh::Energised);
            }
        }
        if self.room.unfed.iter().any(|&at| self.room.special[at].row.is_some_and(|row| matches!(footing.laws[row], Law::ConverterInput { .. }))) {
            return Err(Fresh::Converter);
        }
        Ok(())
    }
}

impl Mode {
    /// Current and slope of a branch that stands so.
    fn draws(self, law: Law, v: f64) -> (f64, f64) {
        match self {
            Mode::Law => law.draws(v, false),
            Mode::Line => law.draws(v, true),
            Mode::Gone => (0.0, 0.0),
        }
    }
}
