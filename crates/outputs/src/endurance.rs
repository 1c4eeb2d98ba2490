//! `endure`: how long what must be kept lasts, and what to keep beside it. Read in an emergency: the verdict first, then what to do, in order.

use crate::json::{FORMAT, SubjectRow};
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use physics::Second;
use serde::Serialize;

/// Output of `endure`.
#[derive(Debug, Serialize)]
pub struct EndureOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `endure`.
    pub command: &'static str,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Phases in mission order.
    pub phases: Vec<String>,
    /// What is lost or switched, as it is written on the command line.
    pub changes: Vec<String>,
    /// What was measured, and what of it the model does not bear out.
    pub measured: Vec<String>,
    /// Corner that the plan is judged in.
    pub corner: &'static str,
    /// Phase at the start.
    pub from_phase: String,
    /// The first line of the text.
    pub verdict: String,
    /// Whether what must be kept lasts as long as is needed.
    pub lasts: bool,
    /// How long is needed.
    pub need_s: Option<f64>,
    /// Time that is planned for: the need, or what is reached of it.
    pub planned_s: Option<f64>,
    /// What is short of the need.
    pub short_s: Option<f64>,
    /// How long what must be kept lasts with nothing shed.
    pub nothing_shed: ReachRow,
    /// The first thing that does not hold with nothing shed, limits and loads that may be shed counted too; null where all holds.
    pub held_back: Option<ReachRow>,
    /// With everything shed that may be.
    pub all_shed: ReachRow,
    /// The same with the greatest charge that fits the measurements; null where they leave one value.
    pub all_shed_greatest: Option<ReachRow>,
    /// The plan.
    pub plan: PlanRow,
    /// The best plan that keeps something which this one gives up.
    pub next_best: Option<PlanRow>,
    /// What shedding the loads that take most, first and for good, comes to.
    pub largest_first: Option<PlanRow>,
    /// What the plan keeps of each tier.
    pub tiers: Vec<TierRow>,
    /// How the search ended.
    pub search: SearchRow,
    /// Functions without power whatever is shed.
    pub lost: Vec<LostRow>,
    /// What would buy most time, where the need is not met.
    pub buys: Vec<BuyRow>,
    /// Loads that stay on because no function with a tier needs them.
    pub unranked: Vec<String>,
    /// Limits that are passed with everything shed, so that no plan is held to them.
    pub passed: Vec<PassedRow>,
    /// What the plan adds to the findings of wires and their heat.
    pub findings: Vec<String>,
    /// What is not known.
    pub not_judged: Vec<String>,
    /// Values used that were recalled from memory, not read in their source.
    pub recalled: Vec<crate::json::NoteRow>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// How long what must be kept lasts.
#[derive(Debug, Serialize)]
pub struct ReachRow {
    /// Until then.
    pub until_s: Option<f64>,
    /// What ends it; null where nothing does before the mission ends.
    pub ends: Option<String>,
}

/// A plan.
#[derive(Debug, Serialize)]
pub struct PlanRow {
    /// What to switch, in order.
    pub orders: Vec<OrderRow>,
    /// Functions with a tier: hours kept of hours wanted.
    pub functions: Vec<KeptRow>,
    /// How long what must be kept lasts through the rest of the mission, with nothing switched any more.
    pub reach: ReachRow,
    /// Loads that do not come back although the mission wants them later.
    pub locked: Vec<LockedRow>,
    /// Batteries at the beginning of each stretch and at the end.
    pub batteries: Vec<BatteryRow>,
    /// Buses, likewise.
    pub buses: Vec<BusRow>,
}

/// Something to switch.
#[derive(Debug, Serialize)]
pub struct OrderRow {
    /// Time since the start.
    pub time_s: Option<f64>,
    /// Phase.
    pub phase: String,
    /// `open`, `close`, `switch off`, `switch on` or `cycle`: on and off in turns, on first.
    pub action: &'static str,
    /// What is opened or closed; the load where it is switched by its own command.
    pub by: Vec<String>,
    /// The load.
    pub load: String,
    /// Charge that it does not take.
    pub saves_ah: Option<f64>,
    /// Of turns, how long it is on in each; null where there are none.
    pub on_s: Option<f64>,
    /// How long it is off then.
    pub off_s: Option<f64>,
    /// How often.
    pub times: Option<u32>,
}

