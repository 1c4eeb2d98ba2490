//! Rules with numbers, each value worked by hand.

use crate::*;

/// Moves the current of the bench over a pair of connectors with one wire between: 0.1 ohm of feed stay.
pub(crate) fn through_wire(load: &str, gauge: &str, contact: &str, more: &str) -> (Design, Verdict) {
    let rows = format!(
        "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\n{contact}\n[connector.J2]\nunit = \"BOX\"\n{contact}\n\
         [link.in]\nfrom = \"node:L\"\nto = \"J1.1\"\nohms = \"1 mohm\"\n\
         [load.Y]\nline = \"J2.1\"\nreturn = \"node:R\"\n{load}\n{more}"
    );
    let wires = format!("wire,from,to,gauge_awg,length\nW1,J1.1,J2.1,{gauge},0.1 m\n");
    judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", &wires)], None)
}

/// Half of the test current (EEE-INST-002, ECSS-Q-ST-30-11C, from memory): size 20 with 20 AWG 7.5 A, with 22 AWG 5 A, hermetic
/// with 20 AWG 5 A; 22D with 24 AWG 3 A (AS39029, from memory).
#[test]
fn ct_01_by_size_gauge_and_kind() {
    for (gauge, contact, limit) in [
        ("20", "contact = \"20\"", 3.75),
        ("22", "contact = \"20\"", 2.5),
        ("20", "contact = \"20\"\nkind = \"hermetic\"", 2.5),
        ("24", "contact = \"22D\"", 1.5),
    ] {
        for (share, fails) in [(0.999_999, false), (1.0, false), (1.000_001, true)] {
            let (design, verdict) = through_wire(&format!("current = \"{} A\"", limit * share), gauge, contact, "");
            let expected = if fails { vec!["CT-01/contact:J1.1", "CT-01/contact:J2.1"] } else { vec![] };
            let mut found = findings_of(&verdict, "CT-01");
            found.sort_unstable();
            assert_eq!(found, expected, "{gauge} {contact} {share}");
            let margin = margin_of(&design, &verdict, "CT-01", "contact:J1.1", Bound::AtMost);
            assert!((margin.limit - limit).abs() < 1e-9 && (margin.value - limit * share).abs() < 1e-6, "{margin:?}");
        }
    }
}

/// Two halves of a harness with 20 AWG in one and 22 AWG in the other: the thinner decides, 5 A by its test current (AS39029, size 20, from
/// memory), whichever half it is in.
#[test]
fn ct_01_the_thinner_wire_of_both_halves_decides() {
    for (first, second) in [("20", "22"), ("22", "20")] {
        let rows = "[node.M]\n[connector.XA]\nmate = \"XB\"\ncontact = \"20\"\n[connector.XB]\ncontact = \"20\"\n\
                    [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n";
        let wires = format!("wire,from,to,gauge_awg,length\nW1,node:L,XA.1,{first},0.1 m\nW2,XB.1,node:M,{second},0.1 m\n");
        let (design, verdict) = judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", rows)), ("wires.csv", &wires)], None);
        assert_eq!(margin_of(&design, &verdict, "CT-01", "contact:XA.1/XB.1", Bound::AtMost).limit, 2.5, "{first} {second}");
    }
}

#[test]
fn ct_01_rests_on_what_it_used_and_says_what_it_lacks() {
    let (design, verdict) = through_wire("current = \"1 A\"", "20", "contact = \"20\"", "");
    let margin = margin_of(&design, &verdict, "CT-01", "contact:J1.1", Bound::AtMost);
    let what: Vec<&str> = margin.rests_on.notes.iter().map(|&id| design.note(id).what.as_str()).collect();
    assert!(what.iter().any(|what| what.contains("contact")), "{what:?}");
    let (design, verdict) = through_wire("current = \"1 A\"", "TBD", "contact = \"20\"", "");
    let missing = not_judged_of(&design, &verdict, "CT-01");
    assert_eq!(missing[0], ("contact:J1.1".to_owned(), "gauge of wire:W1".to_owned()));
    let (design, verdict) = with_own_profile("[load.Z]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"1 mA\"\n", true);
    assert_eq!(not_judged_of(&design, &verdict, "CT-01")[0], ("contact:J1.1".to_owned(), "contact_derating".to_owned()));
}

/// A vehicle whose own profile states none of the limits that may be left unsaid.
fn with_own_profile(more: &str, with_wire: bool) -> (Design, Verdict) {
    let number = |field: &str, volts: u32| format!("{field} = {{ value = \"{volts} V\", source = \"own\", how = \"practice\" }}\n");
    let numbers = [("nominal", 28), ("drop_continuous", 1), ("drop_intermittent", 2), ("volts_min", 22), ("volts_max", 29)];
    let own = "[profile.own]\n".to_owned() + &numbers.map(|(field, volts)| number(field, volts)).concat();
    let rows = "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\n[connector.J2]\nunit = \"BOX\"\n\
                [link.in]\nfrom = \"node:L\"\nto = \"J1.1\"\nohms = \"1 mohm\"\n\
                [load.Y]\nline = \"J2.1\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n";
    let vehicle = bench("current = \"1 A\"", &format!("{rows}{more}")).replace("profile = \"space-28v\"", "profile = \"own\"");
    let wires = if with_wire { "wire,from,to,gauge_awg,length,current\nW1,J1.1,J2.1,20,0.1 m,1 A\n" } else { "wire,from,to,gauge_awg\n" };
    judge_files(&[("vehicle.toml", &vehicle), ("profiles.toml", &own), ("wires.csv", wires)], None)
}

