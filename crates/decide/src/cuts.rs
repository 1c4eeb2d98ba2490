//! Minimal cut sets of functions from the wiring graph alone: which element, and which two elements, leave a function no way, and what redundant
//! ways have in common. An opinion beside the fault sweep that knows no voltage.
//!
//! A load has a way where its line comes from a source's positive end and its return goes to a negative one, over what conducts in the phase; a
//! diode passes from anode to cathode only, a converter that has a way itself passes on from its input. Loads, sensors and receivers are no ways.
//! What a source can carry is no question here.
//!
//! # Method  Elements that alone part two nodes lie on every path between them: one path is found, and a search that may use all but its next
//! edge tells which of its edges nothing leads round. Every cut holds an element of any one set of ways that serves the function: with each
//! element of that set taken away, those that are then alone make the pairs (J. B. Fussell and W. E. Vesely, 1972, call such sets minimal cut
//! sets (from memory)).
//!
//! Cost: a question linear in nodes and branches for each terminal; pairs as many questions as a set of ways has elements.

use analysis::{Law, Prepared};
use model::*;
use rayon::prelude::*;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap, HashMap};

/// An edge: a row of [`Prepared::branches`], or beyond them a converter that passes on.
type Edge = u32;
const NONE: u32 = u32::MAX;

/// Cuts of the functions that a test passes, in the phases of settled points in the low corner. Pairs are looked for where a function has to
/// survive a fault or `pairs` says so.
pub fn cuts(prepared: &Prepared, points: &[&Point], of: impl Fn(Id<Function>) -> bool + Sync, pairs: bool) -> CutTable {
    let design = prepared.design();
    let low: Vec<&Point> = points.iter().copied().filter(|point| point.scenario.corner == Corner::Low).collect();
    let groups = groups(prepared);
    let by_phase: Vec<Vec<(Id<Function>, Option<CutRow>)>> = low
        .par_iter()
        .map(|&point| {
            let graph = Graph::new(prepared, &point.scenario);
            let taken: Vec<(Group, Vec<Edge>)> = groups.iter().map(|&group| (group, graph.taken(point, group))).collect();
            let wanted = design.functions.iter().filter(|&(id, function)| of(id) && Design::is_in(&function.phases, point.scenario.phase));
            wanted.map(|(id, function)| (id, row(&graph, point, (id, function), &taken, pairs))).collect()
        })
        .collect();
    let mut table = CutTable::default();
    for id in design.functions.ids() {
        let first = table.rows.len();
        for (point, found) in low.iter().zip(&by_phase) {
            let Some((_, row)) = found.iter().find(|(of, _)| *of == id) else { continue };
            let phase = point.scenario.phase;
            match row {
                // One that names no phases is off where it has no way.
                None if design.functions[id].phases.is_empty() => {}
                None => table.without.push((id, phase)),
                Some(row) => {
                    let same = |known: &&mut CutRow| CutRow { phases: Vec::new(), ..CutRow::clone(known) } == *row;
                    match table.rows[first..].iter_mut().find(same) {
                        Some(known) => known.phases.push(phase),
                        None => table.rows.push(CutRow { phases: vec![phase], ..row.clone() }),
                    }
                }
            }
        }
    }
    table
}

