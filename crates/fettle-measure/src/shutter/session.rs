//! The session: recordings share the dial and the fully open level.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::channel::{Channel, Raw};
use super::expose;
use super::marks::{self, Assigned};
use super::report::{Aperture, Budget, Extent, NamedExtent, Report, Shot, Speed};
use super::trace::{Trace, TraceMarks, TracePoint};
use super::{Finding, FindingKind, Flag, Options, ShutterError};
use crate::{Decibels, Hertz, Marked, Recording, Seconds, Stops, Verdict};

/// Coverage factor of the shots' expanded uncertainties.
const K: f64 = 2.0;
/// Clock error taken when none is given, rectangular, in parts per million.
const CLOCK_PPM: f64 = 200.0;
/// Below this part of the fully open level a shot has not opened fully.
const FULLY_OPEN: f64 = 0.97;
/// Signal to noise below which the noise is worth a word.
const NOISY_DB: f64 = 46.0;
/// Points of a trace.
const TRACE_POINTS: usize = 380;

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
            let sized = size(channel, raw, pool.as_ref(), clock);
            sums.push(apertures_of(raw, &sized, options, clock, channel));
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
    mark(&mut shots, options);
    let speeds = speeds(&shots, options);
    patterns(&shots, &speeds, options, &mut findings);
    let apertures = apertures(&shots, &sums, &speeds, options);
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

/// The fully open level of the session.
#[derive(Clone, Copy, Debug)]
struct Pool {
    mean: f64,
    variance: f64,
    /// Variance of the true level from shot to shot.
    between: f64,
}

impl Pool {
    /// Mean of the levels that shots show, with the variance between them by the method of moments of
    /// random-effects models.
    fn of<'a>(shots: impl Iterator<Item = &'a Raw>) -> Option<Self> {
        let shown: Vec<(f64, f64)> = shots
            .filter(|shot| !shot.spoiled && !shot.clipped)
            .filter_map(|shot| shot.level)
            .filter(|level| level.0 > 0.0)
            .collect();
        let highest = shown.iter().fold(0.0_f64, |most, level| most.max(level.0));
        let levels: Vec<(f64, f64)> = shown
            .into_iter()
            .filter(|level| level.0 > 0.8 * highest)
            .collect();
        let weight: f64 = levels.iter().map(|level| 1.0 / level.1).sum();
        if levels.is_empty() || weight.is_nan() || weight <= 0.0 {
            return None;
        }
        let mean = levels.iter().map(|level| level.0 / level.1).sum::<f64>() / weight;
        let squares: f64 = levels
            .iter()
            .map(|level| (level.0 - mean).powi(2) / level.1)
            .sum();
        let second: f64 = levels.iter().map(|level| level.1.powi(-2)).sum();
        let freedom = levels.len() as f64 - 1.0;
        let spread = weight - second / weight;
        let between = if spread > 0.0 {
            ((squares - freedom) / spread).max(0.0)
        } else {
            0.0
        };
        let weights: f64 = levels.iter().map(|level| 1.0 / (level.1 + between)).sum();
        let mean = levels
            .iter()
            .map(|level| level.0 / (level.1 + between))
            .sum::<f64>()
            / weights;
        Some(Self {
            mean,
            variance: 1.0 / weights,
            between,
        })
    }

    /// The best estimate for one shot, from its own level and the session's.
    fn for_shot(&self, own: Option<(f64, f64)>) -> (f64, f64) {
        let Some((level, variance)) = own.filter(|own| own.0 > 0.8 * self.mean) else {
            return (self.mean, self.variance + self.between);
        };
        let share = self.between / (self.between + variance).max(1e-300);
        (
            share * level + (1.0 - share) * self.mean,
            share * variance + (1.0 - share).powi(2) * self.variance,
        )
    }
}

#[derive(Clone, Copy, Debug)]
struct Clock {
    factor: f64,
    deviation: f64,
}

impl Clock {
    fn of(options: &Options) -> Self {
        match options.clock_ppm {
            Some(ppm) => Self {
                factor: 1.0 - ppm * 1e-6,
                deviation: 0.0,
            },
            None => Self {
                factor: 1.0,
                deviation: CLOCK_PPM * 1e-6 / 3.0_f64.sqrt(),
            },
        }
    }
}