/// 1 A × 1 mohm: the bus stands at 27.999 V. At most and at least 22 and 34 V in the shipped profile.
#[test]
fn bb_01_band_and_both_sides() {
    for (emf, expected) in [("21.99 V", true), ("22.01 V", false), ("33.99 V", false), ("34.01 V", true)] {
        let rows = "current = \"1 mA\"\nvolts_min = \"10 V\"\nvolts_max = \"50 V\"";
        let (_, verdict) = judge(&bench(rows, "").replace("emf = \"28 V\"", &format!("emf = \"{emf}\"")));
        assert_eq!(findings(&verdict), if expected { vec!["BB-01/bus:A"] } else { vec![] }, "{emf}");
    }
    let (design, verdict) = judge(&bench("current = \"1 A\"", ""));
    let low = margin_of(&design, &verdict, "BB-01", "bus:A", Bound::AtLeast);
    assert!((low.value - 27.999).abs() < 1e-9 && low.limit == 22.0, "{low:?}");
    let (design, verdict) = judge(&bench("current = \"1 A\"", "").replace("return = \"node:R\"\n[battery", "[battery"));
    assert_eq!(not_judged_of(&design, &verdict, "BB-01"), [("bus:A".to_owned(), "return".to_owned())]);
    let (design, verdict) = with_own_profile("", false);
    let missing = not_judged_of(&design, &verdict, "BB-01");
    assert_eq!(missing, [("bus:A".to_owned(), "bus_min".to_owned())]);
}

/// A bus whose sources are off is dead on purpose.
#[test]
fn bb_01_does_not_judge_a_dead_bus() {
    let rows = "[bus.C]\nreturn = \"node:R\"\n[switch.K]\nfrom = \"bus:A\"\nto = \"bus:C\"\nohms = \"1 mohm\"\nstate = \"open\"\nrating_resistive = \"9 A\"\n\
                [load.Y]\nline = \"bus:C\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\nstate = \"off\"\n";
    let (_, verdict) = judge(&bench("current = \"1 A\"", rows));
    assert_eq!((findings(&verdict), counted(&verdict, "BB-01")), (vec![], 1));
}

/// 28 V at rest, 27 V with the 10 A that two loads draw through 0.1 ohm: only at least load does Y see 28 V.
#[test]
fn vl_02_at_least_load() {
    let with = |volts: &str| {
        let rows = format!("[load.Y]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"5 A\"\nvolts_max = \"{volts}\"\n");
        judge(&bench("current = \"5 A\"", &rows))
    };
    assert_eq!(findings(&with("28.0 V").1), [""; 0]);
    assert_eq!(findings(&with("27.9 V").1), ["VL-02/load:Y"]);
    let (design, verdict) = with("29 V");
    let margin = margin_of(&design, &verdict, "VL-02", "load:Y", Bound::AtMost);
    assert!(
        (margin.value - 28.0).abs() < 1e-4 && margin.state.is_some_and(|(_, corner)| corner == Corner::High) && margin.judged == 1,
        "{margin:?}"
    );
}

/// A resistance cannot but draw: 1 ohm behind 1 ohm stands at 14 V, whatever the others do.
#[test]
fn vl_02_of_a_resistance_behind_its_resistor() {
    let rows = "[node.M]\n[link.r]\nfrom = \"bus:A\"\nto = \"node:M\"\nohms = \"1 ohm\"\n\
                [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\nresistance = \"1 ohm\"\nvolts_min = \"1 V\"\nvolts_max = \"14.1 V\"\ndrop_allowed = \"20 V\"\n";
    let (design, verdict) = judge(&bench("current = \"1 A\"", rows));
    assert_eq!(findings(&verdict), [""; 0]);
    // 28 V over 1.001 + 1 ohm with both resistances of 1 mohm in series with the battery's loop.
    let margin = margin_of(&design, &verdict, "VL-02", "load:Y", Bound::AtMost);
    assert!((margin.value - 28.0 / 2.001).abs() < 1e-3, "{margin:?}");
}

/// A switch of 5 A for resistances, 2 A for coils, 1 A for lamps before one load of each kind, or of two.
#[test]
fn sw_01_by_kind_of_load() {
    let with = |loads: &[(&str, f64)], ratings: &str| {
        let mut rows = format!("[node.M]\n[relay.K]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"closed\"\n{ratings}");
        for (n, (kind, amperes)) in loads.iter().enumerate() {
            rows.push_str(&format!(
                "[load.Y{n}]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"{amperes} A\"\nkind = \"{kind}\"\nsuppressor = \"diode\"\n"
            ));
        }
        judge(&bench("current = \"1 mA\"", &rows))
    };
    let all = "rating_resistive = \"5 A\"\nrating_inductive = \"2 A\"\nrating_lamp = \"1 A\"\nrating_motor = \"1.5 A\"\n";
    for (kind, limit) in [("resistive", 5.0), ("inductive", 2.0), ("lamp", 1.0), ("motor", 1.5)] {
        for (share, expected) in [(0.999, vec![]), (1.0, vec![]), (1.001, vec!["SW-01/relay:K"])] {
            assert_eq!(findings_of(&with(&[(kind, limit * share)], all).1, "SW-01"), expected, "{kind} {share}");
        }
    }
    // Mixed: the lowest rating for the whole current.
    assert_eq!(findings_of(&with(&[("resistive", 0.9), ("lamp", 0.1)], all).1, "SW-01"), [""; 0]);
    let (design, verdict) = with(&[("resistive", 0.9), ("lamp", 0.2)], all);
    assert_eq!(findings_of(&verdict, "SW-01"), ["SW-01/relay:K"]);
    let margin = margin_of(&design, &verdict, "SW-01", "relay:K", Bound::AtMost);
    assert!((margin.value - 1.1).abs() < 1e-9 && margin.limit == 1.0, "{margin:?}");
    let (design, verdict) = with(&[("motor", 1.0)], "rating_resistive = \"5 A\"\n");
    assert_eq!(not_judged_of(&design, &verdict, "SW-01"), [("relay:K".to_owned(), "rating_motor".to_owned())]);
}

