//! Wiring diagrams: circuits of one class between the same units on one sheet, every wire once.
//!
//! ```text
//! places left | names of wires | shields | tracks | places right
//! ```
//!
//! Places (connectors, splices, studs, grounds) stand in two columns, and all wires run between them: straight out of a pin, up or down on a track of
//! their own, straight into the other pin. No line can meet a place, since none is where lines are. Rows of the two columns never have one height but
//! for the two ends of one wire, so no two lines lie on each other. Order of places and pins: by where the other ends are, a few times in turn.

use super::Issue;
use super::drawing::{CAPITAL, Drawing, Point, text_width};
use super::facts::Facts;
use crate::number;
use model::*;
use std::collections::{BTreeMap, BTreeSet};

/// Wires on a sheet at most; a family with more goes on over further ones.
const MOST: usize = 48;
/// Wires of a sheet up to which families share it.
const TOGETHER: usize = 20;
/// Height of a row.
const ROW: f64 = 6.0;
/// Distance of two tracks.
const TRACK: f64 = 2.5;
/// Length of the symbol of a contact.
const SYMBOL: f64 = 5.0;
/// Room for the shield of a cable.
const SHIELD: f64 = 12.0;

/// A sheet: its wires and its title.
pub(crate) struct Diagram {
    pub(crate) title: String,
    pub(crate) wires: Vec<Id<Wire>>,
}

/// All sheets, in the order of their first wires.
pub(crate) fn diagrams(facts: &Facts) -> Vec<Diagram> {
    let design = facts.design;
    type Family = (Option<Class>, BTreeSet<String>);
    let mut units: BTreeMap<Option<Id<Circuit>>, BTreeSet<String>> = BTreeMap::new();
    let circuit = |wire: &Wire| wire.circuit.map(|circuit| circuit.value);
    for (_, wire) in design.wires.iter() {
        let homes = [wire.from.value, wire.to.value].map(|end| home(facts, end));
        units.entry(circuit(wire)).or_default().extend(homes.into_iter().flatten());
    }
    let mut row: BTreeMap<Family, usize> = BTreeMap::new();
    let mut families: Vec<Vec<Id<Wire>>> = Vec::new();
    for (id, wire) in design.wires.iter() {
        let own = if circuit(wire).is_some() {
            units[&circuit(wire)].clone()
        } else {
            [home(facts, wire.from.value), home(facts, wire.to.value)].into_iter().flatten().collect()
        };
        let at = *row.entry((design.class_of(id).map(|class| class.value), own)).or_insert_with(|| {
            families.push(Vec::new());
            families.len() - 1
        });
        families[at].push(id);
    }
    let mut sheets = Vec::new();
    for wires in together(design, families) {
        let names: Vec<String> = wires
            .iter()
            .map(|wire| circuit(&design.wires[*wire]).map_or("no circuit".to_owned(), |id| design.circuits[id].name.to_string()))
            .collect();
        let mut seen: Vec<&String> = Vec::new();
        names.iter().for_each(|name| {
            if !seen.contains(&name) {
                seen.push(name);
            }
        });
        let shown = seen.iter().take(6).map(|name| name.as_str()).collect::<Vec<_>>().join(", ");
        let title = if seen.len() > 6 { format!("{shown} and {} more", seen.len() - 6) } else { shown };
        for part in wires.chunks(MOST) {
            sheets.push(Diagram { title: title.clone(), wires: part.to_vec() });
        }
    }
    sheets
}

/// Small families of one class share a sheet, in their order, where no place is in two of them.
fn together(design: &Design, families: Vec<Vec<Id<Wire>>>) -> Vec<Vec<Id<Wire>>> {
    let class = |wires: &[Id<Wire>]| wires.first().and_then(|wire| design.class_of(*wire)).map(|class| class.value);
    let places = |wires: &[Id<Wire>]| -> BTreeSet<String> {
        let ends = wires.iter().flat_map(|wire| [design.wires[*wire].from.value, design.wires[*wire].to.value]);
        ends.map(|end| match end {
            End::Pin(pin) => design.connectors[design.pins[pin].connector].name.to_string(),
            other => design.end_name(other),
        })
        .collect()
    };
    let mut sheets: Vec<(Vec<Id<Wire>>, BTreeSet<String>)> = Vec::new();
    for wires in families {
        let own = places(&wires);
        let fits = |(sheet, known): &&mut (Vec<Id<Wire>>, BTreeSet<String>)| {
            sheet.len() + wires.len() <= TOGETHER && class(sheet) == class(&wires) && known.is_disjoint(&own)
        };
        match sheets.iter_mut().find(fits) {
            Some((sheet, known)) => {
                sheet.extend(wires);
                known.extend(own);
            }
            None => sheets.push((wires, own)),
        }
    }
    sheets.into_iter().map(|(wires, _)| wires).collect()
}

