//! The face of a connector half as the one who fills it sees it.
//!
//! An arrangement has its cavities where they are on the mating face of the half with pins. Seen from the other side, or on the half across, left and
//! right change places; seen from the other side of the half across, they are where they were.

use super::Issue;
use super::drawing::{CAPITAL, Drawing, Point, text_width};
use super::ends::half_word;
use super::facts::{Facts, gender_word};
use model::*;

/// Room that a cavity needs for its name.
const CAVITY: f64 = 9.0;
/// Distance of cavities that have no places of their own.
const PITCH: f64 = 10.0;

/// Letters beside a face, so that it goes on paper of A4 as it is.
const ABREAST: usize = 52;

/// Cavities of a half seen from its wire side, in millimetres; whether the places are the program's own; whether left and right are known.
pub(crate) fn wire_face(facts: &Facts, half: Id<Connector>) -> (Vec<(Name, Point)>, bool, bool) {
    let names = facts.cavities(half);
    let known: Option<Vec<Point>> = facts.design.arrangement_of(half).and_then(|arrangement| {
        let places: Vec<Point> = arrangement.cavities.iter().filter_map(|cavity| cavity.position_mm).collect();
        (places.len() == names.len() && !places.is_empty()).then_some(places)
    });
    let gender = facts.gender(half);
    match known {
        // The wire side of the half with pins is its mating face from behind; that of the half with sockets is the mating face of the pins again.
        Some(places) => {
            let turn = if gender == Some(Gender::Sockets) { 1.0 } else { -1.0 };
            (names.into_iter().zip(places).map(|(name, (x, y))| (name, (turn * x, y))).collect(), false, gender.is_some())
        }
        None => {
            let wide = (names.len() as f64).sqrt().ceil().max(1.0) as usize;
            let place = |at: usize| ((at % wide) as f64 * PITCH, -((at / wide) as f64) * PITCH);
            (names.into_iter().enumerate().map(|(at, name)| (name, place(at))).collect(), true, gender.is_some())
        }
    }
}

/// The face with the wires of its cavities beside it.
pub(crate) fn drawing(facts: &Facts, half: Id<Connector>, issue: &Issue) -> Drawing {
    let design = facts.design;
    let row = &design.connectors[half];
    let name = facts.connector_name(half);
    let (cavities, is_generated, is_sure) = wire_face(facts, half);
    let mut drawing = Drawing { title: format!("Face of {name}: {}", issue.heading()), ..Drawing::default() };
    let mut least = f64::INFINITY;
    for (at, (_, a)) in cavities.iter().enumerate() {
        for (_, b) in &cavities[at + 1..] {
            least = least.min((a.0 - b.0).hypot(a.1 - b.1));
        }
    }
    let longest = cavities.iter().map(|(name, _)| text_width(name, CAPITAL)).fold(CAVITY - 2.0, f64::max) + 2.0;
    let scale = if least.is_finite() && least > 0.0 { (longest / least).max(1.0) } else { 1.0 };
    let (mut reach, mut high) = (longest, f64::NEG_INFINITY);
    for (cavity, (x, y)) in &cavities {
        let at = (x * scale, y * scale);
        let of = format!("cavity:{name}.{cavity}");
        let used = facts.pin(half, cavity).is_some_and(|pin| !facts.landed(End::Pin(pin)).is_empty());
        drawing.circle("CAVITIES", &of, at, 0.48 * longest);
        if used {
            drawing.circle("USED", &of, at, 0.44 * longest);
        }
        drawing.text("CAVITY-NAMES", &of, (at.0 - 0.5 * text_width(cavity, CAPITAL), at.1 - 0.5 * CAPITAL), CAPITAL, cavity);
        reach = reach.max(at.0.hypot(at.1) + longest);
        high = high.max(at.1);
    }
    let mut right = cavities.iter().map(|(_, at)| at.0 * scale).fold(0.0, f64::max) + longest;
    if is_generated {
        drawing.line("KEY", "key", (0.0, high + longest * 0.6), (0.0, high + longest), 0.9);
    } else {
        drawing.circle("SHELL", "shell", (0.0, 0.0), reach);
        drawing.line("KEY", "key", (0.0, reach - 2.0), (0.0, reach + 2.0), 1.2);
        (right, high) = (reach, reach);
    }
    let gender = facts.gender(half);
    let mut lines = vec![
        format!("{name}   {}", issue.heading()),
        format!(
            "{} {}, {}s",
            design.arrangement_of(half).map_or("arrangement not given".to_owned(), |arrangement| arrangement.name.to_string()),
            row.half.map_or("half not given", |half| half_word(half.value)),
            gender_word(gender)
        ),
        "seen from the WIRE side, key up".to_owned(),
    ];
    if is_generated {
        lines.push("CAVITY LAYOUT GENERATED: where its cavities are is not given; go by the marks on the insert".to_owned());
    } else {
        lines.push(format!("drawn {} times as large; double ring: wired", crate::number::plain(scale)));
        if !is_sure {
            lines.push(
                "PINS OR SOCKETS NOT GIVEN: drawn as the half with pins; on the half with sockets left and right change places".to_owned(),
            );
        }
    }
    let pitch = CAPITAL * 1.7;
    let mut y = high + longest;
    for line in lines.iter().flat_map(|line| super::pdf::folded(line, ABREAST)) {
        drawing.text("WORDS", "", (right + 12.0, y), CAPITAL, &line);
        y -= pitch;
    }
    for (cavity, _) in &cavities {
        let Some(pin) = facts.pin(half, cavity) else { continue };
        for (wire, _) in facts.landed(End::Pin(pin)) {
            let row = &design.wires[*wire];
            let gauge = row.spec.map_or("gauge not given".to_owned(), |spec| format!("{} AWG", design.wire_specs[spec.value].gauge));
            let signal = row.signal.as_ref().map_or("", |signal| &*signal.value);
            y -= pitch;
            drawing.text("WORDS", "", (right + 12.0, y), CAPITAL, &format!("{cavity}  {}  {gauge}  {signal}", facts.marking(*wire)));
        }
    }
    drawing.fitted(10.0)
}
