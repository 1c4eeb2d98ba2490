//! Quantities in SI and formulas, one module per physical effect. Knows no design and does no I/O.
//!
//! Each formula states what it computes, its units, where it holds, and where it comes from: *read* (the text was seen),
//! *from memory* (recalled, to be verified), or *computed* (follows from the stated law).

pub mod ampacity;
pub mod battery;
pub mod beam;
pub mod bundle;
pub mod clearing;
pub mod constant_power;
pub mod contact;
pub mod damage_time;
pub mod film;
pub mod fin;
pub mod gas;
pub mod gauge;
mod hull;
pub mod insulation_test;
pub mod load_analysis;
pub mod marking;
pub mod packing;
pub mod potentiometer;
mod profile_matrix;
pub mod pulses;
pub mod quantity;
pub mod radiation;
pub mod resistance;
pub mod section_heat;
pub mod section_transient;
pub mod sensor_bridge;
pub mod sensor_temperature;
pub mod short_time;
pub mod single_wire;
pub mod surroundings;
pub mod take_up;
pub mod trip;
mod view;

pub use quantity::*;
