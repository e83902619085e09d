//! Where a shot's flanks begin and end.
//!
//! Every sample taken into a flank brings its noise, every one left out its light: ranges end where
//! what the flank still has to go is lost in the noise.

use super::expose::{first_above, smoothed, smoothing};
use super::local::Regions;

/// Parts of a flank that are averaged to see its ends.
const AVERAGED: f64 = 8.0;
/// A flank is followed down to so many standard deviations of such averages ...
const FOLLOWED_TO: f64 = 2.5;
/// ... or to this part of the light ...
const DEEPEST: f64 = 2e-3;
/// ... and on to where a parabolic foot would end, and by this part of the way from 10 %, after which
/// little is left of an exponential approach.
const BEYOND: f64 = 0.3;
/// Where the way to a flank's end begins, as a part of the light.
const LOW: f64 = 0.1;
/// Samples added at each end for places between samples.
const BETWEEN: f64 = 2.0;
/// Room against the way between 10 and 90 %: the blades' first movement lies well below 10 %, a slow
/// sensor's end above 90 %.
const ROOM_DARK: f64 = 1.5;
const ROOM_OPEN: f64 = 1.1;

/// A flank's edges, in samples from the range's start.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edges {
    /// Where its light is not yet, or no longer.
    pub(crate) dark: f64,
    /// Where it is fully open.
    pub(crate) open: f64,
    /// Where it passes 10 %.
    low: f64,
    /// Where it passes 90 %.
    high: f64,
}

impl Edges {
    /// Samples between 10 and 90 %.
    pub(crate) fn ramp(&self) -> f64 {
        (self.high - self.low).abs()
    }

    /// The same with room for a light that a coupling not yet well known leaves crooked.
    pub(crate) fn roomy(self) -> Self {
        let ramp = self.high - self.low;
        Self {
            dark: self.low - ROOM_DARK * ramp - ramp.signum() * BETWEEN,
            open: self.high + ROOM_OPEN * ramp + ramp.signum() * BETWEEN,
            ..self
        }
    }
}

/// The edges of the first rise to `level`.
pub(crate) fn rise(x: &[f64], level: f64, noise: f64) -> Option<Edges> {
    let smooth = smoothed(x, smoothing(level, noise, x.len()));
    let low = first_above(smooth.iter().copied(), LOW * level)?;
    let high = first_above(smooth.iter().copied(), (1.0 - LOW) * level)?;
    // Of a shot with a second opening, how steep the first one is counts.
    let rises = smooth[..high as usize]
        .iter()
        .rev()
        .take_while(|value| **value > LOW * level)
        .count();
    let width = ((rises as f64 / AVERAGED) as usize).max(1);
    let deepest = (FOLLOWED_TO * noise / (width as f64).sqrt()).max(DEEPEST * level);
    let smooth = smoothed(x, width);
    let foot = smooth[..=low as usize].iter().rev();
    let top = smooth[high.ceil() as usize..].iter();
    let lasts = |seen: usize| seen as f64 * (1.0 + unseen(deepest / level)) + BETWEEN;
    Some(Edges {
        dark: low - lasts(above(foot.copied(), deepest)),
        open: high + lasts(above(top.map(|value| level - value), deepest)),
        low,
        high,
    })
}

/// The edges of the last fall from `level`.
pub(crate) fn fall(x: &[f64], level: f64, noise: f64) -> Option<Edges> {
    let backward: Vec<f64> = x.iter().rev().copied().collect();
    let last = x.len() as f64 - 1.0;
    rise(&backward, level, noise).map(|edges| Edges {
        dark: last - edges.dark,
        open: last - edges.open,
        low: last - edges.low,
        high: last - edges.high,
    })
}

/// How many values pass before one is below `deepest`.
fn above(mut values: impl ExactSizeIterator<Item = f64>, deepest: f64) -> usize {
    let all = values.len();
    values.position(|value| value < deepest).unwrap_or(all)
}

/// How far a flank goes on beyond what is seen of it, against the way from 10 % down to the part
/// `deepest` of the light.
fn unseen(deepest: f64) -> f64 {
    let (low, seen) = (LOW.sqrt(), deepest.clamp(0.0, 0.6 * LOW).sqrt());
    seen / (low - seen) + BEYOND
}

/// Ranges drawn tight around the flanks: the rise found in the range from `rise_from`, the fall in
/// the one from `fall_from`. Fully open for less than `least` samples there is no plateau.
pub(crate) fn tightened(
    crude: &Regions,
    (rise_from, rise): (usize, Edges),
    (fall_from, fall): (usize, Edges),
    least: usize,
) -> Regions {
    // The range at hand may begin within the flank.
    let below = |from: usize, place: f64| (from as f64 + place.floor()).max(0.0) as usize;
    let start = below(rise_from, rise.dark).max(crude.before + 1);
    let open = rise_from + rise.open.ceil() as usize;
    let second = below(fall_from, fall.open);
    let after = (fall_from + fall.dark.ceil() as usize + 1).min(crude.end.saturating_sub(1));
    let plateau = second > open + least;
    Regions {
        before: crude.before,
        first: start,
        open: if plateau { open } else { start },
        second: if plateau { second } else { start },
        after,
        end: crude.end,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Parabolic feet of so many samples either end, fully open between.
    fn shot(flank: usize) -> Vec<f64> {
        let half = |n: usize| 2.0 * ((n as f64 + 0.5) / flank as f64).powi(2);
        let rise: Vec<f64> = (0..flank)
            .map(|n| {
                if n < flank / 2 {
                    half(n)
                } else {
                    1.0 - half(flank - 1 - n)
                }
            })
            .collect();
        let dark = vec![0.0; 2 * flank];
        let open = vec![1.0; 2 * flank];
        let fall = rise.iter().rev().copied().collect();
        [dark.clone(), rise, open, fall, dark].concat()
    }

    #[test]
    fn the_edges_lie_just_outside_the_flanks() {
        for flank in [10, 50, 200] {
            let x = shot(flank);
            let (rise, fall) = (rise(&x, 1.0, 1e-5).unwrap(), fall(&x, 1.0, 1e-5).unwrap());
            let length = flank as f64;
            let beyond = |inner: f64, outer: f64| {
                let by = (outer - inner) / length;
                assert!((-0.02..0.1 + 4.0 / length).contains(&by), "{flank}: {by}");
            };
            beyond(rise.dark, 2.0 * length);
            beyond(3.0 * length, rise.open);
            beyond(fall.open, 5.0 * length);
            beyond(6.0 * length, fall.dark);
        }
    }

    #[test]
    fn noise_does_not_cut_the_foot_off() {
        let (seen, all) = (0.04_f64.sqrt(), LOW.sqrt());
        let goes_on = unseen(0.04) * (all - seen);
        assert!((seen..1.3 * seen).contains(&goes_on), "{goes_on}");
    }
}
