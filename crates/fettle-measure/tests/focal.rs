//! Focal-plane shutters and flash contacts that never were, measured and held against the truth.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that cannot go on has failed"
)]

use fettle_measure::shutter::{
    self, Curtain, Finding, FindingKind, Flag, Flash, Kind, Options, Report, Shot, ShutterError,
    at_centre, flash_by_mark, frames_by_mark,
};
use fettle_measure::synth::{
    Chain, Contact, CurtainBounce, CurtainRun, Firing, FocalPlane, FocalScene, FocalTruth, Hum,
    LeafShutter, Release, Scene, Sensor, Tail, record_contacts,
};
use fettle_measure::{Decibels, Hertz, Marked, Millimetres, Recording, Seconds, Series};

const DIAL: [&str; 9] = [
    "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500", "1/1000",
];
const GATE_MM: f64 = 36.0;

fn mm(value: f64) -> Millimetres {
    Millimetres::mm(value)
}

fn mark(text: &str) -> Marked {
    text.parse().unwrap()
}

/// A sound card's channel.
fn chain(gain: f64, inverted: bool) -> Chain {
    Chain {
        gain,
        inverted,
        coupling: Some(Hertz::hz(2.0)),
        snr: Some(Decibels::db(52.0)),
        lag: Seconds::ms(0.02),
        hum: Some(Hum {
            hz: Hertz::hz(50.02),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![0.005, 0.002],
        }),
        ..Chain::default()
    }
}

fn sensors(places: &[f64]) -> Vec<Sensor> {
    places
        .iter()
        .enumerate()
        .map(|(i, x)| Sensor {
            x: mm(*x),
            width: mm([3.0, 2.0, 2.6][i % 3]),
            round: i % 3 == 1,
            chain: chain([0.5, 0.3, 0.6][i % 3], i % 2 == 1),
        })
        .collect()
}

const FIRST: CurtainRun = CurtainRun {
    mm_per_ms: 2.2,
    mm_per_ms2: 0.15,
};
const SECOND: CurtainRun = CurtainRun {
    mm_per_ms: 2.2,
    mm_per_ms2: 0.152,
};

/// Releases the marks in turn, 1.2 s apart.
fn scene(marks: &[&str], places: &[f64]) -> FocalScene {
    let mut at = 0.7;
    let mut releases = Vec::new();
    for text in marks {
        let slit = mark(text).nominal(Series::Marked).to_s();
        releases.push(Release {
            at: Seconds::s(at),
            slit: Seconds::s(slit),
            first: FIRST,
            second: SECOND,
            bounce: None,
            contact: None,
        });
        at += slit + 1.2;
    }
    FocalScene {
        shutter: FocalPlane {
            gate: mm(GATE_MM),
            overrun: mm(1.0),
        },
        releases,
        sensors: sensors(places),
        contact: None,
        lasting: Seconds::s(at),
        seed: 11,
    }
}

fn options(places: &[f64]) -> Options {
    Options {
        kind: Kind::FocalPlane,
        speeds: DIAL.iter().map(|text| mark(text)).collect(),
        clock_ppm: Some(0.0),
        sensors_mm: places.iter().copied().map(mm).collect(),
        gate_mm: Some(mm(GATE_MM)),
        ..Options::default()
    }
}

fn measured(scene: &FocalScene, options: &Options) -> (Report, Vec<FocalTruth>) {
    let take = scene.record();
    let truth = take.truth.clone();
    let recording = take.into_recording("made.wav").unwrap();
    (shutter::analyse(&[recording], options).unwrap(), truth)
}

#[track_caller]
fn assert_close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "{got} is not within {tolerance} of {want}"
    );
}

fn shot_of(report: &Report, release: u32, channel: u16) -> &Shot {
    let of = |shot: &&Shot| shot.release == release && shot.channel == channel;
    report.shots.iter().find(of).expect("a shot of this sensor")
}

/// Holds times, travel and evenness of every release against the truth.
#[track_caller]
fn assert_right(report: &Report, truth: &[FocalTruth]) {
    assert_eq!(report.curtains.len(), truth.len());
    for (curtain, truth) in report.curtains.iter().zip(truth) {
        for (channel, want) in (1..).zip(&truth.effective) {
            let shot = shot_of(report, curtain.n, channel);
            let error = shot.effective_s.unwrap().error_against(*want).unwrap();
            assert_close(error.to_stops(), 0.0, 0.004);
        }
        let travels = [
            (curtain.first_travel_s, truth.first_travel),
            (curtain.second_travel_s, truth.second_travel),
        ];
        for (got, want) in travels {
            assert_close(got.unwrap() / want, 1.0, 0.002);
        }
        let evenness = curtain.evenness_stops.unwrap().to_stops();
        assert_close(evenness, truth.evenness.unwrap().to_stops(), 0.01);
        assert!(!curtain.capped);
    }
}

