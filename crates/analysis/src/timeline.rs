//! The mission in time: charge and temperature of every battery whose type is known, through all phases, in each corner.
//!
//! A phase is a leg, or several where something is commanded while it runs; each leg begins with a state settled from the phase's own. Within a leg only the batteries
//! change. A step asks the network what it draws at the *end* of the step from circuits that already hold what the step does to each battery
//! ([`physics::battery::Bank::circuit`]): an implicit step, so that neither a pair of half a minute nor two unequal batteries side by side bound its length. Each step
//! is taken whole and in two halves; the difference bounds the step, and twice the halves less the whole is kept, which is exact to second order.
//!
//! A load that lets go or comes back and a battery that is empty end a step: it is halved until the event lies within [`EVENT`]; of more than [`EVENTS`] events of a
//! leg the others lie within a step.
//! A battery is empty at its depth or its cut-off voltage, and is then taken off.
//!
//! What a plan orders on the way is followed leg by leg ([`Follow`]), from any standing of the batteries, so that courses which begin alike are followed once.
//!
//! Loads that pulse draw their mean here, which gives the right charge; what their pulses add to the loss in wires is not in the energy. Their peaks are settled
//! apart, at the beginning and end of each leg.
//!
//! Cost, for each corner: of each phase a factorisation, of each leg three states near its phase's and a factorisation, of each step three small updates and one state near ([`crate::Near`]). Steps are some
//! five to twenty a leg. Memory: of each step a few numbers for each battery and bus.

use crate::corner::{DemandAt, demand_in};
use crate::law::Law;
use crate::near::{Change, Near};
use crate::{Prepared, Watch, point};
use model::*;
use physics::battery::{Bank, Circuit, State};
use physics::*;
use rayon::prelude::*;

/// Difference between a whole step and its halves, as a share of a battery's charge.
const CLOSE: f64 = 1e-4;
/// Depth that a step may add at most: curves bend.
const DEEPEST: f64 = 0.025;
/// Steps of a leg at most.
const STEPS: usize = 4000;
/// Time within which an event is found.
pub const EVENT: Second = Second(0.05);
/// Events of a leg that are looked for one by one.
pub const EVENTS: usize = 40;
/// Less current than this is none: what rounding leaves of a battery's volts, over its ohms, A.
const NO_CURRENT: f64 = 1e-6;
/// Temperature that a step may move a battery by, K.
const WARMS: f64 = 1.0;

/// The mission in every corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Timeline {
    /// Batteries that are followed, in the order of their rows; the columns of every instant.
    pub batteries: Vec<Id<Source>>,
    /// Batteries that are not, and the field that is missing.
    pub lacking: Vec<(Id<Source>, &'static str)>,
    /// Buses with a return: the columns of every instant.
    pub buses: Vec<Id<InnerNode>>,
    /// Low, typical, high; empty where nothing is followed.
    pub runs: Vec<Run>,
}

/// The mission in one corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The corner.
    pub corner: Corner,
    /// Legs in order of time.
    pub legs: Vec<Leg>,
    /// How it ended.
    pub end: RunEnd,
    /// Charge of each battery when full, as storage and age leave it.
    pub charge: Vec<Coulomb>,
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq)]
pub enum RunEnd {
    /// With the last phase.
    Whole,
    /// At a phase whose duration is not stated.
    NoDuration(Id<Phase>),
    /// A part of the network with a followed battery has no operating point.
    Unsettled(Id<Phase>),
    /// More steps than the bound.
    StepLimit(Id<Phase>),
    /// Somebody stopped it.
    Cancelled,
}

/// A stretch with one set of commands.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// The phase.
    pub phase: Id<Phase>,
    /// Mission time at which it begins and ends.
    pub from: Second,
    /// Mission time at which it ends.
    pub to: Second,
    /// Whether the phase ends with it.
    pub ends_phase: bool,
    /// Settled instants in order; of the first, what the new commands bring.
    pub instants: Vec<Instant>,
    /// What happened, in order.
    pub events: Vec<Event>,
    /// With every pulse at its peak: at the beginning and at the end.
    pub peaks: Vec<Peak>,
    /// Loads that are on and not fed at an instant, with when that was first.
    pub unfed: Vec<(Id<Load>, Second)>,
    /// Energy of the leg.
    pub energy: Energy,
    /// Steps that were taken again because they were too long.
    pub repeated: usize,
    /// What the leg asks of loads and devices.
    pub asks: Asks,
}

/// What a leg asks of loads and devices, over all its instants and peaks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asks {
    /// Marks that it passes, each with when it first does: between two instants by a straight line.
    pub passed: Vec<(Mark, Second)>,
    /// Energy that each load took.
    pub taken: Column<Load, Joule>,
}

/// Values that a run is held against, as whoever follows it states them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    /// Each with its least voltage or greatest current, SI.
    pub at: Vec<(Mark, f64)>,
}

