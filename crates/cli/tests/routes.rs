//! `show routes`, `show lengths`, `trace` and `whatif --cut` on a harness of four segments, by hand.

use serde_json::{Value, json};
use std::ffi::OsString;
use std::path::Path;

/// From A to D over B (1 + 1 m) or over C (1 + 1.5 m); the load's feed goes over B by its shortest way, its return is pinned over C, and a
/// circuit that must not meet the feed's is moved there.
const VEHICLE: &str = r#"
format = 1
name = "square"
end_allowance = "50 mm"
slack = "4 %"
[unit.PDU]
breakout = "A"
[unit.BOX]
breakout = "D"
[connector.J1]
unit = "PDU"
contact = "20"
[connector.J2]
unit = "BOX"
contact = "20"
[bus.A]
unit = "PDU"
return = "node:R"
[node.R]
unit = "PDU"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "1 mohm"
rating = "50 A"
[link.in]
from = "bus:A"
to = "J1.1"
[link.out]
from = "node:R"
to = "J1.2"
[load.X]
line = "J2.1"
return = "J2.2"
current = "2 A"
[breakout.A]
[breakout.B]
[breakout.C]
[breakout.D]
[segment.AB]
from = "A"
to = "B"
length = "1 m"
[segment.BD]
from = "B"
to = "D"
length = "1 m"
[segment.AC]
from = "A"
to = "C"
length = "1 m"
[segment.CD]
from = "C"
to = "D"
length = "1.5 m"
[circuit.feed]
not_with = ["other"]
[circuit.other]
"#;

const WIRES: &str = "wire,from,to,type,gauge_awg,length_m,via,circuit\n\
                     W1,J1.1,J2.1,M22759/32,20,,,feed\nW2,J2.2,J1.2,M22759/32,20,,C,\nW3,J1.3,J2.3,M22759/32,20,2.7,,other\n\
                     W4,J9.1,J2.4,M22759/32,20,,,\n";

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(folder.path().join("vehicle.toml"), VEHICLE).expect("written");
    std::fs::write(folder.path().join("wires.csv"), WIRES).expect("written");
    folder
}

fn run(folder: &Path, line: &str) -> (u8, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut terminal = loomwright::Terminal {
        out: &mut out,
        err: &mut err,
        colour_out: false,
        colour_err: false,
        folder: folder.to_path_buf(),
        watch: &loomwright::Silent,
    };
    let code = loomwright::run(line.split_whitespace().map(OsString::from), &mut terminal);
    let text = |bytes| String::from_utf8(bytes).expect("output is UTF-8");
    (code, text(out), text(err))
}

fn json_of(folder: &Path, line: &str) -> Value {
    let (code, out, err) = run(folder, &format!("{line} --json"));
    assert_eq!(code, 0, "{out}{err}");
    serde_json::from_str(&out).expect("one object")
}

fn row<'v>(output: &'v Value, name: &str) -> &'v Value {
    let rows = output["rows"].as_array().expect("rows");
    rows.iter().find(|row| row["subject"]["name"] == name).unwrap_or_else(|| panic!("{name}: {output:#}"))
}

#[test]
fn routes_say_where_wires_lie_and_what_moved_them() {
    let folder = folder();
    let output = json_of(folder.path(), "show routes");
    let of = |name: &str| row(&output, name);
    assert_eq!(of("W1")["segments"], json!(["AB", "BD"]));
    assert_eq!(of("W1")["breakouts"], json!(["A", "B", "D"]));
    assert_eq!((&of("W1")["detour_m"], &of("W1")["moved_by"], &of("W1")["pinned"]), (&json!(0.0), &json!(null), &json!(false)));
    assert_eq!((&of("W2")["segments"], &of("W2")["pinned"], &of("W2")["against"]), (&json!(["CD", "AC"]), &json!(true), &json!(false)));
    assert_eq!((&of("W3")["path_m"], &of("W3")["detour_m"]), (&json!(2.5), &json!(0.5)));
    assert_eq!(of("W3")["moved_by"], json!({"segment": "AB", "why": "holds circuit feed (W1)"}));
    assert_eq!((&of("W4")["path_m"], &of("W4")["reason"]), (&json!(null), &json!("J9.1 is at no breakout")));
    let cautions = output["cautions"].as_array().expect("cautions");
    assert!(cautions.iter().any(|caution| caution.as_str().is_some_and(|text| text.contains("not proven to be the least"))));
    // A segment stands for the wires in it, and names are known or refused.
    let names = |line: &str| -> Vec<String> {
        let output = json_of(folder.path(), line);
        let rows = output["rows"].as_array().expect("rows");
        rows.iter().map(|row| row["subject"]["name"].as_str().expect("a name").to_owned()).collect()
    };
    assert_eq!(names("show routes segment:CD"), ["W2", "W3"]);
    assert_eq!(names("show routes breakout:B"), ["W1"]);
    assert_eq!(names("show routes W3 W1"), ["W1", "W3"]);
    assert_eq!(run(folder.path(), "show routes segment:ZZ").0, 2);
    let (code, text, _) = run(folder.path(), "show routes");
    assert_eq!(code, 0);
    let line =
        |name: &str| text.lines().find(|line| line.starts_with(name)).expect("a line").split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(line("W3"), "W3 A ─AC─ C ─CD─ D 2.500 0.500 not by segment AB: it holds circuit feed (W1)");
    assert!(text.contains("4 wires, 1 off the way that they would take alone, 1 without a route"), "{text}");
    assert!(text.contains("not proven to be the least"), "{text}");
}

