//! Rules of energy, by hand.

use crate::*;

/// A battery of 100 Ah that falls straight from 30 to 24 V behind 0.1 ohm, with 10 A for five hours: half is left, 26 V stand at the bus. Changes are texts in
/// place of others, in every file.
pub(crate) fn mission(changes: &[(&str, &str)]) -> (Design, Verdict) {
    let vehicle = r#"
format = 1
name = "bench"
profile = "space-28v"
[node.R]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[bus.A]
return = "node:R"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "0.1 ohm"
rating = "10 A"
peak = "10 A"
type = "straight"
charge = "100 %"
[load.X]
line = "bus:A"
return = "node:R"
current = "10 A"
[function.f]
needs = ["load:X"]
must_keep = true
[phase.p]
duration = "5 h"
ambient = "25 degC"
"#;
    let files = [
        ("vehicle.toml", vehicle),
        ("catalog/batteries.csv", "type,kind,rated_ah,cut_off_v,greatest_a\nstraight,primary,100,20,20\n"),
        (
            "catalog/battery-curves.csv",
            "type,temperature_degc,depth_percent,emf_v,ohms_mohm\nstraight,25,0,30,100\nstraight,25,100,24,100\n",
        ),
    ];
    let mut files: Vec<(&str, String)> = files.iter().map(|(path, text)| (*path, (*text).to_owned())).collect();
    for (from, to) in changes {
        assert!(files.iter().any(|(_, text)| text.contains(from)), "{from}");
        files.iter_mut().for_each(|(_, text)| *text = text.replace(from, to));
    }
    let files: Vec<(&str, &str)> = files.iter().map(|(path, text)| (*path, text.as_str())).collect();
    judge_stages(&files, None, Stages { timeline: true, ..Stages::default() })
}

/// A second battery on the same bus.
pub(crate) fn second(charge: &str) -> String {
    format!(
        "[battery.C]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\nrating = \"10 A\"\npeak = \"10 A\"\n\
         type = \"straight\"\ncharge = \"{charge}\"\n"
    )
}

fn found(verdict: &Verdict, rule: &str) -> Vec<String> {
    findings_of(verdict, rule).into_iter().map(str::to_owned).collect()
}

/// 5 % of uncertainty: of 50 % that are left (0.5 − 0.05)/0.95 = 47.37 % may be used. 24 % left are exactly the reserve of 20 %, after 7.6 h.
#[test]
fn en_01_reserve() {
    let (design, verdict) = mission(&[]);
    let margin = margin_of(&design, &verdict, "EN-01", "battery:B", Bound::AtLeast);
    assert!((margin.value - 100.0 * 0.45 / 0.95).abs() < 1e-6 && margin.limit == 20.0 && margin.judged == 3, "{margin:?}");
    for (duration, expected) in [("7.6 h", 0), ("7.601 h", 1), ("7.5 h", 0)] {
        let (_, verdict) = mission(&[("duration = \"5 h\"", &format!("duration = \"{duration}\""))]);
        assert_eq!(found(&verdict, "EN-01").len(), expected, "{duration}");
    }
    // With a cut-off of 25 V the last third lies below it: E − 1 V = 25 V at two thirds. (1/2 − 1/3 − 0.05)/(1 − 1/3 − 0.05).
    let (design, verdict) = mission(&[("100,20,20", "100,25,20")]);
    let margin = margin_of(&design, &verdict, "EN-01", "battery:B", Bound::AtLeast);
    assert!((margin.value - 100.0 * (0.5 - 1.0 / 3.0 - 0.05) / (1.0 - 1.0 / 3.0 - 0.05)).abs() < 1e-4, "{margin:?}");
    assert_eq!(found(&verdict, "EN-01"), ["EN-01/battery:B"]);
}

/// What a year in storage leaves, and what age does: 100 Ah × 0.9 (of a tenth lost in a year) × 0.8: of 72 Ah 50 are given.
#[test]
fn en_01_of_a_worn_battery() {
    let losses = "type,temperature_degc,loss_percent,over_d\nstraight,20,10,365.25\n";
    let changes = [("charge = \"100 %\"", "charge = \"100 %\"\nstored = \"365.25 d\"\nstored_at = \"20 degC\"\ncapacity_left = \"80 %\"")];
    let (_, verdict) = mission(&changes);
    // The catalog says nothing of its losses.
    assert!(
        verdict.not_judged.iter().any(|row| row.rule.0 == "EN-01" && row.missing == "battery-losses of its type"),
        "{:?}",
        verdict.not_judged
    );
    let loads = |verdict: &Verdict, design: &Design| margin_of(design, verdict, "EN-01", "battery:B", Bound::AtLeast).value;
    let (design, verdict) = with_file(&changes, ("catalog/battery-losses.csv", losses));
    let left = 1.0 - 50.0 / 72.0;
    let uncertain = 0.05 / 0.72;
    assert!((loads(&verdict, &design) - 100.0 * (left - uncertain) / (1.0 - uncertain)).abs() < 1e-6);
    // Stored half-way between two temperatures, what is left is the geometric mean of both: of 4 % and 16 % lost √(0.96 × 0.84) = 0.898.
    let losses = "type,temperature_degc,loss_percent,over_d\nstraight,10,4,365.25\nstraight,30,16,365.25\n";
    let (design, verdict) = with_file(&changes, ("catalog/battery-losses.csv", losses));
    let whole = 0.8 * (0.96f64 * 0.84).sqrt();
    let (left, uncertain) = (1.0 - 0.5 / whole, 0.05 / whole);
    assert!((loads(&verdict, &design) - 100.0 * (left - uncertain) / (1.0 - uncertain)).abs() < 1e-6);
}

