//! Several files of a folder written as one: whoever looks, and whenever the program is ended, finds all of them old or all new.
//!
//! A new folder is written beside its place and renamed into it. Of a folder that is there, the new files are written to
//! `imports/.staging`, with the old ones as backup and a journal. Renaming it to `imports/.next` is the moment at which the new
//! generation holds: from then on the files are moved into place, and if that is cut short, the next command that reads the folder
//! moves the rest first.

use crate::session::Failure;
use input::import::hash;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

const STAGING: &str = "imports/.staging";
const NEXT: &str = "imports/.next";
const LOCK: &str = "imports/.lock";
/// Stands in a folder of documents while it is written.
const BUSY: &str = ".busy";
const JOURNAL: &str = "journal.csv";
/// Stands in the journal for a file that was not there.
const ABSENT: &str = "-";

type Files = [(String, Vec<u8>)];

/// Writes a folder that is new or empty.
pub(crate) fn begin(folder: &Path, files: &Files) -> Result<(), Failure> {
    let fault = |error: std::io::Error| Failure::Output(format!("{}: {error}", folder.display()));
    let name = folder.file_name().ok_or_else(|| Failure::Problem(format!("{} names no folder", folder.display())))?;
    let staged = folder.with_file_name(format!(".{}.importing", name.to_string_lossy()));
    if staged.exists() {
        // Left by a program that was ended, unless it is still at work.
        if let Ok(lock) = File::open(staged.join(LOCK)) {
            not_at_work(&lock, folder)?;
        }
        fs::remove_dir_all(&staged).map_err(fault)?;
    }
    let made = || -> std::io::Result<File> {
        fs::create_dir_all(staged.join("imports"))?;
        let lock = File::create(staged.join(LOCK))?;
        lock.lock()?;
        write_all(&staged, files)?;
        if folder.exists() {
            fs::remove_dir(folder)?;
        }
        fs::rename(&staged, folder)?;
        sync_folder(folder.parent())?;
        Ok(lock)
    };
    made().map(drop).map_err(|error| {
        // Best effort: the error that matters is the one above.
        let _ = fs::remove_dir_all(&staged);
        fault(error)
    })
}

/// Writes a folder anew, in place of the one that is there: whoever looks finds all old or all new files, or, for a moment, no folder, with the old one
/// beside it, which [`settle`] puts back.
pub(crate) fn renew(folder: &Path, files: &Files) -> Result<(), Failure> {
    let fault = |error: std::io::Error| Failure::Output(format!("{}: {error}", folder.display()));
    let (staged, before) = beside(folder)?;
    if let Some(parent) = folder.parent() {
        fs::create_dir_all(parent).map_err(fault)?;
    }
    if staged.exists() {
        if let Ok(lock) = File::open(staged.join(BUSY)) {
            not_at_work(&lock, folder)?;
        }
        fs::remove_dir_all(&staged).map_err(fault)?;
    }
    let made = || -> std::io::Result<()> {
        fs::create_dir(&staged)?;
        let lock = File::create(staged.join(BUSY))?;
        lock.lock()?;
        write_all(&staged, files)?;
        fs::remove_file(staged.join(BUSY))?;
        if folder.exists() {
            fs::rename(folder, &before)?;
        }
        fs::rename(&staged, folder)?;
        sync_folder(folder.parent())?;
        if before.exists() {
            fs::remove_dir_all(&before)?;
        }
        Ok(())
    };
    made().map_err(|error| {
        // Best effort: the error that matters is the one above.
        let _ = fs::remove_dir_all(&staged);
        let _ = settle(folder);
        fault(error)
    })
}

/// Puts a folder back, or takes the old one away, where [`renew`] was cut short.
pub(crate) fn settle(folder: &Path) -> Result<(), Failure> {
    let (_, before) = beside(folder)?;
    let settled = match (before.exists(), folder.exists()) {
        (true, false) => fs::rename(&before, folder),
        (true, true) => fs::remove_dir_all(&before),
        _ => Ok(()),
    };
    settled.map_err(|error| Failure::Output(format!("{}: {error}", folder.display())))
}

