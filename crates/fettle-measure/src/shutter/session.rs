//! The session: recordings share the dial and the fully open level.

use super::channel::{Channel, Raw};
use super::level::Pool;
use super::size::{self, Clock, Sized};
use super::{
    Budget, Extent, Finding, FindingKind, Flag, NamedExtent, Options, Report, Shot, ShutterError,
    Trace, apertures, draw, patterns, speeds,
};
use crate::{Decibels, Hertz, Recording, Seconds};

/// Coverage factor of the shots' expanded uncertainties.
const K: f64 = 2.0;
/// Signal to noise below which the noise is worth a word.
const NOISY_DB: f64 = 46.0;

/// Measures a session.
pub(crate) fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    let mut findings = Vec::new();
    let mut read: Vec<(&Recording, u16, Channel<'_>)> = Vec::new();
    for recording in session {
        let chosen = choose(recording, options, &mut findings)?;
        read.extend(
            chosen
                .into_iter()
                .map(|(number, channel)| (recording, number, channel)),
        );
    }
    if read
        .iter()
        .all(|(_, _, channel)| channel.shots.is_empty() && channel.cut_off.is_empty())
    {
        return Err(no_shot(session, &read));
    }
    for (recording, number, channel) in &read {
        describe(recording, *number, channel, &mut findings);
    }
    let pool = Pool::of(read.iter().flat_map(|(_, _, channel)| &channel.shots));
    let clock = Clock::of(options);
    let mut shots = Vec::new();
    let mut sums = Vec::new();
    for (recording, number, channel) in &read {
        for raw in &channel.shots {
            let sized = size::size(channel, raw, pool.as_ref(), clock);
            sums.push(apertures::of_shot(raw, &sized, options, clock, channel));
            shots.push(shot(recording, *number, channel, raw, &sized));
        }
        shots.extend(
            channel
                .cut_off
                .iter()
                .map(|cut| cut_off(recording, *number, channel, cut.start)),
        );
        sums.resize(shots.len(), Vec::new());
    }
    let mut order: Vec<usize> = (0..shots.len()).collect();
    let place = |shot: &Shot| session.iter().position(|it| it.name() == shot.recording);
    order.sort_by(|a, b| {
        let (a, b) = (&shots[*a], &shots[*b]);
        place(a)
            .cmp(&place(b))
            .then(a.start_s.to_s().total_cmp(&b.start_s.to_s()))
    });
    let mut shots: Vec<Shot> = order.iter().map(|index| shots[*index].clone()).collect();
    let sums: Vec<Vec<f64>> = order.iter().map(|index| sums[*index].clone()).collect();
    for (n, shot) in (1..).zip(&mut shots) {
        (shot.n, shot.release) = (n, n);
    }
    speeds::mark(&mut shots, options);
    let speeds = speeds::speeds(&shots, options);
    patterns::patterns(&shots, &speeds, options, &mut findings);
    let apertures = apertures::table(&shots, &sums, &speeds, options);
    Ok(Report {
        recording: extent_of(session),
        recordings: session
            .iter()
            .map(|it| NamedExtent {
                name: it.name().to_owned(),
                extent: extent(it),
            })
            .collect(),
        findings,
        shots,
        speeds,
        apertures,
        curtains: Vec::new(),
        flash: Vec::new(),
    })
}

fn extent(recording: &Recording) -> Extent {
    Extent {
        sample_rate_hz: recording.sample_rate(),
        channels: u16::try_from(recording.channels().len()).unwrap_or(u16::MAX),
        seconds: recording.duration(),
    }
}

fn extent_of(session: &[Recording]) -> Extent {
    let seconds = session.iter().map(Recording::duration).sum();
    session.first().map_or(
        Extent {
            sample_rate_hz: Hertz::hz(0.0),
            channels: 0,
            seconds,
        },
        |first| Extent {
            seconds,
            ..extent(first)
        },
    )
}

/// The channels to measure: those named, else the one that shows the light best.
fn choose<'a>(
    recording: &'a Recording,
    options: &Options,
    findings: &mut Vec<Finding>,
) -> Result<Vec<(u16, Channel<'a>)>, ShutterError> {
    let have = recording.channels().len();
    for wanted in &options.channels {
        if *wanted == 0 || usize::from(*wanted) > have {
            return Err(ShutterError::Option {
                option: "--channels",
                reason: format!(
                    "{} has {have} channels, counted from 1: there is no channel {wanted}",
                    recording.name()
                ),
            });
        }
    }
    let mut read = Vec::new();
    for (number, samples) in (1..).zip(recording.channels()) {
        if !options.channels.is_empty() && !options.channels.contains(&number) {
            continue;
        }
        let rate = recording.sample_rate().to_hz();
        let channel = Channel::of(samples, rate, recording.step(), recording.full_scale());
        if channel.overview.is_dead() {
            let dead = FindingKind::DeadChannel;
            findings.push(Finding::of_recording(dead, recording.name(), Some(number)));
        } else {
            read.push((number, channel));
        }
    }
    if options.channels.is_empty() && read.len() > 1 {
        let best = read
            .iter()
            .map(|(number, channel)| (channel.light_over_noise(), *number))
            .fold(
                (-1.0, 0),
                |best, this| if this.0 > best.0 { this } else { best },
            );
        read.retain(|(number, _)| *number == best.1);
    }
    Ok(read)
}

