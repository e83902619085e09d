//! The sound's energy in short steps: where clicks ring, and where knocks and voices do.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use crate::Recording;

/// Length of a step.
pub(super) const STEP_S: f64 = 0.25e-3;
/// Steps of the short mean that onsets are looked for in: 1 ms.
pub(super) const SHORT: usize = 4;
/// Clicks ring above this; hum and most of a voice lie below.
const HIGH_FROM_HZ: f64 = 1200.0;
/// A knock on wood and a voice are strongest here.
const LOW_HZ: [f64; 2] = [120.0, 700.0];
/// Length of the blocks that the floor is taken in, in steps.
const FLOOR_BLOCK: usize = 2000;
/// Blocks before and after that the floor is taken over: a slow shutter's escapement must not
/// count as floor.
const FLOOR_REACH: usize = 3;
/// Filtered before a stretch so that the filter has settled.
const SETTLE_S: f64 = 5e-3;

/// A second-order section of a filter (direct form II transposed).
#[derive(Clone, Copy, Debug)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Section {
    /// Bilinear transform of the analogue prototype of quality `q` at `hz`.
    fn new(hz: f64, rate: f64, q: f64, high: bool) -> Self {
        let (sin, cos) = (TAU * hz / rate).sin_cos();
        let alpha = sin / (2.0 * q);
        let a0 = 1.0 + alpha;
        let side = if high {
            (1.0 + cos) / 2.0
        } else {
            (1.0 - cos) / 2.0
        };
        let middle = if high { -2.0 * side } else { 2.0 * side };
        Self {
            b: [side / a0, middle / a0, side / a0],
            a: [-2.0 * cos / a0, (1.0 - alpha) / a0],
            state: [0.0; 2],
        }
    }

    fn step(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// Butterworth high-pass of the fourth order.
fn high_pass(rate: f64) -> [Section; 2] {
    let hz = HIGH_FROM_HZ.min(0.2 * rate);
    [0.541_196_1, 1.306_563].map(|q| Section::new(hz, rate, q, true))
}

/// What knocks and voices are strongest in.
fn low_band(rate: f64) -> [Section; 2] {
    [
        Section::new(LOW_HZ[0].min(0.1 * rate), rate, FRAC_1_SQRT_2, true),
        Section::new(LOW_HZ[1].min(0.2 * rate), rate, FRAC_1_SQRT_2, false),
    ]
}

/// A sample within bounds; silence for what is no number.
fn number(sample: f32) -> f64 {
    if sample.is_finite() {
        f64::from(sample).clamp(-1e6, 1e6)
    } else {
        0.0
    }
}

/// One channel's sound.
pub(super) struct Bands<'a> {
    recording: &'a Recording,
    channel: usize,
    pub(super) rate: f64,
    /// Samples a step.
    step: usize,
    /// Mean square of each step above [`HIGH_FROM_HZ`]; no number where a long recording is not
    /// held whole.
    pub(super) high: Vec<f32>,
    /// Mean square of each step at [`LOW_HZ`].
    pub(super) low: Vec<f32>,
    /// The floor of the short mean of `high` in each block.
    floor: Vec<f64>,
}

impl<'a> Bands<'a> {
    /// Of a channel, counted from 0.
    pub(super) fn of(recording: &'a Recording, channel: usize) -> Self {
        let rate = recording.sample_rate().to_hz();
        let step = ((rate * STEP_S).round() as usize).max(1);
        let settle = (SETTLE_S * rate) as usize / step;
        let count = recording.length() / step;
        let mut high = Vec::with_capacity(count);
        let mut low = Vec::with_capacity(count);
        let mut filters = None;
        for range in (0..count).map(|n| n * step..(n + 1) * step) {
            if !recording.is_whole(range.clone()) {
                filters = None;
                high.push(f32::NAN);
                low.push(f32::NAN);
                continue;
            }
            let fresh = (high_pass(rate), low_band(rate), 0);
            let (above, below, since) = filters.get_or_insert(fresh);
            let (mut above_sum, mut below_sum) = (0.0, 0.0);
            for sample in recording.values(channel, range) {
                let x = number(sample);
                above_sum += above.iter_mut().fold(x, |x, it| it.step(x)).powi(2);
                below_sum += below.iter_mut().fold(x, |x, it| it.step(x)).powi(2);
            }
            *since += 1;
            let settled = *since > settle || high.len() < settle;
            let value = |sum: f64| {
                if settled {
                    (sum / step as f64) as f32
                } else {
                    f32::NAN
                }
            };
            high.push(value(above_sum));
            low.push(value(below_sum));
        }
        let least = recording
            .step(channel)
            .map_or(1e-14, |step| step * step / 12.0);
        let floor = floor(&high, least);
        Self {
            recording,
            channel,
            rate,
            step,
            high,
            low,
            floor,
        }
    }

    /// Seconds a step.
    pub(super) fn step_s(&self) -> f64 {
        self.step as f64 / self.rate
    }

    /// Steps in so many seconds.
    pub(super) fn steps(&self, seconds: f64) -> usize {
        (seconds / self.step_s()).round().max(0.0) as usize
    }

    /// The short mean that begins at a step.
    pub(super) fn short(&self, at: usize) -> f64 {
        let end = (at + SHORT).min(self.high.len());
        mean(self.high.get(at..end).unwrap_or_default())
    }

    /// The floor around a step.
    pub(super) fn floor_at(&self, step: usize) -> f64 {
        let block = (step / FLOOR_BLOCK).min(self.floor.len().saturating_sub(1));
        self.floor.get(block).copied().unwrap_or(f64::MAX)
    }

    /// Samples `from..to` above [`HIGH_FROM_HZ`].
    pub(super) fn filtered(&self, from: usize, to: usize) -> Vec<f64> {
        let settle = (SETTLE_S * self.rate) as usize;
        let begin = from.saturating_sub(settle);
        let mut high_pass = high_pass(self.rate);
        let stretch = self.recording.values(self.channel, begin..to);
        let stretch = stretch.map(|sample| {
            let x = number(sample);
            high_pass.iter_mut().fold(x, |x, it| it.step(x))
        });
        stretch.skip(from - begin).collect()
    }
}

pub(super) fn mean(values: &[f32]) -> f64 {
    values.iter().map(|value| f64::from(*value)).sum::<f64>() / values.len().max(1) as f64
}

/// The value below which `part` of the list lies, what is no number left out; 0 for none.
pub(super) fn quantile(mut values: Vec<f64>, part: f64) -> f64 {
    values.retain(|value| !value.is_nan());
    if values.is_empty() {
        return 0.0;
    }
    let at = ((values.len() - 1) as f64 * part).round() as usize;
    *values.select_nth_unstable_by(at, f64::total_cmp).1
}

/// What is there when nothing happens: the lower quarter of each block, the median of those around.
fn floor(high: &[f32], least: f64) -> Vec<f64> {
    let quiet: Vec<f64> = high
        .chunks(FLOOR_BLOCK)
        .map(|block| quantile(block.chunks(SHORT).map(mean).collect(), 0.25))
        .collect();
    (0..quiet.len())
        .map(|n| {
            let around = n.saturating_sub(FLOOR_REACH)..(n + FLOOR_REACH + 1).min(quiet.len());
            let heard = quiet[around].iter().copied().filter(|quiet| *quiet > 0.0);
            quantile(heard.collect(), 0.5).max(least)
        })
        .collect()
}
