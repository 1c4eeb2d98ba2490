//! Synthetic vehicles in the input language, for property tests, the oracle and the benchmarks.
//!
//! Groups of buses, each group on a source of its own, joined by ties open and closed; circuits that leave a bus through a breaker
//! and pass two to four mated connectors; returns of their own, shared through splices, or by structure; a mesh of ground points;
//! or-ing diodes; loads by all three laws; converters and sensors in millivolts. Invented from the ground up.

use crate::random::Random;
use std::fmt;

/// Adds a line to a text; unlike `writeln!` it has no error to handle.
macro_rules! put {
    ($text:expr, $($line:tt)*) => {{
        $text.push_str(&format!($($line)*));
        $text.push('\n');
    }};
}

mod map;

pub use map::{generate_mapped, generate_zoned};

/// What to make.
#[derive(Clone, Debug)]
pub struct Options {
    /// Rows of the wire list, reached within one circuit.
    pub wires: usize,
    /// Where the random numbers begin.
    pub seed: u64,
    /// Mission phases, at least one.
    pub phases: usize,
    /// How well the sources carry the loads.
    pub strength: Strength,
    /// Whether phases now and then switch a source off.
    pub sources_off: bool,
}

/// How well the sources carry the loads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strength {
    /// A sound network: a few hundredths of the voltage are lost.
    Strong,
    /// Source resistances so high that some constant-power loads drop out.
    Weak,
    /// Constant-power loads without drop-out that ask for more than the sources can give.
    Overloaded,
}

/// A vehicle folder and what is in it.
#[derive(Clone, Debug)]
pub struct Generated {
    /// Path in the folder and bytes, in order of path.
    pub files: Vec<(String, Vec<u8>)>,
    /// Counts of what was made.
    pub statistics: Statistics,
}

/// Counts of what was made.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is the count of what its name says")]
pub struct Statistics {
    pub wires: usize,
    pub phases: usize,
    pub sources: usize,
    pub buses: usize,
    pub ties_closed: usize,
    pub ties_open: usize,
    pub units: usize,
    pub connectors: usize,
    pub mated_pairs: usize,
    pub loads_power: usize,
    pub loads_power_dropping: usize,
    pub loads_resistance: usize,
    pub loads_current: usize,
    pub diodes: usize,
    pub feeds: usize,
    pub feeds_ored: usize,
    pub returns_own: usize,
    pub returns_shared: usize,
    pub returns_structure: usize,
    pub splices: usize,
    pub grounds: usize,
    pub structure_paths: usize,
    pub converters: usize,
    pub sensors: usize,
    pub segments: usize,
    pub clamps: usize,
}

impl fmt::Display for Statistics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let s = self;
        writeln!(f, "{} wires, {} phases", s.wires, s.phases)?;
        writeln!(f, "{} sources, {} buses, {} ties closed, {} open", s.sources, s.buses, s.ties_closed, s.ties_open)?;
        writeln!(f, "{} units, {} connector halves, {} mated pins", s.units, s.connectors, s.mated_pairs)?;
        writeln!(
            f,
            "loads: {} power ({} with drop-out), {} resistance, {} current; {} feeds, {} or-ed by diodes",
            s.loads_power, s.loads_power_dropping, s.loads_resistance, s.loads_current, s.feeds, s.feeds_ored
        )?;
        writeln!(
            f,
            "returns: {} own, {} shared, {} by structure; {} splices, {} ground points, {} structure paths",
            s.returns_own, s.returns_shared, s.returns_structure, s.splices, s.grounds, s.structure_paths
        )?;
        write!(f, "{} converters, {} sensors", s.converters, s.sensors)?;
        if s.segments > 0 {
            write!(f, "\n{} segments, {} clamps and holes", s.segments, s.clamps)?;
        }
        Ok(())
    }
}

/// Wires of one group of buses, about.
const WIRES_PER_GROUP: usize = 220;
const NOMINAL_VOLTS: f64 = 28.0;

