//! Whatever the bytes are: diagnostics or a design, never a panic; and what loads is solved, judged and shown without one.
//!
//! Every check runs a few rounds of each target. A long hunt is `FUZZ_SECONDS=600 cargo test --release -p loomwright-trials fuzz::lists`,
//! in seconds of processor time, so that a machine at other work neither cuts it short nor calls a round slow; other paths `FUZZ_SEED=7`. A round depends on seed and number alone, so that what is found is found again; its files are written to
//! the temporary folder that the message names. No engine that draws its own seeds: the same check has the same result everywhere.

use crate::import;
use analysis::prepare;
use decide::{Amount, Names, Verb};
use input::quantity::{self, Quantity};
use model::*;
use outputs::{Style, View, show};
use physics::{Ampere, Kelvin, MetrePerSecond, Ohm, Pascal, Watt, WattPerSquareMetre};
use rules::{Case, Worst};
use rustix::time::{ClockId, clock_gettime};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::Duration;
use trials::{read_folder, root};

type Files = Vec<(String, Vec<u8>)>;

/// Numbers that look random and follow from a seed.
struct Numbers(u64);

impl Numbers {
    fn of_round(seed: u64, round: u64) -> Numbers {
        // The mixing of splitmix64, so that neighbouring rounds have nothing in common.
        let mut z = seed.wrapping_add(round.wrapping_mul(0x9E37_79B9_7F4A_7C15)).wrapping_add(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Numbers((z ^ (z >> 31)) | 1)
    }
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) % bound.max(1) as u64) as usize
    }
    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
    fn of<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }
    fn word<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list[self.below(list.len())]
    }
}

/// What a target did with its inputs.
#[derive(Default)]
struct Tally {
    rounds: u64,
    loaded: u64,
}

/// Runs a target: so many rounds in a check, or as long as `FUZZ_SECONDS` says.
fn hunt<I>(
    target: &str,
    rounds: u64,
    mut make: impl FnMut(&mut Numbers) -> I,
    show: impl Fn(&I) -> Files,
    run: impl Fn(&I) -> bool,
) -> Tally {
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let seconds = number("FUZZ_SECONDS").map(Duration::from_secs);
    let most = number("FUZZ_ROUNDS").unwrap_or(if seconds.is_some() { u64::MAX } else { rounds });
    let seed = number("FUZZ_SEED").unwrap_or(1);
    let spent = || Duration::try_from(clock_gettime(ClockId::ProcessCPUTime)).expect("processor time runs forward from zero");
    let begun = spent();
    let mut tally = Tally::default();
    while tally.rounds < most && seconds.is_none_or(|s| tally.rounds % 64 != 0 || spent() - begun < s) {
        let input = make(&mut Numbers::of_round(seed, tally.rounds));
        let started = spent();
        let result = catch_unwind(AssertUnwindSafe(|| run(&input)));
        let took = spent() - started;
        // A check must not hang on how fast its machine is: there, time proves nothing.
        let slow = seconds.is_some() && took > Duration::from_secs(10);
        match result {
            Ok(loaded) if !slow => tally.loaded += u64::from(loaded),
            _ => {
                let folder = std::env::temp_dir().join(format!("loomwright-fuzz-{target}-{seed}-{}", tally.rounds));
                for (path, bytes) in show(&input) {
                    let to = folder.join(path);
                    std::fs::create_dir_all(to.parent().expect("inside the folder")).expect("the temporary folder can be written");
                    std::fs::write(to, bytes).expect("the temporary folder can be written");
                }
                let what = if slow { format!("took {} s", took.as_secs()) } else { "panicked".to_owned() };
                panic!("{target}: round {} of seed {seed} {what}; its input is in {}", tally.rounds, folder.display());
            }
        }
        tally.rounds += 1;
    }
    println!("{target}: seed {seed}, {} rounds, {} loaded, {:.1} s", tally.rounds, tally.loaded, (spent() - begun).as_secs_f64());
    tally
}

