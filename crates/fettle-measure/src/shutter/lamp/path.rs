//! The phase of a lamp on the mains, beside one that runs on evenly.
//!
//! A grid keeps its frequency to some hundredths of a hertz, so that within a session the phase goes half a
//! turn and more beside an even one. It is taken as a phase whose frequency walks at random: filtered
//! forward (Kalman, "A new approach to linear filtering and prediction problems", 1960) and smoothed
//! backward (Rauch, Tung and Striebel, "Maximum likelihood estimates of linear dynamic systems", 1965).

use nalgebra::{Matrix2, Vector2};

/// The frequency is known to be within so much of the one that goes on evenly, as a standard deviation ...
const WITHIN_HZ: f64 = 0.06;
/// ... and walks by the root of this a second, in Hz squared: mains by 3 mHz, their lamp by twice that.
const WALKS: f64 = 4e-5;
/// It may walk by other powers of ten than that, where the stretches say so; as a standard deviation by this one.
const LIVELIER: [f64; 3] = [0.0, 1.0, 2.0];
const DECADES: f64 = 1.0;
/// The phase at the first stretch is anything.
const UNKNOWN_TURNS: f64 = 10.0;
/// Distance of the knots, and how far they go beyond what tells of the phase, in seconds.
const STEP_S: f64 = 0.2;
const BEYOND_S: f64 = 3.0;
/// Most knots; in longer recordings they lie farther apart.
const MOST_KNOTS: usize = 1 << 16;
/// Ways from one stretch to the next that are kept while the turns between are in doubt.
const WAYS: usize = 12;

/// What a stretch tells of the phase beside the even one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    /// Its middle, in seconds of the recording.
    pub(super) time: f64,
    pub(super) turns: f64,
    /// In turns squared.
    pub(super) variance: f64,
}

/// The phase beside the even one over a recording.
#[derive(Clone, Debug)]
pub(super) struct Path {
    /// Seconds of the recording at the first knot, and from knot to knot.
    from: f64,
    step: f64,
    knots: Vec<Knot>,
}

#[derive(Clone, Copy, Debug)]
struct Knot {
    turns: f64,
    hz: f64,
    /// Of `turns`.
    variance: f64,
}

impl Path {
    /// The path through `told`, in the order of time; `None` where there is nothing.
    pub(super) fn through(told: &[Told]) -> Option<Self> {
        let (first, last) = (told.first()?.time, told.last()?.time);
        let from = first - BEYOND_S;
        let span = last + BEYOND_S - from;
        let count = ((span / STEP_S).ceil() as usize).clamp(1, MOST_KNOTS);
        let step = span / count as f64;
        // Knots and stretches one after the other.
        let mut places: Vec<(f64, Option<Told>)> = (0..=count)
            .map(|n| (from + step * n as f64, None))
            .chain(told.iter().map(|it| (it.time, Some(*it))))
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let ways = LIVELIER.map(|decades| {
            let (states, cost) = filtered(&places, WALKS * 10.0_f64.powf(decades));
            (states, cost + (decades / DECADES).powi(2))
        });
        let (states, _) = ways.into_iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let knots = smoothed(&places, &states);
        let finite = |it: &Knot| {
            let values = [it.turns, it.hz, it.variance];
            values.iter().all(|it| it.is_finite())
        };
        knots
            .iter()
            .all(finite)
            .then_some(Self { from, step, knots })
    }

    /// The knots on both sides of a time, or the two nearest, and the seconds since the first of them.
    fn around(&self, time: f64) -> Option<(&Knot, &Knot, f64)> {
        let place = ((time - self.from) / self.step).max(0.0);
        let n = (place as usize).min(self.knots.len().saturating_sub(2));
        let since = time - self.from - self.step * n as f64;
        Some((self.knots.get(n)?, self.knots.get(n + 1)?, since))
    }

    /// Turns beside the even phase: Hermite's cubic between knots, straight beyond them.
    pub(super) fn turns(&self, time: f64) -> f64 {
        let Some((a, b, since)) = self.around(time) else {
            return 0.0;
        };
        if since < 0.0 {
            return a.turns + a.hz * since;
        }
        if since > self.step {
            return b.turns + b.hz * (since - self.step);
        }
        let u = since / self.step;
        let (v, rise) = (1.0 - u, b.turns - a.turns);
        a.turns + rise * u * u * (3.0 - 2.0 * u) + self.step * u * v * (v * a.hz - u * b.hz)
    }

    /// Variance of the turns at a time.
    pub(super) fn variance(&self, time: f64) -> f64 {
        self.around(time).map_or(0.0, |(a, b, since)| {
            let u = (since / self.step).clamp(0.0, 1.0);
            let beyond = (since - self.step).max(-since).max(0.0);
            a.variance + u * (b.variance - a.variance) + (WITHIN_HZ * beyond).powi(2)
        })
    }

