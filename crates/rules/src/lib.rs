//! Margins and findings. One file per rule; each holds its texts and its formula, and takes its numbers from the limits profile.
//!
//! ```text
//! judge(&Case, &[Point]) → Verdict                 stored points
//! judge_beside(&Case, &[Point], …) → Verdict       the same while faults and mission are still followed
//! judge_point(&Case, &Point, &mut Worst)           a point that is not kept
//! ```

mod am_01;
mod am_02;
mod ampacity;
mod bb_01;
mod bn_01;
mod bn_02;
mod bn_03;
mod bn_04;
mod bn_05;
mod bn_06;
mod bn_07;
mod case;
mod cm_01;
mod cn_01;
mod cn_02;
mod cn_03;
mod cn_04;
mod cn_05;
mod cn_06;
mod cn_07;
mod contact;
mod ct_01;
mod ct_02;
mod curve;
mod dc_01;
mod disposition;
mod en_01;
mod en_02;
mod en_03;
mod en_04;
mod en_05;
mod en_06;
mod en_07;
mod en_08;
mod energy;
mod faults;
mod feeds;
mod ft_01;
mod ft_02;
mod ft_03;
mod harness;
mod heat;
mod ht_01;
mod ht_02;
mod ht_03;
mod ht_04;
mod ic_01;
mod ic_02;
mod ic_03;
mod ic_04;
mod ic_05;
mod ic_06;
mod ic_07;
mod ic_08;
mod ic_09;
mod ic_10;
mod op_01;
mod op_02;
mod or_01;
mod or_02;
mod or_03;
mod or_04;
mod or_05;
mod or_06;
mod or_07;
mod ordnance;
mod papers;
mod pp_01;
mod pp_02;
mod pp_03;
mod pp_04;
mod pp_05;
mod pp_06;
mod pp_07;
mod pp_08;
mod pp_09;
mod pp_10;
mod pp_11;
mod pp_12;
mod rl_01;
mod rl_02;
mod routing;
mod rt_01;
mod rt_02;
mod rt_03;
mod rt_04;
mod rt_05;
mod rt_06;
mod rt_07;
mod se_01;
mod se_02;
mod se_03;
mod se_04;
mod separation;
mod sn_01;
mod sn_02;
mod sneak;
mod sp_01;
mod sp_02;
mod sp_03;
mod sp_04;
mod sp_05;
mod sp_06;
mod sp_07;
mod sp_08;
mod sp_09;
mod sp_10;
mod sp_11;
mod sp_12;
mod sp_13;
mod sr_01;
mod sr_02;
mod sw_01;
mod uf_01;
mod vd_01;
mod vl_01;
mod vl_02;
mod wi_01;
mod wiring;
mod worst;

pub use ampacity::{Allowed, Bundle, Counted as CountedWires, WireAmpacity, WireCurrents};
pub use case::Case;
pub use curve::{Curve, CurvePoint, CurveStart, CurveWire, curve};
pub use energy::{Mission, usable_left};
pub use faults::Faults;
pub use harness::least_bend;
pub use heat::{HeatLimit, HeatLimits, HeldEnd, LimitOf, Warm, heat_margin, heat_unknown, heated_by};
pub use ordnance::stray_limit_of as stray_limit;
pub use papers::Papers;
pub use pp_12::{Arc, arc};
pub use routing::{barrier_words, break_words, ends_without_breakout};
pub use separation::LIVE;
pub use vd_01::drop_limit;
pub use vl_01::volts_limits;
pub use wiring::Wiring;
pub use worst::{Judged, Worst, passes, subject_of_end};

use analysis::Study;
use analysis::protection::Protection;
use analysis::timeline::Timeline;
use model::{Bound, FaultTable, Finding, FindingState, Margin, PairTable, Point, RuleCode, SeparationTable, Verdict};
use rayon::prelude::*;
use std::borrow::Borrow;
use std::cmp::Ordering;
use std::collections::HashMap;
use std::sync::LazyLock;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering::Relaxed;
use worst::Known;

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
    /// How it judges.
    pub check: Check,
}

/// What a rule looks at.
#[derive(Clone, Copy)]
pub enum Check {
    /// One settled state at a time.
    Point(fn(&Case, &Point, &mut Worst)),
    /// Faults of fed wires, once for the vehicle, beside the states that they happen in.
    Faults(fn(&Case, &Faults, &mut Worst)),
    /// The batteries through the mission, once for the vehicle, beside the states of its phases.
    Mission(fn(&Case, &Mission, &mut Worst)),
    /// Single faults with what they come to, once for the vehicle, where they were swept.
    Sweep(fn(&Case, &FaultTable, &mut Papers)),
    /// Separations with all states in between, and what stands between sources and initiators, once for the vehicle, where they were followed.
    Separation(fn(&Case, &SeparationTable, &mut Papers)),
    /// What is written and what has a size, once for the vehicle: no state is concerned.
    Papers(fn(&Case, &Wiring, &mut Papers)),
}