/// Makes a vehicle. The same options give the same bytes.
pub fn generate(options: &Options) -> Generated {
    make(options, false)
}

fn make(options: &Options, mapped: bool) -> Generated {
    let mut v = Vehicle::new(options, mapped);
    let groups = (options.wires / WIRES_PER_GROUP).max(2);
    v.structure(groups);
    for group in 0..groups {
        v.group(group);
    }
    for group in 0..groups {
        v.instruments(group, (options.wires / groups / 60).clamp(1, 5));
    }
    while v.rows.len() < options.wires {
        v.load_unit();
    }
    v.sources();
    v.phases();
    v.finish()
}

/// One bus and where its wires go.
struct Bus {
    group: usize,
    /// Connectors with crimped contacts made so far, and cavities used in the last.
    connectors: usize,
    used: usize,
    /// Binding posts used for thick wires.
    posts: usize,
}

/// A half of a bulkhead connector pair being filled.
#[derive(Default)]
struct Bulkhead {
    pair: usize,
    used: usize,
}

const CAVITIES_BUS: usize = 37;
const CAVITIES_BULKHEAD: usize = 61;

struct Vehicle<'o> {
    options: &'o Options,
    random: Random,
    rows: Vec<String>,
    network: String,
    units: String,
    loads: String,
    buses: Vec<Bus>,
    /// Power that the loads on a group of buses ask for at the nominal voltage.
    asked: Vec<f64>,
    /// The pair being filled: one for all, or with a map one for each group.
    bulkheads: Vec<Bulkhead>,
    pairs: usize,
    /// Whether the harness has a map.
    mapped: bool,
    /// The group that wires are being made for, and those of bulkheads and boxes made.
    here: usize,
    bulkhead_groups: Vec<usize>,
    unit_groups: Vec<usize>,
    load_names: Vec<String>,
    tie_names: Vec<String>,
    load_units: usize,
    circuits: usize,
    links: usize,
    count: Statistics,
}

impl<'o> Vehicle<'o> {
    fn new(options: &'o Options, mapped: bool) -> Self {
        Vehicle {
            options,
            random: Random::new(options.seed ^ 0x10_0317),
            rows: Vec::new(),
            network: String::new(),
            units: String::new(),
            loads: String::new(),
            buses: Vec::new(),
            asked: Vec::new(),
            bulkheads: Vec::new(),
            pairs: 0,
            mapped,
            here: 0,
            bulkhead_groups: Vec::new(),
            unit_groups: Vec::new(),
            load_names: Vec::new(),
            tie_names: Vec::new(),
            load_units: 0,
            circuits: 0,
            links: 0,
            count: Statistics::default(),
        }
    }

    /// A row of the wire list.
    fn wire(&mut self, from: &str, to: &str, gauge: i32, metres: f64) {
        let kind = match gauge {
            ..=10 => "copper-tin",
            _ if self.random.chance(0.5) => "M22759/32",
            _ => "M22759/16",
        };
        let usual = format!("W{},{from},{to},{kind},{gauge}", self.rows.len() + 1);
        let row = if self.mapped { self.mapped_row(&usual, gauge, metres) } else { format!("{usual},{metres:.2}\n") };
        self.rows.push(row);
    }

    /// A run that passes bulkheads: each is a mated pair of pins between two wires.
    fn run(&mut self, from: &str, to: &str, gauge: i32, bulkheads: usize) {
        let mut here = from.to_owned();
        for _ in 0..bulkheads {
            let (n, cavity) = self.bulkhead_pin();
            let metres = self.random.between(0.4, 3.0);
            self.wire(&here, &format!("X{n}P.{cavity}"), gauge, metres);
            here = format!("X{n}R.{cavity}");
        }
        let metres = self.random.between(0.4, 3.0);
        self.wire(&here, to, gauge, metres);
    }

