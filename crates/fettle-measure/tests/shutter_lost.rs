//! Pieces of a recording that went missing are found, and the shots they touch stay untold.
#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by ending"
)]

use fettle_measure::shutter::{
    FindingKind, Flag, LostAs, LostStretch, Options, Report, Shot, analyse,
};
use fettle_measure::synth::{Chain, Firing, Hum, LeafShutter, Scene, Take};
use fettle_measure::{Decibels, Hertz, Marked, Recording, Seconds};

const RATE: f64 = 48_000.0;
/// What a browser hands over at once, and some of its buffers.
const LENGTHS: [usize; 5] = [128, 256, 441, 480, 1920];

fn dial() -> Vec<Marked> {
    ["1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/250"]
        .iter()
        .map(|mark| mark.parse().unwrap())
        .collect()
}

fn chains() -> Vec<Chain> {
    let hum = Hum {
        hz: Hertz::hz(50.0),
        wanders: Hertz::hz(0.0),
        amplitudes: vec![0.01, 0.003, 0.005],
    };
    let coupled = |hz: f64, snr: f64| Chain {
        coupling: Some(Hertz::hz(hz)),
        snr: Some(Decibels::db(snr)),
        ..Chain::default()
    };
    vec![
        coupled(2.0, 60.0),
        coupled(8.0, 50.0),
        Chain {
            second_pole: Some(Hertz::hz(1.0)),
            ..coupled(4.0, 54.0)
        },
        Chain {
            hum: Some(hum),
            inverted: true,
            ..coupled(4.0, 46.0)
        },
    ]
}

/// A number from 0 to below `most`, the next of a fixed sequence.
fn next(state: &mut u64, most: usize) -> usize {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    ((*state >> 33) as usize) % most.max(1)
}

/// Every mark once, after a pause.
fn session(chain: Chain, seed: u64) -> Take {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for mark in dial() {
        let time = mark.nominal(fettle_measure::Series::Marked).to_s() * 1.07;
        firings.push(Firing::new(Seconds::s(at), Seconds::s(time)));
        at += time + 1.0;
    }
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting: Seconds::s(at + 1.0),
        seed,
    }
    .record()
}

fn measured(samples: Vec<f32>, lost: Vec<LostStretch>) -> Report {
    let recording = Recording::from_channels("made", Hertz::hz(RATE), vec![samples]).unwrap();
    let options = Options {
        speeds: dial(),
        lost,
        ..Options::default()
    };
    analyse(&[recording], &options).unwrap()
}

fn lost_of(report: &Report) -> Vec<(f64, LostAs)> {
    let at = |what: &FindingKind| match what {
        FindingKind::LostSamples { at_s, lost_as, .. } => Some((at_s.to_s(), *lost_as)),
        _ => None,
    };
    report
        .findings
        .iter()
        .filter_map(|it| at(&it.what))
        .collect()
}

/// The shot nearest to a moment, if one starts within 20 ms of it.
fn shot_at(report: &Report, start: f64) -> Option<&Shot> {
    let apart = |shot: &&Shot| (shot.start_s.to_s() - start).abs();
    let near = report.shots.iter().filter(|shot| apart(shot) < 0.02);
    near.min_by(|a, b| apart(a).total_cmp(&apart(b)))
}

/// Where and how long a piece is missing in one shot of a session, 20 times over.
fn pieces(take: &Take, seed: u64) -> Vec<(usize, usize, usize)> {
    let mut state = seed;
    let piece = |_| {
        let place = next(&mut state, take.truth.len());
        let truth = take.truth.get(place).unwrap();
        let lasts = (truth.total.to_s() * RATE) as usize;
        let from = (truth.start.to_s() * RATE) as usize + next(&mut state, lasts);
        (place, from, LENGTHS[next(&mut state, LENGTHS.len())])
    };
    (0..20).map(piece).collect()
}

#[test]
fn nothing_is_missing_in_whole_recordings() {
    for (seed, chain) in (70..).zip(chains()) {
        let take = session(chain, seed);
        let report = measured(take.samples, Vec::new());
        assert_eq!(lost_of(&report), []);
        assert!(report.shots.iter().all(|shot| shot.effective_s.is_some()));
    }
}

#[test]
fn where_clipped_light_comes_back_into_the_range_nothing_is_missing() {
    for (seed, hz) in [(11, 3.0), (12, 4.3), (13, 6.0)] {
        let chain = Chain {
            gain: 1.11,
            coupling: Some(Hertz::hz(hz)),
            snr: Some(Decibels::db(66.0)),
            ..Chain::default()
        };
        let take = session(chain, seed);
        let report = measured(take.samples, Vec::new());
        assert_eq!(lost_of(&report), [], "seed {seed}");
        assert_eq!(report.shots.len(), take.truth.len());
        assert!(report.shots.iter().all(|it| it.effective_s.is_some()));
    }
}

