//! Small networks with an answer on paper, from input text to result.

use analysis::{Prepared, prepare};
use model::*;
use trials::{close, design_of, load, receiver};
use xtask::random::Random;

/// The one phase of a small design in the typical corner.
fn typical(design: &Design) -> Scenario {
    Scenario::new(design.phases.ids().next().expect("a design has a phase"), Corner::Typical)
}

fn settled(prepared: &Prepared, scenario: &Scenario) -> Point {
    let point = prepared.point(scenario);
    for island in &point.islands {
        assert_eq!(island.outcome, Outcome::Settled);
    }
    point
}

fn load_volts(point: &Point, id: Id<Load>) -> f64 {
    point.load_voltage[id].expect("the load's island settled").0
}

/// Current out of a source's positive terminal.
fn source_amps(prepared: &Prepared, point: &Point, name: &str) -> f64 {
    let id = trials::named(&prepared.design().batteries, name, |row| &row.name);
    let branch = prepared.branch_of(ElementId::Source(id)).expect("a source is a branch");
    let positive = prepared.node(prepared.design().batteries[id].positive.value).expect("its terminal is a node");
    // The sign follows the branch's own direction, whichever terminal it is drawn from.
    if prepared.branches()[branch].to == positive { point.current[branch] } else { -point.current[branch] }
}

fn behind_a_resistance(emf: &str, ohms: &str, power: &str) -> Design {
    design_of(&format!(
        r#"
        [ground.G]
        reference = true
        [bus.A]
        return = "ground:G"
        [battery.V]
        positive = "bus:A"
        negative = "ground:G"
        emf = "{emf}"
        ohms = "{ohms}"
        [load.F]
        line = "bus:A"
        return = "ground:G"
        power = "{power}"
        "#
    ))
}

/// V = (E + √(E² − 4RP))/2, the upper root of V² − EV + RP = 0 (worked by hand).
#[test]
fn constant_power_behind_a_resistance() {
    // 29 V, 0.12 Ω, 600 W: 26.258 V, 22.850 A, 1752 W at most (worked by hand). 28 V, 1 Ω, 195 W: 14 + 1 = 15 V.
    for (emf, ohms, power, volts) in [(29.0, 0.12, 600.0, 26.258), (28.0, 1.0, 195.0, 15.0), (28.0, 0.05, 60.0, 27.8924)] {
        let design = behind_a_resistance(&format!("{emf} V"), &format!("{ohms} ohm"), &format!("{power} W"));
        let prepared = prepare(&design);
        let point = settled(&prepared, &typical(&design));
        let value = load_volts(&point, load(&design, "F"));
        close(value, volts, 1e-3);
        close(value, (emf + f64::sqrt(emf * emf - 4.0 * ohms * power)) / 2.0, 1e-9);
        close(source_amps(&prepared, &point, "V"), power / value, 1e-7);
    }
    let design = behind_a_resistance("29 V", "0.12 ohm", "600 W");
    let prepared = prepare(&design);
    close(source_amps(&prepared, &settled(&prepared, &typical(&design)), "V"), 22.850, 1e-3);
}

/// E²/4R = 28²/4 = 196 W is the most that 28 V behind 1 Ω can give: 195 W settles above 14 V, 197 W has no operating point.
#[test]
fn collapse_is_named_with_its_bus_and_powers() {
    let design = behind_a_resistance("28 V", "1 ohm", "195 W");
    let point = settled(&prepare(&design), &typical(&design));
    assert!(load_volts(&point, load(&design, "F")) > 14.0);

    for (emf, ohms, asks, most) in [(28.0, 1.0, 197.0, 196.0), (29.0, 0.12, 1753.0, 29.0 * 29.0 / 0.48), (28.0, 1.0, 400.0, 196.0)] {
        let design = behind_a_resistance(&format!("{emf} V"), &format!("{ohms} ohm"), &format!("{asks} W"));
        let point = prepare(&design).point(&typical(&design));
        let outcome = &point.islands.first().expect("one island").outcome;
        let Outcome::NoOperatingPoint { load: sagging, bus, asked, possible } = outcome else {
            panic!("{asks} W out of {most} W ended as {outcome:?}");
        };
        assert_eq!(*sagging, ElementId::Load(load(&design, "F")));
        assert_eq!(bus.map(|bus| design.inner_nodes[bus].name.to_string()).as_deref(), Some("A"));
        close(asked.0, asks, 1e-6);
        // Found from below, within a hundred-thousandth of what is asked.
        let possible = possible.expect("asked for").0;
        close(possible, most, 1e-5 * asks);
        assert!(possible <= most, "{possible} of {most}");
        assert_eq!(point.load_voltage[load(&design, "F")], None, "values of an island without operating point are not given out");
    }
}

