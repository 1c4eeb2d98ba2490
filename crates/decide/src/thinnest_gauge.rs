//! The thinnest wire that keeps a drop allotment.

use model::{Bound, WireSpec};
use physics::resistance::{copper_alpha20, resistance_at};
use physics::{Ampere, Kelvin, Metre, Volt};

/// The candidate of least cross-section whose drop over `length` at `current` keeps `allowed`, each at its greatest
/// resistance and with its conductor at `conductor`. `None` if even the thickest drops more.
///
/// A length that includes the return needs no factor of 2. Among equal cross-sections the first candidate is taken.
///
/// # Units   `current` in A, `length` in m, `allowed` in V, `conductor` in K
pub fn thinnest_gauge<'a>(
    candidates: impl IntoIterator<Item = &'a WireSpec>,
    current: Ampere,
    length: Metre,
    allowed: Volt,
    conductor: Kelvin,
) -> Option<&'a WireSpec> {
    let mut by_area: Vec<&WireSpec> = candidates.into_iter().collect();
    by_area.sort_by(|a, b| a.area.value.0.total_cmp(&b.area.value.0));
    by_area.into_iter().find(|spec| {
        let alpha = copper_alpha20(spec.conductivity.value.0);
        let drop = current.abs() * resistance_at(spec.r20_max.value * length, alpha, conductor);
        rules::passes(drop.0, allowed.0, Bound::AtMost)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{FileId, Given, Span};
    use physics::gauge::Awg;
    use physics::{OhmPerMetre, Ratio, SquareMetre};

    const KILOFOOT: f64 = 304.8;

    /// Ohms per 1000 ft of FAA AC 43.13-1B CHG 1, Table 11-9, for sizes 12, 10, 8, 6: 2.02, 1.26, 0.70, 0.44 [read].
    fn specs() -> Vec<WireSpec> {
        let at = Span { file: FileId(0), start: 0, end: 0 };
        let given = |value| Given::firm(value, at);
        let row = |(gauge, ohm_per_kft): (i8, f64)| WireSpec {
            kind: "any".into(),
            gauge: Awg(gauge),
            construction: String::new(),
            strands: None,
            family: None,
            hard: false,
            area: Given::firm(SquareMetre(Awg(gauge).solid_area().0), at),
            conductivity: Given::firm(Ratio(1.0), at),
            r20_nominal: given(OhmPerMetre(ohm_per_kft / KILOFOOT)),
            r20_max: given(OhmPerMetre(ohm_per_kft / KILOFOOT)),
            diameter: None,
            rating: None,
            volts: None,
            mass: None,
            alloy: physics::sensor_temperature::Alloy::COPPER,
            at,
        };
        [(6, 0.44), (12, 2.02), (8, 0.70), (10, 1.26)].map(row).to_vec()
    }

    fn gauge(current: f64, feet: f64, allowed: f64, celsius: f64) -> Option<i8> {
        let specs = specs();
        let length = Metre(feet * 0.3048);
        thinnest_gauge(&specs, Ampere(current), length, Volt(allowed), Kelvin::from_celsius(celsius)).map(|s| s.gauge.0)
    }

    /// FAA AC 43.13-1B CHG 1, page 11-26, Example No. 1: 50 ft including the ground wire, 20 A, 1 V, 20 °C: between No. 8 and
    /// No. 10, so No. 8 [read].
    #[test]
    fn ac_43_13_1b_p11_26_example_1() {
        assert_eq!(gauge(20.0, 50.0, 1.0, 20.0), Some(8));
    }

    /// 20 A over 100 ft of size 8 drop 20 × 0.07 = 1.4 V: allowed exactly that it passes, a hair less and size 6 must do.
    #[test]
    fn both_sides_of_the_limit_and_the_limit() {
        assert_eq!(gauge(20.0, 100.0, 1.4, 20.0), Some(8));
        assert_eq!(gauge(20.0, 100.0, 1.4 + 1e-6, 20.0), Some(8));
        assert_eq!(gauge(20.0, 100.0, 1.4 - 1e-6, 20.0), Some(6));
    }

    /// At 100 °C copper has 1 + 0.00393 × 80 = 1.3144 times its ohms: 0.924 V of size 8 become 1.21 V, and size 6 gives 0.76 V.
    #[test]
    fn heat_asks_for_a_thicker_wire() {
        assert_eq!(gauge(20.0, 66.0, 1.0, 20.0), Some(8));
        assert_eq!(gauge(20.0, 66.0, 1.0, 100.0), Some(6));
    }

    #[test]
    fn none_is_thick_enough() {
        assert_eq!(gauge(200.0, 500.0, 1.0, 20.0), None);
    }
}
