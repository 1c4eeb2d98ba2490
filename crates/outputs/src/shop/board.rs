//! The formboard: each harness assembly laid out flat at full size, every segment straight and as long as it is.
//!
//! ```text
//! segments with wires of the assembly → parts that hang together → of each a tree (loops are cut where fewest wires run) → every branch in a cone of its own
//! ```
//!
//! A branch and all beyond it lie in a cone that begins where it branches off, and cones of one breakout do not overlap. A cone is convex, so a cone
//! that begins farther out in it lies in it whole: no two branches ever meet. Cost: near linear in segments; finding room for labels dominates.

use super::Issue;
use super::drawing::{CAPITAL, Drawing, LEADING, Point, text_width};
use super::facts::Facts;
use super::place::Room;
use crate::number;
use analysis::Sets;
use model::*;
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::{PI, TAU};

/// Widest cone that still is convex, with something to spare.
const WIDEST: f64 = 0.94 * PI;
/// Margin around a board.
const MARGIN: f64 = 25.0;
/// Outline that stands for a shell of which no diameter is given.
const UNKNOWN_SHELL: f64 = 16.0;

/// One board: what of an assembly hangs together.
pub(crate) struct Board {
    /// The assembly, by its place.
    pub(crate) assembly: usize,
    pub(crate) nodes: Vec<Node>,
    pub(crate) edges: Vec<Edge>,
}

/// A breakout on a board, or the place where a loop is cut.
pub(crate) struct Node {
    pub(crate) of: Id<BranchPoint>,
    /// The segment that is cut here.
    pub(crate) cut: Option<Id<Segment>>,
    pub(crate) at: Point,
}

/// A segment on a board, from the node nearer to the middle of the tree to the one farther out.
pub(crate) struct Edge {
    pub(crate) segment: Id<Segment>,
    pub(crate) ends: [usize; 2],
}

/// All boards, by assembly and then in the order of their first segments.
pub(crate) fn boards(facts: &Facts) -> Vec<Board> {
    (0..facts.assemblies.len()).flat_map(|at| boards_of(facts, at)).collect()
}

/// Wires of an assembly in each segment.
fn wires_in(facts: &Facts, assembly: usize) -> BTreeMap<Id<Segment>, usize> {
    let layout = facts.view.prepared.layout();
    let mut count: BTreeMap<Id<Segment>, usize> = BTreeMap::new();
    for run in facts.assemblies[assembly].wires.iter().filter_map(|wire| layout.run(*wire)) {
        run.segments.iter().for_each(|segment| *count.entry(*segment).or_default() += 1);
    }
    count
}

fn boards_of(facts: &Facts, assembly: usize) -> Vec<Board> {
    let design = facts.design;
    let wires = wires_in(facts, assembly);
    let mut order: Vec<Id<Segment>> = wires.keys().copied().collect();
    // What carries most wires stays whole.
    order.sort_by_key(|id| (std::cmp::Reverse(wires[id]), *id));
    // Breakouts by number, in the order of the assembly's segments.
    let mut number: BTreeMap<Id<BranchPoint>, usize> = BTreeMap::new();
    for id in wires.keys() {
        for end in [design.segments[*id].from, design.segments[*id].to] {
            let next = number.len();
            number.entry(end.value).or_insert(next);
        }
    }
    let mut sets = Sets::new(number.len());
    let mut joins = |id: &Id<Segment>| sets.unite(number[&design.segments[*id].from.value], number[&design.segments[*id].to.value]);
    let is_tree: BTreeSet<Id<Segment>> = order.iter().copied().filter(|id| joins(id)).collect();
    order.sort();
    let mut parts: Vec<(usize, Vec<Id<Segment>>)> = Vec::new();
    for id in order {
        let root = sets.find(number[&design.segments[id].from.value]);
        match parts.iter_mut().find(|(of, _)| *of == root) {
            Some((_, list)) => list.push(id),
            None => parts.push((root, vec![id])),
        }
    }
    parts.into_iter().map(|(_, segments)| board(design, assembly, &segments, &is_tree)).collect()
}

