//! Recordings of sound, made with their truth and listened to.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use fettle_measure::shutter::{
    self, ClickOf, FindingKind, Flag, Kind, Options, Report, Sense, ShutterError,
};
use fettle_measure::synth::{Room, SoundCamera, SoundFiring, SoundKind, SoundOf, SoundScene};
use fettle_measure::{Decibels, Hertz, Marked, Millimetres, Recording, Seconds};
use proptest::prelude::*;

fn options() -> Options {
    Options {
        sense: Sense::Sound,
        speeds: ["1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125"]
            .iter()
            .map(|text| text.parse().unwrap())
            .collect(),
        clock_ppm: Some(0.0),
        ..Options::default()
    }
}

/// Releases of so many seconds each, `rest` apart.
fn scene(lasting: &[f64], rest: f64, seed: u64) -> SoundScene {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for lasting in lasting {
        firings.push(SoundFiring {
            at: Seconds::s(at),
            lasting: Seconds::s(*lasting),
        });
        at += lasting + rest;
    }
    SoundScene {
        camera: SoundCamera::default(),
        firings,
        room: Room::default(),
        lasting: Seconds::s(at),
        seed,
    }
}

fn listen(scene: &SoundScene, options: &Options) -> Result<Report, ShutterError> {
    let recording = scene.record().into_recording("made.wav").unwrap();
    shutter::analyse(&[recording], options)
}

fn has(report: &Report, what: &FindingKind) -> bool {
    report.findings.iter().any(|finding| finding.what == *what)
}

fn reason(scene: &SoundScene) -> String {
    let error = listen(scene, &options()).unwrap_err();
    assert!(matches!(error, ShutterError::NoShot { .. }), "{error}");
    error.to_string()
}

#[test]
fn slow_speeds_are_told_and_fast_ones_are_not() {
    let times = [0.27, 0.13, 0.07, 0.04, 0.016, 0.008];
    let mut scene = scene(&times, 2.5, 1);
    scene.camera.escapement = None;
    let report = listen(&scene, &options()).unwrap();
    let mut told = 0;
    for firing in &scene.firings {
        let near = |shot: &&shutter::Shot| (shot.start_s - firing.at).abs().to_ms() < 2.0;
        let Some(shot) = report.shots.iter().find(near) else {
            assert!(firing.lasting.to_s() < 1.0 / 30.0, "{firing:?}");
            continue;
        };
        assert_eq!(shot.total_s, None);
        let Some(time) = shot.effective_s else {
            assert!(shot.flags.contains(&Flag::CannotTell), "{firing:?}");
            continue;
        };
        assert!(firing.lasting.to_s() > 1.0 / 30.0, "{firing:?}");
        let stated = shot.uncertainty_s.unwrap();
        assert!((2.8..3.5).contains(&stated.to_ms()), "{stated:?}");
        let off = (time - firing.lasting).abs();
        assert!(off.to_s() <= stated.to_s(), "{time:?} {firing:?}");
        assert!(shot.marked.is_some());
        told += 1;
    }
    assert!((3..=4).contains(&told), "{told}");
    let missing = |what: &FindingKind| matches!(what, FindingKind::Missing { .. });
    assert!(!report.findings.iter().any(|it| missing(&it.what)));
}

#[test]
fn onsets_are_found_to_a_quarter_of_a_millisecond() {
    let scene = scene(&[0.5, 0.25, 0.1], 2.5, 2);
    let report = listen(&scene, &options()).unwrap();
    let truth = scene.record().clicks;
    assert_eq!(report.clicks.len(), truth.len());
    for (click, (at, of)) in report.clicks.iter().zip(&truth) {
        assert!((click.at_s - *at).abs().to_ms() < 0.25, "{click:?} {at:?}");
        let want = match of {
            SoundOf::Opening => ClickOf::Opening,
            _ => ClickOf::Closing,
        };
        assert_eq!(click.could_be[0], want);
        assert!(click.release.is_some());
    }
}

