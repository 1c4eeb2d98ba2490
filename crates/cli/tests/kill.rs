//! The program ended half-way through an import, by the signal that cannot be caught: whoever looks finds the old files or the new ones.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Times that the program is ended.
const ENDINGS: usize = 200;

/// Numbers without order, the same in every run of the test (an additive sequence of the golden ratio).
struct Spread(f64);

impl Spread {
    fn below(&mut self, bound: f64) -> f64 {
        self.0 = (self.0 + 0.618_033_988_749_894_9).fract();
        self.0 * bound
    }
}

type State = BTreeMap<String, Vec<u8>>;

fn list(wires: usize, length: usize, more: &str) -> String {
    let mut text = String::from("Wire,From,To,AWG,Length (ft),Current (A)\n");
    for n in 1..=wires {
        writeln!(text, "W{n},J{}.{n},P{}.{n},20,{length},1", n / 50, n / 30).expect("a string can be written to");
    }
    text + more
}

fn begin(folder: &Path, arguments: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_loomwright"))
        .args(arguments.split(' '))
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program can be started")
}

fn run(folder: &Path, arguments: &str) -> i32 {
    begin(folder, arguments).wait().expect("the program ends").code().expect("an exit code")
}

/// The files of a vehicle folder and those that the import keeps, but for what is on the way and the backups.
fn state(folder: &Path) -> State {
    let mut files = State::new();
    for (prefix, at) in [("", folder.to_path_buf()), ("imports/", folder.join("imports"))] {
        for entry in fs::read_dir(at).into_iter().flatten() {
            let path = entry.expect("an entry").path();
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            if path.is_file() && name != ".lock" {
                files.insert(format!("{prefix}{name}"), fs::read(&path).expect("a file can be read"));
            }
        }
    }
    files
}

fn lay_out(folder: &Path, state: &State) {
    if folder.exists() {
        fs::remove_dir_all(folder).expect("a folder can be taken away");
    }
    for (path, bytes) in state {
        let at = folder.join(path);
        fs::create_dir_all(at.parent().expect("inside the folder")).expect("a folder can be made");
        fs::write(at, bytes).expect("a file can be written");
    }
}

/// Waits until something is there, or the program has ended.
fn wait_for(path: &Path, child: &mut Child) {
    while !path.exists() && child.try_wait().expect("a child can be asked").is_none() {
        std::hint::spin_loop();
    }
}

