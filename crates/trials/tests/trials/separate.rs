//! Separations: partial states by hand, against brute force and against a generic circuit simulator; what the freighter's plane comes to.

use crate::gannet::{apply, flaws};
use crate::oracle::simulate;
use analysis::{Silent, Stages, prepare, run};
use decide::{Limits, Partial, part, search, separate};
use model::*;
use rayon::prelude::*;
use rules::Case;
use std::collections::{BTreeMap, BTreeSet};
use trials::{design, load, read_folder, root};

/// A battery of 28 V behind 1 mohm in one box, a load of 28 ohm in another, three contacts between: feed, power return, signal return. In the load's box the
/// returns are joined, or stand 1 Gohm apart. Ways of 0.1 ohm in the power return and 0.9 ohm in the signal return.
pub(crate) fn box_on_two_returns(isolated: bool, steps: &str) -> Vec<(String, Vec<u8>)> {
    let text = format!(
        r#"
format = 1
name = "two-returns"
[phase.work]
ambient = "20 degC"
[unit.SRC]
[unit.BOX]
[connector.J1]
unit = "SRC"
contact = "20"
[connector.J2]
unit = "BOX"
mate = "J1"
contact = "20"
[ground.G]
reference = true
[node.P]
unit = "SRC"
[node.R]
unit = "SRC"
[node.S]
unit = "SRC"
[node.L]
unit = "BOX"
[node.N]
unit = "BOX"
[node.M]
unit = "BOX"
[strap.G]
from = "node:R"
to = "ground:G"
ohms = "1 uohm"
[battery.B]
positive = "node:P"
negative = "node:R"
emf = "28 V"
ohms = "1 mohm"
rating = "10 A"
[relay.KF]
from = "node:P"
to = "J1.1"
ohms = "1 mohm"
state = "closed"
[link.back]
from = "J1.2"
to = "node:R"
ohms = "0.1 ohm"
[link.signal]
from = "J1.3"
to = "node:S"
ohms = "0.9 ohm"
[link.tie]
from = "node:S"
to = "node:R"
ohms = "1 uohm"
[link.in]
from = "J2.1"
to = "node:L"
ohms = "1 uohm"
[link.out]
from = "node:N"
to = "J2.2"
ohms = "1 uohm"
[link.zero]
from = "node:M"
to = "J2.3"
ohms = "1 uohm"
[link.joined]
from = "node:N"
to = "node:M"
ohms = "{}"
[load.X]
line = "node:L"
return = "node:N"
resistance = "28 ohm"
[separation.S]
phase = "work"
signal_current = "10 mA"
reference_shift = "0.5 V"
[step.part]
separation = "S"
time = {{ low = "1 s", typical = "1.1 s", high = "1.2 s" }}
connectors = ["J1"]
{steps}
"#,
        if isolated { "1000 Mohm" } else { "1 uohm" }
    );
    let pins = "pin,meaning\nJ1.1,power-out\nJ1.2,return\nJ1.3,signal-return\nJ2.1,power-in\nJ2.2,return\nJ2.3,signal-return\n";
    vec![("pins.csv".to_owned(), pins.as_bytes().to_vec()), ("vehicle.toml".to_owned(), text.into_bytes())]
}

/// What a separation of a vehicle comes to, with what the rules say of it.
fn followed(files: &[(String, Vec<u8>)]) -> (Design, SeparationTable, Verdict) {
    followed_with(files, false)
}

/// The same, with single faults at initiators if asked for.
fn followed_with(files: &[(String, Vec<u8>)], ordnance: bool) -> (Design, SeparationTable, Verdict) {
    let design = design(files);
    let study = run(&design, Stages::default(), &Silent).expect("nobody cancelled");
    let follow = if ordnance { separate } else { part };
    let table = follow(&study.prepared, &study.points, Limits::default(), &Silent);
    let case = Case { design: &design, prepared: &study.prepared, today: None };
    let verdict = rules::judge_separation(&case, &table);
    drop(study);
    (design, table, verdict)
}

fn ids(verdict: &Verdict) -> Vec<&str> {
    verdict.findings.iter().map(|finding| finding.id.as_str()).collect()
}

/// The contact whose pin has a name.
fn contact(design: &Design, pin: &str) -> Id<Contact> {
    let has = |c: &Contact| design.pin_name(c.a) == pin || design.pin_name(c.b) == pin;
    design.contacts.iter().find(|(_, c)| has(c)).map(|(id, _)| id).unwrap_or_else(|| panic!("no contact {pin}"))
}

fn worst(event: &SeparationResult, target: Target) -> &PartialWorst {
    event.worst.iter().find(|worst| worst.target == target).unwrap_or_else(|| panic!("{target:?} was looked at"))
}

