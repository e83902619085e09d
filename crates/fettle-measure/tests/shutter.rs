//! Sessions of invented recordings, measured and held against the generator's truth.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that cannot go on has failed"
)]

use fettle_measure::shutter::{
    self, FindingKind, Flag, Limits, Options, Report, Shot, ShutterError,
};
use fettle_measure::synth::{
    Bounce, Chain, Firing, Flicker, HandScene, Hum, LeafShutter, Scene, Swing, Take, Truth,
    Uncovering,
};
use fettle_measure::{Decibels, Hertz, Marked, Recording, Seconds, Stops, Verdict};
use proptest::prelude::*;
use std::f64::consts::TAU;

const DIAL: [&str; 10] = [
    "1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500",
];

/// A chain with everything a sound card does to a recording.
fn rough_chain() -> Chain {
    Chain {
        coupling: Some(Hertz::hz(3.0)),
        snr: Some(Decibels::db(46.0)),
        hum: Some(Hum {
            hz: Hertz::hz(50.01),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![0.02, 0.008, 0.006],
        }),
        offset: 0.02,
        drift: 0.01,
        ..Chain::default()
    }
}

fn mark(text: &str) -> Marked {
    text.parse().unwrap()
}

fn dial() -> Vec<Marked> {
    DIAL.iter().map(|text| mark(text)).collect()
}

fn options() -> Options {
    Options {
        speeds: dial(),
        clock_ppm: Some(0.0),
        ..Options::default()
    }
}

/// Fires each mark in turn, `error` stops long, 1.5 s apart.
fn scene(marks: &[&str], error: f64, chain: Chain) -> Scene {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for text in marks {
        let effective = mark(text).nominal(fettle_measure::Series::Marked).to_s() * error.exp2();
        firings.push(Firing::new(Seconds::s(at), Seconds::s(effective)));
        at += effective + 1.5;
    }
    let lasting = Seconds::s(at);
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting,
        seed: 5,
    }
}

fn measure(take: Take, options: &Options) -> (Report, Vec<Truth>) {
    let truth = take.truth.clone();
    let recording = take.into_recording("made.wav").unwrap();
    (shutter::analyse(&[recording], options).unwrap(), truth)
}

fn measured(scene: &Scene, options: &Options) -> (Report, Vec<Truth>) {
    measure(scene.record(), options)
}

#[track_caller]
fn assert_close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "{got} is not within {tolerance} of {want}"
    );
}

/// Claims that the effective time lies within what is stated of it; how far off it is.
#[track_caller]
fn assert_inside(shot: &Shot, truth: &Truth) -> Seconds {
    let off = (shot.effective_s.unwrap() - truth.effective).abs();
    assert!(
        off <= shot.uncertainty_s.unwrap(),
        "{off:?} {:?}",
        shot.budget
    );
    off
}

#[track_caller]
fn assert_right(shot: &Shot, truth: &Truth, stops: f64) {
    let effective = shot.effective_s.expect("the time can be told");
    let error = effective.error_against(truth.effective).unwrap().to_stops();
    assert!(
        error.abs() <= stops,
        "{:?}: {error} stops, {:?}",
        truth.effective,
        shot.flags
    );
}

fn has(report: &Report, wanted: impl Fn(&FindingKind) -> bool) -> bool {
    report.findings.iter().any(|finding| wanted(&finding.what))
}

#[test]
fn a_whole_dial_through_a_sound_card_is_within_a_hundredth_of_a_stop() {
    let (report, truth) = measured(&scene(&DIAL, 0.2, rough_chain()), &options());
    assert_eq!(report.shots.len(), truth.len());
    for (shot, truth) in report.shots.iter().zip(&truth) {
        assert_right(shot, truth, 0.01);
        assert_close(shot.total_s.unwrap().to_ms(), truth.total.to_ms(), 0.2);
        assert_close(shot.start_s.to_ms(), truth.start.to_ms(), 0.2);
    }
    let marks: Vec<Marked> = report.speeds.iter().map(|speed| speed.marked).collect();
    assert_eq!(marks, dial());
    for speed in &report.speeds {
        assert_close(speed.error_stops.to_stops(), 0.2, 0.01);
        assert_eq!(speed.verdict, Some(Verdict::In), "{:?}", speed.marked);
    }
    let corner = report
        .findings
        .iter()
        .find_map(|finding| match finding.what {
            FindingKind::AcCoupled {
                corner_hz,
                poles: 1,
            } => Some(corner_hz.to_hz()),
            _ => None,
        });
    assert_close(corner.unwrap(), 3.0, 0.02);
    assert!(has(
        &report,
        |what| matches!(what, FindingKind::Hum { hz, .. } if (hz.to_hz() - 50.01).abs() < 0.02)
    ));
    assert!(has(&report, |what| matches!(
        what,
        FindingKind::Offset { .. }
    )));
    assert!(!has(&report, |what| matches!(what, FindingKind::Inverted)));
}

