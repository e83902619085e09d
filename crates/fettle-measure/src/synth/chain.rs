//! What sensor, coupling and recorder make of the light.

use std::f64::consts::TAU;

use super::{Click, Codec, GainControl, Opening, Overdrive, Tail};
use crate::{Decibels, Hertz, Seconds};

/// Sub-steps of one sample while the light changes: 3 MHz at 48 kHz.
const SUBSTEPS: u32 = 64;
/// What wanders goes there and back within so many seconds.
const WANDERS_S: f64 = 40.0;
/// Below this distance from its goal the sensor counts as settled.
const SETTLED: f64 = 1e-9;

/// The measuring chain. Levels are relative to the fully open light's unless full scale is named.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// Samples a second.
    pub sample_rate: Hertz,
    /// Rounds to whole steps and clips at full scale, as a recorder of so many bits does.
    pub bits: Option<u8>,
    /// The fully open light's height against full scale.
    pub gain: f64,
    /// Whether more light gives less voltage.
    pub inverted: bool,
    /// The dark level against full scale.
    pub offset: f64,
    /// How far the dark level wanders over the recording.
    pub drift: f64,
    /// The corner of the high-pass of one pole; `None` passes steady light.
    pub coupling: Option<Hertz>,
    /// The corner of a second pole in series with it, as two blocking capacitors make.
    pub second_pole: Option<Hertz>,
    /// Flicker of the lamp.
    pub flicker: Option<Flicker>,
    /// The sensor's time constant, alike on opening and closing.
    pub lag: Seconds,
    /// What a saturated sensor leaves behind on closing.
    pub tail: Option<Tail>,
    /// What a sensor beyond its linear range makes of the light.
    pub overdrive: Option<Overdrive>,
    /// The part of the fully open light at which the sensor's amplifier ends, before the coupling; the white noise is
    /// the amplifier's then, and ends there with the light.
    pub rail: Option<f64>,
    /// Impulses picked up from the mechanism.
    pub clicks: Vec<Click>,
    /// Processing that changes the level while recording.
    pub gain_control: Option<GainControl>,
    /// A coding that keeps only what the ear notices.
    pub codec: Option<Codec>,
    /// Mains hum.
    pub hum: Option<Hum>,
    /// The fully open light's height against the rms of white noise.
    pub snr: Option<Decibels>,
    /// By how many parts per million the recorder's clock runs fast.
    pub clock_ppm: f64,
}

/// Mains hum with harmonics.
#[derive(Clone, Debug, PartialEq)]
pub struct Hum {
    /// The mains frequency.
    pub hz: Hertz,
    /// How far it wanders to either side, there and back within two thirds of a minute.
    pub wanders: Hertz,
    /// Amplitudes of the fundamental and its harmonics.
    pub amplitudes: Vec<f64>,
}

/// Turns since the recording's beginning of what wanders so far about a frequency.
pub(super) fn turns(hz: Hertz, wanders: Hertz, time: f64) -> f64 {
    let (sin, _) = (0.5 * TAU * time / WANDERS_S).sin_cos();
    hz.to_hz() * time + wanders.to_hz() * WANDERS_S / TAU * 2.0 * sin * sin
}

/// A lamp whose light swings about its mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flicker {
    /// Swings a second.
    pub hz: Hertz,
    /// How far these wander to either side, as [`Hum::wanders`]; twice the mains' own of a lamp on them.
    pub wanders: Hertz,
    /// Amplitude as a part of the mean.
    pub depth: f64,
    /// How it swings.
    pub form: Swing,
}

/// The form of a lamp's flicker.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Swing {
    /// A pure wave.
    #[default]
    Sine,
    /// A wave with its second and third harmonic, in parts of the fundamental.
    Mains([f64; 2]),
    /// Switched between two levels, on for this part of each period; `depth` is what the on level
    /// lies over the mean.
    Pulses(f64),
}