    /// The next free cavity of a bulkhead pair, and the number of the pair.
    fn bulkhead_pin(&mut self) -> (usize, usize) {
        let slot = if self.mapped { self.here } else { 0 };
        if self.bulkheads.len() <= slot {
            self.bulkheads.resize_with(slot + 1, Bulkhead::default);
        }
        if self.bulkheads[slot].pair == 0 || self.bulkheads[slot].used == CAVITIES_BULKHEAD {
            self.pairs += 1;
            let n = self.pairs;
            self.bulkheads[slot] = Bulkhead { pair: n, used: 0 };
            self.bulkhead_groups.push(self.here);
            put!(self.units, "[connector.X{n}R]\nhalf = \"receptacle\"\ncontact = \"20\"\ncavities = {CAVITIES_BULKHEAD}");
            put!(self.units, "[connector.X{n}P]\nhalf = \"plug\"\nmate = \"X{n}R\"\ncontact = \"20\"\ncavities = {CAVITIES_BULKHEAD}");
            self.count.connectors += 2;
        }
        self.count.mated_pairs += 1;
        let bulkhead = &mut self.bulkheads[slot];
        bulkhead.used += 1;
        (bulkhead.pair, bulkhead.used)
    }

    /// Ground points on a grid of structure paths; the first is the reference.
    fn structure(&mut self, groups: usize) {
        let (across, along) = (3, 2 + groups / 2);
        for ground in 0..across * along {
            let reference = if ground == 0 { "reference = true" } else { "" };
            put!(self.network, "[ground.G{ground}]\n{reference}");
            self.count.grounds += 1;
            let neighbours = [(ground % across + 1 < across, ground + 1), (ground + across < across * along, ground + across)];
            for (_, neighbour) in neighbours.into_iter().filter(|(exists, _)| *exists) {
                let milliohms = self.random.between(0.1, 0.8);
                self.count.structure_paths += 1;
                let n = self.count.structure_paths;
                put!(
                    self.network,
                    "[structure.ST{n}]\nfrom = \"ground:G{ground}\"\nto = \"ground:G{neighbour}\"\nohms = \"{milliohms:.4} mohm\""
                );
            }
        }
    }

    /// A ground point close to a bus: the groups lie along the structure, and nobody runs a return the length of the vehicle.
    fn ground_near(&mut self, bus: usize) -> String {
        let row = self.buses[bus].group / 2 + self.random.below(2);
        format!("ground:G{}", 3 * row + self.random.below(3))
    }

    /// A bus within reach of another.
    fn bus_near(&mut self, bus: usize) -> usize {
        (bus + self.random.below(9)).saturating_sub(4).min(self.buses.len() - 1)
    }

    /// The next free post of a bus's unit.
    fn post(&mut self, bus: usize) -> String {
        self.buses[bus].posts += 1;
        format!("D{bus}T.{}", self.buses[bus].posts)
    }

    /// The next free pin of a bus's unit.
    fn bus_pin(&mut self, bus: usize) -> String {
        let b = &mut self.buses[bus];
        if b.connectors == 0 || b.used == CAVITIES_BUS {
            b.connectors += 1;
            b.used = 0;
            put!(
                self.units,
                "[connector.D{bus}J{}]\nunit = \"D{bus}\"\nhalf = \"receptacle\"\ncontact = \"20\"\ncavities = {CAVITIES_BUS}",
                b.connectors
            );
            self.count.connectors += 1;
        }
        b.used += 1;
        self.count.mated_pairs += 1;
        format!("D{bus}J{}.{}", b.connectors, b.used)
    }

    /// A conductor inside a unit.
    fn link(&mut self, from: &str, to: &str) {
        self.links += 1;
        let n = self.links;
        put!(self.network, "[link.K{n}]\nfrom = \"{from}\"\nto = \"{to}\"\nohms = \"0.5 mohm\"");
    }