/// Whether there is an operating point does not hang on how closely one asks: from a state that has none, and from one that has.
#[test]
fn roughly_is_as_true() {
    for base in ["195 W", "400 W"] {
        let design = behind_a_resistance("28 V", "1 ohm", base);
        let prepared = prepare(&design);
        let begun = prepared.point(&typical(&design));
        for (asks, settles) in [(195.9, true), (196.1, false), (250.0, false), (400.0, false)] {
            let changed = Scenario { loads: vec![(load(&design, "F"), LoadChange::Power(physics::Watt(asks)))], ..typical(&design) };
            let near = prepared.near(&begun);
            let (exact, rough) = (near.point(&changed), near.roughly(&changed));
            match (&exact.islands[0].outcome, &rough.islands[0].outcome) {
                (Outcome::Settled, Outcome::Settled) => assert!(settles, "{base}, {asks} W"),
                (
                    Outcome::NoOperatingPoint { load, asked, possible: Some(possible), .. },
                    Outcome::NoOperatingPoint { load: same, asked: as_much, possible: None, .. },
                ) => {
                    assert!(!settles && load == same && asked == as_much, "{base}, {asks} W");
                    close(possible.0, 196.0, 1e-5 * asks);
                }
                other => panic!("{base}, {asks} W: {other:?}"),
            }
            assert_eq!((&exact.current, &exact.load_voltage), (&rough.current, &rough.load_voltage));
        }
    }
}

/// The same 29 V, 0.12 Ω just below and just above its collapse power of 1752.083 W.
#[test]
fn both_sides_of_collapse_within_a_thousandth() {
    for (share, settles) in [(0.999, true), (1.001, false)] {
        let design = behind_a_resistance("29 V", "0.12 ohm", &format!("{} W", share * 29.0 * 29.0 / 0.48));
        let point = prepare(&design).point(&typical(&design));
        assert_eq!(point.islands.iter().all(|i| i.outcome.is_settled()), settles, "{share} of the collapse power");
    }
}

/// 32 V behind 0.05 Ω and 31 V behind 0.08 Ω into 1 Ω: V = (32/0.05 + 31/0.08)/(1/0.05 + 1/0.08 + 1) = 30.672 V,
/// 26.567 A and 4.104 A (worked by hand).
#[test]
fn two_batteries_share_a_load() {
    let design = design_of(
        r#"
        [ground.G]
        reference = true
        [bus.A]
        return = "ground:G"
        [battery.V1]
        positive = "bus:A"
        negative = "ground:G"
        emf = "32 V"
        ohms = "0.05 ohm"
        [battery.V2]
        positive = "bus:A"
        negative = "ground:G"
        emf = "31 V"
        ohms = "80 mohm"
        [load.F]
        line = "bus:A"
        return = "ground:G"
        resistance = "1 ohm"
        "#,
    );
    let prepared = prepare(&design);
    let point = settled(&prepared, &typical(&design));
    let volts = (32.0 / 0.05 + 31.0 / 0.08) / (1.0 / 0.05 + 1.0 / 0.08 + 1.0);
    close(volts, 30.672, 5e-4);
    close(load_volts(&point, load(&design, "F")), volts, 1e-9);
    for (name, emf, ohms, printed) in [("V1", 32.0, 0.05, 26.567), ("V2", 31.0, 0.08, 4.104)] {
        let amps = source_amps(&prepared, &point, name);
        close(amps, (emf - volts) / ohms, 1e-7);
        close(amps, printed, 1e-3);
    }
}

fn diode_or(emf: [f64; 2], load_ohms: f64) -> Design {
    let mut text = String::from("[ground.G]\nreference = true\n[bus.A]\nreturn = \"ground:G\"\n");
    for (n, emf) in emf.iter().enumerate() {
        text += &format!(
            "[node.S{n}]\n[battery.V{n}]\npositive = \"node:S{n}\"\nnegative = \"ground:G\"\nemf = \"{emf} V\"\nohms = \"0.1 ohm\"\n\
             [diode.D{n}]\nanode = \"node:S{n}\"\ncathode = \"bus:A\"\nforward = \"0.7 V\"\nohms = \"10 mohm\"\n"
        );
    }
    text += &format!("[load.F]\nline = \"bus:A\"\nreturn = \"ground:G\"\nresistance = \"{load_ohms} ohm\"\n");
    design_of(&text)
}

