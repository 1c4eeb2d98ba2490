//! What a folder becomes: names, mates and contacts, assumptions, open values, phases, catalog.

use loomwright_input::{Loaded, load, manual};
use model::*;
use physics::{KilogramPerMetre, Metre};
use std::path::Path;

fn files(pairs: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
    pairs.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
}

fn read(pairs: &[(&str, &str)]) -> Design {
    let Loaded { design, diagnostics, .. } = load(&files(pairs));
    assert!(diagnostics.is_empty(), "{diagnostics:#?}");
    design.expect("no diagnostics, so a design")
}

fn notes<'d>(design: &'d Design, standing: Standing, field: &str) -> Vec<&'d Note> {
    design.notes.iter().filter(|n| n.standing == standing && n.field == field).collect()
}

fn example(name: &str) -> Vec<(String, Vec<u8>)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    let mut files = Vec::new();
    for (folder, prefix) in [(root.clone(), ""), (root.join("catalog"), "catalog/")] {
        // Not every example has a catalog of its own.
        let Ok(entries) = std::fs::read_dir(folder) else { continue };
        for path in entries.map(|entry| entry.expect("an entry").path()).filter(|path| path.is_file()) {
            let name = path.file_name().and_then(|n| n.to_str()).expect("a name in ASCII");
            files.push((format!("{prefix}{name}"), std::fs::read(&path).expect("readable")));
        }
    }
    files.sort();
    files
}

#[test]
fn examples_load_without_a_word() {
    for name in ["bench-rig", "starter"] {
        let loaded = load(&example(name));
        assert!(loaded.diagnostics.is_empty(), "{name}: {:#?}", loaded.diagnostics);
        assert!(loaded.design.is_some());
    }
    let design = load(&example("bench-rig")).design.expect("a design");
    assert_eq!((design.wires.len(), design.contacts.len(), design.phases.len()), (14, 19, 2));
    assert_eq!(&*design.phases[Id::from_row(0)].name, "quiet");
}

/// A message is read by people: what it quotes is cut in its middle, at a thousand characters and three that say so.
#[test]
fn a_long_word_makes_no_long_message() {
    let word = "x".repeat(50_000);
    let loaded = load(&files(&[("vehicle.toml", &format!("format = 1\n{word} = 1\n[load.{word}]\nline = \"{word}\"\n"))]));
    let lengths: Vec<usize> = loaded.diagnostics.iter().map(|d| d.message.chars().count()).collect();
    assert!(!lengths.is_empty() && lengths.iter().all(|&length| length <= 1_003), "{lengths:?}");
    assert!(lengths.contains(&1_003), "none was cut: {lengths:?}");
}

#[test]
fn a_wire_list_alone_is_a_vehicle() {
    let design = read(&[("wires.csv", "from,to,gauge_awg,length_ft,current_a\nJ1.A,P1.1,20,10,4.5\nJ1.B,stowed,22,,\n")]);
    assert_eq!(&*design.name, "unnamed");
    assert_eq!(&*design.profile.name, "space-28v");
    let phase = &design.phases[Id::from_row(0)];
    assert_eq!((&*phase.name, phase.implied), ("steady", true));
    assert!((phase.ambient.typical.value.celsius() - 20.0).abs() < 1e-9);
    let [w1, w2] = [0, 1].map(|n| &design.wires[Id::from_row(n)]);
    assert_eq!((&*w1.name, &*w2.name), ("W1", "W2"));
    assert!(matches!(w1.length.map(|g| g.value), Some(Length::Given(l)) if l == physics::Metre(3.048)));
    assert_eq!(w1.current.map(|g| g.value), Some(physics::Ampere(4.5)));
    assert!(w2.length.is_none() && w2.to.value == End::Stowed);
    assert!(design.connectors.iter().all(|(_, c)| c.implied == Implied::ByWireList));
    assert_eq!(design.contacts.len(), 0);
    // One note for the missing column, not one per wire.
    let note = notes(&design, Standing::Assumed, "type");
    assert_eq!(note.len(), 1);
    assert_eq!((note[0].value.as_str(), note[0].what.as_str()), ("copper-tin", "type of the wires of wires.csv"));
    assert!(w1.spec.is_some_and(|s| s.note.is_some()));
}

#[test]
fn a_place_is_kept_for_every_field() {
    let loaded = load(&files(&[("wires.csv", "# a list\nwire,from,to,gauge,length\nW1,J1.1,\"J2.1\",20 AWG, 3 m \n")]));
    let design = loaded.design.expect("a design");
    let wire = &design.wires[Id::from_row(0)];
    let at = |span| {
        let p = loaded.sources.position(span);
        (p.line, p.column, p.end_column)
    };
    assert_eq!(at(wire.from.at), (3, 4, 8));
    assert_eq!(at(wire.to.at), (3, 10, 14));
    assert_eq!(wire.length.map(|g| at(g.at)), Some((3, 24, 27)));
    assert_eq!(wire.spec.map(|g| at(g.at)), Some((3, 16, 22)));
}

const TWO_BOXES: &str = "
format = 1
[unit.A]
[unit.B]
[connector.J1]
unit = \"A\"
half = \"plug\"
contact = \"16\"
[connector.T1]
unit = \"A\"
kind = \"terminals\"
[connector.J2]
unit = \"B\"
mate = \"P2\"
[connector.P2]
contact = \"20\"
[connector.PA]
mate = \"JA\"
[connector.JA]
half = \"receptacle\"
";

#[test]
fn mates_and_contacts() {
    let design = read(&[
        ("v.toml", TWO_BOXES),
        (
            "wires.csv",
            "from,to,gauge_awg,type\nJ1.1,P2.1,16,copper-tin\nT1.1,P2.2,20,copper-tin\nPA.1,P2.3,20,copper-tin\nJA.1,JA.2,20,copper-tin\n",
        ),
        (
            "loads.toml",
            "[load.F]\nline = \"J2.1\"\nreturn = \"J2.2\"\npower = \"3 W\"\n[load.G]\nline = \"T1.1\"\nreturn = \"J1.2\"\npower = \"1 W\"\n",
        ),
    ]);
    let words: Vec<String> = design.contacts.ids().map(|id| design.element_words(ElementId::Contact(id))).collect();
    // J1 has no mate of its own: its wire ends on the implied half. P2 mates J2 where both cavities are used. Terminals have none.
    assert_eq!(words, ["contact:J1.1", "contact:JA.1/PA.1", "contact:J2.1/P2.1", "contact:J2.2/P2.2"]);
    let ohms = |n: usize| design.contacts[Id::from_row(n)].ohms;
    // Size 16: 49 mV at 13 A. AS39029 / MIL-DTL-38999 contact ratings [from memory].
    assert!((ohms(0).high.value.0 - 0.049 / 13.0).abs() < 1e-12);
    assert!((ohms(0).typical.value.0 - 0.049 / 26.0).abs() < 1e-12);
    assert!((ohms(0).low.value.0 - 0.049 / 260.0).abs() < 1e-12);
    assert_eq!(ohms(0).high.note.map(|n| design.note(n).standing), Some(Standing::Recalled));
    assert_eq!(ohms(0).typical.note.map(|n| design.note(n).standing), Some(Standing::Assumed));
    // Size 20 of the mate counts for J2; nobody states one for JA and PA.
    assert!((ohms(2).high.value.0 - 0.055 / 7.5).abs() < 1e-12);
    let assumed = notes(&design, Standing::Assumed, "contact");
    assert_eq!(assumed.iter().map(|n| n.what.as_str()).collect::<Vec<_>>(), ["contact of connector JA"]);
    // The size is assumed, and what the catalog says of that size stays recalled.
    let size_note = |n: usize| design.contacts[Id::from_row(n)].size_note.map(|n| design.note(n).field);
    assert_eq!((size_note(0), size_note(1)), (None, Some("contact")));
    assert_eq!(ohms(1).high.note.map(|n| design.note(n).standing), Some(Standing::Recalled));
    // The element sits on the unit's own pin, the wire on the harness half's.
    let wire = &design.wires[Id::from_row(0)];
    assert_eq!(design.end_name(wire.from.value), "J1.1 (harness)");
    assert_eq!(design.end_name(design.loads[Id::from_row(0)].line.value), "J2.1");
    let mate = design.connectors.iter().find(|(_, c)| c.implied == Implied::AsMate).map(|(_, c)| c);
    assert_eq!(mate.map(|c| (&*c.name, c.half.map(|h| h.value))), Some(("J1:mate", Some(Half::Receptacle))));
}

