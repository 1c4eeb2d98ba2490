//! The tables of wire current and the chart of breakers that the profile names.

use super::{Build, requote};
use crate::catalog::{Ampacities, Gathered, How, IN_AIR, Item};
use crate::codes;
use crate::quantity::{self, Quantity};
use model::*;
use physics::ampacity::{Conductor, ShortTable, SpaceTable};
use physics::gauge::Awg;
use physics::*;

impl Build {
    /// Notes are made for what is recalled in rows that a wire of the vehicle uses: call it after the wires.
    pub(super) fn ampacity(&mut self) {
        let catalog = std::mem::take(&mut self.catalog.ampacity);
        let mut in_use: Vec<(Conductor, Awg)> = self.wire_types.specs.iter().map(|(_, spec)| (spec.metal(), spec.gauge)).collect();
        in_use.sort_by_key(|(metal, gauge)| (*metal == Conductor::Aluminium, *gauge));
        in_use.dedup();
        if let Some(rules) = self.design.profile.ampacity.clone() {
            self.design.ampacity = match &*rules.value {
                IN_AIR => self.in_air(&catalog, rules, &in_use),
                _ => self.in_vacuum(&catalog, rules, &in_use),
            };
        }
        if let Some(name) = self.design.profile.protector_chart.clone() {
            self.design.protector_chart = self.chart(&catalog, name);
        }
        self.mass_practice(&catalog);
        self.design.shop = ShopPractice {
            crimps: sourced(&self.sources, &catalog.crimps),
            shields: sourced(&self.sources, &catalog.shields),
            tests: sourced(&self.sources, &catalog.tests),
            spares: sourced(&self.sources, &catalog.spares),
        };
        self.catalog.ampacity = catalog;
    }

    /// Allowance and growth of mass, as the vehicle states them.
    fn mass_practice(&mut self, catalog: &Ampacities) {
        let first = self.sources.files().next().map_or(self.design.profile.at, |(file, _)| Span { file, start: 0, end: 0 });
        let who = super::Who { subject: Subject::Vehicle, kind: "vehicle", name: self.design.name.clone(), at: first };
        let cell = self.allowance_cells.iter().find(|(key, _)| *key == "mass_allowance").map(|(_, cell)| cell.clone());
        self.design.mass.allowance = cell.and_then(|cell| self.number_of(&cell, "mass_allowance", &who));
        let Some(stage) = self.design.mass.stage.clone() else { return };
        match catalog.growth.iter().find(|line| line.row.0 == stage.value) {
            Some(line) => {
                let (what, value) = (format!("growth of mass at stage {}", stage.value), quantity::show(line.row.1.0, Quantity::Share));
                let note = (line.how != How::Firm).then(|| self.recalled(line.how, what, value, &line.source, line.at, "growth"));
                self.design.mass.growth = Some(Given { value: line.row.1, at: line.at, note });
                self.design.mass.growth_source = line.source.clone();
            }
            None => {
                let known: Vec<&str> = catalog.growth.iter().map(|line| &*line.row.0).collect();
                self.no_such("stage of a design", &stage, &known, catalog.unsure);
            }
        }
    }

