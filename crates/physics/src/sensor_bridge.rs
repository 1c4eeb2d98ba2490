//! A resistive bridge sensor as four arms.

use crate::Ohm;

/// Arms of a full bridge at a reading: two grow, two shrink, so that V_out/V_excitation = sensitivity × reading.
///
/// Order: excitation+ to signal+, signal+ to excitation−, excitation+ to signal−, signal− to excitation−.
/// The output of arms R(1−δ), R(1+δ), R(1+δ), R(1−δ) is exactly δ V, so δ = sensitivity × reading.
///
/// # Units     `arm` (Ω) unstrained, `sensitivity` (V/V at full scale), `reading` (1) of full scale → (Ω) × 4
/// # Validity  |sensitivity × reading| < 1.
/// # Source    Divider rule (worked by hand): (1+δ)/2 − (1−δ)/2 = δ.
pub fn bridge_arms(arm: Ohm, sensitivity: f64, reading: f64) -> [Ohm; 4] {
    let delta = sensitivity * reading;
    [arm * (1.0 - delta), arm * (1.0 + delta), arm * (1.0 + delta), arm * (1.0 - delta)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A 350 Ω, 2 mV/V bridge at full scale on 10 V gives 20 mV; at zero it balances.
    #[test]
    fn output_at_full_scale_and_zero() {
        let output = |reading| {
            let [a, b, c, d] = bridge_arms(Ohm(350.0), 2e-3, reading).map(|r| r.0);
            10.0 * (b / (a + b) - d / (c + d))
        };
        assert!((output(1.0) - 20e-3).abs() < 1e-12);
        assert_eq!(output(0.0), 0.0);
    }
}
