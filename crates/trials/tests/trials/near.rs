//! States found on the factor of a neighbouring one, held against a fresh solution.

use analysis::{Change, Fresh, Near, Prepared, Room, prepare};
use model::*;
use physics::*;
use std::collections::BTreeMap;
use trials::{design, read_folder, root};
use xtask::generate::{Options, Strength, generate, generate_mapped};
use xtask::random::Random;

/// Voltage that may differ: 1e-9 of it or 1e-7 V; at a receiver 1 µV.
const RELATIVE: f64 = 1e-9;
const ABSOLUTE: f64 = 1e-7;
const AT_RECEIVER: f64 = 1e-6;

#[derive(Default)]
struct Tally {
    cases: usize,
    /// Changes by kind: how many, and how many of them on the factor of the base.
    kinds: BTreeMap<&'static str, (usize, usize)>,
    fresh: BTreeMap<Fresh, usize>,
    loads_dropped: usize,
    diodes_turned: usize,
    worst: f64,
    worst_receiver: f64,
}

/// A random change of a scenario, and what kind it is.
fn change(dice: &mut Random, prepared: &Prepared, scenario: &mut Scenario) -> &'static str {
    let design = prepared.design();
    let wires: Vec<ElementId> = design.wires.ids().map(ElementId::Wire).filter(|&wire| prepared.branch_of(wire).is_some()).collect();
    let wire = |dice: &mut Random| wires[dice.below(wires.len())];
    let end = |dice: &mut Random| {
        let (from, to) = prepared.branch_ends(dice.below(prepared.branches().len()));
        Place::End(if dice.chance(0.5) { from } else { to })
    };
    let branch = |dice: &mut Random| prepared.branches()[dice.below(prepared.branches().len())].element;
    match dice.below(12) {
        0..=2 => {
            scenario.opened.push((branch(dice), None));
            "open"
        }
        3 => {
            for _ in 0..2 {
                scenario.opened.push((branch(dice), None));
            }
            "two open"
        }
        4 => {
            scenario.shorts.push((end(dice), end(dice), Ohm(0.05 + dice.unit())));
            "short between two ends"
        }
        5 => {
            scenario.shorts.push((Place::Along(wire(dice), dice.unit()), Place::Structure, Ohm(0.01 + dice.unit())));
            "short of a wire to structure"
        }
        6 => {
            scenario.opened.push((branch(dice), None));
            scenario.shorts.push((end(dice), end(dice), Ohm(0.1)));
            "open and short"
        }
        7 => {
            let load = Id::from_row(dice.below(design.loads.len()));
            scenario.loads.push((load, if dice.chance(0.5) { LoadChange::Off } else { LoadChange::Power(Watt(60.0 * dice.unit())) }));
            "load changed"
        }
        8 => {
            scenario.ohms.push((wire(dice), Ohm(2.0 * dice.unit())));
            "wire resistance"
        }
        kind @ 9..=10 => {
            let (all, share) = (dice.below(3), dice.unit());
            for load in design.loads.ids().filter(|_| dice.chance(share)).collect::<Vec<_>>() {
                let change = match if all > 0 { all } else { 1 + dice.below(4) } {
                    1 => LoadChange::Off,
                    2 => LoadChange::Resistance(Ohm(1e6)),
                    3 => LoadChange::Resistance(Ohm(10.0 + 100.0 * dice.unit())),
                    _ => LoadChange::Power(Watt(60.0 * dice.unit())),
                };
                scenario.loads.push((load, change));
            }
            if kind == 9 {
                return "many loads changed";
            }
            scenario.opened.push((branch(dice), None));
            "many loads changed and open"
        }
        _ => {
            let rows: Vec<ElementId> = prepared
                .branches()
                .iter()
                .map(|b| b.element)
                .filter(|e| matches!(e, ElementId::Protector(_) | ElementId::Switch(_)))
                .collect();
            if let Some(&device) = rows.get(dice.below(rows.len().max(1))) {
                scenario.switches.push((device, if dice.chance(0.5) { Commanded::On } else { Commanded::Off }));
            }
            "switched"
        }
    }
}