/// 5 A × 0.101 ohm before a coil: it stands at 28 − 0.505 V less its own 0.1 A, 27.4849 V.
#[test]
fn rl_01_pull_in() {
    let with = |pull_in: &str| {
        let rows = format!(
            "[load.K]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"0.1 A\"\nkind = \"inductive\"\nsuppressor = \"diode\"\npull_in = \"{pull_in}\"\n"
        );
        judge(&bench("current = \"5 A\"", &rows))
    };
    let by_hand = 28.0 - 5.1 * 0.101;
    for (pull_in, expected) in [(by_hand - 1e-6, vec![]), (by_hand, vec![]), (by_hand + 1e-6, vec!["RL-01/load:K"])] {
        let (design, verdict) = with(&format!("{pull_in} V"));
        assert_eq!(findings(&verdict), expected, "{pull_in}");
        assert!((margin_of(&design, &verdict, "RL-01", "load:K", Bound::AtLeast).value - by_hand).abs() < 1e-9);
    }
    let (design, verdict) = with("TBD");
    // Without a pull_in it is no coil to this rule; the value that is open is listed.
    assert_eq!((counted(&verdict, "RL-01"), design.notes.iter().any(|note| note.field == "pull_in")), (0, true));
}

#[test]
fn rl_02_missing_suppressor() {
    let with = |rows: &str, by_switch: bool| {
        let node = if by_switch { "node:M" } else { "node:L" };
        let text = format!(
            "[node.M]\n[switch.K]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"closed\"\nrating_inductive = \"5 A\"\nrating_resistive = \"5 A\"\n\
             [load.V]\nline = \"{node}\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n{rows}"
        );
        judge(&bench("current = \"1 A\"", &text))
    };
    for word in ["diode", "zener", "resistor"] {
        let (_, verdict) = with(&format!("kind = \"inductive\"\nsuppressor = \"{word}\"\n"), true);
        assert_eq!((findings(&verdict), counted(&verdict, "RL-02")), (vec![], 1), "{word}");
    }
    let none = "kind = \"inductive\"\nsuppressor = \"none\"\n";
    let (design, verdict) = with(none, true);
    assert_eq!(findings(&verdict), ["RL-02/load:V"]);
    assert!(verdict.findings[0].text.contains("switch:K"), "{}", verdict.findings[0].text);
    assert_eq!(verdict.findings[0].phases.len(), 3);
    assert_eq!(quoted(&design, &verdict.findings[0]).len(), 2);
    // Nothing switches it; it is no coil.
    assert_eq!(findings(&with(none, false).1), [""; 0]);
    assert_eq!(findings(&with("kind = \"resistive\"\nsuppressor = \"none\"\n", true).1), [""; 0]);
    let (design, verdict) = with("kind = \"inductive\"\n", true);
    assert_eq!(not_judged_of(&design, &verdict, "RL-02"), [("load:V".to_owned(), "suppressor".to_owned())]);
}

/// 6 A all the time and 4 A in short spells.
#[test]
fn sr_01_and_sr_02_continuous_and_peak() {
    let with = |ratings: &str| {
        let rows = "[load.Y]\nline = \"bus:A\"\nreturn = \"node:R\"\ncurrent = \"4 A\"\nduty = \"intermittent\"\n";
        judge(&bench("current = \"6 A\"", rows).replace("rating = \"100 A\"", ratings))
    };
    for (ratings, expected) in [
        ("rating = \"6 A\"\npeak = \"10 A\"", vec![]),
        ("rating = \"5.99 A\"\npeak = \"10 A\"", vec!["SR-01/battery:B"]),
        ("rating = \"6.01 A\"\npeak = \"9.99 A\"", vec!["SR-02/battery:B"]),
        ("rating = \"6.01 A\"\npeak = \"10.01 A\"", vec![]),
    ] {
        assert_eq!(findings(&with(ratings).1), expected, "{ratings}");
    }
    let (design, verdict) = with("rating = \"7 A\"\npeak = \"11 A\"");
    assert!((margin_of(&design, &verdict, "SR-01", "battery:B", Bound::AtMost).value - 6.0).abs() < 1e-9);
    assert!((margin_of(&design, &verdict, "SR-02", "battery:B", Bound::AtMost).value - 10.0).abs() < 1e-9);
    let (design, verdict) = with("");
    assert_eq!(not_judged_of(&design, &verdict, "SR-01"), [("battery:B".to_owned(), "rating".to_owned())]);
    assert_eq!(not_judged_of(&design, &verdict, "SR-02"), [("battery:B".to_owned(), "peak".to_owned())]);
    // Without an intermittent load there is no peak to judge.
    let (design, verdict) = judge(&bench("current = \"6 A\"", ""));
    assert_eq!((counted(&verdict, "SR-02"), not_judged_of(&design, &verdict, "SR-02")), (0, vec![]));
}

