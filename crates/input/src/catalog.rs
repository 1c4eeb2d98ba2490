//! Wire types, contact sizes and currents, insert arrangements: the shipped rows and the user's own.

mod ampacity;
mod batteries;
mod devices;

pub(crate) use ampacity::{Ampacities, Condition, Gathered, IN_AIR, Insulates, LISTS};
pub(crate) use batteries::{Batteries, BatteryLines, Row as BatteryRow};
pub(crate) use devices::{DeviceRow, Devices, OfType};

use crate::fields::{self, TableSpec};
use crate::folder::Folder;
use crate::problems::Problems;
use crate::sheet::{self, SheetRow};
use crate::value::{Cell, Slot, Value};
use crate::{codes, limits};
use model::{Cavity, ConnectorKind, Diagnostic, FileId, Name, Sources, Span};
use physics::gauge::Awg;
use physics::sensor_temperature::Alloy;
use physics::{OhmPerMetre, SquareMetre};
use std::collections::{HashMap, HashSet};

/// A value of a catalog row, with how it is known.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub(crate) si: f64,
    pub(crate) at: Span,
    pub(crate) how: How,
}

/// How a value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum How {
    /// By the user, by reading the source, or by computing from what was read.
    Firm,
    /// From memory, or computed from something that is.
    Recalled,
    /// Common practice without a source.
    Practice,
}

impl How {
    pub(crate) fn of(word: &str) -> How {
        match word {
            "memory" | "computed" => How::Recalled,
            "practice" => How::Practice,
            _ => How::Firm,
        }
    }
}

/// One wire type in one gauge.
pub(crate) struct WireType {
    pub(crate) kind: Name,
    pub(crate) gauge: Awg,
    pub(crate) construction: String,
    pub(crate) family: Option<Name>,
    pub(crate) hard: bool,
    pub(crate) area: Item,
    pub(crate) conductivity: Item,
    pub(crate) max: Item,
    pub(crate) nominal: Item,
    pub(crate) od: Option<Item>,
    pub(crate) rating: Option<Item>,
    pub(crate) volts: Option<Item>,
    pub(crate) mass: Option<Item>,
    pub(crate) alloy: Alloy,
    pub(crate) source: String,
    /// Sources of single values, by their place.
    pub(crate) own_sources: Vec<(Span, String)>,
    pub(crate) at: Span,
}

/// One contact size of one kind.
pub(crate) struct ContactSize {
    pub(crate) size: Name,
    pub(crate) kind: ConnectorKind,
    pub(crate) gauge_min: Awg,
    pub(crate) gauge_max: Awg,
    pub(crate) current: Item,
    /// Metal, where stated.
    pub(crate) alloy: Option<Alloy>,
    /// Mass of one contact.
    pub(crate) mass: Option<Item>,
    /// Part numbers of pin and socket.
    pub(crate) parts: [Option<Name>; 2],
    /// Greatest resistance, ohms.
    pub(crate) limit: f64,
    /// The drop behind it is not stated but assumed.
    pub(crate) limit_assumed: bool,
    pub(crate) limit_at: Span,
    pub(crate) source: String,
    pub(crate) source_of_current: String,
    pub(crate) at: Span,
}

/// Test current of a contact with a wire of one gauge.
#[derive(Clone)]
pub(crate) struct ContactCurrent {
    pub(crate) gauge: Awg,
    pub(crate) current: Item,
    pub(crate) source: String,
}

/// An insert arrangement.
pub(crate) struct ArrangementType {
    pub(crate) name: Name,
    pub(crate) cavities: Vec<Cavity>,
    /// Number of cavities of each size.
    pub(crate) sizes: Vec<(Name, u32)>,
    pub(crate) how: How,
    /// Outside diameter of its shell.
    pub(crate) shell: Option<Item>,
    /// Mass of a half with it.
    pub(crate) mass: Option<Item>,
    /// Voltage that it withstands in a test.
    pub(crate) withstand: Option<Item>,
    pub(crate) source: String,
    pub(crate) at: Span,
}

