//! Pages of paper: tables in lines of one pitch, drawings at full size in tiles.

use super::Issue;
use super::drawing::{Drawing, Form, Point, Shape};
use super::sheet::{Cell, Column, Sheet};
use pdf_writer::types::LineCapStyle;
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Points of a millimetre.
const POINT: f64 = 72.0 / 25.4;
/// Courier, which every reader has: letters 0.6 em wide, capitals 0.562 em high (its metrics file, from memory); set a little narrower, so that a letter
/// takes no more than the height of its capitals.
const CAPITAL_OF_EM: f64 = 0.562;
const NARROWED: f64 = 92.0;
const LETTER_OF_EM: f64 = 0.6 * NARROWED / 100.0;

/// A page: size, shapes of its own, and a part of a larger drawing with where it begins there.
pub(crate) struct Page {
    size: Point,
    own: Vec<Shape>,
    tile: Option<Tile>,
}

struct Tile {
    /// Where the drawing's own zero lies on the page.
    zero: Point,
    /// What of the page it may cover.
    low: Point,
    high: Point,
    shapes: Vec<Shape>,
}

/// Pages as a file; no date and no name of this machine go into it.
pub(crate) fn file(title: &str, pages: &[Page]) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let (catalog, tree, font, info) = (Ref::new(1), Ref::new(2), Ref::new(3), Ref::new(4));
    let id = |at: usize, of: usize| Ref::new((5 + 2 * at + of) as i32);
    pdf.catalog(catalog).pages(tree);
    pdf.document_info(info).title(TextStr(title)).producer(TextStr("loomwright"));
    pdf.pages(tree).kids((0..pages.len()).map(|at| id(at, 0))).count(pages.len() as i32);
    pdf.type1_font(font).base_font(Name(b"Courier")).encoding_predefined(Name(b"WinAnsiEncoding"));
    for (at, page) in pages.iter().enumerate() {
        let mut one = pdf.page(id(at, 0));
        one.media_box(Rect::new(0.0, 0.0, (page.size.0 * POINT) as f32, (page.size.1 * POINT) as f32));
        one.parent(tree);
        one.contents(id(at, 1));
        one.resources().fonts().pair(Name(b"F"), font);
        one.finish();
        let mut content = Content::new();
        // From here on everything is in millimetres.
        content.transform([POINT as f32, 0.0, 0.0, POINT as f32, 0.0, 0.0]);
        content.set_line_cap(LineCapStyle::ButtCap);
        if let Some(tile) = &page.tile {
            content.save_state();
            content.rect(tile.low.0 as f32, tile.low.1 as f32, (tile.high.0 - tile.low.0) as f32, (tile.high.1 - tile.low.1) as f32);
            content.clip_nonzero();
            content.end_path();
            content.transform([1.0, 0.0, 0.0, 1.0, tile.zero.0 as f32, tile.zero.1 as f32]);
            tile.shapes.iter().for_each(|shape| draw(&mut content, &shape.form));
            content.restore_state();
        }
        page.own.iter().for_each(|shape| draw(&mut content, &shape.form));
        pdf.stream(id(at, 1), &content.finish());
    }
    pdf.finish()
}

fn draw(content: &mut Content, form: &Form) {
    let f = |value: f64| value as f32;
    match form {
        Form::Line(a, b, width) => {
            content.set_line_width(f(*width)).move_to(f(a.0), f(a.1)).line_to(f(b.0), f(b.1)).stroke();
        }
        Form::Rectangle(low, high) => {
            content.set_line_width(0.25).rect(f(low.0), f(low.1), f(high.0 - low.0), f(high.1 - low.1)).stroke();
        }
        Form::Circle(m, r) => {
            // Four cubic curves; their handles as a share of the radius, 4/3 (√2 − 1): good to 0.03 % of it.
            let k = 4.0 / 3.0 * (2f64.sqrt() - 1.0) * r;
            content.set_line_width(0.25).move_to(f(m.0 + r), f(m.1));
            for (dx, dy) in [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)] {
                let (from, to) = ((m.0 + r * dx, m.1 + r * dy), (m.0 - r * dy, m.1 + r * dx));
                content.cubic_to(f(from.0 - k * dy), f(from.1 + k * dx), f(to.0 + k * dx), f(to.1 + k * dy), f(to.0), f(to.1));
            }
            content.stroke();
        }
        Form::Text(at, capital, text) => {
            let bytes = printable(text).chars().map(|c| win_ansi(c).unwrap_or(b'?')).collect::<Vec<u8>>();
            content.begin_text().set_font(Name(b"F"), f(capital / CAPITAL_OF_EM)).set_horizontal_scaling(NARROWED as f32);
            content.next_line(f(at.0), f(at.1)).show(Str(&bytes)).end_text();
        }
    }
}

