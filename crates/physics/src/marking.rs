//! Where a wire is marked along its length.

use crate::Metre;

/// Shorter than this a wire needs no mark: 3 in.
pub const UNMARKED: Metre = Metre(3.0 * 0.0254);
/// Up to this a wire is marked once, near its middle: 7 in.
pub const MARKED_ONCE: Metre = Metre(7.0 * 0.0254);
/// Distance of a mark from the end: 3 in.
pub const FROM_END: Metre = Metre(3.0 * 0.0254);
/// Farthest that two marks are apart: 15 in.
pub const APART: Metre = Metre(15.0 * 0.0254);

/// Places of the marks along a wire: none under 3 in, one in the middle up to 7 in, else one at each end and between them so many that no two are
/// farther apart than 15 in.
///
/// # Units   (m) → (m from one end), rising
/// # Source  FAA AC 43.13-1B (1998, CHG 1 2001), par. 11-208, page 11-83 (read); 3 in from the end: figure 11-23, page 11-84 (read).
pub fn marks(length: Metre) -> Vec<Metre> {
    if length.0 < UNMARKED.0 {
        return Vec::new();
    }
    if length.0 <= MARKED_ONCE.0 {
        return vec![length * 0.5];
    }
    let between = length.0 - 2.0 * FROM_END.0;
    let spaces = (between / APART.0 - 1e-9).ceil().max(1.0);
    (0..=spaces as usize).map(|at| Metre(FROM_END.0 + between * at as f64 / spaces)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FAA AC 43.13-1B, par. 11-208 (read): every 15 in and at each end; none under 3 in; near the middle from 3 to 7 in.
    #[test]
    fn marks_of_wires() {
        let inches =
            |inches: f64| -> Vec<f64> { marks(Metre(inches * 0.0254)).iter().map(|at| (at.0 / 0.0254 * 1e6).round() / 1e6).collect() };
        assert_eq!(inches(2.99), Vec::<f64>::new());
        assert_eq!(inches(3.0), [1.5]);
        assert_eq!(inches(7.0), [3.5]);
        assert_eq!(inches(7.5), [3.0, 4.5]);
        assert_eq!(inches(21.0), [3.0, 18.0]);
        assert_eq!(inches(22.0), [3.0, 11.0, 19.0]);
        assert_eq!(inches(36.0), [3.0, 18.0, 33.0]);
    }
}
