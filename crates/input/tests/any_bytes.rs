//! Whatever the bytes are, the reader answers with a design or with errors, and the same answer twice.

use loomwright_input::load;
use model::Severity;
use std::path::{Path, PathBuf};

type Files = Vec<(String, Vec<u8>)>;

/// Numbers that look random and are the same in every run.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % bound.max(1) as u64) as usize
    }
}

/// Texts that mean something to the reader, to be put where they do not belong.
const PIECES: &[&str] = &[
    "\"",
    "'",
    "\"\"\"",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "=",
    ",",
    ".",
    ":",
    "#",
    "\n",
    "\r\n",
    "\\",
    "\\u{d800}",
    "\0",
    "é",
    "\u{2126}",
    "\u{feff}",
    "TBD",
    "TBC",
    "[x; 2027-03-01]",
    "stowed",
    "J1.1",
    "splice:SP1",
    "load:",
    "[load.F1]",
    "[connector.J1]\nmate = \"J2\"\n",
    "profile = \"x\"\n",
    "format = 2\n",
    "1e999",
    "-1",
    "nan",
    "inf",
    "99999999999999999999",
    "28 V",
    "0 ohm",
    "{ low = \"1 A\" }",
    "a.b.c.d",
    "2026-02-31",
    ";",
    "\t",
    "to",
    "gauge_awg",
    "route",
    "20 AWG",
    "[safe-plug.SF1]\nconnector = \"J1\"\nlinks = [[\"1\", \"2\"]]\n",
    "fitted = [\"SF1\"]\n",
    "[[\"1\", \"2\"], 3]",
    "true",
];

fn collect(folder: &Path, prefix: &str, files: &mut Files) {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    for path in paths {
        let name = format!("{prefix}{}", path.file_name().and_then(|n| n.to_str()).expect("a name in ASCII"));
        if path.is_dir() {
            collect(&path, &format!("{name}/"), files);
        } else {
            files.push((name, std::fs::read(&path).expect("readable")));
        }
    }
}

fn mutate(bytes: &mut Vec<u8>, numbers: &mut Numbers) {
    for _ in 0..=numbers.below(4) {
        let at = numbers.below(bytes.len() + 1);
        match numbers.below(6) {
            0 if at < bytes.len() => bytes[at] = numbers.below(256) as u8,
            1 => bytes.truncate(at),
            2 => {
                let end = (at + numbers.below(40)).min(bytes.len());
                bytes.drain(at..end);
            }
            3 => {
                let end = (at + numbers.below(80)).min(bytes.len());
                let again = bytes[at..end].to_vec();
                let to = numbers.below(bytes.len() + 1);
                bytes.splice(to..to, again);
            }
            _ => {
                let piece = PIECES[numbers.below(PIECES.len())];
                bytes.splice(at..at, piece.bytes());
            }
        }
    }
}

#[test]
fn no_bytes_make_the_reader_fail() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut examples, mut folders): (Vec<Files>, Vec<Files>) = (Vec::new(), Vec::new());
    for example in ["bench-rig", "light-aircraft", "starter"] {
        let mut files = Vec::new();
        collect(&root.join("../../examples").join(example), "", &mut files);
        examples.push(files);
    }
    for entry in std::fs::read_dir(root.join("tests/broken")).expect("the folder of marked inputs") {
        let path = entry.expect("an entry").path();
        let mut files = Vec::new();
        if path.is_dir() {
            collect(&path, "", &mut files);
        } else {
            let name = if path.extension().is_some_and(|e| e == "csv") { "wires.csv" } else { "vehicle.toml" };
            files.push((name.to_owned(), std::fs::read(&path).expect("readable")));
        }
        folders.push(files);
    }
    folders.sort();

    let mut numbers = Numbers(0x5EED_0F57_A11E_D001);
    let (mut designs, mut refused) = (0, 0);
    for round in 0..800 {
        // Half of the time from an example, since what is broken already hardly ever becomes a design.
        let from = if round % 2 == 0 { &examples } else { &folders };
        let mut files = from[numbers.below(from.len())].clone();
        let which = numbers.below(files.len());
        mutate(&mut files[which].1, &mut numbers);
        let loaded = load(&files);
        let errors = loaded.diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
        assert_eq!(loaded.design.is_some(), errors == 0);
        for diagnostic in &loaded.diagnostics {
            for place in &diagnostic.places {
                let at = loaded.sources.position(place.at);
                assert!(at.line >= 1 && at.column >= 1);
            }
        }
        if let Some(design) = &loaded.design {
            designs += 1;
            check_ids(design);
        } else {
            refused += 1;
        }
        if round % 10 == 0 {
            assert_eq!(load(&files).diagnostics, loaded.diagnostics);
        }
    }
    println!("{designs} designs, {refused} refused");
    assert!(designs > 50 && refused > 50, "{designs} designs, {refused} refused: one side is hardly tried");
}

