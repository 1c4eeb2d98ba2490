//! What rules of protection ask of the faults of fed wires.

use crate::{Case, case::Missing};
use analysis::protection::{Burning, FedWire, Protection};
use model::*;
use physics::{Ampere, Kelvin};

/// Faults of fed wires, with the states that they happen in.
pub struct Faults<'a> {
    /// The faults.
    pub protection: &'a Protection,
    /// Settled states of every phase and corner.
    pub points: &'a [Point],
}

impl<'a> Faults<'a> {
    /// The state that a fault happened in.
    pub(crate) fn point_of(&self, burning: &Burning) -> &'a Point {
        let state = (burning.fault.phase, burning.fault.corner);
        let is_it = |point: &&Point| (point.scenario.phase, point.scenario.corner) == state;
        self.points.iter().find(is_it).expect("protection: its faults happen in states of the study")
    }

    /// The first state: where what belongs to no state is kept.
    pub(crate) fn any_point(&self) -> Option<&'a Point> {
        self.points.first()
    }

    /// Fed wires that a device guards.
    pub(crate) fn guarded(&self) -> impl Iterator<Item = &'a FedWire> {
        self.protection.wires.iter().filter(|fed| !fed.guards.is_empty())
    }

    /// Where a wire runs warmest as its heat is judged, of all segments and states.
    pub(crate) fn warmest(&self, case: &Case, wire: Id<Wire>) -> Option<(&'a Point, Id<Segment>, Kelvin)> {
        let mut warmest: Option<(&Point, Id<Segment>, Kelvin)> = None;
        for point in self.points {
            let Some(heat) = &point.heat else { continue };
            for &segment in case.prepared.segments_of(wire) {
                if let SegmentHeat::Known(known) = &heat.segments[segment]
                    && let Some(row) = known.of(wire)
                    && warmest.is_none_or(|(.., t)| row.conductor > t)
                {
                    warmest = Some((point, segment, row.conductor));
                }
            }
        }
        warmest
    }
}

/// What is missing where a device's times are not known.
pub(crate) fn lacks_times(design: &Design, device: Id<Protector>) -> Missing {
    let (row, words) = (&design.protectors[device], design.element_words(ElementId::Protector(device)));
    match (row.rating, row.device) {
        (None, _) => Missing::new(format!("rating of {words}"), format!("the rating of {words} is not stated")),
        (_, None) => Missing::new(format!("device of {words}"), format!("{words} names no type of device")),
        (_, Some(_)) => {
            let kind = design.device(device).map_or(String::new(), |kind| kind.name.to_string());
            Missing::new(format!("trip-bands of {kind}"), format!("the catalog has no times of {words}, type {kind}, at these currents"))
        }
    }
}

/// `0.38 A`: three significant digits.
pub(crate) fn amperes(current: Ampere) -> String {
    three_digits(current.0, "A")
}

/// A value in three significant digits; below a tenth in thousandths.
pub(crate) fn three_digits(value: f64, unit: &str) -> String {
    if value == 0.0 {
        return format!("0 {unit}");
    }
    let (value, unit) = if value.abs() < 0.1 { (1e3 * value, format!("m{unit}")) } else { (value, unit.to_owned()) };
    let digits = match value.abs() {
        v if v >= 99.5 => 0,
        v if v >= 9.95 => 1,
        v if v >= 0.995 => 2,
        _ => 3,
    };
    format!("{value:.digits$} {unit}")
}

/// How a fault is fed, in words: `short of W at its to end to return R, BT2 alone`.
pub(crate) fn fault_words(design: &Design, burning: &Burning) -> String {
    use analysis::protection::Against;
    let fault = &burning.fault;
    let place = match fault.at {
        at if at <= 0.0 => format!("at {}", design.end_name(design.wires[fault.wire].from.value)),
        at if at >= 1.0 => format!("at {}", design.end_name(design.wires[fault.wire].to.value)),
        at => format!("{:.0} % along", 100.0 * at),
    };
    let against = match fault.against {
        Against::Return(wire) => format!("return {}", design.wires[wire].name),
        Against::Structure(ground) => format!("structure at {}", design.grounds[ground].name),
    };
    let alone = fault.alone.map_or(String::new(), |id| format!(", {} alone feeding", design.batteries[id].name));
    format!("short {place} to {against}{alone}")
}

/// Devices that open, in their order: `CB-A1`, `CB-A1, then F-BT1`.
pub(crate) fn opens_words(design: &Design, clearing: &Clearing) -> String {
    let names: Vec<String> = clearing.opens.iter().map(|(_, device)| design.protectors[*device].name.to_string()).collect();
    names.join(", then ")
}

/// Why a fault goes on, in words; `None` where it is cleared.
pub(crate) fn goes_on(design: &Design, clearing: &Clearing, devices: &[Carries]) -> Option<String> {
    let after = if clearing.opens.is_empty() { String::new() } else { format!(" after {} opened", opens_words(design, clearing)) };
    match &clearing.end {
        Ends::Cleared(_) | Ends::NotKnown(_) | Ends::Unsettled => None,
        Ends::Burns(current) => {
            let names: Vec<String> = devices.iter().map(|carries| design.protectors[carries.device].name.to_string()).collect();
            let names = match names.len() {
                0 => "what feeds them".to_owned(),
                n if n > 3 => format!("{} and {} more", names[..2].join(", "), n - 2),
                _ => names.join(", "),
            };
            Some(format!("{} go on{after}; {names} may carry them for good", amperes(*current)))
        }
        Ends::Unprotected(current) => Some(format!("{} go on{after}, and no device lies between source and fault", amperes(*current))),
    }
}
