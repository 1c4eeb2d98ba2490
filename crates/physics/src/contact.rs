//! Conductance from conductor to conductor of two neighbouring jackets: through both jackets, across the contact, and through the wedge of gas beside it.
//!
//! Heat crosses where jackets are close and has to crowd together there inside of the jackets. On the surface of a jacket over a conductor of one
//! temperature, a line of heat q at an angle raises another by −(q/(π k)) ln tanh(π |θ − θ'|/(4 ln(b/a))): the field of a ring, which ln r
//! makes a strip. The line between the jackets is cut into panels; each panel's flow is what its gap lets through of the difference that
//! is left when all flows have crowded through both jackets. Symmetric and positive definite, solved once for each kind of pair and gas.

use core::f64::consts::PI;
use std::sync::Arc;

/// Half-width of a contact patch as a share of the smaller radius.
///
/// # Source  Common practice, no source: thin fluoropolymer walls of a laced bundle flatten by some per cent.
pub const PATCH: f64 = 0.05;

/// Two jackets touch where the gap is at most this share of the smaller radius.
pub const TOUCHING: f64 = 0.01;

/// Gas between neighbours counts up to this angle from the line of centres, on the smaller circle: half of a sixth.
const REACH: f64 = 0.5;

/// A jacket of a pair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ring {
    /// Radius of the conductor (m).
    pub(crate) inner: f64,
    /// Radius over the jacket (m).
    pub(crate) outer: f64,
    /// Conductivity (W/(m K)).
    pub(crate) k: f64,
}

/// Panels across the line of centres: where heat may cross.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Panels {
    /// Their bounds from the line of centres (m).
    bounds: Vec<f64>,
    /// How many of the first are the contact patch; none where the jackets do not touch.
    patch: usize,
}

impl Panels {
    /// For a smaller radius, touching or not.
    pub(crate) fn new(small: f64, touching: bool) -> Panels {
        let (half, reach) = (PATCH * small, REACH * small);
        let mut bounds = vec![0.0];
        if touching {
            bounds.extend([0.5 * half, 0.85 * half, half]);
            bounds.extend((1..=8).map(|i| half * (reach / half).powf(f64::from(i) / 8.0)));
        } else {
            bounds.extend((1..=8).map(|i| reach * (f64::from(i) / 8.0).powi(2)));
        }
        Panels { bounds, patch: if touching { 3 } else { 0 } }
    }

    fn len(&self) -> usize {
        self.bounds.len() - 1
    }

    /// How the flow of each panel, and of its mirror image, raises each other's surface through a jacket (K m/W), row by row.
    pub(crate) fn crowding(&self, ring: Ring) -> Vec<f64> {
        let (panels, strip) = (self.len(), (ring.outer / ring.inner).ln());
        if strip <= 0.0 {
            return vec![0.0; panels * panels];
        }
        // Angles in the measure of the kernel, so that it is −ln tanh of their difference.
        let scale = PI / (4.0 * strip);
        let at: Vec<f64> = self.bounds.iter().map(|x| scale * (x / ring.outer).min(1.0).asin()).collect();
        let bounds = at.len();
        // Of the difference and the sum of each two bounds: the mirror image changes the sign.
        let twice: Vec<f64> =
            (0..bounds * bounds).map(|at_both| (at[at_both / bounds], at[at_both % bounds])).map(|(x, y)| kernel_twice(x - y)).collect();
        let mirrored: Vec<f64> =
            (0..bounds * bounds).map(|at_both| (at[at_both / bounds], at[at_both % bounds])).map(|(x, y)| kernel_twice(x + y)).collect();
        let mut out = vec![0.0; panels * panels];
        for p in 0..panels {
            for q in 0..panels {
                // The mean of the kernel over both panels, exactly.
                let same = |i: usize, j: usize| twice[i * bounds + j];
                let other = |i: usize, j: usize| mirrored[i * bounds + j];
                let near = same(p + 1, q) + same(p, q + 1) - same(p + 1, q + 1) - same(p, q);
                let far = other(p + 1, q + 1) + other(p, q) - other(p + 1, q) - other(p, q + 1);
                out[p * panels + q] = (near + far) / ((at[p + 1] - at[p]) * (at[q + 1] - at[q]) * PI * ring.k);
            }
        }
        out
    }
}

