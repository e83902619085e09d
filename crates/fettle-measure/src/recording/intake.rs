//! Takes in samples as they are decoded and holds of them what measuring needs.
//!
//! A recording of no more than so many samples is held whole. Of a longer one the means of short
//! blocks are held, and the samples of those slots in or near which the level of some channel steps
//! or a block is unusually wide: against what is usual in that channel, so that neither gain nor noise
//! nor hum matter. Where even these are too many, the least unusual go.

use std::sync::Arc;

use super::samples::Samples;
use super::scout::Scout;

/// Blocks a second aimed at; fine enough to see flanks of a millisecond.
const BLOCK_RATE_HZ: f64 = 8000.0;
/// Samples of all channels together that are held: 24 MB. A recording of no more is held whole.
pub(super) const MOST_HELD: usize = 6_000_000;
/// Samples of all channels together that are looked at: some 20 minutes of two channels at 96 kHz.
pub(super) const MOST_SAMPLES: usize = 250_000_000;
/// Blocks of all channels together, whose means are all held: 128 MB.
const MOST_BLOCKS: usize = 32_000_000;
/// Blocks a slot, where that is not more samples than these.
const BLOCKS_A_SLOT: usize = 64;
const LONGEST_SLOT: usize = 4096;
/// Held before and after a slot in which something happens: a flank's foot; bounce and tail.
const BEFORE_S: f64 = 8e-3;
const AFTER_S: f64 = 48e-3;
/// At most so many slots.
const FARTHEST: usize = 64;
/// How many times its usual value a step or width must reach.
const UNUSUAL: f32 = 2.0;
/// Below this a usual value is counted as this: less than a step of 24 bits.
const LEAST_USUAL: f32 = 5e-8;
/// Values from which the usual one is taken.
const ASKED: usize = 4096;

/// Takes in a recording.
pub(super) struct Intake {
    most_held: usize,
    block: usize,
    slot: usize,
    before: usize,
    after: usize,
    scouts: Vec<Scout>,
    first_alike: Vec<usize>,
    /// Shared from the start, as copying them in the end would leave holes in the memory as large as they are.
    slots: Vec<Option<Arc<[f32]>>>,
    /// Slots whose samples are held.
    held: usize,
    /// Slots before this one are held or not for good, but for want of room.
    decided: usize,
    /// How unusual a slot must be.
    least: f32,
    /// The slot under way, channel after channel, and how far it is filled.
    filling: Arc<[f32]>,
    filled: usize,
    spare: Vec<Arc<[f32]>>,
}

impl Intake {
    /// For `channels` channels at `rate` samples a second; `full_scale` is the end of the range where
    /// it is known.
    pub(super) fn new(
        rate: f64,
        channels: usize,
        full_scale: Option<f32>,
        most_held: usize,
    ) -> Self {
        let block = ((rate / BLOCK_RATE_HZ).round() as usize).max(1);
        let blocks_a_slot = (LONGEST_SLOT / block).clamp(1, BLOCKS_A_SLOT);
        let slot = block * blocks_a_slot;
        let slots_in =
            |seconds: f64| ((seconds * rate / slot as f64).ceil() as usize).clamp(1, FARTHEST);
        Self {
            most_held,
            block,
            slot,
            before: slots_in(BEFORE_S),
            after: slots_in(AFTER_S),
            scouts: (0..channels)
                .map(|_| Scout::new(block, blocks_a_slot, full_scale))
                .collect(),
            first_alike: vec![0; channels],
            slots: Vec::new(),
            held: 0,
            decided: 0,
            least: UNUSUAL,
            filling: vec![0.0; slot * channels].into(),
            filled: 0,
            spare: Vec::new(),
        }
    }

    /// Samples of each channel so far.
    pub(super) fn length(&self) -> usize {
        self.slots.len() * self.slot + self.filled
    }

    pub(super) const fn channels(&self) -> usize {
        self.scouts.len()
    }

