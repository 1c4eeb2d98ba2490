//! Types of battery in use, the cells of batteries, and what is commanded while phases run.

use super::{Build, Who, requote};
use crate::catalog::{Batteries, BatteryLines, How, Item};
use crate::codes;
use crate::fields;
use crate::quantity::{self, Quantity};
use crate::value::{Row, Value};
use model::*;
use physics::battery::{Curve, Field, Form, Generic, Pair, ThreePoints};
use physics::*;

/// Temperature at which charges are rated where a type does not say.
///
/// # Source  Common practice, no source.
const RATED_AT: Kelvin = Kelvin(25.0 + 273.15);

/// Fields of a battery that mean something only with the type of its cells.
const OF_CELLS: [&str; 10] =
    ["cells", "strings", "charge", "stored", "stored_at", "capacity_left", "resistance_share", "temperature", "heater", "cools_in"];

impl Build {
    /// The cells of a battery; `None` where it names no type, or one that is not known.
    pub(super) fn cells(&mut self, row: &Row, who: &Who) -> Option<Cells> {
        self.open_word(row, "type", who);
        let named = self.named(row, "type", who);
        if named.is_none() && row.is_absent("type") {
            for field in OF_CELLS {
                if let Some(cell) = row.cell(field) {
                    let message = format!("{} has {field} and no type of its cells", row.words());
                    self.out.push(
                        Diagnostic::error(codes::NO_EFFECT, cell.at, "", message).help("add type = \"…\", a type of catalog/batteries.csv"),
                    );
                }
            }
        }
        let count = |field: &'static str, build: &mut Build| match row.cell(field) {
            Some(cell) => match cell.value {
                Value::Count(n) => Some(build.given(n, cell, who, field)),
                Value::Open => {
                    build.marked(&cell.mark, Standing::ToDetermine, who, field, cell.at);
                    None
                }
                _ => None,
            },
            None => Some(Given::firm(1, row.at)),
        };
        let (series, strings) = (count("cells", self), count("strings", self));
        let whole = Spread::exactly(Given::firm(Ratio(1.0), row.at));
        let charge = match row.is_absent("charge") && named.is_some() {
            true => self.assumed_spread(who, "charge", Quantity::Share, [1.0; 3], "no charge is stated; a full battery is taken"),
            false => self.spread(row, "charge", who).unwrap_or(whole),
        };
        let stored = self.number(row, "stored", who);
        let stored_at = self.number(row, "stored_at", who);
        let capacity_left = self.spread(row, "capacity_left", who).unwrap_or(whole);
        let resistance = self.spread(row, "resistance_share", who).unwrap_or(whole);
        let temperature: Option<Spread<Kelvin>> = self.spread(row, "temperature", who);
        let heater = self.reference(row, "heater", "load").map(|given| given.map(Id::from_row));
        let cools_in = self.number(row, "cools_in", who);
        if let (Some(heater), true) = (&heater, row.is_absent("temperature")) {
            let message = format!("{} has a heater and no temperature that it is kept at", row.words());
            self.out.push(
                Diagnostic::error(codes::MISSING_KEY, heater.at, "heater", message).help("add for example temperature = \"20 degC\""),
            );
        }
        if let (Some(cools), None, true) = (&cools_in, &heater, row.is_absent("heater") && !row.is_absent("type")) {
            let cools: &Given<Second> = cools;
            let message = format!("{} cools with no heater that could be off", row.words());
            self.out.push(Diagnostic::error(codes::NO_EFFECT, cools.at, "", message).help("add heater = \"…\", or take cools_in away"));
        }
        let catalog = std::mem::take(&mut self.catalog.batteries);
        let kind = named.and_then(|named| Some(Given { value: self.battery_type(&catalog, &named)?, at: named.at, note: named.note }));
        self.catalog.batteries = catalog;
        Some(Cells {
            kind: kind?,
            series: series?,
            strings: strings?,
            charge,
            stored,
            stored_at,
            capacity_left,
            resistance,
            temperature,
            heater,
            cools_in,
        })
    }

    fn battery_type(&mut self, catalog: &Batteries, named: &Given<Name>) -> Option<Id<BatteryType>> {
        if let Some((known, _)) = self.design.battery_types.iter().find(|(_, known)| known.name == named.value) {
            return Some(known);
        }
        let of = catalog.of(&named.value);
        if of.rows.is_empty() {
            if !catalog.may_have(&named.value) {
                let message = format!("the catalog has no battery {}", named.value);
                let diagnostic = Diagnostic::error(codes::UNKNOWN_BATTERY, named.at, "type", message);
                let types = catalog.types();
                let diagnostic = match self.out.closest(&named.value, types.iter().copied()) {
                    Some(meant) => {
                        diagnostic.help(format!("did you mean {meant}?")).replace(named.at, requote(&self.sources, named.at, meant))
                    }
                    None => diagnostic.help(format!("types: {}; more may be added in catalog/batteries.csv", types.join(", "))),
                };
                self.out.push(diagnostic);
            }
            return None;
        }
        let made = self.made_battery(&of, &named.value)?;
        Some(self.design.battery_types.push(made))
    }

    /// A type out of its rows; `None` where they were reported.
    fn made_battery(&mut self, of: &BatteryLines, name: &Name) -> Option<BatteryType> {
        let rated = of.first("rated")?.1.si;
        let form = match of.points.is_empty() {
            true => self.generic(of, name, rated)?,
            false => {
                let pairs =
                    of.rows.iter().filter_map(|row| Some(Pair { share: row.item("pair")?.si, tau: Second(row.item("pair_time")?.si) }));
                Form::Tables { emf: field(&of.points, "depth", "emf")?, ohms: field(&of.points, "depth", "ohms")?, pairs: pairs.collect() }
            }
        };
        let recharges = of.rows.iter().any(|row| row.kind.as_ref().is_some_and(|(kind, _)| &**kind == "rechargeable"));
        let mut sources: Vec<String> = Vec::new();
        for row in of.all() {
            if !row.source.is_empty() && !sources.contains(&row.source) {
                sources.push(row.source.clone());
            }
            self.design.catalog_sources.push((row.at, row.source.clone()));
        }
        let notes = self.battery_notes(of, name);
        let given = |key: &str| of.first(key).map(|(_, item)| Given::firm(item.si, item.at));
        let losses = of
            .losses
            .iter()
            .filter_map(|row| Some((Kelvin(row.item("temperature")?.si), Ratio(row.item("loss")?.si), Second(row.item("over")?.si))));
        Some(BatteryType {
            name: name.clone(),
            curve: Curve { rated: Coulomb(rated), form, capacity: field(&of.capacities, "rate", "gives"), recharges },
            rated_at: of.first("rated_temperature").map_or(RATED_AT, |(_, item)| Kelvin(item.si)),
            rated_current: given("rated_current").map(|g| g.map(Ampere)),
            cut_off: given("cut_off").map(|g| g.map(Volt)),
            most: given("greatest").map(|g| g.map(Ampere)),
            losses: losses.collect(),
            notes,
            sources,
            at: of.rows[0].at,
        })
    }

    fn generic(&mut self, of: &BatteryLines, name: &Name, rated: f64) -> Option<Form> {
        let si = |key: &str| of.first(key).map(|(_, item)| item.si);
        let points = ThreePoints {
            full: Volt(si("full")?),
            exponential: (Volt(si("exponential")?), si("exponential_charge")? / 3600.0),
            nominal: (Volt(si("nominal")?), si("nominal_charge")? / 3600.0),
            most_ah: rated / 3600.0,
            typical: Ampere(si("typical")?),
            ohms: Ohm(si("ohms")?),
        };
        let generic = Generic::from_three_points(&points);
        if generic.is_none() {
            let at = of.first("full").map_or(of.rows[0].at, |(_, item)| item.at);
            let message = format!("the three points of {name} make no discharge curve");
            self.out.push(
                Diagnostic::error(codes::CONTRADICTION, at, "", message)
                    .help("charges rise from exponential to nominal to rated, voltages fall from full to exponential to nominal"),
            );
        }
        generic.map(Form::Generic)
    }

    /// What is recalled or common practice in the rows of a type: one note for each list and standing.
    fn battery_notes(&mut self, of: &BatteryLines, name: &Name) -> Vec<NoteId> {
        let mut notes = Vec::new();
        for (rows, what, table) in [
            (&of.rows, "values", "battery type"),
            (&of.points, "curve", "battery point"),
            (&of.capacities, "charge by rate and temperature", "battery capacity"),
            (&of.losses, "loss in storage", "battery loss"),
        ] {
            for how in [How::Recalled, How::Practice] {
                let loose = rows.iter().flat_map(|row| {
                    let keys = fields::table(table).into_iter().flat_map(|table| table.fields.iter().map(|field| field.key));
                    keys.filter_map(|key| Some((key, row.item(key)?, &row.source)))
                });
                let loose: Vec<(&'static str, &Item, &String)> = loose.filter(|(_, item, _)| item.how == how).collect();
                let Some((key, item, source)) = loose.first() else { continue };
                notes.push(self.note(Note {
                    standing: if how == How::Practice { Standing::Assumed } else { Standing::Recalled },
                    what: format!("{what} of battery type {name}"),
                    value: format!("{} value{}", loose.len(), if loose.len() == 1 { "" } else { "s" }),
                    source: (*source).clone(),
                    at: item.at,
                    subject: None,
                    field: key,
                    owner: None,
                    need: None,
                }));
            }
        }
        notes
    }

    /// What is commanded while phases run, and whether phases follow one on another: call it after the phases.
    pub(super) fn programme(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "programme") {
            let phase = self.reference(row, "phase", "phase");
            let who = super::end::who(row, Subject::Vehicle);
            let after: Option<Given<Second>> = self.number(row, "after", &who);
            let states = self.states(row);
            let (Some(phase), Some(after)) = (phase.filter(|phase| phase.value < self.design.phases.len()), after) else { continue };
            if states.is_empty() && !row.broken {
                self.out.push(
                    Diagnostic::error(codes::NO_EFFECT, row.at, "", format!("{} commands nothing", row.words()))
                        .help("add for example off = [\"load:heater\"]"),
                );
            }
            let phase = &mut self.design.phases[Id::from_row(phase.value)];
            if let Some(duration) = phase.duration.filter(|duration| after.value.0 >= duration.value.0) {
                let show = |given: Given<Second>| quantity::show(given.value.0, Quantity::Duration);
                let message =
                    format!("{} begins {} after phase {} began, which lasts {}", row.words(), show(after), phase.name, show(duration));
                self.out.push(
                    Diagnostic::error(codes::BAD_TIME, after.at, "", message)
                        .note(duration.at, "duration")
                        .help("command it in the next phase, or let this one last longer"),
                );
                continue;
            }
            let at = phase.programme.partition_point(|known| known.after.value.0 <= after.value.0);
            phase.programme.insert(at, Programme { name: row.name.clone(), after, states, at: row.at });
        }
        self.phases_follow();
    }

    /// Where a phase states its beginning, it is the end of the one before.
    fn phases_follow(&mut self) {
        // When the last phase that states its beginning began, with what has lasted since.
        let mut since: Option<(Given<Second>, Option<f64>)> = None;
        for (_, phase) in self.design.phases.iter() {
            if let Some(starts) = phase.starts {
                let show = |si: f64| quantity::show(si, Quantity::Duration);
                if let Some((from, Some(lasted))) = since {
                    let ends = from.value.0 + lasted;
                    let overlap = ends - starts.value.0;
                    if overlap.abs() > 1e-6 * ends.abs().max(1.0) {
                        let message = match overlap > 0.0 {
                            true => format!(
                                "phase {} begins at {} and overlaps the one before by {}",
                                phase.name,
                                show(starts.value.0),
                                show(overlap)
                            ),
                            false => format!(
                                "phase {} begins at {}, {} after the one before has ended",
                                phase.name,
                                show(starts.value.0),
                                show(-overlap)
                            ),
                        };
                        self.out.push(
                            Diagnostic::error(codes::BAD_TIME, starts.at, "", message)
                                .note(from.at, "counted from here")
                                .help(format!("the durations since then end at {}", show(ends))),
                        );
                    }
                }
                since = Some((starts, Some(0.0)));
            }
            since = since.map(|(from, lasted)| (from, lasted.zip(phase.duration).map(|(lasted, duration)| lasted + duration.value.0)));
        }
    }
}

/// Rows of a list as a field over one of its cells; `None` where no row fills both.
fn field(rows: &[&crate::catalog::BatteryRow], over: &str, of: &str) -> Option<Field> {
    let mut field = Field { rows: Vec::new() };
    for row in rows {
        let (Some(temperature), Some(x), Some(y)) = (row.item("temperature"), row.item(over), row.item(of)) else { continue };
        match field.rows.last_mut() {
            Some((at, points)) if at.0 == temperature.si => points.push((x.si, y.si)),
            _ => field.rows.push((Kelvin(temperature.si), vec![(x.si, y.si)])),
        }
    }
    (!field.rows.is_empty()).then_some(field)
}
