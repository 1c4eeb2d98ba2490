//! A harness for a synthetic vehicle: a ring of breakouts for each group of buses, two trunks with rungs from group to group, runs of their own
//! for millivolts beside all of them, clamps on every segment and holes on some; lengths then come from routes.

use super::{Generated, Options, Vehicle};

/// Breakouts of a group.
const RING: usize = 12;

impl Vehicle<'_> {
    /// Cells that a row of the wire list has beside the usual ones: circuit and, for a wire in fifty, a breakout it must pass. Its length is blank
    /// but for one wire in twenty.
    pub(super) fn mapped_row(&self, usual: &str, gauge: i32, metres: f64) -> String {
        let row = self.rows.len();
        let circuit = if gauge == 24 { format!("m{}", self.here) } else { format!("p{}", self.here) };
        let via = if row.is_multiple_of(50) && gauge != 24 { format!("R{}x{}", self.here, row / 50 % RING) } else { String::new() };
        let length = if row.is_multiple_of(20) { format!("{:.2}", metres + 20.0) } else { String::new() };
        format!("{usual},{length},{circuit},{via}\n")
    }

    /// Puts every unit, bulkhead, splice and ground point at a breakout, and writes the map.
    pub(super) fn lay_out(&mut self) -> String {
        for text in [&self.units, &self.network].map(|text| text.to_owned()) {
            let mut placed = String::with_capacity(text.len() + text.len() / 4);
            for line in text.lines() {
                placed.push_str(line);
                placed.push('\n');
                if let Some((name, group)) = self.place(line) {
                    // Both halves of a bulkhead pair are at one place.
                    placed.push_str(&format!("breakout = \"R{group}x{}\"\n", hash(name.trim_end_matches(['P', 'R'])) % RING as u64));
                }
            }
            if text == self.units {
                self.units = placed;
            } else {
                self.network = placed;
            }
        }
        let groups = self.asked.len();
        let mut map = String::new();
        for group in 0..groups {
            self.bay(group, &mut map);
            put!(map, "[circuit.p{group}]\nclass = \"power\"\n[circuit.m{group}]\nclass = \"millivolt\"");
        }
        map
    }

    /// The row that a header begins, with its group, if it is to be at a breakout.
    fn place<'l>(&self, line: &'l str) -> Option<(&'l str, usize)> {
        let (kind, name) = line.strip_prefix('[')?.strip_suffix(']')?.split_once('.')?;
        let number = |text: &str| text.split(|c: char| !c.is_ascii_digit()).next().and_then(|digits| digits.parse::<usize>().ok());
        let last = self.asked.len() - 1;
        let group = match (kind, name.as_bytes()) {
            ("connector", [b'L', b'A', ..]) | ("splice", [b'S', b'X', ..]) => number(&name[2..])?,
            ("splice", _) => self.unit_groups[number(&name[2..])?],
            ("connector", [b'X', ..]) => self.bulkhead_groups[number(&name[1..])? - 1],
            ("unit", [b'D', ..]) => self.buses[number(&name[1..])?].group,
            ("unit", [b'U', ..]) => self.unit_groups[number(&name[1..])?],
            ("unit", _) => number(&name[1..])?,
            ("ground", _) => (2 * (number(&name[1..])? / 3)).min(last),
            _ => return None,
        };
        Some((name, group))
    }

    /// The ring of a group, its chords, and the trunks to the group before.
    fn bay(&mut self, group: usize, map: &mut String) {
        for at in 0..RING {
            put!(map, "[breakout.R{group}x{at}]");
        }
        let mut ways: Vec<(String, String, f64)> = (0..RING)
            .map(|at| (format!("R{group}x{at}"), format!("R{group}x{}", (at + 1) % RING), 0.3 + 0.01 * at as f64))
            .chain([(2, 8), (5, 11)].map(|(a, b)| (format!("R{group}x{a}"), format!("R{group}x{b}"), 0.9)))
            .collect();
        if group > 0 {
            for (before, at, metres) in [(3, 0, 0.5), (9, 6, 0.55)] {
                ways.push((format!("R{}x{before}", group - 1), format!("R{group}x{at}"), metres));
            }
        }
        for (number, (from, to, metres)) in ways.iter().enumerate() {
            put!(map, "[segment.S{group}x{number}]\nfrom = \"{from}\"\nto = \"{to}\"\nlength = \"{metres:.2} m\"");
            put!(
                map,
                "[segment.M{group}x{number}]\nfrom = \"{from}\"\nto = \"{to}\"\nlength = \"{:.2} m\"\nadmits = [\"millivolt\"]",
                metres + 0.02
            );
            put!(map, "[clamp.C{group}x{number}]\nsegment = \"S{group}x{number}\"\nkind = \"clamp\"\nat = \"0.1 m\"\nbore = \"44 mm\"");
            self.count.segments += 2;
            self.count.clamps += 1;
            if number % 3 == 0 && number < RING {
                put!(map, "[clamp.H{group}x{number}]\nsegment = \"S{group}x{number}\"\nkind = \"hole\"\nat = \"0.2 m\"\nbore = \"15 mm\"");
                self.count.clamps += 1;
            }
        }
    }
}

/// FNV-1a: spreads names over breakouts without a draw.
fn hash(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

/// A vehicle with a map of its harness, from whose routes the lengths come. The same options give the same bytes.
pub fn generate_mapped(options: &Options) -> Generated {
    super::make(options, true)
}

/// A vehicle with a map whose segments lie in zones: every second group in a cabin with air, the others in vacuum. Every second phase is weightless.
pub fn generate_zoned(options: &Options) -> Generated {
    let mut made = generate_mapped(options);
    for (path, bytes) in &mut made.files {
        if path == "map.toml" {
            let text = String::from_utf8_lossy(bytes);
            let mut zoned = String::with_capacity(text.len() + text.len() / 8);
            for line in text.lines() {
                zoned.push_str(line);
                zoned.push('\n');
                let group = line.strip_prefix("[segment.").and_then(|name| name[1..].split('x').next()?.parse::<usize>().ok());
                if let Some(group) = group {
                    zoned.push_str(if group % 2 == 0 { "zone = \"cabin\"\n" } else { "zone = \"bay\"\n" });
                }
            }
            *bytes = zoned.into_bytes();
        }
    }
    let weightless: Vec<String> = (0..options.phases).step_by(2).map(|phase| format!("\"P{phase}\"")).collect();
    let zones = format!(
        "[zone.cabin]\npressure = \"101.3 kPa\"\ngas_temperature = \"22 degC\"\ngravity = 1\nwalls = \"20 degC\"\nwall_distance = \"40 mm\"\n\n\
         [zone.bay]\npressure = \"0 Pa\"\nwalls = \"10 degC\"\n\n[climate.free-fall]\nzone = \"cabin\"\nphases = [{}]\ngravity = 0\n",
        weightless.join(", ")
    );
    made.files.push(("zones.toml".to_owned(), zones.into_bytes()));
    made
}
