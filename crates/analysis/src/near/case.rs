//! One case: its changed branches, and the steps to where it settles.

use super::footing::{Footing, Instead, Walks};
use super::in_sight::Looking;
use super::{Change, Fresh, NONE};
use crate::law::Law;
use crate::ldlt::{Factor, Pattern};
use crate::network::Network;
use crate::settle::{DIODE_CURRENT, DIODE_VOLTAGE, FED};
use crate::update::{MOST, Update};
use crate::{Prepared, Sets};
use model::NodeId;

/// Chord steps before a case is solved afresh, and those in a row that may come no closer.
const STEPS: usize = 40;
const ASTRAY: usize = 4;
/// Rounds of diodes and drop-outs before a case is solved afresh.
const ROUNDS: usize = 60;
/// Loads up to which a change of their laws is one of branches.
const FEW: usize = 8;
/// Bound on the voltage that the laws not yet met could still move, V.
const SETTLED: f64 = 4e-9;
/// The same on slopes of the case's own, where much has moved: a diode that feeds nothing has to be told from one that feeds little.
const SETTLED_BENT: f64 = 4e-10;
/// Share of the bound before that a step may leave and still count as quick, and bound within which it may be rounding noise, V.
const QUICK: f64 = 0.25;
const ROUNDING: f64 = 1e-6;
/// How often the slopes of a case may be taken anew.
const BENDS: usize = 30;
/// Pivot of an update from which on cancellation may count; and volts, times the resistance across an opened branch, times the
/// conductance that meets at its ends, from which on it is made good by steps on all branches: what was opened then hangs on so much
/// resistance that the factor, which holds it beside milliohms, knows it to too few digits. With 16 digits, a hundredth of a microvolt.
const CANCELLED: f64 = 1e-2;
const LOOSE: f64 = 3e7;
/// Steps that make good what cancelled; the second moves by rounding noise. And how close they come where it counts, V: microvolts across a diode are
/// what a megohm draws behind it.
const REFINEMENTS: usize = 3;
const REFINED: f64 = 1e-10;
const NOISE: f64 = 1e-12;

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

/// A branch that the case changes, or that shares a limb with one.
#[derive(Clone, Copy, Debug)]
struct Special {
    /// Row of the design's branch; none for a short or a reference.
    row: Option<usize>,
    law: Law,
    mode: Mode,
    slope: f64,
    base_slope: f64,
    /// Current that the present linear model has in it.
    model: f64,
    /// Voltage across it in the base state, and how far that has moved.
    volts: f64,
    moved: f64,
    /// Sum of the currents driven through it, beside its share of the update.
    driven: f64,
}

/// A case of branches that carry nothing, and how it ended.
struct Known {
    gone: Vec<u32>,
    may_hold: bool,
    outcome: Result<(), Fresh>,
}

/// What one case needs while it is settled, reused from case to case.
pub struct Room {
    pub(super) update: Update,
    /// Right-hand side by place, zero between two solutions; the solution; its sum over the steps, on the trunk.
    pub(super) y: Vec<f64>,
    x: Vec<f64>,
    sum: Vec<f64>,
    special: Vec<Special>,
    injected: Vec<f64>,
    way: Vec<(u32, f64)>,
    /// Of each watched branch: its special branch, or `NONE`.
    special_of: Vec<u32>,
    /// Of each watched demand: current in the linear model, voltage it was made at, what its law differs by, and the sum of
    /// the differences driven.
    model: Vec<f64>,
    last: Vec<f64>,
    residual: Vec<f64>,
    driven: Vec<f64>,
    /// How far the last could move a voltage, V.
    other: f64,
    /// Of each watched branch, where many loads follow another law than in the base: its law. Empty where few do.
    laws: Vec<Law>,
    /// Whether some of them are resistances, or were, and are others now: they conduct where no demand draws.
    resists_otherwise: bool,
    /// Of each watched demand: its slope in the factor.
    slope: Vec<f64>,
    /// The factor with the slopes of demands where the case stood, once those of the base did not serve.
    bent: Option<Factor>,
    is_bent: bool,
    bends: usize,
    /// Number of special branches then.
    bent_with: usize,
    /// Places in limbs that the changes touch, last first.
    touched: Vec<u32>,
    /// The case, where another may be the same; and the branch that opens in it with the weaker one that stands for it.
    known: Option<Known>,
    repeated: usize,
    weaker: Option<(usize, usize)>,
    /// Runs of the walk that are cut off without a source, and those that stand alone with one, beyond which branch.
    cut: Vec<(u32, u32)>,
    split: Vec<((u32, u32), usize)>,
    /// Rows of loads that let go, with the voltage they did at.
    pub(super) dropped: Vec<(usize, f64)>,
    /// Rows of loads that work and could not have started.
    pub(super) held: Vec<usize>,
    /// Room for the case in the state in which every load works, where the base has two.
    pub(super) all_on: Option<Box<Room>>,
    /// Blocking diodes that are gone.
    lost_diodes: Vec<usize>,
    /// Special branches of loads that nothing feeds in this case.
    unfed: Vec<usize>,
    /// The case without demands: its update, the currents of its changes, and whether both stand.
    without: Update,
    without_weights: Vec<f64>,
    without_known: bool,
    pub(super) diode_on: Vec<bool>,
    /// Parts that the case has joined: from, into.
    merged: Vec<(u32, u32)>,
    watts: Vec<f64>,
    /// How far every place has moved, where that was asked for or needed.
    pub(super) everywhere: Vec<f64>,
    pub(super) is_everywhere: bool,
    pub(super) looking: Looking,
}

impl Room {
    pub(super) fn new(nodes: usize, footing: Option<&Footing>) -> Room {
        let watched = footing.map_or(0, |footing| footing.watched.len());
        Room {
            update: Update::new(nodes),
            y: vec![0.0; nodes],
            x: vec![0.0; nodes],
            sum: vec![0.0; nodes],
            special: Vec::new(),
            injected: Vec::new(),
            way: Vec::new(),
            special_of: vec![NONE; watched],
            model: vec![0.0; watched],
            last: vec![0.0; watched],
            residual: vec![0.0; watched],
            driven: vec![0.0; watched],
            other: 0.0,
            laws: Vec::new(),
            resists_otherwise: false,
            slope: vec![0.0; watched],
            bent: None,
            is_bent: false,
            bends: 0,
            bent_with: 0,
            touched: Vec::new(),
            known: None,
            repeated: 0,
            weaker: None,
            cut: Vec::new(),
            split: Vec::new(),
            dropped: Vec::new(),
            held: Vec::new(),
            all_on: None,
            lost_diodes: Vec::new(),
            unfed: Vec::new(),
            without: Update::new(nodes),
            without_weights: Vec::new(),
            without_known: false,
            diode_on: Vec::new(),
            merged: Vec::new(),
            watts: Vec::new(),
            everywhere: vec![0.0; nodes],
            is_everywhere: false,
            looking: Looking::default(),
        }
    }

    /// How many cases were the same as the one before but for what they cut off, and needed no solution.
    pub fn repeated(&self) -> usize {
        self.repeated
    }

    /// The factor that the case is on.
    fn factor<'r>(bent: &'r Option<Factor>, is_bent: bool, footing: &'r Footing) -> &'r Factor {
        bent.as_ref().filter(|_| is_bent).unwrap_or(&footing.work.factor)
    }

