//! Wires against their tables, breakers against gauges; published examples through a whole design.

use crate::*;

/// A wire list with `columns` after the ends, in one phase, for a profile.
fn list(profile: &str, phase: &str, columns: &str, rows: &[&str]) -> (Design, Verdict) {
    list_with(profile, phase, columns, rows, &[])
}

fn list_with(profile: &str, phase: &str, columns: &str, rows: &[&str], more: &[(&str, &str)]) -> (Design, Verdict) {
    let toml = format!("format = 1\nprofile = \"{profile}\"\n[phase.p]\n{phase}\n");
    let rows: String = rows.iter().enumerate().map(|(n, row)| format!("W{},J{n}.1,X{n}.1,{row}\n", n + 1)).collect();
    let wires = format!("wire,from,to,{columns}\n{rows}");
    judge_files(&[&[("vehicle.toml", toml.as_str()), ("wires.csv", wires.as_str())], more].concat(), None)
}

const IN_AIR: &str = "type,gauge_awg,current_a,length_m,bundle_wires,bundle_loaded_percent";

/// Limit of the first wire.
fn limit(judged: &(Design, Verdict)) -> f64 {
    margin_of(&judged.0, &judged.1, "AM-01", "wire:W1", Bound::AtMost).limit
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}

/// FAA AC 43.13-1B CHG 1, par. 11-68, example 2, page 11-27 (read): 14 AWG rated 200 °C in 50 °C at 20,000 ft, 8 wires of which 60 % are
/// loaded: 47 A × 0.91 × 0.6 = 26 A (25.662).
#[test]
fn am_01_faa_example_of_14_awg() {
    let run = |current: &str| {
        let row = format!("M22759/44,14,{current},1,8,60");
        list("aircraft-28v", "ambient = \"50 degC\"\naltitude = \"20000 ft\"", IN_AIR, &[&row])
    };
    for (current, fails) in [("25.6619", false), ("25.662", false), ("25.6621", true)] {
        let judged = run(current);
        near(limit(&judged), 25.662, 1e-9);
        let expected: &[&str] = if fails { &["AM-01/wire:W1"] } else { &[] };
        assert_eq!(findings_of(&judged.1, "AM-01"), expected, "{current}");
        assert!(not_judged_of(&judged.0, &judged.1, "AM-01").is_empty());
    }
    let (_, verdict) = run("30");
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "AM-01").expect("30 A is too much");
    assert_eq!(finding.text, "in its bundle: 8 wires, loaded to 60 %: 47 A alone × 0.6 bundle × 0.91 altitude");
    // Two values are from memory: the bundle and the altitude tables each have a row that is; those of 14 AWG are computed from read ones.
    let (design, verdict) = run("1");
    let rests_on = &margin_of(&design, &verdict, "AM-01", "wire:W1", Bound::AtMost).rests_on.notes;
    let what: Vec<&str> = rests_on.iter().map(|&id| design.note(id).what.as_str()).collect();
    assert!(
        what.contains(&"bundle factors") && what.contains(&"altitude factors") && what.contains(&"free-air current of 14 AWG"),
        "{what:?}"
    );
}

/// The circular's harness example, par. 11-69 (from memory): rated 200 °C in 60 °C at 60,000 ft, 35 wires of which 7 are loaded: 21.5 A and
/// 16.2 A alone, 8.8 A and 6.6 A together.
#[test]
fn am_01_faa_harness_example() {
    for (gauge, printed) in [(20, 8.8), (22, 6.6)] {
        let row = format!("M22759/44,{gauge},1,1,35,20");
        let judged = list("aircraft-28v", "ambient = \"60 degC\"\naltitude = \"60000 ft\"", IN_AIR, &[&row]);
        near(limit(&judged), printed, 0.06);
    }
}

