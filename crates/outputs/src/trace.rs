//! `trace`: the ladder of volts from a source to a subject and back.

use crate::json::{NoteRow, SubjectRow};
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::Serialize;

/// A rung of the ladder.
#[derive(Debug, Serialize)]
pub struct TraceRow {
    /// The element.
    pub subject: SubjectRow,
    /// `feed`, `subject` or `return`.
    pub side: &'static str,
    /// Whether its drop counts from the bus (feed below the bus, return before the bus's return).
    pub counts: bool,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Of a mated contact: items that stand in line in it, `saver:SV1`; their resistance is in its own.
    pub in_line: Vec<String>,
    /// Where it is entered.
    pub from: String,
    /// Where it is left.
    pub to: String,
    /// Of a wire: its length.
    pub length_m: Option<f64>,
    /// Of a wire whose length comes from its route: the segments of that.
    pub segments: Vec<String>,
    /// Resistance, where it has one.
    pub resistance_ohm: Option<f64>,
    /// Current along the way.
    pub current_a: Option<f64>,
    /// Voltage lost along the way.
    pub drop_v: Option<f64>,
    /// Voltage lost since the source, the subject left out.
    pub lost_v: Option<f64>,
    /// Whether it is a load, sensor or the like: what it takes is no loss of the wiring.
    pub consumes: bool,
    /// Whether its resistance is `TBD`.
    pub unknown: bool,
    /// Whether this part of the network settled; its numbers are null if not.
    pub settled: bool,
}

/// The rungs from source to subject and back.
pub fn trace(view: &View, point: &Point, element: ElementId) -> Vec<TraceRow> {
    let ladder = view.prepared.trace(point, element);
    let mut rows = Vec::new();
    let mut lost = 0.0;
    let mut push = |step: &LadderStep, side: &'static str, counts: bool| {
        let island = view.prepared.node(step.from).and_then(|node| point.island_of[node.row()]);
        let settled = island.is_none_or(|island| point.islands[island as usize].outcome.is_settled());
        lost += step.drop.0;
        let (kind, name) = view.design.element_name(step.element);
        let number = |value: f64| if settled { number::json(value) } else { None };
        rows.push(TraceRow {
            subject: SubjectRow { kind, name },
            side,
            counts,
            phase: view.phase(point),
            corner: point.scenario.corner.word(),
            in_line: in_line(view, point, step.element),
            from: view.design.end_name(step.from),
            to: view.design.end_name(step.to),
            length_m: wire_of(step.element).and_then(|wire| number::json(view.prepared.length(wire).ok()?.0)),
            segments: routed(view, step.element).map_or(Vec::new(), |run| segment_names(view, run)),
            resistance_ohm: step.ohms.and_then(|ohms| number::json(ohms.0)),
            current_a: number(step.current.0),
            drop_v: number(step.drop.0),
            lost_v: number(lost),
            consumes: consumes(step.element),
            unknown: step.unknown,
            settled,
        });
    };
    for (at, step) in ladder.feed.iter().enumerate() {
        push(step, "feed", at >= ladder.above_bus);
    }
    if let Some(own) = own_step(view, point, element) {
        push(&own, "subject", true);
    }
    let last_counted = ladder.back.len() - ladder.beyond_return;
    for (at, step) in ladder.back.iter().enumerate() {
        push(step, "return", at < last_counted);
    }
    rows
}

fn wire_of(element: ElementId) -> Option<Id<Wire>> {
    match element {
        ElementId::Wire(wire) => Some(wire),
        _ => None,
    }
}

/// The route of a wire whose length comes from it.
fn routed<'v>(view: &'v View, element: ElementId) -> Option<&'v analysis::layout::Run> {
    let wire = wire_of(element)?;
    let from_route = view.design.wires[wire].length.is_some_and(|length| length.value == Length::FromRoute);
    view.prepared.layout().run(wire).filter(|_| from_route)
}

fn segment_names(view: &View, run: &analysis::layout::Run) -> Vec<String> {
    run.segments.iter().map(|segment| view.design.segments[*segment].name.to_string()).collect()
}

