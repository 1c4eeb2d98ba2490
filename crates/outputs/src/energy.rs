//! `show timeline`, `show energy`, `show loads`, `show budget`: the batteries through the mission.

use crate::json::SubjectRow;
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::timeline::{Happened, Leg, Run, RunEnd};
use analysis::timeline_budget::{Budget, budget};
use model::*;
use physics::Second;
use physics::load_analysis::{Stretch, WINDOWS, greatest_average, pulsed_average};
use serde::Serialize;

/// A row of `show timeline`: a battery at an instant.
#[derive(Debug, Serialize)]
pub struct TimelineRow {
    /// The battery.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Mission time.
    pub time_s: Option<f64>,
    /// Share of its charge that is left.
    pub left_percent: Option<f64>,
    /// What it gives; negative where it takes.
    pub current_a: Option<f64>,
    /// At its terminals.
    pub voltage_v: Option<f64>,
    /// Without load.
    pub emf_v: Option<f64>,
    /// Of its cells.
    pub temperature_c: Option<f64>,
    /// What happened then: a load let go, a battery is empty.
    pub events: Vec<String>,
}

/// A row of `show energy`: a phase in a corner.
#[derive(Debug, Serialize)]
pub struct EnergyRow {
    /// Phase; null of all together.
    pub phase: Option<String>,
    /// Corner.
    pub corner: &'static str,
    /// Given by batteries whose charge is followed: voltage without load times current.
    pub batteries_wh: Option<f64>,
    /// Given by other sources.
    pub others_wh: Option<f64>,
    /// Taken by loads.
    pub loads_wh: Option<f64>,
    /// Lost in those batteries.
    pub in_batteries_wh: Option<f64>,
    /// Held by their slow resistances at the end.
    pub stored_wh: Option<f64>,
    /// Lost in wires.
    pub wires_wh: Option<f64>,
    /// Lost in contacts.
    pub contacts_wh: Option<f64>,
    /// Lost in breakers, fuses, limiters, switches, relays, ties.
    pub devices_wh: Option<f64>,
    /// Lost in diodes.
    pub diodes_wh: Option<f64>,
    /// Lost in converters.
    pub converters_wh: Option<f64>,
    /// Lost in straps, structure and links.
    pub structure_wh: Option<f64>,
    /// Taken by sensors.
    pub sensors_wh: Option<f64>,
    /// What does not close, as a share of what is given.
    pub open_share: Option<f64>,
}

/// A row of `show loads`: what a load draws in a phase.
#[derive(Debug, Serialize)]
pub struct LoadRow {
    /// The load; kind `phase` for the sum of a phase.
    pub subject: SubjectRow,
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
    /// Greatest: its inrush where it starts, else its pulse.
    pub peak_a: Option<f64>,
    /// Greatest mean over 5 s.
    pub over_5s_a: Option<f64>,
    /// Greatest mean over 5 min.
    pub over_5min_a: Option<f64>,
    /// Mean over 15 min.
    pub continuous_a: Option<f64>,
    /// Mean over 15 min, as power at its terminals.
    pub continuous_w: Option<f64>,
}

/// A row of `show budget`: a step of the budget of a battery.
#[derive(Debug, Serialize)]
pub struct BudgetRow {
    /// The battery.
    pub subject: SubjectRow,
    /// Corner.
    pub corner: &'static str,
    /// `rated`, `age`, `storage`, `not charged`, `cold and rate`, `unusable`, `uncertain`, `usable`, `need`, `left`, `reserve`, `margin`, `preload`.
    pub step: &'static str,
    /// Of a need the phase.
    pub phase: Option<String>,
    /// Charge; below zero for what is taken away. Null where it is not known.
    pub charge_ah: Option<f64>,
    /// The same as energy: of a need at the terminals, else at the mean voltage of the cells without load.
    pub energy_wh: Option<f64>,
    /// Why it is not known.
    pub reason: Option<&'static str>,
}

const HOUR: f64 = 3600.0;

fn subject(view: &View, battery: Id<Source>) -> SubjectRow {
    let (kind, name) = view.design.element_name(ElementId::Source(battery));
    SubjectRow { kind, name }
}

