//! Single faults: the catalogue against a closed formula over the tables, ids read back, states against solutions from nothing and a circuit simulator,
//! verdicts worked by hand.

use crate::gannet::{apply, flaws};
use analysis::{Prepared, Silent, Stages, prepare, run};
use model::*;
use std::collections::{BTreeMap, BTreeSet};
use trials::{design, read_folder, root};
use xtask::generate::{Options, Strength, generate_mapped};
use xtask::random::Random;

fn gannet() -> Design {
    design(&read_folder(&root().join("examples/gannet-mended")))
}

fn synthetic(wires: usize, seed: u64) -> Design {
    let options = Options { wires, seed, phases: 2, strength: Strength::Strong, sources_off: false };
    design(&generate_mapped(&options).files)
}

fn sorted(a: Option<End>, b: Option<End>) -> [Option<End>; 2] {
    let mut pair = [a, b];
    pair.sort_unstable();
    pair
}

/// The ends that a short joins, structure as none.
fn pair_of(fault: &Fault) -> [Option<End>; 2] {
    let end = |place: Place| match place {
        Place::End(end) => Some(end),
        _ => None,
    };
    let FaultChange::Short(a, b) = fault.change else { panic!("{fault:?} joins no two places") };
    sorted(end(a), end(b))
}

/// How many faults of each kind the tables say there are. Every term is worked from rows; of neighbours, which end of one is beside which of the
/// other is taken from the catalogue, and has to be one of the two ways.
fn formula(prepared: &Prepared, catalogue: &Catalogue) -> BTreeMap<FaultKind, usize> {
    use FaultKind::*;
    let design = prepared.design();
    let mut count: BTreeMap<FaultKind, usize> = FaultKind::ALL.into_iter().map(|kind| (kind, 0)).collect();
    let mut add = |kind, n: usize| *count.entry(kind).or_default() += n;
    let node = |end: End| prepared.node(end);
    // Pairs of ends joined so far, structure as none: what joins the same two again is no other fault.
    let mut joined: BTreeSet<[Option<End>; 2]> = BTreeSet::new();
    let structure = design.grounds.iter().find(|(_, ground)| ground.reference).map(|(id, _)| End::Ground(id));
    let mut join = |a: End, b: Option<End>| {
        let other = if b.is_none() { structure } else { b };
        let apart = other.is_some_and(|other| node(a).zip(node(other)).is_some_and(|(a, b)| a != b));
        usize::from(apart && joined.insert(sorted(Some(a), b)))
    };
    let laid = |wire: &Wire| wire.from.value != End::Stowed && wire.to.value != End::Stowed && wire.from.value != wire.to.value;
    for (_, wire) in design.wires.iter().filter(|(_, wire)| laid(wire)) {
        add(if wire.group.is_some() { ParallelWireOpen } else { WireOpen }, 1);
        add(WireToStructure, [wire.from.value, wire.to.value].into_iter().map(|end| join(end, None)).sum());
    }
    for (wire, _, back) in prepared.returns() {
        let own = [design.wires[wire].from.value, design.wires[wire].to.value];
        add(WireToReturn, (0..2).map(|side| join(own[side], Some(prepared.node_end(back[side])))).sum());
    }
    // Pairs of wires that lie against each other somewhere, from the circles of every bundle.
    let mut pairs: BTreeSet<[Id<Wire>; 2]> = BTreeSet::new();
    for segment in design.segments.ids() {
        let bundle = prepared.bundle(segment);
        for (i, a) in bundle.members.iter().enumerate() {
            for (j, b) in bundle.members.iter().enumerate() {
                let shielded = |m: &analysis::Member| {
                    m.wires.iter().filter_map(|w| design.wires[*w].cable).any(|cable| {
                        matches!(m.of, analysis::MemberOf::Cable(_))
                            && matches!(
                                design.cables[cable.value].kind,
                                CableKind::Shielded | CableKind::TwistedShielded | CableKind::Coaxial
                            )
                    })
                };
                let (p, q) = (bundle.places[i], bundle.places[j]);
                let reach = 0.5 * (a.diameter.0 + b.diameter.0) + 0.02 * a.diameter.0.min(b.diameter.0);
                let touch = (p.x.0 - q.x.0).powi(2) + (p.y.0 - q.y.0).powi(2) <= reach * reach;
                if i == j || touch && !shielded(a) && !shielded(b) {
                    let both = a.wires.iter().flat_map(|&x| b.wires.iter().map(move |&y| [x, y]));
                    pairs.extend(both.filter(|[x, y]| x < y));
                }
            }
        }
    }
    let ends = |wire: Id<Wire>| [design.wires[wire].from.value, design.wires[wire].to.value];
    let neighbours = catalogue.faults.iter().filter(|fault| fault.kind == WireToNeighbour);
    let listed: BTreeSet<(Subject, [Option<End>; 2])> = neighbours.map(|fault| (fault.item, pair_of(fault))).collect();
    for [a, b] in &pairs {
        let ([p, q], [r, s]) = (ends(*a), ends(*b));
        let is_listed = |x: End, y: End| listed.contains(&(ElementId::Wire(*a).into(), sorted(Some(x), Some(y))));
        let ways = [[(p, r), (q, s)], [(p, s), (q, r)]];
        let way = ways.into_iter().max_by_key(|way| way.iter().filter(|(x, y)| is_listed(*x, *y)).count()).expect("there are two");
        add(WireToNeighbour, way.into_iter().map(|(x, y)| join(x, Some(y))).sum());
    }
    add(ContactOpen, design.contacts.len());
    add(ContactResistive, design.contacts.len());
    let mut mated: BTreeMap<Id<Connector>, Vec<Id<Contact>>> = BTreeMap::new();
    for (id, contact) in design.contacts.iter() {
        mated.entry(design.pins[contact.b].connector).or_default().push(id);
    }
    add(ConnectorDemated, mated.len());
    for contacts in mated.values() {
        let halves = [design.contacts[contacts[0]].a, design.contacts[contacts[0]].b].map(|pin| design.pins[pin].connector);
        let insert = halves.iter().find_map(|half| design.connectors[*half].arrangement).map(|given| &design.arrangements[given.value]);
        let place = |name: &Name| insert.and_then(|insert| insert.cavities.iter().find(|c| c.name == *name)?.position_mm);
        let all: Vec<(f64, f64)> = insert.map_or_else(Vec::new, |insert| insert.cavities.iter().filter_map(|c| c.position_mm).collect());
        let far = |a: (f64, f64), b: (f64, f64)| ((a.0 - b.0).powi(2) + (a.1 - b.1).powi(2)).sqrt();
        let mut least = f64::MAX;
        for i in 0..all.len() {
            for j in 0..i {
                least = least.min(far(all[i], all[j]));
            }
        }
        let (mut reached, mut bridged) = (0, 0);
        for i in 0..contacts.len() {
            for j in 0..i {
                let [a, b] = [contacts[i], contacts[j]].map(|c| design.contacts[c].a);
                let [p, q] = [a, b].map(|pin| place(&design.pins[pin].cavity));
                let within = match (p, q) {
                    (Some(p), Some(q)) => far(p, q) <= 2.002 * least,
                    _ => true,
                };
                reached += usize::from(within);
                if within {
                    bridged += join(End::Pin(a), Some(End::Pin(b)));
                }
            }
        }
        add(ContactsBridged, bridged);
        if halves.iter().any(|half| design.connectors[*half].gender.is_some()) {
            // The stub of each end of a pair meets the other; and every stub the shell.
            let shell = structure.is_some() || halves.iter().any(|half| node(End::Shell(*half)).is_some());
            add(PinBent, 2 * reached + if shell { contacts.len() } else { 0 });
        }
    }
    let filled = design.segments.ids().filter(|&id| !prepared.layout().members(id).is_empty()).count();
    add(SegmentSevered, filled);
    add(SegmentGrounded, if structure.is_some() { filled } else { 0 });
    let holds = |segment: Id<Segment>| !prepared.layout().members(segment).is_empty();
    let beside: BTreeSet<[Id<Segment>; 2]> = (design.segments.iter())
        .flat_map(|(id, row)| row.beside.iter().map(move |given| if id < given.value { [id, given.value] } else { [given.value, id] }))
        .filter(|pair| pair.iter().all(|&segment| holds(segment)))
        .collect();
    add(SegmentsBesideSevered, beside.len());
    let of_several =
        |clamp: &Clamp| !clamp.with.is_empty() && (holds(clamp.segment.value) || clamp.with.iter().any(|given| holds(given.value)));
    add(ClampSevered, design.clamps.iter().filter(|(_, clamp)| of_several(clamp)).count());
    add(SpliceOpen, design.splices.len());
    add(StudOpen, design.studs.len());
    add(StrapOpen, design.straps.len());
    add(GroundOpen, design.grounds.len());
    add(ProtectorOpen, design.protectors.len());
    add(ProtectorClosed, design.protectors.len());
    add(SwitchOpen, design.switches.len());
    add(SwitchClosed, design.switches.len());
    add(DiodeOpen, design.diodes.len());
    add(DiodeShorted, design.diodes.len());
    for (id, row) in design.inner_nodes.iter().filter(|(_, row)| row.is_bus) {
        add(BusLost, 1);
        add(BusShorted, join(End::Inner(id), row.bus_return.map(|given| given.value)));
    }
    for (_, source) in design.batteries.iter() {
        add(SourceLost, 1);
        add(SourceShorted, join(source.positive.value, Some(source.negative.value)));
    }
    for (_, converter) in design.converters.iter() {
        add(ConverterLost, 1);
        add(ConverterShorted, join(converter.line.value, Some(converter.line_return.value)));
    }
    add(UnitLost, design.units.len());
    for (_, load) in design.loads.iter() {
        add(LoadShorted, join(load.line.value, Some(load.line_return.value)));
    }
    let zones: BTreeSet<Id<Zone>> = design.segments.iter().filter_map(|(_, segment)| Some(segment.zone?.value)).collect();
    add(ZoneLost, zones.len());
    count
}

