//! Film coefficient of air at a cylinder: free convection, flow across it, or still gas to the walls, whichever carries most.
//!
//! All three act through gas, so at low pressure each ends in the same free-molecular limit; see [`free_molecular`].

use crate::gas::{AIR_HEAT, Gas, conductivity, density_kg_per_m3, free_molecular, prandtl, viscosity_pa_s};
use crate::{Kelvin, Metre, WattPerSquareMetreKelvin};

/// Standard acceleration of gravity (m/s²), exact by definition.
pub const STANDARD_GRAVITY: f64 = 9.80665;

/// Correlation of free convection at a horizontal cylinder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Free {
    /// [`churchill_chu`]: the smaller at wires, so the hotter.
    #[default]
    ChurchillChu,
    /// [`morgan`].
    Morgan,
}

/// What carries the heat of a [`Film`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FilmBy {
    /// Gas that rises because it is warm.
    FreeConvection(Free),
    /// Gas blown across.
    Flow,
    /// Conduction to the walls through gas that nothing moves.
    StillGas,
    /// A coefficient given from elsewhere.
    Given,
    /// Neither gravity, nor flow, nor a known distance of the walls: nothing is counted.
    Nothing,
}

/// Film coefficient and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Heat per area of surface and difference to the gas.
    pub h: WattPerSquareMetreKelvin,
    /// What carries it.
    pub by: FilmBy,
    /// Inside of the range that the correlation is stated for.
    pub in_range: bool,
    /// The gas is so thin that the flight of single molecules takes more than a tenth of the difference.
    pub rarefied: bool,
}

