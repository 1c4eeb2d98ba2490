//! `show curve`: when a device opens over the current, beside the device above it, starts, faults and how long its wire stands it.

use crate::curve_drawing::{Area, Drawing, Line, Mark, Stroke, Upright};
use crate::json::SubjectRow;
use crate::table::Grid;
use crate::{Style, View, curve_drawing, number};
use model::*;
use physics::trip::Edge;
use rules::{Case, Curve, CurvePoint, CurveWire, Faults};
use serde::Serialize;

/// Said with every curve.
pub(crate) const GOVERNS: &str = "the maker's certified curves and a test of the part govern";

/// `show curve`.
#[derive(Debug, Serialize)]
pub struct CurveJson {
    /// The device.
    pub device: SubjectRow,
    /// Its type.
    pub kind: Option<String>,
    /// Rating.
    pub rating_a: Option<f64>,
    /// Rating that its times are scaled from, where it has none of its own.
    pub shape_of_a: Option<f64>,
    /// Coldest and hottest surroundings.
    pub coldest_degc: Option<f64>,
    /// Hottest surroundings: shortest times are of it.
    pub hottest_degc: Option<f64>,
    /// What it holds for good, in the hottest surroundings.
    pub holds_a: Option<f64>,
    /// What it has to open for in the end, in the coldest.
    pub opens_a: Option<f64>,
    /// Devices next above it.
    pub above: Vec<SubjectRow>,
    /// Smallest and largest fault current through it, of the wires that it guards.
    pub faults_a: Vec<Option<f64>>,
    /// Starts behind it.
    pub starts: Vec<StartRow>,
    /// The wire.
    pub wire: Option<WireRow>,
    /// Times by current.
    pub rows: Vec<CurveRow>,
    /// What is not known.
    pub missing: Vec<String>,
    /// What governs.
    pub caution: &'static str,
}

/// A start.
#[derive(Debug, Serialize)]
pub struct StartRow {
    /// Loads that start together.
    pub loads: Vec<String>,
    /// Currents through the device, one after the other.
    pub current_a: Vec<Option<f64>>,
    /// When each ends.
    pub until_s: Vec<Option<f64>>,
}

/// The wire of a curve.
#[derive(Debug, Serialize)]
pub struct WireRow {
    /// The wire.
    pub subject: SubjectRow,
    /// Its gauge.
    pub gauge: Option<String>,
    /// The segment in which it runs warmest.
    pub segment: String,
    /// What it runs at there.
    pub from_degc: Option<f64>,
    /// What it may come to.
    pub to_degc: Option<f64>,
    /// Whose limit that is.
    pub by: String,
    /// Currents at which the transient of its section was worked out.
    pub section_a: Vec<Option<f64>>,
    /// How long it stands them; null for good.
    pub section_s: Vec<Option<f64>>,
}

/// A current of the curve.
#[derive(Debug, Serialize)]
pub struct CurveRow {
    /// Current.
    pub current_a: Option<f64>,
    /// As a share of the rating, in hundredths.
    pub percent: Option<f64>,
    /// Shortest time in the hottest surroundings; null with `shortest` saying why.
    pub shortest_s: Option<f64>,
    /// `at`, `for good`, `under the band`, `beyond the band` or `unknown`.
    pub shortest: &'static str,
    /// Longest time in the coldest surroundings.
    pub longest_s: Option<f64>,
    /// The same words.
    pub longest: &'static str,
    /// Shortest time of the first device above, without what it carries beside.
    pub above_s: Option<f64>,
    /// The same words.
    pub above: &'static str,
    /// How long the wire stands it while no heat leaves its strands.
    pub adiabatic_s: Option<f64>,
}

fn word(edge: Option<Edge>) -> &'static str {
    match edge {
        Some(Edge::Time(_)) => "at",
        Some(Edge::Never) => "for good",
        Some(Edge::Under(_)) => "under the band",
        Some(Edge::Beyond(_)) => "beyond the band",
        None => "unknown",
    }
}

fn seconds(edge: Option<Edge>) -> Option<f64> {
    match edge {
        Some(Edge::Time(t) | Edge::Under(t) | Edge::Beyond(t)) => number::json(t.0),
        _ => None,
    }
}

