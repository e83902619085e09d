//! How soon after its closing a shot is shown: samples waited for, and the work on them.
#![expect(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a bench prints its table, and one whose answer is wrong has no meaning"
)]

use std::time::Instant;

use fettle_measure::shutter::Options;
use fettle_measure::shutter::live::{Heard, Listener};
use fettle_measure::synth::{Chain, Firing, Hum, LeafShutter, Scene};
use fettle_measure::{Decibels, Hertz, Marked, Seconds};

const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];
/// Frames of one block: what a browser sends at a time.
const BLOCK: usize = 1024;
const SHOTS: usize = 40;

fn main() {
    println!("milliseconds from a shot's closing to its being measured, over {SHOTS} shots");
    println!(
        "{:>8} {:>9} {:>8} {:>8} {:>8} {:>9}",
        "rate Hz", "channels", "median", "95 %", "worst", "of work"
    );
    for (rate, channels) in [(44_100.0, 1), (48_000.0, 2), (96_000.0, 2), (192_000.0, 2)] {
        let mut delays = delays(rate, channels);
        assert_eq!(delays.len(), SHOTS, "every shot is heard once");
        let work = delays.iter().map(|it| it.1).fold(0.0, f64::max);
        delays.sort_by(|a, b| a.0.total_cmp(&b.0));
        let at = |part: f64| {
            delays
                .get((part * (SHOTS - 1) as f64) as usize)
                .map_or(f64::NAN, |it| 1e3 * it.0)
        };
        println!(
            "{rate:>8.0} {channels:>9} {:>8.0} {:>8.0} {:>8.0} {:>9.0}",
            at(0.5),
            at(0.95),
            at(1.0),
            1e3 * work
        );
    }
}

/// For each shot the seconds from closing until it was told, and those of them spent on the work.
fn delays(rate: f64, channels: usize) -> Vec<(f64, f64)> {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for shot in 0..SHOTS {
        let time = 1.1 / f64::from(DIAL[shot % DIAL.len()]);
        firings.push(Firing::new(Seconds::s(at), Seconds::s(time)));
        at += time + 0.9;
    }
    let chain = Chain {
        sample_rate: Hertz::hz(rate),
        coupling: Some(Hertz::hz(3.0)),
        hum: Some(Hum {
            hz: Hertz::hz(50.02),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![0.02, 0.01, 0.01],
        }),
        snr: Some(Decibels::db(50.0)),
        ..Chain::default()
    };
    let scene = Scene {
        shutter: LeafShutter::default(),
        firings,
        chain,
        lasting: Seconds::s(at),
        seed: 3,
    };
    let take = scene.record();
    let speeds = DIAL
        .iter()
        .filter_map(|mark| Marked::fraction(1, *mark))
        .collect();
    let options = Options {
        speeds,
        ..Options::default()
    };
    let mut listener =
        Listener::new(Hertz::hz(rate), channels, options).expect("it can be listened to");
    let mut delays = Vec::new();
    for block in take.samples.chunks(BLOCK) {
        let frames: Vec<f32> = block
            .iter()
            .flat_map(|sample| (0..channels).map(move |channel| sample / (channel + 1) as f32))
            .collect();
        let begun = Instant::now();
        let heard = listener
            .hear(listener.samples(), &frames)
            .expect("the counter is even");
        let new = heard
            .iter()
            .filter(|it| matches!(it, Heard::Shot { .. }))
            .count();
        let report = (new > 0).then(|| listener.report("live"));
        let work = begun.elapsed().as_secs_f64();
        if report.is_some() {
            let closed = take.truth.get(delays.len()).expect("no shot is invented");
            let closed = closed.start.to_s() + closed.total.to_s();
            let waited = listener.samples() as f64 / rate - closed;
            delays.extend((0..new).map(|_| (waited + work, work)));
        }
    }
    delays
}
