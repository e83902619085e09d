//! Recordings whose chain does more to the light than couple, hum and hiss.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod firings;

use std::f64::consts::TAU;
use std::io::Cursor;

use fettle_measure::shutter::{self, FindingKind, Flag, Options, Report, Shot};
use fettle_measure::synth::{
    Chain, Click, Codec, Flicker, GainControl, LeafShutter, Scene, Swing, Tail, Take, Truth,
};
use fettle_measure::{Decibels, Hertz, Recording, Seconds, recording};
use firings::firings;

const TIMES: [f64; 7] = [0.5, 0.25, 0.07, 0.035, 0.017, 0.008, 0.004];

fn scene(chain: Chain, seed: u64) -> Scene {
    scene_of(&TIMES, chain, seed)
}

fn scene_of(times: &[f64], chain: Chain, seed: u64) -> Scene {
    let (firings, lasting) = firings(times, 1.2);
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting,
        seed,
    }
}

fn options() -> Options {
    Options {
        clock_ppm: Some(0.0),
        ..Options::default()
    }
}

fn measured(chain: Chain, seed: u64) -> (Report, Vec<Truth>) {
    measured_at(&TIMES, chain, seed)
}

fn measured_at(times: &[f64], chain: Chain, seed: u64) -> (Report, Vec<Truth>) {
    let take = scene_of(times, chain, seed).record();
    let truth = take.truth.clone();
    let recording = take.into_recording("made.wav").unwrap();
    (shutter::analyse(&[recording], &options()).unwrap(), truth)
}

fn tail(report: &Report) -> Option<Seconds> {
    report
        .findings
        .iter()
        .find_map(|finding| match finding.what {
            FindingKind::Tail { closing_s } => Some(closing_s),
            _ => None,
        })
}

fn has(report: &Report, kind: &FindingKind) -> bool {
    report.findings.iter().any(|finding| finding.what == *kind)
}

/// Every shot's truth lies within its stated interval.
#[track_caller]
fn assert_inside(report: &Report, truth: &[Truth]) {
    assert_eq!(report.shots.len(), truth.len());
    for (shot, truth) in report.shots.iter().zip(truth) {
        let off = (shot.effective_s.unwrap() - truth.effective).abs();
        assert!(
            off <= shot.uncertainty_s.unwrap(),
            "{:?} off by {off:?}, stated {:?}",
            truth.effective,
            shot.uncertainty_s
        );
    }
}

/// The greatest error of all shots, each of which is told, in stops.
#[track_caller]
fn worst(report: &Report, truth: &[Truth]) -> f64 {
    assert_eq!(report.shots.len(), truth.len());
    let shots = report.shots.iter().zip(truth);
    let errors = shots.map(|(shot, truth)| {
        let error = shot.effective_s.unwrap().error_against(truth.effective);
        error.unwrap().to_stops().abs()
    });
    errors.fold(0.0, f64::max)
}

/// Every shot is told, none by more than a few thousandths of a stop off.
#[track_caller]
fn assert_close(report: &Report, truth: &[Truth]) {
    let worst = worst(report, truth);
    assert!(worst < 0.004, "{worst} stops");
}

#[test]
fn a_tail_on_closing_is_found_and_the_interval_reaches_the_truth() {
    for (seed, closing, follows) in [
        (11, 0.3, true),
        (12, 1.2, true),
        (13, 4.0, true),
        (14, 0.8, false),
    ] {
        let chain = Chain {
            tail: Some(Tail {
                delay: Seconds::s(0.0),
                closing: Seconds::ms(closing),
                share: 1.0,
                follows,
            }),
            ..Chain::default()
        };
        let (report, truth) = measured(chain, seed);
        let found = tail(&report).unwrap().to_ms();
        assert!(
            (found / closing - 1.0).abs() < 0.25,
            "{found} for {closing}"
        );
        assert_inside(&report, &truth);
        for shot in &report.shots {
            assert!(shot.budget.tail_s.to_ms() < 0.5 * closing);
        }
    }
}

