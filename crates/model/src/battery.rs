//! Types of battery, and the cells that a battery is made of.

use crate::*;
use physics::battery::{Bank, Curve, kept};
use physics::*;

/// A type of cell, or of a battery that is catalogued as a whole: rows of the catalog.
#[derive(Clone, Debug)]
pub struct BatteryType {
    /// Name in the catalog.
    pub name: Name,
    /// Voltage, resistance and charge.
    pub curve: Curve,
    /// Temperature at which its charge is rated.
    pub rated_at: Kelvin,
    /// Current at which its charge is rated.
    pub rated_current: Option<Given<Ampere>>,
    /// Terminal voltage at which it is empty.
    pub cut_off: Option<Given<Volt>>,
    /// Greatest current for long.
    pub most: Option<Given<Ampere>>,
    /// What it loses in storage: share lost in a time, by rising temperature.
    pub losses: Vec<(Kelvin, Ratio, Second)>,
    /// Notes on the rows it is made of.
    pub notes: Vec<NoteId>,
    /// Where they come from, one line each.
    pub sources: Vec<String>,
    /// Its first row in the catalog.
    pub at: Span,
}

impl BatteryType {
    /// Share left after a time at a temperature; the logarithm of what is left by time runs straight between rows and is held beyond them. `None` where nothing
    /// is stated.
    pub fn kept(&self, time: Second, temperature: Kelvin) -> Option<Ratio> {
        let rates: Vec<(f64, f64)> =
            self.losses.iter().map(|(at, loss, over)| (at.0, kept(*loss, *over, Second(86400.0)).0.ln())).collect();
        let (first, last) = (rates.first()?, rates.last()?);
        let above = rates.partition_point(|(at, _)| *at <= temperature.0);
        let rate = match above {
            0 => first.1,
            n if n == rates.len() => last.1,
            n => {
                let ((t0, a), (t1, b)) = (rates[n - 1], rates[n]);
                a + (b - a) * (temperature.0 - t0) / (t1 - t0)
            }
        };
        Some(Ratio((rate * time.0 / 86400.0).exp()))
    }
}

/// The cells of a battery, and how they stand when the first phase begins.
#[derive(Clone, Debug)]
pub struct Cells {
    /// Their type.
    pub kind: Given<Id<BatteryType>>,
    /// Cells in line.
    pub series: Given<u32>,
    /// Strings side by side.
    pub strings: Given<u32>,
    /// Charge when the first phase begins, as a share of what storage and age leave.
    pub charge: Spread<Ratio>,
    /// How long it has been charged, or activated, by then.
    pub stored: Option<Given<Second>>,
    /// Temperature that it was stored at.
    pub stored_at: Option<Given<Kelvin>>,
    /// Share of the rated charge that age and wear leave.
    pub capacity_left: Spread<Ratio>,
    /// Factor of age on its resistance.
    pub resistance: Spread<Ratio>,
    /// Temperature that it is kept at; else that of each phase.
    pub temperature: Option<Spread<Kelvin>>,
    /// The load that keeps it at that temperature while it is fed.
    pub heater: Option<Given<Id<Load>>>,
    /// Time constant with which it follows the phase's temperature without that load.
    pub cools_in: Option<Given<Second>>,
}

/// How a battery stands in a scenario: in place of the EMF and resistance of its row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BatteryAt {
    /// The battery.
    pub battery: Id<Source>,
    /// Voltage behind its resistance.
    pub emf: Volt,
    /// Resistance.
    pub ohms: Ohm,
}

impl Cells {
    /// Share of the rated charge that storage leaves, or the field that is missing.
    pub fn after_storage(&self, design: &Design) -> Result<Ratio, &'static str> {
        let Some(stored) = self.stored else { return Ok(Ratio(1.0)) };
        let kind = &design.battery_types[self.kind.value];
        let at = self.stored_at.ok_or("stored_at")?.value;
        kind.kept(stored.value, at).ok_or("battery-losses of its type")
    }

    /// Cells, age and storage in a corner: low is the most worn.
    ///
    /// # Errors  The field that is missing.
    pub fn bank(&self, design: &Design, corner: Corner, cells_lost: u32) -> Result<Bank, &'static str> {
        let stored = self.after_storage(design)?;
        let (capacity, resistance) = match corner {
            Corner::Low => (self.capacity_left.low, self.resistance.high),
            Corner::Typical => (self.capacity_left.typical, self.resistance.typical),
            Corner::High => (self.capacity_left.high, self.resistance.low),
        };
        Ok(Bank {
            series: f64::from(self.series.value.saturating_sub(cells_lost)),
            parallel: f64::from(self.strings.value),
            capacity: Ratio(capacity.value.0 * stored.0),
            resistance: resistance.value.0,
        })
    }

    /// Charge at the start in a corner.
    pub fn charge_in(&self, corner: Corner) -> Given<Ratio> {
        in_corner(&self.charge, corner)
    }

    /// Temperature that it is kept at in a corner: low is the coldest.
    pub fn temperature_in(&self, corner: Corner) -> Option<Given<Kelvin>> {
        self.temperature.as_ref().map(|spread| in_corner(spread, corner))
    }

    /// Terminal voltage at which the whole is empty.
    pub fn cut_off(&self, design: &Design) -> Option<Volt> {
        Some(design.battery_types[self.kind.value].cut_off?.value * f64::from(self.series.value))
    }

    /// Notes of what it states.
    pub fn notes(&self, design: &Design) -> Vec<NoteId> {
        let own =
            [self.kind.note, self.series.note, self.strings.note, self.stored.and_then(|g| g.note), self.stored_at.and_then(|g| g.note)];
        let spreads = self.charge.notes().chain(self.capacity_left.notes()).chain(self.resistance.notes());
        let temperature = self.temperature.iter().flat_map(Spread::notes);
        let cools = self.cools_in.and_then(|g| g.note);
        own.into_iter()
            .flatten()
            .chain(spreads)
            .chain(temperature)
            .chain(cools)
            .chain(design.battery_types[self.kind.value].notes.iter().copied())
            .collect()
    }
}

/// Least in the low corner, greatest in the high one.
fn in_corner<T: Copy>(spread: &Spread<T>, corner: Corner) -> Given<T> {
    match corner {
        Corner::Low => spread.low,
        Corner::Typical => spread.typical,
        Corner::High => spread.high,
    }
}

/// What the limits profile says of energy.
#[derive(Clone, Debug, Default)]
pub struct EnergyLimits {
    /// Share of a battery's usable charge that is left at the end of each phase.
    pub reserve: Option<Given<Ratio>>,
    /// Uncertainty of what is known of a battery's charge, as a share of it.
    pub uncertainty: Option<Given<Ratio>>,
}

/// Something that is commanded while a phase runs.
#[derive(Clone, Debug)]
pub struct Programme {
    /// Id in the vehicle.
    pub name: Name,
    /// Time after the beginning of the phase.
    pub after: Given<Second>,
    /// Elements with their new state.
    pub states: Vec<Given<(ElementId, Commanded)>>,
    /// Where the row stands.
    pub at: Span,
}
