//! Names that the user gives on the command line, looked up in the design.

use crate::session::Failure;
use model::*;

/// One thing that can be named.
struct Named {
    kind: &'static str,
    name: String,
    subject: Subject,
}

/// Everything that has a name.
fn all(design: &Design) -> Vec<Named> {
    let mut subjects: Vec<Subject> = Vec::new();
    let mut elements: Vec<ElementId> = Vec::new();
    elements.extend(design.loads.ids().map(ElementId::Load));
    elements.extend(design.wires.ids().map(ElementId::Wire));
    elements.extend(design.sensors.ids().map(ElementId::Sensor));
    elements.extend(design.receivers.ids().map(ElementId::Receiver));
    elements.extend(design.batteries.ids().map(ElementId::Source));
    elements.extend(design.protectors.ids().map(ElementId::Protector));
    elements.extend(design.switches.ids().map(ElementId::Switch));
    elements.extend(design.diodes.ids().map(ElementId::Diode));
    elements.extend(design.converters.ids().map(ElementId::Converter));
    elements.extend(design.excitations.ids().map(ElementId::Excitation));
    elements.extend(design.straps.ids().map(ElementId::Strap));
    elements.extend(design.structure_paths.ids().map(ElementId::StructurePath));
    elements.extend(design.links.ids().map(ElementId::Link));
    elements.extend(design.contacts.ids().map(ElementId::Contact));
    subjects.extend(elements.into_iter().map(Subject::Element));
    subjects.extend(design.pins.ids().map(Subject::Pin));
    subjects.extend(design.inner_nodes.ids().map(Subject::Inner));
    subjects.extend(design.splices.ids().map(Subject::Splice));
    subjects.extend(design.studs.ids().map(Subject::Stud));
    subjects.extend(design.grounds.ids().map(Subject::Ground));
    subjects.extend(design.units.ids().map(Subject::Unit));
    subjects.extend(design.connectors.ids().map(Subject::Connector));
    subjects.extend(design.cables.ids().map(Subject::Cable));
    let named = |subject: Subject| {
        let (kind, name) = design.subject_name(subject);
        Named { kind, name, subject }
    };
    subjects.into_iter().map(named).collect()
}

fn fits(named: &Named, text: &str) -> bool {
    match text.split_once(':') {
        Some((kind, name)) => named.kind == kind && named.name == name,
        None => named.name == text,
    }
}

/// Checks that each name is that of something.
pub(crate) fn known(design: &Design, texts: &[String]) -> Result<(), Failure> {
    if texts.is_empty() {
        return Ok(());
    }
    let all = all(design);
    match texts.iter().find(|text| !all.iter().any(|named| fits(named, text))) {
        Some(text) => Err(unknown(&all, text)),
        None => Ok(()),
    }
}

/// What a trace is asked of: an element or a pin. A bare name must be that of one such thing only.
pub(crate) fn traceable(design: &Design, text: &str) -> Result<Subject, Failure> {
    let all: Vec<Named> = all(design).into_iter().filter(|n| matches!(n.subject, Subject::Element(_) | Subject::Pin(_))).collect();
    let found: Vec<&Named> = all.iter().filter(|named| fits(named, text)).collect();
    // A contact goes by the name of its pin; the pin is meant unless the kind is written.
    let found: Vec<&Named> = match found.iter().any(|n| n.kind == "pin") && !text.contains(':') {
        true => found.into_iter().filter(|n| n.kind == "pin").collect(),
        false => found,
    };
    match found[..] {
        [one] => Ok(one.subject),
        [] => Err(unknown(&all, text)),
        _ => {
            let names: Vec<String> = found.iter().map(|n| format!("{}:{}", n.kind, n.name)).collect();
            Err(Failure::Problem(format!("{text} is the name of more than one thing: write {}", names.join(" or "))))
        }
    }
}

/// The phase of a name.
pub(crate) fn phase(design: &Design, text: &str) -> Result<Id<Phase>, Failure> {
    let found = design.phases.iter().find(|(_, phase)| *phase.name == *text).map(|(id, _)| id);
    found.ok_or_else(|| {
        let names: Vec<&str> = design.phases.iter().map(|(_, phase)| &*phase.name).collect();
        Failure::Problem(format!("no phase {text:?}; there are {}", names.join(", ")))
    })
}

fn unknown(all: &[Named], text: &str) -> Failure {
    let name = text.split_once(':').map_or(text, |(_, name)| name).to_lowercase();
    let near = all.iter().map(|n| (strsim::damerau_levenshtein(&name, &n.name.to_lowercase()), n)).min_by_key(|(distance, _)| *distance);
    let hint = match near {
        Some((distance, named)) if distance <= 2.max(name.chars().count() / 3) => format!("; did you mean {}:{}?", named.kind, named.name),
        _ => String::new(),
    };
    Failure::Problem(format!("nothing here is named {text}{hint}"))
}