fn runs<'a>(view: &View<'a>) -> &'a [Run] {
    view.timeline.map_or(&[], |timeline| &timeline.runs)
}

fn batteries<'a>(view: &View<'a>, asked: &Asked) -> Vec<(usize, Id<Source>)> {
    let all = view.timeline.map_or(&[][..], |timeline| &timeline.batteries);
    let wanted = |battery: &Id<Source>| asked.wants_row(&subject(view, *battery));
    all.iter().copied().enumerate().filter(|(_, battery)| wanted(battery)).collect()
}

fn event_words(design: &Design, what: Happened) -> String {
    match what {
        Happened::LetGo(id) => format!("load:{} lets go", design.loads[id].name),
        Happened::CameBack(id) => format!("load:{} comes back", design.loads[id].name),
        Happened::Empty(id) => format!("{} is empty", design.element_words(ElementId::Source(id))),
        Happened::CutOff(id, left) => {
            format!(
                "{} is at its cut-off voltage with {} % left",
                design.element_words(ElementId::Source(id)),
                number::fixed(100.0 * left, 1)
            )
        }
    }
}

/// Every battery at every step in every corner; without `--all` in the low corner, at the beginning and end of each phase and where something happened.
pub fn timeline(view: &View, asked: &Asked) -> Vec<TimelineRow> {
    let mut rows = Vec::new();
    for (column, battery) in batteries(view, asked) {
        for run in runs(view).iter().filter(|run| asked.all || run.corner == Corner::Low) {
            for leg in run.legs.iter().filter(|leg| asked.phase.is_none_or(|phase| phase == leg.phase)) {
                let count = leg.instants.len();
                for (n, instant) in leg.instants.iter().enumerate() {
                    let since = if n == 0 { f64::NEG_INFINITY } else { leg.instants[n - 1].at.0 };
                    let happened = leg.events.iter().filter(|event| event.at.0 > since && event.at.0 <= instant.at.0);
                    let events: Vec<String> = happened.map(|event| event_words(view.design, event.what)).collect();
                    if !asked.all && n > 0 && n + 1 < count && events.is_empty() {
                        continue;
                    }
                    let at = instant.batteries[column];
                    rows.push(TimelineRow {
                        subject: subject(view, battery),
                        phase: view.design.phases[leg.phase].name.to_string(),
                        corner: run.corner.word(),
                        time_s: number::json(instant.at.0),
                        left_percent: number::json(100.0 * at.left),
                        current_a: number::json(at.current.0),
                        voltage_v: number::json(at.volts.0),
                        emf_v: number::json(at.emf.0),
                        temperature_c: number::json(at.temperature.celsius()),
                        events,
                    });
                }
            }
        }
    }
    rows
}

/// Eight heights of a bar.
const BARS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// Bars of a line.
const COLUMNS: usize = 48;

/// A value over mission time as a line of bars, from `low` to `high`.
fn sparkline(points: &[(f64, f64)], low: f64, high: f64) -> String {
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return String::new() };
    let at = |time: f64| {
        let after = points.partition_point(|(t, _)| *t <= time).min(points.len() - 1);
        let ((t0, v0), (t1, v1)) = (points[after.saturating_sub(1)], points[after]);
        if t1 > t0 { v0 + (v1 - v0) * ((time - t0) / (t1 - t0)).clamp(0.0, 1.0) } else { v1 }
    };
    let bar = |n: usize| {
        let value = at(first.0 + (last.0 - first.0) * (n as f64 + 0.5) / COLUMNS as f64);
        let share = if high > low { (value - low) / (high - low) } else { 0.0 };
        BARS[((share * 8.0) as usize).min(7)]
    };
    (0..COLUMNS).map(bar).collect()
}

