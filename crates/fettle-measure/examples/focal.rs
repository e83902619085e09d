//! Prints how near the estimator comes to the generator's truth over a seeded family of focal-plane
//! shutters.
//!
//! Arguments: recordings in each group (20), a group's name or `all`, and the first seed (0). Seeds
//! from 0 were in view while the estimator was made; others, such as 1000000, are held out.
#![expect(clippy::print_stdout, reason = "the table is what this program is for")]

use fettle_measure::shutter::{self, Flag, Kind, Options, Report};
use fettle_measure::synth::{
    Chain, Contact, CurtainBounce, CurtainRun, FocalPlane, FocalScene, FocalTruth, Hum, Release,
    Sensor,
};
use fettle_measure::{Decibels, Hertz, Marked, Millimetres, Seconds};

const DIAL: [u32; 11] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500, 1000];
const GROUPS: [&str; 11] = [
    "clean",
    "coupled",
    "hum",
    "narrow",
    "bounce",
    "capped",
    "many",
    "two",
    "one",
    "own lags",
    "everything",
];

/// A repeatable stream of numbers on 0 to 1, by a counter and a mixer.
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.next() * from.len() as f64) as usize % from.len()]
    }
}

struct Case {
    scene: FocalScene,
    marks: Vec<u32>,
    reversed: bool,
    flash: bool,
}

fn sensors(group: &str, draw: &mut Draw, gate: f64) -> Vec<Sensor> {
    let all = group == "everything";
    let rate = draw.pick(&[44_100.0, 48_000.0, 96_000.0, 192_000.0]);
    let bits = Some(draw.pick(&[16, 24]));
    let coupled = group != "clean";
    let corner = 0.5 * 40_f64.powf(draw.next());
    let lag = draw.between(0.0, 0.05);
    let snr = draw.between(45.0, 60.0);
    let mains = draw.pick(&[50.0, 60.0]) + draw.between(-0.03, 0.03);
    let count = match group {
        "one" => 1,
        "two" => 2,
        "many" => draw.pick(&[4, 5, 6, 7, 8]),
        "everything" => draw.pick(&[1, 2, 3, 3, 4, 8]),
        _ => 3,
    };
    let end = draw.between(0.04, 0.12) * gate;
    (0..count)
        .map(|i| {
            let part = if count == 1 {
                0.5
            } else {
                f64::from(i) / f64::from(count - 1)
            };
            let jitter = draw.between(-0.02, 0.02) * gate;
            let (low, high) = match group {
                "narrow" => (2.5, 4.0),
                _ if count > 3 => (0.5, 2.0),
                _ => (0.5, 4.0),
            };
            let own = if group == "own lags" || all {
                draw.between(0.0, 0.03)
            } else {
                lag
            };
            let width = draw.between(low, high);
            let x = end + part * (gate - 2.0 * end) + jitter;
            Sensor {
                x: Millimetres::mm(x.clamp(0.5 * width, gate - 0.5 * width)),
                width: Millimetres::mm(width),
                round: draw.next() < 0.4,
                chain: Chain {
                    sample_rate: Hertz::hz(rate),
                    bits,
                    gain: draw.between(0.2, 0.7),
                    inverted: draw.next() < 0.5,
                    offset: draw.between(-0.05, 0.05),
                    coupling: coupled.then(|| Hertz::hz(corner * draw.between(0.98, 1.02))),
                    snr: Some(Decibels::db(snr + draw.between(-2.0, 2.0))),
                    lag: Seconds::ms(own),
                    hum: (group == "hum" || all).then(|| {
                        let amplitude = draw.between(0.002, 0.03);
                        Hum {
                            hz: Hertz::hz(mains),
                            amplitudes: vec![amplitude, 0.4 * amplitude, 0.5 * amplitude],
                        }
                    }),
                    ..Chain::default()
                },
            }
        })
        .collect()
}

