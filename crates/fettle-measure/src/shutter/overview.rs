//! One channel at a glance: block means at some 8 kHz, noise, what is damaged.

use std::ops::Range;

use crate::recording::{Means, Samples, Track};

/// Block means of one channel and what was noticed while taking them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Overview<'a> {
    /// Seconds between samples.
    pub(crate) dt: f64,
    /// Samples a block.
    pub(crate) block: usize,
    /// Means of the blocks, noise, runs at the end of the range, samples that are no numbers.
    pub(crate) track: &'a Track,
    /// Median of the blocks: the dark level, as the shutter is mostly closed.
    pub(crate) dark: f64,
}

impl<'a> Overview<'a> {
    /// Looks over a channel, counted from 0, of samples `dt` seconds apart.
    pub(crate) fn of(samples: &'a Samples, channel: usize, dt: f64) -> Self {
        let track = samples.track(channel);
        Self {
            dt,
            block: samples.block(),
            track,
            dark: median(&thinned(
                track.means.iter().map(f64::from),
                track.means.len(),
            )),
        }
    }

    /// Means of the blocks.
    pub(crate) fn means(&self) -> &'a Means {
        &self.track.means
    }

    /// Means of the blocks, so many of them taken together, over a range of what that gives.
    pub(crate) fn merged(&self, count: usize, range: Range<usize>) -> Vec<f64> {
        let count = count.max(1);
        let means = self.means();
        let of = |n: usize| {
            let part = means.part(n * count..(n + 1) * count).unwrap_or_default();
            part.iter().copied().map(f64::from).sum::<f64>() / count as f64
        };
        let end = range.end.min(means.len() / count);
        (range.start..end).map(of).collect()
    }

    /// Samples in whole blocks.
    pub(crate) fn length(&self) -> usize {
        self.track.means.len() * self.block
    }

    /// Seconds between blocks.
    pub(crate) fn block_dt(&self) -> f64 {
        self.dt * self.block as f64
    }

    /// Whether the channel carries nothing: all samples alike.
    pub(crate) fn is_dead(&self) -> bool {
        let means = self.means();
        let (low, high) = means.span();
        means.len() < 16 || high - low <= f32::EPSILON * high.abs().max(1e-6)
    }
}

/// Means of so many blocks each.
pub(crate) fn merged(blocks: &[f32], count: usize) -> Vec<f64> {
    let sum = |chunk: &[f32]| chunk.iter().copied().map(f64::from).sum::<f64>();
    blocks
        .chunks_exact(count.max(1))
        .map(|chunk| sum(chunk) / count.max(1) as f64)
        .collect()
}

/// Median of a list, 0 for none.
pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    let middle = sorted.len() / 2;
    if sorted.is_empty() {
        return 0.0;
    }
    let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    *median
}

/// At most some 20 000 of `count` values, evenly spread.
pub(crate) fn thinned<T>(values: impl Iterator<Item = T>, count: usize) -> Vec<T> {
    values.step_by(count / 20_000 + 1).collect()
}
