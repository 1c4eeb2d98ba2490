//! The command line as a user meets it: every example of the help, exit codes, JSON, files written and not written.

use serde_json::Value;
use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs;
use std::io::{self, Write};
use std::path::Path;

struct Ran {
    code: u8,
    out: String,
    err: String,
}

fn run_words(folder: &Path, words: &[&str]) -> Ran {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut terminal = loomwright::Terminal {
        out: &mut out,
        err: &mut err,
        colour_out: false,
        colour_err: false,
        folder: folder.to_path_buf(),
        watch: &loomwright::Silent,
    };
    let code = loomwright::run(words.iter().map(OsString::from), &mut terminal);
    let text = |bytes| String::from_utf8(bytes).expect("output is UTF-8");
    Ran { code, out: text(out), err: text(err) }
}

fn run(folder: &Path, line: &str) -> Ran {
    run_words(folder, &line.split_whitespace().collect::<Vec<_>>())
}

/// A copy of a shipped example, made by `start`.
fn copy_of(example: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let made = run(folder.path(), &format!("start . --from-example {example}"));
    assert_eq!(made.code, 0, "{}", made.err);
    folder
}

fn folder_with(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in files {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().expect("it is in the folder")).expect("a folder in a temporary folder");
        fs::write(path, text).expect("a file in a temporary folder");
    }
    folder
}

const BARE_LIST: &str = "wire,from,to,type,gauge_awg,length,current\nW1,J1.1,J2.1,M22759/44,20,1 m,1 A\n";

#[test]
fn every_example_of_the_help_runs() {
    for command in loomwright::COMMANDS {
        assert!(!command.examples.is_empty(), "{} has no example", command.name);
        for (line, does) in command.examples {
            // Each in a folder of its own, so that one cannot lean on another.
            let folder = copy_of(if command.name == "endure" { "gannet-mended" } else { "bench-rig" });
            let words = line.strip_prefix("loomwright ").expect("an example begins with the program's name");
            for k in (1..=2).filter(|_| command.name == "merge") {
                assert_eq!(run(folder.path(), &format!("faults --shard {k}/2 -o part-{k}.jsonl")).code, 0);
            }
            let ran = run(folder.path(), words);
            let expected = if command.name == "check" { 1 } else { 0 };
            assert_eq!(ran.code, expected, "{line}\n{}{}", ran.out, ran.err);
            assert!(!ran.out.is_empty() || words.contains(" -o "), "{line} prints nothing");
            let help = run(folder.path(), &format!("{} --help", command.name));
            assert_eq!(help.code, 0);
            assert!(help.out.contains(line) && help.out.contains(does), "{line} is not in the help");
        }
    }
}

/// A sweep takes minutes: what stands in the way of its file is said before it, and nothing is worked out.
#[test]
fn a_file_that_cannot_be_written_is_said_before_the_sweep() {
    let folder = copy_of("bench-rig");
    let kept = folder.path().join("modes.csv");
    fs::write(&kept, "mine").expect("a file in a temporary folder");
    // With the input broken, what is said of the file shows that it was looked at first.
    fs::write(folder.path().join("broken.toml"), "[load.L]\n").expect("a file in a temporary folder");
    for (line, code, says) in [
        ("faults -o modes.txt", 2, "its end tells what is wanted"),
        ("faults -o modes", 2, "its end tells what is wanted"),
        ("faults -o modes.csv", 5, "exists already"),
        ("merge part.jsonl -o modes.csv", 5, "exists already"),
        ("faults --shard 1/2 -o modes.svg", 2, "write it with -o FILE.jsonl"),
        ("faults --shard 3/2 -o part.jsonl", 2, "write it as 2/4"),
        ("faults -o other.csv", 2, "broken.toml:1"),
    ] {
        let ran = run(folder.path(), line);
        assert!(ran.code == code && ran.err.contains(says), "{line}: exit {}\n{}", ran.code, ran.err);
    }
    assert_eq!(fs::read_to_string(&kept).expect("it is still there"), "mine");
}

#[test]
fn the_manual_names_every_command_option_and_example() {
    let manual = loomwright::manual();
    for command in loomwright::COMMANDS {
        assert!(manual.contains(&format!("\n## {}\n", command.name)));
        for (line, does) in command.examples {
            assert!(manual.contains(line) && manual.contains(does), "{line}");
        }
    }
    for word in ["--json", "--color", "-C DIR", "--strict", "--today DATE"] {
        assert!(manual.contains(word), "{word}");
    }
}

fn keys(value: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                into.insert(key.clone());
                keys(inner, into);
            }
        }
        Value::Array(list) => list.iter().for_each(|inner| keys(inner, into)),
        _ => {}
    }
}

fn json_of(ran: &Ran) -> Value {
    serde_json::from_str(&ran.out).unwrap_or_else(|error| panic!("{error}: {}", ran.out))
}

