//! Bounds of a list that is imported, each with its reason. Past one of them the list is refused with the number that was met.

/// Bytes of the file: what the reader of a folder takes of one file.
pub const FILE_AT_MOST: usize = crate::limits::LIST_BYTES;
/// Bytes of all parts of a workbook together, unpacked. A hundred thousand rows of twelve columns take 50 MB.
pub const UNPACKED_AT_MOST: u64 = 300_000_000;
/// Unpacked over packed size of one part. Sheets of wire lists reach 30; one cell repeated without end reaches a thousand.
pub const RATIO_AT_MOST: u64 = 200;
/// Parts below this size may have any ratio: a few kilobytes of equal text pack very small.
pub const RATIO_FROM: u64 = 10_000_000;
/// Parts in a workbook: some ten for each sheet.
pub const PARTS_AT_MOST: usize = 2_000;
/// Sheets of a workbook.
pub const SHEETS_AT_MOST: usize = 100;
/// Rows of all sheets together: more than twice the largest vehicle this program is made for. A row costs some 4 kB on its way.
pub const ROWS_AT_MOST: usize = 250_000;
/// Columns of a sheet: A to GR.
pub const COLUMNS_AT_MOST: usize = 200;
/// Cells with something in them, of all sheets together: 20 for each of the rows.
pub const CELLS_AT_MOST: usize = 5_000_000;
/// Characters of a cell: what free text may have in a vehicle's files.
pub const CELL_AT_MOST: usize = crate::limits::TEXT_CHARACTERS;
/// Bytes of text kept of all sheets together.
pub const TEXT_AT_MOST: usize = 200_000_000;
/// Merged areas of a sheet.
pub const MERGED_AT_MOST: usize = 100_000;
/// Entries that a workbook may claim to have of shared texts or shared formulas: room is taken for as many as are claimed.
pub const SHARED_AT_MOST: u64 = 5_000_000;
/// Rows in which the heads of the columns are looked for.
pub const HEADS_WITHIN: usize = 60;
/// Shortest wire, in metres: two crimp barrels take more. What is less is a unit or a comma that means something else (common
/// practice, no source).
pub const SHORTEST_WIRE: f64 = 0.01;
