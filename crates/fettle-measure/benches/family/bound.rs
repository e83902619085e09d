//! White noise alone: how near the effective time comes to the Cramér-Rao bound.
//!
//! Samples are `y_n = D + G A(t_n) + w_n` with `w_n` Gaussian, independent, of standard deviation `σ`, at
//! `f_s` samples a second. Wanted is `T = ∫A dt`. Two bounds are computed (S. M. Kay, Fundamentals of
//! Statistical Signal Processing: Estimation Theory, 1993, sections 3.7 and 3.8: `var ≥ ∂Tᵀ J⁻¹ ∂T`):
//!
//! - **Form not known.** When the flanks last is known, how is not: each sample of a flank is an unknown
//!   of its own. Then `T` is the flanks' sum and the plateau's length, and with `M = f_s (T_o + T_c)`
//!   samples in both flanks `var T ≥ (σ/G)² M/f_s² + (M/f_s)² var D/G² + (I/G)² var G`, `I` the light within
//!   the flanks. Its first term is `(σ/G)² (T_o + T_c)/f_s`: for straight flanks this is also what the
//!   bound on each flank's position gives, `σ_τ = (σ/G) sqrt(T_r/f_s)`. The instrument is held to it.
//! - **Form known**, as nobody can before a shutter is apart: beginning and length of each flank,
//!   `D` and `G` unknown, Fisher's information summed over the samples.
//!
//! `D` is known from the dark and `G` from the plateaus of the recording's other shots too; what other shots
//! tell of a flank is not used in either.

use fettle_measure::shutter::{self, Options};
use fettle_measure::synth::{Chain, Firing, LeafShutter, Leaves, Scene};
use fettle_measure::{Decibels, Hertz, Marked, Seconds};
use nalgebra::{Matrix6, Vector6};

use super::draw::Draw;
use super::goals::Goals;
use super::on_all_processors;

const MARKS: [u32; 6] = [8, 30, 60, 125, 250, 500];
const SNR_DB: [f64; 4] = [30.0, 40.0, 50.0, 60.0];
const RATE_HZ: f64 = 48_000.0;
/// Shots at the mark in each recording; one slower shot more shows the fully open level.
const SHOTS: usize = 15;
const SLOW_S: f64 = 0.3;
/// Dark around a shot that the instrument takes into account.
const DARK_S: f64 = 1.4;
const RMS_OVER_BOUND: f64 = 1.5;
const BIAS_S: f64 = 3e-6;

const SHUTTER: LeafShutter = LeafShutter {
    blades: 5,
    opening: Seconds::ms(1.1),
    closing: Seconds::ms(1.3),
    run_up: 0.4,
    power: 1.0,
    leaves: Leaves::Polygon,
};

/// Prints the table: rms error over both bounds and bias, by speed and signal to noise.
pub(crate) fn table(recordings: usize, first_seed: u64, goals: &mut Goals) {
    println!();
    println!(
        "white noise alone: rms error over the Cramér-Rao bound (flanks' form not known; known), bias in µs"
    );
    print!("{:8}", "mark");
    for snr in SNR_DB {
        print!("{:>28}", format!("{snr:.0} dB"));
    }
    println!();
    for mark in MARKS {
        print!("{:8}", format!("1/{mark}"));
        for snr in SNR_DB {
            let errors =
                on_all_processors(recordings, |n| errors(mark, snr, first_seed + n as u64));
            let errors: Vec<f64> = errors.into_iter().flatten().collect();
            let count = errors.len() as f64;
            let bias = errors.iter().sum::<f64>() / count;
            let rms = (errors.iter().map(|error| error * error).sum::<f64>() / count).sqrt();
            let bounds = Bounds::of(1.0 / f64::from(mark), snr);
            let over = rms / bounds.unknown_form;
            print!(
                "{:>28}",
                format!(
                    "{over:.2} ({:.2}) {:+.2}",
                    rms / bounds.known_form,
                    bias * 1e6
                )
            );
            let cell = format!("white noise, 1/{mark} at {snr:.0} dB");
            if errors.is_empty() {
                goals.broken.push(format!("{cell}: nothing measured"));
            }
            goals.below(&format!("{cell}: rms over the bound"), over, RMS_OVER_BOUND);
            goals.below(&format!("{cell}: bias, µs"), bias.abs() * 1e6, BIAS_S * 1e6);
        }
        println!();
    }
}

