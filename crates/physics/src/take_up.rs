//! Length and cover that twist and braid add: a twisted wire is longer than its cable, a braid covers by its angle.

use crate::{Kilogram, KilogramPerMetre, Metre, Ratio};
use core::f64::consts::PI;

/// How many times longer a twisted wire is than the cable it lies in: √(1 + (π Dₚ/p)²).
///
/// # Units     `pitch_circle` Dₚ (m), diameter of the helix of the wire's axis; `lay` p (m), length of one turn, above 0 → (1), at least 1
/// # Validity  Round helices; ignoring the factor makes cut lengths short.
/// # Source    Computed: a helix unrolled. Lays of 8 to 16 times the largest component: NEMA WC 27500 (from memory).
pub fn twist(pitch_circle: Metre, lay: Metre) -> f64 {
    (PI * (pitch_circle / lay)).hypot(1.0)
}

/// Diameter of the pitch circle of equal wires twisted on one ring, without one in the middle: d/sin(π/n); 0 for one wire.
///
/// # Units     `diameter` d (m) of a wire → (m)
/// # Validity  2 to 6 wires; the core over them measures d more.
/// # Source    Computed: a regular polygon of side d.
pub fn pitch_circle(count: u32, diameter: Metre) -> Metre {
    match count {
        0 | 1 => Metre(0.0),
        n => diameter / (PI / f64::from(n)).sin(),
    }
}

/// Length to cut of a wire: its path drawn out by twist, its slack, and what each end needs.
///
/// # Units     `path` (m) along the harness, `twist` (1) from [`twist`], 1 for an untwisted wire; `slack` and `ends` (m) → (m)
/// # Source    Computed. Slack for two re-terminations at each end: FAA AC 43.13-1B, par. 11-118 (read).
pub fn cut_length(path: Metre, twist: f64, slack: Metre, ends: [Metre; 2]) -> Metre {
    path * twist + slack + ends[0] + ends[1]
}

/// A tubular braid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Braid {
    /// Carriers C: bundles of strands, half of them each way round.
    pub carriers: u32,
    /// Strands N side by side in a carrier.
    pub strands: u32,
    /// Diameter d of a strand.
    pub strand: Metre,
    /// Picks P: crossings of carriers per length (1/m).
    pub picks_per_metre: f64,
    /// Diameter D under the braid.
    pub under: Metre,
}

/// What a braid's figures amount to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BraidCover {
    /// Angle of the carriers from the axis (rad).
    pub angle_rad: f64,
    /// Fill F: share of the surface that the carriers of one direction cover, at most 1.
    pub fill: Ratio,
    /// Optical coverage K of both directions together.
    pub coverage: Ratio,
    /// How many times longer a strand is than the braid.
    pub take_up: f64,
}

/// Angle, fill and optical coverage of a braid: tan a = 2π (D + 2d) P/C, F = N P d/sin a, K = 2F − F².
///
/// # Units     Lengths (m), picks (1/m) → (rad), (1)
/// # Validity  Carriers, picks and strands above 0. A fill above 1 would need strands on top of each other: it counts as 1.
/// # Source    MIL-DTL-17 / NEMA WC 27500, braid coverage (from memory). Take-up 1/cos a: computed.
pub fn braid(braid: &Braid) -> BraidCover {
    let tangent = 2.0 * PI * (braid.under.0 + 2.0 * braid.strand.0) * braid.picks_per_metre / f64::from(braid.carriers);
    let angle_rad = tangent.atan();
    let fill = (f64::from(braid.strands) * braid.picks_per_metre * braid.strand.0 / angle_rad.sin()).min(1.0);
    BraidCover { angle_rad, fill: Ratio(fill), coverage: Ratio(fill * (2.0 - fill)), take_up: 1.0 / angle_rad.cos() }
}

/// Mass per length of a braid: N C (π/4) d² ρ/cos a.
///
/// # Units     `density_kg_per_m3` ρ (kg/m³) → (kg/m)
/// # Source    Computed: geometry.
pub fn braid_mass(it: &Braid, density_kg_per_m3: f64) -> KilogramPerMetre {
    let metal = f64::from(it.strands * it.carriers) * PI / 4.0 * it.strand.0 * it.strand.0;
    Kilogram(metal * density_kg_per_m3 * braid(it).take_up) / Metre(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
    }

    /// Dₚ/p of 1/8, 1/16 and 1/32 add 7.4 %, 1.9 % and 0.5 % (worked from the helix: √(1 + (π/8)²) = 1.07434, 1.01910, 1.00481).
    #[test]
    fn twist_makes_wires_longer() {
        for (share, expected) in [(8.0, 1.07434), (16.0, 1.01910), (32.0, 1.00481)] {
            near(twist(Metre(1e-3), Metre(share * 1e-3)), expected, 1e-5);
        }
        assert_eq!(twist(Metre(0.0), Metre(0.02)), 1.0);
    }

    /// 2, 3, 4, 6 wires of 1 mm: d, 2d/√3, d√2, 2d.
    #[test]
    fn pitch_circles() {
        for (count, expected) in [(1, 0.0), (2, 1.0), (3, 1.154701), (4, 2f64.sqrt()), (6, 2.0)] {
            near(pitch_circle(count, Metre(1e-3)).0 * 1e3, expected, 1e-6);
        }
    }

    /// A pair of 1.2 mm wires, lay 20 mm, 2 m of path: √(1 + (0.06 π)²) = 1.017611, so 2.035222 m, and 0.05 + 0.03 + 0.04 m.
    #[test]
    fn length_to_cut() {
        let factor = twist(pitch_circle(2, Metre(1.2e-3)), Metre(20e-3));
        near(cut_length(Metre(2.0), factor, Metre(0.05), [Metre(0.03), Metre(0.04)]).0, 2.155222, 2e-6);
        assert_eq!(cut_length(Metre(2.0), 1.0, Metre(0.0), [Metre(0.0); 2]), Metre(2.0));
    }

    /// N 5, C 16, P 0.5/mm, d 0.10 mm, D 2.5 mm: tan a = 2π · 2.7 · 0.5/16 = 0.530144, a = 27.93°; F = 0.25/sin a = 0.5337,
    /// K = 0.7826 (worked from the formula of MIL-DTL-17 (from memory)).
    #[test]
    fn coverage_of_a_braid() {
        let it = Braid { carriers: 16, strands: 5, strand: Metre(0.1e-3), picks_per_metre: 500.0, under: Metre(2.5e-3) };
        let cover = braid(&it);
        near(cover.angle_rad.to_degrees(), 27.93, 0.005);
        near(cover.fill.0, 0.5337, 1e-4);
        near(cover.coverage.0, 0.7826, 1e-4);
        // 80 strands of 0.00785398 mm², 8900 kg/m³, 1/cos 27.93° = 1.13184: 0.0063293 kg/m.
        near(braid_mass(&it, 8900.0).0, 0.0063293, 2e-6);
        // Strands on top of each other cover no more than everything.
        assert_eq!(braid(&Braid { strands: 40, ..it }).coverage, Ratio(1.0));
    }
}
