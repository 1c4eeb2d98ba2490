//! What the rules on bundles share: why a bundle cannot be judged, and what bend radius its members ask for.

use crate::case::Missing;
use analysis::{Bundle, Member, MemberOf, Unsized};
use model::*;
use physics::Metre;
use physics::bundle::{BendRadius, bend_radius};

/// The missing size of something in or around a bundle, as a reason not to judge it.
pub(crate) fn no_size(design: &Design, missing: &Unsized) -> Missing {
    let words = design.subject_words(missing.of);
    Missing::new(format!("{} of {words}", missing.field), format!("the {} of {words} in it is not known", missing.field))
}

/// Diameter of a bundle with its coverings, or why it has none.
pub(crate) fn outside(design: &Design, bundle: &Bundle) -> Result<Metre, Missing> {
    match (bundle.outside(), bundle.unsized_.first()) {
        (Some(outside), _) => Ok(outside),
        (None, missing) => Err(missing.map_or(Missing::new("od", "its diameter is not known"), |missing| no_size(design, missing))),
    }
}

/// The least bend radius of a bundle, the member that asks for it, and the rows of the catalog that decide.
pub(crate) struct Bend {
    pub(crate) radius: BendRadius,
    pub(crate) by: MemberOf,
    pub(crate) of: Insulation,
    pub(crate) outside: Metre,
    pub(crate) notes: Vec<NoteId>,
}

/// What bend radius the members of a bundle ask for; `None` of an empty one.
pub(crate) fn bend(design: &Design, bundle: &Bundle) -> Option<Result<Bend, Missing>> {
    if bundle.is_empty() {
        return None;
    }
    Some((|| {
        let outside = outside(design, bundle)?;
        if design.practice.bends.is_empty() {
            return Err(Missing::new("bends", format!("profile {} names no practice of bend radii", design.profile.name)));
        }
        let mut rows = Vec::new();
        for member in &bundle.members {
            let of = insulation(design, member)?;
            let row = design.practice.bend(of).ok_or_else(|| {
                let why = format!("the practice that profile {} names has no bend radius of {}", design.profile.name, of.word());
                Missing::new("bends", why)
            })?;
            rows.push((member, of, row));
        }
        let members: Vec<_> = rows.iter().map(|(member, _, row)| (member.diameter, row.rule)).collect();
        let radius = bend_radius(outside, &members).ok_or_else(|| Missing::new("od", "nothing in it has a diameter"))?;
        let (member, of, row) = rows[radius.governed_by];
        let notes = row.note.into_iter().chain(design.profile.bends.as_ref().and_then(|given| given.note)).chain(bundle.notes()).collect();
        Ok(Bend { radius, by: member.of, of, outside, notes })
    })())
}

/// The bend radius that the members of a bundle ask for; `None` where that cannot be said.
pub fn least_bend(design: &Design, bundle: &Bundle) -> Option<BendRadius> {
    bend(design, bundle)?.ok().map(|bend| bend.radius)
}

/// What a member's insulation is to its bend radius: the most sensitive of its cores.
fn insulation(design: &Design, member: &Member) -> Result<Insulation, Missing> {
    if let MemberOf::Cable(id) = member.of
        && design.cables[id].kind == CableKind::Coaxial
    {
        return Ok(Insulation::Coaxial);
    }
    let mut of = Insulation::Other;
    for &wire in &member.wires {
        let family = design.wires[wire].spec.and_then(|spec| design.wire_specs[spec.value].family.as_deref());
        match family {
            Some("polyimide-tape" | "ptfe-polyimide") => of = Insulation::Polyimide,
            Some(_) => {}
            None => {
                let name = &design.wires[wire].name;
                return Err(Missing::new(
                    format!("family of wire:{name}"),
                    format!("the insulation family of wire:{name} in it is not known"),
                ));
            }
        }
    }
    Ok(of)
}
