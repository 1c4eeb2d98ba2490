//! The map of the harness: breakouts, segments, clamps, coverings, what lies near; classes of wire; what routes need to know of wires.

use super::end::{flag, who};
use super::{Build, Who, requote};
use crate::catalog::How;
use crate::codes;
use crate::fields::{self, FieldKind};
use crate::quantity::{self, Quantity};
use crate::value::{ApartRow, Cell, Row, Value};
use model::*;
use physics::{Metre, Ratio};

/// Lay of a twisted cable whose row states none, in diameters of its thickest core: the middle of 8 to 16, NEMA WC 27500 (from memory).
const USUAL_LAY: f64 = 12.0;

/// A segment as far as what stands on it must know it.
#[derive(Clone, Copy)]
struct Known {
    length: Metre,
    at: Span,
}

impl Build {
    /// A breakout: its row and its place.
    pub(super) fn breakout(&mut self, row: &Row) {
        let who = who(row, Subject::Breakout(Id::from_row(self.design.branch_points.len())));
        let position = row.cell("at").and_then(|cell| match cell.value {
            Value::Position(place) => Some(self.given(place.map(Metre), cell, &who, "at")),
            _ => None,
        });
        self.design.branch_points.push(BranchPoint { name: row.name.clone(), position, at: row.at });
    }

    /// The breakout that a row says it is at.
    pub(super) fn at_breakout(&mut self, row: &Row) -> Option<Given<Id<BranchPoint>>> {
        Some(self.reference(row, "breakout", "breakout")?.map(Id::from_row))
    }

