//! What every case of one base state starts from.

use super::{Fresh, NONE};
use crate::bridges::Bridges;
use crate::law::Law;
use crate::ldlt::Factor;
use crate::network::{Network, Work};
use crate::settle::{Joined, Settle};
use crate::update::MOST;
use crate::{Prepared, law};
use model::*;
use std::sync::OnceLock;

/// What every case of one base state starts from. Columns by branch have the rows of [`Prepared::branches`]; a *place* is a
/// node's position in the order of elimination.
pub(super) struct Footing {
    pub(super) laws: Vec<Law>,
    pub(super) joined: Option<Joined>,
    pub(super) work: Work,
    /// Voltage of each place, V.
    pub(super) volts: Vec<f64>,
    /// Slope and current of each branch, S and A.
    pub(super) slope: Vec<f64>,
    pub(super) current: Vec<f64>,
    /// Conductance that meets at each place, S.
    pub(super) meeting: Vec<f64>,
    /// Representative of each node's part.
    pub(super) component: Vec<u32>,
    pub(super) driven: Vec<bool>,
    /// Reference node of each part, by its representative.
    pub(super) reference: Vec<u32>,
    references: Vec<u32>,
    /// Branches whose voltage every case looks at.
    pub(super) watched: Vec<Watched>,
    /// Index into `watched` of each branch.
    pub(super) watch_of: Vec<u32>,
    /// Indices into `watched` of the demands that draw in the base state.
    pub(super) demands: Vec<u32>,
    /// The same with loads that are plain resistances, which only a case that changes many follows.
    pub(super) loads: Vec<u32>,
    pub(super) draws: Vec<bool>,
    /// Branches of `loads`.
    pub(super) is_load: Vec<bool>,
    /// What the limbs of a watched branch show to the trunk: places of the trunk with their share.
    pub(super) shares: Vec<(u32, f64)>,
    /// Loads that share a limb with a watched branch: index into `watched`, and ohms between the two within the limb.
    pub(super) beside: Vec<(u32, f64)>,
    /// Places of the trunk, ascending, and of the limbs: the uppermost place of the limb, `NONE` in the trunk.
    pub(super) trunk: Vec<u32>,
    pub(super) limb: Vec<u32>,
    /// Watched branches by the limb of one of their ends, sorted.
    pub(super) limb_watched: Vec<(u32, u32)>,
    /// Demands that draw nothing in the base state, because nothing feeds them.
    pub(super) idle: Vec<u32>,
    /// Rows of loads that have let go: they could not start, and work in the other state.
    pub(super) let_go: Vec<usize>,
    pub(super) diodes: Vec<u32>,
    pub(super) diode_on: Vec<bool>,
    /// Inputs of converters, and the power that each takes.
    pub(super) inputs: Vec<u32>,
    pub(super) watts: Vec<f64>,
    /// Currents that are driven nowhere in the base state.
    pub(super) silent: Vec<u32>,
    /// The network without demands, made when first asked for.
    without: OnceLock<Option<Without>>,
    /// What the trunk factors, with the limbs eliminated; made when first asked for.
    trunk_matrix: OnceLock<Factor>,
    /// Currents driven between two nodes, which only flow while both are in one part.
    pub(super) drivers_across: Vec<u32>,
    /// What opens what, made when a case first opens anything.
    walks: OnceLock<Walks>,
}

/// What lies beyond each branch, by a walk through the base state.
pub(super) struct Walks {
    pub(super) walk: Bridges,
    /// Ends of drivers that the walk came to before each time.
    drivers: Vec<u32>,
    /// Ends of sources that the walk came to before each time.
    sources: Vec<u32>,
    /// Ends of all but resistances and demands that the walk came to before each time, and of all but resistances that nobody watches.
    others: Vec<u32>,
    marked: Vec<u32>,
    /// Of each branch: the weakest of those that carry its current, where nothing but resistances lies between the two.
    weakest: Vec<u32>,
    /// Demands by when the walk came to each of their ends.
    pub(super) demand_times: Vec<(u32, u32)>,
    /// Blocking diodes by when the walk came to their cathode.
    pub(super) cathode_times: Vec<(u32, u32)>,
}

/// How what opens differs from what carries nothing instead of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Instead {
    /// It feeds demands alone, which carry nothing: a run of the walk is cut off.
    Cut((u32, u32)),
    /// A branch and the weaker one that carries its current: what lies between the two has the voltage of the weaker one's far end.
    Weaker(usize, usize),
}

/// The base state with every demand off: factor, and voltage of each place.
pub(super) struct Without {
    pub(super) work: Work,
    pub(super) volts: Vec<f64>,
}

