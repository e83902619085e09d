//! Whether the lamp swings, and how fast.

use realfft::RealFftPlanner;

use super::{Lamp, Open, fit};
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
/// Swings smaller than this part of the light move no time by as much as can be told.
const LEAST: f64 = 2e-4;
/// Parts that all plateaus together are cut into, to see that each of them swings ...
const PARTS: usize = 12;
/// ... by this part of the whole's amplitude at least and at most, but for noise ...
const ALIKE: (f64, f64) = (0.5, 2.0);
/// ... as most of them must.
const MOSTLY: f64 = 0.75;

/// The frequency of the strongest wave that all plateaus have in common.
pub(super) fn strongest(opens: &[Open], dt: f64, noise: f64) -> Option<f64> {
    let mut longest: Vec<&Open> = opens.iter().collect();
    longest.sort_by_key(|it| std::cmp::Reverse(it.light.len()));
    longest.truncate(MOST);
    let most = longest.first()?.light.len();
    if (most as f64) * dt * LOWEST_HZ < SHORTEST {
        return None;
    }
    let length = (2 * most.next_power_of_two()).min(LONGEST);
    let plan = RealFftPlanner::new().plan_fft_forward(length);
    let mut spectrum = plan.make_output_vec();
    let mut power = vec![0.0; spectrum.len()];
    let mut weight = 0.0;
    for open in &longest {
        let mut windowed = windowed(&open.light[..open.light.len().min(length)], &mut weight);
        windowed.resize(length, 0.0);
        plan.process(&mut windowed, &mut spectrum).ok()?;
        for (sum, bin) in power.iter_mut().zip(&spectrum) {
            *sum += bin.re * bin.re + bin.im * bin.im;
        }
    }
    let bin_hz = 1.0 / (length as f64 * dt);
    let lowest = (LOWEST_HZ / bin_hz).ceil() as usize;
    let searched = power.get(lowest..power.len().saturating_sub(2))?;
    let floor = (median(searched) / weight).max(noise * noise);
    let peak = (0..searched.len()).max_by(|a, b| searched[*a].total_cmp(&searched[*b]))?;
    if searched[peak].is_nan()
        || searched[peak] <= STANDS_OUT * floor * weight / longest.len() as f64
    {
        return None;
    }
    let line = &power[(lowest + peak).saturating_sub(2)..=lowest + peak + 2];
    let sum: f64 = line.iter().sum();
    let centre: f64 = line.iter().zip(-2..).map(|(it, n)| it * f64::from(n)).sum();
    let hz = ((lowest + peak) as f64 + centre / sum) * bin_hz;
    near(opens, hz, dt, noise)
}

/// The frequency near `hz`, as nearly as the longest plateau tells, at which all plateaus swing together.
pub(super) fn near(opens: &[Open], hz: f64, dt: f64, noise: f64) -> Option<f64> {
    let longest = opens.iter().map(|it| it.light.len()).max()?;
    let reach = REACH / (longest as f64 * dt);
    Some(fit::together(opens, hz, reach, dt, noise))
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