#[test]
fn what_is_assumed_is_noted_with_its_row() {
    let design = read(&[(
        "v.toml",
        "format = 1\n[node.A]\n[node.B]\n[node.C]\n[breaker.CB1]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"5 A\"\n\
         [fuse.F1]\nline = \"node:A\"\nload = \"node:B\"\n[switch.S1]\nfrom = \"node:A\"\nto = \"node:B\"\n\
         [diode.D1]\nanode = \"node:A\"\ncathode = \"node:B\"\n[receiver.R]\npositive = \"node:A\"\nnegative = \"node:B\"\n\
         [link.L]\nfrom = \"node:B\"\nto = \"node:C\"\n[strap.BS]\nfrom = \"node:C\"\nto = \"ground:G2\"\n[splice.SP]\n[stud.ST]\n\
         [ground.G1]\n[ground.G2]\n[ground.G3]\n[structure.G2G3]\nfrom = \"ground:G2\"\nto = \"ground:G3\"\n\
         [converter.PS]\nline = \"node:A\"\nreturn = \"node:C\"\noutput = \"node:B\"\noutput_return = \"node:C\"\nemf = \"5 V\"\nohms = \"9 mohm\"\n\
         efficiency = \"80 %\"\n",
    )]);
    let said: Vec<(&str, &str)> =
        design.notes.iter().filter(|n| n.standing == Standing::Assumed).map(|n| (n.what.as_str(), n.value.as_str())).collect();
    for expected in [
        ("ohms of breaker CB1", "5 mohm to 20 mohm, typical 10 mohm"),
        ("ohms of fuse F1", "10 mohm"),
        ("ohms of switch S1", "1 mohm to 10 mohm, typical 5 mohm"),
        ("forward of diode D1", "700 mV"),
        ("ohms of diode D1", "10 mohm"),
        ("input ohms of receiver R", "10 Mohm"),
        ("ohms of link L", "1 mohm"),
        ("ohms of strap BS", "2.5 mohm"),
        ("joint ohms of splice SP", "1 mohm"),
        ("joint ohms of stud ST", "1 mohm"),
        ("joint ohms of ground G1", "2.5 mohm"),
        ("ohms of structure G2G3", "5 mohm"),
        ("ohms of structure G2:structure", "5 mohm"),
        ("reference of ground G1", "true"),
        ("quiescent of converter PS", "0 W"),
        ("ambient of phase steady", "20 degC"),
    ] {
        assert!(said.contains(&expected), "{expected:?} in {said:#?}");
    }
    // G2 and G3 are tied to each other, so one path to the reference is enough.
    assert_eq!(design.structure_paths.len(), 2);
    let path = &design.structure_paths[Id::from_row(1)];
    assert_eq!((&*path.name, design.end_name(path.to.value)), ("G2:structure", "ground:G1".to_owned()));
    for note in design.notes.iter().filter(|n| n.standing == Standing::Assumed && n.field != "reference") {
        assert!(!note.source.is_empty() && !note.field.is_empty(), "{note:?}");
    }
}

#[test]
fn open_values() {
    let design = read(&[
        (
            "v.toml",
            "format = 1\n[load.F]\nline = \"J1.1\"\nreturn = \"J1.2\"\npower = \"TBD [thermal; 2027-03-01]\"\n\
             [load.G]\nline = \"J1.1\"\nreturn = \"J1.2\"\ncurrent = \"TBC 4.5 A [J. Doe]\"\n\
             [breaker.CB]\nline = \"J1.1\"\nload = \"J1.3\"\nrating = \"5 A\"\nohms = \"TBD\"\n\
             [battery.B]\npositive = \"J1.1\"\nnegative = \"J1.2\"\nemf = { low = \"TBC 26 V\", typical = \"28 V\" }\nohms = \"TBD\"\n",
        ),
        (
            "wires.csv",
            "from,to,type,gauge,length,current\nJ1.1,J2.1,copper-tin,TBD,TBC 3 m,TBD\nJ1.2,J2.2,copper-tin,22 AWG,route,\nJ1.3,J2.3,TBD,22 AWG,,\n",
        ),
    ]);
    let load = |n| &design.loads[Id::from_row(n)];
    assert!(load(0).demand.is_none());
    let open = notes(&design, Standing::ToDetermine, "power");
    assert_eq!(open.len(), 1);
    assert_eq!((open[0].owner.as_deref(), open[0].need.as_deref(), open[0].value.as_str()), (Some("thermal"), Some("2027-03-01"), ""));
    assert_eq!(open[0].subject.map(|s| design.subject_words(s)).as_deref(), Some("load:F"));
    let Some(Demand::Current(current)) = load(1).demand else { panic!("a current") };
    let note = current.typical.note.map(|n| design.note(n)).expect("noted");
    assert_eq!((note.standing, note.value.as_str(), note.owner.as_deref()), (Standing::ToConfirm, "4.5 A", Some("J. Doe")));
    assert_eq!(current.typical.value, physics::Ampere(4.5));
    // TBD where something is assumed: used as assumed, and still listed as open.
    assert_eq!(notes(&design, Standing::ToDetermine, "ohms").len(), 2);
    assert_eq!(notes(&design, Standing::Assumed, "ohms").len(), 1);
    let battery = &design.batteries[Id::from_row(0)];
    assert!(battery.ohms.is_none());
    let emf = battery.emf.expect("given");
    assert_eq!((emf.low.value.0, emf.typical.value.0, emf.high.value.0), (26.0, 28.0, 28.0));
    assert!(emf.low.note.is_some() && emf.high.note.is_none());
    let wire = |n| &design.wires[Id::from_row(n)];
    assert!(wire(0).spec.is_none() && wire(0).current.is_none());
    assert_eq!(wire(0).length.and_then(|g| g.note).map(|n| design.note(n).what.clone()).as_deref(), Some("length of wire W1"));
    assert!(matches!(wire(1).length.map(|g| g.value), Some(Length::FromRoute)));
    assert!(wire(2).spec.is_some_and(|s| s.note.is_some()));
}

#[test]
fn phases_keep_the_order_written_and_states_resolve() {
    let design = read(&[(
        "v.toml",
        "format = 1\n[node.A]\n[node.B]\n[switch.S1]\nfrom = \"node:A\"\nto = \"node:B\"\n[load.F1]\nline = \"node:A\"\nreturn = \"node:B\"\npower = \"1 W\"\n\
         [phase.zulu]\nambient = \"20 degC\"\n[phase.alpha]\nambient = \"20 degC\"\non = [\"load:F1\"]\nopen = [\"switch:S1\"]\n",
    )]);
    let names: Vec<&str> = design.phases.iter().map(|(_, p)| &*p.name).collect();
    assert_eq!(names, ["zulu", "alpha"]);
    let states: Vec<_> = design.phases[Id::from_row(1)].states.iter().map(|s| (design.element_words(s.value.0), s.value.1)).collect();
    assert_eq!(states, [("load:F1".to_owned(), Commanded::On), ("switch:S1".to_owned(), Commanded::Off)]);
}

