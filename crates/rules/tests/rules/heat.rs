//! Rules of heat, each at its limit in a harness that can be worked by hand: two wires, each alone in its segment, in vacuum.
//!
//! A wire alone in vacuum: I²R(T) = ε σ π b (Ts⁴ − Tw⁴) per metre, and T − Ts = I²R(T) ln(b/a)/(2πk). Type `own`: 0.5 mm² of metal, so a = 0.7979 mm
//! across, b = 1.2 mm, k = 0.24 W/(m K), ε = 0.85, 40 mohm/m at 20 °C, α = 0.00393/K, rated 150 °C, no coating named.

use crate::*;

const SIGMA: f64 = 5.670374419e-8;

const HARNESS: &str = r#"
format = 1
end_allowance = "0 m"
slack = "0 %"
[breakout.B1]
[breakout.B2]
[segment.S1]
from = "B1"
to = "B2"
length = "1 m"
zone = "bay"
[segment.S2]
from = "B1"
to = "B2"
length = "1 m"
zone = "bay"
[zone.bay]
pressure = "0 Pa"
walls = "20 degC"
[connector.J1]
contact = "12"
cavities = 2
breakout = "B1"
[connector.J2]
contact = "12"
cavities = 2
breakout = "B2"
[battery.B]
positive = "J1.1"
negative = "J1.2"
emf = "28 V"
ohms = "1 mohm"
[load.X]
line = "J2.1"
return = "J2.2"
current = "CURRENT A"
kind = "resistive"
"#;

const TYPES: &str = "type,construction,family,gauge_awg,area_mm2,max_ohm_per_km,od_mm,rating_degc\n\
                     own,plain copper,etfe,20,0.5,40,1.2,150\ntinned,19x32 tin-coated copper,etfe,20,0.5,40,1.2,200\nno-rating,plain copper,etfe,20,0.5,40,1.2,\n";

const WIRES: &str = "wire,from,to,type,gauge_awg,via\nW1,J1.1,J2.1,own,20,S1\nW2,J2.2,J1.2,own,20,S2\n";

/// The harness with a current, and texts in place of others, each in the vehicle, the wire list or the types.
pub(crate) fn heated(current: f64, changes: &[(&str, &str)]) -> (Design, Verdict) {
    let mut files = [HARNESS.replace("CURRENT", &format!("{current:.9}")), WIRES.to_owned(), TYPES.to_owned()];
    for (from, to) in changes {
        let file = files.iter_mut().find(|file| file.contains(from)).unwrap_or_else(|| panic!("no file holds {from:?}"));
        *file = file.replacen(from, to, 1);
    }
    judge_files(&[("vehicle.toml", &files[0]), ("wires.csv", &files[1]), ("catalog/wires.csv", &files[2])], None)
}

/// By the closed form above: the current at which the conductor has a temperature, and the temperature of the skin then.
pub(crate) fn by_hand(conductor: f64, walls: f64, emittance: f64) -> (f64, f64) {
    let (inner, outer) = (2.0 * (0.5 / core::f64::consts::PI).sqrt() * 1e-3, 1.2e-3);
    let (t, w) = (conductor + 273.15, walls + 273.15);
    let resistance = (outer / inner).ln() / (2.0 * core::f64::consts::PI * 0.24);
    let out = |skin: f64| emittance * SIGMA * core::f64::consts::PI * outer * (skin.powi(4) - w.powi(4));
    let (mut low, mut high) = (w, t);
    for _ in 0..100 {
        let skin = 0.5 * (low + high);
        if skin + out(skin) * resistance > t { high = skin } else { low = skin }
    }
    ((out(low) / (0.040 * (1.0 + 0.00393 * (conductor - 20.0)))).sqrt(), low - 273.15)
}

fn ht(verdict: &Verdict) -> Vec<&str> {
    verdict.findings.iter().filter(|f| f.rule.0.starts_with("HT")).map(|f| f.id.as_str()).collect()
}

#[test]
fn a_wire_alone_in_vacuum_stands_at_its_limit() {
    let (current, skin) = by_hand(150.0, 20.0, 0.85);
    assert!(skin > 140.0 && skin < 150.0, "{skin}");
    let (design, verdict) = heated(current, &[]);
    let margin = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost);
    assert!((margin.value - 150.0).abs() < 1e-3 && margin.limit == 150.0, "{margin:?}");
    assert_eq!((counted(&verdict, "HT-01"), counted(&verdict, "HT-02"), counted(&verdict, "HT-04")), (2, 2, 0));
    assert_eq!(ht(&heated(0.999 * current, &[]).1), [""; 0]);
    assert_eq!(ht(&heated(1.001 * current, &[]).1), ["HT-01/wire:W1", "HT-01/wire:W2"]);
    // The margin is named, and what it rests on: emittance and conductivity of the insulation.
    let rests_on: Vec<&str> = margin.rests_on.notes.iter().map(|note| design.note(*note).what.as_str()).collect();
    assert!(rests_on.contains(&"emittance of insulation etfe"), "{rests_on:?}");
}