#[test]
fn every_corner_and_rate_gives_the_same_times() {
    for (corner, rate) in [
        (None, 44_100.0),
        (Some(0.5), 48_000.0),
        (Some(20.0), 96_000.0),
    ] {
        let chain = Chain {
            coupling: corner.map(Hertz::hz),
            sample_rate: Hertz::hz(rate),
            ..rough_chain()
        };
        let marks = ["1", "1/8", "1/60", "1/250", "1/500"];
        let (report, truth) = measured(&scene(&marks, -0.1, chain), &options());
        assert_eq!(report.shots.len(), truth.len());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            assert_right(shot, truth, 0.01);
        }
        let coupled = has(&report, |what| {
            matches!(what, FindingKind::AcCoupled { .. })
        });
        assert_eq!(coupled, corner.is_some());
    }
}

#[test]
fn the_stated_intervals_hold_about_as_often_as_stated() {
    let (mut held, mut all) = (0, 0);
    for seed in 0..12 {
        let corner = 0.5 * 1.37_f64.powi(i32::try_from(seed).unwrap());
        let chain = Chain {
            coupling: Some(Hertz::hz(corner)),
            snr: Some(Decibels::db(40.0)),
            ..rough_chain()
        };
        let scene = Scene {
            seed,
            ..scene(&DIAL, 0.1, chain)
        };
        let (report, truth) = measured(&scene, &options());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let off = (shot.effective_s.unwrap() - truth.effective).abs();
            held += u32::from(off <= shot.uncertainty_s.unwrap());
            all += 1;
        }
    }
    assert_eq!(all, 120);
    assert!((106..=120).contains(&held), "{held} of {all}");
}

#[test]
fn a_top_speed_that_never_opens_borrows_the_level_from_slower_shots() {
    let slow = LeafShutter {
        opening: Seconds::ms(4.5),
        closing: Seconds::ms(5.0),
        ..LeafShutter::default()
    };
    let chain = Chain {
        snr: Some(Decibels::db(55.0)),
        ..rough_chain()
    };
    let scene = Scene {
        shutter: slow,
        ..scene(&["1/30", "1/60", "1/500"], 0.0, chain)
    };
    let (report, truth) = measured(&scene, &options());
    let last = &report.shots[2];
    assert!(truth[2].peak < 0.95, "{}", truth[2].peak);
    assert!(
        last.flags.contains(&Flag::NeverFullyOpen),
        "{:?}",
        last.flags
    );
    assert!(last.flags.contains(&Flag::E0Borrowed));
    assert_right(last, &truth[2], 0.01);
}

#[test]
fn a_lone_shot_that_never_opens_cannot_be_told() {
    let slow = LeafShutter {
        opening: Seconds::ms(6.0),
        closing: Seconds::ms(6.0),
        ..LeafShutter::default()
    };
    let scene = Scene {
        shutter: slow,
        ..scene(&["1/500"], 0.0, rough_chain())
    };
    let (report, truth) = measured(&scene, &options());
    assert!(truth[0].peak < 0.9);
    assert_eq!(report.shots[0].effective_s, None);
    assert!(report.shots[0].flags.contains(&Flag::E0Unknown));
    assert!(report.shots[0].flags.contains(&Flag::CannotTell));
}

/// Lets the blades of these firings open a second time.
fn spring_back(firings: &mut [Firing]) {
    for firing in firings {
        firing.bounce = Some(Bounce {
            after: Seconds::ms(2.0),
            lasting: Seconds::ms(1.6),
            height: 0.2,
        });
    }
}

#[test]
fn a_bounce_is_flagged_and_its_light_counted() {
    let mut scene = scene(&["1/8", "1/60", "1/250"], 0.0, rough_chain());
    spring_back(&mut scene.firings);
    let (report, truth) = measured(&scene, &options());
    for (shot, truth) in report.shots.iter().zip(&truth) {
        assert!(shot.flags.contains(&Flag::Bounce), "{:?}", shot.flags);
        assert_close(shot.bounce_s.unwrap().to_ms(), 1.5, 0.3);
        assert_close(shot.total_s.unwrap().to_ms(), truth.total.to_ms(), 0.2);
        assert_right(shot, truth, 0.01);
    }
}

#[test]
fn a_bounce_behind_a_lag_ends_with_its_light() {
    for (error, lag) in [(0.1, 0.05), (0.2, 0.12)] {
        let chain = Chain {
            lag: Seconds::ms(lag),
            snr: Some(Decibels::db(60.0)),
            ..Chain::default()
        };
        let mut scene = scene(&["1/8", "1/15", "1/30", "1/60", "1/250"], error, chain);
        // What the sensor does is told by the shots without one.
        spring_back(&mut scene.firings[2..]);
        let (report, truth) = measured(&scene, &options());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let off = (shot.total_s.unwrap() - truth.total).abs();
            let stated = shot.total_uncertainty_s.unwrap();
            assert!(
                off <= stated && stated.to_ms() < 0.15,
                "{lag} ms: off by {off:?}, stated {stated:?}"
            );
        }
    }
}

