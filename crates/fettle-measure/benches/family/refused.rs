//! What is no shutter before a light sensor, and must be refused.

use std::f64::consts::TAU;

use fettle_measure::{Hertz, Recording};

use super::case::{Case, Source};
use super::draw::Draw;
use super::wave::{self, Form};

const RATE_HZ: f64 = 48_000.0;

fn made(samples: Vec<f32>) -> Case {
    let empty = || Source::File {
        name: "made.wav".to_owned(),
        bytes: Vec::new(),
    };
    let recording = Recording::from_channels("made.wav", Hertz::hz(RATE_HZ), vec![samples]);
    Case::refused(recording.map_or_else(|_| empty(), Source::Made))
}

fn samples(draw: &mut Draw, mut value: impl FnMut(f64, &mut Draw) -> f64) -> Vec<f32> {
    let count = (draw.between(2.0, 8.0) * RATE_HZ) as usize;
    (0..count)
        .map(|n| value(n as f64 / RATE_HZ, draw) as f32)
        .collect()
}

pub(crate) fn silence(draw: &mut Draw) -> Case {
    made(samples(draw, |_, _| 0.0))
}

/// The voltage of a lamp that nothing covers.
pub(crate) fn steady(draw: &mut Draw) -> Case {
    let level = draw.between(-0.8, 0.8);
    let noise = draw.pick(&[0.0, 1e-4, 1e-3]);
    made(samples(draw, |_, draw| level + noise * draw.normal()))
}

pub(crate) fn noise(draw: &mut Draw) -> Case {
    let noise = draw.log_between(1e-4, 0.2);
    made(samples(draw, |_, draw| noise * draw.normal()))
}

pub(crate) fn hum(draw: &mut Draw) -> Case {
    let amplitude = draw.log_between(1e-3, 0.5);
    let hz = draw.pick(&[50.0, 60.0]) + draw.between(-0.05, 0.05);
    let parts: Vec<(f64, f64)> = (0..8)
        .map(|k| (draw.next() / f64::from(1 + k), TAU * draw.next()))
        .collect();
    let noise = amplitude * draw.log_between(1e-4, 1e-2);
    made(samples(draw, |time, draw| {
        let waves = (1..).zip(&parts).map(|(k, (part, phase))| {
            amplitude * part * (TAU * f64::from(k) * hz * time + phase).sin()
        });
        waves.sum::<f64>() + noise * draw.normal()
    }))
}

/// Voiced syllables and hisses with pauses between.
pub(crate) fn speech(draw: &mut Draw) -> Case {
    let level = draw.log_between(0.02, 0.5);
    let mut until = 0.0;
    let mut from = 0.0;
    let (mut pitch, mut voiced, mut loud) = (120.0, true, 0.0);
    let mut formants = [500.0, 1500.0, 2500.0];
    let mut turns = 0.0;
    let floor = level * draw.log_between(1e-3, 1e-2);
    made(samples(draw, |time, draw| {
        if time >= until {
            from = time;
            until = time + draw.between(0.06, 0.3);
            loud = if draw.chance(0.25) {
                0.0
            } else {
                level * draw.between(0.2, 1.0)
            };
            voiced = draw.chance(0.7);
            pitch = draw.between(90.0, 240.0);
            formants = [
                draw.between(250.0, 900.0),
                draw.between(800.0, 2300.0),
                draw.between(2000.0, 3200.0),
            ];
        }
        turns += pitch * (1.0 + 0.03 * (TAU * 5.0 * time).sin()) / RATE_HZ;
        let part = (time - from) / (until - from);
        let envelope = (std::f64::consts::PI * part).sin().max(0.0).sqrt();
        let sound = if voiced {
            // Each turn of the vocal cords rings the formants anew.
            let since = (turns - turns.floor()) / pitch;
            formants
                .iter()
                .map(|hz| (TAU * hz * since).sin() * (-since * 300.0).exp())
                .sum::<f64>()
                / 3.0
        } else {
            0.3 * draw.normal()
        };
        loud * envelope * sound + floor * draw.normal()
    }))
}

pub(crate) fn text(draw: &mut Draw) -> Case {
    let words = [
        "shutter", "slow", "on", "the", "long", "times", "oil", "12", "1/60",
    ];
    let mut text = String::from("Dear mechanic,\n");
    for _ in 0..draw.whole(400) {
        text.push_str(draw.pick(&words));
        text.push(if draw.chance(0.1) { '\n' } else { ' ' });
    }
    Case::refused(Source::File {
        name: "letter.csv".to_owned(),
        bytes: text.into_bytes(),
    })
}

/// A WAV file of which only the beginning was copied.
pub(crate) fn header(draw: &mut Draw) -> Case {
    let hissing = samples(draw, |_, draw| 0.1 * draw.normal());
    let Source::File { name, mut bytes } =
        wave::file("made.wav", RATE_HZ, Form::Whole(16), &[&hissing])
    else {
        return made(Vec::new());
    };
    bytes.truncate(1 + draw.whole(43));
    Case::refused(Source::File { name, bytes })
}
