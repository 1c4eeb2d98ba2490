//! `faults` and `why`: what single faults come to, as a matrix, a table of failure modes, JSON, and one case in full.

use crate::explain::wrap_under;
use crate::json::SubjectRow;
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Findings listed of a rule, and faults of a function, unless all are asked for.
const FIRST: usize = 10;

/// Output of `faults --json`.
#[derive(Debug, Serialize)]
pub struct FaultsOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `faults`.
    pub command: &'static str,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Phases in mission order.
    pub phases: Vec<String>,
    /// Corner of all states.
    pub corner: &'static str,
    /// Faults by kind.
    pub kinds: BTreeMap<&'static str, usize>,
    /// A row for each fault and phase in which a function does not simply work on.
    pub rows: Vec<CaseRow>,
    /// How often each function came to each verdict.
    pub functions: Vec<FunctionCountRow>,
    /// Findings.
    pub findings: Vec<FaultFindingRow>,
    /// Faults × phases.
    pub cases: usize,
    /// Those that change nothing in their phase.
    pub unchanged: usize,
    /// States settled.
    pub states: usize,
    /// Values that the judged states rest on and that were recalled from memory, not read in their source.
    pub recalled: Vec<crate::json::NoteRow>,
    /// Those of them that took a factorisation of their own, by why.
    pub afresh: BTreeMap<&'static str, usize>,
    /// What the wiring graph alone says of the same cases.
    pub second_opinion: OpinionRow,
    /// Stopped before its end.
    pub partial: bool,
    /// What could not be judged.
    pub not_judged: Vec<LackingRow>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// What the wiring graph alone says of the verdicts on what opens.
#[derive(Debug, Serialize)]
pub struct OpinionRow {
    /// Verdicts compared.
    pub compared: usize,
    /// Lost by both, before any action.
    pub agree_lost: usize,
    /// Lost in the sweep though a way is left: by voltage.
    pub by_voltage: usize,
    /// Not lost in the sweep though no way is left.
    pub contradictions: Vec<ContradictionRow>,
}

/// A verdict that the wiring graph contradicts.
#[derive(Debug, Serialize)]
pub struct ContradictionRow {
    /// The fault.
    pub fault: String,
    /// Phase.
    pub phase: String,
    /// The function.
    pub function: String,
}

/// A fault in a phase.
#[derive(Debug, Serialize)]
pub struct CaseRow {
    /// Its id: the words that `whatif` takes.
    pub fault: String,
    /// Its kind.
    pub kind: &'static str,
    /// What it happens to.
    pub subject: SubjectRow,
    /// Listed for want of positions.
    pub conservative: bool,
    /// Positions of its contacts are assumed.
    pub assumed: bool,
    /// Phase.
    pub phase: String,
    /// `announced`, `ground-test` or `latent`.
    pub announced: &'static str,
    /// The monitor that tells of it.
    pub monitor: Option<String>,
    /// How far that moves, in its unit; of a state null.
    pub moved: Option<f64>,
    /// What it takes.
    pub threshold: Option<f64>,
    /// Devices that open.
    pub opens: Vec<OpensRow>,
    /// A current goes on that no device ends.
    pub burns_on: bool,
    /// Functions that do not simply work on.
    pub functions: Vec<EffectRow>,
}

/// A device that opens.
#[derive(Debug, Serialize)]
pub struct OpensRow {
    /// The device.
    pub device: SubjectRow,
    /// Soonest.
    pub earliest_s: Option<f64>,
    /// Latest; null where it may never.
    pub latest_s: Option<f64>,
}

/// A function in a case.
#[derive(Debug, Serialize)]
pub struct EffectRow {
    /// The function.
    pub function: String,
    /// The verdict.
    pub effect: &'static str,
    /// Why.
    pub reason: String,
    /// How a fault that comes and goes upsets it, though one burst does not.
    pub intermittent: Option<BurstsRow>,
}

/// A fault that comes and goes.
#[derive(Debug, Serialize, Deserialize)]
pub struct BurstsRow {
    /// What lets go in the end.
    pub load: String,
    /// What comes of the function then.
    pub effect: String,
    /// So many bursts last longer than it rides.
    pub bursts: u32,
    /// Each is shorter than this.
    pub burst_s: f64,
}

