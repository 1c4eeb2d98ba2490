//! Laws that hold for every network, on many random ones. Each test prints what it met.

use analysis::{Prepared, Silent, Stages, prepare, run};
use model::*;
use physics::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
use trials::design;
use xtask::generate::{Generated, Options, Strength, generate, generate_mapped};
use xtask::random::Random;

/// Random networks of a size with strong, weak and overloaded ones in turn.
fn networks(count: u64, wires: usize) -> impl ParallelIterator<Item = (u64, Generated)> {
    (0..count).into_par_iter().map(move |seed| {
        let strength = [Strength::Strong, Strength::Weak, Strength::Overloaded][seed as usize % 3];
        (seed, generate(&Options { wires, seed: 1000 + seed, phases: 2, strength, sources_off: true }))
    })
}

fn scenarios(design: &Design) -> Vec<Scenario> {
    design.phases.ids().flat_map(|phase| Corner::ALL.map(|corner| Scenario::new(phase, corner))).collect()
}

/// The value of a spread that a corner takes where more is worse for the voltage at loads.
fn harsh<T: Copy>(corner: Corner, spread: &Spread<T>) -> T {
    match corner {
        Corner::Low => spread.high.value,
        Corner::Typical => spread.typical.value,
        Corner::High => spread.low.value,
    }
}

/// The value of a spread that a corner takes where more is better.
fn kind<T: Copy>(corner: Corner, spread: &Spread<T>) -> T {
    match corner {
        Corner::Low => spread.low.value,
        Corner::Typical => spread.typical.value,
        Corner::High => spread.high.value,
    }
}

/// Power that the sources give, that loads and sensors take by their stated laws, that is lost in resistances and diodes.
#[derive(Default)]
struct Power {
    given: f64,
    taken: f64,
    lost: f64,
}

/// Sums powers over the settled islands of a point, each element by its own law from the design's values, not from the
/// solver's: a branch that breaks its law breaks the balance.
fn power(prepared: &Prepared, point: &Point) -> Power {
    let (design, corner) = (prepared.design(), point.scenario.corner);
    let mut sum = Power::default();
    for (row, branch) in prepared.branches().iter().enumerate() {
        let (from, to) = (branch.from.row(), branch.to.row());
        let settled = |node: usize| point.island_of[node].is_some_and(|i| point.islands[i as usize].outcome.is_settled());
        if !settled(from) || !settled(to) || point.island_of[from] != point.island_of[to] {
            continue;
        }
        let (amps, volts) = (point.current[row], point.voltage[from] - point.voltage[to]);
        match branch.element {
            ElementId::Source(id) => {
                let source = &design.batteries[id];
                let (emf, ohms) = (kind(corner, &source.emf.expect("generated")).0, harsh(corner, &source.ohms.expect("generated")).0);
                sum.given += emf * amps.abs() * if volts * amps < 0.0 { 1.0 } else { -1.0 };
                sum.lost += amps * amps * ohms;
            }
            ElementId::Load(id) if amps != 0.0 => {
                let load = &design.loads[id];
                let growth = if corner == Corner::Low { 1.0 + load.growth.map_or(0.0, |g| g.value.0) } else { 1.0 };
                // Loads are at their greatest in the low corner, typical in the others.
                sum.taken += match load.demand.expect("generated") {
                    Demand::Power(p) => {
                        if corner == Corner::Low {
                            p.high.value.0 * growth
                        } else {
                            p.typical.value.0
                        }
                    }
                    Demand::Current(c) => volts * if corner == Corner::Low { c.high.value.0 * growth } else { c.typical.value.0 },
                    Demand::Resistance(r) => volts * volts / if corner == Corner::Low { r.low.value.0 } else { r.typical.value.0 },
                };
            }
            ElementId::Diode(id) if point.diode_on[id] => {
                let diode = &design.diodes[id];
                sum.lost += amps * harsh(corner, &diode.forward).0 + amps * amps * harsh(corner, &diode.ohms).0;
            }
            // What the two sides of a converter, sensors, receivers and excitations exchange with the network, signed by the network itself.
            ElementId::Converter(_) | ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Excitation(_) => sum.taken += volts * amps,
            element => {
                if let Some(ohms) = prepared.ohms(&point.scenario, element) {
                    sum.lost += amps * amps * ohms.0;
                }
            }
        }
    }
    sum
}