/// All of them, for look-up.
#[derive(Default)]
pub(crate) struct Catalog {
    pub(crate) wires: Vec<WireType>,
    wire_rows: HashMap<(Name, Awg), usize>,
    pub(crate) contacts: Vec<ContactSize>,
    contact_rows: HashMap<(Name, ConnectorKind), usize>,
    currents: HashMap<(Name, ConnectorKind), Vec<ContactCurrent>>,
    pub(crate) arrangements: Vec<ArrangementType>,
    arrangement_rows: HashMap<Name, usize>,
    pub(crate) ampacity: Ampacities,
    pub(crate) devices: Devices,
    pub(crate) batteries: Batteries,
    failed_arrangements: HashSet<Name>,
    /// Types of rows that were not understood: using them is not a second mistake.
    failed_types: HashSet<Name>,
    failed_sizes: HashSet<Name>,
    unsure: bool,
}

impl Catalog {
    pub(crate) fn wire(&self, kind: &str, gauge: Awg) -> Option<usize> {
        self.wire_rows.get(&(Name::from(kind), gauge)).copied()
    }
    pub(crate) fn contact(&self, size: &str, kind: ConnectorKind) -> Option<usize> {
        self.contact_rows.get(&(Name::from(size), kind)).copied()
    }
    /// Test currents by gauge, thickest wire first.
    pub(crate) fn currents(&self, size: &str, kind: ConnectorKind) -> &[ContactCurrent] {
        self.currents.get(&(Name::from(size), kind)).map_or(&[], |list| list)
    }
    pub(crate) fn arrangement(&self, name: &str) -> Option<usize> {
        self.arrangement_rows.get(name).copied()
    }
    pub(crate) fn may_have_arrangement(&self, name: &str) -> bool {
        self.unsure || self.failed_arrangements.contains(name)
    }
    /// Whether a type may stand in a row that was not understood.
    pub(crate) fn may_have_wire(&self, kind: &str) -> bool {
        self.unsure || self.failed_types.contains(kind)
    }
    pub(crate) fn may_have_contact(&self, size: &str) -> bool {
        self.unsure || self.failed_sizes.contains(size)
    }
    /// Types in the order of the catalog.
    pub(crate) fn wire_types(&self) -> Vec<&str> {
        let mut seen = HashSet::new();
        self.wires.iter().map(|w| &*w.kind).filter(|kind| seen.insert(*kind)).collect()
    }
    /// Gauges of a type, thickest first.
    pub(crate) fn gauges(&self, kind: &str) -> Vec<Awg> {
        let mut gauges: Vec<Awg> = self.wires.iter().filter(|w| &*w.kind == kind).map(|w| w.gauge).collect();
        gauges.sort();
        gauges
    }
    pub(crate) fn sizes(&self, kind: ConnectorKind) -> Vec<&str> {
        self.contacts.iter().filter(|c| c.kind == kind).map(|c| &*c.size).collect()
    }
}

/// Reads the shipped rows, then the user's, which take the place of shipped ones.
pub(crate) fn read(sources: &Sources, folder: &Folder, out: &mut Problems) -> Catalog {
    let mut catalog = Catalog { unsure: folder.unsure, ..Catalog::default() };
    let shipped = (&folder.shipped_wire_types, &folder.shipped_contact_sizes);
    let own = (&folder.wire_types, &folder.contact_sizes);
    for ((wires, contacts), is_own) in [(shipped, false), (own, true)] {
        let mut first: HashMap<(Name, Awg), Span> = HashMap::new();
        let mut first_contact: HashMap<(Name, ConnectorKind), Span> = HashMap::new();
        let table = fields::table("wire type").expect("the table of fields has wire types");
        for &file in wires {
            sheet::read(sources, file, table, out, &mut |_, row, out| {
                let Some(wire) = wire_type(table, &row) else {
                    match text(table, &row, "type") {
                        Some((kind, _)) => drop(catalog.failed_types.insert(kind)),
                        None => catalog.unsure = true,
                    }
                    return;
                };
                let key = (wire.kind.clone(), wire.gauge);
                if let Some(before) = first.insert(key.clone(), wire.at)
                    && is_own
                {
                    out.push(twice(wire.at, before, format!("the wire type {} in {} AWG", wire.kind, wire.gauge)));
                }
                place(&mut catalog.wires, &mut catalog.wire_rows, key, wire);
            });
        }
        let table = fields::table("contact size").expect("the table of fields has contact sizes");
        for &file in contacts {
            sheet::read(sources, file, table, out, &mut |_, row, out| {
                let Some(contact) = contact_size(table, &row, out) else {
                    match text(table, &row, "size") {
                        Some((size, _)) => drop(catalog.failed_sizes.insert(size)),
                        None => catalog.unsure = true,
                    }
                    return;
                };
                let key = (contact.size.clone(), contact.kind);
                if let Some(before) = first_contact.insert(key.clone(), contact.at)
                    && is_own
                {
                    out.push(twice(contact.at, before, format!("the contact size {}", contact.size)));
                }
                // Currents by gauge belong to the row that was there before.
                catalog.currents.remove(&key);
                place(&mut catalog.contacts, &mut catalog.contact_rows, key, contact);
            });
        }
        let files = if is_own { &folder.contact_currents } else { &folder.shipped_contact_currents };
        currents(sources, files, is_own, &mut catalog, out);
        let files = if is_own { &folder.arrangements } else { &folder.shipped_arrangements };
        arrangements(sources, files, is_own, &mut catalog, out);
    }
    catalog.ampacity = ampacity::read(sources, folder, out);
    catalog.devices = devices::read(sources, folder, out);
    catalog.batteries = batteries::read(sources, folder, out);
    catalog
}