/// Where a folder is written before it takes its place, and where the old one goes.
fn beside(folder: &Path) -> Result<(PathBuf, PathBuf), Failure> {
    let name = folder.file_name().ok_or_else(|| Failure::Problem(format!("{} names no folder", folder.display())))?;
    let name = name.to_string_lossy();
    Ok((folder.with_file_name(format!(".{name}.building")), folder.with_file_name(format!(".{name}.before"))))
}

/// Puts new files in the place of old ones; gives back where the old ones are kept.
pub(crate) fn replace(folder: &Path, old: &Files, new: &Files) -> Result<Option<String>, Failure> {
    let fault = |error: std::io::Error| Failure::Output(format!("{}: {error}", folder.display()));
    fs::create_dir_all(folder.join("imports")).map_err(fault)?;
    let lock = lock_file(folder).map_err(fault)?;
    not_at_work(&lock, folder)?;
    let staging = folder.join(STAGING);
    let staged = || -> std::io::Result<Option<String>> {
        if staging.exists() {
            fs::remove_dir_all(&staging)?;
        }
        let was = |path: &str| old.iter().find(|(p, _)| p == path).map(|(_, bytes)| bytes);
        let backup: Vec<(String, Vec<u8>)> =
            new.iter().filter_map(|(path, _)| Some((format!("backup/{path}"), was(path)?.clone()))).collect();
        let numbers = (1..).map(|n| format!("imports/backup-{n}")).find(|path| !folder.join(path).exists());
        let keeps = numbers.filter(|_| !backup.is_empty());
        let mut journal = format!("{},,\n", keeps.as_deref().unwrap_or(ABSENT));
        for (path, bytes) in new {
            journal.push_str(&format!("{path},{},{}\n", was(path).map_or(ABSENT.to_owned(), |b| hash(b)), hash(bytes)));
        }
        let files: Vec<(String, Vec<u8>)> = new.iter().map(|(path, bytes)| (format!("files/{path}"), bytes.clone())).collect();
        write_all(&staging, &files)?;
        write_all(&staging, &backup)?;
        write_all(&staging, &[(JOURNAL.to_owned(), journal.into_bytes())])?;
        Ok(keeps)
    };
    let keeps = staged().map_err(|error| {
        let _ = fs::remove_dir_all(&staging);
        fault(error)
    })?;
    fs::rename(&staging, folder.join(NEXT)).and_then(|()| sync_folder(Some(&folder.join("imports")))).map_err(fault)?;
    move_into_place(folder)?;
    Ok(keeps)
}

/// Moves a generation into place that was cut short, before anything of the folder is read.
pub(crate) fn finish(folder: &Path) -> Result<(), Failure> {
    if !folder.join(NEXT).exists() {
        return Ok(());
    }
    let fault =
        |error: std::io::Error| Failure::Output(format!("{}: an import was cut short and cannot be finished: {error}", folder.display()));
    let lock = lock_file(folder).map_err(fault)?;
    lock.lock().map_err(fault)?;
    // Who held the lock may have finished it.
    if folder.join(NEXT).exists() { move_into_place(folder) } else { Ok(()) }
}

fn lock_file(folder: &Path) -> std::io::Result<File> {
    OpenOptions::new().create(true).truncate(false).write(true).open(folder.join(LOCK))
}

fn not_at_work(lock: &File, folder: &Path) -> Result<(), Failure> {
    match lock.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(Failure::Problem(format!("{}: another import is writing here", folder.display()))),
        Err(TryLockError::Error(error)) => Err(Failure::Output(format!("{}: {error}", folder.display()))),
    }
}

