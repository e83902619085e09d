//! Samples that went missing on their way into the recording: what takes their place gives them away.
//!
//! A program that falls behind loses whole buffers without a word. What comes after follows what
//! came before as if nothing had been (a cut), or the gap holds zeros, or the buffer before once
//! more. Zeros and repeats cannot come by chance where there is noise. A cut shows where the signal
//! was on its way somewhere: on a flank, or on the decay that the coupling makes of a steady light;
//! on a level stretch it leaves no trace, and only the recorder's clock can tell it
//! ([`Options::lost`](super::Options::lost)).

use std::ops::Range;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::band;
use super::channel::{Channel, Raw};
use super::local::Regions;
use super::overview::median;
use super::session::Heard;
use crate::Seconds;
use crate::recording::Samples;

/// How samples were found to be missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LostAs {
    /// Zeros stand in their place.
    Zeros,
    /// Samples from before stand there once more.
    Repeated,
    /// The signal jumps from one sample to the next as no shutter makes it.
    Cut,
    /// The recorder fell behind its clock.
    Told,
}

/// A stretch of a recording within which samples are missing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LostStretch {
    /// The recording; `None` stands for every one.
    pub recording: Option<String>,
    /// Where it begins, on the recording's own clock.
    pub from_s: Seconds,
    /// Where it ends.
    pub to_s: Seconds,
}

/// A piece of a channel that is not what the sensor gave.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piece {
    pub(super) samples: Range<usize>,
    pub(super) lost_as: LostAs,
}

/// What is looked at before and after a shot.
const BEFORE_S: f64 = 0.1;
const AFTER_S: f64 = 0.3;
/// A stretch that was told spoils the shots this near.
const TOLD_WITHIN_S: f64 = 5e-3;
/// The shortest run of zeros or repeated samples that is looked for.
const LEAST: usize = 64;
/// Samples on either side of a run that show what is usual there.
const BESIDE: usize = 96;
/// Where more neighbours than this are alike, the samples' steps hide the noise.
const MOST_ALIKE: f64 = 0.6;
/// A run's surprise, in nats, given how often the value comes beside it.
const SURPRISE: f64 = 40.0;
/// More of a stretch than this in runs of zeros, and that is how its dark looks.
const MOST_ZERO: f64 = 0.1;
/// A repeat lies at most this far from what it repeats.
const REPEATS_WITHIN_S: f64 = 0.5;
/// A stretch that is given again comes at most so many times.
const MOST_COPIES: usize = 3;
/// Samples that a repeat is known by at first.
const KEY: usize = 32;
/// A jump stands out of the noise by so many standard deviations ...
const OVER_NOISE: f64 = 12.0;
/// ... and out of all others of its stretch by this factor.
const OVER_OTHERS: f64 = 4.0;
/// A jump on a flank is this part of the light at least.
const LEAST_JUMP: f64 = 0.02;
/// A lamp's own jumps are at most so many times its flicker.
const SWITCHED: f64 = 4.0;
/// A coding's own jumps are at most so many times the echoes beside the flanks.
const OVER_ECHO: f64 = 12.0;
/// Half-widths of the step filters for level stretches, in samples.
const WIDTHS: [usize; 4] = [2, 8, 32, 96];
/// A jump on a level stretch is this part of the light at least.
const LEAST_ON_LEVEL: f64 = 1e-3;
/// Samples over which the slope beside a jump is taken, at most and at least.
const SLOPE: usize = 256;
const LEAST_SLOPE: usize = 8;
/// At least this part of a jump is still there beside it.
const STAYS: f64 = 0.5;
/// A cut takes out so much.
const CUT_S: Range<f64> = 0.8e-3..0.5;