/// Of the limits the lowest counts, and it is named in the finding: each is put below the temperature in turn.
#[test]
fn the_lowest_limit_counts() {
    let (current, _) = by_hand(140.0, 20.0, 0.85);
    let cover = "coverings = [\"K\"]\n[covering.K]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\nconductivity = \"10 W/m/K\"\nemittance = \"85 %\"\nrating = \"60 degC\"\n";
    for (by, changes) in [
        ("insulation sets", vec![("1.2,150", "1.2,139")]),
        (
            "tin coating sets",
            vec![
                ("W1,J1.1,J2.1,own", "W1,J1.1,J2.1,tinned"),
                ("0.5,40,1.2,200", "0.5,40,1.2,200"),
                ("own,plain copper", "own,plain copper"),
            ],
        ),
        (
            "tie T1 sets",
            vec![("[zone.bay]", "[clamp.T1]\nsegment = \"S1\"\nkind = \"tie\"\nat = \"0.5 m\"\nrating = \"120 degC\"\n[zone.bay]")],
        ),
        ("contacts of connector J2 sets", vec![("[connector.J2]", "[connector.J2]\nrating = \"125 degC\"")]),
        ("solder of connector:J2 sets", vec![("[connector.J2]", "[connector.J2]\nsolder = \"125 degC\"\nrating = \"130 degC\"")]),
        (
            "solder of splice:SP sets",
            vec![
                ("[battery.B]", "[splice.SP]\nsolder = \"125 degC\"\nbreakout = \"B2\"\n[battery.B]"),
                ("W1,J1.1,J2.1,own,20,S1\n", "W1,J1.1,splice:SP,own,20,S1\nW3,splice:SP,J2.1,own,20,\n"),
            ],
        ),
        (
            "solder of stud:ST sets",
            vec![
                ("[battery.B]", "[stud.ST]\nsolder = \"125 degC\"\nbreakout = \"B2\"\n[battery.B]"),
                ("W1,J1.1,J2.1,own,20,S1\n", "W1,J1.1,stud:ST,own,20,S1\nW3,stud:ST,J2.1,own,20,\n"),
            ],
        ),
        ("covering K sets", vec![("zone = \"bay\"\n[segment.S2]", &*format!("zone = \"bay\"\n{cover}[segment.S2]"))]),
    ] {
        // Tin allows 150 degC: the wire has to be hotter for it.
        let current = if by.starts_with("tin") { by_hand(151.0, 20.0, 0.85).0 } else { current };
        let (_, verdict) = heated(current, &changes);
        let finding = verdict.findings.iter().find(|f| f.id == "HT-01/wire:W1").unwrap_or_else(|| panic!("{by}: {:?}", ht(&verdict)));
        assert!(finding.text.contains(by), "{by}: {}", finding.text);
    }
    assert_eq!(ht(&heated(current, &[]).1), [""; 0]);
}

/// Solder whose limit is TBD: what ends on it is not judged, and the field is named.
#[test]
fn solder_to_be_determined_is_not_judged() {
    let (design, verdict) = heated(5.0, &[("[connector.J2]", "[connector.J2]\nsolder = \"TBD\"")]);
    assert_eq!(counted(&verdict, "HT-01"), 0);
    let lacking: Vec<&str> = verdict.not_judged.iter().filter(|n| n.rule.0 == "HT-01").map(|n| n.missing.as_str()).collect();
    assert_eq!(lacking, ["solder of connector:J2"; 2], "{}", design.name);
    // One that carries a contact's rating alone is judged by it.
    assert_eq!(counted(&heated(5.0, &[("[connector.J2]", "[connector.J2]\nrating = \"TBD\"")]).1, "HT-01"), 2);
}

/// The stated temperature of a connector, of its unit, of a stud: a hotter one is what the wire has there, a cooler one counts for nothing.
#[test]
fn a_hotter_end_is_judged_and_a_cooler_one_is_not() {
    let (current, _) = by_hand(100.0, 20.0, 0.85);
    let value = |changes: &[(&str, &str)]| {
        let (design, verdict) = heated(current, changes);
        margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value
    };
    let far = value(&[]);
    assert!((far - 100.0).abs() < 1e-3, "{far}");
    let at = |t: &str| value(&[("[connector.J2]", &format!("[connector.J2]\ntemperature = \"{t} degC\""))]);
    assert_eq!((at("-40"), at("99"), at("101"), at("150")), (far, far, 101.0, 150.0));
    assert_eq!(value(&[("[connector.J1]", "[unit.U]\ntemperature = \"120 degC\"\n[connector.J1]\nunit = \"U\"")]), 120.0);
    let stud = [
        ("[battery.B]", "[stud.ST]\ntemperature = \"130 degC\"\nbreakout = \"B2\"\n[battery.B]"),
        ("W1,J1.1,J2.1,own,20,S1\n", "W1,J1.1,stud:ST,own,20,S1\nW3,stud:ST,J2.1,own,20,\n"),
    ];
    assert_eq!(value(&stud), 130.0);
    let (_, verdict) = heated(current, &[("[connector.J2]", "[connector.J2]\ntemperature = \"151 degC\"")]);
    assert_eq!(ht(&verdict), ["HT-01/wire:W1", "HT-01/wire:W2"]);
    let text = &verdict.findings.iter().find(|f| f.id == "HT-01/wire:W1").expect("found").text;
    assert!(text.starts_with("in segment S1 at its end J2.1, whose stated temperature it has there; far from it 100 degC"), "{text}");
    // In a bundle the margin of the model is added to what is computed, not to what is stated.
    let together = ("own,20,S2", "own,20,S1");
    let bundled = value(&[together]);
    assert!(bundled > 121.0 && bundled < 149.0, "{bundled}");
    let beside = |t: f64| value(&[together, ("[connector.J2]", &format!("[connector.J2]\ntemperature = \"{t} degC\""))]);
    assert_eq!((beside(bundled - 1.0), beside(149.0)), (bundled, 149.0));
}