/// The unit that an end belongs to: that of its connector or of what it mates with.
fn home(facts: &Facts, end: End) -> Option<String> {
    let End::Pin(pin) = end else { return Some(facts.place_of(end)) };
    let half = facts.design.pins[pin].connector;
    let unit = facts.design.connectors[half].unit.or_else(|| facts.design.connectors[facts.mate(half)?].unit);
    Some(unit.map_or_else(|| facts.connector_name(half), |unit| facts.design.units[unit.value].name.to_string()))
}

/// On which sheet each wire is.
pub(crate) fn sheet_of(sheets: &[Diagram], wires: usize) -> Vec<usize> {
    let mut of = vec![0; wires];
    for (at, sheet) in sheets.iter().enumerate() {
        sheet.wires.iter().for_each(|wire| of[wire.row()] = at);
    }
    of
}

/// A wire end on a sheet.
type WireEnd = (Id<Wire>, Side);

/// A column: places from the top, each with the wire ends that it has.
type Columns = [Vec<(String, Vec<WireEnd>)>; 2];

fn end_of(design: &Design, (wire, side): WireEnd) -> End {
    let row = &design.wires[wire];
    if side == Side::From { row.from.value } else { row.to.value }
}

fn other(end: WireEnd) -> WireEnd {
    (end.0, if end.1 == Side::From { Side::To } else { Side::From })
}

/// Places in two columns, so that as few wires as can be told go back to the column they come from.
fn columns(facts: &Facts, wires: &[Id<Wire>]) -> Columns {
    let design = facts.design;
    let mut row: BTreeMap<String, usize> = BTreeMap::new();
    let mut places: Vec<(String, Vec<WireEnd>)> = Vec::new();
    for &wire in wires {
        for side in [Side::From, Side::To] {
            let place = facts.place_of(end_of(design, (wire, side)));
            let at = *row.entry(place.clone()).or_insert_with(|| {
                places.push((place, Vec::new()));
                places.len() - 1
            });
            places[at].1.push((wire, side));
        }
    }
    // Two colours along the wires, from the first place on.
    let mut column: Vec<Option<usize>> = vec![None; places.len()];
    for start in 0..places.len() {
        let mut open = vec![(start, 0)];
        while let Some((at, side)) = open.pop() {
            if column[at].is_some() {
                continue;
            }
            column[at] = Some(side);
            open.extend(places[at].1.iter().map(|end| (row[&facts.place_of(end_of(design, other(*end)))], 1 - side)));
        }
    }
    let mut columns: Columns = [Vec::new(), Vec::new()];
    for (place, column) in places.into_iter().zip(column) {
        columns[column.unwrap_or(0)].push(place);
    }
    for turn in 0..6 {
        let by = order(&columns);
        let of = &mut columns[1 - turn % 2];
        let mean = |ends: &[WireEnd]| ends.iter().map(|end| by[&other(*end)]).sum::<f64>() / ends.len() as f64;
        of.iter_mut().for_each(|(_, ends)| ends.sort_by(|a, b| by[&other(*a)].total_cmp(&by[&other(*b)]).then(a.cmp(b))));
        of.sort_by(|a, b| mean(&a.1).total_cmp(&mean(&b.1)).then_with(|| a.0.cmp(&b.0)));
    }
    columns
}

/// Place of every wire end, counted from the top of its column.
fn order(columns: &Columns) -> BTreeMap<WireEnd, f64> {
    let mut by = BTreeMap::new();
    for column in columns {
        let mut at = 0.0;
        for (_, ends) in column {
            at += 1.0;
            for end in ends {
                by.insert(*end, at);
                at += 1.0;
            }
        }
    }
    by
}

