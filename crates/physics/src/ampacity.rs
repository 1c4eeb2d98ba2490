//! Table ampacity: what handbooks allow a wire to carry, by gauge, bundle, altitude and insulation. No heat balance.
//!
//! Three rule sets, each a function over data: aircraft ([`aircraft_current`], and the short table [`short_current`]) and space
//! ([`space_current`], whose tables make it NASA-style or ECSS-style). What lies outside a table is an error that says so; where a value is
//! carried beyond its table on the cautious side, the result bears a [`Word`].

use crate::gauge::Awg;
use crate::{Ampere, Kelvin, Metre, Ratio, TemperatureRise};

/// Material of a conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conductor {
    /// Copper and dilute copper alloys.
    Copper,
    /// Aluminium.
    Aluminium,
}

impl Conductor {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Conductor::Copper => "copper",
            Conductor::Aluminium => "aluminium",
        }
    }
}

/// Why a table gives no value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OutOfTable {
    /// No row for the gauge.
    Gauge(Awg),
    /// The surroundings are as hot as the conductor may get, or hotter.
    NoRise,
    /// The rise is below the least of the gauge's rows.
    RiseBelow {
        /// That least rise.
        least: TemperatureRise,
    },
    /// No wire, or a share that is not above 0 and at most 1.
    NoBundle,
    /// Higher than the table goes.
    AltitudeAbove {
        /// The highest of the table.
        most: Metre,
    },
    /// Surroundings hotter than the table is for.
    SurroundingsAbove {
        /// The hottest it is for.
        most: Kelvin,
    },
    /// Insulation rated lower than any row.
    RatingBelow {
        /// The lowest rating of the rows.
        least: Kelvin,
    },
    /// A larger share of the bundle is loaded than the table is for.
    LoadAbove {
        /// The largest share it is for.
        most: Ratio,
    },
}

/// How a value departs from the bare table, always to the cautious side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Word {
    /// The rise is above the highest row of the gauge: the current of that row was taken.
    RiseAboveTable {
        /// The highest rise.
        most: TemperatureRise,
    },
    /// More wires than the table has: its last factor × √(last/wires), the steepest fall that heat allows.
    CountBeyondTable {
        /// Wires of the last row used.
        last: u32,
    },
    /// A smaller share is loaded than the least of the table: the factor of that least share was taken.
    LoadBelowTable {
        /// The least share.
        least: Ratio,
    },
    /// The insulation's rating has no row: that of the next lower rating was taken.
    RatingRoundedDown {
        /// The rating of the row.
        to: Kelvin,
    },
}

/// Why rows are no table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TableFault {
    /// The offending row.
    pub row: usize,
    /// What is wrong with it.
    pub what: &'static str,
}

/// Current of a single wire in free air at sea level, by gauge and rise of the conductor over the air.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeAir {
    /// By gauge; the points of a gauge in rising order.
    gauges: Vec<(Awg, Vec<(f64, f64)>)>,
}

impl FreeAir {
    /// Rows in any order. A gauge's current must not fall where the rise grows.
    pub fn new(rows: &[(Awg, TemperatureRise, Ampere)]) -> Result<FreeAir, TableFault> {
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by(|&a, &b| rows[a].0.cmp(&rows[b].0).then(rows[a].1.0.total_cmp(&rows[b].1.0)));
        let mut gauges: Vec<(Awg, Vec<(f64, f64)>)> = Vec::new();
        for row in order {
            let (gauge, TemperatureRise(rise), Ampere(current)) = rows[row];
            check(row, rise > 0.0 && rise.is_finite() && current > 0.0 && current.is_finite(), "rise and current above zero")?;
            match gauges.last_mut() {
                Some((last, points)) if *last == gauge => {
                    let before = points.last().copied().unwrap_or((0.0, 0.0));
                    check(row, rise > before.0, "one row for a gauge and rise")?;
                    check(row, current >= before.1, "no less current at a greater rise")?;
                    points.push((rise, current));
                }
                _ => gauges.push((gauge, vec![(rise, current)])),
            }
        }
        Ok(FreeAir { gauges })
    }

    /// Current at a rise; between two rows a straight line in logarithms, as current grows nearly with the root of the rise.
    fn current(&self, gauge: Awg, rise: TemperatureRise, words: &mut Vec<Word>) -> Result<Ampere, OutOfTable> {
        let (_, points) = self.gauges.iter().find(|(g, _)| *g == gauge).ok_or(OutOfTable::Gauge(gauge))?;
        let (least, most) = ends(points);
        if rise.0 <= 0.0 {
            return Err(OutOfTable::NoRise);
        }
        if rise.0 < least.0 {
            return Err(OutOfTable::RiseBelow { least: TemperatureRise(least.0) });
        }
        if rise.0 > most.0 {
            words.push(Word::RiseAboveTable { most: TemperatureRise(most.0) });
            return Ok(Ampere(most.1));
        }
        Ok(Ampere(log_log(points, rise.0)))
    }
}

