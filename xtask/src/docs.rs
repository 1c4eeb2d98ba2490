//! Manual pages that are written from the program's own tables.

/// Path in the project and text of each.
pub fn pages() -> Vec<(&'static str, String)> {
    vec![("docs/manual/commands.md", cli::manual()), ("docs/manual/input.md", input::manual())]
}
