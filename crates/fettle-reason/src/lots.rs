//! Lots that fall the same every time.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of lots fixed by its seed.
#[derive(Debug, Clone)]
pub(crate) struct Lots(ChaCha8Rng);

impl Lots {
    pub(crate) fn of(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Even on 0 to 1.
    pub(crate) fn next(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Even on `low` to `high`.
    #[cfg(test)]
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// A whole number below `count`; 0 for none.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.next() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// One of at least one.
    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }
}
