//! From measurements to the charge of a battery, by hand.

use analysis::prepare;
use loomwright_decide::measured::{BatteryMeasured, Start, batteries, not_borne_out};
use model::*;
use physics::*;

/// A battery of 100 Ah that falls straight from 30 to 24 V over its upper and lower fifth and stands at 27 V between them, behind 0.1 ohm; a load of 10 A.
const VEHICLE: &str = r#"
format = 1
name = "bench"
profile = "space-28v"
[node.R]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[bus.A]
return = "node:R"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "0.1 ohm"
type = "plateau"
charge = "100 %"
stored = "30 d"
stored_at = "20 degC"
[load.X]
line = "bus:A"
return = "node:R"
current = "10 A"
[phase.p]
duration = "5 h"
ambient = "25 degC"
"#;

fn start(row: impl Fn(Id<Source>) -> BatteryMeasured) -> Start {
    with(|prepared, point, _| batteries(prepared, point, &[row(Id::from_row(0))]))
}

fn with<T>(work: impl Fn(&analysis::Prepared, &Point, &Design) -> T) -> T {
    let files = [
        ("vehicle.toml", VEHICLE),
        ("catalog/batteries.csv", "type,kind,rated_ah,cut_off_v,greatest_a\nplateau,primary,100,20,20\n"),
        (
            "catalog/battery-curves.csv",
            "type,temperature_degc,depth_percent,emf_v,ohms_mohm\nplateau,25,0,30,100\nplateau,25,20,27,100\nplateau,25,80,27,100\nplateau,25,100,24,100\n",
        ),
        ("catalog/battery-losses.csv", "type,temperature_degc,loss_percent,over_d\nplateau,20,10,30\n"),
    ];
    let files: Vec<(String, Vec<u8>)> = files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect();
    let loaded = input::load(&files);
    let design = loaded.design.unwrap_or_else(|| panic!("{:#?}", loaded.diagnostics));
    let prepared = prepare(&design);
    let point = prepared.point(&Scenario::new(design.phases.ids().next().expect("a phase"), Corner::Low));
    work(&prepared, &point, &design)
}

fn nothing(battery: Id<Source>) -> BatteryMeasured {
    BatteryMeasured { battery, used: None, temperature: None, activated: None, volts: None, current: None }
}

fn left(start: &Start) -> [f64; 2] {
    [&start.low, &start.high].map(|rows| rows[0].left.expect("known").0)
}

/// 28.4 V at 1 A are 28.5 V without load: half-way down from 30 to 27 V, 10 % given; 0.075 V off is half a percent.
#[test]
fn a_voltage_on_a_slope_says_one_charge() {
    let found = left(&start(|b| BatteryMeasured { volts: Some((Volt(28.4), Volt(0.075))), current: Some(Ampere(1.0)), ..nothing(b) }));
    assert!((found[0] - 0.895).abs() < 0.0011 && (found[1] - 0.905).abs() < 0.0011, "{found:?}");
}

/// On the plateau 26.9 V at 1 A may be anything between 20 and 80 % left, and a little more by what it may be off.
#[test]
fn a_voltage_on_a_plateau_says_a_range() {
    let found = left(&start(|b| BatteryMeasured { volts: Some((Volt(26.9), Volt(0.03))), current: Some(Ampere(1.0)), ..nothing(b) }));
    assert!((found[0] - 0.198).abs() < 0.0011 && (found[1] - 0.802).abs() < 0.0011, "{found:?}");
}

/// Stored for 30 days it holds 90 Ah: 36 Ah given leave 60 %. Activated 60 days ago it holds 81 Ah, of which 45 are left: half of 90.
#[test]
fn charge_that_was_counted() {
    let used = Some(Coulomb(36.0 * 3600.0));
    let found = start(|b| BatteryMeasured { used, ..nothing(b) });
    assert!((left(&found)[0] - 0.6).abs() < 1e-9 && left(&found)[0] == left(&found)[1], "{found:?}");
    let old = start(|b| BatteryMeasured { used, activated: Some(Second(60.0 * 86400.0)), ..nothing(b) });
    assert!((left(&old)[0] - 0.5).abs() < 1e-9, "{old:?}");
    assert!(found.contradictions.is_empty() && old.contradictions.is_empty());
}

/// 60 % left lie on the plateau, at 26.9 V with 1 A; 28.4 V do not fit, and more was given than it holds does not either.
#[test]
fn contradictions_are_named() {
    let used = |ah: f64| Some(Coulomb(ah * 3600.0));
    let at = |volts: f64| Some((Volt(volts), Volt(0.05)));
    let fits = start(|b| BatteryMeasured { used: used(36.0), volts: at(26.9), current: Some(Ampere(1.0)), ..nothing(b) });
    assert!(fits.contradictions.is_empty(), "{fits:?}");
    let off = start(|b| BatteryMeasured { used: used(36.0), volts: at(28.4), current: Some(Ampere(1.0)), ..nothing(b) });
    assert!(off.contradictions[0].starts_with("battery:B: by the charge it has given 60 % is left, but it shows 28.40 V"), "{off:?}");
    let more = start(|b| BatteryMeasured { used: used(95.0), ..nothing(b) });
    assert!(more.contradictions[0].starts_with("battery:B has given 95 Ah, and worn cells of its type hold 90 Ah"), "{more:?}");
    assert_eq!(left(&more)[0], 0.0);
    let above = start(|b| BatteryMeasured { volts: at(33.0), current: Some(Ampere(1.0)), ..nothing(b) });
    assert!(above.contradictions[0].contains("more than full cells give"), "{above:?}");
}

/// With 60 % left the bus is at 27 - 0.1 x 10 = 26 V, and the load draws 10 A.
#[test]
fn buses_and_currents_that_do_not_fit() {
    let found = with(|prepared, point, design| {
        let start = batteries(prepared, point, &[BatteryMeasured { used: Some(Coulomb(36.0 * 3600.0)), ..nothing(Id::from_row(0)) }]);
        let bus = design.inner_nodes.iter().find(|(_, row)| row.is_bus).expect("a bus").0;
        let load = ElementId::Load(Id::from_row(0));
        let say = |volts: f64, amperes: f64| {
            not_borne_out(prepared, &[point], &start, &[(bus, Volt(volts), Volt(0.1))], &[(load, Ampere(amperes))])
        };
        [say(26.05, 10.5), say(26.2, 10.0), say(26.0, 12.0), say(25.85, 8.0)]
    });
    assert_eq!(found[0], Vec::<String>::new());
    assert_eq!(found[1], ["bus:A: 26.20 V measured, 26.00 to 26.00 V by the model"]);
    assert_eq!(found[2], ["load:X: 12.00 A measured, 10.00 to 10.00 A by the model"]);
    assert_eq!(found[3].len(), 2);
}
