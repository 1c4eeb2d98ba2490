//! `show protection`: each breaker, fuse and limiter with what it guards, and what it does about the faults there.

use crate::fault_currents::cleared;
use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::protection::{Burning, FedWire};
use model::*;
use rules::{Case, Faults};
use serde::Serialize;

/// A row of `show protection`.
#[derive(Debug, Serialize)]
pub struct ProtectionRow {
    /// The device.
    pub subject: SubjectRow,
    /// Rating.
    pub rating_a: Option<f64>,
    /// Type in the catalog.
    pub device: Option<String>,
    /// Rating that the type's times are scaled from, where it has none of its own.
    pub shape_of_a: Option<f64>,
    /// What it holds for good, in the hottest ambient of all phases.
    pub holds_a: Option<f64>,
    /// What it has to open for in the end, in the coldest ambient of all phases.
    pub opens_a: Option<f64>,
    /// Wires that it guards.
    pub wires: usize,
    /// The thinnest of them.
    pub thinnest_awg: Option<String>,
    /// Largest fault current through it.
    pub largest_a: Option<f64>,
    /// What it interrupts.
    pub interrupts_a: Option<f64>,
    /// Smallest fault current of the wires that it guards.
    pub smallest_a: Option<f64>,
    /// Of those faults the longest time until nothing feeds it.
    pub latest_s: Option<f64>,
    /// The wire of that fault.
    pub smallest_at: Option<String>,
    /// Smallest of those faults through a series arc.
    pub arc_a: Option<f64>,
    /// Whether a device has to open for it; null where that is not known.
    pub arc_opens: Option<bool>,
    /// What has to be known beside the numbers.
    pub notes: Vec<String>,
}

/// Every breaker, fuse and limiter, in the order of the input.
pub fn protection(view: &View, asked: &Asked) -> Vec<ProtectionRow> {
    let Some(protection) = view.protection else { return Vec::new() };
    let design = view.design;
    let faults = Faults { protection, points: view.points };
    let case = Case { design, prepared: view.prepared, today: None };
    let mut guards: Vec<Vec<&FedWire>> = vec![Vec::new(); design.protectors.len()];
    for fed in &protection.wires {
        for &device in &fed.guards {
            guards[device.row()].push(fed);
        }
    }
    let mut largest: Vec<Option<f64>> = vec![None; design.protectors.len()];
    for burning in protection.wires.iter().filter_map(|fed| fed.largest.as_ref()) {
        for carries in &burning.devices {
            let kept = &mut largest[carries.device.row()];
            *kept = Some(kept.unwrap_or(0.0).max(carries.now.0));
        }
    }
    let mut rows = Vec::new();
    for (id, row) in design.protectors.iter() {
        let (kind, name) = design.element_name(ElementId::Protector(id));
        if !asked.wants(kind, &name) {
            continue;
        }
        let device = design.device(id);
        let ambients: Vec<[physics::Kelvin; 2]> =
            design.phases.ids().map(|phase| design.device_ambient(phase).map(|ambient| ambient.value)).collect();
        let coldest = ambients.iter().map(|[cold, _]| *cold).min_by(|a, b| a.0.total_cmp(&b.0));
        let hottest = ambients.iter().map(|[_, hot]| *hot).max_by(|a, b| a.0.total_cmp(&b.0));
        let smallest: Vec<&Burning> = guards[id.row()].iter().filter_map(|fed| fed.smallest.as_ref()).collect();
        let least = smallest.iter().min_by(|a, b| a.current.0.total_cmp(&b.current.0)).copied();
        let times: Vec<Result<f64, String>> = smallest.iter().map(|burning| cleared(design, &burning.latest)).collect();
        let latest =
            times.iter().all(Result::is_ok).then(|| times.iter().flatten().copied().fold(0.0, f64::max)).filter(|_| !times.is_empty());
        let arc = least.and_then(|burning| rules::arc(&case, &faults, burning, design.profile.protection.arc?.high.value));
        let mut notes: Vec<String> = Vec::new();
        if let Some(why) = times.iter().find_map(|time| time.as_ref().err()) {
            notes.push(why.clone());
        }
        let shape_of = device.and_then(|device| device.shape_of);
        if let Some(of) = shape_of {
            notes.push(format!("shape assumed: times of {}", number::with_unit(of.0, "A")));
        }
        if arc.as_ref().is_some_and(|arc| arc.opens == Some(false)) {
            notes.push("not protected against arcing faults by this device".to_owned());
        }
        if guards[id.row()].is_empty() {
            notes.push("is the nearest device of no fed wire".to_owned());
        }
        let gauge = |fed: &&&FedWire| Some(design.wire_specs[design.wires[fed.wire].spec?.value].gauge);
        let thinnest = guards[id.row()].iter().filter_map(|fed| gauge(&fed)).max_by_key(|gauge| gauge.0);
        rows.push(ProtectionRow {
            subject: SubjectRow { kind, name },
            rating_a: row.rating.and_then(|rating| number::json(rating.value.0)),
            device: device.map(|device| device.name.to_string()),
            shape_of_a: shape_of.and_then(|of| number::json(of.0)),
            holds_a: device.and_then(|device| device.trip.holds(hottest?)).and_then(|a| number::json(a.0)),
            opens_a: device.and_then(|device| device.trip.ultimate(coldest?)).and_then(|a| number::json(a.0)),
            wires: guards[id.row()].len(),
            thinnest_awg: thinnest.map(|gauge| gauge.to_string()),
            largest_a: largest[id.row()].and_then(number::json),
            interrupts_a: design.interrupts(id).and_then(|given| number::json(given.value.0)),
            smallest_a: least.and_then(|burning| number::json(burning.current.0)),
            latest_s: latest.and_then(number::json),
            smallest_at: least.map(|burning| design.wires[burning.fault.wire].name.to_string()),
            arc_a: arc.as_ref().and_then(|arc| number::json(arc.current.0)),
            arc_opens: arc.and_then(|arc| arc.opens),
            notes,
        });
    }
    rows
}