/// By hand. With contacts of r in each way the load's ampere divides as the ways' conductances: the signal return has (0.1 + r)/(1.0 + 2r) of it while everything is
/// mated, which is a finding already; all of it once the power return has parted, and the unit's return then stands at 0.9 + r volts and some. With the
/// feed parted nothing flows. With the returns 1 Gohm apart in the unit less than a microampere is left.
#[test]
fn a_return_that_parts_before_its_feed() {
    let (design, table, verdict) = followed(&box_on_two_returns(false, ""));
    let event = &table.events[0];
    let (feed, back, signal) = (contact(&design, "J1.1"), contact(&design, "J1.2"), contact(&design, "J1.3"));
    let roles: BTreeMap<Id<Contact>, ContactRole> = event.contacts.iter().copied().collect();
    assert_eq!([feed, back, signal].map(|id| roles[&id]), [ContactRole::Feed, ContactRole::Return, ContactRole::Signal]);
    // The high corner has the least ohms everywhere; the low one the greatest.
    let hand = |r: f64| {
        let ways = (0.1 + r) * (0.9 + r) / (1.0 + 2.0 * r);
        let whole = 28.0 / (28.0 + 0.002 + r + ways);
        let all = 28.0 / (28.0 + 0.002 + r + 0.9 + r);
        (whole * (0.1 + r) / (1.0 + 2.0 * r), all, all * (0.9 + r), whole * ways)
    };
    let prepared = prepare(&design);
    for corner in [Corner::Low, Corner::High] {
        let r = prepared.ohms(&Scenario::new(Id::from_row(0), corner), ElementId::Contact(signal)).expect("a contact has ohms").0;
        let (share, all, shift, shift_mated) = hand(r);
        let row = worst(event, Target::Current(signal));
        let of_shift = worst(event, Target::Shift(load(&design, "X")));
        if row.corner == corner {
            println!("{corner:?}: r {r}, mated {} by hand {share}; worst {} by hand {all}", row.mated, row.value);
            trials::close(row.mated, share, 1e-5);
            trials::close(row.value, all, 1e-5);
            assert_eq!(row.parted, [ElementId::Contact(back)]);
        }
        if of_shift.corner == corner {
            println!("{corner:?}: shift {} by hand {shift}, mated {} by hand {shift_mated}", of_shift.value, of_shift.mated);
            trials::close(of_shift.value, shift, 1e-5);
            trials::close(of_shift.mated, shift_mated, 1e-5);
        }
    }
    // All of it is without a return of its own: the box has one circuit, and its wires name none.
    assert_eq!(event.searches[0].searched, Searched::Settled);
    assert_eq!((event.searches[0].on_loops.len(), event.searches[0].examined), (3, 8));
    assert!(ids(&verdict).contains(&"SP-01/contact:J1.3/J2.3") && ids(&verdict).contains(&"SP-04/load:X"), "{:?}", ids(&verdict));

    // A feed that is dead before the parting: nothing flows and nothing moves, and nothing stays live.
    let dead = "[step.dead]\nseparation = \"S\"\ntime = \"0.1 s\"\nopen = [\"relay:KF\"]\nby = \"X\"\n";
    let (design, table, verdict) = followed(&box_on_two_returns(false, dead));
    let event = &table.events[0];
    let row = |target| event.worst.iter().find(|worst| worst.target == target).map_or(0.0, |worst| worst.value);
    assert!(row(Target::Current(contact(&design, "J1.3"))) < 1e-12);
    assert!(row(Target::Shift(load(&design, "X"))) < 1e-12);
    // The relay may stick: what flows then is what flowed without it, and the rule says so.
    let text = &verdict.findings.iter().find(|finding| finding.id.starts_with("SP-01")).expect("with the relay stuck").text;
    assert!(text.contains("relay:KF stuck"), "{text}");

    // Isolated inside: under a microampere however the contacts part.
    let (design, table, verdict) = followed(&box_on_two_returns(true, ""));
    let event = &table.events[0];
    let most =
        event.worst.iter().filter(|row| row.target == Target::Current(contact(&design, "J1.3"))).map(|row| row.value).fold(0.0, f64::max);
    println!("isolated: {most} A");
    assert!(most > 0.0 && most < 1e-6, "{most}");
    assert!(!ids(&verdict).iter().any(|id| id.starts_with("SP-01")), "{:?}", ids(&verdict));
}

/// With circuits named the feed is followed without a return of its own: nothing while its return is mated, and the load's whole ampere, by hand 28 V / (28 + 0.002 + 0.9 + 2 r + wires), once it
/// has parted.
#[test]
fn a_feed_without_its_own_return() {
    let mut files = box_on_two_returns(false, "");
    let text = String::from_utf8(files[1].1.clone()).expect("UTF-8");
    let link = |name: &str, from: &str, to: &str| format!("[link.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nohms = \"1 uohm\"\n");
    let text = text.replace(&link("in", "J2.1", "node:L"), "[circuit.c]\n").replace(&link("out", "node:N", "J2.2"), "");
    files[1].1 = text.into_bytes();
    let wires = "wire,from,to,gauge_awg,length,circuit\nW1,J2.1,node:L,20,0.01 m,c\nW2,node:N,J2.2,20,0.01 m,c\n";
    files.push(("wires.csv".to_owned(), wires.as_bytes().to_vec()));
    let (design, table, verdict) = followed(&files);
    let event = &table.events[0];
    let (feed, back) = (contact(&design, "J1.1"), contact(&design, "J1.2"));
    let row = worst(event, Target::Alone(feed));
    assert!(row.parted.contains(&ElementId::Contact(back)) && row.mated == 0.0, "{row:?}");
    let whole = worst(event, Target::Current(contact(&design, "J1.3"))).value;
    trials::close(row.value, whole, 1e-9);
    assert!(ids(&verdict).contains(&"SP-02/contact:J1.1/J2.1"), "{:?}", ids(&verdict));
}

