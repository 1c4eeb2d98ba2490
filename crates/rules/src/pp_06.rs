//! PP-06: whether the device nearest to a fault opens first.

use crate::case::Missing;
use crate::feeds::{Feeds, device_notes, device_of, shape_words};
use crate::{Case, Check, Judged, Rule, Unit, Worst};
use model::*;
use physics::Ampere;
use physics::trip::{First, Range, selectivity};

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("PP-06"),
    title: "selectivity of protectors in line",
    unit: Unit::Ampere,
    what: "Of two protectors on one way the one nearer to the load opens first, at every current from its ultimate trip up to the largest that a dead \
           short at its load terminal draws in the high corner, of a limiter up to its limit: its longest time, at the coldest ambient of the phase, lies under the shortest time of the upper one \
           at the hottest, which carries beside the fault what it carries anyway. Both are held against each other over whole intervals between the points of their \
           bands. The value is the current up to which that is so. Overlap at a smaller current is a finding; where a band says nothing of a current \
           in between, the pair is not judged and the current named. The whole fault current is taken to flow through the upper device, also where another \
           source shares it.",
    why: "If the upper device opens as well, one shorted lamp takes a whole bus away.",
    source: "Longest time of the lower device under the shortest of the upper one over the whole range of fault currents: common practice, no source. \
             Times: the makers' bands. The makers' certified curves and a test govern.",
    remedy: "A slower or larger upper device, a faster or smaller lower one, a longer or thinner wire between them.",
    check: Check::Point(check),
};

/// Largest current over that of the fault to which a pair is followed, so that its margin says how far it is from the limit.
const FOLLOWED: f64 = 10.0;

fn check(case: &Case, point: &Point, out: &mut Worst) {
    let design = case.design;
    if point.scenario.corner != Corner::High || design.protectors.len() < 2 {
        return;
    }
    let feeds = Feeds::of(case, point, out);
    let mut above: Vec<(Id<Protector>, Vec<Id<Protector>>)> = Vec::new();
    for (_, way) in &feeds.ways {
        for (n, lower) in way.iter().enumerate().skip(1) {
            let row = match above.iter().position(|(of, _)| of == lower) {
                Some(row) => row,
                None => {
                    above.push((*lower, Vec::new()));
                    above.len() - 1
                }
            };
            for upper in &way[..n] {
                if !above[row].1.contains(upper) {
                    above[row].1.push(*upper);
                }
            }
        }
    }
    if above.is_empty() {
        return;
    }
    above.sort_by_key(|(lower, _)| *lower);
    let near = out.near(case, point);
    let mut room = near.room();
    for (lower, uppers) in above {
        let subject = Subject::Element(ElementId::Protector(lower));
        let at = design.protectors[lower].at;
        let mut worst: Option<(Pair, Id<Protector>)> = None;
        let mut largest = None;
        for upper in uppers {
            let judged = largest_fault(case, point, lower, &near, &mut room, &mut largest)
                .and_then(|largest| pair(case, point, lower, upper, largest));
            match judged {
                Err(missing) => out.not_judged(point, RULE.code, subject, at, missing),
                Ok(None) => {}
                Ok(Some(found)) => {
                    if worst.as_ref().is_none_or(|(worst, _)| found.upto - found.largest < worst.upto - worst.largest) {
                        worst = Some((found, upper));
                    }
                }
            }
        }
        let Some((Pair { upto, largest, text }, upper)) = worst else { continue };
        let judged = Judged { rule: RULE.code, subject, value: upto, limit: largest, bound: Bound::AtLeast, at, text };
        out.push(point, judged, || {
            let of = |id| design.device(id).map(|device| device_notes(design, id, device)).unwrap_or_default();
            let ambients = design.device_ambient(point.scenario.phase).into_iter().filter_map(|given| given.note);
            of(lower).into_iter().chain(of(upper)).chain(ambients).collect()
        });
    }
}

/// Two devices that could be judged.
struct Pair {
    /// Current up to which the lower one opens first.
    upto: f64,
    largest: f64,
    text: String,
}