/// The byte of a letter in the encoding of the font; `None` of one that it does not have.
fn win_ansi(c: char) -> Option<u8> {
    Some(match c {
        ' '..='~' | '\u{a0}'..='\u{ff}' => c as u32 as u8,
        '€' => 0x80,
        '…' => 0x85,
        '‘' => 0x91,
        '’' => 0x92,
        '“' => 0x93,
        '”' => 0x94,
        '•' => 0x95,
        '–' => 0x96,
        '—' => 0x97,
        '™' => 0x99,
        'μ' => 0xb5,
        _ => return None,
    })
}

/// A text in which what the font has no letter for stands by its number.
fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match win_ansi(c) {
            Some(_) => out.push(c),
            None if c.is_control() => out.push(' '),
            None => out.push_str(&format!("[U+{:04X}]", c as u32)),
        }
    }
    out
}

/// A4 lying down, with its margin.
const PAPER: Point = (297.0, 210.0);
const MARGIN: f64 = 10.0;
const SMALL: f64 = 1.45;
const PITCH: f64 = 3.1;

/// A line of a table's page.
#[derive(Clone)]
struct Line {
    text: String,
    /// Whether a row begins here: a hair line stands above it.
    begins: bool,
}

impl Line {
    fn plain(text: String) -> Line {
        Line { text, begins: false }
    }
}

/// All tables as pages, each with its number of all. A column that says the same in every row is said once, above the table; rows in which something is to be written are two lines high.
pub(crate) fn tables(sheets: &[Sheet], issue: &Issue) -> Vec<Page> {
    let letter = SMALL / CAPITAL_OF_EM * LETTER_OF_EM;
    let across = ((PAPER.0 - 2.0 * MARGIN) / letter).floor() as usize;
    let down = ((PAPER.1 - 2.0 * MARGIN) / PITCH).floor() as usize - 4;
    let mut pages: Vec<(&Sheet, Vec<Line>)> = Vec::new();
    for sheet in sheets {
        let (shown, same) = same_in_all(sheet);
        let widths = widths(&shown, across);
        let heads = wrapped(&widths, &shown.columns.iter().map(Column::title).collect::<Vec<_>>());
        let head: Vec<Line> = heads
            .into_iter()
            .chain(["-".repeat(widths.iter().sum::<usize>() + 2 * widths.len().saturating_sub(1))])
            .map(Line::plain)
            .collect();
        let is_written_in = (0..shown.columns.len()).any(|at| shown.rows.iter().all(|row| row[at] == Cell::Blank));
        let mut page: Vec<Line> = Vec::new();
        for caution in &sheet.cautions {
            page.extend(folded(&format!("CAUTION: {caution}"), across).into_iter().map(Line::plain));
        }
        for note in sheet.notes.iter().chain(&same) {
            page.extend(folded(note, across).into_iter().map(Line::plain));
        }
        page.push(Line::plain(String::new()));
        // Notes that take more than a page go on over pages of their own.
        while page.len() + head.len() + 2 > down {
            let rest = page.split_off(page.len().min(down));
            pages.push((sheet, std::mem::replace(&mut page, rest)));
        }
        page.extend(head.iter().cloned());
        for row in &shown.rows {
            let cells: Vec<String> = row.iter().map(Cell::shown).collect();
            let mut lines: Vec<Line> = wrapped(&widths, &cells).into_iter().map(Line::plain).collect();
            if is_written_in && lines.len() == 1 {
                lines.push(Line::plain(String::new()));
            }
            if let Some(first) = lines.first_mut() {
                first.begins = true;
            }
            // A row stays on one page where it fits on one.
            let fits_on_one = lines.len() + head.len() <= down;
            if fits_on_one && page.len() + lines.len() > down {
                pages.push((sheet, std::mem::replace(&mut page, head.clone())));
            }
            for line in lines {
                if page.len() >= down {
                    pages.push((sheet, std::mem::replace(&mut page, head.clone())));
                }
                page.push(line);
            }
        }
        if sheet.rows.is_empty() {
            page.push(Line::plain("nothing to list".to_owned()));
        }
        pages.push((sheet, page));
    }
    let count = pages.len();
    pages.into_iter().enumerate().map(|(at, (sheet, lines))| table_page(sheet, issue, &lines, (at + 1, count))).collect()
}

