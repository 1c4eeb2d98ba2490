//! The binary: hands the process's arguments, streams and folder to the library.

use std::io::{IsTerminal, stderr, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let mut terminal = loomwright::Terminal {
        colour_out: !plain && stdout().is_terminal(),
        colour_err: !plain && stderr().is_terminal(),
        out: &mut stdout().lock(),
        err: &mut stderr().lock(),
        folder: PathBuf::from("."),
    };
    ExitCode::from(loomwright::run(std::env::args_os().skip(1), &mut terminal))
}