fn compare(prepared: &Prepared, near: &Point, fresh: &Point, tally: &mut Tally, story: &str) {
    let design = prepared.design();
    let apart = near.island_of.iter().zip(&fresh.island_of).position(|(a, b)| a != b);
    if let Some(node) = apart {
        let [a, b] = [near, fresh].map(|point| point.island_of[node]);
        for id in design.diodes.ids().filter(|&id| near.diode_on[id] != fresh.diode_on[id]) {
            println!("diode {} is {}, afresh {}", design.diodes[id].name, near.diode_on[id], fresh.diode_on[id]);
        }
        for id in design.converters.ids() {
            println!("converter {} is {:?}, afresh {:?}", design.converters[id].name, near.converter_state[id], fresh.converter_state[id]);
        }
        panic!("{story}: {:?} is in part {a:?}, afresh in {b:?}", prepared.node_end(NodeId(node as u32)));
    }
    for (a, b) in near.islands.iter().zip(&fresh.islands) {
        assert_eq!(a, b, "{story}: parts");
    }
    for id in design.loads.ids() {
        let (a, b) = (near.load_state[id], fresh.load_state[id]);
        let same = match (a, b) {
            (LoadState::DroppedOut { at: a }, LoadState::DroppedOut { at: b }) => (a.0 - b.0).abs() < 1e-6,
            (a, b) => a == b,
        };
        assert!(same, "{story}: load {} is {a:?}, afresh {b:?}", design.loads[id].name);
        tally.loads_dropped += usize::from(matches!(b, LoadState::DroppedOut { .. }));
    }
    for id in design.loads.ids() {
        assert_eq!(near.load_fed[id], fresh.load_fed[id], "{story}: load {} fed", design.loads[id].name);
    }
    for id in design.diodes.ids() {
        let tell = |point: &Point| {
            let row = prepared.branch_of(ElementId::Diode(id)).expect("has a branch");
            let (from, to) = (prepared.branches()[row].from.row(), prepared.branches()[row].to.row());
            format!("{} with {} A, {} to {} V", point.diode_on[id], point.current[row], point.voltage[from], point.voltage[to])
        };
        let name = &design.diodes[id].name;
        assert!(near.diode_on[id] == fresh.diode_on[id], "{story}: diode {name} is {}, afresh {}", tell(near), tell(fresh));
    }
    assert_eq!(near.other_state, fresh.other_state, "{story}: another state");
    for (node, (a, b)) in near.voltage.iter().zip(&fresh.voltage).enumerate() {
        let differ = (a - b).abs();
        tally.worst = tally.worst.max(differ);
        assert!(differ <= ABSOLUTE.max(RELATIVE * b.abs()), "{story}: node {node} stands at {a} V, afresh at {b} V");
    }
    for id in design.receivers.ids() {
        let (a, b) = (near.receiver_voltage[id], fresh.receiver_voltage[id]);
        assert_eq!(a.is_some(), b.is_some(), "{story}: receiver {}", design.receivers[id].name);
        let differ = a.zip(b).map_or(0.0, |(a, b)| (a.0 - b.0).abs());
        tally.worst_receiver = tally.worst_receiver.max(differ);
        assert!(differ <= AT_RECEIVER, "{story}: receiver {} reads {differ} V apart", design.receivers[id].name);
    }
}

/// Voltages of loads and receivers as a case knows them without the whole point.
fn at_terminals(prepared: &Prepared, near: &Near, room: &Room, fresh: &Point, story: &str) {
    let design = prepared.design();
    let on = |id: &Id<Load>| fresh.load_state[*id] != LoadState::Off;
    let loads = design.loads.ids().filter(on).map(|id| (ElementId::Load(id), fresh.load_voltage[id], fresh.load_fed[id], ABSOLUTE));
    let receivers = design.receivers.ids().map(|id| (ElementId::Receiver(id), fresh.receiver_voltage[id], true, AT_RECEIVER));
    for (element, expected, fed, tolerance) in loads.chain(receivers) {
        let Some(row) = prepared.branch_of(element) else { continue };
        let name = design.element_words(element);
        match (near.volts(room, row), expected) {
            (Some(volts), Some(expected)) if fed => {
                assert!((volts - expected.0).abs() <= tolerance, "{story}: {name} has {volts} V, afresh {} V", expected.0);
            }
            (Some(volts), None) => panic!("{story}: {name} has {volts} V, afresh it lies between two parts"),
            (None, Some(expected)) if fed && expected.0.abs() > tolerance => {
                panic!("{story}: {name} is cut off, afresh it has {} V", expected.0)
            }
            _ => {}
        }
    }
}