/// What the wiring graph says of every verdict of a sweep on something that opens: where no way is left, a function is lost.
pub fn second_opinion(prepared: &Prepared, points: &[Point], table: &FaultTable) -> SecondOpinion {
    let design = prepared.design();
    let opens = |fault: &Fault| match fault.change {
        FaultChange::Open(_) | FaultChange::Lost(_) | FaultChange::Beside(..) | FaultChange::Stuck(_, Stuck::Open) => true,
        FaultChange::Stuck(..) | FaultChange::Ohms(..) | FaultChange::Short(..) | FaultChange::Grounded(_) | FaultChange::Bent(..) => false,
    };
    let judged: Vec<SecondOpinion> = table
        .wanted
        .par_iter()
        .enumerate()
        .map(|(at, (phase, wanted))| {
            let mut opinion = SecondOpinion::default();
            let state = (*phase, table.corner);
            let Some(point) = points.iter().find(|point| (point.scenario.phase, point.scenario.corner) == state) else { return opinion };
            let graph = Graph::new(prepared, &point.scenario);
            let plain: Vec<(Id<Function>, Ways)> = wanted
                .iter()
                .filter(|&&id| !has_sensors(&design.functions[id].need))
                .filter_map(|&id| Some((id, graph.of(point, &design.functions[id].need, &[])?)))
                .collect();
            for row in table.rows.iter().filter(|row| opens(&table.catalogue.faults[row.fault])) {
                let mut scenario = point.scenario.clone();
                prepared.lay(&table.catalogue.faults[row.fault], &mut scenario);
                let gone = graph.without(&scenario);
                let is_gone = |element: ElementId| prepared.branch_of(element).is_some_and(|row| gone.contains(&(row as Edge)));
                for (id, ways) in &plain {
                    let need = &design.functions[*id].need;
                    // Where a load itself is gone the graph has nothing to say.
                    if need.leaves().into_iter().filter_map(of_leaf).any(is_gone) {
                        continue;
                    }
                    let is_cut = gone.iter().any(|edge| ways.used.contains(edge)) && !graph.has(point, need, &gone);
                    let effect = row.phases[at].functions.iter().find(|case| case.function == *id).map_or(Effect::Kept, |case| case.effect);
                    opinion.compared += 1;
                    match (is_cut, matches!(effect, Effect::Lost | Effect::Restored | Effect::NotKnown)) {
                        (true, true) => opinion.agree_lost += 1,
                        (true, false) => opinion.contradictions.push((row.fault, *phase, *id)),
                        (false, true) => opinion.by_more_than_ways += 1,
                        (false, false) => {}
                    }
                }
            }
            opinion
        })
        .collect();
    judged.into_iter().fold(SecondOpinion::default(), |mut sum, more| {
        sum.compared += more.compared;
        sum.agree_lost += more.agree_lost;
        sum.by_more_than_ways += more.by_more_than_ways;
        sum.contradictions.extend(more.contradictions);
        sum
    })
}

fn has_sensors(need: &Need) -> bool {
    need.leaves().iter().any(|need| matches!(need, Need::One(Given { value: Subject::Element(ElementId::Sensor(_)), .. })))
}

/// Something that holds several elements: an item, and the segment that goes with it where two run beside each other.
type Group = (Subject, Option<Id<Segment>>);

/// Things that hold several elements.
fn groups(prepared: &Prepared) -> Vec<Group> {
    let of = |fault: &Fault| match (fault.kind, fault.change) {
        (_, FaultChange::Beside(a, b)) => Some((Subject::Segment(a), Some(b))),
        (
            FaultKind::ConnectorDemated
            | FaultKind::SegmentSevered
            | FaultKind::ClampSevered
            | FaultKind::SpliceOpen
            | FaultKind::StudOpen
            | FaultKind::GroundOpen
            | FaultKind::BusLost
            | FaultKind::UnitLost
            | FaultKind::ZoneLost,
            FaultChange::Lost(subject),
        ) => Some((subject, None)),
        _ => None,
    };
    prepared.catalogue().faults.iter().filter_map(of).collect()
}

/// The cuts of one function in one phase; `None` where it has no way.
fn row(
    graph: &Graph,
    point: &Point,
    (id, function): (Id<Function>, &Function),
    taken: &[(Group, Vec<Edge>)],
    pairs: bool,
) -> Option<CutRow> {
    let whole = graph.of(point, &function.need, &[])?;
    let survives = function.survives.is_some_and(|given| given.value > 0);
    let own: BTreeSet<ElementId> = function.need.leaves().iter().filter_map(|need| of_leaf(need)).collect();
    let pairs = (pairs || survives).then(|| {
        let mut with: BTreeMap<ElementId, BTreeSet<ElementId>> = BTreeMap::new();
        for element in graph.elements(&whole.used).difference(&graph.elements(&whole.cuts)) {
            if let Some(rest) = graph.of(point, &function.need, &graph.rows_of(*element)) {
                for other in graph.elements(&rest.cuts).difference(&graph.elements(&whole.cuts)) {
                    with.entry(*element).or_default().insert(*other);
                    with.entry(*other).or_default().insert(*element);
                }
            }
        }
        in_products(&with)
    });
    let mut common = Vec::new();
    for ((item, beside), rows) in taken.iter().filter(|_| survives) {
        let touches = rows.iter().any(|edge| whole.used.contains(edge));
        let has_single = rows.iter().any(|edge| whole.cuts.contains(edge));
        let takes_load = own.iter().any(|element| graph.is_within(*element, *item));
        if !touches || has_single || takes_load || graph.has(point, &function.need, rows) {
            continue;
        }
        // What is needed for it, one element after the other put back.
        let mut needed: Vec<ElementId> = graph.elements(&rows.iter().copied().collect()).into_iter().collect();
        let mut at = 0;
        while at < needed.len() {
            let rest: Vec<Edge> = needed.iter().enumerate().filter(|(k, _)| *k != at).flat_map(|(_, of)| graph.rows_of(*of)).collect();
            if graph.has(point, &function.need, &rest) {
                at += 1;
            } else {
                needed.remove(at);
            }
        }
        let detour = detour(graph.prepared, &segments_of(graph.prepared.design(), (*item, *beside)), &needed);
        common.push(CommonCause { item: *item, beside: *beside, takes: needed, detour });
    }
    Some(CutRow {
        function: id,
        phases: Vec::new(),
        singles: graph.elements(&whole.cuts).into_iter().collect(),
        pairs,
        common,
        has_sensors: has_sensors(&function.need),
    })
}

