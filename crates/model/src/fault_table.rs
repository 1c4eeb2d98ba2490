//! What single faults come to: a verdict for each function in each phase.

use crate::*;
use physics::*;

/// How a function stands after a fault, the better first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Effect {
    /// It works as before.
    #[default]
    Kept,
    /// It works, and one thing more than before stands alone between it and its loss.
    KeptWithFewer,
    /// It fails while the fault burns and comes back by itself.
    UpsetAlone,
    /// It works outside a limit.
    Degraded,
    /// It fails while the fault burns and stays away until somebody acts on it.
    UpsetUntilActed,
    /// It is lost, and an action brings it back.
    Restored,
    /// It is lost.
    Lost,
    /// Something of it could not be computed.
    NotKnown,
}

impl Effect {
    /// All, the better first.
    pub const ALL: [Effect; 8] = [
        Effect::Kept,
        Effect::KeptWithFewer,
        Effect::UpsetAlone,
        Effect::Degraded,
        Effect::UpsetUntilActed,
        Effect::Restored,
        Effect::Lost,
        Effect::NotKnown,
    ];

    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Effect::Kept => "kept",
            Effect::KeptWithFewer => "kept-one-path-fewer",
            Effect::UpsetAlone => "upset-recovers",
            Effect::Degraded => "degraded",
            Effect::UpsetUntilActed => "upset-needs-action",
            Effect::Restored => "restored",
            Effect::Lost => "lost",
            Effect::NotKnown => "not-known",
        }
    }
}

/// Who tells of a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Announced {
    /// A monitor that is sampled in the phase.
    By(Id<Monitor>, Alarm),
    /// A test on the ground alone.
    OnGround(Id<Monitor>),
    /// Nothing.
    Latent,
}

impl Announced {
    /// Number of its kind: by a monitor, on the ground, latent.
    pub fn kind(self) -> usize {
        match self {
            Announced::By(..) => 0,
            Announced::OnGround(_) => 1,
            Announced::Latent => 2,
        }
    }
    /// Words of the kinds, in order.
    pub const WORDS: [&'static str; 3] = ["announced", "ground-test", "latent"];
    /// The word used in tables and JSON.
    pub fn word(self) -> &'static str {
        Announced::WORDS[self.kind()]
    }
}

/// How far a monitor moved, against what it takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alarm {
    /// By how much; of a state one.
    pub by: f64,
    /// What it takes; of a state one.
    pub threshold: f64,
}

/// Why a function stands as it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// It works.
    Works,
    /// This has no power, or gives no reading.
    Without(Subject),
    /// This way for a signal is cut, or lies at another potential.
    Cut(End, End),
    /// This stands outside a limit: its value and the limit.
    Outside(Subject, f64, f64),
    /// This let go while the fault burned, at this voltage.
    LetGo(Id<Load>, Volt),
    /// This action brings it back.
    Action(Id<Action>),
    /// This is what loses it next.
    Next(ElementId),
    /// The state of this has no operating point.
    Unsettled(Subject),
}

/// A function after a fault in one phase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FunctionCase {
    /// The function.
    pub function: Id<Function>,
    /// How it stands.
    pub effect: Effect,
    /// Why.
    pub reason: Reason,
    /// How a fault that comes and goes upsets it, though one burst does not.
    pub intermittent: Option<Bursts>,
}

/// A fault that comes and goes at its worst spacing: each burst is just shorter than the first device takes to open at its slowest, which cools fully until the next one; and they close upon each
/// other, so that what bridges them is not filled again in between.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bursts {
    /// What lets go in the end.
    pub load: Id<Load>,
    /// What comes of the function then: nothing has opened, and the load has its voltage again.
    pub effect: Effect,
    /// So many bursts last longer than it rides.
    pub count: u32,
    /// Each is shorter than this.
    pub each: Second,
}

/// A fault in one phase.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseCase {
    /// The phase.
    pub phase: Id<Phase>,
    /// Who tells of it.
    pub announced: Announced,
    /// Devices that open, with the shortest and the longest time, in the order of the longest case.
    pub opens: Vec<(Id<Protector>, Second, Second)>,
    /// Whether a current goes on that no device ends.
    pub burns_on: bool,
    /// Functions that are wanted in the phase and do not simply work on, in order.
    pub functions: Vec<FunctionCase>,
}

/// A fault in all phases.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultRow {
    /// Its place in the catalogue.
    pub fault: usize,
    /// In the order of phases.
    pub phases: Vec<PhaseCase>,
}

/// Every fault in every phase.
#[derive(Clone, Debug, Default)]
pub struct FaultTable {
    /// The corner of its states.
    pub corner: Corner,
    /// What was asked for.
    pub catalogue: Catalogue,
    /// In the order of the catalogue; without those not done where it is partial.
    pub rows: Vec<FaultRow>,
    /// Functions that work without a fault in each phase and are wanted there, by phase.
    pub wanted: Vec<(Id<Phase>, Vec<Id<Function>>)>,
    /// Functions that are wanted in a phase and do not work there without a fault.
    pub idle: Vec<(Id<Function>, Id<Phase>)>,
    /// Cases: faults × phases.
    pub cases: usize,
    /// Cases that change nothing in their phase.
    pub unchanged: usize,
    /// States that were settled.
    pub states: usize,
    /// Those of them not on the factor of their phase, by why.
    pub afresh: Vec<(&'static str, usize)>,
    /// Whether it was stopped before its end.
    pub partial: bool,
    /// Inputs without which something was not judged: its owner and the field.
    pub lacking: Vec<(Subject, &'static str)>,
}

impl FaultTable {
    /// Why a state takes a factorisation of its own, in the order of the solver.
    pub const AFRESH: [&str; 7] = [
        "the phase itself",
        "many changes",
        "a converter changes",
        "a part is cut off with its source",
        "a part gets a source",
        "a load in two states",
        "no settled state nearby",
    ];
    /// Fields without which something is not judged.
    pub const FIELDS: [&str; 4] = ["allowance", "device", "drop_out", "hold_up"];

    /// How often each function came to each effect, by how it was announced: `[effect][announced]`.
    pub fn counts(&self, functions: usize) -> Vec<[[usize; 3]; Effect::ALL.len()]> {
        self.counts_of(functions, |_| true)
    }

    /// The same for the faults of some kinds.
    pub fn counts_of(&self, functions: usize, of: impl Fn(FaultKind) -> bool) -> Vec<[[usize; 3]; Effect::ALL.len()]> {
        let mut counts = vec![[[0; 3]; Effect::ALL.len()]; functions];
        for row in self.rows.iter().filter(|row| of(self.catalogue.faults[row.fault].kind)) {
            for (case, (_, wanted)) in row.phases.iter().zip(&self.wanted) {
                let announced = case.announced.kind();
                for function in wanted {
                    let effect = case.functions.iter().find(|of| of.function == *function).map_or(Effect::Kept, |of| of.effect);
                    counts[function.row()][effect as usize][announced] += 1;
                }
            }
        }
        counts
    }
}
