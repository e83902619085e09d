//! The curtains of one release over the gate: travel, evenness, and where the slit closes.

use super::lag::Lag;
use super::passage::Passage;
use super::run::{Passing, Run};

/// How a curtain gathers speed where only two sensors saw it, times the gate over its mean speed
/// squared: springs draw it, so that it ends half as fast again as it began.
const GAIN: f64 = 0.4;
/// Standard uncertainties of this: guessed, between even speed and twice it; known from other
/// releases; of one curtain against the other.
const GAINS_GUESSED: f64 = 0.25;
const GAINS_KNOWN: f64 = 0.03;
const GAINS_APART: f64 = 0.05;
/// Places of the gate at which the slit is looked at.
const PLACES: usize = 720;
/// `σ²` of a sensor's width against its 10 to 90 % ramp times the curtain's speed: 0.361 for a square
/// sensor and 0.364 for a round one.
const ACROSS: f64 = 0.362;
/// Standard uncertainty of a sensor's usual ramp as the measure of its width in one release, as a
/// part of it: its form, and releases that run a hundredth faster or slower than the usual one.
const RAMP_PART: f64 = 0.01;
/// A slit that ends within a sensor leaves it fewer than so many standard widths of exposure times
/// its rate of closing.
const WITHIN: f64 = 1.8;
/// Taken for every moment beside its own uncertainty, so that the sensors count about alike, in
/// milliseconds.
const ALIKE_MS: f64 = 1e-3;

/// A sensor that saw light in a release.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lit {
    /// Millimetres from the edge where the curtains start.
    pub(super) x: f64,
    pub(super) passage: Passage,
    /// The sensor's usual 10 to 90 % ramp in milliseconds.
    pub(super) ramp: f64,
    /// How late the sensor tells of the light.
    pub(super) lag: Lag,
}

/// Both curtains, in millimetres and milliseconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shape {
    pub(super) first: Run,
    pub(super) second: Run,
}

/// What is told of the curtains, with standard uncertainties; milliseconds, stops and millimetres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figures {
    pub(super) first_travel: (f64, f64),
    pub(super) second_travel: (f64, f64),
    /// When the first curtain passes the far edge, counted from the recording's start.
    pub(super) opened: (f64, f64),
    /// When the second curtain passes the near edge.
    pub(super) closes: (f64, f64),
    /// `None` where the slit closes within the gate.
    pub(super) evenness: Option<(f64, f64)>,
    pub(super) capped_from: Option<f64>,
}

impl Shape {
    /// Both curtains through two or more sensors. `gains` are those of the session's other releases,
    /// taken where only two sensors saw light;
    /// without them such curtains are taken to gather speed as springs usually draw them.
    pub(super) fn through(
        lit: &[Lit],
        gains: Option<[f64; 2]>,
        gate: f64,
        dt_ms: f64,
    ) -> Option<Self> {
        let mut lit = lit.to_vec();
        let mut shape = Self::plain(&lit, None, gains.unwrap_or_default(), gate, dt_ms)?;
        let whole: Vec<Lit> = lit
            .iter()
            .copied()
            .filter(|it| !shape.ends_within(it, dt_ms))
            .collect();
        if whole.len() >= 2 && whole.len() < lit.len() {
            lit = whole;
            shape = Self::plain(&lit, None, gains.unwrap_or_default(), gate, dt_ms)?;
        }
        let gains = gains.unwrap_or_else(|| shape.usual_gains(gate));
        Self::plain(&lit, Some(&shape), gains, gate, dt_ms)
    }

    /// Least squares; `about` are the curtains as known so far, which tell how the mean moment over a
    /// sensor's width differs from that at its middle.
    fn plain(
        lit: &[Lit],
        about: Option<&Self>,
        gains: [f64; 2],
        gate: f64,
        dt_ms: f64,
    ) -> Option<Self> {
        if lit.len() < 2 {
            return None;
        }
        let corrections: Vec<(f64, f64)> = lit
            .iter()
            .map(|it| about.map_or(Some((0.0, 0.0)), |shape| shape.over_width(it, dt_ms)))
            .collect::<Option<_>>()?;
        let passing = |it: &Lit, time: f64, correction: f64, ways: [f64; 2]| Passing {
            x: it.x,
            time: time * dt_ms - correction - it.lag.ms,
            deviation: (ways[0].hypot(ways[1]) * dt_ms).hypot(ALIKE_MS),
        };
        let first: Vec<Passing> = lit
            .iter()
            .zip(&corrections)
            .map(|(it, correction)| {
                let ways = it.passage.ways.map(|way| way.0);
                passing(it, it.passage.first, correction.0, ways)
            })
            .collect();
        let second: Vec<Passing> = lit
            .iter()
            .zip(&corrections)
            .map(|(it, correction)| {
                let ways = it.passage.ways.map(|way| way.1);
                passing(it, it.passage.second, correction.1, ways)
            })
            .collect();
        Some(Self {
            first: Run::through(&first, gains[0], gate)?,
            second: Run::through(&second, gains[1], gate)?,
        })
    }

