//! A battery as an equivalent circuit: what it gives without load over depth of discharge and temperature, a series resistance, and pairs of
//! resistance and capacitance that follow its current late.
//!
//! The terminal voltage is `V = E(d, T) − R0(d, T) i − Σ R1(d, T) j`, with `j` the current behind a first-order lag of each pair, `dj/dt = (i − j)/τ`: for a steady
//! R1 that is the pair of R1 in parallel with C1 = τ/R1. Currents are positive where the battery gives. Depth is the share of the rated charge that has
//! been given: 0 full, 1 empty.

use crate::{Ampere, Coulomb, Kelvin, Ohm, Ratio, Second, Volt};

/// A value over a first axis at some temperatures: straight between points, straight between temperatures, held beyond both.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// By rising temperature; of each the points by rising first axis, one at least.
    pub rows: Vec<(Kelvin, Vec<(f64, f64)>)>,
}

impl Field {
    /// The same value everywhere.
    pub fn constant(value: f64) -> Field {
        Field { rows: vec![(Kelvin(298.15), vec![(0.0, value)])] }
    }

    /// Value and its slope over the first axis; at a point, the slope beyond it.
    pub fn at(&self, x: f64, temperature: Kelvin) -> (f64, f64) {
        let above = self.rows.partition_point(|(at, _)| at.0 <= temperature.0);
        let of = |row: usize| along(&self.rows[row].1, x);
        if above == 0 {
            return of(0);
        }
        if above == self.rows.len() {
            return of(above - 1);
        }
        let (low, high) = (self.rows[above - 1].0.0, self.rows[above].0.0);
        let share = (temperature.0 - low) / (high - low);
        let (a, b) = (of(above - 1), of(above));
        (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
    }

    /// Whether a temperature lies within the rows; a field of one row says nothing of others.
    pub fn covers(&self, temperature: Kelvin) -> bool {
        match (self.rows.first(), self.rows.last()) {
            (Some(first), Some(last)) => temperature.0 >= first.0.0 && temperature.0 <= last.0.0,
            _ => false,
        }
    }
}

fn along(points: &[(f64, f64)], x: f64) -> (f64, f64) {
    let above = points.partition_point(|(at, _)| *at <= x);
    if above == 0 {
        return (points[0].1, 0.0);
    }
    if above == points.len() {
        return (points[above - 1].1, 0.0);
    }
    let ((x0, y0), (x1, y1)) = (points[above - 1], points[above]);
    let slope = (y1 - y0) / (x1 - x0);
    (y0 + slope * (x - x0), slope)
}

/// The generic discharge curve: E(q) = E0 − K Q/(Q − q) q + A exp(−B q), with K Q/(Q − q) as the resistance of a pair.
///
/// # Source    The generic battery model as an open network simulator restates it (read). The published claim is 5 % from 10 to 100 % of charge (read).
/// # Validity  Near empty it runs to minus infinity and is not to be used: the cut-off voltage comes first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Generic {
    /// Constant voltage E0.
    pub constant: Volt,
    /// Polarisation K: ohms, and volts per ampere hour.
    pub polarisation_ohm: f64,
    /// Amplitude A of the exponential part.
    pub amplitude: Volt,
    /// Inverse charge B of the exponential part, 1/Ah.
    pub inverse_per_ah: f64,
    /// Largest charge Q, Ah.
    pub most_ah: f64,
    /// Series resistance R.
    pub ohms: Ohm,
    /// Time constant of the lag.
    pub tau: Second,
}

/// What a maker's discharge curve at one current says in three points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThreePoints {
    /// Voltage full.
    pub full: Volt,
    /// Voltage at the end of the exponential part, and the charge given by then, Ah.
    pub exponential: (Volt, f64),
    /// Voltage at the end of the nominal part, and the charge given by then, Ah.
    pub nominal: (Volt, f64),
    /// Largest charge, Ah.
    pub most_ah: f64,
    /// Current of the curve.
    pub typical: Ampere,
    /// Series resistance.
    pub ohms: Ohm,
}

/// Time constant of the generic form's lag.
///
/// # Source  Public description of a 24 V-class set of the same form (read).
pub const GENERIC_LAG: Second = Second(30.0);

