//! What the trials share: reading folders, building designs from text, finding rows by name.
//!
//! Test support: every function panics with the whole story where something is not as the test says.

use model::*;
use std::path::{Path, PathBuf};

/// The workspace.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Files at the top of a vehicle folder and in its `catalog`, in order of path.
pub fn read_folder(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for (prefix, folder) in [("", folder.to_owned()), ("catalog/", folder.join("catalog"))] {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            assert!(!prefix.is_empty(), "no folder {}", folder.display());
            continue;
        };
        for entry in entries {
            let path = entry.expect("a folder's entry can be read").path();
            let name = path.file_name().and_then(|n| n.to_str()).expect("file names here are UTF-8").to_owned();
            if name.ends_with(".toml") || name.ends_with(".csv") {
                files.push((format!("{prefix}{name}"), std::fs::read(&path).expect("a file of the project can be read")));
            }
        }
    }
    files.sort();
    files
}

/// A file of the project as text.
pub fn read_text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|why| panic!("{}: {why}", path.display()))
}

/// A design from files that must load without error.
pub fn design(files: &[(String, Vec<u8>)]) -> Design {
    let loaded = input::load(files);
    let said: Vec<String> = loaded
        .diagnostics
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .map(|d| {
            let at = d.places.first().map(|place| loaded.sources.position(place.at));
            let at = at.map_or(String::new(), |p| format!("{}:{}:{}: ", p.path, p.line, p.column));
            format!("{at}{} {}", d.code.0, d.message)
        })
        .collect();
    loaded.design.unwrap_or_else(|| panic!("the input does not load:\n{}", said.join("\n")))
}

/// A design from one TOML text; `format = 1` is put before it.
pub fn design_of(toml: &str) -> Design {
    design(&[("vehicle.toml".to_owned(), format!("format = 1\nname = \"trial\"\n{toml}").into_bytes())])
}

/// The id of the row with a name.
pub fn named<T>(table: &Table<T>, name: &str, name_of: impl Fn(&T) -> &Name) -> Id<T> {
    let found = table.iter().find(|(_, row)| &**name_of(row) == name).map(|(id, _)| id);
    found.unwrap_or_else(|| panic!("no row {name}"))
}

/// A load by name.
pub fn load(design: &Design, name: &str) -> Id<Load> {
    named(&design.loads, name, |row| &row.name)
}

/// A receiver by name.
pub fn receiver(design: &Design, name: &str) -> Id<Receiver> {
    named(&design.receivers, name, |row| &row.name)
}

/// Asserts that two numbers agree within an absolute tolerance.
#[track_caller]
pub fn close(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
}