/// A sheet as a drawing.
pub(crate) fn drawing(facts: &Facts, sheets: &[Diagram], of: &[usize], at: usize, issue: &Issue) -> Drawing {
    let design = facts.design;
    let sheet = &sheets[at];
    let heading = format!("Wiring diagram, sheet {} of {}   {}", at + 1, sheets.len(), issue.heading());
    let mut drawing = Drawing { title: heading.clone(), ..Drawing::default() };
    let columns = columns(facts, &sheet.wires);
    let heights = heights(&columns);
    let words = |end: WireEnd| pin_words(facts, end, of, at);
    let widths: Vec<f64> = columns
        .iter()
        .map(|column| {
            let heads = column.iter().flat_map(|(_, ends)| head_words(facts, ends[0]));
            let rows = column.iter().flat_map(|(_, ends)| ends.iter().map(|end| words(*end)));
            heads.chain(rows).map(|text| text_width(&text, CAPITAL)).fold(30.0, f64::max) + 4.0
        })
        .collect();
    let names = sheet.wires.iter().map(|wire| text_width(&wire_words(facts, *wire), CAPITAL)).fold(20.0, f64::max) + 3.0;
    let tracks = tracks(&heights, &sheet.wires);
    let left = widths[0];
    let first_track = left + SYMBOL + names + SHIELD + TRACK;
    let right = first_track + TRACK * (tracks.len() as f64 + 1.0) + names;
    for (side, column) in columns.iter().enumerate() {
        let x = [0.0, right + SYMBOL][side];
        for (_, ends) in column {
            place(facts, ends, (side, x, widths[side]), &heights, &words, &mut drawing);
        }
    }
    let inner = [left + SYMBOL, right];
    for &wire in &sheet.wires {
        let of = format!("wire:{}", design.wires[wire].name);
        let [from, to] = [Side::From, Side::To].map(|side| heights[&(wire, side)]);
        let [a, b] = [from, to].map(|(side, y)| (inner[side], y));
        match tracks.get(&wire) {
            None => drawing.line("WIRES", &of, a, b, 0.35),
            Some(track) => {
                let x = first_track + TRACK * *track as f64;
                drawing.line("WIRES", &of, a, (x, a.1), 0.35);
                drawing.line("WIRES", &of, (x, a.1), (x, b.1), 0.35);
                drawing.line("WIRES", &of, (x, b.1), b, 0.35);
            }
        }
        // The name stands at the end in the left column; of a wire that has none there, at its first end.
        let (side, y) = if from.0 == 0 || to.0 == 1 { from } else { to };
        let words = wire_words(facts, wire);
        let x = if side == 0 { left + SYMBOL + 1.5 } else { right - text_width(&words, CAPITAL) - 1.5 };
        drawing.text("WIRE-NAMES", &of, (x, y + 1.0), CAPITAL, &words);
    }
    shields(facts, &sheet.wires, &heights, left + SYMBOL + names, &mut drawing);
    notes(facts, sheet, heading, drawing)
}

/// Column and height of every wire end. A place takes a row for its name and one for each end; a row that is level with the other end of the same wire
/// stays so, any other of the right column is moved by half a row.
fn heights(columns: &Columns) -> BTreeMap<WireEnd, (usize, f64)> {
    let mut heights: BTreeMap<WireEnd, (usize, f64)> = BTreeMap::new();
    let mut levels: BTreeMap<i64, WireEnd> = BTreeMap::new();
    let mut level = 0;
    for (_, ends) in &columns[0] {
        level += 2;
        for end in ends {
            heights.insert(*end, (0, -ROW * level as f64));
            levels.insert(level, *end);
            level += 1;
        }
        level += 1;
    }
    let mut level = 0;
    for (_, ends) in &columns[1] {
        level += 2;
        // As high as the first end's partner, where there is room.
        if let Some((0, y)) = heights.get(&other(ends[0])) {
            level = level.max((-y / ROW).round() as i64);
        }
        let mut moved = false;
        for end in ends {
            let level_with = |level: i64| levels.get(&level).is_none_or(|of| *of == other(*end));
            // A whole row below one that was moved by half: texts keep their distance.
            level += i64::from(moved && level_with(level));
            let is_level = level_with(level);
            moved = !is_level;
            let y = -ROW * level as f64 - if is_level { 0.0 } else { 0.5 * ROW };
            heights.insert(*end, (1, y));
            level += 1;
        }
        level += 1;
    }
    heights
}

/// Track of every wire that is not straight, from the left: of those that go down the upper ones run farther right, of those that go up farther left, so
/// that wires in one order do not cross.
fn tracks(heights: &BTreeMap<WireEnd, (usize, f64)>, wires: &[Id<Wire>]) -> BTreeMap<Id<Wire>, usize> {
    let mut list: Vec<(bool, f64, Id<Wire>)> = Vec::new();
    for &wire in wires {
        let (a, b) = (heights[&(wire, Side::From)], heights[&(wire, Side::To)]);
        let (left, right) = if a.0 <= b.0 { (a, b) } else { (b, a) };
        if left.0 != right.0 && left.1 == right.1 {
            continue;
        }
        let down = right.1 < left.1;
        list.push((down, if down { left.1 } else { -left.1 }, wire));
    }
    list.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    list.into_iter().enumerate().map(|(at, (.., wire))| (wire, at)).collect()
}

