//! What the vehicle is for, what is done when something fails, and what tells that it has.

use crate::*;
use physics::*;

/// A function of the vehicle and what it needs.
#[derive(Clone, Debug)]
pub struct Function {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// The loads and sensors that its need names, each once, in the order written.
    pub needs: Vec<Given<Subject>>,
    /// What has to work for it.
    pub need: Need,
    /// How late it is given up: a lower tier is kept longer.
    pub tier: Option<Given<u32>>,
    /// Whether what it needs and is on has to stay fed.
    pub must_keep: bool,
    /// How much an hour of it counts among functions of its tier; one where nothing is stated.
    pub worth: Option<Given<u32>>,
    /// How many faults at a time it has to survive.
    pub survives: Option<Given<u32>>,
    /// Phases in which it is wanted; all of them if none is named.
    pub phases: Vec<Given<Id<Phase>>>,
    /// Where the row stands.
    pub at: Span,
}

/// What has to work.
#[derive(Clone, Debug)]
pub enum Need {
    /// A load that is fed, or a sensor that reads right.
    One(Given<Subject>),
    /// A way for a signal between two ends.
    Path(Given<[End; 2]>),
    /// All of these.
    All(Vec<Need>),
    /// At least so many of these.
    AtLeast(u32, Vec<Need>),
}

impl Need {
    /// Everything it names, in the order written.
    pub fn leaves(&self) -> Vec<&Need> {
        match self {
            Need::One(_) | Need::Path(_) => vec![self],
            Need::All(list) | Need::AtLeast(_, list) => list.iter().flat_map(Need::leaves).collect(),
        }
    }

    /// The worst of what it cannot do without: of `AtLeast(k)` the k-th best. `of`: how a leaf stands, less is better.
    pub fn worst<T: Ord + Copy + Default>(&self, of: &mut dyn FnMut(&Need) -> T) -> T {
        match self {
            Need::One(_) | Need::Path(_) => of(self),
            Need::All(list) => list.iter().map(|need| need.worst(of)).max().unwrap_or_default(),
            Need::AtLeast(least, list) => {
                let mut all: Vec<T> = list.iter().map(|need| need.worst(of)).collect();
                all.sort_unstable();
                (*least as usize).checked_sub(1).and_then(|at| all.get(at)).copied().unwrap_or_default()
            }
        }
    }
}

/// What an operator or a controller may do when something has failed.
#[derive(Clone, Debug)]
pub struct Action {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// Elements with the state that it gives them.
    pub states: Vec<Given<(ElementId, Commanded)>>,
    /// Who does it.
    pub who: Actor,
    /// How long after the fault it has been done.
    pub delay: Option<Given<Second>>,
    /// Phases in which it may be done; all of them if none is named.
    pub phases: Vec<Given<Id<Phase>>>,
    /// Where the row stands.
    pub at: Span,
}

/// Who acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Actor {
    /// A controller on board.
    Automatic,
    /// A person, on board or on the ground.
    Operator,
}

impl Actor {
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Actor::Automatic => "automatic",
            Actor::Operator => "operator",
        }
    }
}

/// What tells that something has failed.
#[derive(Clone, Debug)]
pub struct Monitor {
    /// Id in the vehicle.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// What it watches.
    pub watches: Given<Watched>,
    /// How far that has to move from what it is without a fault; of a state that it changes at all. Without it the monitor says nothing.
    pub threshold: Option<Given<f64>>,
    /// The load that reads it: unfed, it says nothing.
    pub read_by: Option<Given<Id<Load>>>,
    /// Whether it is a test on the ground, and no reading in flight.
    pub ground: bool,
    /// Phases in which it is sampled; all of them if none is named.
    pub phases: Vec<Given<Id<Phase>>>,
    /// Where the row stands.
    pub at: Span,
}

/// What a monitor watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Voltage between two ends: of a bus, load, battery.
    Voltage(Subject, [End; 2]),
    /// Current in an element.
    Current(ElementId),
    /// What a sensor's receiver reads.
    Reading(Id<Sensor>, Id<Receiver>),
    /// Whether a switch or protector conducts, whether a load works.
    State(ElementId),
}

impl Watched {
    /// What it is about.
    pub fn subject(&self) -> Subject {
        match *self {
            Watched::Voltage(subject, _) => subject,
            Watched::Current(element) | Watched::State(element) => element.into(),
            Watched::Reading(sensor, _) => ElementId::Sensor(sensor).into(),
        }
    }
    /// The word used in input, tables and JSON.
    pub fn word(&self) -> &'static str {
        match self {
            Watched::Voltage(..) => "voltage",
            Watched::Current(_) => "current",
            Watched::Reading(..) => "reading",
            Watched::State(_) => "state",
        }
    }
    /// Unit of what it reads; a state has none.
    pub fn unit(&self) -> &'static str {
        match self {
            Watched::Voltage(..) | Watched::Reading(..) => "V",
            Watched::Current(_) => "A",
            Watched::State(_) => "",
        }
    }
}

impl Design {
    /// Whether a list of phases holds one; a list without any stands for all.
    pub fn is_in(phases: &[Given<Id<Phase>>], phase: Id<Phase>) -> bool {
        phases.is_empty() || phases.iter().any(|given| given.value == phase)
    }
}
