//! `start`: a new vehicle folder from a shipped example.

use crate::session::{Failure, Session};
use include_dir::{Dir, include_dir};
use std::fs;
use std::path::Path;

static EXAMPLES: Dir = include_dir!("$CARGO_MANIFEST_DIR/../../examples");

/// Names of the shipped examples.
pub(crate) fn examples() -> Vec<String> {
    let mut names: Vec<String> =
        EXAMPLES.dirs().filter_map(|dir| dir.path().file_name()).map(|name| name.to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// Writes an example into a folder that is empty or not there yet; gives back the paths written.
pub(crate) fn start(session: &Session, folder: &Path, example: &str) -> Result<Vec<String>, Failure> {
    let Some(source) = EXAMPLES.get_dir(example) else {
        return Err(Failure::Problem(format!("no example {example:?}; there are {}", examples().join(", "))));
    };
    let folder = session.path(folder);
    let shown = folder.display();
    if folder.exists() {
        let mut entries = fs::read_dir(&folder).map_err(|e| Failure::Problem(format!("{shown}: {e}")))?;
        if entries.next().is_some() {
            return Err(Failure::Problem(format!("{shown} is not empty; name a folder that is new or empty")));
        }
    }
    let mut written = Vec::new();
    write(source, source.path(), &folder, &mut written).map_err(|error| Failure::Output(format!("{shown}: {error}")))?;
    written.sort();
    Ok(written)
}

fn write(dir: &Dir, root: &Path, folder: &Path, written: &mut Vec<String>) -> std::io::Result<()> {
    for file in dir.files() {
        let relative = file.path().strip_prefix(root).unwrap_or(file.path());
        let target = folder.join(relative);
        if let Some(parent) = target.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(&target, file.contents())?;
        written.push(relative.to_string_lossy().replace('\\', "/"));
    }
    for inner in dir.dirs() {
        write(inner, root, folder, written)?;
    }
    Ok(())
}
