//! A case on a base without laws that bend, solved only where it is looked at.

use super::case::Case;
use super::footing::Footing;
use super::{Change, NONE};
use crate::law::Law;
use crate::network::Network;
use crate::settle::{DIODE_CURRENT, DIODE_VOLTAGE};

/// Least pivot of an update that is taken in one step: nine digits of a voltage are left, microamperes of a bolted fault.
const AT_ONCE: f64 = 1e-6;
/// Rounds of diodes in such a case.
const TURNS: usize = 12;
/// Diodes up to which it is kept what each makes of another: half a megabyte for each room at most.
const MOST_BETWEEN: usize = 400;
/// What the steps of a case may leave open, V: within it a diode is on its corner.
const CORNER: f64 = 8e-9;

/// What cases look at: places with all that stand above them, which come first. They go down the elimination tree level by level, so that
/// those that follow each other do not wait for each other.
pub(crate) struct Sight {
    places: Vec<u32>,
    /// Of every place which of these it is, or `NONE`.
    index: Vec<u32>,
    /// The factor there, one place after the other: one over the pivot, and the entries by which of these their row is.
    over: Vec<f64>,
    start: Vec<u32>,
    row: Vec<u32>,
    lower: Vec<f64>,
    diodes: Vec<Turning>,
    ways: Vec<OnWay>,
}

/// A diode with both ends in one part of the base.
struct Turning {
    row: usize,
    /// Which of the places in sight its anode and its cathode are.
    ends: [u32; 2],
    /// In the base state.
    volts: f64,
    is_on: bool,
    forward: f64,
    g: f64,
}

/// L⁻¹ of a current of 1 A through a diode, by which of the places in sight; and that over the pivots.
type OnWay = Vec<(u32, f64, f64)>;

impl Turning {
    /// Whether it disagrees with how it stands, where its voltage has moved.
    fn disagrees(&self, is_on: bool, moved: f64) -> bool {
        let v = self.volts + moved;
        match is_on {
            true => self.g * (v - self.forward + CORNER) < -DIODE_CURRENT,
            false => v > self.forward + DIODE_VOLTAGE + CORNER,
        }
    }
}

impl Sight {
    /// What these branches need to be seen, with all diodes.
    pub(super) fn new(network: &Network, footing: &Footing, rows: impl Iterator<Item = usize>) -> Sight {
        let (pattern, place) = (&network.pattern, network.pattern.place());
        let mut seen = vec![false; network.nodes];
        for row in rows.chain(footing.diodes.iter().map(|&row| row as usize)) {
            for node in [network.from[row], network.to[row]] {
                let mut k = place[node as usize];
                while k != NONE && !seen[k as usize] {
                    seen[k as usize] = true;
                    k = pattern.above(k);
                }
            }
        }
        let mut level = vec![0u32; network.nodes];
        let mut places: Vec<u32> = (0..network.nodes as u32).rev().filter(|&k| seen[k as usize]).collect();
        for &k in &places {
            let above = pattern.above(k);
            level[k as usize] = if above == NONE { 0 } else { level[above as usize] + 1 };
        }
        // Of one level those with as many entries together: a loop over entries is quick where it ends as it did before.
        places.sort_by_key(|&k| (level[k as usize], pattern.entries(k)));
        let mut index = vec![NONE; network.nodes];
        for (at, &k) in places.iter().enumerate() {
            index[k as usize] = at as u32;
        }
        let (mut over, mut start, mut row, mut lower) = (Vec::new(), vec![0], Vec::new(), Vec::new());
        for &k in &places {
            let (pivot, entries) = pattern.column(&footing.work.factor, k);
            over.push(1.0 / pivot);
            // Rows of a column stand above it, so that they are in sight too.
            for (at, l) in entries {
                row.push(index[at as usize]);
                lower.push(l);
            }
            start.push(row.len() as u32);
        }
        let mut scratch = vec![0.0; network.nodes];
        let mut turning = |&of: &u32| {
            let of = of as usize;
            let Law::Diode { forward, g } = footing.laws[of] else { return None };
            let ends = [network.from[of], network.to[of]];
            let [a, b] = ends.map(|node| place[node as usize] as usize);
            if !footing.is_one_part(ends) {
                return None;
            }
            let mut column = Vec::new();
            pattern.climb(&footing.work.factor, a as u32, Some(b as u32), &mut scratch, &mut column);
            let way = column.into_iter().map(|(k, w)| (index[k as usize], w, w / footing.work.factor.diagonal[k as usize]));
            let turning = Turning {
                row: of,
                ends: [index[a], index[b]],
                volts: footing.volts[a] - footing.volts[b],
                is_on: footing.diode_on[of],
                forward,
                g,
            };
            Some((turning, way.collect::<OnWay>()))
        };
        let (diodes, ways) = footing.diodes.iter().filter_map(&mut turning).unzip();
        Sight { places, index, over, start, row, lower, diodes, ways }
    }