/// Currents by gauge of some files; a size and kind named in them keeps none of its earlier rows.
fn currents(sources: &Sources, files: &[FileId], is_own: bool, catalog: &mut Catalog, out: &mut Problems) {
    let table = fields::table("contact current").expect("the table of fields has contact currents");
    let mut found: Vec<((Name, ConnectorKind), ContactCurrent)> = Vec::new();
    let mut first: HashMap<(Name, ConnectorKind, Awg), Span> = HashMap::new();
    for &file in files {
        sheet::read(sources, file, table, out, &mut |_, row, out| {
            let one = || -> Option<((Name, ConnectorKind), ContactCurrent)> {
                if has_fault(&row) {
                    return None;
                }
                let (size, _) = text(table, &row, "size")?;
                let current = item(table, &row, "current")?;
                let gauge = gauge(table, &row, "gauge")?;
                Some(((size, contact_kind(table, &row)?), ContactCurrent { gauge, current, source: source_and_note(table, &row) }))
            };
            let Some((key, current)) = one() else { return };
            if let Some(before) = first.insert((key.0.clone(), key.1, current.gauge), row.at)
                && is_own
            {
                out.push(twice(row.at, before, format!("the current of contact size {} with {} AWG", key.0, current.gauge)));
            }
            found.push((key, current));
        });
    }
    for (key, _) in &found {
        catalog.currents.remove(key);
    }
    for (key, current) in found {
        catalog.currents.entry(key).or_default().push(current);
    }
    for list in catalog.currents.values_mut() {
        list.sort_by_key(|c| c.gauge);
    }
}

