//! Strong mains hum, taken off the block means before anything is known of the shots.
//!
//! Hum of a tenth of the light is as steep as slow blades are, so that flanks drown in it. It is
//! fitted second by second to the differences of neighbouring half milliseconds, which hardly see
//! coupling and plateaus; what flanks are in them is left out as outlying (Beaton and Tukey's
//! bisquare weights). [`hum`](super::hum) measures what remains to be known for the shots themselves.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector, DVectorView};

use super::hum::{HARMONICS, NOMINAL_HZ};
use super::normal;
use super::overview::{Overview, median, thinned};
use crate::recording::Means;

/// Half-width of the differences.
const HALF_S: f64 = 0.5e-3;
/// The hum is taken to be even over so long.
const SEGMENT_S: f64 = 1.0;
/// Segments that show whether there is hum, and its frequency.
const LOOKED_AT: usize = 8;
/// Hum is let be while the differences' median is below this part of the steepest: flanks show.
const DROWNS: f64 = 0.006;
/// There is hum when without it the differences' median is below this part of what it was.
const STRONG: f64 = 0.7;
/// Mains lies this near its nominal frequency.
const WITHIN_HZ: f64 = 0.4;
/// Steps to each side on the way to the frequency, and how often they are halved.
const GRID: i32 = 4;
const HALVINGS: usize = 3;
/// Differences in a segment's fit: these are enough for six harmonics ...
const MOST_ROWS: usize = 4000;
/// ... and these for their frequency, which all segments looked at have in common.
const SOUGHT_ROWS: usize = 1200;
const ROUNDS: usize = 3;
/// Beyond so many standard deviations a difference has no weight.
const BISQUARE: f64 = 4.7;

/// The means with strong hum taken off; `None` where there is none.
pub(crate) fn taken_off(overview: &Overview<'_>) -> Option<Means> {
    let means = overview.means();
    let dt = overview.block_dt();
    let half = ((HALF_S / dt).round() as usize).max(1);
    let length = (SEGMENT_S / dt) as usize;
    if !drowns(means, half) {
        return None;
    }
    let count = (means.len() / length.max(1)).max(1);
    let part = |n: usize| {
        let end = if n + 1 == count {
            means.len()
        } else {
            (n + 1) * length
        };
        means.part(n * length..end).unwrap_or_default()
    };
    let looked_at: Vec<Segment> = (0..count)
        .step_by(count.div_ceil(LOOKED_AT))
        .map(|n| Segment::of(&part(n), half, SOUGHT_ROWS))
        .filter(Segment::is_long)
        .collect();
    let before: f64 = looked_at.iter().map(|it| it.spread).sum();
    let left = |hz: f64| -> f64 {
        let waves = Waves::new(hz, dt, half);
        looked_at.iter().map(|it| it.fit(&waves).1).sum()
    };
    let nominal = NOMINAL_HZ.map(|hz| (hz, left(hz)));
    let (nominal, rough) = nominal.into_iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    // Half a second from the middle, a frequency off by all that mains may be leaves a good part.
    if looked_at.is_empty() || rough > (1.0 - 0.5 * (1.0 - STRONG)) * before {
        return None;
    }
    let (mut best, mut step) = ((nominal, rough), WITHIN_HZ / f64::from(GRID));
    for _ in 0..=HALVINGS {
        let around = (-GRID..=GRID).map(|n| best.0 + f64::from(n) * step);
        let near = around.map(|hz| (hz, left(hz)));
        best = near.fold(best, |best, it| if it.1 < best.1 { it } else { best });
        step *= 0.4;
    }
    let (hz, left) = best;
    (left < STRONG * before).then(|| {
        let waves = Waves::new(hz, dt, half);
        let mut quiet = Means::default();
        for means in (0..count).map(part) {
            let segment = Segment::of(&means, half, MOST_ROWS);
            let weights = segment.is_long().then(|| segment.fit(&waves).0);
            waves.take_off(&means, weights.as_ref(), &mut quiet);
        }
        quiet
    })
}

