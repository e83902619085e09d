//! Where a card was taken away and put back: flanks of milliseconds to some tenths of a second.
//!
//! The light's changes are looked for between neighbouring means of 50 ms, which hum and the flicker
//! of 50 and 60 Hz mains leave alone. The input's coupling would make a decay of each held light, so
//! it is undone first, with `x' = y' + (a + b) y + ab ∫y` under pairs of corners tried in turn: under
//! the right pair the light changes at the flanks and nowhere else.

use std::f64::consts::TAU;

use super::super::overview::{Overview, median, merged};
use super::super::poles::Poles;

/// A bin, and how many of them are averaged.
const BIN_S: f64 = 0.01;
const WIDTH: usize = 5;
/// Corners tried, in hertz; 0 for none.
const CORNERS_HZ: [f64; 10] = [0.0, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// A change stands out of the noise by so many standard deviations ...
const OVER_NOISE: f64 = 8.0;
/// ... and reaches this part of the greatest; a slow hand spreads it over four means.
const OVER_GREATEST: f64 = 0.1;
/// A flank reaches this part of the highest flank, whole.
const OVER_HIGHEST: f64 = 0.4;
/// A hand that hesitates for less than this has not stopped.
const HESITATES_S: f64 = 0.3;
/// Light held shorter than this is no held light.
const HELD_S: f64 = 0.2;
/// By how much the covered sensor must be the noisier for what seemed covered to be lit.
const NOISIER: f64 = 1.3;

/// Light held between two flanks; samples.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Held {
    pub(super) opening: std::ops::Range<usize>,
    pub(super) closing: std::ops::Range<usize>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Hand {
    pub(super) held: Vec<Held>,
    /// Height of the light in the signal's units, positive.
    pub(super) height: f64,
    pub(super) inverted: bool,
    /// The corners of the input, roughly.
    pub(super) poles: Poles,
}

struct Flank {
    from: usize,
    to: usize,
    height: f64,
}

/// Finds the held lights of a channel; `Err` says how far the greatest change stands out of the noise.
pub(super) fn find(overview: &Overview<'_>) -> Result<Hand, f64> {
    let blocks = ((BIN_S / overview.block_dt()).round() as usize).max(1);
    let bin = blocks as f64 * overview.block_dt();
    let bins = overview.merged(blocks, 0..usize::MAX);
    if bins.len() < 4 * WIDTH {
        return Err(0.0);
    }
    let (steps, poles) = steps(&bins, bin);
    let sizes: Vec<f64> = steps.iter().map(|step| step.abs()).collect();
    let greatest = sizes.iter().copied().fold(0.0, f64::max);
    let noise = median(&sizes) / 0.6745;
    if greatest <= OVER_NOISE * noise || greatest <= 0.0 {
        return Err(if noise > 0.0 { greatest / noise } else { 0.0 });
    }
    let threshold = (OVER_NOISE * noise).max(OVER_GREATEST * greatest);
    let flanks = flanks(&steps, threshold, (HESITATES_S / bin) as usize);
    let samples = blocks * overview.block;
    let held = HELD_S / bin;
    let turned = is_lit_at_rest(overview, &flanks, blocks);
    let sign = match flanks.first() {
        Some(first) if turned => -first.height.signum(),
        Some(first) => first.height.signum(),
        None => return Err(greatest / noise.max(f64::MIN_POSITIVE)),
    };
    let pairs = flanks.windows(2).filter_map(|pair| match pair {
        [opening, closing] if opening.height * sign > 0.0 && closing.height * sign < 0.0 => {
            (closing.from as f64 > opening.to as f64 + held).then(|| Held {
                opening: opening.from * samples..opening.to * samples,
                closing: closing.from * samples..closing.to * samples,
            })
        }
        _ => None,
    });
    let heights: Vec<f64> = flanks.iter().map(|flank| flank.height.abs()).collect();
    Ok(Hand {
        held: pairs.collect(),
        height: median(&heights),
        inverted: sign < 0.0,
        poles,
    })
}

/// Changes of the light between neighbouring means, under the pair of corners that leaves the least
/// change beside the greatest.
fn steps(bins: &[f64], bin: f64) -> (Vec<f64>, Poles) {
    let pairs = CORNERS_HZ
        .iter()
        .enumerate()
        .flat_map(|(i, first)| CORNERS_HZ.iter().skip(i).map(|second| (*first, *second)));
    // A single pole is a pair with none; 0 Hz twice is no coupling.
    let tried = pairs.map(|(first, second)| {
        let (first, second) = (TAU * first, TAU * second);
        // Two equal poles are parted a little, as their formulas ask.
        let poles = Poles {
            first,
            last: second * 1.001,
        };
        (undone(bins, bin, first, second), poles)
    });
    tried
        .min_by(|a, b| restless(&a.0).total_cmp(&restless(&b.0)))
        .unwrap_or((Vec::new(), Poles::one(0.0)))
}

fn restless(steps: &[f64]) -> f64 {
    let greatest = steps
        .iter()
        .fold(0.0_f64, |most, step| most.max(step.abs()));
    let sum: f64 = steps.iter().map(|step| step.abs()).sum();
    sum / greatest.max(f64::MIN_POSITIVE)
}

/// Changes of the light from each mean to the one `WIDTH` bins later.
fn undone(bins: &[f64], bin: f64, first: f64, second: f64) -> Vec<f64> {
    // What was coupled sums to nothing from dark to dark.
    let dark = if first + second > 0.0 {
        bins.iter().sum::<f64>() / bins.len() as f64
    } else {
        0.0
    };
    let (mut light, mut once, mut twice, mut before) = (0.0, 0.0, 0.0, 0.0);
    let lights: Vec<f64> = bins
        .iter()
        .map(|value| {
            let value = value - dark;
            let mean = 0.5 * (value + before);
            light += value - before + (first + second) * bin * mean;
            twice += bin * (once + 0.5 * bin * mean);
            once += bin * mean;
            before = value;
            light + first * second * twice
        })
        .collect();
    let means: Vec<f64> = lights
        .windows(WIDTH)
        .map(|window| window.iter().sum::<f64>() / WIDTH as f64)
        .collect();
    let mut steps: Vec<f64> = means
        .iter()
        .zip(means.iter().skip(WIDTH))
        .map(|(here, later)| later - here)
        .collect();
    // Most of the time the light stands still: what changes then is the dark level's doing.
    let still = median(&steps);
    for step in &mut steps {
        *step -= still;
    }
    steps
}

/// Runs of steps beyond the threshold, hesitations bridged; bins.
fn flanks(steps: &[f64], threshold: f64, hesitation: usize) -> Vec<Flank> {
    let mut flanks: Vec<Flank> = Vec::new();
    for (place, step) in steps.iter().enumerate() {
        if step.abs() <= threshold {
            continue;
        }
        // A step is between the means from `place` and `WIDTH` later.
        let (from, to) = (place, place + 2 * WIDTH);
        let height = step / WIDTH as f64;
        match flanks.last_mut() {
            Some(last) if last.height.signum() * height > 0.0 && from <= last.to + hesitation => {
                last.to = to;
                last.height += height;
            }
            _ => flanks.push(Flank { from, to, height }),
        }
    }
    let highest = flanks
        .iter()
        .fold(0.0_f64, |most, flank| most.max(flank.height.abs()));
    flanks.retain(|flank| flank.height.abs() > OVER_HIGHEST * highest);
    flanks
}

/// Whether the recording begins lit: light brings its own noise and flicker, and takes none away.
fn is_lit_at_rest(overview: &Overview<'_>, flanks: &[Flank], blocks: usize) -> bool {
    let mut restless = [Vec::new(), Vec::new()];
    let mut from = 0;
    let ends = flanks.iter().map(|flank| (flank.from, flank.to));
    for (state, (to, next)) in ends.enumerate() {
        let stretch = overview.means().part(from * blocks..to * blocks);
        let millisecond = (1e-3 / overview.block_dt()).round().max(1.0) as usize;
        let means = merged(&stretch.unwrap_or_default(), millisecond);
        let differences = means
            .iter()
            .zip(means.iter().skip(1))
            .map(|(a, b)| (b - a).abs());
        restless[state % 2].extend(differences);
        from = next;
    }
    let [at_rest, moved] = restless.map(|sizes| median(&sizes));
    moved > 0.0 && at_rest > NOISIER * moved
}