#[test]
fn three_sensors_give_times_travel_and_evenness_from_wide_slits_to_narrow_ones() {
    let places = [3.0, 18.0, 33.0];
    let (report, truth) = measured(&scene(&DIAL, &places), &options(&places));
    assert_right(&report, &truth);
    assert_eq!(report.shots.len(), 27);
    for (release, text) in (1..).zip(DIAL) {
        for channel in 1..=3 {
            let shot = shot_of(&report, release, channel);
            assert_eq!(shot.marked, Some(mark(text)));
            assert_eq!(shot.x_mm, Some(mm(places[usize::from(channel) - 1])));
        }
    }
    let speeds: Vec<Marked> = report.speeds.iter().map(|speed| speed.marked).collect();
    assert_eq!(speeds, DIAL.map(mark));
    assert!(report.speeds.iter().all(|speed| speed.shots == 1));
}

fn is_tailed(report: &Report) -> bool {
    let is_tail = |it: &Finding| matches!(it.what, FindingKind::Tail { .. });
    report.findings.iter().any(is_tail)
}

#[test]
fn an_output_that_falls_late_is_taken_off_times_and_travel() {
    let places = [4.0, 18.0, 32.0];
    let ms = Seconds::ms;
    // How much is held back, and how long, hides behind a whole output.
    for (delay, closing, share, follows, widest) in [
        (0.0, 0.3, 1.0, true, 0.25),
        (0.05, 0.8, 0.2, true, 0.15),
        (0.2, 0.4, 1.0, false, 0.75),
        (0.0, 0.1, 0.5, true, 0.06),
    ] {
        let mut scene = scene(&["1/8", "1/30", "1/60", "1/125", "1/250"], &places);
        for sensor in &mut scene.sensors {
            sensor.chain.tail = Some(Tail {
                delay: ms(delay),
                closing: ms(closing),
                share,
                follows,
            });
        }
        let (report, truth) = measured(&scene, &options(&places));
        assert!(is_tailed(&report), "{delay} {closing} {share}");
        for (curtain, truth) in report.curtains.iter().zip(&truth) {
            for (channel, want) in (1..).zip(&truth.effective) {
                let shot = shot_of(&report, curtain.n, channel);
                let off = (shot.effective_s.unwrap() - *want).abs();
                let most = shot.uncertainty_s.unwrap() * 1.5;
                assert!(
                    off < most,
                    "{closing} {share}: {off:?} of {want:?}, stated {most:?}"
                );
                assert!(
                    off < ms(0.1) && most < ms(widest),
                    "{closing} {share}: {off:?} {most:?}"
                );
            }
            for (got, stated, want) in [
                (
                    curtain.first_travel_s,
                    curtain.first_travel_u_s,
                    truth.first_travel,
                ),
                (
                    curtain.second_travel_s,
                    curtain.second_travel_u_s,
                    truth.second_travel,
                ),
            ] {
                let off = (got.unwrap() - want).abs();
                assert!(
                    off < stated.unwrap() * 1.5,
                    "{closing} {share}: travel {off:?}"
                );
                assert!(off < want * 0.01, "{closing} {share}: travel {off:?}");
            }
        }
    }
}

#[test]
fn a_second_curtain_much_faster_than_the_first_is_no_tail() {
    let places = [4.0, 18.0, 32.0];
    let mut scene = scene(&["1/8", "1/30", "1/60", "1/125"], &places);
    for release in &mut scene.releases {
        release.second = CurtainRun {
            mm_per_ms: 1.3 * FIRST.mm_per_ms,
            mm_per_ms2: 1.69 * FIRST.mm_per_ms2,
        };
    }
    for sensor in &mut scene.sensors {
        sensor.chain.lag = Seconds::ms(0.05);
    }
    let (report, truth) = measured(&scene, &options(&places));
    assert!(!is_tailed(&report));
    assert_right(&report, &truth);
}

