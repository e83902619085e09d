//! How late each sensor tells of the light.
//!
//! A lag common to all sensors moves nothing but the flash; where the sensors differ in it, the curtains
//! would seem to run faster or slower. Symmetric functionals cannot see a lag, but it rounds the foot
//! of a ramp and its shoulder unequally. So the flanks of all shots of a sensor are laid over
//! each other about their mean moments, and a form is fitted: a sensor between square and round,
//! passed by curtains that gather speed as the sensors together say, followed with a lag. What its own
//! halves do alike, whatever the sensor's form, does not look like a lag.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use nalgebra::{Matrix4, Vector4};

use super::passage::Passage;
use crate::shutter::channel::{Channel, Raw};
use crate::shutter::expose;

/// Grid steps of the form in half a sensor's width.
const STEPS: f64 = 80.0;
/// Bins of the flanks in one sample.
const BINS: f64 = 4.0;
/// Flanks reach so many ramps to both sides.
const REACH: f64 = 1.5;
/// Fewer bins than this show no form.
const LEAST_BINS: usize = 24;
/// Steps of Gauss and Newton.
const FIT_STEPS: usize = 14;
/// A small sensor's lag is about so long; in milliseconds.
const USUAL_MS: f64 = 0.05;
/// Sensors of one build differ in lag by about so much, where nothing shows it.
const APART_MS: f64 = 0.01;
/// So many scatters of the sensors are tried.
const SCATTERS: u32 = 64;
/// No lag is known better than this.
const LEAST_MS: f64 = 5e-4;

/// A sensor's lag and its standard uncertainty, in milliseconds.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub(super) struct Lag {
    pub(super) ms: f64,
    pub(super) deviation: f64,
}

/// How a curtain gathers speed where it passes the sensor, as a part of its speed a millisecond.
pub(super) type Gains = [f64; 2];

/// The flanks of one sensor over the first and the second curtain, laid over each other: milliseconds
/// from the mean moment, part covered or uncovered, how many samples.
#[derive(Default)]
pub(super) struct Flanks {
    bins: [BTreeMap<i64, [f64; 3]>; 2],
    ramps: Vec<f64>,
    /// White noise of one sample against the fully open level.
    noise: f64,
}

impl Flanks {
    /// Lays a shot's flanks over the others'.
    pub(super) fn add(&mut self, channel: &Channel<'_>, raw: &Raw, passage: &Passage, level: f64) {
        let Some((rise, fall)) = passage.ramps else {
            return;
        };
        let dt_ms = 1e3 * channel.signal.dt;
        self.noise = channel.signal.noise / level;
        self.ramps.push(0.5 * (rise + fall) * dt_ms);
        let regions = &raw.local.regions;
        let signal = &channel.signal;
        let main = expose::before_bounce(&raw.light.second, level, signal.noise, signal.dt);
        let opening = raw.light.first.iter().map(|light| light / level);
        let closing = main.iter().map(|light| 1.0 - light / level);
        let from_first = regions.first as f64 + 0.5 - passage.first;
        let from_second = regions.second as f64 + 0.5 - passage.second;
        self.lay(0, opening, from_first, REACH * rise, dt_ms);
        // A tail looks like a lag.
        if channel.tail.is_none() {
            self.lay(1, closing, from_second, REACH * fall, dt_ms);
        }
    }

    fn lay(
        &mut self,
        curtain: usize,
        values: impl Iterator<Item = f64>,
        from: f64,
        reach: f64,
        dt_ms: f64,
    ) {
        for (i, value) in values.enumerate() {
            let place = from + i as f64;
            if place.abs() <= reach && value.is_finite() {
                let bin = self.bins[curtain]
                    .entry((place * BINS).floor() as i64)
                    .or_default();
                bin[0] += place * dt_ms;
                bin[1] += value;
                bin[2] += 1.0;
            }
        }
    }