    /// As `Pattern::backward` at the places in sight: from `y`, which is zero afterwards, into `x`, both in the order of the places.
    fn backward(&self, y: &mut [f64], x: &mut Vec<f64>) {
        x.clear();
        let mut start = 0;
        for ((y, over), &end) in y.iter_mut().zip(&self.over).zip(&self.start[1..]) {
            let end = end as usize;
            let entries = self.lower[start..end].iter().zip(&self.row[start..end]);
            let above: f64 = entries.map(|(l, &row)| l * x[row as usize]).sum();
            x.push(std::mem::take(y) * over - above);
            start = end;
        }
    }

    fn sees(&self, k: u32) -> bool {
        self.index[k as usize] != NONE
    }
}

/// What a case needs beside its update, reused from case to case.
#[derive(Default)]
pub(super) struct Looking {
    /// What drives the places in sight, zero but within a step, and how far they have moved.
    driving: Vec<f64>,
    moved: Vec<f64>,
    /// Places beside them, last first.
    beside: Vec<u32>,
    is_beside: Vec<bool>,
    /// Diodes that stood otherwise than in the base at the end of the last case. Faults that follow each other mostly turn the same, and how
    /// diodes stand at rest does not hang on how they stood at first.
    turned: Vec<usize>,
    /// With how many of them the update still begins.
    pub(super) standing: usize,
    between: Between,
    /// Of each branch of the update which diode it is, or `NONE`.
    diode_of: Vec<u32>,
    /// Of each that is none L⁻¹ of a current of 1 A through it, at the places in sight.
    others: Vec<(usize, Vec<f64>)>,
    /// Columns for those that are to come: zero.
    spare: Vec<Vec<f64>>,
    /// Room for the way of a diode, zero but while two are multiplied.
    spread: Vec<f64>,
}

impl Looking {
    /// What 1 A through a diode makes across a branch of the update, itself or another.
    fn across(&mut self, sight: &Sight, diode: usize, rank: usize) -> f64 {
        let own = &sight.ways[diode];
        let other = match self.diode_of[rank] {
            NONE => {
                let column = self.others.iter().find(|(of, _)| *of == rank).map_or(&[][..], |(_, column)| column);
                return own.iter().map(|&(at, _, over)| over * column[at as usize]).sum();
            }
            other => other as usize,
        };
        self.between.get(diode, other).unwrap_or_else(|| {
            let way = &sight.ways[other];
            way.iter().for_each(|&(at, w, _)| self.spread[at as usize] = w);
            let ohms = own.iter().map(|&(at, _, over)| over * self.spread[at as usize]).sum();
            way.iter().for_each(|&(at, ..)| self.spread[at as usize] = 0.0);
            self.between.set(diode, other, ohms);
            ohms
        })
    }

    /// Forgets the branches of the update from one on; diodes alone stand before it.
    fn truncate(&mut self, ranks: usize) {
        self.diode_of.truncate(ranks);
        for (_, mut column) in self.others.drain(..) {
            column.fill(0.0);
            self.spare.push(column);
        }
    }
}

/// What one ampere through a diode makes across another, in the base, where a case has asked for it; not a number elsewhere. The later of the two by
/// rows; empty where there are more than [`MOST_BETWEEN`].
#[derive(Default)]
struct Between(Vec<f64>);

impl Between {
    fn new(diodes: usize) -> Between {
        Between(if diodes <= MOST_BETWEEN { vec![f64::NAN; diodes * (diodes + 1) / 2] } else { Vec::new() })
    }

    fn place(one: usize, other: usize) -> usize {
        let (low, high) = (one.min(other), one.max(other));
        high * (high + 1) / 2 + low
    }

