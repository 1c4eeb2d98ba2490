//! Pairs of faults: by hand, and the screen against each sequence followed by itself, on three vehicles small enough for it.

use analysis::{Prepared, Silent, Stages, run};
use decide::PairScreen;
use loomwright_decide as decide;
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
        toml += &format!(
            "[bus.{bus}]\nreturn = \"node:R\"\n[battery.{bus}]\npositive = \"bus:{bus}\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"40 mohm\"\n"
        );
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

/// Two feeds over the contacts of a mated pair and one harness to a load and a converter behind diodes, two returns, a signal with two ways, a sensor in a loop of its own;
/// in the second phase one feed is off, and a controller may close it.
fn over_contacts() -> Design {
    let mut toml = String::from(
        "format = 1\nname = \"contacts\"\n[node.R]\n[node.L]\n[node.M]\n[node.V]\n[node.SA]\n[node.SB]\n[node.T]\n[node.C]\n[node.SP]\n[node.SN]\n[node.RP]\n[node.RN]\n\
         [ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
         [breakout.A]\n[breakout.B]\n[segment.AB]\nfrom = \"A\"\nto = \"B\"\nlength = \"3 m\"\n\
         [unit.P]\nbreakout = \"A\"\n[unit.Q]\nbreakout = \"B\"\n\
         [connector.J]\nunit = \"P\"\nkind = \"crimp\"\ncontact = \"20\"\ngender = \"sockets\"\n[connector.H]\nmate = \"J\"\nkind = \"crimp\"\ncontact = \"20\"\ngender = \"pins\"\nbreakout = \"A\"\n\
         [connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n[phase.two]\nambient = \"25 degC\"\nduration = \"1 h\"\nopen = [\"breaker:B\"]\n\
         [action.other]\nclosed = [\"breaker:B\"]\nwho = \"automatic\"\ndelay = \"1 s\"\nphases = [\"two\"]\n",
    );
    for (n, bus, volts) in [(1, "A", 28.5), (2, "B", 28.0)] {
        toml += &format!(
            "[bus.{bus}]\nreturn = \"node:R\"\n[battery.{bus}]\npositive = \"bus:{bus}\"\nnegative = \"node:R\"\nemf = \"{volts} V\"\nohms = \"20 mohm\"\n\
             [breaker.{bus}]\nline = \"bus:{bus}\"\nload = \"J.{n}\"\nohms = \"5 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
             [diode.{bus}]\nanode = \"Q.{n}\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n"
        );
    }
    for (n, inner, outer) in [(3, "R", "M"), (4, "R", "M"), (5, "SA", "SB"), (6, "SA", "SB"), (7, "RP", "SP")] {
        toml += &format!(
            "[link.p{n}]\nfrom = \"J.{n}\"\nto = \"node:{inner}\"\nohms = \"1 mohm\"\n[link.q{n}]\nfrom = \"Q.{n}\"\nto = \"node:{outer}\"\nohms = \"1 mohm\"\n"
        );
    }
    toml += "[load.X]\nline = \"node:L\"\nreturn = \"node:M\"\npower = \"30 W\"\ndrop_out = \"18 V\"\nreturn_above = \"20 V\"\nhold_up = \"30 ms\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n\
             [converter.V]\nline = \"node:L\"\nreturn = \"node:M\"\noutput = \"node:V\"\noutput_return = \"node:M\"\nemf = \"12 V\"\nohms = \"50 mohm\"\nefficiency = \"90 %\"\nquiescent = \"1 W\"\ndrop_out = \"14 V\"\nreturn_above = \"16 V\"\n\
             [load.Y]\nline = \"node:V\"\nreturn = \"node:M\"\nresistance = \"24 ohm\"\nvolts_min = \"10 V\"\nvolts_max = \"14 V\"\n\
             [receiver.RX]\npositive = \"node:RP\"\nnegative = \"node:RN\"\ninput_ohms = \"1 Mohm\"\n\
             [sensor.S]\nkind = \"rtd\"\nwires = 4\nreceiver = \"RX\"\npositive = \"node:T\"\nnegative = \"node:C\"\nsense_positive = \"node:SP\"\nsense_negative = \"node:SN\"\n\
             ice_point_ohms = \"100 ohm\"\nalpha = \"0.385 %/K\"\nzero_temperature = \"0 degC\"\nfull_temperature = \"100 degC\"\nexcitation = \"1 mA\"\nallowance = \"0.1 %\"\n\
             [excitation.I]\npositive = \"node:T\"\nnegative = \"node:C\"\ncurrent = \"1 mA\"\n[link.GND]\nfrom = \"node:C\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
             [link.SN]\nfrom = \"node:RN\"\nto = \"node:SN\"\nohms = \"1 mohm\"\n\
             [function.power]\nneeds = [\"load:X\"]\nsurvives = 1\ntier = 1\n[function.logic]\nneeds = [\"load:Y\"]\nsurvives = 1\ntier = 2\n\
             [function.signal]\nneeds = [{ path = [\"node:SA\", \"node:SB\"] }]\nsurvives = 1\n[function.known]\nneeds = [{ any = [\"sensor:S\", \"load:Y\"] }]\nsurvives = 1\n";
    let wires: String = (1..=7).map(|n| format!("W{n},H.{n},Q.{n},20,3 m\n")).collect();
    of_text(&toml, &format!("wire,from,to,gauge_awg,length\n{wires}"))
}

