//! Of every rule an input that it needs is taken away: it then names the subject that it cannot judge, and the input.

use crate::bundles::bundled;
use crate::construction::vehicle;
use crate::energy::mission;
use crate::faults::swept;
use crate::heat::heated;
use crate::numbers::{RETURN, breaker, bridge, parallel, thermocouple, through_wire};
use crate::ordnance::firing;
use crate::protection::guarded;
use crate::routes::harness;
use crate::separation::{parted, stray, with_input, worst};
use crate::*;
use std::collections::BTreeSet;

/// A rule, a subject, the field that is named, and the vehicle with the input (`false`) and without it (`true`).
type TakenAway = (&'static str, &'static str, &'static str, fn(bool) -> (Design, Verdict));

/// `with` where the input is there, `without` where it is taken away.
fn either(taken: bool, with: &'static str, without: &'static str) -> &'static str {
    if taken { without } else { with }
}

/// Boxes with sheets and a harness, with one text in place of another if the input is taken away.
fn boxes(taken: bool, from: &str, to: &str) -> (Design, Verdict) {
    let changes = [(from, to)];
    papers::with(if taken { &changes } else { &[] })
}

const TAKEN_AWAY: &[TakenAway] = &[
    ("BB-01", "bus:A", "return", |taken| {
        let text = bench("current = \"1 A\"", "");
        judge(&if taken { text.replace("return = \"node:R\"\n[battery", "[battery") } else { text })
    }),
    ("VL-01", "load:X", "power", |taken| judge(&bench(either(taken, "power = \"28 W\"", "power = \"TBD\""), ""))),
    ("VD-01", "load:X", "power", |taken| judge(&bench(either(taken, "power = \"28 W\"", "power = \"TBD\""), ""))),
    ("CT-01", "contact:J1.1", "gauge of wire:W1", |taken| {
        through_wire("current = \"1 A\"", either(taken, "20", "TBD"), "contact = \"20\"", "")
    }),
    ("CT-02", "wire:W1", "gauge", |taken| through_wire("current = \"1 A\"", either(taken, "20", "TBD"), "contact = \"20\"", "")),
    ("AM-01", "wire:W1", "bundle_wires", |taken| {
        let bundle = either(taken, "8", "");
        let wires = format!("wire,from,to,type,gauge_awg,length,current,bundle_wires\nW1,A.1,B.1,M22759/44,20,1 m,6.2 A,{bundle}\n");
        let others: String = (2..=20).map(|n| format!("W{n},A.{n},B.{n},M22759/44,20,1 m,1 A,{bundle}\n")).collect();
        judge_files(&[("vehicle.toml", "format = 1\n[phase.p]\nambient = \"20 degC\"\n"), ("wires.csv", &(wires + &others))], None)
    }),
    ("AM-02", "wire:W1", "rating of breaker:CB", |taken| {
        let rating = either(taken, "[breaker.CB]\nrating = \"5 A\"", "[breaker.CB]");
        crate::wires::behind("aircraft-28v", rating, &["M22759/44,20,"])
    }),
    ("HT-01", "wire:W1", "pressure of zone:bay", |taken| heated(3.0, if taken { &[("pressure = \"0 Pa\"", "")] } else { &[] })),
    ("HT-03", "segment:S1", "walls of zone:bay", |taken| {
        let reach = ("length = \"1 m\"\nzone", "length = \"1 m\"\nreachable = true\nzone");
        let taken_away = [reach, ("walls = \"20 degC\"", "")];
        heated(3.0, if taken { &taken_away } else { &taken_away[..1] })
    }),
    ("PP-01", "breaker:CB", "rating", |taken| parallel(2, &breaker(either(taken, "rating = \"5 A\"", "")), 2.0, "")),
    ("PP-02", "wire:W1", "device of breaker:CB", |taken| guarded(5.0, if taken { &[("device = \"quick\"\n", "")] } else { &[] })),
    ("PP-03", "wire:W1", "trip-bands of quick", |taken| {
        guarded(
            5.0,
            if taken { &[(crate::protection::BANDS, "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\n")] } else { &[] },
        )
    }),
    ("PP-04", "breaker:CB", "interrupts", |taken| guarded(5.0, if taken { &[("115,138,500", "115,138,")] } else { &[] })),
    ("PP-05", "wire:W1", "rating of breaker:CB", |taken| guarded(5.0, if taken { &[("rating = \"5.000000000 A\"\n", "")] } else { &[] })),
    ("PP-06", "breaker:LO", "device of breaker:UP", |taken| {
        let upper = either(taken, "rating = \"20 A\"\ndevice = \"up\"", "rating = \"20 A\"");
        crate::devices::in_line(upper, "rating = \"5 A\"\ndevice = \"lo\"", 0.1, "")
    }),
    ("PP-07", "fuse:P", "device", |taken| {
        let fuse = either(taken, "fuse rating = \"4 A\"\ndevice = \"FM09A\"", "fuse rating = \"4 A\"");
        crate::devices::behind(fuse, 25.0, &crate::devices::load("Y", "current = \"1 A\""))
    }),
    ("PP-08", "breaker:P", "inrush of load:Y", |taken| {
        let inrush = either(taken, "power = \"20 W\"\ninrush = \"5 A\"\ninrush_time = \"5 ms\"", "power = \"20 W\"");
        let breaker = "breaker rating = \"5 A\"\ndevice = \"NSN-5925-00-226-0377\"";
        crate::devices::behind(breaker, 25.0, &crate::devices::load("Y", inrush))
    }),
    ("PP-09", "breaker:P", "tier of the function of load:Z", |taken| {
        let rows = crate::devices::load("Y", "current = \"1 A\"") + &crate::devices::load("Z", "current = \"1 A\"");
        let tier = either(taken, "tier = 1", "");
        let functions = format!("[function.a]\nneeds = [\"load:Y\"]\ntier = 1\n[function.b]\nneeds = [\"load:Z\"]\n{tier}\n");
        crate::devices::behind("breaker rating = \"5 A\"", 25.0, &(rows + &functions))
    }),
    ("PP-11", "wire:W1", "device of breaker:CB2", |taken| {
        let second = "[battery.B2]\npositive = \"node:CELLS2\"\nnegative = \"J2.2\"\nemf = \"28 V\"\nohms = \"50 mohm\"\n[node.CELLS2]\nunit = \"U\"\n\
                      [breaker.CB2]\nline = \"node:CELLS2\"\nload = \"J2.1\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n[ground.G]";
        let without = second.replace("rating = \"5 A\"\ndevice = \"quick\"", "rating = \"5 A\"");
        guarded(5.0, &[("[ground.G]", if taken { &without } else { second })])
    }),
    ("PP-12", "wire:W1", "device of breaker:CB", |taken| {
        let tape = ("J1.1,J2.1,own", "J1.1,J2.1,tape");
        match taken {
            true => guarded(4.0, &[tape, ("device = \"quick\"\n", "")]),
            false => guarded(4.0, &[tape]),
        }
    }),
    ("SW-01", "switch:K", "rating_motor", |taken| {
        let rating = either(taken, "rating_motor = \"2 A\"", "");
        judge(&bench(
            "current = \"1 A\"",
            &format!(
                "[node.M]\n[switch.K]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"closed\"\nrating_resistive = \"5 A\"\n{rating}\n\
                 [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\nkind = \"motor\"\n"
            ),
        ))
    }),
    ("RL-01", "load:X", "pull_in", |taken| {
        judge(&bench(
            either(taken, "current = \"1 A\"\nkind = \"inductive\"\npull_in = \"18 V\"", "current = \"1 A\"\nkind = \"inductive\""),
            "",
        ))
    }),
    ("RL-02", "load:Y", "suppressor", |taken| {
        let suppressor = either(taken, "suppressor = \"zener\"", "");
        judge(&bench(
            "current = \"1 A\"",
            &format!(
                "[node.M]\n[switch.K]\nfrom = \"node:L\"\nto = \"node:M\"\nohms = \"1 mohm\"\nstate = \"closed\"\nrating_inductive = \"5 A\"\n\
                 [load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\nkind = \"inductive\"\n{suppressor}\n"
            ),
        ))
    }),
    ("SR-01", "battery:B", "rating", |taken| {
        judge(&bench("current = \"1 A\"", "").replace("rating = \"100 A\"", either(taken, "rating = \"100 A\"", "")))
    }),
    ("SR-02", "battery:B", "peak", |taken| {
        let ratings = either(taken, "rating = \"100 A\"\npeak = \"200 A\"", "rating = \"100 A\"");
        judge(&bench("current = \"1 A\"\nduty = \"intermittent\"", "").replace("rating = \"100 A\"", ratings))
    }),
    ("EN-01", "battery:B", "cut_off of its type", |taken| mission(if taken { &[("100,20,20", "100,,20")] } else { &[] })),
    ("EN-02", "bus:A", "return", |taken| mission(if taken { &[("[bus.A]\nreturn = \"node:R\"", "[bus.A]")] } else { &[] })),
    ("EN-03", "battery:B", "rating", |taken| mission(if taken { &[("rating = \"10 A\"\n", "")] } else { &[] })),
    ("EN-04", "battery:B", "peak", |taken| mission(if taken { &[("peak = \"10 A\"\n", "")] } else { &[] })),
    ("EN-05", "battery:B", "greatest_a of its type", |taken| mission(if taken { &[("100,20,20", "100,20,")] } else { &[] })),
    ("EN-06", "battery:C", "type", |taken| {
        let second = crate::energy::second("100 %");
        let untyped = second.split("type").next().expect("a text has a beginning").to_owned();
        mission(&[("[load.X]", &format!("{}[load.X]", if taken { untyped } else { second }))])
    }),
    ("EN-07", "function:f", "duration of phase p", |taken| mission(if taken { &[("duration = \"5 h\"\n", "")] } else { &[] })),
    ("EN-08", "load:X", "restart", |taken| crate::energy::again(either(taken, "restart = \"yes\"\n", ""), "25 degC")),
    ("DC-01", "wire:W1", "length of wire:W1", |taken| {
        let rows = "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n";
        let wires = format!("wire,from,to,gauge_awg,length,current\nW1,node:L,node:M,12,{},1 A\n", either(taken, "0.1 m", "TBD"));
        judge_files(&[("vehicle.toml", &bench("current = \"1 mA\"", rows)), ("wires.csv", &wires)], None)
    }),
    ("SE-01", "sensor:G", "allowance", |taken| bridge("1 uohm", either(taken, "allowance = \"5 %\"", ""), RETURN)),
    ("SE-02", "sensor:G", "allowance", |taken| bridge("1 uohm", either(taken, "allowance = \"5 %\"", ""), RETURN)),
    ("SE-03", "sensor:G", "allowance", |taken| {
        thermocouple(["kp", "kn"], "", "", "contact = \"20\"", either(taken, "allowance = \"5 %\"", ""))
    }),
    ("SE-04", "sensor:G", "volts_min", |taken| {
        let rows = format!(
            "[node.M]\n[receiver.N]\npositive = \"node:M\"\nnegative = \"node:R\"\ninput_ohms = \"250 ohm\"\nreference = \"node:R\"\n\
             common_low = \"-1 V\"\ncommon_high = \"5 V\"\n\
             [sensor.G]\nkind = \"current-loop\"\nreceiver = \"N\"\npositive = \"node:L\"\nnegative = \"node:M\"\n\
             burden_ohms = \"250 ohm\"\nallowance = \"1 %\"\n{}\n",
            either(taken, "volts_min = \"12 V\"", "")
        );
        judge(&bench("current = \"1 mA\"", &rows))
    }),
    ("CM-01", "receiver:N", "common_high", |taken| {
        bridge("1 uohm", "allowance = \"5 %\"", &RETURN.replace("common_high = \"6 V\"\n", either(taken, "common_high = \"6 V\"\n", "")))
    }),
    ("IC-02", "port:J2.1", "source", |taken| boxes(taken, "W1,J1.1", "W1,J9.1")),
    ("IC-03", "load:X", "source", |taken| boxes(taken, "W2,J1.2", "W2,J9.2")),
    ("IC-07", "wire:W3", "revision of sheet ICS-BOX", |taken| boxes(taken, "unit = \"BOX\"\nrevision = \"B\"", "unit = \"BOX\"")),
    ("IC-08", "cable:C1", "own_return of J2.3", |taken| {
        let mut changes = vec![("J1.4,signal-return", "J1.4,signal"), ("J2.4,signal-return", "J2.4,signal")];
        if taken {
            changes.extend([("J1.3,signal,TEMP,J1.4", "J1.3,signal,TEMP,"), ("J2.3,signal,TEMP,J2.4", "J2.3,signal,TEMP,")]);
        }
        papers::with(&changes)
    }),
    ("CN-01", "connector:J1", "gender", |taken| {
        vehicle(either(taken, "stays = true\ngender = \"sockets\"", "stays = true"), "", "", "", "")
    }),
    ("CN-02", "connector:J1", "cavity positions", |taken| {
        let arrangement = either(taken, "arrangement = \"row-4\"\nfilled = true", "arrangement = \"bare-4\"\nfilled = true");
        vehicle(arrangement, "", "", "J1.1,power-out,\nJ1.3,millivolt,\n", "")
    }),
    ("CN-04", "connector:J3", "keying", |taken| {
        let keying = either(taken, "keying = \"A\"", "");
        let j3 = format!(
            "[connector.J3]\nunit = \"PDU\"\ncontact = \"20\"\nnear = [\"J1\"]\narrangement = \"row-4\"\nfilled = true\n{keying}\n"
        );
        vehicle("arrangement = \"row-4\"\nfilled = true\nkeying = \"N\"", "", &j3, "", "")
    }),
    ("CN-05", "connector:J1", "filled", |taken| {
        vehicle(either(taken, "arrangement = \"row-4\"\nfilled = true", "arrangement = \"row-4\""), "", "", "", "")
    }),
    ("CN-06", "connector:P1", "arrangement", |taken| {
        vehicle("arrangement = \"row-4\"\nfilled = true", either(taken, "arrangement = \"row-4\"\nfilled = true", ""), "", "", "")
    }),
    ("WI-01", "wire:W1", "family", |taken| {
        let types =
            format!("type,family,gauge_awg,area_mm2,max_ohm_per_km\nown,{},20,0.6,35\nother,etfe,20,0.6,35\n", either(taken, "etfe", ""));
        let rows = "[node.M]\n[load.Y]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"1 mA\"\n";
        let wires = "wire,from,to,type,gauge_awg,length\nW1,node:L,node:M,own,20,1 m\nW2,node:L,node:M,other,20,1 m\n";
        let files = [("vehicle.toml", &*bench("current = \"1 mA\"", rows)), ("wires.csv", wires), ("catalog/wires.csv", &types)];
        judge_files(&files, None)
    }),
    ("OR-01", "load:BW", "all_fire", |taken| firing(if taken { &[("all_fire = \"2.5 A\"\n", "")] } else { &[] })),
    ("OR-02", "relay:ARM", "rating_resistive", |taken| firing(if taken { &[("rating_resistive = \"4 A\"\n", "")] } else { &[] })),
    ("OR-03", "bus:A", "bus_min", |taken| {
        firing(if taken { &[("bus_min = { value = \"22 V\", source = \"test\", how = \"read\" }\n", "")] } else { &[] })
    }),
    ("OR-04", "load:BW", "inhibits", |taken| firing(if taken { &[("inhibits = 2\n", "")] } else { &[] })),
    ("SN-02", "load:X", "off_current", |taken| {
        let off = either(taken, "off_current = \"20 mA\"\n", "");
        let switch = "[node.V]\n[switch.K]\nfrom = \"node:V\"\nto = \"node:L\"\nstate = \"open\"\n";
        judge(&bench(&format!("current = \"1 A\"\nswitched_by = [\"switch:K\"]\n{off}"), switch))
    }),
    ("SP-01", "contact:J1.3/J2.3", "signal_current", |taken| {
        parted(if taken { &[("signal_current = \"10 mA\"\n", "")] } else { &[] }, |_| {})
    }),
    ("SP-02", "contact:J1.1/J2.1", "signal_current", |taken| {
        parted(if taken { &[("signal_current = \"10 mA\"\n", "")] } else { &[] }, |_| {})
    }),
    ("SP-03", "contact:J1.4/J2.4", "gauge of wire:W1", |taken| {
        let feed = |event: &mut SeparationResult| event.contacts[0].1 = ContactRole::Feed;
        parted(if taken { &[("W1,J1.4,J1.5,20", "W1,J1.4,J1.5,TBD")] } else { &[] }, feed)
    }),
    ("SP-04", "load:X", "reference_shift", |taken| {
        let shift = |event: &mut SeparationResult| event.worst.push(worst(Target::Shift(Id::from_row(0)), 0.1));
        parted(if taken { &[("reference_shift = \"0.5 V\"\n", "")] } else { &[] }, shift)
    }),
    ("SP-09", "load:X", "by", |taken| {
        let changes = [("on = [\"load:X\"]\nby = \"X\"", "on = [\"load:X\"]")];
        parted(if taken { &changes } else { &[] }, |_| {})
    }),
    ("SP-13", "contact:J1.3/J2.3", "open_reads", |taken| {
        let input = "[input.C]\npin = \"J2.3\"\nopen_reads = \"off\"\non = [\"load:X\"]\n";
        with_input(input, |event| match taken {
            true => event.unknown_inputs.push(Id::from_row(6)),
            false => event.floating.push(FloatingInput { input: Id::from_row(0), contact: Id::from_row(6), moves: Vec::new() }),
        })
    }),
    ("OR-05", "load:BW", "no_fire", |taken| stray(if taken { &[("no_fire = \"1 A\"\n", "")] } else { &[] }, 0.0, &[])),
    ("OR-06", "load:BW", "inhibits", |taken| stray(if taken { &[("inhibits = 2\n", "")] } else { &[] }, 0.0, &[])),
    ("OR-07", "wire:W1", "route", |taken| crate::routes::fired(if taken { "J9.1" } else { "J1.1" }, "twisted", "braid")),
    ("RT-01", "wire:W1", "breakout", |taken| {
        harness("", &format!("W1,{},J2.1,own,20,,,,\nW2,J1.2,J2.2,own,20,,,,\n", either(taken, "J1.1", "J9.1")))
    }),
    ("RT-04", "segment:AB", "class", |taken| {
        let circuits = format!("[circuit.p]\nclass = \"power\"\n[circuit.q]\n{}\n", either(taken, "class = \"data\"", ""));
        harness(&circuits, "W1,J1.1,J2.1,own,20,,B,p,\nW2,J1.2,J2.2,own,20,,B,q,\nW3,J1.3,J2.3,own,20,,C,p,\n")
    }),
    ("RT-05", "circuit:a", "route", |taken| {
        let circuits = "[circuit.a]\nnot_with = [\"b\"]\n[circuit.b]\n[circuit.c]\nnot_with = [\"d\"]\n[circuit.d]\n";
        harness(
            circuits,
            &format!("W1,J1.1,J2.1,own,20,,,a,\nW2,{},J2.2,own,20,,,b,\nW3,J1.3,J2.3,own,20,,,c,\n", either(taken, "J1.2", "J9.2")),
        )
    }),
    ("RT-06", "hole:H", "bore", |taken| {
        let bore = either(taken, "bore = \"9 mm\"", "");
        let holes = format!(
            "[clamp.H]\nsegment = \"AB\"\nkind = \"hole\"\n{bore}\n[clamp.K]\nsegment = \"BD\"\nkind = \"clamp\"\nbore = \"9 mm\"\n"
        );
        harness(&holes, "W1,J1.1,J2.1,own,20,,,,\n")
    }),
    ("BN-01", "clamp:C1", "bore", |taken| bundled(if taken { &[("bore = \"3 mm\"", "")] } else { &[] })),
    ("BN-02", "hole:H1", "grommet", |taken| {
        let near = ("bore = \"22.05 mm\"", "bore = \"22.04 mm\"");
        bundled(&[near, ("grommet = false", if taken { "" } else { "grommet = false" })])
    }),
    ("FT-01", "function:f", "survives", |taken| swept(either(taken, "survives = 1", ""), None)),
    ("FT-02", "function:f", "survives", |taken| swept(either(taken, "survives = 1", ""), None)),
    ("FT-03", "function:f", "survives", |taken| swept(either(taken, "survives = 1", ""), None)),
    ("BN-03", "segment:S1", "bend", |taken| bundled(if taken { &[("bend = \"18 mm\"", "")] } else { &[] })),
    ("BN-04", "hole:H1", "shell of connector:J3", |taken| {
        // From B3 on J1 is passed, if anything is known of it.
        bundled(if taken { &[("shell = \"22.05 mm\"", ""), ("shell = \"30 mm\"", "")] } else { &[] })
    }),
    ("BN-05", "segment:S1", "at of clamp:C1", |taken| bundled(if taken { &[("at = \"0.2 m\"", "")] } else { &[] })),
    ("BN-06", "segment:S1", "tie_pitch", |taken| bundled(if taken { &[("tie_pitch = \"19.1 mm\"", "")] } else { &[] })),
    ("BN-07", "near:N1", "distance", |taken| bundled(if taken { &[("distance = \"152.4 mm\"", "")] } else { &[] })),
];