/// A load of 10 A in one phase and off in the other; the wire list says something else.
#[test]
fn dc_01_declared_against_computed() {
    let with = |declared: &str| {
        let rows = "[phase.work]\n[phase.rest]\noff = [\"load:Y\"]\n[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"10 A\"\ndrop_allowed = \"5 V\"\n";
        let wires = format!("wire,from,to,gauge_awg,length,current\nW1,node:L,node:M,12,0.1 m,{declared}\n");
        judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"\ndrop_allowed = \"5 V\"", rows)), ("wires.csv", &wires)], None)
    };
    // 10 A may be declared as anything from 10/1.1 to 10/0.9 A.
    for (declared, expected) in
        [(10.0 / 1.1 - 1e-4, true), (10.0 / 1.1 + 1e-9, false), (10.0, false), (10.0 / 0.9 - 1e-9, false), (10.0 / 0.9 + 1e-4, true)]
    {
        let (_, verdict) = with(&format!("{declared} A"));
        assert_eq!(findings(&verdict), if expected { vec!["DC-01/wire:W1"] } else { vec![] }, "{declared}");
    }
    let (design, verdict) = with("10 A");
    for bound in [Bound::AtMost, Bound::AtLeast] {
        let margin = margin_of(&design, &verdict, "DC-01", "wire:W1", bound);
        assert_eq!((margin.judged, &*design.phases[margin.state.expect("a state").0].name), (2, "work"), "typical corner of both phases");
    }
    assert_eq!(counted(&with("").1, "DC-01"), 0);
    let (design, verdict) = with_own_profile("", true);
    assert_eq!(not_judged_of(&design, &verdict, "DC-01"), [("wire:W1".to_owned(), "wire_current_difference".to_owned())]);
}

/// A bridge of 350 ohm on 10 V, 2 mV/V: 20 mV span. 10 ohm in its excitation leave 350/360 of the signal: 10 mV at half scale become
/// 9.722 mV, an error of 0.278 mV or 1.39 % of span.
pub(crate) fn bridge(excitation_ohms: &str, allowance: &str, more: &str) -> (Design, Verdict) {
    let rows = format!(
        "[node.P]\n[node.Q]\n[node.S]\n[node.T]\n[node.E]\n\
         [converter.C]\nline = \"bus:A\"\nreturn = \"node:R\"\noutput = \"node:E\"\noutput_return = \"node:R\"\n\
         emf = \"10 V\"\nohms = \"1 uohm\"\nefficiency = \"80 %\"\nquiescent = \"0 W\"\n\
         [link.e]\nfrom = \"node:E\"\nto = \"node:P\"\nohms = \"{excitation_ohms}\"\n\
         [sensor.G]\nkind = \"bridge\"\nreceiver = \"N\"\nreading = \"50 %\"\nexcitation_positive = \"node:P\"\nexcitation_negative = \"node:Q\"\n\
         signal_positive = \"node:S\"\nsignal_negative = \"node:T\"\narm_ohms = \"350 ohm\"\nsensitivity = \"2 mV/V\"\nexcitation = \"10 V\"\n{allowance}\n\
         [receiver.N]\npositive = \"node:S\"\nnegative = \"node:T\"\ninput_ohms = \"1000 Mohm\"\nreference = \"node:R\"\n{more}"
    );
    judge(&bench("current = \"10 A\"\nstate = \"on\"", &rows))
}

pub(crate) const RETURN: &str =
    "common_low = \"0 V\"\ncommon_high = \"6 V\"\n[link.q]\nfrom = \"node:Q\"\nto = \"node:R\"\nohms = \"1 uohm\"\n";

#[test]
fn se_01_bridge_behind_ten_ohm() {
    // The bridge looks like 350 ohm to its excitation.
    let error = 10e-3 * (1.0 - 350.0 / 360.0);
    for (share, expected) in [(0.99, vec!["SE-01/sensor:G"]), (1.01, vec![])] {
        let (design, verdict) = bridge("10 ohm", &format!("allowance = \"{} %\"", 100.0 * share * error / 20e-3), RETURN);
        assert_eq!(findings(&verdict), expected, "{share}");
        let value = margin_of(&design, &verdict, "SE-01", "sensor:G", Bound::AtMost).value;
        assert!((value - error).abs() < 1e-4 * error, "{value} against {error}");
    }
    let (design, verdict) = bridge("10 ohm", "", RETURN);
    for rule in ["SE-01", "SE-02"] {
        assert_eq!(not_judged_of(&design, &verdict, rule), [("sensor:G".to_owned(), "allowance".to_owned())]);
    }
}

/// The bridge's return shares 1 mohm with a load of 10 A: its excitation loses 10 mV of 10 V, the signal a thousandth: 10 µV.
#[test]
fn se_02_shared_return() {
    let shared = "common_low = \"-1 V\"\ncommon_high = \"6 V\"\n[node.W]\n[link.q]\nfrom = \"node:Q\"\nto = \"node:W\"\nohms = \"1 uohm\"\n\
                  [link.w]\nfrom = \"node:W\"\nto = \"node:R\"\nohms = \"1 mohm\"\n\
                  [load.Z]\nline = \"bus:A\"\nreturn = \"node:W\"\ncurrent = \"10 A\"\n";
    for (allowance, expected) in [("0.049 %", vec!["SE-01/sensor:G", "SE-02/sensor:G"]), ("0.051 %", vec![])] {
        let (design, verdict) = bridge("1 uohm", &format!("allowance = \"{allowance}\""), shared);
        assert_eq!(findings(&verdict), expected, "{allowance}");
        let moved = margin_of(&design, &verdict, "SE-02", "sensor:G", Bound::AtMost).value;
        assert!((moved - 10e-6).abs() < 0.02e-6, "{moved}");
    }
    let (design, verdict) = bridge("1 uohm", "allowance = \"1 %\"", RETURN);
    let moved = margin_of(&design, &verdict, "SE-02", "sensor:G", Bound::AtMost).value;
    assert!(moved < 1e-9, "nothing is shared: {moved}");
}