/// A settled instant.
#[derive(Clone, Debug, PartialEq)]
pub struct Instant {
    /// Mission time.
    pub at: Second,
    /// Of each followed battery.
    pub batteries: Vec<BatteryInstant>,
    /// Of each bus, against its return; `None` where it is dead.
    pub buses: Vec<Option<Volt>>,
    /// Power of each kind.
    pub power: Energy,
}

/// A battery at an instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryInstant {
    /// Share of its charge that is left.
    pub left: f64,
    /// Temperature of its cells.
    pub temperature: Kelvin,
    /// What it gives; negative where it is charged.
    pub current: Ampere,
    /// At its terminals.
    pub volts: Volt,
    /// Without load, at this charge.
    pub emf: Volt,
    /// Whether it is connected: gives or takes anything.
    pub on: bool,
}

/// Every load at its peak.
#[derive(Clone, Debug, PartialEq)]
pub struct Peak {
    /// Mission time.
    pub at: Second,
    /// What each followed battery gives.
    pub currents: Vec<Ampere>,
    /// Of each bus, against its return; `None` where it is dead.
    pub buses: Vec<Option<Volt>>,
    /// Whether it settled.
    pub settled: bool,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Mission time.
    pub at: Second,
    /// What.
    pub what: Happened,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happened {
    /// A load let go.
    LetGo(Id<Load>),
    /// A load came back.
    CameBack(Id<Load>),
    /// A battery has given its charge.
    Empty(Id<Source>),
    /// A battery came to its cut-off voltage with this share of charge left.
    CutOff(Id<Source>, f64),
}

/// Energy, or power, by where it comes from and where it stays. Each is summed on its own; [`Energy::open`] is what does not close.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Energy {
    /// Given by followed batteries: voltage without load times current.
    pub batteries: f64,
    /// Given by other sources, after their resistance.
    pub others: f64,
    /// Taken by loads.
    pub loads: f64,
    /// Lost in followed batteries: R i² of each resistance.
    pub in_batteries: f64,
    /// Held by their slow resistances.
    pub stored: f64,
    /// Lost in wires with their joints.
    pub wires: f64,
    /// Lost in contacts.
    pub contacts: f64,
    /// Lost in breakers, fuses, limiters, switches, relays, ties.
    pub devices: f64,
    /// Lost in diodes.
    pub diodes: f64,
    /// Lost in converters.
    pub converters: f64,
    /// Lost in straps, structure and links.
    pub structure: f64,
    /// Taken by sensors and their receivers.
    pub sensors: f64,
}

impl Energy {
    /// Given less taken, lost and held.
    pub fn open(&self) -> f64 {
        self.batteries + self.others - self.loads - self.lost() - self.stored - self.sensors
    }
    /// Lost on the way.
    pub fn lost(&self) -> f64 {
        self.in_batteries + self.wires + self.contacts + self.devices + self.diodes + self.converters + self.structure
    }
    /// Adds another one times a factor.
    pub fn add(&mut self, other: &Energy, times: f64) {
        for (own, more) in self.parts().into_iter().zip(other.clone().parts()) {
            *own += *more * times;
        }
    }
    fn parts(&mut self) -> [&mut f64; 12] {
        [
            &mut self.batteries,
            &mut self.others,
            &mut self.loads,
            &mut self.in_batteries,
            &mut self.stored,
            &mut self.wires,
            &mut self.contacts,
            &mut self.devices,
            &mut self.diodes,
            &mut self.converters,
            &mut self.structure,
            &mut self.sensors,
        ]
    }
}

/// How fine a timeline is computed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fineness {
    /// Factor of the usual tolerance and of the greatest step.
    pub share: f64,
}

impl Fineness {
    /// The usual one.
    pub const USUAL: Fineness = Fineness { share: 1.0 };
}

/// Which batteries can be followed, and the buses; no run yet.
pub fn followed(design: &Design) -> Timeline {
    let mut batteries = Vec::new();
    let mut lacking = Vec::new();
    for (id, source) in design.batteries.iter().filter(|(_, source)| source.kind == SourceKind::Battery) {
        match &source.cells {
            None => lacking.push((id, "type")),
            Some(cells) => match cells.bank(design, Corner::Typical, 0) {
                Ok(_) => batteries.push(id),
                Err(field) => lacking.push((id, field)),
            },
        }
    }
    let buses: Vec<Id<InnerNode>> =
        design.inner_nodes.iter().filter(|(_, node)| node.is_bus && node.bus_return.is_some()).map(|(id, _)| id).collect();
    Timeline { batteries, lacking, buses, runs: Vec::new() }
}

/// Follows every battery whose type is known through the mission, from the settled states of its phases (phase by phase, low, typical, high).
pub fn timeline(prepared: &Prepared, points: &[Point], fineness: Fineness, watch: &dyn Watch) -> Timeline {
    let mut found = followed(prepared.design);
    if !found.batteries.is_empty() {
        let runs = Corner::ALL.into_par_iter().map(|corner| {
            let mut follow = Follow::new(prepared, &found, corner, fineness);
            follow.mission(points, watch);
            follow.run
        });
        found.runs = runs.collect();
    }
    found
}

