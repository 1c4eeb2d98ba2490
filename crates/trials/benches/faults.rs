//! Rate of settled single faults of a vehicle of 10,000 wires in ten phases: every wire opened, and every wire's ends shorted to structure, as the sweep settles them (opens on the
//! state of the phase, shorts on the one with loads held). Beside it a Newton solution that factorises anew for each fault, and a generic circuit simulator on its netlist.
//!
//! Times of our own solutions are processor time of one thread, so that what else runs on the machine tells little; those of the simulator are by the clock.

use analysis::{Change, Fresh, Near, Prepared, Room, prepare};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use model::*;
use rustix::time::{ClockId, clock_gettime};
use std::collections::BTreeMap;
use std::time::Instant;
use trials::design;
use xtask::generate::{Options, Strength, generate};

const WIRES: usize = 10_000;
const PHASES: usize = 10;
/// Faults of the samples that are solved the slow ways.
const REFACTORED: usize = 100;
/// Of the simulator each takes half a minute, most of it for working out the laws of the loads.
const SIMULATED: usize = 3;

fn vehicle(wires: usize, phases: usize) -> Design {
    design(&generate(&Options { wires, seed: 1, phases, strength: Strength::Strong, sources_off: false }).files)
}

fn seconds() -> f64 {
    let now = clock_gettime(ClockId::ThreadCPUTime);
    now.tv_sec as f64 + 1e-9 * now.tv_nsec as f64
}

fn wires(prepared: &Prepared) -> Vec<usize> {
    (0..prepared.branches().len()).filter(|&row| matches!(prepared.branches()[row].element, ElementId::Wire(_))).collect()
}

fn base(prepared: &Prepared, phase: usize) -> Point {
    prepared.point(&Scenario::new(Id::from_row(phase), Corner::Low))
}

/// The shorts of a wire: each of its ends to structure.
fn shorts(prepared: &Prepared, row: usize) -> impl Iterator<Item = Change> {
    let structure = prepared.structure().expect("the vehicle has a structure");
    let branch = &prepared.branches()[row];
    [branch.from, branch.to]
        .into_iter()
        .filter(move |&end| end != structure)
        .map(move |end| Change { laws: Vec::new(), joined: vec![(end, structure, 1.0 / BOLTED.0)] })
}

fn short_scenario(near: &Near, prepared: &Prepared, row: usize) -> Scenario {
    let mut scenario = near.base().scenario.clone();
    let end = prepared.node_end(prepared.branches()[row].to);
    scenario.shorts.push((Place::End(end), Place::Structure, BOLTED));
    scenario
}

fn opened(near: &Near, prepared: &Prepared, row: usize) -> Scenario {
    let mut scenario = near.base().scenario.clone();
    scenario.opened.push((prepared.branches()[row].element, None));
    scenario
}

#[derive(Default)]
struct Tally {
    cases: usize,
    seconds: f64,
    /// Of these: the same as the one before but for what is cut off.
    repeated: usize,
    afresh: BTreeMap<Fresh, usize>,
}

impl Tally {
    fn say(&self, what: &str) {
        let fallbacks: usize = self.afresh.values().sum();
        println!(
            "{what}: {} cases in {:.2} s of one core, {:.0} a second; {} as the one before (another branch of the same feed), {fallbacks} factorised anew {:?}",
            self.cases,
            self.seconds,
            self.cases as f64 / self.seconds,
            self.repeated,
            self.afresh
        );
    }
}

