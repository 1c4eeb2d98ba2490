//! VD-01: voltage drop from bus to load, and of a bare wire over its own length.

use crate::case::{Missing, Terminal};
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
    let open_loads = case.open_loads(point);
    for id in case.design.loads.ids() {
        load(case, point, out, id, &open_loads);
    }
    let carries = out.carries.take().unwrap_or_else(|| leads_to_elements(case));
    for (id, row) in case.design.wires.iter() {
        let is_stowed = row.from.value == End::Stowed || row.to.value == End::Stowed;
        if !carries[id.row()] && !is_stowed {
            wire(case, point, out, id);
        }
    }
    out.carries = Some(carries);
}

fn load(case: &Case, point: &Point, out: &mut Worst, id: Id<Load>, open_loads: &[(u32, NoteId)]) {
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
    let ladder = case.prepared.trace(point, element);
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

/// Of each wire, whether current can reach a modelled element (load, source, breaker, sensor …) from both of its ends.
///
/// Conductors that end where nothing else goes on are taken away, again and again; so are groups of parallel ones, which is
/// why neighbours are counted and not conductors. What is left over in a part without any element carries nothing either.
pub(crate) fn leads_to_elements(case: &Case) -> Vec<bool> {
    let nodes = case.prepared.branches().iter().map(|b| b.from.row().max(b.to.row()) + 1).max().unwrap_or(0);
    let mut has_element = vec![false; nodes];
    // A tie to structure ends there on purpose: it is no loose end, though nothing but a fault may flow in it.
    let mut holds: Vec<bool> = vec![false; nodes];
    let earthed = case.design.grounds.ids().map(End::Ground);
    let earthed = earthed.chain(case.design.units.ids().map(End::Case)).chain(case.design.connectors.ids().map(End::Shell));
    for node in earthed.filter_map(|end| case.prepared.node(end)).filter(|node| node.row() < nodes) {
        holds[node.row()] = true;
    }
    let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    for branch in case.prepared.branches() {
        let (a, b) = (branch.from.row(), branch.to.row());
        if is_conductor(branch.element) {
            neighbours[a].push(b);
            neighbours[b].push(a);
        } else {
            for node in [a, b] {
                has_element[node] = true;
                holds[node] = true;
            }
        }
    }
    for list in &mut neighbours {
        list.sort_unstable();
        list.dedup();
    }
    let mut count: Vec<usize> = neighbours.iter().map(Vec::len).collect();
    let mut alive = vec![true; nodes];
    let mut ends: Vec<usize> = (0..nodes).filter(|&n| count[n] <= 1 && !holds[n]).collect();
    while let Some(node) = ends.pop() {
        alive[node] = false;
        for &next in neighbours[node].iter().filter(|&&next| alive[next]) {
            count[next] -= 1;
            if count[next] == 1 && !holds[next] {
                ends.push(next);
            }
        }
    }
    // Loops of conductors without an element.
    let mut reached = has_element.clone();
    let mut open: Vec<usize> = (0..nodes).filter(|&n| reached[n]).collect();
    while let Some(node) = open.pop() {
        for &next in &neighbours[node] {
            if !reached[next] {
                reached[next] = true;
                open.push(next);
            }
        }
    }
    let live = |element| {
        case.prepared.branch_of(element).is_some_and(|row| {
            let branch = case.prepared.branches()[row];
            [branch.from, branch.to].iter().all(|n| alive[n.row()] && reached[n.row()])
        })
    };
    case.design.wires.ids().map(|id| live(ElementId::Wire(id))).collect()
}

fn is_conductor(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Joint(..) | Shield(_) | Drain(_) | Strap(_) | StructurePath(_) | Contact(_) | Link(_))
}