fn subject(design: &Design, element: ElementId) -> SubjectRow {
    let (kind, name) = design.element_name(element);
    SubjectRow { kind, name }
}

/// The curve of a device, or of the device that guards a wire; `None` where no device guards it.
pub fn curve(view: &View, of: ElementId, phase: Option<Id<Phase>>) -> Option<Curve> {
    let protection = view.protection?;
    let faults = Faults { protection, points: view.points };
    let case = Case { design: view.design, prepared: view.prepared, today: None };
    match of {
        ElementId::Protector(device) => Some(rules::curve(&case, &faults, device, None, phase)),
        ElementId::Wire(wire) => {
            let device = *protection.of(wire)?.guards.first()?;
            Some(rules::curve(&case, &faults, device, Some(wire), phase))
        }
        _ => None,
    }
}

/// The curve for a program.
pub fn curve_json(view: &View, curve: &Curve) -> CurveJson {
    let design = view.design;
    let device = design.device(curve.device);
    let [coldest, hottest] = curve.ambients;
    let rating = design.protectors[curve.device].rating.map(|rating| rating.value.0);
    CurveJson {
        device: subject(design, ElementId::Protector(curve.device)),
        kind: device.map(|device| device.name.to_string()),
        rating_a: rating.and_then(number::json),
        shape_of_a: device.and_then(|device| device.shape_of).and_then(|a| number::json(a.0)),
        coldest_degc: number::json(coldest.celsius()),
        hottest_degc: number::json(hottest.celsius()),
        holds_a: device.and_then(|device| device.trip.holds(hottest)).and_then(|a| number::json(a.0)),
        opens_a: device.and_then(|device| device.trip.ultimate(coldest)).and_then(|a| number::json(a.0)),
        above: curve.above.iter().map(|(id, _)| subject(design, ElementId::Protector(*id))).collect(),
        faults_a: curve.faults.into_iter().flatten().map(|a| number::json(a.0)).collect(),
        starts: curve.starts.iter().map(start_row).collect(),
        wire: curve.wire.as_ref().map(|wire| wire_row(design, wire)),
        rows: curve.own.iter().enumerate().filter(|(_, point)| point.shown).map(|(n, point)| row(curve, rating, n, point)).collect(),
        missing: curve.missing.clone(),
        caution: GOVERNS,
    }
}

fn row(curve: &Curve, rating: Option<f64>, n: usize, point: &CurvePoint) -> CurveRow {
    let above = curve.above.first().and_then(|(_, points)| points.get(n)).and_then(|point| point.shortest);
    CurveRow {
        current_a: number::json(point.current.0),
        percent: rating.and_then(|rating| number::json(100.0 * point.current.0 / rating)),
        shortest_s: seconds(point.shortest),
        shortest: word(point.shortest),
        longest_s: seconds(point.longest),
        longest: word(point.longest),
        above_s: seconds(above),
        above: if curve.above.is_empty() { "unknown" } else { word(above) },
        adiabatic_s: curve.wire.as_ref().and_then(|wire| wire.adiabatic.get(n)).and_then(|(_, t)| number::json(t.0)),
    }
}

fn start_row(start: &rules::CurveStart) -> StartRow {
    StartRow {
        loads: start.loads.clone(),
        current_a: start.stretches.iter().map(|(a, _)| number::json(a.0)).collect(),
        until_s: start.stretches.iter().map(|(_, t)| number::json(t.0)).collect(),
    }
}

fn gauge(design: &Design, wire: Id<Wire>) -> Option<String> {
    design.wires[wire].spec.map(|spec| format!("{} AWG", design.wire_specs[spec.value].gauge))
}

fn wire_row(design: &Design, wire: &CurveWire) -> WireRow {
    WireRow {
        subject: subject(design, ElementId::Wire(wire.wire)),
        gauge: gauge(design, wire.wire),
        segment: design.segments[wire.segment].name.to_string(),
        from_degc: number::json(wire.from.celsius()),
        to_degc: number::json(wire.to.celsius()),
        by: wire.by.clone(),
        section_a: wire.section.iter().map(|(a, _)| number::json(a.0)).collect(),
        section_s: wire.section.iter().map(|(_, t)| t.and_then(|t| number::json(t.0))).collect(),
    }
}

