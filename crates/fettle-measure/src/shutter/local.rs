//! The model of one shot with its surroundings, through a coupling of one or two poles.
//!
//! With light `x`, recorded `y`, dark level and hum `Σ a_k g_k` and corner `ω`, the coupling obeys
//! `y' = x' - ω y`. Where the light stands still (before, fully open, after) `y` decays as `e^-ωt`;
//! across a flank from `a` to `b` it follows from integrating that `y(b) - y(a) = Δx - ω∫y dt`,
//! whatever the flank's form. So, given `ω`, everything but the flanks is linear in the dark level,
//! its slope, the hum, the remains of the shot before and the fully open level `G`, and is fitted by
//! least squares; the flanks enter through their integrals alone. What noise makes of these is fitted
//! too, with its known covariance: the decay after a flank tells its integral a second time.
//! Integrating the whole shot back instead would add up the chain's low-frequency noise.
//!
//! With two poles `a` and `b` the light passes `z' = x' - a z` first and `y' = z' - b y` then. Still
//! light leaves `z = z₀ e^-at` and `y = y₀ e^-bt - z₀ a (e^-at - e^-bt)/(b - a)`; across a flank
//! `∫z` follows from `z = z(a) - y(a) + y + b∫y`. One pole is the case `a = 0`.

use std::ops::Range;

use nalgebra::{DMatrix, DVector, DVectorView, Matrix3, Vector3};

use super::hum::Hum;
use super::overview::Overview;
use super::poles::Poles;
use super::state::{Entry, Level, State};
use super::steady::Steady;
use super::steps;
use super::stretch::{Stretch, cut};
use crate::Recording;
use crate::recording::Samples;

/// A channel's samples, sign and zero put right.
///
/// A long recording is not held whole. Read it through `over`, which gives the samples around
/// everything that steps (8 ms before to 48 ms after at least) and elsewhere, as on the dark and on
/// long plateaus, the mean of its block of some 1/8000 s for each sample; `samples.is_whole` tells which.
/// Means over longer stretches come from `mean`, which is fast and the same either way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Signal<'a> {
    pub(crate) samples: &'a Samples,
    /// The channel, counted from 0.
    pub(crate) channel: usize,
    pub(crate) dt: f64,
    pub(crate) sign: f64,
    pub(crate) zero: f64,
    /// Standard deviation of white noise and quantisation together.
    pub(crate) noise: f64,
    /// The part of it that comes from the steps of the samples.
    pub(crate) steps: f64,
    /// What the steps leave of a still level's mean, however long it is taken.
    pub(crate) still: f64,
}

impl<'a> Signal<'a> {
    /// A recording's channel, counted from 0, as `overview` shows it; `samples` are the recording's,
    /// clicks taken off where there are any.
    pub(crate) fn of(
        recording: &Recording,
        samples: &'a Samples,
        channel: usize,
        overview: &Overview<'_>,
        inverted: bool,
    ) -> Self {
        let least = f64::from(f32::EPSILON) * 8.0;
        let step = recording.step(channel).unwrap_or(0.0);
        let steps = step / 12.0_f64.sqrt();
        Self {
            still: steps::still(step, steps::noise_beneath(samples, channel, step)),
            samples,
            channel,
            dt: overview.dt,
            sign: if inverted { -1.0 } else { 1.0 },
            zero: overview.dark,
            noise: overview.track.noise.max(steps).max(least),
            steps,
        }
    }

    /// Between neighbouring values; 0 where it is not known.
    pub(crate) fn step(&self) -> f64 {
        12.0_f64.sqrt() * self.steps
    }