    /// By how much the measured moments are later than the curtains' passing the sensor's middle.
    ///
    /// Over a width of variance `σ²` the mean of `t(x)` lies `σ² t''/2` off its middle's value, and the
    /// centroid of a narrow slit's light by the covariance of slit and moment, over the slit.
    fn over_width(&self, lit: &Lit, dt_ms: f64) -> Option<(f64, f64)> {
        let across = self.across(lit)?.powi(2);
        let first = 0.5 * across * self.first.bend(lit.x)?;
        let second = 0.5 * across * self.second.bend(lit.x)?;
        let shared = if lit.passage.joint {
            let open = lit.passage.open() * dt_ms;
            self.rate(lit.x)? * self.slowness(lit.x)? * across / open
        } else {
            0.0
        };
        Some((first + shared, second + shared))
    }

    /// Standard deviation of a sensor's width in millimetres: its ramp is the mean of both curtains'.
    fn across(&self, lit: &Lit) -> Option<f64> {
        Some(ACROSS * lit.ramp / self.slowness(lit.x)?)
    }

    /// Milliseconds that the curtains take for a millimetre, in the mean.
    fn slowness(&self, x: f64) -> Option<f64> {
        Some(0.5 * (1.0 / self.first.speed_at(x)? + 1.0 / self.second.speed_at(x)?))
    }

    /// Whether the slit closes while it passes the sensor.
    fn ends_within(&self, lit: &Lit, dt_ms: f64) -> bool {
        let rate = self.rate(lit.x).unwrap_or(0.0);
        let across = self.across(lit).unwrap_or(0.0);
        lit.passage.open() * dt_ms < WITHIN * across * rate.abs()
    }

    /// How the exposure changes along the gate.
    fn rate(&self, x: f64) -> Option<f64> {
        Some(1.0 / self.second.speed_at(x)? - 1.0 / self.first.speed_at(x)?)
    }

    fn gains(&self) -> [f64; 2] {
        [self.first.gain(), self.second.gain()]
    }

    /// How curtains of these mean speeds usually gather speed.
    fn usual_gains(&self, gate: f64) -> [f64; 2] {
        [&self.first, &self.second].map(|run| GAIN * run.travel_speed(gate).powi(2) / gate)
    }

    /// The exposure at `x` in milliseconds.
    pub(super) fn open(&self, x: f64) -> Option<f64> {
        Some(self.second.time(x)? - self.first.time(x)?)
    }

    fn capped_from(&self, gate: f64) -> Option<f64> {
        let place = |i: usize| gate * i as f64 / PLACES as f64;
        let closed = |i: &usize| self.open(place(*i)).is_none_or(|open| open <= 0.0);
        let at = (0..=PLACES).find(closed)?;
        let before = place(at.saturating_sub(1));
        let (was, is) = (self.open(before)?, self.open(place(at))?);
        let part = if was > is { was / (was - is) } else { 0.0 };
        Some(before + part.clamp(0.0, 1.0) * (place(at) - before))
    }

    fn evenness(&self, gate: f64) -> Option<f64> {
        let (near, far) = (self.open(0.0)?, self.open(gate)?);
        (near > 0.0 && far > 0.0).then(|| (far / near).log2())
    }

