//! A law of single faults on random small vehicles: what no open loses, no open loses with a path more.

use analysis::{Silent, Stages, run};
use model::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use trials::design;
use xtask::random::Random;

/// Vehicles, and paths that each is tried with.
const VEHICLES: u64 = 60;
const PATHS: usize = 3;

/// A way from a battery's bus to a point: by a breaker or without one, over a wire, through a diode.
#[derive(Clone)]
struct Feed {
    battery: usize,
    point: usize,
    has_breaker: bool,
    metres: f64,
}

/// Batteries, points that they feed through diodes, loads at the points, functions that need the loads; the loads' common return.
#[derive(Clone)]
struct Vehicle {
    volts: Vec<f64>,
    feeds: Vec<Feed>,
    points: usize,
    returns: Vec<f64>,
    /// Rows of wires beside others and between points.
    more: Vec<String>,
    loads: String,
    functions: String,
    /// Whether loads let go where their wires take too many volts.
    lets_go: bool,
}

/// The generator keeps away from what breaks the law honestly, since a path more can do harm too:
/// * No device opens for what flows: every breaker holds what all loads take together. A path around a small breaker may else load another one until it opens.
/// * Every feed has its diode, so that no path lets one battery feed another, or a higher bus back into a lower one.
/// * Where loads let go at a voltage, no path joins two points: one point's loads take volts from the other's. Loads of a point let go at one voltage, and what
///   all points share (batteries, breakers, returns) has milliohms: a load that stays on thanks to the path could else take those volts that keep another one.
fn made_up(dice: &mut Random) -> Vehicle {
    let batteries = 1 + dice.below(3);
    let points = 1 + dice.below(3);
    let lets_go = dice.chance(0.5);
    let new_feed = |dice: &mut Random, point: usize| Feed {
        battery: dice.below(batteries),
        point,
        has_breaker: dice.chance(0.6),
        metres: if lets_go { dice.between(20.0, 60.0) } else { dice.between(1.0, 20.0) },
    };
    let mut feeds = Vec::new();
    for point in 0..points {
        for _ in 0..1 + dice.below(3) {
            feeds.push(new_feed(dice, point));
        }
    }
    let (mut loads, mut functions, mut names) = (String::new(), String::new(), Vec::new());
    for point in 0..points {
        let drop_out = dice.between(22.0, 26.0);
        for n in 0..1 + dice.below(2) {
            let name = format!("X{point}-{n}");
            let demand = match dice.below(3) {
                0 => format!("power = \"{:.1} W\"", dice.between(5.0, 40.0)),
                1 => format!("current = \"{:.2} A\"", dice.between(0.2, 1.5)),
                _ => format!("resistance = \"{:.1} ohm\"", dice.between(20.0, 80.0)),
            };
            let lets_go = match lets_go {
                true => format!("drop_out = \"{drop_out:.3} V\"\nreturn_above = \"{:.3} V\"\n", drop_out + 0.3),
                false => String::new(),
            };
            writeln!(
                loads,
                "[load.{name}]\nline = \"node:L{point}\"\nreturn = \"node:S\"\n{demand}\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n{lets_go}"
            )
            .expect("a string can be written to");
            names.push(format!("\"load:{name}\""));
        }
    }
    for (n, need) in names.iter().enumerate() {
        writeln!(functions, "[function.f{n}]\nneeds = [{need}]").expect("a string can be written to");
    }
    writeln!(functions, "[function.any]\nneeds = [{{ any = [{}] }}]", names.join(", ")).expect("a string can be written to");
    writeln!(functions, "[function.all]\nneeds = [{}]", names.join(", ")).expect("a string can be written to");
    let volts = (0..batteries).map(|_| dice.between(27.5, 29.5)).collect();
    let returns = (0..1 + dice.below(2)).map(|_| dice.between(0.2, 1.0)).collect();
    Vehicle { volts, feeds, points, returns, more: Vec::new(), loads, functions, lets_go }
}

impl Vehicle {
    /// The same with a path more, and what it is.
    fn with_a_path(&self, dice: &mut Random) -> (Vehicle, String) {
        let mut more = self.clone();
        let kinds = if self.lets_go || self.points < 2 { 3 } else { 4 };
        let what = match dice.below(kinds) {
            0 => {
                let at = dice.below(self.feeds.len());
                more.more.push(format!("T,P.{at},Q.{at},20,{:.2} m", dice.between(1.0, 60.0)));
                format!("a wire beside W{at}")
            }
            1 => {
                let at = dice.below(self.returns.len());
                more.more.push(format!("T,P.r{at},Q.r{at},12,{:.2} m", dice.between(0.2, 5.0)));
                format!("a wire beside R{at}")
            }
            2 => {
                let (battery, point) = (dice.below(self.volts.len()), dice.below(self.points));
                more.feeds.push(Feed { battery, point, has_breaker: dice.chance(0.6), metres: dice.between(1.0, 60.0) });
                format!("a feed from bus B{battery} to L{point}")
            }
            _ => {
                let a = dice.below(self.points);
                let b = (a + 1 + dice.below(self.points - 1)) % self.points;
                more.more.push(format!("T,P.t{a},P.t{b},20,{:.2} m", dice.between(1.0, 20.0)));
                format!("a wire between L{a} and L{b}")
            }
        };
        (more, what)
    }

