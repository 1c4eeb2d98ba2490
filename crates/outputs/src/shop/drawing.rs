//! A drawing in millimetres as plain shapes on named layers, and how it is written: SVG for eyes, DXF for the board.

use crate::section_drawing::escaped;
use core::fmt::Write;

/// A drawing; x to the right, y upwards, millimetres of paper, the lower left corner at zero.
#[derive(Clone, Debug, Default)]
pub struct Drawing {
    /// What it is.
    pub title: String,
    /// Size.
    pub size: (f64, f64),
    /// What is drawn, in order.
    pub shapes: Vec<Shape>,
}

/// A point.
pub(crate) type Point = (f64, f64);

/// What is drawn, with the layer it lies on and what it stands for.
#[derive(Clone, Debug)]
pub struct Shape {
    /// Layer: letters, digits and hyphens.
    pub layer: &'static str,
    /// `segment:S12`; empty if it stands for nothing.
    pub of: String,
    /// Its form.
    pub form: Form,
}

/// Form of a [`Shape`].
#[derive(Clone, Debug)]
pub enum Form {
    /// A straight line, with its width.
    Line(Point, Point, f64),
    /// A circle by middle and radius.
    Circle(Point, f64),
    /// A rectangle by its lower left and upper right corner.
    Rectangle(Point, Point),
    /// A text on a base line that begins here, with the height of its capitals.
    Text(Point, f64, String),
}

/// Least height of capitals.
pub(crate) const CAPITAL: f64 = 2.5;
/// Width of a letter as a share of the height of capitals: a fixed pitch, so that a text's box follows from its length. DejaVu Sans Mono has 0.602 of an
/// em for each letter and 0.729 of an em for capitals (its own tables); fixed-pitch fonts of plotters go up to the height itself.
const ADVANCE: f64 = 1.0;
const EM: f64 = 1.0 / 0.729;
/// Distance of lines, in heights of capitals.
pub(crate) const LEADING: f64 = 1.7;

/// Width that a text may take.
pub(crate) fn text_width(text: &str, capital: f64) -> f64 {
    text.chars().count() as f64 * ADVANCE * capital
}

impl Drawing {
    pub(crate) fn line(&mut self, layer: &'static str, of: &str, a: Point, b: Point, width: f64) {
        self.shapes.push(Shape { layer, of: of.to_owned(), form: Form::Line(a, b, width) });
    }
    pub(crate) fn circle(&mut self, layer: &'static str, of: &str, middle: Point, radius: f64) {
        self.shapes.push(Shape { layer, of: of.to_owned(), form: Form::Circle(middle, radius) });
    }
    pub(crate) fn rectangle(&mut self, layer: &'static str, of: &str, low: Point, high: Point) {
        self.shapes.push(Shape { layer, of: of.to_owned(), form: Form::Rectangle(low, high) });
    }
    /// Texts are single lines: what else a name may hold becomes a blank.
    pub(crate) fn text(&mut self, layer: &'static str, of: &str, at: Point, capital: f64, text: &str) {
        let text = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        self.shapes.push(Shape { layer, of: of.to_owned(), form: Form::Text(at, capital, text) });
    }

    /// The drawing moved so that its shapes begin at a margin, and as large as they need.
    pub(crate) fn fitted(mut self, margin: f64) -> Drawing {
        let (mut low, mut high) = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        for shape in &self.shapes {
            let (a, b) = shape.form.bounds();
            low = (low.0.min(a.0), low.1.min(a.1));
            high = (high.0.max(b.0), high.1.max(b.1));
        }
        if !low.0.is_finite() {
            return self;
        }
        let by = (margin - low.0, margin - low.1);
        self.shapes.iter_mut().for_each(|shape| shape.form.shift(by));
        self.size = (high.0 - low.0 + 2.0 * margin, high.1 - low.1 + 2.0 * margin);
        self
    }