/// A table without the columns that say the same in every row, and what those say. The first column stays.
fn same_in_all(sheet: &Sheet) -> (Sheet, Vec<String>) {
    const ROWS: usize = 4;
    let is_same = |at: usize| {
        let first = &sheet.rows[0][at];
        at > 0 && *first != Cell::Blank && sheet.rows.iter().all(|row| row[at] == *first)
    };
    let same: Vec<bool> = (0..sheet.columns.len()).map(|at| sheet.rows.len() >= ROWS && is_same(at)).collect();
    let words = sheet.columns.iter().enumerate().filter(|(at, _)| same[*at]);
    let words: Vec<String> = words.map(|(at, column)| format!("{}: {}", column.title(), sheet.rows[0][at].shown())).collect();
    let mut shown = sheet.clone();
    let mut keep = same.iter().map(|same| !same);
    shown.columns.retain(|_| keep.next().unwrap_or(true));
    for row in &mut shown.rows {
        let mut keep = same.iter().map(|same| !same);
        row.retain(|_| keep.next().unwrap_or(true));
    }
    (shown, if words.is_empty() { Vec::new() } else { vec![format!("the same in every row: {}", words.join("; "))] })
}

fn table_page(sheet: &Sheet, issue: &Issue, lines: &[Line], (number, of): (usize, usize)) -> Page {
    let text = |at: Point, capital: f64, text: String| Shape { layer: "TEXT", of: String::new(), form: Form::Text(at, capital, text) };
    let top = PAPER.1 - MARGIN;
    let mut own = vec![
        text((MARGIN, top - 3.0), 2.2, format!("{}   {}", sheet.title, issue.heading())),
        text((PAPER.0 - MARGIN - 45.0, top - 3.0), 2.2, format!("page {number} of {of}")),
        text(
            (MARGIN, MARGIN - 4.0),
            SMALL,
            "informs qualified people; releases nothing: see the cautions on the first page of this table".to_owned(),
        ),
    ];
    for (row, line) in lines.iter().enumerate() {
        let y = top - 3.0 - (row as f64 + 2.0) * PITCH;
        if !line.text.is_empty() {
            own.push(text((MARGIN, y), SMALL, line.text.clone()));
        }
        if line.begins {
            // Clear of capitals in whatever font a reader puts in place of Courier.
            let above = y + PITCH - 0.6;
            own.push(Shape { layer: "RULES", of: String::new(), form: Form::Line((MARGIN, above), (PAPER.0 - MARGIN, above), 0.05) });
        }
    }
    Page { size: PAPER, own, tile: None }
}

