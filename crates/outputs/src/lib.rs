//! Text, JSON and the netlist. Values in, text out; computes nothing but layout.

mod ampacity;
mod catalog;
mod caution;
mod check;
mod connectors;
mod diagnostics;
mod explain;
mod functions;
mod import;
pub mod json;
mod netlist;
pub mod number;
mod profile;
mod routes;
pub mod show;
mod style;
mod table;
mod trace;
mod view;
mod what_if;

pub use ampacity::{AmpacityRow, FactorRow, ampacity, ampacity_text};
pub use catalog::{CatalogRow, catalog, catalog_text};
pub use caution::cautions;
pub use check::check;
pub use connectors::{ConnectorRow, connectors, connectors_text};
pub use diagnostics::{diagnostic, diagnostics};
pub use explain::{explain, rule_list};
pub use functions::{FunctionRow, functions, functions_text};
pub use import::{ImportOutput, UNLOCKS, Unlocks, Written, import, import_json, mapping, wires_missing};
pub use netlist::netlist;
pub use profile::{ProfileRow, profile, profile_text};
pub use routes::{LengthRow, RouteRow, lengths, lengths_text, routes, routes_json, routes_text};
pub use style::Style;
pub use trace::{TraceRow, carries, element_of, trace, trace_text};
pub use view::View;
pub use what_if::{what_if, what_if_json};