/// An initiator of 1 ohm behind 7 ohm and a fire switch, nothing in its return: with the switch stuck it gets 28 V / (0.1 + 8 + 0.002) ohm. No fault of the whole catalogue, each laid by itself,
/// brings more than those that touch its circuit; the switch is the one inhibit, and the fault that removes it is named.
#[test]
fn stray_current_by_hand_and_of_the_whole_catalogue() {
    let vehicle = r#"
        format = 1
        profile = "own"
        [node.R]
        [node.F]
        [node.M]
        [node.X]
        [ground.G]
        reference = true
        [strap.S]
        from = "node:R"
        to = "ground:G"
        ohms = "1 mohm"
        [bus.A]
        return = "node:R"
        [battery.B]
        positive = "bus:A"
        negative = "node:R"
        emf = "28 V"
        ohms = "0.1 ohm"
        [switch.SF]
        from = "bus:A"
        to = "node:M"
        ohms = "1 mohm"
        state = "open"
        [link.BALLAST]
        from = "node:M"
        to = "node:F"
        ohms = "7 ohm"
        [load.BW]
        line = "node:F"
        return = "node:X"
        resistance = "1 ohm"
        state = "off"
        [link.BACK]
        from = "node:X"
        to = "node:R"
        ohms = "1 mohm"
        [load.Y]
        line = "bus:A"
        return = "node:R"
        power = "30 W"
        drop_out = "14 V"
        [initiator.I]
        load = "BW"
        inhibits = 1
        no_fire = "1 A"
        "#;
    let profile = r#"
        [profile.own]
        nominal = { value = "28 V", source = "test", how = "read" }
        drop_continuous = { value = "1 V", source = "test", how = "read" }
        drop_intermittent = { value = "2 V", source = "test", how = "read" }
        volts_min = { value = "22 V", source = "test", how = "read" }
        volts_max = { value = "34 V", source = "test", how = "read" }
        stray_current = { value = "50 mA", source = "test", how = "read" }
        stray_share = { value = "10 %", source = "test", how = "read" }
        "#;
    let file = |name: &str, text: &str| (name.to_owned(), text.as_bytes().to_vec());
    let design = design(&[file("profile.toml", profile), file("vehicle.toml", vehicle)]);
    let study = run(&design, Stages::default(), &Silent).expect("nobody cancelled");
    let table = separate(&study.prepared, &study.points, Limits::default(), &Silent);
    let row = &table.stray[0];
    // By hand with the other load's current in the battery: the bus stands at V = 28 - 0.1 (30/V + V/8.002).
    let mut volts = 28.0f64;
    (0..50).for_each(|_| volts = 28.0 - 0.1 * (30.0 / volts + volts / 8.002));
    println!("stray {} A, by hand {}", row.current, volts / 8.002);
    trials::close(row.current, volts / 8.002, 1e-6);
    let switch = ElementId::Switch(Id::from_row(0));
    assert_eq!(row.fault.map(|fault| fault.change), Some(FaultChange::Stuck(switch, Stuck::Closed)));
    assert!(row.without < 1e-12);
    // The whole catalogue by itself.
    let catalogue = study.prepared.catalogue();
    let bridge = load(&design, "BW");
    let own = study.prepared.branch_of(ElementId::Load(bridge)).expect("a branch");
    let mut most = 0.0f64;
    for fault in &catalogue.faults {
        let mut scenario = study.points[2].scenario.clone();
        scenario.loads.push((bridge, LoadChange::On));
        study.prepared.lay(fault, &mut scenario);
        let point = study.prepared.point(&scenario);
        if point.islands.iter().all(|island| island.outcome.is_settled()) {
            most = most.max(point.current[own].abs());
        }
    }
    println!("{} faults, {} states looked at, most {most} A", catalogue.faults.len(), row.states);
    trials::close(row.current, most, 1e-6);
    assert!(row.states <= catalogue.faults.len() + 1);
    let hazard = &table.hazards[0];
    assert_eq!(hazard.inhibits.iter().map(|(element, faults)| (*element, faults.is_empty())).collect::<Vec<_>>(), [(switch, false)]);
    let case = Case { design: &design, prepared: &study.prepared, today: None };
    assert!(ids(&rules::judge_separation(&case, &table)).contains(&"OR-05/load:BW"));
}

