//! The diagnostics collected so far, and what a mistyped word may have meant.

use crate::{codes, limits};
use model::{Code, Diagnostic, Severity, Span};

/// Diagnostics in the order found.
#[derive(Default)]
pub(crate) struct Problems {
    list: Vec<Diagnostic>,
    /// Errors and warnings that found the list full.
    errors_beyond: usize,
    warnings_beyond: usize,
    /// Candidates compared with a word; a file full of mistakes must not cost a comparison of everything with everything.
    compared: usize,
}

impl Problems {
    pub(crate) fn push(&mut self, mut diagnostic: Diagnostic) {
        if self.list.len() < limits::PROBLEMS {
            shorten(&mut diagnostic.message);
            diagnostic.help.iter_mut().for_each(shorten);
            if diagnostic.replacement.as_ref().is_some_and(|(_, with)| with.len() > limits::MESSAGE_CHARACTERS) {
                diagnostic.replacement = None;
            }
            self.list.push(diagnostic);
        } else if diagnostic.severity == Severity::Error {
            self.errors_beyond += 1;
        } else {
            self.warnings_beyond += 1;
        }
    }
    /// Puts what was found elsewhere behind.
    pub(crate) fn append(&mut self, others: Problems) {
        others.list.into_iter().for_each(|diagnostic| self.push(diagnostic));
        self.errors_beyond += others.errors_beyond;
        self.warnings_beyond += others.warnings_beyond;
        self.compared = (self.compared + others.compared).min(limits::COMPARISONS);
    }
    pub(crate) fn has_errors(&self) -> bool {
        self.errors_beyond > 0 || self.list.iter().any(|d| d.severity == Severity::Error)
    }
    /// Whether more problems are only counted: what costs much to say need not be worked out.
    pub(crate) fn is_full(&self) -> bool {
        self.list.len() >= limits::PROBLEMS
    }
    /// Puts replacements of a place into quotes, in what was pushed since there were `before`: in TOML a text stands in them, and
    /// who reads a text does not see where it stands.
    pub(crate) fn quote_since(&mut self, before: usize, place: Span) {
        for (at, with) in self.list.iter_mut().skip(before).filter_map(|d| d.replacement.as_mut()) {
            if *at == place && !with.starts_with('[') {
                *with = format!("\"{with}\"");
            }
        }
    }
    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.list.len()
    }
    /// Whether one of some codes was pushed since there were `before`.
    pub(crate) fn any_since(&self, before: usize, codes: &[Code]) -> bool {
        // What was only counted may have been one of them.
        self.is_full() || self.list.iter().skip(before).any(|d| codes.contains(&d.code))
    }
    /// All of them, and how many more there were.
    pub(crate) fn into_list(self) -> (Vec<Diagnostic>, Option<Diagnostic>) {
        let beyond = match (self.errors_beyond, self.warnings_beyond) {
            (0, 0) => return (self.list, None),
            (errors, 0) => format!("{errors} more errors are not listed"),
            (0, warnings) => format!("{warnings} more warnings are not listed"),
            (errors, warnings) => format!("{errors} more errors and {warnings} more warnings are not listed"),
        };
        let last = Diagnostic {
            code: codes::MORE_PROBLEMS,
            severity: if self.errors_beyond > 0 { Severity::Error } else { Severity::Warning },
            message: beyond,
            places: Vec::new(),
            help: Some(format!("{} are listed; mend these first", limits::PROBLEMS)),
            replacement: None,
        };
        (self.list, Some(last))
    }
    /// The candidate closest to a word, if it is close enough to have been meant.
    pub(crate) fn closest<'a>(&mut self, word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
        if self.is_full() {
            return None;
        }
        let left = limits::COMPARISONS - self.compared;
        let mut seen = 0;
        let found = closest(word, candidates.take(left).inspect(|_| seen += 1));
        self.compared += seen;
        // A search that was cut short may have missed the nearest.
        if self.compared < limits::COMPARISONS { found } else { None }
    }
}

/// Cuts what is too long in its middle: its end says what is wrong.
fn shorten(text: &mut String) {
    let length = text.chars().count();
    if length > limits::MESSAGE_CHARACTERS {
        let half = limits::MESSAGE_CHARACTERS / 2;
        let begin: String = text.chars().take(half).collect();
        let end: String = text.chars().skip(length - half).collect();
        *text = format!("{begin} … {end}");
    }
}

/// The first of the candidates at the least edit distance, if that is at most a third of the word's length (and 1 for short words).
fn closest<'a>(word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    let allowed = (length / 3).max(1);
    let folded = word.to_lowercase();
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        if candidate.chars().count().abs_diff(length) > allowed {
            continue;
        }
        // A difference of case alone is the nearest of all. Of one or two characters, half is no likeness: they must be the same, turned.
        let distance = if candidate.to_lowercase() == folded {
            0
        } else if length <= 2 && !candidate.chars().rev().eq(word.chars()) {
            continue;
        } else {
            strsim::osa_distance(word, candidate)
        };
        if distance <= allowed && best.is_none_or(|(d, _)| distance < d) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::closest;

    #[test]
    fn only_close_words_are_meant() {
        let words = ["voltage", "volts_min", "power", "bus"];
        assert_eq!(closest("pwoer", words.into_iter()), Some("power"));
        assert_eq!(closest("POWER", words.into_iter()), Some("power"));
        assert_eq!(closest("volt_min", words.into_iter()), Some("volts_min"));
        assert_eq!(closest("bux", words.into_iter()), Some("bus"));
        assert_eq!(closest("x", words.into_iter()), None);
        assert_eq!(closest("J8", ["J1"].into_iter()), None);
        assert_eq!(closest("41", ["1", "4", "14"].into_iter()), Some("14"));
        assert_eq!(closest("mass", words.into_iter()), None);
    }
}
