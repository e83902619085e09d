//! Times told by sound against the truth: `cargo run --release --example sound [EACH] [GROUP] [FIRST SEED]`.
#![expect(clippy::print_stdout, reason = "an example prints its table")]

use std::collections::BTreeMap;

use fettle_measure::shutter::{self, Kind, Options, Sense};
use fettle_measure::synth::{Hum, Room, SoundCamera, SoundFiring, SoundKind, SoundOf, SoundScene};
use fettle_measure::{Decibels, Hertz, Marked, Recording, Seconds};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];
const GROUPS: [&str; 17] = [
    "leaf",
    "leaf-bare",
    "leaf-single",
    "fast-single",
    "noisy",
    "echoes",
    "alike",
    "mirror",
    "mirror-single",
    "mirror-slow",
    "mirror-fast",
    "curtains",
    "cocking",
    "knocks",
    "hard-knocks",
    "speech",
    "close",
];
const REFUSED: [&str; 6] = [
    "silence",
    "hum",
    "noise",
    "speech-only",
    "music",
    "knocks-only",
];

struct Draw(ChaCha8Rng);

impl Draw {
    fn next(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

fn camera(group: &str, draw: &mut Draw) -> SoundCamera {
    let kind = match group {
        _ if group.starts_with("mirror") => SoundKind::Mirror,
        "curtains" => SoundKind::Curtains,
        _ => SoundKind::Leaf,
    };
    let travel = match kind {
        SoundKind::Leaf => draw.between(1.5, 5.0),
        _ => draw.between(2.0, 6.5),
    };
    let silent = group == "leaf-bare" || draw.next() < 0.3;
    SoundCamera {
        kind,
        travel: Seconds::ms(travel),
        escapement: (!silent).then(|| Decibels::db(draw.between(-30.0, -10.0))),
        mirror_up: Seconds::ms(draw.between(25.0, 110.0)),
        mirror_down: Seconds::ms(draw.between(20.0, 90.0)),
        cocking: (group == "cocking").then(|| Seconds::s(draw.between(0.25, 1.4))),
        level_spread: Decibels::db(draw.between(0.5, 3.0)),
        closing_level: Decibels::db(draw.between(-8.0, 6.0)),
    }
}

fn room(group: &str, draw: &mut Draw) -> Room {
    let mut room = Room {
        sample_rate: Hertz::hz(
            [44_100.0, 48_000.0, 96_000.0, 22_050.0][(draw.next() * 3.3) as usize],
        ),
        bits: [Some(16), Some(24), None][(draw.next() * 3.0) as usize],
        gain: draw.between(0.05, 0.6),
        noise: Decibels::db(if group == "noisy" {
            draw.between(-45.0, -20.0)
        } else {
            draw.between(-65.0, -40.0)
        }),
        rumble: (draw.next() < 0.7).then(|| Decibels::db(draw.between(-50.0, -25.0))),
        hum: (draw.next() < 0.5).then(|| Hum {
            hz: Hertz::hz(50.0),
            amplitudes: vec![draw.between(0.0, 0.1), 0.02, 0.02],
        }),
        ..Room::default()
    };
    room.echoes.clear();
    let count = if group == "echoes" {
        8
    } else {
        (draw.next() * 4.0) as usize
    };
    for _ in 0..count {
        let delay = draw.between(1.0, if group == "echoes" { 70.0 } else { 25.0 });
        let spread = 1.0 / (1.0 + 0.343 * delay / draw.between(0.3, 1.0));
        let sign = if draw.next() < 0.5 { -1.0 } else { 1.0 };
        let factor = if group == "echoes" {
            spread.max(draw.between(0.05, 0.3))
        } else {
            spread
        };
        room.echoes
            .push((Seconds::ms(delay), sign * factor.min(0.6)));
    }
    room.reverberation = Some((
        Decibels::db(draw.between(-45.0, -26.0)),
        Seconds::s(draw.between(0.15, 0.6)),
    ));
    room
}

fn scene(group: &str, seed: u64) -> (SoundScene, Vec<u32>) {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed ^ 0x50_0d));
    let camera = camera(group, &mut draw);
    let mut room = room(group, &mut draw);
    let common = draw.between(-0.5, 0.7);
    let mut marks: Vec<u32> = Vec::new();
    for mark in DIAL {
        let repeats = (draw.next() * 2.4) as usize;
        marks.extend(std::iter::repeat_n(mark, repeats));
    }
    match group {
        "leaf-single" | "mirror-single" => marks = vec![DIAL[(draw.next() * 9.0) as usize]],
        "fast-single" => marks = vec![DIAL[6 + (draw.next() * 4.0) as usize]],
        "mirror-slow" => marks.retain(|mark| *mark <= 4),
        "mirror-fast" => marks.retain(|mark| *mark >= 30),
        _ => {}
    }
    if marks.is_empty() {
        marks.push(2);
    }
    if draw.next() < 0.3 {
        marks.reverse();
    }
    let mut at = draw.between(0.5, 1.5);
    let mut firings = Vec::new();
    for mark in &marks {
        let error = common + draw.between(-0.08, 0.08);
        let lasting = error.exp2() / f64::from(*mark);
        firings.push(SoundFiring {
            at: Seconds::s(at),
            lasting: Seconds::s(lasting),
        });
        let rest = if group == "close" {
            [0.7, 1.3]
        } else {
            [1.3, 3.0]
        };
        at += lasting + draw.between(rest[0], rest[1]);
    }
    if group == "leaf-single" || group == "fast-single" {
        at += 0.5;
    }
    if group.contains("knocks") {
        for _ in 0..=(draw.next() * 4.0) as usize {
            let when = if draw.next() < 0.4 {
                let firing = firings[(draw.next() * firings.len() as f64) as usize];
                firing.at.to_s() + firing.lasting.to_s() * draw.next()
            } else {
                draw.between(0.1, at)
            };
            room.knocks
                .push((Seconds::s(when), Decibels::db(draw.between(-12.0, 8.0))));
        }
        room.hard_knocks = group == "hard-knocks";
    }
    if group == "speech" {
        let from = draw.between(0.0, 0.6 * at);
        let level = Decibels::db(draw.between(-45.0, -22.0));
        room.speech
            .push((Seconds::s(from), Seconds::s(from + 0.3 * at), level));
    }
    if group == "alike" {
        room.hum = None;
    }
    let scene = SoundScene {
        camera,
        firings,
        room,
        lasting: Seconds::s(at),
        seed,
    };
    (scene, marks)
}

