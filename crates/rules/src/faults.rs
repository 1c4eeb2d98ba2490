//! What rules of protection ask of the faults of fed wires.

use analysis::protection::{Burning, Protection};
use model::*;

/// Faults of fed wires, with the states that they happen in.
pub struct Faults<'a> {
    /// The faults.
    pub protection: &'a Protection,
    /// Settled states of every phase and corner.
    pub points: &'a [Point],
}

impl Faults<'_> {
    /// The state that a fault happened in.
    pub(crate) fn point(&self, phase: Id<Phase>, corner: Corner) -> &Point {
        let is_it = |point: &&Point| (point.scenario.phase, point.scenario.corner) == (phase, corner);
        self.points.iter().find(is_it).expect("protection: its faults happen in states of the study")
    }

    /// The state of one fault.
    pub(crate) fn point_of(&self, burning: &Burning) -> &Point {
        self.point(burning.fault.phase, burning.fault.corner)
    }
}