/// Factor for a bundle in air, by the number of its wires and the share of them that is loaded.
#[derive(Clone, Debug, PartialEq)]
pub struct BundleFactors {
    /// By loaded share, rising; the points (wires, factor) of a share in rising order.
    shares: Vec<(f64, Vec<(f64, f64)>)>,
}

impl BundleFactors {
    /// Rows (wires, loaded share, factor) in any order. Factors must not grow with the wires; each share needs its row of one wire.
    pub fn new(rows: &[(u32, Ratio, Ratio)]) -> Result<BundleFactors, TableFault> {
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by(|&a, &b| rows[a].1.0.total_cmp(&rows[b].1.0).then(rows[a].0.cmp(&rows[b].0)));
        let mut shares: Vec<(f64, Vec<(f64, f64)>)> = Vec::new();
        for row in order {
            let (wires, Ratio(share), Ratio(factor)) = rows[row];
            check(row, share > 0.0 && share <= 1.0, "a share above 0, at most 1")?;
            check(row, factor > 0.0 && factor <= 1.0, "a factor above 0, at most 1")?;
            match shares.last_mut() {
                Some((last, points)) if *last == share => {
                    let before = points.last().copied().unwrap_or((0.0, 1.0));
                    check(row, f64::from(wires) > before.0, "one row for a share and number of wires")?;
                    check(row, factor <= before.1, "no greater factor with more wires")?;
                    points.push((f64::from(wires), factor));
                }
                _ => {
                    check(row, wires == 1, "a row of one wire for each share")?;
                    shares.push((share, vec![(1.0, factor)]));
                }
            }
        }
        check(0, !shares.is_empty(), "at least one row")?;
        Ok(BundleFactors { shares })
    }

    /// Factor of a bundle by itself.
    ///
    /// # Errors  No wire or no loaded share; a larger share than the table is for.
    pub fn of(&self, wires: u32, loaded: Ratio) -> Result<Ratio, OutOfTable> {
        self.factor(wires, loaded, &mut Vec::new())
    }

    /// Factor; between two numbers of wires a straight line in logarithms, between two curves of loaded share a straight line.
    ///
    /// Beyond the last row of a curve: the rise from the skin to the middle of a bundle goes with the heat inside, n I², so no law of heat
    /// falls faster than I ∝ 1/√n.
    fn factor(&self, wires: u32, loaded: Ratio, words: &mut Vec<Word>) -> Result<Ratio, OutOfTable> {
        if wires == 0 || !(loaded.0 > 0.0 && loaded.0 <= 1.0) {
            return Err(OutOfTable::NoBundle);
        }
        let mut on_curve = |(_, points): &(f64, Vec<(f64, f64)>)| {
            let (_, last) = ends(points);
            if f64::from(wires) <= last.0 {
                return log_log(points, f64::from(wires));
            }
            let word = Word::CountBeyondTable { last: last.0 as u32 };
            if !words.contains(&word) {
                words.push(word);
            }
            last.1 * (last.0 / f64::from(wires)).sqrt()
        };
        let above = self.shares.iter().position(|(share, _)| *share >= loaded.0 * (1.0 - 1e-12));
        Ok(Ratio(match above {
            None => {
                let most = self.shares.last().expect("a table of bundle factors has rows").0;
                return Err(OutOfTable::LoadAbove { most: Ratio(most) });
            }
            Some(0) => {
                let factor = on_curve(&self.shares[0]);
                if loaded.0 < self.shares[0].0 * (1.0 - 1e-12) {
                    words.push(Word::LoadBelowTable { least: Ratio(self.shares[0].0) });
                }
                factor
            }
            Some(i) if self.shares[i].0 <= loaded.0 * (1.0 + 1e-12) => on_curve(&self.shares[i]),
            Some(i) => {
                let (low, high) = (&self.shares[i - 1], &self.shares[i]);
                let (at_low, at_high) = (on_curve(low), on_curve(high));
                at_low + (at_high - at_low) * (loaded.0 - low.0) / (high.0 - low.0)
            }
        }))
    }
}

/// Factor for altitude.
#[derive(Clone, Debug, PartialEq)]
pub struct AltitudeFactors {
    points: Vec<(f64, f64)>,
}

