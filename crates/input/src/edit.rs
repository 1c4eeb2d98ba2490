//! The one place that changes the user's text: byte for byte the same, but for what is to change.

use crate::fields::{self, TableSpec};
use crate::quantity::Unit;
use crate::sheet::field_of_head;
use std::ops::Range;

/// A stretch of a file and what is to stand in its place; an empty stretch puts something in, an empty text takes something out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The file; one that is not there yet is begun.
    pub path: String,
    /// Bytes of it.
    pub at: Range<usize>,
    /// What comes there.
    pub text: String,
}

/// The files that change, as they are afterwards.
///
/// Changes of one file may stand in any order; those at one place are put in in the order given. Stretches do not overlap.
pub fn edit(files: &[(String, Vec<u8>)], changes: &[Change]) -> Vec<(String, Vec<u8>)> {
    let mut paths: Vec<&str> = changes.iter().map(|change| change.path.as_str()).collect();
    paths.sort_unstable();
    paths.dedup();
    let mut edited = Vec::new();
    for path in paths {
        let old: &[u8] = files.iter().find(|(p, _)| p == path).map_or(&[], |(_, bytes)| bytes);
        let mut of: Vec<&Change> = changes.iter().filter(|change| change.path == path).collect();
        of.sort_by_key(|change| (change.at.start, change.at.end));
        let mut new = Vec::with_capacity(old.len() + of.iter().map(|c| c.text.len()).sum::<usize>());
        let mut done = 0;
        for change in of {
            let (start, end) = (change.at.start.clamp(done, old.len()), change.at.end.clamp(done, old.len()));
            new.extend_from_slice(&old[done..start]);
            new.extend_from_slice(change.text.as_bytes());
            done = end.max(start);
        }
        new.extend_from_slice(&old[done..]);
        if new != old {
            edited.push((path.to_owned(), new));
        }
    }
    edited
}

/// A list in CSV with the place of each of its cells.
pub(crate) struct Places {
    pub(crate) heads: Vec<Head>,
    /// End of the line of heads, before its line break.
    pub(crate) heads_end: usize,
    pub(crate) rows: Vec<RowPlaces>,
    /// How its lines end.
    pub(crate) line_end: &'static str,
    /// Whether its last line ends.
    pub(crate) is_ended: bool,
    pub(crate) length: usize,
}

pub(crate) struct Head {
    /// Field of the table, or `note_…`; empty where it says nothing.
    pub(crate) field: String,
    pub(crate) unit: Option<&'static Unit>,
}

pub(crate) struct RowPlaces {
    /// The row with its line break.
    pub(crate) line: Range<usize>,
    /// End of the row before its line break.
    pub(crate) end: usize,
    /// Each cell with its quotes, without the blanks around it.
    pub(crate) cells: Vec<Range<usize>>,
    /// What stands in it.
    pub(crate) texts: Vec<String>,
}

/// Finds the cells of a list that the reader has read without an error.
pub(crate) fn places(text: &str, table: &'static TableSpec) -> Places {
    let bytes = text.as_bytes();
    let line_end = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let is_ended = text.is_empty() || text.ends_with('\n');
    let mut places = Places { heads: Vec::new(), heads_end: 0, rows: Vec::new(), line_end, is_ended, length: bytes.len() };
    let mut at = if text.starts_with('\u{feff}') { 3 } else { 0 };
    while at < bytes.len() {
        let row = if bytes[at] == b'#' { comment(bytes, at) } else { record(text, at) };
        at = row.line.end;
        if row.texts.iter().all(String::is_empty) {
            continue;
        }
        if places.heads.is_empty() {
            places.heads_end = row.end;
            places.heads = row.texts.iter().map(|head| of_head(head, table)).collect();
        } else {
            places.rows.push(row);
        }
    }
    places
}

fn of_head(head: &str, table: &'static TableSpec) -> Head {
    let folded = head.to_lowercase();
    if fields::is_note_head(&folded) {
        return Head { field: head.to_owned(), unit: None };
    }
    match field_of_head(table, &folded) {
        Ok((position, unit)) => Head { field: table.fields[position].key.to_owned(), unit },
        Err(_) => Head { field: String::new(), unit: None },
    }
}

