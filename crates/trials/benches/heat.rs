//! Times of heat: making a section ready, settling it, and a vehicle's sections through phases and corners.

use divan::{Bencher, black_box};
use physics::gas::Gas;
use physics::packing::pack;
use physics::section_heat::{Circle, Fill, Heating, Network, Section};
use physics::section_transient::{Stretch, Temperatures, run};
use physics::surroundings::Surroundings;
use physics::*;
use rayon::prelude::*;
use xtask::random::Random;

fn main() {
    divan::main();
}

/// A packed bundle of wires of 26 to 16 AWG size, 40 % of them loaded.
fn bundle(count: usize, seed: u64) -> (Section, Vec<Heating>) {
    let mut dice = Random::new(seed);
    let radii: Vec<f64> = (0..count).map(|_| [0.40e-3, 0.48e-3, 0.55e-3, 0.64e-3, 0.79e-3, 0.90e-3][dice.below(6)]).collect();
    let packing = pack(&radii.iter().map(|r| Metre(2.0 * r)).collect::<Vec<_>>()).expect("they are circles");
    let circle = |(at, r): (&packing::Place, &f64)| Circle {
        x: at.x,
        y: at.y,
        conductor: Metre(r - 0.13e-3),
        jacket: Metre(*r),
        jacket_k: WattPerMetreKelvin(0.24),
        emittance: 0.85,
    };
    let heating = radii
        .iter()
        .map(|r| {
            let loaded = if dice.below(5) < 2 { 1.0 } else { 0.0 };
            let area = 2.4 * (r - 0.13e-3) * (r - 0.13e-3);
            Heating {
                current: Ampere(loaded * 4e3 * r),
                r20: OhmPerMetre(1.72e-8 / area),
                alpha20: PerKelvin(0.0039),
                extra: WattPerMetre(0.0),
            }
        })
        .collect();
    let circles = packing.places.iter().zip(&radii).map(circle).collect();
    (Section { circles, contact: WattPerMetreKelvin(0.05), wrap: None }, heating)
}

/// Cabin air of ten phases: three pressures, gravity or none.
fn phases() -> Vec<(Fill, Surroundings)> {
    (0..10u32)
        .map(|phase| {
            let walls = Kelvin(285.0 + 3.0 * f64::from(phase));
            let pressure = Pascal([101_325.0, 70_000.0, 0.0][phase as usize % 3]);
            let gas = Gas {
                temperature: walls,
                pressure,
                gravity: f64::from(phase % 2),
                speed: MetrePerSecond(0.0),
                wall_distance: Some(Metre(0.1)),
            };
            match pressure.0 {
                0.0 => (Fill::Vacuum, Surroundings::vacuum(walls)),
                _ => (Fill::Air(pressure), Surroundings::in_gas(gas, walls)),
            }
        })
        .collect()
}

#[divan::bench(args = [10, 50, 100, 500])]
fn make_ready(bencher: Bencher, wires: usize) {
    let (section, _) = bundle(wires, 1);
    bencher.bench(|| Network::new(black_box(&section)));
}

#[divan::bench(args = [10, 50, 100, 500])]
fn settle(bencher: Bencher, wires: usize) {
    let (section, heating) = bundle(wires, 1);
    let network = Network::new(&section);
    let (fill, around) = phases()[1];
    let filled = network.filled(fill);
    bencher.bench(|| filled.settle(black_box(&heating), &around).expect("settles"));
}

/// A fault of 10 s and its cooling.
#[divan::bench(args = [10, 50, 100])]
fn transient(bencher: Bencher, wires: usize) {
    let (section, heating) = bundle(wires, 1);
    let network = Network::new(&section);
    let (fill, around) = phases()[1];
    let filled = network.filled(fill);
    let start = Temperatures::from(&filled.settle(&heating, &around).expect("settles"));
    let mut fault = heating.clone();
    fault[0].current = Ampere(20.0);
    let stretches = [Stretch { heating: &fault, lasts: Second(10.0) }, Stretch { heating: &heating, lasts: Second(300.0) }];
    let capacity = vec![JoulePerMetreKelvin(4.0); wires];
    bencher.bench(|| run(&filled, &start, &capacity, black_box(&stretches), &around, TemperatureRise(0.2)).expect("runs"));
}

/// 10,000 wires of five segments each, in bundles of 50, through ten phases and two corners, on all cores; the sections are packed already.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn vehicle_of_10k_wires(bencher: Bencher) {
    let sections: Vec<(Section, Vec<Heating>)> = (0..100).map(|seed| bundle(50, seed)).collect();
    bencher.bench(|| {
        (0..1000usize)
            .into_par_iter()
            .map(|at| {
                let (section, heating) = &sections[at % sections.len()];
                let network = Network::new(section);
                let mut settled = 0;
                for vacuum in [false, true] {
                    for pressure in [101_325.0, 70_000.0] {
                        let fill = if vacuum { Fill::Vacuum } else { Fill::Air(Pascal(pressure)) };
                        let filled = network.filled(fill);
                        for (_, around) in phases().into_iter().filter(|(own, _)| *own == fill) {
                            for corner in [1.0, 0.9] {
                                let heating: Vec<Heating> = heating.iter().map(|h| Heating { current: h.current * corner, ..*h }).collect();
                                settled += usize::from(filled.settle(&heating, &around).is_ok());
                            }
                        }
                        if vacuum {
                            break;
                        }
                    }
                }
                settled
            })
            .sum::<usize>()
    });
}
