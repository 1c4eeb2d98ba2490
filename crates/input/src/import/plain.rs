//! A list as plain text: its encoding, its separator, its cells.

use super::Stop;
use super::workbook::{Grid, GridCell, GridRow, Kind, Taken, refuse};

/// Bytes 0x80 to 0x9F of Windows-1252, which differ from Latin-1; a blank is a byte without meaning.
const WINDOWS: [char; 32] = [
    '€', ' ', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', ' ', 'Ž', ' ', ' ', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š',
    '›', 'œ', ' ', 'ž', 'Ÿ',
];

pub(super) fn read(bytes: &[u8]) -> Result<Grid, Stop> {
    let mut grid = Grid::default();
    let text = decode(bytes, &mut grid.remarks)?;
    let separator = separator(&text);
    if separator != b',' {
        let word = match separator {
            b';' => "semicolons",
            b'\t' => "tabs",
            _ => "bars",
        };
        grid.remarks.push(format!("its columns are separated by {word}"));
    }
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator).from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    let mut taken = Taken::default();
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => return Err(refuse(format!("the list cannot be read: {error}"), "save it as .csv in UTF-8")),
        }
        // The reader counts blank lines before a record to it.
        let start = record.position().map_or(0, |p| p.byte() as usize);
        let blank =
            text.as_bytes()[start.min(text.len())..].iter().take_while(|b| matches!(b, b'\n' | b'\r')).filter(|b| **b == b'\n').count();
        let number = record.position().map_or(1, |p| p.line() as usize) + blank;
        let mut cells = Vec::with_capacity(record.len());
        for (column, cell) in record.iter().enumerate() {
            let cell = cell.trim();
            if !cell.is_empty() {
                taken.cell(number, column, cell)?;
                cells.resize(column, GridCell::default());
                cells.push(GridCell { text: cell.into(), kind: Kind::Text });
            }
        }
        if !cells.is_empty() {
            taken.row()?;
            grid.rows.push(GridRow { number, cells });
        }
    }
    Ok(grid)
}

/// The text, by its byte-order mark, else as UTF-8, else as Windows-1252, which gives every byte a meaning and is said.
fn decode(bytes: &[u8], remarks: &mut Vec<String>) -> Result<String, Stop> {
    let wide = |from: fn([u8; 2]) -> u16| {
        let units = bytes[2..].chunks_exact(2).map(|pair| from([pair[0], pair[1]]));
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect::<String>()
    };
    let text = match bytes {
        [0xFF, 0xFE, ..] => wide(u16::from_le_bytes),
        [0xFE, 0xFF, ..] => wide(u16::from_be_bytes),
        _ => {
            let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
            match std::str::from_utf8(bytes) {
                Ok(text) => text.to_owned(),
                Err(_) => {
                    remarks.push("its text is not UTF-8 and was read as Windows-1252".to_owned());
                    bytes.iter().map(|&b| if (0x80..0xA0).contains(&b) { WINDOWS[usize::from(b - 0x80)] } else { b as char }).collect()
                }
            }
        }
    };
    if text.contains('\0') {
        return Err(refuse("this is neither a workbook nor text", "save the list as .xlsx or .csv"));
    }
    Ok(text)
}

/// The separator that most lines near the top hold equally often, outside quotes.
fn separator(text: &str) -> u8 {
    let mut best = (0, 0, b',');
    for separator in [b',', b';', b'\t', b'|'] {
        let mut counts: Vec<usize> = Vec::new();
        for line in text.lines().filter(|line| !line.trim().is_empty()).take(60) {
            let mut quoted = false;
            let count = line.bytes().filter(|b| {
                quoted ^= *b == b'"';
                *b == separator && !quoted
            });
            counts.push(count.count());
        }
        // How many lines have the count that most lines have.
        for &count in counts.iter().filter(|count| **count > 0) {
            let lines = counts.iter().filter(|other| **other == count).count();
            if (lines, count) > (best.0, best.1) {
                best = (lines, count, separator);
            }
        }
    }
    best.2
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separators_and_encodings() {
        for (bytes, cells, line) in [
            (&b"a;b,c;d\r\n1;2,5;x\r\n"[..], vec!["a", "b,c", "d"], 1),
            (b"\n\na\tb\tc\n", vec!["a", "b", "c"], 3),
            (b"a,\"b;b;b\",c\n1,2,3\n", vec!["a", "b;b;b", "c"], 1),
            (b"\xFF\xFEa\0,\0b\0", vec!["a", "b"], 1),
            (b"\xEF\xBB\xBFa,b", vec!["a", "b"], 1),
            (b"L\xE4nge,b", vec!["Länge", "b"], 1),
        ] {
            let grid = read(bytes).expect("readable");
            let row = &grid.rows[0];
            assert_eq!((row.cells.iter().map(|c| &*c.text).collect::<Vec<_>>(), row.number), (cells, line));
        }
        assert!(read(b"a\0b").is_err());
    }
}
