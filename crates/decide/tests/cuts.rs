//! Cut sets of functions: against brute force and a general graph library, by hand, and on the wiring of vehicles.

use analysis::{Silent, Stages, run};
use model::*;
use std::collections::BTreeSet;

fn design(files: &[(String, Vec<u8>)]) -> Design {
    let loaded = input::load(files);
    let messages: Vec<String> = loaded.diagnostics.iter().map(|one| one.message.clone()).collect();
    loaded.design.unwrap_or_else(|| panic!("{messages:?}"))
}

fn of_toml(toml: String) -> Design {
    design(&[("vehicle.toml".to_owned(), toml.into_bytes())])
}

/// The cuts of every function, with pairs.
fn cuts(design: &Design) -> CutTable {
    let study = run(design, Stages::default(), &Silent).expect("nobody cancelled");
    let points: Vec<&Point> = study.points.iter().collect();
    loomwright_decide::cuts(&study.prepared, &points, |_| true, true)
}

fn names(design: &Design, elements: &[ElementId]) -> BTreeSet<String> {
    elements.iter().map(|&element| design.element_name(element).1).collect()
}

fn pairs(design: &Design, row: &CutRow) -> BTreeSet<[String; 2]> {
    let mut found = BTreeSet::new();
    for [one, other] in row.pairs.iter().flatten() {
        for a in names(design, one) {
            for b in names(design, other) {
                let mut pair = [a.clone(), b.clone()];
                pair.sort();
                assert!(found.insert(pair), "{a} and {b} stand twice");
            }
        }
    }
    found
}

const BEGIN: &str = "format = 1\nname = \"graph\"\n[node.R]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n";

/// Sixty random graphs of links and diodes: what parts source and load alone and in pairs, and the fewest that do.
///
/// # Source  networkx 3.6.1, maximum flow and reachability: `validation/cut_sets`.
#[test]
fn sixty_graphs_as_networkx_has_them() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../validation/cut_sets");
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect("the case is in the repository");
    let (graphs, expected) = (read("graphs.csv"), read("expected.csv"));
    let rows = |text: &str| -> Vec<Vec<String>> { text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect() };
    let (edges, mut by_size) = (rows(&graphs), [0; 4]);
    for row in rows(&expected) {
        let [graph, nodes, minimum, singles, pairs_expected] = &row[..] else { panic!("{row:?}") };
        let last = nodes.parse::<usize>().expect("a count") - 1;
        let mut toml = BEGIN.to_owned();
        (0..=last).for_each(|node| toml += &format!("[node.n{node}]\n"));
        toml += "[battery.B]\npositive = \"node:n0\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n";
        toml += &format!(
            "[load.X]\nline = \"node:n{last}\"\nreturn = \"node:R\"\nresistance = \"28 ohm\"\n[function.f]\nneeds = [\"load:X\"]\n"
        );
        for edge in edges.iter().filter(|edge| edge[0] == *graph) {
            let [_, name, from, to, kind] = &edge[..] else { panic!("{edge:?}") };
            toml += &match kind.as_str() {
                "diode" => {
                    format!("[diode.{name}]\nanode = \"node:n{from}\"\ncathode = \"node:n{to}\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n")
                }
                _ => format!("[link.{name}]\nfrom = \"node:n{from}\"\nto = \"node:n{to}\"\nohms = \"1 mohm\"\n"),
            };
        }
        let design = of_toml(toml);
        let found = cuts(&design);
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<BTreeSet<_>>();
        let least: usize = minimum.parse().expect("a count");
        by_size[least.min(3)] += 1;
        if least == 0 {
            assert!(found.rows.is_empty(), "graph {graph} has no way");
            continue;
        }
        let [of] = &found.rows[..] else { panic!("graph {graph}: {} rows", found.rows.len()) };
        let mut alone = names(&design, &of.singles);
        assert!(alone.remove("B"), "without its only battery there is no way");
        assert_eq!(alone, words(singles), "graph {graph}");
        let both: BTreeSet<String> = pairs(&design, of).into_iter().map(|[a, b]| format!("{a}+{b}")).collect();
        assert_eq!(both, words(pairs_expected), "graph {graph}");
        assert_eq!((least == 1, least == 2), (!alone.is_empty(), alone.is_empty() && !both.is_empty()), "graph {graph}");
    }
    assert!(by_size.iter().all(|n| *n >= 5), "graphs without a way, and with cuts of one, two and more: {by_size:?}");
}

