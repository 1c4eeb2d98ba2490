//! `show catalog`: every catalog value that the vehicle uses, with its source and how it is known.

use crate::json::AtRow;
use crate::profile::how;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use physics::battery::Form;
use physics::bundle::BendOf;
use serde::Serialize;

/// A row of `show catalog`.
#[derive(Debug, Serialize)]
pub struct CatalogRow {
    /// The catalog's row: `wire M22759/32 20 AWG`, `contact 20`, `arrangement 11-35`.
    pub of: String,
    /// What the value is.
    pub what: String,
    /// The value in `unit`; null where it is a word.
    pub value: Option<f64>,
    /// Unit of the value.
    pub unit: &'static str,
    /// The value as text.
    pub text: String,
    /// `read`, `recalled`, `practice` or `given`; empty for a word.
    pub how: &'static str,
    /// Where it comes from.
    pub source: String,
    /// Where it stands.
    pub at: AtRow,
}

/// Values of the rows in use: wire types, contact sizes, insert arrangements, devices, batteries, bend radii, ties and clamps.
pub fn catalog(view: &View) -> Vec<CatalogRow> {
    let design = view.design;
    let mut rows = Rows { view, of: String::new(), source: "", rows: Vec::new() };
    for (_, spec) in design.wire_specs.iter() {
        rows.begin(format!("wire {} {} AWG", spec.kind, spec.gauge), spec.at);
        if !spec.construction.is_empty() {
            rows.word("construction", spec.construction.clone(), spec.at);
        }
        if let Some(family) = &spec.family {
            rows.word("insulation", if spec.hard { format!("{family}, hard") } else { family.to_string() }, spec.at);
        }
        rows.number("cross-section", spec.area.map(|a| a.0 * 1e6), "mm2");
        rows.number("conductivity", spec.conductivity.map(|c| c.0 * 1e2), "%");
        rows.number("nominal resistance at 20 °C", spec.r20_nominal.map(|r| r.0 * 1e3), "mohm/m");
        rows.number("greatest resistance at 20 °C", spec.r20_max.map(|r| r.0 * 1e3), "mohm/m");
        rows.maybe("outside diameter", spec.diameter.map(|d| d.map(|d| d.0 * 1e3)), "mm");
        rows.maybe("temperature rating", spec.rating.map(|r| r.map(|t| t.celsius())), "degC");
        rows.maybe("voltage rating", spec.volts.map(|v| v.map(|v| v.0)), "V");
        rows.maybe("mass", spec.mass.map(|m| m.map(|m| m.0 * 1e3)), "g/m");
    }
    for (_, spec) in design.contact_specs.iter() {
        let kind = if spec.kind == ConnectorKind::Hermetic { "hermetic contact" } else { "contact" };
        rows.begin(format!("{kind} {}", spec.size), spec.at);
        rows.word("wire that fits", format!("{} to {} AWG", spec.gauge_min, spec.gauge_max), spec.at);
        rows.number("test current", spec.rating.map(|a| a.0), "A");
        for (gauge, current) in &spec.currents {
            rows.number(&format!("test current with {gauge} AWG"), current.map(|a| a.0), "A");
        }
        for (what, ohms) in [("least", spec.ohms.low), ("typical", spec.ohms.typical), ("greatest", spec.ohms.high)] {
            rows.number(&format!("{what} resistance"), ohms.map(|r| r.0 * 1e3), "mohm");
        }
        rows.maybe("mass", spec.mass.map(|m| m.map(|m| m.0 * 1e3)), "g");
    }
    for (_, arrangement) in design.arrangements.iter() {
        rows.begin(format!("arrangement {}", arrangement.name), arrangement.at);
        let cavities = Given { value: arrangement.cavities.len() as f64, at: arrangement.at, note: arrangement.note };
        rows.number("cavities", cavities, "");
        for (size, count) in &arrangement.sizes {
            rows.number(&format!("cavities of size {size}"), Given { value: f64::from(*count), ..cavities }, "");
        }
        if arrangement.cavities.iter().any(|cavity| cavity.size.is_none()) {
            rows.word("which cavity has which size", "not known".to_owned(), arrangement.at);
        }
        rows.maybe("shell", arrangement.shell.map(|shell| shell.map(|d| d.0 * 1e3)), "mm");
        rows.maybe("mass", arrangement.mass.map(|mass| mass.map(|m| m.0 * 1e3)), "g");
        let placed = arrangement.cavities.iter().filter(|cavity| cavity.position_mm.is_some()).count();
        let word = match placed {
            0 => "not known".to_owned(),
            n if n == arrangement.cavities.len() => "known".to_owned(),
            n => format!("known of {n}"),
        };
        rows.word("positions of cavities", word, arrangement.at);
    }
    for (_, device) in design.device_types.iter() {
        rows.begin(format!("device {} {} A", device.name, number::plain(device.trip.rating.0)), device.at);
        if let Some(from) = device.shape_of {
            rows.word("shape assumed", format!("scaled from {} A in multiples of the rating", number::plain(from.0)), device.at);
        }
        for (what, value, unit) in &device.stated {
            rows.number(what, *value, unit);
        }
        if device.trip.bands.is_empty() {
            rows.word("trip times", "not known".to_owned(), device.at);
        }
    }
    for (_, kind) in design.battery_types.iter() {
        battery(&mut rows, kind);
    }
    let practice = &design.practice;
    for bend in &practice.bends {
        let whose = match bend.rule.of {
            BendOf::Bundle => "the bundle",
            BendOf::Member => "the wire or cable",
        };
        rows.begin(format!("bend radius, {}", bend.of.word()), bend.at);
        let diameters = |value: f64| Given { value, at: bend.at, note: bend.note };
        rows.number(&format!("least, in diameters of {whose}"), diameters(bend.rule.minimum), "");
        rows.maybe(&format!("to be preferred, in diameters of {whose}"), bend.rule.preferred.map(diameters), "");
    }
    for (what, table) in [("ties", &practice.ties), ("clamps", &practice.clamps)] {
        for row in table {
            let of = row.step.to.map_or("any bundle".to_owned(), |to| format!("bundles up to {} mm", number::plain(to.0 * 1e3)));
            rows.begin(format!("{what} of {of}"), row.at);
            rows.number("farthest apart", Given { value: row.step.pitch.0 * 1e3, at: row.at, note: row.note }, "mm");
        }
    }
    rows.rows
}

