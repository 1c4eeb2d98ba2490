//! The manual page of all commands, written from the table that the parser is built from.

use crate::commands::{Argument, COMMANDS, EXIT_CODES, GLOBALS};

/// `docs/manual/commands.md`.
pub fn manual() -> String {
    let mut text = String::from("# Commands\n\nWritten from the program's own table of commands; do not edit.\n\n");
    text.push_str("Options of every command:\n\n");
    for argument in GLOBALS {
        text.push_str(&format!("- `{}`: {}\n", argument.synopsis(), argument.help));
    }
    text.push_str("\nExit codes:\n\n");
    for (code, meaning) in EXIT_CODES {
        text.push_str(&format!("- {code}: {meaning}\n"));
    }
    text.push_str("\nResults go to standard output, everything else to standard error. [json.md](json.md) lists the keys of `--json`.\n");
    for command in COMMANDS {
        let synopsis: Vec<String> = command.arguments.iter().map(Argument::usage).collect();
        let usage = format!("loomwright {} {}", command.name, synopsis.join(" "));
        text.push_str(&format!("\n## {}\n\n{}.\n\n```\n{}\n```\n\n", command.name, command.about, usage.trim_end()));
        if !command.details.is_empty() {
            text.push_str(&format!("{}\n\n", command.details));
        }
        for argument in command.arguments {
            let choices = if argument.choices.is_empty() { String::new() } else { format!(" ({})", argument.choices.join(", ")) };
            text.push_str(&format!("- `{}`: {}{choices}\n", argument.synopsis(), argument.help));
        }
        text.push_str("\n```\n");
        for (line, does) in command.examples {
            text.push_str(&format!("{line}   # {does}\n"));
        }
        text.push_str("```\n");
    }
    text
}