#[test]
fn with_a_mirror_no_time_is_told_and_the_right_pair_is_proposed() {
    let mut scene = scene(&[0.5, 0.25, 0.12], 2.5, 3);
    scene.camera.kind = SoundKind::Mirror;
    let report = listen(&scene, &options()).unwrap();
    assert_eq!(report.shots.len(), 3);
    for (shot, firing) in report.shots.iter().zip(&scene.firings) {
        assert_eq!(shot.effective_s, None);
        assert!(shot.flags.contains(&Flag::CannotTell));
        let right = |it: &&shutter::Proposal| (it.between_s - firing.lasting).abs().to_ms() < 3.5;
        assert!(
            shot.proposals.iter().any(|it| right(&it)),
            "{:?}",
            shot.proposals
        );
    }
    assert!(report.speeds.is_empty());
    let up = report
        .clicks
        .iter()
        .filter(|it| it.could_be.contains(&ClickOf::MirrorUp));
    assert!(up.count() >= 3);
}

#[test]
fn a_click_between_opening_and_closing_leaves_the_time_untold() {
    for seed in 0..4 {
        let mut scene = scene(&[0.25], 1.5, 40 + seed);
        scene.camera.escapement = None;
        scene.room.hard_knocks = true;
        scene.room.knocks = vec![(Seconds::s(0.92), Decibels::db(-3.0))];
        let report = listen(&scene, &options()).unwrap();
        assert!(report.shots.iter().all(|shot| shot.effective_s.is_none()));
        let proposals = report.shots.iter().flat_map(|shot| &shot.proposals);
        let right = proposals.filter(|it| (it.between_s.to_s() - 0.25).abs() < 4e-3);
        assert_eq!(right.count(), 1, "{seed}");
    }
}

#[test]
fn what_holds_no_click_is_refused_with_the_reason() {
    let empty = SoundScene {
        firings: Vec::new(),
        lasting: Seconds::s(6.0),
        ..scene(&[], 0.0, 5)
    };
    assert!(reason(&empty).contains("no click stands out of the noise"));
    let mut silent = empty.clone();
    silent.room.noise = Decibels::db(-300.0);
    silent.room.rumble = None;
    assert!(reason(&silent).contains("nothing but silence"));
    let mut spoken = empty;
    spoken.room.speech = vec![(Seconds::s(0.2), Seconds::s(5.8), Decibels::db(-14.0))];
    assert!(
        reason(&spoken).contains("speech or music"),
        "{}",
        reason(&spoken)
    );
}

#[test]
fn behind_a_gate_no_time_is_told() {
    let mut scene = scene(&[0.5, 0.25], 2.5, 6);
    scene.room.gate = true;
    scene.room.noise = Decibels::db(-45.0);
    let report = listen(&scene, &options()).unwrap();
    assert!(has(&report, &FindingKind::GainControl));
    assert!(report.shots.iter().all(|shot| shot.effective_s.is_none()));
}

#[test]
fn without_a_gate_no_gain_control_is_found() {
    for seed in 0..5 {
        let report = listen(&scene(&[0.5, 0.25, 0.1], 2.5, 60 + seed), &options()).unwrap();
        assert!(!has(&report, &FindingKind::GainControl), "{seed}");
    }
}

#[test]
fn a_clipped_click_is_flagged() {
    let mut scene = scene(&[0.25, 0.12], 2.5, 7);
    scene.room.gain = 2.5;
    scene.camera.escapement = None;
    let report = listen(&scene, &options()).unwrap();
    assert!(has(&report, &FindingKind::Clipped));
    let clipped = |shot: &shutter::Shot| shot.flags.contains(&Flag::Clipped);
    assert!(report.shots.iter().any(clipped), "{:?}", report.shots);
}

#[test]
fn the_channel_with_the_clearer_clicks_is_used() {
    let near = scene(&[0.25, 0.12], 2.5, 8);
    let mut far = near.clone();
    far.room.noise = Decibels::db(-22.0);
    let channels = [far, near].map(|it| it.record().samples).to_vec();
    let recording = Recording::from_channels("made.wav", Hertz::hz(48_000.0), channels).unwrap();
    let report = shutter::analyse(std::slice::from_ref(&recording), &options()).unwrap();
    assert!(report.shots.iter().all(|shot| shot.channel == 2));
    let only = Options {
        channels: vec![1],
        ..options()
    };
    let report = shutter::analyse(std::slice::from_ref(&recording), &only).unwrap();
    assert!(report.shots.iter().all(|shot| shot.channel == 1));
    let beyond = Options {
        channels: vec![3],
        ..options()
    };
    let error = shutter::analyse(&[recording], &beyond).unwrap_err();
    assert!(
        error.to_string().contains("there is no channel 3"),
        "{error}"
    );
}

