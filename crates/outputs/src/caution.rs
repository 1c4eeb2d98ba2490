//! Cautions that go with every result.

use model::{Design, FittedKind, PinMeaning, SourceKind};

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
    if !design.battery_types.is_empty() {
        list.push(
            "the charge of batteries is followed by curves of a catalog: the makers' curves and tests of the cells govern. Cells that are charged, shorted, discharged below their cut-off or turned round beside others may leak, burst or burn: the governing battery standard decides"
                .to_owned(),
        );
    }
    if !design.device_types.is_empty() {
        list.push(
            "breakers, fuses or limiters are judged by bands of a catalog: the makers' certified curves and tests of the parts govern"
                .to_owned(),
        );
    }
    let has_ordnance = design.ports.iter().any(|(_, port)| port.meaning.value == PinMeaning::Ordnance)
        || design.fitted.iter().any(|(_, item)| item.kind == FittedKind::ShortingPlug);
    if has_ordnance {
        list.push(
            "ordnance circuits are present: no test current above the lower of 50 mA or a tenth of no-fire, from an instrument \
             approved for it; shorting plugs stay on until the procedure takes them off"
                .to_owned(),
        );
    }
    list
}