fn counts(catalogue: &Catalogue) -> BTreeMap<FaultKind, usize> {
    let mut count: BTreeMap<FaultKind, usize> = FaultKind::ALL.into_iter().map(|kind| (kind, 0)).collect();
    catalogue.faults.iter().for_each(|fault| *count.entry(fault.kind).or_default() += 1);
    count
}

/// The freighter with a clamp on two runs and two runs side by side, as its flaws 112 and 115 have it.
fn tied() -> Design {
    let mut files = read_folder(&root().join("examples/gannet-mended"));
    for flaw in flaws().iter().filter(|flaw| flaw.name.starts_with("112-") || flaw.name.starts_with("115-")) {
        apply(&mut files, &flaw.patch, &flaw.name);
    }
    design(&files)
}

#[test]
fn the_catalogue_counts_what_the_tables_say() {
    for (name, design) in
        [("gannet", gannet()), ("gannet, tied", tied()), ("200 wires", synthetic(200, 3)), ("600 wires", synthetic(600, 4))]
    {
        let prepared = prepare(&design);
        let catalogue = prepared.catalogue();
        assert_eq!(counts(&catalogue), formula(&prepared, &catalogue), "{name}");
        println!("{name}: {} faults", catalogue.faults.len());
        for (kind, count) in counts(&catalogue) {
            println!("  {}: {count}", kind.word());
        }
        let conservative = catalogue.faults.iter().filter(|fault| fault.conservative).count();
        println!("  for want of positions: {conservative}; lacking {}", catalogue.lacking.len());
    }
}

/// Ids are words of `whatif`: no two are alike, and each reads back to the change that the catalogue makes.
#[test]
fn ids_are_unique_and_read_back() {
    let design = tied();
    let prepared = prepare(&design);
    let names = decide::Names::new(&design);
    let mut seen = BTreeSet::new();
    let ohms = |text: &str| match text.strip_suffix("ohm").and_then(|text| text.parse().ok()) {
        Some(ohms) => Ok(decide::Amount::Resistance(physics::Ohm(ohms))),
        None => Err(format!("{text} is no resistance")),
    };
    let base = Scenario::new(Id::from_row(3), Corner::Low);
    for fault in &prepared.catalogue().faults {
        let id = decide::fault_id(&prepared, fault);
        let mut laid = base.clone();
        prepared.lay(fault, &mut laid);
        let words = decide::read_id(&id).unwrap_or_else(|why| panic!("{id}: {why}"));
        let read = decide::change(&prepared, &names, base.clone(), &words, &ohms).unwrap_or_else(|why| panic!("{id}: {why}"));
        assert_eq!(read, laid, "{id}");
        assert!(seen.insert(id.clone()), "{id} is the id of two faults");
    }
}

/// Fifty seeded states that faults leave in the freighter, against a solution from nothing (1e-9 of a voltage or 1e-7 V, 1 µV at a receiver) and against
/// a generic circuit simulator (0.1 mV at every load).
#[test]
fn what_faults_leave_against_fresh_solutions_and_ngspice() {
    let design = gannet();
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    let prepared = &study.prepared;
    decide::with_sweep(prepared, &study.points, &Verdict::default(), |sweep| {
        let faults = &sweep.catalogue().faults;
        let mut dice = Random::new(20_261_126);
        let (mut compared, mut shorted, mut worst, mut worst_simulated) = (0, 0, 0.0f64, 0.0f64);
        while compared < 50 {
            let fault = dice.below(faults.len());
            let phase = Id::from_row(dice.below(design.phases.len()));
            let Some(told) = sweep.tell(fault, phase) else { continue };
            let point = &told.after;
            let along = point.scenario.shorts.iter().any(|(a, b, _)| [a, b].iter().any(|place| matches!(place, Place::Along(..))));
            if along || point.islands.iter().any(|island| !island.outcome.is_settled()) {
                continue;
            }
            let id = decide::fault_id(prepared, &faults[fault]);
            let fresh = prepared.point(&point.scenario);
            for (node, (ours, theirs)) in point.voltage.iter().zip(&fresh.voltage).enumerate() {
                // A part that nothing drives and nothing hangs on, joined at one point, takes that point's voltage and no current.
                if !point.island_of[node].is_some_and(|island| point.islands[island as usize].driven) {
                    continue;
                }
                worst = worst.max((ours - theirs).abs());
                assert!((ours - theirs).abs() <= f64::max(1e-7, 1e-9 * theirs.abs()), "{id}: {ours} V, afresh {theirs} V");
            }
            for receiver in design.receivers.ids() {
                let [a, b] = [point, &fresh].map(|point| point.receiver_voltage[receiver].map_or(0.0, |v| v.0));
                assert!((a - b).abs() <= 1e-6, "{id}: a receiver reads {a} V, afresh {b} V");
            }
            let mut extra = String::new();
            for (at, &(a, b, ohms)) in point.scenario.shorts.iter().enumerate() {
                let node = |place: Place| match place {
                    Place::End(end) => prepared.node(end).expect("a short joins nodes").0,
                    _ => prepared.structure().expect("there is a reference").0,
                };
                extra += &format!("rfault{at} n{} n{} {:e}\n", node(a), node(b), ohms.0);
                shorted += 1;
            }
            let netlist = outputs::netlist(prepared, &fresh).replacen(".op\n", &format!("{extra}.op\n"), 1);
            let found = crate::oracle::simulate(&netlist, 1e-9);
            for (load, row) in design.loads.iter() {
                let Some(ours) = point.load_voltage[load].filter(|_| point.load_fed[load]) else { continue };
                let [a, b] = [row.line.value, row.line_return.value].map(|end| prepared.node(end).expect("a load is joined").0);
                let volts = |node: u32| found.get(&format!("n{node}")).copied().unwrap_or(0.0);
                let difference = (ours.0 - (volts(a) - volts(b))).abs();
                worst_simulated = worst_simulated.max(difference);
                assert!(difference <= 1e-4, "{id}: load {} has {} V, theirs {}", row.name, ours.0, volts(a) - volts(b));
            }
            compared += 1;
        }
        println!("50 states, {shorted} shorts; from fresh ones {worst:e} V, from the simulator's {worst_simulated:e} V");
        assert!(shorted > 10);
    });
}