#[test]
fn json_has_the_common_keys_and_no_key_that_the_manual_lacks() {
    let manual = include_str!("../../../docs/manual/json.md");
    let mut found = BTreeSet::new();
    for example in ["bench-rig", "starter"] {
        let folder = copy_of(example);
        let whats = [
            "voltages",
            "currents",
            "drops",
            "wires",
            "pins",
            "connectors",
            "functions",
            "bundles",
            "routes",
            "lengths",
            "ampacity",
            "mass",
            "margins",
            "catalog",
            "profile",
            "open",
        ];
        let mut lines: Vec<String> = whats.iter().map(|what| format!("show {what} --all --json")).collect();
        lines.push("check --json".to_owned());
        if example == "bench-rig" {
            lines.push("trace load:radio --json".to_owned());
            lines.push("whatif --open CB2 --short J3.1,J3.2 --json".to_owned());
        }
        for line in lines {
            let object = json_of(&run(folder.path(), &line));
            for key in ["format", "command", "vehicle", "phases", "recalled", "not_judged", "cautions"] {
                assert!(object.get(key).is_some(), "{line} lacks {key}");
            }
            assert_eq!(object["format"], "loomwright/1");
            let rows = if line.starts_with("check") { "margins" } else { "rows" };
            let is_open = line.contains("open")
                || line.contains("functions")
                || line.contains("bundles")
                || line.contains("catalog")
                || line.contains("drops")
                || line.contains("margins");
            assert!(object[rows].as_array().is_some_and(|rows| !rows.is_empty() || is_open), "{line} has no {rows}");
            keys(&object, &mut found);
        }
    }
    keys(&json_of(&run(Path::new("."), "explain --json")), &mut found);
    keys(&json_of(&run(Path::new("."), "check /nowhere/at/all --json")), &mut found);
    for key in found {
        let documented = manual.contains(&format!("`{key}`")) || manual.contains(&format!("\"{key}\""));
        assert!(documented, "docs/manual/json.md lacks {key}");
    }
}

/// The tables of the mission have rows where batteries name their cells, and no key that the manual lacks; the drawing names batteries, buses and phases.
#[test]
fn tables_of_the_mission() {
    let manual = include_str!("../../../docs/manual/json.md");
    let folder = copy_of("gannet-mended");
    for (what, key) in [("timeline", "left_percent"), ("energy", "open_share"), ("loads", "over_5min_a"), ("budget", "charge_ah")] {
        let object = json_of(&run(folder.path(), &format!("show {what} --json")));
        let rows = object["rows"].as_array().expect("rows");
        assert!(rows.len() > 20 && rows[0].get(key).is_some(), "{what}");
        let mut found = BTreeSet::new();
        keys(&object["rows"], &mut found);
        for key in found {
            assert!(manual.contains(&format!("`{key}`")), "docs/manual/json.md lacks {key} of {what}");
        }
        if what == "energy" {
            let open = |row: &Value| row["open_share"].as_f64().expect("a number").abs();
            assert!(rows.iter().all(|row| open(row) < 1e-6), "energy closes: {rows:?}");
        }
    }
    let text = run(folder.path(), "show budget BT2").out;
    for step in ["rated", "− storage", "− cold and rate", "− unusable", "usable", "− free-flight", "left", "− reserve", "margin", "preload"]
    {
        assert!(text.contains(step), "{step} in {text}");
    }
    let drawing = run(folder.path(), "show timeline -o -").out;
    assert!(drawing.starts_with("<svg") && ["BT1", "bus DA", "free-flight", "charge left"].iter().all(|words| drawing.contains(words)));
    // A vehicle whose batteries name no cells says so.
    let bench = copy_of("bench-rig");
    assert!(run(bench.path(), "show timeline").out.contains("no battery names a type of cell"));
}

#[test]
fn show_currents_and_voltages_have_their_stated_rows() {
    let folder = copy_of("bench-rig");
    let currents = json_of(&run(folder.path(), "show currents --json"));
    let first = &currents["rows"][0];
    for key in ["subject", "phase", "corner", "current_a", "from", "to"] {
        assert!(first.get(key).is_some(), "{first}");
    }
    let voltages = json_of(&run(folder.path(), "show voltages --phase work --json"));
    let rows = voltages["rows"].as_array().expect("rows");
    let kinds: BTreeSet<&str> = rows.iter().filter_map(|row| row["subject"]["kind"].as_str()).collect();
    assert_eq!(kinds, BTreeSet::from(["battery", "bus", "load", "sensor"]));
    assert!(rows.iter().all(|row| row["phase"] == "work"));
}

/// Every limit that the profile states is shown with its value and where it comes from.
#[test]
fn show_profile_and_catalog_name_every_source() {
    let folder = copy_of("bench-rig");
    let profile = json_of(&run(folder.path(), "show profile --json"));
    let rows = profile["rows"].as_array().expect("rows");
    let shipped = include_str!("../../../catalog/profiles.toml");
    let block = shipped.split("[profile.space-28v]").nth(1).and_then(|rest| rest.split("[profile.").next()).expect("the profile in force");
    let stated = block.lines().filter(|line| line.contains("source =")).filter_map(|line| line.split(" =").next());
    // Pairs of classes stand on lines of their own inside their list.
    let (pairs, stated): (Vec<&str>, Vec<&str>) = stated.partition(|line| line.starts_with(' '));
    let (apart, rows): (Vec<&Value>, Vec<&Value>) = rows.iter().partition(|row| row["limit"] == "apart");
    assert!(apart.len() == pairs.len() && apart.len() > 5);
    assert!(apart.iter().all(|row| row["classes"].as_array().is_some_and(|two| two.len() == 2) && row["source"] != ""));
    // Tables have a name and no value.
    let (tables, rows): (Vec<&Value>, Vec<&Value>) = rows.into_iter().partition(|row| !row["name"].is_null());
    assert!(tables.iter().all(|row| row["source"].as_str().is_some_and(|source| !source.is_empty())));
    let names: Vec<(&Value, &Value)> = tables.iter().map(|row| (&row["limit"], &row["name"])).collect();
    let named = [("ampacity", "nasa"), ("essential_tier", "1")].map(|(limit, name)| (Value::from(limit), Value::from(name)));
    assert_eq!(names, named.iter().map(|(limit, name)| (limit, name)).collect::<Vec<_>>());
    let shown: Vec<&str> = rows.iter().filter_map(|row| row["limit"].as_str()).collect();
    assert_eq!(BTreeSet::from_iter(shown), BTreeSet::from_iter(stated));
    for row in rows {
        assert!(row["value"].is_number() && row["source"].as_str().is_some_and(|source| !source.is_empty()), "{row}");
    }
    let catalog = json_of(&run(folder.path(), "show catalog --json"));
    let max = catalog["rows"].as_array().expect("rows").iter().find(|row| row["of"] == "wire M22759/44 22 AWG" && row["unit"] == "mohm/m");
    assert!(max.is_some_and(|row| row["how"] == "recalled" && row["source"] != ""));
    let of: BTreeSet<&str> = catalog["rows"].as_array().expect("rows").iter().filter_map(|row| row["of"].as_str()).collect();
    assert!(of.contains("contact 22D") && !of.contains("contact 12"), "only what is in use: {of:?}");
}