    /// The values over a range, as far as there are samples.
    pub(crate) fn over(&self, range: Range<usize>) -> impl Iterator<Item = f64> + use<'a> {
        let (sign, zero) = (self.sign, self.zero);
        let values = self.samples.over(self.channel, range);
        values.map(move |value| sign * (f64::from(value) - zero))
    }

    /// The mean over a range; no number where a sample is none or the range is empty.
    pub(crate) fn mean(&self, range: Range<usize>) -> f64 {
        self.sign * (self.samples.mean(self.channel, range) - self.zero)
    }

    /// The means of these blocks, none where the recording does not hold them all.
    fn means_of_blocks(&self, blocks: Range<usize>) -> Vec<f64> {
        let means = self.samples.track(self.channel).means.part(blocks);
        let means = means.unwrap_or_default();
        let mean = |it: &f32| self.sign * (f64::from(*it) - self.zero);
        means.iter().map(mean).collect()
    }

    /// Samples a block.
    pub(crate) fn block(&self) -> usize {
        self.samples.block()
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
    /// Whether every range has something in it; the plateau may be none.
    pub(crate) const fn is_ordered(&self) -> bool {
        let middle = if self.has_plateau() {
            self.first < self.open && self.second < self.after
        } else {
            self.first < self.after
        };
        middle && self.before < self.first && self.after < self.end
    }

    /// Whether there is a stretch fully open; otherwise `first` to `after` is one event.
    pub(crate) const fn has_plateau(&self) -> bool {
        self.second > self.open
    }

    /// With flanks that reach twice as far into the dark, as far as there is dark.
    pub(crate) fn wider(&self) -> Self {
        let [first, _] = self.flanks();
        let last = (self.last()..self.after).len();
        let latest = self.end.saturating_sub(1).max(self.after);
        Self {
            first: self.first.saturating_sub(first.len()).max(self.before + 1),
            after: (self.after + last).min(latest),
            ..self.clone()
        }
    }

    /// Where the range begins that holds the closing: the whole event when there is no plateau.
    pub(crate) const fn last(&self) -> usize {
        if self.has_plateau() {
            self.second
        } else {
            self.first
        }
    }

    /// The two flanks, the second empty without plateau.
    pub(crate) fn flanks(&self) -> [Range<usize>; 2] {
        if self.has_plateau() {
            [self.first..self.open, self.second..self.after]
        } else {
            [self.first..self.after, self.after..self.after]
        }
    }

    fn stretches(&self) -> [Range<usize>; 3] {
        [
            self.before..self.first,
            self.open..self.second,
            self.after..self.end,
        ]
    }
}

/// Sums over a flank's samples: of the values, of the values times how far ahead the end is, and
/// times half its square, as integrating once, twice and three times to the end gives.
#[derive(Clone, Default)]
struct Flank {
    length: usize,
    sum: f64,
    ahead: f64,
    further: f64,
    /// The same sums of what each parameter adds to the values: of the steady functions, and of
    /// independent noises of variance 1 that together scatter the sums as the samples' noise does.
    added_sum: Vec<f64>,
    added_ahead: Vec<f64>,
    added_further: Vec<f64>,
}

/// Sums of a flank.
const SUMS: usize = 3;

/// So many samples next to an end of a stretch.
#[derive(Clone, Copy, Debug)]
pub(crate) enum End {
    First(usize),
    Last(usize),
}

/// What does not depend on the corner, computed once.
#[derive(Clone)]
pub(crate) struct Local {
    pub(crate) regions: Regions,
    pub(crate) steady: Steady,
    dt: f64,
    stretches: [Stretch; 3],
    flanks: [Flank; 2],
    hum: Option<Hum>,
    prior: Prior,
    /// Least squares of the steady functions alone.
    normal: DMatrix<f64>,
    right: DVector<f64>,
    total: f64,
}

/// What is known before looking.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Prior {
    /// Standard deviation of the dark level's slope, in the signal's units a second.
    pub(crate) slope: f64,
    /// Standard deviation of its bend, in the signal's units a second squared.
    pub(crate) bend: f64,
    /// What may remain of the shot before: its greatest size when it ended, and how long before
    /// the window that was.
    pub(crate) remains: f64,
    pub(crate) since: f64,
    /// Root mean square of the lamp's flicker while fully open, which adds to the noise there.
    pub(crate) flicker: f64,
}

/// The dark level may drift by about this part of the light a second, and the drift change by this.
const DRIFT_A_SECOND: f64 = 0.02;
const BEND_A_SECOND: f64 = 0.005;

impl Prior {
    /// Of a light of this height, after one that ended `since` seconds before the window; no flicker.
    pub(crate) fn of(height: f64, since: f64) -> Self {
        Self {
            slope: DRIFT_A_SECOND * height,
            bend: BEND_A_SECOND * height,
            remains: 2.0 * height,
            since,
            flicker: 0.0,
        }
    }
}

