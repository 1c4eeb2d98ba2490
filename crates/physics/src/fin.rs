//! What the held ends of a wire change along it: its conductor as a fin, through stretches of different surroundings.

use crate::{Kelvin, Metre, Ratio, WattPerMetreKelvin};
use core::f64::consts::PI;

/// How well the metal of a conductor leads heat, by how well it leads current.
///
/// # Units     `conductivity`: share of 100 % IACS → (W/(m K))
/// # Validity  Copper, aluminium and their alloys near room temperature; aluminium of 61 % IACS comes out 2 % high.
/// # Source    Wiedemann and Franz: metals lead heat in proportion to current; copper 398 W/(m K) at 25 °C and 100 % IACS (from memory).
pub fn metal_conductivity(conductivity: Ratio) -> WattPerMetreKelvin {
    WattPerMetreKelvin(398.0 * conductivity.0)
}

/// Length over which the end of a wire is felt: √(k A/g), with g the heat per length and kelvin that the wire loses at its skin.
///
/// # Units     `conductivity` (W/(m K)) of the conductor's metal, `conductor` diameter (m), `lost` (W/(m K)) → (m)
/// # Source    Computed: the equation of a fin. 20 AWG at 120 °C in vacuum: 7 cm.
pub fn end_length(conductivity: WattPerMetreKelvin, conductor: Metre, lost: WattPerMetreKelvin) -> Metre {
    Metre((conductivity.0 * PI / 4.0 * conductor.0 * conductor.0 / lost.0).sqrt())
}

/// A stretch of a wire in one kind of surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Temperature that it has far from both of its ends.
    pub middle: Kelvin,
    /// Its [`end_length`].
    pub end_length: Metre,
    /// How long it is.
    pub length: Metre,
}

impl Stretch {
    /// Its length in lengths over which an end is felt.
    fn reach(&self) -> f64 {
        (self.length / self.end_length).max(1e-9)
    }

    /// Temperature at x from its first end: `middle` + [(T₁ − middle) sinh((l − x)/L) + (T₂ − middle) sinh(x/L)]/sinh(l/L).
    ///
    /// # Units     `ends` T₁, T₂ (K), `at` x (m) → (K)
    /// # Validity  Loss in proportion to the rise. With radiation alone and L taken at `middle`, the reach of a cold end is understated, so that its
    /// credit is on the hot side; that of a hot end is overstated, on the hot side too.
    /// # Source    Computed: the equation of a fin.
    pub fn along(&self, ends: [Kelvin; 2], at: Metre) -> Kelvin {
        let (l, x) = (self.reach(), at / self.end_length);
        // sinh(a)/sinh(l) = e^(a − l) (1 − e^(−2a))/(1 − e^(−2l)), which does not overflow.
        let part = |a: f64| (a - l).exp() * (-2.0 * a).exp_m1() / (-2.0 * l).exp_m1();
        Kelvin(self.middle.0 + (ends[0].0 - self.middle.0) * part(l - x) + (ends[1].0 - self.middle.0) * part(x))
    }

    /// Its hottest place: at an end, or where the slope of [`along`](Self::along) is nothing. The rise is a e^(−x/L) + b e^((x − l)/L) with
    /// a = (T₁ − m − (T₂ − m) e^(−l/L))/(1 − e^(−2l/L)) and b alike from the other end; where both are negative it is highest at x = (l + L ln(a/b))/2, and
    /// there −2 √(a b) e^(−l/2L).
    ///
    /// # Source    Computed.
    pub fn hottest(&self, ends: [Kelvin; 2]) -> Kelvin {
        let l = self.reach();
        let [first, second] = ends.map(|end| end.0 - self.middle.0);
        let part = |one: f64, other: f64| (one - other * (-l).exp()) / -(-2.0 * l).exp_m1();
        let (a, b) = (part(first, second), part(second, first));
        let within = a < 0.0 && b < 0.0 && (a / b).ln().abs() < l;
        let rise = if within { -2.0 * (a * b).sqrt() * (-0.5 * l).exp() } else { first.max(second) };
        Kelvin(self.middle.0 + rise)
    }

    /// What it takes per kelvin at one of its ends (first), and gives on from the other (second), as shares of k A.
    fn leads(&self) -> (f64, f64) {
        let l = self.reach();
        let inverse = 1.0 / self.end_length.0;
        (inverse / l.tanh(), inverse * (-2.0 * (-l).exp() / (-2.0 * l).exp_m1()))
    }
}

