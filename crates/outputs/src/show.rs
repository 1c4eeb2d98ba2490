//! Tables of `show`. Each is built once as plain rows; text and JSON come from the same rows.

use crate::json::{AtRow, MarginRow, NoteRow, SubjectRow};
use crate::table::Grid;
use crate::view::{end_subject, landings};
use crate::{Style, View, number};
use model::*;
use serde::Serialize;

/// What `show` is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Only these subjects (`kind:name`); empty = all.
    pub names: Vec<String>,
    /// Only this phase.
    pub phase: Option<Id<Phase>>,
    /// Only margins of this rule, worst first.
    pub rule: Option<RuleCode>,
    /// Everything instead of the usual.
    pub all: bool,
}

impl Asked {
    /// Whether a thing is asked for, by its name or with its kind; everything where nothing is named.
    pub fn wants(&self, kind: &str, name: &str) -> bool {
        let is_it = |asked: &String| match asked.split_once(':') {
            Some((k, n)) => k == kind && n == name,
            None => asked == name,
        };
        self.names.is_empty() || self.names.iter().any(is_it)
    }
    /// Whether a group of things is asked for.
    pub(crate) fn wants_group(&self, kind: &str, name: &str) -> bool {
        self.wants(kind, name)
    }
    pub(crate) fn wants_row(&self, subject: &SubjectRow) -> bool {
        self.wants(subject.kind, &subject.name)
    }
    /// Settled states of the phases asked for.
    pub fn points<'a>(&self, view: &View<'a>) -> impl Iterator<Item = &'a Point> + use<'a> {
        let phase = self.phase;
        view.points.iter().filter(move |point| phase.is_none_or(|p| p == point.scenario.phase))
    }
}

/// A row of `show voltages`.
#[derive(Debug, Serialize)]
pub struct VoltageRow {
    /// The load, source, bus, sensor or end.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Voltage; null with a reason where there is none.
    pub voltage_v: Option<f64>,
    /// What it is measured against.
    pub against: String,
    /// How a load stands: `on`, `off`, `dropped out`, `demand TBD`.
    pub state: Option<&'static str>,
    /// What a sensor's receiver would read with ideal wiring.
    pub ideal_v: Option<f64>,
    /// Reading less ideal.
    pub error_v: Option<f64>,
    /// The error as a share of the sensor's span.
    pub error_percent: Option<f64>,
    /// The error of a sensor that reads a temperature.
    pub error_k: Option<f64>,
    /// Why there is no voltage.
    pub reason: Option<&'static str>,
}

/// Between which ends a voltage is shown; without `minus` against the zero of its part of the network.
struct Measured {
    subject: SubjectRow,
    plus: End,
    minus: Option<End>,
    load: Option<Id<Load>>,
}

/// Voltages of loads, sources, buses and sensors; with `all` of every end.
pub fn voltages(view: &View, asked: &Asked) -> Vec<VoltageRow> {
    let design = view.design;
    let mut rows = Vec::new();
    let mut measured: Vec<Measured> = Vec::new();
    let mut add = |(kind, name): (&'static str, String), plus, minus, load| {
        measured.push(Measured { subject: SubjectRow { kind, name }, plus, minus, load });
    };
    for (id, load) in design.loads.iter() {
        add(design.element_name(ElementId::Load(id)), load.line.value, Some(load.line_return.value), Some(id));
    }
    for (id, source) in design.batteries.iter() {
        add(design.element_name(ElementId::Source(id)), source.positive.value, Some(source.negative.value), None);
    }
    for (id, bus) in design.inner_nodes.iter().filter(|(_, node)| node.is_bus) {
        add(("bus", bus.name.to_string()), End::Inner(id), bus.bus_return.map(|r| r.value), None);
    }
    if asked.all {
        let mut ends: Vec<End> = landings(design).into_iter().map(|(end, ..)| end).filter(|end| *end != End::Stowed).collect();
        ends.extend(design.contacts.iter().flat_map(|(_, c)| [End::Pin(c.a), End::Pin(c.b)]));
        ends.sort_unstable();
        ends.dedup();
        let is_bus = |end: &End| matches!(end, End::Inner(id) if design.inner_nodes[*id].is_bus);
        for end in ends.into_iter().filter(|end| !is_bus(end)) {
            add(end_subject(design, end), end, None, None);
        }
    }
    for Measured { subject, plus, minus, load } in measured.iter().filter(|m| asked.wants_row(&m.subject)) {
        for point in asked.points(view) {
            let (value, against) = match minus {
                Some(minus) => (view.between(point, *plus, *minus), design.end_name(*minus)),
                None => view.against_zero(point, *plus),
            };
            rows.push(VoltageRow {
                subject: subject.clone(),
                phase: view.phase(point),
                corner: point.scenario.corner.word(),
                voltage_v: value.ok().and_then(number::json),
                against,
                state: load.map(|id| load_word(point.load_state[id])),
                ideal_v: None,
                error_v: None,
                error_percent: None,
                error_k: None,
                reason: value.err(),
            });
        }
    }
    rows.extend(sensor_rows(view, asked));
    rows
}