    /// What is to be told, each figure's uncertainty from moving one sensor's moments after the other.
    pub(super) fn told(
        lit: &[Lit],
        gains: Option<[f64; 2]>,
        gate: f64,
        dt_ms: f64,
    ) -> Option<Figures> {
        let shape = Self::through(lit, gains, gate, dt_ms)?;
        let (all, evenness) = shape.figures(gate)?;
        let mut squares = [0.0; 4];
        let mut evenness_square = 0.0;
        let mut add = |moved: Option<Self>| {
            let Some(other) = moved.and_then(|it| it.figures(gate)) else {
                return;
            };
            for ((square, here), there) in squares.iter_mut().zip(all).zip(other.0) {
                *square += (there - here).powi(2);
            }
            if let (Some(here), Some(there)) = (evenness, other.1) {
                evenness_square += (there - here).powi(2);
            }
        };
        for i in 0..lit.len() {
            let late = lit[i].lag.deviation / dt_ms;
            for way in lit[i].passage.ways.into_iter().chain([(late, late)]) {
                let mut moved = lit.to_vec();
                moved[i].passage.first += way.0;
                moved[i].passage.second += way.1;
                add(Self::through(&moved, gains, gate, dt_ms));
            }
            let mut wider = lit.to_vec();
            wider[i].ramp *= 1.0 + RAMP_PART;
            add(Self::through(&wider, gains, gate, dt_ms));
        }
        if lit.len() == 2 {
            let known = if gains.is_some() {
                GAINS_KNOWN
            } else {
                GAINS_GUESSED
            };
            let gains = shape.gains();
            let parts = shape.usual_gains(gate).map(|usual| usual / GAIN);
            // Both curtains alike, and the second against the first.
            for moved in [
                [known * parts[0], known * parts[1]],
                [0.0, GAINS_APART * parts[1]],
            ] {
                let moved = [gains[0] + moved[0], gains[1] + moved[1]];
                add(Self::through(lit, Some(moved), gate, dt_ms));
            }
        }
        let [first, second, opened, closes] = [0, 1, 2, 3].map(|i| (all[i], squares[i].sqrt()));
        let capped_from = shape.capped_from(gate);
        Some(Figures {
            first_travel: first,
            second_travel: second,
            opened,
            closes,
            evenness: evenness
                .filter(|_| capped_from.is_none())
                .map(|it| (it, evenness_square.sqrt())),
            capped_from,
        })
    }

    /// Travels, when the first curtain arrives, when the second sets out; and the evenness.
    fn figures(&self, gate: f64) -> Option<([f64; 4], Option<f64>)> {
        let all = [
            self.first.travel(gate)?,
            self.second.travel(gate)?,
            self.first.time(gate)?,
            self.second.time(0.0)?,
        ];
        Some((all, self.evenness(gate)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shutter::focal::passage::Passage;

    const GATE: f64 = 24.0;
    const WIDTH: f64 = 3.4;

    /// A run that takes `travel` milliseconds over the gate and begins with three quarters of its mean
    /// speed.
    fn run(start: f64, travel: f64) -> Run {
        let passing = |x: f64| {
            let speed = 0.75 * GATE / travel;
            let gain = 2.0 * (GATE - speed * travel) / (travel * travel);
            let time = start + 2.0 * x / (speed + 2.0_f64.mul_add(gain * x, speed * speed).sqrt());
            Passing {
                x,
                time,
                deviation: 1e-3,
            }
        };
        Run::through(&[2.0, 12.0, 22.0].map(passing), 0.0, GATE).unwrap()
    }

    /// What a square sensor tells of a slit narrower than itself, strip by strip.
    fn behind_a_slit(x: f64, first: &Run, second: &Run) -> Lit {
        const STRIPS: i32 = 2_000;
        let strips = (0..STRIPS).map(|i| x + WIDTH * ((f64::from(i) + 0.5) / 2_000.0 - 0.5));
        let (mut area, mut moment) = (0.0, 0.0);
        for place in strips {
            let (from, to) = (first.time(place).unwrap(), second.time(place).unwrap());
            area += (to - from) / 2_000.0;
            moment += 0.5 * (to * to - from * from) / 2_000.0;
        }
        let slowness = 0.5 * (1.0 / first.speed_at(x).unwrap() + 1.0 / second.speed_at(x).unwrap());
        Lit {
            x,
            passage: Passage {
                first: moment / area - 0.5 * area,
                second: moment / area + 0.5 * area,
                ways: [(1e-6, 0.0), (0.0, 1e-6)],
                joint: true,
                ramps: None,
            },
            ramp: 0.8 * WIDTH * slowness,
            lag: Lag::default(),
        }
    }

    #[test]
    fn a_second_curtain_much_faster_than_the_first_leaves_the_travels_right() {
        let (first, second) = (run(5.0, 11.0), run(7.55, 8.6));
        let lit = [2.0, 12.0, 22.0].map(|x| behind_a_slit(x, &first, &second));
        let told = Shape::told(&lit, None, GATE, 1.0).unwrap();
        for ((got, deviation), run) in [(told.first_travel, first), (told.second_travel, second)] {
            let want = run.travel(GATE).unwrap();
            assert!((got - want).abs() < 2e-3, "{got} {want}");
            assert!(
                (got - want).abs() < 2.0 * deviation,
                "{got} {want} {deviation}"
            );
        }
    }
}