/// Moves what is left of `imports/.next`. Nothing that was changed since by hand is written over.
fn move_into_place(folder: &Path) -> Result<(), Failure> {
    let next = folder.join(NEXT);
    let fault =
        |error: std::io::Error| Failure::Output(format!("{}: an import was cut short and cannot be finished: {error}", folder.display()));
    let journal = match fs::read_to_string(next.join(JOURNAL)) {
        Ok(journal) => journal,
        // The journal goes first when all else is done: what is left is an empty shell.
        Err(error) if error.kind() == ErrorKind::NotFound => return fs::remove_dir_all(&next).map_err(fault),
        Err(error) => return Err(fault(error)),
    };
    let mut lines = journal.lines();
    let keeps = lines.next().and_then(|line| line.split(',').next()).unwrap_or(ABSENT);
    let rows: Vec<Vec<&str>> = lines.map(|line| line.rsplitn(3, ',').collect::<Vec<_>>()).filter(|row| row.len() == 3).collect();
    for row in &rows {
        let (new, old, path) = (row[0], row[1], row[2]);
        let at = folder.join(path);
        let now = match fs::read(&at) {
            Ok(bytes) => hash(&bytes),
            Err(error) if error.kind() == ErrorKind::NotFound => ABSENT.to_owned(),
            Err(error) => return Err(fault(error)),
        };
        if next.join("files").join(path).exists() && now != old && now != new {
            return Err(Failure::Problem(format!(
                "{}: an import was cut short, and {path} was changed since; the version of the import stands in {NEXT}/files/{path}: keep one of the \
                 two as {path}, then delete {NEXT}",
                folder.display()
            )));
        }
    }
    let moved = || -> std::io::Result<()> {
        if next.join("backup").exists() && keeps != ABSENT {
            fs::rename(next.join("backup"), folder.join(keeps))?;
        }
        for row in &rows {
            let (from, to) = (next.join("files").join(row[2]), folder.join(row[2]));
            if from.exists() {
                fs::rename(&from, &to)?;
            }
        }
        sync_folder(Some(folder))?;
        sync_folder(Some(&folder.join("imports")))?;
        fs::remove_file(next.join(JOURNAL))?;
        fs::remove_dir_all(&next)?;
        sync_folder(Some(&folder.join("imports")))
    };
    moved().map_err(fault)
}

/// Writes files below a folder, each made sure to be on the disk, and then the folders.
fn write_all(folder: &Path, files: &Files) -> std::io::Result<()> {
    let mut folders: Vec<PathBuf> = vec![folder.to_path_buf()];
    for (path, bytes) in files {
        let at = folder.join(path);
        if let Some(parent) = at.parent() {
            fs::create_dir_all(parent)?;
            folders.push(parent.to_path_buf());
        }
        let mut file = OpenOptions::new().write(true).create_new(true).open(&at)?;
        file.write_all(bytes)?;
        file.sync_all()?;
    }
    folders.sort();
    folders.dedup();
    folders.iter().rev().try_for_each(|folder| sync_folder(Some(folder)))
}