#[test]
fn show_functions_and_connectors_of_a_vehicle() {
    let folder = copy_of("gannet-mended");
    let functions = json_of(&run(folder.path(), "show functions --json"));
    let rows = functions["rows"].as_array().expect("rows");
    assert!(rows.len() >= 20);
    assert!(rows.iter().all(|row| !row["need"].as_str().expect("need").is_empty()));
    assert!(rows.iter().all(|row| row["unserved_in"].as_array().is_some_and(Vec::is_empty)), "the mended vehicle serves all of them");
    let connectors = json_of(&run(folder.path(), "show connectors --json"));
    let of = |name: &str| connectors["rows"].as_array().expect("rows").iter().find(|row| row["subject"]["name"] == name).cloned();
    let plug = of("VDEA-P1").expect("a plug of the wire list");
    assert_eq!((&plug["mate"], &plug["half"]), (&Value::from("VDEA-J1"), &Value::from("plug")));
    assert!(plug["used"].as_u64() <= plug["cavities"].as_u64());
    let pins = run(folder.path(), "show pins VDEA-J1").out;
    assert!(pins.contains("VDEA-J1.1") && !pins.contains("VDEB-J1.1"), "{pins}");
    let without = run(folder.path(), "whatif --lose battery:BT1 --phase deorbit").out;
    assert!(without.contains("loads that lose power") && without.contains("bus:DA"), "{without}");
}

/// Temperatures of a vehicle with zones: keys as the manual has them, ranges around the value, and what a zone's change does.
#[test]
fn show_temperatures_and_change_a_zone() {
    let folder = copy_of("gannet-mended");
    let shown = json_of(&run(folder.path(), "show temperatures segment:OCUB-OB segment:HS3-HF3 --json"));
    let mut found = BTreeSet::new();
    keys(&shown, &mut found);
    let manual = include_str!("../../../docs/manual/json.md");
    assert!(found.iter().all(|key| manual.contains(&format!("`{key}`")) || manual.contains(&format!("\"{key}\""))), "{found:?}");
    let row = |wire: &str| shown["rows"].as_array().expect("rows").iter().find(|row| row["subject"]["name"] == wire).cloned().expect(wire);
    let number = |row: &Value, key: &str| row[key].as_f64().unwrap_or_else(|| panic!("{key} of {row}"));
    let (firing, drive) = (row("Q004"), row("H029"));
    for row in [&firing, &drive] {
        assert!(number(row, "low_c") <= number(row, "conductor_c") && number(row, "conductor_c") <= number(row, "high_c"), "{row}");
        let left = number(row, "limit_c") - number(row, "conductor_c") - number(row, "margin_k");
        assert!((left - number(row, "left_k")).abs() < 1e-6 && number(row, "allowed_a") > number(row, "current_a"), "{row}");
    }
    assert_eq!((&firing["film"], &firing["limited_by"]), (&Value::Null, &Value::from("covering BRAID-01")));
    assert_eq!(drive["film"], "forced flow, Churchill and Bernstein");
    assert!(run(folder.path(), "trace wire:H029").out.contains("heat along its route"));
    // Warm walls: the trough that can be touched is too hot, whatever the network does.
    let warm = run(folder.path(), "whatif --phase docked --zone trough:walls=60degC").out;
    assert!(warm.contains("HT-03/segment:HS2-HS3") && warm.contains("--zone zone:trough:walls=333.15K"), "{warm}");
    for (line, said) in [
        ("whatif --zone hold:pressure=0 --phase docked --json", "\"rows\""),
        ("whatif --zone hold:fan=on", "a fan is off"),
        ("whatif --zone hold:pressure=3A", "is no pressure"),
        ("whatif --zone held:pressure=0", "held"),
        ("whatif --set-load FN1=3", "no power, current or resistance"),
    ] {
        let ran = run(folder.path(), line);
        assert!((ran.out + &ran.err).contains(said), "{line}");
    }
}

