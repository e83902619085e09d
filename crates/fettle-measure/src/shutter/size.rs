//! A shot's times and the budget of their uncertainty.

use std::ops::Range;

use super::band;
use super::channel::{Channel, Raw};
use super::clicks::Click;
use super::expose;
use super::flicker::Flicker;
use super::lamp::Lamp;
use super::level::{Agreed, Pool};
use super::local::Fit;
use super::steps;
use super::{Budget, Flag, Options};
use crate::Seconds;

/// Clock error taken when none is given, rectangular, in parts per million.
const CLOCK_PPM: f64 = 200.0;
/// Below this part of the fully open level a shot has not opened fully.
const FULLY_OPEN: f64 = 0.97;
/// A second opening stands out of a lossy coding's echoes by this factor.
const ECHOES: f64 = 5.0;
/// What a late sensor adds under a lamp may be in error by this part, as a single pole is only near.
const TRAILS: f64 = 0.1;
/// A recorder is seldom overdriven by more than this ratio of the light to the end of its range.
const CLIPPED_OF: f64 = 2.0;
/// A shot that reaches this part of it is placed by where its flanks pass half.
const HALF_SURE: f64 = 0.6;
/// Standard uncertainty of such a place, in samples.
const SAMPLING: f64 = 0.3;

/// The recorder's clock.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    /// True time over the file's.
    factor: f64,
    /// Its relative standard uncertainty.
    deviation: f64,
}

impl Clock {
    pub(super) fn of(options: &Options) -> Self {
        match options.clock_ppm {
            Some(ppm) => Self {
                factor: 1.0 - ppm * 1e-6,
                deviation: 0.0,
            },
            None => Self {
                factor: 1.0,
                deviation: CLOCK_PPM * 1e-6 / 3.0_f64.sqrt(),
            },
        }
    }

    /// A duration on the file's clock as true time.
    pub(super) fn corrected(self, time: Seconds) -> Seconds {
        time * self.factor
    }

    /// Standard uncertainty that the clock brings to a duration.
    pub(super) fn deviation_of(self, time: Seconds) -> Seconds {
        time * self.deviation
    }
}

impl Clock {
    /// A time of the file and its standard uncertainty on the true clock.
    pub(super) fn seconds(self, time: f64, deviation: f64) -> (Seconds, Seconds) {
        let deviation = deviation.hypot(time * self.deviation);
        (
            Seconds::s(time * self.factor),
            Seconds::s(deviation * self.factor),
        )
    }
}

/// A shot's times.
#[derive(Clone)]
pub(super) struct Times {
    /// The fully open level used; `None` when the time cannot be told.
    pub(super) e0: Option<f64>,
    /// Effective time on the true clock, in seconds.
    pub(super) effective: Option<f64>,
    pub(super) budget: Budget,
    /// First and last 1 % crossing in samples of the recording, with their standard uncertainty.
    pub(super) opened: Option<(f64, f64)>,
    pub(super) closed: Option<(f64, f64)>,
    /// Length of a second opening in seconds.
    pub(super) bounce: Option<f64>,
    pub(super) flags: Vec<Flag>,
    /// True time over the file's.
    pub(super) clock_factor: f64,
}

impl Times {
    fn untold(mut flags: Vec<Flag>, clock: Clock) -> Self {
        flags.push(Flag::CannotTell);
        Self {
            e0: None,
            effective: None,
            budget: Budget::default(),
            opened: None,
            closed: None,
            bounce: None,
            flags,
            clock_factor: clock.factor,
        }
    }
}

/// Measures a shot against the session's fully open level.
pub(super) fn size(channel: &Channel<'_>, raw: &Raw, pool: Option<&Pool>, clock: Clock) -> Times {
    let own = raw.level.filter(|level| level.0 > 0.0);
    let agreed = |pool: &Pool| match channel.coded {
        // What a lossy coding makes of a still level is alike in all its frames, and other in the next shot.
        Some(_) => pool.for_any(),
        None => pool.for_shot(own),
    };
    let e0 = pool.map(|it| (it, agreed(it)));
    let e0 = e0.filter(|(_, e0)| e0.level > 0.0);
    let mut flags = flags(raw, e0.map(|(_, e0)| e0.level));
    if channel.has_lost(&raw.local.regions) {
        flags.push(Flag::LostSamples);
    }
    let Some((pool, e0)) = e0.filter(|_| !raw.spoiled && !channel.controlled) else {
        return Times::untold(flags, clock);
    };
    let level = e0.level;
    let share = (raw.peak / level).clamp(0.0, 1.0);
    let (late, tail) = channel.tail_at(share);
    let (more, overdrive) = channel
        .form
        .as_ref()
        .map_or((0.0, 0.0), |form| form.overdrive(share));
    let trails = trails(channel, raw, level);
    let late = late + more + trails.0;
    let effective = raw.integral.value / level + raw.open - late;
    if !(effective > 0.0 && effective.is_finite()) {
        return Times::untold(flags, clock);
    }
    let (opened, closed, bounce) = crossings(channel, raw, level);
    if bounce.is_some() {
        flags.push(Flag::Bounce);
    }
    Times {
        e0: Some(level),
        effective: Some(effective * clock.factor),
        budget: Budget {
            tail_s: Seconds::s(tail),
            overdrive_s: Seconds::s(overdrive),
            ..budget(channel, raw, (pool, e0), effective + late, clock)
        },
        opened,
        closed,
        bounce,
        flags,
        clock_factor: clock.factor,
    }
}