/// Two cables, the power return in the second: pulled before the first, a second apart, everything comes home through the signal return; pulled after it, no more than the
/// returns share while all is mated. So too with the feed on a short contact of one plug.
#[test]
fn the_order_of_two_cables() {
    let cables = |first: &str, second: &str| {
        let mut files = box_on_two_returns(false, "");
        let text = String::from_utf8(files[1].1.clone()).expect("UTF-8");
        let second_pair =
            "[connector.J5]\nunit = \"SRC\"\ncontact = \"20\"\n[connector.J6]\nunit = \"BOX\"\nmate = \"J5\"\ncontact = \"20\"\n";
        let text =
            text.replace("[ground.G]", &format!("{second_pair}[ground.G]")).replace("\"J1.2\"", "\"J5.2\"").replace("\"J2.2\"", "\"J6.2\"");
        let steps = format!(
            "[step.first]\nseparation = \"S\"\ntime = \"1 s\"\nconnectors = [\"{first}\"]\n[step.second]\nseparation = \"S\"\ntime = \"2 s\"\nconnectors = [\"{second}\"]\n"
        );
        let (head, _) = text.split_once("[step.part]").expect("the step");
        files[1].1 = format!("{head}{steps}").into_bytes();
        let pins = String::from_utf8(files[0].1.clone()).expect("UTF-8").replace("J1.2,", "J5.2,").replace("J2.2,", "J6.2,");
        files[0].1 = pins.into_bytes();
        let (design, table, verdict) = followed(&files);
        let signal = worst(&table.events[0], Target::Current(contact(&design, "J1.3"))).value;
        (signal, ids(&verdict).into_iter().map(str::to_owned).collect::<Vec<_>>())
    };
    let (returns_first, found) = cables("J5", "J1");
    assert!(returns_first > 0.9 && found.contains(&"SP-01/contact:J1.3/J2.3".to_owned()), "{returns_first} {found:?}");
    let (feed_first, found) = cables("J1", "J5");
    println!("power return pulled first {returns_first} A in the signal return, last {feed_first} A: {found:?}");
    // The feed is in the cable that is pulled first: what flows is what the two returns share while all is mated.
    assert!(feed_first < 0.97 && feed_first > 0.0);
    let long = "first = [[\"J1\", \"1\"]]\n";
    let (design, table, _) = followed(&box_on_two_returns(false, long));
    let event = &table.events[0];
    let row = worst(event, Target::Current(contact(&design, "J1.3")));
    assert!((row.value - row.mated).abs() < 1e-9, "a short feed parts before any return: {} and {}", row.value, row.mated);
    assert_eq!(event.searches[0].examined + event.searches[0].excluded, 8);
    assert_eq!(event.searches[0].examined, 5);
}

/// A linear congruential generator: the same numbers everywhere.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }
    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.below(1_000_000) as f64 / 1e6
    }
}

/// Two boxes of a few nodes each, sources and loads in both, and so many contacts between. `powers`: loads of a fixed power that let go.
fn boxes(seed: u64, contacts: usize, powers: bool) -> Vec<(String, Vec<u8>)> {
    let mut numbers = Numbers(seed.wrapping_mul(7919) + 17);
    let mut text =
        "format = 1\nname = \"boxes\"\n[phase.p]\nambient = \"20 degC\"\n[unit.A]\n[unit.B]\n[ground.G]\nreference = true\n".to_owned();
    text += "[connector.J1]\nunit = \"A\"\ncontact = \"20\"\n[connector.J2]\nunit = \"B\"\nmate = \"J1\"\ncontact = \"20\"\n";
    let hubs = 4;
    for side in ["A", "B"] {
        (0..hubs).for_each(|hub| text += &format!("[node.{side}{hub}]\nunit = \"{side}\"\n"));
        // Nodes 0 and 1 are a bus and its return, the others hang on them.
        for hub in 2..hubs {
            let ohms = numbers.within(0.05, 3.0);
            text += &format!(
                "[link.{side}L{hub}]\nfrom = \"node:{side}{hub}\"\nto = \"node:{side}{}\"\nohms = \"{ohms:.4} ohm\"\n",
                numbers.below(2)
            );
        }
        let emf = numbers.within(20.0, 32.0);
        if side == "A" || numbers.below(2) == 0 {
            text += &format!(
                "[battery.{side}]\npositive = \"node:{side}0\"\nnegative = \"node:{side}1\"\nemf = \"{emf:.3} V\"\nohms = \"{:.3} ohm\"\n",
                numbers.within(0.02, 0.3)
            );
        }
        for load in 0..3 {
            let (a, b) = if load == 0 { (0, 1) } else { (numbers.below(hubs), numbers.below(hubs)) };
            let b = if a == b { (a + 1) % hubs } else { b };
            let demand = match powers && load == 0 {
                true => format!("power = \"{:.1} W\"\ndrop_out = \"14 V\"\nreturn_above = \"15 V\"", numbers.within(10.0, 60.0)),
                false => format!("resistance = \"{:.3} ohm\"", numbers.within(2.0, 60.0)),
            };
            text += &format!("[load.{side}X{load}]\nline = \"node:{side}{a}\"\nreturn = \"node:{side}{b}\"\n{demand}\n");
        }
    }
    text += "[strap.G]\nfrom = \"node:A1\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n";
    for at in 1..=contacts {
        // A bus to the other's bus, a return to its return, else anything.
        let pair = match at % 3 {
            0 => (0, 0),
            1 => (1, 1),
            _ => (numbers.below(hubs), numbers.below(hubs)),
        };
        for (side, connector, hub) in [("A", "J1", pair.0), ("B", "J2", pair.1)] {
            let ohms = numbers.within(0.01, 1.0);
            text += &format!("[link.{side}C{at}]\nfrom = \"node:{side}{hub}\"\nto = \"{connector}.{at}\"\nohms = \"{ohms:.4} ohm\"\n");
        }
    }
    vec![("vehicle.toml".to_owned(), text.into_bytes())]
}