    /// As SVG in true millimetres: each layer a group, each shape with what it stands for.
    pub(crate) fn svg(&self) -> String {
        let (w, h) = self.size;
        let mut body = String::new();
        let mut layers: Vec<&'static str> = Vec::new();
        self.shapes.iter().for_each(|shape| {
            if !layers.contains(&shape.layer) {
                layers.push(shape.layer);
            }
        });
        for layer in layers {
            let _ = writeln!(body, "<g id=\"{layer}\">");
            for shape in self.shapes.iter().filter(|shape| shape.layer == layer) {
                let of = if shape.of.is_empty() { String::new() } else { format!(" data-of=\"{}\"", escaped(&shape.of)) };
                let y = |y: f64| n(h - y);
                let _ = match &shape.form {
                    Form::Line(a, b, width) => writeln!(
                        body,
                        "<line{of} x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke-width=\"{}\"/>",
                        n(a.0),
                        y(a.1),
                        n(b.0),
                        y(b.1),
                        n(*width)
                    ),
                    Form::Circle(middle, radius) => {
                        writeln!(
                            body,
                            "<circle{of} cx=\"{}\" cy=\"{}\" r=\"{}\" stroke-width=\"0.25\"/>",
                            n(middle.0),
                            y(middle.1),
                            n(*radius)
                        )
                    }
                    Form::Rectangle(low, high) => writeln!(
                        body,
                        "<rect{of} x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" stroke-width=\"0.25\"/>",
                        n(low.0),
                        y(high.1),
                        n(high.0 - low.0),
                        n(high.1 - low.1)
                    ),
                    Form::Text(at, capital, text) => writeln!(
                        body,
                        "<text{of} x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"black\" stroke=\"none\" xml:space=\"preserve\">{}</text>",
                        n(at.0),
                        y(at.1),
                        n(capital * EM),
                        escaped(text)
                    ),
                };
            }
            body.push_str("</g>\n");
        }
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
             font-family=\"'DejaVu Sans Mono', 'Liberation Mono', monospace\" stroke=\"black\" fill=\"none\">\n<title>{}</title>\n\
             <rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"white\" stroke=\"none\"/>\n{body}</svg>\n",
            escaped(&self.title),
            w = n(w),
            h = n(h),
        )
    }

    /// As DXF of release 12, the oldest that every plotter and cutter reads: millimetres, layers by name, what a line stands for as its extended data.
    pub(crate) fn dxf(&self) -> String {
        let mut out = String::new();
        let mut pair = |code: i32, value: &str| {
            let _ = write!(out, "{code:>3}\n{value}\n");
        };
        let mut layers: Vec<&'static str> = self.shapes.iter().map(|shape| shape.layer).collect();
        layers.sort_unstable();
        layers.dedup();
        for (code, value) in
            [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"), (9, "$INSUNITS"), (70, "4"), (9, "$MEASUREMENT"), (70, "1")]
        {
            pair(code, value);
        }
        for (name, (x, y)) in [("$EXTMIN", (0.0, 0.0)), ("$EXTMAX", self.size)] {
            pair(9, name);
            pair(10, &d(x));
            pair(20, &d(y));
        }
        for (code, value) in
            [(0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LTYPE"), (70, "1"), (0, "LTYPE"), (2, "CONTINUOUS")]
        {
            pair(code, value);
        }
        for (code, value) in [(70, "0"), (3, "Solid line"), (72, "65"), (73, "0"), (40, "0.0"), (0, "ENDTAB"), (0, "TABLE"), (2, "LAYER")] {
            pair(code, value);
        }
        pair(70, &layers.len().to_string());
        for layer in &layers {
            for (code, value) in [(0, "LAYER"), (2, layer), (70, "0"), (62, "7"), (6, "CONTINUOUS")] {
                pair(code, value);
            }
        }
        for (code, value) in
            [(0, "ENDTAB"), (0, "TABLE"), (2, "STYLE"), (70, "1"), (0, "STYLE"), (2, "STANDARD"), (70, "0"), (40, "0.0"), (41, "1.0")]
        {
            pair(code, value);
        }
        for (code, value) in
            [(50, "0.0"), (71, "0"), (42, "2.5"), (3, "monotxt"), (4, ""), (0, "ENDTAB"), (0, "TABLE"), (2, "APPID"), (70, "1")]
        {
            pair(code, value);
        }
        for (code, value) in [(0, "APPID"), (2, APPLICATION), (70, "0"), (0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")] {
            pair(code, value);
        }
        for shape in &self.shapes {
            let mut entity = |kind: &str, numbers: &[(i32, f64)], text: Option<&str>| {
                pair(0, kind);
                pair(8, shape.layer);
                numbers.iter().for_each(|(code, value)| pair(*code, &d(*value)));
                if let Some(text) = text {
                    pair(1, &dxf_text(text));
                }
                if !shape.of.is_empty() {
                    pair(1001, APPLICATION);
                    pair(1000, &dxf_text(&shape.of));
                }
            };
            match &shape.form {
                Form::Line(a, b, _) => entity("LINE", &[(10, a.0), (20, a.1), (30, 0.0), (11, b.0), (21, b.1), (31, 0.0)], None),
                Form::Circle(middle, radius) => entity("CIRCLE", &[(10, middle.0), (20, middle.1), (30, 0.0), (40, *radius)], None),
                Form::Rectangle(low, high) => {
                    let corners = [*low, (high.0, low.1), *high, (low.0, high.1)];
                    for k in 0..4 {
                        let (a, b) = (corners[k], corners[(k + 1) % 4]);
                        entity("LINE", &[(10, a.0), (20, a.1), (30, 0.0), (11, b.0), (21, b.1), (31, 0.0)], None);
                    }
                }
                Form::Text(at, capital, text) => entity("TEXT", &[(10, at.0), (20, at.1), (30, 0.0), (40, *capital)], Some(text)),
            }
        }
        pair(0, "ENDSEC");
        pair(0, "EOF");
        out
    }
}

/// Whose extended data says what a line stands for.
pub(crate) const APPLICATION: &str = "LOOMWRIGHT";

impl Form {
    /// Lower left and upper right corner of what it covers.
    pub(crate) fn bounds(&self) -> (Point, Point) {
        match self {
            Form::Line(a, b, width) => {
                let w = 0.5 * width;
                ((a.0.min(b.0) - w, a.1.min(b.1) - w), (a.0.max(b.0) + w, a.1.max(b.1) + w))
            }
            Form::Circle(m, r) => ((m.0 - r, m.1 - r), (m.0 + r, m.1 + r)),
            Form::Rectangle(low, high) => (*low, *high),
            // Below the base line letters hang by a quarter of the capitals.
            Form::Text(at, capital, text) => ((at.0, at.1 - 0.3 * capital), (at.0 + text_width(text, *capital), at.1 + capital)),
        }
    }

    pub(crate) fn shift(&mut self, by: Point) {
        let shift = |p: &mut Point| *p = (p.0 + by.0, p.1 + by.1);
        match self {
            Form::Line(a, b, _) | Form::Rectangle(a, b) => {
                shift(a);
                shift(b);
            }
            Form::Circle(at, _) | Form::Text(at, ..) => shift(at),
        }
    }
}

/// Texts of release 12 are ASCII: other letters by their number; two per cent signs begin a code there.
fn dxf_text(text: &str) -> String {
    let mut out = String::new();
    for c in text.replace("%%", "%%%%%%").chars() {
        match c {
            ' '..='~' => out.push(c),
            c if c.is_control() => out.push(' '),
            c if (c as u32) < 0x1_0000 => {
                let _ = write!(out, "\\U+{:04X}", c as u32);
            }
            _ => out.push('?'),
        }
    }
    out
}

/// Hundredths of a millimetre; for DXF ten-thousandths, so that a length is good to a thousandth.
pub(crate) fn n(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn d(value: f64) -> String {
    format!("{value:.4}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_survive() {
        assert_eq!(dxf_text("a µ 導 100 % %%d"), "a \\U+00B5 \\U+5C0E 100 % %%%%%%d");
        assert_eq!(escaped("<a & \"b\">\n"), "&lt;a &amp; &quot;b&quot;&gt; ");
        assert_eq!((n(1.0), n(0.12345), n(-0.0001)), ("1".into(), "0.123".into(), "0".into()));
    }
}
