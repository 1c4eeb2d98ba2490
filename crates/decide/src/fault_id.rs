//! The id of a fault: the words that `whatif` takes, with `; ` between them, so that every line of a table of faults can be replayed.

use crate::scenario::{Verb, words};
use analysis::Prepared;
use model::*;

/// The changes that a fault makes, as they are written.
pub fn fault_words(prepared: &Prepared, fault: &Fault) -> Vec<(Verb, String)> {
    let design = prepared.design();
    let mut scenario = Scenario::new(Id::from_row(0), Corner::Low);
    prepared.lay(fault, &mut scenario);
    words(design, &scenario)
}

/// The id of a fault: `open wire:W1`, `open contact:J3.4; short J3.4,J3.5,0.001ohm`.
pub fn fault_id(prepared: &Prepared, fault: &Fault) -> String {
    let words: Vec<String> = fault_words(prepared, fault).into_iter().map(|(verb, text)| format!("{} {text}", verb.word())).collect();
    words.join("; ")
}

/// Reads an id back to its changes; `--open wire:W1` is as good as `open wire:W1`.
///
/// # Errors  In a sentence: what is not understood.
pub fn read_id(id: &str) -> Result<Vec<(Verb, String)>, String> {
    let one = |part: &str| {
        let part = part.trim().trim_start_matches("--");
        let (verb, text) = part.split_once(char::is_whitespace).unwrap_or((part, ""));
        let verbs = || Verb::ALL.map(Verb::word).join(", ");
        let known = Verb::ALL.into_iter().find(|known| known.word() == verb);
        let verb = known.ok_or_else(|| format!("a fault is written as whatif takes it, \"open wire:W1\"; {verb:?} is none of {}", verbs()))?;
        Ok((verb, text.trim().to_owned()))
    };
    id.split(';').filter(|part| !part.trim().is_empty()).map(one).collect()
}
