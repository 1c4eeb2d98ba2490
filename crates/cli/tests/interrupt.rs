//! Ctrl-C on a terminal while a sweep runs: what was done is written, marked partial, and `--resume` comes to what a sweep without a stop says.

use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// What Ctrl-C sends on a terminal.
const CTRL_C: &[u8] = &[3];

fn vehicle() -> String {
    format!("{}/../../examples/light-aircraft", env!("CARGO_MANIFEST_DIR"))
}

fn run(folder: &Path, arguments: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_loomwright"))
        .args(["-C", &vehicle()])
        .args(arguments.split(' '))
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started")
}

#[test]
fn a_sweep_that_is_stopped_by_a_key_is_gone_on_with() {
    let scratch = tempfile::tempdir().expect("a folder");
    let here = scratch.path();
    let listed = run(here, "faults --list --json");
    let listed: serde_json::Value = serde_json::from_slice(&listed.stdout).expect("JSON");
    let length = |key: &str| listed[key].as_array().expect("a list").len();
    let (faults, cases) = (length("rows"), length("rows") * length("phases"));

    // A terminal of its own, by `script` of the Debian package bsdutils: the bar is shown there, and the key comes from there.
    let mut child = Command::new("script")
        .args(["--quiet", "--return", "--flush", "--command"])
        .arg("stty cols 80 rows 24; exec \"$PROGRAM\" -C \"$VEHICLE\" faults -o stopped.jsonl")
        .arg("/dev/null")
        .envs([("PROGRAM", env!("CARGO_BIN_EXE_loomwright")), ("VEHICLE", &vehicle()), ("TERM", "xterm"), ("SHELL", "/bin/sh")])
        .current_dir(here)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("script of the Debian package bsdutils can be started");
    let (mut keys, mut screen) = (child.stdin.take().expect("its keys"), child.stdout.take().expect("its screen"));
    // The bar of this sweep, and not one of the states before it.
    let bar = format!("/{cases} states");
    let (mut seen, mut buffer) = (Vec::new(), [0; 4096]);
    while !String::from_utf8_lossy(&seen).contains(&bar) {
        match screen.read(&mut buffer).expect("a screen can be read") {
            0 => panic!("no bar of {cases} states is shown:\n{}", String::from_utf8_lossy(&seen)),
            n => seen.extend_from_slice(&buffer[..n]),
        }
    }
    keys.write_all(CTRL_C).and_then(|()| keys.flush()).expect("a key can be sent");
    screen.read_to_end(&mut seen).expect("a screen can be read");
    let status = child.wait().expect("script ends");
    assert_eq!(status.code(), Some(130), "{}", String::from_utf8_lossy(&seen));

    let text = |name: &str| fs::read_to_string(here.join(name)).expect("a file was written");
    let stopped = text("stopped.jsonl");
    // A head and an end beside the faults.
    let done = stopped.lines().count() - 2;
    assert!(stopped.lines().last().is_some_and(|end| end.contains("\"partial\":true")), "{:?}", stopped.lines().last());
    assert!(0 < done && done < faults, "{done} of {faults}");
    // Parts that were stopped are not taken for whole ones.
    let refused = run(here, "merge stopped.jsonl");
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("was stopped before its end"), "{refused:?}");

    let went_on = run(here, "faults --resume stopped.jsonl -o went-on.jsonl");
    let whole = run(here, "faults -o whole.jsonl");
    assert_eq!((went_on.status.code(), &went_on.stdout), (whole.status.code(), &whole.stdout), "{went_on:?}");
    assert!(text("went-on.jsonl") == text("whole.jsonl"), "what was gone on with differs from the whole");
    assert_eq!(text("whole.jsonl").lines().count() - 2, faults);
}
