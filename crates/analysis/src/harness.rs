//! What follows from the layout and is computed when first asked for: bundles, what holds them, what is passed through holes.

use crate::Prepared;
use crate::bundles::{Bundle, Unsized, bundles, with_shield_ends};
use crate::spans::{Held, held};
use crate::threading::{Passing, threading};
use crate::vibration::{Frequencies, frequencies};
use model::*;
use physics::Metre;
use std::sync::OnceLock;

/// Columns beside segments and holes, each filled when first asked for.
#[derive(Default)]
pub(crate) struct Harness {
    bundles: OnceLock<Column<Segment, Bundle>>,
    held: OnceLock<Column<Segment, Held>>,
    threading: OnceLock<Vec<Passing>>,
}

impl Prepared<'_> {
    /// What lies in a segment, packed, with its diameter.
    pub fn bundle(&self, segment: Id<Segment>) -> &Bundle {
        &self.harness.bundles.get_or_init(|| bundles(self.design, &|id| self.layout.members(id).to_vec()))[segment]
    }

    /// What holds a segment.
    pub fn held(&self, segment: Id<Segment>) -> &Held {
        &self.harness.held.get_or_init(|| held(self.design, &|id| !self.layout.members(id).is_empty()))[segment]
    }

    /// What is passed through each hole on installation, in the order of holes.
    pub fn threading(&self) -> &[Passing] {
        self.harness.threading.get_or_init(|| threading(self.design, &|wire| Some(self.layout.run(wire)?.segments.clone())))
    }

    /// Diameter of a segment's bundle, without coverings, at the end where the terminations of shields make it thickest, were they side by
    /// side; `None` if no shield is terminated at either end.
    pub fn shield_ends(&self, segment: Id<Segment>) -> Option<Result<Metre, Unsized>> {
        let row = &self.design.segments[segment];
        let at = |breakout: Id<BranchPoint>| -> Vec<Id<Cable>> {
            let ends_here = |wire: &Id<Wire>| {
                let wire = &self.design.wires[*wire];
                [wire.from.value, wire.to.value].iter().any(|end| self.design.breakout_of(*end).is_some_and(|at| at.value == breakout))
            };
            let shielded = self.layout.members(segment).iter().filter(|wire| ends_here(wire));
            let cables = shielded.filter_map(|wire| Some(self.design.wires[*wire].cable?.value));
            let mut cables: Vec<Id<Cable>> = cables.filter(|cable| self.design.cables[*cable].kind.is_shielded()).collect();
            cables.sort_unstable();
            cables.dedup();
            cables
        };
        let ends = [row.from.value, row.to.value].map(at);
        let found =
            ends.iter().filter(|cables| !cables.is_empty()).map(|cables| with_shield_ends(self.design, self.bundle(segment), cables));
        found.reduce(|a, b| match (a, b) {
            (Ok(a), Ok(b)) => Ok(if b > a { b } else { a }),
            (Err(missing), _) | (_, Err(missing)) => Err(missing),
        })
    }

    /// First frequencies of a stretch of a segment's bundle; or what they lack.
    pub fn frequencies(&self, segment: Id<Segment>, span: Metre) -> Result<Frequencies, Unsized> {
        frequencies(self.design, self.bundle(segment), &self.design.segments[segment], span)
    }
}