    /// The frequency's mean beside the even one.
    pub(super) fn hz(&self) -> f64 {
        let sum: f64 = self.knots.iter().map(|it| it.hz).sum();
        sum / self.knots.len().max(1) as f64
    }

    /// Whether it is the other's but for this part of its own standard uncertainties.
    pub(super) fn is_near(&self, other: &Self, part: f64) -> bool {
        let near = |(a, b): (&Knot, &Knot)| {
            (a.turns - b.turns).powi(2) <= part * part * a.variance
                && a.variance >= (1.0 - part) * b.variance
        };
        self.knots.len() == other.knots.len() && self.knots.iter().zip(&other.knots).all(near)
    }
}

/// The state at each place as those before it and as it itself too tell, and twice the negative logarithm of how
/// likely they are if the frequency walks so far.
fn filtered(places: &[(f64, Option<Told>)], walks: f64) -> (Vec<[State; 2]>, f64) {
    let mut state = State::begun(places.iter().find_map(|it| it.1).map_or(0.0, |it| it.turns));
    let mut time = places.first().map_or(0.0, |it| it.0);
    let mut cost = 0.0;
    let states = places
        .iter()
        .map(|(at, told)| {
            let before = state.after(at - time, walks);
            time = *at;
            state = before;
            if let Some(told) = told {
                cost += before.cost(told);
                state = before.told(told);
            }
            [before, state]
        })
        .collect();
    (states, cost)
}

/// The knots as all places tell, those after them too.
fn smoothed(places: &[(f64, Option<Told>)], states: &[[State; 2]]) -> Vec<Knot> {
    let mut knots = Vec::new();
    let mut after: Option<(f64, &State, State)> = None;
    for ((time, told), [before, here]) in places.iter().zip(states).rev() {
        let state = after.map_or(*here, |(next, expected, smooth)| {
            here.smoothed(next - time, expected, &smooth)
        });
        after = Some((*time, before, state));
        if told.is_none() {
            knots.push(Knot {
                turns: state.mean[0],
                hz: state.mean[1],
                variance: state.variance[(0, 0)].max(0.0),
            });
        }
    }
    knots.reverse();
    knots
}

/// Turns and frequency with their covariance.
#[derive(Clone, Copy)]
struct State {
    mean: Vector2<f64>,
    variance: Matrix2<f64>,
}

/// How turns and frequency come out of those so many seconds before.
fn transition(seconds: f64) -> Matrix2<f64> {
    Matrix2::new(1.0, seconds, 0.0, 1.0)
}

impl State {
    fn begun(turns: f64) -> Self {
        let known = Vector2::new(UNKNOWN_TURNS.powi(2), WITHIN_HZ.powi(2));
        Self {
            mean: Vector2::new(turns, 0.0),
            variance: Matrix2::from_diagonal(&known),
        }
    }

    /// So many seconds later, if the frequency walks so far.
    fn after(&self, seconds: f64, walks: f64) -> Self {
        let on = transition(seconds);
        let (t, t2) = (seconds, seconds * seconds);
        let walk = Matrix2::new(t2 * t / 3.0, t2 / 2.0, t2 / 2.0, t) * walks;
        Self {
            mean: on * self.mean,
            variance: on * self.variance * on.transpose() + walk,
        }
    }

    /// Twice the negative logarithm of how likely it is that a stretch tells this, but for what is always the same.
    fn cost(&self, told: &Told) -> f64 {
        let variance = self.variance[(0, 0)] + told.variance;
        (told.turns - self.mean[0]).powi(2) / variance + variance.ln()
    }

    /// The state once a stretch has told of it too.
    fn told(&self, told: &Told) -> Self {
        let gain = self.variance.column(0) / (self.variance[(0, 0)] + told.variance);
        // Joseph's form keeps the covariance positive.
        let kept = Matrix2::new(1.0 - gain[0], 0.0, -gain[1], 1.0);
        Self {
            mean: self.mean + gain * (told.turns - self.mean[0]),
            variance: kept * self.variance * kept.transpose()
                + gain * gain.transpose() * told.variance,
        }
    }

    /// This state so many seconds before `next`, which all before it tells, with what `smooth`, told by all after it
    /// too, adds.
    fn smoothed(&self, seconds: f64, next: &Self, smooth: &Self) -> Self {
        let Some(inverse) = next.variance.try_inverse() else {
            return *self;
        };
        let gain = self.variance * transition(seconds).transpose() * inverse;
        Self {
            mean: self.mean + gain * (smooth.mean - next.mean),
            variance: self.variance + gain * (smooth.variance - next.variance) * gain.transpose(),
        }
    }
}