/// Whether current can come to a line and go from a return without some elements: plain recursion over the tables, nothing of the program.
fn served(design: &Design, [line, back]: [End; 2], gone: &[ElementId]) -> bool {
    fn goes(design: &Design, from: End, up: bool, gone: &[ElementId], seen: &mut BTreeSet<End>) -> bool {
        let stays = |element: ElementId| !gone.contains(&element);
        if !seen.insert(from) {
            return false;
        }
        let is_end = |source: &Source| if up { source.positive.value == from } else { source.negative.value == from };
        if design.batteries.iter().any(|(id, source)| stays(ElementId::Source(id)) && is_end(source)) {
            return true;
        }
        let mut beyond: Vec<End> = Vec::new();
        for (_, link) in design.links.iter().filter(|(id, _)| stays(ElementId::Link(*id))) {
            let (a, b) = (link.from.value, link.to.value);
            beyond.extend([(a, b), (b, a)].into_iter().filter(|(near, _)| *near == from).map(|(_, far)| far));
        }
        for (_, diode) in design.diodes.iter().filter(|(id, _)| stays(ElementId::Diode(*id))) {
            let (near, far) = if up { (diode.cathode.value, diode.anode.value) } else { (diode.anode.value, diode.cathode.value) };
            beyond.extend((near == from).then_some(far));
        }
        for (id, row) in design.converters.iter().filter(|(id, _)| stays(ElementId::Converter(*id))) {
            let (near, far) = if up { (row.output.value, row.line.value) } else { (row.output_return.value, row.line_return.value) };
            let without: Vec<ElementId> = gone.iter().copied().chain([ElementId::Converter(id)]).collect();
            beyond.extend((near == from && served(design, [row.line.value, row.line_return.value], &without)).then_some(far));
        }
        beyond.into_iter().any(|end| goes(design, end, up, gone, seen))
    }
    goes(design, line, true, gone, &mut BTreeSet::new()) && goes(design, back, false, gone, &mut BTreeSet::new())
}

fn works(design: &Design, need: &Need, gone: &[ElementId]) -> bool {
    match need {
        Need::One(Given { value: Subject::Element(ElementId::Load(load)), .. }) => {
            let row = &design.loads[*load];
            served(design, [row.line.value, row.line_return.value], gone)
        }
        Need::One(_) | Need::Path(_) => true,
        Need::All(list) => list.iter().all(|need| works(design, need, gone)),
        Need::AtLeast(least, list) => list.iter().filter(|need| works(design, need, gone)).count() >= *least as usize,
    }
}

