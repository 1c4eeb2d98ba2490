//! The formboard, read back from the files by readers of its own: nothing lies on anything else, and every length is the model's.

use crate::shop::{documents, gannet, with_view};
use model::*;
use outputs::View;
use std::collections::BTreeMap;

pub(crate) type Point = (f64, f64);

/// A shape of an SVG as the tests read it; y is turned upwards.
#[derive(Clone, Debug)]
pub(crate) struct Read {
    pub(crate) layer: String,
    pub(crate) of: String,
    pub(crate) kind: String,
    pub(crate) a: Point,
    pub(crate) b: Point,
    pub(crate) text: String,
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let at = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    Some(tag[at..at + tag[at..].find('"')?].to_owned())
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("no {name} in {tag}"))
}

fn unescaped(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

/// Shapes in layers, and the size of the page.
pub(crate) fn read_svg(text: &str) -> (Vec<Read>, Point) {
    let root = &text[..text.find('>').expect("a root")];
    let size = |name| attribute(root, name).expect("a size").strip_suffix("mm").expect("in millimetres").parse::<f64>().expect("a number");
    let (w, h) = (size("width"), size("height"));
    assert_eq!(
        attribute(root, "viewBox").expect("a view box"),
        format!(
            "0 0 {} {}",
            attribute(root, "width").expect("w").trim_end_matches("mm"),
            attribute(root, "height").expect("h").trim_end_matches("mm")
        )
    );
    let (mut shapes, mut layer) = (Vec::new(), String::new());
    for line in text.lines() {
        if let Some(id) = line.strip_prefix("<g id=\"") {
            layer = id.split('"').next().expect("an id").to_owned();
        }
        let kind = line.trim_start_matches('<').split([' ', '>']).next().expect("a word").to_owned();
        if layer.is_empty() || !["line", "circle", "rect", "text"].contains(&kind.as_str()) {
            continue;
        }
        let of = unescaped(&attribute(line, "data-of").unwrap_or_default());
        let up = |y: f64| h - y;
        let mut words = String::new();
        let (a, b) = match kind.as_str() {
            "line" => ((number(line, "x1"), up(number(line, "y1"))), (number(line, "x2"), up(number(line, "y2")))),
            "circle" => {
                let (x, y, r) = (number(line, "cx"), up(number(line, "cy")), number(line, "r"));
                ((x - r, y - r), (x + r, y + r))
            }
            "rect" => {
                let (x, y) = (number(line, "x"), up(number(line, "y")));
                ((x, y - number(line, "height")), (x + number(line, "width"), y))
            }
            _ => {
                // DejaVu Sans Mono: 0.602 em a letter, capitals of 0.729 em, 0.236 em below the base line (tables of the font).
                let (x, y, em) = (number(line, "x"), up(number(line, "y")), number(line, "font-size"));
                assert!(em * 0.729 >= 2.5 - 2e-3, "letters of {} mm: {line}", em * 0.729);
                words = unescaped(&line[line.find('>').expect("a tag") + 1..line.rfind("</text>").expect("its end")]);
                ((x, y - 0.236 * em), (x + 0.602 * em * words.chars().count() as f64, y + 0.729 * em))
            }
        };
        shapes.push(Read { layer: layer.clone(), of, kind, a, b, text: words });
    }
    (shapes, (w, h))
}

pub(crate) fn boxes_meet(a: &Read, b: &Read) -> bool {
    const LEAST: f64 = 1e-3;
    a.a.0 < b.b.0 - LEAST && b.a.0 < a.b.0 - LEAST && a.a.1 < b.b.1 - LEAST && b.a.1 < a.b.1 - LEAST
}

pub(crate) fn side(p: Point, q: Point, r: Point) -> f64 {
    (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0)
}

pub(crate) fn apart(p: Point, q: Point) -> f64 {
    (p.0 - q.0).hypot(p.1 - q.1)
}

/// Whether two lines meet anywhere but at an end that they share.
fn lines_meet(a: &Read, b: &Read) -> bool {
    let ends = [(a.a, b.a), (a.a, b.b), (a.b, b.a), (a.b, b.b)];
    if ends.iter().any(|(p, q)| apart(*p, *q) < 0.01) {
        // Of one breakout: they meet elsewhere only if they lie on each other.
        let (p, q) = if apart(a.a, b.a) < 0.01 || apart(a.a, b.b) < 0.01 { (a.a, a.b) } else { (a.b, a.a) };
        let r = if apart(b.a, p) < 0.01 { b.b } else { b.a };
        let along = (q.0 - p.0) * (r.0 - p.0) + (q.1 - p.1) * (r.1 - p.1);
        return along > 0.0 && side(p, q, r).abs() / (apart(p, q) * apart(p, r)) < 1e-6;
    }
    let length = apart(a.a, a.b);
    let (near, far) = (side(a.a, a.b, b.a) / length, side(a.a, a.b, b.b) / length);
    if near.abs() < 1e-6 && far.abs() < 1e-6 {
        // On one straight line: they meet where their stretches do.
        let along = |p: Point| ((p.0 - a.a.0) * (a.b.0 - a.a.0) + (p.1 - a.a.1) * (a.b.1 - a.a.1)) / length;
        let (from, to) = (along(b.a).min(along(b.b)), along(b.a).max(along(b.b)));
        return from <= length && to >= 0.0;
    }
    near * far <= 0.0 && side(b.a, b.b, a.a) * side(b.a, b.b, a.b) <= 0.0
}

/// Whether a line passes through a box.
pub(crate) fn line_in_box(line: &Read, of: &Read) -> bool {
    let inside = |p: Point| p.0 > of.a.0 && p.0 < of.b.0 && p.1 > of.a.1 && p.1 < of.b.1;
    let corners = [of.a, (of.b.0, of.a.1), of.b, (of.a.0, of.b.1)];
    let crosses = (0..4).any(|k| {
        let (p, q) = (corners[k], corners[(k + 1) % 4]);
        side(line.a, line.b, p) * side(line.a, line.b, q) < 0.0 && side(p, q, line.a) * side(p, q, line.b) < 0.0
    });
    inside(line.a) || inside(line.b) || crosses
}

/// What overlaps what, counted by kind.
fn overlaps(shapes: &[Read]) -> BTreeMap<&'static str, usize> {
    let of = |layer: &str| -> Vec<&Read> { shapes.iter().filter(|shape| shape.layer == layer).collect() };
    let (segments, callouts, labels, outlines) = (of("SEGMENTS"), of("CALLOUTS"), of("LABELS"), of("CONNECTORS"));
    let texts = of("CALLOUT-TEXT");
    let pairs = |list: &[&Read], meet: fn(&Read, &Read) -> bool| {
        (0..list.len()).map(|k| list[k + 1..].iter().filter(|other| meet(list[k], other)).count()).sum::<usize>()
    };
    let boxes: Vec<&Read> = callouts.iter().chain(&labels).copied().collect();
    let circles = |a: &Read, b: &Read| {
        let of = |c: &Read| ((0.5 * (c.a.0 + c.b.0), 0.5 * (c.a.1 + c.b.1)), 0.5 * (c.b.0 - c.a.0));
        apart(of(a).0, of(b).0) < of(a).1 + of(b).1 - 1e-3
    };
    BTreeMap::from([
        ("segments", pairs(&segments, lines_meet)),
        ("labels and callouts", pairs(&boxes, boxes_meet)),
        ("outlines", pairs(&outlines, circles)),
        ("texts of callouts", pairs(&texts, boxes_meet)),
        ("segments through labels and callouts", segments.iter().map(|line| boxes.iter().filter(|of| line_in_box(line, of)).count()).sum()),
        ("outlines on labels", outlines.iter().map(|circle| labels.iter().chain(&texts).filter(|of| boxes_meet(circle, of)).count()).sum()),
        (
            "outlines outside of callouts",
            outlines
                .iter()
                .filter(|circle| {
                    !callouts.iter().any(|of| circle.a.0 >= of.a.0 && circle.b.0 <= of.b.0 && circle.a.1 >= of.a.1 && circle.b.1 <= of.b.1)
                })
                .count(),
        ),
    ])
}

