//! What a bus comes to when a device interrupts a current: the energy of the loop behind it goes into the capacitors on the bus.

use crate::{Ampere, Farad, Henry, Volt};

/// Peak of the bus after a current is interrupted: E + I √(L/C).
///
/// # Units     `steady` E (V) that the bus comes to, `interrupted` I (A), `inductance` L (H) of the loop from the source, `capacitance` C (F) on the bus → (V)
/// # Validity  A bound without losses for capacitors that stand at E: the loop's resistance, loads and suppressors lower the peak, capacitors that sagged with the bus
/// while the fault burned raise it. C above zero.
/// # Source    Computed: ½ L I² = ½ C ΔV², the energy of a coil in a capacitor (textbook).
pub fn peak(steady: Volt, interrupted: Ampere, inductance: Henry, capacitance: Farad) -> Volt {
    Volt(steady.0 + interrupted.0 * (inductance.0 / capacitance.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 200 A in 4 µH are 0.08 J; 1 mF takes them up with ΔV = √(2 · 0.08/0.001) = 12.649 V.
    #[test]
    fn energy_of_the_loop() {
        let peak = peak(Volt(28.0), Ampere(200.0), Henry(4e-6), Farad(1e-3));
        assert!((peak.0 - 28.0 - 12.649_110_6).abs() < 1e-6, "{peak:?}");
    }

    /// Against the equations of the loop, L di/dt = E − v, C dv/dt = i, by steps of a nanosecond from i = 200 A and v = E: the highest v.
    #[test]
    fn as_the_equations_of_the_loop() {
        let (e, l, c) = (28.0, 4e-6, 1e-3);
        let (mut i, mut v, mut highest) = (200.0f64, e, e);
        for _ in 0..200_000 {
            i += 1e-9 * (e - v) / l;
            v += 1e-9 * i / c;
            highest = highest.max(v);
        }
        assert!((peak(Volt(e), Ampere(200.0), Henry(l), Farad(c)).0 - highest).abs() < 1e-3, "{highest}");
    }
}