/// A branch whose voltage every case looks at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Watched {
    pub(super) row: u32,
    /// Places of its ends.
    pub(super) a: u32,
    pub(super) b: u32,
    /// Voltage across it, V.
    pub(super) volts: f64,
    /// Resistance that the network shows at its ends, itself with it.
    pub(super) seen: f64,
    /// Its run of `shares`, and of `beside`.
    pub(super) shares: (u32, u32),
    pub(super) beside: (u32, u32),
}

impl Footing {
    pub(super) fn new(prepared: &Prepared, base: &Point) -> Result<Footing, Fresh> {
        let (design, topology, network) = (prepared.design, &prepared.topology, &prepared.network);
        let has_let_go = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
        let let_go = base.load_state.iter().filter(|(_, state)| has_let_go(state)).map(|(id, _)| ElementId::Load(id));
        let mut let_go: Vec<usize> = let_go.filter_map(|load| topology.branch_of(load)).collect();
        let_go.sort_unstable();
        // What let go is known to stay away where the state in which it works is known as well.
        let plain = base.scenario.before.is_none()
            && base.scenario.shorts.is_empty()
            && base.islands.iter().all(|island| island.outcome.is_settled())
            && base.other_state.len() == let_go.len()
            && (let_go.is_empty() || base.all_on.is_some())
            && let_go.iter().all(|&row| base.other_state.contains(&topology.branches[row].element))
            && !base.converter_state.iter().any(|(_, state)| has_let_go(state));
        if !plain {
            return Err(Fresh::Base);
        }
        let laws = law::laws(design, topology, &prepared.layout, &base.scenario);
        let on = |row: usize| matches!(topology.branches[row].element, ElementId::Diode(id) if base.diode_on[id]);
        let name = |_: usize| String::new();
        let mut settle = Settle::new(network, &laws, &prepared.grounds, &name, &[]);
        let dropped: Vec<(usize, f64)> = let_go.iter().map(|&row| (row, 0.0)).collect();
        settle.resume(base.voltage.clone(), &on, &dropped);
        let rows = laws.len();
        let (current, slope): (Vec<f64>, Vec<f64>) = (0..rows).map(|row| settle.at(row)).unzip();
        let draws: Vec<bool> = (0..rows).map(|row| laws[row].is_demand() && settle.draws(row)).collect();
        // Where nothing draws, nothing is followed.
        let resists = |row: usize| {
            slope[row] != 0.0
                && matches!(laws[row], Law::Conductance { .. })
                && matches!(topology.branches[row].element, ElementId::Load(_))
                && network.from[row] != network.to[row]
        };
        let any = draws.contains(&true);
        let is_load: Vec<bool> = (0..rows).map(|row| draws[row] || any && resists(row)).collect();
        let references = settle.references().to_vec();
        let component = settle.components().to_vec();
        let driven = settle.driven().to_vec();
        let inputs: Vec<u32> = rows_of(&laws, |law| matches!(law, Law::ConverterInput { .. }));
        let watts = inputs.iter().map(|&row| settle.power(row as usize)).collect();
        let joined = settle.into_joined();
        let mut work = network.work();
        network.factor(&slope, &references, &mut work).map_err(|_| Fresh::Unsettled)?;
        let mut volts = vec![0.0; network.nodes];
        for (&at, &v) in network.pattern.place().iter().zip(&base.voltage) {
            volts[at as usize] = v;
        }
        let mut meeting = vec![0.0; network.nodes];
        for (row, slope) in slope.iter().enumerate() {
            for node in [network.from[row], network.to[row]] {
                meeting[network.pattern.place()[node as usize] as usize] += slope.abs();
            }
        }
        let mut reference = vec![NONE; network.nodes];
        for &node in &references {
            if component[node as usize] != NONE {
                reference[component[node as usize] as usize] = node;
            }
        }
        let diodes = rows_of(&laws, |law| matches!(law, Law::Diode { .. }));
        let silent = rows_of(&laws, |law| matches!(law, Law::Injection { .. })).into_iter().filter(|&row| current[row as usize] == 0.0);
        let silent = silent.collect();
        let drivers_across = rows_of(&laws, |law| matches!(law, Law::Injection { .. }));
        let watched: Vec<usize> = (0..rows).filter(|&row| is_watched(prepared, &laws, row)).collect();
        let mut footing = Footing {
            idle: (0..rows).filter(|&row| laws[row].is_demand() && !draws[row] && !let_go.contains(&row)).map(|row| row as u32).collect(),
            let_go,
            diode_on: (0..rows).map(on).collect(),
            laws,
            joined,
            work,
            volts,
            slope,
            current,
            meeting,
            component,
            driven,
            reference,
            references,
            watched: Vec::new(),
            watch_of: vec![NONE; rows],
            demands: Vec::new(),
            loads: Vec::new(),
            draws,
            is_load,
            shares: Vec::new(),
            beside: Vec::new(),
            trunk: Vec::new(),
            limb: Vec::new(),
            limb_watched: Vec::new(),
            diodes,
            inputs,
            watts,
            silent,
            without: OnceLock::new(),
            trunk_matrix: OnceLock::new(),
            drivers_across,
            walks: OnceLock::new(),
        };
        footing.watch(network, &watched);
        Ok(footing)
    }