fn of_leaf(need: &Need) -> Option<ElementId> {
    match need {
        Need::One(Given { value: Subject::Element(element), .. }) => Some(*element),
        _ => None,
    }
}

/// The segments that something takes; none of what is no part of the harness.
fn segments_of(design: &Design, (item, beside): Group) -> Vec<Id<Segment>> {
    match item {
        Subject::Segment(segment) => std::iter::once(segment).chain(beside).collect(),
        Subject::Clamp(clamp) => design.clamps[clamp].segments().collect(),
        Subject::Zone(zone) => {
            let lies = |segment: &Segment| segment.zone.is_some_and(|of| of.value == zone);
            design.segments.iter().filter(|(_, segment)| lies(segment)).map(|(id, _)| id).collect()
        }
        _ => Vec::new(),
    }
}

/// The shortest other way for one of the wires among some elements, clear of some segments, over segments that admit its class. Each of those elements is
/// needed to cut the function: with one of its wires elsewhere the rest no longer does.
fn detour(prepared: &Prepared, without: &[Id<Segment>], among: &[ElementId]) -> Option<Detour> {
    let ways = among.iter().filter(|_| !without.is_empty()).filter_map(|element| match element {
        ElementId::Wire(wire) => way_round(prepared, *wire, without),
        _ => None,
    });
    ways.reduce(|best, next| if next.longer.0 < best.longer.0 { next } else { best })
}

fn way_round(prepared: &Prepared, wire: Id<Wire>, without: &[Id<Segment>]) -> Option<Detour> {
    let design = prepared.design();
    let run = prepared.layout().run(wire)?;
    let row = &design.wires[wire];
    let [from, to] = [row.from.value, row.to.value].map(|end| design.breakout_of(end).map(|at| at.value));
    let (from, to) = (from?, to?);
    let class = design.class_of(wire).map(|class| class.value);
    type Step = (Id<Segment>, Id<BranchPoint>);
    let mut meets: HashMap<Id<BranchPoint>, Vec<(Step, f64)>> = HashMap::new();
    for (id, segment) in design.segments.iter().filter(|(id, _)| !without.contains(id)) {
        let admits = segment.admits.as_ref().is_none_or(|admits| class.is_none_or(|class| admits.value.contains(&class)));
        if admits {
            let (a, b, length) = (segment.from.value, segment.to.value, segment.length.value.0);
            meets.entry(a).or_default().push(((id, b), length));
            meets.entry(b).or_default().push(((id, a), length));
        }
    }
    // Dijkstra's search; lengths are finite and not negative, so that their bits are ordered as they are.
    let mut came: HashMap<Id<BranchPoint>, (f64, Option<Step>)> = HashMap::from([(from, (0.0, None))]);
    let mut next = BinaryHeap::from([(std::cmp::Reverse(0u64), from)]);
    while let Some((std::cmp::Reverse(bits), at)) = next.pop() {
        let so_far = f64::from_bits(bits);
        if came.get(&at).is_some_and(|(known, _)| *known < so_far) {
            continue;
        }
        if at == to {
            let (mut segments, mut at) = (Vec::new(), to);
            while let Some((segment, before)) = came.get(&at).and_then(|(_, before)| *before) {
                segments.push(segment);
                at = before;
            }
            segments.reverse();
            return Some(Detour { wire, segments, longer: physics::Metre(so_far - run.path.0) });
        }
        for &((segment, beyond), length) in meets.get(&at).into_iter().flatten() {
            let length = so_far + length;
            if came.get(&beyond).is_none_or(|(known, _)| length < *known) {
                came.insert(beyond, (length, Some((segment, at))));
                next.push((std::cmp::Reverse(length.to_bits()), beyond));
            }
        }
    }
    None
}

