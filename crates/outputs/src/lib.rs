//! Text, JSON and the netlist. Values in, text out; computes nothing but layout.

mod caution;
mod check;
mod diagnostics;
mod explain;
pub mod json;
mod netlist;
pub mod number;
pub mod show;
mod style;
mod table;
mod trace;
mod view;
mod what_if;

pub use caution::cautions;
pub use check::check;
pub use diagnostics::{diagnostic, diagnostics};
pub use explain::{explain, rule_list};
pub use netlist::netlist;
pub use style::Style;
pub use trace::{TraceRow, carries, element_of, trace, trace_text};
pub use view::View;
pub use what_if::{what_if, what_if_json};
