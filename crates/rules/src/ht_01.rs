//! HT-01: temperature of a conductor against the lowest limit of what it touches.

use crate::case::Missing;
use crate::heat::{each_wire, heated_by};
use crate::{Case, Check, Judged, Rule, Unit, Worst, passes};
use analysis::HeatRange;
use analysis::layout::Place;
use model::*;
use std::collections::HashMap;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("HT-01"),
    title: "temperature of a conductor",
    unit: Unit::Celsius,
    what: "Temperature of each conductor in each segment of a zone, by the balance of heat of the packed section, in the hottest surroundings that \
           the zone states, with the greatest resistance of its type, in every phase with the currents of both corners; bundle_heat_margin of \
           the profile is added where it lies with others. Held against the lowest rating of its insulation, the coating of its strands, the \
           jacket of its cable, the coverings and ties of the segment, and the splices and connectors that it ends on; what states no rating sets no \
           limit, and a neighbour of a lower rating is judged as itself. Where solder is stated of what it ends on, the solder limits it too. The value is that \
           of the long run, far from the ends; but where the stated temperature of an end (of a connector or its unit, a splice, a stud) is higher than that with \
           bundle_heat_margin, it is the value in the segment at that end. What a cooler end leads away is shown by `show temperatures` and counts for nothing. A load that states \
           on_time and period heats by its pulses: by the root of their mean square where the period is below a tenth of the wire's time constant, \
           and what one pulse adds; else pulses are followed in time through the worst sequence that `together` of the phase leaves, and the highest \
           temperature counts. A covering takes up heat then where its mass and specific_heat are stated. Any other load that is on heats at its full current for ever, and the wires of an intermittent one say so. A vehicle \
           without zones is not asked. Where less than 20 K is left, low and high of the margin say how far the value may lie to either side: with contact \
           between jackets and emittance at the ends of their stated ranges, and free convection by Morgan 1975 in place of Churchill and Chu.",
    why: "Insulation ages with its temperature; tables of current know neither the bundle as it is nor what surrounds it, and in vacuum or without \
          weight no air helps.",
    source: "Balance of heat: free convection by Churchill and Chu 1975, and Morgan 1975, [read in a library's documentation], flow by Churchill and Bernstein 1977 [from \
             memory], still gas and jackets by Fourier's law, grey surfaces. Limits of coatings: CASA AC 21-99 [read]. Ratings: the wire types. Margin of the \
             model: NLR TP-2011-469, summary [read]. Contact between jackets: common practice, no source.",
    remedy: "A thicker wire, insulation of a higher rating, a smaller bundle or a place at its rim, a covering of higher emittance, less load.",
    check: Check::Point(check),
};

/// What is left to a limit at which the range of the value is computed too (K).
const NEAR: f64 = 20.0;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    if point.heat.is_none() {
        return;
    }
    let design = case.design;
    let mut ranges: HashMap<Id<Segment>, Vec<HeatRange>> = HashMap::new();
    for (segment, warm) in each_wire(case, point, RULE.code, out) {
        let wire = warm.row.wire;
        let element = ElementId::Wire(wire);
        let added = warm.margin.map_or(0.0, |margin| margin.value.0);
        let (value, limit) = (warm.judged().celsius(), warm.limit.limit.value.celsius());
        let mut within = || {
            let ranges = ranges.entry(segment).or_insert_with(|| case.prepared.heat_ranges(point, segment));
            warm.section.wires.iter().position(|row| row.wire == wire).and_then(|row| ranges.get(row).copied())
        };
        // Only a finding says how its numbers come about.
        let text = if passes(value, limit, Bound::AtMost) {
            String::new()
        } else if let Some(held) = warm.hot_end {
            format!(
                "in segment {} at its end {}, whose stated temperature it has there; far from it {:.0} degC{}; {} sets the limit",
                design.segments[segment].name,
                design.end_name(held.end),
                warm.row.conductor.celsius(),
                warm.margin.map_or(String::new(), |margin| format!(" and {:.0} K of margin", margin.value.0)),
                warm.limit.by.words(design)
            )
        } else {
            let allowed = case.prepared.heat_allowed(point, segment, wire, physics::Kelvin::from_celsius(limit - added));
            let allowed = allowed.map_or("no current, its neighbours and surroundings alone are too warm".to_owned(), |a| {
                format!("{:.1} A with its neighbours as they are", a.0)
            });
            format!(
                "in segment {} with {} computed at {}: {:.0} degC{}; {} sets the limit; allowed: {allowed}{}",
                design.segments[segment].name,
                match warm.section.wires.len() {
                    1 => "no other wire".to_owned(),
                    2 => "1 other wire".to_owned(),
                    n => format!("{} other wires", n - 1),
                },
                heated_by(&warm.row),
                warm.row.conductor.celsius(),
                warm.margin.map_or(String::new(), |margin| format!(" and {:.0} K of margin", margin.value.0)),
                warm.limit.by.words(design),
                within().map_or(String::new(), |range| format!(
                    "; by the stated ranges {:.0} to {:.0} degC, most of it by {}",
                    range.low.celsius(),
                    range.high.celsius(),
                    match range.by {
                        "contact" => "contact between jackets",
                        "film" => "the law of free convection",
                        by => by,
                    }
                )),
            )
        };
        let judged = Judged {
            rule: RULE.code,
            subject: Subject::Element(element),
            value,
            limit,
            bound: Bound::AtMost,
            at: design.wires[wire].at,
            text,
        };
        let is_worst = out.push_along(point, judged, element, || {
            let mut notes = case.prepared.heat_notes(point.scenario.phase, segment);
            notes.extend(warm.limit.limit.note.into_iter().chain(warm.margin.and_then(|margin| margin.note)));
            notes.extend(warm.hot_end.and_then(|held| held.temperature.note));
            notes
        });
        if is_worst
            && limit - value < NEAR
            && warm.hot_end.is_none()
            && let Some(range) = within()
        {
            let range = [range.low, range.high].map(|end| end.celsius() + added);
            out.within(RULE.code, Subject::Element(element), Bound::AtMost, range);
        }
    }
    for (wire, row) in design.wires.iter() {
        let why = match case.prepared.layout().place(wire) {
            Place::Laid(run) if run.segments.is_empty() => continue,
            Place::Stowed | Place::Laid(_) => continue,
            Place::NoMap => "the vehicle has no segments that it could lie in",
            Place::NoBreakout(_) => "one of its ends is at no breakout, so it lies in no segment (RT-01)",
            Place::Broken(_) => "its path breaks, so it lies in no segment (RT-01)",
        };
        let subject = Subject::Element(ElementId::Wire(wire));
        out.not_judged(point, RULE.code, subject, row.at, Missing::new("route", why));
    }
}