    fn design(&self) -> Design {
        let mut text = String::from(
            "format = 1\nname = \"made-up\"\n[node.R]\n[node.S]\n[ground.G]\nreference = true\n[strap.Z]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
             [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
             [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n",
        );
        let mut wires = String::from("wire,from,to,gauge_awg,length\n");
        let mut add = |rows: String| text.push_str(&rows);
        for (k, volts) in self.volts.iter().enumerate() {
            add(format!(
                "[node.B{k}]\n[bus.B{k}]\nreturn = \"node:R\"\n[battery.B{k}]\npositive = \"bus:B{k}\"\nnegative = \"node:R\"\nemf = \"{volts:.4} V\"\nohms = \"3 mohm\"\n"
            ));
        }
        for point in 0..self.points {
            add(format!("[node.L{point}]\n[link.t{point}]\nfrom = \"node:L{point}\"\nto = \"P.t{point}\"\nohms = \"1 mohm\"\n"));
        }
        for (k, feed) in self.feeds.iter().enumerate() {
            add(match feed.has_breaker {
                true => format!(
                    "[breaker.C{k}]\nline = \"bus:B{}\"\nload = \"P.{k}\"\nohms = \"4 mohm\"\nrating = \"25 A\"\ndevice = \"quick\"\n",
                    feed.battery
                ),
                false => format!("[link.b{k}]\nfrom = \"bus:B{}\"\nto = \"P.{k}\"\nohms = \"1 mohm\"\n", feed.battery),
            });
            add(format!("[diode.D{k}]\nanode = \"Q.{k}\"\ncathode = \"node:L{}\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n", feed.point));
            writeln!(wires, "W{k},P.{k},Q.{k},20,{:.2} m", feed.metres).expect("a string can be written to");
        }
        for (k, metres) in self.returns.iter().enumerate() {
            add(format!(
                "[link.p{k}]\nfrom = \"P.r{k}\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[link.q{k}]\nfrom = \"Q.r{k}\"\nto = \"node:S\"\nohms = \"1 mohm\"\n"
            ));
            writeln!(wires, "R{k},P.r{k},Q.r{k},12,{metres:.2} m").expect("a string can be written to");
        }
        add(self.loads.clone());
        add(self.functions.clone());
        self.more.iter().for_each(|row| writeln!(wires, "{row}").expect("a string can be written to"));
        // The fast breaker of the federal supply catalogue, NSN 5925-00-226-0377 (read), made for 25 A.
        let files = [
            ("vehicle.toml", text.as_str()),
            ("wires.csv", &wires),
            ("catalog/devices.csv", "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nquick,breaker,,115,138,500\n"),
            (
                "catalog/trip-bands.csv",
                "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\nquick,25,25,138,,3600\nquick,25,25,200,0.38,2.5\nquick,25,25,1000,0.02,0.12\n",
            ),
        ];
        design(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())))
    }
}

/// Of each single open by its id the functions that it loses, and all that work without it.
fn lost(design: &Design) -> (BTreeMap<String, BTreeSet<String>>, BTreeSet<String>) {
    let study = run(design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
        use FaultKind::*;
        let faults = &sweep.catalogue().faults;
        let opens = [WireOpen, ParallelWireOpen, ProtectorOpen, DiodeOpen, SourceLost];
        let table = sweep.run(|at| opens.contains(&faults[at].kind), &Silent);
        let name = |id: Id<Function>| design.functions[id].name.to_string();
        let of = |row: &FaultRow| -> BTreeSet<String> {
            row.phases[0].functions.iter().filter(|case| case.effect >= Effect::Restored).map(|case| name(case.function)).collect()
        };
        let rows = table.rows.iter().map(|row| (decide::fault_id(&study.prepared, &faults[row.fault]), of(row))).collect();
        (rows, table.wanted[0].1.iter().map(|&id| name(id)).collect())
    })
}

/// What works in a vehicle works in it with a path more, and what no single open of it loses none loses then.
#[test]
fn a_path_more_loses_no_function_under_any_single_open() {
    let (mut kept, mut saved, mut lost_before, mut by_volts) = (0, 0, 0, 0);
    for seed in 0..VEHICLES {
        let mut dice = Random::new(0x9a7f + seed);
        let vehicle = made_up(&mut dice);
        let (before, works) = lost(&vehicle.design());
        for _ in 0..PATHS {
            let (more, what) = vehicle.with_a_path(&mut dice);
            let (after, works_then) = lost(&more.design());
            assert!(works.is_subset(&works_then), "vehicle {seed} with {what}: {works:?}, then {works_then:?}");
            for (id, loses) in &before {
                let then = &after[id];
                let worse: Vec<_> = then.iter().filter(|of| works.contains(*of) && !loses.contains(*of)).collect();
                assert!(worse.is_empty(), "vehicle {seed} with {what}: {id} loses {worse:?} then");
                kept += works.len() - loses.len();
                lost_before += loses.len();
                saved += loses.difference(then).count();
            }
        }
        if vehicle.lets_go {
            by_volts += before.values().filter(|loses| !loses.is_empty()).count();
        }
    }
    println!("{kept} kept before, {lost_before} lost, {saved} of them saved by the path; {by_volts} cases where loads let go");
    assert!(kept > 8_000 && lost_before > 1_500 && saved > 300 && by_volts > 60, "{kept} {lost_before} {saved} {by_volts}");
}