/// A function in a plan.
#[derive(Debug, Serialize)]
pub struct KeptRow {
    /// The function.
    pub function: String,
    /// Its tier.
    pub tier: Option<u32>,
    /// Hours kept.
    pub kept_h: Option<f64>,
    /// Hours that the mission wants it.
    pub wanted_h: Option<f64>,
}

/// A load that does not come back.
#[derive(Debug, Serialize)]
pub struct LockedRow {
    /// The load.
    pub load: String,
    /// Since when.
    pub since_s: Option<f64>,
    /// Why.
    pub reason: &'static str,
}

/// A battery at a moment.
#[derive(Debug, Serialize)]
pub struct BatteryRow {
    /// Time since the start.
    pub time_s: Option<f64>,
    /// Phase.
    pub phase: String,
    /// The battery.
    pub battery: String,
    /// Share of its charge that is left.
    pub left_percent: Option<f64>,
    /// What it gives.
    pub current_a: Option<f64>,
    /// At its terminals.
    pub voltage_v: Option<f64>,
    /// Of its cells.
    pub temperature_c: Option<f64>,
}

/// A bus at a moment.
#[derive(Debug, Serialize)]
pub struct BusRow {
    /// Time since the start.
    pub time_s: Option<f64>,
    /// Phase.
    pub phase: String,
    /// The bus.
    pub bus: String,
    /// Against its return; null where it is dead.
    pub voltage_v: Option<f64>,
}

/// A tier.
#[derive(Debug, Serialize)]
pub struct TierRow {
    /// The tier.
    pub tier: u32,
    /// Worth times hours kept.
    pub kept_h: Option<f64>,
    /// Worth times hours that the mission wants.
    pub wanted_h: Option<f64>,
    /// What no plan exceeds that keeps as much of the tiers before it.
    pub bound_h: Option<f64>,
}

/// How a search ended.
#[derive(Debug, Serialize)]
pub struct SearchRow {
    /// Whether no better plan is left.
    pub proved: bool,
    /// Plans followed.
    pub tried: usize,
    /// Stretches followed.
    pub followed: usize,
    /// Periods.
    pub periods: usize,
    /// Decisions.
    pub decisions: usize,
}

/// A function without power.
#[derive(Debug, Serialize)]
pub struct LostRow {
    /// The function.
    pub function: String,
    /// The load that nothing feeds.
    pub load: String,
    /// Since when.
    pub since_s: Option<f64>,
}

/// What would buy time.
#[derive(Debug, Serialize)]
pub struct BuyRow {
    /// Giving this up, or switching it off.
    pub subject: SubjectRow,
    /// The time it buys.
    pub buys_s: Option<f64>,
}

/// A limit that no plan is held to.
#[derive(Debug, Serialize)]
pub struct PassedRow {
    /// Phase.
    pub phase: String,
    /// What passes its limit.
    pub subject: SubjectRow,
}

/// What goes with the answer beside the answer itself.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// What is lost or switched, in words.
    pub changes: Vec<String>,
    /// What was measured, and what of it the model does not bear out.
    pub measured: Vec<String>,
    /// How long what must be kept lasts with all shed that may be, by the greatest charge that the measurements leave possible.
    pub high: Option<Reach>,
}

const HOUR: f64 = 3600.0;

/// `60 h`, `12 h 20 min`, `4 min 10 s`.
pub fn duration(time: Second) -> String {
    let whole = time.0.round().max(0.0) as u64;
    let (h, min, s) = (whole / 3600, whole / 60 % 60, whole % 60);
    match (h, min, s) {
        (0, 0, s) => format!("{s} s"),
        (0, min, 0) => format!("{min} min"),
        (0, min, s) => format!("{min} min {s} s"),
        (h, 0, _) => format!("{h} h"),
        (h, min, _) => format!("{h} h {min} min"),
    }
}

fn at(time: Second) -> String {
    if time.0 < 0.5 { "T+0".to_owned() } else { format!("T+{}", duration(time)) }
}