/// What the lengths of wires on a ladder are made of, where they come from routes.
fn lengths_from_routes(view: &View, rows: &[TraceRow], ladder: &Ladder, element: ElementId) -> String {
    if rows.iter().all(|row| row.segments.is_empty()) {
        return String::new();
    }
    let mut wires: Vec<Id<Wire>> =
        ladder.feed.iter().chain(&ladder.back).map(|step| step.element).chain([element]).filter_map(wire_of).collect();
    wires.dedup();
    let mut grid = Grid::new(&["length from the route", ">m", ">path", ">twist", ">slack", ">ends", "segments"]);
    for wire in wires {
        let (Some(run), Some(parts)) = (routed(view, ElementId::Wire(wire)), view.prepared.layout().parts(wire)) else { continue };
        let metres = |v: f64| if v > 0.0 { number::fixed(v, 3) } else { String::new() };
        grid.row(vec![
            view.design.element_words(ElementId::Wire(wire)),
            metres(parts.sum().0),
            metres(parts.path.0),
            metres(parts.twist.0),
            metres(parts.slack.0),
            metres((parts.ends[0] + parts.ends[1]).0),
            segment_names(view, run).join(", "),
        ]);
    }
    if grid.is_empty() { String::new() } else { format!("{}\n", grid.render(Style::PLAIN)) }
}

/// Items in line in a contact.
fn in_line(view: &View, point: &Point, element: ElementId) -> Vec<String> {
    let ElementId::Contact(contact) = element else { return Vec::new() };
    let items = view.prepared.in_line(&point.scenario, contact);
    items.into_iter().map(|item| view.design.subject_words(Subject::Fitted(item))).collect()
}

fn consumes(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Load(_) | Converter(_) | Sensor(_) | Receiver(_) | Excitation(_))
}

/// A conductor that is traced is a rung of its own ladder; a load or sensor is not.
fn own_step(view: &View, point: &Point, element: ElementId) -> Option<LadderStep> {
    if !view.design.conductors().iter().any(|conductor| conductor.element == element) {
        return None;
    }
    let row = view.prepared.branch_of(element)?;
    let (a, b) = view.prepared.branch_ends(row);
    let branch = view.prepared.branches()[row];
    let forward = point.current[row] >= 0.0;
    let (from, to) = if forward { (a, b) } else { (b, a) };
    let ohms = view.prepared.ohms(&point.scenario, element);
    let drop = (point.voltage[branch.from.row()] - point.voltage[branch.to.row()]).abs();
    let current = physics::Ampere(point.current[row].abs());
    Some(LadderStep { element, from, to, ohms, current, drop: physics::Volt(drop), unknown: ohms.is_none() })
}

/// The ladder as text, with the terminal voltage, the drop against its limit, and what it rests on.
pub fn trace_text(view: &View, point: &Point, element: ElementId, style: Style) -> String {
    let design = view.design;
    let ladder = view.prepared.trace(point, element);
    let rows = trace(view, point, element);
    let words = design.element_words(element);
    let mut text = format!("{}   phase {}, corner {}\n\n", style.strong(&words), view.phase(point), point.scenario.corner.word());
    let in_wiring: Vec<f64> = rows.iter().filter(|row| !row.consumes).filter_map(|row| row.drop_v).map(f64::abs).collect();
    let greatest = in_wiring.iter().copied().fold(0.0f64, f64::max);
    let total: f64 = in_wiring.iter().sum();
    if matches!(element, ElementId::Source(_)) {
        return format!("{text}{}\n", source_line(view, point, element));
    }
    let mut grid = Grid::new(&["", "element", "from", "to", ">resistance", ">current", ">drop", ">lost so far", ">share", ""]);
    let begin = match (ladder.source, ladder.begins) {
        (Some(source), _) => source_line(view, point, source),
        (None, Some(end)) => format!("begins at {}, no source", design.end_name(end)),
        (None, None) => "no source".to_owned(),
    };
    grid.row(vec![String::new(), begin]);
    for (at, row) in rows.iter().enumerate() {
        if ladder.bus.is_some() && at == ladder.above_bus && row.side == "feed" {
            grid.row(bus_line(view, &ladder));
        }
        if at == ladder.feed.len() && row.side == "return" {
            grid.row(vec![String::new(), subject_line(view, point, element)]);
        }
        grid.row(rung(row, greatest, total));
    }
    if ladder.back.is_empty() && rows.iter().all(|row| row.side == "feed") {
        grid.row(vec![String::new(), subject_line(view, point, element)]);
    }
    if let Some(sink) = ladder.sink {
        grid.row(vec![String::new(), source_line(view, point, sink)]);
    }
    text.push_str(&grid.render(style));
    if ladder.bus.is_some() && rows.iter().any(|row| !row.counts) {
        text.push_str(&style.faint("in brackets: beyond the bus, not counted in the drop from the bus"));
        text.push('\n');
    }
    text.push('\n');
    text.push_str(&lengths_from_routes(view, &rows, &ladder, element));
    text.push_str(&foot(view, point, element, &ladder, style));
    text
}

