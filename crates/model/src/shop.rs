//! What the shop and the test bench go by: rows of the catalog that are printed with their source.

use crate::*;
use physics::gauge::Awg;
use physics::*;

/// Rows of the catalog that documents for shop and bench are made by.
#[derive(Clone, Debug, Default)]
pub struct ShopPractice {
    /// Least pull of crimped joints.
    pub crimps: Vec<Sourced<CrimpRow>>,
    /// How far a shield may end from its conductors, and its ground lead.
    pub shields: Vec<Sourced<ShieldRow>>,
    /// Levels of electrical tests.
    pub tests: Vec<Sourced<TestRow>>,
    /// Spare contacts of a connector, by its size, in rising order.
    pub spares: Vec<Sourced<SpareRow>>,
}

/// A row of the catalog with where it comes from.
#[derive(Clone, Debug)]
pub struct Sourced<T> {
    /// The row.
    pub row: T,
    /// Document, place and note.
    pub source: String,
    /// How it is known: `read`, `given` by the vehicle's own catalog, `recalled`, `practice`.
    pub how: &'static str,
    /// Where it stands.
    pub at: Span,
}

/// Least pull of a crimped joint on a sample.
#[derive(Clone, Debug, PartialEq)]
pub struct CrimpRow {
    /// Size of the contact; `None` for a lug or splice.
    pub size: Option<Name>,
    /// Gauge of the wire.
    pub gauge: Awg,
    /// Least force that parts it.
    pub pull: Newton,
}

/// Shield end of one kind of circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct ShieldRow {
    /// `sensitive`, `ordinary`, `group`.
    pub circuit: Name,
    /// From the end of the shield to the termination of the conductor, at most.
    pub bare: Option<Metre>,
    /// Length of the ground lead, at most.
    pub lead: Metre,
}

/// Level of an electrical test.
#[derive(Clone, Debug, PartialEq)]
pub struct TestRow {
    /// `withstand` or `insulation`.
    pub test: Name,
    /// Direct voltage.
    pub volts: Volt,
    /// Of a withstand test: greatest leakage.
    pub leakage: Option<Ampere>,
    /// Of an insulation test: least resistance.
    pub ohms: Option<Ohm>,
}

/// Spare contacts of a connector.
#[derive(Clone, Debug, PartialEq)]
pub struct SpareRow {
    /// Up to and with so many contacts; `None`: any more.
    pub contacts: Option<u32>,
    /// Spares.
    pub spares: u32,
}

impl ShopPractice {
    /// Least pull of a contact, or of a lug or splice where no size is given.
    pub fn crimp(&self, size: Option<&str>, gauge: Awg) -> Option<&Sourced<CrimpRow>> {
        self.crimps.iter().find(|line| line.row.size.as_deref() == size && line.row.gauge == gauge)
    }
    /// Level of a test.
    pub fn test(&self, test: &str) -> Option<&Sourced<TestRow>> {
        self.tests.iter().find(|line| &*line.row.test == test)
    }
    /// Shield ends of a kind of circuit.
    pub fn shield(&self, circuit: &str) -> Option<&Sourced<ShieldRow>> {
        self.shields.iter().find(|line| &*line.row.circuit == circuit)
    }
    /// Spare contacts of a connector with so many cavities.
    pub fn spares(&self, cavities: usize) -> Option<&Sourced<SpareRow>> {
        self.spares.iter().find(|line| line.row.contacts.is_none_or(|most| cavities <= most as usize))
    }
}