/// What a checked design promises: ids resolve, numbers are finite, resistances are above zero.
fn check_ids(design: &model::Design) {
    for conductor in design.conductors() {
        assert_ne!(conductor.from, conductor.to);
        let _ = (design.end_name(conductor.from), design.end_name(conductor.to), design.element_words(conductor.element));
    }
    for (id, wire) in design.wires.iter() {
        let _ = design.element_words(model::ElementId::Wire(id));
        if let Some(spec) = wire.spec {
            let spec = &design.wire_specs[spec.value];
            assert!(spec.r20_max.value.0 >= spec.r20_nominal.value.0 && spec.r20_nominal.value.0 > 0.0 && spec.area.value.0 > 0.0);
        }
        let _ = (wire.circuit.map(|c| &design.circuits[c.value]), wire.cable.map(|c| &design.cables[c.value]));
    }
    let ordered =
        |s: &model::Spread<physics::Ohm>| 0.0 < s.low.value.0 && s.low.value <= s.typical.value && s.typical.value <= s.high.value;
    assert!(design.contacts.iter().all(|(_, c)| ordered(&c.ohms)));
    assert!(design.protectors.iter().all(|(_, p)| ordered(&p.ohms)));
    assert!(design.switches.iter().all(|(_, s)| ordered(&s.ohms)));
    assert!(design.links.iter().all(|(_, l)| ordered(&l.ohms)));
    assert!(design.batteries.iter().all(|(_, b)| b.ohms.as_ref().is_none_or(ordered)));
    assert!(design.fitted_links.iter().all(|(_, l)| ordered(&l.ohms) && design.fitted[l.fitted].links.len() <= design.fitted_links.len()));
    for (_, item) in design.fitted.iter() {
        let _ = &design.connectors[item.connector.value];
    }
    for (id, port) in design.ports.iter() {
        let _ = (design.subject_words(model::Subject::Port(id)), port.sheet.map(|s| &design.units[design.sheets[s.value].unit.value]));
        let _ = port.own_return.map(|pin| design.pin_name(pin.value));
    }
    for (_, function) in design.functions.iter() {
        function.needs.iter().for_each(|need| drop(design.subject_words(need.value)));
    }
    for (_, connector) in design.connectors.iter() {
        let _ = (connector.arrangement.map(|a| &design.arrangements[a.value]), connector.section.map(|s| &design.sections[s.value]));
        connector.near.iter().for_each(|near| drop(design.connectors[near.value].name.clone()));
    }
    for (_, phase) in design.phases.iter() {
        phase.fitted.iter().for_each(|item| drop(design.fitted[item.value].name.clone()));
        for state in &phase.states {
            let _ = design.element_words(state.value.0);
        }
    }
    for note in &design.notes {
        assert!(!note.what.is_empty());
        if let Some(subject) = note.subject {
            let _ = design.subject_words(subject);
        }
    }
    assert!(!design.phases.is_empty());
}
