//! Where the light jumps, and which jumps belong to one shot.
//!
//! Flanks are looked for in a step filter (mean of half a millisecond after, less the mean before):
//! it hardly sees coupling, drift and hum, which change little in a millisecond.

use super::overview::{Overview, median, thinned};
use crate::recording::Means;

/// Half-width of the step filter.
const HALF_WIDTH_S: f64 = 0.5e-3;
/// A flank stands out of the noise by so many standard deviations ...
const OVER_NOISE: f64 = 8.0;
/// ... and reaches this part of the steepest: the blades of one shutter move alike.
const OVER_STEEPEST: f64 = 0.2;
/// ... unless hardly any opening finds its closing so: a saturated sensor closes slowly.
const SLOW_OVER_STEEPEST: f64 = 0.04;
/// A flank's foot: where the step filter falls to this part of the flank's peak.
const FOOT: f64 = 0.1;
/// A closing takes back at least this part of what was opened.
const CLOSES_BELOW: f64 = 0.4;
/// What leaves no more light than this may be a closing too, as a lamp's swing makes one flank higher than the
/// other: it was, if nothing comes after it ...
const MAY_CLOSE_BELOW: f64 = 0.65;
/// ... or an opening by this part of the light, at a time when the shutter still counts as open.
const OPENS_AGAIN: f64 = 0.5;
/// A second opening this soon after closing is a bounce: no shutter is cocked again so fast.
const BOUNCE_WITHIN_S: f64 = 0.03;
/// No shutter takes this long to open: light that then rises to more than [`CLOSES_BELOW`] allows begins a shot,
/// and what seemed to open before was a click.
const OPENS_WITHIN_S: f64 = 0.03;
/// A lamp's light rises again and again, this far apart or more.
const SWINGS: u32 = 2;
const SWINGS_S: f64 = 0.005;
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
    fn whole(opening: Flank, closing: Flank) -> Self {
        Self {
            opening: Some(opening),
            closing: Some(closing),
            end: closing.end,
        }
    }

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
/// `means` are its block means, hum taken off where it is strong.
pub(crate) fn detect(overview: &Overview<'_>, means: &Means, omega: f64) -> Detection {
    detect_as(overview, means, omega, None)
}

/// The same with the light the way up that is given.
pub(crate) fn detect_as(
    overview: &Overview<'_>,
    means: &Means,
    omega: f64,
    inverted: Option<bool>,
) -> Detection {
    let steps = StepFilter::of(overview, means, omega);
    let some = thinned(0..steps.count(), steps.count());
    let sizes: Vec<f64> = some.into_iter().map(|i| steps.at(i).abs()).collect();
    let spread = median(&sizes) / 0.6745;
    let (steepest, peaks) = steps.peaks(OVER_NOISE * spread);
    let contrast = if spread > 0.0 {
        steepest / spread
    } else {
        f64::INFINITY
    };
    let found = |share: f64| {
        let flanks = if contrast > OVER_NOISE {
            flanks(&steps, &peaks, share, overview)
        } else {
            vec![]
        };
        let inverted = inverted.unwrap_or_else(|| is_inverted(&flanks));
        Detection {
            candidates: pair(&flanks, inverted, overview),
            inverted,
            contrast,
        }
    };
    let alike = found(OVER_STEEPEST);
    if 2 * alike.whole() >= alike.candidates.len() {
        return alike;
    }
    let slow = found(SLOW_OVER_STEEPEST);
    if slow.whole() > alike.whole() {
        slow
    } else {
        alike
    }
}

impl Detection {
    /// Shots with an opening and a closing.
    fn whole(&self) -> usize {
        self.candidates.iter().filter(|it| it.is_whole()).count()
    }
}

/// The step filter at every block boundary; computed where it is asked for, as it is long.
struct StepFilter<'a> {
    means: &'a Means,
    dark: f64,
    /// Half-width in blocks.
    half: usize,
    /// What a coupled signal sinks by.
    sinking: f64,
}

impl<'a> StepFilter<'a> {
    fn of(overview: &Overview<'_>, means: &'a Means, omega: f64) -> Self {
        let half = ((HALF_WIDTH_S / overview.block_dt()).round() as usize).max(1);
        Self {
            means,
            dark: overview.dark,
            half,
            // A coupled signal sinks by omega times its level: put that back.
            sinking: omega * half as f64 * overview.block_dt() / 2.0,
        }
    }

    /// Boundaries, those at the ends included.
    fn count(&self) -> usize {
        self.means.len() + 1
    }

    fn at(&self, i: usize) -> f64 {
        let from = i.checked_sub(self.half);
        let near = from.and_then(|from| self.means.part(from..i + self.half));
        near.map_or(0.0, |near| self.step(&near))
    }

    /// The step from the first half of `near` to the second.
    fn step(&self, near: &[f32]) -> f64 {
        let sum = |part: &[f32]| part.iter().copied().map(f64::from).sum::<f64>();
        let (before, after) = near.split_at(self.half);
        let (before, after) = (sum(before), sum(after));
        let level = before + after - 2.0 * self.half as f64 * self.dark;
        (after - before + self.sinking * level) / self.half as f64
    }