#[test]
fn a_shot_cut_off_by_the_end_is_flagged_and_not_counted() {
    let mut scene = scene(&["1/8", "1/4", "1/2"], 0.0, rough_chain());
    scene.lasting = scene.firings[2].at + Seconds::s(0.2);
    let (report, truth) = measured(&scene, &options());
    assert_eq!(report.shots.len(), 3);
    assert!(report.shots[2].flags.contains(&Flag::CutOff));
    assert_eq!(report.shots[2].effective_s, None);
    assert_right(&report.shots[0], &truth[0], 0.01);
    assert_right(&report.shots[1], &truth[1], 0.01);
    assert_eq!(report.speeds.len(), 2);
}

#[test]
fn samples_that_are_no_numbers_spoil_only_their_shot() {
    let mut take = scene(&["1/8", "1/30", "1/60"], 0.0, rough_chain()).record();
    let spoiled = ((take.truth[1].start.to_s() + 0.01) * 48_000.0) as usize;
    take.samples[spoiled] = f32::NAN;
    take.samples[spoiled + 1] = f32::INFINITY;
    let (report, truth) = measure(take, &options());
    assert!(has(&report, |what| matches!(
        what,
        FindingKind::NotFinite { samples: 2 }
    )));
    assert_eq!(report.shots[1].effective_s, None);
    assert_right(&report.shots[0], &truth[0], 0.01);
    assert_right(&report.shots[2], &truth[2], 0.01);
}

#[test]
fn a_dead_channel_is_left_out() {
    let take = scene(&["1/8", "1/60"], 0.0, rough_chain()).record();
    let truth = take.truth.clone();
    let silent = vec![0.0; take.samples.len()];
    let channels = vec![silent, take.samples];
    let recording = Recording::from_channels("two.wav", take.sample_rate, channels).unwrap();
    let report = shutter::analyse(&[recording], &options()).unwrap();
    let dead = report
        .findings
        .iter()
        .find(|it| it.what == FindingKind::DeadChannel)
        .unwrap();
    assert_eq!(dead.channel, Some(1));
    assert_eq!(report.shots.len(), 2);
    for (shot, truth) in report.shots.iter().zip(&truth) {
        assert_eq!(shot.channel, 2);
        assert_right(shot, truth, 0.01);
    }
}

#[test]
fn a_clipped_shot_is_flagged() {
    let chain = Chain {
        gain: 1.3,
        ..Chain::default()
    };
    let (report, _) = measured(&scene(&["1/8", "1/60"], 0.0, chain), &options());
    assert!(
        report
            .shots
            .iter()
            .all(|shot| shot.flags.contains(&Flag::Clipped))
    );
    assert!(has(&report, |what| matches!(what, FindingKind::Clipped)));
}

#[test]
fn a_clipped_interval_reaches_the_truth() {
    for gain in [1.1, 1.3] {
        let chain = Chain {
            gain,
            ..Chain::default()
        };
        let (report, truth) = measured(&scene(&["1/8", "1/500"], 0.0, chain), &options());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            assert_inside(shot, truth);
            let off = (shot.total_s.unwrap() - truth.total).abs();
            assert!(off <= shot.total_uncertainty_s.unwrap(), "total {off:?}");
        }
    }
}

/// A scene whose sensor's amplifier ends at this part of the light.
fn railed(rail: f64, coupling: Option<f64>, seed: u64) -> Scene {
    let chain = Chain {
        rail: Some(rail),
        coupling: coupling.map(Hertz::hz),
        ..Chain::default()
    };
    Scene {
        seed,
        ..scene(&["1/4", "1/30", "1/125", "1/500"], 0.1, chain)
    }
}

#[test]
fn a_plateau_without_the_darks_noise_is_clipped_below_the_recorders_range() {
    for seed in 1..=3 {
        for rail in [0.55, 0.8, 0.95] {
            for coupling in [None, Some(0.8), Some(6.0)] {
                let (report, truth) = measured(&railed(rail, coupling, seed), &options());
                assert!(has(&report, |what| *what == FindingKind::Clipped));
                assert_eq!(report.shots.len(), truth.len());
                for (shot, truth) in report.shots.iter().zip(&truth) {
                    assert!(shot.flags.contains(&Flag::Clipped), "{:?}", shot.flags);
                    assert_inside(shot, truth);
                }
            }
        }
    }
}

#[test]
fn samples_alike_at_the_greatest_value_are_clipped_below_full_scale() {
    for seed in 1..=3 {
        let chain = Chain {
            coupling: Some(Hertz::hz(4.0)),
            ..Chain::default()
        };
        let scene = Scene {
            seed,
            ..scene(&["1/15", "1/60", "1/250"], 0.0, chain)
        };
        let mut take = scene.record();
        for sample in &mut take.samples {
            *sample = sample.clamp(-0.375, 0.375);
        }
        let (report, _) = measure(take, &options());
        assert!(has(&report, |what| *what == FindingKind::Clipped));
        for shot in &report.shots {
            assert!(shot.flags.contains(&Flag::Clipped), "{:?}", shot.flags);
        }
    }
}

