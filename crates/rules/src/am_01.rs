//! AM-01: current in a wire against its tables.

use crate::ampacity::WireCurrents;
use crate::case::Missing;
use crate::{Case, Check, Judged, Rule, Unit, Worst, passes};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("AM-01"),
    title: "current in a wire",
    unit: Unit::Ampere,
    what: "Current in each wire at the settled point, or the one that the list states where it leads to nothing modelled, against what the \
           tables named by ampacity of the limits profile let it carry in its bundle. In air: current of a single wire at the rise from the \
           hottest ambient of the phase to the rating, times the factor of the bundle, times that of the altitude. In vacuum: current of a single \
           wire, times the factor of its insulation, times (29 − wires)/28 in a bundle of 2 to 15 wires and a half in a larger one; where the table \
           states a bundle current too, the lower is judged. A conductor of less conductivity than copper takes the root of it as a further \
           factor. Wires counted: all that lie in the segment of its route that lets it carry least, spare ones too, else bundle_wires of the \
           list. Loaded share: the mean over them of current over what each may carry alone. What is not known is taken as kind and as harsh as \
           it can be; only between the two a wire is not judged. `show ampacity` has the figures.",
    why: "A wire in the middle of a bundle cannot give off its heat; what is harmless alone ages the insulation of a whole run, and in vacuum no \
          air helps.",
    source: "In air: FAA AC 43.13-1B CHG 1, par. 11-66 to 11-69 [in part read, in part from memory], bundle curves of MIL-W-5088L [read in a public \
             table]. In vacuum: MIL-STD-975M and EEE-INST-002, section W1, or ECSS-Q-ST-30-11C [from memory, some rows read]; (29 − N)/28: \
             MIL-STD-975M [from memory]. Root of the conductivity: equal heat I²R. Each row with its source: catalog/ampacity-*.csv.",
    remedy: "A thicker wire, wires in parallel, insulation of a higher rating, a smaller bundle, less load.",
    check: Check::Point(check),
};

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    if design.wires.is_empty() {
        return;
    }
    let currents = WireCurrents::new(case, point);
    for (id, wire) in design.wires.iter() {
        let element = ElementId::Wire(id);
        let subject = Subject::Element(element);
        let Some(found) = currents.found(case, point, id) else { continue };
        let judged = found.and_then(|found| {
            let allowed = found.judged(design).cloned().map_err(|(field, why)| Missing::new(field, why))?;
            Ok((found, allowed))
        });
        match judged {
            Err(missing) => out.not_judged(point, RULE.code, subject, wire.at, missing),
            Ok((found, allowed)) => {
                let (value, limit) = (found.current.0, allowed.allowed.0);
                // Only a finding says how its limit comes about.
                let text = if passes(value, limit, Bound::AtMost) { String::new() } else { found.words(design, &allowed) };
                let judged = Judged { rule: RULE.code, subject, value, limit, bound: Bound::AtMost, at: wire.at, text };
                // A current that is stated rests on its own row, and on no way.
                let stated = wire.current.filter(|_| found.is_stated);
                out.push_along(point, judged, (!found.is_stated).then_some(element), || {
                    stated.and_then(|current| current.note).into_iter().chain(currents.notes(design, id)).collect()
                });
            }
        }
    }
}
