//! Where a value stands in the user's text.

/// One file of the input, in the order the reader took them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FileId(pub u32);

/// A byte range in one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// A place as people name it: lines and columns count from 1, columns count characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Position {
    /// Path of the file inside the vehicle folder, with forward slashes; shipped data begin with `shipped:`.
    pub path: String,
    /// Line of the first character.
    pub line: usize,
    /// Column of the first character.
    pub column: usize,
    /// Column one past the last character if the span ends on the same line, else the end of the first line.
    pub end_column: usize,
}

/// One input file with its text.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// Path inside the vehicle folder.
    pub path: String,
    /// The text, decoded as UTF-8 (with replacement characters where it was not).
    pub text: String,
    line_starts: Vec<u32>,
}

/// All input files; spans point into them.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

impl Sources {
    /// Adds a file. The reader refuses files of 4 GiB or more before this.
    pub fn add(&mut self, path: impl Into<String>, text: String) -> FileId {
        let mut line_starts = vec![0];
        line_starts.extend(text.bytes().enumerate().filter(|&(_, b)| b == b'\n').map(|(at, _)| at as u32 + 1));
        self.files.push(SourceFile { path: path.into(), text, line_starts });
        FileId(self.files.len() as u32 - 1)
    }
    /// The file of an id that [`Sources::add`] gave out.
    pub fn file(&self, id: FileId) -> &SourceFile {
        &self.files[id.0 as usize]
    }
    /// All files in order.
    pub fn files(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        self.files.iter().enumerate().map(|(at, file)| (FileId(at as u32), file))
    }
    /// Line and column of a span. Cost: a binary search in the file's lines and a walk along one line.
    pub fn position(&self, span: Span) -> Position {
        let file = self.file(span.file);
        let line = file.line_starts.partition_point(|&start| start <= span.start).max(1) - 1;
        let from = file.line_starts[line] as usize;
        let line_end = file.line_starts.get(line + 1).map_or(file.text.len(), |&next| next as usize - 1);
        let clamp = |at: u32| (at as usize).clamp(from, line_end.max(from));
        let count = |to: usize| String::from_utf8_lossy(&file.text.as_bytes()[from..to]).chars().count() + 1;
        Position { path: file.path.clone(), line: line + 1, column: count(clamp(span.start)), end_column: count(clamp(span.end)) }
    }
    /// The line that a span begins on, without its end.
    pub fn line(&self, span: Span) -> &str {
        let file = self.file(span.file);
        let line = file.line_starts.partition_point(|&start| start <= span.start).max(1) - 1;
        let rest = &file.text.as_bytes()[file.line_starts[line] as usize..];
        let next = file.line_starts.get(line + 1).map_or(rest.len(), |&next| (next - file.line_starts[line]) as usize);
        core::str::from_utf8(&rest[..next]).unwrap_or("").trim_end_matches(['\n', '\r'])
    }
    /// The text a span covers.
    pub fn slice(&self, span: Span) -> &str {
        self.file(span.file).text.get(span.start as usize..span.end as usize).unwrap_or("")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_and_column_count_from_one_and_in_characters() {
        let mut sources = Sources::default();
        let file = sources.add("a.toml", "x = 1\nµ = \"ü\"\n".to_owned());
        let text = &sources.file(file).text;
        let start = text.find('"').expect("quoted") as u32;
        let at = sources.position(Span { file, start, end: start + 4 });
        assert_eq!((at.line, at.column, at.end_column), (2, 5, 8));
        let end = sources.position(Span { file, start: text.len() as u32, end: text.len() as u32 });
        assert_eq!((end.line, end.column), (3, 1));
    }
}
