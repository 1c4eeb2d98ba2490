//! Each rule on both sides of its limit and at the limit, with each input it needs taken away.
//!
//! Designs are written as a user writes them. Resistances are links, so that the arithmetic can be done by hand.

mod bundles;
mod construction;
mod devices;
mod energy;
mod faults;
mod heat;
mod numbers;
mod ordnance;
mod papers;
mod protection;
mod routes;
mod separation;
mod sneak;
mod spine;
mod take_away;
mod wires;

use analysis::{Silent, Stages};
use loomwright_rules::{self as rules, Case};
use model::*;

/// A battery of 28 V behind 1 mohm on `bus:A`, 0.1 ohm of feed, one load; its rows and further rows are the caller's.
fn bench(load: &str, more: &str) -> String {
    format!(
        r#"
format = 1
name = "bench"
profile = "space-28v"
[node.R]
[node.L]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[bus.A]
return = "node:R"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "1 mohm"
rating = "100 A"
[link.feed]
from = "bus:A"
to = "node:L"
ohms = "0.1 ohm"
[load.X]
line = "node:L"
return = "node:R"
{load}
{more}
"#
    )
}

/// Without the faults of fed wires: benches that are about something else have no protection.
fn judge_files(files: &[(&str, &str)], today: Option<&str>) -> (Design, Verdict) {
    judge_stages(files, today, Stages::default())
}

fn judge_stages(files: &[(&str, &str)], today: Option<&str>, stages: Stages) -> (Design, Verdict) {
    let files: Vec<(String, Vec<u8>)> = files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect();
    let loaded = input::load(&files);
    let Some(design) = loaded.design else { panic!("the design of a test does not load: {:#?}", loaded.diagnostics) };
    let study = analysis::run(&design, stages, &Silent).expect("never cancelled");
    let verdict = rules::judge_study(&Case { design: &design, prepared: &study.prepared, today }, &study);
    drop(study);
    (design, verdict)
}

fn judge(text: &str) -> (Design, Verdict) {
    judge_files(&[("vehicle.toml", text)], None)
}

fn findings(verdict: &Verdict) -> Vec<&str> {
    verdict.findings.iter().map(|finding| finding.id.as_str()).collect()
}

/// Findings of one rule.
fn findings_of<'v>(verdict: &'v Verdict, rule: &str) -> Vec<&'v str> {
    verdict.findings.iter().filter(|finding| finding.rule.0 == rule).map(|finding| finding.id.as_str()).collect()
}

/// Rule, subject and missing field of what was not judged.
fn not_judged(design: &Design, verdict: &Verdict) -> Vec<(String, String)> {
    let row = |n: &NotJudged| (format!("{}/{}", n.rule.0, design.subject_words(n.subject)), n.missing.clone());
    verdict.not_judged.iter().map(row).collect()
}

fn margin<'v>(verdict: &'v Verdict, rule: &str, bound: Bound) -> &'v Margin {
    verdict.margins.iter().find(|m| m.rule.0 == rule && m.bound == bound).expect("the margin that the test asks for")
}

/// What was not judged of one rule: subject and missing field.
fn not_judged_of(design: &Design, verdict: &Verdict, rule: &str) -> Vec<(String, String)> {
    let of_rule = verdict.not_judged.iter().filter(|n| n.rule.0 == rule);
    of_rule.map(|n| (design.subject_words(n.subject), n.missing.clone())).collect()
}

/// The margin of one rule on one subject.
fn margin_of<'v>(design: &Design, verdict: &'v Verdict, rule: &str, subject: &str, bound: Bound) -> &'v Margin {
    let found = verdict.margins.iter().find(|m| m.rule.0 == rule && m.bound == bound && design.subject_words(m.subject) == subject);
    found.unwrap_or_else(|| panic!("{rule} judges {subject}: {:?}", verdict.not_judged))
}

/// How many subjects a rule judged.
fn counted(verdict: &Verdict, rule: &str) -> usize {
    verdict.counted.iter().find(|row| row.rule.0 == rule).map_or(0, |row| row.subjects)
}

/// The texts that the places of a finding cover, its own first.
fn quoted<'d>(design: &'d Design, finding: &Finding) -> Vec<&'d str> {
    std::iter::once(finding.at).chain(finding.also.iter().map(|place| place.at)).map(|at| design.sources.slice(at)).collect()
}