/// A source with the voltage between its terminals.
fn source_line(view: &View, point: &Point, source: ElementId) -> String {
    let words = view.design.element_words(source);
    let ends = match source {
        ElementId::Source(id) => (view.design.batteries[id].positive.value, view.design.batteries[id].negative.value),
        ElementId::Converter(id) => (view.design.converters[id].output.value, view.design.converters[id].output_return.value),
        ElementId::Excitation(id) => (view.design.excitations[id].positive.value, view.design.excitations[id].negative.value),
        _ => return words,
    };
    match view.between(point, ends.0, ends.1) {
        Ok(volts) => format!("{words}: {} between its terminals", number::with_unit(volts, "V")),
        Err(reason) => format!("{words}: {reason}"),
    }
}

fn bus_line(view: &View, ladder: &Ladder) -> Vec<String> {
    let name = ladder.bus.map_or(String::new(), |bus| format!("bus:{}", view.design.inner_nodes[bus].name));
    vec![String::new(), name, "drop counts from here".to_owned()]
}

fn subject_line(view: &View, point: &Point, element: ElementId) -> String {
    let words = view.design.element_words(element);
    let ends = match element {
        ElementId::Load(id) => {
            let load = &view.design.loads[id];
            match point.load_state[id] {
                LoadState::Off => return format!("{words}: off"),
                LoadState::DroppedOut { at } => return format!("{words}: let go at {}", number::with_unit(at.0, "V")),
                LoadState::Unknown => return format!("{words}: its demand is TBD"),
                LoadState::On => (load.line.value, load.line_return.value),
            }
        }
        ElementId::Converter(id) => {
            let converter = &view.design.converters[id];
            (converter.line.value, converter.line_return.value)
        }
        _ => return words,
    };
    match view.between(point, ends.0, ends.1) {
        Ok(volts) => format!("{words}: {}", number::with_unit(volts, "V")),
        Err(reason) => format!("{words}: {reason}"),
    }
}

fn rung(row: &TraceRow, greatest: f64, total: f64) -> Vec<String> {
    const BAR: usize = 20;
    let cell = |value: Option<f64>, unit: &str| value.map_or("–".to_owned(), |value| number::with_prefix(value, unit));
    let drop = if row.consumes { 0.0 } else { row.drop_v.unwrap_or(0.0).abs() };
    let length = if greatest > 0.0 { (drop / greatest * BAR as f64).round() as usize } else { 0 };
    let share = if total > 0.0 && !row.consumes { format!("{} %", number::fixed(100.0 * drop / total, 0)) } else { "–".to_owned() };
    let side = if row.counts { row.side.to_owned() } else { format!("({})", row.side) };
    let through = if row.in_line.is_empty() { String::new() } else { format!(" through {}", row.in_line.join(", ")) };
    let element = format!("{}:{}{through}", row.subject.kind, row.subject.name);
    vec![
        side,
        element,
        row.from.clone(),
        row.to.clone(),
        if row.unknown { "TBD".to_owned() } else { cell(row.resistance_ohm, "ohm") },
        cell(row.current_a, "A"),
        cell(row.drop_v, "V"),
        row.lost_v.map_or("–".to_owned(), |v| format!("{} V", number::fixed(v, 3))),
        share,
        "█".repeat(length),
    ]
}

fn foot(view: &View, point: &Point, element: ElementId, ladder: &Ladder, style: Style) -> String {
    let design = view.design;
    let mut text = String::new();
    if let ElementId::Load(id) = element
        && point.load_state[id] == LoadState::On
        && !point.load_fed[id]
    {
        text.push_str("it draws nothing here: its drop and volts are not judged in this state (UF-01)\n");
    } else if let ElementId::Load(id) = element
        && point.load_state[id] == LoadState::On
    {
        let limit = rules::drop_limit(design, id).value;
        let (drop, limit_text) = number::pair(ladder.drop_from_bus().0, limit.0, "V");
        let from = match (ladder.bus, ladder.source) {
            (Some(bus), _) => format!("bus:{}", design.inner_nodes[bus].name),
            (None, Some(source)) => design.element_words(source),
            (None, None) => "where the way begins".to_owned(),
        };
        text.push_str(&format!("drop from {from} to the load and back: {drop} of at most {limit_text}\n"));
        let (least, greatest) = rules::volts_limits(design, id);
        if let Some(volts) = point.load_voltage[id] {
            let [volts, least, greatest] = [volts, least.value, greatest.value].map(|v| number::with_unit(v.0, "V"));
            text.push_str(&format!("volts at the load: {volts} of at least {least} and at most {greatest}\n"));
        }
    }
    text.push_str(&wire_foot(view, point, element));
    text.push_str(&heat_foot(view, point, element, style));
    text.push_str(&sensor_foot(view, point, element));
    let steps = ladder.feed.iter().chain(&ladder.back).map(|step| step.element);
    let elements = steps.chain([element]).chain(ladder.source).chain(ladder.sink);
    let mut notes: Vec<NoteId> = elements.flat_map(|e| view.prepared.notes(&point.scenario, e)).collect();
    notes.sort_unstable();
    notes.dedup();
    if !notes.is_empty() {
        let rows: Vec<NoteRow> = notes.iter().map(|&id| view.note_row(design.note(id))).collect();
        text.push_str(&format!("\nrests on\n{}", crate::show::open_text(&rows, style)));
    }
    text
}

