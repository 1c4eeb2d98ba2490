//! `cargo xtask generate | docs | check`.

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};
use xtask::generate::{Generated, Options, Strength, generate, generate_mapped, generate_zoned};

const USAGE: &str = "\
cargo xtask generate DIR [--wires N] [--seed S] [--phases P] [--strength strong|weak|overloaded] [--map no|yes|zones]
    writes a synthetic vehicle into DIR, which must not exist, and prints its statistics; with a map lengths come from routes, with zones wires
    have temperatures
cargo xtask docs
    writes the manual pages that come from the program's own tables
cargo xtask check [--quick]
    format, lints, documentation, all tests; ./check installs what they need first
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["generate", directory, options @ ..] => generate_command(Path::new(directory), options),
        ["docs"] => docs(),
        ["check"] => check(false),
        ["check", "--quick"] => check(true),
        _ => Err(USAGE.to_owned()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{}", why.trim_end());
            ExitCode::FAILURE
        }
    }
}

fn generate_command(directory: &Path, words: &[&str]) -> Result<(), String> {
    let mut options = Options { wires: 1000, seed: 1, phases: 3, strength: Strength::Strong, sources_off: true };
    let mut make: fn(&Options) -> Generated = generate;
    for pair in words.chunks(2) {
        let &[option, value] = pair else { return Err(format!("{} needs a value", pair[0])) };
        let number = || value.parse::<u64>().map_err(|_| format!("{option} takes a whole number, not {value:?}"));
        match option {
            "--wires" => options.wires = number()? as usize,
            "--seed" => options.seed = number()?,
            "--phases" => options.phases = number()? as usize,
            "--strength" => {
                options.strength = match value {
                    "strong" => Strength::Strong,
                    "weak" => Strength::Weak,
                    "overloaded" => Strength::Overloaded,
                    _ => return Err(format!("no strength {value:?}: strong, weak or overloaded")),
                }
            }
            "--map" => {
                make = match value {
                    "no" => generate,
                    "yes" => generate_mapped,
                    "zones" => generate_zoned,
                    _ => return Err(format!("--map takes no, yes or zones, not {value:?}")),
                }
            }
            _ => return Err(USAGE.to_owned()),
        }
    }
    let made = make(&options);
    let fault = |why: std::io::Error| format!("{}: {why}", directory.display());
    std::fs::create_dir(directory).map_err(fault)?;
    for (path, bytes) in &made.files {
        std::fs::write(directory.join(path), bytes).map_err(fault)?;
    }
    println!("{}", made.statistics);
    Ok(())
}

fn docs() -> Result<(), String> {
    for (path, text) in xtask::docs::pages() {
        std::fs::write(root().join(path), text).map_err(|why| format!("{path}: {why}"))?;
        println!("wrote {path}");
    }
    Ok(())
}

/// The workspace, wherever the command is run from.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Every step a change must pass. All run, so that one run tells all that is wrong.
fn check(quick: bool) -> Result<(), String> {
    let steps: &[(&str, &[&str])] = &[
        ("format", &["fmt", "--all", "--", "--check"]),
        ("lints", &["clippy", "--workspace", "--all-targets", "--quiet", "--", "-D", "warnings"]),
        ("documentation", &["doc", "--workspace", "--no-deps", "--document-private-items", "--quiet"]),
        ("tests", &["test", "--workspace", "--quiet"]),
    ];
    let mut failed = Vec::new();
    for (name, arguments) in steps {
        // Documentation of private items costs a build of its own; a quick check leaves it to the full one.
        if quick && *name == "documentation" {
            continue;
        }
        println!("── {name}: cargo {}", arguments.join(" "));
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let status = Command::new(cargo).args(*arguments).current_dir(root()).env("RUSTDOCFLAGS", "-D warnings").status();
        match status {
            Ok(status) if status.success() => {}
            Ok(_) => failed.push(*name),
            Err(why) => return Err(format!("cargo could not be started: {why}")),
        }
    }
    if failed.is_empty() {
        println!("check: all passed");
        Ok(())
    } else {
        Err(format!("check: failed: {}", failed.join(", ")))
    }
}
