//! Routes of wires through branch points and segments: the cheapest allowed way of each, in a stated order.
//!
//! Cost of a route: Σ length × weight of its segments. A segment may be closed to a wire for good (it does not admit the wire's class, or
//! the wire is thicker than its room) or by wires that lie in it already: classes to be kept apart, groups that must not meet, fill.
//!
//! Order: wires with vias first, then thick before thin, then as given. Each takes the cheapest route that is left; a pinned wire takes the
//! one that it would take alone, whatever lies in it, and over segments closed to it for good if there is no other. As what wires lay in can
//! only close segments, a wire on the route that it would take alone cannot do better; if all are, no order gives a smaller sum and the plan
//! is [`Plan::proven`]. Otherwise another order might, and the plan says so.
//!
//! ```text
//! alone     one search per end and set of segments closed for good: every other end of it at once
//! in order  own route still open → taken; else the last one found for the same ends → taken if open; else a search
//! ```

use physics::{Metre, SquareMetre, bundle};
use rayon::prelude::*;
use std::cmp::{Ordering, Reverse};
use std::collections::{BinaryHeap, HashMap};

/// A segment of the harness between two branch points.
#[derive(Clone, Debug)]
pub struct Way {
    /// The branch points it joins, by number.
    pub ends: [u32; 2],
    /// How long it is.
    pub length: Metre,
    /// Cost of a metre of it: 1, or more where wires are not wanted.
    pub weight: f64,
    /// Classes of wire that it admits, a bit each.
    pub admits: u64,
    /// Area that wires may take in its narrowest hole or clamp (see [`bundle::room`]); `None` if nothing limits it.
    pub room: Option<SquareMetre>,
}

/// What must not lie in one segment.
#[derive(Clone, Debug, Default)]
pub struct Apart {
    /// Pairs of classes, each below 64.
    pub classes: Vec<(u8, u8)>,
    /// Pairs of groups.
    pub groups: Vec<(u32, u32)>,
}

/// Where a wire must pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Via {
    /// A branch point.
    Point(u32),
    /// A segment, in either direction.
    Way(u32),
}

/// A wire to be routed.
#[derive(Clone, Debug)]
pub struct Demand {
    /// Branch point of one end.
    pub from: u32,
    /// Branch point of the other end.
    pub to: u32,
    /// Class, below 64.
    pub class: u8,
    /// Group for the not-with pairs, for example its circuit.
    pub group: Option<u32>,
    /// Finished outside diameter.
    pub diameter: Metre,
    /// Where it must pass, in this order from `from` to `to`.
    pub via: Vec<Via>,
    /// Whether it is laid through its vias whatever lies there: what it then lies in against the rules is for others to say.
    pub pinned: bool,
}

/// Why a segment is closed to a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// It does not admit the wire's class.
    NotAdmitted,
    /// A wire of this class, to be kept apart, lies in it.
    Class(u8),
    /// A wire of this group, not to be met, lies in it.
    Group(u32),
    /// There is no room left.
    Full {
        /// What the segment has.
        room: SquareMetre,
        /// What lies in it.
        used: SquareMetre,
        /// What the wire needs, for each time that its route passes.
        needs: SquareMetre,
    },
}

/// A segment that was closed to a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closed {
    /// The segment.
    pub way: u32,
    /// Why.
    pub why: Why,
}

/// The route of a wire.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Segments from `from` to `to`. A via on a stub makes a route double back: then a segment comes twice.
    pub ways: Vec<u32>,
    /// Length along them.
    pub length: Metre,
    /// Cost, Σ length × weight.
    pub cost: f64,
    /// Cost of the route that it would have with no other wire in the harness.
    pub alone: f64,
    /// The first segment of that route that other wires closed.
    pub moved_by: Option<Closed>,
    /// It is pinned, and lies where segments are closed to it.
    pub against: bool,
}

/// A wire without a route, and where its path breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// Which leg breaks: 0 up to the first via, and so on.
    pub leg: usize,
    /// The end of the leg that is shut in: of its two ends the one from which fewer branch points can be reached.
    pub shut_in: u32,
    /// The branch point reached from there that is nearest to the leg's other end, were all segments open.
    pub nearest: u32,
    /// How far it still is from there, were all segments open; `None` if no segments lead there at all.
    pub remaining: Option<Metre>,
    /// Closed segments at the edge of what can be reached, those nearest to the other end first; or the one that the wire must pass and
    /// may not, or would pass twice without room for it.
    pub closed: Vec<Closed>,
    /// Whether the wire has no route even alone in the harness.
    pub even_alone: bool,
}

/// Routes of all wires.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Wires in the order in which they were routed.
    pub order: Vec<u32>,
    /// Route of each wire, in the order given.
    pub routes: Vec<Result<Found, Broken>>,
    /// Whether no order of routing gives more routes or a smaller sum of costs.
    pub proven: bool,
}

/// A row that has no meaning as a map or a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Its place in the list.
    pub row: usize,
    /// What is wrong.
    pub what: &'static str,
}

/// Branch points and segments, laid out for searching.
#[derive(Clone, Debug)]
pub struct Map {
    points: usize,
    ways: Vec<Way>,
    /// Segments at each branch point: `meets[starts[p]..starts[p + 1]]`, with the branch point at their other end.
    starts: Vec<u32>,
    meets: Vec<(u32, u32)>,
    /// Per class, the classes to be kept apart from it.
    apart: [u64; CLASSES],
    /// Groups that must not meet, both ways round, sorted.
    not_with: Vec<(u32, u32)>,
}

/// Classes that a mask has room for.
const CLASSES: usize = 64;

impl Map {
    /// Lays out `points` branch points and the segments between them.
    ///
    /// # Errors  The first segment with an end outside, or a length or weight below zero or not finite; the first pair of a class above 63.
    pub fn new(points: usize, ways: Vec<Way>, rules: &Apart) -> Result<Map, Fault> {
        for (row, way) in ways.iter().enumerate() {
            let fault = |what| Err(Fault { row, what });
            if way.ends.iter().any(|end| *end as usize >= points) {
                return fault("an end that is no branch point");
            }
            if !(way.length.0 >= 0.0 && way.length.0.is_finite() && way.weight >= 0.0 && way.weight.is_finite()) {
                return fault("length and weight of at least 0");
            }
        }
        let mut apart = [0u64; CLASSES];
        for (row, &(a, b)) in rules.classes.iter().enumerate() {
            if a as usize >= CLASSES || b as usize >= CLASSES {
                return Err(Fault { row, what: "a class below 64" });
            }
            apart[a as usize] |= 1 << b;
            apart[b as usize] |= 1 << a;
        }
        let mut not_with: Vec<(u32, u32)> = rules.groups.iter().flat_map(|&(a, b)| [(a, b), (b, a)]).collect();
        not_with.sort_unstable();
        not_with.dedup();
        let mut starts = vec![0u32; points + 1];
        for way in &ways {
            starts[way.ends[0] as usize + 1] += 1;
            starts[way.ends[1] as usize + 1] += 1;
        }
        for p in 0..points {
            starts[p + 1] += starts[p];
        }
        let mut next = starts.clone();
        let mut meets = vec![(0, 0); 2 * ways.len()];
        for (row, way) in ways.iter().enumerate() {
            for (end, other) in [(way.ends[0], way.ends[1]), (way.ends[1], way.ends[0])] {
                meets[next[end as usize] as usize] = (row as u32, other);
                next[end as usize] += 1;
            }
        }
        Ok(Map { points, ways, starts, meets, apart, not_with })
    }

