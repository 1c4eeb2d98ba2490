//! `show bundles`: every segment with the size of what lies in it; `show bundle`: one, wire by wire, as a table or as a drawing.

use crate::json::SubjectRow;
use crate::section_drawing::{Circle, Section, draw};
use crate::show::Asked;
use crate::table::Grid;
use crate::{Style, View, number};
use analysis::{Bundle, Frequencies, MemberOf};
use model::*;
use physics::Metre;
use physics::bundle::fill;
use rules::least_bend;
use serde::Serialize;

/// A row of `show bundles`.
#[derive(Debug, Serialize)]
pub struct BundleRow {
    /// The segment.
    pub subject: SubjectRow,
    /// Breakout at its `from` end.
    pub from: String,
    /// Breakout at its `to` end.
    pub to: String,
    /// Wires in it, cores of cables among them.
    pub wires: usize,
    /// Circles that its cross-section is packed of: wires on their own and cables.
    pub circles: usize,
    /// Diameter of the circle around them; null if the size of something in it is not known.
    pub packed_m: Option<f64>,
    /// Share of that circle that they fill.
    pub packing_fraction: Option<f64>,
    /// Diameter with coverings; null if the size of something in or around it is not known.
    pub outside_m: Option<f64>,
    /// Diameter without coverings where most shields are terminated, were they side by side; null where none is.
    pub shield_ends_m: Option<f64>,
    /// The narrowest clamp or hole on it.
    pub narrowest: Option<SubjectRow>,
    /// Its opening.
    pub bore_m: Option<f64>,
    /// Share of the opening's area that wires and cables take.
    pub fill: Option<f64>,
    /// Smallest bend stated.
    pub bend_m: Option<f64>,
    /// Least bend that its members ask for.
    pub bend_least_m: Option<f64>,
    /// Bend that they had better be given.
    pub bend_preferred_m: Option<f64>,
    /// Longest stretch between two things that hold it.
    pub span_m: Option<f64>,
    /// Mass per length of its wires and coverings.
    pub mass_kg_per_m: Option<f64>,
    /// First frequency of that stretch, pinned at both ends, if every strand slips.
    pub frequency_loose_hz: Option<f64>,
    /// The same if nothing slips.
    pub frequency_bonded_hz: Option<f64>,
    /// The same of a string; only with a stated tension.
    pub frequency_string_hz: Option<f64>,
    /// Inputs that are missing for a number of this row.
    pub lacks: Vec<String>,
}

/// Segments in the order of the input.
pub fn bundles(view: &View, asked: &Asked) -> Vec<BundleRow> {
    let design = view.design;
    let mut narrowest: Vec<Option<(Id<Clamp>, Metre)>> = vec![None; design.segments.len()];
    for (id, clamp) in design.clamps.iter() {
        let Some(bore) = clamp.bore else { continue };
        let slot = &mut narrowest[clamp.segment.value.row()];
        if slot.is_none_or(|(_, known)| bore.value < known) {
            *slot = Some((id, bore.value));
        }
    }
    let wanted = |id: &Id<Segment>| asked.wants_row(&view.subject_row(Subject::Segment(*id)));
    design.segments.ids().filter(wanted).map(|id| row(view, id, narrowest[id.row()])).collect()
}

