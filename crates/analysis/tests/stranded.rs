//! Loads that could only push their current backwards through diodes, on a network that can be told by eye.

use loomwright_analysis::prepare;
use model::*;

/// Feeds of 28 V and 27.9 V meet over diodes at a heater. A second load hangs on the first feed alone and shares the heater's return, the link K; a lamp of 10 Ω has its own.
const VEHICLE: &str = r#"
format = 1
name = "shared-return"
[ground.G]
reference = true
[node.A]
[node.B]
[node.C]
[node.R]
[battery.A]
positive = "node:A"
negative = "ground:G"
emf = "28 V"
ohms = "50 mohm"
[battery.B]
positive = "node:B"
negative = "ground:G"
emf = "27.9 V"
ohms = "50 mohm"
[diode.A]
anode = "node:A"
cathode = "node:C"
forward = "0.8 V"
ohms = "15 mohm"
[diode.B]
anode = "node:B"
cathode = "node:C"
forward = "0.8 V"
ohms = "15 mohm"
[link.K]
from = "node:R"
to = "ground:G"
ohms = "10 mohm"
[load.heater]
line = "node:C"
return = "node:R"
resistance = "40 ohm"
[load.lamp]
line = "node:A"
return = "ground:G"
resistance = "10 ohm"
[load.second]
line = "node:A"
return = "node:R"
"#;

/// Where K opens, nothing leads out of what it leaves but the diodes backwards: no current flows there (Kirchhoff's current law), whatever the second load would draw, so that
/// it is not fed; and the lamp has 28 × 10/10.05 V, what its feed gives alone [worked by hand].
#[test]
fn a_load_whose_current_has_no_way_back_is_not_fed() {
    for draws in
        ["current = \"1 A\"", "current = \"1 A\"\ndrop_out = \"17 V\"\nreturn_above = \"19 V\"", "power = \"30 W\"\ndrop_out = \"17 V\""]
    {
        let loaded = input::load(&[("vehicle.toml".to_owned(), format!("{VEHICLE}{draws}\n").into_bytes())]);
        let design = loaded.design.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics));
        let prepared = prepare(&design);
        let named = |name: &str| design.loads.iter().find(|(_, load)| &*load.name == name).map(|(id, _)| id).expect("there is one");
        let [heater, lamp, second] = ["heater", "lamp", "second"].map(named);
        let mut scenario = Scenario::new(Id::from_row(0), Corner::Low);
        let base = prepared.point(&scenario);
        assert!([heater, lamp, second].into_iter().all(|load| base.serves(load)), "{draws}");
        scenario.opened.push((ElementId::Link(design.links.ids().next().expect("there is one")), None));
        let near = prepared.near(&base);
        for (words, point) in
            [("from nothing", prepared.point(&scenario)), ("afresh", near.afresh(&scenario)), ("near", near.point(&scenario))]
        {
            assert!(point.islands.iter().all(|island| island.outcome.is_settled()), "{words}, {draws}: {:?}", point.islands);
            assert_eq!((point.load_state[second], point.load_fed[second]), (LoadState::On, false), "{words}, {draws}");
            for load in [heater, second] {
                let amperes = point.current[prepared.branch_of(ElementId::Load(load)).expect("it has one")];
                assert!(amperes.abs() < 1e-9, "{words}, {draws}: {amperes} A");
            }
            let volts = point.load_voltage[lamp].map_or(0.0, |v| v.0);
            assert!((volts - 280.0 / 10.05).abs() < 1e-9, "{words}, {draws}: {volts} V");
        }
    }
}

/// A diode from the shared return to structure takes over as K opens: the second load and the heater work on through it. The second draws 1 A of the first feed, the heater
/// the rest of what the diode R carries, and R stands 0.7 V and 15 mohm times that above structure [worked by hand: the laws of the diode and of Kirchhoff].
#[test]
fn a_diode_its_way_is_a_way_back() {
    let more = "current = \"1 A\"\ndrop_out = \"17 V\"\n[diode.R]\nanode = \"node:R\"\ncathode = \"ground:G\"\nforward = \"0.7 V\"\nohms = \"15 mohm\"\n";
    let loaded = input::load(&[("vehicle.toml".to_owned(), format!("{VEHICLE}{more}").into_bytes())]);
    let design = loaded.design.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics));
    let prepared = prepare(&design);
    let mut scenario = Scenario::new(Id::from_row(0), Corner::Low);
    let base = prepared.point(&scenario);
    scenario.opened.push((ElementId::Link(design.links.ids().next().expect("there is one")), None));
    let near = prepared.near(&base);
    let current = |point: &Point, element: ElementId| point.current[prepared.branch_of(element).expect("it has one")];
    for (words, point) in [("from nothing", prepared.point(&scenario)), ("afresh", near.afresh(&scenario)), ("near", near.point(&scenario))]
    {
        assert!(design.loads.ids().all(|load| point.serves(load)), "{words}");
        let diode = design.diodes.iter().find(|(_, diode)| &*diode.name == "R").map(|(id, _)| id).expect("there is one");
        let amperes = current(&point, ElementId::Diode(diode));
        let [heater, second] =
            ["heater", "second"].map(|name| design.loads.iter().find(|(_, load)| &*load.name == name).expect("there is one").0);
        assert!((current(&point, ElementId::Load(second)) - 1.0).abs() < 1e-9, "{words}");
        assert!((current(&point, ElementId::Load(heater)) + 1.0 - amperes).abs() < 1e-9, "{words}");
        let node = prepared.node(design.loads[second].line_return.value).expect("it has one");
        assert!((point.voltage[node.row()] - 0.7 - 0.015 * amperes).abs() < 1e-9, "{words}");
    }
}
