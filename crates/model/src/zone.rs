//! What surrounds the harness: zones, how they differ between phases, and what is known of materials for heat.

use crate::*;
use physics::*;

/// A part of the vehicle whose harness has one kind of surroundings.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Id in the vehicle.
    pub name: Name,
    /// What its own row states.
    pub usual: Climate,
    /// What holds in phases that differ, whole.
    pub in_phase: Vec<(Id<Phase>, Climate)>,
    /// Where the row stands.
    pub at: Span,
}

impl Zone {
    /// What holds in a phase.
    pub fn climate(&self, phase: Id<Phase>) -> &Climate {
        self.in_phase.iter().find(|(of, _)| *of == phase).map_or(&self.usual, |(_, climate)| climate)
    }
}

/// Surroundings; what is not stated is `None`.
#[derive(Clone, Debug, Default)]
pub struct Climate {
    /// Absolute pressure of the gas; 0 is vacuum.
    pub pressure: Option<Given<Pascal>>,
    /// Temperature of the gas: coldest, typical, hottest.
    pub gas_temperature: Option<Spread<Kelvin>>,
    /// Gravity or acceleration, 1 on the ground.
    pub gravity: Option<Given<f64>>,
    /// Speed of the gas, while the fan runs if there is one.
    pub air_speed: Option<Given<MetrePerSecond>>,
    /// The load that makes this speed while it is on.
    pub fan: Option<Given<Id<Load>>>,
    /// Temperature of the walls that the harness sees: coldest, typical, hottest.
    pub walls: Option<Spread<Kelvin>>,
    /// Distance from the harness to the nearest wall.
    pub wall_distance: Option<Given<Metre>>,
    /// Sunlight on the harness.
    pub sun: Option<Given<WattPerSquareMetre>>,
}

impl Climate {
    /// What this states, and of what it does not state what `usual` does.
    pub fn over(&self, usual: &Climate) -> Climate {
        Climate {
            pressure: self.pressure.or(usual.pressure),
            gas_temperature: self.gas_temperature.or(usual.gas_temperature),
            gravity: self.gravity.or(usual.gravity),
            air_speed: self.air_speed.or(usual.air_speed),
            fan: self.fan.or(usual.fan),
            walls: self.walls.or(usual.walls),
            wall_distance: self.wall_distance.or(usual.wall_distance),
            sun: self.sun.or(usual.sun),
        }
    }
}

/// What a scenario changes in a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ZoneChange {
    /// Pressure; 0 is vacuum.
    Pressure(Pascal),
    /// Temperature of the gas.
    GasTemperature(Kelvin),
    /// Gravity, 1 on the ground.
    Gravity(f64),
    /// Speed of the gas, whatever the fan does.
    AirSpeed(MetrePerSecond),
    /// The fan stands still; without one, the gas does.
    FanOff,
    /// Temperature of the walls.
    Walls(Kelvin),
    /// Sunlight.
    Sun(WattPerSquareMetre),
}

/// Coating of a conductor's strands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Plating {
    /// Tin.
    Tin,
    /// Silver.
    Silver,
    /// Nickel.
    Nickel,
}

impl Plating {
    /// All of them.
    pub const ALL: [Plating; 3] = [Plating::Tin, Plating::Silver, Plating::Nickel];
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Plating::Tin => "tin",
            Plating::Silver => "silver",
            Plating::Nickel => "nickel",
        }
    }
}

/// Catalog data for heat; empty in a vehicle without zones.
#[derive(Clone, Debug, Default)]
pub struct HeatData {
    /// Insulation of the families in use.
    pub insulations: Vec<InsulationData>,
    /// Coatings in use.
    pub platings: Vec<PlatingLimit>,
}

impl HeatData {
    /// Data of a family of insulation.
    pub fn insulation(&self, family: &str) -> Option<&InsulationData> {
        self.insulations.iter().find(|row| &*row.family == family)
    }
    /// Limit of a coating.
    pub fn plating(&self, plating: Plating) -> Option<&PlatingLimit> {
        self.platings.iter().find(|row| row.plating == plating)
    }
}

/// What is known of the insulation of a family.
#[derive(Clone, Debug)]
pub struct InsulationData {
    /// The family, as wire types name it.
    pub family: Name,
    /// Thermal conductivity.
    pub conductivity: Option<Given<WattPerMetreKelvin>>,
    /// Emittance of its surface in the infrared: least, typical, greatest.
    pub emittance: Option<Spread<Ratio>>,
    /// Temperature at which it is harmed at once.
    pub damage: Option<Given<Kelvin>>,
}

/// Hottest that a coating may be for long.
#[derive(Clone, Debug)]
pub struct PlatingLimit {
    /// The coating.
    pub plating: Plating,
    /// The limit.
    pub limit: Given<Kelvin>,
    /// Where it comes from.
    pub source: String,
}
