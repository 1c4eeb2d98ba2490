//! PP-01: conductors in parallel, with one open.

use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Wiring, Worst, contact};
use analysis::Sets;
use model::*;
use std::collections::{BTreeMap, HashMap, HashSet};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-01"),
    title: "parallel conductors with one open",
    unit: Unit::Ampere,
    what: "Each wire of a parallel group with the other that carries most open: the current that it and its contacts then carry, against the \
           test current of its contacts with this wire, without derating, and the rating of a breaker or fuse that stands in series with it \
           alone. And the breaker or fuse that carries the whole group: its rating against the current at which, with one wire open, the \
           first of the others reaches that limit. Shares follow from each way's own ohms, contacts included. Far from the limit the sum is \
           taken as unchanged and goes over in the ratio of the shares; from 80 % of the limit on, and always where the group lies in a ring \
           or between two sources, the state is solved with the wire open; what has let go before stays away. What the wires themselves may carry is not judged here.",
    why: "A broken wire or a pushed-out contact in a parallel group shows nowhere: the load works on, and the others carry it all, behind a \
          protection that was chosen for all of them.",
    source: "Currents divide as conductances do. Test currents: AS39029 [from memory]. Paralleled contacts share unevenly: NAVSEA SD-18, \
             connector derating [read]. A protection fits the weakest of what it protects: common practice, no source.",
    remedy: "One conductor more, larger contacts, a smaller breaker, a protection for each.",
    check: Check::Point(check),
};

/// Share of the limit from which on the state is solved and not estimated.
const NEAR: f64 = 0.8;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    let mut groups: BTreeMap<&str, Vec<Id<Wire>>> = BTreeMap::new();
    for (id, wire) in design.wires.iter() {
        if let Some(group) = &wire.group {
            groups.entry(&group.value).or_default().push(id);
        }
    }
    groups.retain(|_, members| members.len() > 1);
    if groups.is_empty() {
        return;
    }
    let wiring = out.wiring(case);
    let open_loads = case.open_loads(point);
    let rings = Rings::new(case, point, groups.values());
    let settled = case.prepared.without_let_go(point);
    let near = settled.as_ref().map_or_else(|| out.near(case, point), |settled| case.prepared.near(settled));
    let mut room = None;
    for (name, members) in &groups {
        let Some(group) = Group::new(case, point, members, out) else { continue };
        let must_solve = rings.joins(case, members);
        let mut solved: [Option<Option<Vec<f64>>>; 2] = [None, None];
        // The current of the whole group at which the first remaining wire is at its limit.
        let mut bears: Option<(f64, String, Vec<NoteId>)> = None;
        let mut all_judged = true;
        for (at, &id) in members.iter().enumerate() {
            let element = ElementId::Wire(id);
            let subject = Subject::Element(element);
            // Each member loses the larger of the others.
            let which = usize::from(group.order[0] == at);
            let opened = group.order[which];
            let open_name = &design.wires[members[opened]].name;
            let limit = least_rating(design, &wiring, id).and_then(|contacts| group.with_own_devices(case, at, contacts));
            let limit = match limit {
                Ok(None) => continue,
                Ok(Some(limit)) => limit,
                Err(missing) => {
                    out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                    all_judged = false;
                    continue;
                }
            };
            if let Some(missing) = case.unknown_on_way(point, element) {
                out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                all_judged = false;
                continue;
            }
            let others = group.sum - group.currents[opened];
            let estimate = group.currents[at] * if others > 0.0 { group.sum / others } else { 1.0 };
            let (value, total, text) = if !must_solve && estimate < NEAR * limit.value.value {
                (estimate, group.sum, format!("with wire {open_name} open, by the ratio of the shares"))
            } else {
                let currents =
                    solved[which].get_or_insert_with(|| with_open(case, &near, room.get_or_insert_with(|| near.room()), members, opened));
                let total: f64 = currents.iter().flatten().enumerate().filter(|(at, _)| *at != opened).map(|(_, current)| current).sum();
                match currents.as_ref().map(|currents| currents[at]) {
                    Some(current) => (current, total, format!("with wire {open_name} open")),
                    None => {
                        let missing = Missing::new("operating point", format!("with wire {open_name} open the network does not settle"));
                        out.not_judged(point, RULE.code, subject, design.wires[id].at, missing);
                        all_judged = false;
                        continue;
                    }
                }
            };
            if value > 0.0 {
                let whole = limit.value.value * total / value;
                if bears.as_ref().is_none_or(|(least, ..)| whole < *least) {
                    let wire = &design.wires[id].name;
                    let share = 100.0 * value / total;
                    let text = format!(
                        "group {name} with wire {open_name} open: wire {wire} then has {share:.0} % of the current, and {} A at most",
                        limit.value.value
                    );
                    bears = Some((whole, text, limit.value.note.into_iter().collect()));
                }
            }
            let text =
                format!("{text}{}", limit.device.as_ref().map_or(String::new(), |device| format!("; the limit is the rating of {device}")));
            let (limit, note) = (limit.value.value, limit.value.note);
            let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: design.wires[id].at, text };
            out.push(point, judged, || {
                let mut notes = case.way_notes(point, element, &open_loads);
                notes.extend(note);
                notes
            });
        }
        let Some((limit, text, notes)) = bears.filter(|_| all_judged) else { continue };
        for &protector in &group.devices {
            let (row, subject) = (&design.protectors[protector], Subject::Element(ElementId::Protector(protector)));
            let Some(rating) = row.rating else {
                let why = format!("it carries the whole of group {name}, and its rating is not stated");
                out.not_judged(point, RULE.code, subject, row.at, Missing::new("rating", why));
                continue;
            };
            let (value, text) = (rating.value.0, text.clone());
            out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: rating.at, text }, || {
                let mut rests_on = notes.clone();
                rests_on.extend(rating.note);
                rests_on
            });
        }
    }
}

