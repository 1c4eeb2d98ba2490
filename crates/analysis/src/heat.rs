//! Heat of the harness: the section of each segment, its surroundings in a state, the temperatures of its wires.
//!
//! A section is the packed bundle of the segment. The cores of a cable lie inside its circle, packed by themselves and drawn out until they
//! fill it, so that what lies between core and outside counts as jacket. A conductor counts as solid with the area of its metal, which leaves
//! the jacket a little too thick, so on the hot side. Coverings are one wrap with the resistances of all of them.
//!
//! Every value is that of the long run, far from the ends: what ends lead away is no part of it.
//!
//! Cost: sections once per design, those of like members along a trunk once; per state one balance of heat for each different section.

use crate::Prepared;
use crate::bundles::{Bundle, MemberOf};
use crate::corner::r20_in;
use model::*;
use physics::film::{FilmBy, Free};
use physics::gas::Gas;
use physics::packing::pack;
use physics::pulses::{Pulse, Rhythm, Spell, groups, mean_square, peak, worst_course};
use physics::resistance::copper_alpha20;
use physics::section_heat::{Circle, Fill, Filled, Gaps, Heating, Network, Places, Section, Settled, Start, Unsettled, Wrap};
use physics::section_transient::{ALUMINIUM_CAPACITY, COPPER_CAPACITY, Stretch, repeated};
use physics::single_wire::joule_heat;
use physics::surroundings::{Sink, Surroundings};
use physics::*;
use rayon::prelude::*;
use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Sections of all segments, each different one once.
pub(crate) struct Sections {
    /// Of each segment; `None` of an empty one.
    of: Column<Segment, Option<Result<usize, HeatLacks>>>,
    /// Different ones: by members, coverings, zone, sink, sunlight.
    pub(crate) all: Vec<Cut>,
    /// Where each wire lies in segments that have a section.
    runs: Column<Wire, Vec<Along>>,
}

/// A wire in a segment.
struct Along {
    segment: Id<Segment>,
    length: Metre,
    /// Row of the wire in the section.
    row: u32,
}

/// A section of the harness with what surrounds it.
pub(crate) struct Cut {
    /// A segment that has it.
    segment: Id<Segment>,
    zone: Id<Zone>,
    /// Its wires, in the order of circles.
    pub(crate) wires: Vec<Id<Wire>>,
    spec: Vec<Id<WireSpec>>,
    emittance: Vec<Spread<Ratio>>,
    contact: [WattPerMetreKelvin; 3],
    wrap: Option<[Wrap; 3]>,
    outside: Metre,
    network: Network,
    /// What lies between the wires at each pressure that the zone states.
    gaps: Vec<Arc<Gaps>>,
    notes: Vec<NoteId>,
}

impl Cut {
    /// What lies between the wires in these surroundings.
    fn gaps(&self, around: &Surroundings) -> Arc<Gaps> {
        let fill = fill(around.gas.map(|gas| gas.pressure));
        let known = self.gaps.iter().find(|gaps| gaps.fill() == fill);
        known.map_or_else(|| Arc::new(self.network.gaps(fill)), Arc::clone)
    }
}

/// Of the kinds of fill that a section has here.
fn pressure_of(fill: Fill) -> f64 {
    match fill {
        Fill::Air(pressure) => pressure.0,
        Fill::Vacuum | Fill::Fixed(_) => 0.0,
    }
}

fn fill(pressure: Option<Pascal>) -> Fill {
    pressure.filter(|pressure| pressure.0 > 0.0).map_or(Fill::Vacuum, Fill::Air)
}

/// Which end of the surroundings' range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Coldest,
    Typical,
    Hottest,
}

impl Side {
    fn of<T: Copy>(self, spread: &Spread<T>) -> T {
        match self {
            Side::Coldest => spread.low.value,
            Side::Typical => spread.typical.value,
            Side::Hottest => spread.high.value,
        }
    }
}

/// Which ends of the stated ranges of contact and emittance (0 least, 1 typical, 2 greatest), and which law of free convection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Ends {
    contact: usize,
    emittance: usize,
    free: Free,
}

const TYPICAL: Ends = Ends { contact: 1, emittance: 1, free: Free::ChurchillChu };

/// How far the temperature of a wire may lie to either side, by the stated ranges of what it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatRange {
    /// Least.
    pub low: Kelvin,
    /// Greatest.
    pub high: Kelvin,
    /// What moves it most: `contact` between jackets, `emittance`, or the `film` between two laws of free convection.
    pub by: &'static str,
}

/// One thing taken otherwise than it is, to see what it is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taken {
    /// Walls, gas and sink at one temperature.
    Surroundings(Kelvin),
    /// No gas.
    NoGas,
    /// Air at sea level under the gravity of the ground, moved by nothing else.
    GroundAir,
    /// No current in the neighbours.
    ColdNeighbours,
}

/// Pressure of the standard atmosphere at sea level.
const SEA_LEVEL: Pascal = Pascal(101_325.0);

fn lacks(of: Subject, field: &'static str, why: impl Into<String>, at: Span) -> HeatLacks {
    HeatLacks { of, field, why: why.into(), at }
}

/// What two sections have to have alike to be one: wires, coverings, zone, and the bits of sink and sunlight.
type Alike = (Vec<Id<Wire>>, Vec<Id<Covering>>, Id<Zone>, [u64; 5]);

