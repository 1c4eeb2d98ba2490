//! A feed over a diode that takes over in the very change that cuts the other one off, against a solution from nothing.

use loomwright_analysis::prepare;
use model::*;

const TOML: &str = "format = 1\nname = \"two-feeds\"\n[node.A]\n[node.B]\n[node.C]\n[node.D]\n[node.L]\n[node.R]\n[ground.G]\nreference = true\n\
    [strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
    [battery.A]\npositive = \"node:A\"\nnegative = \"node:R\"\nemf = \"28.5 V\"\nohms = \"20 mohm\"\n\
    [battery.B]\npositive = \"node:B\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"20 mohm\"\n\
    [link.A]\nfrom = \"node:A\"\nto = \"node:C\"\nohms = \"10 mohm\"\n\
    [relay.B]\nfrom = \"node:B\"\nto = \"node:D\"\nohms = \"10 mohm\"\nstate = \"open\"\n\
    [diode.A]\nanode = \"node:C\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n\
    [diode.B]\nanode = \"node:D\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n\
    [load.X]\nline = \"node:L\"\nreturn = \"node:R\"\npower = \"30 W\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n";

/// The other feed closes as the first one parts: the load draws by its law, wherever the zero of voltage is, and so it is when the factor of the state before is not used.
#[test]
fn a_feed_that_comes_with_the_cut_is_one() {
    let loaded = input::load(&[("vehicle.toml".to_owned(), TOML.as_bytes().to_vec())]);
    let design = loaded.design.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics));
    let prepared = prepare(&design);
    let load = design.loads.ids().next().expect("there is one");
    let [strap, link, relay] = [
        ElementId::Strap(design.straps.ids().next().expect("there is one")),
        ElementId::Link(design.links.ids().next().expect("there is one")),
        ElementId::Switch(design.switches.ids().next().expect("there is one")),
    ];
    for is_floating in [false, true] {
        let mut scenario = Scenario::new(Id::from_row(0), Corner::Low);
        scenario.opened.extend(is_floating.then_some((strap, None)));
        let base = prepared.point(&scenario);
        scenario.opened.push((link, None));
        scenario.switches.push((relay, Commanded::On));
        let near = prepared.near(&base);
        let [expected, ours, afresh] = [prepared.point(&scenario), near.point(&scenario), near.afresh(&scenario)];
        let volts = |point: &Point| point.load_voltage[load].map_or(0.0, |v| v.0);
        // 28 V and half a volt less, less 1.1 A in 35 mohm.
        assert!((volts(&expected) - 27.46).abs() < 0.005, "{}", volts(&expected));
        for (words, point) in [("near", &ours), ("afresh", &afresh)] {
            assert!(
                (volts(point) - volts(&expected)).abs() < 1e-9,
                "{words}, floating {is_floating}: {} of {}",
                volts(point),
                volts(&expected)
            );
            assert!(point.serves(load), "{words}, floating {is_floating}");
        }
    }
}
