//! The command line as a user meets it: every JSON output parses, exit codes are those of the manual.

use cli::Terminal;
use std::path::Path;
use tempfile::TempDir;
use trials::{read_folder, root};

/// What a command line did.
pub(crate) struct Ran {
    pub(crate) code: u8,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// Runs a command line in a folder, without the program's name.
pub(crate) fn loomwright(folder: &Path, line: &str) -> Ran {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut terminal = Terminal {
        colour_out: false,
        colour_err: false,
        out: &mut out,
        err: &mut err,
        folder: folder.to_owned(),
        watch: &analysis::Silent,
    };
    let code = cli::run(line.split_whitespace().map(Into::into), &mut terminal);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("outputs are UTF-8");
    Ran { code, out: text(out), err: text(err) }
}

/// A copy of an example that a test may change.
pub(crate) fn copy_of(example: &str) -> TempDir {
    let copy = tempfile::tempdir().expect("a temporary folder");
    for (path, bytes) in read_folder(&root().join("examples").join(example)) {
        let to = copy.path().join(path);
        std::fs::create_dir_all(to.parent().expect("inside the copy")).expect("a folder can be made");
        std::fs::write(to, bytes).expect("the copy can be written");
    }
    // What was measured is no part of the vehicle.
    for entry in std::fs::read_dir(root().join("examples").join(example).join("measured")).into_iter().flatten().flatten() {
        let to = copy.path().join("measured");
        std::fs::create_dir_all(&to).expect("a folder can be made");
        std::fs::copy(entry.path(), to.join(entry.file_name())).expect("the copy can be written");
    }
    copy
}

/// Exit codes with which a command has done its work: no findings, findings, something not judged.
const DONE: [u8; 3] = [0, 1, 3];

#[test]
fn json_is_one_object_with_the_envelope() {
    let folder = copy_of("bench-rig");
    let mut lines: Vec<String> =
        ["voltages", "currents", "drops", "wires", "pins", "margins", "open"].map(|t| format!("show {t} --json")).into();
    lines.extend(["check --json", "trace load:radio --json"].map(str::to_owned));
    for line in lines {
        let ran = loomwright(folder.path(), &line);
        assert!(DONE.contains(&ran.code), "{line}: exit {}\n{}", ran.code, ran.err);
        let value: serde_json::Value = serde_json::from_str(&ran.out).unwrap_or_else(|why| panic!("{line}: {why}\n{}", ran.out));
        assert_eq!(value["format"], "loomwright/1", "{line}");
        assert_eq!(value["command"], line.split(' ').next().expect("a verb"), "{line}");
        for key in ["vehicle", "phases", "recalled", "not_judged", "cautions"] {
            assert!(value.get(key).is_some(), "{line} has no {key}");
        }
        let tables: &[&str] = if line.starts_with("check") { &["margins", "findings"] } else { &["rows"] };
        for table in tables {
            assert!(value[table].as_array().is_some_and(|rows| !rows.is_empty()), "{line}: {table} is empty");
        }
    }
}

#[test]
fn exit_codes_are_as_documented() {
    let rig = copy_of("bench-rig");
    let empty = tempfile::tempdir().expect("a temporary folder");
    for (folder, line, code) in [
        (rig.path(), "check", 1),
        (rig.path(), "show voltages", 0),
        (rig.path(), "explain VD-01", 0),
        (rig.path(), "explain VD-99", 2),
        (rig.path(), "check --no-such-option", 2),
        (rig.path(), "show voltages --phase nowhere", 2),
        (rig.path(), "trace load:nobody", 2),
        (empty.path(), "check", 2),
        (empty.path(), "check no-such-folder", 2),
        (rig.path(), "export spice -o no-such-folder/x.cir --phase work --corner low", 5),
    ] {
        let ran = loomwright(folder, line);
        assert_eq!(ran.code, code, "loomwright {line}\n{}{}", ran.out, ran.err);
        if code >= 2 {
            assert!(ran.out.is_empty() && !ran.err.is_empty(), "{line} says what is wrong on standard error");
        }
    }
    // With --json the diagnostics come as one object, on standard output.
    let ran = loomwright(empty.path(), "check --json");
    assert_eq!(ran.code, 2);
    let value: serde_json::Value = serde_json::from_str(&ran.out).expect("JSON");
    assert!(value["diagnostics"].as_array().is_some_and(|list| !list.is_empty()));
}

#[test]
fn shipped_examples_begin_a_folder_that_checks() {
    for (example, code) in [("starter", &DONE[..]), ("bench-rig", &[1])] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let ran = loomwright(folder.path(), &format!("start v --from-example {example}"));
        assert_eq!(ran.code, 0, "{}", ran.err);
        let ran = loomwright(folder.path(), "check v");
        assert!(code.contains(&ran.code), "{example}: exit {}\n{}{}", ran.code, ran.out, ran.err);
        // A folder that holds something is not written over.
        assert_ne!(loomwright(folder.path(), &format!("start v --from-example {example}")).code, 0);
    }
}
