//! A generic circuit simulator on the exported netlist: an independent solution of every node.

use analysis::protection::Fault;
use analysis::{Law, prepare};
use model::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::process::Command;
use trials::{design, read_folder, root};
use xtask::generate::{Options, Strength, generate};

/// Agreement asked of every node: relative, never worse than 0.1 mV; below 1 V, where a relative figure means little, 1 µV.
fn node_tolerance(volts: f64) -> f64 {
    (1e-6 * volts.abs().max(1.0)).min(1e-4)
}
/// Agreement asked of a difference at a receiver's inputs.
const RECEIVER_VOLTS: f64 = 1e-6;
/// The same as a share of the sensor's span.
const RECEIVER_SPAN: f64 = 1e-4;

/// Runs the simulator on a netlist and gives back the voltage of every named node.
///
/// `vntol` is where its iteration stops. 1 pV, as the netlist has it, is under the rounding noise of a network of thousands of
/// nodes: it would never stop there. What is found is compared just as strictly.
pub(super) fn simulate(netlist: &str, vntol: f64) -> BTreeMap<String, f64> {
    let netlist = netlist.trim_end();
    let body = netlist.strip_suffix(".end").unwrap_or(netlist);
    let deck = format!(
        "{body}\n.options reltol=1e-9 vntol={vntol:e} abstol=1e-12 gmin=1e-15 itl1=5000\n.control\nset numdgt=12\nset width=400\nop\nprint all\nquit\n.endc\n.end\n"
    );
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(folder.path().join("deck.cir"), &deck).expect("the deck can be written");
    let run = Command::new("ngspice").args(["-b", "deck.cir"]).current_dir(folder.path()).output();
    let run = run.unwrap_or_else(|why| panic!("ngspice cannot be started ({why}): install the Debian package ngspice"));
    let said = String::from_utf8_lossy(&run.stdout);
    let values: BTreeMap<String, f64> = said
        .lines()
        .filter_map(|line| {
            let (name, value) = line.split_once(" = ")?;
            Some((name.trim().to_owned(), value.trim().parse().ok()?))
        })
        .filter(|(name, _)| name.starts_with('n') && name[1..].chars().all(|c| c.is_ascii_digit()))
        .collect();
    assert!(!values.is_empty(), "ngspice gave no voltages:\n{said}\n{}", String::from_utf8_lossy(&run.stderr));
    values
}

#[derive(Default)]
struct Compared {
    states: usize,
    nodes: usize,
    receivers: usize,
    power_loads_on: usize,
    dropped: usize,
    diodes: usize,
    unsettled_islands: usize,
    worst_volts: f64,
    worst_receiver_volts: f64,
}

impl Compared {
    fn add(mut self, other: Compared) -> Compared {
        self.states += other.states;
        self.nodes += other.nodes;
        self.receivers += other.receivers;
        self.power_loads_on += other.power_loads_on;
        self.dropped += other.dropped;
        self.diodes += other.diodes;
        self.unsettled_islands += other.unsettled_islands;
        self.worst_volts = self.worst_volts.max(other.worst_volts);
        self.worst_receiver_volts = self.worst_receiver_volts.max(other.worst_receiver_volts);
        self
    }
}