/// Everything that parts of two boxes, and what is watched in them.
fn partial<'b>(prepared: &analysis::Prepared, base: &'b Point) -> Partial<'b> {
    let design = prepared.design();
    let rows: Vec<usize> = design.contacts.ids().filter_map(|id| prepared.branch_of(ElementId::Contact(id))).collect();
    let on = prepared.on_loops(&base.scenario, &rows);
    let elements =
        design.contacts.ids().zip(&rows).zip(&on).filter(|(_, on)| **on).map(|((id, &row), _)| (ElementId::Contact(id), row, 0)).collect();
    let ground = prepared.node(End::Ground(Id::from_row(0))).expect("a ground");
    let node = |end: Given<End>| prepared.node(end.value).expect("a load has nodes");
    let works = |id: &Id<Load>| base.load_state[*id] == LoadState::On && base.load_fed[*id];
    let shift = design.loads.iter().filter(|(id, _)| works(id)).map(|(id, row)| (id, node(row.line_return), ground)).collect();
    let volts = design.loads.iter().filter(|(id, _)| works(id)).map(|(id, row)| (id, node(row.line), node(row.line_return))).collect();
    let mut partial = Partial::new(base);
    (partial.elements, partial.shift, partial.volts) = (elements, shift, volts);
    partial
}

/// Every partial state solved afresh by the general solver, with nothing taken from the search: the worst of each contact's current and of each load's shift.
fn brute_force(prepared: &analysis::Prepared, partial: &Partial) -> BTreeMap<Target, f64> {
    let n = partial.elements.len();
    let one = |mated: u128| {
        let mut scenario = partial.base.scenario.clone();
        scenario.opened.extend((0..n).filter(|at| mated >> at & 1 == 0).map(|at| (partial.elements[at].0, None)));
        let point = prepared.point(&scenario);
        let mut found: Vec<(Target, f64)> = Vec::new();
        for (element, row, _) in &partial.elements {
            if let ElementId::Contact(id) = element {
                found.push((Target::Current(*id), point.current[*row].abs()));
            }
        }
        for &(load, at, ground) in &partial.shift {
            let island = point.island_of[at.row()];
            if point.load_fed[load]
                && point.load_state[load] == LoadState::On
                && island.is_some()
                && island == point.island_of[ground.row()]
            {
                found.push((Target::Shift(load), (point.voltage[at.row()] - point.voltage[ground.row()]).abs()));
            }
        }
        found
    };
    let all: Vec<Vec<(Target, f64)>> = (0..1u128 << n).into_par_iter().map(one).collect();
    let mut worst: BTreeMap<Target, f64> = BTreeMap::new();
    for (target, value) in all.into_iter().flatten() {
        let known = worst.entry(target).or_default();
        *known = known.max(value);
    }
    worst
}

/// The search finds what brute force finds, whichever way it goes: every state settled, every state of the reduced network, branch and bound. Resistive loads, up to 14
/// contacts on loops; with loads of a fixed power the states settled one by one.
#[test]
fn the_worst_partial_state_is_that_of_brute_force() {
    let mut compared = [0; 3];
    let mut greatest = 0;
    for (seed, contacts, powers) in (0..24)
        .map(|seed| (seed, 4 + seed as usize % 6, false))
        .chain([(100, 12, false), (101, 14, false)])
        .chain((40..52).map(|seed| (seed, 4 + seed as usize % 4, true)))
    {
        let design = design(&boxes(seed, contacts, powers));
        let prepared = prepare(&design);
        let base = prepared.point(&Scenario::new(Id::from_row(0), Corner::High));
        let partial = partial(&prepared, &base);
        greatest = greatest.max(partial.elements.len());
        let expected = brute_force(&prepared, &partial);
        let ways = [
            Limits { settled: 20, linear: 20, nodes: 0 },
            Limits { settled: 0, linear: 20, nodes: 0 },
            Limits { settled: 0, linear: 0, nodes: 1_000_000 },
        ];
        for (way, limits) in ways.iter().enumerate().take(if powers { 1 } else { 3 }) {
            if way == 0 && contacts > 10 {
                continue;
            }
            let found = search(&prepared, &partial, *limits);
            for row in found
                .rows
                .iter()
                .filter(|row| matches!(row.target, Target::Current(_)) || way < 2 && matches!(row.target, Target::Shift(_)))
            {
                let wanted = expected[&row.target];
                assert!(
                    (row.value - wanted).abs() <= 1e-6 * wanted.max(1e-3),
                    "boxes {seed}, way {way}, {:?}: {} and {wanted}",
                    row.target,
                    row.value
                );
                assert!(!matches!(row.target, Target::Current(_)) || row.at_most.is_none());
                compared[way] += 1;
            }
        }
    }
    println!("{compared:?} worst states, at most {greatest} contacts on loops");
    assert_eq!(greatest, 14);
    assert!(compared.iter().all(|&n| n > 100), "{compared:?}");
}

/// 30 random partial states of two boxes, every node against the simulator.
#[test]
fn partial_states_against_ngspice() {
    let (mut states, mut nodes, mut worst) = (0, 0, 0.0f64);
    let mut numbers = Numbers(20_261_126);
    while states < 30 {
        let design = design(&boxes(200 + states as u64, 6 + states % 8, states % 2 == 0));
        let prepared = prepare(&design);
        let base = prepared.point(&Scenario::new(Id::from_row(0), [Corner::Low, Corner::High][states % 2]));
        let partial = partial(&prepared, &base);
        let near = prepared.near(&base);
        let mut scenario = base.scenario.clone();
        scenario.opened.extend(partial.elements.iter().filter(|_| numbers.below(2) == 0).map(|(element, ..)| (*element, None)));
        let point = near.point(&scenario);
        let found = simulate(&outputs::netlist(&prepared, &point), 1e-12);
        for node in 0..point.voltage.len() {
            let Some(island) = point.island_of[node].map(|at| &point.islands[at as usize]).filter(|island| island.driven) else { continue };
            let reference = found.get(&format!("n{}", island.reference.row())).copied().unwrap_or(0.0);
            let Some(theirs) = found.get(&format!("n{node}")) else { continue };
            let difference = (point.voltage[node] - (theirs - reference)).abs();
            assert!(
                difference < 1e-6 * point.voltage[node].abs().max(1.0),
                "state {states}, node {node}: {} and {theirs}",
                point.voltage[node]
            );
            worst = worst.max(difference);
            nodes += 1;
        }
        states += 1;
    }
    println!("{states} states, {nodes} node voltages, worst {worst:e} V");
    assert!(nodes > 300, "{nodes}");
}

