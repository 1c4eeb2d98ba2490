//! Everything that searches by computing and judging in turn.

mod thinnest_gauge;

pub use thinnest_gauge::thinnest_gauge;
