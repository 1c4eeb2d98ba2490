//! Rules of separations, on tables made by hand: two boxes with a feed, a return and a signal return between them, and a battery in each.

use crate::*;
use physics::Volt;

// Contacts of wires come first: those of W1 and W3, then those of W2 and W4.
const FEED: usize = 4;
const RETURN: usize = 5;
const SIGNAL: usize = 6;

fn contact(at: usize) -> Id<Contact> {
    Id::from_row(at)
}

/// The vehicle with texts in place of others, and a table that `make` fills in beside what is usual.
pub(crate) fn parted(changes: &[(&str, &str)], make: impl Fn(&mut SeparationResult)) -> (Design, Verdict) {
    let mut text = r#"
format = 1
[phase.work]
ambient = "20 degC"
[ground.G]
reference = true
[unit.A]
[unit.B]
[connector.J1]
unit = "A"
contact = "20"
[connector.J2]
unit = "B"
mate = "J1"
contact = "20"
[connector.J3]
unit = "B"
mate = "J4"
contact = "20"
[connector.J4]
unit = "A"
contact = "20"
[node.P]
[node.R]
[battery.B1]
positive = "node:P"
negative = "node:R"
emf = "28 V"
ohms = "1 mohm"
[link.a]
from = "node:P"
to = "J1.1"
ohms = "1 ohm"
[link.b]
from = "node:R"
to = "J1.2"
ohms = "1 ohm"
[link.c]
from = "node:R"
to = "J1.3"
ohms = "1 ohm"
[node.L]
[node.N]
[link.d]
from = "J2.1"
to = "node:L"
ohms = "1 ohm"
[link.e]
from = "J2.2"
to = "node:N"
ohms = "1 ohm"
[link.f]
from = "J2.3"
to = "node:N"
ohms = "1 ohm"
[load.X]
line = "node:L"
return = "node:N"
resistance = "100 ohm"
drop_out = "16 V"
return_above = "18 V"
[separation.S]
phase = "work"
signal_current = "10 mA"
reference_shift = "0.5 V"
loops = ["W1", "W2"]
[step.dead]
separation = "S"
time = "1 s"
on = ["load:X"]
by = "X"
[step.blade]
separation = "S"
time = "3 s"
cuts = ["C"]
by = "X"
[step.part]
separation = "S"
time = "2 s"
connectors = ["J1", "J3"]
[breakout]
P1 = {}
P2 = {}
[segment]
C = { from = "P1", to = "P2", length = "1 m" }
"#
    .to_owned();
    let mut wires =
        "wire,from,to,gauge_awg,length\nW1,J1.4,J1.5,20,0.1 m\nW2,J4.1,J4.2,20,0.1 m\nW3,J2.4,J2.5,20,0.1 m\nW4,J3.1,J3.2,20,0.1 m\n"
            .to_owned();
    for (from, to) in changes {
        assert!(text.contains(from) || wires.contains(from), "{from}");
        text = text.replace(from, to);
        wires = wires.replace(from, to);
    }
    let files = [("vehicle.toml".to_owned(), text.into_bytes()), ("wires.csv".to_owned(), wires.as_bytes().to_vec())];
    let loaded = input::load(&files);
    let Some(design) = loaded.design else { panic!("{:#?}", loaded.diagnostics) };
    let roles = |(id, _): (Id<Contact>, &Contact)| match id.row() {
        FEED => (id, ContactRole::Feed),
        RETURN => (id, ContactRole::Return),
        _ => (id, ContactRole::Signal),
    };
    let source = ElementId::Source(Id::from_row(0));
    let mut event = SeparationResult {
        separation: Id::from_row(0),
        contacts: design.contacts.iter().map(roles).collect(),
        variants: vec![Variant::Planned, Variant::Stuck(source)],
        searches: Vec::new(),
        worst: Vec::new(),
        stuck: Vec::new(),
        orders: Vec::new(),
        feeds: Vec::new(),
        stubs: Vec::new(),
        halves: vec![LeftHalf { sources: vec![source], grounds: vec![Id::from_row(0)], bonds: 1, loads: 1 }],
        lost: Vec::new(),
        functions: Vec::new(),
        floating: Vec::new(),
        unknown_inputs: Vec::new(),
        commands: vec![Commands { step: 0, by_fed: design.separations[Id::from_row(0)].steps[0].by.map(|_| true), after_parting: false }],
        bridged: vec![Bridged { step: 1, wires: Vec::new(), worst: None, corner: Corner::High, settled: true, upset: Vec::new() }],
        unsettled: Vec::new(),
    };
    make(&mut event);
    let table = SeparationTable { events: vec![event], ..SeparationTable::default() };
    let prepared = analysis::prepare(&design);
    let case = Case { design: &design, prepared: &prepared, today: None };
    let verdict = rules::judge_separation(&case, &table);
    drop(prepared);
    (design, verdict)
}