/// What opens in the freighter: where the wiring graph leaves no way the sweep has lost the function, and a verdict that says otherwise is found.
#[test]
fn the_wiring_graph_contradicts_no_verdict() {
    let design = gannet();
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
        use FaultKind::*;
        let kinds = [WireOpen, ConnectorDemated, SegmentSevered, ProtectorOpen, SwitchOpen, SourceLost, ConverterLost];
        let faults = &sweep.catalogue().faults;
        let mut table = sweep.run(|at| kinds.contains(&faults[at].kind), &Silent);
        let opinion = decide::second_opinion(&study.prepared, &study.points, &table);
        let id = |at: usize| decide::fault_id(&study.prepared, &faults[at]);
        let told: Vec<_> =
            opinion.contradictions.iter().take(5).map(|&(at, phase, function)| (id(at), phase, &design.functions[function].name)).collect();
        assert!(told.is_empty(), "{told:?}");
        assert!(opinion.compared > 100_000 && opinion.agree_lost > 2_000, "{opinion:?}");
        // A verdict that is taken away.
        let (row, at, function) = (table.rows.iter().enumerate())
            .flat_map(|(row, of)| of.phases.iter().enumerate().map(move |(at, case)| (row, at, case)))
            .find_map(|(row, at, case)| {
                let lost = |of: &&FunctionCase| {
                    of.effect == Effect::Lost && design.functions[of.function].survives.is_none_or(|given| given.value == 0)
                };
                Some((row, at, case.functions.iter().find(lost)?.function))
            })
            .expect("something is lost");
        let fault = table.rows[row].fault;
        table.rows[row].phases[at].functions.retain(|of| of.function != function);
        let opinion = decide::second_opinion(&study.prepared, &study.points, &table);
        assert_eq!(opinion.contradictions, [(fault, table.rows[row].phases[at].phase, function)], "{}", id(fault));
    });
}

/// Two batteries feed one load through diodes; a monitor watches the current of one of them. `more`: rows added.
fn or_ed(more: &str, wires: &str) -> Design {
    let toml = format!(
        "format = 1\nname = \"or\"\n[node.R]\n[node.A]\n[node.B]\n[node.L]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\n\
         ohms = \"1 mohm\"\n[bus.A]\nreturn = \"node:R\"\n[bus.B]\nreturn = \"node:R\"\n\
         [battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28.5 V\"\nohms = \"10 mohm\"\n\
         [battery.B]\npositive = \"bus:B\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"10 mohm\"\n\
         [unit.P]\n[unit.Q]\n[connector.PA]\nunit = \"P\"\nkind = \"terminals\"\n[connector.QA]\nunit = \"Q\"\nkind = \"terminals\"\n\
         [link.a]\nfrom = \"bus:A\"\nto = \"PA.1\"\nohms = \"1 mohm\"\n[link.b]\nfrom = \"bus:B\"\nto = \"PA.2\"\nohms = \"1 mohm\"\n\
         [link.r]\nfrom = \"PA.3\"\nto = \"node:R\"\nohms = \"1 mohm\"\n[link.s]\nfrom = \"QA.3\"\nto = \"QA.4\"\nohms = \"1 mohm\"\n\
         [diode.A]\nanode = \"QA.1\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n\
         [diode.B]\nanode = \"QA.2\"\ncathode = \"node:L\"\nforward = \"0.5 V\"\nohms = \"5 mohm\"\n\
         [load.X]\nline = \"node:L\"\nreturn = \"QA.4\"\npower = \"30 W\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n\
         [function.f]\nneeds = [\"load:X\"]\nsurvives = 1\n{more}"
    );
    let list = format!("wire,from,to,gauge_awg,length\nWA,PA.1,QA.1,20,1 m\nWB,PA.2,QA.2,20,1 m\nWR,PA.3,QA.3,20,1 m\n{wires}");
    design(&[("vehicle.toml".to_owned(), toml.into_bytes()), ("wires.csv".to_owned(), list.into_bytes())])
}

/// Every fault of a vehicle by its id, in its one phase.
fn all_cases(design: &Design) -> BTreeMap<String, PhaseCase> {
    let study = run(design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
        let table = sweep.run(|_| true, &Silent);
        assert!(!table.partial && table.wanted[0].1.len() == 1, "the function works without a fault");
        let id = |row: &FaultRow| decide::fault_id(&study.prepared, &table.catalogue.faults[row.fault]);
        table.rows.iter().map(|row| (id(row), row.phases[0].clone())).collect()
    })
}

fn effect(case: &PhaseCase) -> Effect {
    case.functions.first().map_or(Effect::Kept, |case| case.effect)
}

/// Worked by hand. Diode A carries all, since its battery stands half a volt higher. Open, diode B takes over: the function is kept, and wire B alone
/// loses it then. The current of diode A falls by 30 W over 27.9 V, 1.1 A: announced by a monitor of 0.5 A, latent without it, and latent at 2 A.
#[test]
fn without_its_monitor_an_open_diode_is_latent() {
    let monitor = |rest: &str| format!("[monitor.M]\nwatches = \"diode:A\"\nwhat = \"current\"\n{rest}");
    let phases = "[phase.one]\nduration = \"1 h\"\n[phase.two]\nduration = \"1 h\"\n";
    for (rows, announced) in [
        (monitor("threshold = \"0.5 A\"\n"), "announced"),
        (monitor("threshold = \"2 A\"\n"), "latent"),
        (monitor(""), "latent"),
        (String::new(), "latent"),
        (monitor("threshold = \"0.5 A\"\nphases = [\"one\"]\n") + phases, "announced"),
        (monitor("threshold = \"0.5 A\"\nphases = [\"two\"]\n") + phases, "latent"),
        (monitor("threshold = \"0.5 A\"\nphases = [\"two\"]\nground = true\n") + phases, "ground-test"),
    ] {
        let cases = all_cases(&or_ed(&rows, ""));
        let open = &cases["stuck diode:A=open"];
        assert_eq!((effect(open), open.announced.word()), (Effect::KeptWithFewer, announced), "{rows}");
        if let Announced::By(_, alarm) = open.announced {
            assert!((alarm.by + 30.0 / 27.9).abs() < 0.01 && alarm.threshold == 0.5, "{alarm:?}");
        }
    }
}

