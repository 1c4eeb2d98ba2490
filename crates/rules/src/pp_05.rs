//! PP-05: the smallest fault current opens a device in time.

use crate::faults::{amperes, fault_words, goes_on, lacks_times, opens_words};
use crate::{Case, Check, Faults, Judged, Rule, Unit, Worst, case::Missing};
use analysis::protection::FedWire;
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-05"),
    title: "smallest fault opens in time",
    unit: Unit::Second,
    what: "The smallest current that a bolted fault of a fed wire can draw (low corner, one source alone, the far end) is cleared within clears_within of the \
           profile, with every device at its longest time in the coldest ambient of the phase. Devices are followed one after the other until nothing \
           feeds the fault. Where a resistance in line limits even the largest fault to less than its device has to open for, no device opens and none has \
           to: PP-02 judges that current for good.",
    why: "A fault that draws too little for its device burns on, and takes the bus down for everybody meanwhile.",
    source: "The time: the limits profile. Bands: the device type. The maker's certified curves and tests govern.",
    remedy: "A smaller or faster device, a thicker or shorter wire, a return of less resistance.",
    check: Check::Faults(check),
};

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    for fed in faults.guarded() {
        let Some(burning) = &fed.smallest else { continue };
        let (subject, at) = (Subject::Element(ElementId::Wire(fed.wire)), design.wires[fed.wire].at);
        let point = faults.point_of(burning);
        let Some(limit) = design.profile.protection.clears_within else {
            let why = "the limits profile states no clears_within";
            out.not_judged(point, RULE.code, subject, at, Missing::new(format!("clears_within of profile {}", design.profile.name), why));
            continue;
        };
        let current = amperes(burning.current);
        if is_limited(design, fed) {
            out.looked_at(RULE.code, subject);
            continue;
        }
        match &burning.latest.end {
            Ends::Cleared(t) => {
                let text = format!("{}: {current}; {} opens", fault_words(design, burning), opens_words(design, &burning.latest));
                let judged = Judged { rule: RULE.code, subject, value: t.0, limit: limit.value.0, bound: Bound::AtMost, at, text };
                out.push(point, judged, || {
                    let mut notes = case.prepared.notes(&point.scenario, ElementId::Wire(fed.wire));
                    let opens = burning.latest.opens.iter().filter_map(|(_, device)| design.device(*device));
                    notes.extend(opens.flat_map(|kind| kind.notes.clone()));
                    notes.extend(limit.note);
                    notes
                });
            }
            Ends::Burns(_) | Ends::Unprotected(_) => {
                let why = goes_on(design, &burning.latest, &burning.devices).expect("a fault that goes on says why");
                let text = format!("{}: of {current}, {why}", fault_words(design, burning));
                out.trouble(case, point, RULE.code, subject, burning.current.0, text);
            }
            Ends::NotKnown(device) => out.not_judged(point, RULE.code, subject, at, lacks_times(design, *device)),
            Ends::Unsettled => {
                let why = "with the fault, or after a device opened, the network does not settle";
                out.not_judged(point, RULE.code, subject, at, Missing::new("operating point", why));
            }
        }
    }
}

/// Whether a resistance in line keeps every bolted fault under what its device has to open for, in any phase.
fn is_limited(design: &Design, fed: &FedWire) -> bool {
    let (Some(largest), [device]) = (&fed.largest, &fed.guards[..]) else { return false };
    let least = |phase| {
        let [_, hottest] = design.device_ambient(phase);
        Some(design.device(*device)?.trip.ultimate(hottest.value)?.0)
    };
    design.phases.ids().all(|phase| least(phase).is_some_and(|opens| largest.current.0 < opens))
}