fn clock(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    format!("{:>3}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}

/// The timeline as text.
pub fn timeline_text(view: &View, rows: &[TimelineRow], asked: &Asked, style: Style) -> String {
    let Some(nothing) = nothing_followed(view) else {
        let mut text = String::new();
        for (column, battery) in batteries(view, asked) {
            text.push_str(&style.strong(&view.design.element_words(ElementId::Source(battery))));
            text.push('\n');
            for run in runs(view) {
                let of = |value: fn(&analysis::timeline::BatteryInstant) -> f64| {
                    run.instants().map(|(_, instant)| (instant.at.0, value(&instant.batteries[column]))).collect::<Vec<_>>()
                };
                let (left, amperes) = (of(|at| 100.0 * at.left), of(|at| at.current.0));
                let most = amperes.iter().map(|(_, a)| *a).fold(0.0, f64::max);
                let least = left.iter().map(|(_, l)| *l).fold(100.0, f64::min);
                text.push_str(&format!(
                    "  {:<8} charge  {}  {} % at the end\n",
                    run.corner.word(),
                    sparkline(&left, 0.0, 100.0),
                    number::fixed(least, 1)
                ));
                text.push_str(&format!("           current {}  up to {}\n", sparkline(&amperes, 0.0, most), number::with_unit(most, "A")));
            }
        }
        text.push('\n');
        let mut grid = Grid::new(&["battery", "corner", "phase", ">h:min:s", ">left", ">gives", ">V", ">without load", ">degC", ""]);
        let cell = |value: Option<f64>, decimals| value.map_or("–".to_owned(), |v| number::fixed(v, decimals));
        for row in rows {
            grid.row(vec![
                row.subject.name.clone(),
                row.corner.to_owned(),
                row.phase.clone(),
                row.time_s.map_or(String::new(), clock),
                format!("{} %", cell(row.left_percent, 1)),
                format!("{} A", cell(row.current_a, 2)),
                cell(row.voltage_v, 2),
                cell(row.emf_v, 2),
                cell(row.temperature_c, 1),
                row.events.join(", "),
            ]);
        }
        text.push_str(&grid.render(style));
        text.push_str(&ends(view, style));
        return text;
    };
    nothing
}

/// What every table says where no battery is followed; `None` where one is.
fn nothing_followed(view: &View) -> Option<String> {
    let timeline = view.timeline?;
    timeline.batteries.is_empty().then(|| {
        let lacking = timeline
            .lacking
            .iter()
            .map(|(battery, field)| format!("{}: no {field}\n", view.design.element_words(ElementId::Source(*battery))));
        format!("nothing to show: no battery names a type of cell\n{}", lacking.collect::<String>())
    })
}

/// How runs ended that did not come to the end of the mission, and which batteries are not followed.
fn ends(view: &View, style: Style) -> String {
    let mut text = String::new();
    for run in runs(view).iter().filter(|run| run.end != RunEnd::Whole) {
        if let Some((_, why)) = run.end.lacks(view.design) {
            text.push_str(&format!("{} in the {} corner: {why}\n", style.bad("ends early"), run.corner.word()));
        }
    }
    let lacking = view.timeline.map_or(&[][..], |timeline| &timeline.lacking);
    for (battery, field) in lacking {
        text.push_str(&format!("not followed: {}, no {field}\n", view.design.element_words(ElementId::Source(*battery))));
    }
    let cold: Vec<String> = batteries(view, &Asked::default())
        .into_iter()
        .filter(|(column, battery)| {
            let Some(cells) = &view.design.batteries[*battery].cells else { return false };
            let curve = &view.design.battery_types[cells.kind.value].curve;
            runs(view).iter().flat_map(Run::instants).any(|(_, instant)| !curve.covers(instant.batteries[*column].temperature))
        })
        .map(|(_, battery)| view.design.batteries[battery].name.to_string())
        .collect();
    if !cold.is_empty() {
        text.push_str(&format!("colder or hotter than the catalog's rows, where the nearest row is held: {}\n", cold.join(", ")));
    }
    text.push_str(&style.faint(
        "low: least charge, most worn and coldest cells, greatest loads; loads that pulse draw their mean, which gives the charge\n",
    ));
    text
}

/// Energy of each phase in each corner, and of all together.
pub fn energy(view: &View, asked: &Asked) -> Vec<EnergyRow> {
    let mut rows = Vec::new();
    for run in runs(view) {
        let mut push = |phase: Option<Id<Phase>>, legs: &mut dyn Iterator<Item = &Leg>| {
            let mut sum = analysis::timeline::Energy::default();
            legs.for_each(|leg| sum.add(&leg.energy, 1.0));
            let given = sum.batteries.abs() + sum.others.abs();
            let wh = |joule: f64| number::json(joule / HOUR);
            rows.push(EnergyRow {
                phase: phase.map(|phase| view.design.phases[phase].name.to_string()),
                corner: run.corner.word(),
                batteries_wh: wh(sum.batteries),
                others_wh: wh(sum.others),
                loads_wh: wh(sum.loads),
                in_batteries_wh: wh(sum.in_batteries),
                stored_wh: wh(sum.stored),
                wires_wh: wh(sum.wires),
                contacts_wh: wh(sum.contacts),
                devices_wh: wh(sum.devices),
                diodes_wh: wh(sum.diodes),
                converters_wh: wh(sum.converters),
                structure_wh: wh(sum.structure),
                sensors_wh: wh(sum.sensors),
                open_share: if given > 0.0 { number::json(sum.open() / given) } else { Some(0.0) },
            });
        };
        for phase in view.design.phases.ids().filter(|phase| asked.phase.is_none_or(|p| p == *phase)) {
            let mut legs = run.legs.iter().filter(|leg| leg.phase == phase).peekable();
            if legs.peek().is_some() {
                push(Some(phase), &mut legs);
            }
        }
        if asked.phase.is_none() {
            push(None, &mut run.legs.iter());
        }
    }
    rows
}

/// Energies as text.
pub fn energy_text(view: &View, rows: &[EnergyRow], style: Style) -> String {
    if let Some(nothing) = nothing_followed(view) {
        return nothing;
    }
    let heads = [
        "phase",
        "corner",
        ">batteries Wh",
        ">others",
        ">loads",
        ">in batteries",
        ">wires",
        ">contacts",
        ">devices",
        ">diodes",
        ">converters",
        ">structure",
        ">sensors",
        ">open",
    ];
    let mut grid = Grid::new(&heads);
    for row in rows {
        let wh = |value: Option<f64>| value.map_or("–".to_owned(), |v| if v == 0.0 { String::new() } else { number::significant(v, 4) });
        let mut cells = vec![row.phase.clone().unwrap_or_else(|| "all".to_owned()), row.corner.to_owned()];
        cells.extend(
            [
                row.batteries_wh,
                row.others_wh,
                row.loads_wh,
                row.in_batteries_wh,
                row.wires_wh,
                row.contacts_wh,
                row.devices_wh,
                row.diodes_wh,
                row.converters_wh,
                row.structure_wh,
                row.sensors_wh,
            ]
            .map(wh),
        );
        cells.push(row.open_share.map_or("–".to_owned(), |share| format!("{share:.0e}")));
        grid.row(cells);
    }
    let mut text = grid.render(style);
    text.push_str(&style.faint(
        "losses are summed from the square of the current over each element; open: what does not close, as a share of what is given.\n\
         what pulses of loads lose beyond their mean current is not in it\n",
    ));
    text.push_str(&ends(view, style));
    text
}

/// What each load draws in each phase it is on in, in the low corner or, with `--all`, in each.
pub fn loads(view: &View, asked: &Asked) -> Vec<LoadRow> {
    let design = view.design;
    let mut rows = Vec::new();
    for point in asked.points(view).filter(|point| asked.all || point.scenario.corner == Corner::Low) {
        let mut sums = [0.0f64; 5];
        let mut any = false;
        for (id, load) in design.loads.iter() {
            let (kind, name) = design.element_name(ElementId::Load(id));
            let (Some(row), LoadState::On) = (view.prepared.branch_of(ElementId::Load(id)), point.load_state[id]) else { continue };
            if !point.load_fed[id] || !asked.wants(kind, &name) {
                continue;
            }
            let amperes = physics::Ampere(point.current[row]);
            let volts = point.load_voltage[id].map_or(0.0, |volts| volts.0);
            let duty = load.on_time.zip(load.period).map(|(on, period)| (on.value, period.value));
            let over = |window: Second| match duty {
                Some((on, period)) => pulsed_average(amperes, on, period, window).0,
                None => amperes.0,
            };
            // A start lies within each window once.
            let starts = load.inrush.zip(load.inrush_time).map(|(inrush, time)| (inrush.value.0, time.value.0));
            let with_start = |window: Second| {
                let Some((inrush, time)) = starts else { return over(window) };
                // What it draws beyond its current, from its start on.
                let more = Stretch { from: Second(0.0), lasts: Second(time), current: physics::Ampere((inrush - amperes.0).max(0.0)) };
                over(window) + greatest_average(&[more], window).0
            };
            let peak = starts.map_or(amperes.0, |(inrush, _)| inrush.max(amperes.0));
            let values = [peak, with_start(WINDOWS[0]), with_start(WINDOWS[1]), over(WINDOWS[2]), over(WINDOWS[2]) * volts];
            sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += value);
            any = true;
            rows.push(load_row(SubjectRow { kind, name }, view, point, values));
        }
        if any && asked.names.is_empty() {
            let name = view.phase(point);
            rows.push(load_row(SubjectRow { kind: "phase", name }, view, point, sums));
        }
    }
    rows
}

fn load_row(subject: SubjectRow, view: &View, point: &Point, [peak, five, minutes, continuous, watts]: [f64; 5]) -> LoadRow {
    LoadRow {
        subject,
        phase: view.phase(point),
        corner: point.scenario.corner.word(),
        peak_a: number::json(peak),
        over_5s_a: number::json(five),
        over_5min_a: number::json(minutes),
        continuous_a: number::json(continuous),
        continuous_w: number::json(watts),
    }
}

/// The load analysis as text.
pub fn loads_text(rows: &[LoadRow], style: Style) -> String {
    if rows.is_empty() {
        return "nothing to show: no load is on and fed\n".to_owned();
    }
    let mut grid = Grid::new(&["phase", "corner", "load", ">peak A", ">5 s A", ">5 min A", ">continuous A", ">W"]);
    for row in rows {
        let cell = |value: Option<f64>| value.map_or("–".to_owned(), |v| number::fixed(v, 2));
        let is_sum = row.subject.kind == "phase";
        let name = if is_sum { "together".to_owned() } else { row.subject.name.clone() };
        let mut cells = vec![row.phase.clone(), row.corner.to_owned(), name];
        cells.extend([row.peak_a, row.over_5s_a, row.over_5min_a, row.continuous_a, row.continuous_w].map(cell));
        grid.row(cells);
    }
    grid.render(style)
        + &style.faint(
            "peak, 5 s, 5 min, continuous (15 min) after MIL-E-7016F and ASTM F2490 [from memory]; together: as if all started at once\n",
        )
}

/// The budget of each battery: in the low corner or, with `--all`, in each.
pub fn budgets(view: &View, asked: &Asked) -> Vec<BudgetRow> {
    let mut rows = Vec::new();
    for (column, battery) in batteries(view, asked) {
        for run in runs(view).iter().filter(|run| asked.all || run.corner == Corner::Low) {
            if let Some(found) = budget(view.design, run, column, battery) {
                budget_rows(view, run, &found, &mut rows);
            }
        }
    }
    rows
}

fn budget_rows(view: &View, run: &Run, found: &Budget, rows: &mut Vec<BudgetRow>) {
    let design = view.design;
    let energy = &design.profile.energy;
    let mut push = |step, phase: Option<Id<Phase>>, charge: Option<f64>, joule: Option<f64>, reason| {
        rows.push(BudgetRow {
            subject: subject(view, found.battery),
            corner: run.corner.word(),
            step,
            phase: phase.map(|phase| design.phases[phase].name.to_string()),
            charge_ah: charge.and_then(|c| number::json(c / HOUR)),
            energy_wh: joule.or(charge.map(|c| c * found.mean.0)).and_then(|j| number::json(j / HOUR)),
            reason,
        });
    };
    let rated = found.rated.0;
    push("rated", None, Some(rated), None, None);
    push("age", None, Some(-found.age.0), None, None);
    push("storage", None, Some(-found.storage.0), None, None);
    push("not charged", None, Some(-found.not_charged.0), None, None);
    push("cold and rate", None, Some(-found.kept_back.0), None, None);
    let no_cut_off = found.unusable.is_none().then_some("no cut-off voltage of its type is stated");
    push("unusable", None, found.unusable.map(|c| -c.0), None, no_cut_off);
    let uncertain = energy.uncertainty.map(|share| share.value.0 * rated);
    let no_uncertain = uncertain.is_none().then_some("the limits profile states no charge_uncertainty");
    push("uncertain", None, uncertain.map(|c| -c), None, no_uncertain);
    let usable = found.unusable.zip(uncertain).map(|(unusable, uncertain)| {
        rated - found.age.0 - found.storage.0 - found.not_charged.0 - found.kept_back.0 - unusable.0 - uncertain
    });
    push("usable", None, usable, None, no_cut_off.or(no_uncertain));
    for (phase, charge, joule) in &found.need {
        push("need", Some(*phase), Some(-charge.0), Some(-joule.0), None);
    }
    let need: f64 = found.need.iter().map(|(_, charge, _)| charge.0).sum();
    let left = usable.map(|usable| usable - need);
    push("left", None, left, None, no_cut_off.or(no_uncertain));
    // The reserve is a share of what would be usable if it were full.
    let whole = found.unusable.zip(uncertain).map(|(unusable, uncertain)| rated - found.age.0 - found.storage.0 - unusable.0 - uncertain);
    let reserve = energy.reserve.zip(whole).map(|(share, whole)| share.value.0 * whole);
    let no_reserve = reserve.is_none().then_some("the limits profile states no energy_reserve, or what is usable is not known");
    push("reserve", None, reserve.map(|c| -c), None, no_reserve);
    push("margin", None, left.zip(reserve).map(|(left, reserve)| left - reserve), None, no_reserve);
    let no_preload = found.preload.is_none().then_some("no bus_max in the limits profile, or its voltage is above that even when empty");
    push("preload", None, found.preload.map(|c| c.0), None, no_preload);
}

/// Budgets as text.
pub fn budgets_text(view: &View, rows: &[BudgetRow], style: Style) -> String {
    if let Some(nothing) = nothing_followed(view) {
        return nothing;
    }
    let mut text = String::new();
    for group in rows.chunk_by(|a, b| a.subject == b.subject && a.corner == b.corner) {
        let Some(first) = group.first() else { continue };
        text.push_str(&style.strong(&format!("{}:{}, {} corner", first.subject.kind, first.subject.name, first.corner)));
        text.push('\n');
        let mut grid = Grid::new(&["", ">Ah", ">Wh", ""]);
        for row in group {
            let words = match (row.step, &row.phase) {
                ("need", Some(phase)) => format!("− {phase}"),
                ("rated" | "usable" | "left" | "margin" | "preload", _) => row.step.to_owned(),
                (step, _) => format!("− {step}"),
            };
            let cell = |value: Option<f64>, decimals| value.map_or("–".to_owned(), |v| number::fixed(v, decimals));
            grid.row(vec![words, cell(row.charge_ah, 2), cell(row.energy_wh, 0), row.reason.unwrap_or("").to_owned()]);
        }
        text.push_str(&grid.render(style));
        text.push('\n');
    }
    let energy = &view.design.profile.energy;
    let percent = |given: Option<Given<physics::Ratio>>| {
        given.map_or("not stated".to_owned(), |g| format!("{} %", number::significant(100.0 * g.value.0, 3)))
    };
    text.push_str(&style.faint(&format!(
        "usable: above the cut-off voltage at the greatest current and coldest. cold and rate: kept back while it was discharged. reserve {} of what is \
         usable when full, uncertainty {} of the rated charge, by the limits profile.\npreload: to take out of a full battery so that a bus without load is not above \
         its greatest voltage\n",
        percent(energy.reserve),
        percent(energy.uncertainty)
    )));
    text.push_str(&ends(view, style));
    text
}