/// Nusselt number of free convection at a horizontal cylinder: {0.60 + 0.387 Ra^(1/6)/[1 + (0.559/Pr)^(9/16)]^(8/27)}².
///
/// # Units     Rayleigh number on the diameter, Prandtl number (1) → (1)
/// # Validity  1e-5 < Ra < 1e12.
/// # Source    Churchill and Chu 1975, as in the documentation of the library `ht` 1.2.0 (read).
pub fn churchill_chu(rayleigh: f64, prandtl: f64) -> f64 {
    let root = 0.60 + 0.387 * rayleigh.powf(1.0 / 6.0) / (1.0 + (0.559 / prandtl).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    root * root
}

/// Rows of Morgan's correlation: C and n of Nu = C Raⁿ, from Ra 1e-10 on, with new rows at 1e-2, 1e2, 1e4 and 1e7.
const MORGAN: [(f64, f64); 5] = [(0.675, 0.058), (1.02, 0.148), (0.850, 0.188), (0.480, 0.250), (0.125, 0.333)];

/// Nusselt number of free convection at a horizontal cylinder: C Raⁿ by rows.
///
/// The greatest row is taken, so that nothing jumps: rows cross within a factor of 1.6 of the printed bounds, except for 1e7, where they differ
/// by 0.7 %.
///
/// # Units     Rayleigh number on the diameter (1) → (1)
/// # Validity  1e-10 < Ra < 1e12.
/// # Source    Morgan 1975, as in the documentation of the library `ht` 1.2.0 (read).
pub fn morgan(rayleigh: f64) -> f64 {
    MORGAN.iter().map(|(c, n)| c * rayleigh.powf(*n)).fold(0.0, f64::max)
}

/// Nusselt number of flow across a cylinder:
/// 0.3 + 0.62 Re^½ Pr^⅓ [1 + (0.4/Pr)^⅔]^(−¼) [1 + (Re/282000)^⅝]^⅘.
///
/// # Units     Reynolds number on the diameter, Prandtl number (1) → (1)
/// # Validity  Re Pr > 0.2.
/// # Source    Churchill and Bernstein 1977 (from memory; held against the library `ht` 1.2.0).
pub fn churchill_bernstein(reynolds: f64, prandtl: f64) -> f64 {
    0.3 + 0.62 * reynolds.sqrt() * prandtl.cbrt() / (1.0 + (0.4 / prandtl).powf(2.0 / 3.0)).powf(0.25)
        * (1.0 + (reynolds / 282_000.0).powf(0.625)).powf(0.8)
}

/// Nusselt number of still gas in a round enclosure of radius R around a cylinder of diameter D: 2/ln(2R/D).
///
/// # Validity  Walls outside of the cylinder; for others than round walls the distance to the nearest is on the cool side.
/// # Source    Computed: Fourier's law in a ring.
pub fn still_gas(diameter: Metre, wall_distance: Metre) -> f64 {
    2.0 / (2.0 * wall_distance.0 / diameter.0).ln()
}

/// Film coefficient of a cylinder of `diameter` with its surface at a temperature: the greatest of free convection, flow and still gas, in series
/// with the free-molecular limit: 1/h = D/(Nu k) + 1/h₀. Properties at the mean of surface and gas.
///
/// # Validity  In the lowest gravities and speeds the three meet without a step. A wall nearer than 1.01 radii counts as that near.
/// # Source    Correlations as above; both limits in series: Sherman 1963 (from memory).
pub fn film(gas: &Gas, free: Free, diameter: Metre, surface: Kelvin) -> Film {
    let mean = Kelvin(0.5 * (surface.0 + gas.temperature.0));
    if gas.pressure.0 <= 0.0 {
        return Film { h: WattPerSquareMetreKelvin(0.0), by: FilmBy::Nothing, in_range: true, rarefied: true };
    }
    let (k, mu, pr) = (conductivity(mean).0, viscosity_pa_s(mean), prandtl(mean));
    let rho = density_kg_per_m3(mean, gas.pressure);
    let d = diameter.0;
    let (mut nusselt, mut by, mut in_range) = (0.0, FilmBy::Nothing, true);
    let mut offer = |nu: f64, carrier: FilmBy, stated: bool| {
        if nu > nusselt {
            (nusselt, by, in_range) = (nu, carrier, stated);
        }
    };
    if let Some(wall) = gas.wall_distance {
        offer(still_gas(diameter, Metre(wall.0.max(0.5 * d * 1.01))), FilmBy::StillGas, true);
    }
    let speed = gas.speed.0.abs();
    if speed > 0.0 {
        let reynolds = rho * speed * d / mu;
        offer(churchill_bernstein(reynolds, pr), FilmBy::Flow, reynolds * pr > 0.2);
    }
    if gas.gravity > 0.0 {
        let rise = (surface.0 - gas.temperature.0).abs();
        // g β ΔT D³/(ν a) with β = 1/T, ν = μ/ρ, a = k/(ρ cₚ).
        let rayleigh = gas.gravity * STANDARD_GRAVITY / mean.0 * rise * d * d * d * rho * rho * AIR_HEAT / (mu * k);
        let (nu, least) = match free {
            Free::ChurchillChu => (churchill_chu(rayleigh, pr), 1e-5),
            Free::Morgan => (morgan(rayleigh), 1e-10),
        };
        offer(nu, FilmBy::FreeConvection(free), rayleigh > least && rayleigh < 1e12);
    }
    if nusselt == 0.0 {
        return Film { h: WattPerSquareMetreKelvin(0.0), by, in_range, rarefied: false };
    }
    let (resistance, thin) = (d / (nusselt * k), 1.0 / free_molecular(mean, gas.pressure).0);
    Film { h: WattPerSquareMetreKelvin(1.0 / (resistance + thin)), by, in_range, rarefied: thin > 0.1 * (resistance + thin) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{MetrePerSecond, Pascal};

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    const CABIN: Gas = Gas {
        temperature: Kelvin(293.15),
        pressure: Pascal(101_325.0),
        gravity: 1.0,
        speed: MetrePerSecond(0.0),
        wall_distance: Some(Metre(0.05)),
    };
    const WIRE: Metre = Metre(1.2e-3);

    /// Values of the library `ht` 1.2.0 (read): Ra 1 and 100 at Pr 0.7; Morgan at Pr 0.69, Gr 2.63e9.
    #[test]
    fn free_convection_as_ht() {
        near(churchill_chu(1.0, 0.7), 0.84810, 1e-5);
        near(churchill_chu(100.0, 0.7), 1.66773, 1e-5);
        near(morgan(1.0), 1.02, 1e-12);
        near(morgan(100.0), 2.02031, 1e-5);
        near(morgan(0.69 * 2.63e9), 151.388, 1e-5);
    }

    /// Nothing in Morgan's rows jumps, and no value is more than 1 % from the printed row.
    #[test]
    fn morgan_has_no_steps() {
        let printed = |ra: f64| {
            let row = [1e-2, 1e2, 1e4, 1e7].iter().filter(|bound| ra >= **bound).count();
            MORGAN[row].0 * ra.powf(MORGAN[row].1)
        };
        let mut before = morgan(1e-9);
        for step in -899..1199 {
            let ra = 10f64.powf(f64::from(step) * 0.01);
            let nu = morgan(ra);
            assert!(nu >= before && nu / before < 1.01, "a step at {ra}");
            near(nu, printed(ra), 0.01);
            before = nu;
        }
    }

    #[test]
    fn the_greatest_carries() {
        let free = film(&CABIN, Free::ChurchillChu, WIRE, Kelvin(373.15));
        assert_eq!(free.by, FilmBy::FreeConvection(Free::ChurchillChu));
        let weightless = Gas { gravity: 0.0, ..CABIN };
        let still = film(&weightless, Free::ChurchillChu, WIRE, Kelvin(373.15));
        assert_eq!(still.by, FilmBy::StillGas);
        assert!(still.h.0 < free.h.0);
        // The flight of molecules takes 1e-5 m² K/W of 0.09: h = k Nu/D to 2e-4.
        let k = conductivity(Kelvin(333.15)).0;
        near(still.h.0, 2.0 * k / (WIRE.0 * (0.1 / WIRE.0).ln()), 2e-4);
        let blown = film(&Gas { speed: MetrePerSecond(1.0), ..weightless }, Free::ChurchillChu, WIRE, Kelvin(373.15));
        assert_eq!(blown.by, FilmBy::Flow);
        assert!(blown.h.0 > free.h.0);
        let nothing = film(&Gas { wall_distance: None, ..weightless }, Free::ChurchillChu, WIRE, Kelvin(373.15));
        assert_eq!((nothing.by, nothing.h.0), (FilmBy::Nothing, 0.0));
    }

    /// From one bar to a millionth of it, from 1 g to none and from 10 m/s to none, no step is greater than the change of what drives it.
    #[test]
    fn no_step_on_the_way_to_nothing() {
        let h = |gas: &Gas| film(gas, Free::Morgan, WIRE, Kelvin(373.15)).h.0;
        for (name, vary) in [
            ("pressure", (|share: f64| Gas { pressure: Pascal(101_325.0 * share), ..CABIN }) as fn(f64) -> Gas),
            ("gravity", |share| Gas { gravity: share, ..CABIN }),
            ("speed", |share| Gas { speed: MetrePerSecond(10.0 * share), ..CABIN }),
        ] {
            let mut before = h(&vary(1.0));
            for step in 1..=1200 {
                let now = h(&vary(10f64.powf(-0.01 * f64::from(step))));
                assert!(now <= before && now > before * 0.976, "{name}: from {before} to {now}");
                before = now;
            }
        }
        let thin = film(&Gas { pressure: Pascal(1e-3), ..CABIN }, Free::ChurchillChu, WIRE, Kelvin(373.15));
        assert!(thin.rarefied && thin.h.0 < 0.01, "{thin:?}");
    }

    /// Free convection knows gravity and diameter by g D³: under 8 g half the diameter has the same Nusselt number, so twice the film; and less gravity,
    /// less film.
    #[test]
    fn gravity_and_diameter() {
        let h = |gravity: f64, diameter: f64| {
            film(&Gas { gravity, wall_distance: None, ..CABIN }, Free::ChurchillChu, Metre(diameter), Kelvin(373.15)).h.0
        };
        near(h(8.0, 0.6e-3), 2.0 * h(1.0, 1.2e-3), 1e-3);
        assert!(h(0.38, 1.2e-3) < 0.97 * h(1.0, 1.2e-3) && h(0.16, 1.2e-3) < 0.95 * h(0.38, 1.2e-3));
    }

    /// At 1 mPa no correlation is left of it.
    #[test]
    fn free_molecular_limit() {
        let thin = Gas { pressure: Pascal(1e-3), ..CABIN };
        near(film(&thin, Free::ChurchillChu, WIRE, Kelvin(293.15)).h.0, free_molecular(Kelvin(293.15), Pascal(1e-3)).0, 1e-3);
    }
}