    /// The greatest step, and the peak of each stretch above `floor`.
    fn peaks(&self, floor: f64) -> (f64, Vec<usize>) {
        let mut steepest = 0.0_f64;
        let mut peaks = Vec::new();
        // The stretch under way: its sign, its greatest step and where.
        let mut peak: Option<(f64, f64, usize)> = None;
        let still = std::iter::repeat_n(0.0, self.half.min(self.count()));
        let steps = self.means.windows(2 * self.half, |near| self.step(near));
        for (i, step) in still.chain(steps).enumerate() {
            steepest = steepest.max(step.abs());
            let over = step.abs() > floor;
            if let Some((sign, most, _)) = &mut peak
                && over
                && step * *sign > 0.0
            {
                if step * *sign >= *most {
                    peak = Some((*sign, step * *sign, i));
                }
                continue;
            }
            peaks.extend(peak.take().map(|(_, _, place)| place));
            if over {
                peak = Some((step.signum(), step.abs(), i));
            }
        }
        peaks.extend(peak.map(|(_, _, place)| place));
        (steepest, peaks)
    }
}

fn flanks(
    steps: &StepFilter<'_>,
    peaks: &[usize],
    share: f64,
    overview: &Overview<'_>,
) -> Vec<Flank> {
    let mut heights: Vec<f64> = peaks.iter().map(|peak| steps.at(*peak).abs()).collect();
    heights.sort_by(|a, b| b.total_cmp(a));
    // A shot has two flanks of like steepness; a lone spike has no like.
    let alike = |pair: &&[f64]| pair[1] > share * pair[0];
    let steep = heights.windows(2).find(alike).map_or(0.0, |pair| pair[0]);
    let steep = |peak: &&usize| steps.at(**peak).abs() > share * steep;
    peaks
        .iter()
        .filter(steep)
        .map(|peak| flank(steps, *peak, overview))
        .collect()
}

fn flank(steps: &StepFilter<'_>, peak: usize, overview: &Overview<'_>) -> Flank {
    let height = steps.at(peak);
    let foot = FOOT * height.abs();
    let sign = height.signum();
    let mut start = peak;
    while start > 0 && steps.at(start - 1) * sign > foot {
        start -= 1;
    }
    let mut end = peak;
    while end + 1 < steps.count() && steps.at(end + 1) * sign > foot {
        end += 1;
    }
    let sum: f64 = (start..=end).map(|i| steps.at(i)).sum();
    Flank {
        start: start * overview.block,
        steepest: peak * overview.block,
        end: ((end + 1) * overview.block).min(overview.length()),
        height: sum / steps.half as f64,
        peak: height,
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

fn pair(flanks: &[Flank], inverted: bool, overview: &Overview<'_>) -> Vec<Candidate> {
    let sign = if inverted { -1.0 } else { 1.0 };
    let seconds = |from: usize, to: usize| to.saturating_sub(from) as f64 * overview.dt;
    let heights = flanks.iter().map(|flank| flank.height.abs());
    let tallest = heights.fold(0.0, f64::max);
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut open: Option<Open> = None;
    for flank in flanks {
        let height = sign * flank.height;
        // The shutter opens again, so it had closed.
        if let Some(shot) = open.filter(|it| height > OPENS_AGAIN * it.highest)
            && let Some(closing) = shot.closing
            && seconds(closing.end, flank.start) > BOUNCE_WITHIN_S
        {
            candidates.push(Candidate::whole(shot.opening, closing));
            open = None;
        }
        let is_late = |shot: &Open| {
            let waited = seconds(shot.opening.steepest, flank.steepest) > OPENS_WITHIN_S;
            waited && shot.highest < CLOSES_BELOW * (shot.level + height)
        };
        open.take_if(|shot| is_late(shot));
        let Some(shot) = &mut open else {
            if let Some(last) = candidates.last_mut()
                && seconds(last.end, flank.start) < BOUNCE_WITHIN_S
            {
                last.end = flank.end;
            } else if height > 0.0 {
                open = Some(Open::of(*flank, height));
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
        shot.level += height;
        if height < 0.0 {
            shot.rises = 0;
        } else if seconds(shot.rose, flank.start) > SWINGS_S {
            shot.rises += 1;
        }
        shot.rose = flank.start;
        // Of a lamp that swings the rises may be steep enough to be flanks and the falls not.
        if shot.rises >= SWINGS {
            shot.level = shot.level.min(tallest);
            shot.highest = shot.highest.min(tallest);
        }
        shot.highest = shot.highest.max(shot.level);
        if shot.level > MAY_CLOSE_BELOW * shot.highest {
            shot.closing = None;
        } else if height < 0.0 {
            shot.closing = Some(*flank);
        }
        if shot.level < CLOSES_BELOW * shot.highest {
            if seconds(shot.opening.steepest, flank.steepest) >= SHORTEST_S {
                candidates.push(Candidate::whole(shot.opening, *flank));
            }
            open = None;
        }
    }
    if let Some(shot) = open {
        let end = overview.length();
        let is_last =
            |it: &Flank| flanks.last() == Some(it) && seconds(it.end, end) > BOUNCE_WITHIN_S;
        let closing = shot.closing.filter(is_last);
        candidates.push(Candidate {
            opening: Some(shot.opening),
            closing,
            end: closing.map_or(end, |it| it.end),
        });
    }
    candidates
}

/// A shot under way.
#[derive(Clone, Copy)]
struct Open {
    opening: Flank,
    /// The last flank that may have closed it.
    closing: Option<Flank>,
    /// The light by the flanks alone, and the most it came to.
    level: f64,
    highest: f64,
    /// Rises since the last fall or the opening that are a lamp's distance from the flank before, and where that
    /// flank began.
    rises: u32,
    rose: usize,
}

impl Open {
    fn of(opening: Flank, height: f64) -> Self {
        Self {
            opening,
            closing: None,
            level: height,
            highest: height,
            rises: 0,
            rose: opening.start,
        }
    }
}
