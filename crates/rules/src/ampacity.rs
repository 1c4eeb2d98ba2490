//! What the tables of the profile let a wire carry in its bundle, and what it carries.
//!
//! Much may not be known of a wire: its bundle, the currents of its neighbours, the altitude, the rating of its insulation. Each of these
//! is then taken twice, as kind and as harsh as it can be. What fails with the kind values fails whatever they are; what passes with the harsh
//! ones passes; between the two a wire is not judged, and what would decide it is named.

use crate::case::{Case, Missing};
use model::*;
use physics::ampacity::{
    AircraftTables, Conductor, InAir, InVacuum, JudgedBy, OutOfTable, ShortTable, SpaceTable, Word, aircraft_current, short_current,
    space_bundle_factor, space_current,
};
use physics::{Ampere, Kelvin, Metre, Ratio};

/// Rating of the best insulation made for wire: what is taken where none is stated and the kind answer is asked for.
///
/// # Source  Nickel-coated conductors in polyimide or PTFE, 260 °C (from memory).
const BEST_RATING: Kelvin = Kelvin::from_celsius(260.0);

/// Where the wires that were counted are known from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bundle {
    /// They lie in this segment, of its route the one that lets it carry least.
    Segment(Id<Segment>),
    /// As the wire list states it.
    Stated,
    /// Nothing says: between the wire alone and all wires of the vehicle together.
    Unknown,
}

/// Wires that count for a wire's current, and how many of them are loaded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Wires of the bundle, itself included.
    pub wires: u32,
    /// Mean over those wires of current over what each may carry alone; `None` where it is not known and the tables do not ask for it.
    pub loaded: Option<f64>,
}

/// What a wire may carry among so many others, and how that comes about.
#[derive(Clone, Debug, PartialEq)]
pub struct Allowed {
    /// Where that is known from.
    pub bundle: Bundle,
    /// What was counted.
    pub counted: Counted,
    /// The table's current of a single wire.
    pub single: Ampere,
    /// Factors on it, each with a word.
    pub factors: Vec<(&'static str, f64)>,
    /// What the factors give, where another figure stands beside it.
    pub formula: Option<Ampere>,
    /// The table's own current for bundles, where it has one and its conditions hold.
    pub table: Option<Ampere>,
    /// What is judged.
    pub allowed: Ampere,
    /// Which figure that is: `formula`, `table` or `single`.
    pub by: &'static str,
    /// Hottest that the rule set lets the conductor get.
    pub conductor_max: Option<Kelvin>,
    /// Where a value was carried beyond its table.
    pub words: Vec<Word>,
}

/// A wire's current at a point against what it may carry.
#[derive(Clone, Debug)]
pub struct WireAmpacity {
    /// Size of its current.
    pub current: Ampere,
    /// Whether the wire list states it, since the wire leads to nothing that is modelled.
    pub is_stated: bool,
    /// A wire of its bundle whose current is not known, if there is one.
    unknown_beside: Option<Id<Wire>>,
    /// With what is not known taken as kind as it can be.
    pub kind: Allowed,
    /// With what is not known taken as harsh as it can be; else what is missing for that, and why.
    pub harsh: Result<Allowed, (String, String)>,
}

impl WireAmpacity {
    /// What the current is held against: what it passes for certain or fails for certain.
    ///
    /// # Errors  It lies between the two: the field that would decide, and why.
    pub fn judged(&self, design: &Design) -> Result<&Allowed, (String, String)> {
        let passes = |allowed: &Allowed| crate::passes(self.current.0, allowed.allowed.0, Bound::AtMost);
        match &self.harsh {
            _ if !passes(&self.kind) => Ok(&self.kind),
            Ok(harsh) if passes(harsh) => Ok(harsh),
            Err(missing) => Err(missing.clone()),
            Ok(harsh) => {
                let between = format!(
                    "{} A lies between what it may carry among {}, {} A, and {}, {} A",
                    round(self.current.0),
                    words_of(&harsh.counted),
                    round(harsh.allowed.0),
                    words_of(&self.kind.counted),
                    round(self.kind.allowed.0)
                );
                Err(match (harsh.bundle, self.unknown_beside) {
                    (Bundle::Unknown, _) => ("bundle_wires".to_owned(), format!("nothing says how many wires it runs with: {between}")),
                    (Bundle::Segment(segment), Some(wire)) => {
                        let (segment, wire) = (&design.segments[segment].name, &design.wires[wire].name);
                        (
                            format!("current of wire:{wire}"),
                            format!("nothing says what wire {wire} beside it in segment {segment} carries: {between}"),
                        )
                    }
                    _ => ("bundle_loaded".to_owned(), format!("nothing says how many wires of its bundle are loaded: {between}")),
                })
            }
        }
    }

