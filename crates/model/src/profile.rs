//! Limits profiles: the numbers of the rules, each with its source.

use crate::*;
use physics::*;

/// The numbers that rules judge against.
#[derive(Clone, Debug)]
pub struct LimitsProfile {
    /// `space-28v`, `aircraft-28v`.
    pub name: Name,
    /// Free text.
    pub title: String,
    /// System voltage where no bus states one.
    pub nominal: Given<Volt>,
    /// Drop allowed between bus and load, continuous duty.
    pub drop_continuous: Given<Volt>,
    /// Drop allowed between bus and load, intermittent duty.
    pub drop_intermittent: Given<Volt>,
    /// Least steady voltage at a load's terminals, where its sheet states none.
    pub volts_min: Given<Volt>,
    /// Greatest steady voltage at a load's terminals, where its sheet states none.
    pub volts_max: Given<Volt>,
    /// Share of a contact's test current that may be used.
    pub contact_derating: Option<Given<Ratio>>,
    /// Least steady voltage of a bus.
    pub bus_min: Option<Given<Volt>>,
    /// Greatest steady voltage of a bus.
    pub bus_max: Option<Given<Volt>>,
    /// Difference between a wire's declared and computed current, as a share of the declared one, that is no finding.
    pub wire_current_difference: Option<Given<Ratio>>,
    /// Classes of wire, in the order of [`Class`].
    pub classes: Vec<Name>,
    /// Pairs of classes to be kept apart.
    pub apart: Vec<ClassesApart>,
    /// Share of the area of a hole or clamp that wires may take.
    pub fill: Option<Given<Ratio>>,
    /// The practice whose bend radii count.
    pub bends: Option<Given<Name>>,
    /// Least clearance around a bundle in a hole without a grommet.
    pub hole_clearance: Option<Given<Metre>>,
    /// Distance between clamps up to which a bundle needs no ties.
    pub ties_beyond: Option<Given<Metre>>,
    /// Least distance to each kind of neighbour, in the order of [`NeighbourKind::ALL`].
    pub clearances: [Option<Given<Metre>>; NeighbourKind::ALL.len()],
    /// Tables of wire current: `aircraft` or a rule set of the vacuum currents.
    pub ampacity: Option<Given<Name>>,
    /// What is added to the temperature of a wire in a bundle before it is judged: the uncertainty of the model.
    pub bundle_heat_margin: Option<Given<TemperatureRise>>,
    /// Heat conductance between two touching jackets, per length: least, typical, greatest.
    pub contact_conductance: [Option<Given<WattPerMetreKelvin>>; 3],
    /// Hottest surface that people may touch.
    pub touch_limit: Option<Given<Kelvin>>,
    /// Chart of breakers and fuses by gauge.
    pub protector_chart: Option<Given<Name>>,
    /// What it says of protection.
    pub protection: ProtectionLimits,
    /// What it says of energy.
    pub energy: EnergyLimits,
    /// What it says of initiators.
    pub ordnance: OrdnanceLimits,
    /// Where each number comes from, as `(field, source)` in the order of the file.
    pub sources: Vec<(&'static str, String)>,
    /// Rules a user's profile leaves out, with the reason.
    pub left_out: Vec<(Given<Name>, String)>,
    /// Where the row stands.
    pub at: Span,
}

impl LimitsProfile {
    /// Least distance to a kind of neighbour.
    pub fn clearance(&self, kind: NeighbourKind) -> Option<Given<Metre>> {
        let row = NeighbourKind::ALL.iter().position(|known| *known == kind)?;
        self.clearances[row]
    }
}

/// A finding the programme has accepted, with its authority.
#[derive(Clone, Debug)]
pub struct Disposition {
    /// `RULE/kind:name`.
    pub finding: Given<std::sync::Arc<str>>,
    /// Accept, fix by a date, or not applicable.
    pub action: DispositionAction,
    /// Why.
    pub reason: Given<std::sync::Arc<str>>,
    /// Who decided.
    pub authority: Given<std::sync::Arc<str>>,
    /// When (YYYY-MM-DD).
    pub date: Given<std::sync::Arc<str>>,
    /// Phases it covers; empty = all that failed when it was written.
    pub phases: Vec<Given<Id<Phase>>>,
    /// Worst value accepted, in the rule's unit; a worse one reopens the finding.
    pub worst: Option<Given<f64>>,
    /// Last day it holds (YYYY-MM-DD).
    pub expiry: Option<Given<std::sync::Arc<str>>>,
    /// Where the row stands.
    pub at: Span,
}

/// What was decided about a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DispositionAction {
    /// Accepted as it is.
    Accept,
    /// To be mended; accepted until the expiry.
    FixBy,
    /// The rule does not apply here.
    NotApplicable,
}

impl DispositionAction {
    /// The word used in input, tables and JSON.
    pub fn word(self) -> &'static str {
        match self {
            DispositionAction::Accept => "accept",
            DispositionAction::FixBy => "fix-by",
            DispositionAction::NotApplicable => "not-applicable",
        }
    }
}
