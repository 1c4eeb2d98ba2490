//! A bundle's cross-section as a drawing (SVG): numbers in circles, a legend, a scale. Line and hatching alone tell things apart, so that it
//! reads in greyscale and in print. Sizes are in millimetres of paper.

use crate::number;
use core::fmt::Write;

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Section {
    /// First line: `segment S12`.
    pub title: String,
    /// Lines under the title.
    pub remarks: Vec<String>,
    /// Wires and cables; the number of each is its place in the list, from 1.
    pub circles: Vec<Circle>,
    /// Outside diameters, from the bundle itself outwards, each with what lies there: `bundle`, `sleeve SL1`.
    pub rings: Vec<(f64, String)>,
    /// Heads of the legend behind the number.
    pub heads: Vec<&'static str>,
}

/// One wire or cable. Lengths are in metres, from the middle of the bundle, y upwards.
#[derive(Clone, Debug)]
pub struct Circle {
    /// Middle.
    pub x: f64,
    /// Middle.
    pub y: f64,
    /// Outside diameter.
    pub diameter: f64,
    /// Whether it is a cable: its line is doubled.
    pub is_cable: bool,
    /// Cells of the legend behind the number.
    pub cells: Vec<String>,
    /// Shade from 0, the lightest, to 1.
    pub shade: Option<f64>,
}

/// Width of the page, unless the section needs more: that of an A4 sheet between margins of 10 mm.
const PAGE: f64 = 190.0;
/// Largest drawing on such a page.
const ROOM: f64 = 150.0;
/// Least diameter on paper of a circle that has to hold its number.
const LEAST: f64 = 4.5;
/// Scales that a ruler can be laid to.
const SCALES: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
/// Height of a line of the legend, and of its letters.
pub(crate) const LINE: f64 = 4.2;
pub(crate) const LETTER: f64 = 2.8;
/// Width of a figure, and of a letter of a word, as a share of their height: widths of a usual sans-serif, on the wide side.
const FIGURE: f64 = 0.6;
const ADVANCE: f64 = 0.68;

/// The drawing.
pub fn draw(section: &Section) -> String {
    let outline = section.rings.iter().map(|(diameter, _)| *diameter).fold(0.0, f64::max);
    let scale = scale(section, outline);
    let mm = 1e3 * scale;
    let across = outline * mm;
    let (columns, widths) = columns(section);
    let legend_width = columns as f64 * (widths.iter().sum::<f64>() + GAP);
    let width = PAGE.max(across + 40.0).max(legend_width + 20.0);
    let mut body = String::new();
    let mut y = 12.0;
    text(&mut body, 10.0, y, 5.0, "font-weight=\"bold\"", &section.title);
    for remark in &section.remarks {
        y += LINE;
        text(&mut body, 10.0, y, LETTER, "", remark);
    }
    y += 6.0;
    let (middle_x, middle_y) = (0.5 * width, y + 0.5 * across);
    rings(&mut body, section, (middle_x, middle_y), mm);
    for (at, circle) in section.circles.iter().enumerate() {
        let (x, y, r) = (middle_x + circle.x * mm, middle_y - circle.y * mm, 0.5 * circle.diameter * mm);
        let line = if circle.is_cable { 0.6 } else { 0.3 };
        let _ = writeln!(
            body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke-width=\"{line}\"/>",
            n(x),
            n(y),
            n(r - 0.5 * line),
            fill(circle.shade)
        );
        if circle.is_cable {
            let _ = writeln!(
                body,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"none\" stroke-width=\"0.2\"/>",
                n(x),
                n(y),
                n((r - 1.2).max(0.6 * r))
            );
        }
        let figures = (at + 1).to_string();
        let height = (1.5 * r / (FIGURE * figures.len() as f64)).min(r).min(5.0);
        let at = (x, y + 0.36 * height);
        let _ = writeln!(
            body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"middle\" fill=\"black\" stroke=\"none\">{figures}</text>",
            n(at.0),
            n(at.1),
            n(height)
        );
    }
    y += across + 8.0;
    y = ruler(&mut body, y, scale);
    y = legend(&mut body, section, y, columns, &widths);
    let height = y + 8.0;
    let described = escaped(&section.title);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
         font-family=\"'DejaVu Sans', 'Liberation Sans', Arial, sans-serif\" stroke=\"black\" fill=\"none\">\n<title>{described}</title>\n\
         <rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"white\" stroke=\"none\"/>\n{body}</svg>\n",
        w = n(width),
        h = n(height),
    )
}