/// A value of the catalog that nothing judged rests on does not count: the mass of a wire type, the rating of a contact nobody uses.
#[test]
fn recalled_values_are_those_that_results_rest_on() {
    let folder = copy_of("bench-rig");
    let used = json_of(&run(folder.path(), "check --json"));
    let all = json_of(&run(folder.path(), "show open --all --json"));
    let count =
        |object: &Value, key: &str| object[key].as_array().expect("rows").iter().filter(|row| row["standing"] == "recalled").count();
    assert_eq!(used["summary"]["recalled"].as_u64(), Some(count(&used, "recalled") as u64));
    assert!(count(&used, "recalled") < count(&all, "rows"));
    let what = |row: &Value| row["what"].as_str().unwrap_or_default().to_owned();
    let recalled: Vec<String> = used["recalled"].as_array().expect("rows").iter().map(what).collect();
    assert!(recalled.iter().any(|what| what.starts_with("greatest resistance of M22759/44 22 AWG")), "{recalled:?}");
    assert!(recalled.iter().all(|what| !what.starts_with("mass of") && !what.starts_with("outside diameter")), "{recalled:?}");
    let open = run(folder.path(), "show open").out;
    assert!(!open.contains("mass of") && run(folder.path(), "show open --all").out.contains("mass of"));
}

#[test]
fn a_long_list_is_cut_and_says_how_to_see_the_rest() {
    let list: String = (1..=30).map(|n| format!("W{n},J1.{n},J2.{n},30,40 m,2 A\n")).collect();
    let folder = folder_with(&[("wires.csv", &format!("wire,from,to,gauge_awg,length,current\n{list}"))]);
    let cut = run(folder.path(), "check");
    assert_eq!(cut.code, 1);
    assert!(
        cut.out.contains("30 findings") && cut.out.contains("… and 20 more: loomwright check --all, or show margins --rule VD-01"),
        "{}",
        cut.out
    );
    let every = run(folder.path(), "check --all");
    assert!(!every.out.contains("more:") && every.out.matches("   wire:W").count() >= 30, "{}", every.out);
    let margins = run(folder.path(), "show margins --rule vd-01");
    assert_eq!(margins.out.lines().count(), 31);
    assert_eq!(run(folder.path(), "show margins --rule XX-99").code, 2);
}

#[test]
fn exit_code_0_1_2_3() {
    assert_eq!(run(copy_of("bench-rig").path(), "check").code, 1);
    let clean = folder_with(&[("wires.csv", BARE_LIST)]);
    let ran = run(clean.path(), "check");
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("no findings, 2 subjects judged, 0 not judged"), "{}", ran.out);
    let lacking = folder_with(&[("wires.csv", "wire,from,to,gauge_awg,length,current\nW1,J1.1,J2.1,20,,1 A\n")]);
    let ran = run(lacking.path(), "check");
    assert_eq!(ran.code, 3, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("not judged: wire:W1: its length is not stated"), "{}", ran.out);
    assert_eq!(run(lacking.path(), "check --strict").code, 1);
    let broken = folder_with(&[("wires.csv", "wire,from,to,gauge_awg,length\nW1,J1.1,J2.1,20,1 volt\n")]);
    let ran = run(broken.path(), "check");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("wires.csv:2:"), "{}", ran.err);
    let object = json_of(&run(broken.path(), "check --json"));
    assert_eq!(object["diagnostics"][0]["places"][0]["line"], 2);
    assert_eq!(object["diagnostics"][0]["severity"], "error");
}

#[test]
fn what_is_not_understood_is_2_and_says_so() {
    let folder = copy_of("bench-rig");
    for (line, word) in [
        ("chek", "check"),
        ("check --today tomorrow", "YYYY-MM-DD"),
        ("check --today 2026-13-01", "YYYY-MM-DD"),
        ("check /nowhere/at/all", "no such folder"),
        ("show voltages load:radoi", "did you mean load:radio"),
        ("show voltages --phase wrok", "no phase"),
        ("trace load:radoi", "did you mean load:radio"),
        ("trace radio --corner hot", "hot"),
        ("explain ZZ-99", "no rule ZZ-99"),
        ("start new --from-example nothing", "bench-rig"),
    ] {
        let ran = run(folder.path(), line);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{line}: {}", ran.err);
        assert!(ran.err.contains(word), "{line}: {}", ran.err);
        let ran = run(folder.path(), &format!("{line} --json"));
        assert_eq!(ran.code, 2, "{line}");
        assert!(json_of(&ran)["diagnostics"][0]["message"].is_string(), "{line}: {}", ran.out);
    }
    let empty = tempfile::tempdir().expect("a temporary folder");
    let ran = run(empty.path(), "check");
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("loomwright start DIR"), "{}", ran.err);
}

#[test]
fn start_leaves_a_folder_with_files_alone() {
    let folder = folder_with(&[("notes.txt", "mine")]);
    let ran = run(folder.path(), "start .");
    assert_eq!(ran.code, 2);
    assert_eq!(fs::read_dir(folder.path()).expect("folder").count(), 1);
    let ran = run(folder.path(), "start inner/deep");
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("loomwright check inner/deep"), "{}", ran.out);
    let next = run(folder.path(), "check inner/deep");
    assert!(matches!(next.code, 0 | 1 | 3), "{}", next.err);
}