impl AltitudeFactors {
    /// Rows (altitude, factor) in any order. Factors must not grow with altitude.
    pub fn new(rows: &[(Metre, Ratio)]) -> Result<AltitudeFactors, TableFault> {
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by(|&a, &b| rows[a].0.0.total_cmp(&rows[b].0.0));
        let mut points: Vec<(f64, f64)> = Vec::new();
        for row in order {
            let (Metre(altitude), Ratio(factor)) = rows[row];
            check(row, altitude.is_finite() && factor > 0.0 && factor <= 1.0, "a factor above 0, at most 1")?;
            if let Some(before) = points.last() {
                check(row, altitude > before.0, "one row for an altitude")?;
                check(row, factor <= before.1, "no greater factor at a greater altitude")?;
            }
            points.push((altitude, factor));
        }
        check(0, !points.is_empty(), "at least one row")?;
        Ok(AltitudeFactors { points })
    }

    /// Factor; a straight line between two altitudes, and below the lowest that of the lowest.
    fn factor(&self, altitude: Metre) -> Result<Ratio, OutOfTable> {
        let (least, most) = ends(&self.points);
        if altitude.0 > most.0 * (1.0 + 1e-12) {
            return Err(OutOfTable::AltitudeAbove { most: Metre(most.0) });
        }
        Ok(Ratio(straight(&self.points, altitude.0.clamp(least.0, most.0))))
    }
}

/// The aircraft rule set's tables.
#[derive(Clone, Debug, PartialEq)]
pub struct AircraftTables {
    /// Single wires in free air.
    pub free_air: FreeAir,
    /// Bundles.
    pub bundle: BundleFactors,
    /// Altitude.
    pub altitude: AltitudeFactors,
}

/// A wire in its bundle, as the aircraft rule set sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InAir {
    /// Gauge.
    pub gauge: Awg,
    /// Rated conductor temperature.
    pub rating: Kelvin,
    /// Air around the bundle.
    pub ambient: Kelvin,
    /// Wires of the bundle, this one included.
    pub wires: u32,
    /// Share of them that is loaded at the same time.
    pub loaded: Ratio,
    /// Altitude.
    pub altitude: Metre,
}

/// What the aircraft rule set allows.
#[derive(Clone, Debug, PartialEq)]
pub struct AircraftCurrent {
    /// Single wire in free air at sea level.
    pub free_air: Ampere,
    /// Factor of the bundle.
    pub bundle: Ratio,
    /// Factor of the altitude.
    pub altitude: Ratio,
    /// Their product.
    pub allowed: Ampere,
    /// Where a value was carried beyond its table, on the cautious side.
    pub words: Vec<Word>,
}

/// Current that a wire may carry in a bundle in air: free-air current × bundle factor × altitude factor.
///
/// Free-air points are log-log between rises and held at the highest; bundle factors are log-log in the number of wires, straight in the
/// loaded share, and fall with 1/√n beyond the table; altitude is straight between points.
///
/// # Units     (K), (1), (m) → (A)
/// # Validity  Copper, as the tables are.
/// # Errors    [`OutOfTable`]: gauge without rows, rise below the rows, no wires or no loaded share, altitude above the table.
/// # Source    FAA AC 43.13-1B CHG 1, par. 11-66 to 11-69, figures 11-4 and 11-5 (example 2 on page 11-27 read); MIL-W-5088L.
pub fn aircraft_current(tables: &AircraftTables, wire: &InAir) -> Result<AircraftCurrent, OutOfTable> {
    let mut words = Vec::new();
    let free_air = tables.free_air.current(wire.gauge, wire.rating - wire.ambient, &mut words)?;
    let bundle = tables.bundle.factor(wire.wires, wire.loaded, &mut words)?;
    let altitude = tables.altitude.factor(wire.altitude)?;
    Ok(AircraftCurrent { free_air, bundle, altitude, allowed: free_air * (bundle.0 * altitude.0), words })
}

/// One row of the circular's short table: a bundle of stated conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShortRow {
    /// Material.
    pub conductor: Conductor,
    /// Gauge.
    pub gauge: Awg,
    /// Rated conductor temperature of the column.
    pub rating: Kelvin,
    /// Allowed current.
    pub current: Ampere,
}

/// The short table and the conditions that it is for.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortTable {
    /// Its rows.
    pub rows: Vec<ShortRow>,
    /// Hottest air.
    pub ambient: Kelvin,
    /// Largest loaded share.
    pub loaded: Ratio,
    /// Highest altitude.
    pub altitude: Metre,
}