/// Unit of a rule's values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Volt.
    Volt,
    /// Ampere.
    Ampere,
    /// Metre.
    Metre,
    /// Second.
    Second,
    /// Degree Celsius.
    Celsius,
    /// Share of a whole, in hundredths.
    Percent,
    /// Number of conducting ways.
    Paths,
    /// Number of inhibits.
    Inhibits,
    /// The rule has no number: it reports what did not settle, or what the papers contradict.
    Nothing,
}

impl Unit {
    /// The symbol in tables and JSON.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Ampere => "A",
            Unit::Metre => "m",
            Unit::Second => "s",
            Unit::Celsius => "degC",
            Unit::Percent => "%",
            Unit::Paths => "paths",
            Unit::Inhibits => "inhibits",
            Unit::Nothing => "",
        }
    }
}

/// All rules, in the order of reports.
pub static RULES: &[&Rule] = &[
    &op_01::RULE,
    &op_02::RULE,
    &uf_01::RULE,
    &bb_01::RULE,
    &vl_01::RULE,
    &vl_02::RULE,
    &vd_01::RULE,
    &ct_01::RULE,
    &ct_02::RULE,
    &am_01::RULE,
    &am_02::RULE,
    &ht_01::RULE,
    &ht_02::RULE,
    &ht_03::RULE,
    &ht_04::RULE,
    &pp_01::RULE,
    &pp_02::RULE,
    &pp_03::RULE,
    &pp_04::RULE,
    &pp_05::RULE,
    &pp_06::RULE,
    &pp_07::RULE,
    &pp_08::RULE,
    &pp_09::RULE,
    &pp_10::RULE,
    &pp_11::RULE,
    &pp_12::RULE,
    &sw_01::RULE,
    &rl_01::RULE,
    &rl_02::RULE,
    &sr_01::RULE,
    &sr_02::RULE,
    &en_06::RULE,
    &en_07::RULE,
    &en_08::RULE,
    &en_01::RULE,
    &en_02::RULE,
    &en_03::RULE,
    &en_04::RULE,
    &en_05::RULE,
    &dc_01::RULE,
    &se_01::RULE,
    &se_02::RULE,
    &se_03::RULE,
    &se_04::RULE,
    &or_01::RULE,
    &or_02::RULE,
    &or_03::RULE,
    &or_04::RULE,
    &or_05::RULE,
    &or_06::RULE,
    &or_07::RULE,
    &sn_01::RULE,
    &sn_02::RULE,
    &sp_01::RULE,
    &sp_02::RULE,
    &sp_03::RULE,
    &sp_04::RULE,
    &sp_05::RULE,
    &sp_06::RULE,
    &sp_07::RULE,
    &sp_08::RULE,
    &sp_09::RULE,
    &sp_10::RULE,
    &sp_11::RULE,
    &sp_12::RULE,
    &sp_13::RULE,
    &ft_01::RULE,
    &ft_02::RULE,
    &ft_03::RULE,
    &cm_01::RULE,
    &ic_01::RULE,
    &ic_02::RULE,
    &ic_03::RULE,
    &ic_04::RULE,
    &ic_05::RULE,
    &ic_06::RULE,
    &ic_07::RULE,
    &ic_08::RULE,
    &ic_09::RULE,
    &ic_10::RULE,
    &cn_01::RULE,
    &cn_02::RULE,
    &cn_03::RULE,
    &cn_04::RULE,
    &cn_05::RULE,
    &cn_06::RULE,
    &cn_07::RULE,
    &wi_01::RULE,
    &rt_01::RULE,
    &rt_02::RULE,
    &rt_03::RULE,
    &rt_04::RULE,
    &rt_05::RULE,
    &rt_06::RULE,
    &rt_07::RULE,
    &bn_01::RULE,
    &bn_02::RULE,
    &bn_03::RULE,
    &bn_04::RULE,
    &bn_05::RULE,
    &bn_06::RULE,
    &bn_07::RULE,
];

/// The rule of a code, however it is capitalised.
pub fn explain(code: &str) -> Option<&'static Rule> {
    RULES.iter().copied().find(|rule| rule.code.0.eq_ignore_ascii_case(code))
}

/// Judges stored points, in parallel; how many threads there are changes nothing of the result. What rules say of faults and of the mission is left out.
pub fn judge(case: &Case, points: &[Point]) -> Verdict {
    judge_beside(case, points, || None::<&Protection>, || None::<&Timeline>).0
}

