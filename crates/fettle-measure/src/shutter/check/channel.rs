//! What one channel shows of its chain.

use std::borrow::Cow;

use super::super::coupling::{self, Coupling};
use super::super::edges;
use super::super::expose;
use super::super::flicker::{self, Flicker};
use super::super::hum::{self, Hum};
use super::super::local::{Fit, Local, Prior, Regions, Signal};
use super::super::overview::{Overview, median};
use super::super::poles::Poles;
use super::hand::{self, Hand, Held};
use crate::Recording;

/// Dark before and after a held light that is fitted with it.
const DARK_S: f64 = 1.5;
/// Kept clear of a flank.
const CLEAR_S: f64 = 0.02;
/// Held lights from which on a chain is proved: one alone shows no repeat.
const LEAST_HELD: usize = 2;
/// A stretch fully open shorter than this is left to the flanks.
const PLATEAU_S: f64 = 1e-3;
/// Windows in which the noise is watched for a change of gain.
const WATCH_S: f64 = 0.25;
/// The noise of one state changes by this factor only when the gain does.
const GAIN_CHANGES: f64 = 1.5;
/// What is kept clear of the flanks for the look at hum.
const HUM_CLEAR_S: f64 = 0.3;
/// The light is watched in means of this length; faster flicker is counted by its depth.
const LIGHT_S: f64 = 1e-3;
const FAST_HZ: f64 = 300.0;

/// A chain as one channel shows it. Ratios are against the held light's height.
pub(super) struct Found {
    pub(super) held: usize,
    pub(super) lit_s: f64,
    /// In the signal's units.
    pub(super) level: f64,
    /// Between neighbouring values; 0 where it is not known.
    pub(super) step: f64,
    pub(super) offset: f64,
    pub(super) inverted: bool,
    /// White noise covered and lit.
    pub(super) dark_noise: f64,
    pub(super) lit_noise: f64,
    pub(super) coupling: Coupling,
    pub(super) hum: Option<Hum>,
    pub(super) flicker: Option<Flicker>,
    pub(super) drift: f64,
    /// The light from its least to its greatest, while it was held and from one holding to another.
    pub(super) light_range: f64,
    /// Fastest rise and fall between 10 and 90 %, in seconds.
    pub(super) opening: f64,
    pub(super) closing: f64,
    pub(super) clipped: bool,
    pub(super) gain_control: bool,
    pub(super) not_finite: usize,
}

impl Found {
    /// Looks at a channel; `Err` says how far its greatest change stands out of the noise.
    pub(super) fn of(recording: &Recording, channel: usize) -> Result<Self, f64> {
        let dt = 1.0 / recording.sample_rate().to_hz();
        let samples = recording.samples();
        let overview = Overview::of(samples, channel, dt);
        if overview.is_dead() {
            return Err(0.0);
        }
        let hand = hand::find(&overview)?;
        if hand.held.len() < LEAST_HELD {
            return Err(0.0);
        }
        let signal = Signal::of(recording, samples, channel, &overview, hand.inverted);
        Look {
            signal,
            hand: &hand,
            overview: &overview,
        }
        .found()
        .ok_or(0.0)
    }

    /// White noise, covered or lit, whichever is more.
    pub(super) fn noise(&self) -> f64 {
        self.dark_noise.max(self.lit_noise)
    }
}

struct Look<'a> {
    signal: Signal<'a>,
    hand: &'a Hand,
    overview: &'a Overview<'a>,
}