/// Worked by hand. Load Y takes 28.5 V from bus A over a link of 3 ohm in the low corner, 1 ohm in the typical and 0.2 ohm in the high one; its own 9 ohm are the greatest load, of the low corner, and 10 ohm the
/// usual one: with the battery's 10 mohm 2.37 A, 2.59 A and 2.79 A. By that its monitor moves once battery A is lost.
#[test]
fn the_corner_decides_over_what_a_fault_changes() {
    let rows = "[node.Y]\n[link.Y]\nfrom = \"bus:A\"\nto = \"node:Y\"\nohms = { low = \"0.2 ohm\", typical = \"1 ohm\", high = \"3 ohm\" }\n\
                [load.Y]\nline = \"node:Y\"\nreturn = \"node:R\"\nresistance = { low = \"9 ohm\", typical = \"10 ohm\", high = \"12 ohm\" }\n\
                [monitor.M]\nwatches = \"load:Y\"\nwhat = \"current\"\nthreshold = \"0.5 A\"\n";
    let design = or_ed(rows, "");
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    for (corner, amperes) in [(Corner::Low, 28.5 / 12.01), (Corner::Typical, 28.5 / 11.01), (Corner::High, 28.5 / 10.21)] {
        decide::with_sweep_in(&study.prepared, &study.points, &Verdict::default(), corner, |sweep| {
            let table = sweep.run(|_| true, &Silent);
            assert_eq!(table.corner, corner);
            let id = |row: &&FaultRow| decide::fault_id(&study.prepared, &table.catalogue.faults[row.fault]) == "lose battery:A";
            let row = table.rows.iter().find(id).expect("it is in the catalogue");
            let Announced::By(_, alarm) = row.phases[0].announced else { panic!("{:?}", row.phases[0]) };
            assert!((alarm.by + amperes).abs() < 0.005, "{corner:?}: {alarm:?}");
        });
    }
}

/// Worked by hand. A Pt100 at 0 °C gives 100 mV at 1 mA, and 38.5 mV more at 100 °C. One ohm in a sensing lead into 1 Mohm takes a millionth of it, 0.1 µV: 0.00026 % of the span. That is
/// within an allowance of 0.00027 % and beyond one of 0.00025 %, each sensor being held to its own.
#[test]
fn a_sensor_is_held_to_its_own_allowance() {
    let spoilt = |allowance: &str| {
        let text = format!(
            "format = 1\nname = \"sense\"\n[ground.G]\nreference = true\n[node.P]\n[node.M]\n[node.T]\n[node.B]\n[node.SP]\n[node.SN]\n[unit.U]\n\
             [connector.J1]\nunit = \"U\"\nkind = \"crimp\"\ncontact = \"20\"\ngender = \"sockets\"\n[connector.P1]\nmate = \"J1\"\nkind = \"crimp\"\ncontact = \"20\"\ngender = \"pins\"\n\
             [receiver.RX]\npositive = \"node:P\"\nnegative = \"node:M\"\ninput_ohms = \"1 Mohm\"\n\
             [sensor.S]\nkind = \"rtd\"\nwires = 4\nreceiver = \"RX\"\npositive = \"node:T\"\nnegative = \"node:B\"\nsense_positive = \"node:SP\"\nsense_negative = \"node:SN\"\n\
             ice_point_ohms = \"100 ohm\"\nalpha = \"0.385 %/K\"\nzero_temperature = \"0 degC\"\nfull_temperature = \"100 degC\"\nexcitation = \"1 mA\"\nallowance = \"{allowance}\"\n\
             [excitation.I]\npositive = \"node:T\"\nnegative = \"node:B\"\ncurrent = \"1 mA\"\n[link.GND]\nfrom = \"node:B\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
             [link.S1]\nfrom = \"J1.1\"\nto = \"node:P\"\nohms = \"1 mohm\"\n[link.S2]\nfrom = \"node:M\"\nto = \"node:SN\"\nohms = \"1 mohm\"\n\
             [function.f]\nneeds = [\"sensor:S\"]\nsurvives = 1\n"
        );
        let wires = "wire,from,to,gauge_awg,length\nW1,node:SP,P1.1,20,1 m\n";
        let design = design(
            &[("vehicle.toml", text.as_str()), ("wires.csv", wires)].map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())),
        );
        let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
        decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
            let faults = &sweep.catalogue().faults;
            let table = sweep.run(|at| faults[at].kind == FaultKind::ContactResistive, &Silent);
            let [row] = &table.rows[..] else { panic!("one contact: {:?}", table.rows) };
            effect(&row.phases[0])
        })
    };
    assert_eq!((spoilt("0.00027 %"), spoilt("0.00025 %")), (Effect::Kept, Effect::Lost));
}

/// Worked by hand: the only return loses the function; either feed leaves one path fewer; a battery shorted is held off by its diode.
#[test]
fn or_ing_by_hand() {
    let cases = all_cases(&or_ed("", ""));
    let effects: Vec<(&str, Effect)> =
        ["open wire:WR", "open wire:WA", "open wire:WB", "stuck diode:B=open", "stuck diode:B=shorted", "lose bus:A", "lose unit:Q"]
            .map(|id| (id, effect(&cases[id])))
            .to_vec();
    let expected = [
        Effect::Lost,
        Effect::KeptWithFewer,
        Effect::KeptWithFewer,
        Effect::KeptWithFewer,
        Effect::Kept,
        Effect::KeptWithFewer,
        Effect::Lost,
    ];
    assert_eq!(effects.iter().map(|of| of.1).collect::<Vec<_>>(), expected, "{effects:?}");
    let next = cases["open wire:WA"].functions[0].reason;
    let design = or_ed("", "");
    let Reason::Next(element) = next else { panic!("{next:?}") };
    assert!(
        ["battery:B", "link:b", "wire:WB", "diode:B"].contains(&design.element_words(element).as_str()),
        "{}",
        design.element_words(element)
    );
    // Nothing ends the short of battery A; its diode keeps it from the load.
    let shorted = &cases["short bus:A,node:R,0.001ohm"];
    assert!(shorted.burns_on && effect(shorted) <= Effect::KeptWithFewer, "{shorted:?}");
}

/// A path more never makes a single open worse: of every open of the vehicle the verdict is no worse with a wire beside any of its wires.
#[test]
fn a_path_more_never_loses_a_function() {
    let before = all_cases(&or_ed("", ""));
    let twins = ["TA,PA.1,QA.1,20,1 m\n", "TB,PA.2,QA.2,20,1 m\n", "TR,PA.3,QA.3,20,1 m\n", "TX,PA.1,QA.2,20,1 m\n"];
    let mut better = 0;
    for twin in twins {
        let after = all_cases(&or_ed("", twin));
        for (id, case) in before.iter().filter(|(id, _)| id.starts_with("open ") || id.ends_with("=open") || id.starts_with("lose battery"))
        {
            assert!(effect(&after[id]) <= effect(case), "{id} with {twin}: {:?} after {:?}", effect(&after[id]), effect(case));
            better += usize::from(effect(&after[id]) < effect(case));
        }
    }
    // A twin of a wire leaves its open without effect; across the two feeds it is beside none.
    assert_eq!(better, 3);
}