/// What a quantity comes to as planned.
pub(crate) fn worst(target: Target, value: f64) -> PartialWorst {
    PartialWorst { target, value, mated: 0.0, at_most: None, variant: 0, corner: Corner::High, parted: Vec::new() }
}

fn check(rule: &str, target: Target, cases: &[(f64, bool)], subject: &str) {
    for &(value, fails) in cases {
        let (_, verdict) = parted(&[], |event| event.worst.push(worst(target, value)));
        let expected = if fails { vec![format!("{rule}/{subject}")] } else { Vec::new() };
        assert_eq!(findings(&verdict), expected, "{rule} at {value}");
        assert!(counted(&verdict, rule) > 0, "{rule}");
    }
}

/// 10 mA by the separation; with a wire that declares 20 mA on the contact that. The state with a device stuck counts too.
#[test]
fn sp_01_signal_contacts() {
    check("SP-01", Target::Current(contact(SIGNAL)), &[(0.009, false), (0.01, false), (0.0101, true)], "contact:J1.3/J2.3");
    let (_, verdict) = parted(&[], |event| event.stuck.push(PartialWorst { variant: 1, ..worst(Target::Current(contact(SIGNAL)), 0.02) }));
    assert_eq!(findings(&verdict), ["SP-01/contact:J1.3/J2.3"]);
    assert!(verdict.findings[0].text.contains("battery:B1 stuck"), "{}", verdict.findings[0].text);
    // A contact of power may carry more.
    let (_, verdict) = parted(&[], |event| event.worst.push(worst(Target::Current(contact(RETURN)), 1.0)));
    assert!(findings(&verdict).is_empty());
}

#[test]
fn sp_02_feeds_without_a_return() {
    check("SP-02", Target::Alone(contact(FEED)), &[(0.01, false), (0.011, true)], "contact:J1.1/J2.1");
}

/// Size 20 with no wire in it: the test current of its thickest wire, 7.5 A (AS39029, from memory).
#[test]
fn sp_03_last_contacts() {
    check("SP-03", Target::Current(contact(RETURN)), &[(7.49, false), (7.5, false), (7.51, true)], "contact:J1.2/J2.2");
}

#[test]
fn sp_04_references() {
    check("SP-04", Target::Shift(Id::from_row(0)), &[(0.49, false), (0.5, false), (0.51, true)], "load:X");
}

/// More than 1 V on a half that was left, as planned; what is live only with a device stuck is no finding.
#[test]
fn sp_05_stubs() {
    for (volts, variant, fails) in [(1.0, 0, false), (1.01, 0, true), (-28.0, 0, true), (28.0, 1, false)] {
        let (design, verdict) =
            parted(&[], |event| event.stubs.push(Stub { pin: Id::from_row(0), volts: Volt(volts), variant, corner: Corner::Low }));
        let id = format!("SP-05/pin:{}", design.pin_name(Id::from_row(0)));
        assert_eq!(findings(&verdict), if fails { vec![id] } else { Vec::new() }, "{volts} {variant}");
    }
}

