//! Where the light jumps, and which jumps belong to one shot.
//!
//! Flanks are looked for in a step filter (mean of half a millisecond after, less the mean before):
//! it hardly sees coupling, drift and hum, which change little in a millisecond.

use super::overview::{Overview, median, thinned};

/// Half-width of the step filter.
const HALF_WIDTH_S: f64 = 0.5e-3;
/// A flank stands out of the noise by so many standard deviations ...
const OVER_NOISE: f64 = 8.0;
/// ... and reaches this part of the steepest: the blades of one shutter move alike.
const OVER_STEEPEST: f64 = 0.2;
/// A flank's foot: where the step filter falls to this part of the flank's peak.
const FOOT: f64 = 0.1;
/// A closing takes back at least this part of what was opened.
const CLOSES_BELOW: f64 = 0.4;
/// A second opening this soon after closing, and no higher than this, is a bounce.
const BOUNCE_WITHIN_S: f64 = 0.03;
const BOUNCE_BELOW: f64 = 0.75;
/// Openings shorter than this are clicks.
const SHORTEST_S: f64 = 0.15e-3;

/// A jump of the light; indices are samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Flank {
    /// First sample of the jump.
    pub(crate) start: usize,
    /// Steepest sample.
    pub(crate) steepest: usize,
    /// Past its last sample.
    pub(crate) end: usize,
    /// Height, signed.
    pub(crate) height: f64,
    /// Steepness, signed, in the step filter's units.
    pub(crate) peak: f64,
}

/// A shot as found: its first opening and last closing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Candidate {
    /// `None` when the recording begins within the shot.
    pub(crate) opening: Option<Flank>,
    /// The first closing; `None` when the recording ends within the shot.
    pub(crate) closing: Option<Flank>,
    /// Past the last sample of the last closing.
    pub(crate) end: usize,
}

impl Candidate {
    pub(crate) fn is_whole(&self) -> bool {
        self.opening.is_some() && self.closing.is_some()
    }
}

/// What was found in one channel.
#[derive(Clone, Debug)]
pub(crate) struct Detection {
    /// In the order of time.
    pub(crate) candidates: Vec<Candidate>,
    /// More light gives less voltage.
    pub(crate) inverted: bool,
    /// The steepest step against the step filter's noise.
    pub(crate) contrast: f64,
}

/// Finds the shots of a channel whose coupling has the corner `omega` (rad/s; 0 when not yet known).
pub(crate) fn detect(overview: &Overview, omega: f64) -> Detection {
    let (steps, half) = step_filter(overview, omega);
    let sizes: Vec<f64> = thinned(&steps).into_iter().map(f64::abs).collect();
    let spread = median(&sizes) / 0.6745;
    let steepest = steps
        .iter()
        .fold(0.0_f64, |most, step| most.max(step.abs()));
    let contrast = if spread > 0.0 {
        steepest / spread
    } else {
        f64::INFINITY
    };
    let flanks = if contrast > OVER_NOISE {
        flanks(&steps, half, spread, overview)
    } else {
        vec![]
    };
    let inverted = is_inverted(&flanks);
    Detection {
        candidates: pair(&flanks, inverted, overview),
        inverted,
        contrast,
    }
}

