//! Where the light stands still: bins of samples, and their sums under the poles' decays.

use std::ops::Range;

use nalgebra::DVector;

use super::local::Signal;
use super::poles::Poles;
use super::state::Entry;
use super::steady::{Steady, Walk};

/// Aimed length of one bin of the fit.
const BIN_S: f64 = 1e-3;
/// A stretch is cut into at least so many bins where its samples allow.
const LEAST_BINS: usize = 8;

/// Where the light stands still, cut into bins.
#[derive(Clone)]
pub(crate) struct Stretch {
    start: usize,
    dt: f64,
    pub(crate) bins: Vec<Bin>,
}

#[derive(Clone, Copy)]
pub(crate) struct Bin {
    /// Samples from the stretch's start.
    from: u32,
    count: u32,
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
    /// Sums over the bins.
    pub(crate) fn decayed(&self, poles: Poles, steady: &Steady) -> Decayed {
        let count = steady.count();
        let mut sums = Decayed {
            steady: [DVector::zeros(count), DVector::zeros(count)],
            mean: [0.0; 2],
            square: [[0.0; 2]; 2],
        };
        let (mut last, mut first) = (Decay::new(poles.last), Decay::new(poles.first));
        self.each(steady, |bin, row| {
            let from = f64::from(bin.from) * self.dt;
            let length = f64::from(bin.count) * self.dt;
            let fading = last.over(from, length);
            sums.add(0, bin.weight * fading, bin, row);
            sums.square[0][0] += bin.weight * fading * fading;
            if poles.is_two() {
                let across = poles.across(first.over(from, length), fading);
                sums.add(1, bin.weight * across, bin, row);
                sums.square[0][1] += bin.weight * fading * across;
                sums.square[1][1] += bin.weight * across * across;
            }
        });
        sums.square[1][0] = sums.square[0][1];
        sums
    }

    /// The mean square of what a fit leaves, the noise's part taken off; `entry` is the state at the
    /// start, `weights` those of the steady functions. `None` where there are no bins.
    pub(crate) fn left(
        &self,
        poles: Poles,
        steady: &Steady,
        weights: &[f64],
        entry: Entry,
    ) -> Option<f64> {
        let (mut last, mut first) = (Decay::new(poles.last), Decay::new(poles.first));
        let mut sum = 0.0;
        self.each(steady, |bin, row| {
            let from = f64::from(bin.from) * self.dt;
            let length = f64::from(bin.count) * self.dt;
            let fading = last.over(from, length);
            let mut model = fading * entry.coupled;
            if poles.is_two() {
                model += poles.across(first.over(from, length), fading) * entry.between;
            }
            model += row.iter().zip(weights).map(|(a, b)| a * b).sum::<f64>();
            sum += (bin.mean - model).powi(2) - 1.0 / bin.weight;
        });
        (!self.bins.is_empty()).then(|| (sum / self.bins.len() as f64).max(0.0))
    }

    /// Each bin with the steady functions' means in it: computed again each time, as holding them for
    /// every shot of a long recording would take more than its samples.
    pub(crate) fn each(&self, steady: &Steady, mut see: impl FnMut(&Bin, &[f64])) {
        let mut walk: Option<(u32, u32, Walk)> = None;
        for bin in &self.bins {
            let goes_on = |it: &(u32, u32, Walk)| it.0 == bin.from && it.1 == bin.count;
            let (_, _, mut here) = walk.take().filter(goes_on).unwrap_or_else(|| {
                let from = self.start + bin.from as usize;
                (0, 0, steady.walk(from, bin.count as usize))
            });
            see(bin, here.values());
            here.step();
            walk = Some((bin.from + bin.count, bin.count, here));
        }
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

    /// Over the bin of so many seconds that begins so many after the stretch.
    fn over(&mut self, from: f64, length: f64) -> f64 {
        if (length - self.length).abs() > 1e-9 * length {
            self.length = length;
            self.mean = mean_decay(self.omega * length);
            self.fading = (-self.omega * length).exp();
        }
        if (from - self.at).abs() > 1e-9 * self.length {
            self.decay = (-self.omega * from).exp();
        }
        let mean = self.decay * self.mean;
        self.decay *= self.fading;
        self.at = from + self.length;
        mean
    }
}

/// Seconds of a bin of a stretch of so many.
pub(crate) fn bin_of(seconds: f64) -> f64 {
    BIN_S.min(seconds / LEAST_BINS as f64)
}

/// Cuts a stretch into bins, whose noise is that of the signal and `flicker` together. They end where
/// blocks end, so that it makes no difference whether their samples are held. A bin with a sample
/// that is no number is left out.
pub(crate) fn cut(signal: &Signal<'_>, range: Range<usize>, flicker: f64) -> Stretch {
    let aimed = (BIN_S / signal.dt).round() as usize;
    let size = aimed.min(range.len() / LEAST_BINS).max(1);
    let unit = if size < signal.block() {
        1
    } else {
        signal.block()
    };
    let size = size / unit * unit;
    let mut bins = Vec::with_capacity(range.len() / size + 2);
    let mut from = range.start;
    while from < range.end {
        let to = ((from + size) / unit * unit).min(range.end);
        let count = to - from;
        let mean = signal.mean(from..to);
        if mean.is_finite() {
            bins.push(Bin {
                from: (from - range.start) as u32,
                count: count as u32,
                mean,
                weight: 1.0 / (signal.noise.powi(2) / count as f64 + flicker * flicker),
            });
        }
        from = to;
    }
    Stretch {
        start: range.start,
        dt: signal.dt,
        bins,
    }
}

/// Mean of `e^-u` for u from 0 to `length`.
fn mean_decay(length: f64) -> f64 {
    if length < 1e-9 {
        1.0
    } else {
        -(-length).exp_m1() / length
    }
}