    /// Parts the elimination tree in trunk and limbs, and works out what each watched branch shows to the trunk.
    fn watch(&mut self, net: &Network, rows: &[usize]) {
        let (pattern, place) = (&net.pattern, net.pattern.place());
        // The trunk carries the ends of more than one branch from each of its places on.
        let mut ends = vec![0u32; net.nodes];
        for &row in rows {
            for node in [net.from[row], net.to[row]] {
                ends[place[node as usize] as usize] += 1;
            }
        }
        let above: Vec<u32> = (0..net.nodes as u32).map(|k| pattern.above(k)).collect();
        for k in 0..net.nodes {
            if above[k] != NONE {
                ends[above[k] as usize] += ends[k];
            }
        }
        self.trunk = (0..net.nodes as u32).filter(|&k| ends[k as usize] > 2).collect();
        self.limb = vec![NONE; net.nodes];
        for k in (0..net.nodes).rev().filter(|&k| ends[k] <= 2) {
            let up = above[k];
            self.limb[k] = if up == NONE || self.limb[up as usize] == NONE { k as u32 } else { self.limb[up as usize] };
        }
        let diagonal = &self.work.factor.diagonal;
        let (mut scratch, mut column) = (vec![0.0; net.nodes], Vec::new());
        // Columns within the limbs, for what branches show to each other there.
        let mut within: Vec<Vec<(u32, f64)>> = Vec::new();
        for &row in rows {
            let (a, b) = (place[net.from[row] as usize], place[net.to[row] as usize]);
            column.clear();
            pattern.climb(&self.work.factor, a, Some(b), &mut scratch, &mut column);
            let seen = column.iter().map(|&(k, w)| w * w / diagonal[k as usize]).sum();
            let start = self.shares.len() as u32;
            column.clear();
            pattern.climb_limbs(&self.work.factor, (a, b), |k| self.limb[k as usize] != NONE, &mut scratch, &mut column, &mut self.shares);
            let index = self.watched.len() as u32;
            self.watch_of[row] = index;
            if self.draws[row] {
                self.demands.push(index);
            }
            if self.is_load[row] {
                self.loads.push(index);
            }
            for k in [a, b] {
                if self.limb[k as usize] != NONE {
                    self.limb_watched.push((self.limb[k as usize], index));
                }
            }
            within.push(column.clone());
            let volts = self.volts[a as usize] - self.volts[b as usize];
            self.watched.push(Watched { row: row as u32, a, b, volts, seen, shares: (start, self.shares.len() as u32), beside: (0, 0) });
        }
        self.limb_watched.sort_unstable();
        self.limb_watched.dedup();
        for index in 0..self.watched.len() {
            let start = self.beside.len() as u32;
            let mut others: Vec<u32> = Vec::new();
            for k in [self.watched[index].a, self.watched[index].b] {
                others.extend(self.in_limb(self.limb[k as usize]).filter(|&other| self.is_load[self.watched[other as usize].row as usize]));
            }
            others.sort_unstable();
            others.dedup();
            for &(k, w) in &within[index] {
                scratch[k as usize] = w / self.work.factor.diagonal[k as usize];
            }
            for other in others {
                let ohms: f64 = within[other as usize].iter().map(|&(k, w)| w * scratch[k as usize]).sum();
                if ohms != 0.0 {
                    self.beside.push((other, ohms));
                }
            }
            for &(k, _) in &within[index] {
                scratch[k as usize] = 0.0;
            }
            self.watched[index].beside = (start, self.beside.len() as u32);
        }
    }