#[test]
fn a_slit_narrower_than_the_sensor_borrows_the_level_and_says_so() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/30", "1/1000"], &places);
    scene.releases[1].slit = Seconds::ms(0.7);
    let (report, truth) = measured(&scene, &options(&places));
    assert_right(&report, &truth);
    let wide = shot_of(&report, 1, 1);
    assert!(wide.flags.is_empty(), "{:?}", wide.flags);
    let narrow = shot_of(&report, 2, 1);
    for flag in [Flag::NarrowSlit, Flag::NeverFullyOpen, Flag::E0Borrowed] {
        assert!(narrow.flags.contains(&flag), "{:?}", narrow.flags);
    }
}

#[test]
fn narrow_slits_alone_cannot_be_told() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/1000", "1/1000"], &places);
    for release in &mut scene.releases {
        release.slit = Seconds::ms(0.6);
    }
    for sensor in &mut scene.sensors {
        sensor.width = mm(3.5);
    }
    let (report, _) = measured(&scene, &options(&places));
    assert_eq!(report.shots.len(), 6);
    for shot in &report.shots {
        assert_eq!(shot.effective_s, None);
        for flag in [Flag::E0Unknown, Flag::CannotTell] {
            assert!(shot.flags.contains(&flag), "{:?}", shot.flags);
        }
    }
}

#[test]
fn the_direction_is_found_from_the_light() {
    let places = [3.0, 18.0, 33.0];
    let back = places.map(|x| GATE_MM - x);
    let mut scene = scene(&["1/60", "1/500"], &places);
    for release in &mut scene.releases {
        release.second.mm_per_ms2 = 0.17;
    }
    let (ahead, truth) = measured(&scene, &options(&places));
    let (reversed, _) = measured(&scene, &options(&back));
    assert_right(&ahead, &truth);
    assert_right(&reversed, &truth);
    let first_place = |report: &Report| report.curtains[0].positions[0].x_mm;
    assert_eq!(first_place(&ahead), mm(3.0));
    assert_eq!(first_place(&reversed), mm(3.0));
}

#[test]
fn one_sensor_gives_times_and_no_curtains_and_two_give_mean_speeds() {
    let one = scene(&["1/30", "1/250"], &[18.0]);
    let (report, truth) = measured(
        &one,
        &Options {
            sensors_mm: Vec::new(),
            ..options(&[])
        },
    );
    for (curtain, truth) in report.curtains.iter().zip(&truth) {
        let shot = shot_of(&report, curtain.n, 1);
        let error = shot.effective_s.unwrap().error_against(truth.effective[0]);
        assert_close(error.unwrap().to_stops(), 0.0, 0.003);
        assert_eq!(shot.x_mm, Some(mm(18.0)));
        assert_eq!(curtain.first_travel_s, None);
        assert_eq!(curtain.evenness_stops, None);
    }
    let places = [4.0, 32.0];
    let (report, truth) = measured(&scene(&["1/30", "1/250"], &places), &options(&places));
    for (curtain, truth) in report.curtains.iter().zip(&truth) {
        let got = curtain.first_travel_s.unwrap();
        let u = curtain.first_travel_u_s.unwrap();
        assert_close(got.to_ms(), truth.first_travel.to_ms(), u.to_ms());
    }
}

#[test]
fn capping_is_found_and_placed() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/30", "1/60", "1/1000", "1/500"], &places);
    let faster = CurtainRun {
        mm_per_ms: 2.45,
        mm_per_ms2: 0.165,
    };
    for release in &mut scene.releases {
        release.second = faster;
    }
    scene.releases[2].slit = Seconds::ms(0.7);
    scene.releases[3].slit = Seconds::ms(2.6);
    let (report, truth) = measured(&scene, &options(&places));
    let want = truth[2].capped_from.expect("the third closes").to_mm();
    assert!((18.0..33.0).contains(&want), "{want}");
    let capped = &report.curtains[2];
    assert!(capped.capped);
    assert_close(capped.capped_from_mm.unwrap().to_mm(), want, 1.0);
    assert_eq!(capped.evenness_stops, None);
    let dark = shot_of(&report, 3, 3);
    assert_eq!(dark.effective_s, None);
    assert_eq!(dark.flags, [Flag::Capped, Flag::CannotTell]);
    for n in [0, 1, 3] {
        assert!(!report.curtains[n].capped, "{n}");
        assert!(report.curtains[n].evenness_stops.is_some(), "{n}");
    }
}

