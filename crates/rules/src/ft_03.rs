//! FT-03: a function that lets go while a fault burns elsewhere.

use crate::ft_01::{hits, judged, words};
use crate::{Case, Check, Papers, Rule, Unit};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("FT-03"),
    title: "function upset while a fault burns",
    unit: Unit::Nothing,
    what: "Every function whose row says that it survives a fault and that must be kept, while each single fault burns and until the last device has opened at \
           its longest time: what it needs keeps its voltage above drop_out, or holds up for as long. Judged by `faults`.",
    why: "A short in a fan's wire pulls the bus down for as long as its breaker takes: long enough for a computer to start anew.",
    source: "drop_out and hold_up of the loads' own rows; no limit from outside.",
    remedy: "A faster device on the wire that shorts, a longer hold-up, a feed of its own from the source, or-ing diodes.",
    check: Check::Sweep(check),
};

fn check(case: &Case, table: &FaultTable, out: &mut Papers) {
    let design = case.design;
    for function in judged(case, RULE.code, table, out).into_iter().filter(|&function| design.functions[function].must_keep) {
        let upset = |_: &PhaseCase, found: &FunctionCase| matches!(found.effect, Effect::UpsetAlone | Effect::UpsetUntilActed);
        let (faults, phases) = hits(table, function, &upset);
        let Some((_, _, first)) = faults.first() else { continue };
        let who = match first.reason {
            Reason::LetGo(load, volts) => format!(": {} lets go at {:.1} V", design.element_words(ElementId::Load(load)), volts.0),
            _ => String::new(),
        };
        let text = format!("upset by {}{who}", words(case, &faults));
        out.found(case, RULE.code, Subject::Function(function), design.functions[function].at, text, Vec::new());
        out.in_phases(phases);
    }
}