    /// Watched branches with an end in a limb; none for the trunk.
    pub(super) fn in_limb(&self, limb: u32) -> impl Iterator<Item = u32> + '_ {
        let start = if limb == NONE { self.limb_watched.len() } else { self.limb_watched.partition_point(|&(at, _)| at < limb) };
        self.limb_watched[start..].iter().take_while(move |&&(at, _)| at == limb).map(|&(_, index)| index)
    }

    /// What the trunk factors, with the limbs eliminated.
    pub(super) fn trunk_matrix(&self, net: &Network) -> &Factor {
        self.trunk_matrix.get_or_init(|| net.pattern.multiplied(&self.work.factor, &self.trunk))
    }

    /// Ohms between a load and one that shares a limb with it, within the limb.
    pub(super) fn ohms(&self, index: usize, other: usize) -> f64 {
        let (start, end) = self.watched[index].beside;
        self.beside[start as usize..end as usize].iter().find(|&&(at, _)| at as usize == other).map_or(0.0, |&(_, ohms)| ohms)
    }

    /// The load that shares a limb with another. There is no third: a limb holds two ends.
    pub(super) fn mate(&self, index: usize) -> Option<usize> {
        let (start, end) = self.watched[index].beside;
        self.beside[start as usize..end as usize].iter().map(|&(at, _)| at as usize).find(|&at| at != index)
    }

    /// The base state without demands; `None` if it has no solution.
    pub(super) fn without(&self, net: &Network) -> Option<&Without> {
        let make = || {
            let mut work = net.work();
            let conducts = |row: usize| !self.laws[row].is_demand();
            let slope: Vec<f64> = (0..self.laws.len()).map(|row| if conducts(row) { self.slope[row] } else { 0.0 }).collect();
            net.factor(&slope, &self.references, &mut work).ok()?;
            let mut volts = vec![0.0; net.nodes];
            let place = net.pattern.place();
            for row in (0..self.laws.len()).filter(|&row| conducts(row)) {
                // Current that a branch carries with no voltage across it.
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

    /// Whether two nodes are in one part of the base.
    pub(super) fn is_one_part(&self, ends: [u32; 2]) -> bool {
        let [a, b] = ends.map(|node| self.component[node as usize]);
        a == b && a != NONE
    }

    /// Whether a branch drives its part in the base state.
    pub(super) fn drives(&self, row: usize) -> bool {
        drives(&self.laws[row], self.current[row], self.slope[row])
    }

    /// Branches that carry nothing where this one opens alone, if that is all there is to it. Several branches may have the same.
    pub(super) fn instead(&self, prepared: &Prepared, row: usize) -> Option<(Vec<u32>, Instead)> {
        let resists = self.slope[row] != 0.0 && matches!(self.laws[row], Law::Conductance { .. });
        if resists { self.walks(prepared).instead(row) } else { None }
    }

    /// What opens what.
    pub(super) fn walks(&self, prepared: &Prepared) -> &Walks {
        self.walks.get_or_init(|| Walks::new(prepared, self))
    }

    /// The same, if a case has opened anything yet.
    pub(super) fn known_walks(&self) -> Option<&Walks> {
        self.walks.get()
    }
}

impl Walks {
    fn new(prepared: &Prepared, footing: &Footing) -> Walks {
        let (topology, network) = (&prepared.topology, &prepared.network);
        let Footing { laws, slope, draws, diode_on, .. } = footing;
        let rows = laws.len();
        let drives = |row: usize| footing.drives(row);
        let roots: Vec<u32> = (0..rows).filter(|&row| drives(row)).map(|row| network.from[row]).collect();
        let walk = Bridges::new(
            (&network.from, &network.to),
            network.nodes,
            &|row| slope[row] != 0.0 && !laws[row].is_demand(),
            &|node| topology.meeting(NodeId(node)),
            roots.into_iter(),
        );
        let ends_before = |test: &dyn Fn(usize) -> bool| {
            let mut count = vec![0u32; network.nodes + 1];
            for row in (0..rows).filter(|&row| test(row)) {
                for node in [network.from[row], network.to[row]] {
                    count[walk.came[node as usize] as usize + 1] += 1;
                }
            }
            for k in 0..network.nodes {
                count[k + 1] += count[k];
            }
            count
        };
        let drivers = ends_before(&drives);
        let sources = ends_before(&|row| matches!(laws[row], Law::Emf { .. }));
        let others = ends_before(&|row| match laws[row] {
            Law::Open | Law::Conductance { .. } => false,
            law => !law.is_demand() || matches!(law, Law::ConverterInput { .. }),
        });
        let marked = ends_before(&|row| is_watched(prepared, laws, row) || !matches!(laws[row], Law::Open | Law::Conductance { .. }));
        let time = |node: u32| walk.came[node as usize];
        let mut demand_times: Vec<(u32, u32)> = (0..rows)
            .filter(|&row| draws[row])
            .flat_map(|row| [network.from[row], network.to[row]].map(|node| (time(node), row as u32)))
            .collect();
        demand_times.sort_unstable();
        let blocking = footing.diodes.iter().filter(|&&row| !diode_on[row as usize]);
        let mut cathode_times: Vec<(u32, u32)> = blocking.map(|&row| (time(network.to[row as usize]), row)).collect();
        cathode_times.sort_unstable();
        let weakest = vec![NONE; rows];
        let mut walks = Walks { walk, drivers, sources, others, marked, weakest, demand_times, cathode_times };
        walks.find_weakest(network, footing);
        walks
    }

    /// Finds for each resistance the weakest of those that carry its current.
    fn find_weakest(&mut self, net: &Network, footing: &Footing) {
        let resistance = |row: usize| matches!(footing.laws[row], Law::Conductance { .. });
        let loops = |row: usize| self.walk.loops(row).filter(|_| resistance(row));
        let mut by_loop: Vec<(u64, usize)> = (0..footing.laws.len()).filter_map(|row| Some((loops(row)?, row))).collect();
        by_loop.sort_unstable();
        for alike in by_loop.chunk_by(|a, b| a.0 == b.0) {
            let Some(&(_, weakest)) = alike.iter().min_by(|a, b| footing.slope[a.1].total_cmp(&footing.slope[b.1])) else { continue };
            for &(_, row) in alike.iter().filter(|&&(_, row)| row != weakest) {
                let parts = self.walk.between(row, weakest);
                let [run, less] = parts.map(|(first, last)| self.marked[last as usize] - self.marked[first as usize]);
                let own = if footing.watch_of[weakest] == NONE { [NONE; 2] } else { [net.from[weakest], net.to[weakest]] };
                let own = own.into_iter().filter(|&node| node != NONE && self.is_between(parts, node)).count();
                if (run - less) as usize == own {
                    self.weakest[row] = weakest as u32;
                }
            }
        }
    }

    /// Whether a node lies in what [`Bridges::between`] gave.
    pub(super) fn is_between(&self, [run, less]: [(u32, u32); 2], node: u32) -> bool {
        let came = self.walk.came[node as usize];
        (run.0..run.1).contains(&came) && !(less.0..less.1).contains(&came)
    }

    fn instead(&self, row: usize) -> Option<(Vec<u32>, Instead)> {
        let Some(run) = self.walk.run_beyond(row) else {
            return Some(self.weakest[row]).filter(|&other| other != NONE).map(|other| (vec![other], Instead::Weaker(row, other as usize)));
        };
        if self.others[run.1 as usize] > self.others[run.0 as usize] {
            return None;
        }
        let mut lost: Vec<u32> = Walks::within(&self.demand_times, run).collect();
        lost.sort_unstable();
        lost.dedup();
        (lost.len() <= MOST).then_some((lost, Instead::Cut(run)))
    }

    /// Ends of drivers in a run of the walk.
    pub(super) fn drivers_within(&self, (first, last): (u32, u32)) -> u32 {
        self.drivers[last as usize] - self.drivers[first as usize]
    }

    /// Ends of sources in a run of the walk.
    pub(super) fn sources_within(&self, (first, last): (u32, u32)) -> u32 {
        self.sources[last as usize] - self.sources[first as usize]
    }

    /// Members of a list by time that fall in a run of the walk.
    pub(super) fn within(list: &[(u32, u32)], (first, last): (u32, u32)) -> impl Iterator<Item = u32> + '_ {
        let start = list.partition_point(|&(time, _)| time < first);
        list[start..].iter().take_while(move |&&(time, _)| time < last).map(|&(_, what)| what)
    }
}

/// Whether every case looks at the voltage of a branch.
fn is_watched(prepared: &Prepared, laws: &[Law], row: usize) -> bool {
    let of = prepared.topology.branches[row].element;
    prepared.network.from[row] != prepared.network.to[row]
        && (laws[row].is_demand()
            || matches!(laws[row], Law::Diode { .. } | Law::ConverterOutput { .. })
            || matches!(of, ElementId::Receiver(_) | ElementId::Load(_) | ElementId::Source(_)))
}

fn rows_of(laws: &[Law], test: impl Fn(&Law) -> bool) -> Vec<u32> {
    (0..laws.len() as u32).filter(|&row| test(&laws[row as usize])).collect()
}

fn drives(law: &Law, current: f64, slope: f64) -> bool {
    match law {
        Law::Emf { .. } => true,
        Law::ConverterOutput { .. } | Law::Injection { .. } => current != 0.0 || slope != 0.0,
        _ => false,
    }
}
