//! The files of a folder: decoded, measured, sorted by what they are.

use crate::problems::Problems;
use crate::value::span;
use crate::{catalog, codes, limits};
use model::{Diagnostic, FileId, Sources};

/// Data that every vehicle can use, compiled in; the reader treats it as it treats a user's catalog.
const SHIPPED: [(&str, &str); 29] = [
    ("shipped:ampacity-bundle-air.csv", include_str!("../../../catalog/ampacity-bundle-air.csv")),
    ("shipped:ampacity-conditions.csv", include_str!("../../../catalog/ampacity-conditions.csv")),
    ("shipped:ampacity-free-air.csv", include_str!("../../../catalog/ampacity-free-air.csv")),
    ("shipped:ampacity-ratings.csv", include_str!("../../../catalog/ampacity-ratings.csv")),
    ("shipped:ampacity-space.csv", include_str!("../../../catalog/ampacity-space.csv")),
    ("shipped:arrangements.csv", include_str!("../../../catalog/arrangements.csv")),
    ("shipped:bend-radii.csv", include_str!("../../../catalog/bend-radii.csv")),
    ("shipped:batteries.csv", include_str!("../../../catalog/batteries.csv")),
    ("shipped:battery-capacities.csv", include_str!("../../../catalog/battery-capacities.csv")),
    ("shipped:battery-curves.csv", include_str!("../../../catalog/battery-curves.csv")),
    ("shipped:battery-losses.csv", include_str!("../../../catalog/battery-losses.csv")),
    ("shipped:contact-currents.csv", include_str!("../../../catalog/contact-currents.csv")),
    ("shipped:contacts.csv", include_str!("../../../catalog/contacts.csv")),
    ("shipped:crimp-tensile.csv", include_str!("../../../catalog/crimp-tensile.csv")),
    ("shipped:derating-altitude-air.csv", include_str!("../../../catalog/derating-altitude-air.csv")),
    ("shipped:derating-bundle-air.csv", include_str!("../../../catalog/derating-bundle-air.csv")),
    ("shipped:device-ambients.csv", include_str!("../../../catalog/device-ambients.csv")),
    ("shipped:devices.csv", include_str!("../../../catalog/devices.csv")),
    ("shipped:insulations.csv", include_str!("../../../catalog/insulations.csv")),
    ("shipped:mass-growth.csv", include_str!("../../../catalog/mass-growth.csv")),
    ("shipped:platings.csv", include_str!("../../../catalog/platings.csv")),
    ("shipped:profiles.toml", include_str!("../../../catalog/profiles.toml")),
    ("shipped:support-pitch.csv", include_str!("../../../catalog/support-pitch.csv")),
    ("shipped:protector-gauges.csv", include_str!("../../../catalog/protector-gauges.csv")),
    ("shipped:shield-ends.csv", include_str!("../../../catalog/shield-ends.csv")),
    ("shipped:spare-contacts.csv", include_str!("../../../catalog/spare-contacts.csv")),
    ("shipped:test-levels.csv", include_str!("../../../catalog/test-levels.csv")),
    ("shipped:trip-bands.csv", include_str!("../../../catalog/trip-bands.csv")),
    ("shipped:wires.csv", include_str!("../../../catalog/wires.csv")),
];

/// Which files to read, and as what; each list in the order of paths, shipped data last.
#[derive(Default)]
pub(crate) struct Folder {
    pub(crate) tables: Vec<FileId>,
    pub(crate) wire_lists: Vec<FileId>,
    pub(crate) pin_lists: Vec<FileId>,
    pub(crate) profiles: Vec<FileId>,
    pub(crate) wire_types: Vec<FileId>,
    pub(crate) contact_sizes: Vec<FileId>,
    pub(crate) contact_currents: Vec<FileId>,
    pub(crate) arrangements: Vec<FileId>,
    pub(crate) bend_radii: Vec<FileId>,
    pub(crate) support_pitch: Vec<FileId>,
    /// Lists of wire currents and masses, by their number in [`catalog::LISTS`].
    pub(crate) lists: Vec<(usize, FileId)>,
    pub(crate) shipped_lists: Vec<(usize, FileId)>,
    pub(crate) shipped_profiles: Vec<FileId>,
    pub(crate) shipped_wire_types: Vec<FileId>,
    pub(crate) shipped_contact_sizes: Vec<FileId>,
    pub(crate) shipped_contact_currents: Vec<FileId>,
    pub(crate) shipped_arrangements: Vec<FileId>,
    pub(crate) shipped_bend_radii: Vec<FileId>,
    pub(crate) shipped_support_pitch: Vec<FileId>,
    /// A file that would have been read could not be: what seems to be missing may stand there.
    pub(crate) unsure: bool,
}

