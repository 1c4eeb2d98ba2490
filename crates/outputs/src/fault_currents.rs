//! `show faultcurrents`: what flows when a fed wire is shorted, through which devices, and when they open.

use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::protection::{Against, Burning, Fault, Faults, FedWire};
use model::*;
use serde::Serialize;

/// A row of `show faultcurrents`.
#[derive(Debug, Serialize)]
pub struct FaultRow {
    /// The wire.
    pub subject: SubjectRow,
    /// `largest` or `smallest` that can occur; null of a place in between that was asked for.
    pub which: Option<&'static str>,
    /// Where: 0 at `from`, 1 at `to`.
    pub place: f64,
    /// What it is joined to: `return W2`, `structure at GD`.
    pub against: String,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// The only source, where the others are taken away.
    pub alone: Option<String>,
    /// Through the fault.
    pub current_a: Option<f64>,
    /// In the wire.
    pub in_wire_a: Option<f64>,
    /// The device that opens last in the longest case, or that carries most.
    pub device: Option<String>,
    /// What that device carries.
    pub device_a: Option<f64>,
    /// Devices that open, in their order, with every one at its longest time.
    pub opens: Vec<String>,
    /// Cleared at the earliest; null where it is not.
    pub earliest_s: Option<f64>,
    /// Cleared at the latest; null where it is not.
    pub latest_s: Option<f64>,
    /// Why it is not cleared, or what is not known.
    pub reason: Option<String>,
}

/// Of each fed wire the largest and the smallest fault; of wires asked for by name also near, half-way and far in both states.
pub fn fault_currents(view: &View, asked: &Asked) -> Vec<FaultRow> {
    let Some(protection) = view.protection else { return Vec::new() };
    let wanted = |fed: &&FedWire| {
        let (kind, name) = view.design.element_name(ElementId::Wire(fed.wire));
        asked.wants(kind, &name)
    };
    let wires: Vec<&FedWire> = protection.wires.iter().filter(wanted).collect();
    // The states that more faults are asked for in, each set up once.
    let state = |burning: &Burning| (burning.fault.phase, burning.fault.corner);
    let burning = wires.iter().flat_map(|fed| [&fed.largest, &fed.smallest]).flatten();
    let mut states: Vec<(Id<Phase>, Corner)> = burning.filter(|_| !asked.names.is_empty()).map(state).collect();
    states.sort_unstable();
    states.dedup();
    let settled = states.iter().map(|of| view.points.iter().find(|p| (p.scenario.phase, p.scenario.corner) == *of));
    let held: Vec<Option<Point>> = settled.map(|point| point.map(|point| view.prepared.with_loads_held(point))).collect();
    let faults: Vec<Option<Faults>> = held.iter().map(|held| held.as_ref().map(|held| view.prepared.faults(held))).collect();
    let mut rows = Vec::new();
    for fed in wires {
        let cases = [("largest", &fed.largest), ("smallest", &fed.smallest)];
        for (which, burning) in cases.iter().filter_map(|(which, burning)| Some((*which, burning.as_ref()?))) {
            if asked.phase.is_none_or(|phase| phase == burning.fault.phase) {
                rows.push(row(view, fed, Some(which), burning));
            }
        }
        if asked.names.is_empty() {
            continue;
        }
        for (_, burning) in cases.iter().filter_map(|(which, burning)| Some((*which, burning.as_ref()?))) {
            let Some(faults) = states.binary_search(&state(burning)).ok().and_then(|at| faults[at].as_ref()) else { continue };
            for at in [0.0, 0.5, 1.0] {
                if at != burning.fault.at
                    && asked.phase.is_none_or(|phase| phase == burning.fault.phase)
                    && let Some(found) = faults.burning(Fault { at, ..burning.fault })
                {
                    rows.push(row(view, fed, None, &found));
                }
            }
        }
    }
    rows
}

/// How a fault is cleared, in seconds, or why it is not.
pub(crate) fn cleared(design: &Design, clearing: &Clearing) -> Result<f64, String> {
    let after = || match clearing.opens.is_empty() {
        true => String::new(),
        false => {
            let names: Vec<String> = clearing.opens.iter().map(|(_, device)| device_name(design, *device)).collect();
            format!(" after {} opened", names.join(", "))
        }
    };
    match &clearing.end {
        Ends::Cleared(t) => Ok(t.0),
        Ends::Burns(current) => Err(format!("{} go on{}: no device has to open for them", number::with_unit(current.0, "A"), after())),
        Ends::Unprotected(current) => {
            Err(format!("{} go on{}: no device lies between source and fault", number::with_unit(current.0, "A"), after()))
        }
        Ends::NotKnown(device) => Err(format!("when {} opens is not known{}", device_name(design, *device), after())),
        Ends::Unsettled => Err(format!("the network does not settle{}", after())),
    }
}

