//! Inputs that are wrong, each marked with what must be said about it and where.
//!
//! `#~ error[IN-12] 8..15 text` speaks of its own line, or of the nearest line above if it stands alone; `#~v` of the nearest line
//! below. The columns are those of the first place, the text is part of the message. `#~ place 8..15 label` marks a second place.
//! Whatever is said and not marked, or marked and not said, fails. Replacements that a diagnostic offers are applied: what they mend
//! is no longer said, and if they mend every error, the folder loads.

use loomwright_input::{codes, load};
use model::{Diagnostic, Severity, Sources};
use std::collections::BTreeSet;
use std::path::Path;

type Files = Vec<(String, Vec<u8>)>;

/// One line of a comparison: `vehicle.toml:7 error[IN-12] 8..15 message`.
fn said(sources: &Sources, diagnostics: &[Diagnostic]) -> Vec<String> {
    let mut lines = Vec::new();
    for diagnostic in diagnostics {
        let word = if diagnostic.severity == Severity::Error { "error" } else { "warning" };
        for (n, place) in diagnostic.places.iter().enumerate() {
            let at = sources.position(place.at);
            let what = if n == 0 { format!("{word}[{}]", diagnostic.code.0) } else { "place".to_owned() };
            let text = if n == 0 { &diagnostic.message } else { &place.label };
            lines.push(format!("{}:{} {what} {}..{} {text}", at.path, at.line, at.column, at.end_column).trim_end().to_owned());
        }
    }
    lines
}

/// The same lines as the markers state them.
fn marked(files: &Files) -> Vec<String> {
    let mut lines = Vec::new();
    for (path, bytes) in files {
        let text = String::from_utf8_lossy(bytes);
        let all: Vec<&str> = text.lines().collect();
        let is_marker = |line: &str| line.trim_start().starts_with("#~");
        for (n, line) in all.iter().enumerate() {
            let Some(at) = line.find("#~") else { continue };
            let marker = &line[at + 2..];
            let (line, marker) = match marker.strip_prefix('v') {
                Some(marker) => ((n + 1..all.len()).find(|m| !is_marker(all[*m])), marker),
                None => ((0..=n).rev().find(|m| !is_marker(all[*m])), marker),
            };
            let line = line.expect("a marker has a line that it speaks of");
            lines.push(format!("{path}:{} {}", line + 1, marker.trim()));
        }
    }
    lines
}

fn check(name: &str, files: &Files, seen: &mut BTreeSet<&'static str>) {
    let loaded = load(files);
    let mut said = said(&loaded.sources, &loaded.diagnostics);
    let mut wrong = Vec::new();
    for marker in marked(files) {
        // Up to the text both agree exactly; of the message, the marker states a part.
        let head: Vec<&str> = marker.splitn(4, ' ').collect();
        let text = head.get(3).copied().unwrap_or("");
        let prefix = format!("{} {} {}", head[0], head[1], head[2]);
        let found = said.iter().position(|s| s.strip_prefix(&prefix).is_some_and(|rest| rest.contains(text)));
        match found {
            Some(n) => drop(said.remove(n)),
            None => wrong.push(format!("marked, not said: {marker}")),
        }
    }
    wrong.extend(said.iter().map(|s| format!("said, not marked: {s}")));
    assert!(wrong.is_empty(), "{name}:\n{}", wrong.join("\n"));
    let errors = loaded.diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    assert_eq!(loaded.design.is_none(), errors > 0, "{name}: a design exactly where there is no error");
    seen.extend(loaded.diagnostics.iter().map(|d| d.code.0));
    check_replacements(name, files, &loaded.sources, &loaded.diagnostics, errors);

    // The order in which files are handed over never matters.
    let mut turned = files.clone();
    turned.reverse();
    assert_eq!(load(&turned).diagnostics, loaded.diagnostics, "{name}");
}

