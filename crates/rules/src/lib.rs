//! Margins and findings. One file per rule; each holds its texts and its formula, and takes its numbers from the limits profile.
//!
//! ```text
//! judge(&Case, &[Point]) → Verdict                 stored points
//! judge_point(&Case, &Point, &mut Worst)           a point that is not kept
//! verdict(&Case, Worst) → Verdict                  what was kept of them
//! ```

mod case;
mod disposition;
mod op_01;
mod op_02;
mod uf_01;
mod vd_01;
mod vl_01;
mod worst;

pub use case::Case;
pub use vd_01::drop_limit;
pub use vl_01::volts_limits;
pub use worst::{Judged, Worst, passes};

use model::{Bound, Finding, FindingState, Point, RuleCode, Verdict};
use std::cmp::Ordering;

/// One thing that is judged about a vehicle. The texts are printed by `explain`, the report and the manual alike.
pub struct Rule {
    /// Stable code.
    pub code: RuleCode,
    /// In a few words.
    pub title: &'static str,
    /// Unit of its values and limits.
    pub unit: Unit,
    /// What is computed and compared.
    pub what: &'static str,
    /// Why anybody cares.
    pub why: &'static str,
    /// Where the limit comes from, and whether it was read.
    pub source: &'static str,
    /// What usually mends it.
    pub remedy: &'static str,
    /// Judges one settled state.
    pub check: fn(&Case, &Point, &mut Worst),
}

/// Unit of a rule's values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Volt.
    Volt,
    /// Number of conducting ways.
    Paths,
    /// The rule has no number: it reports what did not settle.
    Nothing,
}

impl Unit {
    /// The symbol in tables and JSON.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Paths => "paths",
            Unit::Nothing => "",
        }
    }
}

/// All rules, in the order of reports.
pub static RULES: &[&Rule] = &[&op_01::RULE, &op_02::RULE, &uf_01::RULE, &vl_01::RULE, &vd_01::RULE];

/// The rule of a code, however it is capitalised.
pub fn explain(code: &str) -> Option<&'static Rule> {
    RULES.iter().copied().find(|rule| rule.code.0.eq_ignore_ascii_case(code))
}

/// Judges stored points.
pub fn judge(case: &Case, points: &[Point]) -> Verdict {
    let mut worst = Worst::default();
    for point in points {
        judge_point(case, point, &mut worst);
    }
    verdict(case, worst)
}

/// Judges one point and keeps of it only what is worse than before.
pub fn judge_point(case: &Case, point: &Point, worst: &mut Worst) {
    worst.begin(case, point);
    for rule in RULES {
        if !is_left_out(case, rule.code) {
            (rule.check)(case, point, worst);
        }
    }
}

/// Margins, findings and dispositions of what was judged.
pub fn verdict(case: &Case, worst: Worst) -> Verdict {
    let kept = worst.finish(case.design);
    let mut findings = kept.troubles;
    let mut at = 0;
    while at < kept.margins.len() {
        let (first, _) = &kept.margins[at];
        let sides = kept.margins[at..].iter().take_while(|(m, _)| m.rule == first.rule && m.subject == first.subject).collect::<Vec<_>>();
        at += sides.len();
        let failing = sides.iter().filter(|(m, _)| !m.failing.is_empty());
        let Some((margin, text)) = failing.min_by(|(a, _), (b, _)| a.margin().total_cmp(&b.margin())) else { continue };
        let mut states: Vec<(f64, _, _)> = sides
            .iter()
            .flat_map(|(m, _)| m.failing.iter().map(|&(phase, corner, value)| (distance(m.bound, value, m.limit), phase, corner)))
            .collect();
        states.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        findings.push(Finding {
            id: finding_id(case, margin.rule, margin.subject),
            rule: margin.rule,
            subject: margin.subject,
            margin: Some(margin.clone()),
            text: text.clone(),
            at: margin.at,
            phases: states.into_iter().map(|(_, phase, corner)| (phase, corner)).collect(),
            state: FindingState::Open,
        });
    }
    findings.sort_by(|a, b| rule_order(a.rule).cmp(&rule_order(b.rule)).then(worst_first(a, b)).then(a.subject.cmp(&b.subject)));
    let idle_dispositions = disposition::apply(case, &mut findings);
    Verdict {
        margins: kept.margins.into_iter().map(|(margin, _)| margin).collect(),
        findings,
        not_judged: kept.not_judged,
        left_out: case.design.profile.left_out.iter().map(|(rule, reason)| (rule.value.to_string(), reason.clone())).collect(),
        idle_dispositions,
        states: kept.states,
        floating: kept.floating,
    }
}

fn worst_first(a: &Finding, b: &Finding) -> Ordering {
    match (&a.margin, &b.margin) {
        (Some(a), Some(b)) => a.margin().total_cmp(&b.margin()),
        (a, b) => a.is_some().cmp(&b.is_some()),
    }
}

fn distance(bound: Bound, value: f64, limit: f64) -> f64 {
    match bound {
        Bound::AtMost => limit - value,
        Bound::AtLeast => value - limit,
    }
}

fn finding_id(case: &Case, rule: RuleCode, subject: model::Subject) -> String {
    format!("{}/{}", rule.0, case.design.subject_words(subject))
}

fn is_left_out(case: &Case, code: RuleCode) -> bool {
    case.design.profile.left_out.iter().any(|(rule, _)| &*rule.value == code.0)
}

fn rule_order(code: RuleCode) -> usize {
    RULES.iter().position(|rule| rule.code == code).unwrap_or(RULES.len())
}
