//! What the rules of separations share: words for states, and the limits of signals.

use crate::case::Missing;
use crate::{Case, Judged, Papers};
use model::*;

/// Voltage from which on a contact counts as live, V.
///
/// # Source  Common practice, no source: what a bleeder or an instrument leaves is less, every bus is more.
pub const LIVE: f64 = 1.0;

/// `relay:KF late, contact:X1.2/X2.2 parted; high corner`.
pub(crate) fn state_words(case: &Case, event: &SeparationResult, worst: &PartialWorst) -> String {
    let words = |list: &[ElementId]| list.iter().map(|element| case.design.element_words(*element)).collect::<Vec<_>>();
    let parted = words(&worst.parted);
    let parted = match parted.len() {
        0 => "with everything mated".to_owned(),
        1..=4 => format!("with {} parted", parted.join(", ")),
        n => format!("with {n} of {} parted, {} among them", on_loops(event, worst), parted[..2].join(", ")),
    };
    let variant = variant_words(case, event, &event.variants[worst.variant]);
    let unit = match worst.target {
        Target::Current(_) | Target::Alone(_) | Target::Charges(_) => "A",
        Target::Shift(_) | Target::Volts(_) => "V",
    };
    let most = worst.at_most.map_or(String::new(), |most| format!("; the search was stopped, it is {most:.3} {unit} at the most"));
    let mated = if worst.parted.is_empty() { String::new() } else { format!(", {:.3} {unit} with everything mated", worst.mated) };
    format!("{parted}{variant}, {} corner{mated}{most}", worst.corner.word())
}

fn on_loops(event: &SeparationResult, worst: &PartialWorst) -> usize {
    let own = |search: &&VariantSearch| search.variant == event.variants[worst.variant] && search.corner == worst.corner;
    event.searches.iter().find(own).map_or(0, |search| search.on_loops.len())
}

/// `, relay:KF stuck`; empty as planned.
pub(crate) fn variant_words(case: &Case, event: &SeparationResult, variant: &Variant) -> String {
    let row = &case.design.separations[event.separation];
    match variant {
        Variant::Planned => String::new(),
        Variant::Late(steps) => {
            let names: Vec<String> = steps.iter().map(|&at| format!("step {}", row.steps[at].name)).collect();
            format!(", {} not done yet", names.join(" and "))
        }
        Variant::After(step) => format!(", after step {}", row.steps[*step].name),
        Variant::Stuck(element) => format!(", {} stuck", case.design.element_words(*element)),
        Variant::Floats(input, state) => format!(", input {} taken for {}", case.design.command_inputs[*input].name, state.word()),
    }
}

/// The worst of each target of a kind, the one with the greater margin used up first: as planned or late, and with a device stuck.
pub(crate) fn of_kind<'e>(event: &'e SeparationResult, of: impl Fn(Target) -> bool + 'e) -> impl Iterator<Item = &'e PartialWorst> + 'e {
    event.worst.iter().chain(&event.stuck).filter(move |worst| of(worst.target))
}

/// Greatest current that a contact of a signal may carry: what its wires declare, else what the event says.
pub(crate) fn signal_limit(case: &Case, event: &SeparationResult, id: Id<Contact>) -> Result<f64, Missing> {
    let contact = &case.design.contacts[id];
    let lands = |wire: &Wire| [wire.from.value, wire.to.value].iter().any(|end| *end == End::Pin(contact.a) || *end == End::Pin(contact.b));
    let declared = case.design.wires.iter().filter(|(_, wire)| lands(wire)).filter_map(|(_, wire)| Some(wire.current?.value.0));
    let row = &case.design.separations[event.separation];
    let own = declared.fold(None, |least: Option<f64>, current| Some(least.map_or(current, |least| least.min(current))));
    own.or(row.signal_current.map(|given| given.value.0)).ok_or_else(|| {
        Missing::new("signal_current", format!("neither its wires declare a current nor separation {} a signal_current", row.name))
    })
}

/// Keeps a margin with what an event says of it.
pub(crate) fn margin(case: &Case, out: &mut Papers, event: &SeparationResult, judged: Judged) {
    let row = &case.design.separations[event.separation];
    let text = format!("in separation {}: {}", row.name, judged.text);
    out.margin(Judged { text, ..judged }, [], vec![crate::papers::place(row.at, "the separation")]);
}

/// A finding in the phase of an event.
pub(crate) fn found(case: &Case, out: &mut Papers, event: &SeparationResult, (rule, subject, at): (RuleCode, Subject, Span), text: String) {
    let row = &case.design.separations[event.separation];
    out.found(case, rule, subject, at, format!("in separation {}: {text}", row.name), vec![crate::papers::place(row.at, "the separation")]);
}