/// A load with what it is for: `load:FN2 (cabin fan 2)`.
fn load_words(view: &View, load: Id<Load>) -> String {
    let words = view.design.element_words(ElementId::Load(load));
    let needs = |f: &Function| f.needs.iter().any(|need| need.value == Subject::Element(ElementId::Load(load)));
    let titles: Vec<&str> = view
        .design
        .functions
        .iter()
        .filter(|(_, f)| needs(f))
        .map(|(_, f)| if f.title.is_empty() { &*f.name } else { &*f.title })
        .collect();
    match titles[..] {
        [] => words,
        [title] => format!("{words} ({title})"),
        [title, ..] => format!("{words} ({title} and {} more)", titles.len() - 1),
    }
}

fn mark_words(design: &Design, mark: Mark) -> String {
    match mark {
        Mark::Bus(bus) => format!("{} is below its least voltage", design.subject_words(Subject::Inner(bus))),
        Mark::Load(load) => format!("{} has less than its least voltage", design.element_words(ElementId::Load(load))),
        Mark::Device(device) => format!("{} carries more than its rating", design.element_words(ElementId::Protector(device))),
        Mark::Battery(battery) => format!("{} gives more than its peak", design.element_words(ElementId::Source(battery))),
    }
}

fn mark_subject(mark: Mark) -> Subject {
    match mark {
        Mark::Bus(bus) => Subject::Inner(bus),
        Mark::Load(load) => Subject::Element(ElementId::Load(load)),
        Mark::Device(device) => Subject::Element(ElementId::Protector(device)),
        Mark::Battery(battery) => Subject::Element(ElementId::Source(battery)),
    }
}

fn stop_words(view: &View, stop: Stop) -> String {
    let load = |id: Id<Load>| load_words(view, id);
    match stop {
        Stop::Unfed(id) => format!("{} has no power", load(id)),
        Stop::Limit(mark) => mark_words(view.design, mark),
        Stop::Restart(id) => format!("{} has too few volts to come on again", load(id)),
        Stop::Inrush(id, other) => format!("{} takes the power of {} as it comes on", load(id), load(other)),
        Stop::Unsettled => "a part of the network finds no operating point".to_owned(),
    }
}

fn locked_words(locked: Locked) -> &'static str {
    match locked {
        Locked::Never => "it does not come on again (restart = \"no\")",
        Locked::Unstated => "nothing is stated of a restart, and no plan relies on one (restart)",
        Locked::Cold => "its surroundings are colder than it comes on at (restart_above)",
    }
}

/// Whether what must be kept lasts as long as is needed, and nothing of it is lost already.
pub fn lasts(design: &Design, endurance: &Endurance) -> bool {
    let is_lost = endurance.lost.iter().any(|(function, ..)| design.functions[*function].must_keep);
    endurance.planned >= endurance.need && !is_lost && endurance.no_duration.is_none()
}

/// The first line.
fn verdict(view: &View, endurance: &Endurance) -> String {
    let (need, planned) = (duration(endurance.need), duration(endurance.planned));
    let lost = endurance.lost.iter().filter(|(function, ..)| view.design.functions[*function].must_keep);
    if let Some((function, load, since)) = lost.min_by(|a, b| a.2.0.total_cmp(&b.2.0)) {
        let name = &view.design.functions[*function].name;
        let rest = if endurance.planned < endurance.need {
            format!("{planned}, {} short of {need}", duration(endurance.need - endurance.planned))
        } else {
            planned
        };
        return format!(
            "LOSES {name} at {}, whatever is shed: nothing feeds {}. What else must be kept lasts {rest}",
            at(*since),
            load_words(view, *load)
        );
    }
    let asked = if endurance.is_stated { "as needed" } else { "to the end of the mission" };
    if endurance.planned < endurance.need {
        let short = duration(endurance.need - endurance.planned);
        let ends = endurance.bare.ends.map_or(String::new(), |stop| format!(": then {}", stop_words(view, stop)));
        return format!("LASTS {planned}, {short} SHORT of {need}, even with all shed that may be{ends}");
    }
    let how = match endurance.best.orders.len() {
        0 => "nothing has to be shed".to_owned(),
        1 => "with the one order below".to_owned(),
        n => format!("with the {n} orders below"),
    };
    format!("LASTS {need}, {asked}: what must be kept has power throughout, {how}")
}

