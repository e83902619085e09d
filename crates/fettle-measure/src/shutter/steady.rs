//! What lies under the light: the dark level, its slope and bend, and the waves of mains hum.

use std::f64::consts::TAU;

use super::hum::Hum;

/// Functions before the waves: level, slope, bend.
const LEVEL: usize = 3;

/// The steady functions of one shot: 1, time from its middle, its square, and cosine and sine of
/// each wave.
#[derive(Clone, Debug)]
pub(crate) struct Steady {
    waves: Vec<f64>,
    middle: f64,
    dt: f64,
}

impl Steady {
    /// `middle` is the time the slope is counted from, `dt` the seconds between samples.
    pub(crate) fn new(hum: Option<&Hum>, middle: f64, dt: f64) -> Self {
        let waves = hum.map_or_else(Vec::new, |hum| {
            hum.harmonics
                .iter()
                .map(|k| TAU * hum.hz * *k as f64)
                .collect()
        });
        Self { waves, middle, dt }
    }

    /// The same under another hum.
    pub(crate) fn under(&self, hum: Option<&Hum>) -> Self {
        Self::new(hum, self.middle, self.dt)
    }

    /// How many functions.
    pub(crate) fn count(&self) -> usize {
        LEVEL + 2 * self.waves.len()
    }

    /// Walks over runs of `size` samples from sample `from`, giving each run's means; with `size`
    /// 1 these are the values at the samples' middles.
    pub(crate) fn walk(&self, from: usize, size: usize) -> Walk {
        let count = size as f64;
        let time = (from as f64 + 0.5 * count) * self.dt - self.middle;
        // The mean of a square is the square of the mean and the variance within the run.
        let within = (count * count - 1.0) * self.dt * self.dt / 12.0;
        let mut values = vec![1.0, time, time * time + within];
        let mut turns = Vec::with_capacity(self.waves.len());
        for wave in &self.waves {
            let half = 0.5 * wave * self.dt;
            // The mean of a wave over equally spaced samples (Dirichlet's kernel).
            let dulled = (half * count).sin() / (count * half.sin());
            let (sin, cos) = (wave * time).sin_cos();
            values.extend([dulled * cos, dulled * sin]);
            turns.push((wave * count * self.dt).sin_cos());
        }
        Walk {
            values,
            turns,
            stride: count * self.dt,
            within,
        }
    }
}

/// A walk over neighbouring runs of samples.
#[derive(Clone, Debug)]
pub(crate) struct Walk {
    values: Vec<f64>,
    turns: Vec<(f64, f64)>,
    stride: f64,
    within: f64,
}

impl Walk {
    /// The functions here.
    pub(crate) fn values(&self) -> &[f64] {
        &self.values
    }

    /// Their sum weighted by `weights`.
    pub(crate) fn sum(&self, weights: &[f64]) -> f64 {
        self.values
            .iter()
            .zip(weights)
            .map(|(value, weight)| value * weight)
            .sum()
    }

    /// On to the next run: each wave turns by a fixed angle.
    pub(crate) fn step(&mut self) {
        self.values[1] += self.stride;
        self.values[2] = self.values[1] * self.values[1] + self.within;
        for (pair, (sin, cos)) in self.values[LEVEL..].chunks_exact_mut(2).zip(&self.turns) {
            let (x, y) = (pair[0], pair[1]);
            pair[0] = x * cos - y * sin;
            pair[1] = x * sin + y * cos;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_over_runs_are_the_means_of_the_samples() {
        let hum = Hum {
            hz: 50.0,
            harmonics: vec![1, 3],
            amplitude: 1.0,
        };
        let steady = Steady::new(Some(&hum), 0.3, 1.0 / 8000.0);
        let mut single = steady.walk(17, 1);
        let mut runs = steady.walk(17, 10);
        for _ in 0..200 {
            let mut mean = vec![0.0; steady.count()];
            for _ in 0..10 {
                for (sum, value) in mean.iter_mut().zip(single.values()) {
                    *sum += value / 10.0;
                }
                single.step();
            }
            for (got, want) in runs.values().iter().zip(&mean) {
                assert!((got - want).abs() < 1e-10, "{got} {want}");
            }
            runs.step();
        }
    }
}
