//! Heat of a conductor in a time so short that none leaves it, and the fusing currents of the handbooks.

use crate::{Ampere, Kelvin, Metre, OhmPerMetre, PerKelvin, Second, SquareMetre, resistance::T20};

/// Integral of I² over time, A²s.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct AmpereSquareSecond(pub f64);

impl AmpereSquareSecond {
    /// How long a steady current takes.
    ///
    /// # Units  (A) → (s); infinite for no current
    pub fn time_at(self, current: Ampere) -> Second {
        Second(self.0 / (current.0 * current.0))
    }
}

/// ∫I² dt that heats a conductor from one temperature to another while no heat leaves it: C′/(r₂₀ α) · ln((1 + α(T₂ − 20))/(1 + α(T₁ − 20))).
///
/// # Units     `capacity` C′ of the strands per length (J/(m K)), `r20` (Ω/m), `alpha20` (1/K), `from` and `to` (K) → (A²s); 0 where `to` is not above `from`
/// # Validity  Times far below the time constant, up to some seconds for thin wire; beyond, it is an upper bound of the current that may flow and no limit
/// of what harms. The heat capacity is taken as constant.
/// # Source    Computed: I² r₂₀ (1 + α(T − 20)) dt = C′ dT. The same with C′ and r₂₀ from area and metal is IEC 60949 (from memory).
pub fn heating_integral(capacity: f64, r20: OhmPerMetre, alpha20: PerKelvin, from: Kelvin, to: Kelvin) -> AmpereSquareSecond {
    let share = |t: Kelvin| 1.0 + alpha20.0 * (t - T20).0;
    AmpereSquareSecond((capacity / (r20.0 * alpha20.0) * (share(to) / share(from)).ln()).max(0.0))
}

/// The adiabatic form of IEC 60949 for copper: K² S² ln((θ₂ + 234.5)/(θ₁ + 234.5)), K = 226 A√s/mm².
///
/// # Units     `area` S of metal (m²), `from` and `to` (K) → (A²s)
/// # Source    IEC 60949 (from memory).
pub fn iec_60949_copper(area: SquareMetre, from: Kelvin, to: Kelvin) -> AmpereSquareSecond {
    let mm2 = area.0 * 1e6;
    AmpereSquareSecond((226.0 * mm2).powi(2) * ((to.celsius() + 234.5) / (from.celsius() + 234.5)).ln())
}

/// Current that melts a copper wire after a time without loss of heat: A √(log₁₀(1 + (Tm − T)/(234 + T))/(33 t)), A in circular mils.
///
/// # Units     `area` (m²), `ambient` (K), `time` (s) → (A)
/// # Validity  Copper, melting at 1083 °C; some seconds at most. A printed case that subtracts the ambient from 234 instead of adding it gets 178 A where
/// this law gives 169 A.
/// # Source    Onderdonk, as quoted in public notes (read); the sign follows from the linear law of resistance (computed).
pub fn onderdonk(area: SquareMetre, ambient: Kelvin, time: Second) -> Ampere {
    let circular_mils = area.0 / 5.067_074_790_974_977e-10;
    let t = ambient.celsius();
    Ampere(circular_mils * ((1.0 + (1083.0 - t) / (234.0 + t)).log10() / (33.0 * time.0)).sqrt())
}

/// Metals with a fusing coefficient.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fusing {
    /// Copper.
    Copper,
    /// Aluminium.
    Aluminium,
}

