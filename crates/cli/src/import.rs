//! `import`: a spreadsheet to a new folder, or a newer one into a folder that is there.

use crate::session::{BAD_INPUT, CLEAN, FINDINGS, Failure, Session};
use crate::{folder, generation};
use input::import::{Answers, SETTINGS, Stop, limits};
use model::ImportQuestion;
use outputs::Written;
use outputs::json::to_text;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

/// What the command line asks for.
pub(crate) struct Wanted {
    pub(crate) list: PathBuf,
    pub(crate) folder: PathBuf,
    /// `KEY=VALUE`, or a file of such lines.
    pub(crate) maps: Vec<String>,
    pub(crate) sheets: Vec<String>,
    pub(crate) update: bool,
    pub(crate) preview: bool,
    pub(crate) every: bool,
}

/// Reads the list, writes the folder, says what became of each row.
pub(crate) fn import(session: &mut Session, wanted: &Wanted) -> Result<u8, Failure> {
    let (path, to) = (session.path(&wanted.list), session.path(&wanted.folder));
    let (file, shown) = (wanted.list.display().to_string(), wanted.folder.display().to_string());
    let problem = |text: String| Failure::Problem(text);
    let fault = |path: &Path, error: std::io::Error| Failure::Problem(format!("{}: {error}", path.display()));
    let meta = fs::metadata(&path).map_err(|e| fault(&wanted.list, e))?;
    if !meta.is_file() {
        return Err(problem(format!("{file} is not a file")));
    }
    let most = limits::FILE_AT_MOST as u64;
    let mut bytes = Vec::new();
    if meta.len() <= most {
        File::open(&path).and_then(|list| list.take(most + 1).read_to_end(&mut bytes)).map_err(|e| fault(&wanted.list, e))?;
    }
    let size = meta.len().max(bytes.len() as u64);
    if size > most {
        return Err(problem(format!("{file}: {} MB are more than the {} MB that a list may have", size / 1_000_000, most / 1_000_000)));
    }

    let mut answers = Answers::default();
    let mut files = Vec::new();
    if wanted.update {
        files = folder::read(&to)?;
        let loaded = input::load(&files);
        if loaded.design.is_none() {
            return Err(Failure::Diagnostics(Box::new(loaded)));
        }
        files.extend(folder::read_kept(&to)?);
        if let Some((_, settings)) = files.iter().find(|(path, _)| path == SETTINGS) {
            answers.take_lines(&String::from_utf8_lossy(settings)).map_err(|why| problem(format!("{shown}/{SETTINGS}: {why}")))?;
        }
    } else if fs::read_dir(&to).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(problem(format!("{shown} is not empty; name a folder that is new or empty, or bring it up to date with --update")));
    } else if to.exists() && !to.is_dir() {
        return Err(problem(format!("{shown} is not a folder")));
    }
    for map in &wanted.maps {
        match map.contains('=') {
            true => answers.take(map).map_err(problem)?,
            false => {
                let text = fs::read_to_string(session.path(map)).map_err(|e| problem(format!("--map {map}: {e}")))?;
                answers.take_lines(&text).map_err(|why| problem(format!("{map}: {why}")))?;
            }
        }
    }
    if !wanted.sheets.is_empty() {
        answers.sheets = wanted.sheets.clone();
    }

    let name = wanted.list.file_name().map_or(file.clone(), |name| name.to_string_lossy().into_owned());
    let mut list = match input::import::read(&name, &bytes, &answers, &files) {
        Ok(list) => list,
        Err(stop) => return stopped(session, &file, stop),
    };
    drop(bytes);
    let new = match wanted.update {
        true => match input::import::update(&mut list, &files) {
            Ok(new) => new,
            Err(stop) => return stopped(session, &file, stop),
        },
        false => input::import::new_folder(&list, &to.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned())),
    };
    // The folder must be one that `check` judges at once; else nothing is written.
    let loaded = input::load(&laid_over(&files, &new));
    if loaded.design.is_none() {
        return Err(Failure::Diagnostics(Box::new(loaded)));
    }
    if session.watch().cancelled() {
        return Err(Failure::Stopped);
    }

    let mut backup = None;
    if !wanted.preview && !new.is_empty() {
        backup = match wanted.update {
            true => generation::replace(&to, &files, &new)?,
            false => generation::begin(&to, &new).map(|()| None)?,
        };
    }
    let paths: Vec<String> = if wanted.preview { Vec::new() } else { new.iter().map(|(path, _)| path.clone()).collect() };
    let written = Written { folder: &shown, files: &paths, backup: backup.as_deref(), preview: wanted.preview };
    let text = match session.json {
        true => to_text(&outputs::import_json(&list.report, &written)),
        false => outputs::import(&list.report, &written, wanted.every, session.style),
    };
    session.print(&text)?;
    let in_conflict = list.report.merge.as_ref().is_some_and(|merge| !merge.conflicts.is_empty());
    Ok(if outputs::wires_missing(&list.report) > 0 || in_conflict { FINDINGS } else { CLEAN })
}

/// Files with those that change in their place.
fn laid_over(files: &[(String, Vec<u8>)], new: &[(String, Vec<u8>)]) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = files.iter().filter(|(path, _)| !new.iter().any(|(p, _)| p == path)).cloned().collect();
    all.extend(new.iter().cloned());
    all.retain(|(path, _)| !path.starts_with(input::import::KEPT_IN));
    all.sort();
    all
}

fn stopped(session: &mut Session, file: &str, stop: Stop) -> Result<u8, Failure> {
    match stop {
        Stop::Refused { what, help } => Err(Failure::Problem(format!("{file}: {what}; {help}"))),
        Stop::Asked { questions, sheets, left } => {
            let text = outputs::mapping(file, &sheets, &left, session.style_err());
            session.say(&text);
            let asked: Vec<String> = questions.iter().map(question).collect();
            session.problem(&format!("{file}: only you can say:\n{}", asked.join("\n")));
            Ok(BAD_INPUT)
        }
    }
}

fn question(question: &ImportQuestion) -> String {
    let answers: String = question.answers.iter().map(|answer| format!("\n      {answer}")).collect();
    format!("   {}{answers}", question.text)
}