fn flags(raw: &Raw, e0: Option<f64>) -> Vec<Flag> {
    let mut flags = Vec::new();
    if raw.clipped.is_some() {
        flags.push(Flag::Clipped);
    }
    if raw.overlapping {
        flags.push(Flag::Overlapping);
    }
    match e0 {
        None => flags.extend([Flag::NeverFullyOpen, Flag::E0Unknown]),
        Some(level) if never_opens(raw, level) => {
            flags.extend([Flag::NeverFullyOpen, Flag::E0Borrowed]);
        }
        Some(_) => {}
    }
    flags
}

/// Whether a shot stays below the fully open level.
fn never_opens(raw: &Raw, level: f64) -> bool {
    raw.peak < FULLY_OPEN * level && !raw.local.regions.has_plateau()
}

/// Standard uncertainties of `effective`, each from its own cause.
fn budget(
    channel: &Channel<'_>,
    raw: &Raw,
    (pool, e0): (&Pool, Agreed),
    effective: f64,
    clock: Clock,
) -> Budget {
    let signal = &channel.signal;
    let level = e0.level;
    let corner = (0..raw.beside.len()).fold(0.0_f64, |sum, direction| {
        let moved = |side: usize| {
            let there = beside(channel, raw, (pool, e0), (direction, side));
            there.map_or(0.0, |it| (it - effective).abs())
        };
        sum.hypot(moved(0).max(moved(1)))
    });
    let doubt = Doubt::of(raw, pool, e0);
    let colour = channel.colour;
    let raised = channel.lamp.as_ref().map_or(1.0, |lamp| {
        let flanks = raw.local.regions.flanks();
        channel.lamp_noise * lamp.raises_noise(flanks.into_iter().flatten(), signal.dt)
    });
    let noise = raised * (doubt.flanks * colour.flank).sqrt() / level;
    let steps = (signal.steps / signal.noise).min(1.0);
    let flicker = channel
        .lamp
        .as_ref()
        .map_or(0.0, |lamp| lamp_doubt(lamp, raw, effective, signal.dt))
        .hypot(trails(channel, raw, level).1);
    let undivided = channel
        .undivided
        .map_or(0.0, |it| swing_doubt(it, raw, effective));
    let flicker = flicker.hypot(undivided);
    // Clipping takes the flanks' tops for fully open: the truth lies between the time spent at the
    // end of the range and what was measured.
    let clipping = match raw.clipped {
        Some(clipped) => (effective - clipped).max(0.0),
        // A level borrowed from clipped shots may be more.
        None if pool.is_clipped && never_opens(raw, level) => {
            effective * (1.0 - CLIPPED_OF.recip())
        }
        None => 0.0,
    };
    let coded = channel.coded.as_deref();
    let coding = coded.map_or(0.0, |all| band::over_flanks(signal, raw, all) / level);
    // What a lossy coding leaves of the open light, which tells level and corner, is weighed by itself.
    let open = coded.map_or(colour.long, |_| 1.0);
    Budget {
        noise_s: Seconds::s(noise * (1.0 - steps * steps).sqrt()),
        dark_s: Seconds::s((doubt.dark * colour.long).sqrt() / level),
        corner_s: Seconds::s(corner * open.sqrt()),
        e0_s: Seconds::s((doubt.level * open).sqrt() / level),
        flicker_s: Seconds::s(flicker),
        tail_s: Seconds::s(0.0),
        overdrive_s: Seconds::s(0.0),
        clicks_s: Seconds::s(clicks(channel, raw) / level),
        clipping_s: Seconds::s(clipping / 3.0_f64.sqrt()),
        coding_s: Seconds::s(channel.coding.to_s().max(coding)),
        clock_s: Seconds::s(effective * clock.deviation),
        quantisation_s: Seconds::s((noise * steps).hypot(rounding(channel, raw, level))),
        travel_s: Seconds::s(0.0),
    }
}