/// Current of each wire of a group with one of them open, without sign; `None` where the network does not settle.
fn with_open(case: &Case, near: &analysis::Near, room: &mut analysis::Room, members: &[Id<Wire>], opened: usize) -> Option<Vec<f64>> {
    let elements = || members.iter().map(|&id| ElementId::Wire(id));
    let rows: Vec<usize> = elements().filter_map(|element| case.prepared.branch_of(element)).collect();
    let near_by = near.currents(&analysis::Change::open(rows[opened]), &rows, room).ok();
    near_by.map(|currents| currents.into_iter().map(f64::abs).collect()).or_else(|| {
        let mut scenario = near.base().scenario.clone();
        scenario.opened.push((ElementId::Wire(members[opened]), None));
        let open = near.roughly_afresh(&scenario);
        elements().map(|element| case.current(&open, element).and_then(Result::ok).map(f64::abs)).collect()
    })
}

/// The wires of a group in one state.
struct Group {
    /// Current of each wire, without sign.
    currents: Vec<f64>,
    sum: f64,
    /// Wires by current, the largest first.
    order: Vec<usize>,
    /// Of each wire, the protectors in series with it alone.
    own: Vec<Vec<Id<Protector>>>,
    /// Protectors in series with the whole group.
    devices: Vec<Id<Protector>>,
}

/// What a wire of a group may carry.
struct Limit {
    value: Given<f64>,
    /// The device that sets it, if no contact does.
    device: Option<String>,
}