/// Two sources through diodes of 0.7 V and 10 mΩ, each source 0.1 Ω.
///
/// 28 V and 27 V into 10 Ω: only the first conducts, I = 27.3/10.11, V = 27.0030 V, above 27 − 0.7 V (worked by hand).
/// 28 V and 27.5 V into 1 Ω: both, V = (27.3 + 26.8)/0.11 / (2/0.11 + 1) = 25.6398 V (worked by hand).
#[test]
fn diode_or_of_two_unequal_sources() {
    let design = diode_or([28.0, 27.0], 10.0);
    let prepared = prepare(&design);
    let point = settled(&prepared, &typical(&design));
    let volts = load_volts(&point, load(&design, "F"));
    close(volts, 27.3 / 10.11 * 10.0, 1e-9);
    close(volts, 27.0030, 5e-5);
    assert_eq!(point.diode_on.iter().map(|(_, on)| *on).collect::<Vec<_>>(), [true, false]);
    close(source_amps(&prepared, &point, "V1"), 0.0, 1e-12);

    let design = diode_or([28.0, 27.5], 1.0);
    let prepared = prepare(&design);
    let point = settled(&prepared, &typical(&design));
    let volts = load_volts(&point, load(&design, "F"));
    close(volts, (27.3 + 26.8) / 0.11 / (2.0 / 0.11 + 1.0), 1e-9);
    close(volts, 25.6398, 5e-5);
    assert_eq!(point.diode_on.iter().map(|(_, on)| *on).collect::<Vec<_>>(), [true, true]);
    close(source_amps(&prepared, &point, "V0"), (27.3 - volts) / 0.11, 1e-8);
}

/// A resistance sensor of 100 Ω at 1 mA on leads of 0.5 and 0.7 Ω (and 0.6 Ω where there is a third).
fn resistance_sensor(wiring: &str) -> Design {
    design_of(&format!(
        r#"
        [ground.G]
        reference = true
        [node.P]
        [node.M]
        [node.T]
        [node.B]
        [receiver.RX]
        positive = "node:P"
        negative = "node:M"
        input_ohms = "1e9 ohm"
        [sensor.S]
        kind = "resistance"
        receiver = "RX"
        positive = "node:T"
        negative = "node:B"
        zero_ohms = "100 ohm"
        full_ohms = "140 ohm"
        excitation = "1 mA"
        reading = "0 %"
        {wiring}
        "#
    ))
}

/// Reading of the receiver less what the sensor alone would give.
fn error_volts(design: &Design) -> f64 {
    let prepared = prepare(design);
    let point = settled(&prepared, &typical(design));
    let reading = point.receiver_voltage[receiver(design, "RX")].expect("the receiver's island settled");
    let sensor = design.sensors.ids().next().expect("one sensor");
    reading.0 - prepared.sensor_ideal(sensor).0
}

fn link(name: &str, from: &str, to: &str, ohms: f64) -> String {
    format!("[link.{name}]\nfrom = \"{from}\"\nto = \"{to}\"\nohms = \"{ohms} ohm\"\n")
}

fn excitation(name: &str, positive: &str, negative: &str) -> String {
    format!("[excitation.{name}]\npositive = \"{positive}\"\nnegative = \"{negative}\"\ncurrent = \"1 mA\"\n")
}

/// The receiver of 1 GΩ takes 100 pA out of 1 mA: 10 nV at 100 Ω. The tolerances below are this.
const RECEIVER_LOADING: f64 = 12e-9;

/// Two wires: error = I (R_L1 + R_L2) = 1 mA × 1.2 Ω = 1200 µV (worked by hand).
#[test]
fn two_wire_lead_error() {
    let wiring = excitation("I", "node:P", "node:M") + &link("L1", "node:P", "node:T", 0.5) + &link("L2", "node:B", "node:M", 0.7);
    close(error_volts(&resistance_sensor(&(wiring + &link("GND", "node:M", "ground:G", 0.001)))), 1200e-6, RECEIVER_LOADING);
}

