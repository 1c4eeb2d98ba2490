//! Rules on bundles, each at its limit in one harness that can be worked by hand, and on both sides of it.

use crate::*;

/// Seven wires of 1 mm along two segments: 3 mm packed. S1 has a clamp of 3 mm and a hole without a grommet of 3 + 2 · 9.525 = 22.05 mm, and
/// is bent at 6 · 3 = 18 mm; S2 has a sleeve of 0.5 mm, so measures 4 mm and is bent at 24 mm. From J1 to the clamp it is 0.2 m, from there
/// to J3 0.2 + 0.41 = 0.61 m. Ties every 19.1 mm. Laid down from B1 on, J3 goes through the hole. Every rule is at its limit.
const HARNESS: &str = r#"
format = 1
end_allowance = "0 m"
slack = "0 %"
tie_pitch = "19.1 mm"
[breakout.B1]
[breakout.B2]
[breakout.B3]
[covering.K1]
kind = "sleeve"
thickness = "0.5 mm"
[segment.S1]
from = "B1"
to = "B2"
length = "0.4 m"
bend = "18 mm"
[segment.S2]
from = "B2"
to = "B3"
length = "0.41 m"
bend = "24 mm"
coverings = ["K1"]
[connector.J1]
contact = "20"
cavities = 9
breakout = "B1"
shell = "30 mm"
[connector.J3]
contact = "20"
cavities = 9
breakout = "B3"
shell = "22.05 mm"
[clamp.C1]
segment = "S1"
kind = "clamp"
at = "0.2 m"
bore = "3 mm"
[clamp.H1]
segment = "S1"
kind = "hole"
at = "0.1 m"
bore = "22.05 mm"
grommet = false
[near.N1]
segment = "S1"
kind = "fuel-line"
distance = "152.4 mm"
[near.N2]
segment = "S2"
kind = "sharp-edge"
distance = "10 mm"
"#;

const TYPES: &str = "type,family,gauge_awg,area_mm2,max_ohm_per_km,od_mm\none,etfe,20,0.5,40,1.0\ntape,polyimide-tape,20,0.5,40,1.0\n\
                     both,ptfe-polyimide,20,0.5,40,1.0\nplain,,20,0.5,40,1.0\nno-od,etfe,20,0.5,40,\n";

fn wires() -> String {
    // Pinned, so that a tight clamp does not send them elsewhere.
    let rows: String = (1..=7).map(|n| format!("W{n},J1.{n},J3.{n},one,20,,S1 S2\n")).collect();
    format!("wire,from,to,type,gauge_awg,cable,via\n{rows}")
}

/// The harness with texts in place of others, each in the vehicle or the wire list.
pub(crate) fn bundled(changes: &[(&str, &str)]) -> (Design, Verdict) {
    let mut files = [HARNESS.to_owned(), wires()];
    for (from, to) in changes {
        let file = files.iter_mut().find(|file| file.contains(from)).unwrap_or_else(|| panic!("no file holds {from:?}"));
        *file = file.replacen(from, to, 1);
    }
    judge_files(&[("vehicle.toml", &files[0]), ("wires.csv", &files[1]), ("catalog/wires.csv", TYPES)], None)
}

fn bn(verdict: &Verdict) -> Vec<&str> {
    verdict.findings.iter().filter(|finding| finding.rule.0.starts_with("BN-")).map(|finding| finding.id.as_str()).collect()
}

fn bn_not_judged(design: &Design, verdict: &Verdict) -> Vec<(String, String)> {
    not_judged(design, verdict).into_iter().filter(|(id, _)| id.starts_with("BN-")).collect()
}

