//! How much is read: sizes, depth and counts, each with its reason. What is larger is refused with a diagnostic and a place, in a time
//! and memory that do not grow with how much too large it is.
//!
//! The largest vehicle this program is made for has 100,000 wires: 4.4 MB of wire list and 10 MB of tables with 1,300,000 lines and marks. Each
//! limit is several times that, or what a text can need.

/// Bytes of one list. A list of half a million rows has some 20 MB; what is larger is a mistake or another kind of file.
pub const LIST_BYTES: usize = 100_000_000;

/// Bytes of one file of tables.
pub const TABLES_BYTES: usize = 50_000_000;

/// Bytes of all files of a folder together: texts are held in memory as long as their spans are.
pub const FOLDER_BYTES: usize = 200_000_000;

/// Files of a folder that are read. A file costs an entry of its own in every message's look-up.
pub const FILES: usize = 10_000;

/// Bytes of one line. Columns are counted along it for each message, and no row of a list needs a thousandth.
pub const LINE_BYTES: usize = 1_000_000;

/// Lines of all lists of a folder together; a wire costs some 3 kB once it is solved and judged.
pub const LINES: usize = 500_000;

/// Lines and marks `=`, `,`, `[`, `]`, `{`, `}` of all tables of a folder together: each may begin a value or a fault, which cost some 200
/// bytes once they are parsed.
pub const MARKS: usize = 4_000_000;

/// Brackets and dotted keys inside each other: the parsed tree is dropped recursively, and no table of the format is deeper than four.
pub const NESTING: usize = 64;

/// Columns of a list. Suggestions are looked up for each head that is not known.
pub const COLUMNS: usize = 1_000;

/// Cavities of all arrangements of the folder together: a row may stand for 10,000 of them.
pub const CAVITIES: usize = 100_000;

/// Characters of one text.
pub const TEXT_CHARACTERS: usize = 2_000;

/// Problems that are told one by one. Nobody mends more before the next run, and the list itself must not fill the memory.
pub const PROBLEMS: usize = 1_000;

/// Characters of one message or help: what it quotes may be as long as a line.
pub const MESSAGE_CHARACTERS: usize = 1_000;

/// Comparisons of words for "did you mean", in one run. Each costs up to a microsecond; with more, suggestions are left out.
pub const COMPARISONS: usize = 500_000;
