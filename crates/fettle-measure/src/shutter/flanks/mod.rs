//! The mean flanks of a channel's shots, and blades fitted to them.

mod late;

use nalgebra::DMatrix;

use super::blades::{Blades, ENDS, Motion, Release, Response, Sensor};
use super::channel::Raw;
use super::expose;
use super::squares::{self, square};

pub(crate) use late::fit_late;

/// Longest flank looked at, in samples.
const LONGEST: usize = 4000;
/// Points of one flank, at most.
const MOST_POINTS: usize = 240;
/// A flank has at least so many.
const LEAST_POINTS: usize = 12;
/// What movement of real blades and the restored light leave unexplained, as a part of the light.
const FORM: f64 = 3e-4;
/// How well the levels of dark and fully open light under a flank are known.
const LEVELS: f64 = 1e-3;
/// Standard deviation beyond which a run-up outside 0 to 1 is unlikely.
const RUN_UP: f64 = 0.05;
/// Blades that close may gather so much of their speed towards the end.
const MOST_RUN_UP: f64 = 0.9;
/// Standard deviation of how unevenly speed is gathered, as [`Motion`] has it.
const CURVE: f64 = 0.1;
/// Of a flank's time, what lies between 20 and 80 % and between dark and half.
const RAMP: f64 = 0.5;
const WAY: f64 = 0.6;
/// Lags to begin with, in parts of a flank.
const LAGS: [f64; 2] = [0.02, 0.35];
/// Rounds of the fit.
const ROUNDS: usize = 16;
/// Standard deviation of the logarithm of closing against opening time.
const UNLIKE: f64 = 0.5;
/// What laying flanks on each other makes of a corner, against its fourth difference.
const CORNER: f64 = 0.02;
/// Places a step of a mean flank is followed at, and how many steps a value reaches to either side.
const FINE: usize = 4;
const SPAN: usize = 2;
/// Charge holds an output up for a time of this order.
const DELAYED_S: f64 = 0.12e-3;
const LEAST_BEND: f64 = 0.02;
const MOST_BEND: f64 = 8.0;
const LEAST_SHARE: f64 = 0.01;
/// Powers with which an opening of any form begins and ends, and where they are sought from.
const LEAST_END: f64 = 0.5;
const MOST_END: f64 = 12.0;
const ANY: [[f64; 2]; 3] = [[1.0, 1.0], [2.0, 1.5], [3.0, 3.0]];

/// One mean flank in time's order, fully open 1.
pub(crate) struct Flank {
    pub(crate) values: Vec<f64>,
    pub(crate) step: f64,
    variance: f64,
    /// Fourth differences.
    corners: Vec<f64>,
    /// What a mean value is made of: weights of the light at `FINE` places in each step, from `SPAN` steps
    /// before it to `SPAN` after.
    kernel: Vec<f64>,
    falls: bool,
    /// Where it passes half.
    half: f64,
    /// From 20 to 80 %.
    ramp: f64,
}

pub(crate) struct Flanks {
    pub(crate) rise: Flank,
    pub(crate) fall: Flank,
}

/// Blades before a sensor fitted to both mean flanks.
#[derive(Clone, Debug)]
pub(crate) struct Fitted {
    sensor: Sensor,
    pub(crate) params: Params,
    covariance: DMatrix<f64>,
    pub(crate) misfit: f64,
    /// Points less parameters.
    pub(crate) freedom: f64,
}

impl Flanks {
    /// Of the shots that open fully, are whole and have no bounce.
    pub(crate) fn of(shots: &[Raw], noise: f64, dt: f64) -> Option<Self> {
        let light = |shot: &Raw| [&shot.light.first, &shot.light.second].map(Vec::clone);
        let [rises, falls] = whole(shots, (noise, dt), light);
        Some(Self {
            rise: Flank::of(&rises, noise, dt, false)?,
            fall: Flank::of(&falls, noise, dt, true)?,
        })
    }

    /// Standard deviation that fits are weighed by, as a part of the light.
    pub(crate) fn deviation(&self) -> f64 {
        (0.5 * (self.rise.variance + self.fall.variance)).sqrt()
    }
}

