//! Bundles, spans and what is passed through holes, on small maps that can be worked by hand.

use loomwright_analysis::{MemberOf, Prepared, prepare};
use model::*;
use physics::Metre;

/// A vehicle of connectors and segments; wires and further rows are the caller's.
fn design(rows: &str, wires: &str) -> Design {
    let vehicle = format!("format = 1\nend_allowance = \"0 m\"\nslack = \"0 %\"\n{rows}");
    let types = "type,construction,family,gauge_awg,area_mm2,max_ohm_per_km,od_mm,mass_g_per_m\n\
                 one,1x20 bare,etfe,20,0.5,40,1.0,5\ntwo,7x30 bare,etfe,16,1.2,16,2.0,12\nblank,19x34 bare,etfe,20,0.5,40,,5\n";
    let wires = format!("wire,from,to,type,gauge_awg,cable,via\n{wires}");
    let files = [("vehicle.toml", vehicle.as_str()), ("wires.csv", &wires), ("catalog/wires.csv", types)];
    let files: Vec<(String, Vec<u8>)> = files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect();
    let loaded = input::load(&files);
    let Some(design) = loaded.design else { panic!("the design of a test does not load: {:#?}", loaded.diagnostics) };
    design
}

/// Connector halves without units at the breakouts of a line B1 … Bn, `J1` at `B1` and so on.
fn line(lengths: &[&str]) -> String {
    let mut text = String::new();
    for n in 1..=lengths.len() + 1 {
        text.push_str(&format!("[breakout.B{n}]\n"));
    }
    for (n, length) in lengths.iter().enumerate() {
        text.push_str(&format!("[segment.S{}]\nfrom = \"B{}\"\nto = \"B{}\"\nlength = \"{length}\"\n", n + 1, n + 1, n + 2));
    }
    text
}

fn half(name: &str, breakout: &str, more: &str) -> String {
    format!("[connector.{name}]\ncontact = \"20\"\ncavities = 40\nbreakout = \"{breakout}\"\n{more}\n")
}

fn segment(design: &Design, name: &str) -> Id<Segment> {
    design.segments.iter().find(|(_, row)| *row.name == *name).expect("a segment of the test").0
}

fn near(value: Metre, expected_mm: f64) {
    assert!((value.0 * 1e3 - expected_mm).abs() < 1e-6, "{} mm is not {expected_mm} mm", value.0 * 1e3);
}

/// Seven wires of 1 mm measure 3 mm; a sleeve of 0.5 mm adds 1, tape of 0.1 mm 0.4, a braid of 0.1 mm strands built up 2.5 high 0.5.
#[test]
fn seven_wires_and_what_covers_them() {
    let rows = line(&["1 m"])
        + &half("J1", "B1", "")
        + &half("J2", "B2", "")
        + "[covering.T]\nkind = \"tape\"\nthickness = \"0.1 mm\"\n[covering.Br]\nkind = \"braid\"\nthickness = \"0.1 mm\"\nbuild = 2.5\n\
           [covering.S]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\n";
    let rows = rows.replace("length = \"1 m\"\n", "length = \"1 m\"\ncoverings = [\"T\", \"Br\", \"S\"]\n");
    let wires: String = (1..=7).map(|n| format!("W{n},J1.{n},J2.{n},one,20,,\n")).collect();
    let design = design(&rows, &wires);
    let prepared = prepare(&design);
    let bundle = prepared.bundle(segment(&design, "S1"));
    assert_eq!(bundle.members.len(), 7);
    near(bundle.packed, 3.0);
    let outside: Vec<f64> = bundle.layers.iter().map(|(_, over)| (over.0 * 1e6).round()).collect();
    assert_eq!(outside, [3400.0, 3900.0, 4900.0]);
    near(bundle.outside().expect("everything is known"), 4.9);
    assert!((bundle.packing_fraction().expect("wires").0 - 7.0 / 9.0).abs() < 1e-9);
}

