//! Interface control sheets, and the list of pins with their meaning.

use super::end::NamedBy;
use super::{Build, Who};
use crate::codes;
use crate::fields::{self, MEANINGS, TableSpec};
use crate::folder::Folder;
use crate::sheet::{self, SheetRow};
use crate::value::{Row, Value};
use model::*;
use std::collections::HashMap;

impl Build {
    pub(super) fn sheets(&mut self, folder: &Folder, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "sheet") {
            // Its number is given out: a row that was not understood keeps its place.
            let unit = self.reference(row, "unit", "unit").unwrap_or(Given::firm(0, row.at)).map(Id::from_row);
            let text = |key: &str| row.text(key).map(|(text, at)| Given::firm(text.clone(), at));
            let status = row
                .text("status")
                .map(|(word, at)| Given::firm(if &**word == "draft" { SheetStatus::Draft } else { SheetStatus::Released }, at));
            self.design.sheets.push(Sheet {
                name: row.name.clone(),
                unit,
                revision: text("revision"),
                date: text("date"),
                status,
                at: row.at,
            });
        }
        let table = fields::table("pin").expect("the table of fields has pins");
        let sources = self.sources.clone();
        let mut first: HashMap<Id<Pin>, Span> = HashMap::new();
        for &file in &folder.pin_lists {
            let mut out = std::mem::take(&mut self.out);
            sheet::read(&sources, file, table, &mut out, &mut |_, row, out| {
                std::mem::swap(&mut self.out, out);
                self.port(table, row, &mut first);
                std::mem::swap(&mut self.out, out);
            });
            self.out = out;
        }
    }

    fn port(&mut self, table: &'static TableSpec, sheet_row: SheetRow, first: &mut HashMap<Id<Pin>, Span>) {
        let SheetRow { at, slots, .. } = sheet_row;
        let row = Row { table, name: Name::from(""), at, slots, broken: false };
        let who = Who { subject: Subject::Port(Id::from_row(self.design.ports.len())), kind: "pin", name: row.name.clone(), at };
        let Some((pin, pin_at)) = self.named_pin(&row) else { return };
        if let Some(before) = first.insert(pin, pin_at) {
            let name = self.pin_words(pin);
            self.out.push(
                Diagnostic::error(codes::TWICE, pin_at, "again", format!("pin {name} has two rows"))
                    .note(before, "first")
                    .help("keep one of the two: a pin has one meaning"),
            );
            return;
        }
        let own_return = row.text("own_return").map(|(text, at)| (text.clone(), at)).and_then(|(text, at)| self.pin_of(&text, at));
        if let Some(own) = own_return
            && own.value == pin
        {
            let name = self.pin_words(pin);
            self.out.push(
                Diagnostic::error(codes::SAME_END, own.at, "", format!("pin {name} is its own return"))
                    .note(pin_at, "the pin")
                    .help("name the pin that its current comes back on"),
            );
            return;
        }
        let sheet = match row.text("sheet").map(|(name, at)| (name.clone(), at)) {
            Some((name, at)) => self.reference_to(&name, at, "sheet").map(|g| g.map(Id::from_row)),
            None => self.only_sheet(pin).map(|sheet| Given::firm(sheet, at)),
        };
        if let Some(sheet) = sheet {
            self.of_this_unit(pin, pin_at, sheet);
        }
        let meaning = row.text("meaning").and_then(|(word, at)| {
            let found = MEANINGS.iter().position(|m| *m == &**word)?;
            Some(Given::firm(PinMeaning::ALL[found], at))
        });
        let Some(meaning) = meaning else { return };
        let signal = self.named(&row, "signal", &who);
        let changed = self.named(&row, "changed", &who);
        let grounded = row.cell("grounded").is_some_and(|c| matches!(c.value, Value::Flag(true)));
        self.design.ports.push(Port { pin, sheet, meaning, signal, own_return, changed, grounded, at });
    }

    /// The pin of a row: in one column, or by connector and cavity.
    fn named_pin(&mut self, row: &Row) -> Option<(Id<Pin>, Span)> {
        let whole = row.text("pin").map(|(text, at)| (text.clone(), at));
        let parts = row.text("connector").zip(row.text("cavity")).map(|((c, at), (p, to))| (c.clone(), p.clone(), at, to));
        match (whole, parts) {
            (Some((text, at)), None) if row.is_absent("connector") && row.is_absent("cavity") => {
                self.pin_of(&text, at).map(|pin| (pin.value, pin.at))
            }
            (None, Some((connector, cavity, at, cavity_at))) if row.is_absent("pin") => {
                let found = self.reference_to(&connector, at, "connector")?;
                self.own_pin(found.value, &cavity, cavity_at).map(|pin| (pin, cavity_at))
            }
            _ => {
                let bad = ["pin", "connector", "cavity"].into_iter().any(|key| !row.is_absent(key) && row.cell(key).is_none());
                if !bad {
                    self.out.push(
                        Diagnostic::error(codes::EXACTLY_ONE, row.at, "", "the row does not name one pin in one way")
                            .help("fill pin, or connector and cavity"),
                    );
                }
                None
            }
        }
    }

    pub(super) fn pin_of(&mut self, text: &str, at: Span) -> Option<Given<Id<Pin>>> {
        match self.resolve(text, at, NamedBy::Element)? {
            End::Pin(pin) => Some(Given::firm(pin, at)),
            _ => {
                self.out.push(Diagnostic::error(codes::BAD_END, at, "", format!("{text} is not a pin")).help("write a pin as J3.14"));
                None
            }
        }
    }

    /// The sheet of the pin's unit, if that unit has one and no more.
    fn only_sheet(&self, pin: Id<Pin>) -> Option<Id<Sheet>> {
        let unit = self.unit_of(pin)?;
        let mut sheets = self.design.sheets.iter().filter(|(_, sheet)| sheet.unit.value == unit).map(|(id, _)| id);
        let only = sheets.next();
        if sheets.next().is_some() { None } else { only }
    }

    /// A pin stands on a sheet of its own unit.
    fn of_this_unit(&mut self, pin: Id<Pin>, pin_at: Span, sheet: Given<Id<Sheet>>) {
        let row = &self.design.sheets[sheet.value];
        let Some(unit) = self.unit_of(pin) else { return };
        let known = |id: Id<Unit>| id.row() < self.design.units.len();
        // A sheet whose unit was not understood has it at the place of its own row.
        if row.unit.at == row.at || unit == row.unit.value || !known(unit) || !known(row.unit.value) {
            return;
        }
        let (own, other) = (self.design.units[unit].name.clone(), self.design.units[row.unit.value].name.clone());
        let (name, unit_at) = (row.name.clone(), row.unit.at);
        let pin_name = self.pin_words(pin);
        self.out.push(
            Diagnostic::error(
                codes::OTHER_UNIT,
                pin_at,
                "",
                format!("pin {pin_name} is of unit {own}, and sheet {name} is of unit {other}"),
            )
            .note(unit_at, "the sheet's unit")
            .help("name a sheet of the pin's own unit"),
        );
    }
}