/// At every node of a settled island the branch currents sum to zero, and what the sources give is what loads take plus what is lost.
/// At least a twentieth of the states each settle whole, have loads that dropped out, have an island without operating point.
#[test]
fn currents_and_powers_balance() {
    let counts: Vec<[usize; 4]> = networks(240, 120)
        .map(|(seed, made)| {
            let design = design(&made.files);
            let prepared = prepare(&design);
            let mut counts = [0; 4];
            for scenario in scenarios(&design) {
                let point = prepared.point(&scenario);
                let settled = point.islands.iter().all(|i| i.outcome.is_settled());
                let none = point.islands.iter().any(|i| matches!(i.outcome, Outcome::NoOperatingPoint { .. }));
                let dropped = point.load_state.iter().any(|(_, s)| matches!(s, LoadState::DroppedOut { .. }));
                counts[0] += 1;
                counts[1] += usize::from(settled && !dropped);
                counts[2] += usize::from(settled && dropped);
                counts[3] += usize::from(none);
                assert!(settled || none, "network {seed}: {:?}", point.islands);

                let mut balance = vec![0.0; point.voltage.len()];
                let mut greatest = vec![0.0f64; point.voltage.len()];
                for (branch, amps) in prepared.branches().iter().zip(&point.current) {
                    for (node, sign) in [(branch.from, -1.0), (branch.to, 1.0)] {
                        balance[node.row()] += sign * amps;
                        greatest[node.row()] = greatest[node.row()].max(amps.abs());
                    }
                }
                for (node, sum) in balance.iter().enumerate() {
                    let Some(island) = point.island_of[node] else { continue };
                    if point.islands[island as usize].outcome.is_settled() {
                        assert!(
                            sum.abs() <= 1e-7 + 1e-8 * greatest[node],
                            "network {seed}, node {node}: currents sum to {sum} A of {} A",
                            greatest[node]
                        );
                    }
                }
                let power = power(&prepared, &point);
                let difference = power.given - power.taken - power.lost;
                assert!(
                    difference.abs() <= 1e-7 * power.given.abs().max(1.0),
                    "network {seed}: {} W given, {} W taken, {} W lost",
                    power.given,
                    power.taken,
                    power.lost
                );
            }
            counts
        })
        .collect();
    let [states, settled, dropped, none] = std::array::from_fn(|which| counts.iter().map(|c| c[which]).sum::<usize>());
    println!(
        "{states} random states: {settled} settled whole, {dropped} settled with loads dropped out, {none} with an island without operating point"
    );
    for (count, what) in [(settled, "settled whole"), (dropped, "dropped loads"), (none, "had no operating point")] {
        assert!(20 * count >= states, "only {count} of {states} states {what}");
    }
}

/// A load with drop-out that draws is at or above its drop-out voltage. One that let go was below it when it did, or, where two
/// states are possible and the worse is taken, stands below the voltage at which it would come back.
#[test]
fn drop_out_is_consistent() {
    let counts: Vec<[usize; 3]> = networks(90, 120)
        .map(|(seed, made)| {
            let design = design(&made.files);
            let prepared = prepare(&design);
            let mut counts = [0; 3];
            for scenario in scenarios(&design) {
                let point = prepared.point(&scenario);
                for (id, load) in design.loads.iter() {
                    let (Some(limit), Some(back)) = (load.drop_out, load.return_above) else { continue };
                    let draws = prepared.branch_of(ElementId::Load(id)).is_some_and(|row| point.current[row] != 0.0);
                    match (point.load_state[id], point.load_voltage[id]) {
                        (LoadState::On, Some(volts)) if draws => {
                            counts[0] += 1;
                            assert!(
                                volts.0 >= limit.value.0 - 1e-9,
                                "network {seed}: {} draws at {volts:?} of {:?}",
                                load.name,
                                limit.value
                            );
                        }
                        (LoadState::DroppedOut { at }, _) if at.0 < limit.value.0 => {
                            counts[1] += 1;
                            assert!(!draws, "network {seed}: {} draws although it let go", load.name);
                        }
                        (LoadState::DroppedOut { at }, _) => {
                            counts[2] += 1;
                            let two = !point.other_state.is_empty();
                            assert!(
                                two && at.0 < back.value.0 && !draws,
                                "network {seed}: {} let go at {at:?} of {:?}",
                                load.name,
                                limit.value
                            );
                        }
                        _ => {}
                    }
                }
            }
            counts
        })
        .collect();
    let [on, dropped, second] = counts.iter().fold([0; 3], |sum, c| [sum[0] + c[0], sum[1] + c[1], sum[2] + c[2]]);
    println!("{on} loads draw, {dropped} let go, {second} stay off in the worse of two states");
    assert!(on > 100 && dropped > 100 && second > 100);
}