/// Texts that mean something to the reader, to be put where they do not belong.
const PIECES: &[&str] = &[
    "\"",
    "'",
    "\"\"\"",
    "'''",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ".",
    ":",
    "#",
    "\n",
    "\r\n",
    "\r",
    "\\",
    "\\u{d800}",
    "\\u0000",
    "\0",
    "é",
    "\u{2126}",
    "\u{feff}",
    "\u{200b}",
    "\u{202e}",
    "TBD",
    "TBC",
    "tbd",
    "TBC 4.5 A [x; 2027-03-01]",
    "TBD [x; y; z]",
    "[x; 2027-02-30]",
    "stowed",
    "J1.1",
    "splice:",
    "shell:J1",
    "case:PDU",
    "load:",
    "[load.F1]",
    "[[wire]]",
    "[connector.J1]\nmate = \"J2\"\n",
    "profile = \"x\"\n",
    "format = 1\n",
    "format = 2\n",
    "1e999",
    "-1",
    "+0",
    "-0.0",
    "nan",
    "inf",
    "99999999999999999999",
    "1e-300",
    "0x10",
    "1_000",
    "28 V",
    "0 ohm",
    "−5 V",
    "4,5 A",
    "{ low = \"1 A\" }",
    "{ low = \"1 V\", typical = \"2 V\", high = \"3 V\" }",
    "a.b.c.d",
    "2026-02-31",
    "2026-03-02T10:00:00Z",
    ";",
    "\t",
    "  ",
    "to",
    "gauge_awg",
    "length_ft",
    "route",
    "20 AWG",
    "4/0",
    "true",
    "false",
    "[safe-plug.SF1]\nconnector = \"J1\"\nlinks = [[\"1\", \"2\"]]\n",
    "fitted = [\"SF1\"]\n",
    "[[\"1\", \"2\"], 3]",
    "[]",
    "{}",
    "\"\"",
    "10000",
    "shipped:wires.csv",
];

/// What inputs are made from.
struct Corpus {
    examples: Vec<Files>,
    broken: Vec<Files>,
    /// Words, texts and numbers of all examples.
    tokens: Vec<String>,
    /// Whole lines of them.
    lines: Vec<String>,
}

fn corpus() -> Corpus {
    let examples: Vec<Files> = ["bench-rig", "starter", "light-aircraft", "gannet-mended"]
        .iter()
        .map(|name| read_folder(&root().join("examples").join(name)))
        .collect();
    let mut broken = Vec::new();
    let folder = root().join("crates/input/tests/broken");
    let mut paths: Vec<_> = std::fs::read_dir(folder).expect("the folder of marked inputs").map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    for path in paths {
        if path.is_dir() {
            broken.push(read_folder(&path));
        } else {
            let name = if path.extension().is_some_and(|e| e == "csv") { "wires.csv" } else { "vehicle.toml" };
            broken.push(vec![(name.to_owned(), std::fs::read(&path).expect("readable"))]);
        }
    }
    let (mut tokens, mut lines) = (Vec::new(), Vec::new());
    for (_, bytes) in examples.iter().chain(&broken).flatten() {
        let text = String::from_utf8_lossy(bytes);
        tokens.extend(spans(&text).into_iter().map(|(from, to)| text[from..to].to_owned()));
        lines.extend(text.lines().map(str::to_owned));
    }
    for list in [&mut tokens, &mut lines] {
        list.sort();
        list.dedup();
    }
    Corpus { examples, broken, tokens, lines }
}

/// Words, quoted texts and numbers of a text: where each begins and ends.
fn spans(text: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut chars = text.char_indices().peekable();
    while let Some((from, c)) = chars.next() {
        let is_word = |c: char| c.is_alphanumeric() || "_-./+%".contains(c);
        let mut to = from + c.len_utf8();
        if c == '"' {
            while let Some(&(at, next)) = chars.peek() {
                if next == '\n' {
                    break;
                }
                chars.next();
                to = at + next.len_utf8();
                if next == '"' {
                    break;
                }
            }
        } else if is_word(c) {
            while let Some(&(at, next)) = chars.peek().filter(|(_, next)| is_word(*next)) {
                chars.next();
                to = at + next.len_utf8();
            }
        } else {
            continue;
        }
        found.push((from, to));
    }
    found
}