    fn in_air(&mut self, catalog: &Ampacities, rules: Given<Name>, in_use: &[(Conductor, Awg)]) -> Option<Ampacity> {
        let long = catalog.aircraft.clone()?;
        let mut row_notes = Vec::new();
        for &(metal, gauge) in in_use {
            let rows: Vec<_> = catalog.free_air.iter().filter(|line| line.row.0 == gauge && metal == Conductor::Copper).collect();
            let (values, firm) =
                (span_of(rows.iter().map(|line| line.row.2.0), Quantity::Current), rows.iter().all(|line| line.how == How::Firm));
            // Of a gauge with some rows read, the note is of the first that is not.
            if let Some(line) = rows.iter().find(|line| line.how != How::Firm).filter(|_| !firm) {
                let note = self.recalled(line.how, format!("free-air current of {gauge} AWG"), values, &line.source, line.at, "current");
                row_notes.push(((metal, gauge), note));
            }
            for line in catalog.short.iter().filter(|line| (line.row.conductor, line.row.gauge) == (metal, gauge) && line.how != How::Firm)
            {
                let value = quantity::show(line.row.current.0, Quantity::Current);
                let what = format!("bundle current of {} {gauge} AWG, {:.0} degC", metal.word(), line.row.rating.celsius());
                row_notes.push(((metal, gauge), self.recalled(line.how, what, value, &line.source, line.at, "current")));
            }
        }
        let mut notes = Vec::new();
        if let Some(line) = catalog.bundle.iter().find(|line| line.how != How::Firm) {
            let values = span_of(catalog.bundle.iter().map(|line| line.row.2.0), Quantity::Share);
            notes.push(self.recalled(line.how, "bundle factors".to_owned(), values, &line.source, line.at, "factor"));
        }
        if let Some(line) = catalog.altitude.iter().find(|line| line.how != How::Firm) {
            let values = span_of(catalog.altitude.iter().map(|line| line.row.1.0), Quantity::Share);
            notes.push(self.recalled(line.how, "altitude factors".to_owned(), values, &line.source, line.at, "factor"));
        }
        let lines = catalog.conditions.iter().filter(|line| *line.row.rules == *IN_AIR);
        let condition = |pick: fn(&crate::catalog::Condition) -> &Option<Item>| {
            lines.clone().find_map(|line| pick(&line.row).as_ref()).map(|item| item.si)
        };
        let [ambient, loaded, altitude] = [condition(|c| &c.surroundings), condition(|c| &c.loaded), condition(|c| &c.altitude)];
        let short = ambient.zip(loaded).zip(altitude).map(|((ambient, loaded), altitude)| ShortTable {
            rows: catalog.short.iter().map(|line| line.row).collect(),
            ambient: Kelvin(ambient),
            loaded: Ratio(loaded),
            altitude: Metre(altitude),
        });
        let sources = [
            sources(catalog.free_air.iter().map(|line| &line.source)),
            sources(catalog.bundle.iter().map(|line| &line.source)),
            sources(catalog.altitude.iter().map(|line| &line.source)),
        ];
        Some(Ampacity { rules, tables: AmpacityTables::Air { long, short }, row_notes, notes, sources: sources.concat() })
    }

    fn in_vacuum(&mut self, catalog: &Ampacities, rules: Given<Name>, in_use: &[(Conductor, Awg)]) -> Option<Ampacity> {
        let lines: Vec<_> = catalog.vacuum.iter().filter(|line| line.row.rules == rules.value).collect();
        if lines.is_empty() {
            let known: Vec<&str> = [IN_AIR].into_iter().chain(catalog.rule_sets().into_iter().map(|name| &**name)).collect();
            self.no_such("tables of wire current", &rules, &known, catalog.unsure);
            return None;
        }
        let mut row_notes = Vec::new();
        for line in lines.iter().filter(|line| line.how != How::Firm) {
            let row = &line.row.row;
            let key = (row.conductor, row.gauge);
            if in_use.contains(&key) {
                let show = |current: Ampere| quantity::show(current.0, Quantity::Current);
                let value = show(row.single) + &row.bundle.map_or(String::new(), |bundle| format!(", {} in a bundle", show(bundle)));
                let what = format!("{} current in vacuum of {} {} AWG", rules.value, key.0.word(), key.1);
                row_notes.push((key, self.recalled(line.how, what, value, &line.source, line.at, "single")));
            }
        }
        let mut notes = Vec::new();
        let ratings: Vec<_> = catalog.ratings.iter().filter(|line| line.row.0 == rules.value).collect();
        if let Some(line) = ratings.iter().find(|line| line.how != How::Firm) {
            let values = span_of(ratings.iter().map(|line| line.row.2.0), Quantity::Share);
            notes.push(self.recalled(line.how, format!("{} factors of insulation", rules.value), values, &line.source, line.at, "factor"));
        }
        let mut condition = |pick: fn(&crate::catalog::Condition) -> &Option<Item>, word: &str, quantity: Quantity| {
            let of_rules = catalog.conditions.iter().filter(|line| line.row.rules == rules.value);
            let (line, item) = of_rules.filter_map(|line| Some((line, pick(&line.row).as_ref()?))).next()?;
            if item.how != How::Firm {
                let (what, value) = (format!("{} {word}", rules.value), quantity::show(item.si, quantity));
                notes.push(self.recalled(item.how, what, value, &line.source, item.at, "surroundings"));
            }
            Some(item.si)
        };
        // A rule set that does not state its surroundings has been reported.
        let surroundings = Kelvin(condition(|c| &c.surroundings, "surroundings of the currents", Quantity::Temperature)?);
        let below_rating = condition(|c| &c.below_rating, "distance of a conductor below its rating", Quantity::TemperatureRise);
        let tables = AmpacityTables::Vacuum(SpaceTable {
            rows: lines.iter().map(|line| line.row.row).collect(),
            ratings: ratings.iter().map(|line| (line.row.1, line.row.2)).collect(),
            surroundings,
            below_rating: below_rating.map(TemperatureRise),
        });
        Some(Ampacity { rules, tables, row_notes, notes, sources: sources(lines.iter().map(|line| &line.source)) })
    }