    fn at(&self, point: u32) -> &[(u32, u32)] {
        &self.meets[self.starts[point as usize] as usize..self.starts[point as usize + 1] as usize]
    }

    fn cost(&self, way: u32) -> f64 {
        let way = &self.ways[way as usize];
        way.length.0 * way.weight
    }

    /// Groups that must not meet a group.
    fn enemies(&self, group: u32) -> &[(u32, u32)] {
        let first = self.not_with.partition_point(|pair| pair.0 < group);
        &self.not_with[first..first + self.not_with[first..].partition_point(|pair| pair.0 == group)]
    }
}

/// What a wire is, as far as segments can be closed to it.
#[derive(Clone, Copy, Debug)]
struct Kind {
    class: u8,
    group: Option<u32>,
    area: f64,
}

/// What lies in a segment.
#[derive(Clone, Debug, Default)]
struct Lain {
    area: f64,
    classes: u64,
    /// Groups that have enemies, sorted.
    groups: Vec<u32>,
}

/// Why a segment is closed to a kind of wire for good, before any other wire lies in it.
fn closed_for_good(map: &Map, way: u32, kind: &Kind) -> Option<Why> {
    let way = &map.ways[way as usize];
    if way.admits >> kind.class & 1 == 0 {
        return Some(Why::NotAdmitted);
    }
    full(way, 0.0, kind.area)
}

fn full(way: &Way, used: f64, needs: f64) -> Option<Why> {
    let room = way.room?;
    is_over(used + needs, room.0).then_some(Why::Full { room, used: SquareMetre(used), needs: SquareMetre(needs) })
}

/// Wires that fill a hole to its limit fit; the sum's rounding must not shut it.
fn is_over(area: f64, room: f64) -> bool {
    area > room * (1.0 + 1e-9)
}

/// Why a segment is closed to a kind of wire by what lies in it.
fn closed_by_others(map: &Map, way: u32, kind: &Kind, lain: &Lain) -> Option<Why> {
    let clash = lain.classes & map.apart[kind.class as usize];
    if clash != 0 {
        return Some(Why::Class(clash.trailing_zeros() as u8));
    }
    if let Some(group) = kind.group
        && !lain.groups.is_empty()
        && let Some((_, enemy)) = map.enemies(group).iter().find(|(_, enemy)| lain.groups.binary_search(enemy).is_ok())
    {
        return Some(Why::Group(*enemy));
    }
    full(&map.ways[way as usize], lain.area, kind.area)
}

fn closed(map: &Map, way: u32, kind: &Kind, lain: Option<&[Lain]>) -> Option<Why> {
    closed_for_good(map, way, kind).or_else(|| closed_by_others(map, way, kind, lain?.get(way as usize)?))
}

/// Cost on the way to a state; equal costs prefer fewer segments, then the lower number.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Reach {
    cost: f64,
    hops: u32,
    state: u32,
}

impl Eq for Reach {}
impl Ord for Reach {
    fn cmp(&self, other: &Reach) -> Ordering {
        self.cost.total_cmp(&other.cost).then(self.hops.cmp(&other.hops)).then(self.state.cmp(&other.state))
    }
}
impl PartialOrd for Reach {
    fn partial_cmp(&self, other: &Reach) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Arrays of a search, reused: an entry counts only if its stamp is that of the present search.
#[derive(Debug, Default)]
struct Search {
    stamp: u32,
    seen: Vec<u32>,
    done: Vec<u32>,
    best: Vec<(f64, u32)>,
    /// Segment and state that a state was reached from.
    back: Vec<(u32, u32)>,
    heap: BinaryHeap<Reverse<Reach>>,
}

const NOWHERE: u32 = u32::MAX;

impl Search {
    /// A fresh stamp for `states` states.
    fn begin(&mut self, states: usize) {
        if self.seen.len() < states {
            self.seen.resize(states, 0);
            self.done.resize(states, 0);
            self.best.resize(states, (0.0, 0));
            self.back.resize(states, (NOWHERE, NOWHERE));
        }
        if self.stamp == u32::MAX {
            self.seen.fill(0);
            self.done.fill(0);
            self.stamp = 0;
        }
        self.stamp += 1;
        self.heap.clear();
    }

    fn offer(&mut self, reach: Reach, back: (u32, u32)) {
        let state = reach.state as usize;
        if self.done[state] == self.stamp {
            return;
        }
        let new = (reach.cost, reach.hops, back.0);
        let (cost, hops) = self.best[state];
        let better = self.seen[state] != self.stamp
            || new.0.total_cmp(&cost).then(new.1.cmp(&hops)).then(new.2.cmp(&self.back[state].0)) == Ordering::Less;
        if better {
            self.seen[state] = self.stamp;
            self.best[state] = (reach.cost, reach.hops);
            self.back[state] = back;
            self.heap.push(Reverse(reach));
        }
    }

    /// Settles states from `from` in order of cost, over segments that `open` lets pass, until `stop` says so.
    ///
    /// A state is a branch point and how many vias lie behind: the number of the branch point plus `points` for each.
    fn run(&mut self, map: &Map, from: u32, via: &[Via], open: impl Fn(u32) -> bool, mut stop: impl FnMut(u32) -> bool) {
        let points = map.points as u32;
        self.begin(map.points * (via.len() + 1));
        // A via on the spot is passed at once: to have it behind is never worse.
        let passed = |mut layer: usize, point: u32| {
            while via.get(layer) == Some(&Via::Point(point)) {
                layer += 1;
            }
            layer as u32 * points + point
        };
        self.offer(Reach { cost: 0.0, hops: 0, state: passed(0, from) }, (NOWHERE, NOWHERE));
        while let Some(Reverse(reach)) = self.heap.pop() {
            let state = reach.state as usize;
            if self.done[state] == self.stamp {
                continue;
            }
            self.done[state] = self.stamp;
            if stop(reach.state) {
                return;
            }
            let (layer, point) = (state / map.points, reach.state % points);
            for &(way, other) in map.at(point) {
                if !open(way) {
                    continue;
                }
                let layer = layer + usize::from(via.get(layer) == Some(&Via::Way(way)));
                let next = Reach { cost: reach.cost + map.cost(way), hops: reach.hops + 1, state: passed(layer, other) };
                self.offer(next, (way, reach.state));
            }
        }
    }

    fn is_done(&self, state: u32) -> bool {
        self.done[state as usize] == self.stamp
    }