/// Three wires: a second equal current on the second lead, both back by the third: error = I (R_L1 − R_L2) = −200 µV; equal leads give 0
/// (worked by hand). The third lead does not count.
#[test]
fn three_wire_lead_error() {
    for (first, second, error) in [(0.5, 0.7, -200e-6), (0.7, 0.5, 200e-6), (0.6, 0.6, 0.0)] {
        let wiring = excitation("I1", "node:P", "ground:G")
            + &excitation("I2", "node:M", "ground:G")
            + &link("L1", "node:P", "node:T", first)
            + &link("L2", "node:M", "node:B", second)
            + &link("L3", "node:B", "ground:G", 0.6);
        close(error_volts(&resistance_sensor(&wiring)), error, RECEIVER_LOADING);
    }
}

/// Four wires: the current goes and comes on its own pair, so the sensing pair carries none and the error is zero (worked by hand).
#[test]
fn four_wire_lead_error_is_zero() {
    let wiring = "[node.FP]\n[node.FM]\n".to_owned()
        + &excitation("I", "node:FP", "node:FM")
        + &link("F1", "node:FP", "node:T", 0.5)
        + &link("F2", "node:B", "node:FM", 0.7)
        + &link("S1", "node:P", "node:T", 0.5)
        + &link("S2", "node:M", "node:B", 0.7)
        + &link("GND", "node:FM", "ground:G", 0.001);
    close(error_volts(&resistance_sensor(&wiring)), 0.0, RECEIVER_LOADING);
}

/// A sensor's return shares 3.2 mΩ with the return of a lamp that draws 0.25 A: its zero moves by 0.25 A × 3.2 mΩ = 800 µV; with a
/// return of its own it does not move (worked by hand).
#[test]
fn shared_return_moves_the_zero() {
    for (sensor_return, shift) in [("node:J", 800e-6), ("ground:G", 0.0)] {
        let design = design_of(&format!(
            r#"
            [ground.G]
            reference = true
            [bus.A]
            return = "ground:G"
            [node.J]
            [node.P]
            [battery.V]
            positive = "bus:A"
            negative = "ground:G"
            emf = "28 V"
            ohms = "50 mohm"
            [load.LAMP]
            line = "bus:A"
            return = "node:J"
            current = "0.25 A"
            [link.SHARED]
            from = "node:J"
            to = "ground:G"
            ohms = "3.2 mohm"
            [sensor.S]
            kind = "voltage"
            receiver = "RX"
            reading = "0 %"
            positive = "node:P"
            negative = "{sensor_return}"
            full = "50 mV"
            source_ohms = "10 ohm"
            [receiver.RX]
            positive = "node:P"
            negative = "ground:G"
            input_ohms = "1e9 ohm"
            "#
        ));
        close(error_volts(&design), shift, 1e-9);
    }
}

/// A load of 150 W that lets go at 22 V, on 28 V behind 1 Ω. As constant power it would sag to (28 + √(784 − 600))/2 = 20.782 V, below
/// its limit, so it lets go and the bus stands at 28 V. Below its limit it counts as the resistance it is there, 22²/150 = 3.2267 Ω,
/// so the voltage it is said to let go at is 28 × 3.2267/4.2267 = 21.375 V (worked by hand). At 130 W it would stand at
/// (28 + √(784 − 520))/2 = 22.124 V and stays.
#[test]
fn a_sagging_load_lets_go_and_says_where() {
    let with = |power: &str| {
        let design = behind_a_resistance("28 V", "1 ohm", &format!("{power}\"\ndrop_out = \"22 V\"\nreturn_above = \"27 V"));
        let point = settled(&prepare(&design), &typical(&design));
        let id = load(&design, "F");
        (point.load_state[id], load_volts(&point, id), point.other_state.len())
    };
    let (state, volts, _) = with("150 W");
    let LoadState::DroppedOut { at } = state else { panic!("{state:?}") };
    let resistance = 22.0 * 22.0 / 150.0;
    close(at.0, 28.0 * resistance / (resistance + 1.0), 1e-9);
    close(at.0, 21.375, 5e-4);
    close(volts, 28.0, 1e-9);

    let (state, volts, others) = with("130 W");
    assert_eq!(state, LoadState::On);
    assert_eq!(others, 0);
    close(volts, 22.124, 5e-4);
    close(volts, (28.0 + f64::sqrt(784.0 - 520.0)) / 2.0, 1e-9);
}