/// A lost feed comes back by a tie that an operator may close; a controller's action is taken first; in a phase where it may not be done it is lost.
#[test]
fn a_tie_brings_a_function_back() {
    let tie = "[tie.K]\nfrom = \"bus:A\"\nto = \"bus:B\"\nohms = \"1 mohm\"\nstate = \"open\"\n[load.Y]\nline = \"bus:B\"\nreturn = \"node:R\"\npower = \"20 W\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n";
    let action = |name: &str, rest: &str| format!("[action.{name}]\nclosed = [\"tie:K\"]\ndelay = \"5 s\"\n{rest}");
    let y = |rows: &str| or_ed(&format!("{tie}{rows}"), "");
    let of = |rows: &str| {
        let design = y(rows);
        let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
        decide::with_sweep(&study.prepared, &study.points, &Verdict::default(), |sweep| {
            let fault = (0..sweep.catalogue().faults.len())
                .find(|&at| decide::fault_id(&study.prepared, &sweep.catalogue().faults[at]) == "lose battery:B");
            let told = sweep.tell(fault.expect("it is in the catalogue"), Id::from_row(0)).expect("it changes something");
            let case =
                *told.case.functions.iter().find(|case| design.functions[case.function].name.starts_with('g')).expect("it is not kept");
            let by = match case.reason {
                Reason::Action(action) => design.actions[action].name.to_string(),
                _ => String::new(),
            };
            (case.effect, by)
        })
    };
    let g = "[function.g]\nneeds = [\"load:Y\"]\n";
    assert_eq!(of(g).0, Effect::Lost);
    assert_eq!(of(&format!("{g}{}", action("hand", "who = \"operator\"\n"))), (Effect::Restored, "hand".to_owned()));
    let both = format!("{g}{}{}", action("hand", "who = \"operator\"\n"), action("machine", "who = \"automatic\"\n"));
    assert_eq!(of(&both), (Effect::Restored, "machine".to_owned()));
    let later = format!(
        "{g}{}[phase.one]\nduration = \"1 h\"\n[phase.two]\nduration = \"1 h\"\n",
        action("hand", "who = \"operator\"\nphases = [\"two\"]\n")
    );
    assert_eq!(of(&later).0, Effect::Lost);
}

/// Two breakers of 5 A feed a load side by side. With one wire open the other carries the whole 10 A, 200 %, and opens: by its band (the fast breaker of the federal
/// supply catalogue, NSN 5925-00-226-0377, read) from 0.38 s on. Of 5 A it carries 100 % and holds.
#[test]
fn an_overload_opens_the_other_breaker() {
    let cases = |amperes: &str| {
        let toml = format!(
            "format = 1\nname = \"side\"\n[node.R]\n[node.L]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
             [bus.A]\nreturn = \"node:R\"\n[battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"1 mohm\"\n\
             [breaker.C]\nline = \"bus:A\"\nload = \"P.1\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
             [breaker.D]\nline = \"bus:A\"\nload = \"P.2\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
             [unit.P]\n[unit.Q]\n[connector.P]\nunit = \"P\"\nkind = \"terminals\"\n[connector.Q]\nunit = \"Q\"\nkind = \"terminals\"\n\
             [link.c]\nfrom = \"Q.1\"\nto = \"node:L\"\nohms = \"1 mohm\"\n[link.d]\nfrom = \"Q.2\"\nto = \"node:L\"\nohms = \"1 mohm\"\n\
             [load.X]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"{amperes}\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\n\
             [function.f]\nneeds = [\"load:X\"]\nsurvives = 1\n[phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n"
        );
        let files = [
            ("vehicle.toml", toml.as_str()),
            ("wires.csv", "wire,from,to,gauge_awg,length\nWC,P.1,Q.1,20,1 m\nWD,P.2,Q.2,20,1 m\n"),
            ("catalog/devices.csv", "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nquick,breaker,,115,138,500\n"),
            (
                "catalog/trip-bands.csv",
                "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\nquick,5,25,138,,3600\nquick,5,25,200,0.38,2.5\nquick,5,25,1000,0.02,0.12\n",
            ),
        ];
        all_cases(&design(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec()))))
    };
    let open = &cases("10 A")["open wire:WC"];
    assert_eq!(effect(open), Effect::Lost, "{open:?}");
    assert!(matches!(open.opens[..], [(_, earliest, _)] if (earliest.0 - 0.38).abs() < 1e-3), "{:?}", open.opens);
    let open = &cases("5 A")["open wire:WC"];
    assert_eq!((effect(open), open.opens.len()), (Effect::KeptWithFewer, 0), "{open:?}");
}

/// What a sweep over some faults says: by fault, phase and function effect and announcement; what is simply kept stands under the function `-`.
fn said(files: &[(String, Vec<u8>)], only: &[String]) -> BTreeMap<(String, String, String), (&'static str, &'static str)> {
    let design = design(files);
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    let case = rules::Case { design: &design, prepared: &study.prepared, today: None };
    let verdict = rules::judge(&case, &study.points);
    decide::with_sweep(&study.prepared, &study.points, &verdict, |sweep| {
        let ids: Vec<String> = sweep.catalogue().faults.iter().map(|fault| decide::fault_id(&study.prepared, fault)).collect();
        let chosen = decide::choose(&study.prepared, sweep.catalogue(), &ids, only);
        // The mended vehicle may not have a fault that a flaw brings.
        let Ok(chosen) = chosen else { return BTreeMap::new() };
        let table = sweep.run(|at| chosen[at], &Silent);
        let mut said = BTreeMap::new();
        for row in &table.rows {
            for case in &row.phases {
                let mut note = |function: String, effect: Effect| {
                    said.insert(
                        (ids[row.fault].clone(), design.phases[case.phase].name.to_string(), function),
                        (effect.word(), case.announced.word()),
                    );
                };
                let told = case.functions.iter().filter(|of| of.effect != Effect::Kept);
                told.clone().for_each(|of| note(design.functions[of.function].name.to_string(), of.effect));
                if told.count() == 0 {
                    note("-".to_owned(), Effect::Kept);
                }
            }
        }
        said
    })
}

/// A function with its effect and announcement; the faults and the phases in which it comes to that.
type Change = (String, &'static str, &'static str);
type Places = (BTreeSet<String>, BTreeSet<String>);

