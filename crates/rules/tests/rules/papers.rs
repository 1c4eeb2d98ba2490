//! Rules on the papers: interface sheets, wire list and mates against each other. Each finding quotes the rows that contradict.

use crate::*;

/// Two boxes, each with a sheet, and a harness between: J1 gives power, J2 takes it and has a line of millivolts to J1.
const BOXES: &str = r#"
format = 1
name = "boxes"
profile = "space-28v"
[unit.PDU]
[unit.BOX]
[sheet.ICS-PDU]
unit = "PDU"
revision = "C"
[sheet.ICS-BOX]
unit = "BOX"
revision = "B"
[connector.J1]
unit = "PDU"
contact = "20"
cavities = 9
[connector.J2]
unit = "BOX"
contact = "20"
cavities = 9
[node.R]
[node.V]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[battery.B]
positive = "node:V"
negative = "node:R"
emf = "28 V"
ohms = "1 mohm"
rating = "100 A"
[link.V]
from = "node:V"
to = "J1.1"
ohms = "1 mohm"
[link.R]
from = "node:R"
to = "J1.2"
ohms = "1 mohm"
[load.X]
line = "J2.1"
return = "J2.2"
current = "1 A"
"#;

const PINS: &str = "pin,meaning,signal,own_return,changed\n\
                    J1.1,power-out,FEED,J1.2,A\n\
                    J1.2,return,,,A\n\
                    J1.3,signal,TEMP,J1.4,A\n\
                    J1.4,signal-return,,,A\n\
                    J1.5,no-connect,,,A\n\
                    J1.6,spare,,,A\n\
                    J2.1,power-in,FEED,J2.2,A\n\
                    J2.2,return,,,A\n\
                    J2.3,signal,TEMP,J2.4,B\n\
                    J2.4,signal-return,,,B\n";

const WIRES: &str = "wire,from,to,gauge_awg,length,cable,signal,from_revision,to_revision\n\
                     W1,J1.1,J2.1,20,1 m,,FEED,C,B\n\
                     W2,J1.2,J2.2,20,1 m,,,C,B\n\
                     W3,J1.3,J2.3,22,1 m,C1,TEMP,C,B\n\
                     W4,J1.4,J2.4,22,1 m,C1,,C,B\n";

const CABLE: &str = "[cable.C1]\nkind = \"twisted\"\n";

/// The boxes with one text put in place of another, in whichever file has it.
pub(crate) fn with(changes: &[(&str, &str)]) -> (Design, Verdict) {
    let mut files = [format!("{BOXES}{CABLE}"), PINS.to_owned(), WIRES.to_owned()];
    for (from, to) in changes {
        let file = files.iter_mut().find(|file| file.contains(from)).unwrap_or_else(|| panic!("no file holds {from:?}"));
        *file = file.replacen(from, to, 1);
    }
    judge_files(&[("vehicle.toml", &files[0]), ("pins.csv", &files[1]), ("wires.csv", &files[2])], None)
}

/// What a change makes the rules find, with the places of the only finding.
fn found(changes: &[(&str, &str)]) -> (Vec<String>, Vec<String>) {
    let (design, verdict) = with(changes);
    let ids = findings(&verdict).into_iter().map(str::to_owned).collect();
    let places = verdict.findings.first().map_or(Vec::new(), |first| quoted(&design, first).into_iter().map(str::to_owned).collect());
    (ids, places)
}

#[test]
fn papers_that_agree_are_no_finding() {
    let (design, verdict) = with(&[]);
    assert_eq!(findings(&verdict), [""; 0]);
    // The line of the signal has no load and no current of its own: its drop is all that cannot be said; and no wire has a type.
    let left = |id: &str| id.starts_with("VD-01") || id.starts_with("AM-01");
    assert!(not_judged(&design, &verdict).iter().all(|(id, _)| left(id)), "{:?}", verdict.not_judged);
    for (rule, subjects) in [
        ("IC-01", 1),
        ("IC-02", 1),
        ("IC-03", 2),
        ("IC-04", 6),
        ("IC-05", 4),
        ("IC-06", 4),
        ("IC-07", 4),
        ("IC-08", 1),
        ("IC-09", 4),
        ("CT-02", 4),
    ] {
        assert_eq!(counted(&verdict, rule), subjects, "{rule}");
    }
}

/// A bare wire list has no sheets: rules on sheets have no subject and say nothing.
#[test]
fn rules_on_sheets_say_nothing_without_sheets() {
    let wires = "wire,from,to,gauge_awg,length,current\nW1,J1.1,J2.1,20,1 m,1 A\n";
    let (_, verdict) = judge_files(&[("wires.csv", wires)], None);
    let said = verdict.counted.iter().map(|row| row.rule.0).chain(verdict.not_judged.iter().map(|row| row.rule.0));
    assert_eq!(said.filter(|code| code.starts_with("IC") || code.starts_with("CN")).collect::<Vec<_>>(), [""; 0]);
}

