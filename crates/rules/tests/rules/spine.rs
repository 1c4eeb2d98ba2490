//! The first rules: drop, volts, feed, operating point; dispositions, the profile, what a margin rests on.

use crate::*;

/// 10 A over 0.1 ohm are 1.000 V, the allotment of the profile; 10.01 A are 1.001 V.
#[test]
fn vd_01_limit_and_both_sides() {
    for (current, expected) in [("9.99 A", vec![]), ("10 A", vec![]), ("10.01 A", vec!["VD-01/load:X"])] {
        let (_, verdict) = judge(&bench(&format!("current = \"{current}\""), ""));
        assert_eq!(findings(&verdict), expected, "{current}");
        assert!(verdict.not_judged.is_empty(), "{:?}", verdict.not_judged);
    }
    let (_, verdict) = judge(&bench("current = \"10.01 A\"", ""));
    let vd = margin(&verdict, "VD-01", Bound::AtMost);
    assert!((vd.value - 1.001).abs() < 1e-9 && vd.limit == 1.0 && vd.judged == 3 && vd.failing.len() == 3, "{vd:?}");
}

/// The return counts as the feed does: 50 mΩ of link in it make 10 A × 0.15 Ω = 1.5 V of what was 1 V, and the bare 6.6 A × 0.15 Ω = 0.99 V
/// passes.
#[test]
fn vd_01_counts_the_return() {
    let with_return = |current: &str| {
        bench(&format!("current = \"{current}\""), "[node.Q]\n[link.back]\nfrom = \"node:Q\"\nto = \"node:R\"\nohms = \"50 mohm\"\n")
            .replace("return = \"node:R\"\ncurrent", "return = \"node:Q\"\ncurrent")
    };
    let (_, verdict) = judge(&with_return("10 A"));
    assert!((margin(&verdict, "VD-01", Bound::AtMost).value - 1.5).abs() < 1e-9);
    assert_eq!(findings(&verdict), vec!["VD-01/load:X"]);
    assert!(findings(&judge(&with_return("6.6 A")).1).is_empty());
}

/// Intermittent duty has 2 V; the load's own sheet overrides both.
#[test]
fn vd_01_takes_the_limit_of_duty_or_sheet() {
    for (rows, expected) in [
        ("duty = \"intermittent\"\ncurrent = \"20 A\"\nvolts_min = \"20 V\"", vec![]),
        ("duty = \"intermittent\"\ncurrent = \"20.01 A\"\nvolts_min = \"20 V\"", vec!["VD-01/load:X"]),
        ("drop_allowed = \"0.5 V\"\ncurrent = \"5 A\"", vec![]),
        ("drop_allowed = \"0.5 V\"\ncurrent = \"5.01 A\"", vec!["VD-01/load:X"]),
    ] {
        assert_eq!(findings(&judge(&bench(rows, "")).1), expected, "{rows}");
    }
}

/// 28 V less 10 A × 0.101 ohm are 26.99 V.
#[test]
fn vl_01_limits_and_both_sides() {
    for (rows, expected) in [
        ("volts_min = \"26.98 V\"", vec![]),
        ("volts_min = \"26.99 V\"", vec![]),
        ("volts_min = \"27.00 V\"", vec!["VL-01/load:X"]),
        ("volts_max = \"27.00 V\"", vec![]),
        ("volts_max = \"26.99 V\"", vec![]),
        ("volts_max = \"26.98 V\"", vec!["VL-01/load:X"]),
    ] {
        let (_, verdict) = judge(&bench(&format!("current = \"10 A\"\n{rows}"), ""));
        assert_eq!(findings_of(&verdict, "VL-01"), expected, "{rows}");
        let sides = verdict.margins.iter().filter(|m| m.rule.0 == "VL-01").count();
        assert_eq!(sides, 2, "a band is two margins");
    }
}