fn board(design: &Design, assembly: usize, segments: &[Id<Segment>], is_tree: &BTreeSet<Id<Segment>>) -> Board {
    let mut number: BTreeMap<Id<BranchPoint>, usize> = BTreeMap::new();
    let mut nodes: Vec<Node> = Vec::new();
    let mut node = |of: Id<BranchPoint>, nodes: &mut Vec<Node>| {
        *number.entry(of).or_insert_with(|| {
            nodes.push(Node { of, cut: None, at: (0.0, 0.0) });
            nodes.len() - 1
        })
    };
    let mut beside: Vec<Vec<(usize, Id<Segment>)>> = Vec::new();
    for &id in segments {
        let row = &design.segments[id];
        let a = node(row.from.value, &mut nodes);
        let b = if is_tree.contains(&id) {
            node(row.to.value, &mut nodes)
        } else {
            nodes.push(Node { of: row.to.value, cut: Some(id), at: (0.0, 0.0) });
            nodes.len() - 1
        };
        beside.resize(nodes.len(), Vec::new());
        beside[a].push((b, id));
        beside[b].push((a, id));
    }
    let (root, leaves, order) = middle(&beside);
    let mut board = Board { assembly, nodes, edges: Vec::new() };
    lay(design, &beside, root, &leaves, &order, &mut board);
    board
}

/// The node from which no branch has more than half of the leaves where there is one, with leaves beyond each node and an order from it outwards (each
/// with the node before it).
fn middle(beside: &[Vec<(usize, Id<Segment>)>]) -> (usize, Vec<f64>, Vec<(usize, usize)>) {
    let outwards = |root: usize| {
        let mut order = vec![(root, usize::MAX)];
        let mut at = 0;
        while at < order.len() {
            let (node, before) = order[at];
            order.extend(beside[node].iter().filter(|(next, _)| *next != before).map(|(next, _)| (*next, node)));
            at += 1;
        }
        order
    };
    let leaves_of = |order: &[(usize, usize)]| {
        let mut leaves = vec![0.0; beside.len()];
        for &(node, before) in order.iter().rev() {
            if leaves[node] == 0.0 {
                leaves[node] = 1.0;
            }
            if before != usize::MAX {
                leaves[before] += leaves[node];
            }
        }
        leaves
    };
    let first = outwards(0);
    let leaves = leaves_of(&first);
    let all = leaves[0];
    // The last node outwards that still has half of the leaves beyond it.
    let root = first.iter().rev().find(|(node, _)| 2.0 * leaves[*node] >= all).map_or(0, |(node, _)| *node);
    let order = outwards(root);
    let leaves = leaves_of(&order);
    (root, leaves, order)
}

/// Gives every node its place: each branch in a cone, as wide as its share of the leaves.
fn lay(design: &Design, beside: &[Vec<(usize, Id<Segment>)>], root: usize, leaves: &[f64], order: &[(usize, usize)], board: &mut Board) {
    let mut cone = vec![(0.0, TAU); beside.len()];
    for &(node, before) in order {
        let (begin, width) = cone[node];
        let out: Vec<(usize, Id<Segment>)> = beside[node].iter().copied().filter(|(next, _)| *next != before).collect();
        let sum: f64 = out.iter().map(|(next, _)| leaves[*next]).sum();
        let mut angle = begin;
        for (next, segment) in out {
            let share = width * leaves[next] / sum;
            let own = share.min(WIDEST);
            let from = angle + 0.5 * (share - own);
            cone[next] = (from, own);
            let along = from + 0.5 * own;
            let length = design.segments[segment].length.value.0 * 1e3;
            let at = board.nodes[node].at;
            board.nodes[next].at = (at.0 + length * along.cos(), at.1 + length * along.sin());
            board.edges.push(Edge { segment, ends: [node, next] });
            angle += share;
        }
    }
    debug_assert!(board.edges.len() + 1 == board.nodes.len(), "a tree from {root}");
}