/// What conducts in a phase.
struct Graph<'p, 'd> {
    prepared: &'p Prepared<'d>,
    /// Of each branch, whether it conducts.
    conducts: Vec<bool>,
    is_diode: Vec<bool>,
    /// Branches of sources that are on, by their positive and negative node.
    sources: [HashMap<NodeId, Vec<Edge>>; 2],
    /// Converters by the node of their output and of its return: the node of the input beyond, and which one.
    outputs: [HashMap<NodeId, Vec<(NodeId, Edge)>>; 2],
    converters: Vec<Id<Converter>>,
}

/// The ways of something: edges that all of them share, and edges of one set of ways that serves it.
#[derive(Clone, Debug, Default)]
struct Ways {
    cuts: BTreeSet<Edge>,
    used: BTreeSet<Edge>,
}

/// What is asked of the graph, with room for the searches.
struct Question {
    /// With what all ways share, not only whether there are any.
    cuts: bool,
    room: RefCell<Room>,
}

#[derive(Default)]
struct Room {
    came: Vec<(u32, Edge)>,
    on_path: Vec<u32>,
    seen: Vec<bool>,
    queue: Vec<NodeId>,
    reached: Vec<(usize, Option<NodeId>)>,
}

/// Towards where a load's current comes from, towards where it goes to, or along a signal's way.
#[derive(Clone, Copy, PartialEq)]
enum Toward {
    Positive,
    Negative,
    End(NodeId),
}

fn conducts(law: &Law) -> bool {
    !matches!(law, Law::Open)
}

impl<'p, 'd> Graph<'p, 'd> {
    fn new(prepared: &'p Prepared<'d>, scenario: &Scenario) -> Graph<'p, 'd> {
        let design = prepared.design();
        let laws = prepared.laws(scenario);
        let mut graph = Graph {
            prepared,
            conducts: laws.iter().map(conducts).collect(),
            is_diode: laws.iter().map(|law| matches!(law, Law::Diode { .. })).collect(),
            sources: Default::default(),
            outputs: Default::default(),
            converters: Vec::new(),
        };
        for (id, source) in design.batteries.iter() {
            let Some(row) = prepared.branch_of(ElementId::Source(id)).filter(|&row| graph.conducts[row]) else { continue };
            for (side, end) in [source.positive.value, source.negative.value].into_iter().enumerate() {
                if let Some(node) = prepared.node(end) {
                    graph.sources[side].entry(node).or_default().push(row as Edge);
                }
            }
        }
        for (id, converter) in design.converters.iter() {
            let on = prepared.branch_of(ElementId::Converter(id)).is_some_and(|row| graph.conducts[row]);
            let edge = (prepared.branches().len() + graph.converters.len()) as Edge;
            let ends = [(converter.output.value, converter.line.value), (converter.output_return.value, converter.line_return.value)];
            if on {
                for (side, (output, input)) in ends.into_iter().enumerate() {
                    if let (Some(output), Some(input)) = (prepared.node(output), prepared.node(input)) {
                        graph.outputs[side].entry(output).or_default().push((input, edge));
                    }
                }
                graph.converters.push(id);
            }
        }
        graph
    }

    fn element(&self, edge: Edge) -> ElementId {
        match self.prepared.branches().get(edge as usize) {
            Some(branch) => branch.element,
            None => ElementId::Converter(self.converters[edge as usize - self.prepared.branches().len()]),
        }
    }

    fn elements(&self, edges: &BTreeSet<Edge>) -> BTreeSet<ElementId> {
        edges.iter().map(|&edge| self.element(edge)).collect()
    }

    /// Every edge of an element.
    fn rows_of(&self, element: ElementId) -> Vec<Edge> {
        if let ElementId::Converter(id) = element {
            let at = self.converters.iter().position(|of| *of == id);
            return at.map(|at| (self.prepared.branches().len() + at) as Edge).into_iter().collect();
        }
        let Some(first) = self.prepared.branch_of(element) else { return Vec::new() };
        (first..self.prepared.branches().len())
            .take_while(|&row| self.prepared.branches()[row].element == element)
            .map(|row| row as Edge)
            .collect()
    }