/// Current of a dead short from the load terminal of a protector to the return of what it feeds.
fn largest_fault(
    case: &Case,
    point: &Point,
    lower: Id<Protector>,
    near: &analysis::Near,
    room: &mut analysis::Room,
    known: &mut Option<f64>,
) -> Result<f64, Missing> {
    if let Some(known) = known {
        return Ok(*known);
    }
    let design = case.design;
    let unsettled = || Missing::new("operating point", "what a short there draws cannot be computed in this state");
    let from = case.prepared.node(design.protectors[lower].load.value).ok_or_else(unsettled)?;
    // The return: the negative terminal of the source at which the way of its current begins.
    let source = case.prepared.trace(point, ElementId::Protector(lower)).source;
    let negative = match source {
        Some(ElementId::Source(id)) => Some(design.batteries[id].negative.value),
        Some(ElementId::Converter(id)) => Some(design.converters[id].output_return.value),
        _ => None,
    };
    let to = negative.and_then(|end| case.prepared.node(end)).ok_or_else(unsettled)?;
    let prospective = near.prospective(room, from, to).ok_or_else(unsettled)?.abs();
    // A limiter lets no more through.
    let limits = design.device(lower).and_then(|device| device.limits).map_or(f64::INFINITY, |limits| limits.value.0);
    let current = prospective.min(limits);
    *known = Some(current);
    Ok(current)
}

/// How two devices stand to each other; `None` where the fault is too small to open the lower one.
fn pair(case: &Case, point: &Point, lower: Id<Protector>, upper: Id<Protector>, largest: f64) -> Result<Option<Pair>, Missing> {
    let design = case.design;
    let (below, above) = (device_of(design, lower)?, device_of(design, upper).map_err(|missing| of_upper(design, upper, missing))?);
    let [coldest, hottest] = design.device_ambient(point.scenario.phase).map(|given| given.value);
    let flows = |id| case.current(point, ElementId::Protector(id)).transpose().map(|current| current.unwrap_or(0.0).abs());
    let also = Ampere((flows(upper)? - flows(lower)?).max(0.0));
    let ranges = selectivity((&below.trip, coldest), (&above.trip, hottest), also, Ampere(FOLLOWED * largest)).ok_or_else(|| {
        let lacks = |device: &DeviceType| device.trip.bands.is_empty() || device.trip.ultimate.is_none();
        let (which, words) = if lacks(below) { (below, "it") } else { (above, "the one above it") };
        let field = if which.trip.bands.is_empty() { "trip-bands" } else { "ultimate" };
        Missing::new(format!("{field} of {}", which.name), format!("the catalog has no {field} of {}, which {words} is", which.name))
    })?;
    let Some(first) = ranges.first().filter(|first| first.from.0 < largest) else { return Ok(None) };
    let start = first.from.0;
    let words = |range: &Range| format!("{:.1} to {:.1} A", range.from.0, range.to.0.min(largest));
    let within = || ranges.iter().filter(|range| range.from.0 < largest);
    let overlap = within().find(|range| range.first == First::PerhapsUpper);
    let unknown: Vec<String> = within().filter(|range| matches!(range.first, First::NoDataBelow | First::NoDataAbove)).map(words).collect();
    let name = design.element_words(ElementId::Protector(upper));
    if let (None, [gap, ..]) = (overlap, &unknown[..]) {
        let why = format!("from {gap} the bands do not say whether it or {name} opens first");
        return Err(Missing::new(format!("trip-bands of {} and {} at {gap}", below.name, above.name), why));
    }
    let ends = ranges.iter().find(|range| range.first != First::Lower);
    // What begins where it has to open at all leaves no current at which it is selective.
    let upto = ends.map_or(FOLLOWED * largest, |range| if range.from.0 <= start { 0.0 } else { range.from.0 });
    let mut text = format!("below {name}, which carries {:.1} A beside it", also.0);
    if let Some(overlap) = overlap {
        text.push_str(&format!("; the upper one may open first at {}", words(overlap)));
    }
    if !unknown.is_empty() {
        text.push_str(&format!("; no data at {}", unknown.join(", ")));
    }
    let text = text + &shape_words(below) + &shape_words(above);
    Ok(Some(Pair { upto, largest, text }))
}

fn of_upper(design: &Design, upper: Id<Protector>, missing: Missing) -> Missing {
    let words = design.element_words(ElementId::Protector(upper));
    Missing::new(format!("{} of {words}", missing.field), format!("{words} stands above it: {}", missing.why))
}