/// A hundred and twenty random systems of two sources, returns of their own, diodes and a converter, with needs of every form: every element and every pair by
/// taking them away one after the other.
#[test]
fn random_systems_by_brute_force() {
    let mut state = 20_261_127_u64;
    let mut dice = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let needs = [
        r#"["load:X"]"#,
        r#"["load:X", "load:Y"]"#,
        r#"[{ any = ["load:X", "load:Y", "load:Z"] }]"#,
        r#"[{ at_least = 2, of = ["load:X", "load:Y", "load:Z"] }]"#,
        r#"[{ any = [["load:X", "load:Y"], "load:Z"] }]"#,
    ];
    let (mut with_pairs, mut with_converter, mut without) = (0, 0, 0);
    for system in 0..120 {
        let mut toml = BEGIN.to_owned();
        ["n0", "n1", "n2", "n3", "n4", "n5", "c", "d", "r0", "r1", "r2"].iter().for_each(|node| toml += &format!("[node.{node}]\n"));
        for (name, line, back) in [("A", "n0", "r0"), ("B", "n1", "r1")] {
            toml +=
                &format!("[battery.{name}]\npositive = \"node:{line}\"\nnegative = \"node:{back}\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n");
        }
        toml += "[converter.K]\nline = \"node:n2\"\nreturn = \"node:r2\"\noutput = \"node:c\"\noutput_return = \"node:d\"\nemf = \"28 V\"\n\
                 ohms = \"10 mohm\"\nefficiency = \"90 %\"\n";
        let lines = ["n0", "n1", "n2", "n3", "n4", "n5", "c"];
        let returns = ["r0", "r1", "r2", "R", "d"];
        for at in 0..6 + dice(6) {
            let (a, b) = (dice(lines.len()), dice(lines.len()));
            if a != b {
                toml += &match dice(3) {
                    0 => format!(
                        "[diode.e{at}]\nanode = \"node:{}\"\ncathode = \"node:{}\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n",
                        lines[a], lines[b]
                    ),
                    _ => format!("[link.e{at}]\nfrom = \"node:{}\"\nto = \"node:{}\"\nohms = \"1 mohm\"\n", lines[a], lines[b]),
                };
            }
        }
        for at in 0..4 + dice(4) {
            let (a, b) = (dice(returns.len()), dice(returns.len()));
            if a != b {
                toml += &format!("[link.b{at}]\nfrom = \"node:{}\"\nto = \"node:{}\"\nohms = \"1 mohm\"\n", returns[a], returns[b]);
            }
        }
        for name in ["X", "Y", "Z"] {
            let (line, back) = (lines[2 + dice(5)], returns[dice(returns.len())]);
            toml += &format!("[load.{name}]\nline = \"node:{line}\"\nreturn = \"node:{back}\"\nresistance = \"280 ohm\"\n");
        }
        for (at, need) in needs.iter().enumerate() {
            toml += &format!("[function.f{at}]\nneeds = {need}\n");
        }
        let design = of_toml(toml);
        let found = cuts(&design);
        let elements: Vec<ElementId> = (design.links.ids().map(ElementId::Link))
            .chain(design.diodes.ids().map(ElementId::Diode))
            .chain(design.converters.ids().map(ElementId::Converter))
            .chain(design.batteries.ids().map(ElementId::Source))
            .collect();
        for (id, function) in design.functions.iter() {
            let row = found.rows.iter().find(|row| row.function == id);
            let works = |gone: &[ElementId]| works(&design, &function.need, gone);
            if !works(&[]) {
                assert!(row.is_none(), "system {system}, {}", function.name);
                without += 1;
                continue;
            }
            let row = row.unwrap_or_else(|| panic!("system {system}: {} works", function.name));
            let alone: Vec<ElementId> = elements.iter().copied().filter(|&one| !works(&[one])).collect();
            assert_eq!(names(&design, &row.singles), names(&design, &alone), "system {system}, {}", function.name);
            let rest: Vec<ElementId> = elements.iter().copied().filter(|one| !alone.contains(one)).collect();
            let mut both: BTreeSet<[String; 2]> = BTreeSet::new();
            for (at, &a) in rest.iter().enumerate() {
                for &b in rest[at + 1..].iter().filter(|&&b| !works(&[a, b])) {
                    let mut pair = [a, b].map(|element| design.element_name(element).1);
                    pair.sort();
                    both.insert(pair);
                }
            }
            with_pairs += usize::from(!both.is_empty());
            with_converter += usize::from(alone.iter().any(|one| matches!(one, ElementId::Converter(_))));
            assert_eq!(pairs(&design, row), both, "system {system}, {}", function.name);
        }
    }
    assert!(
        with_pairs > 30 && with_converter > 12 && without > 30,
        "{with_pairs} with pairs, {with_converter} over the converter, {without} without a way"
    );
}