/// A conducting diode carries current forward only; a blocking one has no more than its forward voltage across it.
#[test]
fn diodes_stand_as_their_law_says() {
    let counts: Vec<[usize; 2]> = networks(90, 200)
        .map(|(seed, made)| {
            let design = design(&made.files);
            let prepared = prepare(&design);
            let mut counts = [0; 2];
            for scenario in scenarios(&design) {
                let point = prepared.point(&scenario);
                for (id, diode) in design.diodes.iter() {
                    let row = prepared.branch_of(ElementId::Diode(id)).expect("a diode is a branch");
                    let branch = prepared.branches()[row];
                    let island = |node: NodeId| point.island_of[node.row()];
                    let (Some(island), true) = (island(branch.from), island(branch.from) == island(branch.to)) else { continue };
                    if !point.islands[island as usize].outcome.is_settled() {
                        continue;
                    }
                    let (volts, amps) = (point.voltage[branch.from.row()] - point.voltage[branch.to.row()], point.current[row]);
                    let forward = harsh(scenario.corner, &diode.forward).0;
                    counts[usize::from(point.diode_on[id])] += 1;
                    if point.diode_on[id] {
                        assert!(amps >= -1e-9 && volts >= forward - 1e-9, "network {seed}: {} conducts {amps} A at {volts} V", diode.name);
                    } else {
                        assert!(amps == 0.0 && volts <= forward + 1e-6, "network {seed}: {} blocks {volts} V of {forward} V", diode.name);
                    }
                }
            }
            counts
        })
        .collect();
    let [blocking, conducting] = counts.iter().fold([0; 2], |sum, c| [sum[0] + c[0], sum[1] + c[1]]);
    println!("{conducting} diodes conduct, {blocking} block");
    assert!(conducting > 100 && blocking > 100);
}

/// A converter that works takes at its input what it delivers over its efficiency, and its quiescent power besides.
///
/// One that takes nothing delivers nothing: its output is then another source's load at most.
#[test]
fn converters_make_no_power() {
    let counts: Vec<[usize; 2]> = networks(90, 200)
        .map(|(seed, made)| {
            let design = design(&made.files);
            let prepared = prepare(&design);
            let mut counts = [0; 2];
            for scenario in scenarios(&design) {
                let point = prepared.point(&scenario);
                for (id, converter) in design.converters.iter() {
                    let row = prepared.branch_of(ElementId::Converter(id)).expect("a converter is a branch");
                    let power = |row: usize| {
                        let branch = prepared.branches()[row];
                        (point.voltage[branch.from.row()] - point.voltage[branch.to.row()]) * point.current[row]
                    };
                    let settled = |node: NodeId| point.island_of[node.row()].is_none_or(|i| point.islands[i as usize].outcome.is_settled());
                    if !settled(prepared.branches()[row].from) || !settled(prepared.branches()[row + 1].from) {
                        continue;
                    }
                    let (taken, delivered) = (power(row), -power(row + 1));
                    counts[usize::from(taken != 0.0)] += 1;
                    let due = delivered / converter.efficiency.value.0 + converter.quiescent.value.0;
                    let balances = (taken - due).abs() <= 1e-6;
                    assert!(
                        balances || (taken == 0.0 && delivered <= 0.0),
                        "network {seed}: {} takes {taken} W and delivers {delivered} W",
                        converter.name
                    );
                }
            }
            counts
        })
        .collect();
    let [dead, working] = counts.iter().fold([0; 2], |sum, c| [sum[0] + c[0], sum[1] + c[1]]);
    println!("{working} converters take power, {dead} do not");
    assert!(working > 100 && dead > 20);
}

/// Rows of the generated wire list; the head stays first.
fn rows(files: &mut [(String, Vec<u8>)]) -> &mut Vec<u8> {
    &mut files.iter_mut().find(|(path, _)| path == "wires.csv").expect("a wire list").1
}