fn boards(documents: &BTreeMap<String, Vec<u8>>, end: &str) -> Vec<(String, Vec<u8>)> {
    documents
        .iter()
        .filter(|(path, _)| path.starts_with("formboard/board-") && path.ends_with(end))
        .map(|(path, bytes)| (path.clone(), bytes.clone()))
        .collect()
}

pub(crate) fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

/// What hangs together, found by passing on the least number of a wire until nothing changes: wires on one half, on one splice, in one cable.
fn hanging_together(view: &View) -> BTreeMap<usize, Vec<Id<Wire>>> {
    let design = view.design;
    let joints = |wire: &Wire| -> Vec<String> {
        let of = |end: End| match end {
            End::Pin(pin) => Some(format!("half {}", design.pins[pin].connector.row())),
            End::Splice(splice) => Some(format!("splice {}", splice.row())),
            _ => None,
        };
        let cable = wire.cable.map(|cable| format!("cable {}", cable.value.row()));
        [of(wire.from.value), of(wire.to.value), cable].into_iter().flatten().collect()
    };
    let mut number: Vec<usize> = (0..design.wires.len()).collect();
    loop {
        let mut least: BTreeMap<String, usize> = BTreeMap::new();
        for (id, wire) in design.wires.iter() {
            for joint in joints(wire) {
                let known = least.entry(joint).or_insert(number[id.row()]);
                *known = (*known).min(number[id.row()]);
            }
        }
        let next: Vec<usize> = design
            .wires
            .iter()
            .map(|(id, wire)| {
                joints(wire).iter().map(|joint| least[joint]).min().map_or(number[id.row()], |least| least.min(number[id.row()]))
            })
            .collect();
        if next == number {
            break;
        }
        number = next;
    }
    let mut sets: BTreeMap<usize, Vec<Id<Wire>>> = BTreeMap::new();
    design.wires.ids().for_each(|wire| sets.entry(number[wire.row()]).or_default().push(wire));
    sets
}