/// A load, and behind the same breaker a switch that is open with a wire and a load that is off: a touch on that wire is nothing until the switch sticks closed, and then the
/// breaker opens.
fn dead_branch() -> Design {
    let toml = "format = 1\nname = \"dead\"\n[node.R]\n[node.B]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
         [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\noff = [\"load:X\"]\n\
         [bus.A]\nreturn = \"node:R\"\n[battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"20 mohm\"\n\
         [breaker.C]\nline = \"bus:A\"\nload = \"node:B\"\nohms = \"5 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
         [link.b]\nfrom = \"node:B\"\nto = \"P.1\"\nohms = \"1 mohm\"\n[switch.K]\nfrom = \"node:B\"\nto = \"P.2\"\nohms = \"5 mohm\"\nstate = \"open\"\n\
         [link.r]\nfrom = \"P.3\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[link.q]\nfrom = \"Q.3\"\nto = \"Q.4\"\nohms = \"1 mohm\"\n\
         [load.A]\nline = \"Q.1\"\nreturn = \"Q.3\"\nresistance = \"14 ohm\"\nvolts_min = \"22 V\"\nvolts_max = \"32 V\"\n\
         [load.X]\nline = \"Q.2\"\nreturn = \"Q.4\"\nresistance = \"14 ohm\"\nvolts_min = \"22 V\"\nvolts_max = \"32 V\"\n\
         [function.a]\nneeds = [\"load:A\"]\nsurvives = 1\ntier = 1\n";
    of_text(toml, "wire,from,to,gauge_awg,length\nW1,P.1,Q.1,20,3 m\nW2,P.2,Q.2,20,3 m\nR,P.3,Q.3,18,3 m\n")
}

/// Numbers that look like chance: the generator splitmix64 of G. L. Steele, D. Lea and C. H. Flood (from memory).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (bits ^ (bits >> 31)) % n
    }
}

