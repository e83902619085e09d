//! Whether two channels are one signal recorded twice.

use std::ops::Range;

use crate::recording::Samples;

/// Correlation from which two channels may be one ...
const ALIKE: f64 = 0.9999;
/// ... and agreement of their noise, sample by sample, from which they are: two sensors never share
/// their noise, a copy does, whatever its scale, sign or dither.
const NOISE_AGREES: f64 = 0.8;
/// Root mean square of what differs, in steps, that rounding and dither of two copies explain.
const DITHER_STEPS: f64 = 1.5;
/// A signal smaller than this many steps says nothing.
const LEAST_STEPS: f64 = 20.0;

/// Whether two channels, counted from 0, carry one signal but for scale, sign, offset and dither; `step` is that
/// between neighbouring values, 0 when not known.
pub(super) fn is_same(samples: &Samples, a: usize, b: usize, step: f64) -> bool {
    let held = samples.held_ranges();
    let pairs = || held.iter().flat_map(|range| pairs(samples, a, b, range));
    let finite = || pairs().filter(|(a, b)| a.is_finite() && b.is_finite());
    let (mut count, mut mean) = (0.0, (0.0, 0.0));
    for (a, b) in finite() {
        count += 1.0;
        mean.0 += a;
        mean.1 += b;
    }
    if count < 16.0 {
        return false;
    }
    mean = (mean.0 / count, mean.1 / count);
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in finite() {
        let (a, b) = (a - mean.0, b - mean.1);
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    let correlation = ab / (aa * bb).sqrt();
    let smallest = (aa.min(bb) / count).sqrt();
    if correlation.is_nan() || correlation.abs() <= ALIKE || smallest <= LEAST_STEPS * step {
        return false;
    }
    let scale = ab / aa;
    let left = ((bb - scale * ab).max(0.0) / count).sqrt();
    left <= DITHER_STEPS * step * (1.0 + scale.abs())
        || noise_agreement(pairs(), ab.signum()) > NOISE_AGREES
}

fn pairs(
    samples: &Samples,
    a: usize,
    b: usize,
    range: &Range<usize>,
) -> impl Iterator<Item = (f64, f64)> {
    let of = |channel| samples.over(channel, range.clone()).map(f64::from);
    of(a).zip(of(b))
}

/// From 0 (chance) to 1: how much oftener than by chance the second differences, in which white
/// noise outweighs the light, have the signs a copy gives them.
fn noise_agreement(mut pairs: impl Iterator<Item = (f64, f64)>, way: f64) -> f64 {
    let (mut agree, mut all) = (0.0, 0.0);
    while let (Some(first), Some(second), Some(third)) = (pairs.next(), pairs.next(), pairs.next())
    {
        let a = first.0 - 2.0 * second.0 + third.0;
        let b = first.1 - 2.0 * second.1 + third.1;
        let product = a * b * way;
        if product.is_finite() && product != 0.0 {
            all += 1.0;
            agree += f64::from(u8::from(product > 0.0));
        }
    }
    if all > 0.0 {
        2.0 * agree / all - 1.0
    } else {
        1.0
    }
}