/// Changes bytes without regard to what they mean.
fn spoil_bytes(bytes: &mut Vec<u8>, numbers: &mut Numbers) {
    let at = numbers.below(bytes.len() + 1);
    match numbers.below(6) {
        0 if at < bytes.len() => bytes[at] = numbers.below(256) as u8,
        1 if numbers.one_in(4) => bytes.truncate(at),
        2 => drop(bytes.drain(at..(at + numbers.below(40)).min(bytes.len()))),
        3 => {
            let again = bytes[at..(at + numbers.below(80)).min(bytes.len())].to_vec();
            let to = numbers.below(bytes.len() + 1);
            bytes.splice(to..to, again);
        }
        _ => drop(bytes.splice(at..at, numbers.word(PIECES).bytes())),
    }
}

/// Changes words, values, lines or cells, so that most of the text keeps its meaning.
fn spoil_text(bytes: &mut Vec<u8>, corpus: &Corpus, numbers: &mut Numbers) {
    let Ok(text) = std::str::from_utf8(bytes) else { return spoil_bytes(bytes, numbers) };
    let words = spans(text);
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    if words.is_empty() || lines.is_empty() {
        return spoil_bytes(bytes, numbers);
    }
    let (from, to) = *numbers.of(&words);
    let line = numbers.below(lines.len());
    *bytes = match numbers.below(11) {
        // A word in place of another, of the same kind if one turns up.
        0..=2 => {
            let quoted = text[from..to].starts_with('"');
            let with = (0..20).map(|_| numbers.of(&corpus.tokens)).find(|t| t.starts_with('"') == quoted).unwrap_or(&corpus.tokens[0]);
            format!("{}{with}{}", &text[..from], &text[to..])
        }
        3 => {
            let (other, end) = *numbers.of(&words);
            format!("{}{}{}", &text[..from], &text[other..end], &text[to..])
        }
        // A number in place of the first one of a word.
        4 | 5 => {
            let digits = text[from..to].find(|c: char| c.is_ascii_digit());
            let start = digits.map_or(from, |at| from + at);
            let end = start + text[start..to].bytes().take_while(|b| b.is_ascii_digit() || *b == b'.').count();
            let with = numbers.word(&[
                "0",
                "1",
                "2",
                "0.001",
                "1e-9",
                "1e9",
                "-1",
                "99999999999",
                "1e308",
                "0.5",
                "24",
                "28",
                "1000",
                "7.5.1",
                "",
            ]);
            format!("{}{with}{}", &text[..start], &text[end..])
        }
        6 => {
            lines.remove(line);
            lines.concat()
        }
        7 => {
            let to = numbers.below(lines.len());
            let again = lines[line].clone();
            lines.insert(to, again);
            lines.concat()
        }
        8 => {
            let to = numbers.below(lines.len());
            lines.swap(line, to);
            lines.concat()
        }
        9 => {
            let new = format!("{}\n", numbers.of(&corpus.lines));
            lines.insert(line, new);
            lines.concat()
        }
        _ => {
            let mut cells: Vec<&str> = lines[line].trim_end().split(',').collect();
            let at = numbers.below(cells.len());
            match numbers.below(3) {
                0 => drop(cells.remove(at)),
                1 => cells.insert(at, numbers.of(&corpus.tokens).as_str()),
                _ => cells[at] = numbers.of(&corpus.tokens).as_str(),
            }
            lines[line] = format!("{}\n", cells.join(","));
            lines.concat()
        }
    }
    .into_bytes();
}

