//! Temperatures of a section over time: load peaks and faults, by implicit steps on the network's fixed pattern.
//!
//! A step is one of backward Euler and, beside it, two of half its length: their difference is the error that the step is held to, and twice the
//! finer less the coarser is what goes on. Stable for any length of step, so that a long rest costs few of them.

use crate::section_heat::{Filled, Heating, Settled, Start, Step, Unsettled};
use crate::single_wire::CEILING;
use crate::surroundings::Surroundings;
use crate::{Ampere, JoulePerMetreKelvin, Kelvin, Second, TemperatureRise, WattPerMetre};

/// A time through which the currents stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch<'a> {
    /// Currents of all wires.
    pub heating: &'a [Heating],
    /// How long.
    pub lasts: Second,
}

/// Temperatures at one time.
#[derive(Clone, Debug, PartialEq)]
pub struct Temperatures {
    /// Of each conductor.
    pub conductor: Vec<Kelvin>,
    /// Of the wrap, where there is one.
    pub wrap: Option<Kelvin>,
}

impl From<&Settled> for Temperatures {
    fn from(settled: &Settled) -> Temperatures {
        Temperatures { conductor: settled.conductor.clone(), wrap: settled.wrap }
    }
}

/// Temperatures over a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// At its end.
    pub end: Temperatures,
    /// Highest temperature of each conductor, and when.
    pub peak: Vec<(Second, Kelvin)>,
    /// Steps taken.
    pub steps: u32,
}

/// Heat capacity of copper per volume (J/(m³ K)).
///
/// # Source  8960 kg/m³ · 385 J/(kg K) near room temperature (from memory); at 150 °C 4 % more.
pub const COPPER_CAPACITY: f64 = 8960.0 * 385.0;

/// Heat capacity of aluminium per volume (J/(m³ K)).
///
/// # Source  2700 kg/m³ · 900 J/(kg K) near room temperature (from memory).
pub const ALUMINIUM_CAPACITY: f64 = 2700.0 * 900.0;

/// Steps of one course at most.
const MOST_STEPS: u32 = 200_000;
/// Repetitions of a pattern at most.
const MOST_PERIODS: u32 = 2_000;

