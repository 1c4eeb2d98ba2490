//! What rules of energy ask of the batteries' way through the mission.

use crate::case::Missing;
use crate::{Case, Worst};
use analysis::timeline::{Leg, Run, Timeline};
use model::*;

/// The batteries through the mission, with the states of its phases.
pub struct Mission<'a> {
    /// The batteries.
    pub timeline: &'a Timeline,
    /// Settled states of every phase and corner.
    pub points: &'a [Point],
}

impl<'a> Mission<'a> {
    /// The state of a phase and corner.
    pub(crate) fn point(&self, phase: Id<Phase>, corner: Corner) -> Option<&'a Point> {
        self.points.iter().find(|point| (point.scenario.phase, point.scenario.corner) == (phase, corner))
    }

    /// Legs of every run with the state of their phase.
    pub(crate) fn legs(&self) -> impl Iterator<Item = (&'a Run, &'a Leg, &'a Point)> {
        let timeline = self.timeline;
        let points = self.points;
        timeline.runs.iter().flat_map(move |run| {
            run.legs.iter().filter_map(move |leg| {
                let state = (leg.phase, run.corner);
                let point = points.iter().find(|point| (point.scenario.phase, point.scenario.corner) == state)?;
                Some((run, leg, point))
            })
        })
    }

    /// Says of a subject what a run that ended early leaves unjudged.
    pub(crate) fn ended_early(&self, case: &Case, rule: RuleCode, subject: Subject, at: Span, out: &mut Worst) {
        for run in &self.timeline.runs {
            let Some((field, why)) = run.end.lacks(case.design) else { continue };
            let phase = match &run.end {
                analysis::timeline::RunEnd::NoDuration(phase)
                | analysis::timeline::RunEnd::Unsettled(phase)
                | analysis::timeline::RunEnd::StepLimit(phase) => *phase,
                _ => continue,
            };
            if let Some(point) = self.point(phase, run.corner) {
                out.not_judged(point, rule, subject, at, Missing::new(field, why));
            }
        }
    }

    /// Says of each battery that is not followed what is missing: required as soon as any other one is followed.
    pub(crate) fn lacking(&self, case: &Case, rule: RuleCode, out: &mut Worst) {
        let Some(point) = self.points.first() else { return };
        for &(battery, field) in &self.timeline.lacking {
            let subject = Subject::Element(ElementId::Source(battery));
            let at = case.design.batteries[battery].at;
            let why = match field {
                "type" => "it names no type of cell, so its charge is not followed".to_owned(),
                field => format!("its {field} is not known, so its charge is not followed"),
            };
            match self.timeline.batteries.is_empty() {
                true => out.not_required(point, rule, subject, at, Missing::new(field, why)),
                false => out.not_judged(point, rule, subject, at, Missing::new(field, why)),
            }
        }
    }
}

/// What the charge of a battery rests on; worked out once for each.
pub(crate) fn notes(case: &Case, battery: Id<Source>) -> Vec<NoteId> {
    let design = case.design;
    let mut notes = design.batteries[battery].cells.as_ref().map_or(Vec::new(), |cells| cells.notes(design));
    let loads = design.loads.iter().filter(|(_, load)| load.on);
    notes.extend(loads.flat_map(|(_, load)| match load.demand {
        Some(Demand::Power(p)) => p.notes().collect::<Vec<_>>(),
        Some(Demand::Current(i)) => i.notes().collect(),
        Some(Demand::Resistance(r)) => r.notes().collect(),
        None => Vec::new(),
    }));
    notes.sort_unstable();
    notes.dedup();
    notes
}

/// Share of what may be used that is left: below the cut-off and within the uncertainty counts as gone.
///
/// `left` and `unusable` as shares of its charge when full; `uncertain` as a share of the rated charge, which is `rated` times the full one.
pub fn usable_left(left: f64, unusable: f64, uncertain: f64, rated: f64) -> f64 {
    let gone = unusable + uncertain * rated;
    if gone >= 1.0 { -1.0 } else { (left - gone) / (1.0 - gone) }
}

/// `3 h 20 min`: a time of the mission in words.
pub(crate) fn clock(seconds: f64) -> String {
    let whole = seconds.round().max(0.0) as u64;
    let (h, min, s) = (whole / 3600, whole / 60 % 60, whole % 60);
    match (h, min) {
        (0, 0) => format!("{s} s"),
        (0, _) => format!("{min} min {s} s"),
        _ => format!("{h} h {min} min"),
    }
}
