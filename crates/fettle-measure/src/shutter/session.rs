//! The session: recordings share the dial and the fully open level.

use rayon::prelude::*;

use super::beside::Beside;
use super::channel::{Channel, Raw};
use super::flash::{self, Window};
use super::level::{self, Pool};
use super::size::{self, Clock, Times};
use super::{
    Budget, Extent, Finding, FindingKind, Flag, NamedExtent, Options, Report, Shot, ShutterError,
    Speed, Trace, apertures, describe, draw, lost, patterns, said, same, speeds,
};
use crate::{Hertz, Recording, Seconds};

/// Coverage factor of the shots' expanded uncertainties.
const K: f64 = 2.0;

/// A channel that was listened to.
pub(super) struct Heard<'a> {
    pub(super) recording: &'a Recording,
    pub(super) number: u16,
    pub(super) channel: Channel<'a>,
}

/// Measures a session.
pub(super) fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    measured(session, options, Beside::of)
}

/// The same while listening: sooner, without asking the flanks about the sensor.
pub(super) fn heard_so_far(
    session: &[Recording],
    options: &Options,
) -> Result<Report, ShutterError> {
    measured(session, options, Beside::while_listening)
}

fn measured(
    session: &[Recording],
    options: &Options,
    beside: fn(&Recording) -> Beside,
) -> Result<Report, ShutterError> {
    let mut findings = Vec::new();
    let mut heard = Vec::new();
    let beside: Vec<Beside> = session.iter().map(beside).collect();
    for (recording, beside) in session.iter().zip(&beside) {
        heard.extend(choose(recording, beside, options, &mut findings)?);
    }
    if heard
        .iter()
        .all(|it| it.channel.shots.is_empty() && it.channel.cut_off.is_empty())
    {
        return Err(describe::no_shot(session, &heard));
    }
    for it in &mut heard {
        lost::look(it, &options.lost);
        describe::recording(it, &mut findings);
    }
    level::settle(heard.iter_mut().flat_map(|it| &mut it.channel.shots));
    let pool = Pool::of(heard.iter().flat_map(|it| &it.channel.shots));
    let clock = Clock::of(options);
    // Each shot with its effective times at the smaller stops, and when it was fully open.
    let mut taken: Vec<(Shot, Vec<f64>, (usize, Window))> = Vec::new();
    for it in &heard {
        let is_here = |recording: &Recording| std::ptr::eq(recording, it.recording);
        let at = session.iter().position(is_here).unwrap_or(0);
        let from = taken.len();
        for raw in &it.channel.shots {
            let times = size::size(&it.channel, raw, pool.as_ref(), clock);
            let stopped = apertures::of_shot(&it.channel, raw, &times, options);
            let window = flash::leaf(&it.channel, raw, &times);
            taken.push((it.shot(raw, times), stopped, (at, window)));
        }
        taken.extend(it.channel.cut_off.iter().map(|start| {
            let window = Window::unknown(*start as f64 * it.channel.signal.dt);
            (it.cut_off(*start), Vec::new(), (at, window))
        }));
        taken[from..].sort_by(|a, b| a.0.start_s.to_s().total_cmp(&b.0.start_s.to_s()));
    }
    let (mut shots, mut stopped) = (Vec::new(), Vec::new());
    let mut windows: Vec<Vec<Window>> = vec![Vec::new(); session.len()];
    for (n, (mut shot, at_stops, (at, window))) in (1..).zip(taken) {
        (shot.n, shot.release) = (n, n);
        windows[at].push(Window { n, ..window });
        shots.push(shot);
        stopped.push(at_stops);
    }
    said::note(&mut shots, &options.said);
    let flash = session
        .iter()
        .zip(&windows)
        .flat_map(|(recording, windows)| flash::of(recording, options, windows, clock))
        .collect();
    speeds::mark(&mut shots, options);
    let speeds = speeds::of(&shots, options);
    findings.extend(patterns::over_dial(&shots, &speeds, &[], options));
    let apertures = apertures::table(&shots, &stopped, &speeds, options);
    Ok(Report {
        apertures,
        flash,
        ..report(session, findings, shots, speeds)
    })
}