/// The answer as text.
pub fn endure_text(view: &View, endurance: &Endurance, beside: &Beside, style: Style) -> String {
    let design = view.design;
    let first = verdict(view, endurance);
    let mut text = if lasts(design, endurance) { style.strong(&first) } else { style.bad(&first) };
    text.push('\n');
    text.push_str(&lost_text(view, endurance, style));
    if let Some(phase) = endurance.no_duration {
        text.push_str(&format!("not judged beyond: how long phase {} lasts is not stated (duration)\n", design.phases[phase].name));
    }
    let start = endurance.best.course.first().map_or(String::new(), |stretch| format!(" in phase {}", design.phases[stretch.phase].name));
    text.push_str(&format!(
        "T+0 is now{start}; judged in the {} corner: least charge, most worn cells, greatest loads\n",
        endurance.corner.word()
    ));
    if !beside.changes.is_empty() {
        text.push_str(&format!("with {}\n", beside.changes.join(" ")));
    }
    for line in &beside.measured {
        text.push_str(&format!("{line}\n"));
    }
    if let Some(high) = &beside.high {
        let bare = |reach: &Reach| reach.ends.map_or("to the end of the mission".to_owned(), |_| duration(reach.until));
        text.push_str(&format!(
            "planned for the least charge that fits the measurements; with all shed that may be it lasts {} by that, {} by the greatest\n",
            bare(&endurance.bare),
            bare(high)
        ));
    }
    match (endurance.as_is.ends, endurance.held_back) {
        (Some(stop), _) => {
            text.push_str(&format!("with nothing shed it ends at {}: {}\n", at(endurance.as_is.until), stop_words(view, stop)))
        }
        (None, Some((stop, since))) => {
            text.push_str(&format!("with nothing shed what must be kept lasts as well, but at {} {}\n", at(since), stop_words(view, stop)));
        }
        (None, None) => {}
    }

    if !endurance.best.orders.is_empty() {
        text.push_str(&format!("\n{}\n", style.strong("Do, in this order")));
        text.push_str(&orders_text(view, &endurance.best));
    }
    text.push_str(&given_up_text(view, endurance, &endurance.best, style));
    if !endurance.best.locked.is_empty() {
        text.push_str(&format!("\n{}\n", style.strong("Does not come back, though the mission wants it later")));
        let mut grid = Grid::new(&["", "", ""]);
        for (load, since, why) in &endurance.best.locked {
            grid.row(vec![format!("  off at {}", at(*since)), load_words(view, *load), locked_words(*why).to_owned()]);
        }
        text.push_str(&grid.body());
    }
    let findings = findings(view, endurance);
    if !findings.is_empty() {
        text.push_str(&format!("\n{}\n", style.bad("Findings of wires and their heat that this plan brings")));
        findings.iter().for_each(|line| text.push_str(&format!("  {line}\n")));
    }

    text.push_str(&format!("\n{}\n", style.strong("What then stands")));
    text.push_str(&course_text(view, &endurance.best, style));
    match endurance.best.reach.ends {
        None => text.push_str("with nothing switched any more, all that must be kept has power to the end of the mission\n"),
        Some(stop) => {
            text.push_str(&format!(
                "with nothing switched any more it ends at {}: {}\n",
                at(endurance.best.reach.until),
                stop_words(view, stop)
            ));
        }
    }

    if endurance.planned < endurance.need {
        text.push_str(&format!("\n{}\n", style.strong("What would buy most")));
        for (buy, time) in &endurance.buys {
            let what = match buy {
                Buy::Without(function) => format!("giving up function {}, which must be kept", design.functions[*function].name),
                Buy::Shed(load) => format!("switching off {}, which no function with a tier needs", load_words(view, *load)),
            };
            text.push_str(&format!("  {what}: {} more\n", duration(*time)));
        }
        if endurance.buys.is_empty() {
            text.push_str("  nothing that is on buys more than a minute: only charge does\n");
        }
    }
    if endurance.next.is_some() || !endurance.best.orders.is_empty() {
        text.push_str(&format!("\n{}\n", style.strong("Other plans")));
    }
    if let Some(next) = &endurance.next {
        text.push_str(&in_place_of(view, endurance, next));
    }
    if let (Some(largest), false) = (&endurance.largest_first, endurance.best.orders.is_empty()) {
        text.push_str(&compared_text(view, endurance, largest));
    }
    text.push_str(&search_text(endurance));
    for line in not_judged(view, endurance) {
        text.push_str(&crate::explain::wrap_under("not judged: ", &line));
    }
    for caution in crate::cautions(design) {
        text.push_str(&crate::explain::wrap("caution", &caution, style));
    }
    text.push_str("next?    loomwright whatif with the same words and each --open · loomwright show timeline\n");
    text
}