/// Rules from which nothing can be taken away, and why.
const NOTHING_TO_TAKE: &[(&str, &str)] = &[
    ("HT-02", "looks at the balance, which HT-01 lacks where something is not stated"),
    ("HT-04", "asks for the input itself"),
    ("OP-01", "it says itself that a part of the network did not settle: every network either does or does not"),
    ("OP-02", "the two states that it reports follow from the settled point alone"),
    ("UF-01", "whether a source reaches a load follows from the wiring, whatever values are open"),
    ("VL-02", "its limit is the load's, else that of the profile, which states it or is none; a source without voltage is SR-01's to say"),
    ("IC-01", "a pin without a meaning on a sheet claims nothing that a wire could contradict"),
    ("IC-04", "a net with fewer than two named signals holds no contradiction"),
    ("IC-05", "a half without a mate is no pair of sides"),
    ("IC-06", "a pin is judged only where anything is known of what lies behind it"),
    ("IC-09", "wires without bundle or connector in common are all that it compares"),
    ("IC-10", "a net without a reference is what it finds"),
    ("PP-10", "whether a device lies between source and wire follows from the wiring alone"),
    ("CN-03", "a pin without the meaning ordnance claims nothing"),
    ("CN-07", "a connector without arrangement is named by CN-06"),
    ("SN-01", "which way current flows follows from the settled state; a direction that no row or sheet states is none"),
    ("SP-05", "whether a contact stays live follows from the settled state; one without is SP-12's to say"),
    ("SP-06", "what bonds a half to structure follows from the wiring alone"),
    ("SP-07", "its limit is the load's, else that of the profile, which states it or is none"),
    ("SP-08", "a battery whose type is not stated counts as one that cannot be charged"),
    ("SP-10", "a separation that names no loops asks for none: it is listed as not judged, and no profile requires it"),
    ("SP-11", "a step that cuts nothing has no blade"),
    ("SP-12", "every network either settles or does not"),
    ("RT-02", "a wire without route is named by RT-01, and one without a stated length takes it from the route"),
    ("RT-03", "a wire without class is not admitted by a segment that lists classes: that is what it finds"),
    ("RT-07", "a core without route is named by RT-01"),
];