/// Decodes the files that have a meaning here.
pub(crate) fn open(files: &[(String, Vec<u8>)], sources: &mut Sources, out: &mut Problems) -> Folder {
    let mut folder = Folder::default();
    let mut order: Vec<&(String, Vec<u8>)> = files.iter().collect();
    order.sort();
    let mut taken = Taken::default();
    for (path, bytes) in order {
        let Some(part) = part_of(path) else { continue };
        if part == Part::NotRead {
            let file = sources.add(path.as_str(), String::new());
            out.push(not_read(path, span(file, 0..0)));
            continue;
        }
        let is_list = !matches!(part, Part::Tables | Part::Profiles);
        let file = match taken.too_large(path, bytes, is_list) {
            Some((message, help)) => {
                let file = sources.add(path.as_str(), String::new());
                out.push(Diagnostic::error(codes::TOO_LARGE, span(file, 0..0), "", message).help(help));
                None
            }
            None => decode(path, bytes, sources, out),
        };
        let Some(file) = file else {
            folder.unsure = true;
            continue;
        };
        match part {
            Part::Tables => folder.tables.push(file),
            Part::WireList => folder.wire_lists.push(file),
            Part::PinList => folder.pin_lists.push(file),
            Part::Profiles => folder.profiles.push(file),
            Part::WireTypes => folder.wire_types.push(file),
            Part::ContactSizes => folder.contact_sizes.push(file),
            Part::ContactCurrents => folder.contact_currents.push(file),
            Part::Arrangements => folder.arrangements.push(file),
            Part::BendRadii => folder.bend_radii.push(file),
            Part::SupportPitch => folder.support_pitch.push(file),
            Part::List(list) => folder.lists.push((list, file)),
            Part::NotRead => {}
        }
    }
    for (path, text) in SHIPPED {
        let file = sources.add(path, text.to_owned());
        if let Some(list) = path.strip_prefix("shipped:").and_then(list_of_catalog) {
            folder.shipped_lists.push((list, file));
            continue;
        }
        match path {
            "shipped:profiles.toml" => folder.shipped_profiles.push(file),
            "shipped:arrangements.csv" => folder.shipped_arrangements.push(file),
            "shipped:bend-radii.csv" => folder.shipped_bend_radii.push(file),
            "shipped:support-pitch.csv" => folder.shipped_support_pitch.push(file),
            "shipped:contact-currents.csv" => folder.shipped_contact_currents.push(file),
            "shipped:wires.csv" => folder.shipped_wire_types.push(file),
            _ => folder.shipped_contact_sizes.push(file),
        }
    }
    folder
}

#[derive(Clone, Copy, PartialEq)]
enum Part {
    Tables,
    WireList,
    PinList,
    Profiles,
    WireTypes,
    ContactSizes,
    ContactCurrents,
    Arrangements,
    BendRadii,
    SupportPitch,
    /// One of [`catalog::LISTS`].
    List(usize),
    NotRead,
}

/// Ends of names that people expect to be read as lists.
const WORKBOOKS: [&str; 5] = [".xlsx", ".xlsm", ".xls", ".ods", ".tsv"];

/// Whether a file that is not read looks as if it were meant to be: it must not be passed over in silence.
pub fn is_near(path: &str) -> bool {
    let folded = path.to_lowercase();
    folded.ends_with(".toml") || folded.ends_with(".csv") || WORKBOOKS.iter().any(|end| folded.ends_with(end))
}

/// `wires.csv` or `wires-….csv`.
fn is_list(name: &str, stem: &str) -> bool {
    let rest = name.strip_prefix(stem).and_then(|rest| rest.strip_suffix(".csv"));
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
}

/// Which list of wire currents or masses a file of the catalog is.
fn list_of_catalog(name: &str) -> Option<usize> {
    catalog::LISTS.iter().position(|(stem, _)| is_list(name, stem))
}

/// What a file is by its path; `None` for what is nobody's business here.
fn part_of(path: &str) -> Option<Part> {
    match path.strip_prefix("catalog/") {
        Some(name) if name.contains('/') => None,
        Some(name) if name.ends_with(".toml") => Some(Part::Profiles),
        Some(name) if is_list(name, "wires") => Some(Part::WireTypes),
        Some(name) if is_list(name, "contacts") => Some(Part::ContactSizes),
        Some(name) if is_list(name, "contact-currents") => Some(Part::ContactCurrents),
        Some(name) if is_list(name, "arrangements") => Some(Part::Arrangements),
        Some(name) if is_list(name, "bend-radii") => Some(Part::BendRadii),
        Some(name) if is_list(name, "support-pitch") => Some(Part::SupportPitch),
        Some(name) => match list_of_catalog(name) {
            Some(list) => Some(Part::List(list)),
            None => is_near(name).then_some(Part::NotRead),
        },
        None if path.contains('/') => None,
        None if path.ends_with(".toml") => Some(Part::Tables),
        None if is_list(path, "wires") => Some(Part::WireList),
        None if is_list(path, "pins") => Some(Part::PinList),
        None if is_near(path) => Some(Part::NotRead),
        None => None,
    }
}