/// Current by the short table, which already holds bundle (33 wires or more, 9 or more from size 8 up), load and altitude. A rating
/// between two columns takes the lower one.
///
/// # Units     As [`InAir`] → (A)
/// # Validity  No hotter, higher or more loaded than the table's conditions, with any number of wires.
/// # Errors    [`OutOfTable`]: gauge or material without a row, a rating below the columns, conditions beyond the table's.
/// # Source    FAA AC 43.13-1B CHG 1, Table 11-9 and its note 1, page 11-23 (read); Table 11-10 for aluminium (from memory).
pub fn short_current(table: &ShortTable, conductor: Conductor, wire: &InAir) -> Result<(Ampere, Option<Word>), OutOfTable> {
    if wire.ambient > table.ambient {
        return Err(OutOfTable::SurroundingsAbove { most: table.ambient });
    }
    if wire.loaded.0 > table.loaded.0 * (1.0 + 1e-12) {
        return Err(OutOfTable::LoadAbove { most: table.loaded });
    }
    if wire.altitude.0 > table.altitude.0 * (1.0 + 1e-12) {
        return Err(OutOfTable::AltitudeAbove { most: table.altitude });
    }
    let rows: Vec<(Kelvin, Ampere)> = table
        .rows
        .iter()
        .filter(|row| row.conductor == conductor && row.gauge == wire.gauge)
        .map(|row| (row.rating, row.current))
        .collect();
    rounded_down(&rows, wire.rating)?.ok_or(OutOfTable::Gauge(wire.gauge))
}

/// A gauge of a space table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpaceRow {
    /// Material.
    pub conductor: Conductor,
    /// Gauge.
    pub gauge: Awg,
    /// Current of a single wire in vacuum.
    pub single: Ampere,
    /// Current of each wire in a bundle of [`FULL_BUNDLE`] or more, if the table states it.
    pub bundle: Option<Ampere>,
}

/// A space rule set's data: its rows make it NASA-style or ECSS-style.
#[derive(Clone, Debug, PartialEq)]
pub struct SpaceTable {
    /// Currents by gauge.
    pub rows: Vec<SpaceRow>,
    /// Factor by rated conductor temperature; empty if the rule set has none.
    pub ratings: Vec<(Kelvin, Ratio)>,
    /// Hottest surroundings that the currents are for.
    pub surroundings: Kelvin,
    /// How far the conductor must stay below its rating, if the rule set says so.
    pub below_rating: Option<TemperatureRise>,
}

/// A wire in its bundle, as the space rule sets see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InVacuum {
    /// Material.
    pub conductor: Conductor,
    /// Gauge.
    pub gauge: Awg,
    /// Rated conductor temperature.
    pub rating: Kelvin,
    /// Walls around the bundle.
    pub surroundings: Kelvin,
    /// Wires of the bundle, this one included.
    pub wires: u32,
}

/// Which figure of a space rule set was judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JudgedBy {
    /// The table's single wire.
    Single,
    /// The formula for bundles.
    Formula,
    /// The table's bundle column.
    Table,
}

/// What a space rule set allows.
#[derive(Clone, Debug, PartialEq)]
pub struct SpaceCurrent {
    /// Single wire, with the factor of its insulation.
    pub single: Ampere,
    /// By the formula for bundles.
    pub formula: Option<Ampere>,
    /// By the table's bundle column.
    pub table: Option<Ampere>,
    /// Factor of the insulation's rating.
    pub rating: Ratio,
    /// What is judged: where formula and table disagree, the lower.
    pub allowed: Ampere,
    /// Which of them that is.
    pub by: JudgedBy,
    /// Hottest that the rule set lets the conductor get, apart from the current.
    pub conductor_max: Option<Kelvin>,
    /// Where a value was carried beyond its table, on the cautious side.
    pub words: Vec<Word>,
}

/// Wires from which on a bundle counts as full.
///
/// # Source  MIL-STD-975M, wire derating (from memory); "15 or more wires" for 20 AWG also read in an abstract of Lundquist and Leidecker.
pub const FULL_BUNDLE: u32 = 15;

/// Factor of a bundle in vacuum: (29 − N)/28 up to 15 wires, a half beyond.
///
/// # Units     `wires` N, at least 1 → (1)
/// # Source    MIL-STD-975M, MSFC-STD-3012 and early ECSS issues (from memory): I_bundle = I_single (29 − N)/28 for 1 < N ≤ 15, I_single/2 beyond.
pub fn space_bundle_factor(wires: u32) -> Ratio {
    if wires > FULL_BUNDLE { Ratio(0.5) } else { Ratio((29.0 - f64::from(wires.max(1))) / 28.0) }
}