/// A shot's times.
struct Sized {
    e0: Option<f64>,
    effective: Option<f64>,
    budget: Budget,
    /// First and last 1 % crossing in samples of the recording, with their standard uncertainty.
    opened: Option<(f64, f64)>,
    closed: Option<(f64, f64)>,
    bounce: Option<f64>,
    flags: Vec<Flag>,
    factor: f64,
}

fn size(channel: &Channel<'_>, raw: &Raw, pool: Option<&Pool>, clock: Clock) -> Sized {
    let mut flags = Vec::new();
    let dt = channel.signal.dt;
    let own = raw.level.filter(|level| level.0 > 0.0);
    let e0 = pool.map(|pool| pool.for_shot(own)).filter(|e0| e0.0 > 0.0);
    if raw.clipped {
        flags.push(Flag::Clipped);
    }
    if raw.overlapping {
        flags.push(Flag::Overlapping);
    }
    let never =
        e0.is_some_and(|e0| raw.peak < FULLY_OPEN * e0.0) && !raw.local.regions.has_plateau();
    if never {
        flags.extend([Flag::NeverFullyOpen, Flag::E0Borrowed]);
    }
    if e0.is_none() {
        flags.extend([Flag::NeverFullyOpen, Flag::E0Unknown]);
    }
    let Some(e0) = e0.filter(|_| !raw.spoiled) else {
        flags.push(Flag::CannotTell);
        return Sized {
            e0: None,
            effective: None,
            budget: Budget::default(),
            opened: None,
            closed: None,
            bounce: None,
            flags,
            factor: clock.factor,
        };
    };
    let (level, level_variance) = e0;
    let of_fit = |fit| {
        let light = expose::light(&raw.local, &channel.signal, fit);
        let sum = light.first.iter().sum::<f64>() + light.second.iter().sum::<f64>();
        sum * dt / level + light.open
    };
    let effective = raw.integral.flanks / level + raw.light.open;
    let corner = raw.beside.as_ref().map_or(0.0, |[below, above]| {
        (of_fit(below) - effective)
            .abs()
            .max((of_fit(above) - effective).abs())
    });
    let steps = channel.signal.steps.min(channel.signal.noise) / channel.signal.noise;
    let noise = raw.integral.noise / level;
    let budget = Budget {
        noise_s: Seconds::s(noise * (1.0 - steps * steps).max(0.0).sqrt()),
        dark_s: Seconds::s(raw.integral.fit_variance(&raw.fit).sqrt() / level),
        corner_s: Seconds::s(corner),
        e0_s: Seconds::s(raw.integral.flanks / (level * level) * level_variance.sqrt()),
        clock_s: Seconds::s(effective * clock.deviation),
        quantisation_s: Seconds::s(noise * steps),
    };
    let (opened, closed, bounce) = crossings(channel, raw, level);
    if bounce.is_some() {
        flags.push(Flag::Bounce);
    }
    let effective = effective * clock.factor;
    let told = effective > 0.0 && effective.is_finite();
    if !told {
        flags.push(Flag::CannotTell);
    }
    Sized {
        e0: Some(level),
        effective: told.then_some(effective),
        budget,
        opened,
        closed,
        bounce,
        flags,
        factor: clock.factor,
    }
}

type Crossing = Option<(f64, f64)>;

