//! Wiring diagrams and faces, read back from the files: each wire once, from pin to pin, and no line through a symbol.

use crate::board::{Read, apart, boxes_meet, line_in_box, read_svg, side, text};
use crate::shop::{documents, with_view};
use std::collections::BTreeMap;

fn crosses(a: &Read, b: &Read) -> bool {
    side(a.a, a.b, b.a) * side(a.a, a.b, b.b) < 0.0 && side(b.a, b.b, a.a) * side(b.a, b.b, a.b) < 0.0
}

/// Whether two lines lie on each other along a stretch.
fn together(a: &Read, b: &Read) -> bool {
    let level = |of: &Read| (of.a.1 - of.b.1).abs() < 1e-6;
    let span = |of: &Read, level: bool| {
        if level { (of.a.0.min(of.b.0), of.a.0.max(of.b.0), of.a.1) } else { (of.a.1.min(of.b.1), of.a.1.max(of.b.1), of.a.0) }
    };
    if level(a) != level(b) {
        return false;
    }
    let (p, q) = (span(a, level(a)), span(b, level(b)));
    (p.2 - q.2).abs() < 1e-3 && p.0 < q.1 - 1e-3 && q.0 < p.1 - 1e-3
}

#[test]
fn wiring_diagrams_hold_every_wire_once_from_pin_to_pin() {
    // Crossings of all sheets of an example together, as they stand.
    for (example, sheets, crossings) in [("gannet-mended", 38, 0), ("light-aircraft", 13, 4), ("bench-rig", 3, 3)] {
        let found = sheets_of(&trials::read_folder(&trials::root().join("examples").join(example)));
        assert_eq!(found, (sheets, crossings), "{example}");
    }
}

/// Two places on either side, each joined to both across: one crossing that no order takes away, and rows of one height that belong to two wires.
#[test]
fn four_places_joined_crosswise_cross_once() {
    let wires = "wire,from,to,type,gauge_awg,length_m,circuit\nW1,A.1,C.1,M22759/44,20,1,x\nW2,A.2,D.1,M22759/44,20,1,x\nW3,B.1,C.2,M22759/44,20,1,x\nW4,B.2,D.2,M22759/44,20,1,x\n";
    let files = vec![("vehicle.toml".to_owned(), b"format = 1\n".to_vec()), ("wires.csv".to_owned(), wires.as_bytes().to_vec())];
    assert_eq!(sheets_of(&files), (1, 1));
}

/// Checks every sheet of a vehicle; gives back how many there are, and how often wires cross on them.
fn sheets_of(files: &crate::shop::Files) -> (usize, usize) {
    with_view(files, |view| {
        let documents = documents(view);
        let mut seen: BTreeMap<String, usize> = BTreeMap::new();
        let (mut crossings, mut sheets) = (0, 0);
        for (path, bytes) in documents.iter().filter(|(path, _)| path.starts_with("diagrams/")) {
            sheets += 1;
            let (shapes, size) = read_svg(text(bytes));
            for shape in &shapes {
                let inside = |p: (f64, f64)| p.0 > -0.01 && p.0 < size.0 + 0.01 && p.1 > -0.01 && p.1 < size.1 + 0.01;
                assert!(inside(shape.a) && inside(shape.b), "{path}: {shape:?}");
            }
            let mut lines: BTreeMap<&str, Vec<&Read>> = BTreeMap::new();
            shapes.iter().filter(|shape| shape.layer == "WIRES").for_each(|shape| lines.entry(&shape.of).or_default().push(shape));
            for (of, parts) in &lines {
                let name = of.strip_prefix("wire:").expect("a wire");
                *seen.entry(name.to_owned()).or_default() += 1;
                let wire = trials::named(&view.design.wires, name, |wire| &wire.name);
                // Where its two symbols leave off.
                let symbol_of = |end: model::End| {
                    let of = format!("end:{name}:{}", view.design.end_name(end));
                    let symbols: Vec<&Read> = shapes.iter().filter(|shape| shape.layer == "SYMBOLS" && shape.of == of).collect();
                    assert!(!symbols.is_empty(), "{path}: no symbol {of}");
                    symbols
                };
                let row = &view.design.wires[wire];
                let touches =
                    |end, point| symbol_of(end).iter().any(|symbol| apart(symbol.a, point) < 0.01 || apart(symbol.b, point) < 0.01);
                let (first, last) = (parts[0].a, parts[parts.len() - 1].b);
                assert!(touches(row.from.value, first) && touches(row.to.value, last), "{path}: {name} does not run from pin to pin");
                assert!(parts.windows(2).all(|pair| apart(pair[0].b, pair[1].a) < 0.01), "{path}: {name} is broken");
            }
            let places: Vec<&Read> = shapes.iter().filter(|shape| shape.layer == "PLACES").collect();
            for (at, place) in places.iter().enumerate() {
                assert!(lines.values().flatten().all(|line| !line_in_box(line, place)), "{path}: a line through {}", place.of);
                for other in &places[at + 1..] {
                    assert!(
                        place.b.0 < other.a.0 || other.b.0 < place.a.0 || place.b.1 < other.a.1 || other.b.1 < place.a.1,
                        "{path}: places overlap"
                    );
                }
            }
            let texts: Vec<&Read> =
                shapes.iter().filter(|shape| ["PINS", "PLACE-NAMES", "WIRE-NAMES", "NOTES"].contains(&shape.layer.as_str())).collect();
            for (at, one) in texts.iter().enumerate() {
                for other in &texts[at + 1..] {
                    assert!(!boxes_meet(one, other), "{path}: {:?} on {:?}", one.text, other.text);
                }
                let through = lines.values().flatten().any(|line| line_in_box(line, one));
                assert!(!through, "{path}: a wire through {:?}", one.text);
            }
            // A shield is crossed by cores of its own cable alone.
            for shield in shapes.iter().filter(|shape| shape.layer == "SHIELDS") {
                for (of, parts) in &lines {
                    let wire = trials::named(&view.design.wires, &of[5..], |wire| &wire.name);
                    let cable = view.design.wires[wire].cable.map(|cable| format!("cable:{}", view.design.cables[cable.value].name));
                    let through = parts.iter().any(|line| line_in_box(line, shield));
                    assert!(!through || cable.as_deref() == Some(&*shield.of), "{path}: {of} through {}", shield.of);
                }
            }
            let all: Vec<(&str, &Read)> = lines.iter().flat_map(|(of, parts)| parts.iter().map(|part| (*of, *part))).collect();
            for (at, (of, line)) in all.iter().enumerate() {
                for (other_of, other) in &all[at + 1..] {
                    if of != other_of {
                        assert!(!together(line, other), "{path}: {of} and {other_of} lie on each other");
                        crossings += usize::from(crosses(line, other));
                    }
                }
            }
        }
        assert_eq!(seen.len(), view.design.wires.len());
        assert!(seen.values().all(|count| *count == 1));
        (sheets, crossings)
    })
}

