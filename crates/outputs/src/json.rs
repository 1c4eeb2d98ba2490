//! The plain structs that every `--json` output is made of. Keys end in their unit; what has no number is null with a reason.

use crate::{View, number};
use model::*;
use serde::Serialize;

/// Version of the output's layout.
pub const FORMAT: &str = "loomwright/1";

/// Output of `show` and `trace`.
#[derive(Debug, Serialize)]
pub struct Envelope<R> {
    /// `loomwright/1`.
    pub format: &'static str,
    /// The command that wrote it.
    pub command: &'static str,
    /// The table of `show`; null for `trace`.
    pub what: Option<String>,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Phases in mission order.
    pub phases: Vec<String>,
    /// What was asked for.
    pub rows: Vec<R>,
    /// Values that something judged rests on and that were recalled from memory, not read in their source.
    pub recalled: Vec<NoteRow>,
    /// What could not be judged.
    pub not_judged: Vec<NotJudgedRow>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// Output of `check`.
#[derive(Debug, Serialize)]
pub struct CheckOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `check`.
    pub command: String,
    /// Id of the vehicle.
    pub vehicle: String,
    /// Revision as written.
    pub revision: String,
    /// Limits profile.
    pub profile: String,
    /// Phases in mission order.
    pub phases: Vec<String>,
    /// Phases × corners computed.
    pub states: usize,
    /// The day dispositions were held against, if one was given.
    pub today: Option<String>,
    /// Every margin at its worst phase and corner.
    pub margins: Vec<MarginRow>,
    /// Findings, worst first within a rule.
    pub findings: Vec<FindingRow>,
    /// The verdict line as numbers.
    pub summary: Summary,
    /// Values that something judged rests on and that were recalled from memory, not read in their source.
    pub recalled: Vec<NoteRow>,
    /// What could not be judged.
    pub not_judged: Vec<NotJudgedRow>,
    /// Rules that the profile leaves out, with the reason.
    pub left_out: Vec<LeftOutRow>,
    /// Ids of dispositions whose finding does not exist.
    pub idle_dispositions: Vec<String>,
    /// Cautions that go with the numbers.
    pub cautions: Vec<String>,
}

/// The verdict line.
#[derive(Debug, Serialize, Clone, Copy, PartialEq, Eq)]
pub struct Summary {
    /// Findings, accepted ones among them.
    pub findings: usize,
    /// Findings accepted by a disposition.
    pub accepted: usize,
    /// Rule × subject judged.
    pub judged: usize,
    /// Rule × subject not judged.
    pub not_judged: usize,
    /// Values to be determined.
    pub tbd: usize,
    /// Values to be confirmed.
    pub tbc: usize,
    /// Values recalled from memory.
    pub recalled: usize,
    /// Values assumed.
    pub assumed: usize,
}

/// What a row is about.
#[derive(Debug, Serialize, Clone, PartialEq, Eq)]
pub struct SubjectRow {
    /// `load`, `wire`, `bus` …
    pub kind: &'static str,
    /// Its id.
    pub name: String,
}

/// A place in the input.
#[derive(Debug, Serialize, Clone)]
pub struct AtRow {
    /// Path in the vehicle folder.
    pub file: String,
    /// Line from 1.
    pub line: usize,
    /// Column from 1, in characters.
    pub column: usize,
}

/// How many values of each standing a margin rests on.
#[derive(Debug, Serialize, Clone)]
pub struct RestsOnRow {
    /// Recalled from memory.
    pub recalled: usize,
    /// Assumed by the program.
    pub assumed: usize,
    /// To be confirmed.
    pub tbc: usize,
    /// To be determined, computed as if absent.
    pub tbd: usize,
}

