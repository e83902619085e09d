//! How a curtain runs over the gate, from the moments at which it passes the sensors.

use nalgebra::{Matrix3, Vector3};

/// Steps of Gauss and Newton; three do for curtains that run.
const STEPS: usize = 12;

/// A curtain passing a sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Passing {
    /// Millimetres from the edge where the curtains start.
    pub(super) x: f64,
    /// Milliseconds.
    pub(super) time: f64,
    /// Its standard uncertainty.
    pub(super) deviation: f64,
}

/// `x = v (t - t0) + a (t - t0)²/2`, in millimetres and milliseconds, `x` from the edge where the
/// curtains start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Run {
    start: f64,
    speed: f64,
    gain: f64,
}

impl Run {
    /// Least squares through three or more passings; with fewer, the gain in speed is taken as known.
    /// `None` when they show no curtain that runs over the whole gate.
    pub(super) fn through(passings: &[Passing], gain: f64, gate: f64) -> Option<Self> {
        let free = passings.len() >= 3;
        let mut run = Self::straight(passings)?;
        if !free {
            run.gain = gain;
        }
        // With the gain known, the straight line's speed holds near the middle of the passings.
        let middle = passings.iter().map(|it| it.x).sum::<f64>() / passings.len() as f64;
        let near_edge = run.speed * run.speed - 2.0 * run.gain * middle;
        run.speed = near_edge.max(0.04 * run.speed * run.speed).sqrt();
        for _ in 0..STEPS {
            run = run.stepped(passings, free)?;
        }
        let runs = |x: f64| run.speed > 0.0 && run.square(x) > 0.0;
        (runs(0.0) && runs(gate) && run.start.is_finite()).then_some(run)
    }

    /// The line through all passings.
    fn straight(passings: &[Passing]) -> Option<Self> {
        let weight = |it: &Passing| it.deviation.powi(-2);
        let all: f64 = passings.iter().map(weight).sum();
        let mean = |of: fn(&Passing) -> f64| {
            passings.iter().map(|it| weight(it) * of(it)).sum::<f64>() / all
        };
        let (x, time) = (mean(|it| it.x), mean(|it| it.time));
        let (mut square, mut cross) = (0.0, 0.0);
        for it in passings {
            square += weight(it) * (it.x - x).powi(2);
            cross += weight(it) * (it.x - x) * (it.time - time);
        }
        let slowness = cross / square;
        (slowness > 0.0 && slowness.is_finite()).then(|| Self {
            start: time - slowness * x,
            speed: 1.0 / slowness,
            gain: 0.0,
        })
    }

    fn stepped(&self, passings: &[Passing], free: bool) -> Option<Self> {
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for it in passings {
            let weight = it.deviation.powi(-2);
            let row = self.slopes(it.x)?;
            normal += weight * row * row.transpose();
            right += weight * row * (it.time - self.time(it.x)?);
        }
        if !free {
            for i in 0..3 {
                (normal[(2, i)], normal[(i, 2)]) = (0.0, 0.0);
            }
            (normal[(2, 2)], right[2]) = (1.0, 0.0);
        }
        // Columns are scaled to like size before solving.
        let size = Vector3::from_fn(|i, _| normal[(i, i)].sqrt().max(1e-300));
        let scaled = Matrix3::from_fn(|i, j| normal[(i, j)] / (size[i] * size[j]));
        let step = scaled.try_inverse()? * right.component_div(&size);
        let step = step.component_div(&size);
        let mut part = 1.0;
        // A step that would stop the curtain before a sensor is shortened.
        for _ in 0..8 {
            let next = Self {
                start: self.start + part * step[0],
                speed: self.speed + part * step[1],
                gain: self.gain + part * step[2],
            };
            let runs = |it: &Passing| next.square(it.x) > 0.05 * self.square(it.x);
            if next.speed > 0.0 && passings.iter().all(runs) {
                return Some(next);
            }
            part *= 0.5;
        }
        None
    }

    /// How the time at `x` depends on start, speed and gain.
    fn slopes(&self, x: f64) -> Option<Vector3<f64>> {
        let root = self.speed_at(x)?;
        let sum = self.speed + root;
        let by_root = -2.0 * x / (sum * sum);
        Some(Vector3::new(
            1.0,
            by_root * (1.0 + self.speed / root),
            by_root * x / root,
        ))
    }

    fn square(&self, x: f64) -> f64 {
        self.speed * self.speed + 2.0 * self.gain * x
    }

    /// Its speed at `x`; `None` where it does not arrive.
    pub(super) fn speed_at(&self, x: f64) -> Option<f64> {
        let square = self.square(x);
        (square > 0.0).then(|| square.sqrt())
    }

    /// When it passes `x`.
    pub(super) fn time(&self, x: f64) -> Option<f64> {
        Some(self.start + 2.0 * x / (self.speed + self.speed_at(x)?))
    }

    /// `d²t/dx²` at `x`.
    pub(super) fn bend(&self, x: f64) -> Option<f64> {
        Some(-self.gain / self.speed_at(x)?.powi(3))
    }

    /// How it gathers speed, in millimetres a millisecond squared.
    pub(super) const fn gain(&self) -> f64 {
        self.gain
    }

    /// How it gathers speed at `x`, as a part of its speed there a millisecond.
    pub(super) fn gaining_at(&self, x: f64) -> Option<f64> {
        Some(self.gain / self.speed_at(x)?)
    }

    /// Mean speed over the gate.
    pub(super) fn travel_speed(&self, gate: f64) -> f64 {
        self.travel(gate).map_or(self.speed, |travel| gate / travel)
    }

    /// From edge to edge.
    pub(super) fn travel(&self, gate: f64) -> Option<f64> {
        Some(self.time(gate)? - self.time(0.0)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passings(run: Run, xs: &[f64]) -> Vec<Passing> {
        let passing = |x: &f64| Passing {
            x: *x,
            time: run.time(*x).unwrap(),
            deviation: 1e-3,
        };
        xs.iter().map(passing).collect()
    }

    #[test]
    fn a_run_is_found_again_from_its_passings() {
        for (speed, gain) in [(2.0, 0.15), (3.0, 0.0), (4.0, -0.1), (1.0, 0.6)] {
            let run = Run {
                start: 5.0,
                speed,
                gain,
            };
            for xs in [&[3.0, 18.0, 33.0][..], &[4.0, 10.0, 20.0, 26.0, 35.0]] {
                let found = Run::through(&passings(run, xs), 0.0, 36.0).unwrap();
                let (got, want) = (found.travel(36.0).unwrap(), run.travel(36.0).unwrap());
                assert!((got - want).abs() < 1e-6, "{speed} {gain}: {got} {want}");
            }
            let two = Run::through(&passings(run, &[6.0, 30.0]), gain, 36.0).unwrap();
            let (got, want) = (two.travel(36.0).unwrap(), run.travel(36.0).unwrap());
            assert!((got - want).abs() < 1e-6, "{speed} {gain}: {got} {want}");
        }
    }

    #[test]
    fn a_curtain_that_runs_backwards_is_none() {
        let back: Vec<Passing> = [(3.0, 9.0), (18.0, 5.0), (33.0, 1.0)]
            .map(|(x, time)| Passing {
                x,
                time,
                deviation: 1e-3,
            })
            .to_vec();
        assert_eq!(Run::through(&back, 0.0, 36.0), None);
    }
}
