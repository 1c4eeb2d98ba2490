//! Aligned tables.

use crate::Style;

/// Rows under heads; a head that begins with `>` has its column set to the right.
pub(crate) struct Grid {
    heads: Vec<(String, bool)>,
    rows: Vec<Vec<String>>,
}

impl Grid {
    pub(crate) fn new(heads: &[&str]) -> Grid {
        let head = |text: &&str| match text.strip_prefix('>') {
            Some(rest) => (rest.to_owned(), true),
            None => ((*text).to_owned(), false),
        };
        Grid { heads: heads.iter().map(head).collect(), rows: Vec::new() }
    }

    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table without its heads.
    pub(crate) fn body(&self) -> String {
        self.render(Style::PLAIN).split_once('\n').map_or(String::new(), |(_, body)| body.to_owned())
    }

    /// The table; a column without any text is left out.
    pub(crate) fn render(&self, style: Style) -> String {
        let width = |text: &str| text.chars().count();
        let cells = |at: usize| self.rows.iter().filter_map(move |row| row.get(at));
        let widths: Vec<usize> = (0..self.heads.len())
            .map(|at| match cells(at).map(|cell| width(cell)).max().unwrap_or(0) {
                0 => 0,
                widest => widest.max(width(&self.heads[at].0)),
            })
            .collect();
        let line = |cells: &mut dyn Iterator<Item = &str>| {
            let mut text = String::new();
            for ((cell, &column), (_, right)) in cells.zip(&widths).zip(&self.heads).filter(|((_, column), _)| **column > 0) {
                let pad = " ".repeat(column - width(cell));
                match right {
                    true => text.push_str(&format!("{pad}{cell}  ")),
                    false => text.push_str(&format!("{cell}{pad}  ")),
                }
            }
            text.truncate(text.trim_end().len());
            text
        };
        let mut text = style.faint(&line(&mut self.heads.iter().map(|(head, _)| head.as_str())));
        text.push('\n');
        for row in &self.rows {
            text.push_str(&line(&mut row.iter().map(String::as_str)));
            text.push('\n');
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_align() {
        let mut grid = Grid::new(&["wire", ">A"]);
        grid.row(vec!["W1".into(), "12.3".into()]);
        grid.row(vec!["W100µ".into(), "4".into()]);
        assert_eq!(grid.render(Style::PLAIN), "wire      A\nW1     12.3\nW100µ     4\n");
    }

    #[test]
    fn a_column_without_text_is_left_out() {
        let mut grid = Grid::new(&["wire", "owner", "at"]);
        grid.row(vec!["W1".into(), String::new(), "a:1".into()]);
        grid.row(vec!["W2".into()]);
        assert_eq!(grid.render(Style::PLAIN), "wire  at\nW1    a:1\nW2\n");
    }
}
