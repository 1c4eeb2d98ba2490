//! Rules on how connectors and cables are made.

use crate::*;

/// An insert of four cavities in a row, 2 mm apart, and one of five.
/// And one of which only the counts are known: three cavities of size 20, two of 16.
const INSERTS: &str = "arrangement,cavity,cavities,size,x_mm,y_mm\n\
                       row-4,1,,20,0,0\nrow-4,2,,20,2,0\nrow-4,3,,20,4,0\nrow-4,4,,20,6,0\n\
                       bare-4,A,,20,,\nbare-4,B,,20,,\nbare-4,C,,20,,\nbare-4,D,,20,,\n\
                       mix-5,,3,20,,\nmix-5,,2,16,,\n";

/// A supply unit with connector J1 mated with the harness half P1, from which wires lead to a box.
pub(crate) fn vehicle(j1: &str, p1: &str, more: &str, pins: &str, wires: &str) -> (Design, Verdict) {
    let rows = format!(
        "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\ncontact = \"20\"\nmate = \"P1\"\n{j1}\n[connector.P1]\ncontact = \"20\"\n{p1}\n\
         [connector.J2]\nunit = \"BOX\"\nkind = \"terminals\"\n\
         [link.in]\nfrom = \"bus:A\"\nto = \"J1.1\"\nohms = \"1 mohm\"\n[link.out]\nfrom = \"node:R\"\nto = \"J1.2\"\nohms = \"1 mohm\"\n\
         [load.Y]\nline = \"J2.1\"\nreturn = \"J2.2\"\ncurrent = \"0.1 A\"\n{more}"
    );
    let wires = format!("wire,from,to,type,gauge_awg,length,cable\nW1,P1.1,J2.1,,20,1 m,\nW2,P1.2,J2.2,,20,1 m,\n{wires}");
    let vehicle = bench("current = \"1 mA\"", &rows);
    let mut files = vec![("vehicle.toml", vehicle.as_str()), ("wires.csv", &wires), ("catalog/arrangements.csv", INSERTS)];
    let pins = format!("pin,meaning,grounded\n{pins}");
    files.push(("pins.csv", &pins));
    judge_files(&files, None)
}

