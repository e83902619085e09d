//! Recordings of shutters that never were, as files.

use std::io::Cursor;

use fettle_measure::synth::{Chain, Firing, Hum, LeafShutter, Scene};
use fettle_measure::{Decibels, Hertz, Marked, Seconds};

use crate::DemoError;
use crate::lots::Lots;
use crate::readings::MarkTime;

/// Dark before the first shot and after the last.
const LEAD_S: f64 = 0.3;
/// Dark between shots: long enough for the coupling to settle, short enough for small files.
const GAP_S: f64 = 0.28;
const SAMPLE_RATE_HZ: u32 = 48_000;

/// The corners of the corran's dial, slowest first, each with how far it is off in stops.
const BROWSER_DIAL: [(u32, f64); 9] = [
    (1, 0.21),
    (2, 0.34),
    (5, -0.12),
    (10, 0.09),
    (25, -0.27),
    (50, 0.18),
    (100, 0.31),
    (250, 0.44),
    (500, 0.62),
];

/// A recording with what was really there.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownRecording {
    /// The file: WAV, one channel, 16 bits, 48 kHz.
    pub wav: Vec<u8>,
    /// Each shot in the order fired: its mark, and the true effective time.
    pub truth: Vec<(Marked, Seconds)>,
}

/// A session for tests: a leaf shutter over the dial of the Corran 66, two shots a mark, through an
/// input with a corner of 4 Hz, with noise 46 dB below the light and hum at 50 Hz. Every mark is off
/// by an amount of its own.
///
/// # Errors
/// When the file cannot be put together.
pub fn browser_recording() -> Result<KnownRecording, DemoError> {
    let shots = BROWSER_DIAL.iter().flat_map(|(denominator, error)| {
        let mark = Marked::fraction(1, *denominator);
        let shot = mark.map(|mark| {
            let nominal = 1.0 / f64::from(*denominator);
            (mark, Seconds::s(nominal * error.exp2()))
        });
        [shot, shot].into_iter().flatten()
    });
    let chain = Chain {
        coupling: Some(Hertz::hz(4.0)),
        hum: Some(Hum {
            hz: Hertz::hz(50.0),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![0.012, 0.004, 0.006],
        }),
        snr: Some(Decibels::db(46.0)),
        gain: 0.42,
        ..Chain::default()
    };
    record(
        &shots.collect::<Vec<_>>(),
        LeafShutter::default(),
        chain,
        66,
    )
}

/// A session as a mechanic records it: the dial from the slowest mark, one shot each and three where
/// the spread is wanted, through some sound card's line input.
pub(crate) fn session(
    dial: &[MarkTime],
    first_slow: bool,
    lots: &mut Lots,
) -> Result<KnownRecording, DemoError> {
    let mut shots = Vec::new();
    for (n, it) in dial.iter().enumerate() {
        // Slow marks once, to keep the file small; more where a slow first shot is to be told.
        let times = match it.nominal.to_s() {
            _ if (n == 0 && first_slow) || n + 1 == dial.len() => 3,
            t if t > 0.09 => 1,
            _ => 2,
        };
        for shot in 0..times {
            let rest = if n == 0 && shot == 0 && first_slow {
                0.35
            } else {
                0.0
            };
            let stops = rest + 0.015 * lots.normal();
            shots.push((it.mark, it.effective() * stops.exp2()));
        }
    }
    let shutter = LeafShutter {
        opening: Seconds::ms(lots.between(0.9, 1.3)),
        closing: Seconds::ms(lots.between(1.0, 1.5)),
        ..LeafShutter::default()
    };
    let chain = Chain {
        coupling: Some(Hertz::hz(lots.between(2.0, 8.0))),
        hum: Some(Hum {
            hz: Hertz::hz(50.0),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![
                lots.between(0.003, 0.015),
                0.002,
                lots.between(0.001, 0.006),
            ],
        }),
        snr: Some(Decibels::db(lots.between(42.0, 54.0))),
        gain: lots.between(0.3, 0.6),
        inverted: lots.chance(0.3),
        offset: 0.01 * lots.normal(),
        ..Chain::default()
    };
    record(&shots, shutter, chain, lots.seed())
}

fn record(
    shots: &[(Marked, Seconds)],
    shutter: LeafShutter,
    chain: Chain,
    seed: u64,
) -> Result<KnownRecording, DemoError> {
    let mut at = LEAD_S;
    let mut firings = Vec::new();
    for (_, effective) in shots {
        firings.push(Firing::new(Seconds::s(at), *effective));
        at += effective.to_s() + GAP_S;
    }
    let lasting = Seconds::s(at + LEAD_S - GAP_S);
    let take = Scene {
        shutter,
        firings,
        chain,
        lasting,
        seed,
    }
    .record();
    let truth = shots
        .iter()
        .zip(&take.truth)
        .map(|((mark, _), truth)| (*mark, truth.effective));
    Ok(KnownRecording {
        truth: truth.collect(),
        wav: wav(&take.samples).map_err(|error| DemoError::Sound(error.to_string()))?,
    })
}

fn wav(samples: &[f32]) -> Result<Vec<u8>, hound::Error> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: SAMPLE_RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut file, spec)?;
    for sample in samples {
        let steps = (f64::from(*sample) * 32_768.0).round();
        writer.write_sample(steps.clamp(-32_768.0, 32_767.0) as i16)?;
    }
    writer.finalize()?;
    Ok(file.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;
    use fettle_bench::shutter_options;
    use fettle_measure::recording;
    use fettle_measure::shutter::analyse;

    #[test]
    fn the_browser_recording_is_measured_within_a_twentieth_of_a_stop() {
        let known = browser_recording().unwrap();
        assert_eq!(known, browser_recording().unwrap());
        let notes = crate::models::read().unwrap().remove(0);
        let read = recording::read("session.wav", Cursor::new(&known.wav)).unwrap();
        let (_, limit) = notes.shutter_limit().unwrap();
        let report = analyse(&[read], &shutter_options(&notes, Some(limit))).unwrap();
        assert_eq!(report.shots.len(), known.truth.len());
        for (shot, (mark, truth)) in report.shots.iter().zip(&known.truth) {
            assert_eq!(shot.marked, Some(*mark));
            let off = shot
                .effective_s
                .unwrap()
                .error_against(*truth)
                .unwrap()
                .to_stops();
            assert!(off.abs() <= 0.05, "{mark:?} is measured {off} stops off");
        }
    }
}
