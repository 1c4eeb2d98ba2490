//! Heat of one wire on its own: I²R(T) in the conductor, through the jacket, to walls, gas and panel; how fast.

use crate::film::Film;
use crate::radiation::emitted;
use crate::resistance::T20;
use crate::surroundings::Surroundings;
use crate::{Ampere, JoulePerMetreKelvin, Kelvin, Metre, OhmPerMetre, PerKelvin, Second, WattPerMetre, WattPerMetreKelvin};
use core::f64::consts::PI;

/// No steady temperature is looked for above this: the melting point of copper. Jackets are long gone, and the law of resistance with them.
///
/// # Source  1083 °C (read in a public worked example on fusing).
pub const CEILING: Kelvin = Kelvin::from_celsius(1083.0);

/// One insulated round wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    /// Diameter of the conductor.
    pub conductor: Metre,
    /// Diameter over the jacket.
    pub outside: Metre,
    /// Conductivity of the jacket.
    pub jacket_k: WattPerMetreKelvin,
    /// Emittance of the jacket's surface.
    pub emittance: f64,
    /// Resistance per length at 20 °C.
    pub r20: OhmPerMetre,
    /// Temperature coefficient of resistance at 20 °C, of this conductor's own metal.
    pub alpha20: PerKelvin,
}

/// A wire's steady state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steady {
    /// Temperature of the conductor.
    pub conductor: Kelvin,
    /// Temperature of the jacket's surface.
    pub skin: Kelvin,
    /// Heat of the current per length.
    pub heat: WattPerMetre,
    /// Film of the gas; `None` in vacuum.
    pub film: Option<Film>,
    /// Heat in less heat out, as a share of the heat in (of the heat that passes, where no current heats).
    pub balance: f64,
}

/// No steady state below [`CEILING`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Runaway {
    /// Current that the wire would reach the ceiling with.
    pub current: Ampere,
}

/// Heat per length of a current: I² R20 (1 + α20 (T − 20 °C)); no less than nothing where the straight law falls through zero.
pub fn joule_heat(current: Ampere, r20: OhmPerMetre, alpha20: PerKelvin, conductor: Kelvin) -> WattPerMetre {
    WattPerMetre(current.0 * current.0 * r20.0 * (1.0 + alpha20 * (conductor - T20)).max(0.0))
}

/// Resistance of a jacket to heat: ln(D/d)/(2π k).
///
/// # Units     (m), (W/(m K)) → (K m/W)
/// # Source    Fourier's law in a ring (computed); wall drop of a thin-walled 20 AWG at 7 W/m: 1.2 K.
pub fn jacket_resistance(conductor: Metre, outside: Metre, k: WattPerMetreKelvin) -> f64 {
    (outside / conductor).ln() / (2.0 * PI * k.0)
}

/// Heat per length that leaves the skin at a temperature.
fn loss(wire: &Wire, skin: Kelvin, around: &Surroundings) -> f64 {
    let surface = PI * wire.outside.0;
    let radiated = surface * wire.emittance * (emitted(skin) - emitted(around.walls));
    let film = around.film(wire.outside, skin).zip(around.gas);
    let carried = film.map_or(0.0, |(film, gas)| surface * film.h.0 * (skin.0 - gas.temperature.0));
    let led = around.sink.map_or(0.0, |sink| sink.conductance.0 * (skin.0 - sink.temperature.0));
    radiated + carried + led - around.absorbed.0
}

/// Where a function that grows through zero does so between two bounds; the nearer bound where it does not.
fn root(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    root_within(low, high, 0.0, f)
}

/// The same to within `width`.
pub(crate) fn root_within(low: f64, high: f64, width: f64, f: impl Fn(f64) -> f64) -> f64 {
    let enough = width;
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa >= 0.0 {
        return a;
    }
    if fb <= 0.0 {
        return b;
    }
    // False position, weighted (Illinois), and halved whenever that does not shrink the bracket by half in three steps.
    let mut stale = 0;
    for _ in 0..200 {
        let width = b - a;
        let mut x = if stale >= 3 { 0.5 * (a + b) } else { b - fb * width / (fb - fa) };
        if !(x > a && x < b) {
            x = 0.5 * (a + b);
        }
        let fx = f(x);
        if fx == 0.0 {
            return x;
        }
        if fx < 0.0 {
            (a, fa) = (x, fx);
            fb *= 0.5;
        } else {
            (b, fb) = (x, fx);
            fa *= 0.5;
        }
        stale = if b - a > 0.5 * width { stale + 1 } else { 0 };
        if b - a <= (1e-13 * b.abs()).max(enough) {
            break;
        }
    }
    0.5 * (a + b)
}