/// A fit at one corner.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    pub(crate) poles: Poles,
    /// Dark level, slope, bend, hum, the noises of the flanks' sums, remains behind each pole, and `G` when
    /// there is a plateau.
    pub(crate) params: DVector<f64>,
    /// Their covariance.
    pub(crate) covariance: DMatrix<f64>,
    pub(crate) chi2: f64,
    pub(crate) freedom: f64,
}

/// `∫x dt` over the flanks, and how it depends on the parameters.
#[derive(Clone, Debug)]
pub(crate) struct Integral {
    pub(crate) value: f64,
    gradient: DVector<f64>,
    /// Where the noises of the flanks' sums stand in it.
    noises: Range<usize>,
}

/// A variance by where it comes from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Variance {
    /// The noise of the flanks' samples.
    pub(crate) flanks: f64,
    /// What is fitted around the flanks.
    pub(crate) around: f64,
}

impl Variance {
    pub(crate) fn whole(self) -> f64 {
        self.flanks + self.around
    }
}

impl Integral {
    /// The variance under the fit of the integral less `lit` times the fully open level: what is in doubt of
    /// both alike is in doubt of neither's ratio. 0 where the fit has no such level.
    pub(crate) fn variance(&self, fit: &Fit, lit: f64) -> Variance {
        let mut gradient = self.gradient.clone();
        let level = gradient.len() - 1;
        gradient[level] -= lit;
        let spread = &fit.covariance * &gradient;
        let whole = gradient.dot(&spread).max(0.0);
        // The covariance `C` of least squares is `C N C`, and each noise of a flank adds 1 to `N` alone.
        let noises = spread.rows(self.noises.start, self.noises.len());
        let excess = fit.excess();
        let flanks = noises.norm_squared() / (excess * excess);
        Variance {
            flanks,
            around: (whole - excess * flanks).max(0.0),
        }
    }
}

impl Fit {
    /// Of the residuals' variance over that of noise alone; at least 1.
    pub(crate) fn excess(&self) -> f64 {
        (self.chi2 / self.freedom).max(1.0)
    }
}

impl Local {
    pub(crate) fn new(
        signal: &Signal<'_>,
        regions: Regions,
        hum: Option<&Hum>,
        prior: Prior,
    ) -> Self {
        let [before, open, after] = regions.stretches();
        let stretches = [
            cut(signal, before, 0.0),
            cut(signal, open, prior.flicker),
            cut(signal, after, 0.0),
        ];
        let middle = 0.5 * (regions.first + regions.after) as f64 * signal.dt;
        let steady = Steady::new(hum, middle, signal.dt);
        let [first, second] = regions.flanks();
        let flanks = [
            Flank::of(signal, first, &steady, 0),
            Flank::of(signal, second, &steady, 1),
        ];
        Self {
            regions,
            steady,
            dt: signal.dt,
            stretches,
            flanks,
            hum: hum.cloned(),
            prior,
            normal: DMatrix::default(),
            right: DVector::default(),
            total: 0.0,
        }
        .summed()
    }

    /// With the least squares of the steady functions.
    fn summed(self) -> Self {
        let count = self.steady.count();
        let mut normal = DMatrix::zeros(count, count);
        let mut right = DVector::zeros(count);
        let mut total = 0.0;
        for stretch in &self.stretches {
            stretch.each(&self.steady, |bin, row| {
                let row = DVectorView::from_slice(row, count);
                normal.ger(bin.weight, &row, &row, 1.0);
                right.axpy(bin.weight * bin.mean, &row, 1.0);
                total += bin.weight * bin.mean * bin.mean;
            });
        }
        Self {
            normal,
            right,
            total,
            ..self
        }
    }

    /// The same shot with other ranges.
    pub(crate) fn with_regions(&self, signal: &Signal<'_>, regions: Regions) -> Self {
        Self::new(signal, regions, self.hum.as_ref(), self.prior)
    }

    /// The mains' frequency, where there is hum.
    pub(crate) fn mains_hz(&self) -> Option<f64> {
        self.hum.as_ref().map(|hum| hum.hz)
    }