/// The freighter parts without a finding, and judges everything that is required. Each flaw of its parting alone finds what is stated, and nothing else.
#[test]
fn each_flaw_of_the_parting_alone() {
    let mended = read_folder(&root().join("examples/gannet-mended"));
    let (_, table, verdict) = followed_with(&mended, true);
    assert_eq!(ids(&verdict), [""; 0]);
    let required: Vec<&NotJudged> = verdict.not_judged.iter().filter(|row| row.required).collect();
    assert!(required.is_empty(), "{required:?}");
    for event in &table.events {
        let states: usize = event.searches.iter().map(|search| search.examined).sum();
        println!("{} contacts, {} searches, {states} states", event.contacts.len(), event.searches.len());
        assert!(event.searches.iter().all(|search| search.searched != Searched::Bounded));
    }
    let flaws: Vec<_> = flaws().into_iter().filter(|flaw| flaw.separate.is_some()).collect();
    assert!(flaws.len() >= 8, "{}", flaws.len());
    let mut fired = BTreeSet::new();
    let mut wrong = String::new();
    let found: Vec<(String, BTreeSet<String>)> = flaws
        .par_iter()
        .map(|flaw| {
            let mut files = mended.clone();
            apply(&mut files, &flaw.patch, &flaw.name);
            // What stands before initiators is looked at where the flaw is about it.
            let ordnance = flaw.separate.iter().flatten().any(|id| id.starts_with("OR-"));
            let (_, _, verdict) = followed_with(&files, ordnance);
            (flaw.name.clone(), ids(&verdict).into_iter().map(str::to_owned).collect())
        })
        .collect();
    for ((name, found), flaw) in found.into_iter().zip(&flaws) {
        let stated = flaw.separate.as_ref().expect("only those that state something");
        if found != *stated {
            wrong.push_str(&format!("{name}\n  stated {stated:?}\n  found  {found:?}\n"));
        }
        fired.extend(found.iter().filter_map(|id| id.split_once('/')).map(|(rule, _)| rule.to_owned()));
    }
    assert!(wrong.is_empty(), "{wrong}");
    println!("rules that spoke: {fired:?}");
}

