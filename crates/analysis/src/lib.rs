//! Answers one question at a time about a checked design: what settles in this scenario. Searches nothing, knows no limit.
//!
//! ```text
//! prepare(&Design) → Prepared            topology: nodes, branches, order, pattern
//! prepared.point(&Scenario) → Point      one settled state, with the temperatures of the harness where it has zones
//! prepared.near(&Point) → Near           states close to one that is settled
//! prepared.trace(&Point, …) → Ladder     the way from source to load and back
//! run(&Design, Stages) → Study           what `check` needs, in every phase and corner
//! ```

mod blocks;
mod bridges;
mod bundles;
mod catalogue;
mod corner;
mod ends;
mod fault_heat;
mod fault_state;
mod harness;
mod harness_nets;
mod heat;
mod inhibits;
mod law;
pub mod layout;
mod ldlt;
mod leads;
mod live;
pub mod mass;
mod near;
mod network;
mod notes;
mod operating_point;
mod point;
pub mod protection;
mod pulses;
pub mod routes;
mod separation;
mod sets;
mod settle;
mod single_points;
mod sneak;
mod spans;
mod study;
mod threading;
pub mod timeline;
pub mod timeline_budget;
mod topology;
mod trace;
mod tree;
mod update;
mod vibration;

pub use blocks::Blocks;
pub use bundles::{Bundle, Member, MemberOf, Unsized};
pub use ends::LedToEnds;
pub use fault_heat::NoHeat;
pub use fault_state::Opening;
pub use harness_nets::{HarnessNet, HarnessNets};
pub use heat::{HeatRange, Taken};
pub use inhibits::Inhibits;
pub use law::Law;
pub use layout::Layout;
pub use live::Live;
pub use near::{Change, Foothold, Fresh, Near, Room};
pub use separation::{Reduced, ReducedState};
pub use sets::Sets;
pub use settle::FED;
pub use single_points::{Bridged, SinglePoints};
pub use sneak::{Meant, pattern};
pub use spans::{Gap, Held};
pub use study::{Silent, Stages, Study, Watch, run};
pub use threading::Passing;
pub use topology::Branch;
pub use vibration::Frequencies;

use model::*;
use network::Network;
use physics::*;
use topology::Topology;

/// Nodes up to which every settled state keeps what states close to it stand on: some hundred bytes a node.
const KEPT: usize = 4_000;

/// What depends on the design's topology alone.
pub struct Prepared<'d> {
    design: &'d Design,
    topology: Topology,
    network: Network,
    layout: Layout,
    /// Nodes of the declared reference grounds.
    grounds: Vec<u32>,
    has_unknown: bool,
    harness: harness::Harness,
    sections: std::sync::OnceLock<heat::Sections>,
    leads: std::sync::OnceLock<Column<Wire, bool>>,
}

/// Numbers the nodes and branches of a design, orders and analyses their pattern once, and lays its wires along the segments.
///
/// Cost: near linear in conductors and elements; ordering dominates. Of the layout see [`routes::route`].
pub fn prepare(design: &Design) -> Prepared<'_> {
    let topology = Topology::new(design);
    let network = Network::new(topology.node_end.len(), topology.branches.iter().map(|b| (b.from.0, b.to.0)));
    let grounds = design
        .grounds
        .iter()
        .filter(|(_, ground)| ground.reference)
        .filter_map(|(id, _)| topology.node(End::Ground(id)).map(|node| node.0))
        .collect();
    let layout = Layout::new(design);
    let lacks_length = |wire: Id<Wire>| layout.length(wire).is_err() && *layout.place(wire) != layout::Place::Stowed;
    let has_unknown = design.notes.iter().any(|note| note.standing == Standing::ToDetermine) || design.wires.ids().any(lacks_length);
    let prepared = Prepared {
        design,
        topology,
        network,
        layout,
        grounds,
        has_unknown,
        harness: harness::Harness::default(),
        sections: Default::default(),
        leads: Default::default(),
    };
    if !design.zones.is_empty() {
        // Every state needs them. Made here and not by the first state: states settle side by side, and a thread that waits for what another one
        // makes must not hold work which that one waits for.
        prepared.sections();
    }
    prepared
}