/// Compares every phase and corner of a design.
fn compare(design: &Design, title: &str, vntol: f64) -> Compared {
    let prepared = prepare(design);
    let mut total = Compared::default();
    for (phase, corner) in design.phases.ids().flat_map(|phase| Corner::ALL.map(|corner| (phase, corner))) {
        let scenario = Scenario::new(phase, corner);
        let title = format!("{title}, phase {}, corner {}", design.phases[phase].name, corner.word());
        let point = prepared.point(&scenario);
        let found = simulate(&outputs::netlist(&prepared, &point), vntol);
        let mut here = Compared { states: 1, ..Compared::default() };
        // The simulator's own zero has no name; an island's reference may be it.
        let volts = |node: usize| found.get(&format!("n{node}")).copied();
        let settled = |node: usize| point.island_of[node].map(|i| &point.islands[i as usize]).filter(|i| i.outcome.is_settled());
        for node in 0..point.voltage.len() {
            let Some(island) = settled(node) else { continue };
            let reference = volts(island.reference.row()).unwrap_or(0.0);
            let Some(theirs) = volts(node).or((node == island.reference.row()).then_some(0.0)) else {
                panic!("{title}: the simulator knows no node n{node}");
            };
            let (ours, theirs) = (point.voltage[node], theirs - reference);
            let difference = (ours - theirs).abs();
            here.worst_volts = here.worst_volts.max(difference);
            here.nodes += 1;
            let end = design.end_name(prepared.node_end(NodeId(node as u32)));
            assert!(difference <= node_tolerance(ours), "{title}: n{node} ({end}): ours {ours} V, theirs {theirs} V");
        }
        // The netlist takes the states of diodes over; the simulator's own voltages must say the same.
        for ((branch, law), (id, diode)) in
            prepared.branches().iter().zip(prepared.laws(&scenario)).filter_map(|(branch, law)| match branch.element {
                ElementId::Diode(id) => Some(((branch, law), (id, &design.diodes[id]))),
                _ => None,
            })
        {
            let Law::Diode { forward, .. } = law else { continue };
            let (a, b) = (branch.from.row(), branch.to.row());
            // A node that only blocking diodes reach is not in the netlist.
            let (Some(_), Some(_), Some(va), Some(vb)) = (settled(a), settled(b), volts(a), volts(b)) else { continue };
            let excess = va - vb - forward;
            let agrees = if point.diode_on[id] { excess >= -1e-6 } else { excess <= 1e-6 };
            here.diodes += 1;
            assert!(agrees, "{title}: diode {} is {} at {excess} V over its forward voltage", diode.name, point.diode_on[id]);
        }
        for (id, receiver) in design.receivers.iter() {
            let Some(ours) = point.receiver_voltage[id] else { continue };
            let end = |end: End| prepared.node(end).and_then(|node| volts(node.row())).unwrap_or(0.0);
            let theirs = end(receiver.positive.value) - end(receiver.negative.value);
            let difference = (ours.0 - theirs).abs();
            here.worst_receiver_volts = here.worst_receiver_volts.max(difference);
            here.receivers += 1;
            let sensor = design.sensors.iter().find(|(_, s)| s.receiver.is_some_and(|r| r.value == id));
            let span = sensor.map_or(f64::INFINITY, |(_, sensor)| sensor.law.span().0.abs());
            assert!(
                difference <= RECEIVER_VOLTS && difference <= RECEIVER_SPAN * span,
                "{title}: receiver {}: ours {} V, theirs {theirs} V",
                receiver.name,
                ours.0
            );
        }
        for (id, load) in design.loads.iter() {
            match point.load_state[id] {
                LoadState::On if matches!(load.demand, Some(Demand::Power(_))) && point.load_voltage[id].is_some() => {
                    here.power_loads_on += 1
                }
                LoadState::DroppedOut { .. } => here.dropped += 1,
                _ => {}
            }
        }
        here.unsettled_islands += point.islands.iter().filter(|i| !i.outcome.is_settled()).count();
        total = total.add(here);
    }
    total
}

impl std::fmt::Display for Compared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} states, {} node voltages (worst {:.1e} V), {} receivers (worst {:.1e} V), {} constant-power loads on, {} loads dropped out, {} diodes agree, {} islands not settled",
            self.states,
            self.nodes,
            self.worst_volts,
            self.receivers,
            self.worst_receiver_volts,
            self.power_loads_on,
            self.dropped,
            self.diodes,
            self.unsettled_islands
        )
    }
}

#[test]
fn bench_rig_against_ngspice() {
    let compared = compare(&design(&read_folder(&root().join("examples/bench-rig"))), "bench-rig", 1e-12);
    println!("bench-rig: {compared}");
    assert!(compared.states >= 6 && compared.nodes >= 6 * 10 && compared.receivers >= 1);
    assert_eq!(compared.unsettled_islands, 0);
}

/// The larger examples: every phase in every corner, islands that have no operating point left out and counted.
#[test]
fn larger_examples_against_ngspice() {
    for (example, phases, unsettled) in [("gannet-mended", 10, 0), ("gannet", 10, usize::MAX), ("light-aircraft", 5, 0)] {
        let compared = compare(&design(&read_folder(&root().join("examples").join(example))), example, 1e-10);
        println!("{example}: {compared}");
        assert!(compared.states >= 3 * phases && compared.nodes > 50 * compared.states && compared.unsettled_islands <= unsettled);
    }
}

