//! Two faults at a time: the first is followed until it rests, with its devices open and with the actions taken that bring functions back; the second
//! strikes then. Each of two comes first once, and the worse counts. What is looked for is what neither of the two does alone.
//!
//! Nothing is bounded and nothing is guessed. A sequence is left out only where its outcome is known to be one that is there already:
//!
//! * Either fault alone loses all that is wanted in the phase.
//! * What the two change lies in blocks of the network that share no loop ([`Blocks`]), so that each leaf of a need stands as the one fault of its
//!   block leaves it; and of no function is that worse than one of them alone.
//! * The first leaves a state that is live alike to that of another first ([`analysis::Live`]), or the second, of which nothing burns, one that is alike to
//!   another second's; and what joins something, of either, touches nothing that hangs differently. Then both sequences are one, and one of them is followed.
//!   Where it is alike to the phase without a fault, nothing need be followed at all.
//!
//! Cost: singles as in the sweep over them; for each distinct state that a first leaves two factorisations, and for each distinct second there what a
//! single fault costs. Beside it a look at each of n(n − 1) sequences. Memory: of each single fault what it changes, and the pairs found.

mod single;

use super::respond::{is_settled, worst_of_both};
use super::{Base, Rooms, Site, Start, Sweep, held};
use analysis::{Blocks, Foothold, Watch};
use model::*;
use rayon::prelude::*;
use single::{Hangs, Healthy, Mark, Rest, Single};
use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Which pairs are followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PairScreen {
    /// One of those whose outcome is the same.
    OneOfAlike,
    /// Each by itself: to hold the other against.
    Off,
}

/// Firsts whose rests are alike, each as its place among the singles and that of its rest.
type Firsts = Vec<(usize, usize)>;

/// Rows by function and pair.
type Rows = BTreeMap<(Id<Function>, usize, usize), PairRow>;

/// Seconds that are alike, by place among the singles.
type Seconds = Vec<usize>;

/// What a second fault does to functions that are wanted, by their places.
#[derive(Clone, Default)]
struct Done {
    cases: Vec<(usize, Effect, Reason)>,
    /// Whether some state has no operating point: how far it got is its own.
    is_unsettled: bool,
}

/// What one first and one second do to a function that neither does alone.
struct Found {
    function: Id<Function>,
    first: usize,
    second: usize,
    effect: Effect,
    reason: Reason,
}

/// What was found behind some firsts.
#[derive(Default)]
struct Part {
    found: Vec<Found>,
    sequences: Sequences,
    is_partial: bool,
}

impl Sweep<'_, '_> {
    /// Pairs of the faults that a test passes, in some phases; partial if the watch cancelled.
    pub fn pairs(&self, of: impl Fn(usize) -> bool, phases: &[Id<Phase>], screen: PairScreen, watch: &dyn Watch) -> PairTable {
        let faults: Vec<usize> = (0..self.catalogue.faults.len()).filter(|&fault| of(fault)).collect();
        let bases: Vec<&Base> = self.bases.iter().filter(|base| phases.contains(&base.phase())).collect();
        self.count_from_nothing();
        let mut table = PairTable {
            corner: self.corner,
            catalogue: self.catalogue.clone(),
            latent: vec![false; faults.len()],
            wanted: bases.iter().map(|base| (base.phase(), base.wanted.clone())).collect(),
            ..PairTable::default()
        };
        let blocks = Blocks::new(self.prepared);
        let progress = Progress { done: AtomicUsize::new(0), all: faults.len() * faults.len().saturating_sub(1) * bases.len(), watch };
        let mut rows = Rows::new();
        for base in bases {
            self.of_phase(base, (&faults, &blocks), screen, &progress, (&mut table, &mut rows));
        }
        table.faults = faults;
        table.rows = rows.into_values().collect();
        table.states = self.states.load(Ordering::Relaxed);
        table.afresh = self.counted_afresh();
        table.lacking = self.counted_lacking();
        table
    }

