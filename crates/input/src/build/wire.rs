//! The wire list: rows to wires, with the circuits, cables and wire types that they name.

use super::end::NamedBy;
use super::{Build, Who};
use crate::catalog::{How, Item, USUAL_TYPE};
use crate::codes;
use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::quantity::{self, Quantity};
use crate::sheet::{self, Heads, SheetRow};
use crate::value::{Row, Value};
use model::*;
use physics::gauge::Awg;
use physics::*;
use std::collections::HashMap;
use std::sync::Arc;

/// Wire types that the vehicle uses.
#[derive(Default)]
pub(super) struct TypesInUse {
    pub(super) specs: Table<WireSpec>,
    rows: HashMap<usize, Id<WireSpec>>,
    /// The note on the type of a whole list that has no such column, by file.
    without_column: HashMap<FileId, NoteId>,
}

impl Build {
    /// Where the shield of a cable goes: pairs of a half and `shell`, `cut` or a cavity of it.
    fn shield_ends(&mut self, row: &Row, kind: CableKind) -> Vec<(Given<Id<Connector>>, ShieldEnd)> {
        let Some((Value::Pairs(pairs), whole)) = row.cell("shield_ends").map(|cell| (cell.value.clone(), cell.at)) else {
            return Vec::new();
        };
        if kind == CableKind::Twisted {
            let message = format!("cable {} has no shield, and says where it ends", row.name);
            self.out.push(Diagnostic::error(codes::NO_EFFECT, whole, "", message).help("leave it out, or say that it is shielded"));
            return Vec::new();
        }
        let mut found: Vec<(Given<Id<Connector>>, ShieldEnd)> = Vec::new();
        for [(half_at, half), (at, to)] in pairs {
            let Some(half_id) = self.reference_to(&half, half_at, "connector").map(|found| found.map(Id::<Connector>::from_row)) else {
                continue;
            };
            let end = match &*to {
                "shell" => Some(ShieldEnd::Shell),
                "cut" => Some(ShieldEnd::Cut),
                cavity => self.own_pin(half_id.value.row(), cavity, at).map(ShieldEnd::Pin),
            };
            let Some(end) = end else { continue };
            match found.iter().find(|(known, _)| known.value == half_id.value) {
                Some((first, _)) => {
                    let message = format!("the shield ends twice at {half}");
                    self.out.push(Diagnostic::error(codes::TWICE, half_at, "again", message).note(first.at, "first").help("keep one"));
                }
                None => found.push((half_id, end)),
            }
        }
        found
    }

