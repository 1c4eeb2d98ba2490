//! The sweep over single faults: every fault of the catalogue in every phase, in one corner, and a verdict for each function.
//!
//! ```text
//! lay the fault ─ burning: who sags? ─ devices open, in every order that their bands allow ─ overloads open more, until none does
//!    ─ the state that is left: functions, monitors ─ what is lost: one permitted action after the other
//! ```
//!
//! A case is a few states near the settled one of its phase ([`analysis::Near`]); what that cannot settle is solved afresh and counted.
//! Kept of a case is what is not simply kept: nothing of the size of faults × nodes is ever stored. Faults run side by side, each in its
//! own slot, so that the number of threads changes nothing.
//!
//! Cost: per fault and phase the laws of the scenario (linear in branches) and a near state; for a short some four of them, and for what is
//! lost one for each action. Memory: per thread the rooms of the phases, per fault and phase the functions that are not kept.

mod announce;
mod pairs;
mod respond;
mod stand;
pub(crate) mod way;

use analysis::{Foothold, Fresh, Near, Prepared, Room, SinglePoints, Watch};
use model::*;
pub use pairs::PairScreen;
use rayon::prelude::*;
pub use respond::Told;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use way::Way;

/// A settled state that a fault strikes: that of a phase, or what a first fault has left of it.
struct Start<'s, 'd> {
    point: &'s Point,
    near: Near<'s, 'd>,
    held: &'s Point,
    near_held: Near<'s, 'd>,
    /// Loads that work and do not where loads are held: those behind a converter, which gives nothing there.
    behind: BTreeSet<Id<Load>>,
    /// Loads that let go while a first fault burned and have not come back by themselves.
    scars: Vec<Id<Load>>,
}

impl<'s, 'd> Start<'s, 'd> {
    /// `held`: the state as [`held`] has it; `on`: what is known already of each of the two.
    fn new(prepared: &'s Prepared<'d>, [point, held]: [&'s Point; 2], on: &[Foothold; 2], scars: Vec<Id<Load>>) -> Start<'s, 'd> {
        let behind = prepared.design().loads.ids().filter(|&id| point.serves(id) && !held.serves(id)).collect();
        Start { point, near: prepared.near_on(point, &on[0]), held, near_held: prepared.near_on(held, &on[1]), behind, scars }
    }
}

/// What a fault strikes, and the phase without faults that functions are judged against.
#[derive(Clone, Copy)]
struct Site<'b, 's, 'd> {
    base: &'b Base<'s, 'd>,
    start: &'b Start<'b, 'd>,
}

/// One phase, as it is without a fault.
struct Base<'s, 'd> {
    start: Start<'s, 'd>,
    /// Functions that work and are wanted.
    wanted: Vec<Id<Function>>,
    /// Ways of signals, by function and leaf.
    ways: HashMap<(Id<Function>, usize), Option<Way>>,
    /// What stands alone, computed when first asked for.
    alone: OnceLock<Alone>,
}

/// What stands alone between loads and their sources in a state without faults.
struct Alone {
    bridged: analysis::Bridged,
    /// Of each wanted function the elements that alone lose it.
    functions: Vec<BTreeSet<ElementId>>,
}

/// A wire in a phase.
type OfPhase = (Id<Phase>, Id<Wire>);

