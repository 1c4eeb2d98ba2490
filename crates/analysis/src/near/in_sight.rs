//! A case on a base without laws that bend, solved only where it is looked at.

use super::case::Case;
use super::footing::Footing;
use super::{Change, NONE};
use crate::law::Law;
use crate::network::Network;
use crate::settle::{DIODE_CURRENT, DIODE_VOLTAGE};
use std::sync::OnceLock;

/// Least pivot of an update that is taken in one step: nine digits of a voltage are left, microamperes of a bolted fault.
const AT_ONCE: f64 = 1e-6;
/// Rounds of diodes in such a case.
const TURNS: usize = 12;
/// Branches beside diodes of which it is kept what they make of these, from one case to the next.
const KEPT: usize = 6;
/// What the steps of a case may leave open, V: within it a diode is on its corner.
const CORNER: f64 = 8e-9;

/// What cases look at: places with all that stand above them, which come first, and then those of diodes. They go down the elimination tree level by level, so that
/// those that follow each other do not wait for each other.
pub(crate) struct Sight {
    places: Vec<u32>,
    /// How many of them what is looked at needs: the others are those of diodes alone.
    looked_at: usize,
    /// Of every place which of these it is, or `NONE`.
    index: Vec<u32>,
    /// The factor there, one place after the other: one over the pivot, and the entries by which of these their row is.
    over: Vec<f64>,
    start: Vec<u32>,
    row: Vec<u32>,
    lower: Vec<f64>,
    diodes: Vec<Turning>,
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
    /// L⁻¹ of 1 A through it, by which of the places in sight.
    way: Vec<(u32, f64)>,
    /// What 1 A through it makes across every diode, V; found once a case turns it.
    makes: OnceLock<Vec<f64>>,
}

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
        let see = |row: usize, seen: &mut Vec<bool>| {
            for node in [network.from[row], network.to[row]] {
                let mut k = place[node as usize];
                while k != NONE && !seen[k as usize] {
                    seen[k as usize] = true;
                    k = pattern.above(k);
                }
            }
        };
        rows.for_each(|row| see(row, &mut seen));
        let is_looked_at = seen.clone();
        let looked_at = seen.iter().filter(|&&seen| seen).count();
        footing.diodes.iter().for_each(|&row| see(row as usize, &mut seen));
        let mut level = vec![0u32; network.nodes];
        let mut places: Vec<u32> = (0..network.nodes as u32).rev().filter(|&k| seen[k as usize]).collect();
        for &k in &places {
            let above = pattern.above(k);
            level[k as usize] = if above == NONE { 0 } else { level[above as usize] + 1 };
        }
        // Of one level those with as many entries together: a loop over entries is quick where it ends as it did before.
        places.sort_by_key(|&k| (!is_looked_at[k as usize], level[k as usize], pattern.entries(k)));
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
            Some(Turning {
                row: of,
                ends: [index[a], index[b]],
                volts: footing.volts[a] - footing.volts[b],
                is_on: footing.diode_on[of],
                forward,
                g,
                way: column.into_iter().map(|(k, w)| (index[k as usize], w)).collect(),
                makes: OnceLock::new(),
            })
        };
        let diodes = footing.diodes.iter().filter_map(&mut turning).collect();
        Sight { places, looked_at, index, over, start, row, lower, diodes }
    }

    /// What a current makes across every diode, V. `y`: L⁻¹ of it at the places in sight, zero afterwards; `x`: room.
    fn across_diodes(&self, y: &mut [f64], x: &mut Vec<f64>) -> Vec<f64> {
        self.backward(y, x);
        self.diodes.iter().map(|diode| x[diode.ends[0] as usize] - x[diode.ends[1] as usize]).collect()
    }

    /// What 1 A through a diode makes across every diode. The rooms as in [`Sight::across_diodes`], `y` zero.
    fn makes(&self, diode: usize, y: &mut [f64], x: &mut Vec<f64>) -> &[f64] {
        let diode = &self.diodes[diode];
        diode.makes.get_or_init(|| {
            diode.way.iter().for_each(|&(at, w)| y[at as usize] = w);
            self.across_diodes(y, x)
        })
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

    fn looks_at(&self, k: u32) -> bool {
        (self.index[k as usize] as usize) < self.looked_at
    }
}

/// What a case needs beside its update, reused from case to case.
#[derive(Default)]
pub(super) struct Looking {
    /// What drives the places in sight, zero but within a step, and how far they have moved.
    driving: Vec<f64>,
    moved: Vec<f64>,
    /// How far every diode has.
    across: Vec<f64>,
    /// Places beside them, last first.
    beside: Vec<u32>,
    is_beside: Vec<bool>,
    /// Diodes that stood otherwise than in the base at the end of the last case in which no branch opened, and of the last in which one did. Faults
    /// that follow each other mostly turn the same, and how diodes stand at rest does not hang on how they stood at first.
    turned: [Vec<usize>; 2],
    /// Diodes that the update still begins with.
    pub(super) standing: Vec<usize>,
    /// What each branch of the update is.
    ranks: Vec<Rank>,
    /// What branches that are no diodes make across every diode, by the places of their ends; those of this case last.
    others: Vec<([u32; 2], Vec<f64>)>,
}