    /// Segments to a settled state.
    fn path(&self, mut state: u32) -> Vec<u32> {
        let mut ways = Vec::with_capacity(self.best[state as usize].1 as usize);
        while self.back[state as usize].0 != NOWHERE {
            let (way, before) = self.back[state as usize];
            ways.push(way);
            state = before;
        }
        ways.reverse();
        ways
    }
}

/// Segments from the end of the lower number to the other, and their cost.
#[derive(Clone, Debug)]
struct Path {
    ways: Vec<u32>,
    cost: f64,
    /// Whether it has vias, and so may pass a segment twice.
    may_double: bool,
}

/// Cheapest path of a wire through its vias, over segments open to it. From the end of the lower number, so that both directions of a
/// wire take one path.
fn cheapest(map: &Map, wire: &Demand, open: impl Fn(u32) -> bool, search: &mut Search) -> Option<Path> {
    let forward = wire.from <= wire.to;
    let (from, to) = if forward { (wire.from, wire.to) } else { (wire.to, wire.from) };
    let mut via = wire.via.clone();
    if !forward {
        via.reverse();
    }
    let goal = (via.len() * map.points) as u32 + to;
    search.run(map, from, &via, open, |state| state == goal);
    search.is_done(goal).then(|| Path { ways: search.path(goal), cost: search.best[goal as usize].0, may_double: !via.is_empty() })
}

/// Two floods over open segments, one from each end, a branch point at a time in turn.
#[derive(Debug, Default)]
struct Flood {
    stamp: u32,
    /// Twice the stamp, and 1 more from the second end.
    mark: Vec<u32>,
    reached: [Vec<u32>; 2],
}

impl Flood {
    /// Whether two branch points are joined by open segments. If not, the end that was exhausted first: all that it reaches is in `reached`.
    ///
    /// Either end may be in a corner of a large harness: the cost is that of the smaller part, where one search would go through all of it.
    fn shut_in(&mut self, map: &Map, ends: [u32; 2], open: impl Fn(u32) -> bool) -> Option<usize> {
        if self.stamp > u32::MAX / 2 - 2 {
            self.mark.fill(0);
            self.stamp = 0;
        }
        self.stamp += 1;
        self.mark.resize(map.points, 0);
        if ends[0] == ends[1] {
            return None;
        }
        let marks = [2 * self.stamp, 2 * self.stamp + 1];
        for side in [0, 1] {
            self.reached[side].clear();
            self.reached[side].push(ends[side]);
            self.mark[ends[side] as usize] = marks[side];
        }
        // Each turn takes a branch point from either side, so there are no more turns than branch points.
        for turn in 0..map.points {
            for side in [0, 1] {
                let Some(&point) = self.reached[side].get(turn) else { return Some(side) };
                for &(way, other) in map.at(point) {
                    let mark = self.mark[other as usize];
                    if mark == marks[side] || !open(way) {
                        continue;
                    }
                    if mark == marks[1 - side] {
                        return None;
                    }
                    self.mark[other as usize] = marks[side];
                    self.reached[side].push(other);
                }
            }
        }
        None
    }

    fn is_reached(&self, side: usize, point: u32) -> bool {
        self.mark[point as usize] == 2 * self.stamp + side as u32
    }
}

/// Where the path of a wire breaks, if it does. Open segments are passed in both directions, so a route exists if all ends and vias hang
/// together.
fn broken(map: &Map, wire: &Demand, kind: &Kind, lain: Option<&[Lain]>, flood: &mut Flood, search: &mut Search) -> Option<Broken> {
    let open = |way| closed(map, way, kind, lain).is_none();
    let even_alone = lain.is_none();
    // Without vias the end of the lower number comes first, so that both directions of a wire are told alike.
    let (mut at, to) = if wire.via.is_empty() { (wire.from.min(wire.to), wire.from.max(wire.to)) } else { (wire.from, wire.to) };
    for leg in 0..=wire.via.len() {
        let via = wire.via.get(leg);
        let next = match via {
            None => to,
            Some(Via::Point(point)) => *point,
            Some(Via::Way(way)) => map.ways[*way as usize].ends[0],
        };
        if let Some(side) = flood.shut_in(map, [at, next], open) {
            let ends = [at, next];
            return Some(at_the_edge(map, kind, lain, Shut { leg, end: ends[side], other: ends[1 - side], side }, flood, search));
        }
        if let Some(Via::Way(way)) = via
            && let Some(why) = closed(map, *way, kind, lain)
        {
            let closed = vec![Closed { way: *way, why }];
            return Some(Broken { leg, shut_in: next, nearest: next, remaining: Some(Metre(0.0)), closed, even_alone });
        }
        at = next;
    }
    None
}

/// The end of a leg that is shut in.
#[derive(Clone, Copy)]
struct Shut {
    leg: usize,
    end: u32,
    other: u32,
    /// Which of the two floods.
    side: usize,
}

fn at_the_edge(map: &Map, kind: &Kind, lain: Option<&[Lain]>, shut: Shut, flood: &Flood, search: &mut Search) -> Broken {
    let Shut { leg, end, other, side } = shut;
    // From the other end over all segments, to the first branch point that was reached: the nearest.
    let mut nearest = None;
    search.run(
        map,
        other,
        &[],
        |_| true,
        |point| {
            nearest = flood.is_reached(side, point).then_some(point);
            nearest.is_some()
        },
    );
    let remaining = nearest.map(|point| Metre(search.path(point).iter().map(|way| map.ways[*way as usize].length.0).sum()));
    let mut edge: Vec<(f64, Closed)> = Vec::new();
    for &point in &flood.reached[side] {
        for &(way, beyond) in map.at(point) {
            if !flood.is_reached(side, beyond)
                && let Some(why) = closed(map, way, kind, lain)
            {
                let far = if search.is_done(beyond) { search.best[beyond as usize].0 } else { f64::INFINITY };
                edge.push((far, Closed { way, why }));
            }
        }
    }
    edge.sort_by(|(a, ca), (b, cb)| a.total_cmp(b).then(ca.way.cmp(&cb.way)));
    let closed = edge.into_iter().map(|(_, closed)| closed).collect();
    Broken { leg, shut_in: end, nearest: nearest.unwrap_or(end), remaining, closed, even_alone: lain.is_none() }
}

/// A question whose answer many wires share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Key {
    from: u32,
    class: u8,
    /// Bits of the diameter; alone in the harness, how many rooms are too small.
    size: u64,
    to: u32,
}

impl Key {
    fn of(wire: &Demand) -> Key {
        let (from, to) = (wire.from.min(wire.to), wire.from.max(wire.to));
        Key { from, class: wire.class, size: wire.diameter.0.to_bits(), to }
    }
}

/// Which wires the same segments are closed to for good: a wire's class and size matter no further while it is alone.
struct Alike {
    /// For each class the lowest that every segment treats alike.
    class: [u8; CLASSES],
    /// Rooms in rising order.
    rooms: Vec<f64>,
}