/// A vehicle by chance: batteries, points that they feed over wires by breakers of 5 A or 25 A or none and by diodes or none, loads of all laws there, some of them behind a second
/// wire; a tie between points, and an action that closes it.
fn by_chance(seed: u64) -> Design {
    let mut dice = Dice(seed);
    let (batteries, points) = (2 + dice.below(2), 2 + dice.below(2));
    let (mut toml_of_loads, mut tap) = (String::new(), 40);
    let mut toml = String::from(
        "format = 1\nname = \"chance\"\n[node.R]\n[node.S]\n[ground.G]\nreference = true\n[strap.Z]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
         [strap.Y]\nfrom = \"node:S\"\nto = \"ground:G\"\nohms = \"30 mohm\"\n\
         [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [link.pr]\nfrom = \"P.90\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[link.qr]\nfrom = \"Q.90\"\nto = \"node:S\"\nohms = \"1 mohm\"\n\
         [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n",
    );
    let mut wires = String::from("wire,from,to,gauge_awg,length\nR,P.90,Q.90,16,3 m\n");
    for k in 0..batteries {
        toml += &format!(
            "[node.B{k}]\n[bus.B{k}]\nreturn = \"node:R\"\n[battery.B{k}]\npositive = \"bus:B{k}\"\nnegative = \"node:R\"\nemf = \"{:.2} V\"\nohms = \"20 mohm\"\n",
            27.5 + 0.01 * dice.below(150) as f64
        );
    }
    let mut pin = 0;
    let mut names = Vec::new();
    for point in 0..points {
        toml += &format!("[node.L{point}]\n");
        for _ in 0..2 + dice.below(2) {
            pin += 1;
            let battery = dice.below(batteries);
            toml += &match dice.below(3) {
                0 => format!("[link.b{pin}]\nfrom = \"bus:B{battery}\"\nto = \"P.{pin}\"\nohms = \"1 mohm\"\n"),
                of => format!(
                    "[breaker.C{pin}]\nline = \"bus:B{battery}\"\nload = \"P.{pin}\"\nohms = \"4 mohm\"\nrating = \"{} A\"\ndevice = \"quick\"\n",
                    if of == 1 { 5 } else { 25 }
                ),
            };
            toml += &match dice.below(4) {
                0 => format!("[link.l{pin}]\nfrom = \"Q.{pin}\"\nto = \"node:L{point}\"\nohms = \"1 mohm\"\n"),
                _ => format!("[diode.D{pin}]\nanode = \"Q.{pin}\"\ncathode = \"node:L{point}\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n"),
            };
            wires += &format!("W{pin},P.{pin},Q.{pin},20,{} m\n", 1 + dice.below(20));
        }
        for n in 0..1 + dice.below(2) {
            let demand = match dice.below(3) {
                0 => format!("power = \"{} W\"", 10 + dice.below(70)),
                1 => format!("current = \"{}.5 A\"", dice.below(4)),
                _ => format!("resistance = \"{} ohm\"", 10 + dice.below(40)),
            };
            let lets_go = match dice.below(4) {
                0 => "",
                1 => "drop_out = \"20 V\"\nreturn_above = \"21 V\"\n",
                2 => "drop_out = \"20 V\"\nreturn_above = \"21 V\"\nhold_up = \"100 ms\"\nrestart = \"command\"\n",
                _ => "drop_out = \"24 V\"\nreturn_above = \"24.5 V\"\nrestart = \"no\"\n",
            };
            tap += 1;
            wires += &format!("X{tap},Q.{tap},P.{tap},22,1 m\n");
            toml_of_loads += &format!("[link.t{tap}]\nfrom = \"node:L{point}\"\nto = \"Q.{tap}\"\nohms = \"1 mohm\"\n");
            toml_of_loads += &format!(
                "[load.X{point}-{n}]\nline = \"P.{tap}\"\nreturn = \"node:S\"\n{demand}\nvolts_min = \"22 V\"\nvolts_max = \"32 V\"\n{lets_go}"
            );
            names.push(format!("\"load:X{point}-{n}\""));
        }
    }
    toml += &toml_of_loads;
    toml += "[tie.K]\nfrom = \"node:L0\"\nto = \"node:L1\"\nohms = \"2 mohm\"\nstate = \"open\"\n[action.tie]\nclosed = [\"tie:K\"]\nwho = \"automatic\"\n";
    for (n, name) in names.iter().enumerate() {
        toml += &format!("[function.f{n}]\nneeds = [{name}]\nsurvives = 1\n");
    }
    toml += &format!("[function.any]\nneeds = [{{ any = [{}] }}]\nsurvives = 2\nmust_keep = true\n", names.join(", "));
    toml += &format!("[function.two]\nneeds = [{{ at_least = 2, of = [{}] }}]\nsurvives = 1\n", names.join(", "));
    of_text(&toml, &wires)
}

/// What a table says: function, both faults, effect, which comes first, phases.
type Said = BTreeSet<(usize, [usize; 2], Effect, usize, Vec<usize>)>;

fn said(table: &PairTable) -> Said {
    let row = |row: &PairRow| (row.function.row(), row.faults, row.effect, row.first, row.phases.iter().map(|phase| phase.row()).collect());
    table.rows.iter().map(row).collect()
}

fn with_pairs<T>(design: &Design, then: impl FnOnce(&Prepared, &dyn Fn(PairScreen, &dyn Fn(&Fault) -> bool) -> PairTable) -> T) -> T {
    let study = run(design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
        let phases: Vec<Id<Phase>> = design.phases.ids().collect();
        let faults = &sweep.catalogue().faults;
        then(&study.prepared, &|screen, of| sweep.pairs(|at| of(&faults[at]), &phases, screen, &Silent))
    })
}

