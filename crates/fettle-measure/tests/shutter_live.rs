//! Listening to sessions as they are recorded.
#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by ending"
)]

use fettle_measure::shutter::live::{HearError, Heard, Listener};
use fettle_measure::shutter::{Flag, Options, Report, analyse};
use fettle_measure::synth::{Chain, Firing, Flicker, Hum, LeafShutter, Scene, Swing, Take};
use fettle_measure::{Decibels, Hertz, Marked, Recording, Seconds};
use proptest::prelude::*;

const RATE: f64 = 48_000.0;
/// Frames of one block as a browser sends them: 21 ms.
const BLOCK: usize = 1024;

fn dial() -> Vec<Marked> {
    [
        "1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/250", "1/500",
    ]
    .iter()
    .map(|mark| mark.parse().unwrap())
    .collect()
}

fn options() -> Options {
    Options {
        speeds: dial(),
        ..Options::default()
    }
}

fn chain() -> Chain {
    Chain {
        coupling: Some(Hertz::hz(4.0)),
        hum: Some(Hum {
            hz: Hertz::hz(50.0),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![0.012, 0.004, 0.006],
        }),
        snr: Some(Decibels::db(46.0)),
        gain: 0.42,
        ..Chain::default()
    }
}

/// The marks given, one shot each and each off by a tenth of a stop, with a pause in between.
fn session(marks: &[Marked], pause: f64, chain: Chain) -> Take {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for (n, mark) in marks.iter().enumerate() {
        let off = 0.1 * if n % 2 == 0 { 1.0 } else { -1.0 };
        let time = mark.nominal(fettle_measure::Series::Marked).to_s() * f64::exp2(off);
        firings.push(Firing::new(Seconds::s(at), Seconds::s(time)));
        at += time + pause;
    }
    let lasting = Seconds::s(at + 1.5);
    Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting,
        seed: 21,
    }
    .record()
}

/// Feeds the samples of one channel block by block; gives each first hearing of a shot with the number
/// of samples heard by then.
fn listen(listener: &mut Listener, samples: &[f32]) -> Vec<(f64, u64)> {
    let mut shots = Vec::new();
    for block in samples.chunks(BLOCK) {
        for heard in listener.hear(listener.samples(), block).unwrap() {
            if let Heard::Shot { start_s } = heard {
                shots.push((start_s.to_s(), listener.samples()));
            }
        }
    }
    shots
}

fn listener() -> Listener {
    Listener::new(Hertz::hz(RATE), 1, options()).unwrap()
}

fn off_by(report: &Report, place: usize, truth: Seconds) -> f64 {
    let time = report.shots[place].effective_s.unwrap();
    time.error_against(truth).unwrap().to_stops()
}

#[test]
fn each_shot_is_heard_once_and_soon_after_it_closes() {
    let take = session(&dial(), 1.2, chain());
    let mut listener = listener();
    let heard = listen(&mut listener, &take.samples);
    assert_eq!(heard.len(), take.truth.len());
    for ((start, samples), truth) in heard.iter().zip(&take.truth) {
        assert!((start - truth.start.to_s()).abs() < 2e-3, "{start}");
        let closed = truth.start.to_s() + truth.total.to_s();
        let later = *samples as f64 / RATE - closed;
        assert!(
            (0.03..0.13).contains(&later),
            "heard {later} s after closing"
        );
    }
}

#[test]
fn times_and_marks_are_those_of_the_whole_recording() {
    for pause in [0.35, 1.4] {
        let take = session(&dial(), pause, chain());
        let mut listener = listener();
        listen(&mut listener, &take.samples);
        let live = listener.report("live.wav");
        let whole = analyse(
            &[take.clone().into_recording("live.wav").unwrap()],
            &options(),
        )
        .unwrap();
        assert_eq!(live.shots.len(), whole.shots.len());
        for (place, truth) in take.truth.iter().enumerate() {
            assert_eq!(live.shots[place].marked, whole.shots[place].marked);
            let (here, there) = (
                off_by(&live, place, truth.effective),
                off_by(&whole, place, truth.effective),
            );
            assert!(
                here.abs() < 0.02,
                "shot {place} is {here} stops off, {there} in the whole"
            );
        }
        assert_eq!(live.speeds.len(), dial().len());
    }
}

