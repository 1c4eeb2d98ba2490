//! `show ampacity`: what each wire carries against what its tables let it carry.

use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use physics::ampacity::Word;
use rules::{Allowed, Bundle, Case, WireAmpacity, WireCurrents};
use serde::Serialize;

/// A factor on the table's current.
#[derive(Debug, Serialize)]
pub struct FactorRow {
    /// `insulation`, `bundle`, `altitude`, `conductivity`.
    pub of: &'static str,
    /// The factor.
    pub factor: f64,
}

/// A row of `show ampacity`.
#[derive(Debug, Serialize)]
pub struct AmpacityRow {
    /// The wire.
    pub subject: SubjectRow,
    /// American wire gauge; null if `TBD`.
    pub gauge_awg: Option<String>,
    /// Where the wires counted are known from: `segment:S1`, `stated` in the list, or `unknown`.
    pub bundle: Option<String>,
    /// Wires counted, itself included.
    pub wires: Option<u32>,
    /// Mean over them of current over what each may carry alone.
    pub loaded_percent: Option<f64>,
    /// The table's current of a single wire.
    pub single_a: Option<f64>,
    /// Factors on it.
    pub factors: Vec<FactorRow>,
    /// What the factors give, where the table has a bundle current too.
    pub formula_a: Option<f64>,
    /// The table's own current for bundles.
    pub table_a: Option<f64>,
    /// Which is judged: `single`, `formula` or `table`.
    pub judged_by: Option<&'static str>,
    /// What it may carry.
    pub allowed_a: Option<f64>,
    /// What it carries, in size.
    pub current_a: Option<f64>,
    /// Whether the wire list states that current.
    pub is_stated: bool,
    /// What it may carry more.
    pub margin_a: Option<f64>,
    /// Hottest that the rule set lets its conductor get, whatever it carries.
    pub conductor_max_c: Option<f64>,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Where values were carried beyond their table.
    pub beyond_table: Vec<String>,
    /// Why it is not judged.
    pub reason: Option<String>,
}

/// Wires against their tables: of each its worst state, with `all` every state.
pub fn ampacity(view: &View, asked: &Asked) -> Vec<AmpacityRow> {
    let design = view.design;
    let case = Case { design, prepared: view.prepared, today: None };
    let mut of_wire: Vec<Vec<AmpacityRow>> = design.wires.iter().map(|_| Vec::new()).collect();
    for point in asked.points(view) {
        let currents = WireCurrents::new(&case, point);
        for (id, rows) in design.wires.ids().zip(&mut of_wire) {
            let (kind, name) = design.element_name(ElementId::Wire(id));
            let subject = SubjectRow { kind, name };
            if !asked.wants_row(&subject) {
                continue;
            }
            let Some(found) = currents.of(&case, point, id) else { continue };
            let new = row(view, point, id, subject, found);
            match rows.first_mut().filter(|_| !asked.all) {
                Some(kept) if is_worse(&new, kept) => *kept = new,
                Some(_) => {}
                None => rows.push(new),
            }
        }
    }
    of_wire.into_iter().flatten().collect()
}

/// What fails goes before what is not judged, and that before what passes; of two alike the one with less left.
fn is_worse(new: &AmpacityRow, kept: &AmpacityRow) -> bool {
    let rank = |row: &AmpacityRow| match row.margin_a {
        Some(margin) if margin < 0.0 => (0, margin),
        None => (1, 0.0),
        Some(margin) => (2, margin),
    };
    rank(new) < rank(kept)
}

fn row(view: &View, point: &Point, id: Id<Wire>, subject: SubjectRow, found: Result<WireAmpacity, (String, String)>) -> AmpacityRow {
    let design = view.design;
    let gauge_awg = design.wires[id].spec.map(|spec| design.wire_specs[spec.value].gauge.to_string());
    let judged = found.as_ref().map_err(Clone::clone).and_then(|found| found.judged(design));
    // Where it is not judged, what it might carry at best is still told.
    let allowed: Option<&Allowed> = match (&judged, &found) {
        (Ok(allowed), _) => Some(*allowed),
        (Err(_), Ok(found)) => Some(&found.kind),
        _ => None,
    };
    let found_ok = found.as_ref().ok();
    let json = |value: Option<f64>| value.and_then(number::json);
    AmpacityRow {
        subject,
        gauge_awg,
        bundle: allowed.map(|allowed| match allowed.bundle {
            Bundle::Segment(segment) => format!("segment:{}", design.segments[segment].name),
            Bundle::Stated => "stated".to_owned(),
            Bundle::Unknown => "unknown".to_owned(),
        }),
        wires: allowed.map(|a| a.counted.wires),
        loaded_percent: json(allowed.and_then(|a| a.counted.loaded).map(|share| 100.0 * share)),
        single_a: json(allowed.map(|a| a.single.0)),
        factors: allowed.into_iter().flat_map(|a| &a.factors).map(|&(of, factor)| FactorRow { of, factor }).collect(),
        formula_a: json(allowed.and_then(|a| a.formula).map(|a| a.0)),
        table_a: json(allowed.and_then(|a| a.table).map(|a| a.0)),
        judged_by: allowed.map(|a| a.by),
        allowed_a: json(allowed.map(|a| a.allowed.0)),
        current_a: json(found_ok.map(|found| found.current.0)),
        is_stated: found_ok.is_some_and(|found| found.is_stated),
        margin_a: judged.as_ref().ok().zip(found_ok).and_then(|(allowed, found)| number::json(allowed.allowed.0 - found.current.0)),
        conductor_max_c: json(allowed.and_then(|a| a.conductor_max).map(|t| t.celsius())),
        phase: view.phase(point),
        corner: point.scenario.corner.word(),
        beyond_table: allowed.into_iter().flat_map(|a| &a.words).map(beyond).collect(),
        reason: judged.err().map(|(field, why)| format!("{field}: {why}")),
    }
}