/// A report of shots and speeds alone.
pub(super) fn report(
    session: &[Recording],
    findings: Vec<Finding>,
    shots: Vec<Shot>,
    speeds: Vec<Speed>,
) -> Report {
    Report {
        recording: extent_of(session),
        recordings: session.iter().map(named_extent).collect(),
        findings,
        shots,
        speeds,
        apertures: Vec::new(),
        curtains: Vec::new(),
        flash: Vec::new(),
        clicks: Vec::new(),
    }
}

fn named_extent(recording: &Recording) -> NamedExtent {
    NamedExtent {
        name: recording.name().to_owned(),
        extent: extent(recording),
    }
}

fn extent(recording: &Recording) -> Extent {
    Extent {
        sample_rate_hz: recording.sample_rate(),
        channels: u16::try_from(recording.channel_count()).unwrap_or(u16::MAX),
        seconds: recording.duration(),
    }
}

/// Rate and channels of the first recording, seconds of all.
fn extent_of(session: &[Recording]) -> Extent {
    let seconds = session.iter().map(Recording::duration).sum();
    let none = Extent {
        sample_rate_hz: Hertz::hz(0.0),
        channels: 0,
        seconds,
    };
    session.first().map_or(none, |first| Extent {
        seconds,
        ..extent(first)
    })
}

/// Refuses channels that a recording does not have.
pub(super) fn check_channels(
    recording: &Recording,
    option: &'static str,
    named: &[u16],
) -> Result<(), ShutterError> {
    let have = recording.channel_count();
    let beyond = |it: &&u16| **it == 0 || usize::from(**it) > have;
    let Some(wanted) = named.iter().find(beyond) else {
        return Ok(());
    };
    let name = recording.name();
    Err(ShutterError::Option {
        option,
        reason: format!("{name} has {have} channels, counted from 1: there is no channel {wanted}"),
    })
}

/// The numbers of the channels to read, the flash contact's left out: those named in the order
/// given, else all.
pub(super) fn wanted(recording: &Recording, options: &Options) -> Result<Vec<u16>, ShutterError> {
    check_channels(recording, "--channels", &options.channels)?;
    check_channels(
        recording,
        "--flash-channel",
        options.flash_channel.as_slice(),
    )?;
    let have = u16::try_from(recording.channel_count()).unwrap_or(u16::MAX);
    let numbers: Vec<u16> = if options.channels.is_empty() {
        (1..=have).collect()
    } else {
        options.channels.clone()
    };
    let light = numbers
        .into_iter()
        .filter(|number| Some(*number) != options.flash_channel)
        .collect();
    Ok(light)
}

/// The channels of these numbers that carry a signal of their own.
pub(super) fn listen<'a>(
    recording: &'a Recording,
    beside: &'a Beside,
    numbers: &[u16],
    findings: &mut Vec<Finding>,
) -> Vec<Heard<'a>> {
    let samples = recording.samples();
    let step = |channel: usize| recording.step(channel).unwrap_or(0.0);
    let is_same = |a: usize, b: usize| {
        samples.first_alike(a) == samples.first_alike(b)
            || same::is_same(samples, a, b, step(a).max(step(b)))
    };
    let wanted: Vec<(u16, usize)> = (1..)
        .zip(0..recording.channel_count())
        .filter(|(number, _)| numbers.contains(number))
        .collect();
    // Of channels that say the same the first alone is measured.
    let measured: Vec<(Vec<u16>, Option<Channel<'a>>)> = wanted
        .par_iter()
        .enumerate()
        .map(|(place, &(_, index))| {
            let before = wanted[..place].iter();
            let alike = before.filter(|(_, other)| is_same(*other, index));
            let alike: Vec<u16> = alike.map(|(number, _)| *number).collect();
            let first = alike.is_empty();
            (alike, first.then(|| Channel::of(recording, beside, index)))
        })
        .collect();
    let mut heard: Vec<Heard<'a>> = Vec::new();
    for (&(number, index), (alike, channel)) in wanted.iter().zip(measured) {
        let mut find = |what| {
            findings.push(Finding::of_recording(what, recording.name(), Some(number)));
        };
        if heard.iter().any(|other| alike.contains(&other.number)) {
            find(FindingKind::SameChannels);
            continue;
        }
        // It may be like one that is dead only because it is weaker.
        let channel = channel.unwrap_or_else(|| Channel::of(recording, beside, index));
        if channel.overview.is_dead() {
            find(FindingKind::DeadChannel);
        } else {
            heard.push(Heard {
                recording,
                number,
                channel,
            });
        }
    }
    heard
}

