//! A bundle as a thing of size: coverings, fill of an opening, bend radius, ties.

use crate::{Metre, Ratio, SquareMetre};
use core::f64::consts::PI;

/// Diameter of a bundle by the rule of thumb D = k √(Σ d²).
///
/// k = 1.05 is the endless hexagonal packing and no real bundle, 1.15 a close lay by hand, 1.2 the usual design value, 1.25 to 1.3 loose, with
/// crossings (trade habit, from memory). For 2 to 6 wires k = 1.2 promises less than geometry allows: pack them (see
/// [`pack`](crate::packing::pack)).
///
/// # Units     `diameters` (m) finished outside diameters, `looseness` k (1) → (m)
/// # Validity  Many wires.
/// # Source    Balance of areas: k is 1/√(packing fraction) (computed).
pub fn rule_of_thumb(diameters: &[Metre], looseness: f64) -> Metre {
    Metre(looseness * diameters.iter().map(|d| d.0 * d.0).sum::<f64>().sqrt())
}

/// Diameter of full hexagonal shells of equal wires: d √((4 N − 1)/3).
///
/// # Units     `diameter` d (m) → (m); 0 for no wires
/// # Validity  Exact for hexagonal shells at N = 1, 7, 19, 37, 61, 91; between them a smooth guess.
/// # Source    Computed: N = 3 m (m + 1) + 1 wires in m shells measure (2 m + 1) d.
pub fn hexagonal_shells(count: u32, diameter: Metre) -> Metre {
    diameter * ((4.0 * f64::from(count) - 1.0).max(0.0) / 3.0).sqrt()
}

/// What lies around a bundle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Covering {
    /// Tape of a thickness, lapped by half: two layers on each side.
    Tape {
        /// Thickness of the tape.
        thickness: Metre,
    },
    /// Sleeve or tube of a wall, after it has shrunk.
    Sleeve {
        /// Wall after recovery.
        wall: Metre,
    },
    /// Braid of strands.
    Braid {
        /// Diameter of a strand.
        strand: Metre,
        /// Built-up thickness in strand diameters: 2 to 2.5 (trade habit, from memory).
        build: f64,
    },
}

/// Diameter over coverings, from the inside out: tape adds 4 t, a sleeve 2 w, a braid twice its built-up thickness.
///
/// # Units     (m) → (m)
/// # Source    Tape and sleeve: computed, geometry. Built-up thickness of a braid: trade habit (from memory).
pub fn covered(bundle: Metre, coverings: &[Covering]) -> Metre {
    coverings.iter().fold(bundle, |diameter, covering| {
        diameter
            + match *covering {
                Covering::Tape { thickness } => 4.0 * thickness,
                Covering::Sleeve { wall } => 2.0 * wall,
                Covering::Braid { strand, build } => 2.0 * build * strand,
            }
    })
}

/// Area of a circle.
pub fn circle(diameter: Metre) -> SquareMetre {
    SquareMetre(PI / 4.0 * diameter.0 * diameter.0)
}

/// Fill of an opening: the wires' area as a share of the opening's.
///
/// # Units     (m) → (1); above 1 the wires have more area than the opening
/// # Source    Computed.
pub fn fill(diameters: &[Metre], opening: Metre) -> Ratio {
    Ratio(diameters.iter().map(|d| circle(*d).0).sum::<f64>() / circle(opening).0)
}

/// Area that wires may take in an opening at a fill limit: what routes are held to.
///
/// # Units     `opening` (m), `fill` (1) → (m²)
/// # Source    Computed.
pub fn room(opening: Metre, fill: Ratio) -> SquareMetre {
    SquareMetre(circle(opening).0 * fill.0)
}

/// What is left around a covered bundle in an opening, on each side when it lies in the middle; negative if it does not pass.
///
/// To be held against the clearance at an unclamped penetration, below which a grommet is due: 3/8 in, FAA AC 43.13-1B CHG 1, par. 11-115
/// (read).
///
/// # Units     (m) → (m)
/// # Source    Computed.
pub fn clearance(covered: Metre, opening: Metre) -> Metre {
    (opening - covered) / 2.0
}

