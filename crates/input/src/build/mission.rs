//! The limits profile, phases with their commanded states, dispositions.

use super::end::who;
use super::{Build, requote};
use crate::catalog::How;
use crate::codes;
use crate::names::ELEMENT_KINDS;
use crate::quantity::{self, Quantity};
use crate::value::{Row, Value};
use model::*;
use physics::{Ampere, Kelvin, Metre, Ratio, TemperatureRise, Volt, WattPerMetreKelvin};
use std::collections::HashMap;
use std::sync::Arc;

const USUAL_PROFILE: &str = "space-28v";

/// Fields of the contact between jackets: least, typical, greatest.
const CONTACT: [&str; 3] = ["contact_conductance_low", "contact_conductance", "contact_conductance_high"];

/// A design without rows.
pub(super) fn empty_design(sources: Arc<Sources>) -> Design {
    let nowhere = Span { file: FileId(0), start: 0, end: 0 };
    let zero = Given::firm(Volt(0.0), nowhere);
    Design {
        name: "unnamed".into(),
        revision: String::new(),
        sources,
        sections: Table::default(),
        units: Table::default(),
        inner_nodes: Table::default(),
        connectors: Table::default(),
        pins: Table::default(),
        contacts: Table::default(),
        contact_specs: Table::default(),
        arrangements: Table::default(),
        sheets: Table::default(),
        ports: Table::default(),
        fitted: Table::default(),
        fitted_links: Table::default(),
        splices: Table::default(),
        studs: Table::default(),
        grounds: Table::default(),
        branch_points: Table::default(),
        practice: Practice::default(),
        tie_pitch: None,
        segments: Table::default(),
        clamps: Table::default(),
        coverings: Table::default(),
        neighbours: Table::default(),
        zones: Table::default(),
        heat: HeatData::default(),
        allowances: Allowances { end: Given::firm(Metre(0.0), nowhere), slack: Given::firm(Ratio(0.0), nowhere) },
        wires: Table::default(),
        wire_specs: Table::default(),
        cables: Table::default(),
        straps: Table::default(),
        structure_paths: Table::default(),
        links: Table::default(),
        batteries: Table::default(),
        battery_types: Table::default(),
        protectors: Table::default(),
        device_types: Table::default(),
        switches: Table::default(),
        diodes: Table::default(),
        converters: Table::default(),
        loads: Table::default(),
        sensors: Table::default(),
        receivers: Table::default(),
        excitations: Table::default(),
        circuits: Table::default(),
        functions: Table::default(),
        initiators: Table::default(),
        actions: Table::default(),
        monitors: Table::default(),
        phases: Table::default(),
        assemblies: Table::default(),
        command_inputs: Table::default(),
        separations: Table::default(),
        // The numbers are filled in from the profile of this name; a name nobody has is an error.
        profile: LimitsProfile {
            name: USUAL_PROFILE.into(),
            title: String::new(),
            nominal: zero,
            drop_continuous: zero,
            drop_intermittent: zero,
            volts_min: zero,
            volts_max: zero,
            contact_derating: None,
            bus_min: None,
            bus_max: None,
            wire_current_difference: None,
            classes: Vec::new(),
            apart: Vec::new(),
            fill: None,
            bends: None,
            hole_clearance: None,
            ties_beyond: None,
            clearances: [None; NeighbourKind::ALL.len()],
            ampacity: None,
            protector_chart: None,
            protection: ProtectionLimits::default(),
            energy: EnergyLimits::default(),
            ordnance: OrdnanceLimits::default(),
            bundle_heat_margin: None,
            contact_conductance: [None; 3],
            touch_limit: None,
            sources: Vec::new(),
            left_out: Vec::new(),
            at: nowhere,
        },
        ampacity: None,
        protector_chart: None,
        mass: MassPractice::default(),
        shop: Default::default(),
        dispositions: Vec::new(),
        catalog_sources: Vec::new(),
        notes: Vec::new(),
    }
}