/// Random changes of one base state.
fn around(prepared: &Prepared, base: &Point, cases: usize, dice: &mut Random, tally: &mut Tally, name: &str) {
    let near: Near = prepared.near(base);
    let mut room = near.room();
    for case in 0..cases {
        let mut scenario = base.scenario.clone();
        let kind = change(dice, prepared, &mut scenario);
        let story = format!("{name}, case {case}, {kind}: {:?} {:?}", scenario.opened, scenario.shorts);
        let count = tally.kinds.entry(kind).or_default();
        count.0 += 1;
        tally.cases += 1;
        match near.try_point(&scenario, &mut room) {
            Ok(point) => {
                count.1 += 1;
                let fresh = prepared.point(&scenario);
                tally.diodes_turned += prepared.design().diodes.ids().filter(|&id| fresh.diode_on[id] != base.diode_on[id]).count();
                compare(prepared, &point, &fresh, tally, &story);
                let settled = near.change(&scenario).and_then(|change| near.settle(&change, &mut room));
                assert_eq!(settled, Ok(()), "{story}: without the whole point");
                at_terminals(prepared, &near, &room, &fresh, &story);
            }
            Err(why) => {
                *tally.fresh.entry(why).or_default() += 1;
                // Begun at the base state, it ends where it does from nothing.
                compare(prepared, &near.afresh(&scenario), &prepared.point(&scenario), tally, &story);
            }
        }
    }
}

/// Every branch opened in turn, loads and receivers against a fresh solution: those of one feed are the same case, which is settled once.
#[test]
fn what_opens_in_one_feed_is_one_case() {
    let (mut cases, mut repeated) = (0, 0);
    for seed in 0..3 {
        for (strength, corner) in [(Strength::Strong, Corner::Low), (Strength::Weak, Corner::High)] {
            let made = generate(&Options { wires: 250, seed: 60 + seed, phases: 1, strength, sources_off: false });
            let design = design(&made.files);
            let prepared = prepare(&design);
            let base = prepared.point(&Scenario::new(Id::from_row(0), corner));
            let near = prepared.near(&base);
            let mut room = near.room();
            for branch in prepared.branches() {
                let mut scenario = base.scenario.clone();
                scenario.opened.push((branch.element, None));
                if near.change(&scenario).and_then(|change| near.settle(&change, &mut room)).is_ok() {
                    cases += 1;
                    let story = format!("seed {seed}, {} opens", design.element_words(branch.element));
                    at_terminals(&prepared, &near, &room, &prepared.point(&scenario), &story);
                }
            }
            repeated += room.repeated();
        }
    }
    println!("{cases} opens, {repeated} of them as the one before");
    assert!(cases > 3000 && repeated * 3 > cases, "{repeated} of {cases}");
}

