//! Impulses that are no light: picked up from the mechanism, shorter than any shutter can open.
//!
//! A click is a short stretch that a smooth curve through the samples on both sides misses by far
//! more than it misses those samples themselves. Corners of a shot's form, which a smooth curve
//! misses too, are missed alike within and beside the stretch.

use std::ops::Range;

use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

use super::lamp;
use crate::Recording;
use crate::recording::Samples;

/// Lengths tried for a click, shortest first, besides three and five samples where these are short.
const LENGTHS_S: [f64; 3] = [0.12e-3, 0.22e-3, 0.34e-3];
/// Samples on either side that the curve goes through, against the length.
const BESIDE: f64 = 1.8;
/// The click stands out of the noise by so many standard deviations ...
const OVER_NOISE: f64 = 9.0;
/// ... and of the curve's own misfit by this factor: the sharpest corner a curve can miss comes to 5.
const OVER_MISFIT: f64 = 9.0;
/// ... or by this one under a lamp that swings, whose steps on such a corner come to 12.
const OVER_MISFIT_SWUNG: f64 = 16.0;
/// Clicks below this part of the recording's span are left alone.
const LEAST: f64 = 0.01;
/// ... and a sample that lies between two steps of the recorder is none.
const OVER_STEPS: f64 = 1.5;
/// More clicks a second than this are noise of another kind.
const MOST_A_SECOND: f64 = 40.0;
/// Channels pick a click up within this of one another.
const TOGETHER_S: f64 = 0.1e-3;
/// What stands out this much of a click again, a swing of the lamp before or after, is the lamp's.
const AGAIN: f64 = 0.5;
/// A swing's length is known to this part of it, and to so many samples.
const SWING_WITHIN: f64 = 0.03;
const SAMPLES_WITHIN: i64 = 2;
/// Swings looked for where none is known, in seconds.
const SWINGS_S: [f64; 2] = [2.5e-3, 6.7e-3];
/// From so many swings on, a click stands out by this factor more than they do.
const RIPPLES: usize = 3;
const BEYOND_RIPPLE: f64 = 1.5;

/// A click taken off.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Click {
    pub(crate) samples: Range<usize>,
    /// Root mean square of what the curve missed beside it.
    pub(crate) misfit: f64,
    /// How many times as much the curve missed the click itself.
    over_misfit: f64,
}

/// A recording's samples with the clicks taken off, and those of each channel.
pub(crate) struct Mended {
    pub(crate) samples: Samples,
    pub(crate) clicks: Vec<Vec<Click>>,
}

/// Takes the clicks off a recording, where there are any.
pub(crate) fn mend(recording: &Recording) -> Option<Mended> {
    let found = of_channels(recording);
    take_off(recording, found)
}

/// The same for sensors along a gate, whose channels all pick a click up at one moment: what one alone
/// saw may be the light of a slit that is about to close.
pub(crate) fn mend_along_gate(recording: &Recording) -> Option<Mended> {
    let mut found = of_channels(recording);
    if found.len() > 1 {
        let together = (TOGETHER_S * recording.sample_rate().to_hz()) as usize;
        let all: Vec<Vec<Range<usize>>> = found
            .iter()
            .map(|it| it.iter().map(|(click, _)| click.samples.clone()).collect())
            .collect();
        for (channel, clicks) in found.iter_mut().enumerate() {
            clicks.retain(|(click, _)| {
                let is_near = |other: &Range<usize>| {
                    other.start < click.samples.end + together
                        && click.samples.start < other.end + together
                };
                let others = all.iter().enumerate().filter(|(n, _)| *n != channel);
                others.flat_map(|(_, it)| it).any(is_near)
            });
        }
    }
    take_off(recording, found)
}

/// The clicks of each channel, with what to put in their place.
fn of_channels(recording: &Recording) -> Vec<Vec<(Click, Vec<f32>)>> {
    let samples = recording.samples();
    let dt = 1.0 / recording.sample_rate().to_hz();
    let of_channel = |channel| {
        let track = samples.track(channel);
        let (low, high) = track.means.span();
        let least = (OVER_NOISE * track.noise)
            .max(LEAST * f64::from(high - low))
            .max(OVER_STEPS * recording.step(channel).unwrap_or(0.0));
        let mut found = Vec::new();
        for range in samples.held_ranges() {
            let part: Vec<f32> = samples.over(channel, range.clone()).collect();
            for mut it in find(&part, dt, least, track.noise) {
                it.0.samples = it.0.samples.start + range.start..it.0.samples.end + range.start;
                found.push(it);
            }
        }
        if !found.is_empty() {
            let hz = lamp::rippling(samples, channel, dt);
            found = apart_from_ripple(found, samples, channel, hz.map(|hz| 1.0 / (hz * dt)), dt);
        }
        let most = 3.0 + MOST_A_SECOND * samples.length() as f64 * dt;
        if found.len() as f64 > most {
            found.clear();
        }
        found
    };
    let channels = (0..samples.channels()).into_par_iter();
    channels.map(of_channel).collect()
}