/// The flanks, as `light` tells them, of the shots that open fully, are whole and have no bounce: openings and closings,
/// fully open 1, each with the level of light it had.
pub(crate) fn whole<'a>(
    shots: impl IntoIterator<Item = &'a Raw>,
    (noise, dt): (f64, f64),
    light: impl Fn(&Raw) -> [Vec<f64>; 2],
) -> [Vec<(Vec<f64>, f64)>; 2] {
    let mut both = [Vec::new(), Vec::new()];
    for shot in shots {
        let Some((level, _)) = shot.level.filter(|it| it.0 > 0.0) else {
            continue;
        };
        let usable = !shot.spoiled && shot.clipped.is_none() && shot.local.regions.has_plateau();
        if !usable || expose::bounce(&shot.light.second, level, noise, dt).is_some() {
            continue;
        }
        for (flanks, mut light) in both.iter_mut().zip(light(shot)) {
            light.iter_mut().for_each(|it| *it /= level);
            flanks.push((light, level));
        }
    }
    both
}

/// The mean of flanks laid on each other at one place of each.
pub(crate) struct Laid {
    pub(crate) mean: Vec<f64>,
    /// The value at that place.
    pub(crate) middle: usize,
    /// Where it was in each, in samples.
    places: Vec<f64>,
    /// The level of light they had, on the mean.
    level: f64,
}

impl Laid {
    /// `None` where they hold too little to either side of it.
    pub(crate) fn of(
        flanks: &[(Vec<f64>, f64)],
        place: impl Fn(&[f64]) -> Option<f64>,
    ) -> Option<Self> {
        let placed: Vec<(&[f64], f64)> = flanks
            .iter()
            .filter_map(|(x, _)| Some((x.as_slice(), place(x)?)))
            .collect();
        let before = placed.iter().map(|it| it.1 - 1.0).fold(f64::MAX, f64::min);
        let after = placed
            .iter()
            .map(|(x, middle)| x.len() as f64 - 3.0 - middle)
            .fold(f64::MAX, f64::min);
        if placed.is_empty() || before < 4.0 || after < 4.0 {
            return None;
        }
        let before = (before as usize).min(LONGEST);
        let after = (after as usize).min(LONGEST);
        let at = |i: usize| {
            let sum: f64 = placed
                .iter()
                .map(|(x, middle)| between(x, middle + i as f64 - before as f64))
                .sum();
            sum / placed.len() as f64
        };
        Some(Self {
            mean: (0..=before + after).map(at).collect(),
            middle: before,
            places: placed.iter().map(|it| it.1).collect(),
            level: flanks.iter().map(|it| it.1).sum::<f64>() / flanks.len() as f64,
        })
    }

    /// Variance of a value by the recording's `noise`.
    pub(crate) fn variance(&self, noise: f64) -> f64 {
        (noise / self.level).powi(2) / self.places.len() as f64
    }
}

impl Flank {
    fn of(flanks: &[(Vec<f64>, f64)], noise: f64, dt: f64, falls: bool) -> Option<Self> {
        let crossing = |x: &[f64], goal: f64| crossing(x, goal, falls);
        let laid = Laid::of(flanks, |x| crossing(x, 0.5))?;
        let mean = &laid.mean;
        let size = mean.len().div_ceil(MOST_POINTS);
        let values: Vec<f64> = mean
            .chunks_exact(size)
            .map(|it| it.iter().sum::<f64>() / size as f64)
            .collect();
        let of_noise = laid.variance(noise) / size as f64;
        let (low, high) = (crossing(&values, 0.2)?, crossing(&values, 0.8)?);
        let step = size as f64 * dt;
        (values.len() >= LEAST_POINTS).then_some(Self {
            half: crossing(&values, 0.5)? * step,
            ramp: (high - low).abs().max(1.0) * step,
            corners: fourth_differences(&values),
            kernel: kernel(laid.places.iter().copied(), size),
            values,
            step,
            variance: of_noise + FORM * FORM,
            falls,
        })
    }