/// A board as a drawing at full size.
pub(crate) fn drawing(facts: &Facts, board: &Board, issue: &Issue, title: &str) -> Drawing {
    let design = facts.design;
    let mut drawing = Drawing { title: format!("{title}: {}", issue.heading()), ..Drawing::default() };
    let mut room = Room::default();
    for edge in &board.edges {
        segment(facts, board, edge, &mut drawing, &mut room);
    }
    for node in &board.nodes {
        let of = format!("{}:{}", if node.cut.is_some() { "cut" } else { "breakout" }, design.branch_points[node.of].name);
        drawing.circle(if node.cut.is_some() { "CUTS" } else { "BREAKOUTS" }, &of, node.at, 2.0);
        room.add_box((node.at.0 - 2.0, node.at.1 - 2.0), (node.at.0 + 2.0, node.at.1 + 2.0));
    }
    // What needs most room comes first.
    let mut stations: Vec<(usize, Station)> = (0..board.nodes.len()).map(|at| (at, station(facts, board, at))).collect();
    stations.sort_by(|a, b| b.1.area().total_cmp(&a.1.area()).then(a.0.cmp(&b.0)));
    for (at, station) in stations {
        let placed = room.place(board.nodes[at].at, station.size);
        leader(&mut drawing, &placed.leader);
        station.draw(&mut drawing, placed.low);
    }
    let wires = wires_in(facts, board.assembly);
    for edge in &board.edges {
        segment_label(facts, board, edge, &wires, &mut drawing, &mut room);
    }
    frame(facts, board, issue, title, drawing)
}

fn leader(drawing: &mut Drawing, leader: &Option<(Point, Point)>) {
    if let Some((a, b)) = leader {
        drawing.line("LEADERS", "", *a, *b, 0.18);
    }
}

/// A segment with its clamps, holes and ties.
fn segment(facts: &Facts, board: &Board, edge: &Edge, drawing: &mut Drawing, room: &mut Room) {
    let design = facts.design;
    let row = &design.segments[edge.segment];
    let [a, b] = edge.ends.map(|end| board.nodes[end].at);
    let bundle = facts.view.prepared.bundle(edge.segment).known_outside().0 * 1e3;
    drawing.line("SEGMENTS", &format!("segment:{}", row.name), a, b, 0.7);
    let length = row.length.value.0 * 1e3;
    let unit = if length > 0.0 { ((b.0 - a.0) / length, (b.1 - a.1) / length) } else { (1.0, 0.0) };
    let across = |at: f64, half: f64| {
        // Distances count from the segment's own `from` end.
        let at = if board.nodes[edge.ends[0]].of == row.from.value { at } else { length - at };
        let p = (a.0 + unit.0 * at, a.1 + unit.1 * at);
        ((p.0 - unit.1 * half, p.1 + unit.0 * half), (p.0 + unit.1 * half, p.1 - unit.0 * half))
    };
    let half = 0.5 * bundle.max(2.0);
    for (_, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.segment.value == edge.segment) {
        let Some(at) = clamp.position else { continue };
        let (from, to) = across(at.value.0 * 1e3, half + if clamp.kind == ClampKind::Tie { 0.0 } else { 1.5 });
        let layer = match clamp.kind {
            ClampKind::Clamp => "CLAMPS",
            ClampKind::Hole => "HOLES",
            ClampKind::Tie => "TIES",
        };
        drawing.line(
            layer,
            &format!("{}:{}", clamp.kind.word(), clamp.name),
            from,
            to,
            if clamp.kind == ClampKind::Clamp { 0.9 } else { 0.4 },
        );
    }
    for at in super::parts::tie_places(facts, edge.segment) {
        let (from, to) = across(at * 1e3, half);
        drawing.line("TIES", &format!("ties:{}", row.name), from, to, 0.2);
    }
    room.add_line(a, b, bundle.max(2.0) + 2.0);
}

fn segment_label(facts: &Facts, board: &Board, edge: &Edge, wires: &BTreeMap<Id<Segment>, usize>, drawing: &mut Drawing, room: &mut Room) {
    let row = &facts.design.segments[edge.segment];
    let [a, b] = edge.ends.map(|end| board.nodes[end].at);
    let bundle = facts.view.prepared.bundle(edge.segment);
    let over = match bundle.outside() {
        Some(over) => format!("D{}", number::fixed(over.0 * 1e3, 1)),
        None => "D not given".to_owned(),
    };
    let (own, all) = (wires.get(&edge.segment).copied().unwrap_or_default(), facts.view.prepared.layout().members(edge.segment).len());
    let of_all = if own == all { String::new() } else { format!(" of {all}") };
    let bend = rules::least_bend(facts.design, bundle)
        .map_or(String::new(), |bend| format!("  R{}", number::fixed((bend.minimum.0 * 1e3).ceil(), 0)));
    let text = format!("{}  {} mm  {over}{bend}  {own}{of_all}w", row.name, number::plain(row.length.value.0 * 1e3));
    let of = format!("segment:{}", row.name);
    let size = (text_width(&text, CAPITAL), CAPITAL * 1.3);
    let placed = room.place((0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1)), size);
    leader(drawing, &placed.leader);
    drawing.text("LABELS", &of, (placed.low.0, placed.low.1 + 0.3 * CAPITAL), CAPITAL, &text);
}