/// Letters of each column, all of which fit across. What is narrowed is what makes the table grow least, by a sample of its rows; a word is broken only where the words alone take more than there is.
fn widths(sheet: &Sheet, across: usize) -> Vec<usize> {
    const SAMPLE: usize = 80;
    let words = |text: &str| printable(text).split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
    let longest = |at: usize| {
        let cells = sheet.rows.iter().map(|row| printable(&row[at].shown()).chars().count()).max().unwrap_or(0);
        cells.max(words(&sheet.columns[at].title())).max(3)
    };
    let mut widths: Vec<usize> = (0..sheet.columns.len()).map(longest).collect();
    let whole =
        |at: usize| sheet.rows.iter().map(|row| words(&row[at].shown())).max().unwrap_or(0).max(words(&sheet.columns[at].title())).max(3);
    let mut least: Vec<usize> = (0..sheet.columns.len()).map(whole).collect();
    let gaps = 2 * widths.len().saturating_sub(1);
    // Cells to be filled in by hand have nothing in them yet.
    for (at, width) in widths.iter_mut().enumerate() {
        if sheet.rows.iter().all(|row| row[at] == Cell::Blank) {
            *width = (*width).max(9);
        }
    }
    while least.iter().sum::<usize>() + gaps > across {
        let (at, _) = least.iter().enumerate().max_by_key(|(at, width)| (**width, usize::MAX - at)).expect("a table has columns");
        if least[at] <= 3 {
            break;
        }
        least[at] -= 1;
    }
    let step = sheet.rows.len().div_ceil(SAMPLE).max(1);
    let sample: Vec<Vec<String>> = sheet.rows.iter().step_by(step).map(|row| row.iter().map(Cell::shown).collect()).collect();
    let heights = |at: usize, width: usize| -> Vec<usize> { sample.iter().map(|cells| folded(&cells[at], width).len()).collect() };
    let mut now: Vec<Vec<usize>> = widths.iter().enumerate().map(|(at, &width)| heights(at, width)).collect();
    let mut narrower: Vec<Option<Vec<usize>>> = vec![None; widths.len()];
    while widths.iter().sum::<usize>() + gaps > across {
        let mut best: Option<(usize, usize, usize)> = None;
        for at in (0..widths.len()).filter(|&at| widths[at] > least[at]) {
            let then = narrower[at].get_or_insert_with(|| heights(at, widths[at] - 1));
            let grows = (0..sample.len())
                .filter(|&row| then[row] > now[at][row])
                .map(|row| then[row].saturating_sub(now.iter().map(|column| column[row]).max().unwrap_or(1)))
                .sum();
            let of = (grows, usize::MAX - widths[at], at);
            if best.is_none_or(|best| of < best) {
                best = Some(of);
            }
        }
        let Some((_, _, at)) = best else { break };
        widths[at] -= 1;
        if let Some(then) = narrower[at].take() {
            now[at] = then;
        }
    }
    widths
}

/// A row as lines: cells that do not fit go on below themselves.
fn wrapped(widths: &[usize], cells: &[String]) -> Vec<String> {
    let columns: Vec<Vec<String>> = cells.iter().zip(widths).map(|(cell, width)| folded(cell, *width)).collect();
    let lines = columns.iter().map(Vec::len).max().unwrap_or(0);
    (0..lines)
        .map(|row| {
            let mut line = String::new();
            for (column, width) in columns.iter().zip(widths) {
                let cell = column.get(row).map_or("", String::as_str);
                line.push_str(cell);
                line.push_str(&" ".repeat(width + 2 - cell.chars().count()));
            }
            line.truncate(line.trim_end().len());
            line
        })
        .collect()
}

/// A text in lines of so many letters, broken at blanks where there are any.
pub(crate) fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    for word in printable(text).split(' ') {
        let mut word: &str = word;
        loop {
            let long = word.chars().count();
            let gap = usize::from(used > 0);
            if used + gap + long <= width {
                if gap > 0 {
                    line.push(' ');
                }
                line.push_str(word);
                used += gap + long;
                break;
            }
            if used > 0 {
                lines.push(std::mem::take(&mut line));
                used = 0;
                continue;
            }
            let cut = word.char_indices().nth(width).map_or(word.len(), |(at, _)| at);
            lines.push(word[..cut].to_owned());
            word = &word[cut..];
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// Sizes of paper that boards are printed on.
pub(crate) const PAPERS: [(&str, Point); 2] = [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))];
/// How much two tiles have in common.
pub(crate) const OVERLAP: f64 = 10.0;
/// Margin of a tile; the lower one holds its bars and its name.
const EDGE: f64 = 8.0;
const FOOT: f64 = 16.0;