    /// Coverings, segments, clamps, neighbours; breakouts are known.
    pub(super) fn map(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "covering") {
            self.covering(row);
        }
        let known: Vec<Option<Known>> = rows.iter().filter(|r| r.table.key == "segment").map(|row| self.segment(row)).collect();
        for row in rows.iter().filter(|r| r.table.key == "clamp") {
            self.clamp(row, &known);
        }
        for row in rows.iter().filter(|r| r.table.key == "near") {
            let Some(segment) = self.reference(row, "segment", "segment") else { continue };
            let who = who(row, Subject::Neighbour(Id::from_row(self.design.neighbours.len())));
            let distance = self.number(row, "distance", &who);
            let Some(kind) = row.word("kind").and_then(|word| NeighbourKind::ALL.into_iter().find(|kind| kind.word() == word)) else {
                continue;
            };
            let segment = segment.map(Id::from_row);
            self.design.neighbours.push(Neighbour { name: row.name.clone(), segment, kind, distance, at: row.at });
        }
    }

    fn covering(&mut self, row: &Row) {
        let who = who(row, Subject::Covering(Id::from_row(self.design.coverings.len())));
        self.only_of_its_kind(row);
        let kind = match row.word("kind") {
            Some("tape") => CoveringKind::Tape,
            Some("braid") => CoveringKind::Braid,
            _ => CoveringKind::Sleeve,
        };
        let thickness = self.number(row, "thickness", &who);
        let build = row.cell("build").and_then(|cell| match cell.value {
            Value::Plain(number) => Some(self.given(number, cell, &who, "build")),
            _ => None,
        });
        let mass = self.number(row, "mass", &who);
        let conductivity = self.number(row, "conductivity", &who);
        let specific_heat = self.number(row, "specific_heat", &who);
        let emittance = self.spread(row, "emittance", &who);
        let rating = self.number(row, "rating", &who);
        let name = row.name.clone();
        self.design.coverings.push(Covering {
            name,
            kind,
            thickness,
            build,
            mass,
            conductivity,
            specific_heat,
            emittance,
            rating,
            at: row.at,
        });
    }

    /// Reports values that a row's kind does not have.
    fn only_of_its_kind(&mut self, row: &Row) {
        let Some(kind) = row.word("kind") else { return };
        for field in row.table.fields.iter().filter(|field| !field.only.is_empty() && field.only.split(", ").all(|k| k != kind)) {
            if let Some(cell) = row.cell(field.key) {
                self.out.push(
                    Diagnostic::error(codes::NOT_FOR_THIS_KIND, cell.at, "", format!("a {kind} has no {}", field.key))
                        .help(format!("{} belongs to the kind {}", field.key, field.only)),
                );
            }
        }
    }

    /// A segment, always one row of the table; its length, if it is known.
    fn segment(&mut self, row: &Row) -> Option<Known> {
        let id: Id<Segment> = Id::from_row(self.design.segments.len());
        let who = who(row, Subject::Segment(id));
        let ends = ["from", "to"].map(|field| self.reference(row, field, "breakout").map(|g| g.map(Id::<BranchPoint>::from_row)));
        let length = self.number::<Metre>(row, "length", &who);
        let straight = self.straight(row, ends);
        let stated = length.is_some() || !row.is_absent("length");
        let length = match (length, straight) {
            (Some(length), straight) => {
                if let Some((line, places)) = straight
                    // A length that was rounded to the millimetre is the straight line.
                    && length.value.0 < line.0 - 1e-3
                {
                    let show = |length: Metre| quantity::show(length.0, Quantity::Length);
                    let mut diagnostic = Diagnostic::error(
                        codes::CONTRADICTION,
                        length.at,
                        "",
                        format!("segment {} is {} long, and its ends are {} apart", row.name, show(length.value), show(line)),
                    );
                    for at in places {
                        diagnostic = diagnostic.note(at, "one end");
                    }
                    self.out.push(
                        diagnostic.help("correct the length or the place of a breakout; a segment is no shorter than the straight line"),
                    );
                }
                Some(length)
            }
            (None, Some((line, places))) if !stated => {
                if line.0 <= 0.0 {
                    self.out.push(
                        Diagnostic::error(
                            codes::MISSING_KEY,
                            row.at,
                            "",
                            format!("segment {} has no length, and its ends lie on one point", row.name),
                        )
                        .note(places[0], "one end")
                        .note(places[1], "the other end")
                        .help("add for example length = \"0.8 m\", or correct the place of a breakout"),
                    );
                    None
                } else {
                    Some(Given::firm(line, row.at))
                }
            }
            (None, None) if !stated && !row.broken => {
                self.no_length(row, ends);
                None
            }
            _ => None,
        };
        let section = self.reference(row, "section", "section").map(|g| g.map(Id::from_row));
        let admits = self.admitted(row);
        let weight = match row.cell("weight") {
            Some(Cell { value: Value::Plain(weight), at, .. }) => Given::firm(*weight, *at),
            _ => Given::firm(1.0, row.at),
        };
        let bend = self.number(row, "bend", &who);
        let height = self.number(row, "height", &who);
        let tension = self.number(row, "tension", &who);
        let tie_pitch = self.number(row, "tie_pitch", &who);
        let beside = self.others(row, "beside", "segment").into_iter().map(|g| g.map(Id::from_row)).collect();
        let coverings = self.others(row, "coverings", "covering").into_iter().map(|g| g.map(Id::from_row)).collect();
        let zone = self.reference(row, "zone", "zone").map(|g| g.map(Id::from_row));
        let sink = self.spread(row, "sink", &who);
        let sink_conductance = self.number(row, "sink_conductance", &who);
        let absorptance = self.number(row, "absorptance", &who);
        let nowhere = Given::firm(Id::from_row(0), row.at);
        self.design.segments.push(Segment {
            name: row.name.clone(),
            from: ends[0].unwrap_or(nowhere),
            to: ends[1].unwrap_or(nowhere),
            length: length.unwrap_or(Given::firm(Metre(1.0), row.at)),
            is_straight: !stated,
            section,
            admits,
            weight,
            bend,
            height,
            tension,
            duct: flag(row, "duct"),
            tie_pitch,
            beside,
            coverings,
            zone,
            sink,
            sink_conductance,
            absorptance,
            reachable: flag(row, "reachable"),
            at: row.at,
        });
        length.map(|length| Known { length: length.value, at: length.at })
    }

    /// The straight line between the ends of a segment, with their places; `None` if an end or its place is not known.
    fn straight(&mut self, row: &Row, ends: [Option<Given<Id<BranchPoint>>>; 2]) -> Option<(Metre, [Span; 2])> {
        let [Some(from), Some(to)] = ends else { return None };
        if from.value == to.value {
            let name = self.design.branch_points[from.value].name.clone();
            self.out.push(
                Diagnostic::error(codes::SAME_END, to.at, "", format!("segment {} begins and ends at breakout {name}", row.name))
                    .note(from.at, "begins here")
                    .help("a segment joins two different breakouts; a loop is made of two segments or more"),
            );
            return None;
        }
        let place = |end: Given<Id<BranchPoint>>| self.design.branch_points[end.value].position;
        let (a, b) = (place(from)?, place(to)?);
        let sum: f64 = (0..3).map(|axis| (a.value[axis].0 - b.value[axis].0).powi(2)).sum();
        Some((Metre(sum.sqrt()), [a.at, b.at]))
    }

    fn no_length(&mut self, row: &Row, ends: [Option<Given<Id<BranchPoint>>>; 2]) {
        let [Some(from), Some(to)] = ends else { return };
        if from.value == to.value {
            return;
        }
        let bare = [from, to].into_iter().find(|end| self.design.branch_points[end.value].position.is_none());
        let Some(bare) = bare.map(|end| &self.design.branch_points[end.value]) else { return };
        let message = format!("segment {} has no length, and breakout {} has no place", row.name, bare.name);
        let diagnostic = Diagnostic::error(codes::MISSING_KEY, row.at, "", message).note(bare.at, "no `at`");
        self.out.push(diagnostic.help("add for example length = \"0.8 m\", or `at` to both breakouts"));
    }

    fn admitted(&mut self, row: &Row) -> Option<Given<Vec<Class>>> {
        let cell = row.cell("admits")?;
        let at = cell.at;
        self.once_each(row, "admits");
        let classes = row.list("admits").to_vec().into_iter().filter_map(|(at, name)| self.class(&name, at)).collect();
        Some(Given::firm(classes, at))
    }

    /// The class of a name, of those that the profile lists.
    pub(super) fn class(&mut self, name: &str, at: Span) -> Option<Class> {
        let classes = &self.design.profile.classes;
        if let Some(found) = classes.iter().position(|class| &**class == name) {
            return Some(Class(found as u8));
        }
        if !self.profile_known {
            return None;
        }
        let classes = classes.clone();
        let diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no class {name}"));
        let meant = self.out.closest(name, classes.iter().map(|class| &**class)).map(str::to_owned);
        self.out.push(match meant {
            Some(meant) => {
                let with = requote(&self.sources, at, &meant);
                diagnostic.help(format!("did you mean {meant}?")).replace(at, with)
            }
            None if classes.is_empty() => diagnostic.help(format!("profile {} lists no classes", self.design.profile.name)),
            None => diagnostic.help(format!("classes of profile {}: {}", self.design.profile.name, classes.join(", "))),
        });
        None
    }

    /// Rows of a kind that a list names, without the row itself.
    fn others(&mut self, row: &Row, field: &'static str, kind: &'static str) -> Vec<Given<usize>> {
        self.once_each(row, field);
        let own = (row.table.key == kind).then(|| self.row_number(row));
        let mut found = Vec::new();
        for (at, name) in row.list(field).to_vec() {
            match self.reference_to(&name, at, kind) {
                Some(other) if Some(other.value) == own => self.out.push(
                    Diagnostic::error(codes::SAME_END, at, "", format!("{} is listed under its own {field}", row.words()))
                        .help(format!("name other {kind}s")),
                ),
                Some(other) => found.push(other),
                None => {}
            }
        }
        found
    }

    fn clamp(&mut self, row: &Row, known: &[Option<Known>]) {
        let who = who(row, Subject::Clamp(Id::from_row(self.design.clamps.len())));
        self.only_of_its_kind(row);
        let segment = self.reference(row, "segment", "segment");
        let with = self.others(row, "with", "segment");
        let position = self.number::<Metre>(row, "at", &who);
        let bore = self.number(row, "bore", &who);
        let Some(kind) = row.word("kind").map(|word| match word {
            "hole" => ClampKind::Hole,
            "tie" => ClampKind::Tie,
            _ => ClampKind::Clamp,
        }) else {
            return;
        };
        let Some(segment) = segment else { return };
        if let (Some(position), Some(Some(known))) = (position, known.get(segment.value))
            && position.value > known.length
        {
            let show = |length: Metre| quantity::show(length.0, Quantity::Length);
            let name = self.design.segments[Id::from_row(segment.value)].name.clone();
            self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    position.at,
                    "",
                    format!("{} is at {} of segment {name}, which is {} long", row.words(), show(position.value), show(known.length)),
                )
                .note(known.at, "the segment")
                .help("distances are counted from the `from` end of the segment"),
            );
        }
        for other in with.iter().filter(|other| other.value == segment.value) {
            self.out.push(
                Diagnostic::error(codes::SAME_END, other.at, "", format!("{} is on this segment anyway", row.words()))
                    .note(segment.at, "its segment")
                    .help("name other segments"),
            );
        }
        let with = with.into_iter().map(|given| given.map(Id::from_row)).collect();
        let segment = segment.map(Id::from_row);
        let mass = self.number(row, "mass", &who);
        let rating = self.number(row, "rating", &who);
        let grommet = flag(row, "grommet");
        self.design.clamps.push(Clamp { name: row.name.clone(), segment, with, kind, position, bore, grommet, rating, mass, at: row.at });
    }

    /// Two halves that mate are at one place.
    pub(super) fn halves_at_one_place(&mut self, a: &Connector, b: &Connector) {
        if let (Some(one), Some(other)) = (a.breakout, b.breakout)
            && one.value != other.value
        {
            self.out.push(
                Diagnostic::error(
                    codes::CONTRADICTION,
                    one.at,
                    "",
                    format!("connectors {} and {} mate and are at different breakouts", a.name, b.name),
                )
                .note(other.at, format!("{} is here", b.name))
                .help("state the breakout of one of the two halves"),
            );
        }
    }

    /// Circuits that must not meet, once the wire list has named its circuits.
    pub(super) fn circuits_apart(&mut self, rows: &[Row]) {
        for row in rows.iter().filter(|r| r.table.key == "circuit") {
            let id: Id<Circuit> = Id::from_row(self.row_number(row));
            let not_with: Vec<_> = self.others(row, "not_with", "circuit").into_iter().map(|g| g.map(Id::from_row)).collect();
            if id.row() < self.design.circuits.len() {
                self.design.circuits[id].not_with = not_with;
            }
        }
    }

    /// Where a wire must pass.
    pub(super) fn via(&mut self, row: &Row) -> (Vec<Via>, Option<Span>) {
        let Some((text, at)) = row.text("via").map(|(text, at)| (text.clone(), at)) else { return (Vec::new(), None) };
        let mut vias = Vec::new();
        for word in text.split_whitespace() {
            let whole =
                |with: &str| text.split_whitespace().map(|other| if other == word { with } else { other }).collect::<Vec<_>>().join(" ");
            let (kinds, name): (&[&'static str], &str) = match word.split_once(':') {
                Some(("segment", name)) => (&["segment"], name),
                Some(("breakout" | "branch", name)) => (&["breakout"], name),
                _ => (&["breakout", "segment"], word),
            };
            let found: Vec<(&str, usize)> = kinds.iter().filter_map(|kind| Some((*kind, self.names.find(kind, name)?.row))).collect();
            match found[..] {
                [("segment", segment)] => vias.push(Via::Segment(Id::from_row(segment))),
                [(_, point)] => vias.push(Via::Point(Id::from_row(point))),
                [] => {
                    let mut diagnostic = Diagnostic::error(codes::UNKNOWN_ID, at, "", format!("there is no {} {name}", kinds.join(" or ")));
                    let meant = kinds.iter().find_map(|kind| self.names.closest(kind, name, &mut self.out).map(str::to_owned));
                    diagnostic = match meant {
                        Some(meant) => {
                            let meant = word.replace(name, &meant);
                            diagnostic.help(format!("did you mean {}?", whole(&meant))).replace(at, whole(&meant))
                        }
                        None => diagnostic.help("ids of breakouts and segments stand here, with blanks between"),
                    };
                    self.out.push(diagnostic);
                }
                _ => self.out.push(
                    Diagnostic::error(codes::CONTRADICTION, at, "", format!("{name} is a breakout and a segment"))
                        .help(format!("write segment:{name} or breakout:{name}")),
                ),
            }
        }
        (vias, Some(at))
    }

    /// What lengths rest on beside routes: the vehicle's allowances, and the lay of twisted cables.
    pub(super) fn lengths(&mut self) {
        let routed: Vec<Id<Wire>> = self
            .design
            .wires
            .iter()
            .filter(|(_, wire)| wire.length.is_some_and(|length| length.value == Length::FromRoute))
            .map(|(id, _)| id)
            .collect();
        let first = self.sources.files().next().map_or(self.design.profile.at, |(file, _)| Span { file, start: 0, end: 0 });
        let who = Who { subject: Subject::Vehicle, kind: "vehicle", name: self.design.name.clone(), at: first };
        let lacks_allowance = routed.iter().any(|id| self.design.wires[*id].allowance.iter().any(Option::is_none));
        let lacks_slack = routed.iter().any(|id| self.design.wires[*id].slack.is_none());
        let [end, slack] = [("end_allowance", lacks_allowance, "0 m"), ("slack", lacks_slack, "0 %")].map(|(field, lacks, none)| {
            let cell = self.allowance_cells.iter().find(|(of, _)| *of == field).map(|(_, cell)| cell.clone());
            match cell {
                Some(cell) => self.number_of::<Ratio>(&cell, field, &who),
                None if lacks && !self.design.segments.is_empty() => {
                    let note =
                        self.assumed(&who, field, none.to_owned(), "none is stated; wires get the length of their route and no more");
                    Some(Given { value: Ratio(0.0), at: first, note: Some(note) })
                }
                None => None,
            }
            .unwrap_or(Given::firm(Ratio(0.0), first))
        });
        self.design.allowances = Allowances { end: end.map(|g| Metre(g.0)), slack };
        self.lays(&routed);
    }

    fn lays(&mut self, routed: &[Id<Wire>]) {
        let mut thickest: Vec<Option<Metre>> = vec![None; self.design.cables.len()];
        for id in routed {
            let wire = &self.design.wires[*id];
            let (Some(cable), Some(spec)) = (wire.cable, wire.spec) else { continue };
            let Some(diameter) = self.wire_types.specs[spec.value].diameter else { continue };
            if let Some(slot) = thickest.get_mut(cable.value.row())
                && slot.is_none_or(|known| known < diameter.value)
            {
                *slot = Some(diameter.value);
            }
        }
        for (row, diameter) in thickest.into_iter().enumerate() {
            let id: Id<Cable> = Id::from_row(row);
            let cable = &self.design.cables[id];
            let Some(diameter) = diameter.filter(|_| cable.kind.is_twisted() && cable.lay.is_none()) else { continue };
            let who = Who { subject: Subject::Cable(id), kind: "cable", name: cable.name.clone(), at: cable.at };
            let lay = diameter * USUAL_LAY;
            let text = quantity::show(lay.0, Quantity::Length);
            let note = self.assumed(
                &who,
                "lay",
                text,
                "no lay is stated; 12 diameters of the thickest core are taken, NEMA WC 27500 (from memory) has 8 to 16",
            );
            let at = who.at;
            self.design.cables[id].lay = Some(Given { value: lay, at, note: Some(note) });
        }
    }

    /// The lay of a cable, which only a twisted one has.
    pub(super) fn lay(&mut self, row: &Row, kind: CableKind, who: &Who) -> Option<Given<Metre>> {
        let cell = row.cell("lay")?;
        if !kind.is_twisted() {
            let of = row.word("kind").map_or("of unstated kind".to_owned(), |kind| format!("of kind {kind}"));
            self.out.push(
                Diagnostic::error(codes::NOT_FOR_THIS_KIND, cell.at, "", format!("a cable {of} has no lay"))
                    .help("a lay belongs to the kinds twisted and twisted-shielded"),
            );
        }
        self.number_of(cell, "lay", who)
    }

    /// The classes of the profile in force, and the pairs of them to be kept apart. Pairs are noted only where the vehicle has classes.
    pub(super) fn classes(&mut self, profile: &Row, has_classes: bool) -> (Vec<Name>, Vec<ClassesApart>) {
        let mut classes: Vec<Name> = Vec::new();
        self.once_each(profile, "classes");
        for (at, name) in profile.list("classes") {
            if let Some(fault) = name_fault(name) {
                self.out.push(Diagnostic::error(codes::BAD_ID, *at, "", format!("{name:?} is not the id of a class: {fault}")));
            } else if classes.len() == CLASSES {
                self.out.push(
                    Diagnostic::error(codes::TOO_LARGE, *at, "", format!("more than {CLASSES} classes"))
                        .help("join classes that are treated alike"),
                );
                break;
            } else {
                classes.push(name.clone());
            }
        }
        let rows: &[ApartRow] = match profile.cell("apart").map(|cell| &cell.value) {
            Some(Value::Apart(rows)) => rows,
            _ => &[],
        };
        let mut apart = Vec::new();
        for row in rows {
            let mut found = [Class(0); 2];
            let mut known = true;
            for (slot, (at, name)) in found.iter_mut().zip(&row.classes) {
                match classes.iter().position(|class| class == name) {
                    Some(place) => *slot = Class(place as u8),
                    None => {
                        known = false;
                        let diagnostic = Diagnostic::error(codes::UNKNOWN_ID, *at, "", format!("there is no class {name}"));
                        let meant = self.out.closest(name, classes.iter().map(|class| &**class)).map(str::to_owned);
                        self.out.push(match meant {
                            Some(meant) => {
                                let with = requote(&self.sources, *at, &meant);
                                diagnostic.help(format!("did you mean {meant}?")).replace(*at, with)
                            }
                            None => diagnostic.help("list it under `classes` of the profile"),
                        });
                    }
                }
            }
            if !known {
                continue;
            }
            let (how, standing) = match How::of(&row.how) {
                How::Firm => (PairHow::Read, None),
                How::Recalled => (PairHow::Recalled, Some(Standing::Recalled)),
                How::Practice => (PairHow::Practice, Some(Standing::Assumed)),
            };
            let [a, b] = found.map(|class| classes[class.0 as usize].clone());
            let note = standing.filter(|_| has_classes).map(|standing| {
                self.note(Note {
                    standing,
                    what: format!("classes {a} and {b} apart in profile {}", profile.name),
                    value: "apart".to_owned(),
                    source: row.source.clone(),
                    at: row.at,
                    subject: None,
                    field: "apart",
                    owner: None,
                    need: None,
                })
            });
            apart.push(ClassesApart { classes: found, source: row.source.clone(), how, note, at: row.at });
        }
        (classes, apart)
    }
}

/// Whether a field of a vehicle's file is one of its allowances.
pub(super) fn is_allowance(key: &str) -> bool {
    fields::table("vehicle").is_some_and(|table| table.fields.iter().any(|f| f.key == key && matches!(f.kind, FieldKind::Number(_))))
}
