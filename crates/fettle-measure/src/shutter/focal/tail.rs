//! Curtains before a sensor whose output falls late.
//!
//! Both curtains pass a sensor the same way, so the closing takes the light away in the form in which the opening let
//! it in, in another time. The opening shows that form as the sensor's lag leaves it; what the closing is late beyond
//! it is a tail. So neither the sensor's form nor its width nor its lag needs to be known.

use rayon::prelude::*;

use crate::shutter::blades::{factors, follow};
use crate::shutter::channel::{Channel, Raw};
use crate::shutter::flanks::{Laid, between, fourth_differences, whole};
use crate::shutter::local::{End, Signal};
use crate::shutter::squares::{self, Least};
use crate::shutter::tail::Tail;

/// A slit narrower than the sensor may light it evenly for a while; not for so long.
const OPEN_S: f64 = 2.5e-3;
/// So much of the light that stands still beside a flank goes with it: a lag's last part is no part of the flank's range.
const BESIDE_S: f64 = 0.3e-3;
/// What the opening's form leaves unexplained of a closing, as a part of the light.
const FORM: f64 = 2e-4;
/// What laying flanks on each other and following them between samples make of a corner, against its fourth
/// difference.
const CORNER: f64 = 0.06;
/// The variance of white noise between samples, on the mean, and that of its fourth differences.
const INTERPOLATED: f64 = 0.79;
const FOURTH: f64 = 70.0;
/// Samples in which a response to one is over or hardly any more.
const RESPONSES: usize = 40;
/// How well the levels of dark and fully open light are known under a closing.
const LEVELS: f64 = 1e-3;
/// A flank begins so many samples before its range, at most.
const EARLIER: f64 = 3.0;
/// Standard deviation of the logarithm of the second curtain's time before the sensor against the first's.
const UNLIKE: f64 = 0.15;
/// Standard deviation of what the second curtain's speed changes more than the first's in half a flank.
const GAINS: f64 = 0.01;
/// A sensor lags by a time of this order.
const LAG_S: f64 = 0.05e-3;
/// Charge holds an output up for a time of this order.
const DELAYED_S: f64 = 0.2e-3;
/// A tail must explain the closing better by so many variances, and a prompt output leave so many times as much.
const DECISIVE: f64 = 30.0;
const SURELY: f64 = 2.0;
/// How much of what speaks for one form of tail against another is believed, and what of its figure is allowed for no
/// sensor having just one.
const UNSURE: f64 = 0.25;
const MODEL: f64 = 0.03;
/// A form that leaves more than so many times the freedom is none of the sensor's: its figure may be as wrong as it is
/// large.
const EXPLAINED: f64 = 1.5;
/// Times of a fall from which the search begins, the parts of the output that fall so, and the times of the rest.
const TIMES_S: [f64; 5] = [0.05e-3, 0.15e-3, 0.3e-3, 0.6e-3, 1.2e-3];
const DELAYS_S: [f64; 4] = [0.0, 0.1e-3, 0.2e-3, 0.35e-3];
const SHARES: [f64; 3] = [1.0, 0.4, 0.1];
const EARLY_S: [f64; 2] = [0.03e-3, 0.1e-3];
/// Beginnings that are followed of one time and a whole output, and rounds of each.
const HIDDEN: usize = 4;
const ROUNDS: usize = 30;
/// A time within which most outputs fall.
const LIKELY_S: f64 = 0.5e-3;
/// A closing is followed for so many samples after its mean moment; no flank has more before it.
const MOST_POINTS: usize = 1_600;
const SHORTEST_S: f64 = 2e-6;
const LONGEST_S: f64 = 20e-3;
const LEAST_SHARE: f64 = 0.005;

