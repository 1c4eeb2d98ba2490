//! The network of one state as a netlist for a generic circuit simulator.
//!
//! Every element is written by its law, so the simulator solves for itself: no solved voltage or current stands in the text.
//! Only states are taken over, as those of switches are: which demands have let go or are not fed, which diodes conduct, which
//! islands there are and where their zero is. A conducting diode is its forward line, a blocking one nothing: whoever compares
//! must hold each diode's voltage against its law too.
//! First guesses come from source EMFs alone.

use analysis::{Law, Prepared};
use model::*;
use std::fmt::Write;

/// Terminal voltage under which a constant-power demand without a drop-out voltage continues on a straight line, so that the
/// simulator's first step from zero volts has a finite current. No operating point of a vehicle bus lies there.
const KNEE: f64 = 1.0;

/// The netlist of a settled state. Nodes are `n` and the node's number; a comment over each element names it.
pub fn netlist(prepared: &Prepared, point: &Point) -> String {
    let design = prepared.design();
    let laws = prepared.laws(&point.scenario);
    let phase = &design.phases[point.scenario.phase].name;
    let mut out = format!("* {} phase {phase} corner {}\n", design.name, point.scenario.corner.word());
    out.push_str(".options reltol=1e-9 vntol=1e-12 abstol=1e-12 gmin=1e-15 itl1=2000 numdgt=12\n");
    for (number, island) in point.islands.iter().enumerate() {
        // Nothing flows through this resistor: it only fixes the island's zero of voltage.
        let _ = writeln!(
            out,
            "* zero of island {number}: {}\nrzero{number} n{} 0 1",
            design.end_name(prepared.node_end(island.reference)),
            island.reference.0
        );
    }
    for (row, (branch, law)) in prepared.branches().iter().zip(&laws).enumerate() {
        let (a, b) = (format!("n{}", branch.from.0), format!("n{}", branch.to.0));
        let mut words = design.element_words(branch.element);
        if branch.part > 0 || matches!(branch.element, ElementId::Converter(_) | ElementId::Sensor(_)) {
            let _ = write!(words, " part {}", branch.part + 1);
        }
        if a == b {
            continue;
        }
        match element(prepared, point, &laws, row) {
            Some(lines) => {
                let _ = writeln!(out, "* {words}\n{lines}");
            }
            None if *law == Law::Open => {}
            None => {
                let _ = writeln!(out, "* {words}: blocks, has let go or is not fed");
            }
        }
    }
    guesses(prepared, point, &laws, &mut out);
    out.push_str(".op\n.end\n");
    out
}

/// Whether a demand draws in this state, which is a state like a switch's: it has not let go and is fed.
fn draws(point: &Point, row: usize) -> bool {
    point.current[row] != 0.0
}

/// Lines of one branch; `None` where nothing flows by its state.
fn element(prepared: &Prepared, point: &Point, laws: &[Law], row: usize) -> Option<String> {
    let branch = prepared.branches()[row];
    let (a, b) = (format!("n{}", branch.from.0), format!("n{}", branch.to.0));
    let v = format!("v({a},{b})");
    let power = |watts: &str, knee: Option<f64>| {
        let knee = knee.unwrap_or(KNEE);
        format!("b{row} {a} {b} i = {v} > {knee:e} ? ({watts})/{v} : ({watts})*{v}/{:e}", knee * knee)
    };
    Some(match laws[row] {
        Law::Open => return None,
        Law::Conductance { g } => format!("r{row} {a} {b} {:e}", 1.0 / g),
        Law::Emf { volts, g } => format!("v{row} e{row} {b} {volts:e}\nr{row} {a} e{row} {:e}", 1.0 / g),
        // A conductance and a current source: the simulator need not find the current of a voltage source that may carry none.
        Law::Diode { forward, g } => match branch.element {
            ElementId::Diode(id) if point.diode_on[id] => format!("r{row} {a} {b} {:e}\ni{row} {b} {a} {:e}", 1.0 / g, forward * g),
            _ => return None,
        },
        Law::Injection { amperes } => {
            let joined = point.island_of[branch.from.row()] == point.island_of[branch.to.row()];
            (joined && point.island_of[branch.from.row()].is_some()).then(|| format!("i{row} {b} {a} {amperes:e}"))?
        }
        Law::ConverterOutput { volts, g } => draws(point, row - 1)
            .then(|| format!("v{row} e{row} {b} {volts:e}\nvs{row} s{row} e{row} 0\nr{row} {a} s{row} {:e}", 1.0 / g))?,
        _ if !draws(point, row) => return None,
        Law::Power { watts, drop_out, .. } => power(&format!("{watts:e}"), drop_out),
        Law::Current { amperes, drop_out, .. } => {
            let knee = drop_out.unwrap_or(KNEE);
            format!("b{row} {a} {b} i = {v} > {knee:e} ? {amperes:e} : {amperes:e}*{v}/{knee:e}")
        }
        Law::Resistance { g, .. } => format!("r{row} {a} {b} {:e}", 1.0 / g),
        Law::ConverterInput { efficiency, quiescent, drop_out, .. } => {
            let output = prepared.branches()[row + 1];
            // The sense source carries the current that comes back from the output's positive terminal: minus what is delivered.
            let out = format!("max(-v(n{},n{})*i(vs{}), 0)", output.from.0, output.to.0, row + 1);
            power(&format!("{out}/{efficiency:e} + {quiescent:e}"), drop_out)
        }
    })
}

/// First guesses: the positive terminal of each demand at the greatest EMF of its island.
fn guesses(prepared: &Prepared, point: &Point, laws: &[Law], out: &mut String) {
    let mut emf = vec![0.0f64; point.islands.len()];
    for (branch, law) in prepared.branches().iter().zip(laws) {
        if let (Law::Emf { volts, .. } | Law::ConverterOutput { volts, .. }, Some(island)) = (law, point.island_of[branch.from.row()]) {
            emf[island as usize] = emf[island as usize].max(*volts);
        }
    }
    for (row, branch) in prepared.branches().iter().enumerate() {
        let curved = matches!(laws[row], Law::Power { .. } | Law::ConverterInput { .. } | Law::Current { .. });
        if let (true, Some(island)) = (curved && draws(point, row), point.island_of[branch.from.row()]) {
            let _ = writeln!(out, ".nodeset v(n{})={:e}", branch.from.0, emf[island as usize]);
        }
    }
}