#[test]
fn a_lag_on_both_flanks_is_no_tail() {
    for (seed, lag) in [(21, 0.0), (22, 0.1), (23, 0.25), (24, 0.5)] {
        let chain = Chain {
            lag: Seconds::ms(lag),
            coupling: Some(Hertz::hz(3.0)),
            ..Chain::default()
        };
        let (report, truth) = measured(chain, seed);
        assert_eq!(tail(&report), None, "{lag} ms");
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let error = shot.effective_s.unwrap().error_against(truth.effective);
            assert!(
                error.unwrap().to_stops().abs() < 0.002,
                "{lag} ms: {error:?}"
            );
        }
    }
}

#[test]
fn no_time_is_told_under_gain_control() {
    for (seed, attack, release, gate) in [
        (31, 5.0, 300.0, None),
        (32, 1.0, 60.0, None),
        (33, 3.0, 120.0, Some(0.1)),
    ] {
        let chain = Chain {
            snr: Some(Decibels::db(45.0)),
            gain_control: Some(GainControl {
                attack: Seconds::ms(attack),
                release: Seconds::ms(release),
                strength: 0.6,
                gate,
            }),
            ..Chain::default()
        };
        let recording = scene(chain, seed)
            .record()
            .into_recording("made.wav")
            .unwrap();
        // Nothing at all may be found under the worst of it, which refuses the recording too.
        let Ok(report) = shutter::analyse(&[recording], &options()) else {
            continue;
        };
        assert!(has(&report, &FindingKind::GainControl), "seed {seed}");
        for shot in &report.shots {
            assert_eq!(shot.effective_s, None);
            assert!(shot.flags.contains(&Flag::CannotTell));
        }
    }
}

#[test]
fn noise_suppression_that_a_single_shot_found_shut_is_seen() {
    let chain = Chain {
        coupling: Some(Hertz::hz(2.0)),
        snr: Some(Decibels::db(55.0)),
        ..Chain::default()
    };
    let take = scene(chain, 34).record();
    let analysed = |samples: &[f32]| {
        let recording =
            Recording::from_channels("made.wav", take.sample_rate, vec![samples.to_vec()]);
        shutter::analyse(&[recording.unwrap()], &options()).unwrap()
    };
    assert!(!has(&analysed(&take.samples), &FindingKind::GainControl));
    // The third shot, of 0.07 s, comes up from two thirds within some 20 ms.
    let at = take.truth[2].start.to_s() * take.sample_rate.to_hz();
    let mut samples = take.samples.clone();
    for (n, sample) in (0_u32..).zip(&mut samples[at as usize..]) {
        let since = f64::from(n) / take.sample_rate.to_hz();
        *sample *= (1.0 - (-since / 20e-3).exp() / 3.0) as f32;
    }
    let report = analysed(&samples);
    assert!(has(&report, &FindingKind::GainControl));
    assert!(report.shots.iter().all(|shot| shot.effective_s.is_none()));
}

#[test]
fn a_coarse_lossy_coding_is_neither_gain_control_nor_missing_samples() {
    for (seed, limit, coarseness) in [(61, 11_000.0, 0.14), (62, 16_000.0, 0.1)] {
        let chain = Chain {
            coupling: Some(Hertz::hz(4.0)),
            codec: Some(Codec {
                limit: Hertz::hz(limit),
                coarseness,
            }),
            ..Chain::default()
        };
        let (report, truth) = measured(chain, seed);
        assert!(has(&report, &FindingKind::Lossy), "seed {seed}");
        assert!(!has(&report, &FindingKind::GainControl), "seed {seed}");
        let told = report.shots.iter().filter(|it| it.effective_s.is_some());
        assert_eq!(
            told.count(),
            truth.len(),
            "seed {seed}: {:?}",
            report.findings
        );
    }
}

#[test]
fn a_plain_chain_is_not_called_processed() {
    for seed in 40..44 {
        let chain = Chain {
            coupling: Some(Hertz::hz(8.0)),
            second_pole: (seed % 2 == 0).then(|| Hertz::hz(1.0)),
            drift: 0.02,
            ..Chain::default()
        };
        let (report, _) = measured(chain, seed);
        for kind in [
            FindingKind::GainControl,
            FindingKind::Clicks,
            FindingKind::SameChannels,
        ] {
            assert!(!has(&report, &kind), "{kind:?}");
        }
    }
}