/// The channels to measure: those named, else the one that shows the light best.
pub(super) fn choose<'a>(
    recording: &'a Recording,
    beside: &'a Beside,
    options: &Options,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Heard<'a>>, ShutterError> {
    let mut heard = listen(recording, beside, &wanted(recording, options)?, findings);
    if options.channels.is_empty() && heard.len() > 1 {
        // A voice in the room is louder than many a lamp is bright.
        let contrast = |it: &Heard<'_>| (!it.channel.controlled, it.channel.light_over_noise());
        // Of equals the first.
        let better = |best: Heard<'a>, other: Heard<'a>| {
            if contrast(&other) > contrast(&best) {
                other
            } else {
                best
            }
        };
        heard = heard.into_iter().reduce(better).into_iter().collect();
    }
    Ok(heard)
}

impl Heard<'_> {
    pub(super) fn shot(&self, raw: &Raw, times: Times) -> Shot {
        let dt = self.channel.signal.dt;
        // A flank hardly above the noise, drawn on to 1 %, may end anywhere.
        let regions = &raw.local.regions;
        let around = regions.before as f64..regions.after as f64;
        let start = times
            .opened
            .filter(|opened| around.contains(&opened.0))
            .map_or(regions.first as f64, |opened| opened.0);
        // Each crossing is looked for by itself: in a signal that is no shot's they may come out of order.
        let crossed = times.opened.zip(times.closed);
        let crossed = crossed.filter(|(opened, closed)| closed.0 > opened.0);
        let total = crossed.map(|(opened, closed)| {
            let crossings = K * opened.1.hypot(closed.1) * dt;
            let clock = K * times.budget.clock_s.to_s();
            (
                (closed.0 - opened.0) * dt * times.clock_factor,
                crossings.hypot(clock),
            )
        });
        let efficiency = times
            .effective
            .zip(total)
            .map(|(effective, total)| effective / total.0);
        Shot {
            effective_s: times.effective.map(Seconds::s),
            total_s: total.map(|total| Seconds::s(total.0)),
            efficiency: efficiency.filter(|it| it.is_finite()),
            uncertainty_s: times.effective.map(|_| times.budget.combined() * K),
            total_uncertainty_s: total.map(|total| Seconds::s(total.1)),
            bounce_s: times.bounce.map(Seconds::s),
            budget: times.budget,
            trace: draw::trace(&self.channel, raw, &times, start),
            ..self.blank(start * dt, times.flags)
        }
    }

    pub(super) fn cut_off(&self, start: usize) -> Shot {
        let seconds = start as f64 * self.channel.signal.dt;
        self.blank(seconds, vec![Flag::CutOff, Flag::CannotTell])
    }

    pub(super) fn blank(&self, start: f64, flags: Vec<Flag>) -> Shot {
        blank(self.recording, self.number, start, flags)
    }
}

/// A shot of which only the place is known, `start` in seconds.
pub(super) fn blank(recording: &Recording, channel: u16, start: f64, flags: Vec<Flag>) -> Shot {
    Shot {
        n: 0,
        release: 0,
        recording: recording.name().to_owned(),
        channel,
        x_mm: None,
        start_s: Seconds::s(start),
        effective_s: None,
        total_s: None,
        efficiency: None,
        uncertainty_s: None,
        total_uncertainty_s: None,
        marked: None,
        guessed: false,
        told: false,
        struck: false,
        alternative: None,
        error_stops: None,
        bounce_s: None,
        flags,
        proposals: Vec::new(),
        budget: Budget::default(),
        trace: Trace::default(),
    }
}