/// Functions that nothing feeds, those of one time together.
fn lost_text(view: &View, endurance: &Endurance, style: Style) -> String {
    let mut times: Vec<f64> = endurance.lost.iter().map(|(.., since)| since.0).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let mut text = String::new();
    for time in times {
        let names: Vec<&str> = endurance
            .lost
            .iter()
            .filter(|(.., since)| since.0 == time)
            .map(|(function, ..)| &*view.design.functions[*function].name)
            .collect();
        let line = format!("without power from {} on, whatever is shed: {}", at(Second(time)), names.join(", "));
        text.push_str(&style.bad(&line));
        text.push('\n');
    }
    text
}

fn orders_text(view: &View, scheme: &Scheme) -> String {
    let mut grid = Grid::new(&["", "", "", "", ""]);
    for order in &scheme.orders {
        let (action, by) = lever(view, order);
        let saves = if saves(order) { format!("saves {} Ah", number::significant(order.saves.0 / HOUR, 3)) } else { String::new() };
        let load = load_words(view, order.load);
        let what = if matches!(order.lever, Lever::Own) {
            format!("{action} {load}, by its own command")
        } else {
            format!("{action} {}", by.join(" and "))
        };
        let what = match order.turns {
            Some(turns) => format!("{what}: {} on, {} off, {} times", duration(turns.on), duration(turns.off), turns.times),
            None => what,
        };
        let of = if matches!(order.lever, Lever::Own) { String::new() } else { load };
        grid.row(vec![format!("  {}", at(order.at)), view.design.phases[order.phase].name.to_string(), what, of, saves]);
    }
    grid.body()
}

/// Whether charge is saved by an order.
fn saves(order: &Order) -> bool {
    !order.on || order.turns.is_some()
}

fn lever(view: &View, order: &Order) -> (&'static str, Vec<String>) {
    match (&order.lever, order.on) {
        (Lever::Open(devices), _) if order.turns.is_some() => {
            ("cycle", devices.iter().map(|&device| view.design.element_words(device)).collect())
        }
        (Lever::Own, _) if order.turns.is_some() => ("cycle", vec![view.design.element_words(ElementId::Load(order.load))]),
        (Lever::Open(devices), on) => {
            (if on { "close" } else { "open" }, devices.iter().map(|&device| view.design.element_words(device)).collect())
        }
        (Lever::Own, on) => (if on { "switch on" } else { "switch off" }, vec![view.design.element_words(ElementId::Load(order.load))]),
    }
}

