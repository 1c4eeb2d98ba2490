//! VD-01: voltage drop from bus to load, and of a bare wire over its own length.

use crate::case::{Missing, Terminal};
use crate::feeds::Feeds;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::Volt;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("VD-01"),
    title: "voltage drop from bus to load",
    unit: Unit::Volt,
    what: "Drop along the feed from the bus to each load that is commanded on, plus the drop of the return back to the bus's \
           return, at the settled point. A load with no bus on its way counts from the source's terminals. A wire that leads to \
           no modelled element at one end is judged by the drop over its own length at the current stated in the wire list; \
           where its length includes the return, no factor of 2 is due.",
    why: "The drop in the wiring is the share of the bus tolerance that the harness may spend.",
    source: "The load's own drop_allowed; else drop_continuous or drop_intermittent of the limits profile. The shipped profiles \
             follow FAA AC 43.13-1B CHG 1, Table 11-6: at 28 V, 1 V continuous [read] and 2 V intermittent [from memory].",
    remedy: "Larger gauge, shorter run, parallel conductor; fewer or larger contacts; a return of its own.",
    check: Check::Point(check),
};

/// Drop allowed between bus and load: the load's own, else the profile's for its duty.
pub fn drop_limit(design: &Design, load: Id<Load>) -> Given<Volt> {
    let row = &design.loads[load];
    row.drop_allowed.unwrap_or(match row.duty.value {
        Duty::Continuous => design.profile.drop_continuous,
        Duty::Intermittent => design.profile.drop_intermittent,
    })
}

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let (feeds, open_loads) = (Feeds::of(case, point, out), case.open_loads(point));
    for id in case.design.loads.ids() {
        load(case, point, out, id, (&feeds, &open_loads));
    }
    let carries = case.prepared.leads_to_elements();
    for (id, row) in case.design.wires.iter() {
        let is_stowed = row.from.value == End::Stowed || row.to.value == End::Stowed;
        if !carries[id] && !is_stowed {
            wire(case, point, out, id);
        }
    }
}

fn load(case: &Case, point: &Point, out: &mut Worst, id: Id<Load>, (feeds, open_loads): (&Feeds, &[(u32, NoteId)])) {
    let row = &case.design.loads[id];
    let element = ElementId::Load(id);
    let subject = Subject::Element(element);
    let missing = match case.terminal(point, id) {
        None => return,
        Some(Err(missing)) => Some(missing),
        Some(Ok(Terminal::DroppedOut(_))) => Some(Missing::new("operating point", "it let go and draws nothing (UF-01)")),
        Some(Ok(Terminal::On(_))) => None,
    };
    if let Some(missing) = missing {
        out.not_judged(point, RULE.code, subject, row.at, missing);
        return;
    }
    let ladder = feeds.ladder(case, point, id);
    let counted = ladder.feed.iter().skip(ladder.above_bus).chain(ladder.back.iter().take(ladder.back.len() - ladder.beyond_return));
    if let Some(missing) = case.unknown_step(counted) {
        out.not_judged(point, RULE.code, subject, row.at, missing);
        return;
    }
    let text = match (ladder.bus, ladder.source) {
        (None, Some(source)) => format!("counted from the terminals of {}: no bus is on its way", case.design.element_words(source)),
        _ => String::new(),
    };
    let limit = drop_limit(case.design, id);
    let value = ladder.drop_from_bus().0;
    let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at: row.at, text };
    out.push(point, judged, || {
        let mut notes = case.ladder_notes(point, element, &ladder, open_loads);
        notes.extend(limit.note);
        notes
    });
}

fn wire(case: &Case, point: &Point, out: &mut Worst, id: Id<Wire>) {
    let row = &case.design.wires[id];
    let element = ElementId::Wire(id);
    let subject = Subject::Element(element);
    let missing = match (row.spec, case.prepared.length(id), row.current) {
        (None, ..) => Some(Missing::new("gauge", "its gauge is TBD")),
        (_, Err(unknown), _) => Some(Missing::new(unknown.field, unknown.why.clone())),
        (.., None) => Some(Missing::new("current", "it leads to no modelled element and states no current")),
        _ => None,
    };
    if let Some(missing) = missing {
        out.not_judged(point, RULE.code, subject, row.at, missing);
        return;
    }
    let (Some(ohms), Some(current)) = (case.prepared.ohms(&point.scenario, element), row.current) else {
        out.not_judged(point, RULE.code, subject, row.at, Missing::new("length", "its resistance is not known"));
        return;
    };
    let limit = case.design.profile.drop_continuous;
    let value = (current.value * ohms).abs().0;
    let text = "drop over the wire's own length at the current stated for it".to_owned();
    let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at: row.at, text };
    out.push(point, judged, || {
        let mut notes = case.prepared.notes(&point.scenario, element);
        notes.extend(current.note);
        notes.extend(limit.note);
        notes
    });
}