/// The screen against every sequence followed by itself: function by function the same pairs come to the same, and nothing is missed. Every reason to leave
/// a sequence out occurs. Sequences are as many as the closed form says: n(n − 1) in each phase.
#[test]
fn the_screen_misses_nothing() {
    let mut all = Sequences::default();
    let mut effects: BTreeMap<Effect, usize> = BTreeMap::new();
    let vehicles = [("two buses", two_buses()), ("contacts", over_contacts()), ("dead branch", dead_branch())]
        .into_iter()
        .map(|(name, design)| (name.to_owned(), design));
    let vehicles: Vec<(String, Design)> = vehicles.chain((1..=4).map(|seed| (format!("chance {seed}"), by_chance(seed)))).collect();
    for (name, design) in &vehicles {
        with_pairs(design, |prepared, pairs| {
            let (screened, each) = (pairs(PairScreen::OneOfAlike, &|_| true), pairs(PairScreen::Off, &|_| true));
            let (n, of) = (screened.faults.len(), screened.sequences);
            let ids: Vec<String> = screened.catalogue.faults.iter().map(|fault| decide::fault_id(prepared, fault)).collect();
            println!(
                "{name}: {} wires, {n} faults, {} first states, {of:?}; {} rows, {} states of {}",
                design.wires.len(),
                screened.starts,
                screened.rows.len(),
                screened.states,
                each.states
            );
            let difference = |a: &Said, b: &Said| -> Vec<String> {
                let words = |(function, faults, effect, first, _): &(usize, [usize; 2], Effect, usize, Vec<usize>)| {
                    format!(
                        "{} {} with {}, {} first: {}",
                        design.functions[Id::from_row(*function)].name,
                        ids[faults[0]],
                        ids[faults[1]],
                        first,
                        effect.word()
                    )
                };
                a.difference(b).take(5).map(words).collect()
            };
            let (ours, theirs) = (said(&screened), said(&each));
            assert_eq!((difference(&theirs, &ours), difference(&ours, &theirs)), (vec![], vec![]), "{name}: missed, and not there");
            for of in [of, each.sequences] {
                assert_eq!(of.all, n * (n - 1) * design.phases.len(), "{name}");
                let parts = of.excluded + of.not_followed + of.lost_alone + of.unchanged + of.apart + of.alike + of.followed;
                assert_eq!(parts, of.all, "{name}");
            }
            assert_eq!(of.excluded, each.sequences.excluded);
            all.add(&of);
            screened.rows.iter().for_each(|row| *effects.entry(row.effect).or_default() += 1);
        });
    }
    println!("{all:?} {effects:?}");
    assert!(all.lost_alone > 0 && all.unchanged > 0 && all.apart > 0 && all.alike > 0, "{all:?}");
    assert!(4 * all.followed < 3 * all.all, "{all:?}");
    assert!(effects.len() >= 4 && effects.contains_key(&Effect::Lost) && effects.contains_key(&Effect::Restored), "{effects:?}");
}

