//! `whatif`: what a changed state does, held against the vehicle as planned.

use crate::fault_currents::cleared;
use crate::json::{FORMAT, FindingRow, NotJudgedRow, StateRow, SubjectRow};
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::layout::Place;
use model::*;
use serde::Serialize;

/// Rows of a list that are printed unless all are asked for.
const FIRST: usize = 10;

/// Output of `whatif`.
#[derive(Debug, Serialize)]
pub struct WhatIfOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `whatif`.
    pub command: &'static str,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Phases in mission order.
    pub phases: Vec<String>,
    /// The changes, as they are written on the command line.
    pub changes: Vec<String>,
    /// Phases and corners compared.
    pub states: Vec<StateRow>,
    /// What moved: loads, parts of the network, voltages, readings, currents, temperatures.
    pub rows: Vec<ChangeRow>,
    /// What short circuits come to: a row for each state.
    pub shorts: Vec<ShortRow>,
    /// Findings that appear.
    pub appeared: Vec<FindingRow>,
    /// Findings that go.
    pub gone: Vec<FindingRow>,
    /// Findings that stay with another value or other states.
    pub changed: Vec<ChangedFindingRow>,
    /// Values used that were recalled from memory, not read in their source.
    pub recalled: Vec<crate::json::NoteRow>,
    /// What can no longer be judged.
    pub not_judged: Vec<NotJudgedRow>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// What the short circuits of a state come to.
#[derive(Debug, Serialize)]
pub struct ShortRow {
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Current of each short, in the order asked.
    pub current_a: Vec<Option<f64>>,
    /// Devices that open, in their order, with every one at its longest time.
    pub opens: Vec<String>,
    /// Cleared at the earliest; null where it is not.
    pub earliest_s: Option<f64>,
    /// Cleared at the latest; null where it is not.
    pub latest_s: Option<f64>,
    /// Why it is not cleared, or what is not known.
    pub reason: Option<String>,
    /// Wires shorted along their way.
    pub wires: Vec<ShortedWireRow>,
    /// Loads that stay fed and have less than their least voltage while the fault burns.
    pub sagged: Vec<SaggedRow>,
    /// An upper bound of what the bus comes to when the first device opens; null where none does.
    pub peak: Option<PeakRow>,
    /// Loads that have no power afterwards.
    pub lost: Vec<String>,
}

/// A wire shorted along its way.
#[derive(Debug, Serialize)]
pub struct ShortedWireRow {
    /// The wire.
    pub wire: String,
    /// What flows in it.
    pub current_a: Option<f64>,
    /// Highest temperature that it comes to until the fault is cleared at the latest; null where that is not known or never comes.
    pub reaches_c: Option<f64>,
}

/// A bus when a device opens on a fault.
#[derive(Debug, Serialize)]
pub struct PeakRow {
    /// The device.
    pub device: Option<String>,
    /// What it interrupts.
    pub interrupts_a: Option<f64>,
    /// Length of the wires from the source to it.
    pub feed_m: Option<f64>,
    /// Inductance of that loop.
    pub inductance_h: Option<f64>,
    /// Known capacitance on the bus.
    pub capacitance_f: Option<f64>,
    /// Loads there.
    pub loads: Vec<PeakOfLoad>,
    /// Why there is none.
    pub reason: Option<String>,
}

/// Peak at a load.
#[derive(Debug, Serialize)]
pub struct PeakOfLoad {
    /// The load.
    pub load: String,
    /// Its peak.
    pub peak_v: Option<f64>,
    /// What it stands for a moment; null where that is not stated.
    pub limit_v: Option<f64>,
}

/// A load whose voltage sags while a fault burns.
#[derive(Debug, Serialize)]
pub struct SaggedRow {
    /// The load.
    pub load: String,
    /// Its voltage.
    pub voltage_v: Option<f64>,
    /// Voltage below which it lets go, where that is stated.
    pub drop_out_v: Option<f64>,
    /// How long it works on without its voltage, where that is stated.
    pub hold_up_s: Option<f64>,
    /// What it does until the fault is cleared at the latest: `stays`, `holds up`, `lets go`, or which field is not stated.
    pub rides: String,
}

