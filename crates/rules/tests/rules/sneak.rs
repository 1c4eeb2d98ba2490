//! Sneak paths: the four patterns as they stand in textbooks, rebuilt with loads of 10 ohm, a lamp of 40 ohm and 28 V; each is found, and a clean version of each is not.
//!
//! Patterns: power dome, ground dome, combined dome, tie across supplies; sneak circuit analysis, common practice, from memory.

use crate::*;

/// A battery of 28 V on bus A, its return on ground, and rows.
fn circuit(rows: &str) -> String {
    format!(
        "format = 1\nname = \"sneak\"\n[phase.p]\nambient = \"20 degC\"\n[node.R]\n[node.n1]\n[node.n2]\n[node.r1]\n[node.r2]\n[ground.G]\nreference = true\n\
         [strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 uohm\"\n[bus.A]\nreturn = \"node:R\"\n\
         [battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"1 uohm\"\nrating = \"100 A\"\n{rows}"
    )
}

fn switch(name: &str, from: &str, to: &str, state: &str) -> String {
    format!("[switch.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nohms = \"1 uohm\"\nstate = \"{state}\"\n")
}

fn link(name: &str, from: &str, to: &str) -> String {
    format!("[link.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nohms = \"1 uohm\"\n")
}

/// A load of 10 ohm that a switch commands.
fn load(name: &str, line: &str, back: &str, by: &str) -> String {
    format!(
        "[load.{name}]\nline = \"{line}\"\nreturn = \"{back}\"\nresistance = \"10 ohm\"\nswitched_by = [\"switch:{by}\"]\noff_current = \"20 mA\"\nstate = \"off\"\n"
    )
}

fn lamp(line: &str, back: &str) -> String {
    format!("[load.K]\nline = \"{line}\"\nreturn = \"{back}\"\nresistance = \"40 ohm\"\n")
}

/// Two loads behind a switch each, S1 open and S2 closed.
fn two_lines() -> String {
    switch("S1", "bus:A", "node:n1", "open")
        + &switch("S2", "bus:A", "node:n2", "closed")
        + &load("L1", "node:n1", "node:R", "S1")
        + &load("L2", "node:n2", "node:R", "S2").replace("state = \"off\"", "state = \"on\"")
}

/// Two loads with a return each; that of L2 is opened by a switch.
fn two_returns() -> String {
    link("f2", "bus:A", "node:n2")
        + &link("g1", "node:r1", "node:R")
        + &switch("SG", "node:r2", "node:R", "open")
        + &load("L2", "node:n2", "node:r2", "SG")
}

/// Findings of SN-02 with their value and what is said of them.
fn energised(rows: &str) -> Vec<(String, f64, String)> {
    let (_, verdict) = judge(&circuit(rows));
    let own = verdict.findings.iter().filter(|finding| finding.rule.0 == "SN-02");
    own.map(|finding| (finding.id.clone(), finding.margin.as_ref().expect("a number").value, finding.text.clone())).collect()
}

#[track_caller]
fn found(rows: &str, expected: &[(&str, f64)], pattern: &str) {
    let found = energised(rows);
    let names: Vec<&str> = found.iter().map(|(id, ..)| id.as_str()).collect();
    let wanted: Vec<String> = expected.iter().map(|(load, _)| format!("SN-02/load:{load}")).collect();
    assert_eq!(names, wanted, "{found:?}");
    for ((_, value, text), (_, hand)) in found.iter().zip(expected) {
        assert!((value - hand).abs() < 1e-4, "{value} by hand {hand}");
        assert!(text.contains(&format!("by a {pattern}: ")), "{text}");
        println!("{pattern}: {value:.4} A, by hand {hand:.4}; {text}");
    }
}

/// A lamp between two lines: with S1 open the load behind it gets 28 V / (40 + 10) ohm through the lamp from the other's feed. With the lamp on the other line alone nothing.
#[test]
fn power_dome() {
    found(&(two_lines() + &lamp("node:n2", "node:n1")), &[("L1", 28.0 / 50.0)], "power dome");
    assert!(energised(&(two_lines() + &lamp("node:n2", "node:R"))).is_empty());
}

