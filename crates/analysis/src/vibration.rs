//! First frequency of a free stretch of harness, by both bounds of its bending stiffness: every strand slips, and nothing slips.

use crate::bundles::{Bundle, Member, MemberOf, Unsized};
use model::*;
use physics::beam::Held;
use physics::beam::{Core, beam_frequency, rod_stiffness, stiffness, string_frequency, tensioned_beam_frequency};
use physics::packing::{Place, pack};
use physics::sensor_temperature::Alloy;
use physics::{Hertz, KilogramPerMetre, Metre, Newton, NewtonSquareMetre, Pascal};

/// Modulus of copper (from memory); that of copper alloys for wire lies within a tenth of it.
const COPPER: Pascal = Pascal(117e9);

/// Frequencies of a stretch that is pinned at both ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frequencies {
    /// Every strand slips on its neighbours.
    pub loose: Hertz,
    /// Nothing slips.
    pub bonded: Hertz,
    /// As a string, without any stiffness; only with a stated tension.
    pub string: Option<Hertz>,
    /// Mass per length that they are computed with.
    pub mass: KilogramPerMetre,
}

/// First frequencies of a stretch of a bundle; what they lack, if anything.
///
/// Wires and coverings count with their mass, only the metal of wires with its stiffness. Cores of a cable lie where they would without its
/// jacket. Where the tension is stated it stiffens both bounds.
///
/// # Validity  A straight stretch of one bundle, pinned at both ends; undamped.
/// # Source    physics::beam.
pub(crate) fn frequencies(design: &Design, bundle: &Bundle, segment: &Segment, span: Metre) -> Result<Frequencies, Unsized> {
    if let Some(missing) = bundle.unsized_.first() {
        return Err(missing.clone());
    }
    let mass = mass(design, bundle, segment)?;
    let mut cores = Vec::new();
    for (member, place) in bundle.members.iter().zip(&bundle.places) {
        of_member(design, member, *place, &mut cores)?;
    }
    let bounds = stiffness(&cores);
    let tension = segment.tension.map(|given| given.value);
    let of = |stiffness: NewtonSquareMetre| match tension {
        Some(tension) => tensioned_beam_frequency(stiffness, mass, span, tension),
        None => beam_frequency(Held::Pinned, stiffness, mass, span),
    };
    let string = tension.map(|tension: Newton| string_frequency(tension, mass, span));
    Ok(Frequencies { loose: of(bounds.loose), bonded: of(bounds.bonded), string, mass })
}

fn mass(design: &Design, bundle: &Bundle, segment: &Segment) -> Result<KilogramPerMetre, Unsized> {
    let mut sum = 0.0;
    for member in &bundle.members {
        if let MemberOf::Cable(id) = member.of {
            let cable = &design.cables[id];
            match cable.mass {
                Some(mass) => {
                    sum += mass.value.0;
                    continue;
                }
                // What a jacket and shield weigh does not follow from the cores.
                None if cable.kind != CableKind::Twisted => {
                    return Err(Unsized { of: member.of.subject(), field: "mass", at: cable.at });
                }
                None => {}
            }
        }
        for &wire in &member.wires {
            let row = &design.wires[wire];
            let spec = row.spec.map(|spec| &design.wire_specs[spec.value]);
            let lacks = Unsized { of: Subject::Element(ElementId::Wire(wire)), field: "mass", at: row.at };
            sum += spec.and_then(|spec| spec.mass).ok_or(lacks)?.value.0;
        }
    }
    for covering in &segment.coverings {
        let row = &design.coverings[covering.value];
        let lacks = Unsized { of: Subject::Covering(covering.value), field: "mass", at: row.at };
        sum += row.mass.ok_or(lacks)?.value.0;
    }
    Ok(KilogramPerMetre(sum))
}

fn of_member(design: &Design, member: &Member, place: Place, cores: &mut Vec<Core>) -> Result<(), Unsized> {
    let diameters: Option<Vec<Metre>> = member
        .wires
        .iter()
        .map(|&wire| design.wires[wire].spec.and_then(|spec| Some(design.wire_specs[spec.value].diameter?.value)))
        .collect();
    let inside = match (&member.wires[..], diameters) {
        ([_], _) | (_, None) => vec![Place { x: Metre(0.0), y: Metre(0.0) }; member.wires.len()],
        (_, Some(diameters)) => pack(&diameters).expect("checked design: diameters are positive and finite").places,
    };
    for (&wire, at) in member.wires.iter().zip(inside) {
        let row = &design.wires[wire];
        let lacks = |field| Unsized { of: Subject::Element(ElementId::Wire(wire)), field, at: row.at };
        let spec = row.spec.map(|spec| &design.wire_specs[spec.value]).ok_or_else(|| lacks("gauge"))?;
        let strands = spec.strands.ok_or_else(|| lacks("construction"))?;
        if spec.alloy != Alloy::COPPER {
            return Err(lacks("modulus of the alloy"));
        }
        let area = spec.area.value;
        let strand = Metre((4.0 * area.0 / (core::f64::consts::PI * f64::from(strands))).sqrt());
        let alone = NewtonSquareMetre(f64::from(strands) * rod_stiffness(COPPER, strand).0);
        cores.push(Core { alone, area, modulus: COPPER, place: Place { x: place.x + at.x, y: place.y + at.y } });
    }
    Ok(())
}