/// What stands at a breakout: its name, and the connectors there with their outlines, keys and texts.
struct Station {
    of: String,
    head: Vec<String>,
    /// Of each connector: name, diameter, whether that is given, and lines under it.
    connectors: Vec<(String, f64, bool, Vec<String>)>,
    columns: usize,
    cell: (f64, f64),
    size: (f64, f64),
}

const PAD: f64 = 1.5;
/// Connectors side by side.
const ABREAST: usize = 5;

fn station(facts: &Facts, board: &Board, at: usize) -> Station {
    let design = facts.design;
    let node = &board.nodes[at];
    let name = &design.branch_points[node.of].name;
    let (of, head, halves) = match node.cut {
        Some(segment) => {
            let words = vec![format!("CUT {}", design.segments[segment].name), format!("joins {name}")];
            (format!("cut:{}", design.segments[segment].name), words, &[][..])
        }
        None => (format!("breakout:{name}"), vec![name.to_string()], facts.halves_at(node.of)),
    };
    let own = &facts.assemblies[board.assembly].halves;
    let connectors: Vec<_> = halves
        .iter()
        .filter(|half| own.contains(half))
        .map(|&half| {
            let row = &design.connectors[half];
            let given = design.shell_of(half).map(|shell| shell.value.0 * 1e3);
            let mut lines = vec![facts.connector_name(half)];
            let arrangement = design.arrangement_of(half).map_or("arr. not given".to_owned(), |arrangement| arrangement.name.to_string());
            lines.push(match row.kind {
                ConnectorKind::Terminals => "terminals".to_owned(),
                _ => arrangement,
            });
            if row.kind != ConnectorKind::Terminals {
                lines.push(row.keying.as_ref().map_or("key not given".to_owned(), |keying| format!("key {}", keying.value)));
                lines.push(row.clocking.as_ref().map_or("clock. not given".to_owned(), |clocking| clocking.value.to_string()));
            }
            (facts.connector_name(half), given.unwrap_or(UNKNOWN_SHELL), given.is_some(), lines)
        })
        .collect();
    let columns = connectors.len().clamp(1, ABREAST);
    let wide = connectors.iter().flat_map(|(.., lines)| lines).map(|line| text_width(line, CAPITAL)).fold(0.0, f64::max);
    let outline = connectors.iter().map(|(_, diameter, ..)| *diameter).fold(0.0, f64::max);
    let lines = connectors.iter().map(|(.., lines)| lines.len()).max().unwrap_or(0) as f64;
    let cell = (wide.max(outline) + 2.0 * PAD, outline + lines * CAPITAL * LEADING + 2.0 * PAD);
    let rows = connectors.len().div_ceil(ABREAST) as f64;
    let head_width = head.iter().map(|line| text_width(line, CAPITAL)).fold(0.0, f64::max);
    let body = if connectors.is_empty() { 0.0 } else { columns as f64 * cell.0 };
    let size = (
        body.max(head_width) + 2.0 * PAD,
        head.len() as f64 * CAPITAL * LEADING + rows * if connectors.is_empty() { 0.0 } else { cell.1 } + 2.0 * PAD,
    );
    Station { of, head, connectors, columns, cell, size }
}

impl Station {
    fn area(&self) -> f64 {
        self.size.0 * self.size.1
    }

