//! PP-12: an arcing fault in insulation that tracks.

use crate::faults::{amperes, fault_words, lacks_times};
use crate::{Case, Check, Faults, Rule, Unit, Worst, case::Missing};
use analysis::protection::{Against, Burning, Time, device_ambient, trip_time};
use model::*;
use physics::trip::Side;
use physics::{Ampere, Volt};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-12"),
    title: "arcing fault",
    unit: Unit::Nothing,
    what: "No fed wire is insulated so that an arc tracks along it; of one in polyimide tape, which does, the smallest fault through a series arc of the profile's greatest arc_voltage still makes a device open, at \
           its longest time in the coldest ambient. For wires in other insulation `show protection` says whether a device opens for such a fault, \
           and nothing is found: a thermal device may never see one.",
    why: "An arc takes most of the voltage, so that its current may be less than what the device carries for good; along a tracking insulation it runs on and on.",
    source: "Arc voltage of a 28 V bus: common practice, no source. Arc tracking of polyimide: AC 43.13-1B, chapter 11 [from memory].",
    remedy: "Insulation that does not track; a device made for arcs; wires kept apart and well clamped.",
    check: Check::Faults(check),
};

/// What a series arc does.
pub struct Arc {
    /// Current that is left.
    pub current: Ampere,
    /// Whether a device has to open for it; `None` where nothing is known.
    pub opens: Option<bool>,
}

/// The smallest fault of a wire through an arc; `None` where the voltage there is not known.
///
/// The current falls by the share of the voltage that the arc takes: (V − V_arc)/V.
pub fn arc(case: &Case, faults: &Faults, burning: &Burning, voltage: Volt) -> Option<Arc> {
    let design = case.design;
    let point = faults.point_of(burning);
    let wire = &design.wires[burning.fault.wire];
    let end = if burning.fault.at <= 0.0 { wire.from } else { wire.to };
    let against = match burning.fault.against {
        Against::Return(wire) => design.wires[wire].from.value,
        Against::Structure(ground) => End::Ground(ground),
    };
    let volts = case.volts(point, end.value, against)?.abs();
    let share = if volts > voltage.0 { (volts - voltage.0) / volts } else { 0.0 };
    let ambient = device_ambient(design, burning.fault.phase, Side::Longest);
    let times = burning.devices.iter().map(|carries| {
        let now = carries.before.0 + (carries.now.0 - carries.before.0).max(0.0) * share;
        trip_time(design, carries.device, Side::Longest, Ampere(now), ambient)
    });
    let times: Vec<Time> = times.collect();
    let opens = match times.iter().any(|time| matches!(time, Time::Opens(_))) {
        true => Some(true),
        false if times.contains(&Time::NotKnown) => None,
        false => Some(false),
    };
    Some(Arc { current: Ampere(burning.current.0 * share), opens })
}

fn check(case: &Case, faults: &Faults, out: &mut Worst) {
    let design = case.design;
    for fed in faults.guarded() {
        let Some(burning) = &fed.smallest else { continue };
        let Some(spec) = design.wires[fed.wire].spec.map(|spec| &design.wire_specs[spec.value]) else { continue };
        let Some(family) = &spec.family else { continue };
        let (subject, at) = (Subject::Element(ElementId::Wire(fed.wire)), design.wires[fed.wire].at);
        if &**family != "polyimide-tape" {
            out.looked_at(RULE.code, subject);
            continue;
        }
        let point = faults.point_of(burning);
        let Some(voltage) = design.profile.protection.arc else {
            let field = format!("arc_voltage of profile {}", design.profile.name);
            out.not_judged(point, RULE.code, subject, at, Missing::new(field, "the limits profile states no arc_voltage"));
            continue;
        };
        let Some(arc) = arc(case, faults, burning, voltage.high.value) else { continue };
        match arc.opens {
            Some(true) => out.looked_at(RULE.code, subject),
            Some(false) => {
                let text = format!(
                    "{} through an arc of {} V: {} are left, and no device has to open for them",
                    fault_words(design, burning),
                    voltage.high.value.0,
                    amperes(arc.current)
                );
                out.trouble(case, point, RULE.code, subject, arc.current.0, text);
            }
            None => {
                let device = match &burning.latest.end {
                    Ends::NotKnown(device) => *device,
                    _ => fed.guards[0],
                };
                out.not_judged(point, RULE.code, subject, at, lacks_times(design, device));
            }
        }
    }
}
