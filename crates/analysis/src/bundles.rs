//! The bundle of each segment: what lies in it as circles, packed, and its diameter with what covers it.
//!
//! A cable is one circle: of its stated outside diameter; of twisted cores without a jacket, of the circle around them. What has no known
//! diameter is named and leaves the bundle without one: nothing is guessed.
//!
//! Cost: at most quadratic in the wires of a segment; segments with the same circles in the same order are packed once.

use model::*;
use physics::bundle::{self, Covering as Layer};
use physics::packing::{Packing, pack};
use physics::{Metre, Ratio};
use rayon::prelude::*;
use std::collections::HashMap;

/// A wire or cable in a bundle.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// The wire or cable.
    pub of: MemberOf,
    /// Its wires, in the order of the wire list.
    pub wires: Vec<Id<Wire>>,
    /// Outside diameter.
    pub diameter: Metre,
    /// Values that the diameter rests on.
    pub notes: Vec<NoteId>,
}

/// What one circle stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MemberOf {
    /// A wire on its own.
    Wire(Id<Wire>),
    /// A cable with all its cores.
    Cable(Id<Cable>),
}

impl MemberOf {
    /// As a subject.
    pub fn subject(self) -> Subject {
        match self {
            MemberOf::Wire(id) => Subject::Element(ElementId::Wire(id)),
            MemberOf::Cable(id) => Subject::Cable(id),
        }
    }
}

/// Something in or around a bundle whose size is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Unsized {
    /// What it is.
    pub of: Subject,
    /// The input field that is missing.
    pub field: &'static str,
    /// Where it would stand.
    pub at: Span,
}

/// What lies in a segment and around it.
#[derive(Clone, Debug, Default)]
pub struct Bundle {
    /// Wires and cables of known diameter, in the order of the wire list.
    pub members: Vec<Member>,
    /// Wires, cables and coverings without one.
    pub unsized_: Vec<Unsized>,
    /// Where each member lies, and the circle around them all.
    pub places: Vec<physics::packing::Place>,
    /// Diameter of that circle.
    pub packed: Metre,
    /// Outside diameter over each covering of known thickness, from the inside out.
    pub layers: Vec<(Id<Covering>, Metre)>,
    /// Values that the thickness of coverings rests on.
    pub layer_notes: Vec<NoteId>,
}

impl Bundle {
    /// Diameter with all coverings; `None` if the size of anything in or around it is not known.
    pub fn outside(&self) -> Option<Metre> {
        self.unsized_.is_empty().then(|| self.known_outside())
    }

    /// Diameter of what is known of it: at least so much.
    pub fn known_outside(&self) -> Metre {
        self.layers.last().map_or(self.packed, |(_, over)| *over)
    }

    /// Share of the circle around its members that they fill; `None` of an empty one.
    pub fn packing_fraction(&self) -> Option<Ratio> {
        let diameters: Vec<Metre> = self.members.iter().map(|member| member.diameter).collect();
        (self.packed.0 > 0.0).then(|| physics::packing::packing_fraction(&diameters, self.packed))
    }

    /// Values that its diameter rests on.
    pub fn notes(&self) -> impl Iterator<Item = NoteId> {
        self.members.iter().flat_map(|member| &member.notes).chain(&self.layer_notes).copied()
    }

    /// Whether nothing lies in it.
    pub fn is_empty(&self) -> bool {
        self.members.is_empty() && self.unsized_.iter().all(|one| matches!(one.of, Subject::Covering(_)))
    }
}

/// The bundle of every segment. `wires`: those of each segment, in the order of the wire list.
pub(crate) fn bundles(design: &Design, wires: &dyn Fn(Id<Segment>) -> Vec<Id<Wire>>) -> Column<Segment, Bundle> {
    let mut all: Vec<Bundle> = design.segments.ids().map(|id| members(design, &wires(id))).collect();
    // Along a trunk the same wires lie in one segment after the other: they are packed once.
    let key = |bundle: &Bundle| bundle.members.iter().map(|member| member.diameter.0.to_bits()).collect::<Vec<u64>>();
    let mut row_of: HashMap<Vec<u64>, usize> = HashMap::new();
    let mut different: Vec<Vec<Metre>> = Vec::new();
    let rows: Vec<usize> = all
        .iter()
        .map(|bundle| {
            *row_of.entry(key(bundle)).or_insert_with(|| {
                different.push(bundle.members.iter().map(|member| member.diameter).collect());
                different.len() - 1
            })
        })
        .collect();
    let packing = |diameters: &Vec<Metre>| pack(diameters).expect("checked design: diameters are positive and finite");
    // A worker that makes them while others wait for them shares out no work: it might be handed some that waits too.
    let packed: Vec<Packing> = match rayon::current_thread_index() {
        None => different.par_iter().map(packing).collect(),
        Some(_) => different.iter().map(packing).collect(),
    };
    for ((bundle, row), (_, segment)) in all.iter_mut().zip(rows).zip(design.segments.iter()) {
        bundle.places.clone_from(&packed[row].places);
        bundle.packed = packed[row].outline;
        cover(design, segment, bundle);
    }
    all.into_iter().collect()
}

