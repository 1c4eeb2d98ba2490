//! The freighter and its flaws: mended it finds nothing, each patch alone finds exactly what its paragraph says, all together are
//! `examples/gannet`, and no name in it matters to anybody.

use analysis::{Silent, Stages, run};
use model::*;
use rules::{Case, judge_study};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use trials::{design, read_folder, read_text, root};

pub(super) type Files = Vec<(String, Vec<u8>)>;

fn example(name: &str) -> PathBuf {
    root().join("examples").join(name)
}

fn verdict(design: &Design) -> Verdict {
    let study = run(design, Stages::CHECK, &Silent).expect("nobody cancelled");
    judge_study(&Case { design, prepared: &study.prepared, today: None }, &study)
}

/// Rules that the freighter's profile does not ask for: the light aircraft has their subjects.
const OF_AIRCRAFT: [&str; 1] = ["AM-02"];

/// The aircraft's breakers fit its gauges, one of them exactly; with a breaker one size up it does not.
#[test]
fn rules_of_aircraft_have_subjects_in_the_light_aircraft() {
    let mut files = read_folder(&example("light-aircraft"));
    let fitting = design(&files);
    let verdict_of = |design: &Design| (verdict(design).margins, findings(design, &verdict(design)));
    let (margins, found) = verdict_of(&fitting);
    for rule in OF_AIRCRAFT {
        let mut of_rule = margins.iter().filter(|m| m.rule.0 == rule).peekable();
        assert!(of_rule.peek().is_some(), "{rule}");
        assert!(of_rule.any(|m| m.margin() == 0.0), "{rule} has a subject at its limit");
        assert!(!found.keys().any(|id| id.starts_with(rule)), "{found:?}");
    }
    // The light's wires are of 20 AWG and then 18 AWG: 7.5 A and 10 A at most (FAA AC 43.13-1B, table 11-3, read).
    let (_, bytes) = files.iter_mut().find(|(path, _)| path == "panel.toml").expect("the panel has a file");
    let text = String::from_utf8(bytes.clone()).expect("UTF-8");
    let (before, after) = text.split_once("[breaker.CB-LAND]").expect("the landing light has a breaker");
    *bytes = format!("{before}[breaker.CB-LAND]{}", after.replacen("rating = \"7.5 A\"", "rating = \"10 A\"", 1)).into_bytes();
    let (_, found) = verdict_of(&design(&files));
    assert_eq!(found.keys().filter(|id| id.starts_with("AM-02")).collect::<Vec<_>>(), ["AM-02/wire:L1"]);
}

/// Findings by id, each with the states that fail.
fn findings(design: &Design, verdict: &Verdict) -> BTreeMap<String, BTreeSet<String>> {
    let state = |(phase, corner): &(Id<Phase>, Corner)| format!("{}:{}", design.phases[*phase].name, corner.word());
    verdict.findings.iter().map(|finding| (finding.id.clone(), finding.phases.iter().map(state).collect())).collect()
}

/// Rules that `check` judges; those of a sweep have flaws of their own.
fn of_check() -> impl Iterator<Item = &'static str> {
    rules::RULES.iter().filter(|rule| rule.check.by_command().is_none()).map(|rule| rule.code.0)
}

/// A patch of one flaw: its name, its text, and the findings stated in the README.
pub(super) struct Flaw {
    pub(super) name: String,
    pub(super) patch: String,
    expected: BTreeMap<String, BTreeSet<String>>,
    /// Of a flaw that `faults` finds: which faults are looked at, and what changes in them.
    pub(super) faults: Option<Vec<String>>,
    /// Of a flaw that `separate` finds, those findings.
    pub(super) separate: Option<BTreeSet<String>>,
}

/// Every flaw of the README in order; its `expect` block holds an id and then the failing states on each line.
pub(super) fn flaws() -> Vec<Flaw> {
    let folder = example("gannet").join("flaws");
    let text = read_text(&folder.join("README.md"));
    let flaws: Vec<Flaw> = text
        .split("\n## ")
        .skip(1)
        .map(|section| {
            let name = section.lines().next().expect("a section has a heading").to_owned();
            let (_, rest) = section.split_once("```expect\n").unwrap_or_else(|| panic!("{name} states nothing"));
            let (block, _) = rest.split_once("```").unwrap_or_else(|| panic!("the block of {name} has no end"));
            let line = |line: &str| {
                let mut words = line.split(' ').map(str::to_owned);
                (words.next().expect("a line has an id"), words.collect())
            };
            let faults = section.split_once("```faults\n").and_then(|(_, rest)| rest.split_once("```"));
            let separate = section.split_once("```separate\n").and_then(|(_, rest)| rest.split_once("```"));
            Flaw {
                patch: read_text(&folder.join(format!("{name}.patch"))),
                expected: block.lines().map(line).collect(),
                faults: faults.map(|(block, _)| block.lines().map(str::to_owned).collect()),
                separate: separate.map(|(block, _)| block.lines().map(str::to_owned).collect()),
                name,
            }
        })
        .collect();
    let written = std::fs::read_dir(&folder).expect("the folder of the flaws can be read");
    let written = written.filter(|entry| entry.as_ref().is_ok_and(|e| e.path().extension().is_some_and(|e| e == "patch"))).count();
    assert_eq!(written, flaws.len(), "each patch has its paragraph");
    flaws
}

