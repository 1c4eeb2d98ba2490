//! Margins, findings, what was not judged.

use crate::*;

/// Stable code of a rule; never reused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RuleCode(pub &'static str);

/// Which side of the limit is good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// margin = limit − value.
    AtMost,
    /// margin = value − limit.
    AtLeast,
}

/// How many values of each standing a margin rests on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RestsOn {
    /// The notes, sorted and without repetition.
    pub notes: Vec<NoteId>,
}

/// One subject judged by one rule, at its worst phase and corner if it has any. Positive is good, zero passes.
#[derive(Clone, Debug, PartialEq)]
pub struct Margin {
    /// The rule.
    pub rule: RuleCode,
    /// Who is judged.
    pub subject: Subject,
    /// Phase and corner of the worst value; `None` where it belongs to no state, as a diameter does.
    pub state: Option<(Id<Phase>, Corner)>,
    /// The value, in the rule's unit.
    pub value: f64,
    /// The limit, in the rule's unit.
    pub limit: f64,
    /// Which side is good.
    pub bound: Bound,
    /// Least the value may be within uncertainties that belong to no corner.
    pub low: Option<f64>,
    /// Greatest the value may be within uncertainties that belong to no corner.
    pub high: Option<f64>,
    /// The limit's row or the subject's.
    pub at: Span,
    /// Values recalled, assumed, to be confirmed.
    pub rests_on: RestsOn,
    /// Phases and corners judged; of what belongs to no state, values compared.
    pub judged: u32,
    /// Every phase and corner with a negative margin, worst first, with its value; empty where the margin belongs to no state.
    pub failing: Vec<(Id<Phase>, Corner, f64)>,
}

impl Margin {
    /// Distance to the limit: positive is good.
    pub fn margin(&self) -> f64 {
        match self.bound {
            Bound::AtMost => self.limit - self.value,
            Bound::AtLeast => self.value - self.limit,
        }
    }

    /// The margin to a ten-millionth of its limit, to compare it by: rounding noise decides neither which state is the worst
    /// nor an order.
    pub fn in_order(&self) -> f64 {
        rounded(self.margin(), self.limit)
    }
}

/// A distance to a ten-millionth of a limit.
pub fn rounded(distance: f64, limit: f64) -> f64 {
    let step = 1e-7 * limit.abs().max(f64::MIN_POSITIVE.sqrt());
    // Nothing is below nothing.
    (distance / step).round() * step + 0.0
}

/// A subject that a rule could not judge, and what is missing.
#[derive(Clone, Debug, PartialEq)]
pub struct NotJudged {
    /// The rule.
    pub rule: RuleCode,
    /// Who.
    pub subject: Subject,
    /// The input field that is missing (`power`, `length`), as the manual names it.
    pub missing: String,
    /// Why, in a sentence.
    pub why: String,
    /// Where it would stand.
    pub at: Span,
    /// Whether the profile requires the rule.
    pub required: bool,
}

/// How a finding stands after dispositions.
#[derive(Clone, Debug, PartialEq)]
pub enum FindingState {
    /// Open.
    Open,
    /// Accepted by the disposition of this row.
    Accepted(usize),
    /// A disposition exists but no longer holds: why.
    Reopened(usize, String),
}

/// A negative margin, or a computation that did not settle.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// `RULE/kind:name`.
    pub id: String,
    /// The rule.
    pub rule: RuleCode,
    /// Who.
    pub subject: Subject,
    /// The margin, where the rule has one.
    pub margin: Option<Margin>,
    /// What is wrong, in a sentence, where no margin says it.
    pub text: String,
    /// Where.
    pub at: Span,
    /// Other places it follows from, each with a word about it: the row of the sheet that a wire contradicts.
    pub also: Vec<LabelledSpan>,
    /// Phases that fail, worst first; empty where the papers alone say it.
    pub phases: Vec<(Id<Phase>, Corner)>,
    /// After dispositions.
    pub state: FindingState,
}

/// How many subjects a rule judged, whether it found anything or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Counted {
    /// The rule.
    pub rule: RuleCode,
    /// Subjects judged.
    pub subjects: usize,
    /// What judgements without a margin rest on; a margin holds its own.
    pub rests_on: RestsOn,
}

/// Everything `check` says.
#[derive(Clone, Debug, Default)]
pub struct Verdict {
    /// One row per rule, subject and side of a band, in the order of rules and subjects.
    pub margins: Vec<Margin>,
    /// Findings in the order (rule, worst first).
    pub findings: Vec<Finding>,
    /// What could not be judged.
    pub not_judged: Vec<NotJudged>,
    /// Of each rule that judged anything, how many subjects, in the order of rules.
    pub counted: Vec<Counted>,
    /// Names of rules that the profile leaves out, with the reason.
    pub left_out: Vec<(String, String)>,
    /// Dispositions (row numbers) whose finding does not exist.
    pub idle_dispositions: Vec<usize>,
    /// Phases × corners computed.
    pub states: usize,
}