/// One battery on its way.
#[derive(Clone)]
struct Cell<'d> {
    battery: Id<Source>,
    row: Option<usize>,
    cells: &'d Cells,
    kind: &'d BatteryType,
    bank: Bank,
    state: State,
    cut_off: Option<f64>,
    spent: bool,
}

/// How the batteries stand at a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Time since the start.
    pub now: Second,
    /// Of each followed battery.
    pub states: Vec<State>,
    /// Which of them are taken off for good.
    pub spent: Vec<bool>,
}

/// Batteries followed in one corner, leg by leg.
pub struct Follow<'a, 'd> {
    prepared: &'a Prepared<'d>,
    buses: &'a [Id<InnerNode>],
    corner: Corner,
    fineness: Fineness,
    cells: Vec<Cell<'d>>,
    run: Run,
    now: f64,
    marks: Marks,
    shares: Vec<(Id<Load>, f64)>,
}

impl<'a, 'd> Follow<'a, 'd> {
    /// With the charge and temperature of the batteries' own rows.
    pub fn new(prepared: &'a Prepared<'d>, timeline: &'a Timeline, corner: Corner, fineness: Fineness) -> Follow<'a, 'd> {
        let design = prepared.design;
        let cells = timeline.batteries.iter().filter_map(|&battery| {
            let cells = design.batteries[battery].cells.as_ref()?;
            let bank = cells.bank(design, corner, 0).ok()?;
            let kind = &design.battery_types[cells.kind.value];
            let temperature = cells.temperature_in(corner).map_or(Kelvin(0.0), |given| given.value);
            let state = State { depth: 1.0 - cells.charge_in(corner).value.0, temperature, ..State::default() };
            Some(Cell {
                battery,
                row: prepared.branch_of(ElementId::Source(battery)),
                cells,
                kind,
                bank,
                state,
                cut_off: cells.cut_off(design).map(|volts| volts.0),
                spent: false,
            })
        });
        let cells: Vec<Cell> = cells.collect();
        let charge = cells.iter().map(|cell| cell.bank.charge(&cell.kind.curve)).collect();
        Follow {
            prepared,
            buses: &timeline.buses,
            corner,
            fineness,
            cells,
            run: Run { corner, legs: Vec::new(), end: RunEnd::Whole, charge },
            now: 0.0,
            marks: Marks::default(),
            shares: Vec::new(),
        }
    }

    /// Loads that are switched on and off in turns too short to be followed, each with the share of the time that it is on: from now on they draw their mean, as what
    /// pulses does.
    pub fn share(&mut self, shares: Vec<(Id<Load>, f64)>) {
        self.shares = shares;
    }

    /// Whether any load draws its mean for being switched in turns.
    pub fn has_shares(&self) -> bool {
        !self.shares.is_empty()
    }

    /// Holds every leg from now on against marks.
    pub fn mark(&mut self, marks: Marks) {
        self.marks = marks;
    }

    /// How the batteries stand now.
    pub fn standing(&self) -> Standing {
        Standing {
            now: Second(self.now),
            states: self.cells.iter().map(|cell| cell.state.clone()).collect(),
            spent: self.cells.iter().map(|cell| cell.spent).collect(),
        }
    }

    /// Goes on from another standing of the same batteries.
    pub fn stand(&mut self, standing: &Standing) {
        self.now = standing.now.0;
        for ((cell, state), spent) in self.cells.iter_mut().zip(&standing.states).zip(&standing.spent) {
            cell.state = state.clone();
            cell.spent = *spent;
        }
    }

    /// Charge of each battery when full, as storage and age leave it.
    pub fn charge(&self) -> &[Coulomb] {
        &self.run.charge
    }

    /// One leg from where the batteries stand: the state of its phase with what is commanded since, in the order commanded; and why it ended before its time.
    pub fn go(&mut self, planned: &Point, commanded: &[(ElementId, Commanded)], lasts: Second, watch: &dyn Watch) -> (Leg, Option<RunEnd>) {
        let end = self.leg(&self.prepared.near(planned), commanded, self.now + lasts.0, false, watch);
        (self.run.legs.pop().expect("leg: it has just been added"), end)
    }

    /// The state now: with pulses as their mean, or each at its peak; `loads` draw something else.
    pub fn state(&self, planned: &Point, commanded: &[(ElementId, Commanded)], peak: bool, loads: &[(Id<Load>, LoadChange)]) -> Point {
        let mut scenario = self.scenario(planned, commanded, peak);
        scenario.loads.extend(loads.iter().copied());
        self.prepared.near(planned).point(&scenario)
    }