/// Looks for a tail in a channel's closings; the shots are measured again where one is found.
pub(super) fn look(channel: &mut Channel<'_>) {
    // A lossy coding smears the flanks, and what a lamp's swing leaves in them is not alike in both.
    if channel.is_lossy() || channel.lamp.is_some() {
        return;
    }
    let find =
        |channel: &Channel<'_>| Passing::of(&channel.shots, &channel.signal).map(|it| it.tail());
    let known = channel.tail;
    let Some(mut found) = find(channel) else {
        return;
    };
    // What is cut off of a tail is taken for dark.
    if let (None, Some(tail)) = (known, found) {
        channel.shots = channel.past_tail(tail.closing.max(LIKELY_S));
        found = find(channel).flatten().or(found);
    }
    channel.tail = found;
}

/// The mean opening and closing of a channel's shots.
struct Passing {
    opening: Laid,
    closing: Laid,
    /// Variance of the noise in a value of each.
    noises: [f64; 2],
    /// What the opening's form leaves of each of the closing's values, as a variance.
    unexplained: Vec<f64>,
    dt: f64,
}

/// See [`BESIDE_S`], in samples.
fn beside(dt: f64) -> usize {
    (BESIDE_S / dt) as usize
}

/// A shot's flanks with what is still next to them.
fn beyond(shot: &Raw, signal: &Signal<'_>) -> [Vec<f64>; 2] {
    let count = beside(signal.dt);
    let level = shot.level.map_or(0.0, |it| it.0);
    let still = |stretch: usize, near: fn(usize) -> End, light: f64| {
        let departures = (shot.local).departures(signal, &shot.fit, stretch, near(count));
        departures.into_iter().map(move |it| light + it)
    };
    let (opening, closing) = (shot.light.first.iter(), shot.light.second.iter());
    let opening = still(0, End::Last, 0.0).chain(opening.copied());
    let closing = still(1, End::Last, level).chain(closing.copied());
    [
        opening.chain(still(1, End::First, level)).collect(),
        closing.chain(still(2, End::First, 0.0)).collect(),
    ]
}

/// How an output falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Falls {
    Prompt,
    /// A part of it follows a slow pole, at once or after a delay, or the whole.
    Slow,
    /// A part of it, or the whole, falls no faster than exponentially.
    Held,
    /// One part of it follows one pole and the rest another.
    Twice,
}

/// Parameters: the closing's mean moment and its time's logarithm against the opening's, offset and scale, the
/// late part's time and delay in seconds and its share, the time of the rest, how much more speed the second curtain
/// gathers while it passes, the sensor's lag.
const COUNT: usize = 10;
const PLACE: usize = 0;
const TIME: usize = 1;
const OFFSET: usize = 2;
const SCALE: usize = 3;
const LATE: usize = 4;
const DELAY: usize = 5;
const SHARE: usize = 6;
const EARLY: usize = 7;
const GAIN: usize = 8;
const LAG: usize = 9;

type Params = [f64; COUNT];

/// Standard deviations of what is known of them beforehand: they are small.
const KNOWN: [(usize, f64); 7] = [
    (TIME, UNLIKE),
    (OFFSET, LEVELS),
    (SCALE, LEVELS),
    (DELAY, DELAYED_S),
    (EARLY, DELAYED_S),
    (GAIN, GAINS),
    (LAG, LAG_S),
];

/// A fit of one way to fall.
struct Fit {
    least: Least<COUNT>,
    /// What the output adds to a time, in seconds, and its standard uncertainty.
    late: (f64, f64),
}