    /// Edges that conduct here and not in a scenario.
    fn without(&self, scenario: &Scenario) -> Vec<Edge> {
        let laws = self.prepared.laws(scenario);
        let branches = laws.iter().enumerate().filter(|(row, law)| self.conducts[*row] && !conducts(law)).map(|(row, _)| row as Edge);
        let off =
            |&(_, id): &(usize, &Id<Converter>)| self.prepared.branch_of(ElementId::Converter(*id)).is_none_or(|row| !conducts(&laws[row]));
        let converters = self.converters.iter().enumerate().filter(off).map(|(at, _)| (self.prepared.branches().len() + at) as Edge);
        branches.chain(converters).collect()
    }

    /// Edges that go with something that is lost.
    fn taken(&self, point: &Point, (item, beside): Group) -> Vec<Edge> {
        let mut scenario = point.scenario.clone();
        scenario.lost.push(item);
        scenario.lost.extend(beside.map(Subject::Segment));
        self.without(&scenario)
    }

    /// Whether a load goes when something is lost.
    fn is_within(&self, element: ElementId, item: Subject) -> bool {
        let (Subject::Unit(unit), ElementId::Load(load)) = (item, element) else { return false };
        let design = self.prepared.design();
        let row = &design.loads[load];
        [row.line.value, row.line_return.value].into_iter().any(|end| match end {
            End::Pin(pin) => design.connectors[design.pins[pin].connector].unit.is_some_and(|of| of.value == unit),
            End::Inner(node) => design.inner_nodes[node].unit.is_some_and(|of| of.value == unit),
            _ => false,
        })
    }

    /// The ways of a need without some edges; `None` where it has none.
    fn of(&self, point: &Point, need: &Need, gone: &[Edge]) -> Option<Ways> {
        self.asked(point, need, gone, true)
    }

    /// Whether a need has ways without some edges.
    fn has(&self, point: &Point, need: &Need, gone: &[Edge]) -> bool {
        self.asked(point, need, gone, false).is_some()
    }

    /// The ways of a need without some edges; `cuts`: with what all of them share.
    fn asked(&self, point: &Point, need: &Need, gone: &[Edge], cuts: bool) -> Option<Ways> {
        let question = Question { cuts, room: RefCell::default() };
        let mut gone: BTreeSet<Edge> = gone.iter().copied().collect();
        let inputs = self.converters_with_ways(&mut gone, &question);
        let ask = |gone: &BTreeSet<Edge>| self.of_need(point, need, (gone, &inputs), &question);
        let ways = ask(&gone)?;
        Some(self.with_inputs(ways, (&gone, &inputs), &question, &ask))
    }

    /// Adds to the cuts what takes converters away with it: an element that a converter cannot do without cuts what has no way, or no other way than
    /// over that element, where the converter is gone.
    fn with_inputs(
        &self,
        mut ways: Ways,
        (gone, inputs): (&BTreeSet<Edge>, &[Ways]),
        question: &Question,
        ask: &dyn Fn(&BTreeSet<Edge>) -> Option<Ways>,
    ) -> Ways {
        if !question.cuts {
            return ways;
        }
        let mut by_converters: BTreeMap<Vec<Edge>, Vec<Edge>> = BTreeMap::new();
        for &edge in inputs.iter().flat_map(|ways| &ways.cuts).collect::<BTreeSet<_>>() {
            let taken = inputs.iter().enumerate().filter(|(_, ways)| ways.cuts.contains(&edge));
            let taken = taken.map(|(at, _)| (self.prepared.branches().len() + at) as Edge).collect();
            by_converters.entry(taken).or_default().push(edge);
        }
        for (converters, edges) in by_converters {
            let rest = ask(&gone.iter().copied().chain(converters).collect());
            ways.cuts.extend(edges.into_iter().filter(|edge| rest.as_ref().is_none_or(|rest| rest.cuts.contains(edge))));
        }
        ways
    }

