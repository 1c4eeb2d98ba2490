//! States close to a settled one, on the factor of the settled one.
//!
//! A case changes few branches: a wire opens, a short joins two nodes, a breaker opens. Its changed branches are an exact
//! low-rank update of the base state's Jacobian; all other laws that bend follow by chord steps on that same
//! factor. A load that falls below its drop-out voltage, and a diode that turns, become changed branches themselves, in the
//! order in which a fresh solution takes them. A part that a bridge cuts off without a source loses its loads and needs no
//! further change. What this cannot settle is said ([`Fresh`]) and solved afresh.
//!
//! The top of the elimination tree, its *trunk*, is a twentieth of a vehicle's nodes: below it hang *limbs* of a feed, its
//! contacts and its return, with the ends of one or two loads. What a limb shows to the trunk is worked out once for each base
//! state, so that a case solves the trunk alone and touches only the limbs that it changes.
//!
//! Of branches that carry the same current the weakest goes in the stead of the one that opens, since a strong one that is gone leaves few digits; and where a
//! case is the one before but for what is cut off, as with another branch of the same feed, it is not solved again ([`Room::repeated`]).
//!
//! Where many loads change and nothing else does, as with all of them off, they are no branches of the update: steps follow them to their other laws
//! as they follow what bends, and end on all branches to the last digits.
//!
//! Where chord steps shrink too slowly, because much sags, the slopes of the demands are taken anew. They change what the limbs show to
//! the trunk by a known amount, so that the trunk alone is factored again (Newton's steps, which come down on the true state from above).
//!
//! Conductors stay as warm as in the base state, unless a scenario says otherwise.
//!
//! Cost of a case: the ways from the changed nodes to the root of the elimination tree, and for every chord step a solution on
//! the trunk and a few operations for each load. There are one or two steps where no load moves by more than tenths of a volt.

mod case;
mod footing;
mod in_sight;

use crate::law::Law;
use crate::network::Network;
use crate::settle::Settle;
use crate::{Prepared, law, point};
use case::Case;
pub use case::Room;
use footing::Footing;
pub(crate) use in_sight::Sight;
use model::*;
use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

const NONE: u32 = u32::MAX;
/// Voltage by which a node may stand off the balance of its currents, V: a net under the update, not its accuracy.
const UNBALANCED: f64 = 1e-7;

/// Why a case has to be solved afresh.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fresh {
    /// The base state has loads that let go under load, or a part that did not settle; or other loads than there could not start.
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
    /// The base's other state, in which every load works.
    all_on: Option<Box<Near<'a, 'd>>>,
    /// Of the base, or of its other state.
    of: usize,
    foothold: Foothold,
}

/// What cases of one settled state stand on, made when the first of them asks for it: several [`Near`] of the state may share it.
#[derive(Clone, Default)]
pub struct Foothold(Arc<[OnceLock<Result<Footing, Fresh>>; 2]>);

/// What changes: laws of branches, and branches between nodes that the design does not have.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Change {
    /// Branches by row in [`Prepared::branches`] with the law they follow.
    pub laws: Vec<(usize, Law)>,
    /// Branches between nodes, S.
    pub joined: Vec<(NodeId, NodeId, f64)>,
}

impl Change {
    /// A branch opens.
    pub fn open(row: usize) -> Change {
        Change { laws: vec![(row, Law::Open)], joined: Vec::new() }
    }
}

impl<'a, 'd> Near<'a, 'd> {
    pub(crate) fn new(prepared: &'a Prepared<'d>, base: &'a Point, foothold: Foothold) -> Near<'a, 'd> {
        let all_on = base.all_on.as_ref().filter(|all_on| all_on.scenario == base.scenario);
        let all_on = all_on.map(|base| Box::new(Near { prepared, base, all_on: None, of: 1, foothold: foothold.clone() }));
        Near { prepared, base, all_on, of: 0, foothold }
    }

    /// What every case starts from. Cost, once: a factorisation and passes over nodes and branches; a case then costs a small
    /// part of that.
    fn footing(&self) -> Result<&Footing, Fresh> {
        self.foothold.0[self.of].get_or_init(|| Footing::new(self.prepared, self.base)).as_ref().map_err(|&fresh| fresh)
    }

    /// The settled state.
    pub fn base(&self) -> &Point {
        self.base
    }

    /// Settles a scenario that differs from the base in few elements.
    pub fn point(&self, scenario: &Scenario) -> Point {
        self.try_point(scenario, &mut self.room()).unwrap_or_else(|_| self.afresh(scenario))
    }

