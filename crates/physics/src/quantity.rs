//! Physical quantities: newtypes over `f64` in SI units. Multiplying two of them gives the right third or does not compile.

use core::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $unit:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// Symbol of the SI unit that the number is in.
            pub const UNIT: &'static str = $unit;
            /// The bare number, in SI.
            pub const fn si(self) -> f64 { self.0 }
            /// Magnitude.
            pub fn abs(self) -> Self { Self(self.0.abs()) }
        }
        impl From<$name> for f64 { fn from(value: $name) -> f64 { value.0 } }
        impl From<f64> for $name { fn from(value: f64) -> $name { $name(value) } }
        impl Mul<f64> for $name { type Output = $name; fn mul(self, k: f64) -> $name { $name(self.0 * k) } }
        impl Mul<$name> for f64 { type Output = $name; fn mul(self, q: $name) -> $name { $name(self * q.0) } }
        impl Div<f64> for $name { type Output = $name; fn div(self, k: f64) -> $name { $name(self.0 / k) } }
        impl Div<$name> for $name { type Output = f64; fn div(self, other: $name) -> f64 { self.0 / other.0 } }
    )*};
}

macro_rules! additive {
    ($($name:ident)*) => {$(
        impl Add for $name { type Output = $name; fn add(self, other: $name) -> $name { $name(self.0 + other.0) } }
        impl Sub for $name { type Output = $name; fn sub(self, other: $name) -> $name { $name(self.0 - other.0) } }
        impl AddAssign for $name { fn add_assign(&mut self, other: $name) { self.0 += other.0; } }
        impl SubAssign for $name { fn sub_assign(&mut self, other: $name) { self.0 -= other.0; } }
        impl Neg for $name { type Output = $name; fn neg(self) -> $name { $name(-self.0) } }
        impl core::iter::Sum for $name { fn sum<I: Iterator<Item = $name>>(items: I) -> $name { $name(items.map(|q| q.0).sum()) } }
    )*};
}

macro_rules! products {
    ($($a:ident * $b:ident = $c:ident;)*) => {$(
        impl Mul<$b> for $a { type Output = $c; fn mul(self, other: $b) -> $c { $c(self.0 * other.0) } }
        impl Mul<$a> for $b { type Output = $c; fn mul(self, other: $a) -> $c { $c(self.0 * other.0) } }
        impl Div<$a> for $c { type Output = $b; fn div(self, other: $a) -> $b { $b(self.0 / other.0) } }
        impl Div<$b> for $c { type Output = $a; fn div(self, other: $b) -> $a { $a(self.0 / other.0) } }
    )*};
}

quantities! {
    /// Electric potential difference.
    Volt "V";
    /// Electric current; its positive direction is stated where a value of this type is stored.
    Ampere "A";
    /// Resistance.
    Ohm "ohm";
    /// Conductance.
    Siemens "S";
    /// Power.
    Watt "W";
    /// Length.
    Metre "m";
    /// Area.
    SquareMetre "m2";
    /// Resistance per length.
    OhmPerMetre "ohm/m";
    /// Resistivity.
    OhmMetre "ohm m";
    /// Absolute temperature. A difference of two of them is a [`TemperatureRise`].
    Kelvin "K";
    /// Difference of two temperatures.
    TemperatureRise "K";
    /// Temperature coefficient.
    PerKelvin "1/K";
    /// Mass.
    Kilogram "kg";
    /// Mass per length.
    KilogramPerMetre "kg/m";
    /// Time.
    Second "s";
    /// Speed.
    MetrePerSecond "m/s";
    /// Heat per length.
    WattPerMetre "W/m";
    /// Conductivity; also conductance per length.
    WattPerMetreKelvin "W/(m K)";
    /// Film coefficient.
    WattPerSquareMetreKelvin "W/(m2 K)";
    /// Heat capacity per length.
    JoulePerMetreKelvin "J/(m K)";
    /// Specific heat.
    JoulePerKilogramKelvin "J/(kg K)";
    /// Electric charge.
    Coulomb "C";
    /// Energy.
    Joule "J";
    /// Capacitance.
    Farad "F";
    /// Inductance.
    Henry "H";
    /// Force.
    Newton "N";
    /// Stress or elastic modulus.
    Pascal "Pa";
    /// Bending stiffness EI.
    NewtonSquareMetre "N m2";
    /// Frequency.
    Hertz "Hz";
    /// Power on an area.
    WattPerSquareMetre "W/m2";
    /// A dimensionless share, 1 = all.
    Ratio "1";
}

additive! { WattPerMetre Volt Ampere Ohm Siemens Watt Metre SquareMetre OhmPerMetre TemperatureRise Kilogram Second Coulomb Joule Farad Newton NewtonSquareMetre Ratio }

products! {
    Ampere * Ohm = Volt;
    Volt * Ampere = Watt;
    Volt * Siemens = Ampere;
    OhmPerMetre * Metre = Ohm;
    KilogramPerMetre * Metre = Kilogram;
    OhmPerMetre * SquareMetre = OhmMetre;
    Watt * Second = Joule;
    Ampere * Second = Coulomb;
}

impl Mul<TemperatureRise> for PerKelvin {
    type Output = f64;
    fn mul(self, rise: TemperatureRise) -> f64 {
        self.0 * rise.0
    }
}
impl Sub for Kelvin {
    type Output = TemperatureRise;
    fn sub(self, other: Kelvin) -> TemperatureRise {
        TemperatureRise(self.0 - other.0)
    }
}
impl Add<TemperatureRise> for Kelvin {
    type Output = Kelvin;
    fn add(self, rise: TemperatureRise) -> Kelvin {
        Kelvin(self.0 + rise.0)
    }
}

impl Kelvin {
    /// From degrees Celsius.
    pub const fn from_celsius(celsius: f64) -> Kelvin {
        Kelvin(celsius + 273.15)
    }
    /// In degrees Celsius.
    pub const fn celsius(self) -> f64 {
        self.0 - 273.15
    }
}

impl Ohm {
    /// The conductance of this resistance; infinite for 0 ohm, so callers hold branches above zero.
    pub fn conductance(self) -> Siemens {
        Siemens(1.0 / self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_have_the_right_unit() {
        let drop: Volt = Ampere(20.0) * Ohm(0.05);
        assert_eq!(drop, Volt(1.0));
        let heat: Watt = drop * Ampere(20.0);
        assert_eq!(heat, Watt(20.0));
        let current: Ampere = heat / drop;
        assert_eq!(current, Ampere(20.0));
        assert_eq!(Ohm(4.0).conductance(), Siemens(0.25));
    }

    #[test]
    fn a_difference_of_temperatures_is_a_rise() {
        let rise = Kelvin::from_celsius(70.0) - Kelvin::from_celsius(20.0);
        assert!((rise.si() - 50.0).abs() < 1e-12);
        assert!(((Kelvin::from_celsius(20.0) + rise).celsius() - 70.0).abs() < 1e-12);
        assert!((PerKelvin(0.00393) * rise - 0.1965).abs() < 1e-12);
    }
}