/// A kind of pair: jackets and gap.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pair {
    panels: Arc<Panels>,
    /// Length of gap of each panel (m).
    gap: Vec<f64>,
    /// [`Panels::crowding`] of each jacket.
    crowding: [Arc<Vec<f64>>; 2],
}

impl Pair {
    /// Of two jackets over conductors, their panels and crowding, and the gap between them.
    pub(crate) fn new(outer: [f64; 2], panels: Arc<Panels>, crowding: [Arc<Vec<f64>>; 2], gap: f64) -> Pair {
        let least = 1e-9 * outer[0].min(outer[1]);
        let depth = |x: f64| outer.iter().map(|r| r - (r * r - x * x).max(0.0).sqrt()).sum::<f64>();
        // The mean of 1/gap over a panel, by Simpson.
        let of_panel = |bounds: &[f64]| {
            let at = |x: f64| 1.0 / (gap.max(0.0) + depth(x)).max(least);
            6.0 / (at(bounds[0]) + 4.0 * at(0.5 * (bounds[0] + bounds[1])) + at(bounds[1]))
        };
        let gap = panels.bounds.windows(2).map(of_panel).collect();
        Pair { panels, gap, crowding }
    }

    /// Width of the contact patch (m); 0 where the jackets do not touch.
    pub(crate) fn patch(&self) -> f64 {
        2.0 * self.panels.bounds[self.panels.patch]
    }

    /// Conductance per length, conductor to conductor, with a conductance `contact` of the patch and gas of conductivity `gas` with a
    /// temperature jump that lengthens each gap.
    ///
    /// # Units  (W/(m K)), (W/(m K)), (m) → (W/(m K))
    pub(crate) fn conductance(&self, contact: f64, gas: Option<(f64, f64)>) -> f64 {
        // Panels that let anything through, with their own resistance (both sides of the line of centres have one each).
        let (bounds, patch) = (&self.panels.bounds, self.panels.patch);
        let own: Vec<(usize, f64)> = (0..self.gap.len())
            .filter_map(|i| {
                let width = bounds[i + 1] - bounds[i];
                let through = if i < patch {
                    contact * 0.5 * width / bounds[patch]
                } else {
                    gas.map_or(0.0, |(k, jump)| k * width / (self.gap[i] + jump))
                };
                (through > 0.0).then(|| (i, 1.0 / through))
            })
            .collect();
        let (m, panels) = (own.len(), self.gap.len());
        // Cholesky, row by row, and the forward solution for a difference of 1 K: the flow is its square.
        let mut lower = vec![0.0; m * m];
        let (mut y, mut flow) = (vec![0.0; m], 0.0);
        for i in 0..m {
            for j in 0..=i {
                let both = own[i].0 * panels + own[j].0;
                let mut value = self.crowding[0][both] + self.crowding[1][both] + if i == j { own[i].1 } else { 0.0 };
                for k in 0..j {
                    value -= lower[i * m + k] * lower[j * m + k];
                }
                lower[i * m + j] = if i == j { value.max(0.0).sqrt() } else { value / lower[j * m + j] };
            }
            let sum: f64 = (0..i).map(|k| lower[i * m + k] * y[k]).sum();
            y[i] = (1.0 - sum) / lower[i * m + i];
            flow += y[i] * y[i];
        }
        2.0 * flow
    }
}

