//! Names that the user gives on the command line, looked up in the design.

use crate::session::Failure;
use decide::Names;
use model::*;

/// Checks that each name is that of something.
pub(crate) fn known(design: &Design, texts: &[String]) -> Result<(), Failure> {
    if texts.is_empty() {
        return Ok(());
    }
    let names = Names::new(design);
    match texts.iter().find(|text| !names.knows(text)) {
        Some(text) => Err(Failure::Problem(names.unknown(text))),
        None => Ok(()),
    }
}

/// What a trace is asked of: an element or a pin. A bare name must be that of one such thing only.
pub(crate) fn traceable(design: &Design, text: &str) -> Result<Subject, Failure> {
    let may_be = |subject| matches!(subject, Subject::Element(_) | Subject::Pin(_));
    Names::new(design).one(text, may_be).map_err(Failure::Problem)
}

/// The segment of a name.
pub(crate) fn segment(design: &Design, text: &str) -> Result<Id<Segment>, Failure> {
    let is_segment = |subject| matches!(subject, Subject::Segment(_));
    match Names::new(design).one(text, is_segment).map_err(Failure::Problem)? {
        Subject::Segment(id) => Ok(id),
        _ => unreachable!("only segments pass"),
    }
}

/// The breaker, fuse, limiter or wire of a name.
pub(crate) fn guarded(design: &Design, text: &str) -> Result<ElementId, Failure> {
    let may_be = |subject| matches!(subject, Subject::Element(ElementId::Protector(_) | ElementId::Wire(_)));
    match Names::new(design).one(text, may_be).map_err(Failure::Problem)? {
        Subject::Element(element) => Ok(element),
        _ => unreachable!("only protectors and wires pass"),
    }
}

/// The function of a name.
pub(crate) fn function(design: &Design, text: &str) -> Result<Id<Function>, Failure> {
    match Names::new(design).one(text, |subject| matches!(subject, Subject::Function(_))).map_err(Failure::Problem)? {
        Subject::Function(id) => Ok(id),
        _ => unreachable!("only functions pass"),
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