impl Alike {
    fn new(map: &Map) -> Alike {
        let mut masks: Vec<u64> = map.ways.iter().map(|way| way.admits).collect();
        masks.sort_unstable();
        masks.dedup();
        // Bit b of `differs[a]`: some segment admits one of the classes a and b and not the other.
        let mut differs = [0u64; CLASSES];
        for mask in masks {
            for (class, differs) in differs.iter_mut().enumerate() {
                *differs |= if mask >> class & 1 == 1 { !mask } else { mask };
            }
        }
        let mut rooms: Vec<f64> = map.ways.iter().filter_map(|way| way.room).map(|room| room.0).collect();
        rooms.sort_unstable_by(f64::total_cmp);
        rooms.dedup();
        Alike { class: differs.map(|differs| (!differs).trailing_zeros() as u8), rooms }
    }

    fn key(&self, wire: &Demand) -> Key {
        let area = bundle::circle(wire.diameter).0;
        let too_small = self.rooms.partition_point(|room| is_over(area, *room));
        Key { class: self.class[wire.class as usize], size: too_small as u64, ..Key::of(wire) }
    }
}

fn kind(wire: &Demand) -> Kind {
    Kind { class: wire.class, group: wire.group, area: bundle::circle(wire.diameter).0 }
}

/// Routes wires one after the other, each by the cheapest way that is left.
///
/// # Units     Lengths and diameters (m), costs (weighted m)
/// # Errors    The first wire with an end or via outside the map, a class above 63, or a diameter below zero or not finite.
/// # Source    Computed: Dijkstra's search. Cost: a search per distinct end, and one for each time that others close a route.
pub fn route(map: &Map, wires: &[Demand]) -> Result<Plan, Fault> {
    for (row, wire) in wires.iter().enumerate() {
        check(map, row, wire)?;
    }
    let (alone, alone_of) = alone(map, wires);
    let order = order(wires);
    let mut lain = vec![Lain::default(); map.ways.len()];
    let mut last: HashMap<(Key, Option<u32>), Result<Path, Broken>> = HashMap::new();
    // With the size, for a full segment is told with what the wire needs.
    let mut never: HashMap<(u32, u64), Broken> = HashMap::new();
    let (mut search, mut flood) = (Search::default(), Flood::default());
    let mut routes: Vec<Option<Result<Found, Broken>>> = vec![None; wires.len()];
    let mut proven = true;
    for &index in &order {
        let wire = &wires[index as usize];
        let kind = kind(wire);
        let question = alone_of[index as usize];
        let Some(own) = &alone[question as usize] else {
            if let Some(path) = anyway(map, wire, &mut search) {
                proven = false;
                lay_all(map, &mut lain, &path, &kind);
                let cost = path.cost;
                routes[index as usize] = Some(Ok(laid(map, wire, path, cost, None, true)));
                continue;
            }
            let told = never.entry((question, wire.diameter.0.to_bits())).or_insert_with(|| {
                broken(map, wire, &kind, None, &mut flood, &mut search).expect("a wire without a path is shut in somewhere")
            });
            routes[index as usize] = Some(Err(told.clone()));
            continue;
        };
        let blocked = first_closed(map, own, &kind, &lain);
        let chosen = if blocked.is_none() || wire.pinned {
            Ok(own.clone())
        } else {
            let key = wire.via.is_empty().then(|| (Key::of(wire), wire.group));
            match key.and_then(|key| last.get(&key)) {
                // Wires only ever close segments: what was cheapest is cheapest while it is open, and none stays none.
                Some(Ok(path)) if first_closed(map, path, &kind, &lain).is_none() => Ok(path.clone()),
                Some(Err(broken)) => Err(broken.clone()),
                _ => {
                    let found = among_others(map, wire, &kind, &lain, &mut flood, &mut search);
                    if let Some(key) = key {
                        last.insert(key, found.clone());
                    }
                    found
                }
            }
        };
        routes[index as usize] = Some(match chosen {
            Err(broken) => {
                proven = false;
                Err(broken)
            }
            Ok(path) => {
                let against = wire.pinned && blocked.is_some();
                proven &= !against && path.cost <= own.cost * (1.0 + 1e-12);
                lay_all(map, &mut lain, &path, &kind);
                Ok(laid(map, wire, path, own.cost, blocked, against))
            }
        });
    }
    let routes = routes.into_iter().map(|route| route.expect("the order names every wire once")).collect();
    Ok(Plan { order, routes, proven })
}

/// The route of a pinned wire over segments of every kind.
fn anyway(map: &Map, wire: &Demand, search: &mut Search) -> Option<Path> {
    if wire.pinned { cheapest(map, wire, |_| true, search) } else { None }
}

fn lay_all(map: &Map, lain: &mut [Lain], path: &Path, kind: &Kind) {
    for &way in &path.ways {
        lay(map, &mut lain[way as usize], kind);
    }
}

/// A path as the route of a wire.
fn laid(map: &Map, wire: &Demand, path: Path, alone: f64, moved_by: Option<Closed>, against: bool) -> Found {
    let length = Metre(path.ways.iter().map(|way| map.ways[*way as usize].length.0).sum());
    let mut ways = path.ways;
    if wire.from > wire.to {
        ways.reverse();
    }
    Found { ways, length, cost: path.cost, alone, moved_by, against }
}

/// Cheapest route that other wires leave.
fn among_others(map: &Map, wire: &Demand, kind: &Kind, lain: &[Lain], flood: &mut Flood, search: &mut Search) -> Result<Path, Broken> {
    if let Some(broken) = broken(map, wire, kind, Some(lain), flood, search) {
        return Err(broken);
    }
    let path = cheapest(map, wire, |way| closed(map, way, kind, Some(lain)).is_none(), search)
        .expect("ends and vias that hang together have a path");
    match first_closed(map, &path, kind, lain) {
        None => Ok(path),
        // It doubles back where there is room for one pass only; the search does not look for another.
        Some(twice) => Err(Broken {
            leg: wire.via.len(),
            shut_in: wire.to,
            nearest: wire.to,
            remaining: Some(Metre(0.0)),
            closed: vec![twice],
            even_alone: false,
        }),
    }
}

fn check(map: &Map, row: usize, wire: &Demand) -> Result<(), Fault> {
    let is_point = |point: u32| (point as usize) < map.points;
    let fault = |what| Err(Fault { row, what });
    if !is_point(wire.from) || !is_point(wire.to) {
        return fault("an end that is no branch point");
    }
    let known = |via: &Via| match *via {
        Via::Point(point) => is_point(point),
        Via::Way(way) => (way as usize) < map.ways.len(),
    };
    if !wire.via.iter().all(known) {
        return fault("a via that is not in the map");
    }
    if wire.class as usize >= CLASSES {
        return fault("a class below 64");
    }
    if !(wire.diameter.0 >= 0.0 && wire.diameter.0.is_finite()) {
        return fault("a diameter of at least 0");
    }
    Ok(())
}

/// Wires with vias first, for they have least choice; then thick before thin; then as given.
fn order(wires: &[Demand]) -> Vec<u32> {
    let mut order: Vec<u32> = (0..wires.len() as u32).collect();
    order.sort_by(|&a, &b| {
        let (one, other) = (&wires[a as usize], &wires[b as usize]);
        one.via.is_empty().cmp(&other.via.is_empty()).then(other.diameter.0.total_cmp(&one.diameter.0)).then(a.cmp(&b))
    });
    order
}