/// All that a study knows.
pub fn judge_study(case: &Case, study: &Study) -> Verdict {
    judge_beside(case, &study.points, || study.protection.as_ref(), || study.timeline.as_ref()).0
}

/// Stored points with the faults of fed wires and the batteries through the mission, which may still have to be computed: what does not wait for them is
/// judged beside. Where one of them gives nothing, its rules judge nothing. Gives them back with the verdict.
pub fn judge_beside<P: Borrow<Protection> + Send, T: Borrow<Timeline> + Send>(
    case: &Case,
    points: &[Point],
    protection: impl FnOnce() -> Option<P> + Send,
    timeline: impl FnOnce() -> Option<T> + Send,
) -> (Verdict, Option<P>, Option<T>) {
    let known = std::sync::Arc::<Known>::default();
    let of_mission = || {
        let (timeline, mut worst) = (timeline(), Worst::knowing(&known));
        if let Some(timeline) = &timeline {
            judge_mission(case, &Mission { timeline: timeline.borrow(), points }, &mut worst);
        }
        (timeline, worst)
    };
    let of_faults = || {
        let protection = protection();
        let judged = protection.as_ref().map(|protection| judge_faults(case, &Faults { protection: protection.borrow(), points }, &known));
        (protection, judged.unwrap_or_default())
    };
    // The longest chains of work begin first; the points, which anyone may take one by one, fill up what the others leave.
    let written = || rayon::join(|| judge_papers(case, &known.wiring(case)), || judge_points(case, points, &known));
    let ((mission, faults), (papers, mut worst)) = rayon::join(|| rayon::join(of_mission, of_faults), written);
    let ((timeline, of_mission), (protection, of_faults)) = (mission, faults);
    of_faults.into_iter().chain([of_mission]).for_each(|other| worst.append(other));
    worst.find_ways(case, points);
    (verdict(case, worst, papers), protection, timeline)
}

/// Each thread takes the next point that there is, and keeps the worst of its own. Those with a part that did not settle come first: what is asked of
/// them costs several times as much, and at the end a thread would wait for it.
fn judge_points(case: &Case, points: &[Point], known: &std::sync::Arc<Known>) -> Worst {
    let settled = |point: &&Point| point.islands.iter().all(|island| island.outcome.is_settled());
    let (easy, hard): (Vec<&Point>, Vec<&Point>) = points.iter().partition(settled);
    let order = [hard, easy].concat();
    let next = AtomicUsize::new(0);
    let own = |_| {
        let mut worst = Worst::knowing(known);
        while let Some(point) = order.get(next.fetch_add(1, Relaxed)) {
            judge_point(case, point, &mut worst);
        }
        worst
    };
    let judged = (0..rayon::current_num_threads()).into_par_iter().with_max_len(1).map(own);
    judged.reduce_with(Worst::joined).unwrap_or_default()
}

/// Judges what can happen to fed wires, each rule by itself.
fn judge_faults(case: &Case, faults: &Faults, known: &std::sync::Arc<Known>) -> Vec<Worst> {
    let judged = RULES.par_iter().with_max_len(1).filter_map(|rule| match rule.check {
        Check::Faults(check) if !is_left_out(case, rule.code) => {
            let mut worst = Worst::knowing(known);
            check(case, faults, &mut worst);
            Some(worst)
        }
        _ => None,
    });
    judged.collect()
}

/// Judges the batteries through the mission.
fn judge_mission(case: &Case, mission: &Mission, worst: &mut Worst) {
    for rule in RULES {
        if let Check::Mission(check) = rule.check
            && !is_left_out(case, rule.code)
        {
            check(case, mission, worst);
        }
    }
}

/// Judges one point and keeps of it only what is worse than before.
pub fn judge_point(case: &Case, point: &Point, worst: &mut Worst) {
    worst.begin();
    for rule in RULES {
        if let Check::Point(check) = rule.check
            && !is_left_out(case, rule.code)
        {
            check(case, point, worst);
        }
    }
}

