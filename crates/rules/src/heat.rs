//! What limits the temperature of a wire in a segment, and how warm it is there: shared by the rules of heat and `show temperatures`.

use crate::case::Missing;
use crate::{Case, Worst};
use model::*;
use physics::*;

/// The lowest of the limits of a wire in a segment.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatLimit {
    /// The limit.
    pub limit: Given<Kelvin>,
    /// Whose it is: `insulation`, `silver coating`, `covering K1`.
    pub by: String,
}

/// The lowest limit of a wire in a segment: its insulation, coating and cable, what covers and ties the segment, what it ends on. What states no
/// rating sets none.
///
/// # Errors  The field that is missing, and why it is needed.
pub fn heat_limit(design: &Design, wire: Id<Wire>, segment: Id<Segment>) -> Result<HeatLimit, (String, String)> {
    let row = &design.wires[wire];
    let spec = row.spec.ok_or_else(|| ("gauge".to_owned(), "its gauge is TBD".to_owned()))?;
    let spec = &design.wire_specs[spec.value];
    let rating = spec
        .rating
        .ok_or_else(|| ("rating".to_owned(), format!("the rated temperature of type {} {} AWG is not known", spec.kind, spec.gauge)))?;
    let mut all = vec![(rating, "insulation".to_owned())];
    if let Some(plating) = spec.plating().and_then(|plating| design.heat.plating(plating)) {
        all.push((plating.limit, format!("{} coating", plating.plating.word())));
    }
    let cable = row.cable.map(|cable| &design.cables[cable.value]);
    all.extend(cable.and_then(|cable| Some((cable.rating?, format!("jacket of cable {}", cable.name)))));
    let coverings = design.segments[segment].coverings.iter().map(|id| &design.coverings[id.value]);
    all.extend(coverings.filter_map(|covering| Some((covering.rating?, format!("covering {}", covering.name)))));
    let ties = design.clamps.iter().filter(|(_, clamp)| clamp.segment.value == segment && clamp.kind == ClampKind::Tie);
    all.extend(ties.filter_map(|(_, tie)| Some((tie.rating?, format!("tie {}", tie.name)))));
    for end in [row.from.value, row.to.value] {
        all.extend(match end {
            End::Splice(id) => design.splices[id].rating.map(|limit| (limit, format!("splice {}", design.splices[id].name))),
            End::Pin(pin) => {
                let own = &design.connectors[design.pins[pin].connector];
                let of = own.rating.map(|limit| (limit, own));
                of.map(|(limit, half)| (limit, format!("contacts of connector {}", half.name.trim_end_matches(":mate"))))
            }
            _ => None,
        });
    }
    // The first of equals.
    let (limit, by) =
        all.into_iter().reduce(|best, next| if next.0.value < best.0.value { next } else { best }).expect("a wire has a rating");
    Ok(HeatLimit { limit, by })
}

/// A wire in a segment, held against its limit.
pub(crate) struct Warm<'h> {
    pub(crate) section: &'h SectionHeat,
    pub(crate) row: WireHeat,
    /// What is added before it is judged.
    pub(crate) margin: Option<Given<TemperatureRise>>,
    pub(crate) limit: HeatLimit,
}

impl Warm<'_> {
    /// Kelvin left to the limit.
    fn left(&self) -> f64 {
        self.limit.limit.value.0 - self.row.conductor.0 - self.margin.map_or(0.0, |margin| margin.value.0)
    }
}

/// What is added to a computed temperature before it is judged: nothing to that of a wire alone.
///
/// # Errors  The field that is missing, and why it is needed.
pub fn heat_margin(design: &Design, wires: usize) -> Result<Option<Given<TemperatureRise>>, (String, String)> {
    match (wires, design.profile.bundle_heat_margin) {
        (0 | 1, _) => Ok(None),
        (_, Some(margin)) => Ok(Some(margin)),
        (_, None) => Err(("bundle_heat_margin".to_owned(), "the limits profile states no bundle_heat_margin".to_owned())),
    }
}

/// Why the heat of a segment is not known; `None` where it is, or where nothing lies in it.
pub fn heat_unknown(design: &Design, wire: Option<Id<Wire>>, heat: &SegmentHeat) -> Option<(String, String)> {
    match heat {
        SegmentHeat::Empty | SegmentHeat::Known(_) => None,
        SegmentHeat::Lacks(lacks) => {
            let own = wire.map(|wire| Subject::Element(ElementId::Wire(wire)));
            let field = match lacks.of {
                of if Some(of) == own => lacks.field.to_owned(),
                Subject::Vehicle => format!("{} of profile {}", lacks.field, design.profile.name),
                of => format!("{} of {}", lacks.field, design.subject_words(of)),
            };
            Some((field, lacks.why.clone()))
        }
        SegmentHeat::Runaway { wire: hot, .. } | SegmentHeat::Unsettled { wire: hot } => {
            let words = design.element_words(ElementId::Wire(*hot));
            Some(("balance of heat".to_owned(), format!("{words} beside it has none (HT-02)")))
        }
    }
}

/// Every wire at a point in the segment in which least is left to its limit, in the order of wires. A segment in which it cannot be judged is
/// told as not judged.
pub(crate) fn each_wire<'p>(case: &Case, point: &'p Point, rule: RuleCode, out: &mut Worst) -> Vec<(Id<Segment>, Warm<'p>)> {
    let design = case.design;
    let Some(heat) = &point.heat else { return Vec::new() };
    let mut worst: Vec<Option<(Id<Segment>, Warm)>> = design.wires.ids().map(|_| None).collect();
    let missing = |(field, why): (String, String)| Missing::new(field, why);
    for (segment, known) in heat.segments.iter() {
        let SegmentHeat::Known(section) = known else {
            for &wire in case.prepared.layout().members(segment) {
                if let SegmentHeat::Runaway { wire: hot, .. } | SegmentHeat::Unsettled { wire: hot } = known
                    && *hot == wire
                {
                    continue;
                }
                if let Some(why) = heat_unknown(design, Some(wire), known) {
                    out.not_judged(point, rule, Subject::Element(ElementId::Wire(wire)), design.wires[wire].at, missing(why));
                }
            }
            continue;
        };
        for row in &section.wires {
            let limit = heat_limit(design, row.wire, segment);
            match limit.and_then(|limit| Ok((limit, heat_margin(design, section.wires.len())?))) {
                Ok((limit, margin)) => {
                    let warm = Warm { section, row: *row, margin, limit };
                    let kept = &mut worst[row.wire.row()];
                    if kept.as_ref().is_none_or(|(_, known)| warm.left() < known.left()) {
                        *kept = Some((segment, warm));
                    }
                }
                Err(why) => {
                    let subject = Subject::Element(ElementId::Wire(row.wire));
                    out.not_judged(point, rule, subject, design.wires[row.wire].at, missing(why));
                }
            }
        }
    }
    worst.into_iter().flatten().collect()
}