/// Path of each distinct wire alone in the harness, and which of them is whose.
fn alone(map: &Map, wires: &[Demand]) -> (Vec<Option<Path>>, Vec<u32>) {
    let alike = Alike::new(map);
    // Any of the wires that ask the same stands for them.
    let mut keys: Vec<(Key, u32)> =
        (0..wires.len() as u32).filter(|i| wires[*i as usize].via.is_empty()).map(|i| (alike.key(&wires[i as usize]), i)).collect();
    keys.sort_unstable();
    keys.dedup_by_key(|(key, _)| *key);
    let groups: Vec<&[(Key, u32)]> = keys.chunk_by(|(a, _), (b, _)| (a.from, a.class, a.size) == (b.from, b.class, b.size)).collect();
    let by_group: Vec<Vec<Option<Path>>> = groups
        .par_iter()
        .map_init(Search::default, |search, group| {
            let (first, one_of_them) = group[0];
            let kind = kind(&wires[one_of_them as usize]);
            let mut left = group.len();
            let open = |way| closed_for_good(map, way, &kind).is_none();
            search.run(map, first.from, &[], open, |state| {
                left -= usize::from(group.binary_search_by_key(&state, |(key, _)| key.to).is_ok());
                left == 0
            });
            let path = |to: u32| Path { ways: search.path(to), cost: search.best[to as usize].0, may_double: false };
            group.iter().map(|(key, _)| search.is_done(key.to).then(|| path(key.to))).collect()
        })
        .collect();
    let mut paths: Vec<Option<Path>> = by_group.into_iter().flatten().collect();
    let mut search = Search::default();
    let mut of = Vec::with_capacity(wires.len());
    for wire in wires {
        of.push(match wire.via.is_empty() {
            true => keys.binary_search_by_key(&alike.key(wire), |(key, _)| *key).expect("every wire without vias has its key") as u32,
            false => {
                let kind = kind(wire);
                paths.push(cheapest(map, wire, |way| closed_for_good(map, way, &kind).is_none(), &mut search));
                paths.len() as u32 - 1
            }
        });
    }
    (paths, of)
}

/// First segment of a path that is closed by other wires, or has no room for all the times that the path passes it.
fn first_closed(map: &Map, path: &Path, kind: &Kind, lain: &[Lain]) -> Option<Closed> {
    path.ways.iter().enumerate().find_map(|(at, &way)| {
        let passes = if path.may_double { 1 + path.ways[..at].iter().filter(|before| **before == way).count() } else { 1 };
        let all = Kind { area: kind.area * passes as f64, ..*kind };
        closed_by_others(map, way, &all, &lain[way as usize]).map(|why| Closed { way, why })
    })
}

