//! Resistance of a metallic conductor against temperature and conductivity.

use crate::{Kelvin, Ohm, OhmMetre, OhmPerMetre, PerKelvin, SquareMetre};

/// Reference temperature of every tabulated resistance.
///
/// # Source  IEC 60028 and the wire tables built on it state resistance at 20 °C (read in a public note on NBS Handbook 100).
pub const T20: Kelvin = Kelvin(293.15);

/// Resistivity of annealed copper of 100 % IACS at 20 °C: 1/58 ohm mm²/m.
///
/// # Source  IEC 60028; NBS Handbook 100 (read in a public note quoting them: 0.017241 ohm mm²/m).
pub const COPPER_RESISTIVITY_20: OhmMetre = OhmMetre(1e-6 / 58.0);

/// Temperature coefficient of copper of 100 % IACS at 20 °C.
///
/// # Source  IEC 60028; FAA AC 43.13-1B CHG 1, par. 11-66d(4) uses 254.5/(234.5 + T), i.e. 1/254.5 = 0.003929 (read).
pub const COPPER_ALPHA_20: PerKelvin = PerKelvin(0.00393);

/// Resistance at a conductor temperature, by the linear law R = R20 (1 + α20 (T − 20 °C)).
///
/// # Units     `r20` (Ω) at 20 °C, `alpha20` (1/K), `conductor` (K) → (Ω)
/// # Validity  Near room temperature (about −80 to +260 °C). Not for cryogenic runs, where the law falls through zero.
/// # Errors    None; a checked design holds only finite numbers.
/// # Source    FAA AC 43.13-1B CHG 1, par. 11-66d(4), page 11-22 (read); IEC 60028.
pub fn resistance_at(r20: Ohm, alpha20: PerKelvin, conductor: Kelvin) -> Ohm {
    r20 * (1.0 + alpha20 * (conductor - T20))
}

/// Temperature coefficient at 20 °C of copper or a dilute copper alloy of the given conductivity.
///
/// The slope dρ/dT is the same for all coppers, so α20 is proportional to conductivity: an alloy of 85 % IACS has
/// 0.85 × 0.00393. Applying the pure-copper figure to it overstates its resistance at 150 °C by 7 %.
///
/// # Units     `conductivity` as a share of 100 % IACS (1) → (1/K)
/// # Validity  Coppers and dilute copper alloys, about 0.8 to 1.02 IACS.
/// # Source    NBS Handbook 100, Table 2 (from memory).
pub fn copper_alpha20(conductivity: f64) -> PerKelvin {
    PerKelvin(COPPER_ALPHA_20.0 * conductivity)
}

/// Resistance per length at 20 °C of copper strands of a total metal area, with a lay allowance.
///
/// # Units     `area` (m²) of metal, `conductivity` share of IACS (1), `lay` extra strand length as a share (1) → (Ω/m)
/// # Source    R = ρ l/A with IEC 60028's ρ; lay of about 2 % for one layer of strands (from memory).
pub fn stranded_copper_per_metre(area: SquareMetre, conductivity: f64, lay: f64) -> OhmPerMetre {
    COPPER_RESISTIVITY_20 / area * ((1.0 + lay) / conductivity)
}

/// Factor by which a run may be longer when the copper is at `conductor` instead of 20 °C, at equal drop.
///
/// # Units     (K) → (1); L₂ = L₁ × factor
/// # Source    FAA AC 43.13-1B CHG 1, par. 11-66d(4), page 11-22: L₂ = 254.5 L₁/(234.5 + T₂) (read).
pub fn run_length_factor_faa(conductor: Kelvin) -> f64 {
    254.5 / (234.5 + conductor.celsius())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected} within {relative}");
    }

    /// Zero-resistance intercepts T0 = 1/α20 − 20 for 100, 97, 95 and 85 % IACS: 234.5, 242.3, 247.8, 279.4 °C below zero
    /// (computed from NBS Handbook 100, Table 2 (from memory); 234.5 also FAA AC 43.13-1B par. 11-66d(4) (read)).
    #[test]
    fn intercept_follows_conductivity() {
        for (conductivity, intercept) in [(1.0, 234.5), (0.97, 242.3), (0.95, 247.8), (0.85, 279.4)] {
            let t0 = 1.0 / copper_alpha20(conductivity).0 - 20.0;
            assert!((t0 - intercept).abs() < 0.06, "{t0} against {intercept}");
        }
    }

    /// Solid 10 AWG: 1.02 Ω/1000 ft at 25 °C and 1.18 at 65 °C (public copper table (read), 1.0185 and 1.1755 by the law).
    #[test]
    fn solid_10_awg_at_25_and_65() {
        let r20 = stranded_copper_per_metre(crate::gauge::Awg(10).solid_area(), 1.0, 0.0);
        let per_kft = |t| resistance_at(r20 * crate::Metre(304.8), COPPER_ALPHA_20, Kelvin::from_celsius(t)).0;
        near(per_kft(25.0), 1.0185, 2e-4);
        near(per_kft(65.0), 1.1755, 2e-4);
    }

    /// 2000 ft of solid 20 AWG at 25 °C: 20.8 Ω (US Navy electricity course, module 4 (read)).
    #[test]
    fn two_thousand_feet_of_20_awg() {
        let r20 = stranded_copper_per_metre(crate::gauge::Awg(20).solid_area(), 1.0, 0.0);
        near(resistance_at(r20 * crate::Metre(609.6), COPPER_ALPHA_20, Kelvin::from_celsius(25.0)).0, 20.8, 0.005);
    }

    /// At 150 °C the pure-copper coefficient gives 1.5109 R20, that of an 85 % alloy 1.4343 R20 (worked by hand from the law).
    #[test]
    fn alloy_at_150_degrees() {
        let pure = resistance_at(Ohm(1.0), COPPER_ALPHA_20, Kelvin::from_celsius(150.0)).0;
        let alloy = resistance_at(Ohm(1.0), copper_alpha20(0.85), Kelvin::from_celsius(150.0)).0;
        near(pure, 1.0 + 0.00393 * 130.0, 1e-12);
        near(alloy, 1.0 + 0.0033405 * 130.0, 1e-12);
        assert!(alloy < pure);
    }

    #[test]
    fn faa_length_factor_is_one_at_20_degrees() {
        near(run_length_factor_faa(Kelvin::from_celsius(20.0)), 1.0, 1e-12);
        near(run_length_factor_faa(Kelvin::from_celsius(200.0)), 254.5 / 434.5, 1e-12);
    }
}