/// Worked by hand: 100 Ah less 14.9 h of 5 A leave 25.5 Ah, 5.1 h of another 5 A: eight of 24 periods, a third. A turn is 20 min and 1 h at the longest: twelve of 74.5 min, of which a third is on.
#[test]
fn turns_are_told_in_words_and_as_json() {
    let vehicle = r#"
format = 1
name = "bench"
profile = "space-28v"
[node.R]
[node.Y]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[bus.A]
return = "node:R"
[breaker.CBY]
line = "bus:A"
load = "node:Y"
rating = "10 A"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "0.1 ohm"
type = "straight"
charge = "100 %"
[load.X]
line = "bus:A"
return = "node:R"
current = "5 A"
[load.Y]
line = "node:Y"
return = "node:R"
current = "5 A"
restart = "yes"
off_at_most = "1 h"
on_at_least = "20 min"
[function.stay]
needs = ["load:X"]
must_keep = true
[function.play]
needs = ["load:Y"]
tier = 2
[phase.p]
duration = "14.9 h"
ambient = "25 degC"
"#;
    let folder = folder_with(&[("vehicle.toml", vehicle)]);
    fs::create_dir(folder.path().join("catalog")).expect("a folder");
    for (name, text) in [
        ("batteries", "type,kind,rated_ah,cut_off_v,greatest_a\nstraight,primary,100,20,20\n"),
        ("battery-curves", "type,temperature_degc,depth_percent,emf_v,ohms_mohm\nstraight,25,0,30,100\nstraight,25,100,24,100\n"),
    ] {
        fs::write(folder.path().join(format!("catalog/{name}.csv")), text).expect("written");
    }
    let told = run(folder.path(), "endure");
    assert!(told.out.contains("cycle breaker:CBY: 24 min 50 s on, 49 min 40 s off, 12 times"), "{}{}", told.out, told.err);
    assert!(told.out.contains("saves 49.7 Ah"), "{}", told.out);
    let json: serde_json::Value = serde_json::from_str(&run(folder.path(), "endure --json").out).expect("JSON");
    let order = &json["plan"]["orders"][0];
    assert_eq!(
        (order["action"].as_str(), order["by"][0].as_str(), order["times"].as_u64()),
        (Some("cycle"), Some("breaker:CBY"), Some(12))
    );
    assert!(
        [("on_s", 1490.0), ("off_s", 2980.0)].iter().all(|(key, s)| order[key].as_f64().is_some_and(|v| (v - s).abs() < 1e-6)),
        "{order}"
    );
}

#[test]
fn faults_are_worked_out_in_the_corner_that_is_asked_for() {
    let folder = copy_of("bench-rig");
    for (arguments, corner) in [("", "low"), (" --corner typical", "typical"), (" --corner high", "high")] {
        let ran = run(folder.path(), &format!("faults --only protector-open --json{arguments}"));
        let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap_or_else(|why| panic!("{why}: {}{}", ran.out, ran.err));
        assert_eq!(json["corner"], corner);
    }
}

#[test]
fn export_writes_whole_files_and_not_over_others() {
    let folder = copy_of("bench-rig");
    let line = "export spice -o a.cir --phase work --corner low";
    assert_eq!(run(folder.path(), line).code, 0);
    let first = fs::read_to_string(folder.path().join("a.cir")).expect("the netlist");
    assert!(first.contains(".end"));
    let printed = run(folder.path(), "export spice -o - --phase work --corner low");
    assert_eq!(printed.out, first);
    let again = run(folder.path(), line);
    assert_eq!(again.code, 5);
    assert!(again.err.contains("--force"), "{}", again.err);
    fs::write(folder.path().join("a.cir"), "old").expect("written");
    assert_eq!(run(folder.path(), &format!("{line} --force")).code, 0);
    assert_eq!(fs::read_to_string(folder.path().join("a.cir")).expect("the netlist"), first);
    assert_eq!(run(folder.path(), "export spice -o no/such/folder/a.cir --phase work --corner low").code, 5);
    let left =
        fs::read_dir(folder.path()).expect("folder").filter_map(Result::ok).filter(|e| e.path().extension().is_some_and(|x| x == "tmp"));
    assert_eq!(left.count(), 0, "no temporary file stays behind");
}

/// A vehicle with one segment: four wires, one of them `<&>`, a twisted pair, a sleeve.
fn one_bundle() -> tempfile::TempDir {
    let vehicle = "format = 1\nname = \"rig\"\n[breakout.B1]\n[breakout.B2]\n[covering.K]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\nmass = \"9 g/m\"\n\
                   [segment.S1]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"0.4 m\"\nbend = \"40 mm\"\ncoverings = [\"K\"]\n\
                   [clamp.C]\nsegment = \"S1\"\nkind = \"clamp\"\nat = \"0.1 m\"\nbore = \"9 mm\"\n[cable.P]\nkind = \"twisted\"\n\
                   [connector.J1]\ncontact = \"20\"\ncavities = 9\nbreakout = \"B1\"\n[connector.J2]\ncontact = \"20\"\ncavities = 9\nbreakout = \"B2\"\n";
    let wires = "wire,from,to,type,gauge_awg,circuit,cable\nW<&>,J1.1,J2.1,M22759/34,20,heat,\nW2,J1.2,J2.2,M22759/34,22,heat,\n\
                 W3,J1.3,J2.3,M22759/34,22,temp,P\nW4,J1.4,J2.4,M22759/34,22,temp,P\n";
    folder_with(&[("vehicle.toml", vehicle), ("wires.csv", wires)])
}