    fn mission(&mut self, points: &[Point], watch: &dyn Watch) {
        let design = self.prepared.design;
        for (phase, row) in design.phases.iter() {
            let Some(duration) = row.duration else {
                self.run.end = RunEnd::NoDuration(phase);
                return;
            };
            let state = (phase, self.corner);
            let Some(planned) = points.iter().find(|point| (point.scenario.phase, point.scenario.corner) == state) else { continue };
            let (begins, near) = (self.now, self.prepared.near(planned));
            let mut commanded: Vec<(ElementId, Commanded)> = Vec::new();
            let mut breaks: Vec<f64> = row.programme.iter().map(|programme| programme.after.value.0).collect();
            breaks.push(duration.value.0);
            breaks.dedup();
            for until in breaks {
                if watch.cancelled() {
                    self.run.end = RunEnd::Cancelled;
                    return;
                }
                if until > 0.0
                    && let Some(end) = self.leg(&near, &commanded, begins + until, until == duration.value.0, watch)
                {
                    self.run.end = end;
                    return;
                }
                let now = row.programme.iter().filter(|programme| programme.after.value.0 == until);
                commanded.extend(now.flat_map(|programme| &programme.states).map(|state| state.value));
            }
        }
    }

    /// The scenario of a leg with the batteries as they stand; `peak` with every pulse at its peak.
    fn scenario(&self, planned: &Point, commanded: &[(ElementId, Commanded)], peak: bool) -> Scenario {
        let design = self.prepared.design;
        let mut scenario = planned.scenario.clone();
        for &(element, state) in commanded {
            scenario.switches.push((element, state));
        }
        for cell in self.cells.iter().filter(|cell| cell.spent) {
            scenario.switches.push((ElementId::Source(cell.battery), Commanded::Off));
        }
        if !peak {
            let given = |id: Id<Load>| {
                let of_it = |&&(of, change): &&(Id<Load>, LoadChange)| of == id && !matches!(change, LoadChange::On | LoadChange::Off);
                planned.scenario.loads.iter().rev().find(of_it).map(|&(_, change)| change)
            };
            let mean = |(id, load): (Id<Load>, &Load)| {
                let given = given(id);
                let pulses = load.on_time.zip(load.period).filter(|_| given.is_none()).map(|(on, period)| on.value.0 / period.value.0);
                let turns = self.shares.iter().find(|(of, _)| *of == id).map(|(_, share)| *share);
                let share = pulses.into_iter().chain(turns).reduce(|a, b| a * b)?;
                let whole = given.or_else(|| {
                    Some(match demand_in(load, self.corner)? {
                        DemandAt::Power(p) => LoadChange::Power(p),
                        DemandAt::Current(i) => LoadChange::Current(i),
                        DemandAt::Resistance(r) => LoadChange::Resistance(r),
                    })
                })?;
                let change = match whole {
                    LoadChange::Power(p) => LoadChange::Power(p * share),
                    LoadChange::Current(i) => LoadChange::Current(i * share),
                    LoadChange::Resistance(r) => LoadChange::Resistance(r / share),
                    LoadChange::On | LoadChange::Off => return None,
                };
                Some((id, change))
            };
            scenario.loads.extend(design.loads.iter().filter_map(mean));
        }
        scenario.batteries = self.overlay(&self.cells.iter().map(|cell| self.circuit(cell, 0.0)).collect::<Vec<_>>());
        scenario
    }

    fn overlay(&self, circuits: &[Circuit]) -> Vec<BatteryAt> {
        let at = |(cell, circuit): (&Cell, &Circuit)| BatteryAt { battery: cell.battery, emf: circuit.emf, ohms: circuit.ohms };
        self.cells.iter().zip(circuits).map(at).collect()
    }

    fn circuit(&self, cell: &Cell, after: f64) -> Circuit {
        cell.bank.circuit(&cell.kind.curve, &cell.state, Second(after))
    }

    /// One leg; how the run ends if it ends here.
    fn leg(
        &mut self,
        planned: &Near,
        commanded: &[(ElementId, Commanded)],
        until: f64,
        ends_phase: bool,
        watch: &dyn Watch,
    ) -> Option<RunEnd> {
        let phase = planned.base().scenario.phase;
        let mut leg = Leg {
            phase,
            from: Second(self.now),
            to: Second(self.now),
            ends_phase,
            instants: Vec::new(),
            events: Vec::new(),
            peaks: Vec::new(),
            unfed: Vec::new(),
            energy: Energy::default(),
            repeated: 0,
            asks: Asks { passed: Vec::new(), taken: self.prepared.design.loads.column(Joule(0.0)) },
        };
        self.follow_temperature(phase, None, 0.0);
        let peak = self.peak(planned, commanded, &mut leg);
        leg.peaks.push(peak);
        let end = self.legs_steps(planned, commanded, until, &mut leg, watch);
        leg.to = Second(self.now);
        let peak = self.peak(planned, commanded, &mut leg);
        leg.peaks.push(peak);
        self.run.legs.push(leg);
        end
    }