/// Two parts of 28 and 20 V, each with a load of 10 ohm behind 0.1 ohm, joined by a link alone. Once it is open nothing stands across a load that is off between
/// the two, and each keeps its 27.723 or 19.802 V (28·10/10.1, 20·10/10.1, worked by hand); joined anew by way of a lone node they are one part.
/// A tail of three links that two receivers of 1 Mohm hold up: whichever opens, what lies behind it is pulled to the return, what lies before it stands at the source.
#[test]
fn parts_and_tails_of_an_open_link_by_hand() {
    let design = trials::design_of(
        "profile = \"space-28v\"\n[ground.G]\nreference = true\n[phase.work]\n\
         [node.A]\n[node.B]\n[node.R]\n[node.N]\n[node.M]\n[node.K]\n[node.T]\n\
         [battery.BA]\npositive = \"node:A\"\nnegative = \"ground:G\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\n\
         [battery.BB]\npositive = \"node:B\"\nnegative = \"node:R\"\nemf = \"20 V\"\nohms = \"0.1 ohm\"\n\
         [load.LA]\nline = \"node:A\"\nreturn = \"ground:G\"\nresistance = \"10 ohm\"\n\
         [load.LB]\nline = \"node:B\"\nreturn = \"node:R\"\nresistance = \"10 ohm\"\n\
         [load.OFF]\nline = \"node:A\"\nreturn = \"node:R\"\nresistance = \"10 ohm\"\n\
         [link.TIE]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"0.01 ohm\"\n\
         [link.T1]\nfrom = \"node:A\"\nto = \"node:M\"\nohms = \"1 mohm\"\n\
         [link.T2]\nfrom = \"node:M\"\nto = \"node:K\"\nohms = \"2 mohm\"\n\
         [link.T3]\nfrom = \"node:K\"\nto = \"node:T\"\nohms = \"3 mohm\"\n\
         [receiver.R1]\npositive = \"node:T\"\nnegative = \"ground:G\"\ninput_ohms = \"1 Mohm\"\n\
         [receiver.R2]\npositive = \"node:T\"\nnegative = \"ground:G\"\ninput_ohms = \"1 Mohm\"\n",
    );
    let prepared = prepare(&design);
    let mut scenario = Scenario::new(Id::from_row(0), Corner::Typical);
    scenario.loads.push((trials::load(&design, "OFF"), LoadChange::Off));
    let base = prepared.point(&scenario);
    let near = prepared.near(&base);
    let mut room = near.room();
    let row = |element| prepared.branch_of(element).expect("has a branch");
    let [tie, t1, t2] = [0, 1, 2].map(|at| ElementId::Link(Id::from_row(at)));
    let volts = |room: &Room, name| near.volts(room, row(ElementId::Load(trials::load(&design, name))));
    near.settle(&Change::open(row(tie)), &mut room).expect("one link");
    assert_eq!(volts(&room, "OFF"), None);
    trials::close(volts(&room, "LA").expect("fed"), 280.0 / 10.1, 1e-4);
    trials::close(volts(&room, "LB").expect("fed"), 200.0 / 10.1, 1e-9);

    let end = |name| Place::End(End::Inner(trials::named(&design.inner_nodes, name, |node| &node.name)));
    let mut joined = base.scenario.clone();
    joined.opened.push((tie, None));
    joined.shorts.extend([(end("R"), end("N"), Ohm(1.0)), (end("N"), end("A"), Ohm(1.0))]);
    let (mut tally, fresh) = (Tally::default(), prepared.point(&joined));
    compare(&prepared, &near.point(&joined), &fresh, &mut tally, "joined anew");
    let change = near.change(&joined).expect("a base with a footing");
    assert_eq!(near.settle(&change, &mut room), Ok(()));
    at_terminals(&prepared, &near, &room, &fresh, "joined anew");

    for (open, before) in [(t1, false), (t2, true), (t1, false)] {
        let change = Change::open(row(open));
        let carried = near.currents(&change, &[row(t1), row(t2)], &mut room).expect("one link");
        assert!(carried.iter().all(|amperes| amperes.abs() < 1e-9), "{carried:?}");
        let mut scenario = base.scenario.clone();
        scenario.opened.push((open, None));
        let point = near.try_point(&scenario, &mut room).expect("one link");
        let middle = prepared.node(End::Inner(trials::named(&design.inner_nodes, "M", |node| &node.name))).expect("has a branch");
        trials::close(point.voltage[middle.row()], if before { 280.0 / 10.1 } else { 0.0 }, 1e-6);
        compare(&prepared, &point, &prepared.point(&scenario), &mut tally, "a tail");
        near.currents(&change, &[row(t1)], &mut room).expect("one link");
    }
}

/// 28 V behind 0.1 Ω with 10 W, nine resistances, and two of 100 Ω one after the other, X and Y. The nine go off at once: T between X and Y stands half-way.
/// With X and Y off as well nothing joins T to anything, which is left to a fresh solution.
#[test]
fn resistances_that_alone_join_a_part() {
    let mut text = "profile = \"space-28v\"\n[ground.G]\nreference = true\n[phase.work]\n[node.A]\n[node.T]\n\
         [battery.BA]\npositive = \"node:A\"\nnegative = \"ground:G\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\n\
         [load.P]\nline = \"node:A\"\nreturn = \"ground:G\"\npower = \"10 W\"\n\
         [load.X]\nline = \"node:A\"\nreturn = \"node:T\"\nresistance = \"100 ohm\"\n\
         [load.Y]\nline = \"node:T\"\nreturn = \"ground:G\"\nresistance = \"100 ohm\"\n"
        .to_owned();
    let names: Vec<String> = (1..=9).map(|at| format!("R{at}")).collect();
    for name in &names {
        text += &format!("[load.{name}]\nline = \"node:A\"\nreturn = \"ground:G\"\nresistance = \"50 ohm\"\n");
    }
    let design = trials::design_of(&text);
    let prepared = prepare(&design);
    let base = prepared.point(&Scenario::new(Id::from_row(0), Corner::Typical));
    let near = prepared.near(&base);
    let mut room = near.room();
    let mut off = base.scenario.clone();
    off.loads.extend(names.iter().map(|name| (trials::load(&design, name), LoadChange::Off)));
    let point = near.try_point(&off, &mut room).expect("nothing is parted");
    compare(&prepared, &point, &prepared.point(&off), &mut Tally::default(), "nine off");
    // V² (1 + 0.1/200) − 28 V + 0.1 · 10 = 0 [worked by hand].
    let volts = (28.0 + f64::sqrt(28.0 * 28.0 - 4.0 * 1.0005)) / (2.0 * 1.0005);
    trials::close(point.load_voltage[trials::load(&design, "P")].expect("fed").0, volts, 1e-9);
    trials::close(point.load_voltage[trials::load(&design, "Y")].expect("fed").0, 0.5 * volts, 1e-9);

    let mut parted = off;
    parted.loads.extend(["X", "Y"].map(|name| (trials::load(&design, name), LoadChange::Off)));
    assert_eq!(near.try_point(&parted, &mut room).err(), Some(Fresh::Cut));
    compare(&prepared, &near.point(&parted), &prepared.point(&parted), &mut Tally::default(), "all off");
}