impl Passing {
    /// `None` where no shot is open for long enough, or curtains would take too long.
    fn of(shots: &[Raw], signal: &Signal<'_>) -> Option<Self> {
        let (noise, dt) = (signal.noise, signal.dt);
        let long = shots.iter().filter(|shot| shot.open >= OPEN_S);
        let [openings, closings] = whole(long, (noise, dt), |shot| beyond(shot, signal));
        // Mean moments of passing: where a sample passes half, noise has its say.
        let sum = |x: &[f64]| x.iter().sum::<f64>();
        let opening = Laid::of(&openings, |x| Some(x.len() as f64 - sum(x)))?;
        let mut closing = Laid::of(&closings, |x| Some(sum(x)))?;
        if opening.middle.max(closing.middle) > MOST_POINTS {
            return None;
        }
        closing.mean.truncate(closing.middle + MOST_POINTS);
        let noises = [&opening, &closing].map(|it| INTERPOLATED * it.variance(noise));
        let [first, second] = [&opening, &closing].map(|it| fourth_differences(&it.mean));
        let corner = |difference: f64, noise: f64| {
            let of_noise = FOURTH * noise;
            CORNER * CORNER * (difference * difference - of_noise).max(0.0)
        };
        let unexplained = |(n, difference): (usize, &f64)| {
            let like = (n + opening.middle).checked_sub(closing.middle);
            let like = like.and_then(|n| first.get(n)).unwrap_or(&0.0);
            FORM * FORM + corner(*difference, noises[1]) + corner(*like, noises[0])
        };
        let unexplained = second.iter().enumerate().map(unexplained).collect();
        Some(Self {
            opening,
            closing,
            noises,
            unexplained,
            dt,
        })
    }

    /// A tail that is surely there.
    fn tail(&self) -> Option<Tail> {
        let prompt = self.fit(Falls::Prompt, self.placed(Falls::Prompt, [0.0; COUNT]))?;
        let freedom = (self.closing.mean.len() as f64 - COUNT as f64).max(1.0);
        if prompt.least.misfit < freedom {
            return None;
        }
        let begins: Vec<(Falls, Params)> = SHARES
            .iter()
            .flat_map(|share| {
                let slow = self.begins(Falls::Slow, *share, (&DELAYS_S, &[0.0]));
                let held = self.begins(Falls::Held, *share, (&DELAYS_S, &[0.0]));
                let twice = self.begins(Falls::Twice, *share, (&[0.0], &EARLY_S));
                slow.into_iter().chain(held).chain(twice)
            })
            .collect();
        let fit = |(falls, begin): (Falls, Params)| self.fit(falls, begin);
        let fits: Vec<Fit> = begins.into_par_iter().filter_map(fit).collect();
        let misfit = |it: &Fit| it.least.misfit;
        let best = fits.iter().min_by(|a, b| misfit(a).total_cmp(&misfit(b)))?;
        let excess = (misfit(best) / freedom).max(1.0);
        let weight = |it: &Fit| (-0.5 * UNSURE * (misfit(it) - misfit(best)) / excess).exp();
        let all: f64 = fits.iter().map(weight).sum();
        let mean =
            |of: &dyn Fn(&Fit) -> f64| fits.iter().map(|it| weight(it) * of(it)).sum::<f64>() / all;
        let late = mean(&|it| it.late.0);
        let variance = mean(&|it| excess * it.late.1.powi(2) + (it.late.0 - late).powi(2));
        let unsure = if excess > EXPLAINED { 1.0 } else { MODEL };
        let deviation = variance.sqrt().hypot(unsure * late);
        let gained = misfit(&prompt) - misfit(best);
        let is_sure = gained > DECISIVE * excess && misfit(&prompt) > SURELY * misfit(best);
        let abrupt = |it: &Fit| {
            let [late, delay, share, early] =
                [LATE, DELAY, SHARE, EARLY].map(|i| it.least.params[i]);
            share * (delay + late) + (1.0 - share) * early
        };
        is_sure.then(|| Tail {
            abrupt: mean(&abrupt),
            ..Tail::adding(best.least.params[LATE], (late, deviation))
        })
    }