/// Segments of each assembly whose wires have routes, with their lengths; sorted.
fn segments_of(view: &View) -> Vec<Vec<(String, f64)>> {
    let mut all = Vec::new();
    for wires in hanging_together(view).values() {
        let runs = wires.iter().filter_map(|wire| view.prepared.layout().run(*wire));
        let own: std::collections::BTreeSet<Id<Segment>> = runs.flat_map(|run| run.segments.iter().copied()).collect();
        let named = |id: &Id<Segment>| {
            let row = &view.design.segments[*id];
            (format!("segment:{}", row.name), row.length.value.0 * 1e3)
        };
        let mut own: Vec<(String, f64)> = own.iter().map(named).collect();
        own.sort_by(|a, b| a.0.cmp(&b.0));
        if !own.is_empty() {
            all.push(own);
        }
    }
    all.sort_by(|a, b| a.iter().map(|(name, _)| name).cmp(b.iter().map(|(name, _)| name)));
    all
}

/// Each board holds the segments of one assembly, each once and as long as the model has it.
fn holds_each_assembly_once(view: &View, drawn: &BTreeMap<String, BTreeMap<String, f64>>) {
    let mut boards: Vec<Vec<(String, f64)>> =
        drawn.values().map(|board| board.iter().map(|(name, length)| (name.clone(), *length)).collect()).collect();
    boards.sort_by(|a, b| a.iter().map(|(name, _)| name).cmp(b.iter().map(|(name, _)| name)));
    let expected = segments_of(view);
    assert!(expected.len() > 20 && expected.iter().map(Vec::len).sum::<usize>() > 150, "{} boards", expected.len());
    assert_eq!(boards.len(), expected.len());
    for (board, expected) in boards.iter().zip(&expected) {
        assert_eq!(board.iter().map(|(name, _)| name).collect::<Vec<_>>(), expected.iter().map(|(name, _)| name).collect::<Vec<_>>());
        for ((name, length), (_, expected)) in board.iter().zip(expected) {
            assert!((length - expected).abs() < 0.1, "{name}: {length} of {expected} mm");
        }
    }
}