/// One subject judged by one rule.
#[derive(Debug, Serialize, Clone)]
pub struct MarginRow {
    /// Code of the rule.
    pub rule: &'static str,
    /// Who is judged.
    pub subject: SubjectRow,
    /// The value.
    pub value: Option<f64>,
    /// The limit.
    pub limit: Option<f64>,
    /// Distance to the limit, positive is good.
    pub margin: Option<f64>,
    /// Unit of the three.
    pub unit: &'static str,
    /// `at_most` or `at_least`.
    pub bound: &'static str,
    /// Least the value may be, where an uncertainty belongs to no corner.
    pub low: Option<f64>,
    /// Greatest the value may be.
    pub high: Option<f64>,
    /// Phase of the worst value; null where it belongs to no state, as a diameter does.
    pub phase: Option<String>,
    /// Corner of the worst value; null where it belongs to no state.
    pub corner: Option<&'static str>,
    /// What differs from the phase as planned; empty here.
    pub scenario: String,
    /// The subject's row.
    pub at: AtRow,
    /// Values it rests on.
    pub rests_on: RestsOnRow,
    /// States judged; where the value belongs to none, values compared.
    pub states_judged: u32,
}

/// A phase and corner that fails.
#[derive(Debug, Serialize, Clone)]
pub struct StateRow {
    /// Phase.
    pub phase: String,
    /// Corner.
    pub corner: &'static str,
}

/// One finding.
#[derive(Debug, Serialize)]
pub struct FindingRow {
    /// `RULE/kind:name`.
    pub id: String,
    /// Code of the rule.
    pub rule: &'static str,
    /// Title of the rule.
    pub title: &'static str,
    /// Who.
    pub subject: SubjectRow,
    /// What no margin says.
    pub text: String,
    /// The margin, where the rule has one.
    pub margin: Option<MarginRow>,
    /// Every phase and corner that fails, worst first.
    pub phases: Vec<StateRow>,
    /// `open`, `accepted` or `reopened`.
    pub state: &'static str,
    /// The disposition, where there is one.
    pub disposition: Option<DispositionRow>,
    /// The subject's row.
    pub at: AtRow,
    /// Other places it follows from, where papers contradict each other.
    pub also: Vec<AlsoRow>,
}

/// Another place that a finding follows from.
#[derive(Debug, Serialize)]
pub struct AlsoRow {
    /// The place.
    pub at: AtRow,
    /// A word about it; may be empty.
    pub label: String,
}

/// What was decided about a finding.
#[derive(Debug, Serialize)]
pub struct DispositionRow {
    /// `accept`, `fix-by` or `not-applicable`.
    pub action: &'static str,
    /// Why.
    pub reason: String,
    /// Who decided.
    pub authority: String,
    /// When.
    pub date: String,
    /// Last day it holds.
    pub expiry: Option<String>,
    /// Why it no longer holds.
    pub reopened_because: Option<String>,
}

/// What could not be judged.
#[derive(Debug, Serialize, Clone)]
pub struct NotJudgedRow {
    /// Code of the rule.
    pub rule: &'static str,
    /// Who.
    pub subject: SubjectRow,
    /// The input that is missing.
    pub missing: String,
    /// Why, in a sentence.
    pub why: String,
    /// Whether the profile requires it.
    pub required: bool,
    /// Where it would stand.
    pub at: AtRow,
}

/// A rule that the profile leaves out.
#[derive(Debug, Serialize)]
pub struct LeftOutRow {
    /// Code of the rule.
    pub rule: String,
    /// Why.
    pub reason: String,
}

/// A value that is open, recalled or assumed.
#[derive(Debug, Serialize, Clone)]
pub struct NoteRow {
    /// `TBD`, `TBC`, `recalled` or `assumed`.
    pub standing: &'static str,
    /// What the value is of.
    pub what: String,
    /// The value with its unit; empty for `TBD`.
    pub value: String,
    /// Source of a recalled value, reason of an assumed one.
    pub source: String,
    /// The row it belongs to, if it is one of the vehicle.
    pub subject: Option<SubjectRow>,
    /// The input field.
    pub field: &'static str,
    /// Who answers a `TBD` or `TBC`.
    pub owner: Option<String>,
    /// By which date.
    pub need: Option<String>,
    /// Where it stands, or the row that lacks it.
    pub at: AtRow,
}