    /// Ways of the inputs of converters; those that have none are gone.
    fn converters_with_ways(&self, gone: &mut BTreeSet<Edge>, question: &Question) -> Vec<Ways> {
        let branches = self.prepared.branches().len();
        let design = self.prepared.design();
        let mut inputs = vec![Ways::default(); self.converters.len()];
        // Each round takes one away or is the last; what hangs on another converter sees its ways in the next.
        for _ in 0..=self.converters.len() {
            let before = (gone.len(), inputs.clone());
            for (at, &id) in self.converters.iter().enumerate() {
                let edge = (branches + at) as Edge;
                if gone.contains(&edge) {
                    continue;
                }
                let row = &design.converters[id];
                let ask = |gone: &BTreeSet<Edge>| self.fed([row.line.value, row.line_return.value], (gone, &inputs), question);
                match ask(gone) {
                    Some(ways) => {
                        let others: Vec<Ways> =
                            inputs.iter().enumerate().map(|(of, ways)| if of == at { Ways::default() } else { ways.clone() }).collect();
                        inputs[at] = self.with_inputs(ways, (gone, &others), question, &ask);
                    }
                    None => {
                        gone.insert(edge);
                    }
                }
            }
            if before.0 == gone.len() && before.1.iter().zip(&inputs).all(|(a, b)| a.cuts == b.cuts) {
                break;
            }
        }
        inputs
    }

    fn of_need(&self, point: &Point, need: &Need, (gone, inputs): (&BTreeSet<Edge>, &[Ways]), question: &Question) -> Option<Ways> {
        match need {
            Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => {
                let row = &self.prepared.design().loads[*load];
                let own = self.prepared.branch_of(ElementId::Load(*load))? as Edge;
                if point.load_state[*load] == LoadState::Off || gone.contains(&own) {
                    return None;
                }
                self.fed([row.line.value, row.line_return.value], (gone, inputs), question)
            }
            Need::One(_) => Some(Ways::default()),
            Need::Path(ends) => {
                let [from, to] = ends.value.map(|end| self.prepared.node(end));
                let mut ways = Ways::default();
                self.way((from?, Toward::End(to?)), gone, question, &mut ways).then_some(ways)
            }
            Need::All(list) => list.iter().try_fold(Ways::default(), |mut sum, need| {
                let ways = self.of_need(point, need, (gone, inputs), question)?;
                sum.cuts.extend(ways.cuts);
                sum.used.extend(ways.used);
                Some(sum)
            }),
            Need::AtLeast(least, list) => {
                let least = *least as usize;
                let served: Vec<Ways> = list.iter().filter_map(|need| self.of_need(point, need, (gone, inputs), question)).collect();
                let spare = served.len().checked_sub(least)?;
                // An element cuts it that takes more than can be spared.
                let mut takes: BTreeMap<Edge, usize> = BTreeMap::new();
                served.iter().flat_map(|ways| &ways.cuts).for_each(|&edge| *takes.entry(edge).or_default() += 1);
                let cuts = takes.into_iter().filter(|&(_, takes)| takes > spare).map(|(edge, _)| edge).collect();
                let used = served.iter().take(least).flat_map(|ways| ways.used.iter().copied()).collect();
                Some(Ways { cuts, used })
            }
        }
    }

    /// The ways of what hangs between a line and a return.
    fn fed(&self, [line, back]: [End; 2], (gone, inputs): (&BTreeSet<Edge>, &[Ways]), question: &Question) -> Option<Ways> {
        let mut ways = Ways::default();
        let (line, back) = (self.prepared.node(line)?, self.prepared.node(back)?);
        let whole =
            self.way((line, Toward::Positive), gone, question, &mut ways) && self.way((back, Toward::Negative), gone, question, &mut ways);
        if !whole {
            return None;
        }
        // What passes a converter uses all that the converter does.
        let branches = self.prepared.branches().len();
        let passed: Vec<usize> = ways.used.iter().filter_map(|&edge| (edge as usize).checked_sub(branches)).collect();
        passed.into_iter().for_each(|at| ways.used.extend(&inputs[at].used));
        Some(ways)
    }