impl Group {
    /// `None` where no current flows or can be told; that it cannot be told is said of each wire.
    fn new(case: &Case, point: &Point, members: &[Id<Wire>], out: &mut Worst) -> Option<Group> {
        let currents: Option<Vec<Result<f64, Missing>>> = members.iter().map(|&id| case.current(point, ElementId::Wire(id))).collect();
        let currents: Result<Vec<f64>, Missing> = currents?.into_iter().map(|current| current.map(f64::abs)).collect();
        let currents = match currents {
            Ok(currents) => currents,
            Err(missing) => {
                for &id in members {
                    let (subject, at) = (Subject::Element(ElementId::Wire(id)), case.design.wires[id].at);
                    out.not_judged(point, RULE.code, subject, at, Missing::new(missing.field.clone(), missing.why.clone()));
                }
                return None;
            }
        };
        let sum: f64 = currents.iter().sum();
        if sum == 0.0 {
            return None;
        }
        let mut order: Vec<usize> = (0..members.len()).collect();
        order.sort_by(|&a, &b| currents[b].total_cmp(&currents[a]).then(a.cmp(&b)));
        let mut own = Vec::new();
        let mut devices = Vec::new();
        let mut junctions: [Vec<NodeId>; 2] = [Vec::new(), Vec::new()];
        for &id in members {
            let row = case.prepared.branch_of(ElementId::Wire(id))?;
            let branch = case.prepared.branches()[row];
            // The end that current enters by first, so that the wires' first ends meet although they may be listed either way round.
            let ends = if point.current[row] >= 0.0 { [branch.from, branch.to] } else { [branch.to, branch.from] };
            let mut alone = Vec::new();
            for (side, end) in ends.into_iter().enumerate() {
                junctions[side].push(series(case, point, end, row, &mut alone));
            }
            own.push(alone);
        }
        for (side, ends) in junctions.iter().enumerate() {
            let junction = ends[0];
            if ends.iter().all(|end| *end == junction) {
                let comes = if side == 0 { -sum } else { sum };
                follow(case, point, junction, comes, None, &mut devices);
            }
        }
        devices.sort_unstable();
        devices.dedup();
        Some(Group { currents, sum, order, own, devices })
    }

    /// The lower of what the contacts of a wire and the devices in series with it alone may carry.
    fn with_own_devices(&self, case: &Case, at: usize, contacts: Option<Given<f64>>) -> Result<Option<Limit>, Missing> {
        let mut limit = contacts.map(|value| Limit { value, device: None });
        for &protector in &self.own[at] {
            let words = case.design.element_words(ElementId::Protector(protector));
            let Some(rating) = case.design.protectors[protector].rating else {
                return Err(Missing::new(
                    format!("rating of {words}"),
                    format!("{words} carries its current alone, and its rating is not stated"),
                ));
            };
            if limit.as_ref().is_none_or(|limit| rating.value.0 < limit.value.value) {
                limit = Some(Limit { value: rating.map(|rating| rating.0), device: Some(words) });
            }
        }
        Ok(limit)
    }
}

/// Follows the current of a branch beyond one of its nodes; gives the node where it joins others.
fn series(case: &Case, point: &Point, node: NodeId, row: usize, devices: &mut Vec<Id<Protector>>) -> NodeId {
    follow(case, point, node, into(case, point, row, node), Some(row), devices)
}

/// Current that a branch brings to a node.
fn into(case: &Case, point: &Point, row: usize, node: NodeId) -> f64 {
    if case.prepared.branches()[row].to == node { point.current[row] } else { -point.current[row] }
}

/// Follows a current that comes into a node, or (negative) leaves it, as long as one branch alone carries it on; gives the node where it
/// does not. A source ends the way.
fn follow(case: &Case, point: &Point, mut node: NodeId, current: f64, mut from: Option<usize>, devices: &mut Vec<Id<Protector>>) -> NodeId {
    let branches = case.prepared.branches();
    // A way without repetition has no more steps than there are branches.
    for _ in 0..branches.len() {
        let carries_on = |&row: &u32| {
            let row = row as usize;
            let passes = conducts(branches[row].element) || matches!(branches[row].element, ElementId::Load(_));
            Some(row) != from && passes && (into(case, point, row, node) + current).abs() <= 1e-4 * current.abs()
        };
        let Some(row) = case.prepared.meeting(node).iter().find(|row| carries_on(row)).map(|row| *row as usize) else { break };
        if let ElementId::Protector(id) = branches[row].element {
            devices.push(id);
        }
        node = if branches[row].from == node { branches[row].to } else { branches[row].from };
        from = Some(row);
    }
    node
}