    /// How a limit comes about, in words.
    pub fn words(&self, design: &Design, allowed: &Allowed) -> String {
        let mut text = match allowed.bundle {
            Bundle::Segment(segment) => format!("in segment {}: {}", design.segments[segment].name, words_of(&allowed.counted)),
            Bundle::Stated => format!("in its bundle: {}", words_of(&allowed.counted)),
            Bundle::Unknown if allowed.counted.wires == 1 => "even alone".to_owned(),
            Bundle::Unknown => format!("even in one bundle of {}", words_of(&allowed.counted)),
        };
        text.push_str(&format!(": {} A alone", round(allowed.single.0)));
        for (word, factor) in &allowed.factors {
            text.push_str(&format!(" × {} {word}", round(*factor)));
        }
        match (allowed.formula, allowed.table) {
            (Some(formula), Some(table)) => {
                text.push_str(&format!(" = {} A, the table says {} A: the {} is judged", round(formula.0), round(table.0), allowed.by));
            }
            _ if allowed.by == "table" => text.push_str(": the table of large bundles is judged"),
            _ => {}
        }
        text
    }
}

fn words_of(counted: &Counted) -> String {
    match (counted.wires, counted.loaded) {
        (1, _) => "no other wire".to_owned(),
        (wires, Some(loaded)) => format!("{wires} wires, loaded to {} %", round(100.0 * loaded)),
        (wires, None) => format!("{wires} wires"),
    }
}

/// Three digits, as a person would write them.
fn round(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = 10f64.powf(2.0 - value.abs().log10().floor());
    (value * scale).round() / scale
}

/// The wires of a vehicle in one state, as their tables see them.
pub struct WireCurrents {
    /// Current of each wire; `None` where it is not known.
    current: Vec<Option<f64>>,
    /// Whether the list states it.
    is_stated: Vec<bool>,
    /// How much of what they may carry alone the most loaded wires carry: of so many of them the sum, from none on.
    most_loaded: Vec<f64>,
    /// The bundle, out of any of the vehicle's wires, in which a wire may carry least.
    all: Counted,
    /// Of each segment what is counted in it, as kind and as harsh as it can be, and a wire whose current is not known.
    segments: Vec<Counts>,
    surroundings: Given<Kelvin>,
    altitude: Option<Given<Metre>>,
}

/// What is counted in a segment.
struct Counts {
    kind: Counted,
    harsh: Counted,
    /// Factors of the bundle for both; the lesser one lets a wire carry less.
    factors: [f64; 2],
    unknown: Option<Id<Wire>>,
}

impl WireCurrents {
    /// At a point: O(wires), and O(n log n) in them where a bundle is not known.
    pub fn new(case: &Case, point: &Point) -> WireCurrents {
        let leads = case.prepared.leads_to_elements();
        let design = case.design;
        let phase = &design.phases[point.scenario.phase];
        let mut found = WireCurrents {
            current: Vec::new(),
            is_stated: Vec::new(),
            most_loaded: Vec::new(),
            all: ALONE,
            segments: Vec::new(),
            // Volts and surroundings are not tied: whatever the corner, the hottest counts.
            surroundings: phase.ambient.high,
            altitude: phase.altitude,
        };
        for (id, wire) in design.wires.iter() {
            let element = ElementId::Wire(id);
            let is_stowed = wire.from.value == End::Stowed || wire.to.value == End::Stowed;
            let current = match leads[id] {
                _ if is_stowed => Some(0.0),
                false => wire.current.map(|current| current.value.0),
                // Only its own resistance is looked at: what else is unknown on its way is said where it is judged itself.
                true if case.has_open() && case.prepared.ohms(&point.scenario, element).is_none() => None,
                true => match case.current(point, element) {
                    None => Some(0.0),
                    Some(current) => current.ok().map(f64::abs),
                },
            };
            found.current.push(current);
            found.is_stated.push(!leads[id] && !is_stowed);
        }
        if case.design.ampacity.is_some() {
            found.most_loaded = found.sums(case);
            found.all = found.all_together(case);
            found.segments = design.segments.ids().map(|segment| found.counted_in(case, segment)).collect();
        }
        found
    }

