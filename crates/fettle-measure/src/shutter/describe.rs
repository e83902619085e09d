//! What a recording was like, and why a session holds no shot.

use super::form::{Form, Kind};
use super::quiet::NoShutter;
use super::session::Heard;
use super::{Finding, FindingKind, LostAs, ShutterError};
use crate::{Decibels, Hertz, Recording, Seconds};

/// Signal to noise below which the noise is worth a word.
const NOISY_DB: f64 = 46.0;
/// Parts of the light's height from which a dark level, its wandering, hum and flicker are worth a word.
const OFFSET: f64 = 0.02;
const DRIFT: f64 = 0.01;
const HUM: f64 = 1e-3;
const FLICKER: f64 = 0.01;
/// Fewer samples than this in the shortest shot are too few.
const LEAST_SAMPLES: f64 = 20.0;

/// Adds what was noticed about one channel of a recording.
pub(super) fn recording(heard: &Heard<'_>, findings: &mut Vec<Finding>) {
    let Heard {
        recording,
        number,
        channel,
    } = heard;
    let mut say =
        |what| findings.push(Finding::of_recording(what, recording.name(), Some(*number)));
    let height = channel.height();
    let of_light = |level: f64| if height > 0.0 { level / height } else { 0.0 };
    file(recording, &mut say);
    if channel.limited && !recording.is_lossy() {
        say(FindingKind::Lossy);
    }
    let poles = channel.coupling.count();
    if poles > 0 {
        let corner_hz = Hertz::hz(channel.coupling.poles.corner_hz());
        say(FindingKind::AcCoupled { corner_hz, poles });
    }
    if channel.inverted {
        say(FindingKind::Inverted);
    }
    if of_light(channel.overview.dark.abs()) > OFFSET {
        say(FindingKind::Offset {
            level: channel.overview.dark,
        });
    }
    let ratio = of_light(channel.dark_span());
    if ratio > DRIFT {
        say(FindingKind::Drift { ratio });
    }
    if let Some(hum) = channel
        .hum
        .as_ref()
        .filter(|hum| of_light(hum.amplitude) > HUM)
    {
        say(FindingKind::Hum {
            hz: Hertz::hz(hum.hz),
            ratio: of_light(hum.amplitude),
        });
    }
    if let Some(flicker) = channel.flicker().filter(|it| it.depth > FLICKER) {
        say(FindingKind::Flicker {
            hz: Hertz::hz(flicker.hz),
            depth: flicker.depth,
        });
    }
    let ratio = channel.light_over_noise();
    if ratio > 0.0 && Decibels::from_amplitude_ratio(ratio).to_db() < NOISY_DB {
        say(FindingKind::Noise {
            snr_db: Decibels::from_amplitude_ratio(ratio),
        });
    }
    if let Some(tail) = &channel.tail {
        say(FindingKind::Tail {
            closing_s: Seconds::s(tail.closing),
        });
    }
    let overdriven = |form: &Form| matches!(form.kind, Kind::Bent | Kind::Railed);
    if channel.form.as_ref().is_some_and(overdriven) {
        say(FindingKind::Overdriven);
    }
    if channel.controlled {
        say(FindingKind::GainControl);
    }
    if !channel.clicks.is_empty() {
        say(FindingKind::Clicks);
    }
    if channel.shots.iter().any(|shot| shot.clipped.is_some()) {
        say(FindingKind::Clipped);
    }
    for piece in &channel.lost {
        let seconds = |samples: usize| Seconds::s(samples as f64 * channel.signal.dt);
        let cut = piece.lost_as == LostAs::Cut;
        say(FindingKind::LostSamples {
            at_s: seconds(piece.samples.start),
            lasts_s: seconds(if cut { 0 } else { piece.samples.len() }),
            lost_as: piece.lost_as,
        });
    }
    if channel.shortest() < LEAST_SAMPLES {
        say(FindingKind::LowRate);
    }
    let samples = channel.overview.track.not_finite.count() as u64;
    if samples > 0 {
        say(FindingKind::NotFinite { samples });
    }
}

/// Adds what was noticed about a recording's file.
pub(super) fn file(recording: &Recording, mut say: impl FnMut(FindingKind)) {
    if recording.is_header_repaired() {
        say(FindingKind::HeaderRepaired);
    }
    if recording.is_time_uneven() {
        say(FindingKind::UnevenTime);
    }
    if recording.is_lossy() {
        say(FindingKind::Lossy);
    }
}

/// Says why nothing was found.
pub(super) fn no_shot(session: &[Recording], heard: &[Heard<'_>]) -> ShutterError {
    let names: Vec<&str> = session.iter().map(Recording::name).collect();
    let reason = if session.iter().all(|it| it.duration().to_s() <= 0.0) {
        "the recording is empty: record again and fire the shutter while it runs".to_owned()
    } else if heard.is_empty() {
        "nothing but silence: check that the sensor is wired to this input and lit".to_owned()
    } else if let Some(what) = heard.iter().find_map(|it| it.channel.no_shutter) {
        let reason = match what {
            NoShutter::Swings => {
                "it steps, but no dark follows as behind a shutter that has closed; this is more like sound, or \
                 blows on the bench: check that the input is the light sensor's"
            }
            NoShutter::Slow => {
                "the light comes and goes over tens of milliseconds, as behind a hand or a card; no shutter is \
                 so slow: fire the shutter before the sensor"
            }
        };
        reason.to_owned()
    } else {
        let most = heard
            .iter()
            .map(|it| it.channel.contrast)
            .fold(0.0, f64::max);
        // A channel that only toggles has no noise to compare with.
        let largest = if most.is_finite() {
            format!(" (the largest is {most:.0} times it)")
        } else {
            String::new()
        };
        format!(
            "no step of light stands out of the noise{largest}: bring the lamp nearer, shade the sensor from \
             other light, or turn the input up"
        )
    };
    ShutterError::NoShot {
        names: names.join(", "),
        reason,
    }
}