#[test]
fn sp_06_one_bond_in_each_half() {
    for bonds in 0..3 {
        let (_, verdict) = parted(&[], |event| event.halves[0].bonds = bonds);
        assert_eq!(findings(&verdict), if bonds == 1 { vec![] } else { vec!["SP-06/battery:B1"] }, "{bonds}");
    }
}

/// Lets go at 16 V; lost altogether afterwards; a device stuck is not its matter.
#[test]
fn sp_07_what_works_through() {
    let of = Target::Volts(Id::from_row(0));
    check("SP-07", of, &[(28.0, false), (16.0, false), (15.9, true)], "load:X");
    let (_, verdict) = parted(&[], |event| event.lost.push(Id::from_row(0)));
    assert_eq!(findings(&verdict), ["SP-07/load:X"]);
    let (_, verdict) = parted(&[], |event| event.stuck.push(PartialWorst { variant: 1, ..worst(of, 0.0) }));
    assert!(findings(&verdict).is_empty());
}

/// 10 mA into a battery that does not say that it can be charged.
#[test]
fn sp_08_reverse_feed() {
    check("SP-08", Target::Charges(Id::from_row(0)), &[(0.0, false), (0.01, false), (0.011, true)], "battery:B1");
}

#[test]
fn sp_09_who_commands() {
    for fed in [true, false] {
        let (_, verdict) = parted(&[], |event| event.commands[0].by_fed = Some(fed));
        assert_eq!(findings(&verdict), if fed { vec![] } else { vec!["SP-09/load:X"] });
    }
}

/// Two loops in two connectors; one alone; two in one connector; one that nothing parts.
#[test]
fn sp_10_loops() {
    let found = |loops: &str| -> Vec<String> {
        let (_, verdict) = parted(&[("loops = [\"W1\", \"W2\"]", loops)], |_| {});
        verdict.findings.into_iter().map(|finding| finding.id).collect()
    };
    assert!(found("loops = [\"W1\", \"W2\"]").is_empty());
    assert_eq!(found("loops = [\"W1\"]"), ["SP-10/phase:work"]);
    assert_eq!(found("loops = [\"W1\", \"W3\"]"), ["SP-10/wire:W3"]);
    let (_, verdict) = parted(&[("connectors = [\"J1\", \"J3\"]", "connectors = [\"J1\"]")], |event| {
        event.contacts.retain(|(id, _)| !(2..4).contains(&id.row()))
    });
    assert_eq!(findings(&verdict), ["SP-10/wire:W2"]);
}

/// A tenth of an ampere into the blade, a load that lets go, no operating point: each is a finding.
#[test]
fn sp_11_under_a_blade() {
    for (current, settled, upset, fails) in
        [(0.1, true, false, false), (0.101, true, false, true), (0.0, false, false, true), (0.0, true, true, true)]
    {
        let (_, verdict) = parted(&[], |event| {
            event.bridged[0].worst = Some((Id::from_row(0), current));
            event.bridged[0].settled = settled;
            event.bridged[0].upset = if upset { vec![Id::from_row(0)] } else { Vec::new() };
        });
        assert_eq!(findings(&verdict), if fails { vec!["SP-11/segment:C"] } else { vec![] }, "{current} {settled} {upset}");
    }
}

#[test]
fn sp_12_states_without_operating_point() {
    let (_, verdict) = parted(&[], |event| event.unsettled.push("contact:J1.1 parted, low corner".to_owned()));
    assert_eq!(findings(&verdict), ["SP-12/phase:work"]);
}