fn short_row(view: &View, short: &ShortAnswer) -> ShortRow {
    let design = view.design;
    let latest = cleared(design, &short.latest);
    ShortRow {
        phase: design.phases[short.phase].name.to_string(),
        corner: short.corner.word(),
        current_a: short.currents.iter().map(|current| number::json(current.0.abs())).collect(),
        opens: short.latest.opens.iter().map(|(_, device)| design.protectors[*device].name.to_string()).collect(),
        earliest_s: cleared(design, &short.earliest).ok().and_then(number::json),
        latest_s: latest.as_ref().ok().copied().and_then(number::json),
        reason: latest.err(),
        wires: short
            .wires
            .iter()
            .map(|(wire, current, reaches)| ShortedWireRow {
                wire: design.wires[*wire].name.to_string(),
                current_a: number::json(current.0),
                reaches_c: reaches.and_then(|t| number::json(t.celsius())),
            })
            .collect(),
        sagged: short
            .sagged
            .iter()
            .map(|sagged| SaggedRow {
                load: design.loads[sagged.load].name.to_string(),
                voltage_v: number::json(sagged.volts.0),
                drop_out_v: design.loads[sagged.load].drop_out.and_then(|given| number::json(given.value.0)),
                hold_up_s: design.loads[sagged.load].hold_up.and_then(|given| number::json(given.value.0)),
                rides: match sagged.rides {
                    Rides::Stays => "stays".to_owned(),
                    Rides::HoldsUp => "holds up".to_owned(),
                    Rides::LetsGo => "lets go".to_owned(),
                    Rides::NotKnown(field) => format!("{field} not stated"),
                },
            })
            .collect(),
        peak: short.peak.as_ref().map(|peak| peak_row(view, peak)),
        lost: short.lost.iter().map(|load| design.loads[*load].name.to_string()).collect(),
    }
}

fn peak_row(view: &View, peak: &Result<Peak, (String, String)>) -> PeakRow {
    let design = view.design;
    let none = PeakRow {
        device: None,
        interrupts_a: None,
        feed_m: None,
        inductance_h: None,
        capacitance_f: None,
        loads: Vec::new(),
        reason: None,
    };
    match peak {
        Err((field, why)) => PeakRow { reason: Some(format!("{field}: {why}")), ..none },
        Ok(peak) => PeakRow {
            device: Some(design.protectors[peak.device].name.to_string()),
            interrupts_a: number::json(peak.interrupts.0),
            feed_m: number::json(peak.feed.0),
            inductance_h: number::json(peak.inductance.0),
            capacitance_f: number::json(peak.capacitance.0),
            loads: peak
                .loads
                .iter()
                .map(|(load, peak, limit)| PeakOfLoad {
                    load: design.loads[*load].name.to_string(),
                    peak_v: number::json(peak.0),
                    limit_v: limit.and_then(|limit| number::json(limit.0)),
                })
                .collect(),
            reason: None,
        },
    }
}

