//! Rules on routes, by hand.

use crate::*;

/// From A to D over B (1 + 1 m) or over C (1 + 1.5 m); 50 % of a hole may be taken, `power` and `millivolt` are kept apart (space-28v).
const MAP: &str = "[breakout.A]\n[breakout.B]\n[breakout.C]\n[breakout.D]\n[breakout.E]\n\
                   [segment.AB]\nfrom = \"A\"\nto = \"B\"\nlength = \"1 m\"\n[segment.BD]\nfrom = \"B\"\nto = \"D\"\nlength = \"1 m\"\n\
                   [segment.AC]\nfrom = \"A\"\nto = \"C\"\nlength = \"1 m\"\n[segment.CD]\nfrom = \"C\"\nto = \"D\"\nlength = \"1.5 m\"\n\
                   [connector.J1]\nbreakout = \"A\"\n[connector.J2]\nbreakout = \"D\"\n[connector.J3]\nbreakout = \"E\"\n";

/// 1 mm over insulation.
const TYPES: &str = "type,gauge_awg,area_mm2,max_ohm_per_km,od_mm\nown,20,0.6,35,1\nown,22,0.4,50,\n";

pub(crate) fn harness(more: &str, wires: &str) -> (Design, Verdict) {
    let vehicle = format!("format = 1\nend_allowance = \"0 m\"\nslack = \"0 %\"\n{MAP}{more}");
    let wires = format!("wire,from,to,type,gauge_awg,length_m,via,circuit,cable\n{wires}");
    judge_files(&[("vehicle.toml", &vehicle), ("wires.csv", &wires), ("catalog/wires.csv", TYPES)], None)
}

fn finding<'v>(verdict: &'v Verdict, id: &str) -> &'v Finding {
    let found = verdict.findings.iter().find(|finding| finding.id == id);
    found.unwrap_or_else(|| panic!("{id}: {:?} {:?}", findings(verdict), verdict.not_judged))
}

const CLASSES: &str = "[circuit.p]\nclass = \"power\"\n[circuit.m]\nclass = \"millivolt\"\n[circuit.d]\nclass = \"data\"\n";

#[test]
fn rt_01_no_way_at_all_and_no_way_left() {
    // No segments lead to E.
    let (_, verdict) = harness("", "W1,J1.1,J2.1,own,20,,,,\nW2,J1.2,J3.1,own,20,,,,\n");
    assert_eq!(findings_of(&verdict, "RT-01"), ["RT-01/wire:W2"]);
    let text = &finding(&verdict, "RT-01/wire:W2").text;
    assert_eq!(text, "no way from breakout A to E: no segments lead on from what E reaches");
    // Two circuits take both ways; the third may meet neither.
    let apart = "[circuit.a]\nnot_with = [\"b\", \"c\"]\n[circuit.b]\nnot_with = [\"c\"]\n";
    let wires = "W1,J1.1,J2.1,own,20,,,a,\nW2,J1.2,J2.2,own,20,,,b,\nW3,J1.3,J2.3,own,20,,,c,\n";
    let (design, verdict) = harness(apart, wires);
    assert_eq!(findings_of(&verdict, "RT-01"), ["RT-01/wire:W3"]);
    let told = finding(&verdict, "RT-01/wire:W3");
    assert!(
        told.text.contains("segment AB holds circuit a (W1)") && told.text.contains("segment AC holds circuit b (W2)"),
        "{}",
        told.text
    );
    assert!(quoted(&design, told).contains(&"AB"), "{:?}", quoted(&design, told));
    assert_eq!(counted(&verdict, "RT-01"), 3);
    // With a third way there is none to find.
    let more = format!("{apart}[segment.AD]\nfrom = \"A\"\nto = \"D\"\nlength = \"9 m\"\n");
    assert_eq!(findings_of(&harness(&more, wires).1, "RT-01"), [""; 0]);
}

/// 2 m over B, 2.5 m over C.
#[test]
fn rt_02_on_both_sides_of_the_route() {
    for (length, via, path, fails) in
        [("2.000001", "", 2.0, false), ("2", "", 2.0, false), ("1.999", "", 2.0, true), ("2.4", "C", 2.5, true), ("2.5", "C", 2.5, false)]
    {
        let (design, verdict) = harness("", &format!("W1,J1.1,J2.1,own,20,{length},{via},,\n"));
        let expected: Vec<&str> = if fails { vec!["RT-02/wire:W1"] } else { vec![] };
        assert_eq!(findings_of(&verdict, "RT-02"), expected, "{length} {via}");
        let margin = margin_of(&design, &verdict, "RT-02", "wire:W1", Bound::AtLeast);
        assert!((margin.limit - path).abs() < 1e-12 && margin.state.is_none(), "{margin:?}");
    }
    // One from its route is as long as that.
    assert!(harness("", "W1,J1.1,J2.1,own,20,,,,\n").1.margins.iter().all(|margin| margin.rule.0 != "RT-02"));
}