/// A wire of 0.2 m whose ends are held at 20 °C, by hand: middle − (middle − 20)/cosh(l/2L), with L = √(k A/g), k = 398 W/(m K), and g the slope of the closed form of
/// what a wire alone loses in vacuum. In two segments of 0.1 m the hottest place is where they meet.
#[test]
fn what_cooler_ends_lead_away_is_shown() {
    let (current, _) = by_hand(100.0, 20.0, 0.85);
    let lost = |t: f64| {
        let (current, _) = by_hand(t, 20.0, 0.85);
        current * current * 0.040 * (1.0 + 0.00393 * (t - 20.0))
    };
    let slope = (lost(100.5) - lost(99.5)) / 1.0;
    let reach = (398.0 * 0.5e-6 / slope).sqrt();
    let by_hand = 100.0 - 80.0 / (0.1 / reach).cosh();
    let held = ["J1", "J2"].map(|j| (format!("[connector.{j}]"), format!("[connector.{j}]\ntemperature = \"20 degC\"")));
    let held: Vec<(&str, &str)> = held.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    let led = |changes: &[(&str, &str)]| {
        let (design, _) = heated(current, &[&held, changes].concat());
        let prepared = analysis::prepare(&design);
        let point = prepared.point(&Scenario::new(design.phases.ids().next().expect("a phase"), Corner::High));
        prepared
            .led_to_ends(&point, design.wires.ids().next().expect("W1"))
            .map(|led| led.hottest.iter().map(|(_, t)| t.celsius()).collect::<Vec<_>>())
    };
    let short = led(&[("length = \"1 m\"", "length = \"0.2 m\"")]).expect("its ends are stated");
    assert!(short.len() == 1 && (short[0] - by_hand).abs() < 0.05 && by_hand < 90.0, "{short:?} {by_hand}");
    // What its ends need beyond the route is length too.
    let allowed = led(&[("length = \"1 m\"", "length = \"0.1 m\""), ("end_allowance = \"0 m\"", "end_allowance = \"0.05 m\"")]);
    assert!((allowed.expect("stated")[0] - by_hand).abs() < 0.05);
    let two = [
        ("from = \"B1\"\nto = \"B2\"\nlength = \"1 m\"", "from = \"B1\"\nto = \"M\"\nlength = \"0.1 m\""),
        ("[segment.S2]", "[breakout.M]\n[segment.S3]\nfrom = \"M\"\nto = \"B2\"\nlength = \"0.1 m\"\nzone = \"bay\"\n[segment.S2]"),
        ("own,20,S1", "own,20,S1 S3"),
    ];
    let two = led(&two).expect("its ends are stated");
    assert!(two.len() == 2 && two.iter().all(|t| (t - by_hand).abs() < 0.05), "{two:?} {by_hand}");
    let (design, _) = heated(current, &[]);
    let prepared = analysis::prepare(&design);
    let point = prepared.point(&Scenario::new(design.phases.ids().next().expect("a phase"), Corner::High));
    assert_eq!(prepared.led_to_ends(&point, design.wires.ids().next().expect("W1")), None);
}

/// Each value of a zone that is TBD, in its own row or in a phase: wires are not judged, the field is named, and what the zone states never stands in for it.
/// What nothing asks for is not missed.
#[test]
fn surroundings_to_be_determined_are_not_judged() {
    let air = "pressure = \"100 kPa\"\ngas_temperature = \"20 degC\"\ngravity = 1\nair_speed = \"0 m/s\"\nwall_distance = \"40 mm\"\nsun = \"0 W/m2\"\nwalls = \"20 degC\"";
    let vacuum = "pressure = \"0 Pa\"\nwalls = \"20 degC\"";
    let lacking = |zone: &str, climate: &str| {
        let climate = if climate.is_empty() {
            String::new()
        } else {
            format!("[phase.P]\nambient = \"20 degC\"\n[climate.C]\nzone = \"bay\"\nphases = [\"P\"]\n{climate}\n")
        };
        let (_, verdict) = heated(5.0, &[(vacuum, &format!("{zone}\n{climate}"))]);
        let fields: Vec<String> = verdict.not_judged.iter().filter(|n| n.rule.0 == "HT-01").map(|n| n.missing.clone()).collect();
        assert_eq!(counted(&verdict, "HT-01") + fields.len(), 2, "{zone} {climate}");
        assert!(fields.iter().all(|field| *field == fields[0]), "{fields:?}");
        fields.first().cloned().unwrap_or_default()
    };
    assert_eq!(lacking(air, ""), "");
    for field in ["pressure", "gas_temperature", "gravity", "air_speed", "walls", "sun"] {
        let line = air.split('\n').find(|line| line.starts_with(field)).expect("a line");
        let expected = format!("{field} of zone:bay");
        assert_eq!(lacking(&air.replace(line, &format!("{field} = \"TBD\"")), ""), expected);
        assert_eq!(lacking(air, &format!("{field} = \"TBD [thermal]\"")), expected);
        // A phase that states it lacks nothing.
        assert_eq!(lacking(&air.replace(line, &format!("{field} = \"TBD\"")), line), "");
    }
    let still = air.replace("gravity = 1", "gravity = 0");
    assert_eq!(lacking(&still, "wall_distance = \"TBD\""), "wall_distance of zone:bay");
    assert_eq!(lacking(air, "wall_distance = \"TBD\""), "");
    assert_eq!(lacking(vacuum, "gravity = \"TBD\"\nair_speed = \"TBD\"\ngas_temperature = \"TBD\""), "");
}

/// Both in one segment: they touch, each is hotter than alone, and the margin of the profile counts.
#[test]
fn in_a_bundle_the_margin_of_the_model_counts() {
    let (current, _) = by_hand(100.0, 20.0, 0.85);
    let (design, verdict) = heated(current, &[("own,20,S2", "own,20,S1")]);
    let margin = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost);
    assert!(margin.value > 120.0 && margin.value < 150.0, "{margin:?}");
    let (design, own) = heated(current, &[("own,20,S2", "own,20,S1"), ("format = 1\n", "format = 1\nprofile = \"space-28v-ecss\"\n")]);
    assert_eq!(margin_of(&design, &own, "HT-01", "wire:W1", Bound::AtMost).value, margin.value);
}

/// Warmer copper has more ohms: a load of constant resistance draws less, and the voltage it gets is that of the warm wires.
#[test]
fn network_and_heat_settle_on_each_other() {
    let (current, _) = by_hand(150.0, 20.0, 0.85);
    let (design, verdict) = heated(current, &[]);
    let volts = margin_of(&design, &verdict, "VD-01", "load:X", Bound::AtMost).value;
    // Two metres of 40 mohm/m at 150 degC, 1.5109 times those at 20 degC; the contacts are mated halves without resistance in the list.
    let warm = 2.0 * 0.040 * (1.0 + 0.00393 * 130.0) * current;
    assert!((volts - warm).abs() < 1e-3 * warm, "{volts} {warm}");
}