/// Every kind of sensor, with leads and a return that they share with a load.
#[test]
fn every_kind_of_sensor_against_ngspice() {
    let design = trials::design_of(
        r#"
        [ground.G]
        reference = true
        [node.P]
        [node.R]
        [battery.B]
        positive = "node:P"
        negative = "ground:G"
        emf = { low = "22 V", typical = "24 V", high = "26 V" }
        ohms = "0.1 ohm"
        [link.R]
        from = "node:R"
        to = "ground:G"
        ohms = "20 mohm"
        [load.L]
        line = "node:P"
        return = "node:R"
        power = "40 W"

        [node.RP]
        [node.RM]
        [node.RT]
        [node.RB]
        [node.RN]
        [excitation.R1]
        positive = "node:RP"
        negative = "node:R"
        current = "1 mA"
        [excitation.R2]
        positive = "node:RM"
        negative = "node:R"
        current = "1 mA"
        [link.R1]
        from = "node:RP"
        to = "node:RT"
        ohms = "2.5 ohm"
        [link.R2]
        from = "node:RM"
        to = "node:RN"
        ohms = "2.4 ohm"
        [link.R3]
        from = "node:RB"
        to = "node:R"
        ohms = "2.6 ohm"
        [receiver.R]
        positive = "node:RP"
        negative = "node:RM"
        [sensor.R]
        kind = "rtd"
        wires = 3
        receiver = "R"
        positive = "node:RT"
        negative = "node:RB"
        sense_negative = "node:RN"
        ice_point_ohms = "100 ohm"
        zero_temperature = "-50 degC"
        full_temperature = "150 degC"
        excitation = "1 mA"
        reading = "60 %"

        [node.FP]
        [node.FT]
        [node.FB]
        [node.FSP]
        [node.FSN]
        [excitation.F]
        positive = "node:FP"
        negative = "node:R"
        current = "1 mA"
        [link.F1]
        from = "node:FP"
        to = "node:FT"
        ohms = "30 ohm"
        [link.F2]
        from = "node:FB"
        to = "node:R"
        ohms = "30 ohm"
        [receiver.F]
        positive = "node:FSP"
        negative = "node:FSN"
        input_ohms = "100 kohm"
        [sensor.F]
        kind = "rtd"
        wires = 4
        receiver = "F"
        positive = "node:FT"
        negative = "node:FB"
        sense_positive = "node:FSP"
        sense_negative = "node:FSN"
        ice_point_ohms = "1000 ohm"
        zero_temperature = "0 degC"
        full_temperature = "100 degC"
        excitation = "1 mA"
        reading = "25 %"

        [node.TT]
        [node.TP]
        [link.T]
        from = "node:TT"
        to = "node:TP"
        ohms = "35 ohm"
        [receiver.T]
        positive = "node:TP"
        negative = "node:R"
        input_ohms = "1 Mohm"
        [sensor.T]
        kind = "thermocouple"
        type = "N"
        receiver = "T"
        positive = "node:TT"
        negative = "node:R"
        zero_temperature = "0 degC"
        full_temperature = "600 degC"
        cold_junction = "22 degC"
        source_ohms = "8 ohm"
        reading = "70 %"

        [node.W]
        [receiver.W]
        positive = "node:W"
        negative = "node:R"
        input_ohms = "50 kohm"
        [sensor.W]
        kind = "potentiometer"
        receiver = "W"
        positive = "node:P"
        negative = "node:R"
        wiper = "node:W"
        track_ohms = "5 kohm"
        excitation = "24 V"
        reading = "40 %"

        [node.C]
        [receiver.C]
        positive = "node:C"
        negative = "node:R"
        input_ohms = "250 ohm"
        [sensor.C]
        kind = "current-loop"
        receiver = "C"
        positive = "node:P"
        negative = "node:C"
        burden_ohms = "250 ohm"
        reading = "75 %"
        "#,
    );
    let compared = compare(&design, "kinds of sensor", 1e-12);
    println!("kinds of sensor: {compared}");
    assert_eq!((compared.states, compared.receivers, compared.unsettled_islands), (3, 15, 0));
}