/// A twisted pair of 1 mm wires is a circle of 2 mm, a cable with a stated diameter is that, and the rest counts wire by wire: circles of 2,
/// 3 and 1 mm lie within 5 mm, as 2 and 3 side by side need.
#[test]
fn a_cable_is_one_circle() {
    let rows = line(&["1 m"])
        + &half("J1", "B1", "")
        + &half("J2", "B2", "")
        + "[cable.C1]\nkind = \"twisted\"\n[cable.C2]\nkind = \"twisted-shielded\"\nod = \"3 mm\"\n";
    let wires =
        "W1,J1.1,J2.1,one,20,C1,\nW2,J1.2,J2.2,one,20,C1,\nW3,J1.3,J2.3,one,20,C2,\nW4,J1.4,J2.4,one,20,C2,\nW5,J1.5,J2.5,one,20,,\n";
    let design = design(&rows, wires);
    let prepared = prepare(&design);
    let bundle = prepared.bundle(segment(&design, "S1"));
    let sizes: Vec<(bool, usize, f64)> = bundle
        .members
        .iter()
        .map(|member| (matches!(member.of, MemberOf::Cable(_)), member.wires.len(), (member.diameter.0 * 1e6).round()))
        .collect();
    assert_eq!(sizes, [(true, 2, 2000.0), (true, 2, 3000.0), (false, 1, 1000.0)]);
    near(bundle.outside().expect("everything is known"), 5.0);
}

/// Three shielded cables of 2 mm: 2 + 4/√3 = 4.309 mm across. At B1 all three end, with terminations of 3 mm: 3 + 6/√3 = 6.464 mm, more than
/// at B2, where two do. In S2 the third lies alone: 3 mm. What ends without a size is named.
#[test]
fn shields_end_side_by_side() {
    let cable = |n: usize, more: &str| format!("[cable.C{n}]\nkind = \"shielded\"\nod = \"2 mm\"\n{more}\n");
    let rows = |third: &str| {
        line(&["1 m", "1 m"])
            + &half("J1", "B1", "")
            + &half("J2", "B2", "")
            + &half("J3", "B3", "")
            + &cable(1, "shield_end_od = \"3 mm\"")
            + &cable(2, "shield_end_od = \"3 mm\"")
            + &cable(3, third)
    };
    let wires = "W1,J1.1,J2.1,one,20,C1,\nW2,J1.2,J2.2,one,20,C2,\nW3,J1.3,J3.1,one,20,C3,\n";
    let sized = design(&rows("shield_end_od = \"3 mm\""), wires);
    let prepared = prepare(&sized);
    assert!((prepared.bundle(segment(&sized, "S1")).packed.0 - (2.0 + 4.0 / 3f64.sqrt()) * 1e-3).abs() < 1e-9);
    // At B1 all three end: 3 mm each.
    near(prepared.shield_ends(segment(&sized, "S1")).expect("shields end").expect("sizes"), 3.0 + 6.0 / 3f64.sqrt());
    near(prepared.shield_ends(segment(&sized, "S2")).expect("shields end").expect("sizes"), 3.0);
    let from_splices = wires.replace("J1.1", "splice:P").replace("J1.2", "splice:P").replace("J1.3", "splice:P");
    let unsized_ = design(&(rows("") + "[splice.P]\nbreakout = \"B1\"\n"), &from_splices);
    let prepared = prepare(&unsized_);
    let missing = prepared.shield_ends(segment(&unsized_, "S2")).expect("shields end").expect_err("C3 has no size there");
    assert_eq!((unsized_.subject_words(missing.of), missing.field), ("cable:C3".to_owned(), "shield_end_od"));
    let plain = design(&(line(&["1 m"]) + &half("J1", "B1", "") + &half("J2", "B2", "")), "W1,J1.1,J2.1,one,20,,\n");
    assert!(prepare(&plain).shield_ends(segment(&plain, "S1")).is_none());
}

