//! What a fault current does to a wire in its section: for good, and how long it stands it.

use crate::Prepared;
use crate::corner::r20_in;
use crate::heat::{Balance, Cut};
use model::*;
use physics::damage_time::{Passed, passes_after};
use physics::resistance::copper_alpha20;
use physics::section_transient::Temperatures;
use physics::short_time::{AmpereSquareSecond, heating_integral};
use physics::*;

/// Heat capacity of a metal by volume, J/(m³ K).
///
/// # Source  Copper 8890 kg/m³ [read, the table of conductors] × 385 J/(kg K) [from memory]; aluminium 2700 × 900 [from memory].
fn by_volume(spec: &WireSpec) -> f64 {
    match spec.metal() {
        physics::ampacity::Conductor::Copper => 8890.0 * 385.0,
        physics::ampacity::Conductor::Aluminium => 2700.0 * 900.0,
    }
}

/// Heat capacity of a wire's strands, per length.
fn strands(spec: &WireSpec) -> JoulePerMetreKelvin {
    JoulePerMetreKelvin(spec.area.value.0 * by_volume(spec))
}

impl Prepared<'_> {
    /// Segments that a wire runs through.
    pub fn segments_of(&self, wire: Id<Wire>) -> &[Id<Segment>] {
        self.layout.run(wire).map_or(&[], |run| &run.segments)
    }

    /// Heat of a segment at a point with another current in one of its wires, for good; the others as they are.
    ///
    /// Cost: a balance of heat.
    pub fn heat_with(&self, point: &Point, segment: Id<Segment>, wire: Id<Wire>, current: Ampere) -> SegmentHeat {
        match self.sections().cut(segment) {
            Some(cut) => crate::heat::settle_with(self, point, cut, &|of| (of == wire).then_some(current)),
            None => SegmentHeat::Empty,
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
    /// # Errors  What is missing, or `None` where a balance does not settle.
    pub fn stands(
        &self,
        point: &Point,
        segment: Id<Segment>,
        (wire, current): (Id<Wire>, Ampere),
        limit: &dyn Fn(Id<Wire>) -> Option<Kelvin>,
    ) -> Result<Option<(Second, Id<Wire>)>, Option<HeatLacks>> {
        let Some(cut) = self.sections().cut(segment) else { return Err(None) };
        let Balance { around, heating } = crate::heat::balance(self, point, cut).map_err(Some)?;
        let filled = crate::heat::filled(cut, &around);
        let running = filled.settle(&heating, &around).map_err(|_| None)?;
        let row = cut.wires.iter().position(|of| *of == wire).ok_or(None)?;
        let mut burning = heating;
        burning[row].current = current;
        let limits: Vec<Kelvin> = cut.wires.iter().map(|&of| limit(of).unwrap_or(Kelvin(f64::INFINITY))).collect();
        let capacity: Vec<JoulePerMetreKelvin> = cut.wires.iter().map(|&of| self.capacity(of)).collect();
        let adiabatic = self.adiabatic(wire, running.conductor[row], limits[row]).ok_or(None)?;
        let first = Second(0.5 * adiabatic.time_at(current).0).clamp(Second(1e-4), Second(3600.0));
        match passes_after(&filled, &Temperatures::from(&running), &capacity, &burning, &around, &limits, first).map_err(|_| None)? {
            Passed::After(t, row) => Ok(Some((t, cut.wires[row]))),
            Passed::Never => Ok(None),
        }
    }

    fn capacity(&self, wire: Id<Wire>) -> JoulePerMetreKelvin {
        let spec = self.design.wires[wire].spec.map(|spec| &self.design.wire_specs[spec.value]);
        spec.map_or(JoulePerMetreKelvin(0.0), strands)
    }
}