#[test]
fn a_current_without_balance_is_found() {
    let (_, verdict) = heated(400.0, &[("ohms = \"1 mohm\"", "ohms = \"0.01 mohm\""), ("28 V", "280 V")]);
    assert_eq!(ht(&verdict), ["HT-02/segment:S1", "HT-02/segment:S2"]);
    // The wire and the current from which on are named.
    let text = &verdict.findings.iter().find(|f| f.id == "HT-02/segment:S1").expect("found").text;
    assert!(text.starts_with("wire:W1 in it heats itself without end: it carries 400.0 A") && text.contains("sets in at"), "{text}");
}

#[test]
fn a_surface_in_reach_is_judged() {
    // The skin at 45 degC: find the conductor that goes with it.
    let (mut low, mut high) = (45.0, 60.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if by_hand(middle, 20.0, 0.85).1 > 45.0 { high = middle } else { low = middle }
    }
    let (current, _) = by_hand(low, 20.0, 0.85);
    let reach = ("length = \"1 m\"\nzone", "length = \"1 m\"\nreachable = true\nzone");
    let (design, verdict) = heated(current, &[reach]);
    let margin = margin_of(&design, &verdict, "HT-03", "segment:S1", Bound::AtMost);
    assert!((margin.value - 45.0).abs() < 1e-3 && margin.limit == 45.0, "{margin:?}");
    assert_eq!(counted(&verdict, "HT-03"), 1);
    assert_eq!(ht(&heated(0.995 * current, &[reach]).1), [""; 0]);
    assert_eq!(ht(&heated(1.005 * current, &[reach]).1), ["HT-03/segment:S1"]);
    assert_eq!(counted(&heated(current, &[]).1, "HT-03"), 0);
}

#[test]
fn gas_without_gravity_is_found_and_counts_as_weightless() {
    let gas = |more: &str| {
        let text = format!("pressure = \"101.3 kPa\"\ngas_temperature = \"20 degC\"\nwall_distance = \"20 mm\"\n{more}");
        heated(5.0, &[("pressure = \"0 Pa\"", &text)])
    };
    let (design, silent) = gas("");
    assert_eq!(ht(&silent), ["HT-04/zone:bay"]);
    let (_, weightless) = gas("gravity = 0");
    assert_eq!((ht(&weightless).len(), counted(&weightless, "HT-04")), (0, 1));
    let (_, ground) = gas("gravity = 1");
    let value = |verdict: &Verdict| margin_of(&design, verdict, "HT-01", "wire:W1", Bound::AtMost).value;
    assert_eq!(value(&silent), value(&weightless));
    assert!(value(&ground) < value(&weightless) - 1.0, "{} {}", value(&ground), value(&weightless));
}

/// A fan that stands still in a phase moves no air there.
#[test]
fn the_fan_cools_only_while_it_runs() {
    let gas = "pressure = \"101.3 kPa\"\ngas_temperature = \"20 degC\"\nwall_distance = \"20 mm\"\ngravity = 0\nair_speed = \"2 m/s\"\nfan = \"F\"";
    let fan = |phase: &str| {
        let more =
            format!("[load.F]\nline = \"J1.1\"\nreturn = \"J1.2\"\ncurrent = \"0.1 A\"\nkind = \"motor\"\n[phase.p]\n{phase}\n[zone.bay]");
        let (design, verdict) = heated(5.0, &[("pressure = \"0 Pa\"", gas), ("[zone.bay]", &more)]);
        margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value
    };
    let (runs, stands) = (fan(""), fan("off = [\"load:F\"]"));
    assert!(stands > runs + 2.0, "{stands} {runs}");
}

/// A vehicle without zones has no heat: nothing is judged and nothing said.
#[test]
fn without_zones_nothing_is_said() {
    let (_, verdict) =
        heated(5.0, &[("[zone.bay]\npressure = \"0 Pa\"\nwalls = \"20 degC\"\n", ""), ("zone = \"bay\"\n", ""), ("zone = \"bay\"\n", "")]);
    assert_eq!(["HT-01", "HT-02", "HT-03", "HT-04"].map(|rule| counted(&verdict, rule)), [0; 4]);
    assert!(verdict.not_judged.iter().all(|row| !row.rule.0.starts_with("HT")));
}

/// By bisection: the conductor of a wire alone in vacuum that carries a current, takes up sunlight and leads heat to a sink of the walls' temperature.
fn warm(current: f64, walls: f64, sunlight: f64, to_sink: f64) -> f64 {
    warm_of(1.2e-3, current, walls, sunlight, to_sink)
}

/// The same of another outside diameter.
fn warm_of(outer: f64, current: f64, walls: f64, sunlight: f64, to_sink: f64) -> f64 {
    let inner = 2.0 * (0.5 / core::f64::consts::PI).sqrt() * 1e-3;
    let w = walls + 273.15;
    let resistance = (outer / inner).ln() / (2.0 * core::f64::consts::PI * 0.24);
    let heat = |t: f64| current * current * 0.040 * (1.0 + 0.00393 * (t - 293.15));
    let excess = |t: f64| {
        let skin = t - heat(t) * resistance;
        heat(t) + sunlight - 0.85 * SIGMA * core::f64::consts::PI * outer * (skin.powi(4) - w.powi(4)) - to_sink * (skin - w)
    };
    let (mut low, mut high) = (w, 700.0);
    for _ in 0..100 {
        let t = 0.5 * (low + high);
        if excess(t) > 0.0 { low = t } else { high = t }
    }
    low - 273.15
}