    /// Calls with every edge that leads on from a node, and where to; `None` is a source.
    fn leads(&self, node: NodeId, toward: Toward, gone: &BTreeSet<Edge>, then: &mut dyn FnMut(Edge, Option<NodeId>)) {
        use ElementId::*;
        for &row in self.prepared.meeting(node) {
            let branch = &self.prepared.branches()[row as usize];
            if !self.conducts[row as usize] || branch.from == branch.to || gone.contains(&row) {
                continue;
            }
            let beyond = if branch.from == node { branch.to } else { branch.from };
            let passes = match (branch.element, toward) {
                (Load(_) | Receiver(_) | Sensor(_) | Excitation(_) | Source(_) | Converter(_), _) => false,
                (Wire(_) | Contact(_) | Link(_) | FittedLink(_) | Switch(_) | Protector(_), Toward::End(_)) => true,
                (_, Toward::End(_)) => false,
                _ if self.is_diode[row as usize] => (toward == Toward::Positive) == (branch.to == node),
                _ => true,
            };
            if passes {
                then(row, Some(beyond));
            }
        }
        let side = match toward {
            Toward::Positive => 0,
            Toward::Negative => 1,
            Toward::End(_) => return,
        };
        for &(input, edge) in self.outputs[side].get(&node).into_iter().flatten().filter(|(_, edge)| !gone.contains(edge)) {
            then(edge, Some(input));
        }
        for &edge in self.sources[side].get(&node).into_iter().flatten().filter(|edge| !gone.contains(edge)) {
            then(edge, None);
        }
    }

    /// Adds the edges of one way from a node, and those that every way has. False where there is none.
    fn way(&self, (start, toward): (NodeId, Toward), gone: &BTreeSet<Edge>, question: &Question, ways: &mut Ways) -> bool {
        let goal = self.prepared.nodes();
        let row = |node: Option<NodeId>| match (node, toward) {
            (None, _) => goal,
            (Some(node), Toward::End(end)) if node == end => goal,
            (Some(node), _) => node.row(),
        };
        if row(Some(start)) == goal {
            return true;
        }
        // One path, breadth first.
        let mut room = question.room.borrow_mut();
        let Room { came, on_path, seen, queue, reached } = &mut *room;
        came.clear();
        came.resize(goal + 1, (NONE, NONE));
        queue.clear();
        queue.push(start);
        let mut at = 0;
        came[start.row()] = (start.0, NONE);
        while at < queue.len() && came[goal].0 == NONE {
            let node = queue[at];
            at += 1;
            self.leads(node, toward, gone, &mut |edge, beyond| {
                let there = row(beyond);
                if came[there].0 == NONE {
                    came[there] = (node.0, edge);
                    queue.extend(beyond.filter(|_| there != goal));
                }
            });
        }
        if came[goal].0 == NONE {
            return false;
        }
        let (mut path, mut edges, mut here) = (vec![goal], Vec::new(), goal);
        while here != start.row() {
            let (before, edge) = came[here];
            edges.push(edge);
            here = before as usize;
            path.push(here);
        }
        path.reverse();
        edges.reverse();
        ways.used.extend(&edges);
        if !question.cuts {
            return true;
        }
        // Which of its edges nothing leads round: from all that is reached before an edge, without that edge, nothing beyond is.
        on_path.clear();
        on_path.resize(goal + 1, NONE);
        path.iter().enumerate().for_each(|(k, &node)| on_path[node] = k as u32);
        seen.clear();
        seen.resize(goal + 1, false);
        queue.clear();
        queue.push(start);
        let mut furthest = 0usize;
        seen[start.row()] = true;
        loop {
            while let Some(node) = queue.pop() {
                let own = on_path[node.row()];
                reached.clear();
                self.leads(node, toward, gone, &mut |edge, beyond| {
                    if own == NONE || edges[own as usize] != edge {
                        reached.push((row(beyond), beyond));
                    }
                });
                for (there, beyond) in reached.drain(..) {
                    if !std::mem::replace(&mut seen[there], true) {
                        queue.extend(beyond.filter(|_| there != goal));
                    }
                    if on_path[there] != NONE && on_path[there] as usize > furthest {
                        for &between in &path[furthest + 1..on_path[there] as usize] {
                            if !std::mem::replace(&mut seen[between], true) {
                                queue.push(NodeId(between as u32));
                            }
                        }
                        furthest = on_path[there] as usize;
                    }
                }
            }
            if furthest == edges.len() {
                return true;
            }
            ways.cuts.insert(edges[furthest]);
            furthest += 1;
            if furthest == edges.len() {
                return true;
            }
            if !std::mem::replace(&mut seen[path[furthest]], true) {
                queue.push(NodeId(path[furthest] as u32));
            }
        }
    }
}