    fn counted_in(&self, case: &Case, segment: Id<Segment>) -> Counts {
        let members = case.prepared.layout().members(segment);
        let (mut known, mut unknown_wires, mut unknown) = (0.0, 0.0, None);
        for &wire in members {
            match self.used(case, wire) {
                Some(used) => known += used,
                None => {
                    unknown_wires += 1.0;
                    unknown = unknown.or(Some(wire));
                }
            }
        }
        let wires = members.len().max(1) as u32;
        let of = |loaded: f64| Counted { wires, loaded: Some(share(loaded / f64::from(wires))) };
        let (kind, harsh) = (of(known), of(known + unknown_wires));
        let factor = |counted: &Counted| match case.design.ampacity.as_ref().map(|ampacity| &ampacity.tables) {
            // What lies outside the table is told when it is judged.
            Some(AmpacityTables::Air { long, .. }) => {
                long.bundle.of(wires, Ratio(counted.loaded.unwrap_or(1.0))).map_or(0.0, |factor| factor.0)
            }
            _ => space_bundle_factor(wires).0,
        };
        Counts { kind, harsh, factors: [factor(&kind), factor(&harsh)], unknown }
    }

    /// Of a wire's route the segments that let it carry least, with what is not known taken kindly and harshly.
    fn least(&self, case: &Case, id: Id<Wire>) -> Option<[Id<Segment>; 2]> {
        let run = case.prepared.layout().run(id)?;
        let least = |which: usize| {
            let factor = |segment: &Id<Segment>| self.segments[segment.row()].factors[which];
            // Of the full bundles in vacuum, which all have one factor, the largest.
            let by = |a: &Id<Segment>, b: &Id<Segment>| {
                let wires = |segment: &Id<Segment>| self.segments[segment.row()].kind.wires;
                factor(a).total_cmp(&factor(b)).then(wires(b).cmp(&wires(a)))
            };
            run.segments.iter().copied().min_by(|a, b| by(a, b))
        };
        Some([least(0)?, least(1)?])
    }

    fn sums(&self, case: &Case) -> Vec<f64> {
        let mut used: Vec<f64> = case.design.wires.ids().map(|id| self.used(case, id).unwrap_or(1.0)).collect();
        used.sort_by(|a, b| b.total_cmp(a));
        let mut sum = 0.0;
        let sums = used.into_iter().map(|used| {
            sum += used;
            sum
        });
        std::iter::once(0.0).chain(sums).collect()
    }

    /// The most loaded wires together, so many of them that the factor is least.
    fn all_together(&self, case: &Case) -> Counted {
        let wires = case.design.wires.len().max(1) as u32;
        let whole = Counted { wires, loaded: None };
        let Some(Ampacity { tables: AmpacityTables::Air { long, .. }, .. }) = &case.design.ampacity else { return whole };
        let mut least: Option<(Ratio, Counted)> = None;
        for (wires, sum) in (0u32..).zip(&self.most_loaded).skip(1) {
            let loaded = share(sum / f64::from(wires));
            let Ok(factor) = long.bundle.of(wires, Ratio(loaded)) else { return Counted { wires, loaded: Some(1.0) } };
            if least.is_none_or(|(known, _)| factor < known) {
                least = Some((factor, Counted { wires, loaded: Some(loaded) }));
            }
        }
        least.map_or(whole, |(_, counted)| counted)
    }

