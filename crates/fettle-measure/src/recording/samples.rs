//! The samples of all channels as they are held: whole, or in a long recording only where something
//! happens, with the means of short blocks everywhere.

use std::ops::Range;
use std::sync::Arc;

use super::means::Means;
use super::runs::Runs;

/// What is held of a recording's samples.
///
/// Time is cut into blocks of some 1/8000 s, whose means are always held, and into slots of whole
/// blocks, whose samples are held or not, for all channels alike. A copy shares all that is not
/// altered in it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Samples {
    pub(super) length: usize,
    pub(super) block: usize,
    pub(super) slot: usize,
    pub(super) tracks: Vec<Arc<Track>>,
    /// Each slot's samples, channel after channel.
    pub(super) slots: Vec<Option<Arc<[f32]>>>,
    /// For each channel the first that carries the very same samples.
    pub(super) first_alike: Vec<usize>,
}

/// What is held of one channel at all times.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Track {
    /// Means of the blocks; a block with a sample that is no number repeats the one before.
    pub(crate) means: Means,
    /// Standard deviation of the samples' white noise.
    pub(crate) noise: f64,
    /// Samples that are no numbers.
    pub(crate) not_finite: Runs,
    /// Runs of equal samples at the end of the range.
    pub(crate) clipped: Runs,
}

impl Samples {
    /// Samples of each channel.
    pub(crate) const fn length(&self) -> usize {
        self.length
    }

    pub(crate) const fn channels(&self) -> usize {
        self.tracks.len()
    }

    /// Samples a block.
    pub(crate) const fn block(&self) -> usize {
        self.block
    }

    /// What is held of a channel, counted from 0, at all times.
    pub(crate) fn track(&self, channel: usize) -> &Track {
        &self.tracks[channel]
    }

    /// The channel itself, or an earlier one that carries the very same samples and not only zeros.
    pub(crate) fn first_alike(&self, channel: usize) -> usize {
        self.first_alike.get(channel).copied().unwrap_or(channel)
    }

    /// Whether every sample of a range is held; else `over` gives means for some.
    pub(crate) fn is_whole(&self, range: Range<usize>) -> bool {
        let range = self.clamped(range);
        range.is_empty()
            || self.block == 1
            || self
                .slots
                .get(range.start / self.slot..=(range.end - 1) / self.slot)
                .is_some_and(|slots| slots.iter().all(Option::is_some))
    }

    /// The values of a channel over a range, as far as it goes on: samples where they are held, the
    /// mean of its block for each other.
    pub(crate) fn over(&self, channel: usize, range: Range<usize>) -> impl Iterator<Item = f32> {
        let is_there = channel < self.channels();
        let range = self.clamped(if is_there { range } else { 0..0 });
        let slots = range.start / self.slot..range.end.div_ceil(self.slot);
        slots.flat_map(move |slot| {
            let start = slot * self.slot;
            let part = range.start.max(start)..range.end.min(start + self.slot);
            let held = self.held(channel, slot).unwrap_or_default();
            let here = held.get(part.start - start..part.end - start);
            let means = if here.is_some() { 0..0 } else { part };
            let means = means.map(move |n| self.mean_at(channel, n / self.block));
            here.unwrap_or_default().iter().copied().chain(means)
        })
    }

    /// The mean of a channel over a range; no number where a sample is none. Whole blocks enter by
    /// their means, so that it is the same whether or not their samples are held.
    pub(crate) fn mean(&self, channel: usize, range: Range<usize>) -> f64 {
        let range = self.clamped(range);
        let track = self.track(channel);
        if range.is_empty() || !track.not_finite.within(&range).is_empty() {
            return f64::NAN;
        }
        let blocks = range.start.div_ceil(self.block)..range.end / self.block;
        let sum_over = |part| self.over(channel, part).map(f64::from).sum::<f64>();
        let sum = if blocks.is_empty() {
            sum_over(range.clone())
        } else {
            let means = track.means.part(blocks.clone()).unwrap_or_default();
            let inner: f64 = means.iter().copied().map(f64::from).sum();
            sum_over(range.start..blocks.start * self.block)
                + inner * self.block as f64
                + sum_over(blocks.end * self.block..range.end)
        };
        sum / range.len() as f64
    }

