//! What is believed of the mechanism: a mixture of fits over what can be supposed of the play.
//!
//! Given the play, everything is Gaussian and exact ([`Fit`]); the play itself is sampled (a Rao-Blackwellised
//! particle set). The samples begin evenly over what is possible and are led to the posterior by tempering
//! (Del Moral, Doucet, Jasra, Sequential Monte Carlo samplers, J. R. Statist. Soc. B 68, 2006, §3), each step chosen
//! to keep a third of the effective samples and followed by moves along differences of the samples (ter Braak,
//! Differential evolution Markov chain, Statistics and Computing 16, 2006). The random stream is fixed, so that
//! equal states give equal answers.

use super::fit::Fit;
use super::play::Supposed;
use super::task::{ADJUSTERS, Task, Turns};
use crate::synth::Gauss;

/// Samples of the play.
const SAMPLES: usize = 128;
/// Samples for a rough evidence.
const ROUGH_SAMPLES: usize = 32;
/// Squares beyond their mean by so many standard deviations make the notes doubtful.
const DOUBTFUL: f64 = 2.0;
/// Squares beyond their mean by so many standard deviations are a misfit.
const MISFIT: f64 = 6.0;
/// A tempering step keeps this part of the effective samples.
const KEPT: f64 = 0.3;
/// Moves of every sample after each step.
const MOVES: usize = 2;
/// Weights as even as this are taken as equal.
const EVEN: f64 = 0.999;
const MOST_STEPS: usize = 30;
const SEED: u64 = 0x7452_494d;

/// The mixture: all fits have the same weight.
#[derive(Clone, Debug)]
pub(super) struct Belief {
    pub(super) fits: Vec<Fit>,
    /// Log of the density of all readings.
    pub(super) log_evidence: f64,
    /// How many times further the readings lie from the lines than their repeatability says, when that is beyond chance.
    pub(super) misfit: Option<f64>,
}

impl Belief {
    /// What the trials say under the task's suppositions.
    pub(super) fn new(task: &Task) -> Self {
        let loose = loose(task);
        let samples = if loose.is_empty() { 1 } else { SAMPLES };
        let mut belief = Self {
            fits: Vec::new(),
            log_evidence: 0.0,
            misfit: None,
        };
        let mut at: Vec<Supposed> = (0..samples).map(|n| even_sample(n, &loose)).collect();
        belief.fits = at.iter().map(|supposed| Fit::new(task, supposed)).collect();
        let mut gauss = Gauss::new(SEED);
        let mut tempered = 0.0;
        for _ in 0..MOST_STEPS {
            let step = next_step(&belief.fits, 1.0 - tempered);
            let weights = weights_of(&belief.fits, step);
            belief.log_evidence += log_mean(&belief.fits, step);
            tempered += step;
            let done = tempered > 1.0 - 1e-9;
            if done && effective(&weights) > EVEN * samples as f64 {
                break;
            }
            let chosen = resample(&weights);
            at = chosen.iter().map(|&n| at[n]).collect();
            belief.fits = chosen.iter().map(|&n| belief.fits[n].clone()).collect();
            if samples > 1 {
                for _ in 0..MOVES {
                    belief.wander(task, &mut at, &loose, tempered, &mut gauss);
                }
            }
            if done {
                break;
            }
        }
        belief
    }

    /// Whether the readings lie far from what is believed beforehand.
    pub(super) fn is_doubtful(&self, task: &Task) -> bool {
        let freedom = task.freedom();
        freedom > 0.0 && self.squares() > freedom + DOUBTFUL * (2.0 * freedom).sqrt()
    }

    /// How many times further the readings lie from the lines than their repeatability allows; `None` within chance.
    pub(super) fn excess(&self, task: &Task) -> Option<f64> {
        let freedom = task.freedom();
        let allowed = freedom + MISFIT * (2.0 * freedom).sqrt();
        (freedom > 0.0 && self.squares() > allowed).then(|| (self.squares() / freedom).sqrt())
    }

    /// Weighted squares of the readings, the mean over the fits.
    fn squares(&self) -> f64 {
        let sum: f64 = self.fits.iter().map(|fit| fit.squares).sum();
        sum / self.fits.len().max(1) as f64
    }

    /// [`Self::log_evidence`] roughly, from a few even samples.
    pub(super) fn rough_evidence(task: &Task) -> f64 {
        let loose = loose(task);
        let samples = if loose.is_empty() { 1 } else { ROUGH_SAMPLES };
        let fits: Vec<Fit> = (0..samples)
            .map(|n| Fit::new(task, &even_sample(n, &loose)))
            .collect();
        log_mean(&fits, 1.0)
    }