    /// The mean flank that blades before `sensor` would leave: interpolated and laid on each other as the
    /// recorded ones are, which rounds their corners alike.
    fn made(&self, blades: &Blades, mut motion: Motion, sensor: Sensor) -> Vec<f64> {
        motion.dark += SPAN as f64 * self.step;
        let count = (self.values.len() + 2 * SPAN) * FINE;
        let fine = blades.seen(&motion, sensor, self.step / FINE as f64, count);
        let of = |places: &[f64]| {
            let weighed = places.iter().zip(&self.kernel);
            weighed.map(|(value, weight)| value * weight).sum()
        };
        fine.windows(self.kernel.len())
            .step_by(FINE)
            .take(self.values.len())
            .map(of)
            .collect()
    }

    /// Where to begin to look, with a lag of this part of the flank.
    fn start(&self, lag: f64) -> Motion {
        let seen = self.ramp / RAMP;
        let lasting = seen / (1.0 + 3.0 * lag);
        let way = WAY * lasting;
        let half = self.half - lag * lasting;
        Motion {
            dark: half + if self.falls { way } else { -way },
            lasting,
            run_up: 0.4,
            curve: 0.0,
            ends: ENDS,
            lag: lag * lasting,
            falls: self.falls,
        }
    }
}

/// Where a flank passes `goal`, in its steps.
fn crossing(x: &[f64], goal: f64, falls: bool) -> Option<f64> {
    let i = if falls {
        x.iter().rposition(|value| *value > goal)?
    } else {
        x.iter().position(|value| *value > goal)?.checked_sub(1)?
    };
    let (a, b) = (x.get(i)?, x.get(i + 1)?);
    Some(i as f64 + ((a - goal) / (a - b)).clamp(0.0, 1.0))
}

pub(crate) fn fourth_differences(x: &[f64]) -> Vec<f64> {
    let at = |i: usize| x.get(i).copied();
    let of = |i: usize| {
        let [a, b] = [at(i.checked_sub(2)?)?, at(i - 1)?];
        let [c, d, e] = [at(i)?, at(i + 1)?, at(i + 2)?];
        Some(a - 4.0 * b + 6.0 * c - 4.0 * d + e)
    };
    (0..x.len()).map(|i| of(i).unwrap_or(0.0)).collect()
}

/// Between samples by the cubic through the four around.
pub(crate) fn between(x: &[f64], place: f64) -> f64 {
    let i = place.max(1.0) as usize;
    match x.get(i - 1..i + 3) {
        Some(around) => {
            let weighed = around.iter().zip(cubic(place - i as f64));
            weighed.map(|(value, weight)| value * weight).sum()
        }
        None => x.get(i).copied().unwrap_or(0.0),
    }
}

/// Weights of four neighbouring samples at the part `t` of the way from the second to the third
/// (R. G. Keys, IEEE Trans. Acoust. Speech Signal Process. 29, 1981).
fn cubic(t: f64) -> [f64; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        0.5 * (2.0 * t2 - t - t3),
        0.5 * (2.0 - 5.0 * t2 + 3.0 * t3),
        0.5 * (t + 4.0 * t2 - 3.0 * t3),
        0.5 * (t3 - t2),
    ]
}

/// See [`Flank::kernel`]: of flanks that pass half at `halves` in samples, whose mean is averaged over
/// `size` samples.
fn kernel(halves: impl ExactSizeIterator<Item = f64>, size: usize) -> Vec<f64> {
    let mut kernel = vec![0.0; 2 * SPAN * FINE + 1];
    let count = (halves.len() * size) as f64;
    for half in halves {
        let t = half.fract();
        for sample in 0..size {
            let centred = sample as f64 - 0.5 * (size - 1) as f64 - t;
            for (k, weight) in cubic(t).into_iter().enumerate() {
                let steps = (centred + k as f64 - 1.0) / size as f64;
                let place = (steps + SPAN as f64) * FINE as f64;
                let i = place as usize;
                let part = place - i as f64;
                for (at, share) in [(i, 1.0 - part), (i + 1, part)] {
                    if let Some(tap) = kernel.get_mut(at) {
                        *tap += share * weight / count;
                    }
                }
            }
        }
    }
    kernel
}