/// The profile's 22 V apply where the sheet says nothing.
#[test]
fn vl_01_falls_back_to_the_profile() {
    let (_, verdict) = judge(&bench("current = \"10 A\"", ""));
    assert_eq!(margin(&verdict, "VL-01", Bound::AtLeast).limit, 22.0);
    assert_eq!(margin(&verdict, "VL-01", Bound::AtMost).limit, 29.0);
}

#[test]
fn a_load_that_no_phase_commands_on_is_no_case() {
    let (_, verdict) = judge(&bench("current = \"10 A\"\nstate = \"off\"", ""));
    let of_the_load = verdict.margins.iter().filter(|m| m.rule.0 != "BB-01").count();
    assert!(of_the_load == 0 && verdict.not_judged.is_empty() && verdict.findings.is_empty(), "{verdict:?}");
}

#[test]
fn uf_01_open_switch() {
    let load = "current = \"1 A\"";
    let with = |state: &str| {
        let rows = format!(
            "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n[switch.S]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"{state}\"\n"
        );
        judge(&bench(load, &rows))
    };
    assert!(findings(&with("closed").1).is_empty());
    let (design, verdict) = with("open");
    assert_eq!(findings(&verdict), ["UF-01/load:Y"]);
    assert_eq!(verdict.findings[0].phases.len(), 3);
    // What it would get cannot be said.
    let expected = [("VL-01/load:Y", "feed"), ("VD-01/load:Y", "feed")].map(|(a, b)| (a.to_owned(), b.to_owned()));
    assert_eq!(not_judged(&design, &verdict), expected);
}

/// A converter is fed like a load: with its line open it is a finding, though no load hangs on it.
#[test]
fn uf_01_of_a_converter() {
    let with = |state: &str| {
        let rows = format!(
            "[node.M]\n[node.O]\n[switch.S]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"{state}\"\n\
             [converter.C]\nline = \"node:M\"\nreturn = \"node:R\"\noutput = \"node:O\"\noutput_return = \"node:R\"\n\
             emf = \"5 V\"\nohms = \"10 mohm\"\nefficiency = \"80 %\"\nquiescent = \"1 W\"\n"
        );
        judge(&bench("current = \"1 A\"", &rows)).1
    };
    assert_eq!(findings(&with("closed")), [""; 0]);
    assert_eq!(findings(&with("open")), ["UF-01/converter:C"]);
}

/// 1000 W with a drop-out of 24 V: as 24²/1000 = 0.576 ohm behind 0.101 ohm it stands at 28 × 0.576/0.677 = 23.82 V, and lets go.
#[test]
fn uf_01_and_vl_01_of_a_load_that_let_go() {
    let (design, verdict) = judge(&bench("power = \"1000 W\"\ndrop_out = \"24 V\"\nvolts_min = \"24 V\"", ""));
    assert_eq!(findings(&verdict), ["UF-01/load:X", "VL-01/load:X"]);
    let volts = margin(&verdict, "VL-01", Bound::AtLeast).value;
    let by_hand = 28.0 * 0.576 / 0.677;
    assert!((volts - by_hand).abs() < 1e-6, "{volts} against {by_hand}");
    assert_eq!(not_judged(&design, &verdict), [("VD-01/load:X".to_owned(), "operating point".to_owned())]);
}

/// A battery of 28 V behind 1 ohm gives at most 28²/4 = 196 W.
#[test]
fn op_01_both_sides_of_collapse() {
    let with = |power: &str| {
        let text = bench(&format!("power = \"{power}\"\nvolts_min = \"10 V\"\ndrop_allowed = \"20 V\""), "");
        judge(&text.replace("emf = \"28 V\"\nohms = \"1 mohm\"", "emf = \"28 V\"\nohms = \"0.9 ohm\""))
    };
    assert!(findings_of(&with("195 W").1, "OP-01").is_empty());
    let (design, verdict) = with("197 W");
    assert_eq!(findings(&verdict), ["OP-01/load:X"]);
    let text = &verdict.findings[0].text;
    assert!(text.contains("bus:A") && text.contains("197.0 W are asked and 196.0 W possible"), "{text}");
    let of_the_load: Vec<String> =
        not_judged(&design, &verdict).into_iter().map(|(id, _)| id).filter(|id| id.ends_with("load:X")).collect();
    assert_eq!(of_the_load, ["VL-01/load:X", "VD-01/load:X", "SN-01/load:X"], "volts, drop and direction cannot be said");
}