/// A run over the gate in `travel` milliseconds that begins with `part` of the mean speed.
fn run(gate: f64, travel: f64, part: f64) -> CurtainRun {
    let speed = part * gate / travel;
    CurtainRun {
        mm_per_ms: speed,
        mm_per_ms2: 2.0 * (gate - speed * travel) / (travel * travel),
    }
}

fn case(group: &str, seed: u64) -> Case {
    let mut draw = Draw(seed);
    let all = group == "everything";
    let gate = draw.pick(&[24.0, 36.0]);
    let sensors = sensors(group, &mut draw, gate);
    let usual = gate / 36.0 * draw.between(8.0, 18.0);
    let part = draw.between(0.6, 1.0);
    let uneven = if group == "capped" {
        draw.between(0.7, 0.9)
    } else {
        draw.between(0.985, 1.03)
    };
    let common = draw.between(-0.3, 0.5);
    let flash = draw.next() < 0.4;
    let lead = draw.pick(&[-0.3, 0.4, 16.0, 19.0]);
    let mut marks: Vec<u32> = Vec::new();
    for mark in DIAL {
        let repeats = if draw.next() < 0.12 {
            0
        } else {
            1 + (draw.next() * 2.2) as usize
        };
        marks.extend(std::iter::repeat_n(mark, repeats));
    }
    if group == "narrow" {
        marks.extend([1000, 1000, 500]);
    }
    if marks.is_empty() {
        marks.push(60);
    }
    if draw.next() < 0.3 {
        marks.reverse();
    }
    let mut at = draw.between(0.5, 1.0);
    let mut releases = Vec::new();
    for mark in &marks {
        let error = common + draw.between(-0.06, 0.06);
        let effective = error.exp2() / f64::from(*mark);
        let travel = usual * draw.between(0.99, 1.01);
        let first = run(gate, travel, part);
        let second = run(gate, travel * uneven * draw.between(0.995, 1.005), part);
        let middle = Millimetres::mm(0.5 * gate);
        let times = first.seconds_to(middle).zip(second.seconds_to(middle));
        let slit = times.map_or(effective, |(first, second)| effective + first - second);
        let contact = flash.then(|| Contact {
            at: Seconds::ms(travel + draw.between(-0.1, 0.1) - lead),
            chatter: draw.pick(&[0, 0, 2]),
            ..Contact::default()
        });
        let bounces = (group == "bounce" || all) && draw.next() < 0.5;
        releases.push(Release {
            at: Seconds::s(at),
            slit: Seconds::s(slit.max(2e-4)),
            first,
            second,
            bounce: bounces.then(|| CurtainBounce {
                depth: Millimetres::mm(draw.between(2.5, 7.0)),
                lasting: Seconds::ms(draw.between(1.5, 4.0)),
            }),
            contact,
        });
        at += effective + draw.between(0.9, 2.2);
    }
    let contact = sensors.first().filter(|_| flash).map(|sensor| Chain {
        lag: Seconds::s(0.0),
        ..sensor.chain.clone()
    });
    Case {
        scene: FocalScene {
            shutter: FocalPlane {
                gate: Millimetres::mm(gate),
                overrun: Millimetres::mm(1.5),
            },
            releases,
            sensors,
            contact,
            lasting: Seconds::s(at),
            seed,
        },
        marks,
        reversed: draw.next() < 0.3,
        flash,
    }
}

/// Errors with how many of them lie within what was stated.
#[derive(Default)]
struct Errors {
    errors: Vec<f64>,
    stated: Vec<f64>,
    inside: usize,
}

impl Errors {
    fn add(&mut self, error: f64, stated: f64) {
        self.errors.push(error.abs());
        self.stated.push(stated);
        self.inside += usize::from(error.abs() <= stated);
    }

    fn row(&self) -> String {
        format!(
            "{:8.5} {:8.5} {:8.5} {:5.1}% {:8.5}",
            quantile(&self.errors, 0.5),
            quantile(&self.errors, 0.95),
            quantile(&self.errors, 1.0),
            100.0 * self.inside as f64 / self.errors.len().max(1) as f64,
            quantile(&self.stated, 0.5),
        )
    }
}