/// Battery cells. Where some of a type's values are recalled or common practice, all are marked so: they are used together.
fn battery(rows: &mut Rows, kind: &BatteryType) {
    rows.begin(format!("battery {}", kind.name), kind.at);
    let note = kind.notes.first().copied();
    let given = |value: f64| Given { value, at: kind.at, note };
    rows.word("kind", if kind.curve.recharges { "rechargeable" } else { "primary" }.to_owned(), kind.at);
    rows.number("rated charge", given(kind.curve.rated.0 / 3600.0), "Ah");
    rows.number("rated at", given(kind.rated_at.celsius()), "degC");
    rows.maybe("rated at a current of", kind.rated_current.map(|current| given(current.value.0)), "A");
    rows.maybe("cut-off", kind.cut_off.map(|volts| given(volts.value.0)), "V");
    rows.maybe("greatest current for long", kind.most.map(|current| given(current.value.0)), "A");
    match &kind.curve.form {
        Form::Generic(_) => rows.word("curve", "from three points, whatever the temperature".to_owned(), kind.at),
        Form::Tables { emf, ohms, pairs } => {
            for (temperature, points) in &emf.rows {
                let at = format!("at {} °C", number::plain(temperature.celsius()));
                let ends = [("full", points.first()), ("empty", points.last())];
                for (what, point) in ends {
                    rows.maybe(&format!("voltage without load {at}, {what}"), point.map(|point| given(point.1)), "V");
                }
                let most = ohms.rows.iter().find(|(of, _)| of == temperature);
                let most = most.map(|(_, points)| points.iter().map(|point| point.1).fold(0.0, f64::max));
                rows.maybe(&format!("greatest resistance {at}"), most.map(|ohms| given(ohms * 1e3)), "mohm");
            }
            if !pairs.is_empty() {
                rows.word("what follows late", format!("{} pairs of a resistance and a capacitor", pairs.len()), kind.at);
            }
        }
    }
    if kind.curve.capacity.is_none() {
        rows.word("charge by rate and temperature", "not known".to_owned(), kind.at);
    }
    for (temperature, share, time) in &kind.losses {
        let what = format!("lost in {} days at {} °C", number::plain(time.0 / 86400.0), number::plain(temperature.celsius()));
        rows.number(&what, given(share.0 * 1e2), "%");
    }
}

/// Rows of the catalog as they come together.
struct Rows<'v> {
    view: &'v View<'v>,
    of: String,
    source: &'v str,
    rows: Vec<CatalogRow>,
}

impl<'v> Rows<'v> {
    fn begin(&mut self, of: String, at: Span) {
        self.of = of;
        self.source = self.source_at(at).unwrap_or("");
    }

    fn source_at(&self, at: Span) -> Option<&'v str> {
        self.view.design.catalog_sources.iter().find(|(of, _)| *of == at).map(|(_, source)| source.as_str())
    }

    fn number(&mut self, what: &str, value: Given<f64>, unit: &'static str) {
        let note = value.note.map(|id| self.view.design.note(id));
        let text = format!("{} {unit}", number::plain(value.value));
        self.rows.push(CatalogRow {
            of: self.of.clone(),
            what: what.to_owned(),
            value: number::json(value.value),
            unit,
            text: text.trim().to_owned(),
            how: how(self.view, value.note, !self.source.is_empty()),
            source: note.map_or(self.source_at(value.at).unwrap_or(self.source), |note| &note.source).to_owned(),
            at: self.view.at_row(value.at),
        });
    }

    fn maybe(&mut self, what: &str, value: Option<Given<f64>>, unit: &'static str) {
        if let Some(value) = value {
            self.number(what, value, unit);
        }
    }

    fn word(&mut self, what: &str, text: String, at: Span) {
        let how = "";
        let source = String::new();
        self.rows.push(CatalogRow {
            of: self.of.clone(),
            what: what.to_owned(),
            value: None,
            unit: "",
            text,
            how,
            source,
            at: self.view.at_row(at),
        });
    }
}

/// The catalog as text: a block for each row in use.
pub fn catalog_text(rows: &[CatalogRow], style: Style) -> String {
    if rows.is_empty() {
        return "no catalog row is in use\n".to_owned();
    }
    let mut text = String::new();
    for group in rows.chunk_by(|a, b| a.of == b.of) {
        let Some(first) = group.first() else { continue };
        text.push_str(&format!("{}   {}:{}\n", style.strong(&first.of), first.at.file, first.at.line));
        // The source comes last and is left as long as it is.
        let mut grid = Grid::new(&["", "", "", ""]);
        for row in group {
            grid.row(vec![format!("   {}", row.what), row.text.clone(), row.how.to_owned(), row.source.clone()]);
        }
        text.push_str(&grid.body());
        text.push('\n');
    }
    text
}
