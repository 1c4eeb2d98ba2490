//! Times of packing a bundle's cross-section, and of routing the wires of synthetic harnesses of three sizes.

use analysis::prepare;
use analysis::routes::{Apart, Demand, Map, Via, Way, route};
use divan::{Bencher, black_box};
use physics::packing::pack;
use physics::{Metre, Ratio, bundle};
use xtask::generate::{Options, Strength, generate, generate_mapped};
use xtask::random::Random;

fn main() {
    for count in [1_000, 10_000, 100_000] {
        let (map, wires) = harness(count);
        let plan = route(&map, &wires).expect("the harness is a map and its wires end on it");
        let moved = plan.routes.iter().flatten().filter(|found| found.cost > found.alone).count();
        let without = plan.routes.iter().filter(|route| route.is_err()).count();
        let steps: usize = plan.routes.iter().flatten().map(|found| found.ways.len()).sum();
        println!("{count} wires, {} segments a wire, {moved} moved by others, {without} without a route", steps / count);
    }
    divan::main();
}

/// Branch points of a bay: a ring of 12, a stub to a unit on each.
const BAY: u32 = 24;

/// A vehicle of bays of 250 wires along two trunks with rungs: 85 % of the wires stay in their bay, 12 % go to the next, 3 % to one of
/// eight units in the first. Every third ring segment has a hole that about a third of the bay's wires fill; some pairs of circuits must not
/// meet; a wire in fifty has a via.
fn harness(count: usize) -> (Map, Vec<Demand>) {
    let bays = (count / 250) as u32;
    let mut dice = Random::new(7);
    let way = |a: u32, b: u32, length: f64, hole: Option<f64>| Way {
        ends: [a, b],
        length: Metre(length),
        weight: 1.0,
        admits: u64::MAX,
        room: hole.map(|d| bundle::room(Metre(d), Ratio(0.5))),
    };
    let mut ways = Vec::new();
    for bay in 0..bays {
        let first = bay * BAY;
        for i in 0..12 {
            let hole = if i % 3 == 0 { Some(0.018) } else { None };
            ways.push(way(first + i, first + (i + 1) % 12, 0.3 + 0.01 * f64::from(i), hole));
            ways.push(way(first + i, first + 12 + i, 0.2, None));
        }
        ways.push(way(first + 2, first + 8, 0.9, None));
        if bay > 0 {
            ways.push(way(first - BAY + 3, first, 0.5, None));
            ways.push(way(first - BAY + 9, first + 6, 0.55, None));
        }
    }
    let unit = |bay: u32, dice: &mut Random| bay * BAY + 12 + dice.below(12) as u32;
    let wires = (0..count)
        .map(|i| {
            let bay = (i / 250) as u32;
            let to_bay = match dice.below(100) {
                0..85 => bay,
                85..97 => (bay + 1) % bays,
                _ => 0,
            };
            let from = unit(bay, &mut dice);
            let to = if to_bay == 0 && bay > 1 { 12 + dice.below(8) as u32 } else { unit(to_bay, &mut dice) };
            let via = if i % 50 == 0 { vec![Via::Point(bay * BAY + dice.below(12) as u32)] } else { vec![] };
            let diameter = Metre([0.94e-3, 1.09e-3, 1.27e-3, 2.18e-3][dice.below(4)]);
            // Every tenth circuit has a partner that it must not meet.
            Demand { from, to, class: dice.below(4) as u8, group: (i % 10 == 0).then_some((i / 10) as u32), diameter, via, pinned: false }
        })
        .collect();
    let groups = (0..count as u32 / 20).map(|pair| (2 * pair, 2 * pair + 1)).collect();
    (Map::new(bays as usize * BAY as usize, ways, &Apart { classes: vec![], groups }).expect("a map"), wires)
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 5)]
fn routes(bencher: Bencher, count: usize) {
    let (map, wires) = harness(count);
    bencher.bench_local(|| route(black_box(&map), black_box(&wires)));
}

/// A synthetic vehicle in the input language, with and without a map of its harness.
fn vehicle(wires: usize, mapped: bool) -> model::Design {
    let options = Options { wires, seed: 1, phases: 1, strength: Strength::Strong, sources_off: true };
    trials::design(&if mapped { generate_mapped(&options) } else { generate(&options) }.files)
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3)]
fn prepare_with_map(bencher: Bencher, count: usize) {
    let design = vehicle(count, true);
    let prepared = prepare(&design);
    let layout = prepared.layout();
    let bundles: Vec<usize> = design.segments.ids().map(|id| layout.members(id).len()).collect();
    let runs = design.wires.ids().filter_map(|id| layout.run(id));
    let moved = runs.filter(|run| run.detour > 0.0).count();
    let (most, empty) = (bundles.iter().max().copied().unwrap_or(0), bundles.iter().filter(|count| **count == 0).count());
    println!(
        "{count} wires in {} segments of up to {most} wires, {empty} of them empty; {moved} wires off their shortest way",
        bundles.len()
    );
    bencher.bench_local(|| prepare(black_box(&design)).layout().is_proven());
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3)]
fn prepare_without_map(bencher: Bencher, count: usize) {
    let design = vehicle(count, false);
    bencher.bench_local(|| prepare(black_box(&design)).nodes());
}

/// The cross-sections of a whole vehicle, packed in parallel, segments with the same wires once; routes are there already.
#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3, sample_size = 1)]
fn bundles_of_a_vehicle(bencher: Bencher, count: usize) {
    let design = vehicle(count, true);
    let first = design.segments.ids().next().expect("a mapped vehicle has segments");
    bencher.with_inputs(|| prepare(&design)).bench_local_values(|prepared| prepared.bundle(first).packed);
}

/// Diameters of common hookup wires with some pairs, quads and coaxial cables among them (mm), in a fixed mix.
fn wires(count: usize) -> Vec<Metre> {
    const SIZES: [f64; 12] = [0.94, 1.09, 0.79, 1.09, 2.18, 1.27, 0.94, 1.73, 0.79, 4.9, 1.09, 2.9];
    (0..count).map(|i| Metre(SIZES[(i * 7 + i / 12) % 12] * 1e-3)).collect()
}

#[divan::bench(args = [2, 7, 12, 20, 50, 150, 500, 1000, 2000], sample_count = 20)]
fn unlike_wires(bencher: Bencher, count: usize) {
    let wires = wires(count);
    bencher.bench_local(|| pack(black_box(&wires)));
}

#[divan::bench(args = [7, 37, 500], sample_count = 20)]
fn equal_wires(bencher: Bencher, count: usize) {
    let wires = vec![Metre(1.09e-3); count];
    bencher.bench_local(|| pack(black_box(&wires)));
}
