//! Diagnostics as text: file, line, column, a caret under the place, both places of a conflict, the way out.

use crate::{Style, number};
use model::{Diagnostic, LabelledSpan, Severity, Sources};

/// All diagnostics in the order given, then their count.
pub fn diagnostics(sources: &Sources, list: &[Diagnostic], style: Style) -> String {
    let mut text: String = list.iter().map(|d| diagnostic(sources, d, style) + "\n").collect();
    let errors = list.iter().filter(|d| d.severity == Severity::Error).count();
    let mut counts = Vec::new();
    if errors > 0 {
        counts.push(number::counted(errors, "error"));
    }
    if errors < list.len() {
        counts.push(number::counted(list.len() - errors, "warning"));
    }
    if !counts.is_empty() {
        text.push_str(&format!("{}\n", counts.join(", ")));
    }
    text
}

/// One diagnostic.
pub fn diagnostic(sources: &Sources, diagnostic: &Diagnostic, style: Style) -> String {
    let head = match diagnostic.severity {
        Severity::Error => style.bad(&format!("error[{}]", diagnostic.code.0)),
        Severity::Warning => style.warn(&format!("warning[{}]", diagnostic.code.0)),
    };
    let mut text = format!("{head}: {}\n", printable(&diagnostic.message));
    let gutter = diagnostic.places.iter().map(|p| sources.position(p.at).line.to_string().len()).max().unwrap_or(1);
    for (at, place) in diagnostic.places.iter().enumerate() {
        text.push_str(&excerpt(sources, place, if at == 0 { '^' } else { '-' }, gutter, style));
    }
    if let Some(help) = &diagnostic.help {
        text.push_str(&format!("  help: {}\n", printable(help)));
    }
    if let Some((_, with)) = &diagnostic.replacement
        && !diagnostic.help.as_ref().is_some_and(|help| help.contains(with.as_str()))
    {
        text.push_str(&format!("  write: {}\n", printable(with)));
    }
    text
}

fn excerpt(sources: &Sources, place: &LabelledSpan, mark: char, gutter: usize, style: Style) -> String {
    // A line may be a megabyte long: only what surrounds the place is shown.
    const BEFORE: usize = 60;
    const WIDTH: usize = 110;
    let position = sources.position(place.at);
    let mut text = format!("  {}\n", style.faint(&format!("{}:{}:{}", position.path, position.line, position.column)));
    let line = sources.line(place.at);
    let skip = if position.column > WIDTH - 20 { position.column - 1 - BEFORE } else { 0 };
    let shown: String = line.chars().skip(skip).take(WIDTH).collect();
    let more = |yes: bool| if yes { "…" } else { "" };
    let cut_left = more(skip > 0);
    let cut_right = more(line.chars().nth(skip + WIDTH).is_some());
    text.push_str(&format!("  {:>gutter$} | {cut_left}{}{cut_right}\n", position.line, printable(&shown)));
    let indent = position.column - 1 - skip + cut_left.chars().count();
    let length = position.end_column.saturating_sub(position.column).clamp(1, WIDTH.saturating_sub(position.column - 1 - skip).max(1));
    let marks = mark.to_string().repeat(length);
    let marks = if mark == '^' { style.bad(&marks) } else { style.strong(&marks) };
    let label = if place.label.is_empty() { String::new() } else { format!(" {}", printable(&place.label)) };
    text.push_str(&format!("  {:>gutter$} | {}{marks}{label}\n", "", " ".repeat(indent)));
    text
}

/// Text that cannot steer a terminal: each control character becomes one blank, so that columns keep their place.
pub(crate) fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Code, Span};

    fn span(sources: &Sources, path: &str, word: &str) -> Span {
        let (file, found) = sources.files().find(|(_, f)| f.path == path).expect("file of the test");
        let start = found.text.find(word).expect("word of the test");
        Span { file, start: start as u32, end: (start + word.len()) as u32 }
    }

    #[test]
    fn both_places_of_a_conflict() {
        let mut sources = Sources::default();
        sources.add("wires.csv", "wire,from,to,gauge\nW1042,J3.41,P8.2,22\n".to_owned());
        sources.add("units.toml", format!("{}arrangement = \"ring-35\"\n", "\n".repeat(40)));
        let list = [Diagnostic::error(
            Code("IN-12"),
            span(&sources, "wires.csv", "J3.41"),
            "connector J3 has cavities 1 to 35",
            "no pin J3.41 on unit PDU-A",
        )
        .note(span(&sources, "units.toml", "\"ring-35\""), "declared here")
        .help("did you mean J3.14?")];
        assert_eq!(
            diagnostics(&sources, &list, Style::PLAIN),
            "\
error[IN-12]: no pin J3.41 on unit PDU-A
  wires.csv:2:7
   2 | W1042,J3.41,P8.2,22
     |       ^^^^^ connector J3 has cavities 1 to 35
  units.toml:41:15
  41 | arrangement = \"ring-35\"
     |               --------- declared here
  help: did you mean J3.14?

1 error
"
        );
    }

    #[test]
    fn a_long_line_is_cut_around_the_place() {
        let mut sources = Sources::default();
        let file = sources.add("a.csv", format!("{}HERE{}\n", "x".repeat(500), "y".repeat(500)));
        let at = Span { file, start: 500, end: 504 };
        let text = diagnostic(&sources, &Diagnostic::error(Code("IN-01"), at, "", "what"), Style::PLAIN);
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines.iter().all(|l| l.chars().count() < 130), "{text}");
        let column = |line: &str, what: &str| line.find(what).map(|at| line[..at].chars().count());
        assert_eq!(column(lines[2], "HERE"), column(lines[3], "^^^^"), "{text}");
    }

    #[test]
    fn a_warning_and_a_place_at_the_end_of_an_empty_file() {
        let mut sources = Sources::default();
        let file = sources.add("empty.toml", String::new());
        let warning = Diagnostic::error(Code("IN-02"), Span { file, start: 0, end: 0 }, "", "nothing\u{1b}[2J here").warning();
        let text = diagnostics(&sources, &[warning], Style::PLAIN);
        assert!(text.starts_with("warning[IN-02]: nothing [2J here\n  empty.toml:1:1\n  1 | \n    | ^\n"), "{text}");
        assert!(text.ends_with("1 warning\n"));
    }
}
