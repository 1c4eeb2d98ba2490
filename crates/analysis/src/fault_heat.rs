//! What a fault current does to a wire in its section: for good, and how long it stands it.

use crate::Prepared;
use crate::corner::r20_in;
use crate::heat::{Balance, Cut};
use model::*;
use physics::damage_time::{Passed, passes_after, stands};
use physics::resistance::copper_alpha20;
use physics::section_heat::{Filled, Heating, Start, Unsettled};
use physics::section_transient::{ALUMINIUM_CAPACITY, COPPER_CAPACITY, Stretch, Temperatures, run};
use physics::short_time::{AmpereSquareSecond, heating_integral};
use physics::surroundings::Surroundings;
use physics::*;

/// Heat capacity of a wire's strands, per length.
fn strands(spec: &WireSpec) -> JoulePerMetreKelvin {
    let by_volume = match spec.metal() {
        physics::ampacity::Conductor::Copper => COPPER_CAPACITY,
        physics::ampacity::Conductor::Aluminium => ALUMINIUM_CAPACITY,
    };
    JoulePerMetreKelvin(spec.area.value.0 * by_volume)
}

/// A section in which one wire comes to carry another current.
struct Sudden<'c> {
    cut: &'c Cut,
    filled: Filled<'c>,
    around: Surroundings,
    /// What its conductors run at.
    running: Temperatures,
    /// The wire, by its row.
    row: usize,
    /// What heats it from then on.
    burning: Vec<Heating>,
    capacity: Vec<JoulePerMetreKelvin>,
}

/// Why a section has no temperatures.
#[derive(Clone, Debug, PartialEq)]
pub enum NoHeat {
    /// The wire lies in no section of known heat there.
    NoSection,
    /// Something is not stated.
    Lacks(HeatLacks),
    /// This wire heats itself without end.
    Runaway(Id<Wire>),
    /// The balance was not reached; it is worst at this wire.
    NotSettled(Id<Wire>),
}

fn no_heat(cut: &Cut, why: &Unsettled) -> NoHeat {
    match why {
        Unsettled::Runaway { row, .. } => NoHeat::Runaway(cut.wires[*row]),
        Unsettled::NotSettled { row, .. } => NoHeat::NotSettled(cut.wires[*row]),
    }
}

/// The limit of each wire; infinite where none is set.
fn limits(cut: &Cut, limit: &dyn Fn(Id<Wire>) -> Option<Kelvin>) -> Vec<Kelvin> {
    cut.wires.iter().map(|&of| limit(of).unwrap_or(Kelvin(f64::INFINITY))).collect()
}

/// What a segment runs at, as a start.
fn running(point: &Point, segment: Id<Segment>, filled: &Filled) -> Option<Start> {
    match &point.heat.as_ref()?.segments[segment] {
        SegmentHeat::Known(known) => Some(filled.start(known.wires.iter().map(|wire| wire.conductor), known.skin)),
        _ => None,
    }
}

