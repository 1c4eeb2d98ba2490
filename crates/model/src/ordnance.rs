//! Electric initiators, from their own sheets: nothing of them is taken for granted.

use crate::*;
use physics::{Ampere, Ratio, Second};

/// A load whose bridge wire fires a charge.
#[derive(Clone, Debug)]
pub struct Initiator {
    /// Id in the vehicle.
    pub name: Name,
    /// The bridge wire.
    pub load: Given<Id<Load>>,
    /// What happens when it fires.
    pub hazard: String,
    /// Inhibits that have to stand between it and every source while it is not commanded.
    pub inhibits: Option<Given<u32>>,
    /// Least current that fires it.
    pub all_fire: Option<Given<Ampere>>,
    /// Time for which that current has to flow.
    pub all_fire_time: Option<Given<Second>>,
    /// Greatest current that does not fire it.
    pub no_fire: Option<Given<Ampere>>,
    /// Where the row stands.
    pub at: Span,
}

/// What a limits profile says of initiators.
#[derive(Clone, Copy, Debug, Default)]
pub struct OrdnanceLimits {
    /// Least firing current over the all-fire current.
    pub firing_margin: Option<Given<Ratio>>,
    /// Greatest share of its no-fire current that may flow in an initiator that is not meant to fire.
    pub stray_share: Option<Given<Ratio>>,
    /// Greatest current that may flow there, whatever its no-fire current.
    pub stray_current: Option<Given<Ampere>>,
}