impl Flicker {
    /// The lamp's light against its mean.
    fn light(&self, time: f64) -> f64 {
        let turns = turns(self.hz, self.wanders, time);
        let wave = |k: f64, phase: f64| (TAU * k * turns + phase).sin();
        1.0 + self.depth
            * match self.form {
                Swing::Sine => wave(1.0, 0.0),
                Swing::Mains([second, third]) => {
                    wave(1.0, 0.0) + second * wave(2.0, 0.7) + third * wave(3.0, 2.1)
                }
                Swing::Pulses(on) if turns.rem_euclid(1.0) < on => 1.0,
                Swing::Pulses(on) => -on / (1.0 - on).max(1e-9),
            }
    }
}

impl Default for Chain {
    fn default() -> Self {
        Self {
            sample_rate: Hertz::hz(48_000.0),
            bits: Some(16),
            gain: 0.5,
            inverted: false,
            offset: 0.0,
            drift: 0.0,
            coupling: None,
            second_pole: None,
            flicker: None,
            lag: Seconds::s(0.0),
            tail: None,
            overdrive: None,
            rail: None,
            clicks: Vec::new(),
            gain_control: None,
            codec: None,
            hum: None,
            snr: Some(Decibels::db(50.0)),
            clock_ppm: 0.0,
        }
    }
}

/// Sensor lag and coupling as a system of up to three states, stepped exactly for light that changes evenly
/// within a step.
pub(crate) struct Analogue {
    lag: f64,
    tail: Option<Tail>,
    overdrive: Option<Overdrive>,
    corners: [f64; 2],
    flicker: Option<Flicker>,
    light: f64,
    /// Behind the linear lag.
    lagged: f64,
    /// How long the light has been below what a saturated sensor holds.
    held: f64,
    /// What a tail's part of the output would be by itself.
    late: f64,
    sensed: f64,
    blocked: [f64; 2],
}

impl Analogue {
    pub(crate) fn new(chain: &Chain) -> Self {
        Self {
            lag: chain.lag.to_s().max(0.0),
            tail: chain.tail,
            overdrive: chain.overdrive,
            // An amplifier that ends couples what comes out of it.
            corners: chain.rail.map_or_else(|| corners(chain), |_| [0.0; 2]),
            flicker: chain.flicker,
            light: 0.0,
            lagged: 0.0,
            held: 0.0,
            late: 0.0,
            sensed: 0.0,
            blocked: [0.0; 2],
        }
    }

    /// The voltage after `duration`, during which the exposures that are under way go on.
    pub(crate) fn advance<O: Opening>(
        &mut self,
        from: f64,
        duration: f64,
        exposures: &[(f64, O)],
    ) -> f64 {
        let to = from + duration;
        let steady = exposures
            .iter()
            .all(|(at, it)| it.is_steady(from - at, to - at))
            && (self.light - self.lagged).abs() < SETTLED
            && (self.lagged - self.sensed).abs() < SETTLED
            && (self.flicker.is_none() || self.light == 0.0);
        let steps = if steady { 1 } else { SUBSTEPS };
        let step = duration / f64::from(steps);
        let mut sum = 0.0;
        for i in 1..=steps {
            let time = from + f64::from(i) * step;
            let area: f64 = exposures.iter().map(|(at, it)| it.area(time - at)).sum();
            let lamp = self.flicker.map_or(1.0, |it| it.light(time));
            let light = area * lamp;
            self.step(self.overdrive.map_or(light, |it| it.output(light)), step);
            sum += self.sensed - self.blocked[0] - self.blocked[1];
        }
        // A recorder's filter keeps a switched lamp's edges from folding back.
        match self.flicker.map(|it| it.form) {
            Some(Swing::Pulses(_)) => sum / f64::from(steps),
            _ => self.sensed - self.blocked[0] - self.blocked[1],
        }
    }

    fn step(&mut self, light: f64, step: f64) {
        let (before, lagged) = (self.sensed, self.lagged);
        self.lagged = if self.lag > 0.0 {
            follow(lagged, self.light, light, step / self.lag)
        } else {
            light
        };
        self.light = light;
        self.sensed = match self.tail {
            Some(tail) => {
                self.late = self.released(tail, lagged, step);
                self.lagged + tail.share * (self.late - self.lagged)
            }
            None => self.lagged,
        };
        block((before, self.sensed), &mut self.blocked, self.corners, step);
    }