/// Two equal loads that one bus cannot feed together sag alike: the name says which one lets go, not the order of the rows. One alone
/// stands at (28 + √(784 − 400))/2 = 23.798 V (worked by hand).
#[test]
fn of_two_equal_loads_the_name_decides_which_lets_go() {
    let row = |name: &str| format!("[load.{name}]\nline = \"bus:A\"\nreturn = \"ground:G\"\npower = \"100 W\"\ndrop_out = \"18 V\"\n");
    let source = "[ground.G]\nreference = true\n[bus.A]\n[battery.V]\npositive = \"bus:A\"\nnegative = \"ground:G\"\nemf = \"28 V\"\nohms = \"1 ohm\"\n";
    for rows in [[row("one"), row("two")], [row("two"), row("one")]] {
        let design = design_of(&format!("{source}{}", rows.concat()));
        let point = settled(&prepare(&design), &typical(&design));
        assert!(matches!(point.load_state[load(&design, "one")], LoadState::DroppedOut { .. }));
        assert_eq!(point.load_state[load(&design, "two")], LoadState::On);
        close(load_volts(&point, load(&design, "two")), (28.0 + f64::sqrt(384.0)) / 2.0, 1e-9);
    }
}

/// A converter of 10 V, 20 mΩ, 80 % and 1 W quiescent feeds 100 Ω from 28 V behind 50 mΩ: 10 × 100/100.02 = 9.998 V, 0.99960 W out,
/// so 0.99960/0.8 + 1 = 2.2495 W in, and the bus stands at (28 + √(784 − 0.2 × 2.2495))/2 = 27.99598 V (worked by hand).
#[test]
fn a_converter_takes_what_it_gives_and_loses() {
    let design = design_of(&format!("{CONVERTER}[phase.live]\n"));
    let prepared = prepare(&design);
    let point = settled(&prepared, &typical(&design));
    let lamp = 10.0 * 100.0 / 100.02;
    close(load_volts(&point, load(&design, "lamp")), lamp, 1e-9);
    let input = lamp * lamp / 100.0 / 0.8 + 1.0;
    close(input, 2.2495, 1e-4);
    let bus = (28.0 + f64::sqrt(784.0 - 4.0 * 0.05 * input)) / 2.0;
    close(bus, 27.99598, 1e-5);
    close(source_amps(&prepared, &point, "V"), input / bus, 1e-8);
}

const CONVERTER: &str = r#"
    [ground.G]
    reference = true
    [bus.A]
    return = "ground:G"
    [node.O]
    [battery.V]
    positive = "bus:A"
    negative = "ground:G"
    emf = "28 V"
    ohms = "50 mohm"
    [converter.CV]
    line = "bus:A"
    return = "ground:G"
    output = "node:O"
    output_return = "ground:G"
    emf = "10 V"
    ohms = "20 mohm"
    efficiency = "80 %"
    quiescent = "1 W"
    drop_out = "14 V"
    return_above = "16 V"
    [load.lamp]
    line = "node:O"
    return = "ground:G"
    resistance = "100 ohm"
"#;

/// A converter on a bus whose only source is off gives nothing, also where a heater on that bus ties it to a live return.
#[test]
fn a_converter_on_a_dead_bus_gives_nothing() {
    let heater = "[load.heater]\nline = \"bus:A\"\nreturn = \"ground:G\"\nresistance = \"10 ohm\"\n";
    let other = "[node.B]\n[battery.W]\npositive = \"node:B\"\nnegative = \"ground:G\"\nemf = \"28 V\"\nohms = \"50 mohm\"\n";
    let design = design_of(&format!("{CONVERTER}{heater}{other}[phase.dead]\noff = [\"battery:V\"]\n"));
    let prepared = prepare(&design);
    let point = settled(&prepared, &typical(&design));
    let lamp = load(&design, "lamp");
    close(load_volts(&point, lamp), 0.0, 1e-9);
    assert!(!point.load_fed[lamp]);
}

/// Solves a dense system by elimination with row exchange.
fn solve_dense(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    let n = right.len();
    for column in 0..n {
        let pivot = (column..n).max_by(|a, b| matrix[*a][column].abs().total_cmp(&matrix[*b][column].abs())).expect("a row is left");
        matrix.swap(column, pivot);
        right.swap(column, pivot);
        let (above, below) = matrix.split_at_mut(column + 1);
        let eliminated = &above[column];
        for (row, line) in below.iter_mut().enumerate() {
            let factor = line[column] / eliminated[column];
            for (entry, other) in line.iter_mut().zip(eliminated).skip(column) {
                *entry -= factor * other;
            }
            right[column + 1 + row] -= factor * right[column];
        }
    }
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|column| matrix[row][column] * right[column]).sum();
        right[row] = (right[row] - known) / matrix[row][row];
    }
    right
}

