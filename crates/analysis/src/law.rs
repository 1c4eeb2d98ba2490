//! The law of every branch in one scenario: what the network solver and the netlist export both work from.

use crate::Layout;
use crate::corner::*;
use crate::topology::Topology;
use model::*;
use physics::potentiometer::potentiometer_parts;
use physics::sensor_temperature::{HEAD_JOINT, rtd_ohms};
use physics::*;
use std::cell::OnceCell;

/// How a branch's current follows from the voltage across it, both positive from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Nothing flows: open, off, lost, or `TBD`.
    Open,
    /// i = g v.
    Conductance {
        /// Conductance.
        g: f64,
    },
    /// i = g (v − e): an EMF e behind 1/g, positive at `from`.
    Emf {
        /// EMF.
        volts: f64,
        /// Conductance.
        g: f64,
    },
    /// i = g (v − forward) above the forward voltage, else nothing.
    Diode {
        /// Forward voltage.
        forward: f64,
        /// Slope conductance.
        g: f64,
    },
    /// i = p/v; lets go below `drop_out`.
    Power {
        /// Power.
        watts: f64,
        /// Voltage below which it lets go.
        drop_out: Option<f64>,
        /// Voltage above which it comes back.
        return_above: Option<f64>,
    },
    /// A fixed current that a load draws; lets go below `drop_out`.
    Current {
        /// Current.
        amperes: f64,
        /// Voltage below which it lets go.
        drop_out: Option<f64>,
        /// Voltage above which it comes back.
        return_above: Option<f64>,
    },
    /// A resistive load that lets go below `drop_out`.
    Resistance {
        /// Conductance.
        g: f64,
        /// Voltage below which it lets go.
        drop_out: f64,
        /// Voltage above which it comes back.
        return_above: Option<f64>,
    },
    /// A fixed current driven into the network at `from`, that is −amperes through the branch.
    Injection {
        /// Current.
        amperes: f64,
    },
    /// Input of a converter: i = (p_out/efficiency + quiescent)/v; the output is the next branch.
    ConverterInput {
        /// Output power over input power less the quiescent.
        efficiency: f64,
        /// Input power without load.
        quiescent: f64,
        /// Voltage below which it stops.
        drop_out: Option<f64>,
        /// Voltage above which it starts again.
        return_above: Option<f64>,
    },
    /// Output of a converter, driven only while its input is fed.
    ConverterOutput {
        /// EMF.
        volts: f64,
        /// Conductance.
        g: f64,
    },
}

impl Law {
    /// Current and slope at a voltage of a branch that draws: a diode that conducts, a converter that is driven. Below its
    /// drop-out voltage a load is about to let go; a straight line through the origin (`line`) stands in for it there, so that
    /// the state in between always has a solution.
    ///
    /// The input of a converter draws as [`Law::Power`] of the power it takes.
    pub(crate) fn draws(&self, v: f64, line: bool) -> (f64, f64) {
        match *self {
            Law::Open | Law::ConverterInput { .. } => (0.0, 0.0),
            Law::Conductance { g } | Law::Resistance { g, .. } => (g * v, g),
            Law::Emf { volts, g } | Law::ConverterOutput { volts, g } => (g * (v - volts), g),
            Law::Diode { forward, g } => (g * (v - forward), g),
            Law::Injection { amperes } => (-amperes, 0.0),
            Law::Power { watts, drop_out: Some(knee), .. } if line => (watts * v / (knee * knee), watts / (knee * knee)),
            Law::Power { watts, .. } => (watts / v, -watts / (v * v)),
            Law::Current { amperes, drop_out: Some(knee), .. } if line => (amperes * v / knee, amperes / knee),
            Law::Current { amperes, .. } => (amperes, 0.0),
        }
    }