/// 100 W behind 1 ohm settle at 23.8 V, above the drop-out; let go, it stays away, for 28 V is below its return voltage.
#[test]
fn op_02_two_states() {
    let with = |return_above: &str| {
        let text =
            bench(&format!("power = \"100 W\"\ndrop_out = \"18 V\"\nreturn_above = \"{return_above}\"\ndrop_allowed = \"20 V\""), "");
        judge(&text.replace("emf = \"28 V\"\nohms = \"1 mohm\"", "emf = \"28 V\"\nohms = \"0.9 ohm\"")).1
    };
    assert_eq!(findings(&with("27 V")), [""; 0]);
    assert!(findings(&with("29 V")).contains(&"OP-02/load:X"));
}

/// Taking an input away moves the subject to *not judged*, with the field named.
#[test]
fn a_demand_that_is_tbd_is_not_judged() {
    let (design, verdict) = judge(&bench("power = \"TBD\"", ""));
    let expected = [("VL-01/load:X", "power"), ("VD-01/load:X", "power")].map(|(a, b)| (a.to_owned(), b.to_owned()));
    assert_eq!(not_judged(&design, &verdict), expected);
    assert!(findings(&verdict).is_empty());
}

/// Another load whose demand is TBD is computed as if it drew nothing: what shares its network says so.
#[test]
fn a_neighbour_with_tbd_is_counted_among_what_a_margin_rests_on() {
    let (design, verdict) = judge(&bench("power = \"10 W\"", "[load.Y]\nline = \"node:L\"\nreturn = \"node:R\"\npower = \"TBD\"\n"));
    let x = verdict.margins.iter().find(|m| m.rule.0 == "VD-01").expect("X is judged");
    let standings: Vec<Standing> = x.rests_on.notes.iter().map(|&id| design.note(id).standing).collect();
    assert!(standings.contains(&Standing::ToDetermine), "{standings:?}");
}

#[test]
fn a_value_to_be_confirmed_is_counted() {
    let count = |power: &str| {
        let (design, verdict) = judge(&bench(&format!("power = \"{power}\""), ""));
        let vd = margin(&verdict, "VD-01", Bound::AtMost);
        vd.rests_on.notes.iter().filter(|&&id| design.note(id).standing == Standing::ToConfirm).count()
    };
    assert_eq!((count("10 W"), count("TBC 10 W")), (0, 1));
}

/// A wire on the way whose length is TBD: neither volts nor drop can be said.
#[test]
fn a_length_that_is_missing_on_the_way_is_not_judged() {
    let toml = bench("current = \"1 A\"", "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n");
    let with = |length: &str| {
        let wires = format!("wire,from,to,type,gauge_awg,length\nW1,node:L,node:M,M22759/44,20,{length}\n");
        judge_files(&[("vehicle.toml", &toml), ("wires.csv", &wires)], None)
    };
    let (design, verdict) = with("1 m");
    assert!(not_judged(&design, &verdict).is_empty());
    let (design, verdict) = with("TBD");
    let expected = [("VL-01/load:Y", "length of wire:W1"), ("VD-01/load:Y", "length of wire:W1"), ("AM-01/wire:W1", "length of wire:W1")];
    assert_eq!(not_judged(&design, &verdict), expected.map(|(a, b)| (a.to_owned(), b.to_owned())));
}