/// A drawing at full size on sheets that are put together: those with something on them, by rows from the top.
pub(crate) fn tiles(drawing: &Drawing, paper: Point) -> Vec<Page> {
    let area = (paper.0 - 2.0 * EDGE, paper.1 - EDGE - FOOT);
    let step = (area.0 - OVERLAP, area.1 - OVERLAP);
    let count = |size: f64, step: f64| ((size - OVERLAP) / step).ceil().max(1.0) as usize;
    let (columns, rows) = (count(drawing.size.0, step.0), count(drawing.size.1, step.1));
    let mut shapes_in: Vec<Vec<&Shape>> = vec![Vec::new(); columns * rows];
    for shape in drawing.shapes.iter().filter(|shape| shape.layer != "FRAME") {
        let (low, high) = shape.form.bounds();
        let range = |from: f64, to: f64, step: f64, count: usize| {
            let first = ((from - OVERLAP) / step).floor().max(0.0) as usize;
            let last = (to / step).floor().max(0.0) as usize;
            first.min(count - 1)..=last.min(count - 1)
        };
        for column in range(low.0, high.0, step.0, columns) {
            for row in range(low.1, high.1, step.1, rows) {
                let from = (column as f64 * step.0, row as f64 * step.1);
                if let Form::Line(a, b, width) = &shape.form
                    && clipped(*a, *b, (from.0 - width, from.1 - width), (from.0 + area.0 + width, from.1 + area.1 + width)).is_none()
                {
                    continue;
                }
                shapes_in[row * columns + column].push(shape);
            }
        }
    }
    let used: Vec<(usize, usize)> = (0..rows)
        .rev()
        .flat_map(|row| (0..columns).map(move |column| (column, row)))
        .filter(|(column, row)| !shapes_in[row * columns + column].is_empty())
        .collect();
    let name = |(column, row): (usize, usize)| format!("row {} column {}", rows - row, column + 1);
    let page = |(at, place): (usize, &(usize, usize))| {
        let (column, row) = *place;
        let from = (column as f64 * step.0, row as f64 * step.1);
        let zero = (EDGE - from.0, FOOT - from.1);
        let (low, high) = ((EDGE, FOOT), (EDGE + area.0, FOOT + area.1));
        let moved = |shape: &&Shape| {
            let mut shape = (*shape).clone();
            // What lies far off the page is left out of it.
            if let Form::Line(a, b, width) = &mut shape.form {
                let reach = 2.0 * *width;
                let (low, high) = ((from.0 - reach, from.1 - reach), (from.0 + area.0 + reach, from.1 + area.1 + reach));
                (*a, *b) = clipped(*a, *b, low, high).unwrap_or((*a, *b));
            }
            shape
        };
        let tile = Tile { zero, low, high, shapes: shapes_in[row * columns + column].iter().map(moved).collect() };
        let title = format!("page {} of {}  {}  {}", at + 1, used.len(), name(*place), drawing.title);
        Page { size: paper, own: marks(paper, (low, high), &title), tile: Some(tile) }
    };
    used.iter().enumerate().map(page).collect()
}

