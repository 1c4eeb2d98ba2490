//! Settles one state: Newton on the nodal equations inside, and around it diodes, drop-outs, returns and converters.
//!
//! Newton starts at the voltages without demands. With constant-power loads the residual is convex and the Jacobian at that
//! start is inverse-positive, so the iterates come down on the upper, true operating point without damping, and a pivot that
//! is not positive on the way says that there is none (worked by hand; the textbook form is monotone Newton for convex
//! functions with an inverse-positive derivative, Ortega and Rheinboldt 1970, section 13.3 [from memory]). Networks outside
//! that theory are caught by raising all demands of the island from zero in steps.

use crate::Sets;
use crate::law::Law;
use crate::network::{Network, Work};
use std::collections::HashSet;

/// Terminal voltage below which a demand is not counted as fed: returns of other loads shift two ends of one structure by
/// tens of millivolts, which feeds nobody (common practice, no source).
pub const FED: f64 = 0.5;
/// Newton steps per solution; far above the handful that settle.
const STEPS: usize = 80;
/// Steps on one factor in a row, and the share of the step before that one may be and still count as quick.
const CHORDS: usize = 30;
const QUICK: f64 = 0.25;
/// Relative difference of the slope of a load from the one that it has in a factor, within which that is used again.
const NEARLY: f64 = 0.1;
/// Change of a branch that a factor may leave out, S: what a load draws next to nothing by. Behind ohms a step is a ten-thousandth of the one before; where
/// it is more than [`QUICK`] of that, the factor is made anew.
const FAINT: f64 = 1e-5;
/// How often one load may be put on its straight line and taken off again.
const EXTENSIONS: u8 = 6;
/// Change of voltage at which Newton has settled, before its last quadratic step.
const SETTLED: f64 = 1e-11;
/// Currents and voltages within which a diode is on its corner, above the rounding noise of volts over milliohms.
pub(crate) const DIODE_CURRENT: f64 = 1e-9;
pub(crate) const DIODE_VOLTAGE: f64 = 1e-9;
/// Current below which a conducting diode may be one that feeds nothing: rounding noise at tens of volts over milliohms.
const RESTING: f64 = 1e-7;
/// How far beyond the greatest share that may have an operating point one is tried that should have none.
const ROUGHLY: f64 = 0.02;
/// Share of its power below which a load cannot have all of it, rounding aside.
const LESS: f64 = 1.0 - 1e-9;
/// How closely the share of an island's demands is found that has an operating point.
const SHARE: f64 = 1e-5;
/// Guesses at it before halves take over.
const GUESSES: usize = 20;
const NONE: u32 = u32::MAX;

/// How an island failed, in rows and nodes of the numeric network.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Failure {
    NoOperatingPoint { row: usize, asked: f64, possible: Option<f64> },
    Cycle { rows: Vec<usize> },
    Singular { node: u32 },
    StepLimit { node: u32, residual: f64 },
}

/// The settled numbers.
#[derive(Clone, Debug)]
pub(crate) struct Solution {
    pub(crate) voltage: Vec<f64>,
    pub(crate) current: Vec<f64>,
    /// Representative node of each node's island, `NONE` where nothing conducts.
    pub(crate) component: Vec<u32>,
    pub(crate) driven: Vec<bool>,
    pub(crate) references: Vec<u32>,
    pub(crate) failures: Vec<(u32, Failure)>,
    /// Voltage at which each row let go.
    pub(crate) dropped: Vec<Option<f64>>,
    /// Demands whose current has no way back.
    pub(crate) stranded: Vec<bool>,
    pub(crate) no_load: Vec<f64>,
    pub(crate) diode_on: Vec<bool>,
    pub(crate) steps: usize,
    pub(crate) factorisations: usize,
}

impl Solution {
    /// Whether a branch has voltage across it before any demand draws, from a source that its current finds back to.
    pub(crate) fn is_fed(&self, net: &Network, row: usize) -> bool {
        is_fed(net, row, (&self.component, &self.driven), &self.no_load) && !self.stranded[row]
    }
}

fn is_fed(net: &Network, row: usize, (component, driven): (&[u32], &[bool]), no_load: &[f64]) -> bool {
    let (a, b) = (net.from[row] as usize, net.to[row] as usize);
    let own = component[a];
    own != NONE && own == component[b] && driven[own as usize] && no_load[a] - no_load[b] > FED
}

pub(crate) struct Settle<'a> {
    net: &'a Network,
    laws: &'a [Law],
    grounds: &'a [u32],
    /// Order in which equal candidates are taken: by name, so that the order of rows in the input decides nothing.
    rank: &'a dyn Fn(usize) -> String,
    work: Work,
    demands: Vec<usize>,
    diodes: Vec<usize>,
    inputs: Vec<usize>,
    /// EMFs, outputs of converters, injected currents.
    sources: Vec<usize>,
    diode_on: Vec<bool>,
    dropped: Vec<Option<f64>>,
    /// Had let go before this state began.
    off_from_start: Vec<bool>,
    rejoined: Vec<bool>,
    /// Stands on its straight line below the drop-out voltage.
    extended: Vec<bool>,
    /// Put there because its island had no way on.
    forced: Vec<bool>,
    extensions: Vec<u8>,
    scale: Vec<f64>,
    active: Vec<bool>,
    input_power: Vec<f64>,
    component: Vec<u32>,
    driven: Vec<bool>,
    references: Vec<u32>,
    live: Vec<bool>,
    starved: Vec<bool>,
    failures: Vec<(u32, Failure)>,
    no_load: Vec<f64>,
    v: Vec<f64>,
    /// Slope and current at zero volts of every branch that does not bend.
    straight: Vec<(f64, f64)>,
    /// Demands that draw, and those of them that bend.
    drawing: Vec<usize>,
    curved: Vec<usize>,
    /// Slopes and references that the factor was made of; no slopes before the first.
    slope: Vec<f64>,
    factored_references: Vec<u32>,
    /// Current of each that bends in the linear model.
    model: Vec<f64>,
    reach: Reach,
    joined: Option<Joined>,
    /// Demands whose current has no way back, whatever diodes and converters do.
    stranded: Vec<bool>,
    steps: usize,
    warm: bool,
    /// Of a part without an operating point it is enough to know that.
    roughly: bool,
    /// Parts of the present lay-out that had no way on, each with the greatest share of its demands that one of them alone allows.
    most: Vec<(u32, Option<f64>)>,
}

/// What hangs together whatever diodes and converters do.
#[derive(Clone, Debug)]
pub(crate) struct Joined {
    sets: Sets,
    /// Nodes that anything leads to.
    conducts: Vec<bool>,
}

/// Places of what bends, of the outputs of converters and of all that stands above them in the elimination tree: steps for what bends alone move nothing
/// else until they are done.
#[derive(Default)]
struct Reach {
    /// Demands that it was made for.
    of: Vec<usize>,
    /// Ascending.
    places: Vec<u32>,
    is_there: Vec<bool>,
    /// Right-hand side by place, zero but within a step; its sum over the steps once L⁻¹ has been applied; the move.
    rhs: Vec<f64>,
    sum: Vec<f64>,
    moved: Vec<f64>,
}