    /// The lag that fits best; `None` where the flanks are too few.
    pub(super) fn lag(&self, gains: Gains) -> Option<Lag> {
        let [first, second] = self.bins.each_ref().map(BTreeMap::len);
        let few = first < LEAST_BINS || (1..LEAST_BINS).contains(&second);
        if few || self.noise <= 0.0 {
            return None;
        }
        let ramp = crate::shutter::overview::median(&self.ramps);
        let half = (ramp / 1.5).ln();
        let starts = [0.1, 0.9].map(|round| Vector4::new(half, half, round, 0.015));
        starts
            .into_iter()
            .filter_map(|start| self.fit(start, gains))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(lag, _)| lag)
    }

    fn fit(&self, start: Vector4<f64>, gains: Gains) -> Option<(Lag, f64)> {
        let mut at = start;
        let (mut cost, mut normal, mut right) = self.equations(&at, gains)?;
        let mut damping = 1e-3;
        for _ in 0..FIT_STEPS {
            let mut damped = normal;
            for i in 0..4 {
                damped[(i, i)] *= 1.0 + damping;
            }
            let step = damped.cholesky()?.solve(&right);
            let mut next = at + step;
            next[2] = next[2].clamp(0.0, 1.0);
            next[3] = next[3].max(0.0);
            let gained = self.equations(&next, gains).filter(|it| it.0 < cost);
            let Some(better) = gained else {
                damping *= 10.0;
                continue;
            };
            let small = cost - better.0 < 1e-3;
            at = next;
            (cost, normal, right) = better;
            damping *= 0.2;
            if small {
                break;
            }
        }
        let count = self.bins.iter().map(BTreeMap::len).sum::<usize>() as f64;
        let excess = (cost / (count - 4.0).max(1.0)).max(1.0);
        let variance = normal.cholesky()?.inverse()[(3, 3)] * excess;
        let lag = Lag {
            ms: at[3],
            deviation: variance.sqrt(),
        };
        (lag.ms.is_finite() && lag.deviation.is_finite()).then_some((lag, cost))
    }

    /// Cost, normal matrix and right side about `at`: logarithms of half the time over the sensor for
    /// both curtains, roundness, lag.
    fn equations(
        &self,
        at: &Vector4<f64>,
        gains: Gains,
    ) -> Option<(f64, Matrix4<f64>, Vector4<f64>)> {
        let usual = USUAL_MS.powi(-2);
        let mut cost = at[3] * at[3] * usual;
        let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
        normal[(3, 3)] = usual;
        right[3] = -at[3] * usual;
        // Without closings nothing tells of the second curtain's time.
        if self.bins[1].is_empty() {
            normal[(1, 1)] = 1.0;
        }
        for (curtain, bins) in self.bins.iter().enumerate() {
            let form =
                |at: &Vector4<f64>| Form::new(at[curtain].exp(), gains[curtain], at[2], at[3]);
            let here = form(at)?;
            let moved = |i: usize, by: f64| {
                let mut moved = *at;
                moved[i] += by;
                form(&moved)
            };
            let beside = [
                (curtain, 1e-3, moved(curtain, 1e-3)?),
                (2, 1e-2, moved(2, 1e-2)?),
                (3, 1e-3, moved(3, 1e-3)?),
            ];
            for bin in bins.values() {
                let (time, value) = (bin[0] / bin[2], bin[1] / bin[2]);
                let weight = bin[2] / (self.noise * self.noise);
                let model = here.at(time);
                let mut row = Vector4::zeros();
                for (i, by, form) in &beside {
                    row[*i] = (form.at(time) - model) / by;
                }
                cost += weight * (value - model).powi(2);
                normal += weight * row * row.transpose();
                right += weight * (value - model) * row;
            }
        }
        cost.is_finite().then_some((cost, normal, right))
    }
}

/// A flank's form about its mean moment.
struct Form {
    from: f64,
    step: f64,
    values: Vec<f64>,
}

impl Form {
    /// `half` is the time over half the sensor, `lag` the sensor's, both in milliseconds.
    fn new(half: f64, gain: f64, round: f64, lag: f64) -> Option<Self> {
        let step = half / STEPS;
        let (from, to) = (-1.4 * half, 1.4 * half + 9.0 * lag);
        let count = ((to - from) / step).ceil();
        if !(1.0..20_000.0).contains(&count) {
            return None;
        }
        let open = |time: f64| {
            let z = (time / half * (1.0 + 0.5 * gain * time)).clamp(-1.0, 1.0);
            let disc = 0.5 + (z * (1.0 - z * z).sqrt() + z.asin()) / PI;
            round * disc + (1.0 - round) * (0.5 + 0.5 * z)
        };
        // The sensor follows light that changes evenly within a step.
        let h = step / lag.max(1e-3 * step);
        let decay = (-h).exp();
        let mean = -(-h).exp_m1() / h;
        let mut values = Vec::with_capacity(count as usize + 1);
        let (mut sensed, mut before) = (0.0, open(from));
        let mut area = 0.0;
        for i in 0..=count as usize {
            let light = open(from + i as f64 * step);
            sensed = sensed * decay + before * (mean - decay) + light * (1.0 - mean);
            before = light;
            area += sensed * step;
            values.push(sensed);
        }
        let last = from + count * step;
        let centre = last + 0.5 * step - area;
        Some(Self {
            from: from - centre,
            step,
            values,
        })
    }

    fn at(&self, time: f64) -> f64 {
        let place = (time - self.from) / self.step;
        if place <= 0.0 {
            return 0.0;
        }
        let i = place as usize;
        match self.values.get(i..i + 2) {
            Some(&[a, b]) => a + (place - i as f64) * (b - a),
            _ => 1.0,
        }
    }
}