#[test]
fn clicks_are_said_and_taken_off_and_are_no_shots() {
    let mut chain = Chain::default();
    let plain = scene(chain.clone(), 51);
    for (n, firing) in plain.firings.iter().enumerate() {
        let side = if n % 2 == 0 { 1.0 } else { -1.0 };
        let click = |after: f64, lasting: f64, height: f64| Click {
            at: firing.at + Seconds::s(after),
            lasting: Seconds::ms(lasting),
            height: side * height,
        };
        chain.clicks.extend([
            click(-0.03, 0.3, 3.0),
            click(0.0005, 0.04, 1.5),
            click(firing.effective.to_s() + 0.02, 0.2, -2.0),
        ]);
    }
    let (report, truth) = measured(chain, 51);
    assert!(has(&report, &FindingKind::Clicks));
    assert_close(&report, &truth);
}

/// Adds what rings after a blow at each of `places`: a wave of so many hertz that fades in a millisecond.
fn ring(take: &mut Take, places: &[f64], hz: f64, height: f64) {
    let rate = take.sample_rate.to_hz();
    for place in places {
        for n in 0..(0.02 * rate) as usize {
            let time = n as f64 / rate;
            let ringing = height * (-time / 1e-3).exp() * (TAU * hz * time).cos();
            if let Some(sample) = take.samples.get_mut((place * rate) as usize + n) {
                *sample += ringing as f32;
            }
        }
    }
}

#[test]
fn what_rings_long_before_a_shot_does_not_open_it() {
    for seed in 1..=3 {
        for hz in [1_100.0, 1_900.0, 3_300.0] {
            let scene = scene(Chain::default(), seed);
            let mut take = scene.record();
            let before = 0.1 * seed as f64;
            // More of them than shots would leave nothing that looks like a shutter's.
            let third = scene.firings.iter().skip(1).step_by(3);
            let places: Vec<f64> = third.map(|it| it.at.to_s() - before).collect();
            ring(&mut take, &places, hz, 0.45);
            let truth = take.truth.clone();
            let recording = take.into_recording("made.wav").unwrap();
            let report = shutter::analyse(&[recording], &options()).unwrap();
            for truth in &truth {
                let is_it = |shot: &&Shot| {
                    let off = (shot.start_s - truth.start).abs();
                    off < Seconds::ms(1.0) && shot.effective_s.is_some()
                };
                let shot = report.shots.iter().find(is_it);
                let shot = shot.unwrap_or_else(|| panic!("{hz} Hz: {:?} is lost", truth.start));
                let effective = shot.effective_s.unwrap();
                let off = effective.error_against(truth.effective).unwrap();
                assert!(off.to_stops().abs() < 0.01, "{hz} Hz: {off:?}");
            }
            assert!(!has(&report, &FindingKind::Lossy), "{hz} Hz");
        }
    }
}

#[test]
fn a_channel_scaled_turned_round_and_dithered_is_the_same_but_a_second_sensor_is_not() {
    let samples = |seed| scene(Chain::default(), seed).record().samples;
    let first = samples(61);
    let copy = first.iter().enumerate().map(|(n, sample)| {
        let dither = (n * 7919 % 13) as f32 / 13.0 - 0.5;
        (sample * -0.61 * 32_768.0 + dither).round() / 32_768.0
    });
    for (second, same) in [(copy.collect(), true), (samples(62), false)] {
        let channels = vec![first.clone(), second];
        let recording =
            Recording::from_channels("made.wav", Hertz::hz(48_000.0), channels).unwrap();
        let report = shutter::analyse(&[recording], &options()).unwrap();
        assert_eq!(has(&report, &FindingKind::SameChannels), same);
    }
}

/// Speeds of a lamp's swing or two.
const SHORT: [f64; 7] = [0.034, 0.017, 0.008, 0.0083, 0.004, 0.0043, 0.018];
/// Long against the coupling's time constant.
const LONG: [f64; 8] = [0.67, 0.64, 0.32, 0.17, 0.16, 0.08, 0.016, 0.008];