/// What a bend radius is a multiple of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BendOf {
    /// The whole harness with its coverings.
    Bundle,
    /// The wire or cable itself.
    Member,
}

/// Bend radius as a multiple of a diameter: a row of data with its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendRule {
    /// What it is a multiple of.
    pub of: BendOf,
    /// Least radius at any time, in diameters.
    pub minimum: f64,
    /// Radius to be kept for long, in diameters.
    pub preferred: Option<f64>,
}

/// Inside radius that a harness must keep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendRadius {
    /// Least radius at any time.
    pub minimum: Metre,
    /// The member that demands it.
    pub governed_by: usize,
    /// Radius to be kept for long, where any rule states one.
    pub preferred: Option<Metre>,
}

/// Inside bend radius of a harness: the most sensitive member sets it. `None` without members.
///
/// # Units     `bundle` (m) outside diameter with coverings, `members` (m) with the rule of each → (m)
/// # Validity  Measured on the inside of the bend.
/// # Source    Most sensitive member governs: NASA Workmanship book 4 (2002), sec. 4.01 and 4.02, citing NASA-STD-8739.4 (read).
pub fn bend_radius(bundle: Metre, members: &[(Metre, BendRule)]) -> Option<BendRadius> {
    let mut found: Option<BendRadius> = None;
    for (index, (own, rule)) in members.iter().enumerate() {
        let of = match rule.of {
            BendOf::Bundle => bundle,
            BendOf::Member => *own,
        };
        let (minimum, preferred) = (of * rule.minimum, rule.preferred.map(|factor| of * factor));
        found = Some(match found {
            None => BendRadius { minimum, governed_by: index, preferred },
            Some(before) => {
                let preferred = match (before.preferred, preferred) {
                    (Some(a), Some(b)) => Some(if b > a { b } else { a }),
                    (a, b) => a.or(b),
                };
                let governs = minimum > before.minimum;
                BendRadius {
                    minimum: if governs { minimum } else { before.minimum },
                    governed_by: if governs { index } else { before.governed_by },
                    preferred,
                }
            }
        });
    }
    found
}

/// One step of a table by bundle diameter: up to and with `to`, or without end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupportStep {
    /// Largest bundle that the row is for; `None` for the last.
    pub to: Option<Metre>,
    /// Farthest that two ties or clamps may be apart.
    pub pitch: Metre,
}

