//! Harness assemblies.

use crate::*;

/// A harness assembly that is built and installed by itself.
#[derive(Clone, Debug)]
pub struct Assembly {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// Its part number.
    pub part: Option<Given<Name>>,
    /// Halves of connectors: what hangs together with any of them belongs to it.
    pub connectors: Vec<Given<Id<Connector>>>,
    /// Where the row stands.
    pub at: Span,
}