/// Recordings that hold no shot.
fn refused(group: &str, seed: u64) -> SoundScene {
    let (mut scene, _) = scene("leaf", seed);
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    scene.firings.clear();
    scene.lasting = Seconds::s(draw.between(4.0, 12.0));
    let lasting = scene.lasting.to_s();
    match group {
        "silence" => {
            scene.room.noise = Decibels::db(-300.0);
            scene.room.rumble = None;
            scene.room.hum = None;
        }
        "hum" => {
            scene.room.noise = Decibels::db(-70.0);
            scene.room.hum = Some(Hum {
                hz: Hertz::hz(60.0),
                amplitudes: vec![0.3, 0.1, 0.1, 0.03, 0.03],
            });
        }
        "speech-only" => {
            let level = Decibels::db(draw.between(-25.0, -8.0));
            scene.room.speech = vec![(Seconds::s(0.3), Seconds::s(lasting - 0.3), level)];
        }
        "knocks-only" => {
            for _ in 0..4 {
                let at = Seconds::s(draw.between(0.2, lasting - 0.3));
                scene.room.knocks.push((at, Decibels::db(0.0)));
            }
        }
        _ => {}
    }
    scene
}

/// Notes with soft attacks and long decays over a beat of noise.
fn music(seed: u64) -> Option<Recording> {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    let rate = 44_100.0;
    let mut samples = vec![0.0_f32; (8.0 * rate) as usize];
    let beat = draw.between(0.25, 0.6);
    let mut at = 0.1;
    while at < 7.5 {
        for _ in 0..3 {
            let hz = 110.0 * (draw.next() * 36.0).floor().mul_add(1.0 / 12.0, 0.0).exp2();
            let level = draw.between(0.02, 0.08);
            let attack = draw.between(0.003, 0.03);
            for (n, sample) in samples
                .iter_mut()
                .skip((at * rate) as usize)
                .take((0.9 * rate) as usize)
                .enumerate()
            {
                let t = n as f64 / rate;
                let swell = (1.0 - (-t / attack).exp()) * (-t / 0.3).exp();
                let tone: f64 = (1..6)
                    .map(|k| (std::f64::consts::TAU * hz * f64::from(k) * t).sin() / f64::from(k))
                    .sum();
                *sample += (level * swell * tone) as f32;
            }
        }
        for (n, sample) in samples
            .iter_mut()
            .skip(((at + 0.5 * beat) * rate) as usize)
            .take((0.2 * rate) as usize)
            .enumerate()
        {
            let fall = (-(n as f64) / rate / 0.04).exp();
            *sample += (0.1 * fall * (draw.next() - 0.5)) as f32;
        }
        at += beat;
    }
    Recording::from_channels("made.wav", Hertz::hz(rate), vec![samples]).ok()
}