/// Largest distance between ties (or clamps) of a bundle, from a table in rising order. A bundle on the boundary of two rows takes the
/// earlier, closer one. `None` if the table ends below the bundle.
///
/// # Units     (m) → (m)
/// # Source    The table's rows: NASA-STD-8739.4A, table 9-1 (from memory); FAA AC 43.13-1B, par. 11-96a, clamps (read).
pub fn support_pitch(table: &[SupportStep], bundle: Metre) -> Option<Metre> {
    // A packed diameter is rounded by less than this; that decides no row.
    const ROUNDED: f64 = 1e-9;
    table.iter().find(|step| step.to.is_none_or(|to| bundle.0 <= to.0 * (1.0 + ROUNDED))).map(|step| step.pitch)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: Metre, expected_mm: f64) {
        assert!((value.0 * 1e3 - expected_mm).abs() < 1e-3, "{} mm is not {expected_mm} mm", value.0 * 1e3);
    }

    fn mm(value: f64) -> Metre {
        Metre(value * 1e-3)
    }

    /// 8 wires of 1.24 mm, 4 of 1.55, 2 of 2.00, k = 1.15: 1.15 √(12.3008 + 9.61 + 8) = 6.289 mm (worked by hand).
    #[test]
    fn diameter_by_rule_of_thumb() {
        let wires = [vec![mm(1.24); 8], vec![mm(1.55); 4], vec![mm(2.0); 2]].concat();
        near(rule_of_thumb(&wires, 1.15), 6.2894);
        // What geometry says of the same wires lies between the endless packing and a loose lay.
        let packed = crate::packing::pack(&wires).expect("positive diameters").outline;
        assert!(packed > rule_of_thumb(&wires, 1.05) && packed < rule_of_thumb(&wires, 1.3), "{packed:?}");
    }

    /// 1, 7, 19 and 37 equal wires of 1 mm in hexagonal shells: 1, 3, 5, 7 mm (geometry); the optimum for 19 is 4.864 mm.
    #[test]
    fn hexagonal_shells_of_equal_wires() {
        for (count, expected) in [(1, 1.0), (7, 3.0), (19, 5.0), (37, 7.0)] {
            near(hexagonal_shells(count, mm(1.0)), expected);
        }
        assert_eq!(hexagonal_shells(0, mm(1.0)), Metre(0.0));
    }

    /// 6 mm, tape of 0.05 mm (+0.2), braid of 0.1 mm strands built up 2.5 high (+0.5), sleeve of 0.4 mm (+0.8): 7.5 mm.
    #[test]
    fn coverings_from_the_inside_out() {
        let all =
            [Covering::Tape { thickness: mm(0.05) }, Covering::Braid { strand: mm(0.1), build: 2.5 }, Covering::Sleeve { wall: mm(0.4) }];
        near(covered(mm(6.0), &all), 7.5);
        near(covered(mm(6.0), &[]), 6.0);
    }

    /// Seven wires of 1 mm in a hole of 4 mm: 7/16 of it.
    #[test]
    fn fill_and_clearance_of_a_hole() {
        let wires = vec![mm(1.0); 7];
        assert!((fill(&wires, mm(4.0)).0 - 0.4375).abs() < 1e-12);
        assert!((room(mm(4.0), Ratio(0.4375)).0 - 7.0 * circle(mm(1.0)).0).abs() < 1e-18);
        near(clearance(mm(3.0), mm(4.0)), 0.5);
        near(clearance(mm(5.0), mm(4.0)), -0.5);
    }

    /// 9.0 mm of polyimide harness: 90 mm at least, 135 mm for long (NASA Workmanship book 4, sec. 4.03, citing NASA-STD-8739.4
    /// par. 7.3.21: 10 and 15 diameters (read)). Not polyimide: 6 and 10.
    #[test]
    fn bend_of_a_polyimide_harness() {
        let polyimide = BendRule { of: BendOf::Bundle, minimum: 10.0, preferred: Some(15.0) };
        let other = BendRule { of: BendOf::Bundle, minimum: 6.0, preferred: Some(10.0) };
        let coax = BendRule { of: BendOf::Member, minimum: 6.0, preferred: None };
        let bend = bend_radius(mm(9.0), &[(mm(1.2), other), (mm(1.0), polyimide), (mm(5.0), coax)]).expect("members");
        near(bend.minimum, 90.0);
        near(bend.preferred.expect("stated"), 135.0);
        assert_eq!(bend.governed_by, 1);
        near(bend_radius(mm(9.0), &[(mm(1.2), other)]).expect("a member").minimum, 54.0);
        // A thick coax in a thin harness governs by its own diameter: 6 × 5 against 6 × 4.
        let bend = bend_radius(mm(4.0), &[(mm(1.2), other), (mm(5.0), coax)]).expect("members");
        near(bend.minimum, 30.0);
        near(bend.preferred.expect("the other's"), 40.0);
        assert_eq!(bend.governed_by, 1);
        assert_eq!(bend_radius(mm(4.0), &[]), None);
    }

    /// NASA-STD-8739.4A, table 9-1 (from memory): 19.1, 38.1, 50.8 and 76.2 mm by bundle; both sides of each boundary and the boundary.
    #[test]
    fn ties_by_bundle_diameter() {
        let step = |to: f64, pitch: f64| SupportStep { to: Some(mm(to)), pitch: mm(pitch) };
        let table = [step(6.4, 19.1), step(12.7, 38.1), step(25.4, 50.8), SupportStep { to: None, pitch: mm(76.2) }];
        for (bundle, pitch) in [(6.3, 19.1), (6.4, 19.1), (6.5, 38.1), (12.7, 38.1), (12.8, 50.8), (25.5, 76.2), (90.0, 76.2)] {
            assert_eq!(support_pitch(&table, mm(bundle)), Some(mm(pitch)), "{bundle} mm");
        }
        assert_eq!(support_pitch(&table, mm(6.4 + 1e-10)), Some(mm(19.1)));
        assert_eq!(support_pitch(&table[..1], mm(7.0)), None);
    }
}
