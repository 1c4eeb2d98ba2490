//! Heat of one wire against general libraries and the tables of the trade: `validation/heat-wire`.

use model::{Corner, HeatedBy, Scenario, SegmentHeat};
use physics::film::{Free, churchill_bernstein, churchill_chu, morgan};
use physics::fin::{Stretch, end_length};
use physics::gas::{self, Gas};
use physics::packing::pack;
use physics::section_heat::{Circle, Fill, Heating, Network, Section};
use physics::single_wire::{Wire, allowed, lost_per_kelvin, settle};
use physics::surroundings::Surroundings;
use physics::*;
use trials::{close, read_folder, read_text, root};

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

/// Rows of a file of the case, without its head.
fn rows(file: &str) -> Vec<Vec<String>> {
    let text = read_text(&root().join("validation/heat-wire").join(file));
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// Given numbers and expected value of each row of a kind.
fn expected(kind: &str) -> Vec<(Vec<f64>, f64)> {
    let all = rows("expected.csv");
    let found: Vec<_> = all
        .iter()
        .filter(|row| row[0] == kind)
        .map(|row| (row[1..7].iter().filter(|cell| !cell.is_empty()).map(|cell| number(cell)).collect(), number(&row[7])))
        .collect();
    assert!(!found.is_empty(), "no row of {kind}");
    found
}

fn celsius(t: f64) -> Kelvin {
    Kelvin::from_celsius(t)
}

const INCH: f64 = 0.0254;

/// 20 AWG, tin-plated, dual wall, as in `reference.py`.
const DUAL_20: Wire = Wire {
    conductor: Metre(0.038 * INCH),
    outside: Metre(0.058 * INCH),
    jacket_k: WattPerMetreKelvin(0.25),
    emittance: 0.9,
    r20: OhmPerMetre(9.88 / 304.8),
    alpha20: PerKelvin(0.00393),
};

/// 20 AWG, silver-plated, thin wall, as in `reference.py`.
const THIN_20: Wire = Wire { outside: Metre(0.050 * INCH), emittance: 0.85, r20: OhmPerMetre(9.19 / 304.8), ..DUAL_20 };

fn air(temperature: Kelvin, pressure: f64) -> Gas {
    Gas { temperature, pressure: Pascal(pressure), gravity: 1.0, speed: MetrePerSecond(0.0), wall_distance: None }
}

/// Air as the library `fluids` 1.3.1 has it, and the correlations as `ht` 1.2.0.
#[test]
fn heat_air_and_films_as_libraries() {
    for (given, value) in expected("conductivity") {
        close(gas::conductivity(Kelvin(given[0])).0, value, 1e-6 * value);
    }
    for (given, value) in expected("viscosity") {
        close(gas::viscosity_pa_s(Kelvin(given[0])), value, 1e-6 * value);
    }
    for (given, value) in expected("density") {
        close(gas::density_kg_per_m3(Kelvin(given[0]), Pascal(given[1])), value, 1e-5 * value);
    }
    for (given, value) in expected("churchill_chu") {
        close(churchill_chu(given[0], given[1]), value, 1e-7 * value);
    }
    // Morgan without steps: README, "Tolerance".
    for (given, value) in expected("morgan") {
        close(morgan(given[0]), value, 0.008 * value);
    }
    for (given, value) in expected("churchill_bernstein") {
        close(churchill_bernstein(given[0], given[1]), value, 1e-7 * value);
    }
}

/// Whole balances by scipy's root finder: still and moving air, a third of gravity, none, vacuum.
#[test]
fn heat_of_a_wire_as_libraries() {
    for (given, value) in expected("conductor_c") {
        let [current, ambient, pressure, gravity, speed] = given[..] else { panic!("five numbers: {given:?}") };
        let ambient = celsius(ambient);
        let around = match pressure {
            0.0 => Surroundings::vacuum(ambient),
            _ => Surroundings::in_gas(Gas { gravity, speed: MetrePerSecond(speed), ..air(ambient, pressure) }, ambient),
        };
        let steady = settle(&DUAL_20, Ampere(current), &around).expect("settles");
        assert!(steady.balance < 1e-6);
        // The program's film is in series with the flight of molecules, which at 7 kPa takes 0.4 %.
        close(steady.conductor.celsius(), value, 0.005 * (value - ambient.celsius()) + 0.01);
    }
}

/// Ends held in vacuum, radiation and resistance in full, by scipy's boundary value solver: the fin is within 8 % of
/// the rise far from the ends, and on the hot side.
#[test]
fn heat_at_the_ends_as_libraries() {
    for (given, value) in expected("middle_c") {
        let [current, walls, end, length] = given[..] else { panic!("four numbers: {given:?}") };
        let around = Surroundings::vacuum(celsius(walls));
        let far = settle(&THIN_20, Ampere(current), &around).expect("settles").conductor;
        let reach = end_length(WattPerMetreKelvin(398.0), THIN_20.conductor, lost_per_kelvin(&THIN_20, Ampere(current), far, &around));
        let wire = Stretch { middle: far, end_length: reach, length: Metre(length) };
        let middle = wire.along([celsius(end); 2], Metre(0.5 * length)).celsius();
        println!("{length} m, end at {end}: {middle:.2} for {value:.2}");
        assert!(middle > value - 0.01 && middle - value < 0.08 * (far.celsius() - walls), "{middle} for {value}");
    }
}

/// Single-wire currents that handbooks print: FAA AC 43.13-1B, page 11-27 (14 AWG, read); 20 and 22 AWG from memory. Between the correlations.
#[test]
fn heat_free_air_currents() {
    for (conductor, outside, ohms, rise, printed) in
        [(0.067, 0.094, 3.06, 150.0, 47.0), (0.038, 0.058, 9.88, 140.0, 21.5), (0.030, 0.050, 16.2, 140.0, 16.2)]
    {
        let wire = Wire { conductor: Metre(conductor * INCH), outside: Metre(outside * INCH), r20: OhmPerMetre(ohms / 304.8), ..DUAL_20 };
        let current = |free| {
            let ambient = celsius(200.0 - rise);
            let around = Surroundings { free, ..Surroundings::in_gas(air(ambient, 101_325.0), ambient) };
            allowed(&wire, celsius(200.0), &around).expect("cooler").0
        };
        let (low, high) = (current(Free::ChurchillChu), current(Free::Morgan));
        println!("{printed} A: Churchill and Chu {low:.2}, Morgan {high:.2}");
        assert!(low < printed && printed < high, "{low} {printed} {high}");
        assert!(low > 0.94 * printed && high < 1.06 * printed, "{low} {printed} {high}");
    }
}

/// Factors for altitude: 0.91 at 20,000 ft (FAA AC 43.13-1B, page 11-27, read) and 0.79 at 60,000 ft (from memory). Physics has 0.94/0.93 and 0.84/0.80:
/// what the tables ask for is on the cautious side of Churchill and Chu by at most 8 %.
#[test]
fn heat_and_altitude() {
    let at = |pressure: f64, free| {
        let around = Surroundings { free, ..Surroundings::in_gas(air(celsius(60.0), pressure), celsius(60.0)) };
        allowed(&DUAL_20, celsius(200.0), &around).expect("cooler").0
    };
    let pressures = expected("altitude");
    for (feet, printed, chu, by_morgan) in [(20e3, 0.91, 0.94, 0.93), (60e3, 0.79, 0.845, 0.805)] {
        let pressure = pressures.iter().find(|(given, _)| given[0] == feet).expect("a row").1;
        let factor = |free| at(pressure, free) / at(101_325.0, free);
        close(factor(Free::ChurchillChu), chu, 0.01);
        close(factor(Free::Morgan), by_morgan, 0.015);
        assert!(factor(Free::ChurchillChu) - printed < 0.08);
    }
}

/// FAA AC 43.13-1B, Table 11-9, page 11-23 (read), 30 entries: single-wire physics at sea level × 0.79 for 60,000 ft × the factor of the bundle figure at 20 % load.
/// Churchill and Chu: −9 to +10 %.
#[test]
fn heat_of_faa_table_11_9() {
    let mut errors = Vec::new();
    for row in rows("faa_table_11_9.csv") {
        let cell = |i: usize| number(&row[i]);
        let wire = Wire { conductor: Metre(cell(1) * INCH), outside: Metre(cell(2) * INCH), r20: OhmPerMetre(cell(3) / 304.8), ..DUAL_20 };
        let bundle = if row[4] == "33" { 0.525 } else { 0.775 };
        for (limit, printed) in [(105.0, cell(5)), (150.0, cell(6)), (200.0, cell(7))] {
            let around = Surroundings::in_gas(air(celsius(70.0), 101_325.0), celsius(70.0));
            let current = allowed(&wire, celsius(limit), &around).expect("cooler").0 * 0.79 * bundle;
            errors.push(current / printed - 1.0);
            println!("{} AWG, {limit} °C: {current:.2} A for {printed} A, {:+.1} %", row[0], 100.0 * (current / printed - 1.0));
        }
    }
    assert_eq!(errors.len(), 30);
    errors.sort_by(f64::total_cmp);
    assert!(errors[0] >= -0.09 && errors[29] <= 0.10, "{errors:?}");
    close(0.5 * (errors[14] + errors[15]), -0.035, 0.02);
}

/// The same table by the section of the whole bundle, with the loaded wires together in the middle or far apart: reported in `bundle_33.csv`, nothing is fitted and
/// there is no pass band against the table. Held: the report is what the program computes, and together is never cooler than apart.
#[test]
fn heat_of_a_whole_faa_bundle() {
    let report = rows("bundle_33.csv");
    let mut lines = report.iter();
    for row in rows("faa_table_11_9.csv") {
        let cell = |i: usize| number(&row[i]);
        let (conductor, outside, count) = (cell(1) * INCH, cell(2) * INCH, cell(4) as usize);
        let packing = pack(&vec![Metre(outside); count]).expect("they are circles");
        let circle = |at: &physics::packing::Place| Circle {
            x: at.x,
            y: at.y,
            conductor: Metre(0.5 * conductor),
            jacket: Metre(0.5 * outside),
            jacket_k: WattPerMetreKelvin(0.25),
            emittance: 0.9,
        };
        let circles: Vec<Circle> = packing.places.iter().map(circle).collect();
        let away = |a: usize, b: usize| (circles[a].x.0 - circles[b].x.0).hypot(circles[a].y.0 - circles[b].y.0);
        let loaded = (0.2 * count as f64).round() as usize;
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by(|a, b| circles[*a].x.0.hypot(circles[*a].y.0).total_cmp(&circles[*b].x.0.hypot(circles[*b].y.0)));
        let together = order[..loaded].to_vec();
        let mut apart = vec![order[count - 1]];
        while apart.len() < loaded {
            let nearest = |a: usize| apart.iter().map(|b| away(a, *b)).fold(f64::INFINITY, f64::min);
            let next = (0..count).reduce(|best, i| if nearest(i) > nearest(best) { i } else { best }).expect("wires");
            apart.push(next);
        }
        let network = Network::new(&Section { circles: circles.clone(), contact: WattPerMetreKelvin(0.05), wrap: None });
        let gas = air(celsius(70.0), 7231.2);
        let filled = network.filled(Fill::Air(gas.pressure));
        for limit in [105.0, 150.0, 200.0] {
            let line = lines.next().expect("a line for each entry");
            assert_eq!((line[0].as_str(), number(&line[1])), (row[0].as_str(), limit));
            let mut found = Vec::new();
            for free in [Free::ChurchillChu, Free::Morgan] {
                for chosen in [&together, &apart] {
                    let around = Surroundings { free, ..Surroundings::in_gas(gas, celsius(70.0)) };
                    let hottest = |current: f64| {
                        let carries = Heating {
                            current: Ampere(current),
                            r20: OhmPerMetre(cell(3) / 304.8),
                            alpha20: PerKelvin(0.00393),
                            extra: WattPerMetre(0.0),
                        };
                        let heating: Vec<Heating> = (0..count).map(|i| if chosen.contains(&i) { carries } else { Heating::IDLE }).collect();
                        let settled = filled.settle(&heating, &around).expect("settles");
                        settled.conductor.iter().map(|t| t.celsius()).fold(0.0, f64::max)
                    };
                    let (mut low, mut high) = (0.0, 2.0 * number(&line[2]));
                    for _ in 0..30 {
                        let middle = 0.5 * (low + high);
                        if hottest(middle) < limit { low = middle } else { high = middle }
                    }
                    found.push(low);
                }
            }
            assert!(found[0] <= found[1] && found[2] <= found[3], "{} AWG: {found:?}", row[0]);
            for (found, line) in found.iter().zip(&line[3..]) {
                close(*found, number(line), 0.01 * number(line));
            }
        }
    }
    assert!(lines.next().is_none(), "a line for each entry");
}

/// In every state of the freighter, computed from corner to corner and from round to round, a wire comes to its temperature at its own current: a
/// balance from nothing with the wire held a hundredth of a kelvin below allows it no more than it carries, and one above no less.
#[test]
fn heat_of_every_state_is_that_of_its_currents() {
    let files = read_folder(&root().join("examples/gannet-mended"));
    let design = trials::design(&files);
    let study = analysis::run(&design, analysis::Stages::default(), &analysis::Silent).expect("nobody cancelled");
    let (mut held, mut most_rounds) = (0, 0);
    for (state, point) in study.points.iter().enumerate() {
        let heat = point.heat.as_ref().expect("a vehicle with zones");
        assert!(heat.unsettled.is_none(), "{state}");
        most_rounds = most_rounds.max(heat.rounds);
        for (segment, known) in heat.segments.iter() {
            let SegmentHeat::Known(section) = known else { continue };
            for row in section.wires.iter().skip(state % 5).step_by(5).filter(|row| row.current.0 > 0.5) {
                // Short pulses stand above the balance of their mean by what one of them adds.
                let above_mean = if row.by == HeatedBy::Rms { 0.02 } else { 0.0 };
                let at = |by: f64| study.prepared.heat_allowed(point, segment, row.wire, row.conductor + TemperatureRise(by));
                let (below, above) = (at(-0.01 - above_mean).map_or(0.0, |a| a.0), at(0.01).map_or(0.0, |a| a.0));
                let wire = &design.wires[row.wire].name;
                assert!(below <= row.current.0 && row.current.0 <= above, "{state} {wire}: {below} {} {above}", row.current.0);
                held += 1;
            }
        }
    }
    assert!(held > 1000 && (2..=4).contains(&most_rounds), "{held} {most_rounds}");
}

/// Corners that begin at the typical one are those that begin at nothing: temperatures within a hundredth of a kelvin, voltages within 40 µV,
/// which is that on a volt of drop.
#[test]
fn heat_of_corners_is_that_of_each_alone() {
    let files = read_folder(&root().join("examples/gannet-mended"));
    let design = trials::design(&files);
    let prepared = analysis::prepare(&design);
    for phase in design.phases.ids().step_by(4) {
        for (corner, point) in Corner::ALL.into_iter().zip(prepared.corners(phase)) {
            let alone = prepared.point(&Scenario::new(phase, corner));
            assert_eq!((point.scenario.phase, point.scenario.corner), (phase, corner));
            assert_eq!(point.load_state, alone.load_state);
            for (a, b) in point.voltage.iter().zip(&alone.voltage) {
                assert!((a - b).abs() < 4e-5, "{a} {b}");
            }
            let (one, other) = (point.heat.expect("a vehicle with zones"), alone.heat.expect("a vehicle with zones"));
            for ((segment, a), (_, b)) in one.segments.iter().zip(other.segments.iter()) {
                let (SegmentHeat::Known(a), SegmentHeat::Known(b)) = (a, b) else {
                    assert_eq!(a, b);
                    continue;
                };
                for (a, b) in a.wires.iter().zip(&b.wires) {
                    assert!((a.conductor.0 - b.conductor.0).abs() < 0.01, "{} {a:?} {b:?}", design.segments[segment].name);
                }
            }
        }
    }
}
