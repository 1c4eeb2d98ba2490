//! IC-08: a pair that is split.

use crate::case::Missing;
use crate::papers::place;
use crate::{Case, Check, Papers, Rule, Unit, Wiring};
use model::*;

pub(crate) static RULE: Rule = Rule {
    code: RuleCode("IC-08"),
    title: "split pair",
    unit: Unit::Nothing,
    what: "The two cores of a twisted cable are, at both ends, a pin and its own return: own_return in the row of either, or where none \
           is stated a power pin with a return, a signal, command or millivolt pin with a signal return. Ends without a row on a sheet \
           are left out if the other end has them.",
    why: "Twist cancels what couples into a line and its own return. Split over two pairs, each core picks up as if not twisted.",
    source: "MIL-HDBK-419A and common cabling practice [from memory]; no number.",
    remedy: "Put the line and its own return in one pair.",
    check: Check::Papers(check),
};

fn check(case: &Case, wiring: &Wiring, out: &mut Papers) {
    let design = case.design;
    for (id, cable) in design.cables.iter() {
        if !matches!(cable.kind, CableKind::Twisted | CableKind::TwistedShielded) || design.ports.is_empty() {
            continue;
        }
        let &[first, second] = wiring.cores(id) else { continue };
        let (one, other) = (&design.wires[first], &design.wires[second]);
        let subject = Subject::Cable(id);
        // The cores may be listed in opposite directions.
        let straight = place_of_end(design, one.from.value) == place_of_end(design, other.from.value)
            || place_of_end(design, one.to.value) == place_of_end(design, other.to.value);
        let ends = match straight {
            true => [(one.from, other.from), (one.to, other.to)],
            false => [(one.from, other.to), (one.to, other.from)],
        };
        let mut lacking = None;
        let mut known = 0;
        let (mut split, mut also) = (Vec::new(), vec![place(other.at, "the other core")]);
        for (a, b) in ends {
            let ports = [a, b].map(|end| match end.value {
                End::Pin(pin) => wiring.port_at(pin),
                _ => None,
            });
            let [Some(p), Some(q)] = ports.map(|port| port.map(|port| &design.ports[port])) else { continue };
            known += 1;
            match is_pair(wiring, p, q) {
                Some(true) => {}
                Some(false) => {
                    let names = [p, q].map(|port| design.pin_name(port.pin));
                    split.push(format!("{} ({}) and {} ({})", names[0], p.meaning.value.word(), names[1], q.meaning.value.word()));
                    also.extend([place(p.at, names[0].clone()), place(q.at, names[1].clone())]);
                }
                None => {
                    let name = design.pin_name(p.pin);
                    lacking = Some(Missing::new(format!("own_return of {name}"), format!("no row says what the own return of {name} is")));
                }
            }
        }
        if !split.is_empty() {
            let text = format!("its cores {} and {} are not a line and its own return: {}", one.name, other.name, split.join("; "));
            out.found(case, RULE.code, subject, one.at, text, also);
        }
        match lacking {
            Some(missing) => out.not_judged(RULE.code, subject, one.at, missing),
            None if known > 0 => out.judged(RULE.code, subject, None),
            None => {
                let why = "none of its ends has a row on a sheet";
                out.not_judged(RULE.code, subject, one.at, Missing::new("pins", why));
            }
        }
    }
}

/// Whether two rows are a line and its own return; `None` if they do not say.
fn is_pair(wiring: &Wiring, p: &Port, q: &Port) -> Option<bool> {
    let is_own = |port: &Port, other: &Port| port.own_return.map(|own| wiring.both(own.value).any(|pin| pin == other.pin));
    match (is_own(p, q), is_own(q, p)) {
        (Some(true), _) | (_, Some(true)) => return Some(true),
        (Some(false), _) | (_, Some(false)) => return Some(false),
        (None, None) => {}
    }
    use PinMeaning::*;
    let is_line = |meaning| matches!(meaning, PowerIn | PowerOut | Signal | Command | Millivolt | Ordnance);
    let returns = |line, back| match back {
        Return => matches!(line, PowerIn | PowerOut | Ordnance),
        SignalReturn => matches!(line, Signal | Command | Millivolt),
        _ => false,
    };
    let (a, b) = (p.meaning.value, q.meaning.value);
    match (is_line(a), is_line(b)) {
        // Two lines may be the two halves of a balanced pair: only own_return tells.
        (true, true) => None,
        (true, false) => Some(returns(a, b)),
        (false, true) => Some(returns(b, a)),
        (false, false) => Some(false),
    }
}

/// What an end belongs to: its connector, or itself.
fn place_of_end(design: &Design, end: End) -> Subject {
    match end {
        End::Pin(pin) => Subject::Connector(design.pins[pin].connector),
        other => crate::subject_of_end(other),
    }
}