impl Sections {
    pub(crate) fn new(prepared: &Prepared) -> Sections {
        let design = prepared.design;
        let mut asked: Vec<(Id<Segment>, Id<Zone>)> = Vec::new();
        let mut known: HashMap<Alike, usize> = HashMap::new();
        let row_of: Column<Segment, Option<Result<usize, HeatLacks>>> = design
            .segments
            .iter()
            .map(|(id, segment)| {
                let wires = prepared.layout.members(id);
                if wires.is_empty() {
                    return None;
                }
                let Some(zone) = segment.zone else {
                    return Some(Err(lacks(Subject::Segment(id), "zone", "the zone of the segment is not stated", segment.at)));
                };
                let bits = |value: Option<f64>| value.map_or(u64::MAX, f64::to_bits);
                let sink = |pick: fn(&Spread<Kelvin>) -> f64| bits(segment.sink.as_ref().map(pick));
                let numbers = [
                    sink(|s| s.low.value.0),
                    sink(|s| s.typical.value.0),
                    sink(|s| s.high.value.0),
                    bits(segment.sink_conductance.map(|g| g.value.0)),
                    bits(segment.absorptance.map(|g| g.value.0)),
                ];
                let coverings = segment.coverings.iter().map(|covering| covering.value).collect();
                let row = *known.entry((wires.to_vec(), coverings, zone.value, numbers)).or_insert_with(|| {
                    asked.push((id, zone.value));
                    asked.len() - 1
                });
                Some(Ok(row))
            })
            .collect();
        // Bundles are packed side by side themselves: all of them before the first is asked for by several.
        if let Some((first, _)) = asked.first() {
            prepared.bundle(*first);
        }
        let places = KnownPlaces::default();
        let cuts: Vec<Result<Cut, HeatLacks>> =
            asked.par_iter().map(|&(segment, zone)| cut(design, segment, zone, prepared.bundle(segment), &places)).collect();
        let mut all: Vec<Cut> = Vec::new();
        let place: Vec<Result<usize, HeatLacks>> = cuts
            .into_iter()
            .map(|cut| {
                all.push(cut?);
                Ok(all.len() - 1)
            })
            .collect();
        let of: Column<Segment, Option<Result<usize, HeatLacks>>> =
            row_of.iter().map(|(_, row)| Some(row.clone()?.and_then(|row| place[row].clone()))).collect();
        let rows: Vec<HashMap<Id<Wire>, u32>> =
            all.iter().map(|cut| cut.wires.iter().zip(0..).map(|(wire, row)| (*wire, row)).collect()).collect();
        let runs = design
            .wires
            .ids()
            .map(|wire| {
                let segments = prepared.layout.run(wire).map_or(&[][..], |run| &run.segments);
                let place = |&segment: &Id<Segment>| match &of[segment] {
                    Some(Ok(at)) => Some(Along { segment, length: design.segments[segment].length.value, row: *rows[*at].get(&wire)? }),
                    _ => None,
                };
                segments.iter().filter_map(place).collect()
            })
            .collect();
        Sections { of, all, runs }
    }

    /// The section of a segment, if all that it needs is stated.
    pub(crate) fn cut(&self, segment: Id<Segment>) -> Option<&Cut> {
        match &self.of[segment] {
            Some(Ok(row)) => Some(&self.all[*row]),
            _ => None,
        }
    }
}

/// Places by their key: sections that differ in what surrounds them alone have their wires at the same ones. Who asks first makes them, the others wait.
#[derive(Default)]
struct KnownPlaces(Mutex<HashMap<Vec<u64>, Arc<OnceLock<Places>>>>);

impl KnownPlaces {
    fn network(&self, section: &Section) -> Network {
        let places = Arc::clone(self.0.lock().unwrap_or_else(PoisonError::into_inner).entry(Places::key(section)).or_default());
        Network::at(places.get_or_init(|| Places::new(section)), section)
    }
}

/// The section of a segment; else what it lacks.
fn cut(design: &Design, id: Id<Segment>, zone: Id<Zone>, bundle: &Bundle, places: &KnownPlaces) -> Result<Cut, HeatLacks> {
    if let Some(missing) = bundle.unsized_.first() {
        let why = format!("{} in the segment has no known size", design.subject_words(missing.of));
        return Err(lacks(missing.of, missing.field, why, missing.at));
    }
    let mut notes: Vec<NoteId> = bundle.notes().collect();
    let mut circles: Vec<(Id<Wire>, Circle)> = Vec::new();
    let mut emittance: Vec<Spread<Ratio>> = Vec::new();
    let mut spec = Vec::new();
    for (member, place) in bundle.members.iter().zip(&bundle.places) {
        let placed: Vec<(Id<Wire>, Metre, Metre, Metre)> = match member.of {
            MemberOf::Wire(wire) => vec![(wire, place.x, place.y, member.diameter * 0.5)],
            MemberOf::Cable(_) => {
                let diameters = member.wires.iter().map(|&wire| core_diameter(design, wire)).collect::<Result<Vec<Metre>, _>>()?;
                let packed = pack(&diameters).expect("checked design: diameters are positive and finite");
                let drawn = member.diameter.0 / packed.outline.0;
                let one = |((&wire, at), diameter): ((&Id<Wire>, &physics::packing::Place), &Metre)| {
                    (wire, place.x + at.x * drawn, place.y + at.y * drawn, *diameter * (0.5 * drawn))
                };
                member.wires.iter().zip(&packed.places).zip(&diameters).map(one).collect()
            }
        };
        for (wire, x, y, jacket) in placed {
            let row = spec_of(design, wire)?;
            let found = &design.wire_specs[row];
            let conductor = Metre((found.area.value.0 / core::f64::consts::PI).sqrt());
            if conductor.0 >= jacket.0 {
                let why = format!("the outside diameter of type {} {} AWG leaves no room for its metal", found.kind, found.gauge);
                return Err(lacks(Subject::Element(ElementId::Wire(wire)), "od", why, found.at));
            }
            let (conductivity, own) = insulation(design, wire, found)?;
            notes.extend([found.area.note, found.conductivity.note, found.r20_max.note, conductivity.note].into_iter().flatten());
            notes.extend(own.notes());
            circles.push((wire, Circle { x, y, conductor, jacket, jacket_k: conductivity.value, emittance: own.typical.value.0 }));
            emittance.push(own);
            spec.push(row);
        }
    }
    let contact = contact(design, circles.len() > 1, &mut notes)?;
    let wrap = wrap(design, bundle, &mut notes)?;
    let section =
        Section { circles: circles.iter().map(|(_, circle)| *circle).collect(), contact: contact[1], wrap: wrap.map(|wraps| wraps[1]) };
    notes.sort_unstable();
    notes.dedup();
    let network = places.network(&section);
    let mut fills: Vec<Fill> =
        design.phases.ids().map(|phase| fill(design.zones[zone].climate(phase).pressure.map(|given| given.value))).collect();
    fills.sort_unstable_by(|a, b| pressure_of(*a).total_cmp(&pressure_of(*b)));
    fills.dedup();
    let gaps = fills.into_iter().map(|fill| Arc::new(network.gaps(fill))).collect();
    Ok(Cut {
        segment: id,
        zone,
        wires: circles.into_iter().map(|(wire, _)| wire).collect(),
        spec,
        emittance,
        contact,
        wrap,
        outside: bundle.known_outside(),
        network,
        gaps,
        notes,
    })
}