/// Short circuits, state by state: what flows, what opens, what it does meanwhile and afterwards.
fn shorts(view: &View, changes: &Changes, style: Style) -> String {
    if changes.shorts.is_empty() {
        return String::new();
    }
    let mut grid =
        Grid::new(&["where", "current", "opens", "cleared after", "wire reaches", "sags meanwhile", "peak then", "without power then"]);
    let seconds = |t: Option<f64>| t.map_or("–".to_owned(), |t| number::with_unit(t, "s"));
    let few = |names: Vec<String>| match names.len() {
        0 => "–".to_owned(),
        n if n > 4 => format!("{} and {} more", names[..3].join(", "), n - 3),
        _ => names.join(", "),
    };
    for short in &changes.shorts {
        let row = short_row(view, short);
        let currents: Vec<String> = row.current_a.iter().flatten().map(|&a| number::with_unit(a, "A")).collect();
        let wires = row.wires.iter().map(|w| w.reaches_c.map_or("–".to_owned(), |t| number::with_unit(t, "degC")));
        let clears = match (row.earliest_s, row.latest_s, &row.reason) {
            (_, None, Some(why)) => why.clone(),
            (earliest, latest, _) => format!("{} to {}", seconds(earliest), seconds(latest)),
        };
        let sags = row.sagged.iter().map(|s| {
            let rides = if s.rides == "stays" { String::new() } else { format!(", {}", s.rides) };
            format!("{} {}{rides}", s.load, s.voltage_v.map_or("–".to_owned(), |v| number::with_unit(v, "V")))
        });
        let left = |at: &&PeakOfLoad| at.limit_v.unwrap_or(f64::INFINITY) - at.peak_v.unwrap_or(0.0);
        let nearest = row.peak.as_ref().and_then(|peak| peak.loads.iter().min_by(|a, b| left(a).total_cmp(&left(b))));
        let peak = match (nearest, &row.peak) {
            (Some(at), _) => {
                let limit = at.limit_v.map_or("an unstated limit".to_owned(), |v| number::with_unit(v, "V"));
                format!("{} {} of {limit}", at.load, at.peak_v.map_or("–".to_owned(), |v| number::with_unit(v, "V")))
            }
            (None, Some(PeakRow { reason: Some(why), .. })) => format!("not known: {why}"),
            _ => "–".to_owned(),
        };
        grid.row(vec![
            format!("{} {}", row.phase, row.corner),
            currents.join(", "),
            if row.opens.is_empty() { "–".to_owned() } else { row.opens.join(", then ") },
            clears,
            few(wires.collect()),
            few(sags.collect()),
            peak,
            few(row.lost),
        ]);
    }
    let note = "every device at its shortest time in the hottest ambient, to every device at its longest in the coldest; the maker's certified curves and tests govern";
    let peaks = "peak then: by E + I sqrt(L/C) as the first device opens, without losses, of the load with least left to what it stands for a moment; a limiter limits it, but holds no voltage up here";
    let head = style.strong("short circuits and what opens");
    format!("{head}\n{}   {}\n   {}\n", indent(&grid.render(style)), style.faint(note), style.faint(peaks))
}

/// One thing that moved in one state.
#[derive(Debug, Serialize)]
pub struct ChangeRow {
    /// `load`, `part`, `voltage`, `reading`, `current` or `temperature`.
    pub moved: &'static str,
    /// Who.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Of a load: how it is served as planned.
    pub service_before: Option<&'static str>,
    /// Of a load: how it is served now. Of a part: what happens to it.
    pub service_after: Option<&'static str>,
    /// Of a voltage or reading: as planned.
    pub before_v: Option<f64>,
    /// Of a voltage or reading: now.
    pub after_v: Option<f64>,
    /// Of a current: as planned, positive from `from` to `to`.
    pub before_a: Option<f64>,
    /// Of a current: now.
    pub after_a: Option<f64>,
    /// Of a conductor: its temperature where it is hottest, as planned.
    pub before_c: Option<f64>,
    /// Of a conductor: now.
    pub after_c: Option<f64>,
}

/// A finding with another value or other states.
#[derive(Debug, Serialize)]
pub struct ChangedFindingRow {
    /// As planned.
    pub before: FindingRow,
    /// Now.
    pub after: FindingRow,
}

