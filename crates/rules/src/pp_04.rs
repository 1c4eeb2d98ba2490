//! PP-04: what a device has to interrupt.

use crate::faults::{amperes, fault_words};
use crate::{Case, Check, Faults, Judged, Rule, Unit, Worst, case::Missing};
use analysis::protection::Burning;
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-04"),
    title: "interrupting capacity",
    unit: Unit::Ampere,
    what: "The largest current that a breaker, fuse or limiter carries while a bolted fault of a fed wire burns is no more than it interrupts. The high corner \
           counts: all sources of the phase, the highest EMF, the least resistances.",
    why: "A device that has to interrupt more than it can welds, bursts or goes on arcing, and nothing behind it is protected any more.",
    source: "MIL-PRF-39019F, 6.1.1: a breaker never sees more fault current than its interrupting capacity [read]. The capacity: its own row, else the device type.",
    remedy: "A device of greater capacity, a longer or thinner feeder, a device upstream that limits.",
    check: Check::Faults(check),
};

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    let mut most: Vec<Option<(f64, &Burning)>> = vec![None; design.protectors.len()];
    for burning in faults.protection.wires.iter().filter_map(|fed| fed.largest.as_ref()) {
        for carries in &burning.devices {
            let kept = &mut most[carries.device.row()];
            if kept.is_none_or(|(known, _)| carries.now.0 > known) {
                *kept = Some((carries.now.0, burning));
            }
        }
    }
    for (device, row) in design.protectors.iter() {
        let Some((value, burning)) = most[device.row()] else { continue };
        let subject = Subject::Element(ElementId::Protector(device));
        let point = faults.point_of(burning);
        let Some(limit) = design.interrupts(device) else {
            let why = format!("a fault drives {} through it, and what it interrupts is not stated", amperes(physics::Ampere(value)));
            out.not_judged(point, RULE.code, subject, row.at, Missing::new("interrupts", why));
            continue;
        };
        let wire = design.element_words(ElementId::Wire(burning.fault.wire));
        let text = format!("{wire}: {}", fault_words(design, burning));
        let judged = Judged { rule: RULE.code, subject, value, limit: limit.value.0, bound: Bound::AtMost, at: row.at, text };
        out.push(point, judged, || {
            let mut notes = case.prepared.notes(&point.scenario, ElementId::Wire(burning.fault.wire));
            notes.extend(limit.note);
            notes
        });
    }
}