impl Generic {
    /// Parameters from three points: A = V_full − V_exp, B = 3/Q_exp, E0 = V_full + R I − A, and K so that the curve passes through the nominal point.
    ///
    /// # Units   (V), (Ah), (A), (Ω); `None` where the points make no curve: charges not rising, voltages not falling, or K below zero
    /// # Source  Parameter formulas of the generic discharge form [read in an open network simulator's source].
    pub fn from_three_points(points: &ThreePoints) -> Option<Generic> {
        let ThreePoints { full, exponential: (v_exp, q_exp), nominal: (v_nom, q_nom), most_ah, typical, ohms } = *points;
        if !(0.0 < q_exp && q_exp < q_nom && q_nom < most_ah && full.0 > v_exp.0 && v_exp.0 > v_nom.0) {
            return None;
        }
        let amplitude = full - v_exp;
        let inverse_per_ah = 3.0 / q_exp;
        let drop = ohms * typical;
        let constant = full + drop - amplitude;
        let rest = constant.0 - v_nom.0 - drop.0 + amplitude.0 * (-inverse_per_ah * q_nom).exp();
        let polarisation_ohm = rest * (most_ah - q_nom) / (most_ah * (q_nom + typical.0));
        (polarisation_ohm >= 0.0).then_some(Generic {
            constant,
            polarisation_ohm,
            amplitude,
            inverse_per_ah,
            most_ah,
            ohms,
            tau: GENERIC_LAG,
        })
    }

    /// Charge given at a depth, Ah: not so near to the largest charge that the pole counts.
    fn given_ah(&self, depth: f64) -> f64 {
        (depth * self.most_ah).clamp(0.0, 0.999 * self.most_ah)
    }

    fn emf(&self, depth: f64) -> (f64, f64) {
        let (q, most) = (self.given_ah(depth), self.most_ah);
        let (k, left) = (self.polarisation_ohm, most - q);
        let fading = self.amplitude.0 * (-self.inverse_per_ah * q).exp();
        let slope = -k * most * most / (left * left) - self.inverse_per_ah * fading;
        (self.constant.0 - k * most / left * q + fading, slope * most)
    }

    /// Resistance of the pair; on charge that of charge, K Q/(q + 0.1 Q).
    fn polarisation(&self, depth: f64, charging: bool) -> f64 {
        let (q, most) = (self.given_ah(depth), self.most_ah);
        self.polarisation_ohm * most / if charging { q + 0.1 * most } else { most - q }
    }
}

/// A pair of resistance and capacitance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Its resistance as a share of the series resistance.
    pub share: f64,
    /// Its time constant.
    pub tau: Second,
}

/// The two ways in which a curve is stated.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// Tables over depth and temperature.
    Tables {
        /// Voltage without load, V; not rising with depth.
        emf: Field,
        /// Series resistance, Ω.
        ohms: Field,
        /// What follows late.
        pairs: Vec<Pair>,
    },
    /// The generic form; knows no temperature.
    Generic(Generic),
}

/// What is known of one cell, or of one battery that is catalogued as a whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Charge at the rated current and temperature.
    pub rated: Coulomb,
    /// Voltage and resistances.
    pub form: Form,
    /// Share of the rated charge that it gives, over the current in multiples of the rated charge per hour, at some temperatures; `None` where nothing is stated.
    pub capacity: Option<Field>,
    /// Whether it can be charged. What flows into one that cannot does not count as charge.
    pub recharges: bool,
}

impl Curve {
    /// Voltage without load and its slope over depth.
    ///
    /// # Units  (1), (K) → (V), (V)
    pub fn emf(&self, depth: f64, temperature: Kelvin) -> (Volt, f64) {
        let (volts, slope) = match &self.form {
            Form::Tables { emf, .. } => emf.at(depth, temperature),
            Form::Generic(generic) => generic.emf(depth),
        };
        (Volt(volts), slope)
    }

    /// Series resistance.
    pub fn ohms(&self, depth: f64, temperature: Kelvin) -> Ohm {
        Ohm(match &self.form {
            Form::Tables { ohms, .. } => ohms.at(depth, temperature).0,
            Form::Generic(generic) => generic.ohms.0,
        })
    }

