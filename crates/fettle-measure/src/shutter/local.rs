//! The model of one shot with its surroundings, through a coupling of one pole.
//!
//! With light `x`, recorded `y`, dark level and hum `Σ a_k g_k` and corner `ω`, the coupling obeys
//! `y' = x' - ω y`. Where the light stands still (before, fully open, after) `y` decays as `e^-ωt`;
//! across a flank from `a` to `b` it follows from integrating that `y(b) - y(a) = Δx - ω∫y dt`,
//! whatever the flank's form. So, given `ω`, everything but the flanks is linear in the dark level,
//! its slope, the hum, the remains of the shot before and the fully open level `G`, and is fitted by
//! least squares; the flanks enter through their integrals alone. Integrating the whole shot back
//! instead would add up the chain's low-frequency noise.

use std::f64::consts::TAU;
use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::expose::Light;
use super::hum::Hum;

/// Aimed length of one bin of the fit.
const BIN_S: f64 = 1e-3;
/// A stretch is cut into at least so many bins where its samples allow.
const LEAST_BINS: usize = 8;

/// A channel's samples, sign and zero put right.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Signal<'a> {
    pub(crate) samples: &'a [f32],
    pub(crate) dt: f64,
    pub(crate) sign: f64,
    pub(crate) zero: f64,
    /// Standard deviation of white noise and quantisation together.
    pub(crate) noise: f64,
    /// The part of it that comes from the steps of the samples.
    pub(crate) steps: f64,
}

impl Signal<'_> {
    pub(crate) fn at(&self, n: usize) -> f64 {
        self.samples
            .get(n)
            .map_or(0.0, |sample| self.sign * (f64::from(*sample) - self.zero))
    }
}

/// Sample ranges of a shot: dark, flank, open, flank, dark, each ending where the next begins.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Regions {
    pub(crate) before: usize,
    pub(crate) first: usize,
    pub(crate) open: usize,
    pub(crate) second: usize,
    pub(crate) after: usize,
    pub(crate) end: usize,
}

impl Regions {
    /// Whether there is a stretch fully open; otherwise `first` to `after` is one event.
    pub(crate) fn has_plateau(&self) -> bool {
        self.second > self.open
    }

    fn stretch(&self, part: Part) -> Range<usize> {
        match part {
            Part::Before => self.before..self.first,
            Part::Open => self.open..self.second,
            Part::After => self.after..self.end,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Part {
    Before,
    Open,
    After,
}

struct Bin {
    part: Part,
    /// From the stretch's start.
    from: f64,
    length: f64,
    mean: f64,
    weight: f64,
}

/// What does not depend on the corner, computed once.
pub(crate) struct Local {
    pub(crate) regions: Regions,
    dt: f64,
    noise: f64,
    waves: Vec<f64>,
    middle: f64,
    bins: Vec<Bin>,
    /// Values of the steady functions in each bin, row by row.
    steady: Vec<f64>,
    /// `∫y` over each flank.
    flanks: [f64; 2],
    /// `∫g_k` over each flank.
    steady_flanks: [Vec<f64>; 2],
    prior: Prior,
}

/// What is known before looking.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Prior {
    /// Standard deviation of the dark level's slope, in the signal's units a second.
    pub(crate) slope: f64,
    /// What may remain of the shot before: its greatest size when it ended, and how long before
    /// the window that was.
    pub(crate) remains: f64,
    pub(crate) since: f64,
}

/// A fit at one corner.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    pub(crate) omega: f64,
    /// Dark level, slope, hum, remains, and `G` when there is a plateau.
    pub(crate) params: DVector<f64>,
    /// Their covariance.
    pub(crate) covariance: DMatrix<f64>,
    pub(crate) chi2: f64,
    pub(crate) freedom: f64,
}

impl Local {
    pub(crate) fn new(
        signal: &Signal<'_>,
        regions: Regions,
        hum: Option<&Hum>,
        prior: Prior,
    ) -> Self {
        let waves = hum.map_or_else(Vec::new, |hum| {
            hum.harmonics
                .iter()
                .map(|k| TAU * hum.hz * *k as f64)
                .collect()
        });
        let mut local = Self {
            dt: signal.dt,
            noise: signal.noise,
            waves,
            middle: 0.5 * (regions.first + regions.after) as f64 * signal.dt,
            bins: Vec::new(),
            steady: Vec::new(),
            flanks: [0.0; 2],
            steady_flanks: [Vec::new(), Vec::new()],
            prior,
            regions,
        };
        for part in [Part::Before, Part::Open, Part::After] {
            local.cut(signal, part);
        }
        let regions = &local.regions;
        let halves = if regions.has_plateau() {
            [regions.first..regions.open, regions.second..regions.after]
        } else {
            [regions.first..regions.after, regions.after..regions.after]
        };
        for (flank, range) in halves.into_iter().enumerate() {
            local.flanks[flank] = range.clone().map(|n| signal.at(n)).sum::<f64>() * local.dt;
            let mut sums = vec![0.0; local.steady_count()];
            for n in range {
                local.add_steady(n as f64 + 0.5, local.dt, &mut sums);
            }
            local.steady_flanks[flank] = sums;
        }
        local
    }