    fn legs_steps(
        &mut self,
        planned: &Near,
        commanded: &[(ElementId, Commanded)],
        until: f64,
        leg: &mut Leg,
        watch: &dyn Watch,
    ) -> Option<RunEnd> {
        let phase = planned.base().scenario.phase;
        let mut warm: Option<Point> = None;
        let mut located = 0;
        // Begun anew whenever a battery leaves: its branch opens for good.
        loop {
            let scenario = self.scenario(planned.base(), commanded, false);
            let base = match &warm {
                None => planned.roughly(&scenario),
                Some(warm) => point::roughly(self.prepared, &scenario, Some(warm)),
            };
            let base = if self.settled(&base) { base } else { point::roughly(self.prepared, &scenario, None) };
            if !self.settled(&base) {
                return Some(RunEnd::Unsettled(phase));
            }
            let laws = self.prepared.laws(&base.scenario);
            for cell in &mut self.cells {
                let current = cell.row.map_or(0.0, |row| -base.current[row]);
                cell.state.current = Ampere(current / cell.bank.parallel);
            }
            // A load that lets go only now did so when the leg began, or when a battery left.
            let known = warm.as_ref().map(|point| point.load_state.clone());
            self.note_loads(known.as_ref(), &base, leg);
            let first = self.instant(&base, &laws);
            self.record(leg, first, warm.is_none());
            self.note_passed(leg, None, &base);
            let near = self.prepared.near(&base);
            let mut room = near.room();
            let mut last = base.clone();
            let mut step = until - self.now;
            let mut left = STEPS;
            let mut leaving = false;
            while self.now < until - 1e-9 * until.abs() {
                left -= 1;
                if left == 0 || watch.cancelled() {
                    return Some(if left == 0 { RunEnd::StepLimit(phase) } else { RunEnd::Cancelled });
                }
                step = step.min(until - self.now).min(self.longest(phase, &last));
                let Some((states, error)) = self.try_step(&near, &base, step, &mut room) else {
                    // A part of the network finds no state: shorter steps come closer to where it is lost.
                    if step <= EVENT.0 {
                        return Some(RunEnd::Unsettled(phase));
                    }
                    step *= 0.5;
                    leg.repeated += 1;
                    continue;
                };
                if error > 1.0 && step > EVENT.0 {
                    step *= (0.8 / error.sqrt()).clamp(0.1, 0.7);
                    leg.repeated += 1;
                    continue;
                }
                let before: Vec<State> = self.cells.iter().map(|cell| cell.state.clone()).collect();
                for (cell, state) in self.cells.iter_mut().zip(states) {
                    cell.state = state;
                }
                self.follow_temperature(phase, Some(&last), step);
                let circuits: Vec<Circuit> = self.cells.iter().map(|cell| self.circuit(cell, 0.0)).collect();
                let mut scenario = base.scenario.clone();
                scenario.batteries = self.overlay(&circuits);
                let found = near.try_point(&scenario, &mut room).unwrap_or_else(|_| near.roughly_afresh(&scenario));
                let is_settled = self.settled(&found);
                let spent = self.spent(&found);
                let happened = !is_settled || spent.is_some() || differs(&last, &found);
                let looked_for = located < EVENTS || !is_settled || spent.is_some();
                if happened && looked_for && step > EVENT.0 {
                    for (cell, state) in self.cells.iter_mut().zip(before) {
                        cell.state = state;
                    }
                    step = (0.5 * step).max(0.999 * EVENT.0);
                    leg.repeated += 1;
                    continue;
                }
                if !is_settled {
                    return Some(RunEnd::Unsettled(phase));
                }
                self.now += step;
                for cell in &mut self.cells {
                    let current = cell.row.map_or(0.0, |row| -found.current[row]);
                    cell.state.current = Ampere(current / cell.bank.parallel);
                }
                self.note_loads(Some(&last.load_state), &found, leg);
                let instant = self.instant(&found, &laws);
                self.record(leg, instant, false);
                self.note_passed(leg, Some((&last, step)), &found);
                self.note_taken(leg, &last, &found, step);
                last = found;
                if let Some((at, what)) = spent {
                    self.cells[at].spent = true;
                    leg.events.push(Event { at: Second(self.now), what });
                    leaving = true;
                    break;
                }
                if happened {
                    located += 1;
                    step = until - self.now;
                } else {
                    step *= if error > 0.0 { (0.8 / error.sqrt()).clamp(0.5, 4.0) } else { 4.0 };
                }
            }
            if !leaving {
                return None;
            }
            warm = Some(last);
        }
    }