/// Random meshes of links, a feed side and a return side, with sources and loads of all three laws between them, against nodal
/// equations set up here from the same numbers and solved densely; constant-power loads by fixed-point iteration on their current.
#[test]
fn random_meshes_against_a_dense_solve() {
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let nodes = 4 + random.below(14);
        // Nodes below `feed` are returns, the first of them the reference ground.
        let feed = nodes / 2;
        let at = |node: usize| if node == 0 { "ground:N0".to_owned() } else { format!("node:N{node}") };
        let mut text = String::from("[ground.N0]\nreference = true\n");
        let mut matrix = vec![vec![0.0; nodes]; nodes];
        let mut injected = vec![0.0; nodes];
        let mut powers = Vec::new();
        let mut conductance = |a: usize, b: usize, ohms: f64| {
            for (row, column, sign) in [(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)] {
                matrix[row][column] += sign / ohms;
            }
        };
        let mut ends = Vec::new();
        for node in 1..nodes {
            text += &format!("[node.N{node}]\n");
            match node {
                _ if node < feed => ends.push((node, random.below(node))),
                _ if node > feed => ends.push((node, feed + random.below(node - feed))),
                _ => {}
            }
        }
        for _ in 0..nodes / 2 {
            let (first, count) = if random.chance(0.5) { (0, feed) } else { (feed, nodes - feed) };
            let (a, b) = (first + random.below(count), first + random.below(count));
            if a != b {
                ends.push((a, b));
            }
        }
        for (n, (a, b)) in ends.into_iter().enumerate() {
            let ohms = 10f64.powf(random.between(-3.0, -0.5));
            text += &link(&format!("K{n}"), &at(a), &at(b), ohms);
            conductance(a, b, ohms);
        }
        for n in 0..2 {
            let (plus, minus) = (feed + random.below(nodes - feed), random.below(feed));
            let (emf, ohms) = (random.between(27.0, 31.0), random.between(0.02, 0.1));
            text += &format!(
                "[battery.V{n}]\npositive = \"{}\"\nnegative = \"{}\"\nemf = \"{emf} V\"\nohms = \"{ohms} ohm\"\n",
                at(plus),
                at(minus)
            );
            conductance(plus, minus, ohms);
            injected[plus] += emf / ohms;
            injected[minus] -= emf / ohms;
        }
        for n in 0..nodes {
            let (line, back) = (feed + random.below(nodes - feed), random.below(feed));
            text += &format!("[load.F{n}]\nline = \"{}\"\nreturn = \"{}\"\n", at(line), at(back));
            match random.below(3) {
                0 => {
                    let ohms = random.between(20.0, 200.0);
                    text += &format!("resistance = \"{ohms} ohm\"\n");
                    conductance(line, back, ohms);
                }
                1 => {
                    let amps = random.between(0.05, 0.5);
                    text += &format!("current = \"{amps} A\"\n");
                    injected[line] -= amps;
                    injected[back] += amps;
                }
                _ => {
                    let watts = random.between(1.0, 20.0);
                    text += &format!("power = \"{watts} W\"\n");
                    powers.push((line, back, watts));
                }
            }
        }
        let reduced: Vec<Vec<f64>> = matrix[1..].iter().map(|row| row[1..].to_vec()).collect();
        let mut volts = vec![0.0; nodes];
        volts[1..].copy_from_slice(&solve_dense(reduced.clone(), injected[1..].to_vec()));
        let mut moved = f64::INFINITY;
        for _ in 0..500 {
            let mut right = injected.clone();
            for (line, back, watts) in &powers {
                let amps = watts / (volts[*line] - volts[*back]);
                right[*line] -= amps;
                right[*back] += amps;
            }
            let next = solve_dense(reduced.clone(), right[1..].to_vec());
            moved = next.iter().zip(&volts[1..]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            volts[1..].copy_from_slice(&next);
        }
        assert!(moved < 1e-10, "mesh {seed}: the fixed point still moved by {moved} V");

        let design = design_of(&text);
        let prepared = prepare(&design);
        let point = settled(&prepared, &typical(&design));
        for (row, expected) in volts.iter().enumerate().skip(1) {
            let inner = trials::named(&design.inner_nodes, &format!("N{row}"), |n| &n.name);
            let node = prepared.node(End::Inner(inner)).expect("every node conducts");
            close(point.voltage[node.row()], *expected, 1e-9 * expected.abs().max(1.0));
        }
    }
}
