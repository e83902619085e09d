//! Proving a measuring chain: sensor, input and recorder, from a card moved by hand before the sensor.
//!
//! What the recording shows of noise, coupling, flicker, hum, drift and edges is found by the same
//! code that measures shots. Then a session is made of the dial's marks through the chain as found,
//! and measured: its budgets are what this chain can prove.

mod channel;
mod hand;
mod prove;
mod report;
mod said;

pub use report::{ChainCheck, ChannelCheck, Coupled, Flickers, Hums, ProvedMark};

use super::{Extent, Finding, FindingKind, NamedExtent, Options, ShutterError};
use crate::Recording;

/// Checks the chain that made the recordings, in which a card uncovers and covers the sensor by hand.
///
/// ```
/// use fettle_measure::synth::{Chain, HandScene, Uncovering};
/// use fettle_measure::{Hertz, Seconds, shutter};
///
/// let uncovering = |at: f64| Uncovering {
///     at: Seconds::s(at),
///     opening: Seconds::ms(30.0),
///     held: Seconds::s(1.5),
///     closing: Seconds::ms(40.0),
/// };
/// let scene = HandScene {
///     uncoverings: vec![uncovering(1.0), uncovering(4.0)],
///     chain: Chain { coupling: Some(Hertz::hz(2.0)), ..Chain::default() },
///     lasting: Seconds::s(7.0),
///     seed: 1,
/// };
/// let recording = scene.record().into_recording("hand.wav")?;
/// let options = shutter::Options { speeds: vec!["1/60".parse()?], ..Default::default() };
/// let check = shutter::check(&[recording], &options)?;
/// let coupling = &check.channels[0].coupling;
/// assert!((coupling.corners_hz[0].to_hz() - 2.0).abs() < 0.05);
/// assert_eq!(check.channels[0].marks[0].proves, Some(true));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When no recording shows the sensor uncovered and covered at least twice, or an option has no
/// meaning.
pub fn check(session: &[Recording], options: &Options) -> Result<ChainCheck, ShutterError> {
    if session.is_empty() {
        return Err(ShutterError::NoRecording);
    }
    let mut findings = Vec::new();
    let mut channels = Vec::new();
    let mut most = 0.0_f64;
    for recording in session {
        channels_of(recording, options, &mut findings, &mut channels, &mut most)?;
    }
    if channels.is_empty() {
        return Err(said::no_steps(session, &findings, most));
    }
    let seconds = session.iter().map(Recording::duration).sum();
    let first = session.first().map_or(0.0, |it| it.sample_rate().to_hz());
    Ok(ChainCheck {
        recording: Extent {
            sample_rate_hz: crate::Hertz::hz(first),
            channels: session.first().map_or(0, width),
            seconds,
        },
        recordings: session.iter().map(named).collect(),
        findings,
        channels,
    })
}

/// A dark level that wanders by this part of the light is no card's before a sensor.
const STRAYS: f64 = 0.5;

fn width(recording: &Recording) -> u16 {
    u16::try_from(recording.channel_count()).unwrap_or(u16::MAX)
}

fn named(recording: &Recording) -> NamedExtent {
    NamedExtent {
        name: recording.name().to_owned(),
        extent: Extent {
            sample_rate_hz: recording.sample_rate(),
            channels: width(recording),
            seconds: recording.duration(),
        },
    }
}

fn channels_of(
    recording: &Recording,
    options: &Options,
    findings: &mut Vec<Finding>,
    channels: &mut Vec<ChannelCheck>,
    most: &mut f64,
) -> Result<(), ShutterError> {
    let named = &options.channels;
    if let Some(wanted) = named.iter().find(|it| **it == 0 || **it > width(recording)) {
        return Err(ShutterError::Option {
            option: "--channels",
            reason: format!(
                "{} has {} channels, counted from 1: there is no channel {wanted}",
                recording.name(),
                width(recording)
            ),
        });
    }
    let mut seen: Vec<usize> = Vec::new();
    for (number, index) in (1..).zip(0..recording.channel_count()) {
        if !named.is_empty() && !named.contains(&number) {
            continue;
        }
        let mut say = |what| {
            findings.push(Finding::of_recording(what, recording.name(), Some(number)));
        };
        let first = recording.samples().first_alike(index);
        if seen.contains(&first) {
            say(FindingKind::SameChannels);
            continue;
        }
        seen.push(first);
        match channel::Found::of(recording, index) {
            Ok(found) if found.drift > STRAYS => say(FindingKind::Drift { ratio: found.drift }),
            Ok(found) => {
                said::noticed(recording, &found).into_iter().for_each(say);
                let marks = prove::marks(recording, &found, options)?;
                channels.push(report::of(recording, number, &found, marks));
            }
            Err(stands_out) => {
                *most = most.max(stands_out);
                say(FindingKind::DeadChannel);
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
