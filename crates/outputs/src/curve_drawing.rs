//! Time over current on log scales, as a drawing (SVG). Hatching and kinds of line alone tell things apart, so that it reads in black and white.
//! Sizes are in millimetres of paper.

use crate::number;
use crate::section_drawing::{LETTER, LINE, escaped, n, text};
use core::fmt::Write;

/// What is drawn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Drawing {
    /// First line.
    pub(crate) title: String,
    /// Lines under the title.
    pub(crate) remarks: Vec<String>,
    /// Bands; the first is hatched one way, the next the other way.
    pub(crate) areas: Vec<Area>,
    /// Lines.
    pub(crate) lines: Vec<Line>,
    /// Points.
    pub(crate) marks: Vec<Mark>,
    /// Currents.
    pub(crate) uprights: Vec<Upright>,
    /// Last line.
    pub(crate) foot: String,
}

/// A band: amperes and seconds, by rising current.
#[derive(Clone, Debug, Default)]
pub(crate) struct Area {
    /// Its lower edge.
    pub(crate) shortest: Vec<(f64, f64)>,
    /// Its upper edge.
    pub(crate) longest: Vec<(f64, f64)>,
    /// Current at which the lower edge comes down from the top.
    pub(crate) holds: Option<f64>,
    /// Current at which the upper edge comes down from the top.
    pub(crate) opens: Option<f64>,
    /// What it is.
    pub(crate) label: String,
}

/// A line of amperes and seconds.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    /// Points by rising current.
    pub(crate) points: Vec<(f64, f64)>,
    /// How it is drawn.
    pub(crate) stroke: Stroke,
    /// What it is.
    pub(crate) label: String,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stroke {
    /// Dashed.
    Dashed,
    /// Thick.
    Thick,
}

/// Numbered points: a start.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    /// Its points.
    pub(crate) points: Vec<(f64, f64)>,
    /// What it is.
    pub(crate) label: String,
}

/// A current, drawn from top to bottom.
#[derive(Clone, Debug)]
pub(crate) struct Upright {
    /// The current.
    pub(crate) at: f64,
    /// What it is.
    pub(crate) label: String,
}

/// Width of the page, and the room of the plot in it.
const PAGE: f64 = 190.0;
const LEFT: f64 = 22.0;
const PLOT: (f64, f64) = (158.0, 150.0);
/// Times that a plot shows at the most.
const TIMES: (f64, f64) = (1e-4, 1e5);

/// Both axes.
struct Axes {
    x: (f64, f64),
    y: (f64, f64),
    top: f64,
}

impl Axes {
    fn x(&self, current: f64) -> f64 {
        LEFT + PLOT.0 * ((current.log10() - self.x.0) / (self.x.1 - self.x.0)).clamp(0.0, 1.0)
    }
    fn y(&self, time: f64) -> f64 {
        self.top + PLOT.1 * (1.0 - ((time.log10() - self.y.0) / (self.y.1 - self.y.0)).clamp(0.0, 1.0))
    }
    fn shows(&self, (current, time): (f64, f64)) -> bool {
        let within = |value: f64, (low, high): (f64, f64)| value > 0.0 && value.log10() >= low - 1e-9 && value.log10() <= high + 1e-9;
        within(current, self.x) && within(time, self.y)
    }
}