impl BurstsRow {
    pub(crate) fn new(design: &Design, of: &Bursts) -> BurstsRow {
        BurstsRow {
            load: design.element_words(ElementId::Load(of.load)),
            effect: of.effect.word().to_owned(),
            bursts: of.count,
            burst_s: of.each.0,
        }
    }
}

/// A function's verdicts, counted.
#[derive(Debug, Serialize)]
pub struct FunctionCountRow {
    /// The function.
    pub function: String,
    /// Tier.
    pub tier: Option<u32>,
    /// Faults it has to survive.
    pub survives: Option<u32>,
    /// By verdict, then by `announced`, `ground-test`, `latent`.
    pub counts: BTreeMap<&'static str, BTreeMap<&'static str, usize>>,
    /// By group of faults the worst verdict and how often.
    pub worst: BTreeMap<&'static str, (&'static str, usize)>,
}

/// A finding.
#[derive(Debug, Serialize)]
pub struct FaultFindingRow {
    /// `RULE/kind:name`.
    pub id: String,
    /// What is wrong.
    pub text: String,
    /// Phases that fail.
    pub phases: Vec<String>,
    /// `open`, `accepted` or `reopened`.
    pub state: &'static str,
}

/// An input that is missing.
#[derive(Debug, Serialize)]
pub struct LackingRow {
    /// Whose.
    pub subject: SubjectRow,
    /// The field.
    pub missing: &'static str,
}

/// What was swept, with the ids of the faults in the order of the catalogue, and its judgement.
pub struct Swept<'a> {
    /// The table.
    pub table: &'a FaultTable,
    /// Ids.
    pub ids: &'a [String],
    /// Findings, and what could not be judged.
    pub verdict: &'a Verdict,
    /// What the wiring graph says of the same cases.
    pub opinion: &'a SecondOpinion,
}

/// What the wiring graph alone says of the verdicts on what opens, in words.
fn opinion(view: &View, swept: &Swept) -> String {
    let (design, opinion) = (view.design, swept.opinion);
    if opinion.compared == 0 {
        return String::new();
    }
    let text = format!(
        "of {} on something that opens, the wiring graph alone leaves no way in {}, which are lost here too; in {} a way is left and the voltage is not; {}",
        number::counted(opinion.compared, "verdict"),
        number::count(opinion.agree_lost),
        number::count(opinion.by_more_than_ways),
        match opinion.contradictions.len() {
            0 => "none contradict".to_owned(),
            n => format!("{n} contradict:"),
        }
    );
    let mut lines = wrap_under("", &text);
    for (fault, phase, function) in opinion.contradictions.iter().take(FIRST) {
        let words =
            format!("{} in {}: no way is left for {}", swept.ids[*fault], design.phases[*phase].name, design.functions[*function].name);
        lines += &wrap_under("   ", &words);
    }
    lines
}

/// Faults of each kind, in words.
pub fn fault_kinds(catalogue: &Catalogue, style: Style) -> String {
    let mut grid = Grid::new(&["kind", ">faults", "what happens"]);
    for kind in FaultKind::ALL {
        let count = catalogue.faults.iter().filter(|fault| fault.kind == kind).count();
        if count > 0 {
            grid.row(vec![kind.word().to_owned(), number::count(count), kind.mode().to_owned()]);
        }
    }
    let mut text = grid.render(style);
    let conservative = catalogue.faults.iter().filter(|fault| fault.conservative).count();
    text.push_str(&format!("{}\n", number::counted(catalogue.faults.len(), "fault")));
    let assumed = catalogue.faults.iter().filter(|fault| fault.assumed).count();
    if assumed > 0 {
        let assumed = number::count(assumed);
        text.push_str(&format!(
            "{assumed} of them by assumed positions: of such an insert the number of cavities alone is known, taken to stand in rings\n"
        ));
    }
    if conservative > 0 {
        text.push_str(&format!(
            "{} of them for want of positions: every pair of contacts of such a connector is listed\n",
            number::count(conservative)
        ));
    }
    text
}

/// Every fault of a catalogue with its id.
pub fn fault_list(view: &View, catalogue: &Catalogue, ids: &[String], style: Style) -> String {
    let mut grid = Grid::new(&["kind", "item", "fault", "note"]);
    for (fault, id) in catalogue.faults.iter().zip(ids) {
        let note = match (fault.conservative, fault.assumed) {
            (true, _) => "for want of positions",
            (_, true) => "positions assumed",
            _ => "",
        };
        grid.row(vec![fault.kind.word().to_owned(), view.design.subject_words(fault.item), id.clone(), note.to_owned()]);
    }
    grid.render(style)
}