    /// Voltage below which the branch lets go.
    pub(crate) fn drop_out(&self) -> Option<f64> {
        match *self {
            Law::Power { drop_out, .. } | Law::Current { drop_out, .. } | Law::ConverterInput { drop_out, .. } => drop_out,
            Law::Resistance { drop_out, .. } => Some(drop_out),
            _ => None,
        }
    }
    /// Voltage above which it comes back.
    pub(crate) fn return_above(&self) -> Option<f64> {
        match *self {
            Law::Power { return_above, .. }
            | Law::Current { return_above, .. }
            | Law::ConverterInput { return_above, .. }
            | Law::Resistance { return_above, .. } => return_above,
            _ => None,
        }
    }
    /// Whether it joins its two ends, whatever the state.
    pub(crate) fn conducts(&self) -> bool {
        matches!(self, Law::Conductance { .. } | Law::Emf { .. })
    }
    /// Whether it is a consumer whose state the solver decides.
    pub(crate) fn is_demand(&self) -> bool {
        matches!(self, Law::Power { .. } | Law::Current { .. } | Law::ConverterInput { .. } | Law::Resistance { .. })
    }
}

/// Commands and faults of a scenario, looked up by element.
pub(crate) struct Overrides<'s> {
    design: &'s Design,
    scenario: &'s Scenario,
    commanded: Vec<(ElementId, Commanded)>,
    open: Vec<ElementId>,
    /// Changed loads, sorted, those of one load in the order written.
    loads: Vec<(Id<Load>, LoadChange)>,
    /// What stands as a plain resistance, sorted.
    held: Vec<(ElementId, Ohm)>,
    /// Items that stand on connectors, sorted.
    fitted: Vec<Id<Fitted>>,
    /// Pins parted from their mates; found by the first who asks for a contact.
    parted: OnceCell<Column<Pin, bool>>,
}

impl<'s> Overrides<'s> {
    pub(crate) fn new(design: &'s Design, topology: &Topology, layout: &Layout, scenario: &'s Scenario) -> Overrides<'s> {
        // Later words win: the phase first, then the scenario.
        let phase = &design.phases[scenario.phase];
        let mut commanded: Vec<(ElementId, Commanded)> =
            phase.states.iter().map(|s| s.value).chain(scenario.switches.iter().copied()).collect();
        commanded.reverse();
        commanded.sort_by_key(|&(element, _)| element);
        commanded.dedup_by_key(|&mut (element, _)| element);
        let mut open: Vec<ElementId> = Vec::new();
        for &(element, _) in &scenario.opened {
            open.push(if let ElementId::Joint(wire, _) = element { ElementId::Wire(wire) } else { element });
        }
        for &subject in &scenario.lost {
            lose(design, topology, layout, subject, &mut open);
        }
        let mut fitted: Vec<Id<Fitted>> = fitted_in(design, scenario).collect();
        fitted.sort_unstable();
        open.sort_unstable();
        open.dedup();
        let mut loads = scenario.loads.clone();
        loads.sort_by_key(|&(load, _)| load);
        let mut held = scenario.held.clone();
        held.sort_by_key(|&(element, _)| element);
        Overrides { design, scenario, commanded, open, loads, held, fitted, parted: OnceCell::new() }
    }

    pub(crate) fn on(&self, element: ElementId, own: bool) -> bool {
        match self.commanded.binary_search_by_key(&element, |&(e, _)| e) {
            Ok(at) => self.commanded[at].1 == Commanded::On,
            Err(_) => own,
        }
    }
    fn is_open(&self, element: ElementId) -> bool {
        self.open.binary_search(&element).is_ok() || matches!(element, ElementId::Contact(id) if self.is_parted(id))
    }
    fn is_parted(&self, contact: Id<Contact>) -> bool {
        if self.fitted.is_empty() {
            return false;
        }
        let parted = self.parted.get_or_init(|| parted_from_mates(self.design, &self.fitted, &self.scenario.lost));
        let row = &self.design.contacts[contact];
        parted[row.a] || parted[row.b]
    }
    fn is_fitted(&self, link: &FittedLink) -> bool {
        self.fitted.binary_search(&link.fitted).is_ok()
    }
    fn stuck(&self, element: ElementId) -> Option<Stuck> {
        self.scenario.stuck.iter().rev().find(|&&(e, _)| e == element).map(|&(_, s)| s)
    }
    fn held(&self, element: ElementId) -> Option<Ohm> {
        self.held.binary_search_by_key(&element, |&(held, _)| held).ok().map(|at| self.held[at].1)
    }
    pub(crate) fn ohms(&self, element: ElementId) -> Option<Ohm> {
        self.scenario.ohms.iter().rev().find(|&&(e, _)| e == element).map(|&(_, r)| r)
    }
    fn reading(&self, sensor: Id<Sensor>) -> Option<Ratio> {
        self.scenario.readings.iter().rev().find(|&&(s, _)| s == sensor).map(|&(_, r)| r)
    }
    pub(crate) fn load(&self, load: Id<Load>) -> (Option<bool>, Option<DemandAt>) {
        let (mut on, mut demand) = (None, None);
        let first = self.loads.partition_point(|&(id, _)| id < load);
        for &(_, change) in self.loads[first..].iter().take_while(|&&(id, _)| id == load) {
            match change {
                LoadChange::On => on = Some(true),
                LoadChange::Off => on = Some(false),
                LoadChange::Power(p) => demand = Some(DemandAt::Power(p)),
                LoadChange::Current(i) => demand = Some(DemandAt::Current(i)),
                LoadChange::Resistance(r) => demand = Some(DemandAt::Resistance(r)),
            }
        }
        (on, demand)
    }
}