fn spec_of(design: &Design, wire: Id<Wire>) -> Result<Id<WireSpec>, HeatLacks> {
    let row = &design.wires[wire];
    let gauge = || lacks(Subject::Element(ElementId::Wire(wire)), "gauge", "the gauge of a wire beside is not known", row.at);
    row.spec.map(|spec| spec.value).ok_or_else(gauge)
}

fn core_diameter(design: &Design, wire: Id<Wire>) -> Result<Metre, HeatLacks> {
    let spec = &design.wire_specs[spec_of(design, wire)?];
    let none = || {
        let why = format!("the outside diameter of type {} {} AWG is not known", spec.kind, spec.gauge);
        lacks(Subject::Element(ElementId::Wire(wire)), "od", why, spec.at)
    };
    spec.diameter.map(|od| od.value).ok_or_else(none)
}

/// Conductivity and emittance of a wire's insulation.
fn insulation(design: &Design, wire: Id<Wire>, spec: &WireSpec) -> Result<(Given<WattPerMetreKelvin>, Spread<Ratio>), HeatLacks> {
    let of = Subject::Element(ElementId::Wire(wire));
    let type_words = format!("type {} {} AWG", spec.kind, spec.gauge);
    let Some(family) = &spec.family else {
        return Err(lacks(of, "family", format!("the insulation family of {type_words} is not known"), spec.at));
    };
    let known = design.heat.insulation(family);
    let lacking =
        |field| lacks(of, field, format!("catalog/insulations.csv has no {field} of {family}, the insulation of {type_words}"), spec.at);
    let conductivity = known.and_then(|row| row.conductivity).ok_or_else(|| lacking("conductivity"))?;
    let emittance = known.and_then(|row| row.emittance).ok_or_else(|| lacking("emittance"))?;
    Ok((conductivity, emittance))
}

/// Conductance between touching jackets; nothing touches where one wire lies alone.
fn contact(design: &Design, touches: bool, notes: &mut Vec<NoteId>) -> Result<[WattPerMetreKelvin; 3], HeatLacks> {
    if !touches {
        return Ok([WattPerMetreKelvin(0.0); 3]);
    }
    let [low, typical, high] = design.profile.contact_conductance;
    let Some(typical) = typical else {
        let why = "the limits profile does not state the heat conductance between jackets that touch";
        return Err(lacks(Subject::Vehicle, "contact_conductance", why, design.profile.at));
    };
    notes.extend([low, Some(typical), high].into_iter().flatten().filter_map(|given| given.note));
    Ok([low.unwrap_or(typical), typical, high.unwrap_or(typical)].map(|given| given.value))
}

/// The coverings as one wrap, with the least, the typical and the greatest emittance.
fn wrap(design: &Design, bundle: &Bundle, notes: &mut Vec<NoteId>) -> Result<Option<[Wrap; 3]>, HeatLacks> {
    let (Some((first, _)), Some((last, outer))) = (bundle.layers.first(), bundle.layers.last()) else { return Ok(None) };
    let emittance = |id: Id<Covering>| {
        let row = &design.coverings[id];
        let why = format!("the emittance of covering {} is not stated", row.name);
        row.emittance.ok_or_else(|| lacks(Subject::Covering(id), "emittance", why, row.at))
    };
    let (inside, outside) = (emittance(*first)?, emittance(*last)?);
    // Resistances to heat of one covering over the other add up.
    let (mut inner, mut resistance, mut capacity) = (bundle.packed.0, 0.0, 0.0);
    for (id, over) in &bundle.layers {
        let row = &design.coverings[*id];
        let why = || format!("the thermal conductivity of covering {} is not stated", row.name);
        let k = row.conductivity.ok_or_else(|| lacks(Subject::Covering(*id), "conductivity", why(), row.at))?;
        notes.extend(k.note);
        resistance += (over.0 / inner).ln() / k.value.0;
        inner = over.0;
        // What states no mass or no specific heat takes up nothing: on the hot side for a fault; of endless pulses the highest temperature moves
        // by a few hundredths of the rise either way.
        if let (Some(mass), Some(specific)) = (row.mass, row.specific_heat) {
            notes.extend([mass.note, specific.note].into_iter().flatten());
            capacity += mass.value.0 * specific.value.0;
        }
    }
    notes.extend(inside.notes().chain(outside.notes()));
    let k = WattPerMetreKelvin((outer.0 / bundle.packed.0).ln() / resistance);
    let ends = |spread: &Spread<Ratio>| [spread.low, spread.typical, spread.high].map(|given| given.value.0);
    let (inside, outside) = (ends(&inside), ends(&outside));
    Ok(Some([0, 1, 2].map(|end| Wrap {
        inner: bundle.packed * 0.5,
        outer: *outer * 0.5,
        k,
        inner_emittance: inside[end],
        outer_emittance: outside[end],
        capacity: JoulePerMetreKelvin(capacity),
    })))
}