#[test]
fn a_catalog_of_the_folder_adds_and_overrides() {
    let design = read(&[
        ("wires.csv", "from,to,type,gauge_awg\nA.1,B.1,mine,20\nA.2,B.2,copper-tin,20\n"),
        ("catalog/wires.csv", "type,gauge_awg,area_mm2,max_ohm_per_km\nmine,20,0.6,33\ncopper-tin,20,0.62,30\n"),
        (
            "catalog/profiles.toml",
            "[profile.space-28v]\nnominal = { value = \"28 V\", source = \"s\", how = \"read\" }\n\
             drop_continuous = { value = \"0.5 V\", source = \"s\", how = \"read\" }\ndrop_intermittent = { value = \"1 V\", source = \"s\", how = \"practice\" }\n\
             volts_min = { value = \"22 V\", source = \"s\", how = \"read\" }\nvolts_max = { value = \"32 V\", source = \"s\", how = \"read\" }\n\
             left_out = [{ rule = \"VL-01\", reason = \"judged elsewhere\" }]\n",
        ),
    ]);
    let spec = |n: usize| &design.wire_specs[Id::from_row(n)];
    assert_eq!((spec(0).r20_max.value.0, spec(1).r20_max.value.0), (0.033, 0.030));
    // Given by the user: firm. The nominal value is computed with a recalled lay.
    assert!(spec(0).r20_max.note.is_none() && spec(0).r20_nominal.note.is_some());
    assert_eq!(design.profile.drop_continuous.value, physics::Volt(0.5));
    assert_eq!(design.profile.drop_intermittent.note.map(|n| design.note(n).standing), Some(Standing::Assumed));
    assert_eq!(design.profile.left_out.len(), 1);
}

/// FAA AC 43.13-1B CHG 1, Table 11-9, page 11-23 [read]: ohm per 1000 ft at 20 °C of tin-plated copper, areas in circular mils.
#[test]
fn usual_wire_follows_the_faa_table() {
    for (gauge, ohms, cmil) in
        [("22", 16.2, 755.0), ("20", 9.88, 1216.0), ("14", 3.06, 3831.0), ("8", 0.70, 16983.0), ("4/0", 0.06, 210_900.0)]
    {
        let list = format!("from,to,type,gauge_awg\nA.1,B.1,copper-tin,{gauge}\n");
        let design = read(&[("wires.csv", &list)]);
        let spec = &design.wire_specs[Id::from_row(0)];
        assert!((spec.r20_max.value.0 * 304.8 - ohms).abs() < 1e-9, "{gauge}");
        assert!((spec.area.value.0 / physics::gauge::CIRCULAR_MIL.0 - cmil).abs() < 1e-6, "{gauge}");
        assert!(spec.r20_max.note.is_none() && spec.area.note.is_none(), "{gauge}: read, so not noted");
        assert!(spec.r20_nominal.value < spec.r20_max.value);
    }
}

#[test]
fn recalled_rows_are_noted_only_when_used_and_once() {
    let design = read(&[("wires.csv", "from,to,type,gauge_awg\nA.1,B.1,M22759/44,20\nA.2,B.2,M22759/44,20\n")]);
    assert_eq!(design.wire_specs.len(), 1);
    assert_eq!(notes(&design, Standing::Recalled, "max").len(), 1);
    assert!(design.notes.iter().all(|n| n.standing != Standing::Recalled
        || ["M22759/44 20 AWG", "profile space-28v", "copper 20 AWG", "nasa factors of insulation"].iter().any(|of| n.what.contains(of))));
}

/// Every type and gauge that is shipped can be used.
#[test]
fn shipped_rows_all_load() {
    let catalog = include_str!("../../../catalog/wires.csv");
    let rows: Vec<&str> = catalog.lines().filter(|l| !l.starts_with('#') && !l.starts_with("type,")).collect();
    let mut list = String::from("from,to,type,gauge_awg\n");
    for (n, row) in rows.iter().enumerate() {
        let (kind, rest) = row.split_once(',').expect("a type");
        // The gauge follows family and hardness, and those the construction, which may hold commas in quotes.
        let after = match rest.strip_prefix('"') {
            Some(quoted) => quoted.split_once("\",").map(|(_, after)| after),
            None => rest.split_once(',').map(|(_, after)| after),
        };
        let gauge = after.and_then(|after| after.split(',').nth(2)).expect("a gauge");
        list.push_str(&format!("A.{n},B.{n},{kind},{gauge}\n"));
    }
    let design = read(&[("wires.csv", &list)]);
    assert_eq!(design.wire_specs.len(), 148);
}

#[test]
fn byte_order_mark_and_line_ends_of_another_system_are_read() {
    let design =
        read(&[("wires.csv", "\u{feff}from,to,gauge_awg\r\nJ1.1,J2.1,20\r\n"), ("v.toml", "\u{feff}format = 1\r\nname = \"x\"\r\n")]);
    assert_eq!((&*design.name, design.wires.len()), ("x", 1));
}

#[test]
fn the_page_of_the_manual_is_that_of_the_table_of_fields() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/manual/input.md");
    let page = std::fs::read_to_string(&path).expect("docs/manual/input.md");
    assert!(page == manual(), "docs/manual/input.md differs from the table of fields: write it anew from `input::manual()`");
}

/// The examples in the manual are read as they stand there, up to names that each leaves to its surroundings.
#[test]
fn examples_of_the_manual_have_no_fault_of_their_own() {
    for table in loomwright_input::tables() {
        let (path, text) = match (loomwright_input::list_of(table), table.form, table.key) {
            (Some(list), ..) => (list, table.example.to_owned()),
            (None, loomwright_input::Form::Root, _) => ("v.toml".to_owned(), table.example.to_owned()),
            (None, _, "profile") => ("catalog/p.toml".to_owned(), table.example.to_owned()),
            (None, ..) => ("v.toml".to_owned(), format!("format = 1\n{}", table.example)),
        };
        let loaded = load(&[(path, text.into_bytes())]);
        for diagnostic in &loaded.diagnostics {
            let surroundings = ["IN-19", "IN-41"].contains(&diagnostic.code.0);
            assert!(surroundings, "{}: {}", table.key, diagnostic.message);
        }
    }
}

/// Build practice: the shipped rows pass the reader that a user's rows pass, and are noted only where a vehicle has segments.
#[test]
fn build_practice_of_the_catalog() {
    let segments =
        "format = 1\nprofile = \"space-28v\"\n[breakout.A]\n[breakout.B]\n[segment.S]\nfrom = \"A\"\nto = \"B\"\nlength = \"1 m\"\n";
    let design = read(&[("v.toml", segments)]);
    let bends: Vec<(&str, f64, Option<f64>)> =
        design.practice.bends.iter().map(|row| (row.of.word(), row.rule.minimum, row.rule.preferred)).collect();
    assert_eq!(bends, [("other", 6.0, Some(10.0)), ("polyimide", 10.0, Some(15.0)), ("coax", 6.0, Some(10.0))]);
    let millimetres = |rows: &[SupportRow]| -> Vec<(Option<i64>, i64)> {
        rows.iter().map(|row| (row.step.to.map(|to| (to.0 * 1e4).round() as i64), (row.step.pitch.0 * 1e4).round() as i64)).collect()
    };
    assert_eq!(millimetres(&design.practice.ties), [(Some(64), 191), (Some(127), 381), (Some(254), 508), (None, 762)]);
    assert_eq!(millimetres(&design.practice.clamps), [(None, 6100)]);
    assert_eq!(design.profile.clearance(NeighbourKind::FuelLine).expect("stated").value, Metre(0.1524));
    assert!(design.profile.clearance(NeighbourKind::Plume).expect("stated").note.is_some(), "a sample without a source");
    let aircraft = read(&[("v.toml", &segments.replace("space-28v", "aircraft-28v"))]);
    assert_eq!(aircraft.practice.bends.len(), 2);
    assert!(aircraft.practice.bends.iter().all(|row| row.note.is_some()), "recalled");
    assert_eq!(aircraft.profile.ties_beyond.expect("stated").value, Metre(0.3048));
    let without = read(&[("wires.csv", "from,to,gauge_awg\nJ1.1,J2.1,20\n")]);
    assert!(without.practice.bends.is_empty() && without.practice.ties.is_empty());
}