    fn draw(&self, drawing: &mut Drawing, low: Point) {
        drawing.rectangle("CALLOUTS", &self.of, low, (low.0 + self.size.0, low.1 + self.size.1));
        let mut y = low.1 + self.size.1 - PAD;
        for line in &self.head {
            y -= CAPITAL * LEADING;
            drawing.text("CALLOUT-TEXT", &self.of, (low.0 + PAD, y + 0.5 * CAPITAL), CAPITAL, line);
        }
        for (at, (name, diameter, given, lines)) in self.connectors.iter().enumerate() {
            let left = low.0 + PAD + (at % self.columns) as f64 * self.cell.0;
            let top = y - (at / self.columns) as f64 * self.cell.1 - PAD;
            let middle = (left + 0.5 * self.cell.0, top - 0.5 * diameter);
            let of = format!("connector:{name}");
            drawing.circle("CONNECTORS", &of, middle, 0.5 * diameter);
            // The key, up: how it is turned stands under it.
            drawing.line("KEYS", &of, (middle.0, middle.1 + 0.36 * diameter), (middle.0, middle.1 + 0.5 * diameter), 0.7);
            if !given {
                drawing.line(
                    "KEYS",
                    &of,
                    (middle.0 - 0.35 * diameter, middle.1 - 0.35 * diameter),
                    (middle.0 + 0.35 * diameter, middle.1 + 0.35 * diameter),
                    0.18,
                );
            }
            for (row, line) in lines.iter().enumerate() {
                let at = (left + PAD, top - diameter - (row as f64 + 1.0) * CAPITAL * LEADING + 0.5 * CAPITAL);
                drawing.text("CALLOUT-TEXT", &of, at, CAPITAL, line);
            }
        }
    }
}

/// Rulers, notes and the border around a board.
fn frame(facts: &Facts, board: &Board, issue: &Issue, title: &str, drawing: Drawing) -> Drawing {
    let cuts = board.nodes.iter().filter(|node| node.cut.is_some()).count();
    let mut notes = vec![
        format!("{title}   {}", issue.heading()),
        "full size: check both rulers before use; lengths are along the middle of the bundle, from breakout to breakout".to_owned(),
        format!("{}, {}; {} cut: each is drawn once, at full length, and joined where its callout says", number::counted(board.edges.len(), "segment"), number::counted(board.nodes.len() - cuts, "breakout"), number::counted(cuts, "loop")),
        "clamps: thick strokes; holes: medium; ties: thin. Connectors: outline of the shell with its key up, a stroke across where no shell is given; they stand in the callout of their breakout".to_owned(),
        "D: over all that lies in the segment, other assemblies too; R: least bend radius on the inside, in mm; w: wires of this assembly, of all".to_owned(),
        "connectors end beyond the breakout by the end allowance of each wire (cut list)".to_owned(),
    ];
    notes.extend(crate::cautions(facts.design).into_iter().map(|caution| format!("CAUTION: {caution}")));
    let mut drawing = drawing.fitted(MARGIN);
    let foot = 40.0 + notes.len() as f64 * CAPITAL * LEADING;
    drawing.shapes.iter_mut().for_each(|shape| shape.form.shift((0.0, foot)));
    let mut width = drawing.size.0.max(550.0);
    for (row, note) in notes.iter().enumerate() {
        let y = foot - 6.0 - (row as f64 + 1.0) * CAPITAL * LEADING;
        drawing.text("NOTES", "", (MARGIN, y), CAPITAL, note);
        width = width.max(text_width(note, CAPITAL) + 2.0 * MARGIN);
    }
    let height = (drawing.size.1 + foot).max(560.0);
    // 500 mm both ways, a mark every 100.
    for k in 0..=5 {
        let at = 100.0 * f64::from(k);
        drawing.line("RULERS", "", (MARGIN + at, 12.0), (MARGIN + at, 17.0), 0.25);
        drawing.line("RULERS", "", (8.0, MARGIN + at), (13.0, MARGIN + at), 0.25);
    }
    drawing.line("RULERS", "ruler:500 mm across", (MARGIN, 12.0), (MARGIN + 500.0, 12.0), 0.35);
    drawing.line("RULERS", "ruler:500 mm up", (8.0, MARGIN), (8.0, MARGIN + 500.0), 0.35);
    drawing.text("RULERS", "", (MARGIN + 505.0, 12.0), CAPITAL, "500 mm");
    drawing.rectangle("FRAME", "", (2.0, 2.0), (width - 2.0, height - 2.0));
    drawing.size = (width, height);
    drawing
}
