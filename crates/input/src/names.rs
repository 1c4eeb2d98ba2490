//! Ids of declared rows: found, given out twice, easily confused, or meant by a mistyped word.

use crate::codes;
use crate::fields::{self, Form};
use crate::problems::Problems;
use model::{Diagnostic, Name, Span};
use std::collections::HashMap;

/// Kinds of items that stand on connectors; their ids are unique among all of them.
pub(crate) const FITTED_KINDS: [&str; 6] = ["flight-plug", "safe-plug", "shorting-plug", "cap", "saver", "test-adapter"];

/// Kinds whose rows share a table of the model, and are numbered together.
const SHARED: [(&str, &str); 7] = [
    ("bus", "inner"),
    ("node", "inner"),
    ("battery", "source"),
    ("supply", "source"),
    ("breaker", "protector"),
    ("fuse", "protector"),
    ("limiter", "protector"),
];

fn model_table(kind: &'static str) -> &'static str {
    if matches!(kind, "switch" | "relay" | "tie") {
        return "switch";
    }
    if FITTED_KINDS.contains(&kind) {
        return "fitted";
    }
    SHARED.iter().find(|(k, _)| *k == kind).map_or(kind, |(_, table)| table)
}

/// Kinds of elements that a phase, a trace or a fault names as `kind:name`.
pub(crate) const ELEMENT_KINDS: [&str; 15] = [
    "battery",
    "supply",
    "breaker",
    "fuse",
    "limiter",
    "switch",
    "relay",
    "tie",
    "diode",
    "converter",
    "load",
    "sensor",
    "receiver",
    "excitation",
    "link",
];

#[derive(Clone, Copy)]
pub(crate) struct Declared {
    /// Number in the table of the model.
    pub(crate) row: usize,
    pub(crate) at: Span,
}

#[derive(Default)]
struct Kind {
    rows: HashMap<Name, Declared>,
    /// In the order declared, for suggestions.
    order: Vec<Name>,
    /// By folded spelling.
    folded: HashMap<String, (Name, Span)>,
}

/// Every declared id by kind.
#[derive(Default)]
pub(crate) struct Names {
    kinds: HashMap<&'static str, Kind>,
    counts: HashMap<&'static str, usize>,
}

impl Names {
    /// Declares an id; `None` if it is taken, which is reported.
    pub(crate) fn declare(&mut self, kind: &'static str, name: &Name, at: Span, out: &mut Problems) -> Option<usize> {
        let same_name = FITTED_KINDS.into_iter().filter(|other| *other != kind && FITTED_KINDS.contains(&kind));
        if let Some((other, first)) = same_name.filter_map(|other| Some((other, self.find(other, name)?))).next() {
            out.push(
                Diagnostic::error(codes::TWICE, at, "again", format!("{kind} {name} has the id of {other} {name}"))
                    .note(first.at, "first")
                    .help("a phase names plugs, caps, savers and adapters by id alone; give one of the two another id"),
            );
            return None;
        }
        let count = self.counts.entry(model_table(kind)).or_default();
        let table = self.kinds.entry(kind).or_default();
        if let Some(first) = table.rows.get(name) {
            out.push(
                Diagnostic::error(codes::TWICE, at, "again", format!("{kind} {name} is defined twice"))
                    .note(first.at, "first")
                    .help("give one of the two another id"),
            );
            return None;
        }
        let row = *count;
        *count += 1;
        table.rows.insert(name.clone(), Declared { row, at });
        table.order.push(name.clone());
        match table.folded.entry(fold(name)) {
            std::collections::hash_map::Entry::Vacant(free) => drop(free.insert((name.clone(), at))),
            std::collections::hash_map::Entry::Occupied(taken) => {
                let (other, other_at) = taken.get();
                out.push(
                    Diagnostic::error(codes::LOOK_ALIKE, at, "", format!("{kind} {name} and {kind} {other} look alike"))
                        .note(*other_at, "")
                        .help("they are two different ids; rename one of them")
                        .warning(),
                );
            }
        }
        Some(row)
    }

    pub(crate) fn find(&self, kind: &str, name: &str) -> Option<Declared> {
        self.kinds.get(kind)?.rows.get(name).copied()
    }

    /// The id of a kind that a word may have meant.
    pub(crate) fn closest<'a>(&'a self, kind: &str, word: &str, out: &mut Problems) -> Option<&'a str> {
        out.closest(word, self.kinds.get(kind)?.order.iter().map(|n| &**n))
    }

    /// The plug, cap, saver or adapter of a name.
    pub(crate) fn find_fitted(&self, name: &str) -> Option<Declared> {
        FITTED_KINDS.into_iter().find_map(|kind| self.find(kind, name))
    }

    /// The plug, cap, saver or adapter that a word may have meant.
    pub(crate) fn closest_fitted<'a>(&'a self, word: &str, out: &mut Problems) -> Option<&'a str> {
        let all = FITTED_KINDS.into_iter().filter_map(|kind| self.kinds.get(kind)).flat_map(|kind| kind.order.iter());
        out.closest(word, all.map(|n| &**n))
    }

    /// Kinds that have a row of exactly this name, in the order of the table of fields.
    pub(crate) fn kinds_of(&self, name: &str) -> Vec<&'static str> {
        fields::tables().iter().filter(|t| t.form == Form::Table && self.find(t.key, name).is_some()).map(|t| t.key).collect()
    }
}

/// A spelling in which ids that people confuse are equal: without case, 0 for O, 1 for I and l.
fn fold(name: &str) -> String {
    name.to_lowercase()
        .chars()
        .map(|c| match c {
            'o' => '0',
            'i' | 'l' => '1',
            // Hyphens and dashes that a spreadsheet puts in place of the plain one.
            '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
            // Cyrillic and Greek letters with the shape of Latin ones.
            'а' | 'α' => 'a',
            'в' | 'β' => 'b',
            'с' => 'c',
            'е' | 'ε' => 'e',
            'н' | 'η' => 'h',
            'к' | 'κ' => 'k',
            'м' | 'μ' => 'm',
            'ν' => 'n',
            'о' | 'ο' => '0',
            'р' | 'ρ' => 'p',
            'ѕ' => 's',
            'т' | 'τ' => 't',
            'х' | 'χ' => 'x',
            'у' | 'υ' => 'y',
            'і' | 'ι' => '1',
            c => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::fold;

    #[test]
    fn look_alikes_fold_together() {
        assert_eq!(fold("CB1"), fold("cbI"));
        assert_eq!(fold("CBl0"), fold("CB1O"));
        assert_ne!(fold("CB1"), fold("CB2"));
        assert_eq!(fold("CB–1"), fold("CB-1"));
        assert_eq!(fold("АВ1"), fold("AB1"), "Cyrillic and Latin");
    }
}