/// Name of a place, what it is in, and what it mates with.
fn head_words(facts: &Facts, end: WireEnd) -> Vec<String> {
    let design = facts.design;
    let end = end_of(design, end);
    let mut words = facts.place_of(end);
    if let End::Pin(pin) = end {
        let half = design.pins[pin].connector;
        if let Some(mate) = facts.mate(half) {
            words.push_str(&format!(" / {}", facts.connector_name(mate)));
        }
    }
    vec![words]
}

/// A row of a place: cavity, the pin across, signal, and where the circuit goes on.
fn pin_words(facts: &Facts, end: WireEnd, sheet_of: &[usize], sheet: usize) -> String {
    let design = facts.design;
    let at = end_of(design, end);
    let mut words = Vec::new();
    let mut elsewhere: BTreeSet<usize> = BTreeSet::new();
    let mut goes_on = |end: End| elsewhere.extend(facts.landed(end).iter().map(|(wire, _)| sheet_of[wire.row()]).filter(|on| *on != sheet));
    match at {
        End::Pin(pin) => {
            words.push(format!("{:<3}", design.pins[pin].cavity));
            if let Some(signal) = design.wires[end.0].signal.as_ref().or_else(|| facts.port(pin)?.signal.as_ref()) {
                words.push(signal.value.to_string());
            }
            facts.across(pin).iter().for_each(|(_, other)| goes_on(End::Pin(*other)));
            goes_on(at);
        }
        other => goes_on(other),
    }
    if !elsewhere.is_empty() {
        words.push(format!("> sheet {}", elsewhere.iter().map(|on| (on + 1).to_string()).collect::<Vec<_>>().join(", ")));
    }
    words.join("  ")
}

fn wire_words(facts: &Facts, wire: Id<Wire>) -> String {
    let row = &facts.design.wires[wire];
    match row.spec {
        Some(spec) => format!("{} {}", facts.marking(wire), facts.design.wire_specs[spec.value].gauge),
        None => facts.marking(wire),
    }
}

/// A place with its rows and the symbols of what wires end on there.
fn place(
    facts: &Facts,
    ends: &[WireEnd],
    (side, x, width): (usize, f64, f64),
    heights: &BTreeMap<WireEnd, (usize, f64)>,
    words: &dyn Fn(WireEnd) -> String,
    drawing: &mut Drawing,
) {
    let design = facts.design;
    let (top, bottom) = (heights[&ends[0]].1, heights[&ends[ends.len() - 1]].1);
    let of = format!("place:{}", facts.place_of(end_of(design, ends[0])));
    drawing.rectangle("PLACES", &of, (x, bottom - 0.45 * ROW), (x + width, top + 1.35 * ROW));
    for line in head_words(facts, ends[0]) {
        drawing.text("PLACE-NAMES", &of, (x + 2.0, top + 0.65 * ROW), CAPITAL, &line);
    }
    for end in ends {
        let y = heights[end].1;
        drawing.text("PINS", "", (x + 2.0, y - 0.5 * CAPITAL), CAPITAL, &words(*end));
        let at = end_of(design, *end);
        let of = format!("end:{}:{}", design.wires[end.0].name, design.end_name(at));
        // From the place to where the wire begins.
        let (inner, outer, way) = if side == 0 { (x + width, x + width + SYMBOL, 1.0) } else { (x, x - SYMBOL, -1.0) };
        symbol(facts, at, &of, (inner, y), (outer, y), way, drawing);
    }
}