    /// One Metropolis step of every sample along the difference of two others.
    fn wander(
        &mut self,
        task: &Task,
        at: &mut [Supposed],
        loose: &[usize],
        tempered: f64,
        gauss: &mut Gauss,
    ) {
        let stride = 2.38 / (4.0 * loose.len() as f64).sqrt();
        let others = at.to_vec();
        let pick = |gauss: &mut Gauss| {
            let n = (gauss.uniform() * others.len() as f64) as usize;
            others[n.min(others.len() - 1)]
        };
        for (n, at) in at.iter_mut().enumerate() {
            let (a, b) = (pick(gauss), pick(gauss));
            let mut tried = *at;
            for &j in loose {
                let size = stride * (a.size[j] - b.size[j]) + 0.01 * gauss.normal();
                let start = stride * (a.start[j] - b.start[j]) + 0.01 * gauss.normal();
                tried.size[j] = reflect(tried.size[j] + size);
                tried.start[j] = reflect(tried.start[j] + start);
            }
            let fit = Fit::new(task, &tried);
            let gain = tempered * (fit.log_evidence - self.fits[n].log_evidence);
            if gauss.uniform().ln() < gain {
                *at = tried;
                self.fits[n] = fit;
            }
        }
    }
}

/// Adjusters with play that was or may be taken up.
fn loose(task: &Task) -> Vec<usize> {
    (0..ADJUSTERS).filter(|&j| task.backlash[j] > 0.0).collect()
}

/// The `n`th of a sequence that fills the unit cube evenly (Kronecker, with powers of the generalised golden ratio).
fn even_sample(n: usize, loose: &[usize]) -> Supposed {
    let dimensions = 2 * loose.len();
    let mut ratio = 1.5_f64;
    for _ in 0..40 {
        ratio = (1.0 + ratio).powf(1.0 / (dimensions as f64 + 1.0));
    }
    let value = |d: usize| {
        let step = ratio.powi(-(d as i32 + 1));
        (0.5 + (n as f64 + 1.0) * step).fract()
    };
    let mut supposed = Supposed::default();
    let fill = |values: &mut Turns, from: usize| {
        for (d, &j) in loose.iter().enumerate() {
            values[j] = value(from + d);
        }
    };
    fill(&mut supposed.start, 0);
    fill(&mut supposed.size, loose.len());
    supposed
}

/// Back into 0 to 1 by mirrors at both ends.
fn reflect(value: f64) -> f64 {
    let folded = value.rem_euclid(2.0);
    if folded > 1.0 { 2.0 - folded } else { folded }
}

/// The longest step of the temper, at most `left`, that keeps enough effective samples.
fn next_step(fits: &[Fit], left: f64) -> f64 {
    let enough = KEPT * fits.len() as f64;
    let keeps = |step: f64| effective(&weights_of(fits, step)) >= enough;
    if keeps(left) {
        return left;
    }
    let (mut short, mut long) = (0.0, left);
    for _ in 0..30 {
        let middle = 0.5 * (short + long);
        if keeps(middle) {
            short = middle;
        } else {
            long = middle;
        }
    }
    // Never none at all, however steep the evidence.
    short.max(1e-9)
}

fn greatest(fits: &[Fit]) -> f64 {
    fits.iter()
        .map(|fit| fit.log_evidence)
        .fold(f64::NEG_INFINITY, f64::max)
}

/// Weights `evidence^step`, summing to 1.
fn weights_of(fits: &[Fit], step: f64) -> Vec<f64> {
    let top = greatest(fits);
    let mut weights: Vec<f64> = fits
        .iter()
        .map(|fit| (step * (fit.log_evidence - top)).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    for weight in &mut weights {
        *weight /= sum;
    }
    weights
}

fn log_mean(fits: &[Fit], step: f64) -> f64 {
    let top = greatest(fits);
    let sum: f64 = fits
        .iter()
        .map(|fit| (step * (fit.log_evidence - top)).exp())
        .sum();
    step * top + (sum / fits.len() as f64).ln()
}

fn effective(weights: &[f64]) -> f64 {
    1.0 / weights.iter().map(|w| w * w).sum::<f64>()
}

/// As many samples as there are weights, systematically drawn.
fn resample(weights: &[f64]) -> Vec<usize> {
    let count = weights.len();
    let mut chosen = Vec::with_capacity(count);
    let (mut reached, mut n) = (weights[0], 0);
    for k in 0..count {
        let level = (k as f64 + 0.5) / count as f64;
        while reached < level && n + 1 < count {
            n += 1;
            reached += weights[n];
        }
        chosen.push(n);
    }
    chosen
}