/// A shielded cable without a diameter, a cable that only the list names, a wire type without one, a covering without a thickness: each is
/// named with its field, and the bundle has no diameter, though it measures at least what is known of it.
#[test]
fn what_has_no_size_is_named() {
    let rows = line(&["1 m"]).replace("length = \"1 m\"\n", "length = \"1 m\"\ncoverings = [\"S\"]\n")
        + &half("J1", "B1", "")
        + &half("J2", "B2", "")
        + "[cable.C1]\nkind = \"shielded\"\n[covering.S]\nkind = \"sleeve\"\n";
    let wires = "W1,J1.1,J2.1,one,20,C1,\nW2,J1.2,J2.2,one,20,C9,\nW3,J1.3,J2.3,blank,20,,\nW4,J1.4,J2.4,two,16,,\n";
    let design = design(&rows, wires);
    let prepared = prepare(&design);
    let bundle = prepared.bundle(segment(&design, "S1"));
    let missing: Vec<(String, &str)> = bundle.unsized_.iter().map(|one| (design.subject_words(one.of), one.field)).collect();
    let expected = [("cable:C1", "od"), ("cable:C9", "kind"), ("wire:W3", "od"), ("covering:S", "thickness")];
    assert_eq!(missing, expected.map(|(of, field)| (of.to_owned(), field)));
    assert_eq!(bundle.outside(), None);
    near(bundle.known_outside(), 2.0);
}

fn gaps(design: &Design, prepared: &Prepared, name: &str) -> Vec<(f64, String)> {
    let words = |held: Option<Subject>| held.map_or("-".to_owned(), |subject| design.subject_words(subject));
    let held = prepared.held(segment(design, name));
    held.gaps.iter().map(|gap| ((gap.length.0 * 1e3).round(), format!("{} {}", words(gap.between[0]), words(gap.between[1])))).collect()
}

/// A line of 0.4, 0.9 and 0.3 m with connectors at its ends only; clamps at 0.3 m of the first and at 0.45 m of the second: the stretches
/// are 0.3, 0.1 + 0.45, and 0.45 + 0.3 m. A hole and a tie hold nothing.
#[test]
fn stretches_run_on_over_breakouts() {
    let rows = line(&["0.4 m", "0.9 m", "0.3 m"])
        + &half("J1", "B1", "")
        + &half("J4", "B4", "")
        + "[clamp.C1]\nsegment = \"S1\"\nkind = \"clamp\"\nat = \"0.3 m\"\n[clamp.C2]\nsegment = \"S2\"\nkind = \"clamp\"\nat = \"0.45 m\"\n\
           [clamp.H]\nsegment = \"S2\"\nkind = \"hole\"\nat = \"0.7 m\"\n[clamp.T]\nsegment = \"S3\"\nkind = \"tie\"\nat = \"0.1 m\"\n";
    let design = design(&rows, "W1,J1.1,J4.1,one,20,,\n");
    let prepared = prepare(&design);
    let at = |mm: f64, words: &str| (mm, words.to_owned());
    assert_eq!(gaps(&design, &prepared, "S1"), [at(300.0, "breakout:B1 clamp:C1"), at(550.0, "clamp:C1 clamp:C2")]);
    assert_eq!(gaps(&design, &prepared, "S2"), [at(550.0, "clamp:C1 clamp:C2"), at(750.0, "clamp:C2 breakout:B4")]);
    assert_eq!(gaps(&design, &prepared, "S3"), [at(750.0, "clamp:C2 breakout:B4")]);
    near(prepared.held(segment(&design, "S2")).longest().expect("stretches").length, 750.0);
}

/// The ends of a duct hold: behind one of 0.9 m the last stretch is 0.3 m.
#[test]
fn a_duct_holds_at_its_ends() {
    let rows = line(&["0.4 m", "0.9 m", "0.3 m"]).replace("length = \"0.9 m\"\n", "length = \"0.9 m\"\nduct = true\n")
        + &half("J1", "B1", "")
        + &half("J4", "B4", "");
    let design = design(&rows, "W1,J1.1,J4.1,one,20,,\n");
    let prepared = prepare(&design);
    assert_eq!(gaps(&design, &prepared, "S1"), [(400.0, "breakout:B1 breakout:B2".to_owned())]);
    assert_eq!(gaps(&design, &prepared, "S3"), [(300.0, "breakout:B3 breakout:B4".to_owned())]);
}