fn check_replacements(name: &str, files: &Files, sources: &Sources, diagnostics: &[Diagnostic], errors: usize) {
    let mut mends: Vec<_> = diagnostics.iter().filter_map(|d| d.replacement.clone().map(|(at, with)| (at, with, d))).collect();
    if mends.is_empty() {
        return;
    }
    let mended_errors = mends.iter().filter(|(.., d)| d.severity == Severity::Error).count();
    mends.sort_by_key(|(at, ..)| std::cmp::Reverse((at.file, at.start)));
    let mut files = files.clone();
    for (at, with, _) in &mends {
        let path = &sources.file(at.file).path;
        let (_, bytes) = files.iter_mut().find(|(p, _)| p == path).expect("a replacement is in a file of the user");
        bytes.splice(at.start as usize..at.end as usize, with.bytes());
    }
    let again = load(&files);
    for (.., diagnostic) in &mends {
        let count = |list: &[Diagnostic]| list.iter().filter(|d| d.message == diagnostic.message).count();
        let mended = mends.iter().filter(|(.., d)| d.message == diagnostic.message).count();
        assert_eq!(
            count(&again.diagnostics),
            count(diagnostics) - mended,
            "{name}: {:?} is still said after its replacement",
            diagnostic.message
        );
    }
    if mended_errors == errors {
        assert!(again.design.is_some(), "{name}: replacements mend every error, so it loads: {:?}", again.diagnostics);
    }
}

fn files_of(path: &Path) -> Files {
    let read = |p: &Path| std::fs::read(p).expect("readable");
    if !path.is_dir() {
        let name = if path.extension().is_some_and(|e| e == "csv") { "wires.csv" } else { "vehicle.toml" };
        return vec![(name.to_owned(), read(path))];
    }
    let mut files = Vec::new();
    let mut folders = vec![(path.to_owned(), String::new())];
    while let Some((folder, prefix)) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            let name = format!("{prefix}{}", path.file_name().and_then(|n| n.to_str()).expect("a name in ASCII"));
            if path.is_dir() {
                folders.push((path, format!("{name}/")));
            } else {
                files.push((name, read(&path)));
            }
        }
    }
    files
}

/// Inputs that cannot stand in a file of the project: too large, too deep, or none.
fn made_inputs() -> Vec<(&'static str, Files)> {
    let one = |path: &str, text: String| vec![(path.to_owned(), text.into_bytes())];
    vec![
        ("nothing", Vec::new()),
        ("deep brackets", one("a.toml", format!("format = 1\nname = {}", "[".repeat(100_000)))),
        ("deep dots", one("a.toml", format!("format = 1\n{}x = 1", "a.".repeat(100_000)))),
        ("long line", one("wires.csv", format!("from,to,gauge_awg\nA.1,B.1,20{}", " ".repeat(1_000_001)))),
        ("large file", one("wires.csv", " ".repeat(100_000_001))),
        ("many rows", one("wires.csv", format!("from,to,gauge_awg\n{}", "A.1,B.1,20\n".repeat(1_000_001)))),
    ]
}

#[test]
fn every_marked_input_says_what_is_marked() {
    let mut seen: BTreeSet<&'static str> = BTreeSet::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken");
    let mut paths: Vec<_> = std::fs::read_dir(folder).expect("the folder of marked inputs").map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    assert!(paths.len() > 30, "{} inputs", paths.len());
    for path in paths {
        check(path.file_name().and_then(|n| n.to_str()).expect("a name in ASCII"), &files_of(&path), &mut seen);
    }
    for (name, files) in made_inputs() {
        let loaded = load(&files);
        assert!(loaded.design.is_none(), "{name}");
        let expected = if name == "nothing" { codes::NOTHING_TO_READ } else { codes::TOO_LARGE };
        assert!(loaded.diagnostics.iter().any(|d| d.code == expected), "{name}: {:?}", loaded.diagnostics.first());
        seen.insert(expected.0);
    }
    let unseen: Vec<_> = codes::ALL.iter().map(|(code, _)| code.0).filter(|code| !seen.contains(code)).collect();
    assert!(unseen.is_empty(), "no input shows {unseen:?}");
}