/// Whether an element only passes current on.
fn conducts(element: ElementId) -> bool {
    use ElementId::*;
    matches!(element, Wire(_) | Strap(_) | StructurePath(_) | Contact(_) | Link(_) | FittedLink(_) | Protector(_) | Switch(_) | Diode(_))
}

/// What conducts besides the wires of groups: where both ends of a group are joined otherwise, as in a ring or by sources at both ends,
/// what flows through it changes when one of its wires opens.
struct Rings {
    part: Vec<u32>,
    /// Ends of each group's wires.
    ends: Vec<(Id<Wire>, u32, u32)>,
}

impl Rings {
    fn new<'g>(case: &Case, point: &Point, groups: impl Iterator<Item = &'g Vec<Id<Wire>>>) -> Rings {
        let prepared = case.prepared;
        let wires: Vec<Id<Wire>> = groups.flatten().copied().collect();
        let in_group: HashSet<Id<Wire>> = wires.iter().copied().collect();
        let mut sets = Sets::new(prepared.nodes());
        for (branch, law) in prepared.branches().iter().zip(prepared.laws(&point.scenario)) {
            let joins = match branch.element {
                ElementId::Wire(id) => !in_group.contains(&id),
                // Sources hold both their terminals.
                ElementId::Source(_) => true,
                ElementId::Converter(_) => branch.part == 1,
                element => conducts(element),
            };
            if joins && law != analysis::Law::Open {
                sets.unite(branch.from.row(), branch.to.row());
            }
        }
        let part = sets.finish();
        let ends = wires.into_iter().filter_map(|id| {
            let branch = prepared.branches()[prepared.branch_of(ElementId::Wire(id))?];
            Some((id, part[branch.from.row()], part[branch.to.row()]))
        });
        Rings { ends: ends.collect(), part }
    }

    /// Whether the ends of a group are joined by anything else.
    fn joins(&self, case: &Case, members: &[Id<Wire>]) -> bool {
        let mut parts: HashMap<u32, usize> = HashMap::new();
        for &(_, a, b) in &self.ends {
            for part in [a, b] {
                let next = parts.len();
                parts.entry(part).or_insert(next);
            }
        }
        let mut sets = Sets::new(parts.len());
        for (_, a, b) in self.ends.iter().filter(|(id, ..)| !members.contains(id)) {
            sets.unite(parts[a], parts[b]);
        }
        let sets = sets.finish();
        members.iter().filter_map(|&id| case.prepared.branch_of(ElementId::Wire(id))).any(|row| {
            let branch = case.prepared.branches()[row];
            let [a, b] = [branch.from, branch.to].map(|node| sets[parts[&self.part[node.row()]]]);
            a == b
        })
    }
}

/// The lowest test current of the contacts at both ends of a wire; `None` if it lands on no contact of its own.
fn least_rating(design: &Design, wiring: &Wiring, id: Id<Wire>) -> Result<Option<Given<f64>>, Missing> {
    let wire = &design.wires[id];
    let mut least: Option<Given<f64>> = None;
    for end in [wire.from, wire.to] {
        let End::Pin(pin) = end.value else { continue };
        let Some(id) = wiring.contact(pin) else { continue };
        let contact = &design.contacts[id];
        let Some(spec) = contact.spec else { return Err(Missing::new("contact", "the size of its contact is not known")) };
        let deciding = contact::deciding_wire(design, wiring, contact)?;
        let test = contact::test_current(&design.contact_specs[spec], deciding.map(|(_, gauge)| gauge)).map(|current| current.0);
        if least.is_none_or(|least| test.value < least.value) {
            least = Some(test);
        }
    }
    Ok(least)
}