/// A branch of the update.
#[derive(Clone, Copy)]
enum Rank {
    Diode(usize),
    /// Which of [`Looking::others`].
    Other(usize),
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
        let begin = std::mem::take(&mut looking.turned[opens(change)]);
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
        let standing = std::mem::take(&mut looking.standing).iter().zip(begin).take_while(|(a, b)| a == b).count();
        self.room.update.truncate(standing);
        looking.ranks.truncate(standing);
        let old = looking.others.len().saturating_sub(KEPT);
        looking.others.drain(..old);
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
            while k != NONE && !sight.looks_at(k) && !looking.is_beside[k as usize] {
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
            looking.across.clear();
            looking.across.resize(sight.diodes.len(), 0.0);
            for (at, &rank) in looking.ranks.iter().enumerate().filter(|&(at, _)| room.update.weight(at) != 0.0) {
                let (weight, makes) = (
                    room.update.weight(at),
                    match rank {
                        Rank::Diode(diode) => sight.makes(diode, &mut looking.driving, &mut looking.moved),
                        Rank::Other(other) => &looking.others[other].1,
                    },
                );
                looking.across.iter_mut().zip(makes).for_each(|(across, makes)| *across += weight * makes);
            }
            let disagrees = |at: usize| sight.diodes[at].disagrees(room.diode_on[sight.diodes[at].row], looking.across[at]);
            let wrong: Vec<usize> = (0..sight.diodes.len()).filter(|&at| disagrees(at)).collect();
            if wrong.is_empty() {
                let Looking { ranks, driving, is_beside, .. } = &mut *looking;
                for (at, &rank) in ranks.iter().enumerate() {
                    let weight = room.update.weight(at);
                    let mut drive = |k: u32, at: u32, w: f64| {
                        if (at as usize) < sight.looked_at {
                            driving[at as usize] += weight * w;
                        } else if is_beside[k as usize] {
                            room.y[k as usize] += weight * w;
                        }
                    };
                    match rank {
                        _ if weight == 0.0 => {}
                        Rank::Diode(diode) => sight.diodes[diode].way.iter().for_each(|&(at, w)| drive(sight.places[at as usize], at, w)),
                        Rank::Other(_) => room.update.column(at).for_each(|(k, w)| drive(k, sight.index[k as usize], w)),
                    }
                }
                sight.backward(&mut looking.driving[..sight.looked_at], &mut looking.moved);
                for (&k, &moved) in sight.places.iter().zip(&looking.moved) {
                    room.everywhere[k as usize] = moved;
                }
                net.pattern.backward_at(factor, looking.beside.iter(), &mut room.y, &mut room.everywhere);
                room.is_everywhere = true;
                let is_turned = |&diode: &usize| room.diode_on[sight.diodes[diode].row] != sight.diodes[diode].is_on;
                looking.standing = begin.iter().copied().take_while(is_turned).collect();
                looking.turned[opens(change)].extend(turned.into_iter().map(|(diode, _)| diode).filter(is_turned));
                return true;
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
        looking.ranks.push(Rank::Diode(diode));
        let Looking { ranks, others, driving, moved, .. } = looking;
        self.room.update.multiply_last(&self.footing.work.factor, |rank| match ranks[rank] {
            Rank::Diode(other) => Some(sight.makes(other, driving, moved)[diode]),
            Rank::Other(other) => Some(others[other].1[diode]),
        });
        Some(at)
    }

    /// Adds any other branch.
    fn add_branch(&mut self, sight: &Sight, ends: [u32; 2], more: f64, looking: &mut Looking) -> Option<usize> {
        let (update, factor) = (&mut self.room.update, &self.footing.work.factor);
        let at = update.climb(&self.net.pattern, factor, ends[0], Some(ends[1]), more)?;
        let known = looking.others.iter().position(|(of, _)| *of == ends);
        let other = known.unwrap_or_else(|| {
            for (k, w) in update.column(at).filter(|&(k, _)| sight.index[k as usize] != NONE) {
                looking.driving[sight.index[k as usize] as usize] = w;
            }
            looking.others.push((ends, sight.across_diodes(&mut looking.driving, &mut looking.moved)));
            looking.others.len() - 1
        });
        looking.ranks.push(Rank::Other(other));
        update.multiply_last(factor, |rank| match looking.ranks[rank] {
            Rank::Diode(diode) => Some(looking.others[other].1[diode]),
            Rank::Other(_) => None,
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

/// Which of two kinds a case is: one in which branches open, or one in which none does.
fn opens(change: &Change) -> usize {
    usize::from(!change.laws.is_empty())
}