    /// The same, where nobody asks how much power a part without an operating point could have: that costs more than all else.
    pub fn roughly(&self, scenario: &Scenario) -> Point {
        self.try_point(scenario, &mut self.room()).unwrap_or_else(|_| self.roughly_afresh(scenario))
    }

    /// Settles a scenario by factorisations of its own, which begin at the base state; where that leaves a part unsettled, at nothing.
    pub fn afresh(&self, scenario: &Scenario) -> Point {
        self.anew(scenario, point::point)
    }

    /// The same, where nobody asks how much power a part without an operating point could have.
    pub fn roughly_afresh(&self, scenario: &Scenario) -> Point {
        self.anew(scenario, point::roughly)
    }

    fn anew(&self, scenario: &Scenario, point: impl Fn(&Prepared, &Scenario, Option<&Point>) -> Point) -> Point {
        let (scenario, settled) = (self.as_warm(scenario), |point: &Point| point.islands.iter().all(|island| island.outcome.is_settled()));
        let near = point(self.prepared, &scenario, Some(self.base));
        let let_go = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
        let all_stay =
            !near.load_state.iter().any(|(_, state)| let_go(state)) && !near.converter_state.iter().any(|(_, state)| let_go(state));
        // How far a part without an operating point got hangs on where the search began, and so does the voltage at which a load lets go: what is said
        // of them begins at nothing.
        if settled(&near) && all_stay || !settled(self.base) { near } else { point(self.prepared, &scenario, None) }
    }