/// From a pale yellow to a strong orange. The lightness falls all the way, so that greyscale keeps the order, and black figures stay legible on the
/// darkest.
fn fill(shade: Option<f64>) -> String {
    let Some(shade) = shade.map(|shade| shade.clamp(0.0, 1.0)) else { return "white".to_owned() };
    let [r, g, b] = [(255.0, 224.0), (249.0, 112.0), (224.0, 40.0)].map(|(light, dark)| light + (dark - light) * shade);
    format!("#{:02x}{:02x}{:02x}", r.round() as u8, g.round() as u8, b.round() as u8)
}

/// The largest scale at which the drawing keeps to the page; a larger one where numbers would not fit into their circles.
fn scale(section: &Section, outline: f64) -> f64 {
    let fits = SCALES.iter().copied().filter(|scale| outline * 1e3 * scale <= ROOM).fold(SCALES[0], f64::max);
    let thinnest = section.circles.iter().map(|circle| circle.diameter).fold(f64::INFINITY, f64::min);
    let legible = SCALES.iter().copied().find(|scale| thinnest * 1e3 * scale >= LEAST).unwrap_or(SCALES[0]);
    // A page may grow, but not to a wall.
    let bound = SCALES.iter().copied().filter(|scale| outline * 1e3 * scale <= 4.0 * PAGE).fold(SCALES[0], f64::max);
    fits.max(legible.min(bound))
}

/// The coverings as rings, from the outside in: each leaves what lies under it white. Hatching tells one from the next.
fn rings(body: &mut String, section: &Section, (x, y): (f64, f64), mm: f64) {
    body.push_str(
        "<defs><pattern id=\"hatch\" width=\"1.2\" height=\"1.2\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
         <line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"1.2\" stroke-width=\"0.25\"/></pattern>\
         <pattern id=\"dots\" width=\"1\" height=\"1\" patternUnits=\"userSpaceOnUse\">\
         <circle cx=\"0.5\" cy=\"0.5\" r=\"0.2\" fill=\"black\" stroke=\"none\"/></pattern></defs>\n",
    );
    for (at, (diameter, _)) in section.rings.iter().enumerate().rev() {
        let (fill, dash) = match at {
            0 => ("white", " stroke-dasharray=\"1.5 1\""),
            n if n % 2 == 1 => ("url(#hatch)", ""),
            _ => ("url(#dots)", ""),
        };
        let r = n(0.5 * diameter * mm);
        if at > 0 {
            let _ = writeln!(body, "<circle cx=\"{}\" cy=\"{}\" r=\"{r}\" fill=\"white\" stroke=\"none\"/>", n(x), n(y));
        }
        let _ = writeln!(body, "<circle cx=\"{}\" cy=\"{}\" r=\"{r}\" fill=\"{fill}\" stroke-width=\"0.25\"{dash}/>", n(x), n(y));
    }
}

/// A ruler at the drawing's scale.
fn ruler(body: &mut String, y: f64, scale: f64) -> f64 {
    let step = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0].into_iter().rfind(|step| step * scale * 5.0 <= 80.0).unwrap_or(0.1);
    for part in 0..5 {
        let fill = if part % 2 == 0 { "black" } else { "white" };
        let _ = writeln!(
            body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"1.4\" fill=\"{fill}\" stroke-width=\"0.2\"/>",
            n(10.0 + f64::from(part) * step * scale),
            n(y),
            n(step * scale)
        );
    }
    let words = format!("{} mm, scale {}:1", number::plain(5.0 * step), number::plain(scale));
    text(body, 13.0 + 5.0 * step * scale, y + 1.6, LETTER, "", &words);
    y + 7.0
}

/// Space between two columns of the legend.
const GAP: f64 = 5.0;