/// Register marks at the corners of what two tiles have in common, both check bars, and the name.
fn marks(paper: Point, (low, high): (Point, Point), title: &str) -> Vec<Shape> {
    let mut sheet = Drawing::default();
    for x in [low.0 + 0.5 * OVERLAP, high.0 - 0.5 * OVERLAP] {
        for y in [low.1 + 0.5 * OVERLAP, high.1 - 0.5 * OVERLAP] {
            sheet.line("MARKS", "", (x - 4.0, y), (x + 4.0, y), 0.1);
            sheet.line("MARKS", "", (x, y - 4.0), (x, y + 4.0), 0.1);
            sheet.circle("MARKS", "", (x, y), 2.0);
        }
    }
    sheet.rectangle("MARKS", "", low, high);
    for (from, long, words) in [(low.0, 100.0, "100 mm"), (low.0 + 130.0, 25.4, "1 in")] {
        let y = 11.5;
        sheet.line("MARKS", "bar", (from, y), (from + long, y), 0.35);
        for x in [from, from + long] {
            sheet.line("MARKS", "", (x, y - 1.5), (x, y + 1.5), 0.2);
        }
        sheet.text("MARKS", "", (from + long + 2.0, y - 1.0), 2.0, words);
    }
    let room = ((paper.0 - 2.0 * EDGE) / (2.0 / CAPITAL_OF_EM * LETTER_OF_EM)) as usize;
    for (row, line) in folded(title, room).into_iter().take(2).enumerate() {
        sheet.text("MARKS", "", (low.0, 6.5 - 3.0 * row as f64), 2.0, &line);
    }
    sheet.shapes
}

/// The part of a line that lies in a rectangle (Liang and Barsky).
fn clipped(a: Point, b: Point, low: Point, high: Point) -> Option<(Point, Point)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (p, q) in [(-dx, a.0 - low.0), (dx, high.0 - a.0), (-dy, a.1 - low.1), (dy, high.1 - a.1)] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            from = from.max(q / p);
        } else {
            to = to.min(q / p);
        }
    }
    (from <= to).then_some(((a.0 + from * dx, a.1 + from * dy), (a.0 + to * dx, a.1 + to * dy)))
}

/// Drawings at full size one under the other on A4, each page with its number; one that is larger has a page of its own size.
pub(crate) fn stacked(drawings: Vec<Drawing>) -> Vec<Page> {
    const SHEET: Point = (210.0, 297.0);
    let mut pages: Vec<Page> = Vec::new();
    // Free height of the page that is being filled.
    let mut free = 0.0;
    for drawing in drawings {
        let (wide, high) = drawing.size;
        if wide > SHEET.0 || high > SHEET.1 - 2.0 * MARGIN {
            pages.push(whole(drawing));
            free = 0.0;
            continue;
        }
        if high > free {
            pages.push(Page { size: SHEET, own: Vec::new(), tile: None });
            free = SHEET.1 - MARGIN;
        }
        free -= high;
        if let Some(page) = pages.last_mut() {
            page.own.extend(drawing.shapes.into_iter().map(|mut shape| {
                shape.form.shift((0.0, free));
                shape
            }));
        }
        // The foot is the number's.
        free -= if free < 2.0 * MARGIN { free } else { 0.0 };
    }
    let count = pages.len();
    for (at, page) in pages.iter_mut().enumerate() {
        let words = Form::Text((MARGIN, 5.0), SMALL, format!("page {} of {count}", at + 1));
        page.own.push(Shape { layer: "TEXT", of: String::new(), form: words });
    }
    pages
}

/// A drawing as one page of its own size.
pub(crate) fn whole(drawing: Drawing) -> Page {
    Page { size: drawing.size, own: drawing.shapes, tile: None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_folded() {
        assert_eq!(folded("one two three", 7), ["one two", "three"]);
        assert_eq!(folded("abcdefgh ij", 3), ["abc", "def", "gh", "ij"]);
        assert_eq!(folded("", 5), [""]);
        assert_eq!(folded("導", 20), ["[U+5C0E]"]);
    }

    #[test]
    fn lines_are_clipped() {
        assert_eq!(clipped((-10.0, 5.0), (20.0, 5.0), (0.0, 0.0), (10.0, 10.0)), Some(((0.0, 5.0), (10.0, 5.0))));
        assert_eq!(clipped((-10.0, 15.0), (20.0, 15.0), (0.0, 0.0), (10.0, 10.0)), None);
    }
}