    fn of_phase(
        &self,
        base: &Base,
        (faults, blocks): (&[usize], &Blocks),
        screen: PairScreen,
        progress: &Progress,
        (table, rows): (&mut PairTable, &mut Rows),
    ) {
        let healthy = Healthy::new(self, base);
        let single = |&fault: &usize| {
            let is_left = progress.watch.cancelled();
            (!is_left).then(|| self.single(base, &healthy, blocks, fault))
        };
        let singles: Vec<Option<Single>> = faults.par_iter().map(single).collect();
        let Some(singles) = singles.into_iter().collect::<Option<Vec<Single>>>() else {
            table.partial = true;
            return;
        };
        table.latent.iter_mut().zip(&singles).for_each(|(latent, single)| *latent |= single.is_latent);
        let firsts = grouped(
            singles.iter().enumerate().flat_map(|(at, single)| (0..single.rests.len()).map(move |rest| (at, rest))),
            |&(at, rest)| singles[at].rests[rest].mark.as_ref(),
            screen,
        );
        let seconds: Vec<Seconds> = grouped(0..singles.len(), |&at| singles[at].laid.as_ref(), screen);
        table.starts += firsts.len();
        let phase = OfPhase { sweep: self, base, healthy: &healthy, singles: &singles, seconds: &seconds, screen, progress };
        let parts: Vec<Part> = firsts.par_iter().map(|group| phase.behind(group)).collect();
        for part in parts {
            table.sequences.add(&part.sequences);
            table.partial |= part.is_partial;
            for found in part.found {
                let (a, b) = (singles[found.first].fault, singles[found.second].fault);
                let faults = [a.min(b), a.max(b)];
                let row = rows.entry((found.function, faults[0], faults[1])).or_insert_with(|| PairRow {
                    function: found.function,
                    faults,
                    effect: Effect::Kept,
                    reason: Reason::Works,
                    first: 0,
                    phases: Vec::new(),
                });
                // Where both orders are as bad, the lower comes first: which was followed does not show.
                let first = usize::from(a > b);
                if (found.effect, row.first) > (row.effect, first) {
                    (row.effect, row.reason, row.first) = (found.effect, found.reason, first);
                }
                if row.phases.last() != Some(&base.phase()) {
                    row.phases.push(base.phase());
                }
            }
        }
    }
}

struct Progress<'w> {
    done: AtomicUsize,
    all: usize,
    watch: &'w dyn Watch,
}

/// Groups what has equal marks; what has none stands for itself. In the order of the first of each.
fn grouped<'m, T>(all: impl Iterator<Item = T>, mark: impl Fn(&T) -> Option<&'m Mark>, screen: PairScreen) -> Vec<Vec<T>> {
    let mut groups: Vec<Vec<T>> = Vec::new();
    let mut known: HashMap<u64, Vec<usize>> = HashMap::new();
    for one in all {
        let Some(own) = mark(&one).filter(|_| screen == PairScreen::OneOfAlike) else {
            groups.push(vec![one]);
            continue;
        };
        let candidates = known.entry(own.number()).or_default();
        match candidates.iter().find(|&&at| mark(&groups[at][0]) == Some(own)) {
            Some(&at) => groups[at].push(one),
            None => {
                candidates.push(groups.len());
                groups.push(vec![one]);
            }
        }
    }
    groups
}

/// The sequences of one phase.
struct OfPhase<'b, 's, 'd> {
    sweep: &'b Sweep<'s, 'd>,
    base: &'b Base<'s, 'd>,
    healthy: &'b Healthy,
    singles: &'b [Single],
    seconds: &'b [Seconds],
    screen: PairScreen,
    progress: &'b Progress<'b>,
}

/// What is to be done about one sequence.
enum Way {
    /// Nothing; what counts it.
    LeftOut(fn(&mut Sequences) -> &mut usize),
    /// As the first of its group with the second of its group does.
    Alike,
    /// By itself.
    Alone,
}

/// The points of a rest, with what is known of states near them.
struct Ground {
    point: Point,
    held: Point,
    on: [Foothold; 2],
    rooms: Rooms,
    /// Functions that are lost there already.
    lost: Vec<Id<Function>>,
}

