//! Pairs of faults: by hand, and the screen against each sequence followed by itself, on three vehicles small enough for it.

use analysis::{Prepared, Silent, Stages, run};
use loomwright_decide as decide;
use decide::PairScreen;
use model::*;
use std::collections::{BTreeMap, BTreeSet};

fn design(files: &[(String, Vec<u8>)]) -> Design {
    let loaded = input::load(files);
    let messages: Vec<String> = loaded.diagnostics.iter().map(|one| one.message.clone()).collect();
    loaded.design.unwrap_or_else(|| panic!("{messages:?}"))
}

/// The fast breaker of the federal supply catalogue, NSN 5925-00-226-0377 (read), made for 5 A and 25 A.
const QUICK: [(&str, &str); 2] = [
    ("catalog/devices.csv", "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nquick,breaker,,115,138,500\n"),
    (
        "catalog/trip-bands.csv",
        "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\n\
         quick,5,25,138,,3600\nquick,5,25,200,0.38,2.5\nquick,5,25,1000,0.02,0.12\n\
         quick,25,25,138,,3600\nquick,25,25,200,0.38,2.5\nquick,25,25,1000,0.02,0.12\n",
    ),
];

fn of_text(toml: &str, wires: &str) -> Design {
    let files = [("vehicle.toml", toml), ("wires.csv", wires)].into_iter().chain(QUICK);
    design(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())).collect::<Vec<_>>())
}

/// Two buses with a tie that an operator may close, a breaker for each load, or-ing diodes to an essential point, loads that let go, one of them for good and one until it is
/// commanded, and a function that needs two loads of three.
fn two_buses() -> Design {
    let mut toml = String::from(
        "format = 1\nname = \"two-buses\"\n[node.R]\n[node.E]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
         [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n[phase.two]\nambient = \"25 degC\"\nduration = \"2 h\"\noff = [\"load:A2\"]\n\
         [tie.K]\nfrom = \"bus:A\"\nto = \"bus:B\"\nohms = \"1 mohm\"\nstate = \"open\"\n\
         [action.tie]\nclosed = [\"tie:K\"]\nwho = \"operator\"\ndelay = \"10 s\"\n",
    );
    let mut wires = String::from("wire,from,to,gauge_awg,length\n");
    let mut pin = 0;
    for bus in ["A", "B"] {
        toml += &format!("[bus.{bus}]\nreturn = \"node:R\"\n[battery.{bus}]\npositive = \"bus:{bus}\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"40 mohm\"\n");
        let loads = [
            ("1", "power = \"40 W\"\ndrop_out = \"18 V\"\nreturn_above = \"20 V\"\n[load.X.restart]\ncan = false\n", "5 A"),
            ("2", "resistance = \"14 ohm\"\n", "5 A"),
        ];
        for (name, demand, rating) in loads {
            pin += 1;
            toml += &format!(
                "[breaker.{bus}{name}]\nline = \"bus:{bus}\"\nload = \"P.{pin}\"\nohms = \"5 mohm\"\nrating = \"{rating}\"\ndevice = \"quick\"\n\
                 [load.{bus}{name}]\nline = \"Q.{pin}\"\nreturn = \"Q.{}\"\nvolts_min = \"22 V\"\nvolts_max = \"32 V\"\n{}",
                pin + 20,
                demand.replace("\n[load.X.restart]\ncan = false\n", if bus == "A" { "\nrestart = \"no\"\n" } else { "\n" }),
            );
            toml += &format!("[link.r{pin}]\nfrom = \"P.{}\"\nto = \"node:R\"\nohms = \"1 mohm\"\n", pin + 20);
            wires += &format!("W{bus}{name},P.{pin},Q.{pin},20,4 m\nR{bus}{name},P.{},Q.{},20,4 m\n", pin + 20, pin + 20);
        }
        pin += 1;
        toml += &format!(
            "[link.d{bus}]\nfrom = \"bus:{bus}\"\nto = \"P.{pin}\"\nohms = \"1 mohm\"\n\
             [diode.{bus}]\nanode = \"Q.{pin}\"\ncathode = \"node:E\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n"
        );
        wires += &format!("D{bus},P.{pin},Q.{pin},20,3 m\n");
    }
    toml += "[link.e]\nfrom = \"Q.30\"\nto = \"Q.31\"\nohms = \"1 mohm\"\n[link.f]\nfrom = \"P.30\"\nto = \"node:R\"\nohms = \"1 mohm\"\n\
             [load.E]\nline = \"node:E\"\nreturn = \"Q.31\"\npower = \"30 W\"\ndrop_out = \"16 V\"\nreturn_above = \"18 V\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n\
             hold_up = \"50 ms\"\nrestart = \"command\"\n\
             [function.essential]\nneeds = [\"load:E\"]\nsurvives = 1\ntier = 1\n\
             [function.either]\nneeds = [{ any = [\"load:A1\", \"load:B1\"] }]\nsurvives = 2\ntier = 1\n\
             [function.two]\nneeds = [{ at_least = 2, of = [\"load:A1\", \"load:B1\", \"load:B2\"] }]\nsurvives = 1\n\
             [function.warm]\nneeds = [\"load:A2\"]\nsurvives = 0\n\
             [monitor.M]\nwatches = \"breaker:A1\"\nwhat = \"state\"\n";
    wires += "RE,P.30,Q.30,18,4 m\n";
    of_text(&toml, &wires)
}

#[test]
fn probe() {
    for (name, design) in [("two", two_buses())] {
        let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
        decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
            let phases: Vec<_> = design.phases.ids().collect();
            for screen in [PairScreen::OneOfAlike, PairScreen::Off] {
                let t = std::time::Instant::now();
                let table = sweep.pairs(|_| true, &phases, screen, &Silent);
                println!("{name} {screen:?} {} {:?} starts {} states {} rows {} {:?}", table.faults.len(), table.sequences, table.starts, table.states, table.rows.len(), t.elapsed());
            }
        });
    }
    let _ = (BTreeMap::<u8, u8>::new(), BTreeSet::<u8>::new());
    let _: Option<&Prepared> = None;
}