    /// Samples of each channel at most.
    pub(super) fn most_samples(&self) -> usize {
        MOST_SAMPLES.min(MOST_BLOCKS * self.block) / self.scouts.len().max(1)
    }

    /// Takes the next samples of each channel, equally many.
    pub(super) fn push(&mut self, part: &[Vec<f32>]) {
        let count = part.iter().map(Vec::len).min().unwrap_or(0);
        let mut from = 0;
        while from < count {
            let size = (count - from).min(self.slot - self.filled);
            let places = Arc::make_mut(&mut self.filling).chunks_exact_mut(self.slot);
            for (place, samples) in places.zip(part) {
                place[self.filled..self.filled + size].copy_from_slice(&samples[from..from + size]);
            }
            self.filled += size;
            from += size;
            if self.filled == self.slot {
                self.close_slot();
            }
        }
    }

    fn close_slot(&mut self) {
        let start = self.slots.len() * self.slot;
        let channels: Vec<&[f32]> = self.filling.chunks_exact(self.filled).collect();
        for (scout, samples) in self.scouts.iter_mut().zip(&channels) {
            scout.take(samples, start);
        }
        // Channels alike so far part where their samples in this slot do.
        let before = self.first_alike.clone();
        for channel in 1..channels.len() {
            let is_like = |other: &usize| {
                before[*other] == before[channel]
                    && self.first_alike[*other] == *other
                    && same(channels[*other], channels[channel])
            };
            self.first_alike[channel] = (0..channel).find(is_like).unwrap_or(channel);
        }
        let next = self.spare.pop();
        let next = next.unwrap_or_else(|| vec![0.0; self.slot * self.scouts.len()].into());
        self.slots
            .push(Some(std::mem::replace(&mut self.filling, next)));
        self.held += 1;
        self.filled = 0;
        let a_slot = self.slot * self.scouts.len();
        let undecided = self.slots.len() - self.decided;
        if self.slots.len() * a_slot > self.most_held && undecided * a_slot > self.most_held / 8 {
            // A slot's steps are known when the next has come, and what lies before them is held.
            self.thin((self.slots.len() - 1).saturating_sub(self.before));
        }
    }

    /// Lets go of slots before `end` that nothing happens near.
    fn thin(&mut self, end: usize) {
        let unusual = self.unusual();
        let (before, after) = (self.before, self.after);
        let near = |slot: usize| {
            let to = (slot + before + 1).min(unusual.len());
            let from = slot.saturating_sub(after).min(to);
            unusual[from..to]
                .iter()
                .fold(0.0, |most: f32, it| most.max(*it))
        };
        for slot in self.decided.min(end)..end {
            if near(slot) < self.least || self.block == 1 {
                self.held -= usize::from(self.slots[slot].is_some());
                self.spare.extend(self.slots[slot].take());
            }
        }
        self.decided = end.max(self.decided);
        let room = self.most_held / (self.slot * self.scouts.len()).max(1);
        if self.held > room {
            let held = (0..self.decided).filter(|slot| self.slots[*slot].is_some());
            let mut merits: Vec<(f32, usize)> = held.map(|slot| (near(slot), slot)).collect();
            merits.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            // Some room is left, so that this is seldom done.
            for (merit, slot) in merits.drain((room * 3 / 4).min(merits.len())..) {
                self.least = self.least.max(merit);
                self.held -= 1;
                self.spare.extend(self.slots[slot].take());
            }
        }
        // The slots on their way to be decided need no more.
        self.spare.truncate(self.slots.len() - self.decided + 1);
    }

    /// How many times what is usual each slot's step or width is, in the channel where it is most.
    fn unusual(&self) -> Vec<f32> {
        let mut most = vec![0.0_f32; self.slots.len()];
        for values in self.scouts.iter().flat_map(|it| [&it.steps, &it.widths]) {
            let usual = usual(values).max(LEAST_USUAL);
            for (most, value) in most.iter_mut().zip(values) {
                *most = most.max(value / usual);
            }
        }
        most
    }