#[test]
fn rt_03_a_pinned_wire_where_it_is_not_admitted() {
    let more = format!("{CLASSES}[segment.BE]\nfrom = \"B\"\nto = \"E\"\nlength = \"1 m\"\n");
    let more = more.replace(
        "[circuit.p]",
        "[segment.CE]\nfrom = \"C\"\nto = \"E\"\nlength = \"1 m\"\nadmits = [\"millivolt\", \"data\"]\n[circuit.p]",
    );
    let with = |wires: &str| harness(&more, wires).1;
    // Free, it goes around.
    let verdict = with("W1,J1.1,J3.1,own,20,,,p,\nW2,J1.2,J3.2,own,20,,C,m,\n");
    assert_eq!((findings_of(&verdict, "RT-03"), counted(&verdict, "RT-03")), (vec![], 1));
    let verdict = with("W1,J1.1,J3.1,own,20,,CE,p,\nW3,J1.3,J3.3,own,20,,CE,,\n");
    assert_eq!(findings_of(&verdict, "RT-03"), ["RT-03/segment:CE"]);
    let text = &finding(&verdict, "RT-03/segment:CE").text;
    assert_eq!(text, "it admits millivolt, data, and in it lies W1 of class power and W3, whose circuit states no class");
    assert_eq!(findings_of(&verdict, "RT-01"), [""; 0], "it lies where it is put");
}

#[test]
fn rt_04_pinned_classes_that_are_to_be_apart() {
    let free = "W1,J1.1,J2.1,own,20,,,p,\nW2,J1.2,J2.2,own,20,,,m,\nW3,J1.3,J2.3,own,20,,,d,\n";
    let (design, verdict) = harness(CLASSES, free);
    assert_eq!((findings_of(&verdict, "RT-04"), counted(&verdict, "RT-04")), (vec![], 4), "W2 goes over C");
    // The pair rests on a recalled source.
    let counted = verdict.counted.iter().find(|row| row.rule.0 == "RT-04").expect("judged");
    assert!(counted.rests_on.notes.iter().any(|note| design.note(*note).what.contains("classes millivolt and power apart")));
    let (design, verdict) = harness(CLASSES, &free.replace("W2,J1.2,J2.2,own,20,,,m", "W2,J1.2,J2.2,own,20,,B,m").replace(",,,p", ",,B,p"));
    assert_eq!(findings_of(&verdict, "RT-04"), ["RT-04/segment:AB", "RT-04/segment:BD"]);
    let told = finding(&verdict, "RT-04/segment:AB");
    assert_eq!(told.text, "W2 of class millivolt and W1 of class power lie in it");
    assert!(quoted(&design, told).iter().any(|text| text.contains("\"millivolt\", \"power\"")), "{:?}", quoted(&design, told));
    // Classes of which the profile keeps no pair apart may meet.
    assert_eq!(findings_of(&harness(CLASSES, "W1,J1.1,J2.1,own,20,,B,p,\nW3,J1.3,J2.3,own,20,,B,d,\n").1, "RT-04"), [""; 0]);
    // No class anywhere: said once.
    let (design, verdict) = harness("", "W1,J1.1,J2.1,own,20,,,,\n");
    assert_eq!(not_judged_of(&design, &verdict, "RT-04"), [("vehicle:unnamed".to_owned(), "class".to_owned())]);
}

#[test]
fn rt_05_pinned_circuits_that_must_not_meet() {
    let apart = "[circuit.a]\nnot_with = [\"b\"]\n[circuit.b]\n";
    let with = |via: &str| harness(apart, &format!("W1,J1.1,J2.1,own,20,,B,a,\nW2,J1.2,J2.2,own,20,,{via},b,\n")).1;
    assert_eq!((findings_of(&with(""), "RT-05"), counted(&with(""), "RT-05")), (vec![], 1));
    let verdict = with("B");
    assert_eq!(findings_of(&verdict, "RT-05"), ["RT-05/circuit:a"]);
    assert_eq!(finding(&verdict, "RT-05/circuit:a").text, "with circuit b it shares segments AB and BD: there lie W1 and W2");
}

