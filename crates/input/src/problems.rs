//! The diagnostics collected so far, and what a mistyped word may have meant.

use model::{Code, Diagnostic, Severity};

/// Diagnostics in the order found.
#[derive(Default)]
pub(crate) struct Problems {
    list: Vec<Diagnostic>,
    /// Suggestions made; a file full of mistakes must not cost a comparison of everything with everything.
    suggestions: usize,
}

const SUGGESTIONS_AT_MOST: usize = 500;

impl Problems {
    pub(crate) fn push(&mut self, diagnostic: Diagnostic) {
        self.list.push(diagnostic);
    }
    pub(crate) fn has_errors(&self) -> bool {
        self.list.iter().any(|d| d.severity == Severity::Error)
    }
    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.list.len()
    }
    /// Whether one of some codes was pushed since there were `before`.
    pub(crate) fn any_since(&self, before: usize, codes: &[Code]) -> bool {
        self.list.iter().skip(before).any(|d| codes.contains(&d.code))
    }
    pub(crate) fn into_list(self) -> Vec<Diagnostic> {
        self.list
    }
    /// The candidate closest to a word, if it is close enough to have been meant.
    pub(crate) fn closest<'a>(&mut self, word: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
        if self.suggestions >= SUGGESTIONS_AT_MOST {
            return None;
        }
        self.suggestions += 1;
        closest(word, candidates)
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