    fn hum_at(&self, hz: f64) -> Option<Hum> {
        self.hum.as_ref().map(|hum| Hum { hz, ..hum.clone() })
    }

    /// The same shot with mains of another frequency.
    pub(crate) fn with_mains(&self, signal: &Signal<'_>, hz: f64) -> Self {
        let hum = self.hum_at(hz);
        Self::new(signal, self.regions.clone(), hum.as_ref(), self.prior)
    }

    /// To try mains of another frequency, little off: beside the flanks alone, as these tell nothing of it.
    pub(crate) fn trying_mains(&self, hz: f64) -> Self {
        let hum = self.hum_at(hz);
        Self {
            steady: self.steady.under(hum.as_ref()),
            hum,
            ..self.clone()
        }
        .summed()
    }

    pub(crate) const fn prior(&self) -> Prior {
        self.prior
    }

    /// The same shot under a lamp that flickers.
    pub(crate) fn with_flicker(&self, signal: &Signal<'_>, flicker: f64) -> Self {
        let prior = Prior {
            flicker,
            ..self.prior
        };
        Self::new(signal, self.regions.clone(), self.hum.as_ref(), prior)
    }

    /// How long it lasts with what is fitted beside it, in seconds.
    pub(crate) fn lasts(&self) -> f64 {
        self.seconds(self.regions.before..self.regions.end)
    }

    fn seconds(&self, range: Range<usize>) -> f64 {
        range.len() as f64 * self.dt
    }

    /// Least squares under given poles.
    ///
    /// Each row is the steady functions plus the stretch's decays times its state, so the sums need
    /// one pass with the decays alone.
    pub(crate) fn fit(&self, poles: Poles) -> Option<Fit> {
        let remains = self.noises().end;
        let count = remains + poles.count() + usize::from(self.regions.has_plateau());
        let states = self.states(poles, count);
        let mut normal = self.normal.clone().resize(count, count, 0.0);
        let mut right = self.right.clone().resize_vertically(count, 0.0);
        let mut total = self.total;
        let mut rows = 0;
        for (stretch, state) in self.stretches.iter().zip(&states) {
            let sums = stretch.decayed(poles, &self.steady);
            let levels = [&state.coupled, &state.between];
            let used = if poles.is_two() { 2 } else { 1 };
            for (i, level) in levels.iter().enumerate().take(used) {
                let with_steady = sums.steady[i].clone().resize_vertically(count, 0.0);
                normal.ger(1.0, &with_steady, &level.slope, 1.0);
                normal.ger(1.0, &level.slope, &with_steady, 1.0);
                right.axpy(-level.known, &with_steady, 1.0);
                right.axpy(sums.mean[i], &level.slope, 1.0);
                total -= 2.0 * level.known * sums.mean[i];
                for (j, other) in levels.iter().enumerate().take(used) {
                    let square = sums.square[i][j];
                    normal.ger(square, &level.slope, &other.slope, 1.0);
                    right.axpy(-other.known * square, &level.slope, 1.0);
                    total += level.known * other.known * square;
                }
            }
            rows += stretch.bins.len();
        }
        normal[(1, 1)] += self.prior.slope.powi(-2);
        normal[(2, 2)] += self.prior.bend.powi(-2);
        let left = self.prior.remains * (-poles.slowest() * self.prior.since).exp() + 1e-9;
        normal[(remains, remains)] += left.powi(-2);
        if poles.is_two() {
            normal[(remains + 1, remains + 1)] += left.powi(-2);
            // Two poles that are alike let what remains grow with time before it fades.
            let grown = left * (1.0 + poles.sum() * self.prior.since);
            normal[(remains, remains)] += grown.powi(-2) - left.powi(-2);
        }
        for i in self.noises() {
            normal[(i, i)] += 1.0;
        }
        solve(normal, &right, total, poles, rows + 2 * SUMS)
    }

    /// Where the noises of the flanks' sums stand among the parameters.
    fn noises(&self) -> Range<usize> {
        let steady = self.steady.count();
        steady..steady + 2 * SUMS
    }