/// What surrounds a section in a state, and whether its gravity is not stated.
fn surroundings(design: &Design, point: &Point, cut: &Cut, side: Side) -> Result<(Surroundings, bool), HeatLacks> {
    let (zone, segment) = (&design.zones[cut.zone], &design.segments[cut.segment]);
    let climate = zone.climate(point.scenario.phase);
    let missing = |field: &'static str, what: &str| {
        let phase = &design.phases[point.scenario.phase].name;
        let is = if climate.is_open(field) { "TBD" } else { "not stated" };
        lacks(Subject::Zone(cut.zone), field, format!("{what} of zone {} in phase {phase} is {is}", zone.name), zone.at)
    };
    let mut pressure = climate.pressure.map(|given| given.value);
    let mut gas_temperature = climate.gas_temperature.map(|spread| side.of(&spread));
    let mut gravity = climate.gravity.map(|given| given.value);
    let blows = climate.fan.is_none_or(|fan| point.load_state[fan.value] == LoadState::On && point.load_fed[fan.value]);
    // What is not stated is nothing, but of what is TBD nothing is known.
    let nothing = |field: &str| (!climate.is_open(field)).then_some(0.0);
    let mut speed = climate.air_speed.map(|given| given.value).or(nothing("air_speed").map(MetrePerSecond));
    if !blows {
        speed = Some(MetrePerSecond(0.0));
    }
    let mut walls = climate.walls.map(|spread| side.of(&spread));
    let mut sun = climate.sun.map(|given| given.value.0).or(nothing("sun"));
    for (_, change) in point.scenario.zones.iter().filter(|(id, _)| *id == cut.zone) {
        match *change {
            ZoneChange::Pressure(p) => pressure = Some(p),
            ZoneChange::GasTemperature(t) => gas_temperature = Some(t),
            ZoneChange::Gravity(g) => gravity = Some(g),
            ZoneChange::AirSpeed(v) => speed = Some(v),
            ZoneChange::FanOff => speed = Some(MetrePerSecond(0.0)),
            ZoneChange::Walls(t) => walls = Some(t),
            ZoneChange::Sun(flux) => sun = Some(flux.0),
        }
    }
    let pressure = pressure.ok_or_else(|| missing("pressure", "the pressure"))?;
    let walls = walls.ok_or_else(|| missing("walls", "the temperature of the walls"))?;
    let sun = sun.ok_or_else(|| missing("sun", "the sunlight"))?;
    let gas = match pressure.0 > 0.0 {
        false => None,
        true => {
            let temperature = gas_temperature.ok_or_else(|| missing("gas_temperature", "the temperature of the gas"))?;
            if gravity.is_none() && climate.is_open("gravity") {
                return Err(missing("gravity", "the gravity"));
            }
            let speed = speed.ok_or_else(|| missing("air_speed", "the speed of the gas"))?;
            let moves = gravity.is_some_and(|g| g > 0.0) || speed.0 > 0.0;
            let wall_distance = climate.wall_distance.map(|given| given.value);
            if !moves && wall_distance.is_none() {
                return Err(missing("wall_distance", "nothing moves the gas, and the distance to the walls"));
            }
            Some(Gas { temperature, pressure, gravity: gravity.unwrap_or(0.0), speed, wall_distance })
        }
    };
    // What a cylinder catches: its width.
    let absorbed = WattPerMetre(sun * segment.absorptance.map_or(1.0, |share| share.value.0) * cut.outside.0);
    let sink = segment
        .sink_conductance
        .filter(|g| g.value.0 > 0.0)
        .map(|conductance| Sink { conductance: conductance.value, temperature: segment.sink.map_or(walls, |spread| side.of(&spread)) });
    let no_gravity = gas.is_some() && gravity.is_none();
    Ok((Surroundings { gas, free: Free::default(), film: None, walls, absorbed, sink }, no_gravity))
}

fn film_words(by: FilmBy) -> &'static str {
    match by {
        FilmBy::FreeConvection(Free::ChurchillChu) => "free convection, Churchill and Chu",
        FilmBy::FreeConvection(Free::Morgan) => "free convection, Morgan",
        FilmBy::Flow => "forced flow, Churchill and Bernstein",
        FilmBy::StillGas => "conduction through still gas",
        FilmBy::Given => "given film",
        FilmBy::Nothing => "nothing",
    }
}

/// What heats each wire of a section: the current of the state, of pulses the root of the mean square; else the current that the list states where
/// nothing modelled hangs on the wire.
fn heating(prepared: &Prepared, point: &Point, cut: &Cut, r20: Corner) -> Result<Vec<Heating>, HeatLacks> {
    let design = prepared.design;
    let one = |(&wire, &spec): (&Id<Wire>, &Id<WireSpec>)| {
        let spec = &design.wire_specs[spec];
        let current = match pulsed(prepared, point, wire) {
            Some((steady, pulses)) => Ampere(mean_square(steady, &pulses).sqrt()),
            None => current(prepared, point, wire)?,
        };
        let alpha20 = copper_alpha20(spec.conductivity.value.0);
        Ok(Heating { current, r20: r20_in(spec, r20).value, alpha20, extra: WattPerMetre(0.0) })
    };
    cut.wires.iter().zip(&cut.spec).map(one).collect()
}

/// Current of a wire without pulses, and what each adds; `None` where none are on or the wire's current is not known.
fn pulsed(prepared: &Prepared, point: &Point, wire: Id<Wire>) -> Option<(Ampere, Vec<Pulse>)> {
    let pulses = point.pulses.as_ref()?;
    let branch = prepared.branch_of(ElementId::Wire(wire))?;
    (current(prepared, point, wire).ok()?.0 > 0.0).then(|| {
        let added = pulses.rhythms.iter().map(|(rhythm, added)| Pulse { current: Ampere(added[branch]), rhythm: *rhythm });
        (Ampere(pulses.steady[branch]), added.collect())
    })
}

fn current(prepared: &Prepared, point: &Point, wire: Id<Wire>) -> Result<Ampere, HeatLacks> {
    let row = &prepared.design.wires[wire];
    let is_stowed = [row.from.value, row.to.value].contains(&End::Stowed);
    let of = Subject::Element(ElementId::Wire(wire));
    if !prepared.leads_to_elements()[wire] && !is_stowed {
        // A spare that is connected on one side carries nothing, and says so by its `current` or by nothing at all.
        return Ok(row.current.map_or(Ampere(0.0), |current| current.value));
    }
    let Some(branch) = prepared.branch_of(ElementId::Wire(wire)) else { return Ok(Ampere(0.0)) };
    let island = point.island_of[prepared.branches()[branch].from.row()].map(|island| &point.islands[island as usize]);
    match island {
        Some(island) if !island.outcome.is_settled() => {
            let why = format!("the part of the network that wire {} lies in did not settle (OP-01)", row.name);
            Err(lacks(of, "operating point", why, row.at))
        }
        Some(island) if island.driven => Ok(Ampere(point.current[branch].abs())),
        _ => Ok(Ampere(0.0)),
    }
}