/// The changes as an output object.
pub fn what_if_json(view: &View, words: &[String], changes: &Changes) -> WhatIfOutput {
    let row = |moved, subject, phase: Id<Phase>, corner: Corner| ChangeRow {
        moved,
        subject: view.subject_row(subject),
        phase: view.design.phases[phase].name.to_string(),
        corner: corner.word(),
        service_before: None,
        service_after: None,
        before_v: None,
        after_v: None,
        before_a: None,
        after_a: None,
        before_c: None,
        after_c: None,
    };
    let mut rows = Vec::new();
    for m in &changes.loads {
        let (service_before, service_after) = (Some(m.before.word()), Some(m.after.word()));
        rows.push(ChangeRow { service_before, service_after, ..row("load", Subject::Element(m.element), m.phase, m.corner) });
    }
    for m in &changes.parts {
        let states = m.states.iter();
        rows.extend(
            states.map(|&(phase, corner)| ChangeRow { service_after: Some(m.what.words()), ..row("part", m.subject, phase, corner) }),
        );
    }
    for (what, list) in [("voltage", &changes.volts), ("reading", &changes.readings)] {
        for m in list {
            let (before_v, after_v) = (m.before.and_then(number::json), m.after.and_then(number::json));
            rows.push(ChangeRow { before_v, after_v, ..row(what, m.subject, m.phase, m.corner) });
        }
    }
    for m in &changes.currents {
        let (before_a, after_a) = (m.before.and_then(number::json), m.after.and_then(number::json));
        rows.push(ChangeRow { before_a, after_a, ..row("current", m.subject, m.phase, m.corner) });
    }
    for m in &changes.temperatures {
        let (before_c, after_c) = (m.before.and_then(number::json), m.after.and_then(number::json));
        rows.push(ChangeRow { before_c, after_c, ..row("temperature", m.subject, m.phase, m.corner) });
    }
    WhatIfOutput {
        format: FORMAT,
        command: "whatif",
        vehicle: view.design.name.to_string(),
        phases: view.phase_names(),
        changes: words.to_vec(),
        states: view.state_rows(&changes.states),
        rows,
        shorts: changes.shorts.iter().map(|short| short_row(view, short)).collect(),
        appeared: changes.appeared.iter().map(|f| view.finding_row(f)).collect(),
        gone: changes.gone.iter().map(|f| view.finding_row(f)).collect(),
        changed: changes
            .changed
            .iter()
            .map(|(before, after)| ChangedFindingRow { before: view.finding_row(before), after: view.finding_row(after) })
            .collect(),
        recalled: view.recalled(),
        not_judged: changes.no_longer_judged.iter().map(|row| view.not_judged_row(row)).collect(),
        cautions: crate::cautions(view.design).into_iter().chain(not_cut(view, words)).collect(),
    }
}

/// The changes as text; `every` prints all rows of each list.
pub fn what_if(view: &View, words: &[String], changes: &Changes, every: bool, style: Style) -> String {
    let design = view.design;
    let mut phases: Vec<&str> = changes.states.iter().map(|&(phase, _)| &*design.phases[phase].name).collect();
    phases.dedup();
    let phases = if phases.len() == design.phases.len() && phases.len() > 1 { "every phase".to_owned() } else { phases.join(", ") };
    let mut text = format!("{}   {}\n", style.strong(&design.name), words.join(" "));
    text.push_str(&format!("against the vehicle as planned, in {phases}, corners low, typical and high\n\n"));
    let first = if every { usize::MAX } else { FIRST };
    for part in [
        shorts(view, changes, style),
        loads(view, changes, first, style),
        parts(view, changes, first, style),
        findings(view, changes, first, style),
        moved(view, &changes.volts, "volts moved by more than 10 mV", "V", first, style),
        moved(view, &changes.readings, "readings moved by more than 10 µV", "V", first, style),
        moved(view, &changes.currents, "currents moved by more than 10 mA", "A", first, style),
        moved(view, &changes.temperatures, "conductors whose hottest place moved by more than 1 K", "degC", first, style),
    ] {
        if !part.is_empty() {
            text.push_str(&part);
            text.push('\n');
        }
    }
    let nothing = changes.loads.is_empty()
        && changes.parts.is_empty()
        && changes.volts.is_empty()
        && changes.readings.is_empty()
        && changes.currents.is_empty()
        && changes.temperatures.is_empty();
    let found = changes.appeared.is_empty() && changes.gone.is_empty() && changes.changed.is_empty();
    if nothing && found {
        text.push_str("nothing moves by more than 10 mV, 10 µV of a reading, 10 mA or 1 K, and no finding comes or goes\n\n");
    }
    text.push_str(&style.strong(&summary(changes)));
    text.push('\n');
    for caution in crate::cautions(design).into_iter().chain(not_cut(view, words)) {
        text.push_str(&crate::explain::wrap("caution", &caution, style));
    }
    match changes.appeared.first() {
        Some(finding) => text.push_str(&format!("why?     loomwright explain {}\n", finding.rule.0)),
        None => text.push_str("next?    loomwright check\n"),
    }
    text
}

