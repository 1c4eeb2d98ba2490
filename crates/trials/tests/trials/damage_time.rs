//! How long a wire stands a current, against an independent integration (validation/damage-time).

use model::*;
use physics::damage_time::{Passed, passes_after};
use physics::gas::Gas;
use physics::section_heat::{Circle, Fill, Heating, Network, Section};
use physics::section_transient::{COPPER_CAPACITY, Temperatures};
use physics::surroundings::Surroundings;
use physics::*;
use trials::{design, read_folder, root};

#[test]
fn as_scipy_integrates_it() {
    let text = std::fs::read_to_string(root().join("validation/damage-time/expected.csv")).expect("expected values are committed");
    let home = Kelvin(298.15);
    let circle = Circle {
        x: Metre(0.0),
        y: Metre(0.0),
        conductor: Metre(0.405e-3),
        jacket: Metre(0.6e-3),
        jacket_k: WattPerMetreKelvin(0.24),
        emittance: 0.85,
    };
    let network = Network::new(&Section { circles: vec![circle], contact: WattPerMetreKelvin(0.0), wrap: None });
    let filled = network.filled(Fill::Vacuum);
    let start = Temperatures { conductor: vec![home], wrap: None };
    let capacity = [JoulePerMetreKelvin(0.5176e-6 * COPPER_CAPACITY)];
    let mut compared = 0;
    for line in text.lines().skip(1) {
        let [name, film, current, expected] = line.split(',').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let number = |text: &str| text.parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
        let gas = Gas { temperature: home, pressure: Pascal(101_325.0), gravity: 1.0, speed: MetrePerSecond(0.0), wall_distance: None };
        let around = match name {
            "vacuum" => Surroundings::vacuum(home),
            _ => Surroundings { film: Some(WattPerSquareMetreKelvin(number(film))), ..Surroundings::in_gas(gas, home) },
        };
        let heating =
            [Heating { current: Ampere(number(current)), r20: OhmPerMetre(0.0323), alpha20: PerKelvin(0.00393), extra: WattPerMetre(0.0) }];
        let found = passes_after(&filled, &start, &capacity, &heating, &around, &[Kelvin::from_celsius(200.0)], Second(0.1)).expect("runs");
        let Passed::After(Second(found), 0) = found else { panic!("{line}: {found:?}") };
        let expected = number(expected);
        assert!((found - expected).abs() <= 0.01 * expected, "{line}: {found}");
        compared += 1;
    }
    assert_eq!(compared, 6);
}

/// Three wires of the freighter in their bundles: what they stand leaves the adiabatic form by more than a factor of two where it lasts more than ten seconds, and
/// its end is the current that they carry for good, within 1 %.
#[test]
fn curves_of_gannet() {
    let design = design(&read_folder(&root().join("examples/gannet-mended")));
    let study = analysis::run(&design, analysis::Stages::default(), &analysis::Silent).expect("nobody cancelled");
    let prepared = &study.prepared;
    let limit = Kelvin::from_celsius(200.0);
    for name in ["P013", "H011", "V001"] {
        let wire = design.wires.iter().find(|(_, wire)| &*wire.name == name).expect("a wire of the freighter").0;
        let point = study.points.iter().find(|p| p.scenario.corner == Corner::Low && &*design.phases[p.scenario.phase].name == "approach");
        let point = point.expect("a phase of the freighter");
        let segment = *prepared.segments_of(wire).last().expect("it lies in segments");
        let Some(SegmentHeat::Known(heat)) = point.heat.as_ref().map(|heat| &heat.segments[segment]) else { panic!("{name}: no heat") };
        let from = heat.of(wire).expect("it lies there").conductor;
        let allowed = prepared.heat_allowed(point, segment, wire, limit).expect("it carries something").0;
        let own = |of: Id<Wire>| (of == wire).then_some(limit);
        let stands = |current: f64| prepared.stands(point, segment, (wire, Ampere(current)), &own).expect("settles").map(|(t, _)| t.0);
        assert_eq!(stands(0.99 * allowed), None, "{name} at {allowed} A");
        assert!(stands(1.01 * allowed).is_some(), "{name} at {allowed} A");
        let current = 1.1 * allowed;
        let adiabatic = prepared.adiabatic(wire, from, limit).expect("its gauge is known").time_at(Ampere(current)).0;
        let lasts = stands(current).expect("it passes");
        assert!(lasts > 10.0 && lasts > 2.0 * adiabatic, "{name}: {lasts} s, without loss {adiabatic} s");
    }
}