/// What a section came to, and from what.
#[derive(Clone)]
struct Kept {
    around: Surroundings,
    heating: Vec<Heating>,
    found: SegmentHeat,
    start: Start,
    ends: Ends,
}

/// How far a temperature may lie from that of its own currents: a quarter of what counts as standing still.
const NEAR_ENOUGH: TemperatureRise = TemperatureRise(2.5e-3);

impl Kept {
    /// The same section with other currents, where they are so near that no temperature moves by more than [`NEAR_ENOUGH`].
    ///
    /// Rises are sums over the heat of all wires with shares that are not negative, so that they change by no more than the largest relative
    /// change of any heat; a wire with less than a millionth of the whole counts as having that much.
    fn with(&self, around: &Surroundings, heating: &[Heating], ends: Ends) -> Option<SegmentHeat> {
        let SegmentHeat::Known(known) = &self.found else { return None };
        if self.around != *around || self.ends != ends {
            return None;
        }
        let heat = |h: &Heating| h.current.0 * h.current.0 * h.r20.0;
        let whole: f64 = self.heating.iter().map(heat).sum();
        let mut changed = 0.0f64;
        for (old, new) in self.heating.iter().zip(heating) {
            let (old, new) = (heat(old), heat(new));
            if old != new {
                changed = changed.max((new - old).abs() / old.max(1e-6 * whole));
            }
        }
        let hottest = known.wires.iter().map(|row| row.conductor.0).fold(0.0, f64::max);
        // A state without heat gives no rise to scale.
        if changed > 0.0 && (whole == 0.0 || changed * (hottest - around.coldest().0) > NEAR_ENOUGH.0) {
            return None;
        }
        let wires = known.wires.iter().zip(heating).map(|(row, heating)| WireHeat { current: heating.current, ..*row }).collect();
        Some(SegmentHeat::Known(Arc::new(SectionHeat { wires, ..SectionHeat::clone(known) })))
    }
}

/// One temperature for surroundings: a measure of how much warmer one is than another.
fn warmth(around: &Surroundings) -> Kelvin {
    around.gas.map_or(around.walls, |gas| Kelvin(0.5 * (around.walls.0 + gas.temperature.0)))
}

/// Temperatures of a section.
fn settle(prepared: &Prepared, point: &Point, cut: &Cut, (side, r20): (Side, Corner), ends: Ends, kept: &mut Option<Kept>) -> SegmentHeat {
    let found = surroundings(prepared.design, point, cut, side).and_then(|around| Ok((around, heating(prepared, point, cut, r20)?)));
    let ((around, no_gravity), heating) = match found {
        Ok(((around, no_gravity), heating)) => ((Surroundings { free: ends.free, ..around }, no_gravity), heating),
        Err(lacks) => return SegmentHeat::Lacks(lacks),
    };
    if let Some(found) = kept.as_ref().and_then(|kept| kept.with(&around, &heating, ends)) {
        return found;
    }
    let emittance = |row: usize| {
        let own: &Spread<Ratio> = &cut.emittance[row];
        [own.low, own.typical, own.high][ends.emittance].value.0
    };
    let changed = ((ends.contact, ends.emittance) != (TYPICAL.contact, TYPICAL.emittance))
        .then(|| cut.network.with(cut.contact[ends.contact], cut.wrap.map(|wraps| wraps[ends.emittance]), emittance));
    let filled = match &changed {
        Some(network) if ends.contact != TYPICAL.contact => network.filled(fill(around.gas.map(|gas| gas.pressure))),
        Some(network) => network.filled_with(cut.gaps(&around)),
        None => cut.network.filled_with(cut.gaps(&around)),
    };
    let start = kept.as_ref().map(|kept| match kept.around == around && kept.ends == ends {
        true => Cow::Borrowed(&kept.start),
        false => Cow::Owned(kept.start.warmer(warmth(&around) - warmth(&kept.around))),
    });
    let settled = filled.settle_from(start.as_deref(), &heating, &around);
    let pulses = settled.as_ref().map_or(Ok(None), |settled| Swings::new(prepared, point, cut, &filled, settled, &heating, &around));
    match settled.and_then(|settled| Ok((settled, pulses?))) {
        Ok((settled, swings)) => {
            let one = |row: usize| {
                let (wire, current) = (cut.wires[row], heating[row].current);
                let conductor = settled.conductor[row] + swings.as_ref().map_or(TemperatureRise(0.0), |swings| swings.above[row]);
                match pulsed(prepared, point, wire) {
                    None => WireHeat { wire, current, peak: current, by: HeatedBy::Steady, conductor },
                    Some((steady, pulses)) => {
                        let peak = peak(steady, &pulses);
                        let carries = |slow: bool| {
                            let is_slow = |at: usize| swings.as_ref().is_some_and(|swings| swings.slow[at]);
                            let mut of = pulses.iter().enumerate().filter(|(at, _)| !slow || is_slow(*at));
                            of.any(|(_, pulse)| crate::pulses::carries(peak.0, pulse.current.0))
                        };
                        let by = match (carries(true), carries(false)) {
                            (true, _) => HeatedBy::Course,
                            (_, true) => HeatedBy::Rms,
                            _ => HeatedBy::Steady,
                        };
                        WireHeat { wire, current, peak, by, conductor }
                    }
                }
            };
            let most = swings.as_ref().map_or(0.0, |swings| swings.above.iter().map(|above| above.0).fold(0.0, f64::max));
            let found = SegmentHeat::Known(Arc::new(SectionHeat {
                wires: (0..cut.wires.len()).map(one).collect(),
                // No surface swings by more than the conductor that swings most.
                skin: settled.skin + TemperatureRise(most),
                film: settled.film.map_or("", |film| film_words(film.by)),
                beyond_range: settled.film.is_some_and(|film| !film.in_range),
                no_gravity,
            }));
            *kept = Some(Kept { around, heating, found: found.clone(), start: settled.start, ends });
            found
        }
        Err(Unsettled::Runaway { row, current }) => {
            SegmentHeat::Runaway { wire: cut.wires[row], current: heating[row].current, from: current }
        }
        Err(Unsettled::NotSettled { row, .. }) => SegmentHeat::Unsettled { wire: cut.wires[row] },
    }
}