#[test]
fn a_plateau_as_quiet_as_the_dark_or_noisier_is_not_clipped() {
    for seed in 1..=3 {
        // Noise of far less than a step, of about one and of many.
        for (bits, snr) in [(8, 80.0), (8, 52.0), (8, 46.0), (12, 66.0), (16, 50.0)] {
            let chain = Chain {
                bits: Some(bits),
                snr: Some(Decibels::db(snr)),
                ..Chain::default()
            };
            let scene = Scene {
                seed,
                ..scene(&["1/4", "1/30", "1/125"], 0.0, chain)
            };
            let (report, _) = measured(&scene, &options());
            let clipped = has(&report, |what| *what == FindingKind::Clipped);
            assert!(!clipped, "{bits} bits, {snr} dB");
        }
    }
}

#[test]
fn a_level_borrowed_from_clipped_shots_may_be_more() {
    for seed in 1..=3 {
        let mut scene = railed(0.8, None, seed);
        scene.shutter.opening = Seconds::ms(12.0);
        scene.shutter.closing = Seconds::ms(12.0);
        let (report, truth) = measured(&scene, &options());
        let (shot, truth) = (report.shots.last().unwrap(), truth.last().unwrap());
        assert!(truth.peak < 0.78, "{}", truth.peak);
        assert!(shot.flags.contains(&Flag::E0Borrowed), "{:?}", shot.flags);
        assert_inside(shot, truth);
    }
}

#[test]
fn flicker_is_found_and_divided_out() {
    let flicker = Some(Flicker {
        hz: Hertz::hz(100.0),
        wanders: Hertz::hz(0.0),
        depth: 0.04,
        form: Swing::Sine,
    });
    let chain = Chain {
        flicker,
        ..rough_chain()
    };
    let (report, truth) = measured(&scene(&DIAL, 0.1, chain), &options());
    let found = report
        .findings
        .iter()
        .find_map(|finding| match finding.what {
            FindingKind::Flicker { hz, depth } => Some((hz.to_hz(), depth)),
            _ => None,
        });
    let (hz, depth) = found.unwrap();
    assert_close(hz, 100.0, 2.0);
    assert_close(depth, 0.04, 0.004);
    for (shot, truth) in report.shots.iter().zip(&truth) {
        let off = assert_inside(shot, truth);
        // A tenth of what its phase alone would do to a short shot.
        assert!(off < truth.effective * 0.004, "{off:?}");
    }
    let (steady, _) = measured(&scene(&DIAL, 0.1, rough_chain()), &options());
    assert!(!has(&steady, |what| matches!(
        what,
        FindingKind::Flicker { .. }
    )));
}

/// Even noise between -1 and 1.
fn noise(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / 2_f64.powi(52) - 1.0
    }
}

#[test]
fn a_lamp_whose_light_rises_faster_than_it_falls_leaves_no_shot_open() {
    let steady = Chain {
        snr: Some(Decibels::db(66.0)),
        ..Chain::default()
    };
    let mut take = scene(&["1/250", "1/8", "1/60", "1/2", "1/8"], 0.1, steady).record();
    let truth = take.truth.clone();
    let rate = take.sample_rate.to_hz();
    for (n, sample) in take.samples.iter_mut().enumerate() {
        let phase = TAU * 120.06 * n as f64 / rate;
        let swing = 1.0 + 0.2 * (phase.sin() + 0.2 * (2.0 * phase).sin());
        *sample *= swing as f32;
    }
    let recording = take.into_recording("made.wav").unwrap();
    let report = shutter::analyse(&[recording], &options()).unwrap();
    assert_eq!(report.shots.len(), truth.len());
    for (shot, truth) in report.shots.iter().zip(&truth) {
        assert_right(shot, truth, 0.01);
    }
}

#[test]
fn a_voice_on_the_other_channel_is_not_taken_for_the_shutter() {
    let quiet = Chain {
        gain: 0.05,
        ..rough_chain()
    };
    let take = scene(&["1/8", "1/60"], 0.0, quiet).record();
    let mut noise = noise(12);
    let voice = (0..take.samples.len()).map(|n| {
        let time = n as f64 / take.sample_rate.to_hz();
        let syllable = (TAU * 2.3 * time).sin().max(0.0).powi(2);
        let tone = (TAU * 140.0 * time).sin() + (TAU * 420.0 * time).sin();
        (0.3 * syllable * tone + 1e-3 * noise()) as f32
    });
    let channels = vec![take.samples.clone(), voice.collect()];
    let recording = Recording::from_channels("two.wav", take.sample_rate, channels).unwrap();
    let report = shutter::analyse(&[recording], &options()).unwrap();
    assert_eq!(report.shots.len(), 2);
    for (shot, truth) in report.shots.iter().zip(&take.truth) {
        assert_eq!(shot.channel, 1);
        assert_right(shot, truth, 0.01);
    }
}

#[test]
fn the_toggling_of_the_last_step_holds_no_shot() {
    let mut noise = noise(5);
    let format = hound::WavSpec {
        channels: 1,
        sample_rate: 48_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, format).unwrap();
    for _ in 0..5 * 48_000 {
        let step = (1.4 * noise()).round();
        writer.write_sample(step as i16).unwrap();
    }
    writer.finalize().unwrap();
    let recording =
        fettle_measure::recording::read("t.wav", std::io::Cursor::new(bytes.into_inner())).unwrap();
    let error = shutter::analyse(&[recording], &options()).unwrap_err();
    assert!(error.to_string().contains("no step of light"), "{error}");
}

