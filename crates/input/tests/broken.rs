//! Inputs that are wrong, each marked with what must be said about it and where.
//!
//! `#~ error[IN-12] 8..15 text` speaks of its own line, or of the nearest line above if it stands alone; `#~v` of the nearest line
//! below. The columns are those of the first place, the text is part of the message. `#~ place 8..15 label` marks a second place.
//! Whatever is said and not marked, or marked and not said, fails. Replacements that a diagnostic offers are applied: what they mend
//! is no longer said, and if they mend every error, the folder loads.

use loomwright_input::{codes, limits, load};
use model::{Code, Diagnostic, Severity, Sources, Span};
use std::collections::BTreeSet;
use std::path::Path;
use std::time::Instant;

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

fn check(name: &str, files: &Files, tally: &mut Tally) {
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
    if !wrong.is_empty() {
        tally.wrong.push(format!("{name}:\n{}", wrong.join("\n")));
        return;
    }
    let errors = loaded.diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    assert_eq!(loaded.design.is_none(), errors > 0, "{name}: a design exactly where there is no error");
    tally.seen.extend(loaded.diagnostics.iter().map(|d| d.code.0));
    tally.three_problems += usize::from(loaded.diagnostics.len() >= 3);
    tally.two_places += usize::from(loaded.diagnostics.iter().any(|d| d.places.len() >= 2));
    for diagnostic in &loaded.diagnostics {
        // Words that can be taken as they stand are offered as text too.
        let help = diagnostic.help.as_deref().unwrap_or("");
        if help.contains("did you mean") || help.contains(": write ") {
            assert!(diagnostic.replacement.is_some(), "{name}: {help:?} is no replacement");
        }
        if let Some((at, with)) = &diagnostic.replacement {
            tally.replacements += 1;
            assert_eq!(with.contains("TBC"), loaded.sources.slice(*at).to_uppercase().contains("TBC"), "{name}: {with:?} keeps the mark");
            // The mark of a value stays as it was written.
            let offered = with.trim_matches('"');
            let offered = offered.strip_prefix("TBC ").unwrap_or(offered).split(" [").next().unwrap_or("").trim();
            assert!(help.contains(offered), "{name}: {help:?} does not offer {with:?}");
        }
    }
    check_replacements(name, files, &loaded.sources, &loaded.diagnostics, errors);

    // The order in which files are handed over never matters.
    let mut turned = files.clone();
    turned.reverse();
    assert_eq!(load(&turned).diagnostics, loaded.diagnostics, "{name}");
}

/// What all inputs together have shown.
#[derive(Default)]
struct Tally {
    seen: BTreeSet<&'static str>,
    wrong: Vec<String>,
    /// Inputs with three problems or more.
    three_problems: usize,
    /// Inputs of which a diagnostic quotes two places.
    two_places: usize,
    replacements: usize,
}

