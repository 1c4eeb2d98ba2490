//! Interface control sheets: what each pin of a unit means, and since when.

use crate::*;

/// Interface control sheet of a unit.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// Id of the document.
    pub name: Name,
    /// The unit it describes.
    pub unit: Given<Id<Unit>>,
    /// Its revision: `A`, `B`, … or `1`, `2`, …
    pub revision: Option<Given<Name>>,
    /// Its date (YYYY-MM-DD).
    pub date: Option<Given<std::sync::Arc<str>>>,
    /// Draft or released.
    pub status: Option<Given<SheetStatus>>,
    /// Where the row stands.
    pub at: Span,
}

/// How far a sheet may be built to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetStatus {
    /// It may still change.
    Draft,
    /// It is what the unit is built to.
    Released,
}

/// A pin's row on an interface sheet: a port.
#[derive(Clone, Debug)]
pub struct Port {
    /// The pin.
    pub pin: Id<Pin>,
    /// The sheet it stands on.
    pub sheet: Option<Given<Id<Sheet>>>,
    /// What the pin is for.
    pub meaning: Given<PinMeaning>,
    /// Name of the signal on it.
    pub signal: Option<Given<Name>>,
    /// The pin that this one's current comes back on.
    pub own_return: Option<Given<Id<Pin>>>,
    /// Revision of the sheet in which the row last changed.
    pub changed: Option<Given<Name>>,
    /// An unused cavity whose contact is tied to ground.
    pub grounded: bool,
    /// The row.
    pub at: Span,
}

/// What a pin is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PinMeaning {
    /// The unit takes power here.
    PowerIn,
    /// The unit gives power here.
    PowerOut,
    /// Return of power.
    Return,
    /// A signal.
    Signal,
    /// Return of a signal.
    SignalReturn,
    /// Termination of a shield.
    Shield,
    /// The unit's case.
    Chassis,
    /// An ordnance circuit.
    Ordnance,
    /// A command that acts on a short to power.
    Command,
    /// An input or output in millivolts.
    Millivolt,
    /// Unused; a wire may land on it.
    Spare,
    /// Nothing may land on it.
    NoConnect,
}

impl PinMeaning {
    /// All, in order.
    pub const ALL: [PinMeaning; 12] = [
        PinMeaning::PowerIn,
        PinMeaning::PowerOut,
        PinMeaning::Return,
        PinMeaning::Signal,
        PinMeaning::SignalReturn,
        PinMeaning::Shield,
        PinMeaning::Chassis,
        PinMeaning::Ordnance,
        PinMeaning::Command,
        PinMeaning::Millivolt,
        PinMeaning::Spare,
        PinMeaning::NoConnect,
    ];

    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            PinMeaning::PowerIn => "power-in",
            PinMeaning::PowerOut => "power-out",
            PinMeaning::Return => "return",
            PinMeaning::Signal => "signal",
            PinMeaning::SignalReturn => "signal-return",
            PinMeaning::Shield => "shield",
            PinMeaning::Chassis => "chassis",
            PinMeaning::Ordnance => "ordnance",
            PinMeaning::Command => "command",
            PinMeaning::Millivolt => "millivolt",
            PinMeaning::Spare => "spare",
            PinMeaning::NoConnect => "no-connect",
        }
    }
}