/// Everything that cases are worked on.
pub struct Sweep<'s, 'd> {
    prepared: &'s Prepared<'d>,
    design: &'d Design,
    corner: Corner,
    catalogue: Catalogue,
    bases: Vec<Base<'s, 'd>>,
    graph: SinglePoints<'s, 'd>,
    /// Greatest current of each branch in any phase and corner without a fault, A.
    greatest: Vec<f64>,
    /// What each branch may carry as `check` has it in its worst state, A.
    allowed: Vec<Option<f64>>,
    /// Temperature that each wire may come to, before the margin of the model.
    warmest: HashMap<Id<Wire>, f64>,
    by_heat: Mutex<HashMap<OfPhase, Option<f64>>>,
    idle: Vec<(Id<Function>, Id<Phase>)>,
    states: AtomicUsize,
    afresh: Mutex<BTreeMap<Fresh, usize>>,
    unchanged: AtomicUsize,
    lacking: Mutex<BTreeSet<(Subject, &'static str)>>,
}

/// Rooms for the states of one thread near a start: near the settled state, and near the one with loads held.
type Rooms = [Option<Room>; 2];

/// Runs something on a sweep in the low corner. `points`: the settled states that `check` judges; `verdict`: that judgement.
pub fn with_sweep<T>(prepared: &Prepared, points: &[Point], verdict: &Verdict, run: impl FnOnce(&Sweep) -> T) -> T {
    with_sweep_in(prepared, points, verdict, Corner::Low, run)
}

/// The same in a corner.
pub fn with_sweep_in<T>(prepared: &Prepared, points: &[Point], verdict: &Verdict, corner: Corner, run: impl FnOnce(&Sweep) -> T) -> T {
    let own: Vec<&Point> = points.iter().filter(|point| point.scenario.corner == corner).collect();
    let held: Vec<Point> = own.par_iter().map(|point| held(prepared, point)).collect();
    run(&Sweep::new(prepared, points, (&own, &held), (verdict, corner)))
}

impl<'s, 'd> Base<'s, 'd> {
    fn phase(&self) -> Id<Phase> {
        self.start.point.scenario.phase
    }

    fn site(&self) -> Site<'_, 's, 'd> {
        Site { base: self, start: &self.start }
    }
}