/// Current that a wire may carry in vacuum: the table's single wire, reduced for its bundle and its insulation.
///
/// A bundle of 15 or more is judged by the lower of the formula and the table's own bundle column, and both are given. A rating between two
/// rows takes the lower one.
///
/// # Units     (K) → (A)
/// # Validity  Hard vacuum, surroundings no hotter than the table's.
/// # Errors    [`OutOfTable`]: gauge or material without a row, no wires, hotter surroundings, a rating below the rows.
/// # Source    MIL-STD-975M / EEE-INST-002, section W1 (from memory but for the rows marked read); ECSS-Q-ST-30-11C (from memory).
pub fn space_current(table: &SpaceTable, wire: &InVacuum) -> Result<SpaceCurrent, OutOfTable> {
    if wire.wires == 0 {
        return Err(OutOfTable::NoBundle);
    }
    if wire.surroundings > table.surroundings {
        return Err(OutOfTable::SurroundingsAbove { most: table.surroundings });
    }
    let row = table.rows.iter().find(|row| row.conductor == wire.conductor && row.gauge == wire.gauge);
    let row = row.ok_or(OutOfTable::Gauge(wire.gauge))?;
    let mut words = Vec::new();
    let rating = match rounded_down(&table.ratings, wire.rating)? {
        None => Ratio(1.0),
        Some((factor, word)) => {
            words.extend(word);
            factor
        }
    };
    let single = row.single * rating.0;
    let formula = (wire.wires > 1).then(|| single * space_bundle_factor(wire.wires).0);
    let stated = row.bundle.filter(|_| wire.wires >= FULL_BUNDLE).map(|current| current * rating.0);
    let (allowed, by) = match (formula, stated) {
        (Some(formula), Some(stated)) if stated < formula => (stated, JudgedBy::Table),
        (Some(formula), _) => (formula, JudgedBy::Formula),
        (None, _) => (single, JudgedBy::Single),
    };
    let conductor_max = table.below_rating.map(|below| wire.rating + (-below));
    Ok(SpaceCurrent { single, formula, table: stated, rating, allowed, by, conductor_max, words })
}

fn check(row: usize, holds: bool, what: &'static str) -> Result<(), TableFault> {
    if holds { Ok(()) } else { Err(TableFault { row, what }) }
}

/// First and last point of a curve; tables hold none without points.
fn ends(points: &[(f64, f64)]) -> ((f64, f64), (f64, f64)) {
    let first = points.first().expect("a curve of a table has points");
    (*first, *points.last().unwrap_or(first))
}

/// The points around `x`, which lies in the range of rising points: equal where `x` is the first.
fn around(points: &[(f64, f64)], x: f64) -> ((f64, f64), (f64, f64)) {
    let above = points.partition_point(|point| point.0 < x).min(points.len() - 1);
    (points[above.saturating_sub(1)], points[above])
}

/// Value at `x` by a straight line between points.
fn straight(points: &[(f64, f64)], x: f64) -> f64 {
    let ((x0, y0), (x1, y1)) = around(points, x);
    if x >= x1 { y1 } else { y0 + (y1 - y0) * (x - x0) / (x1 - x0) }
}

/// Value at `x` by a straight line between points in logarithms of both axes.
fn log_log(points: &[(f64, f64)], x: f64) -> f64 {
    let ((x0, y0), (x1, y1)) = around(points, x);
    if x >= x1 { y1 } else { y0 * (y1 / y0).powf((x / x0).ln() / (x1 / x0).ln()) }
}