/// Output with exit code 2.
#[derive(Debug, Serialize)]
pub struct DiagnosticsOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// Every problem of the input.
    pub diagnostics: Vec<DiagnosticRow>,
}

/// One problem of the input.
#[derive(Debug, Serialize)]
pub struct DiagnosticRow {
    /// Stable code.
    pub code: String,
    /// `error` or `warning`.
    pub severity: &'static str,
    /// What is wrong.
    pub message: String,
    /// The way out.
    pub help: Option<String>,
    /// The place itself first, then those it conflicts with.
    pub places: Vec<PlaceRow>,
    /// What to write in place of what, where the way out is certain enough to be offered as text.
    pub replacement: Option<ReplacementRow>,
}

/// A text that, put in place of what stands from the first to before the end column, mends it.
#[derive(Debug, Serialize)]
pub struct ReplacementRow {
    /// Path in the vehicle folder.
    pub file: String,
    /// Line from 1.
    pub line: usize,
    /// Column from 1, in characters.
    pub column: usize,
    /// One past the last column; equal to `column` where nothing is taken away.
    pub end_column: usize,
    /// What to write there.
    pub text: String,
}

/// A place of a diagnostic.
#[derive(Debug, Serialize)]
pub struct PlaceRow {
    /// Path in the vehicle folder.
    pub file: String,
    /// Line from 1.
    pub line: usize,
    /// Column from 1, in characters.
    pub column: usize,
    /// One past the last column.
    pub end_column: usize,
    /// What is there.
    pub label: String,
}

/// The text of an output object, indented, with a line end.
pub fn to_text(value: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(value).expect("plain structs with text keys serialise");
    text.push('\n');
    text
}

/// Diagnostics as an output object.
pub fn diagnostics_json(sources: &Sources, list: &[Diagnostic]) -> DiagnosticsOutput {
    let row = |d: &Diagnostic| DiagnosticRow {
        code: d.code.0.to_owned(),
        severity: match d.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        },
        message: d.message.clone(),
        help: d.help.clone(),
        places: d
            .places
            .iter()
            .map(|place| {
                let Position { path, line, column, end_column } = sources.position(place.at);
                PlaceRow { file: path, line, column, end_column, label: place.label.clone() }
            })
            .collect(),
        replacement: d.replacement.as_ref().map(|(at, with)| {
            let Position { path, line, column, end_column } = sources.position(*at);
            ReplacementRow { file: path, line, column, end_column, text: with.clone() }
        }),
    };
    DiagnosticsOutput { format: FORMAT, diagnostics: list.iter().map(row).collect() }
}

/// A problem that stands in no file (a folder that cannot be read, an argument that is not understood).
pub fn problem_json(code: &str, message: &str) -> DiagnosticsOutput {
    let row = DiagnosticRow {
        code: code.to_owned(),
        severity: "error",
        message: message.to_owned(),
        help: None,
        places: Vec::new(),
        replacement: None,
    };
    DiagnosticsOutput { format: FORMAT, diagnostics: vec![row] }
}

/// Output of `explain`.
#[derive(Debug, Serialize)]
pub struct RulesOutput {
    /// `loomwright/1`.
    pub format: &'static str,
    /// `explain`.
    pub command: &'static str,
    /// The rules asked for.
    pub rows: Vec<RuleRow>,
}

/// A rule with its texts.
#[derive(Debug, Serialize)]
pub struct RuleRow {
    /// Stable code.
    pub rule: &'static str,
    /// In a few words.
    pub title: &'static str,
    /// Unit of its values, empty where it has none.
    pub unit: &'static str,
    /// What is computed and compared.
    pub what: &'static str,
    /// Why anybody cares.
    pub why: &'static str,
    /// Where the limit comes from.
    pub source: &'static str,
    /// What usually mends it.
    pub remedy: &'static str,
}