    /// A whole step and its two halves: the states at its end, and how far they differ in tolerances. `None` where one does not settle.
    fn try_step(&self, near: &Near, base: &Point, step: f64, room: &mut crate::Room) -> Option<(Vec<State>, f64)> {
        let whole = self.currents(near, base, &self.cells, step, room)?;
        let first = self.currents(near, base, &self.cells, 0.5 * step, room)?;
        let mut halves = self.cells.clone();
        for (cell, current) in halves.iter_mut().zip(&first) {
            cell.state = cell.bank.after(&cell.kind.curve, &cell.state, *current, Second(0.5 * step));
        }
        let second = self.currents(near, base, &halves, 0.5 * step, room)?;
        let mut error: f64 = 0.0;
        let mut states = Vec::new();
        for (n, cell) in halves.iter().enumerate() {
            let curve = &cell.kind.curve;
            let once = self.cells[n].bank.after(curve, &self.cells[n].state, whole[n], Second(step));
            let twice = cell.bank.after(curve, &cell.state, second[n], Second(0.5 * step));
            error = error.max((twice.depth - once.depth).abs() / (CLOSE * self.fineness.share));
            states.push(State { depth: (2.0 * twice.depth - once.depth).max(0.0), ..twice });
        }
        Some((states, error))
    }

    /// What each battery gives at the end of a step.
    fn currents(&self, near: &Near, base: &Point, cells: &[Cell], after: f64, room: &mut crate::Room) -> Option<Vec<Ampere>> {
        let circuits: Vec<Circuit> = cells.iter().map(|cell| cell.bank.circuit(&cell.kind.curve, &cell.state, Second(after))).collect();
        let laws = near.laws();
        let law = |circuit: &Circuit| Law::Emf { volts: circuit.emf.0, g: circuit.ohms.conductance().0 };
        let is_open = |row: usize| laws.is_none_or(|laws| laws[row] == Law::Open);
        let rows = || cells.iter().zip(&circuits).filter_map(|(cell, circuit)| Some((cell.row?, circuit)));
        let change = Change {
            laws: rows().filter(|(row, _)| !is_open(*row)).map(|(row, circuit)| (row, law(circuit))).collect(),
            joined: Vec::new(),
        };
        if laws.is_some() && near.settle(&change, room).is_ok() {
            let given = |cell: &Cell, circuit: &Circuit| {
                let volts = cell.row.filter(|&row| !is_open(row)).and_then(|row| near.volts(room, row));
                Ampere(volts.map_or(0.0, |volts| (circuit.emf.0 - volts) / circuit.ohms.0))
            };
            return Some(cells.iter().zip(&circuits).map(|(cell, circuit)| given(cell, circuit)).collect());
        }
        let mut scenario = base.scenario.clone();
        scenario.batteries = self.overlay(&circuits);
        let found = near.roughly_afresh(&scenario);
        let current = |cell: &Cell| Ampere(cell.row.map_or(0.0, |row| -found.current[row]));
        self.settled(&found).then(|| cells.iter().map(current).collect())
    }

    /// Whether the parts of the network that followed batteries are in have an operating point.
    fn settled(&self, point: &Point) -> bool {
        self.cells.iter().filter_map(|cell| cell.row).all(|row| {
            let node = self.prepared.branches()[row].from;
            point.island_of[node.row()].is_none_or(|island| point.islands[island as usize].outcome.is_settled())
        })
    }

    /// The longest step that bends no curve too far.
    fn longest(&self, phase: Id<Phase>, last: &Point) -> f64 {
        let mut longest = f64::INFINITY;
        for cell in &self.cells {
            let rate = cell.state.current.0.abs() / (cell.kind.curve.rated.0 * cell.bank.capacity.0);
            if rate > 0.0 {
                // The last step before an empty battery ends just beyond it, not far away.
                let room = (1.0 - cell.state.depth).max(1e-3) * 1.01;
                longest = longest.min((DEEPEST * self.fineness.share).min(room) / rate);
            }
            let target = self.temperature(cell, phase, Some(last));
            let away = (target.0 - cell.state.temperature.0).abs();
            if let Some(tau) = cell.cells.cools_in.filter(|_| away > WARMS) {
                longest = longest.min(tau.value.0 * WARMS / away);
            }
        }
        longest.max(EVENT.0)
    }

    /// The temperature that a battery tends to.
    fn temperature(&self, cell: &Cell, phase: Id<Phase>, point: Option<&Point>) -> Kelvin {
        let ambient = &self.prepared.design.phases[phase].ambient;
        let ambient = match self.corner {
            Corner::Low => ambient.low,
            Corner::Typical => ambient.typical,
            Corner::High => ambient.high,
        };
        let is_fed = |heater: Id<Load>| point.is_none_or(|point| point.load_state[heater] == LoadState::On && point.load_fed[heater]);
        match (cell.cells.temperature_in(self.corner), cell.cells.heater) {
            (Some(kept), None) => kept.value,
            (Some(kept), Some(heater)) if is_fed(heater.value) => kept.value,
            _ => ambient.value,
        }
    }

