//! `show routes` and `show lengths`: where wires lie on the map of the harness, and what their lengths are made of.

use crate::json::{AtRow, Envelope, SubjectRow};
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::layout::Place;
use model::*;
use serde::Serialize;

/// A row of `show routes`.
#[derive(Debug, Serialize)]
pub struct RouteRow {
    /// The wire.
    pub subject: SubjectRow,
    /// Breakout of its `from` end.
    pub from_breakout: Option<String>,
    /// Breakout of its `to` end.
    pub to_breakout: Option<String>,
    /// Class of its circuit.
    pub class: Option<String>,
    /// Segments from `from` to `to`.
    pub segments: Vec<String>,
    /// Breakouts on its way, one more than segments.
    pub breakouts: Vec<String>,
    /// Length along its segments.
    pub path_m: Option<f64>,
    /// How much longer its way is, weights counted, than the one that it would take alone in the harness.
    pub detour_m: Option<f64>,
    /// The segment that was closed to it on that other way, and why.
    pub moved_by: Option<MovedRow>,
    /// Whether its row states where it must pass.
    pub pinned: bool,
    /// Whether it is pinned where segments are closed to it.
    pub against: bool,
    /// Why it has no route.
    pub reason: Option<String>,
    /// Its row.
    pub at: AtRow,
}

/// What moved a wire off its shortest way.
#[derive(Debug, Serialize)]
pub struct MovedRow {
    /// The segment.
    pub segment: String,
    /// Why it was closed.
    pub why: String,
}

/// Routes of wires; a segment or breakout that is asked for stands for the wires that pass it.
pub fn routes(view: &View, asked: &Asked) -> Vec<RouteRow> {
    let design = view.design;
    let layout = view.prepared.layout();
    let segment_name = |id: Id<Segment>| design.segments[id].name.to_string();
    let point_name = |id: Id<BranchPoint>| design.branch_points[id].name.to_string();
    let mut rows = Vec::new();
    for (id, wire) in design.wires.iter() {
        let (kind, name) = design.element_name(ElementId::Wire(id));
        let run = layout.run(id);
        let [from, to] = [wire.from.value, wire.to.value].map(|end| design.breakout_of(end).map(|at| at.value));
        let breakouts = run.map_or(Vec::new(), |run| along(design, from, &run.segments));
        let passes = || {
            let segments = run.into_iter().flat_map(|run| &run.segments);
            segments.map(|segment| ("segment", segment_name(*segment))).any(|(kind, name)| asked.wants(kind, &name))
                || breakouts.iter().any(|point| asked.wants("breakout", &point_name(*point)))
        };
        if !asked.wants(kind, &name) && !passes() {
            continue;
        }
        rows.push(RouteRow {
            subject: SubjectRow { kind, name },
            from_breakout: from.map(point_name),
            to_breakout: to.map(point_name),
            class: design.class_of(id).map(|class| design.class_name(class.value).to_owned()),
            segments: run.map_or(Vec::new(), |run| run.segments.iter().copied().map(segment_name).collect()),
            breakouts: breakouts.into_iter().map(point_name).collect(),
            path_m: run.and_then(|run| number::json(run.path.0)),
            detour_m: run.and_then(|run| number::json(run.detour)),
            moved_by: run.and_then(|run| {
                let (segment, why) = run.moved_by?;
                Some(MovedRow { segment: segment_name(segment), why: rules::barrier_words(view.prepared, id, segment, why) })
            }),
            pinned: !wire.via.is_empty(),
            against: run.is_some_and(|run| run.against),
            reason: reason(view, id),
            at: view.at_row(wire.at),
        });
    }
    rows
}

/// Breakouts on a way from the first.
fn along(design: &Design, from: Option<Id<BranchPoint>>, segments: &[Id<Segment>]) -> Vec<Id<BranchPoint>> {
    let Some(mut at) = from else { return Vec::new() };
    let mut points = vec![at];
    for segment in segments {
        let row = &design.segments[*segment];
        at = if row.from.value == at { row.to.value } else { row.from.value };
        points.push(at);
    }
    points
}

/// Why a wire lies nowhere.
fn reason(view: &View, wire: Id<Wire>) -> Option<String> {
    match view.prepared.layout().place(wire) {
        Place::Laid(_) => None,
        Place::NoMap => Some("the vehicle has no segments".to_owned()),
        Place::Stowed => Some("stowed".to_owned()),
        Place::NoBreakout(sides) => Some(format!("{} is at no breakout", rules::ends_without_breakout(view.design, wire, sides))),
        Place::Broken(told) => Some(rules::break_words(view.prepared, wire, told)),
    }
}

/// What goes with routes: whether another order of laying could do better.
fn proof(view: &View) -> Option<&'static str> {
    if view.design.segments.is_empty() {
        return None;
    }
    Some(match view.prepared.layout().is_proven() {
        true => "no order of laying gives more routes or a smaller sum of lengths",
        false => {
            "wires are laid one after the other, those with `via` first, then thick before thin, then as listed, each by the cheapest way left: \
             the sum of lengths is not proven to be the least, another order may give a smaller one"
        }
    })
}

/// Routes as an output object; what is not proven stands among the cautions.
pub fn routes_json(view: &View, asked: &Asked) -> Envelope<RouteRow> {
    let mut envelope = view.envelope("show", Some("routes"), routes(view, asked));
    envelope.cautions.extend(proof(view).filter(|_| !view.prepared.layout().is_proven()).map(str::to_owned));
    envelope
}