/// What the tables let a wire carry, and how that comes about.
fn wire_foot(view: &View, point: &Point, element: ElementId) -> String {
    let ElementId::Wire(id) = element else { return String::new() };
    let case = rules::Case { design: view.design, prepared: view.prepared, today: None };
    let found = rules::WireCurrents::new(&case, point).of(&case, point, id);
    let judged = match &found {
        None => return String::new(),
        Some(Err(missing)) => Err(missing.clone()),
        Some(Ok(found)) => found.judged(view.design).map(|allowed| (found, allowed)),
    };
    match judged {
        Err((field, why)) => format!("current against its tables: not judged for want of {field}: {why}\n"),
        Ok((found, allowed)) => {
            let (current, limit) = number::pair(found.current.0, allowed.allowed.0, "A");
            let tables = view.design.ampacity.as_ref().map_or(String::new(), |tables| format!(" ({} tables)", tables.rules.value));
            format!("current against its tables: {current} of at most {limit}{tables}, {}\n", found.words(view.design, allowed))
        }
    }
}

/// How warm a wire is in each segment of its route.
fn heat_foot(view: &View, point: &Point, element: ElementId, style: Style) -> String {
    let (ElementId::Wire(_), Some(_)) = (element, &point.heat) else { return String::new() };
    let names = vec![view.design.element_words(element)];
    let asked = crate::show::Asked { names, phase: Some(point.scenario.phase), all: true, ..Default::default() };
    let mut rows = crate::temperatures(view, &asked);
    rows.retain(|row| row.corner == point.scenario.corner.word());
    format!("\nheat along its route\n{}", crate::temperatures_text(view, &rows, style))
}

fn sensor_foot(view: &View, point: &Point, element: ElementId) -> String {
    let name = match element {
        ElementId::Sensor(_) | ElementId::Receiver(_) => view.design.element_words(element),
        _ => return String::new(),
    };
    let asked = crate::show::Asked { names: vec![name], phase: Some(point.scenario.phase), ..Default::default() };
    let rows = crate::show::sensor_rows(view, &asked);
    let mut text = String::new();
    for row in rows.iter().filter(|row| row.corner == point.scenario.corner.word()) {
        // A sensor's volts are small ones: millivolts in three digits tell more than hundredths of a volt.
        let volts = |v: Option<f64>| match v {
            Some(v) if v.abs() < 1.0 => number::with_prefix(v, "V"),
            Some(v) => number::with_unit(v, "V"),
            None => "–".to_owned(),
        };
        let kelvin = row.error_k.map_or(String::new(), |k| format!(", {}", number::with_unit(k, "K")));
        let share = |p: f64| if p.abs() < 1e-3 { "less than 0.001".to_owned() } else { number::significant(p, 2) };
        let percent = row.error_percent.map_or(String::new(), |p| format!(" ({} % of span{kelvin})", share(p)));
        text.push_str(&format!(
            "{}:{} reads {} at the {}; ideal {}, error {}{percent}\n",
            row.subject.kind,
            row.subject.name,
            volts(row.voltage_v),
            row.against,
            volts(row.ideal_v),
            volts(row.error_v)
        ));
    }
    text
}

/// The element that a subject is traced as: itself, or of what lands on a pin the one that carries most.
pub fn element_of(view: &View, point: &Point, subject: Subject) -> Option<ElementId> {
    let pin = match subject {
        Subject::Element(element) => return Some(element),
        Subject::Pin(pin) => pin,
        _ => return None,
    };
    let lands = crate::view::landings(view.design).into_iter().filter(|(end, ..)| *end == End::Pin(pin)).map(|(_, element, _)| element);
    let contacts = view.design.contacts.iter().filter(|(_, c)| c.a == pin || c.b == pin).map(|(id, _)| ElementId::Contact(id));
    // The first of equals, so that a dead pin gives the same answer every time.
    lands.chain(contacts).reduce(|best, next| if carries(view, point, next) > carries(view, point, best) { next } else { best })
}

/// Size of an element's current at a point; zero where there is none.
pub fn carries(view: &View, point: &Point, element: ElementId) -> f64 {
    view.current(point, element).unwrap_or(0.0).abs()
}