/// How many columns the legend has, and how wide each of its cells is.
fn columns(section: &Section) -> (usize, Vec<f64>) {
    let wide = |text: &str| ADVANCE * LETTER * text.chars().count() as f64 + 1.5;
    let mut widths = vec![wide("no.").max(wide(&section.circles.len().to_string()))];
    for (at, head) in section.heads.iter().enumerate() {
        let cells = section.circles.iter().filter_map(|circle| circle.cells.get(at));
        widths.push(cells.map(|cell| wide(cell)).fold(wide(head), f64::max));
    }
    let one = widths.iter().sum::<f64>() + GAP;
    let fit = ((PAGE - 20.0 + GAP) / one).floor().max(1.0) as usize;
    (fit.min(section.circles.len().div_ceil(8).max(1)), widths)
}

fn legend(body: &mut String, section: &Section, y: f64, columns: usize, widths: &[f64]) -> f64 {
    let mut y = y;
    for (at, (diameter, what)) in section.rings.iter().enumerate() {
        let mark = if at == 0 {
            "dashed line"
        } else if at % 2 == 1 {
            "hatched"
        } else {
            "dotted"
        };
        text(body, 10.0, y, LETTER, "", &format!("{mark}: {what}, {} mm outside", number::plain(diameter * 1e3)));
        y += LINE;
    }
    y += 2.0;
    let rows = section.circles.len().div_ceil(columns);
    let one = widths.iter().sum::<f64>() + GAP;
    for column in 0..columns.min(section.circles.len().max(1)) {
        let left = 10.0 + column as f64 * one;
        let mut x = left;
        for (head, wide) in core::iter::once(&"no.").chain(&section.heads).zip(widths) {
            text(body, x, y, LETTER, "font-weight=\"bold\"", head);
            x += wide;
        }
        let _ = writeln!(
            body,
            "<line x1=\"{}\" y1=\"{y2}\" x2=\"{}\" y2=\"{y2}\" stroke-width=\"0.2\"/>",
            n(left),
            n(left + one - GAP),
            y2 = n(y + 1.3)
        );
        for (row, circle) in section.circles.iter().enumerate().skip(column * rows).take(rows) {
            let y = y + (1.0 + (row - column * rows) as f64) * LINE + 0.8;
            let mut x = left;
            let number = (row + 1).to_string();
            for (cell, wide) in core::iter::once(&number).chain(&circle.cells).zip(widths) {
                text(body, x, y, LETTER, "", cell);
                x += wide;
            }
        }
    }
    y + (rows as f64 + 1.0) * LINE
}

pub(crate) fn text(body: &mut String, x: f64, y: f64, size: f64, style: &str, words: &str) {
    let style = if style.is_empty() { String::new() } else { format!(" {style}") };
    let _ = writeln!(
        body,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{style} fill=\"black\" stroke=\"none\">{}</text>",
        n(x),
        n(y),
        n(size),
        escaped(words)
    );
}

