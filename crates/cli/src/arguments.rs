//! The parser, built from the table of commands.

use crate::commands::{Argument, COMMANDS, Command, EXIT_CODES, GLOBALS, Takes};
use crate::session::{BAD_INPUT, CLEAN, NOT_WRITTEN, Terminal};
use clap::builder::{PossibleValuesParser, ValueParser};
use clap::error::ErrorKind;
use clap::{Arg, ArgAction};
use std::ffi::OsString;
use std::io::ErrorKind as IoKind;

/// The whole parser.
pub(crate) fn parser() -> clap::Command {
    let codes: String = EXIT_CODES.iter().map(|(code, meaning)| format!("  {code:<4}{meaning}\n")).collect();
    clap::Command::new("loomwright")
        .about("The tool of the engineer who owns all wiring of a vehicle: one checked model, every number computed, every limit with its source.")
        .version(env!("CARGO_PKG_VERSION"))
        .subcommand_required(true)
        .arg_required_else_help(true)
        .disable_help_subcommand(true)
        .args(GLOBALS.iter().map(|a| arg(a).global(true)))
        .subcommands(COMMANDS.iter().map(subcommand))
        .after_help(format!("Exit codes:\n{codes}\nBegin with: loomwright start rig --from-example bench-rig"))
}

fn subcommand(command: &Command) -> clap::Command {
    let width = command.examples.iter().map(|(line, _)| line.chars().count()).max().unwrap_or(0);
    let examples: String = command.examples.iter().map(|(line, does)| format!("  {line:<width$}   {does}\n")).collect();
    clap::Command::new(command.name)
        .about(command.about)
        .long_about(format!("{}.\n\n{}", command.about, command.details).trim_end().to_owned())
        .args(command.arguments.iter().map(arg))
        .after_help(format!("Examples:\n{}", examples.trim_end()))
}

fn arg(argument: &Argument) -> Arg {
    let mut arg = Arg::new(argument.id).help(argument.help).required(argument.required);
    if let Some(long) = argument.long {
        arg = arg.long(long);
    }
    if let Some(short) = argument.short {
        arg = arg.short(short);
    }
    let parser: ValueParser = match argument.takes {
        Takes::Nothing => return arg.action(ArgAction::SetTrue),
        Takes::Path => ValueParser::path_buf(),
        Takes::Text | Takes::Texts if !argument.choices.is_empty() => PossibleValuesParser::new(argument.choices).into(),
        Takes::Text | Takes::Texts | Takes::Each => ValueParser::string(),
    };
    if matches!(argument.takes, Takes::Texts) {
        arg = arg.num_args(0..);
    }
    if matches!(argument.takes, Takes::Each) {
        arg = arg.action(ArgAction::Append);
    }
    arg.value_name(argument.value).value_parser(parser)
}

/// Help, version, or a command line that is not understood.
pub(crate) fn refused(error: &clap::Error, args: &[OsString], terminal: &mut Terminal) -> u8 {
    let is_answer = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    let rendered = error.render();
    let text = |colour: bool| if colour { rendered.ansi().to_string() } else { rendered.to_string() };
    if is_answer {
        return match terminal.out.write_all(text(terminal.colour_out).as_bytes()).and_then(|()| terminal.out.flush()) {
            Err(error) if error.kind() != IoKind::BrokenPipe => NOT_WRITTEN,
            _ => CLEAN,
        };
    }
    if args.iter().any(|arg| arg == "--json") {
        let plain = text(false);
        let message = plain.lines().next().unwrap_or("").trim_start_matches("error: ").to_owned();
        let object = outputs::json::to_text(&outputs::json::problem_json("CL-02", &message));
        if terminal.out.write_all(object.as_bytes()).and_then(|()| terminal.out.flush()).is_err_and(|e| e.kind() != IoKind::BrokenPipe) {
            return NOT_WRITTEN;
        }
    }
    let _ = terminal.err.write_all(text(terminal.colour_err).as_bytes());
    BAD_INPUT
}
