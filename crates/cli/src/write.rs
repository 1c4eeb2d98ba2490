//! Writes an output file: whole or not at all, and never over another without being told.

use crate::session::{Failure, Session};
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::Path;

/// Writes bytes to a file, or prints them where the name is `-`.
pub(crate) fn output(session: &mut Session, name: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    if name == Path::new("-") {
        return session.print_bytes(bytes);
    }
    is_free(session, name, force)?;
    let path = session.path(name);
    replace(&path, bytes).map_err(|error| Failure::Output(format!("{}: {error}", path.display())))
}

/// Whether a file may be written: nothing stands there, or `--force` is given.
pub(crate) fn is_free(session: &Session, name: &Path, force: bool) -> Result<(), Failure> {
    let path = session.path(name);
    match name != Path::new("-") && path.exists() && !force {
        true => Err(Failure::Output(format!("{} exists already; --force writes over it", path.display()))),
        false => Ok(()),
    }
}

fn replace(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let name = path.file_name().ok_or_else(|| std::io::Error::other("not a file name"))?;
    let temporary = path.with_file_name(format!(".{}.{}.tmp", name.to_string_lossy(), std::process::id()));
    let written = OpenOptions::new().write(true).create_new(true).open(&temporary).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    let done = written.and_then(|()| fs::rename(&temporary, path));
    if done.is_err() {
        // Best effort: the error that matters is the one above.
        let _ = fs::remove_file(&temporary);
    }
    done
}
