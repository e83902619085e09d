//! Processing that changes the level while recording: gain control and noise suppression.
//!
//! Both leave marks that no sensor, coupling or lamp makes: noise whose level in the dark depends on
//! how long ago a shot was, and light that stands still but does not decay as one or two poles let
//! it. Nothing measured under them means anything.

use super::channel::Raw;
use super::local::Signal;
use super::overview::median;

/// Windows in which the noise of the dark is compared, seconds after a shot and before the next.
const AFTER_S: [(f64, f64); 3] = [(0.004, 0.02), (0.02, 0.05), (0.05, 0.1)];
const BEFORE_S: [(f64, f64); 2] = [(0.1, 0.004), (0.008, 0.001)];
/// Noise amplitudes of the dark further apart than this are no chance.
const NOISE_CHANGES: f64 = 1.6;
/// The light on a plateau departs from the decay of one or two poles by this part of itself.
const DEPARTS: f64 = 0.01;
/// A lamp that is divided out leaves less than this part of its swing, as its edges fall between samples.
const DEPARTS_SWUNG: f64 = 0.03;
/// One plateau that comes up late and departs by so many times as much is enough: noise suppression that few
/// shots found shut.
const LATE_DEPARTS: f64 = 1.5;
/// Without the tenth of it that departs most it still departs by this part of all; a click does not.
const MOMENT: usize = 10;
const SPREAD: f64 = 0.3;
/// The dark wanders under a plateau by up to so many times what it does in the time before the shot, of which so
/// many seconds are looked at.
const WANDERS: f64 = 2.0;
const WANDERS_S: f64 = 0.1;
/// A lossy coding alone makes it depart by less than this.
const DEPARTS_CODED: f64 = 0.06;
/// Second differences of samples that toggle from step to step are at most so many steps on the mean.
const TOGGLES: f64 = 2.0;
/// Second differences a window needs.
const LEAST: usize = 60;
/// A plateau noisier than the dark by so many steps, where the dark is all alike, was let through.
const STEPS: f64 = 2.0;

/// Whether the level was changed while recording. `flickers` says that the lamp itself does; `swing` is that of
/// one divided out, as a root mean square.
pub(super) fn is_controlled(
    signal: &Signal<'_>,
    shots: &[Raw],
    lossy: bool,
    flickers: bool,
    swing: f64,
) -> bool {
    let most = if lossy { DEPARTS_CODED } else { DEPARTS } + DEPARTS_SWUNG * swing;
    (!lossy && noise_follows(signal, shots)) || (!flickers && light_departs(signal, shots, most))
}

/// Noise of some samples by the median of their second differences, which the light hardly moves.
fn noise(samples: &[f64]) -> Option<f64> {
    let second = |x: &[f64]| (x[0] - 2.0 * x[1] + x[2]).abs();
    let sizes: Vec<f64> = samples
        .windows(3)
        .map(second)
        .filter(|it| it.is_finite())
        .collect();
    (sizes.len() >= LEAST).then(|| {
        // The mean of the smaller half and more is finer than the median of rounded values.
        let middle = median(&sizes);
        let small: Vec<f64> = sizes.into_iter().filter(|it| *it <= 3.0 * middle).collect();
        small.iter().sum::<f64>() / small.len().max(1) as f64
    })
}

fn noise_follows(signal: &Signal<'_>, shots: &[Raw]) -> bool {
    let at = |n: usize, seconds: f64| (n as f64 + seconds / signal.dt).max(0.0) as usize;
    let part = |from: usize, to: usize| {
        let range = from..to.max(from);
        let whole = signal.samples.is_whole(range.clone());
        whole.then(|| signal.over(range).collect::<Vec<f64>>())
    };
    let part = |from: usize, to: usize| part(from, to).and_then(|it| noise(&it));
    // Noise of less than a step toggles or stands still, as the level lies between the steps.
    let step = signal.step();
    let floor = TOGGLES * step;
    let mut before = Vec::new();
    let mut after: [Vec<f64>; 3] = Default::default();
    let mut open = Vec::new();
    for shot in shots.iter().filter(|shot| !shot.spoiled) {
        let regions = &shot.local.regions;
        // Of a long recording only the last milliseconds before a shot are held.
        let dark = BEFORE_S.iter().find_map(|(from, to)| {
            let from = at(regions.first, -from).max(regions.before);
            part(from, at(regions.first, -to))
        });
        before.extend(dark);
        for ((from, to), list) in AFTER_S.iter().zip(&mut after) {
            let to = at(regions.after, *to);
            if to < regions.end {
                list.extend(part(at(regions.after, *from), to));
            }
        }
        if regions.has_plateau() {
            open.extend(part(regions.open, regions.second));
        }
    }
    if before.is_empty() {
        return false;
    }
    let dark = median(&before);
    let after_changes = after.iter().filter(|list| !list.is_empty()).any(|list| {
        let here = median(list);
        let (low, high) = (here.min(dark), here.max(dark));
        high > floor && high > NOISE_CHANGES * low
    });
    // Silence to the last step between shots, and noise while the shutter stands open.
    let muted = dark == 0.0 && !open.is_empty() && median(&open) > STEPS * step;
    after_changes || (muted && signal.steps > 0.0)
}

