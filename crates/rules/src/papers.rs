//! What rules about the papers and about sizes say: no state is concerned, so a finding or margin has no phase and no corner.

use crate::{Case, Judged, case::Missing, finding_id, passes, rule_order};
use model::*;
use std::collections::{BTreeMap, HashMap};

/// Collects what rules say about what is written.
#[derive(Default)]
pub struct Papers {
    findings: Vec<Finding>,
    finding_of: HashMap<(RuleCode, Subject), usize>,
    not_judged: Vec<NotJudged>,
    judged: BTreeMap<usize, (RuleCode, Vec<Subject>, Vec<NoteId>)>,
    margins: Vec<Compared>,
    margin_of: HashMap<(RuleCode, Subject, bool), usize>,
}

/// A margin with what its finding would say.
struct Compared {
    margin: Margin,
    text: String,
    also: Vec<LabelledSpan>,
}

/// What [`Papers`] collected.
pub(crate) struct Said {
    pub(crate) findings: Vec<Finding>,
    pub(crate) margins: Vec<Margin>,
    pub(crate) not_judged: Vec<NotJudged>,
    pub(crate) counted: Vec<Counted>,
}

impl Papers {
    /// Counts a subject that is judged, with the notes of the values that decide it.
    pub(crate) fn judged(&mut self, rule: RuleCode, subject: Subject, rests_on: impl IntoIterator<Item = NoteId>) {
        let (_, subjects, notes) = self.judged.entry(rule_order(rule)).or_insert_with(|| (rule, Vec::new(), Vec::new()));
        subjects.push(subject);
        notes.extend(rests_on);
    }

    /// A finding at a place, with the places it follows from. A second one on the same subject joins the first.
    pub(crate) fn found(&mut self, case: &Case, rule: RuleCode, subject: Subject, at: Span, text: String, also: Vec<LabelledSpan>) {
        if let Some(&row) = self.finding_of.get(&(rule, subject)) {
            let kept = &mut self.findings[row];
            kept.text.push_str("; ");
            kept.text.push_str(&text);
            kept.also.push(LabelledSpan { at, label: "here too".to_owned() });
            for place in also {
                if !kept.also.contains(&place) {
                    kept.also.push(place);
                }
            }
            return;
        }
        self.finding_of.insert((rule, subject), self.findings.len());
        self.findings.push(Finding {
            id: finding_id(case, rule, subject),
            rule,
            subject,
            margin: None,
            text,
            at,
            also,
            phases: Vec::new(),
            state: FindingState::Open,
        });
    }

    /// Keeps a margin if it is the worst of its rule, subject and side, and counts the subject as judged.
    pub(crate) fn margin(&mut self, judged: Judged, rests_on: impl IntoIterator<Item = NoteId>, also: Vec<LabelledSpan>) {
        let Judged { rule, subject, value, limit, bound, at, text } = judged;
        self.judged(rule, subject, []);
        let mut notes: Vec<NoteId> = rests_on.into_iter().collect();
        notes.sort_unstable();
        notes.dedup();
        let rests_on = RestsOn { notes };
        let margin =
            Margin { rule, subject, state: None, value, limit, bound, low: None, high: None, at, rests_on, judged: 1, failing: Vec::new() };
        let compared = Compared { margin, text, also };
        match self.margin_of.get(&(rule, subject, bound == Bound::AtMost)) {
            None => {
                self.margin_of.insert((rule, subject, bound == Bound::AtMost), self.margins.len());
                self.margins.push(compared);
            }
            Some(&row) => {
                let kept = &mut self.margins[row];
                let count = kept.margin.judged + 1;
                if compared.margin.margin() < kept.margin.margin() {
                    *kept = compared;
                }
                kept.margin.judged = count;
            }
        }
    }

    /// A subject that cannot be judged for want of an input.
    pub(crate) fn not_judged(&mut self, rule: RuleCode, subject: Subject, at: Span, missing: Missing) {
        self.not_judged.push(NotJudged { rule, subject, missing: missing.field, why: missing.why, at, required: true });
    }

    /// A subject that is not judged for want of an input that no profile requires.
    pub(crate) fn not_required(&mut self, rule: RuleCode, subject: Subject, at: Span, missing: Missing) {
        self.not_judged.push(NotJudged { rule, subject, missing: missing.field, why: missing.why, at, required: false });
    }

    /// Gives the last finding the phases that it fails in.
    pub(crate) fn in_phases(&mut self, phases: Vec<(Id<Phase>, Corner)>) {
        if let Some(finding) = self.findings.last_mut() {
            finding.phases = phases;
        }
    }

    pub(crate) fn finish(mut self, case: &Case) -> Said {
        let failing = self.margins.iter().filter(|row| !passes(row.margin.value, row.margin.limit, row.margin.bound));
        self.findings.extend(failing.map(|Compared { margin, text, also }| Finding {
            id: finding_id(case, margin.rule, margin.subject),
            rule: margin.rule,
            subject: margin.subject,
            margin: Some(margin.clone()),
            text: text.clone(),
            at: margin.at,
            also: also.clone(),
            phases: Vec::new(),
            state: FindingState::Open,
        }));
        let counted = self.judged.into_values().map(|(rule, mut subjects, mut notes)| {
            subjects.sort_unstable();
            subjects.dedup();
            notes.sort_unstable();
            notes.dedup();
            Counted { rule, subjects: subjects.len(), rests_on: RestsOn { notes } }
        });
        let margins = self.margins.into_iter().map(|row| row.margin).collect();
        Said { findings: self.findings, margins, not_judged: self.not_judged, counted: counted.collect() }
    }
}

/// A second place of a finding.
pub(crate) fn place(at: Span, label: impl Into<String>) -> LabelledSpan {
    LabelledSpan { at, label: label.into() }
}