fn load_word(state: LoadState) -> &'static str {
    match state {
        LoadState::Off => "off",
        LoadState::On => "on",
        LoadState::DroppedOut { .. } => "dropped out",
        LoadState::Unknown => "demand TBD",
    }
}

/// What each sensor's receiver reads, beside what it would read with ideal wiring.
pub(crate) fn sensor_rows(view: &View, asked: &Asked) -> Vec<VoltageRow> {
    let design = view.design;
    let mut rows = Vec::new();
    let with_sensor = design.sensors.iter().filter_map(|(id, s)| Some((Some(id), s.receiver?.value)));
    let read: Vec<Id<Receiver>> = design.sensors.iter().filter_map(|(_, s)| Some(s.receiver?.value)).collect();
    let bare = design.receivers.ids().filter(|id| !read.contains(id)).map(|id| (None, id));
    for (sensor, receiver) in with_sensor.chain(bare) {
        let element = sensor.map_or(ElementId::Receiver(receiver), ElementId::Sensor);
        let (kind, name) = design.element_name(element);
        let (receiver_kind, receiver_name) = design.element_name(ElementId::Receiver(receiver));
        if !asked.wants(kind, &name) && !asked.wants(receiver_kind, &receiver_name) {
            continue;
        }
        for point in asked.points(view) {
            let voltage = point.receiver_voltage[receiver].map(|v| v.0);
            let ideal = sensor.map(|id| view.prepared.sensor_ideal(id).0);
            let error = voltage.zip(ideal).map(|(v, i)| v - i);
            let span = sensor.map(|id| design.sensors[id].law.span().0).filter(|span| *span != 0.0);
            let slope = sensor.and_then(|id| design.sensors[id].law.volts_per_kelvin()).filter(|slope| *slope != 0.0);
            rows.push(VoltageRow {
                subject: SubjectRow { kind, name: name.clone() },
                phase: view.phase(point),
                corner: point.scenario.corner.word(),
                voltage_v: voltage.and_then(number::json),
                against: format!("inputs of receiver:{receiver_name}"),
                state: None,
                ideal_v: ideal.and_then(number::json),
                error_v: error.and_then(number::json),
                error_percent: error.zip(span).and_then(|(e, s)| number::json(100.0 * e / s)),
                error_k: error.zip(slope).and_then(|(e, s)| number::json(e / s)),
                reason: voltage.is_none().then_some("not settled, or not connected in this state"),
            });
        }
    }
    rows
}