/// Worked by hand. Two batteries feed one load, each over a wire and a diode; the return is one. Of the opens and losses on the two ways each of the three on one with each of the three on
/// the other loses the load, and none alone; what goes with the return says nothing new. Seven faults are 21 pairs, 42 sequences.
#[test]
fn either_feed_may_open_and_not_both() {
    let toml = "format = 1\nname = \"or\"\n[node.R]\n[node.A]\n[node.B]\n[node.L]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
         [bus.A]\nreturn = \"node:R\"\n[bus.B]\nreturn = \"node:R\"\n\
         [battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28.5 V\"\nohms = \"10 mohm\"\n[battery.B]\npositive = \"bus:B\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
         [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [link.a]\nfrom = \"bus:A\"\nto = \"P.1\"\nohms = \"1 mohm\"\n[link.b]\nfrom = \"bus:B\"\nto = \"P.2\"\nohms = \"1 mohm\"\n[link.r]\nfrom = \"P.3\"\nto = \"node:R\"\nohms = \"1 mohm\"\n\
         [diode.A]\nanode = \"Q.1\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n[diode.B]\nanode = \"Q.2\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n\
         [load.X]\nline = \"node:L\"\nreturn = \"Q.3\"\npower = \"30 W\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n[function.f]\nneeds = [\"load:X\"]\nsurvives = 1\n";
    let design = of_text(toml, "wire,from,to,gauge_awg,length\nWA,P.1,Q.1,20,1 m\nWB,P.2,Q.2,20,1 m\nWR,P.3,Q.3,20,1 m\n");
    with_pairs(&design, |prepared, pairs| {
        use FaultKind::*;
        let table = pairs(PairScreen::OneOfAlike, &|fault| matches!(fault.kind, WireOpen | DiodeOpen | SourceLost));
        let id = |fault: usize| decide::fault_id(prepared, &table.catalogue.faults[fault]);
        let found: BTreeSet<[String; 2]> = table.rows.iter().map(|row| row.faults.map(id)).collect();
        let ways = [["open wire:WA", "stuck diode:A=open", "lose battery:A"], ["open wire:WB", "stuck diode:B=open", "lose battery:B"]];
        let order = |a: &str, b: &str| {
            let at = |id_of: &str| table.faults.iter().position(|&fault| id(fault) == id_of).expect("it is in the catalogue");
            if at(a) < at(b) { [a.to_owned(), b.to_owned()] } else { [b.to_owned(), a.to_owned()] }
        };
        let expected: BTreeSet<[String; 2]> =
            ways[0].iter().flat_map(|a| ways[1].iter().map(move |b| (a, b))).map(|(a, b)| order(a, b)).collect();
        assert_eq!(found, expected);
        assert!(table.rows.iter().all(|row| row.effect == Effect::Lost), "{:?}", table.rows);
        assert_eq!((table.faults.len(), table.sequences.all), (7, 42));
        // Opens in series leave one state: of each feed, of the return; a lost battery leaves its bus dead, which is another.
        assert_eq!(table.starts, 5);
        assert!(table.sequences.followed <= 20, "{:?}", table.sequences);
    });
}

/// Worked by hand. The wire of load A1 touches structure where its breaker feeds it: the breaker opens, and A2 of the same bus has 28 V again. With that breaker stuck closed the battery's 28 V
/// stand across its 40 mohm, 5 mohm of the breaker and 1 mohm each of short and strap, 596 A for good: A2 has 4.2 V of the 22 V that it needs. Stuck after the short it is too late.
#[test]
fn a_breaker_that_does_not_open_loses_what_lies_beside() {
    with_pairs(&two_buses(), |prepared, pairs| {
        let table = pairs(PairScreen::OneOfAlike, &|_| true);
        let id = |fault: usize| decide::fault_id(prepared, &table.catalogue.faults[fault]);
        let is_it = |row: &&PairRow| {
            let ids = row.faults.map(id);
            &*prepared.design().functions[row.function].name == "warm"
                && ids.contains(&"stuck breaker:A1=closed".to_owned())
                && ids.iter().any(|id| id == "short P.1,structure,0.001ohm")
        };
        let row = table.rows.iter().find(is_it).expect("the pair loses it");
        assert_eq!((row.effect, id(row.faults[row.first]).as_str()), (Effect::Lost, "stuck breaker:A1=closed"), "{row:?}");
        // The breaker beside it has nothing to open for.
        let beside = |row: &PairRow| {
            row.faults.map(id).contains(&"stuck breaker:B2=closed".to_owned())
                && row.faults.map(id).iter().any(|id| id == "short P.1,structure,0.001ohm")
        };
        assert!(!table.rows.iter().any(beside));
    });
}

/// The wiring graph's cuts of two elements as a second opinion: where no way is left by them, the pair of their opens has lost the function, before anybody acts.
#[test]
fn cuts_of_two_are_pairs_that_lose() {
    let mut compared = 0;
    for design in [two_buses(), over_contacts(), by_chance(1), by_chance(3)] {
        let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
        let points: Vec<&Point> = study.points.iter().collect();
        let cuts = decide::cuts(&study.prepared, &points, |_| true, true);
        decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
            let faults = &sweep.catalogue().faults;
            let opens = |fault: &Fault| match fault.change {
                FaultChange::Open(element) | FaultChange::Stuck(element, Stuck::Open) | FaultChange::Lost(Subject::Element(element)) => {
                    Some(element)
                }
                _ => None,
            };
            let phases: Vec<Id<Phase>> = design.phases.ids().collect();
            let table = sweep.pairs(|at| opens(&faults[at]).is_some(), &phases, PairScreen::OneOfAlike, &Silent);
            let singles = sweep.run(|at| opens(&faults[at]).is_some(), &Silent);
            let fault_of = |element: ElementId| table.faults.iter().copied().find(|&at| opens(&faults[at]) == Some(element));
            for row in &cuts.rows {
                let products = row.pairs.iter().flatten();
                let both = products.flat_map(|[one, other]| one.iter().flat_map(move |&a| other.iter().map(move |&b| [a, b])));
                for (a, b) in both.filter_map(|[a, b]| fault_of(a).zip(fault_of(b))) {
                    for &phase in &row.phases {
                        let lost_alone = |fault: usize| {
                            let row_of = singles.rows.iter().find(|row| row.fault == fault).expect("it was swept");
                            let case = row_of.phases.iter().find(|case| case.phase == phase).expect("all phases were");
                            case.functions.iter().any(|of| of.function == row.function && of.effect >= Effect::Restored)
                        };
                        if lost_alone(a) || lost_alone(b) {
                            continue;
                        }
                        let is_it = |found: &&PairRow| {
                            found.function == row.function && found.faults == [a.min(b), a.max(b)] && found.phases.contains(&phase)
                        };
                        let ids = [a, b].map(|fault| decide::fault_id(&study.prepared, &faults[fault]));
                        let found = table.rows.iter().find(is_it).map(|row| row.effect);
                        assert!(
                            found.is_some_and(|effect| effect >= Effect::Restored),
                            "{} {ids:?}: {found:?}",
                            design.functions[row.function].name
                        );
                        compared += 1;
                    }
                }
            }
        });
    }
    println!("{compared} cuts of two");
    assert!(compared > 100, "{compared}");
}