/// Of surroundings with a range the hottest count in both corners; sunlight falls on the width of the wire; a sink takes what is stated.
#[test]
fn surroundings_sunlight_and_sink() {
    let value = |changes: &[(&str, &str)]| {
        let (design, verdict) = heated(6.0, changes);
        margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value
    };
    let near = |a: f64, b: f64| assert!((a - b).abs() < 2e-3, "{a} {b}");
    near(value(&[]), warm(6.0, 20.0, 0.0, 0.0));
    let range = ("walls = \"20 degC\"", "walls = { low = \"0 degC\", typical = \"20 degC\", high = \"60 degC\" }");
    near(value(&[range]), warm(6.0, 60.0, 0.0, 0.0));
    // Each corner by itself: heat is judged in both, so that a heater at high bus is judged in hot surroundings too.
    let (design, _) = heated(6.0, &[range]);
    let prepared = analysis::prepare(&design);
    let phase = design.phases.ids().next().expect("a phase");
    for corner in [Corner::Low, Corner::High] {
        let point = prepared.point(&Scenario::new(phase, corner));
        let heat = point.heat.as_ref().expect("a vehicle with zones");
        let (_, SegmentHeat::Known(section)) = heat.segments.iter().next().expect("a segment") else { panic!("{heat:?}") };
        near(section.wires[0].conductor.celsius(), warm(6.0, 60.0, 0.0, 0.0));
        assert!(heat.unsettled.is_none() && heat.rounds >= 2, "{}", heat.rounds);
    }
    // 1000 W/m2 on 1.2 mm, all of it taken up, and 40 % of it.
    let sun = ("walls = \"20 degC\"", "walls = \"20 degC\"\nsun = \"1000 W/m2\"");
    near(value(&[sun]), warm(6.0, 20.0, 1.2, 0.0));
    near(value(&[sun, ("length = \"1 m\"\nzone", "length = \"1 m\"\nabsorptance = \"40 %\"\nzone")]), warm(6.0, 20.0, 0.48, 0.0));
    let sink = ("length = \"1 m\"\nzone", "length = \"1 m\"\nsink_conductance = \"0.05 W/m/K\"\nzone");
    near(value(&[sink]), warm(6.0, 20.0, 0.0, 0.05));
}

/// What lies between a core and the outside of its cable counts as jacket: one core in a cable of 2.4 mm is a wire of 2.4 mm.
#[test]
fn a_cable_is_the_jacket_of_its_cores() {
    let list =
        ("wire,from,to,type,gauge_awg,via\nW1,J1.1,J2.1,own,20,S1", "wire,from,to,type,gauge_awg,cable,via\nW1,J1.1,J2.1,own,20,C1,S1");
    let other = ("own,20,S2", "own,20,,S2");
    let cable = ("[zone.bay]", "[cable.C1]\nkind = \"shielded\"\nod = \"2.4 mm\"\n[zone.bay]");
    let (design, verdict) = heated(6.0, &[list, other, cable]);
    let value = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value;
    let expected = warm_of(2.4e-3, 6.0, 20.0, 0.0, 0.0);
    assert!((value - expected).abs() < 2e-3, "{value} {expected}");
}

/// Two sleeves of 0.3 mm and 0.2 mm are one of 0.5 mm.
#[test]
fn coverings_add_up() {
    let value = |sleeves: &[f64]| {
        let names: Vec<String> = (0..sleeves.len()).map(|n| format!("\"K{n}\"")).collect();
        let rows = |(n, mm): (usize, &f64)| {
            format!("[covering.K{n}]\nkind = \"sleeve\"\nthickness = \"{mm} mm\"\nconductivity = \"0.2 W/m/K\"\nemittance = \"60 %\"\n")
        };
        let text = format!(
            "zone = \"bay\"\ncoverings = [{}]\n{}[segment.S2]",
            names.join(", "),
            sleeves.iter().enumerate().map(rows).collect::<String>()
        );
        let (design, verdict) = heated(6.0, &[("zone = \"bay\"\n[segment.S2]", &text)]);
        margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value
    };
    let (one, two, thin) = (value(&[0.5]), value(&[0.3, 0.2]), value(&[0.3]));
    assert!((one - two).abs() < 1e-6 && (one - thin).abs() > 0.1, "{one} {two} {thin}");
}

/// What lies between the wires is kept per pressure that the zone states: a pressure that a scenario sets is none of them.
#[test]
fn a_pressure_set_in_a_scenario_is_that_pressure() {
    let pressure = |pascal: f64| {
        let gas = format!("pressure = \"{pascal} Pa\"\ngas_temperature = \"20 degC\"\nwall_distance = \"20 mm\"\ngravity = 1");
        heated(6.0, &[("own,20,S2", "own,20,S1"), ("pressure = \"0 Pa\"", &gas)]).0
    };
    let conductor = |design: &Design, set: Option<f64>| {
        let phase = design.phases.ids().next().expect("a phase");
        let zone = design.zones.ids().next().expect("a zone");
        let mut scenario = Scenario::new(phase, Corner::Low);
        scenario.zones.extend(set.map(|pascal| (zone, ZoneChange::Pressure(physics::Pascal(pascal)))));
        let heat = analysis::prepare(design).point(&scenario).heat.expect("a vehicle with zones");
        let (_, SegmentHeat::Known(section)) = heat.segments.iter().next().expect("a segment") else { panic!("{heat:?}") };
        section.wires[0].conductor.0
    };
    let ground = pressure(101_325.0);
    for thin in [0.0, 30.0] {
        let (set, stated) = (conductor(&ground, Some(thin)), conductor(&pressure(thin), None));
        assert!((set - stated).abs() < 1e-6 && set > conductor(&ground, None) + 5.0, "{set} {stated}");
    }
}

/// The harness with a load that pulses: its current while it draws, on time and period in seconds.
fn pulsing(current: f64, on: f64, period: f64) -> (Design, Verdict) {
    let pulse = format!("kind = \"resistive\"\non_time = \"{on} s\"\nperiod = \"{period} s\"");
    heated(current, &[("kind = \"resistive\"", &pulse)])
}