/// How every load, converter and diode stands, without the voltage at which one let go.
fn states(point: &Point) -> Vec<u8> {
    let word = |state: &LoadState| match state {
        LoadState::Off => 0,
        LoadState::On => 1,
        LoadState::DroppedOut { .. } => 2,
        LoadState::Unknown => 3,
    };
    let loads = point.load_state.iter().map(|(_, state)| word(state));
    let converters = point.converter_state.iter().map(|(_, state)| word(state));
    loads.chain(converters).chain(point.diode_on.iter().map(|(_, on)| u8::from(*on))).collect()
}

/// One gauge larger in place of any wire never raises that wire's own drop, as long as every load stands as before.
///
/// Why: seen from one wire, a settled network has a positive incremental conductance together with the wire (its Jacobian is positive
/// definite), so its drop v satisfies dv/dr = v/(r² G) with G > 0. It is no law for other wires: a heater that gets more voltage
/// draws more through what it shares.
#[test]
fn a_larger_gauge_never_drops_more() {
    let larger = |gauge: &str| match gauge {
        "24" => Some("22"),
        "22" => Some("20"),
        "20" => Some("18"),
        "16" => Some("14"),
        "6" => Some("4"),
        "4" => Some("2"),
        _ => None,
    };
    let counts: Vec<[usize; 2]> = networks(60, 100)
        .map(|(seed, made)| {
            let mut random = Random::new(seed);
            let list =
                String::from_utf8(made.files.iter().find(|(path, _)| path == "wires.csv").expect("a wire list").1.clone()).expect("UTF-8");
            let lines: Vec<&str> = list.lines().collect();
            let before = design(&made.files);
            let prepared = prepare(&before);
            let mut counts = [0; 2];
            for _ in 0..6 {
                let row = 1 + random.below(lines.len() - 1);
                let mut cells: Vec<&str> = lines[row].split(',').collect();
                let Some(gauge) = larger(cells[4]) else { continue };
                cells[4] = gauge;
                let changed = cells.join(",");
                let text: Vec<&str> = lines.iter().enumerate().map(|(at, line)| if at == row { changed.as_str() } else { line }).collect();
                let mut files = made.files.clone();
                *rows(&mut files) = text.join("\n").into_bytes();
                let after = design(&files);
                let prepared_after = prepare(&after);
                let element = ElementId::Wire(Id::from_row(row - 1));
                for scenario in scenarios(&before) {
                    let (old, new) = (prepared.point(&scenario), prepared_after.point(&scenario));
                    let drop = |prepared: &Prepared, point: &Point| -> Option<f64> {
                        let at = prepared.branch_of(element)?;
                        let branch = prepared.branches()[at];
                        let island = point.island_of[branch.from.row()]?;
                        let ohms = prepared.ohms(&scenario, element)?;
                        point.islands[island as usize].outcome.is_settled().then_some(point.current[at].abs() * ohms.0)
                    };
                    if states(&old) != states(&new) {
                        counts[1] += 1;
                        continue;
                    }
                    if let (Some(thin), Some(thick)) = (drop(&prepared, &old), drop(&prepared_after, &new)) {
                        counts[0] += 1;
                        assert!(thick <= thin + 1e-9, "network {seed}, wire row {row}: {thin} V became {thick} V with {gauge} AWG");
                    }
                }
            }
            counts
        })
        .collect();
    let [compared, other] = counts.iter().fold([0; 2], |sum, c| [sum[0] + c[0], sum[1] + c[1]]);
    println!("{compared} drops compared, {other} states where a load or diode changed its state");
    assert!(compared > 300 && 20 * other < compared);
}