/// Both signals of the bridge stand at half of its 10 V, the mean of both inputs: 5 V over the return.
#[test]
fn cm_01_common_mode() {
    let range = |low: &str, high: &str| RETURN.replace("common_low = \"0 V\"\ncommon_high = \"6 V\"", &format!("{low}\n{high}"));
    for (low, high, expected) in [("4.99", "5.01", false), ("5.01", "6", true), ("0", "4.99", true)] {
        let range = range(&format!("common_low = \"{low} V\""), &format!("common_high = \"{high} V\""));
        let (design, verdict) = bridge("1 uohm", "allowance = \"5 %\"", &range);
        assert_eq!(findings(&verdict), if expected { vec!["CM-01/receiver:N"] } else { vec![] }, "{low} {high}");
        assert!((margin_of(&design, &verdict, "CM-01", "receiver:N", Bound::AtMost).value - 5.0).abs() < 1e-5);
    }
    let missing = |more: &str, own: &str| {
        let (design, verdict) = bridge("1 uohm", "allowance = \"5 %\"", more);
        let missing = not_judged_of(&design, &verdict, "CM-01");
        assert_eq!(missing, [("receiver:N".to_owned(), own.to_owned())]);
    };
    missing(&range("", "common_high = \"6 V\""), "common_low");
    missing(&range("common_low = \"0 V\"", ""), "common_high");
    // The reference lies in another part of the network.
    let apart = "[node.Z]\n[switch.K]\nfrom = \"node:Z\"\nto = \"node:R\"\nohms = \"1 mohm\"\nstate = \"open\"\n";
    let (design, verdict) = bridge("1 uohm", "allowance = \"5 %\"", &(RETURN.to_owned() + apart));
    assert_eq!(findings(&verdict), [""; 0]);
    drop(design);
}

/// Two wires of 20 AWG in parallel through contacts of size 20, one 0.1 m and one 0.2 m long.
#[test]
fn pp_01_one_open() {
    let with = |amperes: f64| {
        let rows = format!(
            "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\ncontact = \"20\"\n[connector.J2]\nunit = \"BOX\"\ncontact = \"20\"\n\
             [link.a]\nfrom = \"node:L\"\nto = \"J1.1\"\nohms = \"1 uohm\"\n[link.b]\nfrom = \"node:L\"\nto = \"J1.2\"\nohms = \"1 uohm\"\n\
             [node.M]\n[link.c]\nfrom = \"J2.1\"\nto = \"node:M\"\nohms = \"1 uohm\"\n[link.d]\nfrom = \"J2.2\"\nto = \"node:M\"\nohms = \"1 uohm\"\n\
             [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"{amperes} A\"\n"
        );
        let wires = "wire,from,to,gauge_awg,length,group\nW1,J1.1,J2.1,20,0.1 m,feed\nW2,J1.2,J2.2,20,0.2 m,feed\n";
        judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", wires)], None)
    };
    // A constant current goes over as it is: the test current of 7.5 A is the limit, near it and far from it.
    for (amperes, expected) in [(4.0, vec![]), (7.499, vec![]), (7.5, vec![]), (7.501, vec!["PP-01/wire:W1", "PP-01/wire:W2"])] {
        let (design, verdict) = with(amperes);
        assert_eq!(findings_of(&verdict, "PP-01"), expected, "{amperes}");
        for wire in ["wire:W1", "wire:W2"] {
            let margin = margin_of(&design, &verdict, "PP-01", wire, Bound::AtMost);
            assert!((margin.value - amperes).abs() < 1e-6 && margin.limit == 7.5, "{margin:?}");
        }
    }
}

/// The estimate of the shares and the solved state agree where they meet, to the little that a load at constant power takes more.
#[test]
fn pp_01_solved_near_the_limit() {
    let with = |watts: f64| {
        let rows = format!(
            "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\ncontact = \"20\"\n[connector.J2]\nunit = \"BOX\"\ncontact = \"20\"\n\
             [link.a]\nfrom = \"bus:A\"\nto = \"J1.1\"\nohms = \"1 uohm\"\n[link.b]\nfrom = \"bus:A\"\nto = \"J1.2\"\nohms = \"1 uohm\"\n\
             [node.M]\n[link.c]\nfrom = \"J2.1\"\nto = \"node:M\"\nohms = \"1 uohm\"\n[link.d]\nfrom = \"J2.2\"\nto = \"node:M\"\nohms = \"1 uohm\"\n\
             [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\npower = \"{watts} W\"\n"
        );
        let wires = "wire,from,to,gauge_awg,length,group\nW1,J1.1,J2.1,20,3 m,feed\nW2,J1.2,J2.2,20,3 m,feed\n";
        let (design, verdict) = judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", wires)], None);
        margin_of(&design, &verdict, "PP-01", "wire:W1", Bound::AtMost).value
    };
    let (below, above) = (with(165.0), with(166.0));
    assert!(below < 6.0 && above > 6.0 && above - below < 0.15, "{below} {above}");
}

/// Wires of 20 AWG from node K to node M, each 1 m and through its own contacts of size 20, and a load behind M; `feed` leads from node L
/// to node K, or with `{n}` to each wire by itself.
pub(crate) fn parallel(wires: usize, feed: &str, amperes: f64, more: &str) -> (Design, Verdict) {
    let mut rows = format!(
        "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\ncontact = \"20\"\n[connector.J2]\nunit = \"BOX\"\ncontact = \"20\"\n\
         [node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"{amperes} A\"\n{more}\n"
    );
    let mut list = "wire,from,to,gauge_awg,length,group\n".to_owned();
    for n in 1..=wires {
        let from = if feed.contains("{n}") { format!("node:K{n}") } else { "node:K".to_owned() };
        rows += &format!("[link.a{n}]\nfrom = \"{from}\"\nto = \"J1.{n}\"\nohms = \"1 uohm\"\n");
        rows += &format!("[link.b{n}]\nfrom = \"J2.{n}\"\nto = \"node:M\"\nohms = \"1 uohm\"\n");
        list += &format!("W{n},J1.{n},J2.{n},20,1 m,feed\n");
        if feed.contains("{n}") {
            rows += &feed.replace("{n}", &n.to_string());
        }
    }
    if !feed.contains("{n}") {
        rows += feed;
    }
    judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", &list)], None)
}