/// Those clicks that are not a lamp's, dark for a moment in each swing of `swing` samples, if that is known: what
/// stands out of these stands out again, and where it cannot, as in a shot that lasts no swing, not by much more.
fn apart_from_ripple(
    found: Vec<(Click, Vec<f32>)>,
    samples: &Samples,
    channel: usize,
    swing: Option<f64>,
    dt: f64,
) -> Vec<(Click, Vec<f32>)> {
    let slowest = SWINGS_S.map(|swing| (swing / dt) as i64);
    let reach = swing.map_or(2 * slowest[1], |swing| (1.1 * swing) as i64) + SAMPLES_WITHIN + 2;
    let is_ripple = |around: &Around| match swing {
        Some(swing) => around.comes_again(swing),
        None => around.keeps_coming(slowest[0], slowest[1]),
    };
    let around = |click: &Click| Around::of(samples, channel, &click.samples, reach);
    let (mut ripples, mut clicks, mut highest) = (0, Vec::new(), 0.0_f64);
    for it in found {
        let around = around(&it.0);
        if is_ripple(&around) {
            ripples += 1;
            highest = highest.max(around.height);
        } else {
            clicks.push((it, around.height));
        }
    }
    let beyond = if ripples < RIPPLES {
        0.0
    } else {
        BEYOND_RIPPLE * highest
    };
    let swings = swing.is_some() || ripples >= RIPPLES;
    let stands_out = |it: &Click| !swings || it.over_misfit > OVER_MISFIT_SWUNG;
    let clicks = clicks.into_iter();
    let clicks = clicks.filter(|((it, _), height)| *height > beyond && stands_out(it));
    clicks.map(|(it, _)| it).collect()
}

/// What stands out as a click does, at the places around it.
struct Around {
    /// How far the click stands out.
    height: f64,
    /// The same `reach` samples before it to as many after.
    out: Vec<f64>,
    reach: i64,
}

impl Around {
    fn of(samples: &Samples, channel: usize, click: &Range<usize>, reach: i64) -> Self {
        let length = click.len().max(1);
        let before = length + usize::try_from(reach).unwrap_or(0);
        // Before the recording's beginning all is as at its first sample.
        let start = click.start.saturating_sub(before);
        let lacking = before - (click.start - start);
        let count = 3 * length + 2 * (before - length) - lacking;
        let values: Vec<f32> = samples.over(channel, start..start + count).collect();
        let first = values.first().copied().unwrap_or(0.0);
        let all = std::iter::repeat_n(first, lacking).chain(values);
        let mut sum = 0.0;
        let sums: Vec<f64> = std::iter::once(0.0)
            .chain(all.map(|it| {
                sum += f64::from(it);
                sum
            }))
            .collect();
        let mean = |from: usize| (sums[from + length] - sums[from]) / length as f64;
        let out = |n: usize| mean(n + length) - 0.5 * (mean(n) + mean(n + 2 * length));
        let places = sums.len().saturating_sub(3 * length);
        let mut out: Vec<f64> = (0..places).map(out).collect();
        let here = usize::try_from(reach).ok().and_then(|here| out.get(here));
        let height = here.copied().unwrap_or(0.0);
        if height < 0.0 {
            out.iter_mut().for_each(|it| *it = -*it);
        }
        Self {
            height: height.abs(),
            out,
            reach,
        }
    }

    /// Whether as much stands out `later` samples later, or so many more or less.
    fn again(&self, later: i64, within: i64) -> bool {
        let at = |later: i64| usize::try_from(self.reach + later).unwrap_or(0);
        let near = self
            .out
            .get(at(later - within)..self.out.len().min(at(later + within) + 1));
        let most = near.unwrap_or_default().iter().copied().fold(0.0, f64::max);
        self.height > 0.0 && most > AGAIN * self.height
    }

