//! What is too large, never ends or is no file: refused with its name, in bounded time and memory. The program runs as a user runs it, under
//! a limit of address space that it must not need.

use input::limits;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Memory that a refused folder may take: its bytes, their text, and what the program needs anyway.
const PEAK_MB: u64 = 400;
/// Address space that the child gets: more than the peak, since stacks of threads count here and are never touched.
const SPACE_KB: u64 = 3_000_000;
/// Generous for an unoptimised build on a machine at work; what grows with the square of the input takes hours.
const SECONDS: u64 = 120;

struct Ran {
    code: Option<i32>,
    err: String,
    peak_mb: u64,
    seconds: f64,
}

/// Runs `check` in a folder under the limit and watches its memory.
fn check(folder: &Path) -> Ran {
    let begun = Instant::now();
    let mut child = Command::new("sh")
        .arg("-c")
        .arg(format!("ulimit -v {SPACE_KB} && exec \"$0\" check"))
        .arg(env!("CARGO_BIN_EXE_loomwright"))
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("a shell");
    let mut pipe = child.stderr.take().expect("a pipe");
    let reader = std::thread::spawn(move || {
        let mut text = Vec::new();
        pipe.read_to_end(&mut text).expect("readable");
        String::from_utf8_lossy(&text).into_owned()
    });
    let mut peak_kb = 0;
    let status = loop {
        let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let peak =
            status.lines().find_map(|line| line.strip_prefix("VmHWM:")).and_then(|kb| kb.trim().strip_suffix(" kB")?.trim().parse().ok());
        peak_kb = peak_kb.max(peak.unwrap_or(0));
        if let Some(status) = child.try_wait().expect("a child") {
            break status;
        }
        if begun.elapsed() > Duration::from_secs(SECONDS) {
            child.kill().expect("a child that runs");
            panic!("{} s and no end in {}", SECONDS, folder.display());
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    let err = reader.join().expect("a reader that ended");
    Ran { code: status.code(), err, peak_mb: peak_kb / 1000, seconds: begun.elapsed().as_secs_f64() }
}

/// A folder with something in it is refused with these words.
fn refused(name: &str, words: &str, fill: impl FnOnce(&Path)) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fill(folder.path());
    let Ran { code, err, peak_mb, seconds } = check(folder.path());
    println!("{name}: {peak_mb} MB, {seconds:.1} s");
    assert_eq!(code, Some(2), "{name}: {err}");
    assert!(err.contains(words), "{name}: {words:?} is not in\n{}", err.chars().take(2000).collect::<String>());
    assert!(peak_mb <= PEAK_MB, "{name}: {peak_mb} MB");
}

fn write(folder: &Path, name: &str, text: impl AsRef<[u8]>) {
    fs::write(folder.join(name), text).expect("the temporary folder can be written");
}

const HEAD: &str = "from,to,gauge_awg\n";

#[test]
fn what_is_too_large_is_refused_in_bounded_memory() {
    refused("a list of 100 MB", "larger than the 100 MB", |f| write(f, "wires.csv", " ".repeat(limits::LIST_BYTES + 1)));
    refused("tables of 50 MB", "larger than the 50 MB", |f| write(f, "a.toml", " ".repeat(limits::TABLES_BYTES + 1)));
    refused("a folder of 200 MB", "more than 200 MB", |f| {
        (0..3).for_each(|n| write(f, &format!("wires-{n}.csv"), " ".repeat(70_000_000)));
    });
    refused("a million rows", "more than 500000 lines", |f| {
        write(f, "wires.csv", format!("{HEAD}{}", "A.1,B.1,20\n".repeat(1_000_000)));
    });
    refused("a line of 1 MB", "the row has 1 cells", |f| write(f, "wires.csv", format!("{HEAD}{}", "x".repeat(1_000_000))));
    refused("a line of 1 MB and a byte", "a line longer than 1000000", |f| {
        write(f, "wires.csv", format!("{HEAD}{}", "x".repeat(1_000_001)));
    });
    // Each message quotes a cell; none of them whole.
    refused("1,500 cells of 20 kB", "more errors are not listed", |f| {
        write(f, "wires.csv", format!("{HEAD}{}", format!("{},B.1,20\n", "x".repeat(20_000)).repeat(1_500)));
    });
    refused("10,000 brackets", "64 deep", |f| write(f, "a.toml", format!("format = 1\nname = {}", "[".repeat(10_000))));
    refused("10,000 tables", "64 deep", |f| write(f, "a.toml", format!("format = 1\nname = {}", "{ a = ".repeat(10_000))));
    refused("10,000 dots", "64 deep", |f| write(f, "a.toml", format!("format = 1\n{}x = 1", "a.".repeat(10_000))));
    refused("5 million marks", "lines and marks", |f| {
        write(f, "a.toml", format!("format = 1\nname = [\n{}]", "1,1,1,1,\n".repeat(1_000_000)));
    });
    refused("too many files", "more than 10000 files", |f| (0..=limits::FILES).for_each(|n| write(f, &format!("{n}.toml"), "")));
}

#[test]
fn a_million_problems_are_counted_in_bounded_time() {
    refused("faults of syntax", "more errors are not listed", |f| write(f, "a.toml", format!("format = 1\n{}", "x\n".repeat(500_000))));
    refused("the same key", "more errors are not listed", |f| write(f, "a.toml", format!("format = 1\n{}", "x = 1\n".repeat(200_000))));
    refused("the same table", "more errors are not listed", |f| {
        write(f, "a.toml", format!("format = 1\n{}", "[unit.A]\n".repeat(200_000)));
    });
    refused("keys nobody knows", "more errors are not listed", |f| {
        write(f, "a.toml", format!("format = 1\n{}", (0..200_000).map(|n| format!("a{n} = 1\n")).collect::<String>()));
    });
    refused("bad rows", "more errors are not listed", |f| write(f, "wires.csv", format!("{HEAD}{}", "A.1,A.1,99\n".repeat(100_000))));
    refused("names with nothing near", "more errors are not listed", |f| {
        let nodes: String = (0..50_000).map(|n| format!("[node.AAAAAAAAA{n}]\n")).collect();
        let buses: String = (0..2_000).map(|n| format!("[bus.B{n}]\nreturn = \"node:AAAAAAAA{n}x\"\n")).collect();
        write(f, "a.toml", format!("format = 1\n{nodes}{buses}"));
    });
}

#[test]
fn what_is_no_file_is_told_by_name() {
    refused("a folder named like a file", "x.toml: is a folder", |f| {
        write(f, "wires.csv", format!("{HEAD}A.1,B.1,20\n"));
        fs::create_dir(f.join("x.toml")).expect("the temporary folder can be written");
    });
    refused("a pipe", "wires.csv: is a pipe or a device", |f| {
        let made = Command::new("mkfifo").arg(f.join("wires.csv")).status().expect("mkfifo");
        assert!(made.success());
    });
    refused("a device that never ends", "wires.csv: is a pipe or a device", |f| {
        std::os::unix::fs::symlink("/dev/zero", f.join("wires.csv")).expect("a link");
    });
    refused("a link to itself", "a.toml: ", |f| std::os::unix::fs::symlink("a.toml", f.join("a.toml")).expect("a link"));
    refused("a link to nothing", "a.toml: ", |f| std::os::unix::fs::symlink("nothing", f.join("a.toml")).expect("a link"));
    refused("NUL bytes", "it has NUL bytes", |f| write(f, "wires.csv", format!("{HEAD}A.1,B.1,20\0\n")));
    refused("a workbook of another name", "a workbook", |f| write(f, "wires.csv", b"PK\x03\x04 and so on"));
}

/// Root reads whatever it likes, so that a file without rights is unreadable only for others.
#[test]
fn a_file_without_rights_is_told_by_name_or_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a temporary folder");
    write(folder.path(), "wires.csv", format!("{HEAD}A.1,A.1,20\n"));
    let path = folder.path().join("wires.csv");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).expect("rights can be taken");
    let words = if fs::File::open(&path).is_ok() { "begins and ends on A.1" } else { "wires.csv: Permission denied" };
    let Ran { code, err, .. } = check(folder.path());
    assert_eq!(code, Some(2));
    assert!(err.contains(words), "{err}");
}