    pub(super) fn wires(&mut self, folder: &Folder, rows: &[Row]) {
        for row in rows {
            match row.table.key {
                "cable" => {
                    let id: Id<Cable> = Id::from_row(self.design.cables.len());
                    let kind = match row.word("kind") {
                        Some("twisted") => CableKind::Twisted,
                        Some("shielded") => CableKind::Shielded,
                        Some("twisted-shielded") => CableKind::TwistedShielded,
                        Some("coaxial") => CableKind::Coaxial,
                        _ => CableKind::Unstated,
                    };
                    if let Some(cell) = row.cell("kind").filter(|c| matches!(c.value, Value::Open)) {
                        let who = super::end::who(row, Subject::Cable(id));
                        self.marked(&cell.mark, Standing::ToDetermine, &who, "kind", cell.at);
                    }
                    let who = super::end::who(row, Subject::Cable(id));
                    let lay = self.lay(row, kind, &who);
                    let od = self.number(row, "od", &who);
                    let mass = self.number(row, "mass", &who);
                    let shield_end_od = self.number(row, "shield_end_od", &who);
                    let rating = self.number(row, "rating", &who);
                    let shield_ends = self.shield_ends(row, kind);
                    self.design.cables.push(Cable {
                        name: row.name.clone(),
                        kind,
                        lay,
                        od,
                        shield_end_od,
                        shield_ends,
                        mass,
                        rating,
                        implied: false,
                        at: row.at,
                    });
                }
                "circuit" => {
                    let title = row.word("title").unwrap_or_default().to_owned();
                    let class = row.text("class").map(|(name, at)| (name.clone(), at));
                    let class = class.and_then(|(name, at)| Some(Given::firm(self.class(&name, at)?, at)));
                    let not_with = Vec::new();
                    self.design.circuits.push(Circuit { name: row.name.clone(), title, class, not_with, implied: false, at: row.at });
                }
                _ => {}
            }
        }
        let table = wire_table();
        let sources = self.sources.clone();
        let mut number = 0usize;
        let before = self.out.len();
        for &file in &folder.wire_lists {
            let mut out = std::mem::take(&mut self.out);
            sheet::read(&sources, file, table, &mut out, &mut |heads, sheet_row, out| {
                number += 1;
                std::mem::swap(&mut self.out, out);
                self.wire(table, heads, sheet_row, number);
                std::mem::swap(&mut self.out, out);
            });
            self.out = out;
        }
        // Rows that were not understood may name connectors that elements rely on.
        const HIDE_CONNECTORS: [Code; 7] = [
            codes::UNKNOWN_HEAD,
            codes::MISSING_HEAD,
            codes::MISSING_KEY,
            codes::CELL_COUNT,
            codes::OPEN_QUOTE,
            codes::TOO_LARGE,
            codes::BAD_END,
        ];
        self.ends.unsure = folder.unsure || self.out.any_since(before, &HIDE_CONNECTORS);
    }

    fn wire(&mut self, table: &'static TableSpec, heads: &Heads, sheet_row: SheetRow, number: usize) {
        let SheetRow { at, slots, notes } = sheet_row;
        let mut row = Row { table, name: Name::from(""), at, slots, broken: false };
        let name_at = row.text("wire").map_or(at, |(_, at)| at);
        row.name = row.text("wire").map_or_else(|| format!("W{number}").into(), |(name, _)| name.clone());
        let declared = row.is_absent("wire") || row.cell("wire").is_some();
        if declared && self.names.declare("wire", &row.name, name_at, &mut self.out).is_none() {
            return;
        }
        let id: Id<Wire> = Id::from_row(self.design.wires.len());
        let who = Who { subject: Subject::Element(ElementId::Wire(id)), kind: "wire", name: row.name.clone(), at };

        let from = self.wire_end(&row, "from", &who);
        let to = self.wire_end(&row, "to", &who);
        if let (Some(from), Some(to)) = (from, to)
            && from.value == to.value
            && from.value != End::Stowed
        {
            self.out.push(
                Diagnostic::error(
                    codes::SAME_END,
                    to.at,
                    "",
                    format!("wire {} begins and ends on {}", row.name, self.sources.slice(to.at)),
                )
                .note(from.at, "begins here")
                .help("a wire joins two different points"),
            );
        }
        let length = match row.cell("length") {
            Some(cell) if matches!(cell.value, Value::Text(_)) => Some(Given::firm(Length::FromRoute, cell.at)),
            Some(_) => self.number(&row, "length", &who).map(|g: Given<Metre>| g.map(Length::Given)),
            None if row.is_absent("length") && !self.design.segments.is_empty() => Some(Given::firm(Length::FromRoute, at)),
            None => None,
        };
        let (via, via_at) = self.via(&row);
        let allowance = ["from_allowance", "to_allowance"].map(|field| self.number(&row, field, &who));
        let slack = self.number(&row, "slack", &who);
        let current = self.number(&row, "current", &who);
        let spec = self.wire_spec(&row, heads, &who);
        let name_of = |row: &Row, key: &str| row.text(key).map(|(text, at)| Given::firm(text.clone(), at));
        let circuit = name_of(&row, "circuit").map(|g| self.circuit(g));
        let cable = name_of(&row, "cable").map(|g| self.cable(g));
        let cable_position = row.cell("cable_position").and_then(|c| match c.value {
            Value::Count(n) => Some(Given::firm(n, c.at)),
            _ => None,
        });
        if let (Some(position), true) = (cable_position, row.is_absent("cable")) {
            self.out.push(
                Diagnostic::error(codes::NO_EFFECT, position.at, "", format!("wire {} has a position in no cable", row.name))
                    .help("fill the cell of its cable, or leave this one empty"),
            );
        }
        let bundle_wires = row.cell("bundle_wires").and_then(|c| match c.value {
            Value::Count(n) => Some(self.given(n, c, &who, "bundle_wires")),
            _ => None,
        });
        let bundle_loaded = self.number(&row, "bundle_loaded", &who);
        if let (Some(loaded), true) = (bundle_loaded, row.is_absent("bundle_wires")) {
            self.out.push(
                Diagnostic::error(codes::NO_EFFECT, loaded.at, "", format!("wire {} states the loaded share of no bundle", row.name))
                    .help("fill the cell of its bundle_wires, or leave this one empty"),
            );
        }
        let group = name_of(&row, "group");
        let signal = name_of(&row, "signal");
        let marking = name_of(&row, "marking");
        let colour = name_of(&row, "colour");
        let from_revision = name_of(&row, "from_revision");
        let to_revision = name_of(&row, "to_revision");
        let notes = joined_notes(row.text("notes"), &notes, at);
        let (Some(from), Some(to)) = (from, to) else { return };
        self.design.wires.push(Wire {
            name: row.name,
            from,
            to,
            spec,
            length,
            group,
            bundle_wires,
            bundle_loaded,
            circuit,
            cable,
            cable_position,
            current,
            via,
            via_at,
            allowance,
            slack,
            from_revision,
            to_revision,
            signal,
            marking,
            colour,
            notes,
            at,
        });
    }