/// Looks around each shot of a channel, and spoils the shots within whose surroundings something is
/// missing; `told` are stretches known to miss samples.
pub(super) fn look(heard: &mut Heard<'_>, told: &[LostStretch]) {
    let Heard {
        recording, channel, ..
    } = heard;
    let rate = channel.signal.dt.recip();
    let name = recording.name();
    let is_here = |it: &&LostStretch| it.recording.as_deref().is_none_or(|of| of == name);
    let told = told.iter().filter(is_here).map(|it| {
        let sample = |time: Seconds| (time.to_s().max(0.0) * rate) as usize;
        Piece {
            samples: sample(it.from_s)..sample(it.to_s).max(sample(it.from_s) + 1),
            lost_as: LostAs::Told,
        }
    });
    let mut pieces: Vec<Piece> = told.collect();
    let seen = channel.shots.par_iter().flat_map_iter(|raw| {
        let echo = if channel.limited {
            band::echo(&channel.signal, raw)
        } else {
            0.0
        };
        of_shot(channel, recording.samples(), raw, echo)
    });
    pieces.par_extend(seen);
    pieces.sort_by_key(|it| (it.samples.start, it.samples.end));
    pieces.dedup();
    channel.lost = pieces;
    let touched: Vec<bool> = channel
        .shots
        .iter()
        .map(|raw| channel.has_lost(&raw.local.regions))
        .collect();
    for (raw, touched) in channel.shots.iter_mut().zip(touched) {
        raw.spoiled |= touched;
    }
}

impl Channel<'_> {
    /// Whether samples are missing where a shot with these ranges would need them.
    pub(super) fn has_lost(&self, regions: &Regions) -> bool {
        let near = (TOLD_WITHIN_S / self.signal.dt) as usize;
        let whole = looked_at(self, regions);
        let event = regions.first.saturating_sub(near)..regions.after + near;
        self.lost.iter().any(|it| {
            let within = if it.lost_as == LostAs::Told {
                &event
            } else {
                &whole
            };
            it.samples.start < within.end && it.samples.end > within.start
        })
    }
}

fn looked_at(channel: &Channel<'_>, regions: &Regions) -> Range<usize> {
    let samples = |seconds: f64| (seconds / channel.signal.dt) as usize;
    let from = regions.first.saturating_sub(samples(BEFORE_S));
    from.max(regions.before)..(regions.after + samples(AFTER_S)).min(regions.end)
}

/// What is missing around one shot, next to whose flanks a lossy coding leaves `echo`.
fn of_shot(channel: &Channel<'_>, samples: &Samples, raw: &Raw, echo: f64) -> Vec<Piece> {
    let regions = &raw.local.regions;
    let signal = &channel.signal;
    let range = looked_at(channel, regions);
    let mut x: Vec<f32> = Vec::with_capacity(range.len());
    x.extend(samples.over(signal.channel, range.clone()));
    let within = (REPEATS_WITHIN_S / signal.dt) as usize;
    let mut found: Vec<(Range<usize>, LostAs)> = Vec::new();
    found.extend(zeros(&x).into_iter().map(|it| (it, LostAs::Zeros)));
    found.extend(
        repeats(&x, within)
            .into_iter()
            .map(|it| (it, LostAs::Repeated)),
    );
    // What is no shutter's light jumps by itself.
    if found.is_empty() && !raw.spoiled {
        let here = |at: usize| at.saturating_sub(range.start);
        let track = channel.overview.track;
        let around = Around {
            x: &x,
            ends: [here(regions.first), here(regions.after)],
            middle: [here(regions.open), here(regions.second)],
            at_end: track
                .clipped
                .within(&range)
                .iter()
                .map(|run| here(run.start)..here(run.end))
                .collect(),
            noise: signal.noise,
            switched: channel.flicker().map_or(0.0, |it| it.depth),
            echo,
            dt: signal.dt,
        };
        // A jump can pass for a click; a click is none, for the signal comes back from it.
        let clicks = channel
            .clicks
            .iter()
            .filter(|it| it.samples.start < range.end && it.samples.end > range.start);
        let clicks: Vec<Range<usize>> = clicks
            .map(|it| here(it.samples.start)..here(it.samples.end))
            .collect();
        let is_cut = |at: &usize| {
            let click = clicks
                .iter()
                .find(|it| it.start <= *at + 3 && *at <= it.end + 3);
            clicks.is_empty() || click.is_some_and(|it| stays(&x, it, signal.noise))
        };
        let cut = around.cut().filter(is_cut);
        found.extend(cut.map(|at| (at..at + 1, LostAs::Cut)));
    }
    found
        .into_iter()
        .map(|(part, lost_as)| Piece {
            samples: part.start + range.start..part.end + range.start,
            lost_as,
        })
        .collect()
}

/// Part of neighbouring samples that are equal.
fn alike(x: &[f32]) -> f64 {
    let pairs = x.len().saturating_sub(1).max(1) as f64;
    x.windows(2).filter(|two| two.first() == two.last()).count() as f64 / pairs
}