impl Look<'_> {
    fn found(&self) -> Option<Found> {
        let hum = self.hum();
        // Of a high corner all that can be known lies close behind the flanks, so these are drawn tight
        // before it is looked for.
        let mut poles = self.hand.poles;
        let mut locals = self.locals(hum.as_ref());
        let mut coupling = Coupling::NONE;
        for _ in 0..2 {
            locals = locals
                .into_iter()
                .map(|local| self.tighten(local, poles))
                .collect();
            coupling = coupling::find(&locals);
            poles = coupling.poles;
        }
        // A light held by hand lasts for many swings and shows their depth by itself; their phase is not
        // needed, as nothing is divided out here.
        let flicker = flicker::of_longest(&self.signal, &locals, poles);
        let locals: Vec<Local> = match flicker {
            Some(flicker) => {
                let amount = flicker.depth * self.hand.height / 2.0_f64.sqrt();
                locals
                    .iter()
                    .map(|local| local.with_flicker(&self.signal, amount))
                    .collect()
            }
            None => locals,
        };
        let coupling = if flicker.is_some() {
            coupling::find(&locals)
        } else {
            coupling
        };
        let fitted: Vec<(&Local, Fit)> = locals
            .iter()
            .filter_map(|local| Some((local, local.fit(coupling.poles)?)))
            .collect();
        let levels: Vec<f64> = fitted
            .iter()
            .filter_map(|(local, fit)| local.level(fit).map(|level| level.0))
            .filter(|level| *level > 0.0)
            .collect();
        let level = levels.iter().sum::<f64>() / levels.len() as f64;
        if levels.len() < LEAST_HELD || !level.is_finite() {
            return None;
        }
        // Without coupling the fit cannot part the dark level from what remains of the light before.
        let darks: Vec<f64> = if coupling.count() == 0 {
            let stretches = self.dark(CLEAR_S).into_iter();
            let means = stretches.map(|it| self.signal.mean(it));
            means.filter(|mean| mean.is_finite()).collect()
        } else {
            let params = fitted.iter();
            params
                .filter_map(|(_, fit)| fit.params.get(0).copied())
                .collect()
        };
        let dark = darks.iter().sum::<f64>() / darks.len().max(1) as f64;
        let (opening, closing) = self.edges(&fitted);
        let (dark_noise, lit_noise) = self.noises();
        Some(Found {
            held: levels.len(),
            lit_s: locals.iter().map(Local::open).sum(),
            level,
            step: self.signal.step(),
            offset: self.signal.zero + self.signal.sign * dark,
            inverted: self.hand.inverted,
            dark_noise: dark_noise / level,
            lit_noise: lit_noise / level,
            coupling,
            hum: hum.map(|hum| Hum {
                amplitude: hum.amplitude / level,
                ..hum
            }),
            flicker,
            drift: span(darks.into_iter()) / level,
            light_range: self
                .light_range(&fitted, flicker, level)
                .max(span(levels.iter().copied()) / level),
            opening,
            closing,
            clipped: self.overview.track.clipped.count() > 0,
            gain_control: self.gain_changes(dark_noise, lit_noise),
            not_finite: self.overview.track.not_finite.count(),
        })
    }

    fn samples_in(&self, seconds: f64) -> usize {
        (seconds / self.signal.dt).round() as usize
    }

    fn end(&self) -> usize {
        self.overview.length()
    }

    /// Each held light with what stands before and after it.
    fn neighbours(&self) -> impl Iterator<Item = (&Held, usize, usize)> {
        let held = &self.hand.held;
        held.iter().enumerate().map(|(place, it)| {
            let before = place
                .checked_sub(1)
                .and_then(|place| held.get(place))
                .map_or(0, |it| it.closing.end);
            let after = held
                .get(place + 1)
                .map_or(self.end(), |it| it.opening.start);
            (it, before, after)
        })
    }

    /// The covered stretches, `clear` seconds from the flanks; samples.
    fn dark(&self, clear: f64) -> Vec<std::ops::Range<usize>> {
        let clear = self.samples_in(clear);
        let mut stretches: Vec<std::ops::Range<usize>> = self
            .neighbours()
            .map(|(held, before, _)| before..held.opening.start)
            .collect();
        stretches.extend(self.hand.held.last().map(|it| it.closing.end..self.end()));
        stretches
            .into_iter()
            .map(|it| it.start + clear..it.end.saturating_sub(clear))
            .filter(|it| it.start < it.end)
            .collect()
    }

    fn hum(&self) -> Option<Hum> {
        let samples = self.overview.block * hum::BLOCKS;
        let dark = self.dark(HUM_CLEAR_S).into_iter();
        let dark = dark.map(|it| it.start / samples..it.end / samples);
        hum::of_dark(self.overview, dark)
    }

    fn locals(&self, hum: Option<&Hum>) -> Vec<Local> {
        let clear = self.samples_in(CLEAR_S);
        let dark = self.samples_in(DARK_S);
        let block = self.overview.block;
        self.neighbours()
            .filter_map(|(held, before, after)| {
                let first = held.opening.start;
                let start = first.saturating_sub(dark).max(before + clear.min(before));
                let start = start.next_multiple_of(block);
                let end = (held.closing.end + dark).min(after);
                let regions = Regions {
                    before: start,
                    first,
                    open: held.opening.end,
                    second: held.closing.start,
                    after: held.closing.end,
                    end: end / block * block,
                };
                let ordered = regions.before + 8 < regions.first
                    && regions.open < regions.second
                    && regions.after + 8 < regions.end
                    && regions.end <= self.end();
                let since = start.saturating_sub(before) as f64 * self.signal.dt;
                let prior = Prior::of(self.hand.height, since);
                ordered.then(|| Local::new(&self.signal, regions, hum, prior))
            })
            .collect()
    }

    /// Draws the ranges tight around the flanks, so that more of the decays is fitted.
    fn tighten(&self, local: Local, poles: Poles) -> Local {
        let tight = || {
            let fit = local.fit(poles)?;
            let (level, _) = local.level(&fit)?;
            let light = expose::light(&local, &self.signal, &fit);
            let rise = edges::rise(&light.first, level, self.signal.noise)?;
            let fall = edges::fall(&light.second, level, self.signal.noise)?;
            let regions = &local.regions;
            let (opens, closes) = (
                (regions.first, rise.roomy()),
                (regions.second, fall.roomy()),
            );
            let least = self.samples_in(PLATEAU_S);
            let tight = edges::tightened(regions, opens, closes, least);
            (tight.has_plateau() && tight.is_ordered()).then_some(tight)
        };
        match tight() {
            Some(tight) => local.with_regions(&self.signal, tight),
            None => local,
        }
    }

    /// The fastest rise and fall between 10 and 90 %, in seconds. Where an edge cannot be told, no more
    /// is known than that it lies within its flank.
    fn edges(&self, fitted: &[(&Local, Fit)]) -> (f64, f64) {
        let of_light = |local: &Local, fit: &Fit| {
            let (level, _) = local.level(fit)?;
            let light = expose::light(local, &self.signal, fit);
            let rise = edges::rise(&light.first, level, self.signal.noise)?;
            let fall = edges::fall(&light.second, level, self.signal.noise)?;
            Some((rise.ramp(), fall.ramp()))
        };
        let edges = fitted.iter().map(|(local, fit)| {
            let [opening, closing] = local.regions.flanks().map(|it| it.len() as f64);
            of_light(local, fit).unwrap_or((opening, closing))
        });
        let fastest = edges.fold((f64::MAX, f64::MAX), |a, b| (a.0.min(b.0), a.1.min(b.1)));
        // An edge between two samples is no faster than they are apart.
        let seconds = |samples: f64| samples.max(1.0) * self.signal.dt;
        (seconds(fastest.0), seconds(fastest.1))
    }

    /// White noise covered and lit, in the signal's units.
    fn noises(&self) -> (f64, f64) {
        let clear = self.samples_in(CLEAR_S);
        let of = |stretches: &[std::ops::Range<usize>]| {
            let blocks: Vec<Cow<'_, [f32]>> = stretches.iter().map(|it| self.blocks(it)).collect();
            self.white_noise(&blocks).max(self.signal.steps)
        };
        let lit = self.hand.held.iter().map(|it| {
            let end = it.closing.start.saturating_sub(clear);
            (it.opening.end + clear).min(end)..end
        });
        (of(&self.dark(CLEAR_S)), of(&lit.collect::<Vec<_>>()))
    }

    /// The blocks wholly within a stretch.
    fn blocks(&self, range: &std::ops::Range<usize>) -> Cow<'_, [f32]> {
        let block = self.overview.block;
        let blocks = range.start.div_ceil(block)..range.end / block;
        self.overview.means().part(blocks).unwrap_or_default()
    }

    /// White noise of the samples from second differences of their blocks, which hum and coupling
    /// hardly touch, by their median size.
    fn white_noise(&self, stretches: &[impl AsRef<[f32]>]) -> f64 {
        let second: Vec<f64> = stretches
            .iter()
            .flat_map(|blocks| blocks.as_ref().windows(3))
            .filter_map(|three| {
                let [a, b, c] = *three else { return None };
                Some((f64::from(a) - 2.0 * f64::from(b) + f64::from(c)).abs())
            })
            .collect();
        // The median of |N(0,1)| is 0.6745; a second difference has 6 times the variance of a block,
        // and a block one part in its count of a sample's.
        median(&second) / 0.6745 / 6.0_f64.sqrt() * (self.overview.block as f64).sqrt()
    }

    /// Whether the noise says that the gain was changed: while covered it stays the same under any
    /// chain, and light takes none away.
    fn gain_changes(&self, dark_noise: f64, lit_noise: f64) -> bool {
        let window = (WATCH_S / self.overview.block_dt()).round() as usize;
        let mut noises = Vec::new();
        for stretch in self.dark(CLEAR_S) {
            let blocks = self.blocks(&stretch);
            let windows = blocks.chunks_exact(window.max(1));
            noises.extend(windows.map(|blocks| self.white_noise(&[blocks])));
        }
        noises.sort_by(f64::total_cmp);
        let tenth = noises.len() / 10;
        let ends = noises
            .get(tenth)
            .zip(noises.get(noises.len().saturating_sub(tenth + 1)));
        // A few steps of the samples are no noise to judge by.
        let coarse = 2.0 * self.signal.steps;
        let changed = |low: f64, high: f64| high.max(coarse) > GAIN_CHANGES * low.max(coarse);
        ends.is_some_and(|(low, high)| changed(*low, *high)) || changed(lit_noise, dark_noise)
    }

    /// The held light from its least to its greatest, noise left out, against its level.
    fn light_range(&self, fitted: &[(&Local, Fit)], flicker: Option<Flicker>, level: f64) -> f64 {
        let width = self.samples_in(LIGHT_S).max(1);
        let noise = self.signal.noise / (width as f64).sqrt();
        let seen = fitted.iter().map(|(local, fit)| {
            let open = local.plateau(&self.signal, fit);
            let mut means: Vec<f64> = open
                .chunks_exact(width)
                .map(|chunk| chunk.iter().sum::<f64>() / width as f64)
                .filter(|mean| mean.is_finite())
                .collect();
            means.sort_by(f64::total_cmp);
            let out = means.len() / 40;
            let ends = means
                .get(out)
                .zip(means.get(means.len().saturating_sub(out + 1)));
            // Nineteen of twenty values of white noise lie within 1.96 standard deviations.
            let range = ends.map_or(0.0, |(low, high)| high - low);
            (range.powi(2) - (2.0 * 1.96 * noise).powi(2))
                .max(0.0)
                .sqrt()
                / level
        });
        let fast = flicker
            .filter(|flicker| flicker.hz > FAST_HZ)
            .map_or(0.0, |flicker| 2.0 * flicker.depth);
        seen.fold(0.0, f64::max).hypot(fast)
    }
}

fn span(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    (high - low).max(0.0)
}