fn print(name: &str, tally: &Tally) {
    let on_base: usize = tally.kinds.values().map(|&(_, on)| on).sum();
    println!(
        "{name}: {} cases, {on_base} on the base's factor; {} loads dropped, {} diodes turned; worst {:.1e} V, at a receiver {:.1e} V",
        tally.cases, tally.loads_dropped, tally.diodes_turned, tally.worst, tally.worst_receiver
    );
    for (kind, (count, on)) in &tally.kinds {
        println!("  {kind}: {count}, {on} on the base's factor");
    }
    for (why, count) in &tally.fresh {
        println!("  solved afresh, {why:?}: {count}");
    }
}

/// Opens, shorts, pairs and commands on generated networks: what is found near the base is what a fresh solution finds.
#[test]
fn near_is_a_fresh_solution_on_generated_networks() {
    let (mut strong, mut weak) = (Tally::default(), Tally::default());
    for seed in 0..10 {
        for (strength, tally) in [(Strength::Strong, &mut strong), (Strength::Weak, &mut weak)] {
            let made = generate(&Options { wires: 400, seed: 40 + seed, phases: 1, strength, sources_off: false });
            let design = design(&made.files);
            let prepared = prepare(&design);
            let mut dice = Random::new(seed);
            for corner in [Corner::Low, Corner::High] {
                let base = prepared.point(&Scenario::new(Id::from_row(0), corner));
                around(&prepared, &base, 75, &mut dice, tally, &format!("{strength:?} {seed} {corner:?}"));
            }
        }
    }
    print("strong", &strong);
    print("weak", &weak);
    let on_base: usize = strong.kinds.values().map(|&(_, on)| on).sum();
    assert!(strong.cases >= 1000 && on_base * 10 >= strong.cases * 8, "{on_base} of {} on the base's factor", strong.cases);
}

