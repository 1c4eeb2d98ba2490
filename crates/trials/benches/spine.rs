//! Times of load, prepare, point and check on bench-rig and on synthetic vehicles of three sizes.

use analysis::{Silent, Stages, prepare, run};
use divan::{Bencher, black_box};
use model::*;
use rules::{Case, judge_study};
use trials::{design, read_folder, root};
use xtask::generate::{Options, Strength, generate};

type Files = Vec<(String, Vec<u8>)>;

const SIZES: [&str; 4] = ["bench-rig", "1000", "10000", "100000"];

/// The files of a size; synthetic ones are the same on every machine.
fn files(size: &str) -> Files {
    match size.parse() {
        Ok(wires) => generate(&Options { wires, seed: 1, phases: 10, strength: Strength::Strong, sources_off: true }).files,
        Err(_) => read_folder(&root().join("examples").join(size)),
    }
}

fn main() {
    for wires in [1_000, 10_000, 100_000] {
        let made = generate(&Options { wires, seed: 1, phases: 10, strength: Strength::Strong, sources_off: true });
        let bytes: usize = made.files.iter().map(|(_, bytes)| bytes.len()).sum();
        println!("{}\n{bytes} bytes of input\n", made.statistics);
    }
    divan::main();
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn load(bencher: Bencher, size: &str) {
    let files = files(size);
    bencher.bench_local(|| design(black_box(&files)));
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn prepare_network(bencher: Bencher, size: &str) {
    let design = design(&files(size));
    bencher.bench_local(|| prepare(black_box(&design)));
}

#[divan::bench(args = SIZES, sample_count = 10)]
fn point(bencher: Bencher, size: &str) {
    let design = design(&files(size));
    let prepared = prepare(&design);
    let scenario = Scenario::new(Id::from_row(0), Corner::Low);
    bencher.bench_local(|| prepared.point(black_box(&scenario)));
}

/// Every phase in every corner, and the verdict: what `check` does after reading.
#[divan::bench(args = SIZES, sample_count = 3)]
fn check(bencher: Bencher, size: &str) {
    let design = design(&files(size));
    bencher.bench_local(|| {
        let study = run(black_box(&design), Stages::CHECK, &Silent).expect("nobody cancelled");
        judge_study(&Case { design: &design, prepared: &study.prepared, today: None }, &study)
    });
}