/// J1.1 is on the bus, P1.1 leads to the load alone.
#[test]
fn cn_01_live_half_has_sockets() {
    let (pins, sockets) = ("gender = \"pins\"", "gender = \"sockets\"");
    let stays = |gender: &str| format!("{gender}\nstays = true");
    for (j1, p1, expected) in [
        (stays(pins), String::new(), vec!["CN-01/connector:J1"]),
        (stays(sockets), String::new(), vec![]),
        (String::new(), stays(pins), vec![]),
        (pins.to_owned(), pins.to_owned(), vec![]),
    ] {
        assert_eq!(findings_of(&vehicle(&j1, &p1, "", "", "").1, "CN-01"), expected, "{j1} {p1}");
    }
    // A pin called power-out is enough to know what the half is.
    let (design, verdict) = vehicle(pins, "", "", "J1.1,power-out,\n", "");
    assert_eq!(findings_of(&verdict, "CN-01"), ["CN-01/connector:J1"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "CN-01").expect("found above");
    assert_eq!(quoted(&design, finding), ["\"pins\"", "J1.1,power-out,"]);
    let (design, verdict) = vehicle("stays = true", "", "", "", "");
    assert_eq!(not_judged_of(&design, &verdict, "CN-01"), [("connector:J1".to_owned(), "gender".to_owned())]);
}

/// J1 is of the section of its unit, P1 of its own: where these differ the pair parts, and each half is to say whether it stays live.
#[test]
fn cn_01_at_a_plane_where_sections_part() {
    let with = |j1: &str, p1: &str| {
        let (design, verdict) = vehicle(j1, p1, "[section.deck]\n[section.hold]\n", "", "");
        not_judged_of(&design, &verdict, "CN-01")
    };
    let both = ["connector:J1", "connector:P1"].map(|id| (id.to_owned(), "stays".to_owned()));
    assert_eq!(with("section = \"deck\"", "section = \"hold\""), both);
    assert_eq!(with("section = \"deck\"\nstays = false", "section = \"hold\"\nstays = true\ngender = \"sockets\""), []);
    assert_eq!(with("section = \"deck\"", "section = \"deck\""), []);
    assert_eq!(with("section = \"deck\"", ""), []);
}

/// The other half is live through a second way from the bus, if its switch closes in any phase.
#[test]
fn cn_01_fed_from_the_other_side_in_some_phase() {
    let with = |phases: &str| {
        let more = format!(
            "[switch.K]\nfrom = \"bus:A\"\nto = \"J2.1\"\nohms = \"1 mohm\"\nstate = \"open\"\nrating_resistive = \"9 A\"\n{phases}"
        );
        vehicle("", "gender = \"pins\"\nstays = true", &more, "", "").1
    };
    assert_eq!(findings_of(&with("[phase.one]\n[phase.two]\n"), "CN-01"), [""; 0]);
    assert_eq!(findings_of(&with("[phase.one]\n[phase.two]\nclosed = [\"switch:K\"]\n"), "CN-01"), ["CN-01/connector:P1"]);
}

/// 2 mm apart in a row: 1 and 2 are neighbours, 1 and 3 have a cavity between.
#[test]
fn cn_02_power_beside_a_sensitive_contact() {
    let with = |arrangement: &str, pins: &str| vehicle(arrangement, "", "", pins, "");
    let row = "arrangement = \"row-4\"\nfilled = true";
    for meaning in ["millivolt", "command", "ordnance"] {
        let near = format!("J1.1,power-out,\nJ1.2,{meaning},\n");
        let (design, verdict) = with(row, &near);
        assert_eq!(findings_of(&verdict, "CN-02"), ["CN-02/connector:J1"], "{meaning}");
        let finding = verdict.findings.iter().find(|f| f.rule.0 == "CN-02").expect("found above");
        assert_eq!(quoted(&design, finding), [format!("J1.2,{meaning},"), "J1.1,power-out,".to_owned()]);
        let apart = format!("J1.1,power-out,\nJ1.2,spare,true\nJ1.3,{meaning},\n");
        let (_, verdict) = with(row, &apart);
        assert_eq!((findings_of(&verdict, "CN-02"), counted(&verdict, "CN-02")), (vec![], 1), "{meaning}");
    }
    let near = "J1.1,power-out,\nJ1.2,millivolt,\n";
    for (arrangement, missing) in [("", "arrangement"), ("arrangement = \"bare-4\"\nfilled = true", "cavity positions")] {
        let (design, verdict) = with(arrangement, near);
        assert_eq!(not_judged_of(&design, &verdict, "CN-02"), [("connector:J1".to_owned(), missing.to_owned())]);
    }
    // A signal may lie beside power; a power pin that nothing uses is not live.
    assert_eq!(counted(&with("", "J1.1,power-out,\nJ1.2,signal,\n").1, "CN-02"), 0);
    assert_eq!(counted(&with("", "J1.4,power-out,\nJ1.2,millivolt,\n").1, "CN-02"), 0);
}

#[test]
fn cn_03_ordnance_alone() {
    let found = |pins: &str| {
        let (_, verdict) = vehicle("", "", "", pins, "");
        (findings_of(&verdict, "CN-03").len(), counted(&verdict, "CN-03"))
    };
    assert_eq!(found("J1.1,ordnance,\nJ1.2,return,\nJ1.3,shield,\nJ1.4,spare,\n"), (0, 1));
    for meaning in ["power-in", "power-out", "signal", "command", "millivolt"] {
        assert_eq!(found(&format!("J1.1,ordnance,\nJ1.2,{meaning},\n")), (1, 1), "{meaning}");
    }
    assert_eq!(found("J1.1,power-out,\nJ1.2,return,\n"), (0, 0));
}

#[test]
fn cn_04_like_connectors_in_reach() {
    let with = |j1: &str, j3: &str| {
        let more = format!("[connector.J3]\nunit = \"PDU\"\ncontact = \"20\"\nnear = [\"J1\"]\n{j3}\n");
        vehicle(&format!("filled = true\n{j1}"), "", &more, "", "")
    };
    let (same, other) = ("arrangement = \"row-4\"\nkeying = \"N\"", "arrangement = \"row-4\"\nkeying = \"A\"");
    let (design, verdict) = with(same, &format!("filled = true\n{same}"));
    assert_eq!(findings_of(&verdict, "CN-04"), ["CN-04/connector:J3"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "CN-04").expect("found above");
    assert_eq!(quoted(&design, finding).len(), 3);
    for j3 in [other, "arrangement = \"bare-4\"\nkeying = \"N\""] {
        let (_, verdict) = with(same, j3);
        assert_eq!((findings_of(&verdict, "CN-04"), counted(&verdict, "CN-04")), (vec![], 1), "{j3}");
    }
    let genders = with(&format!("{same}\ngender = \"pins\""), &format!("{same}\ngender = \"sockets\""));
    assert_eq!(findings_of(&genders.1, "CN-04"), [""; 0]);
    for (j3, field) in [("arrangement = \"row-4\"", "keying"), ("keying = \"N\"", "arrangement")] {
        let (design, verdict) = with(same, j3);
        assert_eq!(not_judged_of(&design, &verdict, "CN-04"), [("connector:J3".to_owned(), field.to_owned())]);
    }
}

/// Two of four cavities are in use.
#[test]
fn cn_05_unused_cavities() {
    let with =
        |j1: &str, wires: &str| vehicle(&format!("arrangement = \"row-4\"\n{j1}"), "arrangement = \"row-4\"\nfilled = true", "", "", wires);
    assert_eq!(findings_of(&with("filled = true", "").1, "CN-05"), [""; 0]);
    assert_eq!(findings_of(&with("filled = false", "").1, "CN-05"), ["CN-05/connector:J1"]);
    let (design, verdict) = with("", "");
    assert_eq!(not_judged_of(&design, &verdict, "CN-05"), [("connector:J1".to_owned(), "filled".to_owned())]);
    // None is unused: the word is not needed.
    let full = "W3,P1.3,stowed,,20,1 m,\nW4,P1.4,stowed,,20,1 m,\n";
    let (_, verdict) = vehicle("", "arrangement = \"row-4\"", "", "", full);
    assert_eq!((findings_of(&verdict, "CN-05"), counted(&verdict, "CN-05")), (vec![], 1));
}

#[test]
fn cn_06_cavity_of_the_arrangement() {
    let with = |p1: &str, wires: &str| vehicle("arrangement = \"row-4\"\nfilled = true", p1, "", "", wires);
    let row = "arrangement = \"row-4\"\nfilled = true";
    assert_eq!(findings_of(&with(row, "W3,P1.4,stowed,,20,1 m,\n").1, "CN-06"), [""; 0]);
    let (design, verdict) = with(row, "W3,P1.5,stowed,,20,1 m,\n");
    assert_eq!(findings_of(&verdict, "CN-06"), ["CN-06/pin:P1.5"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "CN-06").expect("found above");
    assert_eq!(quoted(&design, finding), ["P1.5", "\"row-4\""]);
    let (design, verdict) = with("", "");
    assert_eq!(not_judged_of(&design, &verdict, "CN-06"), [("connector:P1".to_owned(), "arrangement".to_owned())]);
    // No connector states one: nothing is asked.
    let (_, verdict) = vehicle("", "", "", "", "");
    assert_eq!((counted(&verdict, "CN-06"), verdict.not_judged.iter().any(|n| n.rule.0 == "CN-06")), (0, false));
}

/// A contact of size 16 stated for a cavity of size 20.
#[test]
fn cn_06_size_of_a_cavity() {
    let row = "arrangement = \"row-4\"\nfilled = true\nother_contacts = [[\"2\", \"16\"]]";
    let (design, verdict) = vehicle("", row, "", "", "");
    assert_eq!(findings_of(&verdict, "CN-06"), ["CN-06/pin:P1.2"]);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "CN-06").expect("found above");
    assert_eq!(quoted(&design, finding), ["P1.2", "\"16\"", "\"row-4\""]);
    // The contact that is stated is the one that carries: 49 mV over 13 A at its limit (AS39029, from memory).
    let second = design.contacts.iter().find(|(_, c)| design.pin_name(c.b) == "P1.2").expect("the contact of the second cavity").1;
    assert!((second.ohms.high.value.0 - 0.049 / 13.0).abs() < 1e-12);
}

/// Three cavities of size 20 and two of 16, and nobody says which: as many contacts of each size as there are cavities, no more.
#[test]
fn cn_06_counts_by_size() {
    let with = |other: &str, wires: &str| {
        let (design, verdict) = vehicle("", &format!("arrangement = \"mix-5\"\nfilled = true\nother_contacts = [{other}]"), "", "", wires);
        let missing: Vec<_> = not_judged_of(&design, &verdict, "CN-06").into_iter().filter(|(of, _)| of == "connector:P1").collect();
        assert_eq!(missing, []);
        findings_of(&verdict, "CN-06").into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    let (third, fourth) = ("W3,P1.3,stowed,,20,1 m,\n", "W4,P1.4,stowed,,20,1 m,\n");
    assert_eq!(with("", third), [""; 0]);
    assert_eq!(with("", &format!("{third}{fourth}")), ["CN-06/connector:P1"]);
    assert_eq!(with("[\"4\", \"16\"]", &format!("{third}{fourth}")), [""; 0]);
    assert_eq!(with("[\"2\", \"16\"], [\"3\", \"16\"], [\"4\", \"16\"]", &format!("{third}{fourth}")), ["CN-06/connector:P1"]);
    assert_eq!(with("[\"1\", \"12\"]", ""), ["CN-06/connector:P1"]);
}

/// Without a size, which of the two a contact has is not known: of both the one with the greater resistance is taken, 55 mV over 7.5 A
/// against 49 mV over 13 A (AS39029, from memory), and said so.
#[test]
fn cn_06_size_not_stated() {
    let rows = "[unit.PDU]\n[unit.BOX]\n[connector.J1]\nunit = \"PDU\"\narrangement = \"mix-5\"\nfilled = true\n\
                [connector.J2]\nunit = \"BOX\"\nkind = \"terminals\"\n\
                [link.in]\nfrom = \"bus:A\"\nto = \"J1.1\"\nohms = \"1 mohm\"\n";
    let files = [
        ("vehicle.toml", &*bench("current = \"1 mA\"", rows)),
        ("wires.csv", "wire,from,to,gauge_awg,length\nW1,J1.1,J2.1,20,1 m\n"),
        ("catalog/arrangements.csv", INSERTS),
    ];
    let (design, verdict) = judge_files(&files, None);
    assert_eq!(not_judged_of(&design, &verdict, "CN-06"), [("connector:J1".to_owned(), "contact".to_owned())]);
    let contact = &design.contacts[Id::from_row(0)];
    assert!((contact.ohms.high.value.0 - 0.055 / 7.5).abs() < 1e-12);
    let note = contact.size_note.map(|id| design.note(id)).expect("the size is assumed");
    assert_eq!((note.standing, note.value.as_str()), (Standing::Assumed, "20"));
}

/// Up to 25 cavities, 2 are to be free (FAA AC 43.13-1B paragraph 11-234).
#[test]
fn cn_07_spares() {
    let with = |wires: &str| vehicle("", "arrangement = \"row-4\"\nfilled = true", "", "", wires).1;
    assert_eq!(findings_of(&with(""), "CN-07"), [""; 0]);
    assert_eq!(findings_of(&with("W3,P1.3,stowed,,20,1 m,\n"), "CN-07"), ["CN-07/connector:P1"]);
}

/// Types of an own catalog: tape of polyimide and hard, extruded ETFE and soft, one that does not say.
#[test]
fn wi_01_insulation() {
    let types = "type,family,hard,gauge_awg,area_mm2,max_ohm_per_km\n\
                 tape,polyimide-tape,true,20,0.6,35\nsoft,etfe,false,20,0.6,35\nunknown,,false,20,0.6,35\n";
    let with = |power: &str, a: &str, b: &str| {
        let wires = format!(
            "wire,from,to,type,gauge_awg,length,cable\nW1,node:L,node:M,{power},20,1 m,\n\
             W2,J9.1,J8.1,{a},20,1 m,C1\nW3,J9.2,J8.2,{b},20,1 m,C1\n"
        );
        let rows = "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 mA\"\n";
        let vehicle = bench("current = \"1 mA\"", rows);
        judge_files(&[("vehicle.toml", &vehicle), ("wires.csv", &wires), ("catalog/wires.csv", types)], None)
    };
    assert_eq!(findings_of(&with("soft", "soft", "soft").1, "WI-01"), [""; 0]);
    assert_eq!(findings_of(&with("tape", "soft", "soft").1, "WI-01"), ["WI-01/wire:W1"]);
    // Outside a power circuit tape may be, but not beside a soft one.
    assert_eq!(findings_of(&with("soft", "tape", "tape").1, "WI-01"), [""; 0]);
    assert_eq!(findings_of(&with("soft", "tape", "soft").1, "WI-01"), ["WI-01/cable:C1"]);
    let (design, verdict) = with("unknown", "soft", "soft");
    assert_eq!(not_judged_of(&design, &verdict, "WI-01"), [("wire:W1".to_owned(), "family".to_owned())]);
    // Without a type, the one that is assumed is a bare conductor table: the type is what lacks.
    let (design, verdict) = with("", "soft", "soft");
    assert_eq!(not_judged_of(&design, &verdict, "WI-01"), [("wire:W1".to_owned(), "type".to_owned())]);
}
