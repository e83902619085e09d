//! Whether the lamp swings, and how fast.

use realfft::RealFftPlanner;

use super::{Lamp, Open, pieces};
use crate::shutter::overview::median;

/// Lowest frequency looked for; slower changes are drift of the lamp.
const LOWEST_HZ: f64 = 70.0;
/// Longest transform, in samples, and most plateaus that go into it.
const LONGEST: usize = 1 << 16;
const MOST: usize = 16;
/// A plateau of less than this is not asked for its spectrum.
const SHORTEST: f64 = 1.5;
/// What the longest plateau leaves in doubt of the frequency, in turns over its length.
const REACH: f64 = 0.75;
/// A wave must lower the squares by so many times the spectrum's own variance.
const STANDS_OUT: f64 = 60.0;
/// What the dark shows so many times as fast and as slow tells of the noise at a frequency.
const NEAR: f64 = 1.25;
/// Swings smaller than this part of the light move no time by as much as can be told.
const LEAST: f64 = 2e-4;
/// Parts that all plateaus together are cut into, to see that each of them swings ...
const PARTS: usize = 12;
/// ... by this part of the whole's amplitude at least and at most, but for noise ...
const ALIKE: (f64, f64) = (0.5, 2.0);
/// ... as most of them must.
const MOSTLY: f64 = 0.75;

/// The frequency of the strongest wave that all plateaus have in common and `darks`, stretches without the
/// lamp's light, have not: noise of low frequencies is in both.
pub(super) fn strongest(opens: &[Open], darks: &[Vec<f64>], dt: f64, noise: f64) -> Option<f64> {
    let mut longest: Vec<&[f64]> = opens.iter().map(|it| it.light.as_slice()).collect();
    longest.sort_by_key(|it| std::cmp::Reverse(it.len()));
    longest.truncate(MOST);
    let most = longest.first()?.len();
    if (most as f64) * dt * LOWEST_HZ < SHORTEST {
        return None;
    }
    let length = (2 * most.next_power_of_two()).min(LONGEST);
    let (power, weight) = power_of(&longest, length)?;
    let mut dark: Vec<&[f64]> = darks.iter().map(Vec::as_slice).collect();
    dark.sort_by_key(|it| std::cmp::Reverse(it.len()));
    dark.truncate(MOST);
    let (dark, dark_weight) = power_of(&dark, length)?;
    let dark = smoothed(&dark);
    let bin_hz = 1.0 / (length as f64 * dt);
    let lowest = (LOWEST_HZ / bin_hz).ceil() as usize;
    let last = power.len().saturating_sub(2);
    let searched = power.get(lowest..last)?;
    let floor = (median(searched) / weight).max(noise * noise);
    let over = |n: usize| {
        let beside = dark
            .get(n)
            .map_or(0.0, |it| it / dark_weight.max(f64::MIN_POSITIVE));
        power
            .get(n)
            .map_or(0.0, |it| it / weight / floor.max(beside))
    };
    let peak = (lowest..last).max_by(|a, b| over(*a).total_cmp(&over(*b)))?;
    if over(peak).is_nan() || over(peak) <= STANDS_OUT / longest.len() as f64 {
        return None;
    }
    let line = power.get(peak.saturating_sub(2)..=peak + 2)?;
    let sum: f64 = line.iter().sum();
    let centre: f64 = line.iter().zip(-2..).map(|(it, n)| it * f64::from(n)).sum();
    let hz = (peak as f64 + centre / sum) * bin_hz;
    near(opens, hz, dt, noise)
}

/// The power of all stretches together in transforms of so many values, and that of their windows.
fn power_of(stretches: &[&[f64]], length: usize) -> Option<(Vec<f64>, f64)> {
    let plan = RealFftPlanner::new().plan_fft_forward(length);
    let mut spectrum = plan.make_output_vec();
    let mut power = vec![0.0; spectrum.len()];
    let mut weight = 0.0;
    for stretch in stretches {
        let mut windowed = windowed(&stretch[..stretch.len().min(length)], &mut weight);
        windowed.resize(length, 0.0);
        plan.process(&mut windowed, &mut spectrum).ok()?;
        for (sum, bin) in power.iter_mut().zip(&spectrum) {
            *sum += bin.re * bin.re + bin.im * bin.im;
        }
    }
    Some((power, weight))
}