    fn wire_end(&mut self, row: &Row, field: &'static str, who: &Who) -> Option<Given<End>> {
        let (text, at) = row.text(field)?;
        let end = self.resolve(text, at, NamedBy::WireList)?;
        let cell = row.cell(field)?;
        Some(self.given(end, cell, who, field))
    }

    fn circuit(&mut self, name: Given<Name>) -> Given<Id<Circuit>> {
        let row = match self.names.find("circuit", &name.value) {
            Some(found) => found.row,
            None => {
                self.names.declare("circuit", &name.value, name.at, &mut self.out);
                let (class, not_with) = (None, Vec::new());
                let row = Circuit { name: name.value, title: String::new(), class, not_with, implied: true, at: name.at };
                self.design.circuits.push(row).row()
            }
        };
        Given::firm(Id::from_row(row), name.at)
    }

    fn cable(&mut self, name: Given<Name>) -> Given<Id<Cable>> {
        let row = match self.names.find("cable", &name.value) {
            Some(found) => found.row,
            None => {
                self.names.declare("cable", &name.value, name.at, &mut self.out);
                let row = Cable {
                    name: name.value,
                    kind: CableKind::Unstated,
                    lay: None,
                    od: None,
                    shield_end_od: None,
                    shield_ends: Vec::new(),
                    mass: None,
                    rating: None,
                    implied: true,
                    at: name.at,
                };
                self.design.cables.push(row).row()
            }
        };
        Given::firm(Id::from_row(row), name.at)
    }