/// A bare wire list: each wire is judged over its own length. At 20 °C the drop is I × r20_max × length.
#[test]
fn vd_01_of_a_bare_wire_list() {
    let run = |current: &str, length: &str| {
        let wires = format!("wire,from,to,gauge_awg,length,current\nW1,J1.1,J2.1,20,{length},{current}\n");
        judge_files(&[("wires.csv", &wires)], None)
    };
    let (design, verdict) = run("1 A", "1 m");
    let ohm_per_metre = design.wire_specs.iter().next().expect("one type in use").1.r20_max.value.0;
    let low = margin(&verdict, "VD-01", Bound::AtMost);
    assert!(
        (low.value - ohm_per_metre).abs() < 1e-9 && low.state.is_some_and(|(_, corner)| corner == Corner::Low),
        "{low:?} against {ohm_per_metre}"
    );
    let metres = |share: f64| format!("{} m", share / ohm_per_metre);
    assert!(findings(&run("1 A", &metres(0.999_999)).1).is_empty());
    assert!(findings(&run("1 A", &metres(1.0)).1).is_empty());
    assert_eq!(findings(&run("1 A", &metres(1.000_001)).1), ["VD-01/wire:W1"]);
    for (current, length, field) in [("1 A", "", "length"), ("1 A", "TBD", "length"), ("1 A", "route", "length"), ("", "1 m", "current")] {
        let (design, verdict) = run(current, length);
        assert_eq!(not_judged_of(&design, &verdict, "VD-01"), [("wire:W1".to_owned(), field.to_owned())], "{current} {length}");
        assert!(verdict.margins.is_empty());
    }
}

/// A wire between modelled elements is judged with its load, not by the current stated beside it; one that leads out of the
/// model is judged by its own, alone, in series or in a parallel group. A stowed spare is no case.
#[test]
fn vd_01_of_wires_that_lead_nowhere() {
    let toml = bench("current = \"1 A\"", "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n");
    let wires = "wire,from,to,gauge_awg,length,current\n\
                 inner,node:L,node:M,20,1 m,5 A\n\
                 out,node:L,J9.1,20,1 m,2 A\n\
                 on,J9.1,J10.1,20,1 m,2 A\n\
                 pair_a,node:L,J9.2,20,1 m,3 A\n\
                 pair_b,node:L,J9.2,20,1 m,3 A\n\
                 spare,J9.3,stowed,20,1 m,\n";
    let (design, verdict) = judge_files(&[("vehicle.toml", &toml), ("wires.csv", wires)], None);
    let judged: Vec<String> = verdict.margins.iter().filter(|m| m.rule.0 == "VD-01").map(|m| design.subject_words(m.subject)).collect();
    assert_eq!(judged, ["wire:out", "wire:on", "wire:pair_a", "wire:pair_b", "load:X", "load:Y"]);
    assert!(not_judged_of(&design, &verdict, "VD-01").is_empty(), "{:?}", verdict.not_judged);
}

#[test]
fn a_load_without_a_bus_counts_from_the_source() {
    let text = bench("current = \"10.01 A\"", "").replace("[bus.A]\nreturn = \"node:R\"", "[node.A]").replace("bus:A", "node:A");
    let (_, verdict) = judge(&text);
    assert_eq!(findings(&verdict), ["VD-01/load:X"]);
    assert!(verdict.findings[0].text.contains("terminals of battery:B"), "{}", verdict.findings[0].text);
}

fn disposition(rows: &str, today: Option<&str>) -> (Design, Verdict) {
    let text = format!(
        "[phase.rest]\n[phase.work]\n[disposition.\"VD-01/load:X\"]\naction = \"accept\"\nreason = \"short bench run\"\nauthority = \"chief engineer\"\ndate = \"2026-01-15\"\n{rows}\n"
    );
    judge_files(&[("vehicle.toml", &bench("current = \"11 A\"", &text))], today)
}