    fn follow_temperature(&mut self, phase: Id<Phase>, point: Option<&Point>, step: f64) {
        for at in 0..self.cells.len() {
            let cell = &self.cells[at];
            let target = self.temperature(cell, phase, point);
            let now = cell.state.temperature;
            let next = match cell.cells.cools_in.filter(|_| now.0 > 0.0 && cell.cells.heater.is_some()) {
                // When a leg begins it is not yet known whether the heater is fed.
                Some(_) if point.is_none() => now,
                Some(tau) => target + TemperatureRise((now.0 - target.0) * (-step / tau.value.0).exp()),
                None => target,
            };
            self.cells[at].state.temperature = next;
        }
    }

    /// The first battery that has become empty, and how.
    fn spent(&self, point: &Point) -> Option<(usize, Happened)> {
        self.cells.iter().enumerate().filter(|(_, cell)| !cell.spent).find_map(|(at, cell)| {
            let row = cell.row?;
            let current = -point.current[row];
            if cell.state.depth >= 1.0 && current > 0.0 {
                return Some((at, Happened::Empty(cell.battery)));
            }
            let circuit = self.circuit(cell, 0.0);
            let volts = circuit.emf.0 - circuit.ohms.0 * current;
            (current > 0.0 && cell.cut_off.is_some_and(|least| volts < least))
                .then_some((at, Happened::CutOff(cell.battery, 1.0 - cell.state.depth)))
        })
    }

    fn note_loads(&self, before: Option<&Column<Load, LoadState>>, now: &Point, leg: &mut Leg) {
        let at = Second(self.now);
        for (id, state) in now.load_state.iter() {
            let dropped = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
            let was = before.is_some_and(|before| dropped(&before[id]));
            if dropped(state) && !was {
                leg.events.push(Event { at, what: Happened::LetGo(id) });
            }
            if was && *state == LoadState::On {
                leg.events.push(Event { at, what: Happened::CameBack(id) });
            }
            let is_unfed = dropped(state) || (*state == LoadState::On && !now.load_fed[id]);
            if is_unfed && !leg.unfed.iter().any(|(known, _)| *known == id) {
                leg.unfed.push((id, at));
            }
        }
    }

    fn record(&self, leg: &mut Leg, instant: Instant, is_first: bool) {
        if let (Some(last), false) = (leg.instants.last(), is_first) {
            let half = 0.5 * (instant.at.0 - last.at.0);
            let (before, after) = (last.power, instant.power);
            leg.energy.add(&before, half);
            leg.energy.add(&after, half);
        }
        leg.instants.push(instant);
    }

    /// Notes marks that a state passes for the first time in the leg; `before` is the state a step earlier.
    fn note_passed(&self, leg: &mut Leg, before: Option<(&Point, f64)>, point: &Point) {
        for &(mark, limit) in &self.marks.at {
            if leg.asks.passed.iter().any(|(known, _)| *known == mark) {
                continue;
            }
            // What is left to the mark; below zero it is passed.
            let room = |point: &Point| match mark {
                Mark::Bus(bus) => self.bus_volt(point, bus).map(|volts| volts.0 - limit),
                Mark::Load(load) => {
                    let is_on = point.load_fed[load] && point.load_state[load] == LoadState::On;
                    point.load_voltage[load].filter(|_| is_on).map(|volts| volts.0 - limit)
                }
                Mark::Device(device) => self.prepared.branch_of(ElementId::Protector(device)).map(|row| limit - point.current[row].abs()),
                Mark::Battery(battery) => self.prepared.branch_of(ElementId::Source(battery)).map(|row| limit + point.current[row]),
            };
            let Some(over) = room(point).filter(|left| *left < 0.0) else { continue };
            let back = before.and_then(|(before, step)| Some(step * over / (over - room(before).filter(|left| *left >= 0.0)?)));
            leg.asks.passed.push((mark, Second(self.now - back.unwrap_or(0.0))));
        }
    }

    fn note_taken(&self, leg: &mut Leg, before: &Point, now: &Point, step: f64) {
        for load in self.prepared.design.loads.ids() {
            let Some(row) = self.prepared.branch_of(ElementId::Load(load)) else { continue };
            let power = |point: &Point| point.current[row] * point.load_voltage[load].map_or(0.0, |volts| volts.0);
            leg.asks.taken[load].0 += 0.5 * step * (power(before) + power(now));
        }
    }

    fn instant(&self, point: &Point, laws: &[Law]) -> Instant {
        let mut power = self.power(point, laws);
        let mut batteries = Vec::new();
        for cell in &self.cells {
            let on = cell.row.is_some_and(|row| point.current[row].abs() > NO_CURRENT) && !cell.spent;
            let current = cell.row.map_or(0.0, |row| -point.current[row]);
            let circuit = self.circuit(cell, 0.0);
            let emf = cell.bank.emf(&cell.kind.curve, cell.state.depth, cell.state.temperature);
            let state = State { current: Ampere(current / cell.bank.parallel), ..cell.state.clone() };
            let (heat, stored) = cell.bank.losses(&cell.kind.curve, &state);
            power.batteries += emf.0 * current;
            power.in_batteries += heat;
            power.stored += stored;
            batteries.push(BatteryInstant {
                left: 1.0 - cell.state.depth,
                temperature: cell.state.temperature,
                current: Ampere(current),
                volts: circuit.emf - circuit.ohms * Ampere(current),
                emf,
                on,
            });
        }
        Instant { at: Second(self.now), batteries, buses: self.bus_volts(point), power }
    }

