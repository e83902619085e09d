//! What is noticed of one channel as its samples come in.

use super::runs::Runs;
use super::samples::Track;

/// Half-width in blocks of the step filter that tells where the level changes: half a millisecond.
const HALF: usize = 4;
/// So many equal samples in a row at the end of the range are taken for clipping.
const CLIP_RUN: usize = 3;
/// Share of full scale from which equal extremes count as clipped.
const CLIP_FROM: f32 = 0.98;
/// Where the range is not known: from this share of neighbours alike on, the values are rounded so
/// coarsely that steady light is alike by itself ...
const COARSE: f64 = 0.45;
/// ... and below it a run tells of clipping when it is so much longer than chance makes the longest.
const BEYOND_CHANCE: f64 = 1.5;
/// Second differences from which the noise is taken; of more, every second one is dropped.
const MOST_PICKS: usize = 60_000;

/// Follows one channel.
pub(super) struct Scout {
    pub(super) track: Track,
    /// Whether a sample is not zero.
    pub(super) sounds: bool,
    /// For each slot the greatest step of the level within it, and the widest block.
    pub(super) steps: Vec<f32>,
    pub(super) widths: Vec<f32>,
    block: usize,
    blocks_a_slot: usize,
    /// The block boundary whose step comes next.
    boundary: usize,
    picks: Picks,
    /// At the ends of the range, where these are known.
    known: Option<Ends>,
    /// At the highest value and the lowest.
    extremes: [Ends; 2],
}

impl Scout {
    /// `full_scale` is the end of the range where it is known.
    pub(super) fn new(block: usize, blocks_a_slot: usize, full_scale: Option<f32>) -> Self {
        Self {
            track: Track::default(),
            sounds: false,
            steps: Vec::new(),
            widths: Vec::new(),
            block,
            blocks_a_slot,
            boundary: HALF,
            picks: Picks::default(),
            known: full_scale.map(|full| Ends::new(Side::Both, full * CLIP_FROM)),
            extremes: [Side::High, Side::Low].map(|side| Ends::new(side, 0.0)),
        }
    }

    /// Looks at the samples of the next slot, the first of which is number `start`.
    pub(super) fn take(&mut self, samples: &[f32], start: usize) {
        let mut widest = 0.0_f32;
        for (index, block) in samples.chunks(self.block).enumerate() {
            let from = start + index * self.block;
            let (mut sum, mut low, mut high) = (0.0_f64, f32::INFINITY, f32::NEG_INFINITY);
            for sample in block {
                sum += f64::from(*sample);
                low = if *sample < low { *sample } else { low };
                high = if *sample > high { *sample } else { high };
            }
            self.sounds |= low != 0.0 || high != 0.0;
            let mean = (sum / block.len() as f64) as f32;
            if mean.is_finite() {
                widest = widest.max(high - low);
            } else {
                self.note_not_finite(block, from);
            }
            if block.len() == self.block {
                let before = self.track.means.last().unwrap_or(0.0);
                self.track
                    .means
                    .push(if mean.is_finite() { mean } else { before });
            }
            for ends in self.known.iter_mut().chain(&mut self.extremes) {
                ends.look(block, from, low, high);
            }
        }
        self.widths.push(widest);
        self.picks.take(samples, start);
        self.follow_level();
    }

    fn note_not_finite(&mut self, block: &[f32], start: usize) {
        for (n, sample) in block.iter().enumerate() {
            if !sample.is_finite() {
                self.track.not_finite.push(start + n, 1);
            }
        }
    }

    fn follow_level(&mut self) {
        let means = &self.track.means;
        self.steps.resize(self.widths.len(), 0.0);
        while let Some(near) = means.part(self.boundary - HALF..self.boundary + HALF) {
            let (before, after) = near.split_at(HALF);
            let step = (after.iter().sum::<f32>() - before.iter().sum::<f32>()).abs();
            if let Some(most) = self.steps.get_mut(self.boundary / self.blocks_a_slot) {
                *most = most.max(step);
            }
            self.boundary += 1;
        }
    }

    pub(super) fn finish(mut self) -> Track {
        self.track.noise = self.picks.white_noise();
        for ends in self.known.iter_mut().chain(&mut self.extremes) {
            ends.close();
        }
        let samples = self.track.means.len() * self.block;
        let longest = self.picks.longest_by_chance(samples);
        let known = self.known.map(|ends| ends.runs);
        // What was clipped may have been turned down after that.
        self.track.clipped = known
            .filter(|runs| runs.count() > 0)
            .unwrap_or_else(|| at_extremes(self.extremes, longest));
        self.track
    }
}