    /// A swing of so many samples before or after.
    fn comes_again(&self, swing: f64) -> bool {
        let within = (SWING_WITHIN * swing).ceil() as i64 + SAMPLES_WITHIN;
        let swing = swing.round() as i64;
        [-swing, swing].iter().any(|it| self.again(*it, within))
    }

    /// Twice after one another, in swings of `from` to `to` samples.
    fn keeps_coming(&self, from: i64, to: i64) -> bool {
        let twice = |swing: i64| {
            [[-swing, swing], [swing, 2 * swing], [-2 * swing, -swing]]
                .iter()
                .any(|both| both.iter().all(|it| self.again(*it, SAMPLES_WITHIN)))
        };
        (from..=to).any(twice)
    }
}

fn take_off(recording: &Recording, found: Vec<Vec<(Click, Vec<f32>)>>) -> Option<Mended> {
    let samples = recording.samples();
    let mut mended: Option<Mended> = None;
    for (channel, found) in found.into_iter().enumerate() {
        if found.is_empty() {
            continue;
        }
        let mended = mended.get_or_insert_with(|| Mended {
            samples: samples.clone(),
            clicks: vec![Vec::new(); samples.channels()],
        });
        for (click, values) in found {
            mended
                .samples
                .replace(channel, click.samples.start, &values);
            if let Some(clicks) = mended.clicks.get_mut(channel) {
                clicks.push(click);
            }
        }
    }
    mended
}

/// The clicks in samples `dt` seconds apart that stand out by `least`, with what to put in their place.
fn find(samples: &[f32], dt: f64, least: f64, noise: f64) -> Vec<(Click, Vec<f32>)> {
    let lengths = lengths(dt);
    let longest = lengths.last().copied().unwrap_or(0);
    let mut found: Vec<(Click, Vec<f32>)> = Vec::new();
    if !(least > 0.0 && least.is_finite()) || samples.len() < 8 * longest.max(1) {
        return found;
    }
    let mut mended = samples.to_vec();
    for reach in [2, longest] {
        for place in peaks(samples, reach, least) {
            if found.iter().rev().any(|it| it.0.samples.contains(&place)) {
                continue;
            }
            let click = lengths.iter().find_map(|length| {
                let from = place.checked_sub(length / 2)?;
                replacement(&mended, from..from + length, least, noise)
            });
            if let Some((click, values)) = click {
                if let Some(gap) = mended.get_mut(click.samples.clone()) {
                    gap.copy_from_slice(&values);
                }
                found.push((click, values));
            }
        }
    }
    found
}

fn lengths(dt: f64) -> Vec<usize> {
    let mut lengths: Vec<usize> = [3, 5]
        .into_iter()
        .chain(LENGTHS_S.map(|length| ((length / dt).round() as usize) | 1))
        .collect();
    lengths.sort_unstable();
    lengths.dedup();
    // At low rates a few samples are long enough for a flank: only what is shorter is a click.
    lengths.retain(|length| *length as f64 * dt < 0.36e-3);
    lengths
}

/// Where a sample stands out most from the mean of those `reach` before and after.
fn peaks(samples: &[f32], reach: usize, least: f64) -> Vec<usize> {
    let mut peaks = Vec::new();
    let mut best: Option<(usize, f64)> = None;
    for (n, all) in samples.windows(2 * reach + 1).enumerate() {
        let out = f64::from(all[reach]) - 0.5 * (f64::from(all[0]) + f64::from(all[2 * reach]));
        if out.abs() > least && best.is_none_or(|it| out.abs() > it.1) {
            best = Some((n + reach, out.abs()));
        }
        if let Some((place, _)) = best
            && (out.abs() <= least || n > place)
        {
            peaks.push(place);
            best = None;
        }
    }
    peaks
}

