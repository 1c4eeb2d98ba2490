//! Times of the faults of all fed wires: gannet, and generated vehicles of growing size in ten phases.

use analysis::protection::protection;
use analysis::{Silent, prepare};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use model::*;
use std::path::Path;
use trials::{design, read_folder};
use xtask::generate::{Options, Strength, generate};

const SIZES: [usize; 3] = [1_000, 3_300, 10_000];

fn vehicle(wires: usize) -> Design {
    design(&generate(&Options { wires, seed: 1, phases: 10, strength: Strength::Strong, sources_off: true }).files)
}

fn followed(bencher: Bencher, design: &Design) {
    let prepared = prepare(design);
    let states = design.phases.ids().flat_map(|phase| [Corner::Low, Corner::High].map(|corner| Scenario::new(phase, corner)));
    let points: Vec<Point> = states.map(|scenario| prepared.point(&scenario)).collect();
    let fed = protection(&prepared, &points, &Silent).expect("nobody cancels").wires.len();
    bencher.counter(ItemsCount::new(fed)).bench_local(|| protection(black_box(&prepared), &points, &Silent));
}

fn main() {
    divan::main();
}

#[divan::bench(args = SIZES, sample_count = 3)]
fn generated(bencher: Bencher, size: usize) {
    followed(bencher, &vehicle(size));
}

#[divan::bench(sample_count = 5)]
fn gannet(bencher: Bencher) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/gannet");
    followed(bencher, &design(&read_folder(&folder)));
}
