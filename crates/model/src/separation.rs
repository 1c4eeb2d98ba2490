//! The parting of a vehicle or an umbilical: what is done when, which contacts part, and what the states in between come to.

use crate::*;
use physics::*;

/// An event in which connectors part.
#[derive(Clone, Debug)]
pub struct Separation {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// The phase it happens in. What no step names stands as it does there.
    pub phase: Given<Id<Phase>>,
    /// Structure paths that part too, at a time that nobody knows.
    pub structure: Vec<Given<Id<StructurePath>>>,
    /// Wires that tell of the parting by being cut.
    pub loops: Vec<Given<Id<Wire>>>,
    /// Greatest current in a contact of a signal, where its wires declare none.
    pub signal_current: Option<Given<Ampere>>,
    /// Greatest voltage of a unit's return against the ground of its half.
    pub reference_shift: Option<Given<Volt>>,
    /// Steps, in the order written.
    pub steps: Vec<Step>,
    /// Where the row stands.
    pub at: Span,
}

/// Something that happens in a separation.
#[derive(Clone, Debug)]
pub struct Step {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// Earliest, typical and latest time.
    pub time: Spread<Second>,
    /// What happens.
    pub act: Act,
    /// The load whose unit commands it.
    pub by: Option<Given<Id<Load>>>,
    /// Where the row stands.
    pub at: Span,
}

/// What happens in a step.
#[derive(Clone, Debug)]
pub enum Act {
    /// Elements are commanded; before it they stand the other way.
    Command(Vec<Given<(ElementId, Commanded)>>),
    /// Contacts of connectors part, in any order but that of their groups.
    Release(Vec<Released>),
    /// A blade passes through segments of the harness.
    Cut(Vec<Given<Id<Segment>>>),
}

/// A contact that parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Released {
    /// The contact.
    pub contact: Id<Contact>,
    /// Its group within its connector: all of an earlier one have parted before one of a later one does.
    pub turn: Turn,
}

/// When a contact of a connector parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Turn {
    /// A short contact: before the others.
    First,
    /// With the others.
    Middle,
    /// A long contact: after the others.
    Last,
}

/// An input of a unit that commands something.
#[derive(Clone, Debug)]
pub struct CommandInput {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// The pin.
    pub pin: Given<Id<Pin>>,
    /// What the unit takes it for while nothing drives it.
    pub open_reads: Option<Given<OpenReads>>,
    /// What it commands while it is on; while it is off these stand the other way.
    pub states: Vec<Given<(ElementId, Commanded)>>,
    /// Where the row stands.
    pub at: Span,
}

/// What a unit takes an input for while nothing drives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenReads {
    /// For off.
    Off,
    /// For on.
    On,
    /// Its sheet leaves it open.
    Either,
}

impl OpenReads {
    /// All, in the order of the words of the input.
    pub const ALL: [OpenReads; 3] = [OpenReads::Off, OpenReads::On, OpenReads::Either];

    /// The word used in the input.
    pub fn word(self) -> &'static str {
        match self {
            OpenReads::Off => "off",
            OpenReads::On => "on",
            OpenReads::Either => "either",
        }
    }
}

/// What a contact of a separation is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ContactRole {
    /// Power, live while everything is mated and nothing is dead yet.
    Feed,
    /// Power, at the potential of returns.
    Return,
    /// Signals, their returns and shields.
    Signal,
    /// No interface sheet says what it is for.
    NotKnown,
}

/// How devices stand while contacts part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Variant {
    /// Everything has been done that the times say.
    Planned,
    /// These steps come later than contacts part.
    Late(Vec<usize>),
    /// A device of a step did not move.
    Stuck(ElementId),
    /// Everything is mated, and the steps up to this one are done.
    After(usize),
    /// Nothing drives this input any more, and its unit takes it for on, or for off.
    Floats(Id<CommandInput>, Commanded),
}

/// How the worst partial states of a variant were found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Searched {
    /// Every partial state was settled with every load by its own law.
    Settled,
    /// Every partial state, with loads as resistances; the worst were then settled.
    Linear,
    /// Branch and bound with loads as resistances: so many states were left out because they could not be worse; what was not finished is at most what
    /// [`PartialWorst::at_most`] says. The worst were then settled.
    Bounded,
}