/// Members of a segment from its wires: cores of a cable together, where the first of them stands.
fn members(design: &Design, wires: &[Id<Wire>]) -> Bundle {
    let mut bundle = Bundle::default();
    let mut cable_seen: HashMap<Id<Cable>, ()> = HashMap::new();
    for &id in wires {
        let wire = &design.wires[id];
        match wire.cable {
            Some(cable) if design.cables[cable.value].kind != CableKind::Unstated || design.cables[cable.value].od.is_some() => {
                if cable_seen.insert(cable.value, ()).is_none() {
                    let cores = wires.iter().copied().filter(|core| design.wires[*core].cable.is_some_and(|c| c.value == cable.value));
                    match of_cable(design, cable.value, cores.collect()) {
                        Ok(member) => bundle.members.push(member),
                        Err(missing) => bundle.unsized_.push(missing),
                    }
                }
            }
            Some(cable) if cable_seen.insert(cable.value, ()).is_none() => {
                bundle.unsized_.push(Unsized { of: Subject::Cable(cable.value), field: "kind", at: design.cables[cable.value].at });
            }
            Some(_) => {}
            None => match diameter(design, id) {
                Ok((diameter, notes)) => bundle.members.push(Member { of: MemberOf::Wire(id), wires: vec![id], diameter, notes }),
                Err(missing) => bundle.unsized_.push(missing),
            },
        }
    }
    bundle
}

/// Outside diameter of a wire by its type and gauge.
fn diameter(design: &Design, id: Id<Wire>) -> Result<(Metre, Vec<NoteId>), Unsized> {
    let of = Subject::Element(ElementId::Wire(id));
    let wire = &design.wires[id];
    let Some(spec) = wire.spec else { return Err(Unsized { of, field: "gauge", at: wire.at }) };
    match design.wire_specs[spec.value].diameter {
        Some(od) => Ok((od.value, spec.note.into_iter().chain(od.note).collect())),
        None => Err(Unsized { of, field: "od", at: wire.at }),
    }
}

/// A cable as one circle.
fn of_cable(design: &Design, id: Id<Cable>, wires: Vec<Id<Wire>>) -> Result<Member, Unsized> {
    let cable = &design.cables[id];
    let of = MemberOf::Cable(id);
    if let Some(od) = cable.od {
        return Ok(Member { of, wires, diameter: od.value, notes: od.note.into_iter().collect() });
    }
    // A jacket or shield measures what it measures; only bare cores can be put together.
    if cable.kind != CableKind::Twisted {
        return Err(Unsized { of: of.subject(), field: "od", at: cable.at });
    }
    let cores = wires.iter().map(|&core| diameter(design, core)).collect::<Result<Vec<_>, _>>()?;
    let diameters: Vec<Metre> = cores.iter().map(|(d, _)| *d).collect();
    let around = pack(&diameters).expect("checked design: diameters are positive and finite").outline;
    Ok(Member { of, wires, diameter: around, notes: cores.into_iter().flat_map(|(_, notes)| notes).collect() })
}

/// Diameter of a bundle where the shields of some of its cables are terminated side by side; what it lacks, if anything.
///
/// Staggered by 13 to 100 mm, as NASA-STD-8739.4 with Change 6, sec. 11.9 has it (read), fewer lie side by side: this is the most.
pub(crate) fn with_shield_ends(design: &Design, bundle: &Bundle, ending: &[Id<Cable>]) -> Result<Metre, Unsized> {
    if let Some(missing) = bundle.unsized_.iter().find(|one| !matches!(one.of, Subject::Covering(_))) {
        return Err(missing.clone());
    }
    let mut diameters = Vec::with_capacity(bundle.members.len());
    for member in &bundle.members {
        diameters.push(match member.of {
            MemberOf::Cable(id) if ending.contains(&id) => {
                let cable = &design.cables[id];
                let lacks = Unsized { of: member.of.subject(), field: "shield_end_od", at: cable.at };
                cable.shield_end_od.ok_or(lacks)?.value
            }
            _ => member.diameter,
        });
    }
    Ok(pack(&diameters).expect("checked design: diameters are positive and finite").outline)
}

/// Puts the coverings of a segment around its bundle, from the inside out.
fn cover(design: &Design, segment: &Segment, bundle: &mut Bundle) {
    let mut over = bundle.packed;
    for covering in &segment.coverings {
        let row = &design.coverings[covering.value];
        let mut lacks = |field| bundle.unsized_.push(Unsized { of: Subject::Covering(covering.value), field, at: row.at });
        let Some(thickness) = row.thickness else {
            lacks("thickness");
            continue;
        };
        let layer = match (row.kind, row.build) {
            (CoveringKind::Tape, _) => Layer::Tape { thickness: thickness.value },
            (CoveringKind::Sleeve, _) => Layer::Sleeve { wall: thickness.value },
            (CoveringKind::Braid, Some(build)) => Layer::Braid { strand: thickness.value, build: build.value },
            (CoveringKind::Braid, None) => {
                lacks("build");
                continue;
            }
        };
        over = bundle::covered(over, &[layer]);
        bundle.layers.push((covering.value, over));
        bundle.layer_notes.extend(thickness.note);
        bundle.layer_notes.extend(row.build.and_then(|build| build.note));
    }
}