/// A lamp between two returns: with the switch in its return open a load finds home through the lamp and the other's return. With the lamp on its own return alone nothing.
#[test]
fn ground_dome() {
    let other =
        switch("S1", "bus:A", "node:n1", "closed") + &load("L1", "node:n1", "node:r1", "S1").replace("state = \"off\"", "state = \"on\"");
    found(&(two_returns() + &other + &lamp("node:r2", "node:r1")), &[("L2", 28.0 / 50.0)], "ground dome");
    assert!(energised(&(two_returns() + &other + &lamp("node:n1", "node:r1"))).is_empty());
}

/// A lamp from one's return to the other's line: both are commanded off, and both carry 28 V / (10 + 40 + 10) ohm. The lamp itself is turned round, which SN-01 says.
#[test]
fn combined_dome() {
    let other = switch("S1", "bus:A", "node:n1", "open") + &load("L1", "node:n1", "node:r1", "S1");
    let rows = two_returns() + &other + &lamp("node:n1", "node:r2");
    found(&rows, &[("L2", 28.0 / 60.0), ("L1", 28.0 / 60.0)], "combined dome");
    let (_, verdict) = judge(&circuit(&rows));
    assert_eq!(findings_of(&verdict, "SN-01"), ["SN-01/load:K"]);
    let clean = two_returns() + &other + &lamp("node:n2", "node:R");
    assert!(energised(&clean).is_empty());
}

/// A lamp between lines of two buses: the load of the dead line is fed from the other battery, 24 V / (40 + 10) ohm. With a diode that blocks nothing.
#[test]
fn cross_tie() {
    let second = "[bus.B]\nreturn = \"node:R\"\n[battery.B]\npositive = \"bus:B\"\nnegative = \"node:R\"\nemf = \"24 V\"\nohms = \"1 uohm\"\nrating = \"100 A\"\n";
    let lines = two_lines().replace("[switch.S2]\nfrom = \"bus:A\"", "[switch.S2]\nfrom = \"bus:B\"");
    found(&(second.to_owned() + &lines + &lamp("node:n2", "node:n1")), &[("L1", 24.0 / 50.0)], "cross tie");
    let blocked = "[node.k]\n[diode.D]\nanode = \"node:n1\"\ncathode = \"node:k\"\n".to_owned() + &lamp("node:n2", "node:k");
    assert!(energised(&(second.to_owned() + &lines + &blocked)).is_empty());
}

/// Off but for its leakage: an open switch lets 20 mA through at 28 V, of 20 mA that leave the load off. The load's own 10 ohm take a little of it; 20.2 mA are too much.
#[test]
fn sn_02_leakage_and_limit() {
    let leaking = |leakage: &str| two_lines().replacen("state = \"open\"\n", &format!("state = \"open\"\nleakage = \"{leakage}\"\n"), 1);
    let value = |rows: &str| {
        let (design, verdict) = judge(&circuit(rows));
        (margin_of(&design, &verdict, "SN-02", "load:L1", Bound::AtMost).value, !findings_of(&verdict, "SN-02").is_empty())
    };
    let hand = |leakage: f64| 28.0 / (28.0 / leakage + 10.0);
    for (words, leakage, fails) in [("20 mA", 0.020, false), ("20.1 mA", 0.0201, false), ("20.2 mA", 0.0202, true)] {
        let (found, failed) = value(&leaking(words));
        assert!((found - hand(leakage)).abs() < 1e-8, "{found} by hand {}", hand(leakage));
        assert_eq!(failed, fails, "{words}");
    }
}

/// One action away: closing a tie brings the other line's current to a load that is commanded off.
#[test]
fn one_action_away() {
    let tie = "[tie.T]\nfrom = \"node:n2\"\nto = \"node:n1\"\nohms = \"1 uohm\"\nstate = \"open\"\n";
    assert!(energised(&(two_lines() + tie)).is_empty());
    let action = "[action.join]\nclosed = [\"tie:T\"]\nwho = \"operator\"\n";
    let found = energised(&(two_lines() + tie + action));
    assert_eq!(found.len(), 1);
    assert!((found[0].1 - 2.8).abs() < 1e-4 && found[0].2.contains("with action:join"), "{found:?}");
}