/// Variances of what the effective time would be, were the fully open level 1.
struct Doubt {
    flanks: f64,
    dark: f64,
    level: f64,
}

impl Doubt {
    /// The shot's own level is in doubt together with its dark; what they have in common counts once.
    fn of(raw: &Raw, pool: &Pool, e0: Agreed) -> Self {
        let lit = raw.integral.value / e0.level;
        let own = raw.level.filter(|_| raw.local.regions.has_plateau());
        let (part, of_own) = own.map_or((0.0, 0.0), |(_, variance)| {
            let part = e0.of_own + (1.0 - e0.of_own) * pool.part_in_mean(variance);
            (part * lit, (part * lit).powi(2) * variance)
        });
        let variance = raw.integral.variance(&raw.fit, part);
        let (dark, level) = (variance.around - of_own, lit * lit * e0.variance);
        Self {
            flanks: variance.flanks,
            dark: dark.max(0.0),
            level: (level + dark.min(0.0)).max(0.0),
        }
    }
}

/// The effective time under the fits of the channel's shots beside the best in one direction, on one side.
fn beside(
    channel: &Channel<'_>,
    raw: &Raw,
    (pool, e0): (&Pool, Agreed),
    (direction, side): (usize, usize),
) -> Option<f64> {
    fn fit(shot: &Raw, (direction, side): (usize, usize)) -> Option<&Fit> {
        Some(&shot.beside.get(direction)?[side])
    }
    let at = (direction, side);
    let moved = |shot: &Raw| Some(shot.local.level(fit(shot, at)?)?.0 - shot.level?.0);
    let of_mean = |shot: &Raw| Some(pool.part_in_mean(shot.level?.1) * moved(shot)?);
    let shown = channel.shots.iter().filter(|shot| !shot.spoiled);
    let mean: f64 = shown.filter_map(of_mean).sum();
    let level = e0.level + e0.of_own * moved(raw).unwrap_or(0.0) + (1.0 - e0.of_own) * mean;
    Some(raw.local.integral(fit(raw, at)?).value / level + raw.open)
}

/// What a late sensor adds to the effective time under a lamp that is divided out, and its standard uncertainty.
fn trails(channel: &Channel<'_>, raw: &Raw, level: f64) -> (f64, f64) {
    let (lag, deviation) = channel.lag;
    let Some(lamp) = channel.lamp.as_ref().filter(|_| lag > 0.0) else {
        return (0.0, 0.0);
    };
    let flanks = raw.local.regions.flanks();
    let lights = [&raw.light.first, &raw.light.second];
    let adds: f64 = flanks
        .iter()
        .zip(lights)
        .map(|(range, light)| lamp.trails(light, range.start, lag, channel.signal.dt))
        .sum();
    let adds = adds / level;
    (adds, adds * (2.0 * deviation / lag).hypot(TRAILS))
}

/// What a lamp divided out leaves in doubt of the effective time.
fn lamp_doubt(lamp: &Lamp, raw: &Raw, effective: f64, dt: f64) -> f64 {
    let at = |n: usize| n as f64 * dt;
    let regions = &raw.local.regions;
    let within = (effective - raw.open).max(0.0);
    let [first, second] = regions.flanks();
    let known = if second.is_empty() {
        lamp.deviation(at(first.start), at(first.end))
    } else {
        let of = |it: &Range<usize>| lamp.deviation(at(it.start), at(it.end));
        0.5 * (of(&first) + of(&second))
    };
    // What else swings has any phase, and averages out over many of its periods but for the last.
    let seconds = |it: &Range<usize>| it.len() as f64 * dt;
    let left = |it: &Range<usize>| {
        let most = (std::f64::consts::PI * lamp.hz).recip();
        lamp.left * seconds(it).min(most)
    };
    let left = left(&first).hypot(left(&second));
    let hidden = if second.is_empty() {
        lamp.hides(0.5 * seconds(&first)) * 2.0_f64.sqrt()
    } else {
        lamp.hides(seconds(&first))
            .hypot(lamp.hides(seconds(&second)))
    };
    (known * within).hypot(left).hypot(hidden)
}

/// What a swing that is not divided out leaves in doubt: a wave of unknown phase averages out over many of
/// its periods, in the shot and in the stretch that shows the fully open level.
fn swing_doubt(flicker: Flicker, raw: &Raw, effective: f64) -> f64 {
    let part = |seconds: f64| {
        (std::f64::consts::PI * flicker.hz * seconds)
            .max(1.0)
            .recip()
    };
    let level = raw.level.map_or(0.0, |_| part(raw.open));
    flicker.swing() * effective * part(effective).hypot(level)
}