pub(crate) fn breaker(rating: &str) -> String {
    format!("[node.K]\n[breaker.CB]\nline = \"node:L\"\nload = \"node:K\"\nohms = \"1 mohm\"\n{rating}\n")
}

/// Of two equal wires the one left carries everything, 7.5 A at most (AS39029, size 20 with 20 AWG, from memory); of three the two left
/// carry half each: 15 A together.
#[test]
fn pp_01_the_breaker_of_the_group() {
    for (wires, rating, bears, expected) in
        [(2, 7.5, 7.5, vec![]), (2, 7.6, 7.5, vec!["PP-01/breaker:CB"]), (3, 15.0, 15.0, vec![]), (3, 15.1, 15.0, vec!["PP-01/breaker:CB"])]
    {
        let (design, verdict) = parallel(wires, &breaker(&format!("rating = \"{rating} A\"")), 2.0, "");
        assert_eq!(findings_of(&verdict, "PP-01"), expected, "{wires} wires, {rating} A");
        let margin = margin_of(&design, &verdict, "PP-01", "breaker:CB", Bound::AtMost);
        assert!(margin.value == rating && (margin.limit - bears).abs() < 1e-3, "{margin:?}");
    }
    let (design, verdict) = parallel(2, &breaker(""), 2.0, "");
    assert_eq!(not_judged_of(&design, &verdict, "PP-01"), [("breaker:CB".to_owned(), "rating".to_owned())]);
}

/// A fuse for each wire: the one left carries all of it, and its rating of 5 A lies under the 7.5 A of the contacts.
#[test]
fn pp_01_a_fuse_for_each_wire() {
    let fuses = "[node.K{n}]\n[fuse.F{n}]\nline = \"node:L\"\nload = \"node:K{n}\"\nohms = \"1 mohm\"\nrating = \"5 A\"\n";
    for (amperes, expected) in [(3.0, vec![]), (5.0, vec![]), (5.001, vec!["PP-01/wire:W1", "PP-01/wire:W2"])] {
        let (design, verdict) = parallel(2, fuses, amperes, "");
        let mut found = findings_of(&verdict, "PP-01");
        found.sort_unstable();
        assert_eq!(found, expected, "{amperes}");
        assert_eq!(margin_of(&design, &verdict, "PP-01", "wire:W1", Bound::AtMost).limit, 5.0);
    }
    let (design, verdict) = parallel(2, &fuses.replace("rating = \"5 A\"\n", ""), 3.0, "");
    let missing = |wire: &str, fuse: &str| (format!("wire:{wire}"), format!("rating of fuse:{fuse}"));
    assert_eq!(not_judged_of(&design, &verdict, "PP-01"), [missing("W1", "F1"), missing("W2", "F2")]);
}

/// A second battery of 28 V behind 0.2 ohm stands at the load. With one wire open, of 4 A the share 0.2 over all resistance comes through
/// the other: 0.1 ohm of feed, 1 mohm of battery, 1 mohm of breaker, and the wire with both its contacts. The sum before is larger, so the
/// ratio of the shares would say too much.
#[test]
fn pp_01_fed_from_both_ends_is_solved() {
    let second = "[battery.B2]\npositive = \"node:M\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"0.2 ohm\"\nrating = \"9 A\"\n";
    let (design, verdict) = parallel(2, &breaker("rating = \"7.5 A\""), 4.0, second);
    let margin = margin_of(&design, &verdict, "PP-01", "wire:W1", Bound::AtMost);
    let prepared = analysis::prepare(&design);
    let (phase, corner) = margin.state.expect("a margin of a state");
    let scenario = Scenario::new(phase, corner);
    let ohms = |element| prepared.ohms(&scenario, element).expect("it has a resistance").0;
    let way = ohms(ElementId::Wire(Id::from_row(0))) + 2.0 * ohms(ElementId::Contact(Id::from_row(0)));
    let rest = 0.102 + 2e-6;
    let (solved, estimated) = (4.0 * 0.2 / (0.2 + rest + way), 4.0 * 0.2 / (0.2 + rest + way / 2.0));
    assert!((margin.value - solved).abs() < 0.002 && margin.value < estimated - 0.02, "{} {solved} {estimated}", margin.value);
}

