//! States of firing circuits, and which switches lie in them.

use crate::case::Missing;
use crate::{Case, Worst};
use model::*;
use physics::{Ampere, Ohm};
use std::sync::Arc;

/// Resistance of a bridge wire that was melted to its other lead or to the structure.
const MOLTEN: Ohm = Ohm(0.001);

/// Initiators that are commanded to fire in a state.
pub(crate) fn firing<'d>(case: &Case<'d>, point: &Point) -> Vec<&'d Initiator> {
    case.design.initiators.iter().map(|(_, initiator)| initiator).filter(|i| point.load_state[i.load.value] == LoadState::On).collect()
}

/// A state with bridge wires that have fired and are now short circuits, and what it is in words.
pub(crate) struct Fired {
    pub(crate) point: Point,
    pub(crate) words: String,
}

/// After firing: each of those that fire alone, and all of them at once, melted to the other lead, and to the structure.
///
/// Cost: two states near this one for each, and two; worked out once for a state.
pub(crate) fn fired(case: &Case, point: &Point, out: &mut Worst) -> Arc<Vec<Fired>> {
    if let Some(fired) = &out.fired {
        return fired.clone();
    }
    let firing = firing(case, point);
    let near = out.near(case, point);
    let mut states = Vec::new();
    let mut groups: Vec<Vec<&Initiator>> = firing.iter().map(|initiator| vec![*initiator]).collect();
    if firing.len() > 1 {
        groups.push(firing.clone());
    }
    for group in &groups {
        let who = match &group[..] {
            [one] => format!("the bridge wire of {}", one.name),
            all => format!("the bridge wires of all {}", all.len()),
        };
        for to_structure in [false, true] {
            let mut scenario = point.scenario.clone();
            for initiator in group {
                let load = &case.design.loads[initiator.load.value];
                let other = if to_structure { Place::Structure } else { Place::End(load.line_return.value) };
                scenario.shorts.push((Place::End(load.line.value), other, MOLTEN));
            }
            let words = format!("{who} melted to {}", if to_structure { "the structure" } else { "the other lead" });
            states.push(Fired { point: near.point(&scenario), words });
        }
    }
    let fired = Arc::new(states);
    out.fired = Some(fired.clone());
    fired
}

/// Switches and relays on the way of an initiator, as trace prints it.
pub(crate) fn switches_of(case: &Case, point: &Point, initiator: &Initiator) -> Vec<Id<Switch>> {
    let ladder = case.prepared.trace(point, ElementId::Load(initiator.load.value));
    let switch = |step: &LadderStep| match step.element {
        ElementId::Switch(id) => Some(id),
        _ => None,
    };
    ladder.feed.iter().chain(&ladder.back).filter_map(switch).collect()
}

/// The same as a plain current, for who only searches; `None` where something is not stated.
pub fn stray_limit_of(design: &Design, initiator: &Initiator) -> Option<Ampere> {
    let limits = &design.profile.ordnance;
    let of_no_fire = limits.stray_share?.value.0 * initiator.no_fire?.value.0;
    Some(Ampere(limits.stray_current?.value.0.min(of_no_fire)))
}

/// The lower of the profile's own current and its share of what does not fire the initiator.
pub(crate) fn stray_limit(case: &Case, initiator: &Initiator) -> Result<Given<Ampere>, Missing> {
    let limits = &case.design.profile.ordnance;
    let missing = |field: &'static str, why: &str| Missing::new(field, why.to_owned());
    let most = limits.stray_current.ok_or_else(|| missing("stray_current", "the limits profile states no stray_current"))?;
    let share = limits.stray_share.ok_or_else(|| missing("stray_share", "the limits profile states no stray_share"))?;
    let no_fire = initiator.no_fire.ok_or_else(|| missing("no_fire", "the current that does not fire it is not stated"))?;
    let of_no_fire = Ampere(share.value.0 * no_fire.value.0);
    Ok(if of_no_fire.0 < most.value.0 { no_fire.map(|_| of_no_fire) } else { most })
}