/// Rules as an output object.
pub fn rules_json(rules: &[&rules::Rule]) -> RulesOutput {
    let row = |rule: &&rules::Rule| RuleRow {
        rule: rule.code.0,
        title: rule.title,
        unit: rule.unit.symbol(),
        what: rule.what,
        why: rule.why,
        source: rule.source,
        remedy: rule.remedy,
    };
    RulesOutput { format: FORMAT, command: "explain", rows: rules.iter().map(row).collect() }
}

impl View<'_> {
    /// The envelope of a `show` or `trace` output.
    pub fn envelope<R>(&self, command: &'static str, what: Option<&str>, rows: Vec<R>) -> Envelope<R> {
        Envelope {
            format: FORMAT,
            command,
            what: what.map(str::to_owned),
            vehicle: self.design.name.to_string(),
            phases: self.phase_names(),
            rows,
            recalled: self.recalled(),
            not_judged: self.not_judged_rows(),
            cautions: crate::cautions(self.design),
        }
    }

    /// The output object of `check`.
    pub fn check_json(&self, today: Option<&str>) -> CheckOutput {
        let verdict = self.verdict;
        CheckOutput {
            format: FORMAT,
            command: "check".to_owned(),
            vehicle: self.design.name.to_string(),
            revision: self.design.revision.clone(),
            profile: self.design.profile.name.to_string(),
            phases: self.phase_names(),
            states: verdict.states,
            today: today.map(str::to_owned),
            margins: verdict.margins.iter().map(|m| self.margin_row(m)).collect(),
            findings: verdict.findings.iter().map(|f| self.finding_row(f)).collect(),
            summary: self.summary(),
            recalled: self.recalled(),
            not_judged: self.not_judged_rows(),
            left_out: verdict.left_out.iter().map(|(rule, reason)| LeftOutRow { rule: rule.clone(), reason: reason.clone() }).collect(),
            idle_dispositions: verdict
                .idle_dispositions
                .iter()
                .map(|&row| self.design.dispositions[row].finding.value.to_string())
                .collect(),
            cautions: crate::cautions(self.design),
        }
    }

    /// The verdict line as numbers. Recalled and assumed values count where something judged rests on them.
    pub fn summary(&self) -> Summary {
        let used = self.notes_in_use();
        Summary {
            findings: self.verdict.findings.len(),
            accepted: self.verdict.findings.iter().filter(|f| matches!(f.state, FindingState::Accepted(_))).count(),
            judged: self.verdict.counted.iter().map(|counted| counted.subjects).sum(),
            not_judged: self.verdict.not_judged.len(),
            tbd: self.count(&used, Standing::ToDetermine),
            tbc: self.count(&used, Standing::ToConfirm),
            recalled: self.count(&used, Standing::Recalled),
            assumed: self.count(&used, Standing::Assumed),
        }
    }

    pub(crate) fn phase_names(&self) -> Vec<String> {
        self.design.phases.iter().map(|(_, phase)| phase.name.to_string()).collect()
    }

    pub(crate) fn subject_row(&self, subject: Subject) -> SubjectRow {
        let (kind, name) = self.design.subject_name(subject);
        SubjectRow { kind, name }
    }

    pub(crate) fn at_row(&self, at: Span) -> AtRow {
        let position = self.position(at);
        AtRow { file: position.path, line: position.line, column: position.column }
    }

    pub(crate) fn state_rows(&self, states: &[(Id<Phase>, Corner)]) -> Vec<StateRow> {
        let row =
            |&(phase, corner): &(Id<Phase>, Corner)| StateRow { phase: self.design.phases[phase].name.to_string(), corner: corner.word() };
        states.iter().map(row).collect()
    }

    pub(crate) fn margin_row(&self, margin: &Margin) -> MarginRow {
        let notes = &margin.rests_on.notes;
        MarginRow {
            rule: margin.rule.0,
            subject: self.subject_row(margin.subject),
            value: number::json(margin.value),
            limit: number::json(margin.limit),
            margin: number::json(margin.margin()),
            unit: unit_of(margin.rule),
            bound: match margin.bound {
                Bound::AtMost => "at_most",
                Bound::AtLeast => "at_least",
            },
            low: margin.low.and_then(number::json),
            high: margin.high.and_then(number::json),
            phase: margin.state.map(|(phase, _)| self.design.phases[phase].name.to_string()),
            corner: margin.state.map(|(_, corner)| corner.word()),
            scenario: String::new(),
            at: self.at_row(margin.at),
            rests_on: RestsOnRow {
                recalled: self.count(notes, Standing::Recalled),
                assumed: self.count(notes, Standing::Assumed),
                tbc: self.count(notes, Standing::ToConfirm),
                tbd: self.count(notes, Standing::ToDetermine),
            },
            states_judged: margin.judged,
        }
    }

    pub(crate) fn finding_row(&self, finding: &Finding) -> FindingRow {
        let (state, row, reopened) = match &finding.state {
            FindingState::Open => ("open", None, None),
            FindingState::Accepted(row) => ("accepted", Some(*row), None),
            FindingState::Reopened(row, why) => ("reopened", Some(*row), Some(why.clone())),
        };
        FindingRow {
            id: finding.id.clone(),
            rule: finding.rule.0,
            title: rules::explain(finding.rule.0).map_or("", |rule| rule.title),
            subject: self.subject_row(finding.subject),
            text: finding.text.clone(),
            margin: finding.margin.as_ref().map(|m| self.margin_row(m)),
            phases: self.state_rows(&finding.phases),
            state,
            disposition: row.map(|row| {
                let d = &self.design.dispositions[row];
                DispositionRow {
                    action: d.action.word(),
                    reason: d.reason.value.to_string(),
                    authority: d.authority.value.to_string(),
                    date: d.date.value.to_string(),
                    expiry: d.expiry.as_ref().map(|e| e.value.to_string()),
                    reopened_because: reopened,
                }
            }),
            at: self.at_row(finding.at),
            also: finding.also.iter().map(|also| AlsoRow { at: self.at_row(also.at), label: also.label.clone() }).collect(),
        }
    }

    fn not_judged_rows(&self) -> Vec<NotJudgedRow> {
        self.verdict.not_judged.iter().map(|row| self.not_judged_row(row)).collect()
    }

    pub(crate) fn not_judged_row(&self, n: &NotJudged) -> NotJudgedRow {
        NotJudgedRow {
            rule: n.rule.0,
            subject: self.subject_row(n.subject),
            missing: n.missing.clone(),
            why: n.why.clone(),
            required: n.required,
            at: self.at_row(n.at),
        }
    }

    /// Recalled values that something judged rests on.
    pub(crate) fn recalled(&self) -> Vec<NoteRow> {
        let used = self.notes_in_use().into_iter().map(|id| self.design.note(id));
        used.filter(|note| note.standing == Standing::Recalled).map(|note| self.note_row(note)).collect()
    }

    pub(crate) fn note_row(&self, note: &Note) -> NoteRow {
        NoteRow {
            standing: note.standing.word(),
            what: note.what.clone(),
            value: note.value.clone(),
            source: note.source.clone(),
            subject: note.subject.map(|s| self.subject_row(s)),
            field: note.field,
            owner: note.owner.clone(),
            need: note.need.clone(),
            at: self.at_row(note.at),
        }
    }
}

pub(crate) fn unit_of(rule: RuleCode) -> &'static str {
    rules::explain(rule.0).map_or("", |rule| rule.unit.symbol())
}