/// Arrangements of some files: rows of a name together, in the order written.
fn arrangements(sources: &Sources, files: &[FileId], is_own: bool, catalog: &mut Catalog, out: &mut Problems) {
    let table = fields::table("arrangement").expect("the table of fields has arrangements");
    let mut found: Vec<ArrangementType> = Vec::new();
    let (mut total, mut is_over) = (0, false);
    let mut index: HashMap<Name, usize> = HashMap::new();
    let mut first: HashMap<(Name, Name), Span> = HashMap::new();
    // Of each arrangement the cavities that only a count gives.
    let mut counted: Vec<Vec<usize>> = Vec::new();
    // Cavities of each arrangement by their place, in micrometres.
    let mut taken: HashMap<(Name, i64, i64), (Name, Span)> = HashMap::new();
    for &file in files {
        sheet::read(sources, file, table, out, &mut |_, row, out| {
            let Some((name, _)) = text(table, &row, "arrangement") else {
                catalog.unsure = true;
                return;
            };
            if has_fault(&row) {
                catalog.failed_arrangements.insert(name);
                return;
            }
            let Some((size, _)) = text(table, &row, "size") else { return };
            let cavities = match cell(table, &row, "cavities") {
                Some(Cell { at, value: Value::Count(n), .. }) => Some((*n, *at)),
                _ => None,
            };
            let Ok(mut positions) = positions(table, &row, cavities, out) else {
                catalog.failed_arrangements.insert(name);
                return;
            };
            let word = text(table, &row, "how");
            let how = word.map_or(How::Firm, |(word, _)| How::of(&word));
            total += cavities.map_or(1, |(n, _)| n as usize);
            if total > limits::CAVITIES {
                if !std::mem::replace(&mut is_over, true) {
                    let message = format!("the arrangements have more than {} cavities", limits::CAVITIES);
                    out.push(Diagnostic::error(codes::TOO_LARGE, row.at, "", message).help("keep those that the vehicle uses"));
                }
                catalog.unsure = true;
                return;
            }
            let entry = *index.entry(name.clone()).or_insert_with(|| {
                let source = source_and_note(table, &row);
                let (cavities, sizes) = (Vec::new(), Vec::new());
                found.push(ArrangementType {
                    name: name.clone(),
                    cavities,
                    sizes,
                    how,
                    shell: None,
                    mass: None,
                    withstand: None,
                    source,
                    at: row.at,
                });
                counted.push(Vec::new());
                found.len() - 1
            });
            let ArrangementType { cavities: list, sizes, shell, mass, withstand, .. } = &mut found[entry];
            for (field, kept, of_two) in
                [("shell", shell, "shells of two sizes"), ("mass", mass, "two masses"), ("withstand", withstand, "two test voltages")]
            {
                match (item(table, &row, field), &*kept) {
                    (Some(value), Some(known)) if known.si != value.si => {
                        let message = format!("arrangement {name} has {of_two}");
                        out.push(
                            Diagnostic::error(codes::CONTRADICTION, value.at, "", message)
                                .note(known.at, "first")
                                .help(format!("state the {field} in one row of the arrangement")),
                        );
                    }
                    (Some(value), None) => *kept = Some(value),
                    _ => {}
                }
            }
            let names: Vec<Name> = match (text(table, &row, "cavity"), cavities) {
                (Some((cavity, _)), None) => vec![cavity],
                (None, Some((n, _))) => (list.len() + 1..=list.len() + n as usize).map(|n| n.to_string().into()).collect(),
                (one, _) => {
                    let at = one.map_or(row.at, |(_, at)| at);
                    out.push(
                        Diagnostic::error(
                            codes::EXACTLY_ONE,
                            at,
                            "",
                            format!("a row of arrangement {name} names a cavity or says how many"),
                        )
                        .help("fill one of cavity and cavities"),
                    );
                    catalog.failed_arrangements.insert(name);
                    return;
                }
            };
            let so_many = names.len() as u32;
            match sizes.iter_mut().find(|(known, _)| *known == size) {
                Some((_, count)) => *count += so_many,
                None => sizes.push((size.clone(), so_many)),
            }
            if cavities.is_some() {
                counted[entry].extend(list.len()..list.len() + names.len());
            }
            for cavity in names {
                if let Some(before) = first.insert((name.clone(), cavity.clone()), row.at)
                    && is_own
                {
                    out.push(twice(row.at, before, format!("cavity {cavity} of arrangement {name}")));
                }
                let position_mm = positions.next();
                if let Some((x, y)) = position_mm
                    && let Some((before, at)) = taken.insert((name.clone(), micrometres(x), micrometres(y)), (cavity.clone(), row.at))
                    && before != cavity
                {
                    // Nothing could be told from how far apart they are.
                    let message = format!("cavities {before} and {cavity} of arrangement {name} are at one place");
                    out.push(
                        Diagnostic::error(codes::CONTRADICTION, row.at, "", message)
                            .note(at, "first")
                            .help("give each its own x and y, or leave both away"),
                    );
                }
                list.push(Cavity { name: cavity, size: Some(size.clone()), position_mm });
            }
            if how != How::Firm {
                found[entry].how = how;
            }
        });
    }
    for (arrangement, counted) in found.iter_mut().zip(counted) {
        // Counts of several sizes do not say which cavity has which.
        let mut sizes = counted.iter().map(|&row| arrangement.cavities[row].size.clone());
        let first = sizes.next();
        if sizes.any(|size| Some(&size) != first.as_ref()) {
            counted.into_iter().for_each(|row| arrangement.cavities[row].size = None);
        }
    }
    for arrangement in found {
        place(&mut catalog.arrangements, &mut catalog.arrangement_rows, arrangement.name.clone(), arrangement);
    }
}

fn micrometres(mm: f64) -> i64 {
    (mm * 1e3).round() as i64
}

