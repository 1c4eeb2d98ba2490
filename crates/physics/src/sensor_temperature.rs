//! Resistance thermometers and thermocouples: what they give at a temperature, and what a foreign alloy in a leg adds.

use crate::{Kelvin, Ohm, PerKelvin, TemperatureRise, Volt};

/// 0 °C.
pub const ICE_POINT: Kelvin = Kelvin(273.15);

/// Mean slope of an industrial platinum element between 0 and 100 °C, as a share of its resistance at 0 °C: a Pt100 grows by
/// 0.385 ohm/K (read in a maker's page on four-wire RTDs); IEC 60751 has 0.00385 per K (from memory).
pub const PLATINUM_ALPHA: PerKelvin = PerKelvin(0.00385);

/// Resistance of an RTD element by the mean slope of its standard.
///
/// # Units      `r0` (Ω) at 0 °C, `alpha` (1/K), `element` (K) → (Ω)
/// # Validity   The straight line through 0 and 100 °C; the curvature of the real element is the receiver's to take out.
/// # Source     IEC 60751, alpha = (R100 − R0)/(100 K · R0) (from memory).
pub fn rtd_ohms(r0: Ohm, alpha: PerKelvin, element: Kelvin) -> Ohm {
    r0 * (1.0 + alpha * (element - ICE_POINT))
}

/// Resistance of the joint in an RTD's head between a current lead and its sense lead: common practice, no source. It lies outside of what
/// is sensed, so that no reading depends on it.
pub const HEAD_JOINT: Ohm = Ohm(1e-3);

/// Letters of thermocouples that have a straight law here. Type B is missing on purpose: near 25 °C it gives nothing, so that a straight
/// line through 25 °C says nothing about it.
pub const COUPLE_LETTERS: &[&str] = &["K", "J", "T", "E", "N", "R", "S"];

/// A thermocouple by its letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Couple {
    /// Its letter.
    pub letter: &'static str,
    /// Alloy of the positive leg.
    pub positive: Alloy,
    /// Alloy of the negative leg.
    pub negative: Alloy,
}

impl Couple {
    /// The couple of a letter.
    pub fn of(letter: &str) -> Option<Couple> {
        let (letter, positive, negative) = match letter {
            "K" => ("K", "KP", "KN"),
            "J" => ("J", "JP", "JN"),
            "T" => ("T", "copper", "TN"),
            "E" => ("E", "EP", "EN"),
            "N" => ("N", "NP", "NN"),
            "R" => ("R", "RP", "RN"),
            "S" => ("S", "SP", "SN"),
            _ => return None,
        };
        Some(Couple { letter, positive: Alloy::of(positive)?, negative: Alloy::of(negative)? })
    }

    /// Volts per kelvin between its junctions, near 25 °C.
    pub fn volts_per_kelvin(self) -> f64 {
        self.positive.volts_per_kelvin() - self.negative.volts_per_kelvin()
    }

    /// EMF between a hot and a cold junction.
    ///
    /// # Units      `hot`, `cold` (K) → (V)
    /// # Validity   Linear, with the slope near 25 °C: 4.04 mV from 0 to 100 °C of type K, where the table has 4.10 mV (from memory).
    /// # Source     Slopes at 25 °C of the ITS-90 polynomials as in IEC 60584-1 (from memory).
    pub fn emf(self, hot: Kelvin, cold: Kelvin) -> Volt {
        Volt(self.volts_per_kelvin() * (hot - cold).0)
    }
}

/// Words of the metals that wires and contacts can be of, in the order of their table.
pub const ALLOY_WORDS: &[&str] = &[
    "copper",
    "gold",
    "silver",
    "brass",
    "beryllium-copper",
    "aluminium",
    "tin-lead",
    "nickel",
    "kovar",
    "KP",
    "KN",
    "JP",
    "JN",
    "TN",
    "EP",
    "EN",
    "NP",
    "NN",
    "RP",
    "RN",
    "SP",
    "SN",
];