#[test]
fn generated_networks_against_ngspice() {
    let networks: Vec<Compared> = (0..20)
        .into_par_iter()
        .map(|seed| {
            let made = generate(&Options { wires: 750, seed, phases: 2, strength: Strength::Weak, sources_off: true });
            assert!(made.statistics.loads_power >= 30, "network {seed} has {} constant-power loads", made.statistics.loads_power);
            compare(&design(&made.files), &format!("network {seed}"), 1e-10)
        })
        .collect();
    for (seed, compared) in networks.iter().enumerate() {
        println!("network {seed}: {compared}");
        assert!(compared.power_loads_on > 0 && compared.receivers > 0, "network {seed}: {compared}");
    }
    let with_dropped = networks.iter().filter(|n| n.dropped > 0).count();
    assert!(with_dropped >= 15, "only {with_dropped} of 20 networks have loads that dropped out");
    let total = networks.into_iter().fold(Compared::default(), Compared::add);
    println!("all: {total}");
    assert!(total.diodes > 100, "{total}");
}

/// Numbers of a text, as their leading seven significant digits.
fn numbers(text: &str) -> std::collections::BTreeSet<String> {
    let words = text.split(|c: char| !(c.is_ascii_digit() || ".eE+-".contains(c)));
    words.filter_map(|word| word.parse::<f64>().ok()).filter(|value| *value != 0.0).map(|value| format!("{:.6e}", value.abs())).collect()
}

/// No voltage or current of a settled point appears in its netlist to seven digits, unless the input itself gives that number.
#[test]
fn netlist_of_bench_rig_holds_no_solved_number() {
    let design = design(&read_folder(&root().join("examples/bench-rig")));
    let prepared = prepare(&design);
    for (phase, corner) in design.phases.ids().flat_map(|phase| Corner::ALL.map(|corner| (phase, corner))) {
        let scenario = Scenario::new(phase, corner);
        let point = prepared.point(&scenario);
        let written = numbers(&outputs::netlist(&prepared, &point));
        // A node at a converter's or source's own EMF, or a branch with the current that a load's row states, is given, not solved.
        let given = |value: f64| {
            let spread = |low: f64, typical: f64, high: f64| [low, typical, high];
            let emfs = design.batteries.iter().filter_map(|(_, s)| s.emf).map(|e| spread(e.low.value.0, e.typical.value.0, e.high.value.0));
            let converters = design.converters.iter().map(|(_, c)| spread(c.emf.low.value.0, c.emf.typical.value.0, c.emf.high.value.0));
            let loads = design.loads.iter().filter_map(|(_, load)| match load.demand {
                Some(Demand::Current(c)) => Some(spread(c.low.value.0, c.typical.value.0, c.high.value.0)),
                _ => None,
            });
            emfs.chain(converters).chain(loads).flatten().any(|other| (value - other).abs() <= 1e-6 * other.abs())
        };
        let solved: Vec<f64> = point.voltage.iter().chain(&point.current).map(|v| v.abs()).filter(|v| *v > 1e-9).collect();
        assert!(solved.len() > 20, "only {} solved values", solved.len());
        for value in solved {
            assert!(!written.contains(&format!("{value:.6e}")) || given(value), "the netlist holds the solved value {value}");
        }
    }
}

/// A source raised by a millivolt moves every voltage fed by it, and yet changes the netlist in that source's own line only: nothing else in
/// the netlist depends on what was solved.
#[test]
fn a_changed_source_changes_its_own_line_of_the_netlist_only() {
    for seed in 0..5 {
        let made = generate(&Options { wires: 300, seed, phases: 1, strength: Strength::Weak, sources_off: false });
        let network = |raise: f64| {
            let mut files = made.files.clone();
            let (_, bytes) = files.iter_mut().find(|(path, _)| path == "network.toml").expect("a network");
            let text = String::from_utf8(bytes.clone()).expect("UTF-8");
            let at = text.find("[battery.V0]").expect("a battery");
            let (head, tail) = text.split_at(at);
            let (before, rest) = tail.split_once("typical = \"").expect("its typical EMF");
            let (volts, after) = rest.split_once(" V\"").expect("in volts");
            let volts: f64 = volts.parse().expect("a number");
            *bytes = format!("{head}{before}typical = \"{:.3} V\"{after}", volts + raise).into_bytes();
            design(&files)
        };
        let designs = [network(0.0), network(0.001)];
        let scenario = Scenario::new(Id::from_row(0), Corner::Typical);
        let [(points, netlists), (raised, other)] = designs.each_ref().map(|design| {
            let prepared = prepare(design);
            let point = prepared.point(&scenario);
            let netlist = outputs::netlist(&prepared, &point);
            (point, netlist)
        });
        let let_go = |point: &Point| {
            point.load_state.iter().filter(|(_, s)| matches!(s, LoadState::DroppedOut { .. })).map(|(id, _)| id).collect::<Vec<_>>()
        };
        assert_eq!(let_go(&points), let_go(&raised), "network {seed}: a millivolt changed a load's state");
        let moved = points.voltage.iter().zip(&raised.voltage).filter(|(a, b)| (*a - *b).abs() > 1e-6).count();
        assert!(4 * moved > points.voltage.len(), "network {seed}: only {moved} of {} nodes moved", points.voltage.len());
        let (lines, others): (Vec<&str>, Vec<&str>) = (netlists.lines().collect(), other.lines().collect());
        assert_eq!(lines.len(), others.len());
        // First guesses may follow the EMFs they are made of.
        let guess = |line: &str| line.starts_with(".nodeset");
        let changed: Vec<(&&str, &&str)> = lines.iter().zip(&others).filter(|(a, b)| a != b && !(guess(a) && guess(b))).collect();
        assert!(changed.len() == 1, "network {seed}: {changed:?}");
    }
}

