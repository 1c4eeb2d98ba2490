//! `show profile`: every limit with its value and its source.

use crate::json::AtRow;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::Serialize;

/// A row of `show profile`.
#[derive(Debug, Serialize)]
pub struct ProfileRow {
    /// The limit, as the profile's file names it.
    pub limit: &'static str,
    /// Of `apart`: the two classes that must not lie in one segment; else empty.
    pub classes: Vec<String>,
    /// Its value, in `unit`.
    pub value: Option<f64>,
    /// `V` or `m`, or empty for a share.
    pub unit: &'static str,
    /// What it names, where it has no value: tables of the catalog.
    pub name: Option<String>,
    /// `read`, `recalled`, `practice` or `given`.
    pub how: &'static str,
    /// Where it comes from.
    pub source: String,
    /// Where it stands.
    pub at: AtRow,
}

/// Limits of the profile in force, in the order of its file.
pub fn profile(view: &View) -> Vec<ProfileRow> {
    let profile = &view.design.profile;
    let row = |&(limit, ref source): &(&'static str, String)| {
        let (value, unit) = value(profile, limit)?;
        Some(ProfileRow {
            limit,
            classes: Vec::new(),
            value: number::json(value.value),
            unit,
            name: None,
            how: how(view, value.note, !source.is_empty()),
            source: source.clone(),
            at: view.at_row(value.at),
        })
    };
    profile.sources.iter().filter_map(row).chain(apart(view)).chain(tables(view)).chain(tier(view)).collect()
}

/// Pairs of classes to be kept apart: rows without a number.
fn apart<'a>(view: &'a View) -> impl Iterator<Item = ProfileRow> + 'a {
    view.design.profile.apart.iter().map(|pair| ProfileRow {
        limit: "apart",
        classes: pair.classes.iter().map(|class| view.design.class_name(*class).to_owned()).collect(),
        value: None,
        unit: "",
        name: None,
        how: pair.how.word(),
        source: pair.source.clone(),
        at: view.at_row(pair.at),
    })
}

/// Tables that the profile names: rows without a number.
fn tables(view: &View) -> impl Iterator<Item = ProfileRow> {
    let ampacity = view.design.ampacity.as_ref().map(|tables| ("ampacity", &tables.rules, tables.sources.join("; ")));
    let chart = view.design.protector_chart.as_ref().map(|chart| ("protector_chart", &chart.name, chart.source.clone()));
    [ampacity, chart].into_iter().flatten().map(|(limit, name, source)| ProfileRow {
        limit,
        classes: Vec::new(),
        value: None,
        unit: "",
        name: Some(name.value.to_string()),
        how: "",
        source,
        at: view.at_row(name.at),
    })
}

/// The tier that bounds essential functions: the programme's own choice, without a source.
fn tier(view: &View) -> Option<ProfileRow> {
    let tier = view.design.profile.protection.essential_tier?;
    Some(ProfileRow {
        limit: "essential_tier",
        classes: Vec::new(),
        value: None,
        unit: "",
        name: Some(tier.value.to_string()),
        how: how(view, tier.note, false),
        source: "the profile's own choice".to_owned(),
        at: view.at_row(tier.at),
    })
}

fn value(profile: &LimitsProfile, limit: &str) -> Option<(Given<f64>, &'static str)> {
    let volts = |given: Given<physics::Volt>| (given.map(|v| v.0), "V");
    let share = |given: Given<physics::Ratio>| (given.map(|r| r.0), "");
    let metre = |given: Given<physics::Metre>| (given.map(|m| m.0), "m");
    let conductance = |given: Given<physics::WattPerMetreKelvin>| (given.map(|g| g.0), "W/m/K");
    if let Some(kind) = NeighbourKind::ALL.into_iter().find(|kind| kind.clearance_field() == limit) {
        return Some(metre(profile.clearance(kind)?));
    }
    Some(match limit {
        "nominal" => volts(profile.nominal),
        "drop_continuous" => volts(profile.drop_continuous),
        "drop_intermittent" => volts(profile.drop_intermittent),
        "volts_min" => volts(profile.volts_min),
        "volts_max" => volts(profile.volts_max),
        "bus_min" => volts(profile.bus_min?),
        "bus_max" => volts(profile.bus_max?),
        "contact_derating" => share(profile.contact_derating?),
        "hole_clearance" => metre(profile.hole_clearance?),
        "ties_beyond" => metre(profile.ties_beyond?),
        "wire_current_difference" => share(profile.wire_current_difference?),
        "fill" => share(profile.fill?),
        "bundle_heat_margin" => (profile.bundle_heat_margin?.map(|k| k.0), "K"),
        "contact_conductance_low" => conductance(profile.contact_conductance[0]?),
        "contact_conductance" => conductance(profile.contact_conductance[1]?),
        "contact_conductance_high" => conductance(profile.contact_conductance[2]?),
        "touch_limit" => (profile.touch_limit?.map(|t| t.celsius()), "degC"),
        "clears_within" => (profile.protection.clears_within?.map(|t| t.0), "s"),
        "breaker_share" => share(profile.protection.breaker_share?),
        "fuse_share" => share(profile.protection.fuse_share?),
        "limiter_share" => share(profile.protection.limiter_share?),
        "arc_voltage_low" => volts(profile.protection.arc?.low),
        "arc_voltage" => volts(profile.protection.arc?.typical),
        "arc_voltage_high" => volts(profile.protection.arc?.high),
        "inductance_per_metre" => (profile.protection.inductance_per_metre?, "H/m"),
        "damage_share" => share(profile.protection.damage_share?),
        "energy_reserve" => share(profile.energy.reserve?),
        "charge_uncertainty" => share(profile.energy.uncertainty?),
        "firing_margin" => share(profile.ordnance.firing_margin?),
        "stray_share" => share(profile.ordnance.stray_share?),
        "stray_current" => (profile.ordnance.stray_current?.map(|i| i.0), "A"),
        _ => return None,
    })
}

/// How a value of profile or catalog is known.
pub(crate) fn how(view: &View, note: Option<NoteId>, has_source: bool) -> &'static str {
    match note.map(|id| view.design.note(id).standing) {
        Some(Standing::Recalled) => "recalled",
        Some(Standing::Assumed) => "practice",
        Some(standing) => standing.word(),
        None if has_source => "read",
        None => "given",
    }
}

/// The profile as text, with the rules it leaves out.
pub fn profile_text(view: &View, rows: &[ProfileRow], style: Style) -> String {
    let profile = &view.design.profile;
    let mut grid = Grid::new(&["limit", ">value", "how", "source", "at"]);
    for row in rows {
        let value = match (row.value, row.unit) {
            (None, _) if !row.classes.is_empty() => row.classes.join(" · "),
            (None, _) => row.name.clone().unwrap_or_else(|| "–".to_owned()),
            (Some(share), "") => format!("{} %", number::significant(share * 100.0, 3)),
            (Some(value), unit) => number::with_unit(value, unit),
        };
        let at = format!("{}:{}", row.at.file, row.at.line);
        grid.row(vec![row.limit.replace('_', " "), value, row.how.to_owned(), row.source.clone(), at]);
    }
    let title = if profile.title.is_empty() { String::new() } else { format!("   {}", profile.title) };
    let mut text = format!("{}{title}\n\n{}", style.strong(&profile.name), grid.render(style));
    for (rule, reason) in &profile.left_out {
        text.push_str(&format!("left out: {}: {reason} ({})\n", rule.value, view.place(rule.at)));
    }
    text.push_str("\na load's own row goes before the profile: volts_min, volts_max, drop_allowed\n");
    text
}
