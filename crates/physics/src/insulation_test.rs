//! Levels of tests between conductors of a harness that is not connected, and the insulation resistance to be met.

use crate::{Kelvin, Ohm, Volt};

/// Share of the rating of the weakest part above which no test goes.
///
/// # Source  Common practice, no source.
pub const SHARE_OF_RATING: f64 = 0.75;

/// Shares of the first level at which a withstand test is repeated: each application ages insulation.
///
/// # Source  Common practice, no source.
pub const SHARES_ON_REPEAT: [f64; 2] = [0.60, 0.75];

/// Level of a test: that of the practice, and no more than [`SHARE_OF_RATING`] of what the weakest part is rated for.
///
/// # Units   (V), (V) → (V)
/// # Validity  Direct voltage; a rating that is stated for alternating voltage counts by its root mean square, the cautious reading.
pub fn level(practice: Volt, weakest: Volt) -> Volt {
    Volt(practice.0.min(SHARE_OF_RATING * weakest.0))
}

/// Temperatures between which the limit of insulation resistance stands as it is, and the hottest at which it is tested: 60, 82, 100 degF.
const AS_IT_IS: [f64; 2] = [60.0, 82.0];
const HOTTEST: f64 = 100.0;
/// Change of the limit for each degF beyond.
const PER_DEGREE: f64 = 0.02;

/// Least insulation resistance at a temperature: 2 % less for each degF above 82 degF, 2 % more for each below 60 degF.
///
/// # Units   `base` (ohm) between 60 and 82 degF, `at` (K) → (ohm)
/// # Validity  Up to 100 degF; `None` above, where no test is made.
/// # Source  SB 740-91-01, par. 4c (read).
pub fn insulation_limit(base: Ohm, at: Kelvin) -> Option<Ohm> {
    let fahrenheit = at.celsius() * 1.8 + 32.0;
    // The sum of a conversion leaves the last bits.
    if fahrenheit > HOTTEST + 1e-9 {
        return None;
    }
    let beyond = (AS_IT_IS[0] - fahrenheit).max(0.0) - (fahrenheit - AS_IT_IS[1]).max(0.0);
    Some(Ohm(base.0 * (1.0 + PER_DEGREE * beyond)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(fahrenheit: f64) -> Option<f64> {
        insulation_limit(Ohm(100e6), Kelvin((fahrenheit - 32.0) / 1.8 + 273.15)).map(|ohms| ohms.0 / 1e6)
    }

    /// SB 740-91-01, par. 4c (read): 100 Mohm is 80 Mohm at 92 degF, 2 % for each degF above 82; 2 % more for each below 60; below 100 degF.
    #[test]
    fn insulation_limit_by_temperature() {
        for (fahrenheit, expected) in [(92.0, 80.0), (82.0, 100.0), (70.0, 100.0), (60.0, 100.0), (50.0, 120.0), (100.0, 64.0)] {
            let found = at(fahrenheit).expect("within the range");
            assert!((found - expected).abs() < 1e-6, "{fahrenheit} degF: {found} Mohm");
        }
        assert_eq!(at(100.1), None);
    }

    /// The lower of the two bounds, on both sides and where they meet.
    #[test]
    fn no_test_goes_above_three_quarters_of_the_weakest_part() {
        for (practice, weakest, expected) in
            [(1500.0, 600.0, 450.0), (1500.0, 2000.0, 1500.0), (1500.0, 4000.0, 1500.0), (500.0, 600.0, 450.0)]
        {
            assert_eq!(level(Volt(practice), Volt(weakest)), Volt(expected));
        }
    }
}