/// Each flaw of single faults alone: what it changes in the faults that its block names is what the block states, and nothing else. A line has the function (`-` for all of them kept), effect,
/// announcement, in how many faults, and the phases of all of them.
#[test]
fn each_flaw_of_single_faults_alone() {
    let mended = read_folder(&root().join("examples/gannet-mended"));
    let flaws: Vec<_> = flaws().into_iter().filter(|flaw| flaw.faults.is_some()).collect();
    assert!(flaws.len() >= 6, "{}", flaws.len());
    let mut wrong = String::new();
    for flaw in &flaws {
        let block = flaw.faults.as_ref().expect("only those that state something");
        let (only, stated): (Vec<&String>, Vec<&String>) = block.iter().partition(|line| line.starts_with("only "));
        let only: Vec<String> = only.iter().map(|line| line["only ".len()..].to_owned()).collect();
        assert!(!only.is_empty() && !stated.is_empty(), "{} looks at nothing", flaw.name);
        let mut files = mended.clone();
        apply(&mut files, &flaw.patch, &flaw.name);
        let (before, after) = (said(&mended, &only), said(&files, &only));
        let mut changed: BTreeMap<Change, Places> = BTreeMap::new();
        for ((fault, phase, function), now) in after.iter().filter(|(key, now)| before.get(*key) != Some(*now)) {
            let (faults, phases) = changed.entry((function.clone(), now.0, now.1)).or_default();
            faults.insert(fault.clone());
            phases.insert(phase.clone());
        }
        let order = design(&files).phases.iter().map(|(_, phase)| phase.name.to_string()).collect::<Vec<_>>();
        let line = |((function, effect, announced), (faults, phases)): (&Change, &Places)| {
            let phases: Vec<&str> = order.iter().filter(|phase| phases.contains(*phase)).map(String::as_str).collect();
            let phases = if phases.len() == order.len() { "every phase".to_owned() } else { phases.join(" ") };
            format!("{function} {effect} {announced} {} {phases}", faults.len())
        };
        let found: Vec<String> = changed.iter().map(line).collect();
        let mut stated: Vec<String> = stated.into_iter().cloned().collect();
        let mut sorted = found.clone();
        stated.sort();
        sorted.sort();
        if sorted != stated {
            wrong.push_str(&format!("{}\n  stated\n{}\n  found\n{}\n", flaw.name, stated.join("\n"), sorted.join("\n")));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// A load X beside a load Z, each behind a breaker, on one bus of 28 V behind 50 mohm. Z shorted: 28 V × 11 / 61 = 5 V are left at the bus until its breaker has opened (110 A and more of 5 A), and X, which
/// lets go at 16 V and comes back at 18 V, has 28 V again then. What its row says of a restart decides the rest. The breaker is the fast one of [`an_overload_opens_the_other_breaker`].
#[test]
fn what_comes_on_again_by_hand() {
    let shorted = |restart: &str| {
        let toml = format!(
            "format = 1\nname = \"side\"\n[node.R]\n[node.L]\n[node.M]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n\
             [bus.A]\nreturn = \"node:R\"\n[battery.A]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"50 mohm\"\n\
             [breaker.C]\nline = \"bus:A\"\nload = \"node:L\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
             [breaker.D]\nline = \"bus:A\"\nload = \"node:M\"\nohms = \"10 mohm\"\nrating = \"5 A\"\ndevice = \"quick\"\n\
             [load.X]\nline = \"node:L\"\nreturn = \"node:R\"\npower = \"28 W\"\nvolts_min = \"20 V\"\nvolts_max = \"32 V\"\ndrop_out = \"16 V\"\nreturn_above = \"18 V\"\n{restart}\
             [load.Z]\nline = \"node:M\"\nreturn = \"node:R\"\nresistance = \"28 ohm\"\n[function.f]\nneeds = [\"load:X\"]\nsurvives = 1\n\
             [phase.one]\nambient = \"25 degC\"\nduration = \"1 h\"\n"
        );
        let files = [
            ("vehicle.toml", toml.as_str()),
            ("catalog/devices.csv", "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nquick,breaker,,115,138,500\n"),
            (
                "catalog/trip-bands.csv",
                "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\nquick,5,25,138,,3600\nquick,5,25,200,0.38,2.5\nquick,5,25,1000,0.02,0.12\n",
            ),
        ];
        let design = design(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())));
        let case = all_cases(&design)["short node:M,node:R,0.001ohm"].clone();
        assert!(matches!(case.opens[..], [(_, earliest, latest)] if earliest.0 < 0.05 && latest.0 <= 0.12), "{:?}", case.opens);
        if effect(&case) > Effect::Kept {
            assert!(matches!(case.functions[0].reason, Reason::LetGo(_, volts) if (volts.0 - 5.0).abs() < 0.2), "{:?}", case.functions);
        }
        let bursts = case.functions.first().and_then(|of| of.intermittent);
        if let Some(bursts) = bursts {
            // As long as the breaker takes at its slowest, and two of them outlast 0.2 s.
            assert_eq!((bursts.each, bursts.count), (case.opens[0].2, 2), "{bursts:?}");
        }
        (effect(&case), bursts.map(|bursts| bursts.effect))
    };
    for (restart, expected) in [
        ("", (Effect::UpsetAlone, None)),
        ("restart = \"yes\"\n", (Effect::UpsetAlone, None)),
        ("restart = \"command\"\n", (Effect::UpsetUntilActed, None)),
        ("restart = \"no\"\n", (Effect::Lost, None)),
        ("restart_volts = \"27 V\"\n", (Effect::UpsetAlone, None)),
        ("restart_volts = \"29 V\"\n", (Effect::UpsetUntilActed, None)),
        ("restart_above = \"25 degC\"\n", (Effect::UpsetAlone, None)),
        ("restart_above = \"26 degC\"\n", (Effect::UpsetUntilActed, None)),
        // It rides one burst of 0.12 s at the most; two that are just shorter, one upon the other, it does not, and the breaker need not have opened on either.
        ("restart = \"no\"\nhold_up = \"0.2 s\"\n", (Effect::Kept, Some(Effect::Lost))),
        ("hold_up = \"0.2 s\"\n", (Effect::Kept, Some(Effect::UpsetAlone))),
        ("restart = \"command\"\nhold_up = \"0.2 s\"\n", (Effect::Kept, Some(Effect::UpsetUntilActed))),
        // What one burst may outlast lets go on the first.
        ("restart = \"no\"\nhold_up = \"0.02 s\"\n", (Effect::Lost, None)),
    ] {
        assert_eq!(shorted(restart), expected, "{restart}");
    }
}

/// Asks for a stop once so many cases are done.
struct StopsAfter(std::sync::atomic::AtomicUsize, usize);

impl analysis::Watch for StopsAfter {
    fn progress(&self, done: usize, _total: usize) {
        self.0.fetch_max(done, std::sync::atomic::Ordering::Relaxed);
    }
    fn cancelled(&self) -> bool {
        self.0.load(std::sync::atomic::Ordering::Relaxed) >= self.1
    }
}

/// Three parts merged, and a sweep that was stopped and gone on with, say byte for byte what the whole says. Parts of something else, missing, twice or stopped are refused.
#[test]
fn parts_and_what_was_stopped_come_to_the_whole() {
    let design = gannet();
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    let case = rules::Case { design: &design, prepared: &study.prepared, today: None };
    let verdict = rules::judge(&case, &study.points);
    let view = outputs::View::of(&design, &study, &verdict);
    let names = decide::Names::new(&design);
    let named = |name: &str| names.one(name, |_| true);
    decide::with_sweep(&study.prepared, &study.points, &verdict, |sweep| {
        let faults = &sweep.catalogue().faults;
        let ids: Vec<String> = faults.iter().map(|fault| decide::fault_id(&study.prepared, fault)).collect();
        // Of every kind some: opens, shorts that burn, what is told on the ground alone, ways of signals that are cut.
        let of: Vec<usize> = (0..faults.len()).filter(|at| at % 97 == 0 || faults[*at].kind == FaultKind::DiodeOpen).collect();
        let only = ["some".to_owned()];
        let part_of = |shard| outputs::PartOf { design: "0", program: "1", only: &only, shard, faults: of.len(), corner: Corner::Low };
        let opinion = SecondOpinion::default();
        let told = |table: &FaultTable| {
            let judged = rules::judge_sweep(&case, table);
            let swept = outputs::Swept { table, ids: &ids, verdict: &judged, opinion: &opinion };
            (
                serde_json::to_string(&outputs::faults_json(&view, &swept)).expect("JSON"),
                outputs::faults(&view, &swept, true, outputs::Style::default()),
            )
        };
        let lines = |table: &FaultTable, shard| {
            let judged = rules::judge_sweep(&case, table);
            outputs::fault_lines(&view, &outputs::Swept { table, ids: &ids, verdict: &judged, opinion: &opinion }, &part_of(shard))
        };
        let read = |text: &str| outputs::read_part(&design, &ids, &named, text);
        let whole = sweep.run(|at| of.contains(&at), &Silent);
        assert!(whole.states > 500 && !whole.afresh.is_empty() && !whole.lacking.is_empty());
        let expected = told(&whole);
        let parts: Vec<String> = (1..=3)
            .map(|k| lines(&sweep.run(|at| of.iter().position(|of| *of == at).is_some_and(|n| n % 3 == k - 1), &Silent), [k, 3]))
            .collect();
        let some = |which: &[usize]| {
            which.iter().map(|&k| (format!("part {}", k + 1), read(&parts[k]).expect("it reads back"))).collect::<Vec<_>>()
        };
        let merged = outputs::merge_parts(some(&[2, 0, 1]), &part_of([1, 1])).expect("three parts are all there are");
        assert_eq!(told(&sweep.whole(merged)), expected);

        let stopped = sweep.run(|at| of.contains(&at), &StopsAfter(Default::default(), 40 * design.phases.len()));
        assert!(stopped.partial && (20..of.len()).contains(&stopped.rows.len()), "{}", stopped.rows.len());
        assert!(told(&stopped).0.contains("\"partial\":true"));
        let known = read(&lines(&stopped, [1, 1])).expect("it reads back");
        known.is_of(&part_of([1, 1])).expect("it is of the same");
        let done: BTreeSet<usize> = known.table.rows.iter().map(|row| row.fault).collect();
        let rest = sweep.run(|at| of.contains(&at) && !done.contains(&at), &Silent);
        assert_eq!(told(&sweep.whole(outputs::joined(FaultTable { partial: false, ..known.table.clone() }, rest))), expected);

        let refused =
            |parts: Vec<(String, outputs::Part)>, of: &outputs::PartOf| outputs::merge_parts(parts, of).expect_err("it is refused");
        assert_eq!(refused(some(&[0, 2]), &part_of([1, 1])), "of 3 parts these are missing: 2");
        assert_eq!(refused(some(&[0, 1, 1]), &part_of([1, 1])), "part 2 and part 2 are both part 2 of 3");
        // A count of parts that no machine holds is a count of missing ones, and no room for them.
        let many = parts[0].replace("\"shard\":[1,3]", "\"shard\":[1,18446744073709551615]");
        let of_many = vec![("it".to_owned(), read(&many).expect("it reads back"))];
        let expected = "of 18446744073709551615 parts these are missing: 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 18446744073709551604 more";
        assert_eq!(refused(of_many, &part_of([1, 1])), expected);
        assert!(
            refused(some(&[0, 1, 2]), &outputs::PartOf { design: "9", ..part_of([1, 1]) }).contains("another state of the vehicle's files")
        );
        assert!(refused(some(&[0, 1, 2]), &outputs::PartOf { corner: Corner::High, ..part_of([1, 1]) }).contains("another corner"));
        assert!(refused(vec![("it".to_owned(), known)], &part_of([1, 1])).contains("stopped before its end"));
        let cut = parts[0].lines().take(3).collect::<Vec<_>>().join("\n");
        assert!(read(&cut).expect_err("it is refused").contains("its end is missing"));
        let twice = [parts[0].lines().next(), parts[0].lines().nth(1), parts[0].lines().nth(1)]
            .map(|line| line.expect("there are more"))
            .join("\n");
        assert!(read(&twice).expect_err("it is refused").starts_with("line 3: "), "{:?}", read(&twice));
        assert!(read("{}").expect_err("it is refused").starts_with("line 1: "));
    });
}

/// Names that a spreadsheet would take for formulas, with commas, quotes and letters of all kinds: whole in the workbook and the drawing, inert in CSV, and read back from all three by others.
#[test]
fn odd_names_survive_in_every_file() {
    let odd = ["+28V", "-x", "ü<&>Ω"];
    let rows: String = odd.iter().map(|name| format!("[function.{name:?}]\nneeds = [\"load:X\"]\ntier = 1\n")).collect();
    let design = or_ed(&format!("{rows}[phase.\"+one\"]\nduration = \"1 h\"\n"), "");
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    let verdict = Verdict::default();
    let view = outputs::View::of(&design, &study, &verdict);
    decide::with_sweep(&study.prepared, &study.points, &verdict, |sweep| {
        let ids: Vec<String> = sweep.catalogue().faults.iter().map(|fault| decide::fault_id(&study.prepared, fault)).collect();
        let table = sweep.run(|_| true, &Silent);
        let swept = outputs::Swept { table: &table, ids: &ids, verdict: &verdict, opinion: &SecondOpinion::default() };
        let text = outputs::fault_modes_csv(&view, &swept);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        assert_eq!(reader.headers().expect("heads").iter().next(), Some("fault"));
        let read: Vec<csv::StringRecord> = reader.records().map(|record| record.expect("a row reads back")).collect();
        assert_eq!(read.len(), ids.len());
        let of = |id: &str| read.iter().find(|row| &row[0] == id).unwrap_or_else(|| panic!("{id} has a row"));
        let lost = of("open wire:WR");
        for name in odd {
            assert!(lost[5].contains(&format!("{name} lost")), "{}", &lost[5]);
        }
        assert_eq!((&lost[1], &lost[2], &lost[8]), ("wire:WR", "parts", "tier 1, or of a function without tier"));
        assert!(read.iter().flatten().all(|cell| !cell.starts_with(['=', '+', '-', '@'])));
        // The phase comes first in its cell.
        assert_eq!(&lost[9], "'+one");
        let book = outputs::fault_modes_workbook(&view, &swept).expect("a workbook");
        assert_eq!(book, outputs::fault_modes_workbook(&view, &swept).expect("a workbook"), "the same bytes");
        let mut book: calamine::Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(book)).expect("it opens");
        let modes = calamine::Reader::worksheet_range(&mut book, "failure-modes").expect("a sheet");
        let ids_read: BTreeSet<String> = modes.rows().map(|row| row[0].to_string()).collect();
        assert!(ids.iter().all(|id| ids_read.contains(id)));
        let matrix = calamine::Reader::worksheet_range(&mut book, "functions").expect("a sheet");
        let names: BTreeSet<String> = matrix.rows().map(|row| row[0].to_string()).collect();
        assert!(odd.iter().all(|name| names.contains(*name)), "{names:?}");
        let svg = outputs::fault_matrix_svg(&view, &swept);
        assert!(svg.contains(">ü&lt;&amp;&gt;Ω<") && svg.contains(">+28V<"));
        assert_eq!(svg.matches("<rect").count(), 1 + (odd.len() + 1) * FaultGroup::ALL.len());
    });
}