fn warmest(design: &Design) -> WireHeat {
    let phase = design.phases.ids().next().expect("a phase");
    let heat = analysis::prepare(design).point(&Scenario::new(phase, Corner::Low)).heat.expect("a vehicle with zones");
    let (_, SegmentHeat::Known(section)) = heat.segments.iter().next().expect("a segment") else { panic!("{heat:?}") };
    section.wires[0]
}

/// Short pulses, by hand. 20 A for 10 ms of 160 ms: rms 20/√16 = 5 A, so the balance of a wire with 5 A; and a pulse by itself adds
/// (1 − 1/16) · 400 A² · R(T) · 0.01 s over 0.5 mm² · 3.4496 J/(cm³ K) = 1.7248 J/(m K). The voltage is that of 20 A.
#[test]
fn short_pulses_heat_by_their_mean_square() {
    let (design, verdict) = pulsing(20.0, 0.01, 0.16);
    let mean = warm(5.0, 20.0, 0.0, 0.0);
    let ohms = 0.040 * (1.0 + 0.00393 * (mean - 20.0));
    let expected = mean + 15.0 / 16.0 * 400.0 * ohms * 0.01 / (0.5e-6 * 8960.0 * 385.0);
    let value = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value;
    assert!((value - expected).abs() < 5e-3 && value > mean + 0.05, "{value} {expected} {mean}");
    let row = warmest(&design);
    assert_eq!(row.by, HeatedBy::Rms);
    assert!((row.current.0 - 5.0).abs() < 1e-6 && (row.peak.0 - 20.0).abs() < 1e-6, "{row:?}");
    // The network is at the peak: twice 1 m of copper at the temperature of the mean.
    let volts = margin_of(&design, &verdict, "VD-01", "load:X", Bound::AtMost).value;
    assert!((volts - 2.0 * ohms * 20.0).abs() < 2e-3 * volts, "{volts}");
    // Ten times as long at the same share, the mean is the same and the pulse adds ten times as much.
    let longer = pulsing(20.0, 0.1, 1.6);
    let value = margin_of(&longer.0, &longer.1, "HT-01", "wire:W1", Bound::AtMost).value;
    assert!((value - mean - 10.0 * (expected - mean)).abs() < 0.05, "{value}");
}

/// Slow pulses, by steps of a millisecond in this test: C dT/dt = I² R(T) − what a wire alone in vacuum loses, until a period ends as it began.
#[test]
fn slow_pulses_are_followed_in_time() {
    let (amperes, on, period) = (14.0, 20.0, 120.0);
    let (design, verdict) = pulsing(amperes, on, period);
    let value = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value;
    let (inner, outer) = (2.0 * (0.5 / core::f64::consts::PI).sqrt() * 1e-3, 1.2e-3f64);
    let jacket = (outer / inner).ln() / (2.0 * core::f64::consts::PI * 0.24);
    let out = |t: f64| {
        let loss = |skin: f64| 0.85 * SIGMA * core::f64::consts::PI * outer * (skin.powi(4) - 293.15f64.powi(4));
        // A few turns settle the jacket's drop.
        let mut q = loss(t);
        for _ in 0..4 {
            q = loss(t - q * jacket);
        }
        q
    };
    let (mut t, mut highest) = (293.15, 0.0f64);
    for _ in 0..12 {
        highest = 0.0;
        for step in 0..(1000.0 * period) as u64 {
            let current = if (step as f64) < 1000.0 * on { amperes } else { 0.0 };
            let heat = current * current * 0.040 * (1.0 + 0.00393 * (t - 293.15));
            t += 1e-3 * (heat - out(t)) / (0.5e-6 * 8960.0 * 385.0);
            highest = highest.max(t);
        }
    }
    assert!((value - (highest - 273.15)).abs() < 0.3, "{value} {}", highest - 273.15);
    assert_eq!(warmest(&design).by, HeatedBy::Course);
    // Between the mean heat and the peak that stays.
    let (mean, stays) = (warm(amperes * (on / period).sqrt(), 20.0, 0.0, 0.0), warm(amperes, 20.0, 0.0, 0.0));
    assert!(value > mean + 20.0 && value < stays - 20.0, "{mean} {value} {stays}");
}

/// A sleeve that takes up heat slows what it covers, by steps of two milliseconds in this test: the wire of the test before in a tight sleeve of 5 g/m and
/// 2000 J/(kg K), which radiates in from wire to sleeve by ε = 1/(1/0.85 + 1/0.85 − 1) and out over its outside. Without a mass or a specific heat it takes up none.
#[test]
fn a_covering_takes_up_heat() {
    let (amperes, on, period) = (12.0, 20.0, 120.0);
    let value = |heavy: &str| {
        let cover = format!(
            "zone = \"bay\"\ncoverings = [\"K\"]\n[covering.K]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\nconductivity = \"100 W/m/K\"\nemittance = \"85 %\"\n{heavy}[segment.S2]"
        );
        let load = format!("current = \"{amperes:.9} A\"\non_time = \"{on} s\"\nperiod = \"{period} s\"");
        let (design, verdict) =
            heated(amperes, &[(&format!("current = \"{amperes:.9} A\""), &load), ("zone = \"bay\"\n[segment.S2]", &cover)]);
        margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value
    };
    let (inner, outer, over) = (2.0 * (0.5 / core::f64::consts::PI).sqrt() * 1e-3, 1.2e-3f64, 2.2e-3f64);
    let pi = core::f64::consts::PI;
    let jacket = (outer / inner).ln() / (2.0 * pi * 0.24);
    let by_hand = |capacity: f64| {
        let (mut t, mut sleeve, mut highest) = (293.15f64, 293.15f64, 0.0f64);
        for _ in 0..25 {
            highest = 0.0;
            for step in 0..(500.0 * period) as u64 {
                let current = if (step as f64) < 500.0 * on { amperes } else { 0.0 };
                let heat = current * current * 0.040 * (1.0 + 0.00393 * (t - 293.15));
                let mut in_to = 0.0;
                for _ in 0..4 {
                    in_to = SIGMA * pi * outer / (2.0 / 0.85 - 1.0) * ((t - in_to * jacket).powi(4) - sleeve.powi(4));
                }
                let out = 0.85 * SIGMA * pi * over * (sleeve.powi(4) - 293.15f64.powi(4));
                t += 2e-3 * (heat - in_to) / (0.5e-6 * 8960.0 * 385.0);
                sleeve += 2e-3 * (in_to - out) / capacity;
                highest = highest.max(t);
            }
        }
        highest - 273.15
    };
    let heavy = value("mass = \"5 g/m\"\nspecific_heat = \"2000 J/kg/K\"\n");
    let expected = by_hand(0.005 * 2000.0);
    assert!((heavy - expected).abs() < 0.3, "{heavy} {expected}");
    let light = value("");
    // Weightless the sleeve follows the wire down in each pause, and the wire with it.
    assert!(light < heavy - 1.5, "{light} {heavy}");
    assert_eq!((value("mass = \"5 g/m\"\n"), value("mass = \"5 g/m\"\nspecific_heat = \"TBD\"\n")), (light, light));
}

