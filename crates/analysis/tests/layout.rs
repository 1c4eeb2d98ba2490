//! Routes, lengths and what a cut segment opens, by hand.

use loomwright_analysis::layout::{Barrier, Place};
use loomwright_analysis::{Prepared, prepare};
use model::*;
use physics::{Metre, Ohm};

/// A rectangle of breakouts, 1 m by 1.5 m: from A to D over B (1 + 1.5 m) or over C (1.5 + 1.2 m, stated: it sags). B hangs free beside.
const MAP: &str = "
[breakout.A]
at = [\"0 m\", \"0 m\", \"0 m\"]
[breakout.B]
at = [\"1 m\", \"0 m\", \"0 m\"]
[breakout.C]
at = [\"0 m\", \"1.5 m\", \"0 m\"]
[breakout.D]
at = [\"1 m\", \"1.5 m\", \"0 m\"]
[segment.AB]
from = \"A\"
to = \"B\"
[segment.DB]
from = \"D\"
to = \"B\"
[segment.AC]
from = \"A\"
to = \"C\"
[segment.CD]
from = \"C\"
to = \"D\"
length = \"TBC 1.2 m\"
";

const ENDS: &str = "
[unit.PDU]
breakout = \"A\"
[unit.BOX]
[connector.J1]
unit = \"PDU\"
contact = \"20\"
[connector.J2]
unit = \"BOX\"
contact = \"20\"
mate = \"P2\"
[connector.P2]
contact = \"20\"
breakout = \"D\"
[splice.SP]
breakout = \"B\"
";

/// A wire of 20 AWG measures 1.27 mm and one of 22 AWG 1.09 mm there, an unreal 30 and 50 mohm/m: the tests need round numbers.
const TYPES: &str = "type,gauge_awg,area_mm2,conductivity_percent,max_ohm_per_km,nominal_ohm_per_km,od_mm\n\
                     own,20,0.62,100,30,30,1.27\nown,22,0.38,100,50,50,1.09\nown,24,0.2,100,80,80,\n";

const HEAD: &str = "wire,from,to,type,gauge_awg,length_m,via,from_allowance_m,to_allowance_m,slack_percent,circuit,cable\n";

fn design(more: &str, wires: &str) -> Design {
    let vehicle = format!("format = 1\n{more}\n{MAP}{ENDS}");
    let wires = format!("{HEAD}{wires}");
    let files = [("vehicle.toml", vehicle.as_str()), ("wires.csv", &wires), ("catalog/wires.csv", TYPES)];
    let loaded = input::load(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())));
    loaded.design.unwrap_or_else(|| panic!("{:#?}", loaded.diagnostics))
}

fn wire(design: &Design, name: &str) -> Id<Wire> {
    design.wires.iter().find(|(_, row)| *row.name == *name).map(|(id, _)| id).expect("a wire of this name")
}

fn segments(prepared: &Prepared, name: &str) -> Vec<String> {
    let design = prepared.design();
    let run = prepared.layout().run(wire(design, name)).expect("a route");
    run.segments.iter().map(|segment| design.segments[*segment].name.to_string()).collect()
}

fn length(prepared: &Prepared, name: &str) -> f64 {
    prepared.length(wire(prepared.design(), name)).expect("a length").0
}

fn near(value: f64, expected: f64) {
    assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
}

/// Path 2.5 m; 4 % of slack by the vehicle 0.1 m, two ends of 60 mm: 2.72 m. With its own 0, 0.2 and 10 %: 2.5 + 0.25 + 0.2 = 2.95 m.
#[test]
fn length_is_path_and_allowances() {
    let wires =
        "W1,J1.1,P2.1,own,20,,,,,,,\nW2,P2.2,J1.2,own,20,route,,0,0.2,10,,\nW3,J1.3,P2.3,own,20,9,,,,,,\nW4,J1.4,splice:SP,own,20,,,,,,,\n";
    let design = design("end_allowance = \"60 mm\"\nslack = \"4 %\"", wires);
    let prepared = prepare(&design);
    assert_eq!(segments(&prepared, "W1"), ["AB", "DB"]);
    assert_eq!(segments(&prepared, "W2"), ["DB", "AB"]);
    near(length(&prepared, "W1"), 2.72);
    near(length(&prepared, "W2"), 2.95);
    near(length(&prepared, "W3"), 9.0);
    near(length(&prepared, "W4"), 1.16);
    let parts = prepared.layout().parts(wire(&design, "W3")).expect("its route is known");
    near(parts.sum().0, 2.72);
    // 30 mohm/m at 20 °C, in the low corner the greatest.
    let scenario = Scenario::new(Id::from_row(0), Corner::Low);
    let Some(Ohm(ohms)) = prepared.ohms(&scenario, ElementId::Wire(wire(&design, "W1"))) else { panic!("a resistance") };
    near(ohms, 0.0816);
    assert!(prepared.layout().is_proven());
    let notes = prepared.notes(&scenario, ElementId::Wire(wire(&design, "W1")));
    assert!(notes.iter().all(|note| !design.note(*note).what.contains("slack")), "stated, not assumed");
}

/// A pair of 1.27 mm on a lay of 20 mm: √(1 + (1.27 π/20)²) = 1.019704, over C because that is pinned: 2.7 m × 1.019704 = 2.753201 m. Of a
/// pair without a stated lay 12 diameters are assumed: √(1 + (π/12)²) = 1.033702, so 2.790994 m.
#[test]
fn twist_makes_cores_longer() {
    let wires = "W1,J1.1,P2.1,own,20,,CD,,,,,C1\nW2,J1.2,P2.2,own,20,,CD,,,,,C1\nW3,J1.3,P2.3,own,20,,C,,,,,C2\nW4,P2.4,J1.4,own,20,,CD C,,,,,C2\n\
                 W5,J1.5,P2.5,own,24,,,,,,,C3\nW6,J1.6,P2.6,own,24,,,,,,,C3\nW7,J1.7,P2.7,own,20,,CD,,,,,C4\n";
    let more = "[cable.C1]\nkind = \"twisted\"\nlay = \"20 mm\"\n[cable.C2]\nkind = \"twisted-shielded\"\n[cable.C3]\nkind = \"twisted\"\n\
                [cable.C4]\nkind = \"twisted\"\nlay = \"20 mm\"\n";
    let design = design(more, wires);
    let prepared = prepare(&design);
    for name in ["W1", "W2"] {
        assert!((length(&prepared, name) - 2.753201).abs() < 1e-6, "{}", length(&prepared, name));
    }
    for name in ["W3", "W4"] {
        assert!((length(&prepared, name) - 2.790994).abs() < 1e-6, "{}", length(&prepared, name));
    }
    // One core alone is no pair.
    near(length(&prepared, "W7"), 2.7);
    // Without a diameter no lay can be assumed.
    let unknown = prepared.length(wire(&design, "W5")).expect_err("no diameter");
    assert_eq!(unknown.field, "lay");
    // What is assumed and what is to be confirmed is named.
    let scenario = Scenario::new(Id::from_row(0), Corner::Low);
    let notes = prepared.notes(&scenario, ElementId::Wire(wire(&design, "W3")));
    let what: Vec<&str> = notes.iter().map(|note| design.note(*note).what.as_str()).collect();
    for expected in ["lay of cable C2", "length of segment CD", "end allowance of unnamed", "slack of unnamed"] {
        assert!(what.contains(&expected), "{expected}: {what:?}");
    }
}

/// A wire that lies nowhere has no length, and says why.
#[test]
fn what_a_length_lacks_is_named() {
    let wires = "W1,J9.1,P2.1,own,20,,,,,,,\nW2,J1.2,stowed,own,20,,,,,,,\nW3,J1.3,J1.4,own,20,,,,,,,\nW4,J1.5,P2.4,own,20,TBD,,,,,,\n\
                 W5,J1.6,P2.5,own,20,,,,,,shut,\n";
    // The only class that the segments at D admit is another one.
    let shut = "[circuit.shut]\nclass = \"power\"\n";
    let design = design(shut, wires);
    let text = format!(
        "format = 1\n{shut}{}{ENDS}",
        MAP.replace("to = \"D\"", "to = \"D\"\nadmits = [\"data\"]").replace("from = \"D\"", "from = \"D\"\nadmits = [\"data\"]")
    );
    let prepared = prepare(&design);
    let field = |prepared: &Prepared, name: &str| prepared.length(wire(prepared.design(), name)).map_err(|unknown| unknown.field);
    assert_eq!(field(&prepared, "W1"), Err("breakout"));
    assert_eq!(*prepared.layout().place(wire(&design, "W1")), Place::NoBreakout(vec![Side::From]));
    assert_eq!(field(&prepared, "W2"), Err("length"));
    assert_eq!(*prepared.layout().place(wire(&design, "W2")), Place::Stowed);
    // Both ends at one breakout and no allowance: a conductor has a resistance above zero.
    assert_eq!(field(&prepared, "W3"), Err("length"));
    assert_eq!(field(&prepared, "W4"), Err("length"));
    assert_eq!(field(&prepared, "W5"), Ok(Metre(2.5)));
    let files = [("vehicle.toml", text.as_str()), ("wires.csv", &format!("{HEAD}{wires}")), ("catalog/wires.csv", TYPES)];
    let closed = input::load(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec()))).design.expect("a design");
    let prepared = prepare(&closed);
    assert_eq!(field(&prepared, "W5"), Err("route"));
    let Place::Broken(told) = prepared.layout().place(wire(&closed, "W5")) else { panic!("closed at D") };
    let closed_to: Vec<(&str, Barrier)> = told.closed.iter().map(|(id, why)| (&*closed.segments[*id].name, *why)).collect();
    assert_eq!(closed_to, [("DB", Barrier::NotAdmitted), ("CD", Barrier::NotAdmitted)]);
    assert_eq!(closed.branch_points[told.shut_in].name.as_ref(), "D");
}

