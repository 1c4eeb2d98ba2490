//! A small seeded generator of pseudo-random numbers: the same seed gives the same bytes on every machine, for ever.

/// SplitMix64.
///
/// # Source
/// Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014: constants from memory; nothing rests on them but
/// their spread.
#[derive(Clone, Debug)]
pub struct Random {
    state: u64,
}

impl Random {
    /// From a seed.
    pub fn new(seed: u64) -> Random {
        Random { state: seed }
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly in 0 ≤ x < 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly in low ≤ x < high.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly in 0 ≤ n < bound; 0 for a bound of 0.
    pub fn below(&mut self, bound: usize) -> usize {
        ((self.unit() * bound as f64) as usize).min(bound.saturating_sub(1))
    }

    /// True with a probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Puts items into a random order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_numbers_within_bounds() {
        let (mut a, mut b) = (Random::new(7), Random::new(7));
        for _ in 0..1000 {
            assert_eq!(a.bits(), b.bits());
            assert!((2.0..3.0).contains(&a.between(2.0, 3.0)) && b.between(2.0, 3.0) < 3.0);
            assert!(a.below(5) < 5 && b.below(5) < 5);
        }
        assert_eq!(a.below(0), 0);
    }

    #[test]
    fn shuffling_keeps_every_item() {
        let mut items: Vec<usize> = (0..100).collect();
        Random::new(1).shuffle(&mut items);
        assert_ne!(items, (0..100).collect::<Vec<_>>());
        items.sort_unstable();
        assert_eq!(items, (0..100).collect::<Vec<_>>());
    }
}
