//! Tables of wire current in force: catalog data chosen by the limits profile.

use crate::*;
use physics::ampacity::{AircraftTables, Conductor, ShortTable, SpaceTable};
use physics::gauge::Awg;
use physics::*;

/// Tables of wire current, as the limits profile names them.
#[derive(Clone, Debug)]
pub struct Ampacity {
    /// `aircraft`, or the rule set of the vacuum currents.
    pub rules: Given<Name>,
    /// The tables.
    pub tables: AmpacityTables,
    /// Notes on the rows of a metal and gauge, of those in use.
    pub row_notes: Vec<((Conductor, Awg), NoteId)>,
    /// Notes on what every current of the tables rests on: factors, conditions.
    pub notes: Vec<NoteId>,
    /// Where the tables come from, one line each.
    pub sources: Vec<String>,
}

impl Ampacity {
    /// Notes of what the current of a metal and gauge rests on.
    pub fn notes_of(&self, metal: Conductor, gauge: Awg) -> impl Iterator<Item = NoteId> {
        self.row_notes.iter().filter(move |(of, _)| *of == (metal, gauge)).map(|(_, note)| *note).chain(self.notes.iter().copied())
    }
}

/// Tables of one kind.
#[derive(Clone, Debug)]
pub enum AmpacityTables {
    /// Wires in air: single ones with factors for bundle and altitude, and the short table beside.
    Air {
        /// Single wires and factors.
        long: AircraftTables,
        /// The short table, which holds its factors; `None` where its conditions are not stated.
        short: Option<ShortTable>,
    },
    /// Wires in vacuum.
    Vacuum(SpaceTable),
}

/// A gauge's row of a chart of breakers and fuses.
#[derive(Clone, Debug)]
pub struct ProtectedGauge {
    /// The gauge.
    pub gauge: Awg,
    /// Largest rating of a circuit breaker.
    pub breaker: Option<Given<Ampere>>,
    /// Largest rating of a fuse.
    pub fuse: Option<Given<Ampere>>,
    /// Where the row stands.
    pub at: Span,
}

/// A chart of the largest breaker and fuse by gauge, as the limits profile names it.
#[derive(Clone, Debug)]
pub struct ProtectorChart {
    /// Its name.
    pub name: Given<Name>,
    /// Its rows.
    pub rows: Vec<ProtectedGauge>,
    /// Where it comes from.
    pub source: String,
}