/// Voltages as text: a row per subject and phase, a column per corner; sensors in a block of their own.
pub fn voltages_text(rows: &[VoltageRow], style: Style) -> String {
    let (sensors, others): (Vec<&VoltageRow>, Vec<&VoltageRow>) =
        rows.iter().partition(|row| matches!(row.subject.kind, "sensor" | "receiver"));
    let mut grid = Grid::new(&["of", "phase", ">low", ">typical", ">high", "against", ""]);
    for group in others.chunk_by(|a, b| a.subject == b.subject && a.phase == b.phase) {
        let Some(first) = group.first() else { continue };
        let note = |row: &&VoltageRow| match (row.reason, row.state) {
            (Some(reason), _) => Some(format!("{}: {reason}", row.corner)),
            (None, Some("dropped out" | "off" | "demand TBD")) => row.state.map(|s| format!("{}: {s}", row.corner)),
            _ => None,
        };
        let mut cells = vec![words(&first.subject), first.phase.clone()];
        cells.extend(corner_cells(group, |row| (row.corner, row.voltage_v.map(|v| number::with_unit(v, "V")))));
        cells.push(first.against.clone());
        cells.push(brief(group.iter().filter_map(note).collect()));
        grid.row(cells);
    }
    let mut text = if grid.is_empty() { String::new() } else { grid.render(style) };
    if !sensors.is_empty() {
        let mut heads = vec!["sensor", "phase", "corner", ">read mV", ">ideal mV", ">error µV", ">error %"];
        let has_temperature = sensors.iter().any(|row| row.error_k.is_some());
        heads.extend(has_temperature.then_some(">error K"));
        heads.push("at");
        let mut grid = Grid::new(&heads);
        for row in sensors {
            let scaled = |v: Option<f64>, scale, decimals| v.map_or("–".to_owned(), |v| number::fixed(v * scale, decimals));
            let mut cells = vec![
                words(&row.subject),
                row.phase.clone(),
                row.corner.to_owned(),
                scaled(row.voltage_v, 1e3, 4),
                scaled(row.ideal_v, 1e3, 4),
                scaled(row.error_v, 1e6, 1),
                scaled(row.error_percent, 1.0, 3),
            ];
            cells.extend(has_temperature.then(|| scaled(row.error_k, 1.0, 3)));
            cells.push(row.reason.map_or(row.against.clone(), str::to_owned));
            grid.row(cells);
        }
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&grid.render(style));
    }
    none_if_empty(text)
}

/// A row of `show currents`.
#[derive(Debug, Serialize)]
pub struct CurrentRow {
    /// The conductor.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Current, positive from `from` to `to`.
    pub current_a: Option<f64>,
    /// One end.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Why there is no current.
    pub reason: Option<&'static str>,
}

/// Currents of wires, straps, structure paths, contacts and links.
pub fn currents(view: &View, asked: &Asked) -> Vec<CurrentRow> {
    let mut rows = Vec::new();
    for conductor in view.design.conductors() {
        let (kind, name) = view.design.element_name(conductor.element);
        if !asked.wants(kind, &name) {
            continue;
        }
        for point in asked.points(view) {
            let current = view.current(point, conductor.element);
            rows.push(CurrentRow {
                subject: SubjectRow { kind, name: name.clone() },
                phase: view.phase(point),
                corner: point.scenario.corner.word(),
                current_a: current.ok().and_then(number::json),
                from: view.design.end_name(conductor.from),
                to: view.design.end_name(conductor.to),
                reason: current.err(),
            });
        }
    }
    rows
}

/// Currents as text: a row per conductor and phase, a column per corner.
pub fn currents_text(rows: &[CurrentRow], style: Style) -> String {
    let mut grid = Grid::new(&["conductor", "phase", ">low", ">typical", ">high", "from", "to", ""]);
    for group in rows.chunk_by(|a, b| a.subject == b.subject && a.phase == b.phase) {
        let Some(first) = group.first() else { continue };
        let mut cells = vec![words(&first.subject), first.phase.clone()];
        cells.extend(corner_cells(group, |row| (row.corner, row.current_a.map(|a| number::with_unit(a, "A")))));
        cells.extend([first.from.clone(), first.to.clone()]);
        cells.push(brief(group.iter().filter_map(|row| row.reason.map(|r| format!("{}: {r}", row.corner))).collect()));
        grid.row(cells);
    }
    none_if_empty(if grid.is_empty() { String::new() } else { grid.render(style) })
}

/// A row of `show drops`.
#[derive(Debug, Serialize)]
pub struct DropRow {
    /// The load.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// The bus the drop is counted from, or the source where there is none.
    pub counted_from: String,
    /// Voltage of the bus against its return, where both are known.
    pub bus_v: Option<f64>,
    /// Voltage at the load.
    pub load_v: Option<f64>,
    /// Drop of feed and return.
    pub drop_v: Option<f64>,
    /// Drop allowed.
    pub limit_v: Option<f64>,
    /// Limit less drop.
    pub margin_v: Option<f64>,
    /// Whether a resistance on the way is `TBD` and the drop is not to be used.
    pub unknown_on_way: bool,
}