/// The catalogue as JSON.
pub fn fault_list_json(view: &View, catalogue: &Catalogue, ids: &[String]) -> serde_json::Value {
    let rows = catalogue.faults.iter().zip(ids).map(|(fault, id)| {
        serde_json::json!({
            "fault": id, "kind": fault.kind.word(), "subject": view.subject_row(fault.item), "conservative": fault.conservative, "assumed": fault.assumed
        })
    });
    let lacking = catalogue.lacking.iter().map(|row| LackingRow { subject: view.subject_row(row.item), missing: row.field });
    serde_json::json!({
        "format": crate::json::FORMAT, "command": "faults", "vehicle": view.design.name.to_string(), "phases": view.phase_names(),
        "rows": rows.collect::<Vec<_>>(), "not_judged": lacking.collect::<Vec<_>>(), "cautions": crate::cautions(view.design),
    })
}

/// The sweep as JSON.
pub fn faults_json(view: &View, swept: &Swept) -> FaultsOutput {
    let (design, table) = (view.design, swept.table);
    let mut kinds = BTreeMap::new();
    table.rows.iter().for_each(|row| *kinds.entry(table.catalogue.faults[row.fault].kind.word()).or_default() += 1);
    let mut rows = Vec::new();
    for row in &table.rows {
        let fault = &table.catalogue.faults[row.fault];
        for case in row.phases.iter().filter(|case| !case.functions.is_empty()) {
            let (monitor, alarm) = match case.announced {
                Announced::By(monitor, alarm) => (Some(monitor), Some(alarm)),
                Announced::OnGround(monitor) => (Some(monitor), None),
                Announced::Latent => (None, None),
            };
            let has_number = monitor.is_some_and(|id| !matches!(design.monitors[id].watches.value, Watched::State(_)));
            let number_of = |value: f64| if has_number { number::json(value) } else { None };
            let opens = case.opens.iter().map(|&(device, earliest, latest)| OpensRow {
                device: view.subject_row(ElementId::Protector(device).into()),
                earliest_s: number::json(earliest.0),
                latest_s: number::json(latest.0),
            });
            let functions = case.functions.iter().map(|of| EffectRow {
                function: design.functions[of.function].name.to_string(),
                effect: of.effect.word(),
                reason: reason_words(view, of),
                intermittent: of.intermittent.map(|bursts| BurstsRow::new(design, &bursts)),
            });
            rows.push(CaseRow {
                fault: swept.ids[row.fault].clone(),
                kind: fault.kind.word(),
                subject: view.subject_row(fault.item),
                conservative: fault.conservative,
                assumed: fault.assumed,
                phase: design.phases[case.phase].name.to_string(),
                announced: case.announced.word(),
                monitor: monitor.map(|id| design.monitors[id].name.to_string()),
                moved: alarm.and_then(|alarm| number_of(alarm.by)),
                threshold: alarm.and_then(|alarm| number_of(alarm.threshold)),
                opens: opens.collect(),
                burns_on: case.burns_on,
                functions: functions.collect(),
            });
        }
    }
    let counts = table.counts(design.functions.len());
    let by_group: Vec<_> =
        FaultGroup::ALL.iter().map(|group| (*group, table.counts_of(design.functions.len(), |kind| kind.group() == *group))).collect();
    let functions = design.functions.iter().map(|(id, function)| {
        let of = |effect: Effect| {
            let by =
                Announced::WORDS.into_iter().zip(counts[id.row()][effect as usize]).filter(|(_, n)| *n > 0).collect::<BTreeMap<_, _>>();
            (effect.word(), by)
        };
        let worst = |(group, counts): &(FaultGroup, Vec<[[usize; 3]; Effect::ALL.len()]>)| {
            let (effect, n) = worst_of(&counts[id.row()])?;
            Some((group.word(), (effect.word(), n)))
        };
        FunctionCountRow {
            function: function.name.to_string(),
            tier: function.tier.map(|tier| tier.value),
            survives: function.survives.map(|survives| survives.value),
            counts: Effect::ALL.into_iter().map(of).filter(|(_, by)| !by.is_empty()).collect(),
            worst: by_group.iter().filter_map(worst).collect(),
        }
    });
    FaultsOutput {
        format: crate::json::FORMAT,
        command: "faults",
        vehicle: design.name.to_string(),
        phases: view.phase_names(),
        corner: table.corner.word(),
        kinds,
        rows,
        functions: functions.collect(),
        findings: finding_rows(design, swept.verdict),
        cases: table.cases,
        unchanged: table.unchanged,
        states: table.states,
        recalled: view.recalled(),
        afresh: table.afresh.iter().copied().collect(),
        second_opinion: OpinionRow {
            compared: swept.opinion.compared,
            agree_lost: swept.opinion.agree_lost,
            by_voltage: swept.opinion.by_more_than_ways,
            contradictions: swept
                .opinion
                .contradictions
                .iter()
                .map(|&(fault, phase, function)| ContradictionRow {
                    fault: swept.ids[fault].clone(),
                    phase: design.phases[phase].name.to_string(),
                    function: design.functions[function].name.to_string(),
                })
                .collect(),
        },
        partial: table.partial,
        not_judged: silent(swept)
            .map(|subject| (subject, "survives"))
            .chain(table.lacking.iter().copied())
            .map(|(subject, missing)| LackingRow { subject: view.subject_row(subject), missing })
            .collect(),
        cautions: crate::cautions(design),
    }
}