/// A number of millimetres of paper, to a hundredth.
pub(crate) fn n(value: f64) -> String {
    let text = number::fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Text between tags. Control characters have no place in the format: a space stands for line ends and tabs, the others are left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() && c.is_whitespace() => out.push(' '),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn section(diameters: &[f64]) -> Section {
        let metres: Vec<physics::Metre> = diameters.iter().map(|d| physics::Metre(d * 1e-3)).collect();
        let packed = physics::packing::pack(&metres).expect("positive diameters");
        let circles = metres.iter().zip(&packed.places).enumerate().map(|(at, (d, place))| Circle {
            x: place.x.0,
            y: place.y.0,
            diameter: d.0,
            is_cable: d.0 > 2.5e-3,
            cells: vec![
                format!("W{}<&>", at + 1),
                "M22759/44".to_owned(),
                "20 AWG".to_owned(),
                format!("{} mm", d.0 * 1e3),
                "heater A".to_owned(),
            ],
            shade: None,
        });
        Section {
            title: "segment S12".to_owned(),
            remarks: vec!["from B1 to B2".to_owned()],
            circles: circles.collect(),
            rings: vec![
                (packed.outline.0, "wires as packed".to_owned()),
                (packed.outline.0 + 0.5e-3, "braid BR1".to_owned()),
                (packed.outline.0 + 1.5e-3, "sleeve SL1".to_owned()),
            ],
            heads: vec!["wire", "type", "gauge", "outside", "circuit"],
        }
    }

    /// Values of an attribute of the elements that begin so.
    fn values(svg: &str, element: &str, attribute: &str) -> Vec<f64> {
        let of = |line: &str| line.split(&format!(" {attribute}=\"")).nth(1)?.split('"').next()?.parse().ok();
        svg.lines().filter(|line| line.starts_with(element)).filter_map(of).collect()
    }

    /// Three wires of 2 mm: the outline of 2 + 4/√3 = 4.309 mm is drawn twentyfold in the page's 150 mm, so 86.2 mm across; each circle
    /// stands where the packing has it.
    #[test]
    fn circles_stand_where_they_are_packed() {
        let it = section(&[2.0, 2.0, 2.0]);
        let svg = draw(&it);
        assert!(svg.contains("scale 20:1"), "{svg}");
        let outline = values(&svg, "<circle", "r").into_iter().find(|r| (r - 43.09).abs() < 0.01);
        assert!(outline.is_some(), "{svg}");
        let (x, y) = (values(&svg, "<circle", "cx"), values(&svg, "<circle", "cy"));
        for circle in &it.circles {
            let here = (0..x.len()).any(|at| (x[at] - 95.0 - circle.x * 2e4).abs() < 0.02 && (y[at] - y[0] + circle.y * 2e4).abs() < 0.02);
            assert!(here, "{circle:?}");
        }
    }

    #[test]
    fn every_number_stands_in_a_circle_and_in_the_legend() {
        let mix: Vec<f64> = (0..150).map(|i| [0.94, 1.09, 0.79, 2.18, 4.9, 1.27][i % 6]).collect();
        let svg = draw(&section(&mix));
        for number in 1..=150 {
            assert_eq!(svg.matches(&format!(">{number}</text>")).count(), 2, "{number}");
        }
        // The figures of the thinnest circles can be read: at least a millimetre and a half high.
        let least = values(&svg, "<text", "font-size").into_iter().fold(f64::INFINITY, f64::min);
        assert!(least >= 1.5, "{least}");
    }

    #[test]
    fn names_cannot_break_the_drawing() {
        let svg = draw(&section(&[1.0, 1.0]));
        assert!(svg.contains("W1&lt;&amp;&gt;") && !svg.contains("<&>"), "{svg}");
        assert_eq!(escaped("a\u{1}\"b"), "a&quot;b");
    }

    #[test]
    fn no_colour_is_needed() {
        let svg = draw(&section(&[1.0, 2.0, 3.0]));
        let fills = svg.split("fill=\"").skip(1).filter_map(|rest| rest.split('"').next());
        let known = ["white", "black", "none", "url(#hatch)", "url(#dots)"];
        assert!(fills.into_iter().all(|fill| known.contains(&fill)));
        let strokes = svg.split("stroke=\"").skip(1).filter_map(|rest| rest.split('"').next());
        assert!(strokes.into_iter().all(|stroke| known.contains(&stroke)));
    }

    /// Relative luminance of WCAG 2 (from memory): it falls from shade to shade, and black figures have a contrast of 4.5 : 1 and more on all of them.
    #[test]
    fn shades_keep_their_order_in_greyscale() {
        let luminance = |shade: f64| {
            let colour = fill(Some(shade));
            let part = |at: usize| {
                let share = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).expect("hexadecimal")) / 255.0;
                if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
        };
        let shades: Vec<f64> = (0..=10).map(|at| luminance(f64::from(at) / 10.0)).collect();
        assert!(shades.windows(2).all(|pair| pair[1] < pair[0] - 0.02), "{shades:?}");
        assert!(shades.iter().all(|shade| (shade + 0.05) / 0.05 >= 4.5), "{shades:?}");
        assert_eq!((fill(None), fill(Some(-1.0)), fill(Some(2.0))), ("white".to_owned(), fill(Some(0.0)), fill(Some(1.0))));
        let mut warm = section(&[1.0, 2.0]);
        warm.circles[1].shade = Some(1.0);
        assert!(draw(&warm).contains(&format!("fill=\"{}\"", fill(Some(1.0)))));
    }

    #[test]
    fn an_empty_section_is_a_drawing() {
        let svg = draw(&Section { circles: Vec::new(), rings: vec![(0.0, "nothing".to_owned())], ..section(&[1.0]) });
        assert!(svg.ends_with("</svg>\n") && !svg.contains("NaN") && !svg.contains("inf"));
    }
}