/// Positions of the cavities of a row on the mating face, mm: none, one, or as many as it stands for, a pitch apart along x.
///
/// # Errors  What is stated does not say where they are; the problem is told.
fn positions(
    table: &TableSpec,
    row: &SheetRow,
    cavities: Option<(u32, Span)>,
    out: &mut Problems,
) -> Result<impl Iterator<Item = (f64, f64)> + use<>, ()> {
    let [x, y, pitch] = ["x", "y", "pitch"].map(|key| number(table, row, key));
    let mut lacks = |at: Span, message: &str, help: &str| {
        out.push(Diagnostic::error(codes::MISSING_KEY, at, "", message.to_owned()).help(help));
        Err(())
    };
    let (n, apart) = match (x, y, pitch, cavities) {
        (Some((_, at)), None, ..) => return lacks(at, "x without y is no position", "fill y too"),
        (None, Some((_, at)), ..) => return lacks(at, "y without x is no position", "fill x too"),
        (_, _, Some((_, at)), None) => return lacks(at, "one cavity has no pitch", "say with cavities how many stand in this row"),
        (None, None, Some((_, at)), _) => {
            return lacks(at, "a pitch without the place of the first cavity", "fill x and y of the row's first cavity");
        }
        (Some(_), Some(_), None, Some((n, at))) if n > 1 => {
            return lacks(
                at,
                &format!("{n} cavities in a row without their pitch"),
                "fill pitch: how far each is from the one before it, along x",
            );
        }
        (.., pitch, cavities) => (cavities.map_or(1, |(n, _)| n as usize), pitch.map_or(0.0, |(pitch, _)| pitch)),
    };
    let first = x.zip(y).map(|((x, _), (y, _))| (x * 1e3, y * 1e3));
    Ok(first.into_iter().flat_map(move |(x, y)| (0..n).map(move |k| (x + k as f64 * apart * 1e3, y))))
}

fn contact_kind(table: &TableSpec, row: &SheetRow) -> Option<ConnectorKind> {
    Some(match &*text(table, row, "kind")?.0 {
        "hermetic" => ConnectorKind::Hermetic,
        _ => ConnectorKind::Crimp,
    })
}

fn place<K: std::hash::Hash + Eq, T>(rows: &mut Vec<T>, index: &mut HashMap<K, usize>, key: K, row: T) {
    match index.get(&key) {
        Some(&at) => rows[at] = row,
        None => {
            index.insert(key, rows.len());
            rows.push(row);
        }
    }
}

pub(crate) fn twice(at: Span, before: Span, what: String) -> Diagnostic {
    Diagnostic::error(codes::TWICE, at, "again", format!("{what} stands twice")).note(before, "first").help("keep one of the two")
}

fn cell<'r>(table: &TableSpec, row: &'r SheetRow, key: &str) -> Option<&'r Cell> {
    match row.slots.get(table.position(key)?)? {
        Slot::Good(cell) => Some(cell),
        _ => None,
    }
}

pub(crate) fn text(table: &TableSpec, row: &SheetRow, key: &str) -> Option<(Name, Span)> {
    match cell(table, row, key)? {
        Cell { at, value: Value::Text(text), .. } => Some((text.clone(), *at)),
        _ => None,
    }
}

pub(crate) fn number(table: &TableSpec, row: &SheetRow, key: &str) -> Option<(f64, Span)> {
    match cell(table, row, key)? {
        Cell { at, value: Value::Number(_, si), .. } => Some((*si, *at)),
        _ => None,
    }
}

pub(crate) fn item(table: &TableSpec, row: &SheetRow, key: &str) -> Option<Item> {
    let (si, at) = number(table, row, key)?;
    let word = text(table, row, &format!("{key}_how")).or_else(|| text(table, row, "how"));
    Some(Item { si, at, how: word.map_or(How::Firm, |(word, _)| How::of(&word)) })
}

