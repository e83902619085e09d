//! What one mechanical event sounds like: a burst of damped resonances in a room.

use std::f64::consts::TAU;

use super::{Room, ratio};
use crate::synth::Gauss;

/// Resonances of one event's sound.
const RESONANCES: usize = 5;

/// The resonances of one event.
#[derive(Clone, Debug)]
pub(super) struct Voice {
    /// Frequency, decay time, amplitude, phase.
    parts: Vec<[f64; 4]>,
    attack: f64,
}

impl Voice {
    pub(super) fn new(gauss: &mut Gauss, from_hz: f64, to_hz: f64, decays_s: [f64; 2]) -> Self {
        let between =
            |gauss: &mut Gauss, low: f64, high: f64| low * (high / low).powf(gauss.uniform());
        let parts = (0..RESONANCES)
            .map(|_| {
                let hz = between(gauss, from_hz, to_hz);
                let decay = between(gauss, decays_s[0], decays_s[1]);
                [hz, decay, between(gauss, 0.3, 1.0), TAU * gauss.uniform()]
            })
            .collect();
        Self {
            parts,
            attack: between(gauss, 2e-5, 1e-4),
        }
    }

    /// The same event once more: no two impacts are quite alike.
    pub(super) fn again(&self, gauss: &mut Gauss) -> Self {
        let parts = self.parts.iter().map(|[hz, decay, amplitude, phase]| {
            [
                hz * (1.0 + 0.004 * gauss.normal()),
                decay * (0.1 * gauss.normal()).exp(),
                amplitude * (0.2 * gauss.normal()).exp(),
                phase + 0.3 * gauss.normal(),
            ]
        });
        Self {
            parts: parts.collect(),
            attack: self.attack,
        }
    }

    fn at(&self, time: f64) -> f64 {
        let rise = 1.0 - (-time / self.attack).exp();
        let sum: f64 = self
            .parts
            .iter()
            .map(|[hz, decay, amplitude, phase]| {
                amplitude * (-time / decay).exp() * (TAU * hz * time + phase).sin()
            })
            .sum();
        rise * sum / self.parts.iter().map(|part| part[2]).sum::<f64>()
    }
}

/// Adds bursts to samples.
pub(super) struct Mixer<'a> {
    pub(super) samples: &'a mut [f64],
    pub(super) rate: f64,
    pub(super) gauss: &'a mut Gauss,
}

impl Mixer<'_> {
    /// One burst at `at` seconds, its onset anywhere between two samples.
    pub(super) fn burst(&mut self, voice: &Voice, at: f64, level: f64, room: &Room, lasting: f64) {
        let voice = voice.again(self.gauss);
        self.dry(&voice, at, level, lasting);
        for (delay, factor) in &room.echoes {
            self.dry(&voice, at + delay.to_s(), level * factor, lasting);
        }
        if let Some((diffuse, sixty)) = room.reverberation {
            let first = ((at + 3e-3) * self.rate) as usize;
            let count = (0.7 * sixty.to_s() * self.rate) as usize;
            let fall = -3.0 * std::f64::consts::LN_10 / (sixty.to_s() * self.rate);
            for (n, sample) in self.samples.iter_mut().skip(first).take(count).enumerate() {
                *sample += level * ratio(diffuse) * (fall * n as f64).exp() * self.gauss.normal();
            }
        }
    }

    pub(super) fn dry(&mut self, voice: &Voice, at: f64, level: f64, lasting: f64) {
        let first = (at * self.rate).ceil().max(0.0) as usize;
        let count = (lasting * self.rate) as usize;
        for (n, sample) in self.samples.iter_mut().enumerate().skip(first).take(count) {
            *sample += level * voice.at(n as f64 / self.rate - at);
        }
    }
}