    fn get(&self, one: usize, other: usize) -> Option<f64> {
        self.0.get(Between::place(one, other)).copied().filter(|ohms| !ohms.is_nan())
    }

    fn set(&mut self, one: usize, other: usize, ohms: f64) {
        if let Some(place) = self.0.get_mut(Between::place(one, other)) {
            *place = ohms;
        }
    }
}

impl Case<'_> {
    /// Settles a case on a base without laws that bend, with the voltages of what is in sight, of the branches `also` and of what changes; diodes that
    /// disagree turn, all at once, until none does. False where parts are joined or cut, the update cancels or diodes do not come to rest:
    /// [`Case::settle`] then.
    ///
    /// Cost: the ways from what changes and from `also` to the root of the elimination tree, and for every round of diodes the places in sight.
    pub(super) fn at_once(&mut self, change: &Change, sight: &Sight, also: &[usize]) -> bool {
        if !self.footing.demands.is_empty() || !self.footing.let_go.is_empty() {
            return false;
        }
        let mut looking = std::mem::take(&mut self.room.looking);
        looking.is_beside.resize(self.net.nodes, false);
        looking.driving.resize(sight.places.len(), 0.0);
        looking.spread.resize(sight.places.len(), 0.0);
        if looking.between.0.is_empty() {
            looking.between = Between::new(sight.diodes.len());
        }
        let begin = std::mem::take(&mut looking.turned);
        let done = [&begin[..], &[]].iter().take(1 + usize::from(!begin.is_empty())).any(|begin| {
            let done = self.turn_until_at_rest(change, sight, also, begin, &mut looking);
            for k in looking.beside.drain(..) {
                self.room.y[k as usize] = 0.0;
                looking.is_beside[k as usize] = false;
            }
            done
        });
        self.room.looking = looking;
        done
    }

    /// `begin`: diodes that stand otherwise than in the base at first.
    fn turn_until_at_rest(&mut self, change: &Change, sight: &Sight, also: &[usize], begin: &[usize], looking: &mut Looking) -> bool {
        let (net, footing) = (self.net, self.footing);
        let factor = &footing.work.factor;
        self.clear_parts();
        let standing = std::mem::take(&mut looking.standing).min(begin.len());
        self.room.update.truncate(standing);
        looking.truncate(standing);
        // Diodes that have turned, with their place in the update; current driven through each of its branches.
        let (mut turned, mut driven): (Vec<(usize, usize)>, Vec<f64>) = (Vec::new(), Vec::new());
        for (at, &diode) in begin.iter().enumerate() {
            if at >= standing && self.add_diode(sight, diode, looking).is_none() {
                return false;
            }
            turned.push((diode, at));
            driven.push(0.0);
            self.turn_in_sight(&sight.diodes[diode], at, &mut driven);
        }
        for &(row, law) in &change.laws {
            if footing.slope[row] == 0.0 && footing.current[row] == 0.0 || net.from[row] == net.to[row] {
                continue;
            }
            let (a, b) = self.places(row);
            let opens = law == Law::Open && footing.slope[row] > 0.0 && !matches!(footing.laws[row], Law::Diode { .. });
            if !opens || self.add_branch(sight, [a, b], -footing.slope[row], looking).is_none() {
                return false;
            }
            driven.push(footing.current[row]);
        }
        for &(a, b, g) in self.joined {
            let one = footing.is_one_part([a.0, b.0]);
            let [a, b] = [a, b].map(|node| net.pattern.place()[node.row()]);
            if !one || self.add_branch(sight, [a, b], g, looking).is_none() {
                return false;
            }
            driven.push(-g * (footing.volts[a as usize] - footing.volts[b as usize]));
        }
        let changed = (begin.len()..driven.len()).map(|at| self.room.update.ends(at)).flat_map(|(a, b)| [Some(a), b]).flatten();
        let also = also.iter().map(|&row| self.places(row)).flat_map(|(a, b)| [a, b]);
        for mut k in changed.chain(also) {
            // The way to what is in sight.
            while k != NONE && !sight.sees(k) && !looking.is_beside[k as usize] {
                looking.is_beside[k as usize] = true;
                looking.beside.push(k);
                k = net.pattern.above(k);
            }
        }
        looking.beside.sort_unstable_by(|a, b| b.cmp(a));
        for _ in 0..TURNS {
            let room = &mut *self.room;
            if !room.update.triangulate() || room.update.least_pivot < AT_ONCE {
                return false;
            }
            room.update.weigh(factor, &driven, None);
            let driving = &mut looking.driving;
            for (rank, &diode) in looking.diode_of.iter().enumerate() {
                let weight = room.update.weight(rank);
                match diode {
                    _ if weight == 0.0 => {}
                    NONE => {
                        for (k, w) in room.update.column(rank) {
                            match sight.index[k as usize] {
                                NONE => room.y[k as usize] += weight * w,
                                at => driving[at as usize] += weight * w,
                            }
                        }
                    }
                    diode => sight.ways[diode as usize].iter().for_each(|&(at, w, _)| driving[at as usize] += weight * w),
                }
            }
            sight.backward(driving, &mut looking.moved);
            let moved = |diode: &Turning| looking.moved[diode.ends[0] as usize] - looking.moved[diode.ends[1] as usize];
            let disagrees = |diode: &Turning| diode.disagrees(room.diode_on[diode.row], moved(diode));
            let wrong: Vec<usize> = (0..sight.diodes.len()).filter(|&at| disagrees(&sight.diodes[at])).collect();
            if wrong.is_empty() {
                for (&k, &moved) in sight.places.iter().zip(&looking.moved) {
                    room.everywhere[k as usize] = moved;
                }
                net.pattern.backward_at(factor, looking.beside.iter(), &mut room.y, &mut room.everywhere);
                room.is_everywhere = true;
                let is_turned = |&diode: &usize| room.diode_on[sight.diodes[diode].row] != sight.diodes[diode].is_on;
                looking.standing = begin.iter().take_while(|diode| is_turned(diode)).count();
                looking.turned.extend(turned.into_iter().map(|(diode, _)| diode).filter(is_turned));
                return true;
            }
            for &k in &looking.beside {
                room.y[k as usize] = 0.0;
            }
            for diode in wrong {
                let at = match turned.iter().find(|(of, _)| *of == diode) {
                    Some(&(_, at)) => at,
                    None => {
                        let Some(at) = self.add_diode(sight, diode, looking) else { return false };
                        turned.push((diode, at));
                        driven.push(0.0);
                        at
                    }
                };
                self.turn_in_sight(&sight.diodes[diode], at, &mut driven);
            }
        }
        false
    }

    /// Adds a diode to the update, as it stands in the base; gives its place.
    fn add_diode(&mut self, sight: &Sight, diode: usize, looking: &mut Looking) -> Option<usize> {
        let (a, b) = self.places(sight.diodes[diode].row);
        let at = self.room.update.push(a, Some(b), 0.0)?;
        looking.diode_of.push(diode as u32);
        self.room.update.multiply_last(&self.footing.work.factor, |rank| Some(looking.across(sight, diode, rank)));
        Some(at)
    }

    /// Adds any other branch.
    fn add_branch(&mut self, sight: &Sight, [a, b]: [u32; 2], more: f64, looking: &mut Looking) -> Option<usize> {
        let (update, factor) = (&mut self.room.update, &self.footing.work.factor);
        let at = update.climb(&self.net.pattern, factor, a, Some(b), more)?;
        let mut column = looking.spare.pop().unwrap_or_default();
        column.resize(sight.places.len(), 0.0);
        for (k, w) in update.column(at).filter(|&(k, _)| sight.sees(k)) {
            column[sight.index[k as usize] as usize] = w;
        }
        looking.diode_of.push(NONE);
        looking.others.push((at, column));
        update.multiply_last(factor, |rank| match looking.diode_of[rank] {
            NONE => None,
            diode => Some(looking.across(sight, diode as usize, at)),
        });
        Some(at)
    }

    /// Turns a diode that stands at a place of the update.
    fn turn_in_sight(&mut self, diode: &Turning, at: usize, driven: &mut [f64]) {
        let footing = self.footing;
        let on = !self.room.diode_on[diode.row];
        self.room.diode_on[diode.row] = on;
        // As in the base state, off where it conducted, or on where it did not.
        let (more, current) = match (on, diode.is_on) {
            (true, false) => (diode.g, diode.g * (diode.volts - diode.forward)),
            (false, true) => (-footing.slope[diode.row], -footing.current[diode.row]),
            _ => (0.0, 0.0),
        };
        self.room.update.set(at, more);
        driven[at] = -current;
    }
}
