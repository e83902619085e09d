//! A late sensor under a lamp that swings.
//!
//! What the sensor makes of light and lamp together is not the product of what it makes of each. For a lag `τ`, with
//! `a` the light through the blades and `w` the lamp's swing, both as the sensor shows them, `r = (a w)` shown less
//! `a w` follows `r + τ r' = τ² a' w'`: the lamp changes while the sensor still shows the blades as they
//! were. Over both flanks it adds up to a microsecond or two, at each shot another.

use std::f64::consts::{PI, TAU};

use super::Lamp;
use crate::shutter::blades::{factors, follow};

/// Waves are followed up to this part of half the recorder's rate ...
const FOLLOWED: f64 = 0.8;
/// ... and while they weigh the light's noise by no more than this: faster ones add nothing.
const WEIGHS: f64 = 0.5;
/// Each round takes what the sensor adds off the light that it is told from.
const ROUNDS: usize = 3;

impl Lamp {
    /// What a sensor of this lag in seconds adds to the sum of `light`, from sample `from` on, in light times
    /// seconds.
    pub(crate) fn trails(&self, light: &[f64], from: usize, lag: f64, dt: f64) -> f64 {
        if !self.divides() || light.is_empty() {
            return 0.0;
        }
        let follows = |(k, [a, b]): &(f64, [f64; 2])| {
            let turn = TAU * self.hz * k;
            turn * dt < FOLLOWED * PI && (turn * lag).powi(2) * a.hypot(*b) < WEIGHS
        };
        let waves = self.waves.iter().copied();
        let waves: Vec<(f64, [f64; 2])> = (1..)
            .map(f64::from)
            .zip(waves)
            .take_while(follows)
            .collect();
        let slope = |time: f64| {
            let (cos, sin) = self.phase(time);
            let (mut x, mut y) = (cos, sin);
            let mut slope = 0.0;
            for (k, [a, b]) in &waves {
                slope += k * (b * x - a * y);
                (x, y) = (x * cos - y * sin, x * sin + y * cos);
            }
            TAU * self.hz * slope
        };
        let factors = factors(dt, lag);
        let mut trail = vec![0.0; light.len()];
        for _ in 0..ROUNDS {
            let blades: Vec<f64> = light.iter().zip(&trail).map(|(it, r)| it - r).collect();
            let (mut shown, mut last) = (0.0, 0.0);
            for ((n, three), trail) in (from + 1..).zip(blades.windows(3)).zip(&mut trail[1..]) {
                let time = n as f64 * dt;
                let both = 0.5 * (three[2] - three[0]) / dt * slope(time);
                shown = follow(shown, factors, last, both);
                last = both;
                *trail = lag * lag * shown / self.light(time);
            }
        }
        trail.iter().sum::<f64>() * dt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DT: f64 = 1.0 / 48_000.0;
    const LAG: f64 = 50e-6;
    const DEPTH: f64 = 0.25;

    /// What dividing by the lamp as it is shown adds to the time of blades that open over a millisecond, and what
    /// is told of it.
    fn added(hz: f64, phase: f64) -> (f64, f64) {
        let blades = |time: f64| {
            let way = ((time - 1e-3) / 1e-3).clamp(0.0, 1.0);
            way * way * (3.0 - 2.0 * way)
        };
        let wave = |time: f64| DEPTH * (TAU * hz * time + phase).cos();
        let turn = TAU * hz * LAG;
        let gain = DEPTH / (1.0 + turn * turn);
        // As the sensor shows it: `Re DEPTH e^(j(θ + phase)) / (1 + j turn)`.
        let (sin, cos) = phase.sin_cos();
        let waves = [gain * (cos + turn * sin), gain * (turn * cos - sin)];
        let lamp = Lamp::even(hz, 0.0, vec![waves]);
        let fine = 64;
        let step = DT / f64::from(fine);
        let (mut swung, mut steady, mut added) = (0.0, 0.0, 0.0);
        let mut light = Vec::new();
        for n in 0..160 {
            for part in 0..fine {
                let time = (f64::from(n) + f64::from(part) / f64::from(fine)) * DT;
                swung += (blades(time) * (1.0 + wave(time)) - swung) * step / LAG;
                steady += (blades(time) - steady) * step / LAG;
            }
            let divided = swung / lamp.light(f64::from(n + 1) * DT);
            added += (divided - steady) * DT;
            light.push(divided);
        }
        (added, lamp.trails(&light, 1, LAG, DT))
    }

    #[test]
    fn what_a_late_sensor_adds_is_told_at_every_phase() {
        for hz in [300.0, 900.0, 2_000.0] {
            let mut most = 0.0_f64;
            for n in 0..8 {
                let (added, told) = added(hz, TAU * f64::from(n) / 8.0);
                most = most.max(added.abs());
                assert!(
                    (told - added).abs() < 0.08e-6,
                    "{hz} Hz: {told} for {added}"
                );
            }
            assert!(most > 0.7e-6, "{hz} Hz: {most}");
        }
    }
}
