//! PP-09: protector of an essential load that feeds something else too.

use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;
use std::collections::BTreeSet;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-09"),
    title: "essential load behind a shared protector",
    unit: Unit::Nothing,
    what: "Each breaker, fuse and limiter that is the nearest one before a load of an essential function: everything else that it feeds is needed by \
           an essential function too. Essential are the functions up to essential_tier of the limits profile. What it feeds is what conducts from its load side \
           on, through switches in any state and diodes forward, up to the next protector, load, converter or source. A converter in the unit of such a load is that \
           unit's own supply. A profile that states no essential_tier does not ask for it.",
    why: "A fault in something that can be spared opens the breaker of something that cannot.",
    source: "A protector of a circuit that flight needs protects no other circuit: 14 CFR 27.1357(b) [read]. That essential loads may share one: common practice, no \
             source; 14 CFR 29.1357(e) asks for one each [read].",
    remedy: "A protector of its own for what is not essential, or for what is.",
    check: Check::Papers(check),
};

fn check(case: &Case, _: &Wiring, out: &mut Papers) {
    let design = case.design;
    let Some(tier) = design.profile.protection.essential_tier else { return };
    // Of each element the essential function that needs it, the first that is written.
    let mut needed_by: Vec<(ElementId, Id<Function>)> = Vec::new();
    let mut untiered: BTreeSet<ElementId> = BTreeSet::new();
    for (id, function) in design.functions.iter() {
        for need in &function.needs {
            match function.tier {
                Some(of) if of.value <= tier.value => needed_by.extend(element_of(need.value).map(|element| (element, id))),
                Some(_) => {}
                None => untiered.extend(element_of(need.value)),
            }
        }
    }
    let essential = |element: ElementId| needed_by.iter().find(|(of, _)| *of == element).map(|(_, function)| *function);
    for (id, protector) in design.protectors.iter() {
        let fed = fed_by(case, id);
        let Some((kept, function)) = fed.iter().find_map(|element| Some((*element, essential(*element)?))) else { continue };
        let subject = Subject::Element(ElementId::Protector(id));
        let units: Vec<Id<model::Unit>> =
            fed.iter().filter(|element| essential(**element).is_some()).filter_map(|of| unit_of(design, *of)).collect();
        let is_own_supply = |element: ElementId| {
            matches!(element, ElementId::Converter(_)) && unit_of(design, element).is_some_and(|unit| units.contains(&unit))
        };
        let others: Vec<ElementId> = fed.into_iter().filter(|element| essential(*element).is_none() && !is_own_supply(*element)).collect();
        if let Some(open) = others.iter().find(|element| untiered.contains(element)) {
            let words = design.element_words(*open);
            let why = format!("{words} behind it is needed by a function without tier");
            out.not_judged(RULE.code, subject, protector.at, crate::case::Missing::new(format!("tier of the function of {words}"), why));
            continue;
        }
        out.judged(RULE.code, subject, tier.note);
        if others.is_empty() {
            continue;
        }
        let words: Vec<String> = others.iter().map(|element| design.element_words(*element)).collect();
        let text = format!(
            "it feeds {} of the essential function {}, and {}",
            design.element_words(kept),
            design.functions[function].name,
            words.join(", ")
        );
        let also = others.iter().map(|element| place(place_of(design, *element), "not essential")).collect();
        out.found(case, RULE.code, subject, protector.at, text, also);
    }
}

fn place_of(design: &Design, element: ElementId) -> Span {
    match element {
        ElementId::Load(id) => design.loads[id].at,
        ElementId::Converter(id) => design.converters[id].at,
        _ => design.profile.at,
    }
}

/// The unit at whose terminal a load or converter is fed.
fn unit_of(design: &Design, element: ElementId) -> Option<Id<model::Unit>> {
    let line = match element {
        ElementId::Load(id) => design.loads[id].line.value,
        ElementId::Converter(id) => design.converters[id].line.value,
        _ => return None,
    };
    match line {
        End::Pin(pin) => design.connectors[design.pins[pin].connector].unit.map(|unit| unit.value),
        End::Inner(node) => design.inner_nodes[node].unit.map(|unit| unit.value),
        _ => None,
    }
}

/// Loads and converters that a protector feeds and no other one before them, in the order of their rows.
fn fed_by(case: &Case, id: Id<Protector>) -> Vec<ElementId> {
    use ElementId::*;
    let design = case.design;
    let Some(start) = case.prepared.node(design.protectors[id].load.value) else { return Vec::new() };
    let mut seen = vec![false; case.prepared.nodes()];
    seen[start.row()] = true;
    let mut open = vec![start];
    let mut fed = BTreeSet::new();
    while let Some(node) = open.pop() {
        for &row in case.prepared.meeting(node) {
            let branch = &case.prepared.branches()[row as usize];
            let next = if branch.from == node { branch.to } else { branch.from };
            let goes_on = match branch.element {
                Load(_) | Converter(_) if branch.from == node => {
                    fed.insert(branch.element);
                    false
                }
                Wire(_) | Joint(..) | Strap(_) | StructurePath(_) | Contact(_) | Link(_) | Switch(_) | Shield(_) | Drain(_) => true,
                // A shorting plug joins a feed to its return, and by that to everything.
                FittedLink(id) => {
                    matches!(design.fitted[design.fitted_links[id].fitted].kind, FittedKind::FlightPlug | FittedKind::Saver)
                }
                Diode(_) => branch.from == node,
                _ => false,
            };
            if goes_on && !std::mem::replace(&mut seen[next.row()], true) {
                open.push(next);
            }
        }
    }
    fed.into_iter().collect()
}

fn element_of(need: Subject) -> Option<ElementId> {
    match need {
        Subject::Element(element) => Some(element),
        _ => None,
    }
}
