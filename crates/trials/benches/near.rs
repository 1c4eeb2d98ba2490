//! Times of states near a settled one, beside factorising each afresh: single opens of every wire, and prospective currents.

use analysis::{Change, Near, Prepared, prepare};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use model::*;
use trials::design;
use xtask::generate::{Options, Strength, generate};

/// Wires of the list; contacts, splices and elements make three branches of each.
const SIZES: [usize; 3] = [1_000, 3_300, 10_000];

fn vehicle(wires: usize) -> Design {
    design(&generate(&Options { wires, seed: 1, phases: 1, strength: Strength::Strong, sources_off: true }).files)
}

fn wires(prepared: &Prepared) -> Vec<usize> {
    (0..prepared.branches().len()).filter(|&row| matches!(prepared.branches()[row].element, ElementId::Wire(_))).collect()
}

fn base(prepared: &Prepared) -> Point {
    prepared.point(&Scenario::new(Id::from_row(0), Corner::Low))
}

fn main() {
    for size in SIZES {
        let design = vehicle(size);
        let prepared = prepare(&design);
        let point = base(&prepared);
        let near = prepared.near(&point);
        let mut room = near.room();
        let mut afresh = std::collections::BTreeMap::new();
        let wires = wires(&prepared);
        for &row in &wires {
            if let Err(why) = near.settle(&Change::open(row), &mut room) {
                *afresh.entry(why).or_insert(0) += 1;
            }
        }
        let (nodes, branches) = (prepared.nodes(), prepared.branches().len());
        println!("{size} wires: {nodes} nodes, {branches} branches; of {} opens solved afresh: {afresh:?}", wires.len());
    }
    divan::main();
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn footing(bencher: Bencher, size: usize) {
    let design = vehicle(size);
    let prepared = prepare(&design);
    let point = base(&prepared);
    // The footing is made when first asked for, here by the room for its cases.
    bencher.bench_local(|| prepared.near(black_box(&point)).room());
}

/// Every wire opened in turn, on the factor of the base state; what needs a solution of its own is left out and counted above.
#[divan::bench(args = SIZES, sample_count = 5)]
fn opens_on_the_base(bencher: Bencher, size: usize) {
    let design = vehicle(size);
    let prepared = prepare(&design);
    let point = base(&prepared);
    let near = prepared.near(&point);
    let mut room = near.room();
    let settled: Vec<usize> = wires(&prepared).into_iter().filter(|&row| near.settle(&Change::open(row), &mut room).is_ok()).collect();
    bencher.counter(ItemsCount::new(settled.len())).bench_local(|| {
        for &row in &settled {
            near.settle(&Change::open(row), &mut room).expect("settled before");
        }
    });
}

/// Every wire opened in turn, whatever that needs.
#[divan::bench(args = SIZES, sample_count = 3)]
fn opens_all(bencher: Bencher, size: usize) {
    let design = vehicle(size);
    let prepared = prepare(&design);
    let point = base(&prepared);
    let near = prepared.near(&point);
    let mut room = near.room();
    let wires = wires(&prepared);
    bencher.counter(ItemsCount::new(wires.len())).bench_local(|| {
        for &row in &wires {
            if near.settle(&Change::open(row), &mut room).is_err() {
                black_box(near.afresh(&opened(&near, &prepared, row)));
            }
        }
    });
}

/// Plain refactorisation, of a hundred wires, from the base state and from nothing.
#[divan::bench(args = SIZES, sample_count = 3)]
fn opens_refactorised_from_the_base(bencher: Bencher, size: usize) {
    refactorised(bencher, size, |near, _, scenario| near.afresh(scenario));
}

#[divan::bench(args = SIZES, sample_count = 3)]
fn opens_refactorised_from_nothing(bencher: Bencher, size: usize) {
    refactorised(bencher, size, |_, prepared, scenario| prepared.point(scenario));
}

fn refactorised(bencher: Bencher, size: usize, solve: impl Fn(&Near, &Prepared, &Scenario) -> Point) {
    let design = vehicle(size);
    let prepared = prepare(&design);
    let point = base(&prepared);
    let near = prepared.near(&point);
    let wires = wires(&prepared);
    let some: Vec<Scenario> = wires.iter().step_by(wires.len() / 100).map(|&row| opened(&near, &prepared, row)).collect();
    bencher.counter(ItemsCount::new(some.len())).bench_local(|| {
        for scenario in &some {
            black_box(solve(&near, &prepared, scenario));
        }
    });
}

fn opened(near: &Near, prepared: &Prepared, row: usize) -> Scenario {
    let mut scenario = near.base().scenario.clone();
    scenario.opened.push((prepared.branches()[row].element, None));
    scenario
}

/// The current of a short from every branch to structure.
#[divan::bench(args = SIZES, sample_count = 10)]
fn prospective_currents(bencher: Bencher, size: usize) {
    let design = vehicle(size);
    let prepared = prepare(&design);
    let point = base(&prepared);
    let near = prepared.near(&point);
    let mut room = near.room();
    let ground = point.islands.iter().find(|island| island.grounded).expect("has a ground").reference;
    bencher.counter(ItemsCount::new(prepared.branches().len())).bench_local(|| {
        for branch in prepared.branches() {
            black_box(near.prospective(&mut room, branch.to, ground));
        }
    });
}