    /// Resistance that a factored network shows between two places.
    pub(super) fn seen(&mut self, pattern: &Pattern, factor: &Factor, a: u32, b: u32) -> f64 {
        self.way.clear();
        pattern.climb(factor, a, Some(b), &mut self.y, &mut self.way);
        self.way.iter().map(|&(k, w)| w * w / factor.diagonal[k as usize]).sum()
    }

    pub(super) fn is_cut(&self, footing: &Footing, node: u32) -> bool {
        // Nothing is cut off before there are walks to say what.
        footing.known_walks().is_some_and(|walks| {
            let came = walks.walk.came[node as usize];
            self.cut.iter().any(|&(first, last)| (first..last).contains(&came))
        })
    }

    /// Part of a node, with those that the case has joined taken as one and those that it has split told apart; a node that
    /// nothing conducts to is its own.
    fn component(&self, footing: &Footing, node: u32) -> u32 {
        let mut component = footing.component[node as usize];
        if component == NONE {
            component = node;
        }
        let is_in = |&((first, last), _): &((u32, u32), usize)| {
            footing.known_walks().is_some_and(|walks| (first..last).contains(&walks.walk.came[node as usize]))
        };
        if let Some(at) = self.split.iter().rposition(is_in) {
            component = (self.y.len() + at) as u32;
        }
        while let Some(&(_, into)) = self.merged.iter().find(|&&(from, _)| from == component) {
            component = into;
        }
        component
    }

    /// Whether nothing feeds a watched branch in this case.
    pub(super) fn is_unfed(&self, index: usize) -> bool {
        self.special_of[index] != NONE && self.unfed.contains(&(self.special_of[index] as usize))
    }

    /// Whether no voltage stands between two nodes: one is cut off from every source, or they are in two parts.
    pub(super) fn is_apart(&self, footing: &Footing, [a, b]: [u32; 2]) -> bool {
        self.is_cut(footing, a) || self.is_cut(footing, b) || self.component(footing, a) != self.component(footing, b)
    }

    /// How far the voltage of a watched branch has moved.
    pub(super) fn moved(&self, footing: &Footing, index: usize) -> f64 {
        let watched = &footing.watched[index];
        if self.is_everywhere {
            return self.everywhere[watched.a as usize] - self.everywhere[watched.b as usize];
        }
        match self.special_of[index] {
            NONE => {
                let shares = &footing.shares[watched.shares.0 as usize..watched.shares.1 as usize];
                let beside = &footing.beside[watched.beside.0 as usize..watched.beside.1 as usize];
                let trunk: f64 = shares.iter().map(|&(k, share)| share * self.sum[k as usize]).sum();
                trunk + beside.iter().map(|&(other, ohms)| ohms * self.driven[other as usize]).sum::<f64>()
            }
            at => self.special[at as usize].moved,
        }
    }
}

/// One case in its room.
pub(super) struct Case<'c> {
    pub(super) net: &'c Network,
    pub(super) footing: &'c Footing,
    pub(super) room: &'c mut Room,
    /// Branches that the change adds.
    pub(super) joined: &'c [(NodeId, NodeId, f64)],
    /// Knows the name of a row, by which equal candidates are taken.
    pub(super) prepared: &'c Prepared<'c>,
    /// Whether the change is one branch only.
    pub(super) alone: bool,
    /// Whether loads may work that could not have started: they are held in the room then.
    pub(super) may_hold: bool,
}

impl<'c> Case<'c> {
    /// Settles the case, or finds that the one before is the same but for what is cut off.
    pub(super) fn settle(&mut self, change: &Change) -> Result<(), Fresh> {
        let alone = match (&change.laws[..], &change.joined[..]) {
            (&[(row, Law::Open)], []) => self.footing.instead(self.prepared, row),
            _ => None,
        };
        let Some((gone, instead)) = alone else {
            self.clear();
            if self.is_of_many_loads(change) {
                self.follow_other_laws(change);
                return self.run();
            }
            // What opens first: a load that it cuts off draws nothing, whatever its law.
            let is_load = |&&(row, law): &&(usize, Law)| self.footing.laws[row].is_demand() || law.is_demand();
            let (loads, others): (Vec<_>, Vec<_>) = change.laws.iter().partition(is_load);
            for (row, law) in others.into_iter().chain(loads) {
                self.change(row, law)?;
            }
            for &(a, b, g) in &change.joined {
                self.join(None, a.0, b.0, Law::Conductance { g })?;
            }
            return self.run();
        };
        let known =
            self.room.known.as_ref().filter(|known| known.gone == gone && known.may_hold == self.may_hold && !self.room.is_everywhere);
        let outcome = match known {
            Some(known) => {
                self.room.repeated += 1;
                known.outcome
            }
            None => {
                self.clear();
                gone.iter().try_for_each(|&row| self.special(row as usize, Law::Open, Mode::Gone)).and_then(|()| self.run())
            }
        };
        self.room.known = Some(Known { gone, may_hold: self.may_hold, outcome });
        self.room.cut.clear();
        self.room.weaker = None;
        match instead {
            Instead::Cut(run) => self.room.cut.push(run),
            Instead::Weaker(row, other) => {
                self.room.weaker = Some((row, other));
                let at = self.room.special.iter().position(|special| special.row == Some(other));
                if let Some(special) = at.map(|at| &mut self.room.special[at]) {
                    special.moved = -special.volts;
                }
                if self.room.is_everywhere {
                    self.follow_weaker();
                }
            }
        }
        outcome
    }

    /// What lies between a branch that opens and the weaker one that stands for it goes where that one carries nothing.
    fn follow_weaker(&mut self) {
        let Some((row, other)) = self.room.weaker else { return };
        let (net, walks) = (self.net, self.walks());
        let parts = walks.walk.between(row, other);
        let (a, b) = self.places(other);
        let across = self.base_across(other) + self.room.everywhere[a as usize] - self.room.everywhere[b as usize];
        let more = if walks.is_between(parts, net.from[other]) { -across } else { across };
        for (node, &at) in net.pattern.place().iter().enumerate() {
            if walks.is_between(parts, node as u32) {
                self.room.everywhere[at as usize] += more;
            }
        }
    }

    fn clear(&mut self) {
        self.clear_parts();
        let (room, footing) = (&mut *self.room, self.footing);
        room.update.clear();
        room.looking.standing.clear();
        for &k in &footing.trunk {
            room.sum[k as usize] = 0.0;
        }
        for special in room.special.drain(..) {
            if let Some(index) = special.row.map(|row| footing.watch_of[row]).filter(|&index| index != NONE) {
                room.special_of[index as usize] = NONE;
            }
        }
        for &index in &footing.loads {
            let (index, watched) = (index as usize, &footing.watched[index as usize]);
            room.model[index] = footing.current[watched.row as usize];
            room.last[index] = watched.volts;
            room.slope[index] = footing.slope[watched.row as usize];
        }
        if !footing.loads.is_empty() {
            room.residual.fill(0.0);
            room.driven.fill(0.0);
        }
        room.other = 0.0;
        room.laws.clear();
        room.resists_otherwise = false;
        room.touched.clear();
        room.dropped.clear();
        room.lost_diodes.clear();
        room.unfed.clear();
        room.without_known = false;
        room.watts.clone_from(&footing.watts);
        room.is_bent = false;
        room.bends = 0;
    }