/// A source of a little more behind a breaker drives current from its load to its line: 10 mA through 1 ohm is none, 10.1 mA are.
#[test]
fn sn_01_backwards_through_a_breaker() {
    for (emf, fails) in [("28.0099 V", false), ("28.0102 V", true), ("27 V", false)] {
        let rows = format!(
            "[link.near]\nfrom = \"bus:A\"\nto = \"node:r1\"\nohms = \"1 mohm\"\n[breaker.CB]\nline = \"node:r1\"\nload = \"node:n1\"\nohms = \"1 mohm\"\nrating = \"5 A\"\n[link.far]\nfrom = \"node:n1\"\nto = \"node:n2\"\nohms = \"1 ohm\"\n\
             [battery.B]\npositive = \"node:n2\"\nnegative = \"node:R\"\nemf = \"{emf}\"\nohms = \"1 uohm\"\nrating = \"100 A\"\n"
        );
        let (_, verdict) = judge(&circuit(&rows));
        assert_eq!(findings_of(&verdict, "SN-01"), if fails { vec!["SN-01/breaker:CB"] } else { vec![] }, "{emf}");
    }
}

/// Behind 1 ohm 28 V give 28²/4 = 196 W at most. A load that asks for 200 W has no operating point, and of its breaker, and of a load beside it that is off, no current is known: neither is judged.
#[test]
fn what_has_no_operating_point_is_not_judged() {
    let rows = |watts: u32| {
        format!(
            "[link.near]\nfrom = \"bus:A\"\nto = \"node:r1\"\nohms = \"1 ohm\"\n[breaker.CB]\nline = \"node:r1\"\nload = \"node:n1\"\nohms = \"1 uohm\"\nrating = \"20 A\"\n\
             [load.P]\nline = \"node:n1\"\nreturn = \"node:R\"\npower = \"{watts} W\"\n"
        ) + &switch("S1", "node:n1", "node:n2", "open").replacen("state =", "leakage = \"1 mA\"\nstate =", 1)
            + &load("L1", "node:n2", "node:R", "S1")
    };
    for (watts, unknown) in [(190, false), (200, true)] {
        let (design, verdict) = judge(&circuit(&rows(watts)));
        for (rule, of) in [("SN-01", "breaker:CB"), ("SN-02", "load:L1")] {
            let missing = not_judged_of(&design, &verdict, rule);
            assert_eq!(missing.contains(&(of.to_owned(), "operating point".to_owned())), unknown, "{watts} W, {rule}: {missing:?}");
        }
    }
}

/// The same through a tie, a relay and a switch that are meant one way, and through a tie that may carry either way.
#[test]
fn sn_01_backwards_through_what_is_meant_one_way() {
    for (kind, one_way, emf, fails) in [
        ("tie", true, "28.0099 V", false),
        ("tie", true, "28.0102 V", true),
        ("relay", true, "28.0102 V", true),
        ("switch", true, "28.0102 V", true),
        ("tie", false, "29 V", false),
        ("tie", true, "27 V", false),
    ] {
        let rows = format!(
            "[link.near]\nfrom = \"bus:A\"\nto = \"node:r1\"\nohms = \"1 mohm\"\n[{kind}.T]\nfrom = \"node:r1\"\nto = \"node:n1\"\nohms = \"1 mohm\"\none_way = {one_way}\n[link.far]\nfrom = \"node:n1\"\nto = \"node:n2\"\nohms = \"1 ohm\"\n\
             [battery.B]\npositive = \"node:n2\"\nnegative = \"node:R\"\nemf = \"{emf}\"\nohms = \"1 uohm\"\nrating = \"100 A\"\n"
        );
        let (_, verdict) = judge(&circuit(&rows));
        let wanted = format!("SN-01/{kind}:T");
        assert_eq!(findings_of(&verdict, "SN-01"), if fails { vec![wanted.as_str()] } else { vec![] }, "{kind} {one_way} {emf}");
    }
}