#[test]
fn a_bundle_as_table_and_as_drawing() {
    let folder = one_bundle();
    let all = run(folder.path(), "show bundles");
    assert!(all.code == 0 && all.out.contains("S1") && all.out.contains("clamp:C"), "{}{}", all.out, all.err);
    let rows = json_of(&run(folder.path(), "show bundles segment:S1 --json"))["rows"].clone();
    let number = |key: &str| rows[0][key].as_f64().unwrap_or_else(|| panic!("{key} is a number: {rows}"));
    assert_eq!((rows[0]["wires"].as_u64(), rows[0]["circles"].as_u64()), (Some(4), Some(3)));
    assert!((number("outside_m") - number("packed_m") - 1e-3).abs() < 1e-9);
    assert!((number("bend_least_m") - 6.0 * number("outside_m")).abs() < 1e-9 && number("span_m") == 0.3);
    assert!(number("frequency_loose_hz") < number("frequency_bonded_hz"));
    let one = run(folder.path(), "show bundle S1");
    assert!(one.out.contains("W3, W4") && one.out.contains("cable:P"), "{}", one.out);
    // Every key stands in the manual.
    let manual = include_str!("../../../docs/manual/json.md");
    for line in ["show bundles --json", "show bundle S1 --json"] {
        let mut found = BTreeSet::new();
        keys(&json_of(&run(folder.path(), line)), &mut found);
        let lacking: Vec<&String> = found.iter().filter(|key| !manual.contains(&format!("`{key}`"))).collect();
        assert!(lacking.is_empty(), "{line}: {lacking:?}");
    }
    let members = json_of(&run(folder.path(), "show bundle S1 --json"))["rows"].clone();
    assert_eq!(members.as_array().map(Vec::len), Some(3));
    assert_eq!(members[2]["wires"], serde_json::json!(["W3", "W4"]));

    let line = "show bundle S1 -o s1.svg";
    assert_eq!(run(folder.path(), line).code, 0);
    let first = fs::read_to_string(folder.path().join("s1.svg")).expect("the drawing");
    assert!(first.starts_with("<svg ") && first.ends_with("</svg>\n"));
    for words in ["segment S1", "W&lt;&amp;&gt;", "P: W3 W4", "22 AWG", "heat", "sleeve K"] {
        assert!(first.contains(words), "{words} is in the drawing");
    }
    assert_eq!(run(folder.path(), "show bundle S1 -o -").out, first);
    let again = run(folder.path(), line);
    assert!(again.code == 5 && again.err.contains("--force"), "{}", again.err);
    fs::write(folder.path().join("s1.svg"), "old").expect("written");
    assert_eq!(run(folder.path(), &format!("{line} --force")).code, 0);
    assert_eq!(fs::read_to_string(folder.path().join("s1.svg")).expect("the drawing"), first);
    assert_eq!(run(folder.path(), "show bundle S1 -o no/such/folder/s1.svg").code, 5);
    let left =
        fs::read_dir(folder.path()).expect("folder").filter_map(Result::ok).filter(|e| e.path().extension().is_some_and(|x| x == "tmp"));
    assert_eq!(left.count(), 0, "no temporary file stays behind");

    for (line, says) in [
        ("show bundle", "takes one segment"),
        ("show bundle S1 S1", "takes one segment"),
        ("show bundle S2", "nothing here is named S2"),
        ("show bundle wire:W2", "cannot stand here"),
        ("show wires -o w.svg", "show bundle SEGMENT"),
    ] {
        let ran = run(folder.path(), line);
        assert!(ran.code == 2 && ran.err.contains(says), "{line}: {} {}", ran.code, ran.err);
    }
}

struct Refuses(io::ErrorKind);
impl Write for Refuses {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::Error::from(self.0))
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn output_that_cannot_be_written_is_5_and_a_closed_pipe_is_quiet() {
    let folder = copy_of("bench-rig");
    for (kind, line, code, quiet) in [
        (io::ErrorKind::StorageFull, "check", 5, false),
        (io::ErrorKind::StorageFull, "--help", 5, true),
        (io::ErrorKind::BrokenPipe, "check", 1, true),
        (io::ErrorKind::BrokenPipe, "show wires", 0, true),
        (io::ErrorKind::BrokenPipe, "--help", 0, true),
    ] {
        let mut err = Vec::new();
        let mut out = Refuses(kind);
        let mut terminal = loomwright::Terminal {
            out: &mut out,
            err: &mut err,
            colour_out: false,
            colour_err: false,
            folder: folder.path().to_path_buf(),
            watch: &loomwright::Silent,
        };
        assert_eq!(loomwright::run(line.split_whitespace().map(OsString::from), &mut terminal), code, "{line}");
        assert_eq!(err.is_empty(), quiet, "{line}: {}", String::from_utf8_lossy(&err));
    }
}

#[test]
fn colour_only_where_asked() {
    let folder = copy_of("bench-rig");
    assert!(!run(folder.path(), "check").out.contains('\u{1b}'));
    assert!(!run(folder.path(), "check --color auto").out.contains('\u{1b}'));
    let coloured = run(folder.path(), "check --color always").out;
    assert!(coloured.contains('\u{1b}'));
}

#[test]
fn the_folder_comes_from_the_argument_or_dash_c() {
    let outer = tempfile::tempdir().expect("a temporary folder");
    assert_eq!(run(outer.path(), "start rig --from-example bench-rig").code, 0);
    let by_argument = run(outer.path(), "check rig");
    assert_eq!(by_argument.out, run(outer.path(), "-C rig check").out);
    assert_eq!(by_argument.out, run(outer.path(), "check -C rig").out);
    assert_eq!(by_argument.code, 1);
}

#[test]
fn no_output_claims_more_than_it_can() {
    let folder = copy_of("bench-rig");
    for line in ["check", "check --all", "check --json", "show voltages", "show drops", "trace load:radio", "explain VD-01", "--help"] {
        let out = run(folder.path(), line).out.to_lowercase();
        let words: Vec<&str> = out.split(|c: char| !c.is_alphabetic()).collect();
        for word in ["safe", "sound", "proved"] {
            assert!(!words.contains(&word), "{line} says {word}");
        }
    }
}