/// Pauses that are not stated: an intermittent load, and an on time without a period, heat at their peak, and it is said.
#[test]
fn pauses_that_are_not_stated_count_as_none() {
    let steady = heated(8.0, &[]);
    let expected = margin_of(&steady.0, &steady.1, "HT-01", "wire:W1", Bound::AtMost).value;
    assert_eq!(warmest(&steady.0).by, HeatedBy::Steady);
    for more in ["duty = \"intermittent\"", "on_time = \"1 s\"", "duty = \"intermittent\"\non_time = \"1 s\""] {
        let (design, verdict) = heated(8.0, &[("kind = \"resistive\"", &format!("kind = \"resistive\"\n{more}"))]);
        let value = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost).value;
        assert!((value - expected).abs() < 1e-9, "{value} {expected}");
        assert_eq!(warmest(&design).by, HeatedBy::Peak, "{more}");
    }
    // A finding says it too.
    let (_, verdict) = heated(12.0, &[("kind = \"resistive\"", "kind = \"resistive\"\nduty = \"intermittent\"")]);
    let text = &verdict.findings.iter().find(|f| f.id == "HT-01/wire:W1").expect("too warm").text;
    assert!(text.contains("computed at 12.0 A as if its pulses stayed"), "{text}");
    // With its pauses stated it is no longer judged as if they were none.
    let pulse = "kind = \"resistive\"\nduty = \"intermittent\"\non_time = \"10 ms\"\nperiod = \"1 s\"";
    assert_eq!(warmest(&heated(8.0, &[("kind = \"resistive\"", pulse)]).0).by, HeatedBy::Rms);
}

/// Two loads on one pair, 10 A each for 10 ms of 100 ms: together 20 A for a tenth, 0.1 · 400 A²; in two groups that never meet 0.1 · 100 A² twice.
/// The network is at 20 A either way.
#[test]
fn groups_that_never_meet_heat_less() {
    let pulse = "kind = \"resistive\"\non_time = \"10 ms\"\nperiod = \"100 ms\"";
    let second = format!("[load.Y]\nline = \"J2.1\"\nreturn = \"J2.2\"\ncurrent = \"10 A\"\n{pulse}\n");
    let current = |phase: &str| {
        let more = format!("{second}{phase}[zone.bay]");
        let (design, verdict) = heated(10.0, &[("kind = \"resistive\"", pulse), ("[zone.bay]", &more)]);
        let volts = margin_of(&design, &verdict, "VD-01", "load:X", Bound::AtMost).value;
        let row = warmest(&design);
        let ohms = 2.0 * 0.040 * (1.0 + 0.00393 * (row.conductor.celsius() - 20.0));
        assert!((volts - 20.0 * ohms).abs() < 1e-3 * volts, "{volts}");
        (row.current.0, row.peak.0)
    };
    let near = |(a, peak): (f64, f64), square: f64, most: f64| {
        assert!((a * a - square).abs() < 1e-6 * square && (peak - most).abs() < 1e-6, "{} {peak}", a * a)
    };
    near(current(""), 40.0, 20.0);
    near(current("[phase.p]\ntogether = [[\"X\", \"Y\"]]\n"), 40.0, 20.0);
    near(current("[phase.p]\ntogether = [[\"X\"], [\"Y\"]]\n"), 20.0, 10.0);
    // One that stands in no group may meet any.
    near(current("[phase.p]\ntogether = [[\"X\"]]\n"), 40.0, 20.0);
}

/// Near its limit a margin has a low and a high. Alone in vacuum emittance alone moves a wire, by hand with its ends in the catalog; far from the limit
/// nothing is said of it.
#[test]
fn a_margin_near_its_limit_has_a_range() {
    let (current, _) = by_hand(140.0, 20.0, 0.85);
    let (design, verdict) = heated(current, &[]);
    let margin = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost);
    let emittance = design.heat.insulation("etfe").and_then(|row| row.emittance).expect("the catalog states it");
    let expected = |share: f64| {
        // The conductor at which the current of the closed form is this one.
        let (mut low, mut high) = (20.0, 400.0);
        for _ in 0..60 {
            let t = 0.5 * (low + high);
            if by_hand(t, 20.0, share).0 > current { high = t } else { low = t }
        }
        low
    };
    assert!(emittance.low.value.0 < 0.85 && emittance.high.value.0 > 0.85);
    let (low, high) = (margin.low.expect("10 K are left"), margin.high.expect("10 K are left"));
    assert!((low - expected(emittance.high.value.0)).abs() < 2e-3, "{low} {}", expected(emittance.high.value.0));
    assert!((high - expected(emittance.low.value.0)).abs() < 2e-3, "{high} {}", expected(emittance.low.value.0));
    let text_of = |verdict: &Verdict| verdict.findings.iter().find(|f| f.id == "HT-01/wire:W1").expect("too warm").text.clone();
    let hot = text_of(&heated(by_hand(155.0, 20.0, 0.85).0, &[]).1);
    assert!(hot.contains("by the stated ranges") && hot.ends_with("most of it by emittance"), "{hot}");
    // 30 K left, and 20 K of margin of which each end has as much.
    let (design, verdict) = heated(by_hand(120.0, 20.0, 0.85).0, &[]);
    let margin = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost);
    assert_eq!((margin.low, margin.high), (None, None));
    let two = [("own,20,S2", "own,20,S1")];
    let (design, verdict) = heated(by_hand(105.0, 20.0, 0.85).0, &two);
    let margin = margin_of(&design, &verdict, "HT-01", "wire:W1", Bound::AtMost);
    let (low, high) = (margin.low.expect("near"), margin.high.expect("near"));
    assert!(low < margin.value && margin.value < high, "{margin:?}");
}

