//! American wire gauge.

use crate::{Metre, SquareMetre};

/// A gauge number; 0, −1, −2, −3 stand for 1/0, 2/0, 3/0, 4/0. A larger number is a thinner wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Awg(pub i8);

impl Awg {
    /// Thickest and thinnest gauge of the system as used here: 4/0 to 40.
    pub const RANGE: core::ops::RangeInclusive<i8> = -3..=40;

    /// Diameter of a solid wire, d = 0.005 in × 92^((36 − n)/39).
    ///
    /// # Units   → (m)
    /// # Source  ASTM B258 (from memory; the ratio 92 over 39 steps read in a public gauge chart).
    pub fn solid_diameter(self) -> Metre {
        Metre(0.005 * 0.0254 * 92f64.powf((36.0 - f64::from(self.0)) / 39.0))
    }

    /// Cross-section of a solid wire (m²).
    pub fn solid_area(self) -> SquareMetre {
        let d = self.solid_diameter().0;
        SquareMetre(core::f64::consts::PI / 4.0 * d * d)
    }

    /// From its usual spelling: `20`, `1/0`, `4/0`, `00`.
    pub fn parse(text: &str) -> Option<Awg> {
        let gauge = match text {
            "0" | "1/0" => 0,
            "00" | "2/0" => -1,
            "000" | "3/0" => -2,
            "0000" | "4/0" => -3,
            _ if text.starts_with('0') || text.starts_with('+') || text.starts_with('-') => return None,
            _ => text.parse().ok()?,
        };
        Self::RANGE.contains(&gauge).then_some(Awg(gauge))
    }
}

impl core::fmt::Display for Awg {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.0 {
            n if n > 0 => write!(f, "{n}"),
            n => write!(f, "{}/0", 1 - n),
        }
    }
}

/// One circular mil in square metres.
///
/// # Source  Definition: the area of a circle of 0.001 in diameter.
pub const CIRCULAR_MIL: SquareMetre = SquareMetre(core::f64::consts::PI / 4.0 * 0.0254e-3 * 0.0254e-3);

#[cfg(test)]
mod tests {
    use super::*;

    /// ASTM B258 diameters in mil (from memory): 4/0 460.0, 10 101.9, 20 31.96, 30 10.03, 36 5.000.
    #[test]
    fn diameters() {
        for (gauge, mil) in [(-3, 460.0), (10, 101.9), (20, 31.96), (30, 10.03), (36, 5.0)] {
            let d = Awg(gauge).solid_diameter().0 / 0.0254e-3;
            assert!((d / mil - 1.0).abs() < 5e-4, "AWG {gauge}: {d} mil");
        }
    }

    #[test]
    fn spelling_both_ways() {
        for text in ["4/0", "1/0", "1", "20", "40"] {
            assert_eq!(Awg::parse(text).map(|g| g.to_string()).as_deref(), Some(text));
        }
        for text in ["", "41", "5/0", "-1", "+4", "2.5", "020"] {
            assert_eq!(Awg::parse(text), None, "{text}");
        }
    }

    #[test]
    fn circular_mil() {
        assert!((CIRCULAR_MIL.0 * 1e6 - 5.067075e-4).abs() < 1e-9);
    }
}