    /// Parts and diodes as in the base, and no case known.
    pub(super) fn clear_parts(&mut self) {
        let room = &mut *self.room;
        room.known = None;
        room.weaker = None;
        room.cut.clear();
        room.split.clear();
        room.merged.clear();
        if room.diode_on.is_empty() {
            room.diode_on.clone_from(&self.footing.diode_on);
        }
        // Nothing else turns.
        for &row in &self.footing.diodes {
            room.diode_on[row as usize] = self.footing.diode_on[row as usize];
        }
        room.is_everywhere = false;
    }

    pub(super) fn places(&self, row: usize) -> (u32, u32) {
        let place = self.net.pattern.place();
        (place[self.net.from[row] as usize], place[self.net.to[row] as usize])
    }

    fn base_across(&self, row: usize) -> f64 {
        let (a, b) = self.places(row);
        self.footing.volts[a as usize] - self.footing.volts[b as usize]
    }

    /// Voltage across a branch that is watched or special.
    fn across(&self, row: usize) -> f64 {
        match self.footing.watch_of[row] {
            NONE => match self.room.special.iter().find(|special| special.row == Some(row)) {
                Some(special) => special.volts + special.moved,
                None => self.base_across(row),
            },
            index => self.footing.watched[index as usize].volts + self.room.moved(self.footing, index as usize),
        }
    }

    /// What let go in the base state has let go here too.
    ///
    /// # Errors  It comes back.
    pub(super) fn let_go(&mut self) -> Result<(), Fresh> {
        let footing = self.footing;
        for &row in &footing.let_go {
            let v = self.across(row);
            if footing.laws[row].return_above().is_some_and(|above| v >= above) {
                return Err(Fresh::Returns);
            }
            if !self.room.dropped.iter().any(|&(known, _)| known == row) {
                self.room.dropped.push((row, v));
            }
        }
        Ok(())
    }

    fn component(&self, node: u32) -> u32 {
        self.room.component(self.footing, node)
    }

    fn is_driven(&self, component: u32) -> bool {
        component as usize >= self.net.nodes
            || self.footing.component[component as usize] != NONE && self.footing.driven[component as usize]
    }

    fn ends(&self, row: u32) -> [u32; 2] {
        [self.net.from[row as usize], self.net.to[row as usize]]
    }

    /// Whether the steps can follow a load to this law as they follow what bends, so that the update does not have to hold it.
    fn can_follow(&self, row: usize, law: Law) -> bool {
        let (footing, converts) = (self.footing, |law: Law| matches!(law, Law::ConverterInput { .. } | Law::ConverterOutput { .. }));
        footing.is_load[row]
            && !converts(footing.laws[row])
            && match law {
                Law::Open | Law::Conductance { .. } => true,
                // What a resistance joins is parted where it becomes a demand.
                law => footing.draws[row] && law.is_demand() && !converts(law),
            }
    }

    fn is_of_many_loads(&self, change: &Change) -> bool {
        change.laws.len() > FEW && change.joined.is_empty() && change.laws.iter().all(|&(row, law)| self.can_follow(row, law))
    }

    /// Loads follow other laws from now on.
    fn follow_other_laws(&mut self, change: &Change) {
        let (footing, room) = (self.footing, &mut *self.room);
        room.laws.extend(footing.watched.iter().map(|watched| footing.laws[watched.row as usize]));
        for &(row, law) in &change.laws {
            room.laws[footing.watch_of[row] as usize] = law;
            room.resists_otherwise |= [law, footing.laws[row]].iter().any(|law| matches!(law, Law::Conductance { .. }));
        }
    }