/// Symbols in the shapes of IEC 60617 and IEEE 315, drawn anew: a blade for a pin, a fork for a socket, a ring for a terminal or stud, a dot for a splice,
/// three bars for a ground, a rake for a case or shell.
fn symbol(facts: &Facts, at: End, of: &str, inner: Point, outer: Point, way: f64, drawing: &mut Drawing) {
    let design = facts.design;
    let layer = "SYMBOLS";
    let middle = (0.5 * (inner.0 + outer.0), inner.1);
    match at {
        End::Pin(pin) if design.connectors[design.pins[pin].connector].kind != ConnectorKind::Terminals => {
            match facts.gender(design.pins[pin].connector) {
                Some(Gender::Pins) => {
                    drawing.line(layer, of, inner, middle, 1.1);
                    drawing.line(layer, of, middle, outer, 0.35);
                }
                Some(Gender::Sockets) => {
                    drawing.line(layer, of, (inner.0 + 0.3 * way, inner.1 + 1.2), middle, 0.35);
                    drawing.line(layer, of, (inner.0 + 0.3 * way, inner.1 - 1.2), middle, 0.35);
                    drawing.line(layer, of, middle, outer, 0.35);
                }
                None => drawing.line(layer, of, inner, outer, 0.35),
            }
        }
        End::Splice(_) => {
            drawing.line(layer, of, inner, outer, 0.35);
            drawing.circle(layer, of, middle, 0.5);
            drawing.circle(layer, of, middle, 0.25);
        }
        End::Ground(_) => {
            drawing.line(layer, of, middle, outer, 0.35);
            for (step, half) in [(0.0, 1.8), (0.8, 1.1), (1.6, 0.5)] {
                let x = middle.0 - way * step;
                drawing.line(layer, of, (x, inner.1 - half), (x, inner.1 + half), 0.35);
            }
        }
        End::Case(_) | End::Shell(_) => {
            drawing.line(layer, of, middle, outer, 0.35);
            drawing.line(layer, of, (middle.0, inner.1 - 1.6), (middle.0, inner.1 + 1.6), 0.35);
            for step in [-1.4, 0.0, 1.4] {
                drawing.line(layer, of, (middle.0, inner.1 + step), (middle.0 - way * 1.2, inner.1 + step - 0.9), 0.25);
            }
        }
        _ => {
            drawing.circle(layer, of, (middle.0, middle.1), 0.9);
            drawing.line(layer, of, (middle.0 + way * 0.9, middle.1), outer, 0.35);
        }
    }
}

/// Shields and twists: around cores of one cable that lie side by side in the left column.
fn shields(facts: &Facts, wires: &[Id<Wire>], heights: &BTreeMap<WireEnd, (usize, f64)>, x: f64, drawing: &mut Drawing) {
    let design = facts.design;
    let mut rows: Vec<(f64, Option<Id<Cable>>)> = Vec::new();
    for &wire in wires {
        for side in [Side::From, Side::To] {
            let (column, y) = heights[&(wire, side)];
            if column == 0 {
                rows.push((y, design.wires[wire].cable.map(|cable| cable.value)));
            }
        }
    }
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut at = 0;
    while at < rows.len() {
        let mut end = at + 1;
        while end < rows.len() && rows[end].1 == rows[at].1 && rows[end - 1].0 - rows[end].0 < 1.01 * ROW {
            end += 1;
        }
        if let Some(cable) = rows[at].1 {
            let row = &design.cables[cable];
            let of = format!("cable:{}", row.name);
            let (top, bottom) = (rows[at].0, rows[end - 1].0);
            if row.kind.is_shielded() || row.kind == CableKind::Coaxial {
                drawing.rectangle("SHIELDS", &of, (x + 1.0, bottom - 0.35 * ROW), (x + 4.5, top + 0.35 * ROW));
            }
            if row.kind.is_twisted() && end - at > 1 {
                drawing.line("TWISTS", &of, (x + 6.0, top - 0.6), (x + 10.0, bottom + 0.6), 0.25);
                drawing.line("TWISTS", &of, (x + 6.0, bottom + 0.6), (x + 10.0, top - 0.6), 0.25);
            }
        }
        at = end;
    }
}

/// Title, legend and cautions under a sheet.
fn notes(facts: &Facts, sheet: &Diagram, heading: String, drawing: Drawing) -> Drawing {
    const MARGIN: f64 = 12.0;
    let mut lines = vec![
        heading,
        format!("circuits: {} ({})", sheet.title, number::counted(sheet.wires.len(), "wire")),
        "blade: pin; fork: socket; ring: terminal or stud; dot: splice; three bars: ground; box around cores: shield; cross: twist. Name of a wire: marking and gauge".to_owned(),
        "> sheet: the circuit goes on there. Behind a half: what it mates with".to_owned(),
    ];
    lines.extend(crate::cautions(facts.design).into_iter().map(|caution| format!("CAUTION: {caution}")));
    let mut drawing = drawing.fitted(MARGIN);
    let pitch = CAPITAL * 1.7;
    // Lines of the width of the sheet, and of no less than a line that can be read.
    let most = ((drawing.size.0.max(250.0) - 2.0 * MARGIN) / CAPITAL) as usize;
    let lines: Vec<String> = lines.iter().flat_map(|line| super::pdf::folded(line, most)).collect();
    let foot = lines.len() as f64 * pitch + 8.0;
    drawing.shapes.iter_mut().for_each(|shape| shape.form.shift((0.0, foot)));
    for (row, line) in lines.iter().enumerate() {
        drawing.text("NOTES", "", (MARGIN, foot - (row as f64 + 0.5) * pitch), CAPITAL, line);
    }
    drawing.size = (drawing.size.0.max(250.0), drawing.size.1 + foot);
    drawing
}