fn with_file(changes: &[(&str, &str)], more: (&str, &str)) -> (Design, Verdict) {
    // The losses stand in the list of curves' folder: a file more.
    let vehicle = include_vehicle(changes);
    let mut files: Vec<(&str, &str)> = vehicle.iter().map(|(path, text)| (path.as_str(), text.as_str())).collect();
    files.push(more);
    judge_stages(&files, None, Stages { timeline: true, ..Stages::default() })
}

/// The files of [`mission`] after changes.
fn include_vehicle(changes: &[(&str, &str)]) -> Vec<(String, String)> {
    let (design, _) = mission(changes);
    design
        .sources
        .files()
        .map(|(_, file)| (file.path.to_string(), file.text.to_string()))
        .filter(|(path, _)| !path.starts_with("shipped:"))
        .collect()
}

/// 26 V after five hours, 29 V at first; a bus may stand between 22 and 34 V. From 35 V to 21 V: 22 V after 8.571 h, 34 V at first.
#[test]
fn en_02_bus_as_charge_runs_down() {
    let (design, verdict) = mission(&[]);
    let low = margin_of(&design, &verdict, "EN-02", "bus:A", Bound::AtLeast);
    let high = margin_of(&design, &verdict, "EN-02", "bus:A", Bound::AtMost);
    assert!(
        (low.value - 26.0).abs() < 1e-5 && low.limit == 22.0 && (high.value - 29.0).abs() < 1e-5 && high.limit == 34.0,
        "{low:?} {high:?}"
    );
    let curve = |from: &str, to: &str| format!("straight,25,0,{from},100\nstraight,25,100,{to},100");
    let judged = |from: &str, to: &str, duration: &str| {
        let curve = curve(from, to);
        let changes = [
            ("straight,25,0,30,100\nstraight,25,100,24,100", curve.as_str()),
            ("duration = \"5 h\"", &format!("duration = \"{duration}\"")),
        ];
        found(&mission(&changes).1, "EN-02").len()
    };
    // E = 35 − 14 × depth, less 1 V: 22 V at a depth of 12/14.
    assert_eq!((judged("35", "21", "8.571 h"), judged("35", "21", "8.58 h"), judged("35.01", "21", "5 h")), (0, 1, 1));
}

/// A mean of 10 A; of 10 A for 1 s in 10 s the mean is 1 A and the peak 10 A.
#[test]
fn en_03_and_en_04_mean_and_peak() {
    let pulses = ("current = \"10 A\"", "current = \"10 A\"\non_time = \"1 s\"\nperiod = \"10 s\"\nduty = \"intermittent\"");
    let (design, verdict) = mission(&[]);
    assert!((margin_of(&design, &verdict, "EN-03", "battery:B", Bound::AtMost).value - 10.0).abs() < 1e-9);
    assert_eq!((found(&verdict, "EN-03").len(), found(&verdict, "EN-04").len()), (0, 0));
    let (_, verdict) = mission(&[("rating = \"10 A\"", "rating = \"9.99 A\"")]);
    assert_eq!((found(&verdict, "EN-03").len(), found(&verdict, "EN-04").len()), (1, 0));
    let (design, verdict) = mission(&[pulses, ("rating = \"10 A\"", "rating = \"1 A\"")]);
    assert!((margin_of(&design, &verdict, "EN-03", "battery:B", Bound::AtMost).value - 1.0).abs() < 1e-9);
    assert!((margin_of(&design, &verdict, "EN-04", "battery:B", Bound::AtMost).value - 10.0).abs() < 1e-6);
    assert_eq!((found(&verdict, "EN-03").len(), found(&verdict, "EN-04").len()), (0, 0));
    let (_, verdict) = mission(&[pulses, ("rating = \"10 A\"", "rating = \"1 A\""), ("peak = \"10 A\"", "peak = \"9.99 A\"")]);
    assert_eq!((found(&verdict, "EN-03").len(), found(&verdict, "EN-04").len()), (0, 1));
}

/// 10 A in one string, of at most 10 A; in two strings 5 A each.
#[test]
fn en_05_discharge_rate() {
    let with = |greatest: &str, strings: &str| {
        let changes =
            [("100,20,20", format!("100,20,{greatest}")), ("charge = \"100 %\"", format!("charge = \"100 %\"\nstrings = {strings}"))];
        let changes: Vec<(&str, &str)> = changes.iter().map(|(from, to)| (*from, to.as_str())).collect();
        found(&mission(&changes).1, "EN-05").len()
    };
    assert_eq!((with("10", "1"), with("9.99", "1"), with("5", "2"), with("4.99", "2")), (0, 1, 0, 1));
}