/// Thermoelectric voltage against copper, in µV/K, in the order of the words.
///
/// Gold to kovar: the makers disagree on gold and silver (0.3 and 0.5) and the greater one stands here; kovar stands for Alloy 42 too. They
/// give the size alone: it is counted positive, which matters only where two of these metals, or one of them and a thermocouple alloy, meet
/// in one leg. Thermocouple alloys: such that each couple's difference is its slope.
///
/// # Source     Kidd, "Watch out for those thermoelectric voltages", Table 1, and Agilent 34420A manual, page 251 (read, gold to kovar).
/// # Source     Slopes at 25 °C of the ITS-90 polynomials, and copper against platinum (from memory, thermocouple alloys).
const MICROVOLTS: &[f64] = &[
    0.0, 0.5, 0.5, 3.0, 5.0, 5.0, 5.0, 10.0, 40.0, // metals of contacts and wires
    20.2, -20.2, // KP, KN
    11.0, -40.7, // JP, JN
    -40.7, // TN; TP is copper
    20.2, -40.7, // EP, EN
    8.1, -18.7, // NP, NN
    -0.9, -6.8, // RP, RN
    -0.8, -6.8, // SP, SN
];

/// A metal of a wire or contact, by its row in the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alloy(u8);

impl Alloy {
    /// Copper and what is counted as copper.
    pub const COPPER: Alloy = Alloy(0);

    /// The metal of a word.
    pub fn of(word: &str) -> Option<Alloy> {
        ALLOY_WORDS.iter().position(|w| *w == word).and_then(|row| u8::try_from(row).ok()).map(Alloy)
    }
    /// Its word.
    pub fn word(self) -> &'static str {
        ALLOY_WORDS[usize::from(self.0)]
    }
    /// Thermoelectric voltage against copper, volts per kelvin.
    pub fn volts_per_kelvin(self) -> f64 {
        MICROVOLTS[usize::from(self.0)] * 1e-6
    }
    /// Volts that a piece of this metal adds to a leg of another, for a difference of temperature along the piece.
    ///
    /// # Source     Law of intermediate metals: with both ends of the piece at one temperature it adds nothing.
    pub fn volts_in_leg(self, leg: Alloy, along: TemperatureRise) -> Volt {
        Volt((self.volts_per_kelvin() - leg.volts_per_kelvin()) * along.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_a_value() {
        assert_eq!(ALLOY_WORDS.len(), MICROVOLTS.len());
        assert_eq!(Alloy::of("kovar").map(Alloy::word), Some("kovar"));
        assert_eq!(Alloy::of("unobtainium"), None);
    }

    /// Slopes at 25 °C worked from the ITS-90 polynomials (from memory), µV/K: K 40.4, J 51.7, T 40.7, E 60.9, N 26.8, R 5.9, S 6.0.
    #[test]
    fn slopes_near_25_degrees() {
        for (letter, slope) in [("K", 40.4), ("J", 51.7), ("T", 40.7), ("E", 60.9), ("N", 26.8), ("R", 5.9), ("S", 6.0)] {
            let couple = Couple::of(letter).expect("a letter of the list");
            assert!((couple.volts_per_kelvin() * 1e6 - slope).abs() < 0.05, "{letter}");
        }
        assert_eq!(COUPLE_LETTERS.iter().filter(|l| Couple::of(l).is_some()).count(), 7);
        assert_eq!(Couple::of("B"), None);
    }

    /// A Pt100 grows by 0.385 ohm/K (read).
    #[test]
    fn pt100() {
        let at = |celsius: f64| rtd_ohms(Ohm(100.0), PLATINUM_ALPHA, Kelvin(273.15 + celsius)).0;
        assert_eq!(at(0.0), 100.0);
        assert!((at(100.0) - 138.5).abs() < 1e-9);
        assert!((at(26.0) - at(25.0) - 0.385).abs() < 1e-9);
    }

    /// Copper from terminal to terminal in both legs of a type K loses the whole difference along it; Kovar in both legs of a copper
    /// circuit adds nothing, in one leg 40 µV/K.
    #[test]
    fn foreign_pieces() {
        let k = Couple::of("K").expect("type K");
        let one = TemperatureRise(1.0);
        let both = Alloy::COPPER.volts_in_leg(k.positive, one).0 - Alloy::COPPER.volts_in_leg(k.negative, one).0;
        assert!((both + k.volts_per_kelvin()).abs() < 1e-12);
        let kovar = Alloy::of("kovar").expect("kovar");
        assert!((kovar.volts_in_leg(Alloy::COPPER, one).0 - 40e-6).abs() < 1e-12);
    }
}