/// What is worst in a partial state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Target {
    /// Current in a contact, A.
    Current(Id<Contact>),
    /// Current in a feed with every return of its own circuit parted, A.
    Alone(Id<Contact>),
    /// A load's return against the ground of its half, V.
    Shift(Id<Load>),
    /// Least voltage of a load that works before and after, V.
    Volts(Id<Load>),
    /// Current into the positive terminal of a battery or supply, A.
    Charges(Id<Source>),
}

/// The worst that a quantity comes to in any partial state.
#[derive(Clone, Debug, PartialEq)]
pub struct PartialWorst {
    /// What.
    pub target: Target,
    /// How much, of the settled state.
    pub value: f64,
    /// The same with everything mated.
    pub mated: f64,
    /// What it may be at most where the search was stopped before its end.
    pub at_most: Option<f64>,
    /// The variant, by its place in [`SeparationResult::variants`].
    pub variant: usize,
    /// The corner.
    pub corner: Corner,
    /// What has parted in that state.
    pub parted: Vec<ElementId>,
}

/// Partial states of one variant in one corner.
#[derive(Clone, Debug, PartialEq)]
pub struct VariantSearch {
    /// How devices stand.
    pub variant: Variant,
    /// The corner.
    pub corner: Corner,
    /// Contacts and structure paths on loops: these carry something in some partial state.
    pub on_loops: Vec<ElementId>,
    /// Contacts on no loop: they carry nothing whatever has parted.
    pub left_out: usize,
    /// Partial states looked at.
    pub examined: usize,
    /// Those that the order of contacts and connectors excludes.
    pub excluded: usize,
    /// How.
    pub searched: Searched,
}

/// A contact half after the parting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stub {
    /// The pin.
    pub pin: Id<Pin>,
    /// Voltage against the ground of its half, else between it and what its half has of lowest potential.
    pub volts: Volt,
    /// The variant, by its place.
    pub variant: usize,
    /// The corner.
    pub corner: Corner,
}

/// A half after the parting: what still conducts together and is driven.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftHalf {
    /// Sources that drive it.
    pub sources: Vec<ElementId>,
    /// Ground points in it.
    pub grounds: Vec<Id<Ground>>,
    /// What joins those to the rest, structure paths aside.
    pub bonds: usize,
    /// Loads that work in it.
    pub loads: usize,
}

/// What an order of contacts would do.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderTried {
    /// In words.
    pub words: String,
    /// Greatest current in a signal contact, A.
    pub signal: f64,
    /// Greatest current in any contact, A.
    pub contact: f64,
    /// Greatest shift of a unit's reference, V.
    pub shift: f64,
}

/// A step when it happens.
#[derive(Clone, Debug, PartialEq)]
pub struct Commands {
    /// The step, by its place in the separation.
    pub step: usize,
    /// Whether who commands it has power then; `None` where no one is named.
    pub by_fed: Option<bool>,
    /// Whether contacts may have parted before it.
    pub after_parting: bool,
}

/// Wires under a blade.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridged {
    /// The step, by its place.
    pub step: usize,
    /// Wires that the blade bridges to each other and to structure.
    pub wires: Vec<Id<Wire>>,
    /// Greatest current into the blade from any of them, A, with the wire.
    pub worst: Option<(Id<Wire>, f64)>,
    /// The corner.
    pub corner: Corner,
    /// Whether its state has an operating point.
    pub settled: bool,
    /// Loads that work before and lose their voltage while it passes.
    pub upset: Vec<Id<Load>>,
}

/// An input whose wire parts.
#[derive(Clone, Debug, PartialEq)]
pub struct FloatingInput {
    /// The input.
    pub input: Id<CommandInput>,
    /// A contact on its way that parts.
    pub contact: Id<Contact>,
    /// What it moves that stood otherwise while contacts part or afterwards, should it be taken for on.
    pub moves: Vec<ElementId>,
}

/// How a function stands that works before a separation and is wanted in its phase.
#[derive(Clone, Debug, PartialEq)]
pub struct FunctionParted {
    /// When everything has parted, in its worst corner: kept, degraded, lost or not known.
    pub after: FunctionCase,
    /// That corner.
    pub corner: Corner,
    /// Of one that is not lost then, where it stands worse in between: as planned, late or with a floating input, and with a device stuck.
    pub between: [Option<FunctionBetween>; 2],
}

