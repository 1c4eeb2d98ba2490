//! Mass of the harness: a case worked by hand, and sums that must agree however the harness is cut.

use analysis::{Silent, Stages};
use outputs::{MassRow, View};
use trials::{close, read_folder, root};

fn rows(files: &[(String, Vec<u8>)]) -> Vec<MassRow> {
    let design = trials::design(files);
    let study = analysis::run(&design, Stages::default(), &Silent).expect("nobody cancelled");
    let verdict = model::Verdict::default();
    let view = View::of(&design, &study, &verdict);
    outputs::mass(&view, &outputs::show::Asked::default())
}

fn files(list: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
    list.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
}

fn of<'r>(rows: &'r [MassRow], by: &str, name: Option<&str>) -> &'r MassRow {
    rows.iter().find(|row| row.by == by && row.of.as_deref() == name).unwrap_or_else(|| panic!("no row {by} {name:?}"))
}

const VEHICLE: &str = r#"
format = 1
mass_stage = "modified"
mass_allowance = "8 %"
end_allowance = "0.1 m"
[section.a]
[section.b]
[breakout.P]
[breakout.Q]
[breakout.R]
[covering.K]
kind = "sleeve"
mass = "20 g/m"
[segment.S1]
from = "P"
to = "Q"
length = "1 m"
section = "a"
coverings = ["K"]
[segment.S2]
from = "Q"
to = "R"
length = "3 m"
section = "b"
[clamp.C1]
segment = "S1"
kind = "clamp"
mass = "6 g"
[clamp.C2]
segment = "S2"
kind = "tie"
[clamp.C3]
segment = "S2"
kind = "hole"
[unit.A]
section = "a"
[unit.B]
section = "b"
[connector.J1]
unit = "A"
contact = "own"
cavities = 2
breakout = "P"
[link.L]
from = "J1.1"
to = "J1.2"
ohms = "1 ohm"
[connector.T]
unit = "A"
kind = "terminals"
cavities = 1
breakout = "P"
[connector.P1]
mate = "J1"
contact = "own"
cavities = 2
mass = "30 g"
[connector.J2]
unit = "B"
contact = "20"
cavities = 2
breakout = "R"
"#;

/// Two wires of 5 g/m from unit A over S1 and S2 to unit B: one by its route, 4 m and 0.1 m at each end, one given as 8.2 m: of its 8 m along the
/// route a quarter lies in S1. In S1: 1 m and 2 m, 15 g, 20 g of sleeve, a clamp of 6 g. In S2: 3 m and 6 m, 45 g, a tie without a mass. At the ends
/// 0.2 m on each side, 1 g each. Contacts: at P1 one of 0.5 g, at the terminal none; at the half behind J2 two of size 20, for which no mass is shipped. P1 30 g; the half
/// behind J2 has none. Computed: 15 + 20 + 6 + 45 + 2 + 0.5 + 30 = 118.5 g. 8 % of 62 g of bare wire: 4.96 g. 10 % of 123.46 g: 12.346 g.
#[test]
fn by_hand() {
    let wires = "wire,from,to,type,gauge_awg,length,circuit\nW1,P1.1,J2.1,own,20,,c\nW2,T.1,J2.2,own,20,8.2 m,\n";
    let types = "type,gauge_awg,area_mm2,max_ohm_per_km,od_mm,mass_g_per_m\nown,20,0.62,32,1.3,5\n";
    let sizes = "size,kind,gauge_min_awg,gauge_max_awg,current_a,mass_g\nown,crimp,24,20,7.5,0.5\n";
    let rows = rows(&files(&[("v.toml", VEHICLE), ("wires.csv", wires), ("catalog/wires.csv", types), ("catalog/contacts.csv", sizes)]));
    let grams = |by: &str, name: Option<&str>| 1e3 * of(&rows, by, name).mass_kg.unwrap_or(f64::NAN);
    let counts = |by: &str, name: Option<&str>| (of(&rows, by, name).items, of(&rows, by, name).unknown);
    for (by, name, expected) in [
        ("kind", Some("wire"), 62.0),
        ("kind", Some("covering"), 20.0),
        ("kind", Some("clamp"), 6.0),
        ("kind", Some("contact"), 0.5),
        ("kind", Some("connector"), 30.0),
        ("segment", Some("S1"), 41.0),
        ("segment", Some("S2"), 45.0),
        ("segment", None, 32.5),
        ("section", Some("a"), 41.0 + 1.0 + 0.5 + 30.0),
        ("section", Some("b"), 46.0),
        ("circuit", Some("c"), 21.0 + 0.5),
        ("sum", Some("computed"), 118.5),
        ("sum", Some("allowance"), 4.96),
        ("sum", Some("growth"), 12.346),
        ("sum", Some("together"), 135.806),
    ] {
        close(grams(by, name), expected, 1e-9);
    }
    assert_eq!(counts("kind", Some("contact")), (3, 2));
    assert_eq!(counts("kind", Some("connector")), (2, 1));
    assert_eq!((counts("kind", Some("tie")), of(&rows, "kind", Some("tie")).mass_kg), ((1, 1), None));
    close(of(&rows, "kind", Some("wire")).wire_m.unwrap_or(0.0), 12.4, 1e-12);
    let unknown: Vec<(&str, usize)> =
        rows.iter().filter(|row| row.by == "unknown").map(|row| (row.of.as_deref().unwrap_or(""), row.unknown)).collect();
    assert_eq!(unknown, [("mass of contact size 20", 2), ("mass of harness half of connector:J2", 1), ("mass of tie:C2", 1)]);
    // A hole weighs nothing and is no item.
    assert_eq!(counts("sum", Some("computed")), (2 + 3 + 2 + 1 + 2, 4));
    assert!(of(&rows, "sum", Some("growth")).source.contains("ESA"));
    assert_eq!(of(&rows, "sum", Some("growth")).rests_on, 1, "the growth is from memory");
}

