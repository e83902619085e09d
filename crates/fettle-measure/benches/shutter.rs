//! How long a minute's recording takes to measure, under weak hum and under hum that drowns the flanks.
#![expect(
    clippy::expect_used,
    reason = "a bench whose answer is wrong has no meaning"
)]

use fettle_measure::shutter::{self, Options};
use fettle_measure::synth::{Chain, Firing, Hum, LeafShutter, Scene, Truth};
use fettle_measure::{Decibels, Hertz, Marked, Recording, Seconds};

const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];

fn main() {
    divan::main();
}

/// 60 s at 48 kHz with 25 shots, coupled, noisy, with hum of this part of the light.
fn minute(hum: f64) -> (Recording, Vec<Truth>) {
    let firings = (0..25)
        .map(|i| {
            let at = Seconds::s(0.7 + 2.35 * f64::from(i));
            Firing::new(at, Seconds::s(1.1 / f64::from(DIAL[i as usize % 10])))
        })
        .collect();
    let chain = Chain {
        coupling: Some(Hertz::hz(3.0)),
        hum: Some(Hum {
            hz: Hertz::hz(50.02),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![hum, 0.5 * hum, 0.5 * hum],
        }),
        snr: Some(Decibels::db(50.0)),
        ..Chain::default()
    };
    let lasting = Seconds::s(60.0);
    let scene = Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting,
        seed: 11,
    };
    let take = scene.record();
    let truth = take.truth.clone();
    (
        take.into_recording("minute.wav")
            .expect("the rate is an ordinary one"),
        truth,
    )
}

#[divan::bench(sample_count = 20, args = [0.02, 0.2])]
fn a_minute_of_25_shots(bencher: divan::Bencher<'_, '_>, hum: f64) {
    let (recording, truth) = minute(hum);
    let speeds = DIAL
        .iter()
        .filter_map(|mark| Marked::fraction(1, *mark))
        .collect();
    let options = Options {
        speeds,
        ..Options::default()
    };
    let session = [recording];
    bencher.bench_local(|| {
        let report = shutter::analyse(&session, &options).expect("there are shots");
        assert_eq!(report.shots.len(), truth.len());
        for (shot, truth) in report.shots.iter().zip(&truth) {
            let effective = shot.effective_s.expect("every shot can be told");
            let error = effective
                .error_against(truth.effective)
                .expect("both are positive");
            assert!(error.abs().to_stops() < 0.01, "{error:?}");
        }
        report
    });
}
