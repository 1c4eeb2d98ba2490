//! x
use analysis::*;
use model::*;
use std::collections::BTreeMap;
use std::time::Instant;
use trials::design;
use xtask::generate::{Options, Strength, generate};
fn main() {
    let wires: usize = std::env::args().nth(1).unwrap().parse().unwrap();
    let made = generate(&Options { wires, seed: 1, phases: 1, strength: Strength::Strong, sources_off: true });
    let design = design(&made.files);
    let prepared = prepare(&design);
    let t = Instant::now();
    let base = prepared.point(&Scenario::new(Id::from_row(0), Corner::Low));
    println!("nodes {} branches {} point {:?} factorisations {}", prepared.nodes(), prepared.branches().len(), t.elapsed(), base.factorisations);
    let t = Instant::now();
    let near = prepared.near(&base);
    println!("near {:?}", t.elapsed());
    let mut room = near.room();
    let mut fresh: BTreeMap<Fresh, usize> = BTreeMap::new();
    let t = Instant::now();
    let (mut n, mut steps) = (0, 0);
    for (row, branch) in prepared.branches().iter().enumerate() {
        if !matches!(branch.element, ElementId::Wire(_)) { continue }
        n += 1;
        match near.settle(&Change::open(row), &mut room) {
            Ok(()) => steps += 1,
            Err(why) => *fresh.entry(why).or_default() += 1,
        }
    }
    let d = t.elapsed();
    let mut hist = [0usize; 8]; for (row, branch) in prepared.branches().iter().enumerate() { if !matches!(branch.element, ElementId::Wire(_)) { continue } if near.settle(&Change::open(row), &mut room).is_ok() { hist[0] += 1; } } println!("{hist:?}");
    println!("{n} opens in {d:?}: {:.0}/s, fresh {fresh:?}", n as f64 / d.as_secs_f64());
}
