//! The shipped ampacity tables: published cases, and that every row is known by a source.

use model::AmpacityTables;
use physics::ampacity::*;
use physics::gauge::Awg;
use physics::*;
use trials::{close, design, read_text, root};

const FT: f64 = 0.3048;

/// Leading cells of each row of a case; those that are read here hold no quotes.
fn rows<const N: usize>(path: &str) -> Vec<[String; N]> {
    let text = read_text(&root().join(path));
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').take(N).map(str::to_owned).collect::<Vec<_>>().try_into().expect("enough cells")).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

fn gauge(text: &str) -> Awg {
    Awg::parse(text).unwrap_or_else(|| panic!("{text:?} is no gauge"))
}

fn percent(text: &str) -> Ratio {
    Ratio(number(text) / 100.0)
}

/// The shipped tables as a vehicle with this profile gets them.
fn tables(profile: &str) -> AmpacityTables {
    let vehicle = format!("format = 1\nprofile = \"{profile}\"\n");
    design(&[("vehicle.toml".to_owned(), vehicle.into_bytes())]).ampacity.expect("shipped profiles name tables").tables
}

fn aircraft() -> AircraftTables {
    let AmpacityTables::Air { long, .. } = tables("aircraft-28v") else { panic!("tables for air") };
    long
}

fn short() -> ShortTable {
    let AmpacityTables::Air { short, .. } = tables("aircraft-28v") else { panic!("tables for air") };
    short.expect("its conditions are stated")
}

fn space(profile: &str) -> SpaceTable {
    let AmpacityTables::Vacuum(table) = tables(profile) else { panic!("tables for vacuum") };
    table
}

/// FAA AC 43.13-1B CHG 1: examples and entries of Table 11-9, as the case's README states them.
#[test]
fn faa_ac_43_13_1b_ampacity() {
    let tables = aircraft();
    let mut harness = Vec::new();
    for [case, g, rating, ambient, altitude, wires, loaded, printed, tolerance] in rows("validation/faa_ac_43_13_1b_ampacity/cases.csv") {
        let wire = InAir {
            gauge: gauge(&g),
            rating: Kelvin::from_celsius(number(&rating)),
            ambient: Kelvin::from_celsius(number(&ambient)),
            wires: number(&wires) as u32,
            loaded: percent(&loaded),
            altitude: Metre(number(&altitude) * FT),
        };
        let found = aircraft_current(&tables, &wire).unwrap_or_else(|why| panic!("{case}: {why:?}"));
        close(found.allowed.0, number(&printed), number(&tolerance));
        if case == "A6" {
            close(found.free_air.0, 47.0, 1e-9);
            close(found.free_air.0 * found.altitude.0, 42.77, 1e-9);
            close(found.allowed.0, 25.662, 1e-9);
            assert_eq!(found.words, []);
        }
        if case.starts_with("A7") {
            // As the example goes on, with its own rounding.
            harness.push((found.allowed.0 * 10.0).floor() / 10.0);
        }
    }
    close((25.0 * harness[1] + 10.0 * harness[0]) * 0.2, 50.6, 1e-9);
}

/// Table 11-9 of the circular by the long way, each copper entry: 33 wires for 24 to 10 AWG, 9 for thicker ones, 20 %, 60,000 ft, 70 °C. The
/// free-air points were backed out of it with 0.53 and rounded to 0.1 A, so they come back within the rounding of the two: 1 %.
#[test]
fn short_table_by_the_long_way() {
    let (tables, short) = (aircraft(), short());
    let mut seen = 0;
    for row in short.rows.iter().filter(|row| row.conductor == Conductor::Copper) {
        let wire = InAir {
            gauge: row.gauge,
            rating: row.rating,
            ambient: Kelvin::from_celsius(70.0),
            wires: if row.gauge.0 >= 10 { 33 } else { 9 },
            loaded: Ratio(0.2),
            altitude: Metre(60e3 * FT),
        };
        let long = aircraft_current(&tables, &wire).unwrap_or_else(|why| panic!("{row:?}: {why:?}"));
        close(long.allowed.0, row.current.0, 0.01 * row.current.0);
        assert_eq!(short_current(&short, row.conductor, &wire), Ok((row.current, None)));
        seen += 1;
    }
    assert_eq!(seen, 51);
    // No aluminium thinner than 8 AWG.
    let thin = InAir {
        gauge: Awg(10),
        rating: Kelvin::from_celsius(150.0),
        ambient: Kelvin::from_celsius(70.0),
        wires: 9,
        loaded: Ratio(0.2),
        altitude: Metre(0.0),
    };
    assert_eq!(short_current(&short, Conductor::Aluminium, &thin), Err(OutOfTable::Gauge(Awg(10))));
    assert_eq!(short_current(&short, Conductor::Aluminium, &InAir { gauge: Awg(8), ..thin }), Ok((Ampere(45.0), None)));
}

/// Printed anchors of the vacuum tables, as the case's README states them.
#[test]
fn vacuum_derating() {
    let table = space("space-28v");
    let ampere = |text: &String| (!text.is_empty()).then(|| Ampere(number(text)));
    for [case, g, wires, formula, stated, judged] in rows("validation/vacuum_derating/cases.csv") {
        let wire = InVacuum {
            conductor: Conductor::Copper,
            gauge: gauge(&g),
            rating: Kelvin::from_celsius(200.0),
            surroundings: table.surroundings,
            wires: number(&wires) as u32,
        };
        let found = space_current(&table, &wire).unwrap_or_else(|why| panic!("{case}: {why:?}"));
        assert_eq!((found.formula, found.table), (ampere(&formula), ampere(&stated)), "{case}");
        close(found.allowed.0, number(&judged), 1e-9);
    }
}

/// ECSS-Q-ST-30-11C (from memory): aluminium carries 80 % of copper; the conductor stays 50 K below its rating; no bundle column.
#[test]
fn ecss_table() {
    let table = space("space-28v-ecss");
    assert_eq!((table.ratings.len(), table.below_rating), (0, Some(TemperatureRise(50.0))));
    let of = |conductor, gauge| table.rows.iter().find(|row| row.conductor == conductor && row.gauge == gauge);
    let mut pairs = 0;
    for row in table.rows.iter().filter(|row| row.conductor == Conductor::Aluminium) {
        let copper = of(Conductor::Copper, row.gauge).expect("copper of the same gauge");
        close(row.single.0, 0.8 * copper.single.0, 1e-9);
        pairs += 1;
    }
    assert_eq!(pairs, 10);
    assert!(table.rows.iter().all(|row| row.bundle.is_none()));
}

/// The shipped profile of ECSS currents is that of the spacecraft but for its title and the tables that it names.
/// But for the tables, and the share of a fuse's rating, which ECSS-Q-ST-30-11C states for itself.
#[test]
fn ecss_profile_is_the_spacecraft_profile() {
    let text = read_text(&root().join("catalog/profiles.toml"));
    let lines = |name: &str| -> Vec<String> {
        let (_, block) = text.split_once(&format!("[profile.{name}]\n")).expect("a shipped profile");
        let block = block.split("\n[profile.").next().unwrap_or_default();
        block
            .lines()
            .filter(|line| !line.is_empty() && ["title", "ampacity", "fuse_share"].iter().all(|own| !line.starts_with(own)))
            .map(str::to_owned)
            .collect()
    };
    assert!(lines("space-28v").len() > 10);
    assert_eq!(lines("space-28v"), lines("space-28v-ecss"));
}

/// A thicker wire never carries less, in every shipped table.
#[test]
fn thicker_wires_carry_no_less() {
    for rules in ["space-28v", "space-28v-ecss"] {
        let table = space(rules);
        for (a, b) in table.rows.iter().flat_map(|a| table.rows.iter().map(move |b| (a, b))) {
            if a.conductor == b.conductor && a.gauge < b.gauge {
                assert!(a.single >= b.single && a.bundle >= b.bundle, "{rules}: {} against {}", a.gauge, b.gauge);
            }
        }
    }
    let tables = aircraft();
    let at = |gauge| InAir {
        gauge,
        rating: Kelvin::from_celsius(200.0),
        ambient: Kelvin::from_celsius(75.0),
        wires: 1,
        loaded: Ratio(1.0),
        altitude: Metre(0.0),
    };
    let gauges = [24, 22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3].map(Awg);
    let currents = gauges.map(|gauge| aircraft_current(&tables, &at(gauge)).expect("every size has points").allowed);
    assert!(currents.windows(2).all(|pair| pair[0] < pair[1]), "{currents:?}");
}

/// Each row of the shipped tables of this file says how it is known.
#[test]
fn every_row_has_a_source() {
    for file in [
        "ampacity-free-air",
        "ampacity-bundle-air",
        "ampacity-space",
        "ampacity-conditions",
        "ampacity-ratings",
        "protector-gauges",
        "derating-bundle-air",
        "derating-altitude-air",
        "bend-radii",
        "support-pitch",
        "insulations",
        "platings",
    ] {
        let text = read_text(&root().join("catalog").join(format!("{file}.csv")));
        let mut lines = text.lines().filter(|line| !line.starts_with('#'));
        assert!(lines.next().is_some_and(|head| head.ends_with("source,locator,how,note")), "{file}");
        let mut rows = 0;
        for line in lines {
            assert!([",read,", ",memory,", ",computed,"].iter().any(|how| line.contains(how)), "{file}: {line}");
            rows += 1;
        }
        assert!(rows >= 3, "{file}");
    }
}