/// Second differences of the samples, evenly spread over all of them.
struct Picks {
    values: Vec<f32>,
    /// How often neighbours were compared, and how often they were alike.
    compared: u32,
    alike: u32,
    stride: usize,
    next: usize,
}

impl Default for Picks {
    fn default() -> Self {
        Self {
            values: Vec::new(),
            compared: 0,
            alike: 0,
            stride: 3,
            next: 0,
        }
    }
}

impl Picks {
    fn take(&mut self, samples: &[f32], start: usize) {
        self.next = self.next.max(start);
        while let Some([a, b, c]) = samples
            .get(self.next - start..)
            .and_then(|rest| rest.first_chunk())
        {
            let second = f64::from(*a) - 2.0 * f64::from(*b) + f64::from(*c);
            if second.is_finite() {
                self.compared = self.compared.saturating_add(1);
                self.alike = self
                    .alike
                    .saturating_add(u32::from(a.to_bits() == b.to_bits()));
                self.values.push(second.abs() as f32);
            }
            self.next += self.stride;
            if self.values.len() >= MOST_PICKS {
                let mut index = 0;
                self.values.retain(|_| {
                    index += 1;
                    index % 2 == 1
                });
                self.stride *= 2;
            }
        }
    }

    /// White noise by the second differences' median magnitude, so that flanks do not count.
    fn white_noise(&mut self) -> f64 {
        let middle = self.values.len() / 2;
        if self.values.is_empty() {
            return 0.0;
        }
        let (_, median, _) = self.values.select_nth_unstable_by(middle, f32::total_cmp);
        // Median of |N(0,1)| is 0.6745; a second difference has 6 times the variance.
        f64::from(*median) / 0.6745 / 6.0_f64.sqrt()
    }
}

impl Picks {
    /// A run of equal samples among so many that noise and rounding may well make.
    fn longest_by_chance(&self, samples: usize) -> usize {
        let share = f64::from(self.alike) / f64::from(self.compared.max(1));
        if share >= COARSE {
            return usize::MAX;
        }
        // The light may stand nearer the middle of a step than the dark does.
        let chance = (1.5 * share).max(f64::MIN_POSITIVE);
        (BEYOND_CHANCE * (samples as f64).ln() / -chance.ln()) as usize
    }
}

/// Runs of more than so many samples at the highest value and at the lowest, when it lies about as far from zero.
fn at_extremes(extremes: [Ends; 2], longest: usize) -> Runs {
    let farthest = extremes.iter().fold(0.0, |most, it| it.limit.max(most));
    extremes
        .into_iter()
        .filter(|it| it.limit >= CLIP_FROM * farthest)
        .map(|it| it.runs.longer_than(longest))
        .fold(Runs::default(), Runs::and)
}

/// Which values count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Both,
    High,
    Low,
}

/// Runs of equal samples at the ends of the range, or at the greatest value of one side.
struct Ends {
    limit: f32,
    side: Side,
    runs: Runs,
    /// The run under way.
    value: f32,
    start: usize,
    count: usize,
}

impl Ends {
    fn new(side: Side, limit: f32) -> Self {
        Self {
            limit,
            side,
            runs: Runs::default(),
            value: 0.0,
            start: 0,
            count: 0,
        }
    }

    fn look(&mut self, block: &[f32], start: usize, low: f32, high: f32) {
        let most = match self.side {
            Side::Both => high.max(-low),
            Side::High => high,
            Side::Low => -low,
        };
        if most < self.limit {
            self.close();
            return;
        }
        for (n, sample) in (start..).zip(block) {
            let size = match self.side {
                Side::Both => sample.abs(),
                Side::High => *sample,
                Side::Low => -sample,
            };
            if self.side != Side::Both && size > self.limit && size.is_finite() {
                self.limit = size;
                self.runs.clear();
                self.count = 0;
            }
            if self.count > 0 && sample.to_bits() == self.value.to_bits() {
                self.count += 1;
                continue;
            }
            self.close();
            if size >= self.limit && size > 0.0 && size.is_finite() {
                (self.value, self.start, self.count) = (*sample, n, 1);
            }
        }
    }

    /// Ends the run under way.
    fn close(&mut self) {
        if self.count >= CLIP_RUN {
            self.runs.push(self.start, self.count);
        }
        self.count = 0;
    }
}
