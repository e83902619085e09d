//! A cheap look at what comes in: is there a jump, how loud is it, is it at rest?
//!
//! The same step filter as in `detect`, over block means as they come. It only says when a closer
//! look is worth while; what a shot is, the analysis decides.

use std::collections::VecDeque;

use crate::shutter::overview::median;

/// Blocks a second aimed at, as the analysis has them.
const BLOCK_RATE_HZ: f64 = 8000.0;
/// Half-width of the step filter in blocks: half a millisecond.
const HALF: usize = 4;
/// A jump stands out of the usual steps by so many standard deviations ...
const OVER_NOISE: f64 = 8.0;
/// ... by this part of full scale ...
const LEAST_STEP: f64 = 2e-4;
/// ... and reaches this part of a shot's flank seen before.
const OVER_TYPICAL: f64 = 0.1;
/// Blocks between two looks at how large the steps usually are.
const LOOK_BLOCKS: usize = 800;
/// Steps kept for it: one in 8 over the last second.
const KEPT_STEPS: usize = 1000;
const STEP_EVERY: usize = 8;

/// One channel being watched.
#[derive(Debug)]
pub(super) struct Watch {
    block: usize,
    /// The block being filled: sum and count.
    sum: f64,
    count: usize,
    /// Means of the last blocks, twice the filter's half-width.
    means: VecDeque<f64>,
    steps: VecDeque<f64>,
    blocks: usize,
    /// The usual step, as a standard deviation.
    spread: f64,
    /// Whether jumps of the amount count, as for sound.
    rectified: bool,
    /// The greatest sample and step since they were last asked for.
    peak: f32,
    steepest: f64,
    last: f32,
}

impl Watch {
    pub(super) fn new(rate_hz: f64, rectified: bool) -> Self {
        Self {
            block: ((rate_hz / BLOCK_RATE_HZ).round() as usize).max(1),
            sum: 0.0,
            count: 0,
            means: VecDeque::with_capacity(2 * HALF),
            steps: VecDeque::with_capacity(KEPT_STEPS),
            blocks: 0,
            spread: 0.0,
            rectified,
            peak: 0.0,
            steepest: 0.0,
            last: 0.0,
        }
    }

    /// Takes the next samples; gives how many blocks back from the last sample the latest jump lies.
    pub(super) fn hear(
        &mut self,
        samples: impl Iterator<Item = f32>,
        typical: f64,
    ) -> Option<usize> {
        let mut since: Option<usize> = None;
        for sample in samples {
            // A lost sample counts as the one before it: no jump.
            let sample = if sample.is_finite() {
                sample
            } else {
                self.last
            };
            self.last = sample;
            self.peak = self.peak.max(sample.abs());
            let sample = if self.rectified { sample.abs() } else { sample };
            self.sum += f64::from(sample);
            self.count += 1;
            if self.count < self.block {
                continue;
            }
            let jumped = self.end_block(typical);
            since = if jumped {
                Some(0)
            } else {
                since.map(|blocks| blocks + 1)
            };
        }
        since
    }

    fn end_block(&mut self, typical: f64) -> bool {
        let mean = self.sum / self.count as f64;
        (self.sum, self.count) = (0.0, 0);
        self.blocks += 1;
        if self.means.len() == 2 * HALF {
            self.means.pop_front();
        }
        self.means.push_back(mean);
        if self.means.len() < 2 * HALF {
            return false;
        }
        let half = |range: std::ops::Range<usize>| self.means.range(range).sum::<f64>();
        let step = (half(HALF..2 * HALF) - half(0..HALF)).abs() / HALF as f64;
        self.steepest = self.steepest.max(step);
        if self.blocks.is_multiple_of(STEP_EVERY) {
            if self.steps.len() == KEPT_STEPS {
                self.steps.pop_front();
            }
            self.steps.push_back(step);
        }
        if self.spread == 0.0 || self.blocks.is_multiple_of(LOOK_BLOCKS) {
            self.spread = median(self.steps.make_contiguous()) / 0.6745;
        }
        let floor = (OVER_NOISE * self.spread)
            .max(LEAST_STEP)
            .max(OVER_TYPICAL * typical);
        // The first tenth of a second only shows what is usual.
        self.blocks > LOOK_BLOCKS && step > floor
    }

    /// Samples a block.
    pub(super) fn block(&self) -> usize {
        self.block
    }

    /// The usual step against full scale.
    pub(super) fn spread(&self) -> f64 {
        self.spread
    }

    /// The greatest sample since the last call.
    pub(super) fn take_peak(&mut self) -> f32 {
        std::mem::take(&mut self.peak)
    }

    /// The greatest step since the last call.
    pub(super) fn take_steepest(&mut self) -> f64 {
        std::mem::take(&mut self.steepest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jump_is_noticed_and_hum_is_not() {
        let mut watch = Watch::new(48_000.0, false);
        let hum =
            |n: usize| (0.01 * (n as f64 * 50.0 / 48_000.0 * std::f64::consts::TAU).sin()) as f32;
        let quiet = watch.hear((0..48_000).map(hum), 0.0);
        assert_eq!(quiet, None);
        let jump = watch.hear(
            (48_000..52_800).map(|n| hum(n) + if n > 50_400 { 0.3 } else { 0.0 }),
            0.0,
        );
        let blocks = jump.unwrap();
        assert!(
            (390..=400).contains(&blocks),
            "{blocks} blocks after the jump"
        );
    }

    #[test]
    fn lost_samples_are_no_jump() {
        let mut watch = Watch::new(48_000.0, false);
        let samples = (0..48_000).map(|n| {
            if (20_000..21_000).contains(&n) {
                f32::NAN
            } else {
                0.25
            }
        });
        assert_eq!(watch.hear(samples, 0.0), None);
    }
}