/// In air under gravity the law of free convection moves a wire alone too: down, to that of Morgan with the greatest emittance, by the balance of a
/// single wire. Without gravity it moves nothing.
#[test]
fn the_law_of_the_film_has_a_part_in_the_range() {
    let range = |gravity: &str| {
        let gas = format!("pressure = \"101.325 kPa\"\ngas_temperature = \"20 degC\"\nwall_distance = \"20 mm\"\ngravity = {gravity}");
        let (design, _) = heated(12.0, &[("pressure = \"0 Pa\"", &gas)]);
        let prepared = analysis::prepare(&design);
        let phase = design.phases.ids().next().expect("a phase");
        let point = prepared.point(&Scenario::new(phase, Corner::Low));
        let segment = design.segments.ids().next().expect("a segment");
        (prepared.heat_ranges(&point, segment)[0], design.heat.insulation("etfe").and_then(|row| row.emittance).expect("stated"))
    };
    let (ground, emittance) = range("1");
    let wire = |emittance: f64| physics::single_wire::Wire {
        conductor: physics::Metre(2.0 * (0.5 / core::f64::consts::PI).sqrt() * 1e-3),
        outside: physics::Metre(1.2e-3),
        jacket_k: physics::WattPerMetreKelvin(0.24),
        emittance,
        r20: physics::OhmPerMetre(0.040),
        alpha20: physics::resistance::copper_alpha20(1.0),
    };
    let home = physics::Kelvin::from_celsius(20.0);
    let gas = physics::gas::Gas {
        temperature: home,
        pressure: physics::Pascal(101_325.0),
        gravity: 1.0,
        speed: physics::MetrePerSecond(0.0),
        wall_distance: Some(physics::Metre(0.02)),
    };
    let around =
        physics::surroundings::Surroundings { free: physics::film::Free::Morgan, ..physics::surroundings::Surroundings::in_gas(gas, home) };
    let steady = |share: f64| physics::single_wire::settle(&wire(share), physics::Ampere(12.0), &around).expect("settles").conductor.0;
    let least = steady(emittance.high.value.0);
    assert!((ground.low.0 - least).abs() < 0.02, "{} {least}", ground.low.0);
    assert_eq!((ground.by, range("0").0.by), ("film", "emittance"));
}

/// A load of constant power behind 20 m of wire each way, 28 V, 1.6 ohm at 20 °C: 100 W draw (28 − √(784 − 640))/3.2 = 5 A of cold copper, but copper from 77 °C on
/// has more than 784/400 = 1.96 ohm, and no current brings 100 W through that. 5 A warm it to less than that; what 100 W then draw, to more.
#[test]
fn network_and_heat_may_run_away_with_each_other() {
    let long = ("length = \"1 m\"", "length = \"20 m\"");
    let power = |watts: &str| heated(5.0, &[long, long, ("current = \"5.000000000 A\"", &format!("power = \"{watts}\""))]);
    let ohms = |t: f64| 1.6 * (1.0 + 0.00393 * (t - 20.0));
    let draws = |watts: f64, ohms: f64| (28.0 - (784.0 - 4.0 * watts * ohms).sqrt()) / (2.0 * ohms);
    let first = warm(5.0, 20.0, 0.0, 0.0);
    let second = draws(100.0, ohms(first));
    let beyond = warm(second, 20.0, 0.0, 0.0);
    assert!(ohms(first) < 1.96 && ohms(beyond) > 1.96, "{first} {beyond}");
    let (design, verdict) = power("100 W");
    let found: Vec<&str> =
        verdict.findings.iter().map(|f| f.id.as_str()).filter(|id| id.starts_with("HT") || id.starts_with("OP")).collect();
    assert_eq!(found, ["OP-01/load:X", "HT-02/wire:W1"]);
    let text = &verdict.findings.iter().find(|f| f.id == "HT-02/wire:W1").expect("found").text;
    assert!(text.starts_with("network and heat run away with each other: at 6."), "{text}");
    let phase = design.phases.ids().next().expect("a phase");
    let prepared = analysis::prepare(&design);
    for point in [prepared.point(&Scenario::new(phase, Corner::Low)), prepared.corners(phase)[0].clone()] {
        let heat = point.heat.expect("a vehicle with zones");
        // The round without an operating point is the last one.
        assert_eq!(heat.rounds, 3);
        let (wire, current, conductor) = heat.ran_away.expect("it ran away");
        assert_eq!(&*design.wires[wire].name, "W1");
        // The battery's milliohm is left out by hand.
        assert!(
            (current.0 - second).abs() < 0.02 && (conductor.celsius() - beyond).abs() < 0.5,
            "{current:?} {conductor:?} {second} {beyond}"
        );
    }
    // 70 W settle, warm: the coolest state that is one, by turns in this test.
    let (design, verdict) = power("70 W");
    assert_eq!(ht(&verdict), [""; 0]);
    let mut t = 20.0;
    for _ in 0..60 {
        t = warm(draws(70.0, ohms(t)), 20.0, 0.0, 0.0);
    }
    let row = warmest(&design);
    assert!((row.conductor.celsius() - t).abs() < 0.05, "{} {t}", row.conductor.celsius());
}
