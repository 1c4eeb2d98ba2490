//! Outputs of the example, so that none changes unseen.
//!
//! Changed on purpose: look at the difference, then `INSTA_UPDATE=always cargo test -p loomwright-trials snapshots`.

use crate::command_line::{Ran, copy_of, loomwright};
use crate::separate::box_on_two_returns;
use insta::assert_snapshot;

/// What a command line prints in a copy of bench-rig, with its exit code.
fn of_bench_rig(line: &str) -> String {
    let folder = copy_of("bench-rig");
    let Ran { code, out, err } = loomwright(folder.path(), line);
    format!("$ loomwright {line}\n{out}{err}exit {code}\n")
}

#[test]
fn check() {
    assert_snapshot!("check", of_bench_rig("check"));
    assert_snapshot!("check_all", of_bench_rig("check --all"));
    assert_snapshot!("check_json", of_bench_rig("check --json"));
}

#[test]
fn show() {
    for table in ["voltages", "currents", "drops", "wires", "pins", "ampacity", "mass", "margins", "open"] {
        assert_snapshot!(format!("show_{table}"), of_bench_rig(&format!("show {table}")));
    }
    assert_snapshot!("show_voltages_json", of_bench_rig("show voltages --json"));
}

#[test]
fn cuts() {
    assert_snapshot!("show_cuts", of_bench_rig("show cuts --all"));
    let ran = of_bench_rig("show cuts wire:W1");
    assert!(ran.contains("wire:W1 is a wire, which cannot stand here") && ran.ends_with("exit 2\n"), "{ran}");
}

/// A box whose power return parts before its feed, and the same with the feed dead first.
#[test]
fn separate() {
    let dead = "[step.dead]\nseparation = \"S\"\ntime = \"0.1 s\"\nopen = [\"relay:KF\"]\nby = \"X\"\n";
    for (name, steps) in [("separate_live", ""), ("separate_dead", dead)] {
        let folder = tempfile::tempdir().expect("a temporary folder");
        for (path, bytes) in box_on_two_returns(false, steps) {
            std::fs::write(folder.path().join(path), bytes).expect("the folder can be written");
        }
        let Ran { code, out, err } = loomwright(folder.path(), "separate");
        assert_snapshot!(name, format!("$ loomwright separate\n{out}{err}exit {code}\n"));
    }
}

#[test]
fn trace() {
    assert_snapshot!("trace_radio", of_bench_rig("trace load:radio"));
    assert_snapshot!("trace_heater", of_bench_rig("trace load:heater"));
    assert_snapshot!("trace_wire", of_bench_rig("trace wire:W7"));
}

#[test]
fn explain() {
    let texts: Vec<String> = rules::RULES.iter().map(|rule| of_bench_rig(&format!("explain {}", rule.code.0))).collect();
    assert_snapshot!("explain_every_rule", texts.join("\n"));
}

/// Independent problems in two files, all said in one run with their places.
#[test]
fn diagnostics() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let files = [
        (
            "vehicle.toml",
            "format = 1\nname = \"broken\"\n[ground.G]\n[load.radio]\nline = \"J1.1\"\nreturn = \"groud:G\"\npower = 60\nvolts_mim = \"22 V\"\n",
        ),
        ("wires.csv", "from,to,gauge_awg,length_m\nJ1.1,J2.1,20,2.5 ft\nJ1.2,J1.2,22,1\n"),
    ];
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).expect("the folder can be written");
    }
    let Ran { code, out, err } = loomwright(folder.path(), "check");
    assert_eq!((code, out.as_str()), (2, ""));
    assert_snapshot!("diagnostics", err);
}
