//! What a wire or bundle gives its heat to: walls, gas, a panel; and what the sun adds.

use crate::film::{Film, FilmBy, Free, film};
use crate::gas::Gas;
use crate::{Kelvin, Metre, WattPerMetre, WattPerMetreKelvin, WattPerSquareMetreKelvin};

/// A body that heat is led to: panel, clamp, blanket.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sink {
    /// Per length of wire or bundle, from its skin.
    pub conductance: WattPerMetreKelvin,
    /// Of the body.
    pub temperature: Kelvin,
}

/// All that is around.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// `None` in vacuum.
    pub gas: Option<Gas>,
    /// Which correlation of free convection.
    pub free: Free,
    /// A film coefficient known from elsewhere, in place of the correlations; without gas it means nothing.
    pub film: Option<WattPerSquareMetreKelvin>,
    /// Walls that radiation goes to and comes from, large against the wire, so black to it.
    pub walls: Kelvin,
    /// Sunlight taken up, per length of wire or bundle.
    pub absorbed: WattPerMetre,
    /// Body that heat is led to.
    pub sink: Option<Sink>,
}

impl Surroundings {
    /// Walls at a temperature, nothing else.
    pub fn vacuum(walls: Kelvin) -> Surroundings {
        Surroundings { gas: None, free: Free::default(), film: None, walls, absorbed: WattPerMetre(0.0), sink: None }
    }

    /// Gas and walls.
    pub fn in_gas(gas: Gas, walls: Kelvin) -> Surroundings {
        Surroundings { gas: Some(gas), ..Surroundings::vacuum(walls) }
    }

    /// Film of a cylinder with its surface at a temperature; `None` in vacuum.
    pub fn film(&self, diameter: Metre, surface: Kelvin) -> Option<Film> {
        let gas = self.gas.as_ref()?;
        Some(match self.film {
            Some(h) => Film { h, by: FilmBy::Given, in_range: true, rarefied: false },
            None => film(gas, self.free, diameter, surface),
        })
    }

    /// The coldest of walls, gas and sink: no wire can get colder.
    pub fn coldest(&self) -> Kelvin {
        let gas = self.gas.map_or(f64::INFINITY, |gas| gas.temperature.0);
        let sink = self.sink.map_or(f64::INFINITY, |sink| sink.temperature.0);
        Kelvin(self.walls.0.min(gas).min(sink))
    }
}