    /// The catalog row of a wire's type and gauge; `None` if the gauge is `TBD` or something has been reported.
    fn wire_spec(&mut self, row: &Row, heads: &Heads, who: &Who) -> Option<Given<Id<WireSpec>>> {
        let gauge_cell = row.cell("gauge")?;
        let gauge: Given<f64> = self.number(row, "gauge", who)?;
        let gauge_awg = Awg(gauge.value as i8);
        let (kind, at, note) = match row.cell("type") {
            Some(cell) => match &cell.value {
                Value::Text(kind) => (kind.clone(), cell.at, self.given((), cell, who, "type").note),
                _ => {
                    self.marked(&cell.mark, Standing::ToDetermine, who, "type", cell.at);
                    let note = self.assumed(who, "type", USUAL_TYPE.to_owned(), "the type is TBD; tin-coated stranded copper is taken");
                    (USUAL_TYPE.into(), gauge.at, Some(note))
                }
            },
            None if row.is_absent("type") => (USUAL_TYPE.into(), gauge.at, Some(self.no_type(heads, who))),
            None => return None,
        };
        if let Some(found) = self.catalog.wire(&kind, gauge_awg) {
            let id = self.spec_in_use(found);
            // A gauge to be confirmed says more than an assumed type.
            return Some(Given { value: id, at, note: gauge.note.or(note) });
        }
        if self.catalog.may_have_wire(&kind) {
            return None;
        }
        if self.out.is_full() {
            // It is only counted; what the catalog has instead need not be looked up.
            self.out.push(Diagnostic::error(codes::UNKNOWN_WIRE_TYPE, at, "", ""));
            return None;
        }
        let gauges = self.catalog.gauges(&kind);
        if gauges.is_empty() {
            let types = self.catalog.wire_types();
            let mut diagnostic = Diagnostic::error(codes::UNKNOWN_WIRE_TYPE, at, "", format!("the catalog has no wire type {kind}"));
            diagnostic = match self.out.closest(&kind, types.iter().copied()) {
                Some(meant) => {
                    diagnostic.help(format!("did you mean {meant}? more types may be added in catalog/wires.csv")).replace(at, meant)
                }
                None => diagnostic.help(format!("types: {}; more may be added in catalog/wires.csv", types.join(", "))),
            };
            self.out.push(diagnostic);
        } else {
            let list = gauges.iter().map(|g| g.to_string()).collect::<Vec<_>>().join(", ");
            self.out.push(
                Diagnostic::error(codes::NO_SUCH_GAUGE, gauge_cell.at, "", format!("wire type {kind} has no gauge {gauge_awg}"))
                    .help(format!("its gauges in the catalog: {list}; more may be added in catalog/wires.csv")),
            );
        }
        None
    }

    /// The assumption on the type: once for a list without the column, else wire by wire.
    fn no_type(&mut self, heads: &Heads, who: &Who) -> NoteId {
        const WHY: &str = "no type is stated; tin-coated stranded copper is taken";
        if heads.at(wire_table(), "type").is_some() {
            return self.assumed(who, "type", USUAL_TYPE.to_owned(), WHY);
        }
        let file = heads.row_at.file;
        if let Some(&note) = self.wire_types.without_column.get(&file) {
            return note;
        }
        let path = self.sources.file(file).path.clone();
        let note = self.note(Note {
            standing: Standing::Assumed,
            what: format!("type of the wires of {path}"),
            value: USUAL_TYPE.to_owned(),
            source: WHY.to_owned(),
            at: heads.row_at,
            subject: Some(Subject::Vehicle),
            field: "type",
            owner: None,
            need: None,
        });
        self.wire_types.without_column.insert(file, note);
        note
    }

