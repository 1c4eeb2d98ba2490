//! `faults --pairs`: what two faults at a time come to, as text, JSON and lines.

use crate::explain::{wrap, wrap_under};
use crate::faults::{FaultFindingRow, LackingRow, finding_rows, findings, reason_words, short};
use crate::table::Grid;
use crate::{Style, View, number};
use model::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Products and faults of one that are listed unless all are asked for.
const FIRST: usize = 5;

/// Pairs with the ids of the faults in the order of the catalogue, and their judgement.
pub struct Paired<'a> {
    /// The table.
    pub table: &'a PairTable,
    /// Ids.
    pub ids: &'a [String],
    /// Findings.
    pub verdict: &'a Verdict,
}

/// Output of `faults --pairs --json`.
#[derive(Debug, Serialize)]
pub struct PairsOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `faults`.
    pub command: &'static str,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Phases in mission order that were looked at.
    pub phases: Vec<String>,
    /// Corner of all states.
    pub corner: &'static str,
    /// Faults that were paired.
    pub faults: usize,
    /// A row for each function and pair that does to it what neither fault does alone.
    pub rows: Vec<PairLine>,
    /// What was done about each sequence of two.
    pub sequences: SequencesRow,
    /// Findings.
    pub findings: Vec<FaultFindingRow>,
    /// States that first faults leave and that differ in something.
    pub first_states: usize,
    /// States settled.
    pub states: usize,
    /// Those of them that took a factorisation of their own, by why.
    pub afresh: BTreeMap<&'static str, usize>,
    /// Values that the judged states rest on and that were recalled from memory, not read in their source.
    pub recalled: Vec<crate::json::NoteRow>,
    /// Stopped before its end.
    pub partial: bool,
    /// What could not be judged.
    pub not_judged: Vec<LackingRow>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// Counts of sequences.
#[derive(Debug, Serialize)]
pub struct SequencesRow {
    /// Faults × (faults − 1) × phases.
    pub all: usize,
    /// A device would have to be stuck in two ways.
    pub excluded: usize,
    /// One conductor is open, or touches structure, at two places that are not known against each other.
    pub not_followed: usize,
    /// Either of the two alone loses all that is wanted.
    pub lost_alone: usize,
    /// One of the two changes nothing that matters.
    pub unchanged: usize,
    /// The two share no loop.
    pub apart: usize,
    /// Ends as another one that was followed.
    pub alike: usize,
    /// Followed each by itself.
    pub followed: usize,
}

/// A function and a pair of faults.
#[derive(Debug, Serialize)]
pub struct PairLine {
    /// The function.
    pub function: String,
    /// Its tier.
    pub tier: Option<u32>,
    /// Ids of the two, the one that comes first in the worse order first.
    pub faults: [String; 2],
    /// The verdict.
    pub effect: &'static str,
    /// Why.
    pub reason: String,
    /// Phases.
    pub phases: Vec<String>,
    /// Of either whether no monitor tells of it alone in some phase.
    pub latent: [bool; 2],
}

fn line(view: &View, paired: &Paired, row: &PairRow) -> PairLine {
    let function = &view.design.functions[row.function];
    let order = [row.faults[row.first], row.faults[1 - row.first]];
    let case = FunctionCase { function: row.function, effect: row.effect, reason: row.reason, intermittent: None };
    PairLine {
        function: function.name.to_string(),
        tier: function.tier.map(|tier| tier.value),
        faults: order.map(|fault| paired.ids[fault].clone()),
        effect: row.effect.word(),
        reason: reason_words(view, &case),
        phases: row.phases.iter().map(|&phase| view.design.phases[phase].name.to_string()).collect(),
        latent: order.map(|fault| is_latent(paired.table, fault)),
    }
}

fn is_latent(table: &PairTable, fault: usize) -> bool {
    table.faults.binary_search(&fault).is_ok_and(|at| table.latent[at])
}

fn counts(of: &Sequences) -> SequencesRow {
    let &Sequences { all, excluded, not_followed, lost_alone, unchanged, apart, alike, followed } = of;
    SequencesRow { all, excluded, not_followed, lost_alone, unchanged, apart, alike, followed }
}