/// Where each flank's movement stands among the parameters: place, time and run-up of the rise and
/// the fall, the lag, offset and scale of each, the release's time and delay, the response's bend, the
/// late part of the output, the curves of rise and fall, how each begins and ends.
pub(crate) const COUNT: usize = 21;
const LAG: usize = 6;
const RELEASE: usize = 11;
const DELAY: usize = 12;
const BEND: usize = 13;
const SHARE: usize = 14;
const RISE_CURVE: usize = 15;
const FALL_CURVE: usize = 16;
const RISE_ENDS: usize = 17;
const FALL_ENDS: usize = 19;

/// The parameters of a fit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Params([f64; COUNT]);

impl Params {
    pub(crate) fn motion(&self, falls: bool) -> Motion {
        let from = if falls { 3 } else { 0 };
        Motion {
            dark: self.0[from],
            lasting: self.0[from + 1].max(1e-6),
            run_up: self.0[from + 2].clamp(-0.95, 1.0),
            curve: self.0[if falls { FALL_CURVE } else { RISE_CURVE }],
            ends: {
                let from = if falls { FALL_ENDS } else { RISE_ENDS };
                [self.0[from], self.0[from + 1]]
            },
            lag: self.0[LAG].max(0.0),
            falls,
        }
    }

    /// `sensor` with these parameters' release and bend.
    pub(crate) fn sensor(&self, sensor: Sensor) -> Sensor {
        let time = self.0[RELEASE].max(1e-6);
        let release = match sensor.release {
            Release::Prompt => Release::Prompt,
            Release::Slow(_) => Release::Slow(time),
            Release::Held(_) => Release::Held(time),
        };
        let bend = self.0[BEND].max(LEAST_BEND);
        let response = match sensor.response {
            Response::Compressed(_) => Response::Compressed(bend),
            Response::Rounded(_) => Response::Rounded(bend),
            Response::Clipped(_) => Response::Clipped(bend.min(1.0)),
            other => other,
        };
        Sensor {
            release,
            response,
            delay: self.0[DELAY].max(0.0),
            share: self.0[SHARE].clamp(0.0, 1.0),
        }
    }

    /// With movements so many times as long.
    pub(crate) fn lasting(mut self, times: f64) -> Self {
        self.0[1] *= times;
        self.0[4] *= times;
        self
    }

    pub(crate) fn moved(mut self, parameter: usize, by: f64) -> Self {
        self.0[parameter] += by;
        self
    }
}

/// Blades behind `sensor` fitted to both flanks by Levenberg and Marquardt's method. Times and bend of
/// the sensor are fitted too; `sensor` holds where to begin.
pub(crate) fn fit(flanks: &Flanks, blades: &Blades, sensor: Sensor) -> Option<Fitted> {
    // A long lag and short flanks are far in the parameters from what the flanks look like.
    let nearest = |a: &Fitted, b: &Fitted| a.misfit.total_cmp(&b.misfit);
    let starts = LAGS.iter().take(match sensor {
        it if it == Sensor::STRAIGHT => LAGS.len(),
        _ => 1,
    });
    starts
        .filter_map(|lag| fit_from(flanks, blades, sensor, Params::begin(flanks, sensor, *lag)))
        .min_by(nearest)
}

/// Blades before `sensor` fitted to both flanks, beginning at `begin`.
pub(crate) fn fit_from(
    flanks: &Flanks,
    blades: &Blades,
    sensor: Sensor,
    begin: Params,
) -> Option<Fitted> {
    descend(flanks, blades, sensor, begin, (Which::Both, ROUNDS))
}

/// Blades that gather speed unevenly before a straight sensor, beginning where even ones ended.
pub(crate) fn fit_curved(flanks: &Flanks, blades: &Blades, even: &Fitted) -> Option<Fitted> {
    let which = (Which::Curved, ROUNDS);
    descend(flanks, blades, Sensor::STRAIGHT, even.params, which)
}