/// Nothing holds a harness between two splices; a segment without wires has no stretch; a clamp without a place is named.
#[test]
fn what_nothing_holds() {
    let rows = line(&["0.4 m", "0.9 m"])
        + "[splice.P]\nbreakout = \"B1\"\n[splice.Q]\nbreakout = \"B2\"\n[clamp.C]\nsegment = \"S1\"\nkind = \"clamp\"\n";
    let design = design(&rows, "W1,splice:P,splice:Q,one,20,,\n");
    let prepared = prepare(&design);
    assert_eq!(gaps(&design, &prepared, "S1"), [(400.0, "- -".to_owned())]);
    assert_eq!(prepared.held(segment(&design, "S1")).nowhere.len(), 1);
    assert!(gaps(&design, &prepared, "S2").is_empty());
}

fn passings(design: &Design) -> Vec<(String, Option<String>, bool, Option<String>)> {
    let prepared = prepare(design);
    let of = |passing: &loomwright_analysis::Passing| {
        let half = passing.largest.map(|(half, _)| design.connectors[half].name.to_string());
        let first = passing.first.map(|first| design.branch_points[first].name.to_string());
        (design.clamps[passing.hole].name.to_string(), half, passing.to_side, first)
    };
    prepared.threading().iter().map(of).collect()
}

fn hole(name: &str, segment: &str, bore: &str) -> String {
    format!("[clamp.{name}]\nsegment = \"{segment}\"\nkind = \"hole\"\nat = \"0.1 m\"\nbore = \"{bore}\"\n")
}

/// A line with a hole in each segment and plugs at B1, B2 (10 mm) and B3; wires from the first to both others.
///
/// Plugs of 30 and 20 mm, holes of 25 and 21 mm: laid down from B1 on, 20 mm go through both and leave 5 and 1 mm; from B2 or B3 30 mm go
/// through the first and leave nothing. Plugs of 12 and 20 mm, holes of 25 and 15 mm: from B3 on, 12 mm go through both and leave 3 mm; from
/// B1 or B2 20 mm go through 15.
#[test]
fn the_bay_that_leaves_most_room_comes_first() {
    let rows = |j1: &str, h1: &str, h2: &str| {
        line(&["0.4 m", "0.4 m"])
            + &half("J1", "B1", &format!("shell = \"{j1}\""))
            + &half("J2", "B2", "shell = \"10 mm\"")
            + &half("J3", "B3", "shell = \"20 mm\"")
            + &hole("H1", "S1", h1)
            + &hole("H2", "S2", h2)
    };
    let wires = "W1,J1.1,J3.1,one,20,,\nW2,J1.2,J2.1,one,20,,\n";
    let some = |text: &str| Some(text.to_owned());
    let found = passings(&design(&rows("30 mm", "25 mm", "21 mm"), wires));
    assert_eq!(found, [("H1".to_owned(), some("J3"), true, some("B1")), ("H2".to_owned(), some("J3"), true, some("B1"))]);
    let found = passings(&design(&rows("12 mm", "25 mm", "15 mm"), wires));
    assert_eq!(found, [("H1".to_owned(), some("J1"), false, some("B3")), ("H2".to_owned(), some("J1"), false, some("B3"))]);
}

/// Two holes with small plugs at the ends and a large one between them: laid down in the middle, each end passes its own hole.
#[test]
fn a_harness_laid_down_at_its_end() {
    let rows = line(&["0.4 m", "0.4 m"])
        + &half("J1", "B1", "shell = \"12 mm\"")
        + &half("J2", "B2", "shell = \"40 mm\"")
        + &half("J3", "B3", "shell = \"14 mm\"")
        + &hole("H1", "S1", "15 mm")
        + &hole("H2", "S2", "15 mm");
    let wires = "W1,J1.1,J2.1,one,20,,\nW2,J3.1,J2.2,one,20,,\n";
    let some = |text: &str| Some(text.to_owned());
    let found = passings(&design(&rows, wires));
    assert_eq!(found, [("H1".to_owned(), some("J1"), false, some("B2")), ("H2".to_owned(), some("J3"), true, some("B2"))]);
}

