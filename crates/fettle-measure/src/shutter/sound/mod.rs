//! Exposure times by ear: a microphone near the camera hears clicks, not light.
//!
//! The way of a recording: `band` takes the energy where clicks ring; `click` finds their onsets and
//! leaves out echoes, escapements and voices; `sequence` weighs every reading of the whole row of
//! clicks; `tell` makes shots of it and tells a time only where one pair alone can be
//! opening and closing, its clicks are apart, and nothing could hide between them.

mod band;
mod click;
mod gain;
mod sequence;
mod tell;
mod voice;

use band::{Bands, quantile};
use click::Heard;

use super::overview::Overview;
use super::size::Clock;
use super::{
    Click, Finding, FindingKind, Options, Report, Shot, ShutterError, describe, patterns, said,
    session, speeds,
};
use crate::{Decibels, Marked, Recording};

/// Fewer samples a second than this do not carry a click's sound.
const LEAST_RATE_HZ: f64 = 16_000.0;
/// Clicks less than this above the floor make their noise worth a word.
const NOISY_DB: f64 = 30.0;
/// More of the time than this filled with other sounds than a camera's is speech or music.
const BUSY: f64 = 0.25;
/// More clicks a second than anybody can release, none of which pair.
const TOO_MANY_A_SECOND: f64 = 3.0;
/// How long a click rings on in a room.
const RINGS_S: f64 = 0.15;

/// One channel of a recording, listened to.
struct Listened<'a> {
    recording: &'a Recording,
    number: u16,
    /// The channel, counted from 0.
    index: usize,
    bands: Bands<'a>,
    heard: Heard,
    gain_control: bool,
}

/// Measures a session of sound.
pub(super) fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    let dial = if options.speeds.is_empty() {
        Marked::common_dial()
    } else {
        options.speeds.clone()
    };
    let nominal = dial.iter().map(|mark| mark.nominal(options.series).to_s());
    let slowest = nominal.fold(0.25, f64::max);
    let clock = Clock::of(options);
    let mut findings = Vec::new();
    let mut shots: Vec<Shot> = Vec::new();
    let mut clicks: Vec<Click> = Vec::new();
    let mut why = Vec::new();
    for recording in session {
        let Some(listened) = listen(recording, options, &mut findings)? else {
            why.push("nothing but silence: check the microphone and its level");
            continue;
        };
        if let Some(reason) = refusal(&listened) {
            why.push(reason);
            continue;
        }
        let readings = sequence::read(&listened.heard, options.kind, slowest);
        let told = tell::tell(&listened, &readings, options.kind, clock);
        let first = u32::try_from(shots.len()).unwrap_or(u32::MAX);
        clicks.extend(told.clicks.into_iter().map(|click| Click {
            release: click.release.map(|n| n + first),
            ..click
        }));
        shots.extend(told.shots);
        notice(&listened, &clicks, &mut findings);
    }
    if shots.is_empty() {
        let names: Vec<&str> = session.iter().map(Recording::name).collect();
        return Err(ShutterError::NoShot {
            names: names.join(", "),
            reason: why
                .first()
                .copied()
                .unwrap_or("clicks, but none that is a camera's: bring the microphone nearer")
                .to_owned(),
        });
    }
    for (n, shot) in (1..).zip(&mut shots) {
        (shot.n, shot.release) = (n, n);
    }
    said::note(&mut shots, &options.said);
    speeds::mark(&mut shots, options);
    let speeds = speeds::of(&shots, options);
    let patterns = patterns::over_dial(&shots, &speeds, &[], options).into_iter();
    // A mark whose clicks run together was shot and not told: it is not missing.
    findings.extend(patterns.filter(|it| !matches!(it.what, FindingKind::Missing { .. })));
    Ok(Report {
        clicks,
        ..session::report(session, findings, shots, speeds)
    })
}