    /// The state at the start of each stretch.
    fn states(&self, poles: Poles, count: usize) -> [State; 3] {
        let remains = self.noises().end;
        let [before, open, _] = self.regions.stretches();
        let mut state = State {
            coupled: Level::of_parameter(remains, count),
            between: if poles.is_two() {
                Level::of_parameter(remains + 1, count)
            } else {
                Level::zero(count)
            },
        };
        let start = state.clone();
        state.decay(poles.fading(self.seconds(before)));
        self.cross(&mut state, poles, 0);
        if !self.regions.has_plateau() {
            return [start, state.clone(), state];
        }
        state.step(count - 1, 1.0);
        let opened = state.clone();
        state.decay(poles.fading(self.seconds(open)));
        self.cross(&mut state, poles, 1);
        state.step(count - 1, -1.0);
        [start, opened, state]
    }

    /// Across a flank the coupled signal changes by the light's change, less `a∫z + b∫y`, and the one
    /// between the poles by the same less `a∫z`.
    fn cross(&self, state: &mut State, poles: Poles, flank: usize) {
        let flank = &self.flanks[flank];
        let (dt, length) = (self.dt, flank.length as f64 * self.dt);
        if poles.is_two() {
            let mut between = state.between.clone();
            between.add(-1.0, &state.coupled);
            let mut lost = Level::zero(between.slope.len());
            lost.add(length, &between);
            lost.known += dt * flank.sum + poles.last * dt * dt * flank.ahead;
            let steady = flank.added_sum.iter().zip(&flank.added_ahead);
            for (slope, (sum, ahead)) in lost.slope.iter_mut().zip(steady) {
                *slope -= dt * sum + poles.last * dt * dt * ahead;
            }
            state.coupled.add(-poles.first, &lost);
            state.between.add(-poles.first, &lost);
        }
        let coupled = &mut state.coupled;
        coupled.known -= poles.last * dt * flank.sum;
        for (slope, sum) in coupled.slope.iter_mut().zip(&flank.added_sum) {
            *slope += poles.last * dt * sum;
        }
    }

    /// The state where each flank begins.
    fn entry_states(&self, poles: Poles, count: usize) -> [State; 2] {
        let [start, opened, _] = self.states(poles, count);
        let [before, open, _] = self.regions.stretches();
        let decayed = |mut state: State, range| {
            state.decay(poles.fading(self.seconds(range)));
            state
        };
        [decayed(start, before), decayed(opened, open)]
    }

    /// The state where each flank begins, under the fit.
    pub(crate) fn entry(&self, fit: &Fit) -> [Entry; 2] {
        self.entry_states(fit.poles, fit.params.len())
            .map(|state| state.under(fit))
    }

    /// Root mean square of what the fit leaves, the noise's part taken off: in the stretches before,
    /// fully open and after.
    fn left(&self, fit: &Fit) -> [Option<f64>; 3] {
        let states = self.states(fit.poles, fit.params.len());
        let weights = &fit.params.as_slice()[..self.steady.count()];
        let mut stretches = self.stretches.iter().zip(&states);
        std::array::from_fn(|_| {
            let (stretch, state) = stretches.next()?;
            stretch.left(fit.poles, &self.steady, weights, state.under(fit))
        })
        .map(|square| square.map(f64::sqrt))
    }

    /// How far the recording is from the model, in the signal's units.
    pub(crate) fn astray(&self, fit: &Fit) -> f64 {
        let left = self.left(fit);
        left.into_iter().flatten().fold(0.0, f64::max)
    }

    /// How far the dark before and after is from where the model puts it.
    pub(crate) fn astray_in_the_dark(&self, fit: &Fit) -> f64 {
        let [before, _, after] = self.left(fit);
        before.into_iter().chain(after).fold(0.0, f64::max)
    }

    /// Seconds between the flanks.
    pub(crate) fn open(&self) -> f64 {
        self.seconds(self.regions.open..self.regions.second)
    }

    /// The fully open level and its variance, when there is a plateau.
    pub(crate) fn level(&self, fit: &Fit) -> Option<(f64, f64)> {
        let last = fit.params.len() - 1;
        let level = || (fit.params[last], fit.covariance[(last, last)]);
        self.regions.has_plateau().then(level)
    }

