//! Names that people write, looked up in the design: `load:F1`, `J3.14`, or a bare id where it is that of one thing only.

use model::*;
use std::collections::HashMap;

/// One thing that can be named.
struct Named {
    kind: &'static str,
    name: String,
    subject: Subject,
}

/// Everything in a design that has a name.
pub struct Names {
    all: Vec<Named>,
    by_name: HashMap<String, Vec<usize>>,
}

impl Names {
    /// Collects them. Cost: linear in the rows of the design.
    pub fn new(design: &Design) -> Names {
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
        subjects.extend(design.connectors.iter().filter(|(_, c)| c.implied != Implied::AsMate).map(|(id, _)| Subject::Connector(id)));
        subjects.extend(design.cables.ids().map(Subject::Cable));
        subjects.extend(design.branch_points.ids().map(Subject::Breakout));
        subjects.extend(design.segments.ids().map(Subject::Segment));
        subjects.extend(design.clamps.ids().map(Subject::Clamp));
        subjects.extend(design.zones.ids().map(Subject::Zone));
        subjects.extend(design.functions.ids().map(Subject::Function));
        subjects.extend(design.fitted.ids().map(Subject::Fitted));
        let mut names = Names { all: Vec::with_capacity(subjects.len()), by_name: HashMap::new() };
        for subject in subjects {
            let (kind, name) = design.subject_name(subject);
            names.by_name.entry(name.clone()).or_default().push(names.all.len());
            names.all.push(Named { kind, name, subject });
        }
        names
    }

    fn fitting(&self, text: &str) -> Vec<&Named> {
        let (kind, name) = match text.split_once(':') {
            Some((kind, name)) => (Some(kind), name),
            None => (None, text),
        };
        let rows = self.by_name.get(name).map_or(&[][..], Vec::as_slice);
        rows.iter().map(|&row| &self.all[row]).filter(|named| kind.is_none_or(|kind| kind == named.kind)).collect()
    }

    /// Whether anything goes by this name.
    pub fn knows(&self, text: &str) -> bool {
        !self.fitting(text).is_empty()
    }

    /// The one thing of this name that passes a test.
    ///
    /// # Errors  In a sentence: nothing has the name (with the nearest name that there is), or more than one thing has it.
    pub fn one(&self, text: &str, may_be: impl Fn(Subject) -> bool) -> Result<Subject, String> {
        let all = self.fitting(text);
        let mut found: Vec<&Named> = all.iter().copied().filter(|named| may_be(named.subject)).collect();
        // A contact goes by the name of its pin; the pin is meant unless the kind is written.
        if !text.contains(':') && found.iter().any(|named| named.kind == "pin") {
            found.retain(|named| named.kind == "pin");
        }
        match (&found[..], &all[..]) {
            ([one], _) => Ok(one.subject),
            ([], [other, ..]) => Err(format!("{text} is a {}, which cannot stand here", other.kind)),
            ([], []) => Err(self.unknown(text)),
            _ => {
                let names: Vec<String> = found.iter().map(|n| format!("{}:{}", n.kind, n.name)).collect();
                Err(format!("{text} is the name of more than one thing: write {}", names.join(" or ")))
            }
        }
    }

    /// Says that nothing has this name, with the nearest name that there is.
    pub fn unknown(&self, text: &str) -> String {
        let (kind, name) = text.split_once(':').map_or((None, text), |(kind, name)| (Some(kind), name));
        let name = name.to_lowercase();
        let distance = |named: &Named| strsim::damerau_levenshtein(&name, &named.name.to_lowercase());
        // Of equally near names the one of the kind that was written.
        let near = self.all.iter().map(|named| (distance(named), named));
        let near = near.min_by_key(|(distance, named)| (*distance, kind.is_some_and(|kind| kind != named.kind)));
        let hint = match near {
            Some((distance, named)) if distance <= 2.max(name.chars().count() / 3) => {
                format!("; did you mean {}:{}?", named.kind, named.name)
            }
            _ => String::new(),
        };
        format!("nothing here is named {text}{hint}")
    }
}