/// A Pt100 read through two leads of 0.5 ohm each: 1 ohm × 1 mA = 1 mV of a span of 38.5 mV, 2.60 K (a maker's page on four-wire RTDs has
/// 2.6 K [read]).
#[test]
fn se_01_says_kelvin() {
    let rtd = |allowance: &str| {
        judge(&bench(
            "current = \"1 mA\"",
            &format!(
                "[node.P]\n[node.M]\n[node.T]\n[excitation.I]\npositive = \"node:P\"\nnegative = \"node:R\"\ncurrent = \"1 mA\"\n\
                 [link.l]\nfrom = \"node:P\"\nto = \"node:T\"\nohms = \"0.5 ohm\"\n[link.m]\nfrom = \"node:M\"\nto = \"node:R\"\n\
                 ohms = \"0.5 ohm\"\n[receiver.N]\npositive = \"node:P\"\nnegative = \"node:R\"\ninput_ohms = \"1000 Mohm\"\n\
                 reference = \"node:R\"\ncommon_low = \"-1 V\"\ncommon_high = \"1 V\"\n\
                 [sensor.G]\nkind = \"rtd\"\nwires = 2\nreceiver = \"N\"\npositive = \"node:T\"\nnegative = \"node:M\"\n\
                 ice_point_ohms = \"100 ohm\"\nzero_temperature = \"0 degC\"\nfull_temperature = \"100 degC\"\nexcitation = \"1 mA\"\n\
                 allowance = \"{allowance}\"\n"
            ),
        ))
    };
    for (allowance, expected) in [("2.59 %", vec!["SE-01/sensor:G"]), ("2.60 %", vec![])] {
        let (design, verdict) = rtd(allowance);
        assert_eq!(findings(&verdict), expected, "{allowance}");
        let margin = margin_of(&design, &verdict, "SE-01", "sensor:G", Bound::AtMost);
        // The receiver of 1 Gohm takes 100 pA out of 1 mA: 10 nV at 100 ohm.
        assert!((margin.value - 1e-3).abs() < 2e-8, "{}", margin.value);
    }
    let (_, verdict) = rtd("1 %");
    assert!(verdict.findings[0].text.ends_with("2.60 % of a span of 38.500 mV, 2.60 K"), "{}", verdict.findings[0].text);
}

/// A type K from a head at one connector to a receiver at another: both legs of their own alloy, or some of it copper. `warm` and `cool`
/// state the temperatures of the two connectors.
pub(crate) fn thermocouple(types: [&str; 2], warm: &str, cool: &str, contacts: &str, allowance: &str) -> (Design, Verdict) {
    let rows = format!(
        "[unit.HEAD]\n[unit.BOX]\n[connector.J1]\nunit = \"HEAD\"\nkind = \"terminals\"\n{warm}\n\
         [connector.J2]\nunit = \"BOX\"\n{contacts}\n{cool}\n\
         [link.g]\nfrom = \"J2.2\"\nto = \"node:R\"\nohms = \"1 mohm\"\n\
         [receiver.N]\npositive = \"J2.1\"\nnegative = \"J2.2\"\ninput_ohms = \"1000 Mohm\"\nreference = \"node:R\"\n\
         common_low = \"-1 V\"\ncommon_high = \"1 V\"\n\
         [sensor.G]\nkind = \"thermocouple\"\ntype = \"K\"\nreceiver = \"N\"\npositive = \"J1.1\"\nnegative = \"J1.2\"\n\
         zero_temperature = \"0 degC\"\nfull_temperature = \"100 degC\"\ncold_junction = \"20 degC\"\nsource_ohms = \"1 ohm\"\n{allowance}\n"
    );
    let wires = format!("wire,from,to,type,gauge_awg,length\nW1,J1.1,J2.1,{},20,1 m\nW2,J1.2,J2.2,{},20,1 m\n", types[0], types[1]);
    let catalog = "type,gauge_awg,area_mm2,max_ohm_per_km,alloy\nkp,20,0.5,1500,KP\nkn,20,0.5,600,KN\nM22759/44,20,0.62,32.4,copper\n";
    judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", &wires), ("catalog/wires.csv", catalog)], None)
}

/// Copper from 30 to 20 °C in the positive leg: 20.2 µV/K × 10 K = 202 µV of a span of 100 K × 40.4 µV/K = 4.04 mV, 5.0 %; in both legs the
/// whole 10 K, 404 µV or 10.0 %; in the negative leg 202 µV too; none between equal temperatures (worked by hand, slopes from memory).
#[test]
fn se_03_copper_in_the_legs() {
    let (copper, terminals) = ("M22759/44", "kind = \"terminals\"");
    let (warm, cool) = ("temperature = \"30 degC\"", "temperature = \"20 degC\"");
    for (types, microvolts) in [([copper, "kn"], 202.0), (["kp", copper], 202.0), ([copper, copper], 404.0), (["kp", "kn"], 0.0)] {
        for (share, fails) in [(0.99, microvolts > 0.0), (1.01, false)] {
            let allowance = format!("allowance = \"{} %\"", 100.0 * share * f64::max(microvolts, 1.0) / 4040.0);
            let (design, verdict) = thermocouple(types, warm, cool, terminals, &allowance);
            assert_eq!(findings_of(&verdict, "SE-03"), if fails { vec!["SE-03/sensor:G"] } else { vec![] }, "{types:?} {share}");
            let value = margin_of(&design, &verdict, "SE-03", "sensor:G", Bound::AtMost).value;
            assert!((value - microvolts * 1e-6).abs() < 1e-9, "{types:?}: {value}");
        }
    }
    let (design, verdict) = thermocouple([copper, copper], cool, cool, terminals, "allowance = \"1 %\"");
    assert_eq!(margin_of(&design, &verdict, "SE-03", "sensor:G", Bound::AtMost).value, 0.0);
}

/// Without temperatures the finding says what each kelvin does: 20.2 µV or 0.50 K in one leg, 40.4 µV or 1.00 K in both.
#[test]
fn se_03_per_kelvin_where_no_temperature_is_known() {
    for (types, text) in [
        (["M22759/44", "kn"], "wire:W1 of copper in the leg of KP: 20.2 µV, 0.50 K per kelvin along each"),
        (
            ["M22759/44", "M22759/44"],
            "wire:W1 of copper in the leg of KP, wire:W2 of copper in the leg of KN: 40.4 µV, 1.00 K per kelvin along each",
        ),
    ] {
        let (_, verdict) = thermocouple(types, "", "", "kind = \"terminals\"", "allowance = \"1 %\"");
        let found = verdict.findings.iter().find(|finding| finding.rule.0 == "SE-03").expect("a finding");
        assert_eq!(found.text, text);
    }
}