/// The drawing.
pub(crate) fn draw(drawing: &Drawing) -> String {
    let mut body = String::new();
    let mut y = 12.0;
    text(&mut body, 10.0, y, 5.0, "font-weight=\"bold\"", &drawing.title);
    for remark in &drawing.remarks {
        y += LINE;
        text(&mut body, 10.0, y, LETTER, "", remark);
    }
    y += 5.0;
    let axes = axes(drawing, y);
    grid(&mut body, &axes);
    for (at, area) in drawing.areas.iter().enumerate().rev() {
        band(&mut body, &axes, at, area);
    }
    for line in &drawing.lines {
        polyline(&mut body, &axes, &line.points, stroke(line.stroke));
    }
    for upright in drawing.uprights.iter().filter(|upright| upright.at > 0.0) {
        let x = n(axes.x(upright.at));
        let (from, to) = (n(axes.top), n(axes.top + PLOT.1));
        let _ = writeln!(body, "<line x1=\"{x}\" y1=\"{from}\" x2=\"{x}\" y2=\"{to}\" stroke-width=\"0.3\" stroke-dasharray=\"0.4 0.9\"/>");
    }
    for (at, mark) in drawing.marks.iter().enumerate() {
        for point in mark.points.iter().filter(|point| axes.shows(**point)) {
            numbered(&mut body, axes.x(point.0), axes.y(point.1), at + 1);
        }
    }
    y += PLOT.1 + 16.0;
    y = legend(&mut body, drawing, y);
    text(&mut body, 10.0, y + 2.0, LETTER, "", &drawing.foot);
    let (title, height) = (escaped(&drawing.title), y + 8.0);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
         font-family=\"'DejaVu Sans', 'Liberation Sans', Arial, sans-serif\" stroke=\"black\" fill=\"none\">\n<title>{title}</title>\n\
         <defs><pattern id=\"own\" width=\"1.6\" height=\"1.6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
         <line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"1.6\" stroke-width=\"0.25\"/></pattern>\
         <pattern id=\"above\" width=\"2.4\" height=\"2.4\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(-45)\">\
         <line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"2.4\" stroke-width=\"0.15\"/></pattern></defs>\n\
         <rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"white\" stroke=\"none\"/>\n{body}</svg>\n",
        w = n(PAGE),
        h = n(height),
    )
}

/// Whole decades around all that is drawn; times between 100 µs and a day.
fn axes(drawing: &Drawing, top: f64) -> Axes {
    let areas = drawing.areas.iter().flat_map(|area| area.shortest.iter().chain(&area.longest));
    let marks = drawing.marks.iter().flat_map(|mark| &mark.points);
    let points: Vec<(f64, f64)> = areas.chain(marks).copied().filter(|(a, t)| *a > 0.0 && *t > 0.0).collect();
    let uprights = drawing.areas.iter().flat_map(|area| [area.holds, area.opens]).flatten();
    let currents: Vec<f64> = points
        .iter()
        .map(|(a, _)| *a)
        .chain(uprights)
        .chain(drawing.uprights.iter().map(|upright| upright.at))
        .filter(|a| *a > 0.0)
        .collect();
    let ends = |values: &[f64], usual: (f64, f64)| {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(0.0, f64::max);
        let (low, high) = if high > 0.0 { (low, high) } else { usual };
        (low.log10().floor(), high.log10().ceil())
    };
    let times: Vec<f64> = points.iter().map(|(_, t)| t.clamp(TIMES.0, TIMES.1)).collect();
    let (x, y) = (ends(&currents, (1.0, 1000.0)), ends(&times, (0.01, 1000.0)));
    // A single current or time still needs a decade to stand in.
    let wide = |(low, high): (f64, f64)| if high > low { (low, high) } else { (low, low + 1.0) };
    Axes { x: wide(x), y: wide(y), top }
}

fn grid(body: &mut String, axes: &Axes) {
    let (right, bottom) = (LEFT + PLOT.0, axes.top + PLOT.1);
    let rule = |body: &mut String, x: [f64; 2], y: [f64; 2], width: f64| {
        let _ = writeln!(
            body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke-width=\"{width}\" stroke=\"#777777\"/>",
            n(x[0]),
            n(y[0]),
            n(x[1]),
            n(y[1])
        );
    };
    let decades = |(low, high): (f64, f64)| (low as i32)..=(high as i32);
    for decade in decades(axes.x) {
        let x = axes.x(10_f64.powi(decade));
        rule(body, [x; 2], [axes.top, bottom], 0.2);
        centred(body, x, bottom + 4.0, &ticks(decade, "A"));
        if f64::from(decade) < axes.x.1 {
            (2..10).for_each(|k| rule(body, [axes.x(f64::from(k) * 10_f64.powi(decade)); 2], [bottom - 1.5, bottom], 0.15));
        }
    }
    for decade in decades(axes.y) {
        let y = axes.y(10_f64.powi(decade));
        rule(body, [LEFT, right], [y; 2], 0.2);
        let words = ticks(decade, "s");
        let _ = writeln!(
            body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{LETTER}\" text-anchor=\"end\" fill=\"black\" stroke=\"none\">{words}</text>",
            n(LEFT - 1.5),
            n(y + 1.0)
        );
        if f64::from(decade) < axes.y.1 {
            (2..10).for_each(|k| rule(body, [LEFT, LEFT + 1.5], [axes.y(f64::from(k) * 10_f64.powi(decade)); 2], 0.15));
        }
    }
    centred(body, LEFT + 0.5 * PLOT.0, bottom + 8.5, "current, A");
    text(body, LEFT, axes.top - 1.5, LETTER, "", "time, s");
}

