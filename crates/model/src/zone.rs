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
    /// Fields that are `TBD`, where they have no value above.
    pub open: Vec<&'static str>,
}

impl Climate {
    /// What this states, and of what it does not state what `usual` does: of what is `TBD` here nothing is known, whatever is usual.
    pub fn over(&self, usual: &Climate) -> Climate {
        fn of<T: Copy>(climates: [&Climate; 2], field: &str, value: fn(&Climate) -> Option<T>) -> Option<T> {
            value(climates[0]).or_else(|| if climates[0].is_open(field) { None } else { value(climates[1]) })
        }
        let both = [self, usual];
        let mut climate = Climate {
            pressure: of(both, "pressure", |c| c.pressure),
            gas_temperature: of(both, "gas_temperature", |c| c.gas_temperature),
            gravity: of(both, "gravity", |c| c.gravity),
            air_speed: of(both, "air_speed", |c| c.air_speed),
            fan: self.fan.or(usual.fan),
            walls: of(both, "walls", |c| c.walls),
            wall_distance: of(both, "wall_distance", |c| c.wall_distance),
            sun: of(both, "sun", |c| c.sun),
            open: Vec::new(),
        };
        climate.open = self.open.iter().chain(&usual.open).copied().collect();
        climate.open.sort_unstable();
        climate.open.dedup();
        climate
    }

    /// Whether a field without a value is `TBD`.
    pub fn is_open(&self, field: &str) -> bool {
        self.open.contains(&field)
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