#[test]
fn a_top_speed_fired_first_is_measured_once_a_slower_one_has_shown_the_light() {
    let marks: Vec<Marked> = ["1/500", "1/500", "1/25"]
        .iter()
        .map(|mark| mark.parse().unwrap())
        .collect();
    let shutter = LeafShutter {
        opening: Seconds::ms(4.5),
        closing: Seconds::ms(4.5),
        ..LeafShutter::default()
    };
    let firings = (0..3).map(|n| {
        let time = marks[n].nominal(fettle_measure::Series::Marked).to_s();
        Firing::new(
            Seconds::s(0.8 + 1.6 * n as f64),
            Seconds::s(if n < 2 { 0.0016 } else { time }),
        )
    });
    let scene = Scene {
        shutter,
        firings: firings.collect(),
        chain: chain(),
        lasting: Seconds::s(6.0),
        seed: 5,
    };
    let take = scene.record();
    assert!(take.truth[0].peak < 0.95, "{}", take.truth[0].peak);
    let mut listener = listener();
    let mut told_before = Vec::new();
    for block in take.samples.chunks(BLOCK) {
        listener.hear(listener.samples(), block).unwrap();
        if listener.samples() as f64 / RATE < 3.9 {
            told_before = listener
                .report("a")
                .shots
                .iter()
                .map(|shot| shot.effective_s.is_some())
                .collect();
        }
    }
    assert_eq!(told_before, [false, false]);
    let report = listener.report("a");
    for place in 0..2 {
        let off = off_by(&report, place, take.truth[place].effective);
        assert!(off.abs() < 0.03, "{off}");
        assert!(report.shots[place].flags.contains(&Flag::E0Borrowed));
    }
}

#[test]
fn a_struck_shot_stays_and_counts_in_no_mean() {
    let mark: Marked = "1/25".parse().unwrap();
    let take = session(&[mark, mark, mark], 1.2, chain());
    let mut listener = listener();
    let heard = listen(&mut listener, &take.samples);
    assert!(listener.strike(Seconds::s(heard[1].0), true));
    assert!(!listener.strike(Seconds::s(99.0), true));
    let report = listener.report("a");
    assert_eq!(report.shots.len(), 3);
    assert!(report.shots[1].struck);
    assert_eq!(report.speeds[0].shots, 2);
    let mean = report.speeds[0].mean_s.to_s();
    let counted = (take.truth[0].effective.to_s() + take.truth[2].effective.to_s()) / 2.0;
    assert!((mean / counted - 1.0).abs() < 2e-3, "{mean} {counted}");

    let whole = take.clone().into_recording("a").unwrap();
    let said = Options {
        said: listener.said(),
        ..options()
    };
    let whole = analyse(&[whole], &said).unwrap();
    assert_eq!(
        whole
            .shots
            .iter()
            .map(|shot| shot.struck)
            .collect::<Vec<_>>(),
        [false, true, false]
    );
    assert_eq!(whole.speeds[0].shots, 2);

    assert!(listener.strike(Seconds::s(heard[1].0), false));
    assert_eq!(listener.report("a").speeds[0].shots, 3);
}

#[test]
fn the_mark_that_was_said_stands() {
    let take = session(&["1/50".parse().unwrap()], 1.2, chain());
    let mut listener = listener();
    let slower: Marked = "1/25".parse().unwrap();
    listener.fire_at(Some(slower));
    listen(&mut listener, &take.samples);
    let report = listener.report("a");
    assert_eq!(report.shots[0].marked, Some(slower));
    assert!(report.shots[0].told);
    assert!((report.shots[0].error_stops.unwrap().to_stops() + 0.9).abs() < 0.02);
    let said = Options {
        said: listener.said(),
        ..options()
    };
    let whole = analyse(&[take.into_recording("a").unwrap()], &said).unwrap();
    assert_eq!(whole.shots[0].marked, Some(slower));
}

#[test]
fn lost_samples_are_noticed_and_spoil_only_their_shot() {
    let mark: Marked = "1/10".parse().unwrap();
    let take = session(&[mark, mark, mark], 1.2, chain());
    let mut listener = listener();
    let middle = ((take.truth[1].start.to_s() + 0.05) * RATE) as usize;
    let mut lost = 0;
    for (n, block) in take.samples.chunks(BLOCK).enumerate() {
        let first = n * BLOCK;
        if (first..first + BLOCK).contains(&middle) {
            continue;
        }
        for heard in listener.hear(first as u64, block).unwrap() {
            if let Heard::Lost { samples } = heard {
                lost += samples;
            }
        }
    }
    assert_eq!((lost, listener.lost()), (BLOCK as u64, BLOCK as u64));
    let report = listener.report("a");
    assert_eq!(report.shots.len(), 3);
    assert_eq!(report.shots[1].effective_s, None);
    for place in [0, 2] {
        let off = off_by(&report, place, take.truth[place].effective);
        assert!(off.abs() < 0.01, "{off}");
    }
}