/// Wires of 1 mm in a hole of √10 mm: each takes a tenth, so five are at the limit of 50 %.
#[test]
fn rt_06_fill_on_both_sides_of_the_limit() {
    let hole = |kind: &str| format!("[clamp.H]\nsegment = \"AB\"\nkind = \"{kind}\"\nat = \"0.5 m\"\nbore = \"3.16227766 mm\"\n");
    let wires = |count: usize| -> String { (1..=count).map(|n| format!("W{n},J1.{n},J2.{n},own,20,,B,,\n")).collect() };
    for (kind, count, fails) in [("hole", 4, false), ("hole", 5, false), ("hole", 6, true), ("clamp", 6, true)] {
        let (design, verdict) = harness(&hole(kind), &wires(count));
        let expected = if fails { vec![format!("RT-06/{kind}:H")] } else { vec![] };
        assert_eq!(findings_of(&verdict, "RT-06"), expected, "{kind} {count}");
        let margin = margin_of(&design, &verdict, "RT-06", &format!("{kind}:H"), Bound::AtMost);
        assert!((margin.value - 10.0 * count as f64).abs() < 1e-6 && (margin.limit - 50.0).abs() < 1e-12, "{margin:?}");
    }
    // Free wires go over C where the hole is full.
    let free = wires(7).replace(",B,", ",,");
    let (design, verdict) = harness(&hole("hole"), &free);
    assert!((margin_of(&design, &verdict, "RT-06", "hole:H", Bound::AtMost).value - 50.0).abs() < 1e-6);
    assert_eq!(findings_of(&verdict, "RT-06"), [""; 0]);
    // One that doubles back is there twice, and a tie has no opening.
    let stub = format!("{}[segment.BE]\nfrom = \"B\"\nto = \"E\"\nlength = \"1 m\"\n", hole("hole").replace("\"AB\"", "\"BE\""));
    let (design, verdict) = harness(&stub, "W1,J1.1,J2.1,own,20,,E,,\n");
    assert!((margin_of(&design, &verdict, "RT-06", "hole:H", Bound::AtMost).value - 20.0).abs() < 1e-6);
    let tie = "[clamp.H]\nsegment = \"AB\"\nkind = \"tie\"\nat = \"0.5 m\"\n";
    assert_eq!(counted(&harness(tie, &wires(6)).1, "RT-06"), 0);
    // Without a diameter of every wire in it there is no sum.
    let (design, verdict) = harness(&hole("hole"), "W1,J1.1,J2.1,own,22,,B,,\n");
    assert_eq!(not_judged_of(&design, &verdict, "RT-06"), [("hole:H".to_owned(), "od".to_owned())]);
}

#[test]
fn rt_07_cores_of_one_cable_on_two_ways() {
    let with = |via: &str| harness("", &format!("W1,J1.1,J2.1,own,20,,,,C1\nW2,J2.2,J1.2,own,20,,{via},,C1\n")).1;
    assert_eq!((findings_of(&with(""), "RT-07"), counted(&with(""), "RT-07")), (vec![], 1));
    let verdict = with("C");
    assert_eq!(findings_of(&verdict, "RT-07"), ["RT-07/cable:C1"]);
    assert_eq!(finding(&verdict, "RT-07/cable:C1").text, "its cores W1 and W2 lie on different ways, one of them through segment AB");
    // Cores to other breakouts may part.
    let more = "[segment.DE]\nfrom = \"D\"\nto = \"E\"\nlength = \"1 m\"\n";
    let verdict = harness(more, "W1,J1.1,J2.1,own,20,,,,C1\nW2,J1.2,J3.2,own,20,,,,C1\n").1;
    assert_eq!((findings_of(&verdict, "RT-07"), counted(&verdict, "RT-07")), (vec![], 0));
}

/// Two wires to an initiator, the first from a pin, in a cable of a kind; segments with a covering.
pub(crate) fn fired(from: &str, kind: &str, covering: &str) -> (Design, Verdict) {
    let more = format!(
        "[load.BW]\nline = \"J2.1\"\nreturn = \"J2.2\"\nresistance = \"1 ohm\"\nstate = \"off\"\n[initiator.I]\nload = \"BW\"\n\
         [cable.C1]\nkind = \"{kind}\"\nlay = \"16 mm\"\n[covering.B]\nkind = \"{covering}\"\n"
    );
    let map = |text: &str| {
        text.replace("to = \"B\"", "to = \"B\"\ncoverings = [\"B\"]").replace("from = \"B\"", "from = \"B\"\ncoverings = [\"B\"]")
    };
    let vehicle = map(&format!("format = 1\nend_allowance = \"0 m\"\nslack = \"0 %\"\n{MAP}{more}"));
    let wires =
        format!("wire,from,to,type,gauge_awg,length_m,via,circuit,cable\nW1,{from},J2.1,own,20,,B,,C1\nW2,J1.2,J2.2,own,20,,B,,C1\n");
    judge_files(&[("vehicle.toml", &vehicle), ("wires.csv", &wires), ("catalog/wires.csv", TYPES)], None)
}

/// A shielded cable or a braid over every segment is enough; a sleeve is no shield.
#[test]
fn or_07_shields_of_firing_circuits() {
    for (kind, covering, fails) in [
        ("twisted", "sleeve", true),
        ("twisted-shielded", "sleeve", false),
        ("twisted", "braid", false),
        ("twisted-shielded", "braid", false),
    ] {
        let (_, verdict) = fired("J1.1", kind, covering);
        let expected = if fails { vec!["OR-07/wire:W1", "OR-07/wire:W2"] } else { vec![] };
        assert_eq!(findings_of(&verdict, "OR-07"), expected, "{kind} {covering}");
        assert_eq!(counted(&verdict, "OR-07"), 2);
    }
    // A shield that is cut back at one half shields half of what it should.
    for (end, fails) in [("shell", false), ("cut", true), ("3", false)] {
        let ends = format!("twisted-shielded\"\nshield_ends = [[\"J1\", \"shell\"], [\"J2\", \"{end}\"]]\nod = \"3 mm");
        let (_, verdict) = fired("J1.1", &ends, "sleeve");
        let expected = if fails { vec!["OR-07/wire:W1", "OR-07/wire:W2"] } else { vec![] };
        assert_eq!(findings_of(&verdict, "OR-07"), expected, "{end}");
    }
}