/// Drops from bus to load: of each load its worst state, with `all` every state.
pub fn drops(view: &View, asked: &Asked) -> Vec<DropRow> {
    let design = view.design;
    let mut rows = Vec::new();
    for (id, load) in design.loads.iter() {
        let (kind, name) = design.element_name(ElementId::Load(id));
        if !asked.wants(kind, &name) {
            continue;
        }
        let mut of_load: Vec<DropRow> = Vec::new();
        for point in asked.points(view).filter(|p| p.load_state[id] == LoadState::On && p.load_fed[id]) {
            let Some(volts) = point.load_voltage[id] else { continue };
            let ladder = view.prepared.trace(point, ElementId::Load(id));
            let limit = rules::drop_limit(design, id).value;
            let drop = ladder.drop_from_bus();
            let bus_return = ladder.bus.and_then(|bus| design.inner_nodes[bus].bus_return);
            let bus_v = ladder.bus.zip(bus_return).and_then(|(bus, back)| view.between(point, End::Inner(bus), back.value).ok());
            of_load.push(DropRow {
                subject: SubjectRow { kind, name: name.clone() },
                phase: view.phase(point),
                corner: point.scenario.corner.word(),
                counted_from: match (ladder.bus, ladder.source) {
                    (Some(bus), _) => format!("bus:{}", design.inner_nodes[bus].name),
                    (None, Some(source)) => design.element_words(source),
                    (None, None) => design.end_name(load.line.value),
                },
                bus_v: bus_v.and_then(number::json),
                load_v: number::json(volts.0),
                drop_v: number::json(drop.0),
                limit_v: number::json(limit.0),
                margin_v: number::json((limit - drop).0),
                unknown_on_way: ladder.feed.iter().chain(&ladder.back).any(|step| step.unknown),
            });
        }
        if !asked.all {
            let worst = (0..of_load.len()).min_by(|&a, &b| {
                let margin = |at: usize| of_load[at].margin_v.unwrap_or(f64::INFINITY);
                margin(a).total_cmp(&margin(b))
            });
            of_load = worst.map(|at| of_load.swap_remove(at)).into_iter().collect();
        }
        rows.extend(of_load);
    }
    rows
}

/// Drops as text.
pub fn drops_text(rows: &[DropRow], style: Style) -> String {
    let mut grid = Grid::new(&["load", "phase", "corner", "from", ">bus V", ">load V", ">drop V", ">limit V", ">margin V", ""]);
    let volts = |v: Option<f64>| v.map_or("–".to_owned(), |v| number::fixed(v, 2));
    for row in rows {
        let mut cells = vec![words(&row.subject), row.phase.clone(), row.corner.to_owned(), row.counted_from.clone()];
        cells.extend([row.bus_v, row.load_v, row.drop_v, row.limit_v].map(volts));
        let margin = row.margin_v.unwrap_or(0.0);
        // A margin that rounds to zero must still show its side.
        cells.push(if margin != 0.0 && margin.abs() < 0.005 { number::significant(margin, 2) } else { volts(row.margin_v) });
        cells.push(if row.unknown_on_way { "a resistance on the way is TBD".to_owned() } else { String::new() });
        grid.row(cells);
    }
    none_if_empty(if grid.is_empty() { String::new() } else { grid.render(style) })
}

/// A row of `show wires`.
#[derive(Debug, Serialize)]
pub struct WireRow {
    /// The wire.
    pub subject: SubjectRow,
    /// One end.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Type; null if the gauge is `TBD`.
    #[serde(rename = "type")]
    pub kind: Option<String>,
    /// American wire gauge.
    pub gauge_awg: Option<String>,
    /// Length, as stated or by its route; null if it is not known.
    pub length_m: Option<f64>,
    /// Greatest resistance at 20 °C over its length.
    pub resistance_20c_max_ohm: Option<f64>,
    /// Current stated in the list.
    pub stated_current_a: Option<f64>,
    /// Circuit.
    pub circuit: Option<String>,
    /// Cable it is a core of.
    pub cable: Option<String>,
    /// Signal as written.
    pub signal: Option<String>,
    /// Its row.
    pub at: AtRow,
}