    /// A group of buses on one source: a top bus, others fed from it or from each other, a tie to an earlier group.
    fn group(&mut self, group: usize) {
        self.asked.push(0.0);
        self.here = group;
        let first = self.buses.len();
        for member in 0..2 + self.random.below(3) {
            let bus = self.buses.len();
            self.buses.push(Bus { group, connectors: 0, used: 0, posts: 0 });
            self.count.buses += 1;
            self.count.units += 1;
            put!(self.units, "[unit.D{bus}]\ntitle = \"distribution unit {bus}\"");
            put!(self.units, "[connector.D{bus}T]\nunit = \"D{bus}\"\nkind = \"terminals\"");
            self.count.connectors += 1;
            put!(
                self.units,
                "[bus.B{bus}]\nunit = \"D{bus}\"\nreturn = \"node:N{bus}\"\nnominal = \"28 V\"\n[node.N{bus}]\nunit = \"D{bus}\""
            );
            if member > 0 {
                let parent = first + self.random.below(member);
                self.feeder(parent, bus);
            }
        }
        // The top bus's return is bonded to structure: what comes back by structure reaches its source here.
        let (post, ground) = (self.post(first), self.ground_near(first));
        self.link(&post, &format!("node:N{first}"));
        self.wire(&post, &ground, 4, 1.5);
        if group > 0 {
            let other = first - 1 - self.random.below(first.min(8));
            self.tie(other, first);
        }
    }

    fn feeder(&mut self, parent: usize, bus: usize) {
        let metres = self.random.between(1.0, 5.0);
        let (out, into) = (self.post(parent), self.post(bus));
        put!(self.network, "[breaker.F{bus}]\nline = \"bus:B{parent}\"\nload = \"{out}\"\nrating = \"80 A\"");
        self.wire(&out, &into, 4, metres);
        self.link(&into, &format!("bus:B{bus}"));
        let from = self.post(bus);
        self.link(&from, &format!("node:N{bus}"));
        if self.random.chance(0.7) {
            let to = self.post(parent);
            self.link(&to, &format!("node:N{parent}"));
            self.wire(&from, &to, 4, metres);
        } else {
            let ground = self.ground_near(bus);
            self.wire(&from, &ground, 4, 1.0);
        }
    }

    fn tie(&mut self, a: usize, b: usize) {
        let closed = self.random.chance(0.5);
        let (from, to) = (self.post(a), self.post(b));
        let name = format!("T{}", self.tie_names.len() + 1);
        put!(
            self.network,
            "[tie.{name}]\nfrom = \"bus:B{a}\"\nto = \"{from}\"\nohms = \"2 mohm\"\nstate = \"{}\"",
            if closed { "closed" } else { "open" }
        );
        self.link(&to, &format!("bus:B{b}"));
        let metres = self.random.between(2.0, 6.0);
        self.wire(&from, &to, 6, metres);
        self.tie_names.push(name);
        *if closed { &mut self.count.ties_closed } else { &mut self.count.ties_open } += 1;
    }

