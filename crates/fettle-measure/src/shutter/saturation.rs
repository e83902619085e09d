//! Light that ends at a rail before the recorder: in the sensor, its amplifier or an earlier stage.
//!
//! At a rail the output no longer follows what comes in, neither the light nor the noise: while the shutter stands
//! open the noise that the dark has is gone. It is back as soon as the light is, which tells a rail from gain
//! control. Behind a coupling the plateau decays but is as quiet; noise is taken from second differences, which
//! see nothing of that. Noise that comes in after the rail hides it.

use std::ops::Range;

use super::channel::Raw;
use super::local::Signal;

/// Where less than this part of the noise comes through, so does of any change of the light.
const COMES_THROUGH: f64 = 0.5;
/// Second differences that tell of one shot's noise, and those of all shots that decide: the ratio of two noises
/// is uncertain by `sqrt(2.2 / n)` of itself.
const LEAST: usize = 30;
const DECIDES: usize = 120;
/// So much of the dark next to a shot and of its plateau is looked at: of a long recording not more is held.
const BEFORE_S: f64 = 7e-3;
const AFTER_S: f64 = 20e-3;
const OPEN_S: f64 = 40e-3;
/// Kept clear of the flanks.
const CLEAR_S: f64 = 0.3e-3;
/// This part of the second differences, the greatest, is left out: clicks and what is left of flanks.
const LEFT_OUT: usize = 10;
/// Shots are at the rail that come within this part of it.
const NEAR: f64 = 0.02;

/// A shot's noise while it stands open and in the dark, on the same scale, from so many second differences.
struct Noise {
    level: f64,
    open: f64,
    dark: f64,
    count: usize,
}

/// The level of light at which the shots of a channel end, where they do.
pub(super) fn rail(signal: &Signal<'_>, shots: &[Raw]) -> Option<f64> {
    let shown = shots.iter().filter(|shot| !shot.spoiled);
    let all: Vec<Noise> = shown.filter_map(|shot| Noise::of(signal, shot)).collect();
    let quiet = all
        .iter()
        .filter(|it| it.open < COMES_THROUGH * it.dark)
        .map(|it| it.level);
    let rail = quiet.min_by(f64::total_cmp)?;
    let (mut open, mut dark, mut count) = (0.0, 0.0, 0);
    for it in all.iter().filter(|it| it.level > (1.0 - NEAR) * rail) {
        open += it.open * it.count as f64;
        dark += it.dark * it.count as f64;
        count += it.count;
    }
    (count >= DECIDES && open < COMES_THROUGH * dark).then_some(rail)
}

/// Takes a shot whose light reaches the rail for clipped as long as it is there.
pub(super) fn clip(signal: &Signal<'_>, shot: &mut Raw, rail: Option<f64>) {
    let Some(rail) = rail.filter(|rail| shot.clipped.is_none() && shot.peak > (1.0 - NEAR) * rail)
    else {
        return;
    };
    let near = rail - (NEAR * rail).max(2.0 * signal.noise);
    let flanks = shot.light.first.iter().chain(&shot.light.second);
    let count = flanks.filter(|it| **it > near).count();
    shot.clipped = Some(shot.open + count as f64 * signal.dt);
}

impl Noise {
    /// `None` where the shot has too short a plateau, or steps of the samples hide the noise.
    fn of(signal: &Signal<'_>, shot: &Raw) -> Option<Self> {
        let regions = &shot.local.regions;
        let (level, _) = shot.level.filter(|it| it.0 > 0.0)?;
        let samples = |seconds: f64| (seconds / signal.dt) as usize;
        let clear = samples(CLEAR_S);
        let (open, end) = (regions.open + clear, regions.second.saturating_sub(clear));
        let open = values(signal, open..end.min(open + samples(OPEN_S)))?;
        let first = regions.first.saturating_sub(clear);
        let before = first.saturating_sub(samples(BEFORE_S)).max(regions.before)..first;
        let after = regions.after + clear;
        let after = after..(after + samples(AFTER_S)).min(regions.end);
        let (before, after) = (values(signal, before)?, values(signal, after)?);
        let dark = noise(&before).min(noise(&after));
        let step = signal.step().max(step(&before));
        // Below one step, what rounding leaves of the noise depends on where between two steps the level lies.
        (dark > rms(step)).then(|| Self {
            level,
            open: noise(&open),
            dark,
            count: open.len().min(before.len()).min(after.len()),
        })
    }
}

/// The samples of a range, where enough of them are held and all are numbers.
fn values(signal: &Signal<'_>, range: Range<usize>) -> Option<Vec<f64>> {
    let held = range.len() >= LEAST + 2 && signal.samples.is_whole(range.clone());
    let values: Vec<f64> = held.then(|| signal.over(range).collect())?;
    (values.len() >= LEAST + 2 && values.iter().all(|it| it.is_finite())).then_some(values)
}

/// Mean size of second differences.
fn noise(values: &[f64]) -> f64 {
    let second = |x: &[f64]| (x[0] - 2.0 * x[1] + x[2]).abs();
    let mut sizes: Vec<f64> = values.windows(3).map(second).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.truncate(sizes.len() - sizes.len() / LEFT_OUT);
    sizes.iter().sum::<f64>() / sizes.len().max(1) as f64
}

/// What [`noise`] makes of white noise of this deviation: `sqrt(6)` times the mean size of the nine tenths of
/// Gaussian numbers that are least.
fn rms(deviation: f64) -> f64 {
    0.658 * 6.0_f64.sqrt() * deviation
}

/// The least difference between neighbours that are not alike.
fn step(values: &[f64]) -> f64 {
    let sizes = values.windows(2).map(|x| (x[1] - x[0]).abs());
    let least = sizes.filter(|it| *it > 0.0).min_by(f64::total_cmp);
    least.unwrap_or(0.0)
}