/// The finding is 1.1 V in both phases.
#[test]
fn dispositions_hold_or_reopen() {
    let state = |rows: &str, today: Option<&str>| {
        let (_, verdict) = disposition(rows, today);
        assert_eq!(findings(&verdict), ["VD-01/load:X"], "an accepted finding stays listed");
        verdict.findings[0].state.clone()
    };
    assert_eq!(state("", None), FindingState::Accepted(0));
    assert_eq!(state("worst = 1.1", None), FindingState::Accepted(0));
    assert_eq!(state("worst = 1.2", None), FindingState::Accepted(0));
    let reopened = |rows: &str, today: Option<&str>, word: &str| match state(rows, today) {
        FindingState::Reopened(0, why) => assert!(why.contains(word), "{why}"),
        other => panic!("{rows}: {other:?}"),
    };
    reopened("worst = 1.05", None, "worse");
    assert_eq!(state("phases = [\"rest\", \"work\"]", None), FindingState::Accepted(0));
    reopened("phases = [\"rest\"]", None, "work");
    assert_eq!(state("expiry = \"2026-06-30\"", Some("2026-06-30")), FindingState::Accepted(0));
    assert_eq!(state("expiry = \"2026-06-30\"", None), FindingState::Accepted(0));
    reopened("expiry = \"2026-06-30\"", Some("2026-07-01"), "2026-06-30");
}

#[test]
fn a_disposition_without_its_finding_is_idle() {
    let rows = "[disposition.\"VD-01/load:X\"]\naction = \"accept\"\nreason = \"r\"\nauthority = \"a\"\ndate = \"2026-01-15\"\n";
    let (_, verdict) = judge(&bench("current = \"1 A\"", rows));
    assert!(verdict.findings.is_empty());
    assert_eq!(verdict.idle_dispositions, [0]);
}

#[test]
fn a_rule_that_the_profile_leaves_out_says_nothing() {
    let vehicle = bench("current = \"11 A\"", "").replace("profile = \"space-28v\"", "profile = \"own\"");
    let number = |field: &str, volts: u32| format!("{field} = {{ value = \"{volts} V\", source = \"own\", how = \"practice\" }}\n");
    let numbers = [("nominal", 28), ("drop_continuous", 1), ("drop_intermittent", 2), ("volts_min", 22), ("volts_max", 29)];
    let own = "[profile.own]\n".to_owned() + &numbers.map(|(field, volts)| number(field, volts)).concat();
    let judge = |own: &str| judge_files(&[("vehicle.toml", &vehicle), ("profiles.toml", own)], None).1;
    assert_eq!(findings(&judge(&own)), ["VD-01/load:X"]);
    let verdict = judge(&(own + "left_out = [{ rule = \"VD-01\", reason = \"bench only\" }]\n"));
    assert!(verdict.findings.is_empty() && verdict.margins.iter().all(|m| m.rule.0 != "VD-01"));
    assert_eq!(verdict.left_out, [("VD-01".to_owned(), "bench only".to_owned())]);
}

#[test]
fn ic_10_a_part_that_floats() {
    let text = bench("current = \"1 A\"", "");
    let strap = text.find("[strap.S]").expect("strap row");
    let bus = text.find("[bus.A]").expect("bus row");
    let floating = format!("{}{}", &text[..strap], &text[bus..]);
    assert!(findings(&judge(&text).1).is_empty());
    let (_, verdict) = judge(&floating);
    assert_eq!(findings(&verdict), ["IC-10/bus:A"]);
    assert_eq!(verdict.findings[0].phases.len(), 3);
}

/// The state that is worst decides the number; a state judged twice changes nothing but the count.
#[test]
fn the_worst_state_is_kept() {
    let more = "[phase.cold]\noff = [\"load:Y\"]\n[phase.warm]\n[load.Y]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"9 A\"\n";
    let (design, verdict) = judge(&bench("current = \"5 A\"", more));
    let x = verdict.margins.iter().find(|m| m.rule.0 == "VD-01").expect("X is judged");
    assert_eq!(&*design.phases[x.state.expect("a margin of a state").0].name, "warm");
    assert!((x.value - 1.4).abs() < 1e-9, "{}", x.value);
    assert_eq!((x.judged, x.failing.len()), (6, 3));
}