/// Follows stretches, one after the other.
///
/// # Units     `capacity` of each conductor with its jacket (J/(m K)); `tolerance`: error of one step (K), the whole course errs by a few of them
/// # Validity  As [`Filled::settle`]; a jacket warms with its conductor, so that what is shorter than b²/a of the jacket (some 0.1 s) is on the cool side for
/// neighbours and on the cool side by the jacket's share of the capacity for the conductor: leave the jacket out of `capacity` for short faults.
/// # Errors    [`Unsettled::Runaway`] with the wire that reaches [`CEILING`]; [`Unsettled::NotSettled`] where steps do not end.
pub fn run(
    filled: &Filled<'_>,
    start: &Temperatures,
    capacity: &[JoulePerMetreKelvin],
    stretches: &[Stretch<'_>],
    around: &Surroundings,
    tolerance: TemperatureRise,
) -> Result<Course, Unsettled> {
    let n = start.conductor.len();
    let capacity = filled.capacities(capacity);
    let mut t: Vec<f64> = start.conductor.iter().map(|t| t.0).collect();
    // The voids radiate as something between; they hold no heat, so any start will do.
    let wrap = start.wrap.unwrap_or_else(|| around.coldest()).0;
    t.resize(capacity.len(), wrap);
    let mut peak: Vec<(Second, Kelvin)> = start.conductor.iter().map(|t| (Second(0.0), *t)).collect();
    let (mut steps, mut before, mut worst) = (0, 0.0, 0);
    let mut hull = t[..n].iter().sum::<f64>() / n.max(1) as f64;
    for stretch in stretches {
        let whole = stretch.lasts.0;
        // Kelvin per second, as far as it is known.
        let mut rates = vec![0.0; t.len()];
        let (mut gone, mut next) = (0.0, whole * 1e-3);
        while gone < whole {
            let lasts = next.min(whole - gone);
            let one = |from: &[f64], lasts: f64, guess: Vec<f64>, hull: f64| {
                let step = Step { capacity: &capacity, from, lasts };
                filled.solve(&Start::with_hull(guess, hull), stretch.heating, around, None, Some(&step))
            };
            // Each begins where those before lead to.
            let tried = one(&t, lasts, along(&t, &rates, lasts), hull).and_then(|coarse| {
                let half = one(&t, 0.5 * lasts, along(&t, &between(&t, &coarse.t), 0.5), 0.5 * (hull + coarse.hull))?;
                let fine = one(&half.t, 0.5 * lasts, along(&half.t, &between(&t, &half.t), 1.0), coarse.hull)?;
                hull = fine.hull;
                Ok((coarse.t, fine.t))
            });
            steps += 1;
            match tried {
                Ok((coarse, fine)) => {
                    let (row, error) = largest(&coarse[..n], &fine);
                    worst = row;
                    let fits = error <= tolerance.0;
                    next = lasts * (0.9 * (tolerance.0 / error.max(1e-12)).sqrt()).clamp(0.2, 4.0);
                    if fits {
                        for (((t, rate), a), b) in t.iter_mut().zip(&mut rates).zip(&coarse).zip(&fine) {
                            let next = 2.0 * b - a;
                            *rate = (next - *t) / lasts;
                            *t = next;
                        }
                        // The last step ends the stretch, whatever rounding left.
                        gone = if lasts < whole - gone { gone + lasts } else { whole };
                        for (peak, t) in peak.iter_mut().zip(&t) {
                            if *t > peak.1.0 {
                                *peak = (Second(before + gone), Kelvin(*t));
                            }
                        }
                    }
                }
                // Heat that grows faster than a long step can follow: a shorter one does.
                Err(_) if lasts > 1e-9 * whole => next = 0.25 * lasts,
                Err(stuck) => return Err(Unsettled::NotSettled { row: stuck.row, imbalance: WattPerMetre(stuck.imbalance) }),
            }
            if let Some(row) = (0..n).find(|i| t[*i] >= CEILING.0) {
                return Err(Unsettled::Runaway { row, current: None });
            }
            if steps >= MOST_STEPS {
                return Err(Unsettled::NotSettled { row: worst, imbalance: WattPerMetre(0.0) });
            }
        }
        before += whole;
    }
    let end =
        Temperatures { conductor: t[..n].iter().map(|t| Kelvin(*t)).collect(), wrap: start.wrap.and(t.get(n + 1)).map(|t| Kelvin(*t)) };
    Ok(Course { end, peak, steps })
}

/// The course of a pattern that has gone on for ever: stretches that repeat, from the steady state of their mean heat until a period ends as it
/// began, and no more is to come, within `tolerance`.
///
/// # Validity  Periods from about a tenth of the time constant on; shorter ones are their root of the mean square, and take many repetitions here.
/// # Errors    As [`run`], and as [`Filled::settle`] for the mean heat.
pub fn repeated(
    filled: &Filled<'_>,
    capacity: &[JoulePerMetreKelvin],
    pattern: &[Stretch<'_>],
    around: &Surroundings,
    tolerance: TemperatureRise,
) -> Result<Course, Unsettled> {
    let period: f64 = pattern.iter().map(|stretch| stretch.lasts.0).sum();
    let mean: Vec<Heating> = (0..capacity.len())
        .map(|i| {
            let over = |value: fn(&Heating) -> f64| pattern.iter().map(|s| s.lasts.0 / period * value(&s.heating[i])).sum::<f64>();
            let square = over(|h| h.current.0 * h.current.0);
            let resistance = pattern.first().map_or(Heating::IDLE, |s| s.heating[i]);
            Heating { current: Ampere(square.sqrt()), extra: WattPerMetre(over(|h| h.extra.0)), ..resistance }
        })
        .collect();
    let mut start = Temperatures::from(&filled.settle(&mean, around)?);
    let (mut before, mut worst) = (f64::INFINITY, 0);
    for _ in 0..MOST_PERIODS {
        // Errors of steps add up over the periods that a temperature remembers.
        let course = run(filled, &start, capacity, pattern, around, 0.1 * tolerance)?;
        let bare = |of: &Temperatures| of.conductor.iter().map(|t| t.0).collect::<Vec<_>>();
        let (row, moved) = largest(&bare(&course.end), &bare(&start));
        worst = row;
        // A period that is short moves little though the end is far: what is still to come is a geometric series.
        let shrinks = moved / before;
        let to_come = if shrinks < 1.0 { moved * shrinks / (1.0 - shrinks) } else { f64::INFINITY };
        if moved <= 0.01 * tolerance.0 || (moved <= tolerance.0 && to_come <= tolerance.0) {
            return Ok(course);
        }
        (start, before) = (course.end, moved);
    }
    Err(Unsettled::NotSettled { row: worst, imbalance: WattPerMetre(0.0) })
}

/// Where temperatures come to that change so fast for so long.
fn along(from: &[f64], rates: &[f64], lasts: f64) -> Vec<f64> {
    from.iter().zip(rates).map(|(t, rate)| t + rate * lasts).collect()
}

/// By how much one column is more than another.
fn between(one: &[f64], other: &[f64]) -> Vec<f64> {
    one.iter().zip(other).map(|(a, b)| b - a).collect()
}

/// Where two columns differ most, and by how much.
fn largest(one: &[f64], other: &[f64]) -> (usize, f64) {
    let differences = one.iter().zip(other).map(|(a, b)| (a - b).abs());
    differences.enumerate().fold((0, 0.0), |most, (row, by)| if by > most.1 { (row, by) } else { most })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::Gas;
    use crate::section_heat::{Circle, Fill, Network, Section, Wrap};
    use crate::single_wire::pulse_peak;
    use crate::{Metre, MetrePerSecond, OhmPerMetre, Pascal, PerKelvin, WattPerMetreKelvin, WattPerSquareMetreKelvin};
    use core::f64::consts::PI;

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
    }

    /// A bare wire of 1.2 mm that radiates nothing.
    fn one(emittance: f64) -> Network {
        let (conductor, jacket, jacket_k) = (Metre(0.6e-3), Metre(0.6e-3), WattPerMetreKelvin(0.24));
        let circle = Circle { x: Metre(0.0), y: Metre(0.0), conductor, jacket, jacket_k, emittance };
        Network::new(&Section { circles: vec![circle], contact: WattPerMetreKelvin(0.0), wrap: None })
    }

    const HOME: Kelvin = Kelvin(293.15);

    /// A constant film of 10 W/(m² K).
    fn air() -> Surroundings {
        let gas = Gas { temperature: HOME, pressure: Pascal(101_325.0), gravity: 1.0, speed: MetrePerSecond(0.0), wall_distance: None };
        Surroundings { film: Some(WattPerSquareMetreKelvin(10.0)), ..Surroundings::in_gas(gas, HOME) }
    }

    fn heat(watts: f64) -> Heating {
        Heating { extra: WattPerMetre(watts), ..Heating::IDLE }
    }

    fn at(t: Kelvin) -> Temperatures {
        Temperatures { conductor: vec![t], wrap: None }
    }

    /// First order in closed form: 2 W/m in a film of 10 W/(m² K) and 4 J/(m K): rise 53.05 K, τ 106.1 s.
    #[test]
    fn first_order() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let film = 10.0 * 2.0 * PI * 0.6e-3;
        let (rise, tau) = (2.0 / film, 4.0 / film);
        for lasts in [1.0, 50.0, 300.0] {
            let on = [heat(2.0)];
            let stretch = [Stretch { heating: &on, lasts: Second(lasts) }];
            let course = run(&filled, &at(HOME), &[JoulePerMetreKelvin(4.0)], &stretch, &air(), TemperatureRise(0.01)).expect("runs");
            near(course.end.conductor[0].0 - HOME.0, rise * (1.0 - (-lasts / tau).exp()), 0.02);
            assert_eq!(course.peak[0].0, Second(lasts));
            assert!(course.steps < 200, "{}", course.steps);
        }
    }

    /// Two stretches, the second hotter: its end is the peak, and time runs on. No step errs by more than it is allowed to: ten times the tolerance is ten
    /// times the error, and a third of the steps.
    #[test]
    fn time_runs_on_and_steps_err_as_allowed() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let (warm, hot) = ([heat(1.0)], [heat(2.0)]);
        let stretches = [Stretch { heating: &warm, lasts: Second(100.0) }, Stretch { heating: &hot, lasts: Second(50.0) }];
        let go =
            |tolerance| run(&filled, &at(HOME), &[JoulePerMetreKelvin(4.0)], &stretches, &air(), TemperatureRise(tolerance)).expect("runs");
        let (fine, coarse) = (go(0.001), go(1.0));
        assert_eq!(fine.peak[0].0, Second(150.0));
        let film = 10.0 * 2.0 * PI * 0.6e-3;
        let (rise, tau) = (1.0 / film, 4.0 / film);
        let first = rise * (1.0 - (-100.0 / tau).exp());
        let exact = 2.0 * rise + (first - 2.0 * rise) * (-50.0 / tau).exp();
        near(fine.end.conductor[0].0 - HOME.0, exact, 0.002);
        near(coarse.end.conductor[0].0 - HOME.0, exact, 1.0);
        assert!(fine.steps > 5 * coarse.steps, "{} and {}", fine.steps, coarse.steps);
    }

    /// A wire so light that it is warm at once: the first step is far too long, is not taken, and nothing overshoots.
    #[test]
    fn a_step_too_long_is_not_taken() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let on = [heat(2.0)];
        let stretch = [Stretch { heating: &on, lasts: Second(1000.0) }];
        let course = run(&filled, &at(HOME), &[JoulePerMetreKelvin(4e-4)], &stretch, &air(), TemperatureRise(0.01)).expect("runs");
        let steady = 2.0 / (10.0 * 2.0 * PI * 0.6e-3);
        near(course.peak[0].1.0 - HOME.0, steady, 0.02);
    }

    /// Pulses of current in a wire whose resistance stays, 10 A for 2 s of 10 s: the closed form of first order for its 3 W/m.
    #[test]
    fn pulses_of_current() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let carries =
            |amperes| [Heating { current: Ampere(amperes), r20: OhmPerMetre(0.03), alpha20: PerKelvin(0.0), extra: WattPerMetre(0.0) }];
        let (on, off) = (carries(10.0), carries(0.0));
        let pattern = [Stretch { heating: &on, lasts: Second(2.0) }, Stretch { heating: &off, lasts: Second(8.0) }];
        let course = repeated(&filled, &[JoulePerMetreKelvin(4.0)], &pattern, &air(), TemperatureRise(0.05)).expect("repeats");
        let film = 10.0 * 2.0 * PI * 0.6e-3;
        let tau = Second(4.0 / film);
        near(course.peak[0].1.0 - HOME.0, 3.0 / film * pulse_peak(Second(2.0), Second(10.0), tau), 0.1);
    }

    /// Pulses of 100 s in 500 s for ever: the highest rise is what the closed form of first order says, and the peak ends the pulse.
    #[test]
    fn pulses_for_ever() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let film = 10.0 * 2.0 * PI * 0.6e-3;
        let (rise, tau) = (2.0 / film, Second(4.0 / film));
        for (pulse, period) in [(100.0, 500.0), (5.0, 25.0)] {
            let (on, off) = ([heat(2.0)], [heat(0.0)]);
            let pattern = [Stretch { heating: &on, lasts: Second(pulse) }, Stretch { heating: &off, lasts: Second(period - pulse) }];
            let course = repeated(&filled, &[JoulePerMetreKelvin(4.0)], &pattern, &air(), TemperatureRise(0.01)).expect("repeats");
            near(course.peak[0].1.0 - HOME.0, rise * pulse_peak(Second(pulse), Second(period), tau), 0.1);
        }
    }

    /// A fault that loses nothing: 1 + α (T − 20) grows by e^(I² R20 α t/C). 16 AWG solid, 1.308 mm², 5 s from 25 to 1083 °C by Onderdonk's law with its 33: 168.9 A
    /// (computed); metal of 385 J/(kg K) and 8890 kg/m³ has 33.5, so that 1 % less current melts it.
    #[test]
    fn a_fault_loses_nothing() {
        let network = one(0.0);
        let filled = network.filled(Fill::Vacuum);
        let area = 2581.0 * 5.067075e-10;
        let capacity = JoulePerMetreKelvin(8890.0 * area * 385.0);
        let fault = |current: f64, lasts: f64| {
            let heating = [Heating {
                current: Ampere(current),
                r20: OhmPerMetre(1.7241e-8 / area),
                alpha20: PerKelvin(0.00393),
                extra: WattPerMetre(0.0),
            }];
            let stretch = [Stretch { heating: &heating, lasts: Second(lasts) }];
            run(&filled, &at(Kelvin::from_celsius(25.0)), &[capacity], &stretch, &Surroundings::vacuum(HOME), TemperatureRise(0.05))
        };
        let grown = (1.0 + 0.00393 * 5.0) * (160.0f64.powi(2) * 1.7241e-8 / area * 0.00393 * 5.0 / capacity.0).exp();
        near(fault(160.0, 5.0).expect("runs").end.conductor[0].celsius(), 20.0 + (grown - 1.0) / 0.00393, 1.0);
        assert_eq!(fault(168.9, 5.0), Err(Unsettled::Runaway { row: 0, current: None }));
        assert!(fault(168.9 * 0.985, 5.0).is_ok());
    }

    /// Long enough, a wrapped pair in vacuum ends where it settles; the idle one warms later and less.
    #[test]
    fn ends_where_it_settles() {
        let circle = |x: f64| Circle {
            x: Metre(x),
            y: Metre(0.0),
            conductor: Metre(0.5e-3),
            jacket: Metre(0.6e-3),
            jacket_k: WattPerMetreKelvin(0.24),
            emittance: 0.85,
        };
        let wrap = Wrap {
            inner: Metre(1.2e-3),
            outer: Metre(1.4e-3),
            k: WattPerMetreKelvin(0.2),
            inner_emittance: 0.8,
            outer_emittance: 0.9,
            capacity: JoulePerMetreKelvin(3.0),
        };
        let section = Section { circles: vec![circle(-0.6e-3), circle(0.6e-3)], contact: WattPerMetreKelvin(0.1), wrap: Some(wrap) };
        let network = Network::new(&section);
        let filled = network.filled(Fill::Vacuum);
        let vacuum = Surroundings::vacuum(HOME);
        let heating = [heat(3.0), heat(0.0)];
        let settled = filled.settle(&heating, &vacuum).expect("settles");
        let start = Temperatures { conductor: vec![HOME; 2], wrap: Some(HOME) };
        let capacity = [JoulePerMetreKelvin(4.0); 2];
        let go = |lasts| {
            let stretch = [Stretch { heating: &heating, lasts: Second(lasts) }];
            run(&filled, &start, &capacity, &stretch, &vacuum, TemperatureRise(0.02)).expect("runs")
        };
        let long = go(5000.0);
        for (a, b) in long.end.conductor.iter().zip(&settled.conductor) {
            near(a.0, b.0, 0.1);
        }
        near(long.end.wrap.expect("a wrap").0, settled.wrap.expect("a wrap").0, 0.1);
        let short = go(20.0);
        assert!(short.end.conductor[1] < short.end.conductor[0] && short.end.wrap.expect("a wrap") < short.end.conductor[1]);
    }
}
