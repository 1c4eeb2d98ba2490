//! A constant-power load behind a source resistance: the closed form that the network solver is held against.

use crate::{Ohm, Volt, Watt};

/// Terminal voltage of a load that draws `power` from an EMF behind a resistance: V = (E + √(E² − 4RP))/2.
///
/// The upper root; the lower one is the false, unstable solution. `None` above the collapse power.
///
/// # Units   (V), (Ω), (W) → (V)
/// # Source  Quadratic of V² − E V + R P = 0 (worked by hand).
pub fn terminal_voltage(emf: Volt, ohms: Ohm, power: Watt) -> Option<Volt> {
    let root = emf.0 * emf.0 - 4.0 * ohms.0 * power.0;
    (root >= 0.0).then(|| Volt((emf.0 + root.sqrt()) / 2.0))
}

/// Largest power that an EMF behind a resistance can give: E²/(4R), at half the EMF.
///
/// # Units   (V), (Ω) → (W)
/// # Source  Maximum power transfer (worked by hand from the same quadratic).
pub fn collapse_power(emf: Volt, ohms: Ohm) -> Watt {
    Watt(emf.0 * emf.0 / (4.0 * ohms.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source 29.0 V, 0.12 Ω, load 600 W: 26.258 V; largest possible 1752 W (worked by hand).
    #[test]
    fn worked_case() {
        let v = terminal_voltage(Volt(29.0), Ohm(0.12), Watt(600.0)).expect("below collapse");
        assert!((v.0 - 26.258).abs() < 5e-4);
        assert!((collapse_power(Volt(29.0), Ohm(0.12)).0 - 1752.08).abs() < 0.01);
    }

    /// 28 V behind 1 Ω: 195 W settles above 14 V, 196 W exactly at 14 V, 197 W has no operating point.
    #[test]
    fn both_sides_of_collapse() {
        let at = |watt| terminal_voltage(Volt(28.0), Ohm(1.0), Watt(watt));
        assert!(at(195.0).is_some_and(|v| v.0 > 14.0));
        assert_eq!(at(196.0), Some(Volt(14.0)));
        assert_eq!(at(197.0), None);
    }
}