/// Blades of any form before a straight sensor, beginning where regular ones ended.
pub(crate) fn fit_any(flanks: &Flanks, regular: &Fitted) -> Option<Fitted> {
    let begin = |ends: [f64; 2]| {
        let mut params = regular.params;
        for (flank, from, shape) in [(&flanks.rise, 0, RISE_ENDS), (&flanks.fall, 3, FALL_ENDS)] {
            params.0[shape..shape + 2].copy_from_slice(&ends);
            params.0[from] = 0.0;
            params.0[from + 1] = 1.0;
            params.0[from + 2] = 0.0;
            let motion = params.motion(flank.falls);
            let at = |part| Blades::Any.passes(&motion, part);
            let lasting = flank.ramp / (at(0.8) - at(0.2)).abs();
            params.0[from] = flank.half - at(0.5) * lasting;
            params.0[from + 1] = lasting;
        }
        descend(
            flanks,
            &Blades::Any,
            Sensor::STRAIGHT,
            params,
            (Which::Any, ROUNDS),
        )
    };
    ANY.iter()
        .filter_map(|ends| begin(*ends))
        .min_by(|a, b| a.misfit.total_cmp(&b.misfit))
}

/// Blades before a straight sensor fitted to the opening alone.
pub(crate) fn of_rise(flanks: &Flanks, blades: &Blades) -> Option<Fitted> {
    let sensor = Sensor::STRAIGHT;
    let begin = Params::begin(flanks, sensor, LAGS[0]);
    descend(flanks, blades, sensor, begin, (Which::Rise, ROUNDS))
}

/// Which flanks a fit is held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Which {
    Both,
    /// Both, of blades whose speed changes unevenly.
    Curved,
    /// Both, of blades of any form.
    Any,
    Rise,
    Fall,
}

impl Params {
    /// Where to begin before a sensor that is prompt, with a lag of this part of a flank.
    fn begin(flanks: &Flanks, sensor: Sensor, lag: f64) -> Self {
        let (rise, fall) = (flanks.rise.start(lag), flanks.fall.start(lag));
        let mut params = Self([0.0; COUNT]);
        params.0[..7].copy_from_slice(&[
            rise.dark,
            rise.lasting,
            rise.run_up,
            fall.dark,
            fall.lasting,
            fall.run_up,
            rise.lag.min(fall.lag),
        ]);
        params.0[SHARE] = 1.0;
        params.0[RISE_ENDS..].copy_from_slice(&[ENDS, ENDS].concat());
        params.0[BEND] = sensor.response.bend().unwrap_or(0.0);
        params
    }
}

/// Fits all that `which` says by Levenberg and Marquardt's method, beginning at `params`, in so many
/// rounds at most.
fn descend(
    flanks: &Flanks,
    blades: &Blades,
    sensor: Sensor,
    params: Params,
    (which, rounds): (Which, usize),
) -> Option<Fitted> {
    let bends = sensor.response.bend().is_some();
    let released = sensor.release != Release::Prompt;
    let used: Vec<usize> = (0..COUNT)
        .filter(|i| match *i {
            0..3 | LAG | 7 | 8 if which == Which::Fall => false,
            RELEASE | DELAY => released,
            SHARE => released && sensor.share < 1.0,
            BEND => bends,
            RISE_CURVE | FALL_CURVE => matches!(which, Which::Curved | Which::Any),
            RISE_ENDS.. => which == Which::Any,
            _ => true,
        })
        .collect();
    let scale: Vec<f64> = used
        .iter()
        .map(|i| match *i {
            2 | 5 | 7..=10 | SHARE | RISE_CURVE | FALL_CURVE => 1e-3,
            0 | 1 => 1e-3 * flanks.rise.ramp,
            RELEASE => 1e-2 * sensor.release.time(),
            BEND | RISE_ENDS.. => 1e-2,
            _ => 1e-3 * flanks.fall.ramp.min(4.0 * flanks.rise.ramp),
        })
        .collect();
    let used: Vec<(usize, f64)> = used.into_iter().zip(scale).collect();
    let cost = |params: &[f64; COUNT]| residuals(flanks, blades, sensor, &Params(*params), which);
    let within = |moved, before: &_| Params(moved).within(&Params(*before)).0;
    let found = squares::least(params.0, (&used, rounds), cost, within)?;
    let points = flanks.rise.values.len() + flanks.fall.values.len();
    Some(Fitted {
        sensor,
        params: Params(found.params),
        covariance: found.covariance,
        misfit: found.misfit,
        freedom: (points as f64 - used.len() as f64).max(1.0),
    })
}

