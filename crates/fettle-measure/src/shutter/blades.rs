//! A flank as blades make it and a sensor shows it.
//!
//! Blades of a leaf shutter leave a regular polygon of inradius `r`; what shows is its common area
//! with the round opening of radius 1. They gather speed evenly: `r = x (1 - u + u x)` with `x` the
//! part of the flank's time gone by, or nearly evenly. The light shrinks as the square of the time left where blades
//! close and fills the opening as its power 1.5, so that neither end has a corner.
//!
//! Openings of other forms are met by what rises as one power of the time gone by and fills as another of the time
//! left: the distribution function of a beta distribution, of which straight and round flanks, and many smooth ones,
//! are cases.

use std::borrow::Cow;
use std::f64::consts::{FRAC_PI_2, PI};

/// Places of the table of areas.
const PLACES: usize = 2048;
/// The same for blades of any form, and the steps their light is summed in.
const ANY_PLACES: usize = 512;
const ANGLES: usize = 256;
/// Steps a flank is followed in, at least.
const STEPS: f64 = 120.0;
/// Steps followed between two values, at most.
const MOST_STEPS: usize = 8;
/// Values followed before the first, at most: flanks have a thousand.
const MOST_BEYOND: usize = 4_000;

/// What leaves the opening.
#[derive(Clone, Debug)]
pub(crate) enum Blades {
    /// Blades with these open areas against their inradius.
    Regular(Vec<f64>),
    /// Blades of any form that begin and end as their [`Motion`] says.
    Any,
}

/// How regular blades begin to open and end.
pub(crate) const ENDS: [f64; 2] = [2.0, 1.5];

/// What a sensor makes of steady light; fully open stays 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Response {
    Straight,
    /// `x (1 + k)/(1 + k x)`: output that runs into a limit hyperbolically.
    Compressed(f64),
    /// `tanh(k x)/tanh k`.
    Rounded(f64),
    /// Straight up to this part of the light, flat above.
    Saturated(f64),
    /// The same, the part being fitted.
    Clipped(f64),
}

/// What a sensor does when light falls, its time in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Release {
    Prompt,
    /// A slow pole that follows the light.
    Slow(f64),
    /// Falling no faster than exponentially with this time.
    Held(f64),
}

/// The movement behind one flank, in seconds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Motion {
    /// Where the light is first or last.
    pub(crate) dark: f64,
    pub(crate) lasting: f64,
    pub(crate) run_up: f64,
    /// What the speed's change departs from even, see [`Motion::inradius`].
    pub(crate) curve: f64,
    /// Powers of the time gone by and left with which blades of any form begin to open and end.
    pub(crate) ends: [f64; 2],
    pub(crate) lag: f64,
    pub(crate) falls: bool,
}

impl Motion {
    /// Of blades that have `x` of the flank's time behind them; the curve moves neither end nor middle.
    fn inradius(&self, x: f64) -> f64 {
        let even = 1.0 - self.run_up + self.run_up * x;
        x * (even + self.curve * (1.0 - x) * (1.0 - 2.0 * x))
    }
}

/// The sensor behind the blades.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sensor {
    pub(crate) response: Response,
    pub(crate) release: Release,
    /// How long the output stays up once the light begins to fall.
    pub(crate) delay: f64,
    /// The part of the output that falls late; the rest is prompt.
    pub(crate) share: f64,
}

impl Sensor {
    pub(crate) const STRAIGHT: Self = Self {
        response: Response::Straight,
        release: Release::Prompt,
        delay: 0.0,
        share: 1.0,
    };

    /// One that ends where fully open light is so many times as much.
    pub(crate) fn railed(drive: f64) -> Self {
        Self {
            response: Response::Saturated(1.0 / drive),
            ..Self::STRAIGHT
        }
    }

    /// One that ends at a part of the light that is to be fitted, this at first.
    pub(crate) fn clipped(at: f64) -> Self {
        Self {
            response: Response::Clipped(at),
            ..Self::STRAIGHT
        }
    }