fn check_replacements(name: &str, files: &Files, sources: &Sources, diagnostics: &[Diagnostic], errors: usize) {
    let mut mends: Vec<_> = diagnostics.iter().filter_map(|d| d.replacement.clone().map(|(at, with)| (at, with, d))).collect();
    if mends.is_empty() {
        return;
    }
    let mended_errors = mends.iter().filter(|(.., d)| d.severity == Severity::Error).count();
    // Each by itself mends what it is offered for, whatever else is wrong.
    for (at, with, diagnostic) in &mends {
        let mut files = files.clone();
        put(&mut files, sources, *at, with);
        let again = load(&files).diagnostics;
        let count = |list: &[Diagnostic]| list.iter().filter(|d| d.message == diagnostic.message).count();
        assert_eq!(count(&again), count(diagnostics) - 1, "{name}: {:?} after {with:?}", diagnostic.message);
    }
    mends.sort_by_key(|(at, ..)| std::cmp::Reverse((at.file, at.start)));
    let mut files = files.clone();
    for (at, with, _) in &mends {
        put(&mut files, sources, *at, with);
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

/// Puts a text in place of a span, as a person would in the file; the mark of the encoding before it counts for no place.
fn put(files: &mut Files, sources: &Sources, at: Span, with: &str) {
    let path = &sources.file(at.file).path;
    let (_, bytes) = files.iter_mut().find(|(p, _)| p == path).expect("a replacement is in a file of the user");
    let mark = bytes.len() - bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).len();
    bytes.splice(mark + at.start as usize..mark + at.end as usize, with.bytes());
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

/// Inputs that cannot stand in a file of the project, or that markers would change: with their code, and a word of the message.
fn made_inputs() -> Vec<(&'static str, Files, Code, &'static str)> {
    let one = |path: &str, text: String| vec![(path.to_owned(), text.into_bytes())];
    let bytes = |path: &str, bytes: &[u8]| vec![(path.to_owned(), bytes.to_vec())];
    const LIST: &str = "from,to,gauge_awg\n";
    let utf16: Vec<u8> = [0xFEFF].into_iter().chain(LIST.encode_utf16()).flat_map(u16::to_le_bytes).collect();
    let many: Files = (0..=limits::FILES).map(|n| (format!("f{n:05}.toml"), Vec::new())).collect();
    let lines = limits::LINES;
    vec![
        ("nothing", Vec::new(), codes::NOTHING_TO_READ, "no wire list"),
        ("deep brackets", one("a.toml", format!("format = 1\nname = {}", "[".repeat(10_000))), codes::TOO_LARGE, "64 deep"),
        ("deep tables", one("a.toml", format!("format = 1\nname = {}", "{a=".repeat(10_000))), codes::TOO_LARGE, "64 deep"),
        ("deep dots", one("a.toml", format!("format = 1\n{}x = 1", "a.".repeat(10_000))), codes::TOO_LARGE, "64 deep"),
        ("long line", one("wires.csv", format!("{LIST}A.1,B.1,20{}", " ".repeat(limits::LINE_BYTES))), codes::TOO_LARGE, "a line longer"),
        ("large list", one("wires.csv", " ".repeat(limits::LIST_BYTES + 1)), codes::TOO_LARGE, "100000001 bytes"),
        ("large tables", one("a.toml", "\n".repeat(limits::TABLES_BYTES + 1)), codes::TOO_LARGE, "50000001 bytes"),
        (
            "many marks",
            one("a.toml", format!("format = 1\nname = [{}]", "1,\n".repeat(limits::MARKS / 2))),
            codes::TOO_LARGE,
            "lines and marks",
        ),
        ("many rows", one("wires.csv", format!("{LIST}{}", "A.1,B.1,20\n".repeat(1_000_000))), codes::TOO_LARGE, "500000 lines"),
        ("many rows, old line ends", one("wires.csv", format!("{LIST}{}", "A.1,B.1,20\r".repeat(lines))), codes::TOO_LARGE, "500000 lines"),
        ("many files", many, codes::TOO_LARGE, "10000 files"),
        (
            "many columns",
            one("wires.csv", format!("from,to,gauge_awg{}\n", ",note_x".repeat(limits::COLUMNS))),
            codes::TOO_LARGE,
            "1003 columns",
        ),
        (
            "many cavities",
            [
                one("a.toml", "format = 1\n".to_owned()),
                one("catalog/arrangements.csv", format!("arrangement,cavities,size\n{}", "a,10000,20\n".repeat(11))),
            ]
            .concat(),
            codes::TOO_LARGE,
            "100000 cavities",
        ),
        ("many problems", one("wires.csv", format!("{LIST}{}", "A.1,B.1,99\n".repeat(3000))), codes::MORE_PROBLEMS, "2000 more errors"),
        (
            "many files of one kind",
            (0..3).map(|n| (format!("wires-{n}.csv"), [b"PK\x03\x04".to_vec(), vec![b' '; 90_000_000]].concat())).collect(),
            codes::TOO_LARGE,
            "200000000 bytes",
        ),
        ("UTF-16", bytes("wires.csv", &utf16), codes::NOT_TEXT, "UTF-16"),
        ("a workbook of another name", bytes("wires.csv", b"PK\x03\x04rest"), codes::NOT_TEXT, "a workbook"),
        ("an old workbook", bytes("wires.csv", b"\xD0\xCF\x11\xE0rest"), codes::NOT_TEXT, "an old workbook"),
        ("a compressed file", bytes("a.toml", b"\x1F\x8Brest"), codes::NOT_TEXT, "compressed"),
        ("a NUL byte", bytes("a.toml", b"format = 1\nname = \"\0\""), codes::NOT_TEXT, "NUL"),
    ]
}

#[test]
fn every_marked_input_says_what_is_marked() {
    let mut tally = Tally::default();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken");
    let mut paths: Vec<_> = std::fs::read_dir(folder).expect("the folder of marked inputs").map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    assert!(paths.len() > 30, "{} inputs", paths.len());
    for path in paths {
        check(path.file_name().and_then(|n| n.to_str()).expect("a name in ASCII"), &files_of(&path), &mut tally);
    }
    assert!(tally.wrong.is_empty(), "{}", tally.wrong.join("\n\n"));
    for (name, files, expected, words) in made_inputs() {
        let begun = Instant::now();
        let loaded = load(&files);
        let seconds = begun.elapsed().as_secs_f64();
        assert!(loaded.design.is_none(), "{name}");
        let found = loaded.diagnostics.iter().any(|d| d.code == expected && d.message.contains(words));
        assert!(found, "{name}: {:?}", loaded.diagnostics.first());
        assert!(loaded.diagnostics.len() <= limits::PROBLEMS + 1, "{name}: {} problems", loaded.diagnostics.len());
        // Generous for a slow machine and an unoptimised build; what grows with the square of the input takes hours.
        println!("{name}: {seconds:.2} s");
        assert!(seconds < 60.0, "{name} took {seconds} s");
        tally.seen.insert(expected.0);
    }
    let unseen: Vec<_> = codes::ALL.iter().map(|(code, _)| code.0).filter(|code| !tally.seen.contains(code)).collect();
    assert!(unseen.is_empty(), "no input shows {unseen:?}");
    let Tally { seen, three_problems, two_places, replacements, .. } = tally;
    println!(
        "{} codes seen; {three_problems} inputs with three problems or more, {two_places} quote two places; {replacements} replacements",
        seen.len()
    );
    assert!(codes::ALL.len() >= 40 && three_problems >= 10 && two_places >= 10 && replacements >= 30);
}

/// Old line ends, doubled marks of the encoding: the same rows at the same places.
#[test]
fn line_ends_and_marks_of_the_encoding_change_nothing() {
    let text = "wire,from,to,gauge_awg\nW1,A.1,A.1,20\nW2,A.1,B.1,99\n";
    let lines = |text: &[u8]| {
        let loaded = load(&[("wires.csv".to_owned(), text.to_vec())]);
        said(&loaded.sources, &loaded.diagnostics)
    };
    let usual = lines(text.as_bytes());
    assert_eq!(
        usual,
        [
            "wires.csv:2 error[IN-22] 8..11 wire W1 begins and ends on A.1",
            "wires.csv:2 place 4..7 begins here",
            "wires.csv:3 error[IN-12] 12..14 \"99\" is not a gauge"
        ]
    );
    assert_eq!(lines(text.replace('\n', "\r\n").as_bytes()), usual);
    assert_eq!(lines(text.replace('\n', "\r").as_bytes()), usual);
    assert_eq!(lines(format!("\u{feff}{text}").as_bytes()), usual);
    assert_eq!(lines(format!("\u{feff}\u{feff}{text}").as_bytes()), usual);
}
