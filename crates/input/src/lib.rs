//! Text files to a checked design and every diagnostic.
//!
//! ```text
//! folder    bytes → text, what each file is
//! document  TOML → rows of cells     sheet  CSV → rows of cells     value  text → one cell
//! catalog   shipped and own wire types and contact sizes
//! build     rows → design: names resolved, values typed, assumptions noted
//! import    a spreadsheet → a folder, or changes of one      edit  changes → the user's text with them
//! fields    the one table of what may be written; manual writes the page and schema the
//!           editor's schema from it
//! ```
//! Pure: no disk, clock or environment. The same files in any order give the same design and the same diagnostics.

mod build;
mod catalog;
pub mod codes;
mod document;
mod edit;
mod fields;
mod folder;
pub mod import;
pub mod limits;
mod manual;
mod names;
mod practice;
mod problems;
pub mod quantity;
mod schema;
mod sheet;
pub mod state;
mod value;

pub use edit::{Change, edit};
pub use fields::{FieldKind, FieldSpec, Form, Range, TableSpec, list_of, table, tables};
pub use folder::is_near;
pub use manual::manual;
pub use schema::schema;

use std::sync::Arc;

/// What was read.
pub struct Loaded {
    /// Texts that the spans of design and diagnostics point into.
    pub sources: Arc<model::Sources>,
    /// The design, if no diagnostic is an error.
    pub design: Option<model::Design>,
    /// Errors and warnings, in the order of files and places.
    pub diagnostics: Vec<model::Diagnostic>,
}

/// Reads the files of a vehicle folder: paths inside it with forward slashes, and their bytes.
pub fn load(files: &[(String, Vec<u8>)]) -> Loaded {
    build::load(files)
}