    /// `∫x dt` over the flanks in closed form, with
    /// `x(t) = x(a) + y(t) - y(a) + (a + b)∫y + a (z(a) - y(a)) t + a b ∫∫y`.
    pub(crate) fn integral(&self, fit: &Fit) -> Integral {
        let count = fit.params.len();
        let poles = fit.poles;
        let mut whole = Level::zero(count);
        let twice = poles.sum() * self.dt * self.dt;
        let thrice = poles.first * poles.last * self.dt.powi(3);
        for (number, (flank, entry)) in self
            .flanks
            .iter()
            .zip(self.entry_states(poles, count))
            .enumerate()
        {
            let length = flank.length as f64 * self.dt;
            whole.known += self.dt * flank.sum + twice * flank.ahead + thrice * flank.further;
            let leaning = 0.5 * poles.first * length * length;
            whole.add(-length - leaning, &entry.coupled);
            whole.add(leaning, &entry.between);
            let steady = flank.added_sum.iter().zip(&flank.added_ahead);
            let steady = steady.zip(&flank.added_further);
            for (value, ((sum, ahead), further)) in whole.slope.iter_mut().zip(steady) {
                *value -= self.dt * sum + twice * ahead + thrice * further;
            }
            if number == 1 && self.regions.has_plateau() {
                whole.slope[count - 1] += length;
            }
        }
        Integral {
            value: whole.known + whole.slope.dot(&fit.params),
            gradient: whole.slope,
            noises: self.noises(),
        }
    }

    /// The light over `range`, which begins with the state `entry` and light `light`.
    pub(crate) fn restore(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        range: Range<usize>,
        entry: Entry,
        light: f64,
    ) -> Vec<f64> {
        let poles = fit.poles;
        let mut walk = self.steady.walk(range.start, 1);
        let (mut once, mut twice) = (0.0, 0.0);
        let leaning = poles.first * (entry.between - entry.coupled);
        signal
            .over(range)
            .enumerate()
            .map(|(n, value)| {
                let coupled = value - walk.sum(fit.params.as_slice());
                walk.step();
                // Half of this sample lies after its middle.
                let here = once + 0.5 * coupled;
                let twice_here = twice + 0.5 * once + 0.125 * coupled;
                twice += once + 0.5 * coupled;
                once += coupled;
                let bent = poles.first * poles.last * self.dt * self.dt * twice_here;
                light + coupled - entry.coupled
                    + poles.sum() * self.dt * here
                    + leaning * (n as f64 + 0.5) * self.dt
                    + bent
            })
            .collect()
    }

    /// The light on the plateau as the fitted level with the samples' departures from the model, so
    /// that nothing is integrated over long times.
    pub(crate) fn plateau(&self, signal: &Signal<'_>, fit: &Fit) -> Vec<f64> {
        self.plateau_over(signal, fit, self.regions.open..self.regions.second)
    }

    /// The same over a part of the plateau.
    pub(crate) fn plateau_over(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        part: Range<usize>,
    ) -> Vec<f64> {
        let Some((level, _)) = self.level(fit) else {
            return Vec::new();
        };
        let departures = self.departures_over(signal, fit, 1, part);
        departures.into_iter().map(|it| level + it).collect()
    }

    /// How the first or last so many samples depart from the model where the light stands still: 0 before
    /// the shot, 1 fully open, 2 after it.
    pub(crate) fn departures(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        stretch: usize,
        near: End,
    ) -> Vec<f64> {
        let range = self.regions.stretches().into_iter().nth(stretch);
        range.map_or_else(Vec::new, |range| {
            let part = match near {
                End::First(count) => range.start..(range.start + count).min(range.end),
                End::Last(count) => range.end.saturating_sub(count).max(range.start)..range.end,
            };
            self.departures_over(signal, fit, stretch, part)
        })
    }

    /// The same of the means of the stretch's whole blocks.
    pub(crate) fn departures_of_blocks(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        stretch: usize,
    ) -> Vec<f64> {
        let size = signal.block();
        let states = self.states(fit.poles, fit.params.len());
        let ranges = self.regions.stretches();
        let Some((range, state)) = ranges.into_iter().zip(&states).nth(stretch) else {
            return Vec::new();
        };
        let blocks = range.start.div_ceil(size)..range.end / size;
        let from = blocks.start * size;
        let since = (from - range.start) as f64 + 0.5 * size as f64;
        let mut model = state.under(fit).after(fit.poles.fading(since * self.dt));
        let fading = fit.poles.fading(size as f64 * self.dt);
        let mut walk = self.steady.walk(from, size);
        let means = signal.means_of_blocks(blocks);
        let departs = means.into_iter().map(|mean| {
            let departs = mean - walk.sum(fit.params.as_slice()) - model.coupled;
            walk.step();
            model = model.after(fading);
            departs
        });
        departs.collect()
    }