#[test]
fn an_import_that_is_ended_half_way_leaves_the_old_files_or_the_new_ones() {
    let scratch = tempfile::tempdir().expect("a folder");
    let (here, vehicle) = (scratch.path(), scratch.path().join("v"));
    fs::write(here.join("old.csv"), list(300, 10, "")).expect("a list");
    fs::write(here.join("new.csv"), list(300, 12, "W900,J1.900,SP7,20,3,1\n")).expect("a list");

    // The folder as it was begun; then with its list in three files, all of which the newer list changes.
    let began = Instant::now();
    assert_eq!(run(here, "import old.csv v"), 0);
    let begin_takes = began.elapsed();
    let begun = state(&vehicle);
    let wires = String::from_utf8(begun["wires.csv"].clone()).expect("UTF-8");
    let lines: Vec<&str> = wires.lines().collect();
    let part =
        |from: usize, to: usize| [lines[0]].iter().chain(&lines[from..to]).map(|line| format!("{line}\n")).collect::<String>().into_bytes();
    let mut old = begun.clone();
    old.insert("wires.csv".to_owned(), part(1, 100));
    old.insert("wires-deck.csv".to_owned(), part(100, 200));
    old.insert("wires-hold.csv".to_owned(), part(200, 301));
    lay_out(&vehicle, &old);
    let began = Instant::now();
    assert_eq!(run(here, "import new.csv v --update"), 0);
    let update_takes = began.elapsed();
    let new = state(&vehicle);
    let changed: Vec<&String> = new.iter().filter(|(path, bytes)| old.get(*path) != Some(bytes)).map(|(path, _)| path).collect();
    assert!(changed.len() >= 7 && changed.iter().filter(|path| path.starts_with("wires")).count() == 3, "{changed:?}");

    let mut random = Spread(0.2);
    let nothing = State::new();
    let (mut were_old, mut were_new, mut finished_later) = (0, 0, 0);
    for n in 0..ENDINGS {
        let is_update = n % 2 == 1;
        let (before, after, takes) = if is_update { (&old, &new, update_takes) } else { (&nothing, &begun, begin_takes) };
        match is_update {
            true => lay_out(&vehicle, before),
            false if vehicle.exists() => fs::remove_dir_all(&vehicle).expect("a folder can be taken away"),
            false => {}
        }
        let mut child = begin(here, if is_update { "import new.csv v --update" } else { "import old.csv v" });
        // A third anywhere in the run, a third from the first byte written on, a third while files are moved into place.
        match n % 6 / 2 {
            0 => std::thread::sleep(takes.mul_f64(random.below(1.1))),
            1 => {
                wait_for(&if is_update { vehicle.join("imports/.staging") } else { here.join(".v.importing") }, &mut child);
                std::thread::sleep(takes.mul_f64(random.below(0.5)));
            }
            _ => {
                wait_for(&if is_update { vehicle.join("imports/.next") } else { here.join(".v.importing/wires.csv") }, &mut child);
                std::thread::sleep(Duration::from_micros(random.below(1_500.0) as u64));
            }
        }
        child.kill().expect("the program can be ended");
        child.wait().expect("the program ends");

        let found = state(&vehicle);
        for (path, bytes) in &found {
            assert!(before.get(path) == Some(bytes) || after.get(path) == Some(bytes), "ending {n}: {path} is neither the old nor the new");
        }
        if is_update && vehicle.join("imports/.next").exists() {
            // The new generation holds; whoever reads the folder next finds it whole.
            finished_later += 1;
            assert_eq!(run(here, "show wires -C v"), 0, "ending {n}");
            assert_eq!(&state(&vehicle), after, "ending {n}: the next command finishes what was begun");
            assert!(!vehicle.join("imports/.next").exists());
        } else if &found == after {
            were_new += 1;
        } else {
            were_old += 1;
            assert_eq!(&found, before, "ending {n}: all old");
        }
    }
    // And after all that, an import that is left alone does its work.
    lay_out(&vehicle, &old);
    fs::create_dir_all(vehicle.join("imports/.staging/files")).expect("what an ended import leaves");
    assert_eq!(run(here, "import new.csv v --update"), 0);
    assert_eq!(state(&vehicle), new);
    println!(
        "{ENDINGS} endings: {were_old} left the old files, {were_new} the new ones, {finished_later} were finished by the next command"
    );
    assert!(were_old > 0 && were_new > 0, "the endings are spread over the run");
}

/// Files below a folder of documents.
fn documents(folder: &Path) -> State {
    let mut files = State::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(at) = open.pop() {
        for entry in fs::read_dir(&at).into_iter().flatten() {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("inside").to_string_lossy().into_owned();
                files.insert(name, fs::read(&path).expect("a file can be read"));
            }
        }
    }
    files
}

/// A build is ended at any time: what stands is all old, all new, or nothing with all of the old beside it; the next build leaves no trace of it.
#[test]
fn a_build_that_is_ended_leaves_no_half_set() {
    let parent = tempfile::tempdir().expect("a folder");
    assert_eq!(run(parent.path(), "start v --from-example bench-rig"), 0);
    let build = |day: usize| format!("-C v build -o out --date 2027-03-0{day}");
    let out = parent.path().join("out");
    let mut whole = Vec::new();
    let started = Instant::now();
    for day in 1..=2 {
        assert_eq!(run(parent.path(), &build(day)), 0);
        whole.push(documents(&out));
    }
    let usual = started.elapsed().as_secs_f64() / 2.0;
    assert!(whole[0] != whole[1] && whole[0].len() > 20);
    let (mut spread, mut ended) = (Spread(0.0), 0);
    for turn in 0..60 {
        let before = documents(&out);
        let mut child = begin(parent.path(), &build(1 + turn % 2));
        std::thread::sleep(Duration::from_secs_f64(spread.below(usual * 1.1)));
        let _ = child.kill();
        ended += usize::from(!child.wait().expect("it ends").success());
        let found = documents(&out);
        let beside = documents(&parent.path().join(".out.before"));
        let is_whole = found == before || found == whole[turn % 2] || (found.is_empty() && beside == before);
        assert!(is_whole, "turn {turn}: {:?}", found.keys());
        if turn % 10 == 9 {
            assert_eq!(run(parent.path(), &build(1)), 0);
            let names: Vec<_> = fs::read_dir(parent.path()).expect("a folder").map(|entry| entry.expect("an entry").file_name()).collect();
            assert_eq!(names.len(), 2, "{names:?}");
            assert_eq!(documents(&out), whole[0]);
        }
    }
    assert!(ended > 20, "only {ended} were ended while they worked");
}
