//! Which recalled, assumed and to-be-confirmed values an element's behaviour rests on.

use crate::Layout;
use crate::corner::*;
use model::*;

/// Notes of the values that decide an element in a scenario, sorted and without repetition.
pub(crate) fn notes(design: &Design, layout: &Layout, scenario: &Scenario, element: ElementId) -> Vec<NoteId> {
    let corner = scenario.corner;
    let mut notes = Vec::new();
    let mut add = |note: Option<NoteId>| notes.extend(note);
    let resistance = |spread: &Spread<physics::Ohm>| resistance_in(spread, corner).note;
    match element {
        ElementId::Wire(id) | ElementId::Joint(id, _) => {
            let wire = &design.wires[id];
            add(wire.length.and_then(|l| l.note));
            layout.notes(id).iter().for_each(|note| add(Some(*note)));
            if let Some(spec) = wire.spec {
                add(spec.note);
                let row = &design.wire_specs[spec.value];
                add(r20_in(row, corner).note);
                add(row.conductivity.note);
            }
            for end in [wire.from.value, wire.to.value] {
                add(joint_in(design, end, corner).and_then(|j| j.note));
            }
            add(ambient_in(&design.phases[scenario.phase], corner).note);
        }
        ElementId::Contact(id) => {
            let contact = &design.contacts[id];
            add(resistance(&contact.ohms));
            add(contact.size_note);
            crate::law::in_line(design, scenario, id).for_each(|(_, own)| add(resistance(own)));
        }
        ElementId::Strap(id) => add(resistance(&design.straps[id].ohms)),
        ElementId::StructurePath(id) => add(resistance(&design.structure_paths[id].ohms)),
        ElementId::Link(id) => add(resistance(&design.links[id].ohms)),
        ElementId::FittedLink(id) => add(resistance(&design.fitted_links[id].ohms)),
        ElementId::Protector(id) => add(resistance(&design.protectors[id].ohms)),
        ElementId::Switch(id) => add(resistance(&design.switches[id].ohms)),
        ElementId::Source(id) => {
            let source = &design.batteries[id];
            add(source.emf.as_ref().and_then(|e| emf_in(e, corner).note));
            add(source.ohms.as_ref().and_then(resistance));
        }
        ElementId::Diode(id) => {
            add(resistance(&design.diodes[id].ohms));
            add(forward_in(&design.diodes[id].forward, corner).note);
        }
        ElementId::Converter(id) => {
            let converter = &design.converters[id];
            add(emf_in(&converter.emf, corner).note);
            add(resistance(&converter.ohms));
            add(converter.efficiency.note);
            add(converter.quiescent.note);
        }
        ElementId::Load(id) => {
            let load = &design.loads[id];
            let low = corner == Corner::Low;
            add(match load.demand {
                Some(Demand::Power(p)) => if low { p.high } else { p.typical }.note,
                Some(Demand::Current(i)) => if low { i.high } else { i.typical }.note,
                Some(Demand::Resistance(r)) => if low { r.low } else { r.typical }.note,
                None => None,
            });
            if low {
                add(load.growth.and_then(|g| g.note));
            }
            add(load.drop_out.and_then(|v| v.note));
            add(load.return_above.and_then(|v| v.note));
        }
        ElementId::Sensor(id) => {
            let sensor = &design.sensors[id];
            add(sensor.reading.note);
            match sensor.law {
                SensorLaw::Bridge { arm, sensitivity, excitation, .. } => {
                    add(arm.note);
                    add(sensitivity.note);
                    add(excitation.note);
                }
                SensorLaw::Resistance { zero, full, excitation, .. } => {
                    add(zero.note);
                    add(full.note);
                    add(excitation.note);
                }
                SensorLaw::Voltage { full, ohms, .. } => {
                    add(full.note);
                    add(ohms.note);
                }
                SensorLaw::Rtd { r0, alpha, zero, full, excitation, .. } => {
                    [r0.note, alpha.note, zero.note, full.note, excitation.note].into_iter().for_each(&mut add);
                }
                SensorLaw::Thermocouple { zero, full, cold, ohms, .. } => {
                    [zero.note, full.note, cold.note, ohms.note].into_iter().for_each(&mut add);
                }
                SensorLaw::Potentiometer { track, excitation, .. } => [track.note, excitation.note].into_iter().for_each(&mut add),
                SensorLaw::CurrentLoop { burden, .. } => add(burden.note),
            }
        }
        ElementId::Receiver(id) => add(design.receivers[id].ohms.note),
        ElementId::Excitation(id) => add(design.excitations[id].current.note),
        ElementId::Shield(_) | ElementId::Drain(_) => {}
    }
    notes.sort_unstable();
    notes.dedup();
    notes
}