fn given_up_text(view: &View, endurance: &Endurance, scheme: &Scheme, style: Style) -> String {
    let design = view.design;
    let mut rows: Vec<(u32, Id<Function>, f64, f64)> = Vec::new();
    for &(function, kept, wanted) in &scheme.kept {
        if let (Some(tier), true) = (design.functions[function].tier, kept < wanted - 1e-6) {
            rows.push((tier.value, function, kept, wanted));
        }
    }
    rows.sort_by_key(|&(tier, function, ..)| (tier, function));
    if rows.is_empty() {
        return "\nnothing is given up\n".to_owned();
    }
    let mut text = format!("\n{}\n", style.strong("Given up"));
    let mut grid = Grid::new(&["", "", "", ""]);
    for (tier, function, kept, wanted) in rows {
        let row = &design.functions[function];
        let title = if row.title.is_empty() { row.name.to_string() } else { format!("{} ({})", row.name, row.title) };
        let hours = |h: f64| duration(Second(h * HOUR));
        let what = if kept < 1e-6 { format!("all {}", hours(wanted)) } else { format!("{} of {}", hours(wanted - kept), hours(wanted)) };
        grid.row(vec![format!("  tier {tier}"), title, what]);
    }
    text.push_str(&grid.body());
    let whole: Vec<String> =
        endurance.tiers.iter().filter(|tier| tier.kept > tier.wanted - 1e-6).map(|tier| tier.tier.to_string()).collect();
    if !whole.is_empty() {
        text.push_str(&format!("  kept throughout: all of tier {}\n", whole.join(", ")));
    }
    text
}

fn course_text(view: &View, scheme: &Scheme, style: Style) -> String {
    let design = view.design;
    let mut heads = vec!["  at".to_owned(), "phase".to_owned()];
    let batteries: Vec<Id<Source>> = scheme.course.first().map_or(Vec::new(), |first| first.batteries.iter().map(|b| b.battery).collect());
    heads.extend(batteries.iter().map(|&battery| format!(">{}", design.element_words(ElementId::Source(battery)))));
    let buses: Vec<Id<InnerNode>> = scheme.course.first().map_or(Vec::new(), |first| first.buses.iter().map(|(bus, _)| *bus).collect());
    heads.extend(buses.iter().map(|&bus| format!(">{}", design.subject_words(Subject::Inner(bus)))));
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let mut grid = Grid::new(&heads);
    for stretch in &scheme.course {
        let mut cells = vec![format!("  {}", at(stretch.at)), design.phases[stretch.phase].name.to_string()];
        cells.extend(stretch.batteries.iter().map(|b| match b.on && b.current.0.abs() >= 0.05 {
            true => format!("{} % {} A", number::fixed(100.0 * b.left.0, 1), number::fixed(b.current.0, 1)),
            false => format!("{} %", number::fixed(100.0 * b.left.0, 1)),
        }));
        cells.extend(
            stretch.buses.iter().map(|(_, volts)| volts.map_or("dead".to_owned(), |volts| format!("{} V", number::fixed(volts.0, 1)))),
        );
        grid.row(cells);
    }
    grid.render(style)
}

/// How another plan differs from the best one, function by function.
fn in_place_of(view: &View, endurance: &Endurance, other: &Scheme) -> String {
    let design = view.design;
    let hours = |h: f64| duration(Second(h * HOUR));
    let (mut more, mut less) = (Vec::new(), Vec::new());
    for (own, its) in endurance.best.kept.iter().zip(&other.kept) {
        let differs = its.1 - own.1;
        let name = &design.functions[own.0].name;
        if differs > 1e-6 {
            more.push(format!("{name} {} longer", hours(differs)));
        } else if differs < -1e-6 {
            less.push(format!("{name} {} shorter", hours(-differs)));
        }
    }
    let say = |list: &[String]| if list.is_empty() { "nothing".to_owned() } else { list.join(", ") };
    format!("  next best: keeps {}; keeps {}\n", say(&more), say(&less))
}

fn compared_text(view: &View, endurance: &Endurance, largest: &Scheme) -> String {
    let all: Vec<String> = view
        .design
        .functions
        .iter()
        .filter_map(|(_, f)| f.tier.map(|tier| tier.value))
        .collect::<std::collections::BTreeSet<u32>>()
        .into_iter()
        .zip(endurance.best.value.iter().zip(&largest.value))
        .filter(|(_, (own, its))| (**own - **its).abs() > 1e-6)
        .map(|(tier, (own, its))| format!("tier {tier} {} h in place of {} h", number::significant(*its, 3), number::significant(*own, 3)))
        .collect();
    let shed: std::collections::BTreeSet<Id<Load>> = largest.orders.iter().filter(|order| !order.on).map(|order| order.load).collect();
    match all.is_empty() {
        true => "  pulling the largest loads first keeps as much\n".to_owned(),
        false => format!("  pulling the largest loads first, {} of them for good, keeps {}\n", shed.len(), all.join(", ")),
    }
}