/// 30 V and 27 V behind 0.1 ohm each: 15 A less half of what the load takes flow into the emptier one. Full ones share; one that can be charged may take it.
#[test]
fn en_06_a_primary_battery_is_charged() {
    let with = |charge: &str, kind: &str| {
        let more = format!("{}[load.X]", second(charge));
        let (_, verdict) = mission(&[("[load.X]", &more), ("straight,primary", &format!("straight,{kind}"))]);
        (found(&verdict, "EN-06"), counted(&verdict, "EN-06"))
    };
    assert_eq!(with("50 %", "primary"), (vec!["EN-06/battery:C".to_owned()], 2));
    assert_eq!(with("100 %", "primary"), (vec![], 2));
    assert_eq!(with("50 %", "rechargeable"), (vec![], 2));
    // 0.6 V per tenth of depth: 10 A of load bridge 1 V, and not 1.2 V.
    assert_eq!(with("84 %", "primary").0.len(), 0);
    assert_eq!(with("80 %", "primary").0.len(), 1);
}

/// Empty after ten hours: a phase of 9.9 h ends before, one of 11 h after it.
#[test]
fn en_07_what_must_be_kept() {
    let with = |duration: &str, keep: &str| {
        let (_, verdict) = mission(&[("duration = \"5 h\"", &format!("duration = \"{duration}\"")), ("must_keep = true", keep)]);
        (found(&verdict, "EN-07"), counted(&verdict, "EN-07"))
    };
    assert_eq!(with("9.9 h", "must_keep = true"), (vec![], 1));
    assert_eq!(with("11 h", "must_keep = true"), (vec!["EN-07/function:f".to_owned()], 1));
    assert_eq!(with("11 h", "must_keep = false"), (vec![], 0));
}

/// X is on, off, and on again in a last phase at an ambient; Y states a restart, so that X is asked for one.
pub(crate) fn again(restart: &str, ambient: &str) -> (Design, Verdict) {
    let phases = format!(
        "[phase.q]\nduration = \"1 h\"\nambient = \"25 degC\"\noff = [\"load:X\"]\n[phase.r]\nduration = \"1 h\"\nambient = \"{ambient}\"\n"
    );
    let other = "[load.Y]\nline = \"bus:A\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\nrestart = \"no\"\n";
    let row = format!("current = \"10 A\"\n{restart}");
    let end = "ambient = \"25 degC\"\n";
    mission(&[("current = \"10 A\"\n", &row), (end, &format!("{end}{phases}{other}"))])
}

/// Off in q, X comes on again in r: not if it does so but once, not below 10 degC if that is stated, not with less than the 28 - 0.1 x 11 = 26.9 V that the bus has.
#[test]
fn en_08_loads_locked_out() {
    let with = |restart: &str, ambient: &str| {
        let (_, verdict) = again(restart, ambient);
        (found(&verdict, "EN-08").len(), verdict.not_judged.iter().filter(|row| row.rule.0 == "EN-08").count())
    };
    assert_eq!(with("restart = \"no\"\n", "25 degC"), (1, 0));
    assert_eq!(with("restart = \"yes\"\n", "25 degC"), (0, 0));
    assert_eq!(with("", "25 degC"), (0, 1));
    assert_eq!(with("restart_above = \"10 degC\"\n", "9 degC"), (1, 0));
    assert_eq!(with("restart_above = \"10 degC\"\n", "10 degC"), (0, 0));
    assert_eq!(with("restart_volts = \"27 V\"\n", "25 degC"), (1, 0));
    assert_eq!(with("restart_volts = \"26.8 V\"\n", "25 degC"), (0, 0));
    // Y is on throughout: that it comes on but once is no matter. Nor is it that X is on for the first time.
    let (_, verdict) = again("restart = \"no\"\nstate = \"off\"\n", "25 degC");
    assert_eq!(found(&verdict, "EN-08").len(), 0);
}

/// Without any type nothing is asked for; with one, the others are.
#[test]
fn batteries_without_a_type() {
    let untyped = ("type = \"straight\"\ncharge = \"100 %\"\n", "");
    let (_, verdict) = mission(&[untyped]);
    let lacking: Vec<&NotJudged> = verdict.not_judged.iter().filter(|row| row.rule.0.starts_with("EN")).collect();
    assert!(!lacking.is_empty() && lacking.iter().all(|row| !row.required && row.missing == "type"), "{lacking:?}");
    let more = second("100 %").replace("type = \"straight\"\ncharge = \"100 %\"\n", "") + "[load.X]";
    let (design, verdict) = mission(&[("[load.X]", &more)]);
    assert!(verdict.not_judged.iter().any(|row| row.rule.0 == "EN-01" && row.required && design.subject_words(row.subject) == "battery:C"));
}