    /// Resistance and time constant of each pair.
    pub fn pairs(&self, depth: f64, temperature: Kelvin, charging: bool) -> Vec<(Ohm, Second)> {
        match &self.form {
            Form::Tables { pairs, .. } => {
                let ohms = self.ohms(depth, temperature);
                pairs.iter().map(|pair| (ohms * pair.share, pair.tau)).collect()
            }
            Form::Generic(generic) => vec![(Ohm(generic.polarisation(depth, charging)), generic.tau)],
        }
    }

    /// Share of the rated charge that it gives at a current and temperature.
    ///
    /// # Units  (A), (K) → (1)
    pub fn gives(&self, current: Ampere, temperature: Kelvin) -> Ratio {
        let rate = current.0.max(0.0) * 3600.0 / self.rated.0;
        Ratio(self.capacity.as_ref().map_or(1.0, |field| field.at(rate, temperature).0))
    }

    /// Whether everything that is stated over temperature covers this one.
    pub fn covers(&self, temperature: Kelvin) -> bool {
        let stated = |field: &Field| field.rows.len() < 2 || field.covers(temperature);
        let form = match &self.form {
            Form::Tables { emf, ohms, .. } => stated(emf) && stated(ohms),
            Form::Generic(_) => true,
        };
        form && self.capacity.as_ref().is_none_or(stated)
    }

    /// Resistance that a resistance at one temperature has at another by the law of Arrhenius: R exp(E/k (1/T − 1/T0)).
    ///
    /// # Units   `activation` [J/mol]
    /// # Source  Usual law of an ion conductor; the molar gas constant is 8.314462618 J/(mol K) [from memory].
    pub fn arrhenius(ohms: Ohm, at: Kelvin, activation: f64, temperature: Kelvin) -> Ohm {
        const GAS: f64 = 8.314_462_618;
        ohms * (activation / GAS * (1.0 / temperature.0 - 1.0 / at.0)).exp()
    }
}

/// Share of charge that is left after a time, where a share is lost in another: (1 − loss)^(time/over).
///
/// # Units   (1), (s), (s) → (1)
/// # Source  Common practice, no source: what is lost in storage is a share of what is there.
pub fn kept(loss: Ratio, over: Second, time: Second) -> Ratio {
    Ratio((1.0 - loss.0).powf(time.0 / over.0))
}

/// Cells in strings, as one battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bank {
    /// Cells in line that still work.
    pub series: f64,
    /// Strings side by side.
    pub parallel: f64,
    /// Share of the rated charge that age and storage leave.
    pub capacity: Ratio,
    /// Factor of age on all resistances.
    pub resistance: f64,
}

/// How a battery stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// Share of its charge that has been given.
    pub depth: f64,
    /// Temperature of its cells, K.
    pub temperature: Kelvin,
    /// Current of one string behind each pair's lag.
    pub late: Vec<Ampere>,
    /// Current of one string when it was last settled: what its rate follows.
    pub current: Ampere,
}

/// A voltage behind a resistance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Voltage.
    pub emf: Volt,
    /// Resistance.
    pub ohms: Ohm,
}

impl Bank {
    /// Charge of the whole bank when full.
    pub fn charge(&self, curve: &Curve) -> Coulomb {
        curve.rated * (self.parallel * self.capacity.0)
    }

    /// Depth by ampere second of one string at a state.
    fn depth_per_coulomb(&self, curve: &Curve, state: &State) -> f64 {
        let gives = curve.gives(state.current, state.temperature).0.max(1e-3);
        1.0 / (curve.rated.0 * self.capacity.0 * gives)
    }

    /// What the network sees `after` a time with an unknown steady current: the circuit whose voltage at that current is the terminal voltage then. The
    /// voltage without load runs on its slope, each pair by its exponential, so that steps may be longer than any time constant. After no time it is what a
    /// load that is switched now sees.
    pub fn circuit(&self, curve: &Curve, state: &State, after: Second) -> Circuit {
        let (emf, slope) = curve.emf(state.depth, state.temperature);
        let charging = state.current.0 < 0.0;
        let falls = if charging && !curve.recharges { 0.0 } else { (-slope).max(0.0) };
        let mut volts = emf.0;
        let mut ohms =
            curve.ohms(state.depth, state.temperature).0 * self.resistance + falls * after.0 * self.depth_per_coulomb(curve, state);
        for (n, (pair, tau)) in curve.pairs(state.depth, state.temperature, charging).into_iter().enumerate() {
            let fades = (-after.0 / tau.0).exp();
            let late = state.late.get(n).map_or(0.0, |late| late.0);
            volts -= pair.0 * self.resistance * fades * late;
            ohms += pair.0 * self.resistance * (1.0 - fades);
        }
        Circuit { emf: Volt(volts * self.series), ohms: Ohm(ohms * self.series / self.parallel) }
    }

