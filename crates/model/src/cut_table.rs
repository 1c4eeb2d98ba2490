//! Cut sets: what loses a function by the wiring alone, whatever the voltages.

use crate::*;
use physics::Metre;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::hash::Hash;

/// Minimal cut sets of functions, and what redundant ways have in common.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CutTable {
    /// A row for each function and each way that it is cut, functions in the order of the input, rows in that of their first phase.
    pub rows: Vec<CutRow>,
    /// Functions that have no way in a phase that they are wanted in.
    pub without: Vec<(Id<Function>, Id<Phase>)>,
}

/// The cuts of one function, in phases that have the same ones.
#[derive(Clone, Debug, PartialEq)]
pub struct CutRow {
    /// The function.
    pub function: Id<Function>,
    /// Phases, in order.
    pub phases: Vec<Id<Phase>>,
    /// Elements that alone cut it, in the order of the tables.
    pub singles: Vec<ElementId>,
    /// Pairs that cut it where neither does alone: one of the first with one of the second, all of them. `None` where they were not looked for.
    pub pairs: Option<Vec<[Vec<ElementId>; 2]>>,
    /// Single things that take several ways at once, of which no part alone would cut it.
    pub common: Vec<CommonCause>,
    /// Whether it needs sensors, whose ways are not looked at.
    pub has_sensors: bool,
}

impl CutRow {
    /// How many pairs there are.
    pub fn pair_count(&self) -> Option<usize> {
        Some(self.pairs.as_ref()?.iter().map(|[a, b]| a.len() * b.len()).sum())
    }
}

/// One thing that redundant ways share.
#[derive(Clone, Debug, PartialEq)]
pub struct CommonCause {
    /// The segment, clamp, connector, zone, unit, bus, splice, stud or ground point.
    pub item: Subject,
    /// Of segments that run beside each other, the other one.
    pub beside: Option<Id<Segment>>,
    /// Elements in it that together cut the function, each of them needed for that.
    pub takes: Vec<ElementId>,
    /// Of segments, clamps and zones: the shortest other way for one of the wires in it.
    pub detour: Option<Detour>,
}

/// Another way for a wire, clear of a segment.
#[derive(Clone, Debug, PartialEq)]
pub struct Detour {
    /// The wire.
    pub wire: Id<Wire>,
    /// Segments from its `from` end to its `to` end.
    pub segments: Vec<Id<Segment>>,
    /// How much longer it is along them than where it lies now.
    pub longer: Metre,
}

/// What the wiring graph says of the cases of a sweep.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SecondOpinion {
    /// Verdicts that were compared.
    pub compared: usize,
    /// Those that both call lost, before any action.
    pub agree_lost: usize,
    /// Lost in the sweep though a way is left: by voltage or by what a short did.
    pub by_more_than_ways: usize,
    /// No way is left, and the sweep does not call it lost: row of the catalogue, phase, function.
    pub contradictions: Vec<(usize, Id<Phase>, Id<Function>)>,
}

/// Pairs as products: what goes with the same others, such as all elements of one feed, stands together. `with`: of each its partners, both ways.
pub fn in_products<T: Copy + Ord + Hash>(with: &BTreeMap<T, BTreeSet<T>>) -> Vec<[Vec<T>; 2]> {
    let mut alike: BTreeMap<&BTreeSet<T>, Vec<T>> = BTreeMap::new();
    for (element, others) in with {
        alike.entry(others).or_default().push(*element);
    }
    let first: HashMap<T, T> = alike.values().flat_map(|of| of.iter().map(|element| (*element, of[0]))).collect();
    let product = |(others, elements): (&BTreeSet<T>, Vec<T>)| {
        let later: Vec<T> = others.iter().copied().filter(|other| first[other] > elements[0]).collect();
        (!later.is_empty()).then_some([elements, later])
    };
    let mut products: Vec<[Vec<T>; 2]> = alike.into_iter().filter_map(product).collect();
    products.sort();
    products
}