/// What bundles need of connectors, arrangements, cables, segments and holes.
#[test]
fn sizes_of_the_harness() {
    let vehicle = "
format = 1
tie_pitch = \"30 mm\"
[breakout.A]
[breakout.B]
[segment.S]
from = \"A\"
to = \"B\"
length = \"1 m\"
duct = true
tie_pitch = \"25 mm\"
[clamp.H]
segment = \"S\"
kind = \"hole\"
grommet = true
[connector.J1]
arrangement = \"two\"
[connector.J2]
arrangement = \"two\"
shell = \"30 mm\"
terminated_in_place = true
[unit.U]
[connector.J3]
unit = \"U\"
contact = \"20\"
shell = \"28 mm\"
[cable.C]
kind = \"coaxial\"
od = \"2.6 mm\"
mass = \"15 g/m\"
";
    let arrangements = "arrangement,cavity,size,shell_mm\ntwo,1,20,24\ntwo,2,20,\n";
    let wires = "from,to,type,gauge_awg\nJ1.1,J3.1,copper-tin,20\nJ2.1,J3.2,copper-tin,22\n";
    let design = read(&[("v.toml", vehicle), ("catalog/arrangements.csv", arrangements), ("wires.csv", wires)]);
    let segment = &design.segments[Id::from_row(0)];
    assert_eq!((segment.duct.expect("stated").value, segment.tie_pitch.expect("stated").value), (true, Metre(0.025)));
    assert_eq!(design.tie_pitch.expect("stated").value, Metre(0.03));
    assert!(design.clamps[Id::from_row(0)].grommet.expect("stated").value);
    let shell = |name: &str| {
        let (id, _) = design.connectors.iter().find(|(_, row)| *row.name == *name).expect("a connector");
        design.shell_of(id).map(|shell| (shell.value.0 * 1e3).round())
    };
    // The unnamed harness half of a unit's connector has that one's shell.
    assert_eq!([shell("J1"), shell("J2"), shell("J3:mate")], [Some(24.0), Some(30.0), Some(28.0)]);
    let cable = &design.cables[Id::from_row(0)];
    assert_eq!((cable.od.expect("stated").value, cable.mass.expect("stated").value), (Metre(2.6e-3), KilogramPerMetre(0.015)));
    let strands: Vec<Option<u32>> = design.wire_specs.iter().map(|(_, spec)| spec.strands).collect();
    assert_eq!(strands, [Some(19), Some(19)]);
}