/// Value of the highest rating that is not above the given one; `None` without rows.
fn rounded_down<T: Copy>(rows: &[(Kelvin, T)], rating: Kelvin) -> Result<Option<(T, Option<Word>)>, OutOfTable> {
    // Ratings are whole degrees: a hair of rounding between two scales must not drop a row.
    let fits = rows.iter().filter(|(of, _)| of.0 <= rating.0 + 1e-6);
    match fits.max_by(|a, b| a.0.0.total_cmp(&b.0.0)) {
        Some((of, value)) => Ok(Some((*value, (of.0 < rating.0 - 1e-6).then_some(Word::RatingRoundedDown { to: *of })))),
        None => match rows.iter().map(|(of, _)| *of).min_by(|a, b| a.0.total_cmp(&b.0)) {
            Some(least) => Err(OutOfTable::RatingBelow { least }),
            None => Ok(None),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected} within {tolerance}");
    }

    fn celsius(t: f64) -> Kelvin {
        Kelvin::from_celsius(t)
    }

    const FT: f64 = 0.3048;

    /// Points of FAA AC 43.13-1B CHG 1: 14 AWG, 150 K, 47 A and 8 wires at 60 %, 0.6 and 20,000 ft, 0.91 (read, page 11-27); the others from
    /// memory or made for the test.
    fn air() -> AircraftTables {
        let free_air = [(14, 150.0, 47.0), (14, 35.0, 23.9), (20, 140.0, 21.5), (20, 35.0, 9.6)];
        let bundle = [(1, 60.0, 1.0), (8, 60.0, 0.6), (1, 20.0, 1.0), (8, 20.0, 0.795), (35, 20.0, 0.52)];
        AircraftTables {
            free_air: FreeAir::new(&free_air.map(|(g, k, a)| (Awg(g), TemperatureRise(k), Ampere(a)))).expect("a table"),
            bundle: BundleFactors::new(&bundle.map(|(n, share, f)| (n, Ratio(share / 100.0), Ratio(f)))).expect("a table"),
            altitude: AltitudeFactors::new(&[(0.0, 1.0), (20e3, 0.91), (60e3, 0.79)].map(|(ft, f)| (Metre(ft * FT), Ratio(f))))
                .expect("a table"),
        }
    }

    fn in_air() -> InAir {
        InAir { gauge: Awg(14), rating: celsius(200.0), ambient: celsius(50.0), wires: 8, loaded: Ratio(0.6), altitude: Metre(20e3 * FT) }
    }

    /// FAA AC 43.13-1B CHG 1, par. 11-68, example 2, page 11-27 (read): 47 A × 0.91 = 42.77 A, × 0.6 = 26 A (25.662).
    #[test]
    fn faa_example_of_14_awg() {
        let found = aircraft_current(&air(), &in_air()).expect("in the tables");
        near(found.free_air.0, 47.0, 1e-9);
        near(found.free_air.0 * found.altitude.0, 42.77, 1e-9);
        near(found.allowed.0, 25.662, 1e-9);
        assert_eq!(found.words, []);
    }

    /// Between points: rise of √(35 · 150) K lies half way in logarithms, √(23.9 · 47) = 33.516 A. Altitude of 40,000 ft: 0.85. 40 % of 8
    /// wires: half way from 0.795 to 0.6. 17 wires at 20 %: ln(17/8)/ln(35/8) = 0.753772/1.475907 = 0.510718 of the way, so
    /// 0.795 × exp(0.510718 × ln(0.52/0.795)) = 0.795 × exp(−0.216808) = 0.64004.
    #[test]
    fn between_the_points() {
        let wire = InAir { ambient: celsius(200.0 - (35.0f64 * 150.0).sqrt()), altitude: Metre(40e3 * FT), loaded: Ratio(0.4), ..in_air() };
        let found = aircraft_current(&air(), &wire).expect("in the tables");
        near(found.free_air.0, 33.516, 1e-3);
        near(found.altitude.0, 0.85, 1e-9);
        near(found.bundle.0, 0.6975, 1e-9);
        let found = aircraft_current(&air(), &InAir { wires: 17, loaded: Ratio(0.2), ..in_air() }).expect("in the tables");
        near(found.bundle.0, 0.64004, 1e-5);
    }

    #[test]
    fn beyond_the_tables_on_the_cautious_side() {
        // 200 K of rise: the current of the highest point, 150 K.
        let found = aircraft_current(&air(), &InAir { ambient: celsius(0.0), ..in_air() }).expect("held");
        near(found.free_air.0, 47.0, 1e-9);
        assert_eq!(found.words, [Word::RiseAboveTable { most: TemperatureRise(150.0) }]);
        // 32 wires at 60 %: 0.6 √(8/32) = 0.3.
        let found = aircraft_current(&air(), &InAir { wires: 32, ..in_air() }).expect("carried on");
        near(found.bundle.0, 0.3, 1e-9);
        assert_eq!(found.words, [Word::CountBeyondTable { last: 8 }]);
        // 5 % loaded counts as 20 %.
        let found = aircraft_current(&air(), &InAir { loaded: Ratio(0.05), ..in_air() }).expect("held");
        near(found.bundle.0, 0.795, 1e-9);
        assert_eq!(found.words, [Word::LoadBelowTable { least: Ratio(0.2) }]);
    }

    #[test]
    fn outside_the_tables_is_an_error() {
        let refused = |wire: InAir| aircraft_current(&air(), &wire).expect_err("outside");
        assert_eq!(refused(InAir { gauge: Awg(26), ..in_air() }), OutOfTable::Gauge(Awg(26)));
        assert_eq!(refused(InAir { ambient: celsius(200.0), ..in_air() }), OutOfTable::NoRise);
        let OutOfTable::RiseBelow { least } = refused(InAir { ambient: celsius(170.0), ..in_air() }) else { panic!("a rise of 30 K") };
        near(least.0, 35.0, 1e-9);
        assert_eq!(refused(InAir { wires: 0, ..in_air() }), OutOfTable::NoBundle);
        assert_eq!(refused(InAir { loaded: Ratio(0.0), ..in_air() }), OutOfTable::NoBundle);
        assert_eq!(refused(InAir { loaded: Ratio(0.8), ..in_air() }), OutOfTable::LoadAbove { most: Ratio(0.6) });
        assert_eq!(refused(InAir { altitude: Metre(60_001.0 * FT), ..in_air() }), OutOfTable::AltitudeAbove { most: Metre(60e3 * FT) });
        assert!(aircraft_current(&air(), &InAir { altitude: Metre(60e3 * FT), ..in_air() }).is_ok());
    }

    #[test]
    fn more_wires_load_or_height_never_allow_more() {
        let allowed = |wire: InAir| aircraft_current(&air(), &wire).expect("in the tables").allowed.0;
        for wires in 1..80 {
            for load in 1..12 {
                let wire = InAir { wires, loaded: Ratio(0.05 * f64::from(load)), ..in_air() };
                assert!(allowed(InAir { wires: wires + 1, ..wire }) <= allowed(wire) * (1.0 + 1e-12));
                assert!(allowed(wire) <= allowed(InAir { loaded: Ratio(wire.loaded.0 - 0.04), ..wire }) * (1.0 + 1e-12));
            }
        }
        for step in 0..60 {
            let wire = InAir { altitude: Metre(f64::from(step) * 300.0), ..in_air() };
            assert!(allowed(InAir { altitude: wire.altitude + Metre(280.0), ..wire }) <= allowed(wire));
        }
    }

    #[test]
    fn rows_that_are_no_table() {
        let free = |rows: &[(i8, f64, f64)]| {
            FreeAir::new(&rows.iter().map(|&(g, k, a)| (Awg(g), TemperatureRise(k), Ampere(a))).collect::<Vec<_>>()).map_err(|f| f.row)
        };
        assert_eq!(free(&[(20, 80.0, 9.0), (20, 40.0, 10.0)]), Err(0), "less current at a greater rise");
        assert_eq!(free(&[(20, 80.0, 9.0), (20, 80.0, 9.0)]), Err(1), "one point twice");
        assert_eq!(free(&[(20, 80.0, f64::NAN)]), Err(0));
        let bundle = |rows: &[(u32, f64, f64)]| {
            BundleFactors::new(&rows.iter().map(|&(n, s, f)| (n, Ratio(s), Ratio(f))).collect::<Vec<_>>()).map_err(|f| f.row)
        };
        assert_eq!(bundle(&[(2, 0.2, 0.9)]), Err(0), "no row of one wire");
        assert_eq!(bundle(&[(1, 0.2, 1.0), (2, 0.2, 0.8), (3, 0.2, 0.9)]), Err(2), "a greater factor with more wires");
        assert_eq!(bundle(&[]), Err(0));
        assert_eq!(AltitudeFactors::new(&[(Metre(0.0), Ratio(0.9)), (Metre(9.0), Ratio(1.0))]).map_err(|f| f.row), Err(1));
    }

    /// Rows of FAA AC 43.13-1B CHG 1, Table 11-9 (read): 16 AWG, 7, 11 and 14 A at 105, 150 and 200 °C.
    #[test]
    fn short_table() {
        let row = |rating: f64, current: f64| ShortRow {
            conductor: Conductor::Copper,
            gauge: Awg(16),
            rating: celsius(rating),
            current: Ampere(current),
        };
        let rows = vec![row(105.0, 7.0), row(150.0, 11.0), row(200.0, 14.0)];
        let table = ShortTable { rows, ambient: celsius(70.0), loaded: Ratio(0.2), altitude: Metre(60e3 * FT) };
        let wire = InAir { gauge: Awg(16), ambient: celsius(70.0), loaded: Ratio(0.2), altitude: Metre(60e3 * FT), ..in_air() };
        let short = |wire: InAir| short_current(&table, Conductor::Copper, &wire);
        assert_eq!(short(wire), Ok((Ampere(14.0), None)));
        let down = Some(Word::RatingRoundedDown { to: celsius(150.0) });
        assert_eq!(short(InAir { rating: celsius(175.0), ..wire }), Ok((Ampere(11.0), down)));
        assert_eq!(short(InAir { rating: celsius(90.0), ..wire }), Err(OutOfTable::RatingBelow { least: celsius(105.0) }));
        assert_eq!(short(InAir { ambient: celsius(71.0), ..wire }), Err(OutOfTable::SurroundingsAbove { most: celsius(70.0) }));
        assert_eq!(short(InAir { loaded: Ratio(0.21), ..wire }), Err(OutOfTable::LoadAbove { most: Ratio(0.2) }));
        assert!(matches!(short(InAir { altitude: Metre(61e3 * FT), ..wire }), Err(OutOfTable::AltitudeAbove { .. })));
        assert_eq!(short_current(&table, Conductor::Aluminium, &wire), Err(OutOfTable::Gauge(Awg(16))));
    }

    /// MIL-STD-975M / EEE-INST-002, section W1: 12 AWG 25 and 11.5 A (read), 20 AWG 6.5 (from memory) and 3.7 A (read); factors (from memory).
    fn nasa() -> SpaceTable {
        let row = |gauge: i8, single: f64, bundle: f64| SpaceRow {
            conductor: Conductor::Copper,
            gauge: Awg(gauge),
            single: Ampere(single),
            bundle: Some(Ampere(bundle)),
        };
        SpaceTable {
            rows: vec![row(12, 25.0, 11.5), row(20, 6.5, 3.7)],
            ratings: [(260.0, 1.15), (200.0, 1.0), (150.0, 0.8), (135.0, 0.7)].map(|(t, f)| (celsius(t), Ratio(f))).to_vec(),
            surroundings: celsius(70.0),
            below_rating: None,
        }
    }

    fn in_vacuum(gauge: i8, wires: u32) -> InVacuum {
        InVacuum { conductor: Conductor::Copper, gauge: Awg(gauge), rating: celsius(200.0), surroundings: celsius(70.0), wires }
    }

    /// (29 − N)/28: 1 at one wire, 27/28 at 2, 14/28 at 15, and a half beyond, without a step.
    #[test]
    fn formula_for_bundles_in_vacuum() {
        for (wires, factor) in [(1, 1.0), (2, 27.0 / 28.0), (8, 0.75), (15, 0.5), (16, 0.5), (200, 0.5)] {
            near(space_bundle_factor(wires).0, factor, 1e-12);
        }
    }

    /// 15 wires of 12 AWG: formula 12.5 A, table 11.5 A (read): the table is judged. 20 AWG: formula 3.25 A, table 3.7 A (read): the formula.
    #[test]
    fn formula_and_table_disagree() {
        let found = space_current(&nasa(), &in_vacuum(12, 15)).expect("in the table");
        assert_eq!((found.formula, found.table, found.allowed), (Some(Ampere(12.5)), Some(Ampere(11.5)), Ampere(11.5)));
        assert_eq!(found.by, JudgedBy::Table);
        let found = space_current(&nasa(), &in_vacuum(20, 40)).expect("in the table");
        assert_eq!((found.formula, found.table, found.allowed), (Some(Ampere(3.25)), Some(Ampere(3.7)), Ampere(3.25)));
        assert_eq!(found.by, JudgedBy::Formula);
        // 14 wires are no full bundle: 6.5 × 15/28.
        let found = space_current(&nasa(), &in_vacuum(20, 14)).expect("in the table");
        near(found.allowed.0, 6.5 * 15.0 / 28.0, 1e-12);
        assert_eq!(found.table, None);
        let found = space_current(&nasa(), &in_vacuum(20, 1)).expect("in the table");
        assert_eq!((found.allowed, found.by, found.formula), (Ampere(6.5), JudgedBy::Single, None));
    }

    #[test]
    fn insulation_in_vacuum() {
        let of = |rating: f64| space_current(&nasa(), &InVacuum { rating: celsius(rating), ..in_vacuum(20, 1) });
        for (rating, current) in [(260.0, 7.475), (200.0, 6.5), (150.0, 5.2), (135.0, 4.55)] {
            near(of(rating).expect("in the table").allowed.0, current, 1e-9);
            assert_eq!(of(rating).expect("in the table").words, []);
        }
        let found = of(180.0).expect("rounded down");
        near(found.allowed.0, 5.2, 1e-9);
        assert_eq!(found.words, [Word::RatingRoundedDown { to: celsius(150.0) }]);
        assert_eq!(of(130.0), Err(OutOfTable::RatingBelow { least: celsius(135.0) }));
    }

    /// ECSS-Q-ST-30-11C (from memory): 20 AWG aluminium 6 A, conductor at most its rating less 50 K.
    #[test]
    fn space_without_bundle_column() {
        let table = SpaceTable {
            rows: vec![SpaceRow { conductor: Conductor::Aluminium, gauge: Awg(20), single: Ampere(6.0), bundle: None }],
            ratings: vec![],
            surroundings: celsius(40.0),
            below_rating: Some(TemperatureRise(50.0)),
        };
        let wire = InVacuum { conductor: Conductor::Aluminium, surroundings: celsius(40.0), ..in_vacuum(20, 29) };
        let found = space_current(&table, &wire).expect("in the table");
        assert_eq!((found.allowed, found.table, found.by), (Ampere(3.0), None, JudgedBy::Formula));
        near(found.conductor_max.expect("stated").celsius(), 150.0, 1e-9);
        assert_eq!(
            space_current(&table, &InVacuum { surroundings: celsius(41.0), ..wire }),
            Err(OutOfTable::SurroundingsAbove { most: celsius(40.0) })
        );
        assert_eq!(space_current(&table, &InVacuum { wires: 0, ..wire }), Err(OutOfTable::NoBundle));
        assert_eq!(space_current(&table, &InVacuum { conductor: Conductor::Copper, ..wire }), Err(OutOfTable::Gauge(Awg(20))));
    }
}