    /// A box with one to four loads, each on its breaker.
    fn load_unit(&mut self) {
        let unit = self.load_units;
        self.load_units += 1;
        self.count.units += 1;
        self.count.connectors += 1;
        put!(self.units, "[unit.U{unit}]\ntitle = \"equipment {unit}\"");
        put!(self.units, "[connector.U{unit}J]\nunit = \"U{unit}\"\nhalf = \"receptacle\"\ncontact = \"20\"\ncavities = 19");
        // Half of the boxes have a named plug, the others are wired "to J": the reader supplies the mating half then.
        let half = if self.random.chance(0.5) {
            self.count.connectors += 1;
            put!(self.units, "[connector.U{unit}P]\nmate = \"U{unit}J\"\nhalf = \"plug\"\ncontact = \"20\"\ncavities = 19");
            "P"
        } else {
            "J"
        };
        let bus = self.random.below(self.buses.len());
        self.here = self.buses[bus].group;
        self.unit_groups.push(self.here);
        if self.random.chance(0.3) {
            let ground = self.ground_near(bus);
            put!(self.network, "[strap.BS{unit}]\nfrom = \"case:U{unit}\"\nto = \"{ground}\"\nohms = \"2.5 mohm\"");
        }
        let mut splice = None;
        let mut cavity = 0;
        for _ in 0..1 + self.random.below(4) {
            self.circuits += 1;
            let circuit = self.circuits;
            let bulkheads = self.random.below(3);
            let mut next_pin = || {
                cavity += 1;
                cavity
            };
            let (feed, back) = (next_pin(), next_pin());
            let line = if self.random.chance(0.1) {
                let spare = next_pin();
                let other = self.bus_near(bus);
                let node = format!("node:E{circuit}");
                put!(self.units, "[node.E{circuit}]\nunit = \"U{unit}\"");
                for (suffix, bus, pin) in [("a", bus, feed), ("b", other, spare)] {
                    put!(
                        self.network,
                        "[diode.DI{circuit}{suffix}]\nanode = \"U{unit}J.{pin}\"\ncathode = \"{node}\"\nforward = {{ low = \"0.4 V\", typical = \"0.6 V\", high = \"0.8 V\" }}\nohms = \"15 mohm\""
                    );
                    self.feed(bus, &format!("{circuit}{suffix}"), &format!("U{unit}{half}.{pin}"), bulkheads);
                    self.count.diodes += 1;
                    self.count.feeds_ored += 1;
                }
                node
            } else {
                self.feed(bus, &circuit.to_string(), &format!("U{unit}{half}.{feed}"), bulkheads);
                format!("U{unit}J.{feed}")
            };
            self.count.mated_pairs += 1;
            let end = format!("U{unit}{half}.{back}");
            match self.random.below(20) {
                0..9 => {
                    let pin = self.bus_pin(bus);
                    self.link(&pin, &format!("node:N{bus}"));
                    self.run(&end, &pin, 20, bulkheads);
                    self.count.returns_own += 1;
                }
                9..16 => {
                    let shared = match &splice {
                        Some(name) => String::clone(name),
                        None => {
                            self.count.splices += 1;
                            let name = format!("splice:SP{unit}");
                            put!(self.network, "[splice.SP{unit}]\njoint_ohms = \"0.5 mohm\"");
                            let post = self.post(bus);
                            self.link(&post, &format!("node:N{bus}"));
                            self.run(&name, &post, 16, bulkheads);
                            splice = Some(name.clone());
                            name
                        }
                    };
                    self.wire(&end, &shared, 20, 0.5);
                    self.count.returns_shared += 1;
                }
                _ => {
                    let ground = self.ground_near(bus);
                    self.wire(&end, &ground, 20, 0.6);
                    self.count.returns_structure += 1;
                }
            }
            self.load(&format!("L{circuit}"), &line, &format!("U{unit}J.{back}"), self.buses[bus].group);
        }
    }

    /// From a bus through a breaker and bulkheads to a pin.
    fn feed(&mut self, bus: usize, name: &str, end: &str, bulkheads: usize) {
        let pin = self.bus_pin(bus);
        put!(self.network, "[breaker.CB{name}]\nline = \"bus:B{bus}\"\nload = \"{pin}\"\nrating = \"7.5 A\"");
        self.run(&pin, end, 20, bulkheads);
        self.count.feeds += 1;
        self.count.mated_pairs += 1;
    }

