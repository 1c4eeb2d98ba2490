//! Which kind of path brings current where none is meant.
//!
//! # Source  The four patterns of nodal sets (power dome, ground dome, combination, and ties across supplies): sneak circuit analysis as practised since the 1970s,
//! common practice, recalled from memory; no figure is taken from anywhere.

use model::*;
use std::collections::BTreeSet;

/// Feeds and returns of all loads as they are meant: elements on the ways to and from them.
#[derive(Clone, Debug, Default)]
pub struct Meant {
    /// On the way to a load.
    pub feeds: BTreeSet<ElementId>,
    /// On the way back.
    pub returns: BTreeSet<ElementId>,
    /// Loads that carry something as it is meant: what hangs between two lines of one potential is an indicator and carries nothing then.
    pub loads: BTreeSet<ElementId>,
}

impl Meant {
    /// Adds a load with its way.
    pub fn add(&mut self, load: ElementId, ladder: &Ladder) {
        self.loads.insert(load);
        self.feeds.extend(ladder.feed.iter().map(|step| step.element));
        self.returns.extend(ladder.back.iter().map(|step| step.element));
    }
}

/// The pattern of a way that brings current to an element, beside the one that is meant.
///
/// What counts is what the way shares with others and not with the element's own: feeds alone make a power dome, returns alone a ground dome, both a
/// combination; a way through another load shares both. Fed from another source than meant it ties two supplies.
///
/// Cost: linear in the two ways.
pub fn pattern(own: &Ladder, way: &Ladder, meant: &Meant) -> SneakPattern {
    let mine: BTreeSet<ElementId> = own.feed.iter().chain(&own.back).map(|step| step.element).collect();
    let foreign: Vec<ElementId> =
        way.feed.iter().chain(&way.back).map(|step| step.element).filter(|element| !mine.contains(element)).collect();
    if own.source.is_some() && way.source.is_some() && own.source != way.source {
        return SneakPattern::CrossTie;
    }
    // Through another load the way leaves a feed and enters a return, or the other way round.
    let through = foreign.iter().any(|element| meant.loads.contains(element));
    let feeds = foreign.iter().any(|element| meant.feeds.contains(element));
    let returns = foreign.iter().any(|element| meant.returns.contains(element));
    match (feeds, returns, through) {
        (_, _, true) | (true, true, _) => SneakPattern::Combined,
        (false, true, _) => SneakPattern::GroundDome,
        _ => SneakPattern::PowerDome,
    }
}