fn main() {
    let design = vehicle(WIRES, PHASES);
    let prepared = prepare(&design);
    println!("{WIRES} wires, {PHASES} phases: {} nodes, {} branches", prepared.nodes(), prepared.branches().len());
    let wires = wires(&prepared);
    let (mut opens, mut joins) = (Tally::default(), Tally::default());
    let whole = Instant::now();
    for phase in 0..PHASES {
        let point = base(&prepared, phase);
        let near = prepared.near(&point);
        let mut room = near.room();
        let from = seconds();
        for &row in &wires {
            opens.cases += 1;
            if let Err(why) = near.settle(&Change::open(row), &mut room) {
                black_box(near.afresh(&opened(&near, &prepared, row)));
                *opens.afresh.entry(why).or_default() += 1;
            }
        }
        opens.seconds += seconds() - from;
        opens.repeated += room.repeated();
        let held = decide::held(&prepared, &point);
        let near = prepared.near(&held);
        let mut room = near.room();
        let from = seconds();
        for &row in &wires {
            for change in shorts(&prepared, row) {
                joins.cases += 1;
                if let Err(why) = near.settle(&change, &mut room) {
                    black_box(near.afresh(&short_scenario(&near, &prepared, row)));
                    *joins.afresh.entry(why).or_default() += 1;
                }
            }
        }
        joins.seconds += seconds() - from;
        opens.say(&format!("opens, {} phases", phase + 1));
        joins.say(&format!("shorts, {} phases", phase + 1));
    }
    let both = (opens.cases + joins.cases) as f64 / (opens.seconds + joins.seconds);
    println!("together {both:.0} a second and core; {:.1} s by the clock, bases and all", whole.elapsed().as_secs_f64());

    let point = base(&prepared, 0);
    let near = prepared.near(&point);
    let some: Vec<usize> = wires.iter().copied().step_by(wires.len() / REFACTORED).take(REFACTORED).collect();
    for (what, solve) in [
        ("Newton from the phase, factorising anew", &(|scenario: &Scenario| near.afresh(scenario)) as &dyn Fn(&Scenario) -> Point),
        ("Newton from nothing", &|scenario: &Scenario| prepared.point(scenario)),
    ] {
        let from = seconds();
        some.iter().for_each(|&row| drop(black_box(solve(&opened(&near, &prepared, row)))));
        let took = seconds() - from;
        println!("{what}: {} opens in {took:.2} s of one core, {:.0} a second", some.len(), some.len() as f64 / took);
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut took = 0.0;
    for &row in some.iter().step_by(REFACTORED.div_ceil(SIMULATED)) {
        let solved = near.afresh(&opened(&near, &prepared, row));
        let netlist = outputs::netlist(&prepared, &solved);
        let body = netlist.trim_end();
        let deck = format!(
            "{}\n.control\nop\nprint all > out.txt\nrusage totiter\nquit\n.endc\n.end\n",
            body.strip_suffix(".end").unwrap_or(body)
        );
        std::fs::write(folder.path().join("deck.cir"), deck).expect("the deck can be written");
        let from = Instant::now();
        let run = std::process::Command::new("ngspice").args(["-b", "deck.cir"]).current_dir(folder.path()).output();
        let run = run.unwrap_or_else(|why| panic!("ngspice cannot be started ({why}): install the Debian package ngspice"));
        let own = from.elapsed().as_secs_f64();
        took += own;
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
        let said = String::from_utf8_lossy(&run.stdout);
        let iterations = said.lines().find(|line| line.contains("iterations")).unwrap_or("no word of iterations");
        let values = std::fs::read_to_string(folder.path().join("out.txt")).expect("the simulator's voltages can be read");
        let farthest = farthest(&values, &solved);
        println!(
            "ngspice, a process of its own: {own:.1} s by the clock, {}, farthest voltage from ours {farthest:.1e} V",
            iterations.trim()
        );
    }
    println!("ngspice, a process for each: {SIMULATED} opens in {took:.2} s by the clock, {:.3} a second", SIMULATED as f64 / took);
    divan::main();
}

/// Greatest difference of a voltage that the simulator printed from ours.
fn farthest(printed: &str, solved: &Point) -> f64 {
    let values = printed.lines().filter_map(|line| {
        let (name, value) = line.split_once('=')?;
        let node: usize = name.trim().strip_prefix('n')?.parse().ok()?;
        Some((node, value.trim().parse::<f64>().ok()?))
    });
    let differ: Vec<f64> =
        values.filter(|&(node, _)| solved.island_of[node].is_some()).map(|(node, v)| (v - solved.voltage[node]).abs()).collect();
    assert!(!differ.is_empty(), "the simulator printed no voltages");
    differ.into_iter().fold(0.0, f64::max)
}

fn rate(bencher: Bencher, size: usize, of: impl Fn(&Prepared, &Point) -> Point, cases: impl Fn(&Prepared, usize) -> Vec<Change>) {
    let design = vehicle(size, 1);
    let prepared = prepare(&design);
    let point = base(&prepared, 0);
    let point = of(&prepared, &point);
    let near = prepared.near(&point);
    let mut room: Room = near.room();
    let all: Vec<Change> = wires(&prepared).into_iter().flat_map(|row| cases(&prepared, row)).collect();
    let settled: Vec<Change> = all.into_iter().filter(|change| near.settle(change, &mut room).is_ok()).collect();
    bencher.counter(ItemsCount::new(settled.len())).bench_local(|| {
        for change in &settled {
            near.settle(change, &mut room).expect("settled before");
        }
    });
}

#[divan::bench(args = [1_000, 10_000], sample_count = 3)]
fn opens(bencher: Bencher, size: usize) {
    rate(bencher, size, |_, point| point.clone(), |_, row| vec![Change::open(row)]);
}

#[divan::bench(args = [1_000, 10_000], sample_count = 3)]
fn shorts_with_loads_held(bencher: Bencher, size: usize) {
    rate(bencher, size, decide::held, |prepared, row| shorts(prepared, row).collect());
}