/// Where a segment is cut: wires of which nobody knows whether they lie in it.
fn not_cut(view: &View, words: &[String]) -> Option<String> {
    let is_cut = words.iter().any(|word| word.starts_with("--cut "));
    let layout = view.prepared.layout();
    let is_lost = |wire: &Id<Wire>| matches!(layout.place(*wire), Place::NoBreakout(_) | Place::Broken(_));
    let lost: Vec<Id<Wire>> = view.design.wires.ids().filter(is_lost).filter(|_| is_cut).collect();
    let shown: Vec<&str> = lost.iter().take(5).map(|wire| &*view.design.wires[*wire].name).collect();
    let more = if lost.len() > shown.len() { format!(" and {} more", number::count(lost.len() - shown.len())) } else { String::new() };
    (!lost.is_empty()).then(|| {
        format!("no route is known of {}{more}: whether a cut segment holds them is not known, and they are left whole", shown.join(", "))
    })
}

/// `2 loads lose power, 1 finding appears, none goes`.
fn summary(changes: &Changes) -> String {
    let mut lose: Vec<ElementId> = Vec::new();
    let mut gain: Vec<ElementId> = Vec::new();
    for m in &changes.loads {
        if m.before == Service::Fed {
            lose.push(m.element);
        } else if m.after == Service::Fed {
            gain.push(m.element);
        }
    }
    for list in [&mut lose, &mut gain] {
        list.sort_unstable();
        list.dedup();
    }
    let verb = |n: usize, one: &'static str, many: &'static str| if n == 1 { one } else { many };
    let mut parts = vec![format!("{} {} power", number::counted(lose.len(), "load"), verb(lose.len(), "loses", "lose"))];
    if !gain.is_empty() {
        parts.push(format!("{} {} it", number::count(gain.len()), verb(gain.len(), "gains", "gain")));
    }
    let (new, gone) = (changes.appeared.len(), changes.gone.len());
    parts.push(format!("{} {}", number::counted(new, "finding"), verb(new, "appears", "appear")));
    if gone > 0 {
        parts.push(format!("{} {}", number::count(gone), verb(gone, "goes", "go")));
    }
    if !changes.changed.is_empty() {
        let n = changes.changed.len();
        parts.push(format!("{} {}", number::count(n), verb(n, "changes", "change")));
    }
    if !changes.no_longer_judged.is_empty() {
        parts.push(format!("{} no longer judged", number::count(changes.no_longer_judged.len())));
    }
    parts.join(", ")
}

fn more(all: usize, first: usize) -> String {
    if all > first { format!("   … and {} more: --all prints them\n", number::count(all - first)) } else { String::new() }
}

fn indent(table: &str) -> String {
    table.lines().map(|line| format!("   {line}\n")).collect()
}

fn service(service: Service) -> String {
    match service {
        Service::DroppedOut(volts) => format!("let go at {}", number::with_unit(volts.0, "V")),
        other => other.word().to_owned(),
    }
}

fn loads(view: &View, changes: &Changes, first: usize, style: Style) -> String {
    // One line for all the states in which a load goes from the one to the other.
    type Line = (ElementId, Service, Service, Vec<(Id<Phase>, Corner)>);
    let mut lines: Vec<Line> = Vec::new();
    let same = |a: Service, b: Service| core::mem::discriminant(&a) == core::mem::discriminant(&b);
    let mut at: std::collections::HashMap<(ElementId, &str, &str), usize> = std::collections::HashMap::new();
    for m in &changes.loads {
        let line = *at.entry((m.element, m.before.word(), m.after.word())).or_insert_with(|| {
            lines.push((m.element, m.before, m.after, Vec::new()));
            lines.len() - 1
        });
        lines[line].3.push((m.phase, m.corner));
    }
    let mut text = String::new();
    let (gain, lose): (Vec<&Line>, Vec<&Line>) = lines.iter().partition(|(_, _, after, _)| same(*after, Service::Fed));
    for (title, list) in [("loads that lose power or stand otherwise", lose), ("loads that gain power", gain)] {
        if list.is_empty() {
            continue;
        }
        let mut grid = Grid::new(&["load", "as planned", "then", "where"]);
        for (element, before, after, states) in list.iter().take(first) {
            let cells = [view.design.element_words(*element), service(*before), service(*after), view.by_phase(states)];
            grid.row(cells.into());
        }
        text.push_str(&format!("{}\n{}{}", style.strong(title), indent(&grid.render(style)), more(list.len(), first)));
    }
    text
}