/// The wire list as understood.
pub fn wires(view: &View, asked: &Asked) -> Vec<WireRow> {
    let design = view.design;
    let mut rows = Vec::new();
    for (id, wire) in design.wires.iter() {
        let (kind, name) = design.element_name(ElementId::Wire(id));
        if !asked.wants(kind, &name) {
            continue;
        }
        let spec = wire.spec.map(|spec| &design.wire_specs[spec.value]);
        let length = view.prepared.length(id).ok();
        rows.push(WireRow {
            subject: SubjectRow { kind, name },
            from: design.end_name(wire.from.value),
            to: design.end_name(wire.to.value),
            kind: spec.map(|s| s.kind.to_string()),
            gauge_awg: spec.map(|s| s.gauge.to_string()),
            length_m: length.and_then(|l| number::json(l.0)),
            resistance_20c_max_ohm: spec.zip(length).and_then(|(s, l)| number::json((s.r20_max.value * l).0)),
            stated_current_a: wire.current.and_then(|c| number::json(c.value.0)),
            circuit: wire.circuit.map(|c| design.circuits[c.value].name.to_string()),
            cable: wire.cable.map(|c| design.cables[c.value].name.to_string()),
            signal: wire.signal.as_ref().map(|s| s.value.to_string()),
            at: view.at_row(wire.at),
        });
    }
    rows
}

/// The wire list as text.
pub fn wires_text(rows: &[WireRow], style: Style) -> String {
    let mut grid =
        Grid::new(&["wire", "from", "to", "type", ">AWG", ">length m", ">max mohm at 20 °C", ">stated A", "circuit", "cable", "signal"]);
    for row in rows {
        let number = |v: Option<f64>, scale: f64| v.map_or("–".to_owned(), |v| number::significant(v * scale, 3));
        let or_dash = |t: &Option<String>| t.clone().unwrap_or_else(|| "–".to_owned());
        let or_blank = |t: &Option<String>| t.clone().unwrap_or_default();
        grid.row(vec![
            row.subject.name.clone(),
            row.from.clone(),
            row.to.clone(),
            or_dash(&row.kind),
            or_dash(&row.gauge_awg),
            number(row.length_m, 1.0),
            number(row.resistance_20c_max_ohm, 1e3),
            row.stated_current_a.map_or(String::new(), |a| number::significant(a, 3)),
            or_blank(&row.circuit),
            or_blank(&row.cable),
            or_blank(&row.signal),
        ]);
    }
    none_if_empty(if grid.is_empty() { String::new() } else { grid.render(style) })
}

/// A row of `show pins`.
#[derive(Debug, Serialize)]
pub struct PinRow {
    /// The pin.
    pub subject: SubjectRow,
    /// What its interface sheet says it is for.
    pub meaning: Option<&'static str>,
    /// Signal on it, by its interface sheet.
    pub signal: Option<String>,
    /// What lands on it: wires, elements of its unit, the pin it mates with.
    pub lands: Vec<String>,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Voltage against the zero of its part of the network.
    pub voltage_v: Option<f64>,
    /// What it is measured against.
    pub against: String,
    /// Why there is no voltage.
    pub reason: Option<&'static str>,
}

/// Pins with what lands on them. What lands on the harness half that follows from a unit's connector is shown at the unit's pin;
/// that half has rows of its own where all are asked for.
pub fn pins(view: &View, asked: &Asked) -> Vec<PinRow> {
    let design = view.design;
    let follows = |pin: Id<Pin>| design.connectors[design.pins[pin].connector].implied == Implied::AsMate;
    let mut mate: Vec<Option<Id<Pin>>> = vec![None; design.pins.len()];
    for (_, contact) in design.contacts.iter() {
        mate[contact.a.row()] = Some(contact.b);
        mate[contact.b.row()] = Some(contact.a);
    }
    let mut lands: Vec<Vec<String>> = vec![Vec::new(); design.pins.len()];
    for (end, element, role) in landings(design) {
        let End::Pin(pin) = end else { continue };
        let words = design.element_words(element);
        let is_wire = matches!(element, ElementId::Wire(_));
        let shown_at = mate[pin.row()].filter(|_| follows(pin) && !asked.all).unwrap_or(pin);
        lands[shown_at.row()].push(if is_wire { words } else { format!("{words} {role}") });
    }
    for (id, _) in design.pins.iter() {
        if let Some(other) = mate[id.row()].filter(|other| asked.all || !follows(*other)) {
            lands[id.row()].push(format!("mates with {}", design.pin_name(other)));
        }
    }
    let mut port: Vec<Option<Id<Port>>> = vec![None; design.pins.len()];
    for (id, row) in design.ports.iter() {
        port[row.pin.row()] = Some(id);
    }
    let mut rows = Vec::new();
    for (id, _) in design.pins.iter() {
        let (kind, name) = end_subject(design, End::Pin(id));
        let connector = &design.connectors[design.pins[id].connector].name;
        let is_wanted = asked.wants(kind, &name) || asked.wants("connector", connector);
        if !is_wanted || (follows(id) && !asked.all && asked.names.is_empty()) {
            continue;
        }
        let row = port[id.row()].map(|port| &design.ports[port]);
        for point in asked.points(view) {
            let (value, against) = view.against_zero(point, End::Pin(id));
            rows.push(PinRow {
                subject: SubjectRow { kind, name: name.clone() },
                meaning: row.map(|port| port.meaning.value.word()),
                signal: row.and_then(|port| port.signal.as_ref()).map(|signal| signal.value.to_string()),
                lands: lands[id.row()].clone(),
                phase: view.phase(point),
                corner: point.scenario.corner.word(),
                voltage_v: value.ok().and_then(number::json),
                against,
                reason: value.err(),
            });
        }
    }
    rows
}