    /// Watched branches that the steps follow, beside those that the case changes.
    fn followed(&self) -> &'c [u32] {
        if self.room.laws.is_empty() { &self.footing.demands } else { &self.footing.loads }
    }

    fn is_followed(&self, row: usize) -> bool {
        if self.room.laws.is_empty() { self.footing.draws[row] } else { self.footing.is_load[row] }
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
            (Injection { .. }, Injection { .. }) if footing.current[row] != 0.0 => self.special(row, law, Mode::Law),
            (Injection { .. }, _) | (_, Injection { .. }) => Err(Fresh::Cut),
            (base, law) if base.is_demand() => match (footing.draws[row], law) {
                (true, law) if law.is_demand() && self.room.is_apart(footing, self.ends(row as u32)) => Ok(()),
                (true, Open) => self.special(row, law, Mode::Gone),
                (true, law) if law.is_demand() => self.special(row, law, Mode::Law),
                // Nothing feeds it, whatever it would draw.
                (false, law) if law == Open || law.is_demand() => Ok(()),
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
        let ends = self.ends(row as u32);
        if ends.into_iter().any(|node| self.room.is_cut(self.footing, node)) {
            return Ok(());
        }
        let [a, b] = ends.map(|node| self.component(node));
        if a != b || !self.is_driven(a) || self.base_across(row) <= FED {
            // Where nothing feeds it, it changes nothing, as long as nothing else does.
            return if self.alone { Ok(()) } else { Err(Fresh::Energised) };
        }
        self.special(row, law, Mode::Law)
    }

    /// Adds a branch of the design to those that the case changes.
    fn special(&mut self, row: usize, law: Law, mode: Mode) -> Result<(), Fresh> {
        if let Some(at) = self.room.special.iter().position(|special| special.row == Some(row)) {
            self.put(at, law, mode);
            return Ok(());
        }
        let (footing, (a, b)) = (self.footing, self.places(row));
        let (base_slope, volts, index) = (footing.slope[row], self.base_across(row), footing.watch_of[row]);
        let moved = if index == NONE { 0.0 } else { self.room.moved(footing, index as usize) };
        let model = if self.is_followed(row) { self.room.model[index as usize] } else { footing.current[row] + base_slope * moved };
        self.add(Special { row: Some(row), law, mode, slope: base_slope, base_slope, model, volts, moved, driven: 0.0 }, a, Some(b))
    }

    /// Adds a branch, and with it the watched branches that share a limb with it: what the trunk says of those no longer holds.
    fn add(&mut self, special: Special, a: u32, b: Option<u32>) -> Result<(), Fresh> {
        let footing = self.footing;
        // What shares a limb takes its voltage from before the change.
        let mut beside = Vec::new();
        for k in [Some(a), b].into_iter().flatten() {
            for index in footing.in_limb(footing.limb[k as usize]) {
                let row = footing.watched[index as usize].row as usize;
                if self.room.special_of[index as usize] == NONE && special.row != Some(row) && !beside.contains(&row) {
                    beside.push(row);
                }
            }
        }
        let room = &mut *self.room;
        let factor = Room::factor(&room.bent, room.is_bent, footing);
        let at = room.update.add(&self.net.pattern, factor, a, b, 0.0).ok_or(Fresh::Many)?;
        let index = special.row.map_or(NONE, |row| footing.watch_of[row]);
        let before: Vec<f64> = beside.iter().map(|&row| self.room.moved(footing, footing.watch_of[row] as usize)).collect();
        if index != NONE {
            self.room.special_of[index as usize] = at as u32;
            self.room.residual[index as usize] = 0.0;
        }
        self.room.special.push(special);
        let room = &mut *self.room;
        room.touched.extend(room.update.column(at).map(|(k, _)| k).filter(|&k| footing.limb[k as usize] != NONE));
        room.touched.sort_unstable_by(|a, b| b.cmp(a));
        room.touched.dedup();
        self.put(at, special.law, special.mode);
        for (row, moved) in beside.into_iter().zip(before) {
            let index = footing.watch_of[row] as usize;
            if self.room.special_of[index] != NONE {
                continue;
            }
            let is_followed = self.is_followed(row);
            let law = if is_followed { self.law_of_demand(row) } else { footing.laws[row] };
            let conducts = law != Law::Open && (is_followed || footing.slope[row] != 0.0);
            let (base_slope, volts) = (footing.slope[row], footing.watched[index].volts);
            let model = if is_followed { self.room.model[index] } else { footing.current[row] + base_slope * moved };
            let mode = if conducts { Mode::Law } else { Mode::Gone };
            let (a, b) = self.places(row);
            self.add(Special { row: Some(row), law, mode, slope: base_slope, base_slope, model, volts, moved, driven: 0.0 }, a, Some(b))?;
        }
        Ok(())
    }

    /// Sets how a special branch stands; its slope is that of its law at the present voltage.
    fn put(&mut self, at: usize, law: Law, mode: Mode) {
        let (_, slope) = mode.draws(law, self.special_across(at));
        let special = &mut self.room.special[at];
        (special.law, special.mode, special.slope) = (law, mode, slope);
        self.room.update.set(at, slope - special.base_slope);
    }

    fn special_across(&self, at: usize) -> f64 {
        self.room.special[at].volts + self.room.special[at].moved
    }

    fn walks(&self) -> &'c Walks {
        self.footing.walks(self.prepared)
    }

    /// Opens a conducting branch.
    fn open(&mut self, row: usize) -> Result<(), Fresh> {
        let footing = self.footing;
        if footing.slope[row] == 0.0 {
            return Ok(());
        }
        let walks = self.walks();
        let Some(run) = walks.walk.run_beyond(row) else { return self.special(row, Law::Open, Mode::Gone) };
        let inside = |node: u32| (run.0..run.1).contains(&walks.walk.came[node as usize]);
        let joins_again = self.joined.iter().any(|&(a, b, _)| {
            let other = if inside(a.0) { b } else { a };
            inside(a.0) != inside(b.0) && self.is_driven(self.component(other.0))
        });
        if joins_again {
            return self.special(row, Law::Open, Mode::Gone);
        }
        // Who still drives what is beyond, and what is on this side.
        let own = if footing.drives(row) { self.ends(row as u32) } else { [NONE; 2] };
        let own_inside = own.into_iter().filter(|&node| node != NONE && inside(node)).count() as u32;
        let beyond = walks.drivers_within(run) - own_inside;
        let here = walks.drivers_within(walks.walk.tree_of(run.0)) - walks.drivers_within(run);
        if own[0] != NONE && here == 2 - own_inside {
            return Err(Fresh::Cut);
        }
        // A current that is driven through the branch stops.
        let mut stopped = 0;
        for &other in &footing.drivers_across {
            let [a, b] = self.ends(other).map(inside);
            if a != b && footing.current[other as usize] != 0.0 {
                if here == 1 && Walks::within(&walks.demand_times, walks.walk.tree_of(run.0)).next().is_some() {
                    return Err(Fresh::Cut);
                }
                self.special(other as usize, Law::Open, Mode::Gone)?;
                stopped += 1;
            }
        }
        let beyond = beyond - stopped;
        // A blocking diode may take over the feed of what is cut off.
        let mut feeders = Vec::new();
        for diode in Walks::within(&walks.cathode_times, run) {
            let anode = self.net.from[diode as usize];
            if !inside(anode) && self.is_driven(self.component(anode)) && !self.room.lost_diodes.contains(&(diode as usize)) {
                feeders.push(diode as usize);
            }
        }
        if !feeders.is_empty() {
            self.special(row, Law::Open, Mode::Gone)?;
            return feeders.into_iter().try_for_each(|diode| self.turn(diode, true));
        }
        // Converters beyond that only their own output would feed stop.
        let mut fed_by_itself = 0;
        for &input in &footing.inputs {
            let output = input + 1;
            if footing.draws[input as usize] && footing.drives(output as usize) && self.ends(input).into_iter().any(inside) {
                fed_by_itself += self.ends(output).into_iter().filter(|&node| inside(node)).count() as u32;
            }
        }
        if beyond > fed_by_itself {
            return self.split(row, run);
        }
        // Converters that it fed stop, and with them what they feed.
        for &input in &footing.inputs {
            if footing.draws[input as usize] && self.ends(input).into_iter().any(inside) {
                self.open(input as usize + 1)?;
            }
        }
        let mut lost: Vec<u32> = Walks::within(&walks.demand_times, run).collect();
        lost.sort_unstable();
        lost.dedup();
        if lost.len() > MOST {
            return Err(Fresh::Many);
        }
        for row in lost {
            self.special(row as usize, Law::Open, Mode::Gone)?;
        }
        self.room.cut.push(run);
        Ok(())
    }

    /// Opens a bridge beyond which something drives. Nothing else leads there, so that once the demands across are gone the bridge carries nothing even
    /// where it stays: it holds the part's zero of voltage, which is any.
    fn split(&mut self, row: usize, run: (u32, u32)) -> Result<(), Fresh> {
        let walks = self.walks();
        let footing = self.footing;
        let inside = |node: u32| (run.0..run.1).contains(&walks.walk.came[node as usize]);
        let crosses = |row: u32| {
            let [a, b] = self.ends(row).map(inside);
            a != b
        };
        let nested = self.room.cut.iter().copied().chain(self.room.split.iter().map(|&(run, _)| run)).any(|other| {
            let apart = other.1 <= run.0 || run.1 <= other.0;
            !apart
        });
        let blocking = footing.diodes.iter().any(|&diode| diode as usize != row && !self.room.diode_on[diode as usize] && crosses(diode));
        let driven_across = footing
            .drivers_across
            .iter()
            .any(|&other| crosses(other) && footing.current[other as usize] != 0.0 && !self.is_gone(other as usize));
        // A converter in a part of its own runs on only where a source is there too; one that lies across the cut stops.
        let running = footing.inputs.iter().copied().filter(|&input| footing.draws[input as usize]);
        let converts = walks.sources_within(run) == 0 && running.clone().any(|input| self.ends(input).into_iter().all(inside));
        let stopped: Vec<usize> = running.filter(|&input| crosses(input)).map(|input| input as usize + 1).collect();
        if nested || blocking || driven_across || converts {
            return Err(Fresh::Cut);
        }
        let mut lost: Vec<u32> = Walks::within(&walks.demand_times, run).filter(|&demand| crosses(demand)).collect();
        lost.sort_unstable();
        lost.dedup();
        for demand in lost {
            self.special(demand as usize, Law::Open, Mode::Gone)?;
        }
        self.room.split.push((run, row));
        stopped.into_iter().try_for_each(|output| self.open(output))
    }

    /// Adds a conducting branch between two nodes, joining their parts where they are two.
    fn join(&mut self, row: Option<usize>, a: u32, b: u32, law: Law) -> Result<(), Fresh> {
        let within =
            |&(first, last): &(u32, u32)| [a, b].iter().all(|&node| (first..last).contains(&self.walks().walk.came[node as usize]));
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
            if from as usize >= self.net.nodes {
                return Err(Fresh::Cut);
            }
            // What draws nothing for want of a feed is looked at once the case has settled.
            if footing.inputs.iter().chain(&footing.silent).any(|&row| touches(row)) {
                return Err(Fresh::Energised);
            }
            let zero = if footing.component[from as usize] == NONE { from } else { footing.reference[from as usize] };
            let zero = place[zero as usize];
            let volts = footing.volts[zero as usize];
            let gone = Special {
                row: None,
                law: Law::Open,
                mode: Mode::Gone,
                slope: 1.0,
                base_slope: 1.0,
                model: volts,
                volts,
                moved: 0.0,
                driven: 0.0,
            };
            self.add(gone, zero, None)?;
            self.room.merged.push((from, into));
        }
        let (a, b) = (place[a as usize], place[b as usize]);
        let volts = footing.volts[a as usize] - footing.volts[b as usize];
        match row {
            Some(row) => self.special(row, law, Mode::Law),
            None => self.add(
                Special { row, law, mode: Mode::Law, slope: 0.0, base_slope: 0.0, model: 0.0, volts, moved: 0.0, driven: 0.0 },
                a,
                Some(b),
            ),
        }
    }

    /// Whether a branch that the case adds leads into a run of the walk.
    fn is_joined(&self, (first, last): (u32, u32)) -> bool {
        let leads = |nodes: [u32; 2]| {
            let [a, b] = nodes.map(|node| (first..last).contains(&self.walks().walk.came[node as usize]));
            a != b
        };
        let added = self.room.special.iter().filter(|special| special.mode != Mode::Gone && special.base_slope == 0.0);
        self.joined.iter().any(|&(a, b, _)| leads([a.0, b.0]))
            || added.filter_map(|special| special.row).any(|row| leads(self.ends(row as u32)))
    }

    /// Whether a diode leads into a run of the walk from what is driven: a change that came after the cut may have brought voltage to its anode.
    fn is_taken_over(&self, run: (u32, u32)) -> bool {
        let walks = self.walks();
        Walks::within(&walks.cathode_times, run).any(|diode| {
            let anode = self.net.from[diode as usize];
            let is_outside = !(run.0..run.1).contains(&walks.walk.came[anode as usize]);
            is_outside && self.is_driven(self.component(anode)) && !self.room.lost_diodes.contains(&(diode as usize))
        })
    }

    /// Turns a diode on or off.
    fn turn(&mut self, row: usize, on: bool) -> Result<(), Fresh> {
        let law = self.footing.laws[row];
        self.room.diode_on[row] = on;
        match self.room.special.iter().position(|special| special.row == Some(row)) {
            Some(_) if on && self.room.split.iter().any(|&(_, split)| split == row) => return Err(Fresh::Cut),
            Some(at) => self.put(at, law, if on { Mode::Law } else { Mode::Gone }),
            None if on => self.join(Some(row), self.net.from[row], self.net.to[row], law)?,
            None => match self.walks().walk.run_beyond(row) {
                Some(run) if self.walks().drivers_within(run) > 0 && !self.is_joined(run) => self.split(row, run)?,
                // Where nothing drives beyond it, a diode that turned before feeds that part now.
                _ => self.special(row, law, Mode::Gone)?,
            },
        }
        Ok(())
    }

    fn run(&mut self) -> Result<(), Fresh> {
        // A part that is cut off stays joined by the branch that is to be open: nothing else may lead into it.
        let (cut, mut split) = (&self.room.cut, self.room.split.iter().map(|&(run, _)| run));
        if cut.iter().any(|&run| self.is_joined(run) || self.is_taken_over(run)) || split.any(|run| self.is_joined(run)) {
            return Err(Fresh::Cut);
        }
        for _ in 0..ROUNDS {
            self.converge()?;
            if !(self.flip_diodes()? || self.restore() || self.drop_lowest() || self.stop_converters()?) {
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
        self.update_converters();
        // Since the last step the others have not moved, but those that follow another law may not have met it yet.
        let (mut special, mut other) = match self.room.laws.is_empty() {
            true => (self.special_residuals(false)?, self.room.other),
            false => self.residuals()?,
        };
        let (mut closest, mut astray) = (f64::INFINITY, 0);
        for _ in 0..STEPS {
            let off = special + other;
            let settled = self.settled();
            // On slopes of its own a case shows more resistance than the base does.
            if off <= settled {
                return Ok(());
            }
            let slow = off > QUICK * closest && off > ROUNDING && self.room.bends < BENDS;
            // A demand that has become special since has its slope in the factor.
            if slow || self.room.is_bent && self.room.special.len() > self.room.bent_with {
                self.bend()?;
            }
            astray = if off < closest { 0 } else { astray + 1 };
            closest = closest.min(off);
            if astray == ASTRAY || !off.is_finite() {
                break;
            }
            // Far below the bound the other demands can wait for the next step.
            let all = other > 0.25 * settled;
            self.step(all);
            if self.room.is_bent {
                self.follow(all);
            }
            (special, other) = self.residuals()?;
        }
        Err(Fresh::Unsettled)
    }

    /// Bound on what the steps leave open, V.
    fn settled(&self) -> f64 {
        if self.room.is_bent { SETTLED_BENT } else { SETTLED }
    }

    /// One step on the factor: what special branches differ by from the linear model, and if `all` what the others do.
    fn step(&mut self, all: bool) {
        let (net, footing, followed) = (self.net, self.footing, self.followed());
        if all {
            for &index in followed {
                let index = index as usize;
                let residual = if self.room.is_bent { self.eliminated(index, &self.room.residual) } else { self.room.residual[index] };
                if residual != 0.0 {
                    let (start, end) = footing.watched[index].shares;
                    for &(k, share) in &footing.shares[start as usize..end as usize] {
                        self.room.y[k as usize] -= share * residual;
                    }
                }
            }
        }
        let room = &mut *self.room;
        let factor = Room::factor(&room.bent, room.is_bent, footing);
        if all {
            net.pattern.forward_at(factor, &footing.trunk, &mut room.y);
        }
        room.update.apply(factor, &room.injected, all, &mut room.y);
        net.pattern.backward_from(factor, footing.trunk.iter().rev(), &mut room.y, &mut room.x, &mut room.sum);
        net.pattern.backward_from(factor, room.touched.iter(), &mut room.y, &mut room.x, &mut room.sum);
        // The model now holds each law's current at the last voltage, and its slope from there on.
        for (at, special) in room.special.iter_mut().enumerate() {
            let moved = room.update.across(at, &room.x);
            special.moved += moved;
            special.model += special.slope * moved - room.injected[at];
            special.driven += room.update.weight(at);
        }
        if all {
            for &index in followed {
                room.model[index as usize] += room.residual[index as usize];
                if !room.is_bent {
                    room.driven[index as usize] -= room.residual[index as usize];
                }
            }
        }
    }

    /// Puts the slopes that the laws have at the present voltages into the factor. Those of demands change what the limbs show to the trunk, which is
    /// factored anew; the limbs themselves stay as they are.
    ///
    /// With Δ the change of slope of the demands in a limb, R the ohms between them there and S their shares, the trunk gains S (I + ΔR)⁻¹Δ Sᵀ, and a
    /// step x on the trunk drives −(I + ΔR)⁻¹(r + Δ Sᵀx) through them, with r what their laws differ by.
    ///
    /// Cost: the trunk, and a row of the tree for each special branch.
    fn bend(&mut self) -> Result<(), Fresh> {
        let (net, footing) = (self.net, self.footing);
        for &index in self.followed() {
            let index = index as usize;
            if self.room.special_of[index] == NONE {
                let law = self.law_of_demand(footing.watched[index].row as usize);
                self.room.slope[index] = law.draws(self.room.last[index], false).1;
            }
        }
        let mut bent = self.room.bent.take().unwrap_or_else(|| footing.work.factor.clone());
        let matrix = footing.trunk_matrix(net);
        for &k in &footing.trunk {
            let (start, end) = (net.pattern.factor_start[k as usize] as usize, net.pattern.factor_start[k as usize + 1] as usize);
            bent.diagonal[k as usize] = matrix.diagonal[k as usize];
            bent.lower[start..end].copy_from_slice(&matrix.lower[start..end]);
        }
        let shares = |index: usize| {
            let (start, end) = footing.watched[index].shares;
            &footing.shares[start as usize..end as usize]
        };
        for &index in self.followed() {
            let index = index as usize;
            if self.room.special_of[index] != NONE {
                continue;
            }
            // One column of (I + ΔR)⁻¹Δ: the demand's own entry, and that of its mate.
            let mate = footing.mate(index);
            let (own, other) = self.gain(index, mate);
            for (gain, from) in [(own, Some(index)), (other, mate)] {
                let Some(from) = from.filter(|_| gain != 0.0) else { continue };
                for &(k, share) in shares(index) {
                    for &(row, other) in shares(from) {
                        match row.cmp(&k) {
                            std::cmp::Ordering::Equal => bent.diagonal[k as usize] += gain * share * other,
                            std::cmp::Ordering::Greater => bent.lower[net.pattern.entry(k, row)] += gain * share * other,
                            // The pair with its places exchanged: the gains are symmetric.
                            std::cmp::Ordering::Less => {}
                        }
                    }
                }
            }
        }
        let positive = net.pattern.factor_at(&footing.trunk, &mut bent);
        let room = &mut *self.room;
        room.is_bent = true;
        room.bends += 1;
        room.bent_with = room.special.len();
        let bent = room.bent.insert(bent);
        if !positive {
            return Err(Fresh::Unsettled);
        }
        room.update.move_to(&net.pattern, bent);
        for at in 0..self.room.special.len() {
            let Special { law, mode, .. } = self.room.special[at];
            self.put(at, law, mode);
        }
        if self.room.update.triangulate() { Ok(()) } else { Err(Fresh::Cut) }
    }

    /// By how much a demand's slope in the factor differs from the base's.
    fn more(&self, index: usize) -> f64 {
        self.room.slope[index] - self.footing.slope[self.footing.watched[index].row as usize]
    }

    /// Row of (I + ΔR)⁻¹Δ of a demand in its limb: its own entry, and that of its mate.
    fn gain(&self, index: usize, mate: Option<usize>) -> (f64, f64) {
        let (footing, more) = (self.footing, self.more(index));
        let own = footing.ohms(index, index);
        let Some(mate) = mate else { return (more / (1.0 + more * own), 0.0) };
        let (its_more, its_own, between) = (self.more(mate), footing.ohms(mate, mate), footing.ohms(index, mate));
        let det = (1.0 + more * own) * (1.0 + its_more * its_own) - more * between * its_more * between;
        ((1.0 + its_more * its_own) * more / det, -more * between * its_more / det)
    }

    /// Row of (I + ΔR)⁻¹ of a demand in its limb, times a value of each demand.
    fn eliminated(&self, index: usize, values: &[f64]) -> f64 {
        let footing = self.footing;
        if self.room.special_of[index] != NONE {
            return values[index];
        }
        let (more, own) = (self.more(index), footing.ohms(index, index));
        let Some(mate) = footing.mate(index) else { return values[index] / (1.0 + more * own) };
        let (its_more, its_own, between) = (self.more(mate), footing.ohms(mate, mate), footing.ohms(index, mate));
        let det = (1.0 + more * own) * (1.0 + its_more * its_own) - more * between * its_more * between;
        ((1.0 + its_more * its_own) * values[index] - more * between * values[mate]) / det
    }

    /// What a step on bent slopes drives through the demands, beside what the base's slopes have in them.
    fn follow(&mut self, all: bool) {
        let footing = self.footing;
        let mut wants = vec![0.0; footing.watched.len()];
        for &index in self.followed() {
            let index = index as usize;
            if self.room.special_of[index] == NONE {
                let (start, end) = footing.watched[index].shares;
                let moved: f64 =
                    footing.shares[start as usize..end as usize].iter().map(|&(k, share)| share * self.room.x[k as usize]).sum();
                wants[index] = self.more(index) * moved + if all { self.room.residual[index] } else { 0.0 };
            }
        }
        for &index in self.followed() {
            let index = index as usize;
            if self.room.special_of[index] == NONE {
                self.room.driven[index] -= self.eliminated(index, &wants);
            }
        }
    }

    /// How far the currents by which laws differ from the linear model could move a voltage: of the special branches, and of
    /// the others. A load that falls below its drop-out voltage goes on its line, and is special from then on.
    fn residuals(&mut self) -> Result<(f64, f64), Fresh> {
        let footing = self.footing;
        self.update_converters();
        let mut other = 0.0f64;
        let before = self.room.special.len();
        let (mut fallen, mut dark) = (Vec::new(), Vec::new());
        for &index in self.followed() {
            let index = index as usize;
            if self.room.special_of[index] != NONE {
                continue;
            }
            let watched = &footing.watched[index];
            let row = watched.row as usize;
            let law = self.law_of_demand(row);
            let v = watched.volts + self.room.moved(footing, index);
            self.room.model[index] += self.room.slope[index] * (v - self.room.last[index]);
            self.room.last[index] = v;
            if v <= FED && law.is_demand() {
                dark.push(row);
            } else if law.drop_out().is_some_and(|knee| v < knee) {
                fallen.push(row);
            } else {
                let residual = law.draws(v, false).0 - self.room.model[index];
                self.room.residual[index] = residual;
                other += residual.abs() * watched.seen;
            }
        }
        for row in dark {
            let law = self.law_of_demand(row);
            if !self.is_fed(row)? {
                self.special(row, law, Mode::Gone)?;
                self.room.unfed.push(self.room.special_of[footing.watch_of[row] as usize] as usize);
            } else if law.drop_out().is_some() {
                fallen.push(row);
            } else {
                return Err(Fresh::Returns);
            }
        }
        for row in fallen {
            self.special(row, self.law_of_demand(row), Mode::Line)?;
        }
        self.room.other = other;
        let bent = self.room.special.len() > before;
        Ok((self.special_residuals(bent)?, other))
    }

    /// The same of the special branches alone; `bent` says whether some of them changed since the update was made.
    fn special_residuals(&mut self, mut bent: bool) -> Result<f64, Fresh> {
        let mut special = 0.0f64;
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
            let Special { mode, slope, base_slope, model, .. } = self.room.special[at];
            let residual = mode.draws(law, v).0 - model;
            self.room.injected.push(-residual);
            let seen = self.room.update.seen(at);
            // A branch with a conductance of its own is moved no farther than by its current through that; one that opens hangs on what is left.
            special += residual.abs()
                * match slope {
                    _ if slope < base_slope => seen / self.room.update.least_pivot,
                    _ if slope > 0.0 => seen.min(1.0 / slope),
                    _ => seen,
                };
        }
        if bent && !self.room.update.triangulate() {
            return Err(Fresh::Cut);
        }
        Ok(special)
    }

    /// Whether anything feeds a demand: whether it has voltage with every demand off.
    fn is_fed(&mut self, row: usize) -> Result<bool, Fresh> {
        Ok(self.without_demands(row)? > FED)
    }

    /// Voltage across a branch of the case with every demand off.
    fn without_demands(&mut self, row: usize) -> Result<f64, Fresh> {
        if self.room.resists_otherwise {
            return Err(Fresh::Many);
        }
        let without = self.footing.without(self.net).ok_or(Fresh::Unsettled)?;
        let (net, room, laws) = (self.net, &mut *self.room, &self.footing.laws);
        if !room.without_known {
            room.without.clear();
            let mut injected = Vec::new();
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
            room.without.weigh(&without.work.factor, &injected, None);
            room.without_weights = (0..injected.len()).map(|at| room.without.weight(at)).collect();
            room.without_known = true;
        }
        let (a, b) = self.places(row);
        let room = &mut *self.room;
        let at = room.without.add(&net.pattern, &without.work.factor, a, Some(b), 0.0).ok_or(Fresh::Many)?;
        let moved: f64 = room.without_weights.iter().enumerate().map(|(k, weight)| weight * room.without.between(at, k)).sum();
        room.without.remove_last();
        Ok(without.volts[a as usize] - without.volts[b as usize] + moved)
    }

    /// Law of a demand in the case, with the power that a converter takes at present.
    fn law_of_demand(&self, row: usize) -> Law {
        match self.room.laws.get(self.footing.watch_of[row] as usize).copied().unwrap_or(self.footing.laws[row]) {
            Law::ConverterInput { drop_out, return_above, .. } => {
                let at = self.footing.inputs.binary_search(&(row as u32)).expect("input: is listed");
                Law::Power { watts: self.room.watts[at], drop_out, return_above }
            }
            law => law,
        }
    }

    /// Works out how far every place has moved.
    pub(super) fn everywhere(&mut self) {
        let (net, footing, followed, room) = (self.net, self.footing, self.followed(), &mut *self.room);
        if room.is_everywhere {
            return;
        }
        let factor = &footing.work.factor;
        for &index in followed {
            let (watched, driven) = (&footing.watched[index as usize], room.driven[index as usize]);
            room.y[watched.a as usize] += driven;
            room.y[watched.b as usize] -= driven;
        }
        for (at, special) in room.special.iter().enumerate() {
            room.update.drive(at, special.driven, &mut room.y);
        }
        net.pattern.forward(factor, &mut room.y);
        net.pattern.backward(factor, &mut room.y);
        std::mem::swap(&mut room.y, &mut room.everywhere);
        room.y.fill(0.0);
        room.is_everywhere = true;
        if self.is_cancelled() {
            self.refine(SETTLED);
        }
        self.follow_weaker();
    }

    /// The same to the last digits, which tell a diode that feeds nothing from one that feeds little.
    ///
    /// # Errors  The slopes there have no factor.
    pub(super) fn everywhere_closely(&mut self) -> Result<(), Fresh> {
        self.everywhere();
        if !self.room.laws.is_empty() {
            // On their own slopes the steps shrink a thousandfold.
            if !self.room.is_bent {
                self.bend()?;
            }
            self.refine(NOISE);
        } else if self.room.update.least_pivot < CANCELLED {
            self.refine(SETTLED);
        }
        Ok(())
    }

    /// Whether the update has lost digits that count, where a conductance that is gone held what hangs on little now.
    fn is_cancelled(&self) -> bool {
        let (update, meeting) = (&self.room.update, &self.footing.meeting);
        if update.least_pivot >= CANCELLED {
            return false;
        }
        let farthest = self.room.special.iter().map(|special| special.moved.abs()).fold(0.0, f64::max);
        self.room.special.iter().enumerate().filter(|(_, special)| special.slope < special.base_slope).any(|(at, _)| {
            let (a, b) = update.ends(at);
            let beside = meeting[a as usize].max(b.map_or(0.0, |b| meeting[b as usize]));
            // Its current in the base state is a difference of voltages times milliohms' conductance.
            let volts = farthest.max(self.footing.volts[a as usize].abs());
            update.seen(at) * beside * volts > LOOSE * update.least_pivot
        })
    }

    /// What cancellation in the update left is taken up by steps on the true currents of all branches, until one moves by less than `closely`, V.
    fn refine(&mut self, closely: f64) {
        let (net, footing) = (self.net, self.footing);
        let mut changed: Vec<usize> = self.room.special.iter().filter_map(|special| special.row).collect();
        changed.extend(self.room.weaker.map(|(row, _)| row));
        changed.sort_unstable();
        for _ in 0..REFINEMENTS {
            let mut farthest = 0.0f64;
            let mut rest = changed.iter().peekable();
            for row in (0..footing.laws.len()).filter(|row| rest.next_if_eq(&row).is_none()) {
                let (a, b) = self.places(row);
                let moved = self.room.everywhere[a as usize] - self.room.everywhere[b as usize];
                let current = if self.is_followed(row) {
                    self.law_of_demand(row).draws(self.base_across(row) + moved, false).0
                } else {
                    footing.current[row] + footing.slope[row] * moved
                };
                self.room.y[a as usize] -= current;
                self.room.y[b as usize] += current;
            }
            let room = &mut *self.room;
            for (at, special) in room.special.iter().enumerate() {
                let v = special.volts + room.update.across(at, &room.everywhere);
                room.update.drive(at, -special.mode.draws(special.law, v).0, &mut room.y);
            }
            let factor = Room::factor(&room.bent, room.is_bent, footing);
            net.pattern.forward(factor, &mut room.y);
            room.update.apply(factor, &[0.0; MOST], true, &mut room.y);
            net.pattern.backward(factor, &mut room.y);
            for (moved, x) in room.everywhere.iter_mut().zip(&mut room.y) {
                farthest = farthest.max(x.abs());
                *moved += std::mem::take(x);
            }
            if farthest < closely {
                break;
            }
        }
        let room = &mut *self.room;
        for (at, special) in room.special.iter_mut().enumerate() {
            special.moved = room.update.across(at, &room.everywhere);
        }
    }

    /// Diodes that disagree with their state by more than `open`, V, and what they should be.
    fn disagreeing(&self, open: f64) -> Vec<(usize, bool)> {
        let footing = self.footing;
        let disagrees = |&row: &u32| {
            let row = row as usize;
            let Law::Diode { forward, g } = footing.laws[row] else { return None };
            let (v, on) = (self.across(row), self.room.diode_on[row]);
            let violates = if on { g * (v - forward + open) < -DIODE_CURRENT } else { v > forward + DIODE_VOLTAGE + open };
            (violates && !self.room.lost_diodes.contains(&row)).then_some((row, !on))
        };
        let mut wrong: Vec<(usize, bool)> = footing.diodes.iter().filter_map(disagrees).collect();
        wrong.retain(|&(row, _)| {
            let replaced = self.room.special.iter().any(|special| special.row == Some(row) && special.law != footing.laws[row]);
            let cut = self.ends(row as u32).into_iter().any(|node| self.room.is_cut(footing, node));
            // Between two parts there is no voltage to turn it.
            let [anode, cathode] = self.ends(row as u32).map(|node| self.component(node));
            let apart = anode != cathode && (!self.is_driven(anode) || self.is_driven(cathode));
            !replaced && !cut && !apart
        });
        wrong
    }

    /// The same to the last digits, where one stands closer to its corner than the steps leave open.
    fn disagreeing_closely(&mut self) -> Vec<(usize, bool)> {
        if self.disagreeing(0.0).is_empty() {
            return Vec::new();
        }
        let moved: Vec<f64> = self.room.special.iter().map(|special| special.moved).collect();
        self.everywhere();
        self.refine(REFINED);
        let wrong = self.disagreeing(2.0 * REFINED);
        // What follows goes on from where the steps stood.
        self.room.is_everywhere = false;
        for (special, moved) in self.room.special.iter_mut().zip(moved) {
            special.moved = moved;
        }
        wrong
    }

    /// Turns every diode that disagrees with its state; true if one did.
    fn flip_diodes(&mut self) -> Result<bool, Fresh> {
        // Within what the steps leave open it is on its corner.
        let mut wrong = self.disagreeing(2.0 * self.settled());
        if wrong.is_empty() {
            wrong = self.disagreeing_closely();
        }
        for &(row, on) in &wrong {
            self.turn(row, on)?;
        }
        if !wrong.is_empty() {
            // What nothing fed may be fed now.
            self.room.without_known = false;
            for at in std::mem::take(&mut self.room.unfed) {
                if self.converter(at).is_some_and(|input| self.is_gone(input + 1)) {
                    return Err(Fresh::Converter);
                }
                // A load without voltage has no slope by its law.
                let law = self.room.special[at].law;
                self.put(at, law, if law.drop_out().is_some() { Mode::Line } else { Mode::Law });
            }
        }
        Ok(!wrong.is_empty())
    }

    /// Converters that nothing feeds give nothing; true if one did.
    fn stop_converters(&mut self) -> Result<bool, Fresh> {
        let before = self.room.special.len();
        for at in self.room.unfed.clone() {
            if let Some(input) = self.converter(at).filter(|input| self.footing.drives(input + 1) && !self.is_gone(input + 1)) {
                self.open(input + 1)?;
            }
        }
        Ok(self.room.special.len() > before)
    }

    fn is_gone(&self, row: usize) -> bool {
        self.room.special.iter().any(|special| special.row == Some(row) && special.mode == Mode::Gone)
    }

    /// The row of a special branch that is the input of a converter.
    fn converter(&self, at: usize) -> Option<usize> {
        self.room.special[at].row.filter(|&row| matches!(self.footing.laws[row], Law::ConverterInput { .. }))
    }

    /// Takes the input power of each converter from its output.
    fn update_converters(&mut self) {
        for (at, &row) in self.footing.inputs.iter().enumerate() {
            let row = row as usize;
            let index = self.footing.watch_of[row];
            let Law::ConverterInput { efficiency, quiescent, drop_out, return_above } = self.footing.laws[row] else { continue };
            if !self.footing.draws[row] {
                continue;
            }
            let v = self.across(row + 1);
            let off = match self.room.special_of[self.footing.watch_of[row + 1] as usize] {
                NONE => self.footing.slope[row + 1] == 0.0,
                at => self.room.special[at as usize].mode == Mode::Gone,
            };
            let out = if off { 0.0 } else { (-v * self.footing.laws[row + 1].draws(v, false).0).max(0.0) };
            let watts = out / efficiency + quiescent;
            self.room.watts[at] = watts;
            let special = self.room.special_of[index as usize];
            if special != NONE && self.room.special[special as usize].law.is_demand() {
                self.room.special[special as usize].law = Law::Power { watts, drop_out, return_above };
            }
        }
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
        row.map_or_else(String::new, |row| self.prepared.design.element_words(self.prepared.topology.branches[row].element))
    }

    /// Whether both ends of every opened branch are still in one part, but for bridges that the case has dealt with. A cut that
    /// several branches make together leaves no pivot to tell it from megohms, and a load may hold what it cuts off.
    ///
    /// Cost: the square of the number of open branches; where they may cut, a pass over all branches.
    fn hangs_together(&self) -> bool {
        let (net, footing) = (self.net, self.footing);
        let mut changed: Vec<(usize, bool)> = Vec::new();
        let mut opened: Vec<usize> = Vec::new();
        for special in &self.room.special {
            let Some(row) = special.row.filter(|&row| !footing.laws[row].is_demand()) else { continue };
            changed.push((row, special.mode != Mode::Gone));
            if special.mode == Mode::Gone && special.base_slope > 0.0 && !self.room.split.iter().any(|&(_, split)| split == row) {
                opened.push(row);
            }
        }
        let closed = |special: &Special| special.mode != Mode::Gone && special.base_slope == 0.0 && !special.law.is_demand();
        let closed = self.room.special.iter().filter(|special| closed(special)).filter_map(|special| special.row);
        let more = closed.map(|row| (net.from[row], net.to[row])).chain(self.joined.iter().map(|&(a, b, _)| (a.0, b.0)));
        let few = opened.len();
        for (watched, law) in footing.watched.iter().zip(&self.room.laws) {
            let row = watched.row as usize;
            if *law == Law::Open
                && matches!(footing.laws[row], Law::Conductance { .. })
                && self.room.special_of[footing.watch_of[row] as usize] == NONE
            {
                opened.push(row);
                changed.push((row, false));
            }
        }
        if opened.is_empty() || opened.len() == few && self.walks().walk.cut_nothing(&opened, &more.collect::<Vec<_>>()) {
            return true;
        }
        changed.sort_unstable();
        let mut sets = Sets::new(net.nodes);
        let mut changed = changed.into_iter().peekable();
        for (row, law) in footing.laws.iter().enumerate() {
            let conducts = match changed.next_if(|&(at, _)| at == row) {
                Some((_, conducts)) => conducts,
                None => footing.slope[row] != 0.0 && !law.is_demand(),
            };
            if conducts {
                sets.unite(net.from[row] as usize, net.to[row] as usize);
            }
        }
        for &(a, b, _) in self.joined {
            sets.unite(a.row(), b.row());
        }
        opened.into_iter().all(|row| sets.find(net.from[row] as usize) == sets.find(net.to[row] as usize))
    }

    /// What a fresh solution would look at beyond the laws: loads that come back, that could be in another state, or that start.
    fn judge(&mut self) -> Result<(), Fresh> {
        let footing = self.footing;
        if !self.hangs_together() {
            return Err(Fresh::Cut);
        }
        self.room.held.clear();
        let mut low = Vec::new();
        for &index in self.followed() {
            let row = footing.watched[index as usize].row as usize;
            if let Some(above) = self.law_of_demand(row).return_above()
                && self.room.special_of[index as usize] == NONE
                && self.room.last[index as usize] < above
            {
                low.push((row, above));
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
                if !self.may_hold {
                    return Err(Fresh::Returns);
                }
                self.room.held.push(row);
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
            if a != b || !self.is_driven(a) {
                continue;
            }
            // What the case has joined to a source counts by its voltage before anything draws.
            let joined = self.ends(row).into_iter().any(|node| self.component(node) != footing.component[node as usize]);
            if self.across(row as usize) > FED || joined && self.is_fed(row as usize)? {
                return Err(Fresh::Energised);
            }
        }
        if self.is_cancelled() {
            self.everywhere();
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
