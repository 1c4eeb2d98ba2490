//! What each element is in a corner and phase: ohms at the conductor's temperature, EMFs, demands.

use crate::Layout;
use model::*;
use physics::resistance::{copper_alpha20, resistance_at};
use physics::*;

/// Share of the nominal resistance that the high corner takes for a wire.
///
/// # Source  Common practice, no source: strands come in up to 5 % under nominal.
const NOMINAL_SHARE_HIGH: f64 = 0.95;

/// Resistance of a stand-in for a wire whose length or gauge is `TBD`; whatever rests on it is not judged.
const PLACEHOLDER: Ohm = Ohm(1e-3);

/// The resistance spread's value in a corner: greatest in the low corner, least in the high one.
pub(crate) fn resistance_in(spread: &Spread<Ohm>, corner: Corner) -> Given<Ohm> {
    match corner {
        Corner::Low => spread.high,
        Corner::Typical => spread.typical,
        Corner::High => spread.low,
    }
}

/// An EMF spread's value in a corner: least in the low corner.
pub(crate) fn emf_in(spread: &Spread<Volt>, corner: Corner) -> Given<Volt> {
    match corner {
        Corner::Low => spread.low,
        Corner::Typical => spread.typical,
        Corner::High => spread.high,
    }
}

/// Forward voltage of a diode in a corner: greatest in the low corner.
pub(crate) fn forward_in(spread: &Spread<Volt>, corner: Corner) -> Given<Volt> {
    match corner {
        Corner::Low => spread.high,
        Corner::Typical => spread.typical,
        Corner::High => spread.low,
    }
}

/// The phase's ambient in a corner: copper is hot where volts are scarce.
pub(crate) fn ambient_in(phase: &Phase, corner: Corner) -> Given<Kelvin> {
    match corner {
        Corner::Low => phase.ambient.high,
        Corner::Typical => phase.ambient.typical,
        Corner::High => phase.ambient.low,
    }
}

/// Temperature of a wire's conductor in a scenario: as computed, else the phase's ambient.
pub(crate) fn conductor_in(design: &Design, scenario: &Scenario, wire: Id<Wire>) -> Kelvin {
    match &scenario.conductors {
        Some(computed) => computed[wire],
        None => ambient_in(&design.phases[scenario.phase], scenario.corner).value,
    }
}

/// Resistance per length of a wire at 20 °C in a corner.
pub(crate) fn r20_in(spec: &WireSpec, corner: Corner) -> Given<OhmPerMetre> {
    match corner {
        Corner::Low => spec.r20_max,
        Corner::Typical => spec.r20_nominal,
        Corner::High => spec.r20_nominal.map(|r| r * NOMINAL_SHARE_HIGH),
    }
}

/// Demand in a corner: greatest with growth in the low corner, typical in the others.
///
/// A resistance draws most where it is least; growth does not change it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum DemandAt {
    Power(Watt),
    Current(Ampere),
    Resistance(Ohm),
}

pub(crate) fn demand_in(load: &Load, corner: Corner) -> Option<DemandAt> {
    let growth = 1.0 + load.growth.map_or(0.0, |g| g.value.0);
    Some(match (load.demand?, corner) {
        (Demand::Power(p), Corner::Low) => DemandAt::Power(p.high.value * growth),
        (Demand::Power(p), _) => DemandAt::Power(p.typical.value),
        (Demand::Current(i), Corner::Low) => DemandAt::Current(i.high.value * growth),
        (Demand::Current(i), _) => DemandAt::Current(i.typical.value),
        (Demand::Resistance(r), Corner::Low) => DemandAt::Resistance(r.low.value),
        (Demand::Resistance(r), _) => DemandAt::Resistance(r.typical.value),
    })
}

/// Joint resistance at one end of a wire: splices, studs and ground points have one.
pub(crate) fn joint_in(design: &Design, end: End, corner: Corner) -> Option<Given<Ohm>> {
    let spread = match end {
        End::Splice(id) => &design.splices[id].joint,
        End::Stud(id) => &design.studs[id].joint,
        End::Ground(id) => &design.grounds[id].joint,
        _ => return None,
    };
    Some(resistance_in(spread, corner))
}

/// Resistance of a wire with its joints; the flag says that a placeholder stands in for a value that is missing.
pub(crate) fn wire_ohms(design: &Design, layout: &Layout, wire: Id<Wire>, corner: Corner, conductor: Kelvin) -> (Ohm, bool) {
    let row = &design.wires[wire];
    let joints = [row.from.value, row.to.value].into_iter().filter_map(|end| joint_in(design, end, corner)).map(|j| j.value).sum::<Ohm>();
    match (row.spec, layout.length(wire)) {
        (Some(spec), Ok(length)) => {
            let spec = &design.wire_specs[spec.value];
            let r20 = r20_in(spec, corner).value * length;
            (resistance_at(r20, copper_alpha20(spec.conductivity.value.0), conductor) + joints, false)
        }
        _ => (PLACEHOLDER + joints, true),
    }
}
