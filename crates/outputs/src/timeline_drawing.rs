//! The mission over time, as a drawing (SVG): charge, current and bus voltage one below the other. Kinds of line alone tell things apart, so that it reads in black and
//! white. Sizes are in millimetres of paper.

use crate::section_drawing::{LETTER, LINE, n, text};
use crate::{View, number};
use core::fmt::Write;
use model::*;

const PAGE: f64 = 260.0;
const LEFT: f64 = 20.0;
const WIDE: f64 = 180.0;
const HIGH: f64 = 48.0;
/// Kinds of line, in the order of batteries or buses; beyond them they begin again.
const DASHES: [&str; 6] = ["", "3 1", "1 1", "4 1 1 1", "6 2", "0.5 1.5"];

/// A line over mission time in hours.
struct Line {
    label: String,
    points: Vec<(f64, f64)>,
}

/// Charge, current and voltage of every battery and bus in a corner.
pub fn timeline_svg(view: &View, corner: Corner) -> String {
    let mut body = String::new();
    let title = format!("{}, {} corner: batteries through the mission", view.design.name, corner.word());
    text(&mut body, 10.0, 12.0, 5.0, "font-weight=\"bold\"", &title);
    let run = view.timeline.and_then(|timeline| Some((timeline, timeline.run(corner)?)));
    let Some((timeline, run)) = run else {
        text(&mut body, 10.0, 12.0 + LINE, LETTER, "", "no battery names a type of cell");
        return page(&body, 30.0);
    };
    let hours = |seconds: f64| seconds / 3600.0;
    let end = run.legs.last().map_or(0.0, |leg| hours(leg.to.0)).max(1e-6);
    let of = |value: &dyn Fn(&analysis::timeline::BatteryInstant) -> f64| -> Vec<Line> {
        let line = |(column, battery): (usize, &Id<Source>)| Line {
            label: view.design.batteries[*battery].name.to_string(),
            points: run.instants().map(|(_, instant)| (hours(instant.at.0), value(&instant.batteries[column]))).collect(),
        };
        timeline.batteries.iter().enumerate().map(line).collect()
    };
    let buses = timeline.buses.iter().enumerate().map(|(column, bus)| Line {
        label: format!("bus {}", view.design.inner_nodes[*bus].name),
        points: run.instants().filter_map(|(_, instant)| Some((hours(instant.at.0), instant.buses[column]?.0))).collect(),
    });
    let plots = [
        ("charge left, %", of(&|at| 100.0 * at.left), Some((0.0, 100.0))),
        ("current given, A", of(&|at| at.current.0), None),
        ("bus voltage, V", buses.filter(|line| !line.points.is_empty()).collect(), None),
    ];
    let mut top = 20.0;
    for (label, lines, range) in plots {
        plot(&mut body, top, end, label, &lines, range);
        for leg in run.legs.iter().filter(|leg| leg.from.0 > 0.0) {
            let x = n(LEFT + WIDE * hours(leg.from.0) / end);
            let _ = writeln!(
                body,
                "<line x1=\"{x}\" y1=\"{}\" x2=\"{x}\" y2=\"{}\" stroke-width=\"0.15\" stroke-dasharray=\"0.5 0.8\"/>",
                n(top),
                n(top + HIGH)
            );
        }
        top += HIGH + 16.0;
    }
    // Names of phases, each on the first row where it has room.
    let mut phase = None;
    let mut ends: Vec<f64> = Vec::new();
    for leg in &run.legs {
        if phase.replace(leg.phase) != Some(leg.phase) {
            let x = LEFT + WIDE * hours(leg.from.0) / end;
            let name = &view.design.phases[leg.phase].name;
            let row = ends.iter().position(|end| *end < x).unwrap_or(ends.len());
            ends.resize(ends.len().max(row + 1), 0.0);
            ends[row] = x + 0.7 * LETTER * name.chars().count() as f64;
            text(&mut body, x, top - 3.0 + LINE * row as f64, LETTER, "", name);
        }
    }
    top += LINE * ends.len() as f64;
    for (leg, event) in run.events().take(12) {
        let words = match event.what {
            analysis::timeline::Happened::LetGo(id) => format!("load {} lets go", view.design.loads[id].name),
            analysis::timeline::Happened::CameBack(id) => format!("load {} comes back", view.design.loads[id].name),
            analysis::timeline::Happened::Empty(id) => format!("{} is empty", view.design.batteries[id].name),
            analysis::timeline::Happened::CutOff(id, _) => format!("{} is at its cut-off voltage", view.design.batteries[id].name),
        };
        let at = format!("{} h, {}: {words}", number::fixed(hours(event.at.0), 2), view.design.phases[leg.phase].name);
        text(&mut body, LEFT, top, LETTER, "", &at);
        top += LINE;
    }
    page(&body, top + 6.0)
}