/// Files of one example or broken input, one of those that fit spoilt up to four times.
fn spoilt(corpus: &Corpus, numbers: &mut Numbers, fits: impl Fn(&str) -> bool) -> Files {
    let from = if numbers.one_in(3) { &corpus.broken } else { &corpus.examples };
    // The large example costs as much as twenty small ones.
    let last = if from.len() == corpus.examples.len() && !numbers.one_in(20) { from.len() - 1 } else { from.len() };
    let mut files = from[numbers.below(last)].clone();
    let fitting: Vec<usize> = (0..files.len()).filter(|n| fits(&files[*n].0)).collect();
    let which = if fitting.is_empty() { numbers.below(files.len()) } else { *numbers.of(&fitting) };
    for _ in 0..=numbers.below(4) {
        if numbers.one_in(3) {
            spoil_bytes(&mut files[which].1, numbers);
        } else {
            spoil_text(&mut files[which].1, corpus, numbers);
        }
    }
    if numbers.one_in(50) {
        files[which].0 =
            (numbers.word(&["wires-x.csv", "pins.csv", "catalog/wires.csv", "catalog/contacts.csv", "catalog/p.toml", "x.toml"]))
                .to_owned();
    }
    files
}

/// Reads, renders every diagnostic in both forms, and holds what the reader promises. Whether there is a design.
fn read(files: &Files) -> bool {
    let loaded = input::load(files);
    let errors = loaded.diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    assert_eq!(loaded.design.is_some(), errors == 0, "a design exactly where there is no error");
    let text = outputs::diagnostics(&loaded.sources, &loaded.diagnostics, Style::PLAIN);
    assert!(!text.chars().any(|c| c.is_control() && c != '\n'), "no output steers a terminal");
    let _ = outputs::json::to_text(&outputs::json::diagnostics_json(&loaded.sources, &loaded.diagnostics));
    for diagnostic in &loaded.diagnostics {
        for at in diagnostic.places.iter().map(|p| p.at).chain(diagnostic.replacement.iter().map(|(at, _)| *at)) {
            let file = &loaded.sources.file(at.file);
            assert!(at.start <= at.end && file.text.get(at.start as usize..at.end as usize).is_some(), "{diagnostic:?} is beside the text");
        }
    }
    // The same bytes have the same answer; asked of some, since it costs a second reading.
    if files.iter().map(|(_, bytes)| bytes.len()).sum::<usize>() % 8 == 0 {
        assert_eq!(input::load(files).diagnostics, loaded.diagnostics);
    }
    if let Some(design) = &loaded.design {
        promises(design);
    }
    loaded.design.is_some()
}