/// Pins as text: a row per pin with the least and greatest voltage it has; of a phase that is asked for, or with `each_state`,
/// a row per phase.
pub fn pins_text(rows: &[PinRow], each_state: bool, style: Style) -> String {
    let same = |a: &PinRow, b: &PinRow| a.subject == b.subject && (!each_state || a.phase == b.phase);
    let volts = |v: Option<f64>| v.map_or("–".to_owned(), |v| number::with_unit(v, "V"));
    let zeros: std::collections::BTreeSet<&str> = rows.iter().filter(|r| r.reason.is_none()).map(|r| r.against.as_str()).collect();
    let one_zero = if zeros.len() == 1 { zeros.first().copied() } else { None };
    let heads: &[&str] = match each_state {
        true => &["pin", "phase", ">low", ">typical", ">high", "against", "what lands on it"],
        false => &["pin", "meaning", "signal", ">least", ">greatest", "against", "what lands on it"],
    };
    let mut grid = Grid::new(heads);
    for group in rows.chunk_by(same) {
        let Some(first) = group.first() else { continue };
        let known: Vec<&PinRow> = group.iter().filter(|row| row.voltage_v.is_some()).collect();
        let against = match known.first() {
            None => first.reason.unwrap_or_default().to_owned(),
            Some(row) if one_zero.is_none() => row.against.clone(),
            Some(_) => String::new(),
        };
        let lands = first.lands.join(", ");
        let cells = match each_state {
            true => {
                let [low, typical, high] = corner_cells(group, |row| (row.corner, row.voltage_v.map(|v| volts(Some(v)))));
                vec![first.subject.name.clone(), first.phase.clone(), low, typical, high, against, lands]
            }
            false => {
                let of = |best: fn(f64, f64) -> f64| volts(known.iter().filter_map(|row| row.voltage_v).reduce(best));
                let word = |t: &Option<String>| t.clone().unwrap_or_default();
                let meaning = first.meaning.unwrap_or_default().to_owned();
                vec![first.subject.name.clone(), meaning, word(&first.signal), of(f64::min), of(f64::max), against, lands]
            }
        };
        grid.row(cells);
    }
    if grid.is_empty() {
        return none_if_empty(String::new());
    }
    let over = if each_state { "" } else { ", over all phases and corners" };
    let head = one_zero.map_or(String::new(), |zero| format!("volts against {zero}{over}\n\n"));
    head + &grid.render(style)
}

/// Margins in the order of rules and subjects; those of one rule that is asked for, worst first.
pub fn margins(view: &View, asked: &Asked) -> Vec<MarginRow> {
    asked_margins(view, asked).into_iter().map(|m| view.margin_row(m)).collect()
}

fn asked_margins<'a>(view: &View<'a>, asked: &Asked) -> Vec<&'a Margin> {
    // What belongs to no state holds in every phase.
    let in_phase = |m: &Margin| asked.phase.zip(m.state).is_none_or(|(asked, (phase, _))| asked == phase);
    let fits = |m: &&Margin| in_phase(m) && asked.rule.is_none_or(|rule| rule == m.rule);
    let mut rows: Vec<&Margin> = view.verdict.margins.iter().filter(fits).collect();
    rows.retain(|m| asked.names.is_empty() || asked.wants_row(&view.subject_row(m.subject)));
    if asked.rule.is_some() {
        rows.sort_by(|a, b| a.margin().total_cmp(&b.margin()));
    }
    rows
}

