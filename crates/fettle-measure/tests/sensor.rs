//! Sensors that bend, lag or fall late, and what the flanks tell of them.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod firings;

use fettle_measure::shutter::{self, FindingKind, Options, Report};
use fettle_measure::synth::{Chain, LeafShutter, Leaves, Overdrive, Scene, Tail, Truth};
use fettle_measure::{Hertz, Seconds};
use firings::firings;

const TIMES: [f64; 8] = [0.25, 0.12, 0.07, 0.035, 0.017, 0.008, 0.004, 0.0022];
const FULLY_OPEN_F: f64 = 3.5;

fn measured(shutter: LeafShutter, chain: Chain, times: &[f64], seed: u64) -> (Report, Vec<Truth>) {
    let (firings, lasting) = firings(times, 1.2);
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
        speeds: [
            "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500",
        ]
        .map(|mark| mark.parse().unwrap())
        .to_vec(),
        fully_open_f: Some(FULLY_OPEN_F),
        stops_f: vec![5.6, 8.0, 16.0],
        ..Options::default()
    };
    let recording = take.into_recording("made.wav").unwrap();
    (shutter::analyse(&[recording], &options).unwrap(), truth)
}

fn is_overdriven(report: &Report) -> bool {
    report
        .findings
        .iter()
        .any(|finding| finding.what == FindingKind::Overdriven)
}

fn is_tailed(report: &Report) -> bool {
    let is_tail = |kind: &FindingKind| matches!(kind, FindingKind::Tail { .. });
    report.findings.iter().any(|it| is_tail(&it.what))
}

/// Every effective time's truth lies within its interval, which is no wider than `most`.
#[track_caller]
fn assert_told(report: &Report, truth: &[Truth], most: Seconds) {
    assert_eq!(report.shots.len(), truth.len());
    for (shot, truth) in report.shots.iter().zip(truth) {
        let off = (shot.effective_s.unwrap() - truth.effective).abs();
        let stated = shot.uncertainty_s.unwrap();
        assert!(
            off <= stated && stated <= most,
            "{:?} off by {off:?}, stated {stated:?}, at most {most:?}",
            truth.effective
        );
    }
}

/// Claims that total times lie within what is stated.
fn assert_total_told(report: &Report, truth: &[Truth]) {
    assert_eq!(report.shots.len(), truth.len());
    for (shot, truth) in report.shots.iter().zip(truth) {
        let off = (shot.total_s.unwrap() - truth.total).abs();
        let stated = shot.total_uncertainty_s.unwrap();
        assert!(
            off <= stated,
            "{:?} off by {off:?}, stated {stated:?}",
            truth.effective
        );
    }
}

#[test]
fn a_sensor_whose_output_bends_is_found_and_what_it_adds_is_taken_off_or_stated() {
    // Irregular blades before a straight sensor make flanks like those of a slight bend.
    for (seed, blades, overdrive, found) in [
        (1, 5, Overdrive::Compressed(1.5), true),
        (2, 3, Overdrive::Rounded(2.0), true),
        (3, 10, Overdrive::Compressed(0.7), false),
    ] {
        let shutter = LeafShutter {
            blades,
            ..LeafShutter::default()
        };
        let chain = Chain {
            overdrive: Some(overdrive),
            coupling: Some(Hertz::hz(3.0)),
            ..Chain::default()
        };
        let (report, truth) = measured(shutter, chain, &TIMES, seed);
        assert_eq!(is_overdriven(&report), found, "{overdrive:?}");
        assert_told(&report, &truth, Seconds::ms(if found { 0.12 } else { 0.3 }));
        assert!(
            report
                .shots
                .iter()
                .all(|it| it.budget.overdrive_s.to_s() > 0.0)
        );
    }
}

#[test]
fn the_interval_reaches_what_a_rail_adds() {
    for (seed, at) in [(11, 0.6), (12, 0.35)] {
        let chain = Chain {
            overdrive: Some(Overdrive::Saturated(at)),
            ..Chain::default()
        };
        let (report, truth) = measured(LeafShutter::default(), chain, &TIMES, seed);
        assert_told(&report, &truth, Seconds::ms(2.4));
    }
}

#[test]
fn a_rail_that_looks_like_more_blades_is_told_or_left_open() {
    for (seed, blades, at) in [(13, 3, 0.54), (14, 10, 0.29), (15, 5, 0.6)] {
        let shutter = LeafShutter {
            blades,
            opening: Seconds::ms(1.2),
            closing: Seconds::ms(1.5),
            run_up: 0.4,
            ..LeafShutter::default()
        };
        let chain = Chain {
            overdrive: Some(Overdrive::Saturated(at)),
            lag: Seconds::ms(0.03),
            sample_rate: Hertz::hz(96_000.0),
            ..Chain::default()
        };
        let (report, truth) = measured(shutter, chain, &TIMES, seed);
        assert_told(&report, &truth, Seconds::ms(1.5));
        assert_total_told(&report, &truth);
    }
}

