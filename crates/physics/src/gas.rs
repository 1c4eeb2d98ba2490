//! Air as a gas: how it conducts, flows and how far a molecule flies, over temperature and pressure.

use crate::{Kelvin, Metre, MetrePerSecond, Pascal, WattPerMetreKelvin, WattPerSquareMetreKelvin};
use core::f64::consts::PI;

/// The air around a wire or bundle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gas {
    /// Far from what it cools.
    pub temperature: Kelvin,
    /// Absolute pressure.
    pub pressure: Pascal,
    /// Acceleration that drives free convection, in units of 9.80665 m/s²; 0 in weightlessness.
    pub gravity: f64,
    /// Speed across the wire; 0 in still air.
    pub speed: MetrePerSecond,
    /// Distance from the axis to the walls, for conduction through gas that nothing moves. `None`: not known, so that none is counted.
    pub wall_distance: Option<Metre>,
}

/// Gas constant of air.
///
/// # Source  US Standard Atmosphere 1976: 8314.32/28.9644 J/(kg K) (from memory; held against the library `fluids`).
pub const AIR_CONSTANT: f64 = 8314.32 / 28.9644;

/// Ratio of the specific heats of air.
///
/// # Source  US Standard Atmosphere 1976 (from memory).
pub const AIR_GAMMA: f64 = 1.4;

/// Specific heat at constant pressure, γ/(γ − 1) R (J/(kg K)); the true one is 1 % greater at 100 °C, 2 % at 200 °C.
pub const AIR_HEAT: f64 = AIR_GAMMA / (AIR_GAMMA - 1.0) * AIR_CONSTANT;

/// Share of the molecules that leave a surface with its temperature.
///
/// # Source  Common practice for air on engineering surfaces, no source; 0.87 to 0.97 are met with.
pub const ACCOMMODATION: f64 = 0.9;

/// Thermal conductivity of air, k = 2.64638e-3 T^1.5/(T + 245.4 · 10^(−12/T)).
///
/// # Units     (K) → (W/(m K))
/// # Validity  About 150 to 1000 K; does not depend on pressure until gaps come near [`temperature_jump`].
/// # Source    US Standard Atmosphere 1976 (from memory; held against the library `fluids`).
pub fn conductivity(temperature: Kelvin) -> WattPerMetreKelvin {
    let t = temperature.0;
    WattPerMetreKelvin(2.64638e-3 * t * t.sqrt() / (t + 245.4 * 10f64.powf(-12.0 / t)))
}

/// Dynamic viscosity of air by Sutherland's law, 1.458e-6 T^1.5/(T + 110.4).
///
/// # Units     (K) → (Pa s)
/// # Validity  About 100 to 1900 K.
/// # Source    US Standard Atmosphere 1976 (from memory; held against the library `fluids`).
pub fn viscosity_pa_s(temperature: Kelvin) -> f64 {
    let t = temperature.0;
    1.458e-6 * t * t.sqrt() / (t + 110.4)
}

/// Density of air as an ideal gas, p/(R T).
///
/// # Units     (K), (Pa) → (kg/m³)
pub fn density_kg_per_m3(temperature: Kelvin, pressure: Pascal) -> f64 {
    pressure.0 / (AIR_CONSTANT * temperature.0)
}

/// Prandtl number, μ cₚ/k.
pub fn prandtl(temperature: Kelvin) -> f64 {
    viscosity_pa_s(temperature) * AIR_HEAT / conductivity(temperature).0
}

/// Length of gas that a surface seems to have in front of it because the first molecules come from afar: g = (2 − a)/a · 2γ/(γ + 1) · λ/Pr with
/// the mean free path λ = μ/p · √(π R T/2). A gap d conducts as k/(d + 2g): as a continuum while g is small, in proportion to pressure when
/// it is large, and without a step.
///
/// # Units     (K), (Pa) → (m); infinite at pressure 0
/// # Validity  For gaps exact in both limits but for the accommodation coefficient; within some 10 % between them.
/// # Source    Kennard, Kinetic Theory of Gases (from memory).
pub fn temperature_jump(temperature: Kelvin, pressure: Pascal) -> Metre {
    let free_path = viscosity_pa_s(temperature) / pressure.0 * (PI * AIR_CONSTANT * temperature.0 / 2.0).sqrt();
    Metre((2.0 - ACCOMMODATION) / ACCOMMODATION * 2.0 * AIR_GAMMA / (AIR_GAMMA + 1.0) * free_path / prandtl(temperature))
}

/// Heat per area and kelvin that molecules carry to a surface which is small against their free path:
/// a/2 · (γ + 1)/(γ − 1) · p √(R/(2π T)).
///
/// # Units     (K), (Pa) → (W/(m² K))
/// # Validity  A convex body in thin gas; small differences of temperature.
/// # Source    Kennard, Kinetic Theory of Gases (from memory).
pub fn free_molecular(temperature: Kelvin, pressure: Pascal) -> WattPerSquareMetreKelvin {
    let speed = (AIR_CONSTANT / (2.0 * PI * temperature.0)).sqrt();
    WattPerSquareMetreKelvin(0.5 * ACCOMMODATION * (AIR_GAMMA + 1.0) / (AIR_GAMMA - 1.0) * pressure.0 * speed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    /// Air at 300 K: k 0.0263 W/(m K), μ 1.846e-5 Pa s, Pr 0.707 (table of an engineering handbook, from memory).
    #[test]
    fn air_at_300_kelvin() {
        near(conductivity(Kelvin(300.0)).0, 0.0263, 0.005);
        near(viscosity_pa_s(Kelvin(300.0)), 1.846e-5, 0.002);
        near(prandtl(Kelvin(300.0)), 0.707, 0.005);
        near(density_kg_per_m3(Kelvin(300.0), Pascal(101_325.0)), 1.177, 0.002);
    }

    /// Mean free path at sea level and 15 °C: 66.3 nm by the collision diameter of the US Standard Atmosphere 1976 (from memory), 63.6 nm by
    /// viscosity. Jump: 11/9 · 7/6 · λ/Pr.
    #[test]
    fn jump_at_sea_level() {
        let jump = temperature_jump(Kelvin(288.15), Pascal(101_325.0)).0;
        near(jump, 11.0 / 9.0 * 7.0 / 6.0 * 66.3e-9 / prandtl(Kelvin(288.15)), 0.05);
        near(temperature_jump(Kelvin(288.15), Pascal(101.325)).0, 1000.0 * jump, 1e-12);
        assert_eq!(temperature_jump(Kelvin(288.15), Pascal(0.0)).0, f64::INFINITY);
    }

    /// Between two plates at a pressure that leaves nothing of the continuum, k/(2g) is the exchange of kinetic theory with a/(2 − a) for a.
    #[test]
    fn two_plates_in_thin_gas() {
        let (t, p) = (Kelvin(300.0), Pascal(1e-3));
        let plates = conductivity(t).0 / (2.0 * temperature_jump(t, p).0);
        near(plates, free_molecular(t, p).0 / (2.0 - ACCOMMODATION), 1e-9);
        // 0.45 · 6 · 1e-3 · √(287.05/(2π · 300)), worked by hand.
        near(free_molecular(t, p).0, 1.0537e-3, 1e-4);
    }
}