#[test]
fn shots_that_a_told_loss_touches_stay_untold_whenever_it_is_told() {
    let mark: Marked = "1/10".parse().unwrap();
    let take = session(&[mark, mark, mark], 1.2, chain());
    let at = |n: usize| ((take.truth[n].start.to_s() + 0.05) * RATE) as u64;
    let mut listener = listener();
    let mut told_before = false;
    for block in take.samples.chunks(BLOCK) {
        let first = listener.samples();
        listener.hear(first, block).unwrap();
        // The first loss is told when its shot has long been measured, the other as it comes.
        if !told_before && listener.samples() > at(1) {
            assert!(listener.report("a").shots[0].effective_s.is_some());
            assert!(listener.miss(at(0), at(0) + 480));
            assert!(listener.miss(at(1), at(1) + 480));
            told_before = true;
        }
    }
    assert!(!listener.miss(listener.samples() + 1, listener.samples() + 2));
    let report = listener.report("a");
    let told: Vec<bool> = report
        .shots
        .iter()
        .map(|it| it.effective_s.is_some())
        .collect();
    assert_eq!(told, [false, false, true]);
    assert!(report.shots[0].flags.contains(&Flag::LostSamples));
    let options = Options {
        lost: listener.missing(),
        ..options()
    };
    let recording = Recording::from_channels("a", Hertz::hz(RATE), vec![take.samples]).unwrap();
    let kept = analyse(&[recording], &options).unwrap();
    let told: Vec<bool> = kept
        .shots
        .iter()
        .map(|it| it.effective_s.is_some())
        .collect();
    assert_eq!(told, [false, false, true]);
}

#[test]
fn a_lamp_switched_on_does_not_make_the_listener_deaf() {
    let mark: Marked = "1/50".parse().unwrap();
    let dark = Chain {
        coupling: None,
        ..chain()
    };
    let mut take = session(&[mark, mark], 1.2, dark);
    let lamp = (0.3 * RATE) as usize;
    let mut samples = vec![0.0; (4.0 * RATE) as usize];
    samples.append(&mut take.samples);
    for sample in samples.iter_mut().skip(lamp) {
        *sample += 0.05;
    }
    let mut listener = listener();
    let heard = listen(&mut listener, &samples);
    assert_eq!(heard.len(), 2);
}

#[test]
fn a_counter_that_jumps_back_or_far_ahead_is_refused() {
    let mut listener = listener();
    listener.hear(0, &[0.0; 64]).unwrap();
    assert_eq!(
        listener.hear(10, &[0.0; 64]),
        Err(HearError::Counter { from: 64, to: 10 })
    );
    assert!(listener.hear(u64::MAX, &[0.0]).is_err());
    assert!(
        Listener::new(Hertz::hz(RATE), 2, options())
            .unwrap()
            .hear(0, &[0.0; 3])
            .is_err()
    );
    assert!(Listener::new(Hertz::hz(1.0), 1, options()).is_err());
    assert!(Listener::new(Hertz::hz(RATE), 9, options()).is_err());
}

#[test]
fn two_channels_are_heard_in_step() {
    let take = session(&dial()[3..6], 1.2, chain());
    let frames: Vec<f32> = take
        .samples
        .iter()
        .flat_map(|sample| [0.0, *sample])
        .collect();
    let mut listener = Listener::new(Hertz::hz(RATE), 2, options()).unwrap();
    listen(&mut listener, &frames);
    let report = listener.report("a");
    assert_eq!(report.shots.len(), 3);
    assert!(report.shots.iter().all(|shot| shot.channel == 2));
    let channels = vec![vec![0.0; take.samples.len()], take.samples];
    let whole = Recording::from_channels("a", Hertz::hz(RATE), channels).unwrap();
    assert_eq!(analyse(&[whole], &options()).unwrap().shots.len(), 3);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]
    #[test]
    fn any_samples_are_listened_to(
        blocks in prop::collection::vec((prop::collection::vec(prop::num::f32::ANY, 0..1500), 0_u64..9000), 1..24),
        channels in 1_usize..4,
    ) {
        let mut listener = Listener::new(Hertz::hz(8000.0), channels, options()).unwrap();
        for (mut frames, gap) in blocks {
            frames.truncate(frames.len() / channels * channels);
            let first = listener.samples() + gap;
            prop_assert!(listener.hear(first, &frames).is_ok());
            prop_assert!(listener.report("a").shots.len() < 200);
        }
    }
}

#[test]
fn a_lamp_that_swings_is_in_the_budget_while_listening() {
    let chain = Chain {
        flicker: Some(Flicker {
            hz: Hertz::hz(100.0),
            wanders: Hertz::hz(0.0),
            depth: 0.1,
            form: Swing::Sine,
        }),
        ..chain()
    };
    let marks: Vec<Marked> = ["1/2", "1/10", "1/50", "1/100", "1/250"]
        .iter()
        .map(|mark| mark.parse().unwrap())
        .collect();
    let take = session(&marks, 1.3, chain);
    let mut listener = listener();
    listen(&mut listener, &take.samples);
    let report = listener.report("session");
    assert_eq!(report.shots.len(), marks.len());
    for (shot, truth) in report.shots.iter().zip(&take.truth) {
        let (told, stated) = (shot.effective_s.unwrap(), shot.uncertainty_s.unwrap());
        let off = (told.to_s() - truth.effective.to_s()).abs();
        assert!(off <= 1.5 * stated.to_s(), "{off} of {stated:?}");
        let (flicker, time) = (shot.budget.flicker_s.to_s(), truth.effective.to_s());
        let whole = 0.1 * time;
        assert!((1e-5..whole).contains(&flicker), "{flicker} of {time}");
    }
}