/// What lies in a segment is cut with it, and nothing else.
#[test]
fn a_cut_segment_opens_its_wires() {
    let wires = "W1,J1.1,P2.1,own,20,,,,,,,\nW2,J1.2,P2.2,own,20,,CD,,,,,\nW3,splice:SP,P2.3,own,20,7,,,,,,\nW4,J1.4,splice:SP,own,20,,AC CD,,,,,\n";
    let braid = "[strap.braid]\nfrom = \"branch:B\"\nto = \"branch:D\"\n[strap.other]\nfrom = \"branch:B\"\nto = \"branch:A\"\n";
    let design = design(braid, wires);
    let prepared = prepare(&design);
    let names = |segment: &str| -> Vec<String> {
        let (id, _) = design.segments.iter().find(|(_, row)| *row.name == *segment).expect("a segment");
        prepared.layout().members(id).iter().map(|wire| design.wires[*wire].name.to_string()).collect()
    };
    assert_eq!(names("DB"), ["W1", "W3", "W4"]);
    assert_eq!(names("AB"), ["W1"]);
    assert_eq!(names("CD"), ["W2", "W4"]);
    let open_with = |lost: Subject| -> Vec<String> {
        let plain = Scenario::new(Id::from_row(0), Corner::Typical);
        let cut = Scenario { lost: vec![lost], ..plain.clone() };
        let (before, after) = (prepared.laws(&plain), prepared.laws(&cut));
        let changed = prepared.branches().iter().zip(before.iter().zip(&after)).filter(|(_, (b, a))| b != a);
        changed.map(|(branch, _)| design.element_words(branch.element)).collect()
    };
    let segment = |name: &str| design.segments.iter().find(|(_, row)| *row.name == *name).map(|(id, _)| Subject::Segment(id)).expect("one");
    assert_eq!(open_with(segment("DB")), ["wire:W1", "wire:W3", "wire:W4", "strap:braid"]);
    assert_eq!(open_with(segment("AC")), ["wire:W2", "wire:W4"]);
    let breakout = design.branch_points.iter().find(|(_, row)| &*row.name == "A").map(|(id, _)| Subject::Breakout(id)).expect("A");
    assert_eq!(open_with(breakout), ["wire:W1", "wire:W2", "wire:W4", "strap:other"]);
}