    /// What a late output can add to a time; without bound where it bends.
    pub(crate) fn most_late(&self) -> f64 {
        match self.release {
            Release::Prompt => f64::INFINITY,
            Release::Slow(time) | Release::Held(time) => self.delay + time,
        }
    }
}

impl Response {
    /// What is fitted of it.
    pub(crate) fn bend(self) -> Option<f64> {
        match self {
            Self::Straight | Self::Saturated(_) => None,
            Self::Compressed(bend) | Self::Rounded(bend) | Self::Clipped(bend) => Some(bend),
        }
    }

    pub(crate) fn of(self, light: f64) -> f64 {
        match self {
            Self::Straight => light,
            Self::Compressed(k) => light * (1.0 + k) / (1.0 + k * light),
            Self::Rounded(k) => (k * light).tanh() / k.tanh(),
            Self::Saturated(at) | Self::Clipped(at) => (light / at).min(1.0),
        }
    }
}

impl Blades {
    /// So many blades, or edges that leave a round opening.
    pub(crate) fn of(count: Option<u32>) -> Self {
        let area = |r: f64| match count {
            None => r * r,
            Some(count) => {
                let sides = f64::from(count);
                let half_angle = PI / sides;
                if r <= half_angle.cos() {
                    sides * half_angle.tan() * r * r / PI
                } else {
                    1.0 - sides * (r.acos() - r * (1.0 - r * r).max(0.0).sqrt()) / PI
                }
            }
        };
        let areas = (0..=PLACES).map(|i| area(i as f64 / PLACES as f64));
        Self::Regular(areas.collect())
    }

    /// The opening as this movement makes it.
    fn opening(&self, motion: &Motion) -> Opening<'_> {
        match self {
            Self::Regular(areas) => Opening(Cow::Borrowed(areas)),
            Self::Any => Opening(Cow::Owned(filled(motion.ends))),
        }
    }

    /// When `part` of the light is passed.
    pub(crate) fn passes(&self, motion: &Motion, part: f64) -> f64 {
        let opening = self.opening(motion);
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..40 {
            let x = 0.5 * (low + high);
            if opening.area(motion.inradius(x)) < part {
                low = x;
            } else {
                high = x;
            }
        }
        let way = 0.5 * (low + high) * motion.lasting;
        motion.dark + if motion.falls { -way } else { way }
    }

    /// What the sensor shows at `count` times `step` apart, the first 0.
    pub(crate) fn seen(
        &self,
        motion: &Motion,
        sensor: Sensor,
        step: f64,
        count: usize,
    ) -> Vec<f64> {
        let inner = ((STEPS * step / motion.lasting).ceil().max(1.0) as usize).min(MOST_STEPS);
        let h = step / inner as f64;
        let first = if motion.falls {
            motion.dark - motion.lasting
        } else {
            motion.dark
        };
        let ahead = ((-first / step).ceil().max(0.0) as usize + 1).min(MOST_BEYOND);
        let opening = self.opening(motion);
        let mut seen = Vec::with_capacity(count);
        let since = -(ahead as f64) * step - h - first;
        let mut follower = Follower::new(motion, sensor, h, since);
        for n in 0..(ahead + count) * inner {
            let time = (n as f64) * h - ahead as f64 * step;
            let value = follower.next(sensor.response.of(opening.light(motion, time)));
            if n % inner == 0 && n >= ahead * inner {
                seen.push(value);
            }
        }
        seen
    }
}

/// Open areas against the inradius, or against the part of the time where blades are of any form, evenly from 0 to 1.
struct Opening<'a>(Cow<'a, [f64]>);

