//! A potentiometer as the two parts of its track.

use crate::Ohm;

/// What is left of the track under a wiper that stands at its end, as a share of the whole: no branch is without resistance. Common
/// practice, no source; the reading moves by a millionth of full scale.
const END: f64 = 1e-6;

/// Parts of a track above and below its wiper.
///
/// # Units      `track` (Ω) end to end, `place` (1) of the wiper, from the lower end → (Ω) × 2
/// # Validity   `place` from 0 to 1; a straight track.
/// # Source     Divider rule (worked by hand): unloaded, the lower part has `place` of the voltage over the track.
pub fn potentiometer_parts(track: Ohm, place: f64) -> [Ohm; 2] {
    let place = place.clamp(END, 1.0 - END);
    [track * (1.0 - place), track * place]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_of_the_track() {
        assert_eq!(potentiometer_parts(Ohm(4000.0), 0.25), [Ohm(3000.0), Ohm(1000.0)]);
        assert!(potentiometer_parts(Ohm(4000.0), 0.0)[1].0 > 0.0);
        assert!(potentiometer_parts(Ohm(4000.0), 1.0)[0].0 > 0.0);
    }
}
