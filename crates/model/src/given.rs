//! Values with their place in the input and how far they can be trusted.

use crate::{Span, Subject};
use core::num::NonZeroU32;

/// A value, where it was written, and a note if it is not simply given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Given<T> {
    /// The value.
    pub value: T,
    /// Where it was written; for an assumed value, the row that lacks it.
    pub at: Span,
    /// Set where the value is recalled, assumed or to be confirmed.
    pub note: Option<NoteId>,
}

impl<T> Given<T> {
    /// A plainly given value.
    pub fn firm(value: T, at: Span) -> Self {
        Given { value, at, note: None }
    }
    /// The same place and standing with another value.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Given<U> {
        Given { value: f(self.value), at: self.at, note: self.note }
    }
}

/// An uncertain number: its least, typical and greatest value, also where all three are equal.
///
/// *low* and *high* order the number itself, not the corner: the low corner of a bus takes the **high** source resistance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread<T> {
    /// Least.
    pub low: Given<T>,
    /// Typical.
    pub typical: Given<T>,
    /// Greatest.
    pub high: Given<T>,
}

impl<T: Copy> Spread<T> {
    /// Three times the same value.
    pub fn exactly(value: Given<T>) -> Self {
        Spread { low: value, typical: value, high: value }
    }
    /// Notes of the three values.
    pub fn notes(&self) -> impl Iterator<Item = NoteId> + use<T> {
        [self.low.note, self.typical.note, self.high.note].into_iter().flatten()
    }
}

/// Which note of [`crate::Design::notes`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteId(NonZeroU32);

impl NoteId {
    /// From a row number.
    pub fn from_row(row: usize) -> NoteId {
        let number = u32::try_from(row + 1).ok().and_then(NonZeroU32::new);
        NoteId(number.expect("fewer than 2^32 - 1 notes"))
    }
    /// The row number.
    pub fn row(self) -> usize {
        self.0.get() as usize - 1
    }
}

/// Why a value is not simply given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Standing {
    /// `TBD`: no value; what needs it is not judged.
    ToDetermine,
    /// `TBC 4.5 A`: used, and everything that rests on it is marked.
    ToConfirm,
    /// A catalog value recalled from memory, not read in its source.
    Recalled,
    /// No value was given and the program assumed one.
    Assumed,
}

impl Standing {
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Standing::ToDetermine => "TBD",
            Standing::ToConfirm => "TBC",
            Standing::Recalled => "recalled",
            Standing::Assumed => "assumed",
        }
    }
}

/// One value that is open, recalled or assumed.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Why.
    pub standing: Standing,
    /// What the value is of, in the trade's words: `length of wire W12`, `contact size 20, greatest resistance`.
    pub what: String,
    /// The value as text with its unit; empty for `TBD`.
    pub value: String,
    /// Source of a recalled value; reason of an assumed one.
    pub source: String,
    /// Where it stands, or the row that lacks it.
    pub at: Span,
    /// The row it belongs to, if it is a row of the vehicle.
    pub subject: Option<Subject>,
    /// The input field (`length`, `power`), as the manual names it.
    pub field: &'static str,
    /// Who answers a `TBD` or `TBC`.
    pub owner: Option<String>,
    /// By which date (YYYY-MM-DD).
    pub need: Option<String>,
}