/// The rows as a table.
pub fn protection_text(view: &View, rows: &[ProtectionRow], style: Style) -> String {
    if view.design.protectors.is_empty() {
        return "the vehicle has no breaker, fuse or limiter\n".to_owned();
    }
    if rows.is_empty() {
        return "nothing to show: no breaker, fuse or limiter has that name\n".to_owned();
    }
    let heads =
        ["device", "rating", "type", "holds", "opens at", "wires", "thinnest", "largest", "interrupts", "smallest", "at", "by", "arc", ""];
    let mut grid = Grid::new(&heads);
    let amperes = |value: Option<f64>| value.map_or("–".to_owned(), |a| number::with_unit(a, "A"));
    for row in rows {
        let arc = match (row.arc_a, row.arc_opens) {
            (Some(current), Some(true)) => format!("{} opens", number::with_unit(current, "A")),
            (Some(current), Some(false)) => format!("{} stays", number::with_unit(current, "A")),
            (Some(current), None) => format!("{} ?", number::with_unit(current, "A")),
            (None, _) => "–".to_owned(),
        };
        grid.row(vec![
            row.subject.name.clone(),
            amperes(row.rating_a),
            row.device.clone().unwrap_or("–".to_owned()),
            amperes(row.holds_a),
            amperes(row.opens_a),
            row.wires.to_string(),
            row.thinnest_awg.as_ref().map_or("–".to_owned(), |gauge| format!("{gauge} AWG")),
            amperes(row.largest_a),
            amperes(row.interrupts_a),
            amperes(row.smallest_a),
            row.smallest_at.clone().unwrap_or("–".to_owned()),
            row.latest_s.map_or("–".to_owned(), |t| number::with_unit(t, "s")),
            arc,
            row.notes.join("; "),
        ]);
    }
    let mut text = grid.render(style);
    text.push('\n');
    let arc = view.design.profile.protection.arc.map_or(String::new(), |arc| {
        format!(
            "arc: the smallest fault through a series arc of {}; opens: a device has to open for it",
            number::with_unit(arc.high.value.0, "V")
        )
    });
    for line in [
        "holds, opens at: for good in the hottest ambient of all phases; in the end in the coldest",
        "largest, smallest: fault currents through it, and of the wires it is the nearest device of; by: the longest until nothing feeds those",
        "while a fault burns loads draw as the resistances that they were, and what may let go has let go",
        &arc,
        "the maker's certified curves and tests govern; against an arcing fault a thermal device may never open",
    ] {
        if !line.is_empty() {
            text.push_str(&style.faint(line));
            text.push('\n');
        }
    }
    text
}
