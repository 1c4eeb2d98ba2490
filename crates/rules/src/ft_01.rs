//! FT-01: a function that one fault loses.

use crate::case::Missing;
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;
use std::collections::BTreeSet;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("FT-01"),
    title: "function lost by one fault",
    unit: Unit::Nothing,
    what: "Every function whose row says that it survives a fault, after each single fault of the catalogue in each phase in which it is wanted and works \
           without one: it is kept, upset for a while, degraded, or an action brings it back. Judged by `faults`. One that says that it survives two, after two \
           faults at a time as well: judged by `faults --pairs`.",
    why: "What is built twice and runs through one connector is built once.",
    source: "survives of the function's own row; no limit from outside. That no single fault ends a crewed mission: common practice, no source.",
    remedy: "A second way that shares nothing with the first, an alternative under needs, an action that brings it back.",
    check: Check::Sweep(check),
};

/// Functions that have to survive a fault; of those that do not say it is told.
pub(crate) fn judged(case: &Case, rule: RuleCode, table: &FaultTable, out: &mut Papers) -> Vec<Id<Function>> {
    let wanted: BTreeSet<Id<Function>> = table.wanted.iter().flat_map(|(_, wanted)| wanted.iter().copied()).collect();
    let mut functions = Vec::new();
    for (id, function) in case.design.functions.iter() {
        let subject = Subject::Function(id);
        match function.survives {
            None => {
                out.not_judged(rule, subject, function.at, Missing::new("survives", "it does not say how many faults it has to survive"))
            }
            Some(survives) if survives.value >= 1 && wanted.contains(&id) => {
                out.judged(rule, subject, survives.note);
                functions.push(id);
            }
            Some(_) => {}
        }
    }
    functions
}

/// A fault with the first phase in which it does something to a function, and what.
pub(crate) type Hit<'t> = (&'t Fault, &'t PhaseCase, FunctionCase);

/// The faults that bring a function to some effect, with the case of the first, and the phases in which any does.
pub(crate) fn hits<'t>(
    table: &'t FaultTable,
    function: Id<Function>,
    of: &dyn Fn(&PhaseCase, &FunctionCase) -> bool,
) -> (Vec<Hit<'t>>, Vec<(Id<Phase>, Corner)>) {
    let (mut faults, mut phases) = (Vec::new(), BTreeSet::new());
    for row in &table.rows {
        let mut first = true;
        for case in &row.phases {
            let Some(found) = case.functions.iter().find(|found| found.function == function && of(case, found)) else { continue };
            if std::mem::take(&mut first) {
                faults.push((&table.catalogue.faults[row.fault], case, *found));
            }
            phases.insert(case.phase);
        }
    }
    (faults, phases.into_iter().map(|phase| (phase, table.corner)).collect())
}

/// `3 faults, wire:W1 parts the first of them`.
pub(crate) fn words(case: &Case, faults: &[Hit]) -> String {
    let Some((fault, ..)) = faults.first() else { return String::new() };
    let first = format!("{} {}", case.design.subject_words(fault.item), fault.kind.mode());
    match faults.len() {
        1 => format!("one fault: {first}"),
        n => format!("{n} faults, {first} the first of them"),
    }
}

fn check(case: &Case, table: &FaultTable, out: &mut Papers) {
    for function in judged(case, RULE.code, table, out) {
        let (faults, phases) = hits(table, function, &|_, found| found.effect == Effect::Lost);
        if faults.is_empty() {
            continue;
        }
        let text = format!("lost by {}", words(case, &faults));
        out.found(case, RULE.code, Subject::Function(function), case.design.functions[function].at, text, Vec::new());
        out.in_phases(phases);
    }
}

/// Functions that have to survive two faults, after two at a time.
pub(crate) fn check_pairs(case: &Case, table: &PairTable, out: &mut Papers) {
    let design = case.design;
    let wanted: BTreeSet<Id<Function>> = table.wanted.iter().flat_map(|(_, wanted)| wanted.iter().copied()).collect();
    for function in wanted {
        let row = &design.functions[function];
        let Some(survives) = row.survives.filter(|survives| survives.value >= 2) else { continue };
        out.judged(RULE.code, Subject::Function(function), survives.note);
        let lost: Vec<&PairRow> = table.rows.iter().filter(|row| row.function == function && row.effect == Effect::Lost).collect();
        let Some(pair) = lost.first() else { continue };
        let words = |at: usize| {
            let fault = &table.catalogue.faults[pair.faults[at]];
            format!("{} {}", design.subject_words(fault.item), fault.kind.mode())
        };
        let which = match lost.len() {
            1 => "one pair of faults".to_owned(),
            n => format!("{n} pairs of faults, the first of them"),
        };
        let text = format!("lost by {which}: {}, then {}", words(pair.first), words(1 - pair.first));
        out.found(case, RULE.code, Subject::Function(function), row.at, text, Vec::new());
        let phases: BTreeSet<Id<Phase>> = lost.iter().flat_map(|pair| pair.phases.iter().copied()).collect();
        out.in_phases(phases.into_iter().map(|phase| (phase, table.corner)).collect());
    }
}