/// Findings as JSON.
pub(crate) fn finding_rows(design: &Design, verdict: &Verdict) -> Vec<FaultFindingRow> {
    let row = |finding: &Finding| FaultFindingRow {
        id: finding.id.clone(),
        text: finding.text.clone(),
        phases: finding.phases.iter().map(|(phase, _)| design.phases[*phase].name.to_string()).collect(),
        state: match finding.state {
            FindingState::Open => "open",
            FindingState::Accepted(_) => "accepted",
            FindingState::Reopened(..) => "reopened",
        },
    };
    verdict.findings.iter().map(row).collect()
}

/// The worst verdict that occurs, and how often it does; none where nothing was judged.
pub(crate) fn worst_of(counts: &[[usize; 3]; Effect::ALL.len()]) -> Option<(Effect, usize)> {
    Effect::ALL.into_iter().rev().map(|effect| (effect, counts[effect as usize].iter().sum::<usize>())).find(|(_, n)| *n > 0)
}

pub(crate) fn short(effect: Effect) -> &'static str {
    match effect {
        Effect::Kept => "kept",
        Effect::KeptWithFewer => "fewer",
        Effect::UpsetAlone => "upset",
        Effect::Degraded => "degraded",
        Effect::UpsetUntilActed => "upset!",
        Effect::Restored => "restored",
        Effect::Lost => "lost",
        Effect::NotKnown => "?",
    }
}

/// What the words of the two tables mean.
const LEGEND: &str = "fewer: kept with one path fewer; upset: recovers alone; upset!: needs an action; restored: by an action; ?: not known, no state settles or a value is \
                      missing; latent: of all but kept, what neither a monitor nor a test on the ground tells of. The second table has the worst of each group, and in how many cases";

