//! One run of the program: its streams, its global options, and how it ends.

use analysis::Watch;
use clap::ArgMatches;
use input::Loaded;
use outputs::Style;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

/// No findings and everything required was judged.
pub(crate) const CLEAN: u8 = 0;
/// Findings, or a computation that did not settle.
pub(crate) const FINDINGS: u8 = 1;
/// Input or arguments not understood.
pub(crate) const BAD_INPUT: u8 = 2;
/// No findings, but required rules could not be judged.
pub(crate) const NOT_JUDGED: u8 = 3;
/// Output could not be written.
pub(crate) const NOT_WRITTEN: u8 = 5;
/// Stopped by the user.
pub(crate) const STOPPED: u8 = 130;

/// Warnings that `check` lists unless all are asked for.
const FIRST: usize = 10;

/// Streams and folder of a run.
pub struct Terminal<'a> {
    /// Results.
    pub out: &'a mut dyn Write,
    /// Everything else.
    pub err: &'a mut dyn Write,
    /// Whether `out` may carry colour.
    pub colour_out: bool,
    /// Whether `err` may carry colour.
    pub colour_err: bool,
    /// Relative paths start here.
    pub folder: PathBuf,
    /// Told of the progress of long work, and asked whether to stop.
    pub watch: &'a dyn Watch,
}

/// Why a command ended early.
pub(crate) enum Failure {
    /// A folder, file or argument that is not understood, in a sentence.
    Problem(String),
    /// The input has errors.
    Diagnostics(Box<Loaded>),
    /// Output could not be written.
    Output(String),
    /// Stopped by the user.
    Stopped,
}

/// A run with its global options.
pub(crate) struct Session<'s, 't> {
    terminal: &'s mut Terminal<'t>,
    pub(crate) json: bool,
    chosen: Option<PathBuf>,
    pub(crate) style: Style,
    style_err: Style,
    closed: bool,
    lists_warnings: bool,
    /// Everything is asked for.
    every: bool,
}

impl<'s, 't> Session<'s, 't> {
    pub(crate) fn new(matches: &ArgMatches, terminal: &'s mut Terminal<'t>) -> Session<'s, 't> {
        let colour = |of_terminal| match matches.get_one::<String>("color").map(String::as_str) {
            Some("always") => true,
            Some("never") => false,
            _ => of_terminal,
        };
        Session {
            json: matches.get_flag("json"),
            chosen: matches.get_one::<PathBuf>("folder").cloned(),
            style: Style { colour: colour(terminal.colour_out) },
            style_err: Style { colour: colour(terminal.colour_err) },
            closed: false,
            lists_warnings: matches.subcommand_name() == Some("check"),
            every: matches.subcommand_matches("check").is_some_and(|check| check.get_flag("all")),
            terminal,
        }
    }

    /// How text on standard error looks.
    pub(crate) fn style_err(&self) -> Style {
        self.style_err
    }

    /// Who watches long work.
    pub(crate) fn watch(&self) -> &'t dyn Watch {
        self.terminal.watch
    }

    /// A path as given, from the folder the program runs in.
    pub(crate) fn path(&self, given: impl Into<PathBuf>) -> PathBuf {
        self.terminal.folder.join(given.into())
    }

    /// The vehicle folder: the argument, else `-C`, else here.
    pub(crate) fn vehicle_folder(&self, argument: Option<&PathBuf>) -> PathBuf {
        match argument.or(self.chosen.as_ref()) {
            Some(folder) => self.path(folder),
            None => self.terminal.folder.clone(),
        }
    }

    /// Prints a result. A reader that has gone away (`| head`) ends the output quietly.
    pub(crate) fn print(&mut self, text: &str) -> Result<(), Failure> {
        self.print_bytes(text.as_bytes())
    }

    /// Prints bytes of a file.
    pub(crate) fn print_bytes(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        if self.closed {
            return Ok(());
        }
        match self.terminal.out.write_all(bytes).and_then(|()| self.terminal.out.flush()) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == ErrorKind::BrokenPipe => {
                self.closed = true;
                Ok(())
            }
            Err(error) => Err(Failure::Output(format!("output could not be written: {error}"))),
        }
    }

    /// Says something that is no result. Nobody may be listening; that is no reason to fail.
    pub(crate) fn say(&mut self, text: &str) {
        let _ = self.terminal.err.write_all(text.as_bytes());
    }

    /// Warnings of an input that could be used: `check` lists them, other commands count them.
    pub(crate) fn warn(&mut self, loaded: &Loaded) {
        let text = match loaded.diagnostics.len() {
            0 => return,
            n if self.lists_warnings => {
                let shown = if self.every { n } else { n.min(FIRST) };
                let more = if n > shown {
                    format!("… and {} more: check --all\n", outputs::number::counted(n - shown, "warning"))
                } else {
                    String::new()
                };
                outputs::diagnostics(&loaded.sources, &loaded.diagnostics[..shown], self.style_err) + &more + "\n"
            }
            n => format!("{} about the input; `check` lists them\n", outputs::number::counted(n, "warning")),
        };
        self.say(&text);
    }

    pub(crate) fn problem(&mut self, message: &str) -> u8 {
        if self.json {
            let object = outputs::json::to_text(&outputs::json::problem_json("CL-01", message));
            if let Err(Failure::Output(message)) = self.print(&object) {
                return self.output_failed(&message);
            }
        }
        let head = self.style_err.bad("error");
        self.say(&format!("{head}: {message}\n"));
        BAD_INPUT
    }

    pub(crate) fn diagnostics(&mut self, loaded: &Loaded) -> u8 {
        if self.json {
            let object = outputs::json::to_text(&outputs::json::diagnostics_json(&loaded.sources, &loaded.diagnostics));
            if let Err(Failure::Output(message)) = self.print(&object) {
                return self.output_failed(&message);
            }
        }
        let text = outputs::diagnostics(&loaded.sources, &loaded.diagnostics, self.style_err);
        self.say(&text);
        BAD_INPUT
    }

    pub(crate) fn output_failed(&mut self, message: &str) -> u8 {
        let head = self.style_err.bad("error");
        self.say(&format!("{head}: {message}\n"));
        NOT_WRITTEN
    }
}