/// The difference of the means of `half` blocks after a place and of as many before.
fn step(near: &[f32], half: usize) -> f64 {
    let sum = |part: &[f32]| part.iter().copied().map(f64::from).sum::<f64>();
    let (before, after) = near.split_at(half);
    (sum(after) - sum(before)) / half as f64
}

/// Whether what there is everywhere comes near the flanks.
fn drowns(means: &Means, half: usize) -> bool {
    let count = (means.len() + 1).saturating_sub(2 * half);
    let size = |from: usize| {
        let near = means.part(from..from + 2 * half);
        near.map_or(0.0, |near| step(&near, half).abs())
    };
    let steps = means.windows(2 * half, |near| step(near, half).abs());
    let steepest = steps.fold(0.0, f64::max);
    let some: Vec<f64> = thinned(0..count, count).into_iter().map(size).collect();
    median(&some) > DROWNS * steepest
}

/// A second or so: its differences, and how far from one to the next.
struct Segment {
    steps: Vec<f64>,
    first: usize,
    stride: usize,
    spread: f64,
}

impl Segment {
    /// With so many differences at most, or up to twice as many.
    fn of(means: &[f32], half: usize, rows: usize) -> Self {
        let stride = (means.len() / rows).max(1);
        let windows = means.windows(2 * half).step_by(stride);
        let steps: Vec<f64> = windows.map(|near| step(near, half)).collect();
        let sizes: Vec<f64> = steps.iter().map(|it| it.abs()).collect();
        Self {
            spread: median(&sizes),
            steps,
            first: half,
            stride,
        }
    }

    /// Whether hum can be told in it: some periods.
    const fn is_long(&self) -> bool {
        self.steps.len() >= 20 * HARMONICS
    }

    /// The waves' weights in the differences, and the median of what they leave.
    fn fit(&self, waves: &Waves) -> (DVector<f64>, f64) {
        let count = 2 * waves.gains.len();
        let rows: Vec<f64> = waves.rows(self.first, self.stride, self.steps.len());
        let mut weights = vec![1.0; self.steps.len()];
        let mut solution = DVector::zeros(count);
        let mut left = self.spread;
        for _ in 0..ROUNDS {
            let mut sums = DMatrix::<f64>::identity(count, count) * 1e-9;
            let mut right = DVector::zeros(count);
            let rows = rows.chunks_exact(count.max(1));
            for ((row, step), weight) in rows.clone().zip(&self.steps).zip(&weights) {
                if *weight > 0.0 {
                    normal::add(&mut sums, &mut right, row, *weight, *step);
                }
            }
            let Some(factor) = sums.cholesky() else {
                break;
            };
            solution = factor.solve(&right);
            let residuals: Vec<f64> = rows
                .zip(&self.steps)
                .map(|(row, step)| {
                    (step - DVectorView::from_slice(row, count).dot(&solution)).abs()
                })
                .collect();
            left = median(&residuals);
            let limit = BISQUARE * left / 0.6745;
            for (weight, residual) in weights.iter_mut().zip(&residuals) {
                let part = residual / limit.max(f64::MIN_POSITIVE);
                *weight = (1.0 - part * part).max(0.0).powi(2);
            }
        }
        (solution, left)
    }
}

/// The harmonics of one frequency, and what the differences make of each, as complex gains.
struct Waves {
    turns: Vec<f64>,
    gains: Vec<(f64, f64)>,
}

impl Waves {
    fn new(hz: f64, dt: f64, half: usize) -> Self {
        let turns: Vec<f64> = (1..=HARMONICS)
            .map(|k| TAU * hz * k as f64 * dt)
            .filter(|turn| *turn < 0.3 * TAU)
            .collect();
        let gain = |turn: &f64| {
            (0..half).fold((0.0, 0.0), |(re, im), j| {
                let (ahead, behind) = (turn * j as f64, turn * (j + 1) as f64);
                let part = half as f64;
                (
                    re + (ahead.cos() - behind.cos()) / part,
                    im + (ahead.sin() + behind.sin()) / part,
                )
            })
        };
        let gains = turns.iter().map(gain).collect();
        Self { turns, gains }
    }