#[test]
fn ic_01_wire_on_no_connect() {
    let (ids, places) = found(&[("W4,J1.4", "W5,J1.5,J2.9,22,1 m,,,,\nW4,J1.4"), ("J2.4,sig", "J2.9,signal,,,\nJ2.4,sig")]);
    assert_eq!(ids, ["IC-01/port:J1.5"]);
    assert_eq!(places, ["J1.5", "no-connect"]);
    // A spare pin may have a wire.
    let (ids, _) = found(&[("W4,J1.4", "W5,J1.6,J2.9,22,1 m,,,,\nW4,J1.4"), ("J2.4,sig", "J2.9,spare,,,\nJ2.4,sig")]);
    assert_eq!(ids, [""; 0]);
}

#[test]
fn ic_02_power_input_without_wire_or_feed() {
    let (ids, places) = found(&[("W1,J1.1,J2.1,20,1 m,,FEED,C,B\n", "")]);
    assert_eq!(ids, ["UF-01/load:X", "IC-02/port:J2.1"]);
    assert_eq!(places.len(), 1, "the load itself");
    // The wire is there and begins at a pin that gives nothing.
    let (ids, _) = found(&[("W1,J1.1", "W1,J1.6"), ("J1.1,power-out,FEED,J1.2,A\n", "")]);
    assert_eq!(ids, ["UF-01/load:X", "IC-02/port:J2.1"]);
    // A pin called power-out is enough, where what is behind it is not modelled.
    let (ids, _) = found(&[("to = \"J1.1\"", "to = \"J1.9\"")]);
    assert_eq!(ids, ["UF-01/load:X"]);
}

/// The far end leads to a box of which nothing is known.
#[test]
fn ic_02_is_not_judged_where_the_far_end_is_unknown() {
    let (design, verdict) = with(&[("W1,J1.1", "W1,J9.1")]);
    assert_eq!(findings_of(&verdict, "IC-02"), [""; 0]);
    assert_eq!(not_judged_of(&design, &verdict, "IC-02"), [("port:J2.1".to_owned(), "source".to_owned())]);
}

/// An open switch is no matter of the papers.
#[test]
fn ic_02_does_not_care_how_switches_stand() {
    let open = "[switch.K]\nfrom = \"node:V\"\nto = \"J1.1\"\nohms = \"1 mohm\"\nstate = \"open\"\nrating_resistive = \"10 A\"\n";
    let (ids, _) = found(&[("[link.V]\nfrom = \"node:V\"\nto = \"J1.1\"\nohms = \"1 mohm\"\n", open)]);
    assert_eq!(ids, ["UF-01/load:X"]);
}

#[test]
fn ic_03_load_without_return() {
    let (ids, _) = found(&[("W2,J1.2,J2.2,20,1 m,,,C,B\n", "")]);
    assert_eq!(ids, ["UF-01/load:X", "IC-03/load:X", "IC-03/port:J2.1", "IC-05/port:J1.2", "IC-05/port:J2.2"]);
    // Without own_return any return of the unit will do …
    assert_eq!(found(&[("J2.1,power-in,FEED,J2.2", "J2.1,power-in,FEED,")]).0, [""; 0]);
    // … and if no row is one, it cannot be said.
    let (design, verdict) = with(&[("J2.1,power-in,FEED,J2.2", "J2.1,power-in,FEED,"), ("J2.2,return,,,A\n", "")]);
    assert_eq!(findings(&verdict), [""; 0]);
    assert_eq!(not_judged_of(&design, &verdict, "IC-03"), [("port:J2.1".to_owned(), "own_return".to_owned())]);
}

#[test]
fn ic_04_two_signals_on_one_net() {
    let (ids, places) = found(&[("J2.3,signal,TEMP", "J2.3,signal,PRESS")]);
    assert_eq!(ids, ["IC-04/port:J2.3"]);
    assert_eq!(places, ["PRESS", "TEMP"]);
    // The wire list against the sheets.
    let (ids, places) = found(&[("C1,TEMP", "C1,PRESS")]);
    assert_eq!(ids, ["IC-04/wire:W3"]);
    assert_eq!(places, ["PRESS", "TEMP"]);
    // Returns meet on purpose.
    let two_returns = [("J1.2,return,,,A", "J1.2,return,RTN-A,,A"), ("J2.2,return,,,A", "J2.2,return,RTN-B,,A")];
    assert_eq!(found(&two_returns).0, [""; 0]);
}

