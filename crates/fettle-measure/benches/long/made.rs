//! The recording and its truth: 100 s with the dial fired twice, six times over.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use fettle_measure::synth::{Chain, Click, Firing, Hum, LeafShutter, Scene, Truth};
use fettle_measure::{Decibels, Hertz, Seconds};

use crate::Outcome;
use crate::packed::Flac;

pub(crate) const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];
/// Bytes before a WAV file's samples.
pub(crate) const WAVE_HEAD: usize = 44;
const RATE: u32 = 96_000;
const PART_S: f64 = 100.0;
const PARTS: u32 = 6;

/// Two sensors behind one shutter, the second weaker and with noise of its own; `clicks` are picked up
/// just before each shot opens and just after it has closed.
fn scene(channel: u64, clicks: bool) -> Scene {
    let firing = |i: u32| {
        let mark = DIAL[i as usize % DIAL.len()];
        let at = Seconds::s(0.9 + 4.8 * f64::from(i));
        Firing::new(at, Seconds::s(1.06 / f64::from(mark)))
    };
    let firings: Vec<Firing> = (0..20).map(firing).collect();
    let click = |at: Seconds, height: f64| Click {
        at,
        lasting: Seconds::ms(0.1),
        height,
    };
    let around = |it: &Firing| {
        let closed = it.at + it.effective + Seconds::ms(9.0);
        [click(it.at - Seconds::ms(6.0), 0.3), click(closed, -0.2)]
    };
    let clicks = if clicks {
        firings.iter().flat_map(around).collect()
    } else {
        Vec::new()
    };
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain: Chain {
            sample_rate: Hertz::hz(f64::from(RATE)),
            bits: Some(24),
            gain: if channel == 0 { 0.5 } else { 0.3 },
            coupling: Some(Hertz::hz(3.0)),
            hum: Some(Hum {
                hz: Hertz::hz(50.0),
                wanders: Hertz::hz(0.0),
                amplitudes: vec![0.01, 0.005, 0.005],
            }),
            snr: Some(Decibels::db(54.0)),
            clicks,
            ..Chain::default()
        },
        lasting: Seconds::s(PART_S),
        seed: 7 + channel,
    }
}

/// The truth of every shot, and when it starts in the whole recording.
pub(crate) fn truth() -> Vec<(f64, f64)> {
    let mut quiet = scene(0, false);
    // The truth comes from the blades: it needs no samples.
    quiet.lasting = Seconds::s(0.0);
    let part: Vec<Truth> = quiet.record().truth;
    let of_part = |n: u32| {
        let from = f64::from(n) * PART_S;
        let shots = part.clone().into_iter();
        shots.map(move |it| (from + it.start.to_s(), it.effective.to_s()))
    };
    (0..PARTS).flat_map(of_part).collect()
}

/// The greatest error in stops; `None` when the shots are not those that were fired.
pub(crate) fn worst(shots: &[(f64, f64)], truth: &[(f64, f64)]) -> Option<f64> {
    let mut worst = 0.0_f64;
    for (got, want) in shots.iter().zip(truth) {
        let is_it = (got.0 - want.0).abs() < 2e-3 && got.1.is_finite();
        worst = worst.max((got.1 / want.1).log2().abs());
        if !is_it {
            return None;
        }
    }
    (shots.len() == truth.len()).then_some(worst)
}

/// Writes the recording as `form`.
pub(crate) fn write(file: &Path, form: &str) -> Outcome<()> {
    let steps = |channel| -> Vec<i32> {
        let samples = scene(channel, form == "clicks").record().samples;
        let step = |sample: f32| (f64::from(sample) * 8_388_608.0).round() as i32;
        samples.into_iter().map(step).collect()
    };
    let part = [steps(0), steps(1)];
    let unfinished = file.with_extension("part");
    let mut target = BufWriter::new(File::create(&unfinished)?);
    let frames = PARTS * part[0].len() as u32;
    match form {
        "flac" => {
            let mut flac = Flac::begin(&mut target, RATE, u64::from(frames))?;
            for _ in 0..PARTS {
                flac.write(&part)?;
            }
        }
        "aiff" => {
            target.write_all(&aiff_head(frames))?;
            for _ in 0..PARTS {
                plain(&mut target, &part, i32::to_be_bytes)?;
            }
        }
        _ => {
            target.write_all(&wave_head(frames))?;
            for _ in 0..PARTS {
                plain(&mut target, &part, i32::to_le_bytes)?;
            }
        }
    }
    target.flush()?;
    std::fs::rename(unfinished, file)?;
    Ok(())
}

/// Frame by frame, three bytes a sample in the order that `bytes` gives.
fn plain(
    target: &mut impl Write,
    part: &[Vec<i32>; 2],
    bytes: impl Fn(i32) -> [u8; 4],
) -> Outcome<()> {
    let little = bytes(1)[0] == 1;
    for pair in part[0].iter().zip(&part[1]) {
        for step in [pair.0, pair.1] {
            let four = bytes(*step);
            target.write_all(if little { &four[..3] } else { &four[1..] })?;
        }
    }
    Ok(())
}

fn wave_head(frames: u32) -> Vec<u8> {
    let mut head = b"RIFF".to_vec();
    head.extend((36 + frames * 6).to_le_bytes());
    head.extend(b"WAVEfmt \x10\0\0\0\x01\0\x02\0");
    head.extend(RATE.to_le_bytes());
    head.extend((RATE * 6).to_le_bytes());
    head.extend([6, 0, 24, 0]);
    head.extend(b"data");
    head.extend((frames * 6).to_le_bytes());
    head
}

fn aiff_head(frames: u32) -> Vec<u8> {
    let mut head = b"FORM".to_vec();
    head.extend((4 + 26 + 16 + frames * 6).to_be_bytes());
    head.extend(b"AIFFCOMM\0\0\0\x12\0\x02");
    head.extend(frames.to_be_bytes());
    head.extend([0, 24]);
    // 96000 as a number of 80 bits: 2^16 times 1.4648...
    head.extend([0x40, 0x0f, 0xbb, 0x80, 0, 0, 0, 0, 0, 0]);
    head.extend(b"SSND");
    head.extend((8 + frames * 6).to_be_bytes());
    head.extend([0; 8]);
    head
}