/// Counted in the SVG of gannet's boards: no segment on another, no outline, label or callout on anything; letters of 2.5 mm or more.
#[test]
fn nothing_on_the_board_lies_on_anything_else() {
    with_view(&gannet(), |view| {
        let documents = documents(view);
        let mut drawn: BTreeMap<String, BTreeMap<String, f64>> = BTreeMap::new();
        let mut outlines = 0;
        for (path, bytes) in boards(&documents, ".svg") {
            let (shapes, size) = read_svg(text(&bytes));
            let found = overlaps(&shapes);
            assert!(found.values().all(|count| *count == 0), "{path}: {found:?}");
            for shape in &shapes {
                assert!(shape.a.0.min(shape.b.0) > -0.01 && shape.a.0.max(shape.b.0) < size.0 + 0.01, "{path}: {shape:?} leaves the page");
                assert!(shape.a.1.min(shape.b.1) > -0.01 && shape.a.1.max(shape.b.1) < size.1 + 0.01, "{path}: {shape:?} leaves the page");
            }
            for line in shapes.iter().filter(|shape| shape.layer == "SEGMENTS") {
                assert!(
                    drawn.entry(path.clone()).or_default().insert(line.of.clone(), apart(line.a, line.b)).is_none(),
                    "{} is drawn twice",
                    line.of
                );
            }
            outlines += shapes.iter().filter(|shape| shape.layer == "CONNECTORS").count();
            let ruler = |name: &str| shapes.iter().find(|shape| shape.of == name).map(|line| apart(line.a, line.b)).expect("a ruler");
            assert!((ruler("ruler:500 mm across") - 500.0).abs() < 0.01 && (ruler("ruler:500 mm up") - 500.0).abs() < 0.01);
        }
        holds_each_assembly_once(view, &drawn);
        // Every half on which wires with a route land is on a board.
        let halves: std::collections::BTreeSet<Id<Connector>> = view
            .design
            .wires
            .iter()
            .filter(|(id, _)| view.prepared.layout().run(*id).is_some())
            .flat_map(|(_, wire)| [wire.from.value, wire.to.value])
            .filter_map(|end| if let End::Pin(pin) = end { Some(view.design.pins[pin].connector) } else { None })
            .collect();
        assert_eq!(outlines, halves.len());
    });
}

/// The reader itself sees what overlaps: shapes put on each other by hand.
#[test]
fn overlaps_are_seen() {
    let shape = |layer: &str, kind: &str, a: Point, b: Point| Read {
        layer: layer.to_owned(),
        of: String::new(),
        kind: kind.to_owned(),
        a,
        b,
        text: String::new(),
    };
    let shapes = [
        shape("SEGMENTS", "line", (0.0, 0.0), (10.0, 10.0)),
        shape("SEGMENTS", "line", (0.0, 10.0), (10.0, 0.0)),
        shape("SEGMENTS", "line", (0.0, 0.0), (5.0, 5.0)),
        shape("LABELS", "text", (4.0, 4.5), (6.0, 6.5)),
        shape("CALLOUTS", "rect", (5.0, 5.5), (9.0, 9.0)),
        shape("CONNECTORS", "circle", (20.0, 20.0), (24.0, 24.0)),
        shape("CONNECTORS", "circle", (22.0, 20.0), (26.0, 24.0)),
    ];
    let found = overlaps(&shapes);
    assert_eq!(
        (found["segments"], found["labels and callouts"], found["outlines"], found["outlines outside of callouts"]),
        (3, 1, 1, 2),
        "{found:?}"
    );
    assert!(found["segments through labels and callouts"] >= 2);
    assert!(shapes.iter().all(|shape| shape.text.is_empty() && !shape.kind.is_empty()));
}

/// The DXF through an independent reader: layers by name, each segment once with the model's length, the same places as in the SVG.
#[test]
fn dxf_read_by_another_library() {
    with_view(&gannet(), |view| {
        let documents = documents(view);
        let mut drawn: BTreeMap<String, BTreeMap<String, f64>> = BTreeMap::new();
        let mut on_some: std::collections::BTreeSet<String> = std::collections::BTreeSet::new();
        for ((path, dxf), (_, svg)) in boards(&documents, ".dxf").into_iter().zip(boards(&documents, ".svg")) {
            let drawing = dxf::Drawing::load(&mut dxf.as_slice()).unwrap_or_else(|why| panic!("{path}: {why}"));
            let layers: Vec<String> = drawing.layers().map(|layer| layer.name.clone()).collect();
            for layer in ["SEGMENTS", "BREAKOUTS", "LABELS", "CALLOUTS", "RULERS", "NOTES", "FRAME"] {
                assert!(layers.iter().any(|known| known == layer), "{path} has no layer {layer}: {layers:?}");
            }
            on_some.extend(layers);
            let (shapes, _) = read_svg(text(&svg));
            let in_svg: BTreeMap<String, &Read> =
                shapes.iter().filter(|shape| shape.layer == "SEGMENTS").map(|shape| (shape.of.clone(), shape)).collect();
            let (mut texts, mut circles) = (0, 0);
            for entity in drawing.entities() {
                match &entity.specific {
                    dxf::entities::EntityType::Line(line) if entity.common.layer == "SEGMENTS" => {
                        let of = entity.common.x_data.iter().flat_map(|data| &data.items).find_map(|item| match item {
                            dxf::XDataItem::Str(text) => Some(text.clone()),
                            _ => None,
                        });
                        let of = of.expect("a segment says which one it is");
                        let (p, q) = ((line.p1.x, line.p1.y), (line.p2.x, line.p2.y));
                        let same = in_svg[&of];
                        assert!(apart(p, same.a) < 0.01 && apart(q, same.b) < 0.01, "{of}: another place than in the SVG");
                        assert!(drawn.entry(path.clone()).or_default().insert(of, apart(p, q)).is_none());
                    }
                    dxf::entities::EntityType::Text(text) => {
                        assert!(text.text_height >= 2.5, "{}", text.value);
                        texts += 1;
                    }
                    dxf::entities::EntityType::Circle(_) => circles += 1,
                    _ => {}
                }
            }
            assert_eq!(texts, shapes.iter().filter(|shape| shape.kind == "text").count(), "{path}");
            assert_eq!(circles, shapes.iter().filter(|shape| shape.kind == "circle").count(), "{path}");
        }
        holds_each_assembly_once(view, &drawn);
        for layer in ["CONNECTORS", "LEADERS", "CLAMPS", "TIES", "HOLES"] {
            assert!(on_some.contains(layer), "no board has a layer {layer}");
        }
    });
}