impl OfPhase<'_, '_, '_> {
    /// All sequences behind firsts that are alike.
    fn behind(&self, group: &Firsts) -> Part {
        let mut part = Part::default();
        let lead = group[0];
        // What the group does with each group of seconds, once one of it was followed.
        let mut known: Vec<Option<Done>> = vec![None; self.seconds.len()];
        let mut ground_of_lead = None;
        for &first in group {
            let mut own_ground = None;
            for (seconds, known) in self.seconds.iter().zip(&mut known) {
                if self.progress.watch.cancelled() {
                    part.is_partial = true;
                    return part;
                }
                for &second in seconds.iter().filter(|&&second| second != first.0) {
                    let way = self.way(first, lead, second, seconds[0]);
                    // Of a first with several rests one counts.
                    let mut none = Sequences::default();
                    let counts = if first.1 == 0 { &mut part.sequences } else { &mut none };
                    counts.all += 1;
                    let ground = if first == lead { &mut ground_of_lead } else { &mut own_ground };
                    let done = match (way, &known) {
                        // How far a state without an operating point got is its own.
                        (Way::Alike, Some(done)) if !done.is_unsettled => {
                            counts.alike += 1;
                            done.clone()
                        }
                        (Way::Alike, None) => {
                            counts.followed += 1;
                            known.insert(self.follow(lead, second, &mut ground_of_lead)).clone()
                        }
                        (Way::Alike | Way::Alone, _) => {
                            counts.followed += 1;
                            self.follow(first, second, ground)
                        }
                        (Way::LeftOut(count), _) => {
                            *count(counts) += 1;
                            continue;
                        }
                    };
                    self.keep(&done, (first.0, second), &mut part.found);
                }
            }
        }
        let sequences = group.iter().filter(|first| first.1 == 0).count() * (self.singles.len() - 1);
        let done = self.progress.done.fetch_add(sequences, Ordering::Relaxed) + sequences;
        self.progress.watch.progress(done, self.progress.all);
        part
    }

    fn rest(&self, (at, rest): (usize, usize)) -> &Rest {
        &self.singles[at].rests[rest]
    }

    fn way(&self, first: (usize, usize), lead: (usize, usize), second: usize, seconds: usize) -> Way {
        let (a, b, rest) = (&self.singles[first.0], &self.singles[second], self.rest(first));
        if a.excludes(b) {
            return Way::LeftOut(|of| &mut of.excluded);
        }
        if self.clashes(first, second) {
            return Way::LeftOut(|of| &mut of.not_followed);
        }
        if self.screen == PairScreen::Off {
            return Way::Alone;
        }
        if a.lost.covers_with(&b.lost, self.base.wanted.len()) {
            return Way::LeftOut(|of| &mut of.lost_alone);
        }
        // Nothing that one joins may hang otherwise on what another leaves than on what the two are compared by.
        let same = |touched: &[u32], one: &Hangs, other: &Hangs| {
            touched.iter().all(|&node| one.at(node, &self.healthy.live) == other.at(node, &self.healthy.live))
        };
        let nothing = Hangs::default();
        let first_does_nothing = match (rest.stuck_alone.as_deref(), &b.opening) {
            (Some([]), _) => true,
            // What is stuck closed does nothing to what does not open it.
            (Some(stuck), Some(opening)) => stuck.iter().all(|device| !opening.contains(device)),
            _ => false,
        };
        if first_does_nothing && same(&b.touches, &rest.hangs, &nothing) || b.is_idle && same(&rest.touches, &b.hangs, &nothing) {
            return Way::LeftOut(|of| &mut of.unchanged);
        }
        if !a.blocks.meets(&b.blocks) && self.is_sum_known(a, b) {
            return Way::LeftOut(|of| &mut of.apart);
        }
        let of_lead = self.rest(lead);
        let is_alike = same(&b.touches, &rest.hangs, &of_lead.hangs)
            && same(&of_lead.touches, &b.hangs, &self.singles[seconds].hangs)
            && !self.clashes(lead, second)
            && !self.singles[lead.0].excludes(b);
        if is_alike { Way::Alike } else { Way::Alone }
    }

    /// Whether a conductor is open or touches structure at two places that are not known against each other.
    fn clashes(&self, first: (usize, usize), second: usize) -> bool {
        let (rest, b) = (self.rest(first), &self.singles[second]);
        let meet = |along: &[usize], open: &[usize]| along.iter().any(|row| open.binary_search(row).is_ok());
        meet(&b.along, &rest.opened) || meet(&rest.along, &b.opened) || meet(&b.along, &rest.along)
    }

    /// Whether what two faults do that share no block is nothing that one of them does not do alone: each leaf stands as the worse of the two leaves it.
    fn is_sum_known(&self, a: &Single, b: &Single) -> bool {
        a.leaves.iter().all(|(function, leaves)| {
            let Some((_, others)) = b.leaves.iter().find(|(of, _)| of == function) else { return true };
            let mut at = 0;
            let worst = self.sweep.design.functions[self.base.wanted[*function]].need.worst(&mut |_| {
                at += 1;
                leaves[at - 1].max(others[at - 1])
            });
            let alone = a.alone[*function].max(b.alone[*function]);
            alone >= Effect::Lost || worst <= alone
        })
    }

    /// Follows a second fault from the rest of a first.
    fn follow(&self, first: (usize, usize), second: usize, ground: &mut Option<Ground>) -> Done {
        let sweep = self.sweep;
        let rest = self.rest(first);
        let ground = ground.get_or_insert_with(|| {
            let point = sweep.settle(&self.base.start, false, &rest.scenario, &mut [None, None]);
            let held = held(sweep.prepared, &point);
            let mut ground = Ground { point, held, on: Default::default(), rooms: [None, None], lost: Vec::new() };
            let start = Start::new(sweep.prepared, [&ground.point, &ground.held], &ground.on, rest.scars.clone());
            let site = Site { base: self.base, start: &start };
            let stands = sweep.stand(site, &sweep.state(site, ground.point.clone(), false), None, &|_| true).cases;
            ground.lost = stands.iter().filter(|case| case.effect >= Effect::Lost).map(|case| case.function).collect();
            ground
        });
        let start = Start::new(sweep.prepared, [&ground.point, &ground.held], &ground.on, rest.scars.clone());
        let site = Site { base: self.base, start: &start };
        let rooms = &mut ground.rooms;
        let place = |function| self.base.wanted.iter().position(|of| *of == function).expect("stand: of functions that are wanted");
        // What one of the two loses alone is not new.
        let is_asked = |function| !ground.lost.contains(&function) && self.singles[second].alone[place(function)] < Effect::Lost;
        let mut cases = Vec::new();
        let mut is_unsettled = !is_settled(&ground.point);
        let Some(ended) = sweep.ends(self.singles[second].fault, site, rooms) else { return Done::default() };
        for end in &ended.ends {
            let burnt = ended.burnt(end);
            let mut stands = sweep.stand(site, &end.state, burnt.as_ref(), &is_asked).cases;
            sweep.act(site, &end.state, &mut stands, burnt.as_ref(), rooms, false);
            is_unsettled |= !is_settled(&end.state.point);
            stands.retain(|case| case.effect > Effect::Kept);
            worst_of_both(&mut cases, stands);
        }
        Done { cases: cases.into_iter().map(|case| (place(case.function), case.effect, case.reason)).collect(), is_unsettled }
    }

    /// Keeps what neither of two does alone.
    fn keep(&self, done: &Done, (first, second): (usize, usize), found: &mut Vec<Found>) {
        let (a, b) = (&self.singles[first], &self.singles[second]);
        for &(function, effect, reason) in &done.cases {
            let alone = a.alone[function].max(b.alone[function]);
            if alone < Effect::Lost && effect > alone {
                found.push(Found { function: self.base.wanted[function], first, second, effect, reason });
            }
        }
    }
}