fn search_text(endurance: &Endurance) -> String {
    let search = &endurance.search;
    let how = match search.is_proved {
        true => "no plan of these periods keeps more".to_owned(),
        false => {
            let open: Vec<String> = endurance
                .tiers
                .iter()
                .filter(|tier| tier.bound > tier.kept * (1.0 + 1e-6) + 1e-6)
                .map(|tier| {
                    let gap = 100.0 * (tier.bound - tier.kept) / tier.bound;
                    format!(
                        "of tier {} {} h kept, none keeps more than {} h by charge and peak currents alone (gap {} %)",
                        tier.tier,
                        number::significant(tier.kept, 3),
                        number::significant(tier.bound, 3),
                        number::fixed(gap, 1)
                    )
                })
                .collect();
            match open.is_empty() {
                true => "no plan keeps more".to_owned(),
                false => format!("{}; stopped by count", open.join("; ")),
            }
        }
    };
    let (tried, periods) = (number::count(search.tried), number::count(search.periods));
    let words = format!("{how}. {tried} plans followed in full, {} decisions in {periods} periods", number::count(search.decisions));
    format!("\n{}", crate::explain::wrap_under("bound    ", &words))
}

fn not_judged(view: &View, endurance: &Endurance) -> Vec<String> {
    let design = view.design;
    let mut list = Vec::new();
    for &(battery, field) in &endurance.lacking {
        let words = design.element_words(ElementId::Source(battery));
        list.push(format!("the charge of {words}, whose {field} is not known: it is taken to last"));
    }
    if !endurance.unranked.is_empty() {
        let loads: Vec<String> = endurance.unranked.iter().map(|&load| design.element_words(ElementId::Load(load))).collect();
        list.push(format!("the worth of what no function with a tier needs, which stays on: {}", loads.join(", ")));
    }
    for &(phase, mark) in &endurance.exempt {
        list.push(format!(
            "whether {} in phase {}: it does with everything shed, so no plan is held to it",
            mark_words(design, mark),
            design.phases[phase].name
        ));
    }
    list.push("temperatures of equipment that is off: a restart is held against the ambient of its phase".to_owned());
    list
}

fn findings(view: &View, endurance: &Endurance) -> Vec<String> {
    let say = |finding: &Finding| match &finding.margin {
        Some(margin) => format!("{}  {}", finding.id, view.numbers(margin)),
        None => format!("{}  {}", finding.id, finding.text),
    };
    endurance.findings.iter().map(say).collect()
}

fn reach_row(view: &View, reach: &Reach) -> ReachRow {
    ReachRow { until_s: number::json(reach.until.0), ends: reach.ends.map(|stop| stop_words(view, stop)) }
}

fn plan_row(view: &View, scheme: &Scheme) -> PlanRow {
    let design = view.design;
    let phase = |id: Id<Phase>| design.phases[id].name.to_string();
    let orders = scheme.orders.iter().map(|order| {
        let (action, by) = lever(view, order);
        let load = design.loads[order.load].name.to_string();
        let saves_ah = if saves(order) { number::json(order.saves.0 / HOUR) } else { None };
        let turns = order.turns;
        OrderRow {
            time_s: number::json(order.at.0),
            phase: phase(order.phase),
            action,
            by,
            load,
            saves_ah,
            on_s: turns.and_then(|turns| number::json(turns.on.0)),
            off_s: turns.and_then(|turns| number::json(turns.off.0)),
            times: turns.map(|turns| turns.times),
        }
    });
    let functions = scheme.kept.iter().map(|&(function, kept, wanted)| KeptRow {
        function: design.functions[function].name.to_string(),
        tier: design.functions[function].tier.map(|tier| tier.value),
        kept_h: number::json(kept),
        wanted_h: number::json(wanted),
    });
    let locked = scheme.locked.iter().map(|&(load, since, why)| LockedRow {
        load: design.loads[load].name.to_string(),
        since_s: number::json(since.0),
        reason: locked_words(why),
    });
    let batteries = scheme.course.iter().flat_map(|stretch| {
        stretch.batteries.iter().map(|b| BatteryRow {
            time_s: number::json(stretch.at.0),
            phase: phase(stretch.phase),
            battery: design.batteries[b.battery].name.to_string(),
            left_percent: number::json(100.0 * b.left.0),
            current_a: number::json(b.current.0),
            voltage_v: number::json(b.volts.0),
            temperature_c: number::json(b.temperature.celsius()),
        })
    });
    let buses = scheme.course.iter().flat_map(|stretch| {
        stretch.buses.iter().map(|&(bus, volts)| BusRow {
            time_s: number::json(stretch.at.0),
            phase: phase(stretch.phase),
            bus: design.inner_nodes[bus].name.to_string(),
            voltage_v: volts.and_then(|volts| number::json(volts.0)),
        })
    });
    PlanRow {
        orders: orders.collect(),
        functions: functions.collect(),
        reach: reach_row(view, &scheme.reach),
        locked: locked.collect(),
        batteries: batteries.collect(),
        buses: buses.collect(),
    }
}

