//! Harness assemblies: what can be built and installed apart.
//!
//! Wires hang together where they land on the same half of a connector or on the same splice, and where they are cores of one cable: nothing takes them apart but parting halves. Lugs come off studs and ground
//! points one by one; the lugs on the terminals of one unit count as a half. A row `[assembly.X]` gives what its connectors hang in a name and a part number, and makes one of several.
//!
//! Cost: near linear in the wires.

use analysis::Sets;
use model::*;
use std::collections::{BTreeSet, HashMap};

/// An assembly.
pub(crate) struct Built {
    /// Its row's, or a number of its own; of one that several rows name, all of them.
    pub(crate) name: String,
    pub(crate) rows: Vec<Id<Assembly>>,
    /// In the order of the list.
    pub(crate) wires: Vec<Id<Wire>>,
    /// Halves on which they land.
    pub(crate) halves: BTreeSet<Id<Connector>>,
}

/// What wires hang in.
#[derive(PartialEq, Eq, Hash)]
enum Joint {
    Half(Id<Connector>),
    Splice(Id<Splice>),
    Cable(Id<Cable>),
}

/// All assemblies, in the order of their first wires.
pub(crate) fn assemblies(design: &Design) -> Vec<Built> {
    let mut sets = Sets::new(design.wires.len());
    let half_of = |end: End| match end {
        End::Pin(pin) => Some(design.pins[pin].connector),
        End::Shell(half) => Some(half),
        _ => None,
    };
    let mut first: HashMap<Joint, usize> = HashMap::new();
    let mut join = |joint: Joint, wire: Id<Wire>| {
        let other = *first.entry(joint).or_insert(wire.row());
        sets.unite(wire.row(), other);
    };
    for (id, wire) in design.wires.iter() {
        for end in [wire.from.value, wire.to.value] {
            match (half_of(end), end) {
                (Some(half), _) => join(Joint::Half(half), id),
                (_, End::Splice(splice)) => join(Joint::Splice(splice), id),
                _ => {}
            }
        }
        if let Some(cable) = wire.cable {
            join(Joint::Cable(cable.value), id);
        }
    }
    // What a row names is built as one.
    for (_, row) in design.assemblies.iter() {
        let wires: Vec<usize> = row.connectors.iter().filter_map(|half| first.get(&Joint::Half(half.value)).copied()).collect();
        wires.windows(2).for_each(|pair| {
            sets.unite(pair[0], pair[1]);
        });
    }
    let mut place: HashMap<usize, usize> = HashMap::new();
    let mut built: Vec<Built> = Vec::new();
    for (id, wire) in design.wires.iter() {
        let root = sets.find(id.row());
        let at = *place.entry(root).or_insert_with(|| {
            built.push(Built { name: String::new(), rows: Vec::new(), wires: Vec::new(), halves: BTreeSet::new() });
            built.len() - 1
        });
        built[at].wires.push(id);
        built[at].halves.extend([wire.from.value, wire.to.value].into_iter().filter_map(half_of));
    }
    for (row, assembly) in design.assemblies.iter() {
        let of = assembly.connectors.iter().find_map(|half| built.iter().position(|one| one.halves.contains(&half.value)));
        if let Some(at) = of {
            built[at].rows.push(row);
        }
    }
    let taken: BTreeSet<&str> = design.assemblies.iter().map(|(_, row)| &*row.name).collect();
    let mut numbers = (1..).map(|n| format!("H{n}")).filter(|name| !taken.contains(name.as_str()));
    for one in &mut built {
        let names: Vec<&str> = one.rows.iter().map(|row| &*design.assemblies[*row].name).collect();
        one.name = if names.is_empty() { numbers.next().unwrap_or_default() } else { names.join(" + ") };
    }
    built
}

impl Built {
    /// Part numbers of its rows.
    pub(crate) fn part(&self, design: &Design) -> Option<String> {
        let parts: Vec<&str> = self.rows.iter().filter_map(|row| design.assemblies[*row].part.as_ref().map(|part| &*part.value)).collect();
        (!parts.is_empty()).then(|| parts.join(" + "))
    }
}