#[derive(Default)]
struct Tally {
    onsets: Vec<f64>,
    fired: usize,
    slow: usize,
    told: usize,
    wrong: usize,
    inside: usize,
    shots: usize,
    refused: usize,
}

fn options(kind: SoundKind) -> Options {
    Options {
        sense: Sense::Sound,
        kind: if kind == SoundKind::Leaf {
            Kind::Leaf
        } else {
            Kind::FocalPlane
        },
        speeds: DIAL
            .iter()
            .filter_map(|mark| Marked::fraction(1, *mark))
            .collect(),
        clock_ppm: Some(0.0),
        ..Options::default()
    }
}

fn quantile(values: &mut [f64], part: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = ((values.len() as f64 * part) as usize).min(values.len().saturating_sub(1));
    values.get(at).copied().unwrap_or(f64::NAN)
}

fn run(
    group: &str,
    seed: u64,
    tally: &mut Tally,
    by_mark: &mut BTreeMap<u32, [usize; 2]>,
    verbose: bool,
) {
    let (scene, marks) = scene(group, seed);
    let take = scene.record();
    let clicks = take.clicks.clone();
    let Ok(recording) = take.into_recording("made.wav") else {
        return;
    };
    tally.fired += marks.len();
    let slow = |firing: &SoundFiring| firing.lasting.to_s() > 1.0 / 30.0;
    tally.slow += scene.firings.iter().filter(|it| slow(it)).count();
    for mark in &marks {
        by_mark.entry(*mark).or_default()[1] += 1;
    }
    let report = match shutter::analyse(&[recording], &options(scene.camera.kind)) {
        Ok(report) => report,
        Err(error) => {
            tally.refused += 1;
            if verbose {
                println!("  seed {seed}: {error}");
            }
            return;
        }
    };
    tally.shots += report.shots.len();
    for click in &report.clicks {
        let at = |it: &&(Seconds, SoundOf)| (it.0 - click.at_s).abs().to_s() < 3e-3;
        if let Some((true_at, _)) = clicks.iter().find(at) {
            tally.onsets.push((*true_at - click.at_s).abs().to_ms());
        }
    }
    for shot in &report.shots {
        let (Some(time), Some(stated)) = (shot.effective_s, shot.uncertainty_s) else {
            continue;
        };
        tally.told += 1;
        let found = scene.firings.iter().zip(&marks).find(|(firing, _)| {
            (firing.at - shot.start_s).abs().to_s() < 0.01
                && (firing.lasting - time).abs().to_s() < 0.01
        });
        let Some((firing, mark)) = found else {
            tally.wrong += 1;
            if verbose {
                println!("  seed {seed}: wrong {time:?} at {:?}", shot.start_s);
                let near = |at: &Seconds| (*at - shot.start_s).abs().to_s() < 2.0;
                let heard = report.clicks.iter().filter(|it| near(&it.at_s));
                for click in heard {
                    println!(
                        "    heard {:?} {:?} {:?}",
                        click.at_s, click.level_db, click.could_be
                    );
                }
                for (at, of) in clicks.iter().filter(|it| near(&it.0)) {
                    println!("    true {at:?} {of:?}");
                }
            }
            continue;
        };
        by_mark.entry(*mark).or_default()[0] += 1;
        tally.inside += usize::from((firing.lasting - time).abs().to_s() <= stated.to_s());
    }
    if verbose {
        for (firing, mark) in scene.firings.iter().zip(&marks) {
            let shot = report
                .shots
                .iter()
                .find(|it| (it.start_s - firing.at).abs().to_s() < 0.01);
            if slow(firing) && shot.is_none_or(|it| it.effective_s.is_none()) {
                let proposals = shot.map(|it| {
                    it.proposals
                        .iter()
                        .map(|it| it.between_s)
                        .collect::<Vec<_>>()
                });
                println!(
                    "  seed {seed}: untold 1/{mark} at {:?} {:?} {proposals:?}",
                    firing.at,
                    shot.map(|it| &it.flags)
                );
            }
        }
    }
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let each: u64 = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(30);
    let only = arguments.next().filter(|only| only != "all");
    let first: u64 = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(0);
    println!(
        "onset errors in ms; slow: longer than 1/30; told of them; told wrong; inside the stated interval"
    );
    println!(
        "{:14} {:>6} {:>6} {:>6} {:>6} {:>6} {:>7} {:>6} {:>7} {:>7}",
        "group", "fired", "shots", "slow", "told", "wrong", "inside", "refuse", "on 50%", "on 95%"
    );
    let mut by_mark = BTreeMap::new();
    for (number, group) in (0_u64..).zip(GROUPS) {
        if only.as_ref().is_some_and(|only| only != group) {
            continue;
        }
        let mut tally = Tally::default();
        for n in 0..each {
            run(
                group,
                first + 1000 * number + n,
                &mut tally,
                &mut by_mark,
                only.is_some(),
            );
        }
        let right = (tally.told - tally.wrong).max(1) as f64;
        println!(
            "{group:14} {:6} {:6} {:6} {:6} {:6} {:6.1}% {:6} {:7.3} {:7.3}",
            tally.fired,
            tally.shots,
            tally.slow,
            tally.told,
            tally.wrong,
            100.0 * tally.inside as f64 / right,
            tally.refused,
            quantile(&mut tally.onsets, 0.5),
            quantile(&mut tally.onsets, 0.95),
        );
    }
    for group in REFUSED {
        if only.as_ref().is_some_and(|only| only != group) {
            continue;
        }
        let (mut count, mut told) = (0, 0);
        for n in 0..each {
            let recording = if group == "music" {
                music(first + n)
            } else {
                refused(group, first + n)
                    .record()
                    .into_recording("made.wav")
                    .ok()
            };
            let Some(recording) = recording else { continue };
            match shutter::analyse(&[recording], &options(SoundKind::Leaf)) {
                Err(_) => count += 1,
                Ok(report) => {
                    told += report
                        .shots
                        .iter()
                        .filter(|it| it.effective_s.is_some())
                        .count();
                }
            }
        }
        println!("{group:14} refused {count} of {each}, {told} times told");
    }
    for (mark, [told, fired]) in by_mark {
        println!("1/{mark:<4} told {told:5} of {fired:5}");
    }
}