fn row(view: &View, id: Id<Segment>, narrowest: Option<(Id<Clamp>, Metre)>) -> BundleRow {
    let design = view.design;
    let segment = &design.segments[id];
    let bundle = view.prepared.bundle(id);
    let mut lacks: Vec<String> = bundle.unsized_.iter().map(|one| format!("{} of {}", one.field, design.subject_words(one.of))).collect();
    let known = !bundle.is_empty() && bundle.unsized_.is_empty();
    let diameters: Vec<Metre> = bundle.members.iter().map(|member| member.diameter).collect();
    let least = least_bend(design, bundle);
    let gap = view.prepared.held(id).longest().filter(|gap| gap.between.iter().all(Option::is_some));
    let frequencies: Option<Frequencies> = match gap.map(|gap| view.prepared.frequencies(id, gap.length)) {
        Some(Ok(found)) => Some(found),
        Some(Err(missing)) => {
            let words = format!("{} of {}", missing.field, design.subject_words(missing.of));
            if !lacks.contains(&words) {
                lacks.push(words);
            }
            None
        }
        None => None,
    };
    let shield_ends = view.prepared.shield_ends(id);
    if let Some(Err(missing)) = &shield_ends
        && missing.field == "shield_end_od"
    {
        lacks.push(format!("{} of {}", missing.field, design.subject_words(missing.of)));
    }
    let metre = |value: Metre| number::json(value.0);
    let name = |breakout: Id<BranchPoint>| design.branch_points[breakout].name.to_string();
    BundleRow {
        subject: view.subject_row(Subject::Segment(id)),
        from: name(segment.from.value),
        to: name(segment.to.value),
        wires: view.prepared.layout().members(id).len(),
        circles: bundle.members.len(),
        packed_m: Some(bundle.packed).filter(|_| known).and_then(metre),
        packing_fraction: bundle.packing_fraction().filter(|_| known).and_then(|share| number::json(share.0)),
        outside_m: bundle.outside().filter(|_| known).and_then(metre),
        shield_ends_m: shield_ends.and_then(Result::ok).and_then(metre),
        narrowest: narrowest.map(|(at, _)| view.subject_row(Subject::Clamp(at))),
        bore_m: narrowest.and_then(|(_, bore)| metre(bore)),
        fill: narrowest.filter(|_| known).and_then(|(_, bore)| number::json(fill(&diameters, bore).0)),
        bend_m: segment.bend.and_then(|bend| metre(bend.value)),
        bend_least_m: least.and_then(|bend| metre(bend.minimum)),
        bend_preferred_m: least.and_then(|bend| metre(bend.preferred?)),
        span_m: gap.and_then(|gap| metre(gap.length)),
        mass_kg_per_m: frequencies.and_then(|f| number::json(f.mass.0)),
        frequency_loose_hz: frequencies.and_then(|f| number::json(f.loose.0)),
        frequency_bonded_hz: frequencies.and_then(|f| number::json(f.bonded.0)),
        frequency_string_hz: frequencies.and_then(|f| number::json(f.string?.0)),
        lacks,
    }
}

const NO_SEGMENT: &str = "the vehicle has no segments: declare [breakout.…] and [segment.…], and wires are routed through them\n";

/// The bundles as text.
pub fn bundles_text(rows: &[BundleRow], style: Style) -> String {
    if rows.is_empty() {
        return NO_SEGMENT.to_owned();
    }
    let heads = [
        "segment",
        "from",
        "to",
        ">wires",
        ">packed",
        ">outside",
        ">shield ends",
        "narrowest",
        ">bore",
        ">fill",
        ">bend",
        ">at least",
        ">better",
        ">span",
        ">loose",
        ">bonded",
        ">string",
        "not known",
    ];
    let mut grid = Grid::new(&heads);
    let with = |value: Option<f64>, unit: &str| value.map_or(String::new(), |value| number::with_unit(value, unit));
    for row in rows {
        grid.row(vec![
            row.subject.name.clone(),
            row.from.clone(),
            row.to.clone(),
            row.wires.to_string(),
            with(row.packed_m, "m"),
            with(row.outside_m, "m"),
            with(row.shield_ends_m, "m"),
            row.narrowest.as_ref().map_or(String::new(), |narrowest| format!("{}:{}", narrowest.kind, narrowest.name)),
            with(row.bore_m, "m"),
            row.fill.map_or(String::new(), |fill| format!("{:.0} %", fill * 100.0)),
            with(row.bend_m, "m"),
            with(row.bend_least_m, "m"),
            with(row.bend_preferred_m, "m"),
            with(row.span_m, "m"),
            with(row.frequency_loose_hz, "Hz"),
            with(row.frequency_bonded_hz, "Hz"),
            with(row.frequency_string_hz, "Hz"),
            row.lacks.first().map_or(String::new(), |first| match row.lacks.len() {
                1 => first.clone(),
                n => format!("{first} and {} more", n - 1),
            }),
        ]);
    }
    let notes = "\nshield ends: where most shields are terminated, were they side by side and not staggered\nfill: share of the narrowest opening's area · bend: smallest on the inside, what the most sensitive member asks for at least, and \
                 what it had better be given\nspan: longest stretch between two things that hold it; its first frequency, pinned, if every strand \
                 slips and if nothing does\nwhy?     loomwright explain BN-03 · loomwright show bundle SEGMENT\n";
    grid.render(style) + notes
}

/// A row of `show bundle`: one circle of the cross-section.
#[derive(Debug, Serialize)]
pub struct MemberRow {
    /// Its number in the drawing; null where its size is not known, and it has no place.
    pub number: Option<usize>,
    /// The wire or cable.
    pub subject: SubjectRow,
    /// The wires in it: itself, or the cores of a cable.
    pub wires: Vec<String>,
    /// Wire types, each once.
    pub types: Vec<String>,
    /// Gauges, each once.
    pub gauges_awg: Vec<String>,
    /// Circuits, each once.
    pub circuits: Vec<String>,
    /// Outside diameter.
    pub diameter_m: Option<f64>,
    /// Middle of it, to the right of the bundle's middle.
    pub x_m: Option<f64>,
    /// Middle of it, above the bundle's middle.
    pub y_m: Option<f64>,
    /// The input that is missing for a size.
    pub lacks: Option<String>,
}