/// 2 m and 4 % and twice 50 mm: 2.18 m; 2.5 m likewise 2.7 m.
#[test]
fn lengths_say_what_they_are_made_of() {
    let folder = folder();
    let output = json_of(folder.path(), "show lengths");
    let number = |name: &str, key: &str| row(&output, name)[key].as_f64().expect("a number");
    assert!((number("W1", "length_m") - 2.18).abs() < 1e-9 && (number("W2", "length_m") - 2.7).abs() < 1e-9);
    assert!((number("W1", "slack_m") - 0.08).abs() < 1e-9);
    assert_eq!((&row(&output, "W1")["from"], &row(&output, "W1")["ends_m"]), (&json!("route"), &json!([0.05, 0.05])));
    assert_eq!((&row(&output, "W3")["from"], &row(&output, "W3")["length_m"]), (&json!("stated"), &json!(2.7)));
    assert!((number("W3", "by_route_m") - 2.7).abs() < 1e-9);
    assert_eq!((&row(&output, "W4")["from"], &row(&output, "W4")["length_m"]), (&json!(null), &json!(null)));
    assert!(row(&output, "W4")["reason"].as_str().expect("a reason").ends_with("J9.1 is at no breakout"));
    let (_, text, _) = run(folder.path(), "show lengths");
    assert!(text.contains("4 wires: 1 stated, 2 from the route, 1 not known"), "{text}");
    // `show wires` has the same number.
    let wires = json_of(folder.path(), "show wires");
    assert!((row(&wires, "W1")["length_m"].as_f64().expect("a number") - 2.18).abs() < 1e-9);
    // And trace says where it is from.
    let trace = json_of(folder.path(), "trace load:X");
    assert_eq!(row(&trace, "W2")["segments"], json!(["CD", "AC"]));
    let (_, text, _) = run(folder.path(), "trace load:X");
    let line = text.lines().find(|line| line.starts_with("wire:W2")).expect("its length").split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(line, "wire:W2 2.700 2.500 0.100 0.100 CD, AC");
}

#[test]
fn a_cut_segment_takes_what_lies_in_it() {
    let folder = folder();
    for (segment, cut) in [("AB", true), ("CD", true), ("BD", true)] {
        let output = json_of(folder.path(), &format!("whatif --cut {segment}"));
        assert_eq!(output["changes"], json!([format!("--cut segment:{segment}")]));
        let appeared = output["appeared"].as_array().expect("findings");
        assert_eq!(appeared.iter().any(|finding| finding["id"] == "UF-01/load:X"), cut, "{segment}");
        let cautions = output["cautions"].to_string();
        assert!(cautions.contains("no route is known of W4"), "{cautions}");
    }
    // The words of the output, written again, give the same output.
    let once = json_of(folder.path(), "whatif --cut CD --set-load X=1A");
    let words: Vec<&str> = once["changes"].as_array().expect("changes").iter().filter_map(Value::as_str).collect();
    assert_eq!(json_of(folder.path(), &format!("whatif {}", words.join(" "))), once);
    for line in ["whatif --cut W1", "whatif --cut nothing", "whatif --cut breakout:B"] {
        let (code, _, err) = run(folder.path(), line);
        assert_eq!(code, 2, "{line}: {err}");
    }
}
