//! What else a microphone hears: the room's noise, hum and speech, and what a gate makes of them.

use std::f64::consts::TAU;

use super::{Room, ratio};
use crate::synth::Gauss;

/// Adds white noise, noise that falls with frequency, and hum.
pub(super) fn background(samples: &mut [f64], room: &Room, gauss: &mut Gauss) {
    let rate = room.sample_rate.to_hz();
    let white = ratio(room.noise);
    let rumble = room.rumble.map_or(0.0, ratio);
    // Poles an octave and a half apart make a spectrum that falls as 1/f.
    let corners = [20.0, 57.0, 160.0, 452.0, 1280.0, 3620.0];
    let mut states = [0.0; 6];
    let phases: Vec<f64> = (0..16).map(|_| TAU * gauss.uniform()).collect();
    for (n, sample) in samples.iter_mut().enumerate() {
        *sample += white * gauss.normal();
        if rumble > 0.0 {
            for (state, corner) in states.iter_mut().zip(corners) {
                let keep = (-TAU * corner / rate).exp();
                let drive = (1.0 - keep * keep).sqrt();
                *state = keep * *state + drive * gauss.normal();
            }
            *sample += rumble * states.iter().sum::<f64>() / 6_f64.sqrt();
        }
        if let Some(hum) = &room.hum {
            let turns = hum.hz.to_hz() * n as f64 / rate;
            let harmonics = hum.amplitudes.iter().zip(&phases).zip(1_i32..);
            *sample += harmonics
                .map(|((amplitude, phase), k)| {
                    amplitude * (TAU * f64::from(k) * turns + phase).sin()
                })
                .sum::<f64>();
        }
    }
}

/// Something like speech: voiced syllables through three formants, and hisses between them.
pub(super) fn speak(
    samples: &mut [f64],
    rate: f64,
    range: [f64; 2],
    level: f64,
    gauss: &mut Gauss,
) {
    let mut at = range[0];
    while at < range[1] {
        let lasting = 0.08 + 0.2 * gauss.uniform();
        let pitch = 90.0 + 130.0 * gauss.uniform();
        let formants = [
            [300.0 + 500.0 * gauss.uniform(), 80.0, 1.0],
            [900.0 + 1200.0 * gauss.uniform(), 110.0, 0.5],
            [2300.0 + 600.0 * gauss.uniform(), 160.0, 0.3],
            [3300.0 + 700.0 * gauss.uniform(), 240.0, 0.15],
        ];
        let hiss = gauss.uniform() < 0.4;
        let mut rings = [[0.0; 2]; 4];
        let mut cycle = 0.0;
        let mut before = 0.0;
        let first = (at * rate) as usize;
        let count = (lasting * rate) as usize;
        for (n, sample) in samples.iter_mut().skip(first).take(count).enumerate() {
            let part = n as f64 / count as f64;
            let swell = (std::f64::consts::PI * part).sin().powf(0.5);
            cycle += pitch * (1.0 + 0.1 * part) / rate;
            let pulse = if cycle >= 1.0 { 1.0 } else { 0.0 };
            cycle -= pulse;
            let breath = 0.02 * gauss.normal();
            let source = if hiss {
                0.1 * gauss.normal()
            } else {
                6.0 * pulse + breath
            };
            let mut sum = 0.0;
            for (ring, [hz, width, weight]) in rings.iter_mut().zip(formants) {
                let radius = (-std::f64::consts::PI * width / rate).exp();
                let next = source + 2.0 * radius * (TAU * hz / rate).cos() * ring[0]
                    - radius * radius * ring[1];
                *ring = [next, ring[0]];
                sum += weight * next * hz / rate;
            }
            let voiced = if hiss { 3.0 * (source - before) } else { sum };
            before = source;
            *sample += level * swell * voiced;
        }
        at += lasting + 0.15 * gauss.uniform().powi(2);
    }
}

/// Silences what lies below `threshold`, 30 ms after the last loud sample.
pub(super) fn gate(samples: &mut [f64], rate: f64, threshold: f64) {
    let hold = (0.03 * rate) as usize;
    let mut left = 0;
    for sample in samples {
        left = if sample.abs() > threshold {
            hold
        } else {
            left.saturating_sub(1)
        };
        if left == 0 {
            *sample = 0.0;
        }
    }
}