/// A ring of three and one branch: two segments are kept whole with the third cut where it ends, and it says what it joins.
#[test]
fn a_loop_is_cut_at_a_named_place() {
    let vehicle = "format = 1\n[breakout.A]\n[breakout.B]\n[breakout.C]\n[unit.U]\nbreakout = \"A\"\n[unit.V]\nbreakout = \"B\"\n[unit.W]\nbreakout = \"C\"\n\
        [connector.JU]\nunit = \"U\"\n[connector.JV]\nunit = \"V\"\n[connector.JW]\nunit = \"W\"\n\
        [segment.AB]\nfrom = \"A\"\nto = \"B\"\nlength = \"300 mm\"\n[segment.BC]\nfrom = \"B\"\nto = \"C\"\nlength = \"300 mm\"\n\
        [segment.CA]\nfrom = \"C\"\nto = \"A\"\nlength = \"300 mm\"\n";
    let wires = "wire,from,to,type,gauge_awg\nW1,JU.1,JV.1,M22759/44,20\nW2,JU.2,JV.2,M22759/44,20\nW3,JV.3,JW.3,M22759/44,20\nW4,JV.4,JW.4,M22759/44,20\nW5,JW.5,JU.5,M22759/44,20\n";
    let files = vec![("vehicle.toml".to_owned(), vehicle.as_bytes().to_vec()), ("wires.csv".to_owned(), wires.as_bytes().to_vec())];
    with_view(&files, |view| {
        let documents = documents(view);
        let (shapes, _) = read_svg(text(&documents["formboard/board-1.svg"]));
        let lengths: Vec<f64> = shapes.iter().filter(|shape| shape.layer == "SEGMENTS").map(|line| apart(line.a, line.b)).collect();
        assert!(lengths.len() == 3 && lengths.iter().all(|length| (length - 300.0).abs() < 0.01), "{lengths:?}");
        // CA carries fewest wires.
        let cut: Vec<&Read> = shapes.iter().filter(|shape| shape.layer == "CUTS").collect();
        assert_eq!((cut.len(), cut[0].of.as_str()), (1, "cut:A"));
        let words: Vec<&str> =
            shapes.iter().filter(|shape| shape.of == "cut:CA").map(|shape| shape.text.as_str()).filter(|text| !text.is_empty()).collect();
        assert_eq!(words, ["CUT CA", "joins A"]);
        let found = overlaps(&shapes);
        assert!(found.values().all(|count| *count == 0), "{found:?}");
    });
}

/// A page of a PDF as the tests read it: lines with their widths, texts, and where the tile's drawing begins on the page. Millimetres.
#[derive(Default, Debug)]
struct PdfPage {
    size: Point,
    zero: Option<Point>,
    /// Inside of the tile, in the drawing's own coordinates.
    lines: Vec<(Point, Point, f64)>,
    /// On the page itself.
    marks: Vec<(Point, Point)>,
    texts: Vec<String>,
}