/// Rails on both sides of the corner in the flank of few blades, which ten blades explain by themselves.
#[test]
fn a_rail_before_few_blades_is_not_taken_for_ten() {
    for (seed, blades, at, [opening, closing], run_up, lag) in [
        (16, 3, 0.527, [1.225, 0.811], 0.506, 0.015),
        (17, 3, 0.467, [1.191, 1.304], 0.584, 0.021),
        (18, 3, 0.379, [1.222, 0.816], 0.640, 0.016),
        (19, 5, 0.306, [1.533, 1.124], 0.685, 0.017),
    ] {
        let shutter = LeafShutter {
            blades,
            opening: Seconds::ms(opening),
            closing: Seconds::ms(closing),
            run_up,
            ..LeafShutter::default()
        };
        let chain = Chain {
            overdrive: Some(Overdrive::Saturated(at)),
            lag: Seconds::ms(lag),
            ..Chain::default()
        };
        let (report, truth) = measured(shutter, chain, &TIMES, seed);
        assert_told(&report, &truth, Seconds::ms(2.0));
    }
}

#[test]
fn a_straight_sensor_is_not_called_overdriven_whatever_the_blades_and_the_lag() {
    for (seed, blades, run_up, lag) in [
        (21, 3, 0.0, 0.0),
        (22, 5, 0.8, 0.02),
        (23, 5, 0.4, 0.3),
        (24, 10, 0.2, 0.0),
        (25, 3, 0.6, 0.15),
    ] {
        let shutter = LeafShutter {
            blades,
            run_up,
            ..LeafShutter::default()
        };
        let chain = Chain {
            lag: Seconds::ms(lag),
            ..Chain::default()
        };
        let (report, truth) = measured(shutter, chain, &TIMES, seed);
        assert!(!is_overdriven(&report), "{blades} blades, {lag} ms");
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let error = shot.effective_s.unwrap().error_against(truth.effective);
            assert!(error.unwrap().to_stops().abs() < 0.004, "{error:?}");
            assert!(shot.budget.overdrive_s.to_s() == 0.0);
        }
    }
}

#[test]
fn a_lag_moves_neither_the_total_time_nor_the_times_at_small_stops() {
    for (seed, lag) in [(31, 0.05), (32, 0.15), (33, 0.4)] {
        let chain = Chain {
            lag: Seconds::ms(lag),
            coupling: Some(Hertz::hz(3.0)),
            ..Chain::default()
        };
        let (report, truth) = measured(LeafShutter::default(), chain, &TIMES, seed);
        assert_total_told(&report, &truth);
        for shot in &report.shots {
            let stated = shot.total_uncertainty_s.unwrap();
            assert!(stated.to_ms() < 0.1, "{lag} ms: {stated:?}");
        }
        assert_eq!(report.apertures.len(), 3 * TIMES.len());
        for aperture in &report.apertures {
            let of = |(shot, truth): (&shutter::Shot, &Truth)| {
                (shot.marked == Some(aperture.marked))
                    .then(|| truth.effective_at(FULLY_OPEN_F, aperture.f))
            };
            let truth = report.shots.iter().zip(&truth).find_map(of).unwrap();
            let error = aperture.effective_s.error_against(truth).unwrap();
            assert!(error.to_stops().abs() < 0.025, "{lag} ms: {error:?}");
        }
    }
}

/// A chain whose sensor falls late: after `delay` with the time constant `closing`, both in milliseconds.
fn late(delay: f64, closing: f64, follows: bool, share: f64) -> Chain {
    Chain {
        tail: Some(Tail {
            delay: Seconds::ms(delay),
            closing: Seconds::ms(closing),
            share,
            follows,
        }),
        ..Chain::default()
    }
}

#[test]
fn a_tail_s_own_form_tells_what_it_adds() {
    // What an output that is only held up adds depends on how the blades close behind it, which it may hide.
    for (seed, delay, closing, follows, most) in [
        (41, 0.0, 0.4, true, 0.05),
        (42, 0.2, 0.8, true, 0.1),
        (43, 0.05, 0.4, false, 0.4),
        (44, 0.2, 0.3, false, 0.4),
        (45, 0.0, 1.4, false, 0.7),
    ] {
        let chain = late(delay, closing, follows, 1.0);
        let (report, truth) = measured(LeafShutter::default(), chain, &TIMES, seed);
        assert!(!is_overdriven(&report));
        assert_told(&report, &truth, Seconds::ms(most));
    }
}