fn device_name(design: &Design, device: Id<Protector>) -> String {
    design.protectors[device].name.to_string()
}

pub(crate) fn against_words(design: &Design, against: Against) -> String {
    match against {
        Against::Return(wire) => format!("return {}", design.wires[wire].name),
        Against::Structure(ground) => format!("structure at {}", design.grounds[ground].name),
    }
}

fn row(view: &View, fed: &FedWire, which: Option<&'static str>, burning: &Burning) -> FaultRow {
    let design = view.design;
    let (kind, name) = design.element_name(ElementId::Wire(fed.wire));
    let most = burning.devices.iter().max_by(|a, b| a.now.0.total_cmp(&b.now.0));
    let last = burning.latest.opens.last().and_then(|(_, device)| burning.devices.iter().find(|carries| carries.device == *device));
    let device = last.or(most);
    let latest = cleared(design, &burning.latest);
    FaultRow {
        subject: SubjectRow { kind, name },
        which,
        place: burning.fault.at,
        against: against_words(design, burning.fault.against),
        phase: design.phases[burning.fault.phase].name.to_string(),
        corner: burning.fault.corner.word(),
        alone: burning.fault.alone.map(|id| design.batteries[id].name.to_string()),
        current_a: number::json(burning.current.0),
        in_wire_a: number::json(burning.in_wire().0),
        device: device.map(|carries| device_name(design, carries.device)),
        device_a: device.and_then(|carries| number::json(carries.now.0)),
        opens: burning.latest.opens.iter().map(|(_, device)| device_name(design, *device)).collect(),
        earliest_s: cleared(design, &burning.earliest).ok().and_then(number::json),
        latest_s: latest.as_ref().ok().copied().and_then(number::json),
        reason: latest.err(),
    }
}

/// The rows as a table.
pub fn fault_currents_text(view: &View, rows: &[FaultRow], style: Style) -> String {
    if view.protection.is_none_or(|protection| protection.wires.is_empty()) {
        return "no wire is fed by a battery or supply\n".to_owned();
    }
    if rows.is_empty() {
        return "nothing to show: no fed wire has that name, or nothing feeds it\n".to_owned();
    }
    let mut grid = Grid::new(&["wire", "at", "against", "current", "which", "device", "carries", "opens", "phase", "corner", ""]);
    let amperes = |value: Option<f64>| value.map_or("–".to_owned(), |a| number::with_unit(a, "A"));
    let mut last = String::new();
    for row in rows {
        let wire = if row.subject.name == last { String::new() } else { row.subject.name.clone() };
        last.clone_from(&row.subject.name);
        let place = match row.place {
            0.0 => "from".to_owned(),
            1.0 => "to".to_owned(),
            at => format!("{} %", number::fixed(100.0 * at, 0)),
        };
        let opens = match (row.earliest_s, row.latest_s) {
            (Some(earliest), Some(latest)) => format!("{} to {}", number::with_unit(earliest, "s"), number::with_unit(latest, "s")),
            (None, Some(latest)) => format!("by {}", number::with_unit(latest, "s")),
            (Some(earliest), None) => format!("after {} or never", number::with_unit(earliest, "s")),
            (None, None) => "–".to_owned(),
        };
        let alone = row.alone.as_ref().map(|source| format!("{source} alone"));
        let notes: Vec<String> = alone.into_iter().chain(row.reason.clone()).collect();
        grid.row(vec![
            wire,
            place,
            row.against.clone(),
            amperes(row.current_a),
            row.which.unwrap_or_default().to_owned(),
            row.device.clone().unwrap_or_default(),
            amperes(row.device_a),
            opens,
            row.phase.clone(),
            row.corner.to_owned(),
            notes.join("; "),
        ]);
    }
    let mut text = grid.render(style);
    text.push('\n');
    for line in [
        "largest: of the high corner, all sources; smallest: of the low corner, one source alone where several feed it",
        "opens: every device at its shortest time in the hottest ambient of the phase, to every device at its longest in the coldest",
        "while it burns loads draw as the resistances that they were, and what may let go has let go; `whatif --short` keeps their laws",
        "the maker's certified curves and tests govern",
    ] {
        text.push_str(&style.faint(line));
        text.push('\n');
    }
    text
}