/// In vacuum, 12 AWG: 25 A alone and 11.5 A in a bundle of 15 or more (EEE-INST-002, read as quoted), where the formula (29 − 15)/28 gives
/// 12.5 A; 20 AWG: 3.7 A (Lundquist and Leidecker, read), where it gives 3.25 A from 6.5 A (from memory). The lower is judged. 150 °C: × 0.8
/// (from memory).
#[test]
fn am_01_in_vacuum() {
    let columns = "type,gauge_awg,current_a,length_m,bundle_wires";
    for (row, expected) in [
        ("M22759/44,12,1,1,1", 25.0),
        ("M22759/44,12,1,1,8", 25.0 * 21.0 / 28.0),
        ("M22759/44,12,1,1,14", 25.0 * 15.0 / 28.0),
        ("M22759/44,12,1,1,15", 11.5),
        ("M22759/44,12,1,1,40", 11.5),
        ("M22759/44,20,1,1,15", 3.25),
        ("M22759/44,20,1,1,16", 3.25),
        ("M22759/34,12,1,1,1", 20.0),
        ("M22759/34,12,1,1,15", 9.2),
    ] {
        let judged = list("space-28v", "ambient = \"70 degC\"", columns, &[row]);
        near(limit(&judged), expected, 1e-9);
    }
    let (_, verdict) = list("space-28v", "ambient = \"70 degC\"", columns, &["M22759/44,12,12,1,15"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "AM-01").expect("12 A is between the two");
    assert_eq!(
        finding.text,
        "in its bundle: 15 wires: 25 A alone × 1 insulation × 0.5 bundle = 12.5 A, the table says 11.5 A: the table is judged"
    );
    // ECSS-style (from memory): 7.5 A alone, no bundle column and no factor of insulation, surroundings up to 40 °C.
    for (wires, expected) in [(1, 7.5), (8, 7.5 * 21.0 / 28.0), (15, 3.75), (30, 3.75)] {
        for kind in ["M22759/44", "M22759/34"] {
            let row = format!("{kind},20,1,1,{wires}");
            near(limit(&list("space-28v-ecss", "ambient = \"40 degC\"", columns, &[&row])), expected, 1e-9);
        }
    }
    let (design, verdict) = list("space-28v-ecss", "ambient = \"41 degC\"", columns, &["M22759/44,20,1,1,1"]);
    assert_eq!(not_judged_of(&design, &verdict, "AM-01"), [("wire:W1".to_owned(), "ambient of phase:p".to_owned())]);
}

/// A wire over two segments of which one has company: that one counts. On S2 lie W1, W2 and W3 with a stowed spare on no route: three wires,
/// 6.5 A × 26/28 (MIL-STD-975M, from memory). In air, 14 AWG at 150 K and sea level, 47 A alone: W1 carries 23.5 A, W2 47 A, W3 nothing:
/// half of the three are loaded, between 0.855 at 40 % and 0.815 at 60 % (MIL-W-5088L, read).
#[test]
fn am_01_in_segments() {
    let map = "[breakout.A]\n[breakout.B]\n[breakout.C]\n[segment.S1]\nfrom = \"A\"\nto = \"B\"\nlength = \"1 m\"\n\
               [segment.S2]\nfrom = \"B\"\nto = \"C\"\nlength = \"1 m\"\n\
               [splice.A]\nbreakout = \"A\"\n[splice.B]\nbreakout = \"B\"\n[splice.C]\nbreakout = \"C\"\n\
               [splice.B2]\nbreakout = \"B\"\n[splice.C2]\nbreakout = \"C\"\n[splice.B3]\nbreakout = \"B\"\n[splice.C3]\nbreakout = \"C\"\n";
    let run = |profile: &str, gauge: u32, currents: [&str; 3]| {
        let toml = format!("format = 1\nprofile = \"{profile}\"\n[phase.p]\nambient = \"50 degC\"\naltitude = \"0 ft\"\n{map}");
        // The stated count of W1 is overruled by its segments.
        let wires = format!(
            "wire,from,to,type,gauge_awg,length_m,current_a,bundle_wires\nW1,splice:A,splice:C,M22759/44,{gauge},2,{},40\n\
             W2,splice:B2,splice:C2,M22759/44,{gauge},2,{},\nW3,splice:B3,splice:C3,M22759/44,{gauge},2,{},\n\
             W4,splice:C3,stowed,M22759/44,{gauge},2,,\n",
            currents[0], currents[1], currents[2]
        );
        judge_files(&[("vehicle.toml", toml.as_str()), ("wires.csv", wires.as_str())], None)
    };
    near(limit(&run("space-28v", 20, ["1", "1", "1"])), 6.5 * 26.0 / 28.0, 1e-9);
    let (_, verdict) = run("space-28v", 20, ["6.2", "1", "1"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "AM-01").expect("6.2 A is too much");
    assert!(finding.text.starts_with("in segment S2: 3 wires, "), "{}", finding.text);
    let judged = run("aircraft-28v", 14, ["23.5", "47", "0"]);
    near(limit(&judged), 47.0 * 0.5 * (BUNDLE_OF_3[0] + BUNDLE_OF_3[1]), 1e-9);
    // What W3 carries is not known: from 59 % of the three loaded, 38.4 A, to 92 %, 34.9 A.
    let (design, verdict) = run("aircraft-28v", 14, ["36", "47", ""]);
    assert!(not_judged_of(&design, &verdict, "AM-01").contains(&("wire:W1".to_owned(), "current of wire:W3".to_owned())));
    assert!(not_judged_of(&design, &run("aircraft-28v", 14, ["10", "47", ""]).1, "AM-01").iter().all(|(wire, _)| wire == "wire:W3"));
}

/// Factors of three wires at 40 % and at 60 % loaded (MIL-W-5088L curves, read in a public table).
const BUNDLE_OF_3: [f64; 2] = [0.855, 0.815];

/// Whatever the corner, the hottest ambient counts.
#[test]
fn am_01_takes_the_hottest_ambient() {
    let at =
        |ambient: &str| list("aircraft-28v", &format!("ambient = {ambient}\naltitude = \"20000 ft\""), IN_AIR, &["M22759/44,14,1,1,8,60"]);
    let (design, verdict) = at("{ low = \"60 degC\", typical = \"70 degC\", high = \"90 degC\" }");
    let margin = margin_of(&design, &verdict, "AM-01", "wire:W1", Bound::AtMost);
    let [typical, hottest] = ["\"70 degC\"", "\"90 degC\""].map(|ambient| limit(&at(ambient)));
    assert!(hottest < typical - 0.5, "{hottest} {typical}");
    near(margin.limit, hottest, 1e-9);
    assert_eq!(margin.judged, 3);
}

/// Three wires and no word of bundles. In one bundle of three each may carry 26/28 of what it may alone: 6.5 A × 26/28 = 6.036 A of 20 AWG
/// (MIL-STD-975M, from memory).
#[test]
fn am_01_where_no_bundle_is_known() {
    let run = |current: &str| {
        let row = format!("M22759/44,20,{current},1");
        list("space-28v", "ambient = \"20 degC\"", "type,gauge_awg,current_a,length_m", &[&row, "M22759/44,20,1,1", "M22759/44,20,1,1"])
    };
    let passes = run("6");
    near(limit(&passes), 6.5 * 26.0 / 28.0, 1e-9);
    assert!(findings_of(&passes.1, "AM-01").is_empty());
    let (design, between) = run("6.1");
    assert!(findings_of(&between, "AM-01").is_empty());
    assert_eq!(not_judged_of(&design, &between, "AM-01"), [("wire:W1".to_owned(), "bundle_wires".to_owned())]);
    let why = &between.not_judged.iter().find(|row| row.rule.0 == "AM-01").expect("one").why;
    assert!(
        why.contains("6.1 A lies between") && why.contains("3 wires") && why.contains("6.04 A") && why.contains("no other wire, 6.5 A"),
        "{why}"
    );
    let fails = run("6.6");
    near(limit(&fails), 6.5, 1e-9);
    assert_eq!(findings_of(&fails.1, "AM-01"), ["AM-01/wire:W1"]);
    assert!(fails.1.findings.iter().any(|f| f.text == "even alone: 6.5 A alone × 1 insulation"), "{:?}", fails.1.findings);
    assert!(not_judged_of(&fails.0, &fails.1, "AM-01").is_empty());
}

/// Of a bundle in air without a word of its load: its other wires may be idle or the most loaded ones of the vehicle. Two wires, 14 AWG at 150 K,
/// sea level: 47 A alone. Of two wires with the other idle 50 % would be loaded at most; with the other one full, all.
#[test]
fn am_01_where_the_load_of_a_bundle_is_not_known() {
    let run = |own: &str, other: &str| {
        let rows = [format!("M22759/44,14,{own},1,2,"), format!("M22759/44,14,{other},1,2,")];
        list("aircraft-28v", "ambient = \"50 degC\"\naltitude = \"0 ft\"", IN_AIR, &[&rows[0], &rows[1]])
    };
    // 38 A of 47 A beside a full one: 90.4255 % loaded, between 0.87 at 80 % and 0.825 at 100 % (MIL-W-5088L, read).
    near(limit(&run("38", "47")), (0.87 - 0.045 * (0.904255 - 0.8) / 0.2) * 47.0, 1e-3);
    // 42 A: with the other idle 45 % are loaded, with the other full 95 %: in between.
    let (design, verdict) = run("42", "47");
    assert!(not_judged_of(&design, &verdict, "AM-01").contains(&("wire:W1".to_owned(), "bundle_loaded".to_owned())));
    // Nothing else in the vehicle carries anything, so the other cannot be full.
    let judged = run("42", "0");
    assert!(not_judged_of(&judged.0, &judged.1, "AM-01").is_empty() && findings_of(&judged.1, "AM-01").is_empty());
    // Above what it may carry even so.
    assert!(findings_of(&run("47", "0").1, "AM-01").contains(&"AM-01/wire:W1"));
}

/// What a rating, an altitude or a row of the tables lacks is named; what fails whatever they are is found all the same.
#[test]
fn am_01_names_what_it_lacks() {
    let air = |phase: &str, row: &str| list("aircraft-28v", phase, IN_AIR, &[row]);
    let missing = |(design, verdict): &(Design, Verdict)| {
        not_judged_of(design, verdict, "AM-01").into_iter().map(|(_, field)| field).collect::<Vec<_>>()
    };
    let (cool, low) = ("ambient = \"20 degC\"", "ambient = \"20 degC\"\naltitude = \"0 ft\"");
    assert_eq!(missing(&air(cool, "M22759/44,20,1,1,1,100")), ["altitude of phase:p"]);
    assert_eq!(findings_of(&air(cool, "M22759/44,20,40,1,1,100").1, "AM-01"), ["AM-01/wire:W1"]);
    assert_eq!(missing(&air("ambient = \"20 degC\"\naltitude = \"70000 ft\"", "M22759/44,20,1,1,1,100")), ["altitude of phase:p"]);
    assert_eq!(missing(&air(low, ",20,1,1,1,100")), ["type"]);
    assert_eq!(missing(&air(low, "copper-tin,20,1,1,1,100")), ["rating"]);
    assert_eq!(findings_of(&air(low, "copper-tin,20,40,1,1,100").1, "AM-01"), ["AM-01/wire:W1"]);
    assert_eq!(missing(&air(low, "M22759/44,20,,1,1,100")), ["current"]);
    assert_eq!(missing(&air(low, "M22759/44,TBD,1,1,1,100")), ["gauge"]);
    assert_eq!(missing(&air(low, "M22759/44,26,1,1,1,100")), ["gauge"]);
    assert_eq!(missing(&air("ambient = \"190 degC\"\naltitude = \"0 ft\"", "M22759/44,20,1,1,1,100")), ["ambient of phase:p"]);
    // As hot as the insulation may get: nothing may flow.
    let hot = air("ambient = \"200 degC\"\naltitude = \"0 ft\"", "M22759/44,20,0.1,1,1,100");
    assert_eq!((findings_of(&hot.1, "AM-01"), limit(&hot)), (vec!["AM-01/wire:W1"], 0.0));
    // In vacuum the best insulation, 260 °C, carries 1.15 of the table (from memory): 7.475 A of 20 AWG.
    let bare = |current: &str| {
        list("space-28v", "ambient = \"20 degC\"", "type,gauge_awg,current_a,length_m", &[&format!("copper-tin,20,{current},1")])
    };
    assert_eq!(missing(&bare("7.4")), ["rating"]);
    assert_eq!(findings_of(&bare("7.5").1, "AM-01"), ["AM-01/wire:W1"]);
    // A profile without tables.
    let limits = "{ value = \"20 V\", source = \"s\", how = \"read\" }";
    let profile = format!(
        "[profile.bare]\nnominal = {limits}\ndrop_continuous = {limits}\ndrop_intermittent = {limits}\nvolts_min = {limits}\nvolts_max = {limits}\n"
    );
    let bare = list_with("bare", low, IN_AIR, &["M22759/44,20,1,1,1,100"], &[("catalog/p.toml", &profile)]);
    assert_eq!(missing(&bare), ["ampacity"]);
}

/// A high-strength alloy of 85 % conductivity carries √0.85 of what copper does (equal heat I²R): 24 AWG, 3.3 A alone (from memory). Aluminium
/// has rows of its own: 8 AWG at 150 °C, 45 A in the short table (FAA table 11-10, from memory), of a bundle with at most 20 % loaded.
#[test]
fn am_01_metals() {
    let columns = "type,gauge_awg,current_a,length_m,bundle_wires";
    let judged = list("space-28v", "ambient = \"20 degC\"", columns, &["M22759/33,24,1,1,1"]);
    near(limit(&judged), 3.3 * 0.85f64.sqrt(), 1e-9);
    let types = "type,alloy,gauge_awg,area_mm2,conductivity_percent,max_ohm_per_km,rating_degc\nal,aluminium,8,8.6,61,3.5,150\n";
    let low = "ambient = \"60 degC\"\naltitude = \"0 ft\"";
    for (bundle, expected) in [("30,20", 45.0), ("1,100", 45.0)] {
        let row = format!("al,8,1,1,{bundle}");
        near(limit(&list_with("aircraft-28v", low, IN_AIR, &[&row], &[("catalog/wires.csv", types)])), expected, 1e-9);
    }
    let (design, verdict) = list_with("aircraft-28v", low, IN_AIR, &["al,8,1,1,30,40"], &[("catalog/wires.csv", types)]);
    assert_eq!(not_judged_of(&design, &verdict, "AM-01"), [("wire:W1".to_owned(), "bundle_loaded".to_owned())]);
}

/// A wire between modelled elements is judged by what it carries there, not by what is stated beside it; a stowed one is no case.
#[test]
fn am_01_by_the_network() {
    let toml = bench("current = \"1 mA\"", "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"5 A\"\n");
    let wires = "wire,from,to,type,gauge_awg,length,current,bundle_wires\n\
                 inner,node:L,node:M,M22759/44,20,1 m,2 A,8\n\
                 spare,J9.3,stowed,M22759/44,20,1 m,,8\n";
    let (design, verdict) = judge_files(&[("vehicle.toml", &toml), ("wires.csv", wires)], None);
    let margin = margin_of(&design, &verdict, "AM-01", "wire:inner", Bound::AtMost);
    near(margin.value, 5.0, 1e-6);
    near(margin.limit, 6.5 * 21.0 / 28.0, 1e-9);
    assert_eq!(findings_of(&verdict, "AM-01"), ["AM-01/wire:inner"]);
    assert_eq!(counted(&verdict, "AM-01"), 1);
}

/// A bench whose feed goes over a breaker and a wire.
pub(crate) fn behind(profile: &str, protector: &str, rows: &[&str]) -> (Design, Verdict) {
    let text = bench(
        "current = \"1 A\"",
        &format!(
            "[node.M]\n[node.N]\n{protector}\nline = \"bus:A\"\nload = \"node:M\"\n[load.Y]\nline = \"node:N\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n"
        ),
    );
    let rows: String = rows.iter().enumerate().map(|(n, row)| format!("W{},node:M,node:N,1 m,{row}\n", n + 1)).collect();
    let wires = format!("wire,from,to,length,type,gauge_awg,group\n{rows}");
    judge_files(&[("vehicle.toml", &text.replace("space-28v", profile)), ("wires.csv", &wires)], None)
}

/// FAA AC 43.13-1B, table 11-3 (read): 20 AWG, breaker 7.5 A, fuse 5 A; 18 AWG, 10 A both; 26 AWG and a breaker for 1/0 AWG are not listed.
#[test]
fn am_02_by_gauge() {
    for (protector, row, limit, rating, fails) in [
        ("breaker", "M22759/44,20,", 7.5, 7.5, false),
        ("breaker", "M22759/44,20,", 7.5, 7.4, false),
        ("breaker", "M22759/44,20,", 7.5, 7.6, true),
        ("fuse", "M22759/44,20,", 5.0, 5.0, false),
        ("fuse", "M22759/44,20,", 5.0, 5.1, true),
        ("breaker", "M22759/44,18,", 10.0, 10.1, true),
    ] {
        let (design, verdict) = behind("aircraft-28v", &format!("[{protector}.CB]\nrating = \"{rating} A\""), &[row]);
        let margin = margin_of(&design, &verdict, "AM-02", "wire:W1", Bound::AtMost);
        assert_eq!((margin.limit, margin.value), (limit, rating));
        let expected: &[&str] = if fails { &["AM-02/wire:W1"] } else { &[] };
        assert_eq!(findings_of(&verdict, "AM-02"), expected, "{protector} {row} {rating}");
    }
    // Two wires of a group share.
    let pair = ["M22759/44,20,g", "M22759/44,20,g"];
    for (rating, fails) in [("15 A", 0), ("15.1 A", 2)] {
        let (_, verdict) = behind("aircraft-28v", &format!("[breaker.CB]\nrating = \"{rating}\""), &pair);
        assert_eq!(findings_of(&verdict, "AM-02").len(), fails);
    }
    for (protector, row, field) in [
        ("[breaker.CB]\nrating = \"5 A\"", "M22759/44,26,", "gauge"),
        ("[breaker.CB]\nrating = \"5 A\"", "M22759/44,TBD,", "gauge"),
        ("[breaker.CB]\nrating = \"5 A\"", "copper-tin,1/0,", "gauge"),
        ("[breaker.CB]", "M22759/44,20,", "rating of breaker:CB"),
    ] {
        let (design, verdict) = behind("aircraft-28v", protector, &[row]);
        assert_eq!(not_judged_of(&design, &verdict, "AM-02"), [("wire:W1".to_owned(), field.to_owned())], "{row}");
    }
    // A profile that names no chart does not ask.
    let (design, verdict) = behind("space-28v", "[breaker.CB]\nrating = \"50 A\"", &["M22759/44,20,"]);
    assert!(counted(&verdict, "AM-02") == 0 && not_judged_of(&design, &verdict, "AM-02").is_empty());
}

/// What lies behind a load, a source or another breaker is not the breaker's to protect; what lies behind a switch or a diode is.
#[test]
fn am_02_how_far_a_breaker_feeds() {
    let text = bench(
        "current = \"1 A\"",
        "[node.M]\n[node.N]\n[node.O]\n[node.P]\n[node.Q]\n\
         [breaker.CB1]\nline = \"bus:A\"\nload = \"node:M\"\nrating = \"10 A\"\n\
         [breaker.CB2]\nline = \"node:N\"\nload = \"node:O\"\nrating = \"5 A\"\n\
         [switch.S]\nfrom = \"node:N\"\nto = \"node:P\"\nstate = \"open\"\n\
         [load.Y]\nline = \"node:O\"\nreturn = \"node:Q\"\ncurrent = \"1 A\"\n",
    );
    let wires = "wire,from,to,length,type,gauge_awg\n\
                 first,node:M,node:N,1 m,M22759/44,20\n\
                 second,node:O,X.1,1 m,M22759/44,20\n\
                 switched,node:P,X.2,1 m,M22759/44,20\n\
                 back,node:Q,node:R,1 m,M22759/44,20\n";
    let (design, verdict) = judge_files(&[("vehicle.toml", &text.replace("space-28v", "aircraft-28v")), ("wires.csv", wires)], None);
    assert_eq!(findings_of(&verdict, "AM-02"), ["AM-02/wire:first", "AM-02/wire:switched"]);
    let judged: Vec<String> = verdict.margins.iter().filter(|m| m.rule.0 == "AM-02").map(|m| design.subject_words(m.subject)).collect();
    assert_eq!(judged, ["wire:first", "wire:second", "wire:switched"]);
}