/// What lies in a segment, in the order of the wire list; what has no known size comes last.
pub fn bundle(view: &View, id: Id<Segment>) -> Vec<MemberRow> {
    let bundle = view.prepared.bundle(id);
    let mut rows: Vec<MemberRow> = Vec::new();
    for (at, (member, place)) in bundle.members.iter().zip(&bundle.places).enumerate() {
        rows.push(MemberRow {
            number: Some(at + 1),
            diameter_m: number::json(member.diameter.0),
            x_m: number::json(place.x.0),
            y_m: number::json(place.y.0),
            ..member_row(view, member.of.subject(), &member.wires)
        });
    }
    for missing in bundle.unsized_.iter().filter(|one| !matches!(one.of, Subject::Covering(_))) {
        let cores = |cable: Id<Cable>| {
            let of = |wire: &Id<Wire>| view.design.wires[*wire].cable.is_some_and(|c| c.value == cable);
            view.prepared.layout().members(id).iter().copied().filter(of).collect()
        };
        let wires: Vec<Id<Wire>> = match missing.of {
            Subject::Element(ElementId::Wire(wire)) => vec![wire],
            Subject::Cable(cable) => cores(cable),
            _ => Vec::new(),
        };
        rows.push(MemberRow { lacks: Some(missing.field.to_owned()), ..member_row(view, missing.of, &wires) });
    }
    rows
}

fn member_row(view: &View, of: Subject, wires: &[Id<Wire>]) -> MemberRow {
    let design = view.design;
    let once = |words: &mut dyn Iterator<Item = String>| {
        let mut list: Vec<String> = Vec::new();
        words.for_each(|word| {
            if !list.contains(&word) {
                list.push(word);
            }
        });
        list
    };
    let specs = || wires.iter().filter_map(|&wire| Some(&design.wire_specs[design.wires[wire].spec?.value]));
    MemberRow {
        number: None,
        subject: view.subject_row(of),
        wires: wires.iter().map(|&wire| design.wires[wire].name.to_string()).collect(),
        types: once(&mut specs().map(|spec| spec.kind.to_string())),
        gauges_awg: once(&mut specs().map(|spec| spec.gauge.to_string())),
        circuits: once(&mut wires.iter().filter_map(|&wire| Some(design.circuits[design.wires[wire].circuit?.value].name.to_string()))),
        diameter_m: None,
        x_m: None,
        y_m: None,
        lacks: None,
    }
}

/// The wires of one segment as text.
pub fn bundle_text(view: &View, id: Id<Segment>, style: Style) -> String {
    let section = section(view, id);
    let mut text = format!("{}\n", style.strong(&section.title));
    for remark in &section.remarks {
        text.push_str(&format!("{remark}\n"));
    }
    for (outside, what) in &section.rings {
        text.push_str(&format!("{} over {what}\n", number::with_unit(*outside, "m")));
    }
    text.push('\n');
    let mut grid = Grid::new(&[">no.", "wire or cable", "cores", "type", "gauge", ">outside", "circuit", ">x", ">y", "not known"]);
    let millimetres = |value: Option<f64>| value.map_or(String::new(), |value| format!("{} mm", number::fixed(value * 1e3, 2)));
    for row in bundle(view, id) {
        let is_cable = row.subject.kind == "cable";
        grid.row(vec![
            row.number.map_or("–".to_owned(), |n| n.to_string()),
            if is_cable { format!("cable:{}", row.subject.name) } else { row.subject.name.clone() },
            if is_cable { row.wires.join(", ") } else { String::new() },
            row.types.join(", "),
            gauges(&row.gauges_awg),
            millimetres(row.diameter_m),
            row.circuits.join(", "),
            millimetres(row.x_m),
            millimetres(row.y_m),
            row.lacks.clone().unwrap_or_default(),
        ]);
    }
    text.push_str(&grid.render(style));
    text.push_str(&format!("\ndraw it: loomwright show bundle {} -o bundle.svg\n", view.design.segments[id].name));
    text
}

fn gauges(list: &[String]) -> String {
    if list.is_empty() { String::new() } else { format!("{} AWG", list.join(", ")) }
}

