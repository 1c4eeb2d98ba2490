//! Reads a vehicle folder: `*.toml` and `*.csv` at its top, and `catalog/*.toml|csv`.

use crate::generation;
use crate::session::Failure;
use input::limits;
use std::fs::{self, File};
use std::io::Read;
use std::path::Path;

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

/// A file beside the vehicle that an argument names.
pub(crate) fn read_one(path: &Path) -> Result<Vec<u8>, Failure> {
    fs::read(path).map_err(|error| Failure::Problem(format!("{}: {error}", path.display())))
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

/// Reads what may be meant as input; what is too large is refused before it fills the memory.
fn take(folder: &Path, prefix: &str, files: &mut Vec<(String, Vec<u8>)>) -> Result<(), Failure> {
    let fault = |path: &Path, error: std::io::Error| Failure::Problem(format!("{}: {error}", path.display()));
    let problem = |path: &Path, what: &str| Err(Failure::Problem(format!("{}: {what}", path.display())));
    // The order in which a folder is listed is no one's choice, and which file is one too many must not depend on it.
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(|e| fault(folder, e))? {
        let name = entry.map_err(|e| fault(folder, e))?.file_name();
        let shown = name.to_string_lossy().into_owned();
        if input::is_near(&shown) && !shown.starts_with('.') {
            names.push((shown, name));
        }
        if names.len() + files.len() > limits::FILES {
            return problem(folder, &format!("more than {} files to read; is it the vehicle's folder?", limits::FILES));
        }
    }
    names.sort();
    let mut total: usize = files.iter().map(|(_, bytes)| bytes.len()).sum();
    for (shown, name) in names {
        let path = folder.join(&name);
        let meta = fs::metadata(&path).map_err(|e| fault(&path, e))?;
        // A pipe or a device might never end; a folder of such a name is not what anybody meant.
        if !meta.is_file() {
            let what = if meta.is_dir() { "is a folder" } else { "is a pipe or a device, not a file" };
            return problem(&path, &format!("{what}; give it another name, or put a file in its place"));
        }
        // What is not read needs no bytes: its name alone is told.
        let is_read = shown.ends_with(".toml") || shown.ends_with(".csv");
        let mut bytes = Vec::new();
        if is_read {
            // The size is that of a moment ago, and of some files not stated at all.
            let most = if shown.ends_with(".csv") { limits::LIST_BYTES } else { limits::TABLES_BYTES };
            let open = File::open(&path).map_err(|e| fault(&path, e))?;
            open.take(most as u64 + 1).read_to_end(&mut bytes).map_err(|e| fault(&path, e))?;
            if bytes.len() > most {
                return problem(&path, &format!("larger than the {} MB that such a file may have", most / 1_000_000));
            }
            total += bytes.len();
            if total > limits::FOLDER_BYTES {
                return problem(&path, &format!("with it the folder has more than {} MB to read", limits::FOLDER_BYTES / 1_000_000));
            }
        }
        files.push((format!("{prefix}{shown}"), bytes));
    }
    Ok(())
}