/// Applies a unified diff. A hunk lands where its lines stand, nearest to the line that it states: patches before it may have
/// moved them. Lines that are not there, or a file that is not, are a panic.
pub(super) fn apply(files: &mut Files, patch: &str, name: &str) {
    let mut lines = patch.lines().peekable();
    let mut target = None;
    while let Some(line) = lines.next() {
        if let Some(path) = line.strip_prefix("+++ b/") {
            target = Some(files.iter().position(|(p, _)| p == path).unwrap_or_else(|| panic!("{name}: no file {path}")));
        }
        let Some(header) = line.strip_prefix("@@ -") else { continue };
        let stated = header.split([',', ' ']).next().and_then(|number| number.parse::<usize>().ok());
        let stated = stated.unwrap_or_else(|| panic!("{name}: {line}"));
        let (mut old, mut new): (Vec<&str>, Vec<&str>) = (Vec::new(), Vec::new());
        while let Some(line) = lines.next_if(|line| line.starts_with([' ', '-', '+'])) {
            let (mark, text) = line.split_at(1);
            if mark != "+" {
                old.push(text);
            }
            if mark != "-" {
                new.push(text);
            }
        }
        let (path, bytes) = &mut files[target.unwrap_or_else(|| panic!("{name}: a hunk before its file"))];
        let text = std::str::from_utf8(bytes).expect("files of the example are UTF-8").to_owned();
        let mut all: Vec<&str> = text.lines().collect();
        let found = (0..all.len()).filter(|&at| all[at..].starts_with(&old)).min_by_key(|at| at.abs_diff(stated.saturating_sub(1)));
        let at = found.unwrap_or_else(|| panic!("{name}: {path} does not have {old:?}"));
        all.splice(at..at + old.len(), new);
        *bytes = (all.join("\n") + "\n").into_bytes();
    }
}

#[test]
fn mended_finds_nothing_and_judges_everything() {
    let design = design(&read_folder(&example("gannet-mended")));
    let verdict = verdict(&design);
    assert_eq!(findings(&design, &verdict), BTreeMap::new());
    let required: Vec<&NotJudged> = verdict.not_judged.iter().filter(|row| row.required).collect();
    assert!(required.is_empty(), "{required:?}");
    // What lies near a segment is declared where anything does.
    assert!(verdict.not_judged.iter().all(|row| row.rule.0 == "BN-07" && row.missing == "near"));
    assert!(design.notes.iter().all(|note| note.standing != Standing::ToDetermine && note.standing != Standing::ToConfirm));
}

/// Each rule with a number has a subject that passes next to its limit: within a tenth of it.
#[test]
fn mended_stands_close_to_its_limits() {
    let design = design(&read_folder(&example("gannet-mended")));
    let verdict = verdict(&design);
    // What the solution cannot tell from zero passes.
    let close = |m: &&Margin| rules::passes(m.value, m.limit, m.bound) && m.margin() <= 0.1 * m.limit.abs();
    let near: BTreeSet<&str> = verdict.margins.iter().filter(close).map(|m| m.rule.0).collect();
    let numbered: BTreeSet<&str> = verdict.margins.iter().map(|m| m.rule.0).collect();
    let far: Vec<&str> = numbered.difference(&near).copied().collect();
    assert_eq!(far, [""; 0]);
}

/// The radar draws twice what it did: what shares its way moves the right way, the other side hardly moves.
#[test]
fn a_doubled_load_moves_what_it_should() {
    let design = design(&read_folder(&example("gannet-mended")));
    let prepared = analysis::prepare(&design);
    let phase = trials::named(&design.phases, "approach", |row| &row.name);
    let radar = trials::load(&design, "PRU");
    let scenario = Scenario::new(phase, Corner::Typical);
    let mut doubled = scenario.clone();
    doubled.loads.push((radar, LoadChange::Power(physics::Watt(184.0))));
    let (before, after) = (prepared.point(&scenario), prepared.point(&doubled));
    let volts = |point: &Point, load: &str| point.load_voltage[trials::load(&design, load)].expect("it is on").0;
    let battery = trials::named(&design.batteries, "BT1", |row| &row.name);
    let row = prepared.branch_of(ElementId::Source(battery)).expect("a battery is a branch");
    let gives = |point: &Point| -point.current[row];
    let drop = |point: &Point| prepared.trace(point, ElementId::Load(radar)).drop_from_bus().0;
    assert!(volts(&after, "PRU") < volts(&before, "PRU") - 0.2);
    assert!(volts(&after, "IMU") < volts(&before, "IMU") - 0.02, "its bus sags");
    assert!(drop(&after) > 1.9 * drop(&before));
    assert!(gives(&after) > gives(&before) + 1.0);
    // Side B shares nothing with it but the star, where the returns meet.
    assert!((volts(&after, "STR") - volts(&before, "STR")).abs() < 0.02);
}