    /// Share of what a wire may carry alone that it does carry, at most 1; `None` where one of the two is not known.
    fn used(&self, case: &Case, id: Id<Wire>) -> Option<f64> {
        let current = self.current[id.row()]?;
        if current == 0.0 {
            return Some(0.0);
        }
        let wire = &case.design.wires[id];
        let spec = &case.design.wire_specs[wire.spec?.value];
        let altitude = self.altitude.map_or(Metre(0.0), |altitude| altitude.value);
        let alone = self.allowed(case, spec, spec.rating?.value, altitude, (Bundle::Unknown, ALONE)).ok()?;
        Some((current / alone.allowed.0).min(1.0))
    }

    /// A wire's current against what it may carry; `None` where no current can flow in it in this state.
    ///
    /// # Errors  What is missing, and why.
    pub fn of(&self, case: &Case, point: &Point, id: Id<Wire>) -> Option<Result<WireAmpacity, (String, String)>> {
        self.found(case, point, id).map(|found| found.map_err(|missing| (missing.field, missing.why)))
    }

    pub(crate) fn found(&self, case: &Case, point: &Point, id: Id<Wire>) -> Option<Result<WireAmpacity, Missing>> {
        let design = case.design;
        let wire = &design.wires[id];
        let element = ElementId::Wire(id);
        if wire.from.value == End::Stowed || wire.to.value == End::Stowed {
            return None;
        }
        let is_stated = self.is_stated[id.row()];
        let current = match is_stated {
            true => match wire.current {
                Some(current) => Ok(current.value.0),
                None => Err(Missing::new("current", "it leads to no modelled element and states no current")),
            },
            false => case.current(point, element)?.and_then(|current| case.unknown_on_way(point, element).map_or(Ok(current.abs()), Err)),
        };
        Some(current.and_then(|current| self.held_against(case, point, id, Ampere(current), is_stated)))
    }

    fn held_against(&self, case: &Case, point: &Point, id: Id<Wire>, current: Ampere, is_stated: bool) -> Result<WireAmpacity, Missing> {
        let design = case.design;
        let wire = &design.wires[id];
        let phase = &design.phases[point.scenario.phase];
        let Some(tables) = &design.ampacity else {
            return Err(Missing::new("ampacity", "the limits profile names no tables of wire current"));
        };
        let Some(spec_given) = wire.spec else { return Err(Missing::new("gauge", "its gauge is TBD")) };
        let spec = &design.wire_specs[spec_given.value];
        let in_air = matches!(tables.tables, AmpacityTables::Air { .. });
        let mut unknown_beside = None;
        let [kind_of, harsh_of] = match (self.least(case, id), wire.bundle_wires) {
            (Some([kind, harsh]), _) => {
                unknown_beside = self.segments[harsh.row()].unknown;
                [(Bundle::Segment(kind), self.segments[kind.row()].kind), (Bundle::Segment(harsh), self.segments[harsh.row()].harsh)]
            }
            (None, Some(Given { value: wires, .. })) => match wire.bundle_loaded {
                Some(loaded) => [(Bundle::Stated, Counted { wires, loaded: Some(loaded.value.0) }); 2],
                None if !in_air => [(Bundle::Stated, Counted { wires, loaded: None }); 2],
                None => {
                    // Which wires its neighbours are is not known: they may be idle, or the most loaded ones of the vehicle.
                    let own = self.used(case, id).unwrap_or(1.0);
                    let most = |wires: u32| self.most_loaded.get(wires as usize).or(self.most_loaded.last()).copied().unwrap_or(0.0);
                    // If it is among the most loaded itself, one more of them can be beside it.
                    let others = (most(wires) - own).min(most(wires - 1));
                    let of = |sum: f64| (Bundle::Stated, Counted { wires, loaded: Some(share(sum / f64::from(wires))) });
                    [of(own), of(own + others)]
                }
            },
            (None, None) => [(Bundle::Unknown, ALONE), (Bundle::Unknown, self.all)],
        };
        let altitude = self.altitude.map(|altitude| altitude.value);
        let outside = |why: OutOfTable| outside(why, spec, phase);
        let kind = {
            let rating = spec.rating.map_or(BEST_RATING, |rating| rating.value);
            self.allowed(case, spec, rating, altitude.unwrap_or(Metre(0.0)), kind_of).map_err(outside)?
        };
        let harsh = match (spec.rating, altitude) {
            (None, _) => Err(no_rating(design, spec_given)),
            (_, None) if in_air => {
                Err(Missing::new(format!("altitude of phase:{}", phase.name), format!("phase {} does not state its altitude", phase.name)))
            }
            (Some(rating), altitude) => self.allowed(case, spec, rating.value, altitude.unwrap_or(Metre(0.0)), harsh_of).map_err(outside),
        };
        Ok(WireAmpacity { current, is_stated, unknown_beside, kind, harsh: harsh.map_err(|missing| (missing.field, missing.why)) })
    }