/// Some loads of generated networks could not start where they work: they let go in the base state and work in its other one. What is found near such a
/// base is what a fresh solution finds, whether both states stay, or one of them does.
#[test]
fn near_is_a_fresh_solution_where_loads_could_not_start() {
    let (mut tally, mut bases, mut one_state) = (Tally::default(), 0, 0);
    for seed in 0..12 {
        let made = generate(&Options { wires: 300, seed: 140 + seed, phases: 1, strength: Strength::Strong, sources_off: false });
        let mut design = design(&made.files);
        let mut dice = Random::new(seed);
        let (scenario, without) = {
            let prepared = prepare(&design);
            let scenario = Scenario::new(Id::from_row(0), Corner::Low);
            let off = design.loads.ids().map(|load| (load, LoadChange::Off)).collect();
            (scenario.clone(), prepared.point(&Scenario { loads: off, ..scenario }))
        };
        // What has a drop-out voltage and hangs on a source starts at a little more than it has with all others off.
        let could: Vec<(Id<Load>, Volt)> = design
            .loads
            .iter()
            .filter(|(_, load)| load.drop_out.is_some())
            .filter_map(|(id, _)| Some((id, without.load_voltage[id]?)))
            .collect();
        let mut chosen: Vec<(Id<Load>, Volt)> = could.into_iter().filter(|(_, volts)| volts.0 > 20.0).collect();
        while chosen.len() > 1 + dice.below(2) {
            chosen.swap_remove(dice.below(chosen.len()));
        }
        for &(id, volts) in &chosen {
            let own = design.loads[id].drop_out.expect("chosen: has one");
            design.loads[id].return_above = Some(Given { value: Volt(volts.0 + 0.05 + 0.3 * dice.unit()), ..own });
        }
        let prepared = prepare(&design);
        let base = prepared.point(&scenario);
        if base.all_on.is_none() {
            continue;
        }
        bases += 1;
        assert!(base.other_state.len() <= chosen.len(), "seed {seed}: {:?}", base.other_state);
        let near = prepared.near(&base);
        let mut room = near.room();
        for case in 0..120 {
            let mut scenario = base.scenario.clone();
            let mut kind = change(&mut dice, &prepared, &mut scenario);
            if case % 8 == 0 {
                // What could not start is off, or opened.
                scenario = base.scenario.clone();
                match dice.chance(0.5) {
                    true => scenario.loads.push((chosen[0].0, LoadChange::Off)),
                    false => scenario.opened.push((ElementId::Load(chosen[0].0), None)),
                }
                kind = "it is off";
            }
            let story = format!("seed {seed}, case {case}, {kind}: {:?} {:?}", scenario.opened, scenario.shorts);
            let count = tally.kinds.entry(kind).or_default();
            count.0 += 1;
            tally.cases += 1;
            match near.try_point(&scenario, &mut room) {
                Ok(point) => {
                    count.1 += 1;
                    let fresh = prepared.point(&scenario);
                    compare(&prepared, &point, &fresh, &mut tally, &story);
                    one_state += usize::from(fresh.other_state.is_empty());
                    assert_eq!(point.all_on.is_some(), fresh.all_on.is_some(), "{story}: the other state");
                    if let (Some(near), Some(fresh)) = (&point.all_on, &fresh.all_on) {
                        compare(&prepared, near, fresh, &mut tally, &format!("{story}, all on"));
                    }
                    let change = near.change(&scenario).expect("a base with a footing");
                    if near.settle(&change, &mut room).is_ok() {
                        at_terminals(&prepared, &near, &room, &fresh, &story);
                    }
                }
                Err(why) => *tally.fresh.entry(why).or_default() += 1,
            }
        }
    }
    print("could not start", &tally);
    println!("{bases} bases, {one_state} cases with one state");
    let on_base: usize = tally.kinds.values().map(|&(_, on)| on).sum();
    assert!(bases >= 8 && on_base * 10 >= tally.cases * 7, "{bases} bases, {on_base} of {} on the base's factor", tally.cases);
    assert!(one_state > 20, "{one_state} with one state");
}

/// The same on the example vehicles, in every phase.
#[test]
fn near_is_a_fresh_solution_on_the_examples() {
    for name in ["bench-rig", "light-aircraft", "gannet-mended"] {
        let design = design(&read_folder(&root().join("examples").join(name)));
        let prepared = prepare(&design);
        let mut tally = Tally::default();
        let mut dice = Random::new(7);
        for phase in design.phases.ids() {
            for corner in [Corner::Low, Corner::High] {
                let base = prepared.point(&Scenario::new(phase, corner));
                let story = format!("{name} {} {corner:?}", design.phases[phase].name);
                around(&prepared, &base, 40, &mut dice, &mut tally, &story);
            }
        }
        print(name, &tally);
        let on_base: usize = tally.kinds.values().map(|&(_, on)| on).sum();
        assert!(on_base * 10 >= tally.cases * 7, "{name}: {on_base} of {} on the base's factor", tally.cases);
    }
}

/// A cut segment is every wire in it opened, near the base and afresh: on gannet and on generated harnesses.
#[test]
fn a_cut_segment_is_every_wire_in_it_opened() {
    let gannet = design(&read_folder(&root().join("examples/gannet-mended")));
    let made =
        |seed| design(&generate_mapped(&Options { wires: 400, seed, phases: 1, strength: Strength::Strong, sources_off: false }).files);
    let (mut tally, mut cut, mut lost) = (Tally::default(), 0, 0);
    for (name, design) in [("gannet", &gannet), ("seed 3", &made(3)), ("seed 4", &made(4))] {
        let prepared = prepare(design);
        let layout = prepared.layout();
        let base = prepared.point(&Scenario::new(Id::from_row(0), Corner::Low));
        let near = prepared.near(&base);
        // Of segments with the same wires one is enough, and every third of those.
        let mut seen: Vec<&[Id<Wire>]> = design.segments.ids().map(|id| layout.members(id)).filter(|wires| !wires.is_empty()).collect();
        seen.sort_unstable();
        seen.dedup();
        for (number, wires) in seen.into_iter().step_by(3).enumerate() {
            let segment = design.segments.ids().find(|id| layout.members(*id) == wires).expect("one of them");
            let story = format!("{name}, {} with {} wires", design.segments[segment].name, wires.len());
            let severed = Scenario { lost: vec![Subject::Segment(segment)], ..base.scenario.clone() };
            let opened = Scenario { opened: wires.iter().map(|&wire| (ElementId::Wire(wire), None)).collect(), ..base.scenario.clone() };
            let fresh = prepared.point(&opened);
            assert_eq!(prepared.laws(&severed), prepared.laws(&opened), "{story}");
            compare(&prepared, &near.point(&severed), &fresh, &mut tally, &story);
            cut += 1;
            lost += usize::from(design.loads.ids().any(|load| base.load_fed[load] && !fresh.load_fed[load]));
            if number > 40 {
                break;
            }
        }
    }
    println!("{cut} segments cut, {lost} of them take the feed of a load");
    assert!(cut > 60 && lost > 20, "{cut} {lost}");
}