#[test]
fn what_only_light_shows_is_refused_and_named() {
    let scene = scene(&[0.25], 1.0, 9);
    let refused = |options: &Options| listen(&scene, options).unwrap_err().to_string();
    let flash = Options {
        flash_channel: Some(2),
        ..options()
    };
    assert!(refused(&flash).starts_with("--flash-channel: "));
    let stops = Options {
        fully_open_f: Some(3.5),
        stops_f: vec![8.0],
        ..options()
    };
    assert!(refused(&stops).starts_with("--stops-f: "));
    let sensors = Options {
        kind: Kind::FocalPlane,
        sensors_mm: vec![Millimetres::mm(18.0)],
        ..options()
    };
    assert!(refused(&sensors).starts_with("--sensors-mm: "));
}

#[test]
fn curtains_are_stated_less_surely_than_blades() {
    let mut scene = scene(&[0.5, 0.25, 0.12, 0.06], 2.5, 10);
    scene.camera.kind = SoundKind::Curtains;
    scene.camera.escapement = None;
    let curtains = Options {
        kind: Kind::FocalPlane,
        ..options()
    };
    let report = listen(&scene, &curtains).unwrap();
    let told: Vec<f64> = report
        .shots
        .iter()
        .filter_map(|shot| shot.uncertainty_s)
        .map(Seconds::to_ms)
        .collect();
    assert!(!told.is_empty(), "{:?}", report.clicks);
    assert!(
        told.iter().all(|stated| (3.8..4.5).contains(stated)),
        "{told:?}"
    );
}

#[test]
fn a_report_of_sound_reads_back_equal() {
    let report = listen(&scene(&[0.25, 0.008], 2.5, 11), &options()).unwrap();
    let json = serde_json::to_string(&report).unwrap();
    assert!(json.contains("\"clicks\":[{\"release\":1,"), "{json}");
    assert!(json.contains("\"proposals\":[{\"from_s\":"), "{json}");
    let back: Report = serde_json::from_str(&json).unwrap();
    assert_eq!(back, report);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_samples_are_listened_to_or_refused(
        rate in prop::sample::select(vec![1.0, 50.0, 3000.0, 8000.0, 44_100.0, 192_000.0]),
        samples in prop::collection::vec(
            prop_oneof![4 => -1.0_f32..1.0, 1 => Just(0.0), 1 => Just(f32::NAN), 1 => Just(f32::INFINITY), 1 => Just(1e30)],
            0..4000,
        ),
    ) {
        let recording = Recording::from_channels("any", Hertz::hz(rate), vec![samples]).unwrap();
        let _ = shutter::analyse(&[recording], &options());
    }

    #[test]
    fn clicks_anywhere_never_make_a_time_that_is_not_between_two_of_them(
        places in prop::collection::vec(2000_usize..200_000, 1..9),
        marks in prop::sample::select(vec!["1", "1/30", "1/1000"]),
    ) {
        let mut samples: Vec<f32> = (0..240_000_u32)
            .map(|n| 1e-4 * ((n.wrapping_mul(2_654_435_761) >> 8) as f32 / 8_388_608.0 - 1.0))
            .collect();
        for place in &places {
            for n in 0..400 {
                samples[place + n] += 0.3 * (n as f32 * 0.7).sin() * (-(n as f32) / 60.0).exp();
            }
        }
        let rate = 48_000.0;
        let recording = Recording::from_channels("any", Hertz::hz(rate), vec![samples]).unwrap();
        let dial: Vec<Marked> = vec![marks.parse().unwrap()];
        if let Ok(report) = shutter::analyse(&[recording], &Options { speeds: dial, ..options() }) {
            for time in report.shots.iter().filter_map(|shot| shot.effective_s) {
                let fits = places.iter().any(|from| places.iter().any(|to| {
                    ((*to as f64 - *from as f64) / rate - time.to_s()).abs() < 1e-3
                }));
                prop_assert!(fits, "{time:?}");
                prop_assert!(time.to_s() >= 0.03);
            }
        }
    }
}