/// Points are judged in runs, one a thread: where the runs part may not show.
#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let folder = copy_of("gannet");
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool of threads");
        pool.install(|| run(folder.path(), "check --json").out)
    };
    let one = with(1);
    assert!(one.contains("\"findings\""));
    for threads in [2, 7, 30] {
        assert_eq!(one, with(threads), "{threads} threads");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let folder = copy_of("bench-rig");
    for line in ["check --json", "show voltages --all", "trace load:radio"] {
        assert_eq!(run(folder.path(), line).out, run(folder.path(), line).out, "{line}");
    }
}

/// A battery, two breakers in line and one wire out and back in vacuum: `quick` has the band of the fast 5 A breaker of the federal supply catalogue (NSN
/// 5925-00-226-0377, read) and goes on to 10 000 %; type `own` as in the rules' tests: 0.5 mm² of metal, 40 mohm/m, rated 150 degC.
fn one_guarded_wire() -> tempfile::TempDir {
    let vehicle = "format = 1\nprofile = \"space-28v\"\nend_allowance = \"0 m\"\nslack = \"0 %\"\n[phase.p]\nambient = \"25 degC\"\n[breakout.B1]\n[breakout.B2]\n\
                   [segment.S1]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"10 m\"\nzone = \"bay\"\n[segment.S2]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"10 m\"\nzone = \"bay\"\n\
                   [zone.bay]\npressure = \"0 Pa\"\nwalls = \"20 degC\"\n[unit.U]\n[node.CELLS]\nunit = \"U\"\n[node.M]\nunit = \"U\"\n\
                   [connector.J1]\ncontact = \"12\"\ncavities = 2\nbreakout = \"B1\"\n[connector.J2]\ncontact = \"12\"\ncavities = 2\nbreakout = \"B2\"\n\
                   [battery.B]\npositive = \"node:CELLS\"\nnegative = \"J1.2\"\nemf = \"28 V\"\nohms = \"50 mohm\"\n\
                   [breaker.UP]\nline = \"node:CELLS\"\nload = \"node:M\"\nohms = \"1 mohm\"\nrating = \"20 A\"\ndevice = \"quick\"\n\
                   [breaker.CB]\nline = \"node:M\"\nload = \"J1.1\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
                   [ground.G]\nreference = true\n[strap.S]\nfrom = \"J1.2\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
                   [load.X]\nline = \"J2.1\"\nreturn = \"J2.2\"\ncurrent = \"1 mA\"\nkind = \"resistive\"\ninrush = \"9 A\"\ninrush_time = \"0.1 s\"\n";
    let wires = "wire,from,to,type,gauge_awg,via\nW<&>,J1.1,J2.1,own,20,S1\nW2,J2.2,J1.2,own,20,S2\n";
    let types = "type,construction,family,gauge_awg,area_mm2,max_ohm_per_km,od_mm,rating_degc\nown,plain copper,etfe,20,0.5,40,1.2,150\n";
    let devices = "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nquick,breaker,,115,138,500\n";
    let bands = "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\nquick,5,25,138,,3600\nquick,5,25,200,0.38,2.5\nquick,5,25,400,0.1,0.54\n\
                 quick,5,25,600,0.05,0.27\nquick,5,25,1000,0.02,0.12\nquick,5,25,10000,0.0002,0.0008\n";
    folder_with(&[
        ("vehicle.toml", vehicle),
        ("wires.csv", wires),
        ("catalog/wires.csv", types),
        ("catalog/devices.csv", devices),
        ("catalog/trip-bands.csv", bands),
    ])
}