/// Means of a spectrum over the frequencies near each, up to [`NEAR`] times as high and as low.
fn smoothed(power: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    let mut sum = 0.0;
    sums.extend(power.iter().map(|it| {
        sum += it;
        sum
    }));
    let mean = |n: usize| {
        let from = ((n as f64 / NEAR) as usize).min(n.saturating_sub(2));
        let to = ((n as f64 * NEAR) as usize + 1).max(n + 3).min(power.len());
        (sums[to] - sums[from]) / (to - from) as f64
    };
    (0..power.len()).map(mean).collect()
}

/// The frequency near `hz`, as nearly as the longest plateau tells, at which all plateaus swing together.
pub(super) fn near(opens: &[Open], hz: f64, dt: f64, noise: f64) -> Option<f64> {
    let longest = opens.iter().map(|it| it.light.len()).max()?;
    let reach = REACH / (longest as f64 * dt);
    Some(pieces::together(opens, hz, reach, dt, noise))
}

/// The light less its mean and slope under Hann's window; `weight` grows by the window's power.
fn windowed(light: &[f64], weight: &mut f64) -> Vec<f64> {
    let count = light.len() as f64;
    let place = |n: usize| (n as f64 + 0.5) / count;
    let window = |n: usize| 1.0 - (std::f64::consts::TAU * place(n)).cos();
    let (mut all, mut mean, mut lean, mut second) = (1e-300, 0.0, 0.0, 1e-300);
    for (n, value) in light.iter().enumerate() {
        let (w, u) = (window(n), place(n) - 0.5);
        all += w;
        mean += w * value;
        lean += w * u * value;
        second += w * u * u;
        *weight += w * w;
    }
    let (mean, slope) = (mean / all, lean / second);
    let flat = |(n, value): (usize, &f64)| window(n) * (value - mean - slope * (place(n) - 0.5));
    light.iter().enumerate().map(flat).collect()
}

/// Whether the lamp's swing is in the plateaus everywhere: a click in one of them is not.
pub(super) fn is_everywhere(opens: &[Open], lamp: &Lamp, dt: f64, noise: f64) -> bool {
    if lamp.strongest().depth < LEAST {
        return false;
    }
    let total: usize = opens.iter().map(|it| it.light.len()).sum();
    let each = (total / PARTS)
        .max((1.0 / (lamp.hz * dt)).ceil() as usize)
        .max(8);
    let (mut all, mut alike) = (0.0, 0.0);
    let (mut swings, mut explained) = (0.0, 0.0);
    for open in opens {
        let parts = (open.light.len() / each).max(1);
        let size = open.light.len().div_ceil(parts).max(1);
        for (n, part) in open.light.chunks(size).enumerate() {
            let from = open.from + n * size;
            let model: Vec<f64> = (from..from + part.len())
                .map(|k| lamp.light(k as f64 * dt) - 1.0)
                .collect();
            let count = part.len() as f64;
            let (mean, level) = (
                model.iter().sum::<f64>() / count,
                part.iter().sum::<f64>() / count,
            );
            let pairs = || model.iter().zip(part).map(|(m, v)| (m - mean, v - level));
            let square: f64 = pairs().map(|(m, _)| m * m).sum();
            let along: f64 = pairs().map(|(m, v)| m * v).sum();
            let doubt = 4.0 * noise * square.sqrt();
            all += square;
            swings += 1.0;
            explained += 2.0 * along - square;
            if (ALIKE.0 * square - doubt..=ALIKE.1 * square + doubt).contains(&along) {
                alike += square;
            }
        }
    }
    swings > 1.0 && alike > MOSTLY * all && explained > STANDS_OUT * noise * noise
}
