//! The report of `check`: worst first, the phase and corner with every number, the next question on the last line.

use crate::{Style, View, number};
use model::*;
use rules::{RULES, Rule};
use std::collections::HashMap;

/// Subjects that a rule lists unless all are asked for.
const FIRST: usize = 10;

/// Subjects named for one reason of not judging, unless all are asked for.
const FEW: usize = 5;

/// The report. `every` lists every margin and finding, not only the worst findings and the margin next to its limit.
pub fn check(view: &View, today: Option<&str>, every: bool, style: Style) -> String {
    let design = view.design;
    let mut text = head(view, style);
    let mut left_out = Vec::new();
    let mut without_subject = Vec::new();
    let (mut of_sweep, mut of_separation) = (Vec::new(), Vec::new());
    let mut blocks: Vec<String> = Vec::new();
    let said = by_rule(view.verdict);
    let nothing = Said::default();
    for rule in RULES {
        let said = said.get(&rule.code).unwrap_or(&nothing);
        match view.verdict.left_out.iter().find(|(code, _)| code == rule.code.0) {
            Some((_, reason)) => left_out.push(format!("{}  {}: left out by the profile: {reason}\n", rule.code.0, rule.title)),
            None if matches!(rule.check, rules::Check::Sweep(_)) => of_sweep.push(rule.code.0),
            None if matches!(rule.check, rules::Check::Separation(_)) => of_separation.push(rule.code.0),
            None if has_subject(rule, said) => blocks.push(rule_block(view, rule, said, every, style)),
            None => without_subject.push(rule.code.0),
        }
    }
    // Rules of one line stand together; a block of more has a blank line on either side.
    for (at, block) in blocks.iter().enumerate() {
        let is_tall = |block: &String| block.lines().count() > 1;
        if at > 0 && (is_tall(block) || is_tall(&blocks[at - 1])) {
            text.push('\n');
        }
        text.push_str(block);
    }
    text.push('\n');
    if !without_subject.is_empty() {
        text.push_str(&crate::explain::wrap_under("nothing here to judge: ", &without_subject.join(", ")));
        text.push('\n');
    }
    if !design.functions.is_empty() {
        text.push_str(&format!("judged by `faults`: {}\n\n", of_sweep.join(", ")));
    }
    if !design.separations.is_empty() || !design.initiators.is_empty() {
        text.push_str(&format!("judged by `separate`: {}\n\n", of_separation.join(", ")));
    }
    if !left_out.is_empty() {
        text.push_str(&format!("{}\n", left_out.concat()));
    }
    for &row in &view.verdict.idle_dispositions {
        let disposition = &design.dispositions[row];
        let place = view.place(disposition.at);
        text.push_str(&format!("idle disposition: no finding {} ({place})\n", disposition.finding.value));
    }
    if !view.verdict.idle_dispositions.is_empty() {
        text.push('\n');
    }
    if design.dispositions.iter().any(|d| d.expiry.is_some()) {
        match today {
            Some(today) => text.push_str(&format!("expiry dates held against {today}\n")),
            None => text.push_str("expiry dates not looked at: give --today YYYY-MM-DD\n"),
        }
    }
    text.push_str(&format!("{}\n", style.strong(&verdict_line(view))));
    for caution in crate::cautions(design) {
        text.push_str(&crate::explain::wrap("caution", &caution, style));
    }
    text.push_str(&next_question(view));
    text
}

fn head(view: &View, style: Style) -> String {
    let design = view.design;
    let name = match design.revision.is_empty() {
        true => design.name.to_string(),
        false => format!("{}, revision {}", design.name, design.revision),
    };
    let phases = match design.phases.len() {
        1 => "1 phase".to_owned(),
        n => format!("{n} phases"),
    };
    format!("{}   profile {} · {phases} · 3 corners, {} states judged\n\n", style.strong(&name), design.profile.name, view.verdict.states)
}

/// What one rule says, in the order of the verdict.
#[derive(Default)]
struct Said<'v> {
    findings: Vec<&'v Finding>,
    margins: Vec<&'v Margin>,
    not_judged: Vec<&'v NotJudged>,
    judged: usize,
}