impl<'s, 'd> Sweep<'s, 'd> {
    fn new(
        prepared: &'s Prepared<'d>,
        points: &[Point],
        (own, held): (&[&'s Point], &'s [Point]),
        (verdict, corner): (&Verdict, Corner),
    ) -> Sweep<'s, 'd> {
        let design = prepared.design();
        let mut greatest = vec![0.0f64; prepared.branches().len()];
        for point in points {
            greatest.iter_mut().zip(&point.current).for_each(|(most, current)| *most = most.max(current.abs()));
        }
        let mut allowed = vec![None; prepared.branches().len()];
        let mut warmest = HashMap::new();
        for margin in &verdict.margins {
            let Subject::Element(element) = margin.subject else { continue };
            match (margin.rule.0, element) {
                ("AM-01" | "CT-01" | "SW-01", _) => {
                    if let Some(row) = prepared.branch_of(element) {
                        allowed[row] = Some(margin.limit);
                    }
                }
                ("HT-01", ElementId::Wire(wire)) => {
                    warmest.insert(wire, margin.limit);
                }
                _ => {}
            }
        }
        let bases = own.iter().zip(held);
        let bases: Vec<Base> = bases
            .map(|(&point, held)| Base {
                start: Start::new(prepared, [point, held], &Default::default(), Vec::new()),
                wanted: Vec::new(),
                ways: HashMap::new(),
                alone: OnceLock::new(),
            })
            .collect();
        let mut sweep = Sweep {
            prepared,
            design,
            corner,
            catalogue: prepared.catalogue(),
            bases,
            graph: SinglePoints::new(prepared),
            greatest,
            allowed,
            warmest,
            by_heat: Mutex::default(),
            idle: Vec::new(),
            states: AtomicUsize::new(0),
            afresh: Mutex::default(),
            unchanged: AtomicUsize::new(0),
            lacking: Mutex::default(),
        };
        for at in 0..sweep.bases.len() {
            sweep.begin(at);
        }
        sweep
    }

    /// Finds the ways of signals in a phase, and which functions work there.
    fn begin(&mut self, at: usize) {
        let (design, base) = (self.design, &self.bases[at]);
        let phase = base.phase();
        let laws = self.prepared.laws(&base.start.point.scenario);
        let mut ways = HashMap::new();
        for (id, function) in design.functions.iter() {
            for (leaf, need) in function.need.leaves().into_iter().enumerate() {
                if let Need::Path(ends) = need {
                    ways.insert((id, leaf), way::find(self.prepared, &laws, ends.value));
                }
            }
        }
        self.bases[at].ways = ways;
        let mut wanted = Vec::new();
        for (id, function) in design.functions.iter().filter(|(_, function)| Design::is_in(&function.phases, phase)) {
            match self.works(&self.bases[at], id) {
                true => wanted.push(id),
                // One that names its phases is wanted there; of the others it is off.
                false if !function.phases.is_empty() => self.idle.push((id, phase)),
                false => {}
            }
        }
        self.bases[at].wanted = wanted;
    }

    /// Whether a function is wanted in a phase and works there without a fault.
    pub fn wants(&self, phase: Id<Phase>, function: Id<Function>) -> bool {
        self.bases.iter().any(|base| base.phase() == phase && base.wanted.contains(&function))
    }

    /// The catalogue that is swept.
    pub fn catalogue(&self) -> &Catalogue {
        &self.catalogue
    }

    /// Every fault that a test passes, in every phase; partial if the watch cancelled.
    pub fn run(&self, of: impl Fn(usize) -> bool, watch: &dyn Watch) -> FaultTable {
        let faults: Vec<usize> = (0..self.catalogue.faults.len()).filter(|&fault| of(fault)).collect();
        let cases = faults.len() * self.bases.len();
        self.count_from_nothing();
        let done = AtomicUsize::new(0);
        let idle: Mutex<Vec<Vec<Rooms>>> = Mutex::default();
        let shelf = || idle.lock().unwrap_or_else(PoisonError::into_inner);
        let one = |&fault: &usize| -> Option<FaultRow> {
            if watch.cancelled() {
                return None;
            }
            let taken = shelf().pop();
            let mut rooms = taken.unwrap_or_else(|| self.rooms());
            let row = self.fault(fault, &mut rooms);
            shelf().push(rooms);
            watch.progress(done.fetch_add(self.bases.len(), Ordering::Relaxed) + self.bases.len(), cases);
            Some(row)
        };
        let rows: Vec<Option<FaultRow>> = faults.par_iter().map(one).collect();
        let partial = rows.iter().any(Option::is_none);
        FaultTable {
            corner: self.corner,
            catalogue: self.catalogue.clone(),
            rows: rows.into_iter().flatten().collect(),
            wanted: self.bases.iter().map(|base| (base.phase(), base.wanted.clone())).collect(),
            idle: self.idle.clone(),
            cases,
            unchanged: self.unchanged.load(Ordering::Relaxed),
            states: self.states.load(Ordering::Relaxed),
            afresh: self.counted_afresh(),
            partial,
            lacking: self.counted_lacking(),
        }
    }

    /// Counts are of one run alone.
    fn count_from_nothing(&self) {
        self.states.store(0, Ordering::Relaxed);
        self.unchanged.store(0, Ordering::Relaxed);
        self.afresh.lock().unwrap_or_else(PoisonError::into_inner).clear();
        self.lacking.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }

    fn counted_afresh(&self) -> Vec<(&'static str, usize)> {
        self.afresh.lock().unwrap_or_else(PoisonError::into_inner).iter().map(|(&why, &n)| (why_word(why), n)).collect()
    }

    fn counted_lacking(&self) -> Vec<(Subject, &'static str)> {
        self.lacking.lock().unwrap_or_else(PoisonError::into_inner).iter().copied().collect()
    }

    /// The table of a sweep whose rows and counts are known already: read back from parts, and perhaps the rest of one beside them.
    pub fn whole(&self, rows: FaultTable) -> FaultTable {
        FaultTable {
            corner: self.corner,
            catalogue: self.catalogue.clone(),
            wanted: self.bases.iter().map(|base| (base.phase(), base.wanted.clone())).collect(),
            idle: self.idle.clone(),
            cases: rows.rows.len() * self.bases.len(),
            ..rows
        }
    }

    /// Some faults in some phases; what a test on the ground finds in the others is not looked at.
    pub fn run_in(&self, faults: &[usize], phases: &[Id<Phase>]) -> FaultTable {
        let mut rooms = self.rooms();
        let bases: Vec<usize> = (0..self.bases.len()).filter(|&at| phases.contains(&self.bases[at].phase())).collect();
        let row = |&fault: &usize| FaultRow { fault, phases: bases.iter().map(|&at| self.case(fault, at, &mut rooms[at]).0).collect() };
        let rows: Vec<FaultRow> = faults.iter().map(row).collect();
        let wanted = bases.iter().map(|&at| (self.bases[at].phase(), self.bases[at].wanted.clone())).collect();
        FaultTable {
            corner: self.corner,
            catalogue: self.catalogue.clone(),
            cases: rows.len() * bases.len(),
            rows,
            wanted,
            ..FaultTable::default()
        }
    }

    fn rooms(&self) -> Vec<Rooms> {
        self.bases.iter().map(|_| [None, None]).collect()
    }

    /// One fault in every phase, with what a test on the ground would find of it.
    fn fault(&self, fault: usize, rooms: &mut [Rooms]) -> FaultRow {
        let mut phases = Vec::with_capacity(self.bases.len());
        let mut on_ground = None;
        for (at, rooms) in rooms.iter_mut().enumerate() {
            let (case, ground) = self.case(fault, at, rooms);
            on_ground = on_ground.or(ground);
            phases.push(case);
        }
        if let Some(monitor) = on_ground {
            for case in phases.iter_mut().filter(|case| case.announced == Announced::Latent) {
                case.announced = Announced::OnGround(monitor);
            }
        }
        FaultRow { fault, phases }
    }

    /// Settles a state near the one that a fault strikes, on its factor where that can be.
    fn settle(&self, start: &Start, held: bool, scenario: &Scenario, rooms: &mut Rooms) -> Point {
        let near = if held { &start.near_held } else { &start.near };
        let room = rooms[usize::from(held)].get_or_insert_with(|| near.room());
        self.states.fetch_add(1, Ordering::Relaxed);
        near.try_point(scenario, room).unwrap_or_else(|why| {
            *self.afresh.lock().unwrap_or_else(PoisonError::into_inner).entry(why).or_default() += 1;
            near.afresh(scenario)
        })
    }

    fn lacks(&self, subject: impl Into<Subject>, field: &'static str) {
        self.lacking.lock().unwrap_or_else(PoisonError::into_inner).insert((subject.into(), field));
    }
}

/// A settled state with every load and converter as the resistance that it is there, which faults burn in: what draws a fixed power has no state at a volt or
/// two. Current loops are taken away. All stay connected: what hangs behind diodes shows its voltage only while it draws.
pub fn held(prepared: &Prepared, point: &Point) -> Point {
    let design = prepared.design();
    let mut scenario = point.scenario.clone();
    let mut stand = |element: ElementId, volts: Option<f64>| {
        let Some(row) = prepared.branch_of(element) else { return };
        let (volts, amperes) = (volts.unwrap_or(0.0), point.current[row]);
        if volts <= 0.0 || amperes <= 0.0 {
            scenario.opened.push((element, None));
        } else {
            scenario.held.push((element, physics::Ohm(volts / amperes)));
        }
    };
    for (id, load) in design.loads.iter() {
        let bends = load.drop_out.is_some() || !matches!(load.demand, Some(Demand::Resistance(_)));
        if bends && point.load_state[id] != LoadState::Off {
            stand(ElementId::Load(id), point.load_voltage[id].map(|v| v.0));
        }
    }
    for (id, _) in design.converters.iter().filter(|(id, _)| point.converter_state[*id] != LoadState::Off) {
        stand(ElementId::Converter(id), Some(respond::input(prepared, point, id)));
    }
    let loops = design.sensors.iter().filter(|(_, sensor)| matches!(sensor.law, SensorLaw::CurrentLoop { .. }));
    scenario.opened.extend(loops.map(|(id, _)| (ElementId::Sensor(id), None)));
    prepared.near(point).afresh(&scenario)
}

/// Why a state was not settled on the factor of its phase.
fn why_word(why: Fresh) -> &'static str {
    FaultTable::AFRESH[match why {
        Fresh::Base => 0,
        Fresh::Many => 1,
        Fresh::Converter => 2,
        Fresh::Cut => 3,
        Fresh::Energised => 4,
        Fresh::Returns => 5,
        Fresh::Unsettled => 6,
    }]
}