/// The outermost 1 % crossings and the length of a bounce in seconds.
fn crossings(channel: &Channel<'_>, raw: &Raw, level: f64) -> (Crossing, Crossing, Option<f64>) {
    let regions = &raw.local.regions;
    let noise = channel.signal.noise;
    let first = &raw.light.first;
    let last = if raw.light.second.is_empty() {
        first
    } else {
        &raw.light.second
    };
    let opened = expose::one_percent(first, level, level.min(raw.peak), noise)
        .map(|(place, deviation)| (regions.first as f64 + place + 0.5, deviation));
    let bounce = expose::bounce(last, level, noise);
    let backward: Vec<f64> = last.iter().rev().copied().collect();
    let foot = bounce.map_or(level.min(raw.peak), |bounce| bounce.height);
    let closed = expose::one_percent(&backward, level, foot, noise)
        .map(|(place, deviation)| (regions.after as f64 - place - 0.5, deviation));
    (
        opened,
        closed,
        bounce.map(|bounce| bounce.samples * channel.signal.dt),
    )
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
        trace: trace(channel, raw, sized, start),
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

fn trace(channel: &Channel<'_>, raw: &Raw, sized: &Sized, start: f64) -> Trace {
    let Some(e0) = sized.e0 else {
        return Trace::default();
    };
    let dt = channel.signal.dt;
    let light = raw.local.whole_light(&channel.signal, &raw.fit, &raw.light);
    let first = raw.local.regions.first as f64 + 0.5;
    let point = |i: usize| TracePoint {
        time_s: Seconds::s(((first + i as f64 - start) * dt * 1e7).round() * 1e-7),
        openness: (light[i] / e0 * 1e4).round() * 1e-4,
    };
    let size = (light.len() * 2).div_ceil(TRACE_POINTS);
    let points = if light.len() <= TRACE_POINTS {
        (0..light.len()).map(point).collect()
    } else {
        (0..light.len())
            .step_by(size)
            .flat_map(|from| {
                let block = from..(from + size).min(light.len());
                let by = |a: &usize, b: &usize| light[*a].total_cmp(&light[*b]);
                let low = block.clone().min_by(by).unwrap_or(from);
                let high = block.max_by(by).unwrap_or(from);
                [low.min(high), low.max(high)]
            })
            .map(point)
            .collect()
    };
    let from_start = |place: f64| Seconds::s((place - start) * dt);
    let open = expose::fully_open(&light, e0, channel.signal.noise)
        .filter(|_| !sized.flags.contains(&Flag::NeverFullyOpen));
    let marks = TraceMarks {
        opening_s: sized.opened.map(|opened| from_start(opened.0)),
        open_s: open.map(|open| from_start(first + open.0)),
        closing_s: open.map(|open| from_start(first + open.1)),
        closed_s: sized.closed.map(|closed| from_start(closed.0)),
    };
    Trace { points, marks }
}

/// Gives each shot its mark.
fn mark(shots: &mut [Shot], options: &Options) {
    let told: Vec<(usize, f64)> = shots
        .iter()
        .enumerate()
        .filter_map(|(index, shot)| shot.effective_s.map(|time| (index, time.to_s())))
        .collect();
    let times: Vec<f64> = told.iter().map(|(_, time)| *time).collect();
    let guessed = options.speeds.is_empty();
    let assigned: Vec<Option<Assigned>> = if guessed {
        let dial = Marked::common_dial();
        times
            .iter()
            .map(|time| marks::nearest(*time, &dial, options.series))
            .collect()
    } else {
        marks::assign(&times, &options.speeds, options.series)
    };
    for ((index, time), assigned) in told.into_iter().zip(assigned) {
        let Some(assigned) = assigned else { continue };
        let shot = &mut shots[index];
        shot.marked = Some(assigned.mark);
        shot.guessed = guessed;
        shot.alternative = assigned.alternative;
        if assigned.alternative.is_some() {
            shot.flags.push(Flag::MarkUncertain);
        }
        let nominal = assigned.mark.nominal(options.series);
        shot.error_stops = Seconds::s(time).error_against(nominal);
    }
}

fn speeds(shots: &[Shot], options: &Options) -> Vec<Speed> {
    let mut marks: Vec<Marked> = shots.iter().filter_map(|shot| shot.marked).collect();
    marks.sort_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
        .into_iter()
        .filter_map(|mark| speed(mark, shots, options))
        .collect()
}

fn speed(mark: Marked, shots: &[Shot], options: &Options) -> Option<Speed> {
    let counted: Vec<(f64, &Shot)> = shots
        .iter()
        .filter(|shot| shot.marked == Some(mark))
        .filter_map(|shot| shot.effective_s.map(|time| (time.to_s(), shot)))
        .collect();
    let count = counted.len() as f64;
    let mean = counted.iter().map(|(time, _)| time).sum::<f64>() / count;
    let spread = (counted.len() > 1).then(|| {
        (counted
            .iter()
            .map(|(time, _)| (time - mean).powi(2))
            .sum::<f64>()
            / (count - 1.0))
            .sqrt()
    });
    let nominal = mark.nominal(options.series);
    let error = Seconds::s(mean).error_against(nominal)?;
    // The chain's parts are common to the shots of a mark; its noise is already in the spread.
    let chain = counted
        .iter()
        .map(|(_, shot)| shot.budget.combined().to_s())
        .sum::<f64>()
        / count;
    let repeat = spread.map_or(0.0, |spread| spread / count.sqrt());
    let combined = (chain * chain + repeat * repeat).sqrt();
    let freedom = (count - 1.0) * (combined / repeat.max(1e-300)).powi(4);
    let expanded = coverage_factor(freedom) * combined;
    let uncertainty = expanded / mean / std::f64::consts::LN_2;
    let limit = options.limits.at(mark, options.series);
    Some(Speed {
        marked: mark,
        nominal_s: nominal,
        shots: u32::try_from(counted.len()).unwrap_or(u32::MAX),
        mean_s: Seconds::s(mean),
        spread_s: spread.map(Seconds::s),
        error_stops: error,
        uncertainty_stops: Stops::of(uncertainty),
        limit_stops: limit,
        verdict: limit.map(|limit| Verdict::of(error.to_stops(), uncertainty, limit.to_stops())),
        guessed: counted.iter().any(|(_, shot)| shot.guessed),
    })
}

/// Student's t for 95 % two-sided; 2 when the degrees of freedom are many (GUM, annex G).
fn coverage_factor(freedom: f64) -> f64 {
    if !freedom.is_finite() || freedom > 60.0 {
        return K;
    }
    StudentsT::new(0.0, 1.0, freedom.max(1.0)).map_or(K, |t| t.inverse_cdf(0.975).max(K))
}

/// Patterns over the dial.
fn patterns(shots: &[Shot], speeds: &[Speed], options: &Options, findings: &mut Vec<Finding>) {
    for speed in speeds {
        let at: Vec<f64> = shots
            .iter()
            .filter(|shot| shot.marked == Some(speed.marked))
            .filter_map(|shot| shot.effective_s.map(Seconds::to_s))
            .collect();
        if at.len() < 3 {
            continue;
        }
        let rest = &at[1..];
        let mean = rest.iter().sum::<f64>() / rest.len() as f64;
        let scatter = rest
            .iter()
            .map(|time| (time - mean).abs())
            .fold(0.0, f64::max);
        let slower = (at[0] / mean).log2();
        if slower > 0.08 && at[0] - mean > 3.0 * scatter {
            let what = FindingKind::SlowFirst {
                marked: speed.marked,
                stops: Stops::of(slower),
            };
            findings.push(Finding::of_session(what));
        }
    }
    for pair in speeds.windows(2) {
        let apart = (pair[0].mean_s / pair[1].mean_s).log2();
        let nominal = (pair[0].nominal_s / pair[1].nominal_s).log2();
        if apart < 0.25 * nominal {
            let marks = [pair[0].marked, pair[1].marked];
            findings.push(Finding::of_session(FindingKind::Alike { marks }));
        }
    }
    let mut dial = options.speeds.clone();
    dial.sort_by(|a, b| b.cmp(a));
    dial.dedup();
    for marked in dial {
        if speeds.iter().all(|speed| speed.marked != marked) {
            findings.push(Finding::of_session(FindingKind::Missing { marked }));
        }
    }
}

/// `(1/a) ∫ min(A, a) dt` of one shot for each stop asked for.
fn apertures_of(
    raw: &Raw,
    sized: &Sized,
    options: &Options,
    clock: Clock,
    channel: &Channel<'_>,
) -> Vec<f64> {
    let (Some(open), Some(e0)) = (options.fully_open_f, sized.e0) else {
        return Vec::new();
    };
    options
        .stops_f
        .iter()
        .map(|f| {
            let a = (open / f).powi(2).min(1.0);
            expose::stopped_down(&raw.light, e0, a, channel.signal.noise, channel.signal.dt)
                * clock.factor
        })
        .collect()
}

fn apertures(
    shots: &[Shot],
    sums: &[Vec<f64>],
    speeds: &[Speed],
    options: &Options,
) -> Vec<Aperture> {
    let mut apertures = Vec::new();
    for speed in speeds {
        for (index, f) in options.stops_f.iter().enumerate() {
            let times: Vec<f64> = shots
                .iter()
                .zip(sums)
                .filter(|(shot, _)| shot.marked == Some(speed.marked))
                .filter_map(|(_, sums)| sums.get(index).copied())
                .collect();
            let mean = Seconds::s(times.iter().sum::<f64>() / times.len() as f64);
            let errors = mean
                .error_against(speed.nominal_s)
                .zip(mean.error_against(speed.mean_s));
            if let Some((error_stops, over_full_open_stops)) = errors {
                apertures.push(Aperture {
                    marked: speed.marked,
                    f: *f,
                    effective_s: mean,
                    error_stops,
                    over_full_open_stops,
                });
            }
        }
    }
    apertures
}