/// Every result of a point under the name of its row, so that points of differently ordered inputs can be compared.
fn by_name(prepared: &Prepared, point: &Point) -> BTreeMap<String, f64> {
    let design = prepared.design();
    let mut results = BTreeMap::new();
    let settled = |node: usize| point.island_of[node].is_some_and(|i| point.islands[i as usize].outcome.is_settled());
    for (row, branch) in prepared.branches().iter().enumerate() {
        let name = format!("{}/{}", design.element_words(branch.element), branch.part);
        if settled(branch.from.row()) && settled(branch.to.row()) {
            results.insert(format!("A {name}"), point.current[row]);
            results.insert(format!("V {name}"), point.voltage[branch.from.row()] - point.voltage[branch.to.row()]);
        }
    }
    for (id, load) in design.loads.iter() {
        let state = match point.load_state[id] {
            LoadState::Off => 0.0,
            LoadState::On => 1.0,
            LoadState::DroppedOut { at } => -at.0,
            LoadState::Unknown => -1.0,
        };
        results.insert(format!("state {}", load.name), state);
        results.insert(format!("fed {}", load.name), f64::from(u8::from(point.load_fed[id])));
        if let Some(volts) = point.load_voltage[id] {
            results.insert(format!("V load {}", load.name), volts.0);
        }
    }
    for (id, row) in design.receivers.iter() {
        if let Some(volts) = point.receiver_voltage[id] {
            results.insert(format!("V receiver {}", row.name), volts.0);
        }
    }
    results
}

/// A TOML text with its tables in random order; the phases, whose order is the mission's, stay in order among themselves.
fn shuffled_tables(text: &str, random: &mut Random) -> String {
    let mut tables: Vec<String> = Vec::new();
    for line in text.lines() {
        match tables.last_mut() {
            Some(table) if !line.starts_with('[') => {
                table.push_str(line);
                table.push('\n');
            }
            _ => tables.push(format!("{line}\n")),
        }
    }
    let (phases, mut others): (Vec<String>, Vec<String>) = tables.into_iter().partition(|table| table.starts_with("[phase."));
    random.shuffle(&mut others);
    others.concat() + &phases.concat()
}

/// The order of rows and tables never changes a result: voltages to 1e-9 V, currents to 1e-7 A (another order of elimination rounds
/// otherwise), states exactly.
#[test]
fn order_of_rows_never_changes_a_result() {
    let compared: Vec<usize> = networks(60, 120)
        .map(|(seed, made)| {
            let mut random = Random::new(seed);
            let mut files = made.files.clone();
            for (path, bytes) in &mut files {
                let text = String::from_utf8(bytes.clone()).expect("UTF-8");
                if path == "wires.csv" {
                    let mut lines: Vec<&str> = text.lines().collect();
                    random.shuffle(&mut lines[1..]);
                    *bytes = lines.join("\n").into_bytes();
                } else if path != "vehicle.toml" {
                    *bytes = shuffled_tables(&text, &mut random).into_bytes();
                }
            }
            files.reverse();
            let (straight, mixed) = (design(&made.files), design(&files));
            let (prepared, prepared_mixed) = (prepare(&straight), prepare(&mixed));
            let mut compared = 0;
            for scenario in scenarios(&straight) {
                let (a, b) = (prepared.point(&scenario), prepared_mixed.point(&scenario));
                let (a, b) = (by_name(&prepared, &a), by_name(&prepared_mixed, &b));
                assert!(a.keys().eq(b.keys()), "network {seed}: other results exist");
                for ((name, a), (_, b)) in a.iter().zip(&b) {
                    // A contact's or wire's direction is as listed, so no sign is lost; states and voltages compare as they are.
                    let tolerance = if name.starts_with('A') { 1e-7 } else { 1e-9 };
                    assert!((a - b).abs() <= tolerance, "network {seed}: {name} is {a} in one order and {b} in another");
                    compared += 1;
                }
            }
            compared
        })
        .collect();
    println!("{} results compared", compared.iter().sum::<usize>());
}

/// Any number of threads gives the same bits.
#[test]
fn thread_count_never_changes_a_bit() {
    let made = generate(&Options { wires: 800, seed: 77, phases: 6, strength: Strength::Weak, sources_off: true });
    let design = design(&made.files);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        let study = pool.install(|| run(&design, Stages::default(), &Silent)).expect("nobody cancelled");
        // `Debug` of a float prints the shortest text that reads back to the same bits.
        study.points.iter().map(|point| format!("{point:?}")).collect::<Vec<_>>()
    };
    let one = with(1);
    assert_eq!(one.len(), 18);
    for threads in [2, 7] {
        assert!(one == with(threads), "{threads} threads give other results than one");
    }
}