/// Current that melts a long wire in still air in the end: C d^1.5, d in inches.
///
/// # Units     `diameter` (m) → (A)
/// # Validity  Bare round wire in still air, some minutes; not in vacuum.
/// # Source    Preece (Proc. Royal Society, 1880s): 10,244 for copper, 7,585 for aluminium (read in a public table).
pub fn preece(metal: Fusing, diameter: Metre) -> Ampere {
    let coefficient = match metal {
        Fusing::Copper => 10_244.0,
        Fusing::Aluminium => 7_585.0,
    };
    Ampere(coefficient * (diameter.0 / 0.0254).powf(1.5))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gauge::Awg;
    use crate::resistance::{COPPER_ALPHA_20, stranded_copper_per_metre};

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected} within {relative}");
    }

    fn celsius(t: f64) -> Kelvin {
        Kelvin::from_celsius(t)
    }

    /// Solid copper of 26 to 10 AWG from 25 °C to 200 °C and to its melting point, 1083 °C: IEC 60949 with K = 226 (formula from memory, computed), and the general
    /// integral with copper's own data: 8.89 g/cm³ (read), 385 J/(kg K) (from memory), which agree with K within 1.5 % (K holds 3.45 J/(cm³ K)).
    #[test]
    fn adiabatic_copper() {
        for (awg, damage, melt) in [
            (26, 436.4, 1376.0),
            (24, 1103.5, 3478.0),
            (22, 2789.9, 8794.0),
            (20, 7053.7, 22_234.0),
            (16, 45_089.1, 142_127.0),
            (10, 728_713.0, 2_297_003.0),
        ] {
            let area = Awg(awg).solid_area();
            near(iec_60949_copper(area, celsius(25.0), celsius(200.0)).0, damage, 1e-3);
            near(iec_60949_copper(area, celsius(25.0), celsius(1083.0)).0, melt, 1e-3);
            let capacity = area.0 * 8890.0 * 385.0;
            let r20 = stranded_copper_per_metre(area, 1.0, 0.0);
            near(heating_integral(capacity, r20, COPPER_ALPHA_20, celsius(25.0), celsius(200.0)).0, damage, 0.015);
        }
        let none = heating_integral(1.0, OhmPerMetre(1.0), COPPER_ALPHA_20, celsius(200.0), celsius(200.0));
        assert_eq!(none, AmpereSquareSecond(0.0));
    }

    /// A 5 A fast breaker lets 216 A²s through at 400 %, and 24 AWG takes 1103 A²s from 25 °C to 200 °C: at 20 A the wire has 2.76 s, the breaker 0.54 s
    /// (band of NSN 5925-00-226-0377 read; arithmetic computed).
    #[test]
    fn breaker_against_wire() {
        let wire = iec_60949_copper(SquareMetre(0.2047e-6), celsius(25.0), celsius(200.0));
        near(wire.0, 1103.0, 0.01);
        near(wire.time_at(Ampere(20.0)).0, 2.758, 0.01);
        assert!(wire.0 > 216.0);
    }

    /// 16 AWG solid for 5 s at 25 °C: 168.9 A (computed from the printed law); the constant 33 is copper's heat capacity: the general integral to
    /// 1083 °C agrees within 1 %.
    #[test]
    fn onderdonk_16_awg() {
        let area = Awg(16).solid_area();
        let current = onderdonk(area, celsius(25.0), Second(5.0));
        near(current.0, 168.9, 1e-3);
        let r20 = stranded_copper_per_metre(area, 1.0, 0.0);
        let integral = heating_integral(area.0 * 8890.0 * 385.0, r20, COPPER_ALPHA_20, celsius(25.0), celsius(1083.0));
        near((integral.0 / 5.0).sqrt(), current.0, 0.01);
    }

    /// 10 A melt copper of 0.0098 in, 100 A of 0.0457 in (public table, read to its digits). The table's 0.1208 in for 250 A of aluminium does not follow from its
    /// own law, which gives 0.1028.
    #[test]
    fn preece_copper() {
        let inch = |d: f64| Metre(d * 0.0254);
        near(preece(Fusing::Copper, inch(0.0098)).0, 10.0, 0.01);
        near(preece(Fusing::Copper, inch(0.0457)).0, 100.0, 0.002);
        near(preece(Fusing::Aluminium, inch(0.1028)).0, 250.0, 0.001);
    }
}