    /// Where to begin with so much of the output falling so, in each of the times: with the likeliest of the delays and
    /// times of the rest.
    fn begins(
        &self,
        falls: Falls,
        share: f64,
        (delays, early): (&[f64], &[f64]),
    ) -> Vec<(Falls, Params)> {
        let of = |late: f64, delay: f64, early: f64| {
            let mut begin = [0.0; COUNT];
            (begin[LATE], begin[DELAY]) = (late, delay);
            (begin[SHARE], begin[EARLY]) = (share, early);
            self.placed(falls, begin)
        };
        let of_time = |late: &f64| {
            let all = delays.iter().flat_map(|delay| {
                let begins = early.iter().map(|early| of(*late, *delay, *early));
                begins.map(|it| (squares::square(&self.residuals(falls, &it)), it))
            });
            let mut all: Vec<(f64, Params)> = all.collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            // A whole output hides the curtain: how long it is held shows from near by only.
            all.truncate(if share < 1.0 { 1 } else { HIDDEN });
            all.into_iter().map(|(_, begin)| (falls, begin))
        };
        TIMES_S.iter().flat_map(of_time).collect()
    }

    /// The same with the output's mean moment where the closing has it.
    fn placed(&self, falls: Falls, mut params: Params) -> Params {
        params[PLACE] = self.closing.middle as f64;
        params[PLACE] -= self.late(falls, &params) / self.dt;
        params
    }

    fn fit(&self, falls: Falls, begin: Params) -> Option<Fit> {
        let used: Vec<(usize, f64)> = [
            (PLACE, 0.02),
            (TIME, 1e-3),
            (OFFSET, 1e-3),
            (SCALE, 1e-3),
            (LATE, 0.01 * begin[LATE]),
            (DELAY, 1e-6),
            (SHARE, 1e-3),
            (EARLY, 0.01 * begin[EARLY]),
            (GAIN, 1e-3),
            (LAG, 1e-6),
        ]
        .into_iter()
        .filter(|(i, _)| match *i {
            LATE => falls != Falls::Prompt,
            DELAY => matches!(falls, Falls::Slow | Falls::Held),
            SHARE => begin[SHARE] > 0.0 && begin[SHARE] < 1.0,
            EARLY => falls == Falls::Twice,
            _ => true,
        })
        .collect();
        let within = |mut moved: Params, before: &Params| {
            for i in [LATE, EARLY] {
                let (least, most) = (0.3 * before[i], 3.0 * before[i]);
                moved[i] = moved[i].clamp(least, most).min(LONGEST_S);
                if before[i] > 0.0 {
                    moved[i] = moved[i].max(SHORTEST_S);
                }
            }
            for i in [DELAY, LAG] {
                moved[i] = moved[i].max(0.0);
            }
            if before[SHARE] > 0.0 {
                moved[SHARE] = moved[SHARE].clamp(LEAST_SHARE, 1.0);
            }
            moved
        };
        let cost = |params: &Params| self.residuals(falls, params);
        let least = squares::least(begin, (&used, ROUNDS), cost, within)?;
        let fitted = (&least.params, &least.covariance);
        let late = |params: &Params| self.late(falls, params);
        let (late, variance) = squares::figure(fitted, used.into_iter(), late);
        let most = least.params[DELAY] + least.params[LATE] + least.params[EARLY];
        Some(Fit {
            // What hardly tells on the closing adds no more than the whole output would.
            late: (late, variance.sqrt().min(most)),
            least,
        })
    }

    /// Weighted differences of the closing from the model, and what the parameters are known to be.
    fn residuals(&self, falls: Falls, params: &Params) -> Vec<f64> {
        let made = self.output(falls, params);
        // The opening's noise comes through as far as it is not smoothed: else what smooths it would seem likelier.
        let noise = self.noises[1] + self.comes_through(falls, params) * self.noises[0];
        let seen = self.closing.mean.iter().zip(&self.unexplained);
        let mut all: Vec<f64> = seen
            .zip(made)
            .map(|((seen, unexplained), made)| {
                let off = seen - params[OFFSET] - (1.0 + params[SCALE]) * made;
                off / (noise + unexplained).sqrt()
            })
            .collect();
        all.extend(KNOWN.map(|(i, deviation)| params[i] / deviation));
        all
    }

