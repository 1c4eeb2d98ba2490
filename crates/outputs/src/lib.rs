//! Text, JSON and the netlist. Values in, text out; computes nothing but layout.

mod ampacity;
mod bundles;
mod catalog;
mod caution;
mod check;
mod connectors;
mod curve;
mod curve_drawing;
mod cuts;
mod diagnostics;
mod endurance;
mod energy;
mod explain;
mod fault_currents;
mod fault_files;
mod fault_lines;
mod faults;
mod functions;
mod import;
pub mod json;
mod mass;
mod netlist;
pub mod number;
mod pairs;
mod profile;
mod protection;
mod readiness;
mod routes;
mod section_drawing;
mod separation;
pub mod shop;
pub mod show;
mod style;
mod table;
mod temperatures;
mod timeline_drawing;
mod trace;
mod view;
mod what_if;

pub use ampacity::{AmpacityRow, FactorRow, ampacity, ampacity_text};
pub use bundles::{BundleRow, MemberRow, bundle, bundle_drawing, bundle_text, bundles, bundles_text};
pub use catalog::{CatalogRow, catalog, catalog_text};
pub use caution::cautions;
pub use check::check;
pub use connectors::{ConnectorRow, connectors, connectors_text};
pub use curve::{CurveJson, CurveRow, curve, curve_json, curve_svg, curve_text};
pub use cuts::{CutsRow, cuts, cuts_text};
pub use diagnostics::{diagnostic, diagnostics};
pub use endurance::{Beside, EndureOutput, duration, endure_json, endure_text, lasts};
pub use energy::{
    BudgetRow, EnergyRow, LoadRow, TimelineRow, budgets, budgets_text, energy, energy_text, loads, loads_text, timeline, timeline_text,
};
pub use explain::{explain, rule_list};
pub use fault_currents::{FaultRow, fault_currents, fault_currents_text};
pub use fault_files::{fault_matrix_svg, fault_modes_csv, fault_modes_workbook};
pub use fault_lines::{Part, PartOf, fault_lines, joined, merge_parts, read_part};
pub use faults::{
    Explained, FaultsOutput, Swept, fault_kinds, fault_list, fault_list_json, faults, faults_json, reason_words, why, why_json,
};
pub use functions::{FunctionRow, functions, functions_text};
pub use import::{ImportOutput, UNLOCKS, Unlocks, Written, import, import_json, mapping, wires_missing};
pub use mass::{MassRow, mass, mass_text};
pub use netlist::netlist;
pub use pairs::{Paired, PairsOutput, pair_lines, pairs, pairs_json};
pub use profile::{ProfileRow, profile, profile_text};
pub use protection::{ProtectionRow, protection, protection_text};
pub use readiness::{ReadinessRow, readiness, readiness_text};
pub use routes::{LengthRow, RouteRow, lengths, lengths_text, routes, routes_json, routes_text};
pub use section_drawing::{Circle, Section, draw};
pub use separation::{Separated, separate, separate_json};
pub use style::Style;
pub use temperatures::{TemperatureRow, temperatures, temperatures_text};
pub use timeline_drawing::timeline_svg;
pub use trace::{TraceRow, carries, element_of, trace, trace_text};
pub use view::View;
pub use what_if::{what_if, what_if_json};