/// Of harness halves: one with its own mass, one like its mate with that of the arrangement, 12 g, one of an arrangement without a mass.
#[test]
fn a_half_weighs_what_its_arrangement_says() {
    let vehicle = "format = 1\n[unit.A]\n[connector.J1]\nunit = \"A\"\narrangement = \"own-2\"\n[connector.J2]\nunit = \"A\"\narrangement = \"own-2\"\n\
                   [connector.P1]\nmate = \"J1\"\narrangement = \"own-2\"\nmass = \"30 g\"\n[connector.J3]\nunit = \"A\"\narrangement = \"own-3\"\n";
    let wires = "wire,from,to,type,gauge_awg,length\nW1,P1.1,J2.1,M22759/44,20,1 m\nW2,J2.2,J3.1,M22759/44,20,1 m\n";
    let list = "arrangement,cavity,size,mass_g\nown-2,1,20,12\nown-2,2,20,\nown-3,1,20,\n";
    let rows = rows(&files(&[("v.toml", vehicle), ("wires.csv", wires), ("catalog/arrangements.csv", list)]));
    let halves = of(&rows, "kind", Some("connector"));
    assert_eq!((halves.items, halves.unknown), (3, 1));
    close(1e3 * halves.mass_kg.unwrap_or(f64::NAN), 42.0, 1e-9);
}

/// What is not known is named and never zero in silence: a length, a gauge, a type without mass, a shield.
#[test]
fn unknown_is_named() {
    let wires = "wire,from,to,type,gauge_awg,length,cable\nW1,A.1,B.1,M22759/44,20,,\nW2,A.2,B.2,M22759/44,TBD,1 m,\nW3,A.3,B.3,copper-tin,20,1 m,\n\
                 W4,A.4,B.4,M22759/44,20,1 m,C\n";
    let rows = rows(&files(&[("v.toml", "format = 1\n[cable.C]\nkind = \"shielded\"\n"), ("wires.csv", wires)]));
    let unknown: Vec<&str> = rows.iter().filter(|row| row.by == "unknown").filter_map(|row| row.of.as_deref()).collect();
    let of_wires: Vec<&str> = unknown.iter().copied().filter(|of| !of.contains("connector")).collect();
    assert_eq!(of_wires, ["length of wire:W1", "gauge of wire:W2", "mass of wire type copper-tin 20 AWG", "mass of cable:C"]);
    let wire = of(&rows, "kind", Some("wire"));
    assert_eq!((wire.items, wire.unknown), (4, 3));
    assert!(wire.mass_kg.is_some_and(|kg| kg > 0.0));
    assert!(of(&rows, "sum", Some("growth")).mass_kg.is_none() && of(&rows, "sum", Some("allowance")).mass_kg.is_none());
}

/// A shielded pair of 25 g/m with two cores of 5 g/m, 2 m long: 20 g of cores, 30 g of shield and jacket.
#[test]
fn a_cable_beyond_its_cores() {
    let wires = "wire,from,to,type,gauge_awg,length,cable\nW1,A.1,B.1,own,20,2 m,C\nW2,A.2,B.2,own,20,2 m,C\n";
    let types = "type,gauge_awg,area_mm2,max_ohm_per_km,od_mm,mass_g_per_m\nown,20,0.62,32,1.3,5\n";
    let vehicle = "format = 1\n[cable.C]\nkind = \"twisted-shielded\"\nmass = \"25 g/m\"\n";
    let rows = rows(&files(&[("v.toml", vehicle), ("wires.csv", wires), ("catalog/wires.csv", types)]));
    close(1e3 * of(&rows, "kind", Some("wire")).mass_kg.unwrap_or(0.0), 20.0, 1e-9);
    close(1e3 * of(&rows, "kind", Some("cable")).mass_kg.unwrap_or(0.0), 30.0, 1e-9);
}

/// By kind, section, segment and circuit the same harness comes to the same mass and length of wire.
#[test]
fn all_cuts_come_to_the_same() {
    for example in ["gannet-mended", "light-aircraft", "bench-rig"] {
        let rows = rows(&read_folder(&root().join("examples").join(example)));
        let total = of(&rows, "sum", Some("computed"));
        let mut cuts = 0;
        for by in ["kind", "section", "segment", "circuit"] {
            let group: Vec<&MassRow> = rows.iter().filter(|row| row.by == by).collect();
            if group.is_empty() {
                continue;
            }
            cuts += 1;
            let sum: f64 = group.iter().filter_map(|row| row.mass_kg).sum();
            // Numbers of JSON have nine digits.
            close(sum, total.mass_kg.expect("wires have masses"), 1e-6);
            let metres: f64 = group.iter().filter_map(|row| row.wire_m).sum();
            close(metres, total.wire_m.expect("wires have lengths"), 1e-4);
        }
        assert!(cuts >= 2, "{example}");
    }
}
