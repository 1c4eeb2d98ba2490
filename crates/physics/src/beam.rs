//! First frequency of a harness span between clamps, and the stiffness of a bundle between two bounds.

use crate::packing::Place;
use crate::{Hertz, KilogramPerMetre, Metre, Newton, NewtonSquareMetre, Pascal, SquareMetre};
use core::f64::consts::PI;

/// How the ends of a span are held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// Free to turn at both ends: loose clamps.
    Pinned,
    /// Turning is hindered at one end.
    ClampedPinned,
    /// Turning is hindered at both ends.
    Clamped,
    /// Held at one end only.
    Cantilever,
}

impl Held {
    /// λ² of the first mode, with cos λ cosh λ = ±1 or tan λ = tanh λ: 9.870, 15.418, 22.373, 3.516.
    ///
    /// # Source  Beam theory: the first roots of those equations (from memory; computed anew in a test).
    pub fn eigenvalue(self) -> f64 {
        match self {
            Held::Pinned => PI * PI,
            Held::ClampedPinned => 15.418_205_716_980_78,
            Held::Clamped => 22.373_285_448_061_13,
            Held::Cantilever => 3.516_015_268_500_15,
        }
    }
}

/// First frequency of a string: √(T/m′)/(2 L).
///
/// # Units     `tension` T (N), `mass` m′ (kg/m), `span` L (m) → (Hz)
/// # Validity  Only where a tension is given: nobody strings a harness, and its tension is not known from the drawing.
/// # Source    String theory (from memory).
pub fn string_frequency(tension: Newton, mass: KilogramPerMetre, span: Metre) -> Hertz {
    Hertz((tension.0 / mass.0).sqrt() / (2.0 * span.0))
}

/// First frequency of a beam: λ²/(2π L²) √(EI/m′).
///
/// # Units     `stiffness` EI (N m²), `mass` m′ (kg/m), `span` L (m) → (Hz)
/// # Validity  Straight, even spans, undamped; a bundle's EI lies between the bounds of [`stiffness`], so ask with both.
/// # Source    Beam theory (from memory).
pub fn beam_frequency(held: Held, stiffness: NewtonSquareMetre, mass: KilogramPerMetre, span: Metre) -> Hertz {
    Hertz(held.eigenvalue() / (2.0 * PI * span.0 * span.0) * (stiffness.0 / mass.0).sqrt())
}

/// First frequency of a pinned beam under tension: that of the beam times √(1 + T L²/(π² EI)).
///
/// # Units     (N m²), (kg/m), (m), (N) → (Hz)
/// # Validity  Pinned at both ends, `tension` at least 0. Tends to the string as EI vanishes and to the beam as T does.
/// # Source    Beam theory (from memory).
pub fn tensioned_beam_frequency(stiffness: NewtonSquareMetre, mass: KilogramPerMetre, span: Metre, tension: Newton) -> Hertz {
    let rise = 1.0 + tension.0 * span.0 * span.0 / (PI * PI * stiffness.0);
    beam_frequency(Held::Pinned, stiffness, mass, span) * rise.sqrt()
}

/// First frequency of a shallow hanging span from its sag, whatever its mass: ½ √(g/(8 s)).
///
/// # Units     `sag` s (m) → (Hz)
/// # Validity  A quick check on the ground; not in orbit.
/// # Source    String theory with the tension that hangs a parabola (from memory).
pub fn sag_frequency(sag: Metre) -> Hertz {
    const GRAVITY_M_PER_S2: f64 = 9.80665;
    Hertz(0.5 * (GRAVITY_M_PER_S2 / (8.0 * sag.0)).sqrt())
}

/// Bending stiffness of a round rod: E π d⁴/64.
///
/// # Units     `modulus` E (Pa), `diameter` d (m) → (N m²)
/// # Source    Computed: second moment of a circle.
pub fn rod_stiffness(modulus: Pascal, diameter: Metre) -> NewtonSquareMetre {
    NewtonSquareMetre(modulus.0 * PI / 64.0 * diameter.0.powi(4))
}

/// One wire of a bundle, as far as bending knows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Core {
    /// Bending stiffness on its own: that of its strands, each slipping, is the least.
    pub alone: NewtonSquareMetre,
    /// Area of the metal that carries when the bundle bends as one.
    pub area: SquareMetre,
    /// Modulus of that metal.
    pub modulus: Pascal,
    /// Where its axis lies in the bundle.
    pub place: Place,
}

/// The two bounds between which a bundle's bending stiffness lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stiffness {
    /// Every wire slips on its neighbours: Σ EIᵢ.
    pub loose: NewtonSquareMetre,
    /// No wire slips: Σ (EIᵢ + E Aᵢ rᵢ²) about the common axis, in the stiffest plane.
    pub bonded: NewtonSquareMetre,
}