/// Pairs of what opens, each against one solution from nothing with both open: where no device opens for overload, a function of one load is lost before anybody acts, in either order, exactly where
/// that load has no power there.
#[test]
fn pairs_of_opens_are_solutions_from_nothing() {
    use FaultKind::*;
    let (mut compared, mut lost) = (0, 0);
    for design in [two_buses(), over_contacts()] {
        let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
        decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
            let faults = &sweep.catalogue().faults;
            let is_open = |at: usize| matches!(faults[at].kind, WireOpen | ContactOpen | DiodeOpen | ProtectorOpen | SourceLost);
            let phases: Vec<Id<Phase>> = design.phases.ids().collect();
            let (table, singles) = (sweep.pairs(is_open, &phases, PairScreen::OneOfAlike, &Silent), sweep.run(is_open, &Silent));
            for (phase, wanted) in &table.wanted {
                let base = study
                    .points
                    .iter()
                    .find(|point| (point.scenario.phase, point.scenario.corner) == (*phase, Corner::Low))
                    .expect("it is there");
                for &function in wanted {
                    let [need] = &design.functions[function].needs[..] else { continue };
                    let Subject::Element(ElementId::Load(load)) = need.value else { continue };
                    let alone = |fault: usize| {
                        let of_phase = singles
                            .rows
                            .iter()
                            .find(|row| row.fault == fault)
                            .and_then(|row| row.phases.iter().find(|case| case.phase == *phase));
                        of_phase
                            .and_then(|case| case.functions.iter().find(|of| of.function == function))
                            .map_or(Effect::Kept, |of| of.effect)
                    };
                    for (k, &a) in table.faults.iter().enumerate() {
                        for &b in &table.faults[k + 1..] {
                            if alone(a) >= Effect::Restored || alone(b) >= Effect::Restored {
                                continue;
                            }
                            let mut scenario = base.scenario.clone();
                            [a, b].iter().for_each(|&fault| study.prepared.lay(&faults[fault], &mut scenario));
                            let fresh = study.prepared.point(&scenario);
                            let is_it = |row: &&PairRow| row.function == function && row.faults == [a, b] && row.phases.contains(phase);
                            let is_lost = table.rows.iter().find(is_it).is_some_and(|row| row.effect >= Effect::Restored);
                            let ids = [a, b].map(|fault| decide::fault_id(&study.prepared, &faults[fault]));
                            assert_eq!(is_lost, !fresh.serves(load), "{} {ids:?}", design.functions[function].name);
                            compared += 1;
                            lost += usize::from(is_lost);
                        }
                    }
                }
            }
        });
    }
    println!("{compared} pairs, {lost} lost");
    assert!(compared > 1_000 && lost > 50, "{compared} {lost}");
}