    /// What is held in the end.
    pub(super) fn finish(mut self) -> Samples {
        let length = self.length();
        if self.filled > 0 {
            let whole = std::mem::take(&mut self.filling);
            let parts = whole.chunks_exact(self.slot);
            self.filling = parts
                .flat_map(|part| &part[..self.filled])
                .copied()
                .collect();
            self.close_slot();
        }
        if self.decided > 0 {
            self.thin(self.slots.len());
        }
        let first_alike = (0..self.scouts.len())
            .map(|channel| {
                let first = self.first_alike[channel];
                if self.scouts[channel].sounds {
                    first
                } else {
                    channel
                }
            })
            .collect();
        Samples {
            length,
            block: self.block,
            slot: self.slot,
            tracks: self
                .scouts
                .into_iter()
                .map(|scout| scout.finish().into())
                .collect(),
            slots: self.slots,
            first_alike,
        }
    }
}

fn same(a: &[f32], b: &[f32]) -> bool {
    a.iter().zip(b).all(|(a, b)| a.to_bits() == b.to_bits())
}

/// The median.
fn usual(values: &[f32]) -> f32 {
    let mut asked: Vec<f32> = values
        .iter()
        .step_by(values.len() / ASKED + 1)
        .copied()
        .collect();
    let middle = asked.len() / 2;
    if asked.is_empty() {
        return 0.0;
    }
    *asked.select_nth_unstable_by(middle, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::super::{Recording, read_holding};
    use super::*;
    use crate::shutter::{self, Options, Report};
    use crate::synth::{Chain, Firing, Hum, LeafShutter, Scene};
    use crate::{Decibels, Hertz, Seconds};

    const RATE_HZ: f64 = 48_000.0;

    /// Ten shots from 1 to 1/500 s through a chain that couples, hums, drifts and hisses.
    fn take(seed: u64) -> Vec<f32> {
        let mut at = 0.6;
        let firing = |mark: &f64| {
            let start = at;
            at += 1.0 / mark + 1.7;
            Firing::new(Seconds::s(start), Seconds::s(1.05 / mark))
        };
        let marks = [1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 125.0, 250.0, 500.0];
        let firings = marks.iter().map(firing).collect();
        let scene = Scene {
            shutter: LeafShutter::default(),
            firings,
            chain: Chain {
                sample_rate: Hertz::hz(RATE_HZ),
                bits: None,
                coupling: Some(Hertz::hz(2.0)),
                snr: Some(Decibels::db(46.0)),
                hum: Some(Hum {
                    hz: Hertz::hz(50.01),
                    wanders: Hertz::hz(0.0),
                    amplitudes: vec![0.02, 0.008, 0.006],
                }),
                offset: 0.05,
                drift: 0.01,
                ..Chain::default()
            },
            lasting: Seconds::s(at),
            seed,
        };
        scene.record().samples
    }

    fn wave(channels: &[Vec<f32>]) -> Vec<u8> {
        let spec = hound::WavSpec {
            channels: channels.len() as u16,
            sample_rate: RATE_HZ as u32,
            bits_per_sample: 24,
            sample_format: hound::SampleFormat::Int,
        };
        let mut bytes = Cursor::new(Vec::new());
        let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
        for n in 0..channels[0].len() {
            for channel in channels {
                let steps = f64::from(channel[n]) * 8_388_608.0;
                writer.write_sample(steps as i32).unwrap();
            }
        }
        writer.finalize().unwrap();
        bytes.into_inner()
    }

    fn read(bytes: &[u8], most_held: usize) -> Recording {
        read_holding("made.wav", Cursor::new(bytes), most_held).unwrap()
    }

    fn measured(recording: Recording) -> Report {
        let options = Options {
            speeds: ["1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125"]
                .map(|mark| mark.parse().unwrap())
                .to_vec(),
            ..Options::default()
        };
        shutter::analyse(&[recording], &options).unwrap()
    }

    #[test]
    fn a_recording_held_in_part_is_measured_as_one_held_whole() {
        for seed in [1, 2] {
            let bytes = wave(&[take(seed)]);
            let (whole, part) = (read(&bytes, usize::MAX), read(&bytes, 200_000));
            assert!(whole.is_whole(0..usize::MAX));
            assert!(!part.is_whole(0..usize::MAX));
            let (whole, part) = (measured(whole), measured(part));
            assert_eq!(whole.shots.len(), 10);
            assert_eq!(part.shots.len(), 10);
            for (want, got) in whole.shots.iter().zip(&part.shots) {
                for (want, got) in [
                    (want.effective_s, got.effective_s),
                    (want.uncertainty_s, got.uncertainty_s),
                    (want.total_s, got.total_s),
                ] {
                    let (want, got) = (want.unwrap().to_s(), got.unwrap().to_s());
                    assert!((got / want - 1.0).abs() < 1e-6, "{got} for {want}");
                }
                assert_eq!(want.flags, got.flags);
            }
            assert_eq!(whole.findings, part.findings);
        }
    }

    #[test]
    fn a_step_in_one_channel_is_held_in_all_with_what_lies_around() {
        let count = 20 * RATE_HZ as usize;
        let step = 5 * RATE_HZ as usize;
        let stepping = (0..count).map(|n| if n < step { 0.0 } else { 0.01 });
        let mut gauss = crate::synth::Gauss::new(5);
        let hissing = (0..count).map(|_| (0.01 * gauss.normal()) as f32);
        let channels = [stepping.collect(), hissing.collect::<Vec<f32>>()];
        let part = read(&wave(&channels), 200_000);
        let around = step - 380..step + 2_300;
        assert!(part.is_whole(around.clone()));
        assert!(!part.is_whole(0..step));
        for (want, got) in channels[1][around.clone()]
            .iter()
            .zip(part.values(1, around))
        {
            assert!((want - got).abs() < 2e-7, "{got} for {want}");
        }
        let far = 10 * RATE_HZ as usize;
        assert!(!part.is_whole(far..far + 1));
        let mean: f32 = channels[1][far..far + 6].iter().sum::<f32>() / 6.0;
        for got in part.values(1, far..far + 6) {
            assert!((got - mean).abs() < 2e-7, "{got} for {mean}");
        }
    }

    #[test]
    fn however_much_happens_no_more_is_held_than_allowed() {
        let mut gauss = crate::synth::Gauss::new(6);
        let mut level = 0.0;
        let restless = (0..2_000_000).map(|n: usize| {
            if n.is_multiple_of(3_000) {
                level = 0.3 * gauss.normal();
            }
            level as f32
        });
        let samples: Vec<f32> = restless.collect();
        let mut intake = Intake::new(RATE_HZ, 1, Some(1.0), 300_000);
        for part in samples.chunks(4_321) {
            intake.push(&[part.to_vec()]);
            let held = intake
                .slots
                .iter()
                .flatten()
                .map(|slot| slot.len())
                .sum::<usize>();
            assert!(held <= 300_000 * 5 / 4, "{held}");
        }
        let samples = intake.finish();
        assert!(samples.slots.iter().flatten().count() > 100);
        assert!(!samples.is_whole(0..2_000_000));
    }

    #[test]
    fn channels_are_alike_only_when_every_sample_is() {
        let noise = |seed| {
            let mut gauss = crate::synth::Gauss::new(seed);
            (0..100_000)
                .map(move |_| gauss.normal() as f32)
                .collect::<Vec<f32>>()
        };
        let (a, b) = (noise(1), noise(2));
        let mut late = a.clone();
        late[99_999] += 1.0;
        let zeros = vec![0.0; 100_000];
        let channels = [a.clone(), b.clone(), a, late, b, zeros.clone(), zeros];
        let recording = Recording::from_channels("a", Hertz::hz(RATE_HZ), channels.to_vec());
        let recording = recording.unwrap();
        let firsts: Vec<usize> = (0..7).map(|n| recording.samples().first_alike(n)).collect();
        assert_eq!(firsts, [0, 1, 0, 3, 1, 5, 6]);
    }
}