/// Bounds of a bundle's bending stiffness. Ties move it between them; a measured value replaces both.
///
/// # Units     (N m²), (m²), (Pa), places (m) → (N m²)
/// # Validity  Insulation is not counted: in the bonded bound the metal rules, in the loose one it is given in `alone`.
/// # Source    Computed: parallel axes (Steiner), about the centre weighted by E A.
pub fn stiffness(cores: &[Core]) -> Stiffness {
    let loose: NewtonSquareMetre = cores.iter().map(|core| core.alone).sum();
    let along = |core: &Core| core.modulus.0 * core.area.0;
    let total: f64 = cores.iter().map(along).sum();
    if total <= 0.0 {
        return Stiffness { loose, bonded: loose };
    }
    let middle = |axis: fn(&Place) -> Metre| cores.iter().map(|core| along(core) * axis(&core.place).0).sum::<f64>() / total;
    let (x, y) = (middle(|p| p.x), middle(|p| p.y));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for core in cores {
        let (dx, dy, weight) = (core.place.x.0 - x, core.place.y.0 - y, along(core));
        xx += weight * dx * dx;
        yy += weight * dy * dy;
        xy += weight * dx * dy;
    }
    let most = 0.5 * (xx + yy) + (0.5 * (xx - yy)).hypot(xy);
    Stiffness { loose, bonded: loose + NewtonSquareMetre(most) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected} within {relative}");
    }

    /// L 0.30 m, 0.12 kg/m, T 5 N: 10.758 Hz; EI 0.02 N m²: 7.125 Hz; both: 12.904 Hz (worked by hand from the formulas;
    /// √(5/0.12) = 6.45497, /0.6 = 10.7583; π/2 · √(1/6)/0.09 = 7.1253; × √(1 + 0.45/(π² · 0.02)) = × 1.81101).
    #[test]
    fn worked_spans() {
        let (mass, span, tension, stiffness) = (KilogramPerMetre(0.12), Metre(0.3), Newton(5.0), NewtonSquareMetre(0.02));
        near(string_frequency(tension, mass, span).0, 10.758, 1e-4);
        near(beam_frequency(Held::Pinned, stiffness, mass, span).0, 7.125, 1e-4);
        near(tensioned_beam_frequency(stiffness, mass, span, tension).0, 12.904, 1e-4);
        // Limits: no tension is the beam, no stiffness the string.
        assert_eq!(tensioned_beam_frequency(stiffness, mass, span, Newton(0.0)), beam_frequency(Held::Pinned, stiffness, mass, span));
        near(tensioned_beam_frequency(NewtonSquareMetre(1e-12), mass, span, tension).0, 10.7583, 1e-5);
    }

    /// Each eigenvalue solves its equation of beam theory, and is its first root: 9.870, 15.418, 22.373, 3.516 to three digits.
    #[test]
    fn eigenvalues_solve_their_equations() {
        let printed = [(Held::Pinned, 9.870), (Held::ClampedPinned, 15.418), (Held::Clamped, 22.373), (Held::Cantilever, 3.516)];
        for (held, digits) in printed {
            let square = held.eigenvalue();
            assert!((square - digits).abs() <= 5e-4 + 1e-9, "{held:?}");
            let root = square.sqrt();
            let residue = match held {
                Held::Pinned => root.sin(),
                Held::ClampedPinned => root.tan() - root.tanh(),
                Held::Clamped => root.cos() * root.cosh() - 1.0,
                Held::Cantilever => root.cos() * root.cosh() + 1.0,
            };
            assert!(residue.abs() < 1e-12 * root.cosh(), "{held:?}: {residue}");
        }
    }

    /// A span that hangs 10 mm: ½ √(9.80665/0.08) = 5.536 Hz. The same from the string: T = m′ g L²/(8 s).
    #[test]
    fn sag_is_the_string_that_hangs() {
        near(sag_frequency(Metre(0.01)).0, 5.5359, 1e-4);
        let (mass, span) = (KilogramPerMetre(0.2), Metre(0.7));
        let tension = Newton(mass.0 * 9.80665 * span.0 * span.0 / (8.0 * 0.01));
        near(string_frequency(tension, mass, span).0, sag_frequency(Metre(0.01)).0, 1e-12);
    }

    /// Rod of 1 mm, 100 GPa: 100e9 · π/64 · 1e-12 = 4.9087e-3 N m².
    #[test]
    fn bounds_of_two_and_four_wires() {
        let alone = rod_stiffness(Pascal(100e9), Metre(1e-3));
        near(alone.0, 4.9087e-3, 1e-5);
        let area = SquareMetre(PI / 4.0 * 1e-6);
        let core = |x: f64, y: f64| Core { alone, area, modulus: Pascal(100e9), place: Place { x: Metre(x), y: Metre(y) } };
        // Two side by side, 1 mm apart: Steiner adds 2 E A (d/2)² = 8 times the one's own, for A d²/4 = 4 I: 10 I in all.
        let two = stiffness(&[core(0.0, 0.0), core(1e-3, 0.0)]);
        near(two.loose.0, 2.0 * alone.0, 1e-12);
        near(two.bonded.0, 10.0 * alone.0, 1e-9);
        // However the pair is turned, and wherever it lies.
        let turned = stiffness(&[core(5e-3, 2e-3), core(5e-3 + 0.6e-3, 2e-3 + 0.8e-3)]);
        near(turned.bonded.0, two.bonded.0, 1e-9);
        // Four on a square: each lies d/√2 off the middle, half of its square in either axis: 4 · 16 · I/2 … = 4 I + 16 I.
        let four = stiffness(&[core(0.0, 0.0), core(1e-3, 0.0), core(0.0, 1e-3), core(1e-3, 1e-3)]);
        near(four.bonded.0, 20.0 * alone.0, 1e-9);
        assert!(two.loose < two.bonded);
        assert_eq!(stiffness(&[]).bonded, NewtonSquareMetre(0.0));
    }
}