    /// The same shot with other ranges.
    pub(crate) fn with_regions(
        &self,
        signal: &Signal<'_>,
        regions: Regions,
        hum: Option<&Hum>,
    ) -> Self {
        Self::new(signal, regions, hum, self.prior)
    }

    /// Cuts a stretch into bins. A bin with a sample that is no number is left out.
    fn cut(&mut self, signal: &Signal<'_>, part: Part) {
        let range = self.regions.stretch(part);
        let aimed = (BIN_S / self.dt).round() as usize;
        let size = aimed.min(range.len() / LEAST_BINS).max(1);
        let mut from = range.start;
        while from < range.end {
            let to = (from + size).min(range.end);
            let count = (to - from) as f64;
            let mean = (from..to).map(|n| signal.at(n)).sum::<f64>() / count;
            if mean.is_finite() {
                self.bins.push(Bin {
                    part,
                    from: (from - range.start) as f64 * self.dt,
                    length: count * self.dt,
                    mean,
                    weight: count / (self.noise * self.noise),
                });
                let mut row = vec![0.0; self.steady_count()];
                self.add_steady_mean(from as f64, count, &mut row);
                self.steady.extend(row);
            }
            from = to;
        }
    }

    fn steady_count(&self) -> usize {
        2 + 2 * self.waves.len()
    }

    /// Dark level, slope and hum at a place (in samples), times `weight`, added to `sums`.
    fn add_steady(&self, place: f64, weight: f64, sums: &mut [f64]) {
        let time = place * self.dt - self.middle;
        sums[0] += weight;
        sums[1] += weight * time;
        for (wave, pair) in self.waves.iter().zip(sums[2..].chunks_exact_mut(2)) {
            let (sin, cos) = (wave * time).sin_cos();
            pair[0] += weight * cos;
            pair[1] += weight * sin;
        }
    }

    /// Their means over `count` samples from `from`.
    fn add_steady_mean(&self, from: f64, count: f64, row: &mut [f64]) {
        self.add_steady(from + 0.5 * count, 1.0, row);
        for (wave, pair) in self.waves.iter().zip(row[2..].chunks_exact_mut(2)) {
            let half = 0.5 * wave * self.dt;
            let dulled = (half * count).sin() / (count * half.sin());
            pair[0] *= dulled;
            pair[1] *= dulled;
        }
    }

    fn seconds(&self, range: Range<usize>) -> f64 {
        range.len() as f64 * self.dt
    }