impl Reach {
    /// Where no step has been made for other demands since, this costs nothing.
    fn renew(&mut self, net: &Network, curved: &[usize], inputs: &[usize]) {
        if self.rhs.is_empty() {
            (self.rhs, self.sum, self.moved) = (vec![0.0; net.nodes], vec![0.0; net.nodes], vec![0.0; net.nodes]);
            self.is_there = vec![false; net.nodes];
        } else if self.of == curved {
            return;
        }
        curved.clone_into(&mut self.of);
        self.places.drain(..).for_each(|k| self.is_there[k as usize] = false);
        for row in curved.iter().copied().chain(inputs.iter().map(|input| input + 1)) {
            for node in [net.from[row], net.to[row]] {
                let mut k = net.pattern.place()[node as usize];
                while k != NONE && !std::mem::replace(&mut self.is_there[k as usize], true) {
                    self.places.push(k);
                    k = net.pattern.above(k);
                }
            }
        }
        self.places.sort_unstable();
    }
}

enum Stop {
    /// A pivot at this node is not positive, or a demand there has no voltage left.
    At(u32),
    StepLimit(u32, f64),
}

impl<'a> Settle<'a> {
    pub(crate) fn new(
        net: &'a Network,
        laws: &'a [Law],
        grounds: &'a [u32],
        rank: &'a dyn Fn(usize) -> String,
        dropped: &[usize],
    ) -> Settle<'a> {
        let (mut demands, mut diodes, mut inputs, mut sources) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut diode_on = vec![false; laws.len()];
        for (row, law) in laws.iter().enumerate() {
            match law {
                Law::Open | Law::Conductance { .. } => {}
                Law::Emf { .. } | Law::ConverterOutput { .. } | Law::Injection { .. } => sources.push(row),
                Law::Diode { .. } => {
                    diodes.push(row);
                    diode_on[row] = true;
                }
                Law::ConverterInput { .. } => {
                    demands.push(row);
                    inputs.push(row);
                }
                Law::Power { .. } | Law::Current { .. } | Law::Resistance { .. } => demands.push(row),
            }
        }
        let mut settle = Settle {
            net,
            laws,
            grounds,
            rank,
            work: net.work(),
            demands,
            diodes,
            inputs,
            sources,
            diode_on,
            dropped: vec![None; laws.len()],
            off_from_start: vec![false; laws.len()],
            rejoined: vec![false; laws.len()],
            extended: vec![false; laws.len()],
            forced: vec![false; laws.len()],
            extensions: vec![0; laws.len()],
            scale: vec![1.0; laws.len()],
            active: vec![false; laws.len()],
            input_power: vec![0.0; laws.len()],
            component: Vec::new(),
            driven: Vec::new(),
            references: Vec::new(),
            live: vec![false; laws.len()],
            starved: vec![false; laws.len()],
            failures: Vec::new(),
            no_load: vec![0.0; net.nodes],
            v: vec![0.0; net.nodes],
            straight: Vec::new(),
            drawing: Vec::new(),
            curved: Vec::new(),
            slope: Vec::new(),
            factored_references: Vec::new(),
            model: Vec::new(),
            reach: Reach::default(),
            joined: None,
            stranded: vec![false; laws.len()],
            steps: 0,
            warm: false,
            roughly: false,
            most: Vec::new(),
        };
        for &row in dropped {
            if settle.laws[row].is_demand() {
                settle.dropped[row] = Some(0.0);
                settle.off_from_start[row] = true;
            }
        }
        settle
    }

    /// Starts from a state nearby instead of from all diodes conducting and no demands: it saves steps and decides nothing.
    pub(crate) fn start_from(&mut self, volts: &[f64], diode_on: &dyn Fn(usize) -> bool) {
        for index in 0..self.diodes.len() {
            let row = self.diodes[index];
            self.diode_on[row] = diode_on(row);
        }
        self.v.copy_from_slice(volts);
        self.warm = true;
    }

    /// Of a part without an operating point only that is found out, and not how much of its demands would have one.
    pub(crate) fn roughly(&mut self) {
        self.roughly = true;
    }

    /// Settles; every loop is bounded and every island ends with an outcome.
    pub(crate) fn run(mut self) -> Solution {
        for &row in &self.inputs {
            if let Law::ConverterInput { quiescent, .. } = self.laws[row] {
                self.input_power[row] = quiescent;
            }
        }
        loop {
            if let Err(node) = self.lay_out() {
                self.failures.push((self.component[node as usize], Failure::Singular { node }));
                return self.finish();
            }
            if !self.warm || !self.wake_diodes() {
                break;
            }
        }
        let bound = 50 + 8 * (self.demands.len() + self.diodes.len()) + 60 * self.inputs.len().min(50);
        let mut seen = HashSet::new();
        let mut one_by_one = false;
        let mut cold = !self.warm;
        for _ in 0..bound {
            if let Err(stop) = self.newton(cold) {
                if !cold {
                    cold = true;
                    continue;
                }
                self.give_way(stop);
                continue;
            }
            cold = false;
            if let Some(flipped) = self.flip_diodes(&mut seen, &mut one_by_one) {
                if flipped {
                    let drew: Vec<bool> = self.demands.iter().map(|&row| self.active[row] && !self.extended[row]).collect();
                    if self.lay_out().is_err() {
                        break;
                    }
                    self.lift(&drew);
                }
                continue;
            }
            if self.update_converters() || self.restore_extended() {
                continue;
            }
            let converters_off = |settle: &Self| settle.inputs.iter().filter(|&&row| settle.dropped[row].is_some()).count();
            let off = converters_off(&self);
            if self.drop_lowest() || self.rejoin() {
                seen.clear();
                one_by_one = false;
                // One that dropped out or came back changes who is driven; a load does not. Without demands nothing can be singular that was not before.
                if converters_off(&self) != off {
                    let _ = self.lay_out();
                }
                continue;
            }
            // A load left on its line although it has voltage draws by no law of its own: its island has not settled.
            let astray: Vec<usize> = self
                .demands
                .iter()
                .copied()
                .filter(|&row| !matches!(self.laws[row], Law::Resistance { .. }) && self.stands_on_line_with_voltage(row))
                .collect();
            for row in astray {
                let node = self.net.from[row];
                self.failures.push((node, Failure::StepLimit { node, residual: self.branch(row, self.across(row)).0 }));
            }
            return self.finish();
        }
        let (node, residual) = self.worst_residual();
        self.failures.push((self.component[node as usize], Failure::StepLimit { node, residual }));
        self.finish()
    }

    /// Lets every diode conduct that leads from what is driven to what is not; true if there was one. Off it would stay in the state nearby, since
    /// between two parts there is no voltage to turn it.
    fn wake_diodes(&mut self) -> bool {
        let is_driven = |node: u32| {
            let component = self.component[node as usize];
            component != NONE && self.driven[component as usize]
        };
        let leads = |row: &usize| is_driven(self.net.from[*row]) && !is_driven(self.net.to[*row]);
        let woken: Vec<usize> = self.diodes.iter().copied().filter(|&row| !self.diode_on[row]).filter(leads).collect();
        woken.iter().for_each(|&row| self.diode_on[row] = true);
        !woken.is_empty()
    }

    fn across(&self, row: usize) -> f64 {
        self.v[self.net.from[row] as usize] - self.v[self.net.to[row] as usize]
    }

    /// Current and slope of a branch at a voltage.
    fn branch(&self, row: usize, v: f64) -> (f64, f64) {
        let law = match self.laws[row] {
            Law::Open => return (0.0, 0.0),
            Law::Conductance { g } => return (g * v, g),
            Law::ConverterInput { drop_out, return_above, .. } => Law::Power { watts: self.input_power[row], drop_out, return_above },
            law => law,
        };
        let draws = match law {
            Law::ConverterOutput { .. } => self.live[row],
            Law::Diode { .. } => self.diode_on[row],
            Law::Injection { .. } | Law::Power { .. } | Law::Current { .. } | Law::Resistance { .. } => self.active[row],
            _ => true,
        };
        if !draws {
            return (0.0, 0.0);
        }
        let (current, slope) = law.draws(v, self.extended[row]);
        let scale = if matches!(law, Law::Power { .. } | Law::Current { .. }) { self.scale[row] } else { 1.0 };
        (scale * current, scale * slope)
    }

    /// Islands and voltages without demands, until every converter that drives its output has voltage at its input: one that
    /// hangs on a dead bus is joined to a source somewhere by resistance, and yet not fed.
    ///
    /// Converters are only taken away here, so this ends after at most one round for each.
    fn lay_out(&mut self) -> Result<(), u32> {
        self.starved.fill(false);
        self.most.clear();
        loop {
            self.connect();
            self.without_demands()?;
            let starved: Vec<usize> = self.inputs.iter().copied().filter(|&row| self.live[row + 1] && !self.is_fed(row)).collect();
            if starved.is_empty() {
                return Ok(());
            }
            for row in starved {
                self.starved[row] = true;
            }
        }
    }

    /// Takes what hangs together from a state in which the same branches conduct.
    pub(crate) fn join(&mut self, joined: Joined) {
        self.strand(joined.sets.clone());
        self.joined = Some(joined);
    }

    /// What hangs together here, once a state has been taken up.
    pub(crate) fn into_joined(self) -> Option<Joined> {
        self.joined
    }

    /// Islands of the present switch, diode and converter states; a converter drives its output only once its input is fed.
    fn connect(&mut self) {
        let net = self.net;
        let unite = |sets: &mut Sets, conducts: &mut Vec<bool>, row: usize| {
            let (a, b) = (net.from[row] as usize, net.to[row] as usize);
            conducts[a] = true;
            conducts[b] = true;
            sets.unite(a, b);
        };
        if self.joined.is_none() {
            let (mut sets, mut conducts) = (Sets::new(net.nodes), vec![false; net.nodes]);
            for (row, law) in self.laws.iter().enumerate() {
                if law.conducts() {
                    unite(&mut sets, &mut conducts, row);
                }
            }
            sets.flatten();
            self.join(Joined { sets, conducts });
        }
        let Joined { mut sets, mut conducts } = self.joined.clone().expect("joined: just made");
        self.live.fill(false);
        for &row in self.diodes.iter().filter(|&&row| self.diode_on[row]) {
            unite(&mut sets, &mut conducts, row);
        }
        let mut driven = vec![false; self.net.nodes];
        loop {
            driven.fill(false);
            for &row in &self.sources {
                let (a, b) = (sets.find(self.net.from[row] as usize), sets.find(self.net.to[row] as usize));
                driven[a] |= match self.laws[row] {
                    Law::ConverterOutput { .. } => self.live[row],
                    // A current needs a way back, else nothing flows.
                    Law::Injection { .. } => a == b && conducts[self.net.from[row] as usize],
                    _ => true,
                };
            }
            let mut more = false;
            for &row in &self.inputs {
                let (a, b) = (sets.find(self.net.from[row] as usize), sets.find(self.net.to[row] as usize));
                if !self.live[row + 1] && !self.starved[row] && self.dropped[row].is_none() && a == b && driven[a] {
                    self.live[row + 1] = matches!(self.laws[row + 1], Law::ConverterOutput { .. });
                    if self.live[row + 1] {
                        unite(&mut sets, &mut conducts, row + 1);
                        more = true;
                    }
                }
            }
            if !more {
                break;
            }
        }
        let parts = sets.finish();
        self.component = parts.into_iter().zip(&conducts).map(|(part, &conducts)| if conducts { part } else { NONE }).collect();
        self.driven = driven;
        // One zero of voltage per island: a declared ground, else its lowest node; lone nodes hold themselves.
        let mut reference = vec![NONE; self.net.nodes];
        for &ground in self.grounds {
            if let Some(&component) = self.component.get(ground as usize).filter(|&&c| c != NONE)
                && reference[component as usize] == NONE
            {
                reference[component as usize] = ground;
            }
        }
        self.references.clear();
        for node in 0..self.net.nodes as u32 {
            let component = self.component[node as usize];
            if component == NONE {
                self.references.push(node);
            } else if component == node {
                self.references.push(if reference[node as usize] == NONE { node } else { reference[node as usize] });
            }
        }
    }

    /// Finds the demands whose current has no way back from their second end to their first: along what conducts, through converters, and through diodes
    /// their way. Where a return is open, such a one would push its current backwards through the diodes that bring voltage to its far end, turn them off,
    /// and lose by that the voltage that it pushed with.
    ///
    /// Cost: for each part that such demands return to, the diodes that lead on from there.
    fn strand(&mut self, mut sets: Sets) {
        let net = self.net;
        let ends = |row: usize| (net.from[row] as usize, net.to[row] as usize);
        for &input in &self.inputs {
            let (a, b) = ends(input + 1);
            sets.unite(a, b);
        }
        let mut parts = |row: usize| {
            let (a, b) = ends(row);
            (sets.find(a), sets.find(b))
        };
        let mut one_way: Vec<(usize, usize)> = self.diodes.iter().map(|&row| parts(row)).collect();
        one_way.sort_unstable();
        let mut across: Vec<(usize, usize, usize)> = self.demands.iter().map(|&row| (parts(row).1, parts(row).0, row)).collect();
        across.retain(|&(out, back, _)| out != back);
        across.sort_unstable();
        for alike in across.chunk_by(|a, b| a.0 == b.0) {
            let mut seen = HashSet::from([alike[0].0]);
            let mut ahead = vec![alike[0].0];
            while let Some(part) = ahead.pop() {
                let start = one_way.partition_point(|&(from, _)| from < part);
                ahead.extend(one_way[start..].iter().take_while(|way| way.0 == part).map(|way| way.1).filter(|&part| seen.insert(part)));
            }
            for &(_, back, row) in alike {
                self.stranded[row] = !seen.contains(&back);
            }
        }
    }

    /// Voltages with every demand off: the start from above, and what tells which demands are fed at all. Nothing bends there, so that one
    /// solution is exact but for rounding.
    fn without_demands(&mut self) -> Result<(), u32> {
        for &row in &self.demands {
            self.active[row] = false;
        }
        self.inject();
        self.straighten();
        self.bend();
        let mut volts = vec![0.0; self.net.nodes];
        for ((a, b), &(_, at_zero)) in self.net.ends().zip(&self.straight) {
            if at_zero != 0.0 {
                volts[a] -= at_zero;
                volts[b] += at_zero;
            }
        }
        if !self.is_factored(0.0) {
            self.factor()?;
        }
        self.steps += 1;
        self.net.solve(&mut self.work, &mut volts);
        if let Some(node) = volts.iter().position(|v| !v.is_finite()) {
            return Err(node as u32);
        }
        self.no_load = volts;
        self.activate();
        Ok(())
    }

    /// Which currents that are put in have a way back.
    fn inject(&mut self) {
        for &row in self.sources.iter().filter(|&&row| matches!(self.laws[row], Law::Injection { .. })) {
            let (a, b) = (self.component[self.net.from[row] as usize], self.component[self.net.to[row] as usize]);
            self.active[row] = a == b && a != NONE;
        }
    }

    /// Which demands draw: fed from both sides, with a voltage, not dropped, not in an island that failed.
    fn activate(&mut self) {
        let mut failed = vec![false; self.net.nodes];
        for &(node, _) in &self.failures {
            failed[self.component[node as usize] as usize] = true;
        }
        for index in 0..self.demands.len() {
            let row = self.demands[index];
            self.active[row] =
                self.dropped[row].is_none() && self.is_fed(row) && !failed[self.component[self.net.from[row] as usize] as usize];
        }
    }

    fn is_fed(&self, row: usize) -> bool {
        is_fed(self.net, row, (&self.component, &self.driven), &self.no_load) && !self.stranded[row]
    }

    /// Demands that did not draw by their law start from above once more, at their voltage without demands; the others go on
    /// from where they stand. Newton's first step is exact for all that does not bend, and takes what bends to the upper side.
    fn lift(&mut self, drew: &[bool]) {
        for (&row, &drew) in self.demands.iter().zip(drew) {
            self.extended[row] = self.forced[row];
            if self.active[row] && !drew {
                for node in [self.net.from[row] as usize, self.net.to[row] as usize] {
                    self.v[node] = self.no_load[node];
                }
            }
        }
    }

    /// Newton from the voltages without demands (`cold`) or from where the last state settled.
    fn newton(&mut self, cold: bool) -> Result<(), Stop> {
        if cold {
            self.v.copy_from_slice(&self.no_load);
            for &row in &self.demands {
                self.extended[row] = self.forced[row];
            }
        }
        self.iterate()
    }

    /// Newton, with a factor for as long as steps on it are quick: what bends here bends little.
    ///
    /// Where the steps shrink, the point they lead to attracts them; on a positive factor that means that the Jacobian there is
    /// positive too.
    fn iterate(&mut self) -> Result<(), Stop> {
        self.straighten();
        let mut step = vec![0.0; self.net.nodes];
        let mut last_change = f64::INFINITY;
        let mut factored = false;
        let mut first = true;
        for _ in 0..STEPS {
            self.steps += 1;
            for index in 0..self.drawing.len() {
                let row = self.drawing[index];
                let v = self.across(row);
                if let Some(knee) = self.laws[row].drop_out()
                    && v < knee
                    && !self.extended[row]
                {
                    self.extended[row] = true;
                    factored = false;
                }
                if !self.extended[row] && v <= 0.0 {
                    return Err(Stop::At(self.net.from[row]));
                }
            }
            if !factored {
                self.bend();
                factored = std::mem::take(&mut first) && self.is_factored(FAINT);
            }
            step.fill(0.0);
            for ((a, b), &(g, at_zero)) in self.net.ends().zip(&self.straight) {
                let current = at_zero + g * (self.v[a] - self.v[b]);
                step[a] -= current;
                step[b] += current;
            }
            for &row in &self.drawing {
                let (current, _) = self.branch(row, self.across(row).max(f64::MIN_POSITIVE));
                self.model[row] = current;
                step[self.net.from[row] as usize] -= current;
                step[self.net.to[row] as usize] += current;
            }
            for &node in &self.references {
                step[node as usize] -= self.v[node as usize];
            }
            if !factored {
                self.factor().map_err(Stop::At)?;
            }
            let (change, size) = self.step(&mut step);
            if !change.is_finite() {
                return Err(Stop::At(self.worst_residual().0));
            }
            // The second condition accepts rounding noise that no further step can lower.
            if change <= SETTLED * size || (change <= 1e-8 * size && change >= 0.5 * last_change) {
                return Ok(());
            }
            let is_slow = change > QUICK * last_change;
            last_change = change;
            factored = self.chords(&step, (change, size)) && !is_slow;
        }
        let (node, residual) = self.worst_residual();
        Err(Stop::StepLimit(node, residual))
    }

    /// Laws of all branches that do not bend, and which demands draw.
    fn straighten(&mut self) {
        self.drawing.clear();
        self.straight.clear();
        for row in 0..self.laws.len() {
            let straight = match self.laws[row] {
                Law::Open => (0.0, 0.0),
                Law::Conductance { g } => (g, 0.0),
                law if law.is_demand() => {
                    if self.active[row] {
                        self.drawing.push(row);
                    }
                    (0.0, 0.0)
                }
                _ => {
                    let (current, slope) = self.branch(row, 0.0);
                    (slope, current)
                }
            };
            self.straight.push(straight);
        }
        self.model.resize(self.laws.len(), 0.0);
    }

    /// Which demands bend.
    fn bend(&mut self) {
        let bends = |law: &Law| matches!(law, Law::Power { .. } | Law::ConverterInput { .. });
        self.curved.clear();
        self.curved.extend(self.drawing.iter().copied().filter(|&row| bends(&self.laws[row]) && !self.extended[row]));
    }

    /// Slope of every branch at the present voltages.
    fn slopes(&self) -> Vec<f64> {
        let mut slopes: Vec<f64> = self.straight.iter().map(|&(g, _)| g).collect();
        for &row in &self.drawing {
            slopes[row] = self.branch(row, self.across(row).max(f64::MIN_POSITIVE)).1;
        }
        slopes
    }

    fn factor(&mut self) -> Result<(), u32> {
        self.slope = self.slopes();
        self.factored_references.clone_from(&self.references);
        let made = self.net.factor(&self.slope, &self.references, &mut self.work);
        if made.is_err() {
            self.slope.clear();
        }
        made.map_err(|node| node as u32)
    }

    /// Whether the last factor is one of the present state, but for what is no more than `faint`, S, and what bends, and that nearly.
    fn is_factored(&self, faint: f64) -> bool {
        if self.slope.is_empty() || self.factored_references != self.references {
            return false;
        }
        let slopes = self.slopes();
        let mut curved = self.curved.iter().copied().peekable();
        slopes.iter().zip(&self.slope).enumerate().all(|(row, (now, then))| {
            let bends = curved.next_if_eq(&row).is_some();
            let moved = (now - then).abs();
            moved <= faint || bends && moved <= NEARLY * then.abs()
        })
    }

    /// Moves by a solution of the right-hand side in `step`: the greatest change, and the greatest voltage.
    fn step(&mut self, step: &mut [f64]) -> (f64, f64) {
        self.net.solve(&mut self.work, step);
        let (mut change, mut size, mut finite) = (0.0f64, 1.0f64, true);
        for (v, &mut dv) in self.v.iter_mut().zip(step) {
            *v += dv;
            finite &= dv.is_finite();
            change = change.max(dv.abs());
            size = size.max(v.abs());
        }
        (if finite { change } else { f64::NAN }, size)
    }

    /// Steps on the last factor for what bends alone, after one for all branches that moved by `last`: all else is met by then.
    /// False if a new factor is needed.
    ///
    /// Cost: for each the reach of what bends; at the end one backward solution, which takes all else along.
    fn chords(&mut self, step: &[f64], last: (f64, f64)) -> bool {
        if self.curved.is_empty() {
            return true;
        }
        for &row in &self.curved {
            self.model[row] += self.slope[row] * (step[self.net.from[row] as usize] - step[self.net.to[row] as usize]);
        }
        let mut reach = std::mem::take(&mut self.reach);
        reach.renew(self.net, &self.curved, &self.inputs);
        let quick = self.chords_within(&mut reach, last);
        let pattern = &self.net.pattern;
        pattern.backward(&self.work.factor, &mut reach.sum);
        for ((&node, moved), is_there) in pattern.order().iter().zip(&mut reach.sum).zip(&reach.is_there) {
            let moved = std::mem::take(moved);
            if !is_there {
                self.v[node as usize] += moved;
            }
        }
        self.reach = reach;
        quick
    }

    fn chords_within(&mut self, reach: &mut Reach, (mut last, size): (f64, f64)) -> bool {
        let net = self.net;
        let ends = |row: usize| (net.from[row] as usize, net.to[row] as usize);
        let (place, order) = (net.pattern.place(), net.pattern.order());
        for _ in 0..CHORDS {
            self.steps += 1;
            self.update_converters();
            let below = |row: usize| {
                let v = self.across(row);
                v <= 0.0 || self.laws[row].drop_out().is_some_and(|knee| v < knee)
            };
            if self.curved.iter().any(|&row| below(row)) {
                return true;
            }
            for &row in &self.curved {
                let (current, _) = self.branch(row, self.across(row));
                let (a, b) = ends(row);
                let more = current - self.model[row];
                self.model[row] = current;
                reach.rhs[place[a] as usize] -= more;
                reach.rhs[place[b] as usize] += more;
            }
            let factor = &self.work.factor;
            net.pattern.forward_at(factor, &reach.places, &mut reach.rhs);
            for &k in &reach.places {
                reach.sum[k as usize] += reach.rhs[k as usize];
            }
            net.pattern.backward_at(factor, reach.places.iter().rev(), &mut reach.rhs, &mut reach.moved);
            let (mut change, mut finite) = (0.0f64, true);
            for &k in &reach.places {
                let moved = reach.moved[k as usize];
                self.v[order[k as usize] as usize] += moved;
                finite &= moved.is_finite();
                change = change.max(moved.abs());
            }
            if !finite {
                return false;
            }
            for &row in &self.curved {
                let (a, b) = ends(row);
                self.model[row] += self.slope[row] * (reach.moved[place[a] as usize] - reach.moved[place[b] as usize]);
            }
            if change <= 10.0 * SETTLED * size || (change <= 1e-8 * size && change >= 0.5 * last) {
                return true;
            }
            if change > QUICK * last {
                return false;
            }
            last = change;
        }
        false
    }

    fn worst_residual(&self) -> (u32, f64) {
        let mut sum = vec![0.0f64; self.net.nodes];
        for row in 0..self.laws.len() {
            let (current, _) = self.branch(row, self.across(row));
            sum[self.net.from[row] as usize] += current;
            sum[self.net.to[row] as usize] -= current;
        }
        let worst = (0..sum.len()).max_by(|&a, &b| sum[a].abs().total_cmp(&sum[b].abs())).unwrap_or(0);
        (worst as u32, sum.get(worst).map_or(0.0, |s| s.abs()))
    }

    /// Newton found no way on in one island: let a load that may drop out stand on its line, else raise the demands from
    /// zero to see how far they go, else declare that the island has no operating point.
    fn give_way(&mut self, stop: Stop) {
        let node = match stop {
            Stop::At(node) | Stop::StepLimit(node, _) => node,
        };
        let component = self.component[node as usize];
        let here = |settle: &Self, row: usize| settle.active[row] && settle.component[settle.net.from[row] as usize] == component;
        let mut candidates: Vec<(usize, f64)> = self
            .demands
            .iter()
            .copied()
            .filter(|&row| {
                here(self, row)
                    && !self.forced[row]
                    && self.extensions[row] < EXTENSIONS
                    && matches!(self.laws[row], Law::Power { .. } | Law::Current { .. } | Law::ConverterInput { .. })
            })
            .filter_map(|row| Some((row, self.across(row) / self.laws[row].drop_out()?)))
            .collect();
        let most = self.most(component);
        if most.is_some() {
            // However many of the others give way, it does not help.
            for &(row, _) in &candidates {
                self.extended[row] = true;
                self.forced[row] = true;
                self.extensions[row] += 1;
            }
        } else if !candidates.is_empty() {
            candidates.sort_by(|a, b| a.1.total_cmp(&b.1).then_with(|| (self.rank)(a.0).cmp(&(self.rank)(b.0))));
            // Where Newton could not leave its start, it will begin there again, and those that follow are the same.
            let give = if self.v == self.no_load { self.fewest(component, &candidates) } else { 1 };
            for &(row, _) in &candidates[..give] {
                self.extended[row] = true;
                self.forced[row] = true;
                self.extensions[row] += 1;
            }
            return;
        }
        let rows: Vec<usize> = self.demands.iter().copied().filter(|&row| here(self, row)).collect();
        if rows.is_empty() {
            self.failures.push((
                component,
                if let Stop::StepLimit(node, residual) = stop { Failure::StepLimit { node, residual } } else { Failure::Singular { node } },
            ));
            self.activate();
            return;
        }
        let (share, at) = self.greatest_share(component, &rows, most);
        if share >= 1.0 {
            // This state is as good a start from above as the one without demands, and here it is the only one that arrives.
            self.no_load.clone_from(&at);
            self.v = at;
            return;
        }
        let watts = |row: usize| match self.laws[row] {
            Law::Power { watts, .. } => watts,
            Law::ConverterInput { .. } => self.input_power[row],
            Law::Current { amperes, .. } => amperes * (self.no_load[self.net.from[row] as usize] - self.no_load[self.net.to[row] as usize]),
            _ => 0.0,
        };
        let asked: f64 = rows.iter().map(|&row| watts(row)).sum();
        let sag = |row: usize| {
            let (a, b) = (self.net.from[row] as usize, self.net.to[row] as usize);
            (at[a] - at[b]) / (self.no_load[a] - self.no_load[b])
        };
        let row = rows
            .iter()
            .copied()
            .min_by(|&a, &b| sag(a).total_cmp(&sag(b)).then_with(|| (self.rank)(a).cmp(&(self.rank)(b))))
            .expect("rows: not empty");
        let possible = (!self.roughly).then_some(share * asked);
        self.failures.push((component, Failure::NoOperatingPoint { row, asked, possible }));
        self.activate();
    }

    /// How many of these loads, from the first on, have to stand on their lines before the Jacobian at the present voltages is positive in their island; all
    /// where that does not do. A line only adds to the Jacobian, so that more of them never make it worse.
    ///
    /// Cost: a factorisation for each doubling of their number, twice.
    fn fewest(&mut self, component: u32, candidates: &[(usize, f64)]) -> usize {
        let before: Vec<bool> = candidates.iter().map(|&(row, _)| self.extended[row]).collect();
        let mut does = |count: usize| {
            for (at, (&(row, _), &before)) in candidates.iter().zip(&before).enumerate() {
                self.extended[row] = before || at < count;
            }
            !matches!(self.factor(), Err(node) if self.component[node as usize] == component)
        };
        let (mut less, mut enough) = (0, 1);
        while enough < candidates.len() && !does(enough) {
            (less, enough) = (enough, (2 * enough).min(candidates.len()));
        }
        while enough - less > 1 {
            let half = (less + enough) / 2;
            if does(half) { enough = half } else { less = half }
        }
        enough
    }

    /// The least share of its power at which one load of an island could have an operating point no more, if it were there alone; `None` where each could
    /// have all that it asks for.
    ///
    /// A load behind a resistance R, of E volts without it, gets at most E²/(4 R). Other demands only lower its voltage, if the current of none of them
    /// raises it, and so does more copper between two ends that a load on its straight line is.
    ///
    /// Cost: once for a lay-out a factorisation, for each load the ways from its ends to the root of the elimination tree, and one solution.
    fn most(&mut self, component: u32) -> Option<f64> {
        if let Some(&(_, most)) = self.most.iter().find(|(of, _)| *of == component) {
            return most;
        }
        let most = self.find_most(component);
        self.most.push((component, most));
        most
    }

    fn find_most(&mut self, component: u32) -> Option<f64> {
        let net = self.net;
        self.straighten();
        let drawing = std::mem::take(&mut self.drawing);
        self.curved.clear();
        let made = self.factor();
        self.drawing = drawing;
        made.ok()?;
        let here = |row: &usize| self.component[net.from[*row] as usize] == component;
        let rows: Vec<usize> = self.drawing.iter().copied().filter(here).collect();
        let (place, diagonal) = (net.pattern.place(), &self.work.factor.diagonal);
        let (mut scratch, mut column) = (vec![0.0; net.nodes], Vec::new());
        let mut share = |row: usize| {
            let Law::Power { watts, drop_out: None, .. } = self.laws[row] else { return None };
            let (a, b) = (net.from[row] as usize, net.to[row] as usize);
            column.clear();
            net.pattern.climb(&self.work.factor, place[a], Some(place[b]), &mut scratch, &mut column);
            let ohms: f64 = column.iter().map(|&(k, w)| w * w / diagonal[k as usize]).sum();
            Some((row, (self.no_load[a] - self.no_load[b]).powi(2) / (4.0 * ohms * watts)))
        };
        let (row, share) =
            rows.iter().filter_map(|&row| share(row)).min_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, share)| *share < LESS)?;
        let mut volts = vec![0.0; net.nodes];
        volts[net.from[row] as usize] += 1.0;
        volts[net.to[row] as usize] -= 1.0;
        net.solve(&mut self.work, &mut volts);
        // Beside rounding: a load on another branch of the network has no ohms in common with it.
        let common = |row: usize| volts[net.from[row] as usize] - volts[net.to[row] as usize];
        let rounding = 1e-12 * common(row);
        rows.iter().all(|&other| common(other) >= -rounding).then_some(share)
    }

    /// Largest share of an island's demands that has an operating point, within [`SHARE`], and the voltages there; `most` has none.
    fn greatest_share(&mut self, component: u32, rows: &[usize], most: Option<f64>) -> (f64, Vec<f64>) {
        let elsewhere: Vec<usize> =
            self.demands.iter().copied().filter(|&row| self.component[self.net.from[row] as usize] != component).collect();
        for &row in &elsewhere {
            self.active[row] = false;
        }
        // States with an operating point, and the least share without one.
        let mut found = vec![(0.0f64, self.no_load.clone())];
        let mut over = most.unwrap_or(f64::INFINITY);
        let (mut last_top, mut guesses, mut trusted) = (None, 0, true);
        loop {
            let (share, best) = &found[found.len() - 1];
            let share = *share;
            if share >= 1.0 || over - share <= SHARE || (self.roughly && over.is_finite() && found.len() > 1) {
                break;
            }
            let guess = self.top(&found, rows).map(|top| {
                // A part as far from the top as the last one was wrong, until that is less than what is asked for: then on either side.
                let wrong = 0.25 * last_top.replace(top).map_or(top - share, |before: f64| (before - top).abs());
                if self.roughly {
                    // As soon as one fails, all have none.
                    return top + ROUGHLY;
                }
                let near = 0.4 * SHARE;
                if wrong > near { top - wrong } else { top + if over > top + 2.0 * near { near } else { -near } }
            });
            guesses += 1;
            // A top at or beyond what has failed already: the true one lies close below that, and a state near it shows it best.
            let close = trusted && guess.is_some_and(|next| next >= over);
            let between = match over.is_finite() {
                true => share + if close { 0.9 } else { 0.5 } * (over - share),
                false => (share + 0.5).min(1.0),
            };
            let next = guess.filter(|next| *next > share && *next < over.min(1.0) && guesses <= GUESSES).unwrap_or(between);
            self.v.clone_from(best);
            for &row in rows {
                self.scale[row] = next;
            }
            match self.iterate() {
                Ok(()) => {
                    found.push((next, self.v.clone()));
                    trusted = true;
                }
                Err(_) => {
                    over = next;
                    trusted = !close;
                }
            }
        }
        for &row in rows {
            self.scale[row] = 1.0;
        }
        self.activate();
        found.pop().expect("found: begins with a state")
    }

    /// Where the share of an island's demands has its greatest value, by what settled with less: over the voltage of the load that sags
    /// most it is a parabola where one load hangs on one source, P = u (E − u)/R, and nearly one elsewhere.
    fn top(&self, found: &[(f64, Vec<f64>)], rows: &[usize]) -> Option<f64> {
        let across = |v: &[f64], row: usize| v[self.net.from[row] as usize] - v[self.net.to[row] as usize];
        let [(_, without), .., (share, now)] = found else { return None };
        let sag = |row: usize| across(now, row) / across(without, row);
        let row = rows.iter().copied().min_by(|&a, &b| sag(a).total_cmp(&sag(b)))?;
        let u = across(now, row);
        if found.len() == 2 {
            // Through zero volts as well.
            let whole = across(without, row);
            return Some(share * whole * whole / (4.0 * u * (whole - u))).filter(|_| u > 0.5 * whole);
        }
        let [(s0, v0), (s1, v1), _] = &found[found.len() - 3..] else { return None };
        let (u0, u1) = (across(v0, row), across(v1, row));
        // Divided differences.
        let (first, second) = ((s1 - s0) / (u1 - u0), (share - s1) / (u - u1));
        let bend = (second - first) / (u - u0);
        let at = 0.5 * (u + u1 - second / bend);
        (bend < 0.0).then(|| share + (at - u) * (second + bend * (at - u1)))
    }

    /// `None` if every diode agrees with its state; `Some(true)` after flipping, `Some(false)` after giving an island up.
    fn flip_diodes(&mut self, seen: &mut HashSet<Vec<bool>>, one_by_one: &mut bool) -> Option<bool> {
        let given_up = |settle: &Self, row: usize| {
            settle.failures.iter().any(|&(node, _)| settle.component[node as usize] == settle.component[settle.net.from[row] as usize])
        };
        let wrong: Vec<usize> = self
            .diodes
            .iter()
            .copied()
            .filter(|&row| {
                let Law::Diode { forward, .. } = self.laws[row] else { return false };
                let v = self.across(row);
                let violates = if self.diode_on[row] { self.branch(row, v).0 < -DIODE_CURRENT } else { v > forward + DIODE_VOLTAGE };
                violates && !given_up(self, row)
            })
            .collect();
        if wrong.is_empty() {
            return None;
        }
        // A load put on its straight line or taken off it makes the same diode states another state.
        let state: Vec<bool> =
            self.diodes.iter().map(|&row| self.diode_on[row]).chain(self.demands.iter().map(|&row| self.extended[row])).collect();
        if !seen.insert(state) {
            let component = self.component[self.net.from[wrong[0]] as usize];
            if *one_by_one
                && self.demands.iter().any(|&row| self.below_drop_out(row) && self.component[self.net.from[row] as usize] == component)
            {
                // With a load on its line between two states, the diodes need not agree with either: it is about to let go, and
                // they are asked again after that.
                return None;
            }
            if *one_by_one {
                self.failures.push((component, Failure::Cycle { rows: wrong }));
                self.activate();
                return Some(false);
            }
            // Flipping all at once came back; least-index pivoting (Murty) ends where a solution exists.
            *one_by_one = true;
            seen.clear();
        }
        if *one_by_one {
            let first = wrong.iter().copied().min_by_key(|&row| (self.rank)(row)).expect("wrong: not empty");
            self.diode_on[first] = !self.diode_on[first];
        } else {
            for &row in &wrong {
                self.diode_on[row] = !self.diode_on[row];
            }
        }
        Some(true)
    }

    /// Takes the input power of each converter from its output; true if one moved.
    fn update_converters(&mut self) -> bool {
        let mut moved = false;
        for index in 0..self.inputs.len() {
            let row = self.inputs[index];
            let Law::ConverterInput { efficiency, quiescent, .. } = self.laws[row] else { continue };
            let v = self.across(row + 1);
            let out = if self.live[row + 1] { (-v * self.branch(row + 1, v).0).max(0.0) } else { 0.0 };
            let power = out / efficiency + quiescent;
            let change = (power - self.input_power[row]).abs();
            self.input_power[row] = power;
            moved |= change > 1e-11 * (1.0 + power);
        }
        moved
    }

    fn stands_on_line_with_voltage(&self, row: usize) -> bool {
        self.extended[row] && self.active[row] && self.laws[row].drop_out().is_some_and(|knee| self.across(row) >= knee)
    }

    /// Loads that stand on their line although they have voltage again go back to their law, a few times each.
    fn restore_extended(&mut self) -> bool {
        let mut restored = false;
        for index in 0..self.demands.len() {
            let row = self.demands[index];
            if self.stands_on_line_with_voltage(row) && self.extensions[row] < EXTENSIONS {
                self.extended[row] = false;
                self.forced[row] = false;
                self.extensions[row] += 1;
                restored = true;
            }
        }
        restored
    }

    fn below_drop_out(&self, row: usize) -> bool {
        self.active[row] && self.laws[row].drop_out().is_some_and(|knee| self.across(row) < knee)
    }

    /// In each island the load with the lowest voltage against its own limit lets go; true if one did.
    fn drop_lowest(&mut self) -> bool {
        let mut lowest: Vec<(u32, usize, f64)> = Vec::new();
        for &row in &self.demands {
            let Some(knee) = self.laws[row].drop_out() else { continue };
            if self.below_drop_out(row) {
                lowest.push((self.component[self.net.from[row] as usize], row, self.across(row) / knee));
            }
        }
        lowest.sort_by(|a, b| a.0.cmp(&b.0).then(a.2.total_cmp(&b.2)));
        let mut index = 0;
        while index < lowest.len() {
            let (component, mut chosen, ratio) = lowest[index];
            // Equal within rounding: the name decides, not the order of rows.
            let mut next = index + 1;
            while next < lowest.len() && lowest[next].0 == component {
                if lowest[next].2 <= ratio + 1e-9 && (self.rank)(lowest[next].1) < (self.rank)(chosen) {
                    chosen = lowest[next].1;
                }
                next += 1;
            }
            self.dropped[chosen] = Some(self.across(chosen));
            self.active[chosen] = false;
            self.extended[chosen] = false;
            self.forced[chosen] = false;
            index = next;
        }
        !lowest.is_empty()
    }

    /// Loads that let go and stand above their return voltage come back, once each; true if one did.
    fn rejoin(&mut self) -> bool {
        let mut any = false;
        for index in 0..self.demands.len() {
            let row = self.demands[index];
            let back = self.laws[row].return_above().is_some_and(|above| self.across(row) >= above);
            if self.dropped[row].is_some() && !self.rejoined[row] && back && self.is_fed(row) {
                self.dropped[row] = None;
                self.off_from_start[row] = false;
                self.rejoined[row] = true;
                any = true;
            }
        }
        if any {
            self.activate();
        }
        any
    }

    /// Takes over a settled state instead of finding one: voltages of the nodes, diodes that conduct, and loads that have let
    /// go with the voltage they did at.
    pub(crate) fn resume(&mut self, volts: Vec<f64>, diode_on: &dyn Fn(usize) -> bool, dropped: &[(usize, f64)]) {
        for index in 0..self.diodes.len() {
            let row = self.diodes[index];
            self.diode_on[row] = diode_on(row);
        }
        for &(row, at) in dropped {
            self.dropped[row] = Some(at);
        }
        self.v = volts;
        // What has voltage with all demands on has it without them.
        self.no_load.clone_from(&self.v);
        loop {
            self.connect();
            let starved: Vec<usize> = self.inputs.iter().copied().filter(|&row| self.live[row + 1] && !self.is_fed(row)).collect();
            if starved.is_empty() {
                break;
            }
            for row in starved {
                self.starved[row] = true;
            }
        }
        self.inject();
        self.activate();
        for index in 0..self.inputs.len() {
            let row = self.inputs[index];
            if let Law::ConverterInput { efficiency, quiescent, .. } = self.laws[row] {
                let v = self.across(row + 1);
                let out = if self.live[row + 1] { (-v * self.branch(row + 1, v).0).max(0.0) } else { 0.0 };
                self.input_power[row] = out / efficiency + quiescent;
            }
        }
    }

    /// Current and slope of a branch at the present voltages.
    #[inline]
    pub(crate) fn at(&self, row: usize) -> (f64, f64) {
        if self.net.from[row] == self.net.to[row] { (0.0, 0.0) } else { self.branch(row, self.across(row)) }
    }

    /// Whether a demand draws.
    pub(crate) fn draws(&self, row: usize) -> bool {
        self.active[row]
    }

    /// Power that the input of a converter takes.
    pub(crate) fn power(&self, row: usize) -> f64 {
        self.input_power[row]
    }

    pub(crate) fn components(&self) -> &[u32] {
        &self.component
    }

    pub(crate) fn driven(&self) -> &[bool] {
        &self.driven
    }

    pub(crate) fn references(&self) -> &[u32] {
        &self.references
    }

    /// The state taken over, if the currents at every node sum to zero: `None` if one would have to move by more than
    /// `tolerance` for that.
    pub(crate) fn finish_if_balanced(self, tolerance: f64) -> Option<Solution> {
        let mut at = vec![(0.0f64, 0.0f64); self.net.nodes];
        let mut currents = Vec::with_capacity(self.laws.len());
        for (row, (a, b)) in self.net.ends().enumerate() {
            let (current, slope) = self.at(row);
            currents.push(current);
            if slope != 0.0 || current != 0.0 {
                for (node, current) in [(a, current), (b, -current)] {
                    at[node].0 += current;
                    at[node].1 += slope.abs();
                }
            }
        }
        let balanced = at.iter().all(|&(sum, stiffness)| sum.abs() <= tolerance * stiffness + 1e-12);
        balanced.then(|| self.finish_with(currents))
    }

    /// A conducting diode without current is off unless it alone brings voltage to its cathode: it would carry the voltage of
    /// its cathode backwards to a dead part, or tie two parts that have nothing else in common. Of several that could, the one
    /// with the highest anode does.
    ///
    /// What the state came from decides nothing here: every voltage is counted from the zero of its own part. True if there were any to look at.
    fn rest_diodes(&mut self) -> bool {
        let resting: Vec<usize> =
            self.diodes.iter().copied().filter(|&row| self.diode_on[row] && self.branch(row, self.across(row)).0 <= RESTING).collect();
        if resting.is_empty() {
            return false;
        }
        for &row in &resting {
            self.diode_on[row] = false;
        }
        self.connect();
        self.zero_parts();
        // A node that nothing else conducts to is a part of its own.
        let part: Vec<u32> = (0..).zip(&self.component).map(|(node, &c)| if c == NONE { node } else { c }).collect();
        let mut driven: Vec<bool> = part.iter().map(|&p| self.driven[p as usize]).collect();
        let dark = |row: &usize| !driven[part[self.net.to[*row] as usize] as usize];
        let mut could: Vec<usize> = self.diodes.iter().copied().filter(|row| !self.diode_on[*row]).filter(dark).collect();
        could.sort_by_cached_key(|&row| (self.rank)(row));
        loop {
            let gap = |row: usize| match self.laws[row] {
                Law::Diode { forward, .. } => self.across(row) - forward,
                _ => f64::NEG_INFINITY,
            };
            let brings = |row: usize| {
                let [anode, cathode] = [self.net.from[row], self.net.to[row]].map(|node| driven[part[node as usize] as usize]);
                !self.diode_on[row] && anode && !cathode && gap(row) > DIODE_VOLTAGE
            };
            let first = could.iter().copied().filter(|&row| brings(row)).map(|row| (row, gap(row)));
            let Some((row, gap)) = first.reduce(|best, next| if next.1 > best.1 + DIODE_VOLTAGE { next } else { best }) else { break };
            self.diode_on[row] = true;
            let fed = part[self.net.to[row] as usize];
            driven[fed as usize] = true;
            for (v, _) in self.v.iter_mut().zip(&part).filter(|(_, p)| **p == fed) {
                *v += gap;
            }
        }
        self.connect();
        true
    }

    /// Puts the reference of each part at zero exactly, where the 1 S to zero holds it within rounding noise, and the voltages
    /// of its other nodes against it.
    fn zero_parts(&mut self) {
        let mut zero = vec![0.0; self.net.nodes];
        for &node in &self.references {
            let component = self.component[node as usize];
            if component != NONE {
                zero[component as usize] = self.v[node as usize];
            }
        }
        for (v, &component) in self.v.iter_mut().zip(&self.component) {
            *v -= if component == NONE { *v } else { zero[component as usize] };
        }
    }

    fn finish(self) -> Solution {
        let current = (0..self.laws.len()).map(|row| self.at(row).0).collect();
        self.finish_with(current)
    }

    fn finish_with(mut self, mut current: Vec<f64>) -> Solution {
        if self.rest_diodes() {
            current = (0..self.laws.len()).map(|row| self.at(row).0).collect();
        }
        // A load that was off from the start has no voltage at which it let go: what counts is what it would start at.
        for row in 0..self.laws.len() {
            if self.off_from_start[row] && self.dropped[row].is_some() {
                self.dropped[row] = Some(self.across(row));
            }
        }
        self.zero_parts();
        Solution {
            current,
            stranded: self.stranded,
            component: self.component,
            driven: self.driven,
            references: self.references,
            failures: self.failures,
            dropped: self.dropped,
            no_load: self.no_load,
            diode_on: self.diode_on,
            steps: self.steps,
            factorisations: self.work.factorisations,
            voltage: self.v,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// n loads of 60 W that let go below 8 V, on one source of 10 V behind 1 Ω. At the start, 10 V, each adds −60/100 S to the Jacobian by its law and
    /// 60/64 S on its line, so that the first m on their lines leave 1 − 0.6 n + 1.5375 m, which has to be positive [worked by hand].
    #[test]
    fn no_more_loads_give_way_at_the_start_than_have_to() {
        for (loads, give_way) in [(2, 1), (3, 1), (6, 2), (20, 8), (30, 12), (40, 15)] {
            let net = Network::new(2, std::iter::repeat_n((1, 0), 1 + loads));
            let load = Law::Power { watts: 60.0, drop_out: Some(8.0), return_above: None };
            let laws: Vec<Law> = std::iter::once(Law::Emf { volts: 10.0, g: 1.0 }).chain(std::iter::repeat_n(load, loads)).collect();
            let name = |row: usize| format!("{row:02}");
            let mut settle = Settle::new(&net, &laws, &[0], &name, &[]);
            assert!(settle.lay_out().is_ok(), "without demands there is one source and nothing else");
            let stop = settle.newton(true).expect_err("the start is beyond the nose");
            settle.give_way(stop);
            let forced: Vec<usize> = (0..laws.len()).filter(|&row| settle.forced[row]).collect();
            assert_eq!(forced, (1..=give_way).collect::<Vec<_>>(), "{loads} loads");
        }
    }

    /// 10 V behind 1 Ω give at most 25 W: beside a load of 50 W that never lets go all others give way at once, and half is the most of what is asked.
    /// Beside one of 20 W they give way one by one [worked by hand].
    #[test]
    fn one_that_asks_too_much() {
        for (asks, most) in [(50.0, Some(0.5)), (20.0, None)] {
            let net = Network::new(2, std::iter::repeat_n((1, 0), 5));
            let load = Law::Power { watts: 20.0, drop_out: Some(8.0), return_above: None };
            let fixed = Law::Power { watts: asks, drop_out: None, return_above: None };
            let laws = [Law::Emf { volts: 10.0, g: 1.0 }, fixed, load, load, load];
            let name = |row: usize| format!("{row:02}");
            let mut settle = Settle::new(&net, &laws, &[0], &name, &[]);
            assert!(settle.lay_out().is_ok(), "without demands there is one source and nothing else");
            let stop = settle.newton(true).expect_err("more is asked than there is");
            settle.give_way(stop);
            let found = settle.most(settle.component[1]);
            assert_eq!(found.map(|share| (share * 1e9).round() / 1e9), most, "{asks} W");
            let forced: Vec<usize> = (0..laws.len()).filter(|&row| settle.forced[row]).collect();
            assert_eq!(forced.len() == 3, most.is_some(), "{asks} W: {forced:?}");
            let possible = settle.failures.iter().map(|(_, failure)| match failure {
                Failure::NoOperatingPoint { row, asked, possible } => (*row, *asked, possible.expect("asked for")),
                other => panic!("{other:?}"),
            });
            let possible: Vec<(usize, f64, f64)> = possible.collect();
            assert_eq!(possible.len(), usize::from(most.is_some()), "{possible:?}");
            for (row, asked, possible) in possible {
                assert_eq!((row, asked), (1, 110.0));
                assert!(possible < 0.5 * asked, "{possible} W");
            }
        }
    }

    /// A load whose current raises the voltage of another may help it: nothing is said then. Of two loads between three wires each draws through the
    /// other's, where the middle one is weak: from 1 through 2 to 0, and from 2 to 1 against it.
    #[test]
    fn one_that_another_helps() {
        let net = Network::new(3, [(1, 0), (2, 0), (1, 2), (2, 0)].into_iter());
        let asks = |watts: f64| Law::Power { watts, drop_out: None, return_above: None };
        let name = |row: usize| format!("{row}");
        // 10 V behind 1 Ω at 1, 5 V behind 1 Ω at 2; the first load takes from 1 and gives to 2, the second hangs on 2.
        let laws = [Law::Emf { volts: 10.0, g: 1.0 }, Law::Emf { volts: 5.0, g: 1.0 }, asks(2.0), asks(7.0)];
        let mut settle = Settle::new(&net, &laws, &[0], &name, &[]);
        assert!(settle.lay_out().is_ok(), "two sources and nothing else");
        settle.straighten();
        assert_eq!(settle.most(settle.component[1]), None, "7 W of 6.25 W, but the first load feeds it");
    }

    /// 10 V behind R with a load of 100 kΩ, whose slope a factor may leave out: 10 V · 100 kΩ/(100 kΩ + R), whether the steps on that factor
    /// shrink a hundred-thousandfold (R = 1 Ω), hardly (R = 90 kΩ) or grow tenfold (R = 1 MΩ) [worked by hand].
    #[test]
    fn a_factor_without_what_is_faint() {
        for (ohms, volts) in [(1.0, 1e6 / 100_001.0), (9e4, 100.0 / 19.0), (1e6, 10.0 / 11.0)] {
            let net = Network::new(2, std::iter::repeat_n((1, 0), 2));
            let laws = [Law::Emf { volts: 10.0, g: 1.0 / ohms }, Law::Resistance { g: FAINT, drop_out: 0.0, return_above: None }];
            let name = |row: usize| format!("{row:02}");
            let solution = Settle::new(&net, &laws, &[0], &name, &[]).run();
            assert_eq!(solution.failures, []);
            let found = solution.voltage[1] - solution.voltage[0];
            assert!((found - volts).abs() < 1e-9 * volts, "{ohms} Ω: {found} V of {volts} V");
        }
    }
}
