//! What limits the temperature of a wire in a segment, and how warm it is there: shared by the rules of heat and `show temperatures`.

use crate::case::Missing;
use crate::{Case, Worst};
use analysis::Prepared;
use model::*;
use physics::*;

/// The lowest of the limits of a wire in a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatLimit {
    /// The limit.
    pub limit: Given<Kelvin>,
    /// Whose it is.
    pub by: LimitOf,
}

/// Whose limit it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LimitOf {
    /// The insulation of the wire.
    Insulation,
    /// The coating of its strands.
    Coating(Plating),
    /// The jacket of its cable.
    Jacket(Id<Cable>),
    /// A covering of the segment.
    Covering(Id<Covering>),
    /// A tie of the segment.
    Tie(Id<Clamp>),
    /// A splice that the wire ends on.
    Splice(Id<Splice>),
    /// The connector that it ends on.
    Contacts(Id<Connector>),
    /// The solder of what it ends on: a connector, splice or stud.
    Solder(Subject),
}

impl LimitOf {
    /// `insulation`, `silver coating`, `covering K1`.
    pub fn words(self, design: &Design) -> String {
        match self {
            LimitOf::Insulation => "insulation".to_owned(),
            LimitOf::Coating(plating) => format!("{} coating", plating.word()),
            LimitOf::Jacket(id) => format!("jacket of cable {}", design.cables[id].name),
            LimitOf::Covering(id) => format!("covering {}", design.coverings[id].name),
            LimitOf::Tie(id) => format!("tie {}", design.clamps[id].name),
            LimitOf::Splice(id) => format!("splice {}", design.splices[id].name),
            LimitOf::Contacts(id) => format!("contacts of connector {}", design.connectors[id].name.trim_end_matches(":mate")),
            LimitOf::Solder(of) => format!("solder of {}", design.subject_words(of).trim_end_matches(":mate")),
        }
    }
}

/// A rating and the tie that has it.
type Tie = (Given<Kelvin>, Id<Clamp>);

/// What limits the temperature of wires in segments.
pub struct HeatLimits<'d> {
    design: &'d Design,
    /// The tie of the lowest rating of each segment.
    tie: Column<Segment, Option<Tie>>,
    /// Coating of each wire type, with its limit.
    coating: Column<WireSpec, Option<&'d PlatingLimit>>,
    ends: EndTemperatures<'d>,
}

impl<'d> HeatLimits<'d> {
    /// Cost: linear in segments, clamps and wire types.
    pub fn new(design: &'d Design) -> HeatLimits<'d> {
        let mut tie: Column<Segment, Option<Tie>> = design.segments.column(None);
        for (id, clamp) in design.clamps.iter().filter(|(_, clamp)| clamp.kind == ClampKind::Tie) {
            let kept = &mut tie[clamp.segment.value];
            if let Some(rating) = clamp.rating
                && kept.is_none_or(|(known, _)| rating.value < known.value)
            {
                *kept = Some((rating, id));
            }
        }
        let coating = |(_, spec): (Id<WireSpec>, &WireSpec)| spec.plating().and_then(|plating| design.heat.plating(plating));
        let coating = design.wire_specs.iter().map(coating).collect();
        HeatLimits { design, tie, coating, ends: EndTemperatures::new(design) }
    }

    /// The lowest of the limits of a wire wherever it lies: its insulation, coating and cable, what it ends on.
    ///
    /// # Errors  The field that is missing, and why it is needed.
    pub fn of_wire(&self, wire: Id<Wire>) -> Result<HeatLimit, (String, String)> {
        self.lowest(wire, None)
    }

    /// The lowest of the limits of a wire in a segment: its insulation, coating and cable, what covers and ties the segment, what it ends on. What
    /// states no rating sets none.
    ///
    /// # Errors  The field that is missing, and why it is needed.
    pub fn of(&self, wire: Id<Wire>, segment: Id<Segment>) -> Result<HeatLimit, (String, String)> {
        self.lowest(wire, Some(segment))
    }

    fn lowest(&self, wire: Id<Wire>, segment: Option<Id<Segment>>) -> Result<HeatLimit, (String, String)> {
        let design = self.design;
        let row = &design.wires[wire];
        let kind = row.spec.ok_or_else(|| ("gauge".to_owned(), "its gauge is TBD".to_owned()))?.value;
        let spec = &design.wire_specs[kind];
        let rating = spec
            .rating
            .ok_or_else(|| ("rating".to_owned(), format!("the rated temperature of type {} {} AWG is not known", spec.kind, spec.gauge)))?;
        let mut lowest = HeatLimit { limit: rating, by: LimitOf::Insulation };
        // The first of equals.
        let mut offer = |limit: Option<Given<Kelvin>>, by: LimitOf| {
            if let Some(limit) = limit.filter(|limit| limit.value < lowest.limit.value) {
                lowest = HeatLimit { limit, by };
            }
        };
        if let Some(coating) = self.coating[kind] {
            offer(Some(coating.limit), LimitOf::Coating(coating.plating));
        }
        if let Some(cable) = row.cable {
            offer(design.cables[cable.value].rating, LimitOf::Jacket(cable.value));
        }
        for covering in segment.iter().flat_map(|segment| &design.segments[*segment].coverings) {
            offer(design.coverings[covering.value].rating, LimitOf::Covering(covering.value));
        }
        if let Some((rating, tie)) = segment.and_then(|segment| self.tie[segment]) {
            offer(Some(rating), LimitOf::Tie(tie));
        }
        for end in [row.from.value, row.to.value] {
            let soldered = match end {
                End::Splice(id) => {
                    offer(design.splices[id].rating, LimitOf::Splice(id));
                    design.splices[id].solder.map(|solder| (solder, Subject::Splice(id)))
                }
                End::Pin(pin) => {
                    let half = design.pins[pin].connector;
                    offer(design.connectors[half].rating, LimitOf::Contacts(half));
                    design.connectors[half].solder.map(|solder| (solder, Subject::Connector(half)))
                }
                End::Stud(id) => design.studs[id].solder.map(|solder| (solder, Subject::Stud(id))),
                _ => None,
            };
            if let Some((solder, of)) = soldered {
                let tbd = || {
                    let words = design.subject_words(of);
                    let words = words.trim_end_matches(":mate");
                    (format!("solder of {words}"), format!("its end is soldered to {words}, and the limit of that solder is TBD"))
                };
                offer(Some(solder.limit.ok_or_else(tbd)?), LimitOf::Solder(of));
            }
        }
        Ok(lowest)
    }

    /// The hotter of the stated temperatures of a wire's ends that lie at a segment: it is the temperature of the wire there.
    pub fn end_at(&self, prepared: &Prepared, wire: Id<Wire>, segment: Id<Segment>) -> Option<HeldEnd> {
        let segments = prepared.segments_of(wire);
        let row = &self.design.wires[wire];
        let ends = [(row.from.value, segments.first()), (row.to.value, segments.last())];
        let here = ends.into_iter().filter(|(_, at)| *at == Some(&segment));
        let held = here.filter_map(|(end, _)| Some(HeldEnd { end, temperature: self.ends.of(end)? }));
        held.reduce(|a, b| if b.temperature.value > a.temperature.value { b } else { a })
    }
}

/// An end of a wire whose temperature is stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldEnd {
    /// The end.
    pub end: End,
    /// Its temperature.
    pub temperature: Given<Kelvin>,
}