/// The firing loop of one initiator in both corners, every ohm stated, nothing that warms.
///
/// Low corner, the bridge wire at its greatest: 26 V over 0.05 (battery) + 0.005 (arm relay) + 0.15 (lead) + 0.03 (fire switch) + 8.2 (ballast) + 1.15 (bridge wire) + 0.15 (back)
/// + 0.005 (arm relay of the return) = 9.74 ohm: 2.66940 A, of 2.5 A × 105 % = 2.625 A that have to flow: 0.04440 A over.
///
/// High corner, the bridge wire melted to the structure with 1 mohm, which the strap of 1 mohm joins to the battery: 32 V over 0.02 + 0.002 + 0.10 + 0.01 + 7.8 = 7.932 ohm and, side by side,
/// 0.002 ohm and 0.95 + 0.10 + 0.002 = 1.052 ohm, which are 0.00199621 ohm: 4.03328 A through the fire switch and the arm relay, of 4.5 A. Melted to the other lead it is less: 8.034 ohm and 0.00099895 ohm,
/// 3.98258 A; that is what the arm relay of the return sees.
#[test]
fn the_firing_loop_of_an_initiator_in_both_corners() {
    let spread =
        |low: f64, typical: f64, high: f64| format!("{{ low = \"{low} ohm\", typical = \"{typical} ohm\", high = \"{high} ohm\" }}");
    let link = |name: &str, from: &str, to: &str, ohms: String| {
        format!("[link.{name}]\nfrom = \"node:{from}\"\nto = \"node:{to}\"\nohms = {ohms}\n")
    };
    let device = |kind: &str, name: &str, from: &str, to: &str, ohms: String| {
        format!("[{kind}.{name}]\nfrom = \"{from}\"\nto = \"node:{to}\"\nohms = {ohms}\nstate = \"closed\"\nrating_resistive = \"4.5 A\"\n")
    };
    let nodes: String = ["R", "A", "F", "M", "B", "X", "Z"].iter().map(|name| format!("[node.{name}]\n")).collect();
    let vehicle = [
        "format = 1\nprofile = \"own\"\n".to_owned(),
        nodes,
        "[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n[bus.P]\nreturn = \"node:R\"\n".to_owned(),
        format!(
            "[battery.BT]\npositive = \"bus:P\"\nnegative = \"node:R\"\nemf = {{ low = \"26 V\", typical = \"28 V\", high = \"32 V\" }}\nohms = {}\n",
            spread(0.02, 0.03, 0.05)
        ),
        device("relay", "KA", "bus:P", "A", spread(0.002, 0.003, 0.005)),
        link("LEAD", "A", "F", spread(0.10, 0.12, 0.15)),
        device("switch", "SF", "node:F", "M", spread(0.01, 0.02, 0.03)),
        link("BALLAST", "M", "B", spread(7.8, 8.0, 8.2)),
        format!("[load.BW]\nline = \"node:B\"\nreturn = \"node:X\"\nresistance = {}\n", spread(0.95, 1.05, 1.15)),
        link("BACK", "X", "Z", spread(0.10, 0.12, 0.15)),
        device("relay", "KR", "node:Z", "R", spread(0.002, 0.003, 0.005)),
        "[initiator.I]\nload = \"BW\"\nall_fire = \"2.5 A\"\nno_fire = \"1 A\"\ninhibits = 2\n".to_owned(),
    ]
    .concat();
    let profile = r#"
        [profile.own]
        nominal = { value = "28 V", source = "test", how = "read" }
        drop_continuous = { value = "1 V", source = "test", how = "read" }
        drop_intermittent = { value = "2 V", source = "test", how = "read" }
        volts_min = { value = "1 V", source = "test", how = "read" }
        volts_max = { value = "34 V", source = "test", how = "read" }
        firing_margin = { value = "105 %", source = "test", how = "read" }
        "#;
    let file = |name: &str, text: &str| (name.to_owned(), text.as_bytes().to_vec());
    let design = design(&[file("profile.toml", profile), file("vehicle.toml", &vehicle)]);
    let study = run(&design, Stages::default(), &Silent).expect("nobody cancelled");
    let case = Case { design: &design, prepared: &study.prepared, today: None };
    let verdict = rules::judge(&case, &study.points);
    let margin = |rule: &str, subject: &str| {
        let is = |margin: &&Margin| margin.rule.0 == rule && design.subject_words(margin.subject) == subject;
        verdict.margins.iter().find(is).unwrap_or_else(|| panic!("{rule} judges {subject}: {:?}", verdict.not_judged))
    };
    let parallel = |a: f64, b: f64| a * b / (a + b);
    let fires = margin("OR-01", "load:BW");
    println!("low corner {} A, margin {} A", fires.value, fires.margin());
    trials::close(fires.value, 26.0 / 9.74, 1e-7);
    trials::close(fires.margin(), 26.0 / 9.74 - 2.625, 1e-6);
    assert_eq!(fires.state.map(|(_, corner)| corner), Some(Corner::Low));
    for (subject, ohms) in [
        ("switch:SF", 7.932 + parallel(0.002, 1.052)),
        ("relay:KA", 7.932 + parallel(0.002, 1.052)),
        ("relay:KR", 8.034 + parallel(0.001, 0.95)),
    ] {
        let found = margin("OR-02", subject);
        println!("high corner {subject} {} A, margin {} A", found.value, found.margin());
        trials::close(found.value, 32.0 / ohms, 1e-6);
        assert_eq!((found.state.map(|(_, corner)| corner), found.limit), (Some(Corner::High), 4.5));
    }
}

/// Two boxes as above with a relay in the load's box that a command through contact 4 closes: it puts 280 ohm across the load. Its driver has parted, or may have, in every partial state.
/// By hand, with power returns apart in ohms as above: taken for on the load of 28 ohm and the 280 ohm beside it draw 11/10 of what the load alone does, all of it through the signal return once the power
/// return has parted: 28 V / (280/11 + 0.002 + r + 0.9 + r).
#[test]
fn an_input_that_floats_is_taken_at_its_worst() {
    let vehicle = |reads: &str| {
        let mut files = box_on_two_returns(false, "");
        let text = String::from_utf8(files[1].1.clone()).expect("UTF-8");
        let rows = "[node.C]\nunit = \"SRC\"\n[node.D]\nunit = \"BOX\"\n[link.give]\nfrom = \"J1.4\"\nto = \"node:C\"\nohms = \"1 ohm\"\n[link.take]\nfrom = \"J2.4\"\nto = \"node:D\"\nohms = \"1 ohm\"\n[node.H]\nunit = \"BOX\"\n[relay.KH]\nfrom = \"node:L\"\nto = \"node:H\"\nohms = \"1 uohm\"\nstate = \"open\"\n[link.heat]\nfrom = \"node:H\"\nto = \"node:N\"\nohms = \"280 ohm\"\n";
        let input = match reads {
            "" => String::new(),
            reads => format!("[input.C]\npin = \"J2.4\"\nopen_reads = \"{reads}\"\nclosed = [\"relay:KH\"]\n"),
        };
        files[1].1 = format!("{text}{rows}{input}").into_bytes();
        let pins = String::from_utf8(files[0].1.clone()).expect("UTF-8") + "J1.4,command\nJ2.4,command\n";
        files[0].1 = pins.into_bytes();
        followed(&files)
    };
    let (_, off, _) = vehicle("off");
    let (design, on, verdict) = vehicle("either");
    let signal = contact(&design, "J1.3");
    let prepared = prepare(&design);
    let r = prepared.ohms(&Scenario::new(Id::from_row(0), Corner::High), ElementId::Contact(signal)).expect("a contact has ohms").0;
    let [alone, both] = [28.0, 280.0 / 11.0].map(|ohms| 28.0 / (ohms + 0.002 + r + 0.9 + r));
    let found = [&off, &on].map(|table| worst(&table.events[0], Target::Current(signal)).clone());
    println!("off {} by hand {alone}, on {} by hand {both}", found[0].value, found[1].value);
    trials::close(found[0].value, alone, 1e-5);
    trials::close(found[1].value, both, 1e-5);
    let event = &on.events[0];
    assert_eq!(event.variants[found[1].variant], Variant::Floats(Id::from_row(0), Commanded::On));
    assert_eq!(event.floating[0].moves, [ElementId::Switch(trials::named(&design.switches, "KH", |row| &row.name))]);
    assert!(ids(&verdict).contains(&"SP-13/pin:J2.4"), "{:?}", ids(&verdict));
    assert!(
        off.events[0].floating[0].moves.len() == 1 && off.events[0].variants.iter().all(|variant| !matches!(variant, Variant::Floats(..)))
    );
    // A command without a row is named.
    let (design, none, verdict) = vehicle("");
    assert_eq!(none.events[0].unknown_inputs, [contact(&design, "J1.4")]);
    assert!(verdict.not_judged.iter().any(|row| row.rule.0 == "SP-13" && row.missing == "open_reads"));
}

