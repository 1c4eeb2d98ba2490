//! Averages of what loads draw, over windows of time: what a source has to give for a moment, for some seconds, for minutes, for good.

use crate::{Ampere, Second};

/// A stretch of time with a steady current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// When it begins.
    pub from: Second,
    /// How long it lasts.
    pub lasts: Second,
    /// What is drawn.
    pub current: Ampere,
}

/// The windows of a load analysis: 5 s, 5 min, and 15 min for what goes on.
///
/// # Source  MIL-E-7016F and ASTM F2490 [from memory].
pub const WINDOWS: [Second; 3] = [Second(5.0), Second(300.0), Second(900.0)];

/// Greatest average over windows of one length, each beginning where a stretch begins or ending where one ends.
///
/// # Units       (s) → (A)
/// # Complexity  The square of the number of stretches.
/// # Source      An average of steps is greatest for a window with an edge on an edge of a step (worked by hand).
pub fn greatest_average(stretches: &[Stretch], window: Second) -> Ampere {
    let starts = stretches.iter().map(|of| of.from.0);
    let ends = stretches.iter().map(|of| of.from.0 + of.lasts.0 - window.0);
    let average = |from: f64| {
        let within = |of: &Stretch| {
            let overlap = (of.from.0 + of.lasts.0).min(from + window.0) - of.from.0.max(from);
            overlap.max(0.0) * of.current.0
        };
        stretches.iter().map(within).sum::<f64>() / window.0
    };
    Ampere(starts.chain(ends).map(average).fold(0.0, f64::max))
}

/// Greatest average of a load that draws for `on` out of every `period` for as long as a window may be.
///
/// # Units   (A), (s), (s), (s) → (A)
/// # Source  Whole periods, and of the rest as much as is on (worked by hand).
pub fn pulsed_average(current: Ampere, on: Second, period: Second, window: Second) -> Ampere {
    let whole = (window.0 / period.0).floor();
    let rest = window.0 - whole * period.0;
    current * ((whole * on.0 + rest.min(on.0)) / window.0).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(from: f64, lasts: f64, current: f64) -> Stretch {
        Stretch { from: Second(from), lasts: Second(lasts), current: Ampere(current) }
    }

    /// 6 A always; 12 A for 3 s, then 4 A for 60 s; 30 A for half a second at 0 and at 600 s; 8 A for 240 s. Over 5 s: (30 + 36 + 8 + 15 + 40)/5 = 25.8 A; over 5 min: (1800
    /// + 36 + 240 + 15 + 1920)/300 = 13.37 A; over 15 min: (5400 + 36 + 240 + 30 + 1920)/900 = 8.473 A (worked by hand).
    #[test]
    fn loads_that_start_together() {
        let loads = [
            stretch(0.0, 900.0, 6.0),
            stretch(0.0, 3.0, 12.0),
            stretch(3.0, 60.0, 4.0),
            stretch(0.0, 0.5, 30.0),
            stretch(600.0, 0.5, 30.0),
            stretch(0.0, 240.0, 8.0),
        ];
        for (window, expected) in WINDOWS.into_iter().zip([25.80, 13.37, 8.473]) {
            let found = greatest_average(&loads, window).0;
            assert!((found - expected).abs() < 5e-4 * expected, "{window:?}: {found}");
        }
    }

    /// 1 A for 100 s, then 10 A for 2 s: the worst 5 s end with it, (3 × 1 + 2 × 10)/5 = 4.6 A.
    #[test]
    fn the_worst_window_may_end_with_a_stretch() {
        let found = greatest_average(&[stretch(0.0, 100.0, 1.0), stretch(100.0, 2.0, 10.0)], Second(5.0)).0;
        assert!((found - 4.6).abs() < 1e-12, "{found}");
    }

    /// 2 A for 3 s of every 10 s: 1.2 A over 5 s, 0.6 A over whole periods; 2.5 periods hold three pulses: 9 s of 25 s.
    #[test]
    fn pulses() {
        let average = |window| pulsed_average(Ampere(2.0), Second(3.0), Second(10.0), Second(window)).0;
        assert!((average(5.0) - 1.2).abs() < 1e-12 && (average(300.0) - 0.6).abs() < 1e-12);
        assert!((average(25.0) - 0.72).abs() < 1e-12 && (average(1.0) - 2.0).abs() < 1e-12);
        // The same by the stretches themselves.
        let train: Vec<Stretch> = (0..10).map(|n| stretch(10.0 * f64::from(n), 3.0, 2.0)).collect();
        assert!((greatest_average(&train, Second(25.0)).0 - 0.72).abs() < 1e-12);
    }
}