    /// The model's row of a wire type, made when first used; what is recalled in it is noted then.
    fn spec_in_use(&mut self, row: usize) -> Id<WireSpec> {
        if let Some(&id) = self.wire_types.rows.get(&row) {
            return id;
        }
        let wire = &self.catalog.wires[row];
        let title = format!("{} {} AWG", wire.kind, wire.gauge);
        let (source, own_sources) = (wire.source.clone(), wire.own_sources.clone());
        let (kind, gauge, construction, at) = (wire.kind.clone(), wire.gauge, wire.construction.clone(), wire.at);
        let (family, hard, alloy) = (wire.family.clone(), wire.hard, wire.alloy);
        let items = [
            (Some(wire.area.clone()), "cross-section", "area", Quantity::Area),
            (Some(wire.conductivity.clone()), "conductivity", "conductivity", Quantity::Share),
            (Some(wire.nominal.clone()), "nominal resistance", "nominal", Quantity::ResistancePerLength),
            (Some(wire.max.clone()), "greatest resistance", "max", Quantity::ResistancePerLength),
            (wire.od.clone(), "outside diameter", "od", Quantity::Length),
            (wire.rating.clone(), "temperature rating", "rating", Quantity::Temperature),
            (wire.volts.clone(), "voltage rating", "volts", Quantity::Voltage),
            (wire.mass.clone(), "mass", "mass", Quantity::MassPerLength),
        ];
        let [area, conductivity, nominal, max, od, rating, volts, mass] = items.map(|(item, word, field, quantity)| {
            let own = |item: &Item| own_sources.iter().find(|(of, _)| *of == item.at).map_or(&source, |(_, own)| own).clone();
            item.map(|item| {
                let source = own(&item);
                self.catalog_value(item, word, field, quantity, &title, &source)
            })
        });
        self.design.catalog_sources.extend(own_sources);
        self.design.catalog_sources.push((at, source));
        let firm = |si: f64| Given::firm(si, at);
        let spec = WireSpec {
            kind,
            gauge,
            strands: strands(&construction),
            construction,
            family,
            hard,
            area: area.unwrap_or(firm(0.0)).map(SquareMetre),
            conductivity: conductivity.unwrap_or(firm(1.0)).map(Ratio),
            r20_nominal: nominal.unwrap_or(firm(0.0)).map(OhmPerMetre),
            r20_max: max.unwrap_or(firm(0.0)).map(OhmPerMetre),
            diameter: od.map(|g| g.map(Metre)),
            rating: rating.map(|g| g.map(Kelvin)),
            volts: volts.map(|g| g.map(Volt)),
            mass: mass.map(|g| g.map(KilogramPerMetre)),
            alloy,
            at,
        };
        let id = self.wire_types.specs.push(spec);
        self.wire_types.rows.insert(row, id);
        id
    }

    pub(super) fn catalog_value(
        &mut self,
        item: Item,
        word: &str,
        field: &'static str,
        quantity: Quantity,
        title: &str,
        source: &str,
    ) -> Given<f64> {
        let note = match item.how {
            How::Firm => None,
            How::Recalled | How::Practice => Some(self.note(Note {
                standing: if item.how == How::Recalled { Standing::Recalled } else { Standing::Assumed },
                what: format!("{word} of {title}"),
                value: quantity::show(item.si, quantity),
                source: match (item.how, field) {
                    (How::Practice, _) => "common practice, no source".to_owned(),
                    (_, "nominal") => "computed from area and conductivity with 2 % lay [from memory]".to_owned(),
                    _ => source.to_owned(),
                },
                at: item.at,
                subject: None,
                field,
                owner: None,
                need: None,
            })),
        };
        Given { value: item.si, at: item.at, note }
    }
}

fn wire_table() -> &'static TableSpec {
    fields::table("wire").expect("the table of fields has wires")
}

/// Notes and columns of the user's own, as one text.
fn joined_notes(notes: Option<(&Name, Span)>, own: &[(String, String)], row_at: Span) -> Option<Given<Arc<str>>> {
    if own.is_empty() {
        return notes.map(|(text, at)| Given::firm(text.clone(), at));
    }
    let mut parts: Vec<String> = notes.iter().map(|(text, _)| text.to_string()).collect();
    parts.extend(own.iter().map(|(head, text)| format!("{}: {text}", head.trim_start_matches("note_"))));
    Some(Given::firm(parts.join("; ").into(), notes.map_or(row_at, |(_, at)| at)))
}

/// Number of strands of a construction that begins with it: 19 of `19x34 tin-coated copper`.
fn strands(construction: &str) -> Option<u32> {
    let (count, _) = construction.split_once('x')?;
    count.parse().ok().filter(|count| *count > 0)
}
