//! Batteries: published discharge points.

use physics::battery::{Bank, Curve, Field, Form, Generic, Pair, State, ThreePoints};
use physics::*;
use std::collections::BTreeMap;
use trials::{close, read_text, root};

const ROOM: Kelvin = Kelvin(298.15);
const ONE: Bank = Bank { series: 1.0, parallel: 1.0, capacity: Ratio(1.0), resistance: 1.0 };

/// Rows of a file of the case by their heads.
fn rows(file: &str) -> Vec<BTreeMap<String, String>> {
    let text = read_text(&root().join("validation/battery_curves").join(file));
    let mut lines = text.lines().map(cells);
    let heads = lines.next().expect("a list has heads");
    lines.map(|line| heads.iter().cloned().zip(line).collect()).collect()
}

/// Cells of a line, some of them in quotes.
fn cells(line: &str) -> Vec<String> {
    let (mut all, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(std::mem::take(&mut cell)),
            c => cell.push(c),
        }
    }
    all.push(cell);
    all
}

fn number(row: &BTreeMap<String, String>, head: &str) -> f64 {
    row[head].parse().unwrap_or_else(|_| panic!("{head} of {row:?}"))
}

fn generic(row: &BTreeMap<String, String>) -> ThreePoints {
    let of = |head| number(row, head);
    ThreePoints {
        full: Volt(of("V_full")),
        exponential: (Volt(of("V_exp")), of("Q_exp_Ah")),
        nominal: (Volt(of("V_nom")), of("Q_nom_Ah")),
        most_ah: of("Q_max_Ah"),
        typical: Ampere(of("I_typ_A")),
        ohms: Ohm(of("R_ohm")),
    }
}

/// Terminal voltage after a steady current has given a charge, in steps that no time constant minds.
fn given(curve: &Curve, current: f64, ah: f64) -> f64 {
    const STEPS: usize = 200;
    let mut state = State { temperature: ROOM, ..State::default() };
    let step = Second(ah / current * 3600.0 / STEPS as f64);
    for _ in 0..STEPS {
        state = ONE.after(curve, &state, Ampere(current), step);
    }
    let circuit = ONE.circuit(curve, &state, Second(0.0));
    circuit.emf.0 - circuit.ohms.0 * current
}

/// Twenty points of two cells, computed from published parameters with the lag settled; 0.1 mV is the rounding of the print.
#[test]
fn generic_form_at_published_points() {
    let sets = rows("sets.csv");
    let points: Vec<_> = rows("points.csv").into_iter().filter(|row| row["model"] == "generic discharge").collect();
    assert_eq!(points.len(), 20);
    for point in &points {
        let set = sets.iter().find(|set| set["set"] == point["cell"] && set["form"] == "generic").expect("the set of the point");
        let form = Generic::from_three_points(&generic(set)).expect("a curve");
        let curve = Curve { rated: Coulomb(form.most_ah * 3600.0), form: Form::Generic(form), capacity: None, recharges: true };
        let (current, ah) = (number(point, "current_A"), number(point, "Ah_out"));
        let state = State { depth: ah / form.most_ah, temperature: ROOM, late: vec![Ampere(current)], current: Ampere(current) };
        let circuit = ONE.circuit(&curve, &state, Second(0.0));
        close(circuit.emf.0 - circuit.ohms.0 * current, number(point, "V"), 1e-4);
    }
}

/// By construction every published set meets its own nominal point.
#[test]
fn every_set_meets_its_nominal_point() {
    let sets: Vec<_> = rows("sets.csv").into_iter().filter(|set| set["form"] == "generic").collect();
    assert_eq!(sets.len(), 7);
    for set in &sets {
        let form = Generic::from_three_points(&generic(set)).expect("a curve");
        let curve = Curve { rated: Coulomb(form.most_ah * 3600.0), form: Form::Generic(form), capacity: None, recharges: true };
        let current = Ampere(number(set, "I_typ_A"));
        let state = State { depth: number(set, "Q_nom_Ah") / form.most_ah, temperature: ROOM, late: vec![current], current };
        let circuit = ONE.circuit(&curve, &state, Second(0.0));
        close(circuit.emf.0 - (circuit.ohms * current).0, number(set, "V_nom"), 1e-9);
    }
}

fn open_circuit(cell: &str) -> Field {
    let mut points: Vec<(f64, f64)> = rows("open_circuit.csv")
        .iter()
        .filter(|row| row["cell"] == cell)
        .map(|row| (1.0 - number(row, "soc"), number(row, "ocv_V")))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    Field { rows: vec![(ROOM, points)] }
}

/// The demonstration set of an open library: 50 A out of 100 Ah, with the temperature that its cell came to.
#[test]
fn circuit_with_one_pair_at_published_points() {
    let points: Vec<_> = rows("points.csv").into_iter().filter(|row| row["model"] == "OCV+R0+RC").collect();
    assert_eq!(points.len(), 6);
    for point in &points {
        let warm: f64 = point["note"].split(' ').nth(2).and_then(|word| word.parse().ok()).expect("the note has the temperature");
        let ends = |depth: f64| 1.0 + 0.3 * (2.0 * depth - 1.0).powi(2);
        let at = |depth: f64| Curve::arrhenius(Ohm(0.396e-3), ROOM, 20_000.0, Kelvin::from_celsius(warm)).0 * ends(depth) + 0.5 * 0.01e-3;
        let ohms = Field { rows: vec![(ROOM, (0..=100).map(|n| f64::from(n) / 100.0).map(|depth| (depth, at(depth))).collect())] };
        let pairs = vec![Pair { share: 1.5, tau: Second(30.0) }];
        let form = Form::Tables { emf: open_circuit("generic Li-ion (example set)"), ohms, pairs };
        let curve = Curve { rated: Coulomb(360_000.0), form, capacity: None, recharges: true };
        let between = [0.75, 0.25].contains(&number(point, "soc"));
        close(given(&curve, 50.0, number(point, "Ah_out")), number(point, "V"), if between { 5e-3 } else { 2e-3 });
    }
}

/// An electrochemical model of a published cell: what `fit.py` fitted to 5 A, and what follows for 1 A.
#[test]
fn electrochemical_cell_at_published_points() {
    const CELL: &str = "lithium-ion 21700, 5 Ah";
    let points: Vec<_> = rows("points.csv").into_iter().filter(|row| row["cell"] == CELL).collect();
    assert_eq!(points.len(), 20);
    let (most_ah, r0, r1, tau) = (5.1480, 0.03429, 0.01380, 285.1);
    let pairs = vec![Pair { share: r1 / r0, tau: Second(tau) }];
    let form = Form::Tables { emf: open_circuit(CELL), ohms: Field::constant(r0), pairs };
    let curve = Curve { rated: Coulomb(most_ah * 3600.0), form, capacity: None, recharges: true };
    for point in &points {
        let current = number(point, "current_A");
        let tolerance = if current == 5.0 { 17e-3 } else { 30e-3 };
        close(given(&curve, current, number(point, "Ah_out")), number(point, "V"), tolerance);
    }
}