/// Pairs as JSON.
pub fn pairs_json(view: &View, paired: &Paired) -> PairsOutput {
    let (design, table) = (view.design, paired.table);
    let lacking = table.lacking.iter().map(|&(subject, missing)| LackingRow { subject: view.subject_row(subject), missing });
    PairsOutput {
        format: crate::json::FORMAT,
        command: "faults",
        vehicle: design.name.to_string(),
        phases: table.wanted.iter().map(|(phase, _)| design.phases[*phase].name.to_string()).collect(),
        corner: table.corner.word(),
        faults: table.faults.len(),
        rows: table.rows.iter().map(|row| line(view, paired, row)).collect(),
        sequences: counts(&table.sequences),
        findings: finding_rows(design, paired.verdict),
        first_states: table.starts,
        states: table.states,
        afresh: table.afresh.iter().copied().collect(),
        recalled: view.recalled(),
        partial: table.partial,
        not_judged: lacking.collect(),
        cautions: crate::cautions(design),
    }
}

/// Pairs as lines of JSON: a head, a line for each function and pair, an end.
pub fn pair_lines(view: &View, paired: &Paired) -> String {
    let table = paired.table;
    let phases: Vec<&str> = table.wanted.iter().map(|(phase, _)| &*view.design.phases[*phase].name).collect();
    let mut lines = vec![serde_json::json!({
        "format": "loomwright/pairs/1", "command": "faults", "vehicle": view.design.name.to_string(), "corner": table.corner.word(),
        "phases": phases, "faults": table.faults.len(),
    })];
    lines.extend(table.rows.iter().map(|row| serde_json::json!(line(view, paired, row))));
    let afresh: BTreeMap<&str, usize> = table.afresh.iter().copied().collect();
    lines.push(serde_json::json!({
        "end": true, "partial": table.partial, "sequences": counts(&table.sequences), "first_states": table.starts, "states": table.states,
        "afresh": afresh,
    }));
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// Pairs as text: functions × verdicts, the pairs that lose one as products, findings, and what was left out.
pub fn pairs(view: &View, paired: &Paired, all: bool, style: Style) -> String {
    let (design, table) = (view.design, paired.table);
    let n = table.faults.len();
    let words = format!(
        "{}   {} two at a time in {}: {}; {} corner",
        design.name,
        number::counted(n, "fault"),
        number::counted(table.wanted.len(), "phase"),
        number::counted(n * n.saturating_sub(1) / 2, "pair"),
        table.corner.word()
    );
    let mut text = format!("{}\n", style.strong(&words));
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
        text.push_str(&wrap_under(
            "read as  ",
            "pairs that bring a function to something worse than either fault does alone, none of which loses it alone, by the worst that they bring it to; \
             the second strikes once the first has come to rest, its devices open and the actions taken that bring functions back, and the worse order counts",
        ));
        text.push('\n');
        text.push_str(&lost(view, paired, all, style));
        // With none that has to survive two faults there is nothing to find.
        if !paired.verdict.counted.is_empty() {
            text.push_str(&findings(view, paired.verdict, |rule| rule.code.0 == "FT-01", all, style));
        }
    }
    if !table.lacking.is_empty() {
        let rows: Vec<String> =
            table.lacking.iter().map(|&(subject, field)| format!("{field} of {}", design.subject_words(subject))).collect();
        text.push_str(&wrap_under("not judged for want of: ", &list(&rows, all)));
        text.push('\n');
    }
    text.push_str(&wrap_under("", &screened(table)));
    for caution in crate::cautions(design) {
        text.push_str(&wrap("caution", &caution, style));
    }
    text + "why?     loomwright why FAULT FUNCTION of either alone · loomwright whatif with the words of both\n"
}

fn list(rows: &[String], all: bool) -> String {
    let shown = if all { rows.len() } else { rows.len().min(FIRST) };
    let more = if rows.len() > shown { format!(" … and {} more", number::count(rows.len() - shown)) } else { String::new() };
    rows[..shown].join(", ") + &more
}