fn parts(view: &View, changes: &Changes, first: usize, style: Style) -> String {
    if changes.parts.is_empty() {
        return String::new();
    }
    let mut grid = Grid::new(&["part", "what", "where"]);
    for part in changes.parts.iter().take(first) {
        grid.row(vec![view.design.subject_words(part.subject), part.what.words().to_owned(), view.by_phase(&part.states)]);
    }
    format!("{}\n{}{}", style.strong("parts of the network"), indent(&grid.render(style)), more(changes.parts.len(), first))
}

fn findings(view: &View, changes: &Changes, first: usize, style: Style) -> String {
    let mut text = String::new();
    let says = |finding: &Finding| match &finding.margin {
        Some(margin) if rules::explain(finding.rule.0).is_some_and(View::has_number) => match finding.text.is_empty() {
            true => view.value_of_limit(margin),
            false => format!("{}: {}", view.value_of_limit(margin), finding.text),
        },
        _ => finding.text.clone(),
    };
    let mut block = |title: &str, rows: Vec<Vec<String>>| {
        if rows.is_empty() {
            return;
        }
        let all = rows.len();
        let mut grid = Grid::new(&["finding", "value", "where"]);
        rows.into_iter().take(first).for_each(|row| grid.row(row));
        text.push_str(&format!("{}\n{}{}", style.strong(title), indent(&grid.render(style)), more(all, first)));
    };
    let row = |finding: &Finding| vec![finding.id.clone(), says(finding), view.by_phase(&finding.phases)];
    block("findings that appear", changes.appeared.iter().map(row).collect());
    block("findings that go", changes.gone.iter().map(row).collect());
    let both = |(before, after): &(Finding, Finding)| {
        let was = before.margin.as_ref().map_or(String::new(), |m| format!(" (was {})", number::with_unit(m.value, view.unit(m.rule))));
        vec![after.id.clone(), says(after) + &was, view.by_phase(&after.phases)]
    };
    block("findings that change", changes.changed.iter().map(both).collect());
    if !changes.no_longer_judged.is_empty() {
        let mut grid = Grid::new(&["rule", "subject", "why"]);
        for row in changes.no_longer_judged.iter().take(first) {
            grid.row(vec![row.rule.0.to_owned(), view.design.subject_words(row.subject), row.why.clone()]);
        }
        let rest = more(changes.no_longer_judged.len(), first);
        text.push_str(&format!("{}\n{}{rest}", style.strong("no longer judged"), indent(&grid.render(style))));
    }
    text
}

/// The subjects that moved, each in the state in which it moves farthest.
fn moved(view: &View, list: &[Moved], title: &str, unit: &str, first: usize, style: Style) -> String {
    let mut grid = Grid::new(&["of", ">as planned", ">then", ">moved by", "farthest in"]);
    let mut subjects = 0;
    for group in list.chunk_by(|a, b| a.subject == b.subject) {
        let Some(m) = group.first() else { continue };
        subjects += 1;
        if subjects > first {
            continue;
        }
        let value = |v: Option<f64>| v.map_or("–".to_owned(), |v| number::with_unit(v, unit));
        let by = m.after.unwrap_or(0.0) - m.before.unwrap_or(0.0);
        grid.row(vec![
            view.design.subject_words(m.subject),
            value(m.before),
            value(m.after),
            if unit == "degC" { format!("{} K", number::fixed(by, 0)) } else { number::with_unit(by, unit) },
            format!("{}, {}", view.design.phases[m.phase].name, m.corner.word()),
        ]);
    }
    if subjects == 0 {
        return String::new();
    }
    format!("{}\n{}{}", style.strong(title), indent(&grid.render(style)), more(subjects, first))
}