/// The channel in which clicks stand out most.
fn listen<'a>(
    recording: &'a Recording,
    options: &Options,
    findings: &mut Vec<Finding>,
) -> Result<Option<Listened<'a>>, ShutterError> {
    session::check_channels(recording, "--channels", &options.channels)?;
    let mut kept: Vec<Listened<'a>> = Vec::new();
    for (number, index) in (1..).zip(0..recording.channel_count()) {
        if !options.channels.is_empty() && !options.channels.contains(&number) {
            continue;
        }
        let mut find = |what| {
            findings.push(Finding::of_recording(what, recording.name(), Some(number)));
        };
        let alike = |index| recording.samples().first_alike(index);
        if kept.iter().any(|it| alike(it.index) == alike(index)) {
            find(FindingKind::SameChannels);
            continue;
        }
        let rate = recording.sample_rate().to_hz();
        if Overview::of(recording.samples(), index, 1.0 / rate).is_dead() {
            find(FindingKind::DeadChannel);
            continue;
        }
        let bands = Bands::of(recording, index);
        let heard = click::find(&bands);
        let samples = recording.values(index, 0..recording.length());
        let gain_control = gain::is_gated(samples, rate, recording.step(index))
            || gain::is_ducked(&bands, &heard.clicks);
        kept.push(Listened {
            recording,
            number,
            index,
            bands,
            heard,
            gain_control,
        });
    }
    let contrast = |it: &Listened<'_>| it.contrast_db();
    Ok(kept
        .into_iter()
        .max_by(|a, b| contrast(a).total_cmp(&contrast(b))))
}

impl Listened<'_> {
    /// How far the usual click stands above the floor.
    fn contrast_db(&self) -> f64 {
        let clicks = self.heard.clicks.iter();
        quantile(clicks.map(|it| it.contrast_db).collect(), 0.5)
    }

    /// The part of the time that is filled with other sounds than clicks and escapements.
    fn busy(&self) -> f64 {
        let block = self.bands.steps(0.02).max(1);
        let heard = &self.heard;
        let mut next = 0;
        let (mut filled, mut all) = (0_u32, 0_u32);
        for (n, energy) in self.bands.high.chunks(block).enumerate() {
            let at = (n * block) as f64 * self.bands.step_s();
            while heard
                .clicks
                .get(next)
                .is_some_and(|it| it.at + RINGS_S < at)
            {
                next += 1;
            }
            let rings = heard.clicks.get(next).is_some_and(|it| it.at < at + 0.02);
            let ticks = heard.trains.iter().any(|it| it.0 < at + 0.02 && at < it.1);
            if !rings && !ticks {
                all += 1;
                filled += u32::from(band::mean(energy) > 4.0 * self.bands.floor_at(n * block));
            }
        }
        f64::from(filled) / f64::from(all.max(1))
    }
}

/// Why a channel holds no releases at all.
fn refusal(listened: &Listened<'_>) -> Option<&'static str> {
    let heard = &listened.heard;
    let count = heard.clicks.len();
    let seconds = listened.recording.duration().to_s();
    if count == 0 && heard.rattles.is_empty() && listened.busy() < BUSY {
        Some(
            "no click stands out of the noise: bring the microphone within a hand's width of the camera",
        )
    } else if listened.busy() > BUSY
        || count > sequence::MOST_CLICKS
        || count as f64 > TOO_MANY_A_SECOND * seconds.max(2.0)
    {
        Some("other sounds fill the recording, like speech or music: record again in quiet")
    } else if count == 0 {
        Some("sounds, but no single click: record again in quiet, the microphone near the camera")
    } else {
        None
    }
}

fn notice(listened: &Listened<'_>, clicks: &[Click], findings: &mut Vec<Finding>) {
    let recording = listened.recording;
    let mut say = |what| {
        let number = Some(listened.number);
        findings.push(Finding::of_recording(what, recording.name(), number));
    };
    describe::file(recording, &mut say);
    let contrast = listened.contrast_db();
    if contrast < NOISY_DB {
        say(FindingKind::Noise {
            snr_db: Decibels::db(contrast),
        });
    }
    let track = recording.samples().track(listened.index);
    if track.clipped.count() > 0 {
        say(FindingKind::Clipped);
    }
    if listened.gain_control {
        say(FindingKind::GainControl);
    }
    if listened.bands.rate < LEAST_RATE_HZ {
        say(FindingKind::LowRate);
    }
    if track.not_finite.count() > 0 {
        say(FindingKind::NotFinite {
            samples: track.not_finite.count() as u64,
        });
    }
    let here = |it: &&Click| it.recording == recording.name();
    if clicks.iter().filter(here).any(|it| it.release.is_none()) {
        say(FindingKind::Clicks);
    }
}