/// The values of a cubic through both sides of `gap`, if what lies in it is a click.
fn replacement(
    samples: &[f32],
    gap: Range<usize>,
    least: f64,
    noise: f64,
) -> Option<(Click, Vec<f32>)> {
    let beside = ((BESIDE * gap.len() as f64) as usize).max(6);
    let from = gap.start.checked_sub(beside)?;
    let around = samples.get(from..gap.end + beside)?;
    let half = 0.5 * around.len() as f64;
    let row = |i: usize| {
        let u = (i as f64 + 0.5 - half) / half;
        Vector4::new(1.0, u, u * u, u * u * u)
    };
    let within = beside..beside + gap.len();
    let (mut normal, mut right) = (Matrix4::zeros(), Vector4::zeros());
    for (i, value) in around
        .iter()
        .enumerate()
        .filter(|(i, _)| !within.contains(i))
    {
        normal += row(i) * row(i).transpose();
        right += row(i) * f64::from(*value);
    }
    let curve = normal.cholesky()?.solve(&right);
    let missed = |i: usize| f64::from(around[i]) - row(i).dot(&curve);
    let outside = (0..around.len())
        .filter(|i| !within.contains(i))
        .map(missed);
    let misfit = (outside.map(|it| it * it).sum::<f64>() / (2 * beside - 4) as f64).sqrt();
    let inside = within.clone().map(|i| missed(i).abs()).fold(0.0, f64::max);
    let stands_out = inside > least && inside > OVER_MISFIT * misfit;
    (stands_out && misfit.is_finite()).then(|| {
        let click = Click {
            samples: gap.clone(),
            misfit: misfit.max(noise),
            over_misfit: inside / misfit,
        };
        (click, within.map(|i| row(i).dot(&curve) as f32).collect())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::Gauss;

    fn corner(height: f64) -> Vec<f32> {
        let mut gauss = Gauss::new(4);
        (0..4800)
            .map(|n| {
                let light = (1.0 - (f64::from(n) - 2400.0).abs() / 48.0).max(0.0);
                let click = if (1200..1203).contains(&n) || (2370..2372).contains(&n) {
                    height
                } else {
                    0.0
                };
                (light + click + 0.003 * gauss.normal()) as f32
            })
            .collect()
    }

    #[test]
    fn a_pointed_shot_is_no_click() {
        assert_eq!(find(&corner(0.0), 1.0 / 48_000.0, 0.03, 0.003), vec![]);
    }

    #[test]
    fn clicks_in_the_dark_and_on_a_flank_are_taken_off() {
        let mut samples = corner(-1.5);
        let found = find(&samples, 1.0 / 48_000.0, 0.03, 0.003);
        assert_eq!(found.len(), 2);
        for (click, values) in found {
            samples[click.samples].copy_from_slice(&values);
        }
        for (got, want) in samples.iter().zip(corner(0.0)) {
            assert!((got - want).abs() < 0.03, "{got} {want}");
        }
    }

    /// Light that stands still under a lamp dark for 4 of each 44 samples, lit between two moments, with
    /// a click in the dark and another in the light.
    fn pulsed() -> Vec<f32> {
        let mut gauss = Gauss::new(9);
        (0..24_000)
            .map(|n| {
                let lit = (6_000..18_000).contains(&n) && n % 44 >= 4;
                let click = if (3_000..3_003).contains(&n) || (12_343..12_346).contains(&n) {
                    1.5
                } else {
                    0.0
                };
                (f64::from(i32::from(lit)) + click + 0.003 * gauss.normal()) as f32
            })
            .collect()
    }

    #[test]
    fn a_lamp_that_goes_dark_in_each_swing_makes_no_clicks_and_hides_none() {
        let rate = crate::Hertz::hz(48_000.0);
        let recording = Recording::from_channels("made.wav", rate, vec![pulsed()]).unwrap();
        let found = of_channels(&recording);
        let places: Vec<usize> = found[0].iter().map(|it| it.0.samples.start).collect();
        assert_eq!(places.len(), 2, "{places:?}");
        assert!((2_995..=3_003).contains(&places[0]), "{places:?}");
        assert!((12_338..=12_346).contains(&places[1]), "{places:?}");
    }

    #[test]
    fn a_lamp_that_dips_a_little_and_slowly_makes_none_either_nor_in_a_short_shot() {
        let mut gauss = Gauss::new(10);
        let samples = (0..30_000)
            .map(|n| {
                let lit = (6_000..18_000).contains(&n) || (21_520..21_800).contains(&n);
                let dip = if n % 216 < 14 { 0.2 } else { 0.0 };
                let light = if lit { 1.0 - dip } else { 0.0 };
                let click = if (3_000..3_003).contains(&n) {
                    1.5
                } else {
                    0.0
                };
                (light + click + 0.003 * gauss.normal()) as f32
            })
            .collect();
        let rate = crate::Hertz::hz(48_000.0);
        let recording = Recording::from_channels("made.wav", rate, vec![samples]).unwrap();
        assert_eq!(lamp::rippling(recording.samples(), 0, 1.0 / 48_000.0), None);
        let found = of_channels(&recording);
        let places: Vec<usize> = found[0].iter().map(|it| it.0.samples.start).collect();
        assert_eq!(places.len(), 1, "{places:?}");
        assert!((2_995..=3_003).contains(&places[0]), "{places:?}");
    }
}