/// Two loads of constant power, 40 and 120 W, on 28 V behind 0.5 ohm stand at (28 + √(28² − 4·0.5·160))/2 = 24.77 V. Behind 2 ohm
/// the first lets go below its 22 V, then the second below its 21 V, which alone asks for more than 28²/8 = 98 W; with both off
/// there are 28 V, the first comes back above its 24 V, and alone stands at the same 24.77 V (worked by hand).
#[test]
fn a_load_that_comes_back_is_not_lost_near_its_base() {
    let design = trials::design_of(
        "profile = \"space-28v\"\n[ground.G]\nreference = true\n[node.B]\n[node.L]\n[phase.work]\n\
         [battery.BT]\npositive = \"node:B\"\nnegative = \"ground:G\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\n\
         [link.FEED]\nfrom = \"node:B\"\nto = \"node:L\"\nohms = \"0.4 ohm\"\n\
         [load.A]\nline = \"node:L\"\nreturn = \"ground:G\"\npower = \"40 W\"\ndrop_out = \"22 V\"\nreturn_above = \"24 V\"\n\
         [load.B]\nline = \"node:L\"\nreturn = \"ground:G\"\npower = \"120 W\"\ndrop_out = \"21 V\"\n",
    );
    let prepared = prepare(&design);
    let base = prepared.point(&Scenario::new(Id::from_row(0), Corner::Typical));
    let [a, b] = ["A", "B"].map(|name| trials::load(&design, name));
    let volts = |point: &Point| point.load_voltage[a].expect("settled").0;
    let expected = (28.0 + (28.0f64 * 28.0 - 320.0).sqrt()) / 2.0;
    trials::close(volts(&base), expected, 1e-9);
    let mut weak = base.scenario.clone();
    weak.ohms.push((ElementId::Link(Id::from_row(0)), Ohm(1.9)));
    let near = prepared.near(&base).point(&weak);
    assert!(near.load_state[a] == LoadState::On && matches!(near.load_state[b], LoadState::DroppedOut { .. }), "{:?}", near.load_state);
    trials::close(volts(&near), expected, 1e-7);
}

/// The current of a short at many places, against a fresh solution of that short with every load off.
#[test]
fn prospective_currents_are_those_of_a_short() {
    let ohms = 1e-4;
    let (mut compared, mut worst) = (0, 0.0f64);
    for seed in 0..4 {
        let made = generate(&Options { wires: 300, seed: 90 + seed, phases: 1, strength: Strength::Strong, sources_off: false });
        let design = design(&made.files);
        let prepared = prepare(&design);
        let mut idle = Scenario::new(Id::from_row(0), Corner::High);
        idle.loads = design.loads.ids().map(|load| (load, LoadChange::Off)).collect();
        idle.switches = design.converters.ids().map(|id| (ElementId::Converter(id), Commanded::Off)).collect();
        let base = prepared.point(&idle);
        let near = prepared.near(&base);
        let mut room = near.room();
        let mut dice = Random::new(seed);
        for _ in 0..60 {
            let row = dice.below(prepared.branches().len());
            let (end, structure) = (prepared.branch_ends(row).1, base.islands.iter().find(|island| island.grounded).map(|i| i.reference));
            let (Some(node), Some(ground)) = (prepared.node(end), structure) else { continue };
            let Some(current) = near.prospective(&mut room, node, ground) else { continue };
            let mut shorted = idle.clone();
            shorted.shorts.push((Place::End(end), Place::End(prepared.node_end(ground)), Ohm(ohms)));
            let fresh = prepared.point(&shorted);
            // A diode that turns in the fault is the question of a settled state, not of this estimate.
            if fresh.diode_on != base.diode_on {
                continue;
            }
            let expected = (fresh.voltage[node.row()] - fresh.voltage[ground.row()]) / ohms;
            // The short of the fresh solution has a resistance of its own.
            let stands = base.voltage[node.row()] - base.voltage[ground.row()];
            let current = stands / (stands / current + ohms);
            let differ = (current - expected).abs() / (expected.abs() + 0.1);
            assert!(differ < 1e-4, "seed {seed}, branch {row}: {current} A, and the short carries {expected} A");
            (compared, worst) = (compared + 1, worst.max(differ));
        }
    }
    println!("{compared} shorts, worst difference {worst:.1e}");
    assert!(compared >= 100, "{compared} compared");
}