/// On a ring of two segments with a hole each there is no order: each hole is passed by its smaller side. A plug that is put on in place is
/// not passed; one of unknown size is named.
#[test]
fn holes_on_a_ring_and_plugs_put_on_in_place() {
    let ring = |j2: &str, j3: &str| {
        "[breakout.B1]\n[breakout.B2]\n[segment.S1]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"1 m\"\n[segment.S2]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"2 m\"\n"
            .to_owned()
            + &half("J1", "B1", "shell = \"30 mm\"")
            + &half("J2", "B2", j2)
            + &half("J3", "B2", j3)
            + &hole("H1", "S1", "25 mm")
            + &hole("H2", "S2", "25 mm")
    };
    let wires = "W1,J1.1,J2.1,one,20,,\nW2,J1.2,J3.1,one,20,,S2\n";
    let some = |text: &str| Some(text.to_owned());
    let found = passings(&design(&ring("shell = \"20 mm\"", "shell = \"22 mm\""), wires));
    assert_eq!(found, [("H1".to_owned(), some("J2"), true, None), ("H2".to_owned(), some("J3"), true, None)]);
    let found = passings(&design(&ring("terminated_in_place = true", "shell = \"35 mm\""), wires));
    assert_eq!(found, [("H1".to_owned(), None, true, None), ("H2".to_owned(), some("J1"), false, None)]);
    let design = design(&ring("", ""), wires);
    let prepared = prepare(&design);
    // Rather the known 30 mm than what is not known.
    assert!(prepared.threading().iter().all(|passing| passing.unknown.is_empty() && !passing.to_side));
}

/// One wire of 1 mm: 0.5 mm² in one strand of 0.7979 mm, EI = 117 GPa π d⁴/64 = 2.3277e-3 N m²; 5 g/m; 0.5 m pinned:
/// π/2 · √(2.3277e-3/5e-3)/0.25 = 4.287 Hz by both bounds. With 2 N: × √(1 + 2 · 0.25/(π² · 2.3277e-3)) = × 4.7709; as a string
/// √(2/5e-3)/1 = 20 Hz.
#[test]
fn frequency_of_one_wire() {
    let rows = |more: &str| {
        line(&["0.5 m"]).replace("length = \"0.5 m\"\n", &format!("length = \"0.5 m\"\n{more}"))
            + &half("J1", "B1", "")
            + &half("J2", "B2", "")
    };
    let found = |more: &str| {
        let design = design(&rows(more), "W1,J1.1,J2.1,one,20,,\n");
        let prepared = prepare(&design);
        prepared.frequencies(segment(&design, "S1"), Metre(0.5)).expect("all is known")
    };
    let slack = found("");
    assert!((slack.loose.0 - 4.287).abs() < 2e-3 && (slack.bonded.0 - slack.loose.0).abs() < 1e-9 && slack.string.is_none(), "{slack:?}");
    let taut = found("tension = \"2 N\"\n");
    assert!((taut.loose.0 - 4.287 * 4.7709).abs() < 2e-2 && (taut.string.expect("a tension").0 - 20.0).abs() < 1e-9, "{taut:?}");
}

/// Two wires of 1 mm in one strand each, side by side: bonded adds 2 E A (0.5 mm)² = 2 · 117e9 · 0.5e-6 · 0.25e-6 = 0.02925 N m² to
/// 2 · 2.3277e-3; strands that slip in seven-stranded wire carry a seventh of the solid wire's stiffness.
#[test]
fn bounds_of_two_wires() {
    let rows = line(&["0.5 m"]) + &half("J1", "B1", "") + &half("J2", "B2", "");
    let wires = |kind: &str| format!("W1,J1.1,J2.1,{kind},,\nW2,J1.2,J2.2,{kind},,\n");
    let ratio = |kind: &str| {
        let design = design(&rows, &wires(kind));
        let prepared = prepare(&design);
        let found = prepared.frequencies(segment(&design, "S1"), Metre(0.5)).expect("all is known");
        (found.bonded.0 / found.loose.0).powi(2)
    };
    assert!((ratio("one,20") - (1.0 + 0.02925 / (2.0 * 2.3277e-3))).abs() < 2e-3);
    // 1.2 mm² in 7 strands of 0.4672 mm: 7 E π d⁴/64 = 1.9155e-3 N m²; 2 mm apart: 2 E A (1 mm)² = 0.2808 N m².
    assert!((ratio("two,16") - (1.0 + 0.2808 / (2.0 * 1.9155e-3))).abs() < 5e-2);
}
