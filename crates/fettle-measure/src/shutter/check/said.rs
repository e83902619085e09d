//! What a check of the chain noticed, and why there is nothing to check.

use super::super::{Finding, FindingKind, ShutterError};
use super::channel::Found;
use crate::{Decibels, Hertz, Recording};

/// Ratios to the light from which a dark level, its wandering and hum are worth a word, and the noise
/// below the light in dB.
const OFFSET: f64 = 0.02;
const DRIFT: f64 = 0.01;
const HUM: f64 = 1e-3;
const NOISY_DB: f64 = 46.0;

/// What is worth a word about one channel.
pub(super) fn noticed(recording: &Recording, found: &Found) -> Vec<FindingKind> {
    let mut kinds = Vec::new();
    let mut say = |is: bool, what: FindingKind| {
        if is {
            kinds.push(what);
        }
    };
    say(recording.is_header_repaired(), FindingKind::HeaderRepaired);
    say(recording.is_time_uneven(), FindingKind::UnevenTime);
    say(recording.is_lossy(), FindingKind::Lossy);
    say(found.gain_control, FindingKind::GainControl);
    say(found.clipped, FindingKind::Clipped);
    let poles = found.coupling.count();
    let corner_hz = Hertz::hz(found.coupling.poles.corner_hz());
    say(poles > 0, FindingKind::AcCoupled { corner_hz, poles });
    say(found.inverted, FindingKind::Inverted);
    let level = found.offset;
    say(
        level.abs() > OFFSET * found.level && poles == 0,
        FindingKind::Offset { level },
    );
    say(
        found.drift > DRIFT,
        FindingKind::Drift { ratio: found.drift },
    );
    if let Some(hum) = &found.hum {
        let ratio = hum.amplitude;
        say(
            ratio > HUM,
            FindingKind::Hum {
                hz: Hertz::hz(hum.hz),
                ratio,
            },
        );
    }
    if let Some(flicker) = found.flicker {
        let (hz, depth) = (Hertz::hz(flicker.hz), flicker.depth);
        say(true, FindingKind::Flicker { hz, depth });
    }
    let snr_db = Decibels::from_amplitude_ratio(1.0 / found.noise().max(f64::MIN_POSITIVE));
    say(snr_db.to_db() < NOISY_DB, FindingKind::Noise { snr_db });
    let samples = found.not_finite as u64;
    say(samples > 0, FindingKind::NotFinite { samples });
    kinds
}

/// Says why there is nothing to check.
pub(super) fn no_steps(session: &[Recording], findings: &[Finding], most: f64) -> ShutterError {
    let names: Vec<&str> = session.iter().map(Recording::name).collect();
    let how = "cover the sensor with a card, begin to record, then take the card away and put it \
               back at least twice, once as quickly as you can, holding the light for a second or more each time";
    let dead = findings.iter().all(|finding| {
        matches!(
            finding.what,
            FindingKind::DeadChannel | FindingKind::SameChannels
        )
    });
    let strays = findings.iter().find_map(|finding| match finding.what {
        FindingKind::Drift { ratio } => Some(100.0 * ratio),
        _ => None,
    });
    let reason = if let Some(strays) = strays {
        format!(
            "between its lights the level wanders by {strays:.0} % of them, so this is no card moved by hand before \
             a still lamp; {how}"
        )
    } else if session.iter().all(|it| it.duration().to_s() <= 0.0) {
        format!("the recording is empty; {how}")
    } else if dead && most <= 0.0 {
        format!("nothing but silence, or less than two held lights; {how}")
    } else {
        format!(
            "the greatest change of light is {most:.0} times the noise; bring the lamp nearer, and {how}"
        )
    };
    ShutterError::NoSteps {
        names: names.join(", "),
        reason,
    }
}
