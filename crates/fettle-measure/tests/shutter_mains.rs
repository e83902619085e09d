//! Mains that wander in frequency, behind hum and behind a lamp.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod firings;

use fettle_measure::shutter::{self, FindingKind, Options, Report};
use fettle_measure::synth::{Chain, Flicker, Hum, LeafShutter, Scene, Swing, Take, Truth};
use fettle_measure::{Decibels, Hertz};
use firings::firings;

const TIMES: [f64; 10] = [
    1.07, 0.54, 0.27, 0.13, 0.07, 0.035, 0.018, 0.0085, 0.0043, 0.0021,
];

fn coupled() -> Chain {
    Chain {
        coupling: Some(Hertz::hz(3.0)),
        snr: Some(Decibels::db(46.0)),
        ..Chain::default()
    }
}

/// A chain that picks up hum of mains that wander so far.
fn humming(wanders: f64) -> Chain {
    Chain {
        hum: Some(Hum {
            hz: Hertz::hz(50.01),
            wanders: Hertz::hz(wanders),
            amplitudes: vec![0.02, 0.008, 0.006],
        }),
        offset: 0.02,
        drift: 0.01,
        ..coupled()
    }
}

/// Under a lamp on such mains.
fn lit(wanders: f64) -> Chain {
    Chain {
        flicker: Some(Flicker {
            hz: Hertz::hz(100.03),
            wanders: Hertz::hz(2.0 * wanders),
            depth: 0.15,
            form: Swing::Mains([0.2, 0.05]),
        }),
        ..coupled()
    }
}

fn take(times: &[f64], chain: Chain) -> Take {
    let (firings, lasting) = firings(times, 1.5);
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting,
        seed: 5,
    }
    .record()
}

fn measured(take: Take) -> (Report, Vec<Truth>) {
    let truth = take.truth.clone();
    let recording = take.into_recording("made.wav").unwrap();
    let options = Options {
        clock_ppm: Some(0.0),
        ..Options::default()
    };
    (shutter::analyse(&[recording], &options).unwrap(), truth)
}

/// Expanded uncertainties of the effective times, in seconds, after none was found wrong by more.
fn uncertainties(take: Take) -> Vec<f64> {
    let (report, truth) = measured(take);
    assert_eq!(report.shots.len(), truth.len());
    let shots = report.shots.iter().zip(&truth);
    shots
        .map(|(shot, truth)| {
            let (time, u) = (shot.effective_s.unwrap(), shot.uncertainty_s.unwrap());
            let error = (time - truth.effective).to_s();
            assert!(error.abs() < 1.5 * u.to_s(), "{shot:?}: off by {error}");
            u.to_s()
        })
        .collect()
}

#[test]
fn hum_of_mains_that_wander_or_jump_is_followed_from_shot_to_shot() {
    let still = uncertainties(take(&TIMES, humming(0.0)));
    let wandering = uncertainties(take(&TIMES, humming(0.03)));
    for (wandering, still) in wandering.iter().zip(&still) {
        assert!(*wandering < 1.2 * still, "{wandering} {still}");
    }
    // Played over, the phase jumps between two shots, and by that the dark alone tells another frequency.
    let mut twice = take(&TIMES[3..], humming(0.0));
    twice.truth.extend_from_within(..);
    twice.samples.extend_from_within(..);
    let over = uncertainties(twice);
    for (over, still) in over.iter().zip(still[3..].iter().cycle()) {
        assert!(*over < 1.2 * still, "{over} {still}");
    }
}

#[test]
fn a_lamp_on_mains_that_wander_is_divided_out_of_every_shot() {
    let lamp = |it: &FindingKind| matches!(it, FindingKind::Flicker { .. });
    for wanders in [0.0, 0.02, 0.05] {
        let (report, truth) = measured(take(&TIMES, lit(wanders)));
        assert!(report.findings.iter().any(|it| lamp(&it.what)));
        assert_eq!(report.shots.len(), truth.len());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let (time, u) = (shot.effective_s.unwrap(), shot.uncertainty_s.unwrap());
            let off = time.error_against(truth.effective).unwrap().to_stops();
            let far = (time - truth.effective).abs().to_s();
            assert!(far < 1.5 * u.to_s(), "{wanders} Hz: {shot:?} off by {off}");
            // By its phase alone the lamp would move the short ones by a fifth of a stop.
            assert!(off.abs() < 0.02, "{wanders} Hz: {off} stops");
            assert!(u < truth.effective * 0.02, "{wanders} Hz: {shot:?}");
        }
    }
}