/// Two feeds of one load from two breakers, which share a segment of 2 m on a ring with a wire of another load. What the segment takes, and the way round, by hand: from P over the
/// other side 3 m + 1 m instead of 2 m.
#[test]
fn what_two_feeds_share_by_hand() {
    let vehicle = |second_by: &str, back_by: &str, beside: &str, more: &str| {
        let toml = format!(
            "{BEGIN}[bus.A]\nreturn = \"node:R\"\n[battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
             [unit.P]\nbreakout = \"p\"\n[unit.Q]\nbreakout = \"q\"\n[connector.PA]\nunit = \"P\"\nkind = \"terminals\"\n[connector.QA]\nunit = \"Q\"\nkind = \"terminals\"\n\
             [breaker.F1]\nline = \"bus:A\"\nload = \"PA.1\"\nrating = \"5 A\"\nohms = \"10 mohm\"\n[breaker.F2]\nline = \"bus:A\"\nload = \"PA.2\"\nrating = \"5 A\"\nohms = \"10 mohm\"\n\
             [link.r]\nfrom = \"PA.3\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[link.s]\nfrom = \"QA.1\"\nto = \"QA.2\"\nohms = \"1 mohm\"\n\
             [load.X]\nline = \"QA.1\"\nreturn = \"QA.3\"\nresistance = \"28 ohm\"\n\
             [link.t]\nfrom = \"bus:A\"\nto = \"PA.4\"\nohms = \"1 mohm\"\n[load.Y]\nline = \"QA.4\"\nreturn = \"QA.3\"\nresistance = \"28 ohm\"\n[function.f]\nneeds = [\"load:X\"]\nsurvives = 1\n\
             [breakout.p]\n[breakout.q]\n[breakout.far]\n[breakout.low]\n\
             [segment.near]\nfrom = \"p\"\nto = \"q\"\nlength = \"2 m\"\n{beside}[segment.up]\nfrom = \"p\"\nto = \"far\"\nlength = \"3 m\"\n\
             [segment.down]\nfrom = \"far\"\nto = \"q\"\nlength = \"1 m\"\n\
             [segment.low1]\nfrom = \"p\"\nto = \"low\"\nlength = \"2.5 m\"\n[segment.low2]\nfrom = \"low\"\nto = \"q\"\nlength = \"2.5 m\"\n{more}"
        );
        let list = format!(
            "wire,from,to,gauge_awg,via\nW1,PA.1,QA.1,20,\nW2,PA.2,QA.2,20,{second_by}\nW3,PA.3,QA.3,20,{back_by}\nW4,PA.4,QA.4,20,\n"
        );
        let design = design(&[("vehicle.toml".to_owned(), toml.into_bytes()), ("wires.csv".to_owned(), list.into_bytes())]);
        let row = cuts(&design).rows.remove(0);
        (design, row)
    };
    let (together, row) = vehicle("", "far", "", "");
    assert_eq!(names(&together, &row.singles), ["A", "W3", "r"].map(str::to_owned).into());
    let shared: Vec<(String, BTreeSet<String>)> =
        row.common.iter().map(|cause| (together.subject_name(cause.item).1, names(&together, &cause.takes))).collect();
    assert_eq!(shared, [("near".to_owned(), BTreeSet::from(["W1".to_owned(), "W2".to_owned()]))]);
    let detour = row.common[0].detour.as_ref().expect("there is a way round");
    assert_eq!(together.wires[detour.wire].name.to_string(), "W1");
    assert_eq!(detour.segments.iter().map(|&id| together.segments[id].name.to_string()).collect::<Vec<_>>(), ["up", "down"]);
    assert!((detour.longer.0 - 2.0).abs() < 1e-12, "{:?}", detour.longer);
    // Laid apart, they share nothing that is not a single point of the return anyway.
    let (_, row) = vehicle("far", "low", "", "");
    assert_eq!(row.common, []);
    // One clamp on both ways, or both so close that one blow takes them: W1 would have to go 5 m instead of 2 m over the third way, W2 5 m instead of 4 m.
    let clamp = "[clamp.C]\nsegment = \"near\"\nwith = [\"up\"]\nkind = \"clamp\"\nat = \"1 m\"\n";
    for (beside, more, item, other) in [("", clamp, "C", None), ("beside = [\"up\"]\n", "", "near", Some("up"))] {
        let (tied, row) = vehicle("far", "low", beside, more);
        let [cause] = &row.common[..] else { panic!("{:?}", row.common) };
        assert_eq!(
            (tied.subject_name(cause.item).1.as_str(), cause.beside.map(|id| tied.segments[id].name.to_string()).as_deref()),
            (item, other)
        );
        assert_eq!(names(&tied, &cause.takes), BTreeSet::from(["W1".to_owned(), "W2".to_owned()]));
        let detour = cause.detour.as_ref().expect("there is a third way");
        assert_eq!(tied.wires[detour.wire].name.to_string(), "W2");
        assert_eq!(detour.segments.iter().map(|&id| tied.segments[id].name.to_string()).collect::<Vec<_>>(), ["low1", "low2"]);
        assert!((detour.longer.0 - 1.0).abs() < 1e-12, "{:?}", detour.longer);
    }
}