    fn allowed(
        &self,
        case: &Case,
        spec: &WireSpec,
        rating: Kelvin,
        altitude: Metre,
        (bundle, counted): (Bundle, Counted),
    ) -> Result<Allowed, OutOfTable> {
        let Some(tables) = &case.design.ampacity else { return Err(OutOfTable::NoBundle) };
        let mut allowed = match &tables.tables {
            AmpacityTables::Air { long, short } => {
                let wire = InAir {
                    gauge: spec.gauge,
                    rating,
                    ambient: self.surroundings.value,
                    wires: counted.wires,
                    loaded: Ratio(counted.loaded.unwrap_or(1.0)),
                    altitude,
                };
                in_air(long, short.as_ref(), spec, &wire)?
            }
            AmpacityTables::Vacuum(table) => {
                let wire = InVacuum {
                    conductor: spec.metal(),
                    gauge: spec.gauge,
                    rating,
                    surroundings: self.surroundings.value,
                    wires: counted.wires,
                };
                in_vacuum(table, &wire)?
            }
        };
        (allowed.bundle, allowed.counted) = (bundle, counted);
        // The same heat in a metal that conducts less comes from less current, I² over conductivity. Aluminium has rows of its own.
        let conductivity = spec.conductivity.value.0;
        if spec.metal() == Conductor::Copper && conductivity < 1.0 {
            let factor = conductivity.sqrt();
            allowed.factors.push(("conductivity", factor));
            for current in [allowed.formula.as_mut(), allowed.table.as_mut(), Some(&mut allowed.allowed)].into_iter().flatten() {
                *current = *current * factor;
            }
        }
        Ok(allowed)
    }