fn centred(body: &mut String, x: f64, y: f64, words: &str) {
    let _ = writeln!(
        body,
        "<text x=\"{}\" y=\"{}\" font-size=\"{LETTER}\" text-anchor=\"middle\" fill=\"black\" stroke=\"none\">{words}</text>",
        n(x),
        n(y)
    );
}

/// `100 ms`, `10 A`, `1 kA`.
fn ticks(decade: i32, unit: &str) -> String {
    let (shift, prefix) = match decade {
        ..=-4 => (6, "µ"),
        -3..=-1 => (3, "m"),
        0..=2 => (0, ""),
        // Seconds stay seconds.
        _ if unit == "s" => (0, ""),
        _ => (-3, "k"),
    };
    format!("{} {prefix}{unit}", number::plain(10_f64.powi(decade + shift)))
}

fn stroke(stroke: Stroke) -> &'static str {
    match stroke {
        Stroke::Dashed => "stroke-width=\"0.4\" stroke-dasharray=\"3 1.2\"",
        Stroke::Thick => "stroke-width=\"0.8\"",
    }
}

fn polyline(body: &mut String, axes: &Axes, points: &[(f64, f64)], style: &str) {
    let within: Vec<(f64, f64)> = points.iter().copied().filter(|point| axes.shows(*point)).collect();
    if within.len() > 1 {
        let path: Vec<String> = within.iter().map(|(a, t)| format!("{},{}", n(axes.x(*a)), n(axes.y(*t)))).collect();
        let _ = writeln!(body, "<polyline points=\"{}\" {style}/>", path.join(" "));
    }
}

/// A band: its lower edge out, its upper edge back, both from the top where it says from which current on.
fn band(body: &mut String, axes: &Axes, at: usize, area: &Area) {
    let edge = |points: &[(f64, f64)], from: Option<f64>| -> Vec<(f64, f64)> {
        let mut edge: Vec<(f64, f64)> = Vec::new();
        if let (Some(from), Some((_, first))) = (from.filter(|from| *from > 0.0), points.first()) {
            edge.extend([(axes.x(from), axes.top), (axes.x(from), axes.y(*first))]);
        }
        edge.extend(points.iter().map(|(a, t)| (axes.x(*a), axes.y(*t))));
        edge
    };
    let (lower, upper) = (edge(&area.shortest, area.holds), edge(&area.longest, area.opens));
    let path = |points: &[(f64, f64)]| points.iter().map(|(x, y)| format!("{},{}", n(*x), n(*y))).collect::<Vec<_>>().join(" ");
    let (pattern, style) =
        if at == 0 { ("own", "stroke-width=\"0.5\"") } else { ("above", "stroke-width=\"0.3\" stroke-dasharray=\"1.6 0.8\"") };
    if lower.len() > 1 && upper.len() > 1 {
        let around: Vec<(f64, f64)> = lower.iter().copied().chain(upper.iter().rev().copied()).collect();
        let _ = writeln!(body, "<polygon points=\"{}\" fill=\"url(#{pattern})\" stroke=\"none\"/>", path(&around));
    }
    for edge in [lower, upper].iter().filter(|edge| edge.len() > 1) {
        let _ = writeln!(body, "<polyline points=\"{}\" {style}/>", path(edge));
    }
}

/// A number in a white circle.
fn numbered(body: &mut String, x: f64, y: f64, number: usize) {
    let _ = writeln!(body, "<circle cx=\"{}\" cy=\"{}\" r=\"2\" fill=\"white\" stroke-width=\"0.4\"/>", n(x), n(y));
    let _ = writeln!(
        body,
        "<text x=\"{}\" y=\"{}\" font-size=\"2.4\" text-anchor=\"middle\" fill=\"black\" stroke=\"none\">{number}</text>",
        n(x),
        n(y + 0.9)
    );
}