    fn bus_volts(&self, point: &Point) -> Vec<Option<Volt>> {
        self.buses.iter().map(|&bus| self.bus_volt(point, bus)).collect()
    }

    /// Voltage of a bus against its return; `None` where it is dead or its part of the network is not settled.
    pub fn bus_volt(&self, point: &Point, bus: Id<InnerNode>) -> Option<Volt> {
        let back = self.prepared.design.inner_nodes[bus].bus_return?.value;
        let (a, b) = (self.prepared.node(End::Inner(bus))?, self.prepared.node(back)?);
        let island = point.island_of[a.row()].filter(|_| point.island_of[a.row()] == point.island_of[b.row()])?;
        let island = &point.islands[island as usize];
        let volts = point.voltage[a.row()] - point.voltage[b.row()];
        (island.driven && island.outcome.is_settled() && volts.abs() >= crate::FED).then_some(Volt(volts))
    }

    /// Power by element: what flows times what it falls for what works, the square of what flows over the conductance for what only loses.
    fn power(&self, point: &Point, laws: &[Law]) -> Energy {
        let mut power = Energy::default();
        let followed = |id: Id<Source>| self.cells.iter().any(|cell| cell.battery == id);
        for (row, branch) in self.prepared.branches().iter().enumerate() {
            let i = point.current[row];
            if i == 0.0 {
                continue;
            }
            let v = point.voltage[branch.from.row()] - point.voltage[branch.to.row()];
            let lost = match laws[row] {
                Law::Conductance { g } => i * i / g,
                _ => v * i,
            };
            match branch.element {
                ElementId::Source(id) if followed(id) => {}
                ElementId::Source(_) => power.others -= v * i,
                ElementId::Load(_) => power.loads += v * i,
                ElementId::Wire(_) | ElementId::Joint(..) => power.wires += lost,
                ElementId::Contact(_) => power.contacts += lost,
                ElementId::Protector(_) | ElementId::Switch(_) => power.devices += lost,
                ElementId::Diode(_) => {
                    power.diodes += match laws[row] {
                        Law::Diode { forward, g } => forward * i + i * i / g,
                        _ => lost,
                    }
                }
                ElementId::Converter(_) => power.converters += v * i,
                ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Excitation(_) => power.sensors += v * i,
                _ => power.structure += lost,
            }
        }
        power
    }

    /// The state now with every pulse at its peak.
    fn peak(&self, planned: &Near, commanded: &[(ElementId, Commanded)], leg: &mut Leg) -> Peak {
        let found = planned.roughly(&self.scenario(planned.base(), commanded, true));
        if self.settled(&found) {
            self.note_passed(leg, None, &found);
        }
        let current = |cell: &Cell| Ampere(cell.row.map_or(0.0, |row| -found.current[row]));
        Peak {
            at: Second(self.now),
            currents: self.cells.iter().map(current).collect(),
            buses: self.bus_volts(&found),
            settled: self.settled(&found),
        }
    }
}

/// Whether a load let go, came back, or lost its feed between two states. A diode that turns does so at no current, and bends nothing.
fn differs(a: &Point, b: &Point) -> bool {
    let dropped = |state: &LoadState| matches!(state, LoadState::DroppedOut { .. });
    let let_go = a.load_state.iter().zip(b.load_state.iter()).any(|((_, a), (_, b))| dropped(a) != dropped(b));
    let_go || a.load_fed.iter().zip(b.load_fed.iter()).any(|((_, a), (_, b))| a != b)
}

impl Timeline {
    /// The run of a corner.
    pub fn run(&self, corner: Corner) -> Option<&Run> {
        self.runs.iter().find(|run| run.corner == corner)
    }
    /// The column of a battery.
    pub fn column(&self, battery: Id<Source>) -> Option<usize> {
        self.batteries.iter().position(|known| *known == battery)
    }
}

impl Run {
    /// All instants in order.
    pub fn instants(&self) -> impl Iterator<Item = (&Leg, &Instant)> {
        self.legs.iter().flat_map(|leg| leg.instants.iter().map(move |instant| (leg, instant)))
    }
    /// All events in order.
    pub fn events(&self) -> impl Iterator<Item = (&Leg, &Event)> {
        self.legs.iter().flat_map(|leg| leg.events.iter().map(move |event| (leg, event)))
    }
    /// Energy of all legs.
    pub fn energy(&self) -> Energy {
        let mut all = Energy::default();
        self.legs.iter().for_each(|leg| all.add(&leg.energy, 1.0));
        all
    }
}
