//! How long what must be kept lasts with what is left, and what to keep beside it: the answer.

use crate::*;
use physics::*;

/// What a run through the mission is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Mark {
    /// Least voltage of a bus.
    Bus(Id<InnerNode>),
    /// Least voltage at a load that is on and fed.
    Load(Id<Load>),
    /// Greatest current through a device, either way.
    Device(Id<Protector>),
    /// Greatest current that a battery gives.
    Battery(Id<Source>),
}

/// How a battery stands at the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryStart {
    /// The battery.
    pub battery: Id<Source>,
    /// Share of its charge that is left.
    pub left: Option<Ratio>,
    /// Temperature of its cells.
    pub temperature: Option<Kelvin>,
}

/// How a battery stands at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryStands {
    /// The battery.
    pub battery: Id<Source>,
    /// Share of its charge that is left.
    pub left: Ratio,
    /// Temperature of its cells.
    pub temperature: Kelvin,
    /// What it gives.
    pub current: Ampere,
    /// At its terminals.
    pub volts: Volt,
    /// Whether it is connected.
    pub on: bool,
}

/// What takes a load off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lever {
    /// These devices, which feed nothing else that is on.
    Open(Vec<ElementId>),
    /// Its own command.
    Own,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Endurance {
    /// Corner that it is judged in.
    pub corner: Corner,
    /// How long is needed.
    pub need: Second,
    /// Whether the need was stated, or is the rest of the mission.
    pub is_stated: bool,
    /// Time planned for: the need, or what is reached of it.
    pub planned: Second,
    /// With nothing shed.
    pub as_is: Reach,
    /// The first thing that does not hold with nothing shed, limits and loads that may be shed counted too.
    pub held_back: Option<(Stop, Second)>,
    /// With everything shed that may be.
    pub bare: Reach,
    /// The best plan found.
    pub best: Scheme,
    /// The best of those that keep something that the best one gives up.
    pub next: Option<Scheme>,
    /// The plan that sheds the loads that take most first, each for good.
    pub largest_first: Option<Scheme>,
    /// Of each tier what the best plan keeps, and what no plan exceeds that keeps as much of the tiers before it: worth times hours.
    pub tiers: Vec<TierKept>,
    /// How the search ended.
    pub search: Search,
    /// Functions that have no power whatever is shed, with the load and since when.
    pub lost: Vec<(Id<Function>, Id<Load>, Second)>,
    /// Loads that stay on because no function with a tier needs them.
    pub unranked: Vec<Id<Load>>,
    /// Limits that hold in no plan, with the phase.
    pub exempt: Vec<(Id<Phase>, Mark)>,
    /// Where the need is not reached: what would buy most, with the time it buys.
    pub buys: Vec<(Buy, Second)>,
    /// Findings of wires and their heat that the best plan adds.
    pub findings: Vec<Finding>,
    /// Batteries that are not followed, and why.
    pub lacking: Vec<(Id<Source>, &'static str)>,
    /// Phase whose duration is missing, so that nothing is known beyond it.
    pub no_duration: Option<Id<Phase>>,
}

/// A tier in the best plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TierKept {
    /// The tier.
    pub tier: u32,
    /// Worth times hours that the plan keeps.
    pub kept: f64,
    /// That of everything the mission has on.
    pub wanted: f64,
    /// What no plan exceeds that keeps as much of the tiers before it, by charge alone.
    pub bound: f64,
}

/// How a search ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Search {
    /// No better plan is left.
    pub is_proved: bool,
    /// Plans followed.
    pub tried: usize,
    /// Stretches followed: plans that begin alike share them.
    pub followed: usize,
    /// Periods.
    pub periods: usize,
    /// Decisions: loads that may be shed, in periods in which the mission has them on.
    pub decisions: usize,
}

/// How long what must be kept lasts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Until then, or to the end of what is looked at.
    pub until: Second,
    /// What ends it; `None` if nothing does.
    pub ends: Option<Stop>,
}

/// What ends a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stop {
    /// A load that must be kept has no power.
    Unfed(Id<Load>),
    /// A limit is passed.
    Limit(Mark),
    /// A load comes on again with too few volts.
    Restart(Id<Load>),
    /// A load that comes on again takes another one's power.
    Inrush(Id<Load>, Id<Load>),
    /// A part of the network finds no state.
    Unsettled,
}

/// What would buy time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Buy {
    /// Giving up a function that must be kept.
    Without(Id<Function>),
    /// Shedding a load that no function with a tier needs.
    Shed(Id<Load>),
}

/// A plan.
#[derive(Clone, Debug)]
pub struct Scheme {
    /// What to switch, in order.
    pub orders: Vec<Order>,
    /// Of each function with a tier, hours kept and hours that the mission wants it.
    pub kept: Vec<(Id<Function>, f64, f64)>,
    /// Worth times hours of each tier.
    pub value: Vec<f64>,
    /// How long what must be kept lasts, through the rest of the mission with nothing switched any more.
    pub reach: Reach,
    /// Loads that do not come back although the mission wants them later, with since when and why.
    pub locked: Vec<(Id<Load>, Second, Locked)>,
    /// The batteries and buses at the beginning of each stretch and at the end.
    pub course: Vec<Stretch>,
}

/// Why a load does not come back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Locked {
    /// It never does.
    Never,
    /// Nothing is stated, and no plan relies on it.
    Unstated,
    /// It is colder than it starts at.
    Cold,
}

/// Something to switch.
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// Time since the start.
    pub at: Second,
    /// Phase that it falls in.
    pub phase: Id<Phase>,
    /// The load.
    pub load: Id<Load>,
    /// On again, or off; of turns, on first.
    pub on: bool,
    /// On and off in turns from then on.
    pub turns: Option<Turns>,
    /// By what.
    pub lever: Lever,
    /// Charge that the load does not take until it comes on again or the plan ends.
    pub saves: Coulomb,
}

/// A load on and off in turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turns {
    /// How long it is on in each.
    pub on: Second,
    /// How long it is off then.
    pub off: Second,
    /// How often.
    pub times: u32,
}

/// The batteries and buses at a moment of a plan.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Time since the start.
    pub at: Second,
    /// Phase.
    pub phase: Id<Phase>,
    /// Followed batteries, in the order of their rows.
    pub batteries: Vec<BatteryStands>,
    /// Buses.
    pub buses: Vec<(Id<InnerNode>, Option<Volt>)>,
}