/// Routes as text.
pub fn routes_text(view: &View, rows: &[RouteRow], style: Style) -> String {
    if view.design.segments.is_empty() {
        return "the vehicle has no segments: no wire lies anywhere\n".to_owned();
    }
    if rows.is_empty() {
        return "none\n".to_owned();
    }
    let mut grid = Grid::new(&["wire", "class", "way", ">path m", ">detour m", ""]);
    for row in rows {
        let metres = |v: Option<f64>| v.map_or("–".to_owned(), |v| number::fixed(v, 3));
        let word = match (&row.reason, &row.moved_by, row.pinned, row.against) {
            (Some(reason), ..) => reason.clone(),
            (_, Some(moved), false, _) => format!("not by segment {}: it {}", moved.segment, moved.why),
            (_, _, true, true) => "pinned where segments are closed to it".to_owned(),
            (_, _, true, false) => "pinned".to_owned(),
            _ => String::new(),
        };
        let detour = row.detour_m.filter(|detour| *detour > 0.0);
        grid.row(vec![
            row.subject.name.clone(),
            row.class.clone().unwrap_or_default(),
            way(row),
            metres(row.path_m),
            detour.map_or(String::new(), |detour| metres(Some(detour))),
            word,
        ]);
    }
    let moved = rows.iter().filter(|row| row.detour_m.is_some_and(|detour| detour > 0.0)).count();
    let without = rows.iter().filter(|row| row.path_m.is_none()).count();
    let mut text = grid.render(style);
    text.push_str(&format!(
        "\n{}, {} off the way that they would take alone, {} without a route\n",
        number::counted(rows.len(), "wire"),
        number::count(moved),
        number::count(without)
    ));
    if let Some(proof) = proof(view) {
        text.push_str(&format!("{proof}\n"));
    }
    text
}

/// `B1 ─S1─ B2 ─S2─ B3`.
fn way(row: &RouteRow) -> String {
    let mut points = row.breakouts.iter();
    let mut text = points.next().cloned().unwrap_or_default();
    for (segment, point) in row.segments.iter().zip(points) {
        text.push_str(&format!(" ─{segment}─ {point}"));
    }
    text
}

/// A row of `show lengths`.
#[derive(Debug, Serialize)]
pub struct LengthRow {
    /// The wire.
    pub subject: SubjectRow,
    /// Its length; null if it is not known.
    pub length_m: Option<f64>,
    /// `stated` or `route`; null if it is not known.
    pub from: Option<&'static str>,
    /// Along its segments.
    pub path_m: Option<f64>,
    /// What the twist of its cable adds.
    pub twist_m: Option<f64>,
    /// Slack.
    pub slack_m: Option<f64>,
    /// What its ends need, at `from` and at `to`.
    pub ends_m: Vec<f64>,
    /// Length that its route would give; of one from its route the length itself.
    pub by_route_m: Option<f64>,
    /// Why it is not known.
    pub reason: Option<String>,
    /// Its row.
    pub at: AtRow,
}

/// Lengths of wires with what they are made of.
pub fn lengths(view: &View, asked: &Asked) -> Vec<LengthRow> {
    let design = view.design;
    let layout = view.prepared.layout();
    let mut rows = Vec::new();
    for (id, wire) in design.wires.iter() {
        let (kind, name) = design.element_name(ElementId::Wire(id));
        if !asked.wants(kind, &name) {
            continue;
        }
        let length = view.prepared.length(id);
        let parts = layout.parts(id);
        let from = match wire.length.map(|length| length.value) {
            Some(Length::Given(_)) => "stated",
            _ => "route",
        };
        let metre = |part: fn(&analysis::layout::Parts) -> f64| parts.and_then(|parts| number::json(part(&parts)));
        rows.push(LengthRow {
            subject: SubjectRow { kind, name },
            length_m: length.ok().and_then(|length| number::json(length.0)),
            from: length.is_ok().then_some(from),
            path_m: metre(|parts| parts.path.0),
            twist_m: metre(|parts| parts.twist.0),
            slack_m: metre(|parts| parts.slack.0),
            ends_m: parts.map_or(Vec::new(), |parts| parts.ends.iter().filter_map(|end| number::json(end.0)).collect()),
            by_route_m: metre(|parts| parts.sum().0),
            reason: length.err().map(|unknown| unknown.why.clone()),
            at: view.at_row(wire.at),
        });
    }
    rows
}

/// Lengths as text.
pub fn lengths_text(rows: &[LengthRow], style: Style) -> String {
    if rows.is_empty() {
        return "none\n".to_owned();
    }
    let has_routes = rows.iter().any(|row| row.path_m.is_some());
    let mut grid = Grid::new(&["wire", ">length m", "from", ">path", ">twist", ">slack", ">ends", ">by route", ""]);
    for row in rows {
        let metres = |v: Option<f64>| v.map_or(String::new(), |v| number::fixed(v, 3));
        let some = |v: Option<f64>| metres(v.filter(|v| *v > 0.0));
        let ends: f64 = row.ends_m.iter().sum();
        grid.row(vec![
            row.subject.name.clone(),
            row.length_m.map_or("–".to_owned(), |v| number::fixed(v, 3)),
            row.from.unwrap_or("–").to_owned(),
            metres(row.path_m),
            some(row.twist_m),
            some(row.slack_m),
            some(Some(ends)),
            metres(row.by_route_m.filter(|_| row.from == Some("stated"))),
            row.reason.clone().unwrap_or_default(),
        ]);
    }
    let stated = rows.iter().filter(|row| row.from == Some("stated")).count();
    let routed = rows.iter().filter(|row| row.from == Some("route")).count();
    let mut text = grid.render(style);
    text.push_str(&format!(
        "\n{}: {} stated, {} from the route, {} not known\n",
        number::counted(rows.len(), "wire"),
        number::count(stated),
        number::count(routed),
        number::count(rows.len() - stated - routed)
    ));
    if has_routes {
        text.push_str("length from the route = path + twist + slack + what both ends need; `by route`: what a stated one would be then\n");
    }
    text
}