    fn load(&mut self, name: &str, line: &str, back: &str, group: usize) {
        let watts = self.random.between(6.0, 90.0);
        self.asked[group] += watts;
        self.load_names.push(name.to_owned());
        let amps = watts / NOMINAL_VOLTS;
        let mut row = format!("[load.{name}]\nline = \"{line}\"\nreturn = \"{back}\"\n");
        // Volts at which it lets go, spread so that a sagging bus loses its loads one after the other.
        let let_go = self.random.between(16.5, 23.0);
        let drop_out = format!("drop_out = \"{let_go:.2} V\"\nreturn_above = \"{:.2} V\"\n", let_go + 2.0);
        match self.random.below(3) {
            0 => {
                put!(row, "power = {{ low = \"{:.2} W\", typical = \"{watts:.2} W\", high = \"{:.2} W\" }}", 0.9 * watts, 1.1 * watts);
                self.count.loads_power += 1;
                if self.options.strength != Strength::Overloaded {
                    self.count.loads_power_dropping += 1;
                    row.push_str(&drop_out);
                }
            }
            1 => {
                put!(row, "resistance = \"{:.3} ohm\"", NOMINAL_VOLTS / amps);
                self.count.loads_resistance += 1;
            }
            _ => {
                put!(row, "current = \"{amps:.4} A\"");
                // Current loads always let go: one that went on drawing from a bus at zero volts would be no model of anything.
                row.push_str(&drop_out);
                self.count.loads_current += 1;
            }
        }
        if self.random.chance(0.3) {
            put!(row, "growth = \"10 %\"");
        }
        if self.random.chance(0.2) {
            put!(row, "duty = \"intermittent\"");
        }
        self.loads.push_str(&row);
    }

