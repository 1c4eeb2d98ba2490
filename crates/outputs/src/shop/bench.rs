//! Test sheets: what is measured on the bench and on the vehicle, with what is to be expected and what must not be done.

use super::facts::{AT, Facts, gender_word};
use super::sheet::{Cell, NOT_GIVEN, Sheet, columns};
use crate::number;
use crate::view::landings;
use analysis::HarnessNet;
use model::*;
use physics::insulation_test::{self, SHARE_OF_RATING, SHARES_ON_REPEAT};
use physics::sensor_temperature::Alloy;
use physics::{Kelvin, Ohm, Volt};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet, VecDeque};

/// Most current that may flow through an initiator that is not meant to fire, whatever its no-fire current.
///
/// # Source  The lower of 50 mA and a tenth of no-fire: range-safety practice (from memory).
const STRAY_MOST: f64 = 0.05;
const STRAY_SHARE: f64 = 0.1;

/// Most of the tensile minimum that may be pulled on a wire when its contact's seating is checked.
///
/// # Source  NASA-STD-8739.4 with Change 6 (2011-03-29), sec. 13.8, page 70 (read).
const SEATING_SHARE: f64 = 0.8;

const DISCONNECTED: &str =
    "every connector parted from every unit, every lug of a unit lifted, nothing connected; ordnance nets are on a sheet of their own";

/// All test sheets in the order of the tests.
pub(crate) fn sheets(facts: &Facts) -> Vec<Sheet> {
    let at_ends = elements_at(facts);
    vec![
        crimp_set_up(facts),
        seating(facts),
        continuity(facts),
        withstand(facts, &at_ends),
        insulation(facts, &at_ends),
        bonds(facts),
        polarity(facts),
        safe_to_mate(facts),
        power_on(facts),
        ordnance(facts),
    ]
}

/// A net in a word: its first signal, else its first wire.
fn net_name(facts: &Facts, net: &HarnessNet) -> String {
    let signal = net.wires.iter().find_map(|wire| facts.design.wires[*wire].signal.as_ref());
    signal.map_or_else(|| facts.design.wires[net.wires[0]].name.to_string(), |signal| signal.value.to_string())
}

fn some_wires(facts: &Facts, net: &HarnessNet) -> String {
    const SHOWN: usize = 4;
    let names: Vec<&str> = net.wires.iter().take(SHOWN).map(|wire| &*facts.design.wires[*wire].name).collect();
    let more = net.wires.len().saturating_sub(SHOWN);
    if more > 0 { format!("{} and {more} more", names.join(" ")) } else { names.join(" ") }
}

/// Ohms of the test's own contact on an end: that of the pin's mated contact, which the test connector stands in for; none on a lug.
fn end_ohms(facts: &Facts, end: End) -> [f64; 3] {
    let contact = match end {
        End::Pin(pin) => facts.across(pin).first().map(|(contact, _)| &facts.design.contacts[*contact].ohms),
        _ => None,
    };
    contact.map_or([0.0; 3], |ohms| [ohms.low, ohms.typical, ohms.high].map(|ohms| ohms.value.0))
}

/// Every net: from its first end to each of its others.
fn continuity(facts: &Facts) -> Sheet {
    let mut sheet = Sheet {
        file: "continuity",
        title: "Continuity test",
        columns: columns(&[
            "net",
            "wires",
            "from",
            "to",
            "least (mohm)",
            "expected (mohm)",
            "greatest (mohm)",
            "measured (mohm)",
            "at (degC)",
            "by",
        ]),
        notes: vec![
            format!("before: {DISCONNECTED}"),
            format!(
                "ohms at {} degC, four-wire, with a mated test contact on each pin, both polarities averaged; copper reads 0.39 % more for each kelvin above",
                number::plain(AT.celsius())
            ),
            "expected: wire of nominal resistance and typical contacts; greatest: the wire's limit and contacts at theirs; least: 95 % of the wire's nominal (common \
             practice, no source) and best contacts. Outside of them: find out why before going on"
                .to_owned(),
        ],
        cautions: vec![
            "test current no more than 10 mA on every net that leads to a sensor (range-safety practice [from memory]); no ordnance is in this list".to_owned(),
        ],
        ..Sheet::default()
    };
    let mut left_out = 0;
    for (at, net) in facts.nets.nets.iter().enumerate() {
        if facts.ordnance_net(net).is_some() {
            left_out += 1;
            continue;
        }
        let first = net.ends[0];
        for (row, &end) in net.ends.iter().enumerate().skip(1) {
            if matches!(end, End::Splice(_)) && net.ends.len() > 2 {
                continue;
            }
            let [a, b] = [first, end].map(|end| end_ohms(facts, end));
            let ohms: [Cell; 3] =
                std::array::from_fn(|k| Cell::number(facts.net_ohms[at][row][k].map(|ohms| (ohms + a[k] + b[k]) * 1e3), 2));
            let [least, expected, greatest] = ohms;
            sheet.rows.push(vec![
                Cell::text(net_name(facts, net)),
                Cell::text(some_wires(facts, net)),
                Cell::text(facts.design.end_name(first)),
                Cell::text(facts.design.end_name(end)),
                least,
                expected,
                greatest,
                Cell::Blank,
                Cell::Blank,
                Cell::Blank,
            ]);
        }
    }
    sheet.notes.push(format!("{} of ordnance left out", number::counted(left_out, "net")));
    sheet
}