/// Every field of interface sheets, fitted items, functions and the rest, as written.
#[test]
fn papers_and_fitted_items() {
    let vehicle = "
format = 1
profile = \"aircraft-28v\"
[section.nose]
[unit.A]
[unit.B]
[connector.J1]
unit = \"A\"
arrangement = \"two\"
gender = \"pins\"
keying = \"N\"
near = [\"J2\"]
section = \"nose\"
stays = true
filled = false
[connector.J2]
unit = \"B\"
contact = \"20\"
[sheet.ICS-A]
unit = \"A\"
revision = \"C\"
date = \"2026-03-02\"
status = \"released\"
[safe-plug.SF1]
connector = \"J1\"
links = [[\"1\", \"2\"]]
[cap.C1]
connector = \"J2\"
[relay.K1]
from = \"J1.1\"
to = \"J1.2\"
rating_resistive = \"10 A\"
rating_motor = \"TBC 4 A\"
[load.coil]
line = \"J2.1\"
return = \"J2.2\"
resistance = \"200 ohm\"
kind = \"inductive\"
pull_in = \"18 V\"
suppressor = \"diode\"
[load.lamp]
line = \"J2.1\"
return = \"J2.2\"
current = \"1 A\"
[battery.B1]
positive = \"J2.1\"
negative = \"J2.2\"
emf = \"28 V\"
ohms = \"0.1 ohm\"
rating = \"30 A\"
peak = \"200 A\"
[receiver.R1]
positive = \"J1.1\"
negative = \"J1.2\"
reference = \"J2.2\"
common_low = \"-5 V\"
common_high = \"5 V\"
[function.warn]
title = \"warns the crew\"
needs = [\"load:lamp\"]
tier = 1
[phase.ground]
fitted = [\"SF1\", \"C1\"]
";
    let design = read(&[
        ("v.toml", vehicle),
        ("wires.csv", "from,to,type,gauge_awg,from_revision,to_revision\nJ1.1,J2.1,M22759/44,20,B,\n"),
        (
            "pins.csv",
            "pin,connector,cavity,meaning,signal,own_return,sheet,changed,grounded\nJ1.1,,,power-out,28V,J1.2,,C,\n,J1,2,return,,,ICS-A,,\n\
             J2.3,,,spare,,,,,TRUE\n",
        ),
        ("catalog/arrangements.csv", "arrangement,cavity,cavities,size,x_mm,y_mm\ntwo,,1,16,,\ntwo,2,,12,1.5,-2\n"),
    ]);
    fn value<T>(given: Option<Given<T>>) -> Option<T> {
        given.map(|g| g.value)
    }
    let row = Id::<Connector>::from_row;
    let j1 = &design.connectors[row(0)];
    assert_eq!((value(j1.gender), value(j1.keying.clone()).as_deref()), (Some(Gender::Pins), Some("N")));
    assert_eq!((value(j1.stays), value(j1.fills_unused), j1.near.len()), (Some(true), Some(false), 1));
    assert_eq!((j1.near[0].value, value(j1.section)), (row(1), Some(Id::from_row(0))));
    let arrangement = &design.arrangements[value(j1.arrangement).expect("an arrangement")];
    let cavities: Vec<_> = arrangement.cavities.iter().map(|c| (&*c.name, c.size.as_deref(), c.position_mm)).collect();
    assert_eq!(cavities, [("1", Some("16"), None), ("2", Some("12"), Some((1.5, -2.0)))]);
    assert_eq!(arrangement.sizes.iter().map(|(size, count)| (&**size, *count)).collect::<Vec<_>>(), [("16", 1), ("12", 1)]);
    assert_eq!(arrangement.note, None);
    // The unnamed harness half has the other contacts.
    let mate = design.connectors.iter().find(|(_, c)| &*c.name == "J1:mate").map(|(_, c)| c).expect("a mate");
    assert_eq!(value(mate.gender), Some(Gender::Sockets));

    let sheet = &design.sheets[Id::from_row(0)];
    assert_eq!((sheet.unit.value, value(sheet.status)), (Id::from_row(0), Some(SheetStatus::Released)));
    assert_eq!((value(sheet.revision.clone()).as_deref(), value(sheet.date.clone()).as_deref()), (Some("C"), Some("2026-03-02")));
    let ports: Vec<_> =
        design.ports.iter().map(|(_, p)| (design.pin_name(p.pin), p.meaning.value, p.grounded, p.sheet.is_some())).collect();
    assert_eq!(
        ports,
        [
            ("J1.1".to_owned(), PinMeaning::PowerOut, false, true),
            ("J1.2".to_owned(), PinMeaning::Return, false, true),
            ("J2.3".to_owned(), PinMeaning::Spare, true, false),
        ]
    );
    let first = &design.ports[Id::from_row(0)];
    assert_eq!(value(first.own_return).map(|pin| design.pin_name(pin)).as_deref(), Some("J1.2"));
    assert_eq!((value(first.signal.clone()).as_deref(), value(first.changed.clone()).as_deref()), (Some("28V"), Some("C")));

    let plug = &design.fitted[Id::from_row(0)];
    assert_eq!((plug.kind, plug.connector.value, plug.links.len()), (FittedKind::SafePlug, row(0), 1));
    let link = &design.fitted_links[plug.links[0]];
    assert_eq!((design.pin_name(link.from), design.pin_name(link.to)), ("J1.1".to_owned(), "J1.2".to_owned()));
    assert_eq!(link.ohms.typical.note.map(|n| design.note(n).standing), Some(Standing::Assumed));
    assert_eq!(design.phases[Id::from_row(0)].fitted.iter().map(|f| f.value.row()).collect::<Vec<_>>(), [0, 1]);

    let relay = &design.switches[Id::from_row(0)];
    assert_eq!(value(relay.ratings.of(LoadKind::Resistive)), Some(physics::Ampere(10.0)));
    assert_eq!(relay.ratings.of(LoadKind::Motor).and_then(|g| g.note).map(|n| design.note(n).standing), Some(Standing::ToConfirm));
    assert_eq!(relay.ratings.lamp, None);
    let (coil, lamp) = (&design.loads[Id::from_row(0)], &design.loads[Id::from_row(1)]);
    assert_eq!((coil.kind.value, coil.kind.note, value(coil.suppressor)), (LoadKind::Inductive, None, Some(Suppressor::Diode)));
    assert_eq!(value(coil.pull_in), Some(physics::Volt(18.0)));
    assert_eq!(lamp.kind.note.map(|n| design.note(n).standing), Some(Standing::Assumed));
    let battery = &design.batteries[Id::from_row(0)];
    assert_eq!((value(battery.rating), value(battery.peak)), (Some(physics::Ampere(30.0)), Some(physics::Ampere(200.0))));
    let receiver = &design.receivers[Id::from_row(0)];
    assert_eq!(value(receiver.reference).map(|end| design.end_name(end)).as_deref(), Some("J2.2"));
    assert_eq!((value(receiver.common_low), value(receiver.common_high)), (Some(physics::Volt(-5.0)), Some(physics::Volt(5.0))));
    let function = &design.functions[Id::from_row(0)];
    assert_eq!((function.title.as_str(), value(function.tier)), ("warns the crew", Some(1)));
    assert_eq!(function.needs.iter().map(|n| design.subject_words(n.value)).collect::<Vec<_>>(), ["load:lamp"]);
    let wire = &design.wires[Id::from_row(0)];
    assert_eq!((value(wire.from_revision.clone()).as_deref(), wire.to_revision.is_none()), (Some("B"), true));
    let spec = &design.wire_specs[Id::from_row(0)];
    assert_eq!((spec.family.as_deref(), spec.hard), (Some("etfe-x"), false));

    // The arrangement sizes its cavities: a contact of size 16 in cavity 1.
    let contact = design.contacts.iter().map(|(_, c)| c).find(|c| design.pin_name(c.a) == "J1.1").expect("a contact");
    let size = &design.contact_specs[contact.spec.expect("a size")];
    assert_eq!(&*size.size, "16");
    // AS39029 / MIL-DTL-38999 contact test currents by wire gauge [from memory].
    let currents: Vec<_> = size.currents.iter().map(|(gauge, current)| (gauge.0, current.value.0)).collect();
    assert_eq!(currents, [(16, 13.0), (18, 10.0), (20, 7.5)]);
    assert_eq!(design.profile.bus_max.map(|g| g.value), Some(physics::Volt(29.0)));
    assert_eq!(design.profile.contact_derating.map(|g| g.value), Some(physics::Ratio(1.0)));
    assert!(design.profile.sources.iter().any(|(field, _)| *field == "wire_current_difference"));
}

/// A size that the folder gives anew has none of the shipped currents by gauge, unless the folder gives those too.
#[test]
fn contact_currents_follow_their_size() {
    let wires = ("wires.csv", "from,to,gauge_awg\nJ1.1,X.1,20\n");
    let vehicle = ("v.toml", "format = 1\n[unit.A]\n[connector.J1]\nunit = \"A\"\ncontact = \"20\"\n[connector.X]\n");
    let own = ("catalog/contacts.csv", "size,kind,gauge_min_awg,gauge_max_awg,current_a\n20,crimp,24,20,6\n");
    let by_gauge = ("catalog/contact-currents.csv", "size,kind,gauge_awg,current_a\n20,crimp,24,2\n20,crimp,20,5\n");
    let currents = |files: &[(&str, &str)]| -> Vec<(i8, f64)> {
        let design = read(files);
        design.contact_specs[Id::from_row(0)].currents.iter().map(|(gauge, current)| (gauge.0, current.value.0)).collect()
    };
    assert_eq!(currents(&[wires, vehicle]), [(20, 7.5), (22, 5.0), (24, 3.0)]);
    assert_eq!(currents(&[wires, vehicle, own]), []);
    assert_eq!(currents(&[wires, vehicle, by_gauge]), [(20, 5.0), (24, 2.0)]);
    assert_eq!(currents(&[wires, vehicle, own, by_gauge]), [(20, 5.0), (24, 2.0)]);
    // Without a stated drop, 50 mV at 6 A is assumed.
    let high = read(&[wires, vehicle, own]).contact_specs[Id::from_row(0)].ohms.high;
    assert!((high.value.0 - 0.05 / 6.0).abs() < 1e-12);
    assert!(high.note.is_some());
}

/// Every shipped arrangement can be used; its count is that of its rows.
#[test]
fn shipped_arrangements_all_load() {
    let catalog = include_str!("../../../catalog/arrangements.csv");
    let mut rows: Vec<(&str, usize)> = Vec::new();
    for line in catalog.lines().filter(|l| !l.starts_with('#') && !l.starts_with("arrangement,")) {
        let mut cells = line.split(',');
        let name = cells.next().expect("a name");
        let count: usize = cells.next().and_then(|n| n.parse().ok()).expect("a count");
        // Of several sizes each has a row.
        match rows.iter_mut().find(|(known, _)| *known == name) {
            Some((_, sum)) => *sum += count,
            None => rows.push((name, count)),
        }
    }
    let mut vehicle = "format = 1\n".to_owned();
    for (n, (name, _)) in rows.iter().enumerate() {
        vehicle.push_str(&format!("[connector.J{n}]\narrangement = \"{name}\"\n"));
    }
    let design = read(&[("v.toml", &vehicle)]);
    assert_eq!(design.arrangements.len(), rows.len());
    assert!(rows.len() > 50, "{}", rows.len());
    for ((_, arrangement), (name, count)) in design.arrangements.iter().zip(&rows) {
        assert_eq!((&*arrangement.name, arrangement.cavities.len()), (*name, *count));
        assert_eq!(arrangement.note.map(|n| design.note(n).standing), Some(Standing::Recalled));
    }
}

/// The light aircraft reads without a word, and says on its own what is sized by whom: the plug for ground power has large contacts and
/// small ones, from its arrangement.
#[test]
fn light_aircraft_reads_without_a_word() {
    let loaded = load(&example("light-aircraft"));
    assert!(loaded.diagnostics.is_empty(), "{:?}", loaded.diagnostics);
    let design = loaded.design.expect("a design");
    assert_eq!((design.wires.len(), design.phases.len(), design.sheets.len()), (68, 5, 8));
    let size = |pin: &str| {
        let contact = design.contacts.iter().map(|(_, c)| c).find(|c| design.pin_name(c.a) == pin || design.pin_name(c.b) == pin);
        let spec = contact.and_then(|c| c.spec).expect("a contact with a size");
        design.contact_specs[spec].size.to_string()
    };
    assert_eq!((size("XP.1"), size("XP.3"), size("EMJ.2")), ("5015-0".to_owned(), "16".to_owned(), "22D".to_owned()));
}

/// Counts of several sizes do not say which cavity has which; a size that a row names is known beside them.
#[test]
fn arrangements_of_several_sizes_by_count() {
    let vehicle = "format = 1\n[unit.U]\n[connector.J1]\nunit = \"U\"\narrangement = \"five\"\nother_contacts = [[\"2\", \"16\"]]\n\
                   [connector.J2]\nunit = \"U\"\narrangement = \"15-97\"\n[connector.J3]\nunit = \"U\"\narrangement = \"11-35\"\n\
                   [saver.S1]\nconnector = \"J1\"\nin_line = true\nopen = [\"1\", \"2\"]\nohms = \"4 mohm\"\n[saver.S2]\nconnector = \"J2\"\n";
    let rows = "arrangement,cavity,cavities,size\nfive,,2,20\nfive,,2,16\nfive,C,,12\n";
    let design = read(&[("v.toml", vehicle), ("catalog/arrangements.csv", rows)]);
    let sizes = |name: &str| {
        let row = design.arrangements.iter().find(|(_, a)| &*a.name == name).map(|(_, a)| a).expect("an arrangement in use");
        let counts: Vec<(String, u32)> = row.sizes.iter().map(|(size, count)| (size.to_string(), *count)).collect();
        (row.cavities.iter().map(|c| c.size.as_deref().unwrap_or("?")).collect::<Vec<_>>().join(" "), counts)
    };
    let of = |counts: &[(&str, u32)]| counts.iter().map(|(size, count)| ((*size).to_owned(), *count)).collect::<Vec<_>>();
    assert_eq!(sizes("five"), ("? ? ? ? 12".to_owned(), of(&[("20", 2), ("16", 2), ("12", 1)])));
    // Eight of size 20 and four of size 16: MIL-STD-1560, arrangement 15-97 (from memory).
    assert_eq!(sizes("15-97"), (["?"; 12].join(" "), of(&[("20", 8), ("16", 4)])));
    assert_eq!(sizes("11-35"), (["22D"; 13].join(" "), of(&[("22D", 13)])));
    let others = &design.connectors[Id::<Connector>::from_row(0)].other_contacts;
    assert_eq!(others.iter().map(|(cavity, size)| (&**cavity, &*size.value)).collect::<Vec<_>>(), [("2", "16")]);
    let between = design.fitted[Id::<Fitted>::from_row(0)].in_line.as_ref().expect("in line");
    assert_eq!((between.open.len(), between.ohms.typical.value.0), (2, 0.004));
    assert!(design.fitted[Id::<Fitted>::from_row(1)].in_line.is_none());
}

/// Of the lists of wire currents, rows of the folder take the place of the shipped ones: by gauge, by rule set, or the whole list.
#[test]
fn own_tables_of_wire_current() {
    use physics::ampacity::{Conductor, InAir, aircraft_current};
    use physics::gauge::Awg;
    use physics::{Kelvin, Metre, Ratio};
    let wires = ("wires.csv", "from,to,type,gauge_awg\nJ1.1,X.1,M22759/44,20\n");
    let with = |profile: &str, more: &[(&str, &str)]| {
        let vehicle = format!("format = 1\nprofile = \"{profile}\"\n");
        read(&[&[("v.toml", vehicle.as_str()), wires], more].concat()).ampacity.expect("the profile names tables")
    };
    let in_air = |tables: &Ampacity, gauge, wires| {
        let AmpacityTables::Air { long, .. } = &tables.tables else { panic!("tables for air") };
        let [rating, ambient] = [200.0, 60.0].map(Kelvin::from_celsius);
        let wire = InAir { gauge: Awg(gauge), rating, ambient, wires, loaded: Ratio(0.2), altitude: Metre(0.0) };
        aircraft_current(long, &wire).expect("in the tables").allowed.0
    };
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    let shipped = with("aircraft-28v", &[]);
    near(in_air(&shipped, 20, 1), 21.5);
    near(in_air(&shipped, 22, 1), 16.2);
    // One gauge anew: the other stays, and of the own one none of the shipped points.
    let own = with("aircraft-28v", &[("catalog/ampacity-free-air.csv", "gauge_awg,rise_k,current_a\n20,140,20\n")]);
    near(in_air(&own, 20, 1), 20.0);
    near(in_air(&own, 22, 1), 16.2);
    // Factors are one table.
    let own = with("aircraft-28v", &[("catalog/derating-bundle-air.csv", "wires,loaded_percent,factor_percent\n1,20,100\n8,20,50\n")]);
    near(in_air(&own, 20, 8), 0.5 * 21.5);
    // What is recalled of the rows in use is noted, once each; own rows are firm.
    let what = |design: &Design| -> Vec<String> {
        let of_tables = |n: &&Note| ["current", "factor", "single", "surroundings"].contains(&n.field) && n.subject.is_none();
        design.notes.iter().filter(of_tables).map(|n| n.what.clone()).collect()
    };
    let vehicle = |profile: &str| format!("format = 1\nprofile = \"{profile}\"\n");
    assert_eq!(
        what(&read(&[("v.toml", &vehicle("aircraft-28v")), wires])),
        ["free-air current of 20 AWG", "bundle factors", "altitude factors"]
    );
    let nasa = vehicle("space-28v");
    assert_eq!(what(&read(&[("v.toml", &nasa), wires])), ["nasa current in vacuum of copper 20 AWG", "nasa factors of insulation"]);
    let vacuum = ("catalog/ampacity-space.csv", "rules,conductor,gauge_awg,single_a,bundle_a\nnasa,copper,20,6,3\n");
    let ratings = ("catalog/ampacity-ratings.csv", "rules,rating_degc,factor_percent\nnasa,200,100\n");
    let design = read(&[("v.toml", &nasa), wires, vacuum, ratings]);
    assert_eq!(what(&design), [""; 0]);
    let Some(Ampacity { tables: AmpacityTables::Vacuum(table), .. }) = &design.ampacity else { panic!("tables for vacuum") };
    assert_eq!(
        table.rows.iter().map(|row| (row.conductor, row.gauge, row.single.0)).collect::<Vec<_>>(),
        [(Conductor::Copper, Awg(20), 6.0)]
    );
    assert_eq!(table.surroundings.celsius().round(), 70.0);
    // A rule set of the folder's own, chosen by a profile of its own.
    let limit = |value: &str| format!("{{ value = \"{value}\", source = \"s\", how = \"read\" }}");
    let profile = format!(
        "[profile.p]\nnominal = {0}\ndrop_continuous = {0}\ndrop_intermittent = {0}\nvolts_min = {0}\nvolts_max = {0}\nampacity = \"mine\"\nprotector_chart = \"mine\"\n",
        limit("20 V")
    );
    let design = read(&[
        ("v.toml", &vehicle("p")),
        wires,
        ("catalog/p.toml", &profile),
        ("catalog/ampacity-space.csv", "rules,conductor,gauge_awg,single_a,how\nmine,copper,20,6,memory\n"),
        ("catalog/ampacity-conditions.csv", "rules,surroundings_degc,below_rating_k\nmine,50,40\n"),
        ("catalog/protector-gauges.csv", "chart,gauge_awg,breaker_a\nmine,20,5\n"),
    ]);
    let Some(Ampacity { tables: AmpacityTables::Vacuum(table), .. }) = &design.ampacity else { panic!("tables for vacuum") };
    assert_eq!((table.surroundings.celsius().round(), table.below_rating.map(|k| k.0), table.ratings.len()), (50.0, Some(40.0), 0));
    let chart = design.protector_chart.as_ref().expect("a chart");
    assert_eq!((chart.rows.len(), chart.rows[0].breaker.map(|a| a.value.0), chart.rows[0].fuse.is_none()), (1, Some(5.0), true));
}

/// The altitude of a phase, the bundle of a wire.
#[test]
fn altitude_and_stated_bundles() {
    let design = read(&[
        ("v.toml", "format = 1\n[phase.a]\naltitude = \"20000 ft\"\n[phase.b]\n[phase.c]\naltitude = \"TBD\"\n"),
        ("wires.csv", "from,to,gauge_awg,bundle_wires,bundle_loaded_percent\nJ1.1,X.1,20,8,60\nJ1.2,X.2,20,,\nJ1.3,X.3,20,1,\n"),
    ]);
    let altitudes: Vec<_> = design.phases.iter().map(|(_, phase)| phase.altitude.map(|a| a.value.0)).collect();
    assert_eq!(altitudes, [Some(6096.0), None, None]);
    assert_eq!(notes(&design, Standing::ToDetermine, "altitude").len(), 1);
    let bundles: Vec<_> = design.wires.iter().map(|(_, w)| (w.bundle_wires.map(|n| n.value), w.bundle_loaded.map(|s| s.value.0))).collect();
    assert_eq!(bundles, [(Some(8), Some(0.6)), (None, None), (Some(1), None)]);
}

/// Zones with what differs in phases, what a segment and its coverings state for heat, and the catalog rows of the types in use.
#[test]
fn zones_climates_and_materials() {
    let vehicle = "format = 1\n[breakout.B1]\n[breakout.B2]\n[segment.S1]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"1 m\"\nzone = \"hold\"\n\
        sink = { low = \"0 degC\", typical = \"10 degC\", high = \"20 degC\" }\nsink_conductance = \"0.5 W/m/K\"\nabsorptance = \"40 %\"\n\
        reachable = true\ncoverings = [\"K\"]\n[covering.K]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\nconductivity = \"200 mW/m/K\"\n\
        emittance = \"5 %\"\nrating = \"125 degC\"\n[load.F]\nline = \"X.1\"\nreturn = \"X.2\"\npower = \"5 W\"\n[connector.J1]\n[connector.X]\nrating = \"200 degC\"\n\
        [zone.hold]\npressure = \"101.3 kPa\"\ngas_temperature = \"20 degC\"\ngravity = 1\nair_speed = \"60 ft/min\"\nfan = \"F\"\n\
        walls = \"15 degC\"\nwall_distance = \"40 mm\"\nsun = \"100 W/m2\"\n\
        [phase.a]\n[phase.b]\n[phase.c]\n\
        [climate.x]\nzone = \"hold\"\nphases = [\"b\", \"c\"]\ngravity = 0\n[climate.y]\nzone = \"hold\"\nphases = [\"c\"]\npressure = \"0 Pa\"\n";
    let wires = ("wires.csv", "wire,from,to,gauge_awg,length_m,type\nW1,J1.1,X.1,20,1,M22759/44\n");
    let design = read(&[("v.toml", vehicle), wires]);
    let (_, zone) = design.zones.iter().next().expect("a zone");
    let phases: Vec<_> = design.phases.ids().collect();
    let pressure = |phase: usize| zone.climate(phases[phase]).pressure.expect("a pressure").value.0;
    let gravity = |phase: usize| zone.climate(phases[phase]).gravity.expect("gravity").value;
    assert_eq!([pressure(0), pressure(1), pressure(2)], [101300.0, 101300.0, 0.0]);
    assert_eq!([gravity(0), gravity(1), gravity(2)], [1.0, 0.0, 0.0]);
    let usual = &zone.usual;
    assert!((usual.air_speed.expect("a speed").value.0 - 0.3048).abs() < 1e-12);
    assert_eq!(usual.fan.map(|fan| &*design.loads[fan.value].name), Some("F"));
    assert_eq!((usual.sun.map(|g| g.value.0), usual.wall_distance.map(|g| g.value.0)), (Some(100.0), Some(0.04)));
    assert_eq!(usual.walls.map(|s| s.high.value.celsius().round()), Some(15.0));
    let (_, segment) = design.segments.iter().next().expect("a segment");
    assert_eq!(segment.zone.map(|zone| zone.value.row()), Some(0));
    assert_eq!(segment.sink.map(|s| [s.low, s.typical, s.high].map(|g| g.value.celsius().round())), Some([0.0, 10.0, 20.0]));
    assert_eq!((segment.sink_conductance.map(|g| g.value.0), segment.absorptance.map(|g| g.value.0)), (Some(0.5), Some(0.4)));
    assert_eq!(segment.reachable.map(|g| g.value), Some(true));
    let (_, sleeve) = design.coverings.iter().next().expect("a covering");
    assert_eq!((sleeve.conductivity.map(|g| g.value.0), sleeve.emittance.map(|s| s.low.value.0)), (Some(0.2), Some(0.05)));
    assert_eq!(sleeve.rating.map(|g| g.value.celsius().round()), Some(125.0));
    // Shipped rows: conductivity and emittance of ETFE as the slash sheets wear it, 200 degC of silver.
    let insulation = design.heat.insulation("etfe-x").expect("known insulation");
    assert_eq!(insulation.conductivity.map(|g| g.value.0), Some(0.24));
    assert_eq!(insulation.emittance.map(|s| [s.low, s.typical, s.high].map(|g| g.value.0)), Some([0.80, 0.85, 0.90]));
    assert!(insulation.damage.is_none(), "crosslinked: no temperature is stated");
    let own = ("catalog/insulations.csv", "family,damage_degc\netfe-x,300\n");
    let damage = read(&[("v.toml", vehicle), wires, own]).heat.insulation("etfe-x").and_then(|row| row.damage).expect("the folder's row");
    assert!((damage.value.celsius() - 300.0).abs() < 1e-9);
    let limits: Vec<_> = design.heat.platings.iter().map(|row| (row.plating.word(), row.limit.value.celsius().round())).collect();
    let coating = design.wire_specs.iter().next().and_then(|(_, spec)| spec.plating()).expect("a coating");
    assert_eq!(limits, [(coating.word(), if coating == Plating::Tin { 150.0 } else { 200.0 })]);
    assert!(notes(&design, Standing::Recalled, "emittance").iter().any(|note| note.what == "emittance of insulation etfe-x"));
    assert_eq!(notes(&design, Standing::Assumed, "contact_conductance").len(), 1);
    // Rows of the folder take the place of the shipped ones of their family and coating.
    let own = [
        ("catalog/insulations.csv", "family,conductivity_w_per_m_per_k,emittance_percent\netfe-x,0.3,70\n"),
        ("catalog/platings.csv", "plating,limit_degc\ntin,140\nsilver,190\n"),
    ];
    let design = read(&[("v.toml", vehicle), wires, own[0], own[1]]);
    let insulation = design.heat.insulation("etfe-x").expect("known insulation");
    assert_eq!((insulation.conductivity.map(|g| g.value.0), insulation.emittance.map(|s| s.high.value.0)), (Some(0.3), Some(0.7)));
    assert_eq!(design.heat.platings[0].limit.value.celsius().round(), if coating == Plating::Tin { 140.0 } else { 190.0 });
    // Without zones nothing of all that is there.
    let design = read(&[("v.toml", "format = 1\n"), wires]);
    assert!(design.heat.insulations.is_empty() && design.heat.platings.is_empty());
}

/// A type is made out once for each rating in use: with its own rows, those of every rating, or in multiples those of the nearest one.
#[test]
fn types_of_breaker_fuse_and_limiter() {
    let vehicle = "format = 1\n[node.A]\n[node.B]\n[node.RTN]\n\
        [breaker.own]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"5 A\"\ndevice = \"NSN-5925-00-226-0377\"\n\
        [breaker.scaled]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"7.5 A\"\ndevice = \"NSN-5925-00-226-0377\"\n\
        [breaker.again]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"5 A\"\ndevice = \"NSN-5925-00-226-0377\"\ninterrupts = \"2 kA\"\n\
        [fuse.fuse]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"4 A\"\ndevice = \"TBC FM09A\"\n\
        [limiter.limiter]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"2 A\"\ndevice = \"latching-limiter\"\n\
        [breaker.mine]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"12 A\"\ndevice = \"mine\"\n\
        [breaker.none]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"5 A\"\n\
        [breaker.open]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"TBD\"\ndevice = \"mine\"\n\
        [load.radio]\nline = \"node:B\"\nreturn = \"node:RTN\"\npower = \"60 W\"\ninrush = \"20 A\"\ninrush_time = \"5 ms\"\n\
        input_capacitance = \"470 uF\"\nhold_up = \"50 ms\"\nvolts_transient = \"50 V\"\n\
        on_at_least = \"30 min\"\noff_at_most = \"2 h\"\nrestart_above = \"-10 degC\"\nrestart_volts = \"26 V\"\n\
        [phase.cold]\nambient = { low = \"-60 degC\", typical = \"0 degC\", high = \"20 degC\" }\n";
    let devices = "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a,ohms_mohm,ohms_high_mohm,how\n\
        mine,breaker,,110,140,,,,read\nmine,breaker,10,,,3000,4,6,memory\nmine,breaker,,,,1000,9,,read\n";
    let bands = "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s,how\n\
        mine,,25,200,1,5,read\nmine,,25,600,0.1,0.5,practice\nmine,,-55,200,2,9,read\n";
    let design = read(&[("vehicle.toml", vehicle), ("catalog/devices.csv", devices), ("catalog/trip-bands.csv", bands)]);
    let protector = |name: &str| design.protectors.iter().find(|(_, p)| &*p.name == name).expect("a row of the test");
    let device = |name: &str| design.device(protector(name).0);
    let standings = |name: &str| -> Vec<Standing> {
        device(name).map(|device| device.notes.iter().map(|note| design.note(*note).standing).collect()).unwrap_or_default()
    };

    // The shipped 5 A breaker: its own row of 138 % and 6000 A, 115 % and the hour recalled, a band of five points at 25 °C.
    let own = device("own").expect("a type and a rating");
    assert_eq!((own.trip.holds, own.trip.ultimate, own.trip.bands.len()), (Some(1.15), Some(1.38), 1));
    assert_eq!(own.trip.bands[0].points.len(), 5);
    assert_eq!((own.shape_of, own.interrupts.map(|g| g.value.0)), (None, Some(6000.0)));
    assert_eq!(standings("own"), [Standing::Recalled, Standing::Recalled]);
    assert_eq!(protector("own").1.device.map(|g| g.value), protector("again").1.device.map(|g| g.value));
    assert_eq!(design.interrupts(protector("own").0).map(|g| g.value.0), Some(6000.0));
    assert_eq!(design.interrupts(protector("again").0).map(|g| g.value.0), Some(2000.0), "its own row goes before the type's");
    // In another rating its shape is assumed, and its interrupting capacity is not known.
    let scaled = device("scaled").expect("a type and a rating");
    assert_eq!((scaled.shape_of, scaled.interrupts), (Some(physics::Ampere(5.0)), None));
    assert_eq!((scaled.trip.rating.0, scaled.trip.bands[0].points[1].multiple), (7.5, 2.0));
    assert!(standings("scaled").contains(&Standing::Assumed));
    // A fuse with its maker's own shift and no band; to be confirmed.
    let fuse = device("fuse").expect("a type and a rating");
    assert!(fuse.trip.bands.is_empty() && protector("fuse").1.device.is_some_and(|g| g.note.is_some()));
    let factors: Vec<f64> = fuse.trip.ambients.iter().map(|(_, factor)| *factor).collect();
    assert_eq!(factors, [1.07, 1.0, 0.95]);
    // A limiter lets through 1.4 times its class.
    let limiter = device("limiter").expect("a type and a rating");
    assert_eq!((limiter.limits.map(|g| g.value.0), limiter.trip.holds), (Some(2.8), Some(1.0)));
    // Rows of the folder: a band for every rating is no shape assumed; the resistance of every rating, exactly as stated.
    let mine = device("mine").expect("a type and a rating");
    assert_eq!((mine.shape_of, mine.trip.holds, mine.trip.bands.len()), (None, Some(1.1), 2));
    assert_eq!(mine.trip.bands.iter().map(|band| band.ambient.celsius().round()).collect::<Vec<_>>(), [-55.0, 25.0]);
    assert_eq!(mine.interrupts.map(|g| g.value.0), Some(1000.0), "not that of 10 A");
    let ohms = &protector("mine").1.ohms;
    assert_eq!((ohms.low.value.0, ohms.typical.value.0, ohms.high.value.0), (9e-3, 9e-3, 9e-3));
    // Of two ratings with rows the nearer one by its ratio counts, of two as near the smaller one.
    let two = "type,kind,rating_a,holds_percent\ntwo,breaker,5,110\ntwo,breaker,20,130\n";
    for (rating, from, holds) in [(7.5, 5.0, 1.1), (10.0, 5.0, 1.1), (10.1, 20.0, 1.3), (50.0, 20.0, 1.3)] {
        let row = format!(
            "format = 1\n[node.A]\n[node.B]\n[breaker.X]\nline = \"node:A\"\nload = \"node:B\"\nrating = \"{rating} A\"\ndevice = \"two\"\n"
        );
        let design = read(&[("vehicle.toml", &row), ("catalog/devices.csv", two)]);
        let (_, device) = design.device_types.iter().next().expect("a type and a rating");
        assert_eq!((device.shape_of, device.trip.holds), (Some(physics::Ampere(from)), Some(holds)), "{rating}");
    }
    // Colder than all its maker says: the assumed law is noted.
    assert!(mine.shift.is_some() && fuse.shift.is_none(), "a fuse without a band has no times to move");
    assert!(protector("none").1.device.is_none() && protector("open").1.device.is_none());
    assert_eq!(protector("limiter").1.kind, ProtectorKind::Limiter);

    let (_, load) = design.loads.iter().next().expect("a load");
    let values = (load.inrush.map(|g| g.value.0), load.inrush_time.map(|g| g.value.0), load.hold_up.map(|g| g.value.0));
    assert_eq!(values, (Some(20.0), Some(5e-3), Some(50e-3)));
    assert_eq!((load.input_capacitance.map(|g| g.value.0), load.volts_transient.map(|g| g.value.0)), (Some(470e-6), Some(50.0)));
    let again = load.restart;
    assert_eq!(
        (again.can.map(|g| g.value), load.on_at_least.map(|g| g.value.0), load.off_at_most.map(|g| g.value.0)),
        (Some(true), Some(1800.0), Some(7200.0)),
        "a condition says that it comes on again"
    );
    assert_eq!((again.above.map(|g| g.value), again.volts.map(|g| g.value.0)), (Some(physics::Kelvin::from_celsius(-10.0)), Some(26.0)));
    let limits = &design.profile.protection;
    let arc = limits.arc.expect("the shipped profile has it");
    assert_eq!([arc.low, arc.typical, arc.high].map(|g| g.value.0), [12.0, 20.0, 25.0]);
    assert_eq!((limits.clears_within.map(|g| g.value.0), limits.inductance_per_metre.map(|g| g.value)), (Some(10.0), Some(1e-6)));
    let shares = [limits.breaker_share, limits.fuse_share, limits.limiter_share, limits.damage_share].map(|g| g.map(|g| g.value.0));
    assert_eq!(shares, [Some(0.8), Some(0.5), Some(1.0), Some(0.8)]);
    assert_eq!(limits.essential_tier.map(|g| g.value), Some(1));
    let [cold, hot] = design.device_ambient(Id::from_row(0)).map(|g| g.value.celsius());
    assert!((cold + 60.0).abs() < 1e-9 && (hot - 20.0).abs() < 1e-9);
}