    /// The longest ranges of which every sample is held.
    pub(crate) fn held_ranges(&self) -> Vec<Range<usize>> {
        let mut ranges: Vec<Range<usize>> = Vec::new();
        let held = self
            .slots
            .iter()
            .enumerate()
            .filter(|(_, slot)| slot.is_some());
        for (slot, _) in held {
            let start = slot * self.slot;
            let end = (start + self.slot).min(self.length);
            match ranges.last_mut() {
                Some(last) if last.end == start => last.end = end,
                _ => ranges.push(start..end),
            }
        }
        ranges
    }

    /// Puts other values in the place of held samples of a channel, and mends the blocks' means.
    pub(crate) fn replace(&mut self, channel: usize, start: usize, values: &[f32]) {
        let channels = self.channels().max(1);
        for (n, value) in (start..).zip(values) {
            let slot = self.slots.get_mut(n / self.slot).and_then(Option::as_mut);
            let Some(samples) = slot.map(Arc::make_mut) else {
                continue;
            };
            let place = channel * (samples.len() / channels) + n % self.slot;
            let block = n / self.block;
            if let (Some(sample), Some(track)) =
                (samples.get_mut(place), self.tracks.get_mut(channel))
            {
                let change = (value - *sample) / self.block as f32;
                Arc::make_mut(track).means.add(block, change);
                *sample = *value;
            }
        }
    }

    /// The beginning of a range as far as every sample of it is held.
    pub(crate) fn held_from(&self, range: Range<usize>) -> Range<usize> {
        let range = self.clamped(range);
        if self.block == 1 {
            return range;
        }
        let slots = self.slots.iter().skip(range.start / self.slot);
        let held = slots.take_while(|slot| slot.is_some()).count();
        let end = (range.start / self.slot + held) * self.slot;
        range.start..end.clamp(range.start, range.end)
    }

    /// Adds values to a channel from a sample on, to the blocks' means where the samples are not held.
    pub(crate) fn add(&mut self, channel: usize, start: usize, values: &[f64]) {
        let channels = self.channels().max(1);
        let (block, slot) = (self.block.max(1), self.slot.max(1));
        let Some(track) = self.tracks.get_mut(channel).map(Arc::make_mut) else {
            return;
        };
        let ends = self.length.saturating_sub(start).min(values.len());
        let mut from = 0;
        while from < ends {
            let number = (start + from) / block;
            let to = ((number + 1) * block - start).min(ends);
            let part = &values[from..to];
            let change = (part.iter().sum::<f64>() / block as f64) as f32;
            track.means.add(number, change);
            for (n, value) in (start + from..).zip(part) {
                let held = self.slots.get_mut(n / slot).and_then(Option::as_mut);
                let Some(samples) = held.map(Arc::make_mut) else {
                    continue;
                };
                let place = channel * (samples.len() / channels) + n % slot;
                if let Some(sample) = samples.get_mut(place) {
                    *sample += *value as f32;
                }
            }
            from = to;
        }
    }

    fn clamped(&self, range: Range<usize>) -> Range<usize> {
        let end = range.end.min(self.length);
        range.start.min(end)..end
    }

    fn held(&self, channel: usize, slot: usize) -> Option<&[f32]> {
        let samples = self.slots.get(slot)?.as_deref()?;
        let count = samples.len() / self.channels().max(1);
        samples.get(channel * count..(channel + 1) * count)
    }

    fn mean_at(&self, channel: usize, block: usize) -> f32 {
        let means = &self.track(channel).means;
        means.get(block).or(means.last()).unwrap_or(0.0)
    }
}
