//! The files of a folder: decoded, measured, sorted by what they are.

use crate::codes;
use crate::problems::Problems;
use crate::value::span;
use model::{Diagnostic, FileId, Sources};

const BYTES_AT_MOST: usize = 100_000_000;
const LINE_AT_MOST: usize = 1_000_000;

/// Data that every vehicle can use, compiled in; the reader treats it as it treats a user's catalog.
const SHIPPED: [(&str, &str); 5] = [
    ("shipped:arrangements.csv", include_str!("../../../catalog/arrangements.csv")),
    ("shipped:contact-currents.csv", include_str!("../../../catalog/contact-currents.csv")),
    ("shipped:contacts.csv", include_str!("../../../catalog/contacts.csv")),
    ("shipped:profiles.toml", include_str!("../../../catalog/profiles.toml")),
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
    pub(crate) shipped_profiles: Vec<FileId>,
    pub(crate) shipped_wire_types: Vec<FileId>,
    pub(crate) shipped_contact_sizes: Vec<FileId>,
    pub(crate) shipped_contact_currents: Vec<FileId>,
    pub(crate) shipped_arrangements: Vec<FileId>,
    /// A file that would have been read could not be: what seems to be missing may stand there.
    pub(crate) unsure: bool,
}

/// Decodes the files that have a meaning here.
pub(crate) fn open(files: &[(String, Vec<u8>)], sources: &mut Sources, out: &mut Problems) -> Folder {
    let mut folder = Folder::default();
    let mut order: Vec<&(String, Vec<u8>)> = files.iter().collect();
    order.sort();
    for (path, bytes) in order {
        let Some(part) = part_of(path) else { continue };
        if part == Part::NotRead {
            let file = sources.add(path.as_str(), String::new());
            let help = if path.starts_with("catalog/") {
                "catalogs are wires.csv, contacts.csv, contact-currents.csv, arrangements.csv (or wires-….csv and so on) and ….toml"
            } else {
                "a wire list is named wires.csv or wires-….csv, a list of pins pins.csv or pins-….csv"
            };
            out.push(
                Diagnostic::error(
                    codes::FILE_NOT_READ,
                    span(file, 0..0),
                    "",
                    format!("{path} was not read: its name says nothing to this program"),
                )
                .help(help)
                .warning(),
            );
            continue;
        }
        let Some(file) = decode(path, bytes, sources, out) else {
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
            Part::NotRead => {}
        }
    }
    for (path, text) in SHIPPED {
        let file = sources.add(path, text.to_owned());
        match path {
            "shipped:profiles.toml" => folder.shipped_profiles.push(file),
            "shipped:arrangements.csv" => folder.shipped_arrangements.push(file),
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
    NotRead,
}

/// What a file is by its path; `None` for what is nobody's business here.
fn part_of(path: &str) -> Option<Part> {
    let is_list =
        |name: &str, stem: &str| name == format!("{stem}.csv") || (name.starts_with(&format!("{stem}-")) && name.ends_with(".csv"));
    match path.strip_prefix("catalog/") {
        Some(name) if name.contains('/') => None,
        Some(name) if name.ends_with(".toml") => Some(Part::Profiles),
        Some(name) if is_list(name, "wires") => Some(Part::WireTypes),
        Some(name) if is_list(name, "contacts") => Some(Part::ContactSizes),
        Some(name) if is_list(name, "contact-currents") => Some(Part::ContactCurrents),
        Some(name) if is_list(name, "arrangements") => Some(Part::Arrangements),
        Some(name) if name.ends_with(".csv") => Some(Part::NotRead),
        Some(_) => None,
        None if path.contains('/') => None,
        None if path.ends_with(".toml") => Some(Part::Tables),
        None if is_list(path, "wires") => Some(Part::WireList),
        None if is_list(path, "pins") => Some(Part::PinList),
        None if path.ends_with(".csv") => Some(Part::NotRead),
        None => None,
    }
}

fn decode(path: &str, bytes: &[u8], sources: &mut Sources, out: &mut Problems) -> Option<FileId> {
    if bytes.len() > BYTES_AT_MOST {
        let file = sources.add(path, String::new());
        out.push(
            Diagnostic::error(
                codes::TOO_LARGE,
                span(file, 0..0),
                "",
                format!("{path} has {} bytes; {BYTES_AT_MOST} are read", bytes.len()),
            )
            .help("split it: every .toml, wires-….csv and pins-….csv of the folder is read"),
        );
        return None;
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut text = String::with_capacity(bytes.len());
    let mut faults = Vec::new();
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            faults.push((text.len(), chunk.invalid()[0]));
            text.push(char::REPLACEMENT_CHARACTER);
        }
    }
    let long = {
        let mut start = 0;
        text.split_inclusive('\n').find_map(|line| {
            let at = start;
            start += line.len();
            (line.len() > LINE_AT_MOST).then_some(at)
        })
    };
    let file = sources.add(path, text);
    // Past the first few, the encoding as a whole is wrong and every further place says the same.
    for (at, byte) in faults.iter().take(20) {
        out.push(
            Diagnostic::error(codes::NOT_UTF8, span(file, *at..*at + 3), "", format!("the byte 0x{byte:02X} is not UTF-8"))
                .help("save the file as UTF-8"),
        );
    }
    if let Some(at) = long {
        out.push(Diagnostic::error(codes::TOO_LARGE, span(file, at..at), "", format!("a line longer than {LINE_AT_MOST} bytes")));
        return None;
    }
    Some(file)
}