/// Cores of a cable are laid as one: what a hole has room for is the whole cable or none of it. 50 % of a hole of 2.2 mm is 1.90 mm²: one
/// wire of 1.27 mm (1.267 mm²) and not two.
#[test]
fn a_cable_goes_through_a_hole_whole_or_not() {
    let hole = "[clamp.H]\nsegment = \"AB\"\nkind = \"hole\"\nbore = \"2.2 mm\"\n";
    let both = |cable: &str| {
        let wires = format!("W1,J1.1,P2.1,own,20,,,,,,,{cable}\nW2,P2.2,J1.2,own,20,,,,,,,{cable}\n");
        let design = design(hole, &wires);
        let prepared = prepare(&design);
        let routes = [segments(&prepared, "W1"), segments(&prepared, "W2")];
        (routes, prepared.layout().is_proven(), prepared.layout().run(wire(&design, "W2")).expect("laid").moved_by.map(|(_, why)| why))
    };
    let (apart, proven, why) = both("");
    assert_eq!(apart, [vec!["AB".to_owned(), "DB".to_owned()], vec!["CD".to_owned(), "AC".to_owned()]]);
    assert!(!proven && matches!(why, Some(Barrier::Full { .. })), "{why:?}");
    let (together, _, _) = both("C1");
    assert_eq!(together, [vec!["AC".to_owned(), "CD".to_owned()], vec!["CD".to_owned(), "AC".to_owned()]]);
}

/// A vehicle without segments has no layout, and a blank length stays unknown.
#[test]
fn without_segments_nothing_changes() {
    let files = [
        ("vehicle.toml", "format = 1\n"),
        ("wires.csv", "wire,from,to,gauge_awg,length_m\nW1,A.1,B.1,20,\nW2,A.2,B.2,20,3\nW3,A.3,B.3,20,route\n"),
    ];
    let design = input::load(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec()))).design.expect("a design");
    let prepared = prepare(&design);
    assert_eq!(*prepared.layout().place(wire(&design, "W1")), Place::NoMap);
    assert_eq!(prepared.length(wire(&design, "W1")).map_err(|unknown| unknown.why.as_str()), Err("its length is not stated"));
    near(length(&prepared, "W2"), 3.0);
    assert!(prepared.length(wire(&design, "W3")).is_err());
    assert!(design.notes.iter().all(|note| note.field != "slack" && note.field != "end_allowance"));
}