#[test]
fn a_click_as_loud_as_the_light_that_rings_misses_no_samples() {
    for seed in 21..24 {
        let take = session(chains()[1].clone(), seed);
        let mut samples = take.samples;
        let mut state = seed;
        for it in take.truth.iter().skip(1).step_by(4) {
            let phase = 1.0 + next(&mut state, 100) as f64 / 100.0;
            let hz = 800.0 + next(&mut state, 1000) as f64;
            let at = ((it.start.to_s() - 0.25) * RATE) as usize;
            let ring = (0_u32..960).map(|n| {
                let since = f64::from(n) / RATE;
                let wave = (std::f64::consts::TAU * hz * since + phase).sin();
                (0.6 * wave * (-since / 2e-3).exp()) as f32
            });
            for (sample, ring) in samples.iter_mut().skip(at).zip(ring) {
                *sample += ring;
            }
        }
        let report = measured(samples, Vec::new());
        assert_eq!(lost_of(&report), [], "seed {seed}");
    }
}

#[test]
fn zeros_and_repeats_within_a_shot_are_found() {
    for (seed, chain) in (80..).zip(chains()) {
        let take = session(chain, seed);
        for (n, (place, from, length)) in pieces(&take, seed).into_iter().enumerate() {
            let truth = &take.truth[place];
            let mut samples = take.samples.clone();
            let lost_as = if n % 2 == 0 {
                samples[from..from + length].fill(0.0);
                LostAs::Zeros
            } else {
                samples.copy_within(from - length..from, from);
                LostAs::Repeated
            };
            let report = measured(samples, Vec::new());
            // A short shot may have gone with the piece.
            let Some(shot) = shot_at(&report, truth.start.to_s()) else {
                assert!(
                    truth.total.to_s() * RATE < length as f64,
                    "{place} {from} {length}"
                );
                continue;
            };
            assert_eq!(
                shot.effective_s, None,
                "{place} {from} {length} {lost_as:?}"
            );
            // With its whole closing gone, the shot seems to end beyond the recording.
            if shot.flags.contains(&Flag::CutOff) {
                continue;
            }
            assert!(shot.flags.contains(&Flag::LostSamples), "{:?}", shot.flags);
            let at = from as f64 / RATE;
            let found = lost_of(&report);
            let is_it = |it: &(f64, LostAs)| (it.0 - at).abs() < 1e-3 && it.1 == lost_as;
            assert!(found.iter().any(is_it), "{found:?} for {lost_as:?} at {at}");
        }
    }
}

#[test]
fn a_cut_is_found_where_the_signal_was_on_its_way() {
    let (mut seen, mut found) = (0, 0);
    for (seed, chain) in (90..).zip(chains()) {
        let take = session(chain.clone(), seed);
        for (place, from, length) in pieces(&take, seed) {
            let truth = &take.truth[place];
            let mean = |at: usize| take.samples[at..at + 16].iter().sum::<f32>() / 16.0;
            let way = (mean(from - 16) - mean(from + length)).abs();
            let mut samples = take.samples.clone();
            samples.drain(from..from + length);
            let report = measured(samples, Vec::new());
            let Some(shot) = shot_at(&report, truth.start.to_s()) else {
                continue;
            };
            let off = shot
                .effective_s
                .and_then(|time| time.error_against(truth.effective))
                .map_or(0.0, |error| error.to_stops().abs());
            if f64::from(way) > 0.04 * chain.gain && off > 0.02 || shot.effective_s.is_none() {
                seen += 1;
                found += usize::from(shot.effective_s.is_none());
            }
        }
    }
    assert!(seen > 30 && found * 100 >= seen * 88, "{found} of {seen}");
}

#[test]
fn a_stretch_that_was_told_spoils_the_shot_it_touches_and_no_other() {
    let take = session(chains()[0].clone(), 3);
    let at = take.truth[2].start.to_s() + 0.1;
    let stretch = |recording: Option<&str>| LostStretch {
        recording: recording.map(str::to_owned),
        from_s: Seconds::s(at),
        to_s: Seconds::s(at + 0.01),
    };
    let report = measured(take.samples.clone(), vec![stretch(Some("made"))]);
    for (n, shot) in report.shots.iter().enumerate() {
        assert_eq!(shot.effective_s.is_none(), n == 2, "shot {n}");
    }
    let elsewhere = measured(take.samples, vec![stretch(Some("other"))]);
    assert_eq!(lost_of(&elsewhere), []);
}
