//! FT-02: a path that is gone and nobody knows.

use crate::energy::clock;
use crate::ft_01::{hits, judged, words};
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("FT-02"),
    title: "path lost and nothing tells of it",
    unit: Unit::Nothing,
    what: "Every function whose row says that it survives a fault, after each single fault that leaves it working with one path fewer: a monitor that is \
           sampled in the phase moves as far as it takes, or a test on the ground finds it. What is lost next is the first element that alone stands between the \
           function and its loss now and did not before. How long it stays so: the phases in which it does, by their duration. Judged by `faults`.",
    why: "A spare path that has gone unnoticed is no spare path: the next fault loses the function that had two.",
    source: "survives of the function's own row, threshold of monitors; no limit from outside. That a second path is worth what tells of its loss: \
             common practice, no source.",
    remedy: "A monitor on the path itself, a test on the ground before each flight.",
    check: Check::Sweep(check),
};

fn check(case: &Case, table: &FaultTable, out: &mut Papers) {
    let design = case.design;
    for function in judged(case, RULE.code, table, out) {
        let latent = |case: &PhaseCase, found: &FunctionCase| found.effect == Effect::KeptWithFewer && case.announced == Announced::Latent;
        let (faults, phases) = hits(table, function, &latent);
        let Some((_, _, first)) = faults.first() else { continue };
        let next = match first.reason {
            Reason::Next(element) => format!(", and {} then loses it", design.element_words(element)),
            _ => String::new(),
        };
        let exposed: Option<f64> = phases.iter().map(|&(phase, _)| design.phases[phase].duration.map(|given| given.value.0)).sum();
        let exposed = exposed.map_or_else(|| "for a time that is not known".to_owned(), |t| format!("for {}", clock(t)));
        let text = format!("one path fewer {exposed} and nothing tells, by {}{next}", words(case, &faults));
        out.found(case, RULE.code, Subject::Function(function), design.functions[function].at, text, Vec::new());
        out.in_phases(phases);
    }
}
