//! Heat radiation of grey surfaces.

use crate::Kelvin;

/// Stefan–Boltzmann constant (W/(m² K⁴)).
///
/// # Source  SI 2019, CODATA (from memory).
pub const STEFAN_BOLTZMANN: f64 = 5.670374419e-8;

/// What a black surface emits per area, σ T⁴ (W/m²).
pub fn emitted(surface: Kelvin) -> f64 {
    let square = surface.0 * surface.0;
    STEFAN_BOLTZMANN * square * square
}

/// Its slope, 4 σ T³ (W/(m² K)).
pub fn emitted_slope(surface: Kelvin) -> f64 {
    4.0 * STEFAN_BOLTZMANN * surface.0 * surface.0 * surface.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 300 K: 459.30 W/m², and 6.124 W/(m² K) (worked by hand: 5.670374e-8 · 8.1e9).
    #[test]
    fn at_300_kelvin() {
        assert!((emitted(Kelvin(300.0)) - 459.300).abs() < 0.001);
        assert!((emitted_slope(Kelvin(300.0)) - 6.12400).abs() < 0.0001);
    }
}