#[test]
fn the_same_signal_twice_is_measured_once() {
    let take = scene(&["1/8", "1/60"], 0.0, rough_chain()).record();
    let channels = vec![take.samples.clone(), take.samples];
    let recording = Recording::from_channels("two.wav", take.sample_rate, channels).unwrap();
    let report = shutter::analyse(&[recording], &options()).unwrap();
    let same = report
        .findings
        .iter()
        .find(|it| it.what == FindingKind::SameChannels)
        .unwrap();
    assert_eq!(same.channel, Some(2));
    assert_eq!(report.shots.len(), 2);
}

#[test]
fn silence_and_noise_hold_no_shot() {
    let silent = Recording::from_channels("s.wav", Hertz::hz(48_000.0), vec![vec![0.0; 48_000]]);
    let error = shutter::analyse(&[silent.unwrap()], &options()).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("s.wav: no shot found: nothing but silence"),
        "{error}"
    );
    let noise = Scene {
        firings: vec![],
        lasting: Seconds::s(5.0),
        ..scene(&[], 0.0, rough_chain())
    };
    let recording = noise.record().into_recording("n.wav").unwrap();
    let error = shutter::analyse(&[recording], &options()).unwrap_err();
    assert!(matches!(error, ShutterError::NoShot { .. }), "{error}");
    assert!(error.to_string().contains("no step of light"), "{error}");
}

#[test]
fn a_hand_before_the_lamp_is_no_shutter_and_takes_nothing_from_one() {
    let waved = |at: f64| Uncovering {
        at: Seconds::s(at),
        opening: Seconds::ms(50.0),
        held: Seconds::ms(120.0),
        closing: Seconds::ms(90.0),
    };
    let hand = HandScene {
        uncoverings: vec![waved(0.7), waved(2.1)],
        chain: Chain {
            snr: Some(Decibels::db(60.0)),
            ..Chain::default()
        },
        lasting: Seconds::s(3.5),
        seed: 3,
    };
    let hand = hand.record().samples;
    let of = |samples: Vec<f32>| {
        let recording = Recording::from_channels("h.wav", Hertz::hz(48_000.0), vec![samples]);
        shutter::analyse(&[recording.unwrap()], &options())
    };
    let error = of(hand.clone()).unwrap_err();
    assert!(
        error.to_string().contains("as behind a hand or a card"),
        "{error}"
    );
    let shots = scene(&["1/30", "1/125"], 0.1, rough_chain())
        .record()
        .samples;
    let report = of([hand, shots].concat()).unwrap();
    let told: Vec<&Shot> = report
        .shots
        .iter()
        .filter(|it| it.effective_s.is_some())
        .collect();
    assert_eq!(told.len(), 2);
    assert!(told.iter().all(|it| it.start_s.to_s() > 3.5));
}

#[test]
fn a_hand_behind_a_coupling_is_no_shutter_either() {
    let waved = |at: f64, [opening, held, closing]: [f64; 3]| Uncovering {
        at: Seconds::s(at),
        opening: Seconds::ms(opening),
        held: Seconds::ms(held),
        closing: Seconds::ms(closing),
    };
    for (hz, flanks) in [
        (12.6, [59.0, 122.0, 190.0]),
        (13.8, [54.0, 210.0, 263.0]),
        (19.3, [75.0, 62.0, 84.0]),
        (19.8, [56.0, 1242.0, 122.0]),
    ] {
        let hand = HandScene {
            uncoverings: vec![waved(0.8, flanks), waved(3.0, flanks)],
            chain: Chain {
                coupling: Some(Hertz::hz(hz)),
                snr: Some(Decibels::db(55.0)),
                ..Chain::default()
            },
            lasting: Seconds::s(5.5),
            seed: 3,
        };
        let recording = hand.record().into_recording("h.wav").unwrap();
        let told = |it: &Shot| it.effective_s.is_some();
        let measured = shutter::analyse(&[recording], &options());
        assert!(!measured.is_ok_and(|it| it.shots.iter().any(told)), "{hz}");
    }
}

#[test]
fn a_click_close_behind_a_shot_ends_nothing() {
    let bytes = include_bytes!("data/close-behind-a-shot.wav");
    let recording = fettle_measure::recording::read("c.wav", std::io::Cursor::new(bytes));
    let _report_or_refusal = shutter::analyse(&[recording.unwrap()], &options());
}

#[test]
fn a_channel_that_is_not_there_is_refused_and_named() {
    let recording = scene(&["1/8"], 0.0, Chain::default())
        .record()
        .into_recording("a")
        .unwrap();
    let refused = |options: Options| {
        shutter::analyse(std::slice::from_ref(&recording), &options)
            .unwrap_err()
            .to_string()
    };
    let channel = refused(Options {
        channels: vec![3],
        ..options()
    });
    assert!(channel.contains("there is no channel 3"), "{channel}");
    assert_eq!(
        shutter::analyse(&[], &options()).unwrap_err(),
        ShutterError::NoRecording
    );
}