impl Opening<'_> {
    fn area(&self, r: f64) -> f64 {
        let place = r.clamp(0.0, 1.0) * (self.0.len() - 1) as f64;
        let i = place as usize;
        let part = place - i as f64;
        match self.0.get(i..i + 2) {
            Some([a, b]) => a + part * (b - a),
            _ => 1.0,
        }
    }

    /// The light at a time of the movement.
    fn light(&self, motion: &Motion, time: f64) -> f64 {
        let since = if motion.falls {
            motion.dark - time
        } else {
            time - motion.dark
        };
        let x = (since / motion.lasting).clamp(0.0, 1.0);
        self.area(motion.inradius(x))
    }
}

/// `I_x(a, b)`, the regularised incomplete beta function, evenly over `x`. Summed over the angle of which `x` is the
/// squared sine, which leaves neither end a pole for powers from one half on.
fn filled([a, b]: [f64; 2]) -> Vec<f64> {
    let step = FRAC_PI_2 / ANGLES as f64;
    let mut sums = vec![0.0];
    let mut sum = 0.0;
    for n in 0..ANGLES {
        let (sine, cosine) = ((n as f64 + 0.5) * step).sin_cos();
        sum += sine.powf(2.0 * a - 1.0) * cosine.powf(2.0 * b - 1.0);
        sums.push(sum);
    }
    let at = |i: usize| {
        let place = (i as f64 / ANY_PLACES as f64).sqrt().asin() / step;
        let n = (place as usize).min(ANGLES - 1);
        (sums[n] + (place - n as f64) * (sums[n + 1] - sums[n])) / sum
    };
    (0..=ANY_PLACES).map(at).collect()
}

/// Steps of [`Blades::over`] in a flank.
const PARTS: usize = 400;
/// A release is over after so many of its times.
const LASTS: f64 = 9.0;

impl Blades {
    /// Light and output at the middles of steps over the whole of a flank and what follows it, with
    /// the length of a step.
    pub(crate) fn over(&self, motion: &Motion, sensor: Sensor) -> (f64, Vec<[f64; 2]>) {
        let h = motion.lasting / PARTS as f64;
        let slow = motion.lag + sensor.delay + sensor.release.time();
        let more = ((LASTS * slow / h) as usize).min(20 * PARTS);
        let from = if motion.falls {
            motion.dark - motion.lasting
        } else {
            motion.dark
        };
        let opening = self.opening(motion);
        let mut follower = Follower::new(motion, sensor, h, 0.0);
        let mut both = Vec::with_capacity(PARTS + more);
        for n in 0..PARTS + more {
            let before = follower.out;
            let at = |part: f64| opening.light(motion, from + (n as f64 + part) * h);
            let out = follower.next(sensor.response.of(at(1.0)));
            both.push([at(0.5), 0.5 * (before + out)]);
        }
        (h, both)
    }
}

impl Release {
    pub(crate) fn time(self) -> f64 {
        match self {
            Self::Prompt => 0.0,
            Self::Slow(time) | Self::Held(time) => time,
        }
    }
}

/// Lag and release, stepped exactly for light that changes evenly within a step.
struct Follower {
    step: f64,
    lag: [f64; 2],
    slow: [f64; 2],
    sensor: Sensor,
    light: f64,
    lagged: f64,
    /// Seconds since the movement began.
    since: f64,
    /// What the late part of the output would be by itself.
    late: f64,
    out: f64,
}

/// Decay over a step and the share of its end in what is followed.
pub(crate) fn factors(step: f64, time: f64) -> [f64; 2] {
    if time <= 1e-3 * step {
        return [0.0, 0.0];
    }
    let h = step / time;
    let decay = (-h).exp();
    [decay, -(-h).exp_m1() / h]
}

/// What follows with these factors, a step on, while what is followed goes evenly `from` one value `to` another.
pub(crate) fn follow(x: f64, [decay, mean]: [f64; 2], from: f64, to: f64) -> f64 {
    x * decay + from * (mean - decay) + to * (1.0 - mean)
}