/// The sweep as text: functions × verdicts, functions × groups of faults, findings.
pub fn faults(view: &View, swept: &Swept, all: bool, style: Style) -> String {
    let (design, table) = (view.design, swept.table);
    let mut text = String::new();
    let words = format!(
        "{}   {} in {}: {} cases, {} of them change nothing in their phase; {} corner",
        design.name,
        number::counted(table.rows.len(), "fault"),
        number::counted(table.wanted.len(), "phase"),
        number::count(table.cases),
        number::count(table.unchanged),
        table.corner.word()
    );
    text.push_str(&format!("{}\n", style.strong(&words)));
    if table.partial {
        text.push_str(&format!("{}: stopped before its end\n", style.bad("partial")));
    }
    text.push('\n');
    if design.functions.is_empty() {
        text.push_str(
            "no function is declared: faults have nothing to be judged by; [function.X] with needs says what the vehicle is for\n\n",
        );
    } else {
        text.push_str(&verdicts(view, table, style));
        text.push('\n');
        text.push_str(&matrix(view, table, style));
        text.push_str(&crate::explain::wrap_under("read as  ", LEGEND));
        text.push('\n');
        let of_sweep = |rule: &rules::Rule| matches!(rule.check, rules::Check::Sweep(_));
        text.push_str(&findings(view, swept.verdict, of_sweep, all, style));
    }
    let silent: Vec<String> = silent(swept).map(|subject| design.subject_words(subject)).collect();
    if !silent.is_empty() {
        text.push_str(&crate::explain::wrap_under("not judged for want of survives: ", &silent.join(", ")));
        text.push('\n');
    }
    if !table.lacking.is_empty() {
        let rows: Vec<String> =
            table.lacking.iter().map(|&(subject, field)| format!("{field} of {}", design.subject_words(subject))).collect();
        let shown = if all { rows.len() } else { rows.len().min(FIRST) };
        let more = if rows.len() > shown { format!(", … and {} more", rows.len() - shown) } else { String::new() };
        text.push_str(&crate::explain::wrap_under("not judged for want of: ", &(rows[..shown].join(", ") + &more)));
        text.push('\n');
    }
    let two = design.functions.iter().filter(|(_, function)| function.survives.is_some_and(|survives| survives.value >= 2));
    let two: Vec<String> = two.map(|(id, _)| design.subject_words(Subject::Function(id))).collect();
    if !two.is_empty() {
        text.push_str(&crate::explain::wrap_under("after two faults at a time judged by `faults --pairs`: ", &two.join(", ")));
        text.push('\n');
    }
    for &(function, phase) in &table.idle {
        let (function, phase) = (&design.functions[function].name, &design.phases[phase].name);
        text.push_str(&format!("function:{function} is wanted in phase {phase} and does not work there without a fault: not judged\n"));
    }
    let afresh: usize = table.afresh.iter().map(|(_, n)| n).sum();
    let why: Vec<String> = table.afresh.iter().map(|(why, n)| format!("{why} {}", number::count(*n))).collect();
    let why = if why.is_empty() { String::new() } else { format!(": {}", why.join(", ")) };
    let settled = format!(
        "{} settled, {} of them not on the factor of their phase{why}",
        number::counted(table.states, "state"),
        number::count(afresh)
    );
    text += &wrap_under("", &settled);
    text += &opinion(view, swept);
    text.push_str(&format!("{}\n", style.strong(&verdict_line(swept))));
    for caution in crate::cautions(design) {
        text.push_str(&crate::explain::wrap("caution", &caution, style));
    }
    text + "why?     loomwright why FAULT FUNCTION --phase P · loomwright faults --output FILE.xlsx\n"
}

/// Functions that do not say how many faults they have to survive.
fn silent<'s>(swept: &'s Swept) -> impl Iterator<Item = Subject> + 's {
    let first = swept.verdict.not_judged.first().map(|row| row.rule);
    swept.verdict.not_judged.iter().filter(move |row| Some(row.rule) == first).map(|row| row.subject)
}

fn verdict_line(swept: &Swept) -> String {
    let accepted = swept.verdict.findings.iter().filter(|finding| matches!(finding.state, FindingState::Accepted(_))).count();
    let accepted = if accepted > 0 { format!(" ({accepted} accepted)") } else { String::new() };
    let judged: usize = swept.table.wanted.iter().map(|(_, wanted)| wanted.len()).sum::<usize>() * swept.table.rows.len();
    let found = match swept.verdict.findings.len() {
        0 => "no findings".to_owned(),
        n => number::counted(n, "finding"),
    };
    let not_judged = swept.table.lacking.len() + silent(swept).count();
    format!("{found}{accepted}, {} verdicts, {not_judged} not judged", number::count(judged))
}

/// Functions × verdicts; beside a number how many of it nothing announces.
fn verdicts(view: &View, table: &FaultTable, style: Style) -> String {
    let counts = table.counts(view.design.functions.len());
    let mut heads: Vec<String> = ["function", ">tier", ">survives"].map(str::to_owned).to_vec();
    heads.extend(Effect::ALL.iter().map(|effect| format!(">{}", short(*effect))));
    heads.push(">latent".to_owned());
    let mut grid = Grid::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    for (id, function) in view.design.functions.iter() {
        let own = &counts[id.row()];
        let mut row = vec![
            function.name.to_string(),
            function.tier.map_or(String::new(), |tier| tier.value.to_string()),
            function.survives.map_or(String::new(), |survives| survives.value.to_string()),
        ];
        let cell = |n: usize| if n == 0 { String::new() } else { number::count(n) };
        row.extend(Effect::ALL.iter().map(|effect| cell(own[*effect as usize].iter().sum())));
        row.push(cell(own.iter().skip(1).map(|by| by[2]).sum()));
        grid.row(row);
    }
    grid.render(style)
}