/// What a checked design promises: ids resolve, numbers are finite, resistances are above zero.
fn promises(design: &Design) {
    for conductor in design.conductors() {
        assert_ne!(conductor.from, conductor.to);
        let _ = (design.end_name(conductor.from), design.end_name(conductor.to), design.element_words(conductor.element));
    }
    for (id, wire) in design.wires.iter() {
        let _ = design.element_words(ElementId::Wire(id));
        if let Some(spec) = wire.spec {
            let spec = &design.wire_specs[spec.value];
            assert!(spec.r20_max.value.0 >= spec.r20_nominal.value.0 && spec.r20_nominal.value.0 > 0.0 && spec.area.value.0 > 0.0);
        }
        let _ = (wire.circuit.map(|c| &design.circuits[c.value]), wire.cable.map(|c| &design.cables[c.value]));
    }
    let ordered = |s: &Spread<Ohm>| 0.0 < s.low.value.0 && s.low.value <= s.typical.value && s.typical.value <= s.high.value;
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
        let _ = (design.subject_words(Subject::Port(id)), port.sheet.map(|s| &design.units[design.sheets[s.value].unit.value]));
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

#[test]
fn tables() {
    let corpus = corpus();
    let tally =
        hunt("tables", 200, |n| spoilt(&corpus, n, |path| path.ends_with(".toml") && !path.starts_with("catalog/")), Files::clone, read);
    both_sides(&tally);
}

#[test]
fn lists() {
    let corpus = corpus();
    let tally =
        hunt("lists", 200, |n| spoilt(&corpus, n, |path| path.ends_with(".csv") && !path.starts_with("catalog/")), Files::clone, read);
    both_sides(&tally);
}

#[test]
fn catalogs() {
    let corpus = corpus();
    let shipped = [
        "ampacity-bundle-air.csv",
        "ampacity-conditions.csv",
        "ampacity-free-air.csv",
        "ampacity-ratings.csv",
        "ampacity-space.csv",
        "arrangements.csv",
        "contact-currents.csv",
        "contacts.csv",
        "derating-altitude-air.csv",
        "derating-bundle-air.csv",
        "insulations.csv",
        "platings.csv",
        "profiles.toml",
        "protector-gauges.csv",
        "wires.csv",
    ];
    let catalog: Files = shipped
        .iter()
        .map(|name| (format!("catalog/{name}"), std::fs::read(root().join("catalog").join(name)).expect("the shipped catalog is readable")))
        .collect();
    let make = |n: &mut Numbers| {
        let mut files = spoilt(&corpus, n, |path| path.starts_with("catalog/"));
        if n.one_in(2) {
            // A shipped file as the vehicle's own.
            let mut own = n.of(&catalog).clone();
            for _ in 0..=n.below(3) {
                spoil_text(&mut own.1, &corpus, n);
            }
            files.retain(|(path, _)| *path != own.0);
            files.push(own);
        }
        files
    };
    let tally = hunt("catalogs", 200, make, Files::clone, read);
    both_sides(&tally);
}

fn both_sides(tally: &Tally) {
    let (loaded, refused) = (tally.loaded, tally.rounds - tally.loaded);
    assert!(loaded * 50 > tally.rounds && refused * 50 > tally.rounds, "{loaded} loaded, {refused} refused: one side is hardly tried");
}

/// A text that looks like a quantity.
fn number_text(numbers: &mut Numbers) -> String {
    let units: Vec<&str> =
        Quantity::ALL.iter().flat_map(|q| q.units()).flat_map(|u| [u.word].into_iter().chain(u.others.iter().copied())).collect();
    let mut text = String::new();
    if numbers.one_in(2) {
        text = format!("{}{}{}", numbers.below(100), numbers.word(&["", " ", ".5 "]), numbers.word(&units));
    }
    for _ in 0..numbers.below(4) {
        match numbers.below(5) {
            0 => text.push_str(numbers.word(&units)),
            1 => text.push_str(numbers.word(PIECES)),
            2 => text.push_str(numbers.word(&["1", "28", "0.5", "-3", "1e3", "1e-400", "4/0", ".", "e", "1e", "+", "00", "٣"])),
            3 => text.push(' '),
            _ => text.push(char::from_u32(numbers.below(0x3000) as u32).unwrap_or('x')),
        }
    }
    text
}

#[test]
fn quantities() {
    let run = |text: &String| {
        let mut read = quantity::parse_any(text).is_ok();
        for quantity in Quantity::ALL {
            match quantity::parse(text, quantity) {
                Ok(si) => {
                    assert!(si.is_finite(), "{text:?}");
                    assert!(!quantity::show(si, quantity).is_empty());
                    read = true;
                }
                Err(fault) => {
                    assert!(!quantity::explain(&fault, text, quantity).0.is_empty());
                    let _ = quantity::mended(&fault, text, quantity, None);
                }
            }
            let _ = quantity::parse_plain(text, quantity, quantity.usual_unit());
        }
        read
    };
    let tally = hunt("quantities", 4000, number_text, |text| vec![("text".to_owned(), text.clone().into_bytes())], run);
    both_sides(&tally);
}

fn amount(text: &str) -> Result<Amount, String> {
    match quantity::parse_any(text) {
        Ok((Quantity::Resistance, si)) => Ok(Amount::Resistance(Ohm(si))),
        Ok((Quantity::Power, si)) => Ok(Amount::Power(Watt(si))),
        Ok((Quantity::Current, si)) => Ok(Amount::Current(Ampere(si))),
        Ok((Quantity::Pressure, si)) => Ok(Amount::Pressure(Pascal(si))),
        Ok((Quantity::Temperature, si)) => Ok(Amount::Temperature(Kelvin(si))),
        Ok((Quantity::Speed, si)) => Ok(Amount::Speed(MetrePerSecond(si))),
        Ok((Quantity::HeatFlux, si)) => Ok(Amount::Flux(WattPerSquareMetre(si))),
        Err(quantity::Fault::NoUnit) => text.trim().parse().map(Amount::Plain).map_err(|_| "no number".to_owned()),
        _ => Err("no amount".to_owned()),
    }
}

/// Words of `whatif`: understood or refused in a sentence; what is understood is solved, judged and written back as the same words.
#[test]
fn what_if_words() {
    let mut files = read_folder(&root().join("examples/bench-rig"));
    files.push(("zone.toml".to_owned(), b"[zone.BAY]\npressure = \"80 kPa\"\ngravity = 1\n".to_vec()));
    let design = trials::design(&files);
    let prepared = prepare(&design);
    let names = Names::new(&design);
    let phase = design.phases.iter().next().expect("a design has a phase").0;
    let case = Case { design: &design, prepared: &prepared, today: None };
    let mut words: Vec<String> =
        prepared.branches().iter().enumerate().map(|(row, _)| prepared.branch_ends(row)).map(|(a, _)| design.end_name(a)).collect();
    words.extend(design.conductors().iter().map(|c| design.element_words(c.element)));
    words.extend(design.loads.iter().map(|(_, l)| format!("load:{}", l.name)));
    words.extend(design.batteries.iter().map(|(_, b)| format!("battery:{}", b.name)));
    words.extend(design.zones.iter().map(|(_, z)| z.name.to_string()));
    words.extend(design.protectors.iter().map(|(_, p)| p.name.to_string()));
    words.extend(design.switches.iter().map(|(_, s)| s.name.to_string()));
    words.extend(["structure", "closed", "open", "shorted", "on", "off", "from", "to", "0.5", "-1", "2", "1e999"].map(str::to_owned));
    words.sort();
    words.dedup();
    let make = |n: &mut Numbers| {
        let mut changes: Vec<(Verb, String)> = Vec::new();
        for _ in 0..=n.below(3) {
            let mut text = n.of(&words).clone();
            for _ in 0..n.below(4) {
                text.push_str(n.word(&["=", ",", "@", ":", ".", "", ""]));
                if n.one_in(3) { text.push_str(&number_text(n)) } else { text.push_str(n.of(&words).as_str()) }
            }
            let verb = *n.of(&Verb::ALL);
            // Half of them in the form that the verb takes.
            if n.one_in(2) {
                let (one, other, number) = (n.of(&words).clone(), n.of(&words).clone(), n.below(50));
                text = match verb {
                    Verb::Open | Verb::Close | Verb::Lose | Verb::Cut | Verb::Fit | Verb::Unfit => one,
                    Verb::Ohm => format!("{one}={number} ohm"),
                    Verb::Stuck => format!("{one}={}", n.word(&["closed", "open", "shorted"])),
                    Verb::Short => format!("{one},{other},{number}mohm"),
                    Verb::SetLoad => format!("{one}={number} {}", n.word(&["W", "A", "ohm"])),
                    Verb::Zone => {
                        let field = n.word(&["pressure", "gas_temperature", "gravity", "air_speed", "walls", "sun", "fan"]);
                        format!("{one}:{field}={}", n.word(&["0", "off", "0.5", "80 kPa", "-40 degC", "2 m/s", "1400 W/m2"]))
                    }
                };
            }
            changes.push((verb, text));
        }
        changes
    };
    let show = |changes: &Vec<(Verb, String)>| vec![("words".to_owned(), format!("{changes:?}").into_bytes())];
    let run = |changes: &Vec<(Verb, String)>| match decide::change(&prepared, &names, Scenario::new(phase, Corner::Low), changes, &amount) {
        Ok(scenario) => {
            let again = decide::words(&design, &scenario);
            let same = decide::change(&prepared, &names, Scenario::new(phase, Corner::Low), &again, &amount);
            assert_eq!(same.as_ref().map(|s| decide::words(&design, s)), Ok(again), "its own words are understood");
            let mut worst = Worst::default();
            rules::judge_point(&case, &prepared.point(&scenario), &mut worst);
            true
        }
        Err(sentence) => {
            assert!(!sentence.is_empty());
            false
        }
    };
    let tally = hunt("what_if_words", 1000, make, show, run);
    both_sides(&tally);
}

/// From bytes to every table of one state.
fn whole_chain(files: &Files) -> bool {
    let loaded = input::load(files);
    let Some(design) = loaded.design else { return false };
    let prepared = prepare(&design);
    let phase = design.phases.iter().last().expect("a design has a phase").0;
    let points = [Corner::Low, Corner::High].map(|corner| prepared.point(&Scenario::new(phase, corner)));
    let faults = analysis::protection::protection(&prepared, &points, &analysis::Silent).expect("nobody cancelled");
    let case = Case { design: &design, prepared: &prepared, today: Some("2027-01-01") };
    let verdict = rules::judge_beside(&case, &points, || Some(&faults), || None::<&analysis::timeline::Timeline>).0;
    let view = View { design: &design, prepared: &prepared, points: &points, protection: Some(&faults), timeline: None, verdict: &verdict };
    let asked = show::Asked { all: true, ..Default::default() };
    let mut text = outputs::check(&view, Some("2027-01-01"), true, Style::PLAIN);
    text += &outputs::json::to_text(&view.check_json(None));
    text += &show::voltages_text(&show::voltages(&view, &asked), Style::PLAIN);
    text += &show::currents_text(&show::currents(&view, &asked), Style::PLAIN);
    text += &show::drops_text(&show::drops(&view, &asked), Style::PLAIN);
    text += &show::wires_text(&show::wires(&view, &asked), Style::PLAIN);
    text += &show::pins_text(&show::pins(&view, &asked), true, Style::PLAIN);
    text += &show::margins_text(&view, &asked, Style::PLAIN);
    text += &show::open_text(&show::open(&view, &asked), Style::PLAIN);
    text += &outputs::connectors_text(&outputs::connectors(&view, &asked), Style::PLAIN);
    text += &outputs::functions_text(&view, &outputs::functions(&view, &asked), Style::PLAIN);
    text += &outputs::catalog_text(&outputs::catalog(&view), Style::PLAIN);
    text += &outputs::profile_text(&view, &outputs::profile(&view), Style::PLAIN);
    text += &outputs::routes_text(&view, &outputs::routes(&view, &asked), Style::PLAIN);
    text += &outputs::lengths_text(&outputs::lengths(&view, &asked), Style::PLAIN);
    text += &outputs::bundles_text(&outputs::bundles(&view, &asked), Style::PLAIN);
    text += &outputs::ampacity_text(&view, &outputs::ampacity(&view, &asked), Style::PLAIN);
    text += &outputs::mass_text(&view, &outputs::mass(&view, &asked), true, Style::PLAIN);
    text += &outputs::temperatures_text(&view, &outputs::temperatures(&view, &asked), Style::PLAIN);
    text += &outputs::protection_text(&view, &outputs::protection(&view, &asked), Style::PLAIN);
    text += &outputs::fault_currents_text(&view, &outputs::fault_currents(&view, &asked), Style::PLAIN);
    for segment in design.segments.ids().take(3) {
        text += &outputs::bundle_text(&view, segment, Style::PLAIN);
        text += &outputs::bundle_drawing(&view, segment, None);
    }
    text += &outputs::netlist(&prepared, &points[0]);
    for (load, _) in design.loads.iter().take(3) {
        text += &outputs::trace_text(&view, &points[0], ElementId::Load(load), Style::PLAIN);
    }
    assert!(!text.chars().any(|c| c.is_control() && c != '\n' && c != '\t'), "no output steers a terminal");
    true
}

#[test]
fn from_bytes_to_every_table() {
    let corpus = corpus();
    let make = |n: &mut Numbers| {
        let last = if n.one_in(20) { corpus.examples.len() } else { corpus.examples.len() - 1 };
        let mut files = corpus.examples[n.below(last)].clone();
        // Few changes, and most of them to values: a folder that does not load shows nothing here.
        for _ in 0..=n.below(3) {
            let which = n.below(files.len());
            spoil_text(&mut files[which].1, &corpus, n);
        }
        files
    };
    let tally = hunt("from_bytes_to_every_table", 100, make, Files::clone, whole_chain);
    both_sides(&tally);
}

/// Lists and workbooks on their way into a folder: taken, asked about or refused; what is taken is a folder that loads, and taking it again
/// into that folder changes nothing that makes it fail.
#[test]
fn imports() {
    let corpus = corpus();
    let lists: Vec<Vec<u8>> =
        import::expected().iter().filter(|row| !row.name.starts_with("random")).map(|row| import::list(&row.name).1).collect();
    let answers = ["decimal=comma", "decimal=point", "length=ft", "head=1", "from_pin=D", "gauge=3", "x=y", "="];
    let make = |n: &mut Numbers| {
        let mut bytes = n.of(&lists).clone();
        let spoil = |bytes: &mut Vec<u8>, n: &mut Numbers| {
            for _ in 0..=n.below(3) {
                if n.one_in(3) { spoil_bytes(bytes, n) } else { spoil_text(bytes, &corpus, n) }
            }
        };
        // A workbook is packed: most faults must stand in what it holds to be seen at all.
        let parts = zip::ZipArchive::new(std::io::Cursor::new(&bytes))
            .map(|book| book.file_names().filter_map(|name| Some(name.ok()?.into_owned())).collect::<Vec<_>>());
        match parts {
            Ok(mut parts) if !n.one_in(4) => {
                parts.sort();
                let part = n.of(&parts).clone();
                let mut content = Vec::new();
                let mut book = zip::ZipArchive::new(std::io::Cursor::new(&bytes)).expect("opened a moment ago");
                std::io::Read::read_to_end(&mut book.by_name(&part).expect("named a moment ago"), &mut content)
                    .expect("written by ourselves");
                spoil(&mut content, n);
                bytes = import::with_part(&bytes, &part, &content);
            }
            Ok(_) => spoil_bytes(&mut bytes, n),
            Err(_) => spoil(&mut bytes, n),
        }
        let answer = if n.one_in(2) { n.word(&answers) } else { "" };
        (bytes, answer)
    };
    let show =
        |(bytes, answer): &(Vec<u8>, &str)| vec![("list".to_owned(), bytes.clone()), ("answer".to_owned(), answer.as_bytes().to_vec())];
    let run = |(bytes, answer): &(Vec<u8>, &str)| {
        let mut answers = input::import::Answers::default();
        let _ = answers.take(answer);
        let Ok(list) = input::import::read("list", bytes, &answers, &[]) else { return false };
        let folder = input::import::new_folder(&list, "v");
        assert!(read(&folder), "what was taken loads");
        if let Ok(mut again) = input::import::read("list", bytes, &answers, &folder) {
            let _ = input::import::update(&mut again, &folder);
        }
        true
    };
    let tally = hunt("imports", 200, make, show, run);
    both_sides(&tally);
}

/// What a hunt has found stays here: every folder is read and, if it loads, solved and shown.
#[test]
fn what_was_found_before() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let mut paths: Vec<_> = std::fs::read_dir(folder).expect("the folder of earlier finds").map(|e| e.expect("an entry").path()).collect();
    paths.sort();
    for path in paths.iter().filter(|p| p.is_dir()) {
        let files = read_folder(path);
        read(&files);
        whole_chain(&files);
    }
}
