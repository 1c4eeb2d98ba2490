//! What the vehicle is for.

use crate::*;

/// A function of the vehicle and what it needs.
#[derive(Clone, Debug)]
pub struct Function {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// The loads and sensors that must work for it.
    pub needs: Vec<Given<Subject>>,
    /// How late it is given up: a lower tier is kept longer.
    pub tier: Option<Given<u32>>,
    /// Whether what it needs and is on has to stay fed.
    pub must_keep: bool,
    /// How much an hour of it counts among functions of its tier; one where nothing is stated.
    pub worth: Option<Given<u32>>,
    /// Where the row stands.
    pub at: Span,
}