    fn chart(&mut self, catalog: &Ampacities, name: Given<Name>) -> Option<ProtectorChart> {
        let lines: Vec<_> = catalog.protects.iter().filter(|line| line.row.chart == name.value).collect();
        if lines.is_empty() {
            let known: Vec<&str> = catalog.charts().into_iter().map(|name| &**name).collect();
            self.no_such("chart of breakers and fuses", &name, &known, catalog.unsure);
            return None;
        }
        let mut rows = Vec::new();
        for line in &lines {
            let gauge = line.row.gauge;
            let mut given = |item: &Option<Item>, word: &str| {
                let item = item.as_ref()?;
                let note = (item.how != How::Firm).then(|| {
                    let (what, value) = (format!("largest {word} of {gauge} AWG"), quantity::show(item.si, Quantity::Current));
                    self.recalled(item.how, what, value, &line.source, item.at, "breaker")
                });
                Some(Given { value: Ampere(item.si), at: item.at, note })
            };
            let (breaker, fuse) = (given(&line.row.breaker, "breaker"), given(&line.row.fuse, "fuse"));
            rows.push(ProtectedGauge { gauge, breaker, fuse, at: line.at });
        }
        Some(ProtectorChart { name, rows, source: sources(lines.iter().map(|line| &line.source)).concat() })
    }

    fn no_such(&mut self, what: &str, name: &Given<Name>, known: &[&str], unsure: bool) {
        if unsure {
            return;
        }
        let is = if what.starts_with("tables") { "are" } else { "is" };
        let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, name.at, "", format!("there {is} no {what} {}", name.value));
        diagnostic = match self.out.closest(&name.value, known.iter().copied()) {
            Some(meant) => diagnostic.help(format!("did you mean {meant}?")).replace(name.at, requote(&self.sources, name.at, meant)),
            None => diagnostic.help(format!("the catalog has {}", known.join(", "))),
        };
        self.out.push(diagnostic);
    }

    /// A note on something of the catalog that was not simply read.
    fn recalled(&mut self, how: How, what: String, value: String, source: &str, at: Span, field: &'static str) -> NoteId {
        self.note(Note {
            standing: if how == How::Practice { Standing::Assumed } else { Standing::Recalled },
            what,
            value,
            source: source.to_owned(),
            at,
            subject: None,
            field,
            owner: None,
            need: None,
        })
    }
}

/// `6 A to 47 A`, or the one value.
fn span_of(values: impl Iterator<Item = f64> + Clone, quantity: Quantity) -> String {
    let (least, greatest) = (values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max));
    let show = |si: f64| quantity::show(si, quantity);
    match least < greatest {
        true => format!("{} to {}", show(least), show(greatest)),
        false if least.is_finite() => show(least),
        false => String::new(),
    }
}

/// Each source once, in the order of the rows.
fn sources<'a>(list: impl Iterator<Item = &'a String>) -> Vec<String> {
    let mut seen: Vec<String> = Vec::new();
    list.for_each(|source| {
        if !source.is_empty() && !seen.contains(source) {
            seen.push(source.clone());
        }
    });
    seen
}

/// Rows as the design keeps them, with where they come from and how they are known.
fn sourced<T: Clone>(sources: &Sources, lines: &[Gathered<T>]) -> Vec<Sourced<T>> {
    let how = |line: &Gathered<T>| match line.how {
        // Shipped rows that are neither recalled nor practice were read in their source; the user's own are given.
        How::Firm if sources.file(line.at.file).path.starts_with("shipped:") => "read",
        How::Firm => "given",
        How::Recalled => "recalled",
        How::Practice => "practice",
    };
    lines.iter().map(|line| Sourced { row: line.row.clone(), source: line.source.clone(), how: how(line), at: line.at }).collect()
}