/// Temperatures at the ends of all stretches of one wire, first to last: what flows out of one flows into the next. An end that is not held
/// leads nothing away.
///
/// # Units     `ends` (K) → (K), one more than stretches
/// # Validity  As [`Stretch::along`]; one conductor throughout.
/// # Source    Computed: the equation of a fin with continuous temperature and flow; linear in the number of stretches.
pub fn between(stretches: &[Stretch], ends: [Option<Kelvin>; 2]) -> Vec<Kelvin> {
    let n = stretches.len() + 1;
    // Rows of a three-diagonal system: own · T + next · T(after) = right, once what comes before is taken out.
    let (mut own, mut next, mut right) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    for (i, stretch) in stretches.iter().enumerate() {
        let (here, there) = stretch.leads();
        let flow = (here - there) * stretch.middle.0;
        own[i] += here;
        own[i + 1] += here;
        next[i] = -there;
        right[i] += flow;
        right[i + 1] += flow;
    }
    for (at, held) in [(0, ends[0]), (n - 1, ends[1])] {
        if let Some(held) = held {
            (own[at], right[at]) = (1.0, held.0);
            if at == 0 {
                next[0] = 0.0;
            }
        }
    }
    for i in 1..n {
        // The last row of a held end takes nothing from the stretch before it.
        let before = if i == n - 1 && ends[1].is_some() { 0.0 } else { -stretches[i - 1].leads().1 };
        let share = before / own[i - 1];
        own[i] -= share * next[i - 1];
        right[i] -= share * right[i - 1];
    }
    let mut found = vec![Kelvin(0.0); n];
    for i in (0..n).rev() {
        let after = found.get(i + 1).map_or(0.0, |t| t.0);
        found[i] = Kelvin((right[i] - next[i] * after) / own[i]);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value} is not {expected} within {relative}");
    }

    fn celsius(t: f64) -> Kelvin {
        Kelvin::from_celsius(t)
    }

    /// Half way between equal ends the rise is 1 − 1/cosh(l/2L) of the middle's; far from the ends nothing is left of them.
    #[test]
    fn fin() {
        let (middle, end, end_length) = (celsius(120.0), celsius(20.0), Metre(0.07));
        let of = |length: f64| Stretch { middle, end_length, length: Metre(length) };
        let half = of(0.2).along([end, end], Metre(0.1));
        near(half.celsius(), 120.0 - 100.0 / (0.1f64 / 0.07).cosh(), 1e-9);
        near(of(0.2).hottest([end, end]).celsius(), half.celsius(), 1e-9);
        near(of(5.0).along([end, middle], Metre(0.07)).celsius(), 120.0 - 100.0 * (-1.0f64).exp(), 1e-9);
        assert_eq!(of(900.0).along([end, celsius(50.0)], Metre(450.0)), middle);
        near(of(1.0).along([end, celsius(50.0)], Metre(1.0)).celsius(), 50.0, 1e-9);
    }

    /// The hottest place against a search of ten thousand places: ends colder, hotter, one of each; no end colder than the middle cools beyond it.
    #[test]
    fn the_hottest_place() {
        for (first, second, length) in
            [(20.0, 50.0, 0.15), (20.0, 119.0, 0.15), (20.0, 119.99, 0.02), (150.0, 20.0, 0.3), (130.0, 140.0, 0.1), (20.0, 20.0, 40.0)]
        {
            let stretch = Stretch { middle: celsius(120.0), end_length: Metre(0.07), length: Metre(length) };
            let ends = [celsius(first), celsius(second)];
            let searched = (0..=10_000).map(|i| stretch.along(ends, Metre(length * f64::from(i) / 10_000.0)).0).fold(0.0, f64::max);
            assert!((stretch.hottest(ends).0 - searched).abs() < 1e-4, "{first} {second}: {:?} {searched}", stretch.hottest(ends));
        }
    }

    /// A wire cut into stretches that are alike is one wire; one end that leads nothing away is the middle of a wire twice as long, in closed form
    /// middle + (end − middle)/cosh(l/L).
    #[test]
    fn stretches_join() {
        let (middle, end_length) = (celsius(120.0), Metre(0.07));
        let of = |length: f64| Stretch { middle, end_length, length: Metre(length) };
        let (cold, hot) = (celsius(20.0), celsius(150.0));
        let joined = between(&[of(0.03), of(0.05), of(0.07)], [Some(cold), Some(hot)]);
        for (at, found) in [(0.0, joined[0]), (0.03, joined[1]), (0.08, joined[2]), (0.15, joined[3])] {
            near(found.0, of(0.15).along([cold, hot], Metre(at)).0, 1e-12);
        }
        let open = between(&[of(0.04), of(0.06)], [Some(cold), None]);
        near(open[2].celsius(), 120.0 - 100.0 / (0.1f64 / 0.07).cosh(), 1e-9);
        assert_eq!(between(&[of(0.04), of(0.06)], [None, Some(cold)])[0], open[2]);
    }

    /// Two long stretches of 100 °C and 40 °C with 5 cm and 10 cm: where they meet, by the flows on both sides, (100 − T)/5 = (T − 40)/10, T = 80 °C.
    #[test]
    fn where_two_stretches_meet() {
        let of = |t: f64, reach: f64| Stretch { middle: celsius(t), end_length: Metre(reach), length: Metre(3.0) };
        let found = between(&[of(100.0, 0.05), of(40.0, 0.1)], [None, None]);
        near(found[1].celsius(), 80.0, 1e-9);
        near(found[0].celsius(), 100.0, 1e-9);
    }

    /// Copper 398 W/(m K); an alloy of 85 % IACS 338.
    #[test]
    fn metals() {
        assert_eq!((metal_conductivity(Ratio(1.0)).0, metal_conductivity(Ratio(0.85)).0), (398.0, 338.3));
    }
}
