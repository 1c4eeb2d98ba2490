//! What a mass estimate adds to what is computed.

use crate::*;
use physics::Ratio;

/// Allowance and growth of the harness, as the vehicle states them.
#[derive(Clone, Debug, Default)]
pub struct MassPractice {
    /// Ties, lacing, sleeves and labels that have no row, as a share of the mass of bare wires.
    pub allowance: Option<Given<Ratio>>,
    /// How far the design has come.
    pub stage: Option<Given<Name>>,
    /// Growth still to be expected at that stage, as a share.
    pub growth: Option<Given<Ratio>>,
    /// Where the growth comes from.
    pub growth_source: String,
}