/// Runs of zeros that noise cannot make.
fn zeros(x: &[f32]) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    let mut from = 0;
    for part in x.chunk_by(|a, b| (*a == 0.0) == (*b == 0.0)) {
        if part.first() == Some(&0.0) && part.len() >= LEAST {
            runs.push(from..from + part.len());
        }
        from += part.len();
    }
    let is_noisy = |beside: &[f32]| beside.len() >= LEAST && alike(beside) < MOST_ALIKE;
    let strange = |run: &Range<usize>| {
        let before = x.get(run.start.saturating_sub(BESIDE)..run.start);
        let after = x.get(run.end..(run.end + BESIDE).min(x.len()));
        let (Some(before), Some(after)) = (before, after) else {
            return false;
        };
        let beside = before.iter().chain(after);
        let zero = beside.clone().filter(|it| **it == 0.0).count() as f64;
        let chance = (zero + 1.0) / (beside.count() as f64 + 2.0);
        is_noisy(before) && is_noisy(after) && -chance.ln() * run.len() as f64 > SURPRISE
    };
    let natural: usize = runs
        .iter()
        .filter(|run| !strange(run))
        .map(Range::len)
        .sum();
    if natural as f64 > MOST_ZERO * x.len() as f64 {
        return Vec::new();
    }
    runs.retain(strange);
    runs
}

/// Stretches that repeat, sample for sample, what came at most `within` samples before.
fn repeats(x: &[f32], within: usize) -> Vec<Range<usize>> {
    const FACTOR: u64 = 0x9E37_79B9_7F4A_7C15;
    /// One place in so many is noted, by its own key, so that both copies note the same.
    const EVERY: u64 = 8;
    const SLOTS: usize = 1 << 14;
    let mut noted: Vec<usize> = vec![usize::MAX; SLOTS];
    let mut found: Vec<Range<usize>> = Vec::new();
    let first_factor = (0..KEY).fold(1_u64, |power, _| power.wrapping_mul(FACTOR));
    let mut key = 0_u64;
    for (n, sample) in x.iter().enumerate() {
        key = key
            .wrapping_mul(FACTOR)
            .wrapping_add(u64::from(sample.to_bits()) + 1);
        if let Some(gone) = n.checked_sub(KEY).and_then(|gone| x.get(gone)) {
            key = key.wrapping_sub(first_factor.wrapping_mul(u64::from(gone.to_bits()) + 1));
        }
        // The low bits of such a key depend on few samples' low bits.
        let mixed = (key ^ (key >> 32)).wrapping_mul(FACTOR) >> 32;
        if n + 1 < KEY || !mixed.is_multiple_of(EVERY) || found.last().is_some_and(|it| n < it.end)
        {
            continue;
        }
        let slot = (mixed / EVERY) as usize % SLOTS;
        let before = noted.get(slot).copied().unwrap_or(usize::MAX);
        if let Some(place) = noted.get_mut(slot) {
            *place = n;
        }
        if before < n && n - before <= within {
            found.extend(repeat(x, before, n));
        }
    }
    found
}

/// The stretch around `n` that repeats the one around `before`, when it is long and noisy enough.
fn repeat(x: &[f32], before: usize, n: usize) -> Option<Range<usize>> {
    let lag = n - before;
    let same = |at: &usize| {
        at.checked_sub(lag)
            .is_some_and(|old| x.get(*at) == x.get(old))
    };
    let back = (0..=n).rev().take_while(same).count();
    let on = (n + 1..x.len()).take_while(same).count();
    let run = n + 1 - back..n + 1 + on;
    let part = x.get(run.clone())?;
    let noisy = alike(part) < MOST_ALIKE;
    // What recurs over and over has a period of its own; a buffer is given twice or three times.
    let recurs = part.len() > MOST_COPIES * lag;
    (part.len() >= LEAST && noisy && !recurs && !is_smooth(part)).then_some(run)
}

/// Whether samples follow a smooth course, as a signal made without noise does: it repeats itself as
/// often as its lamp.
fn is_smooth(part: &[f32]) -> bool {
    let steps = part.windows(2).map(|two| f64::from(two[1] - two[0]));
    let turns = part
        .windows(3)
        .filter(|it| (it[1] - it[0]) * (it[2] - it[1]) < 0.0)
        .count();
    steps.count() > 4 * turns.max(1)
}

