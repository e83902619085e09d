//! Seeded Gaussian noise.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of Gaussian numbers fixed by its seed.
pub(crate) struct Gauss {
    stream: ChaCha8Rng,
    spare: Option<f64>,
}

impl Gauss {
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            stream: ChaCha8Rng::seed_from_u64(seed),
            spare: None,
        }
    }

    /// Even on 0 to 1, zero excluded.
    pub(crate) fn uniform(&mut self) -> f64 {
        ((self.stream.next_u64() >> 11) as f64 + 1.0) / (1_u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1, by Marsaglia's polar method.
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let scale = (-2.0 * s.ln() / s).sqrt();
                self.spare = Some(v * scale);
                return u * scale;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_noise_has_mean_zero_and_variance_one() {
        let mut gauss = Gauss::new(1);
        let values: Vec<f64> = (0..100_000).map(|_| gauss.normal()).collect();
        let mean = values.iter().sum::<f64>() / 1e5;
        let variance = values
            .iter()
            .map(|value| (value - mean).powi(2))
            .sum::<f64>()
            / 1e5;
        assert!(mean.abs() < 0.015, "{mean}");
        assert!((variance - 1.0).abs() < 0.02, "{variance}");
    }
}
