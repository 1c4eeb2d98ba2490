//! Writes the documents of a vehicle into a folder: all of them or none, and never over what it did not write itself.

use crate::generation;
use crate::session::Failure;
use input::import::hash;
use std::fs;
use std::path::Path;

/// Names every document with its hash, so that the next run knows its own.
pub(crate) const INDEX: &str = "build.txt";
const FIRST_LINE: &str = "loomwright build 1";

type Files = Vec<(String, Vec<u8>)>;

/// Adds the index to the documents and writes them.
pub(crate) fn write(folder: &Path, heading: &str, mut files: Files, force: bool) -> Result<usize, Failure> {
    generation::settle(folder)?;
    may_be_replaced(folder, force)?;
    let lines: String = files.iter().map(|(path, bytes)| format!("{}  {path}\n", hash(bytes))).collect();
    files.push((INDEX.to_owned(), format!("{FIRST_LINE}\n{heading}\n{lines}").into_bytes()));
    generation::renew(folder, &files)?;
    Ok(files.len())
}

/// Whether a folder is new, empty, or holds what this command wrote and nobody has changed since.
fn may_be_replaced(folder: &Path, force: bool) -> Result<(), Failure> {
    let refuse = |why: String| Err(Failure::Output(format!("{}: {why}", folder.display())));
    if !folder.exists() {
        return Ok(());
    }
    if !folder.is_dir() {
        return refuse("is no folder; give another".to_owned());
    }
    let mut found = Vec::new();
    list(folder, "", &mut found).map_err(|error| Failure::Output(format!("{}: {error}", folder.display())))?;
    if found.is_empty() {
        return Ok(());
    }
    let index = fs::read_to_string(folder.join(INDEX)).unwrap_or_default();
    let mut lines = index.lines();
    if lines.next() != Some(FIRST_LINE) {
        return refuse("holds files that `build` did not write; give a new folder".to_owned());
    }
    let known: Vec<(&str, &str)> = lines.skip(1).filter_map(|line| line.split_once("  ")).collect();
    for path in found.iter().filter(|path| *path != INDEX) {
        let Some((was, _)) = known.iter().find(|(_, of)| of == path) else {
            return refuse(format!("{path} is not from `build` and would be lost; move it away or give a new folder"));
        };
        let bytes = fs::read(folder.join(path)).map_err(|error| Failure::Output(format!("{path}: {error}")))?;
        if hash(&bytes) != *was && !force {
            return refuse(format!("{path} was changed since it was written; --force writes over it"));
        }
    }
    Ok(())
}

/// Files below a folder, with forward slashes, in order.
fn list(folder: &Path, prefix: &str, found: &mut Vec<String>) -> std::io::Result<()> {
    let mut entries: Vec<_> = fs::read_dir(folder)?.collect::<Result<_, _>>()?;
    entries.sort_by_key(std::fs::DirEntry::file_name);
    for entry in entries {
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.file_type()?.is_dir() {
            list(&entry.path(), &format!("{name}/"), found)?;
        } else {
            found.push(name);
        }
    }
    Ok(())
}