    /// What a saturated sensor gives back: up at once, down only after the delay and slowly.
    fn released(&mut self, tail: Tail, before: f64, step: f64) -> f64 {
        if self.lagged >= self.late {
            self.held = 0.0;
            return self.lagged;
        }
        self.held += step;
        let closing = tail.closing.to_s();
        if self.held <= tail.delay.to_s() {
            self.late
        } else if closing <= 0.0 {
            self.lagged
        } else if tail.follows {
            follow(self.late, before, self.lagged, step / closing)
        } else {
            self.lagged.max(self.late * (-step / closing).exp())
        }
    }
}

/// The coupling's corners, in rad/s; 0 where there is none.
fn corners(chain: &Chain) -> [f64; 2] {
    [chain.coupling, chain.second_pole]
        .map(|corner| corner.map_or(0.0, |it| TAU * it.to_hz().max(0.0)))
}

/// What the poles at `corners` hold back of a voltage that goes evenly from one value to the other.
fn block((mut from, mut to): (f64, f64), blocked: &mut [f64; 2], corners: [f64; 2], step: f64) {
    for (blocked, corner) in blocked.iter_mut().zip(corners) {
        if corner > 0.0 {
            let held = *blocked;
            *blocked = follow(held, from, to, step * corner);
            // Within one step of a settled chain the first pole's decay is taken as straight.
            (from, to) = (from - held, to - *blocked);
        }
    }
}

/// An amplifier that ends at a rail, with the coupling behind it.
pub(crate) struct Amplifier {
    rail: f64,
    corners: [f64; 2],
    before: f64,
    blocked: [f64; 2],
}

impl Amplifier {
    /// `None` for a chain without a rail.
    pub(crate) fn of(chain: &Chain) -> Option<Self> {
        chain.rail.map(|rail| Self {
            rail,
            corners: corners(chain),
            before: 0.0,
            blocked: [0.0; 2],
        })
    }

    /// What comes out `step` seconds after the voltage before.
    pub(crate) fn passes(&mut self, voltage: f64, step: f64) -> f64 {
        let voltage = voltage.min(self.rail);
        block(
            (self.before, voltage),
            &mut self.blocked,
            self.corners,
            step,
        );
        self.before = voltage;
        voltage - self.blocked[0] - self.blocked[1]
    }
}

/// Exact step of `ẋ = (u - x)/τ` for an input that goes evenly from `u0` to `u1` in `h = step/τ`.
fn follow(x: f64, u0: f64, u1: f64, h: f64) -> f64 {
    let decay = (-h).exp();
    // (1 - e^-h)/h without loss for small h.
    let mean = -(-h).exp_m1() / h;
    x * decay + u0 * (mean - decay) + u1 * (1.0 - mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_through_the_coupling_decays_exponentially() {
        let mut blocked = 0.0;
        for _ in 0..1000 {
            blocked = follow(blocked, 1.0, 1.0, 0.001);
        }
        assert!((1.0 - blocked - (-1.0_f64).exp()).abs() < 1e-12);
    }

    #[test]
    fn a_step_through_two_poles_follows_the_known_form() {
        let (a, b) = (TAU * 4.0, TAU * 9.0);
        let chain = Chain {
            coupling: Some(Hertz::hz(4.0)),
            second_pole: Some(Hertz::hz(9.0)),
            ..Chain::default()
        };
        let mut analogue = Analogue::new(&chain);
        analogue.step(1.0, 1e-9);
        let step = 1.0 / 48_000.0;
        for n in 1..=9_600 {
            analogue.step(1.0, step);
            let time = f64::from(n) * step;
            let want = (a * (-a * time).exp() - b * (-b * time).exp()) / (a - b);
            let got = analogue.sensed - analogue.blocked[0] - analogue.blocked[1];
            assert!((got - want).abs() < 1e-6, "{got} for {want} at {time} s");
        }
    }

    #[test]
    fn a_ramp_is_followed_one_time_constant_behind() {
        let mut x = 0.0;
        for i in 0..20_000 {
            x = follow(x, f64::from(i) * 0.001, f64::from(i + 1) * 0.001, 0.001);
        }
        assert!((x - 19.0).abs() < 1e-6, "{x}");
    }
}
