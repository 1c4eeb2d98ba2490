//! What the ends of a wire change along it: a cooler end leads heat away, which is shown and never judged; a hotter one brings it.

use crate::Prepared;
use model::*;
use physics::fin::{Stretch, between, end_length, metal_conductivity};
use physics::*;

/// A wire along its route with its ends at the temperatures that are stated of them.
#[derive(Clone, Debug, PartialEq)]
pub struct LedToEnds {
    /// Stated temperatures of its `from` and its `to` end; an end without one leads nothing away.
    pub ends: [Option<Given<Kelvin>>; 2],
    /// Of each segment of its route, the hottest place in it.
    pub hottest: Vec<(Id<Segment>, Kelvin)>,
}

impl Prepared<'_> {
    /// A wire with its ends held; `None` where no temperature is stated of either, or its heat is not known in a segment of its route.
    ///
    /// Each segment is a fin with the heat of the long run; what the wire loses per kelvin is taken with its neighbours held, which is the most that it
    /// can lose, so that an end is felt over the shortest length.
    ///
    /// Cost: a balance of heat for each segment of the route.
    pub fn led_to_ends(&self, point: &Point, wire: Id<Wire>) -> Option<LedToEnds> {
        let (design, heat) = (self.design, point.heat.as_ref()?);
        let row = &design.wires[wire];
        let stated = EndTemperatures::new(design);
        let ends = [row.from.value, row.to.value].map(|end| stated.of(end));
        if ends == [None; 2] {
            return None;
        }
        let spec = &design.wire_specs[row.spec?.value];
        let conductor = Metre((spec.area.value.0 * 4.0 / core::f64::consts::PI).sqrt());
        let metal = metal_conductivity(spec.conductivity.value);
        let segments = self.segments_of(wire);
        // What a wire needs beyond its route to reach an end lies in the surroundings of the segment there.
        let beyond = self.layout.parts(wire).map_or([Metre(0.0); 2], |parts| parts.ends);
        let stretch = |(at, &segment): (usize, &Id<Segment>)| {
            let SegmentHeat::Known(section) = &heat.segments[segment] else { return None };
            let lost = crate::heat::lost_per_kelvin(self, point, segment, wire)?;
            let mut length = design.segments[segment].length.value;
            if at == 0 {
                length += beyond[0];
            }
            if at + 1 == segments.len() {
                length += beyond[1];
            }
            Some(Stretch { middle: section.of(wire)?.conductor, end_length: end_length(metal, conductor, lost), length })
        };
        let stretches: Vec<Stretch> = segments.iter().enumerate().map(stretch).collect::<Option<_>>()?;
        if stretches.is_empty() {
            return None;
        }
        let joints = between(&stretches, ends.map(|end| end.map(|end| end.value)));
        let hottest = |((&segment, stretch), ends): ((&Id<Segment>, &Stretch), &[Kelvin])| (segment, stretch.hottest([ends[0], ends[1]]));
        Some(LedToEnds { ends, hottest: segments.iter().zip(&stretches).zip(joints.windows(2)).map(hottest).collect() })
    }
}