/// A function of the box with the load is lost by its parting; one that needs a load on either side keeps the other. A path through the plane is cut. With a battery of 20 V of its own in the load's box, 12 ohm behind, the load lives on
/// at 20 × 28/40 = 14 V: under the 15 V that it needs at the least, degraded; in between nothing is worse than that.
#[test]
fn functions_of_both_halves() {
    let functions = "[load.Y]\nline = \"node:P\"\nreturn = \"node:R\"\nresistance = \"100 ohm\"\n[function.box]\nneeds = [\"load:X\"]\n[function.either]\nneeds = [{ any = [\"load:X\", \"load:Y\"] }]\n[function.both]\nneeds = [\"load:X\", \"load:Y\"]\n[function.signal]\nneeds = [{ path = [\"node:S\", \"node:M\"] }]\n";
    let of = |more: &str| {
        let mut files = box_on_two_returns(false, "");
        let text = String::from_utf8(files[1].1.clone()).expect("UTF-8");
        let text = text.replace("resistance = \"28 ohm\"\n", "resistance = \"28 ohm\"\nvolts_min = \"15 V\"\n");
        files[1].1 = format!("{text}{functions}{more}").into_bytes();
        let (design, table, _) = followed(&files);
        let event = &table.events[0];
        let stand = |row: &FunctionParted| (design.functions[row.after.function].name.to_string(), row.after.effect, row.after.reason);
        let after: Vec<_> = event.functions.iter().map(stand).collect();
        let between: Vec<_> =
            event.functions.iter().map(|row| row.between[0].as_ref().map(|found| (found.case.effect, found.parted.clone()))).collect();
        (design, after, between)
    };
    let (design, after, between) = of("");
    let x = Subject::Element(ElementId::Load(load(&design, "X")));
    let ends = match after[3].2 {
        Reason::Cut(from, to) => [design.end_name(from), design.end_name(to)],
        other => panic!("{other:?}"),
    };
    assert_eq!(ends, ["node:S", "node:M"]);
    let effects: Vec<(&str, Effect)> = after.iter().map(|(name, effect, _)| (name.as_str(), *effect)).collect();
    assert_eq!(effects, [("box", Effect::Lost), ("either", Effect::Kept), ("both", Effect::Lost), ("signal", Effect::Lost)]);
    assert_eq!((after[0].2, after[2].2), (Reason::Without(x), Reason::Without(x)));
    assert_eq!(between, [None, None, None, None]);

    let own = "[node.V]\nunit = \"BOX\"\n[battery.B2]\npositive = \"node:V\"\nnegative = \"node:N\"\nemf = \"20 V\"\nohms = \"12 ohm\"\n[diode.D]\nanode = \"node:V\"\ncathode = \"node:L\"\nforward = \"1 uV\"\nohms = \"1 uohm\"\n";
    let (_, after, between) = of(own);
    let Reason::Outside(subject, volts, limit) = after[0].2 else { panic!("{:?}", after[0]) };
    println!("on its own battery {volts} V of {limit} V");
    assert_eq!((after[0].1, subject, limit), (Effect::Degraded, x, 15.0));
    trials::close(volts, 14.0, 1e-5);
    assert_eq!(between, [None, None, None, None]);
}

/// Each rule with a number that `separate` judges has a subject within a tenth of its limit in the mended freighter, but for three of which nothing can be near it where everything parts dead and each half has its own source: the
/// current of a last contact, the voltage that lets a load go, and the stray current behind three inhibits. Their number tests stand at the limit (`crates/rules/tests/rules/separation.rs`).
#[test]
fn mended_stands_close_to_the_limits_of_the_parting() {
    const FAR: [&str; 3] = ["OR-05", "SP-03", "SP-07"];
    let (_, _, verdict) = followed_with(&read_folder(&root().join("examples/gannet-mended")), true);
    let close = |m: &&Margin| rules::passes(m.value, m.limit, m.bound) && m.margin() <= 0.1 * m.limit.abs();
    let near: BTreeSet<&str> = verdict.margins.iter().filter(close).map(|m| m.rule.0).collect();
    let numbered: BTreeSet<&str> = verdict.margins.iter().map(|m| m.rule.0).collect();
    let far: Vec<&str> = numbered.difference(&near).copied().collect();
    println!("near {near:?}, far {far:?}");
    assert_eq!(far, FAR);
}