    /// What the current of a wire in its bundle rests on, apart from the network.
    pub(crate) fn notes(&self, design: &Design, id: Id<Wire>) -> Vec<NoteId> {
        let wire = &design.wires[id];
        let mut notes: Vec<NoteId> = [
            self.surroundings.note,
            self.altitude.and_then(|altitude| altitude.note),
            wire.bundle_wires.and_then(|given| given.note),
            wire.bundle_loaded.and_then(|given| given.note),
        ]
        .into_iter()
        .flatten()
        .collect();
        let Some(given) = wire.spec else { return notes };
        let spec = &design.wire_specs[given.value];
        notes.extend(given.note);
        notes.extend(spec.rating.and_then(|rating| rating.note));
        notes.extend((spec.conductivity.value.0 < 1.0).then_some(spec.conductivity.note).flatten());
        if let Some(tables) = &design.ampacity {
            notes.extend(tables.notes_of(spec.metal(), spec.gauge));
        }
        notes
    }
}

/// A wire by itself.
const ALONE: Counted = Counted { wires: 1, loaded: Some(1.0) };

/// A share that tables take: above none, at most all.
fn share(of: f64) -> f64 {
    of.clamp(1e-6, 1.0)
}

fn in_air(long: &AircraftTables, short: Option<&ShortTable>, spec: &WireSpec, wire: &InAir) -> Result<Allowed, OutOfTable> {
    if spec.metal() != Conductor::Copper {
        // The table of single wires is for copper. A wire alone is no bundle of which more than the short table's share could be loaded.
        let table = short.ok_or(OutOfTable::Gauge(wire.gauge))?;
        let loaded = if wire.wires == 1 { table.loaded } else { wire.loaded };
        let (current, word) = short_current(table, spec.metal(), &InAir { loaded, ..*wire })?;
        let words = word.into_iter().collect();
        return Ok(Allowed { single: current, table: Some(current), allowed: current, by: "table", words, ..blank() });
    }
    let beside = short.and_then(|table| short_current(table, spec.metal(), wire).ok());
    match aircraft_current(long, wire) {
        Ok(found) => Ok(Allowed {
            single: found.free_air,
            factors: vec![("bundle", found.bundle.0), ("altitude", found.altitude.0)],
            formula: Some(found.allowed),
            table: beside.map(|(current, _)| current),
            allowed: found.allowed,
            by: if wire.wires > 1 { "formula" } else { "single" },
            words: found.words,
            ..blank()
        }),
        // As hot as its insulation may get: it may carry nothing.
        Err(OutOfTable::NoRise) => Ok(blank()),
        Err(outside) => Err(outside),
    }
}

fn in_vacuum(table: &SpaceTable, wire: &InVacuum) -> Result<Allowed, OutOfTable> {
    let found = space_current(table, wire)?;
    let mut factors = Vec::new();
    if !table.ratings.is_empty() {
        factors.push(("insulation", found.rating.0));
    }
    if wire.wires > 1 {
        factors.push(("bundle", space_bundle_factor(wire.wires).0));
    }
    Ok(Allowed {
        single: found.single * (1.0 / found.rating.0),
        factors,
        formula: found.formula,
        table: found.table,
        allowed: found.allowed,
        by: match found.by {
            JudgedBy::Single => "single",
            JudgedBy::Formula => "formula",
            JudgedBy::Table => "table",
        },
        conductor_max: found.conductor_max,
        words: found.words,
        ..blank()
    })
}

/// A wire that may carry nothing.
fn blank() -> Allowed {
    Allowed {
        bundle: Bundle::Unknown,
        counted: ALONE,
        single: Ampere(0.0),
        factors: Vec::new(),
        formula: None,
        table: None,
        allowed: Ampere(0.0),
        by: "single",
        conductor_max: None,
        words: Vec::new(),
    }
}

/// What lies outside the tables, as what is missing.
fn outside(why: OutOfTable, spec: &WireSpec, phase: &Phase) -> Missing {
    let ambient = || format!("ambient of phase:{}", phase.name);
    let degrees = |of: Kelvin| format!("{:.0} °C", of.celsius());
    let rating = || spec.rating.map_or(String::new(), |rating| degrees(rating.value));
    match why {
        OutOfTable::Gauge(gauge) => Missing::new("gauge", format!("the tables have no current of {} {gauge} AWG", spec.metal().word())),
        OutOfTable::NoRise => Missing::new(ambient(), format!("phase {} is as hot as its insulation may get, {}", phase.name, rating())),
        OutOfTable::RiseBelow { least } => Missing::new(
            ambient(),
            format!("its insulation, rated {}, is less than {} K above phase {}, where the table begins", rating(), least.0, phase.name),
        ),
        OutOfTable::SurroundingsAbove { most } => {
            Missing::new(ambient(), format!("phase {} is hotter than the {} that the tables are for", phase.name, degrees(most)))
        }
        OutOfTable::AltitudeAbove { most } => Missing::new(
            format!("altitude of phase:{}", phase.name),
            format!("phase {} is higher than the {:.0} m where the table ends", phase.name, most.0),
        ),
        OutOfTable::RatingBelow { least } => {
            Missing::new("rating", format!("its insulation is rated {}, and the table begins at {}", rating(), degrees(least)))
        }
        OutOfTable::LoadAbove { most } => {
            Missing::new("bundle_loaded", format!("the table is for bundles of which at most {} % is loaded", round(100.0 * most.0)))
        }
        OutOfTable::NoBundle => Missing::new("bundle_wires", "a bundle of no wire"),
    }
}

/// Why no rating is known. Where the list gives no type, one of bare conductor tables is assumed, which says nothing of insulation.
fn no_rating(design: &Design, spec: Given<Id<WireSpec>>) -> Missing {
    let row = &design.wire_specs[spec.value];
    match spec.note.is_some_and(|note| design.note(note).standing == Standing::Assumed) {
        true => Missing::new("type", format!("its type is not stated, and the assumed {} has no rated temperature", row.kind)),
        false => Missing::new("rating", format!("the rated temperature of wire type {} is not known", row.kind)),
    }
}