/// Worked by hand. An insert of which only the number of its 19 cavities is known stands in rings of 12, 6 and 1, a pitch apart. Within two pitches: on the outer ring those up to 60° from each other
/// (24 pairs), from the inner to the outer ring up to 75° (6 × 5 = 30) and from the outer ring to the middle (12), within the inner ring all (15) and to the middle (6): 87 of 171 pairs. Of a
/// connector without an arrangement all pairs are listed; of one with positions in a row (0, 1, 3 mm: a pitch of 1 mm) 1–2 and 2–3. Rows of 5 and 4 that stand 2 mm apart, and cavities 2 mm apart in each
/// of them, the second shifted by half a pitch: a pitch is 2 mm, and within 4 mm are in the rows 4 + 3 and 3 + 2 pairs, across them all that are up to √12 = 3.46 mm aside, so by 1 mm (8 pairs)
/// and by 3 mm (6 pairs): 26.
#[test]
fn rings_and_rows_of_an_insert_by_hand() {
    let reached = |arrangement: &str, cavities: usize| {
        let mut text = "format = 1\nname = \"insert\"\n[node.R]\n[ground.G]\nreference = true\n[strap.S]\nfrom = \"node:R\"\nto = \"ground:G\"\nohms = \"1 mohm\"\n[unit.P]\n".to_owned();
        text += &format!(
            "[connector.J1]\nunit = \"P\"\nkind = \"crimp\"\ncontact = \"20\"\n{arrangement}gender = \"sockets\"\n[connector.P1]\nmate = \"J1\"\nkind = \"crimp\"\ncontact = \"20\"\n{arrangement}gender = \"pins\"\n"
        );
        for k in 1..=cavities {
            text += &format!("[node.N{k}]\n[link.L{k}]\nfrom = \"node:N{k}\"\nto = \"J1.{k}\"\nohms = \"1 mohm\"\n");
        }
        let mut wires = "wire,from,to,gauge_awg,length\n".to_owned();
        (1..=cavities).for_each(|k| wires += &format!("W{k},P1.{k},node:R,20,1 m\n"));
        let counted = "arrangement,cavities,size\nmy-19,19,20\n";
        let drawn = "arrangement,cavity,size,x_mm,y_mm\nmy-3,1,20,0,0\nmy-3,2,20,1,0\nmy-3,3,20,3,0\n";
        let mut files = vec![("vehicle.toml", text), ("wires.csv", wires)];
        let in_rows = "arrangement,cavities,size,x_mm,y_mm,pitch_mm\nmy-9,5,20,-4,1,2\nmy-9,4,20,-3,-1,2\n";
        if arrangement.contains("my-9") {
            files.push(("catalog/arrangements.csv", in_rows.to_owned()));
        } else if arrangement.contains("my-19") {
            files.push(("catalog/arrangements.csv", counted.to_owned()));
        } else if arrangement.contains("my-3") {
            files.push(("catalog/arrangements.csv", drawn.to_owned()));
        }
        let design = design(&files.into_iter().map(|(path, text)| (path.to_owned(), text.into_bytes())).collect::<Vec<_>>());
        let catalogue = prepare(&design).catalogue();
        let of = |kind: FaultKind| catalogue.faults.iter().filter(move |fault| fault.kind == kind);
        let pins = of(FaultKind::PinBent).filter(|fault| matches!(fault.change, FaultChange::Bent(_, _, Place::End(End::Pin(_)))));
        assert_eq!(pins.count(), 2 * of(FaultKind::ContactsBridged).count());
        let bridged = || of(FaultKind::ContactsBridged);
        (bridged().count(), bridged().filter(|fault| fault.assumed).count(), bridged().filter(|fault| fault.conservative).count())
    };
    assert_eq!(reached("arrangement = \"my-19\"\n", 19), (87, 87, 0));
    assert_eq!(reached("", 5), (10, 0, 10));
    assert_eq!(reached("arrangement = \"my-3\"\n", 3), (2, 0, 0));
    assert_eq!(reached("arrangement = \"my-9\"\n", 9), (26, 0, 0));
}