/// A string of a PDF: in brackets with escapes, or as digits of base 16.
fn shown(string: &str) -> String {
    if let Some(digits) = string.strip_prefix('<').and_then(|rest| rest.strip_suffix('>')) {
        return (0..digits.len() / 2).map(|at| u8::from_str_radix(&digits[2 * at..2 * at + 2], 16).expect("digits") as char).collect();
    }
    let mut letters = string.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')).expect("a string").chars();
    let mut text = String::new();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next().expect("escaped") {
                first @ '0'..='7' => {
                    let octal: String = [first, letters.next().expect("three"), letters.next().expect("three")].into_iter().collect();
                    text.push(u8::from_str_radix(&octal, 8).expect("octal") as char);
                }
                other => text.push(other),
            },
            other => text.push(other),
        }
    }
    text
}

fn read_pdf(bytes: &[u8]) -> Vec<PdfPage> {
    let text: String = bytes.iter().map(|byte| *byte as char).collect();
    let mut sizes = Vec::new();
    for (at, _) in text.match_indices("/MediaBox [") {
        let numbers: Vec<f64> =
            text[at + 11..at + text[at..].find(']').expect("closed")].split_whitespace().map(|n| n.parse().expect("a number")).collect();
        sizes.push((numbers[2] * 25.4 / 72.0, numbers[3] * 25.4 / 72.0));
    }
    let mut pages = Vec::new();
    for (at, _) in text.match_indices("\nstream\n") {
        let content = &text[at + 8..at + text[at..].find("\nendstream").expect("closed")];
        let mut page = PdfPage { size: sizes[pages.len()], ..PdfPage::default() };
        let (mut width, mut from, mut to, mut in_tile) = (0.0, (0.0, 0.0), (0.0, 0.0), false);
        for line in content.lines() {
            let words: Vec<&str> = line.split(' ').collect();
            let number = |at: usize| words[at].parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
            match words.last() {
                Some(&"cm") if in_tile => page.zero = Some((number(4), number(5))),
                Some(&"cm") => assert!(
                    (number(0) - 72.0 / 25.4).abs() < 1e-5 && (number(3) - 72.0 / 25.4).abs() < 1e-5 && words[4..6] == ["0", "0"],
                    "{line}"
                ),
                Some(&"q") => in_tile = true,
                Some(&"Q") => in_tile = false,
                Some(&"w") => width = number(0),
                Some(&"m") => from = (number(0), number(1)),
                Some(&"l") => to = (number(0), number(1)),
                Some(&"c") => to = from,
                Some(&"S") if in_tile && to != from => page.lines.push((from, to, width)),
                Some(&"S") if to != from => page.marks.push((from, to)),
                Some(&"Tj") => page.texts.push(shown(line.strip_suffix(" Tj").expect("ends so"))),
                _ => {}
            }
        }
        pages.push(page);
    }
    assert_eq!(pages.len(), sizes.len());
    pages
}