/// Functions × groups of faults: the worst verdict and in how many cases.
fn matrix(view: &View, table: &FaultTable, style: Style) -> String {
    let mut heads = vec!["function".to_owned()];
    heads.extend(FaultGroup::ALL.iter().map(|group| group.word().to_owned()));
    let mut grid = Grid::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    let functions = view.design.functions.len();
    let by_group: Vec<_> = FaultGroup::ALL.iter().map(|group| table.counts_of(functions, |kind| kind.group() == *group)).collect();
    for (id, function) in view.design.functions.iter() {
        let mut row = vec![function.name.to_string()];
        row.extend(by_group.iter().map(|counts| match worst_of(&counts[id.row()]) {
            None => String::new(),
            Some((Effect::Kept, _)) => "kept".to_owned(),
            Some((effect, n)) => format!("{} {}", short(effect), number::count(n)),
        }));
        grid.row(row);
    }
    grid.render(style)
}

/// Findings of some rules.
pub(crate) fn findings(view: &View, verdict: &Verdict, of: impl Fn(&rules::Rule) -> bool, all: bool, style: Style) -> String {
    let mut text = String::new();
    for rule in rules::RULES.iter().filter(|rule| of(rule)) {
        let own: Vec<&Finding> = verdict.findings.iter().filter(|finding| finding.rule == rule.code).collect();
        let count = if own.is_empty() { "no findings".to_owned() } else { number::counted(own.len(), "finding") };
        text.push_str(&format!("{}  {}   {count}\n", style.strong(rule.code.0), rule.title));
        let shown = if all { own.len() } else { own.len().min(FIRST) };
        for finding in &own[..shown] {
            let state = crate::check::standing(&finding.state);
            let names: Vec<&str> = finding.phases.iter().map(|(phase, _)| &*view.design.phases[*phase].name).collect();
            let phases = if names.len() == view.design.phases.len() { "every phase".to_owned() } else { names.join(", ") };
            let line = format!("{state}{}; {phases}; {}", finding.text, view.place(finding.at));
            text.push_str(&crate::explain::wrap_under(&format!("   {}  ", view.design.subject_words(finding.subject)), &line));
        }
        if own.len() > shown {
            text.push_str(&format!("   … and {} more: --all\n", own.len() - shown));
        }
        text.push('\n');
    }
    text
}

/// Why a function stands as it does.
pub fn reason_words(view: &View, case: &FunctionCase) -> String {
    let design = view.design;
    match case.reason {
        Reason::Works => String::new(),
        Reason::Without(subject) => format!("{} gives nothing", design.subject_words(subject)),
        Reason::Cut(from, to) => format!("no way from {} to {}", design.end_name(from), design.end_name(to)),
        Reason::Outside(subject, value, limit) => {
            let unit = match subject {
                Subject::Element(ElementId::Load(_) | ElementId::Sensor(_)) => "V",
                _ => "A",
            };
            format!("{} at {} of {}", design.subject_words(subject), number::with_unit(value, unit), number::with_unit(limit, unit))
        }
        Reason::LetGo(load, volts) => {
            let once = design.loads[load].restart.can.is_some_and(|can| !can.value);
            let (name, once) = (design.element_words(ElementId::Load(load)), if once { " and does not come on again" } else { "" });
            format!("{name} lets go at {}{once}", number::with_unit(volts.0, "V"))
        }
        Reason::Action(action) => {
            let row = &design.actions[action];
            let delay = row.delay.map_or(String::new(), |delay| format!(" after {}", number::with_unit(delay.value.0, "s")));
            format!("by action:{} ({}){delay}", row.name, row.who.word())
        }
        Reason::Next(element) => format!("{} loses it next", design.element_words(element)),
        Reason::Unsettled(subject) => format!("{} has no settled state", design.subject_words(subject)),
    }
}

/// One case in full.
pub struct Explained<'a> {
    /// The fault's id.
    pub id: &'a str,
    /// The fault.
    pub fault: &'a Fault,
    /// The function.
    pub function: Id<Function>,
    /// Its verdict in the phase.
    pub case: FunctionCase,
    /// The whole of the phase.
    pub phase: &'a PhaseCase,
    /// States: without the fault, while it burns, after it, with an action.
    pub before: &'a Point,
    /// While it burns.
    pub burning: Option<&'a Point>,
    /// What is left.
    pub after: &'a Point,
    /// With the action that brings the function back.
    pub acted: Option<&'a Point>,
    /// How it ends in the longest case.
    pub latest: Option<&'a Clearing>,
}