/// What the steps of the samples, in level and in time, bring beside noise: the dark level and the
/// fully open one are each off by what rounding leaves of a still level, and the flanks' sum is taken
/// for their integral.
fn rounding(channel: &Channel<'_>, raw: &Raw, level: f64) -> f64 {
    let signal = &channel.signal;
    let flanks = raw.local.regions.flanks();
    let length = flanks.iter().map(ExactSizeIterator::len).sum::<usize>() as f64 * signal.dt;
    let lit = raw.integral.value / level;
    let levels = signal.still * lit.hypot(length - lit);
    let light = [&raw.light.first, &raw.light.second];
    let sums = light.map(|it| steps::between_samples(it, signal));
    levels.hypot(sums[0].hypot(sums[1])) / level
}

/// What clicks taken off the shot's flanks leave in doubt of `∫x dt`.
fn clicks(channel: &Channel<'_>, raw: &Raw) -> f64 {
    let [first, second] = raw.local.regions.flanks();
    let touches = |it: &&Click| {
        let meets =
            |range: &Range<usize>| it.samples.start < range.end && it.samples.end > range.start;
        meets(&first) || meets(&second)
    };
    channel
        .clicks
        .iter()
        .filter(touches)
        .map(|it| it.misfit * (it.samples.len() + 2) as f64 * channel.signal.dt)
        .fold(0.0, f64::hypot)
}

type Crossing = Option<(f64, f64)>;

/// The outermost 1 % crossings and the length of a bounce in seconds.
fn crossings(channel: &Channel<'_>, raw: &Raw, level: f64) -> (Crossing, Crossing, Option<f64>) {
    let regions = &raw.local.regions;
    // What a lossy coding spreads around a flank is no light, and hides 1 % as noise does.
    let echo = if channel.limited {
        band::echo(&channel.signal, raw)
    } else {
        0.0
    };
    let noise = channel.signal.noise.hypot(echo);
    let first = &raw.light.first;
    let last = raw.light.last();
    let form = channel.form.as_ref().filter(|it| it.moves_crossings());
    let from_dark = |light: &[f64], foot: f64, lag: f64| {
        let at = |level: f64| expose::one_percent(light, level, foot, noise, lag);
        let (place, deviation) = at(level)?;
        // Of a clipped shot the level may be more than the end of the range.
        let more = raw.clipped.and_then(|_| at(CLIPPED_OF * level));
        let moved = more.map_or(0.0, |more| (more.0 - place) / 3.0_f64.sqrt());
        Some((place, deviation.hypot(moved)))
    };
    let opened = from_dark(first, level.min(raw.peak), 0.0)
        .map(|(place, deviation)| (regions.first as f64 + place + 0.5, deviation));
    let bounce = expose::bounce(last, level, noise, channel.signal.dt)
        .filter(|it| it.height > ECHOES * echo);
    let backward: Vec<f64> = last.iter().rev().copied().collect();
    let foot = bounce.map_or(level.min(raw.peak), |bounce| bounce.height);
    // The fitted blades know nothing of a bounce; its own foot lags as their flanks do.
    let lag = form
        .filter(|_| bounce.is_some())
        .map_or(0.0, |it| it.lag().0)
        / channel.signal.dt;
    let closed = from_dark(&backward, foot, -lag)
        .map(|(place, deviation)| (regions.after as f64 - place - 0.5, deviation));
    let moved = form
        .filter(|_| raw.peak > HALF_SURE * level)
        .and_then(|form| {
            let width = expose::smoothing(level, noise, first.len());
            let half = |x: &[f64]| {
                expose::first_above(expose::smoothed(x, width).into_iter(), 0.5 * level)
            };
            let dt = channel.signal.dt;
            let from = |falls: bool, place: f64| {
                let (way, deviation) = form.to_dark(falls);
                (place + way / dt, (deviation / dt).hypot(SAMPLING))
            };
            let rises = half(first).map(|place| regions.first as f64 + place + 0.5)?;
            let falls = half(&backward).map(|place| regions.after as f64 - place - 0.5)?;
            Some((from(false, rises), from(true, falls)))
        });
    let (opened, closed) = match moved {
        Some((rises, _)) if bounce.is_some() => (Some(rises), closed),
        Some((rises, falls)) => (Some(rises), Some(falls)),
        None => (opened, closed),
    };
    // A flank that is none may be crossed anywhere; what lies outside the shot is no crossing of it.
    let around = regions.before as f64..=regions.end as f64;
    let within = |crossing: &(f64, f64)| around.contains(&crossing.0) && crossing.1.is_finite();
    let (opened, closed) = (opened.filter(within), closed.filter(within));
    (
        opened,
        closed,
        bounce.map(|bounce| bounce.samples * channel.signal.dt),
    )
}