/// How many pairs bring each function to what.
fn verdicts(view: &View, table: &PairTable, style: Style) -> String {
    let shown = &Effect::ALL[Effect::UpsetAlone as usize..];
    let mut heads: Vec<String> = ["function", ">tier", ">survives"].map(str::to_owned).to_vec();
    heads.extend(shown.iter().map(|effect| format!(">{}", short(*effect))));
    let mut grid = Grid::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    for (id, function) in by_tier(view.design) {
        let mut row = vec![
            function.name.to_string(),
            function.tier.map_or(String::new(), |tier| tier.value.to_string()),
            function.survives.map_or(String::new(), |survives| survives.value.to_string()),
        ];
        let count = |effect: Effect| table.rows.iter().filter(|row| row.function == id && row.effect == effect).count();
        row.extend(shown.iter().map(|&effect| match count(effect) {
            0 => String::new(),
            n => number::count(n),
        }));
        grid.row(row);
    }
    grid.render(style)
}

/// Functions, the lowest tier first.
fn by_tier(design: &Design) -> Vec<(Id<Function>, &Function)> {
    let mut functions: Vec<(Id<Function>, &Function)> = design.functions.iter().collect();
    functions.sort_by_key(|(_, function)| function.tier.map_or(u32::MAX, |tier| tier.value));
    functions
}

/// The pairs that lose a function; of one that must be kept those that upset it too.
fn lost(view: &View, paired: &Paired, all: bool, style: Style) -> String {
    let table = paired.table;
    let mut text = String::new();
    for (id, function) in by_tier(view.design) {
        for effect in [Effect::Lost, Effect::UpsetUntilActed, Effect::UpsetAlone] {
            if effect != Effect::Lost && !function.must_keep {
                continue;
            }
            let mut with: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
            let rows = table.rows.iter().filter(|row| row.function == id && row.effect == effect);
            let mut count = 0;
            for &PairRow { faults: [a, b], .. } in rows {
                with.entry(a).or_default().insert(b);
                with.entry(b).or_default().insert(a);
                count += 1;
            }
            if count == 0 {
                continue;
            }
            let products = in_products(&with);
            let head = format!("{} {}", view.design.subject_words(Subject::Function(id)), effect.word());
            text.push_str(&format!("{}   {}\n", style.strong(&head), number::counted(count, "pair")));
            let shown = if all { products.len() } else { products.len().min(FIRST) };
            for sides in &products[..shown] {
                let [one, other] = sides.each_ref().map(|side| {
                    let ids: Vec<String> = side.iter().map(|&fault| paired.ids[fault].clone()).collect();
                    let latent = side.iter().filter(|&&fault| is_latent(table, fault)).count();
                    let latent = if latent > 0 { format!(" ({} latent)", number::count(latent)) } else { String::new() };
                    list(&ids, all) + &latent
                });
                text.push_str(&wrap_under("   ", &format!("{one}  with  {other}")));
            }
            if products.len() > shown {
                text.push_str(&format!("   … and {} groups of pairs more: --all\n", number::count(products.len() - shown)));
            }
        }
    }
    if text.is_empty() { text } else { text + "\n" }
}

/// What was done about each sequence, and what that guarantees.
fn screened(table: &PairTable) -> String {
    let of = &table.sequences;
    let afresh: usize = table.afresh.iter().map(|(_, n)| n).sum();
    let mut parts: Vec<String> = Vec::new();
    let mut say = |n: usize, words: &str| {
        if n > 0 {
            parts.push(format!("{} {words}", number::count(n)));
        }
    };
    say(of.excluded, "cannot be, as a device would be stuck in two ways");
    say(of.lost_alone, "hold a fault each that alone loses what is wanted");
    say(of.unchanged, "hold a fault that changes nothing there that the other one or a function stands on");
    say(of.apart, "change what shares no loop, so that all stands as one of the two leaves it");
    say(of.alike, "end as one does that was followed");
    say(of.followed, "were followed each by itself");
    say(of.not_followed, "were not followed: a wire touches structure along its length and is open, or touches it twice");
    format!(
        "{} of two, each pair in both orders: {}. Of first faults {}; {} settled, {} of them not on the factor of what they are near to. Nothing is \
         left out by a bound or a guess: what was not followed by itself is known to end as said, so that following each would find the same pairs \
         (--each does). Not looked at: two faults within the time that devices and actions take, faults that come and go, three at a time.",
        number::counted(of.all, "sequence"),
        parts.join("; "),
        number::counted(table.starts, "state"),
        number::counted(table.states, "state"),
        number::count(afresh)
    )
}