    /// How the samples of a part of the stretch do.
    fn departures_over(
        &self,
        signal: &Signal<'_>,
        fit: &Fit,
        stretch: usize,
        part: Range<usize>,
    ) -> Vec<f64> {
        let ranges = self.regions.stretches();
        let states = self.states(fit.poles, fit.params.len());
        let Some((range, state)) = ranges.into_iter().zip(&states).nth(stretch) else {
            return Vec::new();
        };
        let since = part.start.saturating_sub(range.start) as f64 + 0.5;
        let mut model = state.under(fit).after(fit.poles.fading(since * self.dt));
        let fading = fit.poles.fading(self.dt);
        let mut walk = self.steady.walk(part.start, 1);
        let mut departures = Vec::with_capacity(part.len());
        departures.extend(signal.over(part).map(|value| {
            let departs = value - walk.sum(fit.params.as_slice()) - model.coupled;
            walk.step();
            model = model.after(fading);
            departs
        }));
        departures
    }
}

impl Flank {
    /// Over `range`; it is the shot's flank `number`, 0 or 1.
    fn of(signal: &Signal<'_>, range: Range<usize>, steady: &Steady, number: usize) -> Self {
        let length = range.len();
        let count = steady.count() + 2 * SUMS;
        let mut flank = Self {
            length,
            added_sum: vec![0.0; count],
            added_ahead: vec![0.0; count],
            added_further: vec![0.0; count],
            ..Self::default()
        };
        let mut products = Matrix3::zeros();
        let mut walk = steady.walk(range.start, 1);
        for (n, value) in signal.over(range).enumerate() {
            let ahead = (length - n) as f64 - 0.5;
            flank.sum += value;
            flank.ahead += value * ahead;
            let further = 0.5 * ahead * ahead + 1.0 / 24.0;
            flank.further += value * further;
            for (k, function) in walk.values().iter().enumerate() {
                flank.added_sum[k] += function;
                flank.added_ahead[k] += function * ahead;
                flank.added_further[k] += function * further;
            }
            let weights = Vector3::new(1.0, ahead, further);
            products += weights * weights.transpose();
            walk.step();
        }
        let noises = signal.noise * root(products);
        for (j, noise) in noises.column_iter().enumerate() {
            let k = steady.count() + number * SUMS + j;
            flank.added_sum[k] = noise[0];
            flank.added_ahead[k] = noise[1];
            flank.added_further[k] = noise[2];
        }
        flank
    }
}

/// The lower triangle whose product with its own transpose is `square`, which may be singular (Cholesky).
fn root(square: Matrix3<f64>) -> Matrix3<f64> {
    let mut root: Matrix3<f64> = Matrix3::zeros();
    for j in 0..3 {
        let left: Matrix3<f64> = square - root * root.transpose();
        // Two samples hold no more than two sums.
        if left[(j, j)] > 1e-9 * square[(j, j)] {
            let column = left.column(j) / left[(j, j)].sqrt();
            root.set_column(j, &column);
        }
    }
    root
}

/// Solves the normal equations, columns scaled to like size.
fn solve(
    mut normal: DMatrix<f64>,
    right: &DVector<f64>,
    total: f64,
    poles: Poles,
    rows: usize,
) -> Option<Fit> {
    let count = right.len();
    let size: Vec<f64> = (0..count)
        .map(|i| normal[(i, i)].sqrt().max(1e-300))
        .collect();
    let mut scaled = DVector::zeros(count);
    for i in 0..count {
        scaled[i] = right[i] / size[i];
        for j in 0..count {
            normal[(i, j)] /= size[i] * size[j];
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
        poles,
        params,
        covariance,
        chi2,
        freedom,
    })
}
