//! The whole computation in one screen.

use crate::folder;
use crate::session::{self, Failure, Session};
use analysis::Stages;
use analysis::timeline::Fineness;
use model::{FindingState, NotJudged, Subject, Verdict};
use outputs::View;
use rules::Case;
use std::path::Path;

/// Wires up to which every check follows the faults of those that are fed.
const FOLLOWED: usize = 30_000;
/// Wires up to which every check runs through the mission.
const LIVED: usize = 3_000;

/// Whether a stage is computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stage {
    /// Not: nothing that is asked for rests on it.
    Left,
    /// Where the vehicle is not so large that it takes long.
    Usual,
    /// However long it takes.
    Always,
}

/// What a command has to know beside the settled states.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asks {
    /// Faults of fed wires.
    pub(crate) faults: Stage,
    /// The batteries through the mission.
    pub(crate) mission: Stage,
    /// What the rules say.
    pub(crate) judged: bool,
}

impl Asks {
    /// The settled states alone.
    pub(crate) const STATES: Asks = Asks { faults: Stage::Left, mission: Stage::Left, judged: false };
    /// What every check computes.
    pub(crate) const USUAL: Asks = Asks { faults: Stage::Usual, mission: Stage::Usual, judged: true };
    /// All that there is.
    pub(crate) const EVERYTHING: Asks = Asks { faults: Stage::Always, mission: Stage::Always, judged: true };
}

/// Folder → design → settled states → judgement → whatever `show` makes of them.
pub(crate) fn with_view<T>(
    session: &mut Session,
    folder: &Path,
    (asks, today): (Asks, Option<&str>),
    show: impl FnOnce(&mut Session, &View) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let files = folder::read(folder)?;
    let mut loaded = input::load(&files);
    let Some(design) = loaded.design.take() else { return Err(Failure::Diagnostics(Box::new(loaded))) };
    session.warn(&loaded);

    let is_asked = |stage: Stage, is_small: bool| stage == Stage::Always || stage == Stage::Usual && is_small;
    let follows = is_asked(asks.faults, design.wires.len() <= FOLLOWED);
    let is_typed = design.batteries.iter().any(|(_, source)| source.cells.is_some());
    let lives = is_asked(asks.mission, design.wires.len() <= LIVED || !is_typed);
    // What is judged is judged while the faults and the mission are still being followed.
    let beside = if asks.judged { Stages::default() } else { Stages { protection: follows, timeline: lives } };
    let mut study = analysis::run(&design, beside, session.watch()).ok_or(Failure::Stopped)?;
    let mut verdict = Verdict::default();
    if asks.judged {
        let (prepared, points, watch) = (&study.prepared, &study.points, session.watch());
        let protection = || follows.then(|| analysis::protection::protection(prepared, points, watch)).flatten();
        let timeline = || lives.then(|| analysis::timeline::timeline(prepared, points, Fineness::USUAL, watch));
        (verdict, study.protection, study.timeline) =
            rules::judge_beside(&Case { design: &design, prepared, today }, points, protection, timeline);
    }
    let asked_for = |rule: &&&rules::Rule| match rule.check {
        rules::Check::Faults(_) => asks.judged && !follows,
        rules::Check::Mission(_) => asks.judged && !lives,
        _ => false,
    };
    verdict.not_judged.extend(rules::RULES.iter().filter(asked_for).map(|rule| {
        let (what, most) = if matches!(rule.check, rules::Check::Faults(_)) { ("faults", FOLLOWED) } else { ("mission", LIVED) };
        NotJudged {
            rule: rule.code,
            subject: Subject::Vehicle,
            missing: "--all".to_owned(),
            why: format!("the {what} of more than {most} wires takes long: judged by `check --all`"),
            at: design.profile.at,
            required: false,
        }
    }));
    if session.watch().cancelled() {
        return Err(Failure::Stopped);
    }

    let shown = show(session, &View::of(&design, &study, &verdict));
    // A command ends here, and with it all that it holds: taking it apart row by row would be work for nothing.
    std::mem::forget((study, verdict));
    shown
}

/// Exit code of `check`. `strict` counts what is accepted or not judged as open.
pub(crate) fn exit_code(verdict: &Verdict, strict: bool) -> u8 {
    let is_open = |state: &FindingState| strict || !matches!(state, FindingState::Accepted(_));
    let lacks_required = verdict.not_judged.iter().any(|row| row.required);
    if verdict.findings.iter().any(|finding| is_open(&finding.state)) || (strict && lacks_required) {
        session::FINDINGS
    } else if lacks_required {
        session::NOT_JUDGED
    } else {
        session::CLEAN
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::*;

    fn verdict(states: &[FindingState], not_judged: bool) -> Verdict {
        let at = Span { file: FileId(0), start: 0, end: 0 };
        let finding = |state: &FindingState| Finding {
            id: "VD-01/vehicle:x".to_owned(),
            rule: RuleCode("VD-01"),
            subject: Subject::Vehicle,
            margin: None,
            text: String::new(),
            at,
            also: Vec::new(),
            phases: Vec::new(),
            state: state.clone(),
        };
        let missing = NotJudged {
            rule: RuleCode("VL-01"),
            subject: Subject::Vehicle,
            missing: "power".to_owned(),
            why: String::new(),
            at,
            required: true,
        };
        Verdict {
            findings: states.iter().map(finding).collect(),
            not_judged: not_judged.then_some(missing).into_iter().collect(),
            ..Verdict::default()
        }
    }

    #[test]
    fn exit_codes() {
        let (open, accepted) = (FindingState::Open, FindingState::Accepted(0));
        let reopened = FindingState::Reopened(0, "worse".to_owned());
        for (states, not_judged, code, strict_code) in [
            (vec![], false, 0, 0),
            (vec![], true, 3, 1),
            (vec![accepted.clone()], false, 0, 1),
            (vec![accepted.clone()], true, 3, 1),
            (vec![accepted, open], true, 1, 1),
            (vec![reopened], false, 1, 1),
        ] {
            let verdict = verdict(&states, not_judged);
            assert_eq!((exit_code(&verdict, false), exit_code(&verdict, true)), (code, strict_code), "{states:?} {not_judged}");
        }
    }
}
