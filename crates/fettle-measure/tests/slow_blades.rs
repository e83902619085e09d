//! Blades so slow that a coupling lets go of much of the light before they are open.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod firings;

use fettle_measure::shutter::{self, FindingKind, Options, Report};
use fettle_measure::synth::{Chain, LeafShutter, Scene, Truth};
use fettle_measure::{Decibels, Hertz, Seconds};
use firings::firings;

const TIMES: [f64; 4] = [0.25, 1.0 / 30.0, 0.008, 0.002];

fn blades(run_up: f64) -> LeafShutter {
    LeafShutter {
        opening: Seconds::ms(4.4),
        closing: Seconds::ms(4.84),
        run_up,
        ..LeafShutter::default()
    }
}

fn chain(corners: &[f64], snr: f64) -> Chain {
    let corner = |n: usize| corners.get(n).copied().map(Hertz::hz);
    Chain {
        coupling: corner(0),
        second_pole: corner(1),
        bits: Some(24),
        snr: Some(Decibels::db(snr)),
        ..Chain::default()
    }
}

fn measured(shutter: LeafShutter, chain: Chain, times: &[f64], seed: u64) -> (Report, Vec<Truth>) {
    let (firings, lasting) = firings(times, 1.3);
    let scene = Scene {
        shutter,
        firings,
        chain,
        lasting,
        seed,
    };
    let take = scene.record();
    let truth = take.truth.clone();
    let options = Options {
        clock_ppm: Some(0.0),
        ..Options::default()
    };
    let recording = take.into_recording("made.wav").unwrap();
    (shutter::analyse(&[recording], &options).unwrap(), truth)
}

/// Each shot's error and stated uncertainty, k = 2, in microseconds.
fn errors(report: &Report, truth: &[Truth]) -> Vec<(f64, f64)> {
    assert_eq!(report.shots.len(), truth.len());
    let shots = report.shots.iter().zip(truth);
    shots
        .map(|(shot, truth)| {
            let error = shot.effective_s.unwrap() - truth.effective;
            (1e6 * error.to_s(), 1e6 * shot.uncertainty_s.unwrap().to_s())
        })
        .collect()
}

/// Every error lies within what is stated, which is less than `most` microseconds.
#[track_caller]
fn assert_told(report: &Report, truth: &[Truth], most: f64) {
    for (error, stated) in errors(report, truth) {
        assert!(error.abs() <= stated && stated < most, "{error} {stated}");
    }
}

#[test]
fn times_scatter_as_is_stated_where_the_coupling_forgets_fast() {
    for corners in [[20.0, 5.0].as_slice(), &[20.0]] {
        let parts: Vec<f64> = (0..24)
            .flat_map(|seed| {
                let chain = chain(corners, 45.0);
                let (report, truth) = measured(blades(0.4), chain, &TIMES[..3], seed);
                errors(&report, &truth)
            })
            .map(|(error, stated)| 2.0 * error / stated)
            .collect();
        let square = parts.iter().map(|it| it * it).sum::<f64>() / parts.len() as f64;
        assert!((0.7..1.35).contains(&square), "{corners:?}: {square}");
    }
}

#[test]
fn blades_that_come_to_rest_leave_no_tail_and_lose_no_light() {
    for (run_up, snr) in [(0.8, 65.0), (1.0, 55.0), (1.0, 65.0)] {
        let (report, truth) = measured(blades(run_up), chain(&[], snr), &TIMES, 1002);
        let is_tail = |what: &FindingKind| matches!(what, FindingKind::Tail { .. });
        assert!(!report.findings.iter().any(|it| is_tail(&it.what)));
        assert_told(&report, &truth, 3.0);
    }
}

#[test]
fn blades_that_gather_speed_unevenly_are_not_taken_for_a_sensors_fault() {
    for power in [1.2, 1.5, 1.8] {
        let shutter = LeafShutter {
            opening: Seconds::ms(1.4),
            closing: Seconds::ms(1.7),
            power,
            ..blades(0.0)
        };
        let (report, truth) = measured(shutter, chain(&[], 60.0), &TIMES, 1110);
        let is_sensors =
            |what: &FindingKind| matches!(what, FindingKind::Tail { .. } | FindingKind::Overdriven);
        assert!(!report.findings.iter().any(|it| is_sensors(&it.what)));
        assert_told(&report, &truth, 30.0);
    }
}

#[test]
fn a_closing_that_the_first_look_cuts_in_two_is_found_whole() {
    let (report, truth) = measured(blades(0.0), chain(&[15.0], 45.0), &TIMES, 1069);
    assert_told(&report, &truth, 80.0);
}

#[test]
fn blades_that_turn_back_do_not_show_the_fully_open_level() {
    let (report, truth) = measured(blades(0.8), chain(&[15.0], 45.0), &TIMES, 1096);
    assert_told(&report, &truth, 10.0);
}

#[test]
fn a_sensor_that_hardly_bends_is_straight() {
    let (report, truth) = measured(blades(0.8), chain(&[15.0], 65.0), &TIMES, 1071);
    assert_told(&report, &truth, 1.0);
}