/// A time of an edge, with the sign of what it is.
fn cell(edge: Option<Edge>) -> String {
    match edge {
        Some(Edge::Time(t)) => time(t.0),
        Some(Edge::Never) => "for good".to_owned(),
        Some(Edge::Under(t)) => format!("≥ {}", time(t.0)),
        Some(Edge::Beyond(t)) => format!("≤ {}", time(t.0)),
        None => "unknown".to_owned(),
    }
}

/// A longest time under the first point of a band is not known: what is known there is of no use.
fn longest_cell(edge: Option<Edge>) -> String {
    match edge {
        Some(Edge::Under(_)) => "unknown".to_owned(),
        other => cell(other),
    }
}

fn time(seconds: f64) -> String {
    number::with_unit(seconds, "s")
}

fn amperes(current: f64) -> String {
    number::with_unit(current, "A")
}

/// First lines, of text and drawing alike.
fn remarks(view: &View, curve: &Curve) -> Vec<String> {
    let design = view.design;
    let mut lines = Vec::new();
    let [coldest, hottest] = curve.ambients;
    if let Some(device) = design.device(curve.device) {
        let shape = device.shape_of.map_or(String::new(), |from| format!(", shape assumed: scaled from {}", amperes(from.0)));
        lines.push(format!("{} of {}{shape}", device.name, amperes(device.trip.rating.0)));
        let shift = device.shift.map_or("", |_| "; moved there by an assumed law");
        lines.push(format!("shortest times at {:.0} degC, longest at {:.0} degC{shift}", hottest.celsius(), coldest.celsius()));
        let held = device.trip.holds(hottest).map(|a| format!("holds {} for good", amperes(a.0)));
        let opens = device.trip.ultimate(coldest).map(|a| format!("has to open in the end at {}", amperes(a.0)));
        lines.extend([held, opens].into_iter().flatten().reduce(|a, b| format!("{a}, {b}")));
        lines
            .extend(device.limits.map(|limits| format!("lets through {} at most, whatever the fault would draw", amperes(limits.value.0))));
    }
    for (upper, _) in &curve.above {
        lines.push(format!("above it: {}", design.element_words(ElementId::Protector(*upper))));
    }
    if let Some([least, most]) = curve.faults {
        lines.push(format!("bolted faults of the wires that it guards: {} to {}", amperes(least.0), amperes(most.0)));
    }
    for start in &curve.starts {
        let steps: Vec<String> = start.stretches.iter().map(|(a, t)| format!("{} until {}", amperes(a.0), time(t.0))).collect();
        lines.push(format!("start of {}: {}", start.loads.join(", "), steps.join(", ")));
    }
    if let Some(wire) = &curve.wire {
        lines.push(format!(
            "{} {}, in segment {} from {:.0} degC to {:.0} degC ({})",
            design.element_words(ElementId::Wire(wire.wire)),
            gauge(design, wire.wire).unwrap_or_default(),
            design.segments[wire.segment].name,
            wire.from.celsius(),
            wire.to.celsius(),
            wire.by
        ));
    }
    lines.extend(curve.missing.iter().map(|missing| format!("not known: {missing}")));
    lines
}