/// A wire in a segment, held against its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warm<'h> {
    /// The section that it lies in.
    pub section: &'h SectionHeat,
    /// What it came to.
    pub row: WireHeat,
    /// What is added before it is judged.
    pub margin: Option<Given<TemperatureRise>>,
    /// An end of it here that is hotter than the computed value with what is added: its temperature is judged in place of that.
    ///
    /// All along, the wire is between what it has far from its ends and the temperature of the end, so that the greater of the two is its hottest.
    pub hot_end: Option<HeldEnd>,
    /// The lowest of its limits.
    pub limit: HeatLimit,
}

impl<'h> Warm<'h> {
    /// A wire of a section in a segment.
    ///
    /// # Errors  The field that is missing, and why it is needed.
    pub fn new(
        prepared: &Prepared,
        limits: &HeatLimits,
        segment: Id<Segment>,
        section: &'h SectionHeat,
        row: WireHeat,
    ) -> Result<Warm<'h>, (String, String)> {
        let limit = limits.of(row.wire, segment)?;
        let margin = heat_margin(limits.design, section.wires.len())?;
        let computed = row.conductor.0 + margin.map_or(0.0, |margin| margin.value.0);
        let hot_end = limits.end_at(prepared, row.wire, segment).filter(|held| held.temperature.value.0 > computed);
        Ok(Warm { section, row, margin, hot_end, limit })
    }

    /// What is held against the limit.
    pub fn judged(&self) -> Kelvin {
        match self.hot_end {
            Some(held) => held.temperature.value,
            None => Kelvin(self.row.conductor.0 + self.margin.map_or(0.0, |margin| margin.value.0)),
        }
    }

    /// Kelvin left to the limit.
    pub fn left(&self) -> f64 {
        self.limit.limit.value.0 - self.judged().0
    }
}

/// Which current a wire's heat was computed with: `3.2 A`, `0.71 A, the root of the mean square of pulses up to 3.2 A`.
pub fn heated_by(row: &WireHeat) -> String {
    let (current, peak) = (row.current.0, row.peak.0);
    match row.by {
        HeatedBy::Steady => format!("{current:.1} A"),
        HeatedBy::Rms => format!("{current:.2} A, the root of the mean square of pulses up to {peak:.1} A"),
        HeatedBy::Course => format!("the highest of pulses up to {peak:.1} A followed in time"),
        HeatedBy::Peak => format!("{peak:.1} A as if its pulses stayed, their pauses not being stated"),
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
    let limits = HeatLimits::new(design);
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
            match Warm::new(case.prepared, &limits, segment, section, *row) {
                Ok(warm) => {
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