    /// The state after a time with a steady current of the bank.
    pub fn after(&self, curve: &Curve, state: &State, current: Ampere, after: Second) -> State {
        let string = Ampere(current.0 / self.parallel);
        let now = State { current: string, ..state.clone() };
        let counts = if string.0 < 0.0 && !curve.recharges { 0.0 } else { string.0 };
        let depth = state.depth + counts * after.0 * self.depth_per_coulomb(curve, &now);
        let pairs = curve.pairs(state.depth, state.temperature, string.0 < 0.0);
        let late = pairs.iter().enumerate().map(|(n, (_, tau))| {
            let before = state.late.get(n).copied().unwrap_or_default();
            string + (before - string) * (-after.0 / tau.0).exp()
        });
        State { depth: depth.max(0.0), late: late.collect(), ..now }
    }

    /// Voltage without load.
    pub fn emf(&self, curve: &Curve, depth: f64, temperature: Kelvin) -> Volt {
        curve.emf(depth, temperature).0 * self.series
    }

    /// What becomes heat in the bank, and what its pairs store: at a state with its present current.
    ///
    /// # Units  → (W) R0 i² + Σ R1 j², (W) Σ R1 j (i − j)
    pub fn losses(&self, curve: &Curve, state: &State) -> (f64, f64) {
        let i = state.current.0;
        let mut heat = curve.ohms(state.depth, state.temperature).0 * i * i;
        let mut stored = 0.0;
        for ((pair, _), late) in curve.pairs(state.depth, state.temperature, i < 0.0).iter().zip(&state.late) {
            heat += pair.0 * late.0 * late.0;
            stored += pair.0 * late.0 * (i - late.0);
        }
        let all = self.series * self.parallel * self.resistance;
        (heat * all, stored * all)
    }

