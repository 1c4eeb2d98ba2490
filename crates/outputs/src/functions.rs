//! `show functions`: what the vehicle is for, what each function needs, and where it does not get it.

use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View};
use model::*;
use serde::Serialize;

/// A row of `show functions`.
#[derive(Debug, Serialize)]
pub struct FunctionRow {
    /// The function.
    pub subject: SubjectRow,
    /// Its title.
    pub title: String,
    /// How late it is given up: a lower tier is kept longer.
    pub tier: Option<u32>,
    /// Loads and sensors it needs.
    pub needs: Vec<SubjectRow>,
    /// How it needs them: `load:A and 1 of (load:B, load:C)`.
    pub need: String,
    /// How many faults at a time it has to survive.
    pub survives: Option<u32>,
    /// Phases in which it is wanted; empty for all.
    pub phases: Vec<String>,
    /// Phases in which something it needs is commanded off.
    pub off_in: Vec<String>,
    /// Phases in which something it needs is commanded on and gets nothing, or gives no reading, in some corner.
    pub unserved_in: Vec<String>,
}

/// The functions, in the order of the input.
pub fn functions(view: &View, asked: &Asked) -> Vec<FunctionRow> {
    let design = view.design;
    let mut rows = Vec::new();
    for (id, function) in design.functions.iter() {
        let subject = view.subject_row(Subject::Function(id));
        if !asked.wants_row(&subject) {
            continue;
        }
        let phases = |test: &dyn Fn(&Point, Subject) -> bool| -> Vec<String> {
            let fails = |point: &&Point| function.need.worst(&mut |need| matches!(need, Need::One(subject) if test(point, subject.value)));
            let mut names: Vec<String> = asked.points(view).filter(fails).map(|point| view.phase(point)).collect();
            names.dedup();
            names
        };
        rows.push(FunctionRow {
            subject,
            title: function.title.clone(),
            tier: function.tier.map(|tier| tier.value),
            needs: function.needs.iter().map(|need| view.subject_row(need.value)).collect(),
            need: need_words(design, &function.need, false),
            survives: function.survives.map(|given| given.value),
            phases: function.phases.iter().map(|phase| design.phases[phase.value].name.to_string()).collect(),
            off_in: phases(&|point, need| load_of(need).is_some_and(|load| point.load_state[load] == LoadState::Off)),
            unserved_in: phases(&|point, need| is_unserved(design, point, need)),
        });
    }
    rows
}

/// A need in words; `within`: whether it stands within another one.
fn need_words(design: &Design, need: &Need, within: bool) -> String {
    let list = |needs: &[Need], between: &str| needs.iter().map(|need| need_words(design, need, true)).collect::<Vec<_>>().join(between);
    match need {
        Need::One(subject) => design.subject_words(subject.value),
        Need::Path(ends) => format!("a way from {} to {}", design.end_name(ends.value[0]), design.end_name(ends.value[1])),
        Need::All(needs) if within && needs.len() > 1 => format!("({})", list(needs, " and ")),
        Need::All(needs) => list(needs, if within { " and " } else { ", " }),
        Need::AtLeast(least, needs) => format!("{least} of ({})", list(needs, ", ")),
    }
}

fn load_of(subject: Subject) -> Option<Id<Load>> {
    match subject {
        Subject::Element(ElementId::Load(id)) => Some(id),
        _ => None,
    }
}

fn is_unserved(design: &Design, point: &Point, need: Subject) -> bool {
    match need {
        Subject::Element(ElementId::Load(id)) => match point.load_state[id] {
            LoadState::Off => false,
            LoadState::DroppedOut { .. } => true,
            LoadState::On | LoadState::Unknown => !point.load_fed[id] || point.load_voltage[id].is_none(),
        },
        Subject::Element(ElementId::Sensor(id)) => {
            design.sensors[id].receiver.is_some_and(|receiver| point.receiver_voltage[receiver.value].is_none())
        }
        _ => false,
    }
}

/// `all but approach` where that is shorter.
pub(crate) fn phases_words(list: &[String], all: &[String]) -> String {
    let others: Vec<&str> = all.iter().filter(|phase| !list.contains(phase)).map(String::as_str).collect();
    match others.len() {
        0 if all.len() > 1 => "every phase".to_owned(),
        n if n < list.len() && list.len() > 2 => format!("all but {}", others.join(", ")),
        _ => list.join(", "),
    }
}

/// The functions as text.
pub fn functions_text(view: &View, rows: &[FunctionRow], style: Style) -> String {
    let phases = view.phase_names();
    if rows.is_empty() {
        return "no function is declared\n".to_owned();
    }
    let mut grid = Grid::new(&["function", "title", ">tier", ">survives", "needs", "off in", "not served in"]);
    for row in rows {
        grid.row(vec![
            row.subject.name.clone(),
            row.title.clone(),
            row.tier.map_or(String::new(), |tier| tier.to_string()),
            row.survives.map_or(String::new(), |survives| survives.to_string()),
            row.need.clone(),
            phases_words(&row.off_in, &phases),
            phases_words(&row.unserved_in, &phases),
        ]);
    }
    grid.render(style)
}
