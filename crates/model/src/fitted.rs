//! Items that stand on a connector, instead of its mate or in line with it: plugs, caps, savers, adapters.

use crate::*;
use physics::Ohm;

/// What may stand on a connector, with its own connections.
///
/// While it is fitted its own links conduct. The contacts to the connector's mate are open, unless it is in line: then each circuit goes on
/// through it, over one contact more and its own resistance.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// Id in the vehicle.
    pub name: Name,
    /// What it is.
    pub kind: FittedKind,
    /// The connector half it stands on.
    pub connector: Given<Id<Connector>>,
    /// Its connections, in the order written.
    pub links: Vec<Id<FittedLink>>,
    /// Set where it stands between the connector and its mate.
    pub in_line: Option<InLine>,
    /// Where the row stands.
    pub at: Span,
}

/// How an item passes circuits on that stands between two halves.
#[derive(Clone, Debug)]
pub struct InLine {
    /// Resistance of each circuit inside it, its contacts left out.
    pub ohms: Spread<Ohm>,
    /// Pins of the connector whose circuits it does not pass on.
    pub open: Vec<Id<Pin>>,
}

/// Kinds of fitted item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FittedKind {
    /// Closes circuits for flight.
    FlightPlug,
    /// Keeps circuits open, or shorted, on the ground.
    SafePlug,
    /// Shorts the pins of an ordnance circuit.
    ShortingPlug,
    /// Covers the contacts.
    Cap,
    /// Takes the wear of mating in place of the connector.
    Saver,
    /// Brings pins out to test equipment.
    TestAdapter,
}

impl FittedKind {
    /// All, in order.
    pub const ALL: [FittedKind; 6] = [
        FittedKind::FlightPlug,
        FittedKind::SafePlug,
        FittedKind::ShortingPlug,
        FittedKind::Cap,
        FittedKind::Saver,
        FittedKind::TestAdapter,
    ];

    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            FittedKind::FlightPlug => "flight-plug",
            FittedKind::SafePlug => "safe-plug",
            FittedKind::ShortingPlug => "shorting-plug",
            FittedKind::Cap => "cap",
            FittedKind::Saver => "saver",
            FittedKind::TestAdapter => "test-adapter",
        }
    }
}

/// A connection inside a fitted item, with the contacts at both ends.
#[derive(Clone, Debug)]
pub struct FittedLink {
    /// The item.
    pub fitted: Id<Fitted>,
    /// One pin of the connector.
    pub from: Id<Pin>,
    /// The other pin.
    pub to: Id<Pin>,
    /// Resistance from pin to pin.
    pub ohms: Spread<Ohm>,
    /// Where it is written.
    pub at: Span,
}