/// Makes sure that the names in a folder are on the disk; a system that cannot open folders keeps them in order itself.
fn sync_folder(folder: Option<&Path>) -> std::io::Result<()> {
    match folder.filter(|folder| !folder.as_os_str().is_empty()).map(File::open) {
        Some(Ok(folder)) if cfg!(unix) => folder.sync_all(),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(texts: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
        texts.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
    }

    fn read(folder: &Path, path: &str) -> Option<String> {
        fs::read_to_string(folder.join(path)).ok()
    }

    /// A generation that holds, of which `moved` files are in place.
    fn cut(moved: usize) -> tempfile::TempDir {
        let folder = tempfile::tempdir().expect("a folder");
        let (old, new) = (files(&[("a", "old a"), ("b", "old b")]), files(&[("a", "new a"), ("b", "new b"), ("c", "new c")]));
        let journal: String = new
            .iter()
            .map(|(path, bytes)| {
                let was = old.iter().find(|(p, _)| p == path).map_or(ABSENT.to_owned(), |(_, b)| hash(b));
                format!("{path},{was},{}\n", hash(bytes))
            })
            .collect();
        write_all(folder.path(), &old).expect("written");
        write_all(&folder.path().join(NEXT), &[(JOURNAL.to_owned(), format!("imports/backup-1,,\n{journal}").into_bytes())])
            .expect("written");
        for (n, (path, bytes)) in new.iter().enumerate() {
            match n < moved {
                true => fs::write(folder.path().join(path), bytes).expect("written"),
                false => write_all(&folder.path().join(NEXT).join("files"), &[(path.clone(), bytes.clone())]).expect("written"),
            }
        }
        write_all(&folder.path().join(if moved > 0 { "imports/backup-1" } else { "imports/.next/backup" }), &old).expect("written");
        folder
    }

    #[test]
    fn what_was_cut_short_anywhere_is_finished() {
        for moved in 0..=3 {
            let folder = cut(moved);
            assert!(finish(folder.path()).is_ok());
            for path in ["a", "b", "c"] {
                assert_eq!(read(folder.path(), path), Some(format!("new {path}")), "{moved} moved");
            }
            assert_eq!(read(folder.path(), "imports/backup-1/a").as_deref(), Some("old a"));
            assert!(!folder.path().join(NEXT).exists());
        }
        // All done but for the empty shell.
        let folder = cut(3);
        fs::remove_file(folder.path().join(NEXT).join(JOURNAL)).expect("the journal is there");
        assert!(finish(folder.path()).is_ok() && !folder.path().join(NEXT).exists());
    }

    /// Wherever it is cut short, what is found afterwards is all old or all new.
    #[test]
    fn a_folder_is_renewed_whole() {
        let (old, new) = (files(&[("a", "old"), ("t/b", "old")]), files(&[("a", "new"), ("t/c", "new")]));
        for cut in 0..4 {
            let parent = tempfile::tempdir().expect("a folder");
            let folder = parent.path().join("out");
            assert!(renew(&folder, &old).is_ok());
            let (staged, before) = beside(&folder).ok().expect("it has a name");
            fs::create_dir(&staged).expect("a folder");
            write_all(&staged, &new[..if cut == 0 { 1 } else { 2 }]).expect("written");
            if cut > 1 {
                fs::rename(&folder, &before).expect("moved");
            }
            if cut > 2 {
                fs::rename(&staged, &folder).expect("moved");
            }
            assert!(settle(&folder).is_ok());
            let (expected, gone) = if cut > 2 { ("new", "t/b") } else { ("old", "t/c") };
            assert_eq!(read(&folder, "a").as_deref(), Some(expected), "cut {cut}");
            assert!(!folder.join(gone).exists(), "cut {cut}");
            assert!(renew(&folder, &new).is_ok(), "the next run, cut {cut}");
            assert_eq!((read(&folder, "t/c").as_deref(), folder.join("t/b").exists()), (Some("new"), false), "cut {cut}");
            assert!(!staged.exists() && !before.exists() && !folder.join(BUSY).exists(), "cut {cut}");
        }
    }

    #[test]
    fn what_was_changed_since_by_hand_is_not_written_over() {
        let folder = cut(1);
        fs::write(folder.path().join("b"), "mine").expect("written");
        assert!(matches!(finish(folder.path()), Err(Failure::Problem(why)) if why.contains("b was changed since")));
        assert_eq!(
            (read(folder.path(), "b").as_deref(), read(folder.path(), "imports/.next/files/b").as_deref()),
            (Some("mine"), Some("new b"))
        );
    }

    #[test]
    fn two_imports_do_not_write_at_once() {
        let folder = tempfile::tempdir().expect("a folder");
        fs::create_dir(folder.path().join("imports")).expect("a folder");
        let lock = lock_file(folder.path()).expect("a lock");
        lock.lock().expect("locked");
        let new = files(&[("a", "new")]);
        assert!(matches!(replace(folder.path(), &[], &new), Err(Failure::Problem(why)) if why.contains("another import")));
        drop(lock);
        assert!(replace(folder.path(), &[], &new).is_ok());
        assert_eq!(read(folder.path(), "a").as_deref(), Some("new"));
    }
}