/// What a fault that comes and goes does, and what that rests on.
fn comes_and_goes(design: &Design, of: &Bursts) -> String {
    let load = &design.loads[of.load];
    let rides = load.hold_up.map_or(0.0, |time| time.value.0);
    format!(
        "a fault that comes and goes: bursts shorter than {} need not open a device, and {} of them outlast the {} that load:{} rides: {}; taken at its worst: the device cools fully \
         between bursts, and what rides them is not filled again\n",
        number::with_unit(of.each.0, "s"),
        of.count,
        number::with_unit(rides, "s"),
        load.name,
        of.effect.word()
    )
}

/// `why`: a case as text.
pub fn why(view: &View, told: &Explained, style: Style) -> String {
    let design = view.design;
    let function = &design.functions[told.function];
    let head = format!(
        "{} {}, phase {}, {} corner",
        view.design.subject_words(told.fault.item),
        told.fault.kind.mode(),
        design.phases[told.phase.phase].name,
        told.before.scenario.corner.word()
    );
    let mut text = format!("{}\n{}\n\n", style.strong(&head), style.faint(told.id));
    let reason = reason_words(view, &told.case);
    let between = if reason.is_empty() { "" } else { ": " };
    text.push_str(&format!("function:{} {}{between}{reason}\n", function.name, style.strong(told.case.effect.word())));
    if let Some(bursts) = told.case.intermittent {
        text.push_str(&comes_and_goes(design, &bursts));
    }
    let told_by = match told.phase.announced {
        Announced::By(id, alarm) => {
            let monitor = &design.monitors[id];
            let unit = monitor.watches.value.unit();
            match monitor.watches.value {
                Watched::State(_) => format!(
                    "announced by monitor:{}: {} changes its state",
                    monitor.name,
                    design.subject_words(monitor.watches.value.subject())
                ),
                _ => format!(
                    "announced by monitor:{}: {} moves by {}, and {} is enough",
                    monitor.name,
                    design.subject_words(monitor.watches.value.subject()),
                    number::with_unit(alarm.by, unit),
                    number::with_unit(alarm.threshold, unit)
                ),
            }
        }
        Announced::OnGround(id) => format!("found only on the ground, by monitor:{}", design.monitors[id].name),
        Announced::Latent => "latent: no monitor that is sampled in this phase moves as far as it takes".to_owned(),
    };
    text.push_str(&format!("{told_by}\n\n"));
    if let Some(clearing) = told.latest {
        for &(device, earliest, latest) in &told.phase.opens {
            let until =
                if latest.0.is_finite() { format!(" to {}", number::with_unit(latest.0, "s")) } else { ", for overload".to_owned() };
            text.push_str(&format!(
                "{} opens after {}{until}\n",
                design.element_words(ElementId::Protector(device)),
                number::with_unit(earliest.0, "s")
            ));
        }
        text.push_str(&match clearing.end {
            Ends::Cleared(t) => format!("cleared after {} at the latest\n\n", number::with_unit(t.0, "s")),
            Ends::Burns(a) => format!("{} go on that no device has to open for\n\n", number::with_unit(a.0, "A")),
            Ends::Unprotected(a) => format!("{} go on: no device stands between it and a source\n\n", number::with_unit(a.0, "A")),
            Ends::NotKnown(device) => {
                format!("what {} does at its current is not known\n\n", design.element_words(ElementId::Protector(device)))
            }
            Ends::Unsettled => "its state does not settle\n\n".to_owned(),
        });
    }
    text.push_str(&volts(view, told, style));
    text.push_str(&lost_way(view, told));
    text + "more?    loomwright whatif with the words of the fault · loomwright trace LOAD\n"
}