/// The step filter at every block boundary, and its half-width in blocks.
fn step_filter(overview: &Overview, omega: f64) -> (Vec<f64>, usize) {
    let half = ((HALF_WIDTH_S / overview.block_dt()).round() as usize).max(1);
    let mut sums = Vec::with_capacity(overview.means.len() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for mean in &overview.means {
        sum += mean - overview.dark;
        sums.push(sum);
    }
    let blocks = overview.means.len();
    // A coupled signal sinks by omega times its level: put that back.
    let sinking = omega * half as f64 * overview.block_dt() / 2.0;
    let at = |i: usize| {
        if i < half || i + half > blocks {
            return 0.0;
        }
        let (before, here, after) = (sums[i - half], sums[i], sums[i + half]);
        ((after - here) - (here - before) + sinking * (after - before)) / half as f64
    };
    ((0..=blocks).map(at).collect(), half)
}

fn flanks(steps: &[f64], half: usize, spread: f64, overview: &Overview) -> Vec<Flank> {
    let noise_floor = OVER_NOISE * spread;
    let mut peaks = Vec::new();
    let mut i = 0;
    while i < steps.len() {
        if steps[i].abs() <= noise_floor {
            i += 1;
            continue;
        }
        let sign = steps[i].signum();
        let start = i;
        while i < steps.len() && steps[i] * sign > noise_floor {
            i += 1;
        }
        let peak = (start..i).max_by(|a, b| (steps[*a] * sign).total_cmp(&(steps[*b] * sign)));
        peaks.extend(peak);
    }
    let mut heights: Vec<f64> = peaks.iter().map(|peak| steps[*peak].abs()).collect();
    heights.sort_by(|a, b| b.total_cmp(a));
    // A shot has two flanks of like steepness; a lone spike has no like.
    let alike = |pair: &&[f64]| pair[1] > OVER_STEEPEST * pair[0];
    let steep = heights.windows(2).find(alike).map_or(0.0, |pair| pair[0]);
    peaks.retain(|peak| steps[*peak].abs() > OVER_STEEPEST * steep);
    peaks
        .iter()
        .map(|peak| flank(steps, *peak, half, overview))
        .collect()
}

fn flank(steps: &[f64], peak: usize, half: usize, overview: &Overview) -> Flank {
    let foot = FOOT * steps[peak].abs();
    let sign = steps[peak].signum();
    let mut start = peak;
    while start > 0 && steps[start - 1] * sign > foot {
        start -= 1;
    }
    let mut end = peak;
    while end + 1 < steps.len() && steps[end + 1] * sign > foot {
        end += 1;
    }
    let sum: f64 = steps[start..=end].iter().sum();
    let last = overview.means.len() * overview.block;
    Flank {
        start: start * overview.block,
        steepest: peak * overview.block,
        end: ((end + 1) * overview.block).min(last),
        height: sum / half as f64,
        peak: steps[peak],
    }
}

/// Whether openings go down. A recording begins with the shutter closed, so its first flank opens;
/// only when that would leave a shot cut off, the shorter openings decide.
fn is_inverted(flanks: &[Flank]) -> bool {
    let Some(first) = flanks.first() else {
        return false;
    };
    let first_opens_down = first.height < 0.0;
    let gap = |pair: &[Flank]| ((pair[1].start.saturating_sub(pair[0].end)).max(1) as f64).ln();
    let (mut open, mut dark) = ((0.0, 0.0), (0.0, 0.0));
    for pair in flanks.windows(2) {
        if pair[0].height.signum() == pair[1].height.signum() {
            continue;
        }
        let side = if (pair[0].height < 0.0) == first_opens_down {
            &mut open
        } else {
            &mut dark
        };
        side.0 += gap(pair);
        side.1 += 1.0;
    }
    let last_opens = (flanks[flanks.len() - 1].height < 0.0) == first_opens_down;
    let decisive = if last_opens { 0.0 } else { 8.0_f64.ln() };
    let other_way = dark.1 > 0.0 && open.1 > 0.0 && open.0 / open.1 > dark.0 / dark.1 + decisive;
    first_opens_down != other_way
}

fn pair(flanks: &[Flank], inverted: bool, overview: &Overview) -> Vec<Candidate> {
    let sign = if inverted { -1.0 } else { 1.0 };
    let seconds = |from: usize, to: usize| to.saturating_sub(from) as f64 * overview.dt;
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut opening: Option<Flank> = None;
    let (mut level, mut highest) = (0.0_f64, 0.0_f64);
    for flank in flanks {
        let height = sign * flank.height;
        let Some(first) = opening else {
            if let Some(last) = candidates.last_mut()
                && seconds(last.end, flank.start) < BOUNCE_WITHIN_S
                && last
                    .opening
                    .is_none_or(|it| height < BOUNCE_BELOW * sign * it.height)
            {
                last.end = flank.end;
            } else if height > 0.0 {
                opening = Some(*flank);
                (level, highest) = (height, height);
            } else if candidates.is_empty() {
                let closing = Some(*flank);
                candidates.push(Candidate {
                    opening: None,
                    closing,
                    end: flank.end,
                });
            }
            continue;
        };
        level += height;
        highest = highest.max(level);
        if level < CLOSES_BELOW * highest {
            if seconds(first.steepest, flank.steepest) >= SHORTEST_S {
                let closing = Some(*flank);
                candidates.push(Candidate {
                    opening,
                    closing,
                    end: flank.end,
                });
            }
            opening = None;
        }
    }
    if opening.is_some() {
        let end = overview.means.len() * overview.block;
        candidates.push(Candidate {
            opening,
            closing: None,
            end,
        });
    }
    candidates
}
