//! What a chain can prove: a session of the dial's marks through it, measured.

use std::f64::consts::{LN_2, TAU};

use super::super::poles::Poles;
use super::super::{Budget, Options, Shot, ShutterError, analyse};
use super::channel::Found;
use super::report::ProvedMark;
use crate::synth::{Chain, Firing, Flicker, Hum, LeafShutter, Scene, Swing};
use crate::{Decibels, Hertz, Marked, Recording, Seconds, Stops, Verdict};

/// Coverage factor of expanded uncertainties.
const K: f64 = 2.0;
/// The part of a tolerance that an uncertainty may take.
const PART: f64 = 0.25;
/// ISO 516: the chain responds within 3 dB up to this over the total time.
const UP_TO: f64 = 100.0;
/// Rise time between 10 and 90 % times bandwidth, for one pole.
const RISE_BANDWIDTH: f64 = 0.35;
/// Marks slower than this, and marks beyond this number, are not tried.
const LONGEST_S: f64 = 4.0;
const MOST_MARKS: usize = 24;
/// Faster sampling is tried at this rate, its noise put right.
const MOST_HZ: f64 = 192_000.0;
/// No recorder is quieter: 100 dB below the light.
const LEAST_NOISE: f64 = 1e-5;
/// Dark between the shots tried.
const BETWEEN_S: f64 = 1.2;
/// A leaf shutter's blades take about so long, and this part of the fastest mark at most.
const OPENING_S: f64 = 1.1e-3;
const OF_FASTEST: f64 = 0.4;
/// The highest light that leaves room for hum and drift.
const MOST_GAIN: f64 = 0.7;
/// A shot is told by its start, within this.
const WITHIN_S: f64 = 0.05;

/// Each mark of the dial with what the chain can prove of it, slowest first.
pub(super) fn marks(
    recording: &Recording,
    found: &Found,
    options: &Options,
) -> Result<Vec<ProvedMark>, ShutterError> {
    let mut dial = if options.speeds.is_empty() {
        Marked::common_dial()
    } else {
        options.speeds.clone()
    };
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    let tried: Vec<Marked> = dial
        .iter()
        .filter(|mark| mark.nominal(options.series).to_s() <= LONGEST_S)
        .take(MOST_MARKS)
        .copied()
        .collect();
    let shots = shots(recording, found, &tried, options)?;
    let of_mark = |mark: &Marked| {
        let shot = tried.iter().position(|it| it == mark);
        let shot = shot.and_then(|place| shots.get(place)?.as_ref());
        proved(recording, found, *mark, shot, options)
    };
    Ok(dial.iter().map(of_mark).collect())
}

/// The chain as found, for the generator.
fn chain(recording: &Recording, found: &Found) -> Chain {
    let rate = recording.sample_rate().to_hz();
    let tried = rate.min(MOST_HZ);
    let noise = (found.noise() * (tried / rate).sqrt()).max(LEAST_NOISE);
    let hertz = |omega: f64| (omega > 0.0).then(|| Hertz::hz(omega / TAU));
    let Poles { first, last } = found.coupling.poles;
    let gain = if recording.has_full_scale() {
        found.level.min(MOST_GAIN)
    } else {
        0.5
    };
    // The generator's full scale is 1.
    let step = found.step * gain / found.level.max(f64::MIN_POSITIVE);
    let bits =
        (step > 0.0 && tried >= rate).then(|| (1.0 - step.log2()).round().clamp(2.0, 32.0) as u8);
    Chain {
        sample_rate: Hertz::hz(tried),
        bits,
        gain,
        inverted: found.inverted,
        drift: found.drift,
        coupling: hertz(last),
        second_pole: hertz(first),
        flicker: found.flicker.map(|it| Flicker {
            hz: Hertz::hz(it.hz),
            wanders: Hertz::hz(0.0),
            depth: it.depth,
            form: Swing::Sine,
        }),
        hum: found.hum.as_ref().map(|hum| {
            let each = hum.amplitude / (hum.harmonics.len().max(1) as f64).sqrt();
            let last = hum.harmonics.iter().copied().max().unwrap_or(0);
            let amplitude = |k: usize| {
                if hum.harmonics.contains(&k) {
                    each
                } else {
                    0.0
                }
            };
            Hum {
                hz: Hertz::hz(hum.hz),
                wanders: Hertz::hz(0.0),
                amplitudes: (1..=last).map(amplitude).collect(),
            }
        }),
        snr: Some(Decibels::from_amplitude_ratio(1.0 / noise)),
        ..Chain::default()
    }
}