/// Whether the signal is another after a click than before it.
fn stays(x: &[f32], click: &Range<usize>, noise: f64) -> bool {
    const SAMPLES: usize = 8;
    let mean = |from: usize| {
        let part = x.get(from..from + SAMPLES)?;
        Some(part.iter().copied().map(f64::from).sum::<f64>() / SAMPLES as f64)
    };
    let before = click.start.checked_sub(SAMPLES).and_then(mean);
    let apart = before
        .zip(mean(click.end))
        .map_or(0.0, |(a, b)| (a - b).abs());
    apart > OVER_NOISE * noise * (2.0 / SAMPLES as f64).sqrt()
}

/// The samples around a shot.
struct Around<'x> {
    x: &'x [f32],
    /// Where the shot begins and ends, and its plateau, if it has any.
    ends: [usize; 2],
    middle: [usize; 2],
    /// Runs at the end of the range, which are not the signal.
    at_end: Vec<Range<usize>>,
    noise: f64,
    /// By which part of itself the light may jump.
    switched: f64,
    /// What a lossy coding leaves beside flanks.
    echo: f64,
    dt: f64,
}

impl Around<'_> {
    /// Where a piece was cut out.
    fn cut(&self) -> Option<usize> {
        let [first, after] = self.ends;
        let [open, second] = self.middle;
        let inside = self.x.get(first..after)?;
        let (low, high) = inside.iter().fold((f32::MAX, f32::MIN), |(low, high), it| {
            (low.min(*it), high.max(*it))
        });
        let light = f64::from(high - low);
        if !(light > 0.0 && light.is_finite() && self.noise > 0.0) {
            return None;
        }
        let flanks = if second > open {
            [first..open, second..after]
        } else {
            [first..after, after..after]
        };
        let [opening, closing] = &flanks;
        self.on_flank(opening, closing, light)
            .or_else(|| self.on_flank(closing, opening, light))
            .or_else(|| self.on_levels(open..second, light))
            .or_else(|| self.on_levels(after..self.x.len(), light))
    }

    /// On what of a stretch lies within the range: where the light comes back into it the signal turns sharply.
    fn on_levels(&self, stretch: Range<usize>, light: f64) -> Option<usize> {
        let ends = self.at_end.iter().map(|run| run.end);
        let starts = self.at_end.iter().map(|run| run.start);
        let from = std::iter::once(0).chain(ends);
        let to = starts.chain(std::iter::once(self.x.len()));
        from.zip(to)
            .map(|(from, to)| from.max(stretch.start)..to.min(stretch.end))
            .find_map(|part| self.on_level(&part, light))
    }

    /// A flank goes evenly; where samples are missing in it, one step is as long as many.
    fn on_flank(&self, flank: &Range<usize>, other: &Range<usize>, light: f64) -> Option<usize> {
        let sharpest = |range: Range<usize>| {
            range
                .map(|n| (kink(self.x, n), n))
                .max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let (most, at) = sharpest(flank.clone())?;
        let beside = [
            flank.start..at.saturating_sub(2),
            at + 3..flank.end,
            other.clone(),
        ];
        let second = beside
            .into_iter()
            .filter_map(sharpest)
            .fold(0.0, |second: f64, it| second.max(it.0));
        let least = (LEAST_JUMP.max(SWITCHED * self.switched) * light)
            .max(OVER_NOISE * self.noise)
            .max(OVER_ECHO * self.echo);
        (most > OVER_OTHERS * second && most > least && is_alone(self.x, at)).then_some(at)
    }

    /// A jump on a stretch of steady light or dark, the way the stretch was going and as far as it goes
    /// in the time that a cut takes out.
    fn on_level(&self, range: &Range<usize>, light: f64) -> Option<usize> {
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for value in self.x.get(range.clone())? {
            sum += f64::from(*value);
            sums.push(sum);
        }
        let least = LEAST_ON_LEVEL.max(SWITCHED * self.switched) * light;
        let least = least.max(OVER_ECHO * self.echo);
        WIDTHS.iter().find_map(|width| {
            let (at, missing) = jump(&sums, *width, self.noise, least)?;
            CUT_S
                .contains(&(missing * self.dt))
                .then_some(range.start + at)
        })
    }
}