#[test]
fn a_deep_swing_of_the_lamp_keeps_no_shot_from_closing() {
    for (seed, hz) in [(71, 99.97), (72, 100.01), (73, 119.96), (74, 120.03)] {
        let lamp = Flicker {
            hz: Hertz::hz(hz),
            wanders: Hertz::hz(0.0),
            depth: 0.3,
            form: Swing::Mains([0.25, 0.02]),
        };
        let chain = Chain {
            gain: 0.3,
            flicker: Some(lamp),
            ..Chain::default()
        };
        let (report, truth) = measured_at(&SHORT, chain, seed);
        assert!(!has(&report, &FindingKind::GainControl), "{hz} Hz");
        // The mains are not taken to be as steady as these are.
        assert!(worst(&report, &truth) < 0.006, "{hz} Hz");
    }
}

#[test]
fn under_a_lamp_that_is_dimmed_the_coupling_is_seen_and_no_click() {
    for (seed, hz, depth, on, corner, times) in [
        (81, 319.8, 1.12, 0.16, 18.9, &LONG[..]),
        (83, 486.5, 0.106, 0.54, 0.0, &TIMES[..]),
    ] {
        let lamp = Flicker {
            hz: Hertz::hz(hz),
            wanders: Hertz::hz(0.0),
            depth,
            form: Swing::Pulses(on),
        };
        let chain = Chain {
            sample_rate: Hertz::hz(44_100.0),
            gain: 0.25,
            inverted: true,
            flicker: Some(lamp),
            coupling: (corner > 0.0).then(|| Hertz::hz(corner)),
            ..Chain::default()
        };
        let (report, truth) = measured_at(times, chain, seed);
        assert!(!has(&report, &FindingKind::Clicks), "{hz} Hz");
        assert_close(&report, &truth);
    }
}

#[test]
fn what_a_lamp_switched_as_fast_as_samples_leaves_on_the_flanks_is_stated() {
    let mut squares = Vec::new();
    for (seed, hz) in [
        (91, 14_200.43),
        (92, 14_203.7),
        (93, 9_711.3),
        (94, 7_311.7),
    ] {
        let lamp = Flicker {
            hz: Hertz::hz(hz),
            wanders: Hertz::hz(0.0),
            depth: 1.17,
            form: Swing::Pulses(0.39),
        };
        let chain = Chain {
            gain: 0.25,
            flicker: Some(lamp),
            lag: Seconds::ms(0.02),
            snr: Some(Decibels::db(62.0)),
            ..Chain::default()
        };
        let (report, truth) = measured(chain, seed);
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let off = shot.effective_s.unwrap() - truth.effective;
            squares.push((off / shot.uncertainty_s.unwrap()).powi(2));
        }
    }
    let rms = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
    assert!(
        rms < 0.6,
        "{rms} of what is stated, which is twice the standard uncertainty"
    );
}

/// Numbers spread evenly with variance 1.
fn even(state: &mut u64) -> f64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    ((*state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0) * 3.0_f64.sqrt()
}

/// Noise of this rms whose power falls with the frequency: processes of the first order, each an octave slower than
/// the one before.
fn pink(rms: f64, count: usize, seed: u64) -> Vec<f64> {
    const OCTAVES: usize = 13;
    let mut state = seed;
    let mut slow = [0.0_f64; OCTAVES];
    let part = rms / (OCTAVES as f64).sqrt();
    let next = |_| {
        let mut sum = 0.0;
        let mut keep = 0.5_f64;
        for value in &mut slow {
            *value = keep * *value + (1.0 - keep * keep).sqrt() * even(&mut state);
            sum += *value;
            keep = keep.sqrt();
        }
        part * sum
    };
    (0..count).map(next).collect()
}

/// Measured after `added`, by time and against the light, came to a recording.
fn measured_with(
    times: &[f64],
    chain: Chain,
    seed: u64,
    added: impl Fn(usize, f64) -> f64,
) -> (Report, Vec<Truth>) {
    let gain = chain.gain;
    let take = scene_of(times, chain, seed).record();
    let rate = take.sample_rate;
    let with = |(n, sample): (usize, f32)| {
        (f64::from(sample) + gain * added(n, n as f64 / rate.to_hz())) as f32
    };
    let samples = take.samples.into_iter().enumerate().map(with).collect();
    let recording = Recording::from_channels("made.wav", rate, vec![samples]).unwrap();
    let report = shutter::analyse(&[recording], &options()).unwrap();
    (report, take.truth)
}

