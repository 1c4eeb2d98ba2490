//! Heat of bundles against an independent solution of the whole field: `validation/heat-bundle`.

use physics::gas::Gas;
use physics::section_heat::{Circle, Fill, Heating, Network, Section, Settled};
use physics::surroundings::Surroundings;
use physics::*;
use std::collections::BTreeMap;
use trials::{read_text, root};

/// Rows of a file of the case by the names of its head.
fn rows(file: &str) -> Vec<BTreeMap<String, String>> {
    let text = read_text(&root().join("validation/heat-bundle").join(file));
    let mut lines = text.lines();
    let head: Vec<&str> = lines.next().expect("a head").split(',').collect();
    lines.map(|line| head.iter().map(|h| (*h).to_owned()).zip(line.split(',').map(str::to_owned)).collect()).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

/// One case: what is solved and what came out.
struct Solved {
    name: String,
    section: String,
    walls: Kelvin,
    network: Network,
    fill: Fill,
    around: Surroundings,
    heating: Vec<Heating>,
    settled: Settled,
}

impl Solved {
    /// Rise of each conductor.
    fn rises(&self) -> Vec<f64> {
        self.settled.conductor.iter().map(|t| (*t - self.walls).0).collect()
    }
}

fn solved() -> Vec<Solved> {
    let sections = rows("sections.csv");
    let cases = rows("cases.csv");
    cases
        .into_iter()
        .map(|case| {
            let get = |key: &str| number(&case[key]);
            let circle = |row: &BTreeMap<String, String>| Circle {
                x: Metre(number(&row["x_mm"]) * 1e-3),
                y: Metre(number(&row["y_mm"]) * 1e-3),
                conductor: Metre(number(&row["conductor_radius_mm"]) * 1e-3),
                jacket: Metre(number(&row["jacket_radius_mm"]) * 1e-3),
                jacket_k: WattPerMetreKelvin(get("jacket_w_mk")),
                emittance: get("emittance"),
            };
            let circles = sections.iter().filter(|row| row["section"] == case["section"]).map(circle).collect();
            let network = Network::new(&Section { circles, contact: WattPerMetreKelvin(get("contact_w_mk")), wrap: None });
            let walls = Kelvin::from_celsius(get("surroundings_degc"));
            let (fill, around) = match case["surroundings"].as_str() {
                "vacuum" => (Fill::Vacuum, Surroundings::vacuum(walls)),
                _ => {
                    let gas = Gas {
                        temperature: walls,
                        pressure: Pascal(101_325.0),
                        gravity: 1.0,
                        speed: MetrePerSecond(0.0),
                        wall_distance: None,
                    };
                    let film = Some(WattPerSquareMetreKelvin(get("film_w_m2k")));
                    (Fill::Fixed(WattPerMetreKelvin(get("gas_w_mk"))), Surroundings { film, ..Surroundings::in_gas(gas, walls) })
                }
            };
            let heating: Vec<Heating> =
                case["heat_w_m"].split(' ').map(|q| Heating { extra: WattPerMetre(number(q)), ..Heating::IDLE }).collect();
            let settled = network.filled(fill).settle(&heating, &around).expect("settles");
            let (name, section) = (case["case"].clone(), case["section"].clone());
            Solved { name, section, walls, network, fill, around, heating, settled }
        })
        .collect()
}

/// Hottest rise within 5 % (equal wires) and 10 % (mixed), mean skin within 3 %; the three hottest in the same order where the field solution tells them apart
/// by more than half a per cent of the hottest; heat in = heat out to 1e-6. Nothing of the network is fitted to these values.
#[test]
fn heat_bundles_as_the_field_solution() {
    let expected: BTreeMap<String, BTreeMap<String, String>> =
        rows("expected.csv").into_iter().map(|row| (row["case"].clone(), row)).collect();
    let mut field: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for row in rows("rises.csv") {
        let of = field.entry(row["case"].clone()).or_default();
        assert_eq!(of.len(), number(&row["circle"]) as usize, "circles in their order");
        of.push(number(&row["conductor_k"]));
    }
    let solved = solved();
    assert_eq!(solved.len(), expected.len(), "each case has its expected values");
    let mut wrong = Vec::new();
    let (mut worst_hot, mut worst_skin) = (0.0f64, 0.0f64);
    for case in &solved {
        let row = &expected[&case.name];
        let rises = case.rises();
        let hottest = rises.iter().copied().fold(0.0, f64::max);
        let skin = (case.settled.skin - case.walls).0;
        let off = |here: f64, key: &str| here / number(&row[key]) - 1.0;
        let (hot, skin) = (off(hottest, "hottest_k"), off(skin, "skin_k"));
        (worst_hot, worst_skin) = (worst_hot.max(hot.abs()), worst_skin.max(skin.abs()));
        println!("{:34} hottest {:+.2} %  skin {:+.2} %  steps {}", case.name, 100.0 * hot, 100.0 * skin, case.settled.iterations);
        let allowed = if case.section.starts_with("mixed") { 0.10 } else { 0.05 };
        let field = &field[&case.name];
        let mut order: Vec<usize> = (0..rises.len()).collect();
        order.sort_by(|a, b| field[*b].total_cmp(&field[*a]));
        let swapped = order.iter().take(3).zip(order.iter().skip(1)).any(|(a, b)| {
            let apart = field[*a] - field[*b] > 0.005 * field[order[0]];
            apart && rises[*a] <= rises[*b]
        });
        if hot.abs() > allowed || skin.abs() > 0.03 || swapped || case.settled.balance > 1e-6 {
            wrong.push(format!("{}: hottest {hot:+.3}, skin {skin:+.3}, order {swapped}, balance {}", case.name, case.settled.balance));
        }
    }
    println!("worst: hottest {:.2} %, skin {:.2} %", 100.0 * worst_hot, 100.0 * worst_skin);
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// In every case the hottest wire lies between all wires at one temperature and no contact at all, both by the network; the latter, where radiation alone leads
/// heat from wire to wire in vacuum, is within 10 % of the field solution.
#[test]
fn heat_bundles_between_their_bounds() {
    let expected: BTreeMap<String, BTreeMap<String, String>> =
        rows("expected.csv").into_iter().map(|row| (row["case"].clone(), row)).collect();
    for case in solved() {
        let hottest = case.rises().into_iter().fold(0.0, f64::max);
        let low = (case.network.filled(case.fill).isothermal(&case.heating, &case.around) - case.walls).0;
        let apart = case.network.with(WattPerMetreKelvin(0.0), None, |_| 0.85);
        let apart = apart.filled(case.fill).settle(&case.heating, &case.around).expect("settles");
        let high = apart.conductor.iter().map(|t| (*t - case.walls).0).fold(0.0, f64::max);
        assert!(low <= hottest + 1e-9 && hottest <= high + 1e-9, "{}: {low} {hottest} {high}", case.name);
        let row = &expected[&case.name];
        let field = number(&row["zero_contact_k"]);
        assert!((high / field - 1.0).abs() < 0.10, "{}: without contact {high} for {field}", case.name);
        // The field solution lies between bounds of its own.
        let (least, of_field) = (number(&row["isothermal_hull_k"]), number(&row["hottest_k"]));
        assert!(least <= of_field + 1e-3 && of_field <= field + 1e-3, "{}: {least} {of_field} {field}", case.name);
        println!("{:34} {low:.2} {hottest:.2} {high:.2}; field {} {field}", case.name, row["isothermal_hull_k"]);
    }
}