#[test]
fn a_second_curtain_that_springs_back_is_flagged_and_its_light_counted() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/8", "1/60", "1/500"], &places);
    for release in &mut scene.releases {
        release.bounce = Some(CurtainBounce {
            depth: mm(5.0),
            lasting: Seconds::ms(2.5),
        });
    }
    let (report, truth) = measured(&scene, &options(&places));
    assert_right(&report, &truth);
    for release in 1..=3 {
        assert!(shot_of(&report, release, 3).flags.contains(&Flag::Bounce));
        assert!(!shot_of(&report, release, 1).flags.contains(&Flag::Bounce));
    }
}

#[test]
fn a_rebound_as_bright_as_a_fast_release_is_taken_neither_for_its_closing_nor_for_its_mark() {
    // The nearer of the two to the middle of the gate is the one that the rebound lights.
    let places = [4.0, 31.0];
    let mut scene = scene(
        &["1/30", "1/60", "1/125", "1/250", "1/500", "1/1000"],
        &places,
    );
    for release in &mut scene.releases {
        release.bounce = Some(CurtainBounce {
            depth: mm(10.0),
            lasting: Seconds::ms(6.0),
        });
    }
    let (report, truth) = measured(&scene, &options(&places));
    assert_eq!(report.shots.len(), 12);
    for (truth, text) in truth
        .iter()
        .zip(["1/30", "1/60", "1/125", "1/250", "1/500", "1/1000"])
    {
        let near = |shot: &&Shot| {
            let uncovered = truth.uncovered.iter().map(|it| it.to_s());
            uncovered
                .into_iter()
                .any(|it| (shot.start_s.to_s() - it).abs() < 2e-3)
        };
        for shot in report.shots.iter().filter(near) {
            let want = truth.effective[usize::from(shot.channel) - 1];
            let error = shot.effective_s.unwrap().error_against(want).unwrap();
            assert_close(error.to_stops(), 0.0, 0.004);
            assert_eq!(shot.flags.contains(&Flag::Bounce), shot.channel == 2);
            assert_eq!(shot.marked, Some(mark(text)));
        }
        assert_eq!(report.shots.iter().filter(near).count(), 2);
    }
}

#[test]
fn a_dead_sensor_is_left_out_and_said_to_be() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/30", "1/250"], &places);
    scene.sensors[1].chain.gain = 0.0;
    let (report, truth) = measured(&scene, &options(&places));
    let dead: Vec<Option<u16>> = report
        .findings
        .iter()
        .filter(|finding| finding.what == FindingKind::DeadChannel)
        .map(|finding| finding.channel)
        .collect();
    assert_eq!(dead, [Some(2)]);
    assert_eq!(report.shots.len(), 4);
    let error = shot_of(&report, 2, 3).effective_s.unwrap();
    let error = error.error_against(truth[1].effective[2]).unwrap();
    assert_close(error.to_stops(), 0.0, 0.004);
}