/// Errors of the effective times of one recording, in seconds.
fn errors(mark: u32, snr: f64, seed: u64) -> Vec<f64> {
    let mut draw = Draw::new(
        "white noise",
        seed ^ (u64::from(mark) << 32) ^ (snr as u64) << 48,
    );
    let mut at = 0.6 + draw.next() / RATE_HZ;
    let mut firings = vec![Firing::new(Seconds::s(at), Seconds::s(SLOW_S))];
    at += SLOW_S;
    for _ in 0..SHOTS {
        at += draw.between(1.5, 1.7);
        let effective = draw.between(0.97, 1.03) / f64::from(mark);
        firings.push(Firing::new(Seconds::s(at), Seconds::s(effective)));
        at += effective;
    }
    let scene = Scene {
        shutter: SHUTTER,
        firings,
        chain: Chain {
            sample_rate: Hertz::hz(RATE_HZ),
            bits: None,
            snr: Some(Decibels::db(snr)),
            ..Chain::default()
        },
        lasting: Seconds::s(at + 1.2),
        seed: draw.seed(),
    };
    let take = scene.record();
    let truth = take.truth.clone();
    let options = Options {
        speeds: Marked::fraction(1, mark).into_iter().collect(),
        clock_ppm: Some(0.0),
        ..Options::default()
    };
    let report = take
        .into_recording("made.wav")
        .ok()
        .and_then(|it| shutter::analyse(&[it], &options).ok());
    let shots = report.map_or_else(Vec::new, |report| report.shots);
    truth
        .iter()
        .skip(1)
        .filter_map(|truth| {
            let near = shots
                .iter()
                .find(|shot| (shot.start_s - truth.start).abs().to_s() < 0.02)?;
            Some((near.effective_s? - truth.effective).to_s())
        })
        .collect()
}

/// Least standard deviations of the effective time, in seconds.
struct Bounds {
    unknown_form: f64,
    known_form: f64,
}

impl Bounds {
    fn of(effective: f64, snr: f64) -> Self {
        let noise = 10_f64.powf(-snr / 20.0);
        let (opening, closing) = (SHUTTER.opening.to_s(), SHUTTER.closing.to_s());
        let share = mean_area();
        let within = share * (opening + closing);
        // A shot that does not open fully would have shorter flanks; all marks here do.
        let plateau = (effective - within).max(0.0);
        let plateaus = SHOTS as f64 * plateau + SLOW_S;
        let dark = noise * noise / (DARK_S * RATE_HZ);
        let level = noise * noise / (plateaus * RATE_HZ) + dark;
        let flanks = opening + closing;
        let variance =
            noise * noise * flanks / RATE_HZ + flanks * flanks * dark + within * within * level;
        Self {
            unknown_form: variance.sqrt(),
            known_form: known_form(plateau, plateaus, noise),
        }
    }
}

/// Mean open area over a flank.
fn mean_area() -> f64 {
    let steps = 20_000;
    let middle = |i: i32| (f64::from(i) + 0.5) / f64::from(steps);
    (0..steps)
        .map(|i| SHUTTER.open_area(middle(i)))
        .sum::<f64>()
        / f64::from(steps)
}

/// The bound with beginning and length of each flank, dark level and fully open level unknown.
fn known_form(plateau: f64, plateaus: f64, noise: f64) -> f64 {
    let (opening, closing) = (SHUTTER.opening.to_s(), SHUTTER.closing.to_s());
    let share = mean_area();
    let mut information = Matrix6::zeros();
    // Sums over samples as integrals, finer than the samples lie.
    let steps = 4_000;
    let width = 1e-4;
    for (index, length) in [(0, opening), (2, closing)] {
        for i in 0..steps {
            let part = (f64::from(i) + 0.5) / f64::from(steps);
            let area = SHUTTER.open_area(part);
            let steep =
                (SHUTTER.open_area(part + width) - SHUTTER.open_area(part - width)) / (2.0 * width);
            let mut row = Vector6::zeros();
            // By where the flank meets full opening, by its length, by dark and light.
            row[index] = steep / length;
            row[index + 1] = (1.0 - part) * steep / length;
            row[4] = 1.0;
            row[5] = area;
            information += row * row.transpose() * (length * RATE_HZ / f64::from(steps));
        }
    }
    let mut open = Vector6::zeros();
    (open[4], open[5]) = (1.0, 1.0);
    let mut dark = Vector6::zeros();
    dark[4] = 1.0;
    information += open * open.transpose() * (plateaus.max(plateau) * RATE_HZ);
    information += dark * dark.transpose() * (DARK_S * RATE_HZ);
    // T = plateau + share (opening + closing); both ends of the plateau lengthen it alike.
    let by = Vector6::new(1.0, share, 1.0, share, 0.0, 0.0);
    information.try_inverse().map_or(f64::NAN, |inverse| {
        noise * (by.transpose() * inverse * by)[(0, 0)].sqrt()
    })
}
