//! How long a wire of a section stands a current.

use crate::section_heat::{Filled, Heating, Unsettled};
use crate::section_transient::{Stretch, Temperatures, run};
use crate::surroundings::Surroundings;
use crate::{JoulePerMetreKelvin, Kelvin, Second, TemperatureRise};

/// Longest time looked at: a day. What lasts longer is for the steady state.
pub const LONGEST: Second = Second(86_400.0);

/// When a limit is passed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Passed {
    /// After this, the first of the section's wires.
    After(Second, usize),
    /// Not within [`LONGEST`].
    Never,
}

/// Time until the first wire of a section passes its limit, from temperatures it has, with currents that stay.
///
/// The metal of the conductors alone takes up heat, so that the time is on the short side.
///
/// # Units     `start`, `limits` (K; infinite where none counts), `capacity` of the strands (J/(m K)), `first`: a time within which none is passed (s)
/// # Validity  As [`run`]; the time is found within 0.2 %.
/// # Cost      some 10 courses
/// # Errors    [`Unsettled::NotSettled`] where a course does not end.
pub fn passes_after(
    filled: &Filled<'_>,
    start: &Temperatures,
    capacity: &[JoulePerMetreKelvin],
    heating: &[Heating],
    around: &Surroundings,
    limits: &[Kelvin],
    first: Second,
) -> Result<Passed, Unsettled> {
    let (row, by) = beyond(start, limits);
    if by >= 0.0 {
        return Ok(Passed::After(Second(0.0), row));
    }
    let course = |from: &Temperatures, lasts: f64| {
        let stretch = [Stretch { heating, lasts: Second(lasts) }];
        match run(filled, from, capacity, &stretch, around, TOLERANCE) {
            Ok(course) => Ok((beyond(&course.end, limits), Some(course.end))),
            // It melts: the limit was passed before, by how much nobody knows.
            Err(Unsettled::Runaway { row, .. }) => Ok(((row, f64::INFINITY), None)),
            Err(other) => Err(other),
        }
    };
    let (mut gone, mut from, mut under, mut next) = (0.0, start.clone(), by, first.0.max(1e-4));
    while gone < LONGEST.0 {
        let ((mut row, mut over), end) = course(&from, next)?;
        let Some(end) = end.filter(|_| over < 0.0) else {
            // Between two times, by false position: a little to the side that is still far, so that both close in.
            let (mut low, mut high, mut looks) = (0.0, next, 0);
            loop {
                let enough = 2e-3 * (gone + high);
                if high - low <= enough {
                    return Ok(Passed::After(Second(gone + low), row));
                }
                looks += 1;
                let crosses = low + (high - low) * under / (under - over);
                let aside = if crosses - low > high - crosses { -0.45 } else { 0.45 } * enough;
                let inside = crosses + aside;
                let at = if looks % 3 == 0 || over.is_infinite() || !(inside > low && inside < high) { 0.5 * (low + high) } else { inside };
                let ((wire, by), _) = course(&from, at)?;
                if by < 0.0 { (low, under) = (at, by) } else { (high, over, row) = (at, by, wire) }
            }
        };
        (from, under, gone) = (end, over, gone + next);
        // Ever longer looks cost a logarithm of the time.
        next = (0.5 * gone).max(first.0.max(1e-4));
    }
    Ok(Passed::Never)
}

/// Whether no wire of a section has passed its limit after so long: the same question where how long it could be is not asked.
///
/// # Units     As [`passes_after`]
/// # Cost      one course
/// # Errors    [`Unsettled::NotSettled`] where the course does not end.
pub fn stands(
    filled: &Filled<'_>,
    start: &Temperatures,
    capacity: &[JoulePerMetreKelvin],
    stretch: Stretch<'_>,
    around: &Surroundings,
    limits: &[Kelvin],
) -> Result<bool, Unsettled> {
    if beyond(start, limits).1 >= 0.0 {
        return Ok(false);
    }
    match run(filled, start, capacity, &[stretch], around, TOLERANCE) {
        Ok(course) => Ok(beyond(&course.end, limits).1 < 0.0),
        Err(Unsettled::Runaway { .. }) => Ok(false),
        Err(other) => Err(other),
    }
}

/// The wire that is furthest beyond its limit, or nearest to it, and by how many kelvin.
fn beyond(of: &Temperatures, limits: &[Kelvin]) -> (usize, f64) {
    let rows = of.conductor.iter().zip(limits).map(|(t, limit)| t.0 - limit.0).enumerate();
    rows.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, f64::NEG_INFINITY))
}