/// A heater of half the resistance, a landing light of twice the current: their own way loses twice as much, the source gives more, and what
/// hangs on the same bus stands lower.
#[test]
fn a_doubled_load_moves_what_it_should_in_the_other_examples() {
    for (example_name, phase, changed, beside, change) in [
        ("bench-rig", "work", "heater", "radio", LoadChange::Resistance(physics::Ohm(4.75))),
        ("light-aircraft", "landing", "LAND", "TAXI", LoadChange::Resistance(physics::Ohm(0.0))),
    ] {
        let design = design(&read_folder(&example(example_name)));
        let prepared = analysis::prepare(&design);
        let scenario = Scenario::new(trials::named(&design.phases, phase, |row| &row.name), Corner::Typical);
        let [changed, beside] = [changed, beside].map(|name| trials::load(&design, name));
        let before = prepared.point(&scenario);
        let mut doubled = scenario.clone();
        let volts = |point: &Point, load: Id<Load>| point.load_voltage[load].map_or(0.0, |v| v.0);
        let current = |point: &Point| point.current[prepared.branch_of(ElementId::Load(changed)).expect("a load is a branch")];
        let change = match change {
            LoadChange::Resistance(physics::Ohm(0.0)) => LoadChange::Current(physics::Ampere(2.0 * current(&before))),
            other => other,
        };
        doubled.loads.push((changed, change));
        let after = prepared.point(&doubled);
        let drop = |point: &Point| prepared.trace(point, ElementId::Load(changed)).drop_from_bus().0;
        let gives = |point: &Point| {
            design.batteries.ids().filter_map(|id| prepared.branch_of(ElementId::Source(id))).map(|row| -point.current[row]).sum::<f64>()
        };
        assert!(volts(&after, changed) < volts(&before, changed) - 0.1, "{example_name}");
        assert!(
            drop(&after) > 1.8 * drop(&before) && drop(&after) < 2.2 * drop(&before),
            "{example_name}: {} {}",
            drop(&before),
            drop(&after)
        );
        assert!(gives(&after) > gives(&before) + 0.8 * current(&before), "{example_name}");
        let (was, is) = (volts(&before, beside), volts(&after, beside));
        assert!(was == 0.0 || is < was, "{example_name}: {was} {is}");
    }
}

#[test]
fn each_flaw_alone_finds_what_is_stated() {
    let mended = read_folder(&example("gannet-mended"));
    let mut wrong = String::new();
    let mut fired = BTreeSet::new();
    for flaw in flaws() {
        let mut files = mended.clone();
        apply(&mut files, &flaw.patch, &flaw.name);
        let design = design(&files);
        let found = findings(&design, &verdict(&design));
        if found != flaw.expected {
            wrong.push_str(&format!("{}\n  stated {:?}\n  found  {found:?}\n", flaw.name, flaw.expected));
        }
        fired.extend(flaw.expected.keys().filter_map(|id| id.split_once('/')).map(|(rule, _)| rule.to_owned()));
    }
    assert!(wrong.is_empty(), "{wrong}");
    let silent: Vec<&str> = of_check().filter(|code| !fired.contains(*code) && !OF_AIRCRAFT.contains(code)).collect();
    assert!(silent.is_empty(), "no flaw lets these speak: {silent:?}");
}

#[test]
fn all_flaws_together_are_gannet() {
    let mut files = read_folder(&example("gannet-mended"));
    for flaw in flaws() {
        apply(&mut files, &flaw.patch, &flaw.name);
    }
    let gannet = read_folder(&example("gannet"));
    assert_eq!(files.len(), gannet.len());
    for ((path, bytes), (gannet_path, gannet_bytes)) in files.iter().zip(&gannet) {
        assert_eq!(path, gannet_path);
        assert!(bytes == gannet_bytes, "{path} of gannet is not that of gannet-mended with all patches");
    }
    let design = design(&gannet);
    assert!(findings(&design, &verdict(&design)).len() >= flaws().len());
}