    /// Cosine and sine of each wave at `count` places.
    fn rows(&self, first: usize, stride: usize, count: usize) -> Vec<f64> {
        let mut now: Vec<(f64, f64)> = self
            .turns
            .iter()
            .map(|turn| (turn * first as f64).sin_cos())
            .collect();
        let on: Vec<(f64, f64)> = self
            .turns
            .iter()
            .map(|turn| (turn * stride as f64).sin_cos())
            .collect();
        let mut rows = Vec::with_capacity(2 * count * now.len());
        for _ in 0..count {
            for ((sin, cos), (s, c)) in now.iter_mut().zip(&on) {
                rows.extend([*cos, *sin]);
                (*sin, *cos) = (*sin * c + *cos * s, *cos * c - *sin * s);
            }
        }
        rows
    }

    /// Appends a segment's means without the hum that has these weights in their differences.
    fn take_off(&self, means: &[f32], weights: Option<&DVector<f64>>, quiet: &mut Means) {
        let Some(weights) = weights else {
            quiet.extend(means.iter().copied());
            return;
        };
        // A wave `Re (a - ib) e^(iθn)` in the differences is that over the gain in the means.
        let in_means: Vec<f64> = self
            .gains
            .iter()
            .zip(weights.as_slice().chunks_exact(2))
            .flat_map(|((re, im), pair)| {
                let size = (re * re + im * im).max(f64::MIN_POSITIVE);
                let (a, b) = (pair[0], -pair[1]);
                [(a * re + b * im) / size, -(b * re - a * im) / size]
            })
            .collect();
        let rows = self.rows(0, 1, means.len());
        let hum = |row: &[f64]| row.iter().zip(&in_means).map(|(a, b)| a * b).sum::<f64>();
        let rows = rows.chunks_exact(in_means.len().max(1));
        quiet.extend(
            means
                .iter()
                .zip(rows)
                .map(|(mean, row)| mean - hum(row) as f32),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Recording;
    use crate::synth::Gauss;
    use crate::{Hertz, Seconds};

    /// Steps of light once a second under hum of this size; and without it.
    fn recordings(hum: f64) -> [Vec<f32>; 2] {
        let mut gauss = Gauss::new(5);
        let light: Vec<f64> = (0..32_000)
            .map(|n| {
                f64::from(u8::from(n % 8000 > 3000 && n % 8000 < 3100)) + 1e-3 * gauss.normal()
            })
            .collect();
        let wave = |n: usize| {
            let turns = TAU * 50.06 * n as f64 / 8000.0;
            hum * ((turns + 0.3).sin() + 0.4 * (3.0 * turns + 1.0).sin())
        };
        let with = light
            .iter()
            .enumerate()
            .map(|(n, it)| (it + wave(n)) as f32);
        [with.collect(), light.iter().map(|it| *it as f32).collect()]
    }

    fn quiet(samples: Vec<f32>) -> Option<Means> {
        let rate = Hertz::hz(8000.0);
        let recording = Recording::from_samples("made", rate, &[samples], None).unwrap();
        let dt = Seconds::s(1.0 / rate.to_hz()).to_s();
        taken_off(&Overview::of(recording.samples(), 0, dt))
    }

    #[test]
    fn strong_hum_is_taken_off_and_the_light_is_left() {
        let [with, without] = recordings(0.2);
        let got = quiet(with).unwrap();
        assert_eq!(got.len(), without.len());
        let worst = got
            .iter()
            .zip(&without)
            .map(|(got, want)| (got - want).abs())
            .fold(0.0, f32::max);
        assert!(worst < 0.01, "{worst}");
    }

    #[test]
    fn without_hum_nothing_is_taken_off() {
        let [_, without] = recordings(0.2);
        assert_eq!(quiet(without), None);
    }
}
