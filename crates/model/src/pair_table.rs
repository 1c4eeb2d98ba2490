//! What two faults at a time come to: functions that neither brings to it alone.

use crate::*;

/// Two faults that bring a function to something worse than either does alone.
#[derive(Clone, Debug, PartialEq)]
pub struct PairRow {
    /// The function.
    pub function: Id<Function>,
    /// Places in the catalogue, the lower first.
    pub faults: [usize; 2],
    /// The worst that it comes to, of both orders and all phases.
    pub effect: Effect,
    /// Why.
    pub reason: Reason,
    /// Which of the two comes first where it is so.
    pub first: usize,
    /// Phases in which the pair does something to it that neither does alone.
    pub phases: Vec<Id<Phase>>,
}

/// Sequences of two faults, by what was done about them: each of two faults comes first once, in each phase.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sequences {
    /// All: faults × (faults − 1) × phases.
    pub all: usize,
    /// A device would have to be stuck in two ways.
    pub excluded: usize,
    /// One conductor is open, or touches structure, at two places that are not known against each other: nothing is said of these.
    pub not_followed: usize,
    /// Either of the two alone loses all that is wanted.
    pub lost_alone: usize,
    /// One of the two changes nothing that a function or the other one stands on.
    pub unchanged: usize,
    /// What the two change lies on no loop together.
    pub apart: usize,
    /// The state is that of another sequence, which is followed.
    pub alike: usize,
    /// Followed each by itself.
    pub followed: usize,
}

impl Sequences {
    /// Adds counts of another part.
    pub fn add(&mut self, more: &Sequences) {
        self.all += more.all;
        self.excluded += more.excluded;
        self.not_followed += more.not_followed;
        self.lost_alone += more.lost_alone;
        self.unchanged += more.unchanged;
        self.apart += more.apart;
        self.alike += more.alike;
        self.followed += more.followed;
    }
}

/// Every pair of faults in some phases.
#[derive(Clone, Debug, Default)]
pub struct PairTable {
    /// The corner of its states.
    pub corner: Corner,
    /// What the faults are of.
    pub catalogue: Catalogue,
    /// The faults that were paired, in the order of the catalogue.
    pub faults: Vec<usize>,
    /// Of each of them whether there is a phase in which no monitor tells of it alone though it changes something.
    pub latent: Vec<bool>,
    /// Functions that work without a fault in each phase and are wanted there, by phase.
    pub wanted: Vec<(Id<Phase>, Vec<Id<Function>>)>,
    /// By function, then by pair.
    pub rows: Vec<PairRow>,
    /// What was done about each sequence.
    pub sequences: Sequences,
    /// States that first faults leave and that differ in something, over all phases.
    pub starts: usize,
    /// States that were settled.
    pub states: usize,
    /// Those of them not on the factor of what they are near to, by why.
    pub afresh: Vec<(&'static str, usize)>,
    /// Whether it was stopped before its end.
    pub partial: bool,
    /// Inputs without which something was not judged: its owner and the field.
    pub lacking: Vec<(Subject, &'static str)>,
}