/// Elements that sit on a splice, stud or ground point themselves and so cannot be parted from it, by end.
fn elements_at(facts: &Facts) -> HashMap<End, Vec<ElementId>> {
    let mut at: HashMap<End, Vec<ElementId>> = HashMap::new();
    for (end, element, _) in landings(facts.design) {
        let is_joint = matches!(end, End::Splice(_) | End::Stud(_) | End::Ground(_));
        if is_joint && !matches!(element, ElementId::Wire(_) | ElementId::StructurePath(_) | ElementId::Strap(_)) {
            at.entry(end).or_default().push(element);
        }
    }
    at
}

/// The least rating of a net's parts and whose it is, or why it has none.
fn weakest(facts: &Facts, net: &HarnessNet) -> Result<(Volt, String), String> {
    let design = facts.design;
    let mut least: Option<(Volt, String)> = None;
    let mut take = |volts: Volt, whose: String| {
        if least.as_ref().is_none_or(|(known, _)| volts < *known) {
            least = Some((volts, whose));
        }
    };
    for &wire in &net.wires {
        let row = &design.wires[wire];
        let Some(spec) = row.spec.map(|spec| &design.wire_specs[spec.value]) else {
            return Err(format!("the type of wire {} is not given", row.name));
        };
        match spec.volts {
            Some(volts) => take(volts.value, format!("wire type {}", spec.kind)),
            None => return Err(format!("the rated voltage of wire type {} is not given", spec.kind)),
        }
    }
    for end in &net.ends {
        let End::Pin(pin) = end else { continue };
        let half = design.pins[*pin].connector;
        if design.connectors[half].kind == ConnectorKind::Terminals {
            continue;
        }
        let Some(arrangement) = design.arrangement_of(half) else {
            return Err(format!("the insert arrangement of {} is not given", facts.connector_name(half)));
        };
        match arrangement.withstand {
            Some(volts) => take(volts.value, format!("arrangement {}", arrangement.name)),
            None => return Err(format!("what arrangement {} withstands is not given", arrangement.name)),
        }
    }
    least.ok_or_else(|| "no part of it has a rating".to_owned())
}

/// Why no test voltage may be put on a net, or the level: volts and whose rating it rests on.
fn level(facts: &Facts, net: &HarnessNet, at_ends: &HashMap<End, Vec<ElementId>>, practice: Volt) -> Result<(Volt, Volt, String), String> {
    let design = facts.design;
    if let Some(why) = facts.ordnance_net(net) {
        return Err(format!("ordnance: {why}; see the ordnance sheet"));
    }
    if let Some(element) = net.ends.iter().filter_map(|end| at_ends.get(end)).flatten().next() {
        let words = design.element_words(*element);
        return Err(match element {
            ElementId::Sensor(_) => format!("{words} cannot be parted from it: sensor"),
            ElementId::Load(id) if design.loads[*id].suppressor.is_some_and(|with| with.value != Suppressor::None) => {
                format!("{words} cannot be parted from it: suppressor")
            }
            ElementId::Load(id) if design.loads[*id].input_capacitance.is_some() => format!("{words} cannot be parted from it: filter"),
            ElementId::Diode(_) => format!("{words} cannot be parted from it: diode"),
            _ => format!("{words} cannot be parted from it: connected unit"),
        });
    }
    let (weakest, whose) = weakest(facts, net)?;
    Ok((insulation_test::level(practice, weakest), weakest, whose))
}

/// What has to be done to a net before a voltage is put on it.
fn before(facts: &Facts, net: &HarnessNet) -> String {
    let grounds: Vec<String> = net
        .ends
        .iter()
        .filter(|end| matches!(end, End::Ground(_) | End::Case(_) | End::Shell(_)))
        .map(|end| facts.design.end_name(*end))
        .collect();
    if grounds.is_empty() { String::new() } else { format!("lift its wires from {}", grounds.join(", ")) }
}