#[test]
fn ic_05_mated_sides_disagree() {
    // The harness half of J2 has a sheet of its own.
    let mated = ("[node.R]\n", "[connector.P2]\ncontact = \"20\"\nmate = \"J2\"\n[node.R]\n");
    let wires = [("W1,J1.1,J2.1", "W1,J1.1,P2.1"), ("W2,J1.2,J2.2", "W2,J1.2,P2.2"), ("W3,J1.3,J2.3", "W3,J1.3,P2.3")];
    let rest = [mated, wires[0], wires[1], wires[2], ("W4,J1.4,J2.4", "W4,J1.4,P2.4")];
    for (meaning, expected) in [("power-in", false), ("power-out", false), ("spare", true), ("return", true)] {
        let row = format!("P2.1,{meaning},,,\nJ1.1,power");
        let mut changes = rest.to_vec();
        changes.push(("J1.1,power", &row));
        let (ids, places) = found(&changes);
        let of_rule: Vec<&str> = ids.iter().map(String::as_str).filter(|id| id.starts_with("IC-05")).collect();
        assert_eq!(of_rule, if expected { vec!["IC-05/port:J2.1"] } else { vec![] }, "{meaning}");
        if expected && ids.len() == 1 {
            assert_eq!(places, ["power-in", meaning]);
        }
    }
}

/// A pin that the sheet calls millivolt has nothing on its other side.
#[test]
fn ic_05_used_on_one_side_only() {
    let (ids, places) = found(&[("J2.4,signal-return", "J2.5,millivolt,,,A\nJ2.4,signal-return")]);
    assert_eq!(ids, ["IC-05/port:J2.5"]);
    assert_eq!(places, ["millivolt"]);
    for meaning in ["spare", "no-connect", "power-out", "signal"] {
        let row = format!("J2.5,{meaning},,,A\nJ2.4,signal-return");
        assert_eq!(found(&[("J2.4,signal-return", &row)]).0, [""; 0], "{meaning}");
    }
}

#[test]
fn ic_06_open_wire_end() {
    let (ids, places) = found(&[("W4,J1.4", "W5,J1.3,J2.8,22,1 m,,,,\nW4,J1.4")]);
    assert_eq!(ids, ["IC-06/wire:W5"]);
    assert_eq!(places, ["J2.8"]);
    let (ids, _) = found(&[("W4,J1.4", "W5,J1.3,splice:SP,22,1 m,,,,\nW4,J1.4"), ("[node.R]\n", "[splice.SP]\n[node.R]\n")]);
    assert_eq!(ids, ["IC-06/wire:W5"]);
    // Stowed, or to a box of which nothing is known: no open end.
    for end in ["stowed", "J9.1"] {
        let row = format!("W5,J1.3,{end},22,1 m,,,,\nW4,J1.4");
        assert_eq!(found(&[("W4,J1.4", &row)]).0, [""; 0], "{end}");
    }
}

/// The row of J2.3 changed in B; its sheet stands at B.
#[test]
fn ic_07_stale_end() {
    let (ids, places) = found(&[("C1,TEMP,C,B", "C1,TEMP,C,A")]);
    assert_eq!(ids, ["IC-07/wire:W3"]);
    assert_eq!(places, ["A", "J2.3,signal,TEMP,J2.4,B", "\"B\""]);
    // Older than the sheet, but this pin's row has not changed since: J1.3 changed in A.
    assert_eq!(found(&[("C1,TEMP,C,B", "C1,TEMP,B,B")]).0, [""; 0]);
    assert_eq!(found(&[("C1,TEMP,C,B", "C1,TEMP,A,B")]).0, [""; 0]);
    // Newer than the sheet that is in the folder.
    assert_eq!(found(&[("C1,TEMP,C,B", "C1,TEMP,C,C")]).0, ["IC-07/wire:W3"]);
    // A wire that states no revision claims nothing.
    assert_eq!(found(&[("C1,TEMP,C,B", "C1,TEMP,,")]).0, [""; 0]);
}

#[test]
fn ic_07_without_its_inputs() {
    let missing = |changes: &[(&str, &str)]| {
        let (design, verdict) = with(changes);
        assert_eq!(findings(&verdict), [""; 0]);
        not_judged_of(&design, &verdict, "IC-07")
    };
    let stale = ("C1,TEMP,C,B", "C1,TEMP,C,A");
    let row = |field: &str| vec![("wire:W3".to_owned(), field.to_owned())];
    assert_eq!(missing(&[stale, ("TEMP,J2.4,B", "TEMP,J2.4,")]), row("changed of J2.3"));
    let lost = missing(&[("unit = \"BOX\"\nrevision = \"B\"", "unit = \"BOX\"")]);
    assert_eq!(lost.len(), 4);
    assert!(lost.contains(&row("revision of sheet ICS-BOX")[0]), "{lost:?}");
}

