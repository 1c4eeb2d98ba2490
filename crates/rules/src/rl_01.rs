//! RL-01: pull-in of a coil at the lowest bus.

use crate::case::{Missing, Terminal};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("RL-01"),
    title: "pull-in of a coil",
    unit: Unit::Volt,
    what: "Voltage between the terminals of each load with a pull_in, as every inductive one is to have, that is commanded on, at the settled point: not under the voltage at \
           which it has certainly pulled in. The low corner is the lowest bus with the greatest resistance on the way.",
    why: "A coil that does not pull in leaves its contact or valve where it was; one that half pulls in chatters and burns.",
    source: "The part's own pull_in at its hottest; no limit from outside.",
    remedy: "Less drop on its way, another bus, a coil made for a lower voltage.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let open_loads = case.open_loads(point);
    for (id, load) in case.design.loads.iter() {
        let element = ElementId::Load(id);
        let subject = Subject::Element(element);
        let Some(pull_in) = load.pull_in else {
            if load.kind.value == LoadKind::Inductive && point.load_state[id] != LoadState::Off {
                let missing = Missing::new("pull_in", "it is a coil, and the voltage at which it pulls in is not stated");
                out.not_judged(point, RULE.code, subject, load.at, missing);
            }
            continue;
        };
        let volts = match case.terminal(point, id) {
            None => continue,
            Some(volts) => volts.and_then(|volts| case.unknown_on_way(point, element).map_or(Ok(volts), Err)),
        };
        match volts {
            Err(missing) => out.not_judged(point, RULE.code, subject, load.at, missing),
            Ok(Terminal::On(volts) | Terminal::DroppedOut(volts)) => {
                let (value, limit, text) = (volts.0, pull_in.value.0, String::new());
                out.push(point, Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtLeast, at: pull_in.at, text }, || {
                    let mut notes = case.way_notes(point, element, &open_loads);
                    notes.extend(pull_in.note);
                    notes
                });
            }
        }
    }
}
