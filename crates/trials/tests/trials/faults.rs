//! Single faults: the catalogue against a closed formula over the tables, and their ids read back.

use analysis::{Prepared, prepare};
use model::*;
use std::collections::{BTreeMap, BTreeSet};
use trials::{design, read_folder, root};
use xtask::generate::{Options, Strength, generate_mapped};

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

#[test]
fn the_catalogue_counts_what_the_tables_say() {
    for (name, design) in [("gannet", gannet()), ("200 wires", synthetic(200, 3)), ("600 wires", synthetic(600, 4))] {
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
    let design = gannet();
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