    /// The least depth at which the voltage without load is not above a limit; `None` where it is above it even when empty.
    pub fn depth_below(&self, curve: &Curve, temperature: Kelvin, limit: Volt) -> Option<f64> {
        let above = |depth: f64| self.emf(curve, depth, temperature).0 > limit.0;
        if !above(0.0) {
            return Some(0.0);
        }
        if above(1.0) {
            return None;
        }
        let (mut high, mut low) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (high + low);
            if above(middle) { high = middle } else { low = middle }
        }
        Some(low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Kelvin = Kelvin(298.15);
    const ONE: Bank = Bank { series: 1.0, parallel: 1.0, capacity: Ratio(1.0), resistance: 1.0 };

    fn nimh() -> ThreePoints {
        ThreePoints {
            full: Volt(1.39),
            exponential: (Volt(1.28), 1.3),
            nominal: (Volt(1.18), 6.25),
            most_ah: 7.0,
            typical: Ampere(1.3),
            ohms: Ohm(0.0046),
        }
    }

    fn of(generic: Generic) -> Curve {
        Curve { rated: Coulomb(generic.most_ah * 3600.0), form: Form::Generic(generic), capacity: None, recharges: true }
    }

    /// Terminal voltage with the lag settled.
    fn settled(curve: &Curve, given_ah: f64, current: f64) -> f64 {
        let state =
            State { depth: given_ah * 3600.0 / curve.rated.0, temperature: ROOM, late: vec![Ampere(current)], current: Ampere(current) };
        let circuit = ONE.circuit(curve, &state, Second(0.0));
        circuit.emf.0 - circuit.ohms.0 * current
    }

    /// Parameters of a published set of a 7 Ah cell: E0 1.28598 V, K 0.001419, A 0.11 V, B 2.3077 per Ah, and 1.2664 V at 3.5 Ah and 1.3 A (computed from the
    /// published points by the published formulas).
    #[test]
    fn three_points_of_a_nickel_cell() {
        let generic = Generic::from_three_points(&nimh()).expect("a curve");
        assert!((generic.constant.0 - 1.28598).abs() < 1e-5, "{generic:?}");
        assert!((generic.polarisation_ohm - 0.001419).abs() < 1e-6 && (generic.amplitude.0 - 0.11).abs() < 1e-12, "{generic:?}");
        assert!((generic.inverse_per_ah - 2.3077).abs() < 1e-4, "{generic:?}");
        assert!((settled(&of(generic), 3.5, 1.3) - 1.2664).abs() < 2e-4);
    }

    /// By construction V(Q_nom, I_typ) = V_nom.
    #[test]
    fn the_nominal_point_is_met() {
        for points in [nimh(), ThreePoints { ohms: Ohm(0.002), ..nimh() }, ThreePoints { typical: Ampere(0.4), ..nimh() }] {
            let curve = of(Generic::from_three_points(&points).expect("a curve"));
            assert!((settled(&curve, 6.25, points.typical.0) - 1.18).abs() < 1e-12, "{points:?}");
        }
    }

    /// Points that make no curve: an exponential part beyond the nominal one, voltages that rise.
    #[test]
    fn points_that_make_no_curve() {
        let wrong = [
            ThreePoints { exponential: (Volt(1.28), 6.5), ..nimh() },
            ThreePoints { nominal: (Volt(1.3), 6.25), ..nimh() },
            ThreePoints { most_ah: 6.0, ..nimh() },
        ];
        for points in wrong {
            assert_eq!(Generic::from_three_points(&points), None, "{points:?}");
        }
    }

    /// A published set of a 24 V-class pack: 25.634 V at 15 Ah and 15 A (computed: 26.0246 − 0.008 × 15 − 0.0045161 × 2 × 30 + 2.0154 exp(−30.5)).
    #[test]
    fn shepherd_set_of_a_pack() {
        let generic = Generic {
            constant: Volt(26.0246),
            polarisation_ohm: 0.0045161,
            amplitude: Volt(2.0154),
            inverse_per_ah: 2.0354,
            most_ah: 30.0,
            ohms: Ohm(0.008),
            tau: GENERIC_LAG,
        };
        assert!((settled(&of(generic), 15.0, 15.0) - 25.634).abs() < 1e-3);
    }

    /// R0 0.828709 mohm and 1.5 of it behind 30 s: 100 A from rest, after one time constant 100 A × (R0 + R1 (1 − 1/e)) = 161.4 mV (worked by hand from the
    /// published set).
    #[test]
    fn a_pair_follows_late() {
        let pairs = vec![Pair { share: 1.5, tau: Second(30.0) }];
        let form = Form::Tables { emf: Field::constant(3.7), ohms: Field::constant(0.828709e-3), pairs };
        let curve = Curve { rated: Coulomb(360_000.0), form, capacity: None, recharges: true };
        let rest = State { depth: 0.5, temperature: ROOM, late: vec![Ampere(0.0)], current: Ampere(0.0) };
        let circuit = ONE.circuit(&curve, &rest, Second(30.0));
        let drop = 3.7 - (circuit.emf.0 - circuit.ohms.0 * 100.0);
        assert!((drop - 0.1614).abs() < 0.003 * 0.1614, "{drop}");
        // The same by two steps, of which the second begins where the first ended.
        let half = ONE.after(&curve, &rest, Ampere(100.0), Second(15.0));
        let circuit = ONE.circuit(&curve, &half, Second(15.0));
        assert!((3.7 - (circuit.emf.0 - circuit.ohms.0 * 100.0) - drop).abs() < 1e-12);
    }

    /// Arrhenius with 20 kJ/mol: 0.396 mohm at 25 °C is 0.829 at 0 °C and 1.158 at −10 °C (computed from the published set).
    #[test]
    fn resistance_of_a_cold_cell() {
        let at = |celsius| Curve::arrhenius(Ohm(0.396e-3), ROOM, 20_000.0, Kelvin::from_celsius(celsius)).0 * 1e3;
        assert!((at(25.0) - 0.396).abs() < 1e-12);
        let (zero, cold) = (at(0.0), at(-10.0));
        assert!((zero - 0.829).abs() < 5e-4 && (cold - 1.158).abs() < 5e-4, "{zero} {cold}");
    }

    /// Charged silver-zinc cells lose a third in three months at 23 °C (read): after six months four ninths are left.
    #[test]
    fn what_storage_leaves() {
        let month = 30.0 * 86400.0;
        let left = kept(Ratio(1.0 / 3.0), Second(3.0 * month), Second(6.0 * month)).0;
        assert!((left - 4.0 / 9.0).abs() < 1e-12);
        assert_eq!(kept(Ratio(0.5), Second(1.0), Second(0.0)).0, 1.0);
    }

    /// Straight between points and temperatures, held beyond them.
    #[test]
    fn a_field_is_bilinear() {
        let field = Field { rows: vec![(Kelvin(273.0), vec![(0.0, 2.0), (1.0, 1.0)]), (Kelvin(293.0), vec![(0.0, 3.0), (1.0, 2.5)])] };
        assert_eq!(field.at(0.5, Kelvin(273.0)), (1.5, -1.0));
        assert_eq!(field.at(0.5, Kelvin(283.0)), (0.5 * (1.5 + 2.75), -0.75));
        assert_eq!(field.at(2.0, Kelvin(300.0)), (2.5, 0.0));
        assert_eq!(field.at(-1.0, Kelvin(200.0)), (2.0, 0.0));
        assert!(field.covers(Kelvin(280.0)) && !field.covers(Kelvin(294.0)));
    }

    /// At a rate at which it gives 80 %, a charge is used up in 80 % of the time; what flows into a battery that takes none stays out.
    #[test]
    fn rate_and_return() {
        let capacity = Field { rows: vec![(ROOM, vec![(0.1, 1.0), (1.0, 0.8)])] };
        let form = Form::Tables { emf: Field::constant(1.5), ohms: Field::constant(0.01), pairs: Vec::new() };
        let curve = Curve { rated: Coulomb(36_000.0), form, capacity: Some(capacity), recharges: false };
        let full = State { temperature: ROOM, ..State::default() };
        let hour = |amperes: f64| ONE.after(&curve, &full, Ampere(amperes), Second(3600.0)).depth;
        assert!((hour(1.0) - 0.1).abs() < 1e-12 && (hour(10.0) - 1.25).abs() < 1e-12);
        let half = State { depth: 0.5, ..full.clone() };
        assert_eq!(ONE.after(&curve, &half, Ampere(-1.0), Second(3600.0)).depth, 0.5);
        let takes = Curve { recharges: true, ..curve };
        assert!((ONE.after(&takes, &half, Ampere(-1.0), Second(3600.0)).depth - 0.4).abs() < 1e-12);
    }

    /// Two strings of three cells with a tenth of the charge gone by age: three times the voltage, 3/2 of the resistance, 1.8 of the charge.
    #[test]
    fn cells_in_strings() {
        let form = Form::Tables { emf: Field::constant(2.0), ohms: Field::constant(0.1), pairs: Vec::new() };
        let curve = Curve { rated: Coulomb(3600.0), form, capacity: None, recharges: true };
        let bank = Bank { series: 3.0, parallel: 2.0, capacity: Ratio(0.9), resistance: 1.2 };
        let state = State { temperature: ROOM, ..State::default() };
        let circuit = bank.circuit(&curve, &state, Second(0.0));
        assert!((circuit.emf.0 - 6.0).abs() < 1e-12 && (circuit.ohms.0 - 0.18).abs() < 1e-12, "{circuit:?}");
        assert!((bank.charge(&curve).0 - 6480.0).abs() < 1e-9);
        // One ampere of the bank for an hour: half an ampere hour of each string of 0.9.
        let later = bank.after(&curve, &state, Ampere(1.0), Second(3600.0));
        assert!((later.depth - 0.5 / 0.9).abs() < 1e-12);
        let (heat, stored) = bank.losses(&curve, &later);
        assert!((heat - 0.18).abs() < 1e-12 && stored == 0.0);
    }

    /// A voltage that falls straight from 3 to 2 V is at 2.25 V at three quarters.
    #[test]
    fn depth_at_a_voltage() {
        let form =
            Form::Tables { emf: Field { rows: vec![(ROOM, vec![(0.0, 3.0), (1.0, 2.0)])] }, ohms: Field::constant(0.1), pairs: Vec::new() };
        let curve = Curve { rated: Coulomb(3600.0), form, capacity: None, recharges: true };
        let at = |volts| ONE.depth_below(&curve, ROOM, Volt(volts));
        assert!((at(2.25).expect("within") - 0.75).abs() < 1e-12);
        assert_eq!((at(3.5), at(1.9)), (Some(0.0), None));
    }
}