fn by_rule(verdict: &Verdict) -> HashMap<RuleCode, Said<'_>> {
    let mut said: HashMap<RuleCode, Said> = HashMap::new();
    verdict.findings.iter().for_each(|finding| said.entry(finding.rule).or_default().findings.push(finding));
    verdict.margins.iter().for_each(|margin| said.entry(margin.rule).or_default().margins.push(margin));
    verdict.not_judged.iter().for_each(|row| said.entry(row.rule).or_default().not_judged.push(row));
    verdict.counted.iter().for_each(|counted| said.entry(counted.rule).or_default().judged = counted.subjects);
    said
}

fn rule_block(view: &View, rule: &Rule, said: &Said, every: bool, style: Style) -> String {
    let Said { findings, margins, not_judged, judged } = said;
    let mut counts = vec![number::counted(findings.len(), "finding")];
    if *judged > 0 {
        counts.push(format!("{} judged", number::count(*judged)));
    }
    if !not_judged.is_empty() {
        counts.push(format!("{} not judged", number::count(not_judged.len())));
    }
    let title = format!("{}  {}", rule.code.0, rule.title);
    let pad = " ".repeat(44usize.saturating_sub(title.chars().count()));
    let mut text = format!("{}{pad}  {}\n", style.strong(&title), counts.join(", "));
    let first = if every { usize::MAX } else { FIRST };
    let shown = &findings[..findings.len().min(first)];
    let width = shown.iter().map(|f| view.design.subject_words(f.subject).chars().count()).max().unwrap_or(0);
    for finding in shown {
        text.push_str(&finding_lines(view, rule, finding, width, style));
    }
    if findings.len() > first {
        let ways = match View::has_number(rule) {
            true => format!("check --all, or show margins --rule {}", rule.code.0),
            false => "check --all".to_owned(),
        };
        text.push_str(&format!("   … and {} more: loomwright {ways}\n", number::count(findings.len() - first)));
    }
    let passing = |m: &&&Margin| rules::passes(m.value, m.limit, m.bound) && View::has_number(rule);
    if every {
        for margin in margins.iter().filter(passing) {
            text.push_str(&format!("   {}   {}\n", view.design.subject_words(margin.subject), view.numbers(margin)));
        }
    } else {
        text += &next_to_limit(view, rule, margins.iter().copied(), style);
    }
    let reasons = by_reason(not_judged);
    let hidden = reasons.len().saturating_sub(first);
    for (why, rows) in reasons.into_iter().take(first) {
        let words = |row: &&NotJudged| view.design.subject_words(row.subject);
        let line = match rows[..] {
            [row] => format!("   not judged: {}: {why} ({})\n", words(&row), view.place(row.at)),
            _ => {
                let shown: Vec<String> = rows.iter().take(if every { usize::MAX } else { FEW }).map(words).collect();
                let more = rows.len() - shown.len();
                let more = if more > 0 { format!(" and {} more", number::count(more)) } else { String::new() };
                format!("   not judged: {why}: {}{more}\n", shown.join(", "))
            }
        };
        text.push_str(&line);
    }
    if hidden > 0 {
        text.push_str(&format!("   … and {} more reasons of not judging: loomwright check --all\n", number::count(hidden)));
    }
    text
}

/// Rows of the same reason together, in the order in which the reasons first appear.
fn by_reason<'v>(rows: &[&'v NotJudged]) -> Vec<(&'v str, Vec<&'v NotJudged>)> {
    let mut groups: Vec<(&str, Vec<&NotJudged>)> = Vec::new();
    let mut at: HashMap<&str, usize> = HashMap::new();
    for &row in rows {
        let group = *at.entry(row.why.as_str()).or_insert_with(|| {
            groups.push((row.why.as_str(), Vec::new()));
            groups.len() - 1
        });
        groups[group].1.push(row);
    }
    groups
}

/// Whether a rule had anything to look at. The rules on operating points look at every state, and count no subjects.
fn has_subject(rule: &Rule, said: &Said) -> bool {
    rule.code.0.starts_with("OP-") || said.judged > 0 || !said.findings.is_empty() || !said.not_judged.is_empty()
}

fn relative(margin: &Margin) -> f64 {
    margin.in_order() / margin.limit.abs().max(1e-12)
}