#[test]
fn a_slow_first_shot_and_a_missing_mark_are_found() {
    let marks = ["1/30", "1/30", "1/30", "1/30", "1/125", "1/250", "1/500"];
    let mut scene = scene(&marks, 0.0, rough_chain());
    scene.firings[0].effective = scene.firings[0].effective * 1.2;
    let speeds = ["1/30", "1/60", "1/125", "1/250", "1/500"]
        .map(mark)
        .to_vec();
    let (report, _) = measured(
        &scene,
        &Options {
            speeds,
            ..options()
        },
    );
    let slow = |what: &FindingKind| match what {
        FindingKind::SlowFirst { marked, stops, .. } => {
            *marked == mark("1/30") && (stops.to_stops() - 0.263).abs() < 0.02
        }
        _ => false,
    };
    assert!(has(&report, slow), "{:?}", report.findings);
    assert!(has(&report, |what| *what
        == FindingKind::Missing {
            marked: mark("1/60")
        }));
}

#[test]
fn two_marks_with_nearly_one_time_are_alike() {
    let mut scene = scene(&DIAL, 0.1, rough_chain());
    scene.firings[9].effective = scene.firings[8].effective * 0.8;
    let (report, _) = measured(&scene, &options());
    let marks = [mark("1/250"), mark("1/500")];
    assert!(
        has(
            &report,
            |what| matches!(what, FindingKind::Alike { marks: alike, .. } if *alike == marks)
        ),
        "{:?}",
        report.findings
    );
}

#[test]
fn a_session_of_several_recordings_is_one() {
    let first = scene(&["1/8", "1/15"], 0.0, rough_chain()).record();
    let second = Scene {
        seed: 9,
        ..scene(&["1/250", "1/500"], 0.0, rough_chain())
    }
    .record();
    let truth: Vec<Truth> = first.truth.iter().chain(&second.truth).copied().collect();
    let session = [
        first.into_recording("a.wav").unwrap(),
        second.into_recording("b.wav").unwrap(),
    ];
    let report = shutter::analyse(&session, &options()).unwrap();
    assert_eq!(report.recordings.len(), 2);
    let names: Vec<&str> = report
        .shots
        .iter()
        .map(|shot| shot.recording.as_str())
        .collect();
    assert_eq!(names, ["a.wav", "a.wav", "b.wav", "b.wav"]);
    for (shot, truth) in report.shots.iter().zip(&truth) {
        assert_right(shot, truth, 0.01);
    }
}

#[test]
fn smaller_stops_get_longer_times_as_the_formula_says() {
    let stops = vec![2.8, 4.0, 5.6, 8.0, 16.0];
    let options = Options {
        fully_open_f: Some(2.8),
        stops_f: stops.clone(),
        ..options()
    };
    let chain = Chain {
        snr: Some(Decibels::db(55.0)),
        ..rough_chain()
    };
    let (report, truth) = measured(&scene(&["1/60", "1/250", "1/500"], 0.0, chain), &options);
    assert_eq!(report.apertures.len(), 15);
    for (speed, truth) in truth.iter().enumerate() {
        let mut last = 0.0;
        for (index, f) in stops.iter().enumerate() {
            let aperture = &report.apertures[speed * stops.len() + index];
            let want = truth.effective_at(2.8, *f);
            let error = aperture.effective_s.error_against(want).unwrap();
            assert_close(error.to_stops(), 0.0, 0.02);
            assert!(aperture.over_full_open_stops.to_stops() >= last - 0.005);
            last = aperture.over_full_open_stops.to_stops();
        }
    }
    let at_16 = |mark: &str| {
        let found = report
            .apertures
            .iter()
            .find(|it| it.marked.to_string() == mark && it.f > 15.0);
        found.unwrap().over_full_open_stops.to_stops()
    };
    assert!(at_16("1/500") > at_16("1/250") && at_16("1/250") > at_16("1/60"));
}

#[test]
fn the_clock_is_corrected_when_known_and_doubted_when_not() {
    let chain = Chain {
        clock_ppm: 400.0,
        ..Chain::default()
    };
    let scene = scene(&["1", "1/2"], 0.0, chain);
    let known = Options {
        clock_ppm: Some(400.0),
        ..options()
    };
    let (report, truth) = measured(&scene, &known);
    let effective = report.shots[0].effective_s.unwrap();
    assert_close(effective / truth[0].effective, 1.0, 2e-5);
    let unknown = Options {
        clock_ppm: None,
        ..options()
    };
    let (report, _) = measured(&scene, &unknown);
    let budget = report.shots[0].budget;
    assert_close(
        budget.clock_s / report.shots[0].effective_s.unwrap(),
        200e-6 / 3_f64.sqrt(),
        1e-8,
    );
}

