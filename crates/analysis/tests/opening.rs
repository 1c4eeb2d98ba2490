//! What stands behind a device that opens, on a small network that can be told by eye.

use loomwright_analysis::prepare;
use model::*;

/// B1 feeds bus A by W1 and W2. From A: breaker CB to X, a load that is on and one that is off, a diode to bus B; towards A: a diode from bus C, which B2 feeds; a switch that is
/// open to bus D, which B3 feeds.
const VEHICLE: &str = r#"
format = 1
[splice.SA]
[splice.SB]
[splice.SC]
[node.P]
[node.R]
[node.X]
[bus.A]
[bus.B]
[bus.C]
[bus.D]
[link.K1]
from = "node:P"
to = "splice:SA"
[link.K2]
from = "splice:SC"
to = "bus:A"
[battery.B1]
positive = "node:P"
negative = "node:R"
emf = "28 V"
ohms = "50 mohm"
[battery.B2]
positive = "bus:C"
negative = "node:R"
emf = "27 V"
ohms = "50 mohm"
[battery.B3]
positive = "bus:D"
negative = "node:R"
emf = "28 V"
ohms = "50 mohm"
[breaker.CB]
line = "bus:A"
load = "node:X"
rating = "5 A"
[diode.D1]
anode = "bus:A"
cathode = "bus:B"
[diode.D2]
anode = "bus:C"
cathode = "bus:A"
[switch.S]
from = "bus:A"
to = "bus:D"
state = "open"
[load.X]
line = "node:X"
return = "node:R"
current = "1 A"
[load.A-ON]
line = "bus:A"
return = "node:R"
current = "1 A"
[load.A-OFF]
line = "bus:A"
return = "node:R"
current = "1 A"
state = "off"
[load.B-ON]
line = "bus:B"
return = "node:R"
current = "1 A"
[load.C-ON]
line = "bus:C"
return = "node:R"
current = "1 A"
[load.D-ON]
line = "bus:D"
return = "node:R"
current = "1 A"
"#;

const WIRES: &str = "wire,from,to,gauge_awg,length_m\nW1,splice:SA,splice:SB,16,3.0\nW2,splice:SB,splice:SC,16,2.0\n";

#[test]
fn the_feed_and_the_loads_on_its_bus() {
    let files = [("vehicle.toml", VEHICLE), ("wires.csv", WIRES)];
    let loaded = input::load(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())));
    let Some(design) = loaded.design else { panic!("the design of a test does not load: {:#?}", loaded.diagnostics) };
    let prepared = prepare(&design);
    let device = design.protectors.ids().next().expect("CB");
    let mut scenario = Scenario::new(design.phases.ids().next().expect("a phase"), Corner::Typical);
    let burning = prepared.point(&scenario);
    scenario.opened.push((ElementId::Protector(device), None));
    let opening = prepared.opening(&burning, &prepared.point(&scenario), device).expect("CB is a branch");
    let wires: Vec<&str> = opening.feed.iter().map(|wire| &*design.wires[*wire].name).collect();
    // From the device back to the source.
    assert_eq!(wires, ["W2", "W1"]);
    let loads: Vec<&str> = opening.on_bus.iter().map(|load| &*design.loads[*load].name).collect();
    assert_eq!(loads, ["A-ON", "B-ON"]);
}