/// Tiles put together again: every segment whole and as long as the model says, within 0.1 mm; register marks of neighbours on each other; on every page
/// 100 mm and an inch; sizes of paper as published (ISO 216: A4 is 210 by 297 mm; US Letter 8.5 by 11 in).
#[test]
fn tiles_put_together_are_the_board() {
    with_view(&gannet(), |view| {
        let documents = documents(view);
        let boards_of = segments_of(view);
        let expected: BTreeMap<&str, f64> = boards_of.iter().flatten().map(|(name, length)| (name.as_str(), *length)).collect();
        for (paper, size) in [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))] {
            let mut whole = 0;
            for (path, svg) in boards(&documents, ".svg") {
                let (shapes, _) = read_svg(text(&svg));
                let pages = read_pdf(&documents[&path.replace(".svg", &format!("-{paper}.pdf"))]);
                let mut corners: Vec<Point> = Vec::new();
                for (at, page) in pages.iter().enumerate() {
                    assert!((page.size.0 - size.0).abs() < 0.02 && (page.size.1 - size.1).abs() < 0.02, "{:?}", page.size);
                    let zero = page.zero.expect("a tile");
                    let long = |length: f64| page.marks.iter().any(|(a, b)| (apart(*a, *b) - length).abs() < 1e-3 && a.1 == b.1);
                    assert!(long(100.0) && long(25.4), "page {at} has no check bars");
                    assert!(
                        page.texts.iter().any(|text| text.contains(&format!("page {} of {}", at + 1, pages.len()))),
                        "{:?}",
                        page.texts
                    );
                    let crosses = page.marks.iter().filter(|(a, b)| (apart(*a, *b) - 8.0).abs() < 1e-3 && a.1 == b.1);
                    corners.extend(crosses.map(|(a, b)| (0.5 * (a.0 + b.0) - zero.0, a.1 - zero.1)));
                }
                // Two marks are on each other, or far apart.
                for (k, a) in corners.iter().enumerate() {
                    assert!(corners[k + 1..].iter().all(|b| apart(*a, *b) < 0.01 || apart(*a, *b) > 50.0), "marks do not meet: {a:?}");
                }
                for segment in shapes.iter().filter(|shape| shape.layer == "SEGMENTS") {
                    let (a, b) = (segment.a, segment.b);
                    let length = apart(a, b);
                    let along = |p: Point| ((p.0 - a.0) * (b.0 - a.0) + (p.1 - a.1) * (b.1 - a.1)) / length;
                    let mut pieces: Vec<(f64, f64)> = pages
                        .iter()
                        .flat_map(|page| &page.lines)
                        .filter(|(p, q, width)| {
                            (width - 0.7).abs() < 1e-3 && side(a, b, *p).abs() / length < 0.02 && side(a, b, *q).abs() / length < 0.02
                        })
                        .map(|(p, q, _)| (along(*p).min(along(*q)), along(*p).max(along(*q))))
                        .filter(|(from, to)| *to > -0.01 && *from < length + 0.01)
                        .collect();
                    pieces.sort_by(|a, b| a.0.total_cmp(&b.0));
                    let begin = pieces.first().expect("it is on a tile").0;
                    let mut end = begin;
                    for (from, to) in pieces {
                        assert!(from <= end + 0.01, "{}: a gap at {end} mm on {paper}", segment.of);
                        end = end.max(to);
                    }
                    // Of the tiles together, from end to end; what a straight neighbour adds lies beyond.
                    assert!(begin <= 0.05 && end >= length - 0.05, "{}: from {begin} to {end} of {length} mm", segment.of);
                    assert!((length - expected[segment.of.as_str()]).abs() < 0.1, "{}", segment.of);
                    whole += 1;
                }
            }
            assert_eq!(whole, boards_of.iter().map(Vec::len).sum::<usize>());
        }
    });
}

/// Every table on paper: each wire of the list with its whole row, pages counted, letters that the font lacks by their numbers.
#[test]
fn tables_on_paper() {
    with_view(&gannet(), |view| {
        let pages = read_pdf(&documents(view)["tables.pdf"]);
        assert!(pages.len() > 100);
        for (at, page) in pages.iter().enumerate() {
            assert!((page.size.0 - 297.0).abs() < 0.02 && (page.size.1 - 210.0).abs() < 0.02);
            assert!(page.texts.iter().any(|text| text == &format!("page {} of {}", at + 1, pages.len())));
            assert!(page.texts[0].ends_with("gannet, revision C, 2027-03-01"));
            // 297 mm less two margins of 10 mm, in letters of a fixed pitch.
            assert!(page.texts.iter().all(|line| line.chars().count() <= 195), "page {at} has too long a line");
        }
        let list: Vec<&PdfPage> = pages.iter().filter(|page| page.texts[0].starts_with("Wire list")).collect();
        for (_, wire) in view.design.wires.iter() {
            let begins = |line: &&String| line.split_whitespace().next() == Some(&*wire.name);
            let rows: Vec<&String> = list.iter().flat_map(|page| &page.texts).filter(begins).collect();
            assert_eq!(rows.len(), 1, "{}", wire.name);
            // An address that is broken is another address.
            for end in [wire.from.value, wire.to.value].map(|end| view.design.end_name(end)) {
                assert!(rows[0].split_whitespace().any(|word| word == end), "{end} in {}", rows[0]);
            }
        }
    });
    let wires = "wire,from,to,type,gauge_awg,length_m,signal\nW1,A.1,B.1,M22759/44,20,1,\"導 (µ) \\ <b>\"\n";
    with_view(&vec![("vehicle.toml".to_owned(), b"format = 1\n".to_vec()), ("wires.csv".to_owned(), wires.as_bytes().to_vec())], |view| {
        let pages = read_pdf(&documents(view)["tables.pdf"]);
        let words: String = pages.iter().flat_map(|page| page.texts.clone()).collect::<Vec<_>>().join("\n");
        assert!(words.contains("[U+5C0E] (\u{b5}) \\ <b>"), "{words}");
    });
}
