//! What README and tutorial show is what the program prints.
//!
//! A fenced block `console` holds lines `$ loomwright …` each followed by its output; a line `…` stands for any number of lines.
//! A fenced block `csv FILE` is that file, and a block `diff FILE` is applied to it. All blocks of a document run in order in one new folder. Changed on
//! purpose: `WRITE_DOCUMENTS=1 cargo test -p loomwright --test documents` puts the present output in place where no `…` stands.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

fn project() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn run(folder: &Path, line: &str) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut terminal = loomwright::Terminal {
        out: &mut out,
        err: &mut err,
        colour_out: false,
        colour_err: false,
        folder: folder.to_path_buf(),
        watch: &loomwright::Silent,
    };
    loomwright::run(line.split_whitespace().map(OsString::from), &mut terminal);
    let text = |bytes| String::from_utf8(bytes).expect("output is UTF-8");
    text(out) + &text(err)
}

/// Whether the output fits what is shown; `…` alone on a line skips lines.
fn fits(shown: &[&str], output: &[&str]) -> bool {
    match shown.split_first() {
        None => output.is_empty(),
        Some((&"…", rest)) => (0..=output.len()).any(|skip| fits(rest, &output[skip..])),
        Some((first, rest)) => output.split_first().is_some_and(|(line, more)| line.trim_end() == first.trim_end() && fits(rest, more)),
    }
}

/// Runs a `console` block; gives back what it should show.
fn console(folder: &Path, block: &[&str], document: &str, write: bool) -> Vec<String> {
    let mut written = Vec::new();
    let starts: Vec<usize> = (0..block.len()).filter(|&at| block[at].starts_with("$ ")).collect();
    assert!(starts.first() == Some(&0), "{document}: a console block begins with a command");
    for (at, &start) in starts.iter().enumerate() {
        let end = starts.get(at + 1).copied().unwrap_or(block.len());
        let line = block[start].strip_prefix("$ loomwright ").expect("a console block shows this program only");
        let output = run(folder, line);
        let lines: Vec<&str> = output.lines().collect();
        let shown = &block[start + 1..end];
        let is_whole = !shown.contains(&"…");
        if !(write && is_whole) {
            assert!(fits(shown, &lines), "{document}: `{line}` prints\n{output}\nand not\n{}", shown.join("\n"));
        }
        written.push(block[start].to_owned());
        match is_whole {
            true => written.extend(lines.iter().map(|line| line.trim_end().to_owned())),
            false => written.extend(shown.iter().map(|line| (*line).to_owned())),
        }
    }
    written
}

fn apply(folder: &Path, file: &str, block: &[&str], document: &str) {
    let path = folder.join(file);
    let mut text = fs::read_to_string(&path).expect("the file that a diff names");
    let lines =
        |mark: char| -> String { block.iter().filter_map(|line| line.strip_prefix(mark)).map(|line| format!("{line}\n")).collect() };
    let (old, new) = (lines('-'), lines('+'));
    assert_eq!(text.matches(&old).count(), 1, "{document}: {file} holds this once:\n{old}");
    text = text.replace(&old, &new);
    fs::write(&path, text).expect("the file that a diff names");
}

fn check_document(name: &str) {
    let path = project().join(name);
    let text = fs::read_to_string(&path).expect("the document");
    let write = std::env::var_os("WRITE_DOCUMENTS").is_some();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let lines: Vec<&str> = text.lines().collect();
    let (mut written, mut at, mut commands) = (Vec::new(), 0, 0);
    while at < lines.len() {
        written.push(lines[at].to_owned());
        let Some(kind) = lines[at].strip_prefix("```") else {
            at += 1;
            continue;
        };
        let length = lines[at + 1..].iter().position(|line| *line == "```").expect("a block that ends");
        let block = &lines[at + 1..at + 1 + length];
        if kind == "console" {
            commands += 1;
            written.extend(console(folder.path(), block, name, write));
        } else {
            if let Some(file) = kind.strip_prefix("diff ") {
                apply(folder.path(), file, block, name);
            }
            if let Some(file) = kind.strip_prefix("csv ") {
                fs::write(folder.path().join(file), block.join("\n") + "\n").expect("the file of a csv block can be written");
            }
            written.extend(block.iter().map(|line| (*line).to_owned()));
        }
        written.push("```".to_owned());
        at += length + 2;
    }
    assert!(commands > 0, "{name} shows the program at work");
    if write {
        fs::write(&path, written.join("\n") + "\n").expect("the document can be written");
    }
}

#[test]
fn readme() {
    check_document("README.md");
}

#[test]
fn tutorial() {
    check_document("docs/manual/tutorial.md");
}

#[test]
fn endurance() {
    check_document("docs/manual/endurance.md");
}

#[test]
fn the_page_of_faults() {
    check_document("docs/manual/faults.md");
}

#[test]
fn the_separation_page() {
    check_document("docs/manual/separation.md");
}

#[test]
fn import() {
    check_document("docs/manual/import.md");
}
