//! EN-08: loads that do not come on again although a later phase needs them.

use crate::case::Missing;
use crate::energy::Mission;
use crate::{Case, Check, Rule, Unit, Worst};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("EN-08"),
    title: "loads locked out",
    unit: Unit::Nothing,
    what: "Each load that a phase has on after one in which it was off, having been on before: it comes on again at all, the ambient of that phase is no colder than it starts at, and the \
           state of that phase gives its terminals the voltage that it starts with. Only where some load of the vehicle states anything of a restart. What is commanded while a phase runs is \
           not looked at.",
    why: "What was switched off to save power may be off for good: some units start once, some only warm, some only on a stiff bus.",
    source: "The load's own sheet (restart, restart_above, restart_volts); no limit from outside.",
    remedy: "The load stays on, a heater keeps it warm, it comes on before other loads do, or the phase does without it.",
    check: Check::Mission(check),
};

fn check(case: &Case, mission: &Mission, out: &mut Worst) {
    let design = case.design;
    let states = |load: &Load| load.restart.can.is_some() || load.restart.above.is_some() || load.restart.volts.is_some();
    if !design.loads.iter().any(|(_, load)| states(load)) {
        return;
    }
    for (id, load) in design.loads.iter() {
        let subject = Subject::Element(ElementId::Load(id));
        for corner in Corner::ALL {
            // The last phase in which it was off, once it had been on.
            let (mut was_on, mut off_in) = (false, None);
            for (phase, row) in design.phases.iter() {
                let Some(point) = mission.point(phase, corner) else { continue };
                if point.load_state[id] == LoadState::Off || !point.load_fed[id] {
                    off_in = was_on.then_some(phase);
                    continue;
                }
                was_on = true;
                let Some(before) = off_in.take() else { continue };
                out.looked_at(RULE.code, subject);
                let before = &design.phases[before].name;
                let again = format!("off in phase {before}, it is to come on again in phase {}", row.name);
                match load.restart {
                    Restart { can: None, .. } => {
                        let why = format!("{again}, and whether it does is not stated");
                        out.not_judged(point, RULE.code, subject, load.at, Missing::new("restart", why));
                    }
                    Restart { can: Some(can), .. } if !can.value => {
                        out.trouble(case, point, RULE.code, subject, 3.0, format!("{again}, and it comes on but once"));
                    }
                    Restart { above, volts, .. } => {
                        let coldest = row.ambient.low.value;
                        if let Some(least) = above.filter(|least| coldest < least.value) {
                            let (is, limit) = (coldest.celsius(), least.value.celsius());
                            let text = format!("{again} at {is:.0} degC, and it starts at {limit:.0} degC or warmer");
                            out.trouble(case, point, RULE.code, subject, 2.0, text);
                        } else if let (Some(least), Some(has)) = (volts, point.load_voltage[id])
                            && has < least.value
                        {
                            let text = format!("{again} with {:.2} V, and it starts with {:.2} V or more", has.0, least.value.0);
                            out.trouble(case, point, RULE.code, subject, 1.0, text);
                        }
                    }
                }
            }
        }
    }
}