/// The answer as JSON.
pub fn endure_json(view: &View, endurance: &Endurance, beside: &Beside) -> EndureOutput {
    let design = view.design;
    let start = endurance.best.course.first().map_or(String::new(), |stretch| design.phases[stretch.phase].name.to_string());
    let short = endurance.need.0 - endurance.planned.0;
    EndureOutput {
        format: FORMAT,
        command: "endure",
        vehicle: design.name.to_string(),
        phases: view.phase_names(),
        changes: beside.changes.clone(),
        measured: beside.measured.clone(),
        corner: endurance.corner.word(),
        from_phase: start,
        verdict: verdict(view, endurance),
        lasts: lasts(design, endurance),
        need_s: number::json(endurance.need.0),
        planned_s: number::json(endurance.planned.0),
        short_s: number::json(short.max(0.0)),
        nothing_shed: reach_row(view, &endurance.as_is),
        held_back: endurance.held_back.map(|(stop, since)| reach_row(view, &Reach { until: since, ends: Some(stop) })),
        all_shed: reach_row(view, &endurance.bare),
        all_shed_greatest: beside.high.as_ref().map(|high| reach_row(view, high)),
        plan: plan_row(view, &endurance.best),
        next_best: endurance.next.as_ref().map(|scheme| plan_row(view, scheme)),
        largest_first: endurance.largest_first.as_ref().map(|scheme| plan_row(view, scheme)),
        tiers: endurance
            .tiers
            .iter()
            .map(|tier| TierRow {
                tier: tier.tier,
                kept_h: number::json(tier.kept),
                wanted_h: number::json(tier.wanted),
                bound_h: number::json(tier.bound),
            })
            .collect(),
        search: SearchRow {
            proved: endurance.search.is_proved,
            tried: endurance.search.tried,
            followed: endurance.search.followed,
            periods: endurance.search.periods,
            decisions: endurance.search.decisions,
        },
        lost: endurance
            .lost
            .iter()
            .map(|&(function, load, since)| LostRow {
                function: design.functions[function].name.to_string(),
                load: design.loads[load].name.to_string(),
                since_s: number::json(since.0),
            })
            .collect(),
        buys: endurance
            .buys
            .iter()
            .map(|&(buy, time)| BuyRow {
                subject: view.subject_row(match buy {
                    Buy::Without(function) => Subject::Function(function),
                    Buy::Shed(load) => Subject::Element(ElementId::Load(load)),
                }),
                buys_s: number::json(time.0),
            })
            .collect(),
        unranked: endurance.unranked.iter().map(|&load| design.loads[load].name.to_string()).collect(),
        passed: endurance
            .exempt
            .iter()
            .map(|&(phase, mark)| PassedRow { phase: design.phases[phase].name.to_string(), subject: view.subject_row(mark_subject(mark)) })
            .collect(),
        findings: findings(view, endurance),
        not_judged: not_judged(view, endurance),
        recalled: view.recalled(),
        cautions: crate::cautions(design),
    }
}