/// What surrounds a section and what heats it, as its heat is judged.
pub(crate) struct Balance {
    pub(crate) around: Surroundings,
    pub(crate) heating: Vec<Heating>,
}

/// Surroundings and currents of a section as its heat is judged.
pub(crate) fn balance(prepared: &Prepared, point: &Point, cut: &Cut) -> Result<Balance, HeatLacks> {
    let (side, r20) = sides(point.scenario.corner)[1];
    let (around, _) = surroundings(prepared.design, point, cut, side)?;
    Ok(Balance { around, heating: heating(prepared, point, cut, r20)? })
}

/// Heat that a wire loses per kelvin in a section, its neighbours held: as its heat is judged.
pub(crate) fn lost_per_kelvin(prepared: &Prepared, point: &Point, segment: Id<Segment>, wire: Id<Wire>) -> Option<WattPerMetreKelvin> {
    let cut = prepared.sections().cut(segment)?;
    let row = cut.wires.iter().position(|of| *of == wire)?;
    let Balance { around, heating } = balance(prepared, point, cut).ok()?;
    let filled = filled(cut, &around);
    let settled = filled.settle(&heating, &around).ok()?;
    let one = vec![JoulePerMetreKelvin(1.0); cut.wires.len()];
    Some(WattPerMetreKelvin(1.0 / filled.time_constants(&settled.start, &one, &heating, &around)[row].0))
}

/// A section with what lies between its wires in some surroundings.
pub(crate) fn filled<'c>(cut: &'c Cut, around: &Surroundings) -> Filled<'c> {
    cut.network.filled_with(cut.gaps(around))
}

/// How far pulses take the conductors of a section above the temperatures of their mean heat.
struct Swings {
    /// Of each wire.
    above: Vec<TemperatureRise>,
    /// Of each rhythm, whether its pulses were followed in time.
    slow: Vec<bool>,
}

/// What pulses may move a temperature by before it is asked how fast they are.
const SWING: TemperatureRise = TemperatureRise(0.1);

/// Share of a wire's time constant below which a period is short for it.
///
/// # Source  Computed: in a period of a tenth of the time constant the temperature swings by at most 2.5 % of the rise of the peak.
const SHORT: f64 = 0.1;

impl Swings {
    /// Pulses that are short for every wire add what one of them could at most, if nothing left the conductor meanwhile; the others are followed in time,
    /// through the worst course of each group. `None` where pulses move nothing.
    ///
    /// The metal of the conductor, not its jacket, holds heat, so that swings are on the hot side; and so do coverings whose mass and specific heat are stated.
    fn new(
        prepared: &Prepared,
        point: &Point,
        cut: &Cut,
        filled: &Filled,
        settled: &Settled,
        heating: &[Heating],
        around: &Surroundings,
    ) -> Result<Option<Swings>, Unsettled> {
        let Some(all) = &point.pulses else { return Ok(None) };
        let n = cut.wires.len();
        let flows: Vec<(Ampere, Vec<Pulse>)> = cut.wires.iter().map(|&wire| pulsed(prepared, point, wire).unwrap_or_default()).collect();
        let ohms = |row: usize| joule_heat(Ampere(1.0), heating[row].r20, heating[row].alpha20, settled.conductor[row]).0;
        let mean: Vec<f64> = (0..n).map(|row| heating[row].current.0.powi(2) * ohms(row)).collect();
        let whole: f64 = mean.iter().sum();
        let rise = settled.conductor.iter().map(|t| t.0).fold(0.0, f64::max) - around.coldest().0;
        // Heat that a rhythm adds to a wire while its pulse is there, whichever others are.
        let adds = |row: usize, at: usize| -> f64 {
            let (steady, pulses) = &flows[row];
            let Some(own) = pulses.get(at) else { return 0.0 };
            let met = pulses.iter().enumerate().filter(|(other, pulse)| *other != at && pulse.rhythm.may_meet(&own.rhythm));
            let full = steady.0 + met.map(|(_, pulse)| pulse.current.0).sum::<f64>();
            [steady.0, full].map(|before| own.current.0 * (own.current.0 + 2.0 * before)).into_iter().fold(0.0, |a, b| b.max(a)) * ohms(row)
        };
        let rhythms: Vec<Rhythm> = all.rhythms.iter().map(|(rhythm, _)| *rhythm).collect();
        let matters = |at: usize| {
            let most = (0..n).map(|row| adds(row, at) / mean[row].max(1e-6 * whole)).fold(0.0, f64::max);
            whole > 0.0 && most * rise > SWING.0
        };
        let matters: Vec<bool> = (0..rhythms.len()).map(matters).collect();
        if !matters.contains(&true) {
            return Ok(None);
        }
        let holds = |spec: &WireSpec| match spec.metal() {
            ampacity::Conductor::Copper => COPPER_CAPACITY,
            ampacity::Conductor::Aluminium => ALUMINIUM_CAPACITY,
        };
        let specs = cut.spec.iter().map(|&spec| &prepared.design.wire_specs[spec]);
        let capacity: Vec<JoulePerMetreKelvin> = specs.map(|spec| JoulePerMetreKelvin(spec.area.value.0 * holds(spec))).collect();
        let constants = filled.time_constants(&settled.start, &capacity, heating, around);
        let swing = |row: usize, at: usize| adds(row, at) * rhythms[at].on.0 / capacity[row].0;
        let is_slow =
            |at: usize| matters[at] && (0..n).any(|row| swing(row, at) > SWING.0 && rhythms[at].period.0 >= SHORT * constants[row].0);
        let slow: Vec<bool> = (0..rhythms.len()).map(is_slow).collect();
        let short = |row: usize| {
            let of = (0..rhythms.len()).filter(|at| matters[*at] && !slow[*at]);
            of.map(|at| (1.0 - rhythms[at].duty()) * swing(row, at)).sum::<f64>()
        };
        let mut above: Vec<f64> = vec![0.0; n];
        if slow.contains(&true) {
            let of: Vec<usize> = (0..rhythms.len()).filter(|at| slow[*at]).collect();
            let own: Vec<Rhythm> = of.iter().map(|at| rhythms[*at]).collect();
            let mut last: Vec<Option<u32>> = groups(own.iter().copied()).into_iter().map(Some).collect();
            if last.is_empty() {
                last.push(None);
            }
            for last in last {
                let spells = worst_course(&own, last);
                let heat_in = |spell: &Spell| -> Vec<Heating> {
                    let there: Vec<usize> = of.iter().zip(&spell.on).filter(|(_, on)| **on).map(|(at, _)| *at).collect();
                    let one = |(row, (steady, pulses)): (usize, &(Ampere, Vec<Pulse>))| {
                        let base = steady.0 + there.iter().filter_map(|at| pulses.get(*at)).map(|pulse| pulse.current.0).sum::<f64>();
                        let meets = |pulse: &Pulse| there.iter().all(|at| rhythms[*at].may_meet(&pulse.rhythm));
                        let fast = pulses.iter().enumerate().filter(|(at, pulse)| !slow[*at] && meets(pulse));
                        let fast: Vec<Pulse> = fast.map(|(_, pulse)| *pulse).collect();
                        // A wire without pulses keeps what it has.
                        let current =
                            if pulses.is_empty() { heating[row].current } else { Ampere(mean_square(Ampere(base), &fast).sqrt()) };
                        Heating { current, ..heating[row] }
                    };
                    flows.iter().enumerate().map(one).collect()
                };
                let heats: Vec<Vec<Heating>> = spells.iter().map(heat_in).collect();
                let pattern: Vec<Stretch> =
                    spells.iter().zip(&heats).map(|(spell, heating)| Stretch { heating, lasts: spell.lasts }).collect();
                let course = repeated(filled, &capacity, &pattern, around, FOLLOWED)?;
                for ((above, (_, peak)), mean) in above.iter_mut().zip(&course.peak).zip(&settled.conductor) {
                    *above = above.max(peak.0 - mean.0);
                }
            }
        }
        let above = above.into_iter().enumerate().map(|(row, above)| TemperatureRise(above + short(row))).collect();
        Ok(Some(Swings { above, slow }))
    }
}