/// Voltages of what the function needs and of the buses, state by state.
fn volts(view: &View, told: &Explained, style: Style) -> String {
    let design = view.design;
    let states: Vec<(&str, &Point)> = [
        Some(("before", told.before)),
        told.burning.map(|point| ("burning", point)),
        Some(("after", told.after)),
        told.acted.map(|point| ("acted", point)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let mut heads = vec!["voltage of".to_owned()];
    heads.extend(states.iter().map(|(word, _)| format!(">{word}")));
    let mut grid = Grid::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    let mut row = |subject: Subject, of: &dyn Fn(&Point) -> Result<f64, &'static str>| {
        let mut cells = vec![design.subject_words(subject)];
        cells.extend(states.iter().map(|(_, point)| of(point).map_or_else(|_| "none".to_owned(), |v| number::with_unit(v, "V"))));
        grid.row(cells);
    };
    for need in &design.functions[told.function].needs {
        match need.value {
            Subject::Element(ElementId::Load(id)) => {
                let load = &design.loads[id];
                row(need.value, &|point| match point.load_state[id] {
                    LoadState::Off => Err("off"),
                    LoadState::DroppedOut { .. } => Err("let go"),
                    _ => view.between(point, load.line.value, load.line_return.value),
                });
            }
            Subject::Element(ElementId::Sensor(id)) => {
                if let Some(receiver) = design.sensors[id].receiver {
                    row(need.value, &|point| point.receiver_voltage[receiver.value].map(|v| v.0).ok_or("no reading"));
                }
            }
            _ => {}
        }
    }
    for (id, bus) in design.inner_nodes.iter().filter(|(_, bus)| bus.is_bus) {
        if let Some(back) = bus.bus_return {
            row(Subject::Inner(id), &|point| view.between(point, End::Inner(id), back.value));
        }
    }
    grid.render(style) + "\n"
}

/// Of each load that has lost its power the way that it had, up to where that is cut.
fn lost_way(view: &View, told: &Explained) -> String {
    let design = view.design;
    let laws = view.prepared.laws(&told.after.scenario);
    let mut text = String::new();
    for need in &design.functions[told.function].needs {
        let Subject::Element(load @ ElementId::Load(id)) = need.value else { continue };
        let serves = |point: &Point| point.load_state[id] == LoadState::On && point.load_fed[id];
        if !serves(told.before) || serves(told.after) {
            continue;
        }
        let ladder = view.prepared.trace(told.before, load);
        let source = ladder.source.map_or(String::new(), |source| format!("{} ", design.element_words(source)));
        let words = |steps: &[LadderStep]| {
            let step = |step: &LadderStep| {
                let open = view.prepared.branch_of(step.element).is_some_and(|row| laws[row] == analysis::Law::Open);
                let words = design.element_words(step.element);
                if open { format!("[{words}: open]") } else { words }
            };
            steps.iter().map(step).collect::<Vec<_>>().join(" ")
        };
        let way = format!("{source}{} | {}", words(&ladder.feed), words(&ladder.back));
        text.push_str(&crate::explain::wrap_under(&format!("{} had its power by  ", design.element_words(load)), &way));
        text.push('\n');
    }
    text
}

/// `why --json`.
pub fn why_json(view: &View, told: &Explained) -> serde_json::Value {
    let design = view.design;
    let volts = |point: &Point| {
        let of = |need: &Given<Subject>| match need.value {
            Subject::Element(ElementId::Load(id)) => {
                Some((design.subject_words(need.value), point.load_voltage[id].and_then(|v| number::json(v.0))))
            }
            _ => None,
        };
        design.functions[told.function].needs.iter().filter_map(of).collect::<BTreeMap<_, _>>()
    };
    let opens: Vec<OpensRow> = told
        .phase
        .opens
        .iter()
        .map(|&(device, earliest, latest)| OpensRow {
            device: view.subject_row(ElementId::Protector(device).into()),
            earliest_s: number::json(earliest.0),
            latest_s: number::json(latest.0),
        })
        .collect();
    let monitor = match told.phase.announced {
        Announced::By(id, _) | Announced::OnGround(id) => Some(design.monitors[id].name.to_string()),
        Announced::Latent => None,
    };
    serde_json::json!({
        "format": crate::json::FORMAT, "command": "why", "vehicle": design.name.to_string(), "phases": view.phase_names(),
        "fault": told.id, "kind": told.fault.kind.word(), "function": design.functions[told.function].name.to_string(),
        "phase": design.phases[told.phase.phase].name.to_string(), "corner": told.before.scenario.corner.word(), "effect": told.case.effect.word(),
        "reason": reason_words(view, &told.case), "intermittent": told.case.intermittent.map(|bursts| BurstsRow::new(design, &bursts)),
        "announced": told.phase.announced.word(), "monitor": monitor, "opens": opens, "burns_on": told.phase.burns_on,
        "volts_before": volts(told.before), "volts_burning": told.burning.map(volts), "volts_after": volts(told.after),
        "volts_acted": told.acted.map(volts), "recalled": view.recalled(), "cautions": crate::cautions(design),
    })
}