/// The subject of a rule that passes next to its limit, a line; nothing where none does.
pub(crate) fn next_to_limit<'m>(view: &View, rule: &Rule, margins: impl Iterator<Item = &'m Margin>, style: Style) -> String {
    let passing = |margin: &&Margin| rules::passes(margin.value, margin.limit, margin.bound) && View::has_number(rule);
    let Some(closest) = margins.filter(passing).min_by(|a, b| relative(a).total_cmp(&relative(b))) else { return String::new() };
    let words = view.design.subject_words(closest.subject);
    style.faint(&format!("   next to the limit: {words}   {}", view.numbers(closest))) + "\n"
}

/// How a finding stands, before its text; nothing where it is open.
pub(crate) fn standing(state: &FindingState) -> String {
    match state {
        FindingState::Open => String::new(),
        FindingState::Accepted(_) => "accepted: ".to_owned(),
        FindingState::Reopened(_, why) => format!("reopened, {why}: "),
    }
}

fn finding_lines(view: &View, rule: &Rule, finding: &Finding, width: usize, style: Style) -> String {
    let words = format!("{:<width$}", view.design.subject_words(finding.subject));
    let place = view.place(finding.at);
    let mut text = match &finding.margin {
        Some(margin) if View::has_number(rule) => {
            let rests = view.rests_on(&margin.rests_on.notes);
            let rests = if rests.is_empty() { rests } else { format!("   {rests}") };
            format!("   {}   {}   {place}{rests}\n", style.bad(&words), view.numbers(margin))
        }
        _ => {
            let parts = [finding.text.clone(), view.state(finding.phases.first()), place];
            let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
            format!("   {}   {}\n", style.bad(&words), parts.join("   "))
        }
    };
    if finding.margin.is_some() && View::has_number(rule) && !finding.text.is_empty() {
        text.push_str(&format!("      {}\n", finding.text));
    }
    // Where two papers contradict each other, both lines are quoted, each once.
    if !finding.also.is_empty() {
        let mut quoted = vec![view.place(finding.at)];
        text.push_str(&format!("      {}: {}\n", quoted[0], view.line_of(finding.at)));
        for LabelledSpan { at, label } in &finding.also {
            let place = view.place(*at);
            if !quoted.contains(&place) {
                let label = if label.is_empty() { String::new() } else { format!("   ({label})") };
                text.push_str(&format!("      {place}: {}{label}\n", view.line_of(*at)));
                quoted.push(place);
            }
        }
    }
    if finding.phases.len() > 1 {
        text.push_str(&format!("      {}\n", view.further_states(&finding.phases)));
    }
    let disposition = |row: usize| {
        let d = &view.design.dispositions[row];
        let expiry = d.expiry.as_ref().map_or(String::new(), |e| format!(", until {}", e.value));
        format!("{} by {} on {}{expiry}: {}", d.action.word(), d.authority.value, d.date.value, d.reason.value)
    };
    match &finding.state {
        FindingState::Open => {}
        FindingState::Accepted(row) => text.push_str(&format!("      accepted: {}\n", disposition(*row))),
        FindingState::Reopened(row, why) => {
            text.push_str(&format!("      {}: {why} ({})\n", style.warn("reopened"), disposition(*row)));
        }
    }
    text
}

fn verdict_line(view: &View) -> String {
    let s = view.summary();
    let accepted = if s.accepted > 0 { format!(" ({} accepted)", s.accepted) } else { String::new() };
    format!(
        "{}{accepted}, {} subjects judged, {} not judged · {} TBD, {} TBC, {} recalled, {} assumed",
        number::counted(s.findings, "finding"),
        number::count(s.judged),
        number::count(s.not_judged),
        s.tbd,
        s.tbc,
        s.recalled,
        s.assumed
    )
}

fn next_question(view: &View) -> String {
    let open = view.verdict.findings.iter().find(|f| !matches!(f.state, FindingState::Accepted(_)));
    match open.or(view.verdict.findings.first()) {
        Some(finding) => {
            let words = view.design.subject_words(finding.subject);
            match finding.subject {
                Subject::Element(_) | Subject::Pin(_) => {
                    format!("why?     loomwright trace {words} · loomwright explain {}\n", finding.rule.0)
                }
                _ => format!("why?     loomwright explain {}\n", finding.rule.0),
            }
        }
        None if !view.verdict.not_judged.is_empty() => "next?    loomwright show open · loomwright show margins\n".to_owned(),
        None => "next?    loomwright show margins\n".to_owned(),
    }
}