#[test]
fn verdicts_follow_the_interval() {
    let (report, _) = measured(&scene(&["1/30"; 3], 0.3, rough_chain()), &options());
    let speed = &report.speeds[0];
    assert_eq!(speed.shots, 3);
    assert_eq!(speed.verdict, Some(Verdict::Out));
    let wide = Options {
        limits: Limits::uniform(Stops::of(0.5)),
        ..options()
    };
    let (report, _) = measured(&scene(&["1/30"; 3], 0.3, rough_chain()), &wide);
    assert_eq!(report.speeds[0].verdict, Some(Verdict::In));
    let none = Options {
        limits: Limits::none(),
        ..options()
    };
    let (report, _) = measured(&scene(&["1/30"; 3], 0.3, rough_chain()), &none);
    assert_eq!(report.speeds[0].verdict, None);
}

#[test]
fn without_a_dial_marks_are_guessed_and_said_to_be() {
    let options = Options {
        speeds: vec![],
        ..options()
    };
    let (report, _) = measured(&scene(&["1/8", "1/125"], 0.1, rough_chain()), &options);
    assert!(report.shots.iter().all(|shot| shot.guessed));
    assert_eq!(report.shots[1].marked, Some(mark("1/125")));
}

#[test]
fn a_stored_report_reads_back_equal() {
    let stops = Options {
        fully_open_f: Some(2.8),
        stops_f: vec![8.0],
        ..options()
    };
    let (report, _) = measured(&scene(&["1/8", "1/500"], 0.1, rough_chain()), &stops);
    let json = serde_json::to_string(&report).unwrap();
    let back: Report = serde_json::from_str(&json).unwrap();
    assert_eq!(back, report);
    for key in [
        "\"sample_rate_hz\":48000.0",
        "\"kind\":\"ac-coupled\"",
        "\"corner_hz\":",
        "\"poles\":1",
    ] {
        assert!(json.contains(key), "{key}");
    }
    let value: serde_json::Value = serde_json::from_str(&json).unwrap();
    for key in [
        "recording",
        "findings",
        "shots",
        "speeds",
        "apertures",
        "curtains",
        "flash",
    ] {
        assert!(value.get(key).is_some(), "{key}");
    }
    for key in [
        "n",
        "channel",
        "start_s",
        "effective_s",
        "total_s",
        "efficiency",
        "uncertainty_s",
        "marked",
        "error_stops",
        "flags",
        "release",
        "recording",
        "total_uncertainty_s",
    ] {
        assert!(value["shots"][0].get(key).is_some(), "{key}");
    }
}