    /// The part of the opening's noise, as a variance, that is in the output: that of the two responses to one sample.
    fn comes_through(&self, falls: Falls, params: &Params) -> f64 {
        let time = match falls {
            Falls::Prompt | Falls::Held => 0.0,
            Falls::Slow | Falls::Twice => params[LATE],
        };
        let [quick, slow] = [params[EARLY], time].map(|time| factors(self.dt, time));
        let share = params[SHARE];
        let at = |[decay, mean]: [f64; 2], n: usize| match n {
            0 => 1.0 - mean,
            _ => (decay * (1.0 - mean) + mean - decay) * decay.powi(n as i32 - 1),
        };
        let response = |n: usize| (1.0 - share) * at(quick, n) + share * at(slow, n);
        (0..RESPONSES).map(|n| response(n).powi(2)).sum()
    }

    /// The output at the closing's samples.
    fn output(&self, falls: Falls, params: &Params) -> Vec<f64> {
        let mut output = Vec::with_capacity(self.closing.mean.len());
        self.follow(falls, params, |at, [_, out]| {
            if at >= 0 {
                output.push(out);
            }
        });
        output
    }

    /// What the output adds to a time, in seconds.
    fn late(&self, falls: Falls, params: &Params) -> f64 {
        let mut sum = 0.0;
        let rest = self.follow(falls, params, |_, [light, out]| sum += out - light);
        self.dt * sum + rest
    }

    /// Tells `each` sample's light and output, numbered from the closing's first; the light begins to fall before it
    /// where the sensor is late. Returns what is still to come of the output, in seconds of full light.
    fn follow(&self, falls: Falls, params: &Params, mut each: impl FnMut(i64, [f64; 2])) -> f64 {
        let time = params[TIME].clamp(-2.0, 2.0).exp();
        let middle = self.opening.middle as f64;
        // Not later than the light begins to fall: a delay counts from here.
        let begins = params[PLACE] - time * (middle + EARLIER - beside(self.dt) as f64).max(0.0);
        let last = self.closing.mean.len() as i64;
        let first = (begins.floor() as i64).clamp(-last, 0);
        let [lags, quick, slow] = [LAG, EARLY, LATE].map(|i| factors(self.dt, params[i]));
        let (mut opened, mut lagged) = (1.0, 1.0);
        let (mut before, mut early, mut late) = (1.0, 1.0, 1.0_f64);
        for n in first..last {
            let place = (n as f64 - params[PLACE]) / time;
            let gained = params[GAIN] * (place / middle).clamp(-1.0, 1.0);
            let open = 1.0 - self.opened(middle + place * (1.0 + gained));
            // The lag that the opening shows was stretched with it, the closing's own was not: their quotient is this.
            lagged = follow(lagged, lags, opened, open);
            opened = open;
            let light = lagged + time * (open - lagged);
            early = follow(early, quick, before, light);
            let released = match falls {
                Falls::Prompt => light,
                Falls::Slow | Falls::Twice => follow(late, slow, before, light),
                Falls::Held => light.max(late * slow[0]),
            };
            let free = (n as f64 - begins - params[DELAY] / self.dt).clamp(0.0, 1.0);
            late += free * (released - late);
            before = light;
            each(n, [light, early + params[SHARE] * (late - early)]);
        }
        let share = params[SHARE];
        (1.0 - share) * early * params[EARLY] + share * late * params[LATE]
    }

    /// The light that the opening let in at a place among its samples.
    fn opened(&self, place: f64) -> f64 {
        let last = self.opening.mean.len() as f64 - 3.0;
        if place < 1.0 {
            0.0
        } else if place > last {
            1.0
        } else {
            between(&self.opening.mean, place)
        }
    }
}