/// Adds whole turns to what the stretches, in the order of time, tell, so that one follows the other most
/// likely.
pub(super) fn unwound(told: &mut [Told]) {
    struct Way {
        state: State,
        cost: f64,
        /// Which way to the stretch before it goes on, and the turns that it adds to this one.
        from: usize,
        added: f64,
    }
    let Some(first) = told.first() else { return };
    // The ways to each stretch.
    let mut steps = vec![vec![Way {
        state: State::begun(first.turns).told(first),
        cost: 0.0,
        from: 0,
        added: 0.0,
    }]];
    for pair in told.windows(2) {
        let (last, it) = (pair[0], pair[1]);
        let mut next: Vec<Way> = Vec::new();
        for (from, way) in steps.last().into_iter().flatten().enumerate() {
            let state = way.state.after(it.time - last.time, WALKS);
            let nearest = -(it.turns - state.mean[0]).round();
            for added in [nearest - 1.0, nearest, nearest + 1.0] {
                let turned = Told {
                    turns: it.turns + added,
                    ..it
                };
                next.push(Way {
                    state: state.told(&turned),
                    cost: way.cost + state.cost(&turned),
                    from,
                    added,
                });
            }
        }
        next.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        next.truncate(WAYS);
        steps.push(next);
    }
    // The likeliest to the last, which comes first, and back.
    let mut best = 0;
    for (it, ways) in told.iter_mut().zip(&steps).rev() {
        let Some(way) = ways.get(best) else { return };
        it.turns += way.added;
        best = way.from;
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::synth::Gauss;

    /// Turns of a lamp whose frequency wanders by 0.04 Hz within 40 s.
    fn wandering(time: f64) -> f64 {
        0.3 + 0.04 * 40.0 / TAU * (1.0 - (TAU * time / 40.0).cos())
    }

    /// Stretches every second or two, a few of which tell little.
    fn told(gauss: &mut Gauss) -> Vec<Told> {
        let mut time = 0.0;
        (0..24_u32)
            .map(|n| {
                time += 1.0 + gauss.uniform();
                let deviation: f64 = if n % 5 == 2 { 0.05 } else { 0.001 };
                Told {
                    time,
                    turns: wandering(time) + deviation * gauss.normal(),
                    variance: deviation * deviation,
                }
            })
            .collect()
    }

    #[test]
    fn between_stretches_the_path_is_as_near_as_it_says() {
        let mut gauss = Gauss::new(31);
        let (mut squares, mut count) = (0.0, 0.0);
        for _ in 0..20 {
            let told = told(&mut gauss);
            let path = Path::through(&told).unwrap();
            let (first, last) = (told[0].time, told[23].time);
            for n in 0..100 {
                let time = first + (last - first) * f64::from(n) / 99.0;
                let off = path.turns(time) - wandering(time);
                assert!(off.abs() < 0.02, "{off} at {time}");
                squares += off * off / path.variance(time);
                count += 1.0;
            }
        }
        let rms = f64::sqrt(squares / count);
        assert!((0.3..1.2).contains(&rms), "{rms}");
    }

    #[test]
    fn beyond_the_last_stretch_the_phase_is_the_less_known_the_farther() {
        let told = told(&mut Gauss::new(32));
        let path = Path::through(&told).unwrap();
        let last = told[23].time;
        let known = |after: f64| path.variance(last + after).sqrt();
        assert!(known(0.0) < 0.002, "{}", known(0.0));
        assert!(
            known(1.0) > 2.0 * known(0.0),
            "{} {}",
            known(1.0),
            known(0.0)
        );
        assert!(known(30.0) > 1.0, "{}", known(30.0));
        for after in [0.5, 2.0, 6.0] {
            let off = path.turns(last + after) - wandering(last + after);
            assert!(off.abs() < 3.0 * known(after), "{off} after {after} s");
        }
    }

    #[test]
    fn whole_turns_between_stretches_are_added() {
        let mut gauss = Gauss::new(33);
        for _ in 0..20 {
            let mut told = told(&mut gauss);
            let first = told[0].turns - told[0].turns.rem_euclid(1.0);
            for it in &mut told {
                it.turns = it.turns.rem_euclid(1.0);
            }
            unwound(&mut told);
            for it in &told {
                let off = it.turns + first - wandering(it.time);
                assert!(off.abs() < 0.25, "{off} at {}", it.time);
            }
        }
    }

    #[test]
    fn nothing_told_makes_no_path_and_one_stretch_does() {
        assert!(Path::through(&[]).is_none());
        let told = Told {
            time: 2.0,
            turns: 0.4,
            variance: 1e-6,
        };
        let path = Path::through(&[told]).unwrap();
        assert!((path.turns(2.0) - 0.4).abs() < 1e-6);
    }
}