impl Follower {
    /// To begin `since` seconds after the movement, one step before the first.
    fn new(motion: &Motion, sensor: Sensor, step: f64, since: f64) -> Self {
        let before = if motion.falls { 1.0 } else { 0.0 };
        Self {
            step,
            lag: factors(step, motion.lag),
            slow: factors(step, sensor.release.time()),
            sensor,
            light: before,
            lagged: before,
            since,
            late: before,
            out: before,
        }
    }

    fn next(&mut self, light: f64) -> f64 {
        let before = self.lagged;
        self.lagged = follow(self.lagged, self.lag, self.light, light);
        self.light = light;
        self.since += self.step;
        if self.lagged >= self.late {
            self.late = self.lagged;
        } else {
            let released = match self.sensor.release {
                Release::Prompt => self.lagged,
                Release::Slow(_) => follow(self.late, self.slow, before, self.lagged),
                Release::Held(_) => self.lagged.max(self.late * self.slow[0]),
            };
            // Of a step in which the delay ends only the rest counts.
            let free = ((self.since - self.sensor.delay) / self.step).clamp(0.0, 1.0);
            self.late += free * (released - self.late);
        }
        self.out = self.lagged + self.sensor.share * (self.late - self.lagged);
        self.out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn motion(falls: bool, lag: f64) -> Motion {
        Motion {
            dark: if falls { 3e-3 } else { 1e-3 },
            lasting: 1.2e-3,
            run_up: 0.4,
            curve: 0.0,
            ends: ENDS,
            lag,
            falls,
        }
    }

    #[test]
    fn blades_leave_a_square_foot_and_no_corner_at_the_top() {
        for count in [3, 5, 10] {
            let blades = Blades::of(Some(count));
            let opening = blades.opening(&motion(false, 0.0));
            let foot = (opening.area(0.2) / opening.area(0.1)).log2();
            let top = ((1.0 - opening.area(0.98)) / (1.0 - opening.area(0.99))).log2();
            assert!((foot - 2.0).abs() < 0.01, "{count} blades: {foot}");
            assert!((top - 1.5).abs() < 0.1, "{count} blades: {top}");
        }
    }

    #[test]
    fn any_form_is_a_beta_distribution() {
        for [a, b] in [[1.0, 1.0], [2.0, 2.0], [3.4, 1.0], [0.5, 1.5], [2.0, 1.5]] {
            let all = filled([a, b]);
            for (i, got) in all.iter().enumerate().skip(4) {
                let want = statrs::function::beta::beta_reg(a, b, i as f64 / ANY_PLACES as f64);
                assert!((got - want).abs() < 5e-5, "{a} {b} {i}: {got} for {want}");
            }
        }
    }

    #[test]
    fn a_lag_adds_nothing_and_a_slow_pole_its_time() {
        let blades = Blades::of(Some(5));
        let adds = |falls: bool, sensor: Sensor| {
            let (step, both) = blades.over(&motion(falls, 0.1e-3), sensor);
            step * both.iter().map(|[light, out]| out - light).sum::<f64>()
        };
        let lag = adds(false, Sensor::STRAIGHT) + adds(true, Sensor::STRAIGHT);
        assert!(lag.abs() < 1e-6, "{lag}");
        let slow = Sensor {
            release: Release::Slow(0.5e-3),
            ..Sensor::STRAIGHT
        };
        let more = adds(true, slow) - adds(true, Sensor::STRAIGHT);
        assert!((more - 0.5e-3).abs() < 2e-6, "{more}");
    }

    #[test]
    fn what_is_seen_is_the_light_where_the_sensor_is_straight() {
        let blades = Blades::of(Some(3));
        for falls in [false, true] {
            let motion = motion(falls, 0.0);
            let step = 1.0 / 48_000.0;
            let seen = blades.seen(&motion, Sensor::STRAIGHT, step, 200);
            for (n, value) in seen.iter().enumerate() {
                let light = blades.opening(&motion).light(&motion, n as f64 * step);
                assert!((value - light).abs() < 1e-9, "{value} for {light} at {n}");
            }
        }
    }
}