fn page(body: &str, high: f64) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" stroke=\"black\" fill=\"none\">\n\
         <rect x=\"0\" y=\"0\" width=\"{}\" height=\"{}\" fill=\"white\" stroke=\"none\"/>\n{body}</svg>\n",
        n(PAGE),
        n(high),
        n(PAGE),
        n(high),
        n(PAGE),
        n(high)
    )
}

/// A step of 1, 2 or 5 times a power of ten that cuts a range into six or less.
fn tick(range: f64) -> f64 {
    let rough = range / 6.0;
    let power = 10f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= rough).unwrap_or(10.0 * power)
}

fn plot(body: &mut String, top: f64, end: f64, label: &str, lines: &[Line], range: Option<(f64, f64)>) {
    let values = || lines.iter().flat_map(|line| line.points.iter().map(|(_, value)| *value));
    let (low, high) = range.unwrap_or_else(|| {
        let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
        if low > high {
            (0.0, 1.0)
        } else if high - low < 1e-6 {
            (low - 0.5, high + 0.5)
        } else {
            (low, high)
        }
    });
    let step = tick(high - low);
    let (low, high) = ((low / step + 1e-6).floor() * step, (high / step - 1e-6).ceil() * step);
    let x = |hours: f64| LEFT + WIDE * hours / end;
    let y = |value: f64| top + HIGH * (1.0 - ((value - low) / (high - low)).clamp(0.0, 1.0));
    text(body, LEFT, top - 2.0, LETTER, "", label);
    let _ = writeln!(body, "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" stroke-width=\"0.25\"/>", n(LEFT), n(top), n(WIDE), n(HIGH));
    let marks = ((high - low) / step).round() as usize;
    for mark in 0..=marks {
        let value = low + step * mark as f64;
        let at = n(y(value));
        let _ = writeln!(body, "<line x1=\"{}\" y1=\"{at}\" x2=\"{}\" y2=\"{at}\" stroke-width=\"0.1\"/>", n(LEFT), n(LEFT + WIDE));
        text(body, LEFT - 2.0, y(value) + 1.0, LETTER, "text-anchor=\"end\"", &number::significant(value, 3));
    }
    let step = tick(end);
    for mark in 0..=((end / step).floor() as usize) {
        let value = step * mark as f64;
        text(body, x(value), top + HIGH + LINE, LETTER, "text-anchor=\"middle\"", &format!("{} h", number::significant(value, 3)));
    }
    for (at, line) in lines.iter().enumerate() {
        let dash = DASHES[at % DASHES.len()];
        let dashed = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        let points: Vec<String> = line.points.iter().map(|(hours, value)| format!("{},{}", n(x(*hours)), n(y(*value)))).collect();
        let _ = writeln!(body, "<polyline points=\"{}\" stroke-width=\"0.4\"{dashed}/>", points.join(" "));
        let key = top + 4.0 + LINE * at as f64;
        let _ = writeln!(
            body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke-width=\"0.4\"{dashed}/>",
            n(LEFT + WIDE + 3.0),
            n(key - 1.0),
            n(LEFT + WIDE + 13.0),
            n(key - 1.0)
        );
        text(body, LEFT + WIDE + 15.0, key, LETTER, "", &line.label);
    }
}