/// The curve as a table.
pub fn curve_text(view: &View, curve: &Curve, style: Style) -> String {
    let design = view.design;
    let mut text = format!("{}\n", style.strong(&design.element_words(ElementId::Protector(curve.device))));
    for line in remarks(view, curve) {
        text.push_str(&format!("   {line}\n"));
    }
    if !curve.own.is_empty() {
        let above = curve.above.first().map(|(id, _)| format!(">{} holds", design.protectors[*id].name));
        let wire = curve.wire.as_ref().map(|wire| format!(">{} stands, no heat leaving", design.wires[wire.wire].name));
        let mut heads = vec![">current", ">of rating", ">shortest", ">longest"];
        heads.extend(above.as_deref());
        heads.extend(wire.as_deref());
        let mut grid = Grid::new(&heads);
        let rating = design.protectors[curve.device].rating.map(|rating| rating.value.0);
        for (n, point) in curve.own.iter().enumerate().filter(|(_, point)| point.shown) {
            let share = rating.map_or(String::new(), |rating| format!("{} %", number::significant(100.0 * point.current.0 / rating, 3)));
            let mut row = vec![amperes(point.current.0), share, cell(point.shortest), longest_cell(point.longest)];
            if let Some((_, points)) = curve.above.first() {
                row.push(points.get(n).map_or(String::new(), |point| cell(point.shortest)));
            }
            if let Some(wire) = &curve.wire {
                row.push(wire.adiabatic.get(n).map_or(String::new(), |(_, t)| time(t.0)));
            }
            grid.row(row);
        }
        text.push_str(&format!("\n{}", grid.render(style)));
    }
    if let Some(wire) = curve.wire.as_ref().filter(|wire| !wire.section.is_empty()) {
        let mut grid = Grid::new(&[">current", ">stands, in its section"]);
        for (current, stands) in &wire.section {
            grid.row(vec![amperes(current.0), stands.map_or("for good".to_owned(), |t| time(t.0))]);
        }
        text.push_str(&format!("\n{}", grid.render(style)));
    }
    text + &format!("\ncaution  {GOVERNS}\n")
}

/// The curve as a drawing (SVG).
pub fn curve_svg(view: &View, curve: &Curve) -> String {
    let design = view.design;
    let mut drawing = Drawing {
        title: format!("{}: time over current", design.element_words(ElementId::Protector(curve.device))),
        remarks: remarks(view, curve),
        ..Drawing::default()
    };
    let (own, name) = (area(&curve.own, design.device(curve.device), curve.ambients), &design.protectors[curve.device].name);
    drawing.areas.push(Area { label: format!("{name}: between its shortest and its longest time"), ..own });
    for (upper, points) in curve.above.iter().take(1) {
        let name = &design.protectors[*upper].name;
        let area = area(points, design.device(*upper), curve.ambients);
        drawing.areas.push(Area { label: format!("{name}, above it, without what it carries beside"), ..area });
    }
    if let Some(wire) = &curve.wire {
        let name = &design.wires[wire.wire].name;
        let points = wire.adiabatic.iter().map(|(a, t)| (a.0, t.0)).collect();
        drawing.lines.push(Line { points, stroke: Stroke::Dashed, label: format!("{name} stands it while no heat leaves its strands") });
        let points = wire.section.iter().filter_map(|(a, t)| Some((a.0, (*t)?.0))).collect();
        drawing.lines.push(Line { points, stroke: Stroke::Thick, label: format!("{name} stands it in its section") });
    }
    for start in &curve.starts {
        let points = start.stretches.iter().map(|(a, t)| (a.0, t.0)).collect();
        drawing.marks.push(Mark { points, label: format!("start of {}", start.loads.join(", ")) });
    }
    for (n, current) in curve.faults.into_iter().flatten().enumerate() {
        let which = if n == 0 { "smallest" } else { "largest" };
        drawing.uprights.push(Upright { at: current.0, label: format!("{which} bolted fault, {}", amperes(current.0)) });
    }
    drawing.foot = format!("{GOVERNS}; computed from the values entered");
    curve_drawing::draw(&drawing)
}

/// A band between both edges: from what the device holds, or has to open for, down along the times that are known.
fn area(points: &[CurvePoint], device: Option<&DeviceType>, [coldest, hottest]: [physics::Kelvin; 2]) -> Area {
    let known = |edge: fn(&CurvePoint) -> Option<Edge>| -> Vec<(f64, f64)> {
        let time = |point: &CurvePoint| match edge(point) {
            Some(Edge::Time(t)) => Some((point.current.0, t.0)),
            _ => None,
        };
        points.iter().filter_map(time).collect()
    };
    Area {
        shortest: known(|point| point.shortest),
        longest: known(|point| point.longest),
        holds: device.and_then(|device| device.trip.holds(hottest)).map(|a| a.0),
        opens: device.and_then(|device| device.trip.ultimate(coldest)).map(|a| a.0),
        label: String::new(),
    }
}