#[test]
fn everything_at_its_limit_passes() {
    let (design, verdict) = bundled(&[]);
    assert!(bn(&verdict).is_empty(), "{:?}", bn(&verdict));
    assert!(bn_not_judged(&design, &verdict).is_empty(), "{:?}", bn_not_judged(&design, &verdict));
    let expected = [
        ("BN-01", "clamp:C1", Bound::AtMost, 3e-3),
        ("BN-02", "hole:H1", Bound::AtLeast, 9.525e-3),
        ("BN-03", "segment:S1", Bound::AtLeast, 18e-3),
        ("BN-03", "segment:S2", Bound::AtLeast, 24e-3),
        ("BN-04", "hole:H1", Bound::AtMost, 22.05e-3),
        ("BN-05", "segment:S1", Bound::AtMost, 0.61),
        ("BN-06", "segment:S1", Bound::AtMost, 19.1e-3),
        ("BN-07", "near:N1", Bound::AtLeast, 152.4e-3),
        ("BN-07", "near:N2", Bound::AtLeast, 10e-3),
    ];
    for (rule, subject, bound, both) in expected {
        let margin = margin_of(&design, &verdict, rule, subject, bound);
        assert!((margin.value - both).abs() < 1e-9 && (margin.limit - both).abs() < 1e-9, "{margin:?}");
        assert!(margin.state.is_none() && margin.failing.is_empty(), "{margin:?}");
    }
    let counts = ["BN-01", "BN-02", "BN-03", "BN-04", "BN-05", "BN-06", "BN-07"].map(|rule| counted(&verdict, rule));
    assert_eq!(counts, [2, 1, 2, 1, 2, 1, 2]);
}

/// A hundredth beyond each limit, and what is found then.
#[test]
fn each_limit_from_the_other_side() {
    let cases: [(&str, &str, &[&str]); 10] = [
        ("bore = \"3 mm\"", "bore = \"2.99 mm\"", &["BN-01/clamp:C1"]),
        // The clearance is 0.005 mm less, and J3 does not go through either.
        ("bore = \"22.05 mm\"", "bore = \"22.04 mm\"", &["BN-02/hole:H1", "BN-04/hole:H1"]),
        ("bend = \"18 mm\"", "bend = \"17.9 mm\"", &["BN-03/segment:S1"]),
        ("bend = \"24 mm\"", "bend = \"23.9 mm\"", &["BN-03/segment:S2"]),
        // A thicker sleeve: 6 · 4.02 mm.
        ("thickness = \"0.5 mm\"", "thickness = \"0.51 mm\"", &["BN-03/segment:S2"]),
        ("shell = \"22.05 mm\"", "shell = \"22.06 mm\"", &["BN-04/hole:H1"]),
        ("length = \"0.41 m\"", "length = \"0.42 m\"", &["BN-05/segment:S1"]),
        ("tie_pitch = \"19.1 mm\"", "tie_pitch = \"19.2 mm\"", &["BN-06/segment:S1"]),
        ("distance = \"152.4 mm\"", "distance = \"152 mm\"", &["BN-07/near:N1"]),
        ("distance = \"10 mm\"", "distance = \"9.9 mm\"", &["BN-07/near:N2"]),
    ];
    for (from, to, expected) in cases {
        let (design, verdict) = bundled(&[(from, to)]);
        assert_eq!(bn(&verdict), expected, "{to}");
        assert!(bn_not_judged(&design, &verdict).is_empty(), "{to}");
    }
}