    /// Least squares at one corner.
    pub(crate) fn fit(&self, omega: f64) -> Option<Fit> {
        let steady = self.steady_count();
        let plateau = self.regions.has_plateau();
        let count = steady + 1 + usize::from(plateau);
        let states = self.states(omega, count);
        let mut normal = DMatrix::<f64>::zeros(count, count);
        let mut right = DVector::<f64>::zeros(count);
        let mut total = 0.0;
        let mut row = vec![0.0; count];
        let mut last = (0.0, 0.0);
        for (bin, steady_row) in self.bins.iter().zip(self.steady.chunks_exact(steady)) {
            if (bin.length - last.0).abs() > 0.5 * self.dt {
                last = (bin.length, mean_decay(omega * bin.length));
            }
            let decay = (-omega * bin.from).exp() * last.1;
            let (state, known) = match bin.part {
                Part::Before => &states[0],
                Part::Open => &states[1],
                Part::After => &states[2],
            };
            for (k, value) in row.iter_mut().enumerate() {
                *value = decay * state[k] + if k < steady { steady_row[k] } else { 0.0 };
            }
            let left = bin.mean - decay * known;
            total += bin.weight * left * left;
            for i in 0..count {
                let weighted = bin.weight * row[i];
                right[i] += weighted * left;
                for (j, value) in row.iter().enumerate().take(i + 1) {
                    normal[(i, j)] += weighted * value;
                }
            }
        }
        normal[(1, 1)] += self.prior.slope.powi(-2);
        let remains = self.prior.remains * (-omega * self.prior.since).exp() + 1e-9;
        normal[(steady, steady)] += remains.powi(-2);
        solve(normal, &right, total, omega, self.bins.len())
    }

    /// The coupled signal at the start of each stretch: its dependence on the parameters, and the
    /// part already known from the flanks' integrals.
    fn states(&self, omega: f64, count: usize) -> [(Vec<f64>, f64); 3] {
        let steady = self.steady_count();
        let regions = &self.regions;
        let mut state = vec![0.0; count];
        state[steady] = 1.0;
        let before = (state.clone(), 0.0);
        let mut known = 0.0;
        scale(
            &mut state,
            &mut known,
            (-omega * self.seconds(regions.before..regions.first)).exp(),
        );
        self.cross(&mut state, &mut known, omega, 0);
        if !regions.has_plateau() {
            return [before, (state.clone(), known), (state, known)];
        }
        state[steady + 1] += 1.0;
        let open = (state.clone(), known);
        scale(
            &mut state,
            &mut known,
            (-omega * self.seconds(regions.open..regions.second)).exp(),
        );
        self.cross(&mut state, &mut known, omega, 1);
        state[steady + 1] -= 1.0;
        [before, open, (state, known)]
    }

    /// Across a flank the state changes by `-ω∫(y - Σ a g)`.
    fn cross(&self, state: &mut [f64], known: &mut f64, omega: f64, flank: usize) {
        *known -= omega * self.flanks[flank];
        for (value, integral) in state.iter_mut().zip(&self.steady_flanks[flank]) {
            *value += omega * integral;
        }
    }

    /// The coupled signal when the first flank begins, and when the second does.
    pub(crate) fn entry(&self, fit: &Fit) -> [f64; 2] {
        let states = self.states(fit.omega, fit.params.len());
        let value = |(state, known): &(Vec<f64>, f64)| {
            known
                + state
                    .iter()
                    .zip(fit.params.iter())
                    .map(|(a, b)| a * b)
                    .sum::<f64>()
        };
        let decay = |range: Range<usize>| (-fit.omega * self.seconds(range)).exp();
        [
            value(&states[0]) * decay(self.regions.before..self.regions.first),
            value(&states[1]) * decay(self.regions.open..self.regions.second),
        ]
    }

    /// The fully open level, when there is a plateau.
    pub(crate) fn level(&self, fit: &Fit) -> Option<f64> {
        self.regions
            .has_plateau()
            .then(|| fit.params[fit.params.len() - 1])
    }

