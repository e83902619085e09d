//! Drawing lots: every choice of the scenario comes from one seed.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of lots fixed by its seed; the cipher's stream is the same on every machine.
#[derive(Debug)]
pub(crate) struct Lots(ChaCha8Rng);

impl Lots {
    /// The stream of this seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A stream of its own for one thing, so that adding a choice to one leaves the others alone.
    pub(crate) fn of(seed: u64, thing: &str, number: usize) -> Self {
        // FNV-1a over the name: any spreading of names over seeds will do.
        let hash = thing.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self::new(seed ^ hash ^ (number as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    /// A seed for something else.
    pub(crate) fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Even on 0 to 1, zero excluded.
    pub(crate) fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 1.0) / (1_u64 << 53) as f64
    }

    /// Even between two figures.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Yes with this chance.
    pub(crate) fn chance(&mut self, chance: f64) -> bool {
        self.uniform() <= chance
    }

    /// Mean 0, standard deviation 1, by Box and Muller (1958), cut at ±3.
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        let turn = std::f64::consts::TAU * self.uniform();
        (radius * turn.cos()).clamp(-3.0, 3.0)
    }

    /// Log-normal with this median; `spread` is the standard deviation of the logarithm.
    pub(crate) fn log_normal(&mut self, median: f64, spread: f64) -> f64 {
        median * (spread * self.normal()).exp()
    }

    /// A whole number from `low` to `high`, both possible.
    pub(crate) fn whole(&mut self, low: i64, high: i64) -> i64 {
        let span = (high - low + 1).max(1) as f64;
        low + ((self.uniform() * span) as i64).min(high - low)
    }

    /// One of these; `None` when there are none.
    pub(crate) fn pick<'a, T>(&mut self, things: &'a [T]) -> Option<&'a T> {
        let last = things.len().checked_sub(1)?;
        things.get(self.whole(0, last as i64) as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_numbers_reach_both_ends_and_no_further() {
        let mut lots = Lots::new(1);
        let drawn: Vec<i64> = (0..1000).map(|_| lots.whole(2, 4)).collect();
        for wanted in 2..=4 {
            assert!(drawn.contains(&wanted));
        }
        assert!(drawn.iter().all(|it| (2..=4).contains(it)));
    }

    #[test]
    fn streams_of_different_things_differ_and_each_is_fixed() {
        let first = |thing, number| Lots::of(7, thing, number).seed();
        assert_eq!(first("camera", 1), first("camera", 1));
        assert_ne!(first("camera", 1), first("camera", 2));
        assert_ne!(first("camera", 1), first("owner", 1));
    }

    #[test]
    fn a_log_normal_has_its_median() {
        let mut lots = Lots::new(3);
        let mut drawn: Vec<f64> = (0..4001).map(|_| lots.log_normal(40.0, 0.3)).collect();
        drawn.sort_by(f64::total_cmp);
        assert!((drawn[2000] - 40.0).abs() < 1.0, "{}", drawn[2000]);
    }
}