/// Margins, findings and dispositions of what was judged, and what is written judged once.
fn verdict(case: &Case, worst: Worst, papers: papers::Said) -> Verdict {
    let kept = worst.finish(case.design);
    let mut counted = kept.counted;
    counted.extend(papers.counted);
    counted.sort_by_cached_key(|row| rule_order(row.rule));
    let mut not_judged = kept.not_judged;
    not_judged.extend(papers.not_judged);
    not_judged.sort_by_cached_key(|row| (rule_order(row.rule), row.subject));
    let mut findings = kept.troubles;
    findings.extend(papers.findings);
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
        // A phase of several stretches fails once.
        let mut seen = std::collections::HashSet::new();
        states.retain(|&(_, phase, corner)| seen.insert((phase, corner)));
        findings.push(Finding {
            id: finding_id(case, margin.rule, margin.subject),
            rule: margin.rule,
            subject: margin.subject,
            margin: Some(margin.clone()),
            text: text.clone(),
            at: margin.at,
            also: Vec::new(),
            phases: states.into_iter().map(|(_, phase, corner)| (phase, corner)).collect(),
            state: FindingState::Open,
        });
    }
    findings.sort_by(|a, b| rule_order(a.rule).cmp(&rule_order(b.rule)).then(worst_first(a, b)).then(a.subject.cmp(&b.subject)));
    let idle_dispositions = disposition::apply(case, &mut findings);
    let mut margins: Vec<Margin> = kept.margins.into_iter().map(|(margin, _)| margin).chain(papers.margins).collect();
    margins.sort_by_cached_key(|m| (rule_order(m.rule), m.subject, m.bound == Bound::AtMost));
    Verdict {
        margins,
        findings,
        not_judged,
        counted,
        left_out: case.design.profile.left_out.iter().map(|(rule, reason)| (rule.value.to_string(), reason.clone())).collect(),
        idle_dispositions,
        states: kept.states,
    }
}

/// Judges a sweep over single faults: its rules alone, with the dispositions that are about their findings.
pub fn judge_sweep(case: &Case, table: &FaultTable) -> Verdict {
    let mut papers = Papers::default();
    for rule in RULES {
        if let Check::Sweep(check) = rule.check
            && !is_left_out(case, rule.code)
        {
            check(case, table, &mut papers);
        }
    }
    of_papers(case, papers)
}

/// Judges pairs of faults.
pub fn judge_pairs(case: &Case, table: &PairTable) -> Verdict {
    let mut papers = Papers::default();
    if !is_left_out(case, ft_01::RULE.code) {
        ft_01::check_pairs(case, table, &mut papers);
    }
    of_papers(case, papers)
}

fn of_papers(case: &Case, papers: Papers) -> Verdict {
    let said = papers.finish(case);
    let mut findings = said.findings;
    findings.sort_by(|a, b| rule_order(a.rule).cmp(&rule_order(b.rule)).then(a.subject.cmp(&b.subject)));
    disposition::apply(case, &mut findings);
    Verdict { findings, not_judged: said.not_judged, counted: said.counted, ..Verdict::default() }
}

/// Judges separations: their rules alone, with the dispositions that are about their findings.
pub fn judge_separation(case: &Case, table: &SeparationTable) -> Verdict {
    let mut papers = Papers::default();
    for rule in RULES {
        if let Check::Separation(check) = rule.check
            && !is_left_out(case, rule.code)
        {
            check(case, table, &mut papers);
        }
    }
    let said = papers.finish(case);
    let (mut findings, mut margins) = (said.findings, said.margins);
    findings.sort_by(|a, b| rule_order(a.rule).cmp(&rule_order(b.rule)).then(worst_first(a, b)).then(a.subject.cmp(&b.subject)));
    disposition::apply(case, &mut findings);
    margins.sort_by_cached_key(|m| (rule_order(m.rule), m.subject, m.bound == Bound::AtMost));
    Verdict { margins, findings, not_judged: said.not_judged, counted: said.counted, ..Verdict::default() }
}

impl Check {
    /// The command that judges it, where it is not `check`.
    pub fn by_command(self) -> Option<&'static str> {
        match self {
            Check::Sweep(_) => Some("faults"),
            Check::Separation(_) => Some("separate"),
            _ => None,
        }
    }
}

/// Whether a finding's rule is judged by a command of its own.
pub fn is_of_sweep(finding: &str) -> bool {
    let code = finding.split('/').next().unwrap_or_default();
    RULES.iter().any(|rule| rule.code.0 == code && rule.check.by_command().is_some())
}

fn judge_papers(case: &Case, wiring: &Wiring) -> papers::Said {
    let mut papers = Papers::default();
    for rule in RULES {
        if let Check::Papers(check) = rule.check
            && !is_left_out(case, rule.code)
        {
            check(case, wiring, &mut papers);
        }
    }
    papers.finish(case)
}

fn worst_first(a: &Finding, b: &Finding) -> Ordering {
    match (&a.margin, &b.margin) {
        (Some(a), Some(b)) => a.in_order().total_cmp(&b.in_order()),
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
    static ORDER: LazyLock<HashMap<RuleCode, usize>> = LazyLock::new(|| RULES.iter().map(|rule| rule.code).zip(0..).collect());
    ORDER.get(&code).copied().unwrap_or(RULES.len())
}
