//! The checked design: tables of rows that point to each other by typed id, spans into the input, scenarios laid over the
//! unchanged design, and the plain tables that results, margins and findings live in.
//!
//! A [`Design`] exists only when checked: every id resolves and every number is finite and in range. Results are columns
//! beside the tables, never fields inside them.

mod ampacity;
mod assembly;
mod battery;
mod change;
mod connection;
mod cut_table;
mod design;
mod device;
mod diagnostic;
mod end;
mod endurance;
mod fault;
mod fault_table;
mod fitted;
mod function;
mod given;
mod heat;
mod id;
mod import;
mod map;
mod mass;
mod open;
mod ordnance;
mod pair_table;
mod practice;
mod profile;
mod protection;
mod result;
mod scenario;
mod separation;
mod sheet;
mod shop;
mod text;
mod verdict;
mod wire;
mod zone;

pub use ampacity::*;
pub use assembly::*;
pub use battery::*;
pub use change::*;
pub use connection::*;
pub use cut_table::*;
pub use design::*;
pub use device::*;
pub use diagnostic::*;
pub use end::*;
pub use endurance::*;
pub use fault::*;
pub use fault_table::*;
pub use fitted::*;
pub use function::*;
pub use given::*;
pub use heat::*;
pub use id::*;
pub use import::*;
pub use map::*;
pub use mass::*;
pub use open::*;
pub use ordnance::*;
pub use pair_table::*;
pub use practice::*;
pub use profile::*;
pub use protection::*;
pub use result::*;
pub use scenario::*;
pub use separation::*;
pub use sheet::*;
pub use shop::*;
pub use text::*;
pub use verdict::*;
pub use wire::*;
pub use zone::*;