fn source(table: &TableSpec, row: &SheetRow) -> String {
    let words = ["source", "locator"].map(|key| text(table, row, key).map(|(text, _)| text.to_string()));
    words.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The source with the row's note: what disagrees with the value, or what it leaves out, is said wherever its source is.
pub(crate) fn source_and_note(table: &TableSpec, row: &SheetRow) -> String {
    let words = [Some(source(table, row)), text(table, row, "note").map(|(text, _)| text.to_string())];
    words.into_iter().flatten().filter(|w| !w.is_empty()).collect::<Vec<_>>().join("; ")
}

pub(crate) fn has_fault(row: &SheetRow) -> bool {
    row.slots.iter().any(|slot| matches!(slot, Slot::Bad))
}

fn gauge(table: &TableSpec, row: &SheetRow, key: &str) -> Option<Awg> {
    number(table, row, key).map(|(si, _)| Awg(si as i8))
}

fn alloy(table: &TableSpec, row: &SheetRow) -> Option<Alloy> {
    text(table, row, "alloy").and_then(|(word, _)| Alloy::of(&word))
}

/// The wire type taken where a list states none.
pub(crate) const USUAL_TYPE: &str = "copper-tin";

/// Strand length beyond the length of the wire where the nominal resistance is computed: one layer of strands [from memory].
const LAY: f64 = 0.02;

/// Greatest drop of a contact at its test current where none is stated, in volts: those that are stated run from 26 to 85 mV. Common
/// practice, no source.
const DROP: f64 = 0.05;

fn wire_type(table: &TableSpec, row: &SheetRow) -> Option<WireType> {
    if has_fault(row) {
        return None;
    }
    let (kind, _) = text(table, row, "type")?;
    let gauge = gauge(table, row, "gauge")?;
    let area = item(table, row, "area")?;
    let conductivity = item(table, row, "conductivity").unwrap_or(Item { si: 1.0, at: row.at, how: How::Firm });
    let max = item(table, row, "max")?;
    let nominal = item(table, row, "nominal").unwrap_or_else(|| {
        let OhmPerMetre(si) = physics::resistance::stranded_copper_per_metre(SquareMetre(area.si), conductivity.si, LAY);
        Item { si, at: area.at, how: How::Recalled }
    });
    let own_source = |item: &Item, key: &str| Some((item.at, text(table, row, key)?.0.to_string()));
    let own_sources = [own_source(&area, "area_source"), own_source(&conductivity, "conductivity_source")];
    // The specification bounds what the computed value, with its recalled lay, may come to.
    let nominal = Item { si: nominal.si.min(max.si), ..nominal };
    Some(WireType {
        kind,
        gauge,
        construction: text(table, row, "construction").map(|(t, _)| t.to_string()).unwrap_or_default(),
        family: text(table, row, "family").map(|(t, _)| t),
        hard: cell(table, row, "hard").is_some_and(|c| matches!(c.value, Value::Flag(true))),
        area,
        conductivity,
        max,
        nominal,
        od: item(table, row, "od"),
        rating: item(table, row, "rating"),
        volts: item(table, row, "volts"),
        mass: item(table, row, "mass"),
        alloy: alloy(table, row).unwrap_or(Alloy::COPPER),
        source: source(table, row),
        own_sources: own_sources.into_iter().flatten().collect(),
        at: row.at,
    })
}

fn contact_size(table: &TableSpec, row: &SheetRow, out: &mut Problems) -> Option<ContactSize> {
    if has_fault(row) {
        return None;
    }
    let (size, _) = text(table, row, "size")?;
    let kind = contact_kind(table, row)?;
    let (gauge_min, gauge_max) = (gauge(table, row, "gauge_min")?, gauge(table, row, "gauge_max")?);
    if gauge_max > gauge_min {
        let at = |key| cell(table, row, key).map_or(row.at, |c| c.at);
        out.push(
            Diagnostic::error(
                codes::CONTRADICTION,
                at("gauge_min"),
                "thinnest",
                format!("the thinnest wire, {gauge_min} AWG, is thicker than the thickest, {gauge_max} AWG"),
            )
            .note(at("gauge_max"), "thickest")
            .help("a larger gauge number is a thinner wire"),
        );
        return None;
    }
    let current = item(table, row, "current")?;
    let stated = number(table, row, "drop");
    let (drop, limit_at) = stated.unwrap_or((DROP, current.at));
    Some(ContactSize {
        size,
        kind,
        gauge_min,
        gauge_max,
        limit: drop / current.si,
        limit_assumed: stated.is_none(),
        limit_at,
        alloy: alloy(table, row),
        mass: item(table, row, "mass"),
        parts: ["pin_part", "socket_part"].map(|key| text(table, row, key).map(|(part, _)| part)),
        current,
        source: source(table, row),
        source_of_current: source_and_note(table, row),
        at: row.at,
    })
}