    /// Its variance.
    pub(crate) fn level_variance(&self, fit: &Fit) -> Option<f64> {
        let last = fit.params.len() - 1;
        self.regions
            .has_plateau()
            .then(|| fit.covariance[(last, last)])
    }

    /// The light over `range`, which begins with coupled signal `entry` and light `light`:
    /// `x(t) = x(a) + y(t) - y(a) + ω∫y`.
    pub(crate) fn restore(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        range: Range<usize>,
        entry: f64,
        light: f64,
    ) -> Vec<f64> {
        let steady = self.steady_count();
        let mut sum = 0.0;
        let mut values = vec![0.0; steady];
        range
            .map(|n| {
                values.fill(0.0);
                self.add_steady(n as f64 + 0.5, 1.0, &mut values);
                let dark: f64 = values
                    .iter()
                    .zip(fit.params.iter())
                    .map(|(g, a)| g * a)
                    .sum();
                let coupled = signal.at(n) - dark;
                // Half of this sample lies after its middle.
                let here = sum + 0.5 * coupled;
                sum += coupled;
                light + coupled - entry + fit.omega * self.dt * here
            })
            .collect()
    }
}

impl Local {
    /// The light of the whole event in one piece. On the plateau it is the fitted level with the
    /// samples' departures from the model, so that nothing is integrated over long times.
    pub(crate) fn whole_light(&self, signal: &Signal<'_>, fit: &Fit, light: &Light) -> Vec<f64> {
        let Some(level) = self.level(fit) else {
            return light.first.clone();
        };
        let regions = &self.regions;
        let [_, closing] = self.entry(fit);
        let mut values = vec![0.0; self.steady_count()];
        let open = (regions.open..regions.second).map(|n| {
            values.fill(0.0);
            self.add_steady(n as f64 + 0.5, 1.0, &mut values);
            let dark: f64 = values
                .iter()
                .zip(fit.params.iter())
                .map(|(g, a)| g * a)
                .sum();
            let ahead = (regions.second - n) as f64 - 0.5;
            level + signal.at(n) - dark - closing * (fit.omega * ahead * self.dt).exp()
        });
        let mut whole = light.first.clone();
        whole.extend(open);
        whole.extend_from_slice(&light.second);
        whole
    }
}

fn scale(state: &mut [f64], known: &mut f64, factor: f64) {
    for value in state.iter_mut() {
        *value *= factor;
    }
    *known *= factor;
}

/// Mean of `e^-u` for u from 0 to `length`.
fn mean_decay(length: f64) -> f64 {
    if length < 1e-9 {
        1.0
    } else {
        -(-length).exp_m1() / length
    }
}

fn solve(
    mut normal: DMatrix<f64>,
    right: &DVector<f64>,
    total: f64,
    omega: f64,
    rows: usize,
) -> Option<Fit> {
    let count = right.len();
    let size: Vec<f64> = (0..count)
        .map(|i| normal[(i, i)].sqrt().max(1e-300))
        .collect();
    let mut scaled = DVector::zeros(count);
    for i in 0..count {
        scaled[i] = right[i] / size[i];
        for j in 0..=i {
            normal[(i, j)] /= size[i] * size[j];
            normal[(j, i)] = normal[(i, j)];
        }
        normal[(i, i)] += 1e-12;
    }
    let factor = normal.cholesky()?;
    let solution = factor.solve(&scaled);
    let chi2 = (total - scaled.dot(&solution)).max(0.0);
    let mut covariance = factor.inverse();
    let freedom = (rows as f64 - count as f64).max(1.0);
    let excess = (chi2 / freedom).max(1.0);
    let mut params = DVector::zeros(count);
    for i in 0..count {
        params[i] = solution[i] / size[i];
        for j in 0..count {
            covariance[(i, j)] *= excess / (size[i] * size[j]);
        }
    }
    Some(Fit {
        omega,
        params,
        covariance,
        chi2,
        freedom,
    })
}
