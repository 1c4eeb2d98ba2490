//! Times of packing a bundle's cross-section.

use divan::{Bencher, black_box};
use physics::Metre;
use physics::packing::pack;

fn main() {
    divan::main();
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