#[derive(Default)]
struct Tally {
    effective: Errors,
    fast: Errors,
    travel: Errors,
    evenness: Errors,
    flash: Errors,
    capped_mm: Vec<f64>,
    missed: usize,
    invented: usize,
    wrong: usize,
    unsure: usize,
    capped_missed: usize,
    capped_invented: usize,
    flash_missed: usize,
    releases: usize,
}

fn quantile(values: &[f64], part: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .get(((sorted.len() as f64 * part) as usize).min(sorted.len().saturating_sub(1)))
        .copied()
        .unwrap_or(f64::NAN)
}

fn measure(case: &Case) -> Option<(Report, Vec<FocalTruth>)> {
    let take = case.scene.record();
    let truth = take.truth.clone();
    let sensors = &case.scene.sensors;
    let gate = case.scene.shutter.gate;
    let place = |it: &Sensor| if case.reversed { gate - it.x } else { it.x };
    let recording = take.into_recording("made.wav").ok()?;
    let options = Options {
        kind: Kind::FocalPlane,
        speeds: DIAL
            .iter()
            .filter_map(|mark| Marked::fraction(1, *mark))
            .collect(),
        clock_ppm: Some(0.0),
        sensors_mm: sensors.iter().map(place).collect(),
        gate_mm: Some(gate),
        flash_channel: case.flash.then_some(sensors.len() as u16 + 1),
        ..Options::default()
    };
    match shutter::analyse(&[recording], &options) {
        Ok(report) => Some((report, truth)),
        Err(error) => {
            println!("  {error}");
            None
        }
    }
}