/// Error of a step of a course.
const TOLERANCE: TemperatureRise = TemperatureRise(0.2);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section_heat::{Circle, Fill, Network, Section};
    use crate::short_time::heating_integral;
    use crate::{Ampere, Metre, OhmPerMetre, PerKelvin, WattPerMetre, WattPerMetreKelvin};

    const HOME: Kelvin = Kelvin(298.15);

    fn alone() -> Network {
        let circle = Circle {
            x: Metre(0.0),
            y: Metre(0.0),
            conductor: Metre(0.405e-3),
            jacket: Metre(0.6e-3),
            jacket_k: WattPerMetreKelvin(0.24),
            emittance: 0.85,
        };
        Network::new(&Section { circles: vec![circle], contact: WattPerMetreKelvin(0.0), wrap: None })
    }

    fn carries(current: f64) -> [Heating; 1] {
        [Heating { current: Ampere(current), r20: OhmPerMetre(0.0323), alpha20: PerKelvin(0.00393), extra: WattPerMetre(0.0) }]
    }

    /// 0.5176 mm² of copper: 8890 kg/m³ and 385 J/(kg K).
    const STRANDS: JoulePerMetreKelvin = JoulePerMetreKelvin(0.5176e-6 * 8890.0 * 385.0);

    fn passes(current: f64, limit: f64) -> Passed {
        let (network, start) = (alone(), Temperatures { conductor: vec![HOME], wrap: None });
        let filled = network.filled(Fill::Vacuum);
        let adiabatic = heating_integral(STRANDS.0, OhmPerMetre(0.0323), PerKelvin(0.00393), HOME, Kelvin::from_celsius(limit));
        let limits = [Kelvin::from_celsius(limit)];
        let first = Second(0.5 * adiabatic.time_at(Ampere(current)).0);
        passes_after(&filled, &start, &[STRANDS], &carries(current), &Surroundings::vacuum(HOME), &limits, first).expect("runs")
    }

    fn after(passed: Passed) -> f64 {
        match passed {
            Passed::After(t, 0) => t.0,
            other => panic!("{other:?}"),
        }
    }

    /// A current so large that nothing leaves it: the closed form. At 100 A the integral of 20 AWG from 25 to 200 °C is 0.7 s; radiation takes a thousandth.
    #[test]
    fn short_is_adiabatic() {
        let exact = heating_integral(STRANDS.0, OhmPerMetre(0.0323), PerKelvin(0.00393), HOME, Kelvin::from_celsius(200.0))
            .time_at(Ampere(100.0))
            .0;
        let found = after(passes(100.0, 200.0));
        assert!(found >= 0.995 * exact && found <= 1.02 * exact, "{found} of {exact}");
    }

    /// The end of the curve is the current that the wire may carry for good: 0.3 % less never passes the limit, 0.3 % more does.
    #[test]
    fn the_end_of_the_curve_is_the_steady_current() {
        let network = alone();
        let filled = network.filled(Fill::Vacuum);
        let allowed =
            filled.allowed(0, Kelvin::from_celsius(200.0), &carries(0.0), &Surroundings::vacuum(HOME)).expect("settles").expect("some").0;
        assert_eq!(passes(0.997 * allowed, 200.0), Passed::Never);
        assert!(after(passes(1.003 * allowed, 200.0)) > 100.0);
    }

    /// Long times leave the adiabatic form far behind: near the steady current a wire stands it more than ten times as long.
    #[test]
    fn long_is_not_adiabatic() {
        let network = alone();
        let allowed = network
            .filled(Fill::Vacuum)
            .allowed(0, Kelvin::from_celsius(200.0), &carries(0.0), &Surroundings::vacuum(HOME))
            .expect("settles")
            .expect("some")
            .0;
        let current = 1.02 * allowed;
        let adiabatic = heating_integral(STRANDS.0, OhmPerMetre(0.0323), PerKelvin(0.00393), HOME, Kelvin::from_celsius(200.0))
            .time_at(Ampere(current))
            .0;
        assert!(after(passes(current, 200.0)) > 2.0 * adiabatic);
    }

    /// What begins beyond its limit has no time left; more current never means more time.
    #[test]
    fn more_current_less_time() {
        assert_eq!(passes(10.0, 20.0), Passed::After(Second(0.0), 0));
        let times: Vec<f64> = [20.0, 30.0, 50.0, 100.0].map(|current| after(passes(current, 200.0))).to_vec();
        assert!(times.windows(2).all(|pair| pair[0] > pair[1]), "{times:?}");
    }

    /// Followed for the time that was found, from the start and in one go, the wire of the answer is at its limit, and no other is beyond its own: 0.2 % of
    /// the time and the error of the steps are below 1.5 K. Beside one that carries the current others are harmed sooner or later than it.
    #[test]
    fn at_the_time_found_the_limit_is_reached() {
        let circle = |x: f64| Circle {
            x: Metre(x),
            y: Metre(0.0),
            conductor: Metre(0.405e-3),
            jacket: Metre(0.6e-3),
            jacket_k: WattPerMetreKelvin(0.24),
            emittance: 0.85,
        };
        let circles = [-1.2e-3, 0.0, 1.2e-3].map(circle).to_vec();
        let network = Network::new(&Section { circles, contact: WattPerMetreKelvin(0.05), wrap: None });
        let filled = network.filled(Fill::Vacuum);
        let start = Temperatures { conductor: vec![HOME; 3], wrap: None };
        let [idle] = carries(0.0);
        let mut first_to_pass = std::collections::HashSet::new();
        for current in [20.0, 25.0, 40.0, 100.0, 400.0] {
            for neighbour in [60.0, 90.0, 200.0] {
                let [burning] = carries(current);
                let heating = [idle, burning, idle];
                let limits = [neighbour, 200.0, neighbour + 5.0].map(Kelvin::from_celsius);
                let around = Surroundings::vacuum(HOME);
                let passed = passes_after(&filled, &start, &[STRANDS; 3], &heating, &around, &limits, Second(1e-3)).expect("runs");
                let Passed::After(t, row) = passed else { panic!("{current} A never harms") };
                first_to_pass.insert(row);
                let course =
                    run(&filled, &start, &[STRANDS; 3], &[Stretch { heating: &heating, lasts: t }], &around, TOLERANCE).expect("runs");
                for (wire, (end, limit)) in course.end.conductor.iter().zip(limits).enumerate() {
                    let left = limit.0 - end.0;
                    assert!(if wire == row { left.abs() < 1.5 } else { left > -1.5 }, "{current} A, wire {wire} of {row}: {left} K left");
                }
            }
        }
        assert_eq!(first_to_pass, [0, 1].into(), "both the wire and its neighbour");
    }

    /// Half a per cent before the time that is found all stand it, half a per cent after it they do not; and what is harmed already stands nothing.
    #[test]
    fn stands_until_it_passes() {
        let network = alone();
        let (filled, start) = (network.filled(Fill::Vacuum), Temperatures { conductor: vec![HOME], wrap: None });
        let holds = |current: f64, lasts: f64, limit: f64| {
            let heating = carries(current);
            let stretch = Stretch { heating: &heating, lasts: Second(lasts) };
            stands(&filled, &start, &[STRANDS], stretch, &Surroundings::vacuum(HOME), &[Kelvin::from_celsius(limit)]).expect("runs")
        };
        for current in [25.0, 40.0, 400.0] {
            let t = after(passes(current, 200.0));
            assert!(holds(current, 0.995 * t, 200.0) && !holds(current, 1.005 * t, 200.0), "{current} A: {t} s");
        }
        assert!(!holds(1.0, 1e-3, 20.0));
    }

    /// Law: at one current a thicker wire, in the same jacket wall, never passes its limit earlier.
    #[test]
    fn a_thicker_wire_never_stands_less() {
        let times: Vec<f64> = [0.2e-6f64, 0.3e-6, 0.5e-6, 0.8e-6, 1.3e-6]
            .iter()
            .map(|area| {
                let conductor = (area / core::f64::consts::PI).sqrt();
                let (inner, jacket) = (Metre(conductor), Metre(conductor + 0.2e-3));
                let circle =
                    Circle { x: Metre(0.0), y: Metre(0.0), conductor: inner, jacket, jacket_k: WattPerMetreKelvin(0.24), emittance: 0.85 };
                let network = Network::new(&Section { circles: vec![circle], contact: WattPerMetreKelvin(0.0), wrap: None });
                let heating = [Heating {
                    current: Ampere(40.0),
                    r20: OhmPerMetre(1.75e-8 / area),
                    alpha20: PerKelvin(0.00393),
                    extra: WattPerMetre(0.0),
                }];
                let start = Temperatures { conductor: vec![HOME], wrap: None };
                let (capacity, limits) = ([JoulePerMetreKelvin(area * 8890.0 * 385.0)], [Kelvin::from_celsius(200.0)]);
                let filled = network.filled(Fill::Vacuum);
                match passes_after(&filled, &start, &capacity, &heating, &Surroundings::vacuum(HOME), &limits, Second(1e-3)).expect("runs")
                {
                    Passed::After(t, _) => t.0,
                    Passed::Never => f64::INFINITY,
                }
            })
            .collect();
        assert!(times.windows(2).all(|pair| pair[1] > pair[0]), "{times:?}");
    }
}