    /// An instrument unit on a group: a converter for excitation, sensors with their receivers, a lamp on the shared return.
    fn instruments(&mut self, group: usize, sensors: usize) {
        let bus = self.buses.iter().position(|b| b.group == group).unwrap_or(0);
        self.here = group;
        let (unit, mut cavity) = (format!("I{group}"), 0);
        put!(self.units, "[unit.{unit}]\ntitle = \"instrument unit {group}\"");
        put!(self.units, "[connector.{unit}J]\nunit = \"{unit}\"\nhalf = \"receptacle\"\ncontact = \"22D\"\ncavities = 61");
        put!(self.units, "[connector.{unit}T]\nunit = \"{unit}\"\nkind = \"terminals\"");
        put!(self.units, "[node.{unit}ret]\nunit = \"{unit}\"\n[node.{unit}exc]\nunit = \"{unit}\"");
        put!(self.network, "[splice.SX{group}]\njoint_ohms = \"0.5 mohm\"");
        self.count.units += 1;
        self.count.connectors += 2;
        self.count.splices += 1;
        self.count.converters += 1;
        let mut pin = || {
            cavity += 1;
            format!("{unit}J.{cavity}")
        };

        self.feed(bus, &format!("i{group}"), &format!("{unit}T.1"), 1);
        let back = self.bus_pin(bus);
        self.link(&back, &format!("node:N{bus}"));
        self.run(&format!("{unit}T.2"), &back, 20, 1);
        self.link(&format!("{unit}T.2"), &format!("node:{unit}ret"));
        put!(
            self.loads,
            "[converter.CV{group}]\nline = \"{unit}T.1\"\nreturn = \"{unit}T.2\"\noutput = \"node:{unit}exc\"\noutput_return = \"node:{unit}ret\"\nemf = \"10 V\"\nohms = \"20 mohm\"\nefficiency = \"80 %\"\nquiescent = \"0.5 W\"\ndrop_out = \"14 V\"\nreturn_above = \"16 V\""
        );
        // The splice's one wire home carries the excitation of every bridge and the lamp.
        let home = pin();
        self.link(&home, &format!("node:{unit}ret"));
        self.wire(&format!("splice:SX{group}"), &home, 22, 1.2);
        put!(self.units, "[connector.LA{group}T]\nkind = \"terminals\"");
        let lamp = pin();
        self.link(&lamp, &format!("node:{unit}exc"));
        self.wire(&lamp, &format!("LA{group}T.1"), 22, 1.0);
        self.wire(&format!("LA{group}T.2"), &format!("splice:SX{group}"), 22, 0.4);
        put!(self.loads, "[load.LA{group}]\nline = \"LA{group}T.1\"\nreturn = \"LA{group}T.2\"\nresistance = \"120 ohm\"");
        self.load_names.push(format!("LA{group}"));
        self.count.loads_resistance += 1;
        self.count.connectors += 1;

        for n in 0..sensors {
            let (sensor, box_) = (format!("SE{group}x{n}"), format!("Q{group}x{n}"));
            put!(self.units, "[unit.{box_}]\ntitle = \"sensor {group} {n}\"");
            put!(self.units, "[connector.{box_}J]\nunit = \"{box_}\"\nhalf = \"receptacle\"\ncontact = \"22D\"\ncavities = 4");
            self.count.units += 1;
            self.count.connectors += 1;
            self.count.sensors += 1;
            self.count.mated_pairs += 8;
            let reading = self.random.between(5.0, 95.0);
            let (plus, minus) = (pin(), pin());
            put!(self.loads, "[receiver.RX{group}x{n}]\npositive = \"{plus}\"\nnegative = \"{minus}\"\ninput_ohms = \"10 Mohm\"");
            let head = format!("[sensor.{sensor}]\nreceiver = \"RX{group}x{n}\"\nreading = \"{reading:.2} %\"");
            match (group + n) % 3 {
                0 => {
                    let excitation = pin();
                    self.link(&excitation, &format!("node:{unit}exc"));
                    self.run(&excitation, &format!("{box_}J.1"), 24, 1);
                    self.wire(&format!("{box_}J.2"), &format!("splice:SX{group}"), 24, 0.5);
                    self.run(&format!("{box_}J.3"), &plus, 24, 1);
                    self.run(&format!("{box_}J.4"), &minus, 24, 1);
                    put!(
                        self.loads,
                        "{head}\nkind = \"bridge\"\nexcitation_positive = \"{box_}J.1\"\nexcitation_negative = \"{box_}J.2\"\nsignal_positive = \"{box_}J.3\"\nsignal_negative = \"{box_}J.4\"\narm_ohms = \"350 ohm\"\nsensitivity = \"2 mV/V\"\nexcitation = \"10 V\""
                    );
                }
                1 => {
                    // Four wires: the current goes and comes back on its own pair.
                    let (out, home) = (pin(), pin());
                    put!(self.loads, "[excitation.EX{group}x{n}]\npositive = \"{out}\"\nnegative = \"{home}\"\ncurrent = \"1 mA\"");
                    self.link(&home, &format!("node:{unit}ret"));
                    self.run(&out, &format!("{box_}J.1"), 24, 1);
                    self.run(&format!("{box_}J.2"), &home, 24, 1);
                    self.run(&format!("{box_}J.3"), &plus, 24, 1);
                    self.run(&format!("{box_}J.4"), &minus, 24, 1);
                    self.link(&format!("{box_}J.1"), &format!("{box_}J.3"));
                    self.link(&format!("{box_}J.2"), &format!("{box_}J.4"));
                    put!(
                        self.loads,
                        "{head}\nkind = \"resistance\"\npositive = \"{box_}J.1\"\nnegative = \"{box_}J.2\"\nzero_ohms = \"100 ohm\"\nfull_ohms = \"140 ohm\"\nexcitation = \"1 mA\""
                    );
                }
                _ => {
                    self.run(&format!("{box_}J.1"), &plus, 24, 1);
                    self.run(&format!("{box_}J.2"), &minus, 24, 1);
                    put!(
                        self.loads,
                        "{head}\nkind = \"voltage\"\npositive = \"{box_}J.1\"\nnegative = \"{box_}J.2\"\nfull = \"50 mV\"\nsource_ohms = \"10 ohm\""
                    );
                }
            }
        }
    }