/// Ordinary contacts count as copper; a mated pair stands at one temperature unless its halves state two. Hermetic contacts whose metal is
/// not stated are not judged, and nothing is without the allowance.
#[test]
fn se_03_contacts() {
    let (warm, cool) = ("temperature = \"30 degC\"", "temperature = \"20 degC\"");
    let (_, verdict) = thermocouple(["kp", "kn"], warm, cool, "contact = \"20\"", "allowance = \"5 %\"");
    assert_eq!(findings_of(&verdict, "SE-03"), [""; 0]);
    let (_, verdict) = thermocouple(["kp", "kn"], warm, "", "contact = \"20\"", "allowance = \"5 %\"");
    // The contacts' own connector states nothing, nor does its unit.
    let found = verdict.findings.iter().find(|finding| finding.rule.0 == "SE-03").expect("a finding");
    assert_eq!(
        found.text,
        "contact:J2.1 of copper in the leg of KP, contact:J2.2 of copper in the leg of KN: 40.4 µV, 1.00 K per kelvin along each"
    );
    let (design, verdict) = thermocouple(["kp", "kn"], warm, cool, "contact = \"20\"\nkind = \"hermetic\"", "allowance = \"5 %\"");
    assert_eq!(not_judged_of(&design, &verdict, "SE-03"), [("sensor:G".to_owned(), "alloy of contact size 20".to_owned())]);
    let (design, verdict) = thermocouple(["kp", "kn"], warm, cool, "contact = \"20\"", "");
    assert_eq!(not_judged_of(&design, &verdict, "SE-03"), [("sensor:G".to_owned(), "allowance".to_owned())]);
}

/// Pins of a glass seal in one lead of a bridge add 40 µV per kelvin (makers' tables of thermoelectric voltages [read]): 2 K are 80 µV. In
/// both leads they cancel, known or not.
#[test]
fn se_03_kovar_in_one_lead_of_a_bridge() {
    let with = |second: &str| {
        let rows = format!(
            "[unit.HEAD]\n[unit.BOX]\n[connector.J1]\nunit = \"HEAD\"\nkind = \"hermetic\"\ncontact = \"G\"\ntemperature = \"22 degC\"\n\
             [connector.P1]\nmate = \"J1\"\nkind = \"hermetic\"\ntemperature = \"20 degC\"\n\
             [connector.J2]\nunit = \"BOX\"\nkind = \"terminals\"\n\
             [link.n]\nfrom = \"J2.2\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[node.T]\n{second}\n\
             [receiver.N]\npositive = \"J2.1\"\nnegative = \"J2.2\"\ninput_ohms = \"1000 Mohm\"\nreference = \"node:R\"\n\
             common_low = \"-1 V\"\ncommon_high = \"1 V\"\n\
             [sensor.G]\nkind = \"voltage\"\nreceiver = \"N\"\npositive = \"J1.1\"\nnegative = \"node:T\"\nfull = \"10 mV\"\n\
             source_ohms = \"350 ohm\"\nallowance = \"2 %\"\n"
        );
        let wires = "wire,from,to,gauge_awg,length\nW1,P1.1,J2.1,20,1 m\nW2,P1.2,J2.2,20,1 m\nW3,J2.3,J2.2,20,1 m\n";
        let contacts = "size,kind,gauge_min_awg,gauge_max_awg,current_a,drop_mv,alloy\nG,hermetic,24,20,5,60,kovar\n";
        judge_files(
            &[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("wires.csv", wires), ("catalog/contacts.csv", contacts)],
            None,
        )
    };
    let track = |pin: &str| format!("[link.t]\nfrom = \"node:T\"\nto = \"{pin}\"\nohms = \"1 mohm\"");
    for (pin, microvolts) in [("J2.3", 80.0), ("J1.2", 0.0)] {
        let (design, verdict) = with(&track(pin));
        let value = margin_of(&design, &verdict, "SE-03", "sensor:G", Bound::AtMost).value;
        assert!((value - microvolts * 1e-6).abs() < 1e-9, "{pin}: {value}");
    }
}

/// 28 V behind 1 mohm, 100 ohm of feed and a burden of 250 ohm: at 20 mA 28 − 0.02 × 350 = 21.0 V are left (worked by hand), though the
/// transmitter stands at zero, where 26.6 V are.
#[test]
fn se_04_loop_at_full_scale() {
    let with = |least: &str| {
        judge(&bench(
            "current = \"1 mA\"",
            &format!(
                "[node.A]\n[node.M]\n[link.l]\nfrom = \"bus:A\"\nto = \"node:A\"\nohms = \"100 ohm\"\n\
                 [receiver.N]\npositive = \"node:M\"\nnegative = \"node:R\"\ninput_ohms = \"250 ohm\"\nreference = \"node:R\"\n\
                 common_low = \"-1 V\"\ncommon_high = \"5 V\"\n\
                 [sensor.G]\nkind = \"current-loop\"\nreceiver = \"N\"\npositive = \"node:A\"\nnegative = \"node:M\"\n\
                 burden_ohms = \"250 ohm\"\nallowance = \"1 %\"\n{least}\n"
            ),
        ))
    };
    for (volts, expected) in [("20.999", vec![]), ("21.001", vec!["SE-04/sensor:G"])] {
        let (design, verdict) = with(&format!("volts_min = \"{volts} V\""));
        assert_eq!(findings(&verdict), expected, "{volts}");
        let value = margin_of(&design, &verdict, "SE-04", "sensor:G", Bound::AtLeast).value;
        assert!((value - 21.0).abs() < 1e-4, "{value}");
    }
    let (design, verdict) = with("");
    assert_eq!(not_judged_of(&design, &verdict, "SE-04"), [("sensor:G".to_owned(), "volts_min".to_owned())]);
}