#[test]
fn noise_of_low_frequencies_is_neither_a_lamp_nor_gain_control() {
    for seed in 71..74 {
        let chain = Chain {
            sample_rate: Hertz::hz(96_000.0),
            bits: None,
            coupling: Some(Hertz::hz(2.0)),
            snr: Some(Decibels::db(60.0)),
            ..Chain::default()
        };
        let noise = pink(0.03, 1_500_000, seed);
        let added = |n: usize, _| noise.get(n).copied().unwrap_or(0.0);
        let (report, truth) = measured_with(&TIMES, chain, seed, added);
        assert!(!has(&report, &FindingKind::GainControl), "seed {seed}");
        let lamp = |it: &FindingKind| matches!(it, FindingKind::Flicker { .. });
        assert!(!report.findings.iter().any(|it| lamp(&it.what)), "{seed}");
        assert_inside(&report, &truth);
    }
}

#[test]
fn a_dark_that_wanders_within_a_long_shot_is_no_gain_control() {
    for seed in 81..84 {
        let wave = |time: f64| 0.05 * (TAU * time / 2.2 + seed as f64).sin();
        let added = |_, time: f64| 0.1 + wave(time);
        let (report, truth) = measured_with(&[1.0, 0.9, 0.02], Chain::default(), seed, added);
        assert!(!has(&report, &FindingKind::GainControl), "seed {seed}");
        assert_inside(&report, &truth);
    }
}

#[test]
fn clicks_that_ring_are_no_lossy_coding() {
    for seed in 91..94 {
        let mut state = seed;
        let truth = scene(Chain::default(), seed).record().truth;
        let clicks: Vec<[f64; 3]> = truth
            .iter()
            .step_by(2)
            .map(|it| {
                let at = it.start.to_s() - 0.1 + 0.02 * even(&mut state);
                [at, 5_000.0 + 300.0 * even(&mut state), 2e-3]
            })
            .collect();
        let ring = |[at, hz, fades]: &[f64; 3], time: f64| {
            let since = time - at;
            let rings = 0.1 * (TAU * hz * since).sin();
            if since < 0.0 {
                0.0
            } else {
                rings * (-since / fades).exp()
            }
        };
        let added = |_, time: f64| clicks.iter().map(|it| ring(it, time)).sum::<f64>();
        let (report, truth) = measured_with(&TIMES, Chain::default(), seed, added);
        assert!(!has(&report, &FindingKind::Lossy), "seed {seed}");
        assert_eq!(report.shots.len(), truth.len());
    }
}

/// A WAV file of integers, the end of whose range is known.
fn wave_of_24_bits(samples: impl ExactSizeIterator<Item = f32>, rate: Hertz) -> Vec<u8> {
    const BYTES: u32 = 3;
    let (rate, data) = (rate.to_hz() as u32, BYTES * samples.len() as u32);
    let mut bytes = Vec::new();
    bytes.extend(b"RIFF");
    bytes.extend((36 + data).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16_u32.to_le_bytes());
    bytes.extend([1, 0, 1, 0]);
    bytes.extend(rate.to_le_bytes());
    bytes.extend((BYTES * rate).to_le_bytes());
    bytes.extend([BYTES as u8, 0, 8 * BYTES as u8, 0]);
    bytes.extend(b"data");
    bytes.extend(data.to_le_bytes());
    for sample in samples {
        let value = (f64::from(sample) * f64::from(1 << 23)).round() as i32;
        bytes.extend(&value.to_le_bytes()[..BYTES as usize]);
    }
    bytes
}

#[test]
fn what_was_clipped_and_turned_down_is_no_gain_control() {
    for (seed, hz) in [(101, 3.0), (102, 6.0), (103, 9.0)] {
        let chain = Chain {
            gain: 1.33,
            coupling: Some(Hertz::hz(hz)),
            snr: Some(Decibels::db(66.0)),
            ..Chain::default()
        };
        let take = scene(chain, seed).record();
        let turned_down = take.samples.iter().map(|it| 0.4 * it);
        let bytes = wave_of_24_bits(turned_down, take.sample_rate);
        let recording = recording::read("made.wav", Cursor::new(bytes)).unwrap();
        let report = shutter::analyse(&[recording], &options()).unwrap();
        assert!(has(&report, &FindingKind::Clipped), "seed {seed}");
        assert!(!has(&report, &FindingKind::GainControl), "seed {seed}");
        assert_inside(&report, &take.truth);
    }
}