#[test]
fn a_trace_is_thin_and_goes_from_dark_to_open_to_dark() {
    let (report, _) = measured(&scene(&["1", "1/60"], 0.0, rough_chain()), &options());
    for shot in &report.shots {
        let trace = &shot.trace;
        assert!(
            (50..=400).contains(&trace.points.len()),
            "{}",
            trace.points.len()
        );
        assert!(
            trace
                .points
                .windows(2)
                .all(|pair| pair[0].time_s <= pair[1].time_s)
        );
        let (first, last) = (trace.points[0], trace.points[trace.points.len() - 1]);
        assert_close(first.openness, 0.0, 0.05);
        assert_close(last.openness, 0.0, 0.05);
        let top = trace
            .points
            .iter()
            .map(|point| point.openness)
            .fold(0.0, f64::max);
        assert_close(top, 1.0, 0.1);
        let marks = trace.marks;
        let order = [
            marks.opening_s,
            marks.open_s,
            marks.closing_s,
            marks.closed_s,
        ];
        let order: Vec<f64> = order.iter().map(|it| it.unwrap().to_s()).collect();
        assert!(order.windows(2).all(|pair| pair[0] < pair[1]), "{order:?}");
        assert_close(order[3], shot.total_s.unwrap().to_s(), 1e-4);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn polarity_gain_offset_and_delay_change_no_time(
        inverted in any::<bool>(),
        gain in 0.1..0.9_f64,
        offset in -0.05..0.05_f64,
        delay in 0_usize..5000,
    ) {
        let plain = Chain { bits: None, ..rough_chain() };
        let base = scene(&["1/8", "1/60", "1/500"], 0.1, plain.clone());
        let (want, _) = measured(&base, &options());
        let mut take = base.record();
        let first = take.samples[0];
        for sample in &mut take.samples {
            let voltage = (f64::from(*sample) - plain.offset) / plain.gain;
            let signed = if inverted { -voltage } else { voltage };
            *sample = (gain * signed + offset) as f32;
        }
        let lead = vec![take.samples[0]; delay];
        take.samples.splice(0..0, lead);
        prop_assert!(first.is_finite());
        let (got, _) = measure(take, &options());
        prop_assert_eq!(got.shots.len(), want.shots.len());
        for (got, want) in got.shots.iter().zip(&want.shots) {
            let error = got.effective_s.unwrap().error_against(want.effective_s.unwrap());
            prop_assert!(error.unwrap().abs().to_stops() < 0.002);
            let shift = (got.start_s - want.start_s).to_s() * 48_000.0;
            prop_assert!((shift - delay as f64).abs() < 3.0);
        }
        let said = has(&got, |what| matches!(what, FindingKind::Inverted));
        prop_assert_eq!(said, inverted);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_samples_are_measured_or_refused(
        steps in prop::collection::vec((0_usize..800, prop::num::f32::ANY), 0..40),
        rate in prop::sample::select(vec![1.0, 50.0, 800.0, 8_000.0, 192_000.0, 1e8]),
        wild in any::<bool>(),
    ) {
        let mut samples: Vec<f32> = Vec::new();
        for (i, (length, value)) in steps.iter().enumerate() {
            let tame = (value.to_bits() % 1000) as f32 / 1000.0;
            let value = if wild && i % 5 == 0 { *value } else { tame };
            samples.extend(std::iter::repeat_n(value, *length));
        }
        let recording = Recording::from_channels("any", Hertz::hz(rate), vec![samples]).unwrap();
        let options = Options { fully_open_f: Some(2.0), stops_f: vec![4.0], ..options() };
        if let Ok(report) = shutter::analyse(&[recording], &options) {
            let json = serde_json::to_string(&report).unwrap();
            let back: Result<Report, _> = serde_json::from_str(&json);
            prop_assert!(back.is_ok(), "{json}");
        }
    }
}

#[test]
fn low_and_high_rates_and_hasty_firing_are_measured_too() {
    for (rate, gap, tolerance) in [
        (8_000.0, 1.5, 0.02),
        (192_000.0, 0.4, 0.01),
        (44_100.0, 0.25, 0.01),
    ] {
        for corner in [None, Some(0.5), Some(8.0)] {
            let chain = Chain {
                sample_rate: Hertz::hz(rate),
                coupling: corner.map(Hertz::hz),
                ..rough_chain()
            };
            let marks = ["1/2", "1/8", "1/30", "1/125", "1/250"];
            let mut scene = scene(&marks, 0.1, chain);
            let mut at = 0.3;
            for firing in &mut scene.firings {
                firing.at = Seconds::s(at);
                at += firing.effective.to_s() + gap;
            }
            scene.lasting = Seconds::s(at);
            let (report, truth) = measured(&scene, &options());
            assert_eq!(report.shots.len(), truth.len(), "{rate} {gap} {corner:?}");
            for (shot, truth) in report.shots.iter().zip(&truth) {
                assert_right(shot, truth, tolerance);
            }
        }
    }
}

#[test]
fn a_lossy_recording_says_so_and_states_a_wider_uncertainty() {
    let packed = |bytes: &'static [u8]| {
        let recording = fettle_measure::recording::read("a", std::io::Cursor::new(bytes)).unwrap();
        shutter::analyse(&[recording], &options()).unwrap()
    };
    let truth = 0.017;
    let exact = packed(include_bytes!("data/small.flac"));
    assert!(
        !exact
            .findings
            .iter()
            .any(|it| it.what == FindingKind::Lossy)
    );
    for (report, least) in [
        (packed(include_bytes!("data/small.mp3")), 16e-6),
        (packed(include_bytes!("data/small.ogg")), 400e-6),
    ] {
        assert!(
            report
                .findings
                .iter()
                .any(|it| it.what == FindingKind::Lossy)
        );
        let shot = &report.shots[0];
        let stated = shot.uncertainty_s.unwrap().to_s();
        let off = (shot.effective_s.unwrap().to_s() - truth).abs();
        assert!(stated >= least && stated < 2.5 * least, "{stated}");
        assert!(off <= stated, "{off} of {stated}");
        assert!(shot.trace.points.len() > 10);
    }
    let shot = &exact.shots[0];
    assert!((shot.effective_s.unwrap().to_s() - truth).abs() < 4e-6);
    assert!(shot.uncertainty_s.unwrap().to_s() < 16e-6);
}

#[test]
fn two_poles_are_told_from_one_and_undone() {
    for (first, second) in [(3.0, 11.0), (5.0, 5.0), (12.0, 0.7)] {
        let chain = Chain {
            coupling: Some(Hertz::hz(first)),
            second_pole: Some(Hertz::hz(second)),
            ..rough_chain()
        };
        let marks = ["1/2", "1/8", "1/30", "1/60", "1/125", "1/250"];
        let take = scene(&marks, 0.1, chain).record();
        let truth = take.truth.clone();
        let report =
            shutter::analyse(&[take.into_recording("two.wav").unwrap()], &options()).unwrap();
        let coupled = report.findings.iter().find_map(|it| match it.what {
            FindingKind::AcCoupled { corner_hz, poles } => Some((corner_hz.to_hz(), poles)),
            _ => None,
        });
        let (corner, poles) = coupled.expect("the coupling is found");
        assert_eq!(poles, 2, "{first} and {second} Hz");
        let off = (corner / (first * second).sqrt()).ln();
        assert!(off.abs() < 0.01, "{corner} Hz for {first} and {second} Hz");
        assert_eq!(report.shots.len(), truth.len());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let effective = shot.effective_s.unwrap();
            let off = (effective - truth.effective).abs().to_s();
            assert!(off < 12e-6, "{off} s at {effective:?}");
            let stated = shot.uncertainty_s.unwrap().to_s();
            assert!(off < 2.0 * stated && stated < 30e-6, "{off} of {stated}");
        }
    }
}