#[test]
fn a_tail_of_a_part_of_the_output_is_told_as_well() {
    for (seed, delay, closing, follows, share) in [
        (46, 0.0, 1.2, true, 0.1),
        (47, 0.2, 0.5, true, 0.4),
        (48, 0.05, 0.9, false, 0.3),
        (52, 0.05, 0.3, true, 0.07),
    ] {
        let chain = late(delay, closing, follows, share);
        let (report, truth) = measured(LeafShutter::default(), chain, &TIMES, seed);
        assert!(is_tailed(&report));
        assert_told(&report, &truth, Seconds::ms(0.12));
    }
}

#[test]
fn a_short_tail_that_uneven_blades_make_as_well_is_stated() {
    let chain = late(0.05, 0.15, true, 0.41);
    let (report, truth) = measured(LeafShutter::default(), chain, &TIMES, 53);
    assert_told(&report, &truth, Seconds::ms(0.07));
}

/// A leaf shutter lets a flash through at its top speed: it stands fully open for the half millisecond
/// that a portable flash lasts, and no longer than it must. How long the blades move follows from that and
/// the top speed's own time, and with it the efficiency of every speed.
#[test]
fn the_table_of_apertures_gives_the_published_corrections_of_a_typical_leaf_shutter() {
    let (top, flash) = (1.0 / 500.0, 0.5e-3);
    let blades = LeafShutter::default();
    let places = 4000;
    let mean = (0..places)
        .map(|i| blades.open_area((f64::from(i) + 0.5) / f64::from(places)))
        .sum::<f64>()
        / f64::from(places);
    let flank = Seconds::s(0.5 * (top - flash) / mean);
    let shutter = LeafShutter {
        opening: flank,
        closing: flank,
        ..blades
    };
    let times = [1.0 / 30.0, 1.0 / 125.0, 1.0 / 250.0, 1.0 / 500.0];
    let (report, _) = measured(shutter, Chain::default(), &times, 51);
    for (mark, want) in [("1/125", 1.0 / 3.0), ("1/250", 2.0 / 3.0), ("1/500", 1.0)] {
        let row = report
            .apertures
            .iter()
            .find(|it| it.marked == mark.parse().unwrap() && (it.f - 16.0).abs() < 1e-9);
        let more = row.unwrap().over_full_open_stops.to_stops();
        assert!((more - want).abs() < 0.15, "{mark}: {more} for {want}");
    }
}

/// Blades of these edges.
fn edged(leaves: Leaves) -> LeafShutter {
    LeafShutter {
        leaves,
        opening: Seconds::ms(1.4),
        closing: Seconds::ms(1.7),
        ..LeafShutter::default()
    }
}

#[test]
fn blades_of_other_edges_are_no_sensors_doing() {
    for leaves in [Leaves::Even, Leaves::Smooth] {
        for (seed, coupling) in [(1, None), (2, Some(3.0)), (3, Some(9.0))] {
            let chain = Chain {
                coupling: coupling.map(Hertz::hz),
                ..Chain::default()
            };
            let (report, truth) = measured(edged(leaves), chain, &TIMES, seed);
            assert!(!is_overdriven(&report), "{leaves:?} {coupling:?}");
            assert!(!is_tailed(&report), "{leaves:?} {coupling:?}");
            // Of so many shots a few are beyond k = 2.
            for (shot, truth) in report.shots.iter().zip(&truth) {
                let off = (shot.effective_s.unwrap() - truth.effective).abs();
                let stated = shot.uncertainty_s.unwrap();
                assert!(
                    off <= stated * 1.6 && off < Seconds::ms(0.01) && stated < Seconds::ms(0.4),
                    "{leaves:?} {coupling:?}: {off:?}, stated {stated:?}"
                );
            }
        }
    }
}

#[test]
fn a_round_hole_before_a_rail_or_none_is_left_open() {
    for overdrive in [None, Some(Overdrive::Saturated(0.62))] {
        let chain = Chain {
            overdrive,
            ..Chain::default()
        };
        let (report, truth) = measured(edged(Leaves::Round), chain, &TIMES, 1);
        assert!(!is_overdriven(&report), "{overdrive:?}");
        assert_told(&report, &truth, Seconds::ms(4.0));
        if overdrive.is_none() {
            for (shot, truth) in report.shots.iter().zip(&truth) {
                let off = shot.effective_s.unwrap() - truth.effective;
                assert!(off.abs() < Seconds::ms(0.02), "{off:?}");
            }
        }
    }
}