fn no_shot(session: &[Recording], read: &[(&Recording, u16, Channel<'_>)]) -> ShutterError {
    let names: Vec<&str> = session.iter().map(Recording::name).collect();
    let reason = if session.iter().all(|it| it.duration().to_s() <= 0.0) {
        "the recording is empty: record again and fire the shutter while it runs".to_owned()
    } else if read.is_empty() {
        "nothing but silence: check that the sensor is wired to this input and lit".to_owned()
    } else {
        let most = read
            .iter()
            .fold(0.0_f64, |most, (_, _, channel)| most.max(channel.contrast));
        format!(
            "no step of light stands out of the noise (the largest is {most:.0} times it): bring the \
             lamp nearer, shade the sensor from other light, or turn the input up"
        )
    };
    ShutterError::NoShot {
        names: names.join(", "),
        reason,
    }
}

fn describe(
    recording: &Recording,
    number: u16,
    channel: &Channel<'_>,
    findings: &mut Vec<Finding>,
) {
    let mut say = |what| findings.push(Finding::of_recording(what, recording.name(), Some(number)));
    let height = channel
        .shots
        .iter()
        .fold(0.0_f64, |most, shot| most.max(shot.peak));
    if recording.is_header_repaired() {
        say(FindingKind::HeaderRepaired);
    }
    if recording.is_time_uneven() {
        say(FindingKind::UnevenTime);
    }
    if channel.coupling.omega > 0.0 {
        let corner_hz = Hertz::hz(channel.coupling.corner_hz());
        say(FindingKind::AcCoupled {
            corner_hz,
            poles: 1,
        });
    }
    if channel.inverted {
        say(FindingKind::Inverted);
    }
    if channel.overview.dark.abs() > 0.02 * height.max(1e-6) {
        say(FindingKind::Offset {
            level: channel.overview.dark,
        });
    }
    if let Some(hum) = &channel.hum
        && hum.amplitude > 1e-3 * height
    {
        say(FindingKind::Hum {
            hz: Hertz::hz(hum.hz),
            ratio: hum.amplitude / height.max(1e-12),
        });
    }
    let ratio = channel.light_over_noise();
    if ratio > 0.0 {
        let snr_db = Decibels::from_amplitude_ratio(ratio);
        if snr_db.to_db() < NOISY_DB {
            say(FindingKind::Noise { snr_db });
        }
    }
    if channel.shots.iter().any(|shot| shot.clipped) {
        say(FindingKind::Clipped);
    }
    if !channel.overview.not_finite.is_empty() {
        say(FindingKind::NotFinite {
            samples: channel.overview.not_finite.len() as u64,
        });
    }
}

fn shot(
    recording: &Recording,
    number: u16,
    channel: &Channel<'_>,
    raw: &Raw,
    sized: &Sized,
) -> Shot {
    let dt = channel.signal.dt;
    let start = sized
        .opened
        .map_or(raw.local.regions.first as f64, |opened| opened.0);
    let total = sized.opened.zip(sized.closed).map(|(opened, closed)| {
        let deviation = (opened.1.powi(2) + closed.1.powi(2)).sqrt() * dt;
        ((closed.0 - opened.0) * dt * sized.factor, K * deviation)
    });
    let efficiency = sized
        .effective
        .zip(total)
        .map(|(effective, total)| effective / total.0);
    Shot {
        n: 0,
        release: 0,
        recording: recording.name().to_owned(),
        channel: number,
        x_mm: None,
        start_s: Seconds::s(start * dt),
        effective_s: sized.effective.map(Seconds::s),
        total_s: total.map(|total| Seconds::s(total.0)),
        efficiency: efficiency.filter(|it| it.is_finite()),
        uncertainty_s: sized.effective.map(|_| sized.budget.combined() * K),
        total_uncertainty_s: total.map(|total| {
            let clock = K * sized.budget.clock_s.to_s();
            Seconds::s((total.1.powi(2) + clock.powi(2)).sqrt())
        }),
        marked: None,
        guessed: false,
        alternative: None,
        error_stops: None,
        bounce_s: sized.bounce.map(Seconds::s),
        flags: sized.flags.clone(),
        budget: sized.budget,
        trace: draw::trace(channel, raw, sized, start),
    }
}

fn cut_off(recording: &Recording, number: u16, channel: &Channel<'_>, start: usize) -> Shot {
    Shot {
        n: 0,
        release: 0,
        recording: recording.name().to_owned(),
        channel: number,
        x_mm: None,
        start_s: Seconds::s(start as f64 * channel.signal.dt),
        effective_s: None,
        total_s: None,
        efficiency: None,
        uncertainty_s: None,
        total_uncertainty_s: None,
        marked: None,
        guessed: false,
        alternative: None,
        error_stops: None,
        bounce_s: None,
        flags: vec![Flag::CutOff, Flag::CannotTell],
        budget: Budget::default(),
        trace: Trace::default(),
    }
}