/// Every id that the vehicle's own files give.
fn ids(design: &Design) -> BTreeSet<String> {
    let mut ids = BTreeSet::new();
    macro_rules! names {
        ($($table:ident)*) => { $( ids.extend(design.$table.iter().map(|(_, row)| row.name.to_string())); )* };
    }
    names!(sections units inner_nodes connectors sheets fitted splices studs grounds branch_points segments clamps coverings neighbours wires cables
           straps structure_paths links separations batteries protectors switches diodes converters loads sensors receivers excitations circuits functions actions monitors initiators phases arrangements);
    ids.extend([design.name.to_string(), design.profile.name.to_string()]);
    // A word of the format or a unit that is an id too, as the circuit `battery` and the bus `A`, cannot be replaced in text without
    // changing what the text says.
    let words = input::tables().iter().flat_map(|table| table.fields.iter().map(|field| field.key).chain([table.key]));
    let words: BTreeSet<&str> = words.chain(["A"]).collect();
    ids.retain(|id| !id.ends_with(":mate") && !words.contains(id.as_str()));
    ids
}

/// The files with every id replaced. An id is a run of characters that no separator of the input breaks; a pin `J1.3` is an id and
/// a cavity.
fn renamed(files: &Files, ids: &BTreeSet<String>) -> Files {
    // The new names are in an order of their own, so that no order of names survives either.
    let new: BTreeMap<&str, String> = ids.iter().enumerate().map(|(n, id)| (id.as_str(), format!("q{}", (n * 7919) % 100_003))).collect();
    let is_part = |c: char| !c.is_whitespace() && !",;:@=.*?\"'`[]{}()#".contains(c);
    let rename = |text: &str| {
        let mut out = String::new();
        let mut rest = text;
        while let Some(first) = rest.chars().next() {
            let length = rest.find(|c| is_part(c) != is_part(first)).unwrap_or(rest.len());
            let (run, after) = rest.split_at(length);
            out.push_str(new.get(run).map_or(run, String::as_str));
            rest = after;
        }
        out
    };
    files.iter().map(|(path, bytes)| (path.clone(), rename(std::str::from_utf8(bytes).expect("UTF-8")).into_bytes())).collect()
}

/// No code knows a name of an example: with all ids renamed, row for row the same margins, findings and states.
#[test]
fn names_do_not_matter() {
    for (example_name, at_least) in [("gannet-mended", 1000), ("gannet", 1000), ("light-aircraft", 200), ("bench-rig", 40)] {
        let files = read_folder(&example(example_name));
        let before = design(&files);
        let mut ids = ids(&before);
        // A shipped profile keeps its name: it is not declared in these files.
        if !files.iter().any(|(_, bytes)| String::from_utf8_lossy(bytes).contains("[profile.")) {
            ids.remove(&*before.profile.name);
        }
        assert!(ids.len() > at_least, "{example_name}: {} ids", ids.len());
        let after = design(&renamed(&files, &ids));
        let kept: Vec<String> = self::ids(&after).into_iter().filter(|id| ids.contains(id)).collect();
        assert!(kept.is_empty(), "not renamed: {kept:?}");
        let (one, other) = (verdict(&before), verdict(&after));
        assert_eq!(one.margins.len(), other.margins.len());
        for (a, b) in one.margins.iter().zip(&other.margins) {
            let key = |m: &Margin| (m.rule, m.subject, m.bound, m.state, m.failing.len());
            assert_eq!(key(a), key(b), "{}", before.subject_name(a.subject).1);
            assert!((a.value - b.value).abs() <= 1e-9 * a.value.abs().max(1.0), "{a:?} {b:?}");
            assert_eq!(a.limit, b.limit);
        }
        let key = |f: &Finding| (f.rule, f.subject, f.phases.clone());
        assert_eq!(one.findings.iter().map(key).collect::<Vec<_>>(), other.findings.iter().map(key).collect::<Vec<_>>());
        let key = |n: &NotJudged| (n.rule, n.subject);
        assert_eq!(one.not_judged.iter().map(key).collect::<Vec<_>>(), other.not_judged.iter().map(key).collect::<Vec<_>>());
    }
}

/// Each rule has a subject here, those without a number too.
#[test]
fn mended_has_a_subject_for_every_rule() {
    let design = design(&read_folder(&example("gannet-mended")));
    let verdict = verdict(&design);
    let judged: BTreeSet<&str> = verdict.counted.iter().filter(|row| row.subjects > 0).map(|row| row.rule.0).collect();
    let none: Vec<&str> = of_check().filter(|code| !judged.contains(code)).collect();
    // The first two report what does not settle or settles twice, and count nothing.
    assert_eq!(none, [&["OP-01", "OP-02"][..], &OF_AIRCRAFT].concat());
}