/// Margins as text; for named subjects also the values they rest on.
pub fn margins_text(view: &View, asked: &Asked, style: Style) -> String {
    let rows = asked_margins(view, asked);
    let mut grid = Grid::new(&["rule", "subject", ">value", "", ">limit", ">margin", "phase", "corner", "rests on"]);
    for margin in &rows {
        let unit = crate::json::unit_of(margin.rule);
        let (value, limit) = number::pair(margin.value, margin.limit, unit);
        let bound = match margin.bound {
            Bound::AtMost => "at most",
            Bound::AtLeast => "at least",
        };
        grid.row(vec![
            margin.rule.0.to_owned(),
            view.design.subject_words(margin.subject),
            value,
            bound.to_owned(),
            limit,
            number::margin(margin.margin(), margin.limit, unit),
            margin.state.map_or(String::new(), |(phase, _)| view.design.phases[phase].name.to_string()),
            margin.state.map_or(String::new(), |(_, corner)| corner.word().to_owned()),
            view.rests_on(&margin.rests_on.notes).trim_start_matches("rests on ").to_owned(),
        ]);
    }
    let mut text = if grid.is_empty() { String::new() } else { grid.render(style) };
    if !asked.names.is_empty() {
        let mut notes: Vec<NoteId> = rows.iter().flat_map(|m| m.rests_on.notes.iter().copied()).collect();
        notes.sort_unstable();
        notes.dedup();
        if !notes.is_empty() {
            let list: Vec<NoteRow> = notes.iter().map(|&id| view.note_row(view.design.note(id))).collect();
            text.push_str(&format!("\nrests on\n{}", open_text(&list, style)));
        }
    }
    none_if_empty(text)
}

/// Values that are open, then assumed, then recalled: of the last two those that something judged rests on; with `all` or a
/// name, every one.
pub fn open(view: &View, asked: &Asked) -> Vec<NoteRow> {
    let order = [Standing::ToDetermine, Standing::ToConfirm, Standing::Assumed, Standing::Recalled];
    let listed: Vec<&Note> = match asked.all || !asked.names.is_empty() {
        true => view.design.notes.iter().collect(),
        false => view.notes_in_use().into_iter().map(|id| view.design.note(id)).collect(),
    };
    let notes = order.into_iter().flat_map(|standing| listed.iter().filter(move |note| note.standing == standing));
    let wanted = |row: &NoteRow| match &row.subject {
        Some(subject) => asked.wants_row(subject),
        None => asked.names.is_empty(),
    };
    notes.map(|note| view.note_row(note)).filter(wanted).collect()
}

/// Open values as text.
pub fn open_text(rows: &[NoteRow], style: Style) -> String {
    // The source comes last and is left as long as it is.
    let mut grid = Grid::new(&["standing", "what", "value", "owner", "need", "at", "source or reason"]);
    for row in rows {
        grid.row(vec![
            row.standing.to_owned(),
            row.what.clone(),
            row.value.clone(),
            row.owner.clone().unwrap_or_default(),
            row.need.clone().unwrap_or_default(),
            format!("{}:{}", row.at.file, row.at.line),
            row.source.clone(),
        ]);
    }
    if grid.is_empty() { "no value is open, assumed or recalled\n".to_owned() } else { grid.render(style) }
}

fn words(subject: &SubjectRow) -> String {
    format!("{}:{}", subject.kind, subject.name)
}

/// The three corners of a group of rows, a dash where there is no number.
fn corner_cells<R>(group: &[R], cell: impl Fn(&R) -> (&'static str, Option<String>)) -> [String; 3] {
    Corner::ALL.map(|corner| {
        let found = group.iter().map(&cell).find(|(word, _)| *word == corner.word());
        found.and_then(|(_, text)| text).unwrap_or_else(|| "–".to_owned())
    })
}

/// Remarks per corner, said once where all three agree.
fn brief(remarks: Vec<String>) -> String {
    let tails: Vec<&str> = remarks.iter().filter_map(|r| r.split_once(": ").map(|(_, tail)| tail)).collect();
    match tails.first() {
        Some(first) if tails.len() == 3 && tails.iter().all(|tail| tail == first) => (*first).to_owned(),
        _ => remarks.join("; "),
    }
}

fn none_if_empty(text: String) -> String {
    if text.is_empty() { "nothing to show\n".to_owned() } else { text }
}
