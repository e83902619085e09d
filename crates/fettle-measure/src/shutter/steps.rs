//! What the steps of the samples, in level and in time, leave in doubt.

use std::f64::consts::PI;

use super::local::Signal;
use crate::recording::Samples;

/// Samples looked at for the noise that stirs them from step to step.
const MOST_LOOKED_AT: usize = 60_000;
/// A step's half-width and half of the next, lessened for what the steps themselves add.
const TWO_STEPS: f64 = 1.2;
/// Waves of the sawtooth that rounding is.
const WAVES: i32 = 6;

/// Root mean square over all levels of what rounding to steps of `step` leaves of a still level's mean
/// under Gaussian noise: rounding is a sawtooth of the level, of whose k-th wave noise of standard
/// deviation `σ` leaves `step/(πk) e^(-2π²k²σ²/step²)` (Widrow & Kollár, Quantization Noise, 2008,
/// chapter 4). It does not fall with the number of samples.
pub(crate) fn still(step: f64, deviation: f64) -> f64 {
    if step <= 0.0 {
        return 0.0;
    }
    let squared = |k: i32| {
        let k = f64::from(k);
        let stirred = PI * k * deviation / step;
        0.5 * (step / (PI * k) * (-2.0 * stirred * stirred).exp()).powi(2)
    };
    (1..=WAVES).map(squared).sum::<f64>().sqrt()
}

/// The noise before rounding to steps of `step`, from below: how often a sample jumps by two steps or
/// more and back. Where a level lies between the steps makes little difference to that.
pub(crate) fn noise_beneath(samples: &Samples, channel: usize, step: f64) -> f64 {
    if step <= 0.0 {
        return 0.0;
    }
    let (mut jumps, mut all) = (0_usize, 0_usize);
    for range in samples.held_ranges() {
        let left = MOST_LOOKED_AT.saturating_sub(all);
        let range = range.start..range.end.min(range.start + left);
        let values: Vec<f32> = samples.over(channel, range).collect();
        for three in values.windows(3) {
            let (up, down) = (
                f64::from(three[1] - three[0]),
                f64::from(three[2] - three[1]),
            );
            all += 1;
            jumps += usize::from(up.abs() > 1.5 * step && up * down < 0.0);
        }
    }
    let part = jumps as f64 / all.max(1) as f64;
    TWO_STEPS * step / (2.0_f64.sqrt() * beyond(0.5 * part))
}

/// How many standard deviations a Gaussian number passes with this chance, up to a half (Abramowitz &
/// Stegun 26.2.22, good to 0.003).
fn beyond(chance: f64) -> f64 {
    let t = (-2.0 * chance.clamp(1e-12, 0.5).ln()).sqrt();
    (t - (2.307_53 + 0.270_61 * t) / (1.0 + t * (0.992_29 + 0.044_81 * t))).max(0.05)
}

/// Standard uncertainty of the sum over samples of `light` as its integral, in the light's unit times
/// seconds. Where the slope breaks by `J` between two samples the sum errs by `J dt² B₂(u)/2`, `u` the
/// place between them (Euler-Maclaurin); its root mean square is `J dt²/(12 √5)`. The breaks are seen in
/// the second differences, beyond the noise.
pub(crate) fn between_samples(light: &[f64], signal: &Signal<'_>) -> f64 {
    let second = |x: &[f64]| (x[0] - 2.0 * x[1] + x[2]).powi(2);
    let sum: f64 = light.windows(3).map(second).sum();
    let noise = 6.0 * signal.noise * signal.noise * light.len() as f64;
    // A break falls into two second differences, whose squares come to two thirds of its own.
    (1.5 * (sum - noise).max(0.0)).sqrt() * signal.dt / (12.0 * 5.0_f64.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;
    use crate::{Hertz, Recording};

    fn rounded(level: f64, noise: f64, seed: u64) -> Vec<f32> {
        let mut gauss = Gauss::new(seed);
        (0..20_000)
            .map(|_| (level + noise * gauss.normal()).round() as f32)
            .collect()
    }

    #[test]
    fn the_mean_of_rounded_samples_errs_as_stated() {
        for noise in [0.0, 0.1, 0.25, 0.4] {
            let levels = 200;
            let error = |i: i32| {
                let level = (f64::from(i) + 0.5) / f64::from(levels);
                let samples = rounded(level, noise, i as u64);
                samples.iter().copied().map(f64::from).sum::<f64>() / samples.len() as f64 - level
            };
            let squares: f64 = (0..levels).map(|i| error(i).powi(2)).sum();
            let rms = (squares / f64::from(levels)).sqrt();
            let stated = still(1.0, noise);
            assert!((rms - stated).abs() < 0.02, "{noise}: {rms} {stated}");
        }
    }

    #[test]
    fn noise_beneath_the_steps_is_told_wherever_the_level_lies() {
        for (noise, least) in [(0.0, 0.0), (0.2, 0.05), (0.4, 0.2), (1.0, 0.6), (5.0, 1.2)] {
            for level in [0.0, 0.25, 0.5] {
                let samples = rounded(level, noise, 3);
                let rate = Hertz::hz(48_000.0);
                let recording = Recording::from_channels("a", rate, vec![samples]).unwrap();
                let told = noise_beneath(recording.samples(), 0, 1.0);
                let most = 1.25 * noise + 0.25;
                assert!((least..most).contains(&told), "{noise} {level}: {told}");
            }
        }
    }
}