const FACES: &str = "format = 1\n[unit.A]\n[connector.J]\nunit = \"A\"\nmate = \"P\"\narrangement = \"three\"\ngender = \"pins\"\n\
    [connector.P]\narrangement = \"three\"\n[connector.K]\nunit = \"A\"\nmate = \"Q\"\narrangement = \"three\"\ngender = \"sockets\"\n\
    [connector.Q]\narrangement = \"three\"\n[connector.L]\nunit = \"A\"\nmate = \"R\"\narrangement = \"bare\"\n[connector.R]\narrangement = \"bare\"\n";

/// Cavities at (−2, 0), (2, 0), (0, 3) on the mating face of the pins. The harness half with sockets has them so on its wire side; the one with pins has
/// left and right changed there. A layout that is not known is called generated.
#[test]
fn faces_are_mirrored_where_they_have_to_be() {
    let files = [
        ("vehicle.toml", FACES),
        (
            "catalog/arrangements.csv",
            "arrangement,cavity,cavities,size,x_mm,y_mm\nthree,A,,20,-2,0\nthree,B,,20,2,0\nthree,C,,20,0,3\nbare,,3,20,,\n",
        ),
        ("wires.csv", "wire,from,to,type,gauge_awg,length_m\nW1,P.A,Q.A,M22759/44,20,1\nW2,P.B,R.1,M22759/44,20,1\n"),
    ];
    let files = files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())).to_vec();
    with_view(&files, |view| {
        let documents = documents(view);
        let faces: Vec<Vec<Read>> =
            documents.iter().filter(|(path, _)| path.starts_with("faces/")).map(|(_, bytes)| read_svg(text(bytes)).0).collect();
        assert_eq!(faces.len(), 3);
        let face = |half: &str| {
            faces
                .iter()
                .find(|shapes| shapes.iter().any(|shape| shape.of == format!("cavity:{half}.A") || shape.of == format!("cavity:{half}.1")))
                .expect("a face")
        };
        let x = |half: &str, cavity: &str| {
            let shapes = face(half);
            let middle = |of: &str| {
                shapes
                    .iter()
                    .find(|shape| shape.of == of && shape.kind == "circle")
                    .map(|circle| 0.5 * (circle.a.0 + circle.b.0))
                    .expect("a circle")
            };
            middle(&format!("cavity:{half}.{cavity}")) - middle("shell")
        };
        let words = |half: &str| face(half).iter().map(|shape| shape.text.clone()).collect::<Vec<_>>().join("\n");
        // P has sockets, since J has pins: A is on the left; Q has pins: A is on the right.
        assert!(x("P", "A") < 0.0 && x("P", "B") > 0.0, "{} {}", x("P", "A"), x("P", "B"));
        assert!(x("Q", "A") > 0.0 && x("Q", "B") < 0.0, "{} {}", x("Q", "A"), x("Q", "B"));
        assert!((x("P", "A") + x("Q", "A")).abs() < 0.01 && x("P", "C").abs() < 0.01);
        for (half, gender) in [("P", "sockets"), ("Q", "pins")] {
            assert!(
                words(half).contains(&format!(", {gender}\n")) && words(half).contains("seen from the WIRE side, key up"),
                "{}",
                words(half)
            );
        }
        assert!(!words("P").contains("GENERATED") && words("R").contains("CAVITY LAYOUT GENERATED"), "{}", words("R"));
    });
}