#[test]
fn the_sensors_must_fit_the_channels_and_the_gate() {
    let places = [3.0, 18.0, 33.0];
    let take = scene(&["1/30"], &places).record();
    let recording = take.into_recording("made.wav").unwrap();
    let refused = |places: &[f64], gate: f64| {
        let options = Options {
            gate_mm: Some(mm(gate)),
            ..options(places)
        };
        match shutter::analyse(std::slice::from_ref(&recording), &options) {
            Err(ShutterError::Option { option, .. }) => option,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(refused(&[3.0, 33.0], 36.0), "--sensors-mm");
    assert_eq!(refused(&[3.0, 3.0, 33.0], 36.0), "--sensors-mm");
    assert_eq!(refused(&[3.0, 18.0, 60.0], 36.0), "--sensors-mm");
    assert_eq!(refused(&[3.0, f64::NAN, 33.0], 36.0), "--sensors-mm");
    assert_eq!(refused(&places, 2.0), "--gate-mm");
    assert_eq!(refused(&places, f64::INFINITY), "--gate-mm");
    let flash = Options {
        flash_channel: Some(9),
        ..options(&places)
    };
    let error = shutter::analyse(std::slice::from_ref(&recording), &flash).unwrap_err();
    assert!(error.to_string().contains("no channel 9"), "{error}");
}

fn contact_chain(inverted: bool) -> Chain {
    Chain {
        lag: Seconds::s(0.0),
        ..chain(0.4, inverted)
    }
}

#[track_caller]
fn assert_flash(got: &Flash, delay_ms: f64, open_after_ms: f64) {
    let u = got.uncertainty_s.unwrap().to_ms();
    assert!((0.01..=0.12).contains(&u), "{u}");
    assert_close(got.delay_s.unwrap().to_ms(), delay_ms, u);
    assert_close(got.open_after_s.unwrap().to_ms(), open_after_ms, u);
    assert_eq!(got.fully_open, Some(true));
}

#[test]
fn a_flash_contact_is_held_against_the_curtains() {
    let places = [3.0, 18.0, 33.0];
    let full = FIRST.seconds_to(mm(GATE_MM)).unwrap() * 1e3;
    for inverted in [false, true] {
        let mut scene = scene(&["1/15", "1/30", "1/60", "1/500", "1/8"], &places);
        scene.contact = Some(contact_chain(inverted));
        let at = [full + 0.4, full - 17.0, full - 0.3, full + 0.2];
        for (release, at) in scene.releases.iter_mut().zip(at) {
            release.contact = Some(Contact {
                at: Seconds::ms(at),
                chatter: 2,
                ..Contact::default()
            });
        }
        let options = Options {
            flash_channel: Some(4),
            ..options(&places)
        };
        let (report, truth) = measured(&scene, &options);
        assert_eq!(report.flash.len(), 5);
        for (got, truth) in report.flash.iter().zip(&truth).take(3) {
            let want = truth.flash.unwrap();
            assert_flash(got, want.delay.to_ms(), want.open_after.to_ms());
        }
        let narrow = &report.flash[3];
        assert_eq!(narrow.fully_open, Some(false));
        assert!(narrow.contact_s.is_some());
        assert_eq!((narrow.delay_s, narrow.open_after_s), (None, None));
        let open = &report.flash[4];
        assert_eq!((open.contact_s, open.delay_s), (None, None));
        assert_right(&report, &truth);
    }
}

#[test]
fn a_flash_contact_is_held_against_a_leaf_shutter() {
    let light = Scene {
        shutter: LeafShutter::default(),
        firings: vec![
            Firing::new(Seconds::s(0.5), Seconds::ms(30.0)),
            Firing::new(Seconds::s(1.5), Seconds::ms(8.0)),
            Firing::new(Seconds::s(2.5), Seconds::ms(0.5)),
        ],
        chain: chain(0.5, false),
        lasting: Seconds::s(3.5),
        seed: 4,
    };
    let take = light.record();
    // Where the blades' opening of a firing reaches 98 %, by the shutter's own geometry.
    let shutter = light.shutter;
    let part = (0..=100_000)
        .map(|i| f64::from(i) * 1e-5)
        .find(|part| shutter.open_area(*part) >= 0.98)
        .unwrap();
    let opens = shutter.opening.to_s() * part;
    let contacts: Vec<Contact> = [(0.5, 16.0e-3), (1.5, -0.5e-3), (2.5, 0.0)]
        .map(|(at, lead)| Contact {
            at: Seconds::s(at + opens - lead),
            chatter: 1,
            ..Contact::default()
        })
        .to_vec();
    let closing = record_contacts(&contact_chain(true), light.lasting, 9, &contacts);
    let rate = take.sample_rate;
    let recording = Recording::from_channels("made.wav", rate, vec![closing, take.samples]);
    let options = Options {
        speeds: vec![mark("1/30"), mark("1/125"), mark("1/1000")],
        clock_ppm: Some(0.0),
        flash_channel: Some(1),
        ..Options::default()
    };
    let report = shutter::analyse(&[recording.unwrap()], &options).unwrap();
    assert_eq!(report.shots.len(), 3);
    assert!(report.shots.iter().all(|shot| shot.channel == 2));
    let closes = |at: f64, effective: f64| {
        // Both flanks have the same form, so that the areas under them go as their lengths.
        let mean: f64 = (0..10_000)
            .map(|i| shutter.open_area((f64::from(i) + 0.5) * 1e-4))
            .sum::<f64>()
            * 1e-4;
        let flanks = (shutter.opening + shutter.closing).to_s();
        let dwell = effective - flanks * mean;
        at + shutter.opening.to_s() + dwell + shutter.closing.to_s() * (1.0 - part)
    };
    let after =
        |i: usize, at: f64, effective: f64| 1e3 * (closes(at, effective) - contacts[i].at.to_s());
    assert_flash(&report.flash[0], 16.0, after(0, 0.5, 0.03));
    assert_flash(&report.flash[1], -0.5, after(1, 1.5, 0.008));
    let partly = &report.shots[2];
    assert!(partly.flags.contains(&Flag::NeverFullyOpen), "{partly:?}");
    assert_eq!(report.flash[2].fully_open, Some(false));
    assert_eq!(report.flash[2].delay_s, None);
}

#[test]
fn a_stored_report_with_curtains_and_flash_reads_back_equal() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/30"], &places);
    scene.contact = Some(contact_chain(false));
    scene.releases[0].contact = Some(Contact {
        at: Seconds::ms(14.0),
        ..Contact::default()
    });
    let options = Options {
        flash_channel: Some(4),
        ..options(&places)
    };
    let (report, _) = measured(&scene, &options);
    let json = serde_json::to_string(&report).unwrap();
    let back: Report = serde_json::from_str(&json).unwrap();
    assert_eq!(back, report);
    let older = r#"{"n":1,"first_travel_s":0.01,"second_travel_s":null,"evenness_stops":0.1,
        "evenness_sensors_stops":null,"positions":[],"capped":false}"#;
    let curtain: Curtain = serde_json::from_str(older).unwrap();
    assert_eq!(curtain.first_travel_u_s, None);
    let older = r#"{"n":1,"delay_s":0.01,"open_after_s":0.02}"#;
    let flash: Flash = serde_json::from_str(older).unwrap();
    assert_eq!((flash.fully_open, flash.uncertainty_s), (None, None));
}