/// A partial state in which a function stands worse than afterwards.
#[derive(Clone, Debug, PartialEq)]
pub struct FunctionBetween {
    /// How it stands.
    pub case: FunctionCase,
    /// The variant, by its place.
    pub variant: usize,
    /// The corner.
    pub corner: Corner,
    /// What has parted.
    pub parted: Vec<ElementId>,
}

/// What a separation comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct SeparationResult {
    /// Which.
    pub separation: Id<Separation>,
    /// Contacts that part.
    pub contacts: Vec<(Id<Contact>, ContactRole)>,
    /// How devices may stand.
    pub variants: Vec<Variant>,
    /// What was looked at.
    pub searches: Vec<VariantSearch>,
    /// The worst of each quantity, in the planned and the late variants, by target.
    pub worst: Vec<PartialWorst>,
    /// The same where a device of a step is stuck.
    pub stuck: Vec<PartialWorst>,
    /// Orders tried, the given one first.
    pub orders: Vec<OrderTried>,
    /// Feeds while everything is mated and no step is done: the current of each and its circuit, the greatest first.
    pub feeds: Vec<(Id<Contact>, Option<Id<Circuit>>, f64)>,
    /// Live stubs afterwards.
    pub stubs: Vec<Stub>,
    /// What is left afterwards.
    pub halves: Vec<LeftHalf>,
    /// Loads that work before the parting, should after it, and do not.
    pub lost: Vec<Id<Load>>,
    /// Functions that work before.
    pub functions: Vec<FunctionParted>,
    /// Inputs whose wires part, and of which a row says what they are taken for then.
    pub floating: Vec<FloatingInput>,
    /// Contacts that part on the way of a command of which no row says what its input is taken for.
    pub unknown_inputs: Vec<Id<Contact>>,
    /// Steps with who commands them.
    pub commands: Vec<Commands>,
    /// What blades bridge.
    pub bridged: Vec<Bridged>,
    /// States that did not settle, in words.
    pub unsettled: Vec<String>,
}

/// All separations of a vehicle.
#[derive(Clone, Debug, Default)]
pub struct SeparationTable {
    /// In the order of the input.
    pub events: Vec<SeparationResult>,
    /// Stray currents in initiators, by initiator and phase.
    pub stray: Vec<Stray>,
    /// Hazardous functions with their inhibits and what removes each.
    pub hazards: Vec<Hazard>,
    /// Whether it was stopped before its end.
    pub partial: bool,
}

/// The greatest current through an initiator that is not commanded, under any single fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Stray {
    /// The initiator.
    pub initiator: Id<Initiator>,
    /// The phase.
    pub phase: Id<Phase>,
    /// The corner.
    pub corner: Corner,
    /// Without a fault, A.
    pub without: f64,
    /// With the worst fault, A.
    pub current: f64,
    /// The fault, by its place in the catalogue; `None` where none brings more than flows without.
    pub fault: Option<Fault>,
    /// States looked at.
    pub states: usize,
    /// Faults whose state does not settle.
    pub unsettled: usize,
}

/// A hazardous function: an initiator in the phase in which the fewest inhibits stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Hazard {
    /// The initiator.
    pub initiator: Id<Initiator>,
    /// The phase with the fewest.
    pub phase: Id<Phase>,
    /// Inhibits of the way that has the fewest, each with the single faults that remove it.
    pub inhibits: Vec<(ElementId, Vec<Fault>)>,
    /// Single faults that remove more than one at a time, with how many are left.
    pub shared: Vec<(Fault, usize)>,
    /// Inhibits that one coil or driver moves.
    pub drives: Vec<(Name, Vec<ElementId>)>,
}

/// How a path that nobody drew brings current somewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SneakPattern {
    /// Through feeds of others.
    PowerDome,
    /// Through returns of others.
    GroundDome,
    /// Through both, or through another load.
    Combined,
    /// From another source.
    CrossTie,
}

impl SneakPattern {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            SneakPattern::PowerDome => "power dome",
            SneakPattern::GroundDome => "ground dome",
            SneakPattern::Combined => "combined dome",
            SneakPattern::CrossTie => "cross tie",
        }
    }
}
