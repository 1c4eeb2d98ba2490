//! The id of a fault: the words that `whatif` takes, with `; ` between them, so that every line of a table of faults can be replayed.

use crate::Names;
use crate::scenario::{ReadAmount, Verb, change, words};
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

/// Reads an id back to its changes; `--open wire:W1` and `open=wire:W1` are as good as `open wire:W1`.
///
/// # Errors  In a sentence: what is not understood.
pub fn read_id(id: &str) -> Result<Vec<(Verb, String)>, String> {
    let one = |part: &str| {
        let part = part.trim().trim_start_matches("--");
        let (verb, text) = part.split_once(|c: char| c.is_whitespace() || c == '=').unwrap_or((part, ""));
        let verbs = || Verb::ALL.map(Verb::word).join(", ");
        let known = Verb::ALL.into_iter().find(|known| known.word() == verb);
        let verb =
            known.ok_or_else(|| format!("a fault is written as whatif takes it, \"open wire:W1\"; {verb:?} is none of {}", verbs()))?;
        Ok((verb, text.trim().to_owned()))
    };
    id.split(';').filter(|part| !part.trim().is_empty()).map(one).collect()
}

/// Which faults of a catalogue are asked for: those of a kind, of an item, or of an id; all where nothing is asked.
///
/// # Errors  In a sentence: what is none of them.
pub fn choose(prepared: &Prepared, catalogue: &Catalogue, ids: &[String], only: &[String]) -> Result<Vec<bool>, String> {
    let mut chosen = vec![only.is_empty(); catalogue.faults.len()];
    for asked in only {
        let asked_id = asked.trim().trim_start_matches("--");
        let fits =
            |fault: &Fault, id: &str| fault.kind.word() == asked || prepared.design().subject_words(fault.item) == *asked || id == asked_id;
        let mut any = false;
        for (at, _) in catalogue.faults.iter().enumerate().filter(|(at, fault)| fits(fault, &ids[*at])) {
            (chosen[at], any) = (true, true);
        }
        if !any && FaultKind::ALL.iter().all(|kind| kind.word() != asked) {
            let kinds: Vec<&str> = FaultKind::ALL.iter().map(|kind| kind.word()).collect();
            return Err(format!(
                "no fault is of {asked}: give a kind ({}), an item as kind:name, or an id as `faults --list` has it",
                kinds.join(", ")
            ));
        }
    }
    Ok(chosen)
}

/// The fault of an id, however its changes are written.
///
/// # Errors  In a sentence: what is not understood, or that the catalogue has no such fault.
pub fn find_fault(prepared: &Prepared, catalogue: &Catalogue, id: &str, read: ReadAmount) -> Result<usize, String> {
    let base = Scenario::new(Id::from_row(0), Corner::Low);
    let names = Names::new(prepared.design());
    let asked = change(prepared, &names, base.clone(), &read_id(id)?, read)?;
    let same = |fault: &Fault| {
        let mut laid = base.clone();
        prepared.lay(fault, &mut laid);
        laid == asked
    };
    let found = catalogue.faults.iter().position(same);
    found.ok_or_else(|| format!("{id} is no single fault of the catalogue: `faults --list` has them all; `whatif` takes any change"))
}