    /// A source on the top bus of each group, with a resistance that follows from what its group asks for.
    fn sources(&mut self) {
        for group in 0..self.asked.len() {
            let bus = self.buses.iter().position(|b| b.group == group).unwrap_or(0);
            // Share of the voltage lost in the source when its group draws what it asks for at the nominal voltage.
            let share = match self.options.strength {
                Strength::Strong => self.random.between(0.008, 0.02),
                Strength::Weak => self.random.between(0.16, 0.34),
                Strength::Overloaded => self.random.between(1.5, 2.5),
            };
            let ohms = share * NOMINAL_VOLTS * NOMINAL_VOLTS / self.asked[group].max(50.0);
            let emf = self.random.between(28.5, 30.5);
            let (plus, minus) = (self.post(bus), self.post(bus));
            self.here = group;
            put!(
                self.units,
                "[unit.S{group}]\ntitle = \"battery {group}\"\n[connector.S{group}T]\nunit = \"S{group}\"\nkind = \"terminals\""
            );
            put!(
                self.network,
                "[battery.V{group}]\npositive = \"S{group}T.1\"\nnegative = \"S{group}T.2\"\nemf = {{ low = \"{:.3} V\", typical = \"{emf:.3} V\", high = \"{:.3} V\" }}\nohms = {{ low = \"{:.4} mohm\", typical = \"{:.4} mohm\", high = \"{:.4} mohm\" }}",
                emf - 1.5,
                emf + 1.0,
                800.0 * ohms,
                1000.0 * ohms,
                1250.0 * ohms,
            );
            put!(self.network, "[relay.KS{group}]\nfrom = \"{plus}\"\nto = \"bus:B{bus}\"\nohms = \"1 mohm\"");
            self.link(&minus, &format!("node:N{bus}"));
            self.wire(&format!("S{group}T.1"), &plus, 2, 1.0);
            self.wire(&format!("S{group}T.2"), &minus, 2, 1.0);
            self.count.sources += 1;
            self.count.units += 1;
            self.count.connectors += 1;
        }
    }

    /// Phases: some loads off, ties the other way, now and then a source off.
    fn phases(&mut self) {
        for phase in 0..self.options.phases.max(1) {
            let cold = self.random.between(-40.0, 0.0);
            let mut off: Vec<String> = Vec::new();
            for at in 0..self.load_names.len() {
                if self.random.chance(0.12) {
                    off.push(format!("\"load:{}\"", self.load_names[at]));
                }
            }
            if self.random.chance(0.3) && self.options.sources_off {
                off.push(format!("\"battery:V{}\"", self.random.below(self.count.sources)));
            }
            let (mut open, mut closed) = (Vec::new(), Vec::new());
            for at in 0..self.tie_names.len() {
                if self.random.chance(0.4) {
                    let side = if self.random.chance(0.5) { &mut open } else { &mut closed };
                    side.push(format!("\"tie:{}\"", self.tie_names[at]));
                }
            }
            put!(
                self.network,
                "[phase.P{phase}]\nambient = {{ low = \"{cold:.1} degC\", typical = \"20 degC\", high = \"{:.1} degC\" }}\noff = [{}]\nopen = [{}]\nclosed = [{}]",
                cold + 90.0,
                off.join(", "),
                open.join(", "),
                closed.join(", ")
            );
            self.count.phases += 1;
        }
    }

    fn finish(mut self) -> Generated {
        self.count.wires = self.rows.len();
        let head = format!("format = 1\nname = \"synthetic-{}\"\ntitle = \"synthetic vehicle, seed {0}\"\n", self.options.seed);
        let map = if self.mapped { self.lay_out() } else { String::new() };
        let (head, heads) = match self.mapped {
            true => (format!("{head}end_allowance = \"60 mm\"\nslack = \"3 %\"\n"), "wire,from,to,type,gauge_awg,length_m,circuit,via\n"),
            false => (head, "wire,from,to,type,gauge_awg,length_m\n"),
        };
        let list = format!("{heads}{}", self.rows.concat());
        let files = [
            ("loads.toml", self.loads),
            ("map.toml", map),
            ("network.toml", self.network),
            ("units.toml", self.units),
            ("vehicle.toml", head),
            ("wires.csv", list),
        ];
        let files = files.into_iter().filter(|(_, text)| !text.is_empty());
        Generated { files: files.map(|(path, text)| (path.to_owned(), text.into_bytes())).collect(), statistics: self.count }
    }
}
