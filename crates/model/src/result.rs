//! What the network solution of a scenario gives back.

use crate::*;
use physics::*;

/// How the solution of an island ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// All laws hold and every pivot of the last Jacobian is positive.
    Settled,
    /// Loads ask for more power than the network can give. Values of this island are not to be used.
    NoOperatingPoint {
        /// The load that sags most.
        load: ElementId,
        /// The bus it hangs on, if one is on its way.
        bus: Option<Id<InnerNode>>,
        /// Power asked by the island's constant-power loads.
        asked: Watt,
        /// Largest power, in the same proportions, that has an operating point; `None` where it was not asked for.
        possible: Option<Watt>,
    },
    /// Diodes or drop-outs came back to a state they had been in.
    Cycle {
        /// Elements that kept changing.
        elements: Vec<ElementId>,
    },
    /// The linear network itself has no solution; cannot happen while every branch is above zero ohm.
    Singular {
        /// Where.
        node: NodeId,
    },
    /// The iteration did not settle within its bound.
    StepLimit {
        /// Where the residual is greatest.
        node: NodeId,
        /// The residual.
        residual: Ampere,
    },
}

impl Outcome {
    /// Whether values may be used.
    pub fn is_settled(&self) -> bool {
        matches!(self, Outcome::Settled)
    }
}

/// A part of the network that conducts together in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Island {
    /// Its zero of voltage.
    pub reference: NodeId,
    /// Whether a declared reference ground is in it. Without one it floats: voltages inside hold only against each other.
    pub grounded: bool,
    /// Whether a source drives it.
    pub driven: bool,
    /// How its solution ended.
    pub outcome: Outcome,
}

/// How a load stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadState {
    /// Commanded off.
    Off,
    /// Commanded on and connected.
    On,
    /// Commanded on, let go below its drop-out voltage.
    DroppedOut {
        /// Terminal voltage with the load still connected, just before it let go.
        at: Volt,
    },
    /// Its demand is `TBD`.
    Unknown,
}

/// Where current goes in one settled state. Nothing here is written back into the design.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// The state that was asked.
    pub scenario: Scenario,
    /// Parts that conduct together; those without any conducting branch are left out.
    pub islands: Vec<Island>,
    /// Island of each node, `None` for a node that nothing conducts to. `[n_nodes]`
    pub island_of: Vec<Option<u32>>,
    /// Voltage of each node against its island's reference. `[n_nodes]` V
    pub voltage: Vec<f64>,
    /// Current of each branch of the prepared network, positive from its `from` to its `to`. `[n_branches]` A
    pub current: Vec<f64>,
    /// How each load stands.
    pub load_state: Column<Load, LoadState>,
    /// Voltage at each load's terminals; `None` where an island did not settle or the terminals are in different islands.
    pub load_voltage: Column<Load, Option<Volt>>,
    /// Whether a driven island reaches both terminals of each load without going through a load, and leads its current back: through diodes their way alone.
    pub load_fed: Column<Load, bool>,
    /// How each converter stands.
    pub converter_state: Column<Converter, LoadState>,
    /// Difference at each receiver's inputs; `None` where an island did not settle.
    pub receiver_voltage: Column<Receiver, Option<Volt>>,
    /// Whether each diode conducts.
    pub diode_on: Column<Diode, bool>,
    /// A second consistent state exists: the loads that would stand otherwise.
    pub other_state: Vec<ElementId>,
    /// The other of the two states, where every load in it works and this one is the worse; without pulses and heat.
    pub all_on: Option<std::sync::Arc<Point>>,
    /// In a vehicle with zones: what loads that pulse add to the currents; `None` where none is on.
    pub pulses: Option<std::sync::Arc<Pulses>>,
    /// Temperatures of the harness; `None` in a vehicle without zones, and where the scenario states the temperatures of conductors.
    pub heat: Option<std::sync::Arc<Heat>>,
    /// Newton steps in all.
    pub steps: usize,
    /// Factorisations in all.
    pub factorisations: usize,
    /// What solutions of states close to this one stand on.
    pub beside: Beside,
}

/// Room beside a state for what is worked out from it once and used again, of whatever type the solver needs. No part of the state: a copy begins
/// without, and two states are equal whatever is kept beside them.
#[derive(Default)]
pub struct Beside(std::sync::OnceLock<Box<dyn std::any::Any + Send + Sync>>);

impl Beside {
    /// What is kept, made by the first who asks; `None` where that was of another type.
    pub fn get_or_init<T: Send + Sync + 'static>(&self, make: impl FnOnce() -> T) -> Option<&T> {
        self.0.get_or_init(|| Box::new(make())).downcast_ref()
    }
}

impl Clone for Beside {
    fn clone(&self) -> Beside {
        Beside::default()
    }
}

impl PartialEq for Beside {
    fn eq(&self, _: &Beside) -> bool {
        true
    }
}

impl std::fmt::Debug for Beside {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Beside")
    }
}

impl Point {
    /// Whether a load is on, fed and has not let go, in a part that settled.
    pub fn serves(&self, load: Id<Load>) -> bool {
        self.load_state[load] == LoadState::On && self.load_fed[load] && self.load_voltage[load].is_some()
    }
}

/// One element on the way from a source to a load and back.
#[derive(Clone, Debug, PartialEq)]
pub struct LadderStep {
    /// The element.
    pub element: ElementId,
    /// The end it is entered at.
    pub from: End,
    /// The end it is left at.
    pub to: End,
    /// Resistance, where it has one.
    pub ohms: Option<Ohm>,
    /// Current along the way.
    pub current: Ampere,
    /// Voltage lost along the way: positive falls.
    pub drop: Volt,
    /// Whether its resistance is `TBD` and a placeholder was used.
    pub unknown: bool,
}

/// The way from a source to a subject and back: feed first, then the subject itself, then the return.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// From the source's positive terminal to the subject.
    pub feed: Vec<LadderStep>,
    /// From the subject back to a source's negative terminal.
    pub back: Vec<LadderStep>,
    /// The source the feed begins at; `None` if the way ends before one.
    pub source: Option<ElementId>,
    /// The source the return ends at.
    pub sink: Option<ElementId>,
    /// Where the feed begins.
    pub begins: Option<End>,
    /// The bus of the feed that the drop is counted from.
    pub bus: Option<Id<InnerNode>>,
    /// How many of the feed's first steps lie above the bus.
    pub above_bus: usize,
    /// How many of the return's last steps lie beyond the bus's return.
    pub beyond_return: usize,
}

impl Ladder {
    /// Drop from bus to load and back to the bus's return.
    pub fn drop_from_bus(&self) -> Volt {
        let feed: Volt = self.feed.iter().skip(self.above_bus).map(|s| s.drop).sum();
        let back: Volt = self.back.iter().take(self.back.len() - self.beyond_return).map(|s| s.drop).sum();
        feed + back
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A copy, which may be changed, begins without what the state it was copied from has beside it; a state that is moved takes it along.
    #[test]
    fn a_copy_begins_without() {
        let beside = Beside::default();
        assert_eq!(beside.get_or_init(|| 7), Some(&7));
        let (copy, moved) = (beside.clone(), beside);
        assert_eq!((copy.get_or_init(|| 8), moved.get_or_init(|| 9)), (Some(&8), Some(&7)));
        assert_eq!(copy, moved);
        assert_eq!(moved.get_or_init(|| "of another type"), None);
    }
}
