//! Colour, or none.

/// Whether text may carry colour; the caller knows the terminal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Style {
    /// Use terminal colours.
    pub colour: bool,
}

impl Style {
    /// No colour.
    pub const PLAIN: Style = Style { colour: false };

    /// Something wrong.
    pub fn bad(self, text: &str) -> String {
        self.paint("31", text)
    }
    /// Something to look at.
    pub fn warn(self, text: &str) -> String {
        self.paint("33", text)
    }
    /// A heading or a name.
    pub fn strong(self, text: &str) -> String {
        self.paint("1", text)
    }
    /// Something of less weight.
    pub fn faint(self, text: &str) -> String {
        self.paint("2", text)
    }

    fn paint(self, code: &str, text: &str) -> String {
        if self.colour && !text.is_empty() { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_owned() }
    }
}