impl<'d> Prepared<'d> {
    /// The design this was prepared from.
    pub fn design(&self) -> &'d Design {
        self.design
    }

    /// Where wires lie on the map of the harness.
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Length of a wire, as given or by its route; else why it is not known.
    pub fn length(&self, wire: Id<Wire>) -> Result<Metre, &layout::Unknown> {
        self.layout.length(wire)
    }

    /// Whether any value of the design is `TBD`, or the length of a wire is not known: only then can an element on a ladder be unknown.
    pub fn has_unknown(&self) -> bool {
        self.has_unknown
    }

    /// All branches; the column `current` of a [`Point`] is in this order.
    pub fn branches(&self) -> &[Branch] {
        &self.topology.branches
    }

    /// The two ends of a branch, as its element's row states them.
    pub fn branch_ends(&self, row: usize) -> (End, End) {
        self.topology.ends[row]
    }

    /// Number of nodes; the columns `voltage` and `island_of` of a [`Point`] have this length.
    pub fn nodes(&self) -> usize {
        self.topology.node_end.len()
    }

    /// The node of an end, `None` if nothing conducts to it.
    pub fn node(&self, end: End) -> Option<NodeId> {
        self.topology.node(end)
    }

    /// The end that a node is named by.
    pub fn node_end(&self, node: NodeId) -> End {
        self.topology.node_end[node.row()]
    }

    /// Rows of the branches that meet at a node, in order.
    pub fn meeting(&self, node: NodeId) -> &[u32] {
        self.topology.meeting(node)
    }

    /// Row of the first branch of an element in [`Prepared::branches`]; a joint has that of its wire.
    pub fn branch_of(&self, element: ElementId) -> Option<usize> {
        self.topology.branch_of(element)
    }

    /// The law of every branch in a scenario, in the order of [`Prepared::branches`]. Short circuits are not among them.
    pub fn laws(&self, scenario: &Scenario) -> Vec<Law> {
        law::laws(self.design, &self.topology, &self.layout, scenario)
    }

    /// Resistance of an element in a scenario at its conductor temperature; `None` if it has none or it is `TBD`.
    pub fn ohms(&self, scenario: &Scenario, element: ElementId) -> Option<Ohm> {
        match law::element_ohms(self.design, &self.layout, scenario, element) {
            Some((ohms, false)) => Some(ohms),
            _ => None,
        }
    }

    /// Items that stand in line in a mated contact in a scenario, in the order listed.
    pub fn in_line(&self, scenario: &Scenario, contact: Id<Contact>) -> Vec<Id<Fitted>> {
        law::in_line(self.design, scenario, contact).map(|(item, _)| item).collect()
    }

    /// Temperature of a wire's conductor in a scenario: as computed, else the phase's ambient.
    pub fn conductor_temperature(&self, scenario: &Scenario, wire: Id<Wire>) -> Kelvin {
        corner::conductor_in(self.design, scenario, wire)
    }

    /// Settles one state. A scenario holds at most one short along each conductor.
    ///
    /// In a vehicle with zones network and heat settle together, unless the scenario states the temperatures of conductors: those of the
    /// point's own scenario are what its resistances were computed at, and stay as they are in states near to it.
    ///
    /// Cost: a few factorisations on the fixed pattern for each change of a diode, drop-out or converter; with zones as many times as
    /// network and heat are computed in turn, mostly three.
    pub fn point(&self, scenario: &Scenario) -> Point {
        match self.design.zones.is_empty() || scenario.conductors.is_some() {
            true => point::point(self, scenario, None),
            false => operating_point::operating_point(self, scenario),
        }
    }

    /// A phase in each corner (low, typical, high), with nothing changed: as [`Prepared::point`], within its tolerances.
    ///
    /// Cost: with zones about half of three points alone.
    pub fn corners(&self, phase: Id<Phase>) -> [Point; 3] {
        match self.design.zones.is_empty() {
            true => {
                let at = |corner| self.point(&Scenario::new(phase, corner));
                let (low, (typical, high)) = rayon::join(|| at(Corner::Low), || rayon::join(|| at(Corner::Typical), || at(Corner::High)));
                [low, typical, high]
            }
            false => operating_point::corners(self, phase),
        }
    }

    /// States close to a settled one. In all but large vehicles what they stand on is kept with it for whoever asks next.
    pub fn near<'a>(&'a self, base: &'a Point) -> Near<'a, 'd> {
        self.near_on(base, &Foothold::default())
    }

    /// The same; in a large vehicle on what others with the same foothold have found out about the state.
    pub fn near_on<'a>(&'a self, base: &'a Point, foothold: &Foothold) -> Near<'a, 'd> {
        let kept = self.keeps_footholds().then(|| base.beside.get_or_init(Foothold::default)).flatten();
        Near::new(self, base, kept.unwrap_or(foothold).clone())
    }

    /// Whether what states near a settled one stand on is kept with it: in all but large vehicles.
    pub fn keeps_footholds(&self) -> bool {
        self.network.nodes <= KEPT
    }

    /// A settled state again in which what has let go is commanded off, so that it stays away whatever else changes; `None` where nothing has.
    pub fn without_let_go(&self, point: &Point) -> Option<Point> {
        protection::without_let_go(self, point)
    }

    /// Inhibits between the sources and a load, on the way that has the fewest; `None` where no way leads there and back. What lets less than `least`
    /// through is no way.
    pub fn inhibits(&self, scenario: &Scenario, load: Id<Load>, least: physics::Ampere) -> Option<Inhibits> {
        inhibits::inhibits(self, scenario, load, least, &[])
    }

    /// The same where short circuits join nodes.
    pub fn inhibits_with(
        &self,
        scenario: &Scenario,
        load: Id<Load>,
        least: physics::Ampere,
        joined: &[(NodeId, NodeId)],
    ) -> Option<Inhibits> {
        inhibits::inhibits(self, scenario, load, least, joined)
    }

    /// The way from a source to an element and back, along the largest currents of a point; an element that carries no
    /// current is traced by the fewest conducting elements.
    pub fn trace(&self, point: &Point, element: ElementId) -> Ladder {
        trace::trace(self, point, element)
    }

    /// The elements on the way of [`Prepared::trace`], its sources and the element itself; and the node at which the way begins.
    pub fn along(&self, point: &Point, element: ElementId) -> (Vec<ElementId>, Option<NodeId>) {
        trace::along(self, point, element)
    }

    /// Notes of the values that decide an element in a scenario, sorted and without repetition.
    pub fn notes(&self, scenario: &Scenario, element: ElementId) -> Vec<NoteId> {
        notes::notes(self.design, &self.layout, scenario, element)
    }

    /// What a sensor's receiver would read behind ideal wiring, by the sensor's own calibration.
    pub fn sensor_ideal(&self, sensor: Id<Sensor>) -> Volt {
        let row = &self.design.sensors[sensor];
        row.law.ideal(row.reading.value.0)
    }

    fn name(&self, row: usize) -> String {
        self.design.element_words(self.topology.branches[row].element)
    }
}