/// Faults of a vehicle follow each other in the same room, where diodes begin as the fault before left them: each is as one that is looked at alone, and
/// its current that of a fresh solution of the short.
#[test]
fn a_fault_is_the_same_whatever_was_looked_at_before_it() {
    let (mut compared, mut turned, mut most) = (0, 0, 0);
    for seed in [3, 4] {
        let made = generate(&Options { wires: 700, seed, phases: 2, strength: Strength::Strong, sources_off: true });
        let design = design(&made.files);
        let study = analysis::run(&design, analysis::Stages::CHECK, &analysis::Silent).expect("nobody cancels");
        let prepared = &study.prepared;
        let held: Vec<Point> = study.points.iter().map(|point| prepared.with_loads_held(point)).collect();
        let faults: Vec<_> = held.iter().map(|held| prepared.faults(held)).collect();
        let protection = study.protection.as_ref().expect("was asked for");
        let burning = protection.wires.iter().flat_map(|fed| [&fed.largest, &fed.smallest, &fed.middle]).flatten();
        for (at, known) in burning.enumerate() {
            let state = (known.fault.phase, known.fault.corner);
            let base = held.iter().position(|held| (held.scenario.phase, held.scenario.corner) == state).expect("a state of the study");
            let (held, faults) = (&held[base], &faults[base]);
            let words = || format!("seed {seed}, wire {}, {:?}", design.wires[known.fault.wire].name, known.fault);
            let near = |a: f64, b: f64| (a - b).abs() < RELATIVE * b.abs() + 1e-3 * ABSOLUTE;
            let alone = faults.burning(known.fault).unwrap_or_else(|| panic!("{}: does not burn alone", words()));
            let opens = |clearing: &Clearing| clearing.opens.iter().map(|&(_, device)| device).collect::<Vec<_>>();
            let end = |clearing: &Clearing| std::mem::discriminant(&clearing.end);
            assert!(near(known.current.0, alone.current.0), "{}: {} A, alone {} A", words(), known.current.0, alone.current.0);
            for (a, b) in [(&known.earliest, &alone.earliest), (&known.latest, &alone.latest)] {
                assert_eq!((opens(a), end(a)), (opens(b), end(b)), "{}", words());
            }
            let of = |burning: &analysis::protection::Burning| burning.devices.iter().map(|carries| carries.device).collect::<Vec<_>>();
            assert_eq!(of(known), of(&alone), "{}", words());
            for (a, b) in known.devices.iter().zip(&alone.devices) {
                assert!((a.now.0 - b.now.0).abs() < 1e-6 * known.current.0, "{}: {a:?}, alone {b:?}", words());
            }
            if at % 10 > 0 {
                continue;
            }
            let scenario = faults.scenario(known.fault).expect("a fault that burns");
            let fresh = prepared.near(held).afresh(&scenario);
            let current = prepared.short_currents(&fresh).last().copied().expect("the short of the fault").abs();
            assert!(
                (known.current.0 - current).abs() < 1e-7 * current + ABSOLUTE / 1e-3,
                "{}: {} A, afresh {current} A",
                words(),
                known.current.0
            );
            let flips = fresh.diode_on.iter().filter(|(id, on)| held.diode_on[*id] != **on).count();
            (turned, most) = (turned + usize::from(flips > 0), most.max(flips));
            compared += 1;
        }
    }
    println!("{compared} faults afresh, in {turned} of them diodes turned, at most {most}");
    assert!(compared >= 100 && turned >= 30 && most >= 4, "{compared} faults, {turned} with diodes that turned, at most {most}");
}