/// The shots of the marks tried, each where it could be told.
fn shots(
    recording: &Recording,
    found: &Found,
    tried: &[Marked],
    options: &Options,
) -> Result<Vec<Option<Shot>>, ShutterError> {
    let Some(fastest) = tried.last() else {
        return Ok(Vec::new());
    };
    let opening = OPENING_S.min(OF_FASTEST * fastest.nominal(options.series).to_s());
    let mut at = BETWEEN_S;
    let mut firings = Vec::new();
    for mark in tried {
        let effective = mark.nominal(options.series);
        firings.push(Firing::new(Seconds::s(at), effective));
        at += effective.to_s() + BETWEEN_S;
    }
    let scene = Scene {
        shutter: LeafShutter {
            opening: Seconds::s(opening),
            closing: Seconds::s(1.2 * opening),
            ..LeafShutter::default()
        },
        chain: chain(recording, found),
        lasting: Seconds::s(at),
        firings,
        seed: 1,
    };
    let Ok(made) = scene.record().into_recording("made") else {
        return Ok(vec![None; tried.len()]);
    };
    let wanted = Options {
        speeds: tried.to_vec(),
        series: options.series,
        limits: options.limits.clone(),
        clock_ppm: options.clock_ppm,
        ..Options::default()
    };
    let report = match analyse(&[made], &wanted) {
        Ok(report) => report,
        // In a chain this bad nothing stands out of the noise, so it proves nothing.
        Err(ShutterError::NoShot { .. }) => return Ok(vec![None; tried.len()]),
        Err(error) => return Err(error),
    };
    let of_firing = |firing: &Firing| {
        let apart = |shot: &Shot| (shot.start_s.to_s() - firing.at.to_s()).abs();
        report
            .shots
            .iter()
            .find(|shot| apart(shot) < WITHIN_S && shot.effective_s.is_some())
            .cloned()
    };
    Ok(scene.firings.iter().map(of_firing).collect())
}

fn proved(
    recording: &Recording,
    found: &Found,
    marked: Marked,
    shot: Option<&Shot>,
    options: &Options,
) -> ProvedMark {
    let nominal = marked.nominal(options.series);
    let limit = options.limits.at(marked, options.series);
    let needed = limit.map(|limit| limit * PART);
    let budget = shot.map(|shot| Budget {
        coding_s: recording.coding(),
        ..shot.budget
    });
    let stops = |time: Seconds| Stops::of(K * time.to_s() / nominal.to_s() / LN_2);
    let uncertainty = budget.map(|budget| stops(budget.combined()));
    let spoiled = found.gain_control || found.clipped;
    let proves = needed.and_then(|needed| {
        let within = uncertainty.map(|it| it.to_stops() <= needed.to_stops());
        if spoiled { Some(false) } else { within }
    });
    let largest = budget.and_then(|budget| {
        let parts = budget.parts().into_iter();
        parts
            .max_by(|a, b| a.1.to_s().total_cmp(&b.1.to_s()))
            .map(|part| part.0.to_owned())
    });
    let up_to = UP_TO / nominal.to_s();
    let nyquist = 0.5 * recording.sample_rate().to_hz();
    ProvedMark {
        marked,
        nominal_s: nominal,
        limit_stops: limit,
        needed_stops: needed,
        uncertainty_stops: uncertainty,
        proves,
        largest,
        budget,
        needs_hz: Hertz::hz(up_to),
        upper: if nyquist < up_to {
            Verdict::Out
        } else if bandwidth(found) >= up_to {
            Verdict::In
        } else {
            Verdict::Undecided
        },
        uncorrected_stops: Stops::of(uncorrected(found.coupling.poles, nominal.to_s())),
        corrected_stops: budget.map(|budget| stops(budget.corner_s)),
    }
}

/// What the fastest edge shows of the bandwidth, in hertz; the chain may reach higher.
pub(super) fn bandwidth(found: &Found) -> f64 {
    RISE_BANDWIDTH / found.opening.min(found.closing)
}

/// What a coupling would take from the light of an exposure if it were not undone, in stops:
/// `log2` of the mean of its step response, `(e^-aT - e^-bT) / ((b - a) T)`.
fn uncorrected(poles: Poles, time: f64) -> f64 {
    let Poles { first, last } = poles;
    if last <= 0.0 {
        return 0.0;
    }
    let apart = (last - first) * time;
    (-(-apart).exp_m1() / apart * (-first * time).exp()).log2()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coupling_takes_from_the_light_what_its_step_response_says() {
        assert!(uncorrected(Poles::one(0.0), 1.0).abs() < 1e-12);
        // One pole of 1 rad/s over a second: the mean of e^-t is 1 - 1/e.
        let want = (1.0 - (-1.0_f64).exp()).log2();
        assert!((uncorrected(Poles::one(1.0), 1.0) - want).abs() < 1e-12);
        // Two of 1 rad/s: (1 - t) e^-t has the mean 1/e.
        let got = uncorrected(Poles::two(2.0_f64.ln(), 0.0), 1.0);
        assert!((got + std::f64::consts::LOG2_E).abs() < 1e-4, "{got}");
    }
}