impl Prepared<'_> {
    /// Segments that a wire runs through.
    pub fn segments_of(&self, wire: Id<Wire>) -> &[Id<Segment>] {
        self.layout.run(wire).map_or(&[], |run| &run.segments)
    }

    /// Temperatures of a segment's conductors with another current in one of its wires, for good; the others as they are.
    ///
    /// Cost: a balance of heat.
    ///
    /// # Errors  Why there are none.
    pub fn sustained(
        &self,
        point: &Point,
        segment: Id<Segment>,
        wire: Id<Wire>,
        current: Ampere,
    ) -> Result<Vec<(Id<Wire>, Kelvin)>, NoHeat> {
        let cut = self.sections().cut(segment).ok_or(NoHeat::NoSection)?;
        let Balance { around, mut heating } = crate::heat::balance(self, point, cut).map_err(NoHeat::Lacks)?;
        let row = cut.wires.iter().position(|of| *of == wire).ok_or(NoHeat::NoSection)?;
        heating[row].current = current;
        let filled = crate::heat::filled(cut, &around);
        match filled.settle_from(running(point, segment, &filled).as_ref(), &heating, &around) {
            Ok(settled) => Ok(cut.wires.iter().copied().zip(settled.conductor).collect()),
            Err(why) => Err(no_heat(cut, &why)),
        }
    }

    /// ∫I² dt that brings a wire's strands from one temperature to another while no heat leaves them, with the greatest resistance of its
    /// type; `None` where its gauge is `TBD`.
    pub fn adiabatic(&self, wire: Id<Wire>, from: Kelvin, to: Kelvin) -> Option<AmpereSquareSecond> {
        let spec = &self.design.wire_specs[self.design.wires[wire].spec?.value];
        Some(heating_integral(strands(spec).0, r20_in(spec, Corner::Low).value, copper_alpha20(spec.conductivity.value.0), from, to))
    }

    /// How long a segment's wires stand a current in one of them, from the temperatures that they run at: until the first passes its limit.
    /// `limit` is asked for each wire; `None` sets none. The wire of the answer is the one that passes.
    ///
    /// # Errors  Why there is none.
    pub fn stands(
        &self,
        point: &Point,
        segment: Id<Segment>,
        (wire, current): (Id<Wire>, Ampere),
        limit: &dyn Fn(Id<Wire>) -> Option<Kelvin>,
    ) -> Result<Option<(Second, Id<Wire>)>, NoHeat> {
        let Sudden { cut, filled, around, running, row, burning, capacity } = self.sudden(point, segment, (wire, current))?;
        let limits = limits(cut, limit);
        let adiabatic = self.adiabatic(wire, running.conductor[row], limits[row]).ok_or(NoHeat::NoSection)?;
        let first = Second((0.5 * adiabatic.time_at(current).0).clamp(1e-4, 3600.0));
        match passes_after(&filled, &running, &capacity, &burning, &around, &limits, first).map_err(|why| no_heat(cut, &why))? {
            Passed::After(t, row) => Ok(Some((t, cut.wires[row]))),
            Passed::Never => Ok(None),
        }
    }

    /// Whether a segment's wires all stand a current in one of them for a time, as [`Prepared::stands`] asks for the longest: one course in place
    /// of some ten.
    ///
    /// # Errors  Why nothing is known.
    pub fn stands_for(
        &self,
        point: &Point,
        segment: Id<Segment>,
        (wire, current): (Id<Wire>, Ampere),
        limit: &dyn Fn(Id<Wire>) -> Option<Kelvin>,
        lasts: Second,
    ) -> Result<bool, NoHeat> {
        let Sudden { cut, filled, around, running, burning, capacity, .. } = self.sudden(point, segment, (wire, current))?;
        let limits = limits(cut, limit);
        stands(&filled, &running, &capacity, Stretch { heating: &burning, lasts }, &around, &limits).map_err(|why| no_heat(cut, &why))
    }

    /// Highest temperature that a wire comes to in a segment while a current flows in it for a time, from what it runs at.
    ///
    /// # Errors  Why there is none; [`NoHeat::Runaway`] where something melts.
    pub fn reaches(
        &self,
        point: &Point,
        segment: Id<Segment>,
        (wire, current): (Id<Wire>, Ampere),
        lasts: Second,
    ) -> Result<Kelvin, NoHeat> {
        let Sudden { cut, filled, around, running, row, burning, capacity } = self.sudden(point, segment, (wire, current))?;
        let stretch = [Stretch { heating: &burning, lasts }];
        let course = run(&filled, &running, &capacity, &stretch, &around, TemperatureRise(0.2));
        course.map(|course| course.peak[row].1).map_err(|why| no_heat(cut, &why))
    }

    /// A section as it runs, and what heats it once a wire carries another current.
    fn sudden(&self, point: &Point, segment: Id<Segment>, (wire, current): (Id<Wire>, Ampere)) -> Result<Sudden<'_>, NoHeat> {
        let cut = self.sections().cut(segment).ok_or(NoHeat::NoSection)?;
        let Balance { around, heating } = crate::heat::balance(self, point, cut).map_err(NoHeat::Lacks)?;
        let filled = crate::heat::filled(cut, &around);
        let settled = filled.settle_from(running(point, segment, &filled).as_ref(), &heating, &around);
        let running = Temperatures::from(&settled.map_err(|why| no_heat(cut, &why))?);
        let row = cut.wires.iter().position(|of| *of == wire).ok_or(NoHeat::NoSection)?;
        let mut burning = heating;
        burning[row].current = current;
        let capacity = cut.wires.iter().map(|&of| self.capacity(of)).collect();
        Ok(Sudden { cut, filled, around, running, row, burning, capacity })
    }

    fn capacity(&self, wire: Id<Wire>) -> JoulePerMetreKelvin {
        let spec = self.design.wires[wire].spec.map(|spec| &self.design.wire_specs[spec.value]);
        spec.map_or(JoulePerMetreKelvin(0.0), strands)
    }
}