fn comment(bytes: &[u8], start: usize) -> RowPlaces {
    let end = bytes[start..].iter().position(|b| *b == b'\n').map_or(bytes.len(), |n| start + n + 1);
    RowPlaces { line: start..end, end, cells: Vec::new(), texts: Vec::new() }
}

fn record(text: &str, start: usize) -> RowPlaces {
    let bytes = text.as_bytes();
    let mut row = RowPlaces { line: start..start, end: start, cells: Vec::new(), texts: Vec::new() };
    let (mut at, mut cell, mut quoted) = (start, start, false);
    loop {
        match bytes.get(at) {
            // A quote opens at the start of a cell and ends at the next one that is not written twice.
            Some(b'"') if quoted || at == cell => quoted = !quoted,
            Some(b'"') if bytes[at - 1] == b'"' && bytes[cell] == b'"' => quoted = true,
            Some(b',' | b'\n' | b'\r') | None if !quoted || at >= bytes.len() => {
                let range = trimmed(text, cell..at);
                let raw = &text[range.clone()];
                row.texts.push(match raw.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')) {
                    Some(inner) => inner.replace("\"\"", "\"").trim().to_owned(),
                    None => raw.to_owned(),
                });
                row.cells.push(range);
                if bytes.get(at) != Some(&b',') {
                    break;
                }
                cell = at + 1;
            }
            _ => {}
        }
        at += 1;
    }
    row.end = at;
    let broken = bytes[at.min(bytes.len())..].iter().take(2).scan(false, |done, b| {
        let take = !*done && matches!(b, b'\r' | b'\n');
        *done |= *b == b'\n' || !take;
        take.then_some(())
    });
    row.line = start..at + broken.count();
    row
}

fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let cell = &text[range.clone()];
    let start = range.start + (cell.len() - cell.trim_start().len());
    start..(start + cell.trim().len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_but_the_change_changes() {
        let files = [("a.csv".to_owned(), b"# keep\na,b\r\n1,2\n".to_vec())];
        let change = |at: Range<usize>, text: &str| Change { path: "a.csv".to_owned(), at, text: text.to_owned() };
        let edited = edit(&files, &[change(14..15, "3"), change(17..17, "5,6\n"), change(7..8, "")]);
        assert_eq!(edited, [("a.csv".to_owned(), b"# keep\n,b\r\n1,3\n5,6\n".to_vec())]);
        assert_eq!(edit(&files, &[change(7..8, "a")]), []);
        let begun = Change { path: "b.toml".to_owned(), at: 0..0, text: "x".to_owned() };
        assert_eq!(edit(&files, &[begun]), [("b.toml".to_owned(), b"x".to_vec())]);
    }

    #[test]
    fn cells_have_their_places() {
        let text = "\u{feff}# a, comment\nwire, from ,to,length_m,note_Colour\n\nW1,\"J1.1\",J2.1, 3.2 ,\"a \"\"b\"\", c\"\r\n# \"x\nW2,J1.2,J2.2,,";
        let places = places(text, fields::table("wire").expect("wires"));
        assert_eq!(places.heads.iter().map(|h| h.field.as_str()).collect::<Vec<_>>(), ["wire", "from", "to", "length", "note_Colour"]);
        assert_eq!(places.heads[3].unit.map(|u| u.word), Some("m"));
        assert_eq!(places.rows.iter().map(|r| r.texts.join("|")).collect::<Vec<_>>(), ["W1|J1.1|J2.1|3.2|a \"b\", c", "W2|J1.2|J2.2||"]);
        assert_eq!(&text[places.rows[0].cells[1].clone()], "\"J1.1\"");
        assert!(text[places.rows[0].line.clone()].ends_with("c\"\r\n") && text[..places.rows[0].end].ends_with("c\""));
        assert!(!places.is_ended);
    }
}