/// How a plateau departs from the decay that the coupling gives it.
struct Departure {
    /// Root mean square as a part of the light, noise taken off.
    size: f64,
    /// Whether its light comes up late.
    is_late: bool,
    /// Whether it is more than a click's, which stands for a moment.
    is_spread: bool,
}

impl Departure {
    /// `None` where the plateau is too short.
    fn of(signal: &Signal<'_>, shot: &Raw) -> Option<Self> {
        let (level, _) = shot.local.level(&shot.fit)?;
        let size = (1e-3 / signal.dt).round().max(1.0) as usize;
        let light = shot.local.plateau(signal, &shot.fit);
        let means: Vec<f64> = light
            .chunks_exact(size)
            .map(|it| it.iter().sum::<f64>() / size as f64 - level)
            .collect();
        if means.len() < 6 || level <= 0.0 {
            return None;
        }
        let mut squares: Vec<f64> = means.iter().map(|it| it * it).collect();
        squares.sort_by(f64::total_cmp);
        let mean = |squares: &[f64]| squares.iter().sum::<f64>() / squares.len() as f64;
        let square = mean(&squares);
        // Where the model fails as far in the dark, the dark wanders as it does not allow for.
        let astray = shot.local.astray_in_the_dark(&shot.fit);
        let wander = wander(signal, shot, size, means.len())
            .unwrap_or(0.0)
            .max(astray);
        let chance = (signal.noise.powi(2) / size as f64).max((WANDERS * wander).powi(2));
        let mut sixths = means
            .chunks(means.len() / 6)
            .map(|it| it.iter().sum::<f64>());
        let (first, second) = (sixths.next()?, sixths.next()?);
        let rest = mean(&squares[..squares.len() - squares.len().div_ceil(MOMENT)]);
        let is_spread = rest - chance > SPREAD * SPREAD * (square - chance);
        Some(Self {
            size: (square - chance).max(0.0).sqrt() / level,
            is_spread,
            is_late: first < second.min(0.0),
        })
    }
}

/// Deviation of means over `size` samples of the dark before a shot from their line, up to `count` of them;
/// `None` where too few are held.
fn wander(signal: &Signal<'_>, shot: &Raw, size: usize, count: usize) -> Option<f64> {
    let regions = &shot.local.regions;
    let most = (WANDERS_S / signal.dt) as usize;
    let from = regions
        .first
        .saturating_sub((count * size).min(most))
        .max(regions.before);
    if regions.first < from + 6 * size || !signal.samples.is_whole(from..regions.first) {
        return None;
    }
    let dark: Vec<f64> = signal.over(from..regions.first).collect();
    let means = dark
        .chunks_exact(size)
        .map(|it| it.iter().sum::<f64>() / size as f64);
    let means: Vec<f64> = means.collect();
    let middle = 0.5 * (means.len() as f64 - 1.0);
    let at = || {
        means
            .iter()
            .enumerate()
            .map(|(i, it)| (i as f64 - middle, *it))
    };
    let mean = means.iter().sum::<f64>() / means.len() as f64;
    let slope = at().map(|(x, it)| x * it).sum::<f64>() / at().map(|(x, _)| x * x).sum::<f64>();
    let square = at()
        .map(|(x, it)| (it - mean - slope * x).powi(2))
        .sum::<f64>();
    Some((square / (means.len() as f64 - 2.0)).sqrt())
}

/// Whether plateaus, as a rule, depart by more than `most` of the light from the decay that the coupling
/// gives them, or one that comes up late by far more.
fn light_departs(signal: &Signal<'_>, shots: &[Raw], most: f64) -> bool {
    let departures: Vec<Departure> = shots
        .iter()
        .filter(|it| !it.spoiled && it.clipped.is_none())
        .filter_map(|it| Departure::of(signal, it))
        .collect();
    let sizes: Vec<f64> = departures.iter().map(|it| it.size).collect();
    let is_late = |it: &Departure| it.is_late && it.is_spread && it.size > LATE_DEPARTS * most;
    !sizes.is_empty() && (median(&sizes) > most || departures.iter().any(is_late))
}