/// 50 random shorts of the freighter, at both ends and half-way along its fed wires, in the states that they are the largest or the smallest in: the current
/// through the fault within 0.1 %.
#[test]
fn shorts_of_gannet() {
    let design = design(&read_folder(&root().join("examples/gannet")));
    let study = analysis::run(&design, analysis::Stages::CHECK, &analysis::Silent).expect("nobody cancelled");
    let (prepared, protection) = (&study.prepared, study.protection.as_ref().expect("was asked for"));
    let mut state = 20_261_126u64;
    let mut random = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let (mut compared, mut half_way, mut alone, mut worst) = (0, 0, 0, 0.0f64);
    while compared < 50 {
        let fed = &protection.wires[random(protection.wires.len())];
        let Some(known) = [&fed.largest, &fed.smallest][random(2)] else { continue };
        let state = (known.fault.phase, known.fault.corner);
        let base = study.points.iter().find(|point| (point.scenario.phase, point.scenario.corner) == state).expect("a state of the study");
        let fault = Fault { at: [0.0, 0.5, 1.0][random(3)], ..known.fault };
        let held = prepared.with_loads_held(base);
        let faults = prepared.faults(&held);
        let Some(burning) = faults.burning(fault) else { continue };
        let scenario = faults.scenario(fault).expect("a fault that burns");
        let point = prepared.near(&held).afresh(&scenario);
        let node = |place: Place| match place {
            Place::End(end) => format!("n{}", prepared.node(end).expect("a short joins nodes").0),
            _ => "nmiddle".to_owned(),
        };
        let (place, against, _) = scenario.shorts[0];
        let mut netlist = outputs::netlist(prepared, &point);
        let mut extra = format!("rfault {} {} 1e-3\n", node(place), node(against));
        if let Place::Along(element, at) = place {
            let row = prepared.branch_of(element).expect("a wire is a branch");
            let own = netlist.lines().find(|line| line.starts_with(&format!("r{row} "))).expect("the wire has a resistor").to_owned();
            let [_, a, b, ohms] = own.split(' ').collect::<Vec<_>>()[..] else { panic!("{own}") };
            let ohms: f64 = ohms.parse().expect("a number");
            extra += &format!("rnear {a} nmiddle {:e}\nrfar nmiddle {b} {:e}\n", at * ohms, (1.0 - at) * ohms);
            netlist = netlist.replacen(&format!("{own}\n"), "", 1);
            half_way += 1;
        }
        alone += usize::from(fault.alone.is_some());
        // A node of the simulator's own, which it is asked for by the names of nodes with numbers.
        let netlist = netlist.replacen(".op\n", &format!("{extra}.op\n"), 1).replace("nmiddle", "n999999");
        let found = simulate(&netlist, 1e-9);
        let volts = |name: String| found.get(&name.replace("nmiddle", "n999999")).copied().unwrap_or(0.0);
        let theirs = ((volts(node(place)) - volts(node(against))) / 1e-3).abs();
        let difference = (burning.current.0 - theirs).abs() / theirs;
        worst = worst.max(difference);
        let words = design.wires[fault.wire].name.to_string();
        assert!(difference < 1e-3, "{words} at {} {:?}: ours {}, theirs {theirs}", fault.at, fault.against, burning.current.0);
        compared += 1;
    }
    println!("50 shorts, {half_way} half-way, {alone} with one source alone: worst {worst:e}");
    assert!(half_way > 5);
}
