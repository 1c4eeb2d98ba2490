//! All automation of the project: synthetic vehicles for tests and benchmarks, the written manual pages, the full check.

pub mod docs;
pub mod generate;
pub mod random;
