//! Reads a vehicle folder: `*.toml` and `*.csv` at its top, and `catalog/*.toml|csv`.

use crate::generation;
use crate::session::Failure;
use std::fs;
use std::path::Path;

/// Larger files are refused before they are read into memory; the reader states the same limit.
const LARGEST: u64 = 100_000_000;

/// Files of a vehicle folder as `(path in the folder, bytes)`, sorted by path.
pub(crate) fn read(folder: &Path) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    if !folder.is_dir() {
        let what = if folder.exists() { "is not a folder" } else { "there is no such folder" };
        return Err(Failure::Problem(format!("{}: {what}; `loomwright start DIR` begins one", folder.display())));
    }
    generation::finish(folder)?;
    let mut files = Vec::new();
    take(folder, "", &mut files)?;
    if files.is_empty() {
        let folder = folder.display();
        return Err(Failure::Problem(format!(
            "{folder}: no *.toml or *.csv file here; give the vehicle's folder with -C DIR, or begin one with `loomwright start DIR`"
        )));
    }
    let catalog = folder.join("catalog");
    if catalog.is_dir() {
        take(&catalog, "catalog/", &mut files)?;
    }
    files.sort();
    Ok(files)
}

/// What the last import kept in `imports/`, of files that the next one needs.
pub(crate) fn read_kept(folder: &Path) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let mut files = Vec::new();
    for path in input::import::KEPT {
        match fs::read(folder.join(path)) {
            Ok(bytes) => files.push((path.to_owned(), bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(Failure::Problem(format!("{}: {error}", folder.join(path).display()))),
        }
    }
    Ok(files)
}

fn take(folder: &Path, prefix: &str, files: &mut Vec<(String, Vec<u8>)>) -> Result<(), Failure> {
    let fault = |path: &Path, error: std::io::Error| Failure::Problem(format!("{}: {error}", path.display()));
    for entry in fs::read_dir(folder).map_err(|e| fault(folder, e))? {
        let path = entry.map_err(|e| fault(folder, e))?.path();
        let Some(name) = path.file_name().map(|name| name.to_string_lossy().into_owned()) else { continue };
        let is_input = matches!(path.extension().and_then(|e| e.to_str()), Some("toml" | "csv"));
        if !is_input || name.starts_with('.') {
            continue;
        }
        let meta = fs::metadata(&path).map_err(|e| fault(&path, e))?;
        if !meta.is_file() {
            continue;
        }
        if meta.len() > LARGEST {
            let megabytes = meta.len() / 1_000_000;
            return Err(Failure::Problem(format!("{}: {megabytes} MB is more than the 100 MB a file may have", path.display())));
        }
        files.push((format!("{prefix}{name}"), fs::read(&path).map_err(|e| fault(&path, e))?));
    }
    Ok(())
}