fn legend(body: &mut String, drawing: &Drawing, y: f64) -> f64 {
    let entry = |body: &mut String, at: f64, sample: String, words: &str| {
        body.push_str(&sample);
        text(body, 26.0, at + 1.0, LETTER, "", words);
        at + LINE + 0.8
    };
    let mut at = y;
    for (row, area) in drawing.areas.iter().enumerate() {
        let (pattern, style) = if row == 0 { ("own", "0.5\"") } else { ("above", "0.3\" stroke-dasharray=\"1.6 0.8\"") };
        let sample =
            format!("<rect x=\"10\" y=\"{}\" width=\"13\" height=\"3.4\" fill=\"url(#{pattern})\" stroke-width=\"{style}/>\n", n(at - 1.7));
        at = entry(body, at, sample, &area.label);
    }
    for line in &drawing.lines {
        let sample = format!("<line x1=\"10\" y1=\"{y}\" x2=\"23\" y2=\"{y}\" {}/>\n", stroke(line.stroke), y = n(at));
        at = entry(body, at, sample, &line.label);
    }
    for (row, mark) in drawing.marks.iter().enumerate() {
        let mut sample = String::new();
        numbered(&mut sample, 16.5, at, row + 1);
        at = entry(body, at, sample, &mark.label);
    }
    for upright in &drawing.uprights {
        let sample = format!(
            "<line x1=\"16.5\" y1=\"{}\" x2=\"16.5\" y2=\"{}\" stroke-width=\"0.3\" stroke-dasharray=\"0.4 0.9\"/>\n",
            n(at - 2.0),
            n(at + 2.0)
        );
        at = entry(body, at, sample, &upright.label);
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Decades stand evenly: 1 A to 1 kA over 158 mm, and a point in the middle of its decade by logarithm.
    #[test]
    fn scales_are_logarithmic() {
        let axes = Axes { x: (0.0, 3.0), y: (-2.0, 3.0), top: 10.0 };
        assert!((axes.x(10.0) - (LEFT + PLOT.0 / 3.0)).abs() < 1e-9);
        assert!((axes.x(10_f64.powf(1.5)) - (LEFT + PLOT.0 / 2.0)).abs() < 1e-9);
        assert!((axes.y(10.0) - (10.0 + PLOT.1 * 0.4)).abs() < 1e-9);
        assert_eq!(
            [ticks(-4, "s"), ticks(-1, "s"), ticks(0, "A"), ticks(3, "A"), ticks(3, "s")],
            ["100 µs", "100 ms", "1 A", "1 kA", "1000 s"]
        );
    }

    /// Bands are hatched and nothing is coloured; what is outside the plot is left out; each thing has a line of the legend.
    #[test]
    fn reads_in_black_and_white() {
        let area = |factor: f64, label: &str| Area {
            shortest: vec![(10.0, 0.4 * factor), (50.0, 0.02 * factor)],
            longest: vec![(10.0, 2.5 * factor), (50.0, 0.12 * factor)],
            holds: Some(5.75),
            opens: Some(6.9),
            label: label.to_owned(),
        };
        let drawing = Drawing {
            title: "breaker <A> & \"B\"".to_owned(),
            areas: vec![area(1.0, "own band"), area(20.0, "upper band")],
            lines: vec![Line { points: vec![(10.0, 11.0), (50.0, 0.44), (1e9, 1.0)], stroke: Stroke::Dashed, label: "wire".to_owned() }],
            marks: vec![Mark { points: vec![(8.0, 0.1)], label: "start of radio".to_owned() }],
            uprights: vec![Upright { at: 45.0, label: "largest fault".to_owned() }],
            foot: "the maker governs".to_owned(),
            ..Drawing::default()
        };
        let svg = draw(&drawing);
        assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n") && !svg.contains("NaN") && !svg.contains("inf"));
        for label in [
            "own band",
            "upper band",
            "wire",
            "start of radio",
            "largest fault",
            "the maker governs",
            "breaker &lt;A&gt; &amp; &quot;B&quot;",
        ] {
            assert!(svg.contains(label), "{label}");
        }
        assert_eq!((svg.matches("url(#own)").count(), svg.matches("url(#above)").count()), (2, 2), "drawn and in the legend");
        let colours: Vec<&str> =
            svg.split('#').skip(1).filter_map(|rest| rest.get(..6)).filter(|c| c.chars().all(|c| c.is_ascii_hexdigit())).collect();
        assert!(colours.iter().all(|colour| *colour == "777777"), "grey is the only colour: {colours:?}");
        let dashed = svg.lines().find(|line| line.contains("polyline") && line.contains("3 1.2")).expect("the wire's line");
        assert_eq!(dashed.matches(',').count(), 2, "the point outside is left out: {dashed}");
        // Nothing at all is drawn too.
        assert!(draw(&Drawing::default()).contains("current, A"));
    }
}