/// At 300 % a 5 A breaker of that band takes 0.1740 to 1.020 s (band read, arithmetic computed). The wire: 0.5 mm² × 8960 kg/m³ × 385 J/(kg K) over 40 mohm/m ×
/// 0.00393/K, times ln 1.8057 from 20 degC to 225 degC, where ETFE begins to melt, is 6483 A²s: 28.82 s at 15 A (computed).
#[test]
fn a_curve_as_table_and_as_drawing() {
    let folder = one_guarded_wire();
    let ran = run(folder.path(), "show curve CB --json");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let json = json_of(&ran);
    let manual = include_str!("../../../docs/manual/json.md");
    let mut found = BTreeSet::new();
    keys(&json, &mut found);
    let lacking: Vec<&String> = found.iter().filter(|key| !manual.contains(&format!("`{key}`"))).collect();
    assert!(lacking.is_empty(), "{lacking:?}");
    let curve = &json["rows"][0];
    let near = |value: &serde_json::Value, expected: f64, relative: f64| {
        let value = value.as_f64().unwrap_or_else(|| panic!("a number: {value}"));
        assert!((value - expected).abs() <= relative * expected, "{value} is not {expected}");
    };
    let rows = curve["rows"].as_array().cloned().unwrap_or_default();
    let at = |percent: f64| {
        let is_it = |row: &&serde_json::Value| row["percent"].as_f64().is_some_and(|of| (of - percent).abs() < 1e-6);
        rows.iter().find(is_it).cloned().unwrap_or_else(|| panic!("{percent} % has a row"))
    };
    near(&at(300.0)["shortest_s"], 0.1740, 1e-3);
    near(&at(300.0)["longest_s"], 1.020, 1e-3);
    near(&at(300.0)["adiabatic_s"], 28.82, 0.005);
    assert_eq!((at(100.0)["shortest"].as_str(), at(100.0)["longest"].as_str()), (Some("for good"), Some("for good")));
    assert_eq!((at(120.0)["shortest"].as_str(), at(120.0)["longest"].as_str()), (Some("under the band"), Some("for good")));
    // Of the 20 A breaker above 30 A are 150 %, which it holds for 0.38 s at least; its shape is that of 5 A.
    assert_eq!((at(600.0)["above"].as_str(), at(600.0)["above_s"].as_f64()), (Some("under the band"), Some(0.38)));
    assert_eq!(curve["above"][0]["name"].as_str(), Some("UP"));
    assert_eq!((curve["starts"][0]["loads"][0].as_str(), curve["starts"][0]["until_s"][0].as_f64()), (Some("X"), Some(0.1)));
    near(&curve["starts"][0]["current_a"][0], 9.0, 1e-9);
    near(&curve["wire"]["to_degc"], 225.0, 1e-9);
    // For good at the least current; at the greatest no less than while no heat leaves the strands, and hardly more.
    let (currents, times) = (curve["wire"]["section_a"].as_array(), curve["wire"]["section_s"].as_array());
    let (currents, times) = (currents.expect("currents"), times.expect("times"));
    assert!(currents.len() > 3 && times[0].is_null());
    let (current, time) = (currents.last().and_then(|a| a.as_f64()), times.last().and_then(|t| t.as_f64()));
    let integral = current.unwrap_or_default().powi(2) * time.unwrap_or_default();
    assert!(integral > 0.98 * 6483.0 && integral < 1.1 * 6483.0, "{integral} A2s");
    assert_eq!(json_of(&run(folder.path(), "show curve W<&> --json"))["rows"][0]["device"]["name"].as_str(), Some("CB"));

    let text = run(folder.path(), "show curve CB --phase p").out;
    for words in [
        "quick of 5.00 A",
        "holds 5.75 A for good",
        "above it: breaker:UP",
        "start of X: 9.00 A until 100 ms",
        "≥ 380 ms",
        "certified curves",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let line = "show curve CB -o cb.svg";
    assert_eq!(run(folder.path(), line).code, 0);
    let drawing = fs::read_to_string(folder.path().join("cb.svg")).expect("the drawing");
    assert!(drawing.starts_with("<svg ") && drawing.ends_with("</svg>\n") && !drawing.contains("NaN"));
    for words in
        ["breaker:CB", "W&lt;&amp;&gt; stands it in its section", "UP, above it", "start of X", "largest bolted fault", "certified curves"]
    {
        assert!(drawing.contains(words), "{words} is in the drawing");
    }
    assert_eq!(run(folder.path(), "show curve CB -o -").out, drawing);
    assert_eq!(run(folder.path(), line).code, 5, "it is there already");
    for (line, says) in [
        ("show curve", "takes one breaker, fuse, limiter or wire"),
        ("show curve CB UP", "takes one breaker, fuse, limiter or wire"),
        ("show curve CX", "nothing here is named CX"),
        ("show curve load:X", "cannot stand here"),
        ("show curve W2", "guards W2"),
    ] {
        let ran = run(folder.path(), line);
        assert!(ran.code == 2 && ran.err.contains(says), "{line}: {} {}", ran.code, ran.err);
    }
}

#[test]
fn build_writes_only_into_what_is_its_own() {
    let folder = copy_of("bench-rig");
    let at = |path: &str| folder.path().join(path);
    let first = run(folder.path(), "build -o out --date 2027-03-01");
    assert_eq!((first.code, first.err.as_str()), (0, ""));
    assert!(first.out.contains("bench-rig, revision"), "{}", first.out);
    assert!(at("out/tables/wire-list.csv").exists() && at("out/tables.xlsx").exists() && at("out/build.txt").exists());
    // Again, in its place; a file that was changed is kept unless it is said otherwise.
    assert_eq!(run(folder.path(), "build -o out").code, 0);
    fs::write(at("out/tables/wire-list.csv"), "mine").expect("written");
    let refused = run(folder.path(), "build -o out");
    assert_eq!(refused.code, 5);
    assert!(refused.err.contains("tables/wire-list.csv was changed since it was written"), "{}", refused.err);
    assert_eq!(fs::read_to_string(at("out/tables/wire-list.csv")).expect("there"), "mine");
    assert_eq!(run(folder.path(), "build -o out --force").code, 0);
    // What is somebody else's is never touched.
    fs::write(at("out/notes.txt"), "mine").expect("written");
    for line in ["build -o out", "build -o out --force"] {
        let refused = run(folder.path(), line);
        assert_eq!(refused.code, 5);
        assert!(refused.err.contains("notes.txt is not from `build`"), "{}", refused.err);
    }
    fs::create_dir(at("other")).expect("made");
    fs::write(at("other/x"), "mine").expect("written");
    let refused = run(folder.path(), "build -o other --force");
    assert_eq!(refused.code, 5);
    assert!(refused.err.contains("holds files that `build` did not write"), "{}", refused.err);
    assert_eq!(fs::read_to_string(at("other/x")).expect("there"), "mine");
    // The vehicle's own folder is somebody else's too; a date has to be one.
    assert_eq!(run(folder.path(), "build -o .").code, 5);
    assert_eq!(run(folder.path(), "build -o out2 --date tomorrow").code, 2);
    let json = run(folder.path(), "build -o out3 --json");
    let object: Value = serde_json::from_str(&json.out).expect("JSON");
    assert!(object["files"].as_array().is_some_and(|files| files.iter().any(|file| file == "tables/wire-list.csv")));
}