/// The most sensitive member governs: one of polyimide tape, alone or under PTFE, asks for 10 diameters of the bundle, 30 and 40 mm; a
/// coaxial cable of 2 mm for 6 of its own, less than the bundle's; one of 9 mm for 54 mm.
#[test]
fn the_most_sensitive_member_sets_the_bend() {
    let limit = |changes: &[(&str, &str)]| {
        let (design, verdict) = bundled(changes);
        (margin_of(&design, &verdict, "BN-03", "segment:S1", Bound::AtLeast).limit * 1e3).round()
    };
    for kind in ["tape", "both"] {
        assert_eq!(limit(&[("W4,J1.4,J3.4,one", &format!("W4,J1.4,J3.4,{kind}"))]), 30.0, "{kind}");
    }
    // Six circles of 1 mm and one of 9: side by side 10 mm across, 6 · 10 of the bundle.
    let coax = |od: &str| {
        limit(&[
            ("W4,J1.4,J3.4,one,20,,", "W4,J1.4,J3.4,one,20,C,"),
            ("[near.N1]", &format!("[cable.C]\nkind = \"coaxial\"\nod = \"{od}\"\n[near.N1]")),
        ])
    };
    assert_eq!(coax("9 mm"), 60.0);
    // Alone, the member's own diameter counts.
    let rows: Vec<String> = [1, 2, 3, 5, 6, 7].iter().map(|n| format!("W{n},J1.{n},J3.{n},one,20,,S1 S2\n")).collect();
    let mut changes: Vec<(&str, &str)> = rows.iter().map(|row| (row.as_str(), "")).collect();
    changes.extend([
        ("W4,J1.4,J3.4,one,20,,", "W4,J1.4,J3.4,one,20,C,"),
        ("[near.N1]", "[cable.C]\nkind = \"coaxial\"\nod = \"9 mm\"\n[near.N1]"),
    ]);
    changes.push(("coverings = [\"K1\"]\n", ""));
    assert_eq!(limit(&changes), 54.0);
}

/// With the aircraft profile a bend is 10 diameters of the largest member, 10 mm, whatever the bundle measures; ties are needed where clamps
/// are more than 304.8 mm apart.
#[test]
fn the_aircraft_profile() {
    let aircraft = ("format = 1", "format = 1\nprofile = \"aircraft-28v\"");
    let (design, verdict) = bundled(&[aircraft]);
    assert!((margin_of(&design, &verdict, "BN-03", "segment:S2", Bound::AtLeast).limit - 10e-3).abs() < 1e-9);
    let loose = ("tie_pitch = \"19.1 mm\"", "tie_pitch = \"90 mm\"");
    // 0.2 m to the clamp, 0.1 + 0.2 m from it: 0.3048 m at the most.
    let clamps = |length: &'static str| {
        [aircraft, loose, ("at = \"0.2 m\"\nbore = \"3 mm\"", "at = \"0.3 m\"\nbore = \"3 mm\""), ("length = \"0.41 m\"", length)]
    };
    assert!(bn(&bundled(&clamps("length = \"0.2048 m\"")).1).is_empty());
    assert_eq!(bn(&bundled(&clamps("length = \"0.205 m\"")).1), ["BN-06/segment:S1"]);
}

/// A duct holds a segment all along and its wires together; what lies in it is judged by neither rule.
#[test]
fn a_duct_holds_all_along() {
    let (_, verdict) = bundled(&[
        ("bend = \"18 mm\"", "bend = \"18 mm\"\nduct = true"),
        ("length = \"0.41 m\"", "length = \"0.3 m\""),
        ("tie_pitch = \"19.1 mm\"", "tie_pitch = \"90 mm\""),
    ]);
    assert!(bn(&verdict).is_empty(), "{:?}", bn(&verdict));
}

/// Ties listed one by one: at 0, 19 and 38 mm of the first 38 mm of a segment of 0.4 m; the rest, 0.162 m to the clamp, has none.
#[test]
fn single_ties() {
    let tie = |n: usize, at: &str| format!("[clamp.T{n}]\nsegment = \"S1\"\nkind = \"tie\"\nat = \"{at}\"\n");
    let ties = tie(1, "0 m") + &tie(2, "19 mm") + &tie(3, "38 mm") + "[near.N1]";
    let (design, verdict) = bundled(&[("tie_pitch = \"19.1 mm\"\n", ""), ("[near.N1]", &ties)]);
    let margin = margin_of(&design, &verdict, "BN-06", "segment:S1", Bound::AtMost);
    assert!((margin.value - 0.2).abs() < 1e-9, "from the clamp to the end: {margin:?}");
    // A segment that ends with the last of them.
    let (design, verdict) = bundled(&[
        ("tie_pitch = \"19.1 mm\"\n", ""),
        ("[near.N1]", &ties),
        ("length = \"0.4 m\"", "length = \"40 mm\""),
        ("at = \"0.1 m\"", "at = \"20 mm\""),
        ("at = \"0.2 m\"", "at = \"25 mm\""),
    ]);
    let margin = margin_of(&design, &verdict, "BN-06", "segment:S1", Bound::AtMost);
    assert!((margin.value - 19e-3).abs() < 1e-9, "{margin:?}");
}