#[test]
fn an_input_taken_away_is_named() {
    for (rule, subject, field, vehicle) in TAKEN_AWAY {
        let wanted = (subject.to_string(), field.to_string());
        let (design, verdict) = vehicle(false);
        assert!(!not_judged_of(&design, &verdict, rule).contains(&wanted), "{rule}: {field} is there");
        assert!(counted(&verdict, rule) > 0, "{rule} judges with {field}: {:?}", verdict.not_judged);
        let (design, verdict) = vehicle(true);
        let said = not_judged_of(&design, &verdict, rule);
        assert!(said.contains(&wanted), "{rule} without {field}: {said:?}");
        assert!(verdict.not_judged.iter().filter(|row| row.rule.0 == *rule).all(|row| row.required && !row.why.is_empty()));
    }
}

#[test]
fn every_rule_is_in_one_of_the_tables() {
    let all: Vec<&str> = rules::RULES.iter().map(|rule| rule.code.0).collect();
    let named: Vec<&str> = TAKEN_AWAY.iter().map(|row| row.0).chain(NOTHING_TO_TAKE.iter().map(|row| row.0)).collect();
    assert_eq!(all.iter().collect::<BTreeSet<_>>(), named.iter().collect::<BTreeSet<_>>());
    assert_eq!(all.len(), named.len(), "each once");
}
