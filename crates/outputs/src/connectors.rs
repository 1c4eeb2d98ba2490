//! `show connectors`: every half with what is known of it.

use crate::json::{AtRow, SubjectRow};
use crate::show::Asked;
use crate::table::Grid;
use crate::view::landings;
use crate::{Style, View};
use model::*;
use serde::Serialize;

/// A row of `show connectors`.
#[derive(Debug, Serialize)]
pub struct ConnectorRow {
    /// The half.
    pub subject: SubjectRow,
    /// The unit whose wall it sits in; null for a half on a harness.
    pub unit: Option<String>,
    /// `plug` or `receptacle`.
    pub half: Option<&'static str>,
    /// `pins` or `sockets`.
    pub gender: Option<&'static str>,
    /// `crimp`, `hermetic` or `terminals`.
    pub kind: &'static str,
    /// Insert arrangement.
    pub arrangement: Option<String>,
    /// Keying.
    pub keying: Option<String>,
    /// Contact size.
    pub contact: Option<String>,
    /// Cavities in all, if known.
    pub cavities: Option<usize>,
    /// Cavities on which a wire, an element of the unit or a row of an interface sheet other than spare or no-connect stands.
    pub used: usize,
    /// Contacts of which CT-01 judges the current.
    pub contacts_judged: usize,
    /// Of these, how many are above 80 % of what they may carry, each in its own worst state.
    pub contacts_loaded: usize,
    /// The half it mates with.
    pub mate: Option<String>,
    /// Section it stays with.
    pub section: Option<String>,
    /// Connectors declared within reach.
    pub near: Vec<String>,
    /// Items that some phase fits on it.
    pub fitted: Vec<String>,
    /// Its row.
    pub at: AtRow,
}

/// Connector halves in the order of the input; halves that only follow from a unit's own are left out unless all are asked for.
pub fn connectors(view: &View, asked: &Asked) -> Vec<ConnectorRow> {
    let design = view.design;
    let mut used = vec![false; design.pins.len()];
    for (end, ..) in landings(design) {
        if let End::Pin(pin) = end {
            used[pin.row()] = true;
        }
    }
    for (_, port) in design.ports.iter() {
        if !matches!(port.meaning.value, PinMeaning::Spare | PinMeaning::NoConnect) {
            used[port.pin.row()] = true;
        }
    }
    let mut count = vec![0; design.connectors.len()];
    for (id, pin) in design.pins.iter().filter(|(id, _)| used[id.row()]) {
        let _ = id;
        count[pin.connector.row()] += 1;
    }
    let loaded = loaded(view);
    let name = |id: Id<Connector>| design.connectors[id].name.to_string();
    let mut rows = Vec::new();
    for (id, connector) in design.connectors.iter() {
        let subject = view.subject_row(Subject::Connector(id));
        let is_listed = asked.all || connector.implied != Implied::AsMate;
        if !is_listed || !asked.wants_row(&subject) {
            continue;
        }
        let of_unit = connector.unit.and_then(|unit| design.units[unit.value].section);
        let section = connector.section.map(|s| s.value).or(of_unit);
        let fitted = design.fitted.iter().filter(|(_, item)| item.connector.value == id);
        rows.push(ConnectorRow {
            subject,
            unit: connector.unit.map(|unit| design.units[unit.value].name.to_string()),
            half: connector.half.map(|half| match half.value {
                Half::Plug => "plug",
                Half::Receptacle => "receptacle",
            }),
            gender: connector.gender.map(|gender| match gender.value {
                Gender::Pins => "pins",
                Gender::Sockets => "sockets",
            }),
            kind: match connector.kind {
                ConnectorKind::Crimp => "crimp",
                ConnectorKind::Hermetic => "hermetic",
                ConnectorKind::Terminals => "terminals",
            },
            arrangement: connector.arrangement.map(|a| design.arrangements[a.value].name.to_string()),
            keying: connector.keying.as_ref().map(|k| k.value.to_string()),
            contact: connector.contact.as_ref().map(|c| c.value.to_string()),
            cavities: match (connector.arrangement, connector.cavities) {
                (Some(arrangement), _) => Some(design.arrangements[arrangement.value].cavities.len()),
                (None, Some(cavities)) => Some(cavities.value as usize),
                (None, None) => None,
            },
            used: count[id.row()],
            contacts_judged: loaded[id.row()].0,
            contacts_loaded: loaded[id.row()].1,
            mate: connector.mate.map(|mate| name(mate.value)).filter(|mate| !mate.ends_with(":mate")),
            section: section.map(|s| design.sections[s].name.to_string()),
            near: connector.near.iter().map(|near| name(near.value)).collect(),
            fitted: fitted.map(|(item, _)| design.subject_words(Subject::Fitted(item))).collect(),
            at: view.at_row(connector.at),
        });
    }
    rows
}

/// Share of what a contact may carry from which it counts as loaded: common practice, no source. That not all contacts of a connector may
/// carry their rating at once: NAVSEA SD-18, connector derating (read).
const LOADED: f64 = 0.8;

/// Of each connector half, how many contacts are judged by CT-01 and how many of them are loaded.
fn loaded(view: &View) -> Vec<(usize, usize)> {
    let mut all = vec![(0, 0); view.design.connectors.len()];
    for margin in view.verdict.margins.iter().filter(|margin| margin.rule.0 == "CT-01") {
        let Subject::Element(ElementId::Contact(id)) = margin.subject else { continue };
        let contact = &view.design.contacts[id];
        for pin in [contact.a, contact.b] {
            let of = &mut all[view.design.pins[pin].connector.row()];
            of.0 += 1;
            of.1 += usize::from(margin.value > LOADED * margin.limit);
        }
    }
    all
}

/// The connectors as text.
pub fn connectors_text(rows: &[ConnectorRow], style: Style) -> String {
    if rows.is_empty() {
        return "nothing to show\n".to_owned();
    }
    let heads = [
        "connector",
        "unit",
        "half",
        "has",
        "kind",
        "arrangement",
        "keying",
        "contacts",
        ">used",
        ">above 80 %",
        "mates with",
        "section",
        "near",
        "fitted",
    ];
    let mut grid = Grid::new(&heads);
    for row in rows {
        let text = |t: Option<&str>| t.unwrap_or_default().to_owned();
        grid.row(vec![
            row.subject.name.clone(),
            text(row.unit.as_deref()),
            text(row.half),
            text(row.gender),
            row.kind.to_owned(),
            text(row.arrangement.as_deref()),
            text(row.keying.as_deref()),
            row.contact.as_ref().map_or(String::new(), |size| format!("size {size}")),
            row.cavities.map_or(row.used.to_string(), |all| format!("{} of {all}", row.used)),
            if row.contacts_judged == 0 { String::new() } else { format!("{} of {}", row.contacts_loaded, row.contacts_judged) },
            text(row.mate.as_deref()),
            text(row.section.as_deref()),
            row.near.join(", "),
            row.fitted.join(", "),
        ]);
    }
    grid.render(style)
}