/// What has a grommet needs no clearance; what is far from the edge needs no word about one.
#[test]
fn grommets() {
    let (_, verdict) = bundled(&[
        ("grommet = false", "grommet = true"),
        ("bore = \"22.05 mm\"", "bore = \"22.04 mm\""),
        ("shell = \"22.05 mm\"", "shell = \"22 mm\""),
    ]);
    assert!(bn(&verdict).is_empty());
    let (design, verdict) = bundled(&[("grommet = false\n", "")]);
    assert!(bn(&verdict).is_empty() && bn_not_judged(&design, &verdict).is_empty());
}

/// A straight segment has no bend; one with a stated length may have, and is to say so.
#[test]
fn a_straight_segment_has_no_bend() {
    let straight = [
        ("[breakout.B1]", "[breakout.B1]\nat = [\"0 m\", \"0 m\", \"0 m\"]"),
        ("[breakout.B2]", "[breakout.B2]\nat = [\"0.4 m\", \"0 m\", \"0 m\"]"),
        ("length = \"0.4 m\"\nbend = \"18 mm\"\n", ""),
    ];
    let (design, verdict) = bundled(&straight);
    assert!(bn(&verdict).is_empty() && bn_not_judged(&design, &verdict).is_empty());
    assert_eq!(counted(&verdict, "BN-03"), 1, "S2 alone");
}

/// A segment for which nothing is declared near is named, and the profile does not ask for it; one without wires is no subject of any rule.
#[test]
fn nothing_declared_near() {
    let (design, verdict) = bundled(&[("[near.N2]\nsegment = \"S2\"", "[near.N2]\nsegment = \"S1\"")]);
    let rows: Vec<&NotJudged> = verdict.not_judged.iter().filter(|row| row.rule.0 == "BN-07").collect();
    assert_eq!(rows.iter().map(|row| design.subject_words(row.subject)).collect::<Vec<_>>(), ["segment:S2"]);
    assert!(!rows[0].required && rows[0].missing == "near");
    let empty = "[breakout.B4]\n[segment.S3]\nfrom = \"B3\"\nto = \"B4\"\nlength = \"2 m\"\n[clamp.C3]\nsegment = \"S3\"\nkind = \"clamp\"\n[near.N1]";
    let (design, verdict) = bundled(&[("[near.N1]", empty)]);
    assert!(bn_not_judged(&design, &verdict).is_empty(), "{:?}", bn_not_judged(&design, &verdict));
}

/// A user's rows take the place of shipped ones: bends of the practice and insulation they name, all clamps.
#[test]
fn own_practice() {
    let bends = "practice,insulation,of,minimum_diameters\nspace,other,member,5\n";
    let pitch = "what,bundle_to_mm,pitch_mm\nclamp,2.9,100\nclamp,3,650\nclamp,,700\n";
    let files = [
        ("vehicle.toml", HARNESS),
        ("wires.csv", &wires()),
        ("catalog/wires.csv", TYPES),
        ("catalog/bend-radii.csv", bends),
        ("catalog/support-pitch.csv", pitch),
    ];
    let (design, verdict) = judge_files(&files, None);
    assert!((margin_of(&design, &verdict, "BN-03", "segment:S2", Bound::AtLeast).limit - 5e-3).abs() < 1e-9);
    assert!((margin_of(&design, &verdict, "BN-05", "segment:S1", Bound::AtMost).limit - 0.65).abs() < 1e-9);
    assert!((margin_of(&design, &verdict, "BN-06", "segment:S1", Bound::AtMost).limit - 19.1e-3).abs() < 1e-9, "ties stay as shipped");
}