/// The cross-section of a segment as a drawing; where its heat is known, shaded by temperature in the state of the phase, or of all, in which its
/// hottest conductor is hottest.
pub fn bundle_drawing(view: &View, id: Id<Segment>, phase: Option<Id<Phase>>) -> String {
    let mut section = section(view, id);
    if let Some((point, heat)) = hottest(view, id, phase) {
        let bundle = view.prepared.bundle(id);
        let of = |wires: &[Id<Wire>]| wires.iter().filter_map(|&wire| heat.of(wire)).map(|row| row.conductor.celsius()).reduce(f64::max);
        let degrees: Vec<Option<f64>> = bundle.members.iter().map(|member| of(&member.wires)).collect();
        let (low, high) = degrees.iter().flatten().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(*t), high.max(*t)));
        for (circle, t) in section.circles.iter_mut().zip(degrees) {
            // What differs by less than a kelvin is one shade.
            circle.shade = t.map(|t| if high - low < 1.0 { 0.0 } else { (t - low) / (high - low) });
            circle.cells.push(t.map_or("–".to_owned(), |t| format!("{} °C", number::fixed(t, 0))));
        }
        section.heads.push("conductor");
        let state = view.state(Some(&(point.scenario.phase, point.scenario.corner)));
        let [low, high] = [low, high].map(|t| number::fixed(t, 0));
        section.remarks.push(match low == high {
            true => format!("temperature of conductors, of a cable its hottest: {high} °C throughout, in {state}"),
            false => {
                format!("shaded by temperature of conductors, of a cable its hottest: {low} °C palest, {high} °C strongest, in {state}")
            }
        });
    }
    draw(&section)
}

/// The state in which the hottest conductor of a segment is hottest, and its heat there.
fn hottest<'v>(view: &View<'v>, id: Id<Segment>, phase: Option<Id<Phase>>) -> Option<(&'v Point, &'v SectionHeat)> {
    let known = view.points.iter().filter(|point| phase.is_none_or(|phase| point.scenario.phase == phase)).filter_map(|point| {
        let SegmentHeat::Known(heat) = &point.heat.as_ref()?.segments[id] else { return None };
        let most = heat.wires.iter().map(|row| row.conductor.0).fold(0.0, f64::max);
        Some((most, point, &**heat))
    });
    known.reduce(|best, next| if next.0 > best.0 { next } else { best }).map(|(_, point, heat)| (point, heat))
}

fn section(view: &View, id: Id<Segment>) -> Section {
    let design = view.design;
    let segment = &design.segments[id];
    let bundle: &Bundle = view.prepared.bundle(id);
    let name = |breakout: Id<BranchPoint>| &design.branch_points[breakout].name;
    let mut remarks = vec![format!(
        "{}, {} to {}, {} long, {} wires",
        design.name,
        name(segment.from.value),
        name(segment.to.value),
        number::with_unit(segment.length.value.0, "m"),
        view.prepared.layout().members(id).len()
    )];
    let missing: Vec<String> = bundle.unsized_.iter().map(|one| format!("{} ({})", design.subject_words(one.of), one.field)).collect();
    if !missing.is_empty() {
        remarks.push(format!("not drawn, size not known: {}", missing.join(", ")));
    }
    remarks.push("packed as round, rigid circles; a real bundle has crossings and is looser".to_owned());
    let rows = self::bundle(view, id);
    let circles = bundle.members.iter().zip(&bundle.places).zip(rows).map(|((member, place), row)| Circle {
        x: place.x.0,
        y: place.y.0,
        diameter: member.diameter.0,
        is_cable: matches!(member.of, MemberOf::Cable(_)),
        cells: vec![
            match member.of {
                MemberOf::Wire(_) => row.subject.name.clone(),
                MemberOf::Cable(_) => format!("{}: {}", row.subject.name, row.wires.join(" ")),
            },
            row.types.join(", "),
            gauges(&row.gauges_awg),
            format!("{} mm", number::fixed(member.diameter.0 * 1e3, 2)),
            row.circuits.join(", "),
        ],
        shade: None,
    });
    let mut rings = vec![(bundle.packed.0, "wires and cables as packed".to_owned())];
    rings.extend(bundle.layers.iter().map(|&(covering, over)| {
        let row = &design.coverings[covering];
        (over.0, format!("{} {}", row.kind.word(), row.name))
    }));
    Section {
        title: format!("segment {}", segment.name),
        remarks,
        circles: circles.collect(),
        rings,
        heads: vec!["wire", "type", "gauge", "outside", "circuit"],
    }
}