fn beyond(word: &Word) -> String {
    match word {
        Word::RiseAboveTable { most } => format!("rise above the table, held at its last of {} K", number::significant(most.0, 3)),
        Word::CountBeyondTable { last } => format!("more wires than the table's {last}, carried on with one over their root"),
        Word::LoadBelowTable { least } => format!("taken as {} % loaded, the table's least", number::significant(100.0 * least.0, 3)),
        Word::RatingRoundedDown { to } => format!("insulation taken as rated {} °C, the next lower row", number::fixed(to.celsius(), 0)),
    }
}

/// The table as text, with what its columns mean.
pub fn ampacity_text(view: &View, rows: &[AmpacityRow], style: Style) -> String {
    let Some(tables) = &view.design.ampacity else {
        return format!("the profile {} names no tables of wire current: its ampacity is not stated\n", view.design.profile.name);
    };
    let mut grid = Grid::new(&[
        "wire",
        ">AWG",
        "bundle",
        ">wires",
        ">loaded",
        ">alone A",
        "factors",
        ">formula A",
        ">table A",
        ">allowed A",
        ">carries A",
        ">left A",
        "phase",
        "corner",
        "",
    ]);
    // Less than half a milliampere is none, to what heats a wire.
    let amperes = |a: Option<f64>| a.map_or(String::new(), |a| if a.abs() < 5e-4 { "0".to_owned() } else { number::significant(a, 3) });
    for row in rows {
        let factors: Vec<String> = row.factors.iter().map(|f| format!("× {} {}", number::significant(f.factor, 3), f.of)).collect();
        let both = row.formula_a.is_some() && row.table_a.is_some();
        // Where two figures stand beside each other, the one that is judged bears a mark.
        let mark = |of: &str, text: String| if both && row.judged_by == Some(of) { format!("{text}*") } else { text };
        let mut notes = row.beyond_table.clone();
        notes.extend(row.is_stated.then(|| "current as the list states it".to_owned()));
        notes.extend(row.conductor_max_c.map(|t| format!("conductor at most {} °C", number::fixed(t, 0))));
        notes.extend(row.reason.as_ref().map(|reason| format!("not judged: {reason}")));
        grid.row(vec![
            row.subject.name.clone(),
            row.gauge_awg.clone().unwrap_or_default(),
            row.bundle.clone().unwrap_or_default(),
            row.wires.map_or(String::new(), |wires| wires.to_string()),
            row.loaded_percent.map_or(String::new(), |share| format!("{} %", number::significant(share, 2))),
            amperes(row.single_a),
            factors.join(" "),
            if both { mark("formula", amperes(row.formula_a)) } else { String::new() },
            mark("table", amperes(row.table_a)),
            amperes(row.allowed_a),
            amperes(row.current_a),
            amperes(row.margin_a),
            row.phase.clone(),
            row.corner.to_owned(),
            notes.join("; "),
        ]);
    }
    if grid.is_empty() {
        return "nothing to show\n".to_owned();
    }
    let mut text = format!("{}   tables of wire current\n\n{}\n", style.strong(&tables.rules.value), grid.render(style));
    for line in [
        "wires: all that lie in the segment of its route that lets it carry least, spare ones and itself included; else as the list states; where nothing says how \
         many run together, the wire alone if it fails even so, else all of the vehicle together",
        "loaded: the mean over those wires of current over what each may carry alone; one whose current is not known counts as full",
        "allowed: alone, times the factors; * marks the figure judged where the table has one of its own",
    ] {
        text.push_str(&style.faint(line));
        text.push('\n');
    }
    for source in &tables.sources {
        text.push_str(&style.faint(&format!("source: {source}")));
        text.push('\n');
    }
    text
}
