//! Zones, what differs in phases, and the catalog data for heat of a vehicle that has zones.

use super::end::who;
use super::{Build, Who};
use crate::catalog::{Ampacities, Gathered, How, Insulates, Item};
use crate::codes;
use crate::quantity::{self, Quantity};
use crate::value::{Row, Value};
use model::*;
use physics::*;
use std::collections::HashMap;

/// Fields of a climate that a row may state.
const FIELDS: [&str; 8] = ["pressure", "gas_temperature", "gravity", "air_speed", "fan", "walls", "wall_distance", "sun"];

impl Build {
    /// Zones and climates; phases and loads are known.
    pub(super) fn zones(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "zone") {
            let who = who(row, Subject::Zone(Id::from_row(self.design.zones.len())));
            let usual = self.climate(row, &who);
            self.design.zones.push(Zone { name: row.name.clone(), usual, in_phase: Vec::new(), at: row.at });
        }
        // Where each field of a zone and phase is written.
        let mut written: HashMap<(usize, usize, &str), Span> = HashMap::new();
        for row in rows.iter().filter(|r| r.table.key == "climate") {
            let zone = self.reference(row, "zone", "zone");
            self.once_each(row, "phases");
            let phases: Vec<usize> = row
                .list("phases")
                .to_vec()
                .into_iter()
                .filter_map(|(at, name)| Some(self.reference_to(&name, at, "phase")?.value))
                .collect();
            let Some(zone) = zone.filter(|zone| zone.value < self.design.zones.len()) else { continue };
            let id: Id<Zone> = Id::from_row(zone.value);
            let climate = self.climate(row, &who(row, Subject::Zone(id)));
            for &phase in &phases {
                for (field, at) in FIELDS.into_iter().filter_map(|field| Some((field, row.cell(field)?.at))) {
                    if let Some(before) = written.insert((zone.value, phase, field), at) {
                        let phase = &self.design.phases[Id::from_row(phase)].name;
                        let message = format!("{field} of zone {} in phase {phase} is stated twice", self.design.zones[id].name);
                        self.out
                            .push(Diagnostic::error(codes::TWICE, at, "again", message).note(before, "first").help("keep one of the two"));
                    }
                }
                let phase: Id<Phase> = Id::from_row(phase);
                let of_zone = &mut self.design.zones[id];
                match of_zone.in_phase.iter_mut().find(|(of, _)| *of == phase) {
                    Some((_, known)) => *known = climate.over(known),
                    None => of_zone.in_phase.push((phase, climate.over(&of_zone.usual))),
                }
            }
        }
        self.fans_have_a_speed();
        if !self.design.zones.is_empty() {
            let catalog = std::mem::take(&mut self.catalog.ampacity);
            self.heat_data(&catalog);
            self.catalog.ampacity = catalog;
        }
    }

    fn climate(&mut self, row: &Row, who: &Who) -> Climate {
        let gravity = row.cell("gravity").and_then(|cell| match cell.value {
            Value::Plain(number) => Some(self.given(number, cell, who, "gravity")),
            Value::Open => {
                self.marked(&cell.mark, Standing::ToDetermine, who, "gravity", cell.at);
                None
            }
            _ => None,
        });
        let is_open = |field: &&str| row.cell(field).is_some_and(|cell| matches!(cell.value, Value::Open));
        Climate {
            open: FIELDS.into_iter().filter(is_open).collect(),
            pressure: self.number(row, "pressure", who),
            gas_temperature: self.spread(row, "gas_temperature", who),
            gravity,
            air_speed: self.number(row, "air_speed", who),
            fan: self.reference(row, "fan", "load").map(|g| g.map(Id::from_row)),
            walls: self.spread(row, "walls", who),
            wall_distance: self.number(row, "wall_distance", who),
            sun: self.number(row, "sun", who),
        }
    }

    fn fans_have_a_speed(&mut self) {
        let mut lacking = Vec::new();
        for (_, zone) in self.design.zones.iter() {
            let all = [&zone.usual].into_iter().chain(zone.in_phase.iter().map(|(_, climate)| climate));
            let fan = all.filter(|climate| climate.air_speed.is_none() && !climate.is_open("air_speed")).find_map(|climate| climate.fan);
            lacking.extend(fan.map(|fan| (fan.at, zone.name.clone())));
        }
        for (at, zone) in lacking {
            let message = format!("zone {zone} has a fan, and no speed that it makes");
            self.out.push(Diagnostic::error(codes::MISSING_KEY, at, "", message).help("add for example air_speed = \"0.3 m/s\""));
        }
    }

    /// Insulation and coatings of the wire types in use; what is recalled in them is noted.
    fn heat_data(&mut self, catalog: &Ampacities) {
        let mut families: Vec<Name> = Vec::new();
        let mut platings: Vec<Plating> = Vec::new();
        for (_, spec) in self.wire_types.specs.iter() {
            families.extend(spec.family.clone().filter(|family| !families.contains(family)));
            platings.extend(spec.plating().filter(|plating| !platings.contains(plating)));
        }
        for family in families {
            let lines: Vec<&Gathered<Insulates>> = catalog.insulations.iter().filter(|line| line.row.family == family).collect();
            let conductivity = lines.iter().find_map(|line| Some((line, line.row.conductivity.as_ref()?))).map(|(line, item)| {
                let value = self.of_insulation(&family, "thermal conductivity", "conductivity", Quantity::Conductivity, item, line);
                value.map(WattPerMetreKelvin)
            });
            let emittance = lines.iter().find_map(|line| Some((line, line.row.emittance[1].as_ref()?))).map(|(line, item)| {
                let typical = self.of_insulation(&family, "emittance", "emittance", Quantity::Share, item, line).map(Ratio);
                let [low, _, high] = &line.row.emittance;
                let [low, high] = [low, high]
                    .map(|end| end.as_ref().map_or(typical, |end| Given { value: Ratio(end.si), at: end.at, note: typical.note }));
                Spread { low, typical, high }
            });
            let damage = lines.iter().find_map(|line| Some((line, line.row.damage.as_ref()?))).map(|(line, item)| {
                self.of_insulation(&family, "temperature of damage", "damage", Quantity::Temperature, item, line).map(Kelvin)
            });
            let rated =
                self.wire_types.specs.iter().filter(|(_, spec)| spec.family.as_ref() == Some(&family)).filter_map(|(_, spec)| spec.rating);
            if let (Some(damage), Some(rating)) = (damage, rated.max_by(|a, b| a.value.0.total_cmp(&b.value.0)))
                && damage.value < rating.value
            {
                let show = |at: Given<Kelvin>| quantity::show(at.value.0, Quantity::Temperature);
                let message = format!("insulation {family} is harmed at {} and rated {}", show(damage), show(rating));
                let diagnostic = Diagnostic::error(codes::CONTRADICTION, damage.at, "", message);
                self.out.push(diagnostic.note(rating.at, "rated").help("what harms it at once is not below what it bears for long"));
            }
            self.design.heat.insulations.push(InsulationData { family, conductivity, emittance, damage });
        }
        for plating in platings {
            let Some(line) = catalog.platings.iter().find(|line| line.row.0 == plating) else { continue };
            let what = format!("limit of {}-coated strands", plating.word());
            let limit = self.heat_value(what, "limit", Quantity::Temperature, &line.row.1, &line.source, line.at).map(Kelvin);
            self.design.heat.platings.push(PlatingLimit { plating, limit, source: line.source.clone() });
        }
    }

    fn of_insulation(
        &mut self,
        family: &str,
        word: &str,
        field: &'static str,
        quantity: Quantity,
        item: &Item,
        line: &Gathered<Insulates>,
    ) -> Given<f64> {
        self.heat_value(format!("{word} of insulation {family}"), field, quantity, item, &line.source, line.at)
    }

    fn heat_value(&mut self, what: String, field: &'static str, quantity: Quantity, item: &Item, source: &str, row: Span) -> Given<f64> {
        self.design.catalog_sources.push((row, source.to_owned()));
        let standing = match item.how {
            How::Firm => None,
            How::Recalled => Some(Standing::Recalled),
            How::Practice => Some(Standing::Assumed),
        };
        let note = standing.map(|standing| {
            let value = quantity::show(item.si, quantity);
            self.note(Note { standing, what, value, source: source.to_owned(), at: item.at, subject: None, field, owner: None, need: None })
        });
        Given { value: item.si, at: item.at, note }
    }
}