/// On synthetic harnesses: the segments of a wire join the breakouts of its ends, its path is their sum, what lies in a segment is what
/// passes it, and no free wire lies beside a class to be kept apart or in a hole that is full without it.
#[test]
fn wires_lie_where_they_may() {
    let (mut laid, mut moved, mut pinned, mut fullest) = (0, 0, 0, 0.0f64);
    for seed in 0..8 {
        let made = generate_mapped(&Options { wires: 900, seed, phases: 1, strength: Strength::Strong, sources_off: true });
        let design = design(&made.files);
        let prepared = prepare(&design);
        let layout = prepared.layout();
        for (id, wire) in design.wires.iter() {
            let run = layout.run(id).expect("every end of a synthetic vehicle is at a breakout, and every breakout can be reached");
            let [from, to] = [wire.from.value, wire.to.value].map(|end| design.breakout_of(end).expect("at a breakout").value);
            let walk = run.segments.iter().try_fold(from, |at, segment| {
                let row = &design.segments[*segment];
                let other = [(row.from.value, row.to.value), (row.to.value, row.from.value)].into_iter().find(|(one, _)| *one == at)?;
                Some(other.1)
            });
            assert_eq!(walk, Some(to), "seed {seed}: {}", wire.name);
            let sum: f64 = run.segments.iter().map(|segment| design.segments[*segment].length.value.0).sum();
            assert!((sum - run.path.0).abs() < 1e-9 && run.segments.iter().all(|segment| layout.members(*segment).contains(&id)));
            if wire.length.is_some_and(|length| length.value == Length::FromRoute) {
                // 3 % of slack and 60 mm at each end.
                let length = prepared.length(id).expect("it has a route").0;
                assert!((length - (1.03 * sum + 0.12)).abs() < 1e-9, "seed {seed}: {} is {length} m", wire.name);
            }
            laid += 1;
            moved += usize::from(run.detour > 0.0);
            pinned += usize::from(!wire.via.is_empty());
        }
        let is_free = |wire: &Id<Wire>| design.wires[*wire].via.is_empty();
        let size = |wire: Id<Wire>| Some(design.wire_specs[design.wires[wire].spec?.value].diameter?.value.0);
        for (id, row) in design.segments.iter() {
            let members = layout.members(id);
            assert!(members.windows(2).all(|pair| pair[0] < pair[1]), "in the order of the list, each once");
            let holds =
                |class: &str| members.iter().any(|wire| design.class_of(*wire).is_some_and(|own| design.class_name(own.value) == class));
            let beside = holds("power") && holds("millivolt");
            assert!(!beside || !members.iter().all(is_free), "seed {seed}: segment {}", row.name);
        }
        for (_, clamp) in design.clamps.iter() {
            let members = layout.members(clamp.segment.value);
            let area: f64 = members.iter().filter_map(|wire| size(*wire)).map(|d| d * d).sum();
            let fill = area / clamp.bore.expect("stated").value.0.powi(2);
            assert!(fill <= 0.5 * (1.0 + 1e-9) || !members.iter().all(is_free), "seed {seed}: {} is filled to {fill}", clamp.name);
            fullest = fullest.max(fill);
        }
    }
    println!("{laid} wires laid, {moved} off their shortest way, {pinned} pinned; the fullest hole {:.0} %", 100.0 * fullest);
    assert!(moved > 100 && pinned > 100 && fullest > 0.4, "{moved} {pinned} {fullest}");
}

/// With sources that give plenty, each fed load has less voltage in the low corner than typically, and more in the high one.
#[test]
fn corners_order_the_voltage_at_loads() {
    let mut compared = 0;
    for seed in 0..20 {
        let made = generate(&Options { wires: 120, seed, phases: 1, strength: Strength::Strong, sources_off: true });
        let design = design(&made.files);
        let prepared = prepare(&design);
        let [low, typical, high] = Corner::ALL.map(|corner| prepared.point(&Scenario::new(Id::from_row(0), corner)));
        for id in design.loads.ids().filter(|&id| low.load_state[id] == LoadState::On) {
            if let (Some(Volt(low)), Some(Volt(typical)), Some(Volt(high))) =
                (low.load_voltage[id], typical.load_voltage[id], high.load_voltage[id])
                && low > 1.0
            {
                compared += 1;
                assert!(low < typical && typical < high, "{}: {low}, {typical}, {high} V", design.loads[id].name);
            }
        }
    }
    println!("{compared} loads compared");
    assert!(compared > 200);
}