/// The cores of C1 are TEMP and its own return. Swapped with the feed at one end, each is paired with a stranger.
#[test]
fn ic_08_split_pair() {
    let (ids, _) = found(&[("W1,J1.1,J2.1,20,1 m,,", "W1,J1.1,J2.1,20,1 m,C1,"), ("W4,J1.4,J2.4,22,1 m,C1,", "W4,J1.4,J2.4,22,1 m,,")]);
    assert!(ids.contains(&"IC-08/cable:C1".to_owned()), "{ids:?}");
    // Listed in opposite directions it is still a pair.
    assert_eq!(found(&[("W4,J1.4,J2.4,22,1 m,C1,,C,B", "W4,J2.4,J1.4,22,1 m,C1,,B,C")]).0, [""; 0]);
    // A cable that is not twisted has no pairs.
    let (design, verdict) = with(&[("kind = \"twisted\"", "kind = \"shielded\"")]);
    assert_eq!((counted(&verdict, "IC-08"), not_judged_of(&design, &verdict, "IC-08")), (0, vec![]));
}

/// Two lines of a balanced pair look like two signals: only own_return tells.
#[test]
fn ic_08_without_own_return() {
    let balanced = [
        ("J1.3,signal,TEMP,J1.4", "J1.3,signal,TEMP,"),
        ("J2.3,signal,TEMP,J2.4", "J2.3,signal,TEMP,"),
        ("J1.4,signal-return", "J1.4,signal"),
        ("J2.4,signal-return", "J2.4,signal"),
    ];
    let (design, verdict) = with(&balanced);
    assert_eq!(findings(&verdict), [""; 0]);
    let expected = [("cable:C1".to_owned(), "own_return of J2.3".to_owned())];
    assert_eq!(not_judged_of(&design, &verdict, "IC-08"), expected);
    // Without a row at either end nothing can be said.
    let rows = [
        ("J1.3,signal,TEMP,J1.4,A\n", ""),
        ("J1.4,signal-return,,,A\n", ""),
        ("J2.3,signal,TEMP,J2.4,B\n", ""),
        ("J2.4,signal-return,,,B\n", ""),
        (
            "[load.X]",
            "[link.A]\nfrom = \"J1.3\"\nto = \"J1.4\"\nohms = \"1 ohm\"\n[link.B]\nfrom = \"J2.3\"\nto = \"J2.4\"\nohms = \"1 ohm\"\n[load.X]",
        ),
    ];
    let (design, verdict) = with(&rows);
    assert_eq!(not_judged_of(&design, &verdict, "IC-08"), [("cable:C1".to_owned(), "pins".to_owned())]);
}

#[test]
fn ic_09_feed_and_return_apart() {
    let (ids, places) = found(&[("W4,J1.4,J2.4,22,1 m,C1,", "W4,J1.4,J2.4,22,1 m,,")]);
    assert_eq!(ids, ["IC-09/port:J1.3", "IC-09/port:J2.3"]);
    assert_eq!(places.len(), 2);
    let other = ("[node.R]\n", "[connector.J3]\nunit = \"BOX\"\ncontact = \"20\"\n[node.R]\n");
    let changes = [
        other,
        ("J2.1,power-in,FEED,J2.2", "J2.1,power-in,FEED,J3.2"),
        ("J2.2,return", "J3.2,return"),
        ("return = \"J2.2\"", "return = \"J3.2\""),
        ("W2,J1.2,J2.2", "W2,J1.2,J3.2"),
    ];
    let (ids, places) = found(&changes);
    assert_eq!(ids, ["IC-09/port:J2.1"]);
    assert_eq!(places, ["J3.2", "J3.2,return,,,A"]);
}

/// Size 20 takes 24 to 20 AWG (AS39029, from memory).
#[test]
fn ct_02_wire_in_range() {
    let gauge = |awg: &str| found(&[("W1,J1.1,J2.1,20", &format!("W1,J1.1,J2.1,{awg}"))]);
    for inside in ["20", "22", "24"] {
        assert_eq!(gauge(inside).0, [""; 0], "{inside}");
    }
    for (outside, word) in [("18", "too thick"), ("26", "too thin")] {
        let (_, verdict) = with(&[("W1,J1.1,J2.1,20", &format!("W1,J1.1,J2.1,{outside}"))]);
        assert_eq!(findings(&verdict), ["CT-02/wire:W1"], "{outside}");
        assert!(verdict.findings[0].text.contains(word), "{}", verdict.findings[0].text);
    }
    let (design, verdict) = with(&[("W1,J1.1,J2.1,20", "W1,J1.1,J2.1,TBD")]);
    let expected = ("wire:W1".to_owned(), "gauge".to_owned());
    assert!(not_judged_of(&design, &verdict, "CT-02").contains(&expected));
}