impl Params {
    /// Kept to what has a meaning, and near what was before.
    fn within(mut self, before: &Self) -> Self {
        for i in [1, 4, RELEASE, BEND] {
            self.0[i] = self.0[i].clamp(0.3 * before.0[i], 3.0 * before.0[i]);
        }
        for i in [LAG, DELAY] {
            self.0[i] = self.0[i].max(0.0);
        }
        self.0[BEND] = self.0[BEND].min(MOST_BEND);
        self.0[SHARE] = self.0[SHARE].clamp(LEAST_SHARE, 1.0);
        for i in RISE_ENDS..COUNT {
            self.0[i] = self.0[i].clamp(LEAST_END, MOST_END);
        }
        self
    }
}

impl Fitted {
    pub(crate) fn motion(&self, falls: bool) -> Motion {
        self.params.motion(falls)
    }

    pub(crate) fn sensor(&self) -> Sensor {
        self.params.sensor(self.sensor)
    }

    /// The sensor under other parameters.
    pub(crate) fn sensor_of(&self, params: &Params) -> Sensor {
        params.sensor(self.sensor)
    }

    /// A figure of the parameters with its standard uncertainty from the fit.
    pub(crate) fn figure(&self, of: impl Fn(&Params) -> f64) -> (f64, f64) {
        let steps = (0..COUNT).map(|i| (i, self.covariance[(i, i)].sqrt()));
        let fitted = (&self.params.0, &self.covariance);
        let steps = steps.filter(|it| it.1 > 0.0);
        let (here, variance) = squares::figure(fitted, steps, |params| of(&Params(*params)));
        let excess = (self.misfit / self.freedom).max(1.0);
        (here, (variance * excess).sqrt())
    }
}

/// Weighted differences of both flanks from the model, and what the parameters are known to be.
fn residuals(
    flanks: &Flanks,
    blades: &Blades,
    sensor: Sensor,
    params: &Params,
    which: Which,
) -> Vec<f64> {
    let sensor = params.sensor(sensor);
    let mut all = Vec::with_capacity(flanks.rise.values.len() + flanks.fall.values.len() + 8);
    all.push(params.0[DELAY] / DELAYED_S);
    all.push((params.0[4] / params.0[1]).ln() / UNLIKE);
    for (flank, from) in [(&flanks.rise, 0), (&flanks.fall, 3)] {
        let other = if flank.falls {
            Which::Rise
        } else {
            Which::Fall
        };
        if which == other {
            continue;
        }
        let model = flank.made(blades, params.motion(flank.falls), sensor);
        let slow = sensor.release != Release::Prompt;
        let corners = if slow && flank.falls { CORNER } else { 0.0 };
        let levels = if from == 0 { 7 } else { 9 };
        let (offset, scale) = (params.0[levels], params.0[levels + 1]);
        all.extend(flank.values.iter().zip(model).zip(&flank.corners).map(
            |((value, model), corner)| {
                let variance = flank.variance + (corners * corner).powi(2);
                (value - offset - (1.0 + scale) * model) / variance.sqrt()
            },
        ));
        all.push(offset / LEVELS);
        all.push(scale / LEVELS);
        let run_up = params.0[from + 2];
        let least = match (flank.falls, which) {
            // Blades that a spring drives home are fastest at the end.
            (true, Which::Both | Which::Fall) => -MOST_RUN_UP,
            _ => 0.0,
        };
        all.push((run_up - run_up.clamp(least, 1.0)) / RUN_UP);
        if matches!(which, Which::Curved | Which::Any) {
            all.push(params.motion(flank.falls).curve / CURVE);
        }
    }
    all
}
