//! Build practice from the catalog: how sharply a harness may be bent, how far apart it is held and tied.

use crate::*;
use physics::bundle::{BendRule, SupportStep};

/// Rows of the catalog that a vehicle with segments is built to.
#[derive(Clone, Debug, Default)]
pub struct Practice {
    /// Bend radii of the profile's practice, in the order of the catalog; empty if the profile names none.
    pub bends: Vec<BendRow>,
    /// Farthest that two ties may be apart, by the diameter of the bundle, in rising order.
    pub ties: Vec<SupportRow>,
    /// Farthest that two clamps may be apart, by the diameter of the bundle, in rising order.
    pub clamps: Vec<SupportRow>,
}

/// Bend radius of one kind of insulation.
#[derive(Clone, Debug)]
pub struct BendRow {
    /// What it is for.
    pub of: Insulation,
    /// The radius, as a multiple of a diameter.
    pub rule: BendRule,
    /// Set where the row is recalled or assumed.
    pub note: Option<NoteId>,
    /// Where it stands.
    pub at: Span,
}

/// What bend radii tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Insulation {
    /// Polyimide, alone or under PTFE.
    Polyimide,
    /// A coaxial cable.
    Coaxial,
    /// Anything else.
    Other,
}

impl Insulation {
    /// The word used in the catalog.
    pub fn word(self) -> &'static str {
        match self {
            Insulation::Polyimide => "polyimide",
            Insulation::Coaxial => "coax",
            Insulation::Other => "other",
        }
    }
}

/// A step of a table of ties or clamps.
#[derive(Clone, Debug)]
pub struct SupportRow {
    /// Up to which bundle, and how far apart.
    pub step: SupportStep,
    /// Set where the row is recalled or assumed.
    pub note: Option<NoteId>,
    /// Where it stands.
    pub at: Span,
}

impl Practice {
    /// The row of a kind of insulation.
    pub fn bend(&self, of: Insulation) -> Option<&BendRow> {
        self.bends.iter().find(|row| row.of == of)
    }
}