    /// The scenario with the base's conductor temperatures where it states none: copper does not follow a switch at once.
    fn as_warm<'s>(&self, scenario: &'s Scenario) -> Cow<'s, Scenario> {
        match (&scenario.conductors, &self.base.scenario.conductors) {
            (None, Some(warm)) => Cow::Owned(Scenario { conductors: Some(warm.clone()), ..scenario.clone() }),
            _ => Cow::Borrowed(scenario),
        }
    }

    /// Settles a scenario on the base's factor.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub fn try_point(&self, scenario: &Scenario, room: &mut Room) -> Result<Point, Fresh> {
        let footing = self.footing()?;
        if scenario.before.is_some() {
            return Err(Fresh::Base);
        }
        let scenario = &*self.as_warm(scenario);
        let (laws, change) = self.changed(footing, scenario);
        let settled = self.case(footing, &change, room, |case| {
            case.settle(&change)?;
            case.everywhere_closely()
        });
        if let (Err(_), Some(near), Some(room)) = (settled, &self.all_on, &mut room.all_on) {
            // All loads may work here and could have started: then there is one state only.
            return near.try_point(scenario, room);
        }
        settled?;
        let more: Vec<(u32, u32, f64)> = change.joined.iter().map(|&(a, b, g)| (a.0, b.0, g)).collect();
        let network = (!more.is_empty()).then(|| self.prepared.network.extended(&more));
        let network = network.as_ref().unwrap_or(&self.prepared.network);
        let all_on = match (&self.all_on, &mut room.all_on) {
            (Some(near), Some(room)) => {
                let footing = near.footing()?;
                near.on(footing, &change, room, true).everywhere_closely()?;
                Some(Arc::new(near.whole(footing, scenario, laws.clone(), network, room)?))
            }
            _ => None,
        };
        Ok(Point { all_on, ..self.whole(footing, scenario, laws, network, room)? })
    }

    /// Room for cases of this base.
    pub fn room(&self) -> Room {
        Room::new(self.prepared.network.nodes, self.footing().ok())
    }

    /// Settles a case; its numbers stay in `room` until the next one.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub fn settle(&self, change: &Change, room: &mut Room) -> Result<(), Fresh> {
        let footing = self.footing()?;
        self.case(footing, change, room, |case| case.settle(change))
    }

    /// Settles a case; gives the currents of branches that have a resistance, from their first end to the other, A.
    ///
    /// Cost: a case and a backward solution over all nodes.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub fn currents(&self, change: &Change, rows: &[usize], room: &mut Room) -> Result<Vec<f64>, Fresh> {
        let footing = self.footing()?;
        self.case(footing, change, room, |case| {
            case.settle(change)?;
            case.everywhere();
            Ok(())
        })?;
        let across = self.across(room);
        let current = |&row: &usize| {
            let law = change.laws.iter().find(|(of, _)| *of == row).map_or(footing.laws[row], |&(_, law)| law);
            match law {
                Law::Open => Ok(0.0),
                Law::Conductance { .. } if room.is_cut(footing, self.prepared.network.from[row]) => Ok(0.0),
                Law::Conductance { g } => Ok(g * across(row)),
                _ => Err(Fresh::Unsettled),
            }
        };
        rows.iter().map(current).collect()
    }

    /// What cases of a base without laws that bend look at: these branches, and diodes. `None` where the base is no footing.
    pub(crate) fn sight(&self, rows: impl Iterator<Item = usize>) -> Option<Sight> {
        Some(Sight::new(&self.prepared.network, self.footing().ok()?, rows))
    }

    /// Settles a case as [`Near::settle`] does, with the voltages of what is in sight, of the branches `also` and of what changes.
    ///
    /// Cost: where no law of the base bends a solution on what is in sight; else a case and a backward solution over all nodes.
    ///
    /// # Errors  Why this one has to be solved afresh.
    pub(crate) fn settle_in_sight(&self, change: &Change, sight: &Sight, also: &[usize], room: &mut Room) -> Result<(), Fresh> {
        let footing = self.footing()?;
        self.case(footing, change, room, |case| {
            if !case.at_once(change, sight, also) {
                case.settle(change)?;
                case.everywhere();
            }
            Ok(())
        })
    }

    /// Laws of the base state, by row of [`Prepared::branches`]; `None` where it is no footing for cases.
    pub(crate) fn laws(&self) -> Option<&[Law]> {
        self.footing().ok().map(|footing| &footing.laws[..])
    }

    /// Voltage from one node to another in the case that [`Near::settle_in_sight`] left in `room`; `None` where one of them is cut off from
    /// every source or they lie in two parts.
    pub(crate) fn between(&self, room: &Room, a: NodeId, b: NodeId) -> Option<f64> {
        let footing = self.footing().ok()?;
        if room.is_apart(footing, [a.0, b.0]) {
            return None;
        }
        let place = self.prepared.network.pattern.place();
        let volts = |node: NodeId| {
            let at = place[node.row()] as usize;
            footing.volts[at] + room.everywhere[at]
        };
        Some(volts(a) - volts(b))
    }

    /// Voltages across branches that were in sight in the case that [`Near::settle_in_sight`] left in `room`, V. Zero without a footing.
    pub(crate) fn across<'r>(&'r self, room: &'r Room) -> impl Fn(usize) -> f64 + 'r {
        let (footing, network) = (self.footing().ok(), &self.prepared.network);
        let place = network.pattern.place();
        move |row| {
            let Some(footing) = footing else { return 0.0 };
            let [a, b] = [network.from[row], network.to[row]].map(|node| place[node as usize] as usize);
            footing.volts[a] + room.everywhere[a] - footing.volts[b] - room.everywhere[b]
        }
    }

    /// Voltage across the branch of a load, receiver, diode, source or converter in the case that `room` holds; `None` for one
    /// that nothing feeds, that is cut off from every source or lies between two parts, and for any other branch. Behind a
    /// diode that carries nothing, what is off may show the voltage beyond it, which [`Near::point`] leaves out.
    pub fn volts(&self, room: &Room, row: usize) -> Option<f64> {
        let footing = self.footing().ok()?;
        let ends = [self.prepared.network.from[row], self.prepared.network.to[row]];
        if room.is_apart(footing, ends) {
            return None;
        }
        let index = footing.watch_of[row];
        (index != NONE && !room.is_unfed(index as usize))
            .then(|| footing.watched[index as usize].volts + room.moved(footing, index as usize))
    }

    /// Current of a short without resistance between two nodes, with every load off and every diode as in the base state: the
    /// voltage that stands between them over the resistance that the network shows there. `None` where nothing joins them.
    ///
    /// Cost: the ways from the two nodes to the root of the elimination tree.
    pub fn prospective(&self, room: &mut Room, a: NodeId, b: NodeId) -> Option<f64> {
        let footing = self.footing().ok()?;
        let component = footing.component[a.row()];
        if component == NONE || component != footing.component[b.row()] || a == b {
            return None;
        }
        let (pattern, without) = (&self.prepared.network.pattern, footing.without(&self.prepared.network)?);
        let (a, b) = (pattern.place()[a.row()], pattern.place()[b.row()]);
        let ohms = room.seen(pattern, &without.work.factor, a, b);
        Some((without.volts[a as usize] - without.volts[b as usize]) / ohms)
    }

    /// Branches of loads that let go in the case that `room` holds, and the voltage they did at.
    pub fn dropped<'r>(&self, room: &'r Room) -> &'r [(usize, f64)] {
        &room.dropped
    }

    /// In what a scenario differs from the base.
    ///
    /// # Errors  The base state or the scenario has a history.
    pub fn change(&self, scenario: &Scenario) -> Result<Change, Fresh> {
        let footing = self.footing()?;
        if scenario.before.is_some() {
            return Err(Fresh::Base);
        }
        Ok(self.changed(footing, &self.as_warm(scenario)).1)
    }

    /// The laws of a scenario, and in what they differ from the base's.
    fn changed(&self, footing: &Footing, scenario: &Scenario) -> (Vec<Law>, Change) {
        let known = (&self.base.scenario, &footing.laws[..]);
        let mut laws = law::laws_beside(self.prepared.design, &self.prepared.topology, &self.prepared.layout, scenario, known);
        let more = point::shorts(self.prepared, scenario, &mut laws);
        let differ = |(row, (law, base)): (usize, (&Law, &Law))| (law != base).then_some((row, *law));
        let changed = laws.iter().zip(&footing.laws).enumerate().filter_map(differ).collect();
        laws.extend(more.iter().map(|&(_, _, g)| Law::Conductance { g }));
        (laws, Change { laws: changed, joined: more.into_iter().map(|(a, b, g)| (NodeId(a), NodeId(b), g)).collect() })
    }

    fn case<T>(
        &self,
        footing: &Footing,
        change: &Change,
        room: &mut Room,
        work: impl FnOnce(&mut Case) -> Result<T, Fresh>,
    ) -> Result<T, Fresh> {
        if let Some(near) = &self.all_on {
            let mut all_on = room.all_on.take().unwrap_or_else(|| Box::new(near.room()));
            let held = self.holds(near, footing, change, &mut all_on);
            room.all_on = Some(all_on);
            held?;
        }
        let mut case = self.on(footing, change, room, false);
        let done = work(&mut case)?;
        case.let_go()?;
        Ok(done)
    }

    /// Makes sure that the case has two states as the base has: in the one where every load works, those that let go in the base, and no others,
    /// could not have started.
    fn holds(&self, near: &Near, footing: &Footing, change: &Change, room: &mut Room) -> Result<(), Fresh> {
        let mut case = near.on(near.footing()?, change, room, true);
        case.settle(change)?;
        let touches = change.laws.iter().any(|(row, _)| footing.let_go.contains(row));
        room.held.sort_unstable();
        if touches || !room.dropped.is_empty() || room.held != footing.let_go { Err(Fresh::Base) } else { Ok(()) }
    }

    fn on<'c>(&'c self, footing: &'c Footing, change: &'c Change, room: &'c mut Room, may_hold: bool) -> Case<'c> {
        let alone = change.laws.len() + change.joined.len() == 1;
        Case { net: &self.prepared.network, footing, room, joined: &change.joined, prepared: self.prepared, alone, may_hold }
    }

    /// The point of the case in `room`, as a fresh solution would give it.
    fn whole(&self, footing: &Footing, scenario: &Scenario, laws: Vec<Law>, network: &Network, room: &Room) -> Result<Point, Fresh> {
        let prepared = self.prepared;
        let name = |row: usize| prepared.topology.branches.get(row).map_or_else(String::new, |b| prepared.design.element_words(b.element));
        let place = network.pattern.place();
        let volts: Vec<f64> = place.iter().map(|&at| footing.volts[at as usize] + room.everywhere[at as usize]).collect();
        let mut settle = Settle::new(network, &laws, &prepared.grounds, &name, &[]);
        let alike = laws.len() == footing.laws.len() && laws.iter().zip(&footing.laws).all(|(law, base)| law.conducts() == base.conducts());
        if let Some(joined) = footing.joined.as_ref().filter(|_| alike) {
            settle.join(joined.clone());
        }
        settle.resume(volts, &|row| room.diode_on[row], &room.dropped);
        let solution = settle.finish_if_balanced(UNBALANCED).ok_or(Fresh::Unsettled)?;
        let mut other_state: Vec<usize> =
            if footing.let_go.is_empty() { Vec::new() } else { room.dropped.iter().map(|&(row, _)| row).collect() };
        other_state.sort_unstable();
        let other_state = other_state.into_iter().map(|row| prepared.topology.branches[row].element).collect();
        Ok(point::assemble(prepared, scenario, &laws, network, solution, other_state))
    }
}