/// Dielectric withstand, net by net.
fn withstand(facts: &Facts, at_ends: &HashMap<End, Vec<ElementId>>) -> Sheet {
    let practice = facts.design.shop.test("withstand");
    let mut sheet = Sheet {
        file: "withstand",
        title: "Dielectric withstand test",
        columns: columns(&[
            "net",
            "at",
            "against",
            "before",
            "first level (V dc)",
            "repeat, least (V dc)",
            "repeat, most (V dc)",
            "leakage at most (mA)",
            "weakest part",
            "not allowed because",
            "applications so far",
            "measured (mA)",
            "discharged",
            "ground joined again",
            "by",
        ]),
        notes: vec![
            format!("before: {DISCONNECTED}"),
            format!(
                "level: the lower of that of the practice and {} % of the rating of the weakest part; on a repeat {} to {} % of the first level (common practice, no source). \
                 A wire counts by its rated voltage, an insert by what it withstands. Raise it by no more than 500 V/s (SB 740-91-01 [read])",
                number::plain(SHARE_OF_RATING * 100.0),
                number::plain(SHARES_ON_REPEAT[0] * 100.0),
                number::plain(SHARES_ON_REPEAT[1] * 100.0)
            ),
            "applications so far: read from the record of this harness and written in before the test; each one ages insulation".to_owned(),
            "after: discharge the net through a resistor and short it, then join the ground that was lifted".to_owned(),
        ],
        cautions: vec![
            "high voltage: barriers, two people, one hand; the net keeps its charge until it is discharged".to_owned(),
            "never with a unit, sensor, filter, suppressor or initiator connected".to_owned(),
        ],
        ..Sheet::default()
    };
    if let Some(line) = practice {
        sheet.notes.push(format!("practice: {} V dc: {} [{}]", number::plain(line.row.volts.0), line.source, line.how));
    }
    for net in &facts.nets.nets {
        let found = match practice {
            Some(line) => level(facts, net, at_ends, line.row.volts),
            None => Err("the catalog states no level".to_owned()),
        };
        let volts = |share: f64| found.as_ref().map_or(Cell::Blank, |(level, ..)| Cell::Number((level.0 * share).floor(), 0));
        let leakage = practice.and_then(|line| line.row.leakage);
        sheet.rows.push(vec![
            Cell::text(net_name(facts, net)),
            Cell::text(facts.design.end_name(net.ends[0])),
            Cell::text("all other nets, shields and structure"),
            Cell::text(before(facts, net)),
            volts(1.0),
            volts(SHARES_ON_REPEAT[0]),
            volts(SHARES_ON_REPEAT[1]),
            if found.is_ok() { Cell::number(leakage.map(|leakage| leakage.0 * 1e3), 2) } else { Cell::Blank },
            found.as_ref().map_or(Cell::Blank, |(_, weakest, whose)| Cell::Text(format!("{whose}, {} V", number::plain(weakest.0)))),
            Cell::text(found.as_ref().err().map_or(String::new(), |why| format!("not allowed: {why}"))),
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    sheet
}

/// Insulation resistance, net by net.
fn insulation(facts: &Facts, at_ends: &HashMap<End, Vec<ElementId>>) -> Sheet {
    let practice = facts.design.shop.test("insulation");
    let base = practice.and_then(|line| line.row.ohms);
    let mut sheet = Sheet {
        file: "insulation",
        title: "Isolation test",
        columns: columns(&[
            "net",
            "at",
            "against",
            "before",
            "level (V dc)",
            "at least (Mohm)",
            "not allowed because",
            "measured (Mohm)",
            "at (degC)",
            "discharged",
            "by",
        ]),
        notes: vec![
            format!("before: {DISCONNECTED}; after the withstand test"),
            format!(
                "one test for each of {}, each against all others tied together with shields and structure",
                number::counted(facts.nets.nets.len(), "net")
            ),
        ],
        cautions: vec!["high voltage: the net keeps its charge until it is discharged".to_owned()],
        ..Sheet::default()
    };
    if let Some(line) = practice {
        sheet.notes.push(format!("practice: {} V dc: {} [{}]", number::plain(line.row.volts.0), line.source, line.how));
    }
    if let Some(base) = base {
        let at = |celsius: f64| {
            let limit = insulation_test::insulation_limit(base, Kelvin(celsius + 273.15));
            limit.map_or("no test".to_owned(), |Ohm(ohms)| format!("{} Mohm", number::significant(ohms / 1e6, 3)))
        };
        let steps: Vec<String> = [10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0].iter().map(|t| format!("{t} degC {}", at(*t))).collect();
        sheet.notes.push(format!("least insulation resistance by temperature: {} (SB 740-91-01, par. 4c [read])", steps.join(", ")));
    }
    for net in &facts.nets.nets {
        let found = match practice {
            Some(line) => level(facts, net, at_ends, line.row.volts),
            None => Err("the catalog states no level".to_owned()),
        };
        sheet.rows.push(vec![
            Cell::text(net_name(facts, net)),
            Cell::text(facts.design.end_name(net.ends[0])),
            Cell::text("all other nets, shields and structure"),
            Cell::text(before(facts, net)),
            found.as_ref().map_or(Cell::Blank, |(level, ..)| Cell::Number(level.0.floor(), 0)),
            if found.is_ok() { Cell::number(base.map(|base| base.0 / 1e6), 0) } else { Cell::Blank },
            Cell::text(found.as_ref().err().map_or(String::new(), |why| format!("not allowed: {why}"))),
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    sheet
}

/// Bond straps, ground joints, shields.
fn bonds(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "shields-and-bonds",
        title: "Shield and bond test",
        columns: columns(&["what", "name", "from", "to", "expected (mohm)", "greatest (mohm)", "measured (mohm)", "by"]),
        notes: vec![
            "four-wire, both polarities averaged; bonds before wires are joined to them".to_owned(),
            "shields: from the shield to the shell at each end that it is joined to, and none to its cores; where a shield goes is not in the model: record".to_owned(),
        ],
        ..Sheet::default()
    };
    let mut push = |what: &str, name: &str, from: String, to: String, ohms: Option<&Spread<Ohm>>| {
        let of = |ohms: Option<Given<Ohm>>| ohms.map_or(Cell::text("record"), |ohms| Cell::Number(ohms.value.0 * 1e3, 2));
        sheet.rows.push(vec![
            Cell::text(what),
            Cell::text(name),
            Cell::text(from),
            Cell::text(to),
            of(ohms.map(|ohms| ohms.typical)),
            of(ohms.map(|ohms| ohms.high)),
            Cell::Blank,
            Cell::Blank,
        ]);
    };
    for (_, strap) in design.straps.iter() {
        push("bond strap", &strap.name, design.end_name(strap.from.value), design.end_name(strap.to.value), Some(&strap.ohms));
    }
    for (_, path) in design.structure_paths.iter() {
        push("structure", &path.name, design.end_name(path.from.value), design.end_name(path.to.value), Some(&path.ohms));
    }
    for (id, ground) in design.grounds.iter() {
        for (wire, _) in facts.landed(End::Ground(id)) {
            push(
                "ground joint",
                &ground.name,
                format!("lug of {}", design.wires[*wire].name),
                design.end_name(End::Ground(id)),
                Some(&ground.joint),
            );
        }
    }
    for (id, cable) in design.cables.iter().filter(|(_, cable)| cable.kind.is_shielded() || cable.kind == CableKind::Coaxial) {
        for place in super::lists::ends_of_cable(facts, id) {
            push("shield", &cable.name, format!("shield at {place}"), format!("shell of {place}"), None);
        }
    }
    sheet
}

/// The largest voltage of a pin against another over the phases, in the typical corner, with its phase.
fn volts_between(facts: &Facts, plus: End, minus: End) -> Option<(f64, String)> {
    let points = facts.view.points.iter().filter(|point| point.scenario.corner == Corner::Typical);
    let values = points.filter_map(|point| Some((facts.view.between(point, plus, minus).ok()?, facts.view.phase(point))));
    values.reduce(|best, one| if one.0.abs() > best.0.abs() + 1e-6 { one } else { best })
}

/// The halves on which wires land, with the half across, where both are known.
fn mated(facts: &Facts) -> Vec<(Id<Connector>, Id<Connector>)> {
    facts.wired_halves().into_iter().filter_map(|half| Some((half, facts.mate(half)?))).collect()
}

/// Which way round every pair of power pins is.
fn polarity(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "polarity",
        title: "Polarity test",
        columns: columns(&["connector", "plus at", "minus at", "signal", "expected (V)", "in phase", "measured (V)", "by"]),
        notes: vec![
            "at the harness half that is parted from the unit taking power there, fed from its source: the sign counts. Volts are those of the typical corner with \
             all loads on; without load they read up to the drop of the wiring more"
                .to_owned(),
        ],
        cautions: vec!["live pins: probe with the lead made for the connector, never with bare tips".to_owned()],
        ..Sheet::default()
    };
    for (half, _) in mated(facts) {
        for &pin in facts.pins_of(half) {
            let Some(port) = facts.port(pin).filter(|port| port.meaning.value == PinMeaning::PowerIn) else { continue };
            if facts.ordnance(pin).is_some() || facts.landed(End::Pin(pin)).is_empty() {
                continue;
            }
            let back = port.own_return.and_then(|back| facts.across(back.value).first().map(|(_, other)| *other));
            let found = port.own_return.and_then(|back| volts_between(facts, End::Pin(port.pin), End::Pin(back.value)));
            sheet.rows.push(vec![
                Cell::text(facts.connector_name(half)),
                Cell::text(design.pin_name(pin)),
                Cell::given(back.map(|back| design.pin_name(back))),
                port.signal.as_ref().map_or(Cell::NotGiven, |signal| Cell::text(&*signal.value)),
                found.as_ref().map_or(Cell::text("record"), |(volts, _)| Cell::Number(*volts, 2)),
                found.map_or(Cell::Blank, |(_, phase)| Cell::Text(phase)),
                Cell::Blank,
                Cell::Blank,
            ]);
        }
    }
    sheet
}

/// Ohms that a unit shows between a pin and its return with nothing on, where the model says.
fn input_ohms(facts: &Facts) -> HashMap<(End, End), f64> {
    let design = facts.design;
    let mut found: HashMap<(End, End), Option<f64>> = HashMap::new();
    let mut add = |a: End, b: End, ohms: Option<f64>| {
        // Two things between the same pins: neither alone is what is read.
        found.entry((a, b)).and_modify(|known| *known = None).or_insert(ohms);
    };
    for (_, load) in design.loads.iter() {
        let ohms = match load.demand {
            Some(Demand::Resistance(ohms)) => Some(ohms.typical.value.0),
            _ => None,
        };
        add(load.line.value, load.line_return.value, ohms);
    }
    for (_, receiver) in design.receivers.iter() {
        add(receiver.positive.value, receiver.negative.value, Some(receiver.ohms.value.0));
    }
    for (_, converter) in design.converters.iter() {
        add(converter.line.value, converter.line_return.value, None);
    }
    found.into_iter().filter_map(|(ends, ohms)| Some((ends, ohms?))).collect()
}

/// A limiter inside the unit from which a pin is fed: an electronic switch that leaks when it is off.
fn limiter_behind(facts: &Facts, pin: Id<Pin>) -> Option<String> {
    let prepared = facts.view.prepared;
    let mut open = VecDeque::from([prepared.node(End::Pin(pin))?]);
    let mut seen = HashSet::from([open[0]]);
    while let Some(node) = open.pop_front() {
        for &row in prepared.meeting(node) {
            let branch = &prepared.branches()[row as usize];
            let goes_on = match branch.element {
                ElementId::Protector(id) => {
                    let limiter = &facts.design.protectors[id];
                    if limiter.kind == ProtectorKind::Limiter {
                        return Some(format!("limiter {}", limiter.name));
                    }
                    false
                }
                ElementId::Switch(_) | ElementId::Link(_) => true,
                _ => false,
            };
            let next = if branch.from == node { branch.to } else { branch.from };
            if goes_on && seen.insert(next) {
                open.push_back(next);
            }
        }
    }
    None
}

/// Before each connector is mated: what both halves show, pin by pin.
fn safe_to_mate(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "safe-to-mate",
        title: "Safe-to-mate sheet",
        columns: columns(&[
            "connector",
            "goes to",
            "pin",
            "pin is for",
            "signal",
            "against",
            "harness side, off (V)",
            "measured (V)",
            "harness side, fed (V)",
            "measured (V)",
            "unit side (ohm)",
            "measured (ohm)",
            "meter",
            "by",
        ]),
        notes: vec![
            "one connector at a time: inspect both halves (pins straight, key, no debris), measure, mate, log, sign, then the next".to_owned(),
            "off: dead-faced, every source off or parted; each pin against its return, and against structure where it has none. Fed: only what the sequence has fed so \
             far, typical corner, the highest of all phases; without load it reads up to the drop of the wiring more"
                .to_owned(),
            "unit side: unit off, typical; `record` where no input impedance is stated: the first reading becomes the reference".to_owned(),
            "bleed load: an electronic switch that is off leaks enough for a meter of high impedance to read the bus; measure across a bleed load between pin and return".to_owned(),
        ],
        cautions: vec![
            "power is removed before anything is mated or parted: dead-face first".to_owned(),
            "no ohmmeter on ordnance pins: see the ordnance sheet".to_owned(),
        ],
        ..Sheet::default()
    };
    let inputs = input_ohms(facts);
    for (half, mate) in mated(facts) {
        if design.connectors[half].kind == ConnectorKind::Terminals {
            continue;
        }
        for &pin in facts.pins_of(half) {
            if facts.landed(End::Pin(pin)).is_empty() {
                continue;
            }
            let port = facts.port(pin);
            let meaning = port.map(|port| port.meaning.value);
            let own = port.map(|port| port.pin);
            let back = port.and_then(|port| port.own_return).map(|back| back.value);
            // The sheet names the unit's pins; what is probed first is the harness half.
            let here = |back: Id<Pin>| {
                facts.across(back).iter().map(|(_, other)| *other).find(|pin| design.pins[*pin].connector == half).unwrap_or(back)
            };
            let head = [
                Cell::text(facts.connector_name(half)),
                Cell::text(facts.connector_name(mate)),
                Cell::text(design.pin_name(pin)),
                meaning.map_or(Cell::NotGiven, |meaning| Cell::text(meaning.word())),
                port.and_then(|port| port.signal.as_ref()).map_or(Cell::Blank, |signal| Cell::text(&*signal.value)),
                Cell::text(back.map_or_else(|| "structure".to_owned(), |back| design.pin_name(here(back)))),
            ];
            let rest = if let Some(why) = facts.ordnance(pin) {
                let never = Cell::Text(format!("ordnance ({why}): not here, see the ordnance sheet"));
                [never, Cell::Blank, Cell::Blank, Cell::Blank, Cell::Blank, Cell::Blank, Cell::Blank, Cell::Blank]
            } else {
                let fed = match (meaning, own.zip(back)) {
                    (Some(PinMeaning::PowerIn | PinMeaning::PowerOut), Some((own, back))) => {
                        volts_between(facts, End::Pin(own), End::Pin(back))
                    }
                    _ => None,
                };
                let is_power = matches!(meaning, Some(PinMeaning::PowerIn | PinMeaning::PowerOut));
                let ohms = own.zip(back).and_then(|(own, back)| inputs.get(&(End::Pin(own), End::Pin(back))).copied());
                let leaks = if is_power { feeder_limiter(facts, pin) } else { None };
                [
                    Cell::Number(0.0, 2),
                    Cell::Blank,
                    match (is_power, &fed) {
                        (true, Some((volts, _))) => Cell::Number(*volts, 2),
                        (true, None) => Cell::text("record"),
                        _ => Cell::Blank,
                    },
                    Cell::Blank,
                    match (ohms, meaning) {
                        (Some(ohms), _) => Cell::Number(ohms, 2),
                        (None, Some(PinMeaning::Spare | PinMeaning::NoConnect)) => Cell::text("open"),
                        _ => Cell::text("record"),
                    },
                    Cell::Blank,
                    Cell::text(leaks.map_or(String::new(), |leaks| format!("bleed load: {leaks}"))),
                    Cell::Blank,
                ]
            };
            sheet.rows.push(head.into_iter().chain(rest).collect());
        }
    }
    sheet
}

/// The limiter that feeds a pin of the harness: inside the unit across from it, or from any other pin of its net.
fn feeder_limiter(facts: &Facts, pin: Id<Pin>) -> Option<String> {
    let net = facts.nets.of(End::Pin(pin)).map(|net| &facts.nets.nets[net])?;
    let pins = net.ends.iter().filter_map(|end| if let End::Pin(pin) = end { Some(*pin) } else { None });
    let gives = |other: &Id<Pin>| facts.port(*other).is_some_and(|port| port.meaning.value == PinMeaning::PowerOut);
    pins.flat_map(|pin| facts.across(pin).iter().map(|(_, other)| *other)).filter(gives).find_map(|other| limiter_behind(facts, other))
}

/// Whether something is commanded on in a phase.
fn is_on(design: &Design, phase: &Phase, element: ElementId) -> bool {
    let own = match element {
        ElementId::Load(id) => design.loads[id].on,
        ElementId::Switch(id) => design.switches[id].closed,
        ElementId::Protector(id) => design.protectors[id].closed,
        ElementId::Source(id) => design.batteries[id].on,
        ElementId::Converter(id) => design.converters[id].on,
        _ => true,
    };
    let said = phase.states.iter().rev().find(|state| state.value.0 == element);
    said.map_or(own, |state| state.value.1 == Commanded::On)
}

/// First time that power is put on: from the sources outwards, in the states of the first phase.
fn power_on(facts: &Facts) -> Sheet {
    let design = facts.design;
    let prepared = facts.view.prepared;
    let (first, phase) = design.phases.iter().next().expect("a checked design has a phase");
    let point = facts.view.points.iter().find(|point| point.scenario.phase == first && point.scenario.corner == Corner::Typical);
    let mut sheet = Sheet {
        file: "power-on",
        title: "First power-on",
        columns: columns(&[
            "step",
            "do",
            "what",
            "then at",
            "expected (V)",
            "expected (A)",
            "measured (V)",
            "measured (A)",
            "go on if",
            "by",
        ]),
        notes: vec![
            format!("states of phase {}, typical corner, everything of the phase on: before the last step currents are less", phase.name),
            "one step at a time; current limit of the supply set just above what the step is to draw. A source by itself: without load. A node or bus inside a unit \
             is read by telemetry or at the unit's test point"
                .to_owned(),
        ],
        cautions: vec![
            "only after every safe-to-mate sheet is signed; ordnance shorted and shielded, its firing circuits open".to_owned(),
            "one person at the switch that takes all power away".to_owned(),
        ],
        ..Sheet::default()
    };
    let mut step = 0;
    let mut push = |act: &str, element: Option<ElementId>, at: Option<End>, condition: &str| {
        step += 1;
        let alone = match element {
            Some(ElementId::Source(id)) => design.batteries[id].emf.as_ref().map(|emf| emf.typical.value.0),
            _ => None,
        };
        let volts = alone.or_else(|| at.zip(point).and_then(|(end, point)| facts.view.against_zero(point, end).0.ok()));
        let draws = element.filter(|element| !matches!(element, ElementId::Source(_)));
        let amps = draws.zip(point).and_then(|(element, point)| facts.view.current(point, element).ok());
        sheet.rows.push(vec![
            Cell::count(step),
            Cell::text(act),
            Cell::text(element.map_or(String::new(), |element| design.element_words(element))),
            Cell::text(at.map_or(String::new(), |at| design.end_name(at))),
            volts.map_or(Cell::text(if at.is_some() { "record" } else { "" }), |volts| Cell::Number(volts, 2)),
            amps.map_or(Cell::Blank, |amps| Cell::Number(amps.abs(), 3)),
            Cell::Blank,
            Cell::Blank,
            Cell::text(condition),
            Cell::Blank,
        ]);
    };
    push("open every breaker, fuse and switch; command every load off", None, None, "each is seen to be open");
    let mut queue: VecDeque<NodeId> = VecDeque::new();
    let mut seen = vec![false; prepared.nodes()];
    for (id, source) in design.batteries.iter().filter(|(id, _)| is_on(design, phase, ElementId::Source(*id))) {
        push("connect", Some(ElementId::Source(id)), Some(source.positive.value), "no current flows");
        for end in [source.positive.value, source.negative.value] {
            queue.extend(prepared.node(end));
        }
    }
    let firing = firing_side(facts);
    let (mut done, mut left): (BTreeSet<ElementId>, BTreeSet<ElementId>) = Default::default();
    let mut loads = Vec::new();
    while let Some(node) = queue.pop_front() {
        if std::mem::replace(&mut seen[node.row()], true) {
            continue;
        }
        for &row in prepared.meeting(node) {
            let branch = &prepared.branches()[row as usize];
            let next = if branch.from == node { branch.to } else { branch.from };
            let element = branch.element;
            let on = is_on(design, phase, element);
            match element {
                ElementId::Protector(_) | ElementId::Switch(_) if firing.contains(&element) => drop(left.insert(element)),
                ElementId::Protector(_) | ElementId::Switch(_) | ElementId::Converter(_) if on => {
                    if done.insert(element) {
                        push(
                            if matches!(element, ElementId::Converter(_)) { "switch on" } else { "close" },
                            Some(element),
                            Some(prepared.node_end(next)),
                            "volts as expected, nothing warm",
                        );
                    }
                    queue.push_back(next);
                }
                ElementId::Protector(_) | ElementId::Switch(_) | ElementId::Source(_) => {}
                ElementId::Load(id) => {
                    if on && done.insert(element) {
                        loads.push(id);
                    }
                }
                ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Excitation(_) => {}
                _ => queue.push_back(next),
            }
        }
    }
    let initiated: Vec<Id<Load>> = design.initiators.iter().map(|(_, initiator)| initiator.load.value).collect();
    for id in loads.into_iter().filter(|id| !initiated.contains(id)) {
        push("switch on", Some(ElementId::Load(id)), Some(design.loads[id].line.value), "current as expected");
    }
    if !left.is_empty() {
        let names: Vec<String> = left.iter().map(|element| design.element_words(*element)).collect();
        push(&format!("left open, since they lead to initiators: {}", names.join(", ")), None, None, "each is seen to be open");
    }
    sheet
}

/// Breakers, fuses and switches on the way to an initiator: all that lies between its line and the buses, whatever is open. Plugs that short or safe are no
/// way, nor is what comes back.
fn firing_side(facts: &Facts) -> BTreeSet<ElementId> {
    let design = facts.design;
    let prepared = facts.view.prepared;
    let mut found = BTreeSet::new();
    let mut seen = vec![false; prepared.nodes()];
    let lines = design.initiators.iter().map(|(_, initiator)| design.loads[initiator.load.value].line.value);
    let mut open: Vec<NodeId> = lines.filter_map(|line| prepared.node(line)).collect();
    let ends_here = |node: NodeId| match prepared.node_end(node) {
        End::Inner(id) => design.inner_nodes[id].is_bus,
        End::Stud(_) | End::Ground(_) | End::Case(_) => true,
        End::Pin(pin) => facts.port(pin).is_some_and(|port| port.meaning.value == PinMeaning::Return),
        _ => false,
    };
    while let Some(node) = open.pop() {
        if std::mem::replace(&mut seen[node.row()], true) || ends_here(node) {
            continue;
        }
        for &row in prepared.meeting(node) {
            let branch = &prepared.branches()[row as usize];
            match branch.element {
                ElementId::Load(_) | ElementId::Sensor(_) | ElementId::Receiver(_) | ElementId::Excitation(_) | ElementId::Converter(_) => {
                    continue;
                }
                ElementId::FittedLink(id) if design.fitted[design.fitted_links[id].fitted].kind != FittedKind::FlightPlug => continue,
                element @ (ElementId::Protector(_) | ElementId::Switch(_)) => drop(found.insert(element)),
                _ => {}
            }
            open.push(if branch.from == node { branch.to } else { branch.from });
        }
    }
    found
}

/// Ordnance circuits, apart from everything else.
fn ordnance(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "ordnance",
        title: "Ordnance circuits",
        columns: columns(&["step", "initiator", "pins", "do", "with", "current at most (mA)", "expected", "measured", "by", "witness"]),
        notes: vec![
            "no row of the other test sheets touches these nets. The steps stand in their order; the governing range-safety standard and the procedure released for \
             the day decide"
                .to_owned(),
            "current at most: the lower of 50 mA and a tenth of the no-fire current of the initiator's own sheet (range-safety practice [from memory])".to_owned(),
        ],
        cautions: vec![
            "an initiator fires on a stray milliampere: area cleared, radios off, wrist straps on, circuits shorted and shielded until the last step".to_owned(),
            "only meters certified for ordnance, their current limited and checked on the day; never a common ohmmeter".to_owned(),
        ],
        ..Sheet::default()
    };
    for (_, initiator) in design.initiators.iter() {
        let load = &design.loads[initiator.load.value];
        let pins = [load.line.value, load.line_return.value].map(|end| design.end_name(end)).join(", ");
        let limit = initiator.no_fire.map(|no_fire| (STRAY_SHARE * no_fire.value.0).min(STRAY_MOST) * 1e3);
        let bridge = match load.demand {
            Some(Demand::Resistance(ohms)) => {
                format!("{} to {} ohm", number::plain(ohms.low.value.0), number::plain(ohms.high.value.0))
            }
            _ => NOT_GIVEN.to_owned(),
        };
        let meter = "meter certified for ordnance, current-limited";
        let steps = [
            ("see that the shorting plug is on and the shield is closed", "", None, "on".to_owned()),
            (
                "measure stray voltage at the firing harness half, parted from the initiator, all power as it will be",
                meter,
                None,
                "0 V".to_owned(),
            ),
            ("measure the bridge wire, at the unit parted from the firing harness", meter, limit, bridge),
            ("put the shorting plug on again", "", None, "on".to_owned()),
            ("measure stray voltage again just before mating", meter, None, "0 V".to_owned()),
            ("last of all: shorting plug off, mate, lock, log", "", None, String::new()),
        ];
        for (at, (act, with, current, expected)) in steps.into_iter().enumerate() {
            let is_bridge = at == 2;
            let act =
                if is_bridge && limit.is_none() { "not allowed: its no-fire current is not given".to_owned() } else { act.to_owned() };
            sheet.rows.push(vec![
                Cell::count(at + 1),
                Cell::text(&*initiator.name),
                Cell::text(&*pins),
                Cell::Text(act),
                Cell::text(with),
                match (is_bridge, current) {
                    (true, current) => Cell::number(current, 1),
                    _ => Cell::Blank,
                },
                Cell::text(expected),
                Cell::Blank,
                Cell::Blank,
                Cell::Blank,
            ]);
        }
    }
    for net in facts.nets.nets.iter() {
        let Some(why) = facts.ordnance_net(net) else { continue };
        let ends = net.ends.iter().map(|end| design.end_name(*end)).collect::<Vec<_>>().join(", ");
        sheet.rows.push(vec![
            Cell::Blank,
            Cell::text(net_name(facts, net)),
            Cell::text(ends),
            Cell::Text(format!("left out of the automatic tests: {why}")),
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
            Cell::Blank,
        ]);
    }
    sheet
}

/// What a contact size, wire type and gauge are joined by, with how often: size is `None` for lugs and splices.
type Crimp = (Option<String>, &'static str, String, physics::gauge::Awg);

fn crimps(facts: &Facts) -> BTreeMap<Crimp, usize> {
    let design = facts.design;
    let mut found: BTreeMap<Crimp, usize> = BTreeMap::new();
    for (_, wire) in design.wires.iter() {
        let Some(spec) = wire.spec.map(|spec| &design.wire_specs[spec.value]) else { continue };
        for end in [wire.from.value, wire.to.value] {
            let of = match end {
                End::Pin(pin) => {
                    let row = &design.pins[pin];
                    match design.connectors[row.connector].kind {
                        ConnectorKind::Terminals => (None, "lug"),
                        _ => (
                            facts.contact_size(row.connector, &row.cavity, Some(pin)).map(|size| size.to_string()),
                            gender_word(facts.gender(row.connector)),
                        ),
                    }
                }
                End::Splice(_) => (None, "splice"),
                End::Stud(_) | End::Ground(_) | End::Case(_) => (None, "lug"),
                _ => continue,
            };
            *found.entry((of.0, of.1, spec.kind.to_string(), spec.gauge)).or_default() += 1;
        }
    }
    found
}

/// Record of each crimp tool's set-up: samples are pulled, never what flies.
fn crimp_set_up(facts: &Facts) -> Sheet {
    let mut sheet = Sheet {
        file: "crimp-set-up",
        title: "Crimp tool set-up record",
        columns: columns(&[
            "contact",
            "wire type",
            "gauge (AWG)",
            "joints",
            "tool",
            "positioner",
            "setting",
            "contact lot",
            "wire lot",
            "samples",
            "each at least (N)",
            "pulled (N)",
            "source",
            "by",
            "date",
        ]),
        notes: vec![
            "samples of the same contact, wire, tool, positioner and setting, made before and after the run, and pulled until they part".to_owned(),
            "least forces are for copper: of another metal they are not given here".to_owned(),
            "insulation gap of every crimp 0.25 mm at least, 0.75 mm at most for 20 AWG and thinner, 1.25 mm for 18 AWG and thicker (NASA-STD-8739.4 with Change 6, \
             sec. 10.1, page 53 [read])"
                .to_owned(),
        ],
        cautions: vec!["these forces are for samples: no joint that flies is pulled to them".to_owned()],
        ..Sheet::default()
    };
    for ((size, what, kind, gauge), joints) in crimps(facts) {
        // The table is for copper; another metal in the same barrel parts at another force.
        let is_copper =
            facts.design.wire_specs.iter().any(|(_, spec)| *spec.kind == *kind && spec.gauge == gauge && spec.alloy == Alloy::COPPER);
        let line = facts.design.shop.crimp(size.as_deref(), gauge).filter(|_| is_copper);
        let contact = size.map_or(what.to_owned(), |size| format!("{size} {what}"));
        let blank = || Cell::Blank;
        sheet.rows.push(vec![
            Cell::text(contact),
            Cell::text(kind),
            Cell::text(gauge.to_string()),
            Cell::count(joints),
            blank(),
            blank(),
            blank(),
            blank(),
            blank(),
            blank(),
            Cell::number(line.map(|line| line.row.pull.0), 1),
            blank(),
            line.map_or(Cell::NotGiven, |line| Cell::Text(format!("{} [{}]", line.source, line.how))),
            blank(),
            blank(),
        ]);
    }
    sheet
}

/// Every contact is seen to be seated, with a force of its own.
fn seating(facts: &Facts) -> Sheet {
    let design = facts.design;
    let mut sheet = Sheet {
        file: "seating",
        title: "Contact seating check",
        columns: columns(&["connector", "contact", "gauge (AWG)", "contacts", "push or pull (N)", "never above (N)", "passed", "by", "date"]),
        notes: vec![
            "every contact, once for each insertion (NASA-STD-8739.4 with Change 6, par. 13.8.2, page 69 [read]). Push or pull: from the sheet of the connector; it is not in \
             the model and stays blank until it is known"
                .to_owned(),
            "never above: 80 % of the least pull of the crimp (sec. 13.8, page 70 [read]); 127 mm of free wire behind the grommet and within 5 degrees of straight \
             (pages 70 and 71 [read])"
                .to_owned(),
        ],
        cautions: vec!["the forces of the crimp tool's record are never put on a contact that flies".to_owned()],
        ..Sheet::default()
    };
    for half in facts.wired_halves() {
        if design.connectors[half].kind == ConnectorKind::Terminals {
            continue;
        }
        let mut of: BTreeMap<(String, physics::gauge::Awg), usize> = BTreeMap::new();
        let mut is_copper = true;
        for &pin in facts.pins_of(half) {
            for (wire, _) in facts.landed(End::Pin(pin)) {
                let Some(spec) = design.wires[*wire].spec.map(|spec| &design.wire_specs[spec.value]) else { continue };
                is_copper &= spec.alloy == Alloy::COPPER;
                let size =
                    facts.contact_size(half, &design.pins[pin].cavity, Some(pin)).map_or(NOT_GIVEN.to_owned(), |size| size.to_string());
                *of.entry((size, spec.gauge)).or_default() += 1;
            }
        }
        for ((size, gauge), count) in of {
            let pull = design.shop.crimp(Some(&size), gauge).filter(|_| is_copper).map(|line| line.row.pull.0 * SEATING_SHARE);
            sheet.rows.push(vec![
                Cell::text(facts.connector_name(half)),
                Cell::Text(format!("{size} {}", gender_word(facts.gender(half)))),
                Cell::text(gauge.to_string()),
                Cell::count(count),
                Cell::Blank,
                Cell::number(pull, 1),
                Cell::Blank,
                Cell::Blank,
                Cell::Blank,
            ]);
        }
    }
    sheet
}
