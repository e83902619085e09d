//! What is no shutter before a light sensor, and must be refused.

use std::f64::consts::TAU;

use fettle_measure::synth::{Chain, HandScene, Uncovering};
use fettle_measure::{Decibels, Hertz, Recording, Seconds};

use super::case::{Case, Source};
use super::draw::Draw;
use super::sound;
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

/// What a light sensor records of it, or a microphone: the same samples, asked of either way.
fn either(draw: &mut Draw, samples: Vec<f32>) -> Case {
    let case = made(samples);
    if draw.chance(0.5) {
        sound::by_sound(case)
    } else {
        case
    }
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

pub(crate) fn speech(draw: &mut Draw) -> Case {
    let spoken = spoken(draw);
    either(draw, spoken)
}

/// Voiced syllables and hisses with pauses between.
fn spoken(draw: &mut Draw) -> Vec<f32> {
    let level = draw.log_between(0.02, 0.5);
    let mut until = 0.0;
    let mut from = 0.0;
    let (mut pitch, mut voiced, mut loud) = (120.0, true, 0.0);
    let mut formants = [500.0, 1500.0, 2500.0];
    let mut turns = 0.0;
    let floor = level * draw.log_between(1e-3, 1e-2);
    samples(draw, |time, draw| {
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
    })
}

/// Chords with soft attacks and long decays over a beat of noise.
pub(crate) fn music(draw: &mut Draw) -> Case {
    let beat = draw.between(0.25, 0.6);
    let level = draw.log_between(0.02, 0.15);
    let mut samples = samples(draw, |_, draw| 1e-4 * draw.normal());
    let mut add = |from: f64, lasting: f64, value: &mut dyn FnMut(f64) -> f64| {
        let stretch = samples.iter_mut().skip((from * RATE_HZ) as usize);
        for (n, sample) in stretch.take((lasting * RATE_HZ) as usize).enumerate() {
            *sample += value(n as f64 / RATE_HZ) as f32;
        }
    };
    let mut at = 0.1;
    while at < 8.0 {
        for _ in 0..3 {
            let hz = 110.0 * (draw.whole(36) as f64 / 12.0).exp2();
            let loud = level * draw.between(0.3, 1.0);
            let attack = draw.log_between(0.003, 0.03);
            add(at, 0.9, &mut |time| {
                let swell = (1.0 - (-time / attack).exp()) * (-time / 0.3).exp();
                let tones = (1..6).map(|k| (TAU * hz * f64::from(k) * time).sin() / f64::from(k));
                loud * swell * tones.sum::<f64>()
            });
        }
        add(at + 0.5 * beat, 0.2, &mut |time| {
            level * (-time / 0.04).exp() * (draw.next() - 0.5)
        });
        at += beat;
    }
    either(draw, samples)
}

/// Blows on the bench: low, swinging, some of one sign at first.
pub(crate) fn thuds(draw: &mut Draw) -> Case {
    let blows: Vec<[f64; 5]> = (0..2 + draw.whole(6))
        .map(|_| {
            [
                draw.between(0.2, 4.0),
                draw.log_between(0.05, 0.6),
                draw.log_between(15.0, 200.0),
                draw.log_between(0.01, 0.1),
                draw.between(-1.5, 1.5),
            ]
        })
        .collect();
    let noise = draw.log_between(1e-4, 3e-3);
    let samples = samples(draw, |time, draw| {
        let swings = blows.iter().filter(|it| time > it[0]);
        let swings = swings.map(|[from, height, hz, decay, phase]| {
            let since = time - from;
            height * (-since / decay).exp() * (TAU * hz * since + phase).cos()
        });
        swings.sum::<f64>() + noise * draw.normal()
    });
    // By sound a thud could be a dull camera's; before a light sensor it is none.
    made(samples)
}

/// Single spikes: a plug touched, a switch nearby.
pub(crate) fn bare_clicks(draw: &mut Draw) -> Case {
    let spikes: Vec<(f64, f64, f64)> = (0..1 + draw.whole(12))
        .map(|_| {
            (
                draw.between(0.1, 6.0),
                draw.between(-0.9, 0.9),
                draw.log_between(2e-5, 5e-4),
            )
        })
        .collect();
    let noise = draw.log_between(1e-4, 3e-3);
    made(samples(draw, |time, draw| {
        let sum = spikes.iter().filter(|it| time >= it.0);
        let sum = sum.map(|(from, height, fall)| height * (-(time - from) / fall).exp());
        sum.sum::<f64>() + noise * draw.normal()
    }))
}

/// A hand or a card waved before the lamp: light that comes and goes too slowly for any shutter.
pub(crate) fn waved(draw: &mut Draw) -> Case {
    let mut at = draw.between(0.3, 1.0);
    let mut uncoverings = Vec::new();
    for _ in 0..1 + draw.whole(5) {
        let uncovering = Uncovering {
            at: Seconds::s(at),
            opening: Seconds::s(draw.log_between(0.05, 0.4)),
            held: Seconds::s(draw.log_between(0.05, 1.5)),
            closing: Seconds::s(draw.log_between(0.05, 0.4)),
        };
        at += (uncovering.opening + uncovering.held + uncovering.closing).to_s();
        at += draw.between(0.4, 1.5);
        uncoverings.push(uncovering);
    }
    let coupled = draw.chance(0.5);
    let chain = Chain {
        bits: Some(draw.pick(&[16, 24])),
        gain: draw.between(0.2, 0.7),
        inverted: draw.chance(0.5),
        coupling: coupled.then(|| Hertz::hz(draw.log_between(0.5, 20.0))),
        snr: Some(Decibels::db(draw.between(40.0, 60.0))),
        ..Chain::default()
    };
    let scene = HandScene {
        uncoverings,
        chain,
        lasting: Seconds::s(at),
        seed: draw.seed(),
    };
    made(scene.record().samples)
}

/// A room without a camera: somebody speaks, things knock, or nothing.
pub(crate) fn room(draw: &mut Draw) -> Case {
    let mut room = sound::room(draw);
    let lasting = draw.between(4.0, 12.0);
    match draw.whole(3) {
        0 => {
            let loud = Decibels::db(draw.between(-25.0, -8.0));
            room.speech = vec![(Seconds::s(0.3), Seconds::s(lasting - 0.3), loud)];
        }
        1 => {
            for _ in 0..4 {
                let at = Seconds::s(draw.between(0.2, lasting - 0.3));
                room.knocks
                    .push((at, Decibels::db(draw.between(-6.0, 6.0))));
            }
        }
        _ => {}
    }
    sound::empty(room, lasting, draw)
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
