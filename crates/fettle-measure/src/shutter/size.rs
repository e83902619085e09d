//! A shot's times and the budget of their uncertainty.

use super::channel::{Channel, Raw};
use super::expose;
use super::level::Pool;
use super::{Budget, Flag, Options};
use crate::Seconds;

/// Clock error taken when none is given, rectangular, in parts per million.
const CLOCK_PPM: f64 = 200.0;
/// Below this part of the fully open level a shot has not opened fully.
const FULLY_OPEN: f64 = 0.97;

#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    pub(super) factor: f64,
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
}

/// A shot's times.
pub(super) struct Sized {
    pub(super) e0: Option<f64>,
    pub(super) effective: Option<f64>,
    pub(super) budget: Budget,
    /// First and last 1 % crossing in samples of the recording, with their standard uncertainty.
    pub(super) opened: Option<(f64, f64)>,
    pub(super) closed: Option<(f64, f64)>,
    pub(super) bounce: Option<f64>,
    pub(super) flags: Vec<Flag>,
    pub(super) factor: f64,
}

pub(super) fn size(channel: &Channel<'_>, raw: &Raw, pool: Option<&Pool>, clock: Clock) -> Sized {
    let mut flags = Vec::new();
    let dt = channel.signal.dt;
    let own = raw.level.filter(|level| level.0 > 0.0);
    let e0 = pool.map(|pool| pool.for_shot(own)).filter(|e0| e0.0 > 0.0);
    if raw.clipped {
        flags.push(Flag::Clipped);
    }
    if raw.overlapping {
        flags.push(Flag::Overlapping);
    }
    let never =
        e0.is_some_and(|e0| raw.peak < FULLY_OPEN * e0.0) && !raw.local.regions.has_plateau();
    if never {
        flags.extend([Flag::NeverFullyOpen, Flag::E0Borrowed]);
    }
    if e0.is_none() {
        flags.extend([Flag::NeverFullyOpen, Flag::E0Unknown]);
    }
    let Some(e0) = e0.filter(|_| !raw.spoiled) else {
        flags.push(Flag::CannotTell);
        return Sized {
            e0: None,
            effective: None,
            budget: Budget::default(),
            opened: None,
            closed: None,
            bounce: None,
            flags,
            factor: clock.factor,
        };
    };
    let (level, level_variance) = e0;
    let of_fit = |fit| raw.local.integral(fit).value / level + raw.light.open;
    let effective = raw.integral.value / level + raw.light.open;
    let corner = raw.beside.as_ref().map_or(0.0, |[below, above]| {
        (of_fit(below) - effective)
            .abs()
            .max((of_fit(above) - effective).abs())
    });
    let steps = channel.signal.steps.min(channel.signal.noise) / channel.signal.noise;
    let samples: usize = raw
        .local
        .regions
        .flanks()
        .iter()
        .map(ExactSizeIterator::len)
        .sum();
    let noise = channel.signal.noise * (samples as f64).sqrt() * dt / level;
    let budget = Budget {
        noise_s: Seconds::s(noise * (1.0 - steps * steps).max(0.0).sqrt()),
        dark_s: Seconds::s(raw.integral.variance(&raw.fit).sqrt() / level),
        corner_s: Seconds::s(corner),
        e0_s: Seconds::s(raw.integral.value / (level * level) * level_variance.sqrt()),
        clock_s: Seconds::s(effective * clock.deviation),
        quantisation_s: Seconds::s(noise * steps),
    };
    let (opened, closed, bounce) = crossings(channel, raw, level);
    if bounce.is_some() {
        flags.push(Flag::Bounce);
    }
    let effective = effective * clock.factor;
    let told = effective > 0.0 && effective.is_finite();
    if !told {
        flags.push(Flag::CannotTell);
    }
    Sized {
        e0: Some(level),
        effective: told.then_some(effective),
        budget,
        opened,
        closed,
        bounce,
        flags,
        factor: clock.factor,
    }
}

type Crossing = Option<(f64, f64)>;

/// The outermost 1 % crossings and the length of a bounce in seconds.
fn crossings(channel: &Channel<'_>, raw: &Raw, level: f64) -> (Crossing, Crossing, Option<f64>) {
    let regions = &raw.local.regions;
    let noise = channel.signal.noise;
    let first = &raw.light.first;
    let last = if raw.light.second.is_empty() {
        first
    } else {
        &raw.light.second
    };
    let opened = expose::one_percent(first, level, level.min(raw.peak), noise)
        .map(|(place, deviation)| (regions.first as f64 + place + 0.5, deviation));
    let bounce = expose::bounce(last, level, noise);
    let backward: Vec<f64> = last.iter().rev().copied().collect();
    let foot = bounce.map_or(level.min(raw.peak), |bounce| bounce.height);
    let closed = expose::one_percent(&backward, level, foot, noise)
        .map(|(place, deviation)| (regions.after as f64 - place - 0.5, deviation));
    (
        opened,
        closed,
        bounce.map(|bounce| bounce.samples * channel.signal.dt),
    )
}