fn lay(map: &Map, lain: &mut Lain, kind: &Kind) {
    lain.area += kind.area;
    lain.classes |= 1 << kind.class;
    if let Some(group) = kind.group
        && !map.enemies(group).is_empty()
        && let Err(place) = lain.groups.binary_search(&group)
    {
        lain.groups.insert(place, group);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A fixed sequence of numbers (splitmix64).
    struct Dice(u64);
    impl Dice {
        fn next(&mut self) -> u64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        }
        fn below(&mut self, n: u64) -> u64 {
            self.next() % n
        }
    }

    fn way(a: u32, b: u32, length: f64) -> Way {
        Way { ends: [a, b], length: Metre(length), weight: 1.0, admits: u64::MAX, room: None }
    }

    fn wire(from: u32, to: u32) -> Demand {
        Demand { from, to, class: 0, group: None, diameter: Metre(1e-3), via: vec![], pinned: false }
    }

    fn room(wires_of_a_millimetre: f64) -> Option<SquareMetre> {
        Some(SquareMetre(wires_of_a_millimetre * bundle::circle(Metre(1e-3)).0))
    }

    fn plan(points: usize, ways: &[Way], rules: &Apart, wires: &[Demand]) -> Plan {
        route(&Map::new(points, ways.to_vec(), rules).expect("a map"), wires).expect("wires of the map")
    }

    fn found(plan: &Plan, wire: usize) -> &Found {
        plan.routes[wire].as_ref().expect("a route")
    }

    /// Two ways from 0 to 3: over 1 (1 + 1 m) and over 2 (1 + 2 m).
    fn diamond() -> Vec<Way> {
        vec![way(0, 1, 1.0), way(1, 3, 1.0), way(0, 2, 1.0), way(2, 3, 2.0)]
    }

    #[test]
    fn the_shorter_way_in_both_directions() {
        let plan = plan(4, &diamond(), &Apart::default(), &[wire(0, 3), wire(3, 0), wire(2, 2)]);
        assert_eq!(found(&plan, 0).ways, [0, 1]);
        assert_eq!(found(&plan, 1).ways, [1, 0]);
        assert_eq!((found(&plan, 1).length, found(&plan, 1).cost, &found(&plan, 1).moved_by), (Metre(2.0), 2.0, &None));
        assert_eq!((found(&plan, 2).ways.len(), found(&plan, 2).length), (0, Metre(0.0)));
        assert!(plan.proven);
    }

    #[test]
    fn weight_counts_as_cost_not_as_length() {
        let mut ways = diamond();
        ways[1].weight = 5.0;
        let plan = plan(4, &ways, &Apart::default(), &[wire(0, 3)]);
        assert_eq!((&found(&plan, 0).ways[..], found(&plan, 0).length, found(&plan, 0).cost), (&[2, 3][..], Metre(3.0), 3.0));
    }

    #[test]
    fn a_full_hole_moves_the_next_wire() {
        let mut ways = diamond();
        ways[1].room = room(2.0);
        let wires = [wire(0, 3), Demand { diameter: Metre(1.2e-3), ..wire(0, 3) }, wire(0, 3)];
        let plan = plan(4, &ways, &Apart::default(), &wires);
        // The thick one goes first and leaves 2 − 1.44 of room: for none of the thin ones.
        assert_eq!(plan.order, [1, 0, 2]);
        assert_eq!(found(&plan, 1).ways, [0, 1]);
        let moved = found(&plan, 0);
        assert_eq!((&moved.ways[..], moved.cost, moved.alone), (&[2, 3][..], 3.0, 2.0));
        let Some(Closed { way: 1, why: Why::Full { room, used, needs } }) = moved.moved_by else { panic!("{moved:?}") };
        assert!((used.0 / needs.0 - 1.44).abs() < 1e-9 && (room.0 / needs.0 - 2.0).abs() < 1e-9);
        assert!(!plan.proven, "another order would save a metre");
        // Room for exactly both.
        ways[1].room = self::room(2.0);
        assert!(self::plan(4, &ways, &Apart::default(), &[wire(0, 3), wire(0, 3)]).proven);
    }

    #[test]
    fn classes_and_groups_keep_apart() {
        let rules = Apart { classes: vec![(0, 1)], groups: vec![(7, 8)] };
        let wires = [wire(0, 3), Demand { class: 1, ..wire(0, 3) }, Demand { class: 1, ..wire(0, 3) }];
        let by_class = plan(4, &diamond(), &rules, &wires);
        assert_eq!(found(&by_class, 1).ways, [2, 3]);
        assert_eq!(found(&by_class, 1).moved_by, Some(Closed { way: 0, why: Why::Class(0) }));
        assert_eq!(found(&by_class, 2).ways, [2, 3]);
        let group = |group| Demand { group: Some(group), ..wire(0, 3) };
        let by_group = plan(4, &diamond(), &rules, &[group(8), group(7), group(9)]);
        assert_eq!(found(&by_group, 1).moved_by, Some(Closed { way: 0, why: Why::Group(8) }));
        assert_eq!(found(&by_group, 2).ways, [0, 1]);
    }

    #[test]
    fn a_class_that_a_segment_does_not_admit() {
        let mut ways = diamond();
        ways[0].admits = !0b10;
        let of_class = Demand { class: 1, ..wire(0, 3) };
        let around = plan(4, &ways, &Apart::default(), &[of_class.clone(), wire(0, 3)]);
        // Its own shortest route: it was not moved by others, and no order helps.
        assert_eq!((&found(&around, 0).ways[..], found(&around, 0).alone, &found(&around, 0).moved_by), (&[2, 3][..], 3.0, &None));
        assert!(around.proven);
        ways[3].admits = !0b10;
        let broken = plan(4, &ways, &Apart::default(), &[of_class]);
        let told = broken.routes[0].as_ref().expect_err("no way");
        // Both ends reach one branch point more, 0 reaches 2 and 3 reaches 1: told from the lower. 0 and 2 are both 2 m from 3; 2 comes
        // first, for it is one segment away.
        assert_eq!((told.leg, told.shut_in, told.nearest, told.remaining, told.even_alone), (0, 0, 2, Some(Metre(2.0)), true));
        // By how near what lies beyond is to 3: 3 itself, then 1.
        let closed = |way| Closed { way, why: Why::NotAdmitted };
        assert_eq!(told.closed, [closed(3), closed(0)]);
        assert!(broken.proven, "no order helps");
    }

    #[test]
    fn a_wire_thicker_than_every_hole_is_told_with_its_own_need() {
        let line = [Way { room: room(1.0), ..way(0, 1, 1.0) }];
        let thick = |mm: f64| Demand { diameter: Metre(mm * 1e-3), ..wire(0, 1) };
        let plan = plan(2, &line, &Apart::default(), &[thick(2.0), thick(3.0), thick(1.0)]);
        for (wire, times) in [(0, 4.0), (1, 9.0)] {
            let told = plan.routes[wire].as_ref().expect_err("too thick");
            let [Closed { way: 0, why: Why::Full { room, used, needs } }] = told.closed[..] else { panic!("{told:?}") };
            assert!((needs.0 / room.0 - times).abs() < 1e-9 && used == SquareMetre(0.0) && told.even_alone);
        }
        assert!(plan.routes[2].is_ok() && plan.proven);
    }

    #[test]
    fn a_map_in_two_pieces() {
        let plan = plan(4, &[way(0, 1, 1.0), way(2, 3, 1.0)], &Apart::default(), &[wire(0, 3)]);
        let told = plan.routes[0].as_ref().expect_err("no way");
        assert_eq!((told.remaining, told.closed.len(), told.even_alone), (None, 0, true));
    }

    #[test]
    fn no_room_left_is_no_route() {
        let line = [way(0, 1, 1.0), Way { room: room(1.0), ..way(1, 2, 1.0) }, way(2, 3, 0.5)];
        let plan = plan(4, &line, &Apart::default(), &[wire(0, 3), wire(3, 0), wire(0, 3)]);
        assert!(plan.routes[0].is_ok() && !plan.proven);
        for wire in [1, 2] {
            let told = plan.routes[wire].as_ref().expect_err("full");
            // Either end reaches two; told from the lower, and from 1 there are 1.5 m to go.
            assert_eq!((told.shut_in, told.nearest, told.remaining, told.even_alone), (0, 1, Some(Metre(1.5)), false));
            assert!(matches!(told.closed[..], [Closed { way: 1, why: Why::Full { .. } }]), "{told:?}");
        }
    }

    #[test]
    fn vias_in_order() {
        let through = |via: Vec<Via>| Demand { via, ..wire(0, 3) };
        let wires = [wire(0, 3), through(vec![Via::Point(2)]), through(vec![Via::Way(3)]), through(vec![Via::Way(1), Via::Way(3)])];
        let plan = plan(4, &diamond(), &Apart::default(), &wires);
        assert_eq!(plan.order, [1, 2, 3, 0]);
        assert_eq!(found(&plan, 1).ways, [2, 3]);
        assert_eq!(found(&plan, 2).ways, [2, 3]);
        // Over 1 to 3 and to 2, and back: segment 3 twice.
        assert_eq!((&found(&plan, 3).ways[..], found(&plan, 3).length), (&[0, 1, 3, 3][..], Metre(6.0)));
        // The same from the other end with the vias turned round.
        let back = Demand { from: 3, to: 0, via: vec![Via::Way(3), Via::Way(1)], ..wire(3, 0) };
        let turned = self::plan(4, &diamond(), &Apart::default(), &[back]);
        assert_eq!(found(&turned, 0).ways, [3, 3, 1, 0]);
    }

    #[test]
    fn the_end_in_a_corner_is_told() {
        // A long line, its last segment closed for the class: the far end is shut in, whichever end is first.
        let mut line: Vec<Way> = (0..50).map(|p| way(p, p + 1, 1.0)).collect();
        line[49].admits = 0b1;
        let of_class = |from, to| Demand { class: 1, ..wire(from, to) };
        let plan = plan(51, &line, &Apart::default(), &[of_class(0, 50), of_class(50, 0)]);
        for route in &plan.routes {
            let told = route.as_ref().expect_err("closed");
            assert_eq!((told.shut_in, told.nearest, told.remaining), (50, 50, Some(Metre(50.0))));
            assert_eq!(told.closed, [Closed { way: 49, why: Why::NotAdmitted }]);
        }
    }

    #[test]
    fn a_leg_that_breaks() {
        let mut ways = diamond();
        ways[3].admits = !0b10;
        let leg = |via: Vec<Via>| {
            let broken = plan(5, &ways, &Apart::default(), &[Demand { class: 1, via, ..wire(0, 3) }]);
            broken.routes[0].clone().expect_err("closed")
        };
        // The segment to be passed is closed, though both its ends are reached.
        let told = leg(vec![Via::Point(1), Via::Way(3)]);
        assert_eq!((told.leg, told.closed), (1, vec![Closed { way: 3, why: Why::NotAdmitted }]));
        // A via that no segment reaches.
        let told = leg(vec![Via::Point(1), Via::Point(4)]);
        assert_eq!((told.leg, told.shut_in, told.remaining, told.closed), (1, 4, None, vec![]));
    }

    #[test]
    fn a_pinned_wire_lies_where_it_is_put() {
        let rules = Apart { classes: vec![(0, 1)], groups: vec![] };
        let pinned = Demand { class: 1, via: vec![Via::Way(1)], pinned: true, ..wire(0, 3) };
        let first = Demand { via: vec![Via::Way(0)], diameter: Metre(2e-3), pinned: true, ..wire(0, 3) };
        // Its segments are taken by a class to be kept apart from; it lies there, and the free wire of class 0 beside it goes elsewhere.
        let plan = plan(4, &diamond(), &rules, &[pinned.clone(), first.clone(), wire(0, 3)]);
        assert_eq!(plan.order, [1, 0, 2]);
        assert_eq!((&found(&plan, 0).ways[..], found(&plan, 0).against), (&[0, 1][..], true));
        assert_eq!(found(&plan, 0).moved_by, Some(Closed { way: 0, why: Why::Class(0) }));
        assert!(!found(&plan, 1).against && !plan.proven);
        assert_eq!(found(&plan, 2).moved_by, Some(Closed { way: 0, why: Why::Class(1) }));
        assert_eq!(found(&plan, 2).ways, [2, 3]);
        // Though every wire has the route that it would have alone, what lies against the rules is no plan to be proven.
        assert!(!self::plan(4, &diamond(), &rules, &[pinned.clone(), first]).proven);
        // Not admitted for good, and still there; without pin it has no route.
        let mut ways = diamond();
        ways[1].admits = !0b10;
        let lies = self::plan(4, &ways, &rules, std::slice::from_ref(&pinned));
        assert_eq!((&found(&lies, 0).ways[..], found(&lies, 0).against, lies.proven), (&[0, 1][..], true, false));
        assert!(self::plan(4, &ways, &rules, &[Demand { pinned: false, ..pinned.clone() }]).routes[0].is_err());
        // Where no segments lead it has none either.
        let apart = self::plan(5, &diamond(), &rules, &[Demand { to: 4, ..pinned }]);
        assert!(apart.routes[0].is_err());
    }

    #[test]
    fn doubling_back_needs_room_twice() {
        let mut ways = diamond();
        let wire = Demand { via: vec![Via::Way(1), Via::Way(3)], ..wire(0, 3) };
        ways[3].room = room(1.9);
        let plan = plan(4, &ways, &Apart::default(), std::slice::from_ref(&wire));
        let told = plan.routes[0].as_ref().expect_err("one pass only");
        assert!(matches!(told.closed[..], [Closed { way: 3, why: Why::Full { .. } }]), "{told:?}");
        ways[3].room = room(2.0);
        assert!(self::plan(4, &ways, &Apart::default(), &[wire]).routes[0].is_ok());
    }

    #[test]
    fn rows_without_meaning() {
        let row = |ways: Vec<Way>| Map::new(2, ways, &Apart::default()).map(|_| ()).map_err(|fault| fault.row);
        assert_eq!(row(vec![way(0, 1, 1.0), way(0, 2, 1.0)]), Err(1));
        assert_eq!(row(vec![way(0, 1, -1.0)]), Err(0));
        assert_eq!(row(vec![Way { weight: f64::NAN, ..way(0, 1, 1.0) }]), Err(0));
        assert!(Map::new(2, vec![], &Apart { classes: vec![(0, 64)], groups: vec![] }).is_err());
        let map = Map::new(2, vec![way(0, 1, 1.0)], &Apart::default()).expect("a map");
        for bad in [
            wire(0, 2),
            Demand { class: 64, ..wire(0, 1) },
            Demand { diameter: Metre(f64::NAN), ..wire(0, 1) },
            Demand { via: vec![Via::Way(1)], ..wire(0, 1) },
            Demand { via: vec![Via::Point(2)], ..wire(0, 1) },
        ] {
            assert_eq!(route(&map, &[wire(0, 1), bad]).map_err(|fault| fault.row), Err(1));
        }
        assert_eq!(route(&map, &[]).map(|plan| plan.proven), Ok(true));
    }

    /// Every path from `at` to `goal` that visits no branch point twice.
    fn simple_paths(ways: &[Way], at: u32, goal: u32, visited: u32, path: &mut Vec<u32>, all: &mut Vec<Vec<u32>>) {
        if at == goal {
            all.push(path.clone());
            return;
        }
        for (row, way) in ways.iter().enumerate() {
            let other = match way.ends {
                [a, b] if a == at => b,
                [a, b] if b == at => a,
                _ => continue,
            };
            if visited >> other & 1 == 0 {
                path.push(row as u32);
                simple_paths(ways, other, goal, visited | 1 << other, path, all);
                path.pop();
            }
        }
    }

    fn all_paths(ways: &[Way], from: u32, to: u32) -> Vec<Vec<u32>> {
        let mut all = Vec::new();
        simple_paths(ways, from, to, 1 << from, &mut Vec::new(), &mut all);
        all
    }

    /// What brute force knows of the wires laid so far: which lie in which segment.
    type Laid = Vec<Vec<usize>>;

    /// Whether a wire may join those of a segment, straight from the rules.
    fn may_join(ways: &[Way], rules: &Apart, wires: &[Demand], laid: &Laid, segment: u32, wire: &Demand) -> bool {
        let row = &ways[segment as usize];
        let others: Vec<&Demand> = laid[segment as usize].iter().map(|i| &wires[*i]).collect();
        let apart = |pairs: &[(u32, u32)], a: u32, b: u32| pairs.iter().any(|pair| *pair == (a, b) || *pair == (b, a));
        let classes: Vec<(u32, u32)> = rules.classes.iter().map(|&(a, b)| (a.into(), b.into())).collect();
        let area: f64 = others.iter().map(|w| w.diameter.0.powi(2)).sum::<f64>() + wire.diameter.0.powi(2);
        row.admits >> wire.class & 1 == 1
            && !others.iter().any(|o| apart(&classes, o.class.into(), wire.class.into()))
            && !others.iter().any(|o| o.group.zip(wire.group).is_some_and(|(a, b)| apart(&rules.groups, a, b)))
            && row.room.is_none_or(|room| area * core::f64::consts::PI / 4.0 <= room.0 * (1.0 + 1e-9))
    }

    fn cost_of(ways: &[Way], path: &[u32]) -> f64 {
        path.iter().map(|way| ways[*way as usize].length.0 * ways[*way as usize].weight).sum()
    }

    /// Least cost of a wire over allowed paths, leg by leg through its vias.
    fn brute(ways: &[Way], rules: &Apart, wires: &[Demand], laid: &Laid, wire: &Demand) -> Option<f64> {
        let joins = |segment: u32| may_join(ways, rules, wires, laid, segment, wire);
        let leg = |from: u32, to: u32| {
            let open = all_paths(ways, from, to).into_iter().filter(|path| path.iter().all(|way| joins(*way)));
            open.map(|path| cost_of(ways, &path)).min_by(f64::total_cmp)
        };
        // Least cost to be at a branch point with the vias so far behind.
        let mut at = vec![(wire.from, 0.0)];
        for via in &wire.via {
            let mut next = Vec::new();
            for &(from, cost) in &at {
                match *via {
                    Via::Point(point) => next.extend(leg(from, point).map(|more| (point, cost + more))),
                    Via::Way(way) => {
                        let [a, b] = ways[way as usize].ends;
                        if joins(way) {
                            let over = cost_of(ways, &[way]);
                            next.extend(leg(from, a).map(|more| (b, cost + more + over)));
                            next.extend(leg(from, b).map(|more| (a, cost + more + over)));
                        }
                    }
                }
            }
            at = next;
        }
        at.iter().filter_map(|&(from, cost)| Some(cost + leg(from, wire.to)?)).min_by(f64::total_cmp)
    }

    struct Drawn {
        points: usize,
        ways: Vec<Way>,
        rules: Apart,
        wires: Vec<Demand>,
    }

    /// A random harness of up to 12 branch points with every constraint. Vias and room exclude each other here, because a route that doubles
    /// back in a narrow hole is refused rather than replaced (see the test above).
    fn draw(dice: &mut Dice, with_vias: bool) -> Drawn {
        let points = 2 + dice.below(11) as usize;
        let spare = dice.below(8) as usize;
        let mut ways: Vec<Way> = (1..points).map(|p| way(dice.below(p as u64) as u32, p as u32, 1.0)).collect();
        for _ in 0..spare {
            ways.push(way(dice.below(points as u64) as u32, dice.below(points as u64) as u32, 1.0));
        }
        for way in &mut ways {
            // Quarters add up exactly, and short lists of them make ties.
            way.length = Metre(dice.below(12) as f64 * 0.25);
            way.weight = [1.0, 1.0, 1.0, 2.0][dice.below(4) as usize];
            way.admits = if dice.below(5) == 0 { !(1 << dice.below(3)) } else { u64::MAX };
            way.room = if !with_vias && dice.below(3) == 0 { room(1.0 + dice.below(4) as f64) } else { None };
        }
        let rules = Apart { classes: vec![(0, 1)], groups: vec![(0, 1), (2, 2)] };
        let wires = (0..1 + dice.below(6))
            .map(|_| Demand {
                from: dice.below(points as u64) as u32,
                to: dice.below(points as u64) as u32,
                class: dice.below(3) as u8,
                group: [None, Some(0), Some(1), Some(2)][dice.below(4) as usize],
                diameter: Metre([1e-3, 1e-3, 1.4e-3][dice.below(3) as usize]),
                pinned: false,
                via: match with_vias {
                    false => vec![],
                    true => (0..dice.below(3))
                        .map(|_| match dice.below(2) {
                            0 => Via::Point(dice.below(points as u64) as u32),
                            _ => Via::Way(dice.below(ways.len() as u64) as u32),
                        })
                        .collect(),
                },
            })
            .collect();
        Drawn { points, ways, rules, wires }
    }

    #[test]
    fn equals_brute_force_on_five_hundred_harnesses() {
        let mut dice = Dice(3);
        let (mut moved, mut broken, mut unproven, mut through) = (0, 0, 0, 0);
        for case in 0..500 {
            let Drawn { points, ways, rules, wires } = draw(&mut dice, case % 3 == 0);
            let plan = plan(points, &ways, &rules, &wires);
            let mut laid: Laid = vec![vec![]; ways.len()];
            let nothing: Laid = laid.clone();
            for &index in &plan.order {
                let wire = &wires[index as usize];
                let least = brute(&ways, &rules, &wires, &laid, wire);
                let alone = brute(&ways, &rules, &wires, &nothing, wire);
                match &plan.routes[index as usize] {
                    Ok(found) => {
                        assert_eq!((Some(found.cost), Some(found.alone)), (least, alone), "case {case}, wire {index}");
                        assert_eq!(cost_of(&ways, &found.ways), found.cost);
                        assert_eq!(ends_of(&ways, wire.from, &found.ways), Some(wire.to), "case {case}: the segments join the ends");
                        assert!(found.cost == found.alone || found.moved_by.is_some(), "case {case}");
                        for &segment in &found.ways {
                            assert!(may_join(&ways, &rules, &wires, &laid, segment, wire), "case {case}: segment {segment} is closed");
                        }
                        for &segment in &found.ways {
                            laid[segment as usize].push(index as usize);
                        }
                        moved += usize::from(found.cost > found.alone);
                        through += usize::from(!wire.via.is_empty());
                    }
                    Err(told) => {
                        assert_eq!((least, told.even_alone), (None, alone.is_none()), "case {case}, wire {index}");
                        assert!(!told.closed.is_empty(), "case {case}: a tree joins all, so something is closed");
                        broken += 1;
                    }
                }
            }
            unproven += usize::from(!plan.proven);
        }
        // The draw must hold enough of each kind to mean something.
        assert!(moved > 50 && broken > 50 && unproven > 50 && through > 50, "{moved} {broken} {unproven} {through}");
    }

    /// Where a walk along segments from a branch point ends.
    fn ends_of(ways: &[Way], from: u32, path: &[u32]) -> Option<u32> {
        path.iter().try_fold(from, |at, way| match ways[*way as usize].ends {
            [a, b] if a == at => Some(b),
            [a, b] if b == at => Some(a),
            _ => None,
        })
    }

    /// Least sum over every choice of paths of all wires together; `None` if they cannot all be laid.
    fn jointly(ways: &[Way], rules: &Apart, wires: &[Demand], next: usize, laid: &mut Laid) -> Option<f64> {
        let Some(wire) = wires.get(next) else { return Some(0.0) };
        let mut best: Option<f64> = None;
        for path in all_paths(ways, wire.from, wire.to) {
            if path.iter().all(|way| may_join(ways, rules, wires, laid, *way, wire)) {
                path.iter().for_each(|way| laid[*way as usize].push(next));
                if let Some(rest) = jointly(ways, rules, wires, next + 1, laid) {
                    let sum = cost_of(ways, &path) + rest;
                    best = Some(best.map_or(sum, |best| best.min(sum)));
                }
                path.iter().for_each(|way| laid[*way as usize].retain(|other| *other != next));
            }
        }
        best
    }

    #[test]
    fn proven_plans_are_the_joint_optimum() {
        let mut dice = Dice(11);
        let (mut proven, mut better) = (0, 0);
        for case in 0..400 {
            let Drawn { points, ways, rules, mut wires } = draw(&mut dice, false);
            wires.truncate(3);
            let plan = plan(points, &ways, &rules, &wires);
            let best = jointly(&ways, &rules, &wires, 0, &mut vec![vec![]; ways.len()]);
            let sum: Option<f64> = plan.routes.iter().map(|route| Some(route.as_ref().ok()?.cost)).sum();
            match (sum, best) {
                (Some(sum), Some(best)) if plan.proven => assert_eq!(sum, best, "case {case}"),
                (Some(sum), Some(best)) => {
                    assert!(sum >= best, "case {case}");
                    better += usize::from(sum > best);
                }
                (Some(_), None) => panic!("case {case}: a plan that brute force does not know"),
                // A wire without a route even alone spoils no proof; any other does.
                (None, best) => assert!(!plan.proven || best.is_none(), "case {case}"),
            }
            proven += usize::from(plan.proven);
        }
        assert!(proven > 100 && better > 3, "{proven} {better}");
    }
}