/// Steady state of a wire with a current.
///
/// # Units     (A) → (K), (W/m)
/// # Validity  A long wire away from its ends, straight and level; gas as in [`film`](crate::film::film). Sun on one side counts as all round.
/// # Errors    [`Runaway`] where no temperature below [`CEILING`] loses what the current heats.
/// # Source    Computed: heat in = heat out at the skin, jacket drop by Fourier's law.
pub fn settle(wire: &Wire, current: Ampere, around: &Surroundings) -> Result<Steady, Runaway> {
    let jacket = jacket_resistance(wire.conductor, wire.outside, wire.jacket_k);
    let inside = |skin: f64| skin + jacket * loss(wire, Kelvin(skin), around);
    let heat_at = |skin: f64| joule_heat(current, wire.r20, wire.alpha20, Kelvin(inside(skin))).0;
    let skin = root(around.coldest().0, CEILING.0, |skin| loss(wire, Kelvin(skin), around) - heat_at(skin));
    let (conductor, heat, out) = (Kelvin(inside(skin)), heat_at(skin), loss(wire, Kelvin(skin), around));
    if conductor.0 >= CEILING.0 {
        return Err(Runaway { current: allowed(wire, CEILING, around).unwrap_or_default() });
    }
    let passing = heat.max(around.absorbed.0.abs()).max(f64::MIN_POSITIVE);
    let film = around.film(wire.outside, Kelvin(skin));
    Ok(Steady { conductor, skin: Kelvin(skin), heat: WattPerMetre(heat), film, balance: (heat - out).abs() / passing })
}

/// Current that heats the conductor to a limit; `None` where the surroundings alone heat it beyond, and where the metal has no resistance there.
///
/// # Validity  As [`settle`].
pub fn allowed(wire: &Wire, limit: Kelvin, around: &Surroundings) -> Option<Ampere> {
    if loss(wire, limit, around) < 0.0 {
        return None;
    }
    let jacket = jacket_resistance(wire.conductor, wire.outside, wire.jacket_k);
    let skin = root(around.coldest().0, limit.0, |skin| skin + jacket * loss(wire, Kelvin(skin), around) - limit.0);
    let ohms = joule_heat(Ampere(1.0), wire.r20, wire.alpha20, limit).0;
    (ohms > 0.0).then(|| Ampere((loss(wire, Kelvin(skin), around).max(0.0) / ohms).sqrt()))
}

/// Time in which a small departure from a steady state with a current shrinks to 1/e: C/(dQ/dT − I² R20 α20).
///
/// # Units     `capacity` of conductor and jacket per length (J/(m K)), `conductor` (K) → (s); infinite where nothing takes the heat
/// # Validity  Small departures; jacket and conductor warm as one, which holds where the jacket's drop is small against the rise.
/// # Source    Computed; 20 AWG thin wall in vacuum at 120 °C: about 85 s.
pub fn time_constant(wire: &Wire, capacity: JoulePerMetreKelvin, current: Ampere, conductor: Kelvin, around: &Surroundings) -> Second {
    let jacket = jacket_resistance(wire.conductor, wire.outside, wire.jacket_k);
    let skin = root(around.coldest().0, conductor.0, |skin| skin + jacket * loss(wire, Kelvin(skin), around) - conductor.0);
    let step = 0.05;
    let at_skin = (loss(wire, Kelvin(skin + step), around) - loss(wire, Kelvin(skin - step), around)) / (2.0 * step);
    let slope = at_skin / (1.0 + jacket * at_skin) - current.0 * current.0 * wire.r20.0 * wire.alpha20.0;
    Second(if slope > 0.0 { capacity.0 / slope } else { f64::INFINITY })
}

/// Highest rise of endless equal pulses as a share of the rise that the pulse would reach if it stayed: (1 − e^(−t/τ))/(1 − e^(−p/τ)).
///
/// # Units     pulse t, period p, time constant τ (s) → (1)
/// # Validity  A body of one temperature with a constant film and resistance.
/// # Source    Computed: first-order response.
pub fn pulse_peak(pulse: Second, period: Second, time_constant: Second) -> f64 {
    (-(pulse / time_constant)).exp_m1() / (-(period / time_constant)).exp_m1()
}

