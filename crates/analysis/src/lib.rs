//! Answers one question at a time about a checked design: what settles in this scenario. Searches nothing, knows no limit.
//!
//! ```text
//! prepare(&Design) → Prepared            topology: nodes, branches, order, pattern
//! prepared.point(&Scenario) → Point      one settled state
//! prepared.near(&Point) → Near           states close to one that is settled
//! prepared.trace(&Point, …) → Ladder     the way from source to load and back
//! run(&Design, Stages) → Study           what `check` needs, in every phase and corner
//! ```
use model::*;
use physics::*;

/// What depends on the design's topology alone.
pub struct Prepared<'d> {
    design: &'d Design,
    branches: Vec<Branch>,
}

/// A branch of the network. Current is positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// The element it is of (or a part of: a bridge sensor has four, a converter two).
    pub element: ElementId,
    /// Which part of the element, from 0.
    pub part: u8,
    /// One node.
    pub from: NodeId,
    /// The other node.
    pub to: NodeId,
}

/// Numbers the nodes and branches of a design and analyses their pattern once.
///
/// Cost: near linear in conductors and elements.
pub fn prepare(design: &Design) -> Prepared<'_> {
    Prepared { design, branches: Vec::new() }
}

impl<'d> Prepared<'d> {
    /// The design this was prepared from.
    pub fn design(&self) -> &'d Design {
        self.design
    }
    /// All branches; the columns `current` of a [`Point`] are in this order.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }
    /// The node of an end, `None` if nothing conducts to it.
    pub fn node(&self, end: End) -> Option<NodeId> {
        let _ = end;
        None
    }
    /// Ends united in a node, in the order of their tables.
    pub fn ends(&self, node: NodeId) -> &[End] {
        let _ = node;
        &[]
    }
    /// Row of the first branch of an element in [`Prepared::branches`].
    pub fn branch_of(&self, element: ElementId) -> Option<usize> {
        let _ = element;
        None
    }
    /// Resistance of a conductor, contact or closed device in a scenario at its conductor temperature; `None` if it has none or it is `TBD`.
    pub fn ohms(&self, scenario: &Scenario, element: ElementId) -> Option<Ohm> {
        let _ = (scenario, element);
        None
    }
    /// Conductor temperature of an element in a scenario: the phase's ambient until heat is computed.
    pub fn conductor_temperature(&self, scenario: &Scenario, element: ElementId) -> Kelvin {
        let _ = (scenario, element);
        Kelvin(0.0)
    }
    /// Settles one state.
    pub fn point(&self, scenario: &Scenario) -> Point {
        let _ = scenario;
        unreachable!("written next")
    }
    /// States close to a settled one.
    pub fn near<'a>(&'a self, base: &'a Point) -> Near<'a, 'd> {
        Near { prepared: self, base }
    }
    /// The way from a source to an element and back, along the largest currents, at a settled point.
    /// `element` is a load, converter, wire, receiver, …; a load that carries no current is traced by the shortest conducting way.
    pub fn trace(&self, point: &Point, element: ElementId) -> Ladder {
        let _ = (point, element);
        unreachable!("written next")
    }
    /// Notes of the values an element's behaviour rests on in this scenario.
    pub fn notes(&self, scenario: &Scenario, element: ElementId) -> Vec<NoteId> {
        let _ = (scenario, element);
        Vec::new()
    }
    /// What a sensor's receiver would read with ideal wiring, by the sensor's own calibration.
    pub fn sensor_ideal(&self, sensor: Id<Sensor>) -> Volt {
        let _ = sensor;
        Volt(0.0)
    }
}

/// States close to a settled one: the door for low-rank updates.
pub struct Near<'a, 'd> {
    prepared: &'a Prepared<'d>,
    base: &'a Point,
}

impl Near<'_, '_> {
    /// Settles a scenario that differs from the base in few elements.
    pub fn point(&self, scenario: &Scenario) -> Point {
        let _ = self.base;
        self.prepared.point(scenario)
    }
}

/// Which stages [`run`] computes. A stage not asked for is `None` in the study, and its rules say *not judged*.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stages {}

/// Every phase in every corner.
pub struct Study<'d> {
    /// The prepared design.
    pub prepared: Prepared<'d>,
    /// Points in the order phase, then corner (low, typical, high).
    pub points: Vec<Point>,
}

/// Progress and cancelling of long work.
pub trait Watch: Sync {
    /// Called with work done and work in all, from any thread.
    fn progress(&self, done: usize, total: usize);
    /// Whether to stop early.
    fn cancelled(&self) -> bool;
}

/// Neither reports nor cancels.
pub struct Silent;
impl Watch for Silent {
    fn progress(&self, _done: usize, _total: usize) {}
    fn cancelled(&self) -> bool {
        false
    }
}

/// What `check` needs: every phase in every corner, in parallel, in an order that no thread count changes.
/// `None` if the watch cancelled.
pub fn run<'d>(design: &'d Design, stages: Stages, watch: &dyn Watch) -> Option<Study<'d>> {
    let _ = (stages, watch);
    Some(Study { prepared: prepare(design), points: Vec::new() })
}