/// A file that was handed over, though it is none of those that are read.
fn not_read(path: &str, at: model::Span) -> Diagnostic {
    let folded = path.to_lowercase();
    let help = if folded != *path && part_of(&folded).is_some_and(|part| part != Part::NotRead) {
        format!("write its name in small letters: {folded}")
    } else if WORKBOOKS.iter().any(|end| folded.ends_with(end)) {
        "take its list over with `loomwright import FILE DIR`, or save its sheet as wires.csv".to_owned()
    } else if path.starts_with("catalog/") {
        let more = catalog::LISTS.iter().map(|(stem, _)| format!(", {stem}.csv")).collect::<String>();
        format!(
            "catalogs are wires.csv, contacts.csv, contact-currents.csv, arrangements.csv, bend-radii.csv, support-pitch.csv{more} \
             (or wires-….csv and so on) and ….toml"
        )
    } else {
        "a wire list is named wires.csv or wires-….csv, a list of pins pins.csv or pins-….csv".to_owned()
    };
    let message = format!("{path} was not read: its name says nothing to this program");
    Diagnostic::error(codes::FILE_NOT_READ, at, "", message).help(help).warning()
}

/// What the files so far hold.
#[derive(Default)]
struct Taken {
    files: usize,
    bytes: usize,
    lines: usize,
    marks: usize,
}

impl Taken {
    /// Counts a file; what is too large about it, and what to do.
    fn too_large(&mut self, path: &str, bytes: &[u8], is_list: bool) -> Option<(String, &'static str)> {
        const SPLIT: &str = "is it the right file? the folder may be split into vehicles";
        let most = if is_list { limits::LIST_BYTES } else { limits::TABLES_BYTES };
        self.files += 1;
        self.bytes = self.bytes.saturating_add(bytes.len());
        if bytes.len() > most {
            return Some((format!("{path} has {} bytes; {most} are read", bytes.len()), SPLIT));
        }
        if self.files > limits::FILES {
            return Some((format!("{path} was not read: the folder has more than {} files", limits::FILES), SPLIT));
        }
        if self.bytes > limits::FOLDER_BYTES {
            return Some((format!("{path} was not read: the folder has more than {} bytes", limits::FOLDER_BYTES), SPLIT));
        }
        let count = |wanted: &[u8]| bytes.iter().filter(|b| wanted.contains(b)).count();
        if is_list {
            self.lines += count(b"\n\r").max(1);
            if self.lines > limits::LINES {
                return Some((format!("{path} was not read: the lists have more than {} lines", limits::LINES), SPLIT));
            }
        } else {
            self.marks += count(b"=,[]{}\n");
            if self.marks > limits::MARKS {
                return Some((format!("{path} was not read: the tables have more than {} lines and marks", limits::MARKS), SPLIT));
            }
        }
        None
    }
}

const AS_UTF8: &str = "save it as UTF-8; in a spreadsheet program: CSV UTF-8, comma delimited";

/// What bytes are that are no text, by their beginning.
fn not_text(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    match bytes {
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => Some(("UTF-16 text", AS_UTF8)),
        [b'P', b'K', 3, 4, ..] => Some(("a workbook or another archive", "save its sheet as CSV; another name does not make it text")),
        [0xD0, 0xCF, 0x11, 0xE0, ..] => Some(("an old workbook", "save its sheet as CSV; another name does not make it text")),
        [0x1F, 0x8B, ..] => Some(("a compressed file", "unpack it")),
        _ => None,
    }
}

fn decode(path: &str, bytes: &[u8], sources: &mut Sources, out: &mut Problems) -> Option<FileId> {
    if let Some((what, help)) = not_text(bytes) {
        let file = sources.add(path, String::new());
        out.push(Diagnostic::error(codes::NOT_TEXT, span(file, 0..0), "", format!("{path} is {what}")).help(help));
        return None;
    }
    let mut bytes = bytes;
    // Files joined by hand may bring the mark of their encoding twice.
    while let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        bytes = rest;
    }
    let mut text = String::with_capacity(bytes.len());
    // Past the first few, the encoding as a whole is wrong and every further place says the same.
    const PLACES: usize = 20;
    let mut faults = Vec::new();
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            if faults.len() < PLACES {
                faults.push((text.len(), chunk.invalid()[0]));
            }
            text.push(char::REPLACEMENT_CHARACTER);
        }
    }
    // Line ends of an old kind, one byte for another: places stay where they are.
    if text.contains('\r') && !text.contains('\n') {
        text = text.replace('\r', "\n");
    }
    let long = {
        let mut start = 0;
        text.split_inclusive('\n').find_map(|line| {
            let at = start;
            start += line.len();
            (line.len() > limits::LINE_BYTES).then_some(at)
        })
    };
    let nul = text.find('\0');
    let file = sources.add(path, text);
    if let Some(at) = nul {
        let message = format!("{path} is no text: it has NUL bytes");
        out.push(Diagnostic::error(codes::NOT_TEXT, span(file, at..at + 1), "", message).help(AS_UTF8));
        return None;
    }
    for (at, byte) in faults {
        out.push(
            Diagnostic::error(codes::NOT_UTF8, span(file, at..at + 3), "", format!("the byte 0x{byte:02X} is not UTF-8"))
                .help("save the file as UTF-8"),
        );
    }
    if let Some(at) = long {
        out.push(
            Diagnostic::error(codes::TOO_LARGE, span(file, at..at), "", format!("a line longer than {} bytes", limits::LINE_BYTES))
                .help("is a line end or a closing quote missing?"),
        );
        return None;
    }
    Some(file)
}
