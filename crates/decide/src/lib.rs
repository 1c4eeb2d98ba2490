//! Everything that searches by computing and judging in turn, and what is asked of it in words.

mod cuts;
mod endure;
mod fault_id;
mod faults;
pub mod measured;
mod names;
mod scenario;
mod separate;
mod thinnest_gauge;
mod what_if;

pub use cuts::{cuts, second_opinion};
pub use endure::{Ask, PERIODS, endure, lasts_bare};
pub use fault_id::{choose, fault_id, fault_words, find_fault, read_id};
pub use faults::{PairScreen, Sweep, Told, held, with_sweep, with_sweep_in};
pub use names::Names;
pub use scenario::{Amount, ReadAmount, Verb, change, words, words_of_all};
pub use separate::{Limits, Partial, WorstStates, part, search, separate};
pub use thinnest_gauge::thinnest_gauge;
pub use what_if::{AMPERES_MOVED, KELVIN_MOVED, READING_MOVED, VOLTS_MOVED, what_if};
