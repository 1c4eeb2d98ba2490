//! Cautions that go with every result.

use model::{Design, SourceKind};

/// The cautions that a vehicle calls for: a general one always, specific ones where their cause is present.
pub fn cautions(design: &Design) -> Vec<String> {
    let mut list = vec![
        "computed from the values entered. It informs a qualified engineer and releases nothing: the governing standard, the \
         programme's authority and local codes decide"
            .to_owned(),
    ];
    if design.batteries.iter().any(|(_, source)| source.kind == SourceKind::Battery) {
        list.push(
            "batteries are present: they cannot be switched off. Never probe a live bus with the wrong lead; dead-face before \
             mating or demating"
                .to_owned(),
        );
    }
    list
}
