//! SW-01: current through a switch or relay contact.

use crate::case::Missing;
use crate::feeds::Feeds;
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use std::collections::BTreeSet;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("SW-01"),
    title: "current in a switch or relay",
    unit: Unit::Ampere,
    what: "Current in each closed switch, relay contact and tie at the settled point, against its rating for the kind of load behind it: \
           resistive, inductive, lamp, motor. Behind it is every load whose way, as trace prints it, goes through; of several kinds the \
           lowest rating counts for the whole current, and where no way goes through, the lowest that is stated.",
    why: "A filament draws many times its current when cold, a coil burns the contact that opens it, a motor starts at its stall current: \
          the same contact stands less of each.",
    source: "The part's own ratings, rating_resistive, rating_inductive, rating_lamp and rating_motor; no limit from outside.",
    remedy: "A contact of a higher rating for that kind of load, a suppressor, fewer loads behind one contact.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if case.design.switches.is_empty() {
        return;
    }
    let open_loads = case.open_loads(point);
    let behind = kinds_behind(case.design, &Feeds::of(case, point, out));
    for (id, switch) in case.design.switches.iter() {
        let element = ElementId::Switch(id);
        let subject = Subject::Element(element);
        let Some(current) = case.current(point, element) else { continue };
        let is_open = case.prepared.branch_of(element).is_none_or(|row| point.current[row] == 0.0);
        if is_open {
            continue;
        }
        let judged = current.and_then(|current| Ok((current, rating(switch, &behind[id])?)));
        let judged = judged.and_then(|judged| case.unknown_on_way(point, element).map_or(Ok(judged), Err));
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, switch.at, missing),
            Ok((current, (rating, text))) => {
                let (value, limit) = (current.abs(), rating.value.0);
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: switch.at, text }, || {
                    let mut notes = case.way_notes(point, element, &open_loads);
                    notes.extend(rating.note);
                    notes.extend(behind[id].iter().filter_map(|(_, note)| *note));
                    notes
                });
            }
        }
    }
}

type Kinds = BTreeSet<(LoadKind, Option<NoteId>)>;

/// Of each switch, the kinds of load whose way goes through it. A converter counts as resistive.
fn kinds_behind(design: &Design, feeds: &Feeds) -> Column<Switch, Kinds> {
    let mut behind = design.switches.column(Kinds::new());
    for ((element, _), ladder) in feeds.ways.iter().zip(&feeds.ladders) {
        let kind = match *element {
            ElementId::Load(id) => (design.loads[id].kind.value, design.loads[id].kind.note),
            _ => (LoadKind::Resistive, None),
        };
        for step in ladder.feed.iter().chain(&ladder.back) {
            if let ElementId::Switch(id) = step.element {
                behind[id].insert(kind);
            }
        }
    }
    behind
}

/// The lowest rating for the kinds behind a switch, and how it comes about.
fn rating(switch: &Switch, kinds: &Kinds) -> Result<(Given<physics::Ampere>, String), Missing> {
    let lowest = |a: Given<physics::Ampere>, b: Given<physics::Ampere>| if b.value.0 < a.value.0 { b } else { a };
    let stated = [LoadKind::Resistive, LoadKind::Inductive, LoadKind::Lamp, LoadKind::Motor].map(|kind| switch.ratings.of(kind));
    if kinds.is_empty() {
        let lowest = stated.into_iter().flatten().reduce(lowest);
        let missing = || Missing::new("rating_resistive", "none of its ratings is stated");
        return Ok((lowest.ok_or_else(missing)?, "no load's way goes through it: its lowest rating".to_owned()));
    }
    let mut words: Vec<&str> = kinds.iter().map(|(kind, _)| kind.word()).collect();
    words.dedup();
    let mut limit: Option<Given<physics::Ampere>> = None;
    for &(kind, _) in kinds {
        let Some(own) = switch.ratings.of(kind) else {
            let field = format!("rating_{}", kind.word());
            return Err(Missing::new(&*field, format!("behind it is a load of kind {}, and it has no {field}", kind.word())));
        };
        limit = Some(limit.map_or(own, |limit| lowest(limit, own)));
    }
    let limit = limit.expect("kinds: not empty, as tested above");
    Ok((limit, format!("behind it: {}", words.join(", "))))
}
