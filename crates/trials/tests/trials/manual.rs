//! Pages that are written from the program are as it would write them now.

use trials::{read_text, root};

#[test]
fn written_pages_are_current() {
    for (path, text) in xtask::docs::pages() {
        assert!(read_text(&root().join(path)) == text, "{path} is out of date: run cargo xtask docs");
        assert!(text.lines().count() > 20, "{path} is hardly a page");
    }
}