/// Slope of the loss of a wire to its surroundings against its conductor's temperature, less that of its heat (W/(m K)): the g of
/// [`end_length`](crate::fin::end_length).
pub fn lost_per_kelvin(wire: &Wire, current: Ampere, conductor: Kelvin, around: &Surroundings) -> WattPerMetreKelvin {
    let tau = time_constant(wire, JoulePerMetreKelvin(1.0), current, conductor, around);
    WattPerMetreKelvin(1.0 / tau.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::Gas;
    use crate::surroundings::Sink;
    use crate::{MetrePerSecond, Pascal};

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    /// 20 AWG with a thin wall, silver-plated: 0.038 and 0.050 in, 9.19 Ω/1000 ft.
    const THIN_20: Wire = Wire {
        conductor: Metre(0.038 * 0.0254),
        outside: Metre(0.050 * 0.0254),
        jacket_k: WattPerMetreKelvin(0.24),
        emittance: 0.85,
        r20: OhmPerMetre(9.19 / 304.8),
        alpha20: PerKelvin(0.00393),
    };

    fn celsius(t: f64) -> Kelvin {
        Kelvin::from_celsius(t)
    }

    /// Vacuum in closed form: with a skin of 470 K and walls of 343.15 K, q = ε σ π D (T⁴ − T₀⁴), the conductor is hotter by q ln(D/d)/(2π k), and
    /// I = √(q/R).
    #[test]
    fn vacuum_in_closed_form() {
        let walls = celsius(70.0);
        let q = 0.85 * 5.670374419e-8 * PI * THIN_20.outside.0 * (470f64.powi(4) - walls.0.powi(4));
        let conductor = 470.0 + q * (0.050f64 / 0.038).ln() / (2.0 * PI * 0.24);
        let ohms = 9.19 / 304.8 * (1.0 + 0.00393 * (conductor - 293.15));
        let steady = settle(&THIN_20, Ampere((q / ohms).sqrt()), &Surroundings::vacuum(walls)).expect("settles");
        near(steady.skin.0, 470.0, 1e-9);
        near(steady.conductor.0, conductor, 1e-9);
        assert!(steady.balance < 1e-9 && steady.film.is_none());
    }

    /// 20 AWG, 200 °C in 70 °C: 11.6 A at emittance 0.85, 2.8 A at 0.05; 8.0 A at 120 °C in 40 °C (computed balances of the facts on wire).
    #[test]
    fn vacuum_currents() {
        let vacuum = |t| Surroundings::vacuum(celsius(t));
        near(allowed(&THIN_20, celsius(200.0), &vacuum(70.0)).expect("cooler").0, 11.6, 0.01);
        near(allowed(&Wire { emittance: 0.05, ..THIN_20 }, celsius(200.0), &vacuum(70.0)).expect("cooler").0, 2.8, 0.02);
        near(allowed(&THIN_20, celsius(120.0), &vacuum(40.0)).expect("cooler").0, 8.0, 0.01);
        assert_eq!(allowed(&THIN_20, celsius(60.0), &vacuum(70.0)), None);
    }

    /// A current that is allowed to a limit settles there, in vacuum, air and with sun and panel.
    #[test]
    fn allowed_and_settled_agree() {
        let gas = Gas { temperature: celsius(30.0), pressure: Pascal(70e3), gravity: 1.0, speed: MetrePerSecond(0.0), wall_distance: None };
        let air = Surroundings::in_gas(gas, celsius(20.0));
        let panel = Surroundings {
            absorbed: WattPerMetre(0.8),
            sink: Some(Sink { conductance: WattPerMetreKelvin(0.02), temperature: celsius(10.0) }),
            ..Surroundings::vacuum(celsius(-20.0))
        };
        for around in [Surroundings::vacuum(celsius(20.0)), air, panel] {
            let current = allowed(&THIN_20, celsius(150.0), &around).expect("cooler");
            near(settle(&THIN_20, current, &around).expect("settles").conductor.0, 423.15, 1e-9);
        }
    }

    /// Still gas in closed form: emittance 0, 293.15 K walls and gas 50 mm from the axis: q = 2π k(T) (T − T₀)/ln(R/r), less the flight of molecules.
    #[test]
    fn still_gas_in_closed_form() {
        let gas = Gas {
            temperature: celsius(20.0),
            pressure: Pascal(101_325.0),
            gravity: 0.0,
            speed: MetrePerSecond(0.0),
            wall_distance: Some(Metre(0.05)),
        };
        let steady =
            settle(&Wire { emittance: 0.0, ..THIN_20 }, Ampere(4.0), &Surroundings::in_gas(gas, gas.temperature)).expect("settles");
        let k = crate::gas::conductivity(Kelvin(0.5 * (steady.skin.0 + 293.15))).0;
        near(steady.heat.0, 2.0 * PI * k * (steady.skin.0 - 293.15) / (0.1 / THIN_20.outside.0).ln(), 2e-4);
    }

    /// 20 AWG thin wall, 3.9 J/(m K) (copper 5.5 g/m · 0.385 + ETFE 0.93 g/m · 1.95): about 85 s at 120 °C in vacuum with 11.7 W/(m² K), and a
    /// length of 7 cm to the ends (facts on wire, computed).
    #[test]
    fn time_and_length() {
        let vacuum = Surroundings::vacuum(celsius(20.0));
        let tau = time_constant(&THIN_20, JoulePerMetreKelvin(3.9), Ampere(0.0), celsius(120.0), &vacuum);
        near(tau.0, 85.0, 0.03);
        let lost = lost_per_kelvin(&THIN_20, Ampere(0.0), celsius(120.0), &vacuum);
        near(crate::fin::end_length(WattPerMetreKelvin(398.0), THIN_20.conductor, lost).0, 0.07, 0.15);
        // The current's own rise with temperature slows it.
        assert!(time_constant(&THIN_20, JoulePerMetreKelvin(3.9), Ampere(8.0), celsius(120.0), &vacuum).0 > tau.0);
    }

    /// By hand for 100 s of 500 s at 85 s: (1 − e^−1.17647)/(1 − e^−5.88235) = 0.691632/0.997212 = 0.693566; a short period gives the duty.
    #[test]
    fn endless_pulses() {
        let tau = Second(85.0);
        near(pulse_peak(Second(100.0), Second(500.0), tau), 0.693566, 1e-5);
        near(pulse_peak(Second(0.02), Second(0.1), tau), 0.2, 1e-3);
    }

    /// 2000 A in a 20 AWG: no steady state; the current at which it sets in heats to the ceiling, a little less does not run away.
    #[test]
    fn runaway() {
        let vacuum = Surroundings::vacuum(celsius(20.0));
        let sets_in = settle(&THIN_20, Ampere(2000.0), &vacuum).expect_err("melts").current;
        let below = settle(&THIN_20, sets_in * 0.999, &vacuum).expect("settles");
        assert!(below.conductor.0 > CEILING.0 - 5.0, "{below:?}");
        assert!(settle(&THIN_20, sets_in * 1.001, &vacuum).is_err());
    }

    /// Without current in the sun: ε σ π D (T⁴ − T₀⁴) = what is absorbed, and none of it goes through the jacket.
    #[test]
    fn in_the_sun() {
        let steady = settle(&THIN_20, Ampere(0.0), &Surroundings { absorbed: WattPerMetre(1.5), ..Surroundings::vacuum(celsius(20.0)) });
        let fourth = 293.15f64.powi(4) + 1.5 / (0.85 * 5.670374419e-8 * PI * THIN_20.outside.0);
        near(steady.expect("settles").conductor.0, fourth.powf(0.25), 1e-9);
    }

    /// A jacket that holds heat back slows: with g = ε 4σT³ π D at the skin and the jacket's W, C (W + 1/g).
    #[test]
    fn a_thick_jacket_slows() {
        let thick = Wire { outside: Metre(0.05), ..THIN_20 };
        let tau = time_constant(&thick, JoulePerMetreKelvin(100.0), Ampere(0.0), celsius(20.0), &Surroundings::vacuum(celsius(20.0)));
        let g = 0.85 * 4.0 * 5.670374419e-8 * 293.15f64.powi(3) * PI * 0.05;
        near(tau.0, 100.0 * (jacket_resistance(thick.conductor, thick.outside, thick.jacket_k) + 1.0 / g), 1e-6);
    }

    /// Colder than the law of resistance reaches, and without current: as cold as the walls, no heat.
    #[test]
    fn idle() {
        let steady = settle(&THIN_20, Ampere(0.0), &Surroundings::vacuum(Kelvin(4.0))).expect("settles");
        assert_eq!((steady.conductor, steady.heat.0), (Kelvin(4.0), 0.0));
        assert_eq!(joule_heat(Ampere(3.0), OhmPerMetre(0.1), PerKelvin(0.00393), Kelvin(20.0)).0, 0.0);
    }
}
