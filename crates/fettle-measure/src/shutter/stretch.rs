//! Where the light stands still: bins of samples, and their sums under the poles' decays.

use std::ops::Range;

use nalgebra::DVector;

use super::local::Signal;
use super::poles::Poles;
use super::steady::Steady;

/// Aimed length of one bin of the fit.
const BIN_S: f64 = 1e-3;
/// A stretch is cut into at least so many bins where its samples allow.
const LEAST_BINS: usize = 8;

/// Where the light stands still, cut into bins.
pub(crate) struct Stretch {
    pub(crate) bins: Vec<Bin>,
    /// The steady functions' means in each bin, row by row.
    pub(crate) steady: Vec<f64>,
}

#[derive(Clone, Copy)]
pub(crate) struct Bin {
    /// From the stretch's start.
    from: f64,
    length: f64,
    pub(crate) mean: f64,
    pub(crate) weight: f64,
}

/// Sums over a stretch with its decays as weights: how the coupled signal at its start fades, and
/// what the signal between the poles at its start makes of it.
pub(crate) struct Decayed {
    pub(crate) steady: [DVector<f64>; 2],
    pub(crate) mean: [f64; 2],
    pub(crate) square: [[f64; 2]; 2],
}

impl Stretch {
    pub(crate) fn decayed(&self, poles: Poles, count: usize) -> Decayed {
        let mut sums = Decayed {
            steady: [DVector::zeros(count), DVector::zeros(count)],
            mean: [0.0; 2],
            square: [[0.0; 2]; 2],
        };
        let (mut last, mut first) = (Decay::new(poles.last), Decay::new(poles.first));
        for (bin, row) in self.bins.iter().zip(self.steady.chunks_exact(count)) {
            let fading = last.over(bin);
            sums.add(0, bin.weight * fading, bin, row);
            sums.square[0][0] += bin.weight * fading * fading;
            if poles.is_two() {
                let across = poles.across(first.over(bin), fading);
                sums.add(1, bin.weight * across, bin, row);
                sums.square[0][1] += bin.weight * fading * across;
                sums.square[1][1] += bin.weight * across * across;
            }
        }
        sums.square[1][0] = sums.square[0][1];
        sums
    }
}

impl Decayed {
    fn add(&mut self, i: usize, weight: f64, bin: &Bin, row: &[f64]) {
        for (sum, value) in self.steady[i].iter_mut().zip(row) {
            *sum += weight * value;
        }
        self.mean[i] += weight * bin.mean;
    }
}

/// `e^-ωt` averaged over one bin after the other, with few exponentials.
struct Decay {
    omega: f64,
    length: f64,
    mean: f64,
    fading: f64,
    at: f64,
    decay: f64,
}

impl Decay {
    fn new(omega: f64) -> Self {
        Self {
            omega,
            length: 0.0,
            mean: 1.0,
            fading: 1.0,
            at: 0.0,
            decay: 1.0,
        }
    }

    fn over(&mut self, bin: &Bin) -> f64 {
        if (bin.length - self.length).abs() > 1e-9 * bin.length {
            self.length = bin.length;
            self.mean = mean_decay(self.omega * bin.length);
            self.fading = (-self.omega * bin.length).exp();
        }
        if (bin.from - self.at).abs() > 1e-9 * self.length {
            self.decay = (-self.omega * bin.from).exp();
        }
        let mean = self.decay * self.mean;
        self.decay *= self.fading;
        self.at = bin.from + self.length;
        mean
    }
}

/// Cuts a stretch into bins, whose noise is that of the signal and `flicker` together. A bin with a sample that is no number is left out.
pub(crate) fn cut(
    signal: &Signal<'_>,
    range: Range<usize>,
    steady: &Steady,
    flicker: f64,
) -> Stretch {
    let aimed = (BIN_S / signal.dt).round() as usize;
    let size = aimed.min(range.len() / LEAST_BINS).max(1);
    let mut walk = steady.walk(range.start, size);
    let mut stretch = Stretch {
        bins: Vec::new(),
        steady: Vec::new(),
    };
    for from in range.clone().step_by(size) {
        let count = (range.end - from).min(size);
        let mean = signal.over(from..from + count).sum::<f64>() / count as f64;
        if count < size {
            walk = steady.walk(from, count);
        }
        if mean.is_finite() {
            stretch.steady.extend_from_slice(walk.values());
            stretch.bins.push(Bin {
                from: (from - range.start) as f64 * signal.dt,
                length: count as f64 * signal.dt,
                mean,
                weight: 1.0 / (signal.noise.powi(2) / count as f64 + flicker * flicker),
            });
        }
        walk.step();
    }
    stretch
}

/// Mean of `e^-u` for u from 0 to `length`.
fn mean_decay(length: f64) -> f64 {
    if length < 1e-9 {
        1.0
    } else {
        -(-length).exp_m1() / length
    }
}