/// −ln tanh |z| integrated twice: near zero by powers, −ln z + z²/3 − 7 z⁴/90 + …, further out by 2 Σ e^(−2nz)/n over odd n.
fn kernel_twice(z: f64) -> f64 {
    let z = z.abs();
    if z == 0.0 {
        return 0.0;
    }
    if z < 0.5 {
        let s = z * z;
        return s * (0.75 - 0.5 * z.ln() + s * (1.0 / 36.0 - s * (7.0 / 2700.0 - s * (62.0 / 158_760.0 - s * 127.0 / 1_701_000.0))));
    }
    let far: f64 = [1.0, 3.0, 5.0, 7.0, 9.0, 11.0].iter().map(|n: &f64| (-2.0 * n * z).exp() / (n * n * n)).sum();
    // The constant is −(7/16) ζ(3), so that both meet.
    0.5 * far + PI * PI / 8.0 * z - 0.525_899_895_1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    fn pair(rings: [Ring; 2], gap: f64) -> Pair {
        let small = rings[0].outer.min(rings[1].outer);
        let panels = Arc::new(Panels::new(small, gap <= TOUCHING * small));
        let crowding = rings.map(|ring| Arc::new(panels.crowding(ring)));
        Pair::new(rings.map(|ring| ring.outer), panels, crowding, gap)
    }

    /// 20 AWG class: conductor 0.47 mm, jacket 0.6 mm, 0.24 W/(m K).
    const WIRE: Ring = Ring { inner: 0.47e-3, outer: 0.6e-3, k: 0.24 };

    /// Constriction of a uniform strip 2w on a layer over a conductor, in closed form where w is small against the layer:
    /// (1/(π k)) [3/2 − ln(2u) + (2/9) u²], u = π w/(4 t) (computed from the kernel). With little conductance the flow is uniform.
    #[test]
    fn constriction_of_a_small_patch() {
        let two = pair([WIRE, WIRE], 0.0);
        let u = PI * 0.05 / (4.0 * (0.6f64 / 0.47).ln());
        let each = (1.5 - (2.0 * u).ln() + 2.0 / 9.0 * u * u) / (PI * 0.24);
        for contact in [0.002, 0.02] {
            near(two.conductance(contact, None), 1.0 / (1.0 / contact + 2.0 * each), 2e-3);
        }
        // With a great one the flow crowds to the edges: (1/(π k)) [−ln(u/2)] each (strip of one temperature, computed).
        near(two.conductance(1e6, None), PI * 0.24 / (2.0 * -(u / 2.0).ln()), 0.03);
    }

    /// A thin jacket does not spread: a patch of 2w on a layer t is two slabs t/(2w k) in series with the contact.
    #[test]
    fn thin_jackets() {
        let thin = Ring { inner: 0.5999e-3, ..WIRE };
        let layer = 0.6e-3 * (0.6f64 / 0.5999).ln() / (0.06e-3 * 0.24);
        near(pair([thin, thin], 0.0).conductance(1e3, None), 1.0 / (1e-3 + 2.0 * layer), 0.03);
        let bare = Ring { inner: 0.6e-3, ..WIRE };
        near(pair([bare, bare], 0.0).conductance(0.3, None), 0.3, 1e-9);
    }

    /// Two bare cylinders in gas, not touching: 2π k/acosh[(d² − 2r²)/(2r²)] in full (handbook, from memory); what the panels reach is most of
    /// it when the gap is small.
    #[test]
    fn bare_cylinders_in_gas() {
        let bare = Ring { inner: 0.6e-3, ..WIRE };
        for (gap, share) in [(0.02, 0.8), (0.05, 0.7), (0.1, 0.6)] {
            let d: f64 = 2.0 + gap;
            let whole = 2.0 * PI * 0.028 / ((d * d - 2.0) / 2.0).acosh();
            let here = pair([bare, bare], gap * 0.6e-3).conductance(0.0, Some((0.028, 0.0)));
            assert!(here < whole && here > share * whole, "{gap}: {here} of {whole}");
        }
    }

    /// More contact, more gas, thinner gas: always the way it must be; and a pair is the same from both sides.
    #[test]
    fn more_conducts_more() {
        let other = Ring { inner: 1.2e-3, outer: 2.0e-3, k: 0.15 };
        let (one, turned) = (pair([WIRE, other], 0.0), pair([other, WIRE], 0.0));
        let mut before = 0.0;
        for contact in [0.0, 0.02, 0.1, 0.5] {
            for gas in [None, Some((0.028, 1e-3)), Some((0.028, 1e-6)), Some((0.028, 0.0))] {
                let here = one.conductance(contact, gas);
                near(here + 1e-12, turned.conductance(contact, gas) + 1e-12, 1e-9);
                assert!(here >= before || gas.is_none());
                before = here;
            }
            before = one.conductance(contact, None);
        }
        // The contact conducts where the gap is at most 1 % of the radius.
        assert_eq!(pair([WIRE, WIRE], 0.0061e-3).conductance(0.1, None), 0.0);
        assert!(pair([WIRE, WIRE], 0.0059e-3).conductance(0.1, None) > 0.05);
    }
}