/// How well temperatures of pulses are followed.
const FOLLOWED: TemperatureRise = TemperatureRise(0.05);

/// Says of the wires that carry the current of a load whose pauses are not known that its peak heats them.
pub(crate) fn name_peaks(prepared: &Prepared, point: &Point, segments: &mut Column<Segment, SegmentHeat>) {
    let Some(at_peak) = crate::pulses::without_pause(prepared, point) else { return };
    for segment in prepared.design.segments.ids() {
        let SegmentHeat::Known(section) = &mut segments[segment] else { continue };
        if section.wires.iter().any(|row| at_peak[row.wire]) {
            for row in Arc::make_mut(section).wires.iter_mut().filter(|row| at_peak[row.wire]) {
                row.by = HeatedBy::Peak;
            }
        }
    }
}

/// Surroundings that the conductors of a corner's network have, and those that its heat is judged in: whatever the corner, the hottest count.
fn sides(corner: Corner) -> [(Side, Corner); 2] {
    match corner {
        Corner::Low => [(Side::Hottest, Corner::Low); 2],
        Corner::Typical => [(Side::Typical, Corner::Typical); 2],
        Corner::High => [(Side::Coldest, Corner::High), (Side::Hottest, Corner::Low)],
    }
}

/// Where the heat of each section begins: what it came to in the round before, or in another corner of the phase.
#[derive(Clone, Default)]
pub(crate) struct Starts(Vec<Option<Kept>>);

/// Heat of every segment at a point: for its network, or as it is judged.
fn everywhere(prepared: &Prepared, point: &Point, side: (Side, Corner), starts: &mut Starts) -> Column<Segment, SegmentHeat> {
    let sections = prepared.sections();
    starts.0.resize(sections.all.len(), None);
    let each: Vec<SegmentHeat> =
        sections.all.iter().zip(&mut starts.0).map(|(cut, start)| settle(prepared, point, cut, side, TYPICAL, start)).collect();
    sections
        .of
        .iter()
        .map(|(_, of)| match of {
            None => SegmentHeat::Empty,
            Some(Err(lacks)) => SegmentHeat::Lacks(lacks.clone()),
            Some(Ok(row)) => each[*row].clone(),
        })
        .collect()
}

/// What the network takes from the heat: the mean temperature of each conductor along its route. Where heat is not known the ambient stands.
pub(crate) fn for_network(
    prepared: &Prepared,
    point: &Point,
    ambient: Kelvin,
    starts: &mut Starts,
) -> (Column<Segment, SegmentHeat>, Column<Wire, Kelvin>) {
    let heat = everywhere(prepared, point, sides(point.scenario.corner)[0], starts);
    let mean = |(_, stretches): (Id<Wire>, &Vec<Along>)| {
        let (mut length, mut sum) = (0.0, 0.0);
        for stretch in stretches {
            let SegmentHeat::Known(known) = &heat[stretch.segment] else { continue };
            length += stretch.length.0;
            sum += stretch.length.0 * known.wires[stretch.row as usize].conductor.0;
        }
        if length > 0.0 { Kelvin(sum / length) } else { ambient }
    };
    let conductors = prepared.sections().runs.iter().map(mean).collect();
    (heat, conductors)
}

/// Heat as it is judged, from that of the network.
pub(crate) fn as_judged(
    prepared: &Prepared,
    point: &Point,
    network: Column<Segment, SegmentHeat>,
    starts: &mut Starts,
) -> Column<Segment, SegmentHeat> {
    match sides(point.scenario.corner) {
        [own, judged] if own == judged => network,
        [_, judged] => everywhere(prepared, point, judged, starts),
    }
}