impl Build {
    /// The profile in force: the folder's own of that name, else the shipped one.
    pub(super) fn profile(&mut self, rows: &[Row], catalog_rows: &[Row], unsure: bool) {
        let own: Vec<&Row> = rows.iter().filter(|r| r.table.key == "profile").collect();
        // Catalog files of the folder come before the shipped ones, so the first of a name counts.
        let mut seen: HashMap<&str, &Row> = own.iter().map(|r| (&*r.name, *r)).collect();
        for row in catalog_rows {
            let shipped = self.sources.file(row.at.file).path.starts_with("shipped:");
            match seen.get(&*row.name) {
                Some(first) if !shipped => {
                    let first_at = first.at;
                    self.out.push(
                        Diagnostic::error(codes::TWICE, row.at, "again", format!("profile {} is defined twice", row.name))
                            .note(first_at, "first")
                            .help("give one of the two another id"),
                    );
                }
                Some(_) => {}
                None => {
                    seen.insert(&row.name, row);
                    if !row.broken {
                        crate::document::missing_keys(row, &mut self.out);
                    }
                }
            }
        }
        let (name, at) = (self.design.profile.name.clone(), self.design.profile.at);
        let Some(row) = seen.get(&*name).copied() else {
            if !unsure {
                let mut names: Vec<&str> = own.iter().map(|r| &*r.name).chain(catalog_rows.iter().map(|r| &*r.name)).collect();
                names.dedup();
                let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no profile {name}"));
                diagnostic = match self.out.closest(&name, names.iter().copied()) {
                    Some(meant) => {
                        let with = requote(&self.sources, at, meant);
                        diagnostic.help(format!("did you mean {meant}?")).replace(at, with)
                    }
                    None => diagnostic.help(format!("profiles: {}", names.join(", "))),
                };
                self.out.push(diagnostic);
            }
            return;
        };
        let mut sources = Vec::new();
        let mut limit = |field: &'static str, quantity: Quantity, build: &mut Build| -> Option<Given<f64>> {
            let cell = row.cell(field)?;
            let Value::Limit { value, source, how } = &cell.value else { return None };
            let standing = match How::of(how) {
                How::Firm => None,
                How::Recalled => Some(Standing::Recalled),
                How::Practice => Some(Standing::Assumed),
            };
            let note = standing.map(|standing| {
                build.note(Note {
                    standing,
                    what: format!("{} of profile {}", field.replace('_', " "), row.name),
                    value: quantity::show(*value, quantity),
                    source: source.clone(),
                    at: cell.at,
                    subject: None,
                    field,
                    owner: None,
                    need: None,
                })
            });
            sources.push((field, source.clone()));
            Some(Given { value: *value, at: cell.at, note })
        };
        let bundle_heat_margin = limit("bundle_heat_margin", Quantity::TemperatureRise, self).map(|g| g.map(TemperatureRise));
        let contact_conductance = CONTACT.map(|field| limit(field, Quantity::Conductivity, self).map(|g| g.map(WattPerMetreKelvin)));
        let touch_limit = limit("touch_limit", Quantity::Temperature, self).map(|g| g.map(Kelvin));
        let protection = self.protection_limits(row, &mut limit);
        let mut volts = |field, build: &mut Build| limit(field, Quantity::Voltage, build).map(|g| g.map(Volt));
        let nominal = volts("nominal", self);
        let drop_continuous = volts("drop_continuous", self);
        let drop_intermittent = volts("drop_intermittent", self);
        let volts_min = volts("volts_min", self);
        let volts_max = volts("volts_max", self);
        let bus_min = volts("bus_min", self);
        let bus_max = volts("bus_max", self);
        let mut share = |field, build: &mut Build| limit(field, Quantity::Share, build).map(|g| g.map(Ratio));
        let contact_derating = share("contact_derating", self);
        let wire_current_difference = share("wire_current_difference", self);
        let fill = share("fill", self);
        let energy = EnergyLimits { reserve: share("energy_reserve", self), uncertainty: share("charge_uncertainty", self) };
        let ordnance = OrdnanceLimits {
            firing_margin: share("firing_margin", self),
            stray_share: share("stray_share", self),
            stray_current: limit("stray_current", Quantity::Current, self).map(|g| g.map(Ampere)),
        };
        let mut length = |field, build: &mut Build| limit(field, Quantity::Length, build).map(|g| g.map(Metre));
        let hole_clearance = length("hole_clearance", self);
        let ties_beyond = length("ties_beyond", self);
        let clearances = NeighbourKind::ALL.map(|kind| length(kind.clearance_field(), self));
        let bends = row.text("bends").map(|(name, at)| Given::firm(name.clone(), at));
        let has_classes = rows.iter().any(|r| r.table.key == "circuit" && !r.is_absent("class"));
        let (classes, apart) = self.classes(row, has_classes);
        for (low, low_word, high, high_word) in [(volts_min, "volts_min", volts_max, "volts_max"), (bus_min, "bus_min", bus_max, "bus_max")]
        {
            if let (Some(low), Some(high)) = (low, high)
                && high.value < low.value
            {
                self.out.push(
                    Diagnostic::error(
                        codes::CONTRADICTION,
                        high.at,
                        high_word,
                        format!("profile {}: {high_word} is below {low_word}", row.name),
                    )
                    .note(low.at, low_word)
                    .help("the greatest voltage is not below the least one"),
                );
            }
        }
        for (low, high) in [(0, 1), (1, 2), (0, 2)] {
            if let (Some(least), Some(most)) = (contact_conductance[low], contact_conductance[high])
                && most.value.0 < least.value.0
            {
                let message = format!("profile {}: {} is below {}", row.name, CONTACT[high], CONTACT[low]);
                self.out.push(
                    Diagnostic::error(codes::CONTRADICTION, most.at, CONTACT[high], message)
                        .note(least.at, CONTACT[low])
                        .help("the three are the least, the typical and the greatest conductance"),
                );
            }
        }
        let name_of = |key: &str| row.text(key).map(|(text, at)| Given::firm(text.clone(), at));
        let (ampacity, protector_chart) = (name_of("ampacity"), name_of("protector_chart"));
        let left_out = match row.cell("left_out").map(|c| &c.value) {
            Some(Value::LeftOut(list)) => list.iter().map(|(rule, at, why)| (Given::firm(rule.clone(), *at), why.clone())).collect(),
            _ => Vec::new(),
        };
        let (Some(nominal), Some(drop_continuous), Some(drop_intermittent), Some(volts_min), Some(volts_max)) =
            (nominal, drop_continuous, drop_intermittent, volts_min, volts_max)
        else {
            return;
        };
        self.design.profile = LimitsProfile {
            name,
            title: row.word("title").unwrap_or_default().to_owned(),
            nominal,
            drop_continuous,
            drop_intermittent,
            volts_min,
            volts_max,
            contact_derating,
            bus_min,
            bus_max,
            wire_current_difference,
            classes,
            apart,
            fill,
            bends,
            hole_clearance,
            ties_beyond,
            clearances,
            ampacity,
            protector_chart,
            protection,
            energy,
            ordnance,
            bundle_heat_margin,
            contact_conductance,
            touch_limit,
            sources,
            left_out,
            at: row.at,
        };
        self.profile_known = true;
    }

    pub(super) fn phases(&mut self, rows: &[Row]) {
        const NO_AMBIENT: &str = "no ambient is stated; room temperature is taken";
        const ROOM: [f64; 3] = [293.15; 3];
        for row in rows.iter().filter(|r| r.table.key == "phase") {
            let who = who(row, Subject::Phase(Id::from_row(self.design.phases.len())));
            let duration = self.number(row, "duration", &who);
            let ambient = self.spread_or(row, "ambient", &who, Quantity::Temperature, ROOM, NO_AMBIENT);
            let altitude = self.number(row, "altitude", &who);
            let states = self.states(row);
            let fitted = self.fitted_in(row);
            let together = self.together(row);
            let starts = self.number(row, "starts", &who);
            self.design.phases.push(Phase {
                name: row.name.clone(),
                starts,
                duration,
                ambient,
                altitude,
                states,
                fitted,
                together,
                programme: Vec::new(),
                implied: false,
                at: row.at,
            });
        }
        if self.design.phases.is_empty() {
            let at = self.design.profile.at;
            let first = self.sources.files().next().map(|(file, _)| Span { file, start: 0, end: 0 }).unwrap_or(at);
            let name: Name = "steady".into();
            let who = super::Who { subject: Subject::Phase(Id::from_row(0)), kind: "phase", name: name.clone(), at: first };
            let ambient = self.assumed_spread(&who, "ambient", Quantity::Temperature, ROOM, NO_AMBIENT);
            self.design.phases.push(Phase {
                name,
                starts: None,
                duration: None,
                ambient,
                altitude: None,
                states: Vec::new(),
                fitted: Vec::new(),
                programme: Vec::new(),
                together: Vec::new(),
                implied: true,
                at: first,
            });
        }
    }

    /// Groups of loads that pulse; each load in one of them at most.
    fn together(&mut self, row: &Row) -> Vec<Vec<Given<Id<Load>>>> {
        let mut first: HashMap<Id<Load>, Span> = HashMap::new();
        let mut groups = Vec::new();
        for group in row.groups("together").to_vec() {
            let mut loads = Vec::new();
            for (at, name) in group {
                let Some(load) = self.reference_to(&name, at, "load").map(|found| found.map(Id::<Load>::from_row)) else { continue };
                if let Some(before) = first.insert(load.value, at) {
                    self.out.push(
                        Diagnostic::error(codes::TWICE, at, "again", format!("load {name} stands in {} twice under together", row.words()))
                            .note(before, "first")
                            .help("a load belongs to one group; one that may draw with any of them stands in none"),
                    );
                    continue;
                }
                if let Some((_, known)) = self.design.loads.iter().find(|(_, known)| known.name == name)
                    && (known.on_time.is_none() || known.period.is_none())
                {
                    let at_load = known.at;
                    self.out.push(
                        Diagnostic::error(codes::NO_EFFECT, at, "", format!("load {name} has no pulses that could be told apart"))
                            .note(at_load, "declared here")
                            .help("give it on_time and period, or leave it out of the group"),
                    );
                    continue;
                }
                loads.push(load);
            }
            groups.push(loads);
        }
        groups
    }

    pub(super) fn states(&mut self, row: &Row) -> Vec<Given<(ElementId, Commanded)>> {
        let mut listed: Vec<(Span, Name, &'static str)> = Vec::new();
        for key in ["open", "closed", "on", "off"] {
            listed.extend(row.list(key).iter().map(|(at, words)| (*at, words.clone(), key)));
        }
        listed.sort_by_key(|(at, ..)| (at.file, at.start));
        let mut states: Vec<Given<(ElementId, Commanded)>> = Vec::new();
        let mut first: HashMap<ElementId, (Commanded, Span)> = HashMap::new();
        for (at, words, key) in listed {
            let Some((element, kind)) = self.element_of(&words, at) else { continue };
            let switched = matches!(element, ElementId::Switch(_) | ElementId::Protector(_));
            let powered = matches!(element, ElementId::Load(_) | ElementId::Source(_) | ElementId::Converter(_));
            let fits = if matches!(key, "open" | "closed") { switched } else { powered };
            if !fits {
                let diagnostic = Diagnostic::error(codes::BAD_STATE, at, "", format!("a {kind} is not {key}"));
                self.out.push(match (switched, powered) {
                    (true, _) => diagnostic.help(format!("a {kind} is open or closed")),
                    (_, true) => diagnostic.help(format!("a {kind} is on or off")),
                    _ => diagnostic
                        .help("switches, relays, ties, breakers, fuses, limiters, loads, batteries, supplies and converters are commanded"),
                });
                continue;
            }
            let commanded = if matches!(key, "closed" | "on") { Commanded::On } else { Commanded::Off };
            match first.get(&element) {
                Some((before, before_at)) => {
                    let message = if *before == commanded {
                        format!("{words} is commanded twice in {}", row.words())
                    } else {
                        format!("{words} is commanded both ways in {}", row.words())
                    };
                    self.out
                        .push(Diagnostic::error(codes::BAD_STATE, at, "", message).note(*before_at, "first").help("keep one of the two"));
                }
                None => {
                    first.insert(element, (commanded, at));
                    states.push(Given::firm((element, commanded), at));
                }
            }
        }
        states
    }

    /// The element that `kind:name` names, and its kind.
    pub(super) fn element_of(&mut self, words: &str, at: Span) -> Option<(ElementId, &'static str)> {
        let Some((kind, name)) = words.split_once(':') else {
            let mut diagnostic = Diagnostic::error(codes::BAD_STATE, at, "", format!("{words:?} does not name an element"));
            let kinds: Vec<&str> = self.names.kinds_of(words).into_iter().filter(|k| ELEMENT_KINDS.contains(k)).collect();
            diagnostic = match kinds[..] {
                [kind] => {
                    diagnostic.help(format!("write {kind}:{words}")).replace(at, requote(&self.sources, at, &format!("{kind}:{words}")))
                }
                _ => diagnostic.help("write kind:name, for example switch:S1"),
            };
            self.out.push(diagnostic);
            return None;
        };
        let Some(known) = ELEMENT_KINDS.into_iter().find(|k| *k == kind) else {
            let mut diagnostic = Diagnostic::error(codes::BAD_STATE, at, "", format!("{kind:?} is not a kind of element"));
            diagnostic = match self.out.closest(kind, ELEMENT_KINDS.into_iter()) {
                Some(meant) => {
                    let with = requote(&self.sources, at, &format!("{meant}:{name}"));
                    diagnostic.help(format!("did you mean {meant}:{name}?")).replace(at, with)
                }
                None => diagnostic.help(format!("kinds: {}", ELEMENT_KINDS.join(", "))),
            };
            self.out.push(diagnostic);
            return None;
        };
        let Some(found) = self.names.find(known, name) else {
            let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no {known} {name}"));
            let elsewhere = self.names.kinds_of(name).into_iter().find(|k| ELEMENT_KINDS.contains(k));
            if let Some(other) = elsewhere {
                let with = requote(&self.sources, at, &format!("{other}:{name}"));
                diagnostic = diagnostic.help(format!("{name} is a {other}: write {other}:{name}")).replace(at, with);
            } else if let Some(meant) = self.names.closest(known, name, &mut self.out) {
                let with = requote(&self.sources, at, &format!("{known}:{meant}"));
                diagnostic = diagnostic.help(format!("did you mean {known}:{meant}?")).replace(at, with);
            }
            self.out.push(diagnostic);
            return None;
        };
        let row = found.row;
        let element = match known {
            "battery" | "supply" => ElementId::Source(Id::from_row(row)),
            "breaker" | "fuse" | "limiter" => ElementId::Protector(Id::from_row(row)),
            "switch" | "relay" | "tie" => ElementId::Switch(Id::from_row(row)),
            "diode" => ElementId::Diode(Id::from_row(row)),
            "converter" => ElementId::Converter(Id::from_row(row)),
            "load" => ElementId::Load(Id::from_row(row)),
            "sensor" => ElementId::Sensor(Id::from_row(row)),
            "receiver" => ElementId::Receiver(Id::from_row(row)),
            "excitation" => ElementId::Excitation(Id::from_row(row)),
            _ => ElementId::Link(Id::from_row(row)),
        };
        Some((element, known))
    }

    pub(super) fn dispositions(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "disposition" && !r.broken) {
            let action = match row.word("action") {
                Some("accept") => DispositionAction::Accept,
                Some("fix-by") => DispositionAction::FixBy,
                Some("not-applicable") => DispositionAction::NotApplicable,
                _ => continue,
            };
            self.once_each(row, "phases");
            let mut phases = Vec::new();
            for (at, name) in row.list("phases").to_vec() {
                if let Some(found) = self.reference_to(&name, at, "phase") {
                    phases.push(found.map(Id::from_row));
                }
            }
            let text = |key: &str| row.text(key).map(|(text, at)| Given::firm(text.clone(), at));
            let worst = row.cell("worst").and_then(|c| match c.value {
                Value::Plain(number) => Some(Given::firm(number, c.at)),
                _ => None,
            });
            let expiry = text("expiry");
            if action == DispositionAction::FixBy && row.is_absent("expiry") {
                self.out.push(
                    Diagnostic::error(codes::MISSING_KEY, row.at, "", format!("{} is to be fixed, but by no date", row.words()))
                        .help("add expiry = \"YYYY-MM-DD\", the last day it may stand"),
                );
            }
            let (Some(reason), Some(authority), Some(date)) = (text("reason"), text("authority"), text("date")) else { continue };
            if let Some(expiry) = &expiry
                && expiry.value < date.value
            {
                self.out.push(
                    Diagnostic::error(
                        codes::CONTRADICTION,
                        expiry.at,
                        "expiry",
                        format!("{}: it ends on {}, before its date {}", row.words(), expiry.value, date.value),
                    )
                    .note(date.at, "date")
                    .help("the last day it holds is not before the day it was decided"),
                );
            }
            self.design.dispositions.push(Disposition {
                finding: Given::firm(row.name.clone(), row.at),
                action,
                reason,
                authority,
                date,
                phases,
                worst,
                expiry,
                at: row.at,
            });
        }
    }
}