/// What stands on connectors in a scenario: its own list, else the phase's.
fn fitted_in<'a>(design: &'a Design, scenario: &'a Scenario) -> impl Iterator<Item = Id<Fitted>> + use<'a> {
    let (own, of_phase) = match &scenario.fitted {
        Some(items) => (&items[..], &[][..]),
        None => (&[][..], &design.phases[scenario.phase].fitted[..]),
    };
    own.iter().copied().chain(of_phase.iter().map(|item| item.value))
}

/// Items in line in a mated contact, each with the resistance of its circuit.
pub(crate) fn in_line<'a>(
    design: &'a Design,
    scenario: &'a Scenario,
    contact: Id<Contact>,
) -> impl Iterator<Item = (Id<Fitted>, &'a Spread<Ohm>)> + use<'a> {
    let halves = [design.contacts[contact].a, design.contacts[contact].b].map(|pin| design.pins[pin].connector);
    fitted_in(design, scenario).filter_map(move |item| {
        let row = &design.fitted[item];
        let between = row.in_line.as_ref().filter(|_| halves.contains(&row.connector.value))?;
        Some((item, &between.ohms))
    })
}

/// Pins of a connector on which something is fitted: they are parted from its mate, since both cannot stand on it. An item in line parts only
/// those that it does not pass on, and all of them if it is lost.
fn parted_from_mates(design: &Design, fitted: &[Id<Fitted>], lost: &[Subject]) -> Column<Pin, bool> {
    let mut whole = design.connectors.column(false);
    let mut pins = design.pins.column(false);
    for &item in fitted {
        let row = &design.fitted[item];
        match &row.in_line {
            Some(between) if !lost.contains(&Subject::Fitted(item)) => between.open.iter().for_each(|&pin| pins[pin] = true),
            _ => whole[row.connector.value] = true,
        }
    }
    design.pins.iter().filter(|(_, pin)| whole[pin.connector]).for_each(|(id, _)| pins[id] = true);
    pins
}

/// Elements that no longer conduct when a subject is lost.
fn lose(design: &Design, topology: &Topology, layout: &Layout, subject: Subject, open: &mut Vec<ElementId>) {
    let touches = |test: &dyn Fn(End) -> bool, open: &mut Vec<ElementId>| {
        for (branch, &(from, to)) in topology.branches.iter().zip(&topology.ends) {
            if test(from) || test(to) {
                open.push(branch.element);
            }
        }
    };
    match subject {
        Subject::Element(ElementId::Joint(wire, _)) => open.push(ElementId::Wire(wire)),
        Subject::Element(element) => open.push(element),
        Subject::Pin(lost) => touches(&|end| end == End::Pin(lost), open),
        Subject::Inner(lost) => touches(&|end| end == End::Inner(lost), open),
        Subject::Splice(lost) => touches(&|end| end == End::Splice(lost), open),
        Subject::Stud(lost) => touches(&|end| end == End::Stud(lost), open),
        Subject::Ground(lost) => touches(&|end| end == End::Ground(lost), open),
        Subject::Connector(lost) => touches(&|end| matches!(end, End::Pin(pin) if design.pins[pin].connector == lost), open),
        Subject::Unit(lost) => touches(
            &|end| match end {
                End::Pin(pin) => design.connectors[design.pins[pin].connector].unit.is_some_and(|u| u.value == lost),
                End::Inner(node) => design.inner_nodes[node].unit.is_some_and(|u| u.value == lost),
                _ => false,
            },
            open,
        ),
        Subject::Cable(lost) => {
            open.extend(design.wires.iter().filter(|(_, w)| w.cable.is_some_and(|c| c.value == lost)).map(|(id, _)| ElementId::Wire(id)));
        }
        Subject::Fitted(lost) => open.extend(design.fitted[lost].links.iter().map(|&link| ElementId::FittedLink(link))),
        Subject::Port(lost) => lose(design, topology, layout, Subject::Pin(design.ports[lost].pin), open),
        Subject::Segment(lost) => {
            open.extend(layout.members(lost).iter().map(|&wire| ElementId::Wire(wire)));
            // An overbraid runs from breakout to breakout along it.
            let row = &design.segments[lost];
            let ends = [row.from, row.to].map(|end| End::Branch(end.value));
            let along = |from: End, to: End| [from, to] == ends || [to, from] == ends;
            open.extend(
                design.straps.iter().filter(|(_, strap)| along(strap.from.value, strap.to.value)).map(|(id, _)| ElementId::Strap(id)),
            );
        }
        Subject::Breakout(lost) => {
            let meets = |row: &Segment| row.from.value == lost || row.to.value == lost;
            for (segment, _) in design.segments.iter().filter(|(_, row)| meets(row)) {
                lose(design, topology, layout, Subject::Segment(segment), open);
            }
        }
        Subject::Circuit(lost) => {
            open.extend(design.wires.iter().filter(|(_, w)| w.circuit.is_some_and(|c| c.value == lost)).map(|(id, _)| ElementId::Wire(id)));
        }
        Subject::Zone(lost) => {
            let lies = |row: &Segment| row.zone.is_some_and(|zone| zone.value == lost);
            for (segment, _) in design.segments.iter().filter(|(_, row)| lies(row)) {
                lose(design, topology, layout, Subject::Segment(segment), open);
            }
        }
        Subject::Clamp(lost) => {
            for segment in design.clamps[lost].segments() {
                lose(design, topology, layout, Subject::Segment(segment), open);
            }
        }
        Subject::Covering(_) | Subject::Neighbour(_) => {}
        Subject::Function(_) | Subject::Phase(_) | Subject::Vehicle => {}
    }
}

/// Resistance of an element in a scenario; `None` if it has none or it is off, open or `TBD`. The flag marks a placeholder.
pub(crate) fn element_ohms(design: &Design, layout: &Layout, scenario: &Scenario, element: ElementId) -> Option<(Ohm, bool)> {
    let corner = scenario.corner;
    let spread = match element {
        ElementId::Wire(id) => return Some(wire_ohms(design, layout, id, corner, conductor_in(design, scenario, id))),
        ElementId::Strap(id) => &design.straps[id].ohms,
        ElementId::StructurePath(id) => &design.structure_paths[id].ohms,
        ElementId::Contact(id) => {
            // Each item in line adds one contact more and its own resistance.
            let one = resistance_in(&design.contacts[id].ohms, corner).value;
            let whole = in_line(design, scenario, id).fold(one, |sum, (_, own)| sum + one + resistance_in(own, corner).value);
            return Some((whole, false));
        }
        ElementId::Link(id) => &design.links[id].ohms,
        ElementId::FittedLink(id) => &design.fitted_links[id].ohms,
        ElementId::Source(id) => design.batteries[id].ohms.as_ref()?,
        ElementId::Protector(id) => &design.protectors[id].ohms,
        ElementId::Switch(id) => &design.switches[id].ohms,
        ElementId::Diode(id) => &design.diodes[id].ohms,
        ElementId::Receiver(id) => return Some((design.receivers[id].ohms.value, false)),
        _ => return None,
    };
    Some((resistance_in(spread, corner).value, false))
}

/// The law of every branch, in the order of the topology's branches.
pub(crate) fn laws(design: &Design, topology: &Topology, layout: &Layout, scenario: &Scenario) -> Vec<Law> {
    topology.branches.iter().map(law_of(design, topology, layout, scenario)).collect()
}

/// The same where those of another scenario are known: what the two state alike keeps its law.
///
/// Cost: a copy, and the elements that only one of them names.
pub(crate) fn laws_beside(
    design: &Design,
    topology: &Topology,
    layout: &Layout,
    scenario: &Scenario,
    (other, known): (&Scenario, &[Law]),
) -> Vec<Law> {
    let alike = scenario.phase == other.phase
        && scenario.corner == other.corner
        && scenario.lost == other.lost
        && scenario.fitted == other.fitted
        && scenario.conductors == other.conductors;
    if !alike {
        return laws(design, topology, layout, scenario);
    }
    let mut laws = known.to_vec();
    let law = law_of(design, topology, layout, scenario);
    let mut renew = |element: ElementId| {
        let Some(first) = topology.branch_of(element) else { return };
        let own = topology.branches[first].element;
        for (row, branch) in topology.branches.iter().enumerate().skip(first).take_while(|(_, branch)| branch.element == own) {
            laws[row] = law(branch);
        }
    };
    fn differ<'a, T: PartialEq>(a: &'a [T], b: &'a [T]) -> impl Iterator<Item = &'a T> {
        let same = a.iter().zip(b).take_while(|(a, b)| a == b).count();
        a[same..].iter().chain(&b[same..])
    }
    differ(&scenario.switches, &other.switches).for_each(|&(element, _)| renew(element));
    differ(&scenario.loads, &other.loads).for_each(|&(load, _)| renew(ElementId::Load(load)));
    differ(&scenario.readings, &other.readings).for_each(|&(sensor, _)| renew(ElementId::Sensor(sensor)));
    differ(&scenario.opened, &other.opened).for_each(|&(element, _)| renew(element));
    differ(&scenario.ohms, &other.ohms).for_each(|&(element, _)| renew(element));
    differ(&scenario.stuck, &other.stuck).for_each(|&(element, _)| renew(element));
    differ(&scenario.held, &other.held).for_each(|&(element, _)| renew(element));
    differ(&scenario.batteries, &other.batteries).for_each(|at| renew(ElementId::Source(at.battery)));
    laws
}

/// The law of one branch after another: for questions that look at few of them.
pub(crate) fn law_of<'a>(
    design: &'a Design,
    topology: &Topology,
    layout: &'a Layout,
    scenario: &'a Scenario,
) -> impl Fn(&crate::Branch) -> Law + use<'a> {
    let corner = scenario.corner;
    let overrides = Overrides::new(design, topology, layout, scenario);
    let law = move |branch: &crate::Branch| -> Option<Law> {
        let element = branch.element;
        if overrides.is_open(element) {
            return None;
        }
        if let Some(ohms) = overrides.held(element) {
            // Of a converter the input; its output gives nothing.
            return (branch.part == 0).then(|| Law::Conductance { g: ohms.conductance().0 });
        }
        let ohms = || overrides.ohms(element).or_else(|| element_ohms(design, layout, scenario, element).map(|(r, _)| r));
        let conductance = |r: Ohm| Law::Conductance { g: r.conductance().0 };
        let closed = |own: bool| match overrides.stuck(element) {
            Some(Stuck::Open) => false,
            Some(_) => true,
            None => overrides.on(element, own),
        };
        Some(match element {
            ElementId::Wire(_)
            | ElementId::Strap(_)
            | ElementId::StructurePath(_)
            | ElementId::Contact(_)
            | ElementId::Link(_)
            | ElementId::Receiver(_) => conductance(ohms()?),
            ElementId::FittedLink(id) if overrides.is_fitted(&design.fitted_links[id]) => conductance(ohms()?),
            ElementId::FittedLink(_) => return None,
            ElementId::Protector(id) if closed(design.protectors[id].closed) => conductance(ohms()?),
            ElementId::Switch(id) if closed(design.switches[id].closed) => conductance(ohms()?),
            ElementId::Protector(_) | ElementId::Switch(_) => return None,
            ElementId::Source(id) => {
                let source = &design.batteries[id];
                if !overrides.on(element, source.on) {
                    return None;
                }
                if let Some(at) = scenario.batteries.iter().find(|at| at.battery == id) {
                    let ohms = overrides.ohms(element).unwrap_or(at.ohms);
                    return Some(Law::Emf { volts: at.emf.0, g: ohms.conductance().0 });
                }
                Law::Emf { volts: emf_in(source.emf.as_ref()?, corner).value.0, g: ohms()?.conductance().0 }
            }
            ElementId::Diode(id) => match overrides.stuck(element) {
                Some(Stuck::Open) => return None,
                Some(Stuck::Shorted | Stuck::Closed) => conductance(ohms()?),
                None => Law::Diode { forward: forward_in(&design.diodes[id].forward, corner).value.0, g: ohms()?.conductance().0 },
            },
            ElementId::Load(id) => {
                let load = &design.loads[id];
                let (on, changed) = overrides.load(id);
                if !on.unwrap_or_else(|| overrides.on(element, load.on)) {
                    return None;
                }
                let drop_out = load.drop_out.map(|v| v.value.0);
                let return_above = load.return_above.map(|v| v.value.0);
                match (changed.or_else(|| demand_in(load, corner))?, drop_out) {
                    (DemandAt::Power(Watt(0.0)), _) => return None,
                    (DemandAt::Power(Watt(watts)), drop_out) => Law::Power { watts, drop_out, return_above },
                    (DemandAt::Current(Ampere(amperes)), drop_out) => Law::Current { amperes, drop_out, return_above },
                    (DemandAt::Resistance(r), Some(drop_out)) => Law::Resistance { g: r.conductance().0, drop_out, return_above },
                    (DemandAt::Resistance(r), None) => conductance(r),
                }
            }
            ElementId::Converter(id) => {
                let converter = &design.converters[id];
                if !overrides.on(element, converter.on) {
                    return None;
                }
                match branch.part {
                    0 => Law::ConverterInput {
                        efficiency: converter.efficiency.value.0,
                        quiescent: converter.quiescent.value.0,
                        drop_out: converter.drop_out.map(|v| v.value.0),
                        return_above: converter.return_above.map(|v| v.value.0),
                    },
                    _ => Law::ConverterOutput {
                        volts: emf_in(&converter.emf, corner).value.0,
                        g: overrides.ohms(element).unwrap_or(resistance_in(&converter.ohms, corner).value).conductance().0,
                    },
                }
            }
            ElementId::Excitation(id) => Law::Injection { amperes: design.excitations[id].current.value.0 },
            ElementId::Sensor(id) => {
                let sensor = &design.sensors[id];
                let reading = overrides.reading(id).unwrap_or(sensor.reading.value).0;
                match sensor.law {
                    SensorLaw::Bridge { arm, sensitivity, .. } => {
                        let arms = physics::sensor_bridge::bridge_arms(arm.value, sensitivity.value.0, reading);
                        conductance(arms[usize::from(branch.part)])
                    }
                    SensorLaw::Resistance { zero, full, .. } => conductance(zero.value + (full.value - zero.value) * reading),
                    SensorLaw::Voltage { ohms, .. } | SensorLaw::Thermocouple { ohms, .. } => {
                        Law::Emf { volts: sensor.law.ideal(reading).0, g: ohms.value.conductance().0 }
                    }
                    SensorLaw::Rtd { r0, alpha, .. } => match branch.part {
                        0 => conductance(rtd_ohms(r0.value, alpha.value, sensor.law.temperature(reading)?)),
                        _ => conductance(HEAD_JOINT),
                    },
                    SensorLaw::Potentiometer { track, .. } => {
                        let [above, below] = potentiometer_parts(track.value, reading);
                        conductance(if branch.part == 0 { above } else { below })
                    }
                    SensorLaw::CurrentLoop { .. } => {
                        Law::Current { amperes: (LOOP_ZERO + LOOP_SPAN * reading).0, drop_out: None, return_above: None }
                    }
                }
            }
            ElementId::Joint(..) | ElementId::Shield(_) | ElementId::Drain(_) => return None,
        })
    };
    move |branch| law(branch).unwrap_or(Law::Open)
}