/// An input that is off when open moves nothing; one that is on, or either, is a finding where it moves anything; a command without a row is not judged.
#[test]
fn sp_13_commands_whose_wires_part() {
    let moves = ElementId::Load(Id::from_row(0));
    for (reads, moves, fails) in
        [("off", vec![moves], false), ("on", vec![moves], true), ("either", vec![moves], true), ("on", vec![], false)]
    {
        let row = format!("[input.C]\npin = \"J2.3\"\nopen_reads = \"{reads}\"\non = [\"load:X\"]\n");
        let (_, verdict) = with_input(&row, |event| {
            event.floating = vec![FloatingInput { input: Id::from_row(0), contact: contact(SIGNAL), moves: moves.clone() }];
        });
        assert_eq!(findings(&verdict), if fails { vec!["SP-13/pin:J2.3"] } else { vec![] }, "{reads}");
        assert_eq!(counted(&verdict, "SP-13"), 1);
    }
}

/// The vehicle with an input row before the separation.
pub(crate) fn with_input(row: &str, make: impl Fn(&mut SeparationResult)) -> (Design, Verdict) {
    parted(&[("[separation.S]\n", &format!("{row}[separation.S]\n"))], make)
}

/// A contact whose sheets say nothing is not judged as a signal, and not passed over either.
#[test]
fn a_contact_without_a_meaning_is_not_judged() {
    let (design, verdict) = parted(&[], |event| event.contacts[SIGNAL].1 = ContactRole::NotKnown);
    assert!(not_judged_of(&design, &verdict, "SP-01").contains(&("contact:J1.3/J2.3".to_owned(), "meaning".to_owned())));
}

/// A table with a stray current and a hazard of the initiator of `ordnance::firing`.
pub(crate) fn stray(changes: &[(&str, &str)], current: f64, removed: &[usize]) -> (Design, Verdict) {
    let (design, _) = crate::ordnance::firing(changes);
    let relay = |at: usize| ElementId::Switch(Id::from_row(at));
    let fault = Fault {
        kind: FaultKind::WireOpen,
        item: relay(0).into(),
        change: FaultChange::Open(relay(0)),
        conservative: false,
        assumed: false,
    };
    let (initiator, phase) = (Id::from_row(0), Id::from_row(0));
    let table = SeparationTable {
        stray: vec![Stray { initiator, phase, corner: Corner::High, without: 0.0, current, fault: Some(fault), states: 2, unsettled: 0 }],
        hazards: vec![Hazard {
            initiator,
            phase,
            inhibits: vec![(relay(0), vec![fault]), (relay(1), Vec::new())],
            shared: removed.iter().map(|&left| (fault, left)).collect(),
            drives: Vec::new(),
        }],
        ..SeparationTable::default()
    };
    let prepared = analysis::prepare(&design);
    let case = Case { design: &design, prepared: &prepared, today: None };
    let verdict = rules::judge_separation(&case, &table);
    drop(prepared);
    (design, verdict)
}

/// The lower of 50 mA and a tenth of no-fire: of 1 A 50 mA, of 0.3 A 30 mA. Both branches, both sides and the limit.
#[test]
fn or_05_limits() {
    for (no_fire, limit) in [("1 A", 0.05), ("0.3 A", 0.03)] {
        let changed = format!("no_fire = \"{no_fire}\"");
        for (share, fails) in [(0.99, false), (1.0, false), (1.01, true)] {
            let (design, verdict) = stray(&[("no_fire = \"1 A\"", &changed)], share * limit, &[]);
            assert_eq!(findings_of(&verdict, "OR-05"), if fails { vec!["OR-05/load:BW"] } else { vec![] }, "{no_fire} {share}");
            assert!((margin_of(&design, &verdict, "OR-05", "load:BW", Bound::AtMost).limit - limit).abs() < 1e-12);
        }
    }
}

/// Two inhibits required: one left after a failure is enough, none is not.
#[test]
fn or_06_inhibits_that_fail_together() {
    for (removed, fails) in [(&[][..], false), (&[1][..], false), (&[0][..], true)] {
        let (_, verdict) = stray(&[], 0.0, removed);
        assert_eq!(findings_of(&verdict, "OR-06"), if fails { vec!["OR-06/load:BW"] } else { vec![] }, "{removed:?}");
    }
}