/// What each sensor's own lag is worth beside the others': sensors of one build are alike, and each is
/// drawn to their mean as far as their scatter may be chance. Few sensors tell little of by how much
/// they differ, so every likely scatter counts by its posterior weight (A. Gelman, Bayesian Analysis
/// 1, 2006: a half-Cauchy prior).
pub(super) fn agreed(own: &[Option<Lag>]) -> Vec<Lag> {
    let known: Vec<Lag> = own.iter().copied().flatten().collect();
    if known.is_empty() {
        let unknown = Lag {
            ms: 0.0,
            deviation: APART_MS,
        };
        return vec![unknown; own.len()];
    }
    let steps = (0..SCATTERS).map(|i| (f64::from(i) + 0.5) / f64::from(SCATTERS));
    // Equal shares of the prior.
    let scatters = steps.map(|part| APART_MS * (0.5 * PI * part).tan());
    let alike: Vec<Alike> = scatters.map(|it| Alike::of(&known, it)).collect();
    let best = alike.iter().map(|it| it.likely).fold(f64::MIN, f64::max);
    let weights: Vec<f64> = alike.iter().map(|it| (it.likely - best).exp()).collect();
    let all: f64 = weights.iter().sum();
    let over = |of: &dyn Fn(&Alike) -> f64| {
        let weighed = alike
            .iter()
            .zip(&weights)
            .map(|(it, weight)| weight * of(it));
        weighed.sum::<f64>() / all
    };
    own.iter()
        .map(|own| {
            let ms = over(&|it| it.lag(*own).0);
            let variance = over(&|it| {
                let (lag, variance) = it.lag(*own);
                variance + (lag - ms).powi(2)
            });
            Lag {
                ms,
                deviation: variance.sqrt(),
            }
        })
        .collect()
}

/// The sensors' common lag, were they to scatter about it by so much.
struct Alike {
    /// Variance between sensors, in milliseconds squared.
    between: f64,
    mean: f64,
    variance: f64,
    /// Logarithm of the likelihood, but for a constant.
    likely: f64,
}

impl Alike {
    fn of(known: &[Lag], scatter: f64) -> Self {
        let between = scatter * scatter;
        let weight = |it: &Lag| 1.0 / (own_variance(it) + between);
        let all: f64 = known.iter().map(weight).sum();
        let mean = known.iter().map(|it| weight(it) * it.ms).sum::<f64>() / all;
        let likely = known
            .iter()
            .map(|it| weight(it).ln() - weight(it) * (it.ms - mean).powi(2));
        Self {
            between,
            mean,
            variance: 1.0 / all,
            likely: 0.5 * (likely.sum::<f64>() - all.ln()),
        }
    }

    /// A sensor's lag and its variance, given its own if that is known.
    fn lag(&self, own: Option<Lag>) -> (f64, f64) {
        let Some(own) = own else {
            return (self.mean, self.variance + self.between);
        };
        let variance = own_variance(&own);
        let share = self.between / (self.between + variance);
        let left = share * variance + (1.0 - share).powi(2) * self.variance;
        (share * own.ms + (1.0 - share) * self.mean, left)
    }
}

fn own_variance(lag: &Lag) -> f64 {
    lag.deviation.max(LEAST_MS).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;

    fn flanks(half: f64, gains: Gains, round: f64, lag: f64, noise: f64) -> Flanks {
        let mut gauss = Gauss::new(5);
        let mut flanks = Flanks {
            noise,
            ramps: vec![1.5 * half],
            ..Flanks::default()
        };
        for (curtain, gain) in gains.into_iter().enumerate() {
            let form = Form::new(half, gain, round, lag).unwrap();
            for shot in 0..20 {
                let from = -80.0 + f64::from(shot) / 20.0;
                let values = (0..160)
                    .map(|i| form.at((from + f64::from(i)) * 0.02) + noise * gauss.normal());
                let values: Vec<f64> = values.collect();
                flanks.lay(curtain, values.into_iter(), from, 80.0, 0.02);
            }
        }
        flanks
    }

    #[test]
    fn a_lag_is_found_whatever_the_sensor_and_however_the_curtains_gather_speed() {
        for (round, lag, gains) in [
            (0.0, 0.03, [0.05, 0.05]),
            (1.0, 0.03, [0.08, 0.04]),
            (0.5, 0.0, [0.0, 0.0]),
            (0.0, 0.06, [-0.03, 0.06]),
        ] {
            let got = flanks(0.5, gains, round, lag, 2e-3).lag(gains).unwrap();
            assert!(got.deviation < 0.004, "{got:?}");
            let off = (got.ms - lag).abs();
            assert!(off <= 4.0 * got.deviation + 5e-4, "{got:?} for {lag}");
        }
    }

    #[test]
    fn lags_that_may_differ_by_chance_are_drawn_together_and_those_that_do_not_stay_apart() {
        let own = [0.020, 0.023, 0.018].map(|ms| {
            Some(Lag {
                ms,
                deviation: 0.004,
            })
        });
        for (lag, own) in agreed(&own).into_iter().zip(own.into_iter().flatten()) {
            let apart = (lag.ms - 0.0203).abs();
            assert!(apart < 0.5 * (own.ms - 0.0203).abs() + 1e-4, "{lag:?}");
            // They may differ all the same: no better known than were they surely one, 0.0023.
            assert!((0.0024..0.004).contains(&lag.deviation), "{lag:?}");
        }
        let apart = [0.0, 0.05].map(|ms| {
            Some(Lag {
                ms,
                deviation: 0.001,
            })
        });
        let got = agreed(&apart);
        assert!(got[0].ms < 1e-3 && got[1].ms > 0.049, "{got:?}");
    }
}