/// A step from sample to sample with those before and after it.
fn steps(x: &[f32], n: usize) -> Option<[f64; 3]> {
    let four = n.checked_sub(2).and_then(|from| x.get(from..from + 4))?;
    let &[a, b, c, d] = four else { return None };
    Some([b - a, c - b, d - c].map(f64::from))
}

/// How far one step from sample to sample exceeds those beside it.
fn kink(x: &[f32], n: usize) -> f64 {
    steps(x, n).map_or(0.0, |[before, here, after]| {
        (here - 0.5 * (before + after)).abs()
    })
}

/// Whether a step is longer than both beside it by as much. Where a flank begins or ends its steps change, but none
/// stands out of both its neighbours.
fn is_alone(x: &[f32], n: usize) -> bool {
    steps(x, n).is_some_and(|[before, here, after]| {
        let beside = (before * here.signum()).max(after * here.signum());
        here.abs() - beside > 0.5 * kink(x, n)
    })
}

/// The jump of a stretch, given by its running sums, that stands out of all others and of `least`: its
/// place and how many samples' way it makes.
fn jump(sums: &[f64], width: usize, noise: f64, least: f64) -> Option<(usize, f64)> {
    let length = sums.len().checked_sub(1)?;
    if length < 12 * width {
        return None;
    }
    let mean = |from: usize, width: usize| -> Option<f64> {
        Some((sums.get(from + width)? - sums.get(from)?) / width as f64)
    };
    // The step between two means, less what the slope beside them makes of it.
    let step = |n: usize| -> Option<f64> {
        let (z, a) = (mean(n - 2 * width, width)?, mean(n - width, width)?);
        let (b, c) = (mean(n, width)?, mean(n + width, width)?);
        Some(1.5 * (b - a) - 0.5 * (c - z))
    };
    let places = 2 * width..length.saturating_sub(2 * width);
    let steps: Vec<f64> = places.clone().filter_map(step).collect();
    let sizes: Vec<f64> = steps.iter().map(|step| step.abs()).collect();
    let at = (0..sizes.len()).max_by(|a, b| {
        let size = |at: &usize| sizes.get(*at).copied().unwrap_or(0.0);
        size(a).total_cmp(&size(b))
    })?;
    let most = *sizes.get(at)?;
    let beside = sizes.iter().enumerate();
    let second = beside
        .filter(|(n, _)| n.abs_diff(at) > 2 * width)
        .fold(0.0_f64, |second, (_, size)| second.max(*size));
    let thinned: Vec<f64> = sizes.iter().step_by(width).copied().collect();
    let usual = median(&thinned) / 0.6745;
    let expected = noise * (5.0 / width as f64).sqrt();
    let stands_out = most > 0.75 * OVER_NOISE * usual.max(expected) && most > 2.0 * second;
    if !stands_out || most < least {
        return None;
    }
    let place = places.start + at;
    // The means of two stretches on either side, beyond what a glimpse of light disturbs.
    let apart = 2 * width;
    let over = ((place.min(length - place) - apart) / 2).min(SLOPE);
    if over < LEAST_SLOPE {
        return None;
    }
    let before = place - apart - over;
    let (farther, before) = (mean(before - over, over)?, mean(before, over)?);
    let after = place + apart;
    let (after, further) = (mean(after, over)?, mean(after + over, over)?);
    let slope = 0.5 * (before - farther + further - after) / over as f64;
    // A curtain that rebounds lets such a glimpse in, and all is as before.
    let stays = after - before - (over + 2 * apart) as f64 * slope;
    let step = *steps.get(at)?;
    if stays / step < STAYS {
        return None;
    }
    Some((place, step / slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_steps_alone_and_the_corner_where_a_flank_ends_does_not() {
        // Rises as the square of the time, then stands still at once.
        let flank: Vec<f32> = (0_u8..80)
            .map(|n| f32::from(n.min(40)).powi(2) / 1600.0)
            .collect();
        let jumps = |x: &[f32], n: usize| kink(x, n) > LEAST_JUMP && is_alone(x, n);
        assert!((30..50).any(|n| kink(&flank, n) > LEAST_JUMP));
        assert!(!(30..50).any(|n| jumps(&flank, n)));
        let cut = [&flank[..20], &flank[28..]].concat();
        assert!(jumps(&cut, 20));
    }
}