#[test]
fn the_light_of_a_slit_about_to_close_is_no_click() {
    let places = [3.0, 18.0, 33.0];
    let mut scene = scene(&["1/60", "1/125", "1/1000", "1/1000"], &places);
    for release in &mut scene.releases[2..] {
        // The second curtain gains on the first and all but reaches it at the far sensor.
        release.second.mm_per_ms2 = 0.22;
        let far = mm(places[2]);
        let times = release
            .first
            .seconds_to(far)
            .zip(release.second.seconds_to(far));
        let (first, second) = times.unwrap();
        release.slit = Seconds::s(first - second + 0.15e-3);
    }
    for sensor in &mut scene.sensors {
        sensor.width = mm(0.5);
    }
    let (report, truth) = measured(&scene, &options(&places));
    for release in [3, 4] {
        let shot = shot_of(&report, release, 3);
        let want = truth[release as usize - 1].effective[2];
        let off = (shot.effective_s.unwrap() - want).abs();
        assert!(
            off.to_s() <= shot.uncertainty_s.unwrap().to_s() + 2e-6,
            "{off:?}"
        );
        let crossing = truth[release as usize - 1].uncovered[2];
        assert!((shot.start_s - crossing).abs().to_ms() < 1.0, "{shot:?}");
    }
    let json = serde_json::to_string(&report.findings).unwrap();
    assert!(!json.contains("\"clicks\""), "{json}");
}

#[test]
fn the_frame_is_told_mark_by_mark_without_struck_releases() {
    let places = [3.0, 18.0, 33.0];
    let (mut report, truth) = measured(
        &scene(&["1/125", "1/125", "1/125", "1/500"], &places),
        &options(&places),
    );
    for shot in report.shots.iter_mut().filter(|it| it.release == 2) {
        shot.struck = true;
    }
    let frames = frames_by_mark(&report);
    let told: Vec<(Marked, u32)> = frames.iter().map(|it| (it.marked, it.releases)).collect();
    assert_eq!(told, [(mark("1/125"), 2), (mark("1/500"), 1)]);
    let first = frames[0].first_travel.unwrap();
    assert_close(first.mean.to_ms(), truth[0].first_travel.to_ms(), 0.05);
    assert!(first.uncertainty.is_some_and(|u| u.to_ms() > 0.0));
    assert_close(
        frames[0].evenness.unwrap().mean.to_stops(),
        truth[0].evenness.unwrap().to_stops(),
        0.01,
    );
    for (position, want) in frames[0].positions.iter().zip(&truth[0].effective) {
        assert_close(position.effective_s.unwrap().to_ms(), want.to_ms(), 0.02);
    }
    assert_eq!((frames[0].positions.len(), frames[0].capped), (3, 0));
    let centre = at_centre(&report, &options(&places));
    assert_eq!(centre.len(), 4);
    assert!(centre.iter().all(|it| it.x_mm == Some(mm(18.0))));
    assert_eq!(flash_by_mark(&report), []);
}