fn judge(case: &Case, tally: &mut Tally, verbose: bool, seed: u64) {
    let Some((report, truth)) = measure(case) else {
        tally.missed += case.marks.len();
        return;
    };
    let gate = case.scene.shutter.gate.to_mm();
    let mut used = vec![false; report.curtains.len()];
    for (truth, mark) in truth.iter().zip(&case.marks) {
        tally.releases += 1;
        let first = truth.uncovered.first().copied().unwrap_or_default();
        let near = report.curtains.iter().enumerate().find(|(index, curtain)| {
            let starts = report.shots.iter().filter(|shot| shot.release == curtain.n);
            let nearest = starts
                .map(|shot| (shot.start_s - first).abs().to_s())
                .fold(f64::MAX, f64::min);
            !used[*index] && nearest < 0.04
        });
        let Some((index, curtain)) = near else {
            tally.missed += 1;
            if verbose {
                println!("  seed {seed}: missed 1/{mark} at {first:?}");
            }
            continue;
        };
        used[index] = true;
        for (number, want) in (1_u16..).zip(&truth.effective) {
            let shot = report
                .shots
                .iter()
                .find(|shot| shot.release == curtain.n && shot.channel == number);
            let told = shot.and_then(|it| it.effective_s.zip(it.uncertainty_s));
            let (Some(shot), Some((effective, stated))) = (shot, told) else {
                let capped = shot.is_some_and(|it| it.flags.contains(&Flag::Capped));
                if want.to_s() > 2e-5 || !capped {
                    tally.missed += 1;
                    if verbose {
                        let flags = shot.map(|it| it.flags.clone());
                        println!("  seed {seed}: untold 1/{mark} {number} {want:?} {flags:?}");
                    }
                }
                continue;
            };
            if want.to_s() < 2e-4 {
                continue;
            }
            let error = (effective / *want).log2();
            let stated = stated / effective / std::f64::consts::LN_2;
            tally.effective.add(error, stated);
            if *mark >= 500 {
                tally.fast.add(error, stated);
            }
            if shot.alternative.is_some() {
                tally.unsure += 1;
            } else if shot.marked != Marked::fraction(1, *mark) {
                tally.wrong += 1;
                if verbose {
                    println!("  seed {seed}: 1/{mark} taken for {:?}", shot.marked);
                }
            }
            if verbose && (error.abs() > 1.6 * stated || error.abs() > 0.01) {
                println!(
                    "  seed {seed}: 1/{mark} sensor {number} error {error:.5} stated {stated:.5} {:?} {}",
                    shot.flags,
                    shot.budget
                        .parts()
                        .map(|(name, part)| format!("{name} {:.2}", part.to_s() * 1e6))
                        .join(", ")
                );
            }
        }
        for (got, u, want) in [
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
            if let (Some(got), Some(u)) = (got, u)
                && truth.capped_from.is_none()
            {
                tally
                    .travel
                    .add(100.0 * (got / want - 1.0), 100.0 * (u / got));
            }
        }
        if let (Some(got), Some(u), Some(want)) = (
            curtain.evenness_stops,
            curtain.evenness_u_stops,
            truth.evenness,
        ) {
            tally.evenness.add((got - want).to_stops(), u.to_stops());
        }
        match (curtain.capped_from_mm, truth.capped_from) {
            (Some(got), Some(want)) => {
                let got = got.to_mm();
                let got = if case.reversed { gate - got } else { got };
                tally.capped_mm.push((got - want.to_mm()).abs());
                if verbose && (got - want.to_mm()).abs() > 1.0 {
                    println!("  seed {seed}: 1/{mark} capped from {got} truly {want:?}");
                }
            }
            (Some(got), None) => {
                tally.capped_invented += 1;
                if verbose {
                    println!("  seed {seed}: 1/{mark} capped from {got:?} invented");
                }
            }
            (None, Some(want)) => {
                tally.capped_missed += usize::from(case.scene.sensors.len() > 1);
                if verbose && case.scene.sensors.len() > 1 {
                    println!("  seed {seed}: 1/{mark} capped from {want:?} missed");
                }
            }
            (None, None) => {}
        }
        let Some(want) = truth.flash.filter(|_| case.scene.sensors.len() > 1) else {
            continue;
        };
        let got = report.flash.iter().find(|flash| flash.n == curtain.n);
        let told = got.and_then(|it| it.delay_s.zip(it.uncertainty_s));
        if let Some((delay, u)) = told {
            tally.flash.add((delay - want.delay).to_ms(), u.to_ms());
        }
        let fully_open = got.and_then(|it| it.fully_open);
        if fully_open != Some(want.fully_open) || want.fully_open != told.is_some() {
            tally.flash_missed += 1;
            if verbose {
                println!("  seed {seed}: 1/{mark} flash {got:?} truly {want:?}");
            }
        }
    }
    let invented = used.iter().filter(|used| !**used).count();
    if verbose && invented > 0 {
        println!("  seed {seed}: {invented} invented");
    }
    tally.invented += invented;
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let each = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(20);
    let only = arguments.next().filter(|only| only != "all");
    let first: u64 = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(0);
    println!(
        "median, 95 %, worst error, share within the stated k = 2 interval and its median\n\
         times and evenness in stops, travel in %, flash delay in ms"
    );
    for (number, group) in GROUPS.iter().enumerate() {
        if only.as_ref().is_some_and(|only| only != group) {
            continue;
        }
        let mut tally = Tally::default();
        for i in 0..each {
            let seed = first + 1000 * number as u64 + i;
            judge(&case(group, seed), &mut tally, only.is_some(), seed);
        }
        println!(
            "{group}: {} releases, {} missed, {} invented, {} wrong, {} unsure; capped {} missed, {} invented, \
             95 % {:.2} mm; flash {} missed",
            tally.releases,
            tally.missed,
            tally.invented,
            tally.wrong,
            tally.unsure,
            tally.capped_missed,
            tally.capped_invented,
            quantile(&tally.capped_mm, 0.95),
            tally.flash_missed
        );
        for (name, errors) in [
            ("effective", &tally.effective),
            ("1/500 on", &tally.fast),
            ("travel", &tally.travel),
            ("evenness", &tally.evenness),
            ("flash", &tally.flash),
        ] {
            println!("  {name:10} {:5} {}", errors.errors.len(), errors.row());
        }
    }
}