/// What faults of some kinds come to in the freighter: every verdict occurs for five functions at least; actions bring three functions back at least, and two of them nothing but a tie.
#[test]
fn every_verdict_in_five_functions() {
    use FaultKind::*;
    let design = gannet();
    let study = run(&design, Stages { protection: false, timeline: false }, &Silent).expect("nobody cancelled");
    let case = rules::Case { design: &design, prepared: &study.prepared, today: None };
    let verdict = rules::judge(&case, &study.points);
    decide::with_sweep(&study.prepared, &study.points, &verdict, |sweep| {
        let kinds = [WireToReturn, ParallelWireOpen, ProtectorOpen, SwitchOpen, DiodeOpen, BusLost, SourceLost, LoadShorted];
        let faults = &sweep.catalogue().faults;
        let table = sweep.run(|at| kinds.contains(&faults[at].kind) || at % 50 == 0, &Silent);
        let mut functions: BTreeMap<Effect, BTreeSet<Id<Function>>> = BTreeMap::new();
        let mut told: BTreeMap<&str, BTreeSet<Id<Function>>> = BTreeMap::new();
        let mut by: BTreeMap<Id<Function>, BTreeSet<Id<Action>>> = BTreeMap::new();
        for case in table.rows.iter().flat_map(|row| &row.phases) {
            let wanted =
                table.wanted.iter().find(|(phase, _)| *phase == case.phase).map(|(_, wanted)| wanted).expect("each phase is there");
            let hit = |function: &Id<Function>| case.functions.iter().any(|of| of.function == *function);
            functions.entry(Effect::Kept).or_default().extend(wanted.iter().filter(|function| !hit(function)));
            for of in &case.functions {
                functions.entry(of.effect).or_default().insert(of.function);
                told.entry(case.announced.word()).or_default().insert(of.function);
                if let Reason::Action(action) = of.reason {
                    by.entry(of.function).or_default().insert(action);
                }
            }
        }
        for effect in Effect::ALL.into_iter().filter(|effect| *effect != Effect::NotKnown) {
            let count = functions.get(&effect).map_or(0, BTreeSet::len);
            println!("{}: {count} functions", effect.word());
            assert!(count >= 5, "{}: {count} functions", effect.word());
        }
        assert!(Announced::WORDS.iter().all(|word| told.get(word).is_some_and(|functions| functions.len() >= 5)), "{told:?}");
        let closes_ties_alone = |action: &Id<Action>| {
            design.actions[*action]
                .states
                .iter()
                .all(|state| matches!(state.value.0, ElementId::Switch(id) if design.switches[id].kind == SwitchKind::Tie))
        };
        let by_tie = by.values().filter(|actions| actions.iter().all(closes_ties_alone)).count();
        println!("{} functions by an action, {by_tie} of them by a tie alone", by.len());
        assert!(by.len() >= 3 && by_tie >= 2, "{} {by_tie}", by.len());
    });
}