impl Prepared<'_> {
    pub(crate) fn sections(&self) -> &Sections {
        self.sections.get_or_init(|| Sections::new(self))
    }

    /// How far the temperatures of a segment's wires may lie to either side, by the stated ranges of contact and emittance, and in gas by another law of
    /// free convection, in the order of [`SectionHeat::wires`]; empty where its heat is not known at one of the ends. Eight balances of heat, in
    /// gas thirteen.
    pub fn heat_ranges(&self, point: &Point, segment: Id<Segment>) -> Vec<HeatRange> {
        let Some(cut) = self.sections().cut(segment) else { return Vec::new() };
        let side = sides(point.scenario.corner)[1];
        let mut kept = None;
        let mut at = |contact: usize, emittance: usize, free: Free| match settle(
            self,
            point,
            cut,
            side,
            Ends { contact, emittance, free },
            &mut kept,
        ) {
            SegmentHeat::Known(known) => Some(known.wires.iter().map(|row| row.conductor.0).collect::<Vec<f64>>()),
            _ => None,
        };
        let has_gas = surroundings(self.design, point, cut, side.0).is_ok_and(|(around, _)| around.gas.is_some());
        let mut all = || -> Option<Vec<HeatRange>> {
            let usual = TYPICAL.free;
            let by_contact = [at(0, 1, usual)?, at(2, 1, usual)?];
            let by_emittance = [at(1, 0, usual)?, at(1, 2, usual)?];
            let by_film = if has_gas { Some([at(1, 1, usual)?, at(1, 1, Free::Morgan)?]) } else { None };
            let mut corners = Vec::new();
            for free in [usual, Free::Morgan].into_iter().take(if has_gas { 2 } else { 1 }) {
                for (contact, emittance) in [(0, 0), (0, 2), (2, 0), (2, 2)] {
                    corners.push(at(contact, emittance, free)?);
                }
            }
            let range = |row: usize| {
                let ends = by_contact.iter().chain(&by_emittance).chain(by_film.iter().flatten()).chain(&corners).map(|end| end[row]);
                let (low, high) = (ends.clone().fold(f64::INFINITY, f64::min), ends.fold(f64::NEG_INFINITY, f64::max));
                let moves = |ends: &[Vec<f64>; 2]| (ends[0][row] - ends[1][row]).abs();
                let named =
                    [("emittance", moves(&by_emittance)), ("contact", moves(&by_contact)), ("film", by_film.as_ref().map_or(0.0, moves))];
                let by = named.into_iter().reduce(|a, b| if b.1 > a.1 { b } else { a }).map_or("", |(by, _)| by);
                HeatRange { low: Kelvin(low), high: Kelvin(high), by }
            };
            Some((0..cut.wires.len()).map(range).collect())
        };
        all().unwrap_or_default()
    }

    /// Current at which a wire's conductor comes to a temperature in a segment, its neighbours as they are; `None` where the heat is not
    /// known or its surroundings alone make it hotter.
    pub fn heat_allowed(&self, point: &Point, segment: Id<Segment>, wire: Id<Wire>, limit: Kelvin) -> Option<Ampere> {
        self.heat_allowed_if(point, segment, wire, limit, None)
    }

    /// The same with one thing taken otherwise than it is.
    pub fn heat_allowed_if(
        &self,
        point: &Point,
        segment: Id<Segment>,
        wire: Id<Wire>,
        limit: Kelvin,
        taken: Option<Taken>,
    ) -> Option<Ampere> {
        let cut = self.sections().cut(segment)?;
        let row = cut.wires.iter().position(|of| *of == wire)?;
        let (side, r20) = sides(point.scenario.corner)[1];
        let (mut around, _) = surroundings(self.design, point, cut, side).ok()?;
        let mut heating = heating(self, point, cut, r20).ok()?;
        match taken {
            None => {}
            Some(Taken::Surroundings(t)) => {
                around.walls = t;
                around.gas = around.gas.map(|gas| Gas { temperature: t, ..gas });
                around.sink = around.sink.map(|sink| Sink { temperature: t, ..sink });
            }
            Some(Taken::NoGas) => around.gas = None,
            Some(Taken::GroundAir) => {
                let still = MetrePerSecond(0.0);
                let temperature = around.gas.map_or(around.walls, |gas| gas.temperature);
                around.gas = Some(Gas { temperature, pressure: SEA_LEVEL, gravity: 1.0, speed: still, wall_distance: None });
            }
            Some(Taken::ColdNeighbours) => {
                heating.iter_mut().enumerate().filter(|(at, _)| *at != row).for_each(|(_, one)| one.current = Ampere(0.0))
            }
        }
        cut.network.filled_with(cut.gaps(&around)).allowed(row, limit, &heating, &around).ok()?
    }

    /// Values that the heat of a segment rests on: its members, coverings, contact, and what its zone states in a phase.
    pub fn heat_notes(&self, phase: Id<Phase>, segment: Id<Segment>) -> Vec<NoteId> {
        let Some(cut) = self.sections().cut(segment) else { return Vec::new() };
        let (climate, row) = (self.design.zones[cut.zone].climate(phase), &self.design.segments[segment]);
        let spreads =
            [climate.gas_temperature, climate.walls, row.sink].into_iter().flatten().flat_map(|spread| spread.notes().collect::<Vec<_>>());
        let single = [
            climate.pressure.and_then(|g| g.note),
            climate.gravity.and_then(|g| g.note),
            climate.air_speed.and_then(|g| g.note),
            climate.wall_distance.and_then(|g| g.note),
            climate.sun.and_then(|g| g.note),
            row.sink_conductance.and_then(|g| g.note),
            row.absorptance.and_then(|g| g.note),
        ];
        let mut notes: Vec<NoteId> = cut.notes.iter().copied().chain(spreads).chain(single.into_iter().flatten()).collect();
        notes.sort_unstable();
        notes.dedup();
        notes
    }
}
