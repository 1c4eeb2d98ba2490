//! The command line. Only this crate touches disk and terminal; each command is thin: read, call the library, print.

mod arguments;
mod build;
mod commands;
mod faults;
mod folder;
mod generation;
mod import;
mod manual;
mod names;
mod run;
mod session;
mod start;
mod write;

pub use analysis::{Silent, Watch};
pub use commands::{COMMANDS, Command};
pub use manual::manual;
pub use session::Terminal;

use session::{Failure, Session};
use std::ffi::OsString;

/// Runs one command line (without the program's name) and gives back the exit code.
pub fn run(args: impl IntoIterator<Item = OsString>, terminal: &mut Terminal) -> u8 {
    let args: Vec<OsString> = args.into_iter().collect();
    let matches = match arguments::parser().try_get_matches_from([OsString::from("loomwright")].into_iter().chain(args.iter().cloned())) {
        Ok(matches) => matches,
        Err(error) => return arguments::refused(&error, &args, terminal),
    };
    let mut session = Session::new(&matches, terminal);
    let Some((name, found)) = matches.subcommand() else { return session::BAD_INPUT };
    let Some(command) = COMMANDS.iter().find(|command| command.name == name) else { return session::BAD_INPUT };
    let outcome = (command.run)(&mut session, found);
    match outcome {
        Ok(code) => code,
        Err(Failure::Problem(message)) => session.problem(&message),
        Err(Failure::Diagnostics(loaded)) => session.diagnostics(&loaded),
        Err(Failure::Output(message)) => session.output_failed(&message),
        Err(Failure::Stopped) => session::STOPPED,
    }
}
